# SPDX-License-Identifier: MIT
"""Parts beside cut-outs, and capacitors where the board bends."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import affinity

from asking import ask, only
from build import BOTTOM, TOP, board, chip, outline, part, rectangle, smd_part, through_pad
from lineworthy import Board
from lineworthy.checks.spacing_places import ceramic_on_neck, part_at_cutout
from lineworthy.finding import Consequence, Finding
from lineworthy.model import Hole, Outline, PadRole, Part, Side
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
NOTE = Consequence.NOTE


def with_cutout(*parts: Part, cutout=None) -> Board:
    """A board of 60 x 40 mm with a window from (20, 15) to (40, 25)."""
    window = rectangle((30, 20), 20, 10) if cutout is None else cutout
    return board(60, 40, outline=outline(60, 40, cutouts=(window,)), parts=parts)


def beside(gap: float, side: Side = TOP) -> Part:
    """A chip `gap` right of the window."""
    return chip("C1", (40 + gap + 1.2, 20), side=side)


# --- beside a cut-out: 0.5 mm


@pytest.mark.parametrize(("gap", "found"), [(0.1, True), (0.499, True), (0.5, False), (2.0, False)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_part_at_a_cutout(gap: float, found: bool, side: Side) -> None:
    findings = ask(part_at_cutout, with_cutout(beside(gap, side)))
    assert bool(findings) is found
    assert all(f.consequence is NOTE and f.places[0].side is side for f in findings)


def test_what_a_finding_says() -> None:
    finding = only(ask(part_at_cutout, with_cutout(beside(0.3))))
    assert finding.message == "C1 stands at a cut-out, 0.30 mm from the edge; 0.50 mm needed"
    assert finding.limit_key == "spacing.cutout_part_min_mm"
    assert finding.places[0].at[0] == pytest.approx(40.15)
    finding = only(ask(part_at_cutout, with_cutout(beside(0.3), chip("C2", (18.6, 20)))))
    assert finding.message == "C1, C2 stand at cut-outs, nearest C2, 0.20 mm from the edge; 0.50 mm needed"


def test_what_reaches_into_an_opening_is_mounted_there() -> None:
    socket = smd_part("J1", (30, 20), nets=("",) * 4, span=14, package="USB_C_Receptacle_midmount")
    assert ask(part_at_cutout, with_cutout(dataclasses.replace(socket, body=rectangle((30, 20), 8, 13)))) == []


def at_left_edge(into: float, **more) -> Part:
    """A chip whose right land, 0.8 mm wide, reaches so far into the window."""
    return chip("C1", (20 - 1.2 + into, 20), **more)


@pytest.mark.parametrize(("into", "told"), [(0.03, 0), (0.05, 1), (0.5, 1), (1.0, 1)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_lands_in_an_opening(into: float, told: int, side: Side) -> None:
    findings = ask(part_at_cutout, with_cutout(at_left_edge(into, side=side)))
    assert [f.message for f in findings] == ["C1: lands reach into a cut-out"] * told
    assert all(f.consequence is NOTE and f.places[0].side is side for f in findings)


def test_lands_made_for_an_edge_may_reach_into_it() -> None:
    item = at_left_edge(0.5)
    pads = tuple(dataclasses.replace(land, role=PadRole.CASTELLATED) for land in item.pads)
    assert ask(part_at_cutout, with_cutout(dataclasses.replace(item, pads=pads))) == []


@pytest.mark.parametrize(("package", "told"), [("LQFP-48_7x7mm_P0.5mm", 1), ("SOIC-8", 0)])
def test_a_window_under_a_package(package: str, told: int) -> None:
    """An isolating part bridges it on purpose, one with leads on four sides does not."""
    item = smd_part("U1", (30, 20), nets=("",) * 8, span=8, package=package)
    window = rectangle((30, 20), 2, 2)
    findings = ask(part_at_cutout, with_cutout(item, cutout=window))
    assert [f.message for f in findings] == ["U1: a cut-out lies under the body, between leads on four sides"] * told


def slot(at, owner: str = "H1") -> Part:
    pad = through_pad("", at, 1.0, 1.0, plated=False)
    return part(owner, at, (dataclasses.replace(pad, hole=Hole(at, (6.0, 1.0), False)),), package="Slot")


def test_milled_slots_count_and_drilled_holes_do_not() -> None:
    near = chip("C1", (30, 20 + 0.5 + 0.3 + 0.475))
    assert only(ask(part_at_cutout, board(60, 40, parts=(slot((30, 20)), near)))).measured == pytest.approx(0.3)
    drilled = part("H1", (30, 20), (through_pad("", (30, 20), 1.0, 1.0, plated=False),), package="Hole")
    assert ask(part_at_cutout, board(60, 40, parts=(drilled, near))) == []


def test_nothing_to_ask() -> None:
    assert ask(part_at_cutout, board(60, 40, parts=(chip("C1", (0.8, 20)),))) == []
    assert ask(part_at_cutout, with_cutout()) == []


# --- necks: the window leaves 5 mm of board above it


NECK = rectangle((30, 28), 24, 14)
"""A window whose upper side is 5 mm below the edge at y 40."""


def test_without_an_outline_there_is_no_neck() -> None:
    assert not ask(
        ceramic_on_neck, dataclasses.replace(board(parts=(capacitor((5, 5)),)), outline=Outline(shapely.Polygon()))
    )


def capacitor(at, rotation: float = 90.0, **more) -> Part:
    made = {"package": "C_0805_2012Metric", **more}
    return chip("C1", at, rotation=rotation, **made)


def on_neck(*parts: Part, cutout=NECK) -> list[Finding]:
    return ask(ceramic_on_neck, with_cutout(*parts, cutout=cutout))


def test_a_capacitor_along_the_neck() -> None:
    finding = only(on_neck(capacitor((30, 37.5), rotation=0)))
    assert finding.consequence is NOTE
    assert finding.message == (
        "C1 stands on a neck of the board, the way it bends: beside C1, 5.00 mm of board are left between a cut-out or"
        " slot and the next edge"
    )
    assert on_neck(capacitor((20, 38), rotation=0)) != []
    assert on_neck(capacitor((30, 37.5), rotation=0, side=BOTTOM)) != []


def test_across_the_neck_elsewhere_small_or_no_capacitor() -> None:
    assert on_neck(capacitor((30, 37.5), rotation=90)) == []
    assert on_neck(capacitor((52, 37.5), rotation=0)) == []
    assert on_neck(capacitor((30, 37.5), rotation=0, package="C_0402_1005Metric")) == []
    assert on_neck(dataclasses.replace(chip("R1", (30, 37.5), package="R_0805_2012Metric"))) == []
    assert on_neck(capacitor((30, 37.5), rotation=0, fitted=False)) == []


def test_a_wide_bridge_is_no_neck() -> None:
    # 24 mm long: a hinge up to 12 mm, here 13 mm to every edge
    middle = rectangle((30, 20), 24, 14)
    assert on_neck(capacitor((30, 33), rotation=0), cutout=middle) == []


def slotted(
    *parts: Part, left: float = 8.0, depth: float = 20.0, width: float = 4.0, turn: float = 0.0
) -> list[Finding]:
    """A board with a slot from its upper edge at x 30, that leaves some board below it."""
    area = shapely.box(0, 0, 60, depth + left).difference(
        shapely.box(30 - width / 2, left, 30 + width / 2, depth + left)
    )
    made = board(60, 40, outline=Outline(affinity.rotate(area, turn, origin=(0, 0))), parts=parts)
    return ask(ceramic_on_neck, made)


@pytest.mark.parametrize(("left", "found"), [(10.0, True), (10.01, False), (6.0, True), (18.0, False)])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
@pytest.mark.parametrize("side", list(Side))
def test_a_slot_that_begins_at_the_edge_leaves_a_neck(left: float, found: bool, turn: float, side: Side) -> None:
    """Half as wide as the slot is deep: common practice, no source; as for cut-outs."""
    at = affinity.rotate(shapely.Point(30, left / 2), turn, origin=(0, 0)).coords[0]
    across = capacitor(at, rotation=turn, side=side)
    told = slotted(across, left=left, turn=turn)
    assert [finding.measured for finding in told] == pytest.approx([left] * found, abs=1e-3)
    assert slotted(capacitor(at, rotation=turn + 90, side=side), left=left, turn=turn) == []


def test_what_is_no_neck_at_a_slot() -> None:
    assert slotted(capacitor((30, 4), rotation=0)) != []
    assert slotted(capacitor((17, 4), rotation=0)) == []  # beside the neck
    assert slotted(capacitor((24, 20), rotation=90)) == []  # on the tongue beside the slot
    assert slotted(capacitor((30, 4), rotation=0), width=20.0) != []  # as deep as wide
    assert slotted(capacitor((30, 4), rotation=0), width=20.1) == []  # a recess
    assert ask(ceramic_on_neck, board(parts=(capacitor((30, 4), rotation=0),))) == []


def test_motion_changes_places_only() -> None:
    subject = with_cutout(capacitor((30, 37.5), rotation=0), cutout=NECK)
    near = with_cutout(beside(0.3), chip("C9", (18.6, 20)))
    for check, item in ((ceramic_on_neck, subject), (part_at_cutout, near)):
        before = ask(check, item)
        assert before
        for motion in (moved(3.3, 4.4), quarter_turns(1), mirrored()):
            after = ask(check, transform(item, motion))
            assert [(f.message, f.fingerprint) for f in after] == [(f.message, f.fingerprint) for f in before]
