# SPDX-License-Identifier: MIT
"""How tall a part stands: from its fields, its name, or a small table of usual parts.

Heights are largest values above the board in mm where the source gives them so; "nominal" ones carry their plus
tolerance. A part nobody can tell the height of has None: guessing is left to people.
"""

from __future__ import annotations

import re
from enum import Enum
from functools import lru_cache
from typing import Optional

from lineworthy.knowledge.packages_names import Family
from lineworthy.model import Part


class HeightOrigin(Enum):
    """Where a height comes from, strongest first."""

    FIELD = "field"
    NAME_CODE = "land-pattern name"
    LIBRARY_NAME = "library name"
    TABLE = "table of usual parts"
    UNKNOWN = "unknown"


Height = tuple[Optional[float], HeightOrigin]
UNKNOWN: Height = (None, HeightOrigin.UNKNOWN)

MAX_MM = 150.0
"""Anything above is a misread number, not a part."""

_FIELD = re.compile(
    r"^(max(imum)?[ _.-]*)?(component |part |body |seated )?height([ _.-]*(max(imum)?|mm|\(mm\)))*$", re.I
)
_MM = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(mm)?\s*(max\.?)?\s*\Z", re.I)

# IPC-7351B naming convention for land patterns, as listed in a public table of its syntax: the number behind the last X
# and before the level letter or the pin count is the height in 0.01 mm.
_IPC = re.compile(
    r"^(?:RESC(?:AV|AXE|AXS|AF)?|RESM|CAPC(?:P|AV)?|CAPMP?|CAPAE|IND[CMP]|DIO[MC]|SOD(?:FL)?|SOT(?:FL)?|TO|SOIC|[TSHQMLV]{0,3}SOP"
    r"|TSSOP|SOJ|P?SON|DFN|[TSLHC]{0,3}QFP|P?QFN|P?LCCS?|BGA|LGA|CFP|XTAL|OSC(?:SC|J|L|CC)|LED(?:M|SC)|FUSM|CGA)"
    r"(?=\d)[\dPCNRSX_]*?X(\d+)(?:[MNL])?(?:-.*)?$"
)
_IPC_MELF = re.compile(r"^(?:DIO|RES)MELF\d\d(\d\d)[MNL]?$")
_IPC_DIP = re.compile(r"^DIP\d+W\d+P\d+L\d+H(\d+)Q\d+")
_IPC_RADIAL = re.compile(r"^CAPP?RDV?\d+W\d+D\d+H(\d+)")
_IPC_HEADER = re.compile(r"^HDRV\d+W\d+P\d+_\dX\d+_\d+X\d+X(\d+)")
_IPC_AXIAL = re.compile(r"^(?:RES|DIO|IND)AD\d+W\d+L\d+D(\d+)")

_LIBRARY_H = re.compile(r"[_ -]H(\d+(?:\.\d+)?)mm", re.I)
_BODY_XYZ = re.compile(r"(?<![\d.])\d+(?:\.\d+)?x\d+(?:\.\d+)?x(\d+(?:\.\d+)?)mm", re.I)
_CAN = re.compile(r"^CP?_Elec_(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?)", re.I)
_EIA = re.compile(r"EIA-\d{4}-(\d\d)(?!\d)", re.I)

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

