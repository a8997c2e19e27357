# SPDX-License-Identifier: MIT
"""What a reader of a report must be told, whatever was found: the limits of a review, and dangers of acting on it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from lineworthy.knowledge.voltages import DANGEROUS_V, mains_nets, mains_parts, words_of
from lineworthy.knowledge.wording import sentence
from lineworthy.model import Part
from lineworthy.review import Review

DANGEROUS_VOLTAGE = "Dangerous voltage"
NEWER_FORMAT = "Newer format"
PASSED_OVER = "Passed over"

EVERYWHERE = (DANGEROUS_VOLTAGE, NEWER_FORMAT, PASSED_OVER)
"""Topics of cautions that every report shows besides the first; the others are for whoever handles the board."""

_COMMON = "common practice, no source"


@dataclass(frozen=True)
class Caution:
    """One caution: a topic in a word or two, the text, and where it comes from."""

    topic: str
    text: str
    source: str


REVIEW_AID = Caution(
    "Review aid",
    "Review aid. Not a certification. Defer to the governing standard, local codes, a licensed or competent person "
    "and your manufacturer.",
    _COMMON,
)

_ESD = Caution(
    "Static electricity",
    "Handle and rework boards in an area protected to ANSI/ESD S20.20 or IEC 61340-5-1: below 100 V human-body "
    "discharge, below 200 V charged-device discharge, isolated conductors below 35 V.",
    "from memory: ANSI/ESD S20.20",
)

_HEAT = Caution(
    "Burns and fumes",
    "Rework is hot: an iron runs at 300 to 400 °C, tin-silver-copper solder melts at 217 to 220 °C. "
    "Extract the fumes and protect the eyes.",
    _COMMON,
)

DUST = Caution(
    "Dust",
    "Routing and sawing boards apart sets glass and epoxy dust free: extraction, and a respirator by local rule; "
    "no dry sweeping; the dust can bridge contacts.",
    _COMMON,
)

HAND = Caution(
    "Hand breaking",
    "Ceramic capacitors crack unseen when boards are broken by hand or with nippers, and may fail later as a short: "
    "use a router, a blade or a jig. Broken edges splinter: protect eyes and fingers.",
    "a capacitor maker's data sheet on parting boards (Murata)",
)

_ON_THE_LINE = (
    "panel/too-large-for-line",
    "panel/too-long-for-width",
    "panel/sags",
    "panel/no-edge-to-hold",
    "panel/overhang-tips",
)
"""Checks of the panel area that are not about parting boards."""

_LEAD = Caution(
    "Lead",
    "The stated finish holds lead: allowed only where exempt. Wash hands, no food at the bench, separate waste.",
    _COMMON,
)

_RELAY = re.compile(r"(?<![a-z])relay", re.IGNORECASE)
_CELL = re.compile(r"(?<![a-z])(?:li-?(?:ion|po)|lithium|cr[12]\d{3}|18650)(?![a-z])|^battery", re.IGNORECASE)


def cautions(review: Review) -> tuple[Caution, ...]:
    """The cautions that apply, most general first."""
    return tuple(_cautions(review))


def _cautions(review: Review) -> Iterator[Caution]:
    yield REVIEW_AID
    if review.board.format_doubt:
        yield Caution(NEWER_FORMAT, f"{sentence(review.board.format_doubt)}.", "the document's version")
    for said in review.beside.passed_over:
        yield Caution(PASSED_OVER, f"{said}.", "the board's folder")
    yield from _dangerous_voltage(review)
    if review.findings:
        yield _ESD
        yield _HEAT
    if any(finding.area == "panel" and finding.check not in _ON_THE_LINE for finding in review.findings):
        yield HAND
        yield DUST
    if re.search(r"sn-?pb|leaded", review.board.stackup.finish, re.IGNORECASE):
        yield _LEAD
    cells = [part for part in review.board.parts if _CELL.search(words_of(part))]
    if cells:
        yield Caution(
            "Stored energy",
            f"{_name(cells[0])} is or holds a cell: lithium cells are never reflowed; disconnect them, and discharge "
            "large capacitors, before rework.",
            _COMMON,
        )


def _dangerous_voltage(review: Review) -> Iterator[Caution]:
    """At most one caution, for the plainest sign: nets, then parts that speak of mains, then relays."""
    board, said = review.board, review.beside.project.voltages
    signs = [f"Net {name} is said to carry" for name in said if max(map(abs, said[name])) > DANGEROUS_V]
    signs += [f"Net {name} suggests" for name in mains_nets(board)]
    signs += [f"{_name(part)} suggests" for part in mains_parts(board)]
    signs += [f"{_name(part)} is a relay; it may switch" for part in board.parts if _RELAY.search(words_of(part))]
    if signs:
        yield Caution(
            DANGEROUS_VOLTAGE,
            f"{signs[0]} more than 50 V a.c. or 60 V d.c. This review does not judge insulation: check creepage and "
            "clearance to IEC 60664-1 and the product standard (IEC 62368-1, 60335-1, 61010-1 or 60601-1) with a "
            "test lab.",
            _COMMON,
        )


def _name(part: Part) -> str:
    return " ".join(word for word in (part.reference or "A part", f"({part.value})" if part.value else "") if word)
