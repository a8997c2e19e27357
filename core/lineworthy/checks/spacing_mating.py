# SPDX-License-Identifier: MIT
"""Room for plugs before the connectors they go into."""

from __future__ import annotations

import numpy as np
import shapely

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.approach import TALL_WHEN_UNKNOWN, standing
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.mating import Mating, mating
from lineworthy.knowledge.panelsigns import panel_signs
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Board, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

ROOM, SETBACK = "spacing.plug_room_mm", "spacing.plug_setback_max_mm"

LOW_RATIO = 0.3
"""A plug passes over what is lower than this share of its connector (common practice, no source)."""

LOW_MM = 1.5
"""The same where the height of the connector is unknown: above all chips (common practice, no source)."""

RIGHT_BEFORE_MM = 2.0
"""No plug leaves so little of itself outside that it goes in all the way past this (common practice, no source)."""

TOUCH_MM2 = 0.05
"""Less than this in the way of a plug is a corner as drawn."""


@check("spacing/plug-way-blocked", limits=(ROOM, SETBACK))
def plug_way_blocked(board: Board, bodies: Bodies, sheet: Sheet) -> Answers:
    """Does something stand before a connector, where its plug comes from along the board?

    Why it matters: a plug that meets a part or the board's edge does not go in far enough, or only by force. Nobody
    sees it in the layout, where plugs are not drawn.
    What to do: move the connector to the edge, so that its face is flush with it or beyond; keep its way free of parts.
    Blind spots: connectors whose names say that plugs come along the board, of which the contacts lie at the back; the
    way is as wide as the body and as long as the sheet says. Parts much lower than the connector are passed over; of
    unknown heights only tall kinds count. It is a query where a part stands within 2 mm of the face, or where a plug
    with a wide grip (USB and the like) comes from within the board and meets a part; all else, and all on panels, whose
    boards are parted first, is a note. How far the face may stay behind the edge is asked only for plugs with a wide
    grip, and only where the board goes on before the face. Covers and walls of a housing are not known.
    Source: common practice, no source; the plug's drawing decides.
    """
    limits = sheet.spacing
    for side in Side:
        here = bodies.on(side)
        tree = shapely.STRtree([standing(body) for body in here])
        for body in here:
            way = mating(body)
            if way is None:
                continue
            setback = _board_before(board, way, limits.plug_room_mm)
            plug = way.room(limits.plug_room_mm)
            before = [here[n] for n in np.sort(tree.query(plug)) if _blocks(here[n], body, plug)]
            if before:
                before.sort(key=lambda other: (round(_gap(way, other), 3), other.order))
                gap = _gap(way, before[0])
                comes_from_within = way.hooded and not falls_short(setback, limits.plug_room_mm)
                is_met = comes_from_within or falls_short(gap, RIGHT_BEFORE_MM)
                stands = "stands" if len(before) == 1 else "stand"
                yield plug_way_blocked.finding(
                    Consequence.QUERY if is_met and next(panel_signs(board), None) is None else Consequence.NOTE,
                    f"{listed(other.part.reference for other in before)} {stands} where the plug of"
                    f" {body.part.reference} comes from, {mm(round(gap, 3))} mm before it; {mm(limits.plug_room_mm)} mm"
                    " are taken for a plug",
                    items=[body.part, *(other.part for other in before)],
                    places=[Place(other.part.at, side, other.part.reference) for other in before],
                    measured=gap,
                    limit=limits.plug_room_mm,
                    limit_key=ROOM,
                    detail="part",
                )
            if way.hooded and exceeds(setback, limits.plug_setback_max_mm):
                yield plug_way_blocked.finding(
                    Consequence.NOTE,
                    f"The board goes on for {mm(round(setback, 2))} mm before the face of {body.part.reference};"
                    f" a plug with a wide grip goes in up to {mm(limits.plug_setback_max_mm)} mm",
                    items=[body.part],
                    places=[Place(body.part.at, side, body.part.reference)],
                    measured=setback,
                    limit=limits.plug_setback_max_mm,
                    limit_key=SETBACK,
                    detail="edge",
                )


def _gap(way: Mating, other: Body) -> float:
    return float(shapely.LineString(way.face).distance(standing(other)))


def _blocks(other: Body, connector: Body, plug: shapely.Polygon) -> bool:
    """Whether a part stands in the way of a plug, tall enough to be met."""
    if other.part is connector.part or other.kind in (Kind.LEADS, Kind.COVER):
        return False
    least = LOW_MM if connector.height is None else LOW_RATIO * connector.height
    high = other.facts.family in TALL_WHEN_UNKNOWN if other.height is None else exceeds(other.height, least)
    return high and standing(other).intersection(plug).area > TOUCH_MM2


def _board_before(board: Board, way: Mating, room: float) -> float:
    """How far the board goes on before the middle of the face, up to the length of a plug, mm."""
    if not board.outline.is_closed:
        return 0.0
    middle = shapely.LineString(way.face).centroid
    end = (middle.x + room * way.way[0], middle.y + room * way.way[1])
    return float(shapely.LineString([(middle.x, middle.y), end]).intersection(board.outline.area).length)


CHECKS = (plug_way_blocked,)
