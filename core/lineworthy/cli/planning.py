# SPDX-License-Identifier: MIT
"""What commands that plan have in common: a board, its sheet and settings in; a set of files out."""

from __future__ import annotations

import argparse
from pathlib import Path

from lineworthy.beside import settings_of
from lineworthy.cli.command import ReadBoard, declare_sheet, file_name, file_path, read_with_bar, say
from lineworthy.cli.inputs import sheet_of
from lineworthy.files import check_folder
from lineworthy.inputs import Inputs
from lineworthy.model import Board
from lineworthy.project import Project


def declare_plan(parser: argparse.ArgumentParser, written: str) -> None:
    """The arguments of a plan: the board, the sheet, and where `written` goes."""
    parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
    declare_sheet(parser)
    parser.add_argument("--out", type=file_path, metavar="DIR", help=f"write {written} into DIR")


def planned_from(options: argparse.Namespace, read: ReadBoard) -> Inputs:
    """What a plan is made from.

    Raises:
        LineworthyError: the board, its settings, the sheet or the place to write to cannot be used.
    """
    if options.out is not None:
        check_folder(options.out)
    beside = settings_of(Path(options.board))
    sheet = sheet_of(options, beside)
    board = beside.measured(read_with_bar(read, options.board))
    say_astray(beside.project, board)
    return Inputs(board, sheet, beside)


def say_astray(settings: Project, board: Board) -> None:
    """Says what the settings name and the board does not have; a review says it in its report."""
    for missing, how in settings.astray(board).values():
        say(f"{board.path or board.name}: {missing}: {how}")
