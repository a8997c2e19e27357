# SPDX-License-Identifier: MIT
"""Where on a board something round still fits: exact free regions, worked out window by window.

Everything that may be in the way is kept in spatial indices by kind. A free region is the board shrunk by a disc's
distance to the edge, less every thing in a window widened by the disc's distance to it. Copper pours are no obstacle
here: they are filled again round whatever is inserted (see `pours`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from heapq import heappop, heappush
from typing import Callable, Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import objects
from lineworthy.knowledge.copper import centre_lines, spanned
from lineworthy.model import Board, Layer, LayerKind, Side
from lineworthy.shapes import ARC_TOL_MM, Area, Point, polygonal

GRID_MM = 0.05
"""Places are put on this grid where it costs nothing, because a person reads their coordinates."""

CLEARANCE_MM = 0.2
"""Copper to copper where the board's net classes say nothing (the editor's own default)."""

_QUAD = 8
_ROUND = 1 / float(np.cos(np.pi / (4 * _QUAD)))
"""Widening is drawn with chords: this much more, half a percent, and they lie outside of the true circle."""
_SLACK = 2 * ARC_TOL_MM
"""Added to every distance, because arcs of the board come as chords."""

TILE_MM = 12.0
"""Free regions are worked out in squares of this size: large ones cost more than in proportion."""

APART_MM = 1.0
"""Places offered one after the other are this far apart."""

Within = Callable[[BaseGeometry], BaseGeometry]


class Kind(Enum):
    """What can be in the way."""

    COPPER = "copper"
    MASK = "a mask opening"
    LEGEND = "legend"
    HOLE = "a hole"
    VIA = "the hole of a via"
    PART = "a part"
    COURTYARD = "a courtyard"
    RULE = "a rule area"
    PLANNED = "what else is to be inserted"
    EDGE = "the board edge"


BULKY = frozenset({Kind.PART, Kind.COURTYARD, Kind.RULE, Kind.HOLE})
"""Few things that take much room: what they leave is mostly small, and quickly held against the many small ones."""


@dataclass(frozen=True)
class Need:
    """A disc and what it must keep away from, edge to edge in mm; kinds that are not named do not matter.

    Attributes:
        radius: of the disc, mm.
        gaps: distance by kind.
        layers: copper layers it takes; rule areas of these count.
        sides: faces whose mask, legend and parts count.
        net: copper of this net is no obstacle.
    """

    radius: float
    gaps: Mapping[Kind, float]
    layers: tuple[str, ...]
    sides: tuple[Side, ...]
    net: str = ""


@dataclass(eq=False)
class _Things:
    """Things of one kind: a geometry each, how far it reaches beyond that, and how far others must stay anyway."""

    shapes: npt.NDArray[np.object_]
    half: npt.NDArray[np.float64]
    own_gap: npt.NDArray[np.float64]
    nets: npt.NDArray[np.object_]
    tree: shapely.STRtree = field(init=False)

    def __post_init__(self) -> None:
        self.tree = shapely.STRtree(self.shapes)
        self.reach = float((self.half + self.own_gap).max(initial=0.0))

    @classmethod
    def of(cls, batches: Iterator[Batch], gap_of: Mapping[str, float]) -> _Things:
        """Things in batches, gathered; empty ones are left out."""
        found = [(objects(shapes), half, objects(nets)) for shapes, half, nets in batches]
        shapes = np.concatenate([objects([]), *(batch[0] for batch in found)])
        half = np.concatenate([np.zeros(0), *(batch[1] for batch in found)])
        nets = np.concatenate([objects([]), *(batch[2] for batch in found)])
        kept = ~shapely.is_empty(shapes)
        own = np.array([gap_of.get(net, 0.0) for net in nets[kept]], dtype=float)
        return cls(shapes[kept], half[kept], own, nets[kept])

    def near(self, window: BaseGeometry, distance: float, net: str) -> npt.NDArray[np.intp]:
        """Indices of things that may come within `distance` of a window."""
        found = self.tree.query(window, "dwithin", distance + self.reach)
        return found if not net else found[self.nets[found] != net]


class Space:
    """The room left on a board; what is planned is reserved, so that later plans keep away from it."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self._planned: list[tuple[BaseGeometry, tuple[Side, ...]]] = []
        self._shrunk: dict[float, Area] = {}
        self._things: dict[tuple[Kind, object], _Things] = {}
        self._regions: dict[object, Area] = {}

    def reserve(self, shape: BaseGeometry, *sides: Side) -> None:
        """Keeps a place for what was planned there."""
        self._planned.append((shape, sides))

    def centres(self, window: BaseGeometry, need: Need) -> Area:
        """All places in a window where the centre of a disc can be."""
        inside = self.shrunk(need.radius + need.gaps.get(Kind.EDGE, 0.0) + _SLACK)
        return polygonal(self._free(polygonal(inside.intersection(window)), need))

    def nearest(self, target: Point, need: Need, within: Optional[Within] = None) -> Iterator[Point]:
        """Places for a disc in growing distance from a target, at least a millimetre apart.

        The board is gone through tile by tile, the nearest tile first; a place is given once no tile that is still to
        come can hold a nearer one.

        Args:
            target: where it would be best.
            need: what it needs.
            within: where in a tile it may be by what else is asked; empty for nowhere.
        """
        order = sorted((_distance(tile, target), n) for n, tile in enumerate(self._tiles))
        ahead = iter([*order, (np.inf, -1)])
        limit, n = next(ahead)
        regions: dict[int, BaseGeometry] = {}
        heap: list[tuple[float, Point, int]] = []
        given: list[Point] = []
        while n >= 0 or heap:
            if not heap or heap[0][0] > limit:
                regions[n] = self._in_tile(n, need) if within is None else self._in_part(within(self._tiles[n]), need)
                changed = n
                limit, n = next(ahead)
            else:
                _, spot, changed = heappop(heap)
                near = [old for old in given if _apart(old, spot) < APART_MM]
                if not near:
                    yield spot
                    given.append(spot)
                    near = [spot]
                taken = shapely.union_all(shapely.buffer(shapely.points(near), APART_MM * _ROUND, quad_segs=_QUAD))
                regions[changed] = regions[changed].difference(taken)
            if changed in regions and not regions[changed].is_empty:
                heappush(heap, (*_nearest(regions[changed], target), changed))

    def _in_tile(self, n: int, need: Need) -> Area:
        key = (n, need.radius, tuple(need.gaps.items()), need.layers, need.sides, need.net)
        if key not in self._regions:
            gaps: dict[Kind, float] = {kind: gap for kind, gap in need.gaps.items() if kind is not Kind.PLANNED}
            self._regions[key] = self.centres(self._tiles[n], replace(need, gaps=gaps))
        region = self._regions[key]
        return polygonal(region.difference(self._kept(need))) if self._planned and not region.is_empty else region

    def _in_part(self, asked: BaseGeometry, need: Need) -> BaseGeometry:
        """All places for a disc in a part of the board or on lines of it."""
        if asked.is_empty:
            return asked
        inside = self.shrunk(need.radius + need.gaps.get(Kind.EDGE, 0.0) + _SLACK)
        return self._free(asked.intersection(inside), need)

    @cached_property
    def _tiles(self) -> list[Area]:
        """The board in squares, those it does not reach left out."""
        area = self.board.outline.area
        low_x, low_y, high_x, high_y = area.bounds
        columns, rows = np.arange(low_x, high_x, TILE_MM), np.arange(low_y, high_y, TILE_MM)
        boxes = [shapely.box(x, y, x + TILE_MM, y + TILE_MM) for x in columns for y in rows]
        shapely.prepare(area)
        return [box for box in boxes if area.intersects(box)]

    def _kept(self, need: Need) -> BaseGeometry:
        """Where discs cannot be because of what is planned."""
        by = (need.radius + need.gaps.get(Kind.PLANNED, 0.0) + _SLACK) * _ROUND
        mine = [shape.buffer(by, quad_segs=_QUAD) for shape, sides in self._planned if set(sides) & set(need.sides)]
        return shapely.union_all(mine)

    def _free(self, region: BaseGeometry, need: Need) -> BaseGeometry:
        """What of a region is left for the centre of a disc: large things first, then the many small ones near it."""
        sources = list(self._sources(need))
        for bulky in (True, False):
            shapes: list[npt.NDArray[np.object_]] = []
            for kind, things, gap in sources:
                if region.is_empty:
                    return region
                if (kind in BULKY) is not bulky:
                    continue
                found = things.near(region, need.radius + gap + _SLACK, need.net if kind is Kind.COPPER else "")
                gaps = np.maximum(gap, things.own_gap[found]) + need.radius + things.half[found] + _SLACK
                shapes.append(shapely.buffer(things.shapes[found], gaps * _ROUND, quad_segs=_QUAD))
            if shapes:
                region = region.difference(shapely.union_all(np.concatenate(shapes)))
        return region.difference(self._kept(need)) if Kind.PLANNED in need.gaps and self._planned else region

    def room(self, spots: npt.NDArray[np.float64], need: Need, most: float) -> npt.NDArray[np.float64]:
        """Radius of the largest disc at each of some places (n, 2) that keeps all gaps, mm, and `most` at most.

        Below `need.radius` the answer is only a bound: a place that cannot hold it is not looked at any further.
        """
        points = np.asarray(shapely.points(spots), dtype=object)
        area = self.board.outline.area
        shapely.prepare(area)
        rim = shapely.distance(points, area.boundary) - need.gaps.get(Kind.EDGE, 0.0) - _SLACK
        radii = np.where(shapely.contains_xy(area, spots), np.minimum(rim, most), -1.0)
        for kind, things, gap in self._sources(need):
            alive = np.flatnonzero(radii >= need.radius)
            if not len(alive) or not len(things.shapes):
                continue
            reach = most + max(gap, float(things.own_gap.max())) + float(things.half.max()) + _SLACK
            i, j = things.tree.query(points[alive], predicate="dwithin", distance=reach)
            if kind is Kind.COPPER and need.net:
                other = things.nets[j] != need.net
                i, j = i[other], j[other]
            left = shapely.distance(points[alive[i]], things.shapes[j]) - things.half[j]
            np.minimum.at(radii, alive[i], left - np.maximum(gap, things.own_gap[j]) - _SLACK)
        for shape, sides in self._planned:
            if set(sides) & set(need.sides):
                radii = np.minimum(radii, shapely.distance(points, shape) - need.gaps.get(Kind.PLANNED, 0.0) - _SLACK)
        return np.asarray(radii)

    def obstacles(self, need: Need) -> tuple[npt.NDArray[np.object_], npt.NDArray[np.float64]]:
        """Everything in the way on the whole board, and the distance the centre of a disc must keep from each."""
        shapes = [things.shapes for _, things, _ in self._sources(need)]
        gaps = [np.maximum(gap, things.own_gap) + need.radius + things.half for _, things, gap in self._sources(need)]
        planned = [shape for shape, sides in self._planned if set(sides) & set(need.sides)]
        kept = objects(planned)
        return (
            np.concatenate([*shapes, kept]),
            np.concatenate([*gaps, np.full(len(planned), need.radius + need.gaps.get(Kind.PLANNED, 0.0))]),
        )

    def tightest(self, at: Point, need: Need) -> tuple[Kind, float, float]:
        """What leaves a disc at a place the least room: its kind, the gap there is, and the gap needed."""
        spot = shapely.Point(at)
        worst = (Kind.EDGE, float(spot.distance(self.board.outline.edge)) - need.radius, need.gaps.get(Kind.EDGE, 0.0))
        for kind, gap in need.gaps.items():
            for things in self._of_kind(kind, need):
                found = things.near(spot, need.radius + gap, need.net if kind is Kind.COPPER else "")
                if not len(found):
                    continue
                room = shapely.distance(things.shapes[found], spot) - things.half[found] - need.radius
                if float(room.min()) - gap < worst[1] - worst[2]:
                    worst = (kind, float(room.min()), gap)
        return worst

    def shrunk(self, by: float) -> Area:
        """The board less a rim, cut-outs widened by as much."""
        key = round(by, 6)
        if key not in self._shrunk:
            self._shrunk[key] = polygonal(self.board.outline.area.buffer(-by * _ROUND, quad_segs=_QUAD))
        return self._shrunk[key]

    def _sources(self, need: Need) -> Iterator[tuple[Kind, _Things, float]]:
        for kind, gap in need.gaps.items():
            for things in self._of_kind(kind, need):
                yield kind, things, gap

    def _of_kind(self, kind: Kind, need: Need) -> Iterator[_Things]:
        if kind in (Kind.EDGE, Kind.PLANNED):
            return
        keys: tuple[object, ...] = need.sides
        if kind is Kind.COPPER:
            keys = (need.layers,)  # together, because most of it goes through all of them
        elif kind is Kind.RULE:
            keys = need.layers
        elif kind in (Kind.HOLE, Kind.VIA):
            keys = (None,)
        for key in keys:
            if (kind, key) not in self._things:
                gaps = self._class_gaps if kind is Kind.COPPER else {}
                self._things[kind, key] = _Things.of(_COLLECT[kind](self.board, key), gaps)  # type: ignore[operator]
            yield self._things[kind, key]

    def clearance(self, net: str) -> float:
        """Copper of other nets to copper of this one."""
        return max(CLEARANCE_MM, self._class_gaps.get(net, 0.0))

    @cached_property
    def _class_gaps(self) -> dict[str, float]:
        classes = self.board.net_classes
        known = ((name, classes.get(net.net_class)) for name, net in self.board.nets.items())
        return {name: found.clearance for name, found in known if found and found.clearance}


