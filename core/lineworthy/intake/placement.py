# SPDX-License-Identifier: MIT
"""Reading placement files: CSV, TSV or XLSX under the column names people use, and the layout editor's plain text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Optional

from lineworthy.errors import InputError
from lineworthy.intake.table import Row, Table, Unread, table_in
from lineworthy.model import Side
from lineworthy.shapes import Point

WHAT = "placement file"

_BEFORE = r"(pos|mid|center|centre|centroid|ref|loc(ation)?|coord|placement)?[ ._-]?"
_AFTER = r"[ ._-]?(pos(ition)?|coord(inate)?|loc(ation)?|center|centre)?"
_COLUMNS = {
    "reference": r"ref(erence)?s?(des(ignator)?)?|ref ?des|designators?|des|component|part|name|bauteil|referenz",
    "x": f"{_BEFORE}x{_AFTER}",
    "y": f"{_BEFORE}y{_AFTER}",
    "rotation": r"rot(ation)?|angle|orientation|theta|drehung|winkel",
    "side": r"side|layer|board ?side|tb|top/bottom|top ?bottom|seite|lage|mount ?side",
    "value": r"val(ue)?|comment|wert",
    "package": r"package|footprint|pattern|land ?pattern|gehäuse|bauform",
}
_UNIT_MARK = re.compile(r"[\[(]?\b(mm|millimet(?:er|re)s?|inch(?:es)?|in|mils?|thou)\b[\])]?", re.IGNORECASE)
_PATTERNS = {kind: re.compile(rf"(?:{pattern})\Z", re.IGNORECASE) for kind, pattern in _COLUMNS.items()}
_PLAIN = re.compile(rb"^\s*#\s*Ref\s+Val\s+Package\s+PosX\s+PosY\s+Rot\s+Side", re.MULTILINE)
_PLAIN_UNIT = re.compile(r"Unit\s*=\s*(mm|inch|in)", re.IGNORECASE)
_NUMBER = re.compile(
    r"([-+]?\s*[\d.,]+(?:[eE][-+]?\d+)?)\s*(mm|in(?:ch(?:es)?)?|mils?|thou|\"|°|deg)?\.?\Z", re.IGNORECASE
)
_TO_MM = {"mm": 1.0, "inch": 25.4, "mil": 0.0254}
_TOP = re.compile(
    r"t(op)?(layer|side)?|f(ront)?|f\.cu|component(side)?|primary|1|oben|o|best(ü|ue)ckungsseite", re.IGNORECASE
)
_BOTTOM = re.compile(
    r"b(ot(tom)?)?(layer|side)?|back|b\.cu|solder(side)?|secondary|2|unten|u|l(ö|oe)tseite", re.IGNORECASE
)


@dataclass(frozen=True)
class Placed:
    """One line: the part, where its middle goes (mm), its turn in degrees, its side; None where not stated."""

    reference: str
    at: Point
    rotation: Optional[float]
    side: Optional[Side]
    value: str = ""
    package: str = ""
    line: int = 0


@dataclass(frozen=True)
class PlacementFile:
    """A placement file.

    Attributes:
        unit: ``mm``, ``inch`` or ``mil`` as the file states it; when empty, `placed` has the file's bare numbers.
        placed: its lines in the order of the file.
        unread: lines that could not be read.
        understood: how it was read, in words for a person.
    """

    name: str
    unit: str
    placed: tuple[Placed, ...] = field(repr=False)
    unread: tuple[Unread, ...] = ()
    understood: tuple[str, ...] = ()


def read_placement(name: str, data: bytes) -> PlacementFile:
    """Reads a placement file.

    Raises:
        InputError: it holds no table with references and coordinates.
    """
    if _PLAIN.search(data[:8192]):
        return _plain_text(name, data.decode("utf-8", "replace"))
    return _of_table(name, table_in(data, name, header_score, WHAT))


def header_score(cells: Sequence[str]) -> int:
    """How much a row looks like the header of a placement file; 0 unless it has references, x and y."""
    kinds = set(_columns(cells))
    return len(kinds) if {"reference", "x", "y"} <= kinds else 0


def _columns(cells: Sequence[str]) -> dict[str, int]:
    """Which cell is what; the first of a kind wins, but a middle wins over a plain x, y and a pad's place."""
    found: dict[str, int] = {}
    for index, cell in enumerate(cells):
        plain = _UNIT_MARK.sub("", cell).strip(" ()[].-_:#")
        for kind, pattern in _PATTERNS.items():
            better = kind in ("x", "y") and re.match(r"mid|cent", plain, re.I) and kind in found
            if pattern.match(plain) and (kind not in found or better):
                found[kind] = index
                break
    return found


