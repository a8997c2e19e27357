# SPDX-License-Identifier: MIT
"""What all versions of the editor are asked in the same way; run by the editor's own interpreter.

A *dump* is what an editor says about a board, as JSON. Lengths and positions are the editor's whole nanometres, y
**down**; angles are degrees counter-clockwise as drawn. A polygon is a list of pieces, a piece a list of rings (outside
first), a ring x0, y0, x1, y1 ... as little-endian 32-bit numbers in base 64: a large board has millions of them.

`dump.py` asks versions 9 and 10, `tests/editors/dump6.py` asks version 6.
"""

from __future__ import annotations

import base64
import json
import os
import struct

import pcbnew

FINE_NM = 100
"""Largest distance between a true arc and the editor's chords: fine enough that 0.1 % of a pad can be told."""
VISIBLE_SIDES = (("top", pcbnew.F_Mask, pcbnew.F_Paste), ("bottom", pcbnew.B_Mask, pcbnew.B_Paste))
COURTYARDS = (("top", pcbnew.F_CrtYd), ("bottom", pcbnew.B_CrtYd))
CURVED = (pcbnew.SHAPE_T_ARC, pcbnew.SHAPE_T_CIRCLE, pcbnew.SHAPE_T_BEZIER)


def _words(prefix, words):
    """The editor's codes as our words; a code that this version does not have is left out."""
    return {getattr(pcbnew, prefix + code): word for code, word in words.items() if hasattr(pcbnew, prefix + code)}


KINDS = _words("PAD_ATTRIB_", {"PTH": "through", "SMD": "surface", "CONN": "connector", "NPTH": "unplated"})
ROLES = _words(
    "PAD_PROP_",
    {
        "FIDUCIAL_GLBL": "fiducial-global",
        "FIDUCIAL_LOCAL": "fiducial-local",
        "TESTPOINT": "test-point",
        "CASTELLATED": "castellated",
        "HEATSINK": "thermal",
        "BGA": "array",
        "MECHANICAL": "mechanical",
        "PRESSFIT": "press-fit",
    },
)
SHAPES = _words(
    "PAD_SHAPE_",
    {
        "CIRCLE": "circle",
        "OVAL": "oval",
        "RECT": "rectangle",
        "RECTANGLE": "rectangle",  # the name from version 9 on
        "ROUNDRECT": "rounded",
        "CHAMFERED_RECT": "chamfered",
        "TRAPEZOID": "trapezoid",
        "CUSTOM": "custom",
    },
)


def refine(board):
    """Has the editor work out again, with fine chords, the shapes it keeps ready: custom pads and courtyards."""
    board.GetDesignSettings().m_MaxError = FINE_NM
    for part in board.Footprints():
        part.BuildCourtyardCaches()
        for pad in part.Pads():
            pad.SetDirty()


def casts(items):
    """The items of a container as what they are; iterating some containers fails in some versions."""
    return [items[i].Cast() for i in range(len(items))]


def kind_of(item):
    return type(item).__name__


def at(point):
    return [point.x, point.y]


def rings(shapes):
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


def layer_of(item, name):
    """The layer of what is drawn, by its name in files; a free layer goes by the one its user gave it."""
    file_name = name(item.GetLayer())
    return item.GetLayerName() if file_name.startswith("User.") else file_name


def title(block):
    return {
        "title": block.GetTitle(),
        "revision": block.GetRevision(),
        "date": block.GetDate(),
        "company": block.GetCompany(),
        "comments": [block.GetComment(i) for i in range(9)],
    }


def part_facts(part):
    attributes = part.GetAttributes()
    library = part.GetFPID()
    return {
        "uid": part.m_Uuid.AsString(),
        "reference": part.GetReference(),
        "value": part.GetValue(),
        "at": at(part.GetPosition()),
        "rotation": part.GetOrientationDegrees(),
        "side": "bottom" if part.IsFlipped() else "top",
        "package": str(library.GetLibItemName()),
        "library": str(library.GetLibNickname()),
        "mount": "surface"
        if attributes & pcbnew.FP_SMD
        else ("through" if attributes & pcbnew.FP_THROUGH_HOLE else "other"),
        "in_parts_list": not attributes & pcbnew.FP_EXCLUDE_FROM_BOM,
        "in_placement": not attributes & pcbnew.FP_EXCLUDE_FROM_POS_FILES,
        "board_only": bool(attributes & pcbnew.FP_BOARD_ONLY),
        "models": [model.m_Filename for model in part.Models()],
        "courtyard": {side: rings(part.GetCourtyard(layer)) for side, layer in COURTYARDS},
    }


def pad_facts(pad):
    return {
        "uid": pad.m_Uuid.AsString(),
        "number": pad.GetNumber(),
        "at": at(pad.GetPosition()),
        "kind": KINDS[pad.GetAttribute()],
        "role": ROLES.get(pad.GetProperty(), "none"),
        "net": pad.GetNetname(),
        "pin_name": pad.GetPinFunction(),
        "pin_type": pad.GetPinType(),
        "rotation": pad.GetOrientationDegrees(),
    }


def track_facts(track, name):
    return {
        "uid": track.m_Uuid.AsString(),
        "start": at(track.GetStart()),
        "end": at(track.GetEnd()),
        "mid": at(track.GetMid()) if isinstance(track, pcbnew.PCB_ARC) else None,
        "width": track.GetWidth(),
        "length": track.GetLength(),
        "layer": name(track.GetLayer()),
        "net": track.GetNetname(),
    }


def via_facts(via, name):
    return {
        "uid": via.m_Uuid.AsString(),
        "at": at(via.GetPosition()),
        "drill": via.GetDrillValue(),
        "span": [name(via.TopLayer()), name(via.BottomLayer())],
        "net": via.GetNetname(),
    }


def zone_facts(zone, part_uid, name):
    return {
        "uid": zone.m_Uuid.AsString(),
        "part": part_uid,
        "rule_area": zone.GetIsRuleArea(),
        "net": zone.GetNetname(),
        "name": zone.GetZoneName(),
        "layers": [name(layer) for layer in zone.GetLayerSet().Seq()],
        "boundary": rings(zone.Outline()),
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
    return sorted(word for word, banned in answers.items() if banned)


def text_facts(text, part_uid, name):
    box = text.GetBoundingBox()
    return {
        "uid": text.m_Uuid.AsString(),
        "part": part_uid,
        "source": text.GetText(),
        "layer": layer_of(text, name),
        "at": at(text.GetTextPos()),
        "height": text.GetTextHeight(),
        "pen": text.GetEffectiveTextPenWidth(),
        "mirrored": text.IsMirrored(),
        "visible": text.IsVisible(),
        "box": [box.GetLeft(), box.GetTop(), box.GetRight(), box.GetBottom()],
    }


def shape_facts(shape, part_uid, name):
    return {
        "uid": shape.m_Uuid.AsString(),
        "part": part_uid,
        "layer": layer_of(shape, name),
        "curved": shape.GetShape() in CURVED,
    }


def write(facts, path):
    """Writes the answer whole or not at all."""
    with open(path + ".part", "w", encoding="utf-8") as stream:
        json.dump(facts, stream, separators=(",", ":"))
    os.replace(path + ".part", path)
