# SPDX-License-Identifier: MIT
"""How a land joins the pours of its net: all round, over webs, or not at all, from the pours as they are filled.

A line is laid round the land just outside of it; what of this line lies in a pour of the same net is where copper
leaves the land. The editor's fills are rings joined to their holes by cuts, which a point test does not mind: no pour
is ever built as a polygon with holes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import Floats, Indices
from lineworthy.model import Board, Filled
from lineworthy.shapes import Area

OUTSIDE_MM = 0.04
"""How far outside of a land copper is looked for: nearer than any gap of a thermal relief."""

SAMPLES = 72
"""Points round a land; where copper begins between two of them is found by halving."""

HALVINGS = 7

SOLID_RUN = 0.35
"""A land joined over more than this share of its outline in one piece is not relieved: a web is a small part of it."""


@dataclass(frozen=True)
class Contact:
    """How one land joins the pours of its net on one layer.

    Attributes:
        share: of the line round the land, in pours.
        outline: length of that line, mm.
        webs: width of each join, mm, measured straight across; all round is one join as long as the outline.
        pour: area of the largest pour it joins, mm2, its holes taken off.
    """

    share: float
    outline: float
    webs: tuple[float, ...]
    pour: float

    @property
    def width(self) -> float:
        """Copper that leaves the land, mm along its outline."""
        return self.share * self.outline

    @property
    def is_solid(self) -> bool:
        """Joined without relief: over one long stretch."""
        return max(self.webs, default=0.0) > SOLID_RUN * self.outline


NONE = Contact(0.0, 0.0, (), 0.0)


class Place(NamedTuple):
    """A land to be looked at on one layer."""

    layer: str
    net: str
    shape: Area


class Reliefs:
    """Asks about the lands of one board; what was measured once is kept."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._known: dict[tuple[str, str, int], Contact] = {}

    def of(self, places: Sequence[Place]) -> list[Contact]:
        """How each of some lands of the board joins the pours of its net; `NONE` where it joins none."""
        keys = [(place.layer, place.net, id(place.shape)) for place in places]
        new = {key: place for key, place in zip(keys, places) if key not in self._known}
        self._known.update(zip(new, contacts(self._board, list(new.values()))))
        return [self._known[key] for key in keys]

    @cached_property
    def unfilled(self) -> bool:
        """Whether pours are drawn but none is filled, so that nothing can be said."""
        return bool(self._board.areas) and not any(area.rings for area in self._board.areas)


def contacts(board: Board, places: Sequence[Place]) -> list[Contact]:
    """How each of some lands joins the pours of its net; `NONE` where it joins none."""
    found = [NONE] * len(places)
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for n, place in enumerate(places):
        if place.net:
            groups[place.layer, place.net].append(n)
    pours: dict[tuple[str, str], list[Filled]] = defaultdict(list)
    for area in board.areas:
        if (area.layer, area.net) in groups:
            pours[area.layer, area.net].extend(area.pieces)
    for key, members in groups.items():
        if pours[key]:
            for n, contact in zip(members, _measured([places[n].shape for n in members], pours[key])):
                found[n] = contact
    return found


def _measured(shapes: Sequence[Area], pieces: Sequence[Filled]) -> list[Contact]:
    grown = shapely.buffer(np.array(shapes, dtype=object), OUTSIDE_MM, quad_segs=10)
    lines = shapely.get_exterior_ring([max(shapely.get_parts(shape), key=lambda part: part.area) for shape in grown])
    inside, largest = _Pours(lines, pieces).sampled()
    lengths = shapely.length(lines)
    touched = np.flatnonzero(inside.any(axis=1))
    found = [NONE] * len(shapes)
    partly = [int(n) for n in touched if not inside[n].all()]
    webs = _webs(lines, inside, partly, pieces)
    for n in touched.tolist():
        length = float(lengths[n])
        if n in webs:
            runs, widths = webs[n]
            found[n] = Contact(float(sum(runs)), length, tuple(widths), float(largest[n]))
        else:
            found[n] = Contact(1.0, length, (length,), float(largest[n]))
    return found


class _Pours:
    """Which points on some lines lie in some pieces of pours."""

    def __init__(self, lines: npt.NDArray[np.object_], pieces: Sequence[Filled]) -> None:
        self._count, self._pieces = len(lines), pieces
        bounds = shapely.bounds(lines)
        self._low, self._high = bounds[:, :2], bounds[:, 2:]
        self._corners, owner = shapely.get_coordinates(lines, return_index=True)
        steps = np.hypot(*np.diff(self._corners, axis=0).T) * (np.diff(owner) == 0)
        self._way = np.concatenate([[0.0], np.cumsum(steps)])
        self._first = np.searchsorted(owner, np.arange(len(lines)))
        self._lengths = shapely.length(lines)

    def sampled(self) -> tuple[npt.NDArray[np.bool_], Floats]:
        """Of each line, which of its samples are inside, and how large the largest piece is that holds any."""
        count = self._count
        steps = np.tile(np.arange(SAMPLES) / SAMPLES, count)
        owner = np.repeat(np.arange(count), SAMPLES)
        largest = np.zeros(count)
        inside = self.at(owner, steps, largest).reshape(count, SAMPLES)
        return inside, largest

    def points(self, owner: Indices, steps: Floats) -> Floats:
        """Points at some share, below 1, of the length of some lines: found on the way along all lines in a row."""
        at = self._way[self._first[owner]] + steps * self._lengths[owner]
        return np.column_stack([np.interp(at, self._way, along) for along in self._corners.T])

    def at(self, owner: Indices, steps: Floats, largest: Floats) -> npt.NDArray[np.bool_]:
        """Whether points at some share of the length of some lines are inside."""
        points = self.points(owner, steps)
        inside = np.zeros(len(owner), dtype=bool)
        for piece in self._pieces:
            near = np.asarray(((self._high >= piece.low) & (self._low <= piece.high)).all(axis=1))
            if not near.any():
                continue
            some = np.flatnonzero(near[owner])
            held = piece.holds(points[some])
            inside[some] |= held
            hit = np.unique(owner[some[held]])
            largest[hit] = np.maximum(largest[hit], piece.size)
        return inside


def _webs(
    lines: npt.NDArray[np.object_], inside: npt.NDArray[np.bool_], partly: Sequence[int], pieces: Sequence[Filled]
) -> dict[int, tuple[list[float], list[float]]]:
    """Of lands joined in part: the share and the width of each join."""
    if not partly:
        return {}
    some = inside[partly]
    changes = some != np.roll(some, -1, axis=1)
    row, step = np.nonzero(changes)
    starts_in = some[row, step]
    low, high = step / SAMPLES, (step + 1) / SAMPLES
    pours, scratch = _Pours(lines[partly], pieces), np.zeros(len(partly))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = pours.at(row, middle % 1.0, scratch) == starts_in
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    edge = (low + high) / 2 % 1.0
    at = pours.points(row, edge)
    found: dict[int, tuple[list[float], list[float]]] = {}
    for n, owner in enumerate(partly):
        own = np.flatnonzero(row == n)
        length = float(shapely.length(lines[owner]))
        runs, widths = [], []
        for k, begin in enumerate(own):
            if starts_in[begin]:
                continue  # copper ends here
            end = own[(k + 1) % len(own)]
            run = float((edge[end] - edge[begin]) % 1.0)
            across = float(np.hypot(*(at[end] - at[begin])))
            runs.append(run)
            # a web is as wide as it is straight across; along a curved land it is a little longer
            widths.append(across if run < 0.25 else run * length)
        found[owner] = (runs, widths)
    return found
