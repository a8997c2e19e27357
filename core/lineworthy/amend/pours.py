# SPDX-License-Identifier: MIT
"""How copper pours give way to what is inserted, and where a disc lies wholly inside of one.

The editor fills a pour again round a new pad or hole. A pour may give way only where it stays in one piece: the band
round the place it leaves must itself be one piece, so that whatever was connected across the place still is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Union
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.model import Board, CopperArea
from lineworthy.shapes import Area, Coords, Point, disc, polygonal

POUR_GAP_MM = 0.5
"""How far a pour keeps off other nets: the editor's own default; what a pour says itself is not in the model."""

BAND_MM = 0.5
"""Width of the band of copper that has to be left round a place a pour gives way to."""

NECK_MM = 0.25
"""Copper narrower than this does not count as a way round (common practice, no source)."""

_SLIVER_MM2 = 1e-4


def touching(board: Board, layer: str, at: Point, radius: float, net: str = "") -> list[CopperArea]:
    """Pours of other nets that have copper within `radius` mm of a point."""
    return [
        area for area in board.areas if area.layer == layer and (not net or area.net != net) if _near(area, at, radius)
    ]


def gives_way(area: CopperArea, at: Point, radius: float) -> bool:
    """Whether a pour stays in one piece, by ways at least `NECK_MM` wide, when it leaves a disc."""
    around = disc(at, 2 * (radius + BAND_MM))
    here = local_fill(area, around)
    before = _pieces(here)
    after = _pieces(here.difference(disc(at, 2 * radius)))
    return all(_joined(piece, after) <= 1 for piece in before)


def _pieces(copper: BaseGeometry) -> list[BaseGeometry]:
    """The pieces a factory would see: narrow necks count as cut."""
    return [piece for piece in shapely.get_parts(copper.buffer(-NECK_MM / 2, quad_segs=4)) if piece.area > _SLIVER_MM2]


def _joined(piece: BaseGeometry, after: list[BaseGeometry]) -> int:
    """How many pieces one piece of copper falls into."""
    return sum(piece.intersection(part).area > _SLIVER_MM2 for part in after)


def local_fill(area: CopperArea, window: BaseGeometry) -> BaseGeometry:
    """The copper of a pour inside a window, without building the whole pour.

    The outline's stretches cut the window into cells; each cell is copper or not as one of its points is.
    """
    lines = true_edges(area, window)
    cells = list(shapely.get_parts(shapely.polygonize([shapely.union_all([window.boundary, lines])])))
    return polygonal(shapely.union_all([cell for cell in cells if _is_copper(area, cell)]))


def _is_copper(area: CopperArea, cell: BaseGeometry) -> bool:
    point = cell.representative_point()
    return _ring_edges(area).wind_round((point.x, point.y))


def true_edges(area: CopperArea, window: BaseGeometry) -> shapely.MultiLineString:
    """The edges of a pour near a window, without the zero-width cuts that join its holes to the outside."""
    lines = _ring_edges(area).near(window.bounds)
    if not len(lines):
        return shapely.MultiLineString()
    # a cut is gone along once in each direction: such edges come twice when both run from left to right
    level = np.where(
        (lines[:, :1] > lines[:, 2:3]) | ((lines[:, :1] == lines[:, 2:3]) & (lines[:, 1:2] > lines[:, 3:])),
        lines[:, [2, 3, 0, 1]],
        lines,
    )
    _, index, count = np.unique(level, axis=0, return_inverse=True, return_counts=True)
    kept = lines[count[index.ravel()] == 1]
    return shapely.MultiLineString(list(kept.reshape(-1, 2, 2)))


