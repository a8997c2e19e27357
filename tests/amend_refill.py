# SPDX-License-Identifier: MIT
"""Fills all zones of boards again and saves them; run by the interpreter that has the editor's bindings."""

import sys

import pcbnew

for path in sys.argv[1:]:
    board = pcbnew.LoadBoard(path)
    pcbnew.ZONE_FILLER(board).Fill(board.Zones())
    pcbnew.SaveBoard(path, board, True)
