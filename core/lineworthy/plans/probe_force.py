# SPDX-License-Identifier: MIT
"""What probes do to a board: force, its density, and how far the board bends.

Estimates for talking to a fixture maker, not a design of a fixture. Lengths are mm, forces N, pressures N/mm2 (MPa).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from lineworthy.shapes import Point

INCH_MM = 25.4
OUNCE_N = 0.2780139
GRAM_N = 0.00980665

MODULUS_MPA = 21_000.0
"""Of glass-epoxy laminate, crosswise, the weaker way (maker's data sheet: 24 GPa lengthwise, 21 GPa crosswise)."""

STRAIN_BUDGET = 500e-6
"""Outer-fibre strain a maker of components allows on a board in build, test and use (component maker's guide)."""

VACUUM_KEY = "test-access.target_to_edge_vacuum_mm"
"""The limit that only a vacuum fixture's seal minds."""

ATMOSPHERE_MPA = 0.101325
VACUUM_SHARE = 0.6
"""Share of the air's pressure that holds the board down in a vacuum fixture (probe maker's guide on spring force)."""


class Densest(NamedTuple):
    """The square inch with the most force: its lower left corner, the probes that stand in it, and their force in N."""

    corner: Point
    probes: int
    force: float


def densest_inch(places: Sequence[Point], force: float) -> Densest:
    """The axis-parallel square inch, anywhere on the board, with the most probes; exact, its rim counted in."""
    if not len(places):
        return Densest((0.0, 0.0), 0, 0.0)
    spots = np.asarray(places, dtype=float)
    spots = spots[np.lexsort((spots[:, 1], spots[:, 0]))]
    best = Densest((0.0, 0.0), 0, 0.0)
    for first, x in enumerate(spots[:, 0]):
        # a fullest square can be pushed right and up until a probe lies on its left and on its lower side
        last = int(np.searchsorted(spots[:, 0], x + INCH_MM + 1e-6, side="right"))
        if last - first <= best.probes:
            continue
        heights = np.sort(spots[first:last, 1])
        counts = np.searchsorted(heights, heights + INCH_MM + 1e-6, side="right") - np.arange(len(heights))
        row = int(counts.argmax())
        if counts[row] > best.probes:
            best = Densest((float(x), float(heights[row])), int(counts[row]), float(counts[row]) * force)
    return best._replace(corner=_centred(spots, best.corner))


def _centred(spots: npt.NDArray[np.float64], corner: Point) -> Point:
    """The corner of a square inch about the middle of what stands in one."""
    x, y = corner
    inside = ((spots >= (x - 1e-6, y - 1e-6)) & (spots <= (x + INCH_MM + 1e-6, y + INCH_MM + 1e-6))).all(axis=1)
    middle = (spots[inside].min(axis=0) + spots[inside].max(axis=0)) / 2
    return float(middle[0]) - INCH_MM / 2, float(middle[1]) - INCH_MM / 2


def vacuum_probes(area_mm2: float, force: float, pressure: float = ATMOSPHERE_MPA, share: float = VACUUM_SHARE) -> int:
    """How many probes a vacuum holds a board down on: area x air pressure x share / force of one."""
    return math.floor(area_mm2 * pressure * share / force)


def sag(pressure: float, span: float, thickness: float, modulus: float = MODULUS_MPA) -> float:
    """Deflection of an evenly loaded strip between two supports, mm: 5 q L^4 / (384 E I) with I = b t^3 / 12.

    Beam theory. A plate held on all four edges bends less: a square one by a factor of about three.
    """
    return 5 * pressure * span**4 / (32 * modulus * thickness**3)


def strain(pressure: float, span: float, thickness: float, modulus: float = MODULUS_MPA) -> float:
    """Outer-fibre strain in the middle of that strip: M t / (2 E I) with M = q L^2 / 8."""
    return 3 * pressure * span**2 / (4 * modulus * thickness**2)


def support_spacing(pressure: float, thickness: float, budget: float = STRAIN_BUDGET) -> float:
    """How far apart supports may be, mm, for the strain of the strip between them to stay within a budget."""
    return math.sqrt(4 * MODULUS_MPA * thickness**2 * budget / (3 * pressure))
