# SPDX-License-Identifier: MIT
"""The parts list as plain data, from a file or from the board itself; what could not be read is named line by line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional

from lineworthy.intake.table import Unread
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.fields import Meaning, alternates, main_part, meaning, order_code, stated, written
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part


@dataclass(frozen=True)
class Alternate:
    """A part that may be bought instead; what is not stated is empty."""

    maker_part: str
    maker: str = ""
    package: str = ""
    height: Optional[float] = None
    others: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PartsLine:
    """One line of a parts list; text is as written, empty where the list does not say.

    Attributes:
        references: the places it is for; empty for what has none (screws, labels).
        quantity: pieces per board as stated, None when not stated.
        maker_part: the manufacturer's part number.
        fitted: False for a do-not-fit line.
        height: stated height in mm.
        policy: what the list says about substitution.
        sourcing: what it says about its only source, such as the reason for having one.
        others: further columns by their names, as written.
        line: where it begins in the file, 0 when it comes from a board.
    """

    references: tuple[str, ...] = ()
    quantity: Optional[float] = None
    value: str = ""
    package: str = ""
    maker: str = ""
    maker_part: str = ""
    order_code: str = ""
    description: str = ""
    fitted: bool = True
    alternates: tuple[Alternate, ...] = ()
    height: Optional[float] = None
    policy: str = ""
    sourcing: str = ""
    remark: str = ""
    others: Mapping[str, str] = field(default_factory=dict)
    line: int = 0

    @property
    def per_board(self) -> float:
        """Pieces per board: the places where there are any, else what is stated."""
        return float(len(self.references)) if self.references else (self.quantity or 0.0)

    @property
    def miscounted(self) -> bool:
        """Whether the stated quantity is not the number of places; a line not fitted may say 0."""
        if self.quantity is None or not self.references:
            return False
        return self.quantity != len(self.references) and not (self.quantity == 0 and not self.fitted)

    @property
    def label(self) -> str:
        """``C1, C2 (100n, 0603)``, or what else tells it."""
        what = ", ".join(text for text in (self.value or self.maker_part or self.description, self.package) if text)
        return (listed(self.references) or f"line {self.line}") + (f" ({what})" if what else "")


@dataclass(frozen=True)
class PartsList:
    """A parts list.

    Attributes:
        source: the file, or the board's name.
        heading: the texts above the list's header: title, number, revision.
        lines: what is to be bought or left out, in the order of the file.
        unread: lines that look like parts and could not be read.
        remarks: lines that are none: titles, totals.
        ignored: names of columns that were not used.
        understood: how the file was read, in words for a person.
        of_board: whether it was made from the board's own fields.
    """

    source: str
    lines: tuple[PartsLine, ...]
    unread: tuple[Unread, ...] = ()
    remarks: tuple[Unread, ...] = ()
    ignored: tuple[str, ...] = ()
    understood: tuple[str, ...] = ()
    of_board: bool = False
    heading: tuple[str, ...] = ()

    @cached_property
    def by_reference(self) -> Mapping[str, tuple[PartsLine, ...]]:
        """The lines that name a reference, most often one."""
        found: dict[str, list[PartsLine]] = defaultdict(list)
        for line in self.lines:
            for reference in dict.fromkeys(line.references):
                found[reference].append(line)
        return {reference: tuple(lines) for reference, lines in found.items()}

    @cached_property
    def fitted(self) -> frozenset[str]:
        """References that are to be fitted."""
        return frozenset(name for line in self.lines if line.fitted for name in line.references)

    @cached_property
    def not_fitted(self) -> frozenset[str]:
        """References that are named, and not to be fitted."""
        return frozenset(self.by_reference) - self.fitted

    @cached_property
    def repeated(self) -> tuple[str, ...]:
        """References named more than once, in natural order."""
        count: dict[str, int] = defaultdict(int)
        for line in self.lines:
            for reference in line.references:
                count[reference] += 1
        return tuple(sorted((name for name, times in count.items() if times > 1), key=natural))

    @property
    def summary(self) -> str:
        """What was understood, in a line."""
        fitted = sum(1 for line in self.lines if line.fitted)
        rest = len(self.lines) - fitted
        text = f"{counted(fitted, 'line')} with {counted(len(self.fitted), 'place')}"
        text += f", {rest} not fitted" if rest else ""
        return text + (f", {counted(len(self.unread), 'line')} not readable" if self.unread else "")

    @classmethod
    def from_board(cls, board: Board, marks: Optional[Marks] = None) -> PartsList:
        """The parts list that the board's own fields make: parts of one value, package and part number are a line."""
        groups: dict[tuple[str, ...], list[Part]] = defaultdict(list)
        for part in bought(board, marks or Marks(board)):
            number, maker = main_part(part.fields), stated(part.fields, Meaning.MAKER)
            groups[part.value.strip(), part.package, number, maker, "" if part.fitted else "not fitted"].append(part)
        lines = (_board_line(sorted(parts, key=lambda part: natural(part.reference))) for parts in groups.values())
        ordered = tuple(sorted(lines, key=lambda line: [natural(name) for name in line.references]))
        return cls(
            source=board.path or board.name, lines=ordered, understood=("from the board's fields",), of_board=True
        )


def _board_line(parts: list[Part]) -> PartsLine:
    first = parts[0]
    texts = {name: value for part in reversed(parts) for name, value in part.fields.items() if value.strip()}
    return PartsLine(
        references=tuple(part.reference for part in parts),
        quantity=float(len(parts)),
        value=first.value.strip(),
        package=first.package,
        maker=stated(texts, Meaning.MAKER),
        maker_part=main_part(texts),
        order_code=order_code(first),
        description=first.description,
        fitted=first.fitted,
        alternates=tuple(Alternate(number) for number in alternates(texts)),
        height=max((part.height for part in parts if part.height is not None), default=None),
        policy=written(texts, Meaning.POLICY),
        sourcing=written(texts, Meaning.SOURCING),
        others={name: value for name, value in texts.items() if meaning(name) is Meaning.OTHER},
    )
