# SPDX-License-Identifier: MIT
"""Whether an upright rectangle finds a free place on a side of the board: for a label, for the fabricator's marks.

Exact: the middle of a rectangle can be wherever no obstacle, widened by the rectangle, lies. Widened by a rectangle a
convex shape is the hull of its corners moved to the rectangle's corners; other shapes are taken edge by edge.
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
from lineworthy.knowledge.legible import Legible, ink, is_covered
from lineworthy.model import Board, LayerKind, Side
from lineworthy.shapes import ARC_TOL_MM, Point

TILE_MM = 12.0
"""The board is gone through in squares of this size, so that mostly a few things have to be looked at."""

CONVEX_MIN = 0.98
"""Share of its hull from which a shape counts as convex: a circle of chords, letters, a rounded land."""

FIELD_MIN_MM = 3.0
"""A filled box of legend this wide is there to be written or stuck on; smaller ones mark a pin or a cathode."""


class Rooms:
    """The places of one side that hold nothing: no opening, hole, print, part or courtyard, and no edge."""

    def __init__(self, board: Board, legible: Legible, side: Side) -> None:
        self._board, self._legible, self._side = board, legible, side

    def place(self, width: float, height: float) -> Optional[Point]:
        """The middle of a free rectangle of a size, lying or standing; None when there is none."""
        for across, up in ((width, height), (height, width)):
            found = self._upright(across, up)
            if found is not None:
                return found
        return None

    def _upright(self, width: float, height: float) -> Optional[Point]:
        # a rectangle that just fits leaves its middle a point, which no difference of areas would show
        half = np.array([width, height]) / 2 - TOL_MM
        offsets = half * np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]])
        for tile in self._tiles:
            low_x, low_y, high_x, high_y = tile.bounds
            reach = shapely.box(low_x - half[0], low_y - half[1], high_x + half[0], high_y + half[1])
            near = self._tree.query(reach)
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
    def _pieces(self) -> npt.NDArray[np.object_]:
        pieces = shapely.get_parts(objects(_taken(self._board, self._legible, self._side)))
        pieces = shapely.simplify(pieces, ARC_TOL_MM)  # fewer chords, corners stay
        return np.asarray(pieces[shapely.area(pieces) > 0.0])

    @cached_property
    def _are_convex(self) -> npt.NDArray[np.bool_]:
        hulls = shapely.convex_hull(self._pieces)
        return np.asarray(shapely.area(self._pieces) >= CONVEX_MIN * shapely.area(hulls))

    @cached_property
    def _hollow(self) -> npt.NDArray[np.object_]:
        """Shapes of which only the edges are widened."""
        return self._pieces[~self._are_convex]

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
        return np.concatenate([self._pieces[self._are_convex], edges])

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
    yield from _drawn(board, side)


def _drawn(board: Board, side: Side) -> Iterator[BaseGeometry]:
    for marking in board.shown_markings:
        if marking.layer.side is side and marking.layer.is_made and marking.text:
            yield ink(marking)
    for graphic in board.graphics:
        on_it = graphic.layer.side is side and graphic.layer.kind in (LayerKind.LEGEND, LayerKind.MASK)
        if on_it and not _is_field(graphic.shape):
            yield graphic.shape


def _is_field(shape: BaseGeometry) -> bool:
    """A filled box of legend is where a label or a serial number goes."""
    low_x, low_y, high_x, high_y = shape.bounds
    width, height = high_x - low_x, high_y - low_y
    return bool(min(width, height) >= FIELD_MIN_MM and shape.area >= CONVEX_MIN * width * height)
