# SPDX-License-Identifier: MIT
"""Tables as people keep them: CSV with any separator and encoding, tab-separated text, XLSX.

A table is found by its header row, which may stand anywhere in the first `HEADER_WITHIN` rows below letterheads and
remarks. What a header is, the caller says: a function that scores a row by the columns it knows in it. The separator
and the encoding are then the ones under which a header is found.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Callable, Optional

from lineworthy.errors import InputError

HEADER_WITHIN = 20
MAX_BYTES = 20_000_000
MAX_ROWS = 50_000
MAX_COLUMNS = 500

Score = Callable[[Sequence[str]], int]
"""How much a row looks like the header: the number of columns known, 0 when it cannot be one."""

_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
# after UTF-8: each of these reads nearly any bytes, so the header decides; Western first
_OTHER_ENCODINGS = {"cp1252": "Windows-1252", "gb18030": "GB 18030", "cp932": "Shift JIS", "cp1251": "Windows-1251"}
_MARKS = (
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_TEXT_AS_FORMULA = re.compile(r'="(.*)"\Z', re.DOTALL)


@dataclass(frozen=True)
class Row:
    """One row: where it begins in the file (counted from 1), and its cells without white space at their ends."""

    line: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> tuple[str, ...]:
        """The cells that hold something."""
        return tuple(cell for cell in self.cells if cell)


@dataclass(frozen=True)
class Unread:
    """A line that could not be read, as it stands there, and why."""

    line: int
    text: str
    reason: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.reason}" + (f" ({self.text})" if self.text else "")


@dataclass(frozen=True)
class Table:
    """A table found in a file.

    Attributes:
        file: the file's name as given.
        header: the row with the column names.
        above: rows that stand before the header: letterheads, remarks.
        rows: rows below the header that hold anything.
        unread: lines of the file that are no rows.
        understood: how the file was read, in words for a person.
        decimal_comma: True where numbers are separated as in ``0,5``, as far as the file shows.
    """

    file: str
    header: Row
    above: tuple[Row, ...] = ()
    rows: tuple[Row, ...] = ()
    unread: tuple[Unread, ...] = ()
    understood: tuple[str, ...] = ()
    decimal_comma: bool = False


@dataclass(frozen=True)
class Sheet:
    """The rows of one sheet of a workbook, or of a text file, before a header is looked for."""

    name: str
    rows: tuple[Row, ...]
    unread: tuple[Unread, ...] = field(default=())


def read_table(path: Path, score: Score, what: str = "table") -> Table:
    """The table in a file.

    Args:
        path: a text file with separators, or an XLSX workbook.
        score: tells the header, see `Score`.
        what: what is looked for, for messages ("parts list").

    Raises:
        InputError: the file cannot be read, is no table, is too large, or holds no header.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError(str(path), f"cannot be read: {error.strerror or error}") from None
    return table_in(data, str(path), score, what)


def table_in(data: bytes, file: str, score: Score, what: str = "table") -> Table:
    """The table in the bytes of a file; raises as `read_table` does."""
    if len(data) > MAX_BYTES:
        raise InputError(file, f"larger than {MAX_BYTES // 1_000_000} MB: not a {what}")
    if not data.strip():
        raise InputError(file, "is empty")
    if data.startswith(b"PK"):
        from lineworthy.intake.workbook import sheets_in  # noqa: PLC0415 - a workbook's reader is loaded for one only

        return _of_workbook(sheets_in(data, file), file, score, what)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise InputError(file, "an old or encrypted Excel workbook: save it as .xlsx without a password, or as CSV")
    if re.match(rb"\s*(<!doctype|<html|<\?xml|%PDF)", data[:200], re.IGNORECASE):
        raise InputError(file, f"a document, not a table: save the {what} as .xlsx or CSV")
    return _of_text(data, file, score, what)


def _of_workbook(sheets: Sequence[Sheet], file: str, score: Score, what: str) -> Table:
    """The first sheet with the best header; other sheets that hold one are named."""
    found = [(sheet, place) for sheet in sheets if (place := _header(sheet.rows, score)) is not None]
    if not found:
        names = ", ".join(repr(sheet.name) for sheet in sheets[:5])
        raise InputError(file, f"{_no_header(what, sheets[0].rows if sheets else ())} (sheets {names or 'none'})")
    sheet, place = max(found, key=lambda item: score(item[0].rows[item[1]].cells))
    understood = [f"workbook, sheet {sheet.name!r}"]
    others = [other.name for other, _ in found if other is not sheet]
    if others:
        understood.append(f"not read: {', '.join(map(repr, others))}, which would be a {what}, too; give it as a file")
    return _cut(file, sheet, place, understood)


def _of_text(data: bytes, file: str, score: Score, what: str) -> Table:
    """The reading, of all encodings and separators, under which the best header is found."""
    if b"\x00" in data[:4000] and not data.startswith(tuple(mark for mark, _ in _MARKS)):
        wide = "utf-16-le" if data[1:2] == b"\x00" else "utf-16-be" if data[:1] == b"\x00" else ""
        decoded = _decoded(data, wide) if wide else None
        readings = [(decoded, "UTF-16")] if decoded is not None else []
        if not readings:
            raise InputError(file, f"not text: no {what}")
    else:
        readings = list(_readings(data))
    first: tuple[Row, ...] = ()
    for text, encoding in readings:
        best: Optional[tuple[int, Sheet, int, str]] = None
        for separator in _SEPARATORS:
            sheet = _separated(text, separator, file, head_only=True)
            first = first or sheet.rows
            place = _header(sheet.rows, score)
            points = 0 if place is None else score(sheet.rows[place].cells)
            if place is not None and (best is None or points > best[0]):
                best = (points, sheet, place, separator)
        if best is not None:
            _, _, place, separator = best
            whole = _separated(text, separator, file)
            understood = [f"text in {encoding}, separated by {_SEPARATORS[separator]}"]
            return _cut(file, whole, place, understood, semicolons=separator == ";")
    raise InputError(file, _no_header(what, first))


