# SPDX-License-Identifier: MIT
"""Copper and bare holes near the lines along which boards are parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, falls_short, pairs_within
from lineworthy.knowledge.copper import Piece, pieces
from lineworthy.knowledge.separation import BreakLine
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, Side
from lineworthy.shapes import Point


@dataclass(frozen=True, eq=False)
class AtLine:
    """Copper, or a bare hole, near a line: how far its rim is from it, and where."""

    piece: Piece
    line: BreakLine
    gap: float
    at: Point

    @property
    def is_copper(self) -> bool:
        """False for a hole without copper."""
        return self.piece.kind != "hole"

    @property
    def label(self) -> str:
        """What to call it: part and pad, or the kind of copper and its net."""
        if isinstance(self.piece.item, tuple):
            part, pad = self.piece.item
            what = "hole" if not self.is_copper else f"pad {pad.number}".strip()
            return f"{part.reference} {what}".strip()
        return f"{self.piece.kind} {self.piece.net}".strip()

    def side(self, board: Board) -> Optional[Side]:
        """The face it lies on, None for inner copper and holes."""
        return board.side_of(self.piece.layer)


def copper_near(board: Board, lines: Sequence[BreakLine], need: float) -> list[AtLine]:
    """Copper and bare holes nearer than `need` mm to a line, each once for each line, nearest first."""
    found = [piece for piece in pieces(_trimmed(board, lines, need)) if not piece.shape.is_empty]
    found += [
        Piece("hole", (part, pad), pad.hole.shape, 0.0, "")
        for part, pad in board.pads
        if pad.hole is not None and not pad.hole.plated
    ]
    if not found:
        return []
    shapes = np.array([piece.shape for piece in found], dtype=object)
    half = np.array([piece.half for piece in found])
    # far fewer lines than pieces: look the pieces up, and measure only those in reach of the widest of them
    reach = need + float(half.max())
    line_shapes = np.array([one.line for one in lines], dtype=object)
    j, i, distance = pairs_within(line_shapes, shapes, reach)
    gap = np.maximum(distance - half[i], 0.0)
    best: dict[tuple[int, int], tuple[float, int, int]] = {}
    for n in np.flatnonzero(gap < need):
        if falls_short(float(gap[n]), need):
            place = (id(found[i[n]].item), int(j[n]))
            one = (round(float(gap[n]), 6), int(i[n]), int(j[n]))
            best[place] = min(best.get(place, one), one)
    chosen = [
        AtLine(found[piece], lines[line], width, _touch(line_shapes[line], shapes[piece]))
        for width, piece, line in best.values()
    ]
    return sorted(chosen, key=lambda one: (round(one.gap, 4), natural(one.label), one.piece.uid))


def _trimmed(board: Board, lines: Sequence[BreakLine], need: float) -> Board:
    """The board without tracks and vias that are plainly too far away, of which large boards have most."""
    ends = np.array([(one.start, one.end) for one in board.tracks]).reshape(-1, 2, 2)
    # no point of an arc is farther from its ends than twice the way from an end to its middle
    bows = np.array([2 * np.hypot(*np.subtract(one.mid, one.start)) if one.mid else 0.0 for one in board.tracks])
    grown = np.array([one.width / 2 for one in board.tracks]) + bows
    tracks = _may_touch(ends.min(axis=1), ends.max(axis=1), grown + need + TOL_MM, lines)
    at = np.array([one.at for one in board.vias]).reshape(-1, 2)
    wide = np.array([max([one.diameter, *one.diameters.values()]) / 2 for one in board.vias])
    vias = _may_touch(at, at, wide + need + TOL_MM, lines)
    return replace(
        board,
        tracks=tuple(one for one, near in zip(board.tracks, tracks) if near),
        vias=tuple(one for one, near in zip(board.vias, vias) if near),
    )


def _may_touch(low: Floats, high: Floats, reach: Floats, lines: Sequence[BreakLine]) -> npt.NDArray[np.bool_]:
    """Whether boxes (n, 2), grown by `reach` (n,), meet the box of any line."""
    near = np.zeros(len(low), dtype=bool)
    for left, bottom, right, top in (one.line.bounds for one in lines):
        above = (low <= np.array([right, top]) + reach[:, None]).all(axis=1)
        near |= above & (high >= np.array([left, bottom]) - reach[:, None]).all(axis=1)
    return near


def _touch(line: BaseGeometry, shape: BaseGeometry) -> Point:
    x, y = shapely.get_coordinates(shapely.shortest_line(line, shape))[1]
    return float(x), float(y)
