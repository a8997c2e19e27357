# SPDX-License-Identifier: MIT
"""What repeats in an array: a board as it lies, or two of them with one turned over to fit into the other."""

from __future__ import annotations

from typing import Any, Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.geometry import TOL_MM, Floats
from lineworthy.plans.panel_board import Pose, Unit
from lineworthy.plans.panel_plan import Cell
from lineworthy.shapes import Point

PAYS = 0.97
"""Pairs are looked at where they take less than this share of the room of two boards side by side."""

FULL = 0.9
"""Boards that fill more than this share of their rectangle have nothing to fit another into."""

_COARSE_MM = 0.2
"""Outlines are thinned by this before boards are pushed together; what comes out is measured with the true ones."""

_STEPS = 160
_HALVINGS = 24


def single(unit: Unit, quarters: int) -> Cell:
    """One board, turned by quarter turns."""
    return _cell(unit, (Pose(quarters),))


def pair(unit: Unit, quarters: int, apart: float) -> Optional[Cell]:
    """Two boards, the second turned by half a turn and pushed against the first up to `apart` mm.

    None where this saves nothing, as with rectangles.
    """
    alone = single(unit, quarters)
    whole = unit.occupied
    if whole.area > FULL * (alone.width + _sum(alone, 0)) * (alone.height + _sum(alone, 1)):
        return None
    first = Pose(quarters)
    shape = first.place(whole)
    other = Pose(quarters + 2)
    turned = other.place(whole)
    best: Optional[tuple[float, Point, int]] = None
    coarse = shape.simplify(_COARSE_MM), turned.simplify(_COARSE_MM)
    places = [(at, way) for way in (1, -1) for at in _pushed(*coarse, apart + 2 * _COARSE_MM, way)]
    for at, way in places:
        box = _both(shape, turned, at)
        room = round((box[2] - box[0] + apart) * (box[3] - box[1] + apart), 3)
        if best is None or room < best[0]:
            best = (room, at, way)
    two = 2 * (alone.width + _sum(alone, 0) + apart) * (alone.height + _sum(alone, 1) + apart)
    if best is None or best[0] > PAYS * two:
        return None
    x, y = _tightened(shape, turned, best, apart)
    return _cell(unit, (first, other.moved(x, y)))


def _sum(cell: Cell, axis: int) -> float:
    lower, right, upper, left = cell.beyond
    return right + left if axis == 0 else lower + upper


def _pushed(fixed: Polygon, moving: Polygon, apart: float, way: int) -> list[Point]:
    """Places of `moving` at which it has just come near `fixed`, for many heights: from the right, or (-1) the left."""
    xs, ys = (shapely.get_coordinates(fixed)[:, axis] for axis in (0, 1))
    us, vs = (shapely.get_coordinates(moving)[:, axis] for axis in (0, 1))
    heights = [*np.linspace(ys.min() - vs.max(), ys.max() - vs.min(), 48), ys.min() - vs.min(), ys.max() - vs.max()]
    if len(ys) * len(vs) <= 400:
        # where an edge of one comes level with an edge of the other
        level = (ys[:, None] - vs[None]).ravel()
        heights += [*level, *(level + apart), *(level - apart)]
    far, near = xs.max() - us.min() + 2 * apart, xs.min() - us.max() - 2 * apart
    found = []
    for height in np.unique(np.round(heights, 4)).tolist():
        grid = np.linspace(far, near, _STEPS)[::way]
        close = np.flatnonzero(_distances(fixed, moving, grid, height) < apart)
        if len(close) and close[0] > 0:
            found.append((float(grid[close[0] - 1]), height))
    return found


def _tightened(fixed: Any, moving: Any, best: tuple[float, Point, int], apart: float) -> Point:
    """The best place pushed further until the true outlines are `apart`, on a hundredth of a mm."""
    _, at, way = best
    free = taken = at[0]
    step = 0.5
    while float(_distances(fixed, moving, np.array([taken]), at[1])[0]) >= apart and step < 1e3:
        free, taken, step = taken, taken - way * step, step * 2
    while float(_distances(fixed, moving, np.array([free]), at[1])[0]) < apart - TOL_MM:
        taken, free = free, free + way * 0.25
    for _ in range(_HALVINGS):
        middle = (free + taken) / 2
        if float(_distances(fixed, moving, np.array([middle]), at[1])[0]) >= apart - TOL_MM:
            free = middle
        else:
            taken = middle
    return way * float(np.ceil(round(way * free * 100, 3)) / 100), at[1]


def _distances(fixed: Any, moving: Any, across: Floats, height: float) -> Floats:
    shapes = np.full(len(across), moving, dtype=object)
    shift = np.column_stack([across, np.full(len(across), height)])
    each = shapely.get_num_coordinates(shapes)
    moved = shapely.transform(shapes, lambda points: points + np.repeat(shift, each, axis=0))
    return np.asarray(shapely.distance(fixed, moved))


def _both(fixed: Any, moving: Any, at: Point) -> Floats:
    """The rectangle round two shapes, the second one moved."""
    one, other = _box(fixed), _box(moving) + np.array([*at, *at])
    return np.concatenate([np.minimum(one[:2], other[:2]), np.maximum(one[2:], other[2:])])


def _box(shape: Any) -> Floats:
    return np.asarray(shapely.bounds(shape))


def _cell(unit: Unit, poses: tuple[Pose, ...]) -> Cell:
    outlines = shapely.union_all([pose.place(unit.full) for pose in poses])
    taken = shapely.union_all([pose.place(unit.occupied) for pose in poses])
    left, low, right, high = _box(outlines)
    far_left, far_low, far_right, far_high = _box(taken)
    beyond = (low - far_low, far_right - right, far_high - high, left - far_left)
    return Cell(
        poses=tuple(pose.moved(float(-left), float(-low)) for pose in poses),
        width=round(float(right - left), 6),
        height=round(float(high - low), 6),
        beyond=tuple(round(float(by), 6) + 0.0 for by in beyond),  # type: ignore[arg-type]
    )
