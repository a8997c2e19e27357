# SPDX-License-Identifier: MIT
"""Markings: every text of the board and its parts, resolved once the whole board is known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.escapes import unescaped
from lineworthy.model import Layer, Marking, MarkingRole, Part, Side
from lineworthy.shapes import Point
from lineworthy_kicad.reader.layers import Layers
from lineworthy_kicad.reader.points import BOARD_FRAME, Frame, at_of, points_of, xy
from lineworthy_kicad.reader.sexpr import Node, atoms, each, flag, kids, maybe_number, maybe_word, word
from lineworthy_kicad.reader.text_extents import pen_width, text_extents
from lineworthy_kicad.reader.variables import Lookup, printed, resolve

_DEFAULT_SIZE = 1.27
_ROLES = {
    "reference": MarkingRole.REFERENCE,
    "value": MarkingRole.VALUE,
    "Reference": MarkingRole.REFERENCE,
    "Value": MarkingRole.VALUE,
}


@dataclass(frozen=True)
class Style:
    """How a text is drawn."""

    height: float
    width: float
    stroke: float
    bold: bool
    italic: bool
    h_align: str
    v_align: str
    mirrored: bool
    hidden: bool
    line_spacing: float

    @classmethod
    def of(cls, effects: Optional[Node]) -> Style:
        """From ``(effects (font (size h w) (thickness t) ..) (justify ..))``."""
        parts = kids(effects) if effects else {}
        font = parts.get("font", ["font"])
        inner = kids(font)
        height = abs(maybe_number(inner.get("size"), _DEFAULT_SIZE))
        width = abs(maybe_number(inner.get("size"), height, 2))
        bold = flag(font, "bold")
        justify = atoms(parts.get("justify", ["justify"]))
        return cls(
            height=height,
            width=width,
            stroke=pen_width(height, width, maybe_number(inner.get("thickness"), 0.0), bold),
            bold=bold,
            italic=flag(font, "italic"),
            h_align=next((a for a in ("left", "right") if a in justify), "center"),
            v_align=next((a for a in ("top", "bottom") if a in justify), "center"),
            mirrored="mirror" in justify,
            hidden=flag(effects, "hide") if effects else False,
            line_spacing=maybe_number(inner.get("line_spacing"), 1.0),
        )

    @classmethod
    def known(cls, effects: Optional[Node]) -> Style:
        """The same, of a node that is mostly like one read before: boards repeat few styles thousands of times."""
        written = str(effects)
        style = _styles.get(written)
        if style is None:
            if len(_styles) >= STYLES_KEPT:
                _styles.clear()
            style = _styles[written] = cls.of(effects)
        return style

    def box(self, shown: str, knockout: bool = False) -> tuple[float, float, float, float]:
        """What a text takes when it is at the origin and not turned: left, bottom, right, top; zeros for no text."""
        shape = text_extents(
            shown,
            (0.0, 0.0),
            0.0,
            self.height,
            self.width,
            stroke=self.stroke,
            h_align=self.h_align,
            v_align=self.v_align,
            mirrored=self.mirrored,
            bold=self.bold,
            italic=self.italic,
            line_spacing=self.line_spacing,
            knockout=knockout,
        )
        if shape.is_empty:
            return (0.0, 0.0, 0.0, 0.0)
        return shape.bounds


STYLES_KEPT = 256
_styles: dict[str, Style] = {}
"""Styles by the nodes that they were read from."""


class Text(NamedTuple):
    """A text as the document has it, before variables are resolved."""

    uid: str
    source: str
    layer: Layer
    at: Point
    rotation: float
    style: Style
    hidden: bool = False
    knockout: bool = False
    role: MarkingRole = MarkingRole.FREE
    part_uid: str = ""


def text_of(node: Node, layers: Layers, frame: Frame = BOARD_FRAME, part_uid: str = "") -> Optional[Text]:
    """The text in a ``gr_text``, ``fp_text`` or ``property`` node; None for a property that is not drawn.

    A part's reference and value are told when they are hidden, too; its other hidden fields are data, of which boards
    that carry a parts list have tens of thousands.

    Raises:
        Malformed: the text or its place is missing.
    """
    hidden = flag(node, "hide")
    if hidden and node[0] == "property" and word(node, 1) not in _ROLES:
        return None  # before anything else is looked at, because it is most of them
    inner = kids(node)
    named = node[0] in ("property", "fp_text")
    if node[0] == "property" and ("at" not in inner or "layer" not in inner or word(node, 1) == "Footprint"):
        return None
    role = _ROLES.get(word(node, 1), MarkingRole.FREE if node[0] == "fp_text" else MarkingRole.FIELD)
    local, rotation = at_of(node, inner)
    style = Style.known(inner.get("effects"))
    hidden = hidden or style.hidden
    layer_node = inner.get("layer", ["layer"])
    return Text(
        uid=maybe_word(inner.get("uuid") or inner.get("tstamp")),
        source=word(node, 2 if named else 1),
        layer=layers.layer(maybe_word(layer_node)),
        at=frame.point(local),
        rotation=_upright(rotation) if part_uid and not _is_free_to_turn(node, inner) else rotation,
        style=style,
        hidden=hidden,
        knockout="knockout" in layer_node,
        role=role if named else MarkingRole.FREE,
        part_uid=part_uid,
    )


def _is_free_to_turn(node: Node, inner: Mapping[str, Node]) -> bool:
    """Whether a part's text may stand on its head (``unlocked``)."""
    return flag(node, "unlocked") or "unlocked" in inner["at"]


