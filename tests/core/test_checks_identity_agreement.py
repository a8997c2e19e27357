# SPDX-License-Identifier: MIT
"""Marking, title block, variables and file name agree; letters follow the sequence; nothing is left to fill in."""

from __future__ import annotations

import pytest

from asking import only
from build import FAB_TOP, LEGEND_BOTTOM, board, chip, marking, part
from lineworthy import Consequence
from lineworthy.checks.identity_agreement import (
    numbers_disagree,
    revision_letter_skipped,
    revisions_disagree,
    text_left_blank,
)
from lineworthy.knowledge.agreement import other_number, revision_in_file_name, same_revision
from lineworthy.knowledge.printed import Printed
from lineworthy.model import TitleBlock


def ask(check, *texts, **more):
    markings = [marking(t, (10, 4 + 3 * n), uid=f"m{n}") if isinstance(t, str) else t for n, t in enumerate(texts)]
    layout = board(markings=tuple(markings), **more)
    return list(check.ask(printed=Printed(layout)))


def titled(revision: str, title: str = "Widget", **more) -> TitleBlock:
    return TitleBlock(title=title, revision=revision, **more)


# --- revisions


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("B", "B"),
        ("b", "B"),
        ("V02", "2"),
        ("1", "1.0"),
        ("1.0", "1.0.0"),
        ("Rev. 3", "03"),
        ("r1", "1"),
        ("2", "2.C"),
        ("1.A", "1A"),
        ("v1_2", "1.2"),
        ("A", "A1"),
        ("Revision B", "rev b"),
        ("-", ""),
    ],
)
def test_the_same_revision(one: str, other: str) -> None:
    assert same_revision(one, other)
    assert same_revision(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [("A", "B"), ("1.0", "1.1"), ("V2", "V3"), ("2", "B"), ("A1", "A2"), ("1.10", "1.1"), ("R", "1"), ("B", "")],
)
def test_another_revision(one: str, other: str) -> None:
    assert not same_revision(one, other)
    assert not same_revision(other, one)


@pytest.mark.parametrize(
    ("name", "revision"),
    [
        ("widget_revC", "C"),
        ("widget-v1.2", "1.2"),
        ("widget_v1_2", "1.2"),
        ("Widget Rev B", "B"),
        ("widget_rev_b", "b"),
        ("ecc83-pp_v2", "2"),
        ("widget-R3-final", "3"),
        ("widget", ""),
        ("v7-kaleido", ""),
        ("LM317", ""),
        ("driver", ""),
        ("rover", ""),
        ("carte_test", ""),
        ("nano_v3_adapter", ""),
        ("RoyalBlue54L-Feather", ""),
        ("", ""),
    ],
)
def test_the_revision_in_a_file_name(name: str, revision: str) -> None:
    assert revision_in_file_name(name) == revision


def test_a_marking_against_the_title_block() -> None:
    assert not ask(revisions_disagree, "WIDGET REV B", title=titled("B"))
    finding = only(ask(revisions_disagree, "WIDGET REV A", title=titled("B")))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == "The revision differs: 'A' in 'WIDGET REV A' on F.SilkS, 'B' in the title block"
    assert [place.label for place in finding.places] == ["'WIDGET REV A'"]


def test_one_old_marking_beside_a_right_one() -> None:
    old = marking("REV A", (30, 30), LEGEND_BOTTOM, mirrored=True)
    finding = only(ask(revisions_disagree, "WIDGET REV B", old, title=titled("B")))
    assert "'A' in 'REV A' on B.SilkS" in finding.message
    assert len(finding.places) == 1


def test_two_markings_without_a_title_block() -> None:
    finding = only(ask(revisions_disagree, "REV A", "WIDGET REV B"))
    assert finding.message == "The revision differs: 'A' in 'REV A' on F.SilkS, 'B' in 'WIDGET REV B' on F.SilkS"
    assert not ask(revisions_disagree, "REV A", "Rev. A")


