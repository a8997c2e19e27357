# SPDX-License-Identifier: MIT
"""Heat lands: the share of them that is printed."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import affinity

from asking import ask
from build import BOTTOM, TOP, board, chip, pad, part, pour, rectangle, through_pad, via
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_heat import heat_land_badly_printed, heat_land_without_hole
from lineworthy.knowledge.joints import Joints
from lineworthy.model import PadRole

AT = (10.0, 10.0)


def asked(*parts, **more):
    made = board(parts=parts, **more)
    return list(heat_land_badly_printed.ask(board=made, sheet=built_in(), joints=Joints(made)))


def quad(paste, *, side=TOP, size=3.0, body=6.0, turn=0.0, **more):
    """Eight pins round a heat land with some print."""
    pins = [pad(str(n), (8.2 + 1.2 * (n % 4), 12.6 if n < 4 else 7.4), (0.3, 0.8), side=side) for n in range(8)]
    hot = pad("9", AT, (size, size), side=side, net="GND", mask_margin=0.0)
    hot = dataclasses.replace(hot, paste={side: affinity.rotate(paste, turn, origin=AT)} if paste is not None else {})
    shape = None if body is None else rectangle(AT, body, body)
    return part("U1", AT, [*pins, hot], side=side, package="QFN-8-1EP", body=shape, **more)


def print_of(share: float, size=3.0):
    return rectangle(AT, size * share**0.5, size * share**0.5)


@pytest.mark.parametrize(
    ("share", "told"), [(0.496, 0), (0.50, 0), (0.65, 0), (0.80, 0), (0.804, 0), (0.81, 1), (0.49, 1)]
)
def test_half_to_four_fifths_is_usual(share: float, told: int) -> None:
    """50 to 80 % in windows: common practice, no source; half a percent is rounding."""
    findings = asked(quad(print_of(share)))
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.NOTE
        assert finding.measured == pytest.approx(100 * share)


def test_windows_add_up() -> None:
    """Nine windows of 0.8 mm on 3 x 3 mm are 64 %, four of 1.45 mm are 93 %."""
    nine = shapely.MultiPolygon([rectangle((9 + x, 9 + y), 0.8, 0.8) for x in range(3) for y in range(3)])
    four = shapely.MultiPolygon([rectangle((10 + x, 10 + y), 1.45, 1.45) for x in (-0.75, 0.75) for y in (-0.75, 0.75)])
    assert asked(quad(nine)) == []
    [finding] = asked(quad(four))
    assert "up to 93 % printed (U1: 9.0 mm2, 4 windows, no hole); 80 % at most" in finding.message


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_holes_are_counted_on_both_sides(side) -> None:
    item = quad(print_of(1.0), side=side)
    drawn = through_pad("9", (10.5, 10.5), 0.6, 0.3, net="GND")
    [finding] = asked(
        dataclasses.replace(item, pads=(*item.pads, drawn)), vias=(via((9.5, 9.5), net="GND"), via((20, 20)))
    )
    assert "1 window, 2 holes" in finding.message
    assert finding.places[0].side is side


def test_turned_prints_are_the_same() -> None:
    assert [round(asked(quad(print_of(0.45), turn=turn))[0].measured, 3) for turn in (0, 30, 90)] == [45.0] * 3


def test_what_is_not_judged() -> None:
    full = print_of(1.0)
    assert asked() == []
    assert asked(chip("R1", AT)) == []
    assert asked(quad(None)) == []
    assert asked(quad(full, fitted=False)) == []
    assert asked(quad(full, body=None)) == []
    assert asked(quad(full, body=2.9)) == []
    assert asked(quad(print_of(1.0, 1.99), size=1.99)) == []
    assert len(asked(quad(print_of(1.0, 2.0), size=2.0))) == 1


def test_full_and_sparse_lands_are_two_findings() -> None:
    parts = [
        dataclasses.replace(quad(print_of(share)), reference=f"U{n}", uid=f"U{n}")
        for n, share in enumerate((1.0, 0.9, 0.3))
    ]
    apart = [board(parts=(item,)) for item in parts]
    assert [len(asked(made.parts[0])) for made in apart] == [1, 1, 1]
    moved = [
        dataclasses.replace(
            item, pads=tuple(_shifted(p, 20 * n) for p in item.pads), body=affinity.translate(item.body, 20 * n)
        )
        for n, item in enumerate(parts)
    ]
    full, sparse = asked(*moved)
    assert full.message.startswith("2 heat lands of U0, U1: up to 100 % printed")
    assert sparse.message.startswith("1 heat land of U2: down to 30 % printed")


def _shifted(land, by):
    def move(shapes):
        return {key: affinity.translate(shape, by) for key, shape in shapes.items()}

    return dataclasses.replace(
        land, at=(land.at[0] + by, land.at[1]), copper=move(land.copper), mask=move(land.mask), paste=move(land.paste)
    )


# --- a way for the heat

WIDE = shapely.box(2, 2, 18, 18)


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_land_over_a_pour_of_its_net_wants_a_hole(side) -> None:
    below = pour(WIDE.difference(rectangle((16, 16), 1, 1)), layer="bottom" if side is TOP else "top")
    item = quad(print_of(0.6), side=side)
    [finding] = ask(heat_land_without_hole, board(parts=(item,), areas=(below,)))
    assert finding.consequence is Consequence.NOTE
    assert finding.message == (
        f"1 heat land of U1: no hole leads to the pour below (U1: 9.0 mm2 over GND on {below.layer})"
    )
    assert finding.places[0].at == AT
    drawn = through_pad("9", (10.5, 10.5), 0.6, 0.3, net="GND")
    for held in (
        {"vias": (via((9.5, 9.5), net="GND"),)},
        {"parts": (dataclasses.replace(item, pads=(*item.pads, drawn)),)},
        {"parts": (item, part("STITCH1", (10.5, 10.5), [drawn]))},
    ):
        assert ask(heat_land_without_hole, board(**{"parts": (item,), "areas": (below,), **held})) == []


@pytest.mark.parametrize(
    "areas",
    [
        (),
        (pour(WIDE, layer="top"),),
        (pour(WIDE, layer="bottom", net="VCC"),),
        (pour(WIDE.difference(rectangle(AT, 4, 4)), layer="bottom"),),
        (pour(shapely.box(12, 2, 18, 18), layer="bottom"),),
    ],
    ids=["none", "own side", "another net", "cut out", "beside"],
)
def test_without_a_pour_below_no_hole_helps(areas) -> None:
    assert ask(heat_land_without_hole, board(parts=(quad(print_of(0.6)),), areas=areas)) == []


def test_the_largest_land_of_a_part_counts() -> None:
    item = quad(print_of(0.6))
    lesser = pad("10", (12.0, 10.0), (0.9, 2.4), net="GND")
    lesser = dataclasses.replace(lesser, role=PadRole.THERMAL)
    both = dataclasses.replace(item, pads=(*item.pads, lesser))
    below = pour(WIDE, layer="bottom")
    assert len(ask(heat_land_without_hole, board(parts=(both,), areas=(below,)))) == 1
    assert ask(heat_land_without_hole, board(parts=(both,), areas=(below,), vias=(via((9.5, 9.5), net="GND"),))) == []
