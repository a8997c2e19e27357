# SPDX-License-Identifier: MIT
"""A panel plan in words and figures, shared by its drawings, its data and its summary."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Optional

from lineworthy.knowledge.depanel import web_for_size
from lineworthy.knowledge.titleblock import title_block
from lineworthy.knowledge.wording import counted, mm
from lineworthy.plans.panel_plan import METHODS, Against, Array, Fit, Method, PanelPlan, Rails, Spot
from lineworthy.plans.panel_tabs import holes_in_row
from lineworthy.report.cautions import DUST, HAND
from lineworthy.sheet import Sheet

FRAME = (
    "x along the array, the way it goes through the line, y up, in mm, from the array's lower left corner, seen from "
    "the top of the board; each place says where the origin of drill and placement files comes to lie, and by how many "
    "degrees the board is turned about it, counter-clockwise"
)

PROPOSAL = (
    "A proposal to agree on with your manufacturer: their own rules for panels come first. Estimates are for "
    "plain FR-4, without slots and parts."
)

CAUTIONS = tuple((caution.topic, caution.text) for caution in (DUST, HAND))


def title(plan: PanelPlan) -> str:
    """Board and revision."""
    stated = title_block(plan.board).revision
    revision = f" rev {stated}" if stated else ""
    return f"{plan.board.name}{revision}"


def verdict(plan: PanelPlan) -> str:
    """One line: whether there is an array, or what comes nearest to being in the way."""
    if plan.arrays:
        first = plan.arrays[0].sizing
        boards = counted(first.boards, "board")
        return f"First choice: {boards} in an array of {mm(first.length)} x {mm(first.width)} mm, {first.way.words}."
    reason = in_the_way(plan)
    return f"No array is possible within this sheet: {reason.text}." if reason else "No array is possible."


def in_the_way(plan: PanelPlan) -> Optional[Against]:
    """What comes nearest to being in the way of all arrays; None where there are arrays."""
    return None if plan.arrays else next(iter(plan.against), None)


def facts(array: Array, sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Everything a manufacturer needs to know of an array, by label."""
    one, unit, panel = array.sizing, array.unit, sheet.panel
    yield "Array", f"{mm(one.length)} x {mm(one.width)} mm, corners rounded {mm(panel.corner_radius_mm)} mm"
    grid = f"{counted(one.columns, 'column')}, {counted(one.rows, 'row')}"
    paired = " of pairs" if one.way.paired else ""
    yield "Boards", f"{one.boards} ({grid}{paired}), each {mm(unit.width)} x {mm(unit.height)} mm"
    thickness = unit.board.stackup.thickness
    yield "Board", f"{mm(thickness)} mm thick, {counted(len(unit.board.copper_layers), 'copper layer')}"
    yield "Parted", METHODS[one.way.method]
    rails = one.way.rails
    yield "Rails", rails.value if rails is Rails.NONE else f"{rails.value}, {mm(panel.rail_mm)} mm wide"
    if array.scores:
        guide = web_for_size(max(unit.width, unit.height), max(one.length, one.width))
        thinner = f"; a scoring guide has {mm(guide)} mm for this size" if guide else ""
        yield "Scores", f"{len(array.scores)}, {mm(array.web)} mm left of {mm(thickness)} mm{thinner}"
    if one.way.method is not Method.SCORED:
        yield "Slots", f"{mm(panel.routed_gap_mm)} mm wide"
    if array.tabs:
        holes = f"{holes_in_row(sheet)} holes of {mm(panel.tab_hole_mm)} mm, {mm(panel.tab_hole_pitch_mm)} mm apart"
        yield (
            "Tabs",
            f"{len(array.tabs)}, {mm(array.tabs[0].width)} mm wide, at each board {holes}, unplated, on the edge",
        )
    for spots, label in ((array.holes, "Tooling holes"), (array.marks, "Panel marks")):
        if spots:
            yield label, f"{len(spots)} of {mm(spots[0].diameter)} mm, {_clear(spots[0])}: {_places(array, spots)}"
    fit = one.fit
    yield "Working panel", f"{size(fit)}: {counted(fit.arrays, 'array')}, {counted(fit.boards, 'board')}"
    yield "Filled", f"{100 * fit.gross:.1f} % of it by boards, {100 * fit.usable:.1f} % of its usable part"
    yield (
        "Length : width",
        f"{max(one.length, one.width) / min(one.length, one.width):.2f}, at most {panel.length_max_ratio:g}",
    )
    bearing = array.bearing
    yield (
        "Sag",
        f"{bearing.cold:.2f} mm cold, {bearing.hot:.2f} mm in the oven over {mm(bearing.span)} mm "
        f"({bearing.cold_limit:g} and {bearing.hot_limit:.2f} mm wanted; estimate)",
    )
    for item in array.breaking:
        yield "Breaks at", f"{item.what}: {item.force:.0f} N at {mm(item.lever)} mm, {item.moment:.0f} N mm (estimate)"


def size(fit: Fit) -> str:
    """A working panel's size."""
    return f"{fit.panel[0]:g} x {fit.panel[1]:g} mm"


def names(array: Array) -> dict[Spot, str]:
    """Marks and tooling holes by their names in the drawings."""
    return {
        **{spot: f"H{n}" for n, spot in enumerate(array.holes, 1)},
        **{spot: f"M{n}" for n, spot in enumerate(array.marks, 1)},
    }


def _clear(spot: Spot) -> str:
    return f"{mm(spot.clear)} mm clear" if spot.kind == "mark" else "unplated"


def _places(array: Array, spots: tuple[Spot, ...]) -> str:
    known = names(array)
    return "; ".join(f"{known[spot]} {mm(spot.at[0])}, {mm(spot.at[1])}" for spot in spots)
