# SPDX-License-Identifier: MIT
"""The parts list held against the board: does it name these parts, all of them, as they are drawn?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import Callable, Optional

from lineworthy.finding import Consequence, Finding, places_of
from lineworthy.intake.offers import part_key
from lineworthy.intake.parts_list import PartsLine, PartsList
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.fields import is_placeholder, main_part, reads_like_maker_part
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import reference_letters
from lineworthy.knowledge.packages_agree import same_package
from lineworthy.knowledge.values import same_value
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check

NONE = ("no parts list", "give it with --parts FILE, or as 'parts_list' in the project's settings")

ONE_BY_ONE = 5
"""More lines than this with the same trouble are one finding: then a habit is wrong, not a line."""

OTHER_BOARD = 0.5
"""Below this share of common places the list is said to be another board's."""

# what a list holds besides what is placed on the board
_BESIDE_BOARD = re.compile(
    r"(?:pcb|pwb|board|mech|mec|lbl|label|scr|screw|nut|hw|enc|case|kit|cbl|cable|w|stencil|mp|doc|asm|assy|fw|sw_?fw)\d*\Z",
    re.IGNORECASE,
)


@check("supply/parts-list-unreadable")
def parts_list_unreadable(parts: Optional[PartsList]) -> Answers:
    """Are there lines in the parts list that cannot be read?

    Why it matters: the buyer reads the list with a program, too. What it cannot read is not bought, and nobody notices
    until the kit is short.
    What to do: put one reference or range in each place of the list (R1-R4, R7), a number in the quantity, and say
    do-not-fit in a column of its own.
    Blind spots: a line read wrongly is not seen here; what was understood is in the supply run.
    Source: the file itself.
    """
    if parts is None:
        yield parts_list_unreadable.not_run(*NONE)
        return
    if not parts.unread:
        return
    shown = "; ".join(str(item) for item in parts.unread[:ONE_BY_ONE])
    more = f"; and {len(parts.unread) - ONE_BY_ONE} more" if len(parts.unread) > ONE_BY_ONE else ""
    yield parts_list_unreadable.finding(
        Consequence.QUERY,
        f"{counted(len(parts.unread), 'line')} of {_name(parts)} cannot be read: {shown}{more}",
        measured=float(len(parts.unread)),
        unit="",
        detail="; ".join(str(item) for item in parts.unread),
    )


@check("supply/quantity-disagrees")
def quantity_disagrees(board: Board, parts: Optional[PartsList]) -> Answers:
    """Does a line's quantity say as many pieces as it names places?

    Why it matters: either a place is missing from the line or a piece is bought too many; the factory asks which.
    What to do: correct the line; let the quantity be calculated from the references.
    Blind spots: lines without references or without a quantity.
    Source: the file itself.
    """
    if parts is None or parts.of_board:
        yield quantity_disagrees.not_run(*NONE)
        return
    found = [
        (line, f"line {line.line} says {line.quantity:g} and names {len(line.references)}: {listed(line.references)}")
        for line in parts.lines
        if line.miscounted
    ]
    yield from _each(quantity_disagrees, parts, board, found)


@check("supply/part-not-in-list")
def part_not_in_list(board: Board, marks: Marks, parts: Optional[PartsList]) -> Answers:
    """Is every part that is fitted on the board in the parts list?

    Why it matters: what is not on the list is not bought. The placement file still names it, so the line stops at the
    first board and asks.
    What to do: write the list from the board as it is now; mark parts that are not bought as such on the board.
    Blind spots: marks, probe lands, bare holes, jumpers of copper and logos are left out by what their footprints are.
    Source: the two files themselves.
    """
    if parts is None or parts.of_board:
        yield part_not_in_list.not_run(*NONE)
        return
    fitted = [part for part in bought(board, marks) if part.fitted and part.reference not in ("", "REF**")]
    missing = [part for part in fitted if part.reference not in parts.by_reference]
    if fitted and len(missing) > (1 - OTHER_BOARD) * len(fitted):
        yield part_not_in_list.finding(
            Consequence.QUERY,
            f"{_name(parts)} names {len(fitted) - len(missing)} of the board's {counted(len(fitted), 'fitted part')}",
            detail="another board",
        )
    elif missing:
        verb = "is" if len(missing) == 1 else "are"
        names = listed((part.reference for part in missing), 12)
        what = f"{names} {verb} fitted on the board and not in {_name(parts)}"
        yield _of_parts(part_not_in_list, Consequence.QUERY, what, missing)


