# SPDX-License-Identifier: MIT
"""Holes that solder of a reflowed land can run into: vias in it or beside it, and heat vias drawn as pads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import NamedTuple, Optional, Union

import numpy as np
import shapely

from lineworthy.geometry import TOL_MM, objects
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.model import Board, Pad, PadKind, PadRole, Part, Side, Via
from lineworthy.shapes import Area, Point

METAL = 0.5
"""Share of printed paste that is metal after melting, by volume (common practice, no source)."""

CLOSED_FILL = 0.5
"""How far a hole fills that is covered on the far side, or ends inside the board: air is caught in it (common practice,
no source)."""

HEAT_LAND_RATIO = 3.0
HEAT_LAND_MIN_MM2 = 1.5
"""A land this much larger than the usual one of its part, and at least this large, is there to carry heat."""


HOLE_MIN_MM = 0.02
"""Vias drilled finer than any laser are drawn to have no hole at all."""

EDGE = 0.4
"""A hole belongs to a land while its centre lies outside by no more than this share of its radius: a quarter of its
mouth is in the land then. What only grazes the land counts as beside it."""


HEAT_VIA_MAX_MM = 0.6
"""A wider hole in a land of a surface part, or a slot, is there for a leg of the part."""

MARGIN_MAX_MM = 0.2
"""Mask openings are looked for up to this far from their land."""


class Kind(Enum):
    """What a land is to a hole in it."""

    HEAT = "heat land"
    ARRAY = "array land"
    SMALL = "land"


class _Hole(NamedTuple):
    item: Union[Via, tuple[Part, Pad]]
    at: Point
    diameter: float
    ring: float
    net: str
    sides: frozenset[Side]
    open_on: frozenset[Side]
    depth: float
    stopped: frozenset[Side] = frozenset()
    capped: bool = False


@dataclass(frozen=True, eq=False)
class Drain:
    """One hole in a land (`gap` 0) or beside it with no mask between that holds solder back.

    Attributes:
        gap: mask between the open copper of the hole and the land's opening, mm; 0 in a land.
        diameter: of the hole, mm.
        volume: what solder fills of the hole, mm3: all of it where it is open on the far side, else half.
        far_open: nothing covers it on the far side, as far as the board says.
    """

    land: Land = field(repr=False)
    item: Union[Via, tuple[Part, Pad]] = field(repr=False)
    at: Point
    diameter: float
    volume: float
    far_open: bool
    gap: float = 0.0


def heat_lands(lands: Sequence[Land]) -> frozenset[int]:
    """Which lands of one part are there for heat: their places in the sequence."""
    if len(lands) < 3:
        return frozenset()
    areas = np.array([land.copper.area for land in lands])
    usual = float(np.median(areas))
    large = (areas > HEAT_LAND_RATIO * usual) & (areas >= HEAT_LAND_MIN_MM2)
    declared = [n for n, land in enumerate(lands) if any(pad.role is PadRole.THERMAL for pad in land.pads)]
    return frozenset([*np.flatnonzero(large).tolist(), *declared])


def kinds(part: Part, joints: Joints, packages: Packages) -> dict[int, Kind]:
    """Kind of each land of a part, by identity of the land."""
    lands = joints.of(part)
    hot = heat_lands(lands)
    rest = Kind.ARRAY if packages.of(part).family is Family.ARRAY else Kind.SMALL
    return {id(land): Kind.HEAT if n in hot else rest for n, land in enumerate(lands)}


def solder_volume(land: Land, foil: float) -> float:
    """Solder on a land after reflow, mm3: the printed area times the foil's thickness, half of it metal."""
    return float(land.printed.area) * foil * METAL


class Drains(NamedTuple):
    """Holes in printed lands of fitted parts, and holes beside them with too little mask between.

    Attributes:
        inside: solder runs into them.
        beside: the same, past the edge of the land.
        stopped: in a land, filled or plugged at its face, and no copper over it: solder stays, and does not wet them.
    """

    inside: list[Drain]
    beside: list[Drain]
    stopped: list[Drain]


