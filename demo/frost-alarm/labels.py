# SPDX-License-Identifier: MIT
"""Finds a free spot on the silkscreen for every reference."""

from __future__ import annotations

import math

import pcbnew

SIZE = 0.8
HIDDEN = ("H", "FID")
GAP = 0.15
FAR = 0.8
"""This far from its part a reference must not stand less than half as far from another of its letter."""

Box = tuple[float, float, float, float]


def _box(shape: pcbnew.BOX2I, grow: float = 0.0) -> Box:
    box = (shape.GetLeft() / 1e6, shape.GetTop() / 1e6, shape.GetRight() / 1e6, shape.GetBottom() / 1e6)
    return box[0] - grow, box[1] - grow, box[2] + grow, box[3] + grow


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _apart(a: Box, b: Box) -> float:
    return math.hypot(max(a[0] - b[2], b[0] - a[2], 0.0), max(a[1] - b[3], b[1] - a[3], 0.0))


def _misread(spot: Box, own: Box, kin: list[Box]) -> bool:
    away = _apart(spot, own)
    return away > FAR and any(_apart(spot, box) < away / 2 for box in kin)


def _letters(footprint: pcbnew.FOOTPRINT) -> str:
    return footprint.GetReference().rstrip("0123456789")


def _courtyard(footprint: pcbnew.FOOTPRINT, grow: float = 0.0) -> Box:
    return _box(footprint.GetCourtyard(pcbnew.F_CrtYd).BBox(), grow)


def _silk(footprint: pcbnew.FOOTPRINT, layer: int) -> list[Box]:
    items = [item for item in footprint.GraphicalItems() if item.GetLayer() == layer]
    return [_box(item.GetBoundingBox(), GAP) for item in items]


def _candidates(around: Box, width: float, height: float):
    """Centres and angles, best first: above, below, right, left, then slid along and farther out."""
    left, top, right, bottom = around
    mx, my = (left + right) / 2, (top + bottom) / 2
    for out in (0.0, 0.4, 0.8, 1.2, 1.8, 2.4):
        up, down = top - height / 2 - out, bottom + height / 2 + out
        east, west = right + out, left - out
        for slide in (0.0, 0.5, -0.5, 1.0, -1.0, 1.5, -1.5, 2.0, -2.0):
            yield mx + slide, up, 0
            yield mx + slide, down, 0
            yield east + width / 2, my + slide, 0
            yield west - width / 2, my + slide, 0
            yield east + height / 2, my + slide, 90
            yield west - height / 2, my + slide, 90


def place_references(board: pcbnew.BOARD) -> list[str]:
    """Moves every reference to where it can be read; returns those that found no room."""
    crowded = []
    edge = _box(board.GetBoardEdgesBoundingBox(), -0.6)
    footprints = sorted(board.Footprints(), key=lambda f: (f.GetBoundingBox(False).GetArea(), f.GetReference()))
    taken: dict[int, list[Box]] = {pcbnew.F_SilkS: [], pcbnew.B_SilkS: []}
    for layer, mask in ((pcbnew.F_SilkS, pcbnew.F_Mask), (pcbnew.B_SilkS, pcbnew.B_Mask)):
        for footprint in footprints:
            taken[layer] += _silk(footprint, layer)
            for pad in footprint.Pads():
                if pad.IsOnLayer(mask) or pad.HasHole():
                    taken[layer].append(_box(pad.GetBoundingBox(), GAP + 0.05))
                if pad.GetNumber() == "" and "Fiducial" in footprint.GetFPIDAsString():
                    taken[layer].append(_box(pad.GetBoundingBox(), 1.2))
        taken[layer] += [
            _box(item.GetBoundingBox(), -0.1) for item in board.Tracks() if item.Type() == pcbnew.PCB_VIA_T
        ]
        taken[layer] += [_box(d.GetBoundingBox(), GAP) for d in board.Drawings() if d.GetLayer() == layer]
    for footprint in footprints:
        others = [other for other in footprints if other is not footprint and _letters(other) == _letters(footprint)]
        if not _place(footprint, taken, edge, [_courtyard(other) for other in others]):
            crowded.append(footprint.GetReference())
    return crowded


def _place(footprint: pcbnew.FOOTPRINT, taken: dict[int, list[Box]], edge: Box, kin: list[Box]) -> bool:
    field = footprint.Reference()
    if _letters(footprint) in HIDDEN or footprint.IsFlipped():
        field.SetVisible(False)
        return True
    field.SetTextSize(pcbnew.VECTOR2I(pcbnew.FromMM(SIZE), pcbnew.FromMM(SIZE)))
    field.SetTextThickness(pcbnew.FromMM(0.12))
    field.SetTextAngleDegrees(0)
    field.SetKeepUpright(True)
    layer = field.GetLayer()
    flat = _box(field.GetBoundingBox())
    width, height = flat[2] - flat[0], flat[3] - flat[1]
    for x, y, angle in _candidates(_courtyard(footprint, 0.05), width, height):
        half = (width / 2, height / 2) if angle == 0 else (height / 2, width / 2)
        spot = (x - half[0], y - half[1], x + half[0], y + half[1])
        inside = edge[0] < spot[0] and edge[1] < spot[1] and spot[2] < edge[2] and spot[3] < edge[3]
        free = inside and not any(_meet(spot, box) for box in taken[layer])
        if free and not _misread(spot, _courtyard(footprint), kin):
            field.SetTextAngleDegrees(angle)
            field.SetPosition(pcbnew.VECTOR2I(pcbnew.FromMM(x), pcbnew.FromMM(y)))
            taken[layer].append(spot)
            return True
    return False
