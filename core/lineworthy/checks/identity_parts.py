# SPDX-License-Identifier: MIT
"""The references of parts as the factory's files use them: each part has one, and no two have the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from lineworthy.finding import Consequence, places_of
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.placed import is_array
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check

SHOWN = 4
"""References told with what they stand for; all of them are among the places."""


@check("identity/reference-doubled")
def reference_doubled(board: Board, marks: Marks) -> Answers:
    """Do two parts that are fitted carry the same reference?

    Why it matters: parts list and placement file tell parts apart by reference and nothing else. One line is bought for
    both, or one overwrites the other when the files are read; the machine gets a place without a part.
    What to do: give each part a reference of its own, in the schematic, and bring it to the board from there.
    Blind spots: holes, marks, logos, probe lands and other things that are not bought may share one. A document in
    which most parts come more than once is an array of boards and is passed over. Parts that are not fitted do not
    count: land patterns for one or the other part often share a reference.
    Source: common practice, no source: reference designators are unique within an assembly.
    """
    if is_array(board):
        return
    by_name: dict[str, list[Part]] = defaultdict(list)
    for part in bought(board, marks):
        if part.fitted and not _is_unassigned(part):
            by_name[part.reference.strip().upper()].append(part)
    doubled = [parts for _, parts in sorted(by_name.items(), key=lambda item: natural(item[0])) if len(parts) > 1]
    if doubled:
        told = "; ".join(f"{parts[0].reference} stands for {_kinds(parts)}" for parts in doubled[:SHOWN])
        more = f"; and {counted(len(doubled) - SHOWN, 'more reference')}" if len(doubled) > SHOWN else ""
        items = sorted((part for parts in doubled for part in parts), key=lambda p: (natural(p.reference), p.uid))
        yield reference_doubled.finding(
            Consequence.QUERY,
            f"{counted(len(doubled), 'reference')} on more than one fitted part: {told}{more}",
            items=items,
            places=places_of(items),
        )


def _kinds(parts: Sequence[Part]) -> str:
    """What the parts of one reference are: ``2 parts, 10k and 22k``."""
    kinds = sorted({part.value or part.package for part in parts} - {""}, key=natural)
    if len(kinds) < 2:
        kinds = sorted({part.package for part in parts} - {""}, key=natural)
    told = " and ".join(quoted(kind) for kind in kinds[:2]) if len(kinds) > 1 else ""
    return f"{counted(len(parts), 'part')}{', ' if told else ''}{told}"


@check("identity/reference-unassigned")
def reference_unassigned(board: Board, marks: Marks) -> Answers:
    """Are there parts to be fitted that have no reference, or one without its number?

    Why it matters: nothing in the parts list can be matched to a part called U? or REF**, and no line of the placement
    file either. It is not bought, or not placed.
    What to do: number the parts in the schematic and bring the references to the board; take parts out of the parts
    list that nobody buys.
    Blind spots: told by an empty reference, a question mark or an asterisk. Holes, marks, logos and probe lands need no
    reference.
    Source: common practice, no source.
    """
    parts = [part for part in bought(board, marks) if part.fitted and _is_unassigned(part)]
    if parts:
        parts.sort(key=lambda part: (natural(part.package), part.uid))
        names = listed(quoted(part.reference) if part.reference.strip() else "none" for part in parts)
        kinds = listed(part.package or part.value for part in parts)
        yield reference_unassigned.finding(
            Consequence.QUERY,
            f"{counted(len(parts), 'part')} to be fitted without a numbered reference ({names}): {kinds}",
            items=parts,
            places=places_of(parts),
        )


def _is_unassigned(part: Part) -> bool:
    name = part.reference.strip()
    return not name or name.endswith("?") or "*" in name


CHECKS: tuple[Check, ...] = (reference_doubled, reference_unassigned)
