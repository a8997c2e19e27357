# SPDX-License-Identifier: MIT
"""Room to replace parts: irons, nozzles, support from the far side."""

from __future__ import annotations

import dataclasses
from typing import Optional

import pytest
import shapely
from shapely import affinity

from asking import ask as answers
from asking import only
from build import BOTTOM, TOP, board, chip, part, rectangle, round_pad, smd_part, through_part
from lineworthy.checks.spacing_access import array_without_support, joint_out_of_reach, nozzle_hemmed_in, rework_crowded
from lineworthy.finding import Consequence, Finding, NotRun
from lineworthy.knowledge.wording import mm
from lineworthy.model import PadRole, Part, Side
from lineworthy.project import Project
from lineworthy.registry import Check
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
NOTE = Consequence.NOTE


def ask(check: Check, *parts: Part) -> list[Finding]:
    return [a for a in answers(check, board(60, 40, parts=parts)) if isinstance(a, Finding)]


def not_run(check: Check, *parts: Part) -> list[NotRun]:
    return [a for a in answers(check, board(60, 40, parts=parts)) if isinstance(a, NotRun)]


def wall(
    reference: str, low: tuple[float, float], high: tuple[float, float], height: Optional[float], side: Side = TOP
) -> Part:
    """A leaded connector with this body."""
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    item = through_part(reference, middle, nets=("",), package="Conn_01x01", side=side)
    body = rectangle(middle, high[0] - low[0], high[1] - low[1])
    return dataclasses.replace(item, body=body, height=height)


def walls(height: Optional[float], gap: float, sides: str = "NESW", side: Side = TOP) -> list[Part]:
    """Walls of 2 mm round a chip at (30, 20); `gap` from the middles of its lands, which are 1.6 mm apart."""
    left, right, bottom, top = 29.2 - gap, 30.8 + gap, 20 - gap, 20 + gap
    made = {
        "N": wall("J1", (left - 2, top), (right + 2, top + 2), height, side),
        "E": wall("J2", (right, bottom - 2), (right + 2, top + 2), height, side),
        "S": wall("J3", (left - 2, bottom - 2), (right + 2, bottom), height, side),
        "W": wall("J4", (left - 2, bottom - 2), (left, top + 2), height, side),
    }
    return [made[name] for name in sides]


# --- irons: a part 8.5 mm tall is in the way up to 6 mm from the middle of a land


def test_a_chip_between_tall_walls() -> None:
    finding = only(ask(joint_out_of_reach, chip("C1", (30, 20)), *walls(8.5, 3.0)))
    assert finding.consequence is NOTE
    assert finding.message == (
        "No way in for an iron to 2 joints of C1: C1 behind J4, 8.50 mm high; a strip of 1.50 mm needed"
    )
    assert [place.label for place in finding.places] == ["C1 pad 1", "C1 pad 2"]


@pytest.mark.parametrize("open_side", ["ESW", "NSW", "NEW", "NES"])
def test_one_free_way_is_enough(open_side: str) -> None:
    # a way out to the north or the south serves both lands, one to the east only the land there
    findings = ask(joint_out_of_reach, chip("C1", (30, 20)), *walls(8.5, 3.0, open_side))
    left = sum(f.measured or 0 for f in findings)
    assert left == (0 if open_side in ("ESW", "NEW") else 1)


@pytest.mark.parametrize(("height", "found"), [(2.5, False), (5.5, False), (5.502, True), (8.5, True)])
def test_height_less_what_an_iron_passes_over_is_the_distance_kept(height: float, found: bool) -> None:
    # straight out 3 mm to each wall: in the way from 3 + 2.5 mm on; slanted ways are longer, and so free for longer
    slanted = walls(20.0, 3.0, "NS")
    inner = walls(height, 3.0, "EW")
    assert bool(ask(joint_out_of_reach, chip("C1", (30, 20)), *slanted, *inner)) is found


def test_sides_of_the_board() -> None:
    assert ask(joint_out_of_reach, chip("C1", (30, 20), side=BOTTOM), *walls(8.5, 3.0)) == []
    finding = only(ask(joint_out_of_reach, chip("C1", (30, 20), side=BOTTOM), *walls(8.5, 3.0, side=BOTTOM)))
    assert finding.places[0].side is BOTTOM