@check("supply/reference-not-on-board")
def reference_not_on_board(board: Board, parts: Optional[PartsList]) -> Answers:
    """Does the parts list name places that the board does not have?

    Why it matters: a part is bought for a place that is not there: the list is of another revision, or a reference is
    misspelt and its own place goes without.
    What to do: write the list from the board as it is now.
    Blind spots: references for what is not on any board (PCB, labels, screws, cables) are left out by their letters.
    Source: the two files themselves.
    """
    if parts is None or parts.of_board:
        yield reference_not_on_board.not_run(*NONE)
        return
    there = {part.reference for part in board.parts}
    strange = [
        name
        for line in parts.lines
        for name in line.references
        if name not in there and line.fitted and name[-1:].isdigit() and not _BESIDE_BOARD.match(name)
    ]
    names = sorted(set(strange), key=natural)
    if names and 2 * len(names) <= len(parts.by_reference):
        verb = "is" if len(names) == 1 else "are"
        what = f"{listed(names, 12)} {verb} in {_name(parts)} and not on the board"
        yield reference_not_on_board.finding(Consequence.QUERY, what, detail=" ".join(names))


@check("supply/reference-repeated")
def reference_repeated(board: Board, parts: Optional[PartsList]) -> Answers:
    """Is a place named more than once in the parts list?

    Why it matters: two lines for one place are two parts for one place; whichever is read last is built, and both are
    bought.
    What to do: take the place out of the line that is wrong. Write an alternate beside its part, not as a second line.
    Blind spots: lines marked as not fitted are alternatives of a variant and are not counted.
    Source: the file itself.
    """
    if parts is None or parts.of_board:
        yield reference_repeated.not_run(*NONE)
        return
    twice = []
    for name in parts.repeated:
        lines = [line for line in parts.by_reference[name] if line.fitted]
        if len(lines) > 1 or any(line.references.count(name) > 1 for line in lines):
            twice.append((name, lines))
    if twice:
        places = {part.reference: part for part in board.parts}
        told = "; ".join(f"{name} in {_lines(lines)}" for name, lines in twice[:ONE_BY_ONE])
        more = f"; and {len(twice) - ONE_BY_ONE} more" if len(twice) > ONE_BY_ONE else ""
        what = f"{counted(len(twice), 'place')} named more than once in {_name(parts)}: {told}{more}"
        named = [places[name] for name, _ in twice if name in places]
        yield _of_parts(reference_repeated, Consequence.QUERY, what, named, " ".join(name for name, _ in twice))


@check("supply/value-disagrees")
def value_disagrees(board: Board, parts: Optional[PartsList]) -> Answers:
    """Is a part's value in the parts list the one on the board?

    Why it matters: the board shows what was meant, the list what is bought. The factory builds the list.
    What to do: correct whichever is old; write the list from the board.
    Blind spots: values are compared as quantities (4k7 is 4.7 kOhm); words are compared only where both read like a
    manufacturer's part. Ratings behind the quantity are not compared.
    Source: the two files themselves.
    """
    yield from _compared(value_disagrees, board, parts, _value_differs)


@check("supply/package-disagrees")
def package_disagrees(board: Board, parts: Optional[PartsList]) -> Answers:
    """Is a part's package in the parts list the one on the board?

    Why it matters: the part that is bought does not fit the lands it is placed on.
    What to do: correct whichever is old; write the list from the board.
    Blind spots: names of packages are compared where both tell one (0402, SOIC-8, SOT-23-5); others pass.
    Source: the two files themselves.
    """
    yield from _compared(package_disagrees, board, parts, _package_differs)


@check("supply/manufacturer-part-disagrees")
def manufacturer_part_disagrees(board: Board, parts: Optional[PartsList]) -> Answers:
    """Is a part's manufacturer part in the parts list the one on the board?

    Why it matters: what was tested and what is bought differ, and nobody knows which is meant.
    What to do: correct whichever is old; give an alternate in a field or column for alternates.
    Blind spots: endings that only say how a part is packed are not told from others: a number that begins with the
    other one passes.
    Source: the two files themselves.
    """
    yield from _compared(manufacturer_part_disagrees, board, parts, _number_differs)


