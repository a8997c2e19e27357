# SPDX-License-Identifier: MIT
"""Where tabs hold routed boards: on edges that face something across a slot, clear of parts and copper.

Boards that stand alike among alike neighbours get the same tabs, so each kind of place is looked at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.polygon import orient

from lineworthy.geometry import TOL_MM, Floats, Indices, Shapes, pairs_within
from lineworthy.plans.panel_board import LEFT, LOWER, RIGHT, UPPER, Pose, Unit
from lineworthy.plans.panel_layout import Layout
from lineworthy.plans.panel_plan import Tab
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

FROM_CORNER_MM = 20.0
"""Where the first tab of a side is put if it can be: 15 to 25 mm from the corner (common practice, no source)."""

SHORT_MM = 30.0
"""Shorter stretches get one tab, in their middle (common practice, no source)."""

CUTOUT_MM = 2.0
"""From a tab's end to a cut-out of the board, which would break out with it (common practice, no source)."""

APART_WIDTHS = 4
"""Two tabs are no nearer than so many of their widths."""

CURVE_MM = 0.15
"""The edge may bulge out of a tab's end by this: tabs on curves down to a radius of about 5 mm."""

_LOPSIDED_MM = 0.01
_STEP_MM = 0.5
_LANDS_MM = 0.05
"""A tab's corners land on what is across the slot within this."""

RULES = (
    ("panel.break_edge_large_ceramic_min_mm", "a large ceramic capacitor across the edge"),
    ("panel.break_edge_ceramic_min_mm", "a ceramic capacitor"),
    ("panel.break_edge_part_min_mm", "a part"),
    ("panel.tab_track_min_mm", "copper"),
    ("cut-out", "a cut-out"),
)
"""What a tab keeps away from, by the limits that say how far."""

FRAME = -1


@dataclass(frozen=True, eq=False)
class _Seat:
    """One board of an array with its neighbours, as indices into the array's boards."""

    unit: Unit
    layout: Layout
    sheet: Sheet
    index: int
    others: Sequence[int]

    @property
    def pose(self) -> Pose:
        """How its board lies."""
        return self.layout.poses[self.index]

    @property
    def gap(self) -> float:
        """Width of the slot, mm."""
        return self.sheet.panel.routed_gap_mm

    @property
    def half(self) -> float:
        """Half the width of a tab, mm."""
        return tab_width(self.sheet) / 2


@dataclass(frozen=True, eq=False)
class _Places:
    """Places along the edge of one board where a tab could begin.

    Attributes:
        at, normal: (n, 2); the outward direction has length 1.
        along: mm round the outline.
        target: what is across the slot: index of a board, or FRAME.
        short: how much is missing to the limit that is missed most, mm; 0 where a tab is free.
        rule: which limit that is, an index into RULES; -1 for none.
    """

    at: Floats
    normal: Floats
    along: Floats
    target: Indices
    short: Floats
    rule: Indices

    @property
    def free(self) -> npt.NDArray[np.bool_]:
        """Where a tab is clear of all it keeps away from."""
        return np.asarray((self.target != -2) & (self.short <= TOL_MM))


@dataclass(frozen=True)
class _Start:
    """A tab seen from its first board."""

    at: Point
    normal: Point
    target: int


@dataclass(eq=False)
class Held:
    """The tabs of an array.

    Attributes:
        crowded: facing stretches where a tab was wanted and nothing is free, in words, each once.
        loose: indices of boards that are not held.
        miss: where a side has no free place at all, the least that is missing, mm, the limit, and to what.
    """

    tabs: list[Tab] = field(default_factory=list)
    crowded: list[str] = field(default_factory=list)
    loose: list[int] = field(default_factory=list)
    miss: Optional[tuple[float, str, str]] = None


