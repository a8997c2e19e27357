# SPDX-License-Identifier: MIT
"""What lies beside a board, on the command line: options that say otherwise than the project's settings."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from lineworthy.beside import Beside, gather
from lineworthy.cli.command import declare_sheet, file_path
from lineworthy.errors import InputError, LineworthyError
from lineworthy.project import FIRST_YEAR, LAST_YEAR
from lineworthy.sheet import Sheet, load

_FILES = ("parts_list", "offers", "release_folder", "released")


def declare_inputs(parser: argparse.ArgumentParser) -> None:
    """The options for everything a review looks at besides the board."""
    declare_sheet(parser)
    given = parser.add_argument_group(
        "beside the board", "Each wins over the entry of the project's settings, BOARD.lineworthy.toml."
    )
    given.add_argument("--parts", dest="parts_list", type=file_path, metavar="FILE", help="the parts list")
    given.add_argument("--offers", type=file_path, metavar="FILE", help="what sources offer for its parts")
    given.add_argument(
        "--folder", dest="release_folder", type=file_path, metavar="DIR", help="the release folder, or its zip"
    )
    given.add_argument("--released", type=file_path, metavar="FILE", help="the manifest of the release before")
    given.add_argument("--build", dest="build_quantity", type=_quantity, metavar="N", help="boards to be built")
    given.add_argument("--by", dest="build_date", type=day, metavar="DATE", help="when parts must be there")
    given.add_argument("--today", type=day, metavar="DATE", help="the day of the review (default: today)")


def check_inputs(options: argparse.Namespace, boards: Sequence[str]) -> None:
    """Says what is wrong with the options once, before any board is read.

    Raises:
        LineworthyError: a file is given for several boards at once, the sheet is wrong.
    """
    if len(boards) > 1 and any(getattr(options, name) is not None for name in _FILES):
        raise LineworthyError("--parts, --offers, --folder and --released are for one board: review one at a time")
    if options.sheet is not None:
        load(options.sheet)


def gathered(options: argparse.Namespace, board: str) -> Beside:
    """Everything beside a board, as its settings and the options say.

    Raises:
        InputError: a file that is there, or is named, cannot be used.
    """
    entries = (*_FILES, "build_quantity", "build_date")
    said = {name: getattr(options, name) for name in entries}
    return gather(Path(board), said, today=options.today or date.today())


def sheet_of(options: argparse.Namespace, beside: Beside) -> Sheet:
    """The sheet the option names, or else the settings, or else the standard one.

    Raises:
        InputError: it cannot be used.
    """
    if options.sheet is not None or not beside.project.sheet:
        return load(options.sheet or "standard")
    try:
        return load(beside.project.sheet)
    except InputError as error:
        raise InputError(beside.project.source, str(error), "sheet") from None


def day(text: str) -> date:
    """A date as an option's value."""
    try:
        read = date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date like 2027-03-01") from None
    if not FIRST_YEAR <= read.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(f"{text!r}: the year must be between {FIRST_YEAR} and {LAST_YEAR}")
    return read


def _quantity(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < len(text) < 10 and int(text) > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number of 1 or more")
    return int(text)
