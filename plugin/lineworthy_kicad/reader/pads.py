# SPDX-License-Identifier: MIT
"""Pads: copper per layer, mask and paste openings with inherited margins, holes, roles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Optional

import shapely

from lineworthy.model import Hole, LayerKind, Pad, PadKind, PadRole, PadShape, Part, Side, Track
from lineworthy.shapes import Area, Point
from lineworthy_kicad.reader.copper import track_ends
from lineworthy_kicad.reader.layers import BOTTOM_COPPER, TOP_COPPER, Layers
from lineworthy_kicad.reader.nets import Nets
from lineworthy_kicad.reader.padshapes import LandShape, land_shape
from lineworthy_kicad.reader.points import Frame, at_of, moved, turned, unit
from lineworthy_kicad.reader.sexpr import Node, atoms, each, flag, kids, maybe_word, number, word

_KINDS = {
    "thru_hole": PadKind.THROUGH,
    "smd": PadKind.SURFACE,
    "connect": PadKind.CONNECTOR,
    "np_thru_hole": PadKind.UNPLATED,
}
_ROLES = {
    "pad_prop_bga": PadRole.ARRAY,
    "pad_prop_fiducial_glob": PadRole.FIDUCIAL_GLOBAL,
    "pad_prop_fiducial_loc": PadRole.FIDUCIAL_LOCAL,
    "pad_prop_testpoint": PadRole.TEST_POINT,
    "pad_prop_heatsink": PadRole.THERMAL,
    "pad_prop_castellated": PadRole.CASTELLATED,
    "pad_prop_mechanical": PadRole.MECHANICAL,
    "pad_prop_pressfit": PadRole.PRESS_FIT,
}
_MARGINS = {
    "mask": ("solder_mask_margin", "pad_to_mask_clearance"),
    "paste": ("solder_paste_margin", "pad_to_paste_clearance"),
    "ratio": ("solder_paste_margin_ratio", "solder_paste_ratio", "pad_to_paste_clearance_ratio"),
}
_ZERO_INHERITS_UNTIL = 20240201
"""Up to this format version a margin of 0 meant: take it from the next level up."""


@dataclass(frozen=True)
class Margins:
    """Mask margin, paste margin (mm) and paste margin as a part of the pad's size."""

    mask: float = 0.0
    paste: float = 0.0
    ratio: float = 0.0

    def overridden(self, children: Mapping[str, Node], version: int) -> Margins:
        """These margins where `children` (of a pad, a footprint, the board's set-up) do not state their own."""
        stated: dict[str, float] = {}
        for name, heads in _MARGINS.items():
            node = next((children[head] for head in heads if head in children), None)
            if node is not None:
                value = number(node)
                if value != 0 or version > _ZERO_INHERITS_UNTIL:
                    stated[name] = value
        if not stated:
            return self
        return Margins(**{**self.__dict__, **stated})


