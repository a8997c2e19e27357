# SPDX-License-Identifier: MIT
"""Bow and twist: how far from flat a finished board may be.

Both are measured on the bare board by IPC-TM-650 method 2.4.22; it does not hold for loaded assemblies.
"""

from __future__ import annotations

from lineworthy.limits import BareBoardLimits
from lineworthy.model import Board


def allowed_percent(board: Board, limits: BareBoardLimits) -> float:
    """Bow and twist allowed, in percent: less where parts are soldered to the surface."""
    pasted = any(pad.paste for part, pad in board.pads if part.fitted)
    return limits.bow_surface_max_percent if pasted else limits.bow_other_max_percent


def bow_mm(length: float, percent: float) -> float:
    """How far the middle of a side of `length` mm may lie off, mm."""
    return length * percent / 100
