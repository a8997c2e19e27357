# SPDX-License-Identifier: MIT
"""Texts of a release read character by character, on plots drawn by hand with letters of our own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely

from build import COPPER_TOP, LEGEND_BOTTOM, LEGEND_TOP, board, marking
from lineworthy.intake.archive import Member
from lineworthy.intake.folder import folder_of
from lineworthy.model import Board, Marking
from lineworthy.plans.agreement import Agreement

LETTERS = {
    "A": [[(0, 0), (0.4, 1), (0.8, 0)], [(0.2, 0.4), (0.6, 0.4)]],
    "B": [[(0, 0), (0, 1), (0.6, 1), (0.6, 0.5), (0, 0.5)], [(0.6, 0.5), (0.7, 0.5), (0.7, 0), (0, 0)]],
    "R": [[(0, 0), (0, 1), (0.6, 1), (0.6, 0.5), (0, 0.5)], [(0.3, 0.5), (0.7, 0)]],
    "V": [[(0, 1), (0.4, 0), (0.8, 1)]],
    "1": [[(0, 0.8), (0.3, 1), (0.3, 0)], [(0, 0), (0.6, 0)]],
    "2": [[(0, 0.9), (0.3, 1), (0.6, 0.8), (0, 0), (0.7, 0)]],
    "-": [[(0, 0.5), (0.7, 0.5)]],
    "i": [[(0, 0), (0, 0.6)], [(0, 0.8), (0, 0.85)]],
}
PEN = 0.15


def text(shown: str, at=(10.0, 10.0), *, height=1.0, rotation=0.0, mirrored=False, layer=LEGEND_TOP, **more) -> Marking:
    """A text whose letters begin at `at` and fill the box from there."""
    rows = shown.split("\n")
    wide = max(len(row) for row in rows) * height
    box = shapely.box(-0.3, -1.7 * height * (len(rows) - 1) - 0.3, wide + 0.3, height + 0.3)
    placed = shapely.transform(box, lambda points: _placed(points, at, rotation, mirrored))
    options = {"height": height, "rotation": rotation, "mirrored": mirrored, "stroke": PEN, **more}
    made = marking(shown, at, layer, uid=f"{shown}{at}")
    return Marking(**{**vars(made), **options, "extents": placed})


def _placed(points, at, rotation, mirrored):
    turn = np.radians(rotation)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return (np.asarray(points) * ((-1, 1) if mirrored else (1, 1))) @ axes + at


def plot(texts: Sequence[tuple[Marking, str]], function: str = "Legend,Top") -> bytes:
    """A Gerber file that draws each marking's place with the text beside it."""
    lines = [f"%TF.FileFunction,{function}*%", "%FSLAX46Y46*%", "%MOMM*%", f"%ADD10C,{PEN}*%", "D10*", "G01*"]
    for made, shown in texts:
        for row, characters in enumerate(shown.split("\n")):
            for n, character in enumerate(characters):
                for stroke in LETTERS.get(character, []):
                    points = np.add(stroke, (n, -1.7 * row)) * made.height
                    for k, (x, y) in enumerate(_placed(points, made.at, made.rotation, made.mirrored)):
                        lines.append(f"X{round(x * 1e6)}Y{round(y * 1e6)}D0{1 if k else 2}*")
    return "\n".join([*lines, "M02*"]).encode()


REFERENCES = [
    text(name, (3 + 6 * n, 30)) for n, name in enumerate(["R1", "R2", "R12", "B1", "VR2", "R-1", "AV1", "A-2"])
]


def misprints(made: Marking, drawn: str, others: Sequence[Marking] = REFERENCES) -> list[str]:
    everything = [*((one, one.text) for one in others), (made, drawn)]
    return said(board(markings=tuple(one for one, _ in everything)), everything)


def said(layout: Board, everything: Sequence[tuple[Marking, str]]) -> list[str]:
    functions = {"F.SilkS": "Legend,Top", "B.SilkS": "Legend,Bot", "top": "Copper,L1,Top"}
    by_layer = {name: [row for row in everything if row[0].layer.name == name] for name in functions}
    members = [Member(f"{name}.gbr", plot(rows, functions[name])) for name, rows in by_layer.items() if rows]
    return [found.how for found in Agreement(layout, folder_of("release", tuple(members))).letterings.misprints]


@pytest.mark.parametrize("drawn", ["RV B", "RV-2", "A1"])
def test_texts_drawn_as_they_are_pass(drawn: str) -> None:
    assert misprints(text(drawn), drawn) == []


@pytest.mark.parametrize("layer", [LEGEND_TOP, LEGEND_BOTTOM, COPPER_TOP])
@pytest.mark.parametrize(("height", "rotation"), [(1.0, 0.0), (2.5, 0.0), (1.5, 90.0), (0.8, 217.0)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_character_changed_after_plotting_is_told(layer, height: float, rotation: float, mirrored: bool) -> None:
    made = text("RV 2", (30, 15), height=height, rotation=rotation, mirrored=mirrored, layer=layer)
    assert misprints(made, "RV 1") == ["character 3, '2', is another one ('1')"]


def test_a_character_nobody_else_has_is_told_by_what_it_looks_like() -> None:
    assert misprints(text("RiR"), "R2R") == ["character 2, 'i', is another one ('2')"]
    assert misprints(text("R2R"), "RiR") == ["character 2, '2', is another one"]
    assert misprints(text("RiR"), "RiR") == []


def test_characters_too_many_and_too_few_are_told() -> None:
    assert misprints(text("R12"), "R1") == ["2 characters instead of 3"]
    assert misprints(text("R 1"), "R21") == ["3 characters instead of 2"]


def test_several_lines_are_read_from_the_top() -> None:
    made = text("R1\nV2", (30, 15))
    assert misprints(made, "R1\nV2") == []
    assert misprints(made, "R1\nV1") == ["character 4, '2', is another one ('1')"]


def test_what_cannot_be_told_is_not() -> None:
    assert misprints(text("R2"), "R1", others=()) == []  # nobody to learn from
    assert misprints(text("R2", source="R${NUMBER}"), "R1") == []  # changes with what it is made from
    assert misprints(text("R2", knockout=True), "R1") == []
    assert misprints(text("R2"), "R1", others=[*REFERENCES, text("R2", (10.2, 10.0))]) == []  # two in one place


def test_nothing_to_read() -> None:
    assert said(board(), []) == []
