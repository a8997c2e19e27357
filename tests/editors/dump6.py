# SPDX-License-Identifier: MIT
"""What version 6 of the editor itself says about a board, as JSON in the form of tests/oracle/dump.py.

    python3 dump6.py BOARD.kicad_pcb OUT.json

Version 6 has other names for most things, and no way at all to ask from Python for the outline of a drawn line, a
text or a hole (those calls need an argument its bindings cannot make). Drawn shapes therefore come without an area,
and a hole's area is that of a pad of the hole's size.
"""

from __future__ import annotations

import base64
import json
import os
import struct
import sys

import pcbnew

FINE_NM = 100
VISIBLE_SIDES = (("top", pcbnew.F_Mask, pcbnew.F_Paste), ("bottom", pcbnew.B_Mask, pcbnew.B_Paste))
CURVED = (pcbnew.SHAPE_T_ARC, pcbnew.SHAPE_T_CIRCLE, pcbnew.SHAPE_T_BEZIER)
TEXT_CLASSES = ("PCB_TEXT", "FP_TEXT")
DIMENSIONS = ("PCB_DIM_ALIGNED", "PCB_DIM_ORTHOGONAL", "PCB_DIM_LEADER", "PCB_DIM_CENTER")
SHAPE_CLASSES = ("PCB_SHAPE", "FP_SHAPE")
IN_FILES = {
    "User.Drawings": "Dwgs.User",
    "User.Comments": "Cmts.User",
    "User.Eco1": "Eco1.User",
    "User.Eco2": "Eco2.User",
}
KINDS = {
    pcbnew.PAD_ATTRIB_PTH: "through",
    pcbnew.PAD_ATTRIB_SMD: "surface",
    pcbnew.PAD_ATTRIB_CONN: "connector",
    pcbnew.PAD_ATTRIB_NPTH: "unplated",
}
ROLES = {
    pcbnew.PAD_PROP_FIDUCIAL_GLBL: "fiducial-global",
    pcbnew.PAD_PROP_FIDUCIAL_LOCAL: "fiducial-local",
    pcbnew.PAD_PROP_TESTPOINT: "test-point",
    pcbnew.PAD_PROP_CASTELLATED: "castellated",
    pcbnew.PAD_PROP_HEATSINK: "thermal",
    pcbnew.PAD_PROP_BGA: "array",
}
SHAPES = {
    pcbnew.PAD_SHAPE_CIRCLE: "circle",
    pcbnew.PAD_SHAPE_OVAL: "oval",
    pcbnew.PAD_SHAPE_RECT: "rectangle",
    pcbnew.PAD_SHAPE_ROUNDRECT: "rounded",
    pcbnew.PAD_SHAPE_CHAMFERED_RECT: "chamfered",
    pcbnew.PAD_SHAPE_TRAPEZOID: "trapezoid",
    pcbnew.PAD_SHAPE_CUSTOM: "custom",
}


def main(board_path: str, out_path: str) -> int:
    """Reads one board with the editor and writes what it says."""
    board = pcbnew.LoadBoard(board_path)
    board.GetDesignSettings().m_MaxError = FINE_NM
    tented = list(_tented(board))
    tracks = _casts(board.Tracks())
    facts = {
        "editor": pcbnew.GetBuildVersion(),
        "copper_layers": [name(layer) for layer in board.GetEnabledLayers().CuStack()],
        "thickness": board.GetDesignSettings().GetBoardThickness(),
        "nets": sorted(str(net) for net in board.GetNetsByName() if str(net)),
        "courtyards_shaved": False,
        "title": _title(board.GetTitleBlock()),
        "outline": _outline(board),
        "parts": [_part(part, board) for part in board.Footprints()],
        "tracks": [_track(item) for item in tracks if not isinstance(item, pcbnew.PCB_VIA)],
        "vias": [_via(item, board, tented) for item in tracks if isinstance(item, pcbnew.PCB_VIA)],
    }
    zones = [(zone, "") for zone in board.Zones()]
    loose = [(item, "") for item in _casts(board.Drawings())]
    for part in board.Footprints():
        uid = part.m_Uuid.AsString()
        zones += [(zone, uid) for zone in part.Zones()]
        loose += [(item, uid) for item in (part.Reference(), part.Value(), *_casts(part.GraphicalItems()))]
    facts["zones"] = [_zone(zone, uid) for zone, uid in zones]
    facts["texts"] = [_text(item, uid) for item, uid in loose if _class(item) in TEXT_CLASSES]
    facts["texts"] += [_label(item) for item, _ in loose if _class(item) in DIMENSIONS]
    facts["shapes"] = [_shape(item, uid) for item, uid in loose if _class(item) in SHAPE_CLASSES]
    facts["others"] = sorted(_class(item) for item, _ in loose if _class(item) not in TEXT_CLASSES + SHAPE_CLASSES)
    with open(out_path + ".part", "w", encoding="utf-8") as stream:
        json.dump(facts, stream, separators=(",", ":"))
    os.replace(out_path + ".part", out_path)
    return 0


