# SPDX-License-Identifier: MIT
"""What the parts' own flags say of the parts list: is anything placed that nobody buys?"""

from __future__ import annotations

from typing import Optional

from lineworthy.finding import Consequence, places_of
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.buying import bought
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.wording import listed, natural
from lineworthy.model import Board
from lineworthy.registry import Answers, Check, check


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


CHECKS: tuple[Check, ...] = (placed_not_bought,)
