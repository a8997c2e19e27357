# SPDX-License-Identifier: MIT
"""How heavy a part is, and whether melted solder holds it when the board goes through the oven a second time."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Optional

from lineworthy.geometry import width_and_length
from lineworthy.knowledge.packages import Family, PackageFacts
from lineworthy.model import Part

INCH2_MM2 = 645.16

HOLD_MG_PER_MM = 4.0
"""What a joint carries by its circumference: a machine maker's advice, half of the 9 to 13 mg it measured."""

UNKNOWN_HEIGHT_SHARE, FLAT_MM = 0.5, 3.0
"""A part of unknown height is taken to be as high as this share of its shorter side; flat packages not above 3 mm."""

_HIGH = frozenset({Family.CAN, Family.INDUCTOR, Family.CONNECTOR, Family.SWITCH, Family.RELAY})

DENSITY: dict[Family, float] = {
    Family.CHIP: 3.5,
    Family.MELF: 3.0,
    Family.MOLDED: 2.3,
    Family.CAN: 1.6,
    Family.SOT: 2.1,
    Family.SMALL_OUTLINE: 2.2,
    Family.QUAD_FLAT: 2.1,
    Family.NO_LEAD: 2.6,
    Family.ARRAY: 2.2,
    Family.POWER: 3.2,
    Family.CRYSTAL: 2.8,
    Family.INDUCTOR: 4.5,
    Family.MODULE: 1.5,
    Family.CONNECTOR: 1.2,
    Family.SWITCH: 1.3,
    Family.RELAY: 1.8,
}
"""Grams to the cubic centimetre of the box round a body: alumina 3.9, ferrite 4.8, moulding compound 1.9, copper 8.9,
each filling its part of the box. Checked against typical masses of data sheets; a single part may be off by a third."""

CERAMIC_DENSITY = 5.7
"""Ceramic capacitors: barium titanate with nickel."""

_FIELD = re.compile(r"^(?:mass|weight|gewicht|masse|poids)(?:[ _.-]*[(\[]?(m?g)[)\]]?)?$", re.IGNORECASE)
_VALUE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(mg|g)?\s*\Z", re.IGNORECASE)


@dataclass(frozen=True)
class Mass:
    """Mass of a part in grams.

    Attributes:
        stated: read off a field; else estimated from the body.
        height_known: the estimate rests on a known height.
    """

    grams: float
    stated: bool
    height_known: bool


def mass_of(part: Part, facts: PackageFacts) -> Optional[Mass]:
    """Mass as a field states it, else body times height times a usual density; None where the body is unknown."""
    stated = _stated(part)
    if stated is not None:
        return Mass(stated, True, True)
    density = CERAMIC_DENSITY if facts.ceramic_capacitor else DENSITY.get(facts.family)
    if density is None or facts.body.is_empty or part.body is None:
        return None
    height = facts.height
    if height is None:
        height = UNKNOWN_HEIGHT_SHARE * width_and_length(facts.body)[0]
        height = height if facts.family in _HIGH else min(height, FLAT_MM)
    return Mass(facts.body.area * height * density / 1000.0, False, facts.height is not None)


def load(grams: float, wetted_mm2: float) -> float:
    """Grams to the square inch of wetted area, which the rule for the side that hangs down compares."""
    return grams / (wetted_mm2 / INCH2_MM2)


def held_by_outline(outlines_mm: Iterable[float]) -> float:
    """Grams that joints of some circumferences hold, by the second rule."""
    return sum(outlines_mm) * HOLD_MG_PER_MM / 1000.0


def _stated(part: Part) -> Optional[float]:
    for name, text in part.fields.items():
        called, value = _FIELD.match(name.strip()), _VALUE.match(text)
        if called and value:
            unit = (value[2] or called[1] or "").casefold()
            grams = float(value[1].replace(",", "."))
            if unit and grams > 0.0:
                return grams / 1000.0 if unit == "mg" else grams
    return None
