# SPDX-License-Identifier: MIT
"""Which target each net is probed at: the candidates of every net, what speaks against each, and the choice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.ops import polylabel

from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.surroundings import Hurdle, Surroundings
from lineworthy.knowledge.targets import Target, TargetKind, Targets
from lineworthy.knowledge.wording import natural
from lineworthy.limits import TestAccessLimits
from lineworthy.model import Board, Pad, Side, Via
from lineworthy.plans.probe_force import VACUUM_KEY
from lineworthy.plans.probe_sizes import FINEST_MM
from lineworthy.shapes import Point, polygonal

PREFERENCE = (TargetKind.DEDICATED, TargetKind.LEAD, TargetKind.LAND, TargetKind.VIA)
"""Dedicated pads first, then leads, then vias (guidelines of two tester makers, trade texts)."""


OPEN_HOLE_MAX_MM = 1.3
"""A tapered tip centres itself in an open hole up to about this wide (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A target a probe can be aimed at, and what speaks against it."""

    target: Target
    hurdles: tuple[Hurdle, ...] = ()

    @property
    def is_hard(self) -> bool:
        """Whether a part, the edge or a guide hole is nearer than the sheet allows; a vacuum seal alone is not hard."""
        return any(hurdle.limit_key != VACUUM_KEY for hurdle in self.hurdles)

    @cached_property
    def merit(self) -> tuple[object, ...]:
        """Sort key, the best first, without regard to other probes."""
        target = self.target
        return (
            self.is_hard,
            PREFERENCE.index(target.kind),
            len(self.hurdles),
            -round(target.diameter, 3),
            natural(target.label),
        )


class Candidates:
    """Every target of the wanted nets that a probe can be aimed at, by net and side."""

    def __init__(
        self,
        board: Board,
        nets: Iterable[str],
        targets: Targets,
        surroundings: Surroundings,
        limits: TestAccessLimits,
    ) -> None:
        self._limits = limits
        found = [as_probed(board, target) for net in nets for target in targets.of(net)]
        usable = [target for target in found if target is not None and not falls_short(target.diameter, self._need)]
        self._of: dict[tuple[str, Side], list[Candidate]] = {}
        for target, hurdles in zip(usable, surroundings.hurdles(usable, limits)):
            if not any(hurdle.blocks for hurdle in hurdles):
                self._of.setdefault((target.net, target.side), []).append(Candidate(target, hurdles))
        for group in self._of.values():
            group.sort(key=lambda candidate: candidate.merit)

    @property
    def _need(self) -> float:
        return self._limits.target_min_mm

    def of(self, net: str, side: Side) -> Sequence[Candidate]:
        """The candidates of a net on a side, best first."""
        return self._of.get((net, side), ())


def as_probed(board: Board, target: Target) -> Optional[Target]:
    """A target as something a probe hits; None for what only a plug reaches.

    The soldered end of a connector's pin is a lead like any other; only its open end needs a plug.
    """
    if isinstance(target.item, Via):
        return target
    if target.kind is TargetKind.LEAD:
        return target
    if target.kind.is_probed:
        return replace(target, at=_aim(board, target, target.item[1]))
    part, pad = target.item
    soldered = pad.hole is not None and pad.hole.plated and target.side is part.side.other
    return replace(target, kind=TargetKind.LEAD) if soldered else None


def _aim(board: Board, target: Target, pad: Pad) -> Point:
    """Where on the copper a probe goes: the middle of the pad, or beside an open hole too wide for its tip."""
    copper = pad.copper[board.copper_on(target.side)]
    opened = pad.mask.get(target.side)
    bare = copper if opened is None or opened.covers(copper) else polygonal(copper.intersection(opened))
    if pad.hole is not None and pad.hole.diameter > OPEN_HOLE_MAX_MM:
        bare = polygonal(bare.difference(pad.hole.shape))
    at = shapely.Point(target.at)
    if bare.is_empty or bare.covers(at.buffer(0.4 * target.diameter, quad_segs=4)):
        return target.at
    pieces = [piece for piece in shapely.get_parts(bare) if piece.area > 1e-6]
    spot = polylabel(max(pieces, key=lambda piece: float(piece.area)), 0.01) if pieces else at
    return float(spot.x), float(spot.y)


@dataclass
class Chosen:
    """The probes of one side so far."""

    limits: TestAccessLimits
    picked: list[Candidate] = field(default_factory=list)
    _places: npt.NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))

    def apart(self, at: Point) -> float:
        """Distance from a place to the nearest probe, infinite when there is none."""
        return float(self.all_apart([at])[0])

    def all_apart(self, places: Union[Sequence[Point], npt.NDArray[np.float64]]) -> npt.NDArray[np.float64]:
        """Distance from each of some places to the nearest probe."""
        spots = np.asarray(places, dtype=float).reshape(-1, 2)
        if not len(self._places):
            return np.full(len(spots), np.inf)
        nearest = [np.hypot(*(self._places - spot).T).min() for spot in spots]
        return np.asarray(nearest)

    def take(self, candidate: Candidate) -> None:
        """Puts a probe there."""
        self.picked.append(candidate)
        self._places = np.vstack([self._places, candidate.target.at])

    def best(self, candidates: Sequence[Candidate], room: float = 0.0) -> Optional[Candidate]:
        """The best candidate beside what is there: room for a probe at all, then for one that lasts, then merit.

        Args:
            candidates: best first.
            room: candidates with less to the nearest probe are out.
        """
        if not candidates:
            return None
        apart = self.all_apart([candidate.target.at for candidate in candidates])
        ranked = [
            ((falls_short(gap, FINEST_MM), c.merit[:2], falls_short(gap, self.limits.target_pitch_preferred_mm)), n)
            for n, (c, gap) in enumerate(zip(candidates, apart))
            if not falls_short(float(gap), room)
        ]
        return candidates[min(ranked)[1]] if ranked else None


def choose(nets: Sequence[str], candidates: Candidates, side: Side, chosen: Chosen) -> Mapping[str, Candidate]:
    """One candidate for each net that has any on a side; nets with the least choice come first."""
    found: dict[str, Candidate] = {}
    order = sorted(nets, key=lambda net: (len(candidates.of(net, side)), natural(net), net))
    for net in order:
        best = chosen.best(candidates.of(net, side))
        if best is not None:
            chosen.take(best)
            found[net] = best
    return found


def spread(
    candidates: Sequence[Candidate], served: Sequence[Point], have: Sequence[Point], count: int, chosen: Chosen
) -> list[Candidate]:
    """Further ground probes, each beside the place that is farthest from ground so far, until all have one near.

    Args:
        candidates: ground targets of the side.
        served: where the other probes are.
        have: ground probes there are.
        count: how many more are wanted in any case; fewer come back when there are no targets with room left.
        chosen: the side's probes; what is picked is added.
    """
    left = [c for c in candidates if not any(c is taken for taken in chosen.picked)]
    left.sort(key=lambda c: c.is_hard)
    spots = np.array([c.target.at for c in left]).reshape(-1, 2)
    free = chosen.all_apart(spots) >= FINEST_MM - 1e-4 if left else np.zeros(0, dtype=bool)
    wishes = np.asarray(served if len(served) else have, dtype=float).reshape(-1, 2)
    grounds = [np.asarray(at, dtype=float) for at in have]
    made: list[Candidate] = []
    while free.any() and len(wishes):
        far = np.min([np.hypot(*(wishes - at).T) for at in grounds], axis=0) if grounds else np.ones(len(wishes))
        wish = wishes[int(far.argmax())]
        away = np.where(free, np.hypot(*(spots - wish).T), np.inf)
        helps = exceeds(float(far.max()), chosen.limits.ground_target_near_mm) and away.min() < far.max()
        if len(made) >= count and not helps:
            break
        pick = left[int(away.argmin())]
        chosen.take(pick)
        made.append(pick)
        grounds.append(np.asarray(pick.target.at))
        free &= np.hypot(*(spots - grounds[-1]).T) >= FINEST_MM - 1e-4
    return made
