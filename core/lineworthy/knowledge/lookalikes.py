# SPDX-License-Identifier: MIT
"""Round bare copper, which a camera may take for an alignment mark."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Union

import numpy as np
import shapely

from lineworthy.knowledge.looks import is_round, span
from lineworthy.model import Board, Pad, Side, Via
from lineworthy.shapes import Point

SIZE_ALIKE = 0.15
"""Round copper whose diameter differs by no more than this share looks like the mark (common practice, no source)."""

HOLE_SHARE = 0.5
"""Copper round a hole wider than this share of it looks like a ring and not like a mark."""


@dataclass(frozen=True)
class RoundBare:
    """Something round and free of mask on one side; `diameter` is what can be seen of it, mm."""

    at: Point
    diameter: float
    label: str
    item: Union[Pad, Via] = field(repr=False)


class RoundCopper:
    """All round bare copper of one side, to be asked by place and size."""

    def __init__(self, board: Board, side: Side) -> None:
        self._found = _round_bare(board, side)
        self._tree = shapely.STRtree([shapely.Point(one.at) for one in self._found])

    def like(self, at: Point, diameter: float, field_mm: float) -> list[tuple[float, RoundBare]]:
        """What looks like a mark of a diameter round a place: distance between the centres, and what it is."""
        found = []
        for index in self._tree.query(shapely.Point(at), "dwithin", field_mm):
            one = self._found[index]
            if abs(one.diameter - diameter) <= SIZE_ALIKE * diameter:
                found.append((float(np.hypot(one.at[0] - at[0], one.at[1] - at[1])), one))
        return sorted(found, key=lambda pair: (round(pair[0], 6), pair[1].label))


def _round_bare(board: Board, side: Side) -> list[RoundBare]:
    layer = board.copper_on(side)
    found: list[RoundBare] = []
    for part, pad in board.pads:
        # a disc has equal sides: asked first, as it is cheaper than the shape
        if side not in pad.mask or layer not in pad.copper or not _looks_solid(pad) or not _level(pad):
            continue
        if is_round(pad.copper[layer]):
            wide = min(span(pad.copper[layer]), span(pad.mask[side]))
            label = f"{part.reference or 'unnamed part'} pad {pad.number}".strip()
            found.append(RoundBare(pad.at, wide, label, pad))
    for via in board.vias:
        if side not in via.tented and layer in via.span and via.drill <= HOLE_SHARE * via.diameter_on(layer):
            found.append(RoundBare(via.at, via.diameter_on(layer), "a via", via))
    return found


def _level(pad: Pad) -> bool:
    return abs(pad.size[0] - pad.size[1]) <= 0.05 * max(pad.size)


def _looks_solid(pad: Pad) -> bool:
    return pad.hole is None or pad.hole.diameter <= HOLE_SHARE * min(pad.size)
