# SPDX-License-Identifier: MIT
"""The frost alarm's parts list and offers: what is wrong with them is found, and faults seeded into the list are."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date
from functools import cache
from pathlib import Path
from typing import Callable

import pytest

from lineworthy import Board, Finding, review
from lineworthy.beside import Beside
from lineworthy.intake.offers import read_offers
from lineworthy.intake.parts_file import parts_list_in, read_parts_list
from lineworthy.plans.supply import SupplyRun, supply_run
from lineworthy.plans.supply_line import RiskKind, Standing, SupplyLine
from lineworthy.sheet import built_in
from lineworthy_kicad.reader import read_board

FOLDER = Path(__file__).resolve().parent.parent / "demo" / "frost-alarm"
PARTS, OFFERS = FOLDER / "frost-alarm-parts.csv", FOLDER / "frost-alarm-offers.csv"
LIST = PARTS.read_text(encoding="utf-8")


@cache
def _board() -> Board:
    return read_board(FOLDER / "frost-alarm-corrected.kicad_pcb")


@cache
def _run() -> SupplyRun:
    given = {"boards": 500, "build": date(2027, 4, 1), "today": date(2026, 11, 25), "sheet": built_in()}
    return supply_run(_board(), read_parts_list(PARTS), read_offers(OFFERS), **given)


def _line(number: str) -> SupplyLine:
    return next(line for line in _run().lines if line.line.maker_part == number)


def test_everything_was_read() -> None:
    assert (_run().parts.unread, _run().offers.unread) == ((), ())
    assert _run().parts.summary == "66 lines with 98 places"
    assert len(_run().lines) == 64, "two parts are on two lines each"


def test_the_parts_that_stop_the_build() -> None:
    assert {line.line.maker_part: line.standing for line in _run().lines if line.standing.stops} == {
        "FA-MCU48-QN": Standing.LATE,
        "FA-EE64-SO8": Standing.SHORT,
        "TC-RL5-10": Standing.UNKNOWN,
    }
    assert _run().critical is _line("FA-MCU48-QN")


def test_the_other_troubles() -> None:
    assert _line("FA-RF868-QN").has(RiskKind.SOLE_SOURCE)
    assert _line("FA-RF868-QN").order_by == date(2026, 11, 26), "16 weeks and 14 days before 2027-04-01, by hand"
    assert _line("FA-TH4-D").has(RiskKind.LAST_TIME_BUY)
    assert _line("BS-SK12").has(RiskKind.NOT_FOR_NEW)
    assert _line("FP-EL220-50").has(RiskKind.ALTERNATE)
    (buy,) = _line("CM-7345-330").buys
    assert (buy.instead_of, buy.pieces, round(buy.saving, 2)) == (510, 600, 34.5)
    # two 0402 a board and more: 11 x 500 and 10 %
    assert (_line("C0402-100N").placed, _line("C0402-100N").spare) == (5500, 550)


def test_most_parts_are_no_trouble() -> None:
    assert sum(not line.is_risky for line in _run().lines) == 56


def _findings(rows: str) -> list[Finding]:
    beside = Beside(parts=parts_list_in(rows.encode(), "parts.csv"))
    return list(review(_board(), beside=beside, only=["supply"], strict=True).findings)


def test_the_list_is_this_board() -> None:
    assert _findings(LIST) == []


def _replaced(pattern: str, by: str) -> Callable[[str], str]:
    def change(rows: str) -> str:
        changed, count = re.subn(pattern, by, rows, count=1, flags=re.MULTILINE)
        assert count == 1, pattern
        return changed

    return change


SEEDED = {
    "a line is missing": (_replaced(r"^.*;FA-ESD6;.*\n", ""), "supply/part-not-in-list", "U5"),
    "a place is missing": (_replaced(r";4;R5, R6, R25, R26;", ";3;R5, R6, R25;"), "supply/part-not-in-list", "R26"),
    "a place too many": (_replaced(r";2;C18, C19;", ";3;C18, C19, C99;"), "supply/reference-not-on-board", "C99"),
    "a wrong count": (_replaced(r";2;C18, C19;", ";4;C18, C19;"), "supply/quantity-disagrees", "says 4 and names 2"),
    "a place on two lines": (_replaced(r";1;C7;", ";2;C7, C8;"), "supply/reference-repeated", "C8"),
    "another value": (_replaced(r";R7, R8;5k1;", ";R7, R8;51k;"), "supply/value-disagrees", "51k"),
    "another size": (_replaced(r";R7, R8;5k1;0402;", ";R7, R8;5k1;0603;"), "supply/package-disagrees", "0603"),
    "another number": (_replaced(r";FA-LD33-S223;", ";FA-LQ50-S223;"), "supply/manufacturer-part-disagrees", "FA-LQ50"),
    "not fitted": (_replaced(r";D8;green;", ";D8;green DNP;"), "supply/fitted-disagrees", "D8"),
    "a place that is none": (_replaced(r";1;C7;", ";1;see note;"), "supply/parts-list-unreadable", "see note"),
    "a misfit alternate": (
        _replaced(r";R0402-10K;PE-0402-10K;", ";R0402-10K;PE0603-10K;"),
        "supply/alternate-differs",
        "PE0603-10K",
    ),
}
# a line that cannot be read leaves its places without one
ALSO = {"a place that is none": {"supply/part-not-in-list"}}


@pytest.mark.parametrize("name", SEEDED)
def test_a_fault_in_the_list_is_found_and_nothing_else(name: str) -> None:
    change, check, word = SEEDED[name]
    found = _findings(change(LIST))
    assert any(finding.check == check and word in finding.message for finding in found), found
    assert {finding.check for finding in found} - {check} <= ALSO.get(name, set())


@pytest.mark.editor
def test_the_files_are_what_the_script_writes(tmp_path: Path) -> None:
    before = [path.read_bytes() for path in (PARTS, OFFERS)]
    subprocess.run([sys.executable, str(FOLDER / "buying.py"), "--out", str(tmp_path)], check=True, timeout=120)
    assert [(tmp_path / path.name).read_bytes() for path in (PARTS, OFFERS)] == before
