# SPDX-License-Identifier: MIT
"""What is said of a net: its kind, where a rail comes from, and why production test has to reach it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fnmatch import fnmatchcase
from typing import Optional


class NetKind(Enum):
    """What a net is for."""

    GROUND = "ground"
    POWER = "power"
    MAINS = "mains"
    """Live or neutral of the mains: bare copper on it can kill."""
    RESET = "reset"
    CRYSTAL = "crystal"
    CLOCK = "clock"
    PROGRAMMING = "programming"
    BUS = "bus"
    ANALOG = "analog"
    RF = "rf"
    FAST = "fast"
    """High-speed: a differential pair or a memory bus, which a probe's stub would spoil."""
    SWITCHING = "switching"
    SIGNAL = "signal"
    SINGLE_PIN = "single-pin"
    NO_CONNECT = "no-connect"

    @property
    def stays_bare(self) -> bool:
        """Whether a probe target on such a net does harm: it radiates, detunes, reflects or can be touched."""
        return self in (NetKind.RF, NetKind.CRYSTAL, NetKind.FAST, NetKind.SWITCHING, NetKind.MAINS)


class Source(Enum):
    """Where a rail comes from."""

    INPUT = "input"
    GENERATED = "generated"
    FILTERED = "filtered"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class NetFacts:
    """What is known of one net.

    Attributes:
        evidence: why it is taken for `kind`, strongest first; empty for a plain signal.
        voltage: volts, where the name states them.
        bus: which bus (``I2C``), empty for other kinds.
        source: where a rail comes from; UNKNOWN for other kinds.
        named: a person named it, not the editor.
        circuits: how many integrated circuits are on it.
        line: which line of a programming port (``SWDIO``), empty for a line such a port works without.
        watches: a line of a programming port that only shows what the program does, as a trace does.
        local: nothing is on it but one circuit and what decouples it.
        meant: what a net that leads nowhere was drawn for, because a port or reset pin of a circuit is all it has.
    """

    name: str
    kind: NetKind
    evidence: tuple[str, ...] = ()
    voltage: Optional[float] = None
    bus: str = ""
    source: Source = Source.UNKNOWN
    named: bool = True
    circuits: int = 0
    line: str = ""
    watches: bool = False
    local: bool = False
    meant: Optional[NetKind] = None


@dataclass(frozen=True)
class KeyNet:
    """A net that production test has to reach, and why."""

    facts: NetFacts
    reason: str

    @property
    def kind(self) -> NetKind:
        """What it is, or was drawn for."""
        return self.facts.meant or self.facts.kind


KEY_KINDS = (NetKind.GROUND, NetKind.POWER, NetKind.RESET, NetKind.PROGRAMMING, NetKind.BUS)
"""Kinds that production test has to reach, in the order of a report."""

PAIRED_BUSES = ("USB", "CAN", "RS-485")
"""Buses on two wires that bear a probe: slow, or with their own connector's stub on them anyway."""

REASONS = {
    NetKind.GROUND: "the reference of every measurement",
    NetKind.POWER: "to power the board and measure its rails",
    NetKind.RESET: "to hold and start the circuit",
    NetKind.PROGRAMMING: "to load the firmware",
    NetKind.BUS: "to talk to what hangs on it",
}

ASKED = "the project asks for it"
"""Why a net is to be reached that is no key net by itself."""

SAID = "the project's settings say so"
"""The evidence of a net whose kind a person gave."""

CLASS_WORDS = tuple(kind.value for kind in NetKind if kind not in (NetKind.SINGLE_PIN, NetKind.NO_CONNECT))
"""What a person can say that a net is; how many pins are on it the board knows better."""


def matches(name: str, pattern: str) -> bool:
    """Whether a net is meant by a name or shell pattern: its whole name, or its last part (``SDA`` for ``/io/SDA``)."""
    last = name.rpartition("/")[2]
    return pattern in (name, last) or fnmatchcase(name, pattern) or fnmatchcase(last, pattern)
