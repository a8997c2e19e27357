# SPDX-License-Identifier: MIT
"""The editor's demo boards, which the suite uses as boards we did not write."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import pytest

from lineworthy import Board
from lineworthy_kicad.reader import read_board

FOLDER = Path(os.environ.get("LINEWORTHY_DEMOS", "/usr/share/kicad/demos"))
FOOTPRINTS = Path(os.environ.get("LINEWORTHY_FOOTPRINTS", "/usr/share/kicad/footprints"))

HOW = "run 'sh tests/install-editor.sh' as root, or set LINEWORTHY_DEMOS and LINEWORTHY_FOOTPRINTS"


def paths() -> list[Path]:
    """Every demo board, smallest first; empty when the editor's demos are not installed."""
    return sorted(FOLDER.rglob("*.kicad_pcb"), key=lambda path: (path.stat().st_size, str(path)))


def name(path: Path) -> str:
    """The board's path below the demos folder."""
    return path.relative_to(FOLDER).as_posix()


def cases() -> list[object]:
    """Every demo board as a parameter of a test; what asks the editor about the largest takes it minutes."""
    return [pytest.param(path, id=name(path), marks=[pytest.mark.long] * (path in paths()[-1:])) for path in paths()]


@cache
def read(path: Path) -> Board:
    """A demo board, read once in a test run."""
    return read_board(path)
