# SPDX-License-Identifier: MIT
"""Measuring on the board: pure functions over shapely geometries, vectorised.

All lengths are mm. Functions take sequences of geometries and give numpy arrays that line up with them;
an empty sequence is a legal input and gives an empty array.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.model import Hole
from lineworthy.shapes import ARC_TOL_MM

TOL_MM = 1e-4
"""Lengths closer than this count as equal: a tenth of a micrometre, above floating-point noise and arc chords'
rounding, below anything a factory can hold. A value exactly on its limit passes."""

Indices = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]
Shapes = Union[Sequence[BaseGeometry], npt.NDArray[np.object_]]


def falls_short(measured: float, limit: float) -> bool:
    """True when `measured` is below `limit` by more than `TOL_MM`: the one place where equality is decided."""
    return measured < limit - TOL_MM


def exceeds(measured: float, limit: float) -> bool:
    """True when `measured` is above `limit` by more than `TOL_MM`."""
    return measured > limit + TOL_MM


def pairs_within(
    ours: Shapes, theirs: Optional[Shapes], reach: Union[float, Floats]
) -> tuple[Indices, Indices, Floats]:
    """All pairs of geometries nearer than or at `reach`, with their true distance.

    Args:
        ours: geometries; empty ones match nothing.
        theirs: the other geometries, or None for the pairs among `ours` (each once, i < j).
        reach: mm, one for all or one for each of `ours` (then `theirs` must be given).

    Returns:
        Indices into `ours`, indices into `theirs`, and distances in mm (0 where they touch or overlap);
        sorted by the two indices.
    """
    left = np.asarray(ours, dtype=object)
    right = left if theirs is None else np.asarray(theirs, dtype=object)
    if len(left) == 0 or len(right) == 0:
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, np.zeros(0)
    tree = shapely.STRtree(right)
    i, j = tree.query(left, predicate="dwithin", distance=reach + TOL_MM)
    if theirs is None:
        keep = i < j
        i, j = i[keep], j[keep]
    order = np.lexsort((j, i))
    i, j = i[order], j[order]
    return i, j, shapely.distance(left[i], right[j])


@dataclass(frozen=True)
class Edges:
    """The edges of polygons, ring after ring, each with its polygon on the right-hand side.

    Attributes:
        start, end: (n, 2) mm.
        owner: (n,) index of the polygon an edge belongs to.
        sweep: (n,) radians of the arc the edge is a chord of, 0 for a straight edge; positive where the arc bulges
            out of the polygon, negative where it bulges in.
    """

    start: Floats
    end: Floats
    owner: Indices
    sweep: Floats

    @property
    def length(self) -> Floats:
        """Length of each edge, mm."""
        return np.asarray(np.hypot(*(self.end - self.start).T))

    @property
    def sagitta(self) -> Floats:
        """How far the arc lies outside of its chord, mm; negative where it lies inside."""
        return np.asarray(self.length / 2 * np.tan(self.sweep / 4))

    @property
    def lines(self) -> npt.NDArray[np.object_]:
        """Each edge as a LineString."""
        return np.asarray(shapely.linestrings(np.stack([self.start, self.end], axis=1)))


def edges(shapes: Shapes) -> Edges:
    """All edges of some polygons, and which of them stand for arcs.

    Curves reach us as chords within `ARC_TOL_MM`. An edge is taken for such a chord when the next or the last edge is
    as long as it is, the bend between them is slight, and the arc through both stays within that tolerance.
    """
    polygons = shapely.normalize(np.asarray(shapes, dtype=object))  # puts the area on the right of every ring
    rings, owner = shapely.get_rings(polygons, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    steps = np.hypot(*(points[1:] - points[:-1]).T)
    kept = np.flatnonzero((ring[:-1] == ring[1:]) & (steps > 1e-9))  # points written twice are no edge
    start, end, ring = points[kept], points[kept + 1], ring[kept]
    count = len(kept)
    first = np.searchsorted(ring, ring, side="left")
    last = np.searchsorted(ring, ring, side="right") - 1
    index = np.arange(count)
    after = np.where(index == last, first, index + 1)
    before = np.where(index == first, last, index - 1)
    step = end - start
    length = np.hypot(step[:, 0], step[:, 1])
    following = step[after]
    cross = step[:, 0] * following[:, 1] - step[:, 1] * following[:, 0]
    bend = -np.arctan2(cross, (step * following).sum(axis=1))
    alike = np.abs(length - length[after]) <= 0.01 * length
    slight = (np.abs(bend) > 1e-3) & (np.abs(bend) < np.pi / 4 + 1e-6)
    flat = length / 2 * np.tan(np.abs(bend) / 4) <= 1.01 * ARC_TOL_MM
    arc = np.where(alike & slight & flat, bend, 0.0)
    sweep = np.where(arc != 0.0, arc, arc[before])
    return Edges(start, end, np.asarray(owner)[ring], sweep)


def true_sizes(shapes: Shapes) -> tuple[Floats, Floats]:
    """Area (mm2) and length of the outline (mm) of polygons, with curves counted as arcs and not as their chords."""
    around = edges(shapes)
    curved = np.flatnonzero(around.sweep)
    sweep, chord, owner = around.sweep[curved], around.length[curved], around.owner[curved]
    radius = chord / (2 * np.sin(np.abs(sweep) / 2))
    caps = np.sign(sweep) * radius**2 / 2 * (np.abs(sweep) - np.sin(np.abs(sweep)))
    longer = radius * np.abs(sweep) - chord
    count = len(shapes)
    polygons = np.asarray(shapes, dtype=object)
    areas = shapely.area(polygons) + np.bincount(owner, caps, count)
    return areas, shapely.length(polygons) + np.bincount(owner, longer, count)


def objects(items: Iterable[object]) -> npt.NDArray[np.object_]:
    """Things as an array of as many elements, which numpy might otherwise take apart or make one of."""
    found = list(items)
    made = np.empty(len(found), dtype=object)
    made[:] = found
    return made


def first_points(shapes: npt.NDArray[np.object_]) -> Floats:
    """The first point of each geometry, (n, 2); none may be empty."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    return np.asarray(points[np.searchsorted(owner, np.arange(len(shapes)))])


