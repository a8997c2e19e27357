# SPDX-License-Identifier: MIT
"""What each net of a board is for.

A net's own name speaks first, because a person chose it; then the pins and parts it connects. Names the editor made
up (``Net-(U1-VDD)``) say nothing, their pins do. Every answer carries its evidence, so that a report can say why.

Not seen: that a ground is tied to live mains (a name does not tell), rails named after a place or a person, and signals
whose name says nothing on pins without names.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Optional

from lineworthy.knowledge import netfeeds, netnames, netpins
from lineworthy.knowledge.netfacts import (
    ASKED,
    KEY_KINDS,
    PAIRED_BUSES,
    REASONS,
    SAID,
    KeyNet,
    NetFacts,
    NetKind,
    Source,
    matches,
)
from lineworthy.knowledge.netparts import Role, role
from lineworthy.knowledge.wording import counted, natural
from lineworthy.model import Board, Pad, Part

__all__ = ["KEY_KINDS", "KeyNet", "NetFacts", "NetKind", "Nets", "Source"]

GROUND_PINS_MIN = 8
"""A net that is taken for ground only because nothing else is needs at least this many pins."""

RAILS = ("power", "ground")

COILS = (Role.INDUCTOR, Role.FERRITE)

ANALOG_PATH = (Role.RESISTOR, Role.CAPACITOR, Role.INDUCTOR, Role.TRANSISTOR)
"""Parts that hand an analog signal on."""


class Nets:
    """What each net of a board is for; worked out once, when first asked for."""

    def __init__(
        self,
        board: Board,
        said: Optional[Mapping[str, str]] = None,
        keys: Sequence[str] = (),
        key_classes: Sequence[str] = (),
    ) -> None:
        """Takes the board, and what a person says about its nets.

        Args:
            board: the board.
            said: what nets are, one of `CLASS_WORDS` by name or shell pattern; a name wins over a pattern.
            keys: names or shell patterns of further nets that test must reach.
            key_classes: net classes all of whose nets test must reach.
        """
        self._board = board
        self._said = dict(said or {})
        self._asked = tuple(keys)
        self._asked_classes = frozenset(key_classes)

    def of(self, name: str) -> NetFacts:
        """What a net is for; an unknown name is a net without pads."""
        return self.all.get(name) or NetFacts(name, NetKind.NO_CONNECT, ("no pad is on it",))

    def of_kind(self, kind: NetKind) -> tuple[NetFacts, ...]:
        """All nets of one kind, in natural order of their names."""
        return tuple(facts for facts in self.all.values() if facts.kind is kind)

    def pads(self, name: str) -> tuple[tuple[Part, Pad], ...]:
        """The pads of a net, in natural order of reference and number, whatever the order in the document."""
        found = self._board.pads_by_net.get(name, ())
        return tuple(sorted(found, key=lambda item: (natural(item[0].reference), natural(item[1].number), item[1].uid)))

    def role(self, part: Part) -> Role:
        """What a part does in the circuit."""
        return self._roles[part.uid]

    @cached_property
    def has_circuit(self) -> bool:
        """Whether an integrated circuit is wired up; without one there is nothing to bring up or load."""
        return any(self._roles[part.uid] is Role.IC and any(pad.net for pad in part.pads) for part in self._board.parts)

    @cached_property
    def all(self) -> Mapping[str, NetFacts]:
        """Every net that has a pad, by name, in natural order."""
        names = sorted(self._board.pads_by_net, key=lambda name: (natural(name), name))
        found = {name: self._facts(name) for name in names}
        given = {name: self._given(facts) for name, facts in found.items()} if self._said else {}
        found.update((name, facts) for name, facts in given.items() if facts)
        told = self._with_analog_paths(
            self._with_bus_mates(self._with_sources(self._with_feeds(self._with_ground(found))))
        )
        # a rail keeps the source just found; what a person said it is stands
        told.update((name, replace(facts, source=told[name].source)) for name, facts in given.items() if facts)
        return told

    def _given(self, facts: NetFacts) -> Optional[NetFacts]:
        """A net as a person said it is."""
        word = self._said.get(facts.name)
        if word is None:
            word = next((word for pattern, word in self._said.items() if matches(facts.name, pattern)), None)
        if word is None or facts.kind is NetKind.NO_CONNECT:
            return None
        return replace(facts, kind=NetKind(word), evidence=(SAID,), meant=None)

    @cached_property
    def keys(self) -> tuple[KeyNet, ...]:
        """Nets that production test has to reach, by kind, then by name, then what else the project asks for.

        On a board without a circuit only what the project asks for.
        """
        known = [KeyNet(facts, REASONS[kind]) for facts in self.all.values() if (kind := self._key_kind(facts))]
        known.sort(key=lambda key: KEY_KINDS.index(key.kind))
        have = {key.facts.name for key in known}
        more = [facts for facts in self.all.values() if facts.name not in have and self._is_asked(facts.name)]
        return (*known, *(KeyNet(facts, ASKED) for facts in more))

    def _key_kind(self, facts: NetFacts) -> Optional[NetKind]:
        kind = facts.meant or facts.kind
        return kind if self.has_circuit and kind in KEY_KINDS and self._is_key(facts) else None

    def _is_asked(self, name: str) -> bool:
        net = self._board.nets.get(name)
        if net is not None and net.net_class in self._asked_classes:
            return True
        return any(matches(name, pattern) for pattern in self._asked)

    @cached_property
    def main_ground(self) -> str:
        """The ground with the most pins, empty when no net reads as ground."""
        grounds = [facts.name for facts in self.all.values() if facts.kind is NetKind.GROUND]
        return max(grounds, key=lambda name: (self._size(name), name), default="")

    @cached_property
    def _roles(self) -> Mapping[str, Role]:
        return {part.uid: role(part) for part in self._board.parts}

    @cached_property
    def _ranks(self) -> Mapping[str, int]:
        """Place of each part in the natural order of references."""
        order = sorted(self._board.parts, key=lambda part: (natural(part.reference), part.reference, part.uid))
        return {part.uid: rank for rank, part in enumerate(order)}

    def _is_key(self, facts: NetFacts) -> bool:
        """Rails made or filtered for one circuit, quiet grounds beside the main one and shields need no probe."""
        if facts.name == self.main_ground:
            return True
        if facts.kind is NetKind.GROUND:
            return facts.circuits >= 2
        if facts.kind is NetKind.POWER:
            made = facts.named and facts.source in (Source.INPUT, Source.GENERATED) and not facts.local
            return made or facts.circuits >= 2
        return facts.circuits >= 1 and not facts.watches

    def _facts(self, name: str) -> NetFacts:
        net = netpins.look(name, self._board.pads_by_net[name], self._roles, self._ranks)
        named = not netnames.is_auto(name)
        facts = replace(self._judge(net, named), named=named, circuits=net.circuits, local=net.is_local)
        if facts.kind is NetKind.SINGLE_PIN and net.circuits and (named or name in self._wired):
            return self._cut_off(facts, net, named)
        if facts.kind is NetKind.POWER:
            return replace(facts, voltage=netnames.voltage(name) if named else None, source=_source(net))
        return facts

    @cached_property
    def _wired(self) -> frozenset[str]:
        """Nets with a track or a via."""
        return frozenset(item.net for items in (self._board.tracks, self._board.vias) for item in items)

    def _cut_off(self, facts: NetFacts, net: netpins.NetView, named: bool) -> NetFacts:
        """A port or reset pin of a circuit that somebody drew a net for, or routed, and that leads nowhere."""
        said = netnames.reading(net.name) if named else None
        meant = _signal_by_name(net, said) or _by_pins(net, named)
        if meant is None or not (meant.kind is NetKind.RESET or (meant.kind is NetKind.PROGRAMMING and meant.line)):
            return facts
        return replace(facts, meant=meant.kind, line=meant.line, evidence=(*facts.evidence, *meant.evidence))

    def _with_sources(self, found: dict[str, NetFacts]) -> dict[str, NetFacts]:
        """A rail behind a converter's coil is generated; one behind a coil or bead from a larger rail only filtered."""
        for name in [name for name, facts in found.items() if facts.kind is NetKind.POWER]:
            beyond = [found[other] for other in self._through_coils(name) if other in found]
            if any(facts.kind is NetKind.SWITCHING for facts in beyond):
                found[name] = replace(found[name], source=Source.GENERATED)
            elif any(facts.kind is NetKind.POWER and self._size(facts.name) > self._size(name) for facts in beyond):
                found[name] = replace(found[name], source=Source.FILTERED)
        return found

    def _with_feeds(self, found: dict[str, NetFacts]) -> dict[str, NetFacts]:
        """A rail before its fuse, its diode or its jumper is a rail, however many of them follow each other."""
        rails = [name for name, facts in found.items() if facts.kind is NetKind.POWER]
        asked = {name: self.pads(name) for name, facts in found.items() if facts.kind is NetKind.SIGNAL}
        for name, feed in netfeeds.fed(asked, self._roles, rails).items():
            source = Source.INPUT if feed.plugged else Source.UNKNOWN
            evidence = (f"{feed.by} connects it with {feed.rail}",)
            found[name] = replace(found[name], kind=NetKind.POWER, source=source, evidence=evidence)
        return found

    def _through_coils(self, name: str) -> list[str]:
        coils = {part.uid: part for part, _ in self._board.pads_by_net[name] if self._roles[part.uid] in COILS}
        return sorted({pad.net for part in coils.values() for pad in part.pads} - {name, ""})

    def _size(self, name: str) -> int:
        return len(_pins(self._board.pads_by_net[name]))

    def _judge(self, net: netpins.NetView, named: bool) -> NetFacts:
        return next((facts for facts in self._answers(net, named) if facts), NetFacts(net.name, NetKind.SIGNAL))

    def _answers(self, net: netpins.NetView, named: bool) -> Iterator[Optional[NetFacts]]:
        """What each kind of evidence says, strongest first."""
        yield _unused(net)
        said = netnames.reading(net.name) if named else None
        yield self._mains(net, said)
        yield _rail_by_name(net, said)
        yield _by_parts(net)
        yield self._pair(net, said)
        yield _signal_by_name(net, said)
        yield _rail_by_pins(net)
        yield _reset_by_pins(net)
        yield _port_by_pins(net)
        yield _kind_by_name(net, said)
        yield _by_pins(net, named)

    def _mains(self, net: netpins.NetView, said: Optional[netnames.Reading]) -> Optional[NetFacts]:
        if said is not None and said.label == "mains":
            return NetFacts(net.name, NetKind.MAINS, (f"the name says {said.word}",))
        both = (netnames.LIVE, netnames.NEUTRAL)
        if netnames.leaf(net.name) in both and not net.circuits and all(wire in self._leaves for wire in both):
            return NetFacts(net.name, NetKind.MAINS, ("live and neutral by their letters",))
        return None

    @cached_property
    def _leaves(self) -> frozenset[str]:
        return frozenset(netnames.leaf(name) for name in self._board.pads_by_net)

    def _pair(self, net: netpins.NetView, said: Optional[netnames.Reading]) -> Optional[NetFacts]:
        mate = netnames.pair_mate(net.name)
        if mate not in self._board.pads_by_net or (said and (said.bus in PAIRED_BUSES or said.label == "analog")):
            return None
        return NetFacts(net.name, NetKind.FAST, (f"a pair with {mate}",))

    def _with_ground(self, found: dict[str, NetFacts]) -> dict[str, NetFacts]:
        """On a board where nothing is called ground, the net with by far the most pads is."""
        if any(facts.kind is NetKind.GROUND for facts in found.values()):
            return found
        sizes = sorted(((self._size(name), name) for name in found), reverse=True)
        if not sizes or sizes[0][0] < GROUND_PINS_MIN or (len(sizes) > 1 and sizes[0][0] < 1.5 * sizes[1][0]):
            return found
        count, name = sizes[0]
        if found[name].kind is NetKind.SIGNAL:
            evidence = f"nothing is called ground, and it has the most pins of all nets, {count}"
            found[name] = replace(found[name], kind=NetKind.GROUND, evidence=(evidence,))
        return found

    def _with_analog_paths(self, found: dict[str, NetFacts]) -> dict[str, NetFacts]:
        """What only parts without logic are on carries an analog signal on when it comes from one."""
        through: dict[str, set[str]] = {}
        for name, facts in found.items():
            if facts.kind in (NetKind.ANALOG, NetKind.SIGNAL):
                for part, _ in self._board.pads_by_net[name]:
                    if self._roles[part.uid] in ANALOG_PATH:
                        through.setdefault(part.uid, set()).add(name)
        waiting = [name for name, facts in found.items() if facts.kind is NetKind.ANALOG]
        while waiting:
            name = waiting.pop()
            for part, _ in self._board.pads_by_net[name]:
                for other in sorted(through.get(part.uid, ())):
                    if found[other].kind is NetKind.SIGNAL and not self._has_logic(other):
                        evidence = f"{part.reference} connects it with {name}"
                        found[other] = replace(found[other], kind=NetKind.ANALOG, evidence=(evidence,))
                        waiting.append(other)
        return found

    def _has_logic(self, name: str) -> bool:
        return any(self._roles[part.uid] in (Role.IC, Role.OSCILLATOR) for part, _ in self._board.pads_by_net[name])

    def _with_bus_mates(self, found: dict[str, NetFacts]) -> dict[str, NetFacts]:
        """Chip selects and data lines belong to the serial bus that their siblings by name are."""
        latched = {netnames.common_bus_prefix(name) for name in found if netnames.is_latch(name)} - {""}
        for name, facts in found.items():
            if facts.bus == "SPI" and facts.named and netnames.common_bus_prefix(name) in latched:
                evidence = "a clock beside one that latches: a shift register, no bus"
                found[name] = replace(facts, kind=NetKind.SIGNAL, bus="", evidence=(evidence,))
        serial = {
            netnames.common_bus_prefix(name): facts
            for name, facts in found.items()
            if facts.kind is NetKind.BUS and facts.bus == "SPI" and facts.named
        }
        for name, facts in found.items():
            prefix = netnames.common_bus_prefix(name) if facts.named else ""
            mate = serial.get(prefix) if prefix else None
            if (
                mate
                and facts.kind is NetKind.SIGNAL
                and netnames.BUS_MATE.match(netnames.words(netnames.leaf(name))[-1])
            ):
                found[name] = replace(facts, kind=NetKind.BUS, bus=mate.bus, evidence=(f"beside {mate.name}",))
        return found


