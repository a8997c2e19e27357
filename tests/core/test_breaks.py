# SPDX-License-Identifier: MIT
"""Sides of a board: where it can be scored, where not and why, and what reaches over them."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import Polygon, affinity

from build import board, chip, outline, part, rectangle, smd_part, through_pad
from lineworthy import Board
from lineworthy.knowledge.breaks import Break, direction, overhangs, sides
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Outline
from lineworthy.shapes import disc
from transform import mirrored, quarter_turns, transform


def shaped(area: Polygon, **more) -> Board:
    return board(outline=Outline(area), **more)


def ways(subject: Board) -> list[Break]:
    return [side.by for side in sides(subject)]


BOX = shapely.box(0, 0, 60, 40)
ROUNDED = shapely.box(3, 3, 57, 37).buffer(3.0, quad_segs=32)
ANGLE = BOX.difference(shapely.box(20, 20, 60, 40))
NOTCHED = BOX.difference(shapely.box(20, 30, 30, 40))
TABBED = BOX.union(shapely.box(20, 40, 30, 44))
S, N, R = Break.SCORED, Break.NOTCHED, Break.ROUTED


@pytest.mark.parametrize(
    ("area", "expected"),
    [
        (BOX, [S, S, S, S]),
        (ROUNDED, [S, S, S, S]),
        (shapely.box(6, 6, 54, 34).buffer(6.0, quad_segs=48), [N, N, N, N]),  # corners too large to be called corners
        (ANGLE, [S, N, R, S]),  # half of the right side, a third of the upper one
        (NOTCHED, [S, S, N, S]),
        (TABBED, [S, S, R, S]),  # the tongue reaches beyond everything else above
        (disc((30, 30), 40.0), [R, R, R, R]),
        (affinity.skew(BOX, 10), [N, R, N, R]),
        (Polygon([(0, 0), *((n, 0.0) for n in range(1, 60)), (60, 0), (60, 40), (0, 40)]), [S, S, S, S]),
        (Polygon([(0, 0), (60, 0.05), (60, 40), (0, 40)]), [S, S, S, S]),  # drawn a little askew
    ],
)
def test_what_a_shape_allows(area: Polygon, expected: list[Break]) -> None:
    assert ways(shaped(area)) == expected


def test_why_a_side_cannot_be_scored() -> None:
    assert [side.why for side in sides(shaped(ANGLE))] == [
        "",
        "notches or steps",
        "straight for only 33 %",
        "",
    ]
    assert sides(shaped(disc((30, 30), 40.0)))[0].why == "no straight edge"


def test_half_holes_are_routed_declared_or_not() -> None:
    row = part("J1", pads=[through_pad(str(n), (10 + 2.54 * n, 40)) for n in range(8)])
    lower, right, upper, left = sides(board(60, 40, parts=(row,)))
    assert (upper.by, upper.why, len(upper.half_holes)) == (R, "half holes", 8)
    assert [lower.by, right.by, left.by] == [S, S, S]
    inside = part("J1", pads=[through_pad(str(n), (10 + 2.54 * n, 39)) for n in range(8)])
    assert sides(board(60, 40, parts=(inside,)))[2].by is S


def test_a_plain_peg_hole_in_the_edge_is_no_half_hole() -> None:
    peg = part("J1", pads=[through_pad("", (20, 40), 1.0, 1.0, plated=False)])
    assert sides(board(60, 40, parts=(peg,)))[2].half_holes == ()


def test_sides_measure_along_their_edges() -> None:
    upper = sides(shaped(NOTCHED))[2]
    assert (upper.name, upper.start, upper.end) == ("upper", (60.0, 40.0), (0.0, 40.0))
    assert upper.length == pytest.approx(60.0)
    assert [tuple(map(round, stretch)) for stretch in upper.straight] == [(0, 30), (40, 60)]
    assert [tuple(map(round, stretch)) for stretch in upper.gaps] == [(30, 40)]
    assert upper.edge.length == pytest.approx(50.0)
    assert upper.at(10.0) == pytest.approx((50.0, 40.0))


@pytest.mark.parametrize("angle", [0.0, 10.0, 30.0, -44.0, 90.0, 135.0, 200.0])
def test_a_turned_board_has_the_same_sides(angle: float) -> None:
    turned = sides(shaped(affinity.rotate(NOTCHED, angle)))
    assert sorted(round(side.length) for side in turned) == [40, 40, 60, 60]
    assert sorted(side.by.value for side in turned) == sorted(side.by.value for side in sides(shaped(NOTCHED)))
    assert all(-45.0 <= direction(affinity.rotate(NOTCHED, turn)) < 45.0 for turn in (angle, angle + 45.0))


def test_a_board_without_outline_has_no_sides() -> None:
    assert sides(board(outline=Outline(Polygon()))) == ()
    assert direction(Polygon()) == 0.0


def plug(reference: str, at: tuple[float, float], **more):
    made = smd_part(reference, at, nets=("",) * 8, package="USB_C_Receptacle_HRO_TYPE-C-31-M-12", **more)
    return dataclasses.replace(made, body=rectangle(at, 9.0, 8.0))


def over(subject: Board) -> list[tuple[str, str, float]]:
    return [
        (one.part.reference, one.side.name, round(one.beyond, 3))
        for one in overhangs(subject, Packages(subject), sides(subject))
    ]


def test_what_reaches_over_a_side() -> None:
    subject = board(60, 40, parts=(plug("J1", (30, 2.5)), plug("J2", (10, 3.0)), chip("R1", (30, 20))))
    assert over(subject) == [("J1", "lower", 1.5), ("J2", "lower", 1.0)]


def test_what_only_ends_at_the_edge_or_is_parked_beside_it_does_not_reach_over() -> None:
    assert over(board(60, 40, parts=(plug("J1", (30, 4.0)), plug("J2", (10, 3.9))))) == []
    assert over(board(60, 40, parts=(plug("J1", (30, -10.0)),))) == []
    assert over(board(60, 40, parts=(plug("J1", (30, 2.5), fitted=False),))) == []


def test_a_body_in_a_notch_does_not_meet_the_neighbour() -> None:
    assert over(shaped(NOTCHED, parts=(plug("J1", (25, 30)),))) == []
    assert over(shaped(NOTCHED, parts=(plug("J1", (25, 38), span=20.0),))) == [("J1", "upper", 2.0)]


def test_turned_and_mirrored_boards_have_the_same_overhang() -> None:
    subject = board(60, 40, parts=(plug("J1", (30, 2.5)),))
    for motion, name in ((quarter_turns(1), "right"), (quarter_turns(2), "upper"), (mirrored(), "lower")):
        assert over(transform(subject, motion)) == [("J1", name, 1.5)]


def test_an_outline_of_several_boards_has_the_sides_of_all_together() -> None:
    two = Outline(shapely.union(shapely.box(0, 0, 20, 20), shapely.box(22, 0, 42, 20)))
    lower = sides(board(outline=two))[0]
    assert lower.length == pytest.approx(42.0)
    assert lower.by is N
    assert outline(20, 20).is_closed
