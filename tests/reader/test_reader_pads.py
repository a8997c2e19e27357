# SPDX-License-Identifier: MIT
"""Pad shapes, layers, openings with their margins, holes, roles: against areas known from school geometry."""

from __future__ import annotations

from math import pi, sqrt

import pytest
import shapely
from reader_docs import ALL, FOUR_LAYERS, SMD, VERSIONS, board, footprint, pad, part

from lineworthy.model import PadKind, PadRole, PadShape, Side
from lineworthy.shapes import ARC_TOL_MM, Area

CORNER = 1 - pi / 4
"""What a rounded corner of radius 1 takes off a square corner."""


def top(shape: str) -> Area:
    """Copper on the top of a surface pad."""
    return pad(f'"1" smd {shape} {SMD}').copper["F.Cu"]


@pytest.mark.parametrize(
    ("shape", "kind", "area"),
    [
        ("circle (at 0 0) (size 2 2)", PadShape.CIRCLE, pi),
        ("oval (at 0 0) (size 3 1)", PadShape.OVAL, 2 + pi / 4),
        ("oval (at 0 0) (size 1 3)", PadShape.OVAL, 2 + pi / 4),
        ("rect (at 0 0) (size 3 2)", PadShape.RECTANGLE, 6),
        ("roundrect (at 0 0) (size 3 2) (roundrect_rratio 0.25)", PadShape.ROUNDED, 6 - 4 * CORNER / 4),
        ("roundrect (at 0 0) (size 3 2) (roundrect_rratio 0)", PadShape.ROUNDED, 6),
        ("trapezoid (at 0 0) (size 3 2) (rect_delta 0 1)", PadShape.TRAPEZOID, 6),
        (
            "roundrect (at 0 0) (size 3 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_left bottom_right)",
            PadShape.CHAMFERED,
            6 - 2 * 0.5 * 0.5 / 2,
        ),
        (
            "roundrect (at 0 0) (size 3 2) (roundrect_rratio 0.25) (chamfer_ratio 0.25) (chamfer top_left)",
            PadShape.CHAMFERED,
            6 - 0.125 - 3 * CORNER / 4,
        ),
    ],
)
def test_copper_area_of_each_shape(shape: str, kind: PadShape, area: float) -> None:
    made = pad(f'"1" smd {shape} {SMD}')
    assert made.shape is kind
    assert made.copper["F.Cu"].area == pytest.approx(area, rel=2e-3)
    assert made.copper["F.Cu"].is_valid


def test_arcs_are_within_tolerance() -> None:
    corners = shapely.get_coordinates(top("circle (at 0 0) (size 2 2)"))
    middles = (corners[1:] + corners[:-1]) / 2
    assert min(sqrt(x * x + y * y) for x, y in middles) >= 1 - ARC_TOL_MM
    assert max(sqrt(x * x + y * y) for x, y in corners) <= 1 + 1e-9


def test_chamfers_are_where_the_document_says() -> None:
    shape = top("roundrect (at 0 0) (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_left)")
    # y is up in the model: the upper left corner is at (-1, 1).
    assert not shape.covers(shapely.Point(-0.99, 0.99))
    for corner in [(0.99, 0.99), (0.99, -0.99), (-0.99, -0.99)]:
        assert shape.covers(shapely.Point(corner))


def test_trapezoid_is_wide_where_the_document_says() -> None:
    # Seen on the editor's screen, a positive second delta makes the lower edge the longer one.
    wide_below = top("trapezoid (at 0 0) (size 3 2) (rect_delta 0 1)")
    assert wide_below.covers(shapely.Point(-1.9, -0.95))
    assert not wide_below.covers(shapely.Point(-1.2, 0.95))


def test_pads_turn_counter_clockwise_about_their_place() -> None:
    made = pad(f'"1" smd rect (at 2 1 30) (size 4 1) {SMD}')
    assert made.at == (2, -1)
    assert made.rotation == 30
    tip = shapely.Point(2 + 1.9 * sqrt(3) / 2, -1 + 1.9 / 2)
    assert made.copper["F.Cu"].covers(tip)


def test_pads_move_with_their_part_and_keep_their_own_angle() -> None:
    made = pad(f'"1" smd rect (at 2 0 90) (size 4 1) {SMD}', at="10 20 90")
    # The pad lies to the right of a part turned by 90 degrees, so above it; its angle already includes the part's.
    assert made.at == pytest.approx((10, -18))
    assert made.copper["F.Cu"].bounds == pytest.approx((9.5, -20, 10.5, -16))


