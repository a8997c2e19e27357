# SPDX-License-Identifier: MIT
"""Places for probe pads: on copper their net has already, inside a pour or along a track.

Places are tried as points, in a close row along the net's tracks and on a grid over its pours, nearest to the other
targets first. That is quick, and every point is measured against the true shapes; what it costs is that a place which
fits only between two points is missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Optional

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.amend.amendment import ProbePad
from lineworthy.amend.fiducials import marks_like
from lineworthy.amend.plan import Plan
from lineworthy.amend.pours import POUR_GAP_MM, gives_way, inside, touching
from lineworthy.amend.space import GRID_MM, Kind, Need
from lineworthy.geometry import falls_short
from lineworthy.knowledge.nets import NetKind
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.surroundings import Hurdle, Surroundings
from lineworthy.knowledge.targets import Target, TargetKind, Targets
from lineworthy.knowledge.wording import mm
from lineworthy.model import CopperArea, Side, Track, Via
from lineworthy.shapes import Point, disc

MASK_MARGIN_MM = 0.05
"""How much further the mask opens than the pad (common practice, no source)."""

OPENING_WEB_MM = 0.1

STEP_MM = 0.4
"""Between two places tried along a track."""

POUR_STEP_MM = 1.0
POUR_SPOTS = 3000
"""Between two places tried in a pour, and how many of the nearest are."""

NUDGE = 0.25
"""A pad may lie off its copper by this share of its diameter: the copper still runs well into it."""

GROUND_ENOUGH = 3
"""Leads, open vias and bare lands on ground that serve new pads well enough (common practice, no source)."""

LOOK_ROUND = ((0.2, GRID_MM), (3.0, 0.25), (12.0, 0.8))
"""How far round a place that does not fit free space is looked for, and in which steps, mm: the near one finely."""

SPOTS_TRIED = 60
NEAR_MISSES = 30

Spots = npt.NDArray[np.float64]


class _Found(NamedTuple):
    """Places on a net's copper of one side, nearest to the other targets first, and the largest disc at each."""

    spots: Spots
    radii: npt.NDArray[np.float64]
    in_pour: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class _Finder:
    """Looks for places on one board; what all nets share is worked out once."""

    plan: Plan

    @cached_property
    def targets(self) -> Targets:
        return Targets(self.plan.board, self.plan.marks)

    @cached_property
    def surroundings(self) -> Surroundings:
        return Surroundings(self.plan.board, self.plan.marks, Packages(self.plan.board))

    @cached_property
    def tracks(self) -> dict[tuple[str, str], list[Track]]:
        found: dict[tuple[str, str], list[Track]] = {}
        for track in self.plan.board.tracks:
            found.setdefault((track.layer, track.net), []).append(track)
        return found

    @cached_property
    def pours(self) -> dict[tuple[str, str], list[CopperArea]]:
        found: dict[tuple[str, str], list[CopperArea]] = {}
        for area in self.plan.board.areas:
            if area.rings:
                found.setdefault((area.layer, area.net), []).append(area)
        return found

    def look(self, net: str, side: Side) -> _Found:
        """Places on a net's copper of one side with the room there."""
        limits = self.plan.sheet.test_access
        key = (self.plan.board.copper_on(side), net)
        target = _middle_of_targets(self.plan, side)
        poured = _nearest(_over(self.pours.get(key, [])), target)[:POUR_SPOTS]
        along = _nearest(_along(self.tracks.get(key, [])), target)
        spots = np.concatenate([poured, along])
        in_pour = np.arange(len(spots)) < len(poured)
        if not len(spots):
            return _Found(spots, np.zeros(0), in_pour)
        need = _need(self.plan, side, net, limits.target_min_mm / 2)
        return _Found(spots, self.plan.space.room(spots, need, limits.target_preferred_mm / 2), in_pour)

    def best(self, found: _Found, net: str, side: Side, diameter: float) -> Optional[Point]:
        """The first place where a pad fits, in a pour before on a track."""
        fitting = np.flatnonzero(found.radii >= diameter / 2 - 1e-9)
        clear = fitting[self._clear(found.spots[fitting], net, side, diameter)]
        for index in (*clear[found.in_pour[clear]][:SPOTS_TRIED], *clear[~found.in_pour[clear]][:SPOTS_TRIED]):
            at = (float(found.spots[index, 0]), float(found.spots[index, 1]))
            if self._joins(at, net, side, diameter, bool(found.in_pour[index])):
                return at
        return None

    def _clear(self, spots: Spots, net: str, side: Side, diameter: float) -> npt.NDArray[np.bool_]:
        """Which places have nothing in a probe's way: no tall part, guide hole, seal, or target of another net."""
        hurdles = self.hurdles(spots, net, side, diameter)
        free = np.array([not found for found in hurdles], dtype=bool)
        pitch = self.plan.sheet.test_access.target_pitch_preferred_mm
        others = [target.at for target in self.targets.dedicated if target.side is side and target.net != net]
        others += [pad.at for pad in _planned(self.plan, side) if pad.net != net]
        for at in others:
            free &= np.hypot(*(spots - at).T) >= pitch
        # round and bare as it is, a pad is taken for an alignment mark of its size where a camera searches for that
        for mark in marks_like(self.plan, side, diameter):
            free &= np.hypot(*(spots - mark).T) >= self.plan.sheet.fiducials.lookalike_field_mm
        return free

    def hurdles(self, spots: Spots, net: str, side: Side, diameter: float) -> list[tuple[Hurdle, ...]]:
        """What would be in a probe's way at some places."""
        layer = self.plan.board.copper_on(side)
        made = [
            Target(net, side, at, diameter, TargetKind.DEDICATED, Via("", at, diameter, 0.0, (layer, layer), net))
            for at in ((float(x), float(y)) for x, y in spots)
        ]
        return self.surroundings.hurdles(made, self.plan.sheet.test_access)

    def _joins(self, at: Point, net: str, side: Side, diameter: float, in_pour: bool) -> bool:
        """Whether a pad lies whole in its own pour, or pours of other nets can give way to it."""
        layer = self.plan.board.copper_on(side)
        if in_pour:
            deep = diameter / 2 + MASK_MARGIN_MM + OPENING_WEB_MM
            spot = shapely.Point(at).buffer(GRID_MM / 2, quad_segs=1)
            return not inside(self.pours[layer, net], spot, deep).is_empty
        need = _need(self.plan, side, net, diameter / 2)
        radius = need.radius + max(need.gaps[Kind.COPPER], POUR_GAP_MM)
        return all(gives_way(area, at, radius) for area in touching(self.plan.board, layer, at, radius, net))


