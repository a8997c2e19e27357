# SPDX-License-Identifier: MIT
"""What a milling cutter leaves of an outline: corners it cannot reach, gaps it does not fit into, webs too thin."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, Shapes, pairs_within
from lineworthy.shapes import Area, Point, polygonal

DEEP_MM = 0.01
"""What a rounding leaves or takes must be so thick to count: arcs reach us as chords within half of it."""

FACING_COS = np.cos(np.radians(160.0))
"""Walls face each other from this angle between their normals on; in a corner they do not."""

OPPOSITE_COS = np.cos(np.radians(176.0))
"""Where walls are as good as parallel, only these are measured: slanting chords of a round end are nearer together."""

CHORDS = 32
"""Chords per quarter of the circles that are rolled along the edge."""


class Spot(NamedTuple):
    """A place of an outline: `width` is the distance of the walls that face each other there, mm, 0 in a corner."""

    at: Point
    width: float

    @property
    def is_corner(self) -> bool:
        """Whether no walls face each other: a corner."""
        return self.width == 0.0


def unreached(area: Area, cutter: float) -> list[Spot]:
    """Where a cutter of that diameter, mm, cannot come without touching the board: inside corners and narrow gaps."""
    radius = cutter / 2 - TOL_MM
    closed = area.buffer(radius, quad_segs=CHORDS).buffer(-radius, quad_segs=CHORDS)
    gaps = [
        spot
        for board in shapely.get_parts(area)
        for shape in (_around(board.exterior, cutter), *map(Polygon, board.interiors))
        for spot in _thin_by_itself(shape, cutter)
    ]
    gaps += _between([board.exterior for board in shapely.get_parts(area)], cutter)
    corners = [spot for spot in _spots(closed.difference(area), area) if spot.is_corner]
    corners = [spot for spot in corners if not any(_apart(spot, gap) < cutter for gap in gaps)]
    return sorted(gaps + corners, key=lambda spot: (round(spot.width, 6), spot.at))


def _around(ring: LinearRing, width: float) -> Area:
    """What lies outside of a closed line, as far as matters."""
    inside = Polygon(ring)
    return polygonal(inside.buffer(3 * width).difference(inside))


def _apart(one: Spot, other: Spot) -> float:
    return float(np.hypot(one.at[0] - other.at[0], one.at[1] - other.at[1]))


def thin(area: Area, width: float) -> list[Spot]:
    """Where less than `width` mm of board is left between two walls: webs between cut-outs, necks and tongues."""
    found: list[Spot] = []
    for board in shapely.get_parts(area):
        found += _between(shapely.get_rings(board), width)
        for shape in (Polygon(board.exterior), *(_around(ring, width) for ring in board.interiors)):
            found += _thin_by_itself(shape, width)
    return sorted(found, key=lambda spot: (round(spot.width, 6), spot.at))


def _between(rings: Shapes, width: float) -> Iterator[Spot]:
    """The nearest places of edges that come near each other without touching."""
    i, j, apart = pairs_within(rings, None, width)
    near = np.flatnonzero((apart > TOL_MM) & (apart < width - TOL_MM))
    lines = shapely.shortest_line(np.asarray(rings)[i[near]], np.asarray(rings)[j[near]])
    for (x, y), gap in zip(shapely.get_coordinates(lines).reshape(-1, 2, 2).mean(axis=1), apart[near]):
        yield Spot((float(x), float(y)), float(gap))


def _thin_by_itself(shape: Area, width: float) -> list[Spot]:
    """Tongues of a shape, which a rolling circle does not fill, and necks, where it does not pass."""
    radius = width / 2 - TOL_MM
    cores = shapely.buffer(shape, -radius, quad_segs=CHORDS)
    left = shape.difference(cores.buffer(radius, quad_segs=CHORDS))
    tongues = [spot for spot in _spots(left, shape) if 0.0 < spot.width < width]
    i, j, _ = pairs_within(shapely.get_parts(cores), None, 2 * width)
    ways = shapely.shortest_line(shapely.get_parts(cores)[i], shapely.get_parts(cores)[j])
    for x, y in shapely.get_coordinates(ways).reshape(-1, 2, 2).mean(axis=1):
        walls = shapely.get_parts(shapely.line_merge(shape.boundary.intersection(shapely.Point(x, y).buffer(width))))
        _, _, apart = pairs_within(walls, None, width)
        apart = apart[apart > TOL_MM]
        if len(apart):
            neck = Spot((float(x), float(y)), float(apart.min()))
            if all(_apart(neck, spot) > 2 * width for spot in tongues):
                tongues.append(neck)
    return tongues


def _spots(left: BaseGeometry, area: Area) -> list[Spot]:
    """What is thick enough of what a rolled circle leaves, piece by piece; hair-thin joints between pieces are cut."""
    cores = shapely.get_parts(shapely.buffer(left, -DEEP_MM / 2))
    grown = shapely.buffer(cores[~shapely.is_empty(cores)], DEEP_MM, join_style="mitre")
    # crumbs of rounding may lie beside a piece
    pieces = [max(shapely.get_parts(shapely.intersection(one, left)), key=shapely.area) for one in grown]
    found = [Spot(_middle(piece), _width(piece, area.boundary)) for piece in pieces]
    return sorted(found, key=lambda spot: (round(spot.width, 6), spot.at))


def _middle(piece: BaseGeometry) -> Point:
    spot = piece.representative_point()
    return (spot.x, spot.y)


def _width(piece: BaseGeometry, edge: BaseGeometry) -> float:
    """How far apart walls of the outline are that face each other across a piece, 0 where none do."""
    walls = _walls(piece, edge)
    if len(walls) < 2:
        return 0.0
    step = walls[:, 1] - walls[:, 0]
    normal = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None]
    turn = np.triu(normal @ normal.T, 1)
    facing = turn <= (OPPOSITE_COS if turn.min() <= OPPOSITE_COS else FACING_COS)
    i, j = np.nonzero(facing)
    if not len(i):
        return 0.0
    lines = np.asarray(shapely.linestrings(walls), dtype=object)
    apart = shapely.distance(lines[i], lines[j])
    # neighbours that meet in a spike face each other, too, but leave nothing between them
    apart = apart[apart > TOL_MM]
    return float(apart.min()) if len(apart) else 0.0


def _walls(piece: BaseGeometry, edge: BaseGeometry) -> Floats:
    """(n, 2, 2) edges of a piece that lie on the outline, all with the piece on the same hand."""
    rings = [shapely.get_coordinates(ring) for ring in np.asarray(shapely.get_rings(shapely.normalize(piece)))]
    if not rings:
        return np.zeros((0, 2, 2))
    walls = np.concatenate([np.stack([points[:-1], points[1:]], axis=1) for points in rings])
    walls = walls[np.hypot(*(walls[:, 1] - walls[:, 0]).T) > TOL_MM]
    shapely.prepare(edge)
    middles = shapely.points(walls.mean(axis=1))
    return np.asarray(walls[shapely.distance(middles, edge) < TOL_MM])
