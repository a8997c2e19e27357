# SPDX-License-Identifier: MIT
"""Courtyards that overlap, that are missing, and parts under parts."""

from __future__ import annotations

import dataclasses
from typing import Optional

import pytest
import shapely

from asking import ask, only
from build import BOTTOM, TOP, board, chip, hole, part, probe_pad, rectangle, smd_part, through_part
from lineworthy.checks.spacing_courtyards import courtyards_missing, courtyards_overlap, part_under_part
from lineworthy.finding import Consequence, Finding
from lineworthy.inputs import Inputs
from lineworthy.knowledge.courtyards import Density, claimed, excess
from lineworthy.knowledge.packages import Family, HeightOrigin, PackageFacts
from lineworthy.model import Part
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def overlaps(*parts: Part) -> list[Finding]:
    return ask(courtyards_overlap, board(60, 40, parts=parts))


def pair(gap: float, wide: float = 0.5, **more) -> tuple[Part, Part]:
    """Two 0603 chips `gap` apart, with courtyards `wide` mm outside of their lands."""
    both = (chip("R1", (10, 10), **more), chip("R2", (10, 10.95 + gap), **more))
    side = both[0].side
    return tuple(dataclasses.replace(p, courtyard={side: p.extent.buffer(wide, join_style="mitre")}) for p in both)


# --- excess: the land-pattern standard's own tables


def facts(family: Family, size: str = "", leads: int = 0) -> PackageFacts:
    pins = tuple(through_part("X", nets=("",) * leads).pads) if leads else ()
    empty = shapely.Polygon()
    return PackageFacts(family, None, empty, pins, None, HeightOrigin.UNKNOWN, False, False, not leads, size)


@pytest.mark.parametrize(
    ("what", "density", "expected"),
    [
        (facts(Family.SMALL_OUTLINE), Density.NOMINAL, 0.25),  # IPC-7351B table 3-2, gull wing
        (facts(Family.CHIP, "0402"), Density.NOMINAL, 0.15),  # table 3-6, chips below 0603
        (facts(Family.CHIP, "0603"), Density.NOMINAL, 0.25),  # table 3-5
        (facts(Family.CAN), Density.NOMINAL, 0.50),  # table 3-20, electrolytic below 10 mm
        (facts(Family.CHIP, "0402"), Density.MOST, 0.20),  # table 3-6
        (facts(Family.CAN), Density.LEAST, 0.25),  # table 3-20
        (facts(Family.QUAD_FLAT), Density.MOST, 0.50),  # table 3-2
        (facts(Family.NO_LEAD), Density.LEAST, 0.10),  # tables 3-15 and 3-16
        (facts(Family.ARRAY), Density.NOMINAL, 1.00),  # table 3-17, from memory
        (facts(Family.THROUGH_IC, leads=8), Density.NOMINAL, 0.25),  # IPC-7251 draft 1, table 3-9
        (facts(Family.CONNECTOR), Density.NOMINAL, 0.50),  # editor's library, rule F5.3, from memory
    ],
)
def test_excess_is_that_of_the_standard(what: PackageFacts, density: Density, expected: float) -> None:
    assert excess(what, density=density) == expected


def test_a_crystal_with_two_lands_gets_more_room_than_one_with_four() -> None:
    crystal = facts(Family.CRYSTAL)
    assert excess(crystal, terminals=2) == 0.50  # table 3-20
    assert excess(crystal, terminals=4) == 0.25


def undrawn(item: Part) -> Part:
    return dataclasses.replace(item, courtyard={})


@pytest.mark.parametrize(
    ("make", "gap"),
    [
        # touching nominal courtyards leave the sum of both excesses (IPC-7351B, level B)
        (lambda y: chip("R2", (10, y)), 0.50),
        (lambda y: part("R2", (10, y), chip("R2", (10, y)).pads, package="R_0402_1005Metric"), 0.40),
    ],
    ids=["0603 to 0603", "0603 to 0402"],
)
def test_touching_courtyards_leave_the_sum_of_both(make, gap: float) -> None:
    subject = board(60, 40, parts=(undrawn(chip("R1", (10, 10))), undrawn(make(12.0))))
    first, second = Inputs(subject, SHEET).bodies.on(TOP)
    one, other = claimed(first), claimed(second)
    assert other.bounds[1] - one.bounds[3] == pytest.approx(2.0 - 0.95 - gap)


