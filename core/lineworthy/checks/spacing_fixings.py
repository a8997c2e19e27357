# SPDX-License-Identifier: MIT
"""Room round the holes that hold the board: for screw heads, washers and stand-offs, and for what bends there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import TOL_MM, Floats, falls_short, pairs_within
from lineworthy.knowledge.bodies import SMALL_CHIPS, Bodies, Body, Kind
from lineworthy.knowledge.holes import FixingHole
from lineworthy.knowledge.looks import Basis
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netfacts import NetKind
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Family
from lineworthy.knowledge.screws import Screw, screw_for, takes_washer
from lineworthy.knowledge.wording import listed, mm, natural, sentence
from lineworthy.model import Board, CopperArea, Item, Side
from lineworthy.registry import Answers, check
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

CERAMIC = "spacing.ceramic_to_screw_min_mm"

SHOWN = 40
"""Places of one finding on the map."""


@dataclass(frozen=True, eq=False)
class _Hole:
    """A hole with the screw it is for."""

    hole: FixingHole
    screw: Screw

    @property
    def name(self) -> str:
        return self.hole.part.reference if self.hole.part is not None and self.hole.part.reference else "a hole"

    @property
    def washer(self) -> float:
        """Diameter of the widest thing that usually goes there."""
        return self.screw.washer if takes_washer(self.hole) else self.screw.head

    @property
    def is_sure(self) -> bool:
        """Whether somebody said that this is a mounting hole."""
        return self.hole.basis is not Basis.LOOKS


@dataclass(frozen=True, eq=False)
class _Near:
    """A body near the middle of a hole: `gap` mm from it."""

    hole: _Hole
    body: Body
    gap: float

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap - self.hole.screw.head / 2, 4), self.body.order, natural(self.hole.name))

    @property
    def label(self) -> str:
        return f"{self.body.part.reference} at {self.hole.name}"


@check("spacing/part-under-screw")
def part_under_screw(bodies: Bodies, marks: Marks) -> Answers:
    """Do parts stand where the head of a screw, its washer or a stand-off goes?

    Why it matters: a head that rides on a part crushes it or never gets tight; a washer that touches one cracks it when
    the screw is turned. Neither is seen before the first board is mounted.
    What to do: keep the circle of the washer free of parts on both faces, or choose a screw with a smaller head and say
    so on the assembly drawing.
    Blind spots: the screw is the one in the name of the hole, else the largest metric one that goes through it; heads
    of other threads differ. A query says that even the smallest usual head does not fit; less is a note. Holes that
    only look like mounting holes give notes. Parts that are drawn over the hole because they are screwed down there
    are left out, as are covers and modules.
    Source: heads ISO 4762 and ISO 14580, the latter as drawn in the editor's library; from memory: washers ISO 7089.
    """
    found = [near for side in Side for near in _near(bodies, _screwed(marks), side)]
    crushed = [one for one in found if falls_short(one.gap, one.hole.screw.head / 2)]
    queried = [one for one in crushed if one.hole.is_sure]
    noted = [one for one in found if one not in queried and falls_short(one.gap, one.hole.washer / 2)]
    for consequence, what, ones in ((Consequence.QUERY, "head", queried), (Consequence.NOTE, "washer", noted)):
        if not ones:
            continue
        ones.sort(key=lambda one: one.order)
        first = ones[0]
        wide = first.hole.screw.head if what == "head" else first.hole.washer
        names = listed(one.body.part.reference for one in ones)
        stands = "stands" if len({one.body.part for one in ones}) == 1 else "stand"
        nearest = f"nearest {first.label}, " if len(ones) > 1 else ""
        yield part_under_screw.finding(
            consequence,
            f"{names} {stands} under the {what} of the screw in {listed(one.hole.name for one in ones)}: {nearest}"
            f"{mm(round(first.gap, 3))} mm from its middle, {mm(wide / 2)} mm needed for {first.hole.screw.size}",
            items=list(dict.fromkeys(one.body.part for one in ones)),
            places=[Place(one.hole.hole.at, one.body.side, one.label) for one in ones[:SHOWN]],
            measured=first.gap,
            limit=wide / 2,
            detail=what,
        )


@check("spacing/ceramic-near-screw", limits=(CERAMIC,))
def ceramic_near_screw(bodies: Bodies, marks: Marks, sheet: Sheet) -> Answers:
    """Are ceramic capacitors so near to a screw that tightening it bends the board under them?

    Why it matters: a board that is not quite flat, or a stand-off that is not quite level, is bent straight when the
    screw is tightened, most of all beside it. Ceramic capacitors crack from that, and fail as a short much later.
    What to do: move them away from the hole, or turn them so that the hole lies beside them and not at one end; use
    types with soft terminations; tighten screws crosswise with a torque limit.
    Blind spots: measured from the rim of the pan head to body and lands, either face. Capacitors up to 0402 are left
    out, as are holes that only look like mounting holes. How stiff the mounting is, is not known.
    Source: common practice, no source; makers of capacitors warn of it without giving a distance.
    """
    need = sheet.spacing.ceramic_to_screw_min_mm
    found = []
    for side in Side:
        for one in _near(bodies, [hole for hole in _screwed(marks) if hole.is_sure], side, need):
            facts = one.body.facts
            ceramic = facts.ceramic_capacitor and facts.chip_size not in SMALL_CHIPS
            rim = one.gap - one.hole.screw.pan / 2
            if ceramic and falls_short(rim, need) and not falls_short(one.gap, one.hole.screw.head / 2):
                found.append((max(rim, 0.0), one))
    if not found:
        return
    found.sort(key=lambda pair: (round(pair[0], 4), pair[1].order))
    rim, first = found[0]
    names = listed(one.body.part.reference for _, one in found)
    if len(found) == 1:
        message = f"Ceramic capacitor {names} is {mm(round(rim, 3))} mm from the head of the screw in {first.hole.name}"
    else:
        holes = listed(one.hole.name for _, one in found)
        message = f"Ceramic capacitors {names} are near screws in {holes}: {first.label}, {mm(round(rim, 3))} mm"
    yield ceramic_near_screw.finding(
        Consequence.NOTE,
        f"{message}; {mm(need)} mm needed",
        items=list(dict.fromkeys(one.body.part for _, one in found)),
        places=[Place(one.body.part.at, one.body.side, one.label) for _, one in found[:SHOWN]],
        measured=rim,
        limit=need,
        limit_key=CERAMIC,
    )


@check("spacing/copper-under-screw")
def copper_under_screw(board: Board, marks: Marks, nets: Nets) -> Answers:
    """Does copper of other nets run under the head of a screw?

    Why it matters: a turning head cuts through the mask, which is a few hundredths of a millimetre of lacquer and no
    insulation. The track is then joined to the screw and to the housing, at once or after some years of shaking.
    What to do: keep tracks, vias and pours out of the circle of the head on both faces; draw a rule area round the hole
    so that it stays free; or use an insulating washer and say so on the assembly drawing.
    Blind spots: tracks, vias and pours on the outer layers, by the circle of a pan head; nets that the hole itself is
    joined to and ground are taken as meant. Safety distances to a housing that can be touched are another matter: they
    belong to the product standard and a test lab.
    Source: from memory: ISO 7045 (pan heads).
    """
    holes = _screwed(marks)
    found = sorted(_copper(board, holes, nets), key=lambda one: (natural(one[0].name), one[1], one[3].value))
    if not found:
        return
    names = sorted({net for _, net, _, _ in found}, key=natural)
    told = listed(names, 4)
    heads = sorted({f"{hole.screw.size}, {mm(hole.screw.pan)} mm" for hole, _, _, _ in found}, key=natural)
    yield copper_under_screw.finding(
        Consequence.NOTE,
        sentence(
            f"copper of {told} lies under the head of the screw in {listed(hole.name for hole, _, _, _ in found)}"
            f" (pan head {' and '.join(heads)})"
        ),
        items=list(dict.fromkeys(item for _, _, item, _ in found)),
        places=[Place(at, side, f"{net} at {name}") for name, net, side, at in _spots(found)][:SHOWN],
        measured=len({id(hole) for hole, _, _, _ in found}),
        unit="holes",
    )


def _spots(found: Sequence[tuple[_Hole, str, Item, Side]]) -> Iterator[tuple[str, str, Side, Point]]:
    """Each net once a hole and side."""
    seen = set()
    for hole, net, _, side in found:
        if (id(hole), net, side) not in seen:
            seen.add((id(hole), net, side))
            yield hole.name, net, side, hole.hole.at


def _screwed(marks: Marks) -> list[_Hole]:
    """All holes a screw goes through."""
    pairs = ((hole, screw_for(hole)) for hole in marks.holes)
    return [_Hole(hole, screw) for hole, screw in pairs if screw is not None]


def _near(bodies: Bodies, holes: Sequence[_Hole], side: Side, beyond: float = 0.0) -> Iterator[_Near]:
    """Bodies of one side inside the washer's circle, or `beyond` mm outside of it."""
    here, shapes = bodies.on(side), bodies.shapes(side)
    if not holes:
        return
    spots = np.asarray(shapely.points([hole.hole.at for hole in holes]))
    reach = np.array([hole.washer / 2 + beyond for hole in holes])
    for i, j, gap in zip(*(values.tolist() for values in pairs_within(spots, shapes, reach))):
        hole, body = holes[i], here[j]
        over = body.kind is Kind.COVER or body.facts.family is Family.MODULE or gap == 0.0
        if body.part is not hole.hole.part and not (over and body.kind is not Kind.LEADS):
            yield _Near(hole, body, gap)


