# SPDX-License-Identifier: MIT
"""What must hold for any board: a review sees the design, not where it lies."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import demos
from lineworthy import Board, Review, review
from lineworthy.model import Graphic, Layer, LayerKind, Marking, Outline, Part, Side, Track, Via
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board
from transform import Motion, mirrored, moved, quarter_turns, transform

OURS = sorted((Path(__file__).parents[1] / "demo").rglob("*.kicad_pcb"))
THEIRS = [path for path in demos.paths() if path.stat().st_size < 1_500_000]


def said(result: Review) -> Counter:
    """What a review says, without places."""
    return Counter(
        (f.check, f.consequence, f.message, f.fingerprint, f.uids, len(f.places), f.limit) for f in result.findings
    ) + Counter((n.check, n.missing, n.how) for n in result.not_run)


def assert_same(before: Review, after: Review) -> None:
    ours, theirs = said(before), said(after)
    assert not ours - theirs, f"gone: {next(iter(ours - theirs))}"
    assert not theirs - ours, f"new: {next(iter(theirs - ours))}"
    for one, two in zip(before.findings, after.findings):
        if one.measured is not None and two.measured is not None:
            assert one.measured == pytest.approx(two.measured, abs=1e-3)


MOTIONS = {
    "moved": moved(123.4567, -77.7777),
    "quarter turn": quarter_turns(1),
    "half turn": quarter_turns(2),
    "mirrored": mirrored(),
}


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.stem)
@pytest.mark.parametrize("motion", MOTIONS.values(), ids=MOTIONS)
def test_motion_changes_only_places_on_our_boards(path: Path, motion: Motion) -> None:
    board = read_board(path)
    assert_same(review(board, strict=True), review(transform(board, motion), strict=True))


@pytest.mark.editor
@pytest.mark.parametrize("path", THEIRS, ids=lambda path: path.stem)
def test_motion_changes_only_places_on_demo_boards(path: Path) -> None:
    board = demos.read(path)
    before = review(board, strict=True)
    for motion in MOTIONS.values():
        assert_same(before, review(transform(board, motion), strict=True))


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(dx=st.floats(-500, 500), dy=st.floats(-500, 500), turns=st.integers(0, 3))
def test_any_move_and_turn_changes_only_places(dx: float, dy: float, turns: int) -> None:
    board = read_board(OURS[0])
    there = transform(transform(board, quarter_turns(turns)), moved(dx, dy))
    assert_same(review(board, strict=True), review(there, strict=True))


def with_far_items(board: Board) -> Board:
    """The board and, half a metre away, things that belong to no board."""
    at = (board.outline.area.bounds[2] + 500.0, board.outline.area.bounds[3] + 500.0)
    box = shapely.box(at[0], at[1], at[0] + 3, at[1] + 1)
    legend = Layer("legend", LayerKind.LEGEND, Side.TOP)
    drawing = Layer("drawing", LayerKind.DRAWING)
    return replace(
        board,
        graphics=(*board.graphics, Graphic("far-graphic", legend, box)),
        markings=(*board.markings, Marking("far-text", "notes to self", drawing, at, 1.0, 0.15, box)),
        parts=(*board.parts, Part("far-part", "X99", at, fitted=False, in_parts_list=False, in_placement=False)),
    )


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.stem)
def test_far_items_change_nothing(path: Path) -> None:
    board = read_board(path)
    assert_same(review(board, strict=True), review(with_far_items(board), strict=True))


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.stem)
def test_same_input_same_bytes(path: Path) -> None:
    first, second = review(read_board(path)), review(read_board(path))
    for name, report in FORMATS.items():
        assert report.render(first) == report.render(second), name


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.stem)
def test_item_order_in_the_file_changes_nothing(path: Path) -> None:
    board = read_board(path)
    backwards = replace(
        board,
        parts=board.parts[::-1],
        tracks=board.tracks[::-1],
        vias=board.vias[::-1],
        areas=board.areas[::-1],
        markings=board.markings[::-1],
        graphics=board.graphics[::-1],
    )
    assert said(review(board, strict=True)) == said(review(backwards, strict=True))


def test_the_comparison_would_notice_a_changed_board() -> None:
    board = read_board(OURS[0])
    before = review(board, strict=True)
    for changed in (
        replace(board, outline=Outline(board.outline.area.buffer(-3.0))),
        replace(board, parts=tuple(part for part in board.parts if not part.reference.startswith("FID"))),
        replace(board, vias=(*board.vias, Via("thin", board.parts[0].at, 0.35, 0.30, board.copper_layers[:1] * 2))),
    ):
        with pytest.raises(AssertionError):
            assert_same(before, review(changed, strict=True))


def test_transforms_do_what_they_say() -> None:
    track = Track("t", (1.0, 2.0), (3.0, 4.0), 0.2, "top")
    board = Board(tracks=(track,))
    assert transform(board, quarter_turns(1)).tracks[0].start == (-2.0, 1.0)
    assert transform(board, mirrored()).tracks[0].end == (-3.0, 4.0)
    assert transform(board, moved(1, 1)).tracks[0].start == (2.0, 3.0)
    assert mirrored().angle(30.0) == 150.0
