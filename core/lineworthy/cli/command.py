# SPDX-License-Identifier: MIT
"""What a command of the command line is, and what all commands share."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Callable, Protocol

from lineworthy.files import write_all
from lineworthy.model import Board
from lineworthy.progress import ProgressBar
from lineworthy.sheet import TIERS

ReadBoard = Callable[[str, Callable[[float], None]], Board]
"""Reads a board file; calls back with the share read so far, 0 to 1. Raises InputError."""

CLEAN, FOUND, FAILED = 0, 1, 2
"""Exit codes: yes; the answer asks for a person; there is no answer, because something given cannot be used."""

PIPE_CLOSED, INTERRUPTED = 141, 130
"""Exit codes when the reader of our output has gone, and on Ctrl+C: those a shell reports for such a signal."""


class Command(Protocol):
    """One command. A command that needs a board is made with the function that reads one."""

    name: str
    help: str

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its description, examples and arguments."""

    def run(self, options: argparse.Namespace) -> int:
        """Does it and gives the exit code. Raises LineworthyError for a line on standard error and exit code 2."""


def file_name(text: str) -> str:
    """The name of a file or folder as an argument's value; an empty one would stand for the folder one works in."""
    if not text.strip():
        raise argparse.ArgumentTypeError("a file name is empty")
    return text


def file_path(text: str) -> Path:
    """The same as a path."""
    return Path(file_name(text))


def declare_sheet(parser: argparse.ArgumentParser) -> None:
    """The option ``--sheet``; None where not given, so that the project's settings can say."""
    parser.add_argument(
        "--sheet",
        type=file_name,
        metavar="F",
        help=f"capability sheet: {', '.join(TIERS)} or a TOML file (default: the project's settings, or standard)",
    )


def read_with_bar(read: ReadBoard, path: str, share: float = 1.0) -> Board:
    """Reads a board with a progress bar on standard error that fills up to `share`."""
    bar = ProgressBar(sys.stderr)
    try:
        return read(path, lambda done: bar.show(done * share, f"reading {Path(path).name}"))
    finally:
        bar.clear()


def complain(error: object) -> None:
    """An error, on standard error."""
    say(f"lineworthy: {error}")


def say(line: str) -> None:
    """About the work, on standard error: one line, whatever the file's name holds."""
    over_bar = "\r\033[K" if sys.stderr.isatty() else ""  # a progress bar may stand there
    print(f"{over_bar}{one_line(line)}", file=sys.stderr)


def file_stem(board: str) -> str:
    """What files about a board are named after: its own file, without characters that cannot be seen."""
    return "".join(c if c.isprintable() else "_" for c in Path(board).stem) or "board"


def write_told(files: Mapping[Path, str], board: str = "") -> None:
    """Writes files that belong together, all or none, and says each."""
    write_all(files)
    for path in files:
        say(f"{board}: wrote {path}" if board else f"wrote {path}")


def one_line(value: str) -> str:
    """Text with every character that a terminal would act on replaced."""
    return "".join(c if c.isprintable() else "?" for c in value)
