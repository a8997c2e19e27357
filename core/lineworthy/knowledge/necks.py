# SPDX-License-Identifier: MIT
"""What a piece of copper carries from one place on it to another: the narrowest cut that parts the two.

A cut runs through copper from edge to edge. Where the copper has holes it may go on at another edge of a hole, so that
webs side by side add up: between two places it is the shortest way round one of them, on which holes and all that lies
outside cost nothing. Such a way crosses a line from the one place to the other an odd number of times; that is how it
is told from others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush
from typing import NamedTuple, Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, Indices
from lineworthy.shapes import Point

STEPS = 8
"""Rims are looked at in pieces, so many to the needed width at the least."""

_ROUGH_MM = 0.01
"""Round holes need not be rounder than this."""

LOOKED_AT = 100_000_000
"""Webs times places: half a minute. Copper with more of them is not looked at: the ground planes of a large board."""

_SAMPLE = 300

_ALONG = 1.01
"""Two points of a rim whose way along it is hardly longer than the straight one cut nothing off."""

_HAIR_MM = 1e-5
"""Copper of exactly the needed width stays one piece when half of it is taken off all round."""

Flags = npt.NDArray[np.bool_]


class Neck(NamedTuple):
    """The narrowest cut between two places: mm of copper in all, and where the widest web of it is."""

    width: float
    at: Point


class Parting(NamedTuple):
    """Two ends that a neck parts, as indices, each the first of its group."""

    one: int
    other: int
    neck: Neck


class _Place(NamedTuple):
    """Something to be joined: a point in it, and its shape where cuts right beside it do not count."""

    point: Point
    shape: Optional[BaseGeometry]


class _Web(NamedTuple):
    """A way over copper to another ring, or the same."""

    width: float
    to: int
    odd: bool
    number: int


def parted(copper: Polygon, ends: Sequence[BaseGeometry], need: float) -> Optional[tuple[list[int], list[Parting]]]:
    """Which ends on a piece of copper are joined by it over `need` mm of width.

    Args:
        copper: one piece, lands and all.
        ends: what stands on it: lands, vias, tracks; each touches the copper.
        need: width, mm. Nearer than half of it to an end the copper may be narrower: what is short is cooled from both
            sides, and lands have webs on purpose.

    Returns:
        The group of each end, from 0 on, and for each group but the first what parts it from the group before it to
        which the copper is widest. None for copper with so many holes and ends that this would take minutes.
    """
    places, of_end = _places(copper, ends, need)
    if len(places) < 2:
        return [0] * len(ends), []
    rim = _Rim.of(copper, need, LOOKED_AT // len(places))
    if rim is None:
        return None
    groups: list[int] = []
    firsts: list[int] = []
    partings: list[Parting] = []
    for n, place in enumerate(places):
        necks: list[Neck] = []
        for number, first in enumerate(firsts):
            neck = rim.neck(place, places[first])
            if neck is None:
                groups.append(number)
                break
            necks.append(neck)
        else:
            if necks:
                widest = max(range(len(necks)), key=lambda k: necks[k].width)
                partings.append(Parting(of_end.index(firsts[widest]), of_end.index(n), necks[widest]))
            groups.append(len(firsts))
            firsts.append(n)
    return [groups[place] for place in of_end], partings


def _places(copper: Polygon, ends: Sequence[BaseGeometry], need: float) -> tuple[list[_Place], list[int]]:
    """What is left of the copper when half the width is taken off, as far as ends reach it; and ends that do not.

    The second list is the place of each end. Places with copper round them come first, so that necks are between them.
    """
    shapes = np.asarray(ends, dtype=object)
    cores = [one for one in shapely.get_parts(copper.buffer(_HAIR_MM - need / 2)) if not one.is_empty]
    reached = np.full(len(shapes), -1, dtype=np.intp)
    if cores:
        tree = shapely.STRtree(cores)
        found, nearest = tree.query_nearest(shapes, max_distance=need / 2 + TOL_MM, all_matches=False)
        reached[found] = nearest
    used = sorted(set(reached[reached >= 0].tolist()))
    places = [_Place(_inside(cores[core]), _all_of_it(cores[core], shapes[reached == core])) for core in used]
    of_end = [used.index(core) if core >= 0 else -1 for core in reached.tolist()]
    for n, core in enumerate(of_end):
        if core < 0:
            of_end[n] = len(places)
            places.append(_Place(_inside(shapely.intersection(shapes[n], copper)), shapes[n]))
    return places, of_end


def _all_of_it(core: BaseGeometry, ends: npt.NDArray[np.object_]) -> Optional[BaseGeometry]:
    """The land, via or track that a core is the inside of; None where it is that of a pour."""
    return next((end for end in ends if shapely.covers(end, core)), None)


def _inside(shape: BaseGeometry) -> Point:
    spot = shape.representative_point()
    return (float(spot.x), float(spot.y))


@dataclass(frozen=True, eq=False)
class _Rim:
    """All edges of a piece of copper in short pieces, and the webs between two of them that are narrower than needed.

    Attributes:
        at: (n, 2) mm, the beginnings of the pieces, ring after ring; the first one of each ring again as its last.
        ring: (n,) which ring.
        one, other: (m,) webs, narrowest first, as indices into the pieces.
        ends: (m, 2, 2) where a web ends on the one and on the other.
        width: (m,) mm.
    """

    need: float
    at: Floats
    ring: Indices
    one: Indices
    other: Indices
    ends: Floats
    width: Floats

    @classmethod
    def of(cls, copper: Polygon, need: float, most: int) -> Optional[_Rim]:
        """None where there would be more webs than `most`, by a sample of them."""
        rings = shapely.segmentize(shapely.get_rings(copper.simplify(_ROUGH_MM)), need / STEPS)
        at, ring = shapely.get_coordinates(rings, return_index=True)
        starts = np.flatnonzero(ring[1:] == ring[:-1])
        pieces = np.asarray(shapely.linestrings(np.stack([at[starts], at[starts + 1]], axis=1)), dtype=object)
        tree = shapely.STRtree(pieces)
        sample = pieces[:: max(len(pieces) // _SAMPLE, 1)]
        if tree.query(sample, predicate="dwithin", distance=need).shape[1] / len(sample) * len(pieces) / 2 > most:
            return None
        i, j = tree.query(pieces, predicate="dwithin", distance=need)
        i, j = i[i < j], j[i < j]
        ends = shapely.get_coordinates(shapely.shortest_line(pieces[i], pieces[j])).reshape(-1, 2, 2)
        width = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
        one, other = starts[i], starts[j]
        along = np.cumsum(np.hypot(*np.diff(at, axis=0, prepend=at[:1]).T))
        first, last = (np.searchsorted(ring, ring[one], side=side) for side in ("left", "right"))
        way = along[other] - along[one]
        way += np.hypot(*(ends[:, 1] - at[other]).T) - np.hypot(*(ends[:, 0] - at[one]).T)
        way = np.minimum(way, along[last - 1] - along[first] - way)
        kept = np.flatnonzero((width < need - TOL_MM) & ((ring[one] != ring[other]) | (way > _ALONG * width)))
        kept = kept[np.argsort(width[kept], kind="stable")]
        return cls(need, at, ring, one[kept], other[kept], ends[kept], width[kept])

    def neck(self, place: _Place, first: _Place) -> Optional[Neck]:
        """The narrowest cut between two places; None where it is as wide as needed."""
        counted = np.flatnonzero(self._counted(place.shape) & self._counted(first.shape))
        if not len(counted):
            return None
        line = (place.point, first.point)
        across = self._crossings(*line)
        odd = _crosses(self.ends[counted, 0], self.ends[counted, 1], *line)
        for side, piece in enumerate((self.one[counted], self.other[counted])):
            odd ^= across[piece] ^ _crosses(self.at[piece], self.ends[counted, side], *line)
        return self._shortest(counted, odd)

    @cached_property
    def _between(self) -> Indices:
        """One number for each two rings that a web lies between, from 0 on."""
        rings = np.sort([self.ring[self.one], self.ring[self.other]], axis=0)
        return np.asarray(np.unique(rings[0] * (self.ring[-1] + 1) + rings[1], return_inverse=True)[1])

    def _counted(self, shape: Optional[BaseGeometry]) -> Flags:
        """Webs that are not right beside a place."""
        counted = np.ones(len(self.one), dtype=bool)
        if shape is not None:
            low, high = np.array(shape.bounds).reshape(2, 2) + np.array([[-self.need / 2], [self.need / 2]])
            beside = ((self.ends.max(axis=1) >= low) & (self.ends.min(axis=1) <= high)).all(axis=1)
            near = np.flatnonzero(beside)
            shapely.prepare(shape)
            counted[near] = ~shapely.dwithin(shape, shapely.linestrings(self.ends[near]), self.need / 2)
        return counted

    def _crossings(self, start: Point, end: Point) -> Flags:
        """Whether the way along its ring to each point crosses a line an odd number of times."""
        hits = np.zeros(len(self.at), dtype=bool)
        hits[1:] = _crosses(self.at[:-1], self.at[1:], start, end) & (self.ring[1:] == self.ring[:-1])
        total = np.cumsum(hits)
        first = np.searchsorted(self.ring, self.ring, side="left")
        return np.asarray((total - total[first]) % 2 == 1)

    def _shortest(self, counted: Indices, odd: Flags) -> Optional[Neck]:
        """The shortest closed way from ring to ring that is odd in all, below the needed width."""
        # of all webs between two rings only the narrowest of each kind matters: the first of it
        kinds = self._between[counted] * 2 + odd
        narrowest = np.full(kinds.max() + 1, -1, dtype=np.intp)
        narrowest[kinds[::-1]] = np.arange(len(kinds))[::-1]
        narrowest = narrowest[narrowest >= 0]
        ways: dict[int, list[_Web]] = defaultdict(list)
        starts: set[int] = set()
        for n in narrowest.tolist():
            web = int(counted[n])
            a, b = int(self.ring[self.one[web]]), int(self.ring[self.other[web]])
            if a == b and not odd[n]:
                continue
            for here, there in {(a, b), (b, a)}:
                ways[here].append(_Web(float(self.width[web]), there, bool(odd[n]), web))
            if odd[n]:
                starts.add(a)
        best, webs = self.need - TOL_MM, []
        for start in sorted(starts):
            length, found = _round(ways, start, best)
            if found:
                best, webs = length, found
        if not webs:
            return None
        widest = max(webs, key=lambda web: (round(float(self.width[web]), 6), web))
        x, y = self.ends[widest].mean(axis=0).tolist()
        return Neck(best, (x, y))


def _round(ways: Mapping[int, Sequence[_Web]], start: int, most: float) -> tuple[float, list[int]]:
    """The shortest odd way from a ring back to it, shorter than `most`: its length and the webs it crosses."""
    done: dict[tuple[int, bool], float] = {}
    queue: list[tuple[float, int, bool, tuple[int, ...]]] = [(0.0, start, False, ())]
    while queue:
        length, ring, is_odd, webs = heappop(queue)
        if (ring, is_odd) == (start, True):
            return length, list(webs)
        if (ring, is_odd) in done:
            continue
        done[ring, is_odd] = length
        for web in ways[ring]:
            if length + web.width < most and (web.to, is_odd ^ web.odd) not in done:
                heappush(queue, (length + web.width, web.to, is_odd ^ web.odd, (*webs, web.number)))
    return most, []


def _crosses(a: Floats, b: Floats, start: Point, end: Point) -> Flags:
    """Whether segments cross the one from start to end; a point on its line counts to one side of it, always."""
    origin, way = np.array(start), np.subtract(end, start)
    left_a = way[0] * (a[:, 1] - origin[1]) - way[1] * (a[:, 0] - origin[0])
    left_b = way[0] * (b[:, 1] - origin[1]) - way[1] * (b[:, 0] - origin[0])
    apart = (left_a > 0) != (left_b > 0)
    share = np.divide(left_a, left_a - left_b, out=np.zeros(len(a)), where=apart)
    met = (a + share[:, None] * (b - a) - origin) @ way
    return np.asarray(apart & (met > 0) & (met < way @ way))
