# SPDX-License-Identifier: MIT
"""A parts list from a file: which column is what, and each row as a line, an alternate, a title or a named trouble."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Optional

from lineworthy.intake import fitting, references
from lineworthy.intake.columns import Column, column, letters, perhaps_references, score
from lineworthy.intake.numbers import decimal, whole
from lineworthy.intake.parts_list import Alternate, PartsLine, PartsList
from lineworthy.intake.table import Row, Table, Unread, read_table, table_in
from lineworthy.knowledge.fields import is_placeholder, reads_like_maker_part
from lineworthy.knowledge.values import quantity
from lineworthy.knowledge.wording import counted

WHAT = "parts list"
TITLE = "a title"
_MANY = (Column.ALTERNATE, Column.ALTERNATE_MAKER, Column.DESCRIPTION, Column.REMARK, Column.FITTED, Column.NOT_FITTED)
_SHOWN = 80


def read_parts_list(path: Path) -> PartsList:
    """The parts list in a file; InputError when there is none in it."""
    return parts_list_of(read_table(path, score, WHAT))


def parts_list_in(data: bytes, file: str) -> PartsList:
    """The parts list in the bytes of a file; InputError when there is none in it."""
    return parts_list_of(table_in(data, file, score, WHAT))


def parts_list_of(table: Table) -> PartsList:
    """The parts list in a table whose header `columns.score` found."""
    reading = _Reading(table, _Columns.of(table))
    for row in table.rows:
        reading.take(row)
    return reading.done()


@dataclass(frozen=True)
class _Columns:
    """Which cell of a row is what."""

    at: dict[Column, list[int]]
    others: dict[int, str]
    blank_fitted: bool

    @classmethod
    def of(cls, table: Table) -> _Columns:
        names = table.header.cells
        at: dict[Column, list[int]] = {}
        for n, name in enumerate(names):
            kind = column(name)
            if kind is Column.VALUE and kind in at and letters(name) == "comment":
                kind = Column.REMARK
            elif kind is Column.VALUE and kind in at and letters(names[at[kind][0]]) == "comment":
                at.setdefault(Column.REMARK, []).append(at.pop(kind)[0])
            if kind is not None and (kind not in at or kind in _MANY):
                at.setdefault(kind, []).append(n)
            elif kind is Column.MAKER_PART:
                at.setdefault(Column.ALTERNATE, []).append(n)
        if Column.REFERENCES not in at:
            perhaps = [n for n, name in enumerate(names) if perhaps_references(name)]
            best = max(perhaps, key=lambda n: (_reads_as_references(table, n), -n), default=None)
            if best is not None and _reads_as_references(table, best) >= 0.5:
                at = {kind: kept for kind, places in at.items() if (kept := [n for n in places if n != best])}
                at[Column.REFERENCES] = [best]
        used = {n for places in at.values() for n in places}
        others = {n: name for n, name in enumerate(names) if n not in used and name}
        return cls(at, others, _blank_means_fitted(table, at))

    def cell(self, row: Row, kind: Column) -> str:
        """The first cell of a kind that is filled."""
        return next((text for text in self.cells(row, kind) if text), "")

    def cells(self, row: Row, kind: Column) -> list[str]:
        """All cells of a kind."""
        return [row.cells[n] if n < len(row.cells) else "" for n in self.at.get(kind, ())]


def _reads_as_references(table: Table, at: int) -> float:
    """The share of a column's cells that are references with a number."""
    cells = [row.cells[at] for row in table.rows if at < len(row.cells) and row.cells[at]]
    return sum(_is_references(cell) for cell in cells) / len(cells) if cells else 0.0


def _is_references(cell: str) -> bool:
    try:
        return all(name[-1:].isdigit() and name[0].isalpha() and len(name) < 8 for name in references.expand(cell))
    except references.ReferencesError:
        return False


def _blank_means_fitted(table: Table, at: dict[Column, list[int]]) -> bool:
    """In a column *Fitted*, blank is fitted; unless the column only ever ticks what is."""
    said = [
        fitting.says_fitted(row.cells[n]) for n in at.get(Column.FITTED, ()) for row in table.rows if n < len(row.cells)
    ]
    return False in said or True not in said


