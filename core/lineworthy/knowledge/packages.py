# SPDX-License-Identifier: MIT
"""What each part is: package family, pitch, body, height.

The name of the library item speaks first, then the reference letter, then the pads. Names are other people's habits,
so the pads have a veto: a name that promises leads through the board does not make a surface part a through-hole one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Optional

import shapely

from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.packages_heights import HeightOrigin, height_of
from lineworthy.knowledge.packages_names import Family, read_name
from lineworthy.knowledge.packages_pads import (
    MODULE_MIN_MM,
    Lands,
    chip_size_by_pads,
    family_by_pads,
    lands_of,
    leads,
    nearest_size,
    over_lands,
)
from lineworthy.knowledge.packages_terminals import Terminals, terminals_of
from lineworthy.knowledge.placed import grips_edge
from lineworthy.model import Board, Mount, Pad, PadKind, Part
from lineworthy.shapes import Area, polygonal

__all__ = ["Family", "HeightOrigin", "PackageFacts", "Packages", "Terminals"]

_LETTERS = re.compile(r"[A-Za-z]+")

_BY_LETTERS: dict[str, Family] = {
    **dict.fromkeys(("J", "P", "CN", "CON", "CONN", "XP", "XS", "BT", "BAT"), Family.CONNECTOR),
    **dict.fromkeys(("SW", "S", "BTN", "PB", "RV", "POT", "LS", "BZ"), Family.SWITCH),
    **dict.fromkeys(("K", "RL", "RLY"), Family.RELAY),
    **dict.fromkeys(("T", "TR"), Family.INDUCTOR),
    **dict.fromkeys(("Y", "XTAL", "OSC"), Family.CRYSTAL),
    **dict.fromkeys(("ANT", "AE"), Family.ANTENNA),
    **dict.fromkeys(("H", "MH", "MTG", "FID", "TP", "LOGO", "NT", "GRAPHIC"), Family.MECHANICAL),
}
"""Families told by the reference alone. R, C, L, D, Q, U say what a part does and not how it is packaged."""

_EITHER_WAY = ("R", "RT", "RV", "L", "FB", "F")
"""Letters of parts that may be turned round."""

MARK_NUMBERS_MAX = 8
"""What has more lands with numbers of their own is no mark, hole, or jumper, whatever it is called."""

_SURFACE_FOR_THROUGH = {
    Family.THROUGH_IC: Family.SMALL_OUTLINE,
    Family.THROUGH_PART: Family.MOLDED,
    Family.RADIAL: Family.CAN,
}
_THROUGH_FOR_SURFACE = {
    Family.CHIP: Family.THROUGH_PART,
    Family.MOLDED: Family.THROUGH_PART,
    Family.CAN: Family.THROUGH_PART,
    Family.SOT: Family.THROUGH_PART,
    Family.POWER: Family.THROUGH_PART,
    # in a socket, or on pins
    Family.SMALL_OUTLINE: Family.THROUGH_IC,
    Family.QUAD_FLAT: Family.THROUGH_IC,
    Family.NO_LEAD: Family.THROUGH_IC,
    Family.ARRAY: Family.THROUGH_IC,
}
"""What a name becomes whose lands are of the other kind."""


@dataclass(frozen=True, eq=False)
class PackageFacts:
    """What is known of one part's package.

    Attributes:
        family: see `Family`.
        terminals: how it meets its lands, see `Terminals`; what most of its terminals are.
        pitch: smallest distance between the centres of two lands, mm, measured; None with fewer than three lands.
        body: outline of the package seen from the top: as drawn, else the convex hull of its pads; may be empty.
        leads: pads with something through the board.
        height: mm above the board, None when unknown; `height_origin` says where it comes from.
        polarised: a two-terminal part that must not be turned round: diode, electrolytic capacitor, cell.
        ceramic_capacitor: a chip capacitor, which cracks when the board is bent under it.
        machine_placed: picked and placed on solder paste by a machine.
        hand_fitted: fitted, but not by a machine: leads through the board, or left out of the placement list. A mark, a
            hole, a solder jumper, a card edge is neither: there is nothing to fit.
        chip_size: ``0402`` and the like (hundredths of an inch), empty for what is not a chip.
    """

    family: Family
    pitch: Optional[float]
    body: Area = field(repr=False)
    leads: tuple[Pad, ...] = field(repr=False)
    height: Optional[float]
    height_origin: HeightOrigin
    polarised: bool
    ceramic_capacitor: bool
    machine_placed: bool
    chip_size: str
    terminals: Terminals = Terminals.UNKNOWN
    hand_fitted: bool = False

    @property
    def through_hole(self) -> bool:
        """Whether leads go through the board."""
        return bool(self.leads)


@dataclass(frozen=True)
class _Kind:
    """What parts of the same library item and reference letter share."""

    family: Family
    pitch: Optional[float]
    size: str
    letter: str
    polarised: bool
    terminals: Terminals


class Packages:
    """What each part of a board is."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._facts: dict[Part, PackageFacts] = {}
        self._kinds: dict[object, _Kind] = {}

    def of(self, part: Part) -> PackageFacts:
        """Facts of one part, worked out once."""
        known = self._facts.get(part)
        if known is None:
            known = self._facts[part] = self._work_out(part)
        return known

    def _work_out(self, part: Part) -> PackageFacts:
        letters = reference_letters(part.reference)
        shape = tuple((pad.number, pad.kind, pad.size, pad.role) for pad in part.pads)
        key = (part.package, part.mount, part.body is None, letters, shape)
        kind = self._kinds.get(key)
        if kind is None:
            kind = self._kinds[key] = _classify(part, letters)
        height, origin = height_of(part, kind.family, kind.letter, kind.size)
        through = leads(part)
        by_machine = _machine_placed(part, kind.family, through)
        return PackageFacts(
            family=kind.family,
            pitch=kind.pitch,
            body=_body(part),
            leads=through,
            height=height,
            height_origin=origin,
            polarised=kind.polarised,
            ceramic_capacitor=kind.family is Family.CHIP and kind.letter == "C" and not kind.polarised,
            machine_placed=by_machine,
            chip_size=kind.size,
            terminals=kind.terminals,
            hand_fitted=not by_machine and _is_fitted(part, kind.family),
        )


