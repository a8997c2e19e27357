# SPDX-License-Identifier: MIT
"""A review as what the dialog shows: pure functions from findings to headline, rows, details and maps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Optional

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad
from lineworthy.concessions import Concession
from lineworthy.finding import Consequence, Finding, Place
from lineworthy.model import Board, Side
from lineworthy.picture import Picture
from lineworthy.registry import SECTIONS
from lineworthy.report.facts import (
    Numbered,
    area_title,
    board_line,
    check_help,
    figure,
    figures,
    limit_origin,
    numbered,
    question,
    where,
    with_unit,
)
from lineworthy.report.pins import place_pins
from lineworthy.review import Review
from lineworthy.safe import visible
from lineworthy.shapes import Point
from lineworthy_kicad.dialog.contract import (
    AreaCount,
    ConcessionLine,
    Detail,
    Flag,
    Ghost,
    Headline,
    NotRunLine,
    PlaceLine,
    Row,
    SideMap,
    Tone,
)
from lineworthy_kicad.reader.text_extents import measure


@dataclass(frozen=True)
class Filter:
    """What the list is restricted to; `area` empty stands for all."""

    consequences: frozenset[Consequence] = frozenset(Consequence)
    conceded: bool = True
    area: str = ""
    words: str = ""

    def passes(self, item: Numbered) -> bool:
        """Whether a finding is listed: every word must occur somewhere in what is said about it."""
        finding = item.finding
        if item.concession is not None:
            if not self.conceded:
                return False
        elif finding.consequence not in self.consequences:
            return False
        if self.area not in ("", finding.area):
            return False
        said = [finding.check, area_title(finding.area), finding.message, *(place.label for place in finding.places)]
        text = "\n".join(said).casefold()
        return all(word in text for word in self.words.casefold().split())


@dataclass(frozen=True, eq=False)
class Shown:
    """A review with its findings, those conceded included, numbered as the reports do."""

    review: Review
    items: tuple[Numbered, ...]

    @classmethod
    def of(cls, review: Review) -> Shown:
        """Numbers the findings."""
        return cls(review, numbered(review))

    @property
    def counting(self) -> tuple[Numbered, ...]:
        """The findings nobody has accepted."""
        return tuple(item for item in self.items if item.concession is None)

    @property
    def verdict(self) -> str:
        """The review's verdict on the findings that count."""
        return self.review.verdict

    def find(self, number: int) -> Optional[Numbered]:
        """The finding with a number."""
        return next((item for item in self.items if item.number == number), None)


def headline(shown: Shown, title: str, cautions: Sequence[str]) -> Headline:
    """The top of the window, and its title."""
    board = shown.review.board
    counts = Counter(item.finding.consequence for item in shown.counting)
    areas = Counter(item.finding.area for item in shown.items)
    rev = shown.review.revision
    crashes = [
        f"{crash.check} failed ({crash.error}): a fault of Lineworthy, please report it."
        for crash in shown.review.crashed
    ]
    return Headline(
        title=visible(title),
        verdict=shown.verdict,
        tone=_tone(shown, counts),
        board=visible(f"{board.name}, revision {rev}" if rev else f"{board.name}, no revision in its title block"),
        facts=visible(board_line(board)),
        counts=tuple((consequence, counts[consequence]) for consequence in Consequence),
        conceded=len(shown.items) - len(shown.counting),
        areas=tuple(AreaCount(area, area_title(area), count) for area, count in areas.items()),
        cautions=tuple(visible(line) for line in (*crashes, *cautions)),
    )


def _tone(shown: Shown, counts: Counter[Consequence]) -> Tone:
    if shown.review.crashed:
        return Tone.INCOMPLETE
    return next((Tone(c.value) for c in Consequence if counts[c]), Tone.CLEAR)


def rows(items: Sequence[Numbered]) -> tuple[Row, ...]:
    """Findings under a heading for each area."""
    made: list[Row] = []
    for area in dict.fromkeys(item.finding.area for item in items):
        here = [item for item in items if item.finding.area == area]
        made.append(Row(0, f"{area_title(area)} ({len(here)})"))
        made += [
            Row(
                item.number,
                visible(item.finding.message),
                item.finding.consequence,
                len(item.finding.places),
                item.concession is not None,
            )
            for item in here
        ]
    return tuple(made)


def detail(item: Numbered, review: Review) -> Detail:
    """Everything about one finding."""
    finding = item.finding
    told = check_help(finding.check)
    asked, more = question(told)
    sections = [("The question", " ".join(part for part in (asked, more) if part))]
    sections += [(title, told.sections.get(title, "")) for title in SECTIONS]
    order = ["What to do", "Why it matters", "Blind spots", "Source", "The question"]
    sections.sort(key=lambda section: order.index(section[0]))
    return Detail(
        number=item.number,
        consequence=finding.consequence,
        message=visible(finding.message),
        check=finding.check,
        facts=tuple((label, visible(value)) for label, value in _facts(item, review)),
        places=place_lines(finding, review.board),
        sections=tuple((title, visible(text)) for title, text in sections if text),
        conceded=item.concession is not None,
    )


