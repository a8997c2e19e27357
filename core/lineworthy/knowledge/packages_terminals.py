# SPDX-License-Identifier: MIT
"""How a part meets its lands: the kinds of terminals, told by its name where it says so, else by family and lands."""

from __future__ import annotations

import re
from enum import Enum

from lineworthy.knowledge.packages_names import Family
from lineworthy.knowledge.packages_pads import Lands, beside_body, is_grid, past_body
from lineworthy.model import PadKind, PadRole, Part


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
    (Terminals.J_LEAD, r"\bSOJ|\bTSOC|PLCC-?\d+-\d|PLCC\d+P|^OSCJ|J-?(LEAD|PIN)"),
    (Terminals.FLAT_LEAD, r"^(SOD|SOT)FL\d|\bSOD-?(\d{3}F|[579]23|128)|FLAT-?LEAD|HC-?49"),
    (Terminals.GULL_WING, r"\bSOD-?[13]23|^SOD\d{4}X|GULL-?WING"),
    (Terminals.CASTELLATION, r"CASTELLAT|^(OSC|LED)SC\d|(?<![PT])\bLCCS?\d"),
    (Terminals.BOTTOM_LAND, r"LGA|MICRO-?SIP"),
    (Terminals.END_CAP, r"^FUSE?-?(?!M)(?!.*HOLDER)"),
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
    Family.RELAY: Terminals.GULL_WING,
    Family.SWITCH: Terminals.GULL_WING,
    Family.NO_LEAD: Terminals.BOTTOM_LAND,
    Family.ARRAY: Terminals.BALL,
}
"""What nearly all of a family have."""


def terminals_of(part: Part, family: Family, lands: Lands) -> Terminals:
    """Kind of terminals of a part, of its name, its family and its lands."""
    soldered = any(pad.copper and pad.kind in (PadKind.SURFACE, PadKind.THROUGH) for pad in part.pads)
    if family is Family.MECHANICAL or len(lands) == 0 or not soldered:
        return Terminals.NONE
    if lands.mostly_through:
        return Terminals.THROUGH_LEAD
    if any(pad.role is PadRole.CASTELLATED for pad in part.pads):
        return Terminals.CASTELLATION
    name = re.sub(r"[-_\s]+", "-", part.package.strip()).upper()[:200]
    named = next((kind for kind, rule in _COMPILED if rule.search(name)), None)
    return named or _OF_FAMILY.get(family) or _by_lands(family, lands)


def _by_lands(family: Family, lands: Lands) -> Terminals:
    """Families of which some members have leads and others have none."""
    if family is Family.CONNECTOR:
        return Terminals.BALL if is_grid(lands) else Terminals.GULL_WING
    if family is Family.MODULE and not is_grid(lands) and past_body(lands) > 0:
        return Terminals.CASTELLATION
    if lands.body is None and family is not Family.CRYSTAL:
        return Terminals.UNKNOWN
    # the legs of a transformer; a coil's two ends lie under its core
    legs = len(lands) > 4 and family is Family.INDUCTOR
    return Terminals.GULL_WING if legs or beside_body(lands) else Terminals.BOTTOM_LAND
