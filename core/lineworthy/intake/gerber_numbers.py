# SPDX-License-Identifier: MIT
"""How a Gerber file writes coordinates: unit, digits, zeros left out, absolute or from point to point."""

from __future__ import annotations

import re
from typing import Optional

from lineworthy.shapes import Point

_FORMAT = re.compile(r"FS([LTD]?)([AI])(?:N\d)?(?:G\d)?X(\d)(\d)Y(\d)(\d)")


class Coordinates:
    """The coordinate format of a file, and the point it is at.

    Attributes:
        unit: ``mm`` or ``inch``, empty until the file says it.
        scale: mm for one of its units.
        at: the current point, mm.
    """

    def __init__(self) -> None:
        self.unit, self.scale = "", 1.0
        self.at: Point = (0.0, 0.0)
        self.incremental = False
        self._digits: Optional[tuple[int, int]] = None
        self._trailing = False

    @property
    def is_known(self) -> bool:
        """Whether the file has said how it writes coordinates."""
        return self._digits is not None

    def declare(self, command: str) -> None:
        """Takes a format such as ``FSLAX46Y46``.

        Raises:
            ValueError: it is none.
        """
        match = _FORMAT.match(command)
        if not match:
            raise ValueError(f"{command[:30]!r} is no coordinate format")
        self._trailing, self.incremental = match[1] == "T", match[2] == "I"
        x, y = (int(match[3]), int(match[4])), (int(match[5]), int(match[6]))
        if x != y:
            raise ValueError("x and y have different coordinate formats")
        self._digits = x

    def use(self, unit: str) -> bool:
        """Takes the unit; False if the file had said another before.

        Raises:
            ValueError: it is neither ``mm`` nor ``inch``.
        """
        if unit not in ("mm", "inch"):
            raise ValueError("the unit is neither MM nor IN")
        agrees = self.unit in ("", unit)
        self.unit, self.scale = unit, 25.4 if unit == "inch" else 1.0
        return agrees

    def length(self, digits: Optional[str]) -> float:
        """Digits of the file as mm; 0 for none.

        Raises:
            ValueError: the file has not said how many of them are decimals.
        """
        if self._digits is None:
            raise ValueError("a coordinate comes before the coordinate format")
        if not digits:
            return 0.0
        whole, part = self._digits
        if self._trailing:
            sign, digits = (-1, digits[1:]) if digits[0] == "-" else (1, digits.lstrip("+"))
            return float(sign * int(digits.ljust(whole + part, "0")) / 10**part * self.scale)
        return float(int(digits) / 10**part * self.scale)

    def go(self, x: Optional[str], y: Optional[str]) -> tuple[Point, Point]:
        """Moves to the point with these digits, one or both of which may be left out: from where, and where to."""
        dx, dy = self.length(x), self.length(y)
        start = self.at
        if self.incremental:
            self.at = (start[0] + dx, start[1] + dy)
        else:
            self.at = (dx if x else start[0], dy if y else start[1])
        return start, self.at
