# SPDX-License-Identifier: MIT
"""Free regions and pours that give way, on boards where the answer is known."""

from __future__ import annotations

import math
from itertools import islice

import numpy as np
import pytest
import shapely

import build
from lineworthy.amend.pours import gives_way, inside, local_fill, pulled_back, touching
from lineworthy.amend.space import Kind, Need, Space
from lineworthy.model import Side
from lineworthy.shapes import disc

TOP = Side.TOP


def need(radius: float = 0.5, net: str = "", **gaps: float) -> Need:
    return Need(radius, {Kind[name.upper()]: gap for name, gap in gaps.items()}, ("top",), (TOP,), net)


def window(width: float = 60.0, height: float = 40.0) -> shapely.Polygon:
    return shapely.box(0, 0, width, height)


def test_an_empty_board_is_free_up_to_radius_and_gap_from_its_edge() -> None:
    space = Space(build.board(60, 40))
    free = space.centres(window(), need(0.5, edge=1.0))
    # 0.5 + 1.0 from each edge, and up to a hundredth more for arcs and chords
    assert free.bounds == pytest.approx((1.5, 1.5, 58.5, 38.5), abs=0.02)
    assert free.bounds[0] >= 1.5


@pytest.mark.parametrize("gap", [0.2, 0.5, 2.0])
def test_a_thing_is_kept_at_its_gap_and_no_further(gap: float) -> None:
    land = build.round_pad("1", (30, 20), 2.0, net="A")
    space = Space(build.board(60, 40, parts=(build.part("R1", (30, 20), (land,)),)))
    free = space.centres(window(), need(0.5, copper=gap))
    reach = free.distance(shapely.Point(30, 20))
    assert 1.0 + 0.5 + gap <= reach <= (1.0 + 0.5 + gap) * 1.01 + 0.011


def test_copper_of_the_same_net_is_no_obstacle() -> None:
    board = build.board(60, 40, tracks=(build.track((10, 20), (50, 20), net="A"),))
    space = Space(board)
    assert space.centres(window(), need(net="A", copper=0.2)).covers(shapely.Point(30, 20))
    assert not space.centres(window(), need(net="B", copper=0.2)).covers(shapely.Point(30, 20))


def test_what_matters_is_what_is_named_and_on_the_right_side() -> None:
    chip = build.chip("R1", (30, 20), side=Side.BOTTOM)
    space = Space(build.board(60, 40, parts=(chip,)))
    assert space.centres(window(), need(copper=0.2, part=1.0, mask=0.2)).covers(shapely.Point(30, 20))
    below = Need(0.5, {Kind.PART: 1.0}, ("bottom",), (Side.BOTTOM,))
    assert not space.centres(window(), below).covers(shapely.Point(30, 20))


def test_places_come_in_growing_distance_and_apart() -> None:
    board = build.board(60, 40, parts=(build.hole("H1", (5, 5), 6.0),))
    spots = list(islice(Space(board).nearest((0.0, 0.0), need(0.5, edge=0.5, hole=0.5)), 40))
    distances = [math.hypot(*spot) for spot in spots]
    assert len(spots) == 40
    assert all(a <= b + 0.1 for a, b in zip(distances, distances[1:]))  # the grid of 0.05 mm may swap neighbours
    gaps = shapely.distance(np.array(shapely.points(spots))[:, None], np.array(shapely.points(spots))[None])
    assert gaps[np.triu_indices(40, 1)].min() > 0.85


def test_the_nearest_place_is_the_nearest_of_the_whole_region() -> None:
    parts = tuple(build.hole(f"H{n}", (8.0 * n + 4, 20.0), 7.0) for n in range(7))
    space = Space(build.board(60, 40, parts=parts))
    asked = need(1.0, edge=0.5, hole=0.5)
    first = next(space.nearest((30.0, 20.0), asked))
    whole = space.centres(window(), asked)
    assert math.hypot(first[0] - 30, first[1] - 20) == pytest.approx(whole.distance(shapely.Point(30, 20)), abs=0.08)
    assert whole.distance(shapely.Point(first)) < 1e-6


def test_what_is_planned_keeps_others_away() -> None:
    space = Space(build.board(60, 40))
    asked = need(0.5, edge=0.5, planned=1.0)
    first = next(space.nearest((0.0, 0.0), asked))
    space.reserve(disc(first, 1.0), TOP)
    second = next(space.nearest((0.0, 0.0), asked))
    assert math.dist(first, second) >= 0.5 + 1.0 + 0.5


