# SPDX-License-Identifier: MIT
"""The editor's footprint libraries as boards of one part: each footprint is taken for what its library says it is."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.marks import Marks
from lineworthy_kicad.reader import parse_footprint

EXPECTED = {
    "Fiducial": "fiducial",
    "TestPoint": "test point",
    "MountingHole": "hole",
    "Mounting_Wuerth": "hole",
    "MountingEquipment": "hole",
}
"""What everything in a library is; footprints of all other libraries are none of these."""

EVERY = 20
"""Of the other libraries every twentieth footprint is read, 750 of 15,300; all were read when this was written."""

pytestmark = pytest.mark.editor


def footprints() -> list[Path]:
    every = sorted(demos.FOOTPRINTS.glob("*.pretty/*.kicad_mod"))
    return [path for path in every if library(path) in EXPECTED] + [p for p in every if library(p) not in EXPECTED][
        ::EVERY
    ]


def library(path: Path) -> str:
    return path.parent.stem


def kinds(path: Path) -> str:
    """What the knowledge module says about a footprint, ``none`` for an ordinary component."""
    part = replace(parse_footprint(path.read_text(encoding="utf-8")), package=path.stem)
    marks = Marks(Board(copper_layers=("F.Cu", "B.Cu"), parts=(part,)))
    found = {"fiducial": marks.fiducials, "test point": marks.test_points, "hole": marks.holes}
    return " and ".join(name for name, items in found.items() if items) or "none"


def truth(path: Path) -> str:
    expected = EXPECTED.get(library(path), "none")
    if expected == "hole" and "(drill" not in path.read_text(encoding="utf-8"):
        return "none"  # a spacer soldered onto closed lands: there is no hole
    return expected


def test_confusion_table(capsys: pytest.CaptureFixture[str]) -> None:
    paths = footprints()
    assert len(paths) > 1000, demos.HOW
    answers = {path: (truth(path), kinds(path)) for path in paths}
    table = Counter(answers.values())
    with capsys.disabled():
        print(f"\n{'footprints are':16}{'taken for':16}{'count':>6}")
        for (true, said), count in sorted(table.items()):
            print(f"{true:16}{said:16}{count:6}")
    wrong = [f"{library(path)}/{path.stem}: {said}" for path, (true, said) in answers.items() if true != said]
    assert not wrong
    assert {true for true, _ in table} == {"fiducial", "test point", "hole", "none"}
    assert table["fiducial", "fiducial"] >= 10
