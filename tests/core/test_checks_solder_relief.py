# SPDX-License-Identifier: MIT
"""Leads in planes: joined all round, over webs, and over how much web in all."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest
import shapely
from shapely import affinity

from build import board, hole, pour, rectangle, through_part
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_relief import no_thermal_relief, relief_webs_too_wide, total_web, web_width
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.reliefs import OUTSIDE_MM, Place, Reliefs, contacts
from lineworthy.model import PadRole, StackLayer, Stackup
from lineworthy.registry import NotRun
from lineworthy.shapes import disc

SHEET = built_in()
AT = (10.0, 10.0)
LAYERS = ("top", "in1", "in2", "bottom")


def webbed(at=AT, webs=4, width=0.3, land=1.7, gap=0.3, turn=0.0, size=12.0):
    """A pour that joins a round land over some webs."""
    area = rectangle(at, size, size).difference(disc(at, land + 2 * gap))
    for n in range(webs):
        bar = rectangle((at[0] + land / 2 + gap / 2, at[1]), land / 4 + gap + 0.2, width)
        area = area.union(affinity.rotate(bar, turn + 360 * n / webs, origin=at))
    return area.union(disc(at, land - 0.1)) if webs else area


def header(net="GND", **more):
    """One lead in a round land of 1.7 mm at (10, 10), copper on four layers."""
    item = through_part("J1", AT, nets=(net,), **more)
    land = dataclasses.replace(item.pads[0], copper={name: disc(AT, 1.7) for name in LAYERS})
    return dataclasses.replace(item, pads=(land,))


def asked(check, parts, areas, **more):
    made = board(parts=tuple(parts), areas=tuple(areas), copper_layers=LAYERS, **more)
    inputs = {"sheet": SHEET, "packages": Packages(made), "reliefs": Reliefs(made)}
    return list(check.ask(board=made, **{name: inputs[name] for name in check.inputs if name != "board"}))


def solid(parts, areas, **more):
    return asked(no_thermal_relief, parts, areas, **more)


def wide(parts, areas, **more):
    return asked(relief_webs_too_wide, parts, areas, **more)


# --- measuring


def measured(area, shape=None):
    [contact] = contacts(board(areas=(pour(area),)), [Place("top", "GND", shape or disc(AT, 1.7))])
    return contact


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0])
@pytest.mark.parametrize("webs", [1, 2, 3, 4])
@pytest.mark.parametrize("width", [0.2, 0.3, 0.5])
def test_webs_are_measured_as_drawn(webs: int, width: float, turn: float) -> None:
    contact = measured(webbed(webs=webs, width=width, turn=turn))
    assert contact.webs == pytest.approx([width] * webs, abs=0.003)
    assert not contact.is_solid
    assert contact.pour == pytest.approx(144, rel=0.05)


def test_all_round_and_not_at_all() -> None:
    around = measured(rectangle(AT, 12, 12))
    assert (around.share, around.is_solid) == (1.0, True)
    assert around.width == pytest.approx(np.pi * (1.7 + 2 * OUTSIDE_MM), rel=1e-3)
    assert measured(webbed(webs=0)).share == 0.0
    assert measured(rectangle((30, 30), 5, 5)).share == 0.0


def test_a_straight_edge_through_the_middle_joins_half() -> None:
    half = measured(shapely.box(10, 0, 20, 20))
    assert half.share == pytest.approx(0.5, abs=0.002)
    assert half.is_solid


def test_shares_equal_those_of_the_pour_as_a_polygon() -> None:
    """Points and rings with cuts against whole polygons with holes, on sixty random pours."""
    dice = random.Random(3)
    for _ in range(60):
        area = rectangle(AT, 9, 9)
        for _ in range(dice.randint(1, 5)):
            spot = (dice.uniform(8, 12), dice.uniform(8, 12))
            area = area.difference(rectangle(spot, dice.uniform(0.3, 2), dice.uniform(0.3, 2), dice.uniform(0, 90)))
        area = max(shapely.get_parts(area), key=lambda piece: piece.area)
        shape = rectangle(AT, dice.uniform(0.6, 2.5), dice.uniform(0.6, 2.5), dice.uniform(0, 90))
        ring = shape.buffer(OUTSIDE_MM, quad_segs=10).exterior
        plain = ring.intersection(area).length / ring.length
        # joins narrower than the distance of two samples may be missed or filled
        assert measured(area, shape).share == pytest.approx(plain, abs=0.03)


def test_what_was_measured_is_kept_and_the_same() -> None:
    made = board(areas=(pour(webbed()),))
    reliefs, place = Reliefs(made), Place("top", "GND", disc(AT, 1.7))
    assert reliefs.of([place, place]) == reliefs.of([place]) * 2
    assert reliefs.of([]) == []
    assert reliefs.of([place._replace(net="VCC")])[0].share == 0.0
    assert reliefs.of([place._replace(layer="bottom")])[0].share == 0.0


# --- no relief


def planes(*layers, area=None, **more):
    return [pour(area or rectangle(AT, 12, 12), layer=name, uid=f"pour-{name}", **more) for name in layers]


def test_one_solid_plane_is_a_note_two_are_a_query() -> None:
    [one] = solid([header()], planes("in1"))
    assert one.consequence is Consequence.NOTE
    assert one.message == "1 lead of J1: joined to GND without thermal relief on in1"
    [two] = solid([header()], planes("in1", "bottom"))
    assert two.consequence is Consequence.QUERY
    assert two.message == "1 lead of J1: joined to GND without thermal relief on up to 2 of in1, bottom"


def test_relieved_small_and_foreign_pours_say_nothing() -> None:
    assert solid([], []) == []
    assert solid([header()], []) == []
    assert solid([header()], planes("in1", "in2", area=webbed())) == []
    assert solid([header()], planes("in1", "in2", net="VCC")) == []
    assert solid([header()], planes("in1", area=rectangle(AT, 9.99, 10))) == []
    assert len(solid([header()], planes("in1", area=rectangle(AT, 10.01, 10)))) == 1


def test_what_is_not_soldered_with_an_iron_or_carries_much_current() -> None:
    both = planes("in1", "in2")
    item = header()
    thick = dataclasses.replace(item.pads[0].hole, size=(1.5, 1.5))
    fit = dataclasses.replace(item.pads[0], role=PadRole.PRESS_FIT)
    assert solid([dataclasses.replace(item, pads=(fit,))], both) == []
    assert solid([dataclasses.replace(item, pads=(dataclasses.replace(item.pads[0], hole=thick),))], both) == []
    for changes in (
        {"fitted": False},
        {"package": "TerminalBlock_1x02_P5.08mm"},
        {"description": "backplane connector, press-fit"},
    ):
        assert solid([dataclasses.replace(item, **changes)], both) == []
    assert solid([hole(at=AT)], both) == []


def test_pours_that_are_not_filled_are_told() -> None:
    empty = dataclasses.replace(planes("in1")[0], rings=(), unfilled=True)
    [answer] = solid([header()], [empty])
    assert isinstance(answer, NotRun)


# --- webs


def test_web_width_of_the_standard() -> None:
    """Land 1.5 mm: two webs of 0.45, three of 0.30, four of 0.225 mm (IPC staff on IPC-D-275, trade list, 1995)."""
    assert [web_width(1.5, webs) for webs in (2, 3, 4)] == pytest.approx([0.45, 0.30, 0.225], abs=0.001)


def test_webs_of_all_layers_by_the_standards_example() -> None:
    """12 planes of 4 webs of 0.1 mm at one ounce: 4.8 mm, above 4.06 mm; two ounces allow 2.03 mm (the same)."""
    assert total_web([(4 * 0.1, 0.035)] * 12) == pytest.approx(4.8)
    assert SHEET.solder.relief_web_max_mm == 4.06
    assert total_web([(2.03, 0.07)]) == pytest.approx(4.06)


@pytest.mark.parametrize(("width", "told"), [(0.50, 0), (0.52, 1)])
def test_the_limit_holds_for_all_layers_together(width: float, told: int) -> None:
    """Two layers of four webs: 4.0 and 4.16 mm against 4.06 mm."""
    findings = wide([header()], planes("in1", "in2", area=webbed(width=width)))
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.NOTE
        assert finding.measured == pytest.approx(4.16, abs=0.02)
        assert "4 webs of 0.255 mm to a layer would suit this land" in finding.message


def test_thick_copper_counts_for_more() -> None:
    stack = Stackup(layers=(StackLayer("in1", "copper", 0.07), StackLayer("in2", "copper", 0.07)))
    areas = planes("in1", "in2", area=webbed(width=0.3))
    assert wide([header()], areas) == []
    [finding] = wide([header()], areas, stackup=stack)
    assert finding.measured == pytest.approx(4.8, abs=0.05)


def test_leads_without_relief_are_told_once() -> None:
    areas = [*planes("in1", area=webbed(width=0.6)), *planes("in2"), *planes("bottom", area=webbed(width=0.6))]
    assert len(solid([header()], areas)) == 1
    assert wide([header()], areas) == []
