# SPDX-License-Identifier: MIT
"""Parts: a footprint node with its fields, attributes, pads, courtyard and body."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.model import Layer, LayerKind, MarkingRole, Model, Mount, Part, Side
from lineworthy.shapes import Area, polygonal
from lineworthy_kicad.reader.copper import ZoneItem, ZoneMaker
from lineworthy_kicad.reader.drawn import Drawn, drawn
from lineworthy_kicad.reader.layers import BOTTOM_COPPER, Layers
from lineworthy_kicad.reader.outline import COURTYARD_SNAP_MM, closed_area
from lineworthy_kicad.reader.pads import Margins, PadMaker
from lineworthy_kicad.reader.points import Frame, at_of
from lineworthy_kicad.reader.sexpr import Node, atoms, each, flag, kids, maybe_number, maybe_word, word
from lineworthy_kicad.reader.texts import Text, boxed_text, text_of

_NOT_FIELDS = {"Reference", "Value", "Footprint", "Sheetname", "Sheetfile", "Sheet name", "Sheet file"}
_NOW_CALLED = {"ki_description": "Description"}
_HEIGHT_NAME = re.compile(
    r"(?:(?:max\w*|component|body|package|part|overall|seated)[\s_.-]*)*height\b.*", re.IGNORECASE
)
_HEIGHT_VALUE = re.compile(
    r"\s*(\d+(?:[.,]\d+)?)\s*(mm|millimet\w+|mils?|inch\w*|in|\"|um|µm)?\s*(?:max\w*\.?)?\s*\Z", re.I
)
_MM = {"mi": 0.0254, "in": 25.4, '"': 25.4, "um": 1e-3, "µm": 1e-3, "mm": 1.0}
_SNAP = 1000.0
"""Corners of drawn bodies are matched on a grid of a micrometre."""


@dataclass
class Placed:
    """What one footprint node holds: the part and everything on the board that belongs to it."""

    part: Part
    texts: list[Text] = field(default_factory=list)
    artwork: list[tuple[str, Layer, Drawn]] = field(default_factory=list)
    zones: list[ZoneItem] = field(default_factory=list)


class PartMaker:
    """Makes the parts of one board."""

    def __init__(self, layers: Layers, pads: PadMaker, zones: ZoneMaker, version: int) -> None:
        self._layers, self._pads, self._zones, self._version = layers, pads, zones, version

    def placed(self, node: Node, margins: Margins) -> Placed:
        """The part of a ``footprint`` node.

        Args:
            node: the footprint.
            margins: the board's mask and paste margins.
        """
        inner = kids(node)
        uid = maybe_word(inner.get("uuid") or inner.get("tstamp"))
        at, rotation = at_of(node, inner) if "at" in inner else ((0.0, 0.0), 0.0)
        frame = Frame(at, rotation)
        margins = margins.overridden(inner, self._version)
        texts = list(self._texts(node, frame, uid))
        artwork = list(self._artwork(node, frame))
        library, _, package = maybe_word(node).rpartition(":")
        fields = _fields(node)
        attributes = set(atoms(inner.get("attr", ["attr"])))
        part = Part(
            uid=uid,
            reference=_stated(node, "reference", "Reference"),
            value=_stated(node, "value", "Value"),
            at=at,
            side=Side.BOTTOM if maybe_word(inner.get("layer")) == BOTTOM_COPPER else Side.TOP,
            rotation=rotation % 360.0,
            package=package,
            library=library,
            description=maybe_word(inner.get("descr")),
            fields=fields,
            mount=_mount(attributes),
            fitted="dnp" not in attributes and not any(name.lower() == "dnp" for name in fields),
            in_parts_list="exclude_from_bom" not in attributes,
            in_placement="exclude_from_pos_files" not in attributes,
            board_only="board_only" in attributes,
            joined=_joined(node, inner),
            pads=tuple(self._pads.pad(pad, frame, margins) for pad in each(node, "pad")),
            courtyard=_courtyard(artwork),
            body=_body(artwork),
            height=_height(fields),
            models=tuple(_model(model) for model in each(node, "model")),
        )
        zones = [item for zone in each(node, "zone") for item in self._zones.items(zone, uid)]
        return Placed(part, texts, artwork, zones)

    def _texts(self, node: Node, frame: Frame, uid: str) -> Iterator[Text]:
        for part in node:
            if type(part) is not list:
                continue
            text: Optional[Text] = None
            if part[0] in ("property", "fp_text"):
                text = text_of(part, self._layers, frame, uid)
            elif part[0] == "fp_text_box":
                text = boxed_text(part, self._layers, frame, uid)
            elif part[0] == "dimension":
                # The only thing in a footprint besides zones that is placed in the board's own coordinates.
                for label in each(part, "gr_text"):
                    text = text_of(label, self._layers, part_uid=uid)
            # The editor drops hidden texts of parts as it reads them; hidden fields but reference and value are data.
            if text is not None and not (text.hidden and text.role in (MarkingRole.FREE, MarkingRole.FIELD)):
                yield text

    def _artwork(self, node: Node, frame: Frame) -> Iterator[tuple[str, Layer, Drawn]]:
        for part in node:
            if type(part) is not list or not part[0].startswith("fp_") or part[0].startswith("fp_text"):
                continue
            shape = drawn(part, frame)
            if shape is None:
                continue
            inner = kids(part)
            uid = maybe_word(inner.get("uuid") or inner.get("tstamp"))
            for name in layer_names(inner, self._layers):
                yield uid, self._layers.layer(name), shape


def layer_names(inner: Mapping[str, Node], layers: Layers) -> Sequence[str]:
    """The layers of a graphic: one, or copper and the mask opening over it."""
    if "layers" in inner:
        return sorted(layers.expand(inner["layers"][1:]))
    return [maybe_word(inner.get("layer"))]


def _joined(node: Node, inner: Mapping[str, Node]) -> tuple[frozenset[str], ...]:
    """Numbers of pads that the part joins: groups it lists, and of equal numbers where it says so (format 10)."""
    listed = [group for group in inner.get("jumper_pad_groups", [])[1:] if type(group) is list]
    groups = [frozenset(filter(None, atoms(group, 0))) for group in listed]  # a quoted head leaves an empty word
    if flag(node, "duplicate_pad_numbers_are_jumpers"):
        counts = Counter(maybe_word(pad) for pad in each(node, "pad"))
        groups += [frozenset({number}) for number, count in counts.items() if count > 1 and number]
    return tuple(groups)


def _stated(node: Node, old: str, new: str) -> str:
    """Reference or value: a field since format 8, a text of its own before."""
    for part in node:
        if type(part) is list and (
            (part[0] == "property" and maybe_word(part) == new) or (part[0] == "fp_text" and maybe_word(part) == old)
        ):
            return maybe_word(part, 2)
    return ""


def _fields(node: Node) -> dict[str, str]:
    """Named fields besides reference and value; the editor's own bookkeeping left out."""
    found: dict[str, str] = {}
    for prop in each(node, "property"):
        name = word(prop)
        name = _NOW_CALLED.get(name, name)
        if name not in _NOT_FIELDS and not name.startswith("ki_"):
            found[name] = maybe_word(prop, 2)
    return found


