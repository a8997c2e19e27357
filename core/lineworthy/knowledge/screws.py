# SPDX-License-Identifier: MIT
"""Which screw goes through a hole, and how much room its head and its washer take."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Optional

from lineworthy.geometry import falls_short
from lineworthy.knowledge.holes import FixingHole, HoleUse
from lineworthy.knowledge.looks import Basis


@dataclass(frozen=True)
class Screw:
    """A metric screw.

    Attributes:
        thread: nominal diameter, mm.
        head: diameter of the smallest usual head, mm: socket ISO 4762 and low socket ISO 14580 (the latter as drawn in
            the editor's library, M1.6, M3.5 and M8 from memory).
        pan: diameter of a pan head, mm (from memory: ISO 7045, largest values).
        washer: outer diameter of a plain washer, mm (from memory: ISO 7089).
    """

    thread: float
    head: float
    pan: float
    washer: float

    @property
    def size(self) -> str:
        """``M2.5``."""
        return f"M{self.thread:g}"


SCREWS = (
    Screw(1.6, 3.0, 3.2, 4.0),
    Screw(2.0, 3.8, 4.0, 5.0),
    Screw(2.5, 4.5, 5.0, 6.0),
    Screw(3.0, 5.5, 5.6, 7.0),
    Screw(3.5, 6.0, 7.0, 8.0),
    Screw(4.0, 7.0, 8.0, 9.0),
    Screw(5.0, 8.5, 9.5, 10.0),
    Screw(6.0, 10.0, 12.0, 12.0),
    Screw(8.0, 13.0, 16.0, 16.0),
)

PLAY_MIN_MM = 0.1
"""Holes are often drilled closer than the standard's series fine (0.2 mm); with less than this a screw jams."""

HOLE_MAX_MM, LOOKS_MAX_MM = 10.0, 5.8
"""ISO 273, series coarse, for M8: wider holes are for something else; M5 where nobody says that it is for a screw."""

_NAMED = re.compile(r"(?<![A-Z\d])M(\d(?:\.\d)?)(?![\d.])", re.I)
_NO_WASHER = re.compile(r"DIN[-_ ]?965|ISO[-_ ]?(7046|10642|14580|7380|2009)|countersunk", re.I)


def screw_for(hole: FixingHole) -> Optional[Screw]:
    """The screw a hole is for: the one its name says where that goes through, else the largest that does."""
    most = LOOKS_MAX_MM if hole.basis is Basis.LOOKS else HOLE_MAX_MM
    if hole.use is not HoleUse.MOUNTING or hole.diameter > most:
        return None
    name = _NAMED.search(hole.part.package) if hole.part is not None else None
    named = [screw for screw in SCREWS if name is not None and screw.size == f"M{name[1]}"]
    if named and not falls_short(hole.diameter, named[0].thread):
        return named[0]
    through = [screw for screw in SCREWS if not falls_short(hole.diameter, screw.thread + PLAY_MIN_MM)]
    return through[-1] if through else None


def takes_washer(hole: FixingHole) -> bool:
    """False where the name of the hole says which head goes there, one that sits without a washer."""
    return hole.part is None or _NO_WASHER.search(hole.part.package) is None
