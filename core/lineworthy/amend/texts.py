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
from lineworthy.amend.plan import Plan, Wanted
from lineworthy.amend.space import Kind, Need, snapped
from lineworthy.finding import Consequence
from lineworthy.knowledge.naming import plain
from lineworthy.knowledge.wording import mm
from lineworthy.model import Side
from lineworthy.review import review
from lineworthy.shapes import Point

PART_NUMBER, REVISION = "identity/part-number-missing", "identity/revision-missing"

UNREAD = tuple(f"identity/marking-{fault}" for fault in ("backwards", "under-part", "clipped", "too-fine"))
"""Where the number or the revision is there and cannot be read, a second one in the open answers that."""

ANSWERED = frozenset({PART_NUMBER, REVISION, *UNREAD})

NAME_MAX = 40
"""Longer titles are sentences; then the file's name is printed instead."""

LEGEND_GAP_MM = 0.15
"""Between two texts or lines, so that they do not run into each other (common practice, no source)."""

CELLS_MAX = 700
"""Cells along the longer side of the board in the search; what it finds is checked on the true shapes."""

SMALL_MM, EXACT_MAX = 3.0, 2500
"""On a board with more things than this, those smaller than this take the box round them in the search."""

HALVINGS, PLACES_CHECKED = 7, 40

ROOM_MAX, ROOM_MIN = 3.0, 0.25
"""Room is looked for from three times what the text needs down to a quarter, to say how much is missing."""


@dataclass(frozen=True)
class _Room:
    """A free rectangle: its middle, the way the text lies in it, and how many times the text's size it has."""

    at: Point
    rotation: float
    scale: float


def plan_marking(plan: Plan, wanted: Wanted, sides: tuple[Side, ...]) -> None:
    """Places the part number and the revision, as far as the board does not show them or they cannot be read."""
    lines = _lines(plan, wanted)
    if not lines:
        return
    asked = f"{' and '.join(line[0] for line in lines)} on the legend"
    if not plan.board.outline.is_closed:
        plan.refuse(asked, "the board has no closed outline to place it by")
        return
    limits = plan.sheet.identity
    least = min(1.0, limits.text_height_min_mm / limits.text_height_mm)
    best: Optional[tuple[_Room, Side, str, str]] = None
    for side in sides:
        for text, source in _layouts(lines):
            room = _roomiest(plan, side, text)
            if room is not None and room.scale >= 1.0:
                _add(plan, side, (text, source), room)
                return
            if room is not None and (best is None or room.scale > best[0].scale + 1e-9):
                best = (room, side, text, source)
    if best is not None and best[0].scale >= least:
        room, side, text, source = best
        _add(plan, side, (text, source), room, least)
        return
    need = limits.text_height_min_mm
    widest = best[0].scale if best else 0.0
    where = " or ".join(side.value for side in sides)
    plan.refuse(
        asked,
        f"the largest free place on the {where} takes letters of {mm(widest * limits.text_height_mm)} mm, "
        f"{mm(need)} mm are needed",
    )


def _lines(plan: Plan, wanted: Wanted) -> list[tuple[str, str, str]]:
    """What is to be printed: what it is, the words, and how they are written into the document."""
    found = review(plan.board, plan.sheet, only=sorted(ANSWERED)).findings
    missing = {f.check for f in found if f.check not in UNREAD}
    is_unread = any(f.check in UNREAD and f.consequence is Consequence.QUERY for f in found)
    lines: list[tuple[str, str, str]] = []
    if PART_NUMBER in missing or is_unread:
        name = (plain(wanted.name_text), wanted.name_text) if wanted.name_text else _name(plan)
        lines += [("name", *name)] if name[0] else []
    if REVISION in missing or is_unread:
        stated = plan.printed.stated_revision
        if wanted.revision_text:
            resolved = plan.printed.resolved(wanted.revision_text)
            lines.append(("revision", f"REV {resolved}", f"REV {wanted.revision_text}"))
        elif stated:
            lines.append(("revision", f"REV {stated}", "REV ${REVISION}"))
        elif REVISION in missing:
            plan.refuse("the revision on the legend", "the title block gives none and none was given")
    return lines


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


def _add(plan: Plan, side: Side, words: tuple[str, str], room: _Room, scale: float = 1.0) -> None:
    limits, (text, source) = plan.sheet.identity, words
    height = round(limits.text_height_mm * scale, 6)
    stroke = max(round(limits.text_stroke_mm * scale, 6), limits.text_stroke_min_mm)
    made = MarkingText(text, source, room.at, side, height, stroke, room.rotation)
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
    width, height = plan.measure(text, limits.text_height_mm, limits.text_stroke_mm)
    best: Optional[_Room] = None
    for kinds in ((Kind.VIA,), ()):
        ground = _Ground(plan, _need(plan, side, kinds))
        for rotation, (across, up) in ((0.0, (width, height)), (90.0, (height, width))):
            room = ground.largest(across, up, rotation)
            if room is not None and (best is None or room.scale > best.scale + 1e-9):
                best = room
        if best is not None and best.scale >= 1.0:
            break
    return best


