# SPDX-License-Identifier: MIT
"""The command line: ``main(argv, read) -> exit code``. Knows no editor: the board reader is handed in.

Exit codes: 0 nothing at or over ``--fail-on``; 1 something was; 2 a board could not be reviewed.
The answer goes to standard output, everything said about the work to standard error.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

import lineworthy
from lineworthy.cli.command import CLEAN, FAILED, FOUND, Command, ReadBoard, complain
from lineworthy.cli.commands import commands
from lineworthy.errors import LineworthyError

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
    """Runs one command and gives the exit code; argparse itself exits with 2 on wrong usage.

    Args:
        argv: the arguments without the program's name.
        read: reads a board.
        further: commands that need more of an editor than a reader of its files.
    """
    known = {command.name: command for command in (*commands(read), *further)}
    options = _parser(list(known.values())).parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        # a terminal that cannot show a character of a board's text must not end the review
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = known[options.command].run(options)
        sys.stdout.flush()  # a full disk shows here, and not in a traceback at exit
        return code
    except LineworthyError as error:
        complain(error)
        return FAILED
    except BrokenPipeError:
        # whoever read our output has gone; keep the interpreter from complaining about it at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except OSError as error:
        complain(f"the output cannot be written: {error.strerror or error}")
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED


def _parser(known: Sequence[Command]) -> argparse.ArgumentParser:
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(
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
