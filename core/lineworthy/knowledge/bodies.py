# SPDX-License-Identifier: MIT
"""What each part takes of a side: its body with its lands, and on the far side the leads that come through."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import exceeds, falls_short, width_and_length
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, Part, Side

SMALL_CHIPS = ("01005", "0201", "0402")

ARRAY_MIN_MM = 5.0
"""Arrays with a shorter side below this are lifted like any small package, not with a nozzle of their own."""

SMALL_PACKAGE_MM = 3.2
"""A surface package no longer than a 1206 chip is placed and lifted like one."""

NO_BODY = frozenset({Family.MECHANICAL, Family.ANTENNA})
"""Holes, marks, jumpers, drawn antennas: nothing is placed there."""


class Kind(Enum):
    """How a body is placed and lifted."""

    SMALL_CHIP = "small chip"
    CHIP = "chip"
    PACKAGE = "package"
    ARRAY = "array"
    CONNECTOR = "connector"
    COVER = "cover"
    LEADS = "leads"


@dataclass(frozen=True, eq=False)
class Body:
    """What one part takes on one side.

    Attributes:
        shape: body and lands together, a collection; of kind LEADS the lands of leads that come through.
    """

    part: Part
    facts: PackageFacts
    side: Side
    shape: BaseGeometry
    kind: Kind

    @property
    def by_hand(self) -> bool:
        """Fitted by hand or by a wave: tolerances of placement machines do not matter to it."""
        return bool(self.facts.leads) and not self.facts.machine_placed

    @property
    def height(self) -> Optional[float]:
        """How tall it stands, mm; None when unknown. Leads end short of what matters to anybody."""
        return self.facts.height if self.kind is not Kind.LEADS else None

    @property
    def order(self) -> tuple[object, ...]:
        """Natural order of references."""
        return (natural(self.part.reference), self.part.reference, self.part.uid, self.kind.value)


@dataclass(frozen=True, eq=False)
class Bodies:
    """The bodies of all fitted parts of a board, by side, in the order of the board's parts."""

    board: Board
    packages: Packages

    def on(self, side: Side) -> tuple[Body, ...]:
        """All bodies on a side, covers and leads from the far side among them."""
        return self._all[side]

    def shapes(self, side: Side) -> npt.NDArray[np.object_]:
        """Their shapes, in the same order."""
        return self._shapes[side]

    @cached_property
    def _all(self) -> dict[Side, tuple[Body, ...]]:
        found = [body for part in self.board.parts for body in self._of(part)]
        return {side: tuple(body for body in found if body.side is side) for side in Side}

    @cached_property
    def _shapes(self) -> dict[Side, npt.NDArray[np.object_]]:
        shapes = {}
        for side in Side:
            shapes[side] = np.empty(len(self._all[side]), dtype=object)
            shapes[side][:] = [body.shape for body in self._all[side]]
        return shapes

    def _of(self, part: Part) -> Iterator[Body]:
        facts = self.packages.of(part)
        # bare fingers and test lands are drawn on the board; nothing is placed there
        soldered = bool(facts.leads) or any(pad.paste for pad in part.pads)
        if not part.fitted or facts.family in NO_BODY or not (soldered or facts.family is Family.COVER):
            return
        layer = self.board.copper_on(part.side)
        shapes: list[BaseGeometry] = [pad.copper[layer] for pad in part.pads if layer in pad.copper]
        # the hull of some leads is nobody's body
        if not facts.body.is_empty and (part.body is not None or not facts.leads):
            shapes.append(facts.body)
        yield Body(part, facts, part.side, shapely.GeometryCollection(shapes), kind_of(facts))
        if facts.leads:
            far = self.board.copper_on(part.side.other)
            leads = [pad.copper[far] for pad in facts.leads if far in pad.copper]
            yield Body(part, facts, part.side.other, shapely.GeometryCollection(leads), Kind.LEADS)


def kind_of(facts: PackageFacts) -> Kind:
    """How a part is placed and lifted."""
    if facts.family is Family.COVER:
        return Kind.COVER
    if facts.family is Family.CHIP and facts.chip_size in SMALL_CHIPS:
        return Kind.SMALL_CHIP
    if facts.family is Family.CONNECTOR:
        return Kind.CONNECTOR
    shorter, longer = width_and_length(facts.body)
    if facts.family is Family.ARRAY and not falls_short(shorter, ARRAY_MIN_MM):
        return Kind.ARRAY
    small = facts.machine_placed and not exceeds(longer, SMALL_PACKAGE_MM)
    return Kind.CHIP if small or facts.family in (Family.CHIP, Family.MELF) else Kind.PACKAGE
