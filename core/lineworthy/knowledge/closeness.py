# SPDX-License-Identifier: MIT
"""Which parts of a side stand nearer to each other than the limit of their kinds, and which are in the same place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from lineworthy.geometry import falls_short, pairs_within
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.packages import Family
from lineworthy.limits import SpacingLimits
from lineworthy.model import Side

OVERLAP_MIN_MM2 = 0.02
"""Bodies are drawn by hand to hundredths of a mm; less than this in common is touching, not overlapping."""

_STANDS_OVER = frozenset({Family.MODULE, Family.CONNECTOR, Family.RELAY, Family.SWITCH, Family.INDUCTOR})

LEADS_LIMIT = "through_hole_min_mm"
"""The limit between leads and surface parts on the side where they are soldered."""

_REACH = {
    Kind.SMALL_CHIP: ("chip_min_mm", "small_chip_min_mm"),
    Kind.CHIP: ("chip_min_mm",),
    Kind.PACKAGE: ("package_min_mm", "chip_to_package_min_mm"),
    Kind.ARRAY: ("array_min_mm",),
    Kind.CONNECTOR: ("connector_min_mm",),
    Kind.LEADS: (LEADS_LIMIT,),
}
"""Limits a kind of body brings along; a cover brings none."""


@dataclass(frozen=True)
class Close:
    """Two bodies too close; `first` comes first in natural order of references.

    Attributes:
        gap: mm between bodies with lands, 0 where they touch.
        limit: the field of the spacing limits it falls short of, empty for a collision.
        overlap: area in common, mm2.
    """

    first: Body
    second: Body
    gap: float
    limit: str
    overlap: float

    @property
    def order(self) -> tuple[object, ...]:
        """Nearest first, then by reference; rounded, so that a turned board gives the same order."""
        return (round(self.gap, 4), -round(self.overlap, 2), self.first.order, self.second.order)


@dataclass(frozen=True, eq=False)
class Closeness:
    """Every pair of parts that is short of its limit, measured once for all checks that ask."""

    bodies: Bodies
    limits: SpacingLimits

    @cached_property
    def pairs(self) -> tuple[Close, ...]:
        """Top first, each pair once."""
        return tuple(pair for side in Side for pair in _close_pairs(self.bodies, side, self.limits))


def _close_pairs(bodies: Bodies, side: Side, limits: SpacingLimits) -> Iterator[Close]:
    here, shapes = bodies.on(side), bodies.shapes(side)
    # a pair is found from the side of the body with the farther reach
    reach = np.array([max((getattr(limits, key) for key in _REACH.get(body.kind, ())), default=0.0) for body in here])
    ours, theirs, gaps = pairs_within(shapes, shapes, reach)
    seen = set()
    for i, j, gap in zip(ours.tolist(), theirs.tolist(), gaps.tolist()):
        key = (min(i, j), max(i, j))
        first, second = sorted((here[i], here[j]), key=lambda body: body.order)
        if first.part is second.part or key in seen or stands_over(first, second) or stands_over(second, first):
            continue
        if first.kind is second.kind is Kind.LEADS:
            continue  # their bodies on the other side say it all
        seen.add(key)
        overlap = common_area(first, second) if gap == 0.0 else 0.0
        limit = _limit(first, second)
        if overlap:
            yield Close(first, second, gap, "", overlap)
        elif limit and falls_short(gap, getattr(limits, limit)):
            yield Close(first, second, gap, limit, overlap)


def common_area(first: Body, second: Body) -> float:
    """Area in common, mm2; 0 where they only touch."""
    one, other = (shapely.union_all(shapely.get_parts(body.shape)) for body in (first, second))
    area = float(shapely.area(shapely.intersection(one, other)))
    return area if area > OVERLAP_MIN_MM2 else 0.0


def stands_over(over: Body, under: Body) -> bool:
    """Whether the first part leaves room under it, where the second lies: wholly, or under a module on pins in part."""
    if over.kind is Kind.COVER:
        return True
    if over.kind is Kind.LEADS or over.facts.family not in _STANDS_OVER:
        return False
    is_module = over.facts.family is Family.MODULE
    if is_module and not over.facts.leads:
        return False  # soldered flat to the board
    on_pins = is_module and not under.facts.leads
    return on_pins or bool(over.facts.body.covers(under.facts.body))


def _limit(first: Body, second: Body) -> str:
    """The limit for a pair, empty where only a collision counts."""
    kinds = {first.kind, second.kind}
    if (first.by_hand and second.by_hand) or kinds == {Kind.CONNECTOR}:
        return ""
    # the first kind in this order decides
    for kind, limit in ((Kind.LEADS, "through_hole"), (Kind.ARRAY, "array"), (Kind.CONNECTOR, "connector")):
        if kind in kinds:
            return f"{limit}_min_mm"
    if Kind.PACKAGE in kinds:
        return "package_min_mm" if len(kinds) == 1 else "chip_to_package_min_mm"
    return "small_chip_min_mm" if kinds == {Kind.SMALL_CHIP} else "chip_min_mm"
