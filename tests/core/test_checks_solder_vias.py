# SPDX-License-Identifier: MIT
"""Holes in lands and beside them: volume against solder, heat lands, arrays, the web of mask."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest
import shapely

from build import BOTTOM, TOP, board, chip, pad, part, through_pad, via
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_vias import via_half_closed, via_in_land
from lineworthy.knowledge.drains import drains
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.packages import Packages
from lineworthy.model import PadRole, Stackup

SHEET = built_in()


def asked(parts, vias=(), **more):
    made = board(parts=tuple(parts), vias=tuple(vias), **more)
    return list(via_in_land.ask(board=made, sheet=SHEET, joints=Joints(made), packages=Packages(made)))


def resistor(**more):
    """Lands of 0.8 x 0.95 mm, 1.6 mm apart, about (10, 10)."""
    return chip("R1", (10, 10), nets=("A", "B"), **more)


def quad(side=TOP, paste=0.5, net="GND"):
    """Sixteen pins round a heat land of 3 x 3 mm."""
    pins = [
        pad(str(n), (10 + 0.65 * (n % 4) - 1, 10 + (2.6 if n < 8 else -2.6)), (0.3, 0.8), side=side) for n in range(8)
    ]
    pins += [pad("9", (10, 10), (3, 3), side=side, net=net)]
    return part("U1", (10, 10), pins, side=side, package="QFN-8-1EP_6x6mm", body=shapely.box(7, 7, 13, 13))


def ball_array(net="A"):
    """Four by four lands of 0.5 mm, the first at (10, 10)."""
    balls = [
        dataclasses.replace(pad(f"{'ABCD'[y]}{x + 1}", (10 + x, 10 + y), 0.5, net=net), role=PadRole.ARRAY)
        for y in range(4)
        for x in range(4)
    ]
    return part("U1", (11.5, 11.5), balls, package="BGA-16_4x4")


# --- volume against solder


def test_the_share_is_hole_volume_over_half_of_the_printed_volume() -> None:
    """0.3 mm through 1.6 mm is 0.1131 mm3; 0.8 x 0.95 mm of paste at 0.12 mm foil leaves 0.0456 mm3: 248 %.

    Half of it where the hole is closed at the far end: common practice, no source.
    """
    share = 100 * (np.pi / 4 * 0.09 * 1.6) / (0.8 * 0.95 * 0.12 * 0.5)
    [open_hole] = asked([resistor()], [via((9.2, 10), net="A", open_on=(BOTTOM,))])
    assert open_hole.measured == pytest.approx(share)
    [finding] = asked([resistor()], [via((9.2, 10), net="A")])
    assert finding.measured == pytest.approx(share / 2)
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "1 hole of 0.30 mm, covered on the far side, in 1 land of R1: up to 124 % of a land's solder fits into its"
        " holes (R1 pad 1), 50 % accepted"
    )


def thick(share: float):
    """A board so thick that a hole of 0.3 mm takes this share of the land's solder."""
    return Stackup(thickness=2 * share * 0.0456 / (np.pi / 4 * 0.09))


@pytest.mark.parametrize(
    ("share", "told"),
    [(0.50, []), (0.501, [Consequence.NOTE]), (1.0, [Consequence.NOTE]), (1.01, [Consequence.QUERY])],
)
def test_on_the_limit_passes_and_more_than_all_solder_is_a_query(share, told) -> None:
    findings = asked([resistor()], [via((9.2, 10), net="A")], stackup=thick(share))
    assert [finding.consequence for finding in findings] == told


def test_holes_of_one_land_add_up() -> None:
    two = [via((9.2, 9.8), net="A"), via((9.2, 10.2), net="A")]
    assert asked([resistor()], two[:1], stackup=thick(0.3)) == []
    assert len(asked([resistor()], two, stackup=thick(0.3))) == 1


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_both_sides_and_open_on_the_far_side(side) -> None:
    [finding] = asked([resistor(side=side)], [via((9.2, 10), net="A", open_on=(side.other,))])
    assert finding.places[0].side is side
    assert "covered" not in finding.message