def test_offset_moves_copper_but_not_the_hole() -> None:
    made = pad(f'"1" thru_hole rect (at 1 0 90) (size 2 1) (drill 0.5 (offset 0.5 0.25)) {ALL}')
    assert made.hole is not None
    assert made.hole.at == (1, 0)
    # (0.5, -0.25) with y up, turned by 90 degrees, is (0.25, 0.5).
    assert made.copper["F.Cu"].bounds == pytest.approx((0.75, -0.5, 1.75, 1.5))


def test_bottom_pads_are_where_they_are_seen_from_the_top() -> None:
    made = pad('"1" smd rect (at 2 0) (size 1 1) (layers "B.Cu" "B.Mask" "B.Paste")')
    assert set(made.copper) == {"B.Cu"}
    assert set(made.mask) == set(made.paste) == {Side.BOTTOM}
    assert made.copper["B.Cu"].bounds == pytest.approx((1.5, -0.5, 2.5, 0.5))


def test_custom_pad_is_anchor_and_primitives() -> None:
    shape = top(
        "custom (at 0 0) (size 1 1) (options (clearance outline) (anchor rect)) (primitives"
        " (gr_poly (pts (xy 0 0) (xy 3 0) (xy 3 1) (xy 0 1)) (width 0) (fill yes))"
        " (gr_line (start 3 0.5) (end 5 0.5) (width 0.5)) (gr_bbox (start 9 9) (end 10 10)))"
    )
    rest = 1 - 0.5 * 0.5
    strip = 2 * 0.5 + pi * 0.0625 / 2
    assert shape.area == pytest.approx(3 + rest + strip, rel=1e-3)
    assert shape.bounds == pytest.approx((-0.5, -1, 5.25, 0.5))


def test_custom_ring_keeps_its_hole() -> None:
    shape = top(
        "custom (at 0 0) (size 0.2 0.2) (options (clearance outline) (anchor circle))"
        " (primitives (gr_circle (center 0 0) (end 2 0) (width 0.2) (fill no)))"
    )
    assert shape.area == pytest.approx(pi * (2.1**2 - 1.9**2) + pi * 0.01, rel=1e-3)


@pytest.mark.parametrize(
    ("names", "copper"),
    [
        ('"*.Cu" "*.Mask"', {"F.Cu", "In1.Cu", "In2.Cu", "B.Cu"}),
        ("*.Cu *.Mask", {"F.Cu", "In1.Cu", "In2.Cu", "B.Cu"}),
        ('"F&B.Cu" "*.Mask"', {"F.Cu", "B.Cu"}),
        ('"F.Cu" "In2.Cu" "In7.Cu"', {"F.Cu", "In2.Cu"}),
        ('"F.Mask"', set()),
    ],
)
def test_layer_wildcards_mean_what_the_board_has(names: str, copper: set[str]) -> None:
    made = pad(f'"1" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers {names})')
    assert set(made.copper) == copper


def test_padstack_with_front_inner_and_back() -> None:
    made = pad(
        f'"1" thru_hole circle (at 0 0) (size 2 2) (drill 1) {ALL} (padstack (mode front_inner_back)'
        ' (layer "Inner" (shape rect) (size 1.4 1.2)) (layer "B.Cu" (shape oval) (size 3 1.5)))'
    )
    areas = {name: shape.area for name, shape in made.copper.items()}
    assert areas["F.Cu"] == pytest.approx(pi, rel=2e-3)
    assert areas["In1.Cu"] == areas["In2.Cu"] == pytest.approx(1.68)
    assert areas["B.Cu"] == pytest.approx(1.5 * 1.5 + pi * 0.5625, rel=2e-3)
    assert made.mask[Side.BOTTOM].area == pytest.approx(areas["B.Cu"])


def test_padstack_layer_by_layer() -> None:
    made = pad(
        f'"1" thru_hole rect (at 0 0) (size 2 2) (drill 1) {ALL} (padstack (mode custom)'
        ' (layer "In1.Cu" (shape rect) (size 1 1)) (layer "B.Cu" (shape rect) (size 3 3) (offset 1 0)))'
    )
    assert {name: shape.area for name, shape in made.copper.items()} == pytest.approx(
        {"F.Cu": 4, "In1.Cu": 1, "In2.Cu": 4, "B.Cu": 9}
    )
    assert made.copper["B.Cu"].bounds == pytest.approx((-0.5, -1.5, 2.5, 1.5))


