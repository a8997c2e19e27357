# SPDX-License-Identifier: MIT
"""``lineworthy amend``: inserts what is missing into a board file, after proving that it helps and harms nothing."""

from __future__ import annotations

import argparse
import difflib
import os
import sys
from pathlib import Path
from typing import Optional

from lineworthy.amend import Amendment, FiducialMark, MarkingText, Offer, ProbePad, Wanted, amended, offer
from lineworthy.beside import Beside, passed_over, settings_of
from lineworthy.cli.command import CLEAN, FAILED, FOUND, declare_sheet, file_name, file_path, say
from lineworthy.cli.inputs import sheet_of
from lineworthy.cli.planning import say_astray
from lineworthy.errors import LineworthyError
from lineworthy.files import check_file, write_all
from lineworthy.finding import Place
from lineworthy.inputs import Inputs
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.wording import listed
from lineworthy.model import Board
from lineworthy.progress import ProgressBar
from lineworthy.report import before_after
from lineworthy.safe import visible
from lineworthy.sheet import Sheet
from lineworthy_kicad.hosts.file_host import FileHost
from lineworthy_kicad.hosts.write import written
from lineworthy_kicad.reader import parse_board, read_board
from lineworthy_kicad.reader.text_extents import measure

TITLE_BLOCK = ""
"""The revision as the title block gives it."""

KEY_NETS = "key"
"""Stands for every net that production test needs and no probe reaches."""

_EXAMPLES = """\
examples:
  what would be inserted, and a picture of the board before and after:
    lineworthy amend frost-alarm.kicad_pcb --fiducials --revision --ground-pad --dry-run --picture amended.html
  fiducials, and the title block's revision as a text that follows it, into a new file:
    lineworthy amend frost-alarm.kicad_pcb --fiducials --revision -o amended/frost-alarm.kicad_pcb
  a revision in plain words; probe pads on two nets; the file itself, which keeps a numbered copy:
    lineworthy amend frost-alarm.kicad_pcb --revision B --test-pads +3V3,/SDA --in-place
  a probe pad on every net that test needs and cannot reach, and guide holes for the fixture:
    lineworthy amend frost-alarm.kicad_pcb --test-pads key --tooling-holes -o amended/frost-alarm.kicad_pcb

Afterwards open the board in the editor, fill all zones, run its rule check, and look at what was inserted.

exit code: 0 everything wanted is there, 1 something could not be placed (the reason is said, the rest is written),
2 no board was written: something given cannot be used, or nothing could be placed
"""


class AmendCommand:
    """The command, as the core's command line takes it."""

    name = "amend"
    help = "insert fiducials, the revision, probe pads, tooling holes into a board file"

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Insert what is missing into a board file. The file is only ever added to."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        parser.add_argument("--fiducials", action="store_true", help="alignment marks on each side placed by machine")
        parser.add_argument(
            "--revision",
            nargs="?",
            const=TITLE_BLOCK,
            metavar="TEXT",
            help="part number and revision on the legend where they are missing; TEXT instead of the title block's",
        )
        parser.add_argument("--name", default="", metavar="TEXT", help="the part number or name --revision prints")
        parser.add_argument("--ground-pad", action="store_true", help="a probe pad on ground")
        parser.add_argument(
            "--test-pads",
            action="append",
            default=[],
            metavar="NETS",
            help=f"probe pads on nets, by commas or repeated; {KEY_NETS!r} for all that test needs and cannot reach",
        )
        parser.add_argument("--tooling-holes", action="store_true", help="guide holes for a test fixture")
        parser.add_argument("-o", "--out", type=file_path, metavar="OUT", help="the board file to write")
        parser.add_argument("--in-place", action="store_true", help="add to BOARD itself and keep a numbered copy")
        declare_sheet(parser)
        parser.add_argument("--dry-run", action="store_true", help="say what would be inserted, write no board")
        parser.add_argument(
            "--picture",
            type=file_path,
            metavar="FILE",
            help="draw the board before and after as HTML (default: OUT.html)",
        )

    def run(self, options: argparse.Namespace) -> int:
        """Plans, proves, draws, writes, tells; raises LineworthyError when nothing can be written."""
        picture = options.picture or (options.out and options.out.parent / f"{options.out.stem}.html")
        _check(options, picture)
        beside = settings_of(Path(options.board))
        sheet = sheet_of(options, beside)
        host = FileHost(options.board, options.out)
        board = beside.measured(_read(host))
        if board.format_doubt:
            say(f"{options.board}: {board.format_doubt}")
        for line in passed_over(Path(options.board)):
            say(f"{options.board}: {line}")
        say_astray(beside.project, board)
        made = _offer(board, sheet, _wanted(board, sheet, options, beside), beside)
        if options.picture or (picture and made.amendments):
            host.also[picture] = _picture(board, made)
        if made.amendments and not options.dry_run:
            host.apply(made.amendments, "Lineworthy")
        else:
            write_all(host.also)
        _tell(made, options.dry_run)
        for path in host.also:
            say(f"wrote {path}")
        if options.dry_run:
            for item in written(made.amendments, host.document().text):
                print(visible_lines(item.node))
        elif made.amendments:
            _say_written(host)
        else:
            say(f"nothing {'could be inserted' if made.refusals else 'to insert'}; no board written")
        if not made.refusals:
            return CLEAN
        return FOUND if made.amendments else FAILED


