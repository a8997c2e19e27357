# SPDX-License-Identifier: MIT
"""A panel that is drawn here: its tabs, what runs through them, how they hold its boards, its rails."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from lineworthy.finding import Consequence, Place, centre
from lineworthy.geometry import TOL_MM, exceeds, falls_short
from lineworthy.knowledge.atlines import copper_near
from lineworthy.knowledge.drawnpanel import DrawnPanel, Rail
from lineworthy.knowledge.holes import FixingHole, fixing_holes
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import slot_edges
from lineworthy.knowledge.separation import BreakLine, Method, Separation
from lineworthy.knowledge.wording import counted, mm
from lineworthy.model import Board, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

BRIDGE, TRACK = "panel.tab_bridge_min_mm", "panel.tab_track_min_mm"
WIDE, APART, CORNER = "panel.tab_max_mm", "panel.tab_apart_max_mm", "panel.tab_corner_max_mm"
EDGE, GRIP = "panel.conveyor_edge_min_mm", "panel.conveyor_grip_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

PERFORATED_MM = 15.0
"""A longer row of holes is a perforated line all along a board, and no tab."""

TOOLING_MM = (1.9, 6.0)
"""Diameters a panel's tooling hole can have (common practice, no source)."""


@check("panel/tab-holes-too-close", limits=(BRIDGE,))
def tab_holes_too_close(sheet: Sheet, separation: Separation) -> Answers:
    """Are the holes of a tab so close together that little board is left between them?

    Why it matters: a drill that runs into the hole beside it breaks or wanders, and a tab that hangs by threads breaks
    in the conveyor instead of when it is meant to.
    What to do: smaller holes, or a wider pitch: tests recommend 0.38 mm holes every 0.635 mm, shops use 0.5 mm holes
    every 0.75 to 0.80 mm.
    Blind spots: rows of three and more bare holes in a line; the pitch is the average over a row.
    Source: common practice, no source, for the limit; a summary on hackaday.com (April 2022) of tests of break-away
    tabs gives a bridge of the same width.
    """
    need = sheet.panel.tab_bridge_min_mm
    thin = [row for row in separation.tabs if falls_short(row.bridge, need)]
    if thin:
        worst = min(thin, key=lambda row: (round(row.bridge, 4), row.holes))
        yield tab_holes_too_close.finding(
            Consequence.NOTE,
            f"{counted(len(thin), 'row')} of break-away holes: {mm(worst.drill)} mm holes every {mm(worst.pitch)} mm "
            f"leave {mm(max(worst.bridge, 0.0))} mm of board between them; {mm(need)} mm needed",
            places=[Place(centre(row.line), None, f"{mm(row.bridge)} mm") for row in thin[:SHOWN]],
            measured=worst.bridge,
            limit=need,
            limit_key=BRIDGE,
        )


@check("panel/tab-too-wide", limits=(WIDE,))
def tab_too_wide(sheet: Sheet, separation: Separation) -> Answers:
    """Is a tab wider than what breaks off well?

    Why it matters: every hole more leaves another bridge standing. A wide tab takes force, bends the board before it
    gives way, and tears out a long rough edge that has to be filed: mind the dust.
    What to do: five holes or so; more tabs instead of wider ones.
    Blind spots: the width is taken between the centres of a row's first and last hole, which belong into the corners of
    the tab. It goes in steps of the pitch: a tab is told when one hole less would still be too wide. Rows longer than
    15 mm are perforated lines, and no tabs. Tabs without holes are not seen.
    Source: 3 mm by tests of break-away tabs, summarised on hackaday.com (April 2022).
    """
    most = sheet.panel.tab_max_mm
    wide = [row for row in separation.tabs if row.line.length <= PERFORATED_MM]
    wide = [row for row in wide if exceeds(row.line.length - row.pitch, most)]
    if wide:
        worst = max(wide, key=lambda row: (round(row.line.length, 4), len(row.holes)))
        yield tab_too_wide.finding(
            Consequence.NOTE,
            f"{counted(len(wide), 'tab end')} of up to {len(worst.holes)} break-away holes, {mm(worst.line.length)} mm"
            f" wide; {mm(most)} mm break off well",
            places=[Place(centre(row.line), None, f"{mm(row.line.length)} mm") for row in wide[:SHOWN]],
            measured=float(worst.line.length),
            limit=most,
            limit_key=WIDE,
        )


