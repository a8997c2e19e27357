# SPDX-License-Identifier: MIT
"""Places for a fixture's guide holes: far apart, and so that the board goes onto the pins in one way only."""

from __future__ import annotations

from itertools import islice

import numpy as np

from lineworthy.amend.amendment import ToolingHole
from lineworthy.amend.fiducials import SPOTS_TRIED, SYMMETRY_MM, corners, spread
from lineworthy.amend.plan import Plan
from lineworthy.amend.pours import POUR_GAP_MM, gives_way, touching
from lineworthy.amend.space import Kind, Need
from lineworthy.knowledge.holes import HoleUse
from lineworthy.knowledge.wording import mm
from lineworthy.model import Side
from lineworthy.shapes import Point, disc

PREFERRED, FEWEST = 3, 2
"""Three guide holes keep a turned board off the pins; two are the least (guideline of an in-circuit tester's maker)."""

WALL_MM = 0.5
"""Laminate left between two holes (common practice, no source)."""


def plan_tooling_holes(plan: Plan) -> None:
    """Completes the guide holes to three, or to two where a third finds no place."""
    there = [hole.at for hole in plan.marks.holes if hole.use is HoleUse.TOOLING and not hole.plated]
    if len(there) >= FEWEST:
        return
    wanted = f"{PREFERRED - len(there)} tooling holes"
    if not plan.board.outline.is_closed:
        plan.refuse(wanted, "the board has no closed outline to place them by")
        return
    need = _need(plan)
    spots = [spot for corner in corners(plan.board) for spot in _spots(plan, need, corner)]
    for count in range(PREFERRED - len(there), FEWEST - len(there) - 1, -1):
        chosen = spread(plan.board, spots, there, count, ())
        if chosen:
            for at in chosen:
                hole = ToolingHole(plan.reference("TH"), at, 2 * need.radius)
                plan.amendments.append(hole)
                plan.space.reserve(disc(at, hole.keep_out), *Side)
            return
    limits = plan.sheet.test_access
    plan.refuse(
        wanted,
        f"{len(spots)} places have {mm(limits.tooling_hole_mm)} mm with {mm(limits.tooling_to_edge_min_mm)} mm to the "
        f"edge and {mm(limits.tooling_to_part_min_mm)} mm to parts on both sides, {FEWEST} far apart are needed",
    )


def _need(plan: Plan) -> Need:
    limits = plan.sheet.test_access
    copper = plan.sheet.bare_board.edge_copper_inner_min_mm
    gaps = {
        Kind.EDGE: limits.tooling_to_edge_min_mm,
        Kind.PART: limits.tooling_to_part_min_mm,
        Kind.COURTYARD: limits.tooling_to_part_min_mm,
        Kind.COPPER: copper,
        Kind.HOLE: WALL_MM,
        Kind.VIA: WALL_MM,
        Kind.MASK: copper,
        Kind.LEGEND: copper,
        Kind.RULE: 0.0,
        Kind.PLANNED: limits.tooling_to_part_min_mm,
    }
    return Need(limits.tooling_hole_mm / 2, gaps, plan.board.copper_layers, tuple(Side))


def _spots(plan: Plan, need: Need, corner: Point) -> list[Point]:
    radius = need.radius + max(need.gaps[Kind.COPPER], POUR_GAP_MM)
    found: list[Point] = []
    for spot in islice(plan.space.nearest(corner, need), SPOTS_TRIED):
        if any(np.hypot(spot[0] - old[0], spot[1] - old[1]) < 2 * SYMMETRY_MM for old in found):
            continue
        layers = plan.board.copper_layers
        if all(gives_way(area, spot, radius) for layer in layers for area in touching(plan.board, layer, spot, radius)):
            found.append(spot)
            if len(found) == 2:
                break
    return found
