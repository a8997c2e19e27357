# SPDX-License-Identifier: MIT
"""How tall usual packages stand: largest heights above the board in mm, where the source gives them so.

Outlines of JEDEC and of makers are from memory unless a data sheet is named. "Models" means the editor's own 3D
library, release 9.0.8: heights of one maker's part as it was drawn, which others of the same name come close to.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Optional

_CHIP_RESISTOR = {  # thick-film chip resistor data sheet: nominal plus tolerance
    "01005": 0.15,
    "0201": 0.26,
    "0402": 0.40,
    "0603": 0.55,
    "0805": 0.65,
    "1206": 0.65,
    "1210": 0.65,
    "2010": 0.65,
    "2512": 0.65,
}
_CHIP_CERAMIC = {  # ceramic capacitor approval sheet of a maker, thickest code of each size
    "0201": 0.33,
    "0402": 0.55,
    "0603": 0.95,
    "0805": 1.45,
    "1206": 1.90,
    "1210": 2.80,
}

# (pattern on the upper-case name with "-" for every separator, height)
_TABLE: tuple[tuple[str, float], ...] = (
    (r"\bSOT-?23(-3)?W?\b(?!-[5-8])|TO-236", 1.12),  # JEDEC TO-236
    (r"\bTSOT-?23", 1.00),  # JEDEC MO-193
    (r"\bSOT-?23-?[56]\b", 1.45),  # JEDEC MO-178
    (r"\bSC-?70\b|\bSOT-?3[256]3", 1.10),  # JEDEC MO-203
    (r"\bSOT-?223", 1.80),  # list of surface-mount packages
    (r"\bSOT-?89", 1.60),  # JEDEC TO-243
    (r"\bSO(IC)?-?(8|14|16)-3\.9|\bQSOP", 1.75),  # MS-012; data sheet with SOT96-1; MO-137
    (r"\bSO(IC)?-?\d+W", 2.65),  # JEDEC MS-013
    (r"\bH?TSSOP|\bMSOP|\bVSSOP|\bTSOP", 1.20),  # JEDEC MO-153, MO-187, MO-183
    (r"\bSSOP-?\d+-5\.3", 2.00),  # JEDEC MO-150
    (r"(?<!M)\bPLCC-?(20|28|32|44)\b(?!.*SOCKET)", 4.57),  # JEDEC MS-018
    (r"(?<!M)\bPLCC-?(52|68|84)\b(?!.*SOCKET)", 5.08),  # JEDEC MS-018
    (r"\bD-SMC\b", 2.62),  # package page citing DO-214AB
    (r"\bD-SMB\b", 2.44),  # maker outline drawings
    (r"\bD-SMA\b", 2.29),  # maker outline drawings, some say 2.4 to 2.6
    (r"\bSOD-?323", 1.17),  # diode data sheet
    (r"\bSOD-?123", 1.35),  # maker outline drawings
    (r"\bSOD-?523", 0.70),  # maker outline drawings
    (r"\bTO-?252|\bDPAK", 2.39),  # JEDEC TO-252
    (r"\bTO-?263|\bD2PAK", 4.83),  # JEDEC TO-263
    (r"CRYSTAL-SMD-2520|CRYSTAL-SMD.*2\.5X2\.0", 0.55),  # crystal data sheet, 0.45 plus tolerance
    (r"CRYSTAL-SMD-3225|CRYSTAL-SMD.*3\.2X2\.5", 0.80),  # common practice
    (r"CRYSTAL-SMD-(5032|7050)", 1.30),  # common practice
    (r"CRYSTAL-SMD-HC-?49", 4.00),  # crystal data sheet
    (r"CRYSTAL-HC-?49-?U-VERTICAL", 13.50),  # common practice
    (r"^DIP-?(8|14|16|18|20)\b(?!.*SOCKET)", 5.33),  # JEDEC MS-001
    (r"^DIP-?(24|28|32|40|42|48)-W15(?!.*SOCKET)", 6.35),  # JEDEC MS-011
    # rows of pins: common practice agrees with the models for 2.54 mm, the others are the models'
    (r"^PINHEADER.*P2\.54MM-VERTICAL-SMD", 9.30),
    (r"^PINHEADER.*P2\.54MM-VERTICAL", 8.50),
    (r"^PIN(HEADER|SOCKET)-1X\d+-P2\.54MM-HORIZONTAL", 2.54),
    (r"^PIN(HEADER|SOCKET)-2X\d+-P2\.54MM-HORIZONTAL", 5.08),
    (r"^PINSOCKET.*P2\.54MM-VERTICAL-SMD", 7.50),
    (r"^PINSOCKET.*P2\.54MM-VERTICAL", 8.50),
    (r"^PINHEADER.*P2\.00MM-VERTICAL", 6.00),
    (r"^PINSOCKET.*P2\.00MM-VERTICAL-SMD", 4.60),
    (r"^PINSOCKET.*P2\.00MM-VERTICAL", 5.60),
    (r"^PIN(HEADER|SOCKET)-1X\d+-P2\.00MM-HORIZONTAL", 2.00),
    (r"^PIN(HEADER|SOCKET)-2X\d+-P2\.00MM-HORIZONTAL", 4.00),
    (r"^PINHEADER.*P1\.27MM-VERTICAL", 4.40),
    (r"^PINHEADER.*P1\.27MM-HORIZONTAL", 3.40),
    (r"^PINSOCKET.*P1\.27MM-VERTICAL", 4.60),
    (r"^PINSOCKET.*P1\.27MM-HORIZONTAL", 3.10),
    (r"^PINHEADER.*P1\.00MM-VERTICAL", 4.80),
    (r"^PINHEADER.*P1\.00MM-HORIZONTAL", 2.30),
    (r"^PINSOCKET.*P1\.00MM-VERTICAL", 2.30),
    (r"^IDC-HEADER.*P2\.54MM-(VERTICAL|HORIZONTAL)", 9.70),  # models; common practice says 9.0
    (r"^JST-XH.*VERTICAL", 7.00),  # models, also below
    (r"^JST-XH.*HORIZONTAL", 6.10),
    (r"^JST-(PH|EH)-B.*VERTICAL", 6.00),
    (r"^JST-PH-S\d.*HORIZONTAL", 4.90),
    (r"^JST-EH.*HORIZONTAL", 4.20),
    (r"^JST-SH.*VERTICAL", 4.40),
    (r"^JST-SH.*HORIZONTAL", 3.00),
    (r"^JST-GH", 4.30),
    (r"^USB-C-RECEPTACLE(?!.*VERTICAL)", 3.50),
    (r"^USB-A-.*HORIZONTAL", 7.80),
    (r"^DSUB.*HORIZONTAL", 12.50),
)
_COMPILED = tuple((re.compile(pattern), height) for pattern, height in _TABLE)

_PROFILE = re.compile(r"\bH?(L|T|V|W|U|X[12]?)(?:F|FC)?(?:QF[NP]|DFN|SON|BGA|LGA)-?\d")
_PROFILE_MAX = {"L": 1.70, "T": 1.20, "V": 1.00, "W": 0.80, "U": 0.65, "X": 0.50, "X1": 0.50, "X2": 0.40}
"""What the letter before a package's name says of its height, mm (JEDEC JESD30, from memory)."""
_PLAIN = re.compile(r"\b(QFN|DFN|SON|LFCSP|MLF)-?\d")
"""Without a letter these are 1.0 mm at most by the outlines in use (JEDEC MO-220, MO-229, from memory)."""


def chip_height(letter: str, size: str) -> Optional[float]:
    """Height of a chip resistor (R) or ceramic capacitor (C) of a size, None for others."""
    return {"R": _CHIP_RESISTOR, "C": _CHIP_CERAMIC}.get(letter, {}).get(size)


@lru_cache(maxsize=4096)
def usual_height(package: str) -> Optional[float]:
    """Height of a package by its usual name, None when the name says too little."""
    name = re.sub(r"[-_\s]+", "-", package.strip()[:200]).upper()
    for rule, height in _COMPILED:
        if rule.search(name):
            return height
    profile = _PROFILE.search(name)
    if profile:
        # quad-flat packs with leads keep to their own outline, JEDEC MS-026
        return 1.60 if profile[1] == "L" and "QFP" in profile[0] else _PROFILE_MAX[profile[1]]
    return 1.00 if _PLAIN.search(name) else None
