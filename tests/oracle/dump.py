# SPDX-License-Identifier: MIT
"""What versions 9 and 10 of the editor say about a board; run by the editor's own interpreter.

    /usr/bin/python3 tests/oracle/dump.py BOARD.kicad_pcb OUT.json

`dump_shared.py` says in which form.
"""

from __future__ import annotations

import sys

import pcbnew
from dump_shared import (
    FINE_NM,
    SHAPES,
    VISIBLE_SIDES,
    at,
    casts,
    kind_of,
    pad_facts,
    part_facts,
    refine,
    rings,
    shape_facts,
    text_facts,
    title,
    track_facts,
    via_facts,
    write,
    zone_facts,
)

TEXT_CLASSES = ("PCB_TEXT", "PCB_FIELD", "PCB_TEXTBOX", "PCB_TABLECELL")
DIMENSIONS = ("PCB_DIM_ALIGNED", "PCB_DIM_ORTHOGONAL", "PCB_DIM_LEADER", "PCB_DIM_RADIAL", "PCB_DIM_CENTER")
name = pcbnew.LSET.Name


def main(board_path: str, out_path: str) -> int:
    """Reads one board with the editor and writes what it says."""
    board = pcbnew.LoadBoard(board_path)
    refine(board)
    tracks = casts(board.Tracks())
    facts = {
        "editor": pcbnew.Version(),
        "copper_layers": [name(layer) for layer in board.GetEnabledLayers().CuStack()],
        "thickness": board.GetDesignSettings().GetBoardThickness(),
        "nets": sorted(str(net) for net in board.GetNetsByName() if str(net)),
        "courtyards_shaved": True,  # since version 7
        "title": title(board.GetTitleBlock()),
        "outline": _outline(board),
        "parts": [_part(part, board) for part in board.Footprints()],
        "tracks": [_track(item) for item in tracks if not isinstance(item, pcbnew.PCB_VIA)],
        "vias": [_via(item, board) for item in tracks if isinstance(item, pcbnew.PCB_VIA)],
    }
    zones = [(zone, "") for zone in board.Zones()]
    loose = [(item, "") for item in casts(board.Drawings())]
    for part in board.Footprints():
        uid = part.m_Uuid.AsString()
        zones += [(zone, uid) for zone in part.Zones()]
        loose += [(item, uid) for item in casts(part.GraphicalItems())]
        loose += [(field, uid) for field in part.GetFields()]
    facts["zones"] = [_zone(zone, uid) for zone, uid in zones]
    facts["texts"] = [_text(item, uid) for item, uid in loose if kind_of(item) in TEXT_CLASSES + DIMENSIONS]
    facts["shapes"] = [_shape(item, uid) for item, uid in loose if kind_of(item) == "PCB_SHAPE"]
    asked = (*TEXT_CLASSES, *DIMENSIONS, "PCB_SHAPE")
    facts["others"] = sorted(kind_of(item) for item, _ in loose if kind_of(item) not in asked)
    write(facts, out_path)
    return 0


def _covered(item, layer):
    shapes = pcbnew.SHAPE_POLY_SET()
    item.TransformShapeToPolygon(shapes, layer, 0, FINE_NM, pcbnew.ERROR_INSIDE)
    return rings(shapes)


def _drawn(shape, layer):
    """What a shape covers, once where it covers it twice: the ends of an arc may lie on each other."""
    shapes = pcbnew.SHAPE_POLY_SET()
    shape.TransformShapeToPolygon(shapes, layer, 0, FINE_NM, pcbnew.ERROR_INSIDE)
    try:
        shapes.Simplify()
    except TypeError:  # version 9 wants to be told how
        shapes.Simplify(pcbnew.SHAPE_POLY_SET.PM_FAST)
    return rings(shapes)


def _outline(board):
    shapes = pcbnew.SHAPE_POLY_SET()
    try:
        closed = board.GetBoardPolygonOutlines(shapes, False)  # 10: nothing made up where the outline is open
    except TypeError:
        closed = board.GetBoardPolygonOutlines(shapes)
    return {"closed": bool(closed), "area": rings(shapes) if closed else []}


def _part(part, board):
    return {
        **part_facts(part),
        "description": part.GetLibDescription(),
        "fields": {field.GetName(): field.GetText() for field in part.GetFields()},
        "fitted": not part.IsDNP(),
        "pads": [_pad(pad, board) for pad in part.Pads()],
    }


