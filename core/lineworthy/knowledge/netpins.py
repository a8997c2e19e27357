# SPDX-License-Identifier: MIT
"""What the pins and parts on a net say about its purpose."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Optional

from lineworthy.knowledge import netnames
from lineworthy.knowledge.netparts import Role
from lineworthy.model import Pad, Part

_GROUND_PIN = re.compile(r"[A-Z]{0,4}GND[A-Z0-9]{0,5}\Z|VSS[A-Z0-9]{0,4}\Z|SHIELD\d*\Z|(EP|PAD)\Z|0V\Z|GROUND\Z")
_SUPPLY_PIN = re.compile(
    r"[A-Z]{0,3}V(CC|DD)[A-Z0-9_]{0,12}\Z|VBAT\w?\Z|VBUS\Z|VS\Z|V[+\-]\Z|VEE\Z|VIO\Z|VPP\Z|VM\Z|VAA\Z|DEC\w{0,4}\Z"
)
_SWITCH_PIN = re.compile(r"(V?SW\d?|LX\d?|PH|PHASE_?\w?|SWN|SWNODE|L[12]|OUTL)\Z")
_BOOT_PIN = re.compile(r"(BOOT|BST|CB|VBST)\w{0,2}\Z")
_AMPLIFIER_PIN = re.compile(r"(IN|INPUT)?[+\-]\Z|[+\-]IN\w?\Z|(NON_?)?INV\Z")
_ANALOG_PIN = re.compile(
    r"FB\w{0,3}\Z|FB[+\-_]+\w?\Z|VADJ\Z|ADJ\Z|COMP\.?\Z|VC\Z|\w?VREF\w{0,3}[+\-]?\Z|REF(IN|OUT)?[+\-]?\Z|R(EXT|SET|BIAS)\Z|[IV]SET\d?\Z|AIN\d+\Z"
    r"|ISEN\w*[+\-]?\Z|VOSNS\Z|IREF\Z|V?SENSE[+\-]?\Z|VOUT[A-H]\Z|ZQ\Z|\w+_SENSE\Z"
)
_RF_PIN = re.compile(r"ANT\d?\Z|RF(IN|OUT|IO|_?[PN])?\d?\Z|NFC\d\Z")
_CRYSTAL_PIN = re.compile(r"E?XTAL\w*\Z|X(IN|OUT|I|O|A|B|C1|C2|L1|L2)\Z|OSC(32)?_?(IN|OUT|I|O)\w?\Z|OSC[12]\Z")
_RUN_PIN = re.compile(r"RUN\Z|CHIP_(PU|EN)\Z")
RUN_PINS_MIN = 16
"""A converter has a pin called RUN as well, and fewer pins than a controller."""
_NAMELESS = re.compile(r"(P|PIN_?|PAD)?\d+\Z")


class Said(NamedTuple):
    """What pins say: the kind's name, the bus if any, why, and the word that said it where it was one."""

    label: str
    bus: str
    why: str
    word: str = ""


class Pin(NamedTuple):
    """One pin on a net; several pads with one number are one pin."""

    part: Part
    pad: Pad
    role: Role

    def __str__(self) -> str:
        return f"{self.part.reference} pin {self.pad.number}"

    @property
    def functions(self) -> tuple[str, ...]:
        """Functions its name lists, none where the name is only its number again."""
        name = self.pad.pin_name
        return () if not name or _NAMELESS.match(name.upper()) else netnames.pin_functions(name)

    @property
    def type(self) -> str:
        """Electrical type without what the editor appends to it (``input+no_connect``)."""
        return self.pad.pin_type.split("+", 1)[0]