def test_a_missing_courtyard_turns_with_its_part() -> None:
    subject = board(60, 40, parts=(undrawn(chip("R1", (10, 10), rotation=30)),))
    (body,) = Inputs(subject, SHEET).bodies.on(TOP)
    assert claimed(body).area == pytest.approx((2.4 + 0.5) * (0.95 + 0.5))


def test_the_hull_of_leads_is_nobodys_courtyard() -> None:
    coil = dataclasses.replace(through_part("L1", (30, 20), package="mystery"), courtyard={}, body=None)
    for body in Inputs(board(60, 40, parts=(coil,)), SHEET).bodies.on(TOP):
        assert claimed(body).is_empty


# --- overlap


def test_courtyards_overlap_where_parts_keep_their_distance() -> None:
    finding = only(overlaps(*pair(0.6)))
    assert finding.message == "The courtyards of R1 and R2 overlap by 0.40 mm"
    assert finding.consequence is NOTE
    assert finding.measured == pytest.approx(0.4)
    assert finding.uids == ("part-R1", "part-R2")
    assert finding.places[0].at == pytest.approx((10, 10 + 0.475 + 0.3))


@pytest.mark.parametrize(("gap", "found"), [(0.98, True), (1.0, False), (1.0 - 1e-4, False), (1.1, False)])
def test_touching_is_right(gap: float, found: bool) -> None:
    assert bool(overlaps(*pair(gap))) is found


def test_what_another_check_tells_is_not_told_twice() -> None:
    assert overlaps(*pair(0.4)) == []  # short of 0.5 mm: spacing/parts-too-close
    assert overlaps(*pair(0.5)) != []


def test_sides_do_not_meet_and_both_are_seen() -> None:
    top, bottom = pair(0.6), pair(0.6, side=BOTTOM)
    assert overlaps(top[0], bottom[1]) == []
    assert only(overlaps(*bottom)).places[0].side is BOTTOM


def test_several_are_one_finding() -> None:
    wider = [dataclasses.replace(p, uid=p.uid + "b", reference=p.reference + "0") for p in pair(0.7)]
    shifted = [transform(board(parts=(p,)), moved(20, 0)).parts[0] for p in wider]
    finding = only(overlaps(*shifted, *pair(0.6)))
    assert finding.message == "2 pairs of courtyards overlap, R1 and R2 by 0.40 mm"
    assert len(finding.places) == 2


def test_a_part_without_a_courtyard_gets_the_usual_one_against_a_drawn_one() -> None:
    first, second = pair(0.6)
    finding = only(overlaps(first, undrawn(second)))
    assert finding.message == (
        "The courtyards of R1 and R2 overlap by 0.15 mm; none is drawn for R2, the usual one is taken"
    )
    assert overlaps(undrawn(first), undrawn(second)) == []


@pytest.mark.parametrize(
    "other",
    [chip("R2", (10, 11.5), fitted=False), hole("H1", (10, 12.5), drill=1.0), probe_pad("TP1", (10, 11.6))],
    ids=lambda item: item.reference,
)
def test_what_is_not_placed_does_not_count(other: Part) -> None:
    assert overlaps(pair(0.6)[0], other) == []


def test_motion_changes_places_only() -> None:
    subject = board(60, 40, parts=(*pair(0.6), chip("R9", (30, 20), rotation=30), chip("R8", (31, 21.2), rotation=30)))
    before = ask(courtyards_overlap, subject)
    assert before
    for motion in (moved(17.3, -4.1), quarter_turns(1), mirrored()):
        after = ask(courtyards_overlap, transform(subject, motion))
        assert [(f.message, f.fingerprint) for f in after] == [(f.message, f.fingerprint) for f in before]


# --- missing


