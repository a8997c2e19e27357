# SPDX-License-Identifier: MIT
"""Tracks, vias and zones: copper that belongs to the board."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from lineworthy.model import CopperArea, Graphic, KeepOut, LayerKind, Part, Side, Track, Via
from lineworthy.shapes import Area, Coords, polygonal
from lineworthy_kicad.reader.drawn import filled_area
from lineworthy_kicad.reader.layers import BOTTOM_COPPER, TOP_COPPER, Layers
from lineworthy_kicad.reader.nets import Nets
from lineworthy_kicad.reader.points import BOARD_FRAME, Frame, at_of, check_arc, child_xy, points_of
from lineworthy_kicad.reader.sexpr import Node, each, flag, kids, maybe_number, maybe_word, word

ZoneItem = Union[CopperArea, KeepOut, Graphic]

_BANS = {"tracks": "tracks", "vias": "vias", "pads": "pads", "copperpour": "pour", "footprints": "parts"}
TOUCH_MM = 1e-6
"""The editor's grid: copper that comes exactly up to other copper is not joined to it."""

_STROKED_FILLS_UNTIL = 20220131
"""Before this format version a fill could be meant to be drawn with a pen of the zone's smallest width."""


def track(node: Node, nets: Nets) -> Track:
    """A straight (``segment``) or curved (``arc``) track."""
    inner = kids(node)
    names = [word(inner["layer"])] if "layer" in inner else _words(inner.get("layers"))
    start, end = child_xy(node, inner, "start"), child_xy(node, inner, "end")
    mid = child_xy(node, inner, "mid") if "mid" in inner else None
    if mid is not None:
        check_arc(node, start, mid, end)
    return Track(
        uid=maybe_word(inner.get("uuid") or inner.get("tstamp")),
        start=start,
        end=end,
        width=max(0.0, maybe_number(inner.get("width"), 0.0)),
        layer=names[0] if names else TOP_COPPER,
        net=nets.of(inner.get("net")),
        mid=mid,
        mask_opened=any(name.endswith(".Mask") for name in names[1:]),
    )


def _words(node: Optional[Node]) -> list[str]:
    return [word(node, i) for i in range(1, len(node)) if type(node[i]) is str] if node else []


class Protection(NamedTuple):
    """How vias are closed; the words are those of IPC-4761 and of the format."""

    tented: frozenset[Side] = frozenset(Side)
    covered: frozenset[Side] = frozenset()
    plugged: frozenset[Side] = frozenset()
    filled: bool = False
    capped: bool = False

    def overridden(self, inner: Mapping[str, Node]) -> Protection:
        """With what a via, or the board's set-up, says of it; what it does not say stays."""
        return Protection(
            sides_of(inner.get("tenting"), self.tented),
            sides_of(inner.get("covering"), self.covered),
            sides_of(inner.get("plugging"), self.plugged),
            _yes(inner.get("filling"), self.filled),
            _yes(inner.get("capping"), self.capped),
        )


def _yes(node: Optional[Node], default: bool) -> bool:
    """``yes`` or ``no``; ``none``, and no entry at all, are as the board says."""
    said = maybe_word(node)
    return said == "yes" if said in ("yes", "no") else default


def via(node: Node, nets: Nets, layers: Layers, board_wide: Protection) -> Via:
    """A via; `board_wide` is how vias are closed that do not say so themselves."""
    inner = kids(node)
    at, _ = at_of(node, inner)
    ends = _words(inner.get("layers"))
    diameter = max(0.0, maybe_number(inner.get("size"), 0.0))
    closed = board_wide.overridden(inner)
    return Via(
        uid=maybe_word(inner.get("uuid") or inner.get("tstamp")),
        at=at,
        diameter=diameter,
        drill=max(0.0, maybe_number(inner.get("drill"), 0.0)),
        span=(ends[0], ends[-1]) if ends else (TOP_COPPER, BOTTOM_COPPER),
        net=nets.of(inner.get("net")),
        tented=closed.tented,
        filled=closed.filled,
        covered=closed.covered,
        plugged=closed.plugged,
        capped=closed.capped,
        diameters=_stack(inner.get("padstack"), layers, diameter),
        landless=_without_lands(node, inner, layers, ends),
    )