@dataclass
class _Reading:
    """Rows taken so far."""

    table: Table
    columns: _Columns
    lines: list[PartsLine] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    remarks: list[Unread] = field(default_factory=list)
    under_not_fitted: bool = False
    extra_alternates: int = 0
    marked: int = 0

    def take(self, row: Row) -> None:
        """Adds one row to what it belongs to."""
        places, counted_cell = self.columns.cell(row, Column.REFERENCES), self.columns.cell(row, Column.QUANTITY)
        remark = self._no_part(row, places, counted_cell)
        if remark:
            if remark == TITLE:
                self.under_not_fitted = any(fitting.marked_not_fitted(text, alone=True) for text in row.filled)
            self._remark(row, remark)
        elif not places and not counted_cell:
            self._without_places(row)
        elif not self._continues(row, places):
            self._line(row, places, counted_cell)

    def _no_part(self, row: Row, places: str, counted_cell: str) -> str:
        """What a row is that is no line, empty for one that may be."""
        if [letters(text) for text in row.cells] == [letters(text) for text in self.table.header.cells]:
            return "the header again"
        if self._is_title(row):
            return TITLE
        named = letters(row.filled[0]).startswith(("total", "summe", "gesamt", "somme", "sum"))
        lone = not places and len(row.filled) == 1 and counted_cell and whole(counted_cell) == self._so_far()
        return "a total" if lone or (named and not places[-1:].isdigit()) else ""

    def done(self) -> PartsList:
        """The list of what was taken."""
        used = {kind.value for kind in self.columns.at}
        understood = [*self.table.understood, "columns used: " + ", ".join(sorted(used))]
        if not self.columns.blank_fitted:
            understood.append("the column of fitted parts only ticks: blank is read as not fitted")
        if self.extra_alternates:
            understood.append(f"{counted(self.extra_alternates, 'row')} read as alternates of the line above")
        if self.marked:
            understood.append(f"{counted(self.marked, 'line')} not fitted by a mark in another column")
        unread = sorted([*self.table.unread, *self.unread], key=lambda item: item.line)
        return PartsList(
            source=self.table.file,
            lines=tuple(self.lines),
            unread=tuple(unread),
            remarks=tuple(self.remarks),
            ignored=tuple(self.columns.others.values()),
            understood=tuple(understood),
            heading=tuple(text for row in self.table.above if (text := _shown(row))),
        )

    def _so_far(self) -> float:
        """Pieces of all lines taken."""
        return sum(line.quantity or 0 for line in self.lines)

    def _remark(self, row: Row, what: str) -> None:
        self.remarks.append(Unread(row.line, _shown(row), what))

    def _cannot(self, row: Row, reason: str) -> None:
        self.unread.append(Unread(row.line, _shown(row), reason))

    def _is_title(self, row: Row) -> bool:
        """A lone text in a row that is neither references, nor a number, nor a value or part without its place."""
        if len(row.filled) != 1:
            return False
        text = row.filled[0]
        if self.columns.cell(row, Column.REFERENCES):
            return not _is_references(text) and (" " in text or text.endswith(":") or not any(map(str.isdigit, text)))
        if self.columns.cell(row, Column.QUANTITY):
            return whole(text) is None
        if self.columns.cell(row, Column.MAKER_PART):
            return not self.lines
        return quantity(text) is None and not reads_like_maker_part(text)

    def _without_places(self, row: Row) -> None:
        """Neither references nor a quantity: another part for the line above, or nothing a buyer could use."""
        number = self.columns.cell(row, Column.MAKER_PART)
        if number and not is_placeholder(number) and self.lines and not self.columns.cell(row, Column.VALUE):
            above = self.lines[-1]
            extra = Alternate(number, self.columns.cell(row, Column.MAKER), self.columns.cell(row, Column.PACKAGE))
            self.lines[-1] = replace(above, alternates=(*above.alternates, extra))
            self.extra_alternates += 1
        elif set(self.columns.at) & {Column.MAKER_PART, Column.VALUE} and self._says_a_part(row):
            self._cannot(row, "neither references nor a quantity")
        else:
            self._remark(row, "no part")

    def _says_a_part(self, row: Row) -> bool:
        kinds = (Column.VALUE, Column.PACKAGE, Column.MAKER_PART, Column.ORDER_CODE, Column.MAKER, Column.DESCRIPTION)
        return any(self.columns.cell(row, kind) for kind in kinds)

    def _continues(self, row: Row, places: str) -> bool:
        """Old lists break a long row of references: more of them alone in the next row belong to the line above."""
        if not places or len(row.filled) != 1 or not self.lines or not _is_references(places):
            return False
        above = self.lines[-1]
        more = references.expand(places)
        if above.quantity is None or len(above.references) + len(more) > above.quantity:
            return False
        self.lines[-1] = replace(above, references=(*above.references, *more))
        return True

    def _line(self, row: Row, places: str, counted_cell: str) -> None:
        cell = self.columns.cell
        count = _quantity(counted_cell, comma=self.table.decimal_comma)
        count_marks = fitting.marked_not_fitted(counted_cell, alone=True)
        if counted_cell and count is None and not count_marks and not is_placeholder(counted_cell):
            return self._cannot(row, f"quantity {counted_cell[:30]!r} is no number")
        if not places and not self._says_a_part(row):
            return self._cannot(row, "a quantity without a part")
        try:
            named = references.expand(places, count) if places else ()
        except references.ReferencesError as error:
            return self._cannot(row, str(error))
        others = {name: row.cells[n] for n, name in self.columns.others.items() if n < len(row.cells) and row.cells[n]}
        height = cell(row, Column.HEIGHT)
        self.lines.append(
            PartsLine(
                references=named,
                quantity=count,
                value=cell(row, Column.VALUE),
                package=cell(row, Column.PACKAGE),
                maker=_said(cell(row, Column.MAKER)),
                maker_part=_said(cell(row, Column.MAKER_PART)),
                order_code=_said(cell(row, Column.ORDER_CODE)),
                description="; ".join(filter(None, self.columns.cells(row, Column.DESCRIPTION))),
                fitted=self._fitted(row, count, count_marks),
                alternates=self._alternates(row),
                height=decimal(height.lower().replace("mm", "").strip(), comma=self.table.decimal_comma),
                policy=cell(row, Column.POLICY),
                sourcing=cell(row, Column.SOURCING),
                remark="; ".join(filter(None, self.columns.cells(row, Column.REMARK))),
                others=others,
                line=row.line,
            )
        )
        return None

    def _fitted(self, row: Row, count: Optional[float], count_marks: bool) -> bool:
        """By the column for it; else by a mark anywhere people put one."""
        cells = self.columns.cells
        said = [fitting.says_fitted(text) for text in cells(row, Column.FITTED)]
        said += [
            not mark for text in cells(row, Column.NOT_FITTED) if (mark := fitting.says_not_fitted(text)) is not None
        ]
        if False in said:
            return False
        if Column.FITTED in self.columns.at and not self.columns.blank_fitted and True not in said:
            return False
        alone = (Column.VALUE, Column.MAKER_PART, Column.MAKER, Column.REMARK, Column.ORDER_CODE)
        marked = any(fitting.marked_not_fitted(text, alone=True) for kind in alone for text in cells(row, kind))
        marked = marked or any(fitting.marked_not_fitted(text) for text in cells(row, Column.DESCRIPTION))
        marked = marked or count_marks or count == 0 or self.under_not_fitted
        self.marked += marked
        return not marked

    def _alternates(self, row: Row) -> tuple[Alternate, ...]:
        """Alternates in columns of their own; several may share a cell."""
        makers = self.columns.cells(row, Column.ALTERNATE_MAKER)
        found: list[Alternate] = []
        for n, text in enumerate(self.columns.cells(row, Column.ALTERNATE)):
            numbers = [number.strip() for number in text.replace("\n", ";").replace("|", ";").split(";")]
            maker = makers[n] if n < len(makers) else ""
            found += [Alternate(number, maker) for number in numbers if number and not is_placeholder(number)]
        main = self.columns.cell(row, Column.MAKER_PART).casefold()
        return tuple({a.maker_part.casefold(): a for a in found if a.maker_part.casefold() != main}.values())


def _quantity(cell: str, *, comma: bool) -> Optional[float]:
    number = whole(cell)
    return float(number) if number is not None else decimal(cell.strip().removesuffix("m").strip(), comma=comma)


def _said(text: str) -> str:
    return "" if is_placeholder(text) else text


def _shown(row: Row) -> str:
    text = ", ".join(row.filled)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."
