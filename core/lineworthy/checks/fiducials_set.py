# SPDX-License-Identifier: MIT
"""Do a side's alignment marks together tell how the board lies?"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.alignment import diagonal, flipped_difference, longest, spans, turned_difference, width
from lineworthy.knowledge.localmarks import FinePart, fine_parts
from lineworthy.knowledge.looks import Basis
from lineworthy.knowledge.marks import Fiducial, Marks
from lineworthy.knowledge.marksaid import items, names, ordered
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.placed import is_array, placed_on
from lineworthy.knowledge.rings import half_width
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Board, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet


@check(
    "fiducials/close-together",
    limits=("fiducials.spread_min_ratio", "fiducials.triangle_min_ratio", "fiducials.per_side_min_count"),
)
def close_together(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Do the marks of a side span the board?

    Why it matters: An error of some micrometres at two marks that lie close together becomes a turn of the whole board
        that moves its far corner by many times that. Three marks on one line tell nothing of stretch across it.
    What to do: Put the marks near the ends of a diagonal, and a third one well beside it.
    Blind spots: Compared with the diagonal of the box round the board, wherever the parts are.
    Source: IPC-7351 (2005) 3.4.4.1 (as far apart as possible); the shares are common practice, no source.
    """
    limits, across = sheet.fiducials, diagonal(board) if not board.outline.area.is_empty else 0.0
    for side in Side:
        mine = _global(board, marks, side)
        if len(mine) < limits.per_side_min_count or not across:
            continue
        spots = [mark.at for mark in mine]
        need, low = limits.spread_min_ratio * across, limits.triangle_min_ratio * across
        apart, off = longest(spots), width(spots)
        said = key = ""
        if falls_short(apart, need):
            said, key = f"are {mm(apart)} mm apart at most; {mm(need)} mm wanted", "spread_min_ratio"
            measured, limit = apart, need
        elif len(mine) == 3 and falls_short(off, low):
            said, key = f"lie on one line within {mm(off)} mm; {mm(low)} mm wanted", "triangle_min_ratio"
            measured, limit = off, low
        if said:
            yield close_together.finding(
                Consequence.QUERY if key == "spread_min_ratio" else Consequence.NOTE,
                f"{names(mine)} ({side.value}) {said} on a board of {mm(across)} mm diagonal",
                items=items(mine),
                places=_places(mine),
                measured=measured,
                limit=limit,
                limit_key=f"fiducials.{key}",
                detail=f"{side.value} {key}",
            )


