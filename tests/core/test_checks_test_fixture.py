# SPDX-License-Identifier: MIT
"""Checks of test pads together: labels, nets that stay bare, ground, rails, guide holes; and a pad's capacitance."""

from __future__ import annotations

import dataclasses

import pytest

from build import (
    BOTTOM,
    LEGEND_BOTTOM,
    LEGEND_TOP,
    TOP,
    board,
    chip,
    graphic,
    hole,
    marking,
    outline,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_part,
    via,
    with_pins,
)
from lineworthy.checks.test_fixture import (
    CHECKS,
    ground_targets_too_few,
    guide_holes_symmetric,
    guide_holes_too_few,
    rail_without_sense,
    target_on_bare_net,
    targets_unlabelled,
)
from lineworthy.inputs import Inputs
from lineworthy.knowledge import capacitance
from lineworthy.model import MarkingRole, Part, StackLayer, Stackup
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()


def ask(check, *parts, made=None, sheet=SHEET, **items):
    inputs = Inputs(made or board(parts=parts, **items), sheet)
    return list(check.ask(**{name: getattr(inputs, name) for name in check.inputs}))


def messages(found) -> list[str]:
    assert all(f.consequence.value == "note" for f in found)
    return [f.message for f in found]


def signals(count: int, side=TOP, first: int = 1) -> tuple[Part, ...]:
    """Test pads on as many nets, 3 mm apart in rows of ten."""
    return tuple(
        probe_pad(f"TP{n}", (5.0 + 3 * (n % 10), 8.0 + 3 * (n // 10)), f"S{n}", side=side)
        for n in range(first, first + count)
    )


# --- capacitance


@pytest.mark.parametrize(
    ("diameter", "permittivity", "picofarad"),
    # C = e0 er A / h, h = 0.2 mm, worked out by hand; from memory: electrostatics
    [(1.0, 4.3, 0.1495), (1.0, 4.5, 0.1565), (0.8, 4.3, 0.0957)],
)
def test_a_disc_over_a_plane(diameter: float, permittivity: float, picofarad: float) -> None:
    assert capacitance.disc(diameter, 0.2, permittivity) == pytest.approx(picofarad, abs=5e-4)


def test_a_disc_with_its_rim() -> None:
    # from memory: effective radius of a circular patch, antenna textbooks; D 1.0, h 0.2, er 4.3
    assert capacitance.disc_with_rim(1.0, 0.2, 4.3) == pytest.approx(0.177, abs=0.002)
    assert capacitance.disc_with_rim(0.1, 1.6, 4.3) >= capacitance.disc(0.1, 1.6, 4.3)


STACK = Stackup(
    1.6,
    (
        StackLayer("F.Mask", "Top Solder Mask", 0.01),
        StackLayer("top", "copper", 0.035),
        StackLayer("d1", "prepreg", 0.2, permittivity=4.3),
        StackLayer("in1", "copper", 0.018),
        StackLayer("d2", "core", 1.0, permittivity=4.6),
        StackLayer("in2", "copper", 0.018),
        StackLayer("d3", "prepreg", 0.1, permittivity=4.0),
        StackLayer("d4", "prepreg", 0.1, permittivity=4.0),
        StackLayer("bottom", "copper", 0.035),
    ),
)


def test_the_gap_is_read_from_the_stack_on_each_side() -> None:
    made = board(stackup=STACK, copper_layers=("top", "in1", "in2", "bottom"))
    top, bottom = (capacitance.added(made, side, 1.0) for side in (TOP, BOTTOM))
    assert (top.gap, top.permittivity) == pytest.approx((0.2, 4.3))
    assert (bottom.gap, bottom.permittivity) == pytest.approx((0.2, 4.0))
    assert top.picofarad == pytest.approx(0.177, abs=0.002)
    assert capacitance.added(board(), TOP, 1.0).gap == pytest.approx(1.6)
    assert capacitance.added(board(copper_layers=("top", "a", "b", "bottom")), TOP, 1.0) is None


# --- test-access/target-on-bare-net


def crystal() -> tuple[Part, ...]:
    circuit = with_pins(smd_part("U1", (30, 20), nets=("XIN", "VDD", "GND", "LED")), {"1": "XIN"})
    return circuit, smd_part("Y1", (5, 15), nets=("XIN", "GND"), package="Crystal_SMD_3225")


def test_a_pad_on_a_crystal_is_a_note_with_its_figure() -> None:
    made = board(
        parts=(*crystal(), probe_pad("TP1", (10, 30), "XIN")),
        stackup=STACK,
        copper_layers=("top", "in1", "in2", "bottom"),
    )
    assert messages(ask(target_on_bare_net, made=made)) == [
        "1 test pad on a crystal's net: TP1 on XIN, about 0.18 pF (1.00 mm disc, 0.20 mm over the next copper, "
        "permittivity 4.3)"
    ]


def test_radio_and_fast_pairs_are_told_and_buses_are_not() -> None:
    pair = (chip("R1", nets=("PCIE_TX_P", "PCIE_TX_N")), chip("R2", (9, 9), nets=("PCIE_TX_P", "PCIE_TX_N")))
    found = ask(
        target_on_bare_net, *pair, probe_pad("TP1", (10, 30), "PCIE_TX_P"), probe_pad("TP2", (20, 30), "PCIE_TX_N")
    )
    assert ["a fast pair: TP1" in message for message in messages(found)] == [True]
    assert len(found[0].places) == 2
    radio = (chip("L1", (9, 9), nets=("RF_OUT", "ANT")), chip("C1", nets=("RF_OUT", "ANT")))
    assert len(ask(target_on_bare_net, *radio, probe_pad("TP1", (10, 30), "ANT"))) == 1
    usb = (chip("R1", nets=("USB_DP", "USB_DM")), chip("R2", (9, 9), nets=("USB_DP", "USB_DM")))
    assert ask(target_on_bare_net, *usb, probe_pad("TP1", (10, 30), "USB_DP")) == []
    rail = smd_part("U1", (30, 20), nets=("+3V3_RF", "GND"))
    assert ask(target_on_bare_net, rail, chip("C1", nets=("+3V3_RF", "GND")), probe_pad("TP1", (9, 9), "+3V3_RF")) == []
    # a crystal's own leads are no test pads
    assert ask(target_on_bare_net, *crystal()) == []


# --- test-access/targets-unlabelled


def test_a_text_beside_the_pad_on_its_side_is_its_label() -> None:
    pads = (probe_pad("TP1", (10, 10), "A"), probe_pad("TP2", (30, 10), "B"))
    both = messages(ask(targets_unlabelled, *pads))
    assert both == ["2 test pads have no text beside them: TP1, TP2"]
    one = ask(targets_unlabelled, *pads, markings=(marking("SDA", (10, 12)),))
    assert messages(one) == ["1 of 2 test pads have no text beside them: TP2"]
    assert one[0].places[0].at == (30, 10)
    assert len(ask(targets_unlabelled, *pads, markings=(marking("SDA", (10, 12), LEGEND_BOTTOM),))[0].places) == 2
    assert len(ask(targets_unlabelled, *pads, markings=(marking("R1", (10, 12), part_uid="part-R1"),))[0].places) == 2
    assert len(ask(targets_unlabelled, *pads, markings=(marking("SDA", (10, 12), hidden=True),))[0].places) == 2
    address = marking("see our page on the web", (10, 12))
    assert len(ask(targets_unlabelled, *pads, markings=(address,))[0].places) == 2


@pytest.mark.parametrize(("apart", "count"), [(3.0, 0), (3.01, 1)])
def test_a_label_is_near(apart: float, count: int) -> None:
    # a pad of 1 mm at 10, a text of 1 mm height above it: how far texts are read is common practice, no source
    text = marking("TP1", (10, 10 + 0.5 + apart + 0.5), role=MarkingRole.REFERENCE, part_uid="part-TP1")
    assert len(ask(targets_unlabelled, probe_pad("TP1", (10, 10), "A"), markings=(text,))) == count


def test_drawn_labels_count_and_connectors_of_pads_need_none() -> None:
    pads = (probe_pad("TP1", (10, 10), "A"),)
    assert messages(ask(targets_unlabelled, *pads)) == ["TP1, the only test pad, has no text beside it"]
    label = part("L1", (10, 12), package="drawn-label")
    drawn = graphic(rectangle((10, 12), 3, 1), LEGEND_TOP, part_uid="part-L1")
    assert ask(targets_unlabelled, *pads, label, graphics=(drawn,)) == []
    other = graphic(rectangle((10, 12), 3, 1), LEGEND_TOP, part_uid="part-R1")
    assert len(ask(targets_unlabelled, *pads, chip("R1", (10, 12)), graphics=(other,))) == 1
    spring = part(
        "TP3", (20, 10), [round_pad(str(n), (20 + n, 10), net=f"N{n}") for n in range(4)], package="TestPoint_4"
    )
    assert ask(targets_unlabelled, spring) == []


# --- test-access/ground-targets-too-few

GROUND = (chip("C1", (40, 30), nets=("GND", "VDD")), chip("C2", (44, 30), nets=("GND", "VDD")))


def test_no_test_pad_on_ground_is_told_with_what_there_is_instead() -> None:
    assert messages(ask(ground_targets_too_few, *GROUND, *signals(3))) == [
        "3 nets on the top have test pads and GND has none, and nothing else to touch there"
    ]
    plug = smd_part("J1", (50, 20), nets=("GND", "VDD"), package="JST_SH_SM02B")
    found = ask(ground_targets_too_few, *GROUND, *signals(3), plug)
    assert messages(found) == [
        "3 nets on the top have test pads and GND has none, only 1 other target such as J1 pad 1"
    ]
    assert found[0].places[0].label == "J1 pad 1 on GND"
    # the wrong side does not help
    assert len(ask(ground_targets_too_few, *GROUND, *signals(3), probe_pad("TP99", (40, 20), "GND", side=BOTTOM))) == 1
    assert ask(ground_targets_too_few, *GROUND, *signals(3), probe_pad("TP99", (40, 20), "GND")) == []


@pytest.mark.parametrize(("count", "grounds", "told"), [(20, 1, 0), (21, 1, 1), (21, 2, 0)])
def test_one_ground_for_twenty_signals(count: int, grounds: int, told: int) -> None:
    # one for 10 to 20 signals: common practice, no source
    pads = [probe_pad(f"TP{90 + n}", (40, 5.0 + 3 * n), "GND") for n in range(grounds)]
    found = messages(ask(ground_targets_too_few, *GROUND, *signals(count), *pads))
    assert len(found) == told
    assert not told or found[0] == "GND has 1 target on the top, 2 wanted for 21 nets with pads"


@pytest.mark.parametrize(("apart", "count"), [(50.0, 0), (50.01, 1)])
def test_ground_is_near(apart: float, count: int) -> None:
    pads = (probe_pad("TP1", (5, 5), "A"), probe_pad("TP2", (9, 5), "B"), probe_pad("TP3", (5 + apart, 5), "GND"))
    found = ask(ground_targets_too_few, *GROUND, *pads)
    assert len(found) == count
    assert not count or found[0].message == "TP1 on A is 50.01 mm from the nearest target on GND"


def test_ground_without_signals_or_without_ground_is_silent() -> None:
    assert ask(ground_targets_too_few, *GROUND, *signals(1)) == []
    assert ask(ground_targets_too_few, *signals(5)) == []


# --- test-access/rail-without-sense


def rails(*more: Part, count: int = 8) -> tuple[Part, ...]:
    """A circuit fed by a rail that a regulator makes, and as many nets with test pads."""
    pins = {"1": ("VDD", "power_in"), "2": ("GND", "power_in")}
    made = {"1": ("VO", "power_out"), "2": ("GND", "power_in")}
    load = with_pins(smd_part("U1", (30, 30), nets=("+3V3", "GND", "S1", "S2")), pins)
    source = with_pins(smd_part("U2", (45, 30), nets=("+3V3", "GND", "VIN", "EN")), made)
    return (load, source, *signals(count), *more)


def test_a_rail_with_one_target_is_told() -> None:
    found = ask(rail_without_sense, *rails(probe_pad("TP50", (50, 10), "+3V3")))
    assert messages(found) == ["1 rail has a single target, none to sense by: +3V3"]
    assert found[0].places[0].at == (50, 10)


def test_two_targets_a_connector_or_few_test_pads_are_silent() -> None:
    one = probe_pad("TP50", (50, 10), "+3V3")
    assert ask(rail_without_sense, *rails(one, probe_pad("TP51", (50, 20), "+3V3"))) == []
    assert ask(rail_without_sense, *rails(one), vias=(via((55, 20), 0.8, net="+3V3", open_on=(TOP,)),)) == []
    assert ask(rail_without_sense, *rails(one, through_part("J1", (10, 35), nets=("+3V3", "GND")))) == []
    assert ask(rail_without_sense, *rails(one, count=6)) == []
    assert len(ask(rail_without_sense, *rails(one, count=7))) == 1


# --- test-access/guide-holes-too-few, guide-holes-symmetric


def guide(reference: str, at, drill: float = 3.0) -> Part:
    return dataclasses.replace(hole(reference, at, drill), package="ToolingHole_3mm")


def test_fewer_than_two_bare_holes_on_a_board_for_a_fixture() -> None:
    # two or more, unplated: guideline of a board manufacturer, 4.1.4, and article of a tester's maker (trade texts)
    assert messages(ask(guide_holes_too_few, *signals(8))) == [
        "0 unplated holes for guide pins, 2 wanted, and test pads on 8 nets"
    ]
    assert len(ask(guide_holes_too_few, *signals(8), guide("TH1", (3, 3)))) == 1
    assert ask(guide_holes_too_few, *signals(8), guide("TH1", (3, 3)), hole("H1", (50, 30))) == []
    assert ask(guide_holes_too_few, *signals(7)) == []
    plated = through_part("H1", (3, 3), nets=("GND",), diameter=6.0, drill=3.2, package="MountingHole_3.2mm_Pad")
    assert messages(ask(guide_holes_too_few, *signals(8), plated))[0].endswith("8 nets; 1 plated fixing hole")


def test_holes_that_fit_turned_by_half_a_turn() -> None:
    # the pattern must not fit when turned: design recommendations of a test-fixture maker (trade text)
    pair = (guide("TH1", (3, 3)), guide("TH2", (57, 37)))
    found = ask(guide_holes_symmetric, *signals(8), *pair)
    assert messages(found) == ["2 guide holes and the outline look the same after half a turn"]
    assert [place.label for place in found[0].places] == ["TH1", "TH2"]
    assert ask(guide_holes_symmetric, *signals(7), *pair) == []
    assert ask(guide_holes_symmetric, *signals(8), *pair, guide("TH3", (57, 3))) == []
    assert ask(guide_holes_symmetric, *signals(8), guide("TH1", (3, 3)), guide("TH2", (57, 37), 4.0)) == []
    notched = board(parts=(*signals(8), *pair), outline=outline(60, 40, cutouts=(rectangle((0, 20), 8, 8),)))
    assert ask(guide_holes_symmetric, made=notched) == []


@pytest.mark.parametrize(("off", "count"), [(0.5, 1), (0.51, 0)])
def test_how_near_is_the_same(off: float, count: int) -> None:
    pair = (guide("TH1", (3, 3)), guide("TH2", (57 + off, 37)))
    assert len(ask(guide_holes_symmetric, *signals(8), *pair)) == count


def test_four_screw_holes_are_for_screws_and_two_bare_ones_for_pins() -> None:
    corners = [(3, 3), (57, 37), (57, 3), (3, 37)]
    assert ask(guide_holes_symmetric, *signals(8), *(hole(f"H{n}", at) for n, at in enumerate(corners))) == []
    assert len(ask(guide_holes_symmetric, *signals(8), *(hole(f"H{n}", at) for n, at in enumerate(corners[:2])))) == 1


# --- all


@pytest.mark.parametrize("motion", [moved(17.0, -9.0), quarter_turns(1), quarter_turns(2), mirrored()])
def test_a_moved_turned_or_mirrored_board_says_the_same(motion) -> None:
    asked = {
        target_on_bare_net: board(parts=(*crystal(), probe_pad("TP1", (10, 30), "XIN"))),
        targets_unlabelled: board(parts=signals(3)),
        ground_targets_too_few: board(parts=(*GROUND, *signals(3))),
        rail_without_sense: board(parts=rails(probe_pad("TP50", (50, 10), "+3V3"))),
        guide_holes_too_few: board(parts=signals(8)),
        guide_holes_symmetric: board(parts=(*signals(8), guide("TH1", (3, 3)), guide("TH2", (57, 37)))),
    }
    assert set(asked) == set(CHECKS)
    for check, made in asked.items():
        before, after = ask(check, made=made), ask(check, made=transform(made, motion))
        assert before, check.id
        assert [(f.message, f.fingerprint) for f in before] == [(f.message, f.fingerprint) for f in after]


def test_none_present() -> None:
    for check in CHECKS:
        assert ask(check) == []
        assert ask(check, *GROUND, through_part("J1", (1, 1), nets=("A", "B"))) == []