def _without_lands(node: Node, inner: Mapping[str, Node], layers: Layers, ends: list[str]) -> frozenset[str]:
    """Layers where a via has no land unless a track ends on it there, when its designer wants unused lands removed."""
    if flag(node, "start_end_only"):
        return frozenset(layers.copper) - set(ends)
    if not flag(node, "remove_unused_layers"):
        return frozenset()
    kept = set(_words(inner.get("zone_layer_connections")))
    kept.update(ends if flag(node, "keep_end_layers") else ())
    return frozenset(layers.copper) - kept


def settled_vias(vias: Sequence[Via], tracks: Sequence[Track], parts: Sequence[Part], layers: Layers) -> list[Via]:
    """The vias with lands on those layers where a track ends on them, or a pad or via of the same net touches them."""
    doubtful = [via for via in vias if via.landless]
    if not doubtful:
        return list(vias)
    pads = [pad for part in parts for pad in part.pads if pad.copper]
    discs = shapely.buffer(shapely.points([via.at for via in vias]), [via.diameter / 2 for via in vias], quad_segs=16)
    shapes = [*track_ends(tracks), *(pad.extent for pad in pads), *discs]
    touching: list[tuple[tuple[str, ...], str]]
    touching = [((track.layer,), track.net) for track in tracks for _ in range(2)]
    touching += [(tuple(pad.copper), pad.net) for pad in pads]
    touching += [(layers.copper, via.net) for via in vias]
    spots = shapely.points(np.array([via.at for via in doubtful]))
    reach = np.array([via.diameter / 2 for via in doubtful]) - TOUCH_MM
    joined: dict[str, set[str]] = {}
    tree = shapely.STRtree(shapes)
    own = {id(via): len(shapes) - len(vias) + n for n, via in enumerate(vias)}
    for i, j in zip(*tree.query(spots, predicate="dwithin", distance=reach)):
        via, (names, net) = doubtful[i], touching[j]
        if net == via.net and j != own[id(via)]:
            joined.setdefault(via.uid, set()).update(names)
    return [replace(via, landless=via.landless - joined.get(via.uid, set())) for via in vias]


def track_ends(tracks: Sequence[Track]) -> npt.NDArray[np.object_]:
    """Start and end of each track in turn, as Points; all at once, because a call for each is slow."""
    ends = np.array([end for track in tracks for end in (track.start, track.end)]).reshape(-1, 2)
    return np.asarray(shapely.points(ends), dtype=object)


def _stack(node: Optional[Node], layers: Layers, front: float) -> dict[str, float]:
    """Diameters on the layers where they differ from the front's."""
    made: dict[str, float] = {}
    for layer in each(node, "layer") if node else ():
        size = kids(layer).get("size")
        if size is None:
            continue
        name = word(layer)
        inner = [n for n in layers.copper if n not in (TOP_COPPER, BOTTOM_COPPER)]
        made.update(dict.fromkeys(inner if name == "Inner" else [name], maybe_number(size, front)))
    return {name: value for name, value in made.items() if value != front}


def sides_of(node: Optional[Node], default: frozenset[Side]) -> frozenset[Side]:
    """Sides from ``(tenting front back)``, ``(tenting none)`` or ``(tenting (front yes) (back no))``.

    In the later form a side that is not there, or ``none``, is as the board says.
    """
    if node is None:
        return default
    sides = (("front", Side.TOP), ("back", Side.BOTTOM))
    inner = kids(node)
    if inner:
        stated = {name: maybe_word(inner[name]) for name, _ in sides if name in inner}
        return frozenset(
            side
            for name, side in sides
            if stated.get(name, "none") in (("yes", "none") if side in default else ("yes",))
        )
    return frozenset(side for name, side in sides if name in node[1:])


