# SPDX-License-Identifier: MIT
"""How sturdy each probe can be, by the distance to its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Optional

import numpy as np
import shapely

from lineworthy.geometry import falls_short, pairs_within
from lineworthy.knowledge.surroundings import PROBE_SIZES, PROBE_SPACING_MM
from lineworthy.shapes import Point

WIDEST_MM = max(PROBE_SPACING_MM.values())
FINEST_MM = min(PROBE_SPACING_MM.values())


def spacing(one: int, other: int) -> float:
    """Least distance between the centres of two probes of given sizes in mil.

    The source names no distance for a 100 beside a 50 mil probe: it gets that of a 100 beside the wider 75.
    """
    pair = (min(one, other), max(one, other))
    return PROBE_SPACING_MM.get(pair) or PROBE_SPACING_MM[75, 100]


def sizes(places: Sequence[Point]) -> list[Optional[int]]:
    """The sturdiest size class in mil for each probe of one side; None where not even the finest fits.

    Pairs are gone through from the nearest on, and the sturdier of the two gives way; of two alike the one with
    more neighbours, which is likelier to have to be fine anyway.
    """
    rank = [0] * len(places)
    points = np.asarray(shapely.points(np.asarray(places, dtype=float).reshape(-1, 2)), dtype=object)
    i, j, apart = pairs_within(points, None, WIDEST_MM)
    crowd = np.bincount(np.concatenate([i, j]), minlength=len(places))
    for n in np.lexsort((j, i, np.round(apart, 6))):
        a, b, distance = int(i[n]), int(j[n]), float(apart[n])
        while not _fits(rank[a], rank[b], distance):
            first = rank[a] < rank[b] or (rank[a] == rank[b] and crowd[a] >= crowd[b])
            rank[a if first else b] += 1
    return [PROBE_SIZES[r] if r < len(PROBE_SIZES) else None for r in rank]


def _fits(one: int, other: int, apart: float) -> bool:
    """Whether two probes, by their place in `PROBE_SIZES`, can stand so near; beyond the finest there is no rule."""
    if max(one, other) >= len(PROBE_SIZES):
        return min(one, other) >= len(PROBE_SIZES) or not falls_short(apart, FINEST_MM)
    return not falls_short(apart, spacing(PROBE_SIZES[one], PROBE_SIZES[other]))
