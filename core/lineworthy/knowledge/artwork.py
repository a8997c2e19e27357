# SPDX-License-Identifier: MIT
"""Copper without a net, drawn, lettered or routed, that joins what it touches."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Floats, Indices, first_points, objects
from lineworthy.knowledge.copper import CHUNK
from lineworthy.knowledge.gaps import Layer, Owner
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.legible import ink
from lineworthy.knowledge.naming import plain
from lineworthy.model import Board, CopperArea, LayerKind, Marking, PadKind
from lineworthy.shapes import Area, Point

Artwork = Union[Owner, Marking]

_NET_TIE = re.compile(r"net[-_ ]?tie", re.IGNORECASE)
"""Parts of this name are there to join nets, whether their lands have one or not."""


class Bridge(NamedTuple):
    """Copper without a net that joins several nets: all that touches each other, the nets, and a point on it."""

    layers: tuple[str, ...]
    artwork: tuple[Artwork, ...]
    nets: tuple[str, ...]
    layer: str
    at: Point


class _Piece(NamedTuple):
    """Something that joins whatever it touches: copper without a net on one layer, or the box of a letter.

    `row` is where the layer has it (-1 for a letter); pieces with the same `whole` are one thing.
    """

    of: Artwork
    layer: str
    shape: BaseGeometry
    half: float
    row: int
    whole: object


class _Contact(NamedTuple):
    """A piece, by number, and what it touches: its owner, its net, and its number where it is a piece itself."""

    piece: int
    owner: Owner
    net: str
    other: Optional[int]


def bridges(board: Board, copper: Sequence[Layer]) -> Iterator[Bridge]:
    """All of them. What belongs to a part may join nets of that part: it is there for that."""
    pieces = [piece for layer in copper for piece in (*_netless(layer), *_letters(board, layer))]
    joins = Joins()
    joins.add(len(pieces))
    first: dict[object, int] = {}
    joins.join_all((first.setdefault(piece.whole, n), n) for n, piece in enumerate(pieces))
    nets: list[set[str]] = [set() for _ in pieces]
    meant = [_own_nets(board, piece.of) for piece in pieces]
    for layer in copper:
        mine = np.array([n for n, piece in enumerate(pieces) if piece.layer == layer.name], dtype=np.intp)
        for contact in _contacts(layer, pieces, mine) if len(mine) else ():
            if contact.other is not None:
                joins.join(contact.piece, contact.other)
            elif len(board.pads_by_net.get(contact.net, ())) > 1:  # nets with a single pad lead nowhere
                nets[contact.piece].add(contact.net)
                if _is_own_pad(pieces[contact.piece].of, contact.owner):
                    meant[contact.piece].add(contact.net)
    groups: dict[int, list[int]] = defaultdict(list)
    for n in range(len(pieces)):
        groups[joins.root(n)].append(n)
    for group in groups.values():
        joined = {net for n in group for net in nets[n]}
        if len(joined) > 1 and joined - {net for n in group for net in meant[n]}:
            most = pieces[max(group, key=lambda n: len(nets[n]))]
            spot = most.shape.representative_point()
            yield Bridge(
                tuple(dict.fromkeys(pieces[n].layer for n in group)),
                tuple(dict.fromkeys(pieces[n].of for n in group)),
                tuple(sorted(joined)),
                most.layer,
                (spot.x, spot.y),
            )


def _netless(layer: Layer) -> Iterator[_Piece]:
    """Copper of a layer without a net; a pour as the stretches of its outline, each filled piece for itself."""
    rings = [ring for area in dict.fromkeys(_areas(layer)) for ring in area.rings]
    ring_of = iter([id(ring) for ring in rings for _ in range(-(-len(ring) // CHUNK))])
    for n, (owner, net) in enumerate(zip(layer.owners, layer.nets)):
        ring = next(ring_of) if isinstance(owner, CopperArea) else 0
        if net or layer.shapes[n].is_empty or _is_net_tie(owner):
            continue
        whole: object = ring or id(owner[1] if isinstance(owner, tuple) else owner)
        if isinstance(owner, tuple) and owner[1].kind is PadKind.UNPLATED:
            whole = (whole, layer.name)  # no wall joins the layers
        yield _Piece(owner, layer.name, layer.shapes[n], float(layer.half[n]), n, whole)


def _areas(layer: Layer) -> list[CopperArea]:
    return [owner for owner in layer.owners if isinstance(owner, CopperArea)]


def _letters(board: Board, layer: Layer) -> Iterator[_Piece]:
    """Each by itself: side by side they do not touch."""
    for marking in board.shown_markings:
        if marking.layer.kind is LayerKind.COPPER and marking.layer.name == layer.name:
            for n, box in enumerate(letters(marking)):
                yield _Piece(marking, layer.name, box, 0.0, -1, (id(marking), n))


def letters(marking: Marking) -> list[Area]:
    """A box for each letter and digit of a text, as if all were of one width; the whole of a filled box."""
    if marking.knockout:
        return [marking.extents]
    lines = [plain(line) for line in marking.text.rstrip("\n").split("\n")]
    upright = shapely.get_parts(shapely.affinity.rotate(ink(marking), -marking.rotation, origin=(0.0, 0.0)))
    boxes = sorted((part.bounds for part in upright), key=lambda bounds: -bounds[1])
    if len(boxes) != len(lines):  # in a tight box lines cannot be told apart
        lines = [max(lines, key=len)] * len(boxes)
    found = []
    for line, (left, bottom, right, top) in zip(lines, boxes):
        step = (right - left) / max(len(line), 1)
        for n, character in enumerate(reversed(line) if marking.mirrored else line):
            if character.isalnum():
                box = shapely.box(left + n * step, bottom, left + (n + 1) * step, top)
                found.append(shapely.affinity.rotate(box, marking.rotation, origin=(0.0, 0.0)))
    return found


def _contacts(layer: Layer, pieces: Sequence[_Piece], mine: Indices) -> Iterator[_Contact]:
    """What the pieces of a layer touch there; letters touch no copper that has no net either."""
    shapes, half = objects(pieces[k].shape for k in mine), np.array([pieces[k].half for k in mine])
    letter = np.array([pieces[k].row < 0 for k in mine])
    number = {pieces[k].row: int(k) for k in mine if pieces[k].row >= 0}
    rows = np.flatnonzero(~shapely.is_empty(layer.shapes))
    i, j = shapely.STRtree(_boxes(shapes, half)).query(_boxes(layer.shapes[rows], layer.half[rows]))
    i = rows[i]
    # pours keep clear of letters by less than a box does
    kept = ~(letter[j] & (layer.is_pour[i] | (layer.nets[i] == "")))
    i, j = i[kept], j[kept]
    near = shapely.distance(layer.shapes[i], shapes[j]) - layer.half[i] - half[j] <= 0.0
    for n, k in zip(i[near].tolist(), mine[j[near]].tolist()):
        yield _Contact(k, layer.owners[n], layer.nets[n], number.get(n))
    yield from _in_pours(layer, pieces, mine, shapes, number)


def _in_pours(
    layer: Layer, pieces: Sequence[_Piece], mine: Indices, shapes: npt.NDArray[np.object_], number: dict[int, int]
) -> Iterator[_Contact]:
    """What lies in the midst of a filled piece, and so touches no edge of it."""
    spots, owner = shapely.get_coordinates(shapes, return_index=True)
    points = np.bincount(owner, minlength=len(mine))
    poured = {pieces[k].whole: int(k) for k in mine}
    rows = np.flatnonzero(~shapely.is_empty(layer.shapes) & (layer.nets != ""))
    begins = first_points(layer.shapes[rows])
    for fill in layer.fills:
        held = np.bincount(owner[fill.holds(spots)], minlength=len(mine)) == points
        itself = poured.get(id(fill.ring))
        for k in mine[held].tolist():
            if k != itself and (fill.area.net or pieces[k].row >= 0):
                yield _Contact(k, fill.area, fill.area.net, itself)
        if itself is not None:
            for n in rows[fill.holds(begins)].tolist():
                yield _Contact(itself, layer.owners[n], layer.nets[n], None)


def _boxes(shapes: npt.NDArray[np.object_], half: Floats) -> npt.NDArray[np.object_]:
    bounds = shapely.bounds(shapes).reshape(-1, 4) + half[:, None] * (-1.0, -1.0, 1.0, 1.0)
    return np.asarray(shapely.box(*bounds.T), dtype=object)


def _own_nets(board: Board, artwork: Artwork) -> set[str]:
    """The nets of the part that a drawing or pour belongs to; a land may join those only whose lands it touches."""
    part = None if isinstance(artwork, tuple) else board.part_by_uid.get(getattr(artwork, "part_uid", ""))
    return {pad.net for pad in part.pads} if part else set()


def _is_own_pad(artwork: Artwork, owner: Owner) -> bool:
    return isinstance(artwork, tuple) and isinstance(owner, tuple) and artwork[0] is owner[0]


def _is_net_tie(owner: Owner) -> bool:
    return isinstance(owner, tuple) and bool(_NET_TIE.search(owner[0].package))
