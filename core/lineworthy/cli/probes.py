# SPDX-License-Identifier: MIT
"""``lineworthy probes``: plans the probes of a test fixture."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

from lineworthy.cli.command import CLEAN, FOUND, ReadBoard, file_stem, write_told
from lineworthy.cli.planning import declare_plan, planned_from
from lineworthy.errors import InputError
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
        declare_plan(parser, "table, map, data and netlist")
        sides = [side.value for side in Side]
        parser.add_argument("--side", choices=sides, help="where the probes are (default: where most nets are reached)")

    def run(self, options: argparse.Namespace) -> int:
        """Plans, tells, and writes."""
        inputs = planned_from(options, self._read)
        if not inputs.board.pads_by_net:
            raise InputError(options.board, "has no pad on a net: there is nothing to plan probes for")
        made = plan(
            inputs.board,
            inputs.sheet,
            nets=inputs.nets,
            marks=inputs.marks,
            packages=inputs.packages,
            side=Side(options.side) if options.side else None,
        )
        if options.out is not None:
            _write(inputs.board, made, options.out, options.board)
        sys.stdout.write(probe_text.render(made, width=shutil.get_terminal_size((100, 24)).columns))
        sys.stdout.flush()
        return FOUND if made.missed_keys else CLEAN


def _write(board: Board, made: ProbePlan, out: Path, path: str) -> None:
    name = file_stem(path)
    files = {
        f"{name}-probes.csv": probe_table.table(made),
        f"{name}-probes.json": probe_table.document(made),
        f"{name}-probes.svg": probe_map.draw(made),
        f"{name}.d356": netlist356.render(board),
    }
    write_told({out / name: text for name, text in files.items()}, path)