def test_leads_in_a_row_are_reached_from_their_own_side_only() -> None:
    ic = smd_part("U1", (30, 20), nets=("",) * 8)  # rows at y 17.5 and 22.5
    north = wall("J1", (20, 24.0), (40, 26), 8.5)
    finding = only(ask(joint_out_of_reach, ic, north))
    assert finding.measured == 4
    assert ask(joint_out_of_reach, ic, wall("J1", (34, 15), (36, 25), 8.5)) == []


def lead(side: Side = TOP) -> Part:
    """A pin at (30, 20), soldered on the other side."""
    return through_part("J9", (30, 20), nets=("",), package="PinHeader_1x01_P2.54mm_Vertical", side=side)


@pytest.mark.parametrize("side", list(Side))
def test_the_end_of_a_lead_between_tall_walls(side: Side) -> None:
    finding = only(ask(joint_out_of_reach, lead(side.other), *walls(20.0, 3.0, side=side)))
    assert finding.message == (
        "No way in for an iron to 1 joint of J9: J9 behind J1, 20.00 mm high; a strip of 1.50 mm needed"
    )
    assert [(place.label, place.side) for place in finding.places] == [("J9 pad 1", side)]
    assert ask(joint_out_of_reach, lead(side), *walls(20.0, 3.0, side=side)) == []  # they stand round its body
    for open_side in ("ESW", "NSW", "NEW", "NES"):
        assert ask(joint_out_of_reach, lead(side.other), *walls(20.0, 3.0, open_side, side)) == []


@pytest.mark.parametrize(("height", "found"), [(6.3, False), (6.302, True)])
def test_how_tall_what_stands_round_a_lead_may_be(height: float, found: bool) -> None:
    """3.8 mm to the walls in the east and the west, and 2.5 mm that an iron passes over."""
    tall = [*walls(20.0, 3.0, "NS", BOTTOM), *walls(height, 3.0, "EW", BOTTOM)]
    assert bool(ask(joint_out_of_reach, lead(), *tall)) is found


def test_a_pin_that_is_pressed_in_needs_no_iron() -> None:
    pressed = lead()
    pins = tuple(dataclasses.replace(pin, role=PadRole.PRESS_FIT) for pin in pressed.pads)
    assert ask(joint_out_of_reach, dataclasses.replace(pressed, pads=pins), *walls(20.0, 3.0, side=BOTTOM)) == []


def test_unknown_heights_are_asked_for() -> None:
    parts = (chip("C1", (30, 20)), *walls(None, 1.6))
    assert ask(joint_out_of_reach, *parts) == []
    (missing,) = not_run(joint_out_of_reach, *parts)
    assert "(J2, J4)" in missing.missing
    assert not_run(joint_out_of_reach, chip("C1", (30, 20)), *walls(None, 3.0)) == []


def test_nothing_in_the_way() -> None:
    assert ask(joint_out_of_reach) == []
    assert ask(joint_out_of_reach, chip("C1", (30, 20))) == []
    low = [chip(f"R{n}", (30 + dx, 20 + dy)) for n, (dx, dy) in enumerate(((3, 0), (-3, 0), (0, 1.5), (0, -1.5)))]
    assert ask(joint_out_of_reach, chip("C1", (30, 20)), *low) == []


def test_motion_changes_places_only() -> None:
    subject = board(60, 40, parts=(chip("C1", (30, 20)), *walls(8.5, 3.0)))
    before = answers(joint_out_of_reach, subject)
    assert before
    for motion in (moved(3.3, 4.4), quarter_turns(1), quarter_turns(3), mirrored()):
        after = answers(joint_out_of_reach, transform(subject, motion))
        assert [(f.message, f.fingerprint) for f in after] == [(f.message, f.fingerprint) for f in before]


# --- nozzles: 3.125 mm round arrays (IPC-7095 interim draft, as quoted), 2 mm round others


def array(reference: str = "U9", at=(30.0, 20.0), side: Side = TOP, count: int = 8, pitch: float = 0.8) -> Part:
    step = [(n - (count - 1) / 2) * pitch for n in range(count)]
    balls = [
        round_pad(f"{r}-{c}", (at[0] + step[r], at[1] + step[c]), 0.4, side=side)
        for r in range(count)
        for c in range(count)
    ]
    wide = count * pitch
    return part(reference, at, balls, package="BGA-64", body=rectangle(at, wide, wide), side=side)


