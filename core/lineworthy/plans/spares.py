# SPDX-License-Identifier: MIT
"""How many spare pieces a build needs of each kind of package: what feeders, nozzles and set-ups lose."""

from __future__ import annotations

import re
from enum import Enum
from typing import Optional

from lineworthy.knowledge.packages_agree import chip_sizes
from lineworthy.knowledge.packages_names import Family, read_name
from lineworthy.limits import SupplyLimits
from lineworthy.plans.arithmetic import attrition


class Spares(Enum):
    """Packages that are lost alike; the value is how a report calls them."""

    SMALL_CHIP = "chip up to 0402"
    CHIP = "chip 0603 to 1206"
    MOLDED = "1210 and larger, SOT-23, MELF, SMA, SMB"
    LARGE = "SMC, SOT-223, DPAK, crystal, big inductor"
    ELECTROLYTIC = "tantalum, electrolytic"
    OTHER = "circuit, connector, other"


_SMALL = ("01005", "0201", "0402")
_USUAL = ("0603", "0805", "1206", "0306", "0508", "0612")
_BY_FAMILY = {
    Family.MELF: Spares.MOLDED,
    Family.SOT: Spares.MOLDED,
    Family.POWER: Spares.LARGE,
    Family.CRYSTAL: Spares.LARGE,
    Family.INDUCTOR: Spares.LARGE,
    Family.CAN: Spares.ELECTROLYTIC,
    Family.RADIAL: Spares.ELECTROLYTIC,
}


def spares_class(package: str, letters: str, family: Optional[Family] = None, size: str = "") -> Spares:
    """What a part counts as.

    Args:
        package: name of the package or land pattern.
        letters: what its reference begins with.
        family: what the board shows it to be; read from the name when None.
        size: chip size the board shows, or empty.
    """
    sizes = (size,) if size else chip_sizes(package, letters)
    name = package.upper()
    family = family or (Family.CHIP if sizes else read_name(package).family)
    if family is Family.CHIP:
        if not sizes or sizes[0] in _USUAL:
            return Spares.CHIP
        return Spares.SMALL_CHIP if sizes[0] in _SMALL else Spares.MOLDED
    if family is Family.MOLDED:
        if letters == "C" or "EIA" in name or "TANT" in name:
            return Spares.ELECTROLYTIC
        return Spares.LARGE if re.search(r"SMC|214AB", name) else Spares.MOLDED
    if family is Family.SOT and re.search(r"SOT-?223|TO-?261", name):
        return Spares.LARGE
    return _BY_FAMILY.get(family, Spares.OTHER) if family else Spares.OTHER


def spare_pieces(placed: int, boards: int, kind: Spares, limits: SupplyLimits) -> int:
    """Spare pieces for a build of so many boards that places so many."""
    volume = boards >= limits.volume_run_min_count
    small, large, least = {
        Spares.SMALL_CHIP: (
            limits.small_chip_spare_percent,
            limits.small_chip_volume_percent,
            limits.small_chip_spare_min_count,
        ),
        Spares.CHIP: (limits.chip_spare_percent, limits.chip_volume_percent, limits.chip_spare_min_count),
        Spares.MOLDED: (limits.molded_spare_percent, limits.molded_volume_percent, limits.molded_spare_min_count),
        Spares.LARGE: (limits.large_spare_percent, limits.large_spare_percent, limits.large_spare_min_count),
        Spares.ELECTROLYTIC: (
            limits.electrolytic_spare_percent,
            limits.electrolytic_spare_percent,
            limits.electrolytic_spare_min_count,
        ),
        Spares.OTHER: (limits.other_spare_percent, limits.other_volume_percent, limits.other_spare_min_count),
    }[kind]
    return attrition(placed, large if volume else small, least)