def _along(tracks: list[Track]) -> Spots:
    """Places in a row along tracks, ends included."""
    rows = []
    for track in tracks:
        path = track.path
        steps = np.hypot(*np.diff(path, axis=0).T)
        for start, end, length in zip(path[:-1], path[1:], steps):
            parts = np.linspace(0.0, 1.0, int(np.ceil(length / STEP_MM)) + 1)
            rows.append(start + parts[:, None] * (end - start))
    return _on_grid(np.concatenate(rows)) if rows else np.zeros((0, 2))


def _over(pours: list[CopperArea]) -> Spots:
    """Places on a grid over pours."""
    rows = []
    for area in pours:
        low_x, low_y, high_x, high_y = area.boundary.bounds
        x, y = np.meshgrid(np.arange(low_x, high_x, POUR_STEP_MM), np.arange(low_y, high_y, POUR_STEP_MM))
        spots = np.column_stack([x.ravel(), y.ravel()])
        shapely.prepare(area.boundary)
        rows.append(spots[shapely.contains_xy(area.boundary, spots)])
    return _on_grid(np.concatenate(rows)) if rows else np.zeros((0, 2))


def _on_grid(spots: Spots) -> Spots:
    """The nearest grid points: a person reads them, and a pad still lies over its track."""
    return np.asarray(np.unique(np.round(np.round(spots / GRID_MM) * GRID_MM, 4), axis=0))


def _nearest(spots: Spots, target: Point) -> Spots:
    away = np.round(np.hypot(*(spots - target).T), 6) if len(spots) else np.zeros(0)
    return spots[np.lexsort((spots[:, 1], spots[:, 0], away))]


def plan_ground_pad(plan: Plan) -> None:
    """A probe pad on the ground with most pads, where no ground has one made for probes."""
    _plan_ground(_Finder(plan), "a probe pad on ground")