def _of_table(name: str, table: Table) -> PlacementFile:
    columns = _columns(table.header.cells)
    unit = _stated_unit(table, columns)
    placed: list[Placed] = []
    unread = list(table.unread)
    units: set[str] = set()
    for row in table.rows:
        if not _cell(row, columns, "reference"):
            continue
        x, y = (_length(_cell(row, columns, axis), unit) for axis in ("x", "y"))
        if x is None or y is None:
            unread.append(Unread(row.line, ", ".join(row.filled)[:80], "no coordinates"))
            continue
        units |= {x[1], y[1]}
        turn = _length(_cell(row, columns, "rotation"), "mm")
        placed.append(
            Placed(
                reference=_cell(row, columns, "reference"),
                at=(x[0], y[0]),
                rotation=None if turn is None else turn[0],
                side=_side(_cell(row, columns, "side")),
                value=_cell(row, columns, "value"),
                package=_cell(row, columns, "package"),
                line=row.line,
            )
        )
    said = units.pop() if len(units) == 1 else ("mixed units" if units else unit)
    return PlacementFile(name, said, tuple(placed), tuple(unread), table.understood)


def _cell(row: Row, columns: dict[str, int], kind: str) -> str:
    index = columns.get(kind, -1)
    return row.cells[index].strip() if 0 <= index < len(row.cells) else ""


def _stated_unit(table: Table, columns: dict[str, int]) -> str:
    """The unit in the headers of x and y, or in a line above them."""
    heads = [table.header.cells[columns[axis]] for axis in ("x", "y")]
    above = [cell for row in table.above for cell in row.cells if re.search(r"unit|einheit", cell, re.I)]
    for text in (*heads, *above):
        if match := _UNIT_MARK.search(text):
            return _unit(match[1])
    return ""


def _unit(word: str) -> str:
    plain = word.casefold()
    if plain.startswith(("mil", "thou")) and not plain.startswith("millim"):
        return "mil"
    return "mm" if plain.startswith(("mm", "millim")) else "inch"


def _length(text: str, unit: str) -> Optional[tuple[float, str]]:
    """A number in mm where its unit is known, with the unit it came in; None when it is none."""
    match = _NUMBER.match(text.strip())
    if not match:
        return None
    digits = match[1].replace(" ", "")
    if "," in digits:
        digits = digits.replace(",", "." if "." not in digits else "")
    try:
        value = float(digits)
    except ValueError:
        return None
    if not abs(value) < 1e6:
        return None
    mark = match[2] or ""
    own = _unit("inch" if mark == '"' else mark) if mark and mark not in ("°", "deg") else unit
    return value * _TO_MM.get(own, 1.0), own


def _side(text: str) -> Optional[Side]:
    plain = re.sub(r"[ _-]", "", text)
    if _TOP.fullmatch(plain):
        return Side.TOP
    return Side.BOTTOM if _BOTTOM.fullmatch(plain) else None


def _plain_text(name: str, text: str) -> PlacementFile:
    """The layout editor's columns set apart by spaces; values and packages have none in them."""
    match = _PLAIN_UNIT.search(text)
    unit = _unit(match[1]) if match else ""
    placed: list[Placed] = []
    unread: list[Unread] = []
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        x, y, turn = (_length(word, unit) for word in words[-4:-1]) if len(words) >= 6 else (None, None, None)
        if x is None or y is None or turn is None:
            unread.append(Unread(number, line.strip()[:80], "not of the form of the others"))
            continue
        rest = words[1:-4]
        at = (x[0], y[0])
        angle = turn[0] / _TO_MM.get(unit, 1.0)
        placed.append(Placed(words[0], at, angle, _side(words[-1]), rest[0], rest[-1], number))
    if not placed and not re.search(r"^##\s*End", text, re.MULTILINE):
        raise InputError(name, "holds no placement line that can be read")
    return PlacementFile(name, unit, tuple(placed), tuple(unread), ("plain text in columns",))
