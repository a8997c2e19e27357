# SPDX-License-Identifier: MIT
"""Placement files against a board: conventions are found out, and what does not follow them is named."""

from __future__ import annotations

import pytest

import build
from lineworthy.intake.placement import read_placement
from lineworthy.model import Side
from lineworthy.plans.placement_match import PlacementMatch

PARTS = [
    ("R1", (10.0, 10.0), 0.0, Side.TOP),
    ("R2", (20.0, 12.0), 90.0, Side.TOP),
    ("R3", (30.0, 25.0), 45.0, Side.TOP),
    ("C1", (30.0, 10.0), 0.0, Side.BOTTOM),
    ("C2", (42.0, 17.0), 90.0, Side.BOTTOM),
    ("C3", (51.0, 33.0), 45.0, Side.BOTTOM),
    ("C4", (12.0, 31.0), 180.0, Side.BOTTOM),
]
BOARD = build.board(
    parts=[build.chip(name, at, side=side, rotation=turn) for name, at, turn, side in PARTS],
)


def match(*changed: str, x=lambda x, side: x, y=lambda y: y, turn=lambda turn, side: turn) -> PlacementMatch:
    """The match of a file that says all parts as these functions say; `changed` lines replace those of their part."""
    lines = {
        name: f"{name},{x(at[0], side)},{y(at[1])},{turn(angle, side)},{side.value}" for name, at, angle, side in PARTS
    }
    lines.update({line.split(",")[0]: line for line in changed})
    text = "Ref,X,Y,Rot,Side\n" + "\n".join(lines.values()) + "\n"
    return PlacementMatch(BOARD, [read_placement("pos.csv", text.encode())])


def mirrored(x: float, side: Side) -> float:
    return -x if side is Side.BOTTOM else x


def names(couples) -> list[str]:
    return [couple.part.reference for couple in couples]


def clean(found: PlacementMatch) -> bool:
    return not (found.displaced or found.wrong_side or found.wrong_turn or found.missing or found.unknown)


def test_the_board_as_it_is() -> None:
    found = match()
    assert clean(found)
    assert (found.convention.mirrored, found.convention.scale_name, found.convention.bottom_turn) == (False, "", "")


def test_a_bottom_with_negated_x_is_a_convention() -> None:
    """A bottom part at x 30 that the file puts at -30, like all of its side (the editor's option, its manual)."""
    found = match(x=mirrored)
    assert clean(found)
    assert found.convention.mirrored


def test_mixed_signs_are_no_convention() -> None:
    found = match("C1,30,10,0,bottom", x=mirrored)
    assert names(found.displaced) == ["C1"]
    assert found.displaced[0].off == pytest.approx(60)


@pytest.mark.parametrize("origin", [(0.0, 0.0), (100.0, -50.0), (-7.25, 3.125)])
@pytest.mark.parametrize(("unit", "factor"), [("", 1.0), ("inch", 25.4), ("mil", 0.0254)])
def test_origins_and_units(origin: tuple[float, float], unit: str, factor: float) -> None:
    found = match(x=lambda x, _: (x + origin[0]) / factor, y=lambda y: (y + origin[1]) / factor)
    assert clean(found)
    assert found.convention.scale_name == unit
    assert dict(found.convention.origins)[Side.TOP] == pytest.approx(origin, abs=1e-6)


@pytest.mark.parametrize(
    ("turn", "said"),
    [
        (lambda turn, side: -turn if side is Side.BOTTOM else turn, "turned the other way"),
        (lambda turn, side: 180 - turn if side is Side.BOTTOM else turn, "turned the other way from the left"),
        (lambda turn, side: turn + 180 if side is Side.BOTTOM else turn, "turned by 180 degrees"),
        (lambda turn, side: turn + 360, ""),
    ],
)
def test_ways_of_counting_turns(turn, said: str) -> None:
    found = match(turn=turn)
    assert clean(found)
    assert found.convention.bottom_turn == said


MISTAKES = {
    "moved": ("R2,20.06,12,90,top", "displaced"),
    "turned": ("R2,20,12,270,top", "wrong_turn"),
    "turned a little": ("R2,20,12,91,top", "wrong_turn"),
    "on the other side": ("R2,20,12,90,bottom", "wrong_side"),
}


@pytest.mark.parametrize("name", MISTAKES)
@pytest.mark.parametrize("x", [lambda x, _: x, mirrored], ids=["plain", "mirrored bottom"])
def test_a_single_mistake_is_that_parts(name: str, x) -> None:
    line, kind = MISTAKES[name]
    found = match(line, x=x)
    told = {what: names(getattr(found, what)) for what in ("displaced", "wrong_turn", "wrong_side")}
    assert {what: who for what, who in told.items() if who} == {kind: ["R2"]}


@pytest.mark.parametrize("line", ["R2,20.05,12,90,top", "R2,20,12,90.5,top", "R2,20,12,450,top"])
def test_on_the_limit(line: str) -> None:
    assert clean(match(line))


def test_lines_too_many_and_too_few() -> None:
    text = b"Ref,X,Y,Rot,Side\nR1,10,10,0,top\nR2,20,12,90,top\nR2,20,12,90,top\nX9,1,1,0,top\nc1,30,10,0,bottom\n"
    found = PlacementMatch(BOARD, [read_placement("pos.csv", text)])
    assert [part.reference for part in found.missing] == ["R3", "C2", "C3", "C4"]
    assert [placed.reference for placed in found.unknown] == ["X9"]
    assert found.repeated == ("R2",)


def test_a_side_left_out_is_told_once() -> None:
    text = b"Ref,X,Y,Rot,Side\nR1,10,10,0,top\nR2,20,12,90,top\nR3,30,25,45,top\n"
    found = PlacementMatch(BOARD, [read_placement("pos.csv", text)])
    assert (found.missing, found.missing_sides) == ((), (Side.BOTTOM,))
