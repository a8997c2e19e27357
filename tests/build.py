# SPDX-License-Identifier: MIT
"""Boards for tests, built by hand in a few lines.

>>> board(30, 20, parts=(chip("R1", (10, 10)), fiducial("FID1", (3, 3))))

Two-layer boards with copper layers "top" and "bottom"; the lower left corner of the outline is (0, 0); mm, y up.
Everything has a readable uid made from its reference, so that failures explain themselves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Optional, Union

import shapely
from shapely import Polygon, affinity

from lineworthy.model import (
    Board,
    CopperArea,
    Graphic,
    Hole,
    Layer,
    LayerKind,
    Marking,
    MarkingRole,
    Mount,
    Net,
    Outline,
    Pad,
    PadKind,
    PadRole,
    PadShape,
    Part,
    Side,
    Track,
    Via,
)
from lineworthy.shapes import Area, Point, disc, stadium

TOP, BOTTOM = Side.TOP, Side.BOTTOM
COPPER = {TOP: "top", BOTTOM: "bottom"}
MASK_MARGIN = 0.05

LEGEND_TOP = Layer("F.SilkS", LayerKind.LEGEND, TOP)
LEGEND_BOTTOM = Layer("B.SilkS", LayerKind.LEGEND, BOTTOM)
COPPER_TOP = Layer("top", LayerKind.COPPER, TOP)
COPPER_BOTTOM = Layer("bottom", LayerKind.COPPER, BOTTOM)
MASK_TOP = Layer("F.Mask", LayerKind.MASK, TOP)
MASK_BOTTOM = Layer("B.Mask", LayerKind.MASK, BOTTOM)
FAB_TOP = Layer("F.Fab", LayerKind.FABRICATION, TOP)
DRAWING = Layer("Dwgs.User", LayerKind.DRAWING)

Size = Union[float, tuple[float, float]]


def board(width: float = 60.0, height: float = 40.0, **items: Any) -> Board:
    """A rectangular board; nets of pads, vias, tracks and pours are declared for you."""
    made = {"name": "widget", "outline": outline(width, height), **items}
    if "nets" not in made:
        probe = Board(**made)
        names = {pad.net for _, pad in probe.pads}
        names |= {item.net for item in (*probe.vias, *probe.tracks, *probe.areas)}
        made["nets"] = {name: Net(name) for name in sorted(names - {""})}
    return Board(**made)


def outline(width: float, height: float, at: Point = (0.0, 0.0), cutouts: Sequence[Polygon] = ()) -> Outline:
    """A closed rectangle with its lower left corner at `at`."""
    area = shapely.box(at[0], at[1], at[0] + width, at[1] + height)
    for hole in cutouts:
        area = area.difference(hole)
    return Outline(area, uids=("outline",))


def rectangle(at: Point, width: float, height: float, rotation: float = 0.0) -> Polygon:
    """A rectangle about its centre."""
    box = shapely.box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)
    return affinity.rotate(box, rotation, origin=at) if rotation else box


def pad(
    number: str = "1",
    at: Point = (0.0, 0.0),
    size: Size = 1.0,
    *,
    side: Side = TOP,
    net: str = "",
    shape: PadShape = PadShape.RECTANGLE,
    kind: PadKind = PadKind.SURFACE,
    role: PadRole = PadRole.NONE,
    mask_margin: Optional[float] = MASK_MARGIN,
    paste: bool = True,
    rotation: float = 0.0,
    uid: str = "",
    pin_name: str = "",
    pin_type: str = "",
) -> Pad:
    """A surface land; `mask_margin` None leaves it covered. A float as size makes it round or square."""
    both = size if isinstance(size, tuple) else (size, size)

    def grown(by: float) -> Area:
        if shape in (PadShape.CIRCLE, PadShape.OVAL):
            return stadium(at, (both[0] + 2 * by, both[1] + 2 * by), rotation)
        return rectangle(at, both[0] + 2 * by, both[1] + 2 * by, rotation)

    return Pad(
        uid=uid or f"pad-{number}",
        number=number,
        at=at,
        kind=kind,
        copper={COPPER[side]: grown(0.0)},
        mask={} if mask_margin is None else {side: grown(mask_margin)},
        paste={side: grown(0.0)} if paste else {},
        role=role,
        shape=shape,
        size=both,
        rotation=rotation,
        net=net,
        pin_name=pin_name,
        pin_type=pin_type,
    )


def round_pad(number: str = "1", at: Point = (0.0, 0.0), diameter: float = 1.0, **more: Any) -> Pad:
    """A round surface land."""
    return pad(number, at, diameter, shape=PadShape.CIRCLE, **more)


def through_pad(
    number: str = "1",
    at: Point = (0.0, 0.0),
    diameter: float = 1.6,
    drill: float = 0.8,
    *,
    net: str = "",
    plated: bool = True,
    mask_margin: float = MASK_MARGIN,
    role: PadRole = PadRole.NONE,
    uid: str = "",
) -> Pad:
    """A drilled land, open on both sides. Unplated with a diameter up to the drill: a bare hole without copper."""
    land = disc(at, diameter)
    bare = not plated and diameter <= drill + 1e-9
    opening = disc(at, max(diameter, drill) + 2 * mask_margin)
    return Pad(
        uid=uid or f"pad-{number}",
        number=number,
        at=at,
        kind=PadKind.THROUGH if plated else PadKind.UNPLATED,
        copper={} if bare else {"top": land, "bottom": land},
        mask={TOP: opening, BOTTOM: opening},
        hole=Hole(at, (drill, drill), plated),
        role=role,
        shape=PadShape.CIRCLE,
        size=(diameter, diameter),
        net=net,
    )


def part(reference: str, at: Point = (0.0, 0.0), pads: Sequence[Pad] = (), **more: Any) -> Part:
    """A part of given pads (in board coordinates); the courtyard is its extent plus 0.25 mm unless given."""
    side = more.get("side", TOP)
    made: dict[str, Any] = {"uid": f"part-{reference}", "reference": reference, "at": at, "pads": tuple(pads), **more}
    if "courtyard" not in made:
        extent = Part(**made).extent
        made["courtyard"] = {} if extent.is_empty else {side: extent.buffer(0.25, join_style="mitre")}
    return Part(**made)


def smd_part(
    reference: str,
    at: Point = (0.0, 0.0),
    *,
    nets: Sequence[str] = ("", ""),
    pitch: float = 1.27,
    land: tuple[float, float] = (0.6, 1.5),
    span: float = 5.0,
    side: Side = TOP,
    package: str = "SOIC-8",
    **more: Any,
) -> Part:
    """Two rows of lands `span` apart, `pitch` along x, counted down one row and back up the other, as many as nets."""
    count = len(nets)
    first = (count + 1) // 2
    pads = []
    for index, net in enumerate(nets):
        row, column = (0, index) if index < first else (1, count - 1 - index)
        spot = (at[0] + (column - (first - 1) / 2) * pitch, at[1] + (row - 0.5) * span)
        pads.append(pad(str(index + 1), spot, land, side=side, net=net, uid=f"{reference}.{index + 1}"))
    body = rectangle(at, max(first * pitch, 1.0), max(span - land[1], 0.3))
    return part(reference, at, pads, side=side, package=package, body=body, **more)


def chip(
    reference: str,
    at: Point = (0.0, 0.0),
    *,
    nets: tuple[str, str] = ("", ""),
    rotation: float = 0.0,
    side: Side = TOP,
    package: str = "R_0603_1608Metric",
    **more: Any,
) -> Part:
    """A 0603 two-terminal chip, lands along x before rotation."""
    spots = [(at[0] + dx, at[1]) for dx in (-0.8, 0.8)]
    if rotation:
        spots = [affinity.rotate(shapely.Point(s), rotation, origin=at).coords[0] for s in spots]
    pads = [
        pad(str(n), spot, (0.8, 0.95), side=side, net=net, rotation=rotation, uid=f"{reference}.{n}")
        for n, (spot, net) in enumerate(zip(spots, nets), 1)
    ]
    body = rectangle(at, 1.6, 0.8, rotation)
    return part(reference, at, pads, side=side, package=package, body=body, rotation=rotation, **more)


def through_part(
    reference: str,
    at: Point = (0.0, 0.0),
    *,
    nets: Sequence[str] = ("", ""),
    pitch: float = 2.54,
    diameter: float = 1.7,
    drill: float = 1.0,
    package: str = "PinHeader_1x02_P2.54mm_Vertical",
    **more: Any,
) -> Part:
    """A single row of drilled lands along x, centred on `at`."""
    count = len(nets)
    pads = [
        through_pad(
            str(n + 1),
            (at[0] + (n - (count - 1) / 2) * pitch, at[1]),
            diameter,
            drill,
            net=net,
            uid=f"{reference}.{n + 1}",
        )
        for n, net in enumerate(nets)
    ]
    body = rectangle(at, count * pitch, pitch)
    return part(reference, at, pads, mount=Mount.THROUGH, package=package, body=body, **more)


def fiducial(
    reference: str = "FID1",
    at: Point = (0.0, 0.0),
    diameter: float = 1.0,
    opening: Optional[float] = None,
    *,
    side: Side = TOP,
    package: str = "Fiducial_1mm_Mask2mm",
    role: PadRole = PadRole.FIDUCIAL_GLOBAL,
    number: str = "",
    **more: Any,
) -> Part:
    """A round mark; the mask opening is twice the diameter unless given."""
    wide = 2 * diameter if opening is None else opening
    margin = (wide - diameter) / 2
    land = round_pad(
        number, at, diameter, side=side, role=role, mask_margin=margin, paste=False, uid=f"{reference}.mark"
    )
    flags = {"in_parts_list": False, "in_placement": False, **more}
    return part(reference, at, (land,), side=side, package=package, **flags)


def hole(reference: str = "H1", at: Point = (0.0, 0.0), drill: float = 3.2, **more: Any) -> Part:
    """An unplated mounting hole without copper."""
    pads = (through_pad("", at, drill, drill, plated=False, uid=f"{reference}.hole"),)
    flags = {"package": "MountingHole_3.2mm_M3", "in_parts_list": False, "in_placement": False, **more}
    return part(reference, at, pads, mount=Mount.OTHER, **flags)


def probe_pad(
    reference: str = "TP1", at: Point = (0.0, 0.0), net: str = "GND", diameter: float = 1.0, **more: Any
) -> Part:
    """A round bare land with a net."""
    land = round_pad("1", at, diameter, net=net, paste=False, side=more.get("side", TOP), uid=f"{reference}.1")
    return part(reference, at, (land,), package="TestPoint_Pad_D1.0mm", in_placement=False, **more)


def via(at: Point, diameter: float = 0.6, drill: float = 0.3, *, net: str = "", open_on: Sequence[Side] = ()) -> Via:
    """A through via, covered by mask except on the sides in `open_on`."""
    tented = frozenset({TOP, BOTTOM} - set(open_on))
    return Via(f"via-{at[0]:g}-{at[1]:g}", at, diameter, drill, ("top", "bottom"), net, tented)


def track(start: Point, end: Point, width: float = 0.2, *, layer: str = "top", net: str = "") -> Track:
    """A straight track."""
    return Track(f"track-{start[0]:g}-{start[1]:g}-{end[0]:g}-{end[1]:g}-{layer}", start, end, width, layer, net)


def pour(area: Area, *, layer: str = "top", net: str = "GND", uid: str = "pour") -> CopperArea:
    """A filled pour; holes are kept as in the editor's files, joined to the outside by zero-width cuts."""
    import numpy as np

    rings = []
    for piece in shapely.get_parts(area):
        ring = list(piece.exterior.coords)[:-1]
        for inner in piece.interiors:
            ring = _joined(ring, list(inner.coords)[:-1])
        rings.append(np.array(ring))
    return CopperArea(uid, layer, net, boundary=area, rings=tuple(rings))


