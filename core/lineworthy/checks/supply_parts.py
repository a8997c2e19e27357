# SPDX-License-Identifier: MIT
"""What the parts' numbers say, on the board or in the list: one number, one value, one package; and what else fits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Optional

from lineworthy.finding import Consequence, Finding, places_of
from lineworthy.intake.fitting import marked_not_fitted
from lineworthy.intake.offers import Offers, part_key
from lineworthy.intake.parts_list import PartsLine, PartsList
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.fields import (
    Meaning,
    is_placeholder,
    main_part,
    maker_part,
    meaning,
    order_code,
    reads_like_maker_part,
    value_is_maker_part,
)
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import reference_letters
from lineworthy.knowledge.packages_agree import chip_sizes, number_sizes, same_package
from lineworthy.knowledge.values import same_value
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.plans.alternates import judge, of_alternate, of_line
from lineworthy.plans.wanted import Wanted, consolidation
from lineworthy.registry import Answers, Check, check

_SIZED = ("R", "C", "L", "FB")
_LOOK_ALIKE = frozenset(map(frozenset, ("O0", "I1", "Z2", "S5", "B8")))
"""A digit and the letter that is taken for it; two letters or two digits make two numbers of a maker's series."""


@check("supply/value-missing")
def value_missing(board: Board, marks: Marks, parts: Optional[PartsList]) -> Answers:
    """Are there parts of which neither a value nor a part number says what to fit?

    Why it matters: the parts list has a line with nothing on it but a reference. Buyer and factory ask, or leave the
    place empty.
    What to do: give the part its value and its manufacturer part; mark what is left out on purpose as do-not-fit.
    Blind spots: values that say nothing, like TBD or ?, count as none; a parts list that names value or number is
    enough. For resistors, capacitors, inductors and ferrites a query; of others the package may say what they are: a
    note.
    Source: common practice, no source.
    """
    lines = parts.by_reference if parts is not None else {}
    blank = [
        part
        for part in bought(board, marks)
        if part.fitted and _says_nothing(part.value) and not maker_part(part) and not order_code(part)
        if all(_says_nothing(line.value) and not line.maker_part for line in lines.get(part.reference, ()))
    ]
    for kind, sized in ((Consequence.QUERY, True), (Consequence.NOTE, False)):
        some = [part for part in blank if (reference_letters(part.reference) in _SIZED) is sized]
        some.sort(key=lambda part: (natural(part.reference), part.uid))
        if some:
            names = listed((part.reference or "a part without reference" for part in some), 12)
            yield value_missing.finding(
                kind,
                f"{names} {'has' if len(some) == 1 else 'have'} neither a value nor a part number",
                items=some,
                places=places_of(some),
                detail=kind.value,
            )


def _says_nothing(value: str) -> bool:
    """Whether a value is none; 0 is one, that of a link, and DNP is told by a check of its own."""
    return is_placeholder(value) and "0" not in value and not marked_not_fitted(value)


@check("supply/part-number-other-size")
def part_number_other_size(board: Board, to_buy: Sequence[Wanted]) -> Answers:
    """Does a part number tell another chip size than the land pattern it goes on?

    Why it matters: the parts that arrive do not fit their lands: an 0603 on 0402 lands shorts or stands up. It shows
    when the first board is placed.
    What to do: order the number of the size that is drawn, or draw the size that was meant.
    Blind spots: only numbers that spell out their size (RC0402, C1608) or belong to a few large makers' series. Codes
    that are a size in inches and another one in mm pass when either fits.
    Source: from memory: makers' part-numbering guides.
    """
    for item in to_buy:
        sizes = number_sizes(item.line.maker_part)
        drawn = chip_sizes(item.package, item.letters)
        if item.letters in _SIZED and sizes and drawn and drawn[0] not in sizes:
            what = f"{item.line.maker_part} is {sizes[0]} by its number, the land pattern is {drawn[0]}"
            yield _finding(part_number_other_size, Consequence.QUERY, board, item.line.references, what)


@check("supply/part-with-two-values")
def part_with_two_values(board: Board, bill: PartsList) -> Answers:
    """Does one manufacturer part stand for two values?

    Why it matters: one of the two values is wrong, or its number is: the factory fits the same part in both places.
    What to do: give each value its own part.
    Blind spots: only values that are quantities; two connectors named by what they are for are one part with two names.
    Source: the document itself.
    """
    for number, places in _by_number(board, bill).items():
        values: list[tuple[str, list[str]]] = []
        for value, part in sorted(places, key=lambda pair: natural(pair[1].reference)):
            letters = reference_letters(part.reference)
            home = next((names for known, names in values if same_value(known, value, letters) is not False), None)
            if home is None:
                values.append((value, [part.reference]))
            else:
                home.append(part.reference)
        if len(values) > 1:
            told = ", ".join(f"{value} ({listed(names, 4)})" for value, names in values)
            names = [name for _, group in values for name in group]
            what = f"{number} stands for {counted(len(values), 'value')}: {told}"
            yield _finding(part_with_two_values, Consequence.QUERY, board, names, what, detail=number)


