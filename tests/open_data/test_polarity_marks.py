# SPDX-License-Identifier: MIT
"""Marks of polarity and pin 1 as the editor's footprint libraries draw them: with them a part is marked, without not.

Each footprint is also taken with its drawing on the board instead of in the land pattern, as people add a missing mark.
On the editor's demo boards the marks of all land patterns are taken away.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.orientation import Orientation, Seen
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Part
from lineworthy_kicad.reader import parse_board

LETTERS = {
    "Capacitor_SMD": "C",
    "Capacitor_Tantalum_SMD": "C",
    "Diode_SMD": "D",
    "LED_SMD": "D",
    "Package_BGA": "U",
    "Package_CSP": "U",
    "Package_DFN_QFN": "U",
    "Package_DIP": "U",
    "Package_LGA": "U",
    "Package_QFP": "U",
    "Package_SO": "U",
    "Package_SON": "U",
}
"""Libraries with parts that go one way only, and the letter of their references."""

EVERY = 12
"""Every twelfth footprint is read, 250 of 2,900; all were read when this was written, with the same answers."""

HEAD = """(kicad_pcb (version 20241229) (generator "test") (general (thickness 1.6))
(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (5 "F.SilkS" user) (35 "F.Fab" user)) (net 0 "")
"""

pytestmark = pytest.mark.editor


def boards() -> dict[str, Board]:
    """Boards of one part each, by the name of its footprint, those whose lands leave open which way round it goes."""
    found = {}
    for library, letter in LETTERS.items():
        for path in sorted((demos.FOOTPRINTS / f"{library}.pretty").glob("*.kicad_mod"))[::EVERY]:
            board = placed(path, letter)
            if Orientation(board, Packages(board)).needs_mark(board.parts[0]):
                found[f"{library}/{path.stem}"] = board
    return found


def placed(path: Path, letter: str) -> Board:
    text = path.read_text(encoding="utf-8").replace("REF**", f"{letter}1")
    text = re.sub(r'\(footprint "([^"]*)"', rf'(footprint "{path.parent.stem}:\1" (uuid "part")', text, count=1)
    return parse_board(f"{HEAD}{text})", path.name)


def seen(board: Board) -> Seen:
    return Orientation(board, Packages(board)).seen(board.parts[0])


def bare(board: Board) -> Board:
    """The same without anything that the part draws."""
    return replace(board, graphics=(), markings=())


def on_board(board: Board) -> Board:
    """The same, drawn on the board."""
    return replace(
        board,
        graphics=tuple(replace(graphic, part_uid="") for graphic in board.graphics),
        markings=tuple(replace(marking, part_uid="") for marking in board.markings),
    )


def test_marks_of_the_libraries(capsys: pytest.CaptureFixture[str]) -> None:
    some = boards()
    assert len(some) > 100, demos.HOW
    answers = {name: (seen(board), seen(bare(board)), seen(on_board(board))) for name, board in some.items()}
    table = Counter(answers.values())
    with capsys.disabled():
        print(f"\n{'as drawn':16}{'without':16}{'on the board':16}{'count':>6}")
        for told, count in sorted(table.items(), key=lambda one: -one[1]):
            print("".join(f"{one.value:16}" for one in told) + f"{count:6}")
    # a land 1 of another shape tells by itself; a socket's mark is drawn inside of it
    by_land = (Seen.YES, Seen.YES, Seen.YES)
    by_mark = (Seen.YES, Seen.NO, Seen.YES)
    in_socket = (Seen.UNDER_THE_BODY, Seen.NO, Seen.UNDER_THE_BODY)
    wrong = {name: told for name, told in answers.items() if told not in (by_land, by_mark)}
    assert all(told == in_socket and "SMDSocket" in name for name, told in wrong.items()), wrong
    assert table[by_mark] > 3 * table[by_land]


def test_marks_deleted_on_the_demo_boards_are_told() -> None:
    """Beside 60 parts in all; no part of these boards has a second mark that is drawn on the board."""
    told, kept = 0, []
    for path in demos.paths()[:-1]:  # the largest one takes a minute to read
        board = demos.read(path)
        before = Orientation(board, Packages(board))
        parts = [part for part in board.parts if before.needs_mark(part) and before.seen(part) is Seen.YES]
        gone = {part.uid for part in parts}
        without = replace(board, graphics=tuple(one for one in board.graphics if one.part_uid not in gone))
        without = replace(without, markings=tuple(one for one in board.markings if one.part_uid not in gone))
        after = Orientation(without, Packages(without))
        by_land = {part for part in parts if seen_by_land(part)}
        answers = {part: after.seen(part) for part in parts if part not in by_land}
        told += sum(answer is Seen.NO for answer in answers.values())
        kept += [f"{path.stem} {part.reference}" for part, answer in answers.items() if answer is not Seen.NO]
    assert not kept
    assert told > 50


def seen_by_land(part: Part) -> bool:
    """Whether the lands of a part alone tell which way round it goes."""
    alone = Board(copper_layers=("F.Cu", "B.Cu"), parts=(part,))
    return Orientation(alone, Packages(alone)).seen(part) is Seen.YES
