# SPDX-License-Identifier: MIT
"""What the parts' own flags say: is anything placed that nobody buys, or fitted that its value says is left out?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Optional

from lineworthy.finding import Consequence, places_of
from lineworthy.intake.fitting import marked_not_fitted, says_not_fitted, says_only_not_fitted
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.wording import listed, natural
from lineworthy.model import Board, Mount, Part
from lineworthy.registry import Answers, Check, check

_LEFT_OUT = re.compile(
    r"(?:dn[pfis]|do[ _-]?not[ _-]?(?:fit|populate|place|mount|install|stuff)|not[ _-]?(?:fitted|populated|mounted))\Z",
    re.IGNORECASE,
)
"""Names of fields that say whether a part is left out."""

_REMARK = re.compile(r"(?:description|comments?|remarks?|notes?)\Z", re.IGNORECASE)
"""Names of fields that say anything; a field of a variant says what holds for that variant alone."""


@check("supply/placed-not-bought")
def placed_not_bought(board: Board, marks: Marks, packages: Packages, parts: Optional[PartsList]) -> Answers:
    """Is a part to be placed that is excluded from the parts list?

    Why it matters: the placement file asks for a part that nobody buys. The line stops at the first board and asks, or
    sends the boards on without it.
    What to do: put the part back into the parts list, or take it out of the placement file as well; mark what is left
    out on purpose as do-not-fit.
    Blind spots: a query for parts that take paste, a note for parts with leads, which are often bought and fitted by
    somebody else. Marks, probe lands, holes, jumpers, net ties, antennas and logos are not bought anyhow. A part that
    a given parts list names is bought all the same. A part excluded from both files is taken as left out on purpose.
    Source: common practice, no source.
    """
    named = parts.by_reference if parts is not None and not parts.of_board else {}
    left = [
        part
        for part in bought(board, marks, excluded=True)
        if part.fitted and part.in_placement and part.reference not in named
        if packages.of(part).family not in (Family.MECHANICAL, Family.ANTENNA)
    ]
    left.sort(key=lambda part: (natural(part.reference), part.uid))
    pasted = [part for part in left if any(pad.paste for pad in part.pads)]
    leaded = [part for part in left if part not in pasted]
    for kind, found in ((Consequence.QUERY, pasted), (Consequence.NOTE, leaded)):
        if found:
            names = listed((part.reference or "a part without reference" for part in found), 12)
            yield placed_not_bought.finding(
                kind,
                f"{names} {'is' if len(found) == 1 else 'are'} to be placed and excluded from the parts list",
                items=found,
                places=places_of(found),
                detail=kind.value,
            )


@check("supply/do-not-fit-unset")
def do_not_fit_unset(board: Board, marks: Marks) -> Answers:
    """Does a value or a field say that a part is not to be fitted, and its flags do not?

    Why it matters: placement file and parts list follow the flags. The machine is programmed to place a part whose
    value reads DNP; the factory asks, or fits what should be left out.
    What to do: tick do-not-populate in the schematic, so that placement, list and assembly drawing get it from there;
    or correct the value.
    Blind spots: the words are read in several languages; short marks such as NC, which also mean other things, are not.
    Of fields, those named DNP and the like; a description or remark counts where it says nothing else. A part that both
    files leave out is a note: nobody buys or places it, but drawings and reviews take it for fitted. Parts excluded
    from the parts list alone are left out.
    Source: common practice, no source.
    """
    for consequence, asked in ((Consequence.QUERY, bought(board, marks)), (Consequence.NOTE, _in_no_file(board))):
        found = [(part, mark) for part in asked if part.fitted and (mark := _says_left_out(part))]
        if not found:
            continue
        found.sort(key=lambda one: (natural(one[0].reference), one[0].uid))
        parts = [part for part, _ in found]
        verb = "is" if len(parts) == 1 else "are"
        files = ", excluded from parts list and placement file," if consequence is Consequence.NOTE else ""
        yield do_not_fit_unset.finding(
            consequence,
            f"{listed((part.reference or 'a part without reference' for part in parts), 12)}{files} {verb} to be fitted"
            f" by the flags, and not by {listed(mark for _, mark in found)}",
            items=parts,
            places=places_of(parts),
        )


def _in_no_file(board: Board) -> Iterator[Part]:
    """Parts that are soldered, and that neither parts list nor placement file names."""
    for part in board.parts:
        is_part = part.mount is not Mount.OTHER and part.pads and not part.board_only
        if is_part and not part.in_parts_list and not part.in_placement:
            yield part


def _says_left_out(part: Part) -> str:
    """Where a part is said to be left out, empty for nowhere."""
    if marked_not_fitted(part.value):
        return f"the value {quoted(part.value)}"
    fields = (
        name
        for name, text in part.fields.items()
        if (_LEFT_OUT.match(name.strip()) and says_not_fitted(text))
        or (_REMARK.match(name.strip()) and says_only_not_fitted(text))
    )
    return next((f"the field {quoted(name)}" for name in fields), "")


CHECKS: tuple[Check, ...] = (placed_not_bought, do_not_fit_unset)
