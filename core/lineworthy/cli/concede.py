# SPDX-License-Identifier: MIT
"""``lineworthy concede``: puts a person's acceptance of a finding on file beside the board, or takes it off."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

from lineworthy import concessions
from lineworthy.cli.command import CLEAN, ReadBoard, file_name, say
from lineworthy.cli.inputs import check_inputs, day, declare_inputs, gathered, sheet_of
from lineworthy.concessions import Concession, Key
from lineworthy.errors import InputError, LineworthyError
from lineworthy.finding import Finding
from lineworthy.progress import ProgressBar
from lineworthy.report.facts import accepted_by
from lineworthy.review import Review, review
from lineworthy.safe import visible

PREFIX_MIN = 4

_PREFIX = re.compile(rf"[0-9a-f]{{{PREFIX_MIN},16}}\Z")

_EXAMPLES = """\
examples:
  find the fingerprint:
    lineworthy review frost-alarm.kicad_pcb --fingerprints
  accept a finding for this revision of the board; the first digits are enough where they are clear:
    lineworthy concede frost-alarm.kicad_pcb 3f9a --reason "placed by hand, five boards" --name "R. Novak"
  accept it until a day, whatever the revision:
    lineworthy concede frost-alarm.kicad_pcb 3f9a --reason "stock is used up" --name "R. Novak" --expires 2027-06-30
  think better of it:
    lineworthy concede frost-alarm.kicad_pcb 3f9a --withdraw

The board is reviewed as `lineworthy review` does it; give the same options. The file is frost-alarm.concessions.toml
beside the board: put it under version control with it.

exit code: 0 done, 2 nothing was written
"""


class ConcedeCommand:
    """The command, as the command line takes it."""

    name = "concede"
    help = "accept findings, with a reason and a name"

    def __init__(self, read: ReadBoard) -> None:
        self._read = read

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Accept findings, with a reason and a name."
        parser.epilog = _EXAMPLES
        parser.add_argument("board", type=file_name, metavar="BOARD", help="a .kicad_pcb file, format 6 or newer")
        parser.add_argument("fingerprints", nargs="+", metavar="FINGERPRINT", help="of the finding, or how it begins")
        parser.add_argument("--reason", metavar="TEXT", help="why it is accepted")
        parser.add_argument("--name", metavar="NAME", help="who accepts it")
        parser.add_argument("--expires", type=day, metavar="DATE", help="the last day it holds, instead of a revision")
        parser.add_argument("--withdraw", action="store_true", help="take the concession off the file")
        declare_inputs(parser)

    def run(self, options: argparse.Namespace) -> int:
        """Reviews the board to know what is accepted, and writes the file."""
        check_inputs(options, [options.board])
        for prefix in options.fingerprints:
            if not _PREFIX.match(prefix.lower()):
                raise LineworthyError(f"{visible(prefix)!r} is no fingerprint: {PREFIX_MIN} to 16 of 0-9 and a-f")
        path = concessions.beside(Path(options.board))
        if options.withdraw:
            _withdraw(path, options)
        else:
            self._grant(path, options)
        say(f"wrote {path}")
        return CLEAN

    def _grant(self, path: Path, options: argparse.Namespace) -> None:
        reason, name, today = (
            (options.reason or "").strip(),
            (options.name or "").strip(),
            options.today or date.today(),
        )
        if not reason or not name:
            raise LineworthyError("a concession needs --reason and --name")
        if options.expires is not None and options.expires < today:
            raise LineworthyError(f"--expires {options.expires} is past already")
        result = self._review(options)
        found: dict[Key, Finding] = {(finding.check, finding.fingerprint): finding for finding, _ in result.every}
        chosen = [found[key] for key in _chosen(options.fingerprints, found, f"{options.board}: no finding")]
        revision = None if options.expires else result.revision
        given = [
            Concession.of(finding, reason, name, today, revision=revision, expires=options.expires)
            for finding in chosen
        ]
        concessions.grant(path, given)
        for finding, concession in zip(chosen, given):
            sys.stdout.write(f"{finding.consequence.value}: {visible(finding.message)}\n")
            sys.stdout.write(f"  {visible(accepted_by(concession))}: {visible(reason)}\n")

    def _review(self, options: argparse.Namespace) -> Review:
        beside = gathered(options, options.board)
        sheet = sheet_of(options, beside)
        bar = ProgressBar(sys.stderr)
        try:
            board = self._read(options.board, lambda share: bar.show(share / 2, f"reading {Path(options.board).name}"))
            return review(
                beside.measured(board),
                sheet,
                beside=beside,
                progress=lambda done, total, check_id: bar.show(0.5 + done / total / 2, check_id),
            )
        finally:
            bar.clear()


def _withdraw(path: Path, options: argparse.Namespace) -> None:
    if options.reason or options.name or options.expires:
        raise LineworthyError("--withdraw takes no --reason, --name or --expires")
    on_file = {concession.key: concession for concession in concessions.load(path)}
    if not on_file:
        raise InputError(str(path), "there is no concession on file")
    keys = _chosen(options.fingerprints, on_file, f"{path}: no concession")
    concessions.withdraw(path, keys)
    for key in keys:
        gone = on_file[key]
        sys.stdout.write(f"withdrawn: {visible(gone.finding or gone.check)}, {visible(accepted_by(gone))}\n")


def _chosen(prefixes: Iterable[str], known: Mapping[Key, object], none: str) -> list[Key]:
    """The one key that each prefix stands for.

    Raises:
        LineworthyError: none or several.
    """
    chosen: list[Key] = []
    for prefix in prefixes:
        keys = [key for key in known if key[1].lower().startswith(prefix.lower())]
        if not keys:
            raise LineworthyError(f"{none} has the fingerprint {prefix}")
        if len(keys) > 1:
            several = ", ".join(f"{print_} ({check})" for check, print_ in sorted(keys, key=lambda key: key[1]))
            raise LineworthyError(f"{prefix} is not clear: {several}")
        chosen += [key for key in keys if key not in chosen]
    return chosen
