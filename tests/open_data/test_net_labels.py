# SPDX-License-Identifier: MIT
"""Nets of the editor's demo boards against labels a person wrote down while reading the boards.

`net_labels.csv` holds one row for each net: board, net, label. The labels come from names, pins, parts and schematics
as a person reads them, not from the classifier; where a person knows more than the board says, the classifier is wrong.
A net with one pin is labelled by that alone, and of pins marked as not connected each board has at most a dozen.
Run with ``-s`` to see the confusion table.
"""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest

import demos
from lineworthy.knowledge.nets import NetKind, Nets

TABLE = Path(__file__).parent / "net_labels.csv"

# label: lowest precision, lowest recall, as measured and rounded down; no demo board has the mains on it
FLOORS = {
    "ground": (0.99, 0.99),
    "power": (0.98, 0.97),  # missed: the supplies of a tube
    "reset": (0.99, 0.93),
    "programming": (0.99, 0.97),  # missed: a button that straps, a pin whose name only one maker uses
    "bus": (0.99, 0.92),
    "crystal": (0.96, 0.99),
    "clock": (0.87, 0.81),
    "rf": (0.99, 0.99),
    "fast": (0.99, 0.94),
    "switching": (0.99, 0.99),
    "analog": (0.92, 0.75),  # missed: nodes between discrete parts whose names say nothing
    "signal": (0.95, 0.99),
    "single-pin": (0.99, 0.99),
    "no-connect": (0.99, 0.99),
}


def labels() -> dict[str, dict[str, str]]:
    table: dict[str, dict[str, str]] = defaultdict(dict)
    with TABLE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            assert row["net"] not in table[row["board"]], row
            table[row["board"]][row["net"]] = row["label"]
    return table


@cache
def confusion() -> Counter[tuple[str, str]]:
    """How often a label (first) was given a kind (second)."""
    count: Counter[tuple[str, str]] = Counter()
    for board, rows in labels().items():
        nets = Nets(demos.read(demos.FOLDER / board))
        for net, label in rows.items():
            assert net in nets.all, f"{board} has no net {net}"
            count[label, nets.of(net).kind.value] += 1
    return count


def rates(label: str) -> tuple[float, float]:
    """Precision and recall of one label."""
    count = confusion()
    right = count[label, label]
    given = sum(number for (_, kind), number in count.items() if kind == label)
    wanted = sum(number for (want, _), number in count.items() if want == label)
    return right / max(given, 1), right / wanted


def test_the_table_knows_every_kind_and_enough_nets() -> None:
    rows = [label for board in labels().values() for label in board.values()]
    assert len(rows) >= 1500
    on_demo_boards = {kind.value for kind in NetKind if kind is not NetKind.MAINS}
    assert on_demo_boards == set(FLOORS) == set(rows)


@pytest.mark.editor
@pytest.mark.parametrize(
    "board", sorted({row["board"] for row in csv.DictReader(TABLE.open(encoding="utf-8", newline=""))})
)
def test_no_board_is_read_badly(board: str) -> None:
    """Each board by itself, so that what was learned on the large ones is seen to hold on the others."""
    assert demos.paths(), demos.HOW
    nets = Nets(demos.read(demos.FOLDER / board))
    rows = labels()[board]
    wrong = {net: (label, nets.of(net).kind.value) for net, label in rows.items() if nets.of(net).kind.value != label}
    print(f"\n{board}: {len(rows) - len(wrong)} of {len(rows)}")
    # on the board of two tubes names and pins say nothing; it has too few nets to count
    assert len(wrong) <= 0.15 * len(rows) or len(rows) < 20, wrong


@pytest.mark.editor
def test_confusion_table_is_printed() -> None:
    assert demos.paths(), demos.HOW
    count = confusion()
    print(f"\n{'label':12}{'nets':>6}{'precision':>11}{'recall':>8}  taken for")
    for label in FLOORS:
        precision, recall = rates(label)
        wrong = sorted(
            ((number, kind) for (want, kind), number in count.items() if want == label != kind), reverse=True
        )
        total = sum(number for (want, _), number in count.items() if want == label)
        told = ", ".join(f"{kind} {number}" for number, kind in wrong)
        print(f"{label:12}{total:6}{precision:11.3f}{recall:8.3f}  {told}")
    assert sum(count.values()) == sum(len(rows) for rows in labels().values())


@pytest.mark.editor
@pytest.mark.parametrize("label", FLOORS)
def test_precision_and_recall_stay(label: str) -> None:
    assert demos.paths(), demos.HOW
    precision, recall = rates(label)
    assert precision >= FLOORS[label][0]
    assert recall >= FLOORS[label][1]
