# SPDX-License-Identifier: MIT
"""Concessions: a person's reasoned acceptance of one finding, kept beside the board as ``BOARD.concessions.toml``.

A concession holds for one revision of the board or until a day, so that accepting a risk once does not accept it for
ever; with both it needs both::

    [[concession]]
    check = "fiducials/too-few"
    fingerprint = "0123456789abcdef"
    finding = "No global fiducial on the top side"   # what was found then, for whoever reads this file
    consequence = "query"   # how grave it was then; if the same becomes graver, it is not accepted
    reason = "placed by hand, five boards"
    name = "R. Novak"
    date = 2026-03-14
    revision = "A"          # empty for a board that states none
    expires = 2026-12-31    # the last day it holds; without a revision it holds for any until then
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Callable, Optional

from lineworthy.errors import InputError
from lineworthy.files import read_text, write_atomic
from lineworthy.finding import Consequence, Finding
from lineworthy.tomlfile import parsed, quoted

_HEAD = "# Findings accepted by a person, with the reason. Each holds for one revision of the board or until a day.\n"

Key = tuple[str, str]
"""What a concession is for: check and fingerprint."""


@dataclass(frozen=True)
class Concession:
    """Who accepted which finding, why, when, and how long it holds.

    Attributes:
        revision: the revision it holds for, empty for a board that states none; None for any, until it expires.
        expires: the last day it holds; None for no such day.
        finding: the finding's message when it was accepted; for people only.
        consequence: what the finding cost then; None accepts any.
    """

    check: str
    fingerprint: str
    reason: str
    name: str
    date: datetime.date
    revision: Optional[str] = ""
    expires: Optional[datetime.date] = None
    finding: str = ""
    consequence: Optional[Consequence] = None

    @classmethod
    def of(
        cls,
        finding: Finding,
        reason: str,
        name: str,
        date: datetime.date,
        *,
        revision: Optional[str],
        expires: Optional[datetime.date] = None,
    ) -> Concession:
        """A concession for a finding as it is."""
        told = finding.message, finding.consequence
        return cls(finding.check, finding.fingerprint, reason, name, date, revision, expires, *told)

    @property
    def key(self) -> Key:
        """What it is for."""
        return self.check, self.fingerprint

    def bears(self, finding: Finding) -> bool:
        """Whether the finding is no graver than what was accepted."""
        return self.consequence is None or self.consequence.rank <= finding.consequence.rank

    def suits(self, revision: str) -> bool:
        """Whether it was given for a board of this revision."""
        return self.revision is None or self.revision == revision

    def holds(self, revision: str, today: Optional[datetime.date]) -> bool:
        """Whether it holds for a board of this revision on this day; on an unknown day one that expires does not."""
        return self.suits(revision) and (self.expires is None or (today is not None and today <= self.expires))


@dataclass(frozen=True)
class Matched:
    """Findings and concessions set against each other.

    A concession whose finding is accepted by another one is in none of the lists.

    Attributes:
        conceded: one concession or None per finding, in the order of the findings; the newest where several match.
        unused: nothing like their finding was found.
        outgrown: their finding is there, and graver than it was.
        outdated: their finding is there, on a board of another revision than they were given for.
        expired: their finding is there, and their day has passed.
        undated: their finding is there and they expire, but nobody said what day it is.
    """

    conceded: tuple[Optional[Concession], ...] = ()
    unused: tuple[Concession, ...] = ()
    outgrown: tuple[Concession, ...] = ()
    outdated: tuple[Concession, ...] = ()
    expired: tuple[Concession, ...] = ()
    undated: tuple[Concession, ...] = ()


UNMATCHED = Matched()
"""Nothing set against nothing."""


def match(
    findings: Sequence[Finding],
    concessions: Sequence[Concession],
    revision: str,
    today: Optional[datetime.date] = None,
    undecided: Collection[str] = (),
) -> Matched:
    """Sets findings against concessions.

    Args:
        findings: what was found.
        concessions: what is on file.
        revision: the board's revision.
        today: the day of the review.
        undecided: checks that were not asked, or not in full: that they found nothing says nothing.
    """
    # one fingerprint may stand for several findings: all of them must be borne
    found: dict[Key, list[Finding]] = {}
    for finding in findings:
        found.setdefault((finding.check, finding.fingerprint), []).append(finding)
    newest: dict[Key, Concession] = {}
    for concession in sorted(concessions, key=lambda c: c.date):
        if concession.holds(revision, today) and all(map(concession.bears, found.get(concession.key, ()))):
            newest[concession.key] = concession
    absent = [c for c in concessions if c.key not in found and c.check not in undecided]
    lapsed = [c for c in concessions if c.key in found and c.key not in newest]
    suiting = [c for c in lapsed if c.suits(revision)]
    late = [c for c in suiting if not c.holds(revision, today)]
    return Matched(
        conceded=tuple(newest.get((finding.check, finding.fingerprint)) for finding in findings),
        unused=tuple(absent),
        outgrown=tuple(c for c in suiting if c not in late),
        outdated=tuple(c for c in lapsed if not c.suits(revision)),
        expired=tuple(c for c in late if today is not None),
        undated=tuple(c for c in late if today is None),
    )


def beside(board: Path) -> Path:
    """Where the concessions of a board file are kept."""
    return board.with_name(f"{board.stem}.concessions.toml")


def load(path: Path) -> tuple[Concession, ...]:
    """The concessions in a file; none where there is no file.

    Raises:
        InputError: the file cannot be read, or an entry in it is not whole.
    """
    text = read_text(path)
    return () if text is None else _parsed(text, str(path))


def grant(path: Path, given: Sequence[Concession]) -> None:
    """Puts concessions on file, each in the place of those for the same finding; the rest of the file stays as it is.

    Raises:
        InputError: the file is damaged or cannot be written; it is as it was.
    """
    keys = {concession.key for concession in given}
    _change(path, lambda concession: concession.key not in keys, given)


def withdraw(path: Path, keys: Collection[Key]) -> None:
    """Takes every concession for these findings off the file; the rest of the file stays as it is.

    Raises:
        InputError: the file is damaged or cannot be written; it is as it was.
    """
    _change(path, lambda concession: concession.key not in keys, ())


def save(path: Path, concessions: Iterable[Concession]) -> None:
    """Writes the file whole.

    Raises:
        InputError: the place cannot be written; what was there before is still there.
    """
    write_atomic(path, _HEAD + "".join(map(_entry_text, concessions)))


def _change(path: Path, keep: Callable[[Concession], bool], given: Sequence[Concession]) -> None:
    """Edits the text, so that what people wrote around the entries stays; the file as it is now counts."""
    text = read_text(path)
    if text is None:
        save(path, given)
        return
    entries = _parsed(text, str(path))
    wanted = (*filter(keep, entries), *given)
    edited = text
    if not all(map(keep, entries)):
        head, *pieces = _pieces(text)
        edited = head + "".join(piece for piece, entry in zip(pieces, entries) if keep(entry))
    edited += "" if edited.endswith("\n") or not given else "\n"
    edited += "".join(map(_entry_text, given))
    try:
        is_right = _parsed(edited, "") == tuple(map(_as_read, wanted))
    except InputError:
        is_right = False
    if is_right:
        write_atomic(path, edited)
    else:
        save(path, wanted)  # written in another way than we write it


def _pieces(text: str) -> list[str]:
    """What stands before the entries, then each entry with the comment right above it."""
    lines = text.splitlines(keepends=True)
    cuts = [0]
    for n, line in enumerate(lines):
        if line.lstrip().startswith("[["):
            first = n
            while first > cuts[-1] and lines[first - 1].lstrip().startswith("#"):
                first -= 1
            cuts.append(first)
    return ["".join(lines[a:b]) for a, b in zip(cuts, [*cuts[1:], len(lines)])]


def _parsed(text: str, file: str) -> tuple[Concession, ...]:
    document = parsed(text, file)
    entries = document.pop("concession", [])
    if document or not isinstance(entries, list):
        raise InputError(file, "holds something else than [[concession]] entries")
    return tuple(_entry(entry, f"concession {n}", file) for n, entry in enumerate(entries, 1))


_NEEDED = ("check", "fingerprint", "reason", "name", "date")


def _entry(entry: object, place: str, file: str) -> Concession:
    if not isinstance(entry, dict):
        raise InputError(file, "is not a table", place)
    known = [field.name for field in fields(Concession)]
    for key, value in entry.items():
        if key not in known:
            raise InputError(file, f"unknown key {key!r}; there are {', '.join(known)}", place)
        if trouble := _trouble(key, value):
            raise InputError(file, f"{key} {trouble}", place)
    for key in _NEEDED:
        if key not in entry:
            raise InputError(file, f"{key} is missing", place)
    if "revision" not in entry and "expires" not in entry:
        raise InputError(file, "neither revision nor expires: it must not hold for ever", place)
    given: dict[str, Any] = {"revision": None, **entry}
    if "consequence" in given:
        given["consequence"] = Consequence(given["consequence"])
    return Concession(**given)


def _trouble(key: str, value: object) -> str:
    """What is wrong with a value; empty when nothing is."""
    if key in ("date", "expires"):
        is_day = isinstance(value, datetime.date) and not isinstance(value, datetime.datetime)
        return "" if is_day else "must be a date like 2026-03-14"
    if key == "consequence":
        words = [consequence.value for consequence in Consequence]
        return "" if value in words else f"must be one of {', '.join(words)}"
    if not isinstance(value, str):
        return "must be text"
    return "" if value.strip() or key not in _NEEDED else "is empty"


def _as_read(concession: Concession) -> Concession:
    return _parsed(_entry_text(concession), "")[0]


def _entry_text(concession: Concession) -> str:
    order = ("check", "fingerprint", "finding", "consequence", "reason", "name", "date", "revision", "expires")
    pairs = ((key, getattr(concession, key)) for key in order)
    given = ((key, value) for key, value in pairs if value is not None and (value or key != "finding"))
    return "\n[[concession]]\n" + "".join(f"{key} = {_value(value)}\n" for key, value in given)


def _value(value: Any) -> str:
    if isinstance(value, datetime.date):
        return value.isoformat()
    return quoted(value.value if isinstance(value, Consequence) else value)
