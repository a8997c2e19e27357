# SPDX-License-Identifier: MIT
"""Markings: every kind of text, hidden in every form, with its variables resolved."""

from __future__ import annotations

import pytest
from reader_docs import VERSIONS, board, footprint

from lineworthy import Board
from lineworthy.model import LayerKind, Marking, MarkingRole, Side
from lineworthy_kicad.reader.variables import printed, resolve

FONT = "(effects (font (size 1 1) (thickness 0.15)))"


def only(*items: str, version: int = VERSIONS[9]) -> Marking:
    (marking,) = board(*items, version=version).markings
    return marking


def free(text: str, *items: str) -> str:
    """What a free text on the top legend says, with further items on the board."""
    made = board(*items, f'(gr_text "{text}" (at 0 0) (layer "F.SilkS") (uuid "asked") {FONT})')
    return next(marking.text for marking in made.markings if marking.uid == "asked")


def test_free_text() -> None:
    made = only(
        '(gr_text "HELLO" (at 10 20 90) (layer "B.SilkS" knockout) (uuid "t")'
        " (effects (font (size 1.5 1.2) (thickness 0.2) bold) (justify left mirror)))"
    )
    assert (made.uid, made.text, made.source, made.at, made.rotation) == ("t", "HELLO", "HELLO", (10, -20), 90)
    assert (made.layer.kind, made.layer.side) == (LayerKind.LEGEND, Side.BOTTOM)
    assert (made.height, made.stroke) == (1.5, 0.2)
    assert (made.mirrored, made.knockout, made.hidden, made.role) == (True, True, False, MarkingRole.FREE)


@pytest.mark.parametrize(
    ("effects", "stroke"),
    [
        ("(effects (font (size 1.6 0.8)))", 0.1),
        ("(effects (font (size 1 1) bold))", 0.2),
        ("(effects (font (size 1 1) (bold yes)))", 0.2),
        ("(effects (font (size 1 1) (bold no)))", 0.125),
        ("(effects (font (size 1 1) (thickness 0.8)))", 0.25),
        ("", 1.27 / 8),
    ],
)
def test_pen_when_not_stated_and_when_too_thick(effects: str, stroke: float) -> None:
    assert only(f'(gr_text "X" (at 0 0) (layer "F.SilkS") {effects})').stroke == pytest.approx(stroke)


def test_extents_are_round_the_anchor_and_follow_alignment() -> None:
    def bounds(justify: str, angle: int = 0) -> tuple[float, float, float, float]:
        text = f'(gr_text "ABC" (at 0 0 {angle}) (layer "F.SilkS") (effects (font (size 1 1)) {justify}))'
        return only(text).extents.bounds

    left, bottom, right, top = bounds("")
    assert left == pytest.approx(-right)
    assert bottom == pytest.approx(-top)
    assert bounds("(justify left)")[0] == pytest.approx(0)
    assert bounds("(justify right)")[2] == pytest.approx(0)
    assert bounds("(justify left mirror)")[2] == pytest.approx(0)
    # Turned by a quarter counter-clockwise, a text that ran to the right runs upwards.
    assert bounds("(justify left)", 90)[1] == pytest.approx(0)
    assert bounds("(justify left)", 90)[3] == pytest.approx(right - left)
    knockout = only('(gr_text "ABC" (at 0 0) (layer "F.SilkS" knockout) (effects (font (size 1 1))))').extents
    assert knockout.bounds[2] > right


def test_a_text_with_nothing_in_it_has_no_extents() -> None:
    assert only(f'(gr_text "" (at 0 0) (layer "F.SilkS") {FONT})').extents.is_empty


# --- hidden in every form -------------------------------------------------------------------------------------------

HIDDEN = [
    f'(fp_text reference "R1" (at 0 0) (layer "F.SilkS") hide {FONT})',
    f'(fp_text reference "R1" (at 0 0) (layer "F.SilkS") (hide yes) {FONT})',
    '(fp_text value "1k" (at 0 0) (layer "F.Fab") (effects (font (size 1 1)) hide))',
    f'(property "Reference" "R1" (at 0 0) (layer "F.SilkS") (hide yes) {FONT})',
    f'(property "Value" "1k" (at 0 0) (layer "F.Fab") hide {FONT})',
    f'(property "Value" "1k" (at 0 0) (layer "F.Fab") (hide) {FONT})',
    '(property "Value" "1k" (at 0 0) (layer "F.Fab") (effects (font (size 1 1)) (hide yes)))',
]


