# SPDX-License-Identifier: MIT
"""A side's marks together: spread, sameness when turned, one size, transport edge, pairs for fine parts."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from shapely import affinity

from asking import ask, only
from build import (
    BOTTOM,
    TOP,
    board,
    chip,
    fiducial,
    pad,
    part,
    rectangle,
    round_pad,
    smd_part,
)
from lineworthy import Consequence, built_in
from lineworthy.checks.fiducials_set import (
    close_together,
    near_transport_edge,
    no_local_pair,
    same_when_turned,
    size_uneven,
)
from lineworthy.knowledge.alignment import width
from lineworthy.knowledge.placed import pitch
from lineworthy.model import Outline, PadRole
from transform import mirrored, moved, quarter_turns, transform

SHEET, DENSE = built_in(), built_in("dense")
HOLD, QUERY, NOTE = Consequence
PLACED = chip("R1", (30, 20))
BELOW = chip("R2", (30, 20), side=BOTTOM)


def marks(*spots, side=TOP, first=1, **more):
    return tuple(fiducial(f"FID{n}", at, side=side, **more) for n, at in enumerate(spots, first))


# --- spread: the board is 60 x 80 mm, its diagonal 100 mm


@pytest.mark.parametrize(("apart", "count"), [(50.0, 0), (49.99, 1), (80.0, 0)])
def test_marks_span_half_of_the_diagonal(apart: float, count: int) -> None:
    """Half of the diagonal: common practice, no source."""
    found = ask(close_together, board(60, 80, parts=(PLACED, *marks((10, 5), (10, 5 + apart)))))
    assert len(found) == count
    if count:
        assert found[0].consequence is QUERY
        assert found[0].message == (
            "FID1, FID2 (top) are 49.99 mm apart at most; 50.00 mm wanted on a board of 100.00 mm diagonal"
        )


@pytest.mark.parametrize(("off", "count"), [(10.0, 0), (9.9, 1), (0.0, 1)])
def test_three_marks_are_a_triangle(off: float, count: int) -> None:
    found = ask(close_together, board(60, 80, parts=(PLACED, *marks((10, 5), (10 + off, 40), (10, 75)))))
    assert [f.consequence for f in found] == [NOTE] * count
    if count:
        assert f"lie on one line within {off:.2f} mm; 10.00 mm wanted" in found[0].message


def test_spread_is_asked_of_placed_sides_and_of_two_marks_or_more() -> None:
    near = marks((10, 5), (20, 5))
    assert not ask(close_together, board(60, 80, parts=near))
    assert not ask(close_together, board(60, 80, parts=(BELOW, *near)))
    assert not ask(close_together, board(60, 80, parts=(PLACED, *marks((10, 5)))))
    local = marks((10, 5), (20, 5), role=PadRole.FIDUCIAL_LOCAL)
    assert not ask(close_together, board(60, 80, parts=(PLACED, *local)))
    no_outline = dataclasses.replace(board(parts=(PLACED, *near)), outline=Outline(shapely.Polygon()))
    assert not ask(close_together, no_outline)


def test_width_of_a_set_of_points() -> None:
    assert width([(0, 0), (10, 0), (5, 3)]) == pytest.approx(3)
    assert width([(0, 0), (10, 0)]) == width([(0, 0), (5, 0), (10, 0)]) == 0
    turned = [
        (math.cos(a) * x - math.sin(a) * y, math.sin(a) * x + math.cos(a) * y)
        for x, y, a in [(0, 0, 1), (10, 0, 1), (5, 3, 1)]
    ]
    assert width(turned) == pytest.approx(3)


# --- the same when turned


@pytest.mark.parametrize(("shift", "count"), [(0.0, 1), (1.99, 1), (2.0, 0), (5.0, 0)])
def test_half_a_turn_must_show_another_picture(shift: float, count: int) -> None:
    """About 2 mm: common practice, no source."""
    found = ask(same_when_turned, board(60, 40, parts=(PLACED, *marks((5, 5), (55 - shift, 35)))))
    assert len(found) == count
    if count:
        assert found[0].consequence is QUERY
        assert found[0].message == (
            f"FID1, FID2 (top) look the same after half a turn of the board, within {shift:.2f} mm; 2.00 mm wanted"
        )


def test_three_corners_differ_and_four_do_not() -> None:
    corners = [(5, 5), (55, 35), (5, 35), (55, 5)]
    assert not ask(same_when_turned, board(60, 40, parts=(PLACED, *marks(*corners[:3]))))
    assert ask(same_when_turned, board(60, 40, parts=(PLACED, *marks(*corners))))


def test_without_a_closed_outline_nothing_is_said_of_the_set() -> None:
    """That the outline is open is the finding; a set of marks is measured against it."""
    fine = quad(0.5, at=(30, 20))
    whole = board(60, 40, parts=(PLACED, *marks((5, 5), (55, 35)), fine))
    assert ask(same_when_turned, whole)
    opened = dataclasses.replace(whole, outline=Outline(shapely.Polygon()))
    for question in (close_together, same_when_turned, near_transport_edge, no_local_pair):
        assert not ask(question, opened), question.id


def test_a_quarter_turn_counts_on_a_square_board() -> None:
    spots = [(5, 20), (20, 35), (35, 20), (20, 5), (20, 20)]
    square = ask(same_when_turned, board(40, 40, parts=(PLACED, *marks(*spots))))
    assert only(square).measured == 0
    # three of four corners of a square, and a fourth mark that moves under half a turn but not much under none
    assert not ask(same_when_turned, board(40, 40, parts=(PLACED, *marks((5, 5), (35, 5), (5, 35)))))


def test_an_outline_that_shows_which_way_it_lies_is_enough() -> None:
    cut = Outline(shapely.box(0, 0, 60, 40).difference(shapely.box(50, 30, 60, 40)))
    pair = marks((5, 5), (55, 35))
    assert not ask(same_when_turned, board(outline=cut, parts=(PLACED, *pair)))
    notch = Outline(shapely.box(0, 0, 60, 40).difference(shapely.box(28, 38, 32, 40)))
    assert ask(same_when_turned, board(outline=notch, parts=(PLACED, *pair)))


def test_sides_without_parts_are_not_asked() -> None:
    pair = marks((5, 5), (55, 35))
    assert not ask(same_when_turned, board(parts=(BELOW, *pair)))
    assert not ask(same_when_turned, board(parts=pair))


def test_the_other_side_must_not_show_the_same() -> None:
    top = marks((5, 5), (55, 35), (5, 35))
    mirrored_below = marks((55, 5), (5, 35), (55, 35), side=BOTTOM, first=4)
    finding = only(ask(same_when_turned, board(parts=(PLACED, BELOW, *top, *mirrored_below))))
    assert (finding.consequence, finding.measured) == (NOTE, 0)
    assert finding.message == (
        "The marks of the bottom (FID4, FID5, FID6) look like those of the top (FID1, FID2, FID3), within 0.00 mm; "
        "2.00 mm wanted"
    )
    straight_below = marks((5, 5), (55, 35), (5, 35), side=BOTTOM, first=4)
    assert not ask(same_when_turned, board(parts=(PLACED, BELOW, *top, *straight_below)))
    assert not ask(same_when_turned, board(parts=(PLACED, *top, *mirrored_below))), "nothing placed below"


def test_of_a_drawn_array_only_the_rails_are_compared() -> None:
    """Two copies, the second turned: their own marks map onto each other, the marks on the rails do not."""
    own = [(20, 15), (30, 25), (50, 25), (40, 15)]
    parts = [chip(f"R{n}", (20 + 30 * copy, 20), uid=f"{copy}-{n}") for copy in (0, 1) for n in range(3)]
    rails = marks((3, 3), (67, 3), (3, 37), first=9)
    layout = board(70, 40, parts=(*parts, *marks(*own), *rails))
    assert not ask(same_when_turned, layout)
    symmetric = board(70, 40, parts=(*parts, *marks(*own), *marks((3, 3), (67, 3), (3, 37), (67, 37), first=9)))
    assert only(ask(same_when_turned, symmetric)).message.startswith("FID9, FID10, FID11, FID12")


# --- one size


@pytest.mark.parametrize(
    ("sizes", "count"), [((1.0, 1.0, 1.02), 0), ((1.0, 1.025), 0), ((1.0, 1.03), 1), ((1.0, 1.0), 0), ((1.0,), 0)]
)
def test_marks_are_of_one_size(sizes, count: int) -> None:
    """Within 0.025 mm (1 mil): SMEMA fiducial mark standard, summary."""
    parts = [fiducial(f"FID{n}", (10 * n, 5), size) for n, size in enumerate(sizes, 1)]
    found = ask(size_uneven, board(parts=parts))
    assert len(found) == count
    if count:
        assert (found[0].consequence, found[0].measured) == (QUERY, pytest.approx(0.03))
        assert found[0].message == "FID1, FID2 (top) are from 1.00 to 1.03 mm wide; they may differ by 0.025 mm"


def test_a_difference_between_the_sides_is_a_note() -> None:
    layout = board(parts=(*marks((5, 5), (55, 35)), *marks((5, 5), (55, 35), side=BOTTOM, first=3, diameter=1.5)))
    finding = only(ask(size_uneven, layout))
    assert (finding.consequence, "both sides" in finding.message) == (NOTE, True)


def test_local_marks_are_compared_among_themselves() -> None:
    local = fiducial("FID3", (20, 20), 0.5, role=PadRole.FIDUCIAL_LOCAL)
    assert not ask(size_uneven, board(parts=(*marks((5, 5), (55, 35)), local)))
    other = fiducial("FID4", (30, 20), 0.75, role=PadRole.FIDUCIAL_LOCAL)
    assert only(ask(size_uneven, board(parts=(*marks((5, 5)), local, other)))).consequence is NOTE
    looks = part("M1", (30, 30), [round_pad("", (30, 30), 1.5, paste=False, mask_margin=0.75)])
    assert not ask(size_uneven, board(parts=(*marks((5, 5)), looks)))


# --- transport edge


def framed(off_long: float, off_short: float = 50.0, **more):
    """Two marks so far from the long and the short edges of a board of 160 x 100 mm."""
    spots = ((off_short, off_long), (160 - off_short, 100 - off_long))
    return board(160, 100, parts=(PLACED, *marks(*spots, **more)))


@pytest.mark.parametrize(("diameter", "floor"), [(1.0, 5.75), (1.5, 6.25)])
def test_marks_stay_off_the_edge_the_board_rides_on(diameter: float, floor: float) -> None:
    """4.75 mm (187 mil) and the clear ring, so 5.75 mm to the centre of 1 mm: SMEMA fiducial mark standard, summary."""
    assert not ask(near_transport_edge, framed(floor, floor, diameter=diameter))
    finding = only(ask(near_transport_edge, framed(floor - 0.01, floor - 0.01, diameter=diameter)))
    assert (finding.consequence, finding.limit) == (NOTE, pytest.approx(floor))
    assert finding.measured == pytest.approx(floor - 0.01)


def test_the_preferred_ring_reaches_further() -> None:
    """4.75 + 1.5 + 0.75 = 7.00 mm for a mark of 1.5 mm: SMEMA fiducial mark standard, summary, and arithmetic."""
    limits = dataclasses.replace(SHEET.fiducials, clear_ring_min_ratio=SHEET.fiducials.clear_ring_preferred_ratio)
    sheet = dataclasses.replace(SHEET, fiducials=limits)
    assert only(ask(near_transport_edge, framed(3.0, 3.0, diameter=1.5), sheet)).limit == pytest.approx(7.0)


def test_one_free_pair_of_edges_is_enough() -> None:
    assert not ask(near_transport_edge, framed(3.0, 20.0))
    assert not ask(near_transport_edge, framed(20.0, 3.0))
    assert only(ask(near_transport_edge, framed(3.0, 4.0))).measured == pytest.approx(4.0)


def test_small_boards_have_rails_and_local_marks_do_not_guide_the_board() -> None:
    pair = marks((3, 3), (57, 37))
    assert not ask(near_transport_edge, board(60, 40, parts=(PLACED, *pair)))
    assert not ask(near_transport_edge, framed(3.0, 3.0, role=PadRole.FIDUCIAL_LOCAL))
    assert not ask(near_transport_edge, dataclasses.replace(framed(3.0, 3.0), parts=framed(3.0, 3.0).parts[1:]))


# --- local pairs


def quad(pitch: float, reference: str = "U1", at=(30, 20), side=TOP):
    """Sixteen gull-wing lands on four sides."""
    lands, number = [], 0
    for turn in range(4):
        for n in range(4):
            number += 1
            along, out = (n - 1.5) * pitch, 4.0
            x, y = [(along, -out), (out, along), (-along, out), (-out, -along)][turn]
            size = (0.3, 1.6) if turn % 2 == 0 else (1.6, 0.3)
            lands.append(pad(str(number), (at[0] + x, at[1] + y), size, side=side, uid=f"{reference}.{number}"))
    return part(reference, at, lands, side=side, package="LQFP-16", body=rectangle(at, 6, 6))


def grid(pitch: float, reference: str = "U1", at=(30, 20)):
    """A ball grid of 5 x 5."""
    lands = [
        round_pad(
            f"{'ABCDE'[i]}{j + 1}", (at[0] + (i - 2) * pitch, at[1] + (j - 2) * pitch), 0.3, uid=f"{reference}.{i}{j}"
        )
        for i in range(5)
        for j in range(5)
    ]
    return part(reference, at, lands, package="BGA-25", body=rectangle(at, 6 * pitch, 6 * pitch))


GOOD = marks((5, 5), (55, 35), (5, 35), first=20)
STRICT = dataclasses.replace(DENSE, fiducials=dataclasses.replace(DENSE.fiducials, local_waived_pitch_mm=5.0))


@pytest.mark.parametrize(
    ("item", "count"),
    [(quad(0.65), 0), (quad(0.5), 1), (grid(1.0), 0), (grid(0.8), 1), (quad(0.625), 0), (quad(0.62), 1)],
)
def test_fine_parts_want_marks_of_their_own(item, count: int) -> None:
    """Leads below 0.625 mm, arrays below 1.0 mm: IPC-7351A, as quoted in a guideline on fiducial marks."""
    assert len(ask(no_local_pair, board(parts=(item, *GOOD)), STRICT)) == count


@pytest.mark.parametrize(("item", "count"), [(quad(0.5), 0), (quad(0.49), 1), (grid(0.5), 0), (grid(0.4), 1)])
def test_good_marks_of_the_side_waive_it_down_to_half_a_millimetre(item, count: int) -> None:
    """Common practice, no source."""
    assert len(ask(no_local_pair, board(parts=(item, *GOOD)))) == count
    assert len(ask(no_local_pair, board(parts=(item,)))) == count, "no marks at all: that is said elsewhere"


@pytest.mark.parametrize(("item", "count"), [(quad(0.635), 0), (quad(0.5), 1), (grid(0.8), 0), (grid(0.75), 1)])
def test_marks_that_huddle_together_waive_nothing(item, count: int) -> None:
    """Leads below 0.635 mm, arrays below 0.8 mm: draft of IPC-7351C, as shown on its announcement's slides."""
    near = marks((5, 5), (15, 5), first=20)
    found = ask(no_local_pair, board(parts=(item, *near)))
    assert len(found) == count
    if count:
        assert found[0].consequence is NOTE