@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
def test_turning_changes_nothing(turn) -> None:
    item = resistor(rotation=turn)
    [finding] = asked([item], [via(item.pads[0].at, net="A")])
    assert finding.measured == pytest.approx(124.0, abs=0.1)


def test_what_takes_no_solder_away() -> None:
    assert asked([]) == []
    inside = via((9.2, 10), net="A")
    assert asked([resistor()]) == []
    assert asked([resistor()], [dataclasses.replace(inside, filled=True, capped=True)]) == []
    assert asked([resistor(fitted=False)], [inside]) == []
    assert asked([resistor()], [dataclasses.replace(inside, net="B")]) == []
    assert asked([resistor(side=BOTTOM)], [dataclasses.replace(inside, span=("top", "top"))]) == []
    bare = resistor()
    bare = dataclasses.replace(bare, pads=tuple(dataclasses.replace(p, paste={}) for p in bare.pads))
    assert asked([bare], [inside]) == []


# --- what the document says of how a via is closed


def closed(at=(9.2, 10), net="A", **how):
    return dataclasses.replace(via(at, net=net, open_on=(TOP, BOTTOM)), **how)


def test_filled_and_not_capped_is_not_wetted() -> None:
    """IPC-4761: V is filled, VII filled and capped; VII for lands is common practice, no source."""
    [finding] = asked([resistor()], [closed(filled=True)])
    assert finding.consequence is Consequence.NOTE
    assert finding.message == (
        "1 hole of 0.30 mm in lands of R1 is filled or plugged, and not capped: solder does not wet it"
    )
    [finding] = asked([ball_array()], [closed((10, 10), "A", filled=True)])
    assert finding.consequence is Consequence.QUERY
    assert asked([ball_array()], [closed((10, 10), "A", filled=True, capped=True)]) == []
    # a cap without a filling is asked about by itself, not here
    assert asked([resistor()], [closed(plugged=frozenset({TOP}), capped=True)]) == []
    # a land that carries heat can spare the spot, and a filled via beside a land takes nothing
    assert asked([quad()], [closed((10, 10), "GND", filled=True)]) == []
    assert asked([resistor()], [dataclasses.replace(beside(0.05, open_on=(TOP,)), filled=True)]) == []


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_plugged_or_covered_on_one_side(side) -> None:
    """Plugged at the land it keeps the solder; closed at the far side it catches air, and half of it fills."""
    item, far = resistor(side=side), frozenset({side.other})
    [here] = asked([item], [closed(plugged=frozenset({side}))])
    assert (here.consequence, "not capped" in here.message) == (Consequence.NOTE, True)
    [nothing] = asked([item], [closed()])
    for how in ({"plugged": far}, {"covered": far}, {"tented": far}):
        [finding] = asked([item], [dataclasses.replace(closed(), **how)])
        assert finding.measured == pytest.approx(nothing.measured / 2)
        assert "covered on the far side" in finding.message


def test_a_filled_blind_via_is_stopped_where_it_ends() -> None:
    layers = {"copper_layers": ("top", "in1", "in2", "bottom")}
    [finding] = asked([resistor()], [closed(filled=True, span=("top", "in1"))], **layers)
    assert "not capped" in finding.message
    assert asked([resistor(side=BOTTOM)], [closed(filled=True, span=("top", "in1"))], **layers) == []


