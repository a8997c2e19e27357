# SPDX-License-Identifier: MIT
"""Where a probe pad would fit for nets that have none: on the net's own copper, or beside it.

A place is tried on a raster and along the net's tracks, so a better one may lie between. Pours of other nets are no
obstacle: they draw back when they are filled again. Whether a track can be led to a place is not looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple, Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import objects
from lineworthy.knowledge.copper import Piece, pieces
from lineworthy.knowledge.surroundings import Surroundings
from lineworthy.limits import TestAccessLimits
from lineworthy.model import Board, Side
from lineworthy.shapes import Point

CLEARANCE_MM = 0.2
"""Copper to copper where the net class says nothing (the editor's own default)."""

STEP_MM = 1.0
"""Places along tracks and on the raster are this far apart."""

REACHES_MM = (2.0, 8.0, 30.0)
"""How far from a net's copper room is looked for, before the whole board is."""

PLACES_MAX = 60
"""At most so many places on the copper of one net are tried."""

Floats = npt.NDArray[np.float64]

_NOWHERE: Floats = np.zeros((0, 2))


class Room(NamedTuple):
    """A place for a pad: how far it is from the net's copper on that side, 0 for on it."""

    at: Point
    side: Side
    away: float


class _Obstacles(NamedTuple):
    """Things no pad may touch: shapes, how far the pad's rim must stay away, and whose copper it is."""

    tree: shapely.STRtree
    gaps: Floats
    nets: npt.NDArray[np.object_]


class PadRoom:
    """Finds room for pads of one size on one side."""

    def __init__(
        self, board: Board, side: Side, limits: TestAccessLimits, surroundings: Surroundings, probes: Sequence[Point]
    ) -> None:
        self._board = board
        self._side = side
        self._limits = limits
        self._surroundings = surroundings
        self._probes = probes

    def nearest(self, nets: Iterable[str]) -> Mapping[str, Room]:
        """For each net the best place there is, none offered twice; nets without any are left out."""
        wanted = list(nets)
        places = [self._on_copper.get(net, _NOWHERE) for net in wanted]
        spots = np.vstack([*places, _NOWHERE])
        owner = np.repeat(np.arange(len(wanted)), [len(some) for some in places])
        names = np.array(wanted, dtype=object)[owner]
        usable = ~self._blocked(spots, names) if len(spots) else np.zeros(0, dtype=bool)
        raster = np.ones(len(self._free), dtype=bool)
        first = np.searchsorted(owner, np.arange(len(wanted) + 1))
        found: dict[str, Room] = {}
        for n, net in enumerate(wanted):
            rows = np.flatnonzero(usable[first[n] : first[n + 1]])
            room = self._room(spots[first[n] + rows[0]], 0.0) if len(rows) else self._beside(net, raster)
            if room is not None:
                found[net] = room
                # what is offered to one net is not offered to the next
                usable &= self._apart(spots, room.at)
                raster &= self._apart(self._free, room.at)
        return found

    def _apart(self, spots: Floats, at: Point) -> npt.NDArray[np.bool_]:
        away = np.hypot(spots[:, 0] - at[0], spots[:, 1] - at[1])
        return np.asarray(away >= self._limits.target_pitch_preferred_mm)

    def _room(self, spot: Floats, away: float) -> Room:
        return Room((float(spot[0]), float(spot[1])), self._side, away)

    def _beside(self, net: str, usable: npt.NDArray[np.bool_]) -> Optional[Room]:
        """The free spot of the raster nearest to a net's copper on this side, or to its pads where it has none here."""
        places = self._on_copper.get(net, _NOWHERE)
        if not len(places):
            places = np.array([pad.at for _, pad in self._board.pads_by_net.get(net, ())]).reshape(-1, 2)
        if not len(places) or not usable.any():
            return None
        copper = shapely.MultiPoint(places)
        for reach in (*REACHES_MM, np.inf):
            near = self._within(copper, reach, usable)
            if len(near):
                away = np.asarray(shapely.distance(copper, _points(self._free[near])))
                best = int(np.round(away, 6).argmin())
                return self._room(self._free[near[best]], float(away[best]))
        return None

    def _within(self, copper: BaseGeometry, reach: float, usable: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
        """Rows of the usable raster spots near some copper."""
        if np.isinf(reach):
            return np.flatnonzero(usable)
        rows = self._tree.query(copper, predicate="dwithin", distance=reach)
        return np.sort(rows[usable[rows]])

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(_points(self._free))

    @cached_property
    def _free(self) -> Floats:
        """Spots of a raster over the board where a pad of any net fits."""
        left, bottom, right, top = self._board.outline.area.bounds
        if not right - left > 0:
            return _NOWHERE
        x, y = np.meshgrid(np.arange(left + STEP_MM / 2, right, STEP_MM), np.arange(bottom + STEP_MM / 2, top, STEP_MM))
        spots = np.column_stack([x.ravel(), y.ravel()])
        return spots[~self._blocked(spots, None)]

    def _blocked(self, spots: Floats, nets: Optional[npt.NDArray[np.object_]]) -> npt.NDArray[np.bool_]:
        """Which places cannot hold a pad, each of the net that is given for it, or of none."""
        blocked = ~self._inside(spots)
        for things in self._obstacles:
            open_ = np.flatnonzero(~blocked)
            if not len(open_) or not len(things.gaps):
                continue
            reach = float(things.gaps.max()) + self._radius
            i, j = things.tree.query(shapely.points(spots[open_]), predicate="dwithin", distance=reach)
            apart = shapely.distance(shapely.points(spots[open_][i]), things.tree.geometries[j])
            near = apart < things.gaps[j] + self._radius - 1e-4
            if nets is not None:
                near &= (things.nets[j] == "") | (things.nets[j] != nets[open_][i])
            blocked[open_[i[near]]] = True
        return blocked

    def _inside(self, spots: Floats) -> npt.NDArray[np.bool_]:
        area = self._board.outline.area.buffer(-(self._radius + self._limits.target_to_edge_min_mm), quad_segs=4)
        shapely.prepare(area)
        return np.asarray(shapely.contains_xy(area, spots[:, 0], spots[:, 1]), dtype=bool)

    @property
    def _radius(self) -> float:
        return self._limits.target_preferred_mm / 2

    @cached_property
    def _here(self) -> list[Piece]:
        """All copper of the side but the pours, which draw back."""
        layer = self._board.copper_on(self._side)
        tracks = tuple(track for track in self._board.tracks if track.layer == layer)
        surface = replace(self._board, areas=(), tracks=tracks)
        return [piece for piece in pieces(surface) if piece.layer == layer]

    @cached_property
    def _obstacles(self) -> tuple[_Obstacles, ...]:
        # a land of the same net is in the way as well: its solder would run over
        copper = [(p.shape, p.half + self._clearance(p.net), "" if p.part else p.net) for p in self._here]
        apart = self._limits.target_pitch_preferred_mm - self._radius
        spots: list[_Row] = [(hole.shape, CLEARANCE_MM, "") for _, hole in self._board.holes]
        spots += [(shapely.Point(via.at), via.drill / 2, "") for via in self._board.vias]
        spots += [(shapely.Point(at), apart, "") for at in self._probes]
        bodies: list[_Row] = [(shape, gap, "") for shape, gap in self._surroundings.keep_out(self._side, self._limits)]
        return tuple(_obstacles(rows) for rows in (copper, spots, bodies))

    def _clearance(self, name: str) -> float:
        net = self._board.nets.get(name)
        rules = self._board.net_classes.get(net.net_class) if net else None
        return max(CLEARANCE_MM, (rules.clearance if rules else None) or 0.0)

    @cached_property
    def _on_copper(self) -> Mapping[str, Floats]:
        """Places on each net's own copper of the side: along its tracks, then its pours."""
        found: dict[str, list[Floats]] = {}
        for piece in self._here:
            if piece.kind == "track" and piece.net:
                steps = np.arange(0.0, piece.shape.length + STEP_MM / 2, STEP_MM)
                line = np.array([piece.shape], dtype=object)
                found.setdefault(piece.net, []).append(
                    shapely.get_coordinates(shapely.line_interpolate_point(line, steps))
                )
        for net, points in self._in_pours():
            found.setdefault(net, []).append(points)
        return {net: _thinned(np.vstack(groups)) for net, groups in found.items()}

    def _in_pours(self) -> Iterator[tuple[str, Floats]]:
        layer = self._board.copper_on(self._side)
        for area in self._board.areas:
            if area.layer == layer and area.net and area.rings:
                left, bottom, right, top = area.boundary.bounds
                step = max(STEP_MM, (right - left + top - bottom) / 40)
                x, y = np.meshgrid(np.arange(left, right, step), np.arange(bottom, top, step))
                spots = np.column_stack([x.ravel(), y.ravel()])
                kept = [shapely.contains_xy(shapely.Polygon(r), spots[:, 0], spots[:, 1]) for r in area.rings]
                yield area.net, spots[np.any(kept, axis=0)]


def _thinned(places: Floats) -> Floats:
    """Some of many places, evenly."""
    step = -(-len(places) // PLACES_MAX)
    return places[:: max(step, 1)]


def _points(spots: Floats) -> npt.NDArray[np.object_]:
    return np.asarray(shapely.points(spots), dtype=object)


_Row = tuple[BaseGeometry, float, str]


def _obstacles(rows: Sequence[_Row]) -> _Obstacles:
    shapes = objects(row[0] for row in rows)
    nets = np.array([row[2] for row in rows], dtype=object)
    return _Obstacles(shapely.STRtree(shapes), np.array([row[1] for row in rows], dtype=float), nets)
