# SPDX-License-Identifier: MIT
"""All copper of a board as pieces that can be measured against something else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.model import Board, CopperArea, Graphic, LayerKind, Pad, Part, Side, Track, Via

CHUNK = 64
"""Points of a pour's outline in one piece: few enough that a piece is near to little, many enough to be quick."""


class Piece(NamedTuple):
    """Some copper: a geometry and how far copper reaches beyond it on all sides (half the width of a track)."""

    kind: str
    item: Union[tuple[Part, Pad], Track, Via, CopperArea, Graphic]
    shape: BaseGeometry
    half: float
    layer: str

    @property
    def part(self) -> Optional[Part]:
        """The part a pad belongs to, None for other copper."""
        return self.item[0] if isinstance(self.item, tuple) else None

    @property
    def net(self) -> str:
        """The net, empty for none."""
        return self.item[1].net if isinstance(self.item, tuple) else self.item.net

    @property
    def uid(self) -> str:
        """The editor's id of the pad, track, via, pour or drawing."""
        return self.item[1].uid if isinstance(self.item, tuple) else self.item.uid


def pieces(board: Board) -> Iterator[Piece]:
    """Every pad, track, via, pour and copper drawing.

    Pours come as stretches of their outline, never as filled polygons, which would be costly: what lies wholly inside
    a pour is not near any of its pieces. What has the same copper on several inner layers comes once for them.
    """
    yield from _pads(board)
    yield from _tracks(board)
    yield from _vias(board)
    yield from _pours(board)
    for graphic in board.graphics:
        if graphic.layer.kind is LayerKind.COPPER:
            yield Piece("drawing", graphic, graphic.shape, 0.0, graphic.layer.name)


def _pads(board: Board) -> Iterator[Piece]:
    for item in board.pads:
        seen = set()
        for layer, shape in item[1].copper.items():
            key = (board.side_of(layer), id(shape))
            if key not in seen:
                seen.add(key)
                yield Piece("pad", item, shape, 0.0, layer)


def _tracks(board: Board) -> Iterator[Piece]:
    for track, line in zip(board.tracks, centre_lines(board.tracks)):
        yield Piece("track", track, line, track.width / 2, track.layer)


def centre_lines(tracks: Sequence[Track]) -> npt.NDArray[np.object_]:
    """The centre line of each of some tracks as a LineString; straight ones all at once, because each call is slow."""
    lines = np.empty(len(tracks), dtype=object)
    straight = [n for n, track in enumerate(tracks) if track.mid is None]
    ends = np.array([(tracks[n].start, tracks[n].end) for n in straight], dtype=float).reshape(-1, 2, 2)
    lines[straight] = shapely.linestrings(ends)
    for n, track in enumerate(tracks):
        if track.mid is not None:
            lines[n] = shapely.LineString(track.path)
    return lines


def _vias(board: Board) -> Iterator[Piece]:
    points = np.asarray(shapely.points(np.array([via.at for via in board.vias]).reshape(-1, 2)), dtype=object)
    for via, point in zip(board.vias, points):
        seen: set[tuple[Optional[Side], float]] = set()
        for layer in landed(board, via):
            key = (board.side_of(layer), via.diameter_on(layer))
            if key not in seen:
                seen.add(key)
                yield Piece("via", via, point, key[1] / 2, layer)


def _pours(board: Board) -> Iterator[Piece]:
    for area in board.areas:
        for ring in area.rings:
            closed = np.vstack([ring, ring[:1]])
            for first in range(0, len(closed) - 1, CHUNK):
                yield Piece("pour", area, shapely.LineString(closed[first : first + CHUNK + 1]), 0.0, area.layer)


def landed(board: Board, via: Via) -> tuple[str, ...]:
    """The copper layers where a via has a land, from the top down."""
    through = spanned(board, via)
    return tuple(layer for layer in through if layer not in via.landless) if via.landless else through


def spanned(board: Board, via: Via) -> tuple[str, ...]:
    """The copper layers a via goes through, from the top down; those it names when the board has no such layers."""
    return _between(board.copper_layers, via.span)


@lru_cache(maxsize=256)  # thousands of vias go through the same layers
def _between(layers: tuple[str, ...], span: tuple[str, str]) -> tuple[str, ...]:
    if not set(span) <= set(layers):
        return tuple(dict.fromkeys(span))
    first, last = sorted(layers.index(name) for name in span)
    return layers[first : last + 1]
