# SPDX-License-Identifier: MIT
"""Ways of a pen or cutter: arcs as points, and what a set of strokes encloses."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, ceil, cos, hypot, pi, sin

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.shapes import Area, Coords, Point, arc_steps, polygonal, quad_segs

JOIN_MM = 0.02
"""Ends of strokes this near to each other were meant to meet: coordinates are rounded, and editors allow as much."""


def enclosed(paths: Sequence[Coords]) -> Area:
    """What paths enclose, (n, 2) mm each; of rings within rings every second one is a hole. Empty when none closes."""
    usable = [path for path in paths if len(path) > 1]
    if not usable:
        return Polygon()
    lines = [shapely.LineString(path) for path in _joined(usable)]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines, grid_size=1e-5)]))
    inside: BaseGeometry = Polygon()
    for face in sorted(faces, key=lambda face: -Polygon(face.exterior).area):
        inside = inside.symmetric_difference(Polygon(face.exterior))
    return polygonal(inside)


def _joined(paths: list[Coords]) -> list[Coords]:
    """Paths whose ends meet where they nearly do."""
    ends = np.array([end for path in paths for end in (path[0], path[-1])])
    points = [shapely.Point(end) for end in ends]
    near, to = shapely.STRtree(points).query(points, predicate="dwithin", distance=JOIN_MM)
    first = np.arange(len(ends))
    np.minimum.at(first, near, to)
    joined = []
    for number, path in enumerate(paths):
        moved = path.copy()
        moved[0], moved[-1] = ends[first[2 * number]], ends[first[2 * number + 1]]
        if len(moved) > 2 or not np.array_equal(moved[0], moved[-1]):
            joined.append(moved)
    return joined


def arc(start: Point, end: Point, centre: Point, clockwise: bool, full: bool) -> list[Point]:
    """Points after `start` along a circular arc, `end` the last one."""
    radius = hypot(start[0] - centre[0], start[1] - centre[1])
    first = atan2(start[1] - centre[1], start[0] - centre[0])
    last = atan2(end[1] - centre[1], end[0] - centre[0])
    sweep = (first - last if clockwise else last - first) % (2 * pi)
    if full:
        sweep = 2 * pi
    if radius == 0 or sweep == 0:
        return [end]
    steps = max(arc_steps(radius, sweep), ceil(quad_segs(radius) * sweep / (pi / 2)))  # as true as a flashed circle
    step = sweep / steps * (-1 if clockwise else 1)
    turns = (first + step * k for k in range(1, steps))
    return [*((centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns), end]


def quadrant_centre(start: Point, end: Point, offset: Point, clockwise: bool) -> Point:
    """In the withdrawn single-quadrant mode offsets have no sign: the centre that fits an arc of at most 90 degrees."""
    best, least = start, float("inf")
    for sx, sy in _SIGNS:
        centre = (start[0] + sx * abs(offset[0]), start[1] + sy * abs(offset[1]))
        first = atan2(start[1] - centre[1], start[0] - centre[0])
        last = atan2(end[1] - centre[1], end[0] - centre[0])
        sweep = (first - last if clockwise else last - first) % (2 * pi)
        off = abs(hypot(start[0] - centre[0], start[1] - centre[1]) - hypot(end[0] - centre[0], end[1] - centre[1]))
        if sweep <= pi / 2 + 1e-3 and off < least:
            best, least = centre, off
    return best


_SIGNS = ((1, 1), (1, -1), (-1, 1), (-1, -1))
