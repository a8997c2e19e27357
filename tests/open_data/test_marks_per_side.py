# SPDX-License-Identifier: MIT
"""Alignment marks per side of every demo board, against a table kept by looking at pictures of both sides.

``marks_per_side.csv`` says what was seen on each side in its last column; the counts beside it were held against that.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

import demos
from lineworthy import Consequence, review
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.placed import placed_on
from lineworthy.model import Side

TABLE = Path(__file__).with_name("marks_per_side.csv")

pytestmark = pytest.mark.editor


def recorded() -> dict[tuple[str, str], dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {(row["board"], row["side"]): row for row in csv.DictReader(file)}


def test_marks_found_are_those_seen() -> None:
    table = recorded()
    assert demos.paths(), demos.HOW
    found = {}
    for path in demos.paths():
        board = demos.read(path)
        marks = Marks(board)
        for side in Side:
            here = marks.fiducials_on(side)
            found[demos.name(path), side.value] = {
                "placed": str(len(placed_on(board, side))),
                "marks": str(len(here)),
                "references": " ".join(sorted(mark.label for mark in here)),
                "diameters": " ".join(sorted(f"{mark.diameter:.2f}" for mark in here)),
                "impostors": str(sum(one.part.side is side for one in marks.impostors)),
            }
    assert found == {key: {name: row[name] for name in found[key]} for key, row in table.items()}
    assert all(row["seen"] for row in table.values())


def test_a_board_is_held_for_its_marks_only_where_none_was_seen() -> None:
    table = recorded()
    for path in demos.paths():
        for finding in review(demos.read(path), only=["fiducials"], strict=True).findings:
            if finding.consequence is not Consequence.HOLD:
                continue
            assert finding.check == "fiducials/too-few"
            side = "top" if finding.message.startswith("The top") else "bottom"
            row = table[demos.name(path), side]
            # common practice, no source: up to a dozen coarse parts make a simple side
            assert row["marks"] == "0"
            assert int(row["placed"]) > 12
