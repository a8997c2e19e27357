# SPDX-License-Identifier: MIT
"""Checks of single test pads: good, bad, on the limit and just beside, other side, rotated, none present."""

from __future__ import annotations

import dataclasses

import pytest

from build import (
    BOTTOM,
    MASK_TOP,
    TOP,
    board,
    chip,
    graphic,
    hole,
    pad,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_part,
    with_pins,
)
from lineworthy.checks.test_targets import (
    CHECKS,
    target_covered,
    target_near_edge,
    target_near_guide_hole,
    target_near_part,
    target_on_mains,
    target_takes_paste,
    target_too_small,
    target_under_part,
    target_without_net,
    targets_crowded,
)
from lineworthy.finding import Consequence
from lineworthy.inputs import Inputs
from lineworthy.knowledge.surroundings import probe_sizes
from lineworthy.model import Part, Stackup
from lineworthy.shapes import disc
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
LIMITS = SHEET.test_access


def ask(check, *parts, made=None, **items):
    inputs = Inputs(made or board(parts=parts, **items), SHEET)
    return list(check.ask(**{name: getattr(inputs, name) for name in check.inputs}))


def told(found) -> list[tuple[str, str]]:
    return [(f.consequence.value, f.message) for f in found]


def covered(reference: str = "TP1", at=(10, 10), net: str = "SIG", side=TOP):
    land = round_pad("1", at, net=net, mask_margin=None, paste=False, side=side)
    return part(reference, at, [land], package="TestPoint_Pad_D1.0mm", side=side)


def block(reference: str, at, size=(4.0, 4.0), height=None, *, side=TOP, package: str = "Module", **more) -> Part:
    """A part with a square body of known height; its lands are in the middle of it."""
    lands = [pad(str(n), (at[0] + 0.5 * n, at[1]), 0.3, side=side, uid=f"{reference}.{n}") for n in (1, 2)]
    body = rectangle(at, *size)
    return part(reference, at, lands, body=body, height=height, side=side, package=package, **more)


# --- test-access/target-covered


def test_default_limits_are_the_published_ones() -> None:
    # testability guideline of a board manufacturer, 4.1.5 (trade text): 3.18 mm to the edge and to guide holes
    assert (LIMITS.target_to_edge_vacuum_mm, LIMITS.target_to_tooling_mm) == (3.18, 3.18)
    # test-pad list of a test engineer, 1999 (trade text): 1.0 mm to low parts, 5.08 mm to parts above 6.35 mm
    assert (LIMITS.target_to_part_min_mm, LIMITS.tall_part_mm, LIMITS.target_to_tall_part_mm) == (1.0, 6.35, 5.08)
    # test-pad guideline of a fixture user, 2009 (trade text): 3.05 mm to parts above 3 mm
    assert (LIMITS.mid_part_mm, LIMITS.target_to_mid_part_mm) == (3.0, 3.05)
    # guideline of an in-circuit tester's maker (trade text): two 50 mil probes, two 75 mil probes
    assert (LIMITS.target_pitch_min_mm, LIMITS.target_pitch_preferred_mm) == (1.27, 1.78)


def test_a_covered_pad_is_named_with_its_net_and_place() -> None:
    found = ask(target_covered, covered(), chip("R1", (30, 30), nets=("SIG", "x")))
    assert told(found) == [("query", "1 test pad is covered by solder mask on every side: TP1 on SIG")]
    assert [(place.at, place.side) for place in found[0].places] == [((10, 10), TOP)]
    two = ask(target_covered, covered(), covered("TP2", (20, 10), "CLK", BOTTOM))
    assert told(two) == [("query", "2 test pads are covered by solder mask on every side: TP1 on SIG, TP2 on CLK")]


