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
_AMPLIFIER_PIN = re.compile(r"(IN|INPUT)?[+\-]\Z|[+\-]IN\w?\Z|(NON_?)?INV\Z")
_ANALOG_PIN = re.compile(
    r"FB\w{0,3}\Z|FB[+\-_]+\w?\Z|VADJ\Z|ADJ\Z|COMP\.?\Z|VC\Z|\w?VREF\w{0,3}[+\-]?\Z|REF(IN|OUT)?[+\-]?\Z|R(EXT|SET|BIAS)\Z|[IV]SET\d?\Z|AIN\d+\Z"
    r"|ISEN\w*[+\-]?\Z|VOSNS\Z|IREF\Z|V?SENSE[+\-]?\Z|VOUT[A-H]\Z|ZQ\Z|\w+_SENSE\Z"
)
_RF_PIN = re.compile(r"ANT\d?\Z|RF(IN|OUT|IO|_?[PN])?\d?\Z|NFC\d\Z")
_CRYSTAL_PIN = re.compile(r"E?XTAL\w*\Z|X(IN|OUT|I|O|A|B|C1|C2|L1|L2)\Z|OSC(32)?_?(IN|OUT|I|O)\w?\Z|OSC[12]\Z")
_RUN_PIN = re.compile(r"RUN\Z|CHIP_(PU|EN)\Z")
_PORT_PIN = re.compile(r"SWDIO|SWD?CLK|CCLK|UPDI|SWIM|RTCK|PS_MODE\d|JTAG_?(EN|SEL)")
"""Pins for the port alone; a logic array lends its TCK or TDI to the circuit once it is loaded."""

_TRACE = re.compile(r"ALLPST|PST\d|DDATA?\d|TRACE_?(CLK|CK|D|DATA)?\d*")
_LOADER_PIN = re.compile(r"DIN|DOUT|M[012]|MODE\d")
"""How a logic array that clocks its own program in (it has a pin CCLK) calls the data and what says where from."""

_OWN_SUPPLY_PIN = re.compile(r"\d{1,2}V\d{0,2}|VDRV|INTVCC|VREG\w{0,3}|VCORE\w{0,3}|VCAP_?\d?")
"""What a circuit makes for itself and brings out for a capacitor."""

RUN_PINS_MIN = 16
"""A converter has a pin called RUN as well, and fewer pins than a controller."""
REGULATOR_PINS_MAX = 8
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


def port(net: NetView) -> Optional[Said]:
    """A pin through which a program is loaded or watched, whatever its net is called."""
    named = not netnames.is_auto(net.name)
    own = netnames.words(netnames.leaf(net.name)) if named else ()
    for pin in net.of(Role.IC):
        sole = pin.functions[0] if len(pin.functions) == 1 else ""
        if _PORT_PIN.fullmatch(sole):
            return Said("programming", "", f"{pin} is called {pin.pad.pin_name}", sole)
        for word in pin.functions:
            loads = _LOADER_PIN.fullmatch(word) and (not named or word in own) and _loads_itself(pin.part)
            if loads or (is_trace(word) and (not named or any(map(is_trace, own)))):
                return Said("programming", "", f"{pin} is called {pin.pad.pin_name}", word)
    return _chained(net)


def is_trace(word: str) -> bool:
    """Whether a line shows what a program does and loads nothing."""
    return bool(_TRACE.fullmatch(word))


def _chained(net: NetView) -> Optional[Said]:
    """One logic array handing the program on to the next."""
    circuits = net.of(Role.IC)
    givers = [pin for pin in circuits if any(word.startswith("DOUT") for word in pin.functions)]
    takers = [pin for pin in circuits if givers and "DIN" in pin.functions]
    for giver, taker in ((giver, taker) for giver in givers for taker in takers):
        if _loads_itself(giver.part) and _loads_itself(taker.part):
            return Said("programming", "", f"{giver} hands the program on to {taker}", "DIN")
    return None


def _loads_itself(part: Part) -> bool:
    return any("CCLK" in netnames.pin_functions(pad.pin_name) for pad in part.pads)


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
    """Supplies on pins without a type, with a capacitor: a regulator's input, and what a circuit makes for itself."""
    if not net.has(Role.CAPACITOR):
        return None
    for pin in net.of(Role.IC):
        name = pin.functions[0] if len(pin.functions) == 1 else ""
        enters = name in ("VI", "VIN") and _pin_count(pin.part) <= REGULATOR_PINS_MAX
        if enters or (name == "IN" and _is_regulator(pin.part)) or (_OWN_SUPPLY_PIN.fullmatch(name) and _is_own(net)):
            return Said("power", "", f"{pin} is called {pin.pad.pin_name}")
    return None


def _is_own(net: NetView) -> bool:
    """Whether nothing on a net but one circuit's pins makes or reads a signal."""
    return net.circuits == 1 and not net.has(Role.CONNECTOR, Role.TRANSISTOR, Role.OSCILLATOR)


def _pin_count(part: Part) -> int:
    """Pads of one number are one pin, as under a tab."""
    return len({pad.number for pad in part.pads})


def _is_regulator(part: Part) -> bool:
    """Whether what comes out of a part called OUT is a rail, by its type or by the name of its net."""
    if _pin_count(part) > REGULATOR_PINS_MAX:
        return False
    for pad in part.pads:
        if netnames.pin_functions(pad.pin_name) in (("OUT",), ("VO",), ("VOUT",)):
            said = None if netnames.is_auto(pad.net) else netnames.reading(pad.net)
            if pad.pin_type.startswith("power_out") or (said is not None and said.label == "power"):
                return True
    return False


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
    if len(part.pads) > 20:
        return False
    return sum(bool(_AMPLIFIER_PIN.match(pad.pin_name.upper())) for pad in part.pads) >= 2


def _any(pin: Pin, *patterns: re.Pattern[str]) -> bool:
    return any(pattern.match(function) for function in pin.functions for pattern in patterns)
