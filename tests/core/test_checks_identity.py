# SPDX-License-Identifier: MIT
"""The board says which board it is, or a person is told exactly what is missing."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from asking import only
from build import (
    COPPER_BOTTOM,
    COPPER_TOP,
    DRAWING,
    FAB_TOP,
    LEGEND_BOTTOM,
    LEGEND_TOP,
    MASK_TOP,
    board,
    chip,
    graphic,
    marking,
    part,
    rectangle,
)
from lineworthy import Consequence, built_in
from lineworthy.checks.identity import part_number_missing, revision_missing
from lineworthy.knowledge.printed import Printed
from lineworthy.model import Layer, LayerKind, MarkingRole, Net, Polygon, TitleBlock

SHEET = built_in()


def ask(check, layout, sheet=SHEET):
    return list(check.ask(board=layout, sheet=sheet, printed=Printed(layout)))


def number(*markings, path="boards/widget.kicad_pcb", **more):
    return ask(part_number_missing, board(markings=markings, path=path, **more))


def revision(*markings, **more):
    return ask(revision_missing, board(markings=markings, **more))


MADE = [LEGEND_TOP, LEGEND_BOTTOM, COPPER_TOP, COPPER_BOTTOM, MASK_TOP]
NOT_MADE = [FAB_TOP, DRAWING, Layer("F.CrtYd", LayerKind.COURTYARD), Layer("in1", LayerKind.COPPER)]


# --- part number or name


@pytest.mark.parametrize("layer", MADE, ids=lambda layer: layer.name)
def test_name_on_a_made_layer_is_enough(layer) -> None:
    assert not number(marking("WIDGET", layer=layer))


@pytest.mark.parametrize("layer", NOT_MADE, ids=lambda layer: layer.name)
def test_name_on_any_other_layer_is_not(layer) -> None:
    finding = only(number(marking("WIDGET", layer=layer)))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "No part number or product name is printed (its file is called 'widget'); "
        + (
            "'WIDGET' is on the inner layer in1, where nobody sees it"
            if layer.kind is LayerKind.COPPER
            else f"'WIDGET' is on layer {layer.name}, which does not get made"
        )
    )


def test_hidden_or_beyond_the_edge_does_not_count() -> None:
    assert only(number(marking("WIDGET", hidden=True))).message.endswith("'WIDGET' is hidden")
    assert only(number(marking("WIDGET", (-30, 5)))).message.endswith("'WIDGET' is beyond the board edge")


def test_nothing_printed_is_one_query_and_never_a_hold() -> None:
    finding = only(number())
    assert finding.consequence is Consequence.QUERY
    assert finding.message == "No part number or product name is printed (its file is called 'widget')"


def test_a_board_that_was_never_saved_has_no_file_to_be_called_by() -> None:
    assert only(number(path="")).message == "No part number or product name is printed"


@pytest.mark.parametrize("text", ["P/N 1203-4", "PCB-0012", "1234-5678-01", "Widget rev B", "W I D G E T", "wid-get"])
def test_numbers_and_other_spellings(text: str) -> None:
    assert not number(marking(text))


def test_title_block_and_variables_give_names_too() -> None:
    assert not number(marking("FROST ALARM"), title=TitleBlock(title="Frost alarm mainboard"))
    assert not number(marking("FROST"), title=TitleBlock(title="${PRODUCT}"), variables={"PRODUCT": "Frost"})
    assert not number(marking("ZX-9"), variables={"PART_NUMBER": "ZX-9"})
    assert number(marking("ACME GMBH"), variables={"COMPANY_NAME": "Acme GmbH"})


def test_other_lettering_is_shown_to_a_person_tallest_first() -> None:
    texts = [marking(f"LEGEND{n}", (10, 5 + 5 * n), height=1.0 + n / 10) for n in range(4)]
    finding = only(number(marking("GADGET", (30, 30), height=2.0), *texts))
    assert finding.consequence is Consequence.NOTE
    assert finding.message.endswith("to be confirmed by a person: 'GADGET', 'LEGEND3', 'LEGEND2'")
    assert [place.label for place in finding.places] == ["'GADGET'", "'LEGEND3'", "'LEGEND2'"]
    assert finding.uids[0] == "text-GADGET-F.SilkS"


@pytest.mark.parametrize("text", ["GND", "RESET", "LM317", "R12", "+5V", "Component side", "Made in Utopia", "12", "K"])
def test_labels_and_notices_are_no_candidates(text: str) -> None:
    parts = (chip("R12", (20, 20), nets=("/mcu/RESET", "GND"), value="LM317"),)
    assert only(number(marking(text), parts=parts)).consequence is Consequence.QUERY


def test_text_of_a_component_does_not_name_the_board() -> None:
    module = chip("U1", (20, 20))
    assert number(marking("WIDGET", part_uid=module.uid), parts=(module,))
    logo = part("LOGO1", (20, 20))
    assert not number(marking("WIDGET", part_uid=logo.uid), parts=(logo,))


def test_value_of_a_component_is_not_a_marking_of_the_board() -> None:
    item = chip("U1", (20, 20))
    assert number(marking("WIDGET", role=MarkingRole.VALUE, part_uid=item.uid), parts=(item,))
    assert number(marking("WIDGET", role=MarkingRole.REFERENCE))


@pytest.mark.parametrize("text", ["WIDGET EDA-XXXXX", "PN:", "${PART_NUMBER} WIDGET"])
def test_a_number_left_blank_is_a_query(text: str) -> None:
    finding = only([f for f in number(marking(text), marking("WIDGET", (20, 20))) if "blank" in f.message])
    assert finding.consequence is Consequence.QUERY
    assert finding.message == f"The part number or name is left blank in '{text}'"
    assert len(finding.places) == 1


def lettering() -> Polygon:
    """A comb: many corners, deep notches, like letters."""
    teeth = [rectangle((10 + n, 10.0), 0.5, 4.0) for n in range(8)]
    return shapely.union_all([*teeth, rectangle((13.5, 8.25), 7.5, 0.5)])


def test_artwork_may_hold_the_name_and_is_left_to_a_person() -> None:
    for asked in (number, revision):
        finding = only(asked(graphics=(graphic(lettering()),)))
        assert finding.consequence is Consequence.NOTE
        assert "artwork on F.SilkS may hold it" in finding.message


def test_artwork_beside_a_name_in_text_is_a_logo() -> None:
    assert only(revision(marking("WIDGET"), graphics=(graphic(lettering()),))).consequence is Consequence.QUERY


def test_a_small_sign_cannot_hold_a_name_and_a_large_picture_can() -> None:
    for size, consequence in ((0.3, Consequence.QUERY), (1.0, Consequence.NOTE)):
        logo = part("LOGO1", (20, 20))
        dots = [
            graphic(rectangle((20 + n * size, 20), size / 2, size / 2), uid=f"d{n}", part_uid=logo.uid)
            for n in range(12)
        ]
        assert only(number(graphics=dots, parts=(logo,))).consequence is consequence


def test_frames_and_pen_strokes_are_no_artwork() -> None:
    circle = shapely.Point(10, 10).buffer(3)
    drawn = (
        graphic(rectangle((10, 10), 5, 5)),
        graphic(circle.boundary.buffer(0.075)),
        graphic(shapely.LineString([(0, 0), (5, 5)]).buffer(0.075)),
        graphic(lettering(), FAB_TOP),
        graphic(lettering(), COPPER_TOP, net="GND"),
    )
    assert only(number(graphics=drawn)).consequence is Consequence.QUERY


@pytest.mark.parametrize(("size", "consequence"), [(14.9, "note"), (15.0, "note"), (15.01, "query")])
def test_a_tiny_board_may_go_unmarked(size: float, consequence: str) -> None:
    from build import outline

    for check in (part_number_missing, revision_missing):
        finding = only(ask(check, board(outline=outline(size, 5.0))))
        assert finding.consequence.value == consequence


# --- revision


@pytest.mark.parametrize("text", ["REV B", "Rev. 2", "R1.3", "v1.2", "1203-B", "WIDGET 2", "Rel. 1.1", "X1.1", "r1"])
@pytest.mark.parametrize("layer", [LEGEND_TOP, COPPER_BOTTOM, MASK_TOP], ids=lambda layer: layer.name)
def test_revision_as_people_write_it(text: str, layer) -> None:
    assert not revision(marking(text, layer=layer))


@pytest.mark.parametrize("text", ["3V3", "CC BY-SA 4.0", "USB 2.0", "GPL v3", "2024-03-05", "WIDGET"])
def test_what_is_no_revision(text: str) -> None:
    finding = only(revision(marking(text)))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == "No revision is printed; the title block gives none either"


def test_a_revision_only_in_the_title_block_is_said_so() -> None:
    finding = only(revision(marking("WIDGET"), title=TitleBlock(revision="B")))
    assert finding.message == "No revision is printed; the title block says 'B'"
    resolved = only(revision(title=TitleBlock(revision="${REV}"), variables={"REV": "1.2"}))
    assert resolved.message.endswith("the title block says '1.2'")
    unresolved = only(revision(title=TitleBlock(revision="${REV}")))
    assert unresolved.message.endswith("the title block gives none either")


def test_what_the_title_block_says_may_be_printed_without_a_word() -> None:
    assert not revision(marking("0.9.4"), title=TitleBlock(revision="0.9.4"))
    finding = only(revision(marking("2"), title=TitleBlock(revision="2")))
    assert finding.consequence is Consequence.NOTE
    assert finding.message.endswith("'2' (a single character, as in the title block)")


def test_on_a_layer_that_is_not_made_it_is_missing() -> None:
    finding = only(revision(marking("REV B", layer=FAB_TOP)))
    assert finding.message.endswith("; 'REV B' is on layer F.Fab, which does not get made")
    assert only(revision(marking("REV B", hidden=True))).consequence is Consequence.QUERY


@pytest.mark.parametrize("text", ["Screen PCB v#.#", "REV:", "rev?", "WIDGET ${REVISION}"])
def test_a_revision_left_blank(text: str) -> None:
    finding = only(revision(marking(text), title=TitleBlock(revision="C")))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == f"The revision is left blank in '{text}'; the title block says 'C'"
    assert finding.uids


def test_doubtful_readings_are_shown_to_a_person() -> None:
    finding = only(revision(marking("for GADGET rev B")))
    assert finding.consequence is Consequence.NOTE
    assert finding.message == (
        "No marking surely reads as a revision; to be confirmed by a person: 'for GADGET rev B' (it follows 'for')"
    )
    module = chip("U1", (20, 20))
    finding = only(revision(marking("rev 2", part_uid=module.uid), parts=(module,)))
    assert finding.message.endswith("'rev 2' (it belongs to U1)")


def test_labels_of_parts_and_rails_are_not_read() -> None:
    parts = (chip("V1", (20, 20)),)
    assert only(revision(marking("V1"), parts=parts)).consequence is Consequence.QUERY
    nets = {"+1V2": Net("+1V2")}
    assert only(revision(marking("V1.2"), nets=nets)).message.endswith("'V1.2' (it may label a supply)")
    assert not revision(marking("V1.2"))


# --- properties


def test_a_far_text_changes_nothing() -> None:
    far = marking("WIDGET REV B", (5000, 5000), layer=DRAWING)
    base = number(marking("GADGET"))
    assert [f.message for f in number(marking("GADGET"), far)] == [f.message for f in base]


def test_order_of_the_file_changes_nothing() -> None:
    texts = [marking(name, (10, 3 * n), uid=f"u{n}") for n, name in enumerate(["BETAX", "ALPHAX", "GAMMAX", "DELTAX"])]
    rng = np.random.default_rng(1)
    first = number(*texts)
    for _ in range(5):
        assert number(*(texts[n] for n in rng.permutation(4))) == first


def test_moving_a_text_keeps_the_fingerprint_and_rewriting_it_does_not() -> None:
    base = only(number(marking("GADGET", uid="t")))
    moved = only(number(marking("GADGET", (30, 30), uid="t")))
    rewritten = only(number(marking("GIZMO", uid="t")))
    assert base.fingerprint == moved.fingerprint
    assert base.fingerprint != rewritten.fingerprint


def test_hostile_text_is_quoted_short_and_on_one_line() -> None:
    finding = only(number(marking("<b>\n" + "evil" * 100)))
    assert "\n" not in finding.message
    assert len(finding.message) < 250


def test_a_board_without_an_outline_can_still_be_asked() -> None:
    from lineworthy import Board

    layout = Board(name="widget", markings=(marking("WIDGET REV B"),))
    assert ask(part_number_missing, layout) == []
    assert ask(revision_missing, layout) == []
    assert only(ask(revision_missing, Board(name="widget"))).consequence is Consequence.QUERY


def test_the_size_limit_comes_from_the_sheet() -> None:
    limits = dataclasses.replace(SHEET.identity, unmarked_board_max_mm=100.0)
    wide = dataclasses.replace(SHEET, identity=limits)
    finding = only(ask(revision_missing, board(), wide))
    assert (finding.consequence, finding.limit) == (Consequence.NOTE, 100.0)
