# SPDX-License-Identifier: MIT
"""Whether the parts list says that it is for this board: common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from build import board, marking
from lineworthy import Board, Consequence, NotRun
from lineworthy.checks.identity_list import list_of_another_revision
from lineworthy.intake.parts_file import parts_list_in
from lineworthy.knowledge.printed import Printed
from lineworthy.model import TitleBlock

ROWS = "Ref,Qty,Value\nR1,1,10k\n"


def widget(*texts: str, title: str = "Frost relay FR-2040", revision: str = "B") -> Board:
    markings = tuple(marking(text, (20.0, 5.0 * n + 5.0)) for n, text in enumerate(texts))
    return board(markings=markings, title=TitleBlock(title=title, revision=revision))


def ask(layout: Board, heading: str = "", name: str = "parts.csv") -> list[Any]:
    parts = parts_list_in((heading + ROWS).encode(), name)
    return list(list_of_another_revision.ask(parts=parts, printed=Printed(layout)))


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        ("", "parts.csv"),
        ("Frost relay FR-2040 rev B\n", "parts.csv"),
        ("Frost relay FR-2040;revision B.1\n", "parts.csv"),  # only more exact
        ("Made with version 9.0.8\n", "parts.csv"),  # of the software, as far as anybody can tell
        ("Page 3 of 4\n", "parts-2026-11-20.csv"),
        ("", "frost-relay-revB.csv"),
        ("IPC-7351 rev C land patterns\n", "parts.csv"),
    ],
)
def test_a_list_of_this_revision_passes(heading: str, name: str) -> None:
    assert [f for f in ask(widget(), heading, name) if f.consequence is Consequence.QUERY] == []


def test_a_named_list_of_another_revision_is_asked_about() -> None:
    (found,) = ask(widget(), "Frost relay FR-2040\nRevision C\n")
    assert found.consequence is Consequence.QUERY
    assert "'C' in its heading 'Revision C', the board 'B'" in found.message


def test_where_the_board_is_not_named_it_is_a_note() -> None:
    # the list may count its own revisions
    (found,) = ask(widget(), "Parts, rev C\n")
    assert found.consequence is Consequence.NOTE


def test_the_name_of_the_file_counts() -> None:
    (found,) = ask(widget(), name="FR-2040_revC.csv")
    assert found.consequence is Consequence.QUERY
    assert "in its file's name" in found.message


def test_a_marking_stands_in_for_an_empty_title_block() -> None:
    (found,) = ask(widget("FR-2040 rev D", title="", revision=""), "FR-2040 rev C\n")
    assert "'C'" in found.message
    assert "'D'" in found.message


def test_another_number_of_the_same_make_is_asked_about() -> None:
    (found,) = ask(widget(), "Frost relay FR-2041 rev B\n")
    assert found.message == "The parts list is for 'FR-2041', the board is 'FR-2040'"
    assert ask(widget(), "Order 1234-5678 rev B\n") == []  # numbers something else


def test_a_board_without_a_revision_cannot_be_contradicted() -> None:
    assert ask(widget(revision=""), "Parts, rev C\n") == []


def test_without_a_list_it_is_not_run() -> None:
    (answer,) = list_of_another_revision.ask(parts=None, printed=Printed(widget()))
    assert isinstance(answer, NotRun)
