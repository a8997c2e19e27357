# SPDX-License-Identifier: MIT
"""Places for the marks of fine parts: a pair at opposite corners, just outside of the lands or between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Optional

import numpy as np

from lineworthy.amend.amendment import FiducialMark
from lineworthy.amend.fiducials import mark_need, pours_allow, stands_alone
from lineworthy.amend.plan import Plan
from lineworthy.amend.space import Kind
from lineworthy.knowledge.alignment import spans
from lineworthy.knowledge.localmarks import Corner, FinePart, fine_parts
from lineworthy.knowledge.rings import half_width
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Side
from lineworthy.shapes import Point, disc

NO_PAIR = "fiducials/no-local-pair"

SIZES_MM = (1.0, 0.75, 0.5)
"""Diameters of local marks, each in an opening twice as wide, the best first (draft of IPC-7351C, as shown on its
announcement's slides)."""

SPOTS_TRIED = 12
DIAGONALS: tuple[tuple[Corner, Corner], ...] = (((-1, -1), (1, 1)), ((-1, 1), (1, -1)))


@dataclass(frozen=True)
class _Pairs:
    """Marks of one size for some parts, and the parts for which there is no room."""

    diameter: float
    marks: tuple[Point, ...]
    left: tuple[str, ...]


def plan_local_fiducials(plan: Plan) -> None:
    """A pair for each package that is fine enough to want one, as the check asks."""
    if not plan.board.outline.is_closed:
        return
    for side in Side:
        marks = _marks(plan, side)
        lacking = [fine for fine in _fine(plan, side) if fine.pair(_near(plan, fine, marks)) is None]
        if not lacking:
            continue
        best = _best(plan, side, lacking, marks)
        for at in best.marks:
            # exactly the ring the check asks for at least: there is little room beside fine parts
            opening = round(best.diameter * (1 + plan.sheet.fiducials.clear_ring_min_ratio), 6)
            mark = FiducialMark(plan.reference("FID"), at, side, best.diameter, opening, local=True)
            plan.amendments.append(mark)
            plan.space.reserve(disc(at, mark.keep_out), side)
        left = [fine for fine in lacking if fine.part.reference in best.left]
        if left:
            wanted = f"a pair of marks for {listed(best.left)} on the {side.value}"
            plan.refuse(wanted, _why_not(plan, side, left, min(_sizes(plan))))


def _best(plan: Plan, side: Side, lacking: Sequence[FinePart], marks: Sequence[Point]) -> _Pairs:
    """Pairs of the largest size that leaves the fewest parts without one."""
    first, *smaller = _sizes(plan)
    best = _Search(plan, side, first).pairs(lacking, marks)
    for diameter in smaller:
        if not best.left:
            break
        tried = _Search(plan, side, diameter).pairs(lacking, marks)
        best = tried if len(tried.left) < len(best.left) else best
    return best


def _why_not(plan: Plan, side: Side, left: Sequence[FinePart], diameter: float) -> str:
    """What is in the way of the smallest mark at the corner where it comes nearest to fitting."""
    ring = diameter / 2 * plan.sheet.fiducials.clear_ring_min_ratio
    need = mark_need(plan.board, side, diameter / 2, ring, 0.0)
    spots = [fine.beside(corner, diameter / 2 + ring) for fine in left for pair in DIAGONALS for corner in pair]
    tightest = [(*plan.space.tightest(at, need), at) for at in spots]
    kind, gap, wanted, at = max(tightest, key=lambda found: round(found[1] - found[2], 6))
    if gap >= wanted:
        return f"no two opposite corners are off copper like a mark and on pours that can give way by {mm(ring)} mm"
    lack = f"{mm(gap)} mm" if gap > 0 else "nothing"
    return (
        f"a mark of {mm(diameter)} mm comes nearest to fitting {plan.spot(at)}: {lack} left to {kind.value}, "
        f"{mm(wanted)} mm needed"
    )


def _sizes(plan: Plan) -> list[float]:
    """The size of the local marks there are, because all must be of one; otherwise all that will do."""
    there = [2 * half_width(m) for m in plan.marks.fiducials if m.sure and m.local]
    there += [a.diameter for a in plan.amendments if isinstance(a, FiducialMark) and a.local]
    if there:
        return [round(max(there), 3)]
    return [size for size in SIZES_MM if size >= plan.sheet.fiducials.local_mark_min_mm]


def _marks(plan: Plan, side: Side) -> list[Point]:
    """All usable marks of a side, with those planned."""
    there = [m.at for m in plan.marks.fiducials_on(side) if m.sure and m.is_open]
    return there + [a.at for a in plan.amendments if isinstance(a, FiducialMark) and a.side is side]


def _fine(plan: Plan, side: Side) -> list[FinePart]:
    """The parts the check asks about once what is planned is there."""
    limits = plan.sheet.fiducials
    own = [m.at for m in plan.marks.fiducials_on(side) if m.sure and m.is_open and not m.local]
    own += [a.at for a in plan.amendments if isinstance(a, FiducialMark) and a.side is side]
    waived = len(own) < limits.per_side_min_count or spans(plan.board, own, limits.spread_min_ratio)
    most = limits.local_waived_pitch_mm if waived else np.inf
    leaded, array = min(limits.local_leaded_pitch_mm, most), min(limits.local_array_pitch_mm, most)
    return fine_parts(plan.board, plan.packages, side, leaded, array)


def _near(plan: Plan, fine: FinePart, marks: Sequence[Point]) -> list[Point]:
    return fine.near(marks, plan.sheet.fiducials.local_reach_mm)


@dataclass(frozen=True)
class _Search:
    """Looks for marks of one size on one side."""

    plan: Plan
    side: Side
    diameter: float

    def pairs(self, lacking: Sequence[FinePart], marks: Sequence[Point]) -> _Pairs:
        """Pairs for as many parts as possible; neighbours may share a mark."""
        new: list[Point] = []
        left: list[str] = []
        for fine in lacking:
            if fine.pair(_near(self.plan, fine, [*marks, *new])) is not None:
                continue
            found = [pair for corners in DIAGONALS if (pair := self._pair(fine, corners, new))]
            if found:
                nearest = min(found, key=lambda pair: round(_beyond(fine, pair), 3))
                new += nearest
            else:
                left.append(fine.part.reference)
        return _Pairs(self.diameter, tuple(new), tuple(left))

    def _pair(self, fine: FinePart, corners: Sequence[Corner], new: Sequence[Point]) -> list[Point]:
        """A place at each of two corners; nothing where one has none."""
        pair: list[Point] = []
        for corner in corners:
            at = self._spot(fine, corner, [*new, *pair])
            if at is None:
                return []
            pair.append(at)
        return pair

    def _spot(self, fine: FinePart, corner: Corner, new: Sequence[Point]) -> Optional[Point]:
        """The place nearest to a corner of the lands, in that corner's quarter."""
        plan, side, diameter, limits = self.plan, self.side, self.diameter, self.plan.sheet.fiducials
        ring = diameter / 2 * limits.clear_ring_min_ratio
        need = mark_need(plan.board, side, diameter / 2, ring, 0.0)
        for at in islice(plan.space.nearest(fine.beside(corner, diameter / 2 + ring), need), SPOTS_TRIED):
            if not _near(plan, fine, [at]):
                return None  # they come in growing distance
            own = fine.own(at) * np.array(corner)
            apart = all(np.hypot(at[0] - x, at[1] - y) >= limits.lookalike_field_mm for x, y in new)
            if not apart or (own <= diameter / 2).any() or not stands_alone(plan, side, at, diameter):
                continue
            if pours_allow(plan, side, at, diameter / 2 + need.gaps[Kind.COPPER]):
                return at
        return None


def _beyond(fine: FinePart, pair: Sequence[Point]) -> float:
    """How far a pair lies outside of the lands, both together, mm."""
    return float(sum(np.hypot(*np.maximum(np.abs(fine.own(at)) - fine.half, 0.0)) for at in pair))
