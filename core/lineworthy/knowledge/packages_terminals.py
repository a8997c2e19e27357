# SPDX-License-Identifier: MIT
"""How a part meets its lands: the kinds of terminals, told by its name where it says so, else by family and lands."""

from __future__ import annotations

import re
from enum import Enum
from typing import Optional

from lineworthy.knowledge.packages_names import Family
from lineworthy.knowledge.packages_pads import Lands, beside_body
from lineworthy.model import PadRole, Part
from lineworthy.shapes import Area


class Terminals(Enum):
    """Kinds of terminals, after the sections for their solder joints in IPC-A-610 (from memory)."""

    END_CAP = "end caps"
    """Metal round both ends of a chip, flat or round (MELF)."""
    GULL_WING = "gull wings"
    """Leads bent out and down: their joints can be seen from above. The tab of a power package goes with them."""
    J_LEAD = "J leads"
    INWARD_LEAD = "inward leads"
    """Ribbons bent under a molded body: SMA, tantalum capacitors."""
    FLAT_LEAD = "flat leads"
    """Straight leads that leave the body at the board: cans, flat diodes, flat lugs."""
    BOTTOM_LAND = "lands under the body"
    """QFN, DFN, LGA and the like: joints are hidden or show at their outer end only."""
    BALL = "balls"
    """Balls, bumps or columns, all joints hidden."""
    CASTELLATION = "castellations"
    """Metallised half holes at the rim of a ceramic body or of a board."""
    THROUGH_LEAD = "leads through the board"
    NONE = "none"
    """Nothing to solder."""
    UNKNOWN = "unknown"


# Read from top to bottom on the name in capitals with "-" for every separator; the first hit wins.
_NAMED: tuple[tuple[Terminals, str], ...] = (
    (Terminals.J_LEAD, r"\bSOJ|PLCC|\bOSCJ|J-LEAD"),
    (Terminals.FLAT_LEAD, r"^(SOD|SOT)FL\d|\bSOD-?(123F|[19]23|[89]2\d|128)|FLATLEAD|FLAT-LEAD"),
    (Terminals.CASTELLATION, r"CASTELLAT|^OSCSC|^LEDSC|(?<!P)\bLCC\d"),
)
_COMPILED = tuple((kind, re.compile(rule)) for kind, rule in _NAMED)

_OF_FAMILY = {
    Family.CHIP: Terminals.END_CAP,
    Family.MELF: Terminals.END_CAP,
    Family.MOLDED: Terminals.INWARD_LEAD,
    Family.CAN: Terminals.FLAT_LEAD,
    Family.SOT: Terminals.GULL_WING,
    Family.SMALL_OUTLINE: Terminals.GULL_WING,
    Family.QUAD_FLAT: Terminals.GULL_WING,
    Family.POWER: Terminals.GULL_WING,
    Family.NO_LEAD: Terminals.BOTTOM_LAND,
    Family.ARRAY: Terminals.BALL,
    Family.MECHANICAL: Terminals.NONE,
}


def terminals_of(part: Part, family: Family, lands: Lands, through: bool, body: Optional[Area]) -> Terminals:
    """Kind of terminals of a part.

    Args:
        part: the part.
        family: what it was recognised as.
        lands: its lands.
        through: most of its lands have a lead through the board.
        body: its outline as drawn.
    """
    if family is Family.MECHANICAL or len(lands) == 0:
        return Terminals.NONE
    if through:
        return Terminals.THROUGH_LEAD
    name = re.sub(r"[-_\s]+", "-", part.package.strip()).upper()[:200]
    if any(pad.role is PadRole.CASTELLATED for pad in part.pads):
        return Terminals.CASTELLATION
    named = next((kind for kind, rule in _COMPILED if rule.search(name)), None)
    if family is Family.ARRAY and "LGA" in name:
        named = Terminals.BOTTOM_LAND
    return named or _OF_FAMILY.get(family) or _by_lands(lands, body)


def _by_lands(lands: Lands, body: Optional[Area]) -> Terminals:
    """Families that come with any terminals; without a drawn body nobody can tell."""
    if body is None or body.is_empty:
        return Terminals.UNKNOWN
    return Terminals.GULL_WING if beside_body(lands, body) else Terminals.BOTTOM_LAND
