# SPDX-License-Identifier: MIT
"""Revisions as people write them, things that only look like one, and the letter sequence."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lineworthy.knowledge.naming import blank, mentions, part_numbers, plain
from lineworthy.knowledge.revisions import (
    LETTERS,
    Context,
    next_revision,
    read_revisions,
    revision_at,
    skipped_letters,
)

WRITTEN = [
    ("V2r1", "2r1"),
    ("v1_2", "1_2"),
    ("ISSUE 2", "2"),
    ("VER 1", "1"),
    ("Mk II", "II"),
    ("Indice B", "B"),
    ("Ausgabe 2", "2"),
    ("Stand: 03", "03"),
    ("Revisão: B", "B"),
    ("Wersja 1.1", "1.1"),
    ("Рев. 2", "2"),
    ("Ревизия B", "B"),
    ("版本 1.2", "1.2"),
    ("改訂 A", "A"),
    ("REV B", "B"),
    ("Rev. 2", "2"),
    ("Rev: A", "A"),
    ("REV:A1", "A1"),
    ("rev a", "a"),
    ("RevB", "B"),
    ("REVB", "B"),
    ("rev2", "2"),
    ("Rev.A1", "A1"),
    ("REV_C", "C"),
    ("REV-C", "C"),
    ("Rev # 3", "3"),
    ("Revision No. 4", "4"),
    ("Revision: 1.A", "1.A"),
    ("REV 2.C", "2.C"),
    ("REV AA", "AA"),
    ("REV 2024-03-05", "2024-03-05"),
    ("REV -", "-"),
    ("R1.3", "1.3"),
    ("r1", "1"),
    ("v1.2", "1.2"),
    ("V2", "2"),
    ("V02", "02"),
    ("v10", "10"),
    ("v 1.2", "1.2"),
    ("V.2", "2"),
    ("V1.2b", "1.2b"),
    ("V2.D", "2.D"),
    ("v1.2.c", "1.2.c"),
    ("HW 2.D", "2.D"),
    ("V2.X", "2"),
    ("epdiy v7.Kaleido", "7"),
    ("Version 1.0", "1.0"),
    ("VER 2.1", "2.1"),
    ("1203-B", "B"),
    ("PN 1234-5678 Rev C", "C"),
    ("1234-5678-D", "D"),
    ("Rel. 1.1", "1.1"),
    ("Release 3", "3"),
    ("Issue 2", "2"),
    ("X1.1", "1.1"),
    ("HW1.2", "1.2"),
    ("HW v1.2", "1.2"),
    ("PCB 1.4", "1.4"),
    ("Mk2", "2"),
    ("EVT2", "EVT2"),
    ("PIC PROGRAMMER V03", "03"),
    ("EDA-XXXXX-V0\nTOP", "0"),
    ("7-PORT USB\n2.0 HUB v1.4.0\nrbts.co/h1", "1.4.0"),
    ("epdiy v7 Kaleido version", "7"),
    ("ch570funprog rev A", "A"),
    ("boardV1.2", "1.2"),
    ("© 2024 Me, CC BY-SA, board rev D", "D"),
    ("splitflap sensor v2.0 2024-01-01", "2.0"),
    ("~{REV} F", "F"),
    ("\uff32ev \uff22", "B"),  # full-width letters,
]


@pytest.mark.parametrize(("text", "value"), WRITTEN)
def test_reads_what_people_write(text: str, value: str) -> None:
    found = [revision for revision in read_revisions(text) if revision.sure]
    assert [revision.value for revision in found] == [value]
    assert found[0].quote in plain(text)


@pytest.mark.parametrize(
    "text",
    [
        "IPC-A-610 Rev H",
        "STANDBY",
        "STANDARD 2",
        "版权 2020",
        "",
        "3V3",
        "3v3",
        "1V8",
        "5V0",
        "12V",
        "+5V",
        "V+",
        "V-",
        "VIN",
        "VCC",
        "VBUS",
        "CC BY-SA 4.0",
        "CC-BY-SA-4.0",
        "Creative Commons Attribution 4.0",
        "GPL v3",
        "GPLv3",
        "GNU GPL version 3",
        "CERN-OHL-S v2",
        "CERN-OHL-S-2.0",
        "TAPR OHL v1.0",
        "Licensed under Apache 2.0",
        "Apache License, Version 2.0",
        "Solderpad v2.1",
        "USB 2.0",
        "USB2.0",
        "USB\n2.0",
        "PCIe 3.0",
        "Bluetooth 5.0",
        "HDMI 1.4",
        "KiCad v9",
        "FW v1.2",
        "firmware version 3",
        "R1",
        "R12",
        "C3",
        "D1",
        "REV",
        "REV:",
        "REV ",
        "rev?",
        "Rev. X.X",
        "REV XX",
        "REV X",
        "v#.#",
        "Screen PCB v#.#",
        "REV __",
        "${REVISION}",
        "Rev ${REVISION}",
        "REV BY: JD",
        "REVERSE",
        "REVERSE 1",
        "REVIEW B",
        "RELAY",
        "VERY B",
        "LEVEL 2",
        "DRIVE 2",
        "2024-03-05",
        "2024",
        "WW12 24",
        "K",
        "1",
        "12",
        "100R",
        "4.7k",
        "2.2uF",
        "0.1 uF",
        "3.3V",
        "2.54mm",
        "GND",
        "1=>>",
        "+8/12V",
        "I^{2}C",
        "2N3904",
        "LM358",
        "74HC595-D",
        "PIC 18 PINS",
        "MOD1",
        "TinyTapeout 4+",
        "PROTOTYPE USE ONLY!",
        "SW1",
        "FP_VDD",
        "VREF0_DDR4",
        "a.b.c",
    ],
)
def test_is_not_fooled(text: str) -> None:
    assert [revision for revision in read_revisions(text) if revision.sure] == []


@pytest.mark.parametrize("text", ["1.0", "Alpha", "For Arduino shield rev B", "mates with V2", "REL 1"])
def test_says_when_it_is_not_sure(text: str) -> None:
    found = read_revisions(text)
    assert found
    assert not any(revision.sure for revision in found)


def test_labels_of_the_board_are_no_revisions() -> None:
    assert read_revisions("V1")
    assert not read_revisions("V1", Context(labels=frozenset({"v1"})))


def test_a_supply_label_is_doubtful_only_where_the_rail_exists() -> None:
    assert read_revisions("V1.2")[0].sure
    assert not read_revisions("V1.2", Context(rails=frozenset({1.2})))[0].sure
    assert read_revisions("V1.2 WIDGET", Context(rails=frozenset({1.2})))[0].sure
    assert not read_revisions("V3.3")[0].sure
    assert read_revisions("V2.D", Context(rails=frozenset({2.0})))[0].sure


def test_beside_the_name_plain_digits_will_do() -> None:
    named = Context(names=("widget",))
    assert read_revisions("WIDGET 2", named)[0].value == "2"
    assert read_revisions("Widget 1.0", named)[0].sure
    assert read_revisions("WIDGET R2", named)[0].sure
    assert read_revisions("Widget Alpha", named)[0].sure
    assert not read_revisions("GADGET 2", named)
    assert not read_revisions("WIDGET", named)
    assert not read_revisions("2", Context(names=("widget 2",)))


def test_what_the_title_block_states_is_recognised_without_a_word() -> None:
    assert read_revisions("0.9.4", Context(stated="0.9.4"))[0].sure
    assert read_revisions("B3", Context(stated="B3"))[0].sure
    assert not read_revisions("B", Context(stated="B"))[0].sure
    assert not read_revisions("10.9.4", Context(stated="0.9.4"))[0].sure


@given(st.text(max_size=60))
def test_any_text_can_be_read(text: str) -> None:
    for revision in read_revisions(text, Context(names=("widget", text), stated=text[:3])):
        assert revision.quote in plain(text)
        assert revision.value
    blank(text)
    part_numbers(text)


@given(st.sampled_from(WRITTEN), st.sampled_from(["CC BY-SA 4.0", "GND", "USB 2.0", "R1", "3V3", "© 2024"]))
def test_other_words_after_it_do_not_hide_a_revision(written: tuple[str, str], other: str) -> None:
    text, value = written
    if value in ("-", "B", "D") and not text.upper().startswith("REV"):
        return  # a suffix or a lone dash counts only at the end
    if value == "-":
        return
    assert value in [revision.value for revision in read_revisions(f"{text} {other}")]


# --- blanks, numbers, names


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("${REVISION}", "${REVISION}"),
        ("rev?", "rev?"),
        ("Screen PCB v#.#", "v#.#"),
        ("Rev. X.X", "Rev. X.X"),
        ("REV:", "REV:"),
        ("Rev", "Rev"),
        ("REV ____", "REV ____"),
        ("EDA-XXXXX-V0", "XXXXX"),
        ("built YYYY-MM-DD", "YYYY-MM-DD"),
        ("REV B", ""),
        ("V2", ""),
        ("GND", ""),
        ("X1", ""),
    ],
)
def test_blanks(text: str, piece: str) -> None:
    assert blank(text) == piece


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("Part No 77", ("77",)),
        ("4711-0815A", ("4711-0815A",)),
        ("TEL 030-1234567", ()),
        ("Tel. 030-1234567 PCB-0012", ("PCB-0012",)),
        ("P/N 1234-5678", ("1234-5678",)),
        ("PN: AB1203", ("AB1203",)),
        ("Part No. 77.001.2", ("77.001.2",)),
        ("PCB-0012", ("PCB-0012",)),
        ("EDA-01234-01", ("EDA-01234-01",)),
        ("made 2024-03-05", ()),
        ("PIN 1", ()),
        ("PNP", ()),
        ("GND", ()),
        ("model train", ()),
        ("2N3904", ()),
    ],
)
def test_part_numbers(text: str, numbers: tuple[str, ...]) -> None:
    assert part_numbers(text) == numbers


@pytest.mark.parametrize(
    ("text", "name", "yes"),
    [
        ("Complex hierarchy\nDemo", "complex_hierarchy", True),
        ("RoyalBlue54L", "RoyalBlue54L-Feather", True),
        ("INTERF_U", "interf_u", True),
        ("CARTE COLDFIRE", "kit-dev-coldfire-xilinx_5213", True),
        ("VME-WREN", "vme-wren", True),
        ("STICKHUB", "StickHub", True),
        ("widget.com", "widget", False),
        ("www.widget.example/widget", "widget", False),
        ("mail@widget.org", "widget", False),
        ("widget.com WIDGET", "widget", True),
        ("Test", "custom_pads_test", False),
        ("DEMO BOARD", "KiCad demo", False),
        ("TEXTE", "video", False),
        ("GND", "sonde xilinx", False),
        ("", "widget", False),
        ("widget", "", False),
    ],
)
def test_names(text: str, name: str, yes: bool) -> None:
    assert mentions(text, (name,)) is yes


def test_a_word_that_also_names_a_net_or_value_says_nothing() -> None:
    assert mentions("XC95108", ("CARTE XC95108",))
    assert not mentions("XC95108", ("CARTE XC95108",), frozenset({"xc95108"}))


# --- the sequence (skipped letters: ASME Y14.35M-1997 as quoted; sequence from memory: ASME Y14.35)


@pytest.mark.parametrize(
    ("now", "then"),
    [("H", "J"), ("P", "R"), ("R", "T"), ("W", "Y"), ("Y", "AA"), ("AY", "BA"), ("YY", "AAA")],
)
def test_next_letter(now: str, then: str) -> None:
    assert next_revision(now) == then
    assert next_revision(f"2.{now}") == f"2.{then}"
    assert next_revision(f"1.0{now}") == f"1.0{then}"


@pytest.mark.parametrize(
    ("number", "letters"), [(1, "A"), (9, "J"), (20, "Y"), (21, "AA"), (40, "AY"), (41, "BA"), (420, "YY")]
)
def test_nth_revision(number: int, letters: str) -> None:
    assert revision_at(number) == letters


@pytest.mark.parametrize("letter", ["I", "O", "Q", "S", "X", "Z"])
def test_skipped_letters_are_flagged(letter: str) -> None:
    assert skipped_letters(letter) == letter
    assert skipped_letters(f"A{letter}2") == letter
    with pytest.raises(ValueError, match=letter):
        next_revision(letter)
    with pytest.raises(ValueError, match=letter):
        next_revision(f"2.{letter}")


def test_exactly_six_letters_are_skipped() -> None:
    assert sorted(set(string.ascii_uppercase) - set(LETTERS)) == ["I", "O", "Q", "S", "X", "Z"]
    assert skipped_letters("ABY") == ""


@pytest.mark.parametrize(
    ("now", "then"), [("", "A"), ("-", "A"), ("2", "3"), ("09", "10"), ("1.9", "1.10"), ("A1", "A2")]
)
def test_other_sequences(now: str, then: str) -> None:
    assert next_revision(now) == then


@pytest.mark.parametrize("value", ["a?", "draft", "1.x", "1.b", "2/C"])
def test_what_cannot_be_continued(value: str) -> None:
    with pytest.raises(ValueError, match="neither"):
        next_revision(value)


def test_there_is_no_revision_zero() -> None:
    with pytest.raises(ValueError, match="from 1"):
        revision_at(0)


@given(st.integers(1, 10_000))
def test_next_walks_the_sequence(number: int) -> None:
    assert next_revision(revision_at(number)) == revision_at(number + 1)
    assert not skipped_letters(revision_at(number))
