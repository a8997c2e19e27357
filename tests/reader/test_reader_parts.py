# SPDX-License-Identifier: MIT
"""Parts: attributes, fields, courtyard, body, height, what else a footprint brings along."""

from __future__ import annotations

from math import pi
from typing import Optional

import pytest
from reader_docs import SMD, VERSIONS, board, footprint, part

from lineworthy import InputError
from lineworthy.model import LayerKind, Mount, Side
from lineworthy_kicad.reader import parse_footprint


def lines(layer: str, *corners: tuple[float, float], closed: bool = True) -> str:
    ends = zip(corners, corners[1:] + corners[:1]) if closed else zip(corners, corners[1:])
    return " ".join(
        f'(fp_line (start {a[0]} {a[1]}) (end {b[0]} {b[1]}) (stroke (width 0.05) (type solid)) (layer "{layer}"))'
        for a, b in ends
    )


@pytest.mark.parametrize(
    ("words", "mount", "flags"),
    [
        ("", Mount.OTHER, (True, True, True, False)),
        ("(attr smd)", Mount.SURFACE, (True, True, True, False)),
        ("(attr through_hole)", Mount.THROUGH, (True, True, True, False)),
        ("(attr smd dnp)", Mount.SURFACE, (False, True, True, False)),
        ("(attr exclude_from_bom)", Mount.OTHER, (True, False, True, False)),
        ("(attr smd exclude_from_pos_files)", Mount.SURFACE, (True, True, False, False)),
        ("(attr board_only exclude_from_pos_files exclude_from_bom)", Mount.OTHER, (True, False, False, True)),
    ],
)
def test_attributes(words: str, mount: Mount, flags: tuple[bool, bool, bool, bool]) -> None:
    made = part(words)
    assert made.mount is mount
    assert (made.fitted, made.in_parts_list, made.in_placement, made.board_only) == flags


def test_fields_are_all_named_ones_but_reference_value_and_bookkeeping() -> None:
    made = part(
        '(property "Reference" "U1" (at 0 0) (layer "F.SilkS"))',
        '(property "Value" "MCU" (at 0 0) (layer "F.Fab"))',
        '(property "MPN" "A \\"1\\"" (at 0 0) (layer "F.Fab") (hide yes))',
        '(property "Empty" "")',
        '(property "Footprint" "Lib:Package")',
        '(property ki_fp_filters "x")',
    )
    assert (made.reference, made.value) == ("U1", "MCU")
    assert made.fields == {"MPN": 'A "1"', "Empty": ""}


@pytest.mark.parametrize(
    ("name", "library", "package"),
    [("Lib:R_0402", "Lib", "R_0402"), ("R_0402", "", "R_0402"), ("A:B:C", "A:B", "C"), ("", "", "")],
)
def test_library_and_package(name: str, library: str, package: str) -> None:
    (made,) = board(footprint(name=name)).parts
    assert (made.library, made.package) == (library, package)


@pytest.mark.parametrize(
    ("name", "value", "height"),
    [
        ("Height", "1.2", 1.2),
        ("Height", "1.2 mm", 1.2),
        ("height (mm)", "10", 10.0),
        ("Height (mil)", "100", 2.54),
        ("Max Height", "0,8mm", 0.8),
        ("Component Height", "0.1 in", 2.54),
        ("Height - Seated (Max)", "0.022 inch", 0.5588),
        ("Height", "see drawing", None),
        ("Height", "", None),
        ("Height", "-", None),
        ("Height", "0", None),
        ("Weight", "1.2", None),
        ("Heights of fashion", "1.2", None),
    ],
)
def test_height_is_taken_from_a_field_that_states_one(name: str, value: str, height: Optional[float]) -> None:
    made = part(f'(property "{name}" "{value}")')
    assert made.height == (height if height is None else pytest.approx(height))


def test_courtyards_by_side_from_loose_lines() -> None:
    made = part(
        lines("F.CrtYd", (-2, -1), (2, -1), (2, 1), (-2, 1)),
        '(fp_circle (center 0 0) (end 3 0) (width 0.05) (fill none) (layer "B.CrtYd"))',
        at="10 10 90",
    )
    assert made.courtyard[Side.TOP].bounds == pytest.approx((9, -12, 11, -8))
    assert made.courtyard[Side.BOTTOM].area == pytest.approx(9 * pi, rel=2e-3)


