# SPDX-License-Identifier: MIT
"""Places for probe pads: on copper their net has already, inside a pour or along a track."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Optional

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.amend.amendment import ProbePad
from lineworthy.amend.plan import Plan
from lineworthy.amend.pours import POUR_GAP_MM, gives_way, inside, touching
from lineworthy.amend.space import Kind, Need
from lineworthy.knowledge.nets import NetKind
from lineworthy.knowledge.targets import TargetKind, Targets
from lineworthy.knowledge.wording import mm
from lineworthy.model import Side
from lineworthy.shapes import Point, disc

MASK_MARGIN_MM = 0.05
"""How much further the mask opens than the pad (common practice, no source)."""

OPENING_WEB_MM = 0.1
SPOTS_TRIED = 60


def plan_ground_pad(plan: Plan) -> None:
    """A probe pad on the ground with most pads, where no ground has one made for probes."""
    grounds = [facts.name for facts in plan.nets.of_kind(NetKind.GROUND)]
    wanted = "a probe pad on ground"
    if not grounds:
        plan.refuse(wanted, "no net of the board reads as ground")
        return
    targets = Targets(plan.board, plan.marks)
    need = plan.sheet.test_access.target_min_mm
    if any(t.kind is TargetKind.DEDICATED and t.diameter >= need for name in grounds for t in targets.of(name)):
        return
    main = max(grounds, key=lambda name: len(plan.board.pads_by_net.get(name, ())))
    _plan_pad(plan, main, wanted)


def plan_test_pads(plan: Plan, nets: tuple[str, ...]) -> None:
    """A probe pad on each net that no probe reaches."""
    targets = Targets(plan.board, plan.marks)
    for name in dict.fromkeys(nets):
        wanted = f"a probe pad on {name}"
        if any(isinstance(planned, ProbePad) and planned.net == name for planned in plan.amendments):
            continue
        if name not in plan.board.pads_by_net:
            plan.refuse(wanted, "the board has no such net")
            continue
        if targets.reach(name, plan.sheet.test_access.target_min_mm):
            continue
        kind = plan.nets.of(name).kind
        if kind.stays_bare:
            plan.refuse(wanted, f"a pad spoils a net of this kind ({kind.value})")
            continue
        _plan_pad(plan, name, wanted)


def _plan_pad(plan: Plan, net: str, wanted: str) -> None:
    if not plan.board.outline.is_closed:
        plan.refuse(wanted, "the board has no closed outline to place it by")
        return
    main = probe_side(plan)
    limits = plan.sheet.test_access
    for diameter in dict.fromkeys((limits.target_preferred_mm, limits.target_min_mm)):
        for side in (main, main.other):
            need = _need(plan, side, net, diameter / 2)
            at = _place(plan, side, need)
            if at is not None:
                pad = ProbePad(plan.reference("TP"), at, side, diameter, net)
                plan.amendments.append(pad)
                plan.space.reserve(disc(at, pad.keep_out), side)
                return
    plan.refuse(wanted, _why_not(plan, net, main))


def probe_side(plan: Plan) -> Side:
    """Where most targets are; the bottom when there are as many on both sides, because fixtures probe from below."""
    points = [point for point in plan.marks.test_points if point.sides]
    top = sum(point.sides == {Side.TOP} for point in points)
    bottom = sum(point.sides == {Side.BOTTOM} for point in points)
    planned = [planned.side for planned in plan.amendments if isinstance(planned, ProbePad)]
    top, bottom = top + planned.count(Side.TOP), bottom + planned.count(Side.BOTTOM)
    return Side.TOP if top > bottom else Side.BOTTOM


def _need(plan: Plan, side: Side, net: str, radius: float) -> Need:
    limits = plan.sheet.test_access
    bare = plan.sheet.bare_board.edge_copper_outer_min_mm
    gaps = {
        Kind.EDGE: max(limits.target_to_edge_min_mm, bare),
        Kind.COPPER: max(plan.space.clearance(net), MASK_MARGIN_MM + OPENING_WEB_MM),
        Kind.MASK: MASK_MARGIN_MM + OPENING_WEB_MM,
        Kind.LEGEND: MASK_MARGIN_MM + plan.sheet.identity.text_to_opening_min_mm,
        Kind.HOLE: bare,
        Kind.VIA: OPENING_WEB_MM,
        Kind.PART: limits.target_to_part_min_mm,
        Kind.COURTYARD: 0.25,  # its own courtyard begins there
        Kind.RULE: 0.0,
        Kind.PLANNED: 0.25,
    }
    return Need(radius, gaps, (plan.board.copper_on(side),), (side,), net)


def _place(plan: Plan, side: Side, need: Need) -> Optional[Point]:
    """The place nearest to the other targets: inside a pour of the net if there is one, otherwise on a track."""
    target = _middle_of_targets(plan, side)
    layer = plan.board.copper_on(side)
    pours = [area for area in plan.board.areas if area.layer == layer and area.net == need.net and area.rings]
    deep = need.radius + MASK_MARGIN_MM + OPENING_WEB_MM
    if pours:
        spot = next(plan.space.nearest(target, need, lambda region: inside(pours, region, deep)), None)
        if spot is not None:
            return spot
    lines = [shapely.LineString(t.path) for t in plan.board.tracks if t.layer == layer and t.net == need.net]
    if not lines:
        return None
    tree = shapely.STRtree(lines)

    def on_tracks(region: BaseGeometry) -> BaseGeometry:
        near = tree.geometries.take(tree.query(region))
        return region.intersection(shapely.union_all(near)) if len(near) else shapely.Point()

    radius = need.radius + max(need.gaps[Kind.COPPER], POUR_GAP_MM)
    for spot in islice(plan.space.nearest(target, need, on_tracks), SPOTS_TRIED):
        if all(gives_way(a, spot, radius) for a in touching(plan.board, layer, spot, radius, need.net)):
            return spot
    return None


def _middle_of_targets(plan: Plan, side: Side) -> Point:
    spots = [point.at for point in plan.marks.test_points if side in point.sides]
    spots += [planned.at for planned in plan.amendments if isinstance(planned, ProbePad) and planned.side is side]
    if not spots:
        low_x, low_y, high_x, high_y = plan.board.outline.area.bounds
        return (low_x + high_x) / 2, (low_y + high_y) / 2
    return float(np.mean([x for x, _ in spots])), float(np.mean([y for _, y in spots]))


def _why_not(plan: Plan, net: str, main: Side) -> str:
    """Which limit is in the way at the place that comes nearest to fitting."""
    need_mm = plan.sheet.test_access.target_min_mm
    best: Optional[tuple[float, Side, Point]] = None
    for side in (main, main.other):
        for at in _own_copper(plan, side, net):
            need = _need(plan, side, net, need_mm / 2)
            _, gap, wanted = plan.space.tightest(at, need)
            if best is None or gap - wanted > best[0]:
                best = (gap - wanted, side, at)
    if best is None:
        return f"{net} has no track or pour on an outer layer"
    _, side, at = best
    kind, gap, wanted = plan.space.tightest(at, _need(plan, side, net, need_mm / 2))
    if gap >= wanted:
        return (
            f"no place on its copper where pours of other nets can give way to {mm(need_mm)} mm and stay in one piece"
        )
    lack = f"{mm(max(gap, 0.0))} mm" if gap > 0 else "nothing"
    return (
        f"a pad of {mm(need_mm)} mm comes nearest to fitting on the {side.value}, {plan.spot(at)}: "
        f"{lack} left to {kind.value}, {mm(wanted)} mm needed"
    )


def _own_copper(plan: Plan, side: Side, net: str) -> Iterator[Point]:
    """A few hundred places on the net's tracks and pours."""
    layer = plan.board.copper_on(side)
    for track in islice((t for t in plan.board.tracks if t.layer == layer and t.net == net), 200):
        path = track.path
        yield float(path[:, 0].mean()), float(path[:, 1].mean())
    for area in plan.board.areas:
        if area.layer == layer and area.net == net and area.rings:
            spot = area.boundary.representative_point()
            yield spot.x, spot.y
