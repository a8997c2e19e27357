# SPDX-License-Identifier: MIT
"""What a board becomes, layer by layer, as areas: copper, mask openings, paste, legend, profile, holes.

This is what the plots of a release must show. Lettering is left out of the areas, because fonts are not measured
stroke by stroke: `blurred` says where it lies.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Optional

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.copper import centre_lines, landed, spanned
from lineworthy.model import Board, Hole, Layer, LayerKind, Marking, Side
from lineworthy.shapes import Area, disc, polygonal, quad_segs

LETTERING_MARGIN_MM = 0.3
"""How far ink of a text may lie outside of the extents worked out for it."""

VIA_MASK_MAX_MM = 0.2
"""The mask opening of an open via may be this much wider all round than its land; the document's model does not say."""


@dataclass(frozen=True)
class MadeLayer:
    """One layer a factory makes; `number` counts copper from the top, from 1, and is 0 for other kinds."""

    kind: LayerKind
    side: Optional[Side] = None
    number: int = 0

    @property
    def title(self) -> str:
        """What a person calls it: ``copper layer 2``, ``top mask``."""
        if self.kind is LayerKind.COPPER:
            where = f", {self.side.value}" if self.side else ""
            return f"copper layer {self.number}{where}"
        if self.kind is LayerKind.OUTLINE:
            return "profile"
        assert self.side is not None
        return f"{self.side.value} {self.kind.value}"


@dataclass(frozen=True)
class Drill:
    """A hole as it is drilled: `hole` with its place and size, and the copper layers it goes through (1 is the top)."""

    hole: Hole
    first: int
    last: int
    label: str = ""


class Made:
    """The made layers of a board; each is worked out when first asked for."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._areas: dict[MadeLayer, Area] = {}
        self._blurred: dict[MadeLayer, Area] = {}

    @cached_property
    def layers(self) -> tuple[MadeLayer, ...]:
        """Every layer that has something on it (all copper layers and the profile always)."""
        board = self._board
        last = len(board.copper_layers)
        copper = [MadeLayer(LayerKind.COPPER, board.side_of(name), n + 1) for n, name in enumerate(board.copper_layers)]
        other = [MadeLayer(kind, side) for kind in (LayerKind.MASK, LayerKind.PASTE, LayerKind.LEGEND) for side in Side]
        assert last == len(copper)
        used = [layer for layer in other if not self.area(layer).is_empty or not self.blurred(layer).is_empty]
        return (*copper, *used, MadeLayer(LayerKind.OUTLINE))

    def area(self, layer: MadeLayer) -> Area:
        """What is copper, open, pasted or printed; for the profile the board itself. Lettering is not in it."""
        if layer not in self._areas:
            if layer.kind is LayerKind.OUTLINE:
                self._areas[layer] = self._board.outline.area
            else:
                make = {LayerKind.COPPER: self._copper, LayerKind.MASK: self._mask, LayerKind.PASTE: self._paste}
                shapes = [*make.get(layer.kind, lambda _: iter(()))(layer), *self._drawings(layer)]
                self._areas[layer] = polygonal(shapely.union_all(shapes)) if shapes else Polygon()
        return self._areas[layer]

    def blurred(self, layer: MadeLayer) -> Area:
        """Where the layer's plot may differ from `area`: lettering, and what the document does not say exactly."""
        if layer not in self._blurred:
            shapes: list[BaseGeometry] = [
                shapely.buffer(marking.extents, _margin(marking)) for marking in self.texts(layer)
            ]
            if layer.kind is LayerKind.MASK:
                shapes += self._open_vias(layer, VIA_MASK_MAX_MM)
            if layer.kind is LayerKind.LEGEND:
                mask = MadeLayer(LayerKind.MASK, layer.side)  # ink is often clipped where the mask is open
                shapes += [shapely.buffer(self.area(mask), VIA_MASK_MAX_MM), *self._open_vias(mask, VIA_MASK_MAX_MM)]
            self._blurred[layer] = polygonal(shapely.union_all(shapes)) if shapes else Polygon()
        return self._blurred[layer]

    def texts(self, layer: MadeLayer) -> tuple[Marking, ...]:
        """The texts that are plotted on a layer."""
        return tuple(
            marking
            for marking in self._board.shown_markings
            if marking.text.strip() and self._is_on(marking.layer, layer)
        )

    @cached_property
    def drills(self) -> tuple[Drill, ...]:
        """Every hole of parts and every via."""
        board = self._board
        last = len(board.copper_layers)
        made = [
            Drill(hole, 1, last, part.reference if part is not None else "")
            for part, hole in board.holes
            if hole.diameter > 0
        ]
        for via in board.vias:
            if via.drill > 0:
                layers = [
                    board.copper_layers.index(name) + 1 for name in spanned(board, via) if name in board.copper_layers
                ]
                span = (min(layers), max(layers)) if layers else (1, last)
                made.append(Drill(Hole(via.at, (via.drill, via.drill), plated=True), *span))
        return tuple(made)

    def _is_on(self, drawn: Layer, layer: MadeLayer) -> bool:
        if layer.kind is LayerKind.COPPER:
            return drawn.name == self._board.copper_layers[layer.number - 1]
        return drawn.kind is layer.kind and drawn.side is layer.side

    def _drawings(self, layer: MadeLayer) -> Iterator[BaseGeometry]:
        return (graphic.shape for graphic in self._board.graphics if self._is_on(graphic.layer, layer))

    def _copper(self, layer: MadeLayer) -> Iterator[BaseGeometry]:
        board = self._board
        name = board.copper_layers[layer.number - 1]
        yield from (pad.copper[name] for _, pad in board.pads if name in pad.copper)
        tracks = [track for track in board.tracks if track.layer == name]
        for width in sorted({track.width for track in tracks}):
            lines = centre_lines([track for track in tracks if track.width == width])
            yield from shapely.buffer(lines, width / 2, quad_segs=quad_segs(width / 2))
        yield from (disc(via.at, via.diameter_on(name)) for via in board.vias if name in landed(board, via))
        yield from (area.fill for area in board.areas if area.layer == name)

    def _mask(self, layer: MadeLayer) -> Iterator[BaseGeometry]:
        assert layer.side is not None
        board = self._board
        yield from (pad.mask[layer.side] for _, pad in board.pads if layer.side in pad.mask)
        yield from self._open_vias(layer, 0.0)
        name = board.copper_on(layer.side)
        for track in board.tracks:
            if track.mask_opened and track.layer == name:
                yield shapely.LineString(track.path).buffer(track.width / 2, quad_segs=quad_segs(track.width / 2))

    def _paste(self, layer: MadeLayer) -> Iterator[BaseGeometry]:
        assert layer.side is not None
        return (pad.paste[layer.side] for _, pad in self._board.pads if layer.side in pad.paste)

    def _open_vias(self, layer: MadeLayer, more: float) -> Iterator[BaseGeometry]:
        assert layer.side is not None
        board = self._board
        name = board.copper_on(layer.side)
        for via in board.vias:
            if layer.side not in via.tented and name in spanned(board, via):
                yield disc(via.at, via.diameter_on(name) + 2 * more)


def _margin(marking: Marking) -> float:
    """The pitch of lines differs from font to font, so the ends of a block of text are known less well."""
    return LETTERING_MARGIN_MM + 0.15 * marking.height * marking.text.count("\n")
