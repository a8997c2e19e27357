# SPDX-License-Identifier: MIT
"""Every array of every outline holds, by a check of what is written that knows nothing of the planner."""

from __future__ import annotations

import copy
import json
import math
import random
from typing import Any, Callable

import pytest
import shapely

from build import board, chip
from lineworthy.model import Board
from lineworthy.report import panel_json
from lineworthy.sheet import built_in
from panel_cases import capacitor, cases, plan_of, planned, plug, rounded, shaped
from panel_check import faults

CASES = cases()
SHEET = built_in()


def written(made: Board) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(panel_json.document(planned(made, SHEET)))
    return document


@pytest.mark.parametrize("name", CASES)
def test_arrays_hold(name: str) -> None:
    document = json.loads(panel_json.document(plan_of(name)))
    assert document["arrays"]
    assert faults(CASES[name], SHEET, document) == []


def random_board(seed: int) -> Board:
    dice = random.Random(seed)
    width, height = dice.uniform(12, 220), dice.uniform(12, 160)
    area = (
        rounded(width, height, dice.uniform(0.5, min(width, height) / 3))
        if seed % 2
        else shapely.box(0, 0, width, height)
    )
    if seed % 5 == 0:
        area = area.difference(shapely.box(-1, -1, width * dice.uniform(0.2, 0.7), height * dice.uniform(0.2, 0.7)))
    if seed % 7 == 0:
        area = shapely.affinity.rotate(area, dice.uniform(-40, 40), origin=(5, 5))
    x, y = area.centroid.coords[0]
    parts = [chip("R1", (x, y))]
    if seed % 3 == 0 and seed % 7:
        parts.append(plug("J1", (width - 4, height * 0.6), (12, min(8.0, height / 2))))
    if seed % 4 == 0 and seed % 7:
        parts += [capacitor(f"C{n}", (dice.uniform(2, width - 2), height - 2.5)) for n in range(4)]
    return shaped(f"random {seed}", area, tuple(parts))


@pytest.mark.parametrize("seed", range(1, 31))
def test_arrays_of_random_boards_hold(seed: int) -> None:
    made = random_board(seed)
    assert faults(made, SHEET, written(made)) == []


def moved_board(array: dict[str, Any]) -> None:
    array["places"][0]["origin"]["x_mm"] += 0.05


def moved_with_rectangle(array: dict[str, Any]) -> None:
    place = array["places"][0]
    place["origin"]["x_mm"] += 0.05
    place["left_mm"] += 0.05
    place["right_mm"] += 0.05


def moved_tab(array: dict[str, Any]) -> None:
    way = math.radians(array["tabs"][0]["across_deg"])
    array["tabs"][0]["x_mm"] += 0.4 * math.cos(way)
    array["tabs"][0]["y_mm"] += 0.4 * math.sin(way)


def lost_tabs(array: dict[str, Any]) -> None:
    array["tabs"] = [tab for tab in array["tabs"] if tab["across_deg"] % 180 == 0]


def moved_mark(array: dict[str, Any]) -> None:
    array["marks"][0]["y_mm"] -= 0.1


def symmetric_marks(array: dict[str, Any]) -> None:
    array["marks"][2].update(x_mm=array["marks"][0]["x_mm"], y_mm=array["width_mm"] - array["marks"][0]["y_mm"])
    array["marks"] = array["marks"][1:] + array["marks"][1:2]


def more_filled(array: dict[str, Any]) -> None:
    array["working_panel"]["filled_percent"] += 1


@pytest.mark.parametrize(
    "break_it", [moved_board, moved_with_rectangle, moved_tab, lost_tabs, moved_mark, symmetric_marks, more_filled]
)
def test_the_check_would_notice(break_it: Callable[[dict[str, Any]], None]) -> None:
    made = board(100, 80, parts=(chip("R1", (50, 40)),))
    document = written(made)
    assert faults(made, SHEET, document) == []
    routed = next(n for n, array in enumerate(document["arrays"]) if array["tabs"])
    broken = copy.deepcopy(document)
    break_it(broken["arrays"][routed])
    assert faults(made, SHEET, broken)


def test_the_check_would_notice_a_score_through_a_board() -> None:
    made = board(100, 80, parts=(chip("R1", (50, 40)),))
    document = written(made)
    scored = next(array for array in document["arrays"] if array["scores"])
    for end in ("from", "to"):
        scored["scores"][0][end]["y_mm"] += 0.1
    assert any("cuts board" in fault for fault in faults(made, SHEET, document))