def _plan_ground(finder: _Finder, wanted: str) -> None:
    plan, grounds = finder.plan, _grounds(finder.plan)
    if not grounds:
        plan.refuse(wanted, "no net of the board reads as ground")
        return
    need = plan.sheet.test_access.target_min_mm
    if any(t.kind is TargetKind.DEDICATED and t.diameter >= need for name in grounds for t in finder.targets.of(name)):
        return
    _plan_pad(finder, plan.nets.main_ground, wanted)


def _grounds(plan: Plan) -> list[str]:
    return [facts.name for facts in plan.nets.of_kind(NetKind.GROUND)]


def _serve_with_ground(finder: _Finder) -> None:
    """A ground pad beside new pads, on a side where little of ground could be probed: signals need a return."""
    plan = finder.plan
    grounds = _grounds(plan)
    planned = [pad for pad in plan.amendments if isinstance(pad, ProbePad)]
    if not grounds or len(planned) < 2 or any(pad.net in grounds for pad in planned):
        return
    side, need = probe_side(plan), plan.sheet.test_access.target_min_mm
    near = [t for t in finder.targets.of(plan.nets.main_ground) if t.side is side and t.kind.is_probed]
    if sum(not falls_short(target.diameter, need) for target in near) < GROUND_ENOUGH:
        _plan_ground(finder, "a probe pad on ground for the others")


def plan_test_pads(plan: Plan, nets: tuple[str, ...]) -> None:
    """A probe pad on each net that no probe reaches."""
    finder = _Finder(plan)
    for name in dict.fromkeys(nets):
        wanted = f"a probe pad on {name}"
        if any(isinstance(planned, ProbePad) and planned.net == name for planned in plan.amendments):
            continue
        if name not in plan.board.pads_by_net:
            plan.refuse(wanted, "the board has no such net")
            continue
        if finder.targets.reach(name, plan.sheet.test_access.target_min_mm):
            continue
        kind = plan.nets.of(name).kind
        if kind.stays_bare:
            harm = (
                "bare copper on the mains can kill"
                if kind is NetKind.MAINS
                else f"a pad spoils a net of this kind ({kind.value})"
            )
            plan.refuse(wanted, harm)
            continue
        _plan_pad(finder, name, wanted)
    _serve_with_ground(finder)


def _plan_pad(finder: _Finder, net: str, wanted: str) -> None:
    plan = finder.plan
    if not plan.board.outline.is_closed:
        plan.refuse(wanted, "the board has no closed outline to place it by")
        return
    main = probe_side(plan)
    found: dict[Side, _Found] = {}
    limits = plan.sheet.test_access
    for diameter in dict.fromkeys((limits.target_preferred_mm, limits.target_min_mm)):
        for side in (main, main.other):
            if side not in found:
                found[side] = finder.look(net, side)
            at = finder.best(found[side], net, side, diameter)
            if at is not None:
                _plan_at(plan, net, side, at, diameter)
                return
    miss = _nearest_miss(finder, net, found)
    if miss is None:
        plan.refuse(wanted, f"{net} has no track or pour on an outer layer")
        return
    side, at = miss
    free = _free_space(finder, net, side, at)
    if free is not None and _apart(free, at) <= limits.target_min_mm * NUDGE:
        _plan_at(plan, net, side, free, limits.target_min_mm)
        return
    plan.refuse(wanted, _blocked(finder, net, side, at) + _instead(plan, at, free))


def _plan_at(plan: Plan, net: str, side: Side, at: Point, diameter: float) -> None:
    pad = ProbePad(plan.reference("TP"), at, side, diameter, net)
    plan.amendments.append(pad)
    plan.space.reserve(disc(at, pad.keep_out), side)


def probe_side(plan: Plan) -> Side:
    """Where most targets are; the bottom when there are as many on both sides, because fixtures probe from below."""
    points = [point for point in plan.marks.test_points if point.sides]
    top = sum(point.sides == {Side.TOP} for point in points) + len(_planned(plan, Side.TOP))
    bottom = sum(point.sides == {Side.BOTTOM} for point in points) + len(_planned(plan, Side.BOTTOM))
    return Side.TOP if top > bottom else Side.BOTTOM


def _planned(plan: Plan, side: Side) -> list[ProbePad]:
    return [planned for planned in plan.amendments if isinstance(planned, ProbePad) and planned.side is side]


