# SPDX-License-Identifier: MIT
"""Buying the parts: does the parts list say what to buy?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.fields import Meaning, maker_part, meaning, order_code, value_is_maker_part
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, check


@dataclass(frozen=True)
class Line:
    """One line of the parts list: parts of the same value in the same package."""

    value: str
    package: str
    parts: tuple[Part, ...]

    @property
    def label(self) -> str:
        """``C1, C2 (100n, C_0603)``."""
        what = ", ".join(text for text in (self.value, self.package) if text)
        return listed(part.reference for part in self.parts) + (f" ({what})" if what else "")


@check("supply/manufacturer-part-missing")
def manufacturer_part_missing(board: Board, marks: Marks, parts: Optional[PartsList] = None) -> Answers:
    """Does every line of the parts list say which manufacturer's part to buy?

    Why it matters: a value and a package fit hundreds of parts of differing voltage, material and price. The buyer
    asks, or chooses for you, and what was tested is not what is built.
    What to do: give each part a field with the manufacturer's part number (MPN), and a second one for an alternate.
    Blind spots: fields are known by their names; a parts list counts where it is given. A part named only in the
    package is not seen. Whether a number exists or can be bought is not asked. Parts without pads, and those with
    neither paste nor holes that are no surface parts for the placement machine, are taken for etched copper.
    Source: common practice, no source.
    """
    lines = _lines(board, marks)
    named = (
        {name for line in parts.lines if line.maker_part for name in line.references} if parts is not None else set()
    )
    nameless, coded, valued = [], [], []
    for line in lines:
        without = tuple(part for part in line.parts if not maker_part(part) and part.reference not in named)
        if not without:
            continue
        missing = Line(line.value, line.package, without)
        if all(order_code(part) for part in missing.parts):
            coded.append(missing)
        elif all(value_is_maker_part(part) for part in missing.parts):
            valued.append(missing)
        else:
            nameless.append(missing)
    has_field = any(
        meaning(name) is Meaning.MAKER_PART for line in lines for part in line.parts for name in part.fields
    )
    yield from _nameless(nameless, len(lines), has_field)
    if coded:
        what = "a dealer's order code but no manufacturer part"
        yield _note(coded, f"carries {what}", f"carry {what}", "order code")
    if valued:
        what = "a manufacturer part as value only"
        yield _note(valued, f"gives {what}", f"give {what}", "value")


def _lines(board: Board, marks: Marks) -> list[Line]:
    """The parts list as the board gives it."""
    groups: dict[tuple[str, str], list[Part]] = defaultdict(list)
    for part in bought(board, marks):
        if part.fitted:
            groups[part.value.strip(), part.package].append(part)
    return [
        Line(value, package, tuple(sorted(parts, key=lambda part: (natural(part.reference), part.uid))))
        for (value, package), parts in sorted(groups.items())
    ]


def _nameless(lines: Sequence[Line], total: int, has_field: bool) -> Answers:
    """One finding: the same person fills them all in."""
    if not lines:
        return
    subject = f"{lines[0].label}: no manufacturer part"
    if len(lines) > 1:
        # where most lack it a habit is missing, not entries
        few = 2 * len(lines) <= total
        which = f": {listed(line.parts[0].reference for line in lines)}" if few else ""
        field = "" if has_field else "; the board has no such field"
        subject = f"{len(lines)} of {counted(total, 'line')} of the parts list carry no manufacturer part{which}{field}"
    yield _finding(Consequence.QUERY, subject, lines, "most lines" if len(lines) > 1 else lines[0].package)


def _note(lines: Sequence[Line], one: str, more: str, detail: str) -> Finding:
    some = listed(line.parts[0].reference for line in lines)
    what = f"{counted(len(lines), 'line')} of the parts list {one if len(lines) == 1 else more}: {some}"
    return _finding(Consequence.NOTE, what, lines, detail)


def _finding(consequence: Consequence, message: str, lines: Sequence[Line], detail: str) -> Finding:
    parts = [part for line in lines for part in line.parts]
    parts.sort(key=lambda part: (natural(part.reference), part.uid))
    return manufacturer_part_missing.finding(
        consequence,
        message,
        items=parts,
        places=[Place(part.at, part.side, f"{part.reference} {part.value}".strip()) for part in parts],
        detail=detail,
    )


CHECKS = (manufacturer_part_missing,)
