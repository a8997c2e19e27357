# SPDX-License-Identifier: MIT
"""The gaps between copper of different nets, layer by layer, with true shapes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, Indices, first_points, objects
from lineworthy.knowledge.copper import CHUNK, landed
from lineworthy.knowledge.wording import natural, pad_name
from lineworthy.model import TRACK_TOL_MM, Board, CopperArea, Filled, Graphic, LayerKind, Pad, Part, Track, Via
from lineworthy.shapes import Point

WIDE_MM = 0.3
"""Half the width from which a track or via is looked up apart from the others: its reach is so much larger."""

Owner = Union[tuple[Part, Pad], Track, Via, CopperArea, Graphic]
_KINDS = {tuple: "pad", Track: "track", Via: "via", CopperArea: "pour", Graphic: "drawing"}
_Row = tuple[BaseGeometry, float, Owner]


@dataclass(frozen=True, eq=False)
class Gap:
    """Two pieces of copper of different nets on one layer, and how far they are apart (0 where they touch), mm."""

    layer: str
    width: float
    at: Point
    one: Owner
    other: Owner


@dataclass(frozen=True, eq=False)
class Layer:
    """The copper of one layer: geometry i reaches `half[i]` mm beyond `shapes[i]` on all sides, and is of `net[i]`.

    Nets are numbered; copper without a net has a number of its own for each item, as it may touch nothing.
    """

    name: str
    shapes: npt.NDArray[np.object_]
    half: Floats
    net: Indices
    owners: list[Owner]

    @cached_property
    def nets(self) -> npt.NDArray[np.object_]:
        """The net of each piece by name, empty for none."""
        return objects(net_of(owner) for owner in self.owners)

    @cached_property
    def unsure(self) -> Floats:
        """How much too near to its neighbours each piece may be known, as the chords of an arc are on its inside."""
        return np.array([TRACK_TOL_MM if getattr(owner, "mid", None) else 0.0 for owner in self.owners])

    @cached_property
    def is_pour(self) -> npt.NDArray[np.bool_]:
        """Which pieces are stretches of a pour's outline."""
        return np.array([isinstance(owner, CopperArea) for owner in self.owners], dtype=bool)

    @cached_property
    def fills(self) -> tuple[Filled, ...]:
        """The filled pieces of the pours."""
        areas = dict.fromkeys(owner for owner in self.owners if isinstance(owner, CopperArea))
        return tuple(piece for area in areas for piece in area.pieces)


def layers(board: Board) -> Iterator[Layer]:
    """The copper of each layer that has some."""
    by_layer: dict[str, list[_Row]] = {name: [] for name in board.copper_layers}
    for add in (_pads, _tracks, _vias, _pours, _drawings):
        add(board, by_layer)
    for name, rows in by_layer.items():
        if rows:
            numbers: dict[object, int] = {}
            net = [numbers.setdefault(net_of(owner) or id(_whose(owner)), len(numbers)) for _, _, owner in rows]
            half = np.array([row[1] for row in rows])
            owners = [row[2] for row in rows]
            yield Layer(name, objects(row[0] for row in rows), half, np.array(net, dtype=np.intp), owners)


def gaps_below(layer: Layer, limit: float) -> list[Gap]:
    """Every pair of pieces of different nets that is nearer than `limit` mm, nearest first."""
    wide = layer.half > WIDE_MM
    small, large = np.flatnonzero(~wide), np.flatnonzero(wide)
    pairs = [_pairs(layer, ours, theirs, limit) for ours, theirs in ((small, small), (large, small), (large, large))]
    i, j, width = (np.concatenate(column) for column in zip(*pairs))
    ways = shapely.shortest_line(layer.shapes[i], layer.shapes[j])
    places = shapely.get_coordinates(ways).reshape(-1, 2, 2).mean(axis=1)
    found = [
        Gap(layer.name, float(w), (float(x), float(y)), layer.owners[a], layer.owners[b])
        for a, b, w, (x, y) in zip(i, j, width, places)
    ]
    return sorted(found, key=lambda gap: (round(gap.width, 6), gap.at))


def swallowed(layer: Layer) -> Iterator[Gap]:
    """Tracks, vias, lands and drawings in the midst of a pour of another net, too far from its edge to be a pair.

    So lies what was moved or added after the pour was filled.
    """
    rest = np.flatnonzero(~layer.is_pour & ~shapely.is_empty(layer.shapes))
    spots = first_points(layer.shapes[rest]) if len(rest) else np.zeros((0, 2))
    tree = shapely.STRtree(np.asarray(shapely.points(spots), dtype=object))
    nets = layer.net[rest]
    of_pour = {
        owner: number for owner, number in zip(layer.owners, layer.net.tolist()) if isinstance(owner, CopperArea)
    }
    for fill in layer.fills:
        there = np.sort(tree.query(shapely.box(*fill.low, *fill.high)))
        foreign = there[nets[there] != of_pour[fill.area]]
        for n in foreign[fill.holds(spots[foreign])].tolist():
            at = (float(spots[n][0]), float(spots[n][1]))
            yield Gap(layer.name, 0.0, at, layer.owners[rest[n]], fill.area)


