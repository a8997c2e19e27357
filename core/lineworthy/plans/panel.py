# SPDX-License-Identifier: MIT
"""The panel plan: which arrays to propose for a board, and why not the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Union

import shapely

from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge import depanel
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import panel_signs
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board
from lineworthy.plans.panel_board import LEFT, LOWER, RIGHT, UPPER, Hindrance, Unit, unit_of
from lineworthy.plans.panel_layout import Layout, lay_out
from lineworthy.plans.panel_merits import bearing_of
from lineworthy.plans.panel_plan import (
    SCORES,
    Against,
    Array,
    Breaking,
    Cell,
    Method,
    PanelPlan,
    Rails,
    Sizing,
    Way,
)
from lineworthy.plans.panel_search import Search, search
from lineworthy.plans.panel_tabs import Held, hold, standing
from lineworthy.shapes import Area, polygonal
from lineworthy.sheet import Sheet

NO_TABS = "no room for tabs"

PROPOSED = 3
"""Arrays that are proposed."""

_BRIDGE_MM = 0.3
_BUILDS_MAX = 60
"""Arrays that are drawn to see whether tabs hold them, before the plan gives up."""


def plan(board: Board, sheet: Sheet, *, marks: Marks, packages: Packages) -> PanelPlan:
    """The best arrays of a board with one closed outline; none when the sheet allows none."""
    unit = unit_of(board, marks, packages, sheet)
    found, cells = search(unit, sheet)
    arrays = _built(unit, found, cells, sheet)
    order = sorted(found.against.values(), key=lambda one: (one.short is None, one.short or 0.0, -one.count, one.text))
    if not arrays:
        order.sort(key=lambda one: NO_TABS not in one.text)  # arrays that keep every other limit are the nearest
    return PanelPlan(
        board=board,
        sheet=sheet,
        unit=unit,
        arrays=arrays,
        searched=found.searched,
        possible=len(found.possible),
        against=(*_outdone(found, arrays), *order),
        signs=tuple(panel_signs(board)),
    )


def _built(unit: Unit, found: Search, cells: dict[Way, Cell], sheet: Sheet) -> tuple[Array, ...]:
    """The best of each method, then the best of the other kinds, drawn; best first.

    What tabs do not hold is no longer among the possible arrays.
    """
    made: list[Array] = []
    refused: dict[_Neighbours, Hindrance] = {}
    tries = 0
    for fresh in (True, False):
        for one in found.possible:
            methods, ways = {array.way.method for array in made}, {array.way for array in made}
            taken = one.way.method in methods if fresh else one.way in ways
            taken = taken or _look(one) in {_look(array.sizing) for array in made}
            if len(made) == PROPOSED or tries == _BUILDS_MAX:
                break
            if taken or _neighbours(one) in refused:
                continue
            tries += 1
            array = build(unit, cells[one.way], one, sheet)
            if isinstance(array, Array):
                made.append(array)
            else:
                refused[_neighbours(one)] = array
    _rule_out(found, refused)
    return tuple(sorted(made, key=lambda array: -round(array.sizing.points, 6)))


_Neighbours = tuple[Way, bool, bool]
"""Arrays in which each board has neighbours on the same sides: the same tabs hold them, or none does."""


def _neighbours(one: Sizing) -> _Neighbours:
    return one.way, one.columns > 1, one.rows > 1


def _rule_out(found: Search, refused: dict[_Neighbours, Hindrance]) -> None:
    """Takes arrays that tabs do not hold off the possible ones, all for the one reason that came nearest."""
    if not refused:
        return
    near = min(refused.values(), key=lambda one: (one.short is None, one.short or 0.0, one.text))
    for one in found.possible:
        if _neighbours(one) in refused:
            found.rule_out(one.way.method, near.key, near.text, near.short)
    found.possible = [one for one in found.possible if _neighbours(one) not in refused]


def build(unit: Unit, cell: Cell, one: Sizing, sheet: Sheet) -> Union[Array, Hindrance]:
    """An array with its tabs, or why there is none."""
    layout = lay_out(unit, cell, one, sheet)
    held = Held()
    if one.way.method not in SCORES:
        held = hold(unit, layout, sheet)
        if held.loose:
            return _unheld(held)
    web = depanel.web(unit.board.stackup.thickness) if layout.scores else 0.0
    bearing = bearing_of(unit, one.width, sheet)
    array = Array(
        sizing=one,
        unit=unit,
        poses=layout.poses,
        outlines=layout.outlines,
        overs=layout.overs,
        material=_material(layout, held),
        rails=layout.rails,
        tabs=tuple(held.tabs),
        scores=layout.scores,
        spots=layout.spots,
        break_hole=sheet.panel.tab_hole_mm,
        working_gap=sheet.panel.working_gap_mm,
        web=web,
        bearing=bearing,
        breaking=tuple(_breaking(unit, one, held, web, sheet)),
        remarks=(),
    )
    return replace(array, remarks=tuple(_remarks(array, held, sheet)))


def _unheld(held: Held) -> Hindrance:
    """Why boards are not held from two sides."""
    where = f" at {listed(held.crowded)}" if held.crowded else ""
    text = f"{NO_TABS}{where}: boards are not held from two sides"
    if held.miss is None:
        return Hindrance("tabs", text)
    short, key, what = held.miss
    return Hindrance(key, f"{text}; the best place is {mm(short)} mm too near to {what}", short)


def _material(layout: Layout, held: Held) -> Area:
    """All that stands when slots are milled; tabs reach a little into both ends, where edges are curved."""
    bridges = [_lengthened(tab.shape) for tab in held.tabs]
    whole = shapely.union_all([*layout.full, layout.frame, *bridges], grid_size=1e-6)
    cutouts = [shapely.Polygon(ring) for outline in layout.outlines for ring in outline.interiors]
    return polygonal(whole.difference(shapely.union_all(cutouts)) if cutouts else whole)


def _lengthened(shape: shapely.Polygon) -> shapely.Polygon:
    (a, b, c, d) = shapely.get_coordinates(shape)[:4]
    out = (c - b) / max(float(shapely.distance(shapely.Point(b), shapely.Point(c))), 1e-9) * _BRIDGE_MM
    return shapely.Polygon([a - out, b - out, c + out, d + out])


def _breaking(unit: Unit, one: Sizing, held: Held, web: float, sheet: Sheet) -> Iterator[Breaking]:
    """What it takes to part a board, along each kind of line."""
    thickness = unit.board.stackup.thickness
    sides = {LOWER: (unit.width, unit.height), RIGHT: (unit.height, unit.width)}
    for name, what in ((LOWER, "score along the array"), (RIGHT, "score across it")):
        if name in one.scored_sides or (name + 2) in one.scored_sides:
            length, across = sides[name] if one.way.quarters == 0 else sides[name][::-1]
            lever = across / 2
            moment = depanel.break_moment(web) * length
            yield Breaking(what, length, web, moment, lever, depanel.break_force(web, length, lever))
    if held.tabs:
        stands = standing(sheet)
        lever = min(unit.width, unit.height) / 2
        moment = depanel.break_moment(thickness) * stands
        yield Breaking("one tab", stands, thickness, moment, lever, depanel.break_force(thickness, stands, lever))


def _remarks(array: Array, held: Held, sheet: Sheet) -> Iterator[str]:
    """What to mind with an array, each in a sentence."""
    one, unit, panel = array.sizing, array.unit, sheet.panel
    wanted = panel.utilisation_min_percent
    if falls_short(100 * one.fit.gross, wanted):
        yield (
            f"Boards fill {100 * one.fit.gross:.1f} % of the working panel, {wanted:g} % are wanted: ask whether "
            "another size is at hand."
        )
    bearing = array.bearing
    if exceeds(bearing.cold, bearing.cold_limit) or exceeds(bearing.hot, bearing.hot_limit):
        yield (
            f"Held along its long sides it hangs down {bearing.cold:.2f} mm cold and {bearing.hot:.2f} mm in the oven "
            f"({bearing.cold_limit:g} and {bearing.hot_limit:.2f} mm wanted; estimate, without parts): centre support."
        )
    for item in array.breaking:
        if item.force > depanel.HAND_FORCE_N:
            yield (
                f"Breaking a board off at a {item.what} takes about {item.force:.0f} N {mm(item.lever)} mm from it: "
                "no work for fingers."
            )
    if held.crowded:
        yield f"Not every wanted tab has room at {listed(held.crowded)}."
    if one.way.rails is not Rails.NONE and not array.marks:
        yield f"Rails of {mm(panel.rail_mm)} mm are too narrow for panel marks."
    if one.way.rails is not Rails.NONE and not array.holes:
        yield f"Rails of {mm(panel.rail_mm)} mm are too narrow for {mm(panel.rail_hole_mm)} mm tooling holes."
    yield from _over(unit, one)
    yield from _bent(unit, one)


def _over(unit: Unit, one: Sizing) -> Iterator[str]:
    """Parts that reach over a side."""
    for name in (LOWER, RIGHT, UPPER, LEFT):
        rim = unit.rim(name, one.way.quarters)
        if rim.over is not None:
            reach = f"{rim.over.reference} reaches {mm(rim.beyond)} mm over the {rim.side.name} side"
            yield f"{reach}: there the slot is as much wider."


def _bent(unit: Unit, one: Sizing) -> Iterator[str]:
    rims = [unit.rim(name, one.way.quarters) for name in one.scored_sides]
    bent = {reference for rim in rims for reference in rim.ceramics}
    if bent:
        stands = "stands" if len(bent) == 1 else "stand"
        yield (
            f"{counted(len(bent), 'ceramic capacitor')} ({listed(bent)}) {stands} beside a score: turn along it, move "
            "inwards, or have boards cut by a blade instead of broken."
        )


def _outdone(found: Search, arrays: tuple[Array, ...]) -> Iterator[Against]:
    """Arrays that are possible and not proposed: what the best of each method is worth less."""
    if not arrays:
        return
    best = arrays[0].sizing
    shown = {_look(array.sizing) for array in arrays}
    for method in Method:
        ones = [one for one in found.possible if one.way.method is method and _look(one) not in shown]
        if ones:
            top = ones[0]
            less = best.points - top.points
            grid = f"{top.columns} x {top.rows}, {mm(top.length)} x {mm(top.width)} mm"
            text = f"the best of {counted(len(ones), 'other array')} ({top.way.words}, {grid}) is {_worth(less)}"
            yield Against(method, "points", text, len(ones), max(less, 0.0))


def _look(one: Sizing) -> tuple[object, ...]:
    """What makes two arrays the same to whoever builds them, however a square board is turned."""
    return one.way.method, one.way.rails, one.way.paired, one.length, one.width, one.boards


def _worth(less: float) -> str:
    return "worth as much as the first" if less < 0.05 else f"worth {less:.1f} points less than the first"
