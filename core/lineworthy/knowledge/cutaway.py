# SPDX-License-Identifier: MIT
"""Copper as the edges and cut-outs of the board leave it: what crosses them is in pieces."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Indices, edges, objects
from lineworthy.knowledge.gaps import Layer, Owner
from lineworthy.model import Board, CopperArea, Graphic, Pad, PadKind, PadRole, Track, Via
from lineworthy.shapes import ARC_TOL_MM

CRUMB_MM2 = 1e-6
"""Smaller pieces are rounding."""


def cut_away(board: Board, copper: Sequence[Layer]) -> tuple[Layer, ...]:
    """The copper of each layer, tracks and drawings cut where they cross the edge, and holes that are milled away.

    Each piece that is left is by itself: its owner is a copy, so that it is taken for an item of its own. A land whose
    hole is gone is left as the point where its hole was. Surface lands are not cut, as some reach over the edge on
    purpose, nor are pours, which mostly go round a cut-out; what lies wholly off the board stays as it is. Where the
    outline is not closed, or edges are plated, nothing is known to be cut.
    """
    if not board.outline.is_closed or board.stackup.edge_plated:
        return tuple(copper)
    area = board.outline.area
    shapely.prepare(area)
    rims = shapely.STRtree(edges(shapely.get_parts(area)).lines)
    return tuple(_cut(board, layer, area, np.unique(_crossing(layer, rims))) for layer in copper)


def _crossing(layer: Layer, rims: shapely.STRtree) -> Indices:
    """Pieces of a layer that an edge comes into."""
    bounds = shapely.bounds(layer.shapes).reshape(-1, 4) + layer.half[:, None] * (-1.0, -1.0, 1.0, 1.0)
    boxes = np.asarray(shapely.box(*bounds.T), dtype=object)
    rows, rim = rims.query(boxes)
    kept = ~layer.is_pour[rows]
    rows, rim = rows[kept], rim[kept]
    inside = shapely.distance(layer.shapes[rows], rims.geometries[rim]) < layer.half[rows]
    return np.asarray(rows[inside | shapely.intersects(layer.shapes[rows], rims.geometries[rim])])


def _cut(board: Board, layer: Layer, area: BaseGeometry, crossing: Indices) -> Layer:
    left = {n: found for n in crossing.tolist() if (found := _left(board, layer, n, area)) is not None}
    if not left:
        return layer
    kept = np.setdiff1d(np.arange(len(layer.owners)), list(left))
    more = [(shape, owner, layer.net[n]) for n, found in left.items() for shape, owner in found]
    return Layer(
        layer.name,
        np.concatenate([layer.shapes[kept], objects(shape for shape, _, _ in more)]),
        np.concatenate([layer.half[kept], np.zeros(len(more))]),
        np.concatenate([layer.net[kept], np.array([net for _, _, net in more], dtype=np.intp)]),
        [*(layer.owners[n] for n in kept.tolist()), *(owner for _, owner, _ in more)],
    )


def _left(board: Board, layer: Layer, n: int, area: BaseGeometry) -> Optional[list[tuple[BaseGeometry, Owner]]]:
    """What the edge leaves of one piece of copper, and whose it is; None where it stays whole."""
    owner, shape = layer.owners[n], layer.shapes[n]
    if isinstance(owner, CopperArea):
        return None
    gone: list[tuple[BaseGeometry, Owner]] = []
    if isinstance(owner, tuple):
        hole = owner[1].hole
        if hole is None or not hole_gone(board, owner[1]):
            return None
        gone = [(shapely.Point(hole.at), owner)]
    elif isinstance(owner, Via) and _is_on(area, owner.at):
        return None
    solid = shapely.buffer(shape, layer.half[n]) if layer.half[n] else shape
    parts = [part for part in shapely.get_parts(shapely.intersection(solid, area)) if part.area > CRUMB_MM2]
    if isinstance(owner, Track) and len(parts) == 1 and area.covers(shapely.MultiPoint(owner.path[[0, -1]])):
        return None  # only grazed
    if isinstance(owner, Graphic) and len(parts) == len(shapely.get_parts(shape)):
        return None
    return [*gone, *((part, _copy(owner)) for part in parts)]


def _copy(owner: Owner) -> Owner:
    if isinstance(owner, tuple):
        return owner[0], dataclasses.replace(owner[1])
    return dataclasses.replace(owner)


def hole_gone(board: Board, pad: Pad) -> bool:
    """Whether the middle of a plated hole lies off the board, so that no wall of it is left.

    Not so for half holes, which are made after the plating, nor for a slot that is drawn into the land as a cut-out.
    """
    hole, area = pad.hole, board.outline.area
    if hole is None or not hole.plated or pad.role is PadRole.CASTELLATED or pad.kind is PadKind.CONNECTOR:
        return False
    if _is_on(area, hole.at) or (board.stackup.castellated and area.intersects(hole.shape)):
        return False
    spot = shapely.Point(hole.at)
    slots = [ring for part in shapely.get_parts(area) for ring in part.interiors if Polygon(ring).contains(spot)]
    return not any(land.covers(slot) for slot in slots for land in pad.copper.values())


def _is_on(area: BaseGeometry, at: tuple[float, float]) -> bool:
    """Whether a spot is on the board, or so near to its edge that half of a hole there is."""
    return bool(area.distance(shapely.Point(at)) <= ARC_TOL_MM)
