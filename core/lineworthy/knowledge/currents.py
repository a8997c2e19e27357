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
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.necks import Neck, Parting, parted
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
        narrow: necks of pours with parts on both sides, narrowest first, and the layer each is on.
        unseen: layers with a pour of so many holes that necks of it were not looked for; it counts as wide enough.
    """

    net: str
    amps: float
    joined: tuple[Part, ...]
    left: tuple[Part, ...]
    thin: tuple[Track, ...]
    weak: tuple[tuple[tuple[Via, ...], float], ...]
    narrow: tuple[tuple[str, Neck], ...] = ()
    unseen: tuple[str, ...] = ()


def way(board: Board, layers: Sequence[Layer], net: str, amps: float, copper: Copper) -> Way:
    """Follows what is wide enough for `amps`: lands, wide tracks, pours up to necks, vias as far as they carry it."""
    need = {name: copper.needed(board, name, amps) for name in board.copper_layers}
    tracks = [track for track in board.tracks if track.net == net and track.layer in need]
    thin = [track for track in tracks if falls_short(track.width, need[track.layer])]
    left_out = {id(track) for track in thin}
    joins = Joins()
    at: dict[int, list[int]] = defaultdict(list)  # nodes of each pad, via
    owners: list[Owner] = []
    narrow: list[tuple[str, int, int, Neck]] = []
    unseen: list[str] = []
    for layer in layers:
        shapes, half, mine = _nodes(layer, net, left_out)
        first = joins.add(len(mine))
        owners += mine
        pairs, partings, is_seen = _joined(shapes, half, mine, need[layer.name])
        unseen += [] if is_seen else [layer.name]
        joins.join_all((first + i, first + j) for i, j in pairs)
        narrow += [(layer.name, first + parting.one, first + parting.other, parting.neck) for parting in partings]
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
    # a neck between two pieces that something else joins, or one of them without parts, is none
    between = [(joins.root(one), joins.root(other)) for _, one, other, _ in narrow]
    told = [row for row, (a, b) in zip(narrow, between) if a != b and parts.get(a) and parts.get(b)]
    told.sort(key=lambda row: (round(row[3].width, 6), row[0], row[3].at))
    thin.sort(key=lambda track: (round(copper.carried(board, track), 6), track.layer, track.uid))
    return Way(
        net,
        amps,
        _ordered(best.values()),
        _ordered(part for uid, part in everything.items() if uid not in best),
        tuple(thin),
        tuple(found for pair, found in weak if all(parts.get(root) for root in pair)),
        tuple((layer, neck) for layer, _, _, neck in told),
        tuple(unseen),
    )


def _joined(
    shapes: Sequence[shapely.Geometry], half: Sequence[float], owners: Sequence[Owner], need: float
) -> tuple[list[tuple[int, int]], list[Parting], bool]:
    """Which pieces of a layer are joined by copper of the needed width, and what parts others that a pour joins.

    The last is False where a pour has too many holes to look for its necks.
    """
    touching = _touching(shapes, half)
    is_pour = [isinstance(owner, CopperArea) for owner in owners]
    pairs = [(i, j) for i, j in touching if not is_pour[i] and not is_pour[j]]
    islands = Joins()
    islands.add(len(shapes))
    islands.join_all(touching)
    members: dict[int, list[int]] = defaultdict(list)
    for n in range(len(shapes)):
        members[islands.root(n)].append(n)
    partings: list[Parting] = []
    is_seen = True
    for island in members.values():
        ends = [n for n in island if not is_pour[n]]
        if not 2 <= len(ends) < len(island):
            continue
        copper = dict(zip(island, shapely.buffer([shapes[n] for n in island], [half[n] for n in island])))
        answer = parted(_one_piece(copper.values()), [copper[n] for n in ends], need)
        is_seen = is_seen and answer is not None
        groups, found = answer or ([0] * len(ends), [])
        firsts: dict[int, int] = {}
        pairs += [(firsts.setdefault(group, n), n) for n, group in zip(ends, groups)]
        partings += [Parting(ends[parting.one], ends[parting.other], parting.neck) for parting in found]
    return pairs, partings, is_seen


def _one_piece(shapes: Iterable[shapely.Geometry]) -> shapely.Polygon:
    """The union of shapes that touch; hairs between them are closed."""
    union = shapely.union_all(list(shapes))
    if not isinstance(union, shapely.Polygon):
        union = shapely.union_all(union.buffer(TOUCH_MM))
    pieces: list[shapely.Polygon] = list(shapely.get_parts(union))
    return max(pieces, key=lambda piece: piece.area)


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
    joins: Joins, vias: Sequence[tuple[Via, Sequence[int], float]], amps: float
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
