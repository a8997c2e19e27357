# SPDX-License-Identifier: MIT
"""The true shape of a pad on one layer, and the same shape grown or shrunk by a mask or paste margin."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.model import PadShape
from lineworthy.shapes import Area, Coords, Point, polygonal, quad_segs
from lineworthy_kicad.reader.drawn import drawn, rounded_box
from lineworthy_kicad.reader.points import moved, turned, xy
from lineworthy_kicad.reader.sexpr import Node, atoms, kids, maybe_word, number

_NAMES = {
    "circle": PadShape.CIRCLE,
    "oval": PadShape.OVAL,
    "rect": PadShape.RECTANGLE,
    "roundrect": PadShape.ROUNDED,
    "trapezoid": PadShape.TRAPEZOID,
    "custom": PadShape.CUSTOM,
}
_CORNERS = ("top_right", "top_left", "bottom_left", "bottom_right")  # counter-clockwise from the upper right

_COPPER_TOL = 2e-4
"""Chords of custom pads, in mm: finer than those of artwork, so that even a thin ring's area is true."""


@dataclass(frozen=True)
class LandShape:
    """A pad's shape on one layer, about its own origin and unrotated, y up.

    Attributes:
        delta: how much longer the right and the upper edge of a trapezoid are (the document's `rect_delta`).
        rounding: corner radius as a part of the shorter side.
        chamfer: chamfer as a part of the shorter side, at `chamfered` corners.
        primitives: area drawn by a custom pad around its anchor; `anchor` is then the anchor's shape.
    """

    shape: PadShape
    size: tuple[float, float]
    offset: Point = (0.0, 0.0)
    delta: tuple[float, float] = (0.0, 0.0)
    rounding: float = 0.0
    chamfer: float = 0.0
    chamfered: frozenset[str] = frozenset()
    anchor: PadShape = PadShape.CIRCLE
    primitives: Optional[Area] = None

    def area(self, margin: tuple[float, float] = (0.0, 0.0)) -> Area:
        """The shape grown (or shrunk) by a margin along x and y, as the editor plots it; empty when nothing is left.

        Only what has no such shape in another size is grown or shrunk all around.
        """
        across = margin[0]
        if self.primitives is not None:
            whole = shapely.union_all([self.primitives, replace(self, shape=self.anchor, primitives=None).area()])
            return polygonal(_grown(polygonal(whole), across))
        if self.shape is PadShape.TRAPEZOID:
            return polygonal(_grown(Polygon(self._trapezoid()), across))
        if self.shape is PadShape.CHAMFERED and across > 0:
            return polygonal(_grown(Polygon(self._chamfered()), across))
        return self._resized(margin)._plain(max(across, 0.0) if self.shape is PadShape.RECTANGLE else 0.0)

    def _resized(self, margin: tuple[float, float]) -> LandShape:
        """The same shape in another size, as openings are plotted: rounding stays a part of the size."""
        return replace(self, size=(self.size[0] + 2 * margin[0], self.size[1] + 2 * margin[1]))

    def _plain(self, radius: float) -> Area:
        """The shape in its own size; `radius` rounds a rectangle."""
        width, height = self.size
        if min(self.size) <= 1e-9:
            return Polygon()
        if self.shape is PadShape.CHAMFERED:
            return Polygon(self._chamfered())
        if self.shape is PadShape.CIRCLE:
            return Polygon(rounded_box(width, width, width / 2))
        if self.shape is PadShape.OVAL:
            radius = min(self.size) / 2
        elif self.shape is PadShape.ROUNDED:
            radius = self.rounding * min(self.size)
        return Polygon(rounded_box(width, height, radius))

    def _trapezoid(self) -> Coords:
        (w, h), (dx, dy) = (self.size[0] / 2, self.size[1] / 2), (self.delta[0] / 2, self.delta[1] / 2)
        return np.array([(-w - dy, -h - dx), (w + dy, -h + dx), (w - dy, h - dx), (-w + dy, h + dx)])

    def _chamfered(self) -> Coords:
        w, h = self.size[0] / 2, self.size[1] / 2
        cut = self.chamfer * min(self.size)
        radius = min(self.rounding, 0.5) * min(self.size)
        runs: list[Coords] = []
        for quarter, name in enumerate(_CORNERS):
            sx, sy = ((1, 1), (-1, 1), (-1, -1), (1, -1))[quarter]
            if name in self.chamfered and cut > 0:
                pair = [(sx * w, sy * (h - cut)), (sx * (w - cut), sy * h)]
                runs.append(np.array(pair if quarter % 2 == 0 else pair[::-1]))
            elif radius > 0:
                turn = np.linspace(0, np.pi / 2, quad_segs(radius) + 1)
                arc = turned(radius * np.column_stack([np.cos(turn), np.sin(turn)]), 90.0 * quarter)
                runs.append(moved(arc, (sx * (w - radius), sy * (h - radius))))
            else:
                runs.append(np.array([(sx * w, sy * h)]))
        return np.concatenate(runs)


def _grown(shape: Area, margin: float) -> Area:
    if margin == 0:
        return shape
    return polygonal(shape.buffer(margin, quad_segs=quad_segs(abs(margin))))


def land_shape(word: str, node: Node, base: Optional[LandShape] = None) -> LandShape:
    """The shape a ``(pad ..)`` or a layer of its padstack describes.

    Args:
        word: the shape's name in the document.
        node: where size, offset and the rest are; what is missing comes from `base`.
        base: the pad's shape on the front, for a layer of a padstack.
    """
    inner = kids(node)
    shape = _NAMES.get(word, PadShape.RECTANGLE)
    size = _pair(inner.get("size"), base.size if base else (0.0, 0.0))
    offset_in = inner if "offset" in inner else kids(inner.get("drill", ["drill"]))
    chamfered = frozenset(atoms(inner.get("chamfer", ["chamfer"])))
    chamfer = number(inner["chamfer_ratio"]) if "chamfer_ratio" in inner else 0.0
    if shape is PadShape.ROUNDED and chamfered and chamfer > 0:
        shape = PadShape.CHAMFERED
    rect_delta = _pair(inner.get("rect_delta"), (0.0, 0.0))
    return LandShape(
        shape=shape,
        size=(abs(size[0]), abs(size[1])),
        offset=xy(offset_in["offset"]) if "offset" in offset_in else (0.0, 0.0),
        delta=rect_delta,
        rounding=max(0.0, min(number(inner["roundrect_rratio"]), 0.5)) if "roundrect_rratio" in inner else 0.0,
        chamfer=max(0.0, min(chamfer, 0.5)),
        chamfered=chamfered,
        anchor=_NAMES.get(maybe_word(kids(inner.get("options", ["options"])).get("anchor")), PadShape.CIRCLE),
        primitives=_primitives(inner.get("primitives", ["primitives"])) if shape is PadShape.CUSTOM else None,
    )


def _pair(node: Optional[Node], default: tuple[float, float]) -> tuple[float, float]:
    return default if node is None else (number(node, 1), number(node, 2))


def _primitives(node: Node) -> Area:
    """The union of what a custom pad draws besides its anchor."""
    shapes = [drawn(part, tol=_COPPER_TOL) for part in node[1:] if type(part) is list]
    return polygonal(shapely.union_all([shape.area() for shape in shapes if shape is not None]))
