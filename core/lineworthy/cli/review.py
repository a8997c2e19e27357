# SPDX-License-Identifier: MIT
"""``lineworthy review``: reviews boards and writes reports."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lineworthy.checks import CHECKS
from lineworthy.cli.command import CLEAN, FAILED, ReadBoard, complain, file_name
from lineworthy.cli.inputs import check_inputs, declare_inputs, gathered, sheet_of
from lineworthy.cli.reporting import Reports, declare_report
from lineworthy.errors import InputError, LineworthyError
from lineworthy.progress import ProgressBar
from lineworthy.review import Review, review, select

_EXAMPLES = """\
examples:
  the board as it is, on the terminal:
    lineworthy review frost-alarm.kicad_pcb
  a report to send around, and data for a script:
    lineworthy review frost-alarm.kicad_pcb --format html --format json --out reports
  against your factory's own limits, leaving one area and one check out:
    lineworthy review frost-alarm.kicad_pcb --sheet our-factory.toml --skip supply --skip panel/small-board-unplanned
  with the parts list and the build, where BOARD.lineworthy.toml does not say them:
    lineworthy review frost-alarm.kicad_pcb --parts parts.csv --offers offers.csv --build 500 --by 2027-03-01
  as a gate that lets queries through but no hold:
    lineworthy review hardware/*.kicad_pcb --fail-on hold

exit code: 0 nothing at or over --fail-on, 1 something was, 2 a board could not be reviewed
"""


class ReviewCommand:
    """The command, as the command line takes it."""

    name = "review"
    help = "review boards"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Review boards."
        parser.epilog = _EXAMPLES
        parser.add_argument(
            "boards", nargs="+", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer"
        )
        declare_inputs(parser)
        parser.add_argument("--only", action="append", default=[], metavar="NAME", help="an area or check; repeatable")
        parser.add_argument("--skip", action="append", default=[], metavar="NAME", help="an area or check; repeatable")
        declare_report(parser)

    def run(self, options: argparse.Namespace) -> int:
        """Reviews each board; one that cannot be read does not keep the others from being reviewed."""
        check_inputs(options, options.boards)
        # a misspelt name must not wait until a big board is read, and nothing asked must not read as nothing found
        if not select(CHECKS, options.only, options.skip):
            raise LineworthyError("--only and --skip leave no check to ask")
        reports = Reports(options, options.boards)
        code = CLEAN
        for path in options.boards:
            try:
                result = self._review_one(path, options)
            except InputError as error:
                complain(error)
                reports.skip()
                code = FAILED
                continue
            code = max(code, reports.put(path, result))
            del result  # the next board is read without this one beside it
        reports.close()
        return code

    def _review_one(self, path: str, options: argparse.Namespace) -> Review:
        beside = gathered(options, path)
        sheet = sheet_of(options, beside)
        bar = ProgressBar(sys.stderr)
        try:
            board = self._read(path, lambda share: bar.show(share / 2, f"reading {Path(path).name}"))
            return review(
                beside.measured(board),
                sheet,
                beside=beside,
                only=options.only,
                skip=options.skip,
                progress=lambda done, total, check_id: bar.show(0.5 + done / total / 2, check_id),
            )
        finally:
            bar.clear()