def test_an_open_pad_an_opening_drawn_over_it_and_no_pad_are_silent() -> None:
    assert ask(target_covered, probe_pad("TP1", (10, 10), "SIG")) == []
    assert ask(target_covered, covered(), graphics=(graphic(disc((10, 10), 1.2), MASK_TOP),)) == []
    assert len(ask(target_covered, covered(), graphics=(graphic(disc((20, 10), 1.2), MASK_TOP),))) == 1
    assert ask(target_covered) == []
    # a fiducial, a part's land and a pad without a net are something else
    assert ask(target_covered, covered(net="")) == []
    assert ask(target_covered, part("U1", (5, 5), [round_pad("1", (5, 5), net="SIG", mask_margin=None)])) == []


# --- test-access/target-without-net


def test_a_test_point_on_no_net() -> None:
    idle = [probe_pad("TP2", (10, 10), ""), probe_pad("TP10", (20, 10), "unconnected-(TP10-Pad1)", side=BOTTOM)]
    [finding] = ask(target_without_net, *idle, probe_pad("TP1", (30, 10), "SIG"))
    assert told([finding]) == [("query", "2 test points are on no net: TP2, TP10")]
    assert [place.side for place in finding.places] == [TOP, BOTTOM]
    lone = dataclasses.replace(idle[0], board_only=True)
    assert told(ask(target_without_net, lone, probe_pad("TP1", (30, 10)))) == [
        ("note", "1 test point, which only the board knows, is on no net: TP2")
    ]


def test_what_is_no_idle_test_point() -> None:
    assert ask(target_without_net) == []
    assert ask(target_without_net, probe_pad("TP1", (10, 10), "SIG"), hole(), chip("R1", (20, 10))) == []
    # a board without nets, and a pad beside that of the net
    assert ask(target_without_net, probe_pad("TP1", (10, 10), "")) == []
    lands = [round_pad("1", (10, 10), net="SIG", paste=False), round_pad("2", (14, 10), paste=False)]
    assert ask(target_without_net, part("TP1", (12, 10), lands, package="TestPoint_2Pads_Pitch5.08mm")) == []


# --- test-access/target-under-part


def test_a_pad_under_a_part_is_named_with_the_part() -> None:
    found = ask(target_under_part, block("U1", (10, 10)), probe_pad("TP1", (11, 11), "SWDIO"))
    assert told(found) == [("query", "1 test pad under U1, where no probe reaches: TP1 on SWDIO")]
    assert found[0].places[0].at == (11, 11)


def test_a_pad_beside_a_part_or_on_the_other_side_or_under_nothing_fitted_is_silent() -> None:
    assert ask(target_under_part, block("U1", (10, 10)), probe_pad("TP1", (13, 10), "SIG")) == []
    assert ask(target_under_part, block("U1", (10, 10)), probe_pad("TP1", (10, 10), "SIG", side=BOTTOM)) == []
    assert ask(target_under_part, block("U1", (10, 10), fitted=False), probe_pad("TP1", (10, 10), "SIG")) == []
    loop = through_part("TP1", nets=("SIG",), package="TestPoint_Loop_D2.6mm")
    assert ask(target_under_part, loop) == []


def test_a_drilled_pad_under_a_part_can_be_probed_from_the_other_side() -> None:
    drilled = through_part("TP1", (10, 10), nets=("SIG",), package="TestPoint_THTPad_D1.5mm_Drill0.7mm")
    assert ask(target_under_part, block("U1", (10, 10)), drilled) == []


# --- test-access/target-too-small


@pytest.mark.parametrize(("diameter", "count"), [(0.7, 0), (0.6998, 1), (0.5, 1), (1.0, 0)])
def test_too_small_on_the_limit_and_beside(diameter: float, count: int) -> None:
    # low limit seen, 0.7 mm: test-pad guideline of a fixture user, 2009 (trade text)
    found = ask(target_too_small, probe_pad("TP1", (10, 10), "SIG", diameter))
    assert len(found) == count
    if count:
        assert found[0].measured == pytest.approx(diameter)
        assert found[0].consequence is Consequence.NOTE


