# SPDX-License-Identifier: MIT
"""What a probe plan holds: the probes, what they leave out, and what they do to the board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Optional

from lineworthy.geometry import falls_short
from lineworthy.knowledge.holes import FixingHole
from lineworthy.knowledge.netfacts import NetFacts
from lineworthy.knowledge.surroundings import Hurdle
from lineworthy.knowledge.targets import Target
from lineworthy.model import Board, Side
from lineworthy.plans.probe_force import VACUUM_KEY, Densest
from lineworthy.plans.probe_room import Room
from lineworthy.sheet import Sheet

GUIDED_BELOW_MM = 0.76
"""Targets below this need probes with guided tips (guideline of an in-circuit tester's maker, trade text)."""

SIGNAL, RAIL, SENSE, GROUND = "signal", "rail", "sense", "ground"
"""What a probe is for. A rail gets a second one, to sense where the first one forces (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Probe:
    """One probe.

    Attributes:
        number: counted from 1 by net, main side first.
        purpose: `SIGNAL`, `RAIL`, `SENSE` or `GROUND`.
        size: class in mil, None where not even the finest fits beside its neighbour.
        apart: to the centre of the nearest other probe on the side, mm; None when it is alone.
        hurdles: what asks for care.
    """

    number: int
    facts: NetFacts
    target: Target
    purpose: str
    is_key: bool
    size: Optional[int]
    apart: Optional[float]
    hurdles: tuple[Hurdle, ...] = ()

    @property
    def net(self) -> str:
        """The net it touches."""
        return self.facts.name

    @property
    def in_the_way(self) -> tuple[Hurdle, ...]:
        """Hurdles for any fixture; nearness to the rim that only a vacuum's seal minds is left out."""
        return tuple(hurdle for hurdle in self.hurdles if hurdle.limit_key != VACUUM_KEY)

    @property
    def is_guided(self) -> bool:
        """Whether its target is so small that it needs a guided tip."""
        return falls_short(self.target.diameter, GUIDED_BELOW_MM)


@dataclass(frozen=True, eq=False)
class Plug:
    """A net that only a plug reaches."""

    facts: NetFacts
    target: Target
    is_key: bool


@dataclass(frozen=True, eq=False)
class Uncovered:
    """A net the plan does not reach.

    Attributes:
        lack: why not, in words.
        other: a target for a probe from the other side, if there is one.
        room: the nearest place a probe pad would fit on the main side, None when there is none.
    """

    facts: NetFacts
    is_key: bool
    lack: str
    other: Optional[Target] = None
    room: Optional[Room] = None


@dataclass(frozen=True)
class Load:
    """What the probes of the main side do to the board.

    Attributes:
        probe, total: N.
        cap: the most force in a square inch, N.
        densest: where most of it is.
        vacuum: how many such probes a vacuum over the whole board holds down; None without an outline.
        span: shorter side of the board, mm; the board is held along both long edges only.
        sag, strain: of that strip under the force evenly spread; None without an outline or a thickness.
        supports: how far apart push-down supports may be in the densest square inch, mm.
    """

    probe: float
    total: float
    cap: float
    densest: Densest
    vacuum: Optional[int] = None
    span: Optional[float] = None
    sag: Optional[float] = None
    strain: Optional[float] = None
    supports: Optional[float] = None


@dataclass(frozen=True, eq=False)
class ProbePlan:
    """Everything planned for one board.

    Attributes:
        side: where all or nearly all probes are.
        forced: key nets that need the other side, and thereby a fixture that closes from both; empty for one side.
        left_bare: nets that a probe would harm.
        datum: the two holes that a fixture's pins can use, or none; places can be counted from the first.
        grounds_wanted: how many ground probes the signals ask for.
        far_signal: the probe farthest from any ground probe, and how far; None without either.
    """

    board: Board
    sheet: Sheet
    side: Side
    probes: tuple[Probe, ...]
    plugs: tuple[Plug, ...]
    uncovered: tuple[Uncovered, ...]
    left_bare: tuple[NetFacts, ...]
    forced: tuple[str, ...]
    datum: tuple[FixingHole, ...]
    load: Load
    grounds_wanted: int
    far_signal: Optional[tuple[Probe, float]] = None

    def on(self, side: Side) -> tuple[Probe, ...]:
        """The probes of one side."""
        return tuple(probe for probe in self.probes if probe.target.side is side)

    @property
    def missed_keys(self) -> tuple[Uncovered, ...]:
        """Nets that test must reach and the plan does not."""
        return tuple(miss for miss in self.uncovered if miss.is_key)

    @property
    def covered(self) -> int:
        """How many nets are touched by a probe."""
        return len({probe.net for probe in self.probes})