@pytest.mark.parametrize(
    "other",
    [
        "ASSY REV A",
        "PCBA REV C",
        "FW v1.2",
        "STENCIL REV A",
        "mates with GADGET REV A",
        "for GADGET rev A",
        "CERN-OHL v1.2",
        "CC BY-SA 4.0",
        "USB 2.0",
        "3V3",
        "1V8",
        "2024-01-01",
        "Mk II",
        "v3.1",  # written in another way than the right one: may label something else
    ],
)
def test_what_speaks_of_something_else(other: str) -> None:
    assert not ask(revisions_disagree, "WIDGET REV B", other, title=titled("B"))


@pytest.mark.parametrize(
    "other",
    [
        "REV 1.6.0",
        "Rev. 1.6.0",
        "Revision: 1.6.0",
        "Version 1.6.0",
        "PCB REV 1.6.0",
        "REV 1.6.0 2024-03",
        "WIDGET Rev 2",
    ],
)
def test_a_marking_that_plainly_says_another_revision_beside_a_right_one(other: str) -> None:
    finding = only(ask(revisions_disagree, "WIDGET V1.4.0", other, title=titled("1.4.0")))
    assert finding.message.startswith("The revision differs: ")
    assert f"in '{other}' on F.SilkS, '1.4.0' in the title block" in finding.message
    assert [place.label for place in finding.places] == [f"'{other}'"]


@pytest.mark.parametrize(
    "other",
    [
        "LICENSE VERSION 2",
        "CHARGER REV 2.0",
        "Rel. 2.0",
        "see WIDGET REV 2",
        "WIDGET is made to be read with the drawing of the case REV 2",
        "MODULE REV 2",
        "KiCad version 9",
        "R2.0",
        "WIDGET V1.4.0 REV C",  # the right one and one more exact in one text
    ],
)
def test_versions_of_other_things_beside_a_right_one(other: str) -> None:
    assert not ask(revisions_disagree, "WIDGET V1.4.0", other, title=titled("1.4.0"))


def test_a_revision_drawn_in_a_picture_of_something_is_not_the_boards() -> None:
    logo = part("LOGO1", (30, 30))
    drawn = marking("REV 2", (30, 30), part_uid=logo.uid)
    assert not ask(revisions_disagree, "WIDGET V1.4.0", drawn, parts=(logo,), title=titled("1.4.0"))


def test_a_version_with_the_name_and_a_plain_revision_without_a_title_block() -> None:
    finding = only(ask(revisions_disagree, "WIDGET V1.4.0", "REV 1.6.0"))
    assert finding.message == (
        "The revision differs: '1.6.0' in 'REV 1.6.0' on F.SilkS, '1.4.0' in 'WIDGET V1.4.0' on F.SilkS"
    )
    assert not ask(revisions_disagree, "WIDGET V1.4.0", "REV B")  # the product's version, the drawing's revision
    assert not ask(revisions_disagree, "WIDGET V1.4.0 REV 2")
    assert not ask(revisions_disagree, "V1.4.0", "REV 1.6.0")  # may label something else
    assert not ask(revisions_disagree, "WIDGET V2", "REV 2.C")


def test_a_dot_and_a_letter_belong_to_the_value() -> None:
    assert ask(revisions_disagree, "WIDGET V2.D", title=titled("2.C"))
    assert not ask(revisions_disagree, "WIDGET V2.C", title=titled("2.C"))
    assert not ask(revisions_disagree, "WIDGET V2.X", title=titled("2.C"))


def test_a_version_in_the_products_name_is_no_revision() -> None:
    given = titled("1.1", title="Controller based on widget v7")
    assert not ask(revisions_disagree, "widget v7", "Rel. 1.1", title=given)
    assert not ask(revisions_disagree, "WIDGET V7", title=given)


