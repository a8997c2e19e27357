# SPDX-License-Identifier: MIT
"""The estimate of first-pass yield against worked examples, and what it counts on a board."""

from __future__ import annotations

import math

import pytest

import build
from lineworthy.knowledge.packages import Packages
from lineworthy.limits import YieldLimits
from lineworthy.plans.first_pass import FirstPass, Step, estimate, first_pass
from lineworthy.sheet import built_in


def test_worked_example_of_a_trade_text_on_first_pass_yield() -> None:
    # 400 parts and 1600 joints at 100 in a million: 81.87 % ("Understanding First Pass Yield", a trade article)
    assert 100 * first_pass(400 + 1600, 100) == pytest.approx(81.87, abs=0.005)


@pytest.mark.parametrize(("parts", "percent"), [(100, 90), (500, 59), (1000, 35)])
def test_table_of_a_textbook(parts: int, percent: int) -> None:
    # 1e-4 per joint, 2.5 joints a part, 5e-4 assembly and 3e-4 component defects per part
    # ("Six Sigma for Electronics Design and Manufacturing", p. 111)
    steps = (Step("joints", round(2.5 * parts), 100), Step("assembly", parts, 500), Step("components", parts, 300))
    assert 100 * FirstPass(steps).share_good == pytest.approx(percent, abs=0.6)


def test_the_same_table_by_step() -> None:
    # 500 parts: 0.882 x 0.779 x 0.861 = 0.59 (the same book, p. 111)
    shares = [first_pass(1250, 100), first_pass(500, 500), first_pass(500, 300)]
    assert shares == pytest.approx([0.882, 0.779, 0.861], abs=0.001)
    assert math.prod(shares) == pytest.approx(0.59, abs=0.005)


def test_what_a_board_counts() -> None:
    board = build.board(
        parts=(
            build.chip("R1", (10, 10)),
            build.chip("R2", (20, 10), fitted=False),
            build.part("J1", (30, 10), [build.through_pad("1", (30, 10)), build.through_pad("2", (33, 10))]),
            build.part("U1", (40, 10), [build.pad("1", (40, 10)), build.pad("1", (41, 10)), build.pad("", (42, 10))]),
            build.fiducial("FID1", (3, 3), board_only=True),
        )
    )
    made = estimate(board, Packages(board), YieldLimits(100, 50, 40, 1000))
    assert [step.opportunities for step in made.steps][:1] == [3]
    assert [step.opportunities for step in made.steps][2:] == [3, 2]
    assert made.share_good == pytest.approx(math.prod(step.share_good for step in made.steps))
    assert made.share_good < 1


def test_an_empty_board_is_perfect_and_a_hopeless_line_makes_none() -> None:
    board = build.board()
    assert estimate(board, Packages(board), built_in().line_yield).share_good == 1.0
    assert first_pass(1, 1_000_000) == 0.0
    assert first_pass(0, 1_000_000) == 1.0


def test_default_rates_say_that_they_are_placeholders() -> None:
    entries = [entry for entry in built_in().entries() if entry.key.startswith("line-yield.")]
    assert len(entries) == 4
    assert all("placeholder" in entry.source for entry in entries)
