# SPDX-License-Identifier: MIT
"""Each alignment mark by itself: what it is, its size and shape, mask, paste, parts and copper like it."""

from __future__ import annotations

import dataclasses

import pytest

from asking import ask, only
from build import (
    BOTTOM,
    COPPER_TOP,
    LEGEND_TOP,
    MASK_TOP,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    pad,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_pad,
    through_part,
    via,
)
from lineworthy import Consequence, built_in
from lineworthy.checks.fiducials import clear_area_crowded
from lineworthy.checks.fiducials_each import (
    covered,
    hidden_by_part,
    look_alike_nearby,
    not_a_mark,
    paste_on_mark,
    shape_unusual,
    size_unusual,
)
from lineworthy.model import Layer, LayerKind, PadRole
from lineworthy.shapes import disc
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
HOLD, QUERY, NOTE = Consequence
AT = (20.0, 20.0)
PASTE_TOP = Layer("F.Paste", LayerKind.PASTE, TOP)
FINE = smd_part("U1", (40, 20), nets=[f"n{n}" for n in range(8)], pitch=0.5, land=(0.3, 1.0))


# --- called a mark


def named(pads, reference="FID1", **more):
    return part(reference, AT, pads, package="Fiducial_1mm", in_placement=False, **more)


IMPOSTORS = {
    "a hole": [through_pad("", AT, 1.0, 1.0, plated=False)],
    "copper with a hole in it": [through_pad("", AT, 1.6, 0.8)],
    "mask only, without copper": [dataclasses.replace(round_pad("", AT, paste=False), copper={})],
    "paste only, without copper": [dataclasses.replace(round_pad("", AT, mask_margin=None), copper={})],
    "mask and paste only, without copper": [dataclasses.replace(round_pad("", AT), copper={})],
    "copper on inner layers only": [dataclasses.replace(round_pad("", AT, paste=False), copper={"inner": disc(AT, 1)})],
    "without copper": [],
}


@pytest.mark.parametrize(("why", "pads"), IMPOSTORS.items(), ids=IMPOSTORS)
def test_what_is_called_a_mark_and_is_none(why, pads) -> None:
    """A legend or mask mark is no mark: IPC-7351 (2005) 3.4.4."""
    finding = only(ask(not_a_mark, board(parts=(FINE, named(pads)))))
    assert (finding.consequence, finding.message) == (QUERY, f"FID1 (top) is called alignment mark: {why}")
    assert finding.places[0].at == AT


def test_a_mark_drawn_on_the_legend_only() -> None:
    item = named([])
    drawn = graphic(disc(AT, 1.0), LEGEND_TOP, part_uid=item.uid)
    finding = only(ask(not_a_mark, board(parts=(FINE, item), graphics=(drawn,))))
    assert finding.message.endswith("legend only, without copper")


def test_where_marks_are_enough_or_not_needed_it_is_a_note() -> None:
    false = hole("FID9", (30, 30), package="Fiducial_hole")
    enough = (fiducial("FID1", (5, 5)), fiducial("FID2", (55, 35)))
    assert only(ask(not_a_mark, board(parts=(FINE, false, *enough)))).consequence is NOTE
    assert only(ask(not_a_mark, board(parts=(false,)))).consequence is NOTE
    wrong_side = (fiducial("FID1", (5, 5), side=BOTTOM), fiducial("FID2", (55, 35), side=BOTTOM))
    assert only(ask(not_a_mark, board(parts=(FINE, false, *wrong_side)))).consequence is QUERY


def test_several_of_a_kind_are_one_finding() -> None:
    false = [hole(f"FID{n}", (5 * n, 30), package="Fiducial_hole") for n in (1, 2, 10)]
    finding = only(ask(not_a_mark, board(parts=(FINE, *false))))
    assert finding.message == "FID1, FID2, FID10 (top) are called alignment marks: a hole"


def test_a_mark_beside_the_board_is_none() -> None:
    finding = only(ask(not_a_mark, board(parts=(FINE, fiducial("FID1", (-5, 5))))))
    assert finding.message.endswith("off the board")