def half_closed(*vias, **more):
    return list(via_half_closed.ask(board=board(vias=tuple(vias), **more)))


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ({}, None),
        ({"tented": frozenset({TOP})}, None),  # I a: on purpose more often than not
        ({"tented": frozenset({TOP, BOTTOM}), "covered": frozenset({TOP, BOTTOM})}, None),  # II b
        ({"plugged": frozenset({TOP, BOTTOM})}, None),  # III b
        ({"plugged": frozenset({TOP})}, "plugged"),  # III a
        ({"plugged": frozenset({BOTTOM})}, "plugged"),
        ({"plugged": frozenset({TOP, BOTTOM}), "covered": frozenset({TOP, BOTTOM})}, None),  # IV b
        ({"filled": True}, None),  # V
        ({"filled": True, "plugged": frozenset({TOP})}, None),
        ({"filled": True, "covered": frozenset({TOP})}, None),  # VI a
        ({"filled": True, "capped": True}, None),  # VII
        ({"capped": True}, "capped"),
        ({"capped": True, "plugged": frozenset({TOP, BOTTOM})}, "capped"),
        ({"covered": frozenset({TOP})}, "covered"),
        ({"covered": frozenset({TOP}), "tented": frozenset({BOTTOM})}, "covered"),
    ],
)
def test_the_types_of_via_protection(how, told) -> None:
    """The types of IPC-4761 and those that are none, as listed in two fabricators' notes."""
    found = half_closed(closed(**how))
    assert [finding.message.split()[3] for finding in found] == ([told] if told else [])
    assert all((f.consequence is Consequence.QUERY) is (told == "capped") for f in found)


def test_one_finding_for_all_vias_of_a_kind() -> None:
    vias = [closed((n, 5), plugged=frozenset({TOP})) for n in range(3)] + [closed((9, 9), capped=True)]
    capped, plugged = half_closed(*vias)
    assert capped.message == "1 via is capped and not filled: a cap is plated onto a filling (IPC-4761 type VII)"
    assert plugged.message == ("3 vias are plugged from one side only, which IPC-4761 does not recommend (type III a)")
    assert len(plugged.places) == 3
    blind = closed(plugged=frozenset({TOP}), span=("top", "in1"))
    assert half_closed(blind, copper_layers=("top", "in1", "in2", "bottom")) == []
    buried = closed(capped=True, span=("in1", "in2"))
    assert half_closed(buried, copper_layers=("top", "in1", "in2", "bottom")) == []
    assert half_closed() == []


def test_a_blind_via_is_as_deep_as_its_layers() -> None:
    layers = {"copper_layers": ("top", "in1", "in2", "bottom")}
    blind = dataclasses.replace(via((9.2, 10), net="A"), span=("top", "in2"))
    [finding] = asked([resistor()], [blind], **layers)
    assert finding.measured == pytest.approx(124.0 * 2 / 3, abs=0.1)
    assert finding.consequence is Consequence.NOTE


# --- heat lands and arrays


def test_heat_lands_keep_solder_up_to_0_3_mm_when_covered_below() -> None:
    """At most 0.3 mm, covered on the far side: common practice, no source."""
    spots = [(9, 9), (9, 11), (11, 9), (11, 11)]
    assert asked([quad()], [via(at, net="GND") for at in spots]) == []
    [finding] = asked([quad()], [via(at, 0.6, 0.31, net="GND") for at in spots])
    assert finding.consequence is Consequence.NOTE
    assert finding.message.startswith("4 holes of 0.31 mm in heat lands of U1, covered on the far side")
    [finding] = asked([quad()], [via(at, net="GND", open_on=(BOTTOM,)) for at in spots])
    assert "4 not covered on the far side" in finding.message


def test_heat_vias_drawn_as_pads_are_holes_too() -> None:
    item = quad()
    drawn = dataclasses.replace(through_pad("9", (10, 10), 0.6, 0.3, net="GND"), mask={})
    assert asked([dataclasses.replace(item, pads=(*item.pads, drawn))]) == []
    open_below = through_pad("9", (10, 10), 0.6, 0.3, net="GND")
    [finding] = asked([dataclasses.replace(item, pads=(*item.pads, open_below))])
    assert "1 not covered on the far side" in finding.message


def test_legs_are_no_heat_vias() -> None:
    item = quad()
    for drill, told in ((0.6, 1), (0.61, 0)):
        leg = through_pad("9", (10, 10), 1.2, drill, net="GND")
        assert len(asked([dataclasses.replace(item, pads=(*item.pads, leg))])) == told


