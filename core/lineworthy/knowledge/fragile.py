# SPDX-License-Identifier: MIT
"""Ceramic capacitors where a board is bent: which crack, and how far off the line they should stand."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import exceeds
from lineworthy.knowledge.packages import PackageFacts
from lineworthy.limits import PanelLimits
from lineworthy.model import Part

SMALL_CERAMICS = ("01005", "0201", "0402")
"""Too short to be bent enough; makers' bend tests and warnings are about larger ones (common practice, no source)."""

LARGE_CERAMICS = ("1206", "1210", "1812", "1825", "2220", "2225")
"""Long enough to crack farther from the line (common practice, no source)."""


def cracks(facts: PackageFacts) -> bool:
    """Whether a part is a ceramic capacitor that bending may crack."""
    return facts.ceramic_capacitor and facts.chip_size not in SMALL_CERAMICS


def is_far_off(facts: PackageFacts, across: bool) -> bool:
    """Whether a capacitor is so large, and lies so, that the larger of the two distances holds for it."""
    return across and facts.chip_size in LARGE_CERAMICS


def ceramic_room_mm(facts: PackageFacts, across: bool, panel: PanelLimits) -> float:
    """How far such a capacitor should stand from where boards are parted, mm."""
    return panel.break_edge_large_ceramic_min_mm if is_far_off(facts, across) else panel.break_edge_ceramic_min_mm


def is_across(part: Part, line: BaseGeometry) -> bool:
    """Whether the line through the two ends of a part crosses a line rather than running along it.

    Of a line that is not straight, what counts is the stretch nearest to the part.
    """
    spots = np.array([pad.at for pad in part.pads if pad.copper])
    if len(spots) < 2:
        return False
    ends = shapely.get_coordinates(line)
    if len(ends) > 2:
        stretches = shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1))
        nearest = int(np.argmin(np.round(shapely.distance(stretches, shapely.Point(spots.mean(axis=0))), 6)))
        ends = ends[nearest : nearest + 2]
    axis = spots[-1] - spots[0]
    along = (ends[-1] - ends[0]) / np.hypot(*(ends[-1] - ends[0]))
    return bool(exceeds(float(np.hypot(*axis)) * np.sqrt(0.5), abs(float(axis @ along))))