@pytest.mark.parametrize("text", HIDDEN)
def test_hidden(text: str) -> None:
    assert only(footprint(text)).hidden
    assert not only(footprint(_unhidden(text))).hidden


@pytest.mark.parametrize("text", [text.replace("Value", "MPN") for text in HIDDEN if '"Value"' in text])
def test_a_hidden_field_is_data_and_no_marking(text: str) -> None:
    made = board(footprint(text))
    assert (made.parts[0].fields, made.markings) == ({"MPN": "1k"}, ())
    assert only(footprint(_unhidden(text))).text == "1k"


def _unhidden(text: str) -> str:
    return text.replace("(hide yes)", "(hide no)").replace("(hide)", "").replace(" hide", "")


def test_a_text_that_says_hide_is_not_hidden() -> None:
    assert not only(f'(gr_text "hide" (at 0 0) (layer "F.SilkS") {FONT})').hidden


def test_roles_and_texts_of_parts() -> None:
    made = board(
        footprint(
            f'(property "Reference" "R1" (at 1 0 90) (layer "F.SilkS") {FONT})',
            f'(property "Value" "1k" (at 0 0) (layer "F.Fab") {FONT})',
            f'(property "MPN" "X" (at 0 0) (layer "F.Fab") {FONT})',
            '(property "Unseen" "not placed, so not drawn")',
            f'(fp_text user "free" (at 0 0) (layer "F.SilkS") {FONT})',
            f'(fp_text user "hidden ones are dropped as the editor does" (at 0 0) (layer "F.SilkS") (hide yes) {FONT})',
            at="10 10 90",
        )
    ).markings
    assert [(m.text, m.role) for m in made] == [
        ("R1", MarkingRole.REFERENCE),
        ("1k", MarkingRole.VALUE),
        ("X", MarkingRole.FIELD),
        ("free", MarkingRole.FREE),
    ]
    assert {m.part_uid for m in made} == {"part-1"}
    assert made[0].at == pytest.approx((10, -9))


@pytest.mark.parametrize(
    ("at", "words", "drawn"),
    [
        ("0 0 180", "", 0),
        ("0 0 270", "", 90),
        ("0 0 -45", "", -45),
        ("0 0 135", "", -45),
        ("0 0 90", "", 90),
        ("0 0 180", "(unlocked yes)", 180),
        ("0 0 180 unlocked", "", 180),
    ],
)
def test_texts_of_parts_stay_upright_unless_free(at: str, words: str, drawn: float) -> None:
    made = only(footprint(f'(fp_text user "A" (at {at}) {words} (layer "F.SilkS") {FONT})'))
    assert made.rotation == pytest.approx(drawn)


# --- variables ------------------------------------------------------------------------------------------------------

TITLE = (
    '(title_block (title "Frost") (date "2025-01-02") (rev "C") (company "Us") (comment 1 "one") (comment 4 "four"))'
)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("REV ${REVISION}", "REV C"),
        ("${TITLE} ${ISSUE_DATE} ${COMPANY}", "Frost 2025-01-02 Us"),
        ("${COMMENT1}|${COMMENT2}|${COMMENT4}", "one||four"),
        ("${FILENAME} ${PROJECTNAME}", "test.kicad_pcb test"),
        ("${LAYER}", "F.Silkscreen"),
        ("${NO_SUCH} ${REVISION}", "${NO_SUCH} C"),
        ("${CURRENT_DATE}", "${CURRENT_DATE}"),
        ("$REVISION {REVISION}", "$REVISION {REVISION}"),
        ("${OWN} ${${WHICH}}", "board's C"),
        ("~{RESET} A~{B}", "RESET AB"),
        ("V_{CC} 10^{2}", "VCC 102"),
        ("${C1:VALUE} ${C1:REFERENCE} ${C1:MPN}", "1uF C1 ABC"),
        ("${part-1:VALUE}", "1uF"),
        ("${C9:VALUE} ${C1:NONE}", "${C9:VALUE} ${C1:NONE}"),
    ],
)
def test_variables_of_the_board(text: str, says: str) -> None:
    part = footprint(
        f'(property "Reference" "C1" (at 0 0) (layer "F.Fab") {FONT})',
        f'(property "Value" "1uF" (at 0 0) (layer "F.Fab") {FONT})',
        '(property "MPN" "ABC")',
    )
    assert free(text, TITLE, '(property "OWN" "board\'s")', '(property "WHICH" "REVISION")', part) == says


