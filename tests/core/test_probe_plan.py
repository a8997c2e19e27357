# SPDX-License-Identifier: MIT
"""The probe plan: which target, which side, which size; ground, rails, force, bending; room for what is not reached."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely

from build import (
    BOTTOM,
    TOP,
    board,
    chip,
    hole,
    part,
    pour,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_pad,
    through_part,
    track,
    via,
    with_pins,
)
from lineworthy import cli
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Board, Outline, Stackup, TitleBlock
from lineworthy.plans import probe_force
from lineworthy.plans.probe_plan import ProbePlan
from lineworthy.plans.probe_sizes import sizes, spacing
from lineworthy.plans.probes import plan
from lineworthy.report import probe_map, probe_table, probe_text
from lineworthy.sheet import built_in


def planned(made: Board, **said) -> ProbePlan:
    nets = Nets(made, keys=said.pop("keys", ()))
    return plan(made, built_in(), nets=nets, marks=Marks(made), packages=Packages(made), **said)


def pads(*rows: tuple, side=TOP) -> list:
    """Test pads from (net, x, y), each with a second land of its net so that the net is one."""
    made = [probe_pad(f"TP{n}", (x, y), net=net, side=side) for n, (net, x, y) in enumerate(rows, 1)]
    names = [net for net, _, _ in rows]
    return [*made, smd_part("U1", (50, 35), nets=names, pitch=0.5, land=(0.3, 1.0), side=side.other)]


# --- numbers from outside


def test_spacing_by_pair_of_sizes() -> None:
    # guideline of an in-circuit tester's maker: 95, 75, 70, 60, 50 mil for 100-100, 100-75, 75-75, 75-50, 50-50
    pairs = {(100, 100): 95, (100, 75): 75, (75, 75): 70, (75, 50): 60, (50, 50): 50}
    for (one, other), mil in pairs.items():
        assert spacing(one, other) == spacing(other, one) == pytest.approx(mil * 0.0254, abs=0.01)


def test_two_probes_two_millimetres_apart() -> None:
    # the same guideline: 2.0 mm is too near for 100 mil twice (2.41) and enough for 75 twice (1.78)
    assert spacing(100, 100) > 2.0 > spacing(75, 75)
    assert sorted(sizes([(0, 0), (2.0, 0)]), key=str) == [100, 75]


ON_AND_BELOW = (
    *((2.41, {100}), (2.40, {100, 75}), (1.91, {100, 75}), (1.90, {75}), (1.78, {75})),
    *((1.77, {75, 50}), (1.52, {75, 50}), (1.51, {50}), (1.27, {50}), (1.26, {None})),
)


@pytest.mark.parametrize(("apart", "wanted"), ON_AND_BELOW)
def test_sizes_exactly_on_each_limit_and_just_below(apart: float, wanted: set) -> None:
    assert set(sizes([(0, 0), (apart, 0)])) == wanted
    turned = (apart * math.cos(1.0), apart * math.sin(1.0))
    assert set(sizes([(0, 0), turned])) == wanted


def test_a_probe_alone_is_of_the_sturdiest_class_and_none_is_fine() -> None:
    assert sizes([(0, 0)]) == [100]
    assert sizes([]) == []


def test_a_crowded_one_makes_way_for_its_neighbours() -> None:
    # in a row of three at 2.0 mm the middle one alone has to be finer
    assert sizes([(0, 0), (2, 0), (4, 0)]) == [100, 75, 100]


def test_force_cap_of_a_square_inch() -> None:
    # testability article of a tester's maker: twelve 8-oz probes in a square inch, 96 oz, and no more
    force = 8 * probe_force.OUNCE_N
    cap = 96 * probe_force.OUNCE_N
    spots = [(2.0 * (n % 4), 3.0 * (n // 4)) for n in range(12)]
    assert probe_force.densest_inch(spots, force).force == pytest.approx(cap)
    assert probe_force.densest_inch([*spots, (1, 1)], force).force > cap
    # the same in SI: 4.14 N/cm2
    assert cap / (probe_force.INCH_MM / 10) ** 2 == pytest.approx(4.14, abs=0.01)
    assert built_in().test_access.probe_force_per_inch2_max_n == pytest.approx(cap, abs=0.05)


def test_the_densest_inch_is_found_wherever_it_lies_and_its_rim_counts() -> None:
    spots = [(0.0, 0.0), (25.4, 25.4), (100, 100), (110, 100), (125.5, 100)]
    assert probe_force.densest_inch(spots, 1.0).probes == 2
    assert probe_force.densest_inch([*spots, (12, 25.4)], 1.0).probes == 3
    assert probe_force.densest_inch([(0, 0), (25.5, 0)], 1.0).probes == 1
    assert probe_force.densest_inch([(0, 0), (0, 25.5)], 1.0).probes == 1
    assert probe_force.densest_inch([], 1.0).probes == 0


def test_probes_that_a_vacuum_holds() -> None:
    # probe maker's guide on spring force: 1 in2, 14.7 psi, 5.5 oz, 60 % give 25 (25.66), in ounces and in grams
    inch2, psi = 25.4**2, 0.00689476
    assert probe_force.vacuum_probes(inch2, 5.5 * probe_force.OUNCE_N, 14.7 * psi, 0.6) == 25
    kg_cm2 = 9.80665 / 100
    assert probe_force.vacuum_probes(645.0, 156 * probe_force.GRAM_N, 1.03 * kg_cm2, 0.6) == 25


def test_total_force() -> None:
    # testability guideline of a fixture user: 200 probes of about 200 g are 392 N
    limits = built_in().test_access
    assert limits.probe_force_n == pytest.approx(200 * probe_force.GRAM_N, abs=0.01)
    assert 200 * limits.probe_force_n == pytest.approx(392, abs=1)


@pytest.mark.parametrize(("modulus", "thickness", "wanted"), [(24e3, 1.6, 0.18), (10e3, 1.6, 0.43), (24e3, 0.8, 0.72)])
def test_strip_bends_as_the_worked_panel(modulus: float, thickness: float, wanted: float) -> None:
    # from memory: beam theory, 5 q L^4 / (384 E I), worked for 250 mm of laminate of 1850 kg/m3 under its own weight
    weight = 1850 * 9.81 * thickness * 1e-9
    assert probe_force.sag(weight, 250.0, thickness, modulus) == pytest.approx(wanted, abs=0.006)


def test_strip_against_the_point_formulas_and_a_plate() -> None:
    # from memory: plate theory, a square plate held on four edges bends 0.00406 q a^4 / D; the strip bends more
    pressure, span, thickness, poisson = 0.01, 100.0, 1.6, 0.13
    rigidity = probe_force.MODULUS_MPA * thickness**3 / (12 * (1 - poisson**2))
    plate = 0.00406 * pressure * span**4 / rigidity
    assert 3.0 < probe_force.sag(pressure, span, thickness) / plate < 3.5
    # strain of the strip by its sag: 4.8 t d / L^2
    bend = 4.8 * thickness * probe_force.sag(pressure, span, thickness) / span**2
    assert probe_force.strain(pressure, span, thickness) == pytest.approx(bend)
    far = probe_force.support_spacing(pressure, thickness)
    assert probe_force.strain(pressure, far, thickness) == pytest.approx(probe_force.STRAIN_BUDGET)


# --- which target


def test_dedicated_pad_before_lead_before_via() -> None:
    # guidelines of two tester makers: dedicated pad, then through-hole lead, then via
    lead = through_part("K1", (10, 10), nets=("A", "x"), package="DIP-2")
    open_via = via((30, 10), 1.2, 0.4, net="A", open_on=(BOTTOM,))
    load = smd_part("U1", (50, 30), nets=("A", "x"))
    made = board(parts=[lead, load, probe_pad("TP1", (20, 20), net="A", side=BOTTOM)], vias=[open_via])
    assert planned(made).probes[0].target.label == "TP1"
    made = board(parts=[lead, load], vias=[open_via])
    assert planned(made).probes[0].target.label == "K1 pad 1"
    made = board(parts=[load, chip("R1", (5, 5), nets=("A", "x"))], vias=[open_via])
    assert planned(made).probes[0].target.label == "open via"


def test_a_pad_in_the_open_is_taken_before_one_beside_a_part() -> None:
    crowded = probe_pad("TP1", (10, 10), net="A", diameter=1.5)
    beside = part("U2", (12, 10), body=rectangle((12, 10), 2.0, 2.0), package="SOT-23")
    free = probe_pad("TP2", (30, 10), net="A")
    load = smd_part("U1", (50, 30), nets=("A", "x"))
    assert planned(board(parts=[crowded, beside, free, load])).probes[0].target.label == "TP2"
    only = planned(board(parts=[crowded, beside, load])).probes[0]
    assert [hurdle.by for hurdle in only.in_the_way] == ["U2"]


def test_a_lead_in_the_open_is_taken_before_a_pad_beside_a_part() -> None:
    beside = part("U2", (12, 10), body=rectangle((12, 10), 2.0, 2.0), side=BOTTOM, package="SOT-23")
    lead = through_part("K1", (40, 10), nets=("A", "x"), package="DIP-2")
    pad_beside = probe_pad("TP1", (10, 10), net="A", diameter=1.5, side=BOTTOM)
    (probe,) = planned(board(parts=[pad_beside, beside, lead])).probes
    assert probe.target.label == "K1 pad 1"


def test_a_via_with_room_is_taken_before_a_pad_where_no_probe_fits_beside_the_next() -> None:
    rows = [probe_pad("TP1", (10, 10), net="A"), probe_pad("TP3", (11.2, 10), net="B")]
    rows += [smd_part("U1", (50, 30), nets=("A", "B"), side=BOTTOM)]
    far = via((30, 10), 1.0, 0.4, net="A", open_on=(TOP,))
    assert planned(board(parts=rows, vias=[far])).probes[0].target.label == "open via"
    rows[1] = probe_pad("TP3", (11.27, 10), net="B")
    assert planned(board(parts=rows, vias=[far])).probes[0].target.label == "TP1"


def test_a_pad_under_a_part_or_too_small_is_no_target() -> None:
    over = part("U2", (10, 10), body=rectangle((10, 10), 4.0, 4.0), package="SOT-23")
    load = smd_part("U1", (50, 30), nets=("A", "x"))
    under = planned(board(parts=[probe_pad("TP1", (10, 10), net="A"), over, load]))
    assert [miss.facts.name for miss in under.uncovered] == ["A"]
    assert planned(board(parts=[probe_pad("TP1", (10, 10), net="A", diameter=0.69), load])).probes == ()
    assert len(planned(board(parts=[probe_pad("TP1", (10, 10), net="A", diameter=0.7), load])).probes) == 1


def test_nets_give_way_to_each_other_where_one_has_the_choice() -> None:
    # B has only the pad 1.0 mm beside A's better one, A has another
    rows = [probe_pad("TP1", (10, 10), net="A", diameter=1.2), probe_pad("TP2", (30, 10), net="A")]
    rows += [probe_pad("TP3", (11, 10), net="B"), smd_part("U1", (50, 30), nets=("A", "B"))]
    assert {probe.net: probe.target.label for probe in planned(board(parts=rows)).probes} == {
        "A": "TP2",
        "B": "TP3",
    }


def test_solder_end_of_a_connector_is_probed_and_its_open_end_plugged() -> None:
    made = board(parts=[through_part("J1", (10, 10), nets=("A", "B")), smd_part("U1", (40, 20), nets=("A", "B"))])
    result = planned(made)
    assert (result.side, [probe.net for probe in result.probes], result.plugs) == (BOTTOM, ["A", "B"], ())
    turned = planned(made, side=TOP)
    assert (turned.probes, [plug.target.label for plug in turned.plugs]) == ((), ["J1 pad 1", "J1 pad 2"])


def test_a_probe_stands_beside_a_hole_too_wide_for_its_tip() -> None:
    ring = part("H1", (10, 10), [through_pad("1", (10, 10), 6.0, 3.2, net="GND")], package="MountingHole_3.2mm_M3_Pad")
    made = board(parts=[ring, smd_part("U1", (40, 20), nets=("GND", "A"))])
    (probe,) = planned(made).probes
    assert math.dist(probe.target.at, (10, 10)) == pytest.approx(2.3, abs=0.05)
    assert probe.target.diameter == pytest.approx(1.4, abs=0.01)


def test_guided_tip_below_the_size_for_plain_ones() -> None:
    # guideline of an in-circuit tester's maker: below 30 mil (0.76 mm) tips have to be guided
    load = smd_part("U1", (50, 30), nets=("A", "B"))
    rows = [probe_pad("TP1", (10, 10), net="A", diameter=0.75), probe_pad("TP2", (20, 10), net="B", diameter=0.76)]
    assert [probe.is_guided for probe in planned(board(parts=[*rows, load])).probes] == [True, False]


# --- which side


def test_one_side_for_all_where_possible_and_the_bottom_of_two_alike() -> None:
    leads = [through_part(f"K{n}", (10 * n, 10), nets=("A", "B"), package="DIP-2") for n in (1, 2)]
    assert planned(board(parts=leads)).side is BOTTOM
    both = [via((10.0 * n, 10), 1.0, 0.4, net=net, open_on=(TOP, BOTTOM)) for n, net in ((1, "A"), (2, "B"))]
    assert planned(board(parts=[smd_part("U1", (50, 30), nets=("A", "B", "A", "B"))], vias=both)).side is BOTTOM
    made = board(parts=pads(("A", 10, 10), ("B", 20, 10)))
    result = planned(made)
    assert (result.side, result.forced, len(result.on(TOP))) == (TOP, (), 2)


def test_second_side_only_for_a_net_that_test_must_reach() -> None:
    bottom = [probe_pad(f"TP{n}", (10.0 * n, 10), net=f"N{n}", side=BOTTOM) for n in (1, 2, 3)]
    load = smd_part("U1", (50, 30), nets=("N1", "N2", "N3", "T"))
    made = board(parts=[*bottom, probe_pad("TP9", (20, 25), net="T"), load])
    plain = planned(made)
    assert (plain.side, plain.forced, len(plain.probes)) == (BOTTOM, (), 3)
    (miss,) = plain.uncovered
    assert (miss.facts.name, miss.other.label) == ("T", "TP9")
    # one side that reaches all that test needs beats two sides that reach more
    alone = planned(made, keys=("T",))
    assert (alone.side, alone.forced, len(alone.uncovered)) == (TOP, (), 3)
    asked = planned(made, keys=("T", "N1", "N2"))
    assert (asked.forced, [probe.net for probe in asked.on(TOP)], asked.uncovered) == (("T",), ["T"], ())
    assert "needed by T" in probe_text.render(asked)
    assert "top would reach 1 more net: T" in " ".join(probe_text.render(plain).split())


# --- ground, rails, nets left bare


def rows_of_signals(count: int) -> list:
    rows = [(f"S{n}", 5.0 + 5 * (n % 10), 5.0 + 5 * (n // 10)) for n in range(count)]
    grounds = [probe_pad(f"TPG{n}", (3.0 + 7 * n, 38), net="GND") for n in range(8)]
    return [*pads(*rows), *grounds, chip("C1", (57, 20), nets=("GND", "S0"))]


@pytest.mark.parametrize(("signals", "wanted"), [(1, 4), (60, 4), (81, 5)])
def test_ground_probes_by_the_number_of_signals(signals: int, wanted: int) -> None:
    # common practice, no source: four at least, and one for each twenty signals
    result = planned(board(60, 60, parts=rows_of_signals(signals)))
    assert result.grounds_wanted == wanted
    assert sum(probe.purpose == "ground" for probe in result.probes) == wanted


def test_ground_probes_are_put_where_none_is_near() -> None:
    made = [probe_pad("TP1", (5, 5), net="GND"), probe_pad("TP2", (8, 5), net="GND")]
    made += [probe_pad(f"TPG{n}", (100.0 + 3 * n, 5), net="GND") for n in range(9)]
    made += [probe_pad("TP3", (150, 5), net="A"), smd_part("U1", (150, 30), nets=("GND", "A", "VCC"))]
    result = planned(board(200, 40, parts=made))
    assert result.far_signal is not None
    assert result.far_signal[1] == pytest.approx(26.0)


def test_rail_gets_a_second_probe_to_sense() -> None:
    reg = with_pins(smd_part("U1", (40, 30), nets=("+3V3", "GND", "A")), {"1": ("VDD", "power_in"), "2": "GND"})
    rows = [probe_pad("TP1", (10, 10), net="+3V3"), probe_pad("TP2", (20, 10), net="+3V3"), reg]
    rows += [probe_pad("TP3", (30, 10), net="GND"), smd_part("U2", (20, 30), nets=("+3V3", "GND", "A"))]
    purposes = sorted(probe.purpose for probe in planned(board(parts=rows)).probes if probe.net == "+3V3")
    assert purposes == ["rail", "sense"]


def test_net_that_a_probe_would_harm_is_left_bare() -> None:
    crystal = smd_part("Y1", (10, 10), nets=("XIN", "XOUT"), package="Crystal_SMD_3225-2Pin_3.2x2.5mm")
    rows = [crystal, smd_part("U1", (40, 30), nets=("XIN", "XOUT", "A"))]
    result = planned(board(parts=[*rows, probe_pad("TP1", (20, 20), net="XIN"), probe_pad("TP2", (30, 10), net="A")]))
    assert [facts.name for facts in result.left_bare] == ["XIN", "XOUT"]
    assert [probe.net for probe in result.probes] == ["A"]


# --- datum


def test_datum_is_the_farthest_pair_of_bare_holes_and_guide_holes_come_first() -> None:
    corners = [hole("H1", (4, 4)), hole("H2", (56, 4)), hole("H3", (56, 36))]
    assert [found.at for found in planned(board(parts=corners)).datum] == [(4, 4), (56, 36)]
    guides = [hole(f"H{n}", at, package="ToolingHole_3.2mm") for n, at in ((4, (10, 20)), (5, (40, 20)))]
    assert [found.at for found in planned(board(parts=[*corners, *guides])).datum] == [(10, 20), (40, 20)]
    assert planned(board(parts=corners[:1])).datum == ()


# --- room for what is not reached


def wired(*more, **items):
    """Net A runs along the middle of the bottom, between two covered parts of the top."""
    ends = [chip("R1", (5, 20), nets=("A", "x")), chip("R2", (55, 20), nets=("y", "A"))]
    lines = [track((8, 20), (52, 20), layer="bottom", net="A"), *items.pop("tracks", [])]
    return board(parts=[*ends, *more], tracks=lines, **items)


def test_room_on_the_net_itself() -> None:
    room = next(m.room for m in planned(wired(), side=BOTTOM).uncovered if m.facts.name == "A")
    assert (room.away, room.side) == (0.0, BOTTOM)
    assert room.at[1] == pytest.approx(20.0)


def test_room_beside_where_other_copper_hems_the_net_in() -> None:
    hedge = [track((0.5, y), (59.5, y), layer="bottom", net="B") for y in (19.5, 20.5)]
    room = next(m.room for m in planned(wired(tracks=hedge), side=BOTTOM).uncovered if m.facts.name == "A")
    # a 1.0 mm pad clears a 0.2 mm track by 0.2 mm at 0.8 mm from its middle
    assert room.away >= 0.5 + 0.8 - 1e-6
    assert abs(room.at[1] - 20.0) == pytest.approx(1.5, abs=0.01)


def test_no_room_at_all_is_said() -> None:
    lid = part("U9", (30, 20), body=rectangle((30, 20), 59.0, 39.0), side=BOTTOM, package="Shield")
    result = planned(wired(lid), side=BOTTOM)
    assert all(miss.room is None for miss in result.uncovered)
    assert probe_table.document(result).count("no room for a 1.00 mm pad on the bottom") == len(result.uncovered)


def test_no_place_is_offered_twice() -> None:
    nets = [f"N{n}" for n in range(8)]
    parts = [chip(f"R{n}", (30, 20), nets=(net, net), side=BOTTOM) for n, net in enumerate(nets)]
    rooms = [miss.room for miss in planned(board(parts=parts), side=TOP).uncovered]
    spots = [room.at for room in rooms if room is not None]
    assert len(spots) == 8
    assert min(math.dist(a, b) for n, a in enumerate(spots) for b in spots[:n]) >= 1.78


def test_two_nets_side_by_side_are_not_offered_places_too_near_each_other() -> None:
    lines = [track((8, y), (52, y), layer="bottom", net=net) for y, net in ((20.0, "A"), (21.0, "B"))]
    ends = [chip(f"R{n}", (5, 5.0 * n), nets=("A", "B")) for n in (1, 2)]
    rooms = [miss.room for miss in planned(board(parts=ends, tracks=lines), side=BOTTOM).uncovered]
    assert [room.away for room in rooms] == [0.0, 0.0]
    # guideline of an in-circuit tester's maker: 1.78 mm for probes that last
    assert math.dist(rooms[0].at, rooms[1].at) >= 1.78


def test_room_in_a_pour_of_the_net() -> None:
    area = pour(shapely.box(40, 5, 55, 15), layer="bottom", net="A", uid="p")
    made = board(parts=[chip("R1", (5, 30), nets=("A", "x")), chip("R2", (15, 30), nets=("A", "y"))], areas=[area])
    room = next(m.room for m in planned(made, side=BOTTOM).uncovered if m.facts.name == "A")
    assert room.away == 0.0
    assert area.boundary.contains(shapely.Point(room.at))


# --- invariance


def test_moving_the_board_moves_the_probes_and_nothing_else() -> None:
    def made(dx: float, dy: float) -> ProbePlan:
        rows = [("A", 10 + dx, 10 + dy), ("B", 11.6 + dx, 10 + dy), ("C", 30 + dx, 12 + dy)]
        shift = shapely.box(dx, dy, 60 + dx, 40 + dy)
        return planned(board(parts=pads(*rows), outline=Outline(shift)))

    here, there = made(0, 0), made(100, -50)
    told = [[(p.net, p.size, round(p.apart, 9)) for p in made.probes] for made in (here, there)]
    assert told[0] == told[1]
    assert [p.target.at for p in there.probes] == [(p.target.at[0] + 100, p.target.at[1] - 50) for p in here.probes]


def test_board_without_anything() -> None:
    for made in (Board(name="bare"), board()):
        result = planned(made)
        assert (result.probes, result.uncovered, result.load.total) == ((), (), 0.0)
        assert "Nothing to probe" in probe_text.render(result)
        ElementTree.fromstring(probe_map.draw(result))


# --- outputs

HOSTILE = '=HYPERLINK("http://x")</svg><script>\x1b[2J\u202e'


def hostile() -> ProbePlan:
    rows = [(HOSTILE, 10, 10), ("+5V", 20, 10), ("-12V", 30, 10), ("@x", 40, 10)]
    lands = [*pads(*rows), probe_pad("=R", (50, 10), net="S"), chip("R7", (10, 30), nets=("S", "T<&>"))]
    more = chip("R8", (15, 30), nets=("T<&>", "S"))
    return planned(board(parts=[*lands, more], title=TitleBlock(revision="<b>")), keys=("T<&>",))


def test_table_has_a_line_per_probe_and_starts_no_formula() -> None:
    result = hostile()
    lines = list(csv.DictReader(io.StringIO(probe_table.table(result))))
    assert len(lines) == len(result.probes) == 5
    for line in lines:
        for name in ("net", "part", "pad", "net class", "care"):
            assert not line[name].startswith(tuple("=+-@\t\r")), line
    assert {line["net"] for line in lines} >= {"'+5V", "'-12V", "'@x"}
    first = next(line for line in lines if line["net"] == "'+5V")
    assert (first["x mm"], first["y mm"], first["side"], first["probe mil"]) == ("20.000", "10.000", "top", "100")
    assert (first["target"], first["part"], first["target mm"], first["force N"]) == (
        "test pad",
        "TP2",
        "1.000",
        "1.96",
    )
    assert "\x1b" not in probe_table.table(result)


def test_places_count_from_origin_and_from_datum() -> None:
    holes = [hole("H1", (4, 4)), hole("H2", (56, 36))]
    made = board(parts=[*pads(("A", 20, 10)), *holes], origin=(1.0, 2.0))
    (line,) = csv.DictReader(io.StringIO(probe_table.table(planned(made))))
    assert (line["x mm"], line["y mm"]) == ("19.000", "8.000")
    assert (line["x from datum mm"], line["y from datum mm"]) == ("16.000", "6.000")


def test_data_says_everything_and_the_same_each_time() -> None:
    result = hostile()
    told = json.loads(probe_table.document(result))
    assert (told["format"], told["version"], told["side"]) == ("lineworthy-probe-plan", 1, "top")
    assert "seen from the top" in told["frame"]
    assert {miss["net"] for miss in told["uncovered"] if miss["needed"]} == {"T<&>"}
    assert told["probes"][0].keys() >= {"net", "x_mm", "y_mm", "side", "size_mil", "target", "part", "pad"}
    assert probe_table.document(result) == probe_table.document(hostile())


def test_map_is_sound_mirrored_below_and_names_what_is_not_reached() -> None:
    text = probe_map.draw(hostile())
    root = ElementTree.fromstring(text)
    assert "<script" not in text
    drawn = "".join(root.itertext())
    assert "Top, seen from above: 5 probes" in drawn
    assert "Bottom, seen from below: 0 probes" in drawn
    assert "N1  T<&> (signal): room" in drawn
    made = board(parts=pads(("A", 10, 10), side=BOTTOM))
    text = probe_map.draw(planned(made))
    (circle,) = ElementTree.fromstring(text).iterfind(".//{*}g[@class='probe p100']/{*}circle")
    # 10 mm from the left is 50 mm from the left seen from below, and the map has a rim of 1.2 mm
    assert int(circle.get("cx")) == pytest.approx(100 * (50 + 1.2), abs=1)


def test_thin_board_bends_more_and_one_without_thickness_says_nothing() -> None:
    def bent(thickness: float) -> ProbePlan:
        return planned(board(parts=pads(("A", 10, 10)), stackup=Stackup(thickness)))

    assert bent(0.8).load.sag == pytest.approx(8 * bent(1.6).load.sag)
    assert bent(0.0).load.sag is None
    assert "Bending" not in probe_text.render(bent(0.0))


# --- the command


def command(tmp_path: Path, made: Board, *more: str) -> int:
    return cli.main(["probes", "widget.kicad_pcb", *more], lambda path, progress: made)


def test_command_writes_all_four_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = board(parts=pads(("A", 10, 10), ("B", 20, 10)))
    assert command(tmp_path, made, "--out", str(tmp_path / "fixture")) == 0
    names = {path.name for path in (tmp_path / "fixture").iterdir()}
    assert names == {f"widget{end}" for end in ("-probes.csv", "-probes.svg", "-probes.json", ".d356")}
    out, err = capsys.readouterr()
    assert "All nets that test is known to need are reached, from the top alone." in out
    assert err.count("wrote") == 4


def test_command_says_by_its_code_that_a_needed_net_is_missed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    regulator = with_pins(smd_part("U1", (40, 30), nets=("+3V3", "GND", "A")), {"1": ("VDD", "power_in"), "2": "GND"})
    missed = board(parts=[regulator, smd_part("U2", (20, 30), nets=("+3V3", "GND", "A"))])
    assert command(tmp_path, missed) == 1
    assert "Not reached" in capsys.readouterr().out


def test_command_side_is_obeyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = board(parts=pads(("A", 10, 10)))
    assert command(tmp_path, made, "--side", "bottom") == 0
    assert "bottom: 0 probes" in capsys.readouterr().out


def test_command_with_bad_input_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken = tmp_path / "file"
    taken.write_text("mine")
    made = board(parts=pads(("A", 10, 10)))
    assert command(tmp_path, made, "--out", str(taken)) == 2
    assert command(tmp_path, made, "--sheet", "no-such.toml") == 2
    far = board(parts=[part("TP1", (5000, 5), [round_pad("1", (5000, 5), net="A")])])
    assert command(tmp_path, far, "--out", str(tmp_path / "out")) == 2
    assert not (tmp_path / "out").exists()
    assert taken.read_text() == "mine"
    assert len(capsys.readouterr().err.splitlines()) == 3


def test_command_makes_no_plan_of_a_board_without_nets(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for bare in (Board(), board(), board(parts=pads(("", 10, 10)))):
        assert command(tmp_path, bare, "--out", str(tmp_path / "fixture")) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.strip().endswith("widget.kicad_pcb: has no pad on a net: there is nothing to plan probes for")
        assert not (tmp_path / "fixture").exists()
