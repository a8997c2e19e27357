# SPDX-License-Identifier: MIT
"""Which parts of a net are joined by copper that carries its current, and what is too thin for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from lineworthy.geometry import falls_short
from lineworthy.knowledge.gaps import Layer, Owner, net_of
from lineworthy.knowledge.ipc2221 import barrel_mm2, carried_a, width_mm
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, CopperArea, Part, Track, Via

TOUCH_MM = 1e-3
"""Copper this near is joined: ends of tracks are rounded to a nanometre and more in some documents."""

UM = 1e-3


@dataclass(frozen=True)
class Copper:
    """How much copper there is, and how warm it may get.

    Attributes:
        thickness: mm, by layer.
        plating: mm, in plated holes.
        rise_k: above the board around it.
    """

    thickness: dict[str, float]
    plating: float
    rise_k: float

    @classmethod
    def of(cls, board: Board, copper_um: float, plating_um: float, rise_k: float) -> Copper:
        """From the stack-up where it says a layer's thickness, else as given."""
        stated = {layer.name: layer.thickness for layer in board.stackup.layers if layer.kind == "copper"}
        thickness = {name: stated.get(name) or copper_um * UM for name in board.copper_layers}
        return cls(thickness, plating_um * UM, rise_k)

    def carried(self, board: Board, track: Track) -> float:
        """What a track carries, A."""
        section = track.width * self.thickness[track.layer]
        return carried_a(section, self.rise_k, outer=board.side_of(track.layer) is not None)

    def needed(self, board: Board, layer: str, amps: float) -> float:
        """The width in mm that a current needs on a layer."""
        return width_mm(amps, self.thickness[layer], self.rise_k, outer=board.side_of(layer) is not None)

    def barrel(self, via: Via) -> float:
        """What a via's barrel carries, A, taken as a conductor inside the board."""
        return carried_a(barrel_mm2(via.drill, self.plating), self.rise_k, outer=False)


@dataclass(frozen=True, eq=False)
class Way:
    """How far the current of a net gets.

    Attributes:
        joined: the parts that copper wide enough for it joins, most there are.
        left: the other parts of the net.
        thin: its tracks that are too narrow, narrowest by what it carries first.
        weak: vias that carry too little between two pieces of copper with parts on both, and what they carry in A.
    """

    net: str
    amps: float
    joined: tuple[Part, ...]
    left: tuple[Part, ...]
    thin: tuple[Track, ...]
    weak: tuple[tuple[tuple[Via, ...], float], ...]


def way(board: Board, layers: Sequence[Layer], net: str, amps: float, copper: Copper) -> Way:
    """Follows what is wide enough for `amps`: lands, pours, wide tracks, and vias as far as they carry it together."""
    need = {name: copper.needed(board, name, amps) for name in board.copper_layers}
    tracks = [track for track in board.tracks if track.net == net and track.layer in need]
    thin = [track for track in tracks if falls_short(track.width, need[track.layer])]
    left_out = {id(track) for track in thin}
    joins = _Joins()
    at: dict[int, list[int]] = defaultdict(list)  # nodes of each pad, via
    owners: list[Owner] = []
    for layer in layers:
        shapes, half, mine = _nodes(layer, net, left_out)
        first = len(owners)
        owners += mine
        joins.add(len(mine))
        for i, j in _touching(shapes, half):
            joins.join(first + i, first + j)
        for n, owner in enumerate(mine, first):
            at[id(owner[1]) if isinstance(owner, tuple) else id(owner)].append(n)
    for owner in {id(owner): owner for owner in owners if isinstance(owner, tuple)}.values():
        for one, other in zip(at[id(owner[1])], at[id(owner[1])][1:]):
            joins.join(one, other)  # a plated hole with a lead in it
    vias = list({id(owner): owner for owner in owners if isinstance(owner, Via)}.values())
    weak = _through_vias(joins, [(via, at[id(via)], copper.barrel(via)) for via in vias], amps)
    parts: dict[int, dict[str, Part]] = defaultdict(dict)
    for n, owner in enumerate(owners):
        if isinstance(owner, tuple):
            parts[joins.root(n)][owner[0].uid] = owner[0]
    best = max(
        parts.values(), key=lambda some: (len(some), sorted(part.reference for part in some.values())), default={}
    )
    everything = {part.uid: part for part, _ in board.pads_by_net.get(net, ())}
    thin.sort(key=lambda track: (round(copper.carried(board, track), 6), track.layer, track.uid))
    return Way(
        net,
        amps,
        _ordered(best.values()),
        _ordered(part for uid, part in everything.items() if uid not in best),
        tuple(thin),
        tuple(found for pair, found in weak if all(parts.get(root) for root in pair)),
    )


