# SPDX-License-Identifier: MIT
"""Parts in bad places: beside cut-outs, on narrow necks of the board, in the way of a plug."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import TOL_MM, falls_short, pairs_within, width_and_length
from lineworthy.knowledge.bodies import SMALL_CHIPS, Bodies, Body, Kind
from lineworthy.knowledge.packages import Family
from lineworthy.knowledge.panelsigns import panel_signs
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Board, PadKind, PadRole, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

CUTOUT = "spacing.cutout_part_min_mm"

NECK_MAX_MM = 20.0
"""A wider bridge beside a cut-out does not bend where the cut-out ends (common practice, no source)."""

NECK_PER_SLOT = 0.5
"""A bridge bends like a hinge when it is no wider than this share of the cut-out beside it (common practice)."""

NECK_SHARE = 1.05
"""A neck reaches as far as the bridge is no wider than this times its narrowest width."""

CUT_SHARE = 0.05
"""Less of a land than this in an opening is a rim as drawn."""

TOUCH_MM2 = 0.05
"""Less of a body than this over an opening is a corner as drawn."""

SHOWN = 40
"""Places of one finding on the map."""


@dataclass(frozen=True, eq=False)
class _Cutout:
    """An opening inside the board: of the outline, or a milled slot of a part."""

    shape: Polygon
    owner: str = ""


@check("spacing/part-at-cutout", limits=(CUTOUT,))
def part_at_cutout(board: Board, bodies: Bodies, sheet: Sheet) -> Answers:
    """Do parts stand right at the edge of a cut-out or slot inside the board?

    Why it matters: cut-outs are milled with a tolerance, leave a rough edge and are often cut or cleaned when the parts
    are on: what stands at the edge is hit by the cutter, or by what goes through the opening later.
    What to do: leave room between body and lands of a part and the edge of the opening.
    Blind spots: cut-outs of the outline and unplated slots of parts; round holes are drilled and do not count. Parts
    whose body reaches over an opening are taken to be mounted in it, or to bridge it on purpose as isolating parts do;
    only quad-flat packages, which do neither, are told, and parts whose flat lands reach into it. That the milling cuts
    their copper is asked by `bare-board/copper-near-edge`; the outer edge by `panel/part-at-break-edge`.
    Source: common practice, no source.
    """
    need = sheet.spacing.cutout_part_min_mm
    openings = list(_openings(board))
    found, cut, over = [], [], []
    for side in Side:
        here, shapes = bodies.on(side), bodies.shapes(side)
        layer = board.copper_on(side)
        i, j, gap = pairs_within([opening.shape for opening in openings], shapes, need)
        for a, b, distance in zip(i.tolist(), j.tolist(), gap.tolist()):
            body, opening = here[b], openings[a]
            if body.kind is Kind.COVER or opening.owner == body.part.uid:
                continue
            if distance > 0.0:
                found += [(distance, body, opening.shape)] if falls_short(distance, need) else []
            elif _lands_in(body.part, layer, opening.shape):
                cut.append((body, opening.shape))
            elif body.facts.family is Family.QUAD_FLAT and body.facts.body.intersection(opening.shape).area > TOUCH_MM2:
                over.append((body, opening.shape))
    yield from _reaching("lands reach into a cut-out", cut)
    yield from _reaching("a cut-out lies under the body, between leads on four sides", over)
    if not found:
        return
    found.sort(key=lambda one: (round(one[0], 4), one[1].order))
    gap_mm, first, _ = found[0]
    names = listed(body.part.reference for _, body, _ in found)
    nearest = f"{names} stands at a cut-out"
    if len(found) > 1:
        nearest = f"{names} stand at cut-outs, nearest {first.part.reference}"
    yield part_at_cutout.finding(
        Consequence.NOTE,
        f"{nearest}, {mm(round(gap_mm, 3))} mm from the edge; {mm(need)} mm needed",
        items=list(dict.fromkeys(body.part for _, body, _ in found)),
        places=[
            Place(_between(body.shape, opening), body.side, body.part.reference) for _, body, opening in found[:SHOWN]
        ],
        measured=gap_mm,
        limit=need,
        limit_key=CUTOUT,
    )


def _reaching(what: str, some: Sequence[tuple[Body, Polygon]]) -> Iterator[Finding]:
    """What is said of parts that reach into openings."""
    some = sorted(some, key=lambda one: one[0].order)
    parts = list(dict.fromkeys(body.part for body, _ in some))
    if parts:
        yield part_at_cutout.finding(
            Consequence.NOTE,
            f"{listed(part.reference for part in parts)}: {what}",
            items=parts,
            places=[Place(centre(opening), body.side, body.part.reference) for body, opening in some[:SHOWN]],
            detail=what,
        )


def _lands_in(part: Part, layer: str, opening: Polygon) -> bool:
    """Whether flat lands of a part reach into an opening by more than their rim."""
    lands = [pad.copper[layer] for pad in part.pads if pad.kind is PadKind.SURFACE and layer in pad.copper]
    castellated = any(pad.role is PadRole.CASTELLATED for pad in part.pads)
    return not castellated and any(land.intersection(opening).area > CUT_SHARE * land.area for land in lands)


def _openings(board: Board) -> Iterator[_Cutout]:
    for piece in shapely.get_parts(board.outline.area):
        yield from (_Cutout(Polygon(ring)) for ring in piece.interiors)
    for part, hole in board.holes:
        if part is not None and hole.is_slot and not hole.plated:
            yield _Cutout(hole.shape, part.uid)


def _between(one: BaseGeometry, other: BaseGeometry) -> tuple[float, float]:
    """Halfway."""
    spot = shapely.shortest_line(one, other).centroid
    return (spot.x, spot.y)


@check("spacing/ceramic-on-neck")
def ceramic_on_neck(board: Board, bodies: Bodies) -> Answers:
    """Do ceramic capacitors stand across a narrow neck beside a cut-out or slot, where the board bends first?

    Why it matters: a slot weakens the board, and whatever bends it (plugging, pressing buttons, mounting, dropping)
    bends it most across the bridge that is left at the end of the slot. Ceramic capacitors crack there.
    What to do: move the capacitor off the neck, or turn it by a right angle; use types with soft terminations; make
    the neck wider.
    Blind spots: a neck is where board is left between a cut-out and the outer edge or the next cut-out, or beyond the
    end of a slot that begins at the edge and is deeper than wide, up to 20 mm wide and half the length of cut-out or
    slot. Capacitors up to 0402 and those that lie across the neck, from the cut-out to the edge, are left out, as are
    panels, whose necks are tabs. Slots are looked for from the straight edges of the board, not inside of a recess of
    it. What bends the board is not known: lines along which it flexes without a cut-out, between a connector that is
    plugged and the screw next to it, or between a pressed-in part and its rest, are for you to see.
    Source: makers of capacitors say that a part across the line of bending is strained most (frequently asked questions
    of TDK on flex cracks); what counts as a neck is common practice, no source.
    """
    if next(panel_signs(board), None):
        return
    necks = list(_necks(board))
    found: list[tuple[float, Body]] = []
    for side in Side:
        some = [body for body in bodies.on(side) if _bends(body)]
        i, j, _ = pairs_within([neck.area for neck in necks], [body.facts.body for body in some], 0.0)
        for a, b in zip(i.tolist(), j.tolist()):
            if not _along(some[b].part, necks[a].line):
                found.append((float(necks[a].line.length), some[b]))
    if not found:
        return
    found.sort(key=lambda one: (round(one[0], 3), one[1].order))
    width, first = found[0]
    names = listed(body.part.reference for _, body in found)
    stand = "stands" if len({body.part for _, body in found}) == 1 else "stand"
    yield ceramic_on_neck.finding(
        Consequence.NOTE,
        f"{names} {stand} on a neck of the board, the way it bends: beside {first.part.reference},"
        f" {mm(round(width, 2))} mm of board are left between a cut-out or slot and the next edge",
        items=list(dict.fromkeys(body.part for _, body in found)),
        places=[Place(body.part.at, body.side, body.part.reference) for _, body in found[:SHOWN]],
        measured=width,
    )


@dataclass(frozen=True, eq=False)
class _Neck:
    """A narrow bridge of board: where it is, and the way across it, from opening to edge."""

    area: BaseGeometry
    line: shapely.LineString


def _bends(body: Body) -> bool:
    facts = body.facts
    return facts.ceramic_capacitor and facts.chip_size not in SMALL_CHIPS and body.kind is not Kind.LEADS


def _necks(board: Board) -> Iterator[_Neck]:
    """Narrow bridges from cut-outs to the outer edge and to each other, and beyond the ends of slots."""
    for piece in shapely.get_parts(board.outline.area) if not board.outline.area.is_empty else ():
        yield from _beyond_slots(piece)
        rings = [piece.exterior, *piece.interiors]
        # the outer edge is as long as it is because the board is: only openings make a neck
        long = [0.0, *(width_and_length(Polygon(ring))[1] for ring in piece.interiors)]
        for n, ring in enumerate(rings):
            for m, other in enumerate(rings[:n]):
                line = shapely.shortest_line(ring, other)
                reach = max(long[n], long[m])
                wide = line.length
                if 0.0 < wide <= min(NECK_MAX_MM, NECK_PER_SLOT * reach):
                    near = ring.buffer(wide * NECK_SHARE).intersection(other.buffer(wide * NECK_SHARE))
                    yield _Neck(near.intersection(piece), line)


def _beyond_slots(piece: Polygon) -> Iterator[_Neck]:
    """Narrow bridges from the ends of slots that begin at the edge to what lies straight ahead, within 45 degrees."""
    hull = piece.convex_hull
    pockets = hull.difference(Polygon(piece.exterior)).buffer(-TOL_MM, join_style="mitre")
    for pocket in shapely.get_parts(pockets):
        slot = pocket.buffer(TOL_MM, join_style="mitre")  # without the hairs that a turned edge leaves
        mouth = slot.boundary.intersection(hull.boundary.buffer(TOL_MM))
        if mouth.is_empty:
            continue
        corners = shapely.get_coordinates(slot)
        depths = shapely.distance(mouth, shapely.points(corners))
        depth = float(depths.max())
        if falls_short(depth, mouth.length - 4 * TOL_MM):  # a hair of each wall counts as mouth
            continue
        end = corners[depths > depth - TOL_MM].mean(axis=0)
        ahead = (end - shapely.get_coordinates(mouth.centroid)[0]) / depth
        aside = np.array([-ahead[1], ahead[0]])
        reach = NECK_MAX_MM + TOL_MM
        wedge = Polygon([end, end + reach * (ahead + aside), end + reach * (ahead - aside)])
        edges = piece.boundary.difference(slot.buffer(2 * TOL_MM)).intersection(wedge)
        line = shapely.shortest_line(slot, edges)
        if not edges.is_empty and line.length <= min(NECK_MAX_MM, NECK_PER_SLOT * depth) + TOL_MM:
            reach = line.length * NECK_SHARE
            yield _Neck(slot.buffer(reach).intersection(edges.buffer(reach)).intersection(piece), line)


def _along(part: Part, line: shapely.LineString) -> bool:
    """Whether a two-ended part lies along a line, within 45 degrees."""
    lands = [pad.at for pad in part.pads if pad.kind is PadKind.SURFACE]
    if len(lands) < 2:
        return False
    own = np.subtract(lands[-1], lands[0])
    way = np.subtract(line.coords[-1], line.coords[0])
    off = abs(float(own @ way)) / float(np.hypot(*own) * np.hypot(*way) or 1.0)
    return off > float(np.cos(np.pi / 4)) + 1e-6


CHECKS = (part_at_cutout, ceramic_on_neck)