class _Edges:
    """The edges of a pour's rings in blocks with the box of each, so that a look at one spot is a look at a few.

    A pour has up to some hundred thousand edges, and a planner asks for some dozens of spots.
    """

    BLOCK = 128

    def __init__(self, area: CopperArea) -> None:
        rings = [ring for ring in area.rings if len(ring) >= 3]
        pieces = [np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings]
        self._lines: Coords = np.concatenate(pieces) if pieces else np.zeros((0, 4))
        starts = np.arange(0, len(self._lines), self.BLOCK)
        low = np.minimum(self._lines[:, :2], self._lines[:, 2:])
        high = np.maximum(self._lines[:, :2], self._lines[:, 2:])
        self._low = np.minimum.reduceat(low, starts) if len(starts) else low
        self._high = np.maximum.reduceat(high, starts) if len(starts) else high
        self.bounds = (*self._low.min(axis=0), *self._high.max(axis=0)) if len(starts) else (0.0, 0.0, -1.0, -1.0)

    def near(self, box: Sequence[float]) -> Coords:
        """Edges (n, 4) whose own boxes touch a box."""
        low_x, low_y, high_x, high_y = box
        blocks = np.all(self._low <= (high_x, high_y), axis=1) & np.all(self._high >= (low_x, low_y), axis=1)
        lines = self._of(np.flatnonzero(blocks))
        low, high = np.minimum(lines[:, :2], lines[:, 2:]), np.maximum(lines[:, :2], lines[:, 2:])
        touching = np.all(low <= (high_x, high_y), axis=1) & np.all(high >= (low_x, low_y), axis=1)
        return np.asarray(lines[touching])

    def wind_round(self, at: Point) -> bool:
        """Whether a point lies in the copper, by the even-odd rule: zero-width cuts cancel out."""
        blocks = (self._low[:, 1] <= at[1]) & (self._high[:, 1] > at[1]) & (self._high[:, 0] > at[0])
        lines = self._of(np.flatnonzero(blocks))
        x, y, next_x, next_y = lines.T
        crosses = (y > at[1]) != (next_y > at[1])
        rise = np.where(crosses, next_y - y, 1.0)
        return bool((crosses & (at[0] < x + (at[1] - y) / rise * (next_x - x))).sum() % 2)

    def _of(self, blocks: npt.NDArray[np.intp]) -> Coords:
        pieces = [self._lines[n * self.BLOCK : (n + 1) * self.BLOCK] for n in blocks]
        return np.concatenate(pieces) if pieces else self._lines[:0]


_KNOWN: WeakKeyDictionary[CopperArea, _Edges] = WeakKeyDictionary()


def _ring_edges(area: CopperArea) -> _Edges:
    known = _KNOWN.get(area)
    if known is None:
        known = _KNOWN[area] = _Edges(area)
    return known


def inside(areas: Sequence[CopperArea], region: BaseGeometry, depth: float) -> Area:
    """What of a region lies at least `depth` mm deep in the copper of one of some pours."""
    found: list[BaseGeometry] = []
    for area in areas:
        if not _meets(_ring_edges(area).bounds, region.bounds):
            continue
        rim = true_edges(area, region.buffer(depth)).buffer(depth, quad_segs=16)
        pieces = shapely.get_parts(polygonal(region.difference(rim)))
        found += [piece for piece in pieces if not piece.is_empty and _is_copper(area, piece)]
    return polygonal(shapely.union_all(found))


def _near(area: CopperArea, at: Point, radius: float) -> bool:
    edges = _ring_edges(area)
    box = (at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius)
    if not _meets(edges.bounds, box):
        return False
    if edges.wind_round(at):
        return True
    rim = true_edges(area, shapely.box(*box))
    return not rim.is_empty and bool(rim.distance(shapely.Point(at)) < radius)


def _meets(one: Sequence[float], other: Sequence[float]) -> bool:
    return one[0] <= other[2] and one[2] >= other[0] and one[1] <= other[3] and one[3] >= other[1]


def _overlaps(ring: Coords, bounds: tuple[float, float, float, float]) -> bool:
    low, high = ring.min(axis=0), ring.max(axis=0)
    return bool(low[0] <= bounds[2] and high[0] >= bounds[0] and low[1] <= bounds[3] and high[1] >= bounds[1])


def pulled_back(area: CopperArea, *discs: tuple[Point, float]) -> CopperArea:
    """The pour as it will be filled round discs, each a centre and a radius."""
    holes = [disc(at, 2 * radius) for at, radius in discs]
    return replace(area, rings=tuple(ring for source in area.rings for ring in _cut(source, holes)))


def _cut(ring: Coords, holes: Sequence[BaseGeometry]) -> Iterator[Coords]:
    """A ring with discs taken out: where one lies inside, joined to it by a cut, as the editor writes holes."""
    near = [hole for hole in holes if len(ring) >= 3 and _overlaps(ring, hole.bounds)]
    if not near:
        yield ring
        return
    rest = polygonal(_valid(ring).difference(shapely.union_all(near)))
    for piece in shapely.get_parts(rest):
        yield _one_ring(piece)


