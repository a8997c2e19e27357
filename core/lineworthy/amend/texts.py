# SPDX-License-Identifier: MIT
"""A place for the marking that says which board it is: the roomiest free rectangle of the legend."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.amend.amendment import MarkingText
from lineworthy.amend.plan import Plan
from lineworthy.amend.space import Kind, Need, snapped
from lineworthy.knowledge.naming import plain
from lineworthy.knowledge.wording import mm
from lineworthy.model import Side
from lineworthy.review import review
from lineworthy.shapes import Area, Point, polygonal

PART_NUMBER, REVISION = "identity/part-number-missing", "identity/revision-missing"

NAME_MAX = 40
"""Longer titles are sentences; then the file's name is printed instead."""

LEGEND_GAP_MM = 0.15
"""Between two texts or lines, so that they do not run into each other (common practice, no source)."""

CELLS_MAX = 700
"""Cells along the longer side of the board in the search; what it finds is checked on the true shapes."""

ROOM_MAX, ROOM_MIN = 3.0, 0.25
"""Room is looked for from three times what the text needs down to a quarter, to say how much is missing."""


@dataclass(frozen=True)
class _Room:
    """A free rectangle: its middle, the way the text lies in it, and how many times the text's size it has."""

    at: Point
    rotation: float
    scale: float


def plan_marking(plan: Plan, revision_text: str, sides: tuple[Side, ...]) -> None:
    """Places the part number and the revision, as far as the board does not show them."""
    missing = {f.check for f in review(plan.board, plan.sheet, only=[PART_NUMBER, REVISION]).findings}
    names = [("name", *name)] if PART_NUMBER in missing and (name := _name(plan)) else []
    revisions: list[tuple[str, str, str]] = []
    if REVISION in missing:
        stated = plan.printed.stated_revision
        if revision_text:
            revisions = [("revision", f"REV {plan.printed.resolved(revision_text)}", f"REV {revision_text}")]
        elif stated:
            revisions = [("revision", f"REV {stated}", "REV ${REVISION}")]
        else:
            plan.refuse("the revision on the legend", "the title block gives none and none was given")
    lines = [*names, *revisions]
    if not lines:
        return
    wanted = f"{' and '.join(line[0] for line in lines)} on the legend"
    if not plan.board.outline.is_closed:
        plan.refuse(wanted, "the board has no closed outline to place it by")
        return
    widest = 0.0
    for side in sides:
        for text, source in _layouts(lines):
            room = _roomiest(plan, side, text)
            if room is not None and room.scale >= 1.0:
                _add(plan, side, text, source, room)
                return
            widest = max(widest, room.scale if room else 0.0)
    need = plan.sheet.identity.text_height_mm
    where = " or ".join(side.value for side in sides)
    plan.refuse(
        wanted,
        f"the largest free place on the {where} takes letters of {mm(widest * need)} mm, {mm(need)} mm are needed",
    )


def _name(plan: Plan) -> tuple[str, str]:
    """What the board is called, and how that is written into the document."""
    title = plain(plan.printed.resolved(plan.board.title.title))
    if title and len(title) <= NAME_MAX and title in plan.printed.names:
        return title, "${TITLE}"
    return plain(plan.board.name), plain(plan.board.name)


def _layouts(lines: list[tuple[str, str, str]]) -> Iterator[tuple[str, str]]:
    """The same words in one line and in two."""
    for joint in (" ", "\n")[: len(lines)]:
        yield joint.join(line[1] for line in lines), joint.join(line[2] for line in lines)


def _add(plan: Plan, side: Side, text: str, source: str, room: _Room) -> None:
    limits = plan.sheet.identity
    made = MarkingText(text, source, room.at, side, limits.text_height_mm, limits.text_stroke_mm, room.rotation)
    plan.amendments.append(made)
    plan.space.reserve(text_box(made, plan.measure(text, made.height, made.stroke)), side)


