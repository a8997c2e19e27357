# SPDX-License-Identifier: MIT
"""Amendments as items of the inter-process interface, versions 9 and 10, and the proof that they arrived as meant.

A pad's property (alignment mark, test point) is not part of this interface: what is inserted is recognised by the
name of its land pattern, which says the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Union

from kipy.board_types import BoardText, FootprintInstance, Net, Pad
from kipy.geometry import Vector2
from kipy.proto.board.board_types_pb2 import (
    BoardLayer,
    FootprintMountingStyle,
    PadStackShape,
    PadType,
    ZoneConnectionStyle,
)
from kipy.proto.common.types.enums_pb2 import HorizontalAlignment, VerticalAlignment

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.amend.probes import MASK_MARGIN_MM
from lineworthy.model import Side
from lineworthy_kicad.hosts.common import near, nm, place, text_angle

Part = Union[FiducialMark, ProbePad, ToolingHole]

FIELD_SIZE_MM, FIELD_STROKE_MM = 1.0, 0.15

_COPPER = {Side.TOP: BoardLayer.BL_F_Cu, Side.BOTTOM: BoardLayer.BL_B_Cu}
_MASK = {Side.TOP: BoardLayer.BL_F_Mask, Side.BOTTOM: BoardLayer.BL_B_Mask}
_LEGEND = {Side.TOP: BoardLayer.BL_F_SilkS, Side.BOTTOM: BoardLayer.BL_B_SilkS}
_DRAWING = {Side.TOP: BoardLayer.BL_F_Fab, Side.BOTTOM: BoardLayer.BL_B_Fab}
_PASTE = {BoardLayer.BL_F_Paste, BoardLayer.BL_B_Paste}


def make(amendment: Amendment, nets: Mapping[str, Net]) -> Any:
    """A new item for an amendment. `nets` has the net of a probe pad by its name."""
    return _text(amendment) if isinstance(amendment, MarkingText) else _part(amendment, nets)


def fault(item: Any, amendment: Amendment) -> str:
    """What is wrong with an item as the editor gives it back; empty when it is as the amendment says."""
    if not near(_xy(item.position), place(amendment.at)):
        return "it is not where it should be"
    if isinstance(amendment, MarkingText):
        return _text_fault(item, amendment)
    if item.reference_field.text.value != amendment.reference:
        return f"it is called {item.reference_field.text.value}"
    pads = item.definition.pads
    return _pad_fault(pads[0], amendment) if len(pads) == 1 else f"it has {len(pads)} pads"


def _part(amendment: Part, nets: Mapping[str, Net]) -> FootprintInstance:
    """A part without a place in any list, with one round pad."""
    side = Side.TOP if isinstance(amendment, ToolingHole) else amendment.side
    part = FootprintInstance()
    part.layer = _COPPER[side]
    part.position = _vector(place(amendment.at))
    # No library nickname: the editor's rule check complains about one that its table of libraries does not have.
    part.definition.id.name = amendment.package
    fields = ((part.reference_field, _LEGEND[side], amendment.reference), (part.value_field, _DRAWING[side], ""))
    for field, layer, value in fields:
        field.text.value = value or amendment.package
        field.visible = False
        field.layer = layer
        field.text.position = part.position
        _write_style(field.text, FIELD_SIZE_MM, FIELD_STROKE_MM, side)
    attributes = part.attributes
    attributes.exclude_from_bill_of_materials = True
    attributes.exclude_from_position_files = True
    attributes.not_in_schematic = True
    hole = isinstance(amendment, ToolingHole)
    attributes.mounting_style = FootprintMountingStyle.FMS_UNSPECIFIED if hole else FootprintMountingStyle.FMS_SMD
    part.definition.add_item(_pad(amendment, side, nets))
    return part


def _pad(amendment: Part, side: Side, nets: Mapping[str, Net]) -> Pad:
    pad = Pad()
    pad.position = _vector(place(amendment.at))
    stack = pad.padstack
    land = stack.copper_layer(BoardLayer.BL_F_Cu)  # the top, whichever side the pad is on
    assert land is not None
    land.shape = PadStackShape.PSS_CIRCLE
    land.size = _vector((nm(amendment.diameter),) * 2)
    if isinstance(amendment, ToolingHole):
        pad.pad_type = PadType.PT_NPTH
        stack.layers = [*_COPPER.values(), *_MASK.values()]
        stack.drill.diameter = _vector((nm(amendment.diameter),) * 2)
        return pad
    pad.pad_type = PadType.PT_SMD
    stack.layers = [_COPPER[side], _MASK[side]]
    margin = MASK_MARGIN_MM
    if isinstance(amendment, FiducialMark):
        margin = amendment.ring
        pad.proto.copper_clearance_override.value_nm = nm(amendment.ring)
    else:
        pad.number = "1"
        pad.net = nets[amendment.net]
        stack.zone_settings.proto.zone_connection = ZoneConnectionStyle.ZCS_FULL
    for outer in (stack.front_outer_layers, stack.back_outer_layers):
        outer.proto.solder_mask_settings.solder_mask_margin.value_nm = nm(margin)
    return pad


def _text(text: MarkingText) -> BoardText:
    item = BoardText()
    item.value = text.source
    item.layer = _LEGEND[text.side]
    item.position = _vector(place(text.at))
    _write_style(item, text.height, text.stroke, text.side, text.rotation)
    return item


def _write_style(item: Any, height: float, stroke: float, side: Side, rotation: float = 0.0) -> None:
    style = item.attributes
    style.size = _vector((nm(height),) * 2)
    style.stroke_width = nm(stroke)
    style.line_spacing = 1.0  # or it would be written as none at all
    style.angle = text_angle(rotation, side is Side.BOTTOM)
    style.mirrored = side is Side.BOTTOM
    style.horizontal_alignment = HorizontalAlignment.HA_CENTER
    style.vertical_alignment = VerticalAlignment.VA_CENTER
    item.attributes = style


def _text_fault(item: Any, text: MarkingText) -> str:
    style = item.attributes
    if item.value != text.source:
        return f"it says {item.value}"
    if item.layer != _LEGEND[text.side] or style.mirrored != (text.side is Side.BOTTOM):
        return "it is on the wrong side"
    sizes = (style.size.x, style.stroke_width)
    return "" if near(sizes, (nm(text.height), nm(text.stroke))) else "it has the wrong size"


def _pad_fault(pad: Pad, amendment: Part) -> str:
    size = (nm(amendment.diameter),) * 2
    layers = set(pad.padstack.layers)
    land = pad.padstack.copper_layer(BoardLayer.BL_F_Cu)
    if not near(_xy(pad.position), place(amendment.at)):
        return "its pad is not where it should be"
    if land is None or not near(_xy(land.size), size):
        return "its pad has the wrong size"
    if pad.net.name != (amendment.net if isinstance(amendment, ProbePad) else ""):
        return f"its pad is on net {pad.net.name or 'none'}"
    if layers & _PASTE:
        return "its pad takes paste"
    if isinstance(amendment, ToolingHole):
        return "" if near(_xy(pad.padstack.drill.diameter), size) else "its hole has the wrong size"
    return "" if {_COPPER[amendment.side], _MASK[amendment.side]} <= layers else "its pad is on the wrong side"


def _vector(at: tuple[int, ...]) -> Vector2:
    return Vector2.from_xy(*at)


def _xy(vector: Vector2) -> tuple[int, int]:
    return (vector.x, vector.y)
