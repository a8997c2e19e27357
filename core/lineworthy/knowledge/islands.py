# SPDX-License-Identifier: MIT
"""Pieces of pours that nothing joins to the rest of their net."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon

from lineworthy.geometry import TOL_MM, Floats
from lineworthy.knowledge.gaps import Layer, net_of
from lineworthy.model import Board, CopperArea
from lineworthy.shapes import healed

_Piece = tuple[CopperArea, Floats]


class Island(NamedTuple):
    """One filled piece of a pour that touches no pad, via, track or drawing of its net; `size` in mm2."""

    area: CopperArea
    ring: Floats
    size: float

    @property
    def at(self) -> tuple[float, float]:
        """A point on it."""
        spot = healed(Polygon(self.ring)).representative_point()
        return (spot.x, spot.y)


def islands(board: Board, copper: Sequence[Layer]) -> list[Island]:
    """All of them, largest first; a pour without a net is one in every piece.

    Copper that belongs to a part is not asked. Pieces of a net that touch each other are joined where one of them is.
    """
    found: list[Island] = []
    for layer in copper:
        pours = [area for area in board.areas if area.layer == layer.name and area.rings and not area.part_uid]
        if pours:
            found += _unjoined(layer, pours)
    return sorted(found, key=lambda island: (-round(island.size, 6), island.area.layer, island.area.uid))


def _unjoined(layer: Layer, pours: Iterable[CopperArea]) -> Iterator[Island]:
    of_net: dict[str, list[int]] = defaultdict(list)
    for n, owner in enumerate(layer.owners):
        if not isinstance(owner, CopperArea):
            of_net[net_of(owner)].append(n)
    by_net: dict[str, list[CopperArea]] = defaultdict(list)
    for area in pours:
        by_net[area.net].append(area)
    for net, areas in by_net.items():
        index = np.array(of_net.get(net, ()) if net else (), dtype=np.intp)
        shapes, half = layer.shapes[index], layer.half[index]
        joined: list[_Piece] = []
        loose: list[_Piece] = []
        for area in areas:
            for ring in area.rings:
                (joined if _touched(ring, shapes, half) else loose).append((area, ring))
        yield from (Island(area, ring, _size(ring)) for area, ring in _still_loose(joined, loose))


def _touched(ring: Floats, shapes: npt.NDArray[np.object_], half: Floats) -> bool:
    """Whether any of these lies on a filled piece or reaches to its edge."""
    if not len(shapes):
        return False
    low, high = ring.min(axis=0), ring.max(axis=0)
    bounds = shapely.bounds(shapes).reshape(-1, 4)
    near = np.flatnonzero(
        (bounds[:, 0] - half <= high[0])
        & (bounds[:, 2] + half >= low[0])
        & (bounds[:, 1] - half <= high[1])
        & (bounds[:, 3] + half >= low[1])
    )
    if not len(near):
        return False
    firsts = _firsts(shapes[near])
    # a ring joined to its holes by cuts is no valid polygon, but inside is inside
    polygon = Polygon(ring)
    shapely.prepare(polygon)
    if shapely.contains_xy(polygon, *firsts.T).any():
        return True
    edge = _closed(ring)
    shapely.prepare(edge)
    reach: Any = half[near] + TOL_MM
    return bool(np.any(shapely.dwithin(edge, shapes[near], reach)))


def _firsts(shapes: npt.NDArray[np.object_]) -> Floats:
    """The first point of each geometry."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    return np.asarray(points[np.searchsorted(owner, np.arange(len(shapes)))])


def _still_loose(joined: Sequence[_Piece], loose: Sequence[_Piece]) -> list[_Piece]:
    """Loose pieces that touch no joined one, directly or through others."""
    left = [(piece, _closed(piece[1])) for piece in loose]
    reached = [_closed(ring) for _, ring in joined] if loose else []
    while left and reached:
        tree = shapely.STRtree(reached)
        hit = set(tree.query([line for _, line in left], predicate="dwithin", distance=TOL_MM)[0].tolist())
        reached = [line for n, (_, line) in enumerate(left) if n in hit]
        left = [one for n, one in enumerate(left) if n not in hit]
    return [piece for piece, _ in left]


def _closed(ring: Floats) -> LineString:
    return LineString(np.vstack([ring, ring[:1]]))


def _size(ring: Floats) -> float:
    x, y = ring.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)
