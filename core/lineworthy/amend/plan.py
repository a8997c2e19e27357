# SPDX-License-Identifier: MIT
"""What the planners share: the board, the room left on it, and what was decided so far."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import Callable, Optional

from lineworthy.amend.amendment import Amendment
from lineworthy.amend.space import Space
from lineworthy.inputs import Inputs
from lineworthy.knowledge.lookalikes import RoundCopper
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.printed import Printed
from lineworthy.model import Board, Side
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

Measure = Callable[[str, float, float], tuple[float, float]]
"""(text, height, stroke) -> width and height of the box the printed text fills, mm."""


@dataclass(frozen=True)
class Wanted:
    """What a person would like to have inserted; what the board has already is not proposed again.

    Attributes:
        fiducials: alignment marks on each side with machine-placed parts, up to the preferred count.
        revision: a marking with the part number and the revision, as far as they are not printed yet.
        revision_text: the revision, where it shall not follow the title block.
        name_text: the part number or name, where it shall not follow the title block or the file's name.
        ground_pad: a probe pad on the board's ground, where it has none made for probes.
        test_pads: nets that get a probe pad.
        tooling_holes: guide holes for a fixture.
        text_side: where the marking goes; the top when it fits there, if not said.
    """

    fiducials: bool = False
    revision: bool = False
    revision_text: str = ""
    name_text: str = ""
    ground_pad: bool = False
    test_pads: tuple[str, ...] = ()
    tooling_holes: bool = False
    text_side: Optional[Side] = None


@dataclass(frozen=True)
class Refusal:
    """Something wanted that is not offered, and why: which limit is in the way and by how much."""

    wanted: str
    reason: str


@dataclass(frozen=True)
class Proposal:
    """What fits, and what does not."""

    amendments: tuple[Amendment, ...]
    refusals: tuple[Refusal, ...] = ()


@dataclass(eq=False)
class Plan:
    """A proposal in the making, from all that a review of the board knows."""

    inputs: Inputs
    measure: Measure
    amendments: list[Amendment] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)

    def refuse(self, wanted: str, reason: str) -> None:
        """Notes that something does not go."""
        self.refusals.append(Refusal(wanted, reason))

    def reference(self, prefix: str) -> str:
        """The next free reference: ``FID3`` after FID1 and FID2, whatever has them."""
        taken = {part.reference for part in self.board.parts}
        taken |= {getattr(planned, "reference", "") for planned in self.amendments}
        pattern = re.compile(re.escape(prefix) + r"(\d{1,6})\Z")
        used = [int(match[1]) for name in taken if (match := pattern.match(name))]
        number = 1
        while number in used:
            number += 1
        return f"{prefix}{number}"

    def spot(self, at: Point) -> str:
        """A place in words, from the lower left corner of the board."""
        low_x, low_y = self.board.outline.area.bounds[:2]
        return f"{at[0] - low_x:.2f} mm right and {at[1] - low_y:.2f} mm up from the board's lower left corner"

    @cached_property
    def space(self) -> Space:
        """The room left."""
        return Space(self.board)

    @cached_property
    def round_copper(self) -> dict[Side, RoundCopper]:
        """What a camera may take for a mark, by side."""
        return {side: RoundCopper(self.board, side) for side in Side}

    @property
    def board(self) -> Board:
        """The board as it is."""
        return self.inputs.board

    @property
    def sheet(self) -> Sheet:
        """The limits."""
        return self.inputs.sheet

    @property
    def marks(self) -> Marks:
        """Alignment marks, probe targets and holes there are."""
        return self.inputs.marks

    @property
    def packages(self) -> Packages:
        """Family and pitch of each part."""
        return self.inputs.packages

    @property
    def nets(self) -> Nets:
        """What each net is for, as read and as the settings say."""
        return self.inputs.nets

    @property
    def printed(self) -> Printed:
        """What can be read on the board."""
        return self.inputs.printed
