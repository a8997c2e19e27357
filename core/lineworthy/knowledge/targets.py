# SPDX-License-Identifier: MIT
"""Where a fixture can touch a net, and from which side.

A target is bare copper that nothing covers: a pad made for a probe, the soldered end of a lead, the ring of an open
via, a land no lead sits on. A connector counts as well, because a fixture plugs into it. Lands and leads of surface
parts never do: a probe on them can break the part, and its force closes a joint that is open.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import NamedTuple, Optional, Union

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from lineworthy.geometry import depth
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.holes import MOUNTING_NAME
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netparts import Role, is_edge_connector, role
from lineworthy.model import Board, Pad, PadKind, PadShape, Part, Side, Via
from lineworthy.shapes import Area, Point, polygonal


class TargetKind(Enum):
    """What a probe would touch, best first."""

    DEDICATED = "test pad"
    CONNECTOR = "connector pin"
    LEAD = "through-hole lead"
    LAND = "bare land"
    VIA = "open via"

    @property
    def rank(self) -> int:
        """0 for the best."""
        return list(TargetKind).index(self)

    @property
    def is_probed(self) -> bool:
        """Whether a probe has to hit it; a connector is plugged into."""
        return self is not TargetKind.CONNECTOR


@dataclass(frozen=True, eq=False)
class Target:
    """One place to touch a net.

    Attributes:
        diameter: of the largest circle in the copper that the mask leaves bare, mm.
        item: the pad, with its part, or the via.
    """

    net: str
    side: Side
    at: Point
    diameter: float
    kind: TargetKind
    item: Union[tuple[Part, Pad], Via] = field(repr=False)

    @property
    def label(self) -> str:
        """What to call it: part and pad, or the via."""
        if isinstance(self.item, Via):
            return "open via"
        part, pad = self.item
        return f"{part.reference} pad {pad.number}" if pad.number else part.reference


class _Bodies(NamedTuple):
    tree: shapely.STRtree
    owners: tuple[str, ...]


class Targets:
    """All places of a board where a fixture can touch a net, by net; each net is worked out when first asked for."""

    def __init__(self, board: Board, marks: Marks) -> None:
        self._board = board
        self._marks = marks
        self._found: dict[str, tuple[Target, ...]] = {}

    def of(self, net: str) -> tuple[Target, ...]:
        """The targets of a net on both sides, best kind first, then the widest."""
        if net not in self._found:
            found = [*self._on_pads(net), *self._on_vias(net)]
            found.sort(key=lambda target: (target.kind.rank, -target.diameter))
            self._found[net] = tuple(found)
        return self._found[net]

    def reach(self, net: str, diameter_min: float, side: Optional[Side] = None) -> Optional[Target]:
        """The best target of a net that a fixture can use, from one side or from either; None when there is none."""
        for target in self.of(net):
            wide = target.diameter >= diameter_min - 1e-4 or not target.kind.is_probed
            if wide and side in (None, target.side):
                return target
        return None

    def _on_pads(self, net: str) -> Iterator[Target]:
        for part, pad in self._board.pads_by_net.get(net, ()):
            for side in Side:
                kind = self._kind(part, pad, side)
                if kind is None or self._is_covered(pad.at, side, part, kind):
                    continue
                diameter = self._bare_diameter(part, pad, side)
                if diameter > 0 or not kind.is_probed:
                    yield Target(net, side, pad.at, diameter, kind, (part, pad))

    def _on_vias(self, net: str) -> Iterator[Target]:
        for via in self._board.vias_by_net.get(net, ()):
            for side in Side:
                layer = self._board.copper_on(side)
                if side in via.tented or layer not in spanned(self._board, via):
                    continue
                if not self._is_covered(via.at, side, None, TargetKind.VIA):
                    yield Target(net, side, via.at, via.diameter_on(layer), TargetKind.VIA, via)

    def _kind(self, part: Part, pad: Pad, side: Side) -> Optional[TargetKind]:
        """What a pad is to a fixture on one side, None for nothing."""
        bare = side in pad.mask and self._board.copper_on(side) in pad.copper
        drilled = pad.hole is not None and pad.hole.plated
        if bare and self._marks.is_test_point(pad):
            return TargetKind.DEDICATED
        if self._is_connector(part):
            # contact fingers are where their copper is; others open to the part's side and are soldered on the far one
            facing = bare if pad.kind is PadKind.CONNECTOR else drilled or side is part.side
            return TargetKind.CONNECTOR if facing else None
        if not bare or self._marks.is_fiducial(pad):
            return None
        if drilled and part.fitted and not _is_mounting(part):
            return TargetKind.LEAD if side is part.side.other else None
        return TargetKind.LAND if drilled or _is_bare(part) else None

    def _is_connector(self, part: Part) -> bool:
        return part.fitted and self._connectors[part.uid]

    @cached_property
    def _connectors(self) -> Mapping[str, bool]:
        return {part.uid: _is_connector(part) for part in self._board.parts}

    def _bare_diameter(self, part: Part, pad: Pad, side: Side) -> float:
        copper, opening = pad.copper.get(self._board.copper_on(side)), pad.mask.get(side)
        if copper is None or opening is None:
            return 0.0
        if pad.hole is not None and _is_mounting(part):
            copper = polygonal(copper.difference(pad.hole.shape))
        elif opening.covers(copper) and min(pad.size) > 0 and pad.shape in _PLAIN:
            return min(pad.size)
        return largest_circle(copper if opening.covers(copper) else polygonal(copper.intersection(opening)))

    def _is_covered(self, at: Point, side: Side, own: Optional[Part], kind: TargetKind) -> bool:
        """Whether a part's body lies over a point; a test pad's own body does not count, and plugs find their way."""
        if kind is TargetKind.CONNECTOR:
            return False
        tree, owners = self._bodies[side]
        hits = tree.query(shapely.Point(at), predicate="intersects")
        mine = own.uid if own is not None and kind is not TargetKind.LAND else ""
        return any(owners[hit] != mine for hit in hits)

    @cached_property
    def _bodies(self) -> Mapping[Side, _Bodies]:
        """What stands on each side: bodies as drawn; leads are in the way only where they are."""
        shapes: dict[Side, list[BaseGeometry]] = {side: [] for side in Side}
        owners: dict[Side, list[str]] = {side: [] for side in Side}
        for part in self._board.parts:
            body = _body(part)
            if body is not None and part.fitted and not any(self._marks.is_test_point(pad) for pad in part.pads):
                shapes[part.side].append(body)
                owners[part.side].append(part.uid)
        return {side: _Bodies(shapely.STRtree(shapes[side]), tuple(owners[side])) for side in Side}


_PLAIN = (PadShape.CIRCLE, PadShape.OVAL, PadShape.RECTANGLE, PadShape.ROUNDED)
"""Shapes whose largest circle is as wide as their shorter side."""


def largest_circle(shape: Area) -> float:
    """Diameter of the largest circle that fits into a shape, arcs counted as arcs; 0 for nothing."""
    best = 0.0
    for piece in shapely.get_parts(shape):
        if piece.is_empty or piece.area < 1e-6:
            continue
        # the middle of a symmetric shape is exact where the search is within its tolerance
        spots = [_roomiest(piece), piece.centroid]
        best = max([best, *(2 * depth(spot, piece) for spot in spots if piece.covers(spot))])
    return best


def _roomiest(piece: shapely.Polygon) -> shapely.Point:
    """Centre of the largest circle in a polygon, within a micrometre."""
    if hasattr(shapely, "maximum_inscribed_circle"):
        return shapely.Point(shapely.get_coordinates(shapely.maximum_inscribed_circle(piece, 1e-3))[0])
    return polylabel(piece, 1e-3)  # Python 3.9 ends with shapely 2.0, which lacks the faster search


def _body(part: Part) -> Optional[Area]:
    """What covers the board under a part: its body, or the hull of its lands where none is drawn."""
    if part.body is not None and not part.body.is_empty:
        return part.body
    lands = [pad for pad in part.pads if pad.paste]
    if len(lands) < 3 or part.board_only:
        return None
    hull = shapely.convex_hull(shapely.multipoints(np.array([pad.at for pad in lands])))
    return hull if isinstance(hull, shapely.Polygon) else None


def _is_connector(part: Part) -> bool:
    return (role(part) is Role.CONNECTOR and not _is_solder_jumper(part)) or is_edge_connector(part)


def _is_solder_jumper(part: Part) -> bool:
    return "jumper" in part.package.lower() and not any(pad.hole for pad in part.pads)


def _is_bare(part: Part) -> bool:
    """Whether nothing sits on a part's lands: not fitted, or never placed and without paste, as a solder jumper is."""
    if not part.fitted:
        return True
    return not part.in_placement and not any(pad.paste for pad in part.pads)


def _is_mounting(part: Part) -> bool:
    return bool(MOUNTING_NAME.search(part.package))