def _valid(ring: Coords) -> BaseGeometry:
    polygon = shapely.Polygon(ring)
    healed = polygon.buffer(0)
    return healed if abs(healed.area - polygon.area) <= 1e-9 * polygon.area else shapely.make_valid(polygon)


def _one_ring(piece: shapely.Polygon) -> Coords:
    """A polygon as one ring: each hole joined to what lies left of it by a level cut, which so crosses nothing."""
    loops = [np.array(loop.coords)[:-1] for loop in (piece.exterior, *piece.interiors)]
    if len(loops) == 1:
        return loops[0]
    first = np.cumsum([0, *(len(loop) for loop in loops)])
    points = np.concatenate(loops)
    joints, feet = _joints(loops, points)
    joined: dict[int, list[int]] = {}
    for hole in sorted(range(1, len(loops)), key=lambda n: float(np.hypot(*(feet[n - 1] - points[joints[n - 1]])))):
        joined.setdefault(int(joints[hole - 1]), []).append(hole)  # along each edge from its start
    order: list[npt.NDArray[np.intp]] = []
    open_loops: list[Union[int, npt.NDArray[np.intp]]] = [0]  # loops to go round, and stretches between them
    while open_loops:
        task = open_loops.pop()
        if isinstance(task, int):
            open_loops += reversed(_way_round(task, first, loops, joined, len(points)))
        else:
            order.append(task)
    return np.asarray(np.concatenate([points, feet])[np.concatenate(order)])


def _joints(loops: Sequence[Coords], points: Coords) -> tuple[npt.NDArray[np.intp], Coords]:
    """For each hole the edge, by the number of its first point, that lies left of its leftmost point, and where."""
    owner = np.repeat(np.arange(len(loops)), [len(loop) for loop in loops])
    ends = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    tree = shapely.STRtree(np.asarray(shapely.linestrings(np.stack([points, ends], axis=1))))
    spots = np.array([loop[np.argmin(loop[:, 0])] for loop in loops])
    rays = np.stack([np.column_stack([np.full(len(loops), points[:, 0].min() - 1.0), spots[:, 1]]), spots], axis=1)
    ray, edge = tree.query(shapely.linestrings(rays[1:]))
    (x, y), (start_x, start_y), (end_x, end_y) = spots[ray + 1].T, points[edge].T, ends[edge].T
    crosses = (start_y > y) != (end_y > y)
    at = start_x + (y - start_y) / np.where(crosses, end_y - start_y, 1.0) * (end_x - start_x)
    # a loop that begins further left, so that no two holes are joined to each other only
    lefter = (owner[edge] == 0) | (spots[owner[edge], 0] < x)
    kept = np.flatnonzero(crosses & lefter & (at <= x) & (owner[edge] != ray + 1))
    kept = kept[np.lexsort((at[kept], ray[kept]))]
    last = kept[np.append(np.diff(ray[kept]) != 0, True)[: len(kept)]]  # the nearest to each hole
    joints = np.zeros(len(loops) - 1, dtype=np.intp)
    feet = np.repeat(points[:1], len(loops) - 1, axis=0)  # for a hole that touches the outside: joined anywhere
    joints[ray[last]], feet[ray[last]] = edge[last], np.column_stack([at[last], y[last]])
    return joints, feet


def _way_round(
    loop: int, first: npt.NDArray[np.intp], loops: Sequence[Coords], joined: dict[int, list[int]], count: int
) -> list[Union[int, npt.NDArray[np.intp]]]:
    """Once round a loop from its leftmost point, by numbers of points, with the holes that are joined to it."""
    turn = 0 if loop == 0 else int(np.argmin(loops[loop][:, 0]))
    order = np.roll(np.arange(first[loop], first[loop + 1]), -turn)
    way: list[Union[int, npt.NDArray[np.intp]]] = []
    done = 0
    for place in (place for place, number in enumerate(order) if int(number) in joined):
        way.append(order[done : place + 1])
        for hole in joined[int(order[place])]:
            foot = np.array([count + hole - 1])
            way += [foot, hole, foot]
        done = place + 1
    return [*way, order[done:], *([order[:1]] if loop else [])]
