# SPDX-License-Identifier: MIT
"""Checks of test access, each with good, bad, on the limit, wrong side, rotated and nothing there."""

from __future__ import annotations

import dataclasses

import pytest

from build import BOTTOM, TOP, board, chip, part, probe_pad, round_pad, smd_part, through_part, via, with_pins
from lineworthy.beside import Beside
from lineworthy.checks.test_access import key_net_unreachable, port_scattered, targets_on_both_sides
from lineworthy.finding import Consequence, NotRun
from lineworthy.inputs import Inputs
from lineworthy.knowledge.wording import mm
from lineworthy.model import Board
from lineworthy.project import Project
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
NEED = SHEET.test_access.target_min_mm


def ask(check, made: Board, sheet=SHEET, **project):
    inputs = Inputs(made, sheet, Beside(project=Project(**project)))
    return list(check.ask(**{name: getattr(inputs, name) for name in check.inputs}))


def unreachable(*parts, **items):
    """Answers on a board with these parts and a resistor on each of their nets."""
    nets = sorted({pad.net for item in parts for pad in item.pads} - {"", "LED"})
    return ask(key_net_unreachable, board(parts=(*parts, *pulls(*nets)), **items))


def both_sides(*parts, **items):
    return ask(targets_on_both_sides, board(parts=parts, **items))


def circuit(reference: str = "U1", at=(30, 20), **pins: str):
    """A surface circuit; keywords are pin names (x for a nameless one) and their nets, VDD and GND are typed."""
    names = {str(n): name for n, name in enumerate(pins, 1)}
    typed = {number: (name, "power_in") if name in ("VDD", "GND") else name for number, name in names.items()}
    return with_pins(smd_part(reference, at, nets=tuple(pins.values())), typed)


def pulls(*nets: str):
    """A resistor on each net: a net with one pin leads nowhere and is no key net."""
    return tuple(chip(f"R{n}", (50.0, 3.0 * n), nets=(net, "LED")) for n, net in enumerate(nets, 1))


POWERED = circuit(VDD="VDD", GND="GND", x="LED")
PADS = (probe_pad("TP1", (5, 5), "VDD"), probe_pad("TP2", (10, 5), "GND"))


def messages(answers) -> list[str]:
    return [answer.message for answer in answers]


# --- test-access/key-net-unreachable


def test_default_limit_is_the_low_limit_seen_for_probe_pads() -> None:
    # 0.7 mm (28 mil): test-pad guideline of a fixture user, 2009 (trade text); the same text wants 1.0 mm
    # (40 mil) on the upper plate, and a fixture maker prefers 1.0 mm everywhere (trade text)
    assert (NEED, SHEET.test_access.target_preferred_mm) == (0.7, 1.0)


def test_every_key_net_with_a_pad_is_silent() -> None:
    assert unreachable(POWERED, *PADS) == []


def test_rails_without_a_target_are_one_query() -> None:
    found = unreachable(POWERED)
    # VDD feeds one circuit and comes from nowhere: no key net, see the docstring
    assert [(f.consequence, f.message) for f in found] == [
        (
            Consequence.QUERY,
            "GND has no bare copper for a probe on either side, 0.70 mm needed "
            "(ground: the name says GND; 1 supply pin)",
        )
    ]
    more = unreachable(POWERED, circuit("U2", (10, 20), VDD="VDD", GND="GND"))
    assert [(f.consequence, f.message) for f in more] == [
        (Consequence.QUERY, "2 rails have no bare copper for a probe on either side, 0.70 mm needed: GND, VDD")
    ]
    assert (more[0].measured, more[0].limit, more[0].limit_key) == (0.0, 0.7, "test-access.target_min_mm")
    assert [place.label for place in more[0].places] == ["GND, U1 pad 2", "VDD, U1 pad 1"]
    assert found[0].fingerprint != more[0].fingerprint