def hold(unit: Unit, layout: Layout, sheet: Sheet) -> Held:
    """Tabs for all boards of an array whose slots are routed on all sides."""
    panel, held = sheet.panel, Held()
    gap = panel.routed_gap_mm
    width = tab_width(sheet)
    known: dict[object, list[_Start]] = {}
    bonds: list[set[tuple[int, int]]] = [set() for _ in layout.full]
    tree = shapely.STRtree(np.array(layout.full, dtype=object))
    for n, pose in enumerate(layout.poses):
        around = tree.query(layout.full[n], predicate="dwithin", distance=gap + _LANDS_MM)
        others = sorted(int(k) for k in around if k != n)
        seat = _Seat(unit, layout, sheet, n, others)
        key = (pose.quarters, _surroundings(seat))
        if key not in known:
            known[key] = _starts(seat, held)
        for start in known[key]:
            # targets are kept as a place in the list of neighbours, which every board of the kind has alike
            target = FRAME if start.target == FRAME else others[start.target]
            at = (start.at[0] + pose.at[0], start.at[1] + pose.at[1])
            held.tabs.append(_tab(at, start.normal, target, width, sheet))
            bearing = round(float(np.degrees(np.arctan2(start.normal[1], start.normal[0]))) / 45.0) % 8
            bonds[n].add((target, bearing))
            if target != FRAME:
                bonds[target].add((n, (bearing + 4) % 8))
    held.loose = _loose(bonds)
    return held


def tab_width(sheet: Sheet) -> float:
    """Width of a tab so that the outer break-away holes lie in its corners, mm: at most what the sheet allows."""
    return holes_in_row(sheet) * sheet.panel.tab_hole_pitch_mm - sheet.panel.tab_hole_pitch_mm


def holes_in_row(sheet: Sheet) -> int:
    """Break-away holes at one end of a tab."""
    return max(int((sheet.panel.tab_max_mm + 1e-9) // sheet.panel.tab_hole_pitch_mm), 1) + 1


def standing(sheet: Sheet) -> float:
    """Material between the break-away holes of one tab, mm."""
    spaces = holes_in_row(sheet) - 1
    return max(spaces * (sheet.panel.tab_hole_pitch_mm - sheet.panel.tab_hole_mm), 0.0)


def _surroundings(seat: _Seat) -> tuple[object, ...]:
    """What tells one kind of seat from another: neighbours, and which sides face the frame."""
    poses, own = seat.layout.poses, seat.pose
    seen = [
        (poses[k].quarters, *(round(poses[k].at[axis] - own.at[axis], 4) for axis in (0, 1)), k > seat.index)
        for k in seat.others
    ]
    frame: list[object] = []
    if not seat.layout.frame.is_empty:
        ring = seat.layout.full[seat.index].exterior
        spots = shapely.line_interpolate_point(ring, np.linspace(0.0, 1.0, 33)[:-1], normalized=True)
        frame = (shapely.distance(seat.layout.frame, spots) <= seat.gap + _LANDS_MM).tolist()
    return (*seen, *frame)


def _starts(seat: _Seat, held: Held) -> list[_Start]:
    """Tabs that begin at one board and end at the frame or at a board later in the list; relative to its pose."""
    places = _places(seat)
    found: list[_Start] = []
    for stretch in _stretches(places):
        target = int(places.target[stretch[0]])
        if target != FRAME and seat.others[target] < seat.index:
            continue
        picks, is_complete = _chosen(places, stretch, seat)
        if not is_complete:
            _complain(seat, places, stretch, held)
        for pick in picks:
            x, y = (places.at[pick] - np.array(seat.pose.at)).tolist()
            dx, dy = places.normal[pick].tolist()
            found.append(_Start((x, y), (dx, dy), target))
    return found


def _places(seat: _Seat) -> _Places:
    """Places every half a millimetre round the board of a seat."""
    half = seat.half
    ring = orient(seat.layout.full[seat.index]).exterior
    count = max(int(ring.length / _STEP_MM), 8)
    along = (np.arange(count) + 0.5) * ring.length / count
    at, before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(ring, (along + by) % ring.length))
        for by in (0.0, -half, half)
    )
    chord = after - before
    length = np.hypot(*chord.T)
    way = chord / np.maximum(length, 1e-9)[:, None]
    # the ring runs counter-clockwise: outwards is to the right
    normal = np.column_stack([way[:, 1], -way[:, 0]])
    to, on = at - before, after - at
    bend = np.abs(way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0])
    # a tab that reaches round a corner has one half shorter than the other
    straight = (bend <= CURVE_MM) & (np.abs(np.hypot(*to.T) - np.hypot(*on.T)) <= _LOPSIDED_MM)
    targets = [*(seat.layout.full[k] for k in seat.others), seat.layout.frame]
    target = np.full(count, -2, dtype=np.intp)
    for index, shape in enumerate(targets):
        lands = straight.copy()
        for corner in (at - way * half, at, at + way * half):
            away = shapely.distance(shape, shapely.points(corner + normal * seat.gap))
            lands &= away <= _LANDS_MM + bend
        target[lands & (target == -2)] = FRAME if index == len(seat.others) else index
    short, rule = np.zeros(count), np.full(count, -1, dtype=np.intp)
    facing = target != -2
    if facing.any():
        short[facing], rule[facing] = _missing(seat, at[facing], normal[facing])
    return _Places(at, normal, along, target, short, rule)


