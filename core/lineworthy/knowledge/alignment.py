# SPDX-License-Identifier: MIT
"""What a set of marks can tell a machine: how far it spans, and whether a turned or flipped board shows the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import Enum
from functools import partial
from itertools import combinations
from typing import Callable, Optional

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import falls_short
from lineworthy.model import Board
from lineworthy.shapes import Point

SAME_OUTLINE = 0.05
"""Outlines that differ by no more than this share of their area look the same to whoever feeds the line, notches and
all (common practice, no source)."""


class Turn(Enum):
    """Ways to put a board in wrongly, in plain words."""

    HALF = "half a turn"
    QUARTER = "a quarter turn"
    OVER = "turning the board over"


def diagonal(board: Board) -> float:
    """Of the box round the board, mm."""
    low_x, low_y, high_x, high_y = board.outline.area.bounds
    return float(np.hypot(high_x - low_x, high_y - low_y))


def longest(marks: Sequence[Point]) -> float:
    """Distance of the two marks that are farthest apart, mm; 0 for fewer than two."""
    return max((float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in combinations(marks, 2)), default=0.0)


def spans(board: Board, marks: Sequence[Point], share: float) -> bool:
    """Whether the farthest two marks are apart by at least a share of the board's diagonal; no outline, no doubt."""
    return board.outline.area.is_empty or not falls_short(longest(marks), share * diagonal(board))


def nearest(marks: Sequence[Point]) -> float:
    """Distance of the two marks that are nearest to each other, mm; infinite for fewer than two."""
    return min((float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in combinations(marks, 2)), default=np.inf)


def width(marks: Sequence[Point]) -> float:
    """How far marks stray from one line, mm: the height of the flattest strip that holds them all."""
    if len(marks) < 3:
        return 0.0
    hull = shapely.convex_hull(shapely.MultiPoint([tuple(mark) for mark in marks]))
    if not isinstance(hull, shapely.Polygon):
        return 0.0
    points = np.array(hull.exterior.coords)
    starts, steps = points[:-1], np.diff(points, axis=0)
    normals = np.stack([-steps[:, 1], steps[:, 0]], axis=1) / np.hypot(*steps.T)[:, None]
    heights = np.abs(((points[None] - starts[:, None]) * normals[:, None]).sum(axis=2)).max(axis=1)
    return float(heights.min())


def difference(marks: Sequence[Point], others: Sequence[Point]) -> float:
    """How far two sets are from being the same: the longest way from a mark of one to the next of the other, mm."""
    if len(marks) != len(others) or not marks:
        return np.inf
    gaps = np.array([[np.hypot(x - u, y - v) for u, v in others] for x, y in marks])
    return float(max(gaps.min(axis=1).max(), gaps.min(axis=0).max()))


def turned_difference(board: Board, marks: Sequence[Point]) -> Optional[tuple[float, Turn]]:
    """How different the marks look on a board that was put in turned, by the turn where they look most alike.

    Only turns that leave the outline the same count; None where there are none, or fewer than two marks.
    """
    if len(marks) < 2 or board.outline.area.is_empty:
        return None
    centre = _centre(board)
    found = [(difference(marks, _rotated(marks, centre, quarters)), turn) for quarters, turn in _turns(board)]
    return min(found, key=lambda pair: round(pair[0], 6)) if found else None


def flipped_difference(board: Board, marks: Sequence[Point], others: Sequence[Point]) -> Optional[float]:
    """How different the marks of one side are from those of the other when the board is put in upside down.

    None where the outline shows which side is up, or where there are fewer than two marks.
    """
    if len(marks) < 2 or len(marks) != len(others) or not _fits(board, partial(affinity.scale, xfact=-1.0)):
        return None
    centre = _centre(board)
    over = [(2 * centre[0] - x, y) for x, y in others]
    ways = [over, *(_rotated(over, centre, quarters) for quarters, _ in _turns(board))]
    return min(difference(marks, way) for way in ways)


def _turns(board: Board) -> Iterator[tuple[int, Turn]]:
    for quarters, turn in ((2, Turn.HALF), (1, Turn.QUARTER), (3, Turn.QUARTER)):
        if _fits(board, partial(affinity.rotate, angle=90 * quarters)):
            yield quarters, turn


def _fits(board: Board, move: Callable[[BaseGeometry], BaseGeometry]) -> bool:
    """Whether the outline, moved, covers what it covers now; cut-outs do not count, no stopper feels them."""
    area = shapely.union_all(shapely.polygons(shapely.get_exterior_ring(shapely.get_parts(board.outline.area))))
    if area.is_empty:
        return False
    moved = move(area)
    low, there = moved.envelope.centroid, area.envelope.centroid
    moved = affinity.translate(moved, there.x - low.x, there.y - low.y)
    return bool(area.symmetric_difference(moved).area <= SAME_OUTLINE * area.area)


def _centre(board: Board) -> Point:
    centre = board.outline.area.envelope.centroid
    return (float(centre.x), float(centre.y))


def _rotated(marks: Sequence[Point], centre: Point, quarters: int) -> list[Point]:
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarters % 4]
    cx, cy = centre
    return [(cx + cos * (x - cx) - sin * (y - cy), cy + sin * (x - cx) + cos * (y - cy)) for x, y in marks]