def test_courtyard_that_does_not_close_is_none_and_stray_lines_do_no_harm() -> None:
    corners = ((-2, -1), (2, -1), (2, 1), (-2, 1))
    assert part(lines("F.CrtYd", *corners, closed=False)).courtyard == {}
    cross = lines("F.CrtYd", (-0.5, 0), (0.5, 0), closed=False)
    assert part(lines("F.CrtYd", *corners), cross).courtyard[Side.TOP].area == pytest.approx(8)


@pytest.mark.parametrize(("gap", "closes"), [(0.0199, True), (0.0201, False)])
def test_courtyard_closes_over_a_gap_as_small_as_the_editor_allows(gap: float, closes: bool) -> None:
    """0.0199 mm closes and 0.0201 mm does not: tried in versions 9.0.8 and 10.0.6 of the editor."""
    made = part(lines("F.CrtYd", (-1 + gap, -1), (1, -1), (1, 1), (-1, 1), (-1, -1), closed=False))
    assert (Side.TOP in made.courtyard) is closes


def test_courtyard_with_a_hole() -> None:
    made = part(
        lines("F.CrtYd", (-2, -2), (2, -2), (2, 2), (-2, 2)), lines("F.CrtYd", (-1, -1), (1, -1), (1, 1), (-1, 1))
    )
    assert made.courtyard[Side.TOP].area == pytest.approx(12)


def test_body_is_the_largest_closed_shape_of_the_fabrication_layer() -> None:
    made = part(
        lines("F.Fab", (-2, -1), (1, -1), (2, 0), (2, 1), (-2, 1)),
        lines("F.Fab", (3, 3), (3.5, 3), (3.5, 3.5)),
        lines("F.Fab", (-2, 0), (-3, 0), closed=False),
        '(fp_circle (center 0 0) (end 0.2 0) (width 0.05) (fill none) (layer "F.Fab"))',
        '(fp_text user "${REFERENCE}" (at 0 9) (layer "F.Fab") (effects (font (size 1 1))))',
        lines("F.SilkS", (-9, -9), (9, -9), (9, 9), (-9, 9)),
    )
    assert made.body is not None
    assert made.body.area == pytest.approx(8 - 0.5)
    assert len(made.body.interiors) == 0


def test_body_divided_by_a_mark_is_still_one() -> None:
    made = part(
        '(fp_rect (start -2 -1) (end 2 1) (stroke (width 0.1) (type solid)) (fill no) (layer "B.Fab"))',
        lines("B.Fab", (-1, -1), (-1, 1), closed=False),
        side="B",
    )
    assert made.side is Side.BOTTOM
    assert made.body is not None
    assert made.body.area == pytest.approx(8)


def test_a_small_closed_detail_in_an_open_outline_is_not_the_body() -> None:
    """As the editor's library draws an inductor of 12 x 12 mm: its outline open at the lands, a tiny face in it."""
    sides = [lines("F.Fab", (-6, y), (-6, 3 * y), (6, 3 * y), (6, y), closed=False) for y in (-2, 2)]

    def with_face(size: float):
        return part(*sides, lines("F.Fab", (0, 0), (size, 0), (size, size), (0, size), closed=True))

    assert with_face(0.7).body.area == pytest.approx(144)
    assert with_face(3.7).body.area == pytest.approx(144)  # 13.69, less than a tenth
    assert with_face(3.9).body.area == pytest.approx(15.21)


def test_body_of_open_strokes_is_their_hull_and_nothing_drawn_is_none() -> None:
    made = part(lines("F.Fab", (-1, 0), (0, 1), (1, 0), closed=False))
    assert made.body is not None
    assert made.body.area == pytest.approx(1)
    assert part(lines("F.Fab", (-1, 0), (1, 0), closed=False)).body is None
    assert part(lines("F.SilkS", (-1, 0), (0, 1), (1, 0))).body is None