@check("fiducials/same-when-turned", limits=("fiducials.turned_apart_min_mm",))
def same_when_turned(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Would a board that is put in turned or upside down show its marks in the same places?

    Why it matters: Then the machine finds what it looks for and places every part wrongly, until somebody sees it.
    What to do: Move one mark, or put a third where it has no counterpart.
    Blind spots: Asked of outlines that look the same when they are turned, small notches aside; cut-outs and what
        stands on the board are not looked at, though a person may notice them. A board turned over makes a note,
        because its two sides mostly differ at a glance. Of several copies of one board in one outline only the
        outermost marks are compared.
    Source: common practice, no source.
    """
    need = sheet.fiducials.turned_apart_min_mm
    sides = {side: _outermost(board, _global(board, marks, side)) for side in Side}
    for side, mine in sides.items():
        found = turned_difference(board, [mark.at for mark in mine])
        if found is None or not falls_short(found[0], need):
            continue
        apart, turn = found
        yield same_when_turned.finding(
            Consequence.QUERY,
            f"{names(mine)} ({side.value}) look the same after {turn.value} of the board, within {mm(apart)} mm; "
            f"{mm(need)} mm wanted",
            items=items(mine),
            places=_places(mine),
            measured=apart,
            limit=need,
            limit_key="fiducials.turned_apart_min_mm",
            detail=side.value,
        )
    over = flipped_difference(board, *([mark.at for mark in sides[side]] for side in Side))
    if over is not None and falls_short(over, need):
        both = [*sides[Side.TOP], *sides[Side.BOTTOM]]
        yield same_when_turned.finding(
            Consequence.NOTE,
            f"The marks of the bottom ({names(sides[Side.BOTTOM])}) look like those of the top "
            f"({names(sides[Side.TOP])}), within {mm(over)} mm; {mm(need)} mm wanted",
            items=items(both),
            places=_places(both),
            measured=over,
            limit=need,
            limit_key="fiducials.turned_apart_min_mm",
            detail="over",
        )


@check("fiducials/size-uneven", limits=("fiducials.same_size_max_mm",))
def size_uneven(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Are all marks of the board of one size?

    Why it matters: A machine is taught one picture of a mark and looks for that; another size is another picture, or a
        mark that is not found.
    What to do: Use the same footprint for all marks.
    Blind spots: Marks for one part are compared with each other and not with those of the board. Between the two sides,
        which are set up separately, and in a panel, a difference makes a note.
    Source: SMEMA fiducial mark standard, summary (all marks of a board within 0.025 mm).
    """
    most = sheet.fiducials.same_size_max_mm
    for local in (False, True):
        sides = {side: [m for m in _declared(marks, side) if m.local is local] for side in Side}
        uneven = [side for side, mine in sides.items() if exceeds(_differ(mine), most)]
        both = [*sides[Side.TOP], *sides[Side.BOTTOM]]
        groups = [sides[side] for side in uneven] or ([both] if exceeds(_differ(both), most) else [])
        for mine in groups:
            sizes = sorted({round(2 * half_width(mark), 3) for mark in mine})
            where = mine[0].side.value if uneven else "both sides"
            yield size_uneven.finding(
                Consequence.QUERY if uneven and not local and not is_array(board) else Consequence.NOTE,
                f"{names(mine)} ({where}) are from {mm(sizes[0])} to {mm(sizes[-1])} mm wide; "
                f"they may differ by {mm(most)} mm",
                items=items(mine),
                places=_places(mine),
                measured=_differ(mine),
                limit=most,
                limit_key="fiducials.same_size_max_mm",
                detail=f"{where} {'local' if local else ''}",
            )


@check(
    "fiducials/no-local-pair",
    limits=(
        "fiducials.local_leaded_pitch_mm",
        "fiducials.local_array_pitch_mm",
        "fiducials.local_waived_pitch_mm",
        "fiducials.local_reach_mm",
        "fiducials.per_side_min_count",
        "fiducials.spread_min_ratio",
    ),
)
def no_local_pair(board: Board, sheet: Sheet, marks: Marks, packages: Packages) -> Answers:
    """Do packages with fine pitch have a pair of marks of their own?

    Why it matters: Far from the board's marks, stretch and twist of the board add up to a part of a fine land's width.
        A pair of marks beside the package lets the machine place it to what is there.
    What to do: Put two small marks at opposite corners of the package, just outside or inside of its land pattern. Many
        factories do without where the board is small and its own marks are good: ask yours.
    Blind spots: Pitch is measured between lands. Asked of quad, small-outline and no-lead packages and of arrays, with
        sixteen lands or more; connectors are left out. Where the side's own marks span the board, only packages finer
        than the pitch that is usually waived then are named.
    Source: a draft of IPC-7351C for the pitches, IPC-7351 (2005) 3.4.4.2 for the pair on the diagonal; when it is
        waived and how far away a mark still serves are common practice, no source.
    """
    limits = sheet.fiducials
    for side in Side:
        usable = [mark for mark in marks.fiducials_on(side) if mark.sure and mark.is_open]
        own = [mark.at for mark in usable if not mark.local]
        # a side without marks is said to have none: marks for its parts are the second question
        waived = len(own) < limits.per_side_min_count or spans(board, own, limits.spread_min_ratio)
        most = limits.local_waived_pitch_mm if waived else float("inf")
        leaded, array = min(limits.local_leaded_pitch_mm, most), min(limits.local_array_pitch_mm, most)
        lacking: list[tuple[FinePart, int]] = []
        for fine in fine_parts(board, packages, side, leaded, array):
            near = fine.near([mark.at for mark in usable], limits.local_reach_mm)
            if fine.pair(near) is None:
                lacking.append((fine, len(near)))
        for group, limit, key in _by_limit(lacking, leaded, array, waived):
            parts = [fine.part for fine, _ in group]
            finest = min(fine.pitch for fine, _ in group)
            some = [fine.part.reference for fine, near in group if near]
            only = f"; marks near {listed(some)} are not at opposite corners" if some else ""
            yield no_local_pair.finding(
                Consequence.NOTE,
                f"{listed(part.reference for part in parts)} ({side.value}, pitch {mm(finest)} mm) "
                f"{'has' if len(parts) == 1 else 'have'} no pair of marks at opposite corners within "
                f"{mm(limits.local_reach_mm)} mm; wanted below {mm(limit)} mm pitch"
                f"{only}",
                items=parts,
                places=[Place(part.at, side, part.reference) for part in parts],
                measured=finest,
                limit=limit,
                limit_key=f"fiducials.{key}",
                detail=f"{side.value} {key}",
            )


@check(
    "fiducials/near-transport-edge",
    limits=(
        "fiducials.transport_edge_mm",
        "fiducials.clear_ring_min_ratio",
        "panel.single_min_mm",
        "panel.panel_wanted_below_mm",
    ),
)
def near_transport_edge(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Do the line's belts and clamps cover a mark?

    Why it matters: Boards ride on two opposite edges. What lies there is hidden by belts and clamps when the camera
        looks for it.
    What to do: Move the marks inwards, or give the panel rails along the edges it rides on.
    Blind spots: Asked of boards that are large enough to be run by themselves; small ones come in panels whose rails
        carry them. Rails may be planned for this one, too, so it is a note. The board can ride on either pair of
        edges; the better one counts. Edges are those of the box round the board.
    Source: SMEMA fiducial mark standard, summary.
    """
    if board.outline.area.is_empty:
        return
    limits, panel = sheet.fiducials, sheet.panel
    low_x, low_y, high_x, high_y = board.outline.area.bounds
    shorter, longer = sorted((high_x - low_x, high_y - low_y))
    if falls_short(shorter, panel.single_min_mm) or falls_short(longer, panel.panel_wanted_below_mm):
        return
    for side in Side:
        mine = [mark for mark in marks.fiducials_on(side) if mark.sure and not mark.local]
        if not mine or not placed_on(board, side):
            continue
        need = {id(m): limits.transport_edge_mm + (1 + limits.clear_ring_min_ratio) * half_width(m) for m in mine}
        ways = []
        for axis, low, high in ((0, low_x, high_x), (1, low_y, high_y)):
            rooms = [(min(mark.at[axis] - low, high - mark.at[axis]), mark) for mark in mine]
            ways.append([(room, mark) for room, mark in rooms if falls_short(room, need[id(mark)])])
        if not all(ways):
            continue
        # the better way; where they are as good as each other, whichever the board's place does not decide
        way = min(ways, key=lambda short: (round(-min(r for r, _ in short), 6), len(short), names(m for _, m in short)))
        near = [mark for _, mark in way]
        room, first = min(way, key=lambda pair: round(pair[0], 6))
        yield near_transport_edge.finding(
            Consequence.NOTE,
            f"{names(near)} ({side.value}): {'its centre is' if len(near) == 1 else 'the nearest centre is'} "
            f"{mm(room)} mm from the edge whichever way the board rides; {mm(need[id(first)])} mm needed without rails",
            items=items(near),
            places=_places(near),
            measured=room,
            limit=need[id(first)],
            limit_key="fiducials.transport_edge_mm",
            detail=side.value,
        )


def _by_limit(
    lacking: list[tuple[FinePart, int]], leaded: float, array: float, waived: bool
) -> Iterator[tuple[list[tuple[FinePart, int]], float, str]]:
    """Parts that are measured by one limit, in order of their references."""
    for is_grid, limit, key in ((False, leaded, "local_leaded_pitch_mm"), (True, array, "local_array_pitch_mm")):
        group = [pair for pair in lacking if pair[0].is_array is is_grid]
        if group:
            yield group, limit, "local_waived_pitch_mm" if waived else key


def _global(board: Board, marks: Marks, side: Side) -> list[Fiducial]:
    """The marks of a side that carries machine-placed parts, those for one part left out."""
    if not placed_on(board, side):
        return []
    return ordered(m for m in marks.fiducials_on(side) if m.sure and m.is_open and not m.local)


def _declared(marks: Marks, side: Side) -> list[Fiducial]:
    return ordered(m for m in marks.fiducials_on(side) if m.sure and m.basis is not Basis.LOOKS)


def _outermost(board: Board, mine: list[Fiducial]) -> list[Fiducial]:
    """In an array, the marks on the rails: those at the rim of all marks."""
    if not is_array(board) or len(mine) < 3:
        return mine
    rim = shapely.MultiPoint([mark.at for mark in mine]).convex_hull.boundary
    return [mark for mark in mine if rim.distance(shapely.Point(mark.at)) < 1e-6]


def _differ(mine: list[Fiducial]) -> float:
    sizes = [2 * half_width(mark) for mark in mine]
    return max(sizes, default=0.0) - min(sizes, default=0.0)


def _places(mine: list[Fiducial]) -> list[Place]:
    return [Place(mark.at, mark.side, mark.label) for mark in ordered(mine)]


CHECKS = (close_together, same_when_turned, size_uneven, near_transport_edge, no_local_pair)
