# SPDX-License-Identifier: MIT
"""The solder mask: its openings, the webs of mask left between them, and copper they bare besides their own land."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Indices, objects, pairs_within
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.gaps import Layer, Owner, net_of, part_uid_of
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.legible import COVERED_HOLE_MAX_MM
from lineworthy.model import Board, Graphic, LayerKind, Pad, PadRole, Part, Side, Track, Via
from lineworthy.shapes import Point, disc

OpeningOwner = Union[tuple[Part, Pad], Via, Track, Graphic]

UNDER_MM = 1e-3
"""Mask no wider than this is none: a third opening that takes more of a way bridges it."""


@dataclass(frozen=True, eq=False)
class Web:
    """Mask between two openings of one side: its width in mm, 0 where the openings run into each other."""

    side: Side
    width: float
    at: Point
    one: OpeningOwner
    other: OpeningOwner

    @property
    def parts(self) -> tuple[Optional[Part], Optional[Part]]:
        """The parts the openings belong to, None for vias, tracks and drawings of the board."""
        return (part_of(self.one), part_of(self.other))


@dataclass(frozen=True, eq=False)
class Bared:
    """Copper of another net in an opening, or `gap` mm beside it."""

    side: Side
    gap: float
    at: Point
    opening: OpeningOwner
    copper: Owner


@dataclass(frozen=True, eq=False)
class Openings:
    """All openings of one side: `shapes[i]` is one hole in the mask, made for `owners[i]`."""

    shapes: npt.NDArray[np.object_]
    owners: list[OpeningOwner]

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The index over `shapes`."""
        return shapely.STRtree(self.shapes)


class Mask:
    """The solder mask of one board. Vias and tracks are open as far as their own copper, pads as the board says."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._openings: dict[Side, Openings] = {}

    def openings(self, side: Side) -> Openings:
        """Every opening of a side."""
        if side not in self._openings:
            rows = [
                (piece, owner)
                for shape, owner in _opened(self._board, side)
                for piece in (shapely.get_parts(shape) if shape.geom_type != "Polygon" else (shape,))
                if piece.area > 0.0
            ]
            shapes = objects(shape for shape, _ in rows)
            self._openings[side] = Openings(shapes, [owner for _, owner in rows])
        return self._openings[side]

    def soldered(self, side: Side) -> Indices:
        """Which of a side's openings are over lands that get solder: paste, or a lead through a plated hole."""
        owners = self.openings(side).owners
        wet = [n for n, owner in enumerate(owners) if isinstance(owner, tuple) and takes_solder(owner[1], side)]
        return np.array(wet, dtype=np.intp)

    def webs_below(self, side: Side, limit: float) -> list[Web]:
        """Every web of mask narrower than `limit` mm, and every pair of openings without one, narrowest first.

        Openings that run into each other are one hole in the mask, whoever drew them: between two such holes there is
        one web, told where it is narrowest. Where a third opening lies between two, there is none between these two.
        """
        openings = self.openings(side)
        i, j, width = pairs_within(openings.shapes, None, limit)
        near = width < limit - TOL_MM
        i, j, width = i[near], j[near], np.where(width[near] > UNDER_MM, width[near], 0.0)
        ways = shapely.shortest_line(openings.shapes[i], openings.shapes[j])
        kept = np.flatnonzero(~_bridged(openings, i, j, ways))
        kept = kept[_narrowest(len(openings.shapes), i[kept], j[kept], width[kept])]
        places = shapely.get_coordinates(ways).reshape(-1, 2, 2).mean(axis=1)
        found = [
            Web(side, float(width[n]), _point(places[n]), openings.owners[i[n]], openings.owners[j[n]]) for n in kept
        ]
        return sorted(found, key=lambda web: (round(web.width, 6), web.at))

    def bared(self, copper: Layer, reach: float) -> list[Bared]:
        """Copper of other nets than an opening's own that lies less than `reach` mm from it, nearest first."""
        side = self._board.side_of(copper.name)
        if side is None:
            return []
        openings = self.openings(side)
        i, j, gap = _near(side, openings, copper, reach)
        kept = [n for n in range(len(i)) if not _touches(openings.owners[i[n]], copper, int(j[n]))]
        i, j, gap = i[kept], j[kept], gap[kept]
        ways = shapely.shortest_line(openings.shapes[i], copper.shapes[j])
        spots = shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 0]
        found = [
            Bared(side, float(gap[n]), _point(spots[n]), openings.owners[i[n]], copper.owners[j[n]])
            for n in range(len(i))
        ]
        return sorted(found, key=lambda one: (round(one.gap, 6), one.at))