def test_a_rule_area_that_bans_pads_is_kept_free() -> None:
    from lineworthy.model import KeepOut

    for bans, is_free in (({"pads"}, False), ({"parts"}, False), ({"tracks"}, True)):
        area = KeepOut("k", shapely.box(20, 10, 40, 30), frozenset({"top"}), frozenset(bans))
        space = Space(build.board(60, 40, keepouts=(area,)))
        assert space.centres(window(), need(rule=0.0)).covers(shapely.Point(30, 20)) is is_free


def test_a_class_with_a_wider_clearance_is_honoured() -> None:
    from lineworthy.model import Net, NetClass

    track = build.track((10, 20), (50, 20), net="HV")
    nets = {"HV": Net("HV", "high voltage")}
    classes = {"high voltage": NetClass("high voltage", clearance=3.0)}
    space = Space(build.board(60, 40, tracks=(track,), nets=nets, net_classes=classes))
    free = space.centres(window(), need(0.5, copper=0.2))
    assert free.distance(shapely.Point(30, 20)) == pytest.approx(0.1 + 3.0 + 0.5, abs=0.05)


def test_a_wide_pour_gives_way_and_a_neck_does_not() -> None:
    wide = build.pour(shapely.box(5, 5, 55, 35))
    neck = build.pour(
        shapely.union_all([shapely.box(5, 5, 25, 35), shapely.box(25, 18, 35, 20), shapely.box(35, 5, 55, 35)])
    )
    assert gives_way(wide, (30.0, 20.0), 1.0)
    assert not gives_way(neck, (30.0, 19.0), 1.0)
    assert gives_way(neck, (15.0, 20.0), 1.0)


def test_cutting_a_corner_off_a_pour_is_no_harm() -> None:
    assert gives_way(build.pour(shapely.box(5, 5, 55, 35)), (5.0, 5.0), 1.0)


def test_a_pour_between_two_holes_may_not_be_cut_in_two() -> None:
    ground = shapely.box(5, 5, 55, 35).difference(shapely.box(5, 10, 29, 30)).difference(shapely.box(31, 10, 55, 30))
    assert not gives_way(build.pour(ground), (30.0, 20.0), 0.9)


def test_a_pour_pulled_back_leaves_the_disc_and_nothing_else() -> None:
    ground = shapely.box(5, 5, 55, 35).difference(disc((12, 20), 4)).difference(disc((48, 20), 6))
    pour = build.pour(ground)
    for at in ((30.0, 20.0), (5.0, 20.0), (12.0, 22.0)):
        left = pulled_back(pour, (at, 1.5)).fill
        assert left.area == pytest.approx(ground.difference(disc(at, 3.0)).area, rel=1e-6)
        assert not left.buffer(-1e-6).intersects(disc(at, 2.9))
        assert [a.uid for a in touching(build.board(areas=(pulled_back(pour, (at, 1.5)),)), "top", at, 1.4)] == []


def test_the_cuts_that_join_holes_are_no_edges() -> None:
    ground = shapely.box(5, 5, 55, 35).difference(disc((30, 20), 4))
    pour = pulled_back(build.pour(shapely.box(5, 5, 55, 35)), ((30.0, 20.0), 2.0))
    deep = inside([pour], shapely.box(0, 0, 60, 40), 1.0)
    assert deep.area == pytest.approx(ground.buffer(-1.0).area, rel=2e-3)
    assert local_fill(pour, shapely.box(25, 15, 35, 25)).area == pytest.approx(100 - math.pi * 4, rel=2e-3)


def test_a_pour_with_many_holes_is_drawn_back_to_the_same_copper() -> None:
    """Holes in rows, some beside and some behind each other, some touching what is taken out."""
    plane = shapely.box(0, 0, 60, 40)
    for column in range(12):
        for row in range(8):
            plane = plane.difference(disc((3 + 5 * column, 2.5 + 5 * row + 0.3 * (column % 3)), 2.0 + 0.1 * row))
    discs = [((30.5, 20.0), 2.0), ((0.0, 20.0), 3.0), ((8.0, 7.5), 0.4), ((45.0, 38.0), 1.5)]
    source = build.pour(plane)
    drawn = pulled_back(source, *discs)
    wanted = plane.difference(shapely.union_all([disc(at, 2 * radius) for at, radius in discs]))
    assert len(drawn.rings) == len(shapely.get_parts(wanted))
    assert drawn.fill.symmetric_difference(wanted).area < 1e-6
    for ring in drawn.rings:
        polygon = shapely.Polygon(ring)
        assert polygon.area == pytest.approx(shapely.Polygon(polygon.exterior).buffer(0).area, rel=1e-9)
    again = pulled_back(drawn, ((20.0, 30.0), 1.0))
    assert again.fill.symmetric_difference(wanted.difference(disc((20.0, 30.0), 2.0))).area < 1e-6