@dataclass(frozen=True)
class NetView:
    """A net with its pins, each once, in natural order."""

    name: str
    pins: tuple[Pin, ...]

    def of(self, *roles: Role) -> tuple[Pin, ...]:
        """Pins on parts of some roles."""
        return tuple(pin for pin in self.pins if pin.role in roles)

    def has(self, *roles: Role) -> bool:
        """Whether a part of one of these roles is on the net."""
        return any(pin.role in roles for pin in self.pins)

    @cached_property
    def circuits(self) -> int:
        """How many integrated circuits are on the net."""
        return len({pin.part.uid for pin in self.of(Role.IC)})

    @cached_property
    def supply_pins(self) -> tuple[Pin, ...]:
        """Pins through which something is supplied or supplies."""
        return tuple(
            pin
            for pin in self.of(Role.IC, Role.OSCILLATOR, Role.CONNECTOR)
            if pin.type in ("power_in", "power_out") or (pin.role is Role.IC and _any(pin, _SUPPLY_PIN, _GROUND_PIN))
        )

    @property
    def driven_by_signal(self) -> bool:
        """Whether a circuit's signal output is on the net."""
        return any(pin.type in ("output", "tri_state", "open_collector") for pin in self.of(Role.IC))

    @cached_property
    def regulated(self) -> bool:
        """Whether the net comes out of a regulator, as its pins are typed."""
        return any(pin.type == "power_out" for pin in self.of(Role.IC))

    @cached_property
    def is_local(self) -> bool:
        """Whether there is nothing on the net but one circuit and what decouples it."""
        return self.circuits == 1 and not any(
            pin.role not in (Role.IC, Role.CAPACITOR, Role.FERRITE, Role.INDUCTOR) for pin in self.pins
        )


def look(name: str, pads: Iterable[tuple[Part, Pad]], roles: Mapping[str, Role], ranks: Mapping[str, int]) -> NetView:
    """A net with its pins, whatever order the document has them in; `ranks` orders the parts."""
    seen: dict[tuple[str, str], Pin] = {}
    for part, pad in pads:
        seen.setdefault((part.uid, pad.number or pad.uid), Pin(part, pad, roles[part.uid]))
    order = sorted(seen.values(), key=lambda pin: (ranks[pin.part.uid], len(pin.pad.number), pin.pad.number))
    return NetView(name, tuple(order))


def antenna(net: NetView) -> str:
    """Why a net is radio: an antenna is on it."""
    pin = next(iter(net.of(Role.ANTENNA)), None)
    return f"antenna {pin.part.reference} is on it" if pin else ""


def crystal(net: NetView) -> str:
    """Why a net is a crystal's: one is on it, and the net goes to a circuit that could drive it."""
    pin = next(iter(net.of(Role.CRYSTAL)), None)
    if pin is None or any(_any(other, _GROUND_PIN) for other in net.of(Role.IC)):
        return ""
    return f"crystal {pin.part.reference} is on it"


def switching(net: NetView) -> str:
    """Why a net is the node of a converter that swings from rail to rail."""
    named = next((pin for pin in net.of(Role.IC) if _any(pin, _SWITCH_PIN)), None)
    coil = next(iter(net.of(Role.INDUCTOR)), None)
    if named and (coil or net.has(Role.CAPACITOR) or all(_any(pin, _SWITCH_PIN) for pin in net.pins)):
        return f"{named} is called {named.pad.pin_name}" + (f", coil {coil.part.reference}" if coil else "")
    switches = {pin.part.uid for pin in net.of(Role.TRANSISTOR, Role.DIODE)}
    switched = len(switches) >= 2 or (switches and net.of(Role.IC))
    if coil and switched and not net.has(Role.CAPACITOR, Role.CONNECTOR):
        typed = any(pin.type.startswith("power") for pin in net.pins)
        return "" if typed else f"coil {coil.part.reference} meets a switch"
    return ""


def controller_reset(net: NetView) -> str:
    """Why a net resets a controller whose reset pin is called something else: it lets the chip run or powers it up."""
    for pin in net.of(Role.IC):
        held = _any(pin, _RUN_PIN) and len(pin.part.pads) >= RUN_PINS_MIN
        if held or (pin.functions == ("EN",) and _boots_by_io0(pin.part)):
            return f"{pin} is called {pin.pad.pin_name}"
    return ""


