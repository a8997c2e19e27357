# SPDX-License-Identifier: MIT
"""Pieces of pours that nothing joins to the rest of their net."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon

from lineworthy.geometry import TOL_MM, Floats, first_points
from lineworthy.knowledge.gaps import Layer
from lineworthy.model import CopperArea, Filled
from lineworthy.shapes import healed


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


def islands(copper: Sequence[Layer]) -> list[Island]:
    """All of them, largest first; a pour without a net is one in every piece that touches no copper with a net.

    Copper that belongs to a part is not asked. Pieces of a net that touch each other are joined where one of them is.
    """
    found = [Island(one.area, one.ring, _size(one.ring)) for layer in copper for one in _unjoined(layer)]
    return sorted(found, key=lambda island: (-round(island.size, 6), island.area.layer, island.area.uid))


def _unjoined(layer: Layer) -> Iterator[Filled]:
    by_net: dict[str, list[Filled]] = defaultdict(list)
    for fill in layer.fills:
        if not fill.area.part_uid:
            by_net[fill.area.net].append(fill)
    for net, fills in by_net.items():
        # what a pour without a net touches it joins, pours of nets as well
        index = np.flatnonzero((layer.nets == net) & ~layer.is_pour if net else layer.nets != "")
        joined = [_touched(fill, layer.shapes[index], layer.half[index]) for fill in fills]
        loose = [fill for fill, is_joined in zip(fills, joined) if not is_joined]
        yield from _still_loose([fill for fill, is_joined in zip(fills, joined) if is_joined], loose)


def _touched(fill: Filled, shapes: npt.NDArray[np.object_], half: Floats) -> bool:
    """Whether any of these lies on a filled piece or reaches to its edge."""
    if not len(shapes):
        return False
    bounds = shapely.bounds(shapes).reshape(-1, 4)
    reach = half[:, None]
    near = ((bounds[:, :2] - reach <= fill.high) & (bounds[:, 2:] + reach >= fill.low)).all(axis=1)
    if not near.any():
        return False
    if fill.holds(first_points(shapes[near])).any():
        return True
    edge = _closed(fill.ring)
    shapely.prepare(edge)
    distance: Any = half[near] + TOL_MM
    return bool(np.any(shapely.dwithin(edge, shapes[near], distance)))


def _still_loose(joined: Sequence[Filled], loose: Sequence[Filled]) -> list[Filled]:
    """Loose pieces that touch no joined one, directly or through others."""
    left = [(fill, _closed(fill.ring)) for fill in loose]
    reached = [_closed(fill.ring) for fill in joined] if loose else []
    while left and reached:
        tree = shapely.STRtree(reached)
        hit = set(tree.query([line for _, line in left], predicate="dwithin", distance=TOL_MM)[0].tolist())
        reached = [line for n, (_, line) in enumerate(left) if n in hit]
        left = [one for n, one in enumerate(left) if n not in hit]
    return [fill for fill, _ in left]


def _closed(ring: Floats) -> LineString:
    return LineString(np.vstack([ring, ring[:1]]))


def _size(ring: Floats) -> float:
    x, y = ring.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)
