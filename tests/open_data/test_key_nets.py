# SPDX-License-Identifier: MIT
"""Targets and key nets of every demo board against what was read off the boards.

`targets.csv` counts targets by board, kind and side; its last column says what was seen on pictures of both sides, and
is empty where only the program counted. `key_nets.csv` names the nets that test has to reach, with their
class. The classes agree with `net_labels.csv`, which a person wrote from names, pins, parts and schematics without
the classifier; the test below holds them to it.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

import demos
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.targets import Targets

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.editor
def test_targets_of_the_demo_boards() -> None:
    assert demos.paths(), demos.HOW
    wanted = {(row["board"], row["kind"], row["side"]): int(row["count"]) for row in rows("targets.csv")}
    wanted = {key: count for key, count in wanted.items() if count}  # 0 where the picture shows lands that are none
    found: Counter[tuple[str, str, str]] = Counter()
    for path in demos.paths():
        board = demos.read(path)
        for target in Targets(board, Marks(board)).all:
            found[demos.name(path), target.kind.value, target.side.value] += 1
    assert dict(found) == wanted


def test_targets_were_counted_on_pictures() -> None:
    looked_at = {row["board"] for row in rows("targets.csv") if row["seen"]}
    assert len(looked_at) >= 7
    assert all(row["seen"] for row in rows("targets.csv") if row["board"] in looked_at)  # both sides of a board


@pytest.mark.editor
def test_key_nets_of_the_demo_boards() -> None:
    assert demos.paths(), demos.HOW
    wanted = [(row["board"], row["class"], row["bus"], row["net"]) for row in rows("key_nets.csv")]
    found = [
        (demos.name(path), key.kind.value, key.facts.bus, key.facts.name)
        for path in demos.paths()
        for key in Nets(demos.read(path)).keys
    ]
    assert sorted(found) == wanted


def test_classes_are_what_a_person_read() -> None:
    read = {(row["board"], row["net"]): row["label"] for row in rows("net_labels.csv")}
    judged = [(row, read.get((row["board"], row["net"]))) for row in rows("key_nets.csv")]
    assert sum(label is not None for _, label in judged) > 270
    assert [(row, label) for row, label in judged if label not in (None, row["class"])] == []
