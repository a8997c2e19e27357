# SPDX-License-Identifier: MIT
"""What probes do to a board: force, its density, and how far the board bends.

Estimates for talking to a fixture maker, not a design of a fixture. Lengths are mm, forces N, pressures N/mm2 (MPa).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from lineworthy.shapes import Point

INCH_MM = 25.4
OUNCE_N = 0.2780139
GRAM_N = 0.00980665

MODULUS_MPA = 21_000.0
"""Of glass-epoxy laminate, crosswise, the weaker way (maker's data sheet: 24 GPa lengthwise, 21 GPa crosswise)."""

STRAIN_BUDGET = 500e-6
"""Outer-fibre strain a maker of components allows on a board in build, test and use (component maker's guide)."""

ATMOSPHERE_MPA = 0.101325
VACUUM_SHARE = 0.6
"""Share of the air's pressure that holds the board down in a vacuum fixture (probe maker's guide on spring force)."""


class Densest(NamedTuple):
    """The square inch with the most force: its lower left corner, how many probes stand in it, and their force in N."""

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
        # a fullest square can be pushed right and up until a probe lies on its left and its lower side
        last = int(np.searchsorted(spots[:, 0], x + INCH_MM + 1e-6, side="right"))
        if last - first <= best.probes:
            continue
        heights = np.sort(spots[first:last, 1])
        counts = np.searchsorted(heights, heights + INCH_MM + 1e-6, side="right") - np.arange(len(heights))
        row = int(counts.argmax())
        if counts[row] > best.probes:
            best = Densest((float(x), float(heights[row])), int(counts[row]), float(counts[row]) * force)
    return best


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
