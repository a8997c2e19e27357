# SPDX-License-Identifier: MIT
"""What the editor itself says about a board, as JSON; run by the editor's own interpreter.

    /usr/bin/python3 tests/oracle/dump.py BOARD.kicad_pcb OUT.json

Lengths and positions are the editor's whole nanometres, y **down**; angles are degrees counter-clockwise as drawn.
A polygon is a list of pieces, a piece a list of rings (outside first), a ring x0, y0, x1, y1 ... as little-endian
32-bit numbers in base 64: a large board has millions of them.
"""

from __future__ import annotations

import base64
import json
import os
import struct
import sys

import pcbnew

FINE_NM = 100
"""Largest distance between a true arc and the editor's chords: fine enough that 0.1 % of a pad can be told."""
VISIBLE_SIDES = (("top", pcbnew.F_Mask, pcbnew.F_Paste), ("bottom", pcbnew.B_Mask, pcbnew.B_Paste))
COURTYARDS = (("top", pcbnew.F_CrtYd), ("bottom", pcbnew.B_CrtYd))
CURVED = (pcbnew.SHAPE_T_ARC, pcbnew.SHAPE_T_CIRCLE, pcbnew.SHAPE_T_BEZIER)
TEXT_CLASSES = ("PCB_TEXT", "PCB_FIELD", "PCB_TEXTBOX", "PCB_TABLECELL")
DIMENSIONS = ("PCB_DIM_ALIGNED", "PCB_DIM_ORTHOGONAL", "PCB_DIM_LEADER", "PCB_DIM_RADIAL", "PCB_DIM_CENTER")


def main(board_path: str, out_path: str) -> int:
    """Reads one board with the editor and writes what it says."""
    board = pcbnew.LoadBoard(board_path)
    _refine(board)
    facts = {
        "editor": pcbnew.Version(),
        "copper_layers": [pcbnew.LSET.Name(layer) for layer in board.GetEnabledLayers().CuStack()],
        "thickness": board.GetDesignSettings().GetBoardThickness(),
        "nets": sorted(str(name) for name in board.GetNetsByName() if str(name)),
        "courtyards_shaved": True,  # since version 7
        "title": _title(board.GetTitleBlock()),
        "outline": _outline(board),
        "parts": [_part(part, board) for part in board.Footprints()],
        "tracks": [_track(item, board) for item in _casts(board.Tracks()) if not isinstance(item, pcbnew.PCB_VIA)],
        "vias": [_via(item, board) for item in _casts(board.Tracks()) if isinstance(item, pcbnew.PCB_VIA)],
    }
    zones = [(zone, "") for zone in board.Zones()]
    loose = [(item, "") for item in _casts(board.Drawings())]
    for part in board.Footprints():
        uid = part.m_Uuid.AsString()
        zones += [(zone, uid) for zone in part.Zones()]
        loose += [(item, uid) for item in _casts(part.GraphicalItems())]
        loose += [(field, uid) for field in part.GetFields()]
    facts["zones"] = [_zone(zone, uid, board) for zone, uid in zones]
    facts["texts"] = [_text(item, uid, board) for item, uid in loose if _class(item) in TEXT_CLASSES + DIMENSIONS]
    facts["shapes"] = [_shape(item, uid, board) for item, uid in loose if _class(item) == "PCB_SHAPE"]
    facts["others"] = sorted(
        _class(item) for item, _ in loose if _class(item) not in (*TEXT_CLASSES, *DIMENSIONS, "PCB_SHAPE")
    )
    with open(out_path + ".part", "w", encoding="utf-8") as stream:
        json.dump(facts, stream, separators=(",", ":"))
    os.replace(out_path + ".part", out_path)
    return 0


def _refine(board):
    """Has the editor work out again, with fine chords, the shapes it keeps ready: custom pads and courtyards."""
    board.GetDesignSettings().m_MaxError = FINE_NM
    for part in board.Footprints():
        part.BuildCourtyardCaches()
        for pad in part.Pads():
            pad.SetDirty()


def _casts(items):
    return [items[i].Cast() for i in range(len(items))]


def _class(item):
    return type(item).__name__


def _at(point):
    return [point.x, point.y]


def _rings(shapes):
    """A poly set as plain lists."""
    pieces = []
    for i in range(shapes.OutlineCount()):
        chains = [shapes.Outline(i)] + [shapes.Hole(i, k) for k in range(shapes.HoleCount(i))]
        piece = []
        for chain in chains:
            flat = []
            for k in range(chain.PointCount()):
                point = chain.CPoint(k)
                flat += (point.x, point.y)
            piece.append(base64.b64encode(struct.pack(f"<{len(flat)}i", *flat)).decode("ascii"))
        pieces.append(piece)
    return pieces


