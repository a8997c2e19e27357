# SPDX-License-Identifier: MIT
"""How far apart in volts the nets of a board are, and which copper lies nearer than IPC-2221 has it for that."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import TOL_MM, Floats, Indices
from lineworthy.knowledge.gaps import Layer, Owner, net_of
from lineworthy.knowledge.ipc2221 import Column, spacing
from lineworthy.knowledge.netfacts import matches
from lineworthy.knowledge.netnames import pair_mate
from lineworthy.knowledge.nets import NetKind, Nets
from lineworthy.model import Board, Part, Side, Track, Via
from lineworthy.shapes import Point

Range = tuple[float, float]
"""Lowest and highest voltage of a net against ground, V."""

DANGEROUS_V = 60.0
"""Direct voltage from which it is dangerous to touch (IEC 62368-1, from memory)."""

HARMLESS_V = 15.0
"""Up to here, the first row of the table, what a process can etch apart is enough."""

_MAINS_NET = re.compile(
    r"(?<![a-z0-9])(?:mains|neutral|ac(?:[-_ ]?(?:l|n|in|line|live|neutral|[12]))?|(?:110|115|120|220|230|240|400)\s?v"
    r"(?:ac)?|\d{2,3}\s?vac)(?![a-z0-9+])",
    re.IGNORECASE,
)
_MAINS_PART = re.compile(
    r"mains|(?<![a-z0-9])(?:110|115|120|220|230|240|250)\s?v\s?ac|ac[-/]dc|iec[-_ ]?60320|converter_acdc",
    re.IGNORECASE,
)


def mains_nets(board: Board) -> list[str]:
    """Nets whose name speaks of mains; ``CLK_AC_N`` beside ``CLK_AC_P`` is a pair coupled by capacitors."""
    names = {*board.nets, *board.pads_by_net}
    return [name for name in sorted(names) if _MAINS_NET.search(name) and pair_mate(name) not in names]


def mains_parts(board: Board) -> list[Part]:
    """Parts whose value, package or description speaks of mains."""
    return [part for part in board.parts if _MAINS_PART.search(words_of(part))]


def words_of(part: Part) -> str:
    """Everything that says what a part is."""
    return "\n".join([part.value, part.package, part.library, part.description])


@dataclass(frozen=True, eq=False)
class Voltages:
    """What is known of the voltages on a board.

    Attributes:
        said: what the project says, by net name or shell pattern; a name wins over a pattern.
    """

    said: Mapping[str, Range]
    nets: Nets = field(repr=False)

    def named(self, net: str) -> Optional[Range]:
        """What the project says of a net."""
        if net in self.said:
            return self.said[net]
        return next((volts for pattern, volts in self.said.items() if net and matches(net, pattern)), None)

    def of(self, net: str) -> Range:
        """The voltage of a net: as said, as its name says, else 0 V."""
        volts = self.named(net)
        if volts is None:
            told = self.nets.of(net).voltage if net else None
            volts = (told, told) if told is not None else (0.0, 0.0)
        return volts

    def is_known(self, net: str) -> bool:
        """Whether the project says it, or it is a ground."""
        return self.named(net) is not None or (net != "" and self.nets.of(net).kind is NetKind.GROUND)


def apart(one: Range, other: Range) -> float:
    """The largest voltage there can be between two nets."""
    return max(one[1] - other[0], other[1] - one[0])


@dataclass(frozen=True, eq=False)
class Short:
    """Copper of two nets nearer than their voltage asks for: `width` mm apart where `need` mm are wanted."""

    layer: str
    width: float
    need: float
    volts: float
    column: Column
    at: Point
    one: Owner
    other: Owner


def too_near(layer: Layer, side: Optional[Side], voltages: Voltages) -> list[Short]:
    """Every pair of pieces of a layer, one at least of a net with a said voltage, that is too near but apart.

    Copper without a net has no voltage anybody knows, and is left out.

    Args:
        layer: the copper of one layer.
        side: its face, None for an inner layer.
        voltages: what is known of the nets.
    """
    names = [net_of(owner) for owner in layer.owners]
    known = {name: voltages.of(name) for name in set(names)}
    stray = np.array([name == "" for name in names], dtype=bool)
    live = {name for name in known if voltages.named(name) is not None and any(known[name])}
    ours = np.array([n for n, name in enumerate(names) if name in live], dtype=np.intp)
    if not len(ours):
        return []
    low, high = (np.array([known[name][end] for name in names]) for end in (0, 1))
    reach = _widest(np.maximum(high[ours] - low.min(), high.max() - low[ours]), side)
    i, j = _candidates(layer, ours, reach)
    i, j = i[~stray[j]], j[~stray[j]]
    volts = np.maximum(high[i] - low[j], high[j] - low[i])
    high_enough = volts > HARMLESS_V
    i, j, volts = i[high_enough], j[high_enough], volts[high_enough]
    need, column = _need(volts, layer, side, i, j)
    width = np.maximum(shapely.distance(layer.shapes[i], layer.shapes[j]) - layer.half[i] - layer.half[j], 0.0)
    # what touches is a short or meant to, and no matter of spacing
    near = np.flatnonzero((width < need - TOL_MM) & (width > 0.0))
    ways = shapely.shortest_line(layer.shapes[i[near]], layer.shapes[j[near]])
    spots = shapely.get_coordinates(ways).reshape(-1, 2, 2).mean(axis=1)
    return [
        Short(
            layer.name,
            float(width[n]),
            float(need[n]),
            float(volts[n]),
            _COLUMNS[column[n]],
            (float(x), float(y)),
            layer.owners[i[n]],
            layer.owners[j[n]],
        )
        for n, (x, y) in zip(near, spots)
    ]


_COLUMNS = (Column.B1, Column.B2, Column.B4, Column.A6)


def _widest(volts: Floats, side: Optional[Side]) -> Floats:
    """The most that any pair of a piece can ask for."""
    columns = (Column.B1,) if side is None else (Column.B2, Column.B4, Column.A6)
    return np.asarray(np.max([spacing(volts, column) for column in columns], axis=0))


def _candidates(layer: Layer, ours: Indices, reach: Floats) -> tuple[Indices, Indices]:
    """Pairs of different nets whose boxes are near enough, each once."""
    grown = layer.half[:, None] * (-1.0, -1.0, 1.0, 1.0)
    bounds = shapely.bounds(layer.shapes) + grown
    boxes = np.asarray(shapely.box(*bounds.T), dtype=object)
    wanted = shapely.box(*(bounds[ours] + reach[:, None] * (-1.0, -1.0, 1.0, 1.0)).T)
    i, j = shapely.STRtree(boxes).query(wanted)
    i = ours[i]
    is_ours = np.zeros(len(layer.shapes), dtype=bool)
    is_ours[ours] = True
    kept = (layer.net[i] != layer.net[j]) & (~is_ours[j] | (i < j))
    return i[kept], j[kept]


def _need(
    volts: Floats, layer: Layer, side: Optional[Side], i: Indices, j: Indices
) -> tuple[Floats, npt.NDArray[np.intp]]:
    """Spacing needed by each pair, and the column it is from (index into `_COLUMNS`)."""
    if side is None:
        return spacing(volts, Column.B1), np.zeros(len(volts), dtype=np.intp)
    land = np.array([isinstance(owner, tuple) and side in owner[1].mask for owner in layer.owners], dtype=bool)
    bare = np.array([_is_bare(owner, side) for owner in layer.owners], dtype=bool)
    # of two columns that apply the wider one: a land beside an open via is a termination and a bare conductor
    asked = [
        np.full(len(volts), -1.0),
        np.where(bare[i] | bare[j], spacing(volts, Column.B2), -1.0),
        np.where(bare[i] | bare[j] | land[i] | land[j], -1.0, spacing(volts, Column.B4)),
        np.where(land[i] | land[j], spacing(volts, Column.A6), -1.0),
    ]
    column = np.argmax(asked, axis=0)
    return np.max(asked, axis=0), column


def _is_bare(owner: Owner, side: Side) -> bool:
    """Copper that is no land and that no mask covers."""
    if isinstance(owner, Via):
        return side not in owner.tented
    return isinstance(owner, Track) and owner.mask_opened