def text_box(text: MarkingText, size: tuple[float, float]) -> shapely.Polygon:
    """The rectangle a text fills, from its size (along, across)."""
    width, height = size if text.rotation % 180 == 0 else size[::-1]
    x, y = text.at
    return shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _roomiest(plan: Plan, side: Side, text: str) -> Optional[_Room]:
    """The largest free place of the text's proportions, without vias under the letters if that can be had."""
    limits = plan.sheet.identity
    size = plan.measure(text, limits.text_height_mm, limits.text_stroke_mm)
    best: Optional[_Room] = None
    for kinds in ((Kind.VIA,), ()):
        free = _free(plan, side, kinds)
        for rotation, (width, height) in ((0.0, size), (90.0, size[::-1])):
            room = _largest(free, width, height, rotation)
            if room is not None and (best is None or room.scale > best.scale + 1e-9):
                best = room
        if best is not None and best.scale >= 1.0:
            break
    return best


def _free(plan: Plan, side: Side, more: tuple[Kind, ...]) -> Area:
    """Where the legend of a side is free of everything letters must not lie on."""
    limits = plan.sheet.identity
    clear = limits.text_to_opening_min_mm
    gaps = {
        Kind.EDGE: limits.text_to_edge_min_mm,
        Kind.MASK: clear,
        Kind.HOLE: clear,
        Kind.LEGEND: LEGEND_GAP_MM,
        Kind.PLANNED: clear,
        Kind.PART: 0.0,
        Kind.COURTYARD: 0.0,
        **dict.fromkeys(more, 0.0),
    }
    key = (side, more)
    if key not in plan.legend_room:
        need = Need(0.0, gaps, (plan.board.copper_on(side),), (side,))
        plan.legend_room[key] = plan.space.centres(plan.board.outline.area.envelope, need)
    return plan.legend_room[key]


def _largest(free: Area, width: float, height: float, rotation: float) -> Optional[_Room]:
    """The largest rectangle of given proportions in a region, by halving between too large and free."""
    if free.is_empty or min(width, height) <= 0:
        return None
    low_x, low_y, high_x, high_y = free.bounds
    cell = max(max(high_x - low_x, high_y - low_y) / CELLS_MAX, 0.05)
    inner = _inner(free, cell)
    sums = np.pad(inner.cumsum(0, dtype=np.int64).cumsum(1), ((1, 0), (1, 0)))
    low, high, found = ROOM_MIN, ROOM_MAX, None
    for step in range(7):
        scale = high if step == 0 else low if step == 1 and found is None else (low + high) / 2
        spot = _window(sums, int(np.ceil(scale * width / cell)), int(np.ceil(scale * height / cell)))
        if spot is None:
            if step == 1 and found is None:
                return None
            high = scale
            continue
        column, row, across, up = spot
        found = _Room((low_x + (column + across / 2) * cell, low_y + (row + up / 2) * cell), rotation, scale)
        if step == 0:
            break
        low = scale
    return _settled(free, found, width, height) if found else None


def _inner(free: Area, cell: float) -> npt.NDArray[np.bool_]:
    """Which cells of a grid over a region lie wholly in it: those whose middle is deep enough inside."""
    low_x, low_y, high_x, high_y = free.bounds
    eroded = polygonal(free.buffer(-cell * 0.7072, quad_segs=2))
    columns = max(int((high_x - low_x) / cell), 1)
    rows = max(int((high_y - low_y) / cell), 1)
    xs = low_x + (np.arange(columns) + 0.5) * cell
    ys = low_y + (np.arange(rows) + 0.5) * cell
    shapely.prepare(eroded)
    grid = np.meshgrid(xs, ys)
    return np.asarray(shapely.contains_xy(eroded, grid[0], grid[1]))


def _window(sums: npt.NDArray[np.int64], across: int, up: int) -> Optional[tuple[int, int, int, int]]:
    """The lowest, then leftmost block of cells that are all free."""
    rows, columns = sums.shape[0] - 1, sums.shape[1] - 1
    if across > columns or up > rows:
        return None
    count = sums[up:, across:] - sums[:-up, across:] - sums[up:, :-across] + sums[:-up, :-across]
    full = np.argwhere(count == across * up)
    return (int(full[0][1]), int(full[0][0]), across, up) if len(full) else None


def _settled(free: Area, room: _Room, width: float, height: float) -> _Room:
    """The same place on a readable coordinate, where the text still fits there."""
    for at in snapped(room.at):
        if free.covers(_box(at, width, height)):
            return _Room(at, room.rotation, room.scale)
    return _Room((round(room.at[0], 6), round(room.at[1], 6)), room.rotation, room.scale)


def _box(at: Point, width: float, height: float) -> BaseGeometry:
    return shapely.box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)
