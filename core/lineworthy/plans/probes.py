# SPDX-License-Identifier: MIT
"""The probe plan: where a fixture touches each net, from which side, how hard, and what it cannot reach.

One side is planned for all probes. The other is used only when a net that test must reach cannot be reached from the
first one; what else only the other side reaches is said, so that a person can weigh the second side.

Not looked at: what a test needs beyond the key nets and one probe per net, currents (a standard probe carries 1 to 3 A,
common practice, no source), wobble and tolerance of probes, parts on the far side that supports must miss.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import combinations
from typing import Optional

import numpy as np

from lineworthy.knowledge.holes import FixingHole, HoleUse
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netfacts import NetKind
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.surroundings import Surroundings
from lineworthy.knowledge.targets import Target, Targets
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, Side
from lineworthy.plans.probe_choice import Candidate, Candidates, Chosen, choose, spread
from lineworthy.plans.probe_force import INCH_MM, densest_inch, sag, strain, support_spacing, vacuum_probes
from lineworthy.plans.probe_plan import GROUND, RAIL, SENSE, SIGNAL, Load, Plug, Probe, ProbePlan, Uncovered
from lineworthy.plans.probe_room import PadRoom, Room
from lineworthy.plans.probe_sizes import FINEST_MM, sizes
from lineworthy.sheet import Sheet

GROUND_PROBES_MIN = 4
"""Ground probes a fixture wants, however few signals there are (common practice, no source)."""


DATUM_HOLE_MM = (2.0, 6.5)
"""Diameters of holes that guide pins are made for (common practice, no source)."""


def plan(
    board: Board, sheet: Sheet, *, nets: Nets, marks: Marks, packages: Packages, side: Optional[Side] = None
) -> ProbePlan:
    """Plans the probes of a board.

    Args:
        board: the board.
        sheet: limits.
        nets: what each net is for, with what the project says of it.
        marks: test points and holes.
        packages: heights of parts.
        side: where probes must be; the better one when None.
    """
    return _Planner(board, sheet, nets, marks, packages).plan(side)


class _Planner:
    def __init__(self, board: Board, sheet: Sheet, nets: Nets, marks: Marks, packages: Packages) -> None:
        self._board, self._sheet, self._nets, self._marks = board, sheet, nets, marks
        self._limits = sheet.test_access
        self._targets = Targets(board, marks)
        self._surroundings = Surroundings(board, marks, packages)
        self._keys = {key.facts.name: key for key in nets.keys}

    @cached_property
    def _wanted(self) -> list[str]:
        """Nets to be reached: all with two pins or more, but those a probe would harm."""
        idle = (NetKind.NO_CONNECT, NetKind.SINGLE_PIN)
        return [n for n, f in self._nets.all.items() if n in self._keys or not (f.kind in idle or f.kind.stays_bare)]

    @cached_property
    def _candidates(self) -> Candidates:
        return Candidates(self._board, self._wanted, self._targets, self._surroundings, self._limits)

    def plan(self, side: Optional[Side]) -> ProbePlan:
        main = side or self._better_side()
        found = {main: Chosen(self._limits), main.other: Chosen(self._limits)}
        picked = dict(choose(self._wanted, self._candidates, main, found[main]))
        forced = tuple(n for n in self._keys if n not in picked and self._only_from(n, main.other))
        if forced:
            rest = [net for net in self._wanted if net not in picked and self._only_from(net, main.other)]
            picked.update(choose(rest, self._candidates, main.other, found[main.other]))
        purposes = {id(candidate): self._purpose(net) for net, candidate in picked.items()}
        wanted = self._add_grounds(main, found[main], picked, purposes)
        self._add_senses(main, found[main], picked, purposes)
        probes = self._numbered(found, main, purposes)
        plugs, uncovered = self._rest(picked, main, [probe.target.at for probe in probes if probe.target.side is main])
        return ProbePlan(
            board=self._board,
            sheet=self._sheet,
            side=main,
            probes=probes,
            plugs=plugs,
            uncovered=uncovered,
            left_bare=tuple(f for f in self._nets.all.values() if f.kind.stays_bare and f.name not in self._keys),
            forced=forced,
            datum=datum(self._marks.holes),
            load=self._load([probe for probe in probes if probe.target.side is main]),
            grounds_wanted=wanted,
            far_signal=_far_signal(probes),
        )

    def _better_side(self) -> Side:
        """The side that reaches more key nets, then more nets; the bottom, where fixtures have their probes, of two."""

        def worth(side: Side) -> tuple[int, int, bool]:
            reached = [net for net in self._wanted if self._candidates.of(net, side)]
            return sum(net in self._keys for net in reached), len(reached), side is Side.BOTTOM

        return max(Side, key=worth)

    def _only_from(self, net: str, side: Side) -> bool:
        """Whether a probe reaches a net from one side, and neither a probe from the other nor a plug does."""
        here, there = self._candidates.of(net, side), self._candidates.of(net, side.other)
        return bool(here) and not there and self._plug(net) is None

    def _plug(self, net: str) -> Optional[Target]:
        return next((target for target in self._targets.of(net) if not target.kind.is_probed), None)

    def _purpose(self, net: str) -> str:
        kind = self._nets.of(net).kind
        return GROUND if kind is NetKind.GROUND else RAIL if kind is NetKind.POWER else SIGNAL

    def _add_grounds(
        self, side: Side, chosen: Chosen, picked: Mapping[str, Candidate], purposes: dict[int, str]
    ) -> int:
        """More probes on the largest ground, near the signals that have none near; says how many were wanted."""
        grounds = [net for net in picked if purposes[id(picked[net])] == GROUND and picked[net].target.side is side]
        signals = [c.target.at for c in chosen.picked if purposes[id(c)] != GROUND]
        wanted = max(GROUND_PROBES_MIN, math.ceil(len(signals) / self._limits.signals_per_ground_max_count))
        if not grounds:
            return wanted
        main = max(grounds, key=lambda net: (len(self._board.pads_by_net[net]), natural(net)))
        have = [picked[net].target.at for net in grounds]
        more = spread(self._candidates.of(main, side), signals, have, wanted - len(have), chosen)
        purposes.update((id(candidate), GROUND) for candidate in more)
        return wanted

    def _add_senses(
        self, side: Side, chosen: Chosen, picked: Mapping[str, Candidate], purposes: dict[int, str]
    ) -> None:
        rails = [net for net in self._keys if net in picked and purposes[id(picked[net])] == RAIL]
        for net in rails:
            others = [c for c in self._candidates.of(net, side) if c is not picked[net] and not c.is_hard]
            second = chosen.best(others, room=FINEST_MM)
            if second is not None:
                chosen.take(second)
                purposes[id(second)] = SENSE

    def _numbered(self, found: Mapping[Side, Chosen], main: Side, purposes: Mapping[int, str]) -> tuple[Probe, ...]:
        made: list[Probe] = []
        for side in (main, main.other):
            picked = sorted(
                found[side].picked,
                key=lambda c: (natural(c.target.net), c.target.net, purposes[id(c)] == SENSE, c.merit, c.target.at),
            )
            places = [candidate.target.at for candidate in picked]
            for candidate, size, apart in zip(picked, sizes(places), _nearest(places)):
                net = candidate.target.net
                made.append(
                    Probe(
                        number=len(made) + 1,
                        facts=self._nets.of(net),
                        target=candidate.target,
                        purpose=purposes[id(candidate)],
                        is_key=net in self._keys,
                        size=size,
                        apart=apart,
                        hurdles=candidate.hurdles,
                    )
                )
        return tuple(made)

    def _rest(
        self, picked: Mapping[str, Candidate], main: Side, places: Sequence[tuple[float, float]]
    ) -> tuple[tuple[Plug, ...], tuple[Uncovered, ...]]:
        """Nets without a probe: those a plug reaches, and the others with the nearest room for a pad."""
        plugs: list[Plug] = []
        missed: list[str] = []
        for net in (net for net in self._wanted if net not in picked):
            plug = self._plug(net)
            if plug is not None:
                plugs.append(Plug(self._nets.of(net), plug, net in self._keys))
            else:
                missed.append(net)
        # the nets test must reach come first, and all in the order of their names
        missed.sort(key=lambda net: net not in self._keys)
        rooms = PadRoom(self._board, main, self._limits, self._surroundings, places).nearest(missed)
        return tuple(plugs), tuple(self._uncovered(net, main, rooms.get(net)) for net in missed)

    def _uncovered(self, net: str, main: Side, room: Optional[Room]) -> Uncovered:
        others = self._candidates.of(net, main.other)
        need = self._limits.target_min_mm
        lack = self._targets.lack(net, need, main) or "its targets have a part, the edge or a hole on them"
        return Uncovered(self._nets.of(net), net in self._keys, lack, others[0].target if others else None, room)

    def _load(self, probes: Sequence[Probe]) -> Load:
        force, thickness = self._limits.probe_force_n, self._board.stackup.thickness
        total = len(probes) * force
        densest = densest_inch([probe.target.at for probe in probes], force)
        load = Load(force, total, self._limits.probe_force_per_inch2_max_n, densest)
        area = self._board.outline.area
        if area.is_empty or not thickness > 0 or not probes:
            return load
        left, bottom, right, top = area.bounds
        span = min(right - left, top - bottom)
        pressure = total / area.area
        return Load(
            *(force, total, load.cap, densest),
            vacuum=vacuum_probes(area.area, force),
            span=span,
            sag=sag(pressure, span, thickness),
            strain=strain(pressure, span, thickness),
            supports=support_spacing(densest.force / min(INCH_MM**2, area.area), thickness),
        )


def datum(holes: Sequence[FixingHole]) -> tuple[FixingHole, ...]:
    """The two holes farthest apart that a fixture's pins can use: guide holes, or else unplated mounting holes.

    The first is the one at the lower left. Plated holes vary with their plating and are no datum.
    """
    low, high = DATUM_HOLE_MM
    usable = [hole for hole in holes if not hole.plated and low <= hole.diameter <= high]
    for fitting in ([hole for hole in usable if hole.use is HoleUse.TOOLING], usable):
        if len(fitting) >= 2:
            pairs = combinations(sorted(fitting, key=lambda hole: (hole.at[0] + hole.at[1], hole.at)), 2)
            return max(pairs, key=lambda pair: round(math.dist(pair[0].at, pair[1].at), 4))
    return ()


def _nearest(places: Sequence[tuple[float, float]]) -> list[Optional[float]]:
    """Distance from each place to the nearest other one."""
    spots = np.asarray(places, dtype=float).reshape(-1, 2)
    if len(spots) < 2:
        return [None] * len(spots)
    made: list[Optional[float]] = []
    for n, spot in enumerate(spots):
        away = np.hypot(*(spots - spot).T)
        away[n] = np.inf
        made.append(float(away.min()))
    return made


def _far_signal(probes: Sequence[Probe]) -> Optional[tuple[Probe, float]]:
    grounds = np.array([probe.target.at for probe in probes if probe.purpose == GROUND]).reshape(-1, 2)
    signals = [probe for probe in probes if probe.purpose == SIGNAL]
    if not len(grounds) or not signals:
        return None
    away = [float(np.hypot(*(grounds - probe.target.at).T).min()) for probe in signals]
    far = int(np.argmax(away))
    return signals[far], away[far]
