# SPDX-License-Identifier: MIT
"""What every report says, worked out once: order and numbers of findings, figures, whose limit, the board in a line."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Optional

from lineworthy.concessions import Concession
from lineworthy.errors import UnknownCheckError
from lineworthy.finding import Consequence, Finding, Place
from lineworthy.model import Board, Part, Side
from lineworthy.registry import AREAS, Check, Help
from lineworthy.review import Review, find
from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Numbered:
    """A finding and the number it has in every report for people, which it keeps when a person accepts it."""

    number: int
    finding: Finding
    concession: Optional[Concession] = None


@dataclass(frozen=True)
class Group:
    """The findings of one check."""

    check: str
    rows: tuple[Numbered, ...]


@dataclass(frozen=True)
class AreaGroups:
    """The findings of one area, the check with the gravest finding first."""

    area: str
    groups: tuple[Group, ...]


@dataclass(frozen=True)
class Tally:
    """One row of the area table. `checks` is how many were asked."""

    area: str
    hold: int
    query: int
    note: int
    not_run: int
    crashed: int
    checks: int


@dataclass(frozen=True)
class LimitOrigin:
    """Whose limit it is."""

    key: str
    value: float
    unit: str
    source: str
    sheet: str


def grouped(review: Review) -> tuple[AreaGroups, ...]:
    """The findings that count by area and check; areas without any are left out."""
    by_area: dict[str, dict[str, list[Numbered]]] = {}
    for row in numbered(review):
        if row.concession is None:
            by_area.setdefault(row.finding.area, {}).setdefault(row.finding.check, []).append(row)
    return tuple(
        AreaGroups(area, tuple(Group(check_id, tuple(rows)) for check_id, rows in by_check.items()))
        for area, by_check in by_area.items()
    )


def conceded(review: Review) -> tuple[Numbered, ...]:
    """The findings a person has accepted."""
    return tuple(row for row in numbered(review) if row.concession is not None)


def numbered(review: Review) -> tuple[Numbered, ...]:
    """All findings, by area and check, numbered from 1 in that order."""
    by_area: dict[str, dict[str, list[tuple[Finding, Optional[Concession]]]]] = {}
    for finding, concession in review.every:
        by_area.setdefault(finding.area, {}).setdefault(finding.check, []).append((finding, concession))
    pairs = [pair for by_check in by_area.values() for pairs in by_check.values() for pair in pairs]
    return tuple(Numbered(n, finding, concession) for n, (finding, concession) in enumerate(pairs, 1))


def tallies(review: Review) -> tuple[Tally, ...]:
    """The area table: every area that was asked about or has something to say, in the order of the areas."""
    rows: list[Tally] = []
    for area in AREAS:
        hold, query, note = (review.count(c, area) for c in Consequence)
        not_run = sum(_area(item.check) == area for item in review.not_run)
        crashed = sum(_area(item.check) == area for item in review.crashed)
        asked = sum(_area(check_id) == area for check_id in review.checks)
        if asked or not_run or crashed or hold + query + note:
            rows.append(Tally(area, hold, query, note, not_run, crashed, asked))
    return tuple(rows)


def _area(check_id: str) -> str:
    return check_id.split("/", 1)[0]


def area_title(area: str) -> str:
    """The area as a heading."""
    return area.replace("-", " ").capitalize()


def accepted_by(concession: Concession) -> str:
    """Who accepted it, when, and how long that holds."""
    held = {None: "", "": ", for this board without revision"}.get(
        concession.revision, f", for revision {concession.revision}"
    )
    until = f", until {concession.expires.isoformat()}" if concession.expires else ""
    return f"conceded by {concession.name} on {concession.date.isoformat()}{held}{until}"


def limit_origin(finding: Finding, sheet: Sheet) -> Optional[LimitOrigin]:
    """Where the finding's limit comes from, None where it names no key of the sheet."""
    key = finding.limit_key
    if key not in sheet.origins:
        return None
    entry = next(entry for entry in sheet.entries() if entry.key == key)
    return LimitOrigin(key, sheet.value(key), entry.unit, entry.source, entry.sheet)