def _need(plan: Plan, side: Side, net: str, radius: float) -> Need:
    limits = plan.sheet.test_access
    bare = plan.sheet.bare_board.edge_copper_outer_min_mm
    gaps = {
        Kind.EDGE: max(limits.target_to_edge_min_mm, limits.target_to_edge_vacuum_mm, bare),
        Kind.PART: limits.target_to_part_min_mm,
        Kind.COPPER: max(plan.space.clearance(net), MASK_MARGIN_MM + OPENING_WEB_MM),
        Kind.MASK: MASK_MARGIN_MM + OPENING_WEB_MM,
        Kind.LEGEND: MASK_MARGIN_MM + plan.sheet.identity.text_to_opening_min_mm,
        Kind.HOLE: bare,
        Kind.VIA: OPENING_WEB_MM,
        Kind.COURTYARD: 0.25,  # its own courtyard begins there
        Kind.RULE: 0.0,
        Kind.PLANNED: 0.25,
    }
    return Need(radius, gaps, (plan.board.copper_on(side),), (side,), net)


def _middle_of_targets(plan: Plan, side: Side) -> Point:
    spots = [point.at for point in plan.marks.test_points if side in point.sides]
    spots += [planned.at for planned in _planned(plan, side)]
    if not spots:
        low_x, low_y, high_x, high_y = plan.board.outline.area.bounds
        return (low_x + high_x) / 2, (low_y + high_y) / 2
    return float(np.mean([x for x, _ in spots])), float(np.mean([y for _, y in spots]))


def _nearest_miss(finder: _Finder, net: str, found: dict[Side, _Found]) -> Optional[tuple[Side, Point]]:
    """The place on the net's copper that comes nearest to fitting; None where it has none."""
    need_mm = finder.plan.sheet.test_access.target_min_mm
    best: Optional[tuple[float, Side, Point]] = None
    for side, here in found.items():
        need = _need(finder.plan, side, net, need_mm / 2)
        for index in np.argsort(-here.radii, kind="stable")[:NEAR_MISSES]:
            at = (float(here.spots[index, 0]), float(here.spots[index, 1]))
            _, gap, wanted = finder.plan.space.tightest(at, need)
            if best is None or gap - wanted > best[0] + 1e-6:
                best = (gap - wanted, side, at)
    return None if best is None else (best[1], best[2])


def _blocked(finder: _Finder, net: str, side: Side, at: Point) -> str:
    plan, need_mm = finder.plan, finder.plan.sheet.test_access.target_min_mm
    kind, gap, wanted = plan.space.tightest(at, _need(plan, side, net, need_mm / 2))
    what = kind.value
    if not falls_short(gap, wanted):
        hurdle = next(iter(finder.hurdles(np.array([at]), net, side, need_mm)[0]), None)
        if hurdle is None:
            return (
                f"no place on its copper where pours of other nets can give way to {mm(need_mm)} mm and stay in one "
                "piece, and no other target is near"
            )
        gap, wanted, what = hurdle.measured, hurdle.limit, hurdle.by or hurdle.kind.value
    lack = f"{mm(gap)} mm" if gap > 0 else "nothing"
    return (
        f"a pad of {mm(need_mm)} mm comes nearest to fitting on the {side.value}, {plan.spot(at)}: "
        f"{lack} left to {what}, {mm(wanted)} mm needed"
    )


def _free_space(finder: _Finder, net: str, side: Side, at: Point) -> Optional[Point]:
    """The nearest free space for the smallest pad, on the net's copper or off it, within the steps of `LOOK_ROUND`."""
    need = _need(finder.plan, side, net, finder.plan.sheet.test_access.target_min_mm / 2)
    for reach, step in LOOK_ROUND:
        offsets = np.arange(-reach, reach + step / 2, step)
        x, y = np.meshgrid(at[0] + offsets, at[1] + offsets)
        spots = _nearest(_on_grid(np.column_stack([x.ravel(), y.ravel()])), at)
        free = spots[finder.plan.space.room(spots, need, need.radius) >= need.radius - 1e-9][:SPOTS_TRIED]
        around = _Found(free, np.full(len(free), need.radius), np.zeros(len(free), dtype=bool))
        spot = finder.best(around, net, side, 2 * need.radius)
        if spot is not None:
            return spot
    return None


def _instead(plan: Plan, at: Point, free: Optional[Point]) -> str:
    """Where the nearest free space is, and how far a track to it would have to go."""
    return f"; the nearest free space is about {_apart(free, at):.1f} mm away, {plan.spot(free)}" if free else ""


def _apart(one: Point, other: Point) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))
