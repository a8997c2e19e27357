# SPDX-License-Identifier: MIT
"""Supplies that only a part in their way tells: a rail before its fuse, its diode, its bead, its jumper.

Nobody names such a net, and no circuit is on it. What hands current on joins it to a net that is known to be a rail;
and nothing on it makes or reads a signal.

Not seen: an input behind a transistor, and one behind a resistor that measures its current.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple, Optional

from lineworthy.knowledge.netnames import UNCONNECTED
from lineworthy.knowledge.netparts import Role, letters
from lineworthy.model import Pad, Part

QUIET = (Role.CONNECTOR, Role.CAPACITOR, Role.DIODE, Role.FERRITE, Role.INDUCTOR, Role.TEST_POINT)
"""Parts that neither make nor read a signal; so are fuses, jumpers and switches, which have no role of their own."""

POWER_WAYS_MAX = 3
"""Terminal blocks and jacks for a supply have two or three ways; a button's lead ends in longer ones."""

_FUSE = re.compile(r"fuse|ptc", re.IGNORECASE)
_JUMPER = re.compile(r"jumper", re.IGNORECASE)
_SWITCH = re.compile(r"switch|\Asw_", re.IGNORECASE)
_LIGHT = re.compile(r"led(?![a-z])|light", re.IGNORECASE)
_COAXIAL = re.compile(r"coax|\b(sma|bnc|u\.?fl|mcx|mmcx)\b|(sma|bnc|u\.?fl|mcx)_", re.IGNORECASE)
_CATHODES, _ANODES = ("K", "C", "CATHODE"), ("A", "ANODE")


class Feed(NamedTuple):
    """What makes a net a supply: the rail it is joined to, the part between, and whether a connector is on it."""

    rail: str
    by: str
    plugged: bool


def fed(
    nets: Mapping[str, Sequence[tuple[Part, Pad]]], roles: Mapping[str, Role], rails: Collection[str]
) -> dict[str, Feed]:
    """Which nets are supplies by what joins them to a rail, or to one found so.

    Args:
        nets: the pads of each net that is to be judged, with their parts.
        roles: what each part does, by its identifier.
        rails: names of the nets that are rails already.
    """
    known, found = set(rails), dict[str, Feed]()
    while step := {name: feed for name in nets if name not in known and (feed := _feed(nets[name], roles, known))}:
        found.update(step)
        known.update(step)
    return found


def _feed(items: Sequence[tuple[Part, Pad]], roles: Mapping[str, Role], rails: Collection[str]) -> Optional[Feed]:
    parts = [part for part, _ in items]
    if any(roles[part.uid] not in QUIET and not _hands_on(part) for part in parts):
        return None
    plugs = [part for part in parts if roles[part.uid] is Role.CONNECTOR and not _is(_JUMPER, part, "JP")]
    if any(_COAXIAL.search(f"{part.package} {part.value}") for part in plugs):
        return None
    stores = any(roles[part.uid] is Role.CAPACITOR for part in parts)
    for part, pad in items:
        others = {other.net for other in part.pads if other.net and not other.net.startswith(UNCONNECTED)} - {pad.net}
        rail = min(others, default="")
        if len(others) == 1 and rail in rails and _lets_through(part, pad, roles[part.uid], plugs, stores):
            return Feed(rail, part.reference, bool(plugs))
    return None


def _lets_through(part: Part, pad: Pad, role: Role, plugs: list[Part], stores: bool) -> bool:
    """Whether a part hands a supply on between one of its pads and the rail on the other."""
    if role is Role.FERRITE or _is(_FUSE, part, "F"):
        return True
    if role is Role.INDUCTOR:
        return not plugs
    if role is Role.DIODE:
        return bool(plugs) and _is_anode(part, pad) and not _LIGHT.search(f"{part.package} {part.value}")
    if _is(_JUMPER, part, "JP"):
        return bool(plugs) or stores
    ways = [len({other.number for other in plug.pads}) for plug in plugs]
    return _is(_SWITCH, part, "SW") and any(count <= POWER_WAYS_MAX for count in ways)


def _hands_on(part: Part) -> bool:
    return _is(_FUSE, part, "F") or _is(_JUMPER, part, "JP") or _is(_SWITCH, part, "SW")


def _is(pattern: re.Pattern[str], part: Part, own: str) -> bool:
    return letters(part.reference) == own or bool(pattern.search(f"{part.value} {part.package}"))


def _is_anode(part: Part, pad: Pad) -> bool:
    names = {other.pin_name.upper() for other in part.pads}
    return pad.pin_name.upper() in _ANODES and bool(names & set(_CATHODES))