def _copper(board: Board, holes: Sequence[_Hole], nets: Nets) -> Iterator[tuple[_Hole, str, Item, Side]]:
    """Copper of other nets under heads, on both faces."""
    if not holes:
        return
    spots = np.asarray(shapely.points([hole.hole.at for hole in holes]))
    radius = np.array([hole.screw.pan / 2 for hole in holes])
    for side in Side:
        layer = board.copper_on(side)
        drawn = _tracks_and_vias(board, layer, shapely.get_coordinates(spots), float(radius.max()))
        half = np.array([width / 2 for _, _, width in drawn])
        i, j, gap = pairs_within([shape for _, shape, _ in drawn], spots, half + radius.max())
        inside = gap < half[i] + radius[j] - TOL_MM
        found = [(drawn[a][0], b) for a, b in zip(i[inside].tolist(), j[inside].tolist())]
        found += [(area, b) for area in board.areas if area.layer == layer for b in _poured(area, spots, radius)]
        for item, b in found:
            hole, net = holes[b], getattr(item, "net", "")
            if net and net not in _own_nets(hole) and nets.of(net).kind is not NetKind.GROUND:
                yield hole, net, item, side


def _tracks_and_vias(board: Board, layer: str, near: Floats, reach: float) -> list[tuple[Item, BaseGeometry, float]]:
    """Copper of one layer that may come within reach of some points: centre lines and points, each with its width."""
    tracks = [item for item in board.tracks if item.layer == layer]
    ends = np.array([(*item.start, *item.end, *(item.mid or item.start), item.width) for item in tracks]).reshape(-1, 7)
    # an arc strays from the box round its three points by less than the way from the first to the one in the middle
    slack = reach + ends[:, 6] + np.hypot(ends[:, 0] - ends[:, 4], ends[:, 1] - ends[:, 5])
    xs, ys = ends[:, 0:6:2], ends[:, 1:6:2]
    kept = np.zeros(len(tracks), dtype=bool)
    for x, y in near:
        kept |= (
            (xs.min(axis=1) < x + slack)
            & (xs.max(axis=1) > x - slack)
            & (ys.min(axis=1) < y + slack)
            & (ys.max(axis=1) > y - slack)
        )
    lines = [(tracks[n], shapely.LineString(tracks[n].path), tracks[n].width) for n in np.flatnonzero(kept).tolist()]
    vias = [(item, shapely.Point(item.at), item.diameter_on(layer)) for item in board.vias if layer in item.span]
    return [*lines, *vias]


def _poured(area: CopperArea, spots: npt.NDArray[np.object_], radius: Floats) -> Iterator[int]:
    """Which heads a pour reaches under: its outline runs round the hole, inside the circle of the head."""
    at = shapely.get_coordinates(spots)
    for ring in area.rings:
        low, high = ring.min(axis=0) - radius.max(), ring.max(axis=0) + radius.max()
        near = np.flatnonzero(((at > low) & (at < high)).all(axis=1))
        if len(near) and len(ring) > 2:
            gap = shapely.distance(shapely.LinearRing(ring), spots[near])
            yield from near[gap < radius[near] - TOL_MM].tolist()


def _own_nets(hole: _Hole) -> frozenset[str]:
    if hole.hole.via is not None:
        return frozenset({hole.hole.via.net})
    return frozenset(pad.net for pad in hole.hole.part.pads) if hole.hole.part is not None else frozenset()


CHECKS = (part_under_screw, ceramic_near_screw, copper_under_screw)