def _tell(made: Offer, is_dry_run: bool) -> None:
    for amendment in made.amendments:
        print(f"{'would insert' if is_dry_run else 'insert'}: {_described(amendment)}")
    for finding in made.proof.gone:
        print(f"  answers: {visible(finding.message)}")
    for refusal in made.refusals:
        print(f"not possible: {visible(refusal.wanted)}: {visible(refusal.reason)}")


def _check(options: argparse.Namespace, picture: Optional[Path]) -> None:
    """Everything that can be known to be wrong before the board is read."""
    pads = options.ground_pad or options.test_pads
    if not (options.fiducials or options.revision is not None or pads or options.tooling_holes):
        raise LineworthyError("nothing asked for: --fiducials, --revision, --ground-pad, --test-pads, --tooling-holes")
    if not options.dry_run and (options.out is None) is not bool(options.in_place):
        raise LineworthyError("say where to write: either -o OUT or --in-place (or --dry-run to write nothing)")
    board, out, drawn = (path and os.path.realpath(path) for path in (options.board, options.out, picture))
    if out == board:
        raise LineworthyError("OUT is the board itself: use --in-place, which keeps a copy")
    if drawn in (board, out) and drawn:
        raise LineworthyError(f"{picture}: the picture would take the place of the board")
    amended = () if options.dry_run else (Path(options.board) if options.in_place else options.out,)
    for path in filter(None, (*amended, picture)):
        check_file(path)


def _read(host: FileHost) -> Board:
    bar = ProgressBar(sys.stderr)
    try:
        if not host.path.is_file():
            return read_board(host.path)  # raises, and says what is wrong with the path
        document = host.document()
        return parse_board(
            document.text,
            document.name,
            document.path,
            document.project,
            lambda share: bar.show(share / 2, f"reading {document.name}"),
        )
    finally:
        bar.clear()


def _wanted(board: Board, sheet: Sheet, options: argparse.Namespace, beside: Beside) -> Wanted:
    nets: list[str] = []
    for given in options.test_pads:
        if given in board.pads_by_net:  # a net's name may hold commas
            nets.append(given)
        elif given == KEY_NETS:
            nets += _unreached(board, sheet, beside)
        else:
            nets += [name.strip() for name in given.split(",") if name.strip()]
    _check_nets(board, nets)
    return Wanted(
        fiducials=options.fiducials,
        revision=options.revision is not None,
        revision_text=options.revision or "",
        name_text=options.name,
        ground_pad=options.ground_pad,
        test_pads=tuple(nets),
        tooling_holes=options.tooling_holes,
    )


def _check_nets(board: Board, nets: list[str]) -> None:
    """A name that is mistyped is wrong usage, and nothing that could not be placed."""
    missing = [name for name in nets if name not in board.pads_by_net]
    if missing:
        near = difflib.get_close_matches(missing[0], sorted(board.pads_by_net), n=1)
        hint = f" (nearest to the first is {quoted(near[0])})" if near else ""
        raise LineworthyError(visible(f"{board.path}: no pad is on a net called {listed(map(quoted, missing))}{hint}"))


def _unreached(board: Board, sheet: Sheet, beside: Beside) -> list[str]:
    """The nets that production test needs and no probe reaches."""
    inputs, need = Inputs(board, sheet, beside), sheet.test_access.target_min_mm
    return [key.facts.name for key in inputs.nets.keys if not inputs.targets.reach(key.facts.name, need)]


def _offer(board: Board, sheet: Sheet, wanted: Wanted, beside: Beside) -> Offer:
    bar = ProgressBar(sys.stderr)
    try:
        bar.show(0.5, "placing")
        return offer(
            board,
            sheet,
            wanted,
            measure,
            beside=beside,
            progress=lambda done, total, check: bar.show(0.5 + done / total / 2, check),
        )
    finally:
        bar.clear()


def _described(amendment: Amendment) -> str:
    x, y = amendment.at
    return f"{visible(amendment.title)}, at x {x:.2f}, y {-y:.2f} of the document"


def _picture(board: Board, made: Offer) -> str:
    inserted = [(_described(amendment), _place(amendment)) for amendment in made.amendments]
    refused = [(refusal.wanted, refusal.reason) for refusal in made.refusals]
    return before_after.render(board, amended(board, made.amendments, measure), inserted, refused)


def _place(amendment: Amendment) -> Place:
    side = amendment.side if isinstance(amendment, (FiducialMark, MarkingText, ProbePad)) else None
    return Place(amendment.at, side, amendment.title)


def _say_written(host: FileHost) -> None:
    say(f"wrote {host.out or host.path}")
    if host.kept is not None:
        say(f"the board as it was: {host.kept}")
    say("open it in the editor and fill all zones: pours give way to what was inserted")


def visible_lines(text: str) -> str:
    """Several lines for a terminal, each made visible."""
    return "\n".join(visible(line) for line in text.split("\n"))