@check("panel/tab-not-cut-through")
def tab_not_cut_through(board: Board, separation: Separation) -> Answers:
    """Does a row of break-away holes end before it reaches the slots beside its tab?

    Why it matters: the tab breaks where it is weakest, and at its corners it is not: the break runs off into the board
    there, or leaves a spur that stands out of the edge.
    What to do: as many holes as reach from slot to slot, the outer ones in the corners of the tab.
    Blind spots: from the rims of the outer holes to the nearest slot or edge; told from where another hole would fit,
    the row's own pitch.
    Source: tests of break-away tabs, summarised on hackaday.com (April 2022): holes belong into the corners of the tab.
    """
    if not separation.tabs:
        return
    ends = np.array([[row.holes[0], row.holes[-1]] for row in separation.tabs])
    gaps = shapely.distance(shapely.points(ends), slot_edges(board)).max(axis=1)
    left = [(float(gap) - row.drill / 2, row) for gap, row in zip(gaps, separation.tabs)]
    left = [(gap, row) for gap, row in left if exceeds(gap, row.pitch)]
    if left:
        most, worst = max(left, key=lambda one: (round(one[0], 4), one[1].holes))
        yield tab_not_cut_through.finding(
            Consequence.NOTE,
            f"{counted(len(left), 'row')} of break-away holes {'ends' if len(left) == 1 else 'end'} up to {mm(most)} mm"
            f" before the slot; with holes every {mm(worst.pitch)} mm another one fits in",
            places=[Place(centre(row.line), None, f"{mm(gap)} mm left") for gap, row in left[:SHOWN]],
            measured=most,
            limit=worst.pitch,
        )


