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
from functools import cached_property, lru_cache
from typing import NamedTuple, Optional, Union

import numpy as np
import shapely
from shapely.ops import polylabel

from lineworthy.geometry import depth, falls_short
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.holes import MOUNTING_NAME
from lineworthy.knowledge.looks import Basis
from lineworthy.knowledge.marks import Marks, TestPoint
from lineworthy.knowledge.netparts import Role, is_edge_connector, role
from lineworthy.knowledge.wording import mm, natural
from lineworthy.model import Board, LayerKind, Pad, PadKind, PadShape, Part, Side, Via
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
        return pad_label(*self.item)

    @property
    def part_pad(self) -> tuple[Part, Pad]:
        """The pad with its part; asked of what is no via."""
        assert not isinstance(self.item, Via)
        return self.item

    @property
    def own(self) -> Optional[Part]:
        """The part it belongs to, None for a via."""
        return None if isinstance(self.item, Via) else self.item[0]


class Loss(Enum):
    """What makes a pad that was made for probes useless."""

    MASK = "covered by solder mask"
    BODY = "under a part"


@dataclass(frozen=True, eq=False)
class Lost:
    """A pad made for probes that no probe touches, and why.

    Attributes:
        side: where its copper is; the bottom when on both.
        under: the part that covers it, None when the mask does.
    """

    net: str
    side: Side
    at: Point
    loss: Loss
    part: Part = field(repr=False)
    pad: Pad = field(repr=False)
    under: Optional[Part] = field(default=None, repr=False)

    @property
    def label(self) -> str:
        """What to call it: part and pad."""
        return pad_label(self.part, self.pad)


class _Bodies(NamedTuple):
    tree: shapely.STRtree
    owners: tuple[Part, ...]


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
            wide = not falls_short(target.diameter, diameter_min) or not target.kind.is_probed
            if wide and side in (None, target.side):
                return target
        return None

    def lack(self, net: str, diameter_min: float, side: Optional[Side] = None) -> str:
        """Why a fixture cannot use a net, from one side or from either; empty when it can."""
        if self.reach(net, diameter_min, side) is not None:
            return ""
        narrow = [target for target in self.of(net) if side in (None, target.side)]
        if narrow:
            widest = max(narrow, key=lambda target: target.diameter)
            return f"{widest.label} is {mm(widest.diameter)} mm wide, {mm(diameter_min)} mm needed"
        for lost in self.lost:
            if lost.net == net and side in (None, lost.side):
                return f"{lost.label} is under {lost.under.reference}" if lost.under else f"{lost.label} is under mask"
        return "no bare copper"

    @cached_property
    def all(self) -> tuple[Target, ...]:
        """Every target of every net, by net in natural order."""
        names = {*self._board.pads_by_net, *self._board.vias_by_net}
        return tuple(
            target for name in sorted(names, key=lambda name: (natural(name), name)) for target in self.of(name)
        )

    @cached_property
    def dedicated(self) -> tuple[Target, ...]:
        """The targets on pads that somebody declared or called test pads, in natural order of their parts."""
        declared = {id(point.pad): point.net for point in self._declared}
        found = [
            target
            for net in set(declared.values())
            for target in self.of(net)
            if target.kind is TargetKind.DEDICATED and id(target.part_pad[1]) in declared
        ]
        return tuple(sorted(found, key=lambda target: (natural(target.label), target.net, target.side.value)))

    @cached_property
    def _declared(self) -> tuple[TestPoint, ...]:
        return tuple(point for point in self._marks.test_points if point.net and point.basis is not Basis.LOOKS)

    @cached_property
    def lost(self) -> tuple[Lost, ...]:
        """Pads made for probes that are no target on any side, in natural order of their parts."""
        usable = {id(target.part_pad[1]) for target in self.dedicated}
        found = [
            lost
            for point in self._declared
            if id(point.pad) not in usable and (lost := self._why_lost(point.part, point.pad))
        ]
        return tuple(sorted(found, key=lambda lost: (natural(lost.label), lost.net)))

    def _why_lost(self, part: Part, pad: Pad) -> Optional[Lost]:
        # the bottom first, where a fixture has its probes
        sides = [side for side in (Side.BOTTOM, Side.TOP) if self._board.copper_on(side) in pad.copper]
        for side in sides:
            if self._opening(pad, side) is not None:
                under = self._cover(pad.at, side, part)
                return Lost(pad.net, side, pad.at, Loss.BODY, part, pad, under) if under else None
        return Lost(pad.net, sides[0], pad.at, Loss.MASK, part, pad) if sides and part.fitted else None

    def _on_pads(self, net: str) -> Iterator[Target]:
        seen: set[tuple[str, Point, Side]] = set()
        for part, pad in self._board.pads_by_net.get(net, ()):
            for side in Side:
                kind = self._kind(part, pad, side)
                place = (part.uid, pad.at, side)
                # some land patterns hold a pad twice, one on the other
                if kind is None or place in seen or self._is_covered(pad.at, side, part, kind):
                    continue
                diameter = self._bare_diameter(part, pad, side)
                if diameter > 0 or not kind.is_probed:
                    seen.add(place)
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
        bare = self._board.copper_on(side) in pad.copper and self._opening(pad, side) is not None
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
        copper, opening = pad.copper.get(self._board.copper_on(side)), self._opening(pad, side)
        if copper is None or opening is None:
            return 0.0
        open_all = opening is copper or opening.covers(copper)
        open_all = open_all or copper.difference(opening).area <= _SLIVER * copper.area
        if pad.hole is not None and _is_mounting(part):
            copper = polygonal(copper.difference(pad.hole.shape))
        elif open_all and min(pad.size) > 0 and pad.shape in _PLAIN:
            return min(pad.size)
        return largest_circle(copper if open_all else polygonal(copper.intersection(opening)))

    def _opening(self, pad: Pad, side: Side) -> Optional[Area]:
        """Where the mask is open over a pad: its own opening, and what is drawn on the mask layer over it."""
        own = pad.mask.get(side)
        drawn = self._drawn[side]
        copper = pad.copper.get(self._board.copper_on(side))
        if copper is None:
            return own
        over = drawn.geometries.take(drawn.query(copper, predicate="intersects"))
        return polygonal(shapely.union_all([*over, *([own] if own is not None else [])])) if len(over) else own

    @cached_property
    def _drawn(self) -> Mapping[Side, shapely.STRtree]:
        """Openings drawn on the mask layers."""
        masks = [graphic for graphic in self._board.graphics if graphic.layer.kind is LayerKind.MASK]
        return {side: shapely.STRtree([g.shape for g in masks if g.layer.side is side]) for side in Side}

    def _is_covered(self, at: Point, side: Side, own: Optional[Part], kind: TargetKind) -> bool:
        """Whether a part's body lies over a point; a test pad's own body does not count, and plugs find their way."""
        if kind is TargetKind.CONNECTOR:
            return False
        return self._cover(at, side, own if kind is not TargetKind.LAND else None) is not None

    def _cover(self, at: Point, side: Side, own: Optional[Part]) -> Optional[Part]:
        tree, owners = self._bodies[side]
        found = [owners[hit] for hit in tree.query(shapely.Point(at), predicate="intersects")]
        return min((part for part in found if part is not own), key=lambda part: natural(part.reference), default=None)

    @cached_property
    def _bodies(self) -> Mapping[Side, _Bodies]:
        """What stands on each side: bodies as drawn; leads are in the way only where they are."""
        found = standing(self._board, self._marks)
        return {
            side: _Bodies(shapely.STRtree([b for _, b in found[side]]), tuple(p for p, _ in found[side]))
            for side in Side
        }


