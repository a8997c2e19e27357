# SPDX-License-Identifier: MIT
"""Distances, rings, drills, courtyards and legend against the editor's own rule check with the same limits.

Every pair of items that only one of the two names is in `rule_check_differences.csv`, with the reason. Measured are
all pairs there are, not findings: which of them a check leaves out on purpose is judged elsewhere.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Callable, NamedTuple, Optional

import pytest
import shapely
from rule_check import Violation, violations

import demos
from lineworthy.checks.bare_board import _pad_rings, _via_rings
from lineworthy.checks.spacing_courtyards import _overlaps
from lineworthy.inputs import Inputs
from lineworthy.knowledge.edge import EdgeCopper
from lineworthy.knowledge.gaps import gaps_below
from lineworthy.model import Board, Graphic, LayerKind, Side
from lineworthy.sheet import Sheet, built_in

pytestmark = [pytest.mark.editor, pytest.mark.slow]

TABLE = Path(__file__).with_name("rule_check_differences.csv")
STOPS_AT = 199
"""The editor stops counting violations of a type about here."""

Named = frozenset[str]
Row = tuple[str, str, str, str, str]


class Question(NamedTuple):
    """What both are asked: the editor's types of violations, and who of ours answers with sets of item ids."""

    kinds: tuple[str, ...]
    ours: Callable[[Inputs], Iterator[Named]]


def _gaps(inputs: Inputs) -> Iterator[Named]:
    limits = inputs.sheet.bare_board
    for layer in inputs.copper:
        outer = inputs.board.side_of(layer.name) is not None
        for gap in gaps_below(layer, limits.gap_outer_min_mm if outer else limits.gap_inner_min_mm):
            yield frozenset((_uid(gap.one), _uid(gap.other)))


def _holes_and_copper(inputs: Inputs) -> Iterator[Named]:
    limits = inputs.sheet.bare_board
    outer, inner = limits.hole_to_copper_outer_min_mm, limits.hole_to_copper_inner_min_mm
    for near in inputs.drilled.near_copper(inputs.copper, outer, inner):
        yield frozenset((near.bore.uid, _uid(near.owner)))


def _holes(inputs: Inputs) -> Iterator[Named]:
    for one, other, _ in inputs.drilled.pairs_below(inputs.sheet.bare_board.hole_to_hole_min_mm):
        yield frozenset((one.uid, other.uid))


def _drills(inputs: Inputs) -> Iterator[Named]:
    limits, drilled = inputs.sheet.bare_board, inputs.drilled
    for bore in (*drilled.unstated, *drilled.bores):
        if not limits.drill_min_mm <= bore.diameter <= limits.drill_max_mm:
            yield frozenset((bore.uid,))


def _rings(inputs: Inputs) -> Iterator[Named]:
    for ring in (*_via_rings(inputs.board, inputs.sheet), *_pad_rings(inputs.board, inputs.sheet)):
        yield frozenset((_uid(ring.item),))


def _tracks(inputs: Inputs) -> Iterator[Named]:
    limits = inputs.sheet.bare_board
    for track in inputs.board.tracks:
        outer = inputs.board.side_of(track.layer) is not None
        if track.width < (limits.track_outer_min_mm if outer else limits.track_inner_min_mm) - 1e-6:
            yield frozenset((track.uid,))


def _edge(inputs: Inputs) -> Iterator[Named]:
    limit = inputs.sheet.bare_board.edge_copper_outer_min_mm
    for near in EdgeCopper(inputs.board, inputs.copper, limit, limit).near:
        yield frozenset((_uid(near.piece.item),))


def _courtyards(inputs: Inputs) -> Iterator[Named]:
    for side in Side:
        for one in _overlaps(inputs.bodies.on(side)):
            yield frozenset((one.first.part.uid, one.second.part.uid))


def _legend_on_openings(inputs: Inputs) -> Iterator[Named]:
    for side in Side:
        drawn = [graphic for graphic in _drawn_legend(inputs.board) if graphic.layer.side is side]
        tree = shapely.STRtree([graphic.shape for graphic in drawn])
        _, found = tree.query(inputs.mask.openings(side).shapes, predicate="intersects")
        yield from (frozenset((drawn[n].uid,)) for n in found.tolist())


def _legend_at_edge(inputs: Inputs) -> Iterator[Named]:
    edge = inputs.board.outline.edge
    yield from (frozenset((graphic.uid,)) for graphic in _drawn_legend(inputs.board) if graphic.shape.intersects(edge))


