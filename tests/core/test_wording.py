# SPDX-License-Identifier: MIT
"""Lists and lengths as a person writes them, the same whatever the order of a file."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lineworthy.knowledge.wording import counted, listed, mm, natural


def test_references_sort_by_number() -> None:
    assert sorted(["R10", "R2", "C1", "R2A", "", "U"], key=natural) == ["", "C1", "R2", "R2A", "R10", "U"]


@given(st.lists(st.text(), max_size=8))
def test_any_text_can_be_sorted(names: list[str]) -> None:
    assert listed(names, most=8) == listed(names[::-1], most=8)


def test_long_digit_runs_and_other_scripts_sort() -> None:
    assert natural("R" + "9" * 10_000) != natural("R")
    assert natural("R٣") == natural("R3")
    assert natural("R²") != natural("R2")


def test_lists_are_short_and_in_order() -> None:
    assert listed(["R10", "R2", "R2"]) == "R2, R10"
    assert listed(f"R{n}" for n in range(1, 7)) == "R1, R2, R3, R4, R5, R6"
    assert listed(f"R{n}" for n in range(1, 9)) == "R1, R2, R3, R4, R5 and 3 more"
    assert listed([]) == ""


def test_counts_agree() -> None:
    assert [counted(n, "pad") for n in (0, 1, 2)] == ["0 pads", "1 pad", "2 pads"]
    assert counted(2, "query", "queries") == "2 queries"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.25, "0.25"),
        (0.1 + 0.2, "0.30"),
        (0.125, "0.125"),
        (1, "1.00"),
        (0.2496, "0.25"),
        (-0.05, "-0.05"),
        (-1e-9, "0.00"),
    ],
)
def test_lengths_have_two_decimals_or_three(value: float, text: str) -> None:
    assert mm(value) == text
    assert mm(value + 1e-9) == text
