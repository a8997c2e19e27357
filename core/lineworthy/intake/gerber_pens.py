# SPDX-License-Identifier: MIT
"""The apertures of a Gerber file: defined, chosen, and mirrored, turned and scaled as the file says."""

from __future__ import annotations

import re
from typing import Optional

import numpy as np

from lineworthy.intake.gerber_apertures import Macro, placed, standard
from lineworthy.intake.gerber_arithmetic import BadApertureError
from lineworthy.intake.gerber_image import Pen
from lineworthy.shapes import polygonal

_DEFINITION = re.compile(r"ADD0*(\d{1,9})([^,]+)(?:,(.*))?\Z", re.DOTALL)
_PLAIN = ("N", 0.0, 1.0)


class Pens:
    """All apertures, the chosen one, and what is done to it: mirrored, turned (degrees), scaled, in this order."""

    def __init__(self) -> None:
        self._pens: dict[int, Pen] = {}
        self._macros: dict[str, Macro] = {}
        self._chosen: Optional[int] = None
        self._treatment = _PLAIN
        self._treated: dict[tuple[int, tuple[str, float, float]], Pen] = {}

    def macro(self, name: str, body: list[str]) -> None:
        """Keeps a macro until a definition names it."""
        self._macros[name] = Macro(body)

    def define(self, command: str, scale: float, function: tuple[str, ...]) -> None:
        """Takes a definition such as ``ADD10C,0.5``; `scale` makes its lengths mm.

        Raises:
            BadApertureError: it defines nothing that can be drawn.
            ValueError: a size is no number.
        """
        match = _DEFINITION.match(command)
        if not match or int(match[1]) < 10:
            raise BadApertureError(f"{command[:30]!r} defines no aperture")
        number, shape = int(match[1]), match[2].strip()
        numbers = [float(text) for text in re.split("[xX]", match[3])] if match[3] else []
        if not all(np.isfinite(numbers)):
            raise BadApertureError("a size is no number")
        if shape in ("C", "R", "O", "P"):
            area = standard(shape, numbers, scale)
        elif shape in self._macros:
            area = self._macros[shape].area(numbers, scale)
        else:
            raise BadApertureError(f"macro {shape[:30]!r} is not defined")
        plain = shape == "C" and not any(numbers[1:])
        self.keep(number, Pen(area, numbers[0] * scale if plain else -1.0, function=function))

    def keep(self, number: int, pen: Pen) -> None:
        """Gives a number to an aperture, in place of one that had it before."""
        self._pens[number] = pen
        self._treated = {key: made for key, made in self._treated.items() if key[0] != number}

    def choose(self, number: int) -> None:
        """The aperture to draw with from now on.

        Raises:
            BadApertureError: it is not defined.
        """
        if number not in self._pens:
            raise BadApertureError(f"aperture D{number} is not defined")
        self._chosen = number

    def treat(self, what: str, value: str) -> None:
        """Acts on ``LM`` (mirror), ``LR`` (turn) and ``LS`` (scale).

        Raises:
            ValueError: the value is none of those allowed.
        """
        mirror, turn, size = self._treatment
        if what == "LM":
            if value not in ("N", "X", "Y", "XY"):
                raise ValueError(f"mirroring {value[:10]!r} is unknown")
            self._treatment = (value, turn, size)
            return
        number = float(value)
        if not np.isfinite(number) or (what == "LS" and number <= 0):
            raise ValueError(f"{what}{value[:20]} is no turn or scale")
        self._treatment = (mirror, number, size) if what == "LR" else (mirror, turn, number)

    @property
    def current(self) -> Pen:
        """The chosen aperture, treated.

        Raises:
            BadApertureError: none is chosen.
        """
        if self._chosen is None:
            raise BadApertureError("something is drawn before an aperture is chosen")
        key = (self._chosen, self._treatment)
        if key not in self._treated:
            self._treated[key] = self._made(self._pens[self._chosen])
        return self._treated[key]

    def _made(self, pen: Pen) -> Pen:
        if self._treatment == _PLAIN:
            return pen
        size = self._treatment[2]
        pieces = tuple((dark, placed(shape, *self._treatment)) for dark, shape in pen.pieces)
        diameter = pen.diameter * size if pen.diameter > 0 else pen.diameter
        return Pen(polygonal(placed(pen.area, *self._treatment)), diameter, pieces, pen.function)