def standing(board: Board, marks: Marks) -> Mapping[Side, list[tuple[Part, Area]]]:
    """The fitted parts of each side that stand in a probe's way, with what they cover; test pads are not among them."""
    found: dict[Side, list[tuple[Part, Area]]] = {side: [] for side in Side}
    for part in board.parts:
        body = _body(part)
        if body is not None and part.fitted and not any(marks.is_test_point(pad) for pad in part.pads):
            found[part.side].append((part, body))
    return found


def pad_label(part: Part, pad: Pad) -> str:
    """What to call a pad: ``TP3 pad 1``, or the part alone where it has one pad or its pads have no numbers."""
    return f"{part.reference} pad {pad.number}" if pad.number and len(part.pads) > 1 else part.reference


_SLIVER = 1e-4
"""Openings drawn exactly as large as their copper miss it by rounding: up to this share of it counts as nothing."""

_PLAIN = (PadShape.CIRCLE, PadShape.OVAL, PadShape.RECTANGLE, PadShape.ROUNDED)
"""Shapes whose largest circle is as wide as their shorter side."""


def largest_circle(shape: Area) -> float:
    """Diameter of the largest circle that fits into a shape, arcs counted as arcs; 0 for nothing."""
    pieces = [piece for piece in shapely.get_parts(shape) if not piece.is_empty and piece.area >= 1e-6]
    return max((_circle_in(_Moved(piece)) for piece in pieces), default=0.0)


class _Moved:
    """A polygon that equals others of its shape elsewhere, because a board repeats the same land many times."""

    def __init__(self, piece: shapely.Polygon) -> None:
        self.piece = piece
        points = shapely.get_coordinates(piece)
        self._key = np.round(points - points[0], 5).tobytes()

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Moved) and other._key == self._key


@lru_cache(maxsize=256)
def _circle_in(moved: _Moved) -> float:
    piece = moved.piece
    # the middle of a symmetric shape is exact where the search is within its tolerance
    spots = [_roomiest(piece), piece.centroid]
    return max((2 * depth(spot, piece) for spot in spots if piece.covers(spot)), default=0.0)


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
    if is_edge_connector(part):
        return True
    return role(part) is Role.CONNECTOR and not _is_mounting(part) and not _is_solder_bridge(part)


def _is_solder_bridge(part: Part) -> bool:
    """Whether a part is lands that a drop of solder or a wire joins: no plug finds its way to them."""
    return not any(pad.hole for pad in part.pads) and ("jumper" in part.package.lower() or _is_bare(part))


def _is_bare(part: Part) -> bool:
    """Whether nothing sits on a part's lands: not fitted, or never placed and without paste, as a solder jumper is."""
    if not part.fitted:
        return True
    return not part.in_placement and not any(pad.paste for pad in part.pads)


def _is_mounting(part: Part) -> bool:
    return bool(MOUNTING_NAME.match(part.package))
