# SPDX-License-Identifier: MIT
"""What a Gerber file draws, collected stroke by stroke and turned into areas many at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.shapes import Area, Coords, Point, healed, polygonal, quad_segs

POINTS_MAX = 30_000_000
"""Corners an image may have; no board comes near, a file made to fill the memory would."""
CROSSINGS_MAX = 200_000
"""Of a region with itself; plots have a few, a file made to take for ever has millions."""
_LONG, _SAMPLE = 1000, 300


class TooMuchError(ValueError):
    """An image that no board has, and that would fill the memory or take for ever."""


@dataclass(eq=False)
class Pen:
    """An aperture as it is drawn or flashed with: its area about the origin, and its diameter if it is a plain circle.

    `pieces` is set for a block aperture: areas with their polarity, in order.
    """

    area: Area
    diameter: float = -1.0
    pieces: tuple[tuple[bool, BaseGeometry], ...] = ()
    function: tuple[str, ...] = ()


@dataclass(eq=False)
class _Run:
    """Things of one polarity drawn one after another, which are one area whatever their order."""

    dark: bool
    regions: list[Coords] = field(default_factory=list)
    strokes: dict[int, list[Coords]] = field(default_factory=dict)
    flashes: dict[int, list[Point]] = field(default_factory=dict)
    shapes: list[BaseGeometry] = field(default_factory=list)


class Image:
    """Regions, strokes and flashes in the order of the file."""

    def __init__(self) -> None:
        self._runs: list[_Run] = []
        self._pens: dict[int, Pen] = {}
        self._size = 0

    def region(self, dark: bool, ring: Coords) -> None:
        """A filled contour, (n, 2) mm."""
        self._count(len(ring))
        if len(ring) > _LONG and _crossings(ring) > CROSSINGS_MAX:
            raise TooMuchError("a region crosses itself over and over")
        self._run(dark).regions.append(ring)

    def stroke(self, dark: bool, pen: Pen, path: Coords) -> None:
        """A path drawn with a pen, (n, 2) mm with n > 1."""
        self._count(len(path))
        self._run(dark).strokes.setdefault(self._known(pen), []).append(path)

    def flash(self, dark: bool, pen: Pen, at: Point) -> None:
        """An aperture put down once."""
        if pen.pieces:
            for is_dark, shape in pen.pieces:
                self.shape(is_dark == dark, affinity.translate(shape, *at))
            return
        self._count(4)
        self._run(dark).flashes.setdefault(self._known(pen), []).append(at)

    def shape(self, dark: bool, shape: BaseGeometry) -> None:
        """An area as it is."""
        self._count(int(shapely.get_num_coordinates(shape)))
        self._run(dark).shapes.append(shape)

    def add(self, other: Sequence[tuple[bool, BaseGeometry]], spots: Sequence[Point]) -> None:
        """The pieces of another image, once at each of these places."""
        self._count(len(spots) * sum(int(shapely.get_num_coordinates(shape)) for _, shape in other))
        for spot in spots:
            for dark, shape in other:
                self._run(dark).shapes.append(affinity.translate(shape, *spot))

    @property
    def pieces(self) -> tuple[tuple[bool, BaseGeometry], ...]:
        """Areas with their polarity, in the order in which they cover each other."""
        return tuple((run.dark, shapely.union_all(self._made(run))) for run in self._runs)

    def area(self) -> Area:
        """What is dark when all is drawn."""
        image: BaseGeometry = Polygon()
        for dark, shape in self.pieces:
            image = image.union(shape) if dark else image.difference(shape)
        return polygonal(image)

    def _run(self, dark: bool) -> _Run:
        if not self._runs or self._runs[-1].dark != dark:
            self._runs.append(_Run(dark))
        return self._runs[-1]

    def _known(self, pen: Pen) -> int:
        self._pens[id(pen)] = pen
        return id(pen)

    def _count(self, points: int) -> None:
        self._size += points
        if self._size > POINTS_MAX:
            raise TooMuchError("it draws more than any board holds")

    def _made(self, run: _Run) -> list[BaseGeometry]:
        shapes: list[BaseGeometry] = [*run.shapes, *(_region(ring) for ring in run.regions)]
        for key, paths in run.strokes.items():
            shapes += _strokes(self._pens[key], paths)
        for key, points in run.flashes.items():
            shapes += _flashes(self._pens[key], points)
        return shapes


def _region(ring: Coords) -> BaseGeometry:
    if len(ring) < 4:
        return Polygon()
    shape = Polygon(ring)
    return shape if shape.is_valid else polygonal(healed(shape))


def _crossings(ring: Coords) -> float:
    """How often a contour crosses itself, as far as a sample of it tells: to count them all could take for ever."""
    steps = np.asarray(shapely.linestrings(np.stack([ring[:-1], ring[1:]], axis=1)))
    sample = steps[:: len(steps) // _SAMPLE + 1]
    met = shapely.STRtree(steps).query(sample, predicate="crosses")
    return float(met.shape[1] * len(steps) / len(sample) / 2)


def _flashes(pen: Pen, points: list[Point]) -> list[BaseGeometry]:
    if pen.area.is_empty:
        return []
    corners = shapely.get_coordinates(pen.area)
    if isinstance(pen.area, Polygon) and not pen.area.interiors:
        rings = corners[None, :, :] + np.array(points)[:, None, :]
        return [Polygon(ring) for ring in rings]
    return [affinity.translate(pen.area, *at) for at in points]


def _strokes(pen: Pen, paths: list[Coords]) -> list[BaseGeometry]:
    if pen.diameter >= 0:
        if pen.diameter == 0:  # allowed, and draws nothing
            return []
        lines = shapely.linestrings(np.vstack(paths), indices=np.repeat(np.arange(len(paths)), [*map(len, paths)]))
        return list(
            shapely.buffer(np.asarray(lines, dtype=object), pen.diameter / 2, quad_segs=quad_segs(pen.diameter / 2))
        )
    if pen.area.is_empty:
        return []
    # any other aperture sweeps: between two points the hull of it at both, for the convex ones that old files use
    swept: list[BaseGeometry] = []
    for path in paths:
        spots = [affinity.translate(pen.area, *at) for at in path]
        swept += [shapely.convex_hull(shapely.union(a, b)) for a, b in zip(spots, spots[1:])]
    return swept