def paired(*spots, item=None, **more):
    item = item or quad(0.4)
    return ask(no_local_pair, board(parts=(item, *GOOD, *marks(*spots, role=PadRole.FIDUCIAL_LOCAL, **more))))


def test_a_pair_at_opposite_corners_answers_it() -> None:
    """On the diagonal, inside or just outside of the land pattern: IPC-7351 (2005) 3.4.4.2."""
    assert paired()
    assert not paired((24, 14), (36, 26))
    assert not paired((24, 26), (36, 14))
    assert not paired((28, 18), (32, 22)), "inside"
    assert paired((24, 14))
    one_side = paired((24, 14), (36, 14))
    assert "marks near U1 are not at opposite corners" in only(one_side).message
    assert paired((24, 20), (36, 20)), "in the middle of two sides"
    assert paired((24, 14), (36, 26), side=BOTTOM)


def test_how_far_away_a_mark_still_serves() -> None:
    # lands reach 4.8 mm from the middle; the mark stands straight beside the corner's edge
    assert not paired((30 - 9.8, 19), (30 + 9.8, 21))
    assert paired((30 - 9.81, 19), (30 + 9.8, 21))


def test_a_pair_turned_with_its_part() -> None:
    item = quad(0.4)
    turn = 30.0

    def at(x, y):
        return affinity.rotate(shapely.Point(x, y), turn, origin=(30, 20)).coords[0]

    lands = [
        dataclasses.replace(land, at=at(*land.at), copper={"top": affinity.rotate(land.copper["top"], turn, (30, 20))})
        for land in item.pads
    ]
    slanted = dataclasses.replace(item, pads=tuple(lands), rotation=turn, body=affinity.rotate(item.body, turn))
    assert not paired(at(24, 14), at(36, 26), item=slanted)
    assert paired(at(24, 20), at(36, 20), item=slanted)


