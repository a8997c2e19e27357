# SPDX-License-Identifier: MIT
"""How marks are listed in messages: named ones in natural order, unnamed ones counted."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Union

from lineworthy.knowledge.marks import Fiducial
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Graphic, Pad, Part

UNNAMED = "unnamed mark"


def ordered(marks: Iterable[Fiducial]) -> list[Fiducial]:
    """Named ones in natural order, then the others as they come."""
    return sorted(marks, key=lambda mark: (mark.label == UNNAMED, natural(mark.label), mark.label))


def names(marks: Iterable[Fiducial]) -> str:
    """``FID1, FID2 and 2 unnamed marks``."""
    labels = [mark.label for mark in marks]
    named = [label for label in labels if label != UNNAMED]
    unnamed = len(labels) - len(named)
    said = [listed(named)] if named else []
    return " and ".join([*said, *([counted(unnamed, UNNAMED)] if unnamed else [])])


def items(marks: Iterable[Fiducial]) -> list[Union[tuple[Part, Pad], Graphic]]:
    """What marks are made of, to point at: pads with their parts, or drawings."""
    found: list[Union[tuple[Part, Pad], Graphic]] = []
    for mark in ordered(marks):
        found += [(mark.part, pad) for pad in mark.pads if mark.part] or list(mark.graphics)
    return found
