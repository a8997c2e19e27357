# SPDX-License-Identifier: MIT
"""``lineworthy identity``: what a board says it is, and the revision that comes next."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from lineworthy.cli.command import CLEAN, FOUND, ReadBoard, file_name, read_with_bar
from lineworthy.errors import LineworthyError
from lineworthy.knowledge.agreement import revision_in_file_name
from lineworthy.knowledge.legible import backwards
from lineworthy.knowledge.naming import plain
from lineworthy.knowledge.printed import IdentityMarking, Printed
from lineworthy.knowledge.revisions import next_revision
from lineworthy.model import Side
from lineworthy.safe import visible

_EXAMPLES = """\
examples:
  every text that names the board or gives its revision, and where it is:
    lineworthy identity frost-alarm.kicad_pcb
  the revision to come, for a script that counts it up:
    lineworthy identity frost-alarm.kicad_pcb --next

exit code: 0 name and revision are printed, 1 one of them is not, 2 the board could not be read, or with --next it has
no revision that can be counted on
"""


class IdentityCommand:
    """The command, as the command line takes it."""

    name = "identity"
    help = "what a board says it is, and the revision that comes next"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Show what names a board and gives its revision, and the revision that comes next."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        parser.add_argument("--next", action="store_true", help="print only the revision that comes next")

    def run(self, options: argparse.Namespace) -> int:
        """Prints what is known; LineworthyError where the next revision is asked for and there is none."""
        printed = Printed(read_with_bar(self._read, options.board))
        current = _current(printed)
        if options.next:
            if not current:
                raise LineworthyError("the board gives no revision, neither in its title block nor in print")
            try:
                print(visible(next_revision(current)))
            except ValueError as error:
                raise LineworthyError(f"no next revision: {visible(str(error))}") from None
            return CLEAN
        for line in _lines(printed, current):
            print(line)
        said = any(i.names for i in printed.identity) and any(i.revisions for i in printed.identity)
        return CLEAN if said else FOUND


def _current(printed: Printed) -> str:
    """The title block's revision, else the first that is printed."""
    read = [revision.value for item in printed.identity for revision in item.revisions]
    return printed.stated_revision or next(iter(read), "")


def _lines(printed: Printed, current: str) -> Iterator[str]:
    rows = [
        ("called", ", ".join(printed.names)),
        ("title block", f"revision {printed.stated_revision}" if printed.stated_revision else "no revision"),
    ]
    in_name = revision_in_file_name(printed.file_name)
    rows += [("file name", f"revision {in_name}")] if in_name else []
    rows += [_row(item) for item in printed.identity] or [("printed", "nothing that names the board")]
    try:
        rows.append(("next revision", next_revision(current) if current else "A is the first"))
    except ValueError as error:
        rows.append(("next revision", f"unknown: {error}"))
    for what, said in rows:
        yield f"{what:<14} {visible(plain(said))}"


def _row(item: IdentityMarking) -> tuple[str, str]:
    marking = item.marking
    gives = ["name"] if item.names else []
    gives += [f"revision {revision.value}" for revision in item.revisions]
    gives += ["reads backwards"] if backwards(marking) else []
    side = marking.layer.side or Side.TOP
    return side.value, f"{marking.layer.name}: {plain(marking.text)} ({', '.join(gives)})"
