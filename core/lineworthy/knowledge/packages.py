# SPDX-License-Identifier: MIT
"""What each part is: family, pitch, height."""

from __future__ import annotations

from lineworthy.model import Board


class Packages:
    """What each part is: family, pitch, height."""

    def __init__(self, board: Board) -> None:
        self._board = board