def reference_letters(reference: str) -> str:
    """The letters a reference starts with, upper case: ``R`` for R12."""
    match = _LETTERS.match(reference.strip())
    return match[0].upper() if match else ""


def _classify(part: Part, letters: str) -> _Kind:
    named = read_name(part.package)
    lands = lands_of(part)
    family = _family(part, letters, lands)
    size = ""
    if family is Family.CHIP:
        size = nearest_size(named.sizes, lands) or chip_size_by_pads(lands)
    letter = "C" if letters == "C" else named.kind or letters
    two_ended = len(lands) == 2 or len({pad.number for pad in part.pads if pad.copper} - {""}) == 2
    polarised = named.polarised or letters in ("D", "LED") or family in (Family.CAN, Family.RADIAL)
    # a resistor or a fuse in a diode's package
    polarised = polarised and two_ended and letters not in _EITHER_WAY
    return _Kind(family, lands.pitch, size, letter, polarised, terminals_of(part, family, lands))


def _family(part: Part, letters: str, lands: Lands) -> Family:
    named = read_name(part.package).family
    if len(lands) == 0:
        # a part without a land is held by nothing we solder
        return Family.COVER if named is Family.COVER else Family.MECHANICAL
    if len(lands) == 1 and _BY_LETTERS.get(letters) is Family.MECHANICAL:
        return Family.MECHANICAL
    if named is Family.MECHANICAL and len({pad.number for pad in part.pads}) > MARK_NUMBERS_MAX:
        named = None
    if named is not None:
        return _vetoed(named, letters, lands)
    if letters == "JP":
        return Family.CONNECTOR if lands.mostly_through else Family.MECHANICAL
    return _BY_LETTERS.get(letters) or _by_kind(part, letters, lands)


def _vetoed(named: Family, letters: str, lands: Lands) -> Family:
    """What the name says, unless the lands cannot be that."""
    if not lands.mostly_through:
        too_long = named is Family.CHIP and float(over_lands(lands).max()) > 12.0
        return Family.UNKNOWN if too_long else _SURFACE_FOR_THROUGH.get(named, named)
    if letters == "C" and named in (Family.MOLDED, Family.CAN):
        return Family.RADIAL
    return _THROUGH_FOR_SURFACE.get(named, named)


def _by_kind(part: Part, letters: str, lands: Lands) -> Family:
    """The name only says what the part does, or nothing: the pads say how it is made."""
    kind = read_name(part.package).kind or letters
    by_pads = family_by_pads(lands, letters)
    if kind in ("L", "FB"):
        is_chip = by_pads is Family.CHIP and not (over_lands(lands).min() > 2.0 or _is_big(lands))
        return Family.CHIP if is_chip else Family.INDUCTOR
    if lands.mostly_through:
        return _through_by_kind(kind, letters, lands, by_pads)
    if len(lands) > 2 and kind in ("R", "C"):
        return Family.CHIP
    return Family.MOLDED if len(lands) > 2 and kind == "LED" else by_pads


def _through_by_kind(kind: str, letters: str, lands: Lands, by_pads: Family) -> Family:
    if kind in ("R", "C", "D", "LED", "F", "Q"):
        return Family.THROUGH_PART
    if len(lands) >= 3 and _overhangs(lands):
        return Family.MODULE
    return Family.THROUGH_IC if len(lands) >= 3 and letters in ("U", "IC") else by_pads


def _overhangs(lands: Lands) -> bool:
    """A body much larger than the field of its pins is a board, or a box, on pins."""
    if lands.body is None or not exceeds(float(lands.body.min()), MODULE_MIN_MM):
        return False
    return float(over_lands(lands).prod()) < 0.7 * float(lands.body.prod())


def _is_big(lands: Lands) -> bool:
    """A body of about 2 mm and more both ways is wound on a core; chip coils are slimmer."""
    return lands.body is not None and not falls_short(float(lands.body.min()), 1.9)


def _body(part: Part) -> Area:
    if part.body is not None and not part.body.is_empty:
        return part.body
    shapes = [next(iter(pad.copper.values())) for pad in part.pads if pad.copper]
    return polygonal(shapely.convex_hull(shapely.GeometryCollection(shapes)))


def _is_fitted(part: Part, family: Family) -> bool:
    """Whether there is something to fit: a card edge is copper of the board, and marks and holes are made with it."""
    edge = bool(part.pads) and all(pad.kind is PadKind.CONNECTOR for pad in part.pads if pad.copper)
    return part.fitted and family is not Family.MECHANICAL and not edge


def _machine_placed(part: Part, family: Family, through: tuple[Pad, ...]) -> bool:
    if not _is_fitted(part, family) or not part.in_placement:
        return False
    printed = [pad for pad in part.pads if pad.kind is PadKind.SURFACE and pad.paste]
    if part.mount is Mount.THROUGH and through:
        return False
    return bool(printed) and len(printed) >= len(through) and not grips_edge(part)
