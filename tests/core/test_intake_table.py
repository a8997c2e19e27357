# SPDX-License-Identifier: MIT
"""Tables: hostile workbooks, sizes, quotes; references, numbers, dates and marks one by one."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from pathlib import Path

import pytest

from lineworthy.errors import InputError
from lineworthy.intake import numbers, table, workbook
from lineworthy.intake.fitting import marked_not_fitted, says_fitted, says_not_fitted
from lineworthy.intake.parts_file import parts_list_in, read_parts_list
from lineworthy.intake.references import ReferencesError, expand

CONTENT = b'<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'


def archive(**members: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as target:
        for name, data in members.items():
            target.writestr(name.replace("__", "/").replace("_xml", ".xml"), data)
    return file.getvalue()


def sheet_of(rows: str, dimension: str = "A1:B2") -> bytes:
    """A workbook with one hand-written sheet."""
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["Ref", "Value"])
    plain = io.BytesIO()
    book.save(plain)
    made = io.BytesIO()
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    xml = f'<worksheet xmlns="{space}"><dimension ref="{dimension}"/><sheetData>{rows}</sheetData></worksheet>'
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for member in old.infolist():
            data = xml.encode() if member.filename.endswith("sheet1.xml") else old.read(member)
            new.writestr(member.filename, data)
    return made.getvalue()


def cell(at: str, text: str) -> str:
    return f'<c r="{at}" t="inlineStr"><is><t>{text}</t></is></c>'


HEADER = f"<row r='1'>{cell('A1', 'Ref')}{cell('B1', 'Value')}</row>"


def refused(data: bytes, match: str) -> None:
    with pytest.raises(InputError, match=match) as caught:
        parts_list_in(data, "evil.xlsx")
    assert str(caught.value).startswith("evil.xlsx: ")
    assert "\n" not in str(caught.value)


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MAX_UNPACKED", 1_000_000)
    bomb = archive(**{"[Content_Types]_xml": CONTENT, "xl__worksheets__sheet1_xml": b"0" * 1_100_000})
    assert len(bomb) < 5_000
    refused(bomb, "unpacks to more than")


def test_too_many_members_are_refused() -> None:
    many = {f"m{n}": b"" for n in range(workbook.MAX_MEMBERS + 1)}
    refused(archive(**{"[Content_Types]_xml": CONTENT, **many}), "unpacks to more than")


def test_entities_that_grow_are_refused() -> None:
    grow = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]><x>&b;</x>'
    refused(archive(**{"[Content_Types]_xml": CONTENT, "xl__sharedStrings_xml": grow}), "document type")
    wide = grow.decode().encode("utf-16")
    refused(archive(**{"[Content_Types]_xml": CONTENT, "xl__sharedStrings_xml": wide}), "document type")


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (archive(a=b"1"), "an archive, not a workbook"),
        (archive(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"), "OpenDocument"),
        (archive(**{"[Content_Types]_xml": CONTENT}), "not a readable workbook"),
        (b"PK\x03\x04" + bytes(100), "not a readable workbook"),
        (
            archive(**{"[Content_Types]_xml": CONTENT, "xl__workbook_xml": b"<a><b></a>"})[:-30],
            "not a readable workbook",
        ),
    ],
)
def test_archives_that_are_no_workbooks(data: bytes, match: str) -> None:
    refused(data, match)


def test_a_size_that_is_a_lie_costs_nothing() -> None:
    rows = HEADER + f"<row r='2'>{cell('A2', 'R1')}{cell('B2', '1k')}</row>"
    parts = parts_list_in(sheet_of(rows, "A1:XFD1048576"), "f")
    assert [line.references for line in parts.lines] == [("R1",)]


def test_a_cell_at_the_far_end_is_refused_or_read() -> None:
    far = HEADER + f"<row r='2'>{cell('A2', 'R1')}{cell('XFD2', 'x')}</row>"
    refused(sheet_of(far), "more than 500 columns")
    deep = HEADER + f"<row r='1048576'>{cell('A1048576', 'R1')}{cell('B1048576', '1k')}</row>"
    assert parts_list_in(sheet_of(deep), "f").lines[0].line == 1048576


def test_tables_of_any_size_end(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match="more than 500 columns"):
        parts_list_in(b"Ref,Value\nR1" + b"," * 600, "f")
    monkeypatch.setattr(table, "MAX_ROWS", 50)
    with pytest.raises(InputError, match="line 51: more than 50 rows"):
        parts_list_in(b"Ref,Value\n" + b"R1,1k\n" * 60, "f")
    monkeypatch.setattr(table, "MAX_BYTES", 100)
    with pytest.raises(InputError, match="larger than"):
        parts_list_in(b"Ref,Value\n" + b"R1,1k\n" * 60, "f")


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_parts_list(tmp_path / "none.csv")
    with pytest.raises(InputError, match="cannot be read"):
        read_parts_list(tmp_path)
    file = tmp_path / "parts.csv"
    file.write_text("Ref,Value\nR1,1k\n")
    assert read_parts_list(file).source == str(file)


def test_without_the_workbook_library_text_still_works(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    saved = sheet_of(HEADER)
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert parts_list_in(b"Ref,Value\nR1,1k\n", "f").lines
    refused(saved, "needs the Python package openpyxl")


@pytest.mark.parametrize(
    ("cell_text", "count", "names"),
    [
        ("R1-R4, R7", None, "R1 R2 R3 R4 R7"),
        ("R1..R4", None, "R1 R2 R3 R4"),
        ("R1...R3", None, "R1 R2 R3"),
        ("R1 - R3", None, "R1 R2 R3"),
        ("R1 to R3", None, "R1 R2 R3"),
        ("R4-R1", None, "R1 R2 R3 R4"),
        ("C1\u2013C3;C9", None, "C1 C2 C3 C9"),
        ("D1,2,5", None, "D1 D2 D5"),
        ("R1, R2 and R3 & R4", None, "R1 R2 R3 R4"),
        ("R1/R2", None, "R1 R2"),
        ("U1A, U1B", None, "U1A U1B"),
        ("J10-2", 1, "J10-2"),
        ("PCB", None, "PCB"),
        ("CN_IN, SW-PWR", None, "CN_IN SW-PWR"),
        ("+5V", None, "+5V"),
        ("", None, ""),
        (",R1,,R2,", None, "R1 R2"),
    ],
)
def test_references(cell_text: str, count: float, names: str) -> None:
    assert expand(cell_text, count) == tuple(names.split())


@pytest.mark.parametrize("cell_text", ["see drawing", "R?", "R1-C4", "R1-R9999", "R1, not this", "100", "R1 (x2)"])
def test_what_is_no_reference_is_named(cell_text: str) -> None:
    with pytest.raises(ReferencesError):
        expand(cell_text)


@pytest.mark.parametrize(
    ("written", "comma", "number"),
    [
        ("0,5", False, 0.5),
        ("0.5", True, 0.5),
        ("1.234,56", False, 1234.56),
        ("1,234.56", True, 1234.56),
        ("1,234", False, 1234.0),
        ("1,234", True, 1.234),
        ("1.234", True, 1234.0),
        ("1.234", False, 1.234),
        ("1.234.567", False, 1234567.0),
        ("1 234,5", True, 1234.5),
        (".5", False, 0.5),
        ("1e5", False, None),
        ("-1", False, None),
        ("1,2,3", False, None),
        ("", False, None),
        ("nan", False, None),
        ("9" * 400, False, None),
    ],
)
def test_decimals(written: str, comma: bool, number: float) -> None:
    assert numbers.decimal(written, comma=comma) == number


@pytest.mark.parametrize(
    ("written", "count"),
    [
        ("4", 4),
        ("4.0", 4),
        ("4 pcs", 4),
        ("4x", 4),
        (">5000", 5000),
        ("1,200", 1200),
        ("1.200", 1200),
        ("4,5", None),
        ("x", None),
    ],
)
def test_counts(written: str, count: int) -> None:
    assert numbers.whole(written) == count


@pytest.mark.parametrize(
    ("written", "unit", "days"),
    [
        ("12 weeks", "", 84),
        ("8-10 wk", "", 70),
        ("84 days", "", 84),
        ("12", "w", 84),
        ("12", "d", 12),
        ("12", "", None),
        ("6 Wochen", "", 42),
        ("10 Tage", "", 10),
        ("3 months", "", 92),
        ("1,5 w", "", 11),
        ("stock", "", 0),
        ("soon", "w", None),
    ],
)
def test_durations(written: str, unit: str, days: int) -> None:
    assert numbers.days(written, unit) == days


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2027-03-01", date(2027, 3, 1)),
        ("2027-03-01T10:00", date(2027, 3, 1)),
        ("1.3.2027", date(2027, 3, 1)),
        ("13/03/2027", date(2027, 3, 13)),
        ("03/13/2027", date(2027, 3, 13)),
        ("03/04/2027", None),
        ("2027-02-30", None),
        ("soon", None),
    ],
)
def test_dates_are_read_only_where_there_is_one_way(written: str, day: date) -> None:
    assert numbers.day(written) == day


@pytest.mark.parametrize("said", ["0.52", "0.52 EUR", "EUR 0.52", "\u20ac0.52", "0,52 \u20ac"])
def test_money(said: str) -> None:
    amount, currency = numbers.money(said)
    assert amount == 0.52
    assert currency in ("EUR", "")


@pytest.mark.parametrize(
    "said", ["DNP", "dnf", "Do Not Fit", "not fitted", "10k DNP", "10k (NF)", "nicht best\u00fcckt", "No-Pop"]
)
def test_marks_of_what_is_not_fitted(said: str) -> None:
    assert marked_not_fitted(said, alone=True)


@pytest.mark.parametrize("said", ["100 NF", "10p NP0", "100nF", "", "x", "connector NC", "UNF thread", "dnpx"])
def test_what_only_looks_like_a_mark(said: str) -> None:
    assert not marked_not_fitted(said, alone=True)


def test_columns_of_fitted_and_not_fitted() -> None:
    assert [says_fitted(cell) for cell in ("yes", "x", "No", "DNP", "0", "", "maybe")] == [
        True,
        True,
        False,
        False,
        False,
        None,
        None,
    ]
    assert [says_not_fitted(cell) for cell in ("x", "DNP", "no", "0", "fitted", "", "maybe")] == [
        True,
        True,
        False,
        False,
        False,
        None,
        None,
    ]
