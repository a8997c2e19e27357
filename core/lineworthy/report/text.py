# SPDX-License-Identifier: MIT
"""A review on the terminal: verdict first, then the area table, findings by area, what was not run."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.knowledge.titleblock import title_block
from lineworthy.model import Board
from lineworthy.report.cautions import EVERYWHERE, REVIEW_AID, cautions
from lineworthy.report.facts import (
    Numbered,
    Tally,
    accepted_by,
    area_title,
    board_line,
    conceded,
    figure,
    grouped,
    limit_origin,
    tallies,
    where,
    with_unit,
)
from lineworthy.review import Review
from lineworthy.safe import visible

PLACES_SHOWN = 3
"""Places named per finding; the rest is counted. The HTML and JSON reports hold them all."""

_WIDTH_MIN, _WIDTH_MAX = 60, 120
_INDENT = 12


def render(review: Review, *, colour: bool = False, width: int = 100, fingerprints: bool = False) -> str:
    """The review as text.

    Args:
        review: the review.
        fingerprints: name each finding's fingerprint, by which it is conceded.
        colour: use the terminal's colours.
        width: columns to wrap to, within 60 to 120.
    """
    page = _Page(colour, min(max(width, _WIDTH_MIN), _WIDTH_MAX), fingerprints)
    lines = [*_head(review, page), "", *_table(review, page)]
    for area in grouped(review):
        lines += ["", page.strong(area_title(area.area))]
        for group in area.groups:
            for limit, rows in groupby(group.rows, key=lambda row: _limit(row.finding, review)):
                for row in rows:
                    lines += _finding(row, review.board, page)
                lines += page.wrap(limit, _INDENT)
    lines += [*_conceded(review, page), *_not_run(review, page), *_crashed(review, page), ""]
    for caution in cautions(review):
        if caution.topic in EVERYWHERE:
            lines += page.wrap(f"{caution.topic}: {caution.text}", 0)
    lines += page.wrap(REVIEW_AID.text, 0)
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class _Page:
    colour: bool
    width: int
    fingerprints: bool

    def paint(self, text: str, code: str) -> str:
        return f"\033[{code}m{text}\033[0m" if self.colour else text

    def strong(self, text: str) -> str:
        return self.paint(text, "1")

    def mark(self, text: str, consequence: Consequence) -> str:
        return self.paint(text, {"hold": "1;31", "query": "1;33", "note": "1;36"}[consequence.value])

    def wrap(self, text: str, indent: int) -> list[str]:
        pad = " " * indent
        lines = textwrap.wrap(
            visible(text), self.width, initial_indent=pad, subsequent_indent=pad, break_on_hyphens=False
        )
        return lines or [pad.rstrip()]


def _head(review: Review, page: _Page) -> Iterator[str]:
    gravest = min((f.consequence for f in review.findings), key=lambda c: c.rank, default=None)
    for line in page.wrap(review.verdict, 0):
        yield page.mark(line, gravest) if gravest else page.strong(line)
    board = review.board
    stated = title_block(board).revision
    name = " ".join(word for word in (board.name, stated and f"rev {stated}") if word)
    yield from page.wrap(f"{name}: {board_line(board)}. Capability sheet: {review.sheet.name}.", 0)


def _table(review: Review, page: _Page) -> Iterator[str]:
    rows = tallies(review)
    crashed = any(row.crashed for row in rows)
    heads = ["hold", "query", "note", "not run", *(["failed"] if crashed else [])]
    yield page.strong(f"{'Area':<14}" + "".join(f"{head:>9}" for head in heads))
    for row in rows:
        yield f"{area_title(row.area):<14}" + "".join(_cells(row, page, crashed))


def _cells(row: Tally, page: _Page, crashed: bool) -> Iterator[str]:
    for consequence in Consequence:
        count = getattr(row, consequence.value)
        cell = f"{count or '-':>9}"
        yield page.mark(cell, consequence) if count else cell
    yield f"{row.not_run or '-':>9}"
    if crashed:
        yield f"{row.crashed or '-':>9}"


def _finding(row: Numbered, board: Board, page: _Page) -> Iterator[str]:
    finding = row.finding
    first, *rest = page.wrap(finding.message, _INDENT)
    tag = f"{row.number:>4}  {finding.consequence.value.upper():<6}"
    yield page.mark(tag, finding.consequence) + first[_INDENT:]
    yield from rest
    if finding.places:
        yield from page.wrap(f"at {_places(finding, board)}", _INDENT)
    if page.fingerprints:
        yield from page.wrap(f"fingerprint {finding.fingerprint}", _INDENT)


def _places(finding: Finding, board: Board) -> str:
    shown = "; ".join(_place(place, board) for place in finding.places[:PLACES_SHOWN])
    more = len(finding.places) - PLACES_SHOWN
    return shown + (f"; and {more} more" if more > 0 else "")


def _place(place: Place, board: Board) -> str:
    spot = where(place, board)
    return f"{place.label} ({spot})" if place.label else spot


def _limit(finding: Finding, review: Review) -> str:
    """The check and whose limit it is; said once for neighbours that share it."""
    origin = limit_origin(finding, review.sheet)
    if origin is None:
        return f"[{finding.check}]"
    value = with_unit(figure(origin.value), origin.unit)
    return f"[{finding.check}] limit {origin.key} = {value} ({origin.sheet}: {origin.source})"


def _conceded(review: Review, page: _Page) -> Iterator[str]:
    rows = conceded(review)
    if rows:
        yield ""
        yield page.strong("Conceded (accepted by a person; counted nowhere)")
    for row in rows:
        assert row.concession is not None
        yield from _finding(row, review.board, page)
        yield from page.wrap(f"{accepted_by(row.concession)}: {row.concession.reason}", _INDENT)
        yield from page.wrap(f"[{row.finding.check}]", _INDENT)


def _not_run(review: Review, page: _Page) -> Iterator[str]:
    if review.not_run:
        yield ""
        yield page.strong("Not run (silence here is not a pass)")
    for (missing, how), items in groupby(review.not_run, key=lambda item: (item.missing, item.how)):
        yield from page.wrap(", ".join(item.check for item in items), 2)
        yield from page.wrap(f"{missing}. {how}", 4)


def _crashed(review: Review, page: _Page) -> Iterator[str]:
    if review.crashed:
        yield ""
        yield page.strong("Failed by a fault of this tool; please report it")
    for crash in review.crashed:
        yield from page.wrap(f"{crash.check}: {crash.error}", 2)
