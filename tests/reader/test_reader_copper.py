# SPDX-License-Identifier: MIT
"""Tracks, vias, zones, drawn copper, stack-up, nets."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
import shapely
from reader_docs import FOUR_LAYERS, VERSIONS, board, box, line

from lineworthy import Board
from lineworthy.knowledge.panelsigns import score_lines
from lineworthy.model import LayerKind, Side, Via

NETS = ('(net 0 "")', '(net 1 "GND")', '(net 2 "A")')
SQUARE = "(polygon (pts (xy 0 0) (xy 10 0) (xy 10 10) (xy 0 10)))"


def test_straight_and_curved_tracks() -> None:
    made = board(
        *NETS,
        '(segment (start 0 0) (end 3 4) (width 0.25) (layer "F.Cu") (net 1) (uuid "s"))',
        '(arc (start 0 0) (mid 1 1) (end 2 0) (width 0.2) (layer "B.Cu") (net 2) (uuid "a"))',
        '(segment (start 0 0) (end 1 0) (width 0.25) (layers "F.Cu" "F.Mask") (solder_mask_margin 0.1) (uuid "m"))',
    )
    straight, curved, opened = made.tracks
    assert (straight.start, straight.end, straight.mid, straight.length) == ((0, 0), (3, -4), None, 5)
    assert (straight.net, straight.layer, straight.width) == ("GND", "F.Cu", 0.25)
    assert curved.mid == (1, -1)
    assert curved.length == pytest.approx(pi, rel=3e-3)
    assert (opened.layer, opened.mask_opened, straight.mask_opened, opened.net) == ("F.Cu", True, False, "")


def via(words: str = "", setup: str = "", version: int = VERSIONS[9]) -> Via:
    (only,) = board(
        *NETS,
        f"(setup {setup})",
        f'(via (at 1 2) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") {words} (net 1) (uuid "v"))',
        version=version,
        layers=FOUR_LAYERS,
    ).vias
    return only


def test_via() -> None:
    made = via()
    assert (made.at, made.diameter, made.drill, made.span) == ((1, -2), 0.6, 0.3, ("F.Cu", "B.Cu"))
    assert (made.net, made.filled, made.diameters) == ("GND", False, {})
    assert via("(filling yes)").filled
    blind = board('(via blind (at 0 0) (size 0.4) (drill 0.2) (layers "F.Cu" "In1.Cu"))', layers=FOUR_LAYERS).vias[0]
    assert blind.span == ("F.Cu", "In1.Cu")


def test_via_sizes_per_layer() -> None:
    made = via('(padstack (mode front_inner_back) (layer "Inner" (size 0.5)) (layer "B.Cu" (size 0.6)))')
    assert [made.diameter_on(name) for name in ("F.Cu", "In1.Cu", "In2.Cu", "B.Cu")] == [0.6, 0.5, 0.5, 0.6]


BOTH, NONE = frozenset(Side), frozenset()


@pytest.mark.parametrize(
    ("words", "setup", "tented"),
    [
        ("", "", BOTH),
        ("", "(tenting front back)", BOTH),
        ("", "(tenting front)", {Side.TOP}),
        ("", "(tenting none)", NONE),
        ("", "(tenting (front no) (back yes))", {Side.BOTTOM}),
        ("", "(pcbplotparams (viasonmask yes))", NONE),
        ("", "(pcbplotparams (viasonmask true))", NONE),
        ("", "(pcbplotparams (viasonmask false))", BOTH),
        ("(tenting back)", "(tenting front back)", {Side.BOTTOM}),
        ("(tenting none)", "(tenting front back)", NONE),
        ("(tenting (front yes))", "(tenting none)", {Side.TOP}),
        ("(tenting (back no))", "(tenting (front yes) (back yes))", {Side.TOP}),
        ("(tenting (front none) (back none))", "(tenting front back)", BOTH),  # formats between 9 and 10
        ("(tenting (front none) (back yes))", "(tenting none)", {Side.BOTTOM}),
    ],
)
def test_tenting_of_via_or_board(words: str, setup: str, tented: frozenset[Side]) -> None:
    assert via(words, setup).tented == tented


@pytest.mark.parametrize(
    ("words", "setup", "covered", "plugged", "filled", "capped"),
    [
        ("", "", NONE, NONE, False, False),
        ("(covering (front yes) (back no)) (plugging (front no) (back yes))", "", {Side.TOP}, {Side.BOTTOM}, 0, 0),
        ("(filling yes) (capping yes)", "", NONE, NONE, True, True),
        ("", "(filling yes) (capping yes) (plugging (front yes) (back yes))", NONE, BOTH, True, True),
        ("(filling no) (capping none)", "(filling yes) (capping yes)", NONE, NONE, False, True),
        ("(plugging (front no) (back none))", "(plugging (front yes) (back yes))", NONE, {Side.BOTTOM}, 0, 0),
        ("(capping no) (covering (front none) (back none))", "(capping yes) (covering front)", {Side.TOP}, NONE, 0, 0),
    ],
)
def test_how_a_via_is_closed(words: str, setup: str, covered, plugged, filled: bool, capped: bool) -> None:
    """The format of version 10 and the states between; what a via leaves open is as the board's set-up says."""
    made = via(words, setup)
    assert (made.covered, made.plugged, made.filled, made.capped) == (covered, plugged, bool(filled), bool(capped))