def _missing(seat: _Seat, at: Floats, normal: Floats) -> tuple[Floats, Indices]:
    """How much both ends of a tab at each place are too near to parts, copper and cut-outs, and by which of RULES."""
    panel, obstacles = seat.sheet.panel, seat.unit.obstacles
    way = np.column_stack([-normal[:, 1], normal[:, 0]]) * seat.half
    far = at + normal * seat.gap
    ends = [np.stack([end - way, end + way], axis=1) for end in (at, far)]
    both = np.asarray(shapely.linestrings(np.stack(ends, axis=1).reshape(-1, 2, 2)))
    lines = np.asarray(shapely.multilinestrings(both, indices=np.repeat(np.arange(len(at)), 2)))
    boxes = np.asarray(shapely.convex_hull(lines))
    cutouts = np.array(shapely.get_rings(seat.unit.outline)[1:], dtype=object)
    rules: tuple[tuple[Shapes, float, Shapes], ...] = (
        (obstacles.large, panel.break_edge_large_ceramic_min_mm, lines),
        (obstacles.ceramics, panel.break_edge_ceramic_min_mm, lines),
        (obstacles.bodies, panel.break_edge_part_min_mm, boxes),
        (obstacles.copper, panel.tab_track_min_mm, lines),
        (cutouts, CUTOUT_MM, lines),
    )
    short, rule = np.zeros(len(at)), np.full(len(at), -1, dtype=np.intp)
    for number, (shapes, reach, ours) in enumerate(rules):
        most = np.zeros(len(at))
        for k in (seat.index, *seat.others) if len(shapes) else ():
            i, _, gaps = pairs_within(ours, seat.layout.poses[k].place(shapes), reach)
            np.maximum.at(most, i, reach - gaps)
        rule[most > short + TOL_MM] = number
        short = np.maximum(short, most)
    return short, rule


def _stretches(places: _Places) -> Iterator[Indices]:
    """Places in a row that face the same thing in the same direction."""
    turn = np.round(np.arctan2(places.normal[:, 1], places.normal[:, 0]), 2)
    facing = places.target != -2
    same = (
        facing
        & np.roll(facing, 1)
        & (places.target == np.roll(places.target, 1))
        & (np.abs(np.angle(np.exp(1j * (turn - np.roll(turn, 1))))) < 0.2)
    )
    if same.all():
        yield np.arange(len(turn))
        return
    first = int(np.flatnonzero(~same)[0])
    order = np.roll(np.arange(len(turn)), -first)
    for group in np.split(order, np.flatnonzero(~same[order])[1:]):
        kept = group[facing[group]]
        if len(kept):
            yield kept


def _wanted(along: Floats, sheet: Sheet, *, closed: bool) -> list[float]:
    """Where tabs of a stretch should be: near both ends and not too far apart; evenly where it has no ends."""
    length = _length(along)
    begin = float(along[0])
    if closed:
        count = max(int(np.ceil(length / sheet.panel.tab_apart_max_mm)), 3)
        return [begin + (n + 0.5) * length / count for n in range(count)]
    if length < SHORT_MM:
        return [begin + length / 2]
    inset = min(FROM_CORNER_MM, sheet.panel.tab_corner_max_mm, length / 4)
    spaces = max(int(np.ceil((length - 2 * inset) / sheet.panel.tab_apart_max_mm - 1e-9)), 1)
    return [begin + inset + n * (length - 2 * inset) / spaces for n in range(spaces + 1)]


