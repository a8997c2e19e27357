# SPDX-License-Identifier: MIT
"""Holes that a screw, a stand-off or a fixture pin can use: drilled, plated, milled, or a wide via."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Optional

import shapely
from shapely import Polygon

from lineworthy.knowledge.looks import Basis, is_round, middle, span
from lineworthy.model import Board, Hole, Outline, Part, Via
from lineworthy.shapes import Point

SCREW_MIN_MM = 2.0
"""Plated holes and vias from here on take a screw (the smallest in use is M1.6 to M2), smaller ones take a lead."""

PIN_MIN_MM = 1.0
"""Bare holes below this are vents and wire holes, not something a pin or a screw goes into."""

CUTOUT_MAX_MM = 10.0
"""Round cut-outs above this are windows."""

MOUNTING_NAME = re.compile(r"(np_|plated_)?mount(ing)?[-_ ]?(hole|pad|_)|stand-?off|spacer|screw[-_ ]?hole", re.I)
TOOLING_NAME = re.compile(r"tool(ing)?[-_ ]?hole|tooling|guide[-_ ]?hole|jig", re.I)
"""Both are matched at the start: a connector may have mounting holes in its name, too."""
_COMPONENT_NAME = re.compile(r"test[-_ ]?(point|pad|pin)|^tp[-_]|wire|jack|light[-_ ]?pipe|relay|heatsink", re.I)
"""Components that consist of holes only, or of one wide hole."""

_MOUNTING_REFERENCE = re.compile(r"(mh|mtg|h)[-_]?\d+\Z", re.IGNORECASE)


class HoleUse(Enum):
    """What a fixing hole is for, as far as a board can tell."""

    MOUNTING = "mounting"
    TOOLING = "tooling"


@dataclass(frozen=True, eq=False)
class FixingHole:
    """A hole for a screw, a stand-off or a fixture pin. `diameter` is the free width for a slot."""

    at: Point
    diameter: float
    plated: bool
    use: HoleUse
    basis: Basis
    evidence: str
    part: Optional[Part] = field(default=None, repr=False)
    via: Optional[Via] = field(default=None, repr=False)


def fixing_holes(board: Board) -> Iterator[FixingHole]:
    """All of them: holes of parts, then wide vias, then round cut-outs of the outline."""
    for part in board.parts:
        yield from _of_part(part)
    for via in board.vias:
        if via.drill >= SCREW_MIN_MM:
            evidence = f"a via drilled {via.drill:.2f} mm"
            yield FixingHole(via.at, via.drill, True, HoleUse.MOUNTING, Basis.LOOKS, evidence, via=via)
    yield from _round_cutouts(board.outline)


def _of_part(part: Part) -> Iterator[FixingHole]:
    drilled = [pad.hole for pad in part.pads if pad.hole is not None]
    tooling = bool(TOOLING_NAME.match(part.package) or TOOLING_NAME.match(part.value))
    basis, chosen, evidence = _judged(part, drilled, tooling)
    use = HoleUse.TOOLING if tooling else HoleUse.MOUNTING
    for hole in chosen:
        yield FixingHole(hole.at, hole.diameter, hole.plated, use, basis, evidence, part=part)


def _judged(part: Part, drilled: list[Hole], tooling: bool) -> tuple[Basis, list[Hole], str]:
    """Which holes of a part something can be fixed to, and why; none where they are leads and pegs of a component."""
    called = f"called {part.package or part.reference or 'nothing'}"
    wide = [hole for hole in drilled if hole.diameter >= SCREW_MIN_MM]
    if tooling or MOUNTING_NAME.match(part.package):
        return Basis.NAME, _widest(drilled), called
    if _COMPONENT_NAME.search(part.package):
        return Basis.NAME, [], called
    if not any(pad.copper for pad in part.pads):
        return (
            Basis.LOOKS,
            [hole for hole in drilled if hole.diameter >= PIN_MIN_MM],
            f"{called}, no land round the hole",
        )
    if _MOUNTING_REFERENCE.match(part.reference) and len({pad.number for pad in part.pads}) == 1:
        return Basis.NAME, _widest(wide), f"called {part.reference}"
    if len(drilled) == len(part.pads) == 1:
        return Basis.LOOKS, wide, f"{called}, nothing but one hole wide enough for a screw"
    return Basis.LOOKS, [], ""


def _widest(holes: list[Hole]) -> list[Hole]:
    """Vias stitched round a mounting hole are not mounting holes: only the widest count."""
    top = max((hole.diameter for hole in holes), default=0.0)
    return [hole for hole in holes if hole.diameter > top - 0.05]


def _round_cutouts(outline: Outline) -> Iterator[FixingHole]:
    """Holes drawn as circles in the outline instead of being drilled."""
    for piece in shapely.get_parts(outline.area):
        for ring in piece.interiors:
            cutout = Polygon(ring)
            wide = span(cutout)
            if is_round(cutout) and SCREW_MIN_MM <= wide <= CUTOUT_MAX_MM:
                evidence = f"a round cut-out of {wide:.2f} mm in the outline"
                yield FixingHole(middle(cutout), wide, False, HoleUse.MOUNTING, Basis.LOOKS, evidence)
