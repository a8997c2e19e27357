# SPDX-License-Identifier: MIT
"""A board as a panel sees it: its outline straightened, what reaches over it, what stands near its sides."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Floats, Indices, exceeds, falls_short, objects, pairs_within
from lineworthy.knowledge.breaks import NAMES, BoardSide, Break, direction, overhangs, sides
from lineworthy.knowledge.copper import pieces
from lineworthy.knowledge.edge import EdgeCopper
from lineworthy.knowledge.fragile import ceramic_room_mm, cracks, is_across, is_far_off
from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.placed import placed_on
from lineworthy.knowledge.wording import mm
from lineworthy.model import Board, Part, Side
from lineworthy.shapes import Area, Point, polygonal
from lineworthy.sheet import Sheet

LOWER, RIGHT, UPPER, LEFT = range(4)

_HALF_TAB_MM = 10.0
"""A tab reaches along the edge by no more than this to each side of its middle."""

_NOT_PLACED = frozenset({Family.MECHANICAL, Family.COVER})


@dataclass(frozen=True)
class Pose:
    """How something lies: turned counter-clockwise by quarter turns about (0, 0), then moved; mm."""

    quarters: int = 0
    at: Point = (0.0, 0.0)

    def place(self, shapes: Any) -> Any:
        """Geometry, or an array of it, in this pose; quarter turns are exact."""
        return shapely.transform(shapes, self.points)

    def points(self, given: Floats) -> Floats:
        """Points, (n, 2), in this pose."""
        x, y = given[:, 0], given[:, 1]
        turned = ((x, y), (-y, x), (-x, -y), (y, -x))[self.quarters % 4]
        return np.column_stack([turned[0] + self.at[0], turned[1] + self.at[1]])

    def moved(self, dx: float, dy: float) -> Pose:
        """The same, farther on."""
        return Pose(self.quarters, (self.at[0] + dx, self.at[1] + dy))


@dataclass(frozen=True)
class Hindrance:
    """Why a side cannot be scored: `short` mm are missing to a limit, None where no number would help."""

    key: str
    text: str
    short: Optional[float] = None


@dataclass(frozen=True, eq=False)
class Rim:
    """One side of the board, and what is in the way of a score along it.

    Attributes:
        side: as the board has it, for its name and shape.
        beyond: how far parts reach over it, mm, and the part that reaches most.
        hindrances: reasons against a score; empty when it can be scored.
        ceramics: references of ceramic capacitors that a break there would bend.
        part_gap: from it to the nearest part, mm; None where none is within a conveyor's edge.
    """

    side: BoardSide
    beyond: float
    over: Optional[Part]
    hindrances: tuple[Hindrance, ...]
    ceramics: tuple[str, ...]
    part_gap: Optional[float]
    notched: bool


@dataclass(frozen=True, eq=False)
class Obstacles:
    """What a tab keeps away from, straightened like the outline; arrays of geometries.

    `large` holds the ceramic capacitors that are large and lie across the side next to them, `ceramics` the others.
    """

    large: npt.NDArray[np.object_]
    ceramics: npt.NDArray[np.object_]
    bodies: npt.NDArray[np.object_]
    copper: npt.NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class Unit:
    """One board, straightened: its sides along x and y, the lower left corner of its rectangle at (0, 0).

    Attributes:
        angle: degrees the board was turned by, clockwise, and `origin`, what was then taken off, to get here.
        outline: with cut-outs.
        occupied: the outline with all that reaches over it.
        rims: lower, right, upper, left.
        bodies: of the fitted parts, for a picture.
        unmarked: sides that machines place parts on and that have too few alignment marks of their own.
    """

    board: Board
    angle: float
    origin: Point
    outline: Polygon
    occupied: Area
    width: float
    height: float
    rims: tuple[Rim, Rim, Rim, Rim]
    obstacles: Obstacles
    bodies: tuple[Area, ...] = field(repr=False)
    unmarked: tuple[Side, ...]

    @property
    def full(self) -> Polygon:
        """The outline without cut-outs."""
        return Polygon(self.outline.exterior)

    def rim(self, name: int, quarters: int) -> Rim:
        """The side that lies at `name` once the board is turned."""
        return self.rims[(name - quarters) % 4]


def unit_of(board: Board, marks: Marks, packages: Packages, sheet: Sheet) -> Unit:
    """A board with one closed outline, straightened and measured."""
    area = board.outline.area
    outline = max(shapely.get_parts(area), key=lambda piece: piece.area)
    angle = direction(outline)
    straight = _turned(outline, -angle)
    left, low, right, high = straight.bounds
    facts = {part: packages.of(part) for part in board.parts if part.fitted}
    over = _overhangs(board, packages)

    def straighten(shapes: Any) -> Any:
        return shapely.transform(_turned(shapes, -angle), lambda points: points - (left, low))

    drawn = [one.body for one in facts.values() if one.family not in _NOT_PLACED and not one.body.is_empty]
    bodies = [packages.of(part).body for sides_over in over for part, _ in sides_over]
    occupied = polygonal(shapely.union_all([straighten(shape) for shape in (Polygon(outline.exterior), *bodies)]))
    return Unit(
        board=board,
        angle=angle,
        origin=(float(left), float(low)),
        outline=straighten(outline),
        occupied=occupied,
        width=round(float(right - left), 6),
        height=round(float(high - low), 6),
        rims=_rims(board, facts, over, sheet),
        obstacles=_obstacles(board, facts, outline, straighten, sheet),
        bodies=tuple(straighten(_chosen(drawn, range(len(drawn))))),
        unmarked=tuple(side for side in Side if placed_on(board, side) and not _is_marked(marks, side, sheet)),
    )


def _is_marked(marks: Marks, side: Side, sheet: Sheet) -> bool:
    return sum(not mark.local for mark in marks.fiducials_on(side)) >= sheet.fiducials.per_side_min_count


def _turned(shapes: Any, degrees: float) -> Any:
    if degrees == 0.0:
        return shapely.transform(shapes, lambda points: points)
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return shapely.transform(shapes, lambda points: points @ matrix)


def _overhangs(board: Board, packages: Packages) -> list[list[tuple[Part, float]]]:
    """For each side the parts that reach over it and how far, most first."""
    found: list[list[tuple[Part, float]]] = [[], [], [], []]
    for one in overhangs(board, packages, sides(board)):
        if one.part.body is None:
            continue  # the body is guessed from the lands, and lands that reach over the edge are cut with it
        found[NAMES.index(one.side.name)].append((one.part, one.beyond))
    return found


def _rims(
    board: Board, facts: dict[Part, PackageFacts], over: list[list[tuple[Part, float]]], sheet: Sheet
) -> tuple[Rim, Rim, Rim, Rim]:
    around = sides(board)
    near = _parts_near(board, facts, around, sheet)
    copper = _copper_near(board, around, sheet.panel.score_copper_min_mm)
    made = []
    for n, side in enumerate(around):
        close = near[n]
        ceramics = tuple(part.reference for part, gap, ceramic in close if ceramic)
        nearest = [(part, gap) for part, gap, _ in close]
        reach = over[n][0] if over[n] else None
        hindrances = tuple(_hindrances(side, reach, nearest, copper[n], sheet))
        made.append(
            Rim(
                side=side,
                beyond=round(reach[1], 6) if reach else 0.0,
                over=reach[0] if reach else None,
                hindrances=hindrances,
                ceramics=ceramics,
                part_gap=nearest[0][1] if nearest else None,
                notched=side.by is Break.NOTCHED,
            )
        )
    lower, right, upper, left = made
    return lower, right, upper, left


def _hindrances(
    side: BoardSide,
    reach: Optional[tuple[Part, float]],
    near: Sequence[tuple[Part, float]],
    copper: Optional[float],
    sheet: Sheet,
) -> Iterator[Hindrance]:
    panel = sheet.panel
    where = f"the {side.name} side"
    if side.by is Break.ROUTED:
        yield Hindrance("shape", f"{where} has {side.why}" if side.half_holes else f"{where} is {_curved(side)}")
    if reach:
        yield Hindrance("overhang", f"{reach[0].reference} reaches {mm(reach[1])} mm over {where}", reach[1])
    need = panel.break_edge_part_min_mm
    if near and not reach and falls_short(near[0][1], need):
        part, gap = near[0]
        text = f"{part.reference} is {mm(gap)} mm from {where}, a blade needs {mm(need)} mm"
        yield Hindrance("panel.break_edge_part_min_mm", text, need - gap)
    need = panel.score_copper_min_mm
    if copper is not None and falls_short(copper, need):
        text = f"copper is {mm(copper)} mm from {where}, a score needs {mm(need)} mm"
        yield Hindrance("panel.score_copper_min_mm", text, need - copper)


def _curved(side: BoardSide) -> str:
    return side.why if side.straight else "curved"


def _parts_near(
    board: Board, facts: dict[Part, PackageFacts], around: Sequence[BoardSide], sheet: Sheet
) -> list[list[tuple[Part, float, bool]]]:
    """For each side the parts near it, nearest first: the part, its distance in mm, whether a break would bend it."""
    panel = sheet.panel
    usual = max(panel.break_edge_part_min_mm, panel.break_edge_ceramic_min_mm, panel.conveyor_edge_min_mm)
    reach = max(usual, panel.break_edge_large_ceramic_min_mm)
    chosen = [(part, one) for part, one in facts.items() if one.family not in _NOT_PLACED and not one.body.is_empty]
    lines = [side.edge if side.straight else side.line for side in around]
    shapes = [_taken(board, part, one) for part, one in chosen]
    found: list[list[tuple[Part, float, bool]]] = [[], [], [], []]
    for i, j, gap in zip(*(column.tolist() for column in pairs_within(shapes, lines, reach))):
        part, one = chosen[i]
        is_bent = cracks(one) and falls_short(gap, ceramic_room_mm(one, is_across(part, around[j].line), panel))
        if is_bent or not exceeds(gap, usual):
            found[j].append((part, gap, is_bent))
    return [sorted(row, key=lambda item: (round(item[1], 4), item[0].reference, item[0].uid)) for row in found]


def _taken(board: Board, part: Part, facts: PackageFacts) -> BaseGeometry:
    layer = board.copper_on(part.side)
    return shapely.GeometryCollection([facts.body, *(pad.copper[layer] for pad in part.pads if layer in pad.copper)])


def _copper_near(board: Board, around: Sequence[BoardSide], need: float) -> list[Optional[float]]:
    """For each side the distance of the nearest copper that is too near for a score, mm."""
    nearest: list[Optional[float]] = [None] * 4
    for one in EdgeCopper(board, tuple(layers(board)), need, need).near:
        at = shapely.Point(one.at)
        away = [float(shapely.distance(at, side.line)) for side in around]
        side = int(np.argmin(away))
        known = nearest[side]
        if away[side] <= 2 * need and (known is None or one.gap < known):
            nearest[side] = one.gap
    return nearest


def _obstacles(
    board: Board, facts: dict[Part, PackageFacts], outline: Polygon, straighten: Any, sheet: Sheet
) -> Obstacles:
    """What stands within reach of a tab anywhere along the outer edge."""
    panel = sheet.panel
    edge = outline.exterior
    around = sides(board)
    fragile: list[BaseGeometry] = []
    large: list[BaseGeometry] = []
    for part, one in facts.items():
        if cracks(one):
            side = min(around, key=lambda side: round(shapely.distance(one.body, side.line), 6))
            (large if is_far_off(one, is_across(part, side.line)) else fragile).append(one.body)
    bodies = [one.body for one in facts.values() if one.family not in _NOT_PLACED and not one.body.is_empty]
    copper = [piece for piece in pieces(board) if piece.kind != "pour" and not piece.shape.is_empty]
    near = _near([piece.shape for piece in copper], edge, panel.tab_track_min_mm)
    thick = [copper[n].shape.buffer(copper[n].half) if copper[n].half else copper[n].shape for n in near]
    return Obstacles(
        large=straighten(_chosen(large, _near(large, edge, panel.break_edge_large_ceramic_min_mm))),
        ceramics=straighten(_chosen(fragile, _near(fragile, edge, panel.break_edge_ceramic_min_mm))),
        bodies=straighten(_chosen(bodies, _near(bodies, edge, panel.break_edge_part_min_mm))),
        copper=straighten(_chosen(thick, range(len(thick)))),
    )


def _near(shapes: Sequence[BaseGeometry], edge: BaseGeometry, reach: float) -> Indices:
    """Which shapes are so near to the edge that a tab on it may be too near to them."""
    given = _chosen(shapes, range(len(shapes)))
    if not len(given):
        return np.zeros(0, dtype=np.intp)
    return np.sort(shapely.STRtree(given).query(edge, predicate="dwithin", distance=reach + _HALF_TAB_MM))


def _chosen(shapes: Sequence[BaseGeometry], which: Iterable[int]) -> npt.NDArray[np.object_]:
    picked = [shapes[n] for n in which]
    return objects(picked)
