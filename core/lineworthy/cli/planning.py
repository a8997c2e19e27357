# SPDX-License-Identifier: MIT
"""What commands that plan have in common: a board, its sheet and settings in; a set of files out."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from lineworthy import project
from lineworthy.beside import Beside
from lineworthy.cli.command import ReadBoard, declare_sheet, read_with_bar, say
from lineworthy.cli.inputs import check_folder, sheet_of
from lineworthy.errors import LineworthyError
from lineworthy.files import write_atomic
from lineworthy.inputs import Inputs
from lineworthy.model import Board
from lineworthy.project import Project


def declare_plan(parser: argparse.ArgumentParser, written: str) -> None:
    """The arguments of a plan: the board, the sheet, and where `written` goes."""
    parser.add_argument("board", metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
    declare_sheet(parser)
    parser.add_argument("--out", type=Path, metavar="DIR", help=f"write {written} into DIR")


def planned_from(options: argparse.Namespace, read: ReadBoard) -> Inputs:
    """What a plan is made from.

    Raises:
        LineworthyError: the board, its settings, the sheet or the place to write to cannot be used.
    """
    if "" in (options.sheet, options.board):
        raise LineworthyError("a file name is empty")
    check_folder(options.out)
    beside = Beside(project=project.load(project.beside(Path(options.board))))
    sheet = sheet_of(options, beside)
    board = read_with_bar(read, options.board)
    say_astray(beside.project, board)
    return Inputs(board, sheet, beside)


def say_astray(settings: Project, board: Board) -> None:
    """Says what the settings name and the board does not have; a review says it in its report."""
    for missing, how in settings.astray(board).values():
        say(f"{board.path or board.name}: {missing}: {how}")


def stem(board: str) -> str:
    """What the files of a plan are named after: the board's file, without characters that cannot be seen."""
    return "".join(c if c.isprintable() else "_" for c in Path(board).stem) or "board"


def write_set(files: Mapping[str, str], out: Path, board: str) -> None:
    """Writes texts that are all made by now, so that a fault in one leaves no half set behind."""
    for name, text in files.items():
        write_atomic(out / name, text)
        say(f"{board}: wrote {out / name}")