# (pattern on the upper-case name, height). Sources: outlines of JEDEC and of makers from memory unless a data sheet is
# named; crystals and through-hole parts are common practice.
_TABLE: tuple[tuple[str, float], ...] = (
    (r"\bSOT-?23(-3)?W?\b(?!-[5-8])|TO-236", 1.12),  # JEDEC TO-236
    (r"\bSOT-?23-?[56]\b", 1.45),  # JEDEC MO-178
    (r"\bSC-?70\b|\bSOT-?3[256]3", 1.10),  # JEDEC MO-203
    (r"\bSOT-?223", 1.80),  # list of surface-mount packages
    (r"\bSOT-?89", 1.60),  # JEDEC TO-243
    (r"\bSO(IC)?-?(8|14|16)-3\.9", 1.75),  # MS-012; data sheet with SOT96-1
    (r"\bSOIC-?\d+W", 2.65),  # JEDEC MS-013
    (r"\bH?TSSOP|\bMSOP|\bVSSOP", 1.20),  # JEDEC MO-153
    (r"\bSSOP-?\d+-5\.3", 2.00),  # JEDEC MO-150
    (r"\bLQFP", 1.60),  # JEDEC MS-026
    (r"\bTQFP", 1.20),  # JEDEC MS-026
    (r"\bV(QFN|SON|DFN)", 1.00),  # JEDEC MO-220
    (r"\bH?W(QFN|SON|DFN)", 0.80),  # JEDEC MO-220
    (r"\bH?U(QFN|SON|DFN)", 0.65),  # JEDEC MO-248
    (r"^D-SMC\b", 2.62),  # package page citing DO-214AB
    (r"^D-SMB\b", 2.44),  # maker outline drawings
    (r"^D-SMA\b", 2.29),  # maker outline drawings, some say 2.4 to 2.6
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
    (r"^PINHEADER.*P2\.54MM-VERTICAL", 8.50),  # common practice
    (r"^PINSOCKET.*P2\.54MM-VERTICAL", 8.50),  # common practice
)
_COMPILED = tuple((re.compile(pattern), height) for pattern, height in _TABLE)


def height_of(part: Part, family: Family, kind: str, size: str) -> Height:
    """Height of a part with its origin.

    Args:
        part: a height the document states, or a field called height in mm, wins over everything else.
        family: what the part was recognised as.
        kind: reference letter of its kind; tells a chip resistor from a capacitor.
        size: its chip size code, or empty.
    """
    if part.height is not None and 0 < part.height <= MAX_MM:
        return part.height, HeightOrigin.FIELD
    for name, text in part.fields.items():
        number = _MM.match(text) if _FIELD.match(name.strip()) else None
        if number and 0 < float(number[1].replace(",", ".")) <= MAX_MM:
            return float(number[1].replace(",", ".")), HeightOrigin.FIELD
    if family in (Family.MECHANICAL, Family.UNKNOWN):
        return UNKNOWN
    return _from_name(part.package, kind if family is Family.CHIP else "", size)


@lru_cache(maxsize=4096)
def _from_name(package: str, kind: str, size: str) -> Height:
    name = package.strip()[:200]
    coded = ipc_height(name)
    if coded is not None:
        return coded, HeightOrigin.NAME_CODE
    eia = _EIA.search(name)
    if eia:
        return int(eia[1]) / 10, HeightOrigin.NAME_CODE
    for rule, group in ((_LIBRARY_H, 1), (_CAN, 2), (_BODY_XYZ, 1)):
        match = rule.search(name)
        if match and 0 < float(match[group]) <= MAX_MM:
            return float(match[group]), HeightOrigin.LIBRARY_NAME
    usual = {"R": _CHIP_RESISTOR, "C": _CHIP_CERAMIC}.get(kind, {}).get(size)
    if usual is None:
        dashed = re.sub(r"[-_\s]+", "-", name).upper()
        usual = next((height for rule, height in _COMPILED if rule.search(dashed)), None)
    return UNKNOWN if usual is None else (usual, HeightOrigin.TABLE)


def ipc_height(name: str) -> Optional[float]:
    """Height in mm out of an IPC-7351B land-pattern name, None when the name is none or holds no height."""
    upper = name.upper()
    for rule, scale in (
        (_IPC, 100),
        (_IPC_MELF, 10),
        (_IPC_DIP, 100),
        (_IPC_RADIAL, 100),
        (_IPC_HEADER, 100),
        (_IPC_AXIAL, 100),
    ):
        match = rule.match(upper)
        if match and len(match[1]) <= 5:
            value = int(match[1]) / scale
            return value if 0 < value <= MAX_MM else None
    return None