def name(layer):
    """The layer's name in files; the editor has only the one for people to give, and the author's own."""
    shown = pcbnew.BOARD.GetStandardLayerName(layer)
    return IN_FILES.get(shown) or shown.replace("Silkscreen", "SilkS").replace("Courtyard", "CrtYd").replace(
        "Adhesive", "Adhes"
    )


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
        piece = []
        for chain in [shapes.Outline(i)] + [shapes.Hole(i, k) for k in range(shapes.HoleCount(i))]:
            flat = []
            for k in range(chain.PointCount()):
                point = chain.CPoint(k)
                flat += (point.x, point.y)
            piece.append(base64.b64encode(struct.pack(f"<{len(flat)}i", *flat)).decode("ascii"))
        pieces.append(piece)
    return pieces


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
    closed = board.GetBoardPolygonOutlines(shapes)
    return {"closed": bool(closed), "area": _rings(shapes) if closed else []}


def _tented(board):
    """One setting of the whole board, kept among those of the plots."""
    if not board.GetPlotOptions().GetPlotViaOnMaskLayer():
        for side, _, _ in VISIBLE_SIDES:
            yield side


def _part(part, board):
    part.BuildCourtyardCaches()
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
        "description": part.GetDescription(),
        "fields": {
            str(key): str(text)
            for key, text in part.GetProperties().items()
            if not str(key).startswith(("ki_", "Sheet"))  # the editor's own bookkeeping
        },
        "mount": "surface"
        if attributes & pcbnew.FP_SMD
        else ("through" if attributes & pcbnew.FP_THROUGH_HOLE else "other"),
        "fitted": True,  # what is left out cannot be said in this version
        "in_parts_list": not attributes & pcbnew.FP_EXCLUDE_FROM_BOM,
        "in_placement": not attributes & pcbnew.FP_EXCLUDE_FROM_POS_FILES,
        "board_only": bool(attributes & pcbnew.FP_BOARD_ONLY),
        "models": [model.m_Filename for model in part.Models()],
        "courtyard": {
            "top": _rings(part.GetCourtyard(pcbnew.F_CrtYd)),
            "bottom": _rings(part.GetCourtyard(pcbnew.B_CrtYd)),
        },
        "pads": [_pad(pad, board) for pad in part.Pads()],
    }


def _pad(pad, board):
    pad.SetDirty()
    return {
        "uid": pad.m_Uuid.AsString(),
        "number": pad.GetNumber(),
        "at": _at(pad.GetPosition()),
        "kind": KINDS[pad.GetAttribute()],
        "role": ROLES.get(pad.GetProperty(), "none"),
        "net": pad.GetNetname(),
        "pin_name": pad.GetPinFunction(),
        "pin_type": pad.GetPinType(),
        "shape": SHAPES[pad.GetShape()],
        "size": _at(pad.GetSize()),
        "rotation": pad.GetOrientationDegrees(),
        "hole": _hole(pad),
        "copper": {name(layer): 0 for layer in board.GetEnabledLayers().CuStack() if _has_copper(pad, layer)},
        "shapes": [_rings(pad.GetEffectivePolygon())],
        "mask": {side: _mask(pad) for side, mask, _ in VISIBLE_SIDES if pad.IsOnLayer(mask)},
        "paste": {side: _paste(pad) for side, _, paste in VISIBLE_SIDES if pad.IsOnLayer(paste)},
    }


def _has_copper(pad, layer):
    return pad.IsOnLayer(layer) and pad.FlashLayer(layer)


def _hole(pad):
    """The hole, its area as that of a pad of its size."""
    drill = pad.GetDrillSize()
    if not drill.x:
        return None
    bare = pcbnew.PAD(pad)
    bare.SetShape(pcbnew.PAD_SHAPE_OVAL if pad.GetDrillShape() else pcbnew.PAD_SHAPE_CIRCLE)
    bare.SetOffset(pcbnew.wxPoint(0, 0))
    bare.SetSize(drill)
    bare.SetDirty()
    return {"at": _at(pad.GetPosition()), "size": _at(drill), "area": _rings(bare.GetEffectivePolygon())}


