# SPDX-License-Identifier: MIT
"""The display list: what is on it, where, and what is left out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Polygon

import report_sample as sample
from build import (
    BOTTOM,
    COPPER_TOP,
    LEGEND_BOTTOM,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    marking,
    outline,
    pour,
    rectangle,
    track,
    via,
)
from lineworthy import Board, Consequence, Place
from lineworthy.finding import Finding
from lineworthy.geometry import thinned
from lineworthy.model import Graphic, Layer, LayerKind, MarkingRole, Outline, OutlineFault
from lineworthy.picture import POUR_POINTS_MAX, Bounds, Coat, Picture, Role, draw


def coat(picture: Picture, role: Role) -> Coat:
    return next(c for c in picture.coats if c.role is role)


def roles(picture: Picture) -> list[Role]:
    return [c.role for c in picture.coats]


def area_of(rings: tuple) -> float:
    """Net area: holes run the other way and count against it. Sign by orientation."""
    total = 0.0
    for ring in rings:
        x, y = ring[:, 0], ring[:, 1]
        total += float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    return total


def test_every_role_of_the_sample_is_painted_back_to_front() -> None:
    top = draw(sample.sample_board(), TOP)
    assert roles(top) == [
        Role.BOARD,
        Role.POUR,
        Role.COPPER,
        Role.OPENING,
        Role.LAND,
        Role.COURTYARD,
        Role.BODY,
        Role.LEGEND,
        Role.HOLE,
    ]
    bottom = draw(sample.sample_board(), BOTTOM)
    assert Role.UNFITTED in roles(bottom)
    assert Role.OPENING not in roles(bottom)


def test_board_area_with_cutouts_is_kept() -> None:
    cut = rectangle((10, 10), 4, 5)
    made = draw(board(40, 30, outline=outline(40, 30, cutouts=(cut,))), TOP)
    assert area_of(coat(made, Role.BOARD).rings) == pytest.approx(40 * 30 - 20)
    mirrored = draw(board(40, 30, outline=outline(40, 30, cutouts=(cut,))), BOTTOM)
    assert area_of(coat(mirrored, Role.BOARD).rings) == pytest.approx(-(40 * 30 - 20))


def test_overlapping_shapes_fill_by_the_non_zero_rule() -> None:
    """Where two discs with a hole overlap, the winding number is non-zero exactly in their union."""
    rings = (
        rectangle((5, 5), 4, 4).difference(rectangle((5, 5), 1, 1)),
        rectangle((6.5, 5), 4, 4).difference(rectangle((9.5, 5), 0.5, 0.5)),
    )
    loops = coat(draw(board(20, 20, graphics=tuple(graphic(r, uid=str(r)) for r in rings)), TOP), Role.LEGEND).rings
    union = shapely.union_all(rings)
    rng = np.random.default_rng(3)
    for x, y in rng.random((300, 2)) * (10, 10):
        spot = shapely.Point(x, y)
        winding = sum((1 if area_of((loop,)) > 0 else -1) * Polygon(loop).contains(spot) for loop in loops)
        if union.boundary.distance(spot) > 0.02:
            assert (winding != 0) == union.contains(spot), (x, y)


def test_bottom_is_mirrored_with_its_places() -> None:
    finding = Finding(
        "spacing/sample-close", Consequence.NOTE, "m", (Place((10, 5), BOTTOM), Place((10, 5), TOP), Place((1, 1)))
    )
    made = board(40, 30, parts=(chip("R1", (10, 5), side=BOTTOM),))
    bottom = draw(made, BOTTOM, [finding])
    assert [(s.finding, s.place, s.at) for s in bottom.spots] == [(0, 0, (30, 5))]
    body = np.vstack(coat(bottom, Role.BODY).rings)
    assert body.min(axis=0) == pytest.approx((30 - 0.8, 5 - 0.4))
    top = draw(made, TOP, [finding])
    assert [(s.place, s.at) for s in top.spots] == [(1, (10, 5)), (2, (1, 1))]
    assert Role.BODY not in roles(top)


def test_a_place_far_off_the_board_is_brought_to_the_rim() -> None:
    finding = Finding("spacing/sample-close", Consequence.NOTE, "m", (Place((4000, 5), TOP),))
    (spot,) = draw(board(40, 30), TOP, [finding]).spots
    assert 40 < spot.at[0] < 45


def test_a_place_that_is_no_number_is_brought_to_a_corner() -> None:
    finding = Finding("spacing/sample-close", Consequence.NOTE, "m", (Place((math.nan, math.inf), TOP),))
    (spot,) = draw(board(40, 30), TOP, [finding]).spots
    assert spot.at == pytest.approx((-1.6, 31.6))


def test_tracks_that_run_on_are_one_path_and_only_outer_copper_is_drawn() -> None:
    tracks = (
        track((0, 0), (5, 0)),
        track((5, 0), (5, 5)),
        track((1, 9), (2, 9)),
        track((5, 5), (9, 9), layer="inner"),
        track((3, 3), (4, 4), width=0.5),
    )
    made = Board(copper_layers=("top", "inner", "bottom"), tracks=tracks, outline=outline(40, 30))
    strokes = coat(draw(made, TOP), Role.COPPER).strokes
    assert [(s.width, [p.tolist() for p in s.paths]) for s in strokes] == [
        (0.2, [[[0, 0], [5, 0], [5, 5]], [[1, 9], [2, 9]]]),
        (0.5, [[[3, 3], [4, 4]]]),
    ]
    assert draw(made, TOP).omitted == ("Inner layers are not drawn.",)


def test_vias_and_round_lands_are_dots_of_their_diameter() -> None:
    made = board(vias=(via((20, 20), 0.6),), parts=(fiducial("FID1", (3, 4), 1.0),))
    picture = draw(made, TOP)
    assert [(s.width, s.paths[0].tolist()) for s in coat(picture, Role.COPPER).strokes] == [(0.6, [[20, 20]])]
    (land,) = coat(picture, Role.LAND).strokes
    assert land.width == 1.0
    assert land.paths[0][0] == pytest.approx((3, 4))


def test_only_openings_much_larger_than_their_land_are_drawn() -> None:
    picture = draw(board(parts=(fiducial("FID1", (3, 4)), chip("R1", (10, 10)))), TOP)
    assert len(coat(picture, Role.OPENING).rings) == 1


def test_unfilled_pours_are_left_out_and_said_so() -> None:
    filled = pour(rectangle((20, 20), 10, 10))
    unfilled = replace(pour(rectangle((40, 20), 10, 10), uid="u"), rings=(), unfilled=True)
    picture = draw(board(areas=(filled, unfilled)), TOP)
    assert area_of(coat(picture, Role.POUR).rings) == pytest.approx(100)
    assert picture.omitted == ("Pours that are not filled in the document are not drawn.",)


def test_pours_too_fine_for_a_page_become_boundaries_and_it_is_said() -> None:
    comb = np.array([(x / 20, 15 + (x % 2) * 10) for x in range(POUR_POINTS_MAX + 10)])
    ragged = np.vstack([comb, [(comb[-1][0], 0), (0, 0)]])
    area = replace(pour(rectangle((20, 20), 10, 10)), rings=(ragged,))
    picture = draw(board(areas=(area,)), TOP)
    assert area_of(coat(picture, Role.POUR).rings) == pytest.approx(100)
    assert "boundaries" in picture.omitted[0]


def test_text_fills_its_box_and_stands_upright() -> None:
    made = board(markings=(marking("HELLO", (20, 20), rotation=0.0), marking("UP", (5, 5), rotation=90.0)))
    hello, up = draw(made, TOP).words
    assert (hello.text, hello.at, hello.rotation) == ("HELLO", pytest.approx((20, 20)), 0)
    assert hello.size == pytest.approx((4.5, 1.0))
    assert up.rotation == 90


@pytest.mark.parametrize(
    ("rotation", "side", "seen"),
    [(0, TOP, 0), (180, TOP, 0), (90, TOP, 90), (270, TOP, 90), (45, TOP, 45), (45, BOTTOM, -45), (135, TOP, -45)],
)
def test_text_never_stands_on_its_head(rotation: float, side, seen: float) -> None:
    layer = LEGEND_BOTTOM if side is BOTTOM else Layer("F.SilkS", LayerKind.LEGEND, TOP)
    (words,) = draw(board(markings=(marking("AB", (20, 20), layer, rotation=rotation),)), side).words
    assert words.rotation == pytest.approx(seen)


def test_lines_of_a_text_stand_below_each_other() -> None:
    box = rectangle((20, 20), 6, 4)
    made = replace(marking("LONGER\nAB", (20, 20)), extents=box)
    first, second = draw(board(markings=(made,)), TOP).words
    assert (first.at, first.size) == (pytest.approx((20, 21)), (6, 2))
    assert (second.at, second.size) == (pytest.approx((20, 19)), (2, 2))


def test_hidden_and_drawing_texts_are_not_on_the_board() -> None:
    drawing = Layer("Dwgs.User", LayerKind.DRAWING)
    made = board(markings=(marking("A", hidden=True), marking("B", layer=drawing), marking("  ")))
    assert draw(made, TOP).words == ()


def test_a_part_is_labelled_when_its_reference_is_not_printed() -> None:
    named = marking("R1", (10, 12), role=MarkingRole.REFERENCE, part_uid="part-R1")
    made = board(parts=(chip("R1", (10, 10)), chip("R2", (20, 10), rotation=90.0)), markings=(named,))
    words = draw(made, TOP).words
    assert [(w.text, w.is_label) for w in words] == [("R1", False), ("R2", True)]
    assert words[1].rotation == 90
    assert words[1].size[0] <= 1.6


def test_bounds_without_an_outline_come_from_what_there_is() -> None:
    edge = Layer("Edge.Cuts", LayerKind.OUTLINE)
    nothing = Outline(Polygon(), (OutlineFault("open", (0, 0), 1.0),))
    open_board = Board(outline=nothing, graphics=(Graphic("e", edge, rectangle((10, 5), 20, 10)),))
    picture = draw(open_board, TOP)
    assert picture.bounds == Bounds(0, 0, 20, 10)
    assert roles(picture) == [Role.EDGE]
    assert draw(Board(parts=(chip("R1", (3, 3)),)), TOP).bounds.span > 1
    assert draw(Board(), TOP).bounds.span == 10


def test_copper_drawn_as_artwork_is_copper() -> None:
    picture = draw(board(graphics=(graphic(rectangle((5, 5), 2, 2), COPPER_TOP),)), TOP)
    assert area_of(coat(picture, Role.COPPER).rings) == pytest.approx(4)


@pytest.mark.parametrize("count", [2, 3, 400, 401, 402, 801, 5000])
def test_thinned_paths_keep_their_ends_and_stay_within_tolerance(count: int) -> None:
    turn = np.linspace(0, 6, count)
    spiral = np.column_stack([turn * np.cos(turn), turn * np.sin(turn)])
    straight = np.column_stack([np.linspace(0, 1, count), np.zeros(count)])
    first, second = thinned([spiral, straight], 0.01)
    assert first[[0, -1]] == pytest.approx(spiral[[0, -1]])
    assert second[[0, -1]] == pytest.approx(straight[[0, -1]])
    line = shapely.LineString(first)
    assert max(line.distance(shapely.Point(p)) for p in spiral) <= 0.01 + 1e-9
    assert len(second) <= 2 + count // 400
    if count == 5000:
        assert len(first) < 200


def test_a_very_ragged_path_does_not_end_the_process() -> None:
    """The library's own thinning recurses once per kept point and overflows the stack on this."""
    ragged = np.column_stack([np.arange(300_000) / 10, np.arange(300_000) % 2 * 10.0])
    (kept,) = thinned([ragged], 0.01)
    assert len(kept) == len(ragged)
