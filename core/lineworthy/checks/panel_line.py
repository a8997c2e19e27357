# SPDX-License-Identifier: MIT
"""What rides on the line, a board or the panel drawn here: its size, its edges, how it hangs through."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Place, centre
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.breaks import STRAIGHT_SHARE, BoardSide
from lineworthy.knowledge.depanel import MODULUS_HOT_GPA
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelfit import sag
from lineworthy.knowledge.separation import Separation
from lineworthy.knowledge.wording import listed, mm, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SINGLE, WANTED = "panel.single_min_mm", "panel.panel_wanted_below_mm"
LENGTH, WIDTH, RATIO = "panel.line_length_max_mm", "panel.line_width_max_mm", "panel.length_max_ratio"
EDGE, GRIP = "panel.conveyor_edge_min_mm", "panel.conveyor_grip_mm"
SAG, HOT_SAG = "panel.sag_max_mm", "panel.sag_hot_max_percent"

_TIPPING_MM = 0.2
"""A middle this little beyond the lands is within what bodies are drawn to (common practice, no source)."""


@check("panel/too-large-for-line", limits=(LENGTH, WIDTH))
def too_large_for_line(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Is the board, or the panel drawn here, larger than the line takes?

    Why it matters: printers, placers and ovens have a largest board. What does not go through one of them is built on
    another line, by hand, or by another factory.
    What to do: ask the factory for its largest board; make the array smaller, or split the board.
    Blind spots: each machine of a line has its own limit; the sheet names one for all. A panel that is not drawn here
    is not seen.
    Source: common practice; the size comes from the capability sheet.
    """
    if separation.size is None:
        return
    shorter, longer = separation.size
    length, width = sheet.panel.line_length_max_mm, sheet.panel.line_width_max_mm
    length, width = max(length, width), min(length, width)
    too_long, too_wide = exceeds(longer, length), exceeds(shorter, width)
    if too_long or too_wide:
        yield too_large_for_line.finding(
            Consequence.QUERY,
            f"The board is {mm(longer)} x {mm(shorter)} mm; the line takes {mm(length)} x {mm(width)} mm",
            places=[Place(centre(board.outline.area), None, "board")],
            measured=longer if too_long else shorter,
            limit=length if too_long else width,
            limit_key=LENGTH if too_long else WIDTH,
        )


