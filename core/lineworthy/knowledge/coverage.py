# SPDX-License-Identifier: MIT
"""How much of each layer is copper, and what flatness that endangers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Floats
from lineworthy.knowledge.gaps import Layer
from lineworthy.model import Board

SPOTS = 20_000
"""Spots a board is looked at: shares are true to half a percent of the board."""

OFF_GRID = 0.98765
"""The spots keep off the round numbers that edges of copper lie on, where noise would decide."""


def copper_shares(board: Board, copper: Sequence[Layer]) -> dict[str, float]:
    """Percent of the board that is copper, by layer; empty where the outline encloses nothing.

    Looked up on a grid of spots about the middle of the board: moved, turned by quarters or mirrored, it is the same.
    """
    spots = _spots(board.outline.area)
    if not len(spots):
        return {}
    points = np.asarray(shapely.points(spots), dtype=object)
    tree = shapely.STRtree(points)
    shares = dict.fromkeys(board.copper_layers, 0.0)
    for layer in copper:
        whole = ~layer.is_pour
        _, hit = tree.query(layer.shapes[whole], predicate="dwithin", distance=layer.half[whole])
        covered = np.zeros(len(spots), dtype=bool)
        covered[hit] = True
        for fill in layer.fills:
            bare = np.flatnonzero(~covered)
            covered[bare] = fill.holds(spots[bare])
        shares[layer.name] = 100.0 * float(covered.mean())
    return shares


def _spots(area: BaseGeometry) -> Floats:
    """(n, 2) spots on the board, the same on either side of its middle."""
    if area.is_empty:
        return np.zeros((0, 2))
    left, bottom, right, top = area.bounds
    step = OFF_GRID * float(np.sqrt((right - left) * (top - bottom) / SPOTS))
    axes = [_axis(*ends, step) for ends in ((left, right), (bottom, top))]
    grid = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    shapely.prepare(area)
    return grid[shapely.contains_xy(area, *grid.T)]


def _axis(low: float, high: float, step: float) -> Floats:
    count = 2 * int(np.ceil((high - low) / step / 2))
    return np.asarray((low + high) / 2 + step * (np.arange(count) - (count - 1) / 2))
