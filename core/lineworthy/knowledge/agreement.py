# SPDX-License-Identifier: MIT
"""Whether two ways of writing a revision or a number mean the same, and what a file's name says about the revision."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Optional

from lineworthy.knowledge.naming import part_numbers, plain, squeezed

_PREFIX = re.compile(r"(?i:(?:revision|version|release|rev|ver|rel|iss|issue)[ .:#=_-]*(?=\w)|[vr][ .]?(?=\d))")
_PIECES = re.compile(r"\d+|[^\W\d_]+")
_FILE = re.compile(
    r"(?<![^\W_])(?:(?i:rev|ver|version|revision|rel|release)[ ._-]*|[vVrR](?=\d))"
    r"(?P<value>\d{1,3}(?:[._]\d{1,3}){0,3}[a-z]?|[A-Z]{1,2}\d?|[a-z])"
    r"(?:[ _-]+(?i:final|release|released|prod|production|panel|board|pcb|layout|routed))*\Z"
)


def pieces(revision: str) -> tuple[str, ...]:
    """A revision's numbers and letters, without the word before it and without leading zeros: V02.b gives 2, b."""
    value = _PREFIX.sub("", plain(revision), count=1) if _PREFIX.match(plain(revision)) else plain(revision)
    return tuple(str(int(p)) if p.isdecimal() else p.casefold() for p in _PIECES.findall(value))


def same_revision(one: str, other: str) -> bool:
    """Whether two revisions agree: the same up to spelling, or one of them only less exact (2 and 2.C, 1 and 1.0)."""
    a, b = pieces(one), pieces(other)
    if not a or not b:
        return not a and not b
    return a == b[: len(a)] or b == a[: len(b)]


def revision_in_file_name(name: str) -> str:
    """The revision at the end of a file's name without its ending: ``widget_revC``, ``widget-v1.2``; else empty."""
    match = _FILE.search(plain(name))
    return match["value"].replace("_", ".") if match else ""


_CODE = re.compile(r"(?<![\w.-])(?P<maker>[A-Z]{2,6})-(?P<digits>(?!(?:19|20)\d\d(?!\d))\d{3,6})(?![\w-]|\.\d)")
"""Letters and digits as companies number their things; no year."""

_STANDARDS = frozenset(re.findall(r"\w+", "ANSI DIN EN FCC IEC IEEE IPC ISO JEDEC MIL REV RFC UL USB VER"))


def other_number(printed: Iterable[str], stated: Iterable[str]) -> Optional[tuple[str, str]]:
    """A printed part number and a stated one of the same make that contradict each other, None when there are none.

    Numbers of different make (1234-5678 and PCB-0012) number different things. One that begins the other is the same
    number less exact.
    """
    known = list(stated)
    found: Optional[tuple[str, str]] = None
    for number in printed:
        for other in known:
            a, b = squeezed(number), squeezed(other)
            if a.startswith(b) or b.startswith(a):
                return None
            if _make(number) == _make(other) and found is None:
                found = (number, other)
    return found


def other_code(printed: Iterable[str], stated: Iterable[str]) -> Optional[tuple[str, str]]:
    """A printed code and a stated one that differ in one digit (FA-1042, FA-1043), None when there are none.

    A code that differs in more may name a chip or another product; where any printed code is stated, none differs.
    """
    shown = {match[0]: match for text in printed for match in _CODE.finditer(text)}
    known = {match[0]: match for text in stated for match in _CODE.finditer(text)}
    if set(shown) & set(known):
        return None
    for one, a in shown.items():
        for other, b in known.items():
            alike = a["maker"] == b["maker"] and len(a["digits"]) == len(b["digits"])
            if alike and a["maker"] not in _STANDARDS and sum(m != n for m, n in zip(a["digits"], b["digits"])) == 1:
                return one, other
    return None


def numbers_in(texts: Iterable[str]) -> tuple[str, ...]:
    """The part numbers some texts give, each once."""
    return tuple(dict.fromkeys(number for text in texts for number in part_numbers(text)))


def _make(number: str) -> str:
    return re.sub(r"[^\W\d_]", "A", re.sub(r"\d", "9", number))