def test_true_marks_are_called_rightly() -> None:
    drawn = named([])
    disc_drawn = (graphic(disc(AT, 1), COPPER_TOP, "c", part_uid=drawn.uid), graphic(disc(AT, 2), MASK_TOP, "m"))
    assert not ask(not_a_mark, board(parts=(FINE, drawn), graphics=disc_drawn))
    by_looks = part("M1", (5, 5), [round_pad("", (5, 5), paste=False, mask_margin=0.5)])
    assert not ask(not_a_mark, board(parts=(FINE, fiducial(at=AT), by_looks)))
    assert not ask(not_a_mark, board())


# --- size and shape


@pytest.mark.parametrize(
    ("diameter", "limit"),
    [(0.99, 1.0), (1.0, None), (1.5, None), (3.0, None), (3.01, 3.0)],
)
def test_sizes_from_one_to_three_millimetres(diameter: float, limit) -> None:
    """SMEMA fiducial mark standard, summary: 1.0 mm (40 mil) at least, 3.0 mm (120 mil) at most."""
    found = ask(size_unusual, board(parts=(fiducial(at=AT, diameter=diameter),)))
    assert [(f.measured, f.limit) for f in found] == ([] if limit is None else [(pytest.approx(diameter), limit)])


@pytest.mark.parametrize(("diameter", "count"), [(1.0, 0), (0.75, 0), (0.5, 0), (0.49, 1)])
def test_local_marks_come_in_three_smaller_sizes(diameter: float, count: int) -> None:
    """1.0, 0.75 and 0.5 mm: draft of IPC-7351C, as shown on its announcement's slides."""
    local = fiducial(at=AT, diameter=diameter, role=PadRole.FIDUCIAL_LOCAL)
    assert len(ask(size_unusual, board(parts=(local,)))) == count


def test_small_marks_of_a_side_are_one_finding() -> None:
    small = [fiducial(f"FID{n}", (10 * n, 5), 0.5) for n in (1, 2)]
    finding = only(ask(size_unusual, board(parts=(*small, fiducial("FID3", (30, 5), side=BOTTOM)))))
    assert finding.message == "FID1, FID2 (top) are 0.50 mm wide; 1.00 mm at least"
    assert finding.limit_key == "fiducials.mark_min_mm"


def test_size_is_not_asked_of_what_only_looks_like_a_mark() -> None:
    looks = part("M1", AT, [round_pad("", AT, 0.8, paste=False, mask_margin=0.5)])
    assert not ask(size_unusual, board(parts=(looks,)))


def test_a_mark_that_is_no_disc() -> None:
    """A solid filled circle: SMEMA fiducial mark standard, summary."""
    square = named([pad("", AT, paste=False, mask_margin=0.5)])
    ring = round_pad("", AT, 2.0, paste=False, mask_margin=1.0)
    ring = dataclasses.replace(ring, copper={"top": disc(AT, 2.0).difference(disc(AT, 1.0))})
    for item in (square, named([ring])):
        finding = only(ask(shape_unusual, board(parts=(item,))))
        assert (finding.consequence, finding.message) == (NOTE, "FID1 (top) is not a solid disc")
    assert not ask(shape_unusual, board(parts=(fiducial(at=AT),)))


def test_a_square_mark_has_a_clear_ring_too() -> None:
    def crowded(gap: float):
        square = named([pad("", AT, paste=False, mask_margin=0.5)])
        land = part("R1", (0, 0), [pad("1", (AT[0] + 1.0 + gap, AT[1]), net="a")])
        return ask(clear_area_crowded, board(parts=(square, land)))

    assert not crowded(0.5)
    finding = only(crowded(0.49))
    assert (finding.measured, finding.limit) == (pytest.approx(0.49), pytest.approx(0.5))


# --- mask


def test_mask_over_a_mark() -> None:
    def mark(mask, **more):
        bare = fiducial(at=AT, **more)
        return dataclasses.replace(bare, pads=(dataclasses.replace(bare.pads[0], mask=mask),))

    finding = only(ask(covered, board(parts=(mark({}),))))
    assert (finding.consequence, finding.message) == (QUERY, "FID1 (top) is covered by solder mask")
    beyond = only(ask(covered, board(parts=(mark({BOTTOM: disc(AT, 2.0)}),))))
    assert beyond.message == "FID1 (top) is covered by solder mask; the opening is on the other side"
    half = rectangle((AT[0] + 1, AT[1]), 2, 2)
    partly = only(ask(covered, board(parts=(mark({TOP: half}),))))
    assert partly.message == "FID1 (top) is bare to 50 % only, solder mask lies on the rest"
    below = only(ask(covered, board(parts=(mark({}, side=BOTTOM),))))
    assert below.message == "FID1 (bottom) is covered by solder mask"
    assert not ask(covered, board(parts=(mark({TOP: disc(AT, 1.0)}),))), "exactly as wide as the copper"
    assert not ask(covered, board())


