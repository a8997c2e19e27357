# SPDX-License-Identifier: MIT
"""Footprints of the editor's libraries labelled by hand: family, terminals, polarised, fitted by hand.

`package_labels.csv` holds 500 footprints, drawn at random from every library (its share grows with the square root of
its size) and labelled by a person who read name, description and pads before the knowledge module said anything. A
cell names every answer that is right, divided by ``/``, or ``?`` where the footprint does not tell. What the module
then got wrong was looked at, and its rules mended where more than that one item was wrong.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy_kicad.reader import parse_footprint

LABELS = Path(__file__).with_name("package_labels.csv")
Row = dict[str, str]

pytestmark = pytest.mark.editor


@cache
def rows(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def facts(library: str, footprint: str) -> PackageFacts:
    path = demos.FOOTPRINTS / f"{library}.pretty" / f"{footprint}.kicad_mod"
    part = parse_footprint(path.read_text(encoding="utf-8"))
    return Packages(Board()).of(replace(part, package=footprint, library="", reference=""))


def answer(row: Row, column: str) -> str:
    got = facts(row["library"], row["footprint"])
    said = {
        "family": got.family.value,
        "terminals": got.terminals.value,
        "polarised": "yes" if got.polarised else "no",
        "hand_fitted": "yes" if got.hand_fitted else "no",
    }
    return said[column]


def judged(path: Path, column: str) -> Iterator[tuple[str, str]]:
    """What is right and what was said; of several right answers the one that was said, else the first."""
    for row in rows(path):
        right = row[column].split("/")
        if right != ["?"]:
            said = answer(row, column)
            yield (said if said in right else right[0]), said


def table(path: Path, column: str) -> str:
    """Confusion: for every true answer how often it was said, and what else was."""
    pairs = Counter(judged(path, column))
    lines = []
    for true in sorted({true for true, _ in pairs}):
        row = {said: count for (is_true, said), count in pairs.items() if is_true == true}
        also = sum(count for (is_true, said), count in pairs.items() if said == true != is_true)
        wrong = ", ".join(f"{said} {count}" for said, count in sorted(row.items()) if said != true)
        lines.append(
            f"{true:26}{row.get(true, 0):4}/{sum(row.values()):<5}{wrong}" + f"  (said wrongly {also})" * (also > 0)
        )
    return "\n".join(lines)


def test_labels_are_words_the_module_uses() -> None:
    assert len(rows(LABELS)) == 500
    families = {family.value for family in Family} | {"?"}
    assert {word for row in rows(LABELS) for word in row["family"].split("/")} <= families
    assert len({row["library"] for row in rows(LABELS)}) > 150


@pytest.mark.parametrize(
    ("column", "floor"), [("family", 0.97), ("terminals", 0.98), ("polarised", 0.99), ("hand_fitted", 0.99)]
)
def test_answers_are_right(column: str, floor: float, capsys: pytest.CaptureFixture[str]) -> None:
    pairs = list(judged(LABELS, column))
    good = sum(true == said for true, said in pairs)
    with capsys.disabled():
        print(f"\n{column}: {good} of {len(pairs)} right\n{table(LABELS, column)}")
    assert len(pairs) > 470
    assert good >= floor * len(pairs)


@pytest.mark.parametrize("family", [family for family in Family if family is not Family.UNKNOWN])
def test_each_family_is_found_and_meant(family: Family) -> None:
    """Recall and precision of 0.75, or one miss where a family is in the sample but a few times."""
    pairs = list(judged(LABELS, "family"))
    true = [said for right, said in pairs if right == family.value]
    told = [right for right, said in pairs if said == family.value]
    assert true, "none in the sample"
    assert sum(said == family.value for said in true) >= min(0.75 * len(true), len(true) - 1)
    assert sum(right == family.value for right in told) >= min(0.75 * len(told), len(told) - 1)
