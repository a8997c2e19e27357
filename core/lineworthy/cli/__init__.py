# SPDX-License-Identifier: MIT
"""The command line: ``main(argv, read) -> exit code``. Knows no editor: the board reader is handed in.

Exit codes: 0 yes; 1 the answer asks for a person; 2 there is no answer. Each command says what that means for it.
The answer goes to standard output, everything said about the work to standard error.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Callable, NoReturn

import lineworthy
from lineworthy.beside import passed_over
from lineworthy.cli.command import (
    CLEAN,
    FAILED,
    FOUND,
    INTERRUPTED,
    PIPE_CLOSED,
    Command,
    ReadBoard,
    complain,
    say,
)
from lineworthy.cli.commands import commands
from lineworthy.errors import LineworthyError
from lineworthy.model import Board

__all__ = ["CLEAN", "FAILED", "FOUND", "Command", "ReadBoard", "main"]

_EXAMPLES = """\
examples:
  lineworthy review frost-alarm.kicad_pcb
  lineworthy review *.kicad_pcb --format html --format json --out reports
  lineworthy review frost-alarm.kicad_pcb --sheet our-factory.toml --only fiducials
  lineworthy explain fiducials/too-few
  lineworthy sheet dense

lineworthy COMMAND --help says more about each.
"""


def main(argv: Sequence[str], read: ReadBoard, further: Sequence[Command] = ()) -> int:
    """Runs one command and gives the exit code; argparse itself exits with 0 when it has printed a help.

    Args:
        argv: the arguments without the program's name.
        read: reads a board.
        further: commands that need more of an editor than a reader of its files.
    """
    _prepare_streams()
    try:
        try:
            code = _run(argv, {command.name: command for command in (*commands(_telling(read)), *further)})
        except LineworthyError as error:
            complain(error)
            code = FAILED
        sys.stdout.flush()  # a full disk shows here, and not in a traceback at exit
        return code
    except BrokenPipeError:
        _close_streams()
        return PIPE_CLOSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except OSError as error:
        complain(f"the output cannot be written: {error.strerror or error}")
        _close_streams()
        return FAILED


def _run(argv: Sequence[str], known: Mapping[str, Command]) -> int:
    try:
        options = _parser(list(known.values())).parse_args(argv)
    except SystemExit:
        sys.stdout.flush()  # the help, to a reader who may have gone
        raise
    return known[options.command].run(options)


def _telling(read: ReadBoard) -> ReadBoard:
    """Says on standard error what the reader doubts of a board, and what beside it looks like its settings."""

    def told(path: str, progress: Callable[[float], None]) -> Board:
        board = read(path, progress)
        if board.format_doubt:
            say(f"{path}: {board.format_doubt}")
        for line in passed_over(Path(path)):
            say(f"{path}: {line}")
        return board

    return told


def _prepare_streams() -> None:
    """Neither a stream that was closed nor a character that a terminal cannot show must end a review."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _close_streams() -> None:
    """Whoever read our output has gone: keeps the interpreter from complaining about it at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
        with contextlib.suppress(OSError, ValueError):
            os.dup2(nowhere, stream.fileno())


class _Parser(argparse.ArgumentParser):
    """Tells wrong usage in one line, as every other fault is told."""

    def error(self, message: str) -> NoReturn:
        """Called by argparse with what is wrong."""
        raise LineworthyError(f"{message} ('{self.prog} --help' says what there is)")


def _parser(known: Sequence[Command]) -> argparse.ArgumentParser:
    raw = argparse.RawDescriptionHelpFormatter
    parser = _Parser(
        prog="lineworthy",
        description="The production-release review for printed circuit boards.",
        epilog=_EXAMPLES,
        formatter_class=raw,
    )
    parser.add_argument("--version", action="version", version=f"lineworthy {lineworthy.__version__}")
    every = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in known:
        command.declare(every.add_parser(command.name, help=command.help, formatter_class=raw))
    return parser
