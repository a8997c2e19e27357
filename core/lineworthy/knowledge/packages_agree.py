# SPDX-License-Identifier: MIT
"""Whether two names of packages, from a parts list, a library, a part number, can mean the same package."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Optional

from lineworthy.knowledge.packages_names import IMPERIAL, METRIC, Family, read_name

_TOLD_APART = frozenset(
    {
        Family.CHIP,
        Family.SOT,
        Family.SMALL_OUTLINE,
        Family.QUAD_FLAT,
        Family.NO_LEAD,
        Family.ARRAY,
        Family.MELF,
        Family.POWER,
        Family.THROUGH_IC,
        Family.CAN,
    }
)
# names of one package in several catalogues; what is in different rows is not the same package
_BASES: tuple[tuple[str, str], ...] = (
    ("TSSOP", r"(?:HT|T)SSOP"),
    ("MSOP", r"MSOP|VSSOP|U?MAX-?(?=8|10)"),
    ("SSOP", r"SSOP|QSOP"),
    ("SOIC", r"SOIC|SOP|\bSO(?=-?\d)|\bSO\b"),
    ("SOT-23", r"T?SOT-?23|SOT-?25|SOT-?26|SC-?59|SC-?74"),
    ("SOT-223", r"SOT-?223|TO-?261"),
    ("SOT-89", r"SOT-?89|TO-?243"),
    ("SOT-323", r"SOT-?323|SC-?70|SOT-?353|SOT-?363|SC-?88"),
    ("SMA", r"\bSMA\b|DO-?214AC"),
    ("SMB", r"\bSMB\b|DO-?214AA"),
    ("SMC", r"\bSMC\b|DO-?214AB"),
    ("SOD-123", r"SOD-?123"),
    ("SOD-323", r"SOD-?323|SC-?76"),
    ("SOD-523", r"SOD-?523|SC-?79"),
    ("DPAK", r"\bDPAK|TO-?252"),
    ("D2PAK", r"D2-?PAK|TO-?263"),
    ("QFN", r"QFN|\bMLF"),
    ("DFN", r"DFN|\bW?SON"),
    ("QFP", r"QFP"),
    ("DIP", r"\bP?DI[PL]"),
)
_COMPILED = tuple((base, re.compile(pattern)) for base, pattern in _BASES)
_PINS = re.compile(
    r"(?:SOIC|SOP|SO|SSOP|QFN|DFN|SON|QFP|DI[PL]|SOT-?23|BGA|LCC)-?(\d{1,3})(?![\d.])|(?<!\d)(\d{1,3})-?(?:QFN|PIN|TSSOP|SOIC|LQFP)"
)


def same_package(one: str, other: str, letters: str = "") -> Optional[bool]:
    """Whether two names mean one package; None when at least one says too little.

    Args:
        one: a name as a parts list or a library gives it.
        other: the other one.
        letters: what the reference begins with; a bare ``0402`` is a chip for R, C, L.
    """
    first, second = _key(one), _key(other)
    if not first or not second:
        return None
    if first == second:
        return True
    for verdict in (_by_size(one, other, letters), _by_base(first, second), _by_family(one, other, letters)):
        if verdict is not None:
            return verdict
    return True if first in second or second in first else None


def _by_size(one: str, other: str, letters: str) -> Optional[bool]:
    first, second = chip_sizes(one, letters), chip_sizes(other, letters)
    if not first or not second:
        return None
    if first[0] == second[0]:
        return True
    return None if set(first) & set(second) else False  # one of them may be metric


def _by_base(first: str, second: str) -> Optional[bool]:
    bases = _base(first), _base(second)
    if not all(bases):
        return None
    if bases[0] != bases[1]:
        return False
    pins = _pins(first), _pins(second)
    # an exposed pad is counted by some and not by others
    return None if 0 in pins else abs(pins[0] - pins[1]) <= 1


def _by_family(one: str, other: str, letters: str) -> Optional[bool]:
    families = {Family.CHIP if chip_sizes(name, letters) else read_name(name).family for name in (one, other)}
    return False if len(families) == 2 and families <= _TOLD_APART else None


@lru_cache(maxsize=4096)
def chip_sizes(package: str, letters: str = "") -> tuple[str, ...]:
    """Sizes in hundredths of an inch that a package's name may mean, likeliest first; empty for what is no chip."""
    bare = re.fullmatch(
        r"\W*(?:[RCLD]|FB|LED|SMD|CHIP|CASE)?[\s_-]*(\d{3,5})(?:\s*\(\d{4}\)|\s*metric)?\W*", package, re.IGNORECASE
    )
    if bare:
        digits = bare[1] if len(bare[1]) > 3 else "0" + bare[1]  # a spreadsheet took 0402 for a number
        if "metric" in package.casefold():
            return (METRIC[digits],) if digits in METRIC else ()
        found = (digits if digits in IMPERIAL else "", METRIC.get(digits, ""))
        return tuple(size for size in found if size in IMPERIAL)
    named = read_name(package)
    chip = named.family is Family.CHIP or (named.family is None and letters.upper() in ("R", "C", "L", "FB"))
    return named.sizes if chip else ()


# how some makers of resistors and ceramic capacitors number sizes; from memory: their part-numbering guides
_CERAMIC = {
    "03": "0201",
    "15": "0402",
    "05": "0402",
    "18": "0603",
    "10": "0603",
    "21": "0805",
    "31": "1206",
    "32": "1210",
}
_MAKERS: tuple[tuple[re.Pattern[str], dict[str, str]], ...] = (
    (re.compile(r"GR[MTJ](03|15|18|21|31|32)|CL(03|05|10|21|31|32)[A-Z]\d"), _CERAMIC),
    (
        re.compile(r"ERJ-?P?(1|2|3|6|8)[A-Z]|ERJ-?P?(14)"),
        {"1": "0201", "2": "0402", "3": "0603", "6": "0805", "8": "1206", "14": "1210"},
    ),
)
_SPELT = re.compile(r"(?:[A-Z]{0,5}-?(\d{4}|01005)(?=[A-Z\-])|(?:CRCW|RMCF|RMCP|ERA|TNPW)(\d{4}))")


def number_sizes(maker_part: str) -> tuple[str, ...]:
    """Chip sizes that a part number tells (``RC0402FR-07``, ``GRM188``); both readings where two are possible."""
    number = maker_part.strip().upper()
    for pattern, sizes in _MAKERS:
        known = pattern.match(number)
        if known:
            return (sizes[known[1] or known[2]],)
    match = _SPELT.match(number)
    digits = (match[1] or match[2]) if match else ""
    return tuple(size for size in (digits, METRIC.get(digits, "")) if size in IMPERIAL)


def _key(name: str) -> str:
    return re.sub(r"[-_\s]+", "-", name.strip()).strip("-").upper()[:200]


def _base(key: str) -> str:
    return next((base for base, pattern in _COMPILED if pattern.search(key)), "")


def _pins(key: str) -> int:
    match = _PINS.search(key)
    return int(match[1] or match[2]) if match else 0