def _named(item):
    """The layer's name in files; a free layer goes by the one its user gave it."""
    name = pcbnew.LSET.Name(item.GetLayer())
    return item.GetLayerName() if name.startswith("User.") else name


def _covered(item, layer):
    shapes = pcbnew.SHAPE_POLY_SET()
    item.TransformShapeToPolygon(shapes, layer, 0, FINE_NM, pcbnew.ERROR_INSIDE)
    return _rings(shapes)


def _drawn(shape, layer):
    """What a shape covers, once where it covers it twice: the ends of an arc may lie on each other."""
    shapes = pcbnew.SHAPE_POLY_SET()
    shape.TransformShapeToPolygon(shapes, layer, 0, FINE_NM, pcbnew.ERROR_INSIDE)
    try:
        shapes.Simplify()
    except TypeError:  # version 9 wants to be told how
        shapes.Simplify(pcbnew.SHAPE_POLY_SET.PM_FAST)
    return _rings(shapes)


def _title(block):
    return {
        "title": block.GetTitle(),
        "revision": block.GetRevision(),
        "date": block.GetDate(),
        "company": block.GetCompany(),
        "comments": [block.GetComment(i) for i in range(9)],
    }


def _outline(board):
    shapes = pcbnew.SHAPE_POLY_SET()
    try:
        closed = board.GetBoardPolygonOutlines(shapes, False)  # 10: nothing made up where the outline is open
    except TypeError:
        closed = board.GetBoardPolygonOutlines(shapes)
    return {"closed": bool(closed), "area": _rings(shapes) if closed else []}


def _part(part, board):
    attributes = part.GetAttributes()
    library = part.GetFPID()
    return {
        "uid": part.m_Uuid.AsString(),
        "reference": part.GetReference(),
        "value": part.GetValue(),
        "at": _at(part.GetPosition()),
        "rotation": part.GetOrientationDegrees(),
        "side": "bottom" if part.IsFlipped() else "top",
        "package": str(library.GetLibItemName()),
        "library": str(library.GetLibNickname()),
        "description": part.GetLibDescription(),
        "fields": {field.GetName(): field.GetText() for field in part.GetFields()},
        "mount": "surface"
        if attributes & pcbnew.FP_SMD
        else ("through" if attributes & pcbnew.FP_THROUGH_HOLE else "other"),
        "fitted": not part.IsDNP(),
        "in_parts_list": not part.IsExcludedFromBOM(),
        "in_placement": not part.IsExcludedFromPosFiles(),
        "board_only": part.IsBoardOnly(),
        "models": [model.m_Filename for model in part.Models()],
        "courtyard": {side: _rings(part.GetCourtyard(layer)) for side, layer in COURTYARDS},
        "pads": [_pad(pad, board) for pad in part.Pads()],
    }


