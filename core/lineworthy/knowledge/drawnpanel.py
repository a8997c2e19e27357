# SPDX-License-Identifier: MIT
"""A panel that is drawn in the document, taken apart along its scores and tabs: boards, rails, what is left over."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, edges, width_and_length
from lineworthy.knowledge.breaks import ON_LINE_MM
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.panelsigns import BiteRow, extended
from lineworthy.knowledge.separation import Separation
from lineworthy.model import Board, Part

_CUT_MM = 2e-5
"""Width of the cuts that part the pieces here: far below what counts as a length."""

_SLIVER_MM2 = 1.0
"""Pieces smaller than this are what a cut leaves of rounding, not something that falls off."""

_BEYOND_MM = 1.0
"""Scores and rows of holes end a little before the edge that they break to."""

_RAIL_SHARE = 0.5
"""A strip without parts along at least this much of the panel is a rail."""

_RUN_MM = 5.0
"""Edges of a rail shorter than this are stubs of tabs and ends of slots."""

_AT_TAB_MM = 0.5
"""A row of holes this near to a board holds it."""


@dataclass(frozen=True, eq=False)
class PanelPiece:
    """What falls apart when the panel is parted: an area, and the parts that are soldered on it."""

    area: Polygon
    parts: tuple[Part, ...] = field(repr=False)

    @property
    def length(self) -> float:
        """The longer side of the smallest rectangle round it, mm."""
        return width_and_length(self.area)[1]


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
    def rails(self) -> tuple[PanelPiece, ...]:
        """Strips without parts along an edge of the panel."""
        if self._separation.size is None:
            return ()
        shorter = self._separation.size[0]
        edge = self._board.outline.area.convex_hull.boundary
        return tuple(
            piece
            for piece in self.pieces
            if not piece.parts and piece.length >= _RAIL_SHARE * shorter and piece.area.distance(edge) < TOL_MM
        )

    def rail_width(self, rail: PanelPiece) -> float:
        """From the panel's outer edge to the nearest slot or score along a rail, mm; the stubs of tabs do not count."""
        rim = edges([rail.area.simplify(TOL_MM)])
        corners = shapely.get_coordinates(shapely.oriented_envelope(rail.area))
        steps = np.diff(corners[:3], axis=0)
        along = steps[np.argmax(np.hypot(*steps.T))] / rail.length
        across = np.array([-along[1], along[0]])
        runs = (np.abs((rim.end - rim.start) @ along) >= 0.99 * rim.length) & (rim.length >= _RUN_MM)
        if not runs.any():
            return width_and_length(rail.area)[0]
        lies = rim.start[runs] @ across
        panel = shapely.get_coordinates(self._board.outline.area) @ across
        is_low = lies.mean() < (panel.min() + panel.max()) / 2
        far = lies - panel.min() if is_low else panel.max() - lies
        inner = far[far > ON_LINE_MM]
        return float(inner.min()) if len(inner) else width_and_length(rail.area)[0]

    def holding(self, piece: PanelPiece) -> list[BiteRow]:
        """The rows of break-away holes along which a piece hangs on the panel."""
        return [row for row in self._separation.tabs if row.line.distance(piece.area) < _AT_TAB_MM]

    def _parts_on(self, areas: list[Polygon]) -> list[list[Part]]:
        soldered = [
            part
            for part in self._board.parts
            if part.pads and self._packages.of(part).family not in (Family.MECHANICAL, Family.COVER)
        ]
        on: list[list[Part]] = [[] for _ in areas]
        spots = np.asarray([self._packages.of(part).body.centroid for part in soldered], dtype=object)
        if len(spots):
            for n, k in zip(*shapely.STRtree(np.asarray(areas, dtype=object)).query(spots, predicate="intersects")):
                on[k].append(soldered[n])
        return on