def _boots_by_io0(part: Part) -> bool:
    return any({"IO0", "GPIO0"} & set(netnames.pin_functions(pad.pin_name)) for pad in part.pads)


def supply(net: NetView) -> Optional[Said]:
    """Ground or power by the pins on the net."""
    grounds = [pin for pin in net.supply_pins if _any(pin, _GROUND_PIN)]
    rails = [pin for pin in net.supply_pins if pin not in grounds and not _any(pin, _ANALOG_PIN)]
    if not grounds and not rails:
        return _fed_rail(net)
    if len(grounds) >= len(rails):
        return Said("ground", "", f"{grounds[0]} is called {grounds[0].pad.pin_name}")
    what = f"is called {rails[0].pad.pin_name}" if rails[0].functions else "is a supply pin"
    return Said("power", "", f"{rails[0]} {what}")


def _fed_rail(net: NetView) -> Optional[Said]:
    """A regulator's input without a typed pin: called VI or VIN, with a capacitor on it."""
    for pin in net.of(Role.IC):
        if pin.functions in (("VI",), ("VIN",)) and net.has(Role.CAPACITOR) and len(pin.part.pads) <= 8:
            return Said("power", "", f"{pin} is called {pin.pad.pin_name}")
    return None


def pin_reading(net: NetView, named: bool) -> Optional[Said]:
    """What the names of the pins on a net say about a signal.

    A name of the net's own that says nothing still means that somebody uses the pin for their own purpose: then a pin
    is believed where the two names agree (net ``DSO`` on pin ``DSO/TDO``).
    """
    words = netnames.words(netnames.leaf(net.name)) if named else ()
    own = {word for word in words if not netnames.NOT_A_RAIL.match(word)}
    pins = [pin for pin in net.of(Role.IC, Role.CONNECTOR) if pin.functions]
    for pin in pins:
        agrees = own & {word for function in pin.functions for word in netnames.words(function)}
        found = _signal(pin) if (agrees if named else len(pin.functions) <= 2) else None
        if found:
            return found
    for label, pattern in (("rf", _RF_PIN), ("crystal", _CRYSTAL_PIN), ("analog", _ANALOG_PIN)):
        hit = next((pin for pin in pins if len(pin.functions) <= 2 and _any(pin, pattern)), None)
        if hit and not (named and label == "rf"):
            return Said(label, "", f"{hit} is called {hit.pad.pin_name}")
    return _other(net)


def _signal(pin: Pin) -> Optional[Said]:
    for function in pin.functions:
        said = netnames.reading(function)
        # a charger sets its current at a pin called PROG, and plenty of circuits are DONE with something
        vague = said is not None and said.word in ("DONE", "PROG")
        if said and said.label in ("programming", "reset", "bus") and not vague:
            return Said(said.label, said.bus, f"{pin} is called {pin.pad.pin_name}", said.word)
    return None


def _other(net: NetView) -> Optional[Said]:
    amplifier = next((pin for pin in net.of(Role.IC) if _is_amplifier(pin.part)), None)
    if amplifier:
        return Said("analog", "", f"{amplifier.part.reference} is an amplifier")
    clock = next((pin for pin in net.of(Role.OSCILLATOR) if pin.type == "output"), None)
    return Said("clock", "", f"oscillator {clock.part.reference} drives it") if clock else None


def _is_amplifier(part: Part) -> bool:
    """Both inputs of an amplifier or comparator, and not many pins beside them."""
    names = [pad.pin_name.upper() for pad in part.pads]
    return len(names) <= 20 and sum(bool(_AMPLIFIER_PIN.match(name)) for name in names) >= 2


def _any(pin: Pin, *patterns: re.Pattern[str]) -> bool:
    return any(pattern.match(function) for function in pin.functions for pattern in patterns)