def test_an_opening_of_its_own_pad_uncovers_a_mark() -> None:
    copper = dataclasses.replace(round_pad("", AT, paste=False), mask={})
    opening = dataclasses.replace(round_pad("", AT, 2.0, paste=False, uid="opening"), copper={})
    layout = board(parts=(named([copper, opening]),))
    assert not ask(covered, layout)
    assert not ask(clear_area_crowded, layout)


def test_a_covered_mark_is_not_crowded_by_its_mask_as_well() -> None:
    bare = fiducial(at=AT)
    item = dataclasses.replace(bare, pads=(dataclasses.replace(bare.pads[0], mask={}),))
    assert not ask(clear_area_crowded, board(parts=(item,)))


# --- paste


def test_paste_on_a_mark() -> None:
    own = named([round_pad("", AT, mask_margin=0.5)])
    finding = only(ask(paste_on_mark, board(parts=(own,))))
    assert (finding.consequence, finding.message) == (QUERY, "FID1 (top): the stencil opens over 1 mark")
    drawn = graphic(disc(AT, 1.0), PASTE_TOP)
    assert only(ask(paste_on_mark, board(parts=(fiducial(at=AT),), graphics=(drawn,)))).places[0].label == "FID1"
    aperture = dataclasses.replace(round_pad("", AT, mask_margin=None, uid="p"), copper={})
    assert ask(paste_on_mark, board(parts=(named([fiducial(at=AT).pads[0], aperture]),)))
    assert not ask(paste_on_mark, board(parts=(fiducial(at=AT, side=BOTTOM),), graphics=(drawn,))), "other side"
    beside = graphic(disc((AT[0] + 1.0, AT[1]), 1.0), PASTE_TOP)
    assert not ask(paste_on_mark, board(parts=(fiducial(at=AT),), graphics=(beside,))), "touching it only"
    assert not ask(paste_on_mark, board(parts=(fiducial(at=AT), FINE)))


def test_pasted_marks_are_not_said_to_be_no_marks_as_well() -> None:
    assert not ask(not_a_mark, board(parts=(FINE, named([round_pad("", AT)]))))


# --- parts


def over(distance: float, **more):
    """A 4 x 4 mm body whose edge lies so far right of a mark's edge."""
    spot = (AT[0] + 0.5 + distance + 2.0, AT[1])
    lands = [pad(str(n), (spot[0] + dx, spot[1]), 0.5) for n, dx in ((1, -0.5), (2, 0.0), (3, 0.5))]
    return part("U2", spot, lands, body=rectangle(spot, 4, 4), package="SOT-23", **more)


@pytest.mark.parametrize(
    ("distance", "consequence"), [(0.5, None), (0.49, NOTE), (0.1, NOTE), (0.0, QUERY), (-1.0, QUERY)]
)
def test_a_body_over_a_mark_or_its_ring(distance: float, consequence) -> None:
    found = ask(hidden_by_part, board(parts=(fiducial(at=AT), over(distance))))
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])
    if consequence is QUERY:
        assert found[0].message == "FID1 (top) lies under the body of U2; 0.50 mm needed"


def test_bodies_that_do_not_hide_a_mark() -> None:
    mark = fiducial(at=AT)
    for item in (over(-1.0, side=BOTTOM), over(-1.0, fitted=False)):
        assert not ask(hidden_by_part, board(parts=(mark, item)))
    carrier = dataclasses.replace(over(-1.0), body=rectangle((30, 20), 58, 38))
    assert not ask(hidden_by_part, board(parts=(mark, carrier)))
    local = fiducial(at=AT, role=PadRole.FIDUCIAL_LOCAL)
    assert not ask(hidden_by_part, board(parts=(local, over(-1.0)))), "inside of a land pattern"
    later = through_part("J1", AT)
    assert only(ask(hidden_by_part, board(parts=(mark, later)))).consequence is NOTE