def _readings(data: bytes) -> Iterator[tuple[str, str]]:
    """The text under each encoding that can read it, likeliest first, with the encoding's name."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            text = _decoded(data, encoding)
            if text is not None:
                yield text, encoding.replace("-sig", "").upper()
                return
    text = _decoded(data, "utf-8")
    if text is not None:
        yield text, "UTF-8"
        return
    for encoding, name in _OTHER_ENCODINGS.items():
        text = _decoded(data, encoding)
        if text is not None:
            yield text, name
    yield data.decode("latin-1"), "Latin-1"


def _decoded(data: bytes, encoding: str) -> Optional[str]:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        return None


def _no_header(what: str, rows: Sequence[Row]) -> str:
    seen = next((", ".join(row.filled[:6]) for row in rows if row.filled), "")
    return f"no header of a {what} in the first {HEADER_WITHIN} rows" + (f"; begins with {seen[:80]!r}" if seen else "")


def _header(rows: Sequence[Row], score: Score) -> Optional[int]:
    """Index of the header: the best row of the first ones, the first of equals."""
    points = [score(row.cells) for row in rows[:HEADER_WITHIN]]
    return points.index(max(points)) if points and max(points) > 0 else None


def _cut(file: str, sheet: Sheet, header: int, understood: Sequence[str], *, semicolons: bool = False) -> Table:
    rows = tuple(row for row in sheet.rows[header + 1 :] if row.filled)
    return Table(
        file=file,
        header=sheet.rows[header],
        above=sheet.rows[:header],
        rows=rows,
        unread=sheet.unread,
        understood=(*understood, f"header in line {sheet.rows[header].line}"),
        decimal_comma=_decimal_comma(rows, semicolons),
    )


def _separated(text: str, separator: str, file: str, *, head_only: bool = False) -> Sheet:
    """Rows of separated text; a quote that is never closed costs only the lines it swallows, and they are named."""
    rows: list[Row] = []
    unread: list[Unread] = []
    lines = list(io.StringIO(text, newline=""))
    if lines and lines[0][:4].lower() == "sep=":  # how some spreadsheets announce the separator
        lines[0] = "\n"
    reader = csv.reader(lines, delimiter=separator)
    at = 0
    try:
        for cells in reader:
            begin, at = at + 1, reader.line_num
            if at > begin and (swallowed := _swallowed(lines, begin, at, separator)):
                unread.append(swallowed)
                continue
            rows.append(Row(begin, tuple(clean(cell) for cell in cells)))
            if len(rows) > MAX_ROWS:
                raise InputError(file, f"more than {MAX_ROWS} rows", f"line {begin}")
            if len(cells) > MAX_COLUMNS:
                raise InputError(file, f"more than {MAX_COLUMNS} columns", f"line {begin}")
            if head_only and sum(1 for row in rows if row.filled) >= HEADER_WITHIN:
                break
    except csv.Error as error:
        unread.append(Unread(at + 1, "", f"not a table from here on: {error}"))
    return Sheet("", tuple(row for row in rows if row.filled), tuple(unread))  # empty rows do not count as first ones


def _swallowed(lines: Sequence[str], begin: int, end: int, separator: str) -> Optional[Unread]:
    """A cell over several lines is one that a person broke, unless the lines are rows that an open quote ate."""
    record = lines[begin - 1 : end]
    columns = record[0].count(separator)
    eaten = columns > 0 and any(line.count(separator) >= columns for line in record[1:])
    open_ended = end >= len(lines) and sum(line.count('"') for line in record) % 2
    if not eaten and not open_ended:
        return None
    return Unread(begin, record[0].strip()[:80], f"a quote is opened and not closed: lines {begin} to {end} are lost")


def clean(cell: object) -> str:
    """A cell as text: no white space at the ends, hard spaces as spaces, ``="0402"`` as ``0402``."""
    text = str(cell).replace("\u00a0", " ").replace("\u202f", " ").replace("\ufeff", "").strip()
    match = _TEXT_AS_FORMULA.match(text)
    return match[1].strip() if match else text


_COMMA = re.compile(r"\D{0,3}(?:0,\d+|\d+,(?:\d{1,2}|\d{4,}))\D{0,5}\Z")
_POINT = re.compile(r"\D{0,3}(?:0\.\d+|\d+\.(?:\d{1,2}|\d{4,}))\D{0,5}\Z")


def _decimal_comma(rows: Sequence[Row], semicolons: bool) -> bool:
    """Whether numbers in the file are written with a decimal comma; where none shows it, as semicolons suggest."""
    cells = [cell for row in rows for cell in row.cells if len(cell) < 20]
    commas = sum(1 for cell in cells if _COMMA.match(cell))
    points = sum(1 for cell in cells if _POINT.match(cell))
    return commas > points if commas != points else semicolons
