# SPDX-License-Identifier: MIT
"""What a part does in the circuit, as far as a net's purpose hangs on it: its letters, its package, its pins."""

from __future__ import annotations

import re
from enum import Enum
from typing import Optional

from lineworthy.model import PadKind, Part


class Role(Enum):
    """What a part does. IC is anything active with more than a transistor's pins."""

    IC = "integrated circuit"
    CONNECTOR = "connector"
    CRYSTAL = "crystal"
    OSCILLATOR = "oscillator"
    INDUCTOR = "inductor"
    FERRITE = "ferrite bead"
    RESISTOR = "resistor"
    CAPACITOR = "capacitor"
    DIODE = "diode"
    TRANSISTOR = "transistor"
    ANTENNA = "antenna"
    TEST_POINT = "test point"
    OTHER = "other"


_BY_LETTERS = {
    **dict.fromkeys(("U", "IC", "VR", "REG"), Role.IC),
    **dict.fromkeys(("R", "RV", "RR", "RN", "RP", "POT", "RT", "TH"), Role.RESISTOR),
    **dict.fromkeys(("C", "CV", "CP"), Role.CAPACITOR),
    **dict.fromkeys(("L", "CH"), Role.INDUCTOR),
    **dict.fromkeys(("FB", "BEAD"), Role.FERRITE),
    **dict.fromkeys(("D", "LD", "LED", "Z", "ZD", "TVS"), Role.DIODE),
    **dict.fromkeys(("Q", "M"), Role.TRANSISTOR),
    **dict.fromkeys(("Y", "XTAL"), Role.CRYSTAL),
    **dict.fromkeys(("OSC", "XO"), Role.OSCILLATOR),
    **dict.fromkeys(("ANT", "AE"), Role.ANTENNA),
    **dict.fromkeys(("TP",), Role.TEST_POINT),
    **dict.fromkeys(("J", "P", "CN", "CON", "CONN", "JP", "BUS", "XP", "XS", "TB", "USB", "BT", "BAT"), Role.CONNECTOR),
}

_BY_PACKAGE = (
    (Role.TEST_POINT, re.compile(r"test[-_ ]?(point|pad)", re.IGNORECASE)),
    (Role.CRYSTAL, re.compile(r"\A(crystal|xtal|resonator)", re.IGNORECASE)),
    (Role.OSCILLATOR, re.compile(r"\Aoscillator", re.IGNORECASE)),
    (Role.ANTENNA, re.compile(r"antenna|\Aant[-_]", re.IGNORECASE)),
    (
        Role.CONNECTOR,
        re.compile(
            r"\Aconn|pin_?(header|socket)|terminal_?block|\Ausb_|rj-?\d\d|\Ajst|molex_|d-?sub|\Aidc|samtec|\Ajack"
            r"|barrel|\Abnc|\Asma_|harwin|harting|tag-connect|card_?edge|\Afpc|\Affc|battery_?holder|_socket",
            re.IGNORECASE,
        ),
    ),
)
"""Packages that can only be one thing, whatever letters the reference has."""

_FERRITE = re.compile(r"ferrite|bead|(?<![A-Z])BLM\d|\d ?(ohm|R)?@\d+ ?MHz", re.IGNORECASE)
_COIL = re.compile(r"\AL_|\Aind", re.IGNORECASE)
_SUPPLY_PIN = re.compile(r"v(cc|dd|s)\Z|vdd|vcc", re.IGNORECASE)


def letters(reference: str) -> str:
    """The letters a reference begins with, in capitals."""
    match = re.match(r"[^\W\d_]+", reference)
    return match[0].upper() if match else ""


def role(part: Part) -> Role:
    """What a part does: told by a package that can only be one thing, else by its letters and pins."""
    return _by_package(part) or _by_letters(part)


def _by_package(part: Part) -> Optional[Role]:
    # a circuit in a socket is still the circuit, not the socket
    circuit = letters(part.reference) in ("U", "IC")
    for kind, pattern in _BY_PACKAGE:
        if pattern.search(part.package) and not (circuit and kind is Role.CONNECTOR):
            return kind
    return Role.CONNECTOR if part.library.lower().startswith("conn") and not circuit else None


def _by_letters(part: Part) -> Role:
    own = letters(part.reference)
    found = _BY_LETTERS.get(own, Role.OTHER)
    if own == "X":
        found = _crystal_or_oscillator(part)
    elif own == "T":
        # a transistor in half of the world's drawings, a transformer in the other half
        found = Role.TRANSISTOR if len(part.pads) == 3 else Role.OTHER
    elif found is Role.INDUCTOR and _FERRITE.search(f"{part.value} {part.package}"):
        found = Role.FERRITE
    elif found is Role.OTHER and _COIL.match(part.package):
        found = Role.INDUCTOR
    elif found is Role.OTHER and _has_supply_pins(part):
        found = Role.IC
    return found


def is_edge_connector(part: Part) -> bool:
    """Whether a part is a row of contact fingers on the board's edge."""
    return sum(pad.kind is PadKind.CONNECTOR for pad in part.pads) >= 4


def _crystal_or_oscillator(part: Part) -> Role:
    """X is used for crystals, oscillators and connectors alike: supply pins and value tell."""
    if any(_SUPPLY_PIN.search(pad.pin_name) or pad.pin_type.startswith("power_in") for pad in part.pads):
        return Role.OSCILLATOR
    if re.search(r"\d ?[kM]Hz|\A\d+([.,]\d+)?[kM]\Z", part.value, re.IGNORECASE) or len(part.pads) in (2, 4):
        return Role.CRYSTAL
    return Role.CONNECTOR


def _has_supply_pins(part: Part) -> bool:
    return len(part.pads) > 3 and any(pad.pin_type.startswith("power_in") for pad in part.pads)
