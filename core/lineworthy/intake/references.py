# SPDX-License-Identifier: MIT
"""References as people write them in one cell: ``R1-R4, R7``, ``C1..C3``, ``D1,2,5``, ``U1 U2``."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Optional

MAX_RANGE = 2000

_REFERENCE = re.compile(r"[^\W\d_][^\s,;]*\Z|[+\-\d][\w+.-]*[^\W\d_][\w+.-]*\Z")
_PLAIN = re.compile(r"[^\W\d_][\w.$]*?\d+[A-Za-z]?\Z")
_RANGE = re.compile(
    r"(?P<head>[^\W\d][^\s,;]*?|)(?P<low>\d{1,6})\s*(?:-|\u2013|\u2014|\u2212|~|:|\.{2,3}|…|\bto\b|\bbis\b|\bthru\b|\bthrough\b)\s*"
    r"(?P<again>[^\W\d][^\s,;]*?|)(?P<high>\d{1,6})\Z",
    re.IGNORECASE,
)
_SPLIT = re.compile(r"[,;\n\r\t\u3001\uff0c\uff1b]|\band\b|\bund\b|&", re.IGNORECASE)
_SPACED_RANGE = re.compile(r"\s+(-|\u2013|\u2014|\u2212|~|\.{2,3}|…|to|bis|thru|through)\s+", re.IGNORECASE)


class ReferencesError(ValueError):
    """A piece of the cell that is no reference; `str()` says which and why."""


def expand(cell: str, count: Optional[float] = None) -> tuple[str, ...]:
    """The references in a cell, in their order.

    Args:
        cell: the cell as written.
        count: the stated quantity. Decides what ``J1-2`` is, one reference or two, where both could be.

    Raises:
        ReferencesError: a piece of it is no reference.
    """
    joined = _SPACED_RANGE.sub("-", cell.strip())
    pieces = [word for piece in _SPLIT.split(joined) for word in _words(piece)]
    ranged = tuple(_expanded(pieces, ranges=True))
    if count is not None and count != len(ranged):
        try:
            literal = tuple(_expanded(pieces, ranges=False))
        except ReferencesError:
            return ranged
        if len(literal) == count:
            return literal
    return ranged


def _words(piece: str) -> Iterator[str]:
    """Splits at spaces where what stands between them are references, and not words of a sentence."""
    words = piece.split()
    if len(words) > 1 and not all(_PLAIN.match(word) or _RANGE.match(word) for word in words):
        raise ReferencesError(f"{piece.strip()[:60]!r} is no reference")
    for word in words:
        sides = re.split(r"[/+]", word)
        yield from sides if all(_PLAIN.match(side) for side in sides) else [word]


def _expanded(pieces: list[str], *, ranges: bool) -> Iterator[str]:
    letters = ""
    for piece in pieces:
        span = _span(piece, letters) if ranges or piece[0].isdigit() else None
        if span is not None:
            letters, low, high = span
            yield from (f"{letters}{n}" for n in range(low, high + 1))
            continue
        if piece.isdecimal() and letters:
            yield letters + piece
            continue
        if piece.endswith("?") or not _REFERENCE.match(piece):
            raise ReferencesError(f"{piece[:60]!r} is no reference")
        head = re.match(r"(.*?)\d+\Z", piece)
        letters = head[1] if head else ""
        yield piece


def _span(piece: str, letters: str) -> Optional[tuple[str, int, int]]:
    """Letters, first and last number of a range; None when the piece is none."""
    match = _RANGE.match(piece)
    if not match:
        return None
    head = match["head"] or letters
    low, high = int(match["low"]), int(match["high"])
    if not head:
        return None
    if match["again"] and match["again"] != head:
        raise ReferencesError(f"{piece[:60]!r} runs from one kind of part to another")
    if high < low and match["again"]:
        low, high = high, low
    if high <= low:
        return None  # J10-2 is a name
    if high - low >= MAX_RANGE:
        raise ReferencesError(f"{piece[:60]!r} would be {high - low + 1} parts")
    return head, low, high