def width_and_length(shape: BaseGeometry) -> tuple[float, float]:
    """Sides of the smallest rectangle, turned as it fits, round a shape: the shorter one first, mm."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    if len(corners) < 4:
        return 0.0, float(shapely.length(shape))
    sides = np.hypot(*(corners[1:3] - corners[:2]).T)
    return float(sides.min()), float(sides.max())


def spine(hole: Hole) -> BaseGeometry:
    """The way the middle of the drill goes: a point for a round hole, a line for a slot."""
    half = (max(hole.size) - min(hole.size)) / 2
    if half < 1e-9:
        return shapely.Point(hole.at)
    turn = np.radians(hole.rotation if hole.size[0] > hole.size[1] else hole.rotation + 90)
    dx, dy = half * np.cos(turn), half * np.sin(turn)
    return shapely.LineString([(hole.at[0] - dx, hole.at[1] - dy), (hole.at[0] + dx, hole.at[1] + dy)])


def depth(inner: BaseGeometry, area: Polygon) -> float:
    """How deep a point or line lies inside a polygon: its distance to the outline, mm, arcs taken as arcs.

    Negative, by the distance it sticks out, when not all of it is inside.
    """
    if not area.covers(inner):
        return -float(shapely.distance(shapely.points(shapely.get_coordinates(inner)), area).max())
    around = edges([area])
    ways = shapely.shortest_line(inner, around.lines)
    reached = shapely.get_coordinates(ways)[1::2]
    # beyond the point reached on a chord, the arc lies higher: by its sagitta in the middle, by nothing at the ends
    half, sweep = around.length / 2, np.abs(around.sweep)
    radius = np.where(sweep > 0.0, half / np.sin(np.where(sweep > 0.0, sweep, 1.0) / 2), half)
    off = np.hypot(*(reached - (around.start + around.end) / 2).T)
    rise = np.sqrt(np.maximum(radius**2 - off**2, 0.0)) - np.sqrt(np.maximum(radius**2 - half**2, 0.0))
    return float((shapely.length(ways) + np.sign(around.sweep) * rise).min())


_PIECE_POINTS = 400


def thinned(paths: Sequence[Floats], tolerance: float) -> list[Floats]:
    """Paths, (n, 2) each with n > 1, with fewer points; what is left is within `tolerance` mm of what was.

    Long paths are cut into pieces first, because the library's thinning goes one call deeper for each point it keeps
    and a ragged pour of a hundred thousand points would end the process.
    """
    pieces: list[Floats] = []
    is_last: list[bool] = []
    for path in paths:
        starts = range(0, max(len(path) - 1, 1), _PIECE_POINTS)
        pieces += [path[start : start + _PIECE_POINTS + 1] for start in starts]
        is_last += [False] * (len(starts) - 1) + [True]
    if not pieces:
        return []
    index = np.repeat(np.arange(len(pieces)), [len(piece) for piece in pieces])
    lines = shapely.linestrings(np.vstack(pieces), indices=index)
    lines = shapely.simplify(lines, tolerance, preserve_topology=False)
    points, index = shapely.get_coordinates(lines, return_index=True)
    # pieces of one path share a point: keep it once
    ends = np.diff(index, append=-1) != 0
    path_ends = ends & np.array(is_last)[index]
    keep = ~ends | path_ends
    return np.split(points[keep], np.flatnonzero(path_ends[keep])[:-1] + 1)
