# SPDX-License-Identifier: MIT
"""Room to replace a part: a way in for an iron, a ring for a hot-air nozzle, a free far side to support the board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Optional

import numpy as np
import shapely

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds, falls_short, pairs_within
from lineworthy.knowledge.approach import TALL_WHEN_UNKNOWN, Joint, joints, standing, strips, ways
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.closeness import Closeness, stands_over
from lineworthy.knowledge.netfacts import matches
from lineworthy.knowledge.packages import Family, Terminals
from lineworthy.knowledge.wording import counted, listed, mm, pad_name
from lineworthy.limits import SpacingLimits
from lineworthy.model import Board, Pad, PadRole, Side
from lineworthy.project import Project
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

IRON, OVER = "spacing.iron_min_mm", "spacing.iron_over_mm"
ARRAY, WALL = "spacing.array_nozzle_min_mm", "spacing.nozzle_wall_min_mm"
TWEEZERS = "spacing.tweezers_min_mm"
FAR = "spacing.array_far_side_max_mm"

DIRECTIONS = (0.0, 45.0, -45.0, 90.0, -90.0)
"""Ways an iron can come to the outer end of a land, degrees from straight out; from the side only where the part has no
lead beside it."""

ALL_ROUND = tuple(45.0 * n for n in range(8))
"""Ways an iron can come to the end of a lead, degrees."""

UNKNOWN_MM = 5.0
"""Height at which parts of tall kinds that state none are worth asking for it."""

HOW = "give the parts a field Height in mm, or a package name that holds it"

ABOVE_PACKAGE_MM = 1.0
"""A hot-air nozzle over a flat package clears neighbours that stand up to this much above it."""

SHOWN = 40
"""Places of one finding on the map."""

_BY_IRON = (Terminals.END_CAP, Terminals.GULL_WING, Terminals.J_LEAD, Terminals.INWARD_LEAD, Terminals.FLAT_LEAD)


@dataclass(frozen=True, eq=False)
class _Ring:
    """A part that stands in the ring round a package, `gap` mm from its body."""

    package: Body
    by: Body
    gap: float

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap, 3), self.package.order, self.by.order)

    @property
    def label(self) -> str:
        return f"{self.by.part.reference} at {self.package.part.reference}"


@check("spacing/joint-out-of-reach", limits=(IRON, OVER))
def joint_out_of_reach(board: Board, bodies: Bodies, sheet: Sheet) -> Answers:
    """Is there a joint that no iron gets to, because tall parts stand all round it?

    Why it matters: a chip or a leaded part is touched up and replaced with an iron or hot tweezers, which come in from
    the side at about 45 degrees. Where tall parts stand before a joint, they have to be taken off first.
    What to do: leave one way in for each joint, or turn the part so that its ends look away from the tall ones.
    Blind spots: asked for lands with paste of chips and of packages with leads, for a strip of the sheet's width,
    straight out and 45 degrees to either side, for chips from their sides, too; and for the ends of leads on the side
    where they come out, from anywhere, but not for pins that are pressed in. An iron rises at 45 degrees: a part is
    in the way up to a distance of its height less what the sheet says an iron passes over. Where heights are missing,
    this part of the check is not run, and says so. Shields, modules over the joint and parts marked do-not-fit are left
    out. Hot parts burn and flux fumes: rework belongs to trained people at an extracted, grounded place.
    Source: common practice, no source.
    """
    unknown: set[Body] = set()
    for side in Side:
        blocked = _out_of_reach(board, bodies, side, sheet.spacing, guess=False)
        known = {joint.pad for joint, _ in blocked}
        guessed = _out_of_reach(board, bodies, side, sheet.spacing, guess=True)
        unknown |= {by for joint, by in guessed if joint.pad not in known and by.height is None}
        if not blocked:
            continue
        parts = list(dict.fromkeys(joint.body.part for joint, _ in blocked))
        first, by = blocked[0]
        yield joint_out_of_reach.finding(
            Consequence.NOTE,
            f"No way in for an iron to {counted(len(blocked), 'joint')} of {listed(part.reference for part in parts)}:"
            f" {first.body.part.reference} behind {by.part.reference}, {mm(by.height or 0.0)} mm high; a strip of"
            f" {mm(sheet.spacing.iron_min_mm)} mm needed",
            items=parts,
            places=[
                Place(joint.middle, side, pad_name(joint.body.part.reference, joint.pad.number))
                for joint, _ in blocked[:SHOWN]
            ],
            measured=len(blocked),
            unit="joints",
            detail=side.value,
        )
    if unknown:
        names = listed(body.part.reference for body in unknown)
        yield joint_out_of_reach.not_run(
            f"no height stated for {counted(len(unknown), 'part')} right before joints of others ({names})", HOW
        )


def _out_of_reach(
    board: Board, bodies: Bodies, side: Side, limits: SpacingLimits, guess: bool
) -> list[tuple[Joint, Body]]:
    """Joints without a way in, each with the nearest part before it."""
    here = bodies.on(side)
    tall = [body for body in here if body.kind not in (Kind.LEADS, Kind.COVER)]
    tall = [body for body in tall if _in_the_way(body, limits, guess) > 0.0]
    if not tall:
        return []
    far = np.array([_in_the_way(body, limits, guess) for body in tall])
    low = [body for body in here if body.kind is not Kind.LEADS and body.facts.terminals in _BY_IRON]
    near = np.unique(pairs_within([standing(body) for body in tall], [body.shape for body in low], far)[1])
    some = [replace(joint, at=joint.middle) for joint in joints(board, [low[n] for n in near.tolist()])]
    found = ways(some, tall, far, np.full(len(some), limits.iron_min_mm), DIRECTIONS)
    capped = np.array([joint.body.facts.terminals is Terminals.END_CAP for joint in some], dtype=bool)
    shut = found.blocked[:, :3].all(axis=1) & (found.blocked.all(axis=1) | ~capped)
    pairs = [(some[n], tall[int(found.nearest[n])]) for n in np.flatnonzero(shut).tolist()]
    ends = [_lead_end(body, pad) for body in here if body.kind is Kind.LEADS for pad in body.facts.leads]
    ends = [end for end in ends if end.pad.role is not PadRole.PRESS_FIT]
    round_ = ways(ends, tall, far, np.full(len(ends), limits.iron_min_mm), ALL_ROUND)
    pairs += [(ends[n], tall[int(round_.nearest[n])]) for n in np.flatnonzero(round_.blocked.all(axis=1)).tolist()]
    pairs = [(joint, by) for joint, by in pairs if not stands_over(by, joint.body)]
    return sorted(pairs, key=lambda pair: (pair[0].body.order, pair[0].pad.number))


def _lead_end(leads: Body, pad: Pad) -> Joint:
    """The joint of a lead on the side where it comes out: an iron can come to it from anywhere."""
    return Joint(leads, pad, pad.at, pad.at, leads.part.rotation, max(pad.size))


def _in_the_way(body: Body, limits: SpacingLimits, guess: bool) -> float:
    """How far from a part its height keeps an iron held at 45 degrees away, mm."""
    height = body.height or 0.0
    if guess and body.height is None and body.facts.family in TALL_WHEN_UNKNOWN:
        height = UNKNOWN_MM
    return max(height - limits.iron_over_mm, 0.0)


@check("spacing/nozzle-hemmed-in", limits=(ARRAY, WALL))
def nozzle_hemmed_in(bodies: Bodies, closeness: Closeness, sheet: Sheet) -> Answers:
    """Is there a free ring for the hot-air nozzle round packages whose joints lie under their body?

    Why it matters: arrays and packages without leads are lifted and set by a nozzle that stands round them, arrays also
    with a small stencil for the paste. What stands in the ring is melted, blown away or has to come off first.
    What to do: keep the ring free round arrays that may have to be replaced; at least keep plastic connectors, cans and
    crystals out of it. Low chips beside packages without leads do not matter.
    Blind spots: round arrays from 5 mm on every part counts, by distance from the body; round packages without leads
    only parts that stand more than 1 mm above them, by heights that are known. Nearer parts that
    `spacing/parts-too-close` tells of are not told again.
    Source: arrays: IPC-7095, interim draft 6.1.2, as quoted on a trade mailing list; others: common practice.
    """
    told = {frozenset((pair.first, pair.second)) for pair in closeness.pairs}
    for kind in (Kind.ARRAY, Kind.PACKAGE):
        found: list[_Ring] = []
        for side in Side:
            found += [
                ring
                for ring in _rings(bodies.on(side), kind, sheet.spacing)
                if frozenset((ring.package, ring.by)) not in told
            ]
        groups: dict[str, list[_Ring]] = {}
        for ring in sorted(found, key=lambda ring: ring.order):
            groups.setdefault(ring.package.part.package if kind is Kind.ARRAY else "", []).append(ring)
        for rings in groups.values():
            yield _judge_rings(rings, kind, sheet)


def _rings(here: Sequence[Body], kind: Kind, limits: SpacingLimits) -> Iterator[_Ring]:
    """Parts in the rings of one side round arrays, or taller ones round packages without leads."""
    is_array = kind is Kind.ARRAY
    need = limits.array_nozzle_min_mm if is_array else limits.nozzle_wall_min_mm
    flat = [b for b in here if (b.kind is kind if is_array else b.facts.family is Family.NO_LEAD)]
    others = [b for b in here if b.kind not in (Kind.LEADS, Kind.COVER)]
    i, j, gap = pairs_within([b.facts.body for b in flat], [_taken(b, is_array) for b in others], need)
    for a, b, distance in zip(i.tolist(), j.tolist(), gap.tolist()):
        package, by = flat[a], others[b]
        if package.part is by.part or not falls_short(distance, need) or stands_over(by, package):
            continue
        if is_array or _rises_above(by, package):
            yield _Ring(package, by, distance)


def _taken(body: Body, with_lands: bool) -> shapely.geometry.base.BaseGeometry:
    return body.shape if with_lands else standing(body)


def _rises_above(by: Body, package: Body) -> bool:
    return by.height is not None and exceeds(by.height, (package.height or ABOVE_PACKAGE_MM) + ABOVE_PACKAGE_MM)


def _judge_rings(rings: Sequence[_Ring], kind: Kind, sheet: Sheet) -> Finding:
    first = rings[0]
    need, key, how = sheet.spacing.array_nozzle_min_mm, ARRAY, ""
    if kind is not Kind.ARRAY:
        need, key, how = sheet.spacing.nozzle_wall_min_mm, WALL, " high"
    stand = counted(len({ring.by.part for ring in rings}), "part stands", "parts stand")
    message = f"{stand}{how} in the ring for the nozzle round {listed(r.package.part.reference for r in rings)}"
    return nozzle_hemmed_in.finding(
        Consequence.NOTE,
        f"{message}: nearest {first.label}, {mm(round(first.gap, 3))} mm; {mm(need)} mm needed",
        items=list(dict.fromkeys(body.part for ring in rings for body in (ring.package, ring.by))),
        places=[Place(ring.by.part.at, ring.by.side, ring.label) for ring in rings[:SHOWN]],
        measured=first.gap,
        limit=need,
        limit_key=key,
        detail=kind.value,
    )


@check("spacing/array-without-support", limits=(FAR,))
def array_without_support(bodies: Bodies, sheet: Sheet) -> Answers:
    """Do tall parts or another array stand on the far side right under an array?

    Why it matters: the board is heated and supported from below while an array is replaced; tall parts there are in the
    way of the support, and an array back to back with it melts with it. Both cover its joints in the X-ray picture.
    What to do: keep the far side of an array to low chips; put arrays back to back only where it is wanted.
    Blind spots: by the outlines of the bodies, for arrays from 5 mm on. Parts of unknown height count when they are of
    a tall kind.
    Source: common practice, no source.
    """
    most = sheet.spacing.array_far_side_max_mm
    for side in Side:
        arrays = [body for body in bodies.on(side) if body.kind is Kind.ARRAY]
        behind = [body for body in bodies.on(side.other) if body.kind not in (Kind.LEADS, Kind.COVER)]
        behind = [body for body in behind if body.kind is Kind.ARRAY or _is_tall(body.height, body.facts.family, most)]
        i, j, _ = pairs_within([b.facts.body for b in arrays], [standing(b) for b in behind], 0.0)
        pairs = [(arrays[a], behind[b]) for a, b in zip(i.tolist(), j.tolist())]
        pairs = [(one, other) for one, other in pairs if one.facts.body.intersection(standing(other)).area > 0.0]
        # two arrays back to back are told once, from the top
        pairs = [pair for pair in pairs if pair[1].kind is not Kind.ARRAY or side is Side.TOP]
        if not pairs:
            continue
        pairs.sort(key=lambda pair: (-(pair[1].height or 0.0), pair[0].order, pair[1].order))
        first = pairs[0][1]
        high = "of unknown height" if first.height is None else f"{mm(first.height)} mm high"
        stands = "stands" if len({other for _, other in pairs}) == 1 else "stand"
        yield array_without_support.finding(
            Consequence.NOTE,
            f"{listed(other.part.reference for _, other in pairs)} {stands} on the far side of"
            f" {listed(array.part.reference for array, _ in pairs)}: {first.part.reference} is {high}; up to"
            f" {mm(most)} mm, and no array, can stay there when an array is replaced",
            items=list(dict.fromkeys(body.part for pair in pairs for body in pair)),
            places=[
                Place(other.part.at, other.side, f"{other.part.reference} behind {array.part.reference}")
                for array, other in pairs[:SHOWN]
            ],
            measured=first.height,
            limit=most,
            limit_key=FAR,
            detail=side.value,
        )


def _is_tall(height: Optional[float], family: Family, most: float) -> bool:
    return family in TALL_WHEN_UNKNOWN if height is None else exceeds(height, most)


@check("spacing/rework-crowded", limits=(WALL, TWEEZERS))
def rework_crowded(board: Board, bodies: Bodies, closeness: Closeness, sheet: Sheet, project: Project) -> Answers:
    """Do parts stand too near to one that the settings say will be replaced now and then?

    Why it matters: a part with many leads is taken off with hot air. The nozzle stands round it, and what stands in the
    ring melts along with it, is blown away, or has to come off first, every time. A chip is lifted by hot tweezers,
    which take hold of both ends at once and melt what they touch.
    What to do: leave the ring free round parts that are likely to be replaced, whatever stands there and however low,
    and room beyond both ends of chips. Name them under rework in the project's settings.
    Blind spots: asked only of parts the settings name: reflowed packages and connectors, and chips. Arrays have a ring
    of their own, parts with leads in holes are soldered from the far side: the other checks of this area ask about
    them. What `spacing/parts-too-close` tells is not told again. Hot parts burn and flux fumes: rework belongs to
    trained people at an extracted, grounded place.
    Source: common practice, no source: half to one millimetre of gap and one of nozzle wall; one millimetre beyond the
    ends of chips.
    """
    if not project.rework:
        return
    if astray := project.astray(board).get("rework"):
        yield rework_crowded.not_run(*astray)
    limits = sheet.spacing
    told = {frozenset((pair.first, pair.second)) for pair in closeness.pairs}
    rings: list[_Ring] = []
    ends: list[_Ring] = []
    for side in Side:
        here = bodies.on(side)
        named = [body for body in here if any(matches(body.part.reference, one) for one in project.rework)]
        others = [body for body in here if body.kind not in (Kind.LEADS, Kind.COVER)]
        lifted = [body for body in named if body.kind in (Kind.PACKAGE, Kind.CONNECTOR) and not body.facts.leads]
        chips = [body for body in named if body.kind in (Kind.CHIP, Kind.SMALL_CHIP)]
        rings += _round(lifted, others, limits.nozzle_wall_min_mm)
        ends += _beyond(list(joints(board, chips)), others, limits.tweezers_min_mm)
    for found, where, need, key in (
        (rings, "where a nozzle does, round", limits.nozzle_wall_min_mm, WALL),
        (ends, "where hot tweezers do, at the ends of", limits.tweezers_min_mm, TWEEZERS),
    ):
        some = sorted((one for one in found if frozenset((one.package, one.by)) not in told), key=lambda one: one.order)
        if some:
            yield _crowded(some, where, need, key)


def _round(some: Sequence[Body], others: Sequence[Body], need: float) -> Iterator[_Ring]:
    """What stands in the ring for a nozzle round some packages, with its lands."""
    i, j, gaps = pairs_within([body.shape for body in some], [body.shape for body in others], need)
    for a, b, gap in zip(i.tolist(), j.tolist(), gaps.tolist()):
        package, by = some[a], others[b]
        if package.part is not by.part and falls_short(gap, need) and not stands_over(by, package):
            yield _Ring(package, by, gap)


def _beyond(some: Sequence[Joint], others: Sequence[Body], need: float) -> Iterator[_Ring]:
    """What stands, with its lands, straight out from the outer ends of some lands, as wide as these."""
    at, length = np.array([joint.at for joint in some]).reshape(-1, 2), np.full(len(some), need)
    outward, width = np.array([joint.outward for joint in some]), np.array([joint.width for joint in some])
    rooms = strips(at, outward, length, width)
    i, j, _ = pairs_within(rooms, [body.shape for body in others], 0.0)
    for a, b in zip(i.tolist(), j.tolist()):
        package, by = some[a].body, others[b]
        inside = rooms[a].intersection(by.shape)
        if package.part is not by.part and not inside.is_empty and not stands_over(by, package):
            way = np.array([np.cos(np.radians(outward[a])), np.sin(np.radians(outward[a]))])
            yield _Ring(package, by, max(float(((shapely.get_coordinates(inside) - at[a]) @ way).min()), 0.0))


def _crowded(some: Sequence[_Ring], where: str, need: float, key: str) -> Finding:
    first = some[0]
    stand = counted(len({one.by.part for one in some}), "part stands", "parts stand")
    return rework_crowded.finding(
        Consequence.NOTE,
        f"{stand} {where} {listed(one.package.part.reference for one in some)}, to be replaced now and then: nearest"
        f" {first.label}, {mm(round(first.gap, 3))} mm; {mm(need)} mm needed",
        items=list(dict.fromkeys(body.part for one in some for body in (one.package, one.by))),
        places=[Place(one.by.part.at, one.by.side, one.label) for one in some[:SHOWN]],
        measured=first.gap,
        limit=need,
        limit_key=key,
        detail="" if key == WALL else "ends",
    )


CHECKS = (joint_out_of_reach, nozzle_hemmed_in, array_without_support, rework_crowded)
