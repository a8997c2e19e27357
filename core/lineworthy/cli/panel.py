# SPDX-License-Identifier: MIT
"""``lineworthy panel``: plans how a board is built many-up."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

import shapely

from lineworthy.cli.command import CLEAN, FOUND, ReadBoard, file_stem, say, write_told
from lineworthy.cli.planning import declare_plan, planned_from
from lineworthy.errors import InputError
from lineworthy.model import Board
from lineworthy.plans.panel import plan
from lineworthy.plans.panel_plan import PanelPlan
from lineworthy.report import panel_dxf, panel_json, panel_questions, panel_svg, panel_text

_EXAMPLES = """\
examples:
  in short, on the terminal:
    lineworthy panel frost-alarm.kicad_pcb
  drawings, data, and questions to send to the manufacturer:
    lineworthy panel frost-alarm.kicad_pcb --out panel
  again, with what the manufacturer answered:
    lineworthy panel frost-alarm.kicad_pcb --out panel --sheet answers.toml

files in DIR, all named after the board:
  -panel-1.svg ...  a drawing of each proposed array, to scale with dimensions
  -panel-1.dxf ...  the same for the fabricator's tools
  -panel.json       the whole plan, with every place
  -panel-questions.toml   a form for the manufacturer; filled in, it is a capability sheet

Places are in mm from the array's lower left corner, x along the array, y up, seen from the top of the board.
The plan is a proposal to agree on: the manufacturer's own rules come first.

exit code: 0 an array is proposed, 1 none is possible within the sheet, 2 no plan could be made
"""


class PanelCommand:
    """The command, as the command line takes it."""

    name = "panel"
    help = "plan how a board is built many-up"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Plan how a board is built many-up and broken out."
        parser.epilog = _EXAMPLES
        declare_plan(parser, "drawings, data and questions")

    def run(self, options: argparse.Namespace) -> int:
        """Plans, tells, and writes."""
        inputs = planned_from(options, self._read)
        _refuse(inputs.board, options.board)
        made = plan(inputs.board, inputs.sheet, marks=inputs.marks, packages=inputs.packages)
        if options.out is not None:
            _write(made, options.out, options.board)
        sys.stdout.write(panel_text.render(made, width=shutil.get_terminal_size((100, 24)).columns))
        sys.stdout.flush()
        return CLEAN if made.arrays else FOUND


def _refuse(board: Board, path: str) -> None:
    """A plan needs one board with one closed edge."""
    if not board.outline.is_closed:
        raise InputError(path, "has no closed outline; draw the board edge as one closed loop")
    pieces = len(shapely.get_parts(board.outline.area))
    if pieces > 1:
        raise InputError(path, f"holds {pieces} outlines: it is a panel already, or several boards; plan one board")
    if not board.stackup.thickness > 0:
        raise InputError(path, "states no board thickness")


def _write(made: PanelPlan, out: Path, board: str) -> None:
    name, numbers = file_stem(board), range(1, len(made.arrays) + 1)
    files = {f"{name}-panel-{number}.svg": panel_svg.draw(made, number) for number in numbers}
    try:
        files.update({f"{name}-panel-{number}.dxf": panel_dxf.draw(made, number) for number in numbers})
    except panel_dxf.DxfMissingError as error:
        say(f"{board}: no DXF written, {error}")
    files[f"{name}-panel.json"] = panel_json.document(made)
    files[f"{name}-panel-questions.toml"] = panel_questions.form(made)
    write_told({out / name: text for name, text in files.items()}, board)