class PadMaker:
    """Makes the pads of one board. Placed shapes are kept by form and rotation: boards repeat few of them."""

    def __init__(self, layers: Layers, nets: Nets, version: int) -> None:
        self._layers, self._nets, self._version = layers, nets, version
        self._forms: dict[tuple[object, ...], Area] = {}
        self.doubtful: list[tuple[Pad, dict[str, Area]]] = []
        """Pads with the lands they have only where a track ends on them, which is not known yet."""

    def pad(self, node: Node, frame: Frame, margins: Margins) -> Pad:
        """A pad from its node.

        Args:
            node: ``(pad "1" smd roundrect (at ..) ..)``.
            frame: where its footprint lies.
            margins: the footprint's, board's already mixed in.
        """
        inner = kids(node)
        local, rotation = at_of(node, inner)
        at = frame.point(local)
        kind = _KINDS.get(word(node, 2), PadKind.SURFACE)
        stack = _stack(node, word(node, 3), self._layers.copper)
        front = stack[TOP_COPPER]
        names = self._layers.expand(inner["layers"][1:]) if "layers" in inner else frozenset()
        hole = _hole(inner.get("drill"), at, rotation, kind)
        margins = margins.overridden(inner, self._version)
        in_copper = [name for name in self._layers.copper if name in names]
        carries = bool(in_copper) and not _is_bare_hole(front, hole, kind)
        shapes = _Shapes(self, at, rotation)
        copper = {name: shapes.of(stack[name]) for name in in_copper} if carries else {}
        openings = _Openings(shapes, stack, margins if in_copper else Margins())
        pad = Pad(
            uid=maybe_word(inner.get("uuid") or inner.get("tstamp")),
            number=word(node, 1),
            at=at,
            kind=kind,
            copper={name: area for name, area in copper.items() if not area.is_empty},
            mask=dict(openings.of(LayerKind.MASK, names)),
            paste=dict(openings.of(LayerKind.PASTE, names)),
            hole=hole,
            role=_role(node),
            shape=front.shape,
            size=front.size,
            rotation=rotation % 360.0,
            net=self._nets.of(inner.get("net")),
            pin_name=maybe_word(inner.get("pinfunction")),
            pin_type=maybe_word(inner.get("pintype")),
        )
        return self._without_unused(pad, node, inner) if kind is PadKind.THROUGH else pad

    def _without_unused(self, pad: Pad, node: Node, inner: Mapping[str, Node]) -> Pad:
        """The pad without its lands on layers where it joins nothing, where its designer wants that."""
        ends = (TOP_COPPER, BOTTOM_COPPER)
        if flag(node, "start_end_only"):
            return replace(pad, copper={name: area for name, area in pad.copper.items() if name in ends})
        if not flag(node, "remove_unused_layers"):
            return pad
        kept = set(atoms(inner.get("zone_layer_connections", ["zone_layer_connections"])))
        kept.update(ends if flag(node, "keep_end_layers") else ())
        certain = replace(pad, copper={name: area for name, area in pad.copper.items() if name in kept})
        doubtful = {name: area for name, area in pad.copper.items() if name not in kept}
        if doubtful:
            self.doubtful.append((certain, doubtful))
        return certain

    def placed(self, form: LandShape, at: Point, rotation: float, margin: tuple[float, float]) -> Area:
        """A pad's shape on the board, grown by a margin on either axis."""
        key = (form.shape, form.size, form.delta, form.rounding, form.chamfer, form.chamfered, margin, rotation)
        area = self._forms.get(key) if form.primitives is None else None
        if area is None:
            area = form.area(margin)
            area = shapely.transform(area, lambda corners: turned(corners, rotation))
            if form.primitives is None:
                self._forms[key] = area
        if area.is_empty:
            return area
        c, s = unit(rotation)
        dx = at[0] + form.offset[0] * c - form.offset[1] * s
        dy = at[1] + form.offset[0] * s + form.offset[1] * c
        placed: Area = shapely.transform(area, lambda corners: moved(corners, (dx, dy)))
        return placed


