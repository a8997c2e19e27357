# SPDX-License-Identifier: MIT
"""Parts that lie the other way round, and parts on the side of the wave."""

from __future__ import annotations

import dataclasses

import pytest

from build import BOTTOM, TOP, board, chip, rectangle, smd_part, through_part
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_turns import polarised_part_turned, unsuited_for_wave
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.packages import Packages

SHEET = built_in()


def turned(rotations, **more):
    parts = [
        through_part(f"D{n}", (10, 5 * n), package="D_DO-35_SOD27_P7.62mm_Horizontal", rotation=rotation, **more)
        for n, rotation in enumerate(rotations)
    ]
    made = board(parts=tuple(parts))
    return list(polarised_part_turned.ask(board=made, packages=Packages(made)))


def waved(*parts, travel: float = 0.0):
    made = board(parts=parts)
    sheet = dataclasses.replace(SHEET, solder=dataclasses.replace(SHEET.solder, wave_travel_deg=travel))
    return list(unsuited_for_wave.ask(board=made, sheet=sheet, packages=Packages(made), joints=Joints(made)))


# --- the other way round


def test_one_that_lies_the_other_way_round() -> None:
    """Six alike and three quarters: common practice, no source."""
    [finding] = turned([90] * 6 + [270])
    assert finding.consequence is Consequence.NOTE
    assert finding.message == (
        "D6 (D_DO-35_SOD27_P7.62mm_Horizontal): the other way round than 6 of the kind on the top"
    )
    assert [place.label for place in finding.places] == ["D6"]


@pytest.mark.parametrize(
    "rotations",
    [[], [0] * 10, [0] * 4 + [180], [0] * 4 + [180] * 2, [0] * 9 + [90], [0] * 3 + [90] * 3 + [180] * 3],
)
def test_habits_that_are_kept_or_are_none(rotations) -> None:
    assert turned(rotations) == []


def test_three_quarters_are_enough() -> None:
    assert len(turned([0] * 6 + [180] * 2)) == 1
    assert turned([0] * 5 + [180] * 2) == []


def test_only_what_people_fit() -> None:
    assert turned([0] * 9 + [180], fitted=False) == []
    leds = [chip(f"D{n}", (10, 5 * n), rotation=180 if n == 9 else 0, package="LED_0603_1608Metric") for n in range(10)]
    made = board(parts=tuple(leds))
    assert list(polarised_part_turned.ask(board=made, packages=Packages(made))) == []
    resistors = [
        through_part(f"R{n}", (10, 5 * n), package="R_Axial_DIN0207_L6.3mm", rotation=180 if n == 9 else 0)
        for n in range(10)
    ]
    made = board(parts=tuple(resistors))
    assert list(polarised_part_turned.ask(board=made, packages=Packages(made))) == []


# --- the wave


def soic(pitch=1.27, side=BOTTOM, **more):
    return smd_part("U1", (10, 10), nets=["a"] * 8, pitch=pitch, side=side, package="SOIC-8", **more)


def resistor(rotation=90.0, **more):
    return chip("R1", (20, 10), side=BOTTOM, rotation=rotation, package="R_0805_2012Metric", **more)


def test_without_a_wave_nothing_is_asked() -> None:
    assert SHEET.solder.wave_travel_deg == -1.0
    assert waved(soic(pitch=0.5), travel=-1.0) == []
    assert waved() == []
    assert waved(soic(), resistor()) == []
    assert waved(soic(pitch=0.5, side=TOP)) == []
    assert waved(soic(pitch=0.5, fitted=False)) == []


@pytest.mark.parametrize(("pitch", "told"), [(0.8, 0), (0.79, 1)])
def test_pitch(pitch: float, told: int) -> None:
    """0.8 mm (trade texts on wave soldering)."""
    findings = waved(soic(pitch=pitch, land=(0.3, 1.5)))
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.QUERY
        assert finding.message == "1 part on the bottom (U1): pitch below 0.80 mm, which bridges"


@pytest.mark.parametrize(("height", "told"), [(2.5, 0), (2.51, 1), (None, 0)])
def test_height(height, told: int) -> None:
    """2.5 mm (trade text on wave soldering)."""
    assert len(waved(dataclasses.replace(soic(), height=height, package="X"))) == told


def test_length() -> None:
    """1.2 mm, so no 0402, whose body is 1.0 mm long (trade text on wave soldering)."""

    def long(length: float):
        return dataclasses.replace(resistor(), body=rectangle((20, 10), 0.5, length), package="R_0402_1005Metric")

    assert waved(long(1.2)) == []
    [finding] = waved(long(1.0))
    assert finding.message == "1 part on the bottom (R1): shorter than 1.20 mm"
    assert (finding.measured, finding.limit) == (1.0, 1.2)


def test_lands_under_the_body() -> None:
    [finding] = waved(dataclasses.replace(soic(pitch=0.5), package="QFN-8_3x3mm"))
    assert finding.message == "1 part on the bottom (U1): lands under the body, which the wave does not reach"


@pytest.mark.parametrize(
    ("travel", "told"), [(0.0, 0), (90.0, 1), (180.0, 0), (29.0, 0), (31.0, 0), (61.0, 1), (59.0, 0)]
)
def test_chips_lie_across(travel: float, told: int) -> None:
    """Both ends meet the wave together (trade mailing list, 2007); 30 degrees askew are common practice."""
    findings = waved(resistor(rotation=90.0), travel=travel)
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.NOTE
        assert finding.message == "1 part on the bottom (R1): one end behind the other on the way over the wave"


@pytest.mark.parametrize(("travel", "told"), [(0.0, 0), (30.0, 0), (31.0, 1), (90.0, 1), (180.0, 0), (150.0, 0)])
def test_rows_lie_along(travel: float, told: int) -> None:
    """Rows of small-outline packages along the travel: common practice, no source."""
    findings = waved(soic(), travel=travel)
    assert len(findings) == told
    for finding in findings:
        assert finding.message == "1 part on the bottom (U1): rows across the way over the wave"