def at_array(gap: float, side: Side = TOP) -> list[Finding]:
    return ask(nozzle_hemmed_in, array(side=side), chip("C1", (30 + 3.2 + gap + 1.2, 20), side=side))


@pytest.mark.parametrize(("gap", "found"), [(1.25, True), (3.124, True), (3.125, False), (4.0, False)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_the_ring_round_an_array(gap: float, found: bool, side: Side) -> None:
    findings = at_array(gap, side)
    assert bool(findings) is found
    assert all(f.limit == 3.125 and f.places[0].side is side for f in findings)


def test_what_is_nearer_is_told_elsewhere() -> None:
    assert at_array(1.0) == []  # spacing/parts-too-close


def test_what_a_ring_finding_says() -> None:
    finding = only(at_array(2.0))
    assert (
        finding.message
        == "1 part stands in the ring for the nozzle round U9: nearest C1 at U9, 2.00 mm; 3.125 mm needed"
    )
    assert finding.limit_key == "spacing.array_nozzle_min_mm"


def flat(at=(30.0, 20.0)) -> Part:
    lands = smd_part("U1", at, nets=("",) * 8, span=3.4, pitch=0.65, land=(0.3, 0.8), package="QFN-8_4x4mm")
    return dataclasses.replace(lands, body=rectangle(at, 4, 4), height=0.9)


@pytest.mark.parametrize(
    ("gap", "height", "found"),
    [(1.0, 1.9, False), (1.0, 1.91, True), (1.999, 5.0, True), (2.0, 5.0, False), (1.0, None, False)],
)
def test_the_ring_round_a_package_without_leads(gap: float, height: Optional[float], found: bool) -> None:
    coil = smd_part("L1", (30 + 2 + gap + 3, 20), nets=("", ""), pitch=3, span=2, land=(2, 1.5), package="Choke")
    coil = dataclasses.replace(coil, body=rectangle(coil.at, 6, 6), height=height)
    # what is nearer than packages must be is told by spacing/parts-too-close
    findings = ask(nozzle_hemmed_in, flat(), coil)
    assert bool(findings) is found
    assert all(f.limit_key == "spacing.nozzle_wall_min_mm" for f in findings)


def test_low_chips_beside_a_package_without_leads_do_not_matter() -> None:
    assert ask(nozzle_hemmed_in, flat(), chip("C1", (30 + 2 + 0.6 + 1.2, 20))) == []


# --- the far side


@pytest.mark.parametrize(("height", "found"), [(0.55, False), (2.0, False), (2.01, True), (None, False)])
def test_tall_parts_behind_an_array(height: Optional[float], found: bool) -> None:
    behind = dataclasses.replace(chip("C1", (31, 21), side=BOTTOM, package="odd"), height=height)
    findings = ask(array_without_support, array(), behind)
    assert bool(findings) is found
    assert all(f.consequence is NOTE for f in findings)


def test_unknown_heights_of_tall_kinds_count() -> None:
    coil = smd_part("L1", (30, 20), nets=("", ""), pitch=3, span=2, land=(2, 1.5), package="Choke", side=BOTTOM)
    finding = only(ask(array_without_support, array(), coil))
    assert finding.message == (
        "L1 stands on the far side of U9: L1 is of unknown height; up to 2.00 mm, and no array, can stay there when an"
        " array is replaced"
    )


def test_arrays_back_to_back_are_told_once() -> None:
    finding = only(ask(array_without_support, array("U8"), array("U9", (31, 21), BOTTOM)))
    assert [place.label for place in finding.places] == ["U9 behind U8"]
    assert ask(array_without_support, array("U8"), array("U9", (40, 20), BOTTOM)) == []


def test_beside_and_on_the_same_side_is_not_behind() -> None:
    tall = dataclasses.replace(chip("C1", (34.5, 20), side=BOTTOM), height=5.0)
    assert ask(array_without_support, array(), tall) == []
    assert ask(array_without_support, array(), dataclasses.replace(chip("C1", (31, 21)), height=5.0)) == []
    assert ask(array_without_support, array()) == []


# --- parts that the settings say will be replaced


def circuit(reference: str = "U3", at=(30.0, 20.0), side: Side = TOP) -> Part:
    """Eight leads; lands end 3.25 mm above and below the middle."""
    return smd_part(reference, at, nets=("",) * 8, side=side)


def above(gap: float, side: Side = TOP) -> Part:
    """A chip whose lands, 0.95 mm high, begin a gap above those of U3."""
    return chip("C1", (30.0, 20.0 + 3.25 + gap + 0.475), side=side)


def reworked(*parts: Part, rework=("U3",)) -> list[Finding]:
    return answers(rework_crowded, board(parts=parts), project=Project(rework=rework))


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize(("gap", "found"), [(0.6, True), (1.999, True), (2.0, False), (3.0, False)])
def test_the_ring_round_a_part_to_be_replaced(gap: float, found: bool, side: Side) -> None:
    """Half to one millimetre of gap and one of nozzle wall on each side: common practice, no source."""
    told = reworked(circuit(side=side), above(gap, side))
    assert [(f.consequence, round(f.measured, 3)) for f in told] == [(Consequence.NOTE, gap)] * found


def test_what_a_part_to_be_replaced_says() -> None:
    assert only(reworked(circuit(), above(1.0), circuit("U4", (30.0, 27.5)), rework=("U*",))).message == (
        "3 parts stand where a nozzle does, round U3, U4, to be replaced now and then: nearest C1 at U3, 1.00 mm; 2.00"
        " mm needed"
    )


def test_parts_nobody_means_to_replace_are_not_asked() -> None:
    assert reworked(circuit(), above(1.0), rework=()) == []
    assert reworked(circuit(), above(1.0), rework=("C1",)) == []  # a chip with nothing at its ends
    assert reworked(circuit(), above(1.0, BOTTOM)) == []
    assert reworked(circuit(), above(0.1)) == []  # told as too close
    (lost,) = reworked(circuit(), above(5.0), rework=("U33",))
    assert isinstance(lost, NotRun)
    assert lost.missing == "No part called 'U33' (nearest is 'U3')"


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("rotation", [0.0, 90.0, 180.0, 33.0])
@pytest.mark.parametrize(("gap", "found"), [(0.6, True), (0.999, True), (1.0, False), (2.0, False)])
def test_room_for_tweezers_beyond_the_ends_of_a_chip(gap: float, found: bool, rotation: float, side: Side) -> None:
    """One millimetre at both ends: common practice, no source. The lands of a 0603 end 1.2 mm from its middle."""
    at = affinity.rotate(shapely.Point(30.0 + 2.4 + gap, 20.0), rotation, origin=(30, 20)).coords[0]
    named, other = (chip(name, spot, rotation=rotation, side=side) for name, spot in (("F1", (30.0, 20.0)), ("R1", at)))
    told = reworked(named, other, rework=("F1",))
    assert [(f.consequence, round(f.measured, 3), f.limit) for f in told] == [(Consequence.NOTE, gap, 1.0)] * found
    if found:
        assert told[0].message == (
            f"1 part stands where hot tweezers do, at the ends of F1, to be replaced now and then: nearest R1 at F1,"
            f" {mm(gap)} mm; 1.00 mm needed"
        )


def test_what_is_not_in_the_way_of_tweezers() -> None:
    named = chip("F1", (30.0, 20.0))
    for other in (
        chip("R1", (30.0, 21.6)),  # beside it
        chip("R1", (33.0, 20.0), side=BOTTOM),
        chip("R1", (33.0, 20.96)),  # beyond an end, past the width of its land
        chip("R1", (32.8, 20.0)),  # told as too close
    ):
        assert reworked(named, other, rework=("F1",)) == []
    # both ends, and both chips that are named: once, with every place
    row = [chip(f"F{n}", (24.0 + 3 * n, 20.0)) for n in (1, 2, 3)]
    told = only(reworked(*row, rework=("F*",)))
    assert [place.label for place in told.places] == ["F2 at F1", "F1 at F2", "F3 at F2", "F2 at F3"]


@pytest.mark.parametrize("motion", [moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2)])
def test_the_ring_moves_with_the_board(motion) -> None:
    made = transform(board(parts=(circuit(), above(1.0))), motion)
    assert only(answers(rework_crowded, made, project=Project(rework=("U3",)))).measured == pytest.approx(1.0)
