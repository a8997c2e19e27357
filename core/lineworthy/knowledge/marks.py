# SPDX-License-Identifier: MIT
"""What pads and holes are for: fiducials, probe targets, tooling holes."""

from __future__ import annotations

from lineworthy.model import Board


class Marks:
    """What pads and holes are for: fiducials, probe targets, tooling holes."""

    def __init__(self, board: Board) -> None:
        self._board = board
