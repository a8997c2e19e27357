# SPDX-License-Identifier: MIT
"""The room a part claims for itself: its courtyard as drawn, or what the land-pattern standard would have drawn.

The excess is what a courtyard has round body and lands. Values are those of IPC-7351B as tabulated in an open
implementation of it (tables 3-2 to 3-22); for arrays from memory of its table 3-17; for leads of IPC-7251, draft 1,
table 3-9, never released; for everything else the one value a level of IPC-7352; for connectors the rule of the
editor's library (F5.3, from memory).
"""

from __future__ import annotations

from enum import Enum

import shapely
from shapely import affinity

from lineworthy.knowledge.bodies import SMALL_CHIPS, Body, Kind
from lineworthy.knowledge.packages import Family, PackageFacts
from lineworthy.shapes import Area, polygonal


class Density(Enum):
    """Levels of the land-pattern standard: how much material, and room, a land pattern takes."""

    MOST = 0
    NOMINAL = 1
    LEAST = 2


_USUAL = (0.50, 0.25, 0.10)
_EXCESS: dict[Family, tuple[float, float, float]] = {
    Family.CAN: (1.00, 0.50, 0.25),
    Family.ARRAY: (2.00, 1.00, 0.50),
    Family.CONNECTOR: (0.50, 0.50, 0.50),
}
_SMALL_CHIP = (0.20, 0.15, 0.10)
_TWO_PIN_CRYSTAL = (1.00, 0.50, 0.25)


def excess(facts: PackageFacts, terminals: int = 0, density: Density = Density.NOMINAL) -> float:
    """Courtyard excess round body and lands, mm.

    Args:
        facts: of the package.
        terminals: how many lands it has; crystals with two get more room.
        density: level of the standard.
    """
    values = _EXCESS.get(facts.family, _USUAL)
    if facts.family is Family.CHIP and facts.chip_size in SMALL_CHIPS:
        values = _SMALL_CHIP
    if facts.family is Family.CRYSTAL and terminals == 2 and not facts.leads:
        values = _TWO_PIN_CRYSTAL
    return values[density.value]


def claimed(body: Body) -> Area:
    """The courtyard of a part on one side: as drawn, else a rectangle round body and lands with the nominal excess.

    Empty where nothing is drawn on the far side, or of a leaded part of which nobody knows the body.
    """
    drawn = body.part.courtyard.get(body.side)
    if drawn is not None:
        return drawn
    if body.kind is Kind.LEADS or (body.facts.leads and body.part.body is None):
        return shapely.Polygon()
    part = body.part
    straight = affinity.rotate(body.shape, -part.rotation, origin=part.at)
    room = shapely.box(*straight.bounds).buffer(excess(body.facts, len(part.pads)), join_style="mitre")
    return polygonal(affinity.rotate(room, part.rotation, origin=part.at))
