# SPDX-License-Identifier: MIT
"""Joints of leads: is there room round them for an iron, or for the nozzle of a selective soldering machine?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import falls_short, pairs_within
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.closeness import LEADS_LIMIT, Close, Closeness
from lineworthy.knowledge.wording import counted, listed, mm, sentence
from lineworthy.limits import SpacingLimits
from lineworthy.model import PadRole, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

IRON = "spacing.through_hole_min_mm"
NOZZLE, NOZZLE_SIDE = "spacing.lead_nozzle_min_mm", "spacing.lead_nozzle_side_min_mm"

SHOWN = 40
"""Places of one finding on the map."""


@dataclass(frozen=True, eq=False)
class _Hemmed:
    """The leads of a part with too little room for a nozzle: the nearest surface part, and how near."""

    leads: Body
    by: Body
    gap: float
    at: tuple[float, float]

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap, 4), self.leads.order)

    @property
    def label(self) -> str:
        return f"leads of {self.leads.part.reference} and {self.by.part.reference}"


@check("spacing/lead-joint-crowded", limits=(IRON, NOZZLE, NOZZLE_SIDE))
def lead_joint_crowded(bodies: Bodies, closeness: Closeness, sheet: Sheet) -> Answers:
    """Do surface parts crowd the leads that are soldered on their side?

    Why it matters: leads are soldered after reflow, by an iron, a selective nozzle or a wave. A surface part beside the
    joint is desoldered, bridged or scorched on the way, or keeps the nozzle off, so that all is soldered by hand.
    What to do: move the surface parts away from the leads or to the other side; or have the leads reflowed in paste, or
    agree on a shielding pallet for the wave.
    Blind spots: from the lands of leads to body and lands of surface parts on the side where leads come out. Leads with
    paste on their lands, press-fit pins and parts marked do-not-fit are left out. Room for a nozzle is asked for all
    leads of a part together, on the four sides of the rectangle round them. Which way a board will be soldered is not
    on the board: with no selective soldering, the nozzle is of no account.
    Source: iron: common practice, no source; nozzle: selective soldering design guide (trade text): 3 mm on three
    sides, 5 mm on the fourth, to the next land that is not soldered.
    """
    for side in Side:
        near = [pair for pair in closeness.pairs if pair.limit == LEADS_LIMIT and pair.first.side is side]
        near = sorted((pair for pair in near if _needs_solder(_leads_of(pair))), key=lambda pair: pair.order)
        told = {_leads_of(pair) for pair in near}
        rest = [body for body in bodies.on(side) if body.kind is Kind.LEADS and body not in told]
        hemmed = _hemmed([body for body in rest if _needs_solder(body)], bodies, side, sheet.spacing)
        if near or hemmed:
            yield _judge(side, near, sorted(hemmed, key=lambda one: one.order), sheet)


def _leads_of(pair: Close) -> Body:
    return pair.first if pair.first.kind is Kind.LEADS else pair.second


def _needs_solder(leads: Body) -> bool:
    """Whether somebody solders these leads after reflow."""
    return not all(pad.paste or pad.role is PadRole.PRESS_FIT for pad in leads.facts.leads)


def _hemmed(some: Sequence[Body], bodies: Bodies, side: Side, limits: SpacingLimits) -> list[_Hemmed]:
    """Which of some parts' leads have no room for a nozzle, against all surface parts of the side."""
    pairs = [pair for pair in zip(bodies.on(side), bodies.shapes(side)) if not pair[0].facts.leads]
    surface = [body for body, _ in pairs]
    need, most = limits.lead_nozzle_min_mm, max(limits.lead_nozzle_min_mm, limits.lead_nozzle_side_min_mm)
    frames = [_frame(body) for body in some]
    i, j, gaps = pairs_within(frames, [shape for _, shape in pairs], most)
    found = []
    for index in np.unique(i).tolist():
        body, mine = some[index], np.flatnonzero(i == index)
        mine = mine[np.argsort(np.round(gaps[mine], 4), kind="stable")]
        nearest = np.full(4, np.inf)
        for n in mine.tolist():
            line = shapely.shortest_line(frames[index], surface[j[n]].shape)
            facing = _facing(body, line)
            nearest[facing] = min(nearest[facing], gaps[n])
        first = mine[0]
        if falls_short(float(gaps[first]), need) or falls_short(float(nearest.max()), limits.lead_nozzle_side_min_mm):
            spot = shapely.shortest_line(frames[index], surface[j[first]].shape).centroid
            found.append(_Hemmed(body, surface[j[first]], float(gaps[first]), (spot.x, spot.y)))
    return found


def _frame(leads: Body) -> shapely.Polygon:
    """The rectangle round all leads of a part, turned as the part is."""
    part = leads.part
    straight = affinity.rotate(leads.shape, -part.rotation, origin=part.at)
    return affinity.rotate(shapely.box(*straight.bounds), part.rotation, origin=part.at)


def _facing(leads: Body, line: shapely.LineString) -> int:
    """The side of the rectangle, 0 to 3, that a way out of it leaves from; a touching part is on the first."""
    (x, y), (far_x, far_y) = line.coords
    angle = np.degrees(np.arctan2(far_y - y, far_x - x)) - leads.part.rotation
    return int((round(float(angle), 3) + 45.0) // 90) % 4


def _judge(side: Side, near: Sequence[Close], hemmed: Sequence[_Hemmed], sheet: Sheet) -> Finding:
    limits = sheet.spacing
    nozzle = f"{mm(limits.lead_nozzle_min_mm)} mm on all sides and {mm(limits.lead_nozzle_side_min_mm)} mm on one"
    where = f"on the {side.value}"
    if near:
        gap, need, key = near[0].gap, limits.through_hole_min_mm, IRON
        message = f"{_label(near[0])} are {mm(round(gap, 3))} mm apart {where}"
        if len(near) > 1:
            message = f"{len(near)} pairs {where}, nearest {_label(near[0])} at {mm(round(gap, 3))} mm"
        message += f"; {mm(need)} mm needed for an iron"
        if hemmed:
            more = counted(len(hemmed), "more part leaves", "more parts leave")
            message += f"; {more} no room for a soldering nozzle ({nozzle} needed)"
    else:
        gap, need, key = hemmed[0].gap, limits.lead_nozzle_min_mm, NOZZLE
        names = listed(one.leads.part.reference for one in hemmed)
        message = f"leads of {names} leave no room for a soldering nozzle {where}: nearest {hemmed[0].label}"
        message += f", {mm(round(gap, 3))} mm; {nozzle} needed"
    places = [Place(_middle(pair), side, _label(pair)) for pair in near]
    places += [Place(one.at, side, one.label) for one in hemmed]
    concerned = [body for pair in near for body in (_leads_of(pair), pair.first, pair.second)]
    concerned += [body for one in hemmed for body in (one.leads, one.by)]
    return lead_joint_crowded.finding(
        Consequence.NOTE,
        sentence(message),
        items=list(dict.fromkeys(body.part for body in concerned)),
        places=places[:SHOWN],
        measured=gap,
        limit=need,
        limit_key=key,
        detail=side.value,
    )


def _label(pair: Close) -> str:
    lead = _leads_of(pair)
    other = pair.second if pair.first is lead else pair.first
    return f"leads of {lead.part.reference} and {other.part.reference}"


def _middle(pair: Close) -> tuple[float, float]:
    spot = shapely.shortest_line(pair.first.shape, pair.second.shape).centroid
    return (spot.x, spot.y)


CHECKS = (lead_joint_crowded,)