def test_a_small_pad_on_a_port_is_a_query_unless_something_wider_reaches_it() -> None:
    target = with_pins(smd_part("U1", (30, 20), nets=("SWDIO", "VDD", "x", "y")), {"1": "SWDIO"})
    found = ask(
        target_too_small, target, chip("R1", (40, 30), nets=("SWDIO", "z")), probe_pad("TP1", (10, 10), "SWDIO", 0.5)
    )
    assert told(found) == [
        ("query", "1 test pad narrower than 0.70 mm, and nothing wider on its net: TP1 on SWDIO, 0.50 mm")
    ]
    header = through_part("J1", (20, 10), nets=("SWDIO", "z"))
    note = ask(target_too_small, target, header, probe_pad("TP1", (10, 10), "SWDIO", 0.5))
    assert told(note) == [("note", "1 test pad narrower than 0.70 mm: TP1 on SWDIO, 0.50 mm")]


def test_a_small_opening_counts_though_something_wider_is_on_the_net() -> None:
    small = part(
        "TP1", (10, 10), [round_pad("1", (10, 10), net="SIG", mask_margin=-0.2, paste=False)], package="TestPoint"
    )
    assert ask(target_too_small, small)[0].measured == pytest.approx(0.6)
    beside = told(ask(target_too_small, small, probe_pad("TP2", (20, 10), "SIG", side=BOTTOM)))
    assert beside == [("note", "1 test pad narrower than 0.70 mm: TP1 on SIG, 0.60 mm")]


# --- test-access/targets-crowded


@pytest.mark.parametrize(
    ("apart", "sizes"),
    [
        # guideline of an in-circuit tester's maker (trade text)
        (2.41, (100, 100)),
        (2.40, (75, 100)),
        (1.905, (75, 75)),
        (1.91, (75, 100)),
        (1.78, (75, 75)),
        (1.779, (50, 75)),
        (1.52, (50, 75)),
        (1.27, (50, 50)),
        (1.26, None),
    ],
)
def test_probes_that_fit_by_distance(apart: float, sizes) -> None:
    assert probe_sizes(apart) == sizes


@pytest.mark.parametrize(
    ("apart", "consequence"),
    [(2.0, None), (1.78, None), (1.7798, "note"), (1.27, "note"), (1.2698, "query"), (1.0, "query")],
)
def test_crowded_on_the_limits_and_beside(apart: float, consequence) -> None:
    found = ask(targets_crowded, probe_pad("TP1", (10, 10), "A", 0.8), probe_pad("TP2", (10 + apart, 10), "B", 0.8))
    assert [f.consequence.value for f in found] == ([consequence] if consequence else [])
    if consequence:
        assert "TP1 and TP2" in found[0].message
        assert found[0].measured == pytest.approx(apart)


def test_crowded_pads_of_one_net_one_part_or_two_sides_are_silent() -> None:
    one = probe_pad("TP1", (10, 10), "A", 0.8)
    assert ask(targets_crowded, one, probe_pad("TP2", (11, 10), "A", 0.8)) == []
    assert ask(targets_crowded, one, probe_pad("TP2", (11, 10), "B", 0.8, side=BOTTOM)) == []
    spring = part(
        "TP3",
        (20, 10),
        [round_pad(str(n), (20 + n, 10), 0.8, net=f"N{n}", paste=False) for n in range(4)],
        package="TestPoint_Bridge",
    )
    assert ask(targets_crowded, spring) == []
    # the net can be probed elsewhere on that side
    assert ask(targets_crowded, one, probe_pad("TP2", (11, 10), "B", 0.8), probe_pad("TP4", (30, 10), "B")) == []


# --- test-access/target-near-part