def test_variables_of_a_part_come_first() -> None:
    made = board(
        TITLE,
        footprint(
            f'(property "Reference" "U7" (at 0 0) (layer "F.Fab") (hide yes) {FONT})',
            f'(property "Value" "MCU ${{TITLE}}" (at 0 0) (layer "F.Fab") (hide yes) {FONT})',
            '(property "REVISION" "part\'s own")',
            '(fp_text user "${REFERENCE} ${VALUE} ${REVISION} ${FOOTPRINT_NAME}"'
            f' (at 0 0) (layer "F.SilkS") {FONT})',
        ),
    )
    assert made.markings[-1].text == "U7 MCU Frost part's own Package"


def test_project_variables_win_over_those_kept_in_the_board() -> None:
    made = board(
        '(property "BATCH" "old")',
        f'(gr_text "${{BATCH}}" (at 0 0) (layer "F.SilkS") {FONT})',
        project='{"text_variables": {"BATCH": "new"}}',
    )
    assert made.markings[0].text == "new"
    assert made.variables["BATCH"] == "new"


def test_variables_that_hold_each_other_end() -> None:
    loop = {"A": "${B}", "B": "${A}"}
    assert resolve("${A}", loop.get) in ("${A}", "${B}")
    bomb = {f"V{i}": f"${{V{i + 1}}}" * 10 for i in range(12)}
    assert len(resolve("${V0}", bomb.get)) <= 200_000
    assert printed("~{" * 2000 + "x") == "~{" * 2000 + "x"


# --- boxes, tables, dimensions --------------------------------------------------------------------------------------


def test_text_boxes_tables_and_dimensions() -> None:
    made: Board = board(
        f'(gr_text_box "in a box" (start 0 0) (end 10 4) (layer "F.SilkS") (uuid "b") {FONT})',
        f'(gr_text_box "turned" (pts (xy 0 0) (xy 4 0) (xy 4 8) (xy 0 8)) (angle 90) (layer "B.SilkS") {FONT})',
        '(table (column_count 1) (layer "F.Fab") (cells'
        f' (table_cell "cell" (start 0 0) (end 4 2) {FONT}) (table_cell "" (start 0 2) (end 4 4) {FONT})))',
        '(dimension (type aligned) (layer "Dwgs.User") (uuid "d") (pts (xy 0 0) (xy 10 0)) (height 2)'
        f' (gr_text "10 mm" (at 5 -2) (layer "Dwgs.User") (uuid "d") {FONT}))',
        '(image (at 0 0) (data "iVBORw0KGgo="))',
    )
    assert [(m.text, m.layer.name) for m in made.markings] == [
        ("in a box", "F.SilkS"),
        ("turned", "B.SilkS"),
        ("cell", "F.Fab"),
        ("10 mm", "Dwgs.User"),
    ]
    assert made.markings[1].rotation == 90
    box = made.markings[0].extents.bounds
    assert box[0] >= 0
    assert box[2] <= 10


def test_title_block() -> None:
    made = board(TITLE).title
    assert (made.title, made.revision, made.date, made.company) == ("Frost", "C", "2025-01-02", "Us")
    assert made.comments == ("one", "", "", "four")


def test_long_texts_full_of_unclosed_marks_take_no_time() -> None:
    for mark in ("~{", "${", "^{x}", "}", "{"):
        assert only(f'(gr_text "{mark * 50_000}" (at 0 0) (layer "F.SilkS") {FONT})').text
