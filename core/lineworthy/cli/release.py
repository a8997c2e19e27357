# SPDX-License-Identifier: MIT
"""``lineworthy release``: is the release folder this board?"""

from __future__ import annotations

import argparse
import sys
from datetime import date
from pathlib import Path

from lineworthy.beside import Beside, gather
from lineworthy.cli.command import ReadBoard, declare_sheet, file_name, file_path, read_with_bar, say
from lineworthy.cli.inputs import day, sheet_of
from lineworthy.cli.released import write_released
from lineworthy.cli.reporting import Reports, declare_report
from lineworthy.files import check_folder
from lineworthy.intake.folder import ReleaseFolder
from lineworthy.knowledge.wording import counted
from lineworthy.plans.agreement import Agreement
from lineworthy.progress import ProgressBar
from lineworthy.review import review

_EXAMPLES = """\
examples:
  is this folder the board as it is now?
    lineworthy release frost-alarm.kicad_pcb release
  the archive that is about to be sent, with a page that shows where it differs:
    lineworthy release frost-alarm.kicad_pcb frost-alarm-rev-B.zip --format html --out reports

  the same, and a manifest to guard this revision with, and a brief for the factory:
    lineworthy release frost-alarm.kicad_pcb release --manifest released

A zip is read without unpacking it to disk. What the plots draw, the holes, the placement and the parts list are
compared with the board; headers, dates and names with each other and with the title block.

exit code: 0 nothing at or over --fail-on, 1 something was, 2 the board or the folder could not be read
"""


class ReleaseCommand:
    """The command, as the command line takes it."""

    name = "release"
    help = "see whether a release folder is this board"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "See whether the files about to be sent are this board, complete and of one making."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        parser.add_argument("folder", type=file_name, metavar="DIR_OR_ZIP", help="the release folder, or its zip")
        declare_sheet(parser)
        parser.add_argument("--today", type=day, metavar="DATE", help="the day of the review (default: today)")
        parser.add_argument(
            "--manifest",
            type=file_path,
            metavar="DIR",
            help="review the whole board and write the release manifest, the board's record and the assembly brief",
        )
        declare_report(parser)

    def run(self, options: argparse.Namespace) -> int:
        """Reads both, compares them, and reports the checks of the release."""
        if options.manifest is not None:
            check_folder(options.manifest)
        reports = Reports(options, [options.board])
        beside = self._beside(options)
        assert beside.folder is not None
        sheet = sheet_of(options, beside)
        board = beside.measured(read_with_bar(self._read, options.board, 0.5))
        bar = ProgressBar(sys.stderr)
        try:
            result = review(
                board,
                sheet,
                beside=beside,
                only=("release",),
                progress=lambda done, total, check_id: bar.show(0.5 + done / total / 2, check_id),
            )
        finally:
            bar.clear()
        code = reports.put(options.board, result)
        if options.manifest is not None:
            day_of_release = beside.today or date.today()
            whole = review(board, sheet, beside=beside)
            write_released(options.manifest, whole, Path(options.folder), day_of_release)
        for line in understood(Agreement(board, beside.folder)):  # last, so that a fault stays the only line
            say(f"{options.folder}: {line}")
        return code

    def _beside(self, options: argparse.Namespace) -> Beside:
        board = Path(options.board)
        return gather(board, {"release_folder": Path(options.folder)}, today=options.today or date.today())


def understood(agreement: Agreement) -> list[str]:
    """What was read, and in which convention, in lines for a person."""
    folder = agreement.folder
    layers = sum(plot.layer is not None for plot in folder.plots)
    lines = [f"read {_contents(folder, layers)}"]
    x, y = agreement.plots.origin
    if (x, y) != (0.0, 0.0):
        lines.append(f"plots count from another origin than the board file: by {x:.3f}, {y:.3f} mm")
    if agreement.placement.couples:
        found = agreement.placement.convention
        how = [f"placement follows the board in {found.share + 0.0005:.0%} of its parts"]
        how += ["x of the bottom side is mirrored"] if found.mirrored else []
        how += [f"bottom side {found.bottom_turn}"] if found.bottom_turn else []
        lines.append(", ".join(how))
    named = [plot.name for plot in folder.plots if plot.layer is not None and plot.by_name]
    if named:
        lines.append(f"{counted(len(named), 'plot')} told by name only, as neither the file nor a job file says")
    return lines


def _contents(folder: ReleaseFolder, layers: int) -> str:
    parts = [
        counted(layers, "layer"),
        counted(len(folder.drills), "drill file"),
        counted(len(folder.jobs), "job file"),
        counted(len(folder.placements), "placement file"),
        counted(len(folder.parts_lists), "parts list"),
    ]
    rest = len(folder.plots) - layers + len(folder.drawings) + len(folder.others)
    return ", ".join(parts) + (f"; {counted(rest, 'other file')} not compared" if rest else "")
