# SPDX-License-Identifier: MIT
"""Values of parts as quantities: ``4k7``, ``4.7 kΩ`` and ``4700`` are one, ``100n`` is ``0.1uF``; and ratings."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from typing import Optional

_PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "r": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9}
_UNIT = r"(?:ohms?|Ω|f|farad|h|henry|hz)"
_INFIX = re.compile(rf"(\d+)(p|n|u|m|r|k|K|M|G)(\d+)\s*({_UNIT}?)\Z", re.IGNORECASE)
_SUFFIX = re.compile(rf"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(meg|p|n|u|m|r|k|G)?\s*({_UNIT}?)\Z", re.IGNORECASE)
_MEASURE = {"f": "F", "farad": "F", "h": "H", "henry": "H", "hz": "Hz", "ohm": "R", "ohms": "R", "Ω": "R"}
_BY_LETTER = {"R": "R", "RN": "R", "RV": "R", "RP": "R", "C": "C", "CP": "C", "L": "H", "FB": ""}

VALUES_KEPT = 4096
"""A value is compared with many others, and read once."""

Quantity = tuple[float, str]
"""A number in base units and what it measures: F, H, R (ohm) or Hz; empty when not told."""


@lru_cache(VALUES_KEPT)
def quantity(value: str, letters: str = "") -> Optional[Quantity]:
    """The quantity a value begins with; None when it is none.

    Args:
        value: as written, with whatever follows: ``100n 50 V X7R``.
        letters: what the reference begins with: tells the unit that a value leaves out.
    """
    plain = unicodedata.normalize("NFKC", value).replace("µ", "u").replace("μ", "u").strip()
    plain = plain.replace("Ohm", "ohm").replace("\u2126", "Ω")
    plain = re.sub(r"\Ar(?=\d)", "0R", plain, flags=re.IGNORECASE)  # R047 is 0.047 ohm
    words = re.split(r"[\s/;_(@]+|,(?!\d)", plain)
    if re.fullmatch(r"[\d.,]+", words[0]) and len(words) > 1 and not re.match(rf"(?:{_UNIT}|[pnumkKMGR])", words[1]):
        return None  # 33 V, 1/4 W: a rating
    # "4.7 kΩ" is written with a space as often as without
    for text in (" ".join(words[:2]), words[0]):
        found = _one(text, letters.upper())
        if found is not None:
            return found
    return None


def _one(text: str, letters: str) -> Optional[Quantity]:
    match = _INFIX.match(text)
    if match:
        number, prefix, unit = float(f"{match[1]}.{match[3]}"), match[2], match[4]
    else:
        match = _SUFFIX.match(text)
        if not match:
            return None
        number, prefix, unit = float(match[1].replace(",", ".")), match[2] or "", match[3]
    measure = _MEASURE.get(unit.casefold() if unit != "Ω" else unit, "")
    measure = measure or {"C": "F"}.get(_BY_LETTER.get(letters, ""), _BY_LETTER.get(letters, ""))
    if not unit and not prefix and not measure:
        return None  # a bare number says nothing
    return round_to(number * _scale(prefix, measure)), measure


def _scale(prefix: str, measure: str) -> float:
    if prefix.casefold() == "meg" or prefix == "M":
        # nobody uses a megafarad: a capacitor of 1M is a mistake for somebody else to find
        return 1e6
    if prefix.casefold() in ("p", "n", "u", "r", "k", "g"):
        return _PREFIX[prefix.upper() if prefix.casefold() == "g" else prefix.casefold()]
    return _PREFIX[prefix]


def round_to(number: float) -> float:
    """To nine significant digits, so that two ways of writing a number are equal."""
    return float(f"{number:.9g}")


def same_value(one: str, other: str, letters: str = "") -> Optional[bool]:
    """Whether two values are the same; None where words stand against words and nobody can tell."""
    if _plain(one) == _plain(other):
        return True
    first, second = quantity(one, letters), quantity(other, letters)
    if first is None or second is None:
        return None
    if first[1] and second[1] and first[1] != second[1]:
        return False
    return first[0] == second[0]


@lru_cache(VALUES_KEPT)
def _plain(value: str) -> str:
    text = unicodedata.normalize("NFKC", value).casefold().replace("μ", "u").replace("µ", "u")
    return re.sub(r"[\s,;/_()\-]+", "", text.replace("ω", "").replace("ohm", ""))


_N = r"(?<![\w.])(\d+(?:[.,]\d+)?)\s*"
_RATED = {
    "voltage": re.compile(rf"{_N}(k|m)?v(?:dc|ac|r)?(?![\w])|(?<![\w.])(\d+)v(\d+)(?![\w])", re.IGNORECASE),
    "power": re.compile(rf"{_N}(m)?w(?![\w])|(?<![\w.])(\d+)\s*/\s*(\d+)\s*w(?![\w])", re.IGNORECASE),
    "current": re.compile(rf"{_N}(m)?a(?![\w])", re.IGNORECASE),
    "tolerance": re.compile(rf"{_N}()%"),
}
_UNITS = {"voltage": "V", "power": "W", "current": "A", "tolerance": "%"}
_FIELD = {
    "voltage": re.compile(
        r"(?:rated|max\w*|voltage|working)?(?:voltage|rating|spannung|v|vdc)(?:rat(?:ed|ing)|max|v|vdc)*\Z"
    ),
    "power": re.compile(r"(?:rated|max\w*)?(?:power|leistung|wattage)(?:rating|max|w)*\Z"),
    "current": re.compile(r"(?:rated|max\w*)?(?:current|strom)(?:rating|max|a)*\Z"),
    "tolerance": re.compile(r"tol(?:erance)?(?:percent)?\Z|toleranz\Z"),
}


def ratings(value: str, fields: Mapping[str, str]) -> dict[str, float]:
    """Ratings stated in a value or in fields: voltage in V, power in W, current in A, tolerance in %."""
    found: dict[str, float] = {}
    for kind, pattern in _RATED.items():
        named = [text for name, text in fields.items() if _FIELD[kind].match(re.sub(r"[\W_]", "", name.casefold()))]
        bare = [f"{text} {_UNITS[kind]}" for text in named if re.fullmatch(r"\s*±?\s*\d+(?:[.,]\d+)?\s*", text)]
        for text in (*named, *bare, value):
            match = pattern.search(text.replace("±", ""))
            if match:
                found[kind] = _number(match, kind)
                break
    return found


def _number(match: re.Match[str], kind: str) -> float:
    groups = match.groups()
    if len(groups) == 4 and groups[0] is None:
        if kind == "power":
            return int(groups[2]) / max(int(groups[3]), 1)
        return float(f"{groups[2]}.{groups[3]}")
    scale = {"k": 1e3, "m": 1e-3}.get((groups[1] or "").casefold(), 1.0)
    return round_to(float(groups[0].replace(",", ".")) * scale)
