# SPDX-License-Identifier: MIT
"""The command line: ``main(argv, read) -> exit code``. Knows no editor: the board reader is handed in.

Exit codes: 0 nothing at or over ``--fail-on``; 1 something was; 2 a board could not be reviewed.
The answer goes to standard output, everything said about the work to standard error.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Callable, Optional, Protocol

import lineworthy
from lineworthy.checks import CHECKS
from lineworthy.errors import InputError, LineworthyError
from lineworthy.files import write_atomic
from lineworthy.finding import Consequence
from lineworthy.model import Board
from lineworthy.progress import ProgressBar
from lineworthy.registry import SECTIONS
from lineworthy.report import FORMATS, html, text
from lineworthy.review import Review, find, review, select
from lineworthy.sheet import TIERS, Sheet, load

ReadBoard = Callable[[str, Callable[[float], None]], Board]
"""Reads a board file; calls back with the share read so far, 0 to 1. Raises InputError."""

CLEAN, FOUND, FAILED = 0, 1, 2


class Command(Protocol):
    """A further command, which needs more of an editor than a reader of its files."""

    name: str
    help: str

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""

    def run(self, options: argparse.Namespace) -> int:
        """Does it and gives the exit code. Raises LineworthyError for a line on standard error and exit code 2."""


NEVER = "never"

_EXAMPLES = """\
examples:
  lineworthy review frost-alarm.kicad_pcb
  lineworthy review *.kicad_pcb --format html --format json --out reports
  lineworthy review frost-alarm.kicad_pcb --sheet our-factory.toml --only fiducials
  lineworthy explain fiducials/too-few
  lineworthy sheet dense