@pytest.mark.parametrize(("diameter", "count"), [(0.7, 0), (0.6998, 1), (0.71, 0), (0.5, 1)])
def test_on_the_limit_passes_and_just_below_does_not(diameter: float, count: int) -> None:
    found = unreachable(POWERED, vias=(via((5, 5), diameter, net="GND", open_on=(TOP,)),))
    assert len(found) == count
    if count:
        assert found[0].measured == pytest.approx(diameter, abs=1e-6)
        assert "the widest is an open via of" in found[0].message
        assert found[0].places[0].label == "GND, open via"


def test_a_pad_that_was_made_and_cannot_be_used_is_told_by_its_own_check() -> None:
    covered = part("TP2", (10, 5), [round_pad("1", (10, 5), net="GND", mask_margin=None)], package="TestPoint")
    assert unreachable(POWERED, covered) == []
    assert unreachable(POWERED, probe_pad("TP1", (5, 5), "GND", 0.5)) == []
    assert unreachable(POWERED, probe_pad("TP2", (30, 20), "GND")) == []  # under the circuit


def test_a_board_without_any_test_pad_gets_one_finding() -> None:
    """A decision to have no test pads is one decision, whatever the number of nets it leaves out of reach."""
    target = circuit(VDD="VDD", GND="GND", NRST="NRST", SWDIO="SWDIO", SWCLK="SWCLK", a="SDA", b="SCL")
    found = unreachable(target)
    assert [(f.consequence, f.message) for f in found] == [
        (
            Consequence.QUERY,
            "No pad is made for probes, and 6 of 6 key nets have no bare copper for a probe on either side, 0.70 mm "
            "needed: 1 rail (GND); 2 programming nets (SWCLK, SWDIO); 1 reset net (NRST); 2 bus nets (SCL, SDA)",
        )
    ]
    assert len(found[0].places) == 6
    # one bus only: a note, as it would be on a board with test pads
    assert [f.consequence for f in unreachable(circuit(x="LED", a="SDA", b="NRST"))] == [Consequence.NOTE]


def test_a_port_that_lost_its_pad_is_found_though_one_pin_is_all_its_net_has() -> None:
    """A test pad deleted from a board leaves a net with one pin, which would otherwise be no key net."""
    target = circuit(VDD="VDD", GND="GND", SWDIO="SWDIO", SWCLK="SWCLK", NRST="NRST", x="LED")
    others = (*PADS, probe_pad("TP3", (15, 5), "SWCLK"))
    found = ask(key_net_unreachable, board(parts=(target, *others, *pulls("VDD", "GND"))))
    assert [(f.consequence, f.message.split(" has ")[0], f.message.rsplit(": ")[1]) for f in found] == [
        (Consequence.QUERY, "1 programming net", "SWDIO"),
        (Consequence.NOTE, "1 reset net", "NRST"),
    ]
    assert found[0].places[0].label == "SWDIO, U1 pad 3"
    # the editor's own name for such a pin says that nobody drew anything there, unless it is routed
    auto = circuit(VDD="VDD", GND="GND", SWDIO="Net-(U1-SWDIO)", x="LED")
    assert ask(key_net_unreachable, board(parts=(auto, *PADS, *pulls("VDD", "GND")))) == []
    routed = board(parts=(auto, *PADS, *pulls("VDD", "GND")), vias=(via((40, 5), net="Net-(U1-SWDIO)"),))
    assert len(ask(key_net_unreachable, routed)) == 1
    marked = circuit(VDD="VDD", GND="GND", SWDIO="unconnected-(U1-SWDIO-Pad3)", x="LED")
    assert ask(key_net_unreachable, board(parts=(marked, *PADS, *pulls("VDD", "GND")))) == []


