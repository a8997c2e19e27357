# SPDX-License-Identifier: MIT
"""What a probe pad adds to a net: the capacitance of a disc over the next copper layer."""

from __future__ import annotations

from math import log, pi
from typing import NamedTuple, Optional

from lineworthy.model import Board, Side

EPSILON_0 = 8.8541878128e-12
"""Permittivity of empty space, F/m (CODATA 2018)."""

PERMITTIVITY = 4.3
"""Of woven glass and epoxy where the stack-up does not say (common practice, no source)."""


class Added(NamedTuple):
    """A pad's capacitance, pF, with what it comes from: the gap to the next copper, mm, and its permittivity."""

    picofarad: float
    gap: float
    permittivity: float


def disc(diameter: float, gap: float, permittivity: float) -> float:
    """Capacitance of a round pad over a plane without what spreads at its rim, pF: ``e0 er A / h``.

    >>> round(disc(1.0, 0.2, 4.3), 4)
    0.1495
    """
    area = pi * (diameter / 2) ** 2
    return EPSILON_0 * permittivity * area / gap * 1e9  # mm2/mm is 1e-3 m, and 1e12 pF to the farad


def disc_with_rim(diameter: float, gap: float, permittivity: float) -> float:
    """The same with the field round the rim, pF: ``C (1 + 2h/(pi r er) (ln(pi r/2h) + 1.7726))``.

    From memory: effective radius of a circular patch in antenna textbooks. Meant for pads wider than the gap; for
    others it is an estimate, and never less than the plain disc.

    >>> round(disc_with_rim(1.0, 0.2, 4.3), 3)
    0.177
    """
    radius = diameter / 2
    rim = 2 * gap / (pi * radius * permittivity) * (log(pi * radius / (2 * gap)) + 1.7726)
    return disc(diameter, gap, permittivity) * (1 + max(rim, 0.0))


def added(board: Board, side: Side, diameter: float) -> Optional[Added]:
    """What a pad on one side adds at most, by the stack-up; None when it does not say how far the next copper is."""
    gap, permittivity = _dielectric(board, side)
    if gap <= 0.0:
        return None
    return Added(disc_with_rim(diameter, gap, permittivity), gap, permittivity)


def _dielectric(board: Board, side: Side) -> tuple[float, float]:
    """Thickness of what lies under a side's copper, down to the next copper, and its permittivity."""
    layers = board.stackup.layers if side is Side.TOP else board.stackup.layers[::-1]
    kinds = [layer.kind.lower() for layer in layers]
    coppers = [n for n, kind in enumerate(kinds) if kind == "copper"]
    if len(coppers) < 2:
        return (board.stackup.thickness, PERMITTIVITY) if len(board.copper_layers) == 2 else (0.0, PERMITTIVITY)
    between = layers[coppers[0] + 1 : coppers[1]]
    thick = [layer.thickness or 0.0 for layer in between]
    total = sum(thick)
    if total <= 0.0:
        return 0.0, PERMITTIVITY
    # slabs in series: their thicknesses over their permittivities add up
    return total, total / sum(t / (layer.permittivity or PERMITTIVITY) for t, layer in zip(thick, between))
