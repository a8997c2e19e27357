# SPDX-License-Identifier: MIT
"""Whether an upright rectangle finds a free place on a side of the board: for a label, for the fabricator's marks.

Exact: the middle of a rectangle can be wherever no obstacle, widened by the rectangle, lies. Widened by a rectangle a
convex shape is the hull of its corners moved to the rectangle's corners; other shapes are taken edge by edge. A raster
of points tells beforehand where every rectangle would cover a taken one, so that little is left to do exactly.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, objects
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.legible import Legible, is_covered
from lineworthy.model import Board, LayerKind, Side
from lineworthy.shapes import ARC_TOL_MM, Point

_Floats = npt.NDArray[np.float64]

TILE_MM = 12.0
"""The board is gone through in squares of this size, so that mostly a few things have to be looked at."""

RASTER_MM = 0.7
"""Between the points of the raster."""

SIGHTS = 400
"""So many places are tried as the raster shows them, before the board is gone through exactly."""

CONVEX_MIN = 0.98
"""Share of its hull from which a shape counts as convex: a circle of chords, letters, a rounded land."""

FIELD_MIN_MM = 3.0
"""A filled box of legend this wide is there to be written or stuck on; smaller ones mark a pin or a cathode."""


class _Raster:
    """Points over the board, RASTER_MM apart, of which some lie in an obstacle or off the board.

    Attributes:
        corner: the first of them, in mm.
    """

    def __init__(self, outline: BaseGeometry, obstacles: npt.NDArray[np.object_]) -> None:
        low_x, low_y, high_x, high_y = outline.bounds
        x, y = np.meshgrid(np.arange(low_x, high_x, RASTER_MM), np.arange(low_y, high_y, RASTER_MM))
        taken = ~shapely.contains_xy(outline, x.ravel(), y.ravel())
        points = shapely.STRtree(shapely.points(x.ravel(), y.ravel()))
        taken[points.query(obstacles, predicate="intersects")[1]] = True
        self.corner = np.array([low_x, low_y])
        self._sums = taken.reshape(x.shape).cumsum(axis=0).cumsum(axis=1)

    def free(self, block: npt.NDArray[np.int_]) -> npt.NDArray[np.bool_]:
        """For each point (rows, columns): is it the lower left one of a block of free points?

        Args:
            block: columns and rows of the block; one of none is free everywhere.
        """
        columns, rows = block
        if not columns or not rows:
            return np.ones(self._sums.shape, dtype=bool)
        sums = np.pad(self._sums, ((1, rows), (1, columns)), mode="edge")
        sums[0], sums[:, 0] = 0, 0
        held = sums[rows:, columns:] - sums[:-rows, columns:] - sums[rows:, :-columns] + sums[:-rows, :-columns]
        return np.asarray(held == 0)


class Rooms:
    """The places of one side that hold nothing: no opening, hole, print, part or courtyard, and no edge."""

    def __init__(self, board: Board, legible: Legible, side: Side) -> None:
        self._board, self._legible, self._side = board, legible, side

    def place(self, width: float, height: float) -> Optional[Point]:
        """The middle of a free rectangle of a size, lying or standing; None when there is none."""
        for look in (self._at_sight, self._upright):
            for size in ((width, height), (height, width)):
                found = look(np.array(size))
                if found is not None:
                    return found
        return None

    def _at_sight(self, size: _Floats) -> Optional[Point]:
        """A place between free points of the raster, if one of the first some holds."""
        rows, columns = np.nonzero(self._raster.free(np.ceil(size / RASTER_MM).astype(int) + 1))
        some = slice(None, None, 1 + len(rows) // SIGHTS)
        low = self._raster.corner + RASTER_MM * np.stack([columns, rows], axis=1)[some]
        boxes = shapely.box(*low.T, *(low + size).T)
        held = shapely.contains_properly(self._outline, boxes)
        held[self._tree_of_pieces.query(boxes, predicate="intersects")[0]] = False
        if not held.any():
            return None
        x, y = low[np.argmax(held)] + size / 2
        return (float(x), float(y))

    def _upright(self, size: _Floats) -> Optional[Point]:
        # a rectangle that just fits leaves its middle a point, which no difference of areas would show
        half = size / 2 - TOL_MM
        offsets = half * np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]])
        hopeful = self._raster.free(np.floor(2 * half / RASTER_MM).astype(int))
        for tile in self._tiles:
            low, high = np.array(tile.bounds).reshape(2, 2)
            first, last = ((corner - half - self._raster.corner) / RASTER_MM for corner in (low, high))
            (left, bottom), (right, top) = np.floor(first).astype(int).clip(0), np.ceil(last).astype(int) + 1
            if not hopeful[bottom:top, left:right].any():
                continue
            near = self._tree.query(shapely.box(*(low - half), *(high + half)))
            points, owner = shapely.get_coordinates(self._convex[near], return_index=True)
            corners = (points[:, None, :] + offsets).reshape(-1, 2)
            wide = shapely.convex_hull(shapely.multipoints(corners, indices=np.repeat(owner, 4)))
            whole = self._hollow[self._hollow_tree.query(tile)]
            free = tile.difference(shapely.union_all([*wide, *whole]))
            if free.area > 0.0:
                spot = free.representative_point()
                return (float(spot.x), float(spot.y))
        return None

    @cached_property
    def _outline(self) -> BaseGeometry:
        area = self._board.outline.area
        shapely.prepare(area)
        return area

    @cached_property
    def _raster(self) -> _Raster:
        return _Raster(self._outline, self._pieces)

    @cached_property
    def _pieces(self) -> npt.NDArray[np.object_]:
        pieces = shapely.get_parts(objects(_taken(self._board, self._legible, self._side)))
        return np.asarray(pieces[shapely.area(pieces) > 0.0])

    @cached_property
    def _tree_of_pieces(self) -> shapely.STRtree:
        return shapely.STRtree(self._pieces)

    @cached_property
    def _parted(self) -> tuple[npt.NDArray[np.object_], npt.NDArray[np.object_]]:
        """The pieces that are convex, and those that are not."""
        pieces = shapely.simplify(self._pieces, ARC_TOL_MM)  # fewer chords, corners stay
        convex = shapely.area(pieces) >= CONVEX_MIN * shapely.area(shapely.convex_hull(pieces))
        return pieces[convex], pieces[~convex]

    @property
    def _hollow(self) -> npt.NDArray[np.object_]:
        """Shapes of which only the edges are widened."""
        return self._parted[1]

    @cached_property
    def _hollow_tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._hollow)

    @cached_property
    def _convex(self) -> npt.NDArray[np.object_]:
        """Everything in the way as convex shapes and straight edges, those of the board among them."""
        rings = shapely.get_rings(objects([*self._hollow, *shapely.get_parts(self._board.outline.area)]))
        ends, ring = shapely.get_coordinates(rings, return_index=True)
        first = np.flatnonzero(ring[:-1] == ring[1:])
        edges = shapely.linestrings(np.stack([ends[first], ends[first + 1]], axis=1))
        return np.concatenate([self._parted[0], edges])

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._convex)

    @cached_property
    def _tiles(self) -> list[BaseGeometry]:
        area = self._board.outline.area
        low_x, low_y, high_x, high_y = area.bounds
        columns, rows = np.arange(low_x, high_x, TILE_MM), np.arange(low_y, high_y, TILE_MM)
        boxes = shapely.box(*(v.ravel() for v in np.meshgrid(columns, rows)), *_ends(columns, rows))
        cut = shapely.intersection(boxes, area)
        return [tile for tile in cut if not tile.is_empty]


def _ends(columns: npt.NDArray[np.float64], rows: npt.NDArray[np.float64]) -> list[npt.NDArray[np.float64]]:
    return [v.ravel() + TILE_MM for v in np.meshgrid(columns, rows)]


def _taken(board: Board, legible: Legible, side: Side) -> Iterator[BaseGeometry]:
    """What a label must not cover, or could not lie flat on."""
    for _, pad in board.pads:
        if side in pad.mask:
            yield pad.mask[side]
        if pad.hole is not None and not is_covered(pad, side):
            yield pad.hole.shape
    for via in board.vias:
        if side not in via.tented and board.copper_on(side) in spanned(board, via):
            yield shapely.Point(via.at).buffer(via.diameter / 2, quad_segs=4)
    for part in board.parts:
        if part.side is side and part.fitted:
            yield legible.body(part)
        if side in part.courtyard:
            yield part.courtyard[side]
    yield from _drawn(board, legible, side)


def _drawn(board: Board, legible: Legible, side: Side) -> Iterator[BaseGeometry]:
    for marking in board.shown_markings:
        if marking.layer.side is side and marking.layer.is_made and marking.text:
            yield legible.ink(marking)
    for graphic in board.graphics:
        on_it = graphic.layer.side is side and graphic.layer.kind in (LayerKind.LEGEND, LayerKind.MASK)
        if on_it and not _is_field(graphic.shape):
            yield graphic.shape


def _is_field(shape: BaseGeometry) -> bool:
    """A filled box of legend is where a label or a serial number goes."""
    low_x, low_y, high_x, high_y = shape.bounds
    width, height = high_x - low_x, high_y - low_y
    return bool(min(width, height) >= FIELD_MIN_MM and shape.area >= CONVEX_MIN * width * height)
