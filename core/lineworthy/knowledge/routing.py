# SPDX-License-Identifier: MIT
"""What copper joins on a board, and which nets are in pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import TOL_MM, Floats, Indices, first_points
from lineworthy.knowledge.copper import CHUNK
from lineworthy.knowledge.gaps import Layer, Owner, called
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, CopperArea, Pad, Part
from lineworthy.shapes import Point

NM = 1e-6

Land = tuple[Part, Pad]
Flags = npt.NDArray[np.bool_]


class Torn(NamedTuple):
    """A net in pieces: the pads of each piece, the one with the most pads first."""

    net: str
    pieces: tuple[tuple[Land, ...], ...]


class OpenEnd(NamedTuple):
    """Where a piece of a net comes nearest to the rest of it: a point on it, the copper on both sides, mm between."""

    at: Point
    layer: str
    one: Owner
    other: Owner
    width: float


class Routing:
    """What is joined on a board.

    Copper of one net is joined where it touches, on all layers that an item is on, and by copper without a net that
    lies between, such as the bridge of a solder jumper; pads that a part is said to join are joined. A pour that is not
    filled counts as if it were.

    Attributes:
        nodes: for each layer of the copper, the node in `joined` of each of its pieces.
    """

    def __init__(self, board: Board, copper: Sequence[Layer]) -> None:
        self._board, self._copper = board, copper
        self.joined = Joins()
        self._item: dict[int, int] = {}
        self._poured: dict[str, list[int]] = {}  # of each layer, in the order of its filled pieces
        self.nodes = [self._numbered(layer) for layer in copper]
        for layer, nodes in zip(copper, self.nodes):
            self._join_ends(layer, nodes)
        for part in board.parts:
            for numbers in part.joined:
                inside = [self._item[id(pad)] for pad in part.pads if pad.number in numbers and id(pad) in self._item]
                self.joined.join_all(zip(inside, inside[1:]))
        # most tracks end on the very point where the next thing begins: only what that leaves open is measured
        for step in (self._join_poured, self._join_touching, self._join_unpoured):
            open_nets = {net for net, lands in board.pads_by_net.items() if len(self._roots(lands)) > 1}
            for layer, nodes in zip(copper, self.nodes) if open_nets else ():
                step(layer, nodes, np.flatnonzero(_asked(layer, open_nets)))

    def torn(self) -> list[Torn]:
        """The nets whose pads are not all joined, in natural order."""
        found = [
            Torn(net, self.pieces(lands))
            for net, lands in self._board.pads_by_net.items()
            if len(self._roots(lands)) > 1
        ]
        return sorted(found, key=lambda torn: natural(torn.net))

    def pieces(self, lands: Sequence[Land]) -> tuple[tuple[Land, ...], ...]:
        """Pads sorted by what is joined, most first; pads without copper are left out."""
        ordered = [tuple(sorted(group, key=_by_name)) for group in self._roots(lands).values()]
        return tuple(sorted(ordered, key=lambda group: (-len(group), _by_name(group[0]))))

    def _roots(self, lands: Sequence[Land]) -> dict[int, list[Land]]:
        groups: dict[int, list[Land]] = {}
        for land in lands:
            node = self._item.get(id(land[1]))
            if node is not None:
                groups.setdefault(self.joined.root(node), []).append(land)
        return groups

    def open_ends(self, torn: Torn) -> list[OpenEnd]:
        """For each piece of a net but the first, where it comes nearest to other copper of the net."""
        rows = [
            (layer, n, self.joined.root(int(nodes[n])))
            for layer, nodes in zip(self._copper, self.nodes)
            for n in np.flatnonzero(layer.nets == torn.net)
        ]
        shapes = np.array([layer.shapes[n] for layer, n, _ in rows], dtype=object)
        roots = np.array([root for _, _, root in rows])
        found = []
        for piece in torn.pieces[1:]:
            is_ours = roots == self.joined.root(self._item[id(piece[0][1])])
            ours, theirs = np.flatnonzero(is_ours), np.flatnonzero(~is_ours)
            i, j = shapely.STRtree(shapes[theirs]).query_nearest(shapes[ours])
            pairs = zip(ours[i].tolist(), theirs[j].tolist())
            found.append(min((_open_end(rows[a], rows[b]) for a, b in pairs), key=_nearest))
        return found

    def _numbered(self, layer: Layer) -> Indices:
        """A node for each piece of copper: an item has one on all of its layers, a pour one for each filled piece."""
        nodes = np.zeros(len(layer.owners), dtype=np.intp)
        keys = [id(owner[1] if isinstance(owner, tuple) else owner) for owner in layer.owners]
        loose = [key for key, is_pour in zip(keys, layer.is_pour.tolist()) if not is_pour]
        new = [key for key in dict.fromkeys(loose) if key not in self._item]
        self._item.update(zip(new, range(self.joined.add(len(new)), 1 << 62)))
        nodes[~layer.is_pour] = [self._item[key] for key in loose]
        rings = [ring for area in _areas(layer) for ring in area.rings]
        first = self.joined.add(len(rings))
        stretches = [-(-len(ring) // CHUNK) for ring in rings]
        nodes[layer.is_pour] = np.repeat(np.arange(first, first + len(rings)), stretches)
        self._poured[layer.name] = [first + n for n, ring in enumerate(rings) if len(ring) >= 3]
        return nodes

    def _join_ends(self, layer: Layer, nodes: Indices) -> None:
        """Joins tracks, vias and pads of one net that have a point in common: the end, the middle, the anchor."""
        piece, spots = _anchors(layer)
        x, y = np.round(spots / NM).astype(np.int64).T
        key = (x << 32) + y
        order = np.argsort(key, kind="stable")
        key, piece = key[order], piece[order]
        one, other = piece[:-1], piece[1:]
        met = (key[:-1] == key[1:]) & (layer.net[one] == layer.net[other])
        self._join(nodes[one[met]], nodes[other[met]])

    def _join_poured(self, layer: Layer, nodes: Indices, asked: Indices) -> None:
        """Joins what begins on a filled piece of a pour."""
        spots, nets = first_points(layer.shapes[asked]), layer.nets[asked]
        for fill, node in zip(layer.fills, self._poured[layer.name]):
            mine = np.flatnonzero((nets == fill.area.net) | (nets == ""))
            on_it = nodes[asked[mine[fill.holds(spots[mine])]]]
            self._join(on_it, np.full(len(on_it), node))

    def _join_touching(self, layer: Layer, nodes: Indices, asked: Indices) -> None:
        """Joins what touches, by its edges."""
        shapes, half, net = layer.shapes[asked], layer.half[asked], layer.net[asked]
        root = np.array([self.joined.root(node) for node in nodes[asked].tolist()], dtype=np.intp)
        free = layer.nets[asked] == ""
        bounds = shapely.bounds(shapes).reshape(-1, 4) + half[:, None] * (-1.0, -1.0, 1.0, 1.0)
        boxes = np.asarray(shapely.box(*bounds.T), dtype=object)
        minor = np.flatnonzero(_apart(net, root) | free)
        i, j = shapely.STRtree(boxes).query(boxes[minor])
        i = minor[i]
        kept = (root[i] != root[j]) & ((net[i] == net[j]) | free[i] | free[j])
        i, j = i[kept], j[kept]
        near = shapely.distance(shapes[i], shapes[j]) - half[i] - half[j] <= TOL_MM
        self._join(root[i[near]], root[j[near]])

    def _join_unpoured(self, layer: Layer, nodes: Indices, asked: Indices) -> None:
        """Joins what lies within the boundary of a pour that holds no copper yet."""
        for area in self._board.areas:
            if area.unfilled and area.layer == layer.name and area.net:
                index = asked[layer.nets[asked] == area.net]
                inside = shapely.dwithin(area.boundary, layer.shapes[index], layer.half[index])
                within = nodes[index[inside]]
                self._join(within[:-1], within[1:])

    def _join(self, ours: Indices, theirs: Indices) -> None:
        self.joined.join_all(zip(ours.tolist(), theirs.tolist()))


def _open_end(one: tuple[Layer, int, int], other: tuple[Layer, int, int]) -> OpenEnd:
    (layer, i, _), (beyond, j, _) = one, other
    way = shapely.shortest_line(layer.shapes[i], beyond.shapes[j])
    x, y = shapely.get_coordinates(way)[0]
    width = max(float(way.length - layer.half[i] - beyond.half[j]), 0.0)
    return OpenEnd((float(x), float(y)), layer.name, layer.owners[i], beyond.owners[j], width)


def _nearest(end: OpenEnd) -> tuple[object, ...]:
    return (round(end.width, 6), natural(called(end.one)), natural(called(end.other)), end.at)


def _areas(layer: Layer) -> list[CopperArea]:
    """The pours of a layer, in the order of its pieces."""
    return list(dict.fromkeys(owner for owner in layer.owners if isinstance(owner, CopperArea)))


def _asked(layer: Layer, nets: set[str]) -> Flags:
    """Which pieces are of some nets, or of none."""
    known = {name: name in nets or not name for name in set(layer.nets.tolist())}
    return np.array([known[name] for name in layer.nets.tolist()], dtype=bool)


def _anchors(layer: Layer) -> tuple[Indices, Floats]:
    """Points that are in the copper for certain, and the piece each one lies on."""
    kind = shapely.get_type_id(layer.shapes)
    thin = np.flatnonzero((kind <= 1) & ~layer.is_pour)
    spots, owner = shapely.get_coordinates(layer.shapes[thin], return_index=True)
    is_end = np.ones(len(owner), dtype=bool)
    is_end[1:-1] = (owner[1:-1] != owner[:-2]) | (owner[1:-1] != owner[2:])
    pads = [(n, owner[1].at) for n, owner in enumerate(layer.owners) if isinstance(owner, tuple)]
    index, at = np.array([n for n, _ in pads], dtype=np.intp), np.array([spot for _, spot in pads]).reshape(-1, 2)
    held = shapely.contains_xy(layer.shapes[index], *at.T)
    return np.concatenate([thin[owner[is_end]], index[held]]), np.concatenate([spots[is_end], at[held]])


def _apart(net: Indices, root: Indices) -> Flags:
    """All but one of the joined groups of each net: of two things to be joined, one at least is among them."""
    order = np.lexsort((root, net))
    starts = np.ones(len(order), dtype=bool)
    starts[1:] = (net[order][1:] != net[order][:-1]) | (root[order][1:] != root[order][:-1])
    group = np.zeros(len(order), dtype=np.intp)
    group[order] = np.cumsum(starts) - 1
    size = np.bincount(group)
    largest: dict[int, int] = {}
    for one, many in zip(net[order][starts].tolist(), range(len(size))):
        if one not in largest or size[many] > size[largest[one]]:
            largest[one] = many
    return ~np.isin(group, list(largest.values()))


def _by_name(land: Land) -> tuple[object, ...]:
    return (natural(land[0].reference), land[0].uid, natural(land[1].number), land[1].uid)


def land_order(land: Land) -> tuple[object, ...]:
    """Natural order of parts and their pads."""
    part, pad = land
    return natural(part.reference), natural(pad.number), part.uid, pad.uid