def _mount(attributes: set[str]) -> Mount:
    if "smd" in attributes:
        return Mount.SURFACE
    return Mount.THROUGH if "through_hole" in attributes else Mount.OTHER


def _model(node: Node) -> Model:
    inner = kids(node)
    # until version 5 places were in inches
    offset = _xyz(inner.get("offset"), 0.0) if "offset" in inner else _xyz(inner.get("at"), 0.0, 25.4)
    return Model(
        maybe_word(node), offset, _xyz(inner.get("scale"), 1.0), _xyz(inner.get("rotate"), 0.0), flag(node, "hide")
    )


def _xyz(node: Optional[Node], default: float, unit: float = 1.0) -> tuple[float, float, float]:
    inner = kids(node).get("xyz") if node is not None else None
    x, y, z = (maybe_number(inner, default, index) * unit for index in (1, 2, 3))
    return (x, y, z)


def _height(fields: Mapping[str, str]) -> Optional[float]:
    """A height in mm that a field states; a bare number is taken as mm."""
    for name, value in fields.items():
        if not _HEIGHT_NAME.fullmatch(name.strip()):
            continue
        match = _HEIGHT_VALUE.match(value)
        if match is None:
            continue
        unit = (match.group(2) or _unit_in(name)).lower()
        height = float(match.group(1).replace(",", ".")) * _MM.get(unit[:2], 1.0)
        if 0 < height < 500:
            return height
    return None


def _unit_in(name: str) -> str:
    match = re.search(r"[\[(_\s](mm|mil|inch|in|um)\b", name, re.IGNORECASE)
    return match.group(1) if match else "mm"


def _courtyard(artwork: Sequence[tuple[str, Layer, Drawn]]) -> dict[Side, Area]:
    """Courtyards by side; drawings that do not close make none."""
    made: dict[Side, Area] = {}
    for side in Side:
        shapes = [shape for _, layer, shape in artwork if layer.kind is LayerKind.COURTYARD and layer.side is side]
        area = closed_area(shapes, COURTYARD_SNAP_MM) if shapes else Polygon()
        if not area.is_empty:
            made[side] = area
    return made


_DETAIL_SHARE = 0.1
"""What is closed and takes less of all that is drawn is a detail of a body whose outline is left open somewhere."""


def _body(artwork: Sequence[tuple[str, Layer, Drawn]]) -> Optional[Area]:
    """The package outline: the largest closed shape on a fabrication layer, or the hull of all that is drawn there."""
    shapes = [shape for _, layer, shape in artwork if layer.kind is LayerKind.FABRICATION and len(shape.path)]
    if not shapes:
        return None
    closed = [Polygon(shape.path) for shape in shapes if shape.closed and len(shape.path) >= 3]
    lines = [np.round(shape.path * _SNAP) / _SNAP for shape in shapes if not shape.closed and len(shape.path) >= 2]
    strings = [shapely.LineString(line) for line in lines]
    faces = [*closed, *shapely.get_parts(shapely.polygonize(strings))]
    whole = shapely.union_all([face if face.is_valid else shapely.make_valid(face) for face in faces])
    pieces = [Polygon(piece.exterior) for piece in shapely.get_parts(polygonal(whole)) if piece.area > 0]
    hull = shapely.convex_hull(shapely.MultiPoint(np.concatenate([shape.path for shape in shapes])))
    largest = max(pieces, key=lambda piece: piece.area, default=None)
    if largest is not None and largest.area >= _DETAIL_SHARE * hull.area:
        return largest
    return hull if isinstance(hull, Polygon) else largest
