# SPDX-License-Identifier: MIT
"""The parts list held against the board, and what its numbers say: what must be found, and what must not."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

import asking
from build import board, chip, hole, probe_pad, smd_part, with_fields
from lineworthy import Board, Consequence, Finding, NotRun
from lineworthy.beside import Beside
from lineworthy.checks import supply_list, supply_parts
from lineworthy.intake.parts_list import PartsList
from lineworthy.registry import Check
from lineworthy.review import review
from supply_build import board_of, listed, offered, resistor

QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def ask(check: Check, layout: Board, parts: Any, **more: Any) -> list[Any]:
    return asking.ask(check, layout, parts=parts, **more)


def only(findings: list[Any]) -> Finding:
    assert len(findings) == 1, findings
    assert isinstance(findings[0], Finding)
    return findings[0]


def capacitor(n: int, value: str = "100n", package: str = "C_0402_1005Metric", **fields: str) -> Any:
    return with_fields(chip(f"C{n}", (4 * n, 30), value=value, package=package), fields)


def circuit(n: int, value: str, package: str = "SOIC-8", **fields: str) -> Any:
    return with_fields(smd_part(f"U{n}", (8 * n, 20), value=value, package=package), fields)


BOARD = board_of(resistor(1), resistor(2), resistor(3, "4k7"), capacitor(1), circuit(1, "LM358"))
GOOD = (
    '"R1,R2",2,10k,0402,RC-10K',
    "R3,1,4.7 k\u03a9,0402,RC-4K7",
    "C1,1,0.1uF,0402,CC-1",
    "U1,1,LM358DR,SO-8,LM358DR",
)


@pytest.mark.parametrize("check", supply_list.CHECKS, ids=lambda check: check.id)
def test_a_list_that_agrees_passes(check: Check) -> None:
    assert ask(check, BOARD, listed(*GOOD)) == []


@pytest.mark.parametrize("check", supply_list.CHECKS, ids=lambda check: check.id)
def test_without_a_list_the_question_is_not_run(check: Check) -> None:
    (answer,) = ask(check, BOARD, None)
    assert isinstance(answer, NotRun)
    assert "--parts" in answer.how


def test_the_review_hands_the_list_over() -> None:
    result = review(BOARD, beside=Beside(parts=listed(*GOOD[1:])), only=["supply/part-not-in-list"], strict=True)
    assert [finding.message for finding in result.findings] == ["R1, R2 are fitted on the board and not in parts.csv"]


def test_lines_that_cannot_be_read() -> None:
    finding = only(ask(supply_list.parts_list_unreadable, BOARD, listed(*GOOD, "see text,1,1k,0402,X")))
    assert finding.consequence is QUERY
    assert finding.message.startswith("1 line of parts.csv cannot be read: line 6: 'see text' is no reference")


def test_quantities() -> None:
    finding = only(ask(supply_list.quantity_disagrees, BOARD, listed('"R1,R2",3,10k,0402,A', *GOOD[1:])))
    assert finding.message == "line 2 says 3 and names 2: R1, R2"
    assert [place.label for place in finding.places] == ["R1", "R2"]


def test_many_lines_with_one_trouble_are_one_finding() -> None:
    layout = board_of(*(resistor(n) for n in range(1, 8)))
    parts = listed(*(f"R{n},2,10k,0402,A" for n in range(1, 8)))
    assert only(ask(supply_list.quantity_disagrees, layout, parts)).message.endswith("and 2 more")
    five = listed(*(f"R{n},2,10k,0402,A" for n in range(1, 6)))
    assert len(ask(supply_list.quantity_disagrees, layout, five)) == 5


def test_parts_that_are_not_in_the_list() -> None:
    finding = only(ask(supply_list.part_not_in_list, BOARD, listed(*GOOD[:3])))
    assert finding.message == "U1 is fitted on the board and not in parts.csv"
    assert finding.uids


def test_what_is_not_bought_need_not_be_in_the_list() -> None:
    unfitted = dataclasses.replace(resistor(9), fitted=False)
    unlisted = dataclasses.replace(resistor(8), in_parts_list=False)
    layout = board_of(*BOARD.parts, hole("H1", (50, 5)), probe_pad("TP1", (50, 15)), unfitted, unlisted)
    assert ask(supply_list.part_not_in_list, layout, listed(*GOOD)) == []


def test_another_boards_list_is_said_once() -> None:
    layout = board_of(*(resistor(n) for n in range(1, 11)))
    finding = only(ask(supply_list.part_not_in_list, layout, listed("R1-R4,4,10k,0402,A")))
    assert finding.message == "parts.csv names 4 of the board's 10 fitted parts"
    assert len(ask(supply_list.part_not_in_list, layout, listed("R1-R5,5,10k,0402,A"))[0].places) == 5


def test_places_that_the_board_does_not_have() -> None:
    finding = only(ask(supply_list.reference_not_on_board, BOARD, listed(*GOOD, "R99,1,1k,0402,A", "PCB1,1,board,,P")))
    assert finding.message == "R99 is in parts.csv and not on the board"
    beside = listed(*GOOD, "LBL1,1,label,,L", "SCR2,4,screw,,S", "PCB,1,board,,P", "R99,1,DNP,0402,")
    assert ask(supply_list.reference_not_on_board, BOARD, beside) == []


def test_places_named_twice() -> None:
    finding = only(ask(supply_list.reference_repeated, BOARD, listed(*GOOD, "R2,1,1k,0402,B")))
    assert finding.message == "1 place named more than once in parts.csv: R2 in line 2 and line 6"
    assert "line 2 twice" in only(ask(supply_list.reference_repeated, BOARD, listed('"R1,R1",2,1k,0402,B'))).message
    assert ask(supply_list.reference_repeated, BOARD, listed(*GOOD, "R2,1,DNP,0402,B")) == []


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("C1,1,1u,0402,CC-1", "C1: 100n on the board, 1u in the parts list"),
        ("C1,1,100p,0402,CC-1", "C1: 100n on the board, 100p in the parts list"),
        ("R3,1,47k,0402,A", "R3: 4k7 on the board, 47k in the parts list"),
        ("U1,1,TL072CD,SO-8,X", "U1: LM358 on the board, TL072CD in the parts list"),
    ],
)
def test_values_that_disagree(row: str, message: str) -> None:
    assert only(ask(supply_list.value_disagrees, BOARD, listed(row))).message == message


@pytest.mark.parametrize(
    "row",
    [
        "C1,1,100nF X7R 16V,0402,CC-1",
        "C1,1,0.1 \u00b5F,0402,CC-1",
        "C1,1,,0402,CC-1",
        "C1,1,capacitor,0402,CC-1",
        "R3,1,4700,0402,A",
        "R3,1,4k7 1%,0402,A",
        "U1,1,dual amplifier,SO-8,LM358",
        "U1,1,LM358N,SO-8,LM358",
        "C1,1,DNP,0402,",
    ],
)
def test_values_that_are_written_otherwise(row: str) -> None:
    assert ask(supply_list.value_disagrees, BOARD, listed(row)) == []


@pytest.mark.parametrize(
    ("row", "differs"),
    [
        ("R1,1,10k,0603,A", True),
        ("R1,1,10k,402,A", False),
        ("R1,1,10k,1005,A", False),
        ("R1,1,10k,SMD,A", False),
        ("R1,1,10k,,A", False),
        ("U1,1,LM358,TSSOP-8,A", True),
        ("U1,1,LM358,SOIC8,A", False),
        ("U1,1,LM358,SOIC-14,A", True),
        ("U1,1,LM358,SOT-23-5,A", True),
        ("U1,1,LM358,house-17,A", False),
    ],
)
def test_packages(row: str, differs: bool) -> None:
    assert len(ask(supply_list.package_disagrees, BOARD, listed(row))) == differs


def test_numbers_that_disagree() -> None:
    layout = board_of(circuit(1, "LM358", MPN="LM358DR"))
    check = supply_list.manufacturer_part_disagrees
    finding = only(ask(check, layout, listed("U1,1,LM358,SO-8,TL072CDR")))
    assert finding.message == "U1: LM358DR on the board, TL072CDR in the parts list"
    for fine in ("LM358DR", "lm358 dr", "LM358DRG4", "", "DNP"):
        assert ask(check, layout, listed(f"U1,1,LM358,SO-8,{fine}")) == []


def test_what_is_fitted() -> None:
    layout = board_of(resistor(1), dataclasses.replace(resistor(2), fitted=False), resistor(3))
    parts = listed("R1,1,10k DNP,0402,A", '"R2,R3",2,10k,0402,A')
    messages = [finding.message for finding in ask(supply_list.fitted_disagrees, layout, parts)]
    assert messages == [
        "R1 is fitted on the board and not in parts.csv",
        "R2 is not fitted on the board but in parts.csv",
    ]


# --- numbers, with or without a list


@pytest.mark.parametrize(("value", "told"), [("", 1), ("?", 1), ("TBD", 1), ("10k", 0), ("0", 0), ("DNP", 0)])
def test_a_part_without_value_and_number(value: str, told: int) -> None:
    layout = board_of(resistor(1, value), resistor(2))
    bare = board_of(with_fields(layout.parts[0], {}), layout.parts[1])
    found = ask(supply_parts.value_missing, bare, None)
    assert [(f.consequence, f.message) for f in found] == [(QUERY, "R1 has neither a value nor a part number")] * told
    # its number, an order code or a line of a list says it; what is not fitted needs none
    for fields in ({"MPN": "RC0402FR-0710KL"}, {"LCSC": "C25744"}):
        assert ask(supply_parts.value_missing, board_of(with_fields(bare.parts[0], fields)), None) == []
    for line in ("R1,1,10k,0402,", "R1,1,,0402,RC-10K"):
        assert ask(supply_parts.value_missing, bare, listed(line)) == []
    assert len(ask(supply_parts.value_missing, bare, listed("R1,1,,0402,"))) == told
    assert ask(supply_parts.value_missing, board_of(dataclasses.replace(bare.parts[0], fitted=False)), None) == []


def test_of_a_connector_without_value_the_package_may_say_what_it_is() -> None:
    layout = board_of(circuit(1, ""), circuit(2, "~"), hole(), probe_pad())
    found = ask(supply_parts.value_missing, layout, None)
    assert [(f.consequence, f.message) for f in found] == [(NOTE, "U1, U2 have neither a value nor a part number")]


@pytest.mark.parametrize("check", supply_parts.CHECKS[:-1], ids=lambda check: check.id)
def test_a_clean_board_passes_with_and_without_a_list(check: Check) -> None:
    layout = board_of(
        resistor(1, MPN="RC0402FR-10K"), resistor(2, "1k", MPN="RC0402FR-1K"), circuit(1, "x", MPN="X-100")
    )
    assert ask(check, layout, None) == []
    assert ask(check, layout, PartsList.from_board(layout)) == []
    assert ask(check, board(), None) == []


@pytest.mark.parametrize(
    ("number", "package", "found"),
    [
        ("RC0603FR-0710KL", "R_0402_1005Metric", True),
        ("RC0402FR-0710KL", "R_0402_1005Metric", False),
        ("CRCW060310K0FKEA", "R_0402_1005Metric", True),
        ("C1608X7R1H104K", "C_0603_1608Metric", False),
        ("C1608X7R1H104K", "C_0402_1005Metric", True),
        ("C0603X5R", "R_0201_0603Metric", False),
        ("GRM188R71C104KA01D", "R_0402_1005Metric", True),
        ("GRM155R71C104KA88D", "R_0402_1005Metric", False),
        ("ERJ-3EKF1002V", "R_0402_1005Metric", True),
        ("0603WAF1002T5E", "R_0402_1005Metric", True),
        ("HOUSE-17", "R_0402_1005Metric", False),
        ("X1206", "R_0402_1005Metric", False),
    ],
)
def test_numbers_that_tell_another_size(number: str, package: str, found: bool) -> None:
    layout = board_of(resistor(1, package=package, MPN=number))
    answers = ask(supply_parts.part_number_other_size, layout, None)
    assert len(answers) == found
    assert ask(supply_parts.part_number_other_size, board_of(circuit(1, "x", MPN=number)), None) == []


def test_one_number_for_two_values() -> None:
    layout = board_of(resistor(1, MPN="A-1"), resistor(2, "22k", MPN="A-1"), resistor(3, "10 k", MPN="a1"))
    finding = only(ask(supply_parts.part_with_two_values, layout, None))
    assert finding.message == "A-1 stands for 2 values: 10k (R1, R3), 22k (R2)"
    assert finding.consequence is QUERY
    named = board_of(circuit(1, "24 V supply", MPN="T-2"), circuit(2, "Leaf probe", MPN="T-2"))
    assert ask(supply_parts.part_with_two_values, named, None) == []


def test_one_number_in_two_packages() -> None:
    layout = board_of(resistor(1, MPN="A-1"), resistor(2, package="R_0603_1608Metric", MPN="A-1"))
    finding = only(ask(supply_parts.part_in_two_packages, layout, None))
    assert finding.message == "A-1 goes on 2 packages: R_0402_1005Metric (R1), R_0603_1608Metric (R2)"
    wide = board_of(
        resistor(1, MPN="A-1"), resistor(2, package="R_0402_1005Metric_Pad0.72x0.64mm_HandSolder", MPN="A-1")
    )
    assert ask(supply_parts.part_in_two_packages, wide, None) == []


def test_one_line_of_the_list_on_two_packages() -> None:
    layout = board_of(resistor(1), resistor(2, package="R_0603_1608Metric"))
    parts = listed('"R1,R2",2,10k,,')
    assert only(ask(supply_parts.part_in_two_packages, layout, parts)).message.startswith(
        "line 2 of the parts list goes"
    )


def test_values_that_name_another_part_than_the_number() -> None:
    right, copied = (
        circuit(1, "SN74VMEH22501", MPN="SN74VMEH22501DGGR"),
        circuit(2, "SN74LXCH8T245", MPN="SN74VMEH22501DGGR"),
    )
    finding = only(ask(supply_parts.value_names_another_part, board_of(right, copied), None))
    assert finding.consequence is QUERY
    assert finding.message.startswith("U2: the value is SN74LXCH8T245, the manufacturer part SN74VMEH22501DGGR")
    own = circuit(1, "RP2040", MPN="SC0914(13)")
    assert only(ask(supply_parts.value_names_another_part, board_of(own), None)).consequence is NOTE
    for value in ("AMS1117-3.3", "AMS1117", "regulator", "3V3"):
        fine = board_of(circuit(1, value, MPN="AMS1117-3.3CD"))
        assert ask(supply_parts.value_names_another_part, fine, None) == []


def test_alternates_that_differ() -> None:
    layout = board_of(resistor(1, MPN="RC0402FR-10K", Alternate="RC0603FR-10K"))
    finding = only(ask(supply_parts.alternate_differs, layout, None))
    assert finding.message == (
        "RC0603FR-10K, alternate of RC0402FR-10K: size 0603 by its number, not R_0402_1005Metric"
    )
    head = "manufacturer_part,source,package,date"
    fine = offered("RC0603FR-10K,H,0402,2026-11-01", head=head)
    assert ask(supply_parts.alternate_differs, layout, None, offers=fine) == []


def test_the_same_value_bought_twice_is_a_note() -> None:
    layout = board_of(resistor(1, MPN="A-1"), resistor(2, MPN="B-1"), resistor(3, "1k", MPN="C-1"))
    finding = only(ask(supply_parts.same_value_two_parts, layout, None))
    assert finding.consequence is NOTE
    assert "A-1 (R1), B-1 (R2)" in finding.message


@pytest.mark.parametrize(
    ("one", "other", "slip"),
    [
        ("0402WGF47O0TCE", "0402WGF4700TCE", "'O' for '0'"),
        ("0402wgf47o0tce", "0402WGF4700TCE", "'O' for '0'"),
        ("GRM188R61A226ME15D", "GRM188R61A226ME51D", "'15' for '51'"),
        ("RC0402FR-07I0KL", "RC0402FR-0710KL", "'I' for '1'"),
        ("RC0402FR-0710KL", "RC0402JR-0710KL", ""),  # another tolerance
        ("GRM155R71H104KE14D", "GRM155R71H104KE19D", ""),
        ("GRM155R71H104KE14D", "GRM155R71H104KE14J", ""),  # another reel
        ("LM358D", "LM358DR", ""),
        ("LM358RT", "LM358TR", ""),
        ("LM358TRL", "LM358TR1", ""),
        ("A-1", "B-1", ""),
    ],
)
def test_numbers_a_slip_of_the_pen_apart(one: str, other: str, slip: str) -> None:
    layout = board_of(resistor(1, MPN=one), resistor(2, MPN=other))
    finding = only(ask(supply_parts.same_value_two_parts, layout, None))
    assert finding.consequence is (QUERY if slip else NOTE)
    if slip:
        assert finding.message.endswith(f"{one} (R1), {other} (R2): the numbers differ by {slip}; a typing error?")


def test_a_mistyped_number_is_told_once_and_other_values_beside_it() -> None:
    layout = board_of(
        resistor(1, MPN="A47O0"),
        resistor(2, MPN="A4700"),
        resistor(3, "1k", MPN="C-1"),
        resistor(4, "1k", MPN="D-1"),
    )
    slip, more = ask(supply_parts.same_value_two_parts, layout, None)
    assert (slip.consequence, more.consequence) == (QUERY, NOTE)
    assert more.message.startswith("1 value bought as different parts: 1k")


def test_substitution() -> None:
    head = "Ref,Qty,Value,Package,MPN,Substitution"
    check = supply_parts.substitution_unstated
    assert isinstance(ask(check, BOARD, None)[0], NotRun)
    assert only(ask(check, BOARD, listed(*GOOD))).message.startswith("no line of the parts list says")
    part = listed("R1,1,10k,0402,A,any", "R2,1,10k,0402,B,", head=head)
    assert only(ask(check, BOARD, part)).message == "1 of 2 parts without a word on substitution: R2"
    assert ask(check, BOARD, listed("R1,1,10k,0402,A,none", head=head)) == []