def snapped(at: Point) -> Iterator[Point]:
    """Grid points round a place, nearest first."""
    column, row = round(at[0] / GRID_MM), round(at[1] / GRID_MM)
    spots = [(round((column + i) * GRID_MM, 4), round((row + j) * GRID_MM, 4)) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    return iter(sorted(spots, key=lambda spot: (spot[0] - at[0]) ** 2 + (spot[1] - at[1]) ** 2))


def _nearest(region: BaseGeometry, target: Point) -> tuple[float, Point]:
    """The point of a region nearest to a target, on the grid where a grid point beside it is in the region, too."""
    x, y = (float(v) for v in shapely.get_coordinates(shapely.shortest_line(region, shapely.Point(target)))[0])
    on_grid = (spot for spot in snapped((x, y)) if shapely.distance(region, shapely.Point(spot)) < 1e-9)
    return _apart((x, y), target), next(on_grid, (round(x, 6), round(y, 6)))


def _distance(tile: BaseGeometry, target: Point) -> float:
    return float(shapely.distance(tile, shapely.Point(target)))


def _apart(a: Point, b: Point) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


Batch = tuple[Iterable[BaseGeometry], "npt.NDArray[np.float64]", Sequence[str]]
"""Geometries, how far each thing reaches beyond its own, and nets."""


def _batch(rows: Sequence[tuple[BaseGeometry, str]]) -> Batch:
    return [shape for shape, _ in rows], np.zeros(len(rows)), [net for _, net in rows]


def _copper(board: Board, layers: tuple[str, ...]) -> Iterator[Batch]:
    """Copper on any of some layers, what is the same on several of them once."""
    wanted = set(layers)
    lands = [
        (pad, {id(copper): copper for layer, copper in pad.copper.items() if layer in wanted}) for _, pad in board.pads
    ]
    yield _batch([(copper, pad.net) for pad, shapes in lands for copper in shapes.values()])
    tracks = [track for track in board.tracks if track.layer in wanted]
    yield list(centre_lines(tracks)), np.array([track.width / 2 for track in tracks]), [track.net for track in tracks]
    reached = {span: wanted & set(found) for span, found in _spans(board).items()}
    vias = [via for via in board.vias if reached[via.span]]
    radii = [max(via.diameter_on(layer) for layer in reached[via.span]) / 2 for via in vias]
    yield _discs([via.at for via in vias], radii, [via.net for via in vias])
    yield _batch([(graphic.shape, graphic.net) for graphic in board.graphics if graphic.layer.name in wanted])
    yield _texts(board, lambda found: found.name in wanted)


def _spans(board: Board) -> dict[tuple[str, str], tuple[str, ...]]:
    """The copper layers of each span that a via of the board has."""
    return {via.span: tuple(spanned(board, via)) for via in {via.span: via for via in board.vias}.values()}


def _discs(spots: Sequence[Point], radii: Sequence[float], nets: Sequence[str]) -> Batch:
    points = np.asarray(shapely.points(np.array(spots, dtype=float).reshape(-1, 2)))
    return points, np.array(radii, dtype=float), nets


def _mask(board: Board, side: Side) -> Iterator[Batch]:
    yield _batch([(pad.mask[side], pad.net) for _, pad in board.pads if side in pad.mask])
    reached = {span: board.copper_on(side) in layers for span, layers in _spans(board).items()}
    vias = [via for via in board.vias if side not in via.tented and reached[via.span]]
    yield _discs([via.at for via in vias], [via.diameter / 2 for via in vias], [via.net for via in vias])
    yield from _drawn(board, LayerKind.MASK, side)


def _legend(board: Board, side: Side) -> Iterator[Batch]:
    yield from _drawn(board, LayerKind.LEGEND, side)


def _drawn(board: Board, kind: LayerKind, side: Side) -> Iterator[Batch]:
    yield _batch([(g.shape, "") for g in board.graphics if g.layer.kind is kind and g.layer.side is side])
    yield _texts(board, lambda found: found.kind is kind and found.side is side)


def _texts(board: Board, wanted: Callable[[Layer], bool]) -> Batch:
    return _batch([(m.extents, "") for m in board.shown_markings if m.text and wanted(m.layer)])


def _holes(board: Board, key: object) -> Iterator[Batch]:
    yield _batch([(hole.shape, "") for _, hole in board.holes])


def _vias(board: Board, key: object) -> Iterator[Batch]:
    yield _discs([v.at for v in board.vias], [v.drill / 2 for v in board.vias], [""] * len(board.vias))


def _parts(board: Board, side: Side) -> Iterator[Batch]:
    parts = [part for part in board.parts if part.side is side]
    yield _batch([(p.body if p.body is not None and not p.body.is_empty else p.extent, "") for p in parts])


def _courtyards(board: Board, side: Side) -> Iterator[Batch]:
    yield _batch([(part.courtyard[side], "") for part in board.parts if side in part.courtyard])


def _rules(board: Board, layer: str) -> Iterator[Batch]:
    yield _batch([(k.area, "") for k in board.keepouts if k.bans & {"pads", "parts"} and layer in k.layers])


_COLLECT = {
    Kind.COPPER: _copper,
    Kind.MASK: _mask,
    Kind.LEGEND: _legend,
    Kind.HOLE: _holes,
    Kind.VIA: _vias,
    Kind.PART: _parts,
    Kind.COURTYARD: _courtyards,
    Kind.RULE: _rules,
}
