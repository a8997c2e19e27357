# SPDX-License-Identifier: MIT
"""Writes a board repeated COUNT times side by side: ``/usr/bin/python3 tile.py IN COUNT OUT``.

Runs under the interpreter that has the editor's bindings; the copies share the nets of the original.
"""

import sys

import pcbnew


def main() -> None:
    source, count, target = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    board = pcbnew.LoadBoard(source)
    box = board.GetBoundingBox()
    tracks, drawings = board.Tracks(), board.Drawings()
    items = [
        *board.Footprints(),
        *board.Zones(),
        *(tracks[i].Cast() for i in range(len(tracks))),
        *(drawings[i].Cast() for i in range(len(drawings))),
    ]
    columns = max(1, round(count**0.5))
    margin = pcbnew.FromMM(5)
    for n in range(1, count):
        step = pcbnew.VECTOR2I((n % columns) * (box.GetWidth() + margin), (n // columns) * (box.GetHeight() + margin))
        for item in items:
            copy = item.Duplicate()
            copy.Move(step)
            board.Add(copy)
    pcbnew.SaveBoard(target, board, True)


main()
