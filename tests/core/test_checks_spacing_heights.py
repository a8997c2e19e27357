# SPDX-License-Identifier: MIT
"""Tall beside low: what a camera sees, what the oven heats; and the ways to joints both rest on."""

from __future__ import annotations

import dataclasses
from typing import Optional

import numpy as np
import pytest
import shapely
from shapely import affinity

from asking import ask as answers
from asking import only
from build import BOTTOM, TOP, board, chip, rectangle, smd_part, through_part
from lineworthy.checks.spacing_heights import chip_in_heat_shadow, joint_hidden
from lineworthy.finding import Consequence, Finding, NotRun
from lineworthy.inputs import Inputs
from lineworthy.knowledge.approach import joints, shadow, ways
from lineworthy.model import Part, Side
from lineworthy.registry import Check
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
NOTE = Consequence.NOTE


def ask(check: Check, *parts: Part) -> list[Finding]:
    return [a for a in answers(check, board(60, 40, parts=parts)) if isinstance(a, Finding)]


def not_run(check: Check, *parts: Part) -> list[NotRun]:
    return [a for a in answers(check, board(60, 40, parts=parts)) if isinstance(a, NotRun)]


# --- the shadow of a tall part: plain geometry, rule of angled cameras


@pytest.mark.parametrize(
    ("height", "joint", "tilt", "expected"),
    [
        (5.0, 0.5, 45.0, 4.5),  # 45 degrees: the height above the joint
        (10.0, 0.0, 45.0, 10.0),  # spacing as much as the height: the common rule for shadows
        (10.0, 0.0, 25.0, 4.66),  # 25 degrees: 0.47 of the height
        (0.4, 0.5, 45.0, 0.0),
    ],
)
def test_shadow(height: float, joint: float, tilt: float, expected: float) -> None:
    assert shadow(height, joint, tilt) == pytest.approx(expected, abs=0.01)


def tall(reference: str, at, height: Optional[float], wide: float = 8.0, side: Side = TOP, package="Choke") -> Part:
    """A wound coil with two lands under its body."""
    item = smd_part(reference, at, nets=("", ""), pitch=wide / 2, span=2.0, land=(2, 1.5), side=side, package=package)
    return dataclasses.replace(item, body=rectangle(at, wide, wide), height=height)


def beside(gap: float, height: Optional[float] = 5.0, rotation: float = 0.0, side: Side = TOP) -> tuple[Part, Part]:
    """A coil of 8 x 8 mm; the outer end of a chip's right land `gap` left of its body. Turned, its long side."""
    return tall("L1", (30, 20), height, side=side), chip("C1", (30 - 4 - gap - 1.2, 20), rotation=rotation, side=side)


# --- hidden joints: 5 mm tall needs 4.5 mm