def test_what_the_project_says_of_nets_counts() -> None:
    made = board(parts=(circuit(VDD="VDD", GND="Earth", x="LED"), *PADS[:1], *pulls("VDD", "Earth", "SENSE")))
    assert messages(ask(key_net_unreachable, made))[0].startswith("Earth has no bare copper")
    assert ask(key_net_unreachable, made, nets={"Earth": "signal"}) == []
    asked = ask(key_net_unreachable, made, nets={"Earth": "signal"}, key_nets=("SEN*",))
    (lost,) = [item for item in ask(key_net_unreachable, made, key_nets=("TENSE",)) if isinstance(item, NotRun)]
    assert lost.missing.startswith("No net called 'TENSE'")
    assert [(f.consequence, f.message) for f in asked] == [
        (
            Consequence.QUERY,
            "1 net that the project asks for has no bare copper for a probe on either side, 0.70 mm needed: SENSE",
        )
    ]


def test_a_users_sheet_decides() -> None:
    wider = dataclasses.replace(SHEET, test_access=dataclasses.replace(SHEET.test_access, target_min_mm=1.2))
    opened = (via((10, 5), 1.0, net="GND", open_on=(BOTTOM,)),)
    made = board(parts=(POWERED, *pulls("GND")), vias=opened)
    assert ask(key_net_unreachable, made) == []
    assert len(ask(key_net_unreachable, made, wider)) == 1


def test_closed_via_does_not_help_open_via_does() -> None:
    assert len(unreachable(POWERED, vias=(via((10, 5), 0.8, net="GND"),))) == 1
    assert unreachable(POWERED, vias=(via((10, 5), 0.8, net="GND", open_on=(BOTTOM,)),)) == []
    small = unreachable(POWERED, vias=(via((10, 5), 0.6, net="GND", open_on=(TOP,)),))
    assert "the widest is an open via of 0.60 mm" in small[0].message


def test_a_via_under_a_part_does_not_help_but_a_pad_on_the_other_side_does() -> None:
    assert len(unreachable(POWERED, vias=(via((30, 20), 0.8, net="GND", open_on=(TOP,)),))) == 1
    assert unreachable(POWERED, dataclasses.replace(probe_pad("TP2", (30, 20), "GND", side=BOTTOM))) == []


def test_leads_and_connectors_reach_a_net() -> None:
    assert unreachable(POWERED, through_part("C1", (5, 5), nets=("GND", "x"), package="CP_Radial_D5.0mm")) == []
    assert unreachable(POWERED, smd_part("J1", (5, 5), nets=("GND", "x"), package="JST_SH_SM04B")) == []


def test_programming_port_is_one_query() -> None:
    target = circuit(VDD="VDD", GND="GND", SWDIO="SWDIO", SWCLK="SWCLK")
    found = unreachable(target, *PADS)
    assert [(f.consequence, f.message) for f in found] == [
        (
            Consequence.QUERY,
            "2 programming nets have no bare copper for a probe on either side, 0.70 mm needed: SWCLK, SWDIO",
        )
    ]
    assert len(found[0].places) == 2
    # half a port is no port
    half = unreachable(target, *PADS, probe_pad("TP3", (15, 5), "SWDIO"))
    assert [f.consequence for f in half] == [Consequence.QUERY]


def test_helping_lines_beside_a_port_within_reach_are_a_note() -> None:
    target = circuit(VDD="VDD", GND="GND", SWDIO="SWDIO", SWCLK="SWCLK", BOOT0="BOOT0")
    found = unreachable(target, *PADS, probe_pad("TP3", (15, 5), "SWDIO"), probe_pad("TP4", (20, 5), "SWCLK"))
    assert [f.consequence for f in found] == [Consequence.NOTE]
    assert found[0].message.startswith("1 programming net that a port works without has no bare copper")


def test_a_line_that_is_in_reach_elsewhere_on_the_same_circuit_is_a_note() -> None:
    target = circuit(VDD="VDD", GND="GND", SWDIO="SWDIO", P5="TRG_SWDIO")
    shifter = circuit("U2", (10, 20), A="SWDIO", B="TRG_SWDIO")
    found = unreachable(target, shifter, *PADS, probe_pad("TP3", (15, 5), "SWDIO"))
    assert [(f.consequence, f.message.rsplit(": ")[1]) for f in found] == [(Consequence.NOTE, "TRG_SWDIO")]


