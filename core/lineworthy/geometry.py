# SPDX-License-Identifier: MIT
"""Measuring on the board: pure functions over shapely geometries, vectorised.

All lengths are mm. Functions take sequences of geometries and give numpy arrays that line up with them;
an empty sequence is a legal input and gives an empty array.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

TOL_MM = 1e-4
"""Lengths closer than this count as equal: a tenth of a micrometre, above floating-point noise and arc chords'
rounding, below anything a factory can hold. A value exactly on its limit passes."""

Indices = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]


def falls_short(measured: float, limit: float) -> bool:
    """True when `measured` is below `limit` by more than `TOL_MM`: the one place where equality is decided."""
    return measured < limit - TOL_MM


def exceeds(measured: float, limit: float) -> bool:
    """True when `measured` is above `limit` by more than `TOL_MM`."""
    return measured > limit + TOL_MM


def pairs_within(
    ours: Sequence[BaseGeometry], theirs: Optional[Sequence[BaseGeometry]], reach: float
) -> tuple[Indices, Indices, Floats]:
    """All pairs of geometries nearer than or at `reach`, with their true distance.

    Args:
        ours: geometries; empty ones match nothing.
        theirs: the other geometries, or None for the pairs among `ours` (each once, i < j).
        reach: mm.

    Returns:
        Indices into `ours`, indices into `theirs`, and distances in mm (0 where they touch or overlap);
        sorted by the two indices.
    """
    left = np.asarray(ours, dtype=object)
    right = left if theirs is None else np.asarray(theirs, dtype=object)
    if len(left) == 0 or len(right) == 0:
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, np.zeros(0)
    tree = shapely.STRtree(right)
    i, j = tree.query(left, predicate="dwithin", distance=reach + TOL_MM)
    if theirs is None:
        keep = i < j
        i, j = i[keep], j[keep]
    order = np.lexsort((j, i))
    i, j = i[order], j[order]
    return i, j, shapely.distance(left[i], right[j])