@pytest.mark.parametrize(
    ("shape", "bare"),
    [
        ("circle (at 0 0) (size 2 2) (drill 2)", True),
        ("circle (at 0 0) (size 1 1) (drill 2)", True),
        ("circle (at 0 0) (size 3 3) (drill 2)", False),
        ("oval (at 0 0) (size 1 2) (drill oval 1 2)", True),
        ("oval (at 0 0) (size 1 3) (drill oval 1 2)", False),
        ("rect (at 0 0) (size 2 2) (drill 2)", False),
        ("circle (at 0 0) (size 2 2) (drill 2 (offset 1 0))", False),
    ],
)
def test_unplated_hole_no_smaller_than_its_land_has_no_copper(shape: str, bare: bool) -> None:
    made = pad(f'"" np_thru_hole {shape} {ALL}')
    assert made.kind is PadKind.UNPLATED
    assert made.hole is not None
    assert not made.hole.plated
    assert (made.copper == {}) is bare
    assert set(made.mask) == set(Side)


@pytest.mark.parametrize(
    ("drill", "size", "slot"),
    [("1.2", (1.2, 1.2), False), ("oval 0.8 2", (0.8, 2.0), True), ("oval 0.8", (0.8, 0.8), False)],
)
def test_holes(drill: str, size: tuple[float, float], slot: bool) -> None:
    hole = pad(f'"1" thru_hole oval (at 0 0 30) (size 2 3) (drill {drill}) {ALL}').hole
    assert hole is not None
    assert (hole.size, hole.is_slot, hole.rotation, hole.plated) == (size, slot, 30, True)


def test_a_surface_pad_has_no_hole_even_with_a_drill_that_holds_an_offset() -> None:
    made = pad(f'"1" smd rect (at 0 0) (size 1 1) (drill (offset 0.2 0)) {SMD}')
    assert made.hole is None
    assert made.copper["F.Cu"].bounds == pytest.approx((-0.3, -0.5, 0.7, 0.5))


@pytest.mark.parametrize(
    ("word", "role"),
    [
        ("bga", PadRole.ARRAY),
        ("fiducial_glob", PadRole.FIDUCIAL_GLOBAL),
        ("fiducial_loc", PadRole.FIDUCIAL_LOCAL),
        ("testpoint", PadRole.TEST_POINT),
        ("heatsink", PadRole.THERMAL),
        ("castellated", PadRole.CASTELLATED),
        ("mechanical", PadRole.MECHANICAL),
        ("pressfit", PadRole.PRESS_FIT),
        ("of_tomorrow", PadRole.NONE),
    ],
)
def test_roles(word: str, role: PadRole) -> None:
    assert pad(f'"1" smd circle (at 0 0) (size 1 1) (property pad_prop_{word}) {SMD}').role is role


# --- openings -------------------------------------------------------------------------------------------------------


def openings(
    pad_items: str = "", part_items: str = "", setup: str = "", version: int = VERSIONS[9]
) -> tuple[float, float]:
    """Width of the mask opening and of the stencil aperture of a 2 by 2 pad; 0 where there is none."""
    made = board(
        f"(setup {setup})",
        footprint(f'(pad "1" smd rect (at 0 0) (size 2 2) {SMD} {pad_items})', part_items),
        version=version,
    )
    only = made.parts[0].pads[0]
    return tuple(
        shapes[Side.TOP].bounds[2] - shapes[Side.TOP].bounds[0] if Side.TOP in shapes else 0.0
        for shapes in (only.mask, only.paste)
    )  # type: ignore[return-value]


@pytest.mark.parametrize("version", VERSIONS.values())
@pytest.mark.parametrize(
    ("pad_items", "part_items", "setup", "mask", "paste"),
    [
        ("", "", "", 2.0, 2.0),
        ("", "", "(pad_to_mask_clearance 0.1) (pad_to_paste_clearance -0.05)", 2.2, 1.9),
        ("", "", "(pad_to_paste_clearance_ratio -0.1)", 2.0, 1.6),
        ("", "(solder_mask_margin 0.2)", "(pad_to_mask_clearance 0.1)", 2.4, 2.0),
        ("(solder_mask_margin 0.3)", "(solder_mask_margin 0.2)", "(pad_to_mask_clearance 0.1)", 2.6, 2.0),
        ("(solder_paste_margin -0.1)", "(solder_paste_margin_ratio -0.05)", "(pad_to_mask_clearance 0.1)", 2.2, 1.6),
        ("(solder_paste_margin_ratio -0.2)", "(solder_paste_ratio -0.05)", "", 2.0, 1.2),
        ("(solder_mask_margin -0.1)", "", "", 1.8, 2.0),
        ("(solder_paste_margin -1)", "", "", 2.0, 0.0),
    ],
)
def test_margins_come_from_pad_footprint_or_board(
    pad_items: str, part_items: str, setup: str, mask: float, paste: float, version: int
) -> None:
    assert openings(pad_items, part_items, setup, version) == pytest.approx((mask, paste))


