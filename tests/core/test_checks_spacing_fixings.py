# SPDX-License-Identifier: MIT
"""Room round holes for screws."""

from __future__ import annotations

import dataclasses
import re

import pytest
import shapely

import demos
from asking import ask, only
from build import BOTTOM, TOP, board, chip, hole, part, pour, rectangle, through_pad, through_part, track, via
from lineworthy.checks.spacing_fixings import ceramic_near_screw, copper_under_screw, part_under_screw
from lineworthy.finding import Consequence, Finding
from lineworthy.knowledge.holes import fixing_holes
from lineworthy.knowledge.screws import SCREWS, screw_for, takes_washer
from lineworthy.model import Part
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


# --- which screw


def screw_of(item: Part) -> str:
    (found,) = fixing_holes(board(60, 40, parts=(item,)))
    screw = screw_for(found)
    return screw.size if screw else ""


@pytest.mark.parametrize(
    ("drill", "expected"),
    # clearance holes of ISO 273, series fine, medium and coarse (from memory), where the next thread does not fit
    [
        *((d, "M2") for d in (2.2, 2.4)),
        *((d, "M2.5") for d in (2.7, 2.9)),
        *((d, "M3") for d in (3.2, 3.4)),
        *((d, "M4") for d in (4.3, 4.5, 4.8)),
        *((d, "M5") for d in (5.3, 5.5)),
        *((d, "M6") for d in (6.4, 6.6, 7.0)),
    ],
)
def test_the_screw_of_a_clearance_hole(drill: float, expected: str) -> None:
    assert screw_of(hole("H1", (10, 10), drill=drill, package="MountingHole")) == expected


def test_the_name_decides_where_the_screw_goes_through() -> None:
    assert screw_of(hole("H1", (10, 10), drill=3.5, package="MountingHole_3.5mm_M3")) == "M3"
    assert screw_of(hole("H1", (10, 10), drill=3.2, package="MountingHole_M4")) == "M3"


def test_tooling_holes_and_wide_holes_take_no_screw() -> None:
    assert screw_of(hole("H1", (10, 10), drill=3.2, package="Tooling_Hole")) == ""
    assert screw_of(hole("H1", (10, 10), drill=12.0, package="MountingHole_12mm")) == ""
    assert screw_of(hole("X1", (10, 10), drill=9.4, package="hole_9.4")) == ""


@pytest.mark.editor
def test_heads_and_holes_are_those_of_the_editors_library() -> None:
    """The library draws the head of ISO 14580 screws as a circle and drills the hole in the name."""
    folder = demos.FOOTPRINTS / "MountingHole.pretty"
    drawn = {}
    for path in sorted(folder.glob("MountingHole_*mm_M*_ISO14580.kicad_mod")):
        drill, thread = re.findall(r"MountingHole_([\d.]+)mm_M([\d.]+)_", path.name)[0]
        circle = re.search(
            r'\(fp_circle\s*\(center 0 0\)\s*\(end ([\d.]+) 0\)(?:(?!fp_circle).)*?"Cmts', path.read_text(), re.S
        )
        assert circle
        drawn[float(thread)] = (float(drill), 2 * float(circle[1]))
    assert len(drawn) >= 6
    for screw in SCREWS:
        if screw.thread in drawn:
            hole_drawn, head = drawn[screw.thread]
            assert head == pytest.approx(screw.head), screw
            assert screw_of(hole("H1", (10, 10), drill=hole_drawn, package="MountingHole")) == screw.size
        assert screw.thread < screw.head <= screw.pan <= screw.washer


def test_countersunk_heads_take_no_washer() -> None:
    def washer(package: str) -> bool:
        (found,) = fixing_holes(board(60, 40, parts=(hole("H1", (10, 10), package=package),)))
        return takes_washer(found)

    assert washer("MountingHole_3.2mm_M3")
    assert not washer("MountingHole_3.2mm_M3_DIN965")
    assert not washer("MountingHole_3.2mm_M3_ISO14580_Pad")


# --- parts under heads: M3 takes 2.75 mm (socket head, 5.5 mm across) and 3.5 mm (washer, 7 mm across)


def at_hole(gap: float, side=TOP, **more) -> list[Finding]:
    """A chip whose nearest land is `gap` from the middle of an M3 hole."""
    near = chip("C1", (20 + gap + 1.2, 20), side=side)
    return ask(part_under_screw, board(60, 40, parts=(hole("H1", (20, 20), **more), near)))


@pytest.mark.parametrize(
    ("gap", "expected"),
    [(2.0, [QUERY]), (2.749, [QUERY]), (2.75, [NOTE]), (3.499, [NOTE]), (3.5, []), (5.0, [])],
)
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_head_and_washer_from_both_sides_of_the_limit(gap: float, expected: list[Consequence], side) -> None:
    findings = at_hole(gap, side)
    assert [f.consequence for f in findings] == expected
    assert all(f.places[0].side is side for f in findings)


def test_what_a_finding_says() -> None:
    finding = only(at_hole(2.0))
    assert finding.message == (
        "C1 stands under the head of the screw in H1: 2.00 mm from its middle, 2.75 mm needed for M3"
    )
    assert (finding.measured, finding.limit) == (pytest.approx(2.0), 2.75)
    assert only(at_hole(3.0)).message == (
        "C1 stands under the washer of the screw in H1: 3.00 mm from its middle, 3.50 mm needed for M3"
    )


