# SPDX-License-Identifier: MIT
"""The sides of a board: where it can be scored, where it must be routed, and what reaches over it.

A board's sides are those of the rectangle round it, which lies as most of its straight edges do. Only there can it
meet a neighbour or a rail; a score runs straight through the whole array, so nothing of a board may lie beyond it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Edges, Floats, edges, exceeds, falls_short, spine
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.model import Board, Pad, Part
from lineworthy.shapes import Area, Point

CORNER_MM = 5.0
"""Rounded and cut corners up to this are milled before scoring (common practice, no source)."""

STRAIGHT_SHARE = 0.5
"""A side of which less is straight and on the line is not worth a score (common practice, no source)."""

ON_LINE_MM = 0.1
"""An edge that strays this little from its side runs along it; scores are placed no better (common practice)."""

BODY_MM = 0.2
"""A body that is drawn this little over the edge ends at it: bodies and their places vary as much (common practice)."""

NAMES = ("lower", "right", "upper", "left")


class Break(Enum):
    """How a side can be parted from what lies beside it in a panel."""

    SCORED = "scored"
    """Straight from corner to corner, rounded corners excepted."""
    NOTCHED = "scored once its notches are milled"
    ROUTED = "routed"
    """Only milling with tabs follows it."""


@dataclass(frozen=True, eq=False)
class BoardSide:
    """One side of the rectangle round a board, which lies to the left of the way from `start` to `end`.

    Attributes:
        name: lower, right, upper or left; turned with the rectangle by less than 45 degrees.
        straight: stretches (from, to) in mm along the side on which the board's edge runs, in order.
        half_holes: pads whose plated hole is cut in two by this side: scoring would tear them out.
    """

    name: str
    start: Point
    end: Point
    straight: tuple[tuple[float, float], ...]
    half_holes: tuple[Pad, ...] = field(default=(), repr=False)

    @property
    def length(self) -> float:
        """Of the whole side, mm."""
        return float(np.hypot(*np.subtract(self.end, self.start)))

    @property
    def line(self) -> BaseGeometry:
        """The whole side."""
        return shapely.LineString([self.start, self.end])

    @property
    def edge(self) -> BaseGeometry:
        """What of the side is the board's straight edge; empty when it only touches."""
        return shapely.MultiLineString([(self.at(a), self.at(b)) for a, b in self.straight])

    @property
    def share(self) -> float:
        """Part of the side on which the board's edge runs straight, 0 to 1."""
        return sum(b - a for a, b in self.straight) / self.length if self.length else 0.0

    @property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        """Stretches between corners and straight edge: corners, notches, curves, steps."""
        marks = [0.0, *(mark for stretch in self.straight for mark in stretch), self.length]
        return tuple((a, b) for a, b in zip(marks[::2], marks[1::2]) if exceeds(b - a, ON_LINE_MM))

    @property
    def by(self) -> Break:
        """The least costly way of parting that its shape allows."""
        if self.half_holes or falls_short(self.share, STRAIGHT_SHARE):
            return Break.ROUTED
        corners = all(
            (a <= ON_LINE_MM or b >= self.length - ON_LINE_MM) and not exceeds(b - a, CORNER_MM) for a, b in self.gaps
        )
        return Break.SCORED if corners else Break.NOTCHED

    @property
    def why(self) -> str:
        """Why a side cannot be scored as it is, in words; empty when it can."""
        if self.half_holes:
            return "half holes"
        if self.by is Break.ROUTED:
            return f"straight for only {100 * self.share:.0f} %" if self.straight else "no straight edge"
        return "notches or steps" if self.by is Break.NOTCHED else ""

    def at(self, along: float) -> Point:
        """The point so many mm from the start."""
        x, y = np.add(self.start, np.subtract(self.end, self.start) * (along / self.length))
        return float(x), float(y)

    def beyond(self, shapes: Iterable[BaseGeometry]) -> Floats:
        """How far each shape reaches over the side, mm; negative: how far it stays inside."""
        way = np.subtract(self.end, self.start) / self.length
        outward = np.array([way[1], -way[0]])
        given = np.asarray(list(shapes), dtype=object)
        points, owner = shapely.get_coordinates(given, return_index=True)
        heights = (points - np.array(self.start)) @ outward
        out = np.full(len(given), -np.inf)
        np.maximum.at(out, owner, heights)
        return out


@dataclass(frozen=True, eq=False)
class Overhang:
    """A part that reaches over a side: by how many mm, and how high it is (None: unknown)."""

    part: Part
    side: BoardSide
    beyond: float
    height: Optional[float]