@pytest.mark.parametrize(
    ("height", "gap", "answer"),
    [
        (1.0, 1.0, None),  # low: 1.0 mm
        (1.0, 0.9998, "note"),
        (3.0, 1.0, None),  # not above 3 mm
        (3.01, 3.05, None),
        (3.01, 3.0498, "note"),
        (6.35, 3.05, None),  # not above 6.35 mm
        (6.36, 5.08, None),
        (6.36, 5.0798, "note"),
        (10.0, 0.9, "query"),
        (None, 1.2, None),
    ],
)
def test_room_by_height_on_the_limits_and_beside(height, gap: float, answer) -> None:
    # a body from 8 to 12, a pad of 1 mm to the right of it
    found = ask(target_near_part, block("U1", (10, 10), height=height), probe_pad("TP1", (12 + gap + 0.5, 10), "SIG"))
    assert [f.consequence.value for f in found] == ([answer] if answer else [])
    if found:
        assert "TP1 on SIG" in found[0].message
        assert found[0].measured == pytest.approx(gap, abs=1e-6)


def test_a_radial_can_counts_as_tall_though_nobody_states_its_height() -> None:
    can = through_part("C1", (10, 10), nets=("x", "y"), package="CP_Radial_D10.0mm_P5.00mm")
    can = dataclasses.replace(can, body=disc((10, 10), 10.0))
    found = ask(target_near_part, can, probe_pad("TP1", (16.0, 10), "SIG"))
    assert told(found) == [
        (
            "query",
            "1 test pad too near a tall part: TP1 on SIG 0.50 mm from C1, of a kind that is tall (5.08 mm wanted)",
        )
    ]
    assert ask(target_near_part, can, probe_pad("TP1", (16.0, 10), "SIG", side=BOTTOM)) == []
    assert ask(target_near_part, dataclasses.replace(can, fitted=False), probe_pad("TP1", (16, 10), "SIG")) == []


def test_a_pad_half_under_a_part_is_a_query_and_repeats_are_one_finding() -> None:
    low = block("U1", (10, 10), height=1.0)
    found = ask(target_near_part, low, probe_pad("TP1", (12.2, 10), "A"), probe_pad("TP2", (10, 12.3), "B"))
    assert [f.consequence.value for f in found] == ["query"]
    assert "2 test pads partly under a part" in found[0].message


def test_a_drilled_pad_is_judged_by_its_better_side() -> None:
    drilled = through_part("TP1", (13, 10), nets=("SIG",), package="TestPoint_THTPad_D1.5mm_Drill0.7mm")
    low = block("U1", (10, 10), height=1.0)
    assert ask(target_near_part, low, drilled) == []
    assert len(ask(target_near_part, low, block("U2", (10, 10), height=1.0, side=BOTTOM), drilled)) == 1


# --- test-access/target-on-mains


def test_a_bare_pad_on_the_mains_is_asked_about() -> None:
    live = probe_pad("TP1", (10, 20), "AC_L"), chip("F1", (20, 20), nets=("AC_L", "L_FUSED"))
    (found,) = ask(target_on_mains, *live)
    assert found.consequence.value == "query"
    assert "TP1 on AC_L" in found.message
    assert found.places[0].at == (10, 20)


def test_live_and_neutral_are_known_by_their_letters_only_together() -> None:
    wire = probe_pad("TP1", (10, 20), "L"), through_part("J1", (20, 20), nets=("L", "X"))
    assert ask(target_on_mains, *wire) == []
    assert len(ask(target_on_mains, *wire, through_part("J2", (40, 20), nets=("N", "Y")))) == 1


def test_a_low_voltage_pad_is_no_matter_of_the_mains() -> None:
    assert ask(target_on_mains, probe_pad("TP1", (10, 20), "+12V"), chip("R1", (20, 20), nets=("+12V", "X"))) == []


# --- test-access/target-near-edge, target-near-guide-hole


@pytest.mark.parametrize(
    ("gap", "answer"),
    [(3.18, None), (3.1798, "note"), (3.0, "note"), (1.0, "note"), (0.9998, "query"), (0.2, "query")],
)
def test_edge_on_the_limits_and_beside(gap: float, answer) -> None:
    # 3.0 mm from the edge is short of the 3.18 mm of a board manufacturer's guideline, 4.1.5 (trade text)
    found = ask(target_near_edge, probe_pad("TP1", (gap + 0.5, 20), "SIG"))
    assert [f.consequence.value for f in found] == ([answer] if answer else [])
    if found:
        assert found[0].places[0].at == (gap + 0.5, 20)