@check("panel/track-at-tab", limits=(TRACK,))
def track_at_tab(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Does a track or a via lie where a tab is broken off?

    Why it matters: a tab tears some of the board away with it, and bends what is left. A track there is cut, or cracks.
    What to do: move tracks away from the tab, or the tab along the edge.
    Blind spots: asked of tabs with rows of break-away holes that are drawn here. Measured from the rims of the holes to
    tracks and vias on all layers; pours and lands are not measured.
    Source: common practice, no source.
    """
    need = sheet.panel.tab_track_min_mm
    rows = [BreakLine(row.line.buffer(row.drill / 2), Method.ROUTED, drawn=True) for row in separation.tabs]
    near = [one for one in copper_near(board, rows, need) if one.piece.kind in ("track", "via")] if rows else []
    if near:
        worst = near[0]
        items = list({id(one.piece.item): one.piece.item for one in near}.values())
        many = f", {len(items)} tracks and vias in all" if len(items) > 1 else ""
        yield track_at_tab.finding(
            Consequence.QUERY,
            f"{worst.label} is {mm(worst.gap)} mm from the break-away holes of a tab{many}; {mm(need)} mm needed",
            items=items,
            places=[Place(one.at, one.side(board), f"{one.label}, {mm(one.gap)} mm") for one in near[:SHOWN]],
            measured=worst.gap,
            limit=need,
            limit_key=TRACK,
        )


@check("panel/board-hangs-by-one-tab")
def board_hangs_by_one_tab(separation: Separation, drawn_panel: DrawnPanel) -> Answers:
    """Does a board of the panel hang by a single tab?

    Why it matters: it swings about the tab while paste is printed and parts are placed, and breaks off in the oven or
    the washer.
    What to do: two tabs on each long side, near the corners.
    Blind spots: asked where every board hangs by tabs with break-away holes and none is scored; tabs without holes are
    not seen.
    Source: common practice, no source.
    """
    if separation.scores:
        return
    loose = [piece for piece in drawn_panel.boards if len(drawn_panel.holding(piece)) == 1]
    if loose:
        yield board_hangs_by_one_tab.finding(
            Consequence.QUERY,
            f"{len(loose)} of {counted(len(drawn_panel.boards), 'board')} in the panel hang by a single tab",
            places=[Place(centre(piece.area), None, "board") for piece in loose[:SHOWN]],
            measured=1.0,
            unit="",
        )


@check("panel/tabs-too-far-apart", limits=(APART, CORNER))
def tabs_too_far_apart(sheet: Sheet, separation: Separation, drawn_panel: DrawnPanel) -> Answers:
    """Is a long stretch of a board's side left without a tab?

    Why it matters: between its tabs, and beyond the last one, the edge of a thin board swings while paste is printed
    and parts are placed, and hangs through in the oven.
    What to do: a tab every 50 to 75 mm, the first and the last 15 to 25 mm from the corners.
    Blind spots: asked of sides that hang by tabs with break-away holes, of rectangular boards in panels that are not
    scored. A side with no tab at all is left out: two opposite sides may hold a board. Corners are asked for only where
    one tab in the middle could not be near both.
    Source: common practice, no source.
    """
    if separation.scores:
        return
    apart, corner = sheet.panel.tab_apart_max_mm, sheet.panel.tab_corner_max_mm
    sides = [side for piece in drawn_panel.boards for side in drawn_panel.held_sides(piece)]
    between, before = [], []
    for side in sides:
        between += [(far - near, side.at((near + far) / 2)) for near, far in zip(side.tabs, side.tabs[1:])]
        if exceeds(side.length, 2 * corner):
            first, last = side.tabs[0], side.tabs[-1]
            before += [(first, side.at(first / 2)), (side.length - last, side.at((last + side.length) / 2))]
    for stretches, limit, key, what in (
        (between, apart, APART, "between two tabs of one side"),
        (before, corner, CORNER, "between a board's corner and the nearest tab"),
    ):
        long = [(gap, at) for gap, at in stretches if exceeds(gap, limit)]
        if long:
            most = max(gap for gap, _ in long)
            yield tabs_too_far_apart.finding(
                Consequence.NOTE,
                f"Up to {mm(most)} mm {what}, {counted(len(long), 'place')}; {mm(limit)} mm at most wanted",
                places=[Place(at, None, f"{mm(gap)} mm") for gap, at in long[:SHOWN]],
                measured=most,
                limit=limit,
                limit_key=key,
                detail=key,
            )


@check("panel/rail-too-narrow", limits=(EDGE, GRIP))
def rail_too_narrow(sheet: Sheet, drawn_panel: DrawnPanel) -> Answers:
    """Is a rail of the panel narrower than what a conveyor takes hold of?

    Why it matters: the rail is there to be held. Where it ends, the clamp meets parts.
    What to do: widen the rails: 5 mm to be held, 7 to 10 mm with marks and tooling holes.
    Blind spots: a rail is a strip without parts along one side of the panel, up to the first slot or score that runs
    beside it. All four sides count, also those that no conveyor holds.
    Source: conveyors take hold of 3 mm at the most (SMEMA 1.2, summarised in a trade blog); 5 mm is common practice.
    """
    need, grip = sheet.panel.conveyor_edge_min_mm, sheet.panel.conveyor_grip_mm
    thin = [rail for rail in drawn_panel.rails if falls_short(rail.width, need)]
    if thin:
        least = min(rail.width for rail in thin)
        yield rail_too_narrow.finding(
            Consequence.QUERY if falls_short(least, grip) else Consequence.NOTE,
            f"{counted(len(thin), 'rail')} of the panel, {mm(least)} mm wide; {mm(need)} mm needed",
            places=[Place(centre(rail.area), None, f"rail, {mm(rail.width)} mm") for rail in thin],
            measured=least,
            limit=need,
            limit_key=EDGE,
        )


@check("panel/rails-without-holes-or-marks")
def rails_bare(board: Board, packages: Packages, marks: Marks, drawn_panel: DrawnPanel) -> Answers:
    """Do the panel's rails carry neither tooling holes nor marks?

    Why it matters: printer and placer align on marks of the panel, testers and parting machines put it on pins. Marks
    and holes inside the boards serve, too, but take room there and are searched board by board.
    What to do: three marks on the rails of each side with parts, two or three tooling holes of about 3 mm in corners.
    Blind spots: asked where rails are drawn. Marks and holes inside the boards are not counted; a factory may add its
    own.
    Source: common practice, no source.
    """
    rails = drawn_panel.rails
    if not rails:
        return
    lacking = list(_lacking(board, packages, marks, rails))
    if lacking:
        yield rails_bare.finding(
            Consequence.NOTE,
            f"The panel's rails carry no {' and no '.join(lacking)}",
            places=[Place(centre(rail.area), None, "rail") for rail in rails],
            detail=" ".join(lacking),
        )


CHECKS: tuple[Check, ...] = (
    tab_holes_too_close,
    tab_too_wide,
    tab_not_cut_through,
    track_at_tab,
    board_hangs_by_one_tab,
    tabs_too_far_apart,
    rail_too_narrow,
    rails_bare,
)


def _lacking(board: Board, packages: Packages, marks: Marks, rails: tuple[Rail, ...]) -> Iterator[str]:
    """What no rail carries, in words."""
    strips = shapely.union_all([rail.area for rail in rails])

    def on_rail(at: Point) -> bool:
        return bool(strips.buffer(TOL_MM).contains(shapely.Point(at)))

    if not any(on_rail(one.at) for one in fixing_holes(board) if _is_tooling(one)):
        yield "tooling holes"
    for side in Side:
        placed = any(part.side is side and packages.of(part).machine_placed for part in board.parts)
        if placed and not any(on_rail(mark.at) for mark in marks.fiducials_on(side)):
            yield f"marks on the {side.value}"


def _is_tooling(one: FixingHole) -> bool:
    return TOOLING_MM[0] <= one.diameter <= TOOLING_MM[1]
