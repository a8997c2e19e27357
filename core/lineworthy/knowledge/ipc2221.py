# SPDX-License-Identifier: MIT
"""Two rules of IPC-2221: electrical spacing by voltage (table 6-1) and the current of a conductor (its charts).

Both are functional: they keep a product working, they do not protect people. Creepage and clearance of mains and other
dangerous voltages belong to the product's safety standard and a test lab.
"""

from __future__ import annotations

from enum import Enum
from math import pi

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


class Column(Enum):
    """The columns of table 6-1 that a layout can tell apart."""

    B1 = "internal conductors"
    B2 = "uncoated outer conductors"
    B4 = "outer conductors under mask"
    A6 = "uncoated terminations"


_VOLTS = np.array([15.0, 30.0, 50.0, 100.0, 150.0, 170.0, 250.0, 300.0, 500.0])
"""Upper ends of the table's bands, V of direct or peak alternating voltage."""

_SPACING = {
    Column.B1: np.array([0.05, 0.05, 0.1, 0.1, 0.2, 0.2, 0.2, 0.2, 0.25]),
    Column.B2: np.array([0.1, 0.1, 0.6, 0.6, 0.6, 1.25, 1.25, 1.25, 2.5]),
    Column.B4: np.array([0.05, 0.05, 0.13, 0.13, 0.4, 0.4, 0.4, 0.4, 0.8]),
    Column.A6: np.array([0.13, 0.25, 0.4, 0.5, 0.8, 0.8, 0.8, 0.8, 1.5]),
}
_PER_VOLT = {Column.B1: 0.0025, Column.B2: 0.005, Column.B4: 0.00305, Column.A6: 0.00305}
"""mm for each volt above 500."""


def spacing(volts: Floats, column: Column) -> Floats:
    """Smallest spacing in mm between conductors so many volts apart.

    A voltage between two bands, 15.5 V, belongs to the higher one. Above 500 V the table's note adds a length per volt.
    """
    volts = np.asarray(volts, dtype=float)
    band = np.minimum(np.searchsorted(_VOLTS, volts, side="left"), len(_VOLTS) - 1)
    return np.asarray(_SPACING[column][band] + np.maximum(volts - _VOLTS[-1], 0.0) * _PER_VOLT[column])


MIL_MM = 0.0254
"""A thousandth of an inch, the unit of the charts."""

K_OUTER, K_INNER = 0.048, 0.024
_RISE_POWER, _AREA_POWER = 0.44, 0.725

CHART_OUTER_A = 35.0
"""Where the chart for outer layers ends (IPC-2221 conductor charts, from memory)."""


def carried_a(section_mm2: float, rise_k: float, *, outer: bool) -> float:
    """Current that warms a conductor of a cross-section by `rise_k`: I = k dT^0.44 A^0.725, A in square mils."""
    k = K_OUTER if outer else K_INNER
    return float(k * rise_k**_RISE_POWER * (section_mm2 / MIL_MM**2) ** _AREA_POWER)


def width_mm(amps: float, thickness_mm: float, rise_k: float, *, outer: bool) -> float:
    """Width of a conductor that `amps` warm by `rise_k`, its cross-section taken as a rectangle."""
    k = K_OUTER if outer else K_INNER
    section = (amps / (k * rise_k**_RISE_POWER)) ** (1 / _AREA_POWER)
    return float(section * MIL_MM**2 / thickness_mm)


def barrel_mm2(drill_mm: float, plating_mm: float) -> float:
    """Cross-section of the copper in a plated hole of a drilled diameter."""
    return pi * max(drill_mm - plating_mm, 0.0) * plating_mm
