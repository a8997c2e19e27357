# SPDX-License-Identifier: MIT
"""How tall a part stands: its fields, name, description, 3D model, or a table of usual parts tell.

Heights are largest values above the board in mm where the source gives them so; "nominal" ones carry their plus
tolerance. A part nobody can tell the height of has None: guessing is left to people.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from functools import lru_cache
from typing import Optional

import numpy as np

from lineworthy.geometry import width_and_length
from lineworthy.knowledge.packages_names import Family, read_name
from lineworthy.knowledge.packages_usual import chip_height, usual_height
from lineworthy.model import Part


class HeightOrigin(Enum):
    """Where a height comes from, strongest first."""

    FIELD = "field"
    NAME_CODE = "land-pattern name"
    LIBRARY_NAME = "library name"
    """A part of the library item's name (``_H10.0mm``) or of its description (``6.0x6.0x4.5mm``)."""
    MODEL = "3D model"
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
_IN_PLANE = re.compile(r"_W(\d+(?:\.\d+)?)mm_H(\d+(?:\.\d+)?)mm", re.I)
_CAN = re.compile(r"^CP?_Elec_(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?)", re.I)
_LYING = re.compile(r"Axial_(?:\w+_)?L\d+(?:\.\d+)?mm_[DW](\d+(?:\.\d+)?)mm(?!.*Vertical)", re.I)
_EIA = re.compile(r"EIA-\d{4}-(\d\d)(?!\d)", re.I)
_THREE = re.compile(r"(?<![\d.])" + r" ?[x*] ?".join([r"(\d{1,3}(?:\.\d+)?)"] * 3) + r" ?mm", re.I)
_SAID = re.compile(
    r"(?<!stacking )(?<!mating )\bheight ?[=:]? ?(\d{1,3}(?:\.\d+)?) ?mm|\bH(\d{1,2}(?:\.\d+)?) mm", re.I
)


def height_of(part: Part, family: Family, letter: str, size: str) -> Height:
    """Height of a part with its origin.

    Args:
        part: a height the document states, or a field called height in mm, wins over everything else.
        family: what the part was recognised as.
        letter: reference letter of its kind; tells a chip resistor from a capacitor.
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
    found = (one for one in _read(part, family, letter, size) if one[0] is not None and 0 < one[0] <= MAX_MM)
    return next(found, UNKNOWN)


def _read(part: Part, family: Family, letter: str, size: str) -> Iterator[Height]:
    """Heights that names tell, strongest first."""
    name = part.package.strip()[:200]
    yield _coded(name), HeightOrigin.NAME_CODE
    yield _from_library_name(name), HeightOrigin.LIBRARY_NAME
    yield _from_sizes(f"{name} {part.description[:400]}", part), HeightOrigin.LIBRARY_NAME
    yield part.model_height, HeightOrigin.MODEL
    if family is Family.CHIP:
        yield chip_height(letter, size), HeightOrigin.TABLE
    # a name that the lands have overruled (a socket) tells nothing; a cover is named after what it covers
    if family is not Family.COVER and read_name(part.package).family in (None, family):
        yield usual_height(name), HeightOrigin.TABLE


@lru_cache(maxsize=4096)
def _coded(name: str) -> Optional[float]:
    """Height in a land-pattern name or in a tantalum capacitor's case code (EIA-535BAAC, from memory)."""
    eia = _EIA.search(name)
    return int(eia[1]) / 10 if eia else ipc_height(name)


@lru_cache(maxsize=4096)
def _from_library_name(name: str) -> Optional[float]:
    # "W x H" is how some libraries write the two sides that lie on the board
    if not _IN_PLANE.search(name):
        for rule, group in ((_LIBRARY_H, 1), (_CAN, 2)):
            match = rule.search(name)
            if match:
                return float(match[group])
    lying = _LYING.search(name)
    return float(lying[1]) if lying else None


def _from_sizes(text: str, part: Part) -> Optional[float]:
    """Height in a text like ``6.0x6.0x4.5mm``, where two numbers are the sides of the drawn body; or one called so."""
    for match in _THREE.finditer(text):
        numbers = [float(number) for number in match.groups()]
        sides = (0.0, 0.0) if part.body is None or part.body.is_empty else width_and_length(part.body)
        if np.allclose(sorted(numbers[:2]), sides, rtol=0.05, atol=0.15):
            return numbers[2]
    said = _SAID.search(text)
    return float(said[1] or said[2]) if said else None


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