def test_reset_and_buses_are_one_note_each() -> None:
    target = circuit(VDD="VDD", GND="GND", NRST="NRST", a="SDA", b="SCL", c="CANH")
    found = unreachable(target, *PADS)
    assert [(f.consequence, f.message) for f in found] == [
        (Consequence.NOTE, "1 reset net has no bare copper for a probe on either side, 0.70 mm needed: NRST"),
        (
            Consequence.NOTE,
            "3 bus nets (CAN, I2C) have no bare copper for a probe on either side, 0.70 mm needed: CANH, SCL, SDA",
        ),
    ]


def test_nets_that_must_stay_bare_are_left_alone() -> None:
    target = circuit(VDD="VDD", GND="GND", x="ANT", y="XIN", z="PCIE_TX_P")
    assert unreachable(target, *PADS, smd_part("Y1", (5, 15), nets=("XIN", "GND"), package="Crystal_SMD")) == []


def test_nothing_to_say_without_a_circuit_and_not_run_without_nets() -> None:
    assert unreachable(chip("R91", nets=("GND", "VCC")), chip("LED1", nets=("VCC", "GND"))) == []
    answers = unreachable(chip("R91"))
    assert [type(answer) for answer in answers] == [NotRun]
    assert answers[0].check == "test-access/key-net-unreachable"
    assert [type(answer) for answer in unreachable()] == [NotRun]


def test_hostile_net_names_are_carried_whole() -> None:
    target = circuit(VDD="VDD", GND="<b>GND")
    assert unreachable(target)[0].message.startswith("<b>GND has no bare copper")


# --- test-access/targets-on-both-sides

# all targets on one side, normally the bottom; a double-sided fixture costs more: guidelines of a tester's maker, a
# fixture maker and a fixture user (trade texts)


def pads_on(side, *nets: str, y: float = 5.0):
    return tuple(
        probe_pad(f"TP{side.value}{n}", (5.0 + 4 * n, y), net, side=side) for n, net in enumerate(nets, start=1)
    )


def test_all_on_one_side_is_silent_whichever_it_is() -> None:
    assert both_sides(*pads_on(TOP, "A", "B", "GND")) == []
    assert both_sides(*pads_on(BOTTOM, "A", "B", "GND")) == []


def test_the_few_on_the_other_side_are_named() -> None:
    found = both_sides(*pads_on(BOTTOM, "A", "B", "GND"), *pads_on(TOP, "RX"))
    assert [(f.consequence, f.message) for f in found] == [
        (
            Consequence.NOTE,
            "1 net needs a probe from the top and 3 from the bottom: RX can be reached from the top only",
        )
    ]
    assert [(place.side, place.label) for place in found[0].places] == [(TOP, "RX, TPtop1")]
    assert found[0].measured == 1


def test_the_side_of_the_many_is_the_main_side_and_the_bottom_when_even() -> None:
    found = both_sides(*pads_on(TOP, "A", "B"), *pads_on(BOTTOM, "C"))
    assert messages(found) == [
        "1 net needs a probe from the bottom and 2 from the top: C can be reached from the bottom only"
    ]
    found = both_sides(*pads_on(TOP, "A"), *pads_on(BOTTOM, "C"))
    assert "A can be reached from the top only" in found[0].message


def test_a_net_that_both_sides_reach_forces_nothing() -> None:
    bottom = pads_on(BOTTOM, "A", "B")
    top = pads_on(TOP, "RX")
    assert both_sides(*bottom, *top, through_part("J1", (40, 20), nets=("RX", "x"))) == []
    assert both_sides(*bottom, *top, through_part("C1", (40, 20), nets=("RX", "x"), package="CP_Radial")) == []
    assert both_sides(*bottom, *top, probe_pad("TP9", (40, 20), "RX", side=BOTTOM)) == []
    assert both_sides(*bottom, *top, vias=(via((40, 20), 0.9, net="RX", open_on=(BOTTOM,)),)) == []


