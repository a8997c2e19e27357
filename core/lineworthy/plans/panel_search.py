# SPDX-License-Identifier: MIT
"""Which arrays of a board are possible within a capability sheet, and what each is worth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Optional

import shapely

from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge import panelfit
from lineworthy.knowledge.wording import mm
from lineworthy.plans.panel_board import LOWER, UPPER, Hindrance, Unit
from lineworthy.plans.panel_cells import pair, single
from lineworthy.plans.panel_merits import merits
from lineworthy.plans.panel_plan import SCORES, Against, Cell, Fit, Method, Rails, Sizing, Way
from lineworthy.sheet import Sheet

ISLAND_SHARE = 0.05
"""Between boards that share a slot no more than this share of their rectangle may be loose waste."""


@dataclass
class Search:
    """What a search found: possible arrays, and what ruled out the others."""

    possible: list[Sizing] = field(default_factory=list)
    searched: int = 0
    against: dict[tuple[Optional[Method], str], Against] = field(default_factory=dict)

    def rule_out(self, method: Optional[Method], key: str, text: str, short: Optional[float] = None) -> None:
        """Counts one array as ruled out for a reason; the nearest miss is kept."""
        known = self.against.get((method, key))
        count = 1 if known is None else known.count + 1
        nearer = known is None or (short is not None and known.short is not None and short < known.short - 1e-9)
        if known is not None and not nearer:
            text, short = known.text, known.short
        self.against[method, key] = Against(method, key, text, count, short)


def search(unit: Unit, sheet: Sheet) -> tuple[Search, dict[Way, Cell]]:
    """All arrays of all kinds, best first among the possible ones; also the cell of each kind."""
    found = Search()
    cells: dict[Way, Cell] = {}
    for way, cell in _ways(unit, sheet, found):
        cells[way] = cell
        _sizes(unit, way, cell, sheet, found)
    found.possible.sort(key=lambda one: (-round(one.points, 6), -one.boards, one.length, one.way.words))
    return found, cells


def _ways(unit: Unit, sheet: Sheet, found: Search) -> Iterator[tuple[Way, Cell]]:
    """Every kind of array that the board's shape allows."""
    gap, bar = sheet.panel.routed_gap_mm, sheet.panel.frame_bar_mm
    for quarters in (0, 1):
        alone = single(unit, quarters)
        for method in Method:
            for rails in (Rails.FOUR,) if method is Method.FRAMED else Rails:
                if rails is Rails.NONE and method in (Method.MIXED, Method.ROUTED):
                    continue
                yield Way(method, rails, quarters, False), alone
        for method, apart in ((Method.ROUTED, gap), (Method.FRAMED, 2 * gap + bar)):
            both = pair(unit, quarters, apart)
            if both is not None:
                for rails in (Rails.FOUR,) if method is Method.FRAMED else (Rails.TWO, Rails.FOUR):
                    yield Way(method, rails, quarters, True), both


