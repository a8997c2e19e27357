# SPDX-License-Identifier: MIT
"""Separating boards: how a score is cut, what it takes to break, what bending does to the board.

Pure arithmetic that can be checked by hand. Lengths mm, forces N, stresses N/mm2 (MPa), strains in microstrain (1e-6).
"""

from __future__ import annotations

from bisect import bisect_right
from math import log10, radians, sqrt, tan
from typing import Optional

WEB_SHARE = 1 / 3
"""What is left between two score cuts, as a share of the board's thickness: a third of it is cut from each side
(rule of thumb of a trade column on scored jobs, 2013)."""

SCORE_ANGLE_DEG = 30.0
"""Angle of the scoring blade, both flanks together; 20 to 60 degrees are found (common practice, no source)."""

STRENGTH_MPA = 415.0
"""Bending strength of FR-4 lengthwise, at least (property table in an encyclopaedia; 345 crosswise)."""

MODULUS_GPA = 24.0
"""Stiffness of FR-4 lengthwise at room temperature (same table; 21 crosswise). A maker's D790 data: 24.3 and 20.0."""

MODULUS_HOT_GPA = 7.0
"""The same in the reflow oven, above the glass transition: 5 to 10 GPa (common practice, no source)."""

POISSON = 0.136
"""How much FR-4 that is bent one way narrows the other way (same table; 0.118 crosswise)."""

STRAIN_BUDGET = 500.0
"""Microstrain on the board that a component maker allows in build, test and use (an application note of AMD)."""

HAND_FORCE_N = 30.0
"""Breaking that takes more than 20 to 30 N is no work for fingers (common practice, no source)."""

_INCH = 25.4
_ARRAY_INCH = (5.0, 10.0, 15.0, 20.0)
_BOARD_INCH = (0.5, 1.0, 3.0, 6.0)
_WEB_MIL: tuple[tuple[Optional[int], ...], ...] = (
    (5, 7, 9, 10, None),
    (6, 8, 10, 12, 12),
    (7, 9, 10, 12, 13),
    (5, 9, 11, 13, 15),
    (5, 5, 12, 14, 15),
)

_BACK_OFF = ((0.79, 0.25), (1.57, 0.38), (3.18, 0.56))


def web(thickness: float) -> float:
    """What a score leaves standing where nobody says otherwise, mm: a third of the board's thickness."""
    return thickness * WEB_SHARE


def cut_depth(thickness: float, left: float) -> float:
    """How deep each of the two opposite cuts is that leave `left` mm standing, mm."""
    return (thickness - left) / 2


def groove_half_width(depth: float, angle: float = SCORE_ANGLE_DEG) -> float:
    """From the middle of a score to the rim of its groove, mm; `angle` is between both flanks, degrees.

    >>> round(groove_half_width(1.6 / 3, 60.0), 3)
    0.308
    """
    return depth * tan(radians(angle / 2))


def web_for_size(board: float, array: float) -> Optional[float]:
    """Web a scoring guide gives for a board of a size in an array of a size (both the longer side), mm.

    Thinner than a third of the thickness, for arrays that are broken after assembly. Sizes on a step belong to the
    larger class. None where the guide has no value: a board over 6 inches does not fit an array below 5.

    Source: a pocket guide to V-scoring.

    >>> round(web_for_size(2 * 25.4, 12 * 25.4), 3)
    0.254
    """
    row = bisect_right(_ARRAY_INCH, array / _INCH)
    mil = _WEB_MIL[row][bisect_right(_BOARD_INCH, board / _INCH)]
    return None if mil is None else mil * _INCH / 1000


def copper_back_off(thickness: float) -> float:
    """Least distance of copper from the middle of a score by the board's thickness, mm.

    Source: a trade column on scored jobs (2013): 0.25 at 0.79 mm, 0.38 at 1.57 mm, 0.56 at 3.18 mm; between them, and
    beyond, on the straight line through the neighbours; never below the first.
    """
    points = _BACK_OFF
    (t0, b0), (t1, b1) = points[:2] if thickness <= points[1][0] else points[1:]
    return max(b0 + (thickness - t0) * (b1 - b0) / (t1 - t0), points[0][1])


def break_moment(left: float, strength: float = STRENGTH_MPA) -> float:
    """Bending moment that breaks a web of `left` mm, N mm for each mm of the line: ``s w^2 / 6``.

    >>> round(break_moment(1.6 / 3), 2)
    19.67
    """
    return strength * left**2 / 6


def break_force(left: float, length: float, lever: float, strength: float = STRENGTH_MPA) -> float:
    """Force at a `lever` from a score of a `length` that breaks it, N."""
    return break_moment(left, strength) * length / lever


def bend_test_strain(thickness: float, deflection: float, span: float) -> float:
    """Microstrain at the face of a board bent in the middle between two supports: ``6 t d / L^2``.

    This is the bend test of capacitors in AEC-Q200: span 90 mm, board 1.6 mm, 2 mm deep (5 mm with soft ends).

    >>> round(bend_test_strain(1.6, 2.0, 90.0))
    2370
    """
    return 6e6 * thickness * deflection / span**2


def strain_limit(thickness: float, rate: float) -> float:
    """Microstrain a board may see at a strain rate in microstrain per second.

    ``sqrt(2.35 / t) (1900 - 300 log10(rate))``, from memory: the guidance curve of IPC/JEDEC-9704 of 2005, made for
    joints of tin and lead, rates of 500 to 50 000. The issuer took the curve out in 9704A (2012), which is method
    only: ask the component maker for a limit, and use this only to compare.

    >>> round(strain_limit(2.35, 5000.0))
    790
    """
    return sqrt(2.35 / thickness) * (1900 - 300 * log10(rate))


def break_strain(
    thickness: float,
    left: float,
    *,
    distance: float = 0.0,
    lever: float,
    across: bool = True,
    strength: float = STRENGTH_MPA,
    modulus: float = MODULUS_GPA,
) -> float:
    """Microstrain at the face of a board, `distance` mm from a score, at the moment it breaks by bending.

    The moment that breaks the web bends the board beside it, too, and falls evenly to nothing at the `lever`, where
    the force is. A part across the line feels it in full; along the line it feels what the board narrows.

    From memory: beam theory. It is an upper estimate: a notch breaks below the strength of the plain material, and a
    blade that runs along the line bends far less than a hand.
    """
    stress = strength * (left / thickness) ** 2 * max(1 - distance / lever, 0.0)
    return stress / modulus * 1e3 * (1.0 if across else POISSON)
