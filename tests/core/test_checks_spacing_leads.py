# SPDX-License-Identifier: MIT
"""Room round leads where they are soldered: for an iron, for a nozzle."""

from __future__ import annotations

import dataclasses

import pytest

from asking import only
from build import BOTTOM, TOP, board, chip, through_part
from lineworthy import Board
from lineworthy.checks.spacing_leads import lead_joint_crowded
from lineworthy.finding import Consequence, Finding
from lineworthy.inputs import Inputs
from lineworthy.model import PadRole, Part
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
IRON, NOZZLE, FREE = 2.0, 3.0, 5.0
"""Limits of the standard sheet; the last two those of the selective soldering design guide: 3 mm on three sides, 5 mm
on the fourth."""


def ask(subject: Board) -> list[Finding]:
    inputs = Inputs(subject, SHEET)
    return list(lead_joint_crowded.ask(bodies=inputs.bodies, closeness=inputs.closeness, sheet=SHEET))


def leaded(reference: str = "J1", at=(30, 20), **more) -> Part:
    """Two leads along x; the rectangle round their lands is 4.24 x 1.7 mm."""
    return through_part(reference, at, **more)


def beside(gap: float, direction: str = "right", reference: str = "C1", side=BOTTOM) -> Part:
    """A chip (2.4 x 0.95 mm over its lands) `gap` from the rectangle round the leads of `leaded()`."""
    dx, dy = 2.12 + gap + 1.2, 0.85 + gap + 0.475
    at = {"right": (30 + dx, 20), "left": (30 - dx, 20), "up": (30, 20 + dy), "down": (30, 20 - dy)}[direction]
    return chip(reference, at, side=side)


def of(*parts: Part) -> list[Finding]:
    return ask(board(60, 40, parts=parts))


def test_the_limits_are_those_of_the_sheet() -> None:
    limits = SHEET.spacing
    assert (limits.through_hole_min_mm, limits.lead_nozzle_min_mm, limits.lead_nozzle_side_min_mm) == (
        IRON,
        NOZZLE,
        FREE,
    )


@pytest.mark.parametrize("gap", [0.5, 1.999])
def test_too_near_for_an_iron(gap: float) -> None:
    finding = only(of(leaded(), beside(gap)))
    assert finding.consequence is Consequence.NOTE
    assert finding.limit_key == "spacing.through_hole_min_mm"
    assert finding.measured == pytest.approx(gap)
    assert finding.places[0].side is BOTTOM


def test_what_a_finding_says() -> None:
    assert only(of(leaded(), beside(0.8))).message == (
        "Leads of J1 and C1 are 0.80 mm apart on the bottom; 2.00 mm needed for an iron"
    )
    finding = only(of(leaded(), beside(2.5)))
    assert finding.message == (
        "Leads of J1 leave no room for a soldering nozzle on the bottom: nearest leads of J1 and C1, 2.50 mm;"
        " 3.00 mm on all sides and 5.00 mm on one needed"
    )
    assert finding.limit_key == "spacing.lead_nozzle_min_mm"


@pytest.mark.parametrize(("gap", "found"), [(IRON, True), (2.999, True), (NOZZLE, False), (4.0, False)])
def test_too_near_for_a_nozzle(gap: float, found: bool) -> None:
    assert bool(of(leaded(), beside(gap))) is found


def hemmed_in(*gaps: float) -> list[Finding]:
    """Chips on the four sides."""
    ways = ("right", "left", "up", "down")
    return of(leaded(), *(beside(gap, way, f"C{n}") for n, (gap, way) in enumerate(zip(gaps, ways))))


@pytest.mark.parametrize(
    ("gaps", "found"),
    [
        ((4.0, 4.0, 4.0, 5.0), False),
        ((4.0, 4.0, 5.0, 4.0), False),
        ((4.0, 4.0, 4.0, 4.999), True),
        ((4.0, 4.0, 4.0), False),
        ((3.0, 3.0, 3.0, 5.0), False),
        ((2.99, 6.0, 6.0, 6.0), True),
    ],
)
def test_one_side_must_be_freer(gaps: tuple[float, ...], found: bool) -> None:
    assert bool(hemmed_in(*gaps)) is found


def test_a_turned_part_has_its_sides_turned() -> None:
    subject = board(60, 40, parts=(leaded(), *(beside(4.0, way, way) for way in ("right", "left", "up"))))
    assert ask(subject) == []
    for motion in (quarter_turns(1), quarter_turns(2), quarter_turns(3), mirrored()):
        assert ask(transform(subject, motion)) == []


def test_only_the_side_where_leads_come_out() -> None:
    assert of(leaded(), beside(0.5, side=TOP)) == []
    upside_down = leaded(side=BOTTOM)
    assert only(of(upside_down, beside(0.5, side=TOP))).places[0].side is TOP


def with_pads(item: Part, **more) -> Part:
    return dataclasses.replace(item, pads=tuple(dataclasses.replace(pad, **more) for pad in item.pads))


def test_leads_nobody_solders_afterwards() -> None:
    assert of(with_pads(leaded(), role=PadRole.PRESS_FIT), beside(0.5)) == []
    pasted = dataclasses.replace(leaded(), pads=tuple(dataclasses.replace(p, paste=p.mask) for p in leaded().pads))
    assert of(pasted, beside(0.5)) == []
    assert of(leaded(fitted=False), beside(0.5)) == []


def test_leads_beside_leads_and_nothing_at_all() -> None:
    assert of() == []
    assert of(leaded(), leaded("J2", (30, 23))) == []
    assert of(beside(0.5)) == []


def test_one_finding_a_side_with_the_iron_first() -> None:
    finding = only(
        of(leaded(), beside(0.8), beside(1.0, "left", "C2"), leaded("J2", (30, 32)), chip("C3", (37, 32), side=BOTTOM))
    )
    assert finding.message == (
        "2 pairs on the bottom, nearest leads of J1 and C1 at 0.80 mm; 2.00 mm needed for an iron"
    )
    near = chip("C3", (30 + 2.12 + 2.5 + 1.2, 32), side=BOTTOM)
    finding = only(of(leaded(), beside(0.8), leaded("J2", (30, 32)), near))
    assert finding.message == (
        "Leads of J1 and C1 are 0.80 mm apart on the bottom; 2.00 mm needed for an iron; 1 more part leaves no room for"
        " a soldering nozzle (3.00 mm on all sides and 5.00 mm on one needed)"
    )
    assert [place.label for place in finding.places] == ["leads of J1 and C1", "leads of J2 and C3"]


def test_motion_changes_places_only() -> None:
    parts = (leaded(), beside(0.8), leaded("J2", (30, 32)), chip("C3", (36, 32), side=BOTTOM, rotation=30))
    subject = board(60, 40, parts=parts)
    before = only(ask(subject))
    for motion in (moved(7.7, -3.1), quarter_turns(1), mirrored()):
        after = only(ask(transform(subject, motion)))
        assert (after.message, after.fingerprint) == (before.message, before.fingerprint)
