# SPDX-License-Identifier: MIT
"""Numbers, durations and dates as people write them in tables."""

from __future__ import annotations

import math
import re
from datetime import date
from typing import Optional

_CURRENCIES = {"€": "EUR", "$": "USD", "£": "GBP", "¥": "JPY", "zł": "PLN", "kč": "CZK", "元": "CNY"}
_THOUSANDS = re.compile(r"\d{1,3}(?:([.,' ])\d{3})(?:\1\d{3})*\Z")
_DAYS = {"d": 1.0, "w": 7.0, "m": 30.4375, "y": 365.25}
_DURATION = re.compile(
    r"(?P<number>\d+(?:[.,]\d+)?)\s*(?:(?:-|\u2013|to|bis)\s*(?P<to>\d+(?:[.,]\d+)?))?\s*"
    r"(?P<unit>d|days?|tage?n?|jours?|w|wks?|weeks?|wochen?|semaines?|kw|m|mon|months?|monate?n?|mois|y|years?)?\.?\Z",
    re.IGNORECASE,
)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?\Z")
_POINTS = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})\Z")
_SLASHES = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})\Z")


def decimal(text: str, *, comma: bool = False) -> Optional[float]:
    """A number of 0 or more; None when it is none.

    Args:
        text: digits with separators, as ``1.234,56``, ``1,234.56``, ``0,5``; units and signs of currency are not read.
        comma: whether the file separates decimals by a comma; decides ``1,234``.
    """
    plain = text.strip().replace("\u2009", " ")
    if not re.fullmatch(r"\d[\d.,' ]{0,30}|[.,]\d{1,15}", plain):
        return None
    plain = re.sub(r"[' ]", "", plain)
    points, commas = plain.count("."), plain.count(",")
    if points and commas:
        mark = "," if plain.rfind(",") > plain.rfind(".") else "."
        if plain.count(mark) > 1:
            return None
        plain = plain.replace("." if mark == "," else ",", "").replace(mark, ".")
    elif points > 1 or commas > 1:
        if not _THOUSANDS.match(plain):
            return None
        plain = re.sub(r"[.,]", "", plain)
    elif commas:
        thousands = not comma and re.fullmatch(r"[1-9]\d{0,2},\d{3}", plain)
        plain = plain.replace(",", "" if thousands else ".")
    elif points and comma and re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", plain):
        plain = plain.replace(".", "")
    value = float(plain)
    return value if math.isfinite(value) else None


def whole(text: str) -> Optional[int]:
    """A count: ``1200``, ``1,200``, ``1.200``, ``4 pcs``, ``4x``, ``>5000`` (at least that many); None otherwise."""
    plain = re.sub(
        r"\s*(?:pcs?|pieces?|st(?:k|ü?ck)?|ea|each|x|\u00d7|units?|个|個|\+)\.?\Z",
        "",
        text.strip(),
        flags=re.IGNORECASE,
    )
    plain = re.sub(r"\A(?:>|>=|≥)\s*", "", plain)
    if _THOUSANDS.match(plain) and not re.match(r"0\D", plain):
        return int(re.sub(r"\D", "", plain))
    value = decimal(plain)
    return int(value) if value is not None and value.is_integer() and value < 1e12 else None


def money(text: str, *, comma: bool = False) -> tuple[Optional[float], str]:
    """An amount and its currency (empty when not written)."""
    plain, currency = text.strip(), ""
    for sign, code in _CURRENCIES.items():
        if sign in plain.casefold():
            currency, plain = code, re.sub(re.escape(sign), "", plain, flags=re.IGNORECASE).strip()
    match = re.match(r"(?:([A-Za-z]{3})\s*)?(.*?)(?:\s*([A-Za-z]{3}))?\Z", plain)
    assert match is not None
    currency = currency or (match[1] or match[3] or "").upper()
    return decimal(match[2], comma=comma), currency


def days(text: str, unit: str = "") -> Optional[int]:
    """A duration in days, the later of a range, rounded up; None when it is none or has no unit.

    Args:
        text: ``12 weeks``, ``8-10 wk``, ``84 days``, ``stock`` (none at all), ``12`` where `unit` says of what.
        unit: what a bare number counts: ``d``, ``w`` or ``m``; empty when nothing says so.
    """
    plain = text.strip().lower()
    if plain in ("stock", "in stock", "ex stock", "immediate", "lager", "ab lager", "0"):
        return 0
    match = _DURATION.match(plain)
    if not match:
        return None
    written = (match["unit"] or unit)[:1]
    written = {"t": "d", "j": "d", "s": "w", "k": "w"}.get(written, written)
    if written not in _DAYS:
        return None
    number = float((match["to"] or match["number"]).replace(",", "."))
    total = number * _DAYS[written]
    return math.ceil(total - 1e-9) if total < 36500 else None


def day(text: str) -> Optional[date]:
    """A date: ``2027-03-01`` or ``1.3.2027``; with slashes only where it can be read one way; None otherwise."""
    plain = text.strip()
    match = _ISO.match(plain)
    if match:
        return _date(match[1], match[2], match[3])
    match = _POINTS.match(plain)
    if match:
        return _date(match[3], match[2], match[1])
    match = _SLASHES.match(plain)
    if not match:
        return None
    first, second = int(match[1]), int(match[2])
    if first == second or first > 12:
        return _date(match[3], match[2], match[1])
    return _date(match[3], match[1], match[2]) if second > 12 else None


def _date(year: str, month: str, of_month: str) -> Optional[date]:
    try:
        return date(int(year), int(month), int(of_month))
    except ValueError:
        return None