def _pins(pads: Iterable[tuple[Part, Pad]]) -> set[tuple[str, str]]:
    """Pads with one number of one part are one pin."""
    return {(part.uid, pad.number or pad.uid) for part, pad in pads}


def _unused(net: netpins.NetView) -> Optional[NetFacts]:
    if net.name.startswith(netnames.UNCONNECTED):
        return NetFacts(net.name, NetKind.NO_CONNECT, ("the pin is marked as not connected",))
    if len(net.pins) == 1:
        return NetFacts(net.name, NetKind.SINGLE_PIN, (f"only {net.pins[0]} is on it",))
    return None


def _rail_by_name(net: netpins.NetView, said: Optional[netnames.Reading]) -> Optional[NetFacts]:
    if said is None or said.label not in RAILS or _contradicted(net, said):
        return None
    volts = netnames.voltage(net.name) if said.label == "power" else None
    evidence = [f"the name says {said.word if volts is None else f'{volts:g} V'}"]
    if net.supply_pins:
        evidence.append(counted(len(net.supply_pins), "supply pin"))
    return NetFacts(net.name, NetKind(said.label), tuple(evidence))


def _by_parts(net: netpins.NetView) -> Optional[NetFacts]:
    for kind, evidence in (
        (NetKind.RF, netpins.antenna(net)),
        (NetKind.CRYSTAL, netpins.crystal(net)),
        (NetKind.SWITCHING, netpins.switching(net)),
    ):
        if evidence:
            return NetFacts(net.name, kind, (evidence,))
    return None


