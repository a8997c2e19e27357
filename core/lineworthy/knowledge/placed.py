# SPDX-License-Identifier: MIT
"""Which parts a machine puts onto a side, and which boards hold several copies of one."""

from __future__ import annotations

from collections import Counter
from typing import Optional

import numpy as np
import numpy.typing as npt

from lineworthy.model import Board, Mount, PadKind, Part, Side


def grips_edge(part: Part) -> bool:
    """Whether a part is slid over the edge of the board by hand: it has lands with paste on both faces."""
    sides = {side for pad in part.pads if pad.kind is PadKind.SURFACE for side in pad.paste}
    return len(sides) > 1


def is_placed(board: Board, part: Part, side: Side) -> bool:
    """Whether a machine puts this part onto this side: fitted, in the placement file, on paste, on the board."""
    if not (part.fitted and part.in_placement) or part.mount is Mount.THROUGH or part.side is not side:
        return False
    if grips_edge(part):
        return False
    area = board.outline.area
    return any(side in pad.paste for pad in part.pads) and (area.is_empty or bool(area.intersects(part.extent)))


def placed_on(board: Board, side: Side) -> list[Part]:
    """All parts a machine puts onto a side."""
    return [part for part in board.parts if is_placed(board, part, side)]


def is_array(board: Board) -> bool:
    """Whether the document holds several copies of one board: most references of placed parts come more than once."""
    names = Counter(part.reference for part in board.parts if part.in_placement and part.reference)
    several = sum(count for count in names.values() if count > 1)
    return several > 2 and several > 0.5 * sum(names.values())


def pitch(part: Part, layer: str) -> Optional[float]:
    """Smallest distance between the centres of two differently numbered lands on one copper layer, mm.

    None for parts with fewer than three lands there. (Fingers of an edge connector lie opposite each other on two
    layers.)
    """
    gaps = _gaps(part, layer)
    return None if gaps is None else float(gaps.min())


def usual_pitch(part: Part, layer: str) -> Optional[float]:
    """The distance most lands have from their next neighbour: lands split for heat or current do not count."""
    gaps = _gaps(part, layer)
    return None if gaps is None else round(float(np.median(gaps)), 3)


def _gaps(part: Part, layer: str) -> Optional[npt.NDArray[np.float64]]:
    """Of each land the distance to the next one of another number, mm; None with fewer than three numbers."""
    lands = [pad for pad in part.pads if layer in pad.copper and pad.number]
    numbers = np.array([pad.number for pad in lands])
    if len(set(numbers.tolist())) < 3:
        return None
    spots = np.array([pad.at for pad in lands])
    gaps = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    # rounded, so that a turned part reads the same
    return np.asarray(np.round(np.where(numbers[:, None] != numbers[None], gaps, np.inf).min(axis=1), 4))
