# SPDX-License-Identifier: MIT
"""The little arithmetic of aperture macros."""

from __future__ import annotations

import re

NESTING_MAX = 40


class BadApertureError(ValueError):
    """An aperture that cannot be made; the message says why."""


_TOKEN = re.compile(r"\s*(?:(\d+\.?\d*|\.\d+)|(\$\d+)|([-+xX/()]))")


def evaluate(text: str, known: dict[int, float]) -> float:
    """The value of a macro expression: numbers, ``$n``, ``+ - x /`` and brackets; an unset variable is 0.

    Raises:
        BadApertureError: the expression cannot be read, or divides by zero.
    """
    signs: list[str] = []
    at = 0
    text = text.rstrip()
    while at < len(text):
        match = _TOKEN.match(text, at)
        if not match:
            raise BadApertureError(f"{text[:40]!r} is no expression")
        signs.append(match[0].strip())
        at = match.end()
    value, end = _sum(signs, 0, known, 0)
    if end != len(signs):
        raise BadApertureError(f"{text[:40]!r} is no expression")
    return value


def _sum(signs: list[str], at: int, known: dict[int, float], depth: int) -> tuple[float, int]:
    value, at = _product(signs, at, known, depth)
    while at < len(signs) and signs[at] in "+-":
        more, end = _product(signs, at + 1, known, depth)
        value = value + more if signs[at] == "+" else value - more
        at = end
    return value, at


def _product(signs: list[str], at: int, known: dict[int, float], depth: int) -> tuple[float, int]:
    value, at = _factor(signs, at, known, depth)
    while at < len(signs) and signs[at] in "xX/":
        more, end = _factor(signs, at + 1, known, depth)
        if signs[at] == "/" and more == 0:
            raise BadApertureError("an expression divides by zero")
        value = value / more if signs[at] == "/" else value * more
        at = end
    return value, at


def _factor(signs: list[str], at: int, known: dict[int, float], depth: int) -> tuple[float, int]:
    if at >= len(signs) or depth > NESTING_MAX:
        raise BadApertureError("an expression ends too early or is nested too deep")
    sign = signs[at]
    if sign in "+-":
        value, at = _factor(signs, at + 1, known, depth + 1)
        return (-value if sign == "-" else value), at
    if sign == "(":
        value, at = _sum(signs, at + 1, known, depth + 1)
        if at >= len(signs) or signs[at] != ")":
            raise BadApertureError("a bracket is not closed")
        return value, at + 1
    if sign.startswith("$"):
        return known.get(int(sign[1:12]), 0.0), at + 1
    try:
        return float(sign), at + 1
    except ValueError:
        raise BadApertureError(f"{sign[:20]!r} is no number") from None
