# SPDX-License-Identifier: MIT
"""Whether the drill files of a release make the board's holes, and if not, what happened to them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import dist, hypot
from typing import Optional

import numpy as np
import shapely

from lineworthy.geometry import Floats, spine
from lineworthy.intake.drill import DrillFile, Hit
from lineworthy.knowledge.made import Drill, Made
from lineworthy.shapes import Point

PLACE_MM = 0.02
"""A hole may be this far from its place: coordinates in inches with four decimals are rounded to 1.3 um, with three to
13 um."""

SIZE_MM = 0.02
"""A tool may differ by this from the hole's size: sizes in inches with three decimals are rounded to 13 um."""


@dataclass(frozen=True)
class DrillMove:
    """What undoes what happened to the holes of a file: a name, a factor for x and for y, an offset."""

    name: str
    x: float
    y: float
    offset: Point

    def undone(self, point: Point) -> Point:
        """Where a point was before."""
        return point[0] * self.x + self.offset[0], point[1] * self.y + self.offset[1]


_MOVES = (
    ("moved", 1.0, 1.0),
    ("mirrored left to right", -1.0, 1.0),
    ("mirrored top to bottom", 1.0, -1.0),
    ("turned by 180 degrees", -1.0, -1.0),
    ("too small by 25.4", 25.4, 25.4),
    ("too large by 25.4", 1 / 25.4, 1 / 25.4),
    ("too small by 10", 10.0, 10.0),
    ("too large by 10", 0.1, 0.1),
)


@dataclass(frozen=True)
class Pair:
    """A hole of the board and the hit that makes it."""

    drill: Drill
    hit: Hit