def _signal_by_name(net: netpins.NetView, said: Optional[netnames.Reading]) -> Optional[NetFacts]:
    """Names that leave no doubt; those that only say what family a signal is of wait until the pins have spoken."""
    if said is None or said.label in (*RAILS, "analog", "clock"):
        return None
    line = netnames.port_line(said.word) if said.label == "programming" else ""
    return NetFacts(net.name, NetKind(said.label), (f"the name says {said.word}",), bus=said.bus, line=line)


def _rail_by_pins(net: netpins.NetView) -> Optional[NetFacts]:
    rail = netpins.supply(net)
    return NetFacts(net.name, NetKind(rail.label), (rail.why,)) if rail else None


def _reset_by_pins(net: netpins.NetView) -> Optional[NetFacts]:
    evidence = netpins.controller_reset(net)
    return NetFacts(net.name, NetKind.RESET, (evidence,)) if evidence else None


def _port_by_pins(net: netpins.NetView) -> Optional[NetFacts]:
    told = netpins.port(net)
    if told is None:
        return None
    line, watches = netnames.port_line(told.word), netpins.is_trace(told.word)
    return NetFacts(net.name, NetKind.PROGRAMMING, (told.why,), line=line, watches=watches)


def _kind_by_name(net: netpins.NetView, said: Optional[netnames.Reading]) -> Optional[NetFacts]:
    if said is None or said.label in RAILS:
        return None
    return NetFacts(net.name, NetKind(said.label), (f"the name says {said.word}",), bus=said.bus)


def _by_pins(net: netpins.NetView, named: bool) -> Optional[NetFacts]:
    told = netpins.pin_reading(net, named)
    if told is None:
        return None
    line = netnames.port_line(told.word) if told.label == "programming" else ""
    return NetFacts(net.name, NetKind(told.label), (told.why,), bus=told.bus, line=line)


def _contradicted(net: netpins.NetView, said: netnames.Reading) -> bool:
    """A signal may be called by its level (``pilot_3,3V``): it supplies nothing and is driven or not decoupled."""
    if said.label != "power" or net.supply_pins or not net.circuits or not netnames.says_only_volts(net.name):
        return False
    more_words = len(netnames.words(netnames.leaf(net.name))) > 1
    return net.driven_by_signal or (more_words and not net.has(Role.CAPACITOR, Role.CONNECTOR))


def _source(net: netpins.NetView) -> Source:
    """Generated on the board, or brought in by a connector."""
    if net.regulated:
        return Source.GENERATED
    return Source.INPUT if net.has(Role.CONNECTOR) else Source.UNKNOWN