def test_what_a_footprint_draws_belongs_to_it() -> None:
    made = board(
        footprint(
            lines("F.SilkS", (0, 0), (1, 0), closed=False),
            '(fp_poly (pts (xy 0 0) (xy 1 0) (xy 1 1)) (stroke (width 0) (type solid)) (fill yes) (layer "F.Mask"))',
            '(zone (net 0) (net_name "") (layer "F.Cu") (uuid "z") (hatch edge 0.5) (min_thickness 0.2)'
            " (keepout (tracks not_allowed) (vias not_allowed) (pads allowed) (copperpour not_allowed)"
            " (footprints allowed)) (polygon (pts (xy 50 50) (xy 60 50) (xy 60 60))))",
            at="10 10",
        )
    )
    legend, mask = made.graphics
    assert {legend.part_uid, mask.part_uid} == {"part-1"}
    assert (legend.layer.kind, mask.layer.kind) == (LayerKind.LEGEND, LayerKind.MASK)
    assert mask.shape.bounds == pytest.approx((10, -11, 11, -10))
    (keepout,) = made.keepouts
    assert keepout.part_uid == "part-1"
    assert keepout.bans == {"tracks", "vias", "pour"}
    # Zones of a footprint are written in the board's own coordinates.
    assert keepout.area.bounds == pytest.approx((50, -60, 60, -50))


def test_library_footprint_stands_at_the_origin() -> None:
    made = parse_footprint(
        '(footprint "R_0402" (version 20241229) (generator "x") (layer "F.Cu") (descr "resistor") (attr smd)\n'
        '(property "Reference" "REF**" (at 0 0) (layer "F.SilkS"))\n'
        '(property "Value" "R_0402" (at 0 0) (layer "F.Fab"))\n'
        f'(pad "1" smd rect (at -1 0.5) (size 1 1) {SMD}) (pad "2" smd rect (at 1 0.5) (size 1 1) {SMD}))'
    )
    assert (made.package, made.reference, made.description, made.mount) == (
        "R_0402",
        "REF**",
        "resistor",
        Mount.SURFACE,
    )
    assert [p.at for p in made.pads] == [(-1, -0.5), (1, -0.5)]


def test_library_footprint_errors_name_the_line() -> None:
    with pytest.raises(InputError) as caught:
        parse_footprint('(footprint "R" (version 20241229)\n(layer "F.Cu")\n(pad "1" smd rect (at 0 0)\n(size 1 x)))')
    assert (caught.value.place, caught.value.reason) == ("line 4", "'size' holds 'x' where a number belongs")
    with pytest.raises(InputError, match="not a footprint"):
        parse_footprint("(kicad_pcb)")
    with pytest.raises(InputError, match="version 5"):
        parse_footprint('(footprint "R" (version 20171130))')


def test_a_part_without_a_place_is_at_the_origin_and_a_pad_without_one_is_malformed() -> None:
    assert part().at == (0, 0)
    with pytest.raises(InputError, match="'pad' lacks its 'at'"):
        part('(pad "1" smd rect (size 1 1))')


@pytest.mark.parametrize("version", VERSIONS.values())
def test_locked_parts(version: int) -> None:
    locked = '(footprint "L:P" locked (layer "F.Cu") (tstamp u) (at 1 2) (attr smd))'
    (made,) = board(locked, version=version).parts
    assert (made.package, made.at, made.uid) == ("P", (1, -2), "u")


def test_pads_that_the_part_joins() -> None:
    """Format 10, from memory: groups of pad numbers, or all pads of one number."""
    pads = "".join(
        f'(pad "{number}" smd rect (at {x} 0) (size 1 1) (layers "F.Cu"))' for x, number in enumerate("11234", 1)
    )
    assert part(pads).joined == ()
    assert part(f"(duplicate_pad_numbers_are_jumpers no) {pads}").joined == ()
    assert part(f"(duplicate_pad_numbers_are_jumpers yes) {pads}").joined == (frozenset({"1"}),)
    groups = '(jumper_pad_groups ("2" "3") ("1" "4"))'
    assert part(f"{groups} {pads}").joined == (frozenset({"2", "3"}), frozenset({"1", "4"}))
