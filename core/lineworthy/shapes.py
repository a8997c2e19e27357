# SPDX-License-Identifier: MIT
"""Shapes out of board numbers: arcs as chords, discs, oblongs, and the parts of a geometry that have area.

All lengths are mm.
"""

from __future__ import annotations

from typing import Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]
Area = Union[Polygon, MultiPolygon]
Coords = npt.NDArray[np.float64]

ARC_TOL_MM = 0.005
"""Largest distance between a true arc and the points that stand for it."""


def arc_points(start: Point, mid: Point, end: Point, tol: float = ARC_TOL_MM) -> Coords:
    """Points along the circular arc through three points, (n, 2), within `tol` mm of the arc.

    Three points on a line give the straight way through them; start equal to end gives the full circle
    whose diameter is start to mid.
    """
    a, b, c = np.array(start), np.array(mid), np.array(end)
    if np.allclose(a, c, atol=1e-9):
        centre = (a + b) / 2
        sweep = 2 * np.pi
    else:
        cross = float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
        if abs(cross) < 1e-9:
            return np.array([start, mid, end])
        ab, ac = b - a, c - a
        d = 2 * cross
        offset = np.array([ac[1] * (ab @ ab) - ab[1] * (ac @ ac), ab[0] * (ac @ ac) - ac[0] * (ab @ ab)]) / d
        centre = a + offset
        turn = np.arctan2(c[1] - centre[1], c[0] - centre[0]) - np.arctan2(a[1] - centre[1], a[0] - centre[0])
        sweep = float(turn % (2 * np.pi)) if cross > 0 else -float(-turn % (2 * np.pi))
    radius = float(np.hypot(*(a - centre)))
    count = 1 + arc_steps(radius, abs(sweep), tol)
    angles = np.arctan2(a[1] - centre[1], a[0] - centre[0]) + np.linspace(0.0, sweep, count)
    points: Coords = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    points[0], points[-1] = a, c
    return points


def arc_steps(radius: float, sweep: float, tol: float = ARC_TOL_MM) -> int:
    """How many chords stand for an arc of `radius` mm and `sweep` radians within `tol` mm."""
    if radius <= tol:
        return max(2, int(np.ceil(sweep / (np.pi / 4))))
    # arccos(1 - tol / radius), in a form that does not vanish for a nearly straight arc
    return max(2, int(np.ceil(sweep / (4 * np.arcsin(np.sqrt(tol / (2 * radius)))))))


def quad_segs(radius: float) -> int:
    """Chords per quarter circle so that a circle of `radius` mm is within `ARC_TOL_MM`, and its area true.

    n chords per quarter lose pi^2 / 24 n^2 of a disc: kept under 0.07 % or 0.0007 mm², whichever is reached first.
    """
    return max(4, arc_steps(radius, np.pi / 2), int(np.ceil(min(24.3, 43.0 * radius))))


def disc(at: Point, diameter: float) -> Polygon:
    """A filled circle."""
    return shapely.Point(at).buffer(diameter / 2, quad_segs=quad_segs(diameter / 2))


def stadium(at: Point, size: tuple[float, float], rotation: float = 0.0) -> Polygon:
    """A circle, or an oblong with round ends: `size` is (along, across) before rotation about `at`."""
    width, height = size
    half = abs(width - height) / 2
    radius = min(width, height) / 2
    if half < 1e-9:
        return disc(at, width)
    turn = np.radians(rotation if width > height else rotation + 90)
    dx, dy = half * np.cos(turn), half * np.sin(turn)
    line = shapely.LineString([(at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy)])
    return line.buffer(radius, quad_segs=quad_segs(radius))


def polygonal(shape: BaseGeometry) -> Area:
    """The parts of a geometry that have area, as Polygon or MultiPolygon."""
    if isinstance(shape, (Polygon, MultiPolygon)):
        return shape
    pieces = [p for p in shapely.get_parts(shape) if isinstance(p, (Polygon, MultiPolygon))]
    merged = shapely.union_all(pieces) if pieces else Polygon()
    return merged if isinstance(merged, (Polygon, MultiPolygon)) else Polygon()


def healed(ring: Polygon) -> BaseGeometry:
    """A ring that is joined to its holes by cuts as a valid polygon with holes.

    A buffer of nothing is many times faster than `make_valid`, but loses area where a ring crosses itself; the plain
    area of the ring tells.
    """
    healed = ring.buffer(0)
    return healed if abs(healed.area - ring.area) <= 1e-9 * ring.area else shapely.make_valid(ring)