def direction(area: Area) -> float:
    """Angle in degrees, -45 to 45, by which the sides of the rectangle round a board are turned."""
    rim = _rim(area)
    straight = (rim.sweep == 0.0) & (rim.length > 10 * TOL_MM)
    step = (rim.end - rim.start)[straight]
    if not len(step):
        return 0.0
    turn = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
    turn = np.round((turn + 45.0) % 90.0 - 45.0, 3)
    turn[turn == 45.0] = -45.0
    kinds, kind = np.unique(turn, return_inverse=True)
    weight = np.bincount(kind.ravel(), rim.length[straight])
    # of directions that are equally strong, the one that is turned least
    best = np.flatnonzero(weight > weight.max() - 1e-3)
    return float(kinds[best[np.argmin(np.abs(kinds[best]))]])


def sides(board: Board) -> tuple[BoardSide, ...]:
    """The four sides of a board with a closed outline: lower, right, upper, left; none without an outline."""
    area = board.outline.area
    if area.is_empty:
        return ()
    turn = np.radians(direction(area))
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    points = shapely.get_coordinates(area)
    points = np.column_stack([points @ along, points @ up])
    (left, low), (right, high) = points.min(axis=0), points.max(axis=0)
    corners = [x * along + y * up for x, y in ((left, low), (right, low), (right, high), (left, high))]
    rim = _rim(area)
    plated = [(pad, pad.hole) for _, pad in board.pads if pad.hole is not None and pad.hole.plated]
    spines = np.asarray([spine(hole) for _, hole in plated], dtype=object)
    radius = np.array([hole.diameter / 2 for _, hole in plated])
    found = []
    for name, start, end in zip(NAMES, corners, [*corners[1:], corners[0]]):
        (x0, y0), (x1, y1) = start.tolist(), end.tolist()
        cut = np.flatnonzero(shapely.distance(spines, shapely.LineString([start, end])) < radius)
        halves = tuple(plated[n][0] for n in cut)
        found.append(BoardSide(name, (x0, y0), (x1, y1), tuple(_straight(rim, start, end)), halves))
    return tuple(found)


def overhangs(board: Board, packages: Packages, around: Iterable[BoardSide]) -> Iterator[Overhang]:
    """Fitted parts whose body reaches over a side of the board, most first on each side; not those parked beside it."""
    parts = [part for part in board.parts if part.fitted and part.pads]
    facts = [(part, packages.of(part)) for part in parts]
    chosen = [(part, one) for part, one in facts if one.family is not Family.MECHANICAL and not one.body.is_empty]
    area = board.outline.area
    shapely.prepare(area)
    bodies = np.asarray([one.body for _, one in chosen], dtype=object)
    over = [n for n in np.flatnonzero(~shapely.covers(area, bodies)) if chosen[n][0].extent.intersects(area)]
    chosen = [chosen[n] for n in over]
    for side in around:
        reach = side.beyond(bodies[over])
        found = [
            Overhang(part, side, float(far), one.height)
            for (part, one), far in zip(chosen, reach)
            if exceeds(far, BODY_MM)
        ]
        yield from sorted(found, key=lambda one: (-round(one.beyond, 4), one.part.reference, one.part.uid))


def _rim(area: Area) -> Edges:
    """Edges of the outer outlines, points in the middle of a straight stretch taken out."""
    return edges([Polygon(piece.exterior).simplify(TOL_MM) for piece in shapely.get_parts(area)])


def _straight(rim: Edges, start: Floats, end: Floats) -> Iterator[tuple[float, float]]:
    """Stretches on which straight edges run along a line, mm from its start; those that touch as one."""
    way = (end - start) / np.hypot(*(end - start))
    outward = np.array([way[1], -way[0]])
    off = np.maximum(np.abs((rim.start - start) @ outward), np.abs((rim.end - start) @ outward))
    on = (off <= ON_LINE_MM + TOL_MM) & (rim.sweep == 0.0) & (rim.length > TOL_MM)
    stretches = np.sort(np.column_stack([(rim.start[on] - start) @ way, (rim.end[on] - start) @ way]), axis=1)
    current: list[float] = []
    for a, b in stretches[np.argsort(stretches[:, 0], kind="stable")].tolist():
        if current and a <= current[1] + ON_LINE_MM:
            current[1] = max(current[1], b)
            continue
        if current:
            yield current[0], current[1]
        current = [a, b]
    if current:
        yield current[0], current[1]
