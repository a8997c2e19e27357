# SPDX-License-Identifier: MIT
"""The board as a display list: what to paint, back to front, for one side. The report and the dialog both draw it.

Frame: mm, y up, **as seen from that side**: the bottom is mirrored in x about the middle of the bounds, places of
findings included. The list is a map to find one's way by, not a fabrication drawing: shapes are simplified to what a
page can show, and what was left out is said in `Picture.omitted`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from itertools import repeat
from typing import Callable, Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Finding
from lineworthy.geometry import thinned
from lineworthy.model import Board, CopperArea, Layer, LayerKind, Marking, MarkingRole, PadShape, Part, Side, Track
from lineworthy.shapes import Coords, Point

POUR_POINTS_MAX = 60_000
"""Pours with more corners than this (after simplifying) are drawn as their boundaries only."""

DETAIL = 5000
"""The longer side of the map divided by this is the smallest detail kept: a fifth of a pixel on a 1000 pixel map."""

OPENING_STANDS_OUT = 1.5
"""A mask opening this many times larger than its copper is drawn (marks); others coincide with the land."""

_POLYGON = 3

LABEL_SHARE = 0.022
"""Largest height of a part's name, as a share of the map's longer side."""


class Role(Enum):
    """What a coat stands for, in painting order."""

    BOARD = "board"
    POUR = "pour"
    COPPER = "copper"
    OPENING = "opening"
    LAND = "land"
    COURTYARD = "courtyard"
    BODY = "body"
    UNFITTED = "unfitted"
    LEGEND = "legend"
    HOLE = "hole"
    EDGE = "edge"


@dataclass(frozen=True, eq=False)
class Stroke:
    """Lines of one width with round ends; a path of one point is a dot."""

    width: float
    paths: tuple[Coords, ...] = field(repr=False)


@dataclass(frozen=True, eq=False)
class Coat:
    """Everything of one role.

    Attributes:
        rings: closed outlines as (n, 2) arrays, first point not repeated. Outsides and holes run opposite ways, so
            filling by the non-zero rule is right even where shapes overlap.
        strokes: lines.
    """

    role: Role
    rings: tuple[Coords, ...] = field(default=(), repr=False)
    strokes: tuple[Stroke, ...] = ()


@dataclass(frozen=True)
class Words:
    """A line of text to be fitted into a box. Hostile, as all text of a board.

    Attributes:
        at: middle of the box.
        size: (along, across) in mm.
        rotation: degrees, within -90 (not reached) to 90, so that it never stands on its head.
        is_label: not on the board: the name of a part whose reference is not printed.
    """

    text: str
    at: Point
    size: tuple[float, float]
    rotation: float = 0.0
    is_label: bool = False


@dataclass(frozen=True)
class Bounds:
    """The rectangle a picture shows, mm."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def span(self) -> float:
        """The longer side."""
        return max(self.right - self.left, self.top - self.bottom)

    def padded(self, by: float) -> Bounds:
        """Larger by so much on each side."""
        return Bounds(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def nearest(self, at: Point) -> Point:
        """The point itself, or the nearest on the rim; a corner for what is not a number."""
        return min(max(self.left, at[0]), self.right), min(max(self.bottom, at[1]), self.top)


@dataclass(frozen=True)
class Spot:
    """A place of a finding on this side, by the positions of finding and place in what was given."""

    finding: int
    place: int
    at: Point


@dataclass(frozen=True, eq=False)
class Picture:
    """One side of a board, ready to paint.

    Attributes:
        coats: back to front.
        spots: where findings lie; a place without a side is shown on the top.
        omitted: what a person should know is not drawn, in words.
    """

    side: Side
    bounds: Bounds
    coats: tuple[Coat, ...]
    words: tuple[Words, ...]
    spots: tuple[Spot, ...]
    omitted: tuple[str, ...]

    @property
    def detail(self) -> float:
        """The smallest detail kept, mm."""
        return self.bounds.span / DETAIL


def draw(board: Board, side: Side, findings: Sequence[Finding] = ()) -> Picture:
    """The display list of one side, with the places of `findings` on it."""
    bounds = board_bounds(board)
    view = _View(side, bounds, max(bounds.span / DETAIL, 0.005))
    pours, omitted = _pours(board, view)
    coats = [
        Coat(Role.BOARD, view.rings([board.outline.area])),
        pours,
        _copper(board, view),
        *_lands(board, view),
        *_bodies(board, view),
        Coat(Role.LEGEND, view.rings(_graphics(board, LayerKind.LEGEND, side))),
        _holes(board, view),
    ]
    if not board.outline.is_closed:
        drawn = [g.shape for g in board.graphics if g.layer.kind is LayerKind.OUTLINE]
        coats.append(Coat(Role.EDGE, view.rings(drawn)))
    order = list(Role)
    coats.sort(key=lambda coat: order.index(coat.role))
    if len(board.copper_layers) > 2:
        omitted = (*omitted, "Inner layers are not drawn.")
    return Picture(
        side=side,
        bounds=bounds,
        coats=tuple(coat for coat in coats if coat.rings or coat.strokes),
        words=(*_printed(board, view), *_labels(board, view)),
        spots=_spots(view, findings),
        omitted=omitted,
    )


def pinned(picture: Picture, findings: Sequence[Finding]) -> Picture:
    """The same picture with the places of other findings on it."""
    return replace(picture, spots=_spots(_View(picture.side, picture.bounds, picture.detail), findings))


def _spots(view: _View, findings: Sequence[Finding]) -> tuple[Spot, ...]:
    room = view.bounds.padded(view.bounds.span * 0.04)
    return tuple(
        Spot(f, p, room.nearest(view.point(place.at)))
        for f, finding in enumerate(findings)
        for p, place in enumerate(finding.places)
        if (place.side or Side.TOP) is view.side
    )


def board_bounds(board: Board) -> Bounds:
    """The board's outline, or what lies on it where there is none; never without extent."""
    sources: tuple[Callable[[], list[BaseGeometry]], ...] = (
        lambda: [board.outline.area],
        lambda: [g.shape for g in board.graphics if g.layer.kind is LayerKind.OUTLINE],
        lambda: [part.extent for part in board.parts],
        lambda: [shapely.LineString(track.path) for track in board.tracks],
    )
    for shapes in sources:
        left, bottom, right, top = shapely.GeometryCollection(shapes()).bounds  # nan when there is nothing
        if max(right - left, top - bottom) > 0:
            return Bounds(left, bottom, right, top)
    return Bounds(0.0, 0.0, 10.0, 10.0)


@dataclass(frozen=True)
class _View:
    """Takes shapes of the board into the picture: mirrors the bottom, drops detail nobody can see."""

    side: Side
    bounds: Bounds
    detail: float

    def point(self, at: Point) -> Point:
        x = at[0] if self.side is Side.TOP else self.bounds.left + self.bounds.right - at[0]
        return x, at[1]

    def coords(self, coords: Coords) -> Coords:
        if self.side is Side.TOP:
            return coords
        return np.column_stack([self.bounds.left + self.bounds.right - coords[:, 0], coords[:, 1]])

    def rings(self, shapes: Iterable[BaseGeometry]) -> tuple[Coords, ...]:
        """Rings of areas, simplified."""
        polygons = shapely.get_parts(np.array(list(shapes), dtype=object))
        polygons = polygons[~shapely.is_empty(polygons) & (shapely.get_type_id(polygons) == _POLYGON)]
        rings, owner = shapely.get_rings(polygons, return_index=True)
        points, of_ring = shapely.get_coordinates(rings, return_index=True)
        loops = np.split(points, np.flatnonzero(np.diff(of_ring)) + 1) if len(rings) else []
        outside = np.diff(owner, prepend=-1) != 0
        return self.loops(loops, outside)

    def loops(self, loops: Sequence[Coords], outside: Iterable[bool], coarser: float = 1.0) -> tuple[Coords, ...]:
        """Closed loops (first point repeated), thinned; before mirroring outsides run counter-clockwise."""
        made: list[Coords] = []
        for loop, is_outside in zip(thinned(loops, self.detail * coarser), outside):
            points = loop[:-1]
            if len(points) >= 3:
                ccw = _is_ccw(loop)
                made.append(self.coords(points if ccw == is_outside else points[::-1]))
        return tuple(made)


def _is_ccw(loop: Coords) -> bool:
    """Whether a closed loop runs counter-clockwise, by its signed area."""
    x, y = (loop - loop[0]).T  # about a corner, so that a small loop far out keeps its digits
    return bool(x[:-1] @ y[1:] > y[:-1] @ x[1:])


def _copper(board: Board, view: _View) -> Coat:
    """Tracks, vias and drawn copper of the outer layer."""
    layer = board.copper_on(view.side)
    lines: dict[float, list[Coords]] = {}
    dots: dict[float, list[Coords]] = {}
    chain: list[Track] = []
    for track in [t for t in board.tracks if t.layer == layer]:
        if chain and (chain[-1].end != track.start or round(chain[-1].width, 2) != round(track.width, 2)):
            _end_chain(chain, lines)
        chain.append(track)
    _end_chain(chain, lines)
    for via in board.vias:
        if layer in via.span:
            dots.setdefault(round(via.diameter_on(layer), 2), []).append(view.coords(np.array([via.at])))
    drawn = [g.shape for g in board.graphics if g.layer.kind is LayerKind.COPPER and g.layer.name == layer]
    strokes = [
        Stroke(width, tuple(view.coords(path) for path in thinned(paths, view.detail)))
        for width, paths in sorted(lines.items())
    ]
    return Coat(Role.COPPER, view.rings(drawn), (*strokes, *_dots(dots)))


def _dots(by_diameter: dict[float, list[Coords]]) -> tuple[Stroke, ...]:
    return tuple(Stroke(diameter, tuple(paths)) for diameter, paths in sorted(by_diameter.items()))


def _end_chain(chain: list[Track], by_width: dict[float, list[Coords]]) -> None:
    """Puts tracks that run on from one another down as one path."""
    if chain:
        points = np.vstack([chain[0].path, *[track.path[1:] for track in chain[1:]]])
        by_width.setdefault(round(chain[0].width, 2), []).append(points)
        chain.clear()


def _pours(board: Board, view: _View) -> tuple[Coat, tuple[str, ...]]:
    """Filled pours of the outer layer, or their boundaries where the fills are too much for a page."""
    areas = [area for area in board.areas if area.layer == board.copper_on(view.side)]
    rings = [np.vstack([ring, ring[:1]]) for area in areas for ring in area.rings if len(ring) >= 3]
    loops = view.loops(rings, repeat(True), coarser=2.0)
    omitted: list[str] = []
    if any(area.unfilled for area in areas):
        omitted.append("Pours that are not filled in the document are not drawn.")
    if sum(map(len, loops)) > POUR_POINTS_MAX:
        omitted.append("Copper pours are too fine for this map and drawn as their boundaries.")
        return Coat(Role.POUR, view.rings(_boundaries(areas))), tuple(omitted)
    return Coat(Role.POUR, loops), tuple(omitted)


def _boundaries(areas: Iterable[CopperArea]) -> list[BaseGeometry]:
    return [area.boundary for area in areas if not area.unfilled]


def _lands(board: Board, view: _View) -> Iterable[Coat]:
    """Bare copper of pads, and mask openings that differ from it."""
    layer = board.copper_on(view.side)
    shapes: list[BaseGeometry] = []
    dots: dict[float, list[Coords]] = {}
    openings: list[BaseGeometry] = _graphics(board, LayerKind.MASK, view.side)
    for _, pad in board.pads:
        copper, opening = pad.copper.get(layer), pad.mask.get(view.side)
        bare = copper if copper is not None else pad.hole.shape if pad.hole is not None else None
        if copper is not None and pad.shape is PadShape.CIRCLE and pad.size[0] > 0:
            centre = copper.centroid
            dots.setdefault(round(pad.size[0], 2), []).append(view.coords(np.array([(centre.x, centre.y)])))
        elif copper is not None:
            shapes.append(copper)
        if opening is not None and (bare is None or opening.area > OPENING_STANDS_OUT * bare.area):
            openings.append(opening)
    yield Coat(Role.OPENING, view.rings(openings))
    yield Coat(Role.LAND, view.rings(shapes), _dots(dots))


def _bodies(board: Board, view: _View) -> Iterable[Coat]:
    here = [part for part in board.parts if part.side is view.side]
    yield Coat(Role.COURTYARD, view.rings(p.courtyard[view.side] for p in here if view.side in p.courtyard))
    yield Coat(Role.BODY, view.rings(p.body for p in here if p.body is not None and p.fitted))
    yield Coat(Role.UNFITTED, view.rings(p.body for p in here if p.body is not None and not p.fitted))


def _holes(board: Board, view: _View) -> Coat:
    dots: dict[float, list[Coords]] = {}
    for _, hole in board.holes:
        if not hole.is_slot:
            dots.setdefault(round(hole.diameter, 2), []).append(view.coords(np.array([hole.at])))
    return Coat(Role.HOLE, view.rings(hole.shape for _, hole in board.holes if hole.is_slot), _dots(dots))


def _graphics(board: Board, kind: LayerKind, side: Side) -> list[BaseGeometry]:
    return [g.shape for g in board.graphics if _is(g.layer, kind, side)]


def _is(layer: Layer, kind: LayerKind, side: Side) -> bool:
    return layer.kind is kind and layer.side is side


def _is_printed(marking: Marking, side: Side) -> bool:
    made = marking.layer.kind in (LayerKind.LEGEND, LayerKind.COPPER)
    return made and marking.layer.side is side and bool(marking.text.strip())


def _printed(board: Board, view: _View) -> Iterable[Words]:
    """Legend and copper text of this side, line by line."""
    for marking in board.shown_markings:
        if not _is_printed(marking, view.side) or marking.extents.is_empty:
            continue
        level = shapely.transform(marking.extents, lambda points, turn=-marking.rotation: _turned(points, turn))
        left, bottom, right, top = level.bounds
        lines = [line.strip() for line in marking.text.splitlines() if line.strip()]
        longest = max(len(line) for line in lines)
        for n, line in enumerate(lines):
            middle = ((left + right) / 2, top - (n + 0.5) * (top - bottom) / len(lines))
            at = _turned(np.array([middle]), marking.rotation)[0]
            size = ((right - left) * len(line) / longest, (top - bottom) / len(lines))
            yield Words(line, view.point((float(at[0]), float(at[1]))), size, _upright(marking.rotation, view.side))


def _labels(board: Board, view: _View) -> Iterable[Words]:
    """Names for parts whose reference is not printed, over their bodies."""
    named = {m.part_uid for m in board.shown_markings if m.role is MarkingRole.REFERENCE and _is_printed(m, view.side)}
    for part in board.parts:
        box = _box(part)
        if part.side is view.side and part.uid not in named and part.reference and box is not None:
            left, bottom, right, top = box.bounds
            wide = right - left >= top - bottom
            along, across = max(right - left, top - bottom), min(right - left, top - bottom)
            height = min(across * 0.7, along * 1.3 / len(part.reference), view.bounds.span * LABEL_SHARE)
            at = view.point(((left + right) / 2, (bottom + top) / 2))
            size = (height * 0.62 * len(part.reference), height)
            yield Words(part.reference, at, size, 0.0 if wide else 90.0, is_label=True)


def _box(part: Part) -> Optional[BaseGeometry]:
    if part.body is not None and not part.body.is_empty:
        return part.body
    return part.extent if len(part.pads) > 1 and isinstance(part.extent, Polygon) and part.extent.area > 0 else None


def _turned(points: Coords, degrees: float) -> Coords:
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    turned: Coords = points @ matrix
    return turned


def _upright(rotation: float, side: Side) -> float:
    """The text's axis as seen from the side, turned so that it can be read."""
    angle = (rotation if side is Side.TOP else -rotation) % 180.0
    return angle - 180.0 if angle > 90.0 + 1e-6 else angle