def _ordered(parts: Iterable[Part]) -> tuple[Part, ...]:
    return tuple(sorted(parts, key=lambda part: (natural(part.reference), part.uid)))


def _nodes(layer: Layer, net: str, left_out: set[int]) -> tuple[list[shapely.Geometry], list[float], list[Owner]]:
    """The copper of a net on a layer that can carry its current; a pour is one piece for each island of it."""
    shapes: list[shapely.Geometry] = []
    half: list[float] = []
    owners: list[Owner] = []
    poured: set[int] = set()
    for shape, reach, owner in zip(layer.shapes, layer.half, layer.owners):
        if net_of(owner) != net or id(owner) in left_out or id(owner) in poured:
            continue
        pieces = [shape]
        if isinstance(owner, CopperArea):
            poured.add(id(owner))
            pieces = list(shapely.get_parts(owner.fill))
        shapes += pieces
        half += [float(reach)] * len(pieces)
        owners += [owner] * len(pieces)
    return shapes, half, owners


def _touching(shapes: Sequence[shapely.Geometry], half: Sequence[float]) -> list[tuple[int, int]]:
    if not shapes:
        return []
    pieces, reach = np.array(shapes, dtype=object), np.array(half)
    bounds = shapely.bounds(pieces) + (reach + TOUCH_MM)[:, None] * (-1.0, -1.0, 1.0, 1.0)
    boxes = np.asarray(shapely.box(*bounds.T), dtype=object)
    i, j = shapely.STRtree(boxes).query(boxes)
    i, j = i[i < j], j[i < j]
    near = shapely.distance(pieces[i], pieces[j]) - reach[i] - reach[j] <= TOUCH_MM
    return list(zip(i[near].tolist(), j[near].tolist()))


def _through_vias(
    joins: _Joins, vias: Sequence[tuple[Via, Sequence[int], float]], amps: float
) -> list[tuple[tuple[int, int], tuple[tuple[Via, ...], float]]]:
    """Joins what vias join that carry the current together; returns those that do not, with the two pieces between."""
    while True:
        groups: dict[tuple[int, int], dict[int, tuple[Via, float]]] = defaultdict(dict)
        for via, nodes, carries in vias:
            for pair in combinations(sorted({joins.root(n) for n in nodes}), 2):
                groups[pair][id(via)] = (via, carries)
        strong = [pair for pair, some in groups.items() if not falls_short(_together(some.values()), amps)]
        if not strong:
            return [
                (pair, (tuple(via for via, _ in some.values()), _together(some.values())))
                for pair, some in sorted(groups.items())
            ]
        for pair in strong:
            joins.join(*pair)


def _together(vias: Iterable[tuple[Via, float]]) -> float:
    return sum(carries for _, carries in vias)


class _Joins:
    """Which nodes are joined."""

    def __init__(self) -> None:
        self._above: list[int] = []

    def add(self, count: int) -> None:
        """More nodes, each by itself."""
        self._above += range(len(self._above), len(self._above) + count)

    def root(self, node: int) -> int:
        """The node that stands for all joined with this one."""
        while self._above[node] != node:
            self._above[node] = self._above[self._above[node]]
            node = self._above[node]
        return node

    def join(self, one: int, other: int) -> None:
        """Joins two nodes and all that hang on them."""
        self._above[self.root(one)] = self.root(other)
