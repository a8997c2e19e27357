# SPDX-License-Identifier: MIT
"""What is read off each of the editor's demo boards as its name and revision, compared with a table made by eye.

``golden/identity_markings.csv`` has a row for each marking that says which board it is, and one without a marking for
each board that has none. The rows were checked against renderings of both sides of each board.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

import demos
from lineworthy import Consequence, review
from lineworthy.knowledge.agreement import revision_in_file_name
from lineworthy.knowledge.legible import backwards
from lineworthy.knowledge.naming import plain
from lineworthy.knowledge.printed import Printed

GOLDEN = Path(__file__).parent / "golden" / "identity_markings.csv"
COLUMNS = ("board", "layer", "marking", "name", "revision", "reads", "title_block", "file_name", "seen")

Row = dict[str, str]


def golden() -> list[Row]:
    with GOLDEN.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def read_off(path: Path) -> list[Row]:
    board = demos.read(path)
    printed = Printed(board)
    base = {
        "board": demos.name(path),
        "title_block": printed.stated_revision,
        "file_name": revision_in_file_name(board.name),
    }
    rows = [
        {
            **base,
            "layer": item.marking.layer.name,
            "marking": plain(item.marking.text),
            "name": "yes" if item.names else "",
            "revision": " ".join(revision.value for revision in item.revisions),
            "reads": "backwards" if backwards(item.marking) else "well",
        }
        for item in printed.identity
    ]
    return rows or [{**base, **dict.fromkeys(("layer", "marking", "name", "revision", "reads"), "")}]


def key(row: Row) -> tuple[str, ...]:
    return tuple(row[column] for column in COLUMNS[:-1])


@pytest.mark.editor
def test_the_markings_of_the_demo_boards_are_read_as_by_eye() -> None:
    assert demos.paths(), demos.HOW
    read = sorted(key(row) for path in demos.paths() for row in read_off(path))
    assert read == sorted(key(row) for row in golden())
    assert all(row["seen"] for row in golden())


@pytest.mark.editor
def test_no_demo_board_is_held_for_its_identity() -> None:
    for path in demos.paths():
        for finding in review(demos.read(path), only=["identity"], strict=True).findings:
            assert finding.consequence is not Consequence.HOLD