@check("supply/value-names-another-part")
def value_names_another_part(board: Board, marks: Marks) -> Answers:
    """Does a part's value name one manufacturer's part, and its field for the number another?

    Why it matters: fields are copied with a part and then only the value is changed. The number is what is bought.
    What to do: correct the field, or the value.
    Blind spots: only where the value reads like a manufacturer's part. Numbers that begin alike pass, and so does one
    that holds the other. Some makers order by numbers that have nothing of the type: it is a note, unless another part
    on the board has that number and a value that goes with it.
    Source: the document itself.
    """
    numbered = [(part, main_part(part.fields)) for part in bought(board, marks) if part.fitted]
    numbered = [(part, number) for part, number in numbered if number and value_is_maker_part(part)]
    rightly = {part_key(number) for part, number in numbered if _alike(part.value, number)}
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for part, number in numbered:
        if reads_like_maker_part(number) and not _alike(part.value, number):
            found[part.value.strip(), number].append(part.reference)
    for (value, number), names in sorted(found.items(), key=lambda item: natural(min(item[1], key=natural))):
        copied = part_key(number) in rightly
        what = f"{listed(names)}: the value is {value}, the manufacturer part {number}"
        what += ", which another part of the board is" if copied else ""
        grave = Consequence.QUERY if copied else Consequence.NOTE
        yield _finding(value_names_another_part, grave, board, names, what, detail=f"{value} {number}")


def _alike(value: str, number: str) -> bool:
    """Whether two numbers begin alike for half of the shorter one, or one holds the other."""
    one, other = part_key(value), part_key(number)
    common = next((n for n, (a, b) in enumerate(zip(one, other)) if a != b), min(len(one), len(other)))
    return one in other or other in one or 2 * common >= min(len(one), len(other))


@check("supply/part-in-two-packages")
def part_in_two_packages(board: Board, bill: PartsList) -> Answers:
    """Does one manufacturer part, or one line of the parts list, go on land patterns of different packages?

    Why it matters: a part has one package. In one of the places it does not fit.
    What to do: give each package its own part and line, or correct the land pattern.
    Blind spots: land patterns are compared by name where their names tell a package (0402, SOIC-8).
    Source: the document itself.
    """
    by_reference = {part.reference: part for part in board.parts}
    groups: dict[str, list[Part]] = {
        number: [part for _, part in places] for number, places in _by_number(board, bill).items()
    }
    for line in () if bill.of_board else bill.lines:
        if line.fitted and not line.maker_part:
            here = [by_reference[name] for name in line.references if name in by_reference]
            groups[f"line {line.line} of the parts list"] = here
    for name, group in groups.items():
        packages: dict[str, list[str]] = {}
        for part in sorted(group, key=lambda part: natural(part.reference)):
            letters = reference_letters(part.reference)
            home = next((known for known in packages if same_package(known, part.package, letters) is not False), None)
            packages.setdefault(part.package if home is None else home, []).append(part.reference)
        if len(packages) > 1:
            told = ", ".join(f"{package} ({listed(names, 4)})" for package, names in packages.items())
            places = [part.reference for part in group]
            what = f"{name} goes on {counted(len(packages), 'package')}: {told}"
            yield _finding(part_in_two_packages, Consequence.QUERY, board, places, what, detail=name)


@check("supply/alternate-differs")
def alternate_differs(board: Board, to_buy: Sequence[Wanted], offers: Optional[Offers]) -> Answers:
    """Does a part named as an alternate differ from its part in package, height or rating?

    Why it matters: the buyer takes an alternate at its word. One in another package does not fit; one rated lower fits
    and fails later.
    What to do: take it out, or name one that fits; state package, height and ratings of alternates.
    Blind spots: compared is only what is stated of both, in fields, list or offers. Pinout, temperature range,
    moisture sensitivity, finish and qualification are for a person to compare.
    Source: common practice, no source: same land pattern, no taller, rated at least as high, no wider tolerance.
    """
    for item in to_buy:
        own = of_line(item.line, item.package, offers)
        for other in item.line.alternates:
            verdict = judge(own, of_alternate(other, offers), item.letters, offered=False)
            if verdict.differs:
                what = f"{other.maker_part}, alternate of {item.line.maker_part or item.line.value}: {verdict.in_words}"
                yield _finding(alternate_differs, Consequence.QUERY, board, item.line.references, what, detail=what)


