# SPDX-License-Identifier: MIT
"""What to buy: field names as people write them, values that say nothing, lines of the parts list."""

from __future__ import annotations

import dataclasses

import pytest

from asking import only
from build import board, chip, fiducial, hole, pad, part, probe_pad, smd_part, through_part, with_fields
from lineworthy import Consequence
from lineworthy.checks.supply import manufacturer_part_missing
from lineworthy.knowledge.fields import (
    Meaning,
    is_placeholder,
    maker_part,
    meaning,
    order_code,
    reads_like_maker_part,
    value_is_maker_part,
)
from lineworthy.knowledge.marks import Marks
from lineworthy.model import Mount

QUERY, NOTE = Consequence.QUERY, Consequence.NOTE
NAMED = {"MPN": "RC0603FR-0710KL"}


def asked(*parts):
    layout = board(parts=parts)
    return list(manufacturer_part_missing.ask(board=layout, marks=Marks(layout)))


def resistor(n: int, value: str = "10k", **fields: str):
    return with_fields(chip(f"R{n}", (5 * n % 50, 5 + n // 10), value=value), fields)


def named(n: int, value: str):
    return resistor(n, value, **NAMED)


# --- field names


@pytest.mark.parametrize(
    "name",
    [
        "MPN",
        "mpn",
        "MPN (primary)",
        "Producer P/N",
        "Référence fabricant",
        "Código fabricante",
        "Codice produttore",
        "Kod producenta",
        "厂家型号",
        "メーカー品番",
        "Orderable Part Number",
        "M.P.N.",
        "MPN1",
        "MPN_ALT",
        "Manufacturer Part Number",
        "Manufacturer_Part_Number",
        "MANUFACTURER PART NUMBER 1",
        "Manufacturer1 Part Number",
        "Manufacturer's Part Number",
        "Manufacturer_PN",
        "Manufacturer Part",
        "Manufacturer P/N",
        "Mfr. Part #",
        "Mfr Part No.",
        "Mfr. No.",
        "MFR_PN",
        "MFR#",
        "manf#",
        "Mfg Part Num",
        "MfgPN",
        "Mfr Ref",
        "PartNumber",
        "Part Number",
        "Part No",
        "P/N",
        "PN",
        "Hersteller-Teilenummer",
        "Herstellernummer",
    ],
)
def test_fields_that_name_the_part(name: str) -> None:
    assert meaning(name) is Meaning.MAKER_PART
    assert asked(resistor(1, **{name: "RC0603FR-0710KL"})) == []


@pytest.mark.parametrize(
    "name",
    [
        "LCSC",
        "SPN",
        "Bestell-Nr.",
        "LCSC Part",
        "LCSC Part #",
        "JLCPCB Part #",
        "Mouser",
        "Mouser Part Number",
        "Digi-Key_PN",
        "DigikeyPN",
        "Digi-Key Part Number",
        "Farnell",
        "Supplier Part Number 1",
        "Supplier1 PN",
        "Vendor Part",
        "Distributor PN",
        "SKU",
        "Order Code",
    ],
)
def test_fields_that_hold_an_order_code(name: str) -> None:
    assert meaning(name) is Meaning.ORDER_CODE


@pytest.mark.parametrize("name", ["Manufacturer", "MFR", "Manufacturer_Name", "Mfg.", "Hersteller"])
def test_fields_that_hold_the_maker_alone(name: str) -> None:
    assert meaning(name) is Meaning.MAKER


@pytest.mark.parametrize(
    "name",
    [
        "",
        "Datasheet",
        "Description",
        "Tolerance",
        "Voltage",
        "Package",
        "Part Description",
        "Pin Count",
        "Notes",
        "Mouser Price/Stock",
        "LCSC Stock",
        "Digi-Key Link",
        "Manufacturer Link",
        "ComponentHeight",
        "Sim.Pins",
        "数量",
        "partial",
        "pin",
        "mpnx-unknown",
        "Supplier",
        "JLCPCB Rotation Offset",
        "a" * 10000,
    ],
)
def test_fields_that_are_something_else(name: str) -> None:
    assert meaning(name) is not Meaning.MAKER_PART
    if name != "Supplier":
        assert meaning(name) is Meaning.OTHER


@pytest.mark.parametrize(
    "value",
    [
        "",
        " ",
        "~",
        "-",
        "--",
        "x",
        "any",
        "see BOM",
        "Generic 0603",
        "?",
        "???",
        "TBD",
        "tba",
        "N/A",
        "n.a.",
        "NA",
        "none",
        "NULL",
        "unknown",
        "DNP",
        "DNF",
        "xxx",
        "Do Not Populate",
        "MPN",
        "Part Number",
        "${MPN}",
        "0",
        "_",
        "...",
    ],
)
def test_values_that_say_nothing(value: str) -> None:
    assert is_placeholder(value)
    assert maker_part(resistor(1, MPN=value)) == ""
    assert len(asked(resistor(1, MPN=value))) == 1


@pytest.mark.parametrize("value", ["LM358", "0402WGF1002TCE", "744-1234", "NA555", "XXL-2", "C25804"])
def test_values_that_say_something(value: str) -> None:
    assert not is_placeholder(value)


def test_the_first_value_that_says_something_counts() -> None:
    both = resistor(1, MPN="TBD", Manufacturer_PN=" RC0603 ", LCSC="C25804")
    assert maker_part(both) == "RC0603"
    assert order_code(both) == "C25804"


@pytest.mark.parametrize(
    "value",
    [
        "STM32F103C8T6",
        "LM358",
        "LM358N",
        "1N4148",
        "2N7002",
        "74HC125",
        "BC847",
        "TL072CD",
        "USBLC6-2SC6",
        "24LC512",
        "AMS1117-3.3",
        "KSZ8041NL/I",
        "S5933_PQ160",
        "ESP32-S3-WROOM-1",
        "W25Q32JVSS",
    ],
)
def test_values_that_name_a_part(value: str) -> None:
    assert reads_like_maker_part(value)


@pytest.mark.parametrize(
    "value",
    [
        "",
        "100n",
        "100nF",
        "4k7",
        "10k",
        "0R05",
        "47uF/63V",
        "16MHz",
        "12.000MHz",
        "32.768kHz",
        "3V3",
        "600R@100MHz",
        "Conn_01x04",
        "USB_C_Receptacle_USB2.0",
        "LED_0603",
        "SW_Push",
        "MountingHole_3.2mm",
        "Crystal_GND24",
        "10118",
        "22uF 10V",
        "8x10K",
        "TestPoint12",
        "RED",
        "DB25",
        "Standoff",
        "2x20_P2.54mm_Pinheader",
        "TBD",
    ],
)
def test_values_that_are_a_size_or_a_kind_of_thing(value: str) -> None:
    assert not reads_like_maker_part(value)


def test_the_value_of_a_passive_is_its_size() -> None:
    assert not value_is_maker_part(resistor(1, "R1206_10K_1%"))
    assert value_is_maker_part(dataclasses.replace(resistor(1, "R1206X10K"), reference="RLY1"))


# --- lines


def test_a_named_part_passes() -> None:
    assert asked(named(1, "10k"), named(2, "22k")) == []
    assert asked() == []


def test_a_line_is_a_value_in_a_package() -> None:
    finding = only(asked(resistor(10, "1k"), resistor(2, "1k"), named(3, "2k")))
    assert finding.message == "R2, R10 (1k, R_0603_1608Metric): no manufacturer part"
    assert finding.consequence is QUERY
    assert [place.label for place in finding.places] == ["R2 1k", "R10 1k"]


def test_several_lines_are_one_finding_that_names_them_while_they_are_few() -> None:
    good = [named(n, f"{n}k") for n in range(10, 15)]
    finding = only(asked(resistor(10, "1k"), resistor(2, "1k"), resistor(3, "2k"), *good))
    assert finding.message == "2 of 7 lines of the parts list carry no manufacturer part: R2, R3"
    assert [place.label for place in finding.places] == ["R2 1k", "R3 2k", "R10 1k"]


def test_in_a_half_filled_line_only_the_empty_ones_are_named() -> None:
    finding = only(asked(named(1, "1k"), resistor(2, "1k"), named(3, "2k")))
    assert finding.message.startswith("R2 (1k")


def test_when_most_lines_lack_it_that_is_one_finding() -> None:
    finding = only(asked(resistor(1, "1k"), resistor(2, "2k"), named(3, "3k")))
    assert finding.message == "2 of 3 lines of the parts list carry no manufacturer part"
    half = only(asked(resistor(1, "1k"), resistor(2, "2k"), named(3, "3k"), named(4, "4k")))
    assert half.message == "2 of 4 lines of the parts list carry no manufacturer part: R1, R2"


def test_a_board_without_such_a_field_is_told_so() -> None:
    finding = only(asked(resistor(1, "1k"), resistor(2, "2k", Tolerance="1 %")))
    assert finding.message == "2 of 2 lines of the parts list carry no manufacturer part; the board has no such field"
    assert finding.consequence is QUERY
    assert len(finding.places) == 2
    single = only(asked(resistor(1, "1k")))
    assert single.message.startswith("R1 (1k")


def test_bare_holes_without_a_reference_are_not_bought() -> None:
    bites = [hole("", (5 + n, 5), drill=0.5, package="bite") for n in range(5)]
    assert asked(*bites) == []
    assert asked(hole("MB1", (5, 5), drill=0.5, package="mouse-bite-3mm")) == []


def test_order_codes_are_a_note() -> None:
    finding = only(asked(resistor(1, "1k", LCSC="C25804"), named(2, "2k")))
    assert finding.consequence is NOTE
    assert finding.message == "1 line of the parts list carries a dealer's order code but no manufacturer part: R1"
    assert (
        "2 lines of the parts list carry a"
        in only(asked(resistor(1, "1k", SKU="1"), resistor(2, "2k", SKU="2"))).message
    )
    assert only(asked(resistor(1, "1k", LCSC="N/A"))).consequence is QUERY


def test_a_part_number_as_value_is_a_note() -> None:
    chips = [smd_part(f"U{n}", (10 * n, 10), value=value) for n, value in ((1, "LM358"), (2, "STM32F103C8T6"))]
    finding = only(asked(*chips))
    assert finding.consequence is NOTE
    assert finding.message == "2 lines of the parts list give a manufacturer part as value only: U1, U2"
    assert len(asked(*chips, resistor(1))) == 2


def test_order_of_parts_in_the_file_changes_nothing() -> None:
    parts = [
        resistor(10, "1k"),
        resistor(2, "1k"),
        resistor(3, "2k", LCSC="C1"),
        *(named(n, f"{n}k") for n in (4, 5, 6)),
    ]
    assert asked(*parts) == asked(*parts[::-1])


# --- what nobody buys


@pytest.mark.parametrize("flag", ["fitted", "in_parts_list"])
def test_parts_not_bought_are_not_asked_for(flag: str) -> None:
    assert len(asked(resistor(1))) == 1
    assert asked(dataclasses.replace(resistor(1), **{flag: False})) == []
    assert asked(dataclasses.replace(resistor(1), board_only=True)) == []


@pytest.mark.parametrize(
    "item",
    [
        fiducial(in_parts_list=True),
        hole(in_parts_list=True),
        probe_pad(in_parts_list=True),
        part("G1", (5, 5), (), package="Logo"),
        part("JP1", (5, 5), (pad("1", (5, 5)), pad("2", (6, 5))), package="SolderJumper-2_P1.3mm_Open"),
        part("J1", (5, 5), (pad("1", (5, 5), paste=False),), package="USB_A_PCB_traces", in_placement=False),
        part("BUS1", (5, 5), (pad("1", (5, 5), paste=False),), package="BUS_PC", mount=Mount.OTHER),
        part("H1", (5, 5), (pad("1", (5, 5)),), package="AlignmentHole_1.6", mount=Mount.OTHER),
    ],
    ids=[
        "fiducial",
        "hole",
        "probe land",
        "logo",
        "solder jumper",
        "etched connector",
        "edge fingers",
        "alignment hole",
    ],
)
def test_what_is_etched_or_drilled_is_not_bought(item) -> None:
    assert asked(item) == []


def test_what_is_soldered_is_bought_whatever_its_name() -> None:
    clip = part("J1", (5, 5), (pad("1", (5, 5), paste=False),), package="Battery_clip")
    assert len(asked(clip)) == 1
    plug = through_part("P1", (20, 20), nets=("A", "B", "C"), package="DSUB-25_Housed_MountingHolesOffset11.32mm")
    assert len(asked(plug)) == 1
    screwed = part("J1", (20, 20), [*plug.pads, *hole("H", (30, 20)).pads], package="Jack", mount=Mount.THROUGH)
    assert len(asked(screwed)) == 1


def test_hostile_text_is_only_text() -> None:
    odd = resistor(1, "<script>\n=cmd|' /C calc'!A0", **{"MPN": "\u202e", "\x00": "x"})
    assert only(asked(odd)).consequence is QUERY
    assert asked(resistor(1, mpn="9" * 100_000)) == []