"""

_REVIEW_EXAMPLES = """\
examples:
  the board as it is, on the terminal:
    lineworthy review frost-alarm.kicad_pcb
  a report to send around, and data for a script:
    lineworthy review frost-alarm.kicad_pcb --format html --format json --out reports
  against your factory's own limits, leaving one area and one check out:
    lineworthy review frost-alarm.kicad_pcb --sheet our-factory.toml --skip supply --skip panel/small-board-unplanned
  as a gate that lets queries through but no hold:
    lineworthy review hardware/*.kicad_pcb --fail-on hold

exit code: 0 nothing at or over --fail-on, 1 something was, 2 a board could not be reviewed
"""


def main(argv: Sequence[str], read: ReadBoard, commands: Sequence[Command] = ()) -> int:
    """Runs one command and gives the exit code; argparse itself exits with 2 on wrong usage.

    Args:
        argv: the arguments without the program's name.
        read: reads a board.
        commands: further commands.
    """
    options = _parser(commands).parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        # a terminal that cannot show a character of a board's text must not end the review
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = _run(options, read, commands)
        sys.stdout.flush()  # a full disk shows here, and not in a traceback at exit
        return code
    except LineworthyError as error:
        _complain(error)
        return FAILED
    except BrokenPipeError:
        # whoever read our output has gone; keep the interpreter from complaining about it at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except OSError as error:
        _complain(f"the output cannot be written: {error.strerror or error}")
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED


def _run(options: argparse.Namespace, read: ReadBoard, commands: Sequence[Command]) -> int:
    if options.command == "review":
        return _review(options, read)
    if options.command == "explain":
        return _explain(options.check)
    further = {command.name: command for command in commands}
    if options.command in further:
        return further[options.command].run(options)
    return _sheet(options.sheet)


def _parser(further: Sequence[Command] = ()) -> argparse.ArgumentParser:
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(
        prog="lineworthy",
        description="The production-release review for printed circuit boards.",
        epilog=_EXAMPLES,
        formatter_class=raw,
    )
    parser.add_argument("--version", action="version", version=f"lineworthy {lineworthy.__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    command = commands.add_parser(
        "review", help="review boards", description="Review boards.", epilog=_REVIEW_EXAMPLES, formatter_class=raw
    )
    command.add_argument("boards", nargs="+", metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
    command.add_argument(
        "--sheet",
        default="standard",
        metavar="F",
        help=f"capability sheet: {', '.join(TIERS)} or a TOML file (default: standard)",
    )
    command.add_argument("--only", action="append", default=[], metavar="NAME", help="an area or check; repeatable")
    command.add_argument("--skip", action="append", default=[], metavar="NAME", help="an area or check; repeatable")
    command.add_argument(
        "--format", action="append", choices=list(FORMATS), help="repeatable (default: text)", dest="formats"
    )
    command.add_argument("--out", type=Path, metavar="DIR", help="write one file per board and format into DIR")
    command.add_argument(
        "--fail-on",
        choices=[c.value for c in Consequence] + [NEVER],
        default=Consequence.HOLD.value,
        help="the mildest consequence that makes the exit code 1 (default: hold)",
    )

    for more in further:
        more.declare(commands.add_parser(more.name, help=more.help, formatter_class=raw))

    command = commands.add_parser("explain", help="what a check asks, why, and what to do")
    command.add_argument("check", nargs="?", metavar="CHECK", help="its id; without one, all checks are listed")

    command = commands.add_parser("sheet", help="print the capability sheet in force, or validate one")
    command.add_argument("sheet", nargs="?", default="standard", metavar="F", help=f"{', '.join(TIERS)} or a TOML file")
    return parser


def _review(options: argparse.Namespace, read: ReadBoard) -> int:
    if "" in (options.sheet, *options.boards):
        raise LineworthyError("a file name is empty")
    sheet = load(options.sheet)
    # a misspelt name must not wait until a big board is read, and nothing asked must not read as nothing found
    if not select(CHECKS, options.only, options.skip):
        raise LineworthyError("--only and --skip leave no check to ask")
    formats: list[str] = list(dict.fromkeys(options.formats or ["text"]))
    if options.out is not None and options.out.exists() and not options.out.is_dir():
        raise InputError(str(options.out), "cannot be written into: a file, not a folder")
    if options.out is None and (len(formats) > 1 or (len(options.boards) > 1 and formats != ["text"])):
        raise LineworthyError("more than one report to write: say where with --out DIR")
    names = _report_names(options.boards)
    code = CLEAN
    written: list[tuple[str, Review]] = []
    for path, name in zip(options.boards, names):
        try:
            result = _review_one(path, sheet, options, read)
            if options.out is None:
                sys.stdout.write(_rendered(result, formats[0]))
                sys.stdout.flush()
            for format_name in formats if options.out is not None else ():
                target = options.out / f"{name}{FORMATS[format_name].suffix}"
                write_atomic(target, FORMATS[format_name].render(result))
                _say(f"{path}: wrote {target}")
        except InputError as error:
            _complain(error)
            code = FAILED
            continue
        written.append((name, result))
        if options.out is not None:
            _say(f"{path}: {result.verdict}")
        for crash in result.crashed:
            _complain(f"{path}: {crash.check} failed ({crash.error}); this is a fault of lineworthy, please report it")
        code = max(code, _exit_code(result, options.fail_on))
    if options.out is not None and "html" in formats and len(written) > 1:
        target = options.out / "index.html"
        write_atomic(target, html.index([(f"{name}{FORMATS['html'].suffix}", result) for name, result in written]))
        _say(f"wrote {target}")
    return code


def _review_one(path: str, sheet: Sheet, options: argparse.Namespace, read: ReadBoard) -> Review:
    bar = ProgressBar(sys.stderr)
    try:
        board = read(path, lambda share: bar.show(share / 2, f"reading {Path(path).name}"))
        return review(
            board,
            sheet,
            only=options.only,
            skip=options.skip,
            progress=lambda done, total, check_id: bar.show(0.5 + done / total / 2, check_id),
        )
    finally:
        bar.clear()


def _rendered(result: Review, format_name: str) -> str:
    if format_name != "text":
        return FORMATS[format_name].render(result)
    colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    return text.render(result, colour=colour, width=shutil.get_terminal_size((100, 24)).columns)


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
        stem = name = "".join(c if c.isprintable() else "_" for c in Path(path).stem) or "board"
        number = 2
        while name in taken:
            name, number = f"{stem}-{number}", number + 1
        taken.add(name)
        names.append(name)
    return names


def _explain(check_id: Optional[str]) -> int:
    width = min(shutil.get_terminal_size((100, 24)).columns, 100)
    if check_id is None:
        for item in CHECKS:
            what = textwrap.shorten(item.help.what, max(width - 38, 30), placeholder=" ...")
            print(f"{item.id:36}  {what}")
        return CLEAN
    item = find(check_id)
    print(item.id)
    print(textwrap.fill(item.help.what, width))
    for title in SECTIONS:
        print(f"\n{title}")
        print(textwrap.fill(item.help.sections[title], width, initial_indent="  ", subsequent_indent="  "))
    if item.limits:
        print("\nLimits (standard sheet)")
        entries = {entry.key: entry for entry in load("standard").entries()}
        for key in item.limits:
            print(f"  {key} = {entries[key].value:g}  [{entries[key].source}]")
    return CLEAN


def _sheet(source: str) -> int:
    sheet = load(source)
    print(f"[sheet]\nname = {_toml_text(sheet.name)}")
    area = ""
    for entry in sheet.entries():
        if entry.key.split(".")[0] != area:
            area = entry.key.split(".")[0]
            print(f"\n[{area}]")
        print(f"# {entry.meaning}; from the sheet: {_one_line(entry.sheet)}")
        value = f"{entry.value:d}" if isinstance(entry.value, int) else f"{entry.value:g}"
        print(f"{entry.key.split('.')[1]} = {{ value = {value}, source = {_toml_text(entry.source)} }}")
    return CLEAN


def _toml_text(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04X}" for c in escaped) + '"'


def _one_line(value: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in value)


def _complain(error: object) -> None:
    _say(f"lineworthy: {error}")


def _say(line: str) -> None:
    """About the work, on standard error: one line, whatever the file's name holds."""
    print(_one_line(line), file=sys.stderr)