@pytest.mark.parametrize(("gap", "count"), [(3.18, 0), (3.1798, 1)])
def test_guide_hole_on_the_limit_and_beside(gap: float, count: int) -> None:
    tooling = dataclasses.replace(hole("TH1", (10, 10), 3.0), package="ToolingHole_3mm")
    found = ask(target_near_guide_hole, tooling, probe_pad("TP1", (10 + 1.5 + gap + 0.5, 10), "SIG"))
    assert len(found) == count
    assert not found or "from TH1" in found[0].message
    screw = dataclasses.replace(hole("H1", (10, 10), 3.0), package="MountingHole_3mm")
    assert ask(target_near_guide_hole, screw, probe_pad("TP1", (13, 10), "SIG")) == []


# --- paste


def pasted(reference: str, at, net: str, side=TOP) -> Part:
    item = probe_pad(reference, at, net, side=side)
    land = dataclasses.replace(item.pads[0], paste={side: disc(at, 1.0)})
    return dataclasses.replace(item, pads=(land,))


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_pads_for_probes_with_paste_are_a_note(side) -> None:
    clean = probe_pad("TP1", (10, 10), "A", side=side)
    assert ask(target_takes_paste, clean) == []
    (finding,) = ask(target_takes_paste, clean, pasted("TP2", (20, 10), "B", side), pasted("TP3", (30, 10), "C", side))
    assert finding.consequence is Consequence.NOTE
    assert finding.message == "2 test pads get paste: TP2 on B, TP3 on C"
    assert [(place.at, place.side) for place in finding.places] == [((20, 10), side), ((30, 10), side)]


@pytest.mark.parametrize(("finish", "count"), [("", 1), ("ENIG", 1), ("OSP", 0)])
def test_solder_is_wanted_on_bare_copper(finish: str, count: int) -> None:
    assert len(ask(target_takes_paste, pasted("TP2", (20, 10), "B"), stackup=Stackup(finish=finish))) == count


# --- all


def full() -> tuple[Part, ...]:
    return (
        covered("TP1", (50, 30)),
        block("U1", (20, 20), height=8.0),
        probe_pad("TP2", (20, 20), "A"),
        probe_pad("TP3", (24, 20), "B"),
        probe_pad("TP4", (24, 21), "C", 0.5),
        probe_pad("TP5", (30, 30), "D"),
        probe_pad("TP6", (31.2, 30), "E"),
        probe_pad("TP7", (1.2, 10), "F"),
        dataclasses.replace(hole("TH1", (40, 10), 3.0), package="ToolingHole_3mm"),
        probe_pad("TP8", (43, 10), "G", side=BOTTOM),
        probe_pad("TP9", (50, 10), "AC_L"),
        chip("R9", (55, 10), nets=("AC_L", "X")),
        pasted("TP10", (50, 20), "H"),
        probe_pad("TP11", (10, 20), ""),
    )


@pytest.mark.parametrize("motion", [moved(17.0, -9.0), quarter_turns(1), quarter_turns(2), mirrored()])
def test_a_moved_turned_or_mirrored_board_says_the_same(motion) -> None:
    made = board(parts=full())
    for check in CHECKS:
        before, after = ask(check, made=made), ask(check, made=transform(made, motion))
        assert before, check.id
        assert [(f.message, f.fingerprint) for f in before] == [(f.message, f.fingerprint) for f in after]


def test_none_present() -> None:
    for check in CHECKS:
        assert ask(check) == []
        assert ask(check, chip("R1", (10, 10), nets=("A", "B")), through_part("J1", (1, 1), nets=("A", "B"))) == []


def test_nothing_is_said_of_a_pad_in_order() -> None:
    for check in CHECKS:
        assert ask(check, probe_pad("TP1", (20, 20), "SIG"), block("U1", (35, 20), height=12.0)) == []