def check_help(check_id: str, checks: Optional[Sequence[Check]] = None) -> Help:
    """A check's documentation; empty for a check that is not in the catalogue."""
    try:
        return (find(check_id) if checks is None else find(check_id, checks)).help
    except UnknownCheckError:
        return Help("", {})


def question(told: Help) -> tuple[str, str]:
    """What a check asks: the first sentence, fit for a heading, and the rest."""
    first, *rest = re.split(r"(?<=[.?!])\s+", told.what, maxsplit=1)
    return first, " ".join(rest)


def figure(value: float, digits: int = 3) -> str:
    """A number as a person writes it: no trailing zeros, no minus zero."""
    if not math.isfinite(value):
        return str(value)
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def figures(measured: float, limit: float) -> tuple[str, str]:
    """Both sides of a comparison, with as many digits as it takes to tell them apart."""
    for digits in (3, 4, 5):
        pair = figure(measured, digits), figure(limit, digits)
        if pair[0] != pair[1]:
            return pair
    return figure(measured, 6), figure(limit, 6)


def with_unit(number: str, unit: str) -> str:
    """The number with its unit as it is read; counts and ratios have none."""
    signs = {"mm": " mm", "um": " µm", "percent": " %", "deg": "°", "n": " N", "pf": " pF", "g": " g"}
    signs |= {"v": " V", "a": " A", "count": "", "ratio": "", "": ""}
    return number + signs.get(unit, f" {unit}")


@dataclass(frozen=True)
class BoardFacts:
    """The board in figures: size in mm (0 where the outline is not closed), parts to be assembled by side."""

    width: float
    height: float
    copper_layers: int
    thickness: float
    parts_top: int
    parts_bottom: int
    not_fitted: int


def board_facts(board: Board) -> BoardFacts:
    """Counts what a person identifies a board by."""
    left, bottom, right, top = board.outline.area.bounds if not board.outline.area.is_empty else (0.0, 0.0, 0.0, 0.0)
    counted = [part for part in board.parts if part.fitted and _is_assembled(part)]
    return BoardFacts(
        width=round(right - left, 3),
        height=round(top - bottom, 3),
        copper_layers=len(board.copper_layers),
        thickness=board.stackup.thickness,
        parts_top=sum(part.side is Side.TOP for part in counted),
        parts_bottom=sum(part.side is Side.BOTTOM for part in counted),
        not_fitted=sum(not part.fitted for part in board.parts if _is_assembled(part)),
    )


def _is_assembled(part: Part) -> bool:
    return part.in_parts_list and not part.board_only


def board_line(board: Board) -> str:
    """Size, layers and parts in one line."""
    facts = board_facts(board)
    size = f"{figure(facts.width, 2)} x {figure(facts.height, 2)} mm" if facts.width else "outline not closed"
    layers = "1 copper layer" if facts.copper_layers == 1 else f"{facts.copper_layers} copper layers"
    total = facts.parts_top + facts.parts_bottom
    parts = f"{total} {'part' if total == 1 else 'parts'} ({facts.parts_top} top, {facts.parts_bottom} bottom)"
    more = f", {facts.not_fitted} not fitted" if facts.not_fitted else ""
    return f"{size}, {layers}, {parts}{more}"


ORIGIN_NOTE = "Places are in mm from the lower left corner of the board, seen from the top."
"""What the figures of `where` mean, for a board whose outline is closed."""


def where(place: Place, board: Board) -> str:
    """A place as a person finds it with a ruler: from the board's lower left corner, and the side."""
    left, bottom = (0.0, 0.0) if board.outline.area.is_empty else board.outline.area.bounds[:2]
    spot = f"x {figure(place.at[0] - left, 2)} y {figure(place.at[1] - bottom, 2)}"
    return f"{spot} {place.side.value}" if place.side else spot