def _joined(ring: list[Point], inner: list[Point]) -> list[Point]:
    """`ring` with a detour from its nearest point to `inner`, round it and back."""
    best = min(
        ((a, b) for a in range(len(ring)) for b in range(len(inner))),
        key=lambda ab: (ring[ab[0]][0] - inner[ab[1]][0]) ** 2 + (ring[ab[0]][1] - inner[ab[1]][1]) ** 2,
    )
    a, b = best
    return [*ring[: a + 1], *inner[b:], *inner[: b + 1], *ring[a:]]


def marking(
    text: str,
    at: Point = (10.0, 10.0),
    layer: Layer = LEGEND_TOP,
    height: float = 1.0,
    *,
    source: str = "",
    role: MarkingRole = MarkingRole.FREE,
    uid: str = "",
    **more: Any,
) -> Marking:
    """A text; its extents are a box as wide as such a text usually is."""
    box = rectangle(at, max(len(text), 1) * height * 0.9, height)
    return Marking(
        uid or f"text-{text[:12]}-{layer.name}", text, layer, at, height, 0.15, box, source or text, role=role, **more
    )


def graphic(shape: Area, layer: Layer = LEGEND_TOP, uid: str = "drawn", **more: Any) -> Graphic:
    """Drawn artwork."""
    return Graphic(uid, layer, shape, **more)


def with_fields(item: Part, fields: Mapping[str, str]) -> Part:
    """The same part with other fields."""
    import dataclasses

    return dataclasses.replace(item, fields=dict(fields))


def with_pins(item: Part, pins: Mapping[str, Union[str, tuple[str, str]]]) -> Part:
    """The same part with pins named by pad number: ``{"1": "SWDIO", "2": ("VDD", "power_in")}``."""
    import dataclasses

    def named(land: Pad) -> Pad:
        pin = pins.get(land.number, ("", ""))
        name, kind = pin if isinstance(pin, tuple) else (pin, "")
        return dataclasses.replace(land, pin_name=name, pin_type=kind)

    return dataclasses.replace(item, pads=tuple(named(land) for land in item.pads))
