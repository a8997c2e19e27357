# SPDX-License-Identifier: MIT
"""What is to be bought: the lines of a parts list, completed from the board, and joined where they name one part."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lineworthy.intake.offers import part_key
from lineworthy.intake.parts_list import Alternate, PartsLine, PartsList
from lineworthy.knowledge.fields import Meaning, alternates, main_part, stated, written
from lineworthy.knowledge.packages import reference_letters
from lineworthy.knowledge.packages_agree import same_package
from lineworthy.knowledge.values import quantity, ratings, same_value
from lineworthy.knowledge.wording import listed, natural
from lineworthy.model import Board, Part


@dataclass(frozen=True)
class Wanted:
    """One part to buy: its line, pieces per board, and the package the board gives it (else the list's)."""

    line: PartsLine
    per_board: float
    package: str

    @property
    def letters(self) -> str:
        """What its references begin with."""
        return reference_letters(self.line.references[0]) if self.line.references else ""


@dataclass(frozen=True)
class Group:
    """Different parts of the same value in the same package, that could be one."""

    value: str
    package: str
    lines: tuple[PartsLine, ...]

    @property
    def in_words(self) -> str:
        """``10k in R_0402: RC0402-10K (R1, R2), ERJ2-10K (R7)``."""
        parts = ", ".join(f"{line.maker_part} ({listed(line.references, 3)})" for line in self.lines)
        return f"{self.value} in {self.package}: {parts}"


def wanted(parts: PartsList, board: Board) -> list[Wanted]:
    """Everything to buy, in the order of the list."""
    by_reference = {part.reference: part for part in board.parts}
    groups: dict[tuple[str, ...], list[PartsLine]] = defaultdict(list)
    for n, given in enumerate(parts.lines):
        if given.fitted:
            line = completed(given, by_reference)
            # one part is bought once and its spare pieces are lost once, however many lines name it
            groups[(part_key(line.maker_part),) if line.maker_part else ("", str(n))].append(line)
    return [_joined(lines, by_reference) for lines in groups.values()]


def completed(line: PartsLine, by_reference: Mapping[str, Part]) -> PartsLine:
    """A line with what it leaves out taken from the fields of its parts on the board."""
    parts = [by_reference[name] for name in line.references if name in by_reference]
    if not parts:
        return line
    numbers = {main_part(part.fields) for part in parts}
    fields = {name: text for part in reversed(parts) for name, text in part.fields.items() if text.strip()}
    number = line.maker_part or (next(iter(numbers)) if len(numbers) == 1 else "")
    further = tuple(Alternate(text) for text in alternates(fields) if part_key(text) != part_key(number))
    return replace(
        line,
        maker_part=number,
        maker=line.maker or stated(fields, Meaning.MAKER),
        value=line.value or parts[0].value,
        alternates=line.alternates or further,
        policy=line.policy or written(fields, Meaning.POLICY),
        sourcing=line.sourcing or written(fields, Meaning.SOURCING),
        height=line.height if line.height is not None else parts[0].height,
        others={**fields, **line.others},
    )


def _joined(lines: Sequence[PartsLine], by_reference: Mapping[str, Part]) -> Wanted:
    first = lines[0]
    places = tuple(dict.fromkeys(name for line in lines for name in line.references))
    further = {part_key(alternate.maker_part): alternate for line in lines for alternate in line.alternates}
    package = next((by_reference[name].package for name in places if name in by_reference), first.package)
    line = replace(
        first,
        references=places,
        alternates=tuple(further.values()),
        policy=next((line.policy for line in lines if line.policy), ""),
        sourcing=next((line.sourcing for line in lines if line.sourcing), ""),
    )
    return Wanted(line, len(places) + sum(line.per_board for line in lines if not line.references), package)


def consolidation(items: Sequence[Wanted]) -> tuple[Group, ...]:
    """Groups of different parts that have the same value, ratings and package, in the order of their references."""
    groups: list[list[Wanted]] = []
    for item in items:
        if not item.line.maker_part or not item.line.value or not item.line.references:
            continue
        home = next((group for group in groups if _could_be_one(group[0], item)), None)
        if home is None:
            groups.append([item])
        else:
            home.append(item)
    found = (
        Group(group[0].line.value, group[0].package, tuple(item.line for item in group))
        for group in groups
        if len(group) > 1
    )
    return tuple(sorted(found, key=lambda group: natural(group.lines[0].references[0])))


_UNIT_OR_RATING = re.compile(r"|[\u03a9\u03c9\u2126a-z\u00b5\u03bc]{1,4}|[\d.,]+\s*(?:v|w|a|%)?|%")


def _could_be_one(one: Wanted, other: Wanted) -> bool:
    if one.letters != other.letters or same_value(one.line.value, other.line.value, one.letters) is not True:
        return False
    if not same_package(one.package, other.package, one.letters) or _rest(one) != _rest(other):
        return False
    return ratings(one.line.value, one.line.others) == ratings(other.line.value, other.line.others)


def _rest(item: Wanted) -> frozenset[str]:
    """The words behind the quantity: a dielectric, a type."""
    words = re.split(r"[\s/;_(),@]+", item.line.value.casefold())
    if quantity(item.line.value, item.letters) is None:
        return frozenset(words)
    return frozenset(word for word in words[1:] if not _UNIT_OR_RATING.fullmatch(word))