def _length(along: Floats) -> float:
    step = float(along[1] - along[0]) if len(along) > 1 and along[1] > along[0] else _STEP_MM
    return len(along) * step


def _chosen(places: _Places, stretch: Indices, seat: _Seat) -> tuple[list[int], bool]:
    """Places for the tabs of a stretch, and whether all that are wanted have one."""
    wanted = _wanted(places.along[stretch], seat.sheet, closed=len(stretch) == len(places.along))
    length = _length(places.along[stretch])
    # in a short side a tab belongs near the middle; else it may move half the way to the next
    reach = length / 3 if len(wanted) == 1 else min(seat.sheet.panel.tab_apart_max_mm / 2, length / 2)
    at = float(places.along[stretch[0]]) + np.arange(len(stretch)) * length / len(stretch)
    free = places.free[stretch].copy()
    picks: list[int] = []
    for spot in wanted:
        away = np.where(free, np.abs(at - spot), np.inf)
        best = int(np.argmin(np.round(away, 6)))
        if away[best] <= reach:
            picks.append(int(stretch[best]))
            free &= np.abs(at - at[best]) >= APART_WIDTHS * 2 * seat.half
    return picks, len(picks) == len(wanted)


def _complain(seat: _Seat, places: _Places, stretch: Indices, held: Held) -> None:
    middle = places.normal[stretch[len(stretch) // 2]]
    side = round(float(np.degrees(np.arctan2(middle[1], middle[0]))) / 90.0) % 4
    # which side of the array the stretch looks to, by the board's own name for it
    name = seat.unit.rim((RIGHT, UPPER, LEFT, LOWER)[side], seat.pose.quarters).side.name
    text = f"the {name} side"
    if text not in held.crowded:
        held.crowded.append(text)
    best = int(stretch[np.argmin(np.round(places.short[stretch], 6))])
    short = float(places.short[best])
    if places.rule[best] >= 0 and (held.miss is None or short < held.miss[0]):
        held.miss = (short, *RULES[int(places.rule[best])])


def _tab(at: Point, normal: Point, target: int, width: float, sheet: Sheet) -> Tab:
    gap, half = sheet.panel.routed_gap_mm, width / 2
    base, out = np.array(at), np.array(normal)
    way = np.array([-out[1], out[0]])
    corners = [base - way * half, base + way * half, base + way * half + out * gap, base - way * half + out * gap]
    ends = (0.0, gap) if target != FRAME else (0.0,)
    count = holes_in_row(sheet)
    steps = (np.arange(count) - (count - 1) / 2) * sheet.panel.tab_hole_pitch_mm
    holes = [base + out * end + way * step for end in ends for step in steps]
    middle = base + out * gap / 2
    return Tab(
        at=_point(middle),
        direction=round(float(np.degrees(np.arctan2(out[1], out[0]))), 4) + 0.0,
        width=round(width, 6),
        length=gap,
        shape=shapely.Polygon([_point(corner) for corner in corners]),
        holes=tuple(_point(hole) for hole in holes),
        ends=len(ends),
    )


def _point(at: Floats) -> Point:
    return round(float(at[0]), 6) + 0.0, round(float(at[1]), 6) + 0.0


def _loose(bonds: Sequence[set[tuple[int, int]]]) -> list[int]:
    """Boards that are not held from two directions, or hang on nothing that reaches the frame."""
    links: dict[int, set[int]] = defaultdict(set)
    for n, bond in enumerate(bonds):
        for target, _ in bond:
            links[n].add(target)
            links[target].add(n)
    reached, todo = {FRAME}, [FRAME]
    while todo:
        for k in links[todo.pop()] - reached:
            reached.add(k)
            todo.append(k)
    return [n for n, bond in enumerate(bonds) if n not in reached or len({way for _, way in bond}) < 2]
