# SPDX-License-Identifier: MIT
"""An array as a display list: outlines, lines, circles and dimensions by kind, in the array's millimetres.

The SVG sheet and the DXF file draw the same list, so that they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Union

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.wording import mm
from lineworthy.plans.panel_plan import HOLE, Array
from lineworthy.report.panel_facts import names
from lineworthy.shapes import Coords, Point


class Kind(Enum):
    """What a line of the drawing stands for; the words are its legend, the name is its layer in DXF."""

    WASTE = "rail, frame, tab"
    BOARD = "board"
    PART = "part, on the first board"
    OVER = "part over the edge"
    ROUTED = "routed edge"
    SCORE = "score"
    BREAK_HOLE = "break-away hole"
    TOOLING_HOLE = "tooling hole"
    MARK = "panel mark"
    CLEAR = "clear of copper and mask"
    CORNER = "the board's own lower left corner"


@dataclass(frozen=True, eq=False)
class Outline:
    """Closed rings, (n, 2) each, the first point not repeated."""

    kind: Kind
    rings: tuple[Coords, ...] = field(repr=False)


@dataclass(frozen=True)
class Line:
    """A straight line."""

    kind: Kind
    start: Point
    end: Point


@dataclass(frozen=True)
class Circle:
    """A circle; `name` is written beside it where it has one."""

    kind: Kind
    at: Point
    diameter: float
    name: str = ""


@dataclass(frozen=True)
class Dimension:
    """A length along x below the array, or along y to the left of it; `level` 1 is nearest to it."""

    axis: str
    start: float
    end: float
    level: int

    @property
    def length(self) -> float:
        """What is measured, mm."""
        return self.end - self.start

    @property
    def words(self) -> str:
        """As it is written."""
        return mm(self.length)


@dataclass(frozen=True, eq=False)
class Drawing:
    """Everything of one array, back to front.

    Attributes:
        numbers: middle of each board, in the order of their numbers from 1.
    """

    size: tuple[float, float]
    outlines: tuple[Outline, ...]
    lines: tuple[Line, ...]
    circles: tuple[Circle, ...]
    dimensions: tuple[Dimension, ...]
    numbers: tuple[Point, ...]

    def has(self, kind: Kind) -> bool:
        """Whether anything of a kind is drawn."""
        items: tuple[Union[Outline, Line, Circle], ...] = (*self.outlines, *self.lines, *self.circles)
        return any(item.kind is kind for item in items)


PART_MIN_MM = 0.8
"""Smaller parts are left out of the picture of the first board."""


def drawing(array: Array) -> Drawing:
    """The display list of an array."""
    one = array.sizing
    return Drawing(
        size=(one.length, one.width),
        outlines=tuple(_outlines(array)),
        lines=tuple(Line(Kind.SCORE, score.start, score.end) for score in array.scores),
        circles=tuple(_circles(array)),
        dimensions=tuple(_dimensions(array)),
        numbers=tuple(_middle(outline) for outline in array.outlines),
    )


def _outlines(array: Array) -> Iterator[Outline]:
    yield Outline(Kind.WASTE, _rings(array.material))
    for outline in array.outlines:
        yield Outline(Kind.BOARD, _rings(outline))
    yield from _parts(array)
    over = [over.difference(outline) for over, outline in zip(array.overs, map(_filled, array.outlines))]
    shown = [shape for shape in over if shape.area > 1e-3]
    if shown:
        yield Outline(Kind.OVER, tuple(ring for shape in shown for ring in _rings(shape)))
    yield Outline(Kind.ROUTED, _rings(array.material))
    yield Outline(Kind.CORNER, tuple(_corner(array, n) for n in range(len(array.poses))))


def _filled(outline: shapely.Polygon) -> shapely.Polygon:
    return shapely.Polygon(outline.exterior)


def _parts(array: Array) -> Iterator[Outline]:
    bodies = [body for body in array.unit.bodies if max(np.ptp(shapely.get_coordinates(body), axis=0)) >= PART_MIN_MM]
    if bodies:
        placed = [array.poses[0].place(body).simplify(0.02) for body in bodies]
        yield Outline(Kind.PART, tuple(ring for body in placed for ring in _rings(body)))


def _corner(array: Array, n: int) -> Coords:
    """A small triangle in what is the board's lower left corner when nobody has turned it."""
    unit = array.unit
    side = min(6.0, unit.width / 5, unit.height / 5)
    triangle = np.array([[0.0, 0.0], [side, 0.0], [0.0, side]]) + side / 5
    # where the outline leaves its rectangle's corner free, farther in
    steps = (triangle + share * np.array([unit.width, unit.height]) for share in np.linspace(0.0, 0.5, 26))
    at = next((step for step in steps if unit.full.contains(shapely.Polygon(step))), triangle)
    return np.round(array.poses[n].points(at), 6) + 0.0


def _circles(array: Array) -> Iterator[Circle]:
    for tab in array.tabs:
        for hole in tab.holes:
            yield Circle(Kind.BREAK_HOLE, hole, array.break_hole)
    known = names(array)
    for spot in array.spots:
        if spot.kind == HOLE:
            yield Circle(Kind.TOOLING_HOLE, spot.at, spot.diameter, known[spot])
        else:
            yield Circle(Kind.CLEAR, spot.at, spot.clear)
            yield Circle(Kind.MARK, spot.at, spot.diameter, known[spot])


def _dimensions(array: Array) -> Iterator[Dimension]:
    """Board, pitch, whole; rails where there are some."""
    one = array.sizing
    left, low, right, high = (float(value) for value in array.outlines[0].bounds)
    for axis, start, end, step, count, whole in (
        ("x", left, right, one.step[0], one.columns, one.length),
        ("y", low, high, one.step[1], one.rows, one.width),
    ):
        if start > 1e-6:
            yield Dimension(axis, 0.0, start, 1)
        if end - start < whole - 1e-6:
            yield Dimension(axis, start, end, 1)
        if count > 1 and step - (end - start) > 1e-6:
            yield Dimension(axis, start, start + step, 2)
        yield Dimension(axis, 0.0, whole, 3 if count > 1 else 2)


def _middle(outline: shapely.Polygon) -> Point:
    """A point well inside."""
    at = outline.centroid
    if not outline.buffer(-min(2.0, outline.area**0.5 / 8)).contains(at):
        at = outline.representative_point()
    return round(float(at.x), 3), round(float(at.y), 3)


def _rings(shape: BaseGeometry) -> tuple[Coords, ...]:
    """All rings of an area in a fixed order, each from its lowest left point, straight stretches in one piece."""
    tidy = shapely.normalize(shapely.simplify(shape, 1e-5))
    return tuple(shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(shapely.get_parts(tidy)))
