# SPDX-License-Identifier: MIT
"""Which packages are fine enough to want a pair of marks of their own, and whether they have one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import falls_short
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.placed import usual_pitch
from lineworthy.model import Board, Part, Side
from lineworthy.shapes import Point

LANDS_MIN = 16
"""Smaller packages than this are placed well enough by the marks of the board (common practice, no source)."""

Corner = tuple[int, int]
"""A corner of a part in its own frame: left or right, lower or upper, as -1 or 1."""

_LEADED = (Family.QUAD_FLAT, Family.NO_LEAD, Family.SMALL_OUTLINE)


@dataclass(frozen=True, eq=False)
class FinePart:
    """A machine-placed package of many fine lands.

    Attributes:
        pitch: measured between its lands, mm.
        is_array: balls or lands in rows and columns, instead of leads round the rim.
        low, high: corners of the box round its lands, in the part's own frame, mm.
    """

    part: Part
    pitch: float
    is_array: bool
    low: npt.NDArray[np.float64] = field(repr=False)
    high: npt.NDArray[np.float64] = field(repr=False)

    def own(self, at: Point) -> npt.NDArray[np.float64]:
        """A place in the part's own frame, from the middle of its lands."""
        return np.asarray(_turn(-self.part.rotation) @ (np.array(at) - np.array(self.part.at))) - self._middle

    def beside(self, corner: Corner, off: float) -> Point:
        """The place `off` mm outside of a corner of the box round the lands, along both its sides."""
        own = np.array(corner) * (self.half + off) + self._middle
        x, y = _turn(self.part.rotation) @ own + np.array(self.part.at)
        return (float(x), float(y))

    @property
    def half(self) -> npt.NDArray[np.float64]:
        """Half of the box's sides, mm."""
        return np.asarray((self.high - self.low) / 2)

    @property
    def _middle(self) -> npt.NDArray[np.float64]:
        return np.asarray((self.high + self.low) / 2)

    def near(self, marks: Sequence[Point], reach: float) -> list[Point]:
        """Marks no further than `reach` mm from the box round the lands."""
        return [at for at in marks if np.hypot(*np.maximum(np.abs(self.own(at)) - self.half, 0.0)) <= reach + 1e-4]

    def pair(self, marks: Sequence[Point]) -> Optional[tuple[Point, Point]]:
        """Two marks in opposite corners, as seen from the middle of the part; None where there are none."""
        own = [np.round(self.own(at), 4) for at in marks]
        for first, a in enumerate(own):
            for second, b in enumerate(own[:first]):
                if a[0] * b[0] < 0 and a[1] * b[1] < 0:
                    return marks[second], marks[first]
        return None


def fine_parts(board: Board, packages: Packages, side: Side, leaded: float, array: float) -> list[FinePart]:
    """Packages of one side with a pitch below a limit, mm: that for leads or that for arrays."""
    found = []
    for part in board.parts:
        if part.side is not side:
            continue
        facts = packages.of(part)
        is_array = facts.family is Family.ARRAY
        if not facts.machine_placed or not (is_array or facts.family in _LEADED):
            continue
        fine = usual_pitch(part, board.copper_on(side)) if len({pad.number for pad in part.pads}) >= LANDS_MIN else None
        if fine is not None and falls_short(fine, array if is_array else leaded):
            found.append(FinePart(part, fine, is_array, *_box(part)))
    return found


def _box(part: Part) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    shapes = [next(iter(pad.copper.values())) for pad in part.pads if pad.copper and pad.paste]
    points = shapely.get_coordinates(shapes) - np.array(part.at)
    own = points @ _turn(-part.rotation).T
    return own.min(axis=0), own.max(axis=0)


def _turn(degrees: float) -> npt.NDArray[np.float64]:
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[cos, -sin], [sin, cos]])