def zones(*items: str, version: int = VERSIONS[9]) -> Board:
    return board(*NETS, *items, version=version, layers=FOUR_LAYERS)


def test_zone_on_several_layers_makes_one_area_each() -> None:
    made = zones(
        '(zone (net 1) (net_name "GND") (layers "F.Cu" "In1.Cu" "B.Cu") (uuid "z") (name "plane") (priority 30001)'
        f" {SQUARE}"
        ' (filled_polygon (layer "F.Cu") (pts (xy 0 0) (xy 4 0) (xy 4 4)))'
        ' (filled_polygon (layer "F.Cu") (island yes) (pts (xy 6 0) (xy 8 0) (xy 8 4)))'
        ' (filled_polygon (layer "B.Cu") (pts (xy 0 0) (xy 4 0) (arc (start 4 0) (mid 6 2) (end 4 4)) (xy 0 4))))'
    )
    assert [(a.layer, a.unfilled, len(a.rings)) for a in made.areas] == [
        ("F.Cu", False, 2),
        ("In1.Cu", True, 0),
        ("B.Cu", False, 1),
    ]
    front, inner, back = made.areas
    assert (front.net, front.name, front.priority, front.uid) == ("GND", "plane", 30001, "z")
    assert front.fill.area == pytest.approx(8 + 4)
    assert back.fill.area == pytest.approx(16 + pi * 4 / 2, rel=2e-3)
    assert inner.boundary.equals(shapely.box(0, -10, 10, 0))


def test_a_fill_with_a_hole_joined_by_a_cut_gets_its_hole_back() -> None:
    ring = "(xy 0 0) (xy 10 0) (xy 10 10) (xy 0 10) (xy 0 4) (xy 4 4) (xy 4 6) (xy 6 6) (xy 6 4) (xy 4 4) (xy 0 4)"
    made = zones(f'(zone (net 1) (layer "F.Cu") {SQUARE} (filled_polygon (layer "F.Cu") (pts {ring})))')
    (area,) = made.areas
    assert isinstance(area.rings[0], np.ndarray)
    assert area.rings[0].shape == (11, 2)
    assert area.fill.area == pytest.approx(100 - 4)


def test_a_boundary_with_a_cut_out() -> None:
    made = zones(f'(zone (net 1) (layer "F.Cu") {SQUARE} (polygon (pts (xy 2 2) (xy 4 2) (xy 4 4) (xy 2 4))))')
    assert made.areas[0].boundary.area == pytest.approx(96)


def test_fills_drawn_with_a_pen_by_old_rules_are_grown() -> None:
    zone = (
        '(zone (net 1) (layer "F.Cu") (min_thickness 0.5) {} ' + SQUARE + ' (filled_polygon (layer "F.Cu")'
        " (pts (xy 1 1) (xy 9 1) (xy 9 9) (xy 1 9) (xy 1 4) (xy 4 4) (xy 4 6) (xy 6 6) (xy 6 4) (xy 4 4) (xy 1 4))))"
    )
    plain = 64 - 4
    grown = 64 + 4 * 8 * 0.25 + pi * 0.0625 - 1.5 * 1.5
    for version, words, area in [
        (VERSIONS[6], "", grown),
        (VERSIONS[6], "(filled_areas_thickness yes)", grown),
        (VERSIONS[6], "(filled_areas_thickness no)", plain),
        (VERSIONS[7], "", plain),
    ]:
        assert zones(zone.format(words), version=version).areas[0].fill.area == pytest.approx(area, rel=1e-3)