def settled(
    parts: Sequence[Part], doubtful: Sequence[tuple[Pad, Mapping[str, Area]]], tracks: Sequence[Track]
) -> list[Part]:
    """The parts with those doubtful lands that a track of the same net and layer ends on."""
    if not doubtful:
        return list(parts)
    lands = [(pad, name, area) for pad, layers in doubtful for name, area in layers.items()]
    tree = shapely.STRtree(track_ends(tracks))
    added: dict[int, dict[str, Area]] = {}
    for i, j in zip(*tree.query([area for _, _, area in lands], predicate="intersects")):
        (pad, name, area), track = lands[i], tracks[j // 2]
        if track.layer == name and track.net == pad.net:
            added.setdefault(id(pad), {})[name] = area
    return [_with_lands(part, added) for part in parts]


def _with_lands(part: Part, added: Mapping[int, Mapping[str, Area]]) -> Part:
    if not any(id(pad) in added for pad in part.pads):
        return part
    return replace(part, pads=tuple(replace(p, copper={**p.copper, **added.get(id(p), {})}) for p in part.pads))


class _Shapes:
    """The shapes of one pad on the board. Land, opening and aperture are mostly the same, and then one object."""

    def __init__(self, maker: PadMaker, at: Point, rotation: float) -> None:
        self._maker, self._at, self._rotation = maker, at, rotation
        self._made: list[tuple[LandShape, tuple[float, float], Area]] = []

    def of(self, form: LandShape, margin: tuple[float, float] = (0.0, 0.0)) -> Area:
        """A form with a margin, placed."""
        for known, grown, area in self._made:
            if known is form and grown == margin:
                return area
        made = self._maker.placed(form, self._at, self._rotation, margin)
        self._made.append((form, margin, made))
        return made


class _Openings:
    """The mask openings and stencil apertures of one pad."""

    def __init__(self, shapes: _Shapes, stack: Mapping[str, LandShape], margins: Margins) -> None:
        self._shapes, self._stack, self._margins = shapes, stack, margins

    def of(self, kind: LayerKind, names: frozenset[str]) -> Iterator[tuple[Side, Area]]:
        """Openings of one kind by side."""
        end = "Mask" if kind is LayerKind.MASK else "Paste"
        for side, letter, copper in ((Side.TOP, "F", TOP_COPPER), (Side.BOTTOM, "B", BOTTOM_COPPER)):
            if f"{letter}.{end}" not in names:
                continue
            form = self._stack[copper]
            margin = self._mask(form) if kind is LayerKind.MASK else self._paste(form)
            area = self._shapes.of(form, margin)
            if not area.is_empty:
                yield side, area

    def _mask(self, form: LandShape) -> tuple[float, float]:
        return (self._margins.mask, self._margins.mask)

    def _paste(self, form: LandShape) -> tuple[float, float]:
        base, ratio = self._margins.paste, self._margins.ratio
        return (base + form.size[0] * ratio, base + form.size[1] * ratio)


def _stack(node: Node, shape: str, copper: tuple[str, ...]) -> dict[str, LandShape]:
    """The pad's shape on each copper layer."""
    front = land_shape(shape, node)
    stack = dict.fromkeys((TOP_COPPER, *copper, BOTTOM_COPPER), front)
    padstack = kids(node).get("padstack")
    if padstack is None:
        return stack
    for layer in each(padstack, "layer"):
        inner = kids(layer)
        form = land_shape(maybe_word(inner.get("shape"), default=shape), layer, front)
        name = word(layer, 1)
        names = [n for n in copper if n not in (TOP_COPPER, BOTTOM_COPPER)] if name == "Inner" else [name]
        stack.update(dict.fromkeys(names, form))
    return stack


def _hole(node: Optional[Node], at: Point, rotation: float, kind: PadKind) -> Optional[Hole]:
    """The hole from ``(drill [oval] d [d2] [(offset ..)])``; a drill that only holds an offset makes none."""
    if node is None or kind in (PadKind.SURFACE, PadKind.CONNECTOR):
        return None
    oblong = "oval" in node
    sizes = [part for part in node[1:] if type(part) is str and part != "oval"]
    if not sizes:
        return None
    first = 2 if oblong else 1
    width = number(node, first)
    height = number(node, first + 1) if len(sizes) > 1 else width
    if width <= 0 or height <= 0:
        return None
    return Hole(at, (width, height), kind is not PadKind.UNPLATED, rotation % 360.0)


def _is_bare_hole(front: LandShape, hole: Optional[Hole], kind: PadKind) -> bool:
    """Whether an unplated hole has no copper round it: its land is no larger than the hole."""
    if kind is not PadKind.UNPLATED or hole is None or front.offset != (0.0, 0.0):
        return False
    if front.shape is PadShape.CIRCLE:
        return front.size[0] <= hole.size[0]
    return front.shape is PadShape.OVAL and front.size[0] <= hole.size[0] and front.size[1] <= hole.size[1]


def _role(node: Node) -> PadRole:
    for prop in each(node, "property"):
        role = _ROLES.get(maybe_word(prop))
        if role is not None:
            return role
    return PadRole.NONE
