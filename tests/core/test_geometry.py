# SPDX-License-Identifier: MIT
"""Measuring: pairs against brute force, arcs behind chords, depth in copper, both sides of the tolerance."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from lineworthy.geometry import (
    TOL_MM,
    depth,
    edges,
    exceeds,
    falls_short,
    pairs_within,
    spine,
    true_sizes,
    width_and_length,
)
from lineworthy.model import Hole
from lineworthy.shapes import ARC_TOL_MM, arc_points, disc, quad_segs, stadium

LENGTH = st.floats(0.05, 20.0)
PLACE = st.tuples(st.floats(-30, 30), st.floats(-30, 30))
TURN = st.floats(0, 360)


@st.composite
def shapes(draw):
    kind = draw(st.sampled_from(["box", "disc", "stadium", "line", "point"]))
    x, y = draw(PLACE)
    if kind == "point":
        return shapely.Point(x, y)
    a, b = draw(LENGTH), draw(LENGTH)
    if kind == "line":
        return shapely.LineString([(x, y), (x + a, y - b)])
    if kind == "disc":
        return disc((x, y), a)
    if kind == "stadium":
        return stadium((x, y), (a, b), draw(TURN))
    return affinity.rotate(shapely.box(x, y, x + a, y + b), draw(TURN))


def brute(ours, theirs, reach):
    return {
        (i, j): a.distance(b)
        for i, a in enumerate(ours)
        for j, b in enumerate(theirs)
        if a.distance(b) <= reach[i] + TOL_MM
    }


@settings(max_examples=60, deadline=None)
@given(st.lists(shapes(), max_size=12), st.lists(shapes(), max_size=12), st.floats(0, 10))
def test_pairs_of_two_lists_are_those_of_brute_force(ours, theirs, reach) -> None:
    i, j, gaps = pairs_within(ours, theirs, reach)
    expected = brute(ours, theirs, [reach] * len(ours))
    assert list(zip(i.tolist(), j.tolist())) == sorted(expected)
    assert gaps.tolist() == [expected[pair] for pair in sorted(expected)]


@settings(max_examples=60, deadline=None)
@given(st.lists(shapes(), max_size=15), st.floats(0, 10))
def test_pairs_within_one_list_come_once_each(ours, reach) -> None:
    i, j, gaps = pairs_within(ours, None, reach)
    expected = {pair: gap for pair, gap in brute(ours, ours, [reach] * len(ours)).items() if pair[0] < pair[1]}
    assert list(zip(i.tolist(), j.tolist())) == sorted(expected)
    assert gaps.tolist() == [expected[pair] for pair in sorted(expected)]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(shapes(), st.floats(0, 10)), max_size=10), st.lists(shapes(), max_size=10))
def test_each_geometry_can_have_its_own_reach(ours, theirs) -> None:
    reach = [own for _, own in ours]
    i, j, _ = pairs_within([shape for shape, _ in ours], theirs, np.array(reach))
    assert list(zip(i.tolist(), j.tolist())) == sorted(brute([shape for shape, _ in ours], theirs, reach))


@pytest.mark.parametrize(("gap", "found"), [(0.5, 1), (0.5 + TOL_MM / 2, 1), (0.5 + 2 * TOL_MM, 0), (0.0, 1)])
def test_pairs_exactly_at_reach_count(gap: float, found: int) -> None:
    left, right = shapely.box(0, 0, 1, 1), shapely.box(1 + gap, 0, 2 + gap, 1)
    assert len(pairs_within([left], [right], 0.5)[0]) == found


def test_nothing_gives_nothing() -> None:
    for ours, theirs in (([], None), ([], [shapely.Point(0, 0)]), ([shapely.Point(0, 0)], [])):
        assert [len(part) for part in pairs_within(ours, theirs, 1.0)] == [0, 0, 0]
    assert len(pairs_within([shapely.Polygon()], [shapely.Point(0, 0)], 1.0)[0]) == 0


def test_equality_is_decided_once() -> None:
    assert not falls_short(0.25, 0.25)
    assert not falls_short(0.25 - TOL_MM / 2, 0.25)
    assert falls_short(0.25 - 2 * TOL_MM, 0.25)
    assert not exceeds(0.25, 0.25)
    assert not exceeds(0.25 + TOL_MM / 2, 0.25)
    assert exceeds(0.25 + 2 * TOL_MM, 0.25)


# --- arcs behind chords


@settings(deadline=None)
@given(st.floats(0.03, 50.0), PLACE)
def test_a_disc_has_the_area_of_a_circle(diameter: float, at) -> None:
    area, outline = true_sizes([disc(at, diameter)])
    assert area[0] == pytest.approx(math.pi * diameter**2 / 4, rel=1e-6)
    assert outline[0] == pytest.approx(math.pi * diameter, rel=1e-6)


@settings(deadline=None)
@given(st.floats(0.3, 5.0), st.floats(0.05, 0.98), PLACE, TURN)
def test_a_stadium_is_a_rectangle_and_a_circle(length: float, part: float, at, turn: float) -> None:
    width = length * part
    area, outline = true_sizes([stadium(at, (length, width), turn)])
    assert area[0] == pytest.approx(math.pi * width**2 / 4 + (length - width) * width, rel=1e-4)
    assert outline[0] == pytest.approx(math.pi * width + 2 * (length - width), rel=1e-4)


@settings(deadline=None)
@given(st.floats(0.2, 5.0), st.floats(0.2, 5.0), st.floats(0.05, 0.45), TURN)
def test_a_rounded_rectangle_keeps_its_straight_sides(width: float, height: float, part: float, turn: float) -> None:
    radius = part * min(width, height)
    core = shapely.box(radius, radius, width - radius, height - radius)
    shape = affinity.rotate(core.buffer(radius, quad_segs=quad_segs(radius)), turn)
    area, outline = true_sizes([shape])
    assert area[0] == pytest.approx(width * height - (4 - math.pi) * radius**2, rel=1e-4)
    assert outline[0] == pytest.approx(2 * (width + height) - (8 - 2 * math.pi) * radius, rel=1e-4)


def test_straight_shapes_have_no_arcs() -> None:
    octagon = shapely.Point(0, 0).buffer(1.0, quad_segs=2)
    for shape in (shapely.box(0, 0, 3, 2), affinity.rotate(shapely.box(0, 0, 0.1, 0.1), 33), octagon):
        assert not edges([shape]).sweep.any()
    assert true_sizes([octagon])[0][0] == pytest.approx(octagon.area)


def test_a_hole_in_a_polygon_bulges_inwards() -> None:
    plate = shapely.box(0, 0, 10, 10).difference(disc((5, 5), 4.0))
    area, outline = true_sizes([plate, shapely.box(0, 0, 1, 1)])
    assert area == pytest.approx([100 - 4 * math.pi, 1.0])
    assert outline == pytest.approx([40 + 4 * math.pi, 4.0])
    around = edges([plate])
    assert (around.sagitta <= 1e-12).all()
    assert around.sagitta.min() < -ARC_TOL_MM / 10


def test_edges_name_their_polygon_and_skip_points_written_twice() -> None:
    doubled = shapely.Polygon([(0, 0), (1, 0), (1, 0), (1, 1), (0, 1)])
    around = edges([shapely.box(5, 5, 6, 7), doubled])
    assert around.owner.tolist() == [0] * 4 + [1] * 4
    assert around.length.tolist() == pytest.approx([2, 1, 2, 1, 1, 1, 1, 1])
    assert len(edges([]).owner) == 0
    assert [len(part) for part in true_sizes([])] == [0, 0]


@pytest.mark.parametrize("turn", [0.0, 90.0, 17.0])
def test_width_and_length_follow_the_shape(turn: float) -> None:
    assert width_and_length(affinity.rotate(shapely.box(0, 0, 0.3, 2.0), turn)) == pytest.approx((0.3, 2.0))
    assert width_and_length(stadium((1, 1), (2.0, 0.5), turn)) == pytest.approx((0.5, 2.0), abs=2 * ARC_TOL_MM)
    assert width_and_length(shapely.LineString([(0, 0), (3, 4)])) == pytest.approx((0.0, 5.0))


# --- how deep a hole lies in its copper


@pytest.mark.parametrize("turn", [0.0, 90.0, 123.0])
def test_the_spine_of_a_slot_is_as_long_as_the_slot_less_its_width(turn: float) -> None:
    line = spine(Hole((1.0, 2.0), (2.0, 0.6), True, turn))
    assert line.length == pytest.approx(1.4)
    assert line.centroid.coords[0] == pytest.approx((1.0, 2.0))
    assert stadium((1.0, 2.0), (2.0, 0.6), turn).symmetric_difference(line.buffer(0.3, quad_segs=64)).area < 0.01
    assert spine(Hole((1.0, 2.0), (0.6, 0.6), True, turn)).equals(shapely.Point(1.0, 2.0))


@settings(deadline=None)
@given(st.floats(0.3, 8.0), st.floats(0.0, 0.45), TURN)
def test_depth_in_a_round_land_is_that_in_a_circle(diameter: float, off: float, turn: float) -> None:
    at = (off * diameter * math.cos(turn), off * diameter * math.sin(turn))
    true = diameter / 2 - off * diameter
    assert depth(shapely.Point(at), disc((0, 0), diameter)) == pytest.approx(true, abs=ARC_TOL_MM / 5)
    assert depth(shapely.Point(0, 0), disc((0, 0), diameter)) == pytest.approx(diameter / 2, abs=1e-9)


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
def test_depth_of_a_slot_in_an_oval_land_is_the_same_all_round(turn: float) -> None:
    land, way = stadium((0, 0), (2.0, 1.0), turn), spine(Hole((0, 0), (1.5, 0.5), True, turn))
    assert depth(way, land) == pytest.approx(0.5, abs=1e-9)


def test_depth_outside_is_negative() -> None:
    land = shapely.box(-1, -1, 1, 1)
    assert depth(shapely.Point(0.6, 0), land) == pytest.approx(0.4)
    assert depth(shapely.Point(3, 0), land) == pytest.approx(-2.0)
    assert depth(shapely.LineString([(0, 0), (1.5, 0)]), land) == pytest.approx(-0.5)


@settings(deadline=None)
@given(st.floats(0.5, 20), st.one_of(st.floats(5, 165), st.floats(195, 355)), st.floats(0, 360))
def test_an_arc_of_a_polygon_is_seen_as_one(radius: float, sweep: float, start: float) -> None:
    angles = np.radians([start, start + sweep / 2, start + sweep])
    first, mid, last = ((radius * math.cos(a), radius * math.sin(a)) for a in angles)
    points = arc_points(first, mid, last)
    if len(points) < 4:
        return
    pie = shapely.Polygon([*points, (0.0, 0.0)])
    area, _ = true_sizes([pie])
    assert area[0] == pytest.approx(math.radians(sweep) / 2 * radius**2, rel=1e-4)