def test_a_pad_too_small_or_without_a_net_does_not_count() -> None:
    bottom = pads_on(BOTTOM, "A", "B")
    assert both_sides(*bottom, probe_pad("TP9", (40, 20), "RX", diameter=0.69)) == []
    assert len(both_sides(*bottom, probe_pad("TP9", (40, 20), "RX", diameter=0.7))) == 1
    assert both_sides(*bottom, probe_pad("TP9", (40, 20), "")) == []


def test_none_present() -> None:
    assert both_sides(POWERED) == []
    assert [type(answer) for answer in both_sides()] == [NotRun]


# --- test-access/port-scattered


def ported(apart: float, *more, side=TOP):
    target = circuit("U1", (30, 20), VDD="VDD", GND="GND", SWDIO="SWDIO", SWCLK="SWCLK")
    pads = (probe_pad("TP1", (5, 5), "SWDIO", side=side), probe_pad("TP2", (5 + apart, 5), "SWCLK", side=side))
    return ask(port_scattered, board(parts=(target, *pads, *pulls("SWDIO", "SWCLK"), *more)))


@pytest.mark.parametrize(("apart", "count"), [(10.0, 0), (40.0, 0), (40.01, 1), (50.0, 1)])
def test_how_far_the_pads_of_a_port_may_lie_apart(apart: float, count: int) -> None:
    # what a hand-held adapter spans: common practice, no source
    found = ported(apart)
    assert len(found) == count
    if found:
        assert found[0].consequence is Consequence.NOTE
        assert found[0].message == (
            f"the test pads of U1's programming port (SWCLK, SWDIO) are up to {mm(apart)} mm apart, TP1, TP2; "
            "40.00 mm at most are wanted"
        )
        assert [place.label for place in found[0].places] == ["TP2 on SWCLK", "TP1 on SWDIO"]


def test_a_port_with_a_plug_one_pad_or_none_is_silent() -> None:
    assert ported(50.0, through_part("J1", (10, 35), nets=("SWDIO", "SWCLK"))) == []
    assert ask(port_scattered, board(parts=(POWERED, *PADS))) == []
    one = circuit("U1", (30, 20), VDD="VDD", GND="GND", SWDIO="SWDIO", SWCLK="SWCLK")
    assert ask(port_scattered, board(parts=(one, probe_pad("TP1", (5, 5), "SWDIO"), *pulls("SWDIO", "SWCLK")))) == []
    assert len(ported(50.0, side=BOTTOM)) == 1


# --- both: moving and turning change places only


@pytest.mark.parametrize("motion", [moved(17.0, -9.0), quarter_turns(1), quarter_turns(2), mirrored()])
def test_a_moved_turned_or_mirrored_board_says_the_same(motion) -> None:
    target = circuit(VDD="VDD", GND="GND", SWDIO="SWDIO", NRST="NRST")
    made = board(
        parts=(
            target,
            *pulls("VDD", "GND", "SWDIO", "NRST"),
            *pads_on(BOTTOM, "GND", "A"),
            *pads_on(TOP, "RX"),
            probe_pad("TP3", (40, 30), "VDD", 0.5),
        )
    )
    for check in (key_net_unreachable, targets_on_both_sides):
        before, after = ask(check, made), ask(check, transform(made, motion))
        assert before
        assert [(f.message, f.fingerprint, f.measured) for f in before] == [
            (f.message, f.fingerprint, f.measured) for f in after
        ]


def test_something_far_away_changes_nothing() -> None:
    made = (POWERED, circuit("U2", (10, 30), VDD="VDD", GND="GND"))
    assert messages(unreachable(*made)) == messages(unreachable(*made, chip("R99", (55, 35), nets=("q", "r"))))
