# SPDX-License-Identifier: MIT
"""Places for alignment marks: as far apart as the board allows, and never so that a turned board looks right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, islice

import numpy as np

from lineworthy.amend.amendment import FiducialMark
from lineworthy.amend.plan import Plan
from lineworthy.amend.pours import gives_way, touching
from lineworthy.amend.space import Kind, Need
from lineworthy.geometry import falls_short
from lineworthy.knowledge.alignment import diagonal, difference, longest, nearest
from lineworthy.knowledge.lookalikes import SIZE_ALIKE
from lineworthy.knowledge.looks import is_round
from lineworthy.knowledge.placed import placed_on
from lineworthy.knowledge.rings import half_width
from lineworthy.knowledge.wording import mm
from lineworthy.model import Board, Side
from lineworthy.shapes import Point, disc

TOO_FEW = "fiducials/too-few"

SYMMETRY_MM = 2.0
"""Marks and holes that come this near to each other when the board is turned or flipped are the same to a machine
(common practice, no source)."""

OPENING_WEB_MM = 0.1
"""Solder mask between two openings, below which it breaks away (common practice, no source)."""

SPOTS_PER_CORNER = 2
SPOTS_TRIED = 24


def plan_fiducials(plan: Plan) -> None:
    """Completes the marks of each side that carries machine-placed parts."""
    limits = plan.sheet.fiducials
    for side in Side:
        if not placed_on(plan.board, side):
            continue
        there = [m.at for m in plan.marks.fiducials_on(side) if not m.local and m.sure and m.is_open]
        missing = limits.per_side_preferred_count - len(there)
        if missing <= 0:
            continue
        wanted = f"{missing} fiducial{'s' if missing > 1 else ''} on the {side.value}"
        if not plan.board.outline.is_closed:
            plan.refuse(wanted, "the board has no closed outline to place them by")
            continue
        others = [a.at for a in plan.amendments if isinstance(a, FiducialMark)]
        others += [m.at for m in plan.marks.fiducials_on(side.other) if not m.local]
        chosen, ring = _places(plan, side, there, missing, others)
        if len(there) + len(chosen) < limits.per_side_min_count:
            chosen = []  # a single mark gives the shift only: it would change nothing
        apart, enough = longest([*there, *chosen]), limits.spread_min_ratio * diagonal(plan.board)
        if chosen and falls_short(apart, enough):
            # marks huddled together would satisfy the count and align nothing
            plan.refuse(wanted, f"places that fit are {apart:.1f} mm apart at most, {enough:.1f} mm are needed")
            continue
        for at in chosen:
            diameter = mark_size(plan)
            mark = FiducialMark(plan.reference("FID"), at, side, diameter, round(diameter + 2 * ring, 6))
            plan.amendments.append(mark)
            plan.space.reserve(disc(at, mark.keep_out), side)
        if len(chosen) < missing:
            plan.refuse(f"{missing - len(chosen)} of {wanted}" if chosen else wanted, _why_not(plan, side))


def mark_size(plan: Plan) -> float:
    """Diameter of the marks the board has, mm, because all must be of one size; the smallest usual one without any."""
    there = [2 * half_width(m) for m in plan.marks.fiducials if m.sure and m.is_open and not m.local]
    return round(max(there, default=plan.sheet.fiducials.mark_min_mm), 3)


def _places(
    plan: Plan, side: Side, there: Sequence[Point], missing: int, others: Sequence[Point]
) -> tuple[list[Point], float]:
    """The best places by the strictest needs that give enough of them far enough apart, and their clear ring."""
    enough = plan.sheet.fiducials.spread_min_ratio * diagonal(plan.board)
    best: tuple[list[Point], float] = ([], 0.0)
    rank = (0, 0.0)
    for need in _needs(plan, side):
        spots = [spot for corner in corners(plan.board) for spot in _spots(plan, side, need, corner)]
        tries = (spread(plan.board, spots, there, count, others) for count in range(min(missing, len(spots)), 0, -1))
        found = next((chosen for chosen in tries if chosen), [])
        wide = min(longest([*there, *found]), enough)
        if found and (len(found), wide) > rank:
            best, rank = (found, need.gaps[Kind.COPPER]), (len(found), wide)
        if rank == (missing, enough):
            break
    return best


def _needs(plan: Plan, side: Side) -> Iterator[Need]:
    """What a mark needs, the best first: away from the transport edge, with the wider ring."""
    limits = plan.sheet.fiducials
    radius = mark_size(plan) / 2
    wide, narrow = radius * limits.clear_ring_preferred_ratio, radius * limits.clear_ring_min_ratio
    for edge in (limits.transport_edge_mm, 0.0):
        for ring in (wide, narrow):
            yield mark_need(plan.board, side, radius, ring, edge)


def mark_need(board: Board, side: Side, radius: float, ring: float, edge: float) -> Need:
    """What a mark with a clear ring must keep away from, mm."""
    gaps = dict.fromkeys((Kind.COPPER, Kind.LEGEND, Kind.HOLE, Kind.VIA, Kind.PART, Kind.COURTYARD, Kind.RULE), ring)
    gaps.update({Kind.MASK: ring + OPENING_WEB_MM, Kind.PLANNED: ring + OPENING_WEB_MM, Kind.EDGE: edge + ring})
    return Need(radius, gaps, (board.copper_on(side),), (side,))


def corners(board: Board) -> list[Point]:
    """Corners of the box round the board, opposite ones next to each other."""
    low_x, low_y, high_x, high_y = board.outline.area.bounds
    return [(low_x, low_y), (high_x, high_y), (low_x, high_y), (high_x, low_y)]


def _spots(plan: Plan, side: Side, need: Need, corner: Point) -> list[Point]:
    """The places nearest to a corner where no pour is in the way or all of them can give way."""
    found: list[Point] = []
    for spot in islice(plan.space.nearest(corner, need), SPOTS_TRIED):
        far = all(np.hypot(spot[0] - old[0], spot[1] - old[1]) > 2 * SYMMETRY_MM for old in found)
        ring = need.radius + need.gaps[Kind.COPPER]
        if far and stands_alone(plan, side, spot, 2 * need.radius) and pours_allow(plan, side, spot, ring):
            found.append(spot)
            if len(found) == SPOTS_PER_CORNER:
                break
    return found


def stands_alone(plan: Plan, side: Side, at: Point, diameter: float) -> bool:
    """Whether nothing that looks like a mark lies where a camera would search for it."""
    field = plan.sheet.fiducials.lookalike_field_mm
    marks = [a.at for a in plan.amendments if isinstance(a, FiducialMark) and a.side is side]
    alone = all(np.hypot(at[0] - x, at[1] - y) >= field for x, y in marks)
    return alone and not plan.round_copper[side].like(at, diameter, field)


def marks_like(plan: Plan, side: Side, diameter: float) -> list[Point]:
    """Marks of a side, with those planned, that a round land of a diameter looks like."""
    sizes = [(m.at, m.diameter) for m in plan.marks.fiducials_on(side) if m.sure and is_round(m.shape)]
    sizes += [(a.at, a.diameter) for a in plan.amendments if isinstance(a, FiducialMark) and a.side is side]
    return [at for at, size in sizes if abs(diameter - size) <= SIZE_ALIKE * size + 1e-6]


def pours_allow(plan: Plan, side: Side, at: Point, radius: float) -> bool:
    """Whether the pours under a disc can give way to it."""
    layer = plan.board.copper_on(side)
    return all(gives_way(area, at, radius) for area in touching(plan.board, layer, at, radius))


def spread(
    board: Board, spots: Sequence[Point], there: Sequence[Point], count: int, others: Sequence[Point]
) -> list[Point]:
    """The `count` places that, with the marks there are, span most and fit the board in one way only."""
    ranked = []
    for chosen in combinations(dict.fromkeys(spots), count):
        marks = [*there, *chosen]
        if nearest(marks) < 2 * SYMMETRY_MM:
            continue
        turns_alike = len(marks) > 1 and _fits_turned(board, marks)
        flips_alike = len(others) == len(marks) and _fits_flipped(board, marks, others)
        ranked.append((turns_alike, flips_alike, -round(_span(marks), 3), chosen))
    ranked.sort()
    return list(ranked[0][3]) if ranked else []


def _span(marks: Sequence[Point]) -> float:
    """Longest distance, plus the height of the triangle on it."""
    best = 0.0
    for a, b in combinations(marks, 2):
        long = float(np.hypot(a[0] - b[0], a[1] - b[1]))
        high = max(
            (abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / long for c in marks), default=0
        )
        best = max(best, long + high)
    return best


def _fits_turned(board: Board, marks: Sequence[Point]) -> bool:
    centre = board.outline.area.envelope.centroid
    turned = [(2 * centre.x - x, 2 * centre.y - y) for x, y in marks]
    return _alike(marks, turned)


def _fits_flipped(board: Board, marks: Sequence[Point], others: Sequence[Point]) -> bool:
    """Whether the board upside down shows the same marks, the right way up or turned by half."""
    centre = board.outline.area.envelope.centroid
    over = [(2 * centre.x - x, y) for x, y in others]
    return _alike(marks, over) or _alike(marks, [(2 * centre.x - x, 2 * centre.y - y) for x, y in over])


def _alike(marks: Sequence[Point], others: Sequence[Point]) -> bool:
    return difference(marks, others) < SYMMETRY_MM


def _why_not(plan: Plan, side: Side) -> str:
    """The clear ring that would fit at best, and what limits it."""
    limits = plan.sheet.fiducials
    radius = mark_size(plan) / 2
    ring = radius * limits.clear_ring_min_ratio
    low, high, at = 0.0, ring, None
    low_x, low_y, high_x, high_y = plan.board.outline.area.bounds
    middle = ((low_x + high_x) / 2, (low_y + high_y) / 2)
    for _ in range(5):
        half = (low + high) / 2
        spot = next(plan.space.nearest(middle, mark_need(plan.board, side, radius, half, 0.0)), None)
        low, high, at = (half, high, spot) if spot else (low, half, at)
    if at is None:
        return f"nowhere is there room for a mark of {mm(2 * radius)} mm"
    kind, gap, need = plan.space.tightest(at, mark_need(plan.board, side, radius, ring, 0.0))
    if gap >= need - 0.02:
        return f"no place where copper pours can give way by {mm(ring)} mm and stay in one piece"
    return (
        f"the widest clear ring left is {mm(round(low, 2))} mm, {mm(ring)} mm is needed; nearest is {kind.value} "
        f"{plan.spot(at)}"
    )