def test_the_least_width_of_a_pour() -> None:
    fill = '(filled_polygon (layer "F.Cu") (pts (xy 1 1) (xy 9 1) (xy 9 9)))'
    for words, width in [("(min_thickness 0.2)", 0.2), ("", None)]:
        assert zones(f'(zone (net 1) (layer "F.Cu") {words} {SQUARE} {fill})').areas[0].min_width == width


def test_keepouts_say_what_they_ban() -> None:
    made = zones(
        '(zone (net 0) (net_name "") (layers "*.Cu") (uuid "k") (keepout (tracks allowed) (vias not_allowed)'
        f" (pads not_allowed) (copperpour allowed) (footprints not_allowed)) {SQUARE})"
    )
    assert made.areas == ()
    (keepout,) = made.keepouts
    assert keepout.bans == {"vias", "pads", "parts"}
    assert keepout.layers == {"F.Cu", "In1.Cu", "In2.Cu", "B.Cu"}
    assert keepout.area.area == pytest.approx(100)


def test_fills_off_the_copper_are_graphics() -> None:
    made = zones(
        f'(zone (net 0) (layer "F.Mask") (uuid "z") {SQUARE}'
        ' (filled_polygon (layer "F.Mask") (pts (xy 0 0) (xy 4 0) (xy 4 4))))'
    )
    assert made.areas == ()
    (graphic,) = made.graphics
    assert (graphic.layer.kind, graphic.layer.side, graphic.shape.area) == (LayerKind.MASK, Side.TOP, 8)


PEN = "(stroke (width 0.2) (type solid))"


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (f"(gr_line (start 0 0) (end 3 0) {PEN}", 0.6 + pi * 0.01),
        (f"(gr_line (start 1 1) (end 1 1) {PEN}", pi * 0.01),
        (f"(gr_rect (start 0 0) (end 3 2) {PEN} (fill no)", 3.2 * 2.2 - 2.8 * 1.8 - (4 - pi) * 0.01),
        (f"(gr_rect (start 3 2) (end 0 0) {PEN} (fill yes)", 3.2 * 2.2 - (4 - pi) * 0.01),
        ("(gr_rect (start 0 0) (end 3 2) (width 0)", 6.0),
        (f"(gr_rect (start 0 0) (end 4 4) (radius 1) {PEN} (fill solid)", 4.2 * 4.2 - (4 - pi) * 1.21),
        (f"(gr_circle (center 5 5) (end 7 5) {PEN} (fill no)", pi * (2.1**2 - 1.9**2)),
        (f"(gr_circle (center 5 5) (end 7 5) {PEN} (fill yes)", pi * 2.1**2),
        (f"(gr_circle (center 5 5) (end 5.05 5) {PEN} (fill none)", pi * 0.15**2),
        (f"(gr_arc (start 0 0) (mid 1 1) (end 2 0) {PEN}", pi * 0.2 + pi * 0.01),
        (f"(gr_arc (start 0 0) (end 1 0) (angle 90) {PEN}", pi / 2 * 0.2 + pi * 0.01),
        (f"(gr_poly (pts (xy 0 0) (xy 4 0) (xy 4 4)) {PEN} (fill no)", None),
        ("(gr_poly (pts (xy 0 0) (xy 4 0) (xy 4 4)) (width 0) (fill yes)", 8.0),
        ("(gr_poly (pts (xy 0 0) (xy 4 0) (xy 4 4)) (width 0)", 8.0),
        ("(gr_poly (pts (xy 0 0) (xy 4 4) (xy 4 0) (xy 0 4)) (width 0) (fill yes)", 8.0),
        (f"(gr_curve (pts (xy 0 0) (xy 1 0) (xy 2 0) (xy 3 0)) {PEN}", 0.6 + pi * 0.01),
    ],
)
def test_areas_of_drawn_copper(shape: str, area: float) -> None:
    made = board(f'{shape} (layer "F.Cu") (net 1) (uuid "g"))', *NETS)
    (graphic,) = made.graphics
    assert graphic.shape.is_valid
    if area is None:
        perimeter = 8 + 32**0.5
        assert graphic.shape.area == pytest.approx(perimeter * 0.2, rel=0.02)
    else:
        assert graphic.shape.area == pytest.approx(area, rel=4e-3, abs=1e-3)


