# SPDX-License-Identifier: MIT
"""XLSX workbooks, read without trust: nothing is unpacked, resolved or calculated that the file only claims."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

from lineworthy.errors import InputError
from lineworthy.intake.table import MAX_COLUMNS, MAX_ROWS, Row, Sheet, clean

MAX_UNPACKED = 100_000_000
MAX_MEMBERS = 2_000
MAX_SHEETS = 50


def sheets_in(data: bytes, file: str) -> list[Sheet]:
    """The visible sheets of a workbook, in order, each with its rows.

    Raises:
        InputError: no workbook, damaged, or larger than any parts list.
    """
    _refuse_hostile(data, file)
    try:
        import openpyxl  # noqa: PLC0415 - CSV works without it
    except ImportError:
        raise InputError(file, "reading .xlsx needs the Python package openpyxl; or save the sheet as CSV") from None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that matter to nobody here
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            visible = [sheet for sheet in book.worksheets if getattr(sheet, "sheet_state", "visible") == "visible"]
            return [_sheet(sheet, file) for sheet in (visible or book.worksheets)[:MAX_SHEETS]]
    except InputError:
        raise
    except Exception as error:  # the library answers damage with whatever exception it stumbles over
        raise InputError(file, f"not a readable workbook ({type(error).__name__})") from None


def _refuse_hostile(data: bytes, file: str) -> None:
    """Looks at sizes before anything is unpacked; zipfile never yields more of a member than its stated size."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            names = {member.filename for member in members}
            if len(members) > MAX_MEMBERS or sum(member.file_size for member in members) > MAX_UNPACKED:
                raise InputError(file, f"unpacks to more than {MAX_UNPACKED // 1_000_000} MB or {MAX_MEMBERS} files")
            if "[Content_Types].xml" not in names:
                other = "an OpenDocument sheet" if "mimetype" in names else "an archive, not a workbook"
                raise InputError(file, f"{other}: save it as .xlsx or CSV")
            for member in members:
                if member.filename.lower().endswith((".xml", ".rels")):
                    # a workbook has no document types; entities that grow without end need one
                    head = archive.open(member).read(1_000_000).replace(b"\x00", b"")
                    if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                        raise InputError(file, f"holds a document type in {member.filename}: refused")
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise InputError(file, f"not a readable workbook ({error})") from None
    except Exception as error:
        if isinstance(error, InputError):
            raise
        raise InputError(file, f"not a readable workbook ({type(error).__name__})") from None


def _sheet(sheet: Any, file: str) -> Sheet:
    if not hasattr(sheet, "iter_rows"):
        return Sheet(str(sheet.title), ())
    if hasattr(sheet, "reset_dimensions"):
        sheet.reset_dimensions()  # the stated size may be a lie of a million rows
    return Sheet(str(sheet.title), tuple(_rows(sheet, file)))


def _rows(sheet: Any, file: str) -> Iterator[Row]:
    kept = 0
    for number, values in enumerate(sheet.iter_rows(values_only=True), 1):
        last = next((n for n in range(len(values), 0, -1) if values[n - 1] is not None), 0)
        if last == 0:
            if number > MAX_ROWS * 25:
                break  # the format ends at a million rows; nothing but emptiness gets here
            continue
        place = f"sheet {sheet.title!r}, line {number}"
        if last > MAX_COLUMNS:
            raise InputError(file, f"more than {MAX_COLUMNS} columns", place)
        kept += 1
        if kept > MAX_ROWS:
            raise InputError(file, f"more than {MAX_ROWS} rows", place)
        cells = tuple(clean(_text(value)) for value in values[:last])
        if any(cells):
            yield Row(number, cells)


def _text(value: object) -> str:
    """A cell's value as a person sees it, without the decimals that a spreadsheet adds to whole numbers."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    return re.sub(r"_x000D_", "", str(value))