# --- look-alikes


@pytest.mark.parametrize(("apart", "count"), [(3.0, 0), (2.99, 1), (1.6, 1), (3.5, 0)])
def test_a_land_like_the_mark_where_it_is_searched(apart: float, count: int) -> None:
    """About 3 mm: common practice, no source."""
    like = probe_pad("TP1", (AT[0] + apart, AT[1]))
    found = ask(look_alike_nearby, board(parts=(fiducial(at=AT), like)))
    assert len(found) == count
    if count:
        assert (
            found[0].message == f"FID1 (1.00 mm, top) has the like of it {apart:.2f} mm away: TP1 pad 1; 3.00 mm wanted"
        )
        assert (found[0].consequence, found[0].measured) == (NOTE, pytest.approx(apart))


@pytest.mark.parametrize(("diameter", "count"), [(1.0, 1), (1.15, 1), (0.85, 1), (1.16, 0), (0.84, 0)])
def test_how_like_a_land_must_be(diameter: float, count: int) -> None:
    like = probe_pad("TP1", (AT[0] + 2, AT[1]), diameter=diameter)
    assert len(ask(look_alike_nearby, board(parts=(fiducial(at=AT), like)))) == count


def test_what_does_not_look_like_a_mark() -> None:
    spot = (AT[0] + 2, AT[1])
    covered_land = part("X1", spot, [round_pad("1", spot, mask_margin=None)])
    others = [
        probe_pad("TP1", spot, side=BOTTOM),
        covered_land,
        part("X1", spot, [pad("1", spot)]),
        part("X1", spot, [through_pad("1", spot, 1.0, 0.6)]),
        chip("R1", spot),
    ]
    for item in others:
        assert not ask(look_alike_nearby, board(parts=(fiducial(at=AT), item))), item.reference
    assert not ask(look_alike_nearby, board(parts=(fiducial(at=AT),), vias=(via(spot, 1.0, 0.4),))), "tented"
    assert not ask(look_alike_nearby, board(parts=(probe_pad("TP1", spot),)))


def test_open_vias_and_other_marks_look_like_it() -> None:
    spot = (AT[0] + 2, AT[1])
    found = ask(look_alike_nearby, board(parts=(fiducial(at=AT),), vias=(via(spot, 1.0, 0.4, open_on=(TOP,)),)))
    assert "a via" in only(found).message
    pair = (fiducial("FID1", AT), fiducial("FID2", spot))
    assert len(ask(look_alike_nearby, board(parts=pair))) == 2


# --- all of them


def faulty():
    """A board on which each of these checks finds something."""
    bare = fiducial("FID2", (10, 30))
    hidden = dataclasses.replace(over(-1.0), uid="hider")
    return board(
        parts=(
            FINE,
            fiducial("FID1", AT, 0.9),
            hidden,
            dataclasses.replace(bare, pads=(dataclasses.replace(bare.pads[0], mask={}),)),
            named([round_pad("", (50, 30))], "FID3"),
            hole("FID4", (50, 10), package="Fiducial_hole"),
            probe_pad("TP1", (AT[0] - 2, AT[1]), diameter=0.9),
            named([pad("", (10, 10), paste=False, mask_margin=0.5)], "FID5"),
        )
    )


MOTIONS = (moved(7.3, -90.1), quarter_turns(1), quarter_turns(2), mirrored())
EACH = (not_a_mark, size_unusual, shape_unusual, covered, paste_on_mark, hidden_by_part, look_alike_nearby)


@pytest.mark.parametrize("check", EACH, ids=lambda check: check.id)
def test_moving_turning_and_mirroring_change_nothing_but_places(check) -> None:
    layout = faulty()
    found = ask(check, layout)
    assert found, "the sample has no fault of this kind"
    for motion in MOTIONS:
        again = ask(check, transform(layout, motion))
        assert [(f.consequence, f.fingerprint) for f in again] == [(f.consequence, f.fingerprint) for f in found]
        assert [f.measured for f in again] == pytest.approx([f.measured for f in found], abs=1e-4)


@pytest.mark.parametrize("check", EACH, ids=lambda check: check.id)
def test_nothing_on_a_board_without_marks(check) -> None:
    assert not ask(check, board(parts=(FINE, chip("R1", (5, 5)), through_part("J1", (30, 30)))))