def test_text_of_a_part_hidden_text_and_other_layers_do_not_contradict() -> None:
    module = chip("U1", (30, 30))
    others = [
        marking("rev A", (30, 30), part_uid=module.uid),
        marking("REV A", (30, 33), hidden=True),
        marking("REV A", (30, 36), FAB_TOP),
    ]
    assert not ask(revisions_disagree, "WIDGET REV B", *others, parts=(module,), title=titled("B"))


@pytest.mark.parametrize(("key", "found"), [("REV", True), ("PCB_REV", True), ("Version", True), ("FW_REV", False)])
def test_a_variable_that_was_forgotten(key: str, found: bool) -> None:
    findings = ask(revisions_disagree, "WIDGET REV B", title=titled("B"), variables={key: "A", "REVISION": "B"})
    assert bool(findings) is found
    if found:
        assert findings[0].message.endswith(f"'B' in the title block, 'A' in the variable '{key}'")


def test_the_files_name() -> None:
    assert not ask(revisions_disagree, "WIDGET REV B", name="widget_revB", title=titled("B"))
    finding = only(ask(revisions_disagree, "WIDGET REV B", name="widget_revC", title=titled("B")))
    assert finding.message == (
        "The revision differs: 'B' in 'WIDGET REV B' on F.SilkS, 'B' in the title block, "
        "'C' in the file's name 'widget_revC'"
    )
    finding = only(ask(revisions_disagree, "WIDGET REV B", name="widget_revC"))
    assert finding.message.endswith("'B' in 'WIDGET REV B' on F.SilkS, 'C' in the file's name 'widget_revC'")
    assert only(ask(revisions_disagree, name="widget_revC", title=titled("B"))).places == ()


def test_nothing_to_compare() -> None:
    assert not ask(revisions_disagree)
    assert not ask(revisions_disagree, "WIDGET REV B")
    assert not ask(revisions_disagree, title=titled("B"))
    assert not ask(revisions_disagree, "WIDGET REV B", title=titled("rev?"))
    assert not ask(revisions_disagree, "WIDGET REV B", title=titled("${REV}"))
    assert not ask(revisions_disagree, name="widget_v2")


def test_order_of_the_file_changes_nothing() -> None:
    texts = [marking("REV A", (10, 10), uid="a"), marking("WIDGET REV C", (10, 20), uid="b")]
    assert ask(revisions_disagree, *texts, title=titled("B")) == ask(
        revisions_disagree, *texts[::-1], title=titled("B")
    )


# --- numbers


def test_a_number_against_the_title_block() -> None:
    assert not ask(numbers_disagree, "1234-5678 REV B", title=titled("B", "1234-5678 Widget"))
    finding = only(ask(numbers_disagree, "1234-5679 REV B", title=titled("B", "1234-5678 Widget")))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "The part number differs: '1234-5679' in '1234-5679 REV B', '1234-5678' in the title block, the project's "
        "variables or the file's name"
    )


@pytest.mark.parametrize(
    ("printed", "stated"),
    [
        (["1234-5678-01"], ["1234-5678"]),
        (["1234-5678"], ["1234-5678-01"]),
        (["PCB-0012"], ["1234-5678"]),
        (["1234-5679", "1234-5678"], ["1234-5678"]),
        ([], ["1234-5678"]),
        (["1234-5678"], []),
    ],
)
def test_numbers_that_agree_or_number_something_else(printed: list[str], stated: list[str]) -> None:
    assert other_number(printed, stated) is None


def test_numbers_in_comments_variables_and_the_file_name_count() -> None:
    assert ask(numbers_disagree, "P/N 1234-5679", title=titled("", comments=("PN 1234-5678",)))
    assert ask(numbers_disagree, "P/N 1234-5679", variables={"PART_NUMBER": "1234-5678"})
    assert ask(numbers_disagree, "P/N 1234-5679", name="1234-5678")
    assert not ask(numbers_disagree, "P/N 1234-5679", name="widget")


