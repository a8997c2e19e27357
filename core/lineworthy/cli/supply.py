# SPDX-License-Identifier: MIT
"""``lineworthy supply``: can every part be bought for so many boards by a date?"""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Callable, Optional

from lineworthy.cli.command import CLEAN, FOUND, ReadBoard, file_name, file_path, file_stem, read_with_bar, write_told
from lineworthy.cli.inputs import check_inputs, declare_inputs, gathered, sheet_of
from lineworthy.errors import LineworthyError
from lineworthy.files import check_folder
from lineworthy.intake.parts_list import PartsList
from lineworthy.plans.supply import Demand, SupplyRun, supply_run
from lineworthy.report import supply_html, supply_table, supply_text

_EXAMPLES = """\
examples:
  in short, on the terminal:
    lineworthy supply frost-alarm.kicad_pcb --parts parts.xlsx --offers offers.csv --build 500 --by 2027-03-01
  for the buyer: a page, a table and data, with what the project's settings say:
    lineworthy supply frost-alarm.kicad_pcb --out purchasing
  a build that goes on, 40 boards a week for three years:
    lineworthy supply frost-alarm.kicad_pcb --weekly 40 --weekly-spread 10 --years 3

Without --parts the list is made from the board's own fields. The offers file has a line per part and source:
  manufacturer_part, source, stock, lead_weeks, life_cycle, minimum, multiple, prices, currency, date, last_order

files in DIR, all named after the board: -supply.html, -supply.csv, -supply.json

exit code: 0 every part can be had in time, 1 one cannot be counted on, 2 no answer could be given
"""

_STDOUT: Mapping[str, Callable[[SupplyRun], str]] = {
    "text": lambda run: supply_text.render(run, shutil.get_terminal_size((100, 24)).columns),
    "html": supply_html.render,
    "csv": supply_table.table,
    "json": supply_table.document,
}


class SupplyCommand:
    """The command, as the command line takes it."""

    name = "supply"
    help = "see whether every part can be bought for a build"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "See whether every part can be bought for so many boards by a date. Nothing is looked up."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        declare_inputs(parser)
        parser.add_argument("--format", choices=list(_STDOUT), default="text", help="what to print (default: text)")
        parser.add_argument("--out", type=file_path, metavar="DIR", help="write page, table and data into DIR")
        on = parser.add_argument_group("building on", "adds the stock at which to order again, and a lifetime need")
        on.add_argument("--weekly", type=_amount, metavar="N", help="boards built in a week")
        on.add_argument("--weekly-spread", type=_amount, default=0.0, metavar="N", help="standard deviation of that")
        on.add_argument("--years", type=_amount, default=0.0, metavar="N", help="for how long")

    def run(self, options: argparse.Namespace) -> int:
        """Works the run out, writes and prints it."""
        check_inputs(options, [options.board])
        out: Optional[Path] = options.out
        if out is not None:
            check_folder(out)
        beside = gathered(options, options.board)
        offers, boards, build = beside.offers, beside.project.build_quantity, beside.project.build_date
        if offers is None:
            raise LineworthyError("no offers file: give --offers FILE, or offers in the project's settings")
        if boards is None or build is None:
            raise LineworthyError("no build: give --build N and --by DATE, or both in the project's settings")
        board = read_with_bar(self._read, options.board)
        run = supply_run(
            board,
            beside.parts or PartsList.from_board(board),
            offers,
            boards=boards,
            build=build,
            today=beside.today or date.today(),
            sheet=sheet_of(options, beside),
            demand=_demand(options),
        )
        if out is not None:
            stem = file_stem(options.board)
            files = {
                out / f"{stem}-supply.html": supply_html.render(run),
                out / f"{stem}-supply.csv": supply_table.table(run),
                out / f"{stem}-supply.json": supply_table.document(run),
            }
            write_told(files, options.board)
        sys.stdout.write(_STDOUT[options.format](run))
        sys.stdout.flush()
        return FOUND if any(line.standing.stops for line in run.lines) else CLEAN


def _demand(options: argparse.Namespace) -> Optional[Demand]:
    if options.weekly is None:
        if options.weekly_spread or options.years:
            raise LineworthyError("--weekly-spread and --years need --weekly")
        return None
    return Demand(options.weekly, options.weekly_spread, options.years)


def _amount(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number < 1e9:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of 0 or more")
    return number