def drains(board: Board, joints: Joints, packages: Packages, dam: float) -> Drains:
    """Holes that matter to reflowed joints; `dam` is the mask that holds solder back, mm.

    Holes that the board says are filled and capped are left out, and so are those of another net.
    """
    found = Drains([], [], [])
    holes = [*_vias(board), *_heat_vias(board, packages)]
    for side in Side:
        here = [hole for hole in holes if side in hole.sides]
        lands = [land for land in joints.all if _takes_solder(land, side)]
        if not here or not lands:
            continue
        shapes = objects(land.bare for land in lands)
        points = np.asarray(shapely.points([hole.at for hole in here]), dtype=object)
        margin = _margin(lands, side)
        reach = np.array([max(hole.diameter / 2, hole.ring) for hole in here]) + dam + margin
        i, j = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=reach)
        gaps = shapely.distance(points[i], shapes[j])
        for n, m, gap in zip(i.tolist(), j.tolist(), gaps.tolist()):
            hole, land = here[n], lands[m]
            if hole.net != land.pad.net:
                continue
            in_land = gap <= EDGE * hole.diameter / 2 + TOL_MM
            if side in hole.stopped:
                if in_land and not hole.capped:
                    found.stopped.append(_drain(hole, land, side, 0.0))
            elif in_land:
                found.inside.append(_drain(hole, land, side, 0.0))
            elif not isinstance(hole.item, tuple):
                web = _web(hole, land, side, points[n])
                if web < dam - TOL_MM:
                    found.beside.append(_drain(hole, land, side, max(web, 0.0)))
    return found


def _takes_solder(land: Land, side: Side) -> bool:
    return land.part.side is side and land.part.fitted and land.is_printed and land.is_bare


def _margin(lands: Sequence[Land], side: Side) -> float:
    """How far an opening reaches beyond the copper of its land, at most; openings far larger are no margin."""
    opened = [(land.pad.mask[side], land.copper) for land in lands if side in land.pad.mask]
    if not opened:
        return 0.0
    openings, copper = (shapely.bounds(np.array(column, dtype=object)) for column in zip(*opened))
    return float(np.clip(np.abs(openings - copper).max(axis=1), 0.0, MARGIN_MAX_MM).max())


def _web(hole: _Hole, land: Land, side: Side, point: shapely.Point) -> float:
    """Mask between a hole and the opening of a land: from its bare ring, or from its wall where mask covers it."""
    openings = [pad.mask[side] for pad in land.pads if side in pad.mask] or [land.bare]
    apart = min(float(shapely.distance(point, opening)) for opening in openings)
    if side in hole.open_on:
        return apart - hole.ring
    # mask over the hole holds as long as the opening does not cut into it
    return np.inf if apart >= hole.diameter / 2 - TOL_MM else 0.0


def _drain(hole: _Hole, land: Land, side: Side, gap: float) -> Drain:
    far_open = side.other in hole.sides and side.other in hole.open_on
    volume = float(np.pi) / 4 * hole.diameter**2 * hole.depth * (1.0 if far_open else CLOSED_FILL)
    return Drain(land, hole.item, hole.at, hole.diameter, volume, far_open, gap)


def _vias(board: Board) -> Iterator[_Hole]:
    layers = max(len(board.copper_layers) - 1, 1)
    outer = [(side, board.copper_on(side)) for side in Side]
    for via in board.vias:
        if via.drill < HOLE_MIN_MM or (via.filled and via.capped):
            continue
        names = spanned(board, via)
        sides = frozenset(side for side, layer in outer if layer in names)
        depth = board.stackup.thickness * max(len(names) - 1, 0) / layers
        ring = max(via.diameter_on(layer) for _, layer in outer) / 2
        stopped = sides if via.filled else sides & via.plugged
        is_open = sides - via.tented - via.covered - stopped
        yield _Hole(via, via.at, via.drill, ring, via.net, sides, is_open, depth, stopped, via.capped)


def _heat_vias(board: Board, packages: Packages) -> Iterator[_Hole]:
    """Plated holes of a surface part that no lead goes through."""
    for part in board.parts:
        drilled = [pad for pad in part.pads if pad.kind is PadKind.THROUGH and pad.hole is not None and pad.copper]
        if not drilled:
            continue
        leads = {id(pad) for pad in packages.of(part).leads}
        for pad in drilled:
            if id(pad) not in leads and pad.hole is not None and max(pad.hole.size) <= HEAT_VIA_MAX_MM:
                wide = pad.hole.diameter
                far: Optional[Area] = pad.mask.get(part.side.other)
                open_on = frozenset([part.side, *([part.side.other] if far is not None else [])])
                ring = max(pad.size) / 2
                yield _Hole((part, pad), pad.at, wide, ring, pad.net, frozenset(Side), open_on, board.stackup.thickness)


def by_land(found: Sequence[Drain]) -> dict[Land, list[Drain]]:
    """Drains of each land, in the order found."""
    grouped: dict[Land, list[Drain]] = defaultdict(list)
    for drain in found:
        grouped[drain.land].append(drain)
    return grouped
