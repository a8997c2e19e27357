# SPDX-License-Identifier: MIT
"""``lineworthy probes``: plans the probes of a test fixture."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

from lineworthy import project
from lineworthy.beside import Beside
from lineworthy.cli.command import CLEAN, FOUND, ReadBoard, declare_sheet, read_with_bar, say
from lineworthy.cli.inputs import sheet_of
from lineworthy.errors import InputError, LineworthyError
from lineworthy.files import write_atomic
from lineworthy.inputs import Inputs
from lineworthy.model import Board, Side
from lineworthy.plans.probe_plan import ProbePlan
from lineworthy.plans.probes import plan
from lineworthy.report import netlist356, probe_map, probe_table, probe_text

_EXAMPLES = """\
examples:
  in short, on the terminal:
    lineworthy probes frost-alarm.kicad_pcb
  for whoever builds the fixture:
    lineworthy probes frost-alarm.kicad_pcb --out fixture

files in DIR, all named after the board:
  -probes.csv   a line per probe     -probes.svg   a map of both sides
  -probes.json  the whole plan       .d356         the bare board's netlist, IPC-D-356A

Places are in mm, x to the right and y up, seen from the top for both sides, counted from the origin
of drill and placement files. The map shows each side as its probes see it.

exit code: 0 every net that test is known to need is reached, 1 one is not, 2 no plan could be made
"""


class ProbesCommand:
    """The command, as the command line takes it."""

    name = "probes"
    help = "plan the probes of a test fixture"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Plan the probes of a test fixture."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        declare_sheet(parser)
        sides = [side.value for side in Side]
        parser.add_argument("--side", choices=sides, help="where the probes are (default: where most nets are reached)")
        parser.add_argument("--out", type=Path, metavar="DIR", help="write table, map, data and netlist into DIR")

    def run(self, options: argparse.Namespace) -> int:
        """Plans, tells, and writes."""
        if "" in (options.sheet, options.board):
            raise LineworthyError("a file name is empty")
        if options.out is not None and options.out.exists() and not options.out.is_dir():
            raise InputError(str(options.out), "cannot be written into: a file, not a folder")
        beside = Beside(project=project.load(project.beside(Path(options.board))))
        sheet = sheet_of(options, beside)
        board = read_with_bar(self._read, options.board)
        inputs = Inputs(board, sheet, beside)
        made = plan(
            board,
            sheet,
            nets=inputs.nets,
            marks=inputs.marks,
            packages=inputs.packages,
            side=Side(options.side) if options.side else None,
        )
        if options.out is not None:
            _write(board, made, options.out, Path(options.board))
        sys.stdout.write(probe_text.render(made, width=shutil.get_terminal_size((100, 24)).columns))
        sys.stdout.flush()
        return FOUND if made.missed_keys else CLEAN


def _write(board: Board, made: ProbePlan, out: Path, path: Path) -> None:
    """Every text is made before the first is written, so that a fault leaves no half set behind."""
    stem = "".join(c if c.isprintable() else "_" for c in path.stem) or "board"
    files = {
        f"{stem}-probes.csv": probe_table.table(made),
        f"{stem}-probes.json": probe_table.document(made),
        f"{stem}-probes.svg": probe_map.draw(made),
        f"{stem}.d356": netlist356.render(board),
    }
    for name, text in files.items():
        write_atomic(out / name, text)
        say(f"{path}: wrote {out / name}")