def missing(with_yard: int, without: int) -> list[Finding]:
    parts = [chip(f"R{n}", (3 + 3 * (n % 15), 3 + 3 * (n // 15))) for n in range(with_yard + without)]
    return ask(courtyards_missing, board(60, 40, parts=[*map(undrawn, parts[:without]), *parts[without:]]))


@pytest.mark.parametrize(
    ("with_yard", "without", "found"), [(0, 4, False), (0, 5, True), (20, 5, True), (21, 5, False), (30, 0, False)]
)
def test_many_missing_courtyards_are_a_note(with_yard: int, without: int, found: bool) -> None:
    findings = missing(with_yard, without)
    assert bool(findings) is found
    assert all(f.consequence is NOTE for f in findings)


def test_which_are_missing_is_said() -> None:
    assert only(missing(2, 5)).message == "5 of 7 parts have no courtyard: R0, R1, R2, R3, R4"


def test_marks_and_holes_need_none() -> None:
    bare = [undrawn(hole(f"H{n}", (5 * n + 5, 5))) for n in range(8)]
    assert ask(courtyards_missing, board(60, 40, parts=bare)) == []


# --- part under part


def under(*parts: Part) -> list[Finding]:
    return ask(part_under_part, board(60, 40, parts=parts))


def shield(height: Optional[float] = None, side=TOP) -> Part:
    frame = smd_part("SH1", (30, 20), nets=("",) * 4, span=18, pitch=8, package="Shield_Can_20x20mm", side=side)
    return dataclasses.replace(frame, body=rectangle((30, 20), 20, 20), height=height)


def tall(reference: str, at: tuple[float, float], height: Optional[float], **more) -> Part:
    return dataclasses.replace(chip(reference, at, **more), height=height)


@pytest.mark.parametrize(
    ("cover", "inside", "expected"),
    [
        (2.0, 1.5, None),  # exactly the allowance of 0.5 mm
        (2.0, 1.6, NOTE),
        (2.0, 2.0, NOTE),
        (2.0, 2.1, QUERY),
        (None, 1.0, NOTE),
    ],
)
def test_the_room_under_a_shield(cover: Optional[float], inside: float, expected: Optional[Consequence]) -> None:
    findings = under(shield(cover), tall("C1", (30, 20), inside))
    assert [f.consequence for f in findings] == ([] if expected is None else [expected])


def test_unknown_heights_are_a_note_and_said() -> None:
    unknown = dataclasses.replace(chip("X1", (26, 20), package="mystery"), height=None)
    finding = only(under(shield(2.0), unknown, tall("C1", (30, 20), 1.0)))
    assert finding.consequence is NOTE
    assert finding.message == "X1, of unknown height, lies under SH1; the cover is 2.00 mm high"
    finding = only(under(shield(None), unknown, tall("C1", (30, 20), 1.0)))
    assert finding.message == (
        "C1, X1 lie under SH1, the tallest, C1, 1.00 mm high; the height of X1 is unknown; "
        "the room under it is not stated"
    )


def test_parts_beside_and_behind_a_shield_are_not_under_it() -> None:
    assert under(shield(1.0), tall("C1", (45, 20), 3.0)) == []
    assert under(shield(1.0), tall("C1", (30, 20), 3.0, side=BOTTOM)) == []
    assert only(under(shield(1.0, BOTTOM), tall("C1", (30, 20), 3.0, side=BOTTOM))).places[0].side is BOTTOM


def test_parts_under_a_module_on_pins_are_one_note() -> None:
    module = dataclasses.replace(through_part("U5", (30, 20), nets=("",) * 10, package="Arduino_Nano"))
    module = dataclasses.replace(module, body=rectangle((30, 20), 26, 18))
    finding = only(under(module, chip("C1", (30, 25)), chip("C2", (34, 25)), chip("C3", (55, 35))))
    assert finding.message.startswith("C1, C2 lie under U5, the tallest, ")
    assert finding.consequence is NOTE
    assert [place.label for place in finding.places] == ["C1 under U5", "C2 under U5"]


def test_nothing_under_nothing() -> None:
    assert under() == []
    assert under(chip("R1", (10, 10)), chip("R2", (20, 10))) == []