def test_zero_is_a_margin_of_its_own_since_format_9_and_inherits_before() -> None:
    setup = "(pad_to_mask_clearance 0.1)"
    assert openings("(solder_mask_margin 0)", "", setup, VERSIONS[9])[0] == pytest.approx(2.0)
    assert openings("(solder_mask_margin 0)", "", setup, VERSIONS[8])[0] == pytest.approx(2.2)


def test_openings_follow_the_shape_as_it_is_plotted() -> None:
    rect = pad(f'"1" smd rect (at 0 0) (size 2 2) {SMD} (solder_mask_margin 0.5)')
    assert rect.mask[Side.TOP].area == pytest.approx(9 - 4 * CORNER * 0.25, rel=1e-3)
    rounded = pad(f'"1" smd roundrect (at 0 0) (size 2 4) (roundrect_rratio 0.25) {SMD} (solder_mask_margin 0.5)')
    assert rounded.mask[Side.TOP].area == pytest.approx(15 - 4 * CORNER * 0.75**2, rel=1e-3)
    oval = pad(f'"1" smd oval (at 0 0) (size 2 4) {SMD} (solder_paste_margin_ratio -0.1)')
    # A tenth of each dimension at each edge: 1.6 by 3.2 remain.
    assert oval.paste[Side.TOP].area == pytest.approx(1.6 * 1.6 + pi * 0.64, rel=1e-3)


def test_no_layer_no_opening_and_no_margin_off_the_copper() -> None:
    bare = pad('"1" smd rect (at 0 0) (size 2 2) (layers "F.Cu")')
    assert (bare.mask, bare.paste) == ({}, {})
    aperture = pad('"" smd rect (at 0 0) (size 2 2) (layers "F.Paste") (solder_paste_margin -0.2)')
    assert aperture.copper == {}
    assert aperture.paste[Side.TOP].area == pytest.approx(4)


# --- lands that are left away where nothing joins -------------------------------------------------------------------

VIA_PAD = f'(pad "1" thru_hole circle (at 0 0) (size 2 2) (drill 1) {ALL} (net 1 "A") {{}} (uuid "p"))'


@pytest.mark.parametrize(
    ("words", "tracks", "layers"),
    [
        ("", "", {"F.Cu", "In1.Cu", "In2.Cu", "B.Cu"}),
        ("(remove_unused_layers no)", "", {"F.Cu", "In1.Cu", "In2.Cu", "B.Cu"}),
        ("(remove_unused_layers) (keep_end_layers)", "", {"F.Cu", "B.Cu"}),
        ("(remove_unused_layers yes) (keep_end_layers no)", "", set()),
        (
            '(remove_unused_layers yes) (keep_end_layers yes) (zone_layer_connections "In1.Cu")',
            "",
            {"F.Cu", "In1.Cu", "B.Cu"},
        ),
        ("(remove_unused_layers yes) (keep_end_layers yes)", "In2.Cu", {"F.Cu", "In2.Cu", "B.Cu"}),
        ("(remove_unused_layers yes) (start_end_only yes)", "In2.Cu", {"F.Cu", "B.Cu"}),
    ],
)
def test_unused_lands(words: str, tracks: str, layers: set[str]) -> None:
    items = [footprint(VIA_PAD.format(words))]
    if tracks:
        items.append(f'(segment (start 5 0) (end 0.5 0) (width 0.2) (layer "{tracks}") (net 1) (uuid "s"))')
        items.append('(segment (start 5 0) (end 0.5 0) (width 0.2) (layer "In1.Cu") (net 2) (uuid "other net"))')
        items.append('(segment (start 5 0) (end 1.5 0) (width 0.2) (layer "In1.Cu") (net 1) (uuid "too short"))')
    made = board('(net 1 "A")', '(net 2 "B")', *items, layers=FOUR_LAYERS)
    (only,) = made.parts[0].pads
    assert set(only.copper) == layers


def test_pads_of_a_part_keep_their_order_and_may_share_ids() -> None:
    twins = [f'(pad "{n}" smd rect (at {n} 0) (size 0.5 0.5) {SMD} (uuid "same"))' for n in (3, 1, 2)]
    made = part(*twins)
    assert [p.number for p in made.pads] == ["3", "1", "2"]
    assert {p.uid for p in made.pads} == {"same"}
