# SPDX-License-Identifier: MIT
"""Which parts of a board are bought, and which are etched, drilled or printed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lineworthy.knowledge.marks import Marks
from lineworthy.model import Board, Mount, PadKind, Part

_NOT_BOUGHT = re.compile(
    r"solder-?jumper|net-?tie|test-?point_(?:pad|tht)|fiducial|(?:mounting|alignment|tooling|guide)[-_ ]?hole|.*logo"
    r"|.*mouse[-_ ]?bite|.*break[-_ ]?(?:away|line|tab)",
    re.IGNORECASE,
)


def bought(board: Board, marks: Marks, *, excluded: bool = False) -> Iterator[Part]:
    """The parts that somebody has to buy, fitted or not, in the order of the board.

    With `excluded` those that look no different, but are left out of the parts list.
    """
    # a part with fixing holes may be a connector; one with nothing but holes for a single pin is the hole itself
    holes = {
        hole.part.uid
        for hole in marks.holes
        if hole.part is not None and len({pad.number for pad in hole.part.pads} - {""}) <= 1
    }
    for part in board.parts:
        is_asked = part.in_parts_list is not excluded and not part.board_only and part.pads
        if is_asked and part.uid not in holes and not _is_bare_copper(part, marks):
            yield part


def _is_bare_copper(part: Part, marks: Marks) -> bool:
    """Marks, probe lands, jumpers, fingers and logos are etched, not bought."""
    if _NOT_BOUGHT.match(part.package):
        return True
    if part.reference in ("", "REF**") and all(pad.kind is PadKind.UNPLATED for pad in part.pads):
        return True  # bare holes that nobody gave a reference
    if not any(pad.paste or pad.hole for pad in part.pads) and not (part.mount is Mount.SURFACE and part.in_placement):
        return True
    return all(marks.is_fiducial(pad) or (marks.is_test_point(pad) and pad.hole is None) for pad in part.pads)
