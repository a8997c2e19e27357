# SPDX-License-Identifier: MIT
"""Concessions: a person's reasoned acceptance of one finding, kept beside the board as ``BOARD.concessions.toml``.

A concession holds for one revision of the board, so that accepting a risk once does not accept it for ever::

    [[concession]]
    check = "fiducials/too-few"
    fingerprint = "0123456789abcdef"
    reason = "placed by hand, five boards"
    name = "R. Novak"
    date = 2026-03-14
    revision = "A"
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from pathlib import Path
from typing import Any, Optional

from lineworthy.errors import InputError
from lineworthy.files import write_atomic
from lineworthy.finding import Finding

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the standard library has it from 3.11 on
    import tomli as tomllib

_HEAD = "# Findings accepted by a person, with the reason. Each holds for one revision of the board.\n"


@dataclass(frozen=True)
class Concession:
    """Who accepted which finding, why, when, and for which revision of the board (empty when it has none)."""

    check: str
    fingerprint: str
    reason: str
    name: str
    date: date
    revision: str = ""

    def covers(self, finding: Finding, revision: str) -> bool:
        """Whether it accepts this finding on a board of this revision."""
        same = (self.check, self.fingerprint) == (finding.check, finding.fingerprint)
        return same and self.revision == revision


@dataclass(frozen=True)
class Matched:
    """Findings and concessions set against each other.

    Attributes:
        conceded: one concession or None per finding, in the order of the findings; the newest where several match.
        unused: concessions that accept nothing here: the finding is gone, or they hold for another revision.
    """

    conceded: tuple[Optional[Concession], ...]
    unused: tuple[Concession, ...]


def match(findings: Sequence[Finding], concessions: Sequence[Concession], revision: str) -> Matched:
    """Sets findings against concessions."""
    by_finding = [[c for c in concessions if c.covers(finding, revision)] for finding in findings]
    used = {id(c) for covering in by_finding for c in covering}
    return Matched(
        tuple(max(covering, key=lambda c: c.date, default=None) for covering in by_finding),
        tuple(c for c in concessions if id(c) not in used),
    )


def beside(board: Path) -> Path:
    """Where the concessions of a board file are kept."""
    return board.with_name(f"{board.stem}.concessions.toml")


def load(path: Path) -> tuple[Concession, ...]:
    """The concessions in a file; none where there is no file.

    Raises:
        InputError: the file cannot be read, or an entry in it is not whole.
    """
    try:
        document: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return ()
    except UnicodeDecodeError as error:
        raise InputError(str(path), f"not UTF-8 text (byte {error.start})") from None
    except OSError as error:
        raise InputError(str(path), f"cannot be read: {error.strerror or error}") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(str(path), f"not TOML: {error}") from None
    entries = document.pop("concession", [])
    if document or not isinstance(entries, list):
        raise InputError(str(path), "holds something else than [[concession]] entries")
    return tuple(_entry(entry, f"concession {n}", str(path)) for n, entry in enumerate(entries, 1))


def save(path: Path, concessions: Iterable[Concession]) -> None:
    """Writes the file whole.

    Raises:
        InputError: the place cannot be written; what was there before is still there.
    """
    write_atomic(path, _HEAD + "".join(f"\n[[concession]]\n{_lines(c)}" for c in concessions))


def _entry(entry: object, place: str, file: str) -> Concession:
    if not isinstance(entry, dict):
        raise InputError(file, "is not a table", place)
    known = [field.name for field in fields(Concession)]
    for key in entry:
        if key not in known:
            raise InputError(file, f"unknown key {key!r}; there are {', '.join(known)}", place)
    given = {"revision": "", **entry}
    for key in known:
        if key not in given:
            raise InputError(file, f"{key} is missing", place)
        if key == "date":
            continue
        if not isinstance(given[key], str):
            raise InputError(file, f"{key} must be text", place)
        if key in ("check", "fingerprint", "reason", "name") and not given[key].strip():
            raise InputError(file, f"{key} is empty", place)
    if not isinstance(given["date"], date) or isinstance(given["date"], datetime):
        raise InputError(file, "date must be a date like 2026-03-14", place)
    return Concession(**given)


def _lines(concession: Concession) -> str:
    pairs = ((field.name, getattr(concession, field.name)) for field in fields(concession))
    return "".join(
        f"{key} = {value.isoformat() if isinstance(value, date) else _quoted(value)}\n" for key, value in pairs
    )


def _quoted(text: str) -> str:
    """A TOML basic string on one line; half of a surrogate pair, which TOML cannot hold, becomes a question mark."""
    return '"' + "".join(_escaped(c) for c in text) + '"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    if character.isprintable():
        return character
    if "\ud800" <= character <= "\udfff":
        return "?"
    return f"\\U{ord(character):08X}"