class DrillMatches:
    """The drill files of a release against the board.

    Args:
        made: the board.
        files: the drill files.
        origin: where the board's own origin lies in the plots.
    """

    def __init__(self, made: Made, files: Sequence[DrillFile], origin: Point) -> None:
        self._made, self._files, self._origin = made, files, origin

    @cached_property
    def moves(self) -> dict[str, DrillMove]:
        """Files whose holes are all in the wrong place, or size, in one way."""
        found = {}
        for file in self._files:
            hits = [hit for hit in file.hits if len(hit.points) <= 2]
            if hits and self._share(hits, self._home) < 0.5 and (move := self._move(hits)) is not None:
                found[file.name] = move
        return found

    @cached_property
    def pairs(self) -> tuple[Pair, ...]:
        """Holes that are drilled where they must be, whatever their size."""
        return tuple(pair for pairs, _, _ in [self._matched] for pair in pairs)

    @cached_property
    def missing(self) -> tuple[Drill, ...]:
        """Holes that no file drills."""
        return self._matched[1]

    @cached_property
    def extra(self) -> tuple[Hit, ...]:
        """Hits, in the board's own frame, where the board has no hole."""
        return self._matched[2]

    @property
    def wrong_size(self) -> tuple[Pair, ...]:
        """Holes drilled with another size or as another slot."""
        return tuple(pair for pair in self.pairs if not _same_size(pair))

    @property
    def wrong_plating(self) -> tuple[Pair, ...]:
        """Holes a file says the opposite of."""
        return tuple(pair for pair in self.pairs if pair.hit.plated not in (None, pair.drill.hole.plated))

    @cached_property
    def milled(self) -> tuple[Hit, ...]:
        """Ways of a cutter with more than two points, which are no hole of the model."""
        return tuple(hit for file in self._files for hit in file.hits if len(hit.points) > 2)

    @property
    def _home(self) -> DrillMove:
        return DrillMove("", 1.0, 1.0, (-self._origin[0], -self._origin[1]))

    @cached_property
    def _places(self) -> Floats:
        return np.array([drill.hole.at for drill in self._made.drills]).reshape(-1, 2)

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([shapely.Point(place) for place in self._places])

    @cached_property
    def _matched(self) -> tuple[tuple[Pair, ...], tuple[Drill, ...], tuple[Hit, ...]]:
        drills = self._made.drills
        hits: list[tuple[Hit, Optional[tuple[int, int]]]] = []
        for file in self._files:
            move = self.moves.get(file.name, self._home)
            factor = abs(move.x)
            hits += [
                (
                    Hit(
                        tuple(move.undone(point) for point in hit.points),
                        hit.diameter * factor,
                        file.plated if hit.plated is None else hit.plated,
                    ),
                    file.span,
                )
                for hit in file.hits
                if len(hit.points) <= 2
            ]
        if not len(drills) or not hits:
            return (), drills, tuple(hit for hit, _ in hits)
        points = shapely.points(np.array([hit.at for hit, _ in hits]))
        of_hit, of_drill = self._tree.query(points, predicate="dwithin", distance=PLACE_MM)
        best: dict[int, int] = {}
        used: set[int] = set()
        # the same place can hold holes of several spans and platings: the pair that agrees in most goes first
        order = sorted(
            zip(of_hit.tolist(), of_drill.tolist()),
            key=lambda pair: _unlikeness(hits[pair[0]][0], hits[pair[0]][1], drills[pair[1]]),
        )
        for h, d in order:
            span = hits[h][1]
            if span is not None and span != (drills[d].first, drills[d].last):
                continue
            if d not in best:
                best[d] = h
            used.add(h)
        pairs = tuple(Pair(drills[d], hits[h][0]) for d, h in sorted(best.items()))
        missing = tuple(drill for d, drill in enumerate(drills) if d not in best)
        return pairs, missing, tuple(hit for h, (hit, _) in enumerate(hits) if h not in used)

    def _share(self, hits: Sequence[Hit], move: DrillMove) -> float:
        """How many of the hits fall on holes of their size when a move is undone; 0 when the sizes are all wrong."""
        if not len(self._places):
            return 0.0
        points = shapely.points(np.array([move.undone(hit.at) for hit in hits]))
        of_hit, of_drill = self._tree.query(points, predicate="dwithin", distance=PLACE_MM)
        factor = abs(move.x)
        drills = self._made.drills
        sized = {
            h
            for h, d in zip(of_hit.tolist(), of_drill.tolist())
            if abs(hits[h].diameter * factor - drills[d].hole.diameter) <= SIZE_MM
        }
        return len(sized) / len(hits)

    def _move(self, hits: Sequence[Hit]) -> Optional[DrillMove]:
        for name, x, y in _MOVES:
            turned = [(hit.at[0] * x, hit.at[1] * y) for hit in hits]
            for offset in self._offsets(hits, turned, abs(x)):
                move = DrillMove(name, x, y, offset)
                if self._share(hits, move) > 0.95:
                    return move
        return None

    def _offsets(self, hits: Sequence[Hit], turned: list[Point], factor: float) -> list[Point]:
        """Offsets that bring many hits onto holes: by size, each hit against each hole of the rarest size."""
        drills = self._made.drills
        count = Counter(round(hit.diameter * factor, 1) for hit in hits)
        votes: Counter[Point] = Counter()
        for size, _ in sorted(count.items(), key=lambda item: item[1])[:3]:
            ours = [drill.hole.at for drill in drills if abs(drill.hole.diameter - size) <= 0.06][:60]
            theirs = [spot for hit, spot in zip(hits, turned) if round(hit.diameter * factor, 1) == size][:60]
            for a in ours:
                for b in theirs:
                    votes[round(a[0] - b[0], 2) + 0.0, round(a[1] - b[1], 2) + 0.0] += 1
        return [offset for offset, _ in sorted(votes.items(), key=lambda item: (-item[1], item[0]))[:8]]


def _unlikeness(hit: Hit, span: Optional[tuple[int, int]], drill: Drill) -> tuple[bool, bool, float, float]:
    return (
        span is not None and span != (drill.first, drill.last),
        hit.plated not in (None, drill.hole.plated),
        round(abs(hit.diameter - drill.hole.diameter), 4),
        dist(hit.at, drill.hole.at),
    )


def _same_size(pair: Pair) -> bool:
    hole, hit = pair.drill.hole, pair.hit
    if abs(hit.diameter - hole.diameter) > SIZE_MM:
        return False
    ends = shapely.get_coordinates(spine(hole))
    ways = np.array([hit.points[0], hit.points[-1]])
    if len(ends) == 1:
        return bool(hypot(*(ways[0] - ways[1])) <= SIZE_MM)
    ahead = np.hypot(*(ways - ends).T).max()
    back = np.hypot(*(ways[::-1] - ends).T).max()
    return bool(min(ahead, back) <= 2 * PLACE_MM)