@pytest.mark.parametrize(
    ("printed", "stated", "told"),
    [
        (["FA-1043"], "FA-1042", True),
        (["FA-1043 REV B"], "Main board FA-1042", True),
        (["FA-1042"], "FA-1042", False),
        (["FA-1043", "FA-1042"], "FA-1042", False),  # of an assembly and its bare board one is right
        (["FB-1043"], "FA-1042", False),
        (["FA-104"], "FA-1042", False),
        (["LM-2596"], "LM-1117 supply", False),
        (["IEC-62368"], "IEC-62378", False),
        (["AB-2023"], "AB-2024", False),
        (["FA-1043-2"], "FA-1042", False),
    ],
)
def test_codes_of_letters_and_digits(printed, stated: str, told: bool) -> None:
    assert bool(ask(numbers_disagree, *printed, title=titled("", comments=(stated,)))) is told


def test_the_code_of_a_part_is_not_the_boards() -> None:
    part = chip("U1", (30, 30), value="FA-1043")
    assert not ask(numbers_disagree, "FA-1043", title=titled("", comments=("FA-1042",)), parts=(part,))


# --- letters the sequence skips (ASME Y14.35M-1997 as quoted; what comes next from memory: ASME Y14.35)


@pytest.mark.parametrize(
    ("letter", "instead"),
    [
        ("I", "after H comes J"),
        ("O", "after N comes P"),
        ("Q", "after P comes R"),
        ("S", "after R comes T"),
        ("Z", "after Y comes AA"),
        ("AI", "after AH comes AJ"),
        ("IA", "the first is A"),
    ],
)
def test_skipped_letters_are_a_note(letter: str, instead: str) -> None:
    for texts, given in (([f"WIDGET REV {letter}"], TitleBlock()), ([], titled(letter))):
        finding = only(ask(revision_letter_skipped, *texts, title=given))
        assert finding.consequence is Consequence.NOTE
        assert finding.message == (
            f"Revision '{letter}' uses a letter that revisions skip (I, O, Q, S, X, Z); {instead}"
        )


def test_the_letter_x_only_where_it_is_no_blank() -> None:
    assert only(ask(revision_letter_skipped, title=titled("X"))).message.endswith("after W comes Y")
    assert not ask(revision_letter_skipped, "REV X")


@pytest.mark.parametrize(
    "text", ["REV A", "REV Y", "REV AA", "X1.1", "Mk II", "r1", "1234-S", "v0.3b", "REV 2", "REV s"]
)
def test_letters_of_the_sequence_and_other_ways(text: str) -> None:
    assert not ask(revision_letter_skipped, text)


# --- left blank


def test_a_variable_printed_as_it_stands() -> None:
    finding = only(ask(text_left_blank, "WIDGET REV B", "built ${DATE}"))
    assert (finding.consequence, finding.message) == (
        Consequence.QUERY,
        "A variable is printed as it stands: 'built ${DATE}'",
    )


def test_a_date_to_be_filled_in_is_a_note() -> None:
    finding = only(ask(text_left_blank, "WIDGET REV B", "YYYY-MM-DD"))
    assert (finding.consequence, finding.message) == (Consequence.NOTE, "A date is left to be filled in: 'YYYY-MM-DD'")


def test_what_other_checks_say_is_not_said_again() -> None:
    assert not ask(text_left_blank, "${PART_NUMBER}", "${REVISION}")
    assert ask(text_left_blank, "WIDGET REV B", "${REVISION}")


@pytest.mark.parametrize("text", ["S/N ______", "WIDGET", "2024-05-01", "$5", "${", "DATE:"])
def test_what_is_no_blank(text: str) -> None:
    assert not ask(text_left_blank, "WIDGET REV B", text)


def test_hidden_and_unmade_texts_may_hold_variables() -> None:
    assert not ask(text_left_blank, marking("${X}", hidden=True), marking("${X}", layer=FAB_TOP, uid="b"))
