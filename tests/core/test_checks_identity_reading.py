# SPDX-License-Identifier: MIT
"""What is printed can be read on the finished board: which way it faces, what hides it, what cuts it off, how fine."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import affinity

from asking import ask, only
from build import (
    BOTTOM,
    COPPER_BOTTOM,
    COPPER_TOP,
    DRAWING,
    FAB_TOP,
    LEGEND_BOTTOM,
    LEGEND_TOP,
    MASK_BOTTOM,
    MASK_TOP,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    marking,
    outline,
    pad,
    part,
    rectangle,
    smd_part,
    through_pad,
    via,
)
from lineworthy import Consequence, built_in
from lineworthy.checks import identity_reading
from lineworthy.checks.identity_reading import marking_backwards, marking_clipped, marking_too_fine, marking_under_part
from lineworthy.knowledge.legible import backwards, ink
from lineworthy.model import Layer, LayerKind, MarkingRole

SHEET = built_in()
NAME = "WIDGET REV B"


def everything(layout):
    return [finding for check in identity_reading.CHECKS for finding in ask(check, layout)]


# --- which way it faces

RIGHT = [
    (LEGEND_TOP, False),
    (COPPER_TOP, False),
    (MASK_TOP, False),
    (LEGEND_BOTTOM, True),
    (COPPER_BOTTOM, True),
    (MASK_BOTTOM, True),
]


@pytest.mark.parametrize(("layer", "mirrored"), RIGHT, ids=lambda value: str(getattr(value, "name", value)))
@pytest.mark.parametrize("rotation", [0.0, 90.0, 180.0])
def test_texts_face_their_side(layer, mirrored: bool, rotation: float) -> None:
    good = marking(NAME, layer=layer, mirrored=mirrored, rotation=rotation)
    assert not ask(marking_backwards, board(markings=(good,)))
    bad = dataclasses.replace(good, mirrored=not mirrored)
    finding = only(ask(marking_backwards, board(markings=(bad,))))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        f"1 text on the {layer.side.value} reads backwards, the only name or revision: 'WIDGET REV B'"
    )
    assert finding.places[0].side is layer.side


@pytest.mark.parametrize("text", ["+", "-", "8", "0", "VIA", "TOM", "A1", "", "||", "→"])
def test_what_looks_the_same_in_a_mirror_is_left_alone(text: str) -> None:
    assert not backwards(marking(text, layer=LEGEND_TOP, mirrored=True))


@pytest.mark.parametrize("layer", [FAB_TOP, DRAWING, Layer("In1.Cu", LayerKind.COPPER)], ids=lambda layer: layer.name)
def test_layers_nobody_sees_may_read_either_way(layer) -> None:
    layout = board(markings=(marking(NAME, layer=layer, mirrored=True),))
    assert not ask(marking_backwards, layout)


def test_hidden_text_may_read_either_way() -> None:
    assert not ask(marking_backwards, board(markings=(marking(NAME, mirrored=True, hidden=True),)))


def test_other_texts_that_read_backwards_are_one_note_a_side() -> None:
    item = chip("R3", (30, 30))
    texts = (
        marking("PS_TXD", (10, 30), LEGEND_BOTTOM),
        marking("PL_RXD", (10, 33), LEGEND_BOTTOM, height=2.0),
        marking("R3", (30, 33), LEGEND_BOTTOM, role=MarkingRole.REFERENCE, part_uid=item.uid),
        marking("GND", (10, 20), LEGEND_TOP, mirrored=True),
        marking(NAME, (30, 5)),
    )
    found = ask(marking_backwards, board(markings=texts, parts=(item,)))
    assert [(f.consequence, f.message) for f in found] == [
        (Consequence.NOTE, "1 text on the top reads backwards: 'GND'"),
        (Consequence.NOTE, "3 texts on the bottom read backwards: 'PL_RXD', 'PS_TXD', 'R3'"),
    ]


def test_a_name_that_can_be_read_elsewhere_makes_a_note_of_it() -> None:
    texts = (marking(NAME), marking(NAME, layer=LEGEND_BOTTOM))
    assert only(ask(marking_backwards, board(markings=texts))).consequence is Consequence.NOTE


# --- under a part


def body(width: float, at=(10.0, 10.0), side=TOP, **more):
    lands = [pad(str(n), (at[0], at[1] + n * 0.3), 0.1, side=side) for n in range(1, 5)]
    box = rectangle(at, width, 4.0)
    return part("U1", at, lands, body=box, package="SOIC-8", side=side, **more)


@pytest.mark.parametrize(
    ("width", "consequence"),
    [
        (1.0, None),
        (1.07, None),  # the text is 10.8 mm long: 9.9 % are covered
        (1.08, "note"),  # exactly a tenth
        (3.2, "note"),
        (3.24, "query"),  # exactly three tenths
        (20.0, "query"),
    ],
)
def test_the_share_under_a_body_decides(width: float, consequence) -> None:
    found = ask(marking_under_part, board(markings=(marking(NAME),), parts=(body(width),)))
    assert [f.consequence.value for f in found] == ([consequence] if consequence else [])
    if found:
        assert found[0].message.startswith(
            "'WIDGET REV B' on F.SilkS, the board's name and revision, lies under U1 by "
        )
        assert found[0].measured == pytest.approx(100 * min(width, 10.8) / 10.8, abs=1e-6)


def test_parts_on_the_other_side_unfitted_parts_and_flat_ones_hide_nothing() -> None:
    text = (marking(NAME),)
    assert not ask(marking_under_part, board(markings=text, parts=(body(20, side=BOTTOM),)))
    assert not ask(marking_under_part, board(markings=text, parts=(body(20, fitted=False),)))
    mark = fiducial("FID1", (10, 10), 4.0, body=rectangle((10, 10), 20, 4))
    assert not ask(marking_under_part, board(markings=text, parts=(mark,)))
    assert not ask(marking_under_part, board(markings=text, parts=(body(20, at=(40.0, 30.0)),)))


def test_two_parts_together_hide_it_and_are_named_in_order() -> None:
    two = (body(4, at=(7.0, 10.0)), dataclasses.replace(body(4, at=(13.0, 10.0)), uid="x", reference="J10"))
    finding = only(ask(marking_under_part, board(markings=(marking(NAME),), parts=two[::-1])))
    assert "lies under J10, U1 by 74%" in finding.message


def test_without_a_drawn_body_the_pads_tell_but_not_round_a_whole_board() -> None:
    def ring(size: float):
        spots = [(10 + dx * size / 2, 10 + dy * 3.0) for dx in (-1, 1) for dy in (-1, 1)]
        return part("U1", (10, 10), [pad(str(n), spot, 0.4) for n, spot in enumerate(spots, 1)])

    text = (marking("WIDGET", height=0.9),)
    assert ask(marking_under_part, board(markings=text, parts=(ring(16.0),)))
    assert not ask(marking_under_part, board(100, 40, markings=text, parts=(ring(30.0),)))


def test_the_same_text_in_the_open_is_enough() -> None:
    texts = (marking(NAME, uid="a"), marking(NAME, (40, 30), uid="b"))
    assert not everything(board(markings=texts, parts=(body(20),)))


def test_name_and_revision_are_asked_apart() -> None:
    texts = (marking("WIDGET"), marking("REV B", (40, 30)))
    finding = only(ask(marking_under_part, board(markings=texts, parts=(body(20),))))
    assert "the board's name, lies" in finding.message
    other = (marking("WIDGET", (40, 30)), marking("REV B"))
    assert (
        "the board's revision, lies" in only(ask(marking_under_part, board(markings=other, parts=(body(20),)))).message
    )


# --- cut off


def clear(gap: float, **more):
    """A land whose opening ends `gap` mm above the text."""
    return part("J1", (10, 12), (pad("4", (10, 10.5 + gap + 0.5), 1.0, mask_margin=0.0, **more),))


@pytest.mark.parametrize(("gap", "found"), [(0.2, False), (0.1, False), (0.0995, True), (0.05, True)])
def test_distance_to_an_opening(gap: float, found: bool) -> None:
    # common practice, no source: 0.10 mm from legend to a mask opening
    findings = ask(marking_clipped, board(markings=(marking(NAME),), parts=(clear(gap),)))
    assert bool(findings) is found
    if found:
        assert findings[0].consequence is Consequence.NOTE
        assert "mm from pad 4 of J1; 0.10 mm are needed" in findings[0].message
        assert findings[0].measured == pytest.approx(gap)


@pytest.mark.parametrize(("from_edge", "found"), [(0.3, False), (0.25, False), (0.249, True), (0.0, True)])
@pytest.mark.parametrize("quarter", [0, 1])
def test_distance_to_the_edge(from_edge: float, found: bool, quarter: int) -> None:
    # common practice, no source: 0.20 to 0.25 mm from legend to the board edge
    text = marking("WIDGET", (20.0, from_edge + 0.5))
    if quarter:
        text = dataclasses.replace(text, extents=affinity.rotate(text.extents, 90, origin=(20, 20)), rotation=90.0)
    findings = ask(marking_clipped, board(40, 40, markings=(text,)))
    assert bool(findings) is found
    if found:
        assert findings[0].message.endswith("mm from the board edge; 0.25 mm are needed")


def test_cut_by_the_edge_partly() -> None:
    finding = only(ask(marking_clipped, board(markings=(marking(NAME, (3.0, 10.0)),))))
    assert finding.consequence is Consequence.QUERY
    assert "is cut off at the board edge by 22% of its area" in finding.message


@pytest.mark.parametrize(
    ("things", "what"),
    [
        ({"parts": (part("J1", (10, 10), (pad("4", (10, 10), 2.0),)),)}, "pad 4 of J1"),
        ({"parts": (hole("H1", (10, 10)),)}, "H1"),
        ({"vias": (via((10.0, 10.0), 2.0, 0.3, open_on=(TOP,)),)}, "an open via"),
        ({"graphics": (graphic(rectangle((10, 10), 2, 4), MASK_TOP),)}, "an opening in the mask"),
        ({"outline": outline(60, 40, cutouts=[rectangle((10, 10), 2, 8)])}, "the board edge"),
    ],
)
def test_what_takes_letters_away(things, what: str) -> None:
    finding = only(ask(marking_clipped, board(markings=(marking(NAME),), **things)))
    assert finding.consequence is Consequence.QUERY
    assert f"is cut off at {what}" in finding.message


def test_a_nick_is_a_note() -> None:
    finding = only(ask(marking_clipped, board(markings=(marking(NAME),), parts=(hole("H1", (10, 11.8), 3.0),))))
    assert finding.consequence is Consequence.NOTE


@pytest.mark.parametrize(
    "things",
    [
        {"vias": (via((10.0, 10.0), 2.0),)},
        {"vias": (via((10.0, 10.0), 2.0, open_on=(BOTTOM,)),)},
        {"parts": (part("J1", (10, 10), (pad("4", (10, 10), 2.0, side=BOTTOM),), side=BOTTOM),)},
        {"parts": (part("J1", (10, 10), (pad("4", (10, 10), 2.0, mask_margin=None),)),)},
        {"graphics": (graphic(rectangle((10, 10), 2, 4), MASK_BOTTOM),)},
    ],
    ids=["covered via", "open below", "other side", "covered land", "opening below"],
)
def test_what_takes_nothing_away(things) -> None:
    assert not ask(marking_clipped, board(markings=(marking(NAME),), **things))


@pytest.mark.parametrize(("drill", "found"), [(0.3, False), (0.5, False), (0.51, True)])
def test_a_hole_under_the_mask_is_printed_over_while_it_is_small(drill: float, found: bool) -> None:
    # common practice, no source
    land = dataclasses.replace(through_pad("1", (10, 10), 1.0, drill), mask={})
    layout = board(markings=(marking(NAME),), parts=(part("STITCH1", (10, 10), (land,)),))
    assert bool(ask(marking_clipped, layout)) is found


def test_copper_text_fears_lands_and_holes_but_no_openings() -> None:
    text = (marking(NAME, layer=COPPER_TOP),)
    opened = (graphic(rectangle((10, 10), 20, 4), MASK_TOP),)
    assert not ask(marking_clipped, board(markings=text, graphics=opened))
    land = part("J1", (10, 10), (pad("4", (10, 10), 2.0, mask_margin=None),))
    assert ask(marking_clipped, board(markings=text, parts=(land,)))
    assert ask(marking_clipped, board(markings=text, parts=(hole("H1", (10, 10)),)))


def test_ink_on_ink_and_a_text_left_out_of_the_ink() -> None:
    box = (graphic(rectangle((10, 10), 14, 3)),)
    finding = only(ask(marking_clipped, board(markings=(marking(NAME),), graphics=box)))
    assert "is printed on filled legend, 100% of its area" in finding.message
    assert not ask(marking_clipped, board(markings=(marking(NAME, knockout=True),), graphics=box))
    frame = (graphic(rectangle((10, 10), 14, 3).boundary.buffer(0.1)),)
    assert not ask(marking_clipped, board(markings=(marking(NAME),), graphics=frame))
    assert not ask(marking_clipped, board(markings=(marking(NAME, layer=COPPER_TOP),), graphics=box))


def test_a_name_with_other_letters_over_it() -> None:
    name = marking(NAME, (20, 20), uid="name")
    over = marking("LOT 4711", (20, 20), uid="lot")
    finding = only(ask(marking_clipped, board(markings=(name, over))))
    assert finding.consequence is Consequence.QUERY
    assert "has 'LOT 4711' printed over it, " in finding.message
    assert finding.uids == ("name",)
    copper = [dataclasses.replace(one, layer=COPPER_TOP) for one in (name, over)]
    assert ask(marking_clipped, board(markings=tuple(copper)))


@pytest.mark.parametrize(
    "other",
    [
        marking("LOT 4711", (20, 22), uid="beside"),
        marking("LOT 4711", (20, 20), LEGEND_BOTTOM, uid="on the other side", mirrored=True),
        marking("LOT 4711", (20, 20), hidden=True, uid="hidden"),
        marking(NAME, (20.1, 20.1), uid="the same twice"),
    ],
    ids=lambda one: one.uid,
)
def test_a_name_that_other_letters_leave_alone(other) -> None:
    assert not ask(marking_clipped, board(markings=(marking(NAME, (20, 20), uid="name"), other)))


# --- too fine


@pytest.mark.parametrize(
    ("height", "stroke", "found"),
    [(0.8, 0.1, ""), (0.79, 0.1, "is 0.79 mm high; 0.80 mm are needed"), (0.8, 0.09, "has a pen of 0.09 mm; 0.10 mm")],
)
@pytest.mark.parametrize("layer", [LEGEND_TOP, COPPER_TOP, MASK_TOP], ids=lambda layer: layer.name)
def test_process_limits(height: float, stroke: float, found: str, layer) -> None:
    # common practice, no source: lower limit 0.8 mm high, pen 0.10 to 0.12 mm
    text = dataclasses.replace(marking(NAME, layer=layer, height=height), stroke=stroke)
    findings = ask(marking_too_fine, board(markings=(text,)))
    assert bool(findings) is bool(found)
    if found:
        assert found in findings[0].message
        assert findings[0].consequence is Consequence.QUERY
        assert findings[0].limit_key in marking_too_fine.limits


@pytest.mark.parametrize(("height", "told"), [(0.8, False), (0.79, True), (0.3, True)])
@pytest.mark.parametrize("layer", [LEGEND_TOP, LEGEND_BOTTOM], ids=lambda layer: layer.name)
@pytest.mark.parametrize("text", [NAME, "REV B", "REV C"])
def test_small_print_beside_a_large_one_is_a_blot(height: float, told: bool, layer, text: str) -> None:
    """As any other text of the legend that is too low: a note, once for all of them."""
    small = [marking(text, (30, y), layer, height, uid=f"s{y}", rotation=90.0) for y in (20, 30)]
    findings = ask(marking_too_fine, board(markings=(*small, marking(NAME, height=1.5))))
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.NOTE
        assert finding.message.startswith(f"2 more texts with the board's name or revision: '{text}' on {layer.name}")
        assert (finding.uids, finding.measured, finding.limit) == (("s20", "s30"), height, 0.8)


def test_other_texts_do_not_count() -> None:
    assert not ask(marking_too_fine, board(markings=(marking("GND", height=0.5),)))


def test_a_second_marking_on_lands_is_told_one_under_a_part_is_not() -> None:
    good, second = marking(NAME, (30, 30)), marking(NAME, (20, 10), uid="s")
    lands = [pad(str(n), (16 + 4 * n, 10), (2.0, 2.0)) for n in range(3)]
    on_lands = part("J1", (20, 10), lands, package="PinHeader_1x03")
    finding = only(ask(marking_clipped, board(markings=(good, second), parts=(on_lands,))))
    assert finding.consequence is Consequence.NOTE
    assert finding.message.startswith("1 more text with the board's name or revision: 'WIDGET REV B' on F.SilkS is cut")
    nicked = part("J1", (20, 10), [pad("1", (20, 11.0), (1.0, 1.0))], package="PinHeader_1x01")
    assert not ask(marking_clipped, board(markings=(good, second), parts=(nicked,)))
    over = dataclasses.replace(chip("U1", (20, 10)), body=rectangle((20, 10), 14, 4))
    assert not ask(marking_under_part, board(markings=(good, second), parts=(over,)))
    assert ask(marking_under_part, board(markings=(second,), parts=(over,)))


# --- letters and their box


def test_the_box_of_the_editor_is_roomier_than_its_letters() -> None:
    text = marking("REV B", (20, 20), height=1.0)
    first = 1.0 + 3 * text.stroke
    roomy = dataclasses.replace(text, extents=rectangle((20, 20), 5.0, first * 1.17))
    letters = ink(roomy)
    assert roomy.extents.buffer(1e-9).covers(letters)
    low, high = letters.bounds[1], letters.bounds[3]
    assert high - low == pytest.approx(1.0)
    turned = dataclasses.replace(roomy, extents=affinity.rotate(roomy.extents, 90, origin=(20, 20)), rotation=90.0)
    assert ink(turned).equals_exact(affinity.rotate(letters, 90, origin=(20, 20)), 1e-6) or (
        ink(turned).symmetric_difference(affinity.rotate(letters, 90, origin=(20, 20))).area < 1e-6
    )


def test_short_lines_leave_room_beside_them() -> None:
    text = marking("7-PORT HUB v1.4\nh1", (20, 20))
    tall = (1.0 + 0.45) * 1.17 + 1.61
    long_lines = dataclasses.replace(text, extents=rectangle((20, 20), 14.0, tall))
    assert ink(long_lines).area < 0.75 * shapely.box(*ink(long_lines).bounds).area


# --- properties


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_turned_board_says_the_same(turn: int) -> None:
    def turned(shape):
        return affinity.rotate(shape, turn, origin=(20, 20))

    text, cover = marking(NAME, (20, 20)), smd_part("U1", (20, 20))
    base = everything(board(40, 40, markings=(text,), parts=(cover,)))
    assert base
    moved = dataclasses.replace(text, extents=turned(text.extents), rotation=float(turn))
    lands = [
        dataclasses.replace(
            land,
            copper={k: turned(v) for k, v in land.copper.items()},
            mask={k: turned(v) for k, v in land.mask.items()},
        )
        for land in cover.pads
    ]
    other = dataclasses.replace(cover, body=turned(cover.body), pads=tuple(lands))
    again = everything(board(40, 40, markings=(moved,), parts=(other,)))
    assert [f.message for f in again] == [f.message for f in base]


def test_nothing_printed_says_nothing_here() -> None:
    assert not everything(board())
    assert not everything(board(markings=(marking("GND"),), parts=(body(20),)))