def test_an_old_arc_turns_clockwise_on_the_screen() -> None:
    (graphic,) = board(f'(gr_arc (start 0 0) (end 1 0) (angle 90) {PEN} (layer "F.SilkS"))').graphics
    # From the right of the centre to below it, which is negative y in the model.
    assert graphic.shape.covers(shapely.Point(0.5**0.5, -(0.5**0.5)))


def test_drawn_copper_has_its_net_and_may_open_the_mask() -> None:
    made = board(
        *NETS,
        f'(gr_line (start 0 0) (end 3 0) {PEN} (layers "F.Cu" "F.Mask") (net 2) (uuid "g"))',
        line(0, 0, 1, 1, layer="Dwgs.User"),
        line(0, 0, 1, 1, layer="My.Layer"),
    )
    assert [(g.layer.kind, g.net) for g in made.graphics] == [
        (LayerKind.COPPER, "A"),
        (LayerKind.MASK, "A"),
        (LayerKind.DRAWING, ""),
        (LayerKind.DRAWING, ""),
    ]


def test_a_free_layer_goes_by_the_name_its_user_gave_it() -> None:
    """The editor's free layers are User.1 to User.45; what a user calls one is all that says it holds scores."""
    named = (
        '(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (39 "User.1" user "V-Cut") (41 "User.2" user) '
        '(43 "User.3" user "B.Cu") (45 "User.4" user "") (19 "Cmts.User" user "User.Comments"))'
    )
    drawn = [
        line(0, n, 40, n, layer=name) for n, name in enumerate(("User.1", "User.2", "User.3", "User.4", "Cmts.User"))
    ]
    made = board(*box(0, -10, 40, 10), *drawn, layers=named)
    layers = [graphic.layer for graphic in made.graphics]
    assert [layer.name for layer in layers] == ["V-Cut", "User.2", "User.3", "User.4", "Cmts.User"]
    assert {layer.kind for layer in layers} == {LayerKind.DRAWING}
    assert len(score_lines(made)) == 1


def test_inner_layers_are_in_the_order_of_the_stack() -> None:
    shuffled = (
        '(layers (0 "F.Cu" signal) (22 "In10.Cu" power) (2 "B.Cu" signal) (6 "In2.Cu" mixed) (4 "In1.Cu" signal))'
    )
    assert board(layers=shuffled).copper_layers == ("F.Cu", "In1.Cu", "In2.Cu", "In10.Cu", "B.Cu")
    assert board(layers='(layers (0 "F.Cu" signal))').copper_layers == ("F.Cu",)
    assert board(layers="").copper_layers == ("F.Cu", "B.Cu")


def test_stackup() -> None:
    made = board(
        '(setup (stackup (layer "F.Cu" (type "copper") (thickness 0.035))'
        ' (layer "dielectric 1" (type "core") (thickness 1) (material "FR4") (epsilon_r 4.5) addsublayer'
        ' (thickness 0.5 locked) (material "glue"))'
        ' (layer "B.Cu" (type "copper")) (copper_finish "ENIG") (castellated_pads yes) (edge_plating yes)))'
    ).stackup
    assert (made.thickness, made.finish, made.castellated, made.edge_plated) == (1.6, "ENIG", True, True)
    assert [(entry.name, entry.kind, entry.thickness, entry.material) for entry in made.layers] == [
        ("F.Cu", "copper", 0.035, ""),
        ("dielectric 1", "core", 1.0, "FR4"),
        ("dielectric 1", "core", 0.5, "glue"),
        ("B.Cu", "copper", None, ""),
    ]
    assert made.layers[1].permittivity == 4.5


def test_a_net_may_be_named_by_digits() -> None:
    pad = '(footprint "L:P" (layer "F.Cu") (at 0 0) (pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net {})))'
    assert board('(net 5 "GND")', pad.format('5 "GND"')).parts[0].pads[0].net == "GND"
    assert board('(net 5 "GND")', pad.format("5")).parts[0].pads[0].net == "GND"
    by_name = board(pad.format('"5"'), version=VERSIONS[10])
    assert by_name.parts[0].pads[0].net == "5"
    assert set(by_name.nets) == {"5"}
    assert board(pad.format('0 ""')).nets == {}
