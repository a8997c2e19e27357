# SPDX-License-Identifier: MIT
"""The stencil as it is cut: its holes, the lands each of them prints on, and the webs of foil left between them.

Openings that touch or overlap are one hole, whoever drew them: pads, drawings in a part, drawings on the board.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional, Union

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import TOL_MM, Indices, objects, pairs_within
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.joints import SHARE
from lineworthy.model import Board, Graphic, LayerKind, Pad, Part, Side
from lineworthy.shapes import Area, Point

OpeningOwner = Union[tuple[Part, Pad], Graphic]

UNDER_MM = 1e-3
"""A web no wider than this is none: rounding leaves as much between openings that are drawn to touch."""


@dataclass(frozen=True, eq=False)
class Hole:
    """One hole in the foil.

    Attributes:
        owners: what each of its openings was drawn as.
        lands: the lands it prints on.
    """

    side: Side
    pieces: tuple[Area, ...] = field(repr=False)
    owners: tuple[OpeningOwner, ...]
    lands: tuple[tuple[Part, Pad], ...]

    @property
    def nets(self) -> frozenset[Hashable]:
        """The nets it prints on; a land without a net stands for itself."""
        return frozenset(net_of(part, pad) for part, pad in self.lands)


@dataclass(frozen=True, eq=False)
class Web:
    """Foil between two holes: its width in mm and the middle of its narrowest spot."""

    width: float
    at: Point
    one: Hole
    other: Hole


def net_of(part: Part, pad: Pad) -> Hashable:
    """What a land is joined to: its net, or only itself."""
    return pad.net or (part.uid, pad.number)


class Stencil:
    """The foils of both sides of one board."""

    def __init__(self, board: Board) -> None:
        self._foils = {side: _Foil(board, side) for side in Side}

    def holes(self, side: Side) -> tuple[Hole, ...]:
        """Every hole of a side, in the order of the board's pads."""
        return self._foils[side].holes

    def webs_below(self, side: Side, limit: float) -> list[Web]:
        """Every pair of holes with less than `limit` mm of foil between them, narrowest first."""
        return self._foils[side].webs_below(limit)


class _Foil:
    """One side: opening `n` is `_shapes[n]`, drawn as `_owners[n]`."""

    def __init__(self, board: Board, side: Side) -> None:
        self._board, self._side = board, side
        drawn: list[tuple[Area, OpeningOwner]] = [
            (pad.paste[side], (part, pad)) for part, pad in board.pads if side in pad.paste
        ]
        drawn += [(g.shape, g) for g in board.graphics if g.layer.kind is LayerKind.PASTE and g.layer.side is side]
        pieces, of = shapely.get_parts(objects(shape for shape, _ in drawn), return_index=True)
        kept = shapely.area(pieces) > 0.0
        self._shapes: npt.NDArray[np.object_] = pieces[kept]
        self._owners = [drawn[n][1] for n in of[kept]]

    @cached_property
    def holes(self) -> tuple[Hole, ...]:
        """Every hole: its openings, and the lands it prints on."""
        members: dict[int, list[int]] = defaultdict(list)
        for n, first in enumerate(self._first.tolist()):
            members[first].append(n)
        lands = self._lands(members)
        return tuple(
            Hole(
                self._side,
                tuple(self._shapes[n] for n in own),
                tuple(self._owners[n] for n in own),
                lands[first],
            )
            for first, own in members.items()
        )

    def webs_below(self, limit: float) -> list[Web]:
        """See `Stencil.webs_below`."""
        i, j, width = pairs_within(self._shapes, None, limit)
        near = (width < limit - TOL_MM) & (self._first[i] != self._first[j])
        i, j, width = i[near], j[near], width[near]
        spots = shapely.get_coordinates(shapely.shortest_line(self._shapes[i], self._shapes[j])).reshape(-1, 2, 2)
        hole_of = dict(zip(dict.fromkeys(self._first.tolist()), self.holes))
        narrowest: dict[tuple[int, int], Web] = {}
        for n in np.lexsort((j, i, np.round(width, 6))).tolist():
            pair = (int(self._first[i[n]]), int(self._first[j[n]]))
            key = (min(pair), max(pair))
            at = spots[n].mean(axis=0)
            web = Web(float(width[n]), (float(at[0]), float(at[1])), hole_of[pair[0]], hole_of[pair[1]])
            narrowest.setdefault(key, web)
        return list(narrowest.values())

    @cached_property
    def _first(self) -> Indices:
        """Of each opening the first one of the hole it is part of."""
        joins = Joins()
        joins.add(len(self._shapes))
        i, j, _ = pairs_within(self._shapes, None, UNDER_MM)
        joins.join_all(zip(i.tolist(), j.tolist()))
        first: dict[int, int] = {}
        return np.array([first.setdefault(joins.root(n), n) for n in range(len(self._shapes))], dtype=np.intp)

    def _lands(self, members: dict[int, list[int]]) -> dict[int, tuple[tuple[Part, Pad], ...]]:
        """The bare lands of each hole: the pads it was drawn for, and every other land it reaches over."""
        layer = self._board.copper_on(self._side)
        found: dict[int, dict[tuple[Part, Pad], None]] = {first: {} for first in members}
        own = np.zeros(len(self._shapes), dtype=bool)
        for n, owner in enumerate(self._owners):
            if isinstance(owner, tuple) and layer in owner[1].copper:
                found[int(self._first[n])][owner] = None
                own[n] = _is_within(self._shapes[n], owner[1].copper[layer])
        reaching = np.flatnonzero(~own)
        bare = [(part, pad) for part, pad in self._board.pads if layer in pad.copper and self._side in pad.mask]
        copper = objects(pad.copper[layer] for _, pad in bare)
        if len(reaching) and bare:
            n, k = shapely.STRtree(copper).query(self._shapes[reaching], predicate="intersects")
            shared = shapely.area(shapely.intersection(self._shapes[reaching[n]], copper[k]))
            for a, b in zip(n[shared > SHARE * shapely.area(copper[k])], k[shared > SHARE * shapely.area(copper[k])]):
                found[int(self._first[reaching[a]])][bare[int(b)]] = None
        return {first: tuple(lands) for first, lands in found.items()}


def part_of(board: Board, owner: OpeningOwner) -> Optional[Part]:
    """The part an opening is drawn in; None for drawings on the board."""
    return owner[0] if isinstance(owner, tuple) else board.part_by_uid.get(owner.part_uid)


def _is_within(shape: Area, copper: Area) -> bool:
    """Whether an opening's box lies in that of its own land: then it reaches no other."""
    a, b = shape.bounds, copper.bounds
    return all(p >= q - TOL_MM for p, q in zip(a[:2], b[:2])) and all(p <= q + TOL_MM for p, q in zip(a[2:], b[2:]))
