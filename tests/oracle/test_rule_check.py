# SPDX-License-Identifier: MIT
"""Distances, rings, drills and courtyards against the editor's own rule check with the same limits.

Every pair of items that only one of the two names is in `rule_check_differences.csv`, with the reason. Measured are
all pairs there are, not findings: which of them a check leaves out on purpose is judged elsewhere.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Callable, NamedTuple

import pytest
from rule_check import Violation, violations

import demos
from lineworthy.checks.bare_board import _pad_rings, _via_rings
from lineworthy.checks.spacing_courtyards import _overlaps
from lineworthy.inputs import Inputs
from lineworthy.knowledge.edge import EdgeCopper
from lineworthy.knowledge.gaps import gaps_below
from lineworthy.model import Board, Side
from lineworthy.sheet import built_in

pytestmark = [pytest.mark.editor, pytest.mark.slow]

SHEET = built_in()
TABLE = Path(__file__).with_name("rule_check_differences.csv")
COLUMNS = ("board", "question", "only", "what", "count", "reason")

Named = frozenset[str]


class Question(NamedTuple):
    """What both are asked: the editor's types of violations, and who of ours answers with sets of item ids."""

    kinds: tuple[str, ...]
    ours: Callable[[Inputs], Iterator[Named]]


def _gaps(inputs: Inputs) -> Iterator[Named]:
    limits = SHEET.bare_board
    for layer in inputs.copper:
        outer = inputs.board.side_of(layer.name) is not None
        for gap in gaps_below(layer, limits.gap_outer_min_mm if outer else limits.gap_inner_min_mm):
            yield frozenset((_uid(gap.one), _uid(gap.other)))


def _holes_and_copper(inputs: Inputs) -> Iterator[Named]:
    limits = SHEET.bare_board
    outer, inner = limits.hole_to_copper_outer_min_mm, limits.hole_to_copper_inner_min_mm
    for near in inputs.drilled.near_copper(inputs.copper, outer, inner):
        yield frozenset((near.bore.uid, _uid(near.owner)))


def _holes(inputs: Inputs) -> Iterator[Named]:
    for one, other, _ in inputs.drilled.pairs_below(SHEET.bare_board.hole_to_hole_min_mm):
        yield frozenset((one.uid, other.uid))


def _drills(inputs: Inputs) -> Iterator[Named]:
    limits, drilled = SHEET.bare_board, inputs.drilled
    for bore in (*drilled.unstated, *drilled.bores):
        if not limits.drill_min_mm <= bore.diameter <= limits.drill_max_mm:
            yield frozenset((bore.uid,))


def _rings(inputs: Inputs) -> Iterator[Named]:
    for ring in (*_via_rings(inputs.board, SHEET), *_pad_rings(inputs.board, SHEET)):
        yield frozenset((_uid(ring.item),))


def _tracks(inputs: Inputs) -> Iterator[Named]:
    limits = SHEET.bare_board
    for track in inputs.board.tracks:
        outer = inputs.board.side_of(track.layer) is not None
        if track.width < (limits.track_outer_min_mm if outer else limits.track_inner_min_mm) - 1e-6:
            yield frozenset((track.uid,))


def _edge(inputs: Inputs) -> Iterator[Named]:
    limit = SHEET.bare_board.edge_copper_outer_min_mm
    for near in EdgeCopper(inputs.board, limit, limit).near:
        yield frozenset((_uid(near.piece.item),))


def _courtyards(inputs: Inputs) -> Iterator[Named]:
    for side in Side:
        for one in _overlaps(inputs.bodies.on(side)):
            yield frozenset((one.first.part.uid, one.second.part.uid))


QUESTIONS = {
    "gap": Question(("clearance", "shorting_items", "tracks_crossing", "zones_intersect"), _gaps),
    "hole to copper": Question(("hole_clearance",), _holes_and_copper),
    "hole to hole": Question(("hole_to_hole", "hole_near_hole", "holes_co_located"), _holes),
    "drill": Question(("drill_out_of_range",), _drills),
    "ring": Question(("annular_width",), _rings),
    "track": Question(("track_width",), _tracks),
    "edge": Question(("copper_edge_clearance",), _edge),
    "courtyards": Question(("courtyards_overlap",), _courtyards),
}


def _uid(owner: Any) -> str:
    return str(owner[1].uid if isinstance(owner, tuple) else owner.uid)


def _theirs(question: str, board: Board, found: list[Violation]) -> Iterator[Named]:
    """The editor's answer in the same form: copper near the edge is named alone, whatever the edge is."""
    bare = {pad.uid for _, pad in board.pads if not pad.copper}
    kinds = QUESTIONS[question].kinds
    for violation in found:
        if violation.kind in kinds:
            if question == "edge":
                yield from (frozenset((uid,)) for uid in violation.uids - set(board.outline.uids) - bare)
            else:
                yield violation.uids


def _kinds(board: Board) -> dict[str, str]:
    """What each item is, in a word, by the editor's id."""
    kinds = {part.uid: "part" for part in board.parts}
    kinds.update({pad.uid: "pad" for _, pad in board.pads})
    for name, items in (
        ("track", board.tracks),
        ("via", board.vias),
        ("pour", board.areas),
        ("drawing", board.graphics),
        ("text", board.markings),
    ):
        kinds.update({item.uid: name for item in items})
    return kinds


def _differences(path: Path, cache: Path) -> Counter[tuple[str, str, str, str]]:
    """Question, who alone names it, what kinds of items, by how many pairs."""
    board = demos.read(path)
    inputs, found, kinds = Inputs(board, SHEET), violations(path, SHEET, cache), _kinds(board)
    count: Counter[tuple[str, str, str, str]] = Counter()
    for name, question in QUESTIONS.items():
        ours, theirs = set(question.ours(inputs)), set(_theirs(name, board, found))
        for only, pairs in (("editor", theirs - ours), ("ours", ours - theirs)):
            for pair in pairs:
                what = " and ".join(sorted(kinds.get(uid, "edge") for uid in pair))
                count[demos.name(path), name, only, what] += 1
    return count


def _kept() -> dict[tuple[str, str, str, str], dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {(row["board"], row["question"], row["only"], row["what"]): row for row in rows}


@pytest.fixture(scope="module")
def cache(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept = request.config.cache
    return tmp_path_factory.mktemp("rules") if kept is None else Path(kept.mkdir("rules"))


LARGEST = demos.paths()[-1:]
BOARDS = [
    pytest.param(path, id=demos.name(path), marks=[pytest.mark.long] * (path in LARGEST)) for path in demos.paths()
]
"""The editor takes some minutes for the rules of the largest one."""


@pytest.mark.parametrize("path", BOARDS)
def test_every_difference_from_the_editors_rule_check_is_explained(path: Path, cache: Path) -> None:
    found = _differences(path, cache)
    kept = {key: row for key, row in _kept().items() if key[0] == demos.name(path)}
    new = {key: count for key, count in found.items() if kept.get(key, {}).get("count") != str(count)}
    assert not new, f"differences nobody has explained: {new}"
    assert not set(kept) - set(found), f"explained, but both agree: {set(kept) - set(found)}"


def test_every_explanation_is_written_down() -> None:
    rows = _kept().values()
    assert rows
    assert all(row["reason"] for row in rows)


def test_the_editor_answers_where_there_is_something_to_find(cache: Path) -> None:
    """A rules file the editor did not understand would make both agree on nothing."""
    asked = Counter(v.kind for path in demos.paths() if path not in LARGEST for v in violations(path, SHEET, cache))
    for name, question in QUESTIONS.items():
        assert sum(asked[kind] for kind in question.kinds) > 0, name
