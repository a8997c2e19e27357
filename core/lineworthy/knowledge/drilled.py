# SPDX-License-Identifier: MIT
"""Every hole of a board as the drill sees it, and how near holes come to each other and to copper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import NamedTuple, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, Indices, objects, spine
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.gaps import WIDE_MM, Layer, Owner, part_uid_of
from lineworthy.knowledge.wording import pad_name
from lineworthy.model import Board, CopperArea, Pad, PadKind, Part, Via
from lineworthy.shapes import ARC_TOL_MM, Point

STATED_MIN_MM = 0.01
"""A smaller drill stands for "not decided yet": no tool is that thin (ten micrometres)."""

ROW_MIN_COUNT = 3
"""Bare holes that make up a part by themselves: from here on a perforation to break along, not pegs of a part."""

Bools = npt.NDArray[np.bool_]


class Bore(NamedTuple):
    """One hole: a pad's or a via's.

    `way` is where the middle of the drill goes, a point or for a slot a line; `first` and `last` are the indices of the
    copper layers it goes between; `lasered` ones go through one dielectric of several and are burned, not drilled.
    """

    item: Union[tuple[Part, Pad], Via]
    at: Point
    size: tuple[float, float]
    plated: bool
    net: str
    way: BaseGeometry
    first: int
    last: int
    lasered: bool = False

    @property
    def diameter(self) -> float:
        """The smaller dimension, which the drill or cutter must have, mm."""
        return min(self.size)

    @property
    def is_slot(self) -> bool:
        """True for an oblong hole."""
        return abs(self.size[0] - self.size[1]) > 1e-6

    @property
    def is_stated(self) -> bool:
        """Whether the document gives a size a tool can have."""
        return self.diameter >= STATED_MIN_MM

    @property
    def part(self) -> Optional[Part]:
        """The part it belongs to, None for a via."""
        return self.item[0] if isinstance(self.item, tuple) else None

    @property
    def is_perforation(self) -> bool:
        """Whether its part is nothing but a row of bare holes."""
        pads = () if self.part is None else self.part.pads
        bare = (pad.hole is not None and not pad.hole.plated and not pad.copper for pad in pads)
        return len(pads) >= ROW_MIN_COUNT and all(bare)

    @property
    def via(self) -> Optional[Via]:
        """The via, None for a hole of a part."""
        return None if isinstance(self.item, tuple) else self.item

    @property
    def uid(self) -> str:
        """The editor's id of the pad or via."""
        return self.item[1].uid if isinstance(self.item, tuple) else self.item.uid

    @property
    def name(self) -> str:
        """What to call it in a list of places."""
        if isinstance(self.item, tuple):
            part, pad = self.item
            return pad_name(part.reference, pad.number) or "hole"
        return f"via {self.net}".strip()


def bores(board: Board) -> Iterator[Bore]:
    """Holes of parts, then vias, those without a sensible size as well."""
    last = len(board.copper_layers) - 1
    for part, pad in board.pads:
        if pad.hole is not None:
            hole = pad.hole
            yield Bore((part, pad), hole.at, hole.size, hole.plated, pad.net, spine(hole), 0, last)
        elif pad.kind is PadKind.THROUGH:
            yield Bore((part, pad), pad.at, (0.0, 0.0), True, pad.net, shapely.Point(pad.at), 0, last)
    points = np.asarray(shapely.points(np.array([via.at for via in board.vias]).reshape(-1, 2)), dtype=object)
    order = {name: index for index, name in enumerate(board.copper_layers)}
    for via, point in zip(board.vias, points):
        through = spanned(board, via)
        first, end = order.get(through[0], 0), order.get(through[-1], last)
        lasered = end - first == 1 and last > 1
        yield Bore(via, via.at, (via.drill, via.drill), True, via.net, point, first, end, lasered)


class NearCopper(NamedTuple):
    """Copper near the wall of a hole: `width` mm, 0 where the hole cuts it; `at` is where the copper begins."""

    bore: Bore
    owner: Owner
    layer: str
    width: float
    at: Point