@pytest.mark.parametrize(("gap", "found"), [(1.0, True), (4.499, True), (4.5, False), (6.0, False)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_joint_behind_a_tall_part(gap: float, found: bool, side: Side) -> None:
    findings = ask(joint_hidden, *beside(gap, side=side))
    assert bool(findings) is found
    assert all(f.consequence is NOTE and f.places[0].side is side for f in findings)


def test_what_a_finding_says() -> None:
    finding = only(ask(joint_hidden, *beside(1.5)))
    assert finding.message == (
        "L1 hides joints of C1 from a camera tilted 45 degrees: C1 is 1.50 mm from L1, 5.00 mm high"
        " (stated on the board); 4.50 mm needed"
    )
    assert (finding.measured, finding.limit) == (pytest.approx(1.5), pytest.approx(4.5))
    assert finding.places[0].at == pytest.approx((24.5, 20))


def test_only_the_view_straight_out_from_the_body_counts() -> None:
    assert ask(joint_hidden, *beside(1.5, rotation=90)) == []  # both ends look along the tall part
    assert ask(joint_hidden, *beside(1.5, rotation=180)) != []


def test_low_parts_hide_nothing() -> None:
    assert ask(joint_hidden, *beside(0.5, height=3.49)) == []
    assert ask(joint_hidden, *beside(0.5, height=3.5)) != []


def test_parts_that_come_later_hide_nothing() -> None:
    _, low = beside(1.5)
    leaded = dataclasses.replace(
        through_part("J1", (30, 20), package="mystery"), body=rectangle((30, 20), 8, 8), height=9.0
    )
    assert ask(joint_hidden, leaded, low) == []


def test_other_side_and_alone() -> None:
    coil, low = beside(1.5)
    assert ask(joint_hidden, coil, chip("C1", low.at, side=BOTTOM)) == []
    assert ask(joint_hidden, coil) == []
    assert ask(joint_hidden) == []


def test_joints_under_a_body_are_left_out() -> None:
    flat = smd_part("U1", (23, 20), nets=("",) * 8, span=3.0, land=(0.3, 0.6), pitch=0.5, package="QFN-8", rotation=0)
    assert ask(joint_hidden, tall("L1", (30, 20), 5.0), flat) == []


def test_an_unknown_height_is_not_passed_over_in_silence() -> None:
    coil, low = beside(1.5, height=None)
    assert ask(joint_hidden, coil, low) == []
    (missing,) = not_run(joint_hidden, coil, low)
    assert "L1" in missing.missing
    assert "Height" in missing.how
    assert not_run(joint_hidden, *beside(3.0, height=None)) == []
    assert not_run(joint_hidden, *beside(1.5, height=5.0)) == []


def test_many_are_counted_worst_first() -> None:
    parts = [*beside(3.0)]
    for n in range(7):
        coil, low = beside(1.0 + 0.1 * n)
        offset = moved(0, 12.0 * (n + 1))
        there = transform(board(parts=(coil, low)), offset).parts
        parts += [dataclasses.replace(p, uid=f"{p.uid}{n}", reference=f"{p.reference}{n}") for p in there]
    finding = only(ask(joint_hidden, *parts))
    assert finding.message.startswith(
        "8 parts hide joints of 8 parts from a camera tilted 45 degrees: C10 is 1.00 mm from L10, "
    )


def test_motion_changes_places_only() -> None:
    subject = board(60, 40, parts=(*beside(1.5), chip("C2", (36.4, 25.1), rotation=30)))
    before = answers(joint_hidden, subject)
    assert before
    for motion in (moved(3.3, 4.4), quarter_turns(1), quarter_turns(2), mirrored()):
        after = answers(joint_hidden, transform(subject, motion))
        assert [(f.message, f.fingerprint) for f in after] == [(f.message, f.fingerprint) for f in before]


# --- heat shadow: 3 mm beside parts above 10 mm


@pytest.mark.parametrize(
    ("gap", "height", "found"),
    [
        (1.0, 12.0, True),
        (2.999, 12.0, True),
        (3.0, 12.0, False),
        (1.0, 10.0, False),
        (1.0, 10.1, True),
        (1, None, False),
    ],
)
def test_chips_beside_a_very_tall_part(gap: float, height: Optional[float], found: bool) -> None:
    findings = ask(chip_in_heat_shadow, *beside(gap, height))
    assert bool(findings) is found
    assert all(f.consequence is NOTE and f.limit_key == "spacing.reflow_shadow_min_mm" for f in findings)


def test_leaded_parts_are_not_in_the_oven() -> None:
    radial = dataclasses.replace(through_part("C9", (30, 20), package="CP_Radial_D8.0mm"), height=15.0)
    assert ask(chip_in_heat_shadow, radial, chip("C1", (30, 23))) == []


def test_a_tall_chip_is_not_in_its_own_shadow() -> None:
    high = dataclasses.replace(chip("C1", (30, 20)), height=12.0)
    assert ask(chip_in_heat_shadow, high) == []
    finding = only(ask(chip_in_heat_shadow, high, chip("C2", (30, 22))))
    assert finding.message.startswith("C2 beside C1: C2 is ")


def test_what_a_heat_finding_says() -> None:
    finding = only(ask(chip_in_heat_shadow, *beside(1.0, 12.0)))
    assert finding.message == (
        "C1 beside L1: C1 is 1.00 mm from L1, 12.00 mm high; 3.00 mm needed beside parts above 10.00 mm"
    )


# --- ways agree with a search without an index, on 200 random boards


def random_parts(rng: np.random.Generator) -> list[Part]:
    parts = []
    for n in range(12):
        at = tuple(rng.uniform(4, 26, 2))
        if rng.random() < 0.4:
            parts.append(tall(f"L{n}", at, float(rng.uniform(3, 9)), wide=float(rng.uniform(2, 5))))
        else:
            parts.append(chip(f"C{n}", at, rotation=float(rng.choice([0, 30, 90, 135, 270]))))
    return parts


def test_ways_agree_with_brute_force_on_random_boards() -> None:
    rng = np.random.default_rng(20260301)
    seen = blocked = 0
    for _ in range(200):
        subject = board(30, 30, parts=random_parts(rng))
        bodies = Inputs(subject, SHEET).bodies.on(TOP)
        high = [body for body in bodies if body.height is not None and body.height > 2.5]
        some = list(joints(subject, bodies))
        reach = np.array([body.height - 0.5 for body in high])
        width = np.array([joint.width for joint in some])
        angles = (0.0, 45.0, -90.0)
        found = ways(some, high, reach, width, angles)
        for j, joint in enumerate(some):
            for a, angle in enumerate(angles):
                expected = False
                for body, far in zip(high, reach):
                    box = shapely.box(0, -joint.width / 2, far, joint.width / 2)
                    strip = affinity.translate(affinity.rotate(box, joint.outward + angle, origin=(0, 0)), *joint.at)
                    if body.part is not joint.body.part and strip.intersection(body.facts.body).area > 0.002:
                        expected = True
                    elif body.part is not joint.body.part and strip.distance(body.facts.body) < 0.002:
                        expected = bool(found.blocked[j, a])  # touching: either answer is right
                        break
                seen += 1
                blocked += expected
                assert bool(found.blocked[j, a]) == expected
    assert seen > 5000
    assert blocked > 500
