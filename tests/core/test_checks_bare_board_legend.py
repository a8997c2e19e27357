# SPDX-License-Identifier: MIT
"""The legend: ink on lands, pens and heights, print beyond the edge."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

import build
from lineworthy import Board, Consequence
from lineworthy.checks.bare_board_legend import legend_off_board, legend_on_land, legend_too_fine
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.mask import Mask
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.printed import Printed
from lineworthy.model import Graphic, MarkingRole, Part, Side
from lineworthy.sheet import built_in

SHEET = built_in()
LINE = SHEET.bare_board.legend_line_min_mm
HEIGHT = SHEET.identity.text_height_min_mm
LAYERS = {Side.TOP: build.LEGEND_TOP, Side.BOTTOM: build.LEGEND_BOTTOM}


def on_land(board: Board) -> list:
    return list(legend_on_land.ask(board=board, mask=Mask(board), printed=Printed(board), packages=Packages(board)))


def too_fine(board: Board) -> list:
    return list(legend_too_fine.ask(board=board, sheet=SHEET, printed=Printed(board)))


def off_board(board: Board) -> list:
    return list(legend_off_board.ask(board=board, printed=Printed(board)))


def line(start: tuple, end: tuple, pen: float = 0.15, *, side: Side = Side.TOP, **more: object) -> Graphic:
    shape = shapely.LineString([start, end]).buffer(pen / 2)
    return Graphic(f"line-{start[0]:g}-{start[1]:g}", LAYERS[side], shape, pen=pen, **more)


def land(side: Side = Side.TOP, **more: object) -> Part:
    """A part with a land of 2 x 2 mm about (10, 10), its opening 0.05 mm larger all round."""
    return build.part("U1", (10, 10), [build.pad("1", (10, 10), 2.0, side=side, net="A", **more)], side=side)


# --- on lands ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize(("x", "found"), [(12.0, 0), (11.075, 0), (11.025, 0), (11.0, 1), (10.0, 1)])
def test_a_line_on_a_land_by_how_much_of_it(x: float, found: int, side: Side) -> None:
    """The pen is 0.15 mm, the land ends at 11 mm: at 11.025 mm 0.05 x 1.0 mm of it, just too little to count."""
    board = build.board(parts=(land(side),), graphics=(line((x, 8.97), (x, 9.93), side=side),))
    answers = on_land(board)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].message == f"1 drawn line on the {side.value} prints on lands that get soldered"
        assert answers[0].places[0].side is side


def test_the_place_is_where_the_line_crosses_the_land() -> None:
    # the middle of the line is 15 mm away from the only land it crosses
    (found,) = on_land(build.board(parts=(land(),), graphics=(line((9, 10), (40, 10)),)))
    (place,) = found.places
    assert land().pads[0].mask[Side.TOP].contains(shapely.Point(place.at))
    assert place.label == "drawn line on U1 pad 1"


def test_lines_of_parts_are_one_finding_a_side_and_name_the_parts() -> None:
    graphics = tuple(line((9, y), (11, y), part_uid="part-U1") for y in (9.5, 10.5))
    (found,) = on_land(build.board(parts=(land(),), graphics=graphics))
    assert found.message == "2 drawn lines of U1 on the top print on lands that get soldered"


def test_the_other_side_and_lands_without_solder_do_not_count() -> None:
    across = line((9, 10), (11, 10))
    assert on_land(build.board(parts=(land(Side.BOTTOM),), graphics=(across,))) == []
    assert on_land(build.board(parts=(land(paste=False),), graphics=(across,))) == []
    assert on_land(build.board(parts=(land(mask_margin=None),), graphics=(across,))) == []
    assert on_land(build.board(graphics=(across,))) == on_land(build.board(parts=(land(),))) == []


def test_a_hole_for_a_screw_gets_no_solder() -> None:
    across = (line((9, 11.5), (11, 11.5)),)
    for reference, package, found in (("H1", "MountingHole_2.2mm_M2_Pad", 0), ("J1", "Banana_Jack_1Pin", 1)):
        pads = [build.through_pad("1", (10, 10), 4.4, 2.2)]
        part = build.part(reference, (10, 10), pads, package=package)
        assert len(on_land(build.board(parts=(part,), graphics=across))) == found


def test_a_lead_gets_solder_on_both_sides_a_via_placed_as_a_pad_does_not() -> None:
    for drill, found in ((1.0, 1), (0.3, 0)):
        part = build.part("J1", (10, 10), [build.through_pad("1", (10, 10), 2.0, drill)])
        graphics = (line((9, 10.7), (11, 10.7), side=Side.BOTTOM),)
        assert len(on_land(build.board(parts=(part,), graphics=graphics))) == found


def test_texts_count_from_a_tenth_and_references_up_to_where_identity_tells() -> None:
    word = build.marking("HEATER", (10, 10))  # 5.4 x 1 mm: 2.1 of 5.4 on the opening
    (found,) = on_land(build.board(parts=(land(),), markings=(word,)))
    assert found.message == "1 text on the top prints on lands that get soldered: 'HEATER'"
    assert on_land(build.board(parts=(land(),), markings=(replace(word, hidden=True),))) == []
    reference = replace(word, role=MarkingRole.REFERENCE, text="C1", part_uid="part-U1")
    assert on_land(build.board(parts=(land(),), markings=(reference,))) == []  # 39 %: identity/reference-covered
    aside = build.marking("HEATER", (13.1, 10))  # from 10.4: 0.6 of 5.4 mm
    (found,) = on_land(
        build.board(parts=(land(),), markings=(replace(aside, role=MarkingRole.REFERENCE, part_uid="part-U1"),))
    )
    assert found.message == "1 reference on the top prints on lands that get soldered: U1"
    assert on_land(build.board(parts=(land(),), markings=(build.marking("HEATER", (13.5, 10)),))) == []


# --- pens and heights ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pen", "found"), [(0.15, 0), (LINE, 0), (LINE - TOL_MM / 2, 0), (LINE - 0.001, 1), (0.05, 1), (0.0, 1)]
)
def test_the_pen_of_lines_and_texts_against_its_limit(pen: float, found: int) -> None:
    answers = too_fine(build.board(graphics=(line((5, 5), (9, 5), pen),)))
    assert len(answers) == found
    text = replace(build.marking("HEATER"), stroke=pen)
    assert len(too_fine(build.board(markings=(text,)))) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].measured == pytest.approx(pen)


@pytest.mark.parametrize(("height", "found"), [(1.0, 0), (HEIGHT, 0), (HEIGHT - TOL_MM / 2, 0), (HEIGHT - 0.001, 1)])
def test_the_height_of_texts_against_its_limit(height: float, found: int) -> None:
    assert len(too_fine(build.board(markings=(build.marking("HEATER", height=height),)))) == found


def test_many_are_one_finding_and_a_low_text_is_not_told_a_second_time_for_its_pen() -> None:
    markings = tuple(
        replace(build.marking(f"HEATER{n}", (10, 5 + n), layer, 0.5), stroke=0.08)
        for n, layer in enumerate((build.LEGEND_TOP, build.LEGEND_BOTTOM))
    )
    (found,) = too_fine(build.board(markings=markings))
    assert found.message == "2 texts on B.SilkS, F.SilkS down to 0.50 mm high; 0.80 mm needed"
    assert {place.side for place in found.places} == set(Side)


def test_filled_drawings_other_layers_and_hidden_texts_are_not_measured() -> None:
    filled = Graphic("logo", build.LEGEND_TOP, shapely.box(5, 5, 5.05, 9))
    drawing = replace(line((5, 5), (9, 5), 0.02), layer=build.DRAWING)
    hidden = build.marking("HEATER", height=0.2, hidden=True)
    assert too_fine(build.board(graphics=(filled, drawing), markings=(hidden,))) == []


# --- edge ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("x", "found"), [(10, 0), (2.7, 0), (2.2, 0), (2.0, 1), (-10, 1)])
def test_a_text_over_the_edge(x: float, found: int) -> None:
    """HEATER takes 5.4 mm: a tenth of it is beyond the edge with its middle at 2.16."""
    answers = off_board(build.board(markings=(build.marking("HEATER", (x, 20)),)))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].message == "1 text of the legend beyond the board edge: 'HEATER'"


def test_drawings_of_the_board_count_those_of_parts_do_not() -> None:
    part = build.part("J1", (1, 10), [build.pad("1", (1, 10))])
    across = line((-5, 10), (2, 10))
    (found,) = off_board(build.board(parts=(part,), graphics=(across,)))
    assert found.message == "1 drawn line of the legend beyond the board edge"
    assert off_board(build.board(parts=(part,), graphics=(replace(across, part_uid=part.uid),))) == []
    assert off_board(build.board(graphics=(line((2, 10), (5, 10)),))) == []


def test_a_cutout_is_an_edge_and_a_part_beside_the_board_is_not_placed_yet() -> None:
    slot = build.outline(60, 40, cutouts=(shapely.box(10, 10, 20, 20),))
    text = build.marking("HEATER", (15, 15))
    assert len(off_board(build.board(outline=slot, markings=(text,)))) == 1
    beside = build.part("R1", (-20, 10), [build.pad("1", (-20, 10))])
    value = build.marking("HEATER", (-20, 12), role=MarkingRole.VALUE, part_uid=beside.uid)
    assert off_board(build.board(parts=(beside,), markings=(value,))) == []


@pytest.mark.parametrize(("gap", "found"), [(20.0, 1), (50.0, 1), (50.001, 0), (300.0, 0)])
def test_what_lies_far_from_the_board_is_a_note_on_the_page(gap: float, found: int) -> None:
    text = build.marking("HEATER", (0.0, 20.0))  # 5.4 mm wide
    far = build.marking("HEATER", (60.0 + gap + text.extents.bounds[2], 20.0))
    assert len(off_board(build.board(60, 40, markings=(far,)))) == found


def test_without_a_closed_outline_nothing_is_beyond_it() -> None:
    assert off_board(Board(markings=(build.marking("HEATER", (-20, 0)),))) == []


def test_a_filled_box_is_ink_all_over_and_its_letters_lie_well_inside() -> None:
    """The box of HEATER, 5.4 x 1.0 mm, shrinks by 0.245 mm all round to 4.91 x 0.51 mm."""
    aside = build.marking("HEATER", (13.45, 10), knockout=True)  # from 10.995: 0.055 x 0.51 mm of it on the opening
    assert on_land(build.board(parts=(land(),), markings=(aside,))) == []
    (found,) = on_land(build.board(parts=(land(),), markings=(build.marking("HEATER", (13.2, 10), knockout=True),)))
    assert found.message == "1 text on the top prints on lands that get soldered: 'HEATER'"
    assert off_board(build.board(markings=(build.marking("HEATER", (1.5, 20), knockout=True),))) == []
    assert len(off_board(build.board(markings=(build.marking("HEATER", (1.1, 20), knockout=True),)))) == 1
