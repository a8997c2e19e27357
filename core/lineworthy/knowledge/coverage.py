# SPDX-License-Identifier: MIT
"""How much of each layer is copper, and what flatness that endangers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
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
    area = board.outline.area
    if area.is_empty:
        return {}
    columns, rows = _axes(area)
    x, y = np.meshgrid(columns, rows)
    shapely.prepare(area)
    on_board = shapely.contains_xy(area, x, y)
    if not on_board.any():
        return {}
    places = np.flatnonzero(on_board)
    tree = shapely.STRtree(np.asarray(shapely.points(x[on_board], y[on_board]), dtype=object))
    shares = dict.fromkeys(board.copper_layers, 0.0)
    for layer in copper:
        whole = ~layer.is_pour
        _, hit = tree.query(layer.shapes[whole], predicate="dwithin", distance=layer.half[whole])
        covered = np.zeros(on_board.shape, dtype=bool)
        covered.flat[places[hit]] = True
        for fill in layer.fills:
            covered |= _inside(fill.ring, columns, rows)
        shares[layer.name] = 100.0 * float(covered[on_board].mean())
    return shares


def _inside(ring: Floats, columns: Floats, rows: Floats) -> npt.NDArray[np.bool_]:
    """Which spots of a grid, (rows, columns), a ring of (n, 2) points has inside: left of them it is crossed oddly.

    Asks each row once for all its spots; the two sides of a cut that joins a hole to the ring cancel out.
    """
    (x, y), (to_x, to_y) = ring.T, np.roll(ring, -1, axis=0).T
    first = np.searchsorted(rows, np.minimum(y, to_y))
    crossings = np.searchsorted(rows, np.maximum(y, to_y)) - first
    edge = np.repeat(np.arange(len(ring)), crossings)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(crossings) - crossings - first, crossings)
    at = x[edge] + (to_x - x)[edge] * (rows[row] - y[edge]) / (to_y - y)[edge]
    shape = (len(rows), len(columns) + 1)
    begins = np.ravel_multi_index((row, np.searchsorted(columns, at)), shape)
    crossed = np.bincount(begins, minlength=shape[0] * shape[1]).reshape(shape)
    return np.asarray(np.cumsum(crossed[:, :-1], axis=1) % 2 == 1)


def _axes(area: BaseGeometry) -> tuple[Floats, Floats]:
    """The columns and rows of the grid, the same on either side of the board's middle."""
    left, bottom, right, top = area.bounds
    step = OFF_GRID * float(np.sqrt((right - left) * (top - bottom) / SPOTS))
    return _axis(left, right, step), _axis(bottom, top, step)


def _axis(low: float, high: float, step: float) -> Floats:
    count = 2 * int(np.ceil((high - low) / step / 2))
    return np.asarray((low + high) / 2 + step * (np.arange(count) - (count - 1) / 2))