@check("supply/fitted-disagrees")
def fitted_disagrees(board: Board, marks: Marks, parts: Optional[PartsList]) -> Answers:
    """Do parts list and board agree on what is not fitted?

    Why it matters: a part fitted by mistake makes another product; one left out by mistake makes none.
    What to do: set do-not-fit in the schematic, so that board, placement and list get it from one place.
    Blind spots: several variants of one board need a list each.
    Source: the two files themselves.
    """
    if parts is None or parts.of_board:
        yield fitted_disagrees.not_run(*NONE)
        return
    here = [part for part in bought(board, marks) if part.reference in parts.by_reference]
    here.sort(key=lambda part: (natural(part.reference), part.uid))
    for found, words in (
        (
            [part for part in here if part.fitted and part.reference in parts.not_fitted],
            "fitted on the board and not in",
        ),
        (
            [part for part in here if not part.fitted and part.reference in parts.fitted],
            "not fitted on the board but in",
        ),
    ):
        if found:
            verb = "is" if len(found) == 1 else "are"
            what = f"{listed((part.reference for part in found), 12)} {verb} {words} {_name(parts)}"
            yield _of_parts(fitted_disagrees, Consequence.QUERY, what, found, words)


Differs = Callable[[PartsLine, Part], str]


def _compared(of: Check, board: Board, parts: Optional[PartsList], differs: Differs) -> Answers:
    """One answer per line of the list whose parts on the board say otherwise."""
    if parts is None or parts.of_board:
        yield of.not_run(*NONE)
        return
    by_reference = {part.reference: part for part in board.parts}
    twice = set(parts.repeated)  # of two lines one is wrong, and that is said already
    found = []
    for line in parts.lines:
        said: dict[str, list[str]] = {}
        for name in line.references if line.fitted else ():
            if name in by_reference and name not in twice and (words := differs(line, by_reference[name])):
                said.setdefault(words, []).append(name)
        found += [(_only(line, names), f"{listed(names)}: {words}") for words, names in said.items()]
    yield from _each(of, parts, board, found)


def _only(line: PartsLine, names: Sequence[str]) -> PartsLine:
    return PartsLine(references=tuple(names), line=line.line)


def _each(of: Check, parts: PartsList, board: Board, found: Sequence[tuple[PartsLine, str]]) -> Iterator[Finding]:
    """A finding per line, or one for all of them."""
    by_reference = {part.reference: part for part in board.parts}
    if len(found) <= ONE_BY_ONE:
        for line, words in found:
            yield _of_parts(of, Consequence.QUERY, words, _parts(by_reference, line.references), words)
        return
    shown = "; ".join(words for _, words in found[:ONE_BY_ONE])
    what = f"{len(found)} lines of {_name(parts)}: {shown}; and {len(found) - ONE_BY_ONE} more"
    names = [name for line, _ in found for name in line.references]
    yield _of_parts(of, Consequence.QUERY, what, _parts(by_reference, names), "; ".join(words for _, words in found))


def _value_differs(line: PartsLine, part: Part) -> str:
    if is_placeholder(line.value) or is_placeholder(part.value):
        return ""
    same = same_value(part.value, line.value, reference_letters(part.reference))
    if same is None:
        key, other = part_key(part.value), part_key(line.value)
        told = reads_like_maker_part(part.value) and reads_like_maker_part(line.value)
        same = not told or key[:5] == other[:5] or other == part_key(line.maker_part)
    return "" if same else f"{part.value} on the board, {line.value} in the parts list"


def _package_differs(line: PartsLine, part: Part) -> str:
    same = same_package(line.package, part.package, reference_letters(part.reference))
    return f"{part.package} on the board, {line.package} in the parts list" if same is False else ""


def _number_differs(line: PartsLine, part: Part) -> str:
    number, listed_number = main_part(part.fields), line.maker_part
    if not number or not listed_number:
        return ""
    one, other = part_key(number), part_key(listed_number)
    if one == other or (min(len(one), len(other)) > 5 and (one.startswith(other) or other.startswith(one))):
        return ""
    return f"{number} on the board, {listed_number} in the parts list"


def _of_parts(of: Check, consequence: Consequence, message: str, parts: Sequence[Part], detail: str = "") -> Finding:
    ordered = sorted(parts, key=lambda part: (natural(part.reference), part.uid))
    return of.finding(consequence, message, items=ordered, places=places_of(ordered), detail=detail)


def _parts(by_reference: Mapping[str, Part], names: Iterable[str]) -> list[Part]:
    return [by_reference[name] for name in dict.fromkeys(names) if name in by_reference]


def _lines(lines: Sequence[PartsLine]) -> str:
    return " and ".join(f"line {line.line}" for line in lines) if len(lines) > 1 else f"line {lines[0].line} twice"


def _name(parts: PartsList) -> str:
    """The file without its folder: a finding is the same wherever the list lies."""
    return PurePath(parts.source.replace("\\", "/")).name or "the parts list"


CHECKS = (
    parts_list_unreadable,
    quantity_disagrees,
    part_not_in_list,
    reference_not_on_board,
    reference_repeated,
    value_disagrees,
    package_disagrees,
    manufacturer_part_disagrees,
    fitted_disagrees,
)