def _upright(rotation: float) -> float:
    """The angle a part's text is drawn at so that it reads from below or from the right."""
    rotation %= 180.0
    return rotation - 180.0 if rotation > 90.0 else rotation


def boxed_text(node: Node, layers: Layers, frame: Frame = BOARD_FRAME, part_uid: str = "") -> Optional[Text]:
    """The text of a ``gr_text_box``, ``fp_text_box`` or ``table_cell``, placed where its box is."""
    inner = kids(node)
    style = Style.known(inner.get("effects"))
    corners = _box(inner)
    if not corners:
        return None
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    x = {"left": min(xs), "right": max(xs)}.get(style.h_align, (min(xs) + max(xs)) / 2)
    y = {"top": max(ys), "bottom": min(ys)}.get(style.v_align, (min(ys) + max(ys)) / 2)
    layer_node = inner.get("layer", ["layer"])
    return Text(
        uid=maybe_word(inner.get("uuid") or inner.get("tstamp")),
        source=word(node, 1),
        layer=layers.layer(maybe_word(layer_node)),
        at=frame.point((x, y)),
        rotation=maybe_number(inner.get("angle"), 0.0),
        style=style,
        hidden=style.hidden or flag(node, "hide"),
        knockout="knockout" in layer_node,
        part_uid=part_uid,
    )


def _box(inner: Mapping[str, Node]) -> list[Point]:
    if "start" in inner and "end" in inner:
        return [xy(inner["start"]), xy(inner["end"])]
    return [(float(x), float(y)) for x, y in points_of(inner["pts"])] if "pts" in inner else []


def table_texts(node: Node, layers: Layers) -> Iterator[Text]:
    """The texts in the cells of a ``table``; a cell takes the table's layer."""
    layer = kids(node).get("layer")
    for cells in each(node, "cells"):
        for cell in each(cells, "table_cell"):
            text = boxed_text(cell if layer is None or "layer" in kids(cell) else [*cell, layer], layers)
            if text is not None and text.source:
                yield text


class Resolver:
    """Answers variables for texts, on the board and within parts."""

    def __init__(self, parts: Sequence[Part], variables: Mapping[str, str], layers: Layers) -> None:
        self._variables, self._layers = variables, layers
        self._by_uid = {part.uid: part for part in reversed(parts) if part.uid}
        self._by_reference = {part.reference: part for part in reversed(parts)}

    def markings(self, texts: Sequence[Text]) -> list[Marking]:
        """The finished markings, in the same order."""
        shown = [self._shown(text) for text in texts]
        return [self._marking(*each) for each in zip(texts, shown, _extents(texts, shown))]

    def _shown(self, text: Text) -> str:
        if "${" not in text.source:
            return unescaped(text.source)
        part = self._by_uid.get(text.part_uid) if text.part_uid else None
        return unescaped(resolve(text.source, self._lookup(part, text.layer.name)))

    def _marking(self, text: Text, shown: str, extents: Polygon) -> Marking:
        style = text.style
        return Marking(
            uid=text.uid,
            text=printed(shown),
            source=text.source,
            layer=text.layer,
            at=text.at,
            height=style.height,
            stroke=style.stroke,
            extents=extents,
            rotation=text.rotation,
            mirrored=style.mirrored,
            hidden=text.hidden,
            knockout=text.knockout,
            role=text.role,
            part_uid=text.part_uid,
        )

    def _lookup(self, part: Optional[Part], layer: str) -> Lookup:
        def look_up(name: str) -> Optional[str]:
            if name == "LAYER":
                return self._layers.shown_name(layer)
            owner, colon, rest = name.partition(":")
            if colon:
                other = self._by_uid.get(owner) or self._by_reference.get(owner)
                return _of_part(other, rest) if other is not None else None
            value = _of_part(part, name) if part is not None else None
            return self._variables.get(name) if value is None else value

        return look_up


def _extents(texts: Sequence[Text], shown: Sequence[str]) -> list[Polygon]:
    """The room each text takes. Boards repeat few texts many times: each is measured once and placed with the rest."""
    if not texts:
        return []
    boxes: dict[tuple[str, Style, bool], tuple[float, float, float, float]] = {}
    placed: list[tuple[float, float, float, float]] = []
    for text, words in zip(texts, shown):
        key = (words, text.style, text.knockout)
        box = boxes.get(key)
        if box is None:
            box = boxes[key] = text.style.box(words, text.knockout)
        placed.append(box)
    x0, y0, x1, y1 = np.array(placed).T
    turn = np.radians([text.rotation for text in texts])[:, None]
    xs, ys = np.column_stack([x0, x1, x1, x0]), np.column_stack([y0, y0, y1, y1])
    at = np.array([text.at for text in texts])
    corners = np.dstack(
        [at[:, :1] + xs * np.cos(turn) - ys * np.sin(turn), at[:, 1:] + xs * np.sin(turn) + ys * np.cos(turn)]
    )
    made = np.asarray(shapely.polygons(corners), dtype=object)
    made[x0 == x1] = Polygon()
    return list(made)


def _of_part(part: Part, name: str) -> Optional[str]:
    """What a part answers to a variable."""
    own = {
        "REFERENCE": part.reference,
        "VALUE": part.value,
        "FOOTPRINT_NAME": part.package,
        "FOOTPRINT_LIBRARY": part.library,
        "FOOTPRINT_SIDE": "Front" if part.side is Side.TOP else "Back",
    }
    found = own.get(name.upper())
    return part.fields.get(name) if found is None else found