def test_a_declared_heat_land_is_one_whatever_its_size() -> None:
    pins = [pad(str(n), (10 + n, 10), 0.8, net="A") for n in range(3)]
    hot = dataclasses.replace(pins[1], role=PadRole.THERMAL)
    inside = via((11, 10), net="A")
    assert len(asked([part("Q1", (10, 10), pins, package="X")], [inside])) == 1
    assert asked([part("Q1", (10, 10), [pins[0], hot, pins[2]], package="X")], [inside]) == []


def test_any_hole_in_an_array_land_is_asked_about() -> None:
    item = ball_array(net="N")
    micro = dataclasses.replace(via((10, 10), 0.25, 0.1, net="N"), span=("top", "bottom"))
    [finding] = asked([item], [micro])
    assert finding.consequence is Consequence.QUERY
    assert finding.message == "1 hole of 0.10 mm in array lands of U1: nothing says that they are filled and capped"
    assert asked([item], [dataclasses.replace(micro, filled=True, capped=True)]) == []


# --- beside a land


def beside(gap: float, **more):
    """A via of 0.6 mm whose ring is `gap` mm from the opening of R1's left land."""
    return via((10 - 0.8 - 0.4 - 0.05 - gap - 0.3, 10), net="A", **more)


def test_an_open_via_needs_a_web_of_mask() -> None:
    """0.10 mm (4 mil) of green mask: common practice, no source."""
    assert asked([resistor()], [beside(0.10, open_on=(TOP,))]) == []
    [finding] = asked([resistor()], [beside(0.09, open_on=(TOP,))])
    assert finding.consequence is Consequence.NOTE
    assert finding.measured == pytest.approx(0.09)
    assert finding.message == (
        "1 hole of 0.30 mm beside lands of R1: down to 0.09 mm of mask between, 0.10 mm holds the solder back"
    )
    assert asked([resistor()], [beside(0.09)]) == []
    assert asked([resistor()], [beside(0.09, open_on=(BOTTOM,))]) == []


def test_a_hole_with_a_quarter_of_its_mouth_in_the_land_belongs_to_it() -> None:
    edge = 10 - 0.8 - 0.4
    [inside] = asked([resistor()], [via((edge - 0.4 * 0.15, 10), net="A")])
    [grazing] = asked([resistor()], [via((edge - 0.4 * 0.15 - 0.001, 10), net="A")])
    assert (inside.consequence, grazing.consequence) == (Consequence.QUERY, Consequence.NOTE)
    assert grazing.message.startswith("1 hole of 0.30 mm beside lands of R1: down to 0.00 mm of mask between")


def test_an_opening_that_cuts_into_a_covered_hole_opens_it() -> None:
    wall = 10 - 0.8 - 0.4 - 0.05  # of the opening
    assert asked([resistor()], [via((wall - 0.15, 10), net="A")]) == []
    [finding] = asked([resistor()], [via((wall - 0.14, 10), net="A")])
    assert finding.measured == 0.0


# --- the index against none


def test_holes_found_equal_a_plain_loop() -> None:
    dice = random.Random(11)
    for _ in range(40):
        parts = [
            chip(f"R{n}", (dice.uniform(3, 17), dice.uniform(3, 17)), rotation=dice.uniform(0, 180), nets=("A", "A"))
            for n in range(8)
        ]
        vias = [
            via((dice.uniform(2, 18), dice.uniform(2, 18)), net="A", open_on=dice.choice([(), (TOP,)]))
            for _ in range(25)
        ]
        made = board(parts=tuple(parts), vias=tuple(vias))
        inside = drains(made, Joints(made), Packages(made), 0.1).inside
        plain = sorted(
            (hole.uid, item.reference, land.number)
            for hole in vias
            for item in parts
            for land in item.pads
            if shapely.Point(hole.at).distance(land.copper["top"]) <= 0.4 * hole.drill / 2 + 1e-4
        )
        assert sorted((d.item.uid, d.land.part.reference, d.land.number) for d in inside) == plain