def _opening(pad, across, along):
    """A mask or paste opening as the editor plots it: the same shape in another size, where there is such a thing."""
    shape = pad.GetShape()
    if shape in (pcbnew.PAD_SHAPE_TRAPEZOID, pcbnew.PAD_SHAPE_CUSTOM) or (
        shape == pcbnew.PAD_SHAPE_CHAMFERED_RECT and across > 0
    ):
        outline = pcbnew.SHAPE_POLY_SET(pad.GetEffectivePolygon())
        outline.InflateWithLinkedHoles(across, 256, pcbnew.SHAPE_POLY_SET.PM_FAST)
        return _rings(outline)
    plotted = pcbnew.PAD(pad)
    size = pad.GetSize()
    plotted.SetSize(pcbnew.wxSize(size.x + 2 * across, size.y + 2 * along))
    if shape == pcbnew.PAD_SHAPE_RECT and across > 0:
        plotted.SetShape(pcbnew.PAD_SHAPE_ROUNDRECT)
        plotted.SetRoundRectCornerRadius(across)
    plotted.SetDirty()
    return _rings(plotted.GetEffectivePolygon())


def _mask(pad):
    margin = pad.GetSolderMaskMargin()
    return _opening(pad, margin, margin)


def _paste(pad):
    margin = pad.GetSolderPasteMargin()
    return _opening(pad, margin.x, margin.y)


def _track(track):
    arc = isinstance(track, pcbnew.PCB_ARC)
    return {
        "uid": track.m_Uuid.AsString(),
        "start": _at(track.GetStart()),
        "end": _at(track.GetEnd()),
        "mid": _at(track.GetMid()) if arc else None,
        "width": track.GetWidth(),
        "length": track.GetLength(),
        "layer": name(track.GetLayer()),
        "net": track.GetNetname(),
        "mask_opened": False,  # a later version's
    }


def _via(via, board, tented):
    layers = [layer for layer in board.GetEnabledLayers().CuStack() if via.IsOnLayer(layer)]
    return {
        "uid": via.m_Uuid.AsString(),
        "at": _at(via.GetPosition()),
        "diameters": {name(layer): via.GetWidth() for layer in layers},
        "drill": via.GetDrillValue(),
        "span": [name(via.TopLayer()), name(via.BottomLayer())],
        "net": via.GetNetname(),
        "tented": tented,
    }


def _zone(zone, part_uid):
    layers = list(zone.GetLayerSet().Seq())
    bans = {
        "tracks": zone.GetDoNotAllowTracks(),
        "vias": zone.GetDoNotAllowVias(),
        "pads": zone.GetDoNotAllowPads(),
        "parts": zone.GetDoNotAllowFootprints(),
        "pour": zone.GetDoNotAllowCopperPour(),
    }
    return {
        "uid": zone.m_Uuid.AsString(),
        "part": part_uid,
        "rule_area": zone.GetIsRuleArea(),
        "net": zone.GetNetname(),
        "name": zone.GetZoneName(),
        "priority": zone.GetPriority(),
        "layers": [name(layer) for layer in layers],
        "boundary": _rings(zone.Outline()),
        "fills": {name(n): _rings(zone.GetFilledPolysList(n)) for n in layers if zone.HasFilledPolysForLayer(n)},
        "bans": sorted(word for word, banned in bans.items() if banned) if zone.GetIsRuleArea() else [],
    }


def _text(text, part_uid):
    box = text.GetBoundingBox()
    of_part = _class(text) == "FP_TEXT"
    roles = {0: "reference", 1: "value"}
    return {
        "uid": text.m_Uuid.AsString(),
        "part": part_uid,
        "class": "PCB_TEXT",
        "role": roles.get(text.GetType(), "free") if of_part else "free",
        "source": text.GetText(),
        "shown": text.GetShownText(),
        "layer": name(text.GetLayer()),
        "at": _at(text.GetTextPos()),
        "height": text.GetTextHeight(),
        "pen": text.GetEffectiveTextPenWidth(),
        "rotation": _rotation(text, of_part),
        "mirrored": text.IsMirrored(),
        "visible": text.IsVisible(),
        "knockout": False,
        "font": "",
        "box": [box.GetLeft(), box.GetTop(), box.GetRight(), box.GetBottom()],
    }


def _rotation(text, of_part):
    """The angle as drawn; the editor says 135 degrees of some texts that it keeps upright, of others it does not."""
    if not of_part:
        return text.GetTextAngle() / 10
    angle = text.GetDrawRotation() / 10
    if not text.IsKeepUpright():
        return angle
    return (angle + 89.9999) % 180 - 89.9999


def _label(dimension):
    return {**_text(dimension.Text(), ""), "uid": dimension.m_Uuid.AsString(), "class": _class(dimension)}


def _shape(shape, part_uid):
    return {
        "uid": shape.m_Uuid.AsString(),
        "part": part_uid,
        "layer": name(shape.GetLayer()),
        "curved": shape.GetShape() in CURVED,
    }


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
