# SPDX-License-Identifier: MIT
"""A board written for the purpose, with pads, margins, texts and outlines the demo boards lack, against the editor."""

from __future__ import annotations

from pathlib import Path
from typing import Callable

import compare
import made_board
import pytest
from editor import Facts
from mismatch import Mismatch, listing

from lineworthy_kicad.reader import read_board

pytestmark = pytest.mark.editor


@pytest.fixture(scope="module")
def facts_and_board(ask: Callable[[Path], Facts], tmp_path_factory: pytest.TempPathFactory):
    path = made_board.write(tmp_path_factory.mktemp("made"))
    return ask(path), read_board(path)


@pytest.fixture(scope="module")
def found(facts_and_board) -> dict[str, list[Mismatch]]:
    facts, board = facts_and_board
    return compare.compare(board, facts)


@pytest.mark.parametrize("category", list(compare.LOOKS))
def test_reader_agrees_with_the_editor(found: dict[str, list[Mismatch]], category: str) -> None:
    if found[category]:
        pytest.fail(listing(found[category]), pytrace=False)


def test_the_editor_took_the_whole_document(facts_and_board) -> None:
    """A document the editor drops parts of would prove less than it seems to."""
    facts, _ = facts_and_board
    assert facts["outline"]["closed"]
    assert [len(part["pads"]) for part in facts["parts"]] == [len(made_board.PADS), len(made_board.PADS), 0]
    free = [text for text in facts["texts"] if not text["part"]]
    assert len(free) == len(made_board.TEXTS) * 10 + 3
    assert len(facts["zones"]) == 2
    assert len(facts["vias"]) == 4