def _pairs(layer: Layer, ours: Indices, theirs: Indices, limit: float) -> tuple[Indices, Indices, Floats]:
    """Pairs among some pieces: looked up by their boxes, then by net, and only then measured."""
    if not len(ours) or not len(theirs):
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, np.zeros(0)
    reach = limit + layer.half[ours] + layer.half[theirs].max()
    left, bottom, right, top = shapely.bounds(layer.shapes[ours]).T
    boxes = shapely.box(left - reach, bottom - reach, right + reach, top + reach)
    i, j = shapely.STRtree(layer.shapes[theirs]).query(boxes)
    i, j = ours[i], theirs[j]
    kept = layer.net[i] != layer.net[j]
    if ours is theirs:
        kept &= i < j
    i, j = i[kept], j[kept]
    width = np.maximum(shapely.distance(layer.shapes[i], layer.shapes[j]) - layer.half[i] - layer.half[j], 0.0)
    near = width < limit - TOL_MM - layer.unsure[i] - layer.unsure[j]
    return i[near], j[near], width[near]


def net_of(owner: Owner) -> str:
    """The net, empty for none."""
    return owner[1].net if isinstance(owner, tuple) else owner.net


def kind_of(owner: Owner) -> str:
    """``pad``, ``track``, ``via``, ``pour`` or ``drawing``."""
    return _KINDS[type(owner)]


def part_uid_of(owner: Owner) -> str:
    """The editor's id of the part that some copper belongs to, empty for none."""
    return owner[0].uid if isinstance(owner, tuple) else getattr(owner, "part_uid", "")


def in_order(owners: Iterable[Owner]) -> list[Owner]:
    """Each once, by name and then by the editor's id: the same wherever a board lies."""
    return sorted(dict.fromkeys(owners), key=lambda one: (natural(called(one)), part_uid_of(one), _uid_of(one)))


def _uid_of(owner: Owner) -> str:
    return owner[1].uid if isinstance(owner, tuple) else owner.uid


def called(owner: Owner) -> str:
    """What to call some copper in a list of places."""
    if isinstance(owner, tuple):
        part, pad = owner
        return pad_name(part.reference, pad.number)
    return f"{kind_of(owner)} {owner.net or 'without net'}"


def _whose(owner: Owner) -> object:
    """Copper without a net: pads and drawings of one part belong together."""
    if isinstance(owner, tuple):
        return owner[0]
    return owner


def _pads(board: Board, by_layer: dict[str, list[_Row]]) -> None:
    for item in board.pads:
        for name, shape in item[1].copper.items():
            if name in by_layer:
                by_layer[name].append((shape, 0.0, item))


def _tracks(board: Board, by_layer: dict[str, list[_Row]]) -> None:
    straight = [track for track in board.tracks if track.mid is None]
    ends = np.array([(track.start, track.end) for track in straight]).reshape(-1, 2, 2)
    for track, line in zip(straight, np.asarray(shapely.linestrings(ends), dtype=object)):
        if track.layer in by_layer:
            by_layer[track.layer].append((line, track.width / 2, track))
    for track in board.tracks:
        if track.mid is not None and track.layer in by_layer:
            by_layer[track.layer].append((shapely.LineString(track.path), track.width / 2, track))


def _vias(board: Board, by_layer: dict[str, list[_Row]]) -> None:
    points = np.asarray(shapely.points(np.array([via.at for via in board.vias]).reshape(-1, 2)), dtype=object)
    for via, point in zip(board.vias, points):
        for name in landed(board, via):
            if name in by_layer:
                by_layer[name].append((point, via.diameter_on(name) / 2, via))


def _pours(board: Board, by_layer: dict[str, list[_Row]]) -> None:
    for area in board.areas:
        for ring in area.rings if area.layer in by_layer else ():
            closed = np.vstack([ring, ring[:1]])
            for first in range(0, len(closed) - 1, CHUNK):
                stretch = shapely.LineString(closed[first : first + CHUNK + 1])
                by_layer[area.layer].append((stretch, 0.0, area))


def _drawings(board: Board, by_layer: dict[str, list[_Row]]) -> None:
    for graphic in board.graphics:
        if graphic.layer.kind is LayerKind.COPPER and graphic.layer.name in by_layer:
            by_layer[graphic.layer.name].append((graphic.shape, 0.0, graphic))
