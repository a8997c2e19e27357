# SPDX-License-Identifier: MIT
"""Concessions in a review: what they take out of the count, and what is found about those that accept nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Optional

import pytest

from build import board, chip
from lineworthy import Board, Consequence, Review, review
from lineworthy.beside import Beside
from lineworthy.checks import release_concessions
from lineworthy.concessions import Concession
from lineworthy.model import TitleBlock
from lineworthy.registry import Answers, check
from lineworthy.review import reconsider

DAY = date(2026, 3, 14)
BOARD = board(parts=(chip("R1"), chip("R2", (10, 0))), title=TitleBlock(revision="A"))


@check("spacing/each-part")
def each_part(board) -> Answers:
    for part in board.parts:
        yield each_part.finding(Consequence.HOLD, f"{part.reference} is there", items=[part])


@check("supply/partly")
def partly(board) -> Answers:
    yield partly.not_run("the list", "give it")


@check("panel/broken")
def broken(board) -> Answers:
    raise ZeroDivisionError
    yield


CHECKS = (*release_concessions.CHECKS, each_part, partly, broken)
PRINTS = [f.fingerprint for f in review(BOARD, checks=(each_part,)).findings]


def given(
    number: int = 0, *, revision: Optional[str] = "A", expires: Optional[date] = None, check: str = "spacing/each-part"
) -> Concession:
    return Concession(check, PRINTS[number], "seen", "R. Novak", DAY, revision, expires)


def asked(*kept: Concession, today: Optional[date] = DAY, made: Board = BOARD, **more: object) -> Review:
    return review(made, beside=Beside(concessions=kept, today=today), checks=CHECKS, **more)  # type: ignore[arg-type]


def said(result: Review) -> list[str]:
    return [f.message for f in result.findings if f.area == "release"]


def test_without_concessions_nothing_is_said() -> None:
    result = asked()
    assert said(result) == []
    assert result.conceded == ()
    assert not [item for item in result.not_run if item.check.startswith("release/")]


def test_a_conceded_finding_counts_nowhere_and_is_kept_with_its_concession() -> None:
    result = review(BOARD, beside=Beside(concessions=(given(),), today=DAY), checks=(each_part,))
    assert [f.message for f in result.findings] == ["R2 is there"]
    assert [(f.message, c) for f, c in result.conceded] == [("R1 is there", given())]
    assert [(f.message, c is None) for f, c in result.every] == [("R1 is there", False), ("R2 is there", True)]
    assert result.count(Consequence.HOLD) == 1
    assert result.verdict == "On hold: 1 finding would stop the job, 0 more queries; 1 conceded."
    all_of_them = review(BOARD, beside=Beside(concessions=(given(), given(1)), today=DAY), checks=(each_part,))
    assert all_of_them.verdict == "Lineworthy: nothing found; 2 conceded."


def test_one_that_accepts_nothing_is_a_note() -> None:
    moved = replace(BOARD, parts=BOARD.parts[1:])
    result = asked(given(), given(1), made=moved)
    assert said(result) == ["1 concession accepts nothing found: spacing/each-part (R. Novak, 2026-03-14)"]
    (note,) = (f for f in result.findings if f.area == "release")
    assert note.consequence is Consequence.NOTE
    assert [c for _, c in result.conceded] == [given(1)]


def test_one_for_a_check_that_never_was_is_unused() -> None:
    assert said(asked(given(check="spacing/each-prat"))) == [
        "1 concession accepts nothing found: spacing/each-prat (R. Novak, 2026-03-14)"
    ]


def test_nothing_is_said_where_the_check_was_not_asked_or_did_not_run() -> None:
    kept = (given(check="supply/partly"), given(check="panel/broken"))
    assert said(asked(*kept)) == []
    assert said(asked(given(), only=["release", "supply"])) == []
    assert said(asked(given(), skip=["spacing"])) == []


def test_one_of_another_revision_lets_the_finding_count_again() -> None:
    result = asked(given(revision="B"), given(1, revision=""))
    assert [f.message for f in result.findings if f.area == "spacing"] == ["R1 is there", "R2 is there"]
    assert said(result) == [
        "1 concession was given for a board without revision and holds no longer: "
        "spacing/each-part (R. Novak, 2026-03-14)",
        "1 concession was given for revision B and holds no longer: spacing/each-part (R. Novak, 2026-03-14)",
    ]
    grouped = asked(given(revision="B"), given(1, revision="B"))
    assert said(grouped)[0].startswith("2 concessions were given for revision B and hold no longer: ")
    assert len(said(grouped)) == 1


def test_one_for_something_less_grave_lets_the_finding_count_again() -> None:
    result = asked(replace(given(), consequence=Consequence.QUERY), replace(given(1), consequence=Consequence.HOLD))
    assert [f.message for f, _ in result.conceded] == ["R2 is there"]
    assert said(result) == ["1 concession accepted something less grave: spacing/each-part (R. Novak, 2026-03-14)"]


def test_the_revision_is_the_title_blocks_with_its_variables_put_in() -> None:
    variable = replace(BOARD, title=TitleBlock(revision="${REV}"), variables={"REV": "A"})
    result = asked(given(), made=variable)
    assert result.revision == "A"
    assert len(result.conceded) == 1


@pytest.mark.parametrize(
    ("today", "open_"), [(date(2026, 3, 31), False), (date(2026, 4, 1), False), (date(2026, 4, 2), True)]
)
def test_one_that_expires_holds_through_its_day(today: date, open_: bool) -> None:
    result = asked(given(revision=None, expires=date(2026, 4, 1)), today=today)
    assert ("R1 is there" in [f.message for f in result.findings]) is open_
    assert said(result) == (["1 concession has expired: spacing/each-part (R. Novak, 2026-04-01)"] if open_ else [])


def test_on_an_unknown_day_one_that_expires_accepts_nothing_and_that_is_said() -> None:
    result = asked(given(revision=None, expires=date(2026, 4, 1)), today=None)
    assert result.conceded == ()
    assert said(result) == []
    (silent,) = (item for item in result.not_run if item.check == "release/concession-expired")
    assert "day of the review" in silent.missing


def test_a_note_about_concessions_can_be_conceded_itself() -> None:
    (note,) = (f for f in asked(given(), made=replace(BOARD, parts=())).findings if f.area == "release")
    accepted = Concession(note.check, note.fingerprint, "kept for the next board", "R. Novak", DAY, "A")
    result = asked(given(), accepted, made=replace(BOARD, parts=()))
    assert said(result) == []
    assert [f.message for f, _ in result.conceded] == [note.message]


def test_the_notes_do_not_depend_on_the_order_of_the_file() -> None:
    kept = (given(revision="B"), given(1, revision="B"))
    assert asked(*kept).findings == asked(*reversed(kept)).findings


def test_checks_about_concessions_are_asked_last_whatever_their_place() -> None:
    told: list[tuple[int, int, str]] = []
    asked(given(), progress=lambda *args: told.append(args))
    assert [check_id for _, _, check_id in told] == [
        "spacing/each-part",
        "supply/partly",
        "panel/broken",
        *(item.id for item in release_concessions.CHECKS),
    ]
    assert [(done, total) for done, total, _ in told] == [(n, 7) for n in range(7)]


@pytest.mark.parametrize(
    "after", [(), (given(),), (given(revision="B"), given(1)), (given(check="spacing/gone"),)], ids=str
)
def test_reconsidering_is_the_same_as_reviewing_again(after: tuple[Concession, ...]) -> None:
    before = asked(given(1), given(revision="C"))
    again = reconsider(before, Beside(concessions=after, today=DAY), CHECKS)
    assert again == asked(*after)
    assert again.every == asked(*after).every


def test_a_review_does_not_change_when_reconsidered_with_the_same() -> None:
    before = asked(given(), given(1, revision="B"))
    assert reconsider(before, before.beside, CHECKS) == before
