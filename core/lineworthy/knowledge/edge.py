# SPDX-License-Identifier: MIT
"""Copper against the board edge: what comes near it, what is meant to, what lies beyond it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from lineworthy.geometry import TOL_MM, Edges, edges, first_points, pairs_within
from lineworthy.knowledge.copper import Piece
from lineworthy.knowledge.cutaway import hole_gone
from lineworthy.knowledge.gaps import Layer, Owner, kind_of
from lineworthy.model import Board, CopperArea, Pad, PadKind, PadRole, Part
from lineworthy.shapes import ARC_TOL_MM, Point

FLUSH_MM = 0.1
"""Lands that end this near to the edge in a row are drawn to it: fingers, edge-mounted connectors."""

FLUSH_MM2 = 1e-3
"""Copper beyond the edge up to this much is rounding, not a land that sticks out."""


def is_land(pad: Pad) -> bool:
    """Whether something can be soldered to a pad."""
    return bool(pad.copper) and pad.kind is not PadKind.UNPLATED


def lands_off(board: Board) -> list[tuple[Part, Pad]]:
    """Lands that lie off the board as a whole: no copper of it is on the board, or nothing of its hole.

    Those that belong at the edge are left out, and slots that are drawn into a land as a cut-out.
    """
    area = board.outline.area
    lands = [land for land in board.pads if is_land(land[1]) and land[1].kind is not PadKind.CONNECTOR]
    middles = np.array([pad.hole.at if pad.hole is not None else pad.at for _, pad in lands]).reshape(-1, 2)
    far = np.flatnonzero(~shapely.intersects_xy(area, *middles.T))
    return [lands[n] for n in far.tolist() if _is_off(board, lands[n][1])]


def _is_off(board: Board, pad: Pad) -> bool:
    if pad.role is PadRole.CASTELLATED:
        return False
    if pad.hole is not None and hole_gone(board, pad) and not board.outline.area.intersects(pad.hole.shape):
        return True
    return not any(board.outline.area.intersects(shape) for shape in pad.copper.values())


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

    def __init__(self, board: Board, copper: Sequence[Layer], outer: float, inner: float) -> None:
        """`outer` and `inner` are the distances in mm that copper on outer and inner layers should keep."""
        self._board = board
        counts = np.array([len(layer.owners) for layer in copper], dtype=np.intp)
        self._layer = np.repeat(np.array([layer.name for layer in copper], dtype=object), counts)
        self._owners: list[Owner] = list(chain.from_iterable(layer.owners for layer in copper))
        self._shapes = np.concatenate([np.zeros(0, dtype=object), *(layer.shapes for layer in copper)])
        self._half = np.concatenate([np.zeros(0), *(layer.half for layer in copper)])
        self._outer = np.repeat(np.array([board.side_of(layer.name) is not None for layer in copper], bool), counts)
        self._need = np.where(self._outer, outer, inner)
        self._rim: Edges = edges(shapely.get_parts(board.outline.area))
        i, j, distance = pairs_within(self._shapes, self._rim.lines, self._need + self._half)
        counted = np.array([not self._is_meant(self._owners[n]) for n in i], dtype=bool)
        self._i, self._j = i[counted], j[counted]
        self._gap = np.maximum(distance[counted] - self._half[self._i], 0.0)

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
        rim = self._rim
        # an edge that bulges out of its chord is further away than the chord; a pour is itself drawn in chords
        grant = np.maximum(rim.sagitta, 0.0)[self._j]
        grant = grant + np.where([isinstance(self._owners[n], CopperArea) for n in self._i], ARC_TOL_MM, 0.0)
        short = self._need[self._i] - self._gap
        pairs = np.flatnonzero(~self._is_off[self._i] & (short > grant + TOL_MM))
        touches = shapely.shortest_line(rim.lines[self._j[pairs]], self._shapes[self._i[pairs]])
        spots = shapely.get_coordinates(touches)[1::2]
        excused = self._excused(pairs, spots)
        worst: dict[int, tuple[float, int]] = {}
        for n in np.flatnonzero(~excused).tolist():
            item, much = id(self._owners[self._i[pairs[n]]]), round(float(short[pairs[n]]), 6)
            if item not in worst or much > worst[item][0]:
                worst[item] = (much, n)
        chosen = [
            Near(
                self._piece(k),
                float(self._gap[pairs[n]]),
                (float(spots[n][0]), float(spots[n][1])),
                bool(self._outer[k]),
            )
            for n in (n for _, n in worst.values())
            for k in [int(self._i[pairs[n]])]
        ]
        return [*chosen, *self._swallowing(set(worst))]

    @cached_property
    def outside(self) -> list[Piece]:
        """Copper that lies off the board and does not touch its edge."""
        near = {id(one.piece.item) for one in self.near}
        off = [n for n in np.flatnonzero(self._is_off).tolist() if not self._is_meant(self._owners[n])]
        return [self._piece(n) for n in off if id(self._owners[n]) not in near]

    def is_edge_mounted(self, part: Part, ones: Sequence[Near]) -> bool:
        """Whether a part is drawn for the edge: its body reaches over it, or a row of its lands ends flush with it."""
        area = self._board.outline.area
        if any(shapely.difference(one.piece.shape, area).area > FLUSH_MM2 for one in ones):
            return False
        if part.body is not None and not shapely.covers(area, part.body):
            return True
        return len(ones) > 1 and all(one.gap <= FLUSH_MM and one.land[1].hole is None for one in ones)

    def _piece(self, n: int) -> Piece:
        owner = self._owners[n]
        return Piece(kind_of(owner), owner, self._shapes[n], float(self._half[n]), self._layer[n])

    def _is_meant(self, owner: Owner) -> bool:
        """Whether it is a land that belongs at the edge."""
        if not isinstance(owner, tuple):
            return False
        pad = owner[1]
        declared = self._board.stackup.castellated and id(pad) in self.cut_pads
        return declared or pad.role is PadRole.CASTELLATED or pad.kind is PadKind.CONNECTOR

    @cached_property
    def _is_off(self) -> npt.NDArray[np.bool_]:
        off = ~shapely.is_empty(self._shapes)
        off[off] = ~shapely.intersects_xy(self._board.outline.area, *first_points(self._shapes[off]).T)
        off[self._i[self._gap == 0.0]] = False
        return off

    def _excused(self, pairs: npt.NDArray[np.intp], spots: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which pairs are tracks and pours that lead to a land of the same net which itself belongs at the edge."""
        excused = np.zeros(len(pairs), dtype=bool)
        lands = [
            (layer, pad.net, shape)
            for part, pad in self._board.pads
            if id(pad) in self.cut_pads or self._is_meant((part, pad))
            for layer, shape in pad.copper.items()
        ]
        if lands and len(pairs):
            need = self._need[self._i[pairs]]
            points = np.asarray(shapely.points(spots), dtype=object)
            a, b, _ = pairs_within(points, [land[2] for land in lands], need)
            for pair, land in zip(a, b):
                piece = self._piece(int(self._i[pairs[pair]]))
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
