# SPDX-License-Identifier: MIT
"""A build held against its offers: holds only where the build is stopped by what the offers state."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from lineworthy import Consequence, Finding, NotRun
from lineworthy.beside import Beside
from lineworthy.checks import supply_build
from lineworthy.project import Project
from lineworthy.registry import Check
from lineworthy.review import review
from supply_build import BUILD, TODAY, board_of, listed, offered, resistor, run_of

HOLD, QUERY, NOTE = Consequence.HOLD, Consequence.QUERY, Consequence.NOTE
FRESH = "2026-11-18"
BOARD = board_of(resistor(1), resistor(2, "1k"))
PARTS = listed("R1,1,10k,0402,A-1,any", "R2,1,1k,0402,B-1,any", head="Ref,Qty,Value,Package,MPN,Substitution")


def row(part: str, stock: int = 99999, lead: str = "", state: str = "active", day: str = FRESH, last: str = "") -> str:
    return f"{part},H,{stock},{lead},{state},1,1,1: 0.1,EUR,{day},{last}"


def second(part: str) -> str:
    return row(part, 1).replace(",H,", ",L,")


def ask(check: Check, *rows: str, today: date = TODAY) -> list[Any]:
    given = offered(*rows)
    run = run_of(PARTS, given, layout=BOARD, today=today)
    values = {"board": BOARD, "supply": run, "offers": given}
    return list(check.ask(**{name: values[name] for name in check.inputs}))


def told(answers: list[Any]) -> list[tuple[Consequence, str]]:
    assert all(isinstance(answer, Finding) for answer in answers)
    return [(answer.consequence, answer.message) for answer in answers]


GOOD = (row("A-1"), second("A-1"), row("B-1"), second("B-1"))


@pytest.mark.parametrize("check", supply_build.CHECKS, ids=lambda check: check.id)
def test_parts_in_stock_at_two_sellers_pass(check: Check) -> None:
    assert ask(check, *GOOD) == []


@pytest.mark.parametrize("check", supply_build.CHECKS, ids=lambda check: check.id)
def test_without_offers_or_build_the_question_is_not_run(check: Check) -> None:
    values = {"board": BOARD, "supply": None, "offers": None}
    (answer,) = check.ask(**{name: values[name] for name in check.inputs})
    assert isinstance(answer, NotRun)
    assert "--offers" in answer.how


@pytest.mark.parametrize("lacking", ["offers", "build_quantity", "build_date", "today"])
def test_the_review_makes_the_run_when_it_has_everything(lacking: str) -> None:
    entries = {"build_quantity": 100, "build_date": BUILD}
    given = {"offers": offered(row("A-1", 5), row("B-1")), "today": TODAY}
    whole = Beside(project=Project(**entries), parts=PARTS, **given)
    found = review(BOARD, beside=whole, only=["supply/part-short"], strict=True)
    assert [finding.consequence for finding in found.findings] == [HOLD]
    entries.pop(lacking, None)
    given.pop(lacking, None)
    part = review(BOARD, beside=Beside(project=Project(**entries), parts=PARTS, **given), only=["supply/part-short"])
    assert (part.findings, len(part.not_run)) == ((), 1)


def test_a_stock_that_covers_the_boards_but_not_the_spares_is_a_query() -> None:
    """100 boards x 1 x 0402 need 110 with spares (common practice, no source), which alone never hold a job."""
    for stock, consequence in ((109, QUERY), (100, QUERY), (99, HOLD)):
        ((found, message),) = told(ask(supply_build.part_short, row("A-1", stock), *GOOD[2:]))
        assert found is consequence
        assert message.startswith(f"R1 (A-1): {110 - stock} of 110 pieces missing")
    assert told(ask(supply_build.part_short, row("A-1", 110), *GOOD[2:])) == []


def test_a_part_that_comes_after_the_build_is_a_hold_and_one_that_eats_the_days_before_it_is_not() -> None:
    """127 days from today to the build; 14 of them are goods-in, kitting and reserve (common practice, no source)."""
    assert (BUILD - TODAY).days == 127
    for lead, consequence in ((113, None), (114, NOTE), (120, NOTE), (121, QUERY), (127, QUERY), (128, HOLD)):
        answers = told(ask(supply_build.part_late, row("A-1", 0, f"{lead} days"), *GOOD[2:]))
        assert [found for found, _ in answers] == ([consequence] if consequence else []), lead


def test_parts_nobody_was_asked_about() -> None:
    ((found, message),) = told(ask(supply_build.part_not_offered, *GOOD[2:]))
    assert (found, message) == (QUERY, "1 part of 2 not in the offers: R1 (A-1)")


def test_old_data() -> None:
    """30 days are believed, 31 are not (common practice, no source)."""
    assert ask(supply_build.offer_outdated, row("A-1", day="2026-10-26"), *GOOD[2:]) == []
    ((found, message),) = told(ask(supply_build.offer_outdated, row("A-1", day="2026-10-25"), *GOOD[2:]))
    assert found is QUERY
    assert message.endswith("older than 30 days: R1 (A-1)")


def test_life_cycles() -> None:
    answers = told(ask(supply_build.life_cycle_ending, row("A-1", state="obsolete"), row("B-1", state="NRND")))
    assert answers == [
        (QUERY, "R1 (A-1): discontinued"),
        (NOTE, "1 part not recommended for new designs: R2 (B-1)"),
    ]
    last = told(ask(supply_build.life_cycle_ending, row("A-1", last="2027-03-31"), *GOOD[2:]))
    assert last == [(QUERY, "R1 (A-1): last-time buy, last order 2027-03-31")]


def test_one_seller() -> None:
    assert told(ask(supply_build.single_source, row("A-1"), *GOOD[2:])) == [
        (NOTE, "1 of 2 parts has one seller: R1 (A-1)")
    ]


def test_long_lead_times() -> None:
    early = date(2026, 11, 20)
    for lead, count in (("112 days", 0), ("113 days", 1)):
        answers = ask(supply_build.lead_time_long, row("A-1", 0, lead), *GOOD[2:], today=early)
        assert len(answers) == count
        assert all(answer.consequence is NOTE for answer in answers)


def test_cells_of_the_offers_that_cannot_be_read() -> None:
    ((found, message),) = told(ask(supply_build.offers_unreadable, row("A-1", state="zombie"), *GOOD[2:]))
    assert found is QUERY
    assert message.startswith("1 place in offers.csv cannot be read: line 2: life_cycle 'zombie'")


def test_a_finding_is_the_same_next_week() -> None:
    """So that a concession holds: the day's numbers are not part of it."""
    rows = (row("A-1", 0, "200 days", day="2026-11-24"), *GOOD[2:])
    (first,) = ask(supply_build.part_late, *rows)
    (later,) = ask(supply_build.part_late, *rows, today=date(2026, 12, 1))
    assert first.message != later.message
    assert first.fingerprint == later.fingerprint
