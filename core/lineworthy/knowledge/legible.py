# SPDX-License-Identifier: MIT
"""Whether a marking can be read on the finished board: which way it faces, what lies over it, what cuts it off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import objects
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.naming import plain
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.placed import grips_edge
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, Layer, LayerKind, Marking, Pad, Part, Side
from lineworthy.shapes import Area, polygonal

ALIKE_BACKWARDS = frozenset("AHIMOTUVWXYilovwx0128")
"""Letters and digits that read the same in a mirror, or near enough that nobody could call them wrong."""

FLAT = frozenset({Family.MECHANICAL, Family.ANTENNA})
"""Parts with nothing that stands on the board."""

HULL_MAX_MM = 25.0
"""Up to this size pads without a drawn body have the body between them; a larger ring of pads is often a socket."""

EDGE = "the board edge"

ROOM_BELOW = 0.17
"""Share of a line's height that the editor's text boxes keep free for descenders."""

DESCENDERS, DESCENT = frozenset("gjpqyQ,;@_|/()[]{}"), 0.3
"""Characters that reach below the line, and how far, in text heights."""


COVERED_HOLE_MAX_MM = 0.5
"""Up to this size the mask spans a hole (common practice, no source)."""


NEAR_MM = 2.0
"""What is further from a marking is no matter."""


@dataclass(frozen=True)
class Cover:
    """Parts that lie over a marking once they are placed, and the share of it that they hide, 0 to 1."""

    share: float
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Cut:
    """What a marking touches or comes near to where it cannot be printed.

    Attributes:
        share: of the marking that is lost, 0 to 1.
        gap: mm to what is nearest, 0 where it touches.
        what: that in words.
    """

    share: float
    gap: float
    what: str


def ink(marking: Marking) -> Area:
    """Where the letters of a marking are: a box for each line, without the room the text's own box keeps round them.

    The pen's own half width is left out, so that what is found to touch does touch. A box no roomier than its letters
    is taken as it is, and so is that of a text left out of a filled box.
    """
    lines = marking.text.rstrip("\n").split("\n")
    turn = np.radians(marking.rotation)
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    corners = shapely.get_coordinates(marking.extents)
    if not len(corners) or marking.knockout:
        return marking.extents
    (left, right), (low, high) = ((float(v.min()), float(v.max())) for v in (corners @ along, corners @ up))
    pen, height = marking.stroke, marking.height
    first = height + 3 * pen
    if high - low < first:
        return marking.extents
    base = low + ROOM_BELOW * first + pen  # as measured on the letters the editor draws
    step = (high - base + pen - first) / (len(lines) - 1) if len(lines) > 1 else 0.0
    longest = max(len(plain(line)) for line in lines) or 1
    anchor = (float(np.array(marking.at) @ along) - left) / max(right - left, 1e-9)
    rows = []
    for n, line in enumerate(reversed(lines)):
        width = (right - left) * len(plain(line)) / longest - 3 * pen
        start = left + 1.5 * pen + min(max(anchor, 0.0), 1.0) * (right - left - 3 * pen - width)
        bottom = base + n * step - (height * DESCENT if DESCENDERS & set(line) else 0.0)
        stop, top = start + max(width, pen), base + n * step + height
        rows.append([[start, bottom], [stop, bottom], [stop, top], [start, top]])
    boxes = shapely.polygons(np.array(rows) @ np.array([along, up]))
    return boxes[0] if len(boxes) == 1 else polygonal(shapely.union_all(boxes))


class Legible:
    """Answers for the markings of one board. Vias covered by the mask are printed over and do no harm."""

    def __init__(self, board: Board, packages: Packages) -> None:
        self._board, self._packages = board, packages
        self._openings: dict[Layer, _Named] = {}
        self._bodies: dict[Side, tuple[list[Part], shapely.STRtree]] = {}
        self._inks: dict[Marking, Area] = {}
        self._drawn: dict[Layer, tuple[list[Area], shapely.STRtree]] = {}
        self._lettered: dict[Layer, tuple[list[Marking], shapely.STRtree]] = {}

    def ink(self, marking: Marking) -> Area:
        """Where the letters of a marking are, as `ink` has it."""
        if marking not in self._inks:
            self._inks[marking] = ink(marking)
        return self._inks[marking]

    def cover(self, marking: Marking, but: Iterable[Part] = ()) -> Cover:
        """What is placed over a marking; parts in `but` do not count."""
        side = marking.layer.side
        letters = self.ink(marking)
        if side is None or letters.is_empty:
            return Cover(0.0, ())
        parts, tree = self._placed_on(side)
        skipped = {part.uid for part in but}
        over: list[tuple[Part, BaseGeometry]] = []
        for n in sorted(tree.query(letters, predicate="intersects")):
            shape = tree.geometries[n].intersection(letters)
            if parts[n].uid not in skipped and shape.area > 0.01 * letters.area:
                over.append((parts[n], shape))
        over.sort(key=lambda pair: natural(pair[0].reference))
        hidden = shapely.union_all([shape for _, shape in over]).area if over else 0.0
        return Cover(float(hidden / letters.area), tuple(part for part, _ in over))

    def cut(self, marking: Marking) -> Cut:
        """What of a marking falls on openings, holes, pads or beyond the board, and what comes nearest to it."""
        shape = self.ink(marking)
        things = self._openings.get(marking.layer)
        if things is None:
            things = self._openings[marking.layer] = _Named(_bare(self._board, marking.layer))
        share, gap, what = things.over(shape)
        board = self._board.outline.area
        if not board.is_empty:
            out = float(shape.difference(board).area / shape.area)
            to_edge = float(shape.distance(self._board.outline.edge)) if out < 1e-9 else 0.0
            if out > share or to_edge < gap:
                gap, what = to_edge, EDGE
            share = min(1.0, share + out)
        return Cut(share if share > 1e-6 else 0.0, gap, what)

    def overprinted(self, marking: Marking) -> float:
        """The share of a legend text that lies on filled legend, ink on ink; 0 for one left out of a filled box."""
        if marking.layer.kind is not LayerKind.LEGEND or marking.knockout:
            return 0.0
        letters = self.ink(marking)
        drawn, tree = self._legend(marking.layer)
        inked = [drawn[n].intersection(letters) for n in np.sort(tree.query(letters, predicate="intersects"))]
        return float(shapely.union_all(inked).area / letters.area) if inked else 0.0

    def lettered(self, marking: Marking) -> tuple[float, tuple[str, ...]]:
        """The share of a text under other texts of its layer, and what those say; the same text twice is no harm."""
        letters, said = self.ink(marking), plain(marking.text)
        if letters.is_empty or marking.knockout:
            return 0.0, ()
        texts, tree = self._texts(marking.layer)
        others = [texts[n] for n in np.sort(tree.query(letters)) if plain(texts[n].text) not in ("", said)]
        over = [(m, shape) for m in others if (shape := self.ink(m).intersection(letters)).area > 0.0]
        share = float(shapely.union_all([shape for _, shape in over]).area / letters.area) if over else 0.0
        return share, tuple(sorted({plain(m.text) for m, _ in over}))

    def _legend(self, layer: Layer) -> tuple[list[Area], shapely.STRtree]:
        """What is drawn on a layer."""
        if layer not in self._drawn:
            shapes = [g.shape for g in self._board.graphics if g.layer == layer]
            self._drawn[layer] = shapes, shapely.STRtree(shapes)
        return self._drawn[layer]

    def _texts(self, layer: Layer) -> tuple[list[Marking], shapely.STRtree]:
        """What is lettered on a layer."""
        if layer not in self._lettered:
            texts = [m for m in self._board.shown_markings if m.layer == layer]
            self._lettered[layer] = texts, shapely.STRtree([self.ink(m) for m in texts])
        return self._lettered[layer]

    def _placed_on(self, side: Side) -> tuple[list[Part], shapely.STRtree]:
        if side not in self._bodies:
            parts = [part for part in self._board.parts if part.side is side and part.fitted]
            pairs = [(part, body) for part in parts if not (body := self.body(part)).is_empty]
            self._bodies[side] = ([part for part, _ in pairs], shapely.STRtree([body for _, body in pairs]))
        return self._bodies[side]

    def body(self, part: Part) -> Area:
        """What a part hides of the board under it, as far as that is known; empty where it hides nothing."""
        facts = self._packages.of(part)
        if facts.family in FLAT:
            return shapely.Polygon()
        if part.body is not None and not part.body.is_empty:
            return part.body
        if grips_edge(part):
            return shapely.Polygon()
        low_x, low_y, high_x, high_y = facts.body.bounds if not facts.body.is_empty else (0.0, 0.0, 0.0, 0.0)
        return facts.body if max(high_x - low_x, high_y - low_y) <= HULL_MAX_MM else shapely.Polygon()


def is_covered(pad: Pad, side: Side) -> bool:
    """Whether a pad's hole is as small as a via's and lies under the mask, as vias do that are placed as parts."""
    return pad.hole is not None and side not in pad.mask and pad.hole.diameter <= COVERED_HOLE_MAX_MM


def backwards(marking: Marking) -> bool:
    """Whether a marking on an outer layer faces the wrong way and has characters that show it."""
    if marking.layer.side is None or marking.mirrored == (marking.layer.side is Side.BOTTOM):
        return False
    return any(c.isalnum() and c not in ALIKE_BACKWARDS for c in plain(marking.text))


class _Named:
    """Areas where nothing can be printed, each with what it is."""

    def __init__(self, rows: Iterator[tuple[BaseGeometry, str]]) -> None:
        found = [row for row in rows if not row[0].is_empty]
        self._shapes = objects(shape for shape, _ in found)
        self._names = [name for _, name in found]

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._shapes)

    def over(self, shape: Area) -> tuple[float, float, str]:
        """Share of a shape they take, distance to the nearest of them, and what that is."""
        if not len(self._shapes):
            return 0.0, float("inf"), ""
        near = self._tree.query(shape, predicate="dwithin", distance=NEAR_MM)
        if not len(near):
            return 0.0, float("inf"), ""
        taken = shapely.intersection(self._shapes[near], shape)
        areas = [round(float(area), 6) for area in shapely.area(taken)]
        gaps = [round(float(gap), 6) for gap in shapely.distance(self._shapes[near], shape)]
        # of several that touch it the largest, then the first by name, so that the order of the file does not matter
        order = sorted(range(len(near)), key=lambda n: (gaps[n], -areas[n], self._names[near[n]]))
        share = float(shapely.union_all(taken).area / shape.area)
        return share, gaps[order[0]], self._names[near[order[0]]]


def _bare(board: Board, layer: Layer) -> Iterator[tuple[BaseGeometry, str]]:
    """Where a marking of a layer cannot be: legend on openings, copper on other copper, any on holes."""
    side = layer.side
    if side is None:
        return
    for part, pad in board.pads:
        name = f"pad {pad.number} of {part.reference}" if pad.number else f"{part.reference or 'a part without name'}"
        if layer.kind is LayerKind.COPPER and layer.name in pad.copper:
            yield pad.copper[layer.name], name
        elif layer.kind is not LayerKind.COPPER and side in pad.mask:
            yield pad.mask[side], name
        if pad.hole is not None and not is_covered(pad, side):
            yield pad.hole.shape, f"the hole of {part.reference or 'a part without name'}"
    if layer.kind is LayerKind.COPPER:
        return
    for via in board.vias:
        if side not in via.tented and board.copper_on(side) in spanned(board, via):
            yield shapely.Point(via.at).buffer(via.diameter / 2), "an open via"
    if layer.kind is LayerKind.LEGEND:
        for graphic in board.graphics:
            if graphic.layer.kind is LayerKind.MASK and graphic.layer.side is side:
                yield graphic.shape, "an opening in the mask"
