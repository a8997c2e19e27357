# SPDX-License-Identifier: MIT
"""A panel that is drawn in the document, taken apart along its scores and tabs: boards, rails, what is left over."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, edges
from lineworthy.knowledge.breaks import ON_LINE_MM, BoardSide
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.panelsigns import BiteRow, extended
from lineworthy.knowledge.separation import Separation
from lineworthy.model import Board, Part
from lineworthy.shapes import Point

_CUT_MM = 2e-5
"""Width of the cuts that part the pieces here: far below what counts as a length."""

_SLIVER_MM2 = 1.0
"""Pieces smaller than this are what a cut leaves of rounding, not something that falls off."""

_BEYOND_MM = 1.0
"""Scores and rows of holes end a little before the edge that they break to."""

_RUN_MM = 5.0
"""Edges shorter than this are stubs of tabs and ends of slots."""

_RAIL_SHARE = 0.3
"""Slots and scores that run beside an edge of the panel for at least this much of it part a rail from the boards."""

_AT_TAB_MM = 0.5
"""A row of holes this near to a board holds it."""

_RECTANGLE = 0.95
"""A board that fills this share of its rectangle has four sides that can be told apart."""


@dataclass(frozen=True, eq=False)
class PanelPiece:
    """What falls apart when the panel is parted: an area, and the parts that are soldered on it."""

    area: Polygon
    parts: tuple[Part, ...] = field(repr=False)


@dataclass(frozen=True, eq=False)
class Rail:
    """A strip without parts along one side of the panel: its area, and its width up to the first slot or score, mm."""

    area: Polygon = field(repr=False)
    width: float


@dataclass(frozen=True, eq=False)
class HeldSide:
    """One side of a rectangular board that hangs by tabs.

    Attributes:
        corner: where it begins.
        way: (2,) of length 1, from there along the side.
        length: mm.
        tabs: middles of its tabs, mm from the corner, in order.
    """

    corner: Floats
    way: Floats
    length: float
    tabs: tuple[float, ...]

    def at(self, along: float) -> Point:
        """A place of the side, by its way from the corner, mm."""
        x, y = (self.corner + self.way * along).tolist()
        return (x, y)


class DrawnPanel:
    """The pieces of a panel; all lists are empty when no drawn line parts it."""

    def __init__(self, board: Board, packages: Packages, separation: Separation) -> None:
        self._board = board
        self._packages = packages
        self._separation = separation

    @cached_property
    def pieces(self) -> tuple[PanelPiece, ...]:
        """All of them, from left to right and from the bottom up."""
        separation = self._separation
        cuts: list[BaseGeometry] = [extended(line, _BEYOND_MM) for line in separation.scores]
        cuts += [extended(row.line, max(_BEYOND_MM, 2 * row.pitch)) for row in separation.tabs]
        if not cuts:
            return ()
        left = self._board.outline.area.difference(shapely.union_all(cuts).buffer(_CUT_MM / 2, cap_style="flat"))
        areas = [piece for piece in shapely.get_parts(left) if piece.area >= _SLIVER_MM2]
        if len(areas) < 2:
            return ()
        areas.sort(key=lambda piece: (round(piece.bounds[0], 3), round(piece.bounds[1], 3)))
        on = self._parts_on(areas)
        return tuple(PanelPiece(area, tuple(parts)) for area, parts in zip(areas, on))

    @cached_property
    def boards(self) -> tuple[PanelPiece, ...]:
        """The pieces that carry parts."""
        return tuple(piece for piece in self.pieces if piece.parts)

    @cached_property
    def rails(self) -> tuple[Rail, ...]:
        """The strips that slots or scores part from the boards; none at a side where parts stand in the strip."""
        if not self.pieces:
            return ()
        spots = shapely.MultiPoint([pad.at for part in self._soldered for pad in part.pads])
        found = []
        for side in self._separation.sides:
            width = self._first_line(side)
            if width is not None:
                inward = width * np.subtract(side.start, side.end)[::-1] * (1, -1) / side.length
                near, far = (side.start, side.end), (np.add(side.end, inward), np.add(side.start, inward))
                strip = Polygon([*near, *far])
                # lands on the line itself, half holes, belong to the board
                if not strip.buffer(-ON_LINE_MM, join_style="mitre").intersects(spots):
                    found.append(Rail(strip, width))
        return tuple(found)

    def _first_line(self, side: BoardSide) -> Optional[float]:
        """How far inside of a side the first slot or score runs along it, mm; None when none does."""
        way = np.subtract(side.end, side.start) / side.length
        rim = edges(shapely.get_parts(self._board.outline.area.simplify(TOL_MM)))
        step = rim.end - rim.start
        # the board lies on the right of an edge: what runs as the side does has the board towards the side
        runs = (step @ way >= 0.99 * rim.length) & (rim.length >= _RUN_MM)
        starts, lengths = [*rim.start[runs]], [*rim.length[runs]]
        for score in self._separation.scores:
            first, last = shapely.get_coordinates(score)[[0, -1]]
            if abs((last - first) @ way) >= 0.99 * score.length:
                starts.append(first)
                lengths.append(score.length)
        depths = [float((start - side.start) @ (-way[1], way[0])) for start in starts]
        for depth in sorted(depth for depth in depths if depth > ON_LINE_MM):
            along = sum(length for other, length in zip(depths, lengths) if abs(other - depth) <= ON_LINE_MM)
            if along >= _RAIL_SHARE * side.length:
                return depth
        return None

    def holding(self, piece: PanelPiece) -> list[BiteRow]:
        """The rows of break-away holes along which a piece hangs on the panel."""
        return [row for row in self._separation.tabs if row.line.distance(piece.area) < _AT_TAB_MM]

    def held_sides(self, piece: PanelPiece) -> list[HeldSide]:
        """The sides of a board that tabs hold; none where it is no rectangle."""
        box = shapely.oriented_envelope(piece.area)
        if piece.area.area < _RECTANGLE * box.area:
            return []
        middles = [np.asarray(row.line.centroid.coords[0]) for row in self.holding(piece)]
        corners = shapely.get_coordinates(box)
        found = []
        for corner, step in zip(corners[:-1], np.diff(corners, axis=0)):
            length = float(np.hypot(*step))
            way = step / length
            offs = [middle - corner for middle in middles]
            # a row lies on the side, or a little to either hand of it
            tabs = sorted(float(off @ way) for off in offs if abs(off[0] * way[1] - off[1] * way[0]) <= _BEYOND_MM)
            if tabs:
                found.append(HeldSide(corner, way, length, tuple(tabs)))
        return found

    @cached_property
    def _soldered(self) -> list[Part]:
        loose = (Family.MECHANICAL, Family.COVER)
        return [part for part in self._board.parts if part.pads and self._packages.of(part).family not in loose]

    def _parts_on(self, areas: list[Polygon]) -> list[list[Part]]:
        """The parts of each piece, by where their pads are: bodies may reach over onto the next."""
        on: list[list[Part]] = [[] for _ in areas]
        spots = [shapely.MultiPoint([pad.at for pad in part.pads]).centroid for part in self._soldered]
        if spots:
            tree = shapely.STRtree(np.asarray(areas, dtype=object))
            for n, k in zip(*tree.query(np.asarray(spots, dtype=object), predicate="intersects")):
                on[k].append(self._soldered[n])
        return on
