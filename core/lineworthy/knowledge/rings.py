# SPDX-License-Identifier: MIT
"""What lies round a point of an outer layer: the nearest copper, legend, hole and edge, measured from the point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Edges, edges, width_and_length
from lineworthy.knowledge.looks import is_round, middle, span
from lineworthy.knowledge.marks import Fiducial
from lineworthy.knowledge.naming import quoted
from lineworthy.model import Board, CopperArea, Graphic, LayerKind, Marking, Pad, Part, Side, Track, Via
from lineworthy.shapes import ARC_TOL_MM, Area

Floats = npt.NDArray[np.float64]
Thing = Union[tuple[Part, Pad], Track, Via, CopperArea, Graphic, Marking]

KINDS = ("copper", "mask", "legend", "hole", "edge")
"""What can lie in a mark's clear ring, in the order it is reported."""


@dataclass(frozen=True)
class Gap:
    """The nearest thing of one kind: how far away its edge is, what it is, and the item where there is one."""

    kind: str
    distance: float
    label: str
    item: Optional[Thing] = None


def half_width(mark: Fiducial) -> float:
    """What a mark's clear ring is measured in: its radius, or half of the shorter side of what is not round, mm."""
    return mark.diameter / 2 if is_round(mark.shape) else width_and_length(mark.shape)[0] / 2


@dataclass(frozen=True)
class _Spot:
    """Where distances are taken from: a mark's centre, `inset` mm from its edge, or its whole shape."""

    mark: Fiducial
    shape: BaseGeometry
    inset: float

    @property
    def around(self) -> float:
        """How far the shape reaches from the mark's centre, mm."""
        return self.mark.diameter if not self.inset else 0.0


