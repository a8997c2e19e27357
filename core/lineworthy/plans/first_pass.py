# SPDX-License-Identifier: MIT
"""First-pass yield: how many boards of a hundred come off the line right, as an estimate and never as a verdict.

Opportunities are counted as IPC-7912A does (from memory): one for each part, one for placing it, one for each of its
joints. Each is multiplied by the line's defects per million; what a sheet gives for them by default are placeholders.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lineworthy.knowledge.packages import Packages
from lineworthy.limits import YieldLimits
from lineworthy.model import Board, PadKind, Part

MILLION = 1_000_000


@dataclass(frozen=True)
class Step:
    """One kind of opportunity.

    Attributes:
        opportunities: how many of them a board has.
        defects: of a million of them go wrong.
    """

    name: str
    opportunities: int
    defects: float

    @property
    def per_board(self) -> float:
        """Expected defects on one board."""
        return self.opportunities * self.defects / MILLION

    @property
    def share_good(self) -> float:
        """Share of boards without any defect of this kind."""
        return first_pass(self.opportunities, self.defects)


@dataclass(frozen=True)
class FirstPass:
    """The estimate, step by step."""

    steps: tuple[Step, ...]

    @property
    def share_good(self) -> float:
        """Share of boards without any defect: the product over the steps (rolled throughput yield)."""
        return math.prod(step.share_good for step in self.steps)

    @property
    def opportunities(self) -> int:
        """Of all kinds together."""
        return sum(step.opportunities for step in self.steps)


def first_pass(opportunities: int, defects: float) -> float:
    """Share of boards without a defect: (1 - defects / 1e6) to the power of the opportunities."""
    if defects >= MILLION:
        return 1.0 if opportunities == 0 else 0.0
    return math.exp(opportunities * math.log1p(-defects / MILLION))


def estimate(board: Board, packages: Packages, limits: YieldLimits) -> FirstPass:
    """The estimate for the fitted parts of a board."""
    parts = [part for part in board.parts if part.fitted and part.in_parts_list and not part.board_only]
    surface = sum(_joints(part, (PadKind.SURFACE, PadKind.CONNECTOR)) for part in parts)
    leads = sum(_joints(part, (PadKind.THROUGH,)) for part in parts)
    placed = sum(packages.of(part).machine_placed for part in parts)
    return FirstPass(
        (
            Step("parts as delivered", len(parts), limits.component_defects_count),
            Step("parts placed by machine", placed, limits.placement_defects_count),
            Step("joints, reflowed", surface, limits.surface_joint_defects_count),
            Step("joints of leads", leads, limits.lead_joint_defects_count),
        )
    )


def _joints(part: Part, kinds: tuple[PadKind, ...]) -> int:
    """Terminals of a part that are soldered; several lands of one number are one terminal."""
    return len({pad.number for pad in part.pads if pad.kind in kinds and pad.copper} - {""})
