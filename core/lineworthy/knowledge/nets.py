# SPDX-License-Identifier: MIT
"""What each net of a board is for."""

from __future__ import annotations

from lineworthy.model import Board


class Nets:
    """What each net of a board is for."""

    def __init__(self, board: Board) -> None:
        self._board = board