@check("supply/same-value-two-parts")
def same_value_two_parts(board: Board, to_buy: Sequence[Wanted]) -> Answers:
    """Are different parts bought for the same value in the same package?

    Why it matters: each needs a reel, a feeder and a line in the order, and takes a place of its own on the machine;
    together they might reach a price break.
    What to do: take one of them for all places, unless what tells them apart matters; then say it in the value.
    Correct a number that is mistyped.
    Blind spots: a difference that is stated nowhere but in the numbers (dielectric, tolerance) is not seen. It is a
    query where two numbers are the same but for characters that look alike (O and 0) or two digits that have changed
    places; any other character may tell a tolerance, a voltage or a reel.
    Source: common practice, no source.
    """
    found = [(group, _slip(group.lines)) for group in consolidation(to_buy)]
    for group, slip in found:
        if not slip:
            continue
        names = [name for line in group.lines for name in line.references]
        what = f"{group.in_words}: the numbers differ by {slip}; a typing error?"
        yield _finding(same_value_two_parts, Consequence.QUERY, board, names, what, detail=group.in_words)
    groups = [group for group, slip in found if not slip]
    if groups:
        told = "; ".join(group.in_words for group in groups[:5])
        more = f"; and {len(groups) - 5} more" if len(groups) > 5 else ""
        names = [name for group in groups for line in group.lines for name in line.references]
        what = f"{counted(len(groups), 'value')} bought as different parts: {told}{more}"
        yield _finding(same_value_two_parts, Consequence.NOTE, board, names, what, detail=told)


def _slip(lines: Iterable[PartsLine]) -> str:
    """The slip of the pen that makes one part number of another, empty when there is none."""
    for one, other in combinations([part_key(line.maker_part).upper() for line in lines], 2):
        apart = [n for n, (a, b) in enumerate(zip(one, other)) if a != b] if len(one) == len(other) else []
        if not apart or len(apart) != apart[-1] - apart[0] + 1:
            continue
        mine, theirs = (number[apart[0] : apart[-1] + 1] for number in (one, other))
        if frozenset((mine, theirs)) in _LOOK_ALIKE or (len(apart) == 2 and mine.isdigit() and mine == theirs[::-1]):
            return f"{mine!r} for {theirs!r}"
    return ""


@check("supply/substitution-unstated")
def substitution_unstated(board: Board, bill: PartsList, to_buy: Sequence[Wanted]) -> Answers:
    """Does the parts list say what may be bought instead?

    Why it matters: when a part is short the buyer needs an answer within the day. Without one, he asks, or decides.
    What to do: add a column that says for each line: any equivalent, approved alternates only, or none.
    Blind spots: an agreement with the factory outside the list is not seen.
    Source: common practice, no source.
    """
    if bill.of_board:
        how = "give it with --parts FILE, or as 'parts_list' in the project's settings"
        yield substitution_unstated.not_run("no parts list", how)
        return
    lines = [item.line for item in to_buy]
    silent = [line for line in lines if not line.policy and not line.alternates]
    on_board = any(meaning(name) is Meaning.POLICY for part in board.parts for name in part.fields)
    if silent and len(silent) == len(lines) and not on_board:
        what = "no line of the parts list says what may be bought instead"
        yield substitution_unstated.finding(Consequence.NOTE, what)
    elif silent and any(line.policy for line in lines):
        names = listed((line.references[0] for line in silent if line.references), 8)
        what = f"{len(silent)} of {counted(len(lines), 'part')} without a word on substitution: {names}"
        places = [name for line in silent for name in line.references]
        yield _finding(substitution_unstated, Consequence.NOTE, board, places, what, detail="some")


def _by_number(board: Board, bill: PartsList) -> dict[str, list[tuple[str, Part]]]:
    """Fitted parts with their values, by manufacturer part as first written, in natural order of the numbers."""
    by_reference = {part.reference: part for part in board.parts}
    found: dict[str, list[tuple[str, Part]]] = defaultdict(list)
    shown: dict[str, str] = {}
    for line in bill.lines:
        for name in line.references if line.fitted else ():
            part = by_reference.get(name)
            number = (line.maker_part or main_part(part.fields)) if part else ""
            if part and number:
                shown.setdefault(part_key(number), number)
                found[part_key(number)].append((line.value or part.value, part))
    return {shown[key]: found[key] for key in sorted(found, key=natural)}


def _finding(
    of: Check, consequence: Consequence, board: Board, names: Iterable[str], message: str, *, detail: str = ""
) -> Finding:
    wanted_names = set(names)
    parts: Sequence[Part] = sorted(
        (part for part in board.parts if part.reference in wanted_names),
        key=lambda part: (natural(part.reference), part.uid),
    )
    return of.finding(consequence, message, items=parts, places=places_of(parts), detail=detail)


CHECKS = (
    value_missing,
    part_number_other_size,
    part_with_two_values,
    value_names_another_part,
    part_in_two_packages,
    alternate_differs,
    same_value_two_parts,
    substitution_unstated,
)
