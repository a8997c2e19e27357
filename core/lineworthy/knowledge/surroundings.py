# SPDX-License-Identifier: MIT
"""What stands round a probe target: parts by height, the board edge, guide holes, the next target.

Distances run from the rim of the target's largest bare circle. Heights come from `packages`; where nobody states one,
a few families that never are low (radial cans, relays) count as tall, and everything else as low.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import NamedTuple, Optional

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import exceeds, falls_short, objects, pairs_within
from lineworthy.knowledge.holes import HoleUse
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.targets import Target, standing
from lineworthy.knowledge.wording import mm, natural
from lineworthy.limits import TestAccessLimits
from lineworthy.model import Board, Part, Side
from lineworthy.shapes import Area

TALL_FAMILIES = (Family.RADIAL, Family.RELAY)
"""Parts whose height is seldom stated and never low: the lowest in the catalogues stand about 5 mm, most 8 and more."""

PROBE_SPACING_MM: Mapping[tuple[int, int], float] = {
    (100, 100): 2.41,
    (75, 100): 1.91,
    (75, 75): 1.78,
    (50, 75): 1.52,
    (50, 50): 1.27,
}
"""Least distance between the centres of two probes, by their size classes in mil, the smaller first (guideline of an
in-circuit tester's maker, trade text)."""

PROBE_SIZES = (100, 75, 50)
"""Size classes of probes in mil, the sturdiest first."""


class HurdleKind(Enum):
    """What makes a target hard to probe."""

    SMALL = "too small"
    PART = "near a part"
    TALL = "near a tall part"
    EDGE = "near the edge"
    TOOLING = "near a guide hole"


@dataclass(frozen=True, eq=False)
class Hurdle:
    """One thing that makes a target hard to probe.

    Attributes:
        measured, limit: mm, the gap there is and the gap wanted.
        limit_key: where the limit stands in the sheet.
        by: what is in the way, in words.
        part: the part in the way, if it is one.
    """

    kind: HurdleKind
    measured: float
    limit: float
    limit_key: str
    by: str = ""
    part: Optional[Part] = field(default=None, repr=False)

    @property
    def blocks(self) -> bool:
        """Whether no probe fits at all; the others cost care, a milled plate or another seal."""
        return self.kind is HurdleKind.SMALL or self.measured <= 0.0


class _Standing(NamedTuple):
    parts: tuple[Part, ...]
    shapes: npt.NDArray[np.object_]
    heights: tuple[Optional[float], ...]
    tall: tuple[bool, ...]


class Surroundings:
    """Measures what stands round targets; indices are built once for a board."""

    def __init__(self, board: Board, marks: Marks, packages: Packages) -> None:
        self._board = board
        self._marks = marks
        self._packages = packages

    def hurdles(self, targets: Sequence[Target], limits: TestAccessLimits) -> list[tuple[Hurdle, ...]]:
        """What makes each of some targets hard to probe, in their order; an empty tuple where nothing does."""
        found: list[list[Hurdle]] = [[] for _ in targets]
        probed = [n for n, target in enumerate(targets) if target.kind.is_probed]
        some = [targets[n] for n in probed]
        for judged in (self._small, self._parts, self._edge, self._tooling):
            for index, hurdle in judged(some, limits):
                found[probed[index]].append(hurdle)
        return [tuple(hurdles) for hurdles in found]

    def keep_out(self, side: Side, limits: TestAccessLimits) -> list[tuple[Area, float]]:
        """What stands on a side, each with the room its height asks for, to the rim of a target."""
        rows = zip(*self._standing[side])
        touched = [(shape, _by_height(part, height, tall, 0.0, limits)) for part, shape, height, tall in rows]
        return [(shape, hurdle.limit) for shape, hurdle in touched if hurdle]

    def _small(self, some: Sequence[Target], limits: TestAccessLimits) -> Iterable[tuple[int, Hurdle]]:
        need = limits.target_min_mm
        for n, target in enumerate(some):
            if falls_short(target.diameter, need):
                yield n, Hurdle(HurdleKind.SMALL, target.diameter, need, "test-access.target_min_mm")

    def _parts(self, some: Sequence[Target], limits: TestAccessLimits) -> Iterable[tuple[int, Hurdle]]:
        reach = max(limits.target_to_part_min_mm, limits.target_to_mid_part_mm, limits.target_to_tall_part_mm)
        for side in Side:
            here = [n for n, target in enumerate(some) if target.side is side]
            there = self._standing[side]
            if not here:
                continue
            spots = np.asarray(shapely.points([some[n].at for n in here]), dtype=object)
            radii = np.array([some[n].diameter / 2 for n in here])
            worst: dict[tuple[int, HurdleKind], Hurdle] = {}
            for i, j, apart in zip(*pairs_within(spots, there.shapes, reach + radii)):
                target, part = some[here[i]], there.parts[j]
                if part is target.own:
                    continue
                hurdle = _by_height(part, there.heights[j], there.tall[j], float(apart - radii[i]), limits)
                key = (here[i], hurdle.kind) if hurdle else (-1, HurdleKind.PART)
                if hurdle and (key not in worst or _rank(hurdle) < _rank(worst[key])):
                    worst[key] = hurdle
            yield from ((n, hurdle) for (n, _), hurdle in sorted(worst.items(), key=lambda item: item[0][0]))

    def _edge(self, some: Sequence[Target], limits: TestAccessLimits) -> Iterable[tuple[int, Hurdle]]:
        if not self._board.outline.is_closed or not some:
            return
        edge = self._board.outline.edge
        shapely.prepare(edge)
        apart = shapely.distance(shapely.points([target.at for target in some]), edge)
        for n, (target, distance) in enumerate(zip(some, apart)):
            gap = float(distance) - target.diameter / 2
            if falls_short(gap, limits.target_to_edge_min_mm):
                yield n, Hurdle(HurdleKind.EDGE, gap, limits.target_to_edge_min_mm, "test-access.target_to_edge_min_mm")
            elif falls_short(gap, limits.target_to_edge_vacuum_mm):
                key = "test-access.target_to_edge_vacuum_mm"
                yield n, Hurdle(HurdleKind.EDGE, gap, limits.target_to_edge_vacuum_mm, key)

    def _tooling(self, some: Sequence[Target], limits: TestAccessLimits) -> Iterable[tuple[int, Hurdle]]:
        holes = [hole for hole in self._marks.holes if hole.use is HoleUse.TOOLING]
        need = limits.target_to_tooling_mm
        for n, target in enumerate(some):
            for hole in holes:
                gap = float(np.hypot(hole.at[0] - target.at[0], hole.at[1] - target.at[1]))
                gap -= (hole.diameter + target.diameter) / 2
                if falls_short(gap, need):
                    by = hole.part.reference if hole.part else "a guide hole"
                    yield n, Hurdle(HurdleKind.TOOLING, gap, need, "test-access.target_to_tooling_mm", by, hole.part)

    @cached_property
    def _standing(self) -> Mapping[Side, _Standing]:
        found: dict[Side, _Standing] = {}
        for side, rows in standing(self._board, self._marks).items():
            shapes = objects(body for _, body in rows)
            facts = [self._packages.of(part) for part, _ in rows]
            tall = tuple(fact.height is None and fact.family in TALL_FAMILIES for fact in facts)
            found[side] = _Standing(tuple(part for part, _ in rows), shapes, tuple(fact.height for fact in facts), tall)
        return found


def _by_height(
    part: Part, height: Optional[float], tall: bool, gap: float, limits: TestAccessLimits
) -> Optional[Hurdle]:
    """What a part of some height at some distance is to a probe; None when it leaves the room its height asks for."""
    stands = f"{part.reference}, {mm(height)} mm tall" if height is not None else part.reference
    if tall or (height is not None and exceeds(height, limits.tall_part_mm)):
        kind, need, key = HurdleKind.TALL, limits.target_to_tall_part_mm, "test-access.target_to_tall_part_mm"
        stands = f"{part.reference}, of a kind that is tall" if height is None else stands
    elif height is not None and exceeds(height, limits.mid_part_mm):
        kind, need, key = HurdleKind.TALL, limits.target_to_mid_part_mm, "test-access.target_to_mid_part_mm"
    else:
        kind, need, key = HurdleKind.PART, limits.target_to_part_min_mm, "test-access.target_to_part_min_mm"
    return Hurdle(kind, max(gap, 0.0), need, key, stands, part) if falls_short(gap, need) else None


def _rank(hurdle: Hurdle) -> tuple[float, object]:
    return (round(hurdle.measured - hurdle.limit, 6), natural(hurdle.by))


def crowded(targets: Sequence[Target], reach: float) -> list[tuple[Target, Target, float]]:
    """Pairs of targets on one side and on two nets whose centres are nearer than `reach`, with their distance.

    Pads of one part are left out: they are made for one plug or one spring connector.
    """
    if not targets:
        return []
    found = []
    for i, j, apart in zip(*pairs_within(shapely.points([target.at for target in targets]), None, reach)):
        one, two = targets[i], targets[j]
        alone = one.own is None or one.own is not two.own
        if one.side is two.side and one.net != two.net and alone and falls_short(float(apart), reach):
            found.append((one, two, float(apart)))
    return found


def probe_sizes(apart: float) -> Optional[tuple[int, int]]:
    """The sturdiest pair of probe sizes, in mil, that fits at some distance between centres; None when none does."""
    fitting = (pair for pair, need in PROBE_SPACING_MM.items() if not falls_short(apart, need))
    return max(fitting, key=sum, default=None)
