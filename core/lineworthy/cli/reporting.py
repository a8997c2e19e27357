# SPDX-License-Identifier: MIT
"""Reviews to reports: the options, the files, the exit code. Shared by every command that reviews."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Optional

from lineworthy.cli.command import CLEAN, FAILED, FOUND, complain, file_path, file_stem, say, write_told
from lineworthy.errors import LineworthyError
from lineworthy.files import check_folder
from lineworthy.finding import Consequence
from lineworthy.report import FORMATS, html, text
from lineworthy.review import Review

NEVER = "never"


def declare_report(parser: argparse.ArgumentParser) -> None:
    """The options of every command that reports a review: format, place, and what makes the exit code 1."""
    parser.add_argument(
        "--format", action="append", choices=list(FORMATS), help="repeatable (default: text)", dest="formats"
    )
    parser.add_argument("--out", type=file_path, metavar="DIR", help="write one file per board and format into DIR")
    parser.add_argument(
        "--fingerprints", action="store_true", help="name each finding's fingerprint in the text, to concede it"
    )
    parser.add_argument(
        "--fail-on",
        choices=[c.value for c in Consequence] + [NEVER],
        default=Consequence.HOLD.value,
        help="the mildest consequence that makes the exit code 1 (default: hold)",
    )


class Reports:
    """Where the reviews of some boards go, as the options say.

    Raises:
        LineworthyError: the options do not say where, or the place cannot be written into.
    """

    def __init__(self, options: argparse.Namespace, boards: Sequence[str]) -> None:
        self._out: Optional[Path] = options.out
        self._fail_on: str = options.fail_on
        self._fingerprints: bool = options.fingerprints
        self._formats: list[str] = list(dict.fromkeys(options.formats or ["text"]))
        if self._out is not None:
            check_folder(self._out)
        if self._out is None and (len(self._formats) > 1 or (len(boards) > 1 and self._formats != ["text"])):
            raise LineworthyError("more than one report to write: say where with --out DIR")
        self._names = iter(_report_names(boards))
        self._rows: list[str] = []  # of the index; reviews are not kept, as each holds a whole board

    def skip(self) -> None:
        """Passes over a board that could not be reviewed."""
        next(self._names)

    def put(self, path: str, result: Review) -> int:
        """Reports the review of the next board; gives the exit code.

        Raises:
            InputError: a report cannot be written.
        """
        name = next(self._names)
        if self._out is None:
            sys.stdout.write(self._on_terminal(result, self._formats[0]))
            sys.stdout.flush()
        else:
            suffixes = {format_name: FORMATS[format_name].suffix for format_name in self._formats}
            files = {self._out / f"{name}{end}": self._rendered(result, kind) for kind, end in suffixes.items()}
            write_told(files, path)
            say(f"{path}: {result.verdict}")
            if "html" in suffixes:
                self._rows.append(html.index_row(f"{name}{suffixes['html']}", result))
        for crash in result.crashed:
            complain(f"{path}: {crash.check} failed ({crash.error}); this is a fault of lineworthy, please report it")
        return _exit_code(result, self._fail_on)

    def _rendered(self, result: Review, format_name: str) -> str:
        if format_name == "text":
            return text.render(result, fingerprints=self._fingerprints)
        return FORMATS[format_name].render(result)

    def _on_terminal(self, result: Review, format_name: str) -> str:
        if format_name != "text":
            return self._rendered(result, format_name)
        colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
        width = shutil.get_terminal_size((100, 24)).columns
        return text.render(result, colour=colour, width=width, fingerprints=self._fingerprints)

    def close(self) -> None:
        """Writes the index of several HTML reports."""
        if self._out is not None and len(self._rows) > 1:
            write_told({self._out / "index.html": html.index(self._rows)})


def _exit_code(result: Review, fail_on: str) -> int:
    if result.crashed:
        return FAILED
    if fail_on == NEVER:
        return CLEAN
    bar = Consequence(fail_on).rank
    return FOUND if any(f.consequence.rank <= bar for f in result.findings) else CLEAN


def _report_names(boards: Sequence[str]) -> list[str]:
    """A file stem for each board; boards of one name in several folders get a number."""
    names: list[str] = []
    taken: set[str] = {"index"}
    for path in boards:
        stem = name = file_stem(path)
        number = 2
        while name in taken:
            name, number = f"{stem}-{number}", number + 1
        taken.add(name)
        names.append(name)
    return names
