# SPDX-License-Identifier: MIT
"""The room parts claim for themselves: courtyards that run into each other or are missing, and parts under parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import exceeds, objects, pairs_within, width_and_length
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.closeness import OVERLAP_MIN_MM2, Closeness, stands_over
from lineworthy.knowledge.courtyards import claimed
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

DEPTH_MIN_MM = 0.01
"""Courtyards are drawn on a grid of 0.01 mm (rule F5.3 of the editor's library, from memory)."""

MISSING_MIN_COUNT, MISSING_MIN_SHARE = 5, 0.2
"""A few parts without a courtyard are odd ones; this many, and this share of all, are a habit."""

COVER = "spacing.under_cover_min_mm"

SHOWN = 40
"""Places of one finding on the map."""


@dataclass(frozen=True)
class _Overlap:
    """Two courtyards in one place, `depth` mm deep."""

    first: Body
    second: Body
    depth: float
    at: tuple[float, float]

    @property
    def label(self) -> str:
        return f"{self.first.part.reference} and {self.second.part.reference}"


@check("spacing/courtyards-overlap")
def courtyards_overlap(bodies: Bodies, closeness: Closeness) -> Answers:
    """Do the courtyards of parts run into each other, though the parts keep their distance?

    Why it matters: the courtyard is the room the library's author wants for placing, latching and replacing a part.
    Where two of them overlap, one part is in the room of the other: a plug, a nozzle or a pair of tweezers may not fit.
    What to do: move the parts until the courtyards touch; or, where the courtyard is drawn too generously, correct it
    in the library.
    Blind spots: pairs that `spacing/parts-too-close` tells of are not told again. A part without a drawn courtyard is
    given the one of the land-pattern standard for its package, level nominal; two such parts are not compared. Parts
    under covers, modules on pins and wholly under connectors, holes, marks, jumpers, antennas and parts marked
    do-not-fit are left out.
    Source: from memory: IPC-7351B (courtyards may touch, not overlap); the excess of missing courtyards from its tables
    as kept in an open implementation.
    """
    told = {frozenset((pair.first, pair.second)) for pair in closeness.pairs}
    found = [one for side in Side for one in _overlaps(bodies.on(side))]
    found = [one for one in found if frozenset((one.first, one.second)) not in told]
    if not found:
        return
    found.sort(key=lambda one: (-round(one.depth, 3), one.first.order, one.second.order))
    worst = found[0]
    if len(found) == 1:
        message = f"The courtyards of {worst.label} overlap by {mm(round(worst.depth, 2))} mm"
    else:
        message = f"{len(found)} pairs of courtyards overlap, {worst.label} by {mm(round(worst.depth, 2))} mm"
    undrawn = [body for one in found for body in (one.first, one.second) if body.side not in body.part.courtyard]
    if undrawn:
        message += f"; none is drawn for {listed(body.part.reference for body in undrawn)}, the usual one is taken"
    yield courtyards_overlap.finding(
        Consequence.NOTE,
        message,
        items=list(dict.fromkeys(body.part for one in found for body in (one.first, one.second))),
        places=[Place(one.at, one.first.side, one.label) for one in found[:SHOWN]],
        measured=worst.depth,
        limit=0.0,
    )


def _overlaps(bodies: Sequence[Body]) -> list[_Overlap]:
    """Overlapping courtyards among some bodies of one side, each pair once; at least one of the two is drawn."""
    here = sorted((body for body in bodies if body.kind is not Kind.COVER), key=lambda body: body.order)
    rooms = objects(claimed(body) for body in here)
    i, j, _ = pairs_within(rooms, None, 0.0)
    common = shapely.intersection(rooms[i], rooms[j])
    found = []
    for first, second, shape in zip(i.tolist(), j.tolist(), common):
        one, other = here[first], here[second]
        drawn = one.side in one.part.courtyard or other.side in other.part.courtyard
        if one.part is other.part or not drawn or shape.area <= OVERLAP_MIN_MM2:
            continue
        depth = width_and_length(shape)[0]
        if exceeds(depth, DEPTH_MIN_MM) and not stands_over(one, other) and not stands_over(other, one):
            found.append(_Overlap(one, other, depth, centre(shape)))
    return found


@check("spacing/courtyards-missing")
def courtyards_missing(bodies: Bodies) -> Answers:
    """Do many parts have no courtyard?

    Why it matters: where the library claims no room for a part, the editor's own rule check has nothing to compare, and
    parts end up as near as somebody happened to place them.
    What to do: draw a courtyard into the land patterns, round body and lands, 0.25 mm outside of them, more for arrays,
    cans and connectors.
    Blind spots: fitted parts with lands only. A courtyard that is drawn but not closed counts as missing. A few parts
    without one are not told: at least five and a fifth of all.
    Source: from memory: IPC-7351B and IPC-7352 (nominal 0.25 mm).
    """
    parts = [body for side in Side for body in bodies.on(side) if body.kind not in (Kind.LEADS, Kind.COVER)]
    without = sorted((b for b in parts if b.side not in b.part.courtyard), key=lambda body: body.order)
    if len(without) < max(MISSING_MIN_COUNT, MISSING_MIN_SHARE * len(parts)):
        return
    yield courtyards_missing.finding(
        Consequence.NOTE,
        f"{len(without)} of {len(parts)} parts have no courtyard: {listed(body.part.reference for body in without)}",
        items=[body.part for body in without],
        places=[Place(body.part.at, body.side, body.part.reference) for body in without[:SHOWN]],
        measured=len(without),
        unit="parts",
    )


@check("spacing/part-under-part", limits=(COVER,))
def part_under_part(bodies: Bodies, sheet: Sheet) -> Answers:
    """Do parts lie under others, where nobody sees them, and is there enough height for them?

    Why it matters: what lies under a shield, a display or a module on pins can be inspected only before that is fitted,
    and replaced only after it is taken off again. A part taller than the room there lifts its cover or is crushed.
    What to do: see that the room under the cover, by its drawing, is higher than the tallest part in it; put such parts
    that may have to be touched elsewhere; have them inspected before the cover goes on.
    Blind spots: by the bodies as drawn. For covers the height on record is compared, less the sheet's allowance; the
    room under a module, connector or switch is not on the board, so that it is only told what lies there. Parts that
    collide are told by `spacing/parts-too-close`.
    Source: common practice, no source.
    """
    for side in Side:
        groups: dict[tuple[str, bool], list[tuple[Body, Body]]] = {}
        for over, under in _stacked(bodies, side):
            groups.setdefault((over.part.package, _is_safe(over, under, sheet)), []).append((over, under))
        for (_, safe), pairs in groups.items():
            if not safe:
                yield _judge_stack(pairs, side, sheet)


def _stacked(bodies: Bodies, side: Side) -> list[tuple[Body, Body]]:
    """Who stands over whom on one side."""
    here = bodies.on(side)
    hubs = [body for body in here if body.kind is not Kind.LEADS and not body.facts.body.is_empty]
    over, under, _ = pairs_within([body.facts.body for body in hubs], bodies.shapes(side), 0.0)
    found = []
    for i, j in zip(over.tolist(), under.tolist()):
        one, other = hubs[i], here[j]
        # a cage over its socket is one connector in two pieces
        cage = one.kind is other.kind is Kind.CONNECTOR
        if one.part is other.part or other.kind is Kind.LEADS or cage or not stands_over(one, other):
            continue
        area = one.facts.body.intersection(other.facts.body).area
        if area > OVERLAP_MIN_MM2 and (area > 0.5 * other.facts.body.area or one.kind is not Kind.COVER):
            found.append((one, other))
    return sorted(found, key=lambda pair: (pair[0].order, pair[1].order))


def _is_safe(over: Body, under: Body, sheet: Sheet) -> bool:
    """Whether both heights are on record and the lower one fits under the higher."""
    if over.kind is not Kind.COVER or over.height is None or under.height is None:
        return False
    return not exceeds(under.height, over.height - sheet.spacing.under_cover_min_mm)


def _judge_stack(pairs: Sequence[tuple[Body, Body]], side: Side, sheet: Sheet) -> Finding:
    covers = listed(over.part.reference for over, _ in pairs)
    tallest = max((under for _, under in pairs), key=lambda body: (body.height or 0.0, body.order))
    under = sorted({body for _, body in pairs}, key=lambda body: body.order)
    names = listed(body.part.reference for body in under)
    if len(under) == 1:
        high = "of unknown height" if tallest.height is None else f"{mm(tallest.height)} mm high"
        message = f"{names}, {high}, lies under {covers}"
    else:
        message = f"{names} lie under {covers}"
    unknown = [body.part.reference for body in under if body.height is None]
    cover = min((over.height for over, _ in pairs if over.kind is Kind.COVER and over.height is not None), default=None)
    low = cover is not None and tallest.height is not None and exceeds(tallest.height, cover)
    if len(under) > 1 and tallest.height is not None:
        message += f", the tallest, {tallest.part.reference}, {mm(tallest.height)} mm high"
    if len(under) > 1 and unknown:
        message += f"; the height of {listed(unknown)} is unknown"
    message += f"; the cover is {mm(cover)} mm high" if cover is not None else "; the room under it is not stated"
    return part_under_part.finding(
        # a cover lower than what is under it cannot be soldered down
        Consequence.QUERY if low else Consequence.NOTE,
        message,
        items=list(dict.fromkeys(body.part for pair in pairs for body in pair)),
        places=[
            Place(body.part.at, side, f"{body.part.reference} under {over.part.reference}")
            for over, body in pairs[:SHOWN]
        ],
        measured=tallest.height if cover is not None else None,
        limit=None if cover is None else cover - sheet.spacing.under_cover_min_mm,
        limit_key=COVER if cover is not None else "",
    )


CHECKS = (courtyards_overlap, courtyards_missing, part_under_part)
