# SPDX-License-Identifier: MIT
"""What version 6 of the editor says about a board, in the form that tests/oracle/dump_shared.py says.

    python3 dump6.py BOARD.kicad_pcb OUT.json     (dump_shared.py beside it)

Version 6 has no way at all to ask from Python for the outline of a drawn line, a text or a hole (those calls need an
argument its bindings cannot make). Drawn shapes therefore come without an area, and a hole's area is that of a pad of
the hole's size.
"""

from __future__ import annotations

import sys

import pcbnew
from dump_shared import (
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

TEXT_CLASSES = ("PCB_TEXT", "FP_TEXT")
DIMENSIONS = ("PCB_DIM_ALIGNED", "PCB_DIM_ORTHOGONAL", "PCB_DIM_LEADER", "PCB_DIM_CENTER")
SHAPE_CLASSES = ("PCB_SHAPE", "FP_SHAPE")
IN_FILES = {
    "User.Drawings": "Dwgs.User",
    "User.Comments": "Cmts.User",
    "User.Eco1": "Eco1.User",
    "User.Eco2": "Eco2.User",
}


def main(board_path: str, out_path: str) -> int:
    """Reads one board with the editor and writes what it says."""
    board = pcbnew.LoadBoard(board_path)
    refine(board)
    tented = list(_tented(board))
    tracks = casts(board.Tracks())
    facts = {
        "editor": pcbnew.GetBuildVersion(),
        "copper_layers": [name(layer) for layer in board.GetEnabledLayers().CuStack()],
        "thickness": board.GetDesignSettings().GetBoardThickness(),
        "nets": sorted(str(net) for net in board.GetNetsByName() if str(net)),
        "courtyards_shaved": False,
        "title": title(board.GetTitleBlock()),
        "outline": _outline(board),
        "parts": [_part(part, board) for part in board.Footprints()],
        "tracks": [_track(item) for item in tracks if not isinstance(item, pcbnew.PCB_VIA)],
        "vias": [_via(item, board, tented) for item in tracks if isinstance(item, pcbnew.PCB_VIA)],
    }
    zones = [(zone, "") for zone in board.Zones()]
    loose = [(item, "") for item in casts(board.Drawings())]
    for part in board.Footprints():
        uid = part.m_Uuid.AsString()
        zones += [(zone, uid) for zone in part.Zones()]
        loose += [(item, uid) for item in (part.Reference(), part.Value(), *casts(part.GraphicalItems()))]
    facts["zones"] = [_zone(zone, uid) for zone, uid in zones]
    facts["texts"] = [_text(item, uid) for item, uid in loose if kind_of(item) in TEXT_CLASSES]
    facts["texts"] += [_label(item) for item, _ in loose if kind_of(item) in DIMENSIONS]
    facts["shapes"] = [shape_facts(item, uid, name) for item, uid in loose if kind_of(item) in SHAPE_CLASSES]
    facts["others"] = sorted(kind_of(item) for item, _ in loose if kind_of(item) not in TEXT_CLASSES + SHAPE_CLASSES)
    write(facts, out_path)
    return 0


def name(layer):
    """The layer's name in files; the editor has only the one for people to give, and the author's own."""
    shown = pcbnew.BOARD.GetStandardLayerName(layer)
    return IN_FILES.get(shown) or shown.replace("Silkscreen", "SilkS").replace("Courtyard", "CrtYd").replace(
        "Adhesive", "Adhes"
    )


def _outline(board):
    shapes = pcbnew.SHAPE_POLY_SET()
    closed = board.GetBoardPolygonOutlines(shapes)
    return {"closed": bool(closed), "area": rings(shapes) if closed else []}


def _tented(board):
    """One setting of the whole board, kept among those of the plots."""
    if not board.GetPlotOptions().GetPlotViaOnMaskLayer():
        for side, _, _ in VISIBLE_SIDES:
            yield side


def _part(part, board):
    return {
        **part_facts(part),
        "description": part.GetDescription(),
        "fields": {
            str(key): str(text)
            for key, text in part.GetProperties().items()
            if not str(key).startswith(("ki_", "Sheet"))  # the editor's own bookkeeping
        },
        "fitted": True,  # what is left out cannot be said in this version
        "pads": [_pad(pad, board) for pad in part.Pads()],
    }


def _pad(pad, board):
    return {
        **pad_facts(pad),
        "shape": SHAPES[pad.GetShape()],
        "size": at(pad.GetSize()),
        "hole": _hole(pad),
        "copper": {name(layer): 0 for layer in board.GetEnabledLayers().CuStack() if _has_copper(pad, layer)},
        "shapes": [rings(pad.GetEffectivePolygon())],
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
    return {"at": at(pad.GetPosition()), "size": at(drill), "area": rings(bare.GetEffectivePolygon())}


def _opening(pad, across, along):
    """A mask or paste opening as the editor plots it: the same shape in another size, where there is such a thing."""
    shape = pad.GetShape()
    if shape in (pcbnew.PAD_SHAPE_TRAPEZOID, pcbnew.PAD_SHAPE_CUSTOM) or (
        shape == pcbnew.PAD_SHAPE_CHAMFERED_RECT and across > 0
    ):
        outline = pcbnew.SHAPE_POLY_SET(pad.GetEffectivePolygon())
        outline.InflateWithLinkedHoles(across, 256, pcbnew.SHAPE_POLY_SET.PM_FAST)
        return rings(outline)
    plotted = pcbnew.PAD(pad)
    size = pad.GetSize()
    plotted.SetSize(pcbnew.wxSize(size.x + 2 * across, size.y + 2 * along))
    if shape == pcbnew.PAD_SHAPE_RECT and across > 0:
        plotted.SetShape(pcbnew.PAD_SHAPE_ROUNDRECT)
        plotted.SetRoundRectCornerRadius(across)
    plotted.SetDirty()
    return rings(plotted.GetEffectivePolygon())


def _mask(pad):
    margin = pad.GetSolderMaskMargin()
    return _opening(pad, margin, margin)


def _paste(pad):
    margin = pad.GetSolderPasteMargin()
    return _opening(pad, margin.x, margin.y)


def _track(track):
    return {**track_facts(track, name), "mask_opened": False}  # a later version's


def _via(via, board, tented):
    layers = [layer for layer in board.GetEnabledLayers().CuStack() if via.IsOnLayer(layer)]
    return {
        **via_facts(via, name),
        "diameters": {name(layer): via.GetWidth() for layer in layers},
        "tented": tented,
    }


def _zone(zone, part_uid):
    filled = [layer for layer in zone.GetLayerSet().Seq() if zone.HasFilledPolysForLayer(layer)]
    return {
        **zone_facts(zone, part_uid, name),
        "priority": zone.GetPriority(),
        "fills": {name(layer): rings(zone.GetFilledPolysList(layer)) for layer in filled},
    }


def _text(text, part_uid):
    of_part = kind_of(text) == "FP_TEXT"
    roles = {0: "reference", 1: "value"}
    return {
        **text_facts(text, part_uid, name),
        "class": "PCB_TEXT",
        "role": roles.get(text.GetType(), "free") if of_part else "free",
        "shown": text.GetShownText(),
        "rotation": _rotation(text, of_part),
        "knockout": False,
        "font": "",
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
    return {**_text(dimension.Text(), ""), "uid": dimension.m_Uuid.AsString(), "class": kind_of(dimension)}


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
