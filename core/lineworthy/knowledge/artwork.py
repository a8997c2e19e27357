# SPDX-License-Identifier: MIT
"""Drawings and letters in copper without a net that join what they lie over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple, Union

import numpy as np
import shapely
import shapely.affinity

from lineworthy.geometry import pairs_within
from lineworthy.knowledge.gaps import Layer, net_of
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.legible import ink
from lineworthy.knowledge.naming import plain
from lineworthy.model import Board, CopperArea, Graphic, LayerKind, Marking, Pad
from lineworthy.shapes import Area, Point

Artwork = Union[Graphic, Marking]


class Bridge(NamedTuple):
    """Artwork that lies over copper of several nets: all that touches each other, the nets, and a point on it."""

    layer: str
    artwork: tuple[Artwork, ...]
    nets: tuple[str, ...]
    at: Point


class _Piece(NamedTuple):
    """Something that joins whatever it touches: a drawing, or the box of a letter."""

    of: Artwork
    shape: Area


def bridges(board: Board, copper: Sequence[Layer]) -> Iterator[Bridge]:
    """All of them. What belongs to a part may join the nets of that part: it is there for that."""
    for layer in copper:
        pieces = [*_drawings(layer), *_letters(board, layer)]
        if not pieces:
            continue
        nets = _touched(board, layer, pieces)
        for group in _groups(pieces):
            joined = {net for n in group for net in nets[n]}
            meant = {pad.net for n in group for pad in _own_pads(board, pieces[n].of)}
            if len(joined) > 1 and joined - meant:
                artwork = tuple(dict.fromkeys(pieces[n].of for n in group))
                spot = pieces[max(group, key=lambda n: len(nets[n]))].shape.representative_point()
                yield Bridge(layer.name, artwork, tuple(sorted(joined)), (spot.x, spot.y))


def _drawings(layer: Layer) -> list[_Piece]:
    return [
        _Piece(owner, shape)
        for owner, shape in zip(layer.owners, layer.shapes)
        if isinstance(owner, Graphic) and not owner.net
    ]


def _letters(board: Board, layer: Layer) -> Iterator[_Piece]:
    for marking in board.shown_markings:
        if marking.layer.kind is LayerKind.COPPER and marking.layer.name == layer.name:
            yield from (_Piece(marking, box) for box in letters(marking))


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


def _touched(board: Board, layer: Layer, pieces: Sequence[_Piece]) -> list[set[str]]:
    """The nets that each piece touches; nets with a single pad lead nowhere."""
    nets: list[set[str]] = [set() for _ in pieces]
    shapes = np.array([piece.shape for piece in pieces], dtype=object)
    asked = np.flatnonzero(layer.nets != "")
    i, j = shapely.STRtree(shapes).query(layer.shapes[asked], predicate="dwithin", distance=layer.half[asked])
    for n, k in zip(asked[i].tolist(), j.tolist()):
        # pours keep clear of letters by less than a box does
        if isinstance(pieces[k].of, Graphic) or not isinstance(layer.owners[n], CopperArea):
            nets[k].add(net_of(layer.owners[n]))
    for fill in layer.fills:
        for k, piece in enumerate(pieces) if fill.area.net else ():
            if fill.holds(shapely.get_coordinates(piece.shape)).all():
                nets[k].add(fill.area.net)
    return [{net for net in some if len(board.pads_by_net.get(net, ())) > 1} for some in nets]


def _groups(pieces: Sequence[_Piece]) -> list[list[int]]:
    """Drawings that touch each other, and each letter by itself."""
    joins = Joins()
    joins.add(len(pieces))
    drawn = [n for n, piece in enumerate(pieces) if isinstance(piece.of, Graphic)]
    i, j, _ = pairs_within([pieces[n].shape for n in drawn], None, 0.0)
    joins.join_all((drawn[a], drawn[b]) for a, b in zip(i.tolist(), j.tolist()))
    groups: dict[int, list[int]] = defaultdict(list)
    for n in range(len(pieces)):
        groups[joins.root(n)].append(n)
    return list(groups.values())


def _own_pads(board: Board, artwork: Artwork) -> tuple[Pad, ...]:
    part = board.part_by_uid.get(artwork.part_uid)
    return part.pads if part else ()