def _facts(item: Numbered, review: Review) -> list[tuple[str, str]]:
    finding = item.finding
    facts: list[tuple[str, str]] = []
    if finding.measured is not None and finding.limit is not None:
        measured, limit = figures(finding.measured, finding.limit)
        facts += [("Measured", with_unit(measured, finding.unit)), ("Limit", with_unit(limit, finding.unit))]
    elif finding.measured is not None:
        facts.append(("Measured", with_unit(figure(finding.measured), finding.unit)))
    origin = limit_origin(finding, review.sheet)
    if origin is not None:
        value = with_unit(figure(origin.value), origin.unit)
        facts.append(("Whose limit", f"{origin.key} = {value}, sheet {origin.sheet}"))
        facts.append(("Its source", origin.source))
    if item.concession is not None:
        c = item.concession
        until = f", until {c.expires.isoformat()}" if c.expires else ""
        facts.append(("Conceded", f"by {c.name} on {c.date.isoformat()}{until}: {c.reason}"))
    return facts


def place_lines(finding: Finding, board: Board) -> tuple[PlaceLine, ...]:
    """The places of a finding in words and numbers, as reports give them."""
    return tuple(_place_line(place, board) for place in finding.places)


def _place_line(place: Place, board: Board) -> PlaceLine:
    spot = where(place, board)
    label = visible(place.label)
    return PlaceLine(f"{label} ({spot})" if label else spot, place.at, place.side or Side.TOP)


def not_run_lines(review: Review) -> tuple[NotRunLine, ...]:
    """What could not be looked at, and how to make it possible."""
    lines = [NotRunLine(n.check, visible(n.missing), visible(n.how)) for n in review.not_run]
    lines += [NotRunLine(c.check, visible(c.error), "A fault of Lineworthy: please report it.") for c in review.crashed]
    return tuple(lines)


def _held_by(concession: Concession) -> str:
    """The revision a concession is for, and its last day if it has one."""
    until = f", until {concession.expires}" if concession.expires else ""
    return ("any" if concession.revision is None else concession.revision) + until


def concession_lines(shown: Shown) -> tuple[ConcessionLine, ...]:
    """All concessions on file, those that accept nothing last."""
    numbers = {item.concession: item.number for item in shown.items if item.concession is not None}
    on_file, matched = shown.review.beside.concessions, shown.review.matched
    idle = (*matched.unused, *matched.outgrown, *matched.outdated, *matched.expired)
    lines: list[ConcessionLine] = []
    for c in (*(c for c in on_file if c not in idle), *idle):
        number = numbers.get(c, 0)
        applies = f"accepts finding {number}" if number else "an older one for the same finding"
        if c in matched.unused:
            applies = "unused: nothing like it found"
        elif c in matched.outgrown:
            applies = "unused: the finding is graver now"
        elif c in matched.outdated:
            applies = f"unused: made for revision {c.revision or 'none'}"
        elif c in matched.expired:
            applies = f"unused: expired on {c.expires}"
        elif not number and c.check in {item.check for item in shown.review.not_run}:
            applies = "its check has not run in full"
        lines.append(
            ConcessionLine(
                check=visible(c.check),
                reason=visible(c.reason),
                name=visible(c.name),
                date=c.date.isoformat(),
                revision=visible(_held_by(c)),
                applies=visible(applies),
                number=number,
            )
        )
    return tuple(lines)


def side_map(picture: Picture, items: Sequence[Numbered]) -> SideMap:
    """A side with flags for these findings; `picture` was drawn for all findings in the order of their numbers."""
    listed = {item.number - 1: item.finding for item in items}
    spots = [spot for spot in picture.spots if spot.finding in listed]
    count = max(listed, default=-1) + 1
    ranks = [listed[n].consequence.rank if n in listed else 0 for n in range(count)]

    def flags(size: float) -> tuple[Flag, ...]:
        return tuple(
            Flag(
                pin.finding,
                listed[pin.finding - 1].consequence,
                tuple(spot.at for spot in pin.spots),
                pin.flag,
                pin.half_width,
            )
            for pin in place_pins(spots, ranks, picture.bounds, size)
        )

    return SideMap(picture, flags)


def with_ghosts(made: SideMap, amendments: Sequence[Amendment]) -> SideMap:
    """A side with what would be inserted on it."""
    sided = [(n, a, getattr(a, "side", made.side)) for n, a in enumerate(amendments)]
    ghosts = tuple((n, _ghost(a, made.picture)) for n, a, side in sided if side is made.side)
    return replace(made, ghosts=ghosts)


def _ghost(amendment: Amendment, picture: Picture) -> Ghost:
    at = _seen(amendment.at, picture)
    if isinstance(amendment, MarkingText):
        size = measure(amendment.text, amendment.height, amendment.stroke)
        return Ghost(at, text=visible(amendment.text), size=size, rotation=amendment.rotation)
    if isinstance(amendment, FiducialMark):
        return Ghost(at, (amendment.opening, amendment.diameter), amendment.reference)
    label = amendment.net if isinstance(amendment, ProbePad) else ""
    return Ghost(at, (amendment.diameter,), visible(f"{amendment.reference} {label}".strip()))


def _seen(at: Point, picture: Picture) -> Point:
    """A place of the board as the picture shows it: the bottom is seen from below."""
    return at if picture.side is Side.TOP else (picture.bounds.left + picture.bounds.right - at[0], at[1])