def _drawn_legend(board: Board) -> list[Graphic]:
    """Drawings alone: of texts we know the box, the editor the strokes."""
    return [graphic for graphic in board.graphics if graphic.layer.kind is LayerKind.LEGEND]


QUESTIONS = {
    "gap": Question(("clearance", "shorting_items", "tracks_crossing", "zones_intersect"), _gaps),
    "hole to copper": Question(("hole_clearance",), _holes_and_copper),
    "hole to hole": Question(("hole_to_hole", "hole_near_hole", "holes_co_located"), _holes),
    "drill": Question(("drill_out_of_range",), _drills),
    "ring": Question(("annular_width",), _rings),
    "track": Question(("track_width",), _tracks),
    "edge": Question(("copper_edge_clearance",), _edge),
    "courtyards": Question(("courtyards_overlap",), _courtyards),
    "legend on openings": Question(("silk_over_copper",), _legend_on_openings),
    "legend at the edge": Question(("silk_edge_clearance",), _legend_at_edge),
}


def _uid(owner: Any) -> str:
    return str(owner[1].uid if isinstance(owner, tuple) else owner.uid)


def _theirs(question: str, board: Board, found: list[Violation]) -> Iterator[Named]:
    """The editor's answer in the same form: what is near the edge or in an opening is named alone."""
    alone: Optional[set[str]] = None
    if question == "edge":
        bare = {pad.uid for _, pad in board.pads if not pad.copper}
        alone = set(_kinds(board)) - bare - set(board.outline.uids)
    elif question.startswith("legend"):
        alone = {graphic.uid for graphic in _drawn_legend(board)}
    kinds = QUESTIONS[question].kinds
    for violation in found:
        if violation.kind in kinds:
            named = [violation.uids] if alone is None else [frozenset((uid,)) for uid in violation.uids & alone]
            yield from named


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


def _differences(path: Path, sheet: Sheet, cache: Path) -> Counter[Row]:
    """Board, sheet, question, who alone names it, what kinds of items, by how many pairs.

    Where the editor stopped counting only what it did name is compared.
    """
    board = demos.read(path)
    inputs, found, kinds = Inputs(board, sheet), violations(path, sheet, cache), _kinds(board)
    types = Counter(violation.kind for violation in found)
    count: Counter[Row] = Counter()
    for name, question in QUESTIONS.items():
        ours, theirs = set(question.ours(inputs)), set(_theirs(name, board, found))
        stopped = any(types[kind] >= STOPS_AT for kind in question.kinds)
        for only, pairs in (("editor", theirs - ours), ("ours", set() if stopped else ours - theirs)):
            for pair in pairs:
                what = " and ".join(sorted(kinds.get(uid, "edge") for uid in pair))
                count[demos.name(path), sheet.base, name, only, what] += 1
    return count


def _kept() -> dict[Row, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {(row["board"], row["sheet"], row["question"], row["only"], row["what"]): row for row in rows}


@pytest.fixture(scope="module")
def cache(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept = request.config.cache
    return tmp_path_factory.mktemp("rules") if kept is None else Path(kept.mkdir("rules"))


LARGEST = demos.paths()[-1]
CASES = [pytest.param(path, "standard", id=demos.name(path)) for path in demos.paths() if path != LARGEST] + [
    pytest.param(LARGEST, tier, id=f"{demos.name(LARGEST)}-{tier}", marks=pytest.mark.long)
    for tier in ("standard", "dense")
]
"""The editor takes minutes for the rules of the largest board, and counts to the end only with limits that suit it."""


@pytest.mark.parametrize(("path", "tier"), CASES)
def test_every_difference_from_the_editors_rule_check_is_explained(path: Path, tier: str, cache: Path) -> None:
    found = _differences(path, built_in(tier), cache)
    kept = {key: row for key, row in _kept().items() if key[:2] == (demos.name(path), tier)}
    new = {key: count for key, count in found.items() if kept.get(key, {}).get("count") != str(count)}
    assert not new, f"differences nobody has explained: {new}"
    assert not set(kept) - set(found), f"explained, but both agree: {set(kept) - set(found)}"


def test_every_explanation_is_written_down() -> None:
    rows = _kept().values()
    assert rows
    assert all(row["reason"] for row in rows)


def test_the_editor_answers_where_there_is_something_to_find(cache: Path) -> None:
    """A rules file the editor did not understand would make both agree on nothing."""
    paths = [path for path in demos.paths() if path != LARGEST]
    asked = Counter(v.kind for path in paths for v in violations(path, built_in(), cache))
    for name, question in QUESTIONS.items():
        assert sum(asked[kind] for kind in question.kinds) > 0, name
