# SPDX-License-Identifier: MIT
"""The board's edge from loose drawings in any order."""

from __future__ import annotations

import random
from math import pi

import pytest
from reader_docs import board, box, footprint, line, loop

from lineworthy.model import Outline

EDGE = '(layer "Edge.Cuts")'


def outline(*items: str) -> Outline:
    return board(*items).outline


def kinds(made: Outline) -> list[str]:
    return [fault.kind for fault in made.faults]


def test_unsorted_lines_in_any_direction() -> None:
    corners = [(0, 0), (10, 0), (10, 5), (6, 5), (6, 8), (0, 8)]
    sides = [
        line(*a, *b) if i % 2 else line(*b, *a) for i, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1]))
    ]
    random.Random(1).shuffle(sides)
    made = outline(*sides)
    assert made.is_closed
    assert made.area.area == pytest.approx(10 * 5 + 6 * 3)
    assert made.area.bounds == (0, -8, 10, 0)
    assert len(made.uids) == 6


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (f"(gr_circle (center 0 0) (end 5 0) (width 0.1) (fill none) {EDGE})", 25 * pi),
        (f"(gr_rect (start 0 0) (end 5 4) (width 0.1) (fill none) {EDGE})", 20),
        (f"(gr_rect (start 0 0) (end 5 4) (radius 1) (width 0.1) {EDGE})", 20 - 4 + pi),
        (f"(gr_poly (pts (xy 0 0) (xy 4 0) (xy 4 4)) (width 0.1) {EDGE})", 8),
        (
            f"(gr_arc (start -2 0) (mid 0 -2) (end 2 0) (width 0.1) {EDGE})"
            f"(gr_arc (start -2 0) (mid 0 2) (end 2 0) (width 0.1) {EDGE})",
            4 * pi,
        ),
        (
            # A cubic with these handles and its chord enclose 0.6 of the box around them: 3/5 * 3 * 2.
            f"(gr_curve (pts (xy 0 0) (xy 0 2) (xy 3 2) (xy 3 0)) (width 0.1) {EDGE})" + line(3, 0, 0, 0),
            3.6,
        ),
    ],
)
def test_shapes_that_close(shape: str, area: float) -> None:
    made = outline(shape)
    assert made.is_closed
    assert made.area.area == pytest.approx(area, abs=0.06)  # chords within 5 um of their arcs


def test_cut_outs_islands_and_several_boards() -> None:
    made = outline(*box(0, 0, 20, 20), *box(5, 5, 15, 15), *box(8, 8, 12, 12), *box(30, 0, 40, 10))
    assert made.is_closed
    assert made.area.area == pytest.approx(400 - 100 + 16 + 100)
    assert made.area.geom_type == "MultiPolygon"


def test_outline_drawn_inside_a_footprint_counts() -> None:
    slot = f'(fp_circle (center 0 0) (end 1 0) (width 0.1) (fill none) {EDGE} (uuid "c"))'
    made = outline(*box(0, 0, 20, 20), footprint(slot, at="10 10 30"))
    assert made.is_closed
    assert made.area.area == pytest.approx(400 - pi, rel=1e-4)
    assert "c" in made.uids
    (hole,) = made.area.interiors
    assert hole.centroid.x == pytest.approx(10)
    assert hole.centroid.y == pytest.approx(-10)


@pytest.mark.parametrize(("gap", "closed"), [(0.0099, True), (0.0101, False), (0.5, False)])
def test_gap_on_both_sides_of_what_is_joined(gap: float, closed: bool) -> None:
    made = outline(line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0, 10), line(0, 10, 0, gap))
    assert made.is_closed is closed
    if not closed:
        (fault,) = made.faults
        assert (fault.kind, fault.gap) == ("open", pytest.approx(gap))
        assert fault.at == pytest.approx((0, -gap / 2))
        assert made.area.is_empty


def test_two_gaps_are_two_faults_widest_first() -> None:
    made = outline(line(0, 0, 9, 0), line(10, 0, 10, 10), line(10, 10, 0, 10), line(0, 10, 0, 0.5))
    assert [(f.kind, pytest.approx(f.gap)) for f in made.faults] == [("open", 1.0), ("open", 0.5)]
    assert made.faults[0].at == pytest.approx((9.5, 0))


def test_a_stray_line_is_a_fault_but_the_board_is_still_there() -> None:
    made = outline(*box(0, 0, 10, 10), line(4, 4, 6, 4))
    assert kinds(made) == ["open"]
    assert made.faults[0].gap == pytest.approx(2)
    assert made.area.area == pytest.approx(100)
    assert not made.is_closed


def test_an_open_outline_with_a_closed_cut_out_has_no_area() -> None:
    made = outline(line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0, 10), *box(4, 4, 6, 6))
    assert made.area.is_empty
    assert kinds(made) == ["open"]


def test_branch() -> None:
    made = outline(*box(0, 0, 10, 10), line(10, 10, 15, 15))
    assert kinds(made) == ["branch", "open"]
    assert made.faults[0].at == (10, -10)
    # The loop is closed but for the branch, so only the stub keeps it from being a board.
    assert made.faults[1].at == (15, -15)


def test_crossing() -> None:
    made = outline(*loop((0, 0), (10, 10), (10, 0), (0, 10)))
    assert kinds(made) == ["crossing"]
    assert made.faults[0].at == pytest.approx((5, -5))
    overlapping = outline(*box(0, 0, 10, 10), *box(5, 5, 15, 15))
    assert set(kinds(overlapping)) == {"crossing"}
    assert overlapping.faults[0].at in [(5, -10), (10, -5)]


@pytest.mark.parametrize("turned", [False, True])
def test_an_edge_drawn_twice_is_still_the_edge(turned: bool) -> None:
    again = line(10, 0, 0, 0) if turned else line(0, 0, 10, 0)
    made = outline(*box(0, 0, 10, 10), again)
    assert kinds(made) == ["doubled"]
    assert made.is_closed
    assert made.area.area == pytest.approx(100)
    rest = loop((0, 0), (0, 10), (10, 10), (10, 0)) if turned else box(0, 0, 10, 10)
    assert set(kinds(outline(*box(0, 0, 10, 10), *rest))) == {"doubled"}


def test_a_stub_outwards_is_a_fault_but_the_board_is_still_there() -> None:
    made = outline(*box(0, 0, 10, 10), line(10.5, 5, 20, 5))
    assert kinds(made) == ["open"]
    assert made.area.area == pytest.approx(100)


def test_nothing_drawn() -> None:
    made = outline()
    assert kinds(made) == ["none"]
    assert made.area.is_empty
    assert kinds(outline(line(0, 0, 5, 0, layer="Dwgs.User"))) == ["none"]


def test_specks_are_no_faults() -> None:
    assert outline(*box(0, 0, 10, 10), line(3, 3, 3, 3)).is_closed


def test_many_pieces_and_many_ends_in_one_place_take_no_time() -> None:
    n = 4000
    teeth = [(i * 0.1, 5 if i % 2 else 0) for i in range(n)] + [(n * 0.1, 50), (0, 50)]
    sides = loop(*teeth)
    random.Random(2).shuffle(sides)
    assert outline(*sides).is_closed
    star = [line(0, 0, 10 + i * 0.01, i * 0.02 + 0.02) for i in range(n)]
    assert kinds(outline(*star)).count("branch") == 1