@check("panel/too-long-for-width", limits=(RATIO, SINGLE, WANTED))
def too_long_for_width(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Is what rides on the line long and narrow, so that it bends, twists and jams?

    Why it matters: a long narrow panel sags between its ends where it is handled and warps in the oven, and turns on
    the belts until it jams.
    What to do: more rows in the array, rails along the long sides, or a carrier.
    Blind spots: asked of boards that are run singly and of panels drawn here; not of small boards, whose panel is not
    known.
    Source: common practice, no source.
    """
    if separation.size is None or not separation.runs_by_itself(sheet):
        return
    shorter, longer = separation.size
    need = sheet.panel.length_max_ratio
    if exceeds(longer, need * shorter):
        yield too_long_for_width.finding(
            Consequence.NOTE,
            f"What rides on the line is {mm(longer)} x {mm(shorter)} mm, {longer / shorter:.1f} times as long as wide; "
            f"{need:g} is usual at the most",
            places=[Place(centre(board.outline.area), None, "board")],
            measured=longer / shorter,
            limit=need,
            limit_key=RATIO,
        )


@check("panel/sags", limits=(SAG, HOT_SAG, SINGLE, WANTED))
def sags(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Does the board hang through between the two edges it rides on, cold or in the oven?

    Why it matters: paste is printed and parts are placed on a plane. A board that hangs through is printed unevenly,
    and one that sinks in the oven keeps the bow when it cools.
    What to do: a thicker board, support pins and a centre support in the oven, a carrier; in a panel, rails on the long
    sides and the long way along the belts.
    Blind spots: computed for a bare plate of woven glass and epoxy that rests freely on its two long edges, under its
    own weight: parts add weight, copper adds stiffness, clamps hold. Slots and scores, which weaken a panel, do not
    count. Asked of boards that are run singly and of panels drawn here.
    Source: beam theory, from memory; density and stiffness at room temperature from a property table, the stiffness
    above the glass transition and both limits are common practice.
    """
    if separation.size is None or not separation.runs_by_itself(sheet):
        return
    shorter, thickness = separation.size[0], board.stackup.thickness
    if thickness <= 0.0:
        return
    cold, hot = sag(thickness, shorter), sag(thickness, shorter, MODULUS_HOT_GPA)
    most, share = sheet.panel.sag_max_mm, sheet.panel.sag_hot_max_percent
    is_cold = exceeds(cold, most)
    if is_cold or exceeds(100 * hot / shorter, share):
        hangs = f"{cold:.1f} mm; {most:.1f} mm is" if is_cold else f"{hot:.1f} mm in the oven; {share:g} % of that is"
        yield sags.finding(
            Consequence.NOTE,
            f"{mm(thickness)} mm thick and held {mm(shorter)} mm apart, the bare board hangs through by {hangs} usual "
            "at the most",
            places=[Place(centre(board.outline.area), None, "middle of the board")],
            measured=cold if is_cold else 100 * hot / shorter,
            limit=most if is_cold else share,
            unit="mm" if is_cold else "%",
            limit_key=SAG if is_cold else HOT_SAG,
        )


@check("panel/no-edge-to-hold", limits=(GRIP, EDGE, SINGLE, WANTED))
def no_edge_to_hold(board: Board, sheet: Sheet, packages: Packages, separation: Separation) -> Answers:
    """Does the line find two opposite edges to hold what rides on it, straight and free of parts?

    Why it matters: printer, placer and oven carry a board by two opposite edges, and clamp them. A part there is hit
    by the clamp or rides on the belt; a curved or stepped edge jams.
    What to do: move parts inwards from one pair of edges, or agree on rails that are broken off later, or on a carrier.
    Blind spots: asked of boards that are run singly and of panels drawn here, and only about parts that a machine
    places: what is put in later does not ride. Measured from bodies and lands, on both faces alike. Rails that the
    factory adds by itself are not known.
    Source: conveyors take hold of 3 mm at the most (SMEMA 1.2, summarised in a trade blog); 5 mm is common practice.
    """
    if not separation.sides or not separation.runs_by_itself(sheet):
        return
    area = board.outline.area
    # what is parked beside the board does not ride on it
    placed = [part for part in board.parts if packages.of(part).machine_placed and part.extent.intersects(area)]
    if not placed:
        return
    pairs = [pair for pair in (separation.sides[0::2], separation.sides[1::2]) if _is_straight(pair)]
    if not pairs:
        yield no_edge_to_hold.finding(
            Consequence.NOTE,
            "No two opposite sides of what rides on the line are straight for half of their length",
            places=[Place(centre(board.outline.area), None, "board")],
            detail="shape",
        )
        return
    need, grip = sheet.panel.conveyor_edge_min_mm, sheet.panel.conveyor_grip_mm
    shapes = [
        shapely.GeometryCollection(
            [packages.of(part).body, *(land for pad in part.pads for land in pad.copper.values())]
        )
        for part in placed
    ]
    ways = [_narrowest(pair, placed, shapes) for pair in pairs]
    # the better way; where both are alike, not the one that the board's place decides
    room, side, first = min(ways, key=lambda one: (-round(one[0], 4), natural(one[2].reference), one[2].uid))
    if falls_short(room, need):
        others = " whichever way it rides" if len(pairs) > 1 else ""
        held = f"; {mm(grip)} mm are held" if falls_short(room, grip) else ""
        where = f"{-room:.2f} mm over" if room < 0.0 else f"{mm(room)} mm from"
        yield no_edge_to_hold.finding(
            Consequence.QUERY if falls_short(room, grip) else Consequence.NOTE,
            f"{first.reference or 'A part'} is {where} an edge that carries the board{others}{held}; "
            f"{mm(need)} mm free of parts needed without rails",
            items=[first],
            places=[Place(first.at, first.side, f"{first.reference}, {side.name} side")],
            measured=room,
            limit=need,
            limit_key=EDGE,
        )


@check("panel/overhang-tips")
def overhang_tips(board: Board, packages: Packages, separation: Separation) -> Answers:
    """Does a part that reaches over the edge have its weight beyond what it stands on, so that it tips?

    Why it matters: paste holds a part hardly better than a wet sheet of paper does. One whose weight lies beyond its
    lands tips over the edge before it is soldered, and hangs askew or falls off on the belt.
    What to do: lands farther out, leads or pegs that hold it, a rail or waste strip under it until it is soldered, a
    spot of glue, or fitting it by hand.
    Blind spots: the weight is taken to be in the middle of the body as drawn. Asked of parts that a machine places and
    that no lead holds; pegs without solder do not keep a part from tipping and are not counted.
    Source: statics; common practice, no source, for what paste holds.
    """
    tips: dict[Part, float] = {}
    for one in separation.overhangs:
        facts = packages.of(one.part)
        if not facts.machine_placed or facts.leads:
            continue
        lands = [land for pad in one.part.pads for land in pad.copper.values()]
        off = shapely.GeometryCollection(lands).convex_hull.distance(facts.body.centroid)
        if exceeds(off, _TIPPING_MM):
            tips[one.part] = float(off)
    if tips:
        parts = sorted(tips, key=lambda part: (-round(tips[part], 4), natural(part.reference), part.uid))
        others = f", and {listed(part.reference or 'a part' for part in parts[1:])} less far" if len(parts) > 1 else ""
        yield overhang_tips.finding(
            Consequence.NOTE,
            f"{parts[0].reference or 'A part'} reaches over the edge, its middle {mm(tips[parts[0]])} mm beyond its "
            f"lands{others}",
            items=parts,
            places=[Place(centre(packages.of(part).body), part.side, part.reference) for part in parts],
            measured=tips[parts[0]],
            detail="tips",
        )


CHECKS: tuple[Check, ...] = (too_large_for_line, too_long_for_width, sags, no_edge_to_hold, overhang_tips)


def _is_straight(pair: Sequence[BoardSide]) -> bool:
    return not any(falls_short(side.share, STRAIGHT_SHARE) for side in pair)


def _narrowest(
    pair: Sequence[BoardSide], placed: Sequence[Part], shapes: Sequence[BaseGeometry]
) -> tuple[float, BoardSide, Part]:
    """The part nearest to one of two sides: how far from it, mm (negative when it reaches over)."""
    found = []
    for side in pair:
        rooms = np.round(-side.beyond(shapes), 4)
        nearest = min(range(len(placed)), key=lambda n: (rooms[n], natural(placed[n].reference), placed[n].uid))
        found.append((float(rooms[nearest]), side, placed[nearest]))
    return min(found, key=lambda one: (one[0], natural(one[2].reference), one[2].uid))
