# SPDX-License-Identifier: MIT
"""Parts that hang down in the oven: how heavy, on how much solder."""

from __future__ import annotations

import dataclasses

import pytest

from build import BOTTOM, TOP, board, chip, pad, part, rectangle, smd_part, through_pad
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_mass import heavy_on_both_sides
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.masses import INCH2_MM2, held_by_outline, load, mass_of
from lineworthy.knowledge.packages import Packages

SHEET = built_in()


def asked(*parts):
    made = board(parts=parts)
    return list(heavy_on_both_sides.ask(board=made, sheet=SHEET, joints=Joints(made), packages=Packages(made)))


# --- the rules


def test_thirty_grams_to_the_square_inch() -> None:
    """30 g/in2 are 46.5 mg/mm2; 30 g want one square inch, a gram 21.5 mm2 (trade mailing lists, 1998 and 2002)."""
    assert load(46.5e-3, 1.0) == pytest.approx(30.0, abs=0.1)
    assert load(30.0, INCH2_MM2) == pytest.approx(30.0)
    assert load(1.0, 21.505) == pytest.approx(30.0, abs=0.01)
    assert SHEET.solder.second_side_per_inch2_max_g == 30.0


@pytest.mark.parametrize(
    ("grams", "lands", "land", "expected"), [(2.0, 44, (0.6, 1.5), 32.6), (0.7, 100, (0.3, 1.5), 10.0)]
)
def test_worked_examples(grams, lands, land, expected) -> None:
    """2.0 g on 44 lands of 0.6 x 1.5 mm fail, 0.7 g on 100 lands of 0.3 x 1.5 mm pass (the rule of 2002, computed)."""
    assert load(grams, lands * land[0] * land[1]) == pytest.approx(expected, abs=0.1)


def test_by_circumference() -> None:
    """44 joints of 4.2 mm hold 739 mg at 4 mg/mm, not 2.0 g (support article of a machine maker, computed)."""
    assert held_by_outline([4.2] * 44) == pytest.approx(0.739, abs=0.001)
    assert held_by_outline([]) == 0.0


# --- masses


def box(package: str, body: tuple[float, float], height: float, **more):
    pins = [pad(str(n), (10 + n, 10), 0.5) for n in range(8)]
    reference = more.pop("reference", "U1")
    return part(reference, (10, 10), pins, package=package, body=rectangle((10, 10), *body), height=height, **more)


@pytest.mark.parametrize(
    ("item", "grams"),
    [
        (box("SOIC-8_3.9x4.9mm_P1.27mm", (3.9, 4.9), 1.75), 0.073),
        (box("LQFP-100_14x14mm_P0.5mm", (14, 14), 1.4), 0.66),
        (box("SOT-23", (1.3, 2.9), 1.12), 0.0085),
        (box("TO-252-2", (6.6, 6.1), 2.39), 0.32),
        (box("D_SMA", (4.3, 2.6), 2.29), 0.064),
        (chip("R1", (10, 10), height=0.45), 0.002),
        (chip("C1", (10, 10), package="C_0603_1608Metric", height=0.8), 0.006),
    ],
)
def test_estimates_are_within_a_third_of_typical_masses(item, grams) -> None:
    """Typical masses out of makers' data sheets, from memory."""
    made = board(parts=(item,))
    mass = mass_of(item, Packages(made).of(item))
    assert not mass.stated
    assert mass.height_known
    assert mass.grams == pytest.approx(grams, rel=0.34)


@pytest.mark.parametrize(
    ("name", "text", "grams"),
    [
        ("Mass", "2.5 g", 2.5),
        ("weight", "350mg", 0.35),
        ("Mass (mg)", "12", 0.012),
        ("Gewicht", "1,5 g", 1.5),
        ("Mass", "12", None),
        ("Mass", "heavy", None),
        ("Massimo", "3 g", None),
    ],
)
def test_a_stated_mass_wins_where_its_unit_is_clear(name, text, grams) -> None:
    item = box("SOIC-8_3.9x4.9mm_P1.27mm", (3.9, 4.9), 1.75, fields={name: text})
    mass = mass_of(item, Packages(board(parts=(item,))).of(item))
    assert mass.stated is (grams is not None)
    if grams is not None:
        assert mass.grams == grams