def test_fine_parts_of_a_side_are_one_finding() -> None:
    parts = (quad(0.4, "U10", (20, 20)), quad(0.45, "U2", (40, 20)), quad(0.4, "U3", (30, 20), side=BOTTOM))
    found = ask(no_local_pair, board(parts=(*parts, *GOOD)))
    assert [f.message.split(" have ")[0].split(" has ")[0] for f in found] == [
        "U2, U10 (top, pitch 0.40 mm)",
        "U3 (bottom, pitch 0.40 mm)",
    ]


def test_small_and_unplaced_parts_want_no_marks() -> None:
    few = smd_part("U1", (30, 20), nets=[f"n{n}" for n in range(8)], pitch=0.4, land=(0.2, 1.0))
    assert not ask(no_local_pair, board(parts=(few, *GOOD)))
    assert not ask(no_local_pair, board(parts=(dataclasses.replace(quad(0.4), fitted=False), *GOOD)))
    assert not ask(no_local_pair, board(parts=GOOD))


# --- fingers of an edge connector


def test_fingers_on_two_sides_are_not_a_pitch_of_nothing() -> None:
    fingers = [pad(str(n), (10 + 2.54 * n, 3), (1.5, 5), uid=f"f{n}") for n in range(4)]
    fingers += [pad(str(n + 4), (10 + 2.54 * n, 3), (1.5, 5), side=BOTTOM, uid=f"b{n}") for n in range(4)]
    one = part("J1", (14, 3), fingers)
    assert pitch(one, "top") == pitch(one, "bottom") == 2.54


# --- all of them

SET = (close_together, same_when_turned, size_uneven, near_transport_edge, no_local_pair)


def faulty():
    below = marks((5, 5), (155, 95), side=BOTTOM, first=8)
    uneven = fiducial("FID3", (9, 9), 1.2)
    fine = quad(0.4, at=(80, 50))
    return board(160, 100, parts=(PLACED, BELOW, *marks((5, 5), (9, 5)), uneven, *below, fine))


@pytest.mark.parametrize("check", SET, ids=lambda check: check.id)
def test_moving_turning_and_mirroring_change_nothing_but_places(check) -> None:
    layout = faulty()
    found = ask(check, layout)
    assert found, "the sample has no fault of this kind"
    for motion in (moved(7.3, -90.1), quarter_turns(1), quarter_turns(2), mirrored()):
        again = ask(check, transform(layout, motion))
        assert [(f.consequence, f.fingerprint, f.message) for f in again] == [
            (f.consequence, f.fingerprint, f.message) for f in found
        ]


@pytest.mark.parametrize("check", SET[:-1], ids=lambda check: check.id)
def test_nothing_without_marks(check) -> None:
    assert not ask(check, board(160, 100, parts=(PLACED, BELOW, quad(0.4, at=(80, 50)))))
