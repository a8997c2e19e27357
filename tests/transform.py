# SPDX-License-Identifier: MIT
"""Moving, turning and mirroring a whole board, for property tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Optional

import numpy as np
import shapely

from lineworthy import Board
from lineworthy.model import Outline, Pad, Part
from lineworthy.shapes import Point


@dataclass(frozen=True)
class Motion:
    """x' = m x + shift; `turn` degrees are added to angles, which are negated first when `mirror` is set."""

    matrix: tuple[tuple[float, float], tuple[float, float]]
    shift: Point
    turn: float = 0.0
    mirror: bool = False

    def point(self, at: Point) -> Point:
        (a, b), (c, d) = self.matrix
        return (a * at[0] + b * at[1] + self.shift[0], c * at[0] + d * at[1] + self.shift[1])

    def maybe(self, at: Optional[Point]) -> Optional[Point]:
        return None if at is None else self.point(at)

    def shape(self, geometry: Any) -> Any:
        matrix, shift = np.array(self.matrix), np.array(self.shift)
        return shapely.transform(geometry, lambda xy: xy @ matrix.T + shift)

    def shapes(self, shapes: Mapping[Any, Any]) -> dict[Any, Any]:
        return {key: self.shape(value) for key, value in shapes.items()}

    def angle(self, degrees: float) -> float:
        return ((-degrees if self.mirror else degrees) + self.turn) % 360

    def upright(self, degrees: float) -> float:
        """Of a text, which mirroring leaves readable: what was up on it stays up, so it runs the other way."""
        return (self.angle(degrees) + (180 if self.mirror else 0)) % 360


def moved(dx: float, dy: float) -> Motion:
    return Motion(((1, 0), (0, 1)), (dx, dy))


def quarter_turns(count: int) -> Motion:
    cos, sin = [(1, 0), (0, 1), (-1, 0), (0, -1)][count % 4]
    return Motion(((cos, -sin), (sin, cos)), (0.0, 0.0), turn=90.0 * count)


def mirrored() -> Motion:
    # x is negated: an angle a becomes 180 - a
    return Motion(((-1, 0), (0, 1)), (0.0, 0.0), turn=180.0, mirror=True)


def transform(board: Board, motion: Motion) -> Board:
    """The same board elsewhere."""
    outline = board.outline
    return replace(
        board,
        parts=tuple(_part(part, motion) for part in board.parts),
        tracks=tuple(
            replace(t, start=motion.point(t.start), end=motion.point(t.end), mid=motion.maybe(t.mid))
            for t in board.tracks
        ),
        vias=tuple(replace(via, at=motion.point(via.at)) for via in board.vias),
        areas=tuple(
            replace(area, boundary=motion.shape(area.boundary), rings=tuple(_ring(r, motion) for r in area.rings))
            for area in board.areas
        ),
        keepouts=tuple(replace(keepout, area=motion.shape(keepout.area)) for keepout in board.keepouts),
        markings=tuple(
            replace(m, at=motion.point(m.at), rotation=motion.upright(m.rotation), extents=motion.shape(m.extents))
            for m in board.markings
        ),
        graphics=tuple(replace(graphic, shape=motion.shape(graphic.shape)) for graphic in board.graphics),
        outline=Outline(
            motion.shape(outline.area),
            tuple(replace(fault, at=motion.maybe(fault.at)) for fault in outline.faults),
            outline.uids,
        ),
    )


def _ring(ring: np.ndarray, motion: Motion) -> np.ndarray:
    return ring @ np.array(motion.matrix).T + np.array(motion.shift)


def _part(part: Part, motion: Motion) -> Part:
    return replace(
        part,
        at=motion.point(part.at),
        rotation=motion.angle(part.rotation),
        pads=tuple(_pad(pad, motion) for pad in part.pads),
        courtyard=motion.shapes(part.courtyard),
        body=None if part.body is None else motion.shape(part.body),
    )


def _pad(pad: Pad, motion: Motion) -> Pad:
    hole = pad.hole
    if hole is not None:
        hole = replace(hole, at=motion.point(hole.at), rotation=motion.angle(hole.rotation))
    return replace(
        pad,
        at=motion.point(pad.at),
        rotation=motion.angle(pad.rotation),
        copper=motion.shapes(pad.copper),
        mask=motion.shapes(pad.mask),
        paste=motion.shapes(pad.paste),
        hole=hole,
    )
