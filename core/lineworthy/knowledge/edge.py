# SPDX-License-Identifier: MIT
"""Copper against the board edge: what comes near it, what is meant to, what lies beyond it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from lineworthy.geometry import TOL_MM, Edges, edges, pairs_within
from lineworthy.knowledge.copper import Piece, pieces
from lineworthy.model import Board, Pad, PadKind, PadRole, Part
from lineworthy.shapes import ARC_TOL_MM, Point

FLUSH_MM = 0.1
"""Lands that end this near to the edge in a row are drawn to it: fingers, edge-mounted connectors."""

FLUSH_MM2 = 1e-3
"""Copper beyond the edge up to this much is rounding, not a land that sticks out."""


@dataclass(frozen=True, eq=False)
class Near:
    """Copper nearer to the edge than it should be: the gap (0 when it touches or crosses the edge), and where."""

    piece: Piece
    gap: float
    at: Point
    outer: bool

    @property
    def land(self) -> tuple[Part, Pad]:
        """The part and pad, for a piece that is a pad."""
        assert isinstance(self.piece.item, tuple)
        return self.piece.item


class EdgeCopper:
    """All copper of a board with a closed outline, measured against its edges and cut-outs."""

    def __init__(self, board: Board, outer: float, inner: float) -> None:
        """`outer` and `inner` are the distances in mm that copper on outer and inner layers should keep."""
        self._board = board
        self._pieces = [piece for piece in pieces(board) if not piece.shape.is_empty and not self._is_meant(piece)]
        self._shapes = np.array([piece.shape for piece in self._pieces], dtype=object)
        self._outer = np.array([board.side_of(piece.layer) is not None for piece in self._pieces], dtype=bool)
        self._need = np.where(self._outer, outer, inner)
        self._half = np.array([piece.half for piece in self._pieces])
        self._rim: Edges = edges(shapely.get_parts(board.outline.area))
        self._i, self._j, distance = pairs_within(self._shapes, self._rim.lines, self._need + self._half)
        self._gap = np.maximum(distance - self._half[self._i], 0.0)

    @cached_property
    def cut_pads(self) -> frozenset[int]:
        """Identities of the pads whose plated hole the edge cuts in two: castellations, declared or not."""
        drilled = [pad for _, pad in self._board.pads if pad.hole is not None and pad.hole.plated]
        holes = np.array([pad.hole.shape for pad in drilled if pad.hole is not None], dtype=object)
        crossed = shapely.STRtree(holes).query(self._board.outline.edge, predicate="intersects") if len(holes) else ()
        return frozenset(id(drilled[n]) for n in crossed)

    @cached_property
    def near(self) -> list[Near]:
        """Copper that comes too near, each item once, at the place where it is worst."""
        found, rim = self._pieces, self._rim
        # an edge that bulges out of its chord is further away than the chord; a pour is itself drawn in chords
        grant = np.maximum(rim.sagitta, 0.0)[self._j]
        grant = grant + np.where([found[n].kind == "pour" for n in self._i], ARC_TOL_MM, 0.0)
        short = self._need[self._i] - self._gap
        pairs = np.flatnonzero(~self._is_off[self._i] & (short > grant + TOL_MM))
        touches = shapely.shortest_line(rim.lines[self._j[pairs]], self._shapes[self._i[pairs]])
        spots = shapely.get_coordinates(touches)[1::2]
        excused = self._excused(pairs, spots)
        worst: dict[int, tuple[float, int]] = {}
        for n in np.flatnonzero(~excused).tolist():
            item, much = id(found[self._i[pairs[n]]].item), round(float(short[pairs[n]]), 6)
            if item not in worst or much > worst[item][0]:
                worst[item] = (much, n)
        chosen = [
            Near(found[k], float(self._gap[pairs[n]]), (float(spots[n][0]), float(spots[n][1])), bool(self._outer[k]))
            for n in (n for _, n in worst.values())
            for k in [self._i[pairs[n]]]
        ]
        return [*chosen, *self._swallowing(set(worst))]

    @cached_property
    def outside(self) -> list[Piece]:
        """Copper that lies off the board and does not touch its edge."""
        near = {id(one.piece.item) for one in self.near}
        return [piece for piece, off in zip(self._pieces, self._is_off) if off and id(piece.item) not in near]

    def is_edge_mounted(self, part: Part, ones: Sequence[Near]) -> bool:
        """Whether a part is drawn for the edge: its body reaches over it, or a row of its lands ends flush with it."""
        area = self._board.outline.area
        if any(shapely.difference(one.piece.shape, area).area > FLUSH_MM2 for one in ones):
            return False
        if part.body is not None and not shapely.covers(area, part.body):
            return True
        return len(ones) > 1 and all(one.gap <= FLUSH_MM and one.land[1].hole is None for one in ones)

    def _is_meant(self, piece: Piece) -> bool:
        if not isinstance(piece.item, tuple):
            return False
        pad = piece.item[1]
        declared = self._board.stackup.castellated and id(pad) in self.cut_pads
        return declared or pad.role is PadRole.CASTELLATED or pad.kind is PadKind.CONNECTOR

    @cached_property
    def _is_off(self) -> npt.NDArray[np.bool_]:
        if not self._pieces:
            return np.zeros(0, dtype=bool)
        points, owner = shapely.get_coordinates(self._shapes, return_index=True)
        firsts = points[np.searchsorted(owner, np.arange(len(self._shapes)))]
        off = np.logical_not(np.asarray(shapely.intersects_xy(self._board.outline.area, *firsts.T)))
        off[self._i[self._gap == 0.0]] = False
        return off

    def _excused(self, pairs: npt.NDArray[np.intp], spots: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which pairs are tracks and pours that lead to a land of the same net which itself belongs at the edge."""
        excused = np.zeros(len(pairs), dtype=bool)
        lands = [
            (layer, pad.net, shape)
            for part, pad in self._board.pads
            if id(pad) in self.cut_pads or self._is_meant(Piece("pad", (part, pad), shapely.Point(), 0.0, ""))
            for layer, shape in pad.copper.items()
        ]
        if lands and len(pairs):
            need = self._need[self._i[pairs]]
            points = np.asarray(shapely.points(spots), dtype=object)
            a, b, _ = pairs_within(points, [land[2] for land in lands], need)
            for pair, land in zip(a, b):
                piece = self._pieces[self._i[pairs[pair]]]
                excused[pair] |= piece.part is None and (piece.layer, piece.net) == lands[land][:2]
        return excused

    def _swallowing(self, known: set[int]) -> Iterator[Near]:
        """Pours that lie across a whole edge, so that no stretch of their own outline comes near it."""
        rims = [
            ring for board in shapely.get_parts(self._board.outline.area) for ring in (board.exterior, *board.interiors)
        ]
        boxes = np.array([ring.bounds for ring in rims]).reshape(-1, 4)
        for area in self._board.areas:
            for ring in area.rings if id(area) not in known else ():
                low, high = ring.min(axis=0), ring.max(axis=0)
                inside = (boxes[:, :2] >= low).all(axis=1) & (boxes[:, 2:] <= high).all(axis=1)
                for n in np.flatnonzero(inside):
                    at = rims[n].coords[0]
                    # a ring joined to its holes by cuts is no valid polygon, but inside is inside
                    if shapely.contains_xy(Polygon(ring), *at):
                        piece = Piece("pour", area, Polygon(ring), 0.0, area.layer)
                        yield Near(piece, 0.0, at, self._board.side_of(area.layer) is not None)
                        known.add(id(area))
                        break
                if id(area) in known:
                    break