def test_a_countersunk_hole_has_no_washer() -> None:
    assert at_hole(3.0, package="MountingHole_3.2mm_M3_DIN965") == []


def test_a_hole_that_only_looks_like_one_gives_a_note() -> None:
    bare = part("X1", (20, 20), (through_pad("", (20, 20), 3.2, 3.2, plated=False),), package="round thing")
    findings = ask(part_under_screw, board(60, 40, parts=(bare, chip("C1", (23.2, 20)))))
    assert [f.consequence for f in findings] == [NOTE]


def test_what_is_screwed_down_there_is_meant() -> None:
    display = through_part("U5", (20, 26), nets=("",) * 10, package="Display_Module")
    display = dataclasses.replace(display, body=rectangle((20, 20), 20, 16))
    regulator = dataclasses.replace(
        through_part("U1", (20, 30), nets=("",) * 3, package="TO-220-3_Horizontal"), body=rectangle((20, 24), 10, 16)
    )
    assert ask(part_under_screw, board(60, 40, parts=(hole("H1", (20, 20)), display))) == []
    assert ask(part_under_screw, board(60, 40, parts=(hole("H1", (20, 20)), regulator))) == []


def test_several_parts_are_one_finding_and_motion_changes_places_only() -> None:
    parts = (hole("H1", (20, 20)), hole("H2", (40, 20)), chip("C1", (23, 20)), chip("C2", (43.2, 20), side=BOTTOM))
    subject = board(60, 40, parts=parts)
    finding = only(ask(part_under_screw, subject))
    assert finding.message == (
        "C1, C2 stand under the head of the screw in H1, H2: nearest C1 at H1, 1.80 mm from its middle,"
        " 2.75 mm needed for M3"
    )
    for motion in (moved(3.3, 4.4), quarter_turns(1), mirrored()):
        after = only(ask(part_under_screw, transform(subject, motion)))
        assert (after.message, after.fingerprint) == (finding.message, finding.fingerprint)


def test_no_hole_no_part() -> None:
    assert ask(part_under_screw, board(60, 40)) == []
    assert ask(part_under_screw, board(60, 40, parts=(hole(),))) == []
    assert ask(part_under_screw, board(60, 40, parts=(chip("C1", (9, 9)),))) == []


# --- ceramic capacitors: 3 mm from the rim of the pan head (5.6 mm across)


def ceramic(rim: float, size: str = "0603_1608", side=TOP, letter: str = "C") -> list[Finding]:
    near = chip(f"{letter}1", (20 + 2.8 + rim + 1.2, 20), package=f"{letter}_{size}Metric", side=side)
    return ask(ceramic_near_screw, board(60, 40, parts=(hole("H1", (20, 20)), near)))


@pytest.mark.parametrize(("rim", "found"), [(0.5, True), (2.999, True), (3.0, False), (4.0, False)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_ceramic_near_a_screw(rim: float, found: bool, side) -> None:
    findings = ceramic(rim, side=side)
    assert bool(findings) is found
    assert all(f.consequence is NOTE and f.limit_key == "spacing.ceramic_to_screw_min_mm" for f in findings)


def test_small_ceramics_and_resistors_do_not_count() -> None:
    assert ceramic(1.0, size="0402_1005") == []
    assert ceramic(1.0, letter="R") == []


# --- copper under heads: a pan head is 2.8 mm from the middle


def copper(net: str = "SDA", **items) -> list[Finding]:
    parts = items.pop("parts", (hole("H1", (20, 20)),))
    wired = (chip("R1", (50, 5), nets=(net, "OTHER")), chip("R2", (50, 15), nets=(net, "OTHER")))
    return ask(copper_under_screw, board(60, 40, parts=(*parts, *wired), **items))


@pytest.mark.parametrize(("gap", "found"), [(2.0, True), (2.79, True), (2.8, False), (3.5, False)])
@pytest.mark.parametrize("layer", ["top", "bottom"])
def test_a_track_under_the_head(gap: float, found: bool, layer: str) -> None:
    line = track((10, 20 + gap + 0.1), (30, 20 + gap + 0.1), 0.2, layer=layer, net="SDA")
    assert bool(copper(tracks=(line,))) is found


def test_vias_and_pours_count_and_ground_does_not() -> None:
    finding = only(copper(vias=(via((22, 20), net="SDA"),)))
    assert finding.message == "Copper of SDA lies under the head of the screw in H1 (pan head M3, 5.60 mm)"
    plane = rectangle((20, 20), 30, 30).difference(shapely.Point(20, 20).buffer(1.9))
    assert copper("V5", areas=(pour(plane, net="V5"),))
    assert copper("GND", areas=(pour(plane, net="GND"),)) == []
    wide = rectangle((20, 20), 30, 30).difference(shapely.Point(20, 20).buffer(2.9))
    assert copper("V5", areas=(pour(wide, net="V5"),)) == []


def test_the_net_of_the_hole_itself_is_meant() -> None:
    plated = part(
        "H1", (20, 20), (through_pad("1", (20, 20), 4.4, 3.2, net="SDA"),), package="MountingHole_3.2mm_M3_Pad"
    )
    assert copper(parts=(plated,), vias=(via((22, 20), net="SDA"),)) == []
    assert copper(parts=(plated,), vias=(via((22.4, 20), net="OTHER"),)) != []


def test_inner_layers_do_not_count() -> None:
    line = track((10, 21), (30, 21), 0.2, layer="in1", net="SDA")
    assert copper(copper_layers=("top", "in1", "bottom"), tracks=(line,)) == []
