# SPDX-License-Identifier: MIT
"""The board as plain data: curves within their tolerance, fills, and the small questions a board answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from build import board, chip, pad, pour, round_pad, through_pad, through_part, track, via
from lineworthy.model import (
    Board,
    CopperArea,
    Hole,
    Layer,
    LayerKind,
    Outline,
    OutlineFault,
    Pad,
    PadKind,
    Part,
    Side,
    Track,
    Via,
)
from lineworthy.shapes import ARC_TOL_MM, arc_points, disc, polygonal, stadium

RADIUS = st.floats(0.01, 200.0)
ANGLE = st.floats(0.0, 2 * math.pi)


def on_circle(centre, radius: float, angle: float):
    return (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))


@settings(deadline=None)
@given(RADIUS, ANGLE, st.floats(0.02, 6.2), st.sampled_from([1, -1]), st.tuples(st.floats(-300, 300), ANGLE))
def test_arc_points_are_within_5_um_of_the_circle(radius, start, sweep, turn, centre) -> None:
    first, mid, last = (on_circle(centre, radius, start + turn * part * sweep) for part in (0, 0.5, 1))
    assume(math.dist(first, mid) > 0.002)
    points = arc_points(first, mid, last)
    assert tuple(points[0]) == first
    assert tuple(points[-1]) == last
    steps = np.diff(points, axis=0)
    middles = points[:-1] + steps / 2
    sagittas = np.abs(np.hypot(*(middles - np.array(centre)).T) - radius)
    assert sagittas.max() <= ARC_TOL_MM + 1e-6 * radius
    assert np.abs(np.hypot(*(points - np.array(centre)).T) - radius).max() <= 1e-6 * (1 + radius)
    # round by way of the middle point, and not past it again
    assert shapely.LineString(points).distance(shapely.Point(mid)) <= ARC_TOL_MM + 1e-6 * radius
    assert np.hypot(*steps.T).sum() <= radius * sweep * (1 + 1e-6) + 1e-9


def test_an_arc_with_its_ends_together_is_a_circle() -> None:
    points = arc_points((0.0, 0.0), (2.0, 0.0), (0.0, 0.0))
    assert shapely.Polygon(points).area == pytest.approx(math.pi, rel=0.02)
    assert np.hypot(*(points - (1.0, 0.0)).T) == pytest.approx(np.ones(len(points)))


def test_three_points_in_line_are_a_line() -> None:
    assert arc_points((0.0, 0.0), (1.0, 1.0), (3.0, 3.0)).tolist() == [[0, 0], [1, 1], [3, 3]]


@settings(deadline=None)
@given(st.floats(0.1, 20.0), st.floats(0.1, 20.0), st.floats(0, 360))
def test_a_stadium_is_within_tolerance_of_its_formula(along: float, across: float, turn: float) -> None:
    shape = stadium((3.0, -2.0), (along, across), turn)
    short, rest = min(along, across), abs(along - across)
    true = math.pi * short**2 / 4 + rest * short
    # chords lie inside, by no more than the tolerance all the way round
    assert true - ARC_TOL_MM * math.pi * short - 1e-9 <= shape.area <= true + 1e-9
    assert shape.centroid.coords[0] == pytest.approx((3.0, -2.0))


def test_a_stadium_lies_along_its_longer_side() -> None:
    for size, turn in (((4.0, 1.0), 0.0), ((1.0, 4.0), 90.0)):
        assert stadium((0, 0), size, turn).bounds == pytest.approx((-2.0, -0.5, 2.0, 0.5))
    assert stadium((0, 0), (4.0, 1.0), 90.0).bounds == pytest.approx((-0.5, -2.0, 0.5, 2.0))


@pytest.mark.parametrize(
    "area",
    [
        shapely.box(0, 0, 10, 10),
        shapely.box(0, 0, 10, 10).difference(disc((3, 3), 2.0)),
        shapely.box(0, 0, 10, 10).difference(shapely.union_all([disc((3, 3), 2.0), disc((7, 7), 1.0)])),
        shapely.union_all([shapely.box(0, 0, 4, 4).difference(disc((2, 2), 1.0)), shapely.box(6, 6, 9, 9)]),
    ],
    ids=["plain", "one hole", "two holes", "two pieces"],
)
def test_a_fractured_pour_fills_the_polygon_with_its_holes(area) -> None:
    made = pour(area)
    assert sum(len(ring) for ring in made.rings) >= shapely.get_num_coordinates(area) - 6
    assert made.fill.is_valid
    assert made.fill.symmetric_difference(area).area < 1e-9


def test_a_pour_without_fill_is_empty() -> None:
    assert CopperArea("a", "top", "GND", boundary=shapely.box(0, 0, 1, 1), unfilled=True).fill.is_empty
    assert CopperArea("a", "top", "GND", shapely.box(0, 0, 1, 1), rings=(np.zeros((2, 2)),)).fill.is_empty


def test_polygonal_keeps_what_has_area() -> None:
    box, line = shapely.box(0, 0, 1, 1), shapely.LineString([(5, 5), (6, 6)])
    assert polygonal(shapely.GeometryCollection([box, line])).equals(box)
    assert polygonal(line).is_empty


def test_tracks_measure_their_way() -> None:
    assert track((0, 0), (3, 4)).length == pytest.approx(5.0)
    half = Track("t", (1.0, 0.0), (-1.0, 0.0), 0.2, "top", mid=(0.0, 1.0))
    assert half.length == pytest.approx(math.pi, rel=0.01)
    assert half.path[:, 1].min() >= -1e-12
    assert half.path[:, 1].max() == pytest.approx(1.0, abs=ARC_TOL_MM)


def test_holes_and_slots() -> None:
    slot = Hole((1, 1), (2.0, 0.6), True, 90.0)
    assert slot.is_slot
    assert slot.diameter == 0.6
    assert slot.shape.bounds == pytest.approx((0.7, 0.0, 1.3, 2.0))
    assert not Hole((0, 0), (0.8, 0.8), True).is_slot


def test_a_pad_takes_its_copper_and_its_hole() -> None:
    assert pad("1", (0, 0), (1.0, 2.0)).extent.area == pytest.approx(2.0)
    bare = through_pad("1", (0, 0), 3.2, 3.2, plated=False)
    assert bare.extent.area == pytest.approx(math.pi * 1.6**2, rel=0.01)
    window = Pad("p", "", (0, 0), PadKind.SURFACE, paste={Side.TOP: shapely.box(0, 0, 1, 1)})
    assert window.extent.area == pytest.approx(1.0)
    assert Pad("p", "", (0, 0), PadKind.SURFACE).extent.is_empty


def test_a_part_takes_the_hull_of_pads_and_body() -> None:
    assert chip("R1", (10, 10)).extent.bounds == pytest.approx((8.8, 9.525, 11.2, 10.475))
    assert Part("u", "G1").extent.is_empty


def test_a_board_knows_its_layers_and_sides() -> None:
    four = Board(copper_layers=("F", "In1", "In2", "B"))
    assert (four.top_copper, four.bottom_copper) == ("F", "B")
    assert [four.side_of(layer) for layer in four.copper_layers] == [Side.TOP, None, None, Side.BOTTOM]
    assert four.copper_on(Side.BOTTOM) == "B"
    assert Side.TOP.other is Side.BOTTOM
    assert Side.BOTTOM.other is Side.TOP


def test_a_board_groups_by_net_and_leaves_out_what_has_none() -> None:
    layout = board(
        parts=(chip("R1", (10, 10), nets=("A", "")), through_part("J1", (30, 10), nets=("A", "B"))),
        vias=(via((5, 5), net="A"), via((6, 5))),
    )
    assert [(part.reference, land.number) for part, land in layout.pads_by_net["A"]] == [("R1", "1"), ("J1", "1")]
    assert set(layout.pads_by_net) == {"A", "B"}
    assert [v.at for v in layout.vias_by_net["A"]] == [(5, 5)]
    assert set(layout.vias_by_net) == {"A"}
    assert len(layout.pads) == 4
    assert [part.reference for part, _ in layout.holes] == ["J1", "J1"]
    assert layout.part_by_uid["part-R1"].reference == "R1"


def test_layers_that_are_made() -> None:
    made = [
        Layer("F.Cu", LayerKind.COPPER, Side.TOP),
        Layer("B.Mask", LayerKind.MASK, Side.BOTTOM),
        Layer("F.SilkS", LayerKind.LEGEND, Side.TOP),
    ]
    unseen = [Layer("In1.Cu", LayerKind.COPPER), Layer("F.Fab", LayerKind.FABRICATION, Side.TOP)]
    assert all(layer.is_made for layer in made)
    assert not any(layer.is_made for layer in unseen)


def test_an_outline_is_closed_without_faults_only() -> None:
    area = shapely.box(0, 0, 10, 10).difference(shapely.box(2, 2, 4, 4))
    assert Outline(area).is_closed
    assert Outline(area).edge.length == pytest.approx(48.0)
    assert not Outline(area, (OutlineFault("branch", (0, 0)),)).is_closed
    assert not Board().outline.is_closed


def test_a_via_may_differ_by_layer() -> None:
    stacked = Via("v", (0, 0), 0.6, 0.3, ("F", "B"), diameters={"In1": 0.5})
    assert (stacked.diameter_on("In1"), stacked.diameter_on("F")) == (0.5, 0.6)


def test_round_pads_are_round() -> None:
    land = round_pad("1", (2, 3), 1.5).copper["top"]
    assert land.area == pytest.approx(math.pi * 0.75**2, rel=0.015)
    assert land.bounds == pytest.approx((1.25, 2.25, 2.75, 3.75))
