# SPDX-License-Identifier: MIT
"""How copper pours give way to what is inserted, and where a disc lies wholly inside of one.

The editor fills a pour again round a new pad or hole. A pour may give way only where it stays in one piece: the band
round the place it leaves must itself be one piece, so that whatever was connected across the place still is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.rings import winds_round
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
    spot = np.array((point.x, point.y))
    return sum(winds_round(spot, ring) for ring in area.rings if _in_bounds(ring, (point.x, point.y), 0.0)) % 2 == 1


def true_edges(area: CopperArea, window: BaseGeometry) -> shapely.MultiLineString:
    """The edges of a pour near a window, without the zero-width cuts that join its holes to the outside."""
    low_x, low_y, high_x, high_y = window.bounds
    found: list[Coords] = []
    for ring in area.rings:
        if len(ring) < 3 or not _overlaps(ring, window.bounds):
            continue
        start, end = ring, np.roll(ring, -1, axis=0)
        left, right = np.minimum(start, end), np.maximum(start, end)
        near = (left[:, 0] <= high_x) & (right[:, 0] >= low_x) & (left[:, 1] <= high_y) & (right[:, 1] >= low_y)
        found.append(np.stack([start[near], end[near]], axis=1))
    if not found:
        return shapely.MultiLineString()
    lines = np.concatenate(found).reshape(-1, 4)
    # a cut is gone along once in each direction: such edges come twice when both run from left to right
    level = np.where(
        (lines[:, :1] > lines[:, 2:3]) | ((lines[:, :1] == lines[:, 2:3]) & (lines[:, 1:2] > lines[:, 3:])),
        lines[:, [2, 3, 0, 1]],
        lines,
    )
    _, index, count = np.unique(level, axis=0, return_inverse=True, return_counts=True)
    kept = lines[count[index.ravel()] == 1]
    return shapely.MultiLineString(kept.reshape(-1, 2, 2).tolist())


def inside(areas: Sequence[CopperArea], region: BaseGeometry, depth: float) -> Area:
    """What of a region lies at least `depth` mm deep in the copper of one of some pours."""
    found: list[BaseGeometry] = []
    for area in areas:
        if not any(_overlaps(ring, region.bounds) for ring in area.rings):
            continue
        rim = true_edges(area, region.buffer(depth)).buffer(depth, quad_segs=16)
        pieces = shapely.get_parts(polygonal(region.difference(rim)))
        found += [piece for piece in pieces if not piece.is_empty and _is_copper(area, piece)]
    return polygonal(shapely.union_all(found))


def _near(area: CopperArea, at: Point, radius: float) -> bool:
    point = shapely.Point(at)
    if any(_in_bounds(ring, at, 0.0) and winds_round(np.array(at), ring) for ring in area.rings if len(ring) >= 3):
        return True
    edges = true_edges(area, point.buffer(radius))
    return not edges.is_empty and bool(edges.distance(point) < radius)


def _in_bounds(ring: Coords, at: Point, margin: float) -> bool:
    if len(ring) < 3:
        return False
    return bool((ring.min(axis=0) <= np.array(at) + margin).all() and (ring.max(axis=0) >= np.array(at) - margin).all())


def _overlaps(ring: Coords, bounds: tuple[float, float, float, float]) -> bool:
    low, high = ring.min(axis=0), ring.max(axis=0)
    return bool(low[0] <= bounds[2] and high[0] >= bounds[0] and low[1] <= bounds[3] and high[1] >= bounds[1])


def pulled_back(area: CopperArea, at: Point, radius: float) -> CopperArea:
    """The pour as it will be filled round a disc."""
    rings = tuple(ring for source in area.rings for ring in _cut(source, at, radius))
    return replace(area, rings=rings)


def _cut(ring: Coords, at: Point, radius: float) -> Iterator[Coords]:
    """A ring with a disc taken out: where the disc lies inside, joined to it by a cut, as the editor writes holes."""
    hole = disc(at, 2 * radius)
    if not _overlaps(ring, hole.bounds):
        yield ring
        return
    rest = polygonal(_valid(ring).difference(hole))
    for piece in shapely.get_parts(rest):
        yield _one_ring(piece)


def _valid(ring: Coords) -> BaseGeometry:
    polygon = shapely.Polygon(ring)
    healed = polygon.buffer(0)
    return healed if abs(healed.area - polygon.area) <= 1e-9 * polygon.area else shapely.make_valid(polygon)


def _one_ring(piece: shapely.Polygon) -> Coords:
    """A polygon as one ring: each hole joined to what lies left of it by a level cut, which so crosses nothing."""
    points = np.array(piece.exterior.coords)[:-1]
    holes = [np.array(inner.coords)[:-1] for inner in piece.interiors]
    for hole in sorted(holes, key=lambda ring: float(ring[:, 0].min())):
        loop = np.roll(hole, -int(np.argmin(hole[:, 0])), axis=0)
        x, y = loop[0]
        start, end = points, np.roll(points, -1, axis=0)
        crosses = (start[:, 1] > y) != (end[:, 1] > y)
        rise = np.where(crosses, end[:, 1] - start[:, 1], 1.0)
        at = start[:, 0] + (y - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
        at = np.where(crosses & (at <= x), at, -np.inf)
        joint = int(np.argmax(at))
        foot = np.array([[at[joint], y]])
        points = np.vstack([points[: joint + 1], foot, loop, loop[:1], foot, points[joint + 1 :]])
    return points