@dataclass(frozen=True)
class ZoneMaker:
    """Makes the zones of one board."""

    layers: Layers
    nets: Nets
    version: int

    def items(self, node: Node, part_uid: str = "", frame: Frame = BOARD_FRAME) -> Iterator[ZoneItem]:
        """One item per layer of a zone; or the keep-out it stands for. Fills off the copper are graphics."""
        inner = kids(node)
        uid = maybe_word(inner.get("uuid") or inner.get("tstamp"))
        names = self.layers.expand((inner.get("layers") or inner.get("layer") or ["layer"])[1:])
        boundary = _boundary(
            [frame.points(points_of(each(p, "pts")[0])) for p in each(node, "polygon") if each(p, "pts")]
        )
        if "keepout" in inner:
            banned = kids(inner["keepout"])
            bans = frozenset(ban for key, ban in _BANS.items() if maybe_word(banned.get(key)) == "not_allowed")
            yield KeepOut(uid, boundary, names, bans, part_uid)
            return
        net = self.nets.of(inner.get("net")) or maybe_word(inner.get("net_name"))
        fills = self._fills(node, inner)
        for name in sorted(names, key=self._order):
            rings = tuple(fills.get(name, ()))
            layer = self.layers.layer(name)
            if layer.kind is LayerKind.COPPER:
                priority = _priority(maybe_word(inner.get("priority")))
                title = maybe_word(inner.get("name"))
                thin = maybe_number(inner["min_thickness"], 0.0) if "min_thickness" in inner else None
                yield CopperArea(uid, name, net, boundary, rings, not rings, priority, title, part_uid, thin)
            elif rings:
                area = polygonal(shapely.union_all([filled_area(ring, 0.0) for ring in rings]))
                yield Graphic(uid, layer, area, part_uid=part_uid)

    def _order(self, name: str) -> tuple[int, str]:
        copper = self.layers.copper
        return (copper.index(name) if name in copper else len(copper), name)

    def _fills(self, node: Node, inner: dict[str, Node]) -> dict[str, list[Coords]]:
        """Filled rings by layer, as points on the board."""
        default = word(inner["layer"]) if "layer" in inner else ""
        grow = self._pen(inner) / 2
        fills: dict[str, list[Coords]] = {}
        for fill in each(node, "filled_polygon"):
            parts = kids(fill)
            if "pts" not in parts:
                continue
            ring = points_of(parts["pts"])
            name = maybe_word(parts.get("layer"), default=default)
            if len(ring) >= 3:
                fills.setdefault(name, []).extend([ring] if grow == 0 else stroked(ring, grow))
        return fills

    def _pen(self, inner: dict[str, Node]) -> float:
        """Pen the fill is drawn with: 0 but for fills by old rules."""
        if (
            self.version >= _STROKED_FILLS_UNTIL
            or maybe_word(inner.get("filled_areas_thickness"), default="yes") == "no"
        ):
            return 0.0
        return max(0.0, maybe_number(inner.get("min_thickness"), 0.0))


def _priority(digits: str) -> int:
    """A zone's priority; the editor gives its teardrops some 30000."""
    return int(digits) if digits.isdecimal() and len(digits) < 10 else 0


def stroked(ring: Coords, grow: float) -> list[Coords]:
    """Rings of a fill grown by half its pen, holes opened to the outside by slicing."""
    area = filled_area(ring, 2 * grow)
    return [piece for polygon in shapely.get_parts(area) for piece in _without_holes(polygon)]


def _without_holes(polygon: Polygon) -> Iterator[Coords]:
    """Pieces without holes that together are the polygon: it is cut through every hole."""
    todo = [polygon]
    while todo:
        piece = todo.pop()
        if piece.is_empty:
            continue
        if not piece.interiors:
            yield np.asarray(piece.exterior.coords)[:-1]
            continue
        x0, y0, x1, y1 = piece.bounds
        cut = piece.interiors[0].centroid.x
        halves = (shapely.box(x0 - 1, y0 - 1, cut, y1 + 1), shapely.box(cut, y0 - 1, x1 + 1, y1 + 1))
        todo.extend(part for half in halves for part in shapely.get_parts(polygonal(piece.intersection(half))))


def _boundary(outlines: list[Coords]) -> Area:
    """A zone's drawn boundary: the first outline, less the others."""
    outlines = [outline for outline in outlines if len(outline) >= 3]
    if not outlines:
        return Polygon()
    area = filled_area(outlines[0], 0.0)
    for hole in outlines[1:]:
        area = polygonal(area.difference(filled_area(hole, 0.0)))
    return area