def _near(
    side: Side, openings: Openings, copper: Layer, reach: float
) -> tuple[Indices, Indices, npt.NDArray[np.float64]]:
    """Pairs of an opening and a piece of copper not meant to be bare, nearer than `reach`, and how far apart."""
    grown = (copper.half + reach)[:, None] * (-1.0, -1.0, 1.0, 1.0)
    boxes = shapely.box(*(shapely.bounds(copper.shapes) + grown).T)
    j, i = openings.tree.query(boxes)
    pairs = zip(i.tolist(), j.tolist())
    kept = [n for n, (a, b) in enumerate(pairs) if not _is_meant(side, openings.owners[a], copper.owners[b])]
    i, j = i[kept], j[kept]
    gap = np.maximum(shapely.distance(openings.shapes[i], copper.shapes[j]) - copper.half[j], 0.0)
    near = gap < reach - TOL_MM
    return i[near], j[near], gap[near]


def _touches(opening: OpeningOwner, copper: Layer, n: int) -> bool:
    """Whether the land itself touches the copper: a short, with or without an opening over it."""
    land = opening[1].copper.get(copper.name) if isinstance(opening, tuple) else None
    return land is not None and bool(land.distance(copper.shapes[n]) <= copper.half[n])


def takes_solder(pad: Pad, side: Side) -> bool:
    """Whether a pad gets paste on a side, or a lead; the small holes of vias that are placed as pads get neither."""
    lead = pad.hole is not None and pad.hole.plated and pad.hole.diameter > COVERED_HOLE_MAX_MM
    return side in pad.paste or (lead and pad.role is not PadRole.CASTELLATED)


def part_of(owner: OpeningOwner) -> Optional[Part]:
    """The part whose land an opening is for; None for other openings."""
    return owner[0] if isinstance(owner, tuple) else None


def _is_meant(side: Side, opening: OpeningOwner, copper: Owner) -> bool:
    """Copper that is to be bare there, leads nowhere, or is a land with its own opening: another question."""
    if net_of(copper) == "" or (isinstance(copper, tuple) and side in copper[1].mask):
        return True
    part = part_uid_of(opening)
    return net_of(opening) == net_of(copper) or (part != "" and part == part_uid_of(copper))


def _point(xy: npt.NDArray[np.float64]) -> Point:
    return float(xy[0]), float(xy[1])


def _bridged(openings: Openings, i: Indices, j: Indices, ways: npt.NDArray[np.object_]) -> npt.NDArray[np.bool_]:
    bridged = np.zeros(len(i), dtype=bool)
    n, k = openings.tree.query(ways, predicate="intersects")
    third = (k != i[n]) & (k != j[n])
    n, k = n[third], k[third]
    taken = shapely.length(shapely.intersection(ways[n], openings.shapes[k]))
    bridged[n[taken > UNDER_MM]] = True
    return bridged


def _narrowest(count: int, i: Indices, j: Indices, width: npt.NDArray[np.float64]) -> list[int]:
    """Which pairs of `count` openings to tell: all that touch, and one for any two holes that they make together."""
    joins = Joins()
    joins.add(count)
    touching = width <= 0.0
    joins.join_all(zip(i[touching].tolist(), j[touching].tolist()))
    told = np.flatnonzero(touching).tolist()
    seen: set[frozenset[int]] = set()
    for n in np.lexsort((j, i, np.round(width, 6))).tolist():
        holes = frozenset((joins.root(int(i[n])), joins.root(int(j[n]))))
        if not touching[n] and len(holes) == 2 and holes not in seen:
            seen.add(holes)
            told.append(n)
    return told


def _opened(board: Board, side: Side) -> Iterator[tuple[BaseGeometry, OpeningOwner]]:
    for item in board.pads:
        if side in item[1].mask:
            yield item[1].mask[side], item
    outer = board.copper_on(side)
    for via in board.vias:
        if side not in via.tented and outer in spanned(board, via):
            yield disc(via.at, via.diameter_on(outer)), via
    for track in board.tracks:
        if track.mask_opened and track.layer == outer:
            yield shapely.LineString(track.path).buffer(track.width / 2), track
    for graphic in board.graphics:
        if graphic.layer.kind is LayerKind.MASK and graphic.layer.side is side:
            yield graphic.shape, graphic