def test_unknown_heights_are_guessed_low_and_unknown_bodies_not_at_all() -> None:
    flat = dataclasses.replace(box("PQFP-48_12x12mm_P0.8mm", (12, 12), 1.0), height=None)
    mass = mass_of(flat, Packages(board(parts=(flat,))).of(flat))
    assert not mass.height_known
    assert mass.grams == pytest.approx(12 * 12 * 3.0 * 2.1 / 1000)
    bare = dataclasses.replace(flat, body=None)
    assert mass_of(bare, Packages(board(parts=(bare,))).of(bare)) is None


# --- the check


def coil(reference: str, at, grams: str = "", side=TOP, **more):
    """A coil of 10 x 10 x 6 mm on two lands of 3 x 4 mm: 2.7 g estimated on 24 mm2, 73 g/in2."""
    pins = [pad(str(n), (at[0] + dx, at[1]), (3, 4), side=side) for n, dx in ((1, -4), (2, 4))]
    more.setdefault("height", 6.0)
    fields = {"Mass": grams} if grams else {}
    return part(
        reference, at, pads=pins, side=side, package="L_10x10", body=rectangle(at, 10, 10), fields=fields, **more
    )


def test_heavy_parts_on_both_sides_are_a_query() -> None:
    [finding] = asked(coil("L1", (10, 10)), coil("L2", (30, 10), side=BOTTOM))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "Whichever side is soldered first hangs with parts too heavy for their joints: on the top L1 about 2.7 g,"
        " 73 g/in2; on the bottom L2 about 2.7 g, 73 g/in2; 30 g/in2 hold"
    )
    assert [place.side for place in finding.places] == [TOP, BOTTOM]


def test_one_side_with_heavy_parts_is_soldered_last() -> None:
    assert asked() == []
    assert asked(coil("L1", (10, 10)), coil("L2", (30, 10))) == []
    assert asked(coil("L1", (10, 10)), chip("R1", (30, 10), side=BOTTOM)) == []


@pytest.mark.parametrize(("grams", "told"), [(1.116, 0), (1.117, 1)])
def test_on_the_limit_passes(grams: float, told: int) -> None:
    """24 mm2 hold 24 / 645.16 x 30 = 1.1160 g."""
    assert len(asked(coil("L1", (10, 10), f"{grams} g"), coil("L2", (30, 10), "5 g", BOTTOM))) == told


def test_doubt_makes_it_a_note() -> None:
    sure = coil("L1", (10, 10), "5 g")
    assert [f.consequence for f in asked(sure, coil("L2", (30, 10), "1.2 g", BOTTOM))] == [Consequence.QUERY]
    unknown = coil("L2", (30, 10), side=BOTTOM, height=None)
    assert [f.consequence for f in asked(sure, unknown)] == [Consequence.NOTE]
    near = coil("L2", (30, 10), side=BOTTOM, height=3.0)
    assert [f.consequence for f in asked(sure, near)] == [Consequence.NOTE]


def test_parts_that_hold_on_otherwise_are_left_out() -> None:
    top, bottom = coil("L1", (10, 10)), coil("L2", (30, 10), side=BOTTOM)
    leads = [through_pad(str(n), (30, 6 + 3 * n)) for n in (5, 6, 7)]
    assert asked(top, dataclasses.replace(bottom, pads=(*bottom.pads, *leads))) == []
    assert asked(top, dataclasses.replace(bottom, pads=(*bottom.pads, pad("3", (30, 10), 1.0, side=TOP)))) == []
    assert asked(top, dataclasses.replace(bottom, fitted=False)) == []
    assert asked(top, smd_part("U1", (30, 10), nets=["a"] * 8, side=BOTTOM)) == []
