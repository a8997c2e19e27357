# SPDX-License-Identifier: MIT
"""The marking that is inserted: both sides, standing, smaller, in place of one that cannot be read, or refused."""

from __future__ import annotations

import dataclasses

import pytest
import shapely

import build
from lineworthy.amend import MarkingText, Wanted, amended, offer, propose
from lineworthy.model import Board, Side, TitleBlock
from lineworthy.sheet import built_in

SHEET = built_in()
WANTED = Wanted(revision=True)


def measure(text: str, height: float, stroke: float) -> tuple[float, float]:
    lines = text.split("\n")
    return max(len(line) for line in lines) * height * 0.9, len(lines) * height * 1.6


def slot(width: float, height: float, side: Side = Side.TOP) -> Board:
    """A board of which one rectangle on one side is free: what remains of a body with a window."""
    area = shapely.box(0, 0, 40, 30)
    window = build.rectangle((20, 15), width, height)
    parts = []
    for face in Side:
        cover = area.difference(window) if face is side else area
        lands = [build.pad(str(n), (1.0, 1.0 + n * 0.5), 0.1, side=face) for n in range(1, 5)]
        parts.append(
            build.part(
                f"U{face.value}", (20, 15), lands, body=cover, package="SOIC-8", side=face, courtyard={face: cover}
            )
        )
    title = TitleBlock(title="Widget", revision="C")
    return build.board(40, 30, parts=parts, title=title, variables={"REVISION": "C", "TITLE": "Widget"})


def planned(board: Board, wanted: Wanted = WANTED) -> MarkingText:
    (text,) = propose(board, SHEET, wanted, measure).amendments
    assert isinstance(text, MarkingText)
    (marking,) = amended(board, (text,), measure).markings
    window = build.rectangle((20, 15), 40, 30)
    assert window.covers(marking.extents)
    for part in board.parts:
        assert part.side is not text.side or not part.body.intersects(marking.extents.buffer(-1e-6))
    return text


# "Widget REV C" is 12 letters: 10.8 x 1.6 mm at the preferred height of 1.0 mm (common practice, no source)


def test_in_one_line_where_that_fits() -> None:
    text = planned(slot(11.5, 2.2))
    assert (text.text, text.rotation, text.side, text.height) == ("Widget REV C", 0.0, Side.TOP, 1.0)


def test_standing_where_only_that_fits() -> None:
    text = planned(slot(2.2, 11.5))
    assert (text.text, text.rotation, text.height) == ("Widget REV C", 90.0, 1.0)


def test_in_two_lines_where_only_that_fits() -> None:
    text = planned(slot(6.2, 4.0))
    assert (text.text, text.height) == ("Widget\nREV C", 1.0)


def test_on_the_bottom_where_only_that_fits_and_mirrored() -> None:
    board = slot(11.5, 2.2, Side.BOTTOM)
    text = planned(board)
    assert text.side is Side.BOTTOM
    (marking,) = amended(board, (text,), measure).markings
    assert marking.mirrored
    assert marking.layer.side is Side.BOTTOM


def test_only_the_side_asked_for() -> None:
    made = propose(slot(11.5, 2.2, Side.BOTTOM), SHEET, Wanted(revision=True, text_side=Side.TOP), measure)
    assert made.amendments == ()
    assert "free place on the top takes" in made.refusals[0].reason


def test_smaller_letters_before_none() -> None:
    # common practice, no source: 0.8 mm is the lower limit of legend, 1.0 mm what is wanted
    text = planned(slot(9.4, 1.9))
    assert (text.height, text.stroke) == (0.8, 0.12)


def test_too_small_even_for_those_is_refused_with_what_would_fit() -> None:
    made = propose(slot(7.0, 1.3), SHEET, WANTED, measure)
    assert made.amendments == ()
    (refusal,) = made.refusals
    assert refusal.wanted == "name and revision on the legend"
    assert "takes letters of 0." in refusal.reason
    assert refusal.reason.endswith("0.80 mm are needed")


@pytest.mark.parametrize("fault", ["under a part", "backwards", "too fine"])
def test_a_marking_nobody_can_read_gets_another(fault: str) -> None:
    there = build.marking("WIDGET REV C", (20, 20))
    cover = build.part("U1", (20, 20), [build.pad(str(n), (20, 19 + n * 0.3), 0.1) for n in range(1, 5)], package="QFN")
    parts = (dataclasses.replace(cover, body=build.rectangle((20, 20), 20, 5)),) if fault == "under a part" else ()
    if fault == "backwards":
        there = dataclasses.replace(there, mirrored=True)
    if fault == "too fine":
        there = dataclasses.replace(there, height=0.5)
    title = TitleBlock(title="Widget", revision="C")
    board = build.board(
        60, 40, parts=parts, markings=(there,), title=title, variables={"REVISION": "C", "TITLE": "Widget"}
    )
    made = offer(board, SHEET, WANTED, measure)
    assert made.refusals == ()
    assert [text.text for text in made.amendments] == ["Widget REV C"]  # type: ignore[union-attr]
    assert made.proof.gone
    assert made.proof.new == ()
    again = offer(amended(board, made.amendments, measure), SHEET, WANTED, measure)
    assert (again.amendments, again.refusals) == ((), ())


def test_a_name_asked_for() -> None:
    made = offer(slot(15, 3), SHEET, Wanted(revision=True, name_text="1234-5678"), measure)
    assert [text.text for text in made.amendments] == ["1234-5678 REV C"]  # type: ignore[union-attr]


def test_a_revision_that_contradicts_the_title_block_is_not_offered() -> None:
    made = offer(slot(14, 3), SHEET, Wanted(revision=True, revision_text="D"), measure)
    assert made.amendments == ()
    assert "it would cause: The revision differs" in made.refusals[0].reason
