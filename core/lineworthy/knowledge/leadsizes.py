# SPDX-License-Identifier: MIT
"""How thick the leads of a through-hole part are, where a field or its name says so.

A lead's size is what it takes of a hole: its diameter, or the diagonal of a square or flat one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from typing import Optional

from lineworthy.model import Part


@dataclass(frozen=True)
class LeadSize:
    """Size of a lead.

    Attributes:
        least, most: mm, the diameter or the diagonal of the section, at its limits.
        round: a round wire; others leave room for solder beside their flats.
        said: where it is known from.
    """

    least: float
    most: float
    round: bool
    said: str


_FIELD = re.compile(r"^(?:lead|pin|wire)[ _-]?(?:diameter|dia|size|section)(?:[ _-]*\(?mm\)?)?$", re.IGNORECASE)
_VALUE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(?:x\s*(\d+(?:[.,]\d+)?))?\s*(?:mm)?\s*\Z", re.IGNORECASE)

# IPC-7251 naming convention, as listed in a public table of its syntax: W is the width of the lead in 0.01 mm, its
# largest; those of axial, radial and LED parts are wires
_CODED = re.compile(r"^(?:CAPP?RD|RESAD|CAPAD|DIOAD|INDAD|FUSAD|LEDRD)V?\d+W(\d{2,3})(?=[DLH]\d)")
_CODED_SQUARE = re.compile(r"^HDR[VR]\d+W(\d{2,3})P\d")

_SQUARE = {"2.54": 0.64, "2.00": 0.50, "1.27": 0.40}
"""Side of the pins of straight and bent headers by their pitch, mm (common practice: data sheets of many makers)."""
_HEADER = re.compile(r"^(?:PinHeader|IDC-Header)_\d+x\d+.*_P(\d\.\d\d)mm_(?:Vertical|Horizontal)$")

_WIRES: tuple[tuple[re.Pattern[str], tuple[float, float], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), limits, said)
    for pattern, limits, said in (
        (r"^R_Axial_DIN0204", (0.45, 0.50), "wire of a DIN 0204 resistor (from memory: data sheets)"),
        (r"^R_Axial_DIN0207", (0.55, 0.60), "wire of a DIN 0207 resistor (from memory: data sheets)"),
        (r"^D_DO-35", (0.46, 0.56), "wire of a DO-35 (from memory: JEDEC outline)"),
        (r"^D_DO-41", (0.71, 0.86), "wire of a DO-41 (from memory: JEDEC outline)"),
    )
)

_FLAT: tuple[tuple[re.Pattern[str], tuple[float, float], str], ...] = (
    (re.compile(r"^DIP-\d+_W\d+\.\d+mm(?!.*Socket)"), (0.46, 0.59), "flat leads of a DIP (from memory: data sheets)"),
    (re.compile(r"^LED_D[35]\.0mm"), (0.50, 0.71), "square leads of an LED (from memory: data sheets)"),
    (re.compile(r"^TO-92(?!-|S|Mini)"), (0.50, 0.60), "flat leads of a TO-92 (from memory: data sheets)"),
    (re.compile(r"^TO-220F?-[23]_"), (0.73, 0.89), "flat leads of a TO-220 (from memory: data sheets)"),
    (re.compile(r"^TO-247-[23]_"), (1.20, 1.34), "flat leads of a TO-247 (from memory: data sheets)"),
)
"""Across the corners of the section, least and most, mm: 0.38 to 0.53 by 0.25 for a DIP, 0.5 by 0.5 for an LED, whose
least is its side, 0.45 by 0.4 for a TO-92, 0.64 by 0.36 to 0.8 by 0.4 for a TO-220, up to 1.2 by 0.6 for a TO-247.
The outlines allow more than most makers use: what is too tight here is too tight for all."""

_CAN = re.compile(r"^CP_Radial_D(\d+\.\d)mm_P\d+\.\d+mm(?!.*SnapIn)")
_CAN_WIRES = ((5.0, 6.3, 0.5), (8.0, 13.0, 0.6), (16.0, 18.0, 0.8))
"""Diameters of electrolytic cans, from and to, and their wires, mm (from memory: data sheets of several makers)."""


def lead_of(part: Part) -> Optional[LeadSize]:
    """The size of a part's leads, None where nothing says it."""
    for name, text in part.fields.items():
        value = _VALUE.match(text) if _FIELD.match(name.strip()) else None
        if value:
            sides = [float(number.replace(",", ".")) for number in value.groups() if number]
            if min(sides) >= 0.1 and max(sides) <= 5.0:
                return _section(sides, f"its field {name.strip()}")
    return _by_name(part.package.strip()[:200])


@lru_cache(maxsize=1024)
def _by_name(package: str) -> Optional[LeadSize]:
    upper = package.upper()
    for rule, square in ((_CODED, False), (_CODED_SQUARE, True)):
        code = rule.match(upper)
        if code:
            side = int(code[1]) / 100
            return _section([side, side] if square else [side], f"the code in its name {package}")
    header = _HEADER.match(package)
    if header and header[1] in _SQUARE:
        side = _SQUARE[header[1]]
        return _section([side, side], f"square pins of {side:.2f} mm, usual at a pitch of {header[1]} mm")
    for pattern, (least, most), said in _WIRES:
        if pattern.match(package):
            return LeadSize(least, most, True, said)
    for pattern, (least, most), said in _FLAT:
        if pattern.match(package):
            return LeadSize(least, most, False, said)
    can = _CAN.match(package)
    for narrowest, widest, wire in _CAN_WIRES:
        if can and narrowest <= float(can[1]) <= widest:
            return LeadSize(wire, wire, True, f"wire of a can of {can[1]} mm (from memory: data sheets)")
    return None


def _section(sides: list[float], said: str) -> LeadSize:
    if len(sides) == 1:
        return LeadSize(sides[0], sides[0], True, said)
    return LeadSize(min(sides), hypot(*sides), False, said)


def hole_for(lead: float, room: float) -> float:
    """The least hole for a lead of some size, mm: `room` is 0.25, 0.20 or 0.15 mm by the level of producibility."""
    return lead + room


def land_for(hole: float, allowance: float) -> float:
    """The land for a hole, mm: two rings of 0.05 mm and an allowance of 0.60, 0.50 or 0.40 mm by the level."""
    return hole + 0.10 + allowance
