# SPDX-License-Identifier: MIT
"""Copper areas that are thinner somewhere than copper can be etched: necks, tongues and webs of pours and drawings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Union

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import falls_short, objects
from lineworthy.knowledge.gaps import Layer, net_of
from lineworthy.knowledge.milling import DEEP_MM, thin
from lineworthy.model import CopperArea, Graphic
from lineworthy.shapes import ARC_TOL_MM, Point

GRANT_MM = 2 * ARC_TOL_MM
"""Both walls of a curved neck are known within `ARC_TOL_MM`."""

Owner = Union[CopperArea, Graphic]


class Sliver(NamedTuple):
    """Where a pour or drawing is only `width` mm wide."""

    owner: Owner
    layer: str
    width: float
    at: Point


def slivers(layer: Layer, width: float) -> list[Sliver]:
    """Places of one layer's pours and drawings below `width` mm, thinnest first.

    Pours that the document itself keeps wider are not looked at, which spares nearly all of the work. A place that lies
    on other copper of the same net, as the tip of a teardrop does on its track, is none.
    """
    below = width - GRANT_MM
    owners = _owners(layer, below)
    shapes = objects(owner.shape if isinstance(owner, Graphic) else owner.fill for owner in owners)
    found = [
        Sliver(owners[n], layer.name, spot.width, spot.at)
        for n in _suspects(layer, owners, shapes, below)
        for spot in thin(shapes[n], below)
    ]
    lone = _alone(layer, [sliver.owner for sliver in found], [sliver.at for sliver in found])
    return sorted((found[n] for n in np.flatnonzero(lone)), key=lambda sliver: (round(sliver.width, 6), sliver.at))


def _owners(layer: Layer, width: float) -> list[Owner]:
    areas = dict.fromkeys(owner for owner in layer.owners if isinstance(owner, (CopperArea, Graphic)))
    return [
        one for one in areas if isinstance(one, Graphic) or one.min_width is None or falls_short(one.min_width, width)
    ]


def _suspects(layer: Layer, owners: Sequence[Owner], shapes: npt.NDArray[np.object_], width: float) -> Sequence[int]:
    """Which of many small shapes deserve a close look: those that a rolling circle does not fill, or with holes."""
    radius = width / 2
    opened = shapely.buffer(shapely.buffer(shapes, -radius), radius)
    left, whose = shapely.get_parts(shapely.buffer(shapely.difference(shapes, opened), -DEEP_MM / 2), return_index=True)
    kept = ~shapely.is_empty(left)
    left, whose = left[kept], whose[kept]
    spots = shapely.get_coordinates(shapely.point_on_surface(left))
    lone = _alone(layer, [owners[n] for n in whose], [(float(x), float(y)) for x, y in spots])
    holed = [n for n, shape in enumerate(shapes) if shapely.get_num_interior_rings(shapely.get_parts(shape)).any()]
    return sorted({*whose[lone].tolist(), *holed})


def _alone(layer: Layer, owners: Sequence[Owner], spots: Sequence[Point]) -> npt.NDArray[np.bool_]:
    """Whether no other copper of the same net lies at each spot, which would make the place as wide as it is itself."""
    alone = np.ones(len(spots), dtype=bool)
    if len(spots):
        points = np.asarray(shapely.points(np.array(spots)), dtype=object)
        i, j = shapely.STRtree(points).query(layer.shapes, predicate="dwithin", distance=layer.half)
        for piece, spot in zip(i, j):
            other = layer.owners[piece]
            if other is not owners[spot] and net_of(other) == owners[spot].net:
                alone[spot] = False
    return alone