def _need(plan: Plan, side: Side, more: tuple[Kind, ...]) -> Need:
    """What letters must not lie on."""
    limits = plan.sheet.identity
    clear = limits.text_to_opening_min_mm
    gaps: dict[Kind, float] = {
        Kind.EDGE: limits.text_to_edge_min_mm,
        Kind.MASK: clear,
        Kind.HOLE: clear,
        Kind.LEGEND: LEGEND_GAP_MM,
        Kind.PLANNED: clear,
        Kind.PART: 0.0,
        Kind.COURTYARD: 0.0,
    }
    gaps.update(dict.fromkeys(more, 0.0))
    return Need(0.0, gaps, (plan.board.copper_on(side),), (side,))


class _Ground:
    """One side's legend as a grid of free and taken cells, with the true shapes to check what is found in it."""

    def __init__(self, plan: Plan, need: Need) -> None:
        self._board = plan.space.shrunk(need.gaps[Kind.EDGE])
        self._shapes, self._gaps = plan.space.obstacles(need)
        self._tree = shapely.STRtree(self._shapes)
        self._reach = float(self._gaps.max(initial=0.0))
        self._low = np.array(self._board.bounds[:2]) if not self._board.is_empty else np.zeros(2)
        high = np.array(self._board.bounds[2:]) if not self._board.is_empty else np.zeros(2)
        self._cell = max(float((high - self._low).max()) / CELLS_MAX, 0.05)
        self._count = np.maximum(((high - self._low) / self._cell).astype(int), 1)
        free = self._free_cells()
        self._sums = np.pad(free.cumsum(0, dtype=np.int64).cumsum(1), ((1, 0), (1, 0)))

    def largest(self, width: float, height: float, rotation: float) -> Optional[_Room]:
        """The largest free rectangle of given proportions, by halving between too large and free."""
        if self._board.is_empty or min(width, height) <= 0:
            return None
        found = self._at(width, height, rotation, ROOM_MAX)
        low, high = ROOM_MIN, ROOM_MAX
        if found is None and (found := self._at(width, height, rotation, low)) is not None:
            # the text's own size is asked for exactly, the rest is halving
            for step in range(HALVINGS):
                scale = 1.0 if step == 0 else (low + high) / 2
                room = self._at(width, height, rotation, scale)
                found, low, high = (room, scale, high) if room else (found, low, scale)
        return found

    def _at(self, width: float, height: float, rotation: float, scale: float) -> Optional[_Room]:
        """The lowest, then leftmost place for a rectangle of a size."""
        across, up = (int(np.ceil(scale * side / self._cell)) for side in (width, height))
        if across > self._count[0] or up > self._count[1]:
            return None
        sums = self._sums
        full = sums[up:, across:] - sums[:-up, across:] - sums[up:, :-across] + sums[:-up, :-across] == across * up
        for row, column in np.argwhere(full)[:PLACES_CHECKED]:
            middle = self._low + (np.array([column, row]) + np.array([across, up]) / 2) * self._cell
            spot = (float(middle[0]), float(middle[1]))
            for at in (*snapped(spot), (round(spot[0], 6), round(spot[1], 6))):
                if self._is_free(_box(at, min(scale, 1.0) * width, min(scale, 1.0) * height)):
                    return _Room(at, rotation, scale)
        return None

    def _is_free(self, box: BaseGeometry) -> bool:
        """Whether a rectangle is free by the true shapes."""
        found = self._tree.query(box.buffer(self._reach))
        near = shapely.distance(self._shapes[found], box) < np.maximum(self._gaps[found], 1e-9)
        return bool(self._board.covers(box)) and not bool(near.any())

    def _free_cells(self) -> npt.NDArray[np.bool_]:
        """Cells, row by row, that are free: small things take the box round them, large ones what they cover."""
        sizes = shapely.bounds(self._shapes)
        extent = np.maximum(sizes[:, 2] - sizes[:, 0], sizes[:, 3] - sizes[:, 1])
        large = extent > (SMALL_MM if len(extent) > EXACT_MAX else 0.0)
        taken = self._boxed(sizes[~large], self._gaps[~large])
        by = self._cell * 0.7072
        widened = shapely.buffer(self._shapes[large], self._gaps[large] + by, quad_segs=4)
        blocked = shapely.union_all(widened) if len(widened) else shapely.Polygon()
        xs, ys = (low + (np.arange(n) + 0.5) * self._cell for low, n in zip(self._low, self._count))
        grid = np.meshgrid(xs, ys)
        inner = self._board.buffer(-by, quad_segs=2).difference(blocked)
        shapely.prepare(inner)
        return np.asarray(shapely.contains_xy(inner, grid[0], grid[1])) & ~taken

    def _boxed(self, sizes: npt.NDArray[np.float64], gaps: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Cells that boxes touch, all boxes at once: each adds one at its corners, and sums fill it."""
        marks = np.zeros((self._count[1] + 1, self._count[0] + 1), dtype=np.int64)
        if len(sizes):
            low = np.floor((sizes[:, :2] - gaps[:, None] - self._low) / self._cell).astype(int)
            high = np.floor((sizes[:, 2:] + gaps[:, None] - self._low) / self._cell).astype(int) + 1
            low, high = np.clip(low, 0, self._count), np.clip(high, 0, self._count)
            for x, y, sign in ((low, low, 1), (high, high, 1), (low, high, -1), (high, low, -1)):
                np.add.at(marks, (y[:, 1], x[:, 0]), sign)
        filled: npt.NDArray[np.bool_] = marks.cumsum(0).cumsum(1)[:-1, :-1] > 0
        return filled


def _box(at: Point, width: float, height: float) -> BaseGeometry:
    return shapely.box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)