class Surroundings:
    """Measures round marks of a board; builds its indices once."""

    def __init__(self, board: Board) -> None:
        self._board = board

    def free_rings(self, mark: Fiducial, reach: float) -> list[Gap]:
        """The nearest thing of each kind within `reach` mm of a mark's edge; distances are ring widths.

        Copper of the mark itself is left out. A ring of 0 means that the mark touches or lies in the thing.
        """
        # from the centre where there is one: the chords of a circle would cost a ring some micrometres
        spot = _Spot(mark, shapely.Point(mark.at), mark.diameter / 2)
        if not is_round(mark.shape):
            spot = _Spot(mark, mark.shape, 0.0)
        found = [self._mask(mark)]
        nearby = (*self._copper(spot, reach + spot.inset), *self._legend(spot, reach + spot.inset))
        for gap in (*nearby, *self._holes(spot, reach + spot.inset), *self._edge(spot)):
            found.append(Gap(gap.kind, max(0.0, gap.distance - spot.inset), gap.label, gap.item))
        nearest: dict[str, Gap] = {}
        for gap in sorted(found, key=lambda g: (round(g.distance, 6), g.label)):
            nearest.setdefault(gap.kind, gap)
        return [nearest[kind] for kind in KINDS if kind in nearest and nearest[kind].distance <= reach]

    def unfilled_near(self, mark: Fiducial, reach: float) -> tuple[CopperArea, ...]:
        """Pours that have no fill in the document and would come within `reach` mm of the mark."""
        layer = self._board.copper_on(mark.side)
        zone = mark.shape.buffer(reach)
        return tuple(a for a in self._board.areas if a.unfilled and a.layer == layer and a.boundary.intersects(zone))

    def _mask(self, mark: Fiducial) -> Gap:
        radius = mark.diameter / 2
        if not mark.is_open:
            return Gap("mask", 0.0, "solder mask")
        if not is_round(mark.shape):
            return Gap("mask", mark.shape.distance(mark.opening.boundary) + ARC_TOL_MM, "solder mask")
        centre = shapely.Point(mark.at)
        if is_round(mark.opening):
            # through the diameters: chords would cost some micrometres of a ring that is exactly on its limit
            width = span(mark.opening) / 2 - centre.distance(shapely.Point(middle(mark.opening))) - radius
        else:
            width = centre.distance(mark.opening.boundary) + ARC_TOL_MM - radius
        return Gap("mask", max(0.0, width), "solder mask")

    def _copper(self, spot: _Spot, reach: float) -> Iterator[Gap]:
        board, mark = self._board, spot.mark
        layer = board.copper_on(mark.side)
        own = {id(pad) for pad in mark.pads} | {id(graphic) for graphic in mark.graphics}
        pads, tree = self._pads[mark.side]
        for index in tree.query(spot.shape, "dwithin", reach):
            part, pad = pads[index]
            if id(pad) not in own:
                label = f"{part.reference or 'unnamed part'} pad {pad.number}".strip()
                yield Gap("copper", spot.shape.distance(pad.copper[layer]), label, (part, pad))
        yield from self._tracks_near(layer, spot, reach)
        wide = reach + spot.around
        for index in np.flatnonzero(np.hypot(*(self._via_spots - mark.at).T) <= wide + self._via_radii):
            via = board.vias[index]
            if layer in via.span:
                distance = spot.shape.distance(shapely.Point(via.at)) - via.diameter_on(layer) / 2
                yield Gap("copper", distance, _of_net("via", via.net), via)
        yield from self._pours_near(layer, spot, reach)
        yield from self._drawn_near(LayerKind.COPPER, spot, reach, own)

    def _legend(self, spot: _Spot, reach: float) -> Iterator[Gap]:
        yield from self._drawn_near(LayerKind.LEGEND, spot, reach, set())

    def _drawn_near(self, kind: LayerKind, spot: _Spot, reach: float, own: set[int]) -> Iterator[Gap]:
        what = "copper" if kind is LayerKind.COPPER else "legend"
        items, shapes, tree = self._drawn(kind, spot.mark.side)
        for index in tree.query(spot.shape, "dwithin", reach):
            item = items[index]
            if id(item) not in own:
                label = f"text {quoted(item.text)}" if isinstance(item, Marking) else f"drawing on {item.layer.name}"
                yield Gap(what, spot.shape.distance(shapes[index]), label, item)

    def _holes(self, spot: _Spot, reach: float) -> Iterator[Gap]:
        at = spot.mark.at
        for part, hole in self._board.holes:
            if float(np.hypot(hole.at[0] - at[0], hole.at[1] - at[1])) <= reach + spot.around + max(hole.size) / 2:
                name = part.reference if part and part.reference else "unnamed part"
                yield Gap("hole", spot.shape.distance(hole.shape), f"hole of {name}", None)

    def _edge(self, spot: _Spot) -> Iterator[Gap]:
        if self._rim is not None:
            distances = shapely.distance(self._rim.lines, spot.shape)
            nearest = int(distances.argmin())
            # a curve that bulges out of its chord is further away than the chord
            bulge = max(float(self._rim.sagitta[nearest]), 0.0)
            yield Gap("edge", float(distances[nearest]) + bulge, "board edge")

    @cached_property
    def _rim(self) -> Optional[Edges]:
        area = self._board.outline.area
        return None if area.is_empty else edges(shapely.get_parts(area))

    def _tracks_near(self, layer: str, spot: _Spot, reach: float) -> Iterator[Gap]:
        tracks, starts, ends, halves = self._tracks(layer)
        near = segment_distances(np.array(spot.mark.at), starts, ends) <= reach + spot.around + halves
        for index in np.flatnonzero(near):
            track = tracks[index]
            distance = spot.shape.distance(shapely.LineString(track.path)) - track.width / 2
            if distance <= reach:
                yield Gap("copper", distance, _of_net("track", track.net), track)

    def _pours_near(self, layer: str, spot: _Spot, reach: float) -> Iterator[Gap]:
        at = np.array(spot.mark.at)
        wide = reach + spot.around
        for area in self._board.areas:
            if area.layer != layer:
                continue
            for ring in area.rings:
                if len(ring) < 3 or (ring.min(0) > at + wide).any() or (ring.max(0) < at - wide).any():
                    continue
                inside = winds_round(at, ring)
                distance = 0.0 if inside else float(spot.shape.distance(shapely.LinearRing(ring)))
                if distance <= reach:
                    # the edge of a pour round a circle is drawn with chords that cut into the free ring
                    yield Gap("copper", distance + (0.0 if inside else ARC_TOL_MM), _of_net("pour", area.net), area)

    @cached_property
    def _pads(self) -> dict[Side, tuple[list[tuple[Part, Pad]], shapely.STRtree]]:
        made = {}
        for side in Side:
            layer = self._board.copper_on(side)
            pads = [(part, pad) for part, pad in self._board.pads if layer in pad.copper]
            made[side] = (pads, shapely.STRtree([pad.copper[layer] for _, pad in pads]))
        return made

    def _drawn(self, kind: LayerKind, side: Side) -> tuple[list[Union[Graphic, Marking]], list[Area], shapely.STRtree]:
        if (kind, side) not in self._drawings:
            board = self._board
            items: list[Union[Graphic, Marking]] = [
                g for g in board.graphics if g.layer.kind is kind and g.layer.side is side
            ]
            shapes: list[Area] = [g.shape for g in board.graphics if g.layer.kind is kind and g.layer.side is side]
            for marking in board.shown_markings:
                if marking.layer.kind is kind and marking.layer.side is side and marking.text:
                    items.append(marking)
                    shapes.append(marking.extents)
            self._drawings[kind, side] = (items, shapes, shapely.STRtree(shapes))
        return self._drawings[kind, side]

    @cached_property
    def _drawings(
        self,
    ) -> dict[tuple[LayerKind, Side], tuple[list[Union[Graphic, Marking]], list[Area], shapely.STRtree]]:
        return {}

    @cached_property
    def _via_spots(self) -> Floats:
        return np.array([via.at for via in self._board.vias], dtype=float).reshape(-1, 2)

    @cached_property
    def _via_radii(self) -> Floats:
        return np.array([max([via.diameter, *via.diameters.values()]) / 2 for via in self._board.vias])

    @cached_property
    def _track_arrays(self) -> dict[str, tuple[list[Track], Floats, Floats, Floats]]:
        return {}

    def _tracks(self, layer: str) -> tuple[list[Track], Floats, Floats, Floats]:
        """Tracks of a layer, their ends, and how far their copper can reach beyond the line between the ends."""
        if layer not in self._track_arrays:
            tracks = [track for track in self._board.tracks if track.layer == layer]
            starts = np.array([track.start for track in tracks], dtype=float).reshape(-1, 2)
            ends = np.array([track.end for track in tracks], dtype=float).reshape(-1, 2)
            halves = np.array([track.width / 2 + _bulge(track) for track in tracks])
            self._track_arrays[layer] = (tracks, starts, ends, halves)
        return self._track_arrays[layer]


def segment_distances(spot: Floats, starts: Floats, ends: Floats) -> Floats:
    """Distance of a point from each of n segments, mm; arrays are (n, 2)."""
    along = ends - starts
    squared = (along**2).sum(1)
    share = ((spot - starts) * along).sum(1) / np.where(squared > 0, squared, 1.0)
    foot = starts + np.clip(share, 0.0, 1.0)[:, None] * along
    return np.asarray(np.hypot(*(spot - foot).T))


def winds_round(spot: Floats, ring: Floats) -> bool:
    """Whether a point lies in a ring, by the even-odd rule: zero-width cuts to holes cancel out."""
    x, y = ring[:, 0], ring[:, 1]
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    crosses = (y > spot[1]) != (next_y > spot[1])
    rise = np.where(crosses, next_y - y, 1.0)
    at = x + (spot[1] - y) / rise * (next_x - x)
    return bool((crosses & (spot[0] < at)).sum() % 2)


def _bulge(track: Track) -> float:
    if track.mid is None:
        return 0.0
    return float(max(np.hypot(track.mid[0] - end[0], track.mid[1] - end[1]) for end in (track.start, track.end)))


def _of_net(what: str, net: str) -> str:
    return f"{what} of net {net}" if net else f"{what} without net"
