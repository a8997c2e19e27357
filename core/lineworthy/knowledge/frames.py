# SPDX-License-Identifier: MIT
"""A part's own frame: its place as the origin, x along its rotation."""

from __future__ import annotations

import numpy as np

from lineworthy.geometry import Floats
from lineworthy.model import Part
from lineworthy.shapes import Point


class Frame:
    """Turns board coordinates into those of a part and back; mm."""

    def __init__(self, part: Part) -> None:
        turn = np.radians(part.rotation)
        self._origin = np.array(part.at)
        self._axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])

    def box(self, points: Floats) -> tuple[Floats, Floats]:
        """Lowest and highest own coordinates of some points of the board, (n, 2).

        Rounded to a millionth of a mm, so that a turned part is judged the same.
        """
        own = np.round((points - self._origin) @ self._axes.T, 6)
        return own.min(axis=0), own.max(axis=0)

    def back(self, spot: Floats) -> Point:
        """A point of the part's frame on the board."""
        x, y = (spot @ self._axes + self._origin).tolist()
        return (x, y)
