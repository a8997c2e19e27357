# SPDX-License-Identifier: MIT
"""Does the parts list say that it is for this board, and for this revision of it?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import PurePath
from typing import NamedTuple, Optional

from lineworthy.finding import Consequence
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.agreement import numbers_in, other_number, revision_in_file_name, same_revision
from lineworthy.knowledge.naming import plain, quoted
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.revisions import read_revisions
from lineworthy.registry import Answers, Check, check

NONE = ("no parts list", "give it with --parts FILE, or as 'parts_list' in the project's settings")


_CODE = re.compile(r"(?<![^\W_])[A-Z]{2,5}-?\d{3,}(?![^\W_])")


class _Heading(NamedTuple):
    """A text over the list, or its file's name; `where` in words."""

    text: str
    where: str


@check("identity/list-of-another-revision")
def list_of_another_revision(parts: Optional[PartsList], printed: Printed) -> Answers:
    """Does the parts list give another part number or revision than the board?

    Why it matters: the kit is bought by the list. With the list of the revision before, parts that were replaced are
        bought again, and the line stops for those that are new.
    What to do: export the list from the schematic of this board, and have its heading follow the title block.
    Blind spots: read are the lines above the list's header and the revision at the end of its file's name. A list may
        have a revision of its own; where the board is not named beside it, the difference is only a note. Numbers are
        compared only when they are of the same make.
    Source: common practice, no source: number and revision agree on marking, title block, files.
    """
    if parts is None:
        yield list_of_another_revision.not_run(*NONE)
        return
    told = [*printed.names, *(item.marking.text for item in printed.identity if item.names)]
    pair = other_number(_numbers(heading.text for heading in _headings(parts)), _numbers(map(plain, told)))
    if pair is not None:
        yield list_of_another_revision.finding(
            Consequence.QUERY,
            f"The parts list is for {quoted(pair[0])}, the board is {quoted(pair[1])}",
            detail=" ".join(pair),
        )
    design = printed.stated_revision or next((r.value for i in printed.identity for r in i.revisions), "")
    for heading, value in _revisions(parts, printed):
        if design and not same_revision(value, design):
            named = any(printed.names_the_board(other.text) for other in _headings(parts))
            yield list_of_another_revision.finding(
                Consequence.QUERY if named else Consequence.NOTE,
                f"The parts list gives the revision {quoted(value)} {heading.where}, the board {quoted(design)}",
                detail=f"{value} {design}",
            )
            return


def _numbers(texts: Iterable[str]) -> tuple[str, ...]:
    """Numbers of boards, and words like FR-2040, which in a heading stand for the product."""
    lines = list(texts)
    codes = (code for line in lines for code in _CODE.findall(plain(line)))
    return tuple(dict.fromkeys([*numbers_in(lines), *codes]))


def _headings(parts: PartsList) -> list[_Heading]:
    over = [_Heading(text, f"in its heading {quoted(text)}") for text in parts.heading]
    return [*over, _Heading(PurePath(parts.source).stem, "in its file's name")]


def _revisions(parts: PartsList, printed: Printed) -> Iterator[tuple[_Heading, str]]:
    *over, file = _headings(parts)
    for heading in over:
        yield from ((heading, found.value) for found in read_revisions(heading.text, printed.context) if found.sure)
    value = revision_in_file_name(file.text)
    if value:
        yield file, value


CHECKS: tuple[Check, ...] = (list_of_another_revision,)
