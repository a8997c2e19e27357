# SPDX-License-Identifier: MIT
"""How much of each layer is copper, and what flatness that endangers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Floats
from lineworthy.knowledge.gaps import Layer
from lineworthy.model import Board, CopperArea

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
        whole = np.array([not isinstance(owner, CopperArea) for owner in layer.owners], dtype=bool)
        _, hit = tree.query(layer.shapes[whole], predicate="dwithin", distance=layer.half[whole])
        covered = np.zeros(len(spots), dtype=bool)
        covered[hit] = True
        for area in board.areas:
            if area.layer == layer.name:
                _fill(covered, spots, area.rings)
        shares[layer.name] = 100.0 * float(covered.mean())
    return shares


def _fill(covered: np.ndarray, spots: Floats, rings: Sequence[Floats]) -> None:
    for ring in rings:
        low, high = ring.min(axis=0), ring.max(axis=0)
        open_ = np.flatnonzero(~covered & ((spots >= low) & (spots <= high)).all(axis=1))
        if len(open_):
            # a ring joined to its holes by cuts is no valid polygon, but inside is inside
            polygon = Polygon(ring)
            shapely.prepare(polygon)
            covered[open_] = shapely.contains_xy(polygon, *spots[open_].T)


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