def _sizes(unit: Unit, way: Way, cell: Cell, sheet: Sheet, found: Search) -> None:
    """Adds every array of one kind, or what rules it out."""
    panel = sheet.panel
    is_loose = way.method is Method.ROUTED and _loose(unit, cell, panel.routed_gap_mm)
    for columns in range(1, panel.array_boards_max_count + 1):
        long_enough = False
        if way.method is Method.MIXED and way.rails is Rails.TWO and columns == 1:
            continue  # nothing is routed: this is the scored array
        for rows in range(1, panel.array_boards_max_count // (columns * len(cell.poses)) + 1):
            sizing = sized(unit, way, cell, (columns, rows), sheet)
            too_large = exceeds(sizing.length, panel.line_length_max_mm) or exceeds(
                sizing.width, panel.line_width_max_mm
            )
            if too_large and (columns > 1 or rows > 1):
                break
            long_enough = True
            found.searched += 1
            reasons = list(_reasons(unit, sizing, is_loose, sheet))
            for method, reason in reasons:
                found.rule_out(method, reason.key, reason.text, reason.short)
            if not reasons:
                found.possible.append(sizing)
        if not long_enough:
            break


def sized(unit: Unit, way: Way, cell: Cell, grid: tuple[int, int], sheet: Sheet) -> Sizing:
    """An array of so many cells, with its fit and its merits."""
    columns, rows = grid
    gap, bar, rail = sheet.panel.routed_gap_mm, sheet.panel.frame_bar_mm, sheet.panel.rail_mm
    lower, right, upper, left = cell.beyond
    framed = way.method is Method.FRAMED
    between = 2 * gap + bar if framed else gap
    across = 0.0 if way.method is Method.SCORED else between
    up = 0.0 if way.method in SCORES else between
    step = (cell.width + left + right + across, cell.height + lower + upper + up)
    side = (rail + (0.0 if way.method is Method.SCORED else gap)) if way.rails is Rails.FOUR else 0.0
    end = (rail + (0.0 if way.method in SCORES else gap)) if way.rails is not Rails.NONE else 0.0
    length = round(2 * side + columns * step[0] - across, 6)
    width = round(2 * end + rows * step[1] - up, 6)
    boards = columns * rows * len(cell.poses)
    fit = fitted(unit, (length, width), boards, sheet)
    bare = Sizing(way, columns, rows, boards, length, width, (side + left, end + lower), step, fit, ())
    return replace(bare, merits=tuple(merits(unit, bare, sheet)))


def fitted(unit: Unit, size: tuple[float, float], boards: int, sheet: Sheet) -> Fit:
    """The working panel that arrays of a size fill best."""
    panel = sheet.panel
    many = len(unit.board.copper_layers) > 2
    border = panel.working_border_multilayer_mm if many else panel.working_border_mm
    best: Optional[Fit] = None
    for whole in panel.working_panels_mm:
        room = (whole[0] - 2 * border, whole[1] - 2 * border)
        fit = panelfit.best_fit(room, size, panel.working_gap_mm)
        count, area = fit.count * boards, unit.outline.area
        gross = panelfit.utilisation(count, area, whole)
        usable = panelfit.utilisation(count, area, room)
        one = Fit(whole, border, fit.columns, fit.rows, fit.turned, count, gross, usable)
        if best is None or one.gross > best.gross + 1e-9:
            best = one
    assert best is not None, "a sheet has at least one working panel"
    return best


def _loose(unit: Unit, cell: Cell, gap: float) -> bool:
    """Whether boards of a cell leave waste between them that a slot's cutter does not turn to dust."""
    boards = shapely.union_all([pose.place(unit.occupied) for pose in cell.poses])
    lower, right, upper, left = cell.beyond
    room = shapely.box(-left, -lower, cell.width + right, cell.height + upper)
    waste = room.difference(boards.buffer(gap)).area
    return bool(exceeds(waste, ISLAND_SHARE * room.area))


def _reasons(unit: Unit, one: Sizing, is_loose: bool, sheet: Sheet) -> Iterator[tuple[Optional[Method], Hindrance]]:
    method = one.way.method
    for reason in _size_reasons(one, sheet):
        yield None, reason
    if method in SCORES:
        for reason in _score_reasons(unit, one, sheet):
            yield method, reason
    if one.way.rails is Rails.NONE:
        for reason in _bare_reasons(unit, one, sheet):
            yield method, reason
    if is_loose:
        text = "waste would lie loose between boards of this shape: they need a frame"
        yield method, Hindrance("waste", text)


def _size_reasons(one: Sizing, sheet: Sheet) -> Iterator[Hindrance]:
    panel = sheet.panel
    size = f"{mm(one.length)} x {mm(one.width)} mm"
    shorter = min(one.length, one.width)
    for key, much, limit, words in (
        ("line_length_max_mm", one.length, panel.line_length_max_mm, "long"),
        ("line_width_max_mm", one.width, panel.line_width_max_mm, "wide"),
    ):
        if exceeds(much, limit):
            text = f"an array of {size} is too {words}, the line takes {mm(limit)} mm"
            yield Hindrance(f"panel.{key}", text, much - limit)
    if falls_short(shorter, panel.single_min_mm):
        text = f"an array of {size} is too small, the line needs {mm(panel.single_min_mm)} mm"
        yield Hindrance("panel.single_min_mm", text, panel.single_min_mm - shorter)
    if falls_short(one.length, one.width):
        yield Hindrance("upright", "rails belong on the long sides")
    ratio = max(one.length, one.width) / shorter
    if ratio > panel.length_max_ratio + 1e-6:
        text = f"an array of {size} is {ratio:.3f} times as long as wide, {panel.length_max_ratio:g} allowed"
        yield Hindrance("panel.length_max_ratio", text, max(one.length, one.width) - panel.length_max_ratio * shorter)
    if not one.fit.arrays:
        yield _no_panel(one, size)


def _no_panel(one: Sizing, size: str) -> Hindrance:
    across, up = (side - 2 * one.fit.border for side in one.fit.panel)
    small, large = sorted((one.length, one.width))
    short = max(small - across, large - up, 0.0)
    text = f"an array of {size} does not fit any working panel; {mm(across)} x {mm(up)} mm of one are usable"
    return Hindrance("panel.working_panels_mm", text, short)


def _score_reasons(unit: Unit, one: Sizing, sheet: Sheet) -> Iterator[Hindrance]:
    thickness, thinnest = unit.board.stackup.thickness, sheet.panel.score_thickness_min_mm
    if falls_short(thickness, thinnest):
        text = f"the board is {mm(thickness)} mm thick, scoring wants {mm(thinnest)} mm"
        yield Hindrance("panel.score_thickness_min_mm", text, thinnest - thickness)
    shorter, smallest = min(one.length, one.width), sheet.panel.score_array_min_mm
    if falls_short(shorter, smallest):
        text = f"a scoring machine wants arrays of {mm(smallest)} mm and more"
        yield Hindrance("panel.score_array_min_mm", text, smallest - shorter)
    seen = set()
    for name in one.scored_sides:
        for reason in unit.rim(name, one.way.quarters).hindrances:
            if reason.key not in seen:
                seen.add(reason.key)
                yield reason


def _bare_reasons(unit: Unit, one: Sizing, sheet: Sheet) -> Iterator[Hindrance]:
    """Without rails the boards' own edges run in the conveyor."""
    if unit.unmarked:
        text = (
            f"without rails there is no place for panel marks, and the {unit.unmarked[0].value} has too few of its own"
        )
        yield Hindrance("marks", text)
    need = sheet.panel.conveyor_edge_min_mm
    for name in (LOWER, UPPER):
        rim = unit.rim(name, one.way.quarters)
        where = f"the {rim.side.name} side"
        if rim.over is not None:
            text = f"without rails {rim.over.reference} hangs into the conveyor at {where}"
            yield Hindrance("panel.conveyor_edge_min_mm", text, need + rim.beyond)
            return
        if not rim.side.straight:
            yield Hindrance("conveyor", f"without rails a conveyor cannot hold {where}: it is not straight")
            return
        if rim.part_gap is not None and falls_short(rim.part_gap, need):
            text = f"without rails parts are {mm(rim.part_gap)} mm from {where}, a conveyor needs {mm(need)} mm"
            yield Hindrance("panel.conveyor_edge_min_mm", text, need - rim.part_gap)
            return
