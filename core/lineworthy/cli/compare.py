# SPDX-License-Identifier: MIT
"""``lineworthy compare``: what differs between two boards, as far as it gets made."""

from __future__ import annotations

import argparse
import json
from typing import Any, Optional

from lineworthy.cli.command import (
    CLEAN,
    FOUND,
    ReadBoard,
    file_name,
    file_path,
    file_stem,
    read_with_bar,
    write_told,
)
from lineworthy.files import check_folder
from lineworthy.finding import Place
from lineworthy.release.changes import Change, changes_of
from lineworthy.release.record import record
from lineworthy.report import before_after
from lineworthy.safe import visible
from lineworthy.shapes import Point

_EXAMPLES = """\
examples:
  lineworthy compare frost-alarm-a.kicad_pcb frost-alarm-b.kicad_pcb
  lineworthy compare old/frost-alarm.kicad_pcb frost-alarm.kicad_pcb --out reports

exit code: 0 both make the same product, 1 they differ, 2 a board could not be read
"""


class CompareCommand:
    """The command, as the command line takes it."""

    name = "compare"
    help = "what differs between two boards, as far as it gets made"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Tell what differs between two boards, as far as it gets made."
        parser.epilog = _EXAMPLES
        parser.add_argument("old", type=file_name, metavar="OLD", help="a .kicad_pcb file, format 6 or newer")
        parser.add_argument("new", type=file_name, metavar="NEW", help="the board to compare with it")
        parser.add_argument("--format", choices=["text", "json"], default="text", help="(default: text)")
        parser.add_argument("--out", type=file_path, metavar="DIR", help="write a page with a picture into DIR as well")

    def run(self, options: argparse.Namespace) -> int:
        """Reads both boards, tells and draws the differences."""
        if options.out is not None:
            check_folder(options.out)
        old = read_with_bar(self._read, options.old, 0.5)
        new = read_with_bar(self._read, options.new)
        before = record(old)
        found, origin = changes_of(before, new)
        if options.out is not None:
            told = [(change.message, change.place(origin)) for change in found]
            target = options.out / f"{file_stem(options.new)}-changes.html"
            write_told({target: before_after.changes(old, new, told)})
        if options.format == "json":
            print(_json(options, before.digest, record(new).digest, found, origin))
        else:
            for change in found:
                print(f"{visible(change.message)}{_at(change)}")
            if not found:
                print("no difference: both boards make the same product")
        return FOUND if found else CLEAN


def _at(change: Change) -> str:
    if change.at is None:
        return ""
    side = f", {change.side.value}" if change.side else ""
    return f"  [{change.at[0]:.2f}, {change.at[1]:.2f}{side}]"


def _json(options: argparse.Namespace, old: str, new: str, found: tuple[Change, ...], origin: Point) -> str:
    document = {
        "format": "lineworthy-changes",
        "version": 1,
        "old": {"path": options.old, "digest": old},
        "new": {"path": options.new, "digest": new},
        "changes": [{"message": change.message, "place": _place(change.place(origin))} for change in found],
    }
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "replace").decode("utf-8")


def _place(place: Optional[Place]) -> Any:
    if place is None:
        return None
    return {"x_mm": place.at[0], "y_mm": place.at[1], "side": place.side.value if place.side else None}