def _pad(pad, board):
    names = {
        pcbnew.PAD_ATTRIB_PTH: "through",
        pcbnew.PAD_ATTRIB_SMD: "surface",
        pcbnew.PAD_ATTRIB_CONN: "connector",
        pcbnew.PAD_ATTRIB_NPTH: "unplated",
    }
    hole = None
    if pad.HasHole():
        drill = pad.GetDrillSize()
        hole = {"at": _at(pad.GetPosition()), "size": _at(drill), "area": _hole(pad)}
    return {
        "uid": pad.m_Uuid.AsString(),
        "number": pad.GetNumber(),
        "at": _at(pad.GetPosition()),
        "kind": names[pad.GetAttribute()],
        "role": _role(pad.GetProperty()),
        "net": pad.GetNetname(),
        "pin_name": pad.GetPinFunction(),
        "pin_type": pad.GetPinType(),
        "shape": _pad_shape(pad),
        "size": _at(pad.GetSize(pad.GetPrincipalLayer())),
        "rotation": pad.GetOrientationDegrees(),
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
        copper[pcbnew.LSET.Name(layer)] = len(shapes) - 1
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
        return _rings(outline)
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
    return _rings(shapes)


def _role(code):
    names = {
        "FIDUCIAL_GLBL": "fiducial-global",
        "FIDUCIAL_LOCAL": "fiducial-local",
        "TESTPOINT": "test-point",
        "CASTELLATED": "castellated",
        "HEATSINK": "thermal",
        "BGA": "array",
        "MECHANICAL": "mechanical",
        "PRESSFIT": "press-fit",
    }
    codes = {getattr(pcbnew, "PAD_PROP_" + name, None): word for name, word in names.items()}
    return codes.get(code, "none")


def _pad_shape(pad):
    shapes = {
        pcbnew.PAD_SHAPE_CIRCLE: "circle",
        pcbnew.PAD_SHAPE_OVAL: "oval",
        pcbnew.PAD_SHAPE_RECTANGLE: "rectangle",
        pcbnew.PAD_SHAPE_ROUNDRECT: "rounded",
        pcbnew.PAD_SHAPE_CHAMFERED_RECT: "chamfered",
        pcbnew.PAD_SHAPE_TRAPEZOID: "trapezoid",
        pcbnew.PAD_SHAPE_CUSTOM: "custom",
    }
    return shapes[pad.GetShape(pad.GetPrincipalLayer())]


def _track(track, board):
    arc = isinstance(track, pcbnew.PCB_ARC)
    return {
        "uid": track.m_Uuid.AsString(),
        "start": _at(track.GetStart()),
        "end": _at(track.GetEnd()),
        "mid": _at(track.GetMid()) if arc else None,
        "width": track.GetWidth(),
        "length": track.GetLength(),
        "layer": pcbnew.LSET.Name(track.GetLayer()),
        "net": track.GetNetname(),
        "mask_opened": track.HasSolderMask(),
    }


def _via(via, board):
    layers = [layer for layer in board.GetEnabledLayers().CuStack() if via.IsOnLayer(layer)]
    return {
        "uid": via.m_Uuid.AsString(),
        "at": _at(via.GetPosition()),
        "diameters": {pcbnew.LSET.Name(layer): via.GetWidth(layer) for layer in layers},
        "lands": [pcbnew.LSET.Name(layer) for layer in layers if via.FlashLayer(layer)],
        "drill": via.GetDrillValue(),
        "span": [pcbnew.LSET.Name(via.TopLayer()), pcbnew.LSET.Name(via.BottomLayer())],
        "net": via.GetNetname(),
        "tented": [side for side, mask, _ in VISIBLE_SIDES if via.IsTented(mask)],
    }


def _zone(zone, part_uid, board):
    layers = list(zone.GetLayerSet().Seq())
    return {
        "uid": zone.m_Uuid.AsString(),
        "part": part_uid,
        "rule_area": zone.GetIsRuleArea(),
        "net": zone.GetNetname(),
        "name": zone.GetZoneName(),
        "priority": zone.GetAssignedPriority(),
        "layers": [pcbnew.LSET.Name(layer) for layer in layers],
        "boundary": _rings(zone.Outline()),
        "fills": {pcbnew.LSET.Name(layer): _rings(zone.GetFilledPolysList(layer)) for layer in layers},
        "bans": _bans(zone) if zone.GetIsRuleArea() else [],
    }


def _bans(zone):
    pour = getattr(zone, "GetDoNotAllowCopperPour", None) or zone.GetDoNotAllowZoneFills
    answers = {
        "tracks": zone.GetDoNotAllowTracks(),
        "vias": zone.GetDoNotAllowVias(),
        "pads": zone.GetDoNotAllowPads(),
        "parts": zone.GetDoNotAllowFootprints(),
        "pour": pour(),
    }
    return sorted(name for name, banned in answers.items() if banned)


def _text(text, part_uid, board):
    box = text.GetBoundingBox()
    return {
        "uid": text.m_Uuid.AsString(),
        "part": part_uid,
        "class": _class(text),
        "role": _text_role(text),
        "source": text.GetText(),
        "shown": text.GetShownText(True),
        "layer": _named(text),
        "at": _at(text.GetTextPos()),
        "height": text.GetTextHeight(),
        "pen": text.GetEffectiveTextPenWidth(),
        "rotation": text.GetDrawRotation().AsDegrees(),
        "mirrored": text.IsMirrored(),
        "visible": text.IsVisible(),
        "knockout": text.IsKnockout(),
        "font": text.GetFontName(),
        "box": [box.GetLeft(), box.GetTop(), box.GetRight(), box.GetBottom()],
    }


def _text_role(text):
    if not isinstance(text, pcbnew.PCB_FIELD):
        return "free"
    if text.IsReference():
        return "reference"
    return "value" if text.IsValue() else "field"


def _shape(shape, part_uid, board):
    layer = shape.GetLayer()
    return {
        "uid": shape.m_Uuid.AsString(),
        "part": part_uid,
        "layer": _named(shape),
        "net": shape.GetNetname(),
        "curved": shape.GetShape() in CURVED or shape.GetPolyShape().ArcCount() > 0,
        "area": _drawn(shape, layer),
    }


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