def _pad(pad, board):
    hole = None
    if pad.HasHole():
        hole = {"at": at(pad.GetPosition()), "size": at(pad.GetDrillSize()), "area": _hole(pad)}
    layer = pad.GetPrincipalLayer()
    return {
        **pad_facts(pad),
        "shape": SHAPES[pad.GetShape(layer)],
        "size": at(pad.GetSize(layer)),
        "hole": hole,
        **_pad_copper(pad, board),
        "mask": {s: _mask(pad, m) for s, m, _ in VISIBLE_SIDES if pad.IsOnLayer(m)},
        "paste": {s: _paste(pad, p) for s, _, p in VISIBLE_SIDES if pad.IsOnLayer(p)},
    }


def _pad_copper(pad, board):
    """Copper layers by name as indices into a list of shapes, since most pads are the same on all layers."""
    layers = [layer for layer in board.GetEnabledLayers().CuStack() if pad.IsOnLayer(layer) and pad.FlashLayer(layer)]
    same = pad.Padstack().Mode() == pcbnew.PADSTACK.MODE_NORMAL
    shapes, copper = [], {}
    for layer in layers:
        if not (same and shapes):
            shapes.append(_covered(pad, layer))
        copper[name(layer)] = len(shapes) - 1
    return {"copper": copper, "shapes": shapes}


def _opening(pad, layer, across, along):
    """A mask or paste opening as the editor plots it.

    Most shapes are plotted as the same shape in another size: corners keep their rounding as a part of the size, and
    a grown rectangle's corners become round. Only what has no such other size is grown or shrunk all around.
    """
    shape = pad.GetShape(layer)
    offset_all_around = (pcbnew.PAD_SHAPE_TRAPEZOID, pcbnew.PAD_SHAPE_CUSTOM)
    if shape in offset_all_around or (shape == pcbnew.PAD_SHAPE_CHAMFERED_RECT and across > 0):
        outline = pcbnew.SHAPE_POLY_SET()
        pad.TransformShapeToPolygon(outline, layer, 0, FINE_NM, pcbnew.ERROR_INSIDE)
        outline.InflateWithLinkedHoles(across, pcbnew.CORNER_STRATEGY_ROUND_ALL_CORNERS, FINE_NM)
        return rings(outline)
    plotted = pcbnew.PAD(pad)
    size = pad.GetSize(layer)
    plotted.SetSize(layer, pcbnew.VECTOR2I(size.x + 2 * across, size.y + 2 * along))
    if shape == pcbnew.PAD_SHAPE_RECTANGLE and across > 0:
        plotted.SetShape(layer, pcbnew.PAD_SHAPE_ROUNDRECT)
        plotted.SetRoundRectCornerRadius(layer, across)
    return _covered(plotted, layer)


def _mask(pad, layer):
    margin = pad.GetSolderMaskExpansion(layer)
    return _opening(pad, layer, margin, margin)


def _paste(pad, layer):
    margin = pad.GetSolderPasteMargin(layer)
    return _opening(pad, layer, margin.x, margin.y)


def _hole(pad):
    shapes = pcbnew.SHAPE_POLY_SET()
    pad.TransformHoleToPolygon(shapes, 0, FINE_NM, pcbnew.ERROR_INSIDE)
    return rings(shapes)


def _track(track):
    return {**track_facts(track, name), "mask_opened": track.HasSolderMask()}


def _via(via, board):
    layers = [layer for layer in board.GetEnabledLayers().CuStack() if via.IsOnLayer(layer)]
    return {
        **via_facts(via, name),
        "diameters": {name(layer): via.GetWidth(layer) for layer in layers},
        "lands": [name(layer) for layer in layers if via.FlashLayer(layer)],
        "tented": [side for side, mask, _ in VISIBLE_SIDES if via.IsTented(mask)],
    }


def _zone(zone, part_uid):
    return {
        **zone_facts(zone, part_uid, name),
        "priority": zone.GetAssignedPriority(),
        "fills": {name(layer): rings(zone.GetFilledPolysList(layer)) for layer in zone.GetLayerSet().Seq()},
    }


def _text(text, part_uid):
    return {
        **text_facts(text, part_uid, name),
        "class": kind_of(text),
        "role": _text_role(text),
        "shown": text.GetShownText(True),
        "rotation": text.GetDrawRotation().AsDegrees(),
        "knockout": text.IsKnockout(),
        "font": text.GetFontName(),
    }


def _text_role(text):
    if not isinstance(text, pcbnew.PCB_FIELD):
        return "free"
    if text.IsReference():
        return "reference"
    return "value" if text.IsValue() else "field"


def _shape(shape, part_uid):
    facts = shape_facts(shape, part_uid, name)
    return {
        **facts,
        "net": shape.GetNetname(),
        "curved": facts["curved"] or shape.GetPolyShape().ArcCount() > 0,
        "area": _drawn(shape, shape.GetLayer()),
    }


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