class Drilled:
    """The holes with a sensible size, and what is measured from their walls.

    Holes are exact here: a point or line, and a radius.
    """

    def __init__(self, board: Board) -> None:
        self._board = board
        every = tuple(bores(board))
        self.unstated = tuple(bore for bore in every if not bore.is_stated)
        self.bores = tuple(bore for bore in every if bore.is_stated)
        self._ways = objects(bore.way for bore in self.bores)
        self._radius = np.array([bore.diameter / 2 for bore in self.bores])
        self._first = np.array([bore.first for bore in self.bores], dtype=np.intp)
        self._last = np.array([bore.last for bore in self.bores], dtype=np.intp)
        self._plated = np.array([bore.plated for bore in self.bores], dtype=bool)
        # numbers compare faster than names
        self._numbers = {net: n for n, net in enumerate(dict.fromkeys(["", *(bore.net for bore in self.bores)]))}
        self._net = np.array([self._numbers[bore.net] for bore in self.bores], dtype=np.intp)
        self._trees: dict[float, shapely.STRtree] = {}

    @cached_property
    def _bounds(self) -> Floats:
        """(n, 4) boxes round the holes."""
        return _grown(shapely.bounds(self._ways).reshape(-1, 4), self._radius)

    def pairs_below(self, limit: float) -> list[tuple[Bore, Bore, float]]:
        """Pairs of holes with less than `limit` mm between their walls, nearest first; below 0 they overlap.

        Holes that share no dielectric, as stacked blind vias do, are no pair.
        """
        i, j = self._tree(limit).query(_boxes(self._bounds))
        shared = np.minimum(self._last[i], self._last[j]) > np.maximum(self._first[i], self._first[j])
        single = len(self._board.copper_layers) == 1
        kept = (i < j) & (shared | single)
        i, j = i[kept], j[kept]
        width = shapely.distance(self._ways[i], self._ways[j]) - self._radius[i] - self._radius[j]
        found = [(self.bores[a], self.bores[b], float(w)) for a, b, w in zip(i, j, width) if w < limit - TOL_MM]
        return sorted(found, key=lambda pair: (round(pair[2], 6), pair[0].at, pair[1].at))

    def near_copper(self, layers: Sequence[Layer], outer: float, inner: float) -> list[NearCopper]:
        """Copper of others nearer to a hole's wall than `outer` or `inner` mm, by layer, nearest first.

        Copper of the hole's own net is its own, and so are the lands and drawings of its part round a bare hole. Pours
        are known within `ARC_TOL_MM`, and that much is granted.
        """
        found: list[NearCopper] = []
        if not self.bores:
            return found
        for layer in layers:
            limit = inner if self._board.side_of(layer.name) is None else outer
            found += self._near_on(layer, limit)
        return sorted(found, key=lambda one: (round(one.width, 6), one.layer, one.bore.at, one.at))

    def _near_on(self, layer: Layer, limit: float) -> Iterator[NearCopper]:
        index = self._board.copper_layers.index(layer.name)
        there = (self._first <= index) & (index <= self._last)
        i, j = self._neighbours(layer, limit)
        owners = layer.owners
        nets = np.array([self._numbers.get(net, -1) for net in layer.nets], dtype=np.intp)
        kept = there[j] & self._is_other_net(j, nets[i])
        i, j = i[kept], j[kept]
        width = shapely.distance(layer.shapes[i], self._ways[j]) - layer.half[i] - self._radius[j]
        grant = np.where(layer.is_pour[i], ARC_TOL_MM, 0.0)
        near = np.flatnonzero(width < limit - grant - TOL_MM)
        bare = near[~self._plated[j[near]]]
        near = np.setdiff1d(near, [n for n in bare.tolist() if self._is_own_part(j[n], owners[i[n]])])
        i, j, width = i[near], j[near], np.maximum(width[near], 0.0)
        # a pour comes in many stretches: only its nearest counts
        numbers: dict[int, int] = {}
        whose = np.array([numbers.setdefault(id(owners[n]), len(numbers)) for n in i], dtype=np.intp)
        order = np.lexsort((width, whose, j))
        first = np.ones(len(order), dtype=bool)
        first[1:] = (np.diff(j[order]) != 0) | (np.diff(whose[order]) != 0)
        i, j, width = (column[order[first]] for column in (i, j, width))
        ends = shapely.get_coordinates(shapely.shortest_line(self._ways[j], layer.shapes[i]))
        start, step = ends[::2], ends[1::2] - ends[::2]
        away = np.hypot(*step.T)
        # to where the copper begins, not to the middle of a track
        spots = start + step * ((self._radius[j] + width) / np.where(away > 0.0, away, np.inf))[:, None]
        midst = {(n, id(area)): area for n, area in self._swallowed(layer, np.flatnonzero(there))}
        for a, b, wide, (x, y) in zip(i, j, width, spots):
            inside = midst.pop((b, id(owners[a])), None) is not None
            at = self.bores[b].at if inside else (float(x), float(y))
            yield NearCopper(self.bores[b], owners[a], layer.name, 0.0 if inside else float(wide), at)
        for (n, _), area in midst.items():
            yield NearCopper(self.bores[n], area, layer.name, 0.0, self.bores[n].at)

    def _neighbours(self, layer: Layer, limit: float) -> tuple[Indices, Indices]:
        """Pieces of copper and holes whose boxes come within `limit`: few pieces reach far, so they are asked apart."""
        wide = layer.half > WIDE_MM
        narrow, large = np.flatnonzero(~wide), np.flatnonzero(wide)
        bounds = shapely.bounds(layer.shapes[large]).reshape(-1, 4)
        i, j = self._tree(limit + WIDE_MM).query(layer.shapes[narrow])
        k, m = self._tree(limit + WIDE_MM).query(_boxes(_grown(bounds, layer.half[large])))
        return np.concatenate([narrow[i], large[k]]), np.concatenate([j, m])

    def _tree(self, reach: float) -> shapely.STRtree:
        """The holes by their boxes, `reach` mm larger on all sides."""
        if reach not in self._trees:
            self._trees[reach] = shapely.STRtree(_boxes(_grown(self._bounds, reach)))
        return self._trees[reach]

    def _is_other_net(self, holes: Indices, nets: Union[int, Indices]) -> Bools:
        """Whether copper of these nets, by number, is of another than the holes'. Where both lack one, nobody minds."""
        ours = self._net[holes]
        return np.asarray((ours != nets) | ~(self._plated[holes] | (ours != self._numbers[""])), dtype=bool)

    def _is_own_part(self, hole: int, owner: Owner) -> bool:
        """Whether copper and a bare hole belong to the same part; a plated one has its net."""
        part = self.bores[hole].part
        return part is not None and not self._plated[hole] and part.uid != "" and part.uid == part_uid_of(owner)

    def _swallowed(self, layer: Layer, there: Indices) -> Iterator[tuple[int, CopperArea]]:
        """Holes in the midst of a pour that is not theirs, near to an edge of it or far."""
        spots = np.array([self.bores[n].at for n in there]).reshape(-1, 2)
        for fill in layer.fills:
            foreign = np.flatnonzero(self._is_other_net(there, self._numbers.get(fill.area.net, -1)))
            for n in there[foreign[fill.holds(spots[foreign])]].tolist():
                if not self._is_own_part(n, fill.area):
                    yield n, fill.area


def _grown(bounds: Floats, by: Union[float, Floats]) -> Floats:
    margin = np.broadcast_to(np.asarray(by), (len(bounds),))[:, None]
    return np.hstack([bounds[:, :2] - margin, bounds[:, 2:] + margin])


def _boxes(bounds: Floats) -> npt.NDArray[np.object_]:
    return np.asarray(shapely.box(*bounds.T), dtype=object)
