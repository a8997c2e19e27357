# SPDX-License-Identifier: MIT
"""Puts the described board into the editor's document through its bindings."""

from __future__ import annotations

import numpy as np
import pcbnew
from circuit import BOARD_H, BOARD_W, LANDS, NUMBER, REVISION, TITLE, Placed
from router import BOTTOM, LAYERS, TOP, Copper, Grid, Pin, Router

FOOTPRINTS = "/usr/share/kicad/footprints"
ORIGIN = (100.0, 70.0)
LAYER = {"F.Cu": pcbnew.F_Cu, "B.Cu": pcbnew.B_Cu, "In1.Cu": pcbnew.In1_Cu, "In2.Cu": pcbnew.In2_Cu}
OUTER = {TOP: pcbnew.F_Cu, BOTTOM: pcbnew.B_Cu}


def at(x: float, y: float) -> pcbnew.VECTOR2I:
    """A place on the sheet."""
    return pcbnew.VECTOR2I(pcbnew.FromMM(float(ORIGIN[0] + x)), pcbnew.FromMM(float(ORIGIN[1] + y)))


def new_board(comments: tuple[str, ...]) -> pcbnew.BOARD:
    """An empty four-layer board with outline and title block."""
    board = pcbnew.BOARD()
    board.SetCopperLayerCount(4)
    title = board.GetTitleBlock()
    title.SetTitle(TITLE)
    title.SetCompany("Hollow Lane Instruments")
    title.SetRevision(REVISION)
    title.SetDate("2024-03-18")
    for i, comment in enumerate((NUMBER, *comments)):
        title.SetComment(i, comment)
    outline(board)
    return board


def outline(board: pcbnew.BOARD, radius: float = 2.0) -> None:
    """A rectangle with rounded corners on the outline layer."""
    w, h, r, k = BOARD_W, BOARD_H, radius, radius * (1 - 0.5**0.5)
    lines = [((r, 0), (w - r, 0)), ((w, r), (w, h - r)), ((w - r, h), (r, h)), ((0, h - r), (0, r))]
    arcs = [
        ((w - r, 0), (w - k, k), (w, r)),
        ((w, h - r), (w - k, h - k), (w - r, h)),
        ((r, h), (k, h - k), (0, h - r)),
        ((0, r), (k, k), (r, 0)),
    ]
    for points in lines + arcs:
        shape = pcbnew.PCB_SHAPE(board)
        if len(points) == 3:
            shape.SetShape(pcbnew.SHAPE_T_ARC)
            shape.SetArcGeometry(*(at(*p) for p in points))
        else:
            shape.SetShape(pcbnew.SHAPE_T_SEGMENT)
            shape.SetStart(at(*points[0]))
            shape.SetEnd(at(*points[1]))
        shape.SetLayer(pcbnew.Edge_Cuts)
        shape.SetWidth(pcbnew.FromMM(0.1))
        board.Add(shape)


def net(board: pcbnew.BOARD, name: str) -> pcbnew.NETINFO_ITEM:
    """The net of a name, made when new."""
    found = board.FindNet(name)
    if found is None:
        found = pcbnew.NETINFO_ITEM(board, name)
        board.Add(found)
    return found


def place(board: pcbnew.BOARD, part: Placed) -> pcbnew.FOOTPRINT:
    """Loads the land pattern of a part, puts it down, and gives its pads nets and pin data."""
    library, name = LANDS[part.land].split(":")
    footprint = pcbnew.FootprintLoad(f"{FOOTPRINTS}/{library}.pretty", name)
    footprint.SetFPIDAsString(LANDS[part.land])
    footprint.SetReference(part.ref)
    footprint.SetValue(part.value)
    for key, value in (("Manufacturer", part.maker), ("MPN", part.number)):
        if value:
            footprint.SetField(key, value)
    board.Add(footprint)
    footprint.SetPosition(at(*part.at))
    footprint.SetOrientationDegrees(part.rotation)
    if part.bottom:
        footprint.Flip(at(*part.at), pcbnew.FLIP_DIRECTION_LEFT_RIGHT)
    for field in footprint.GetFields():
        if field.GetName() != "Reference":
            field.SetVisible(False)
            field.SetLayer(pcbnew.B_Fab if part.bottom else pcbnew.F_Fab)
    for pad in footprint.Pads():
        _wire(board, part, pad)
    return footprint


def _wire(board: pcbnew.BOARD, part: Placed, pad: pcbnew.PAD) -> None:
    pin = part.pins.get(pad.GetNumber())
    if pin is None or not pad.GetNumber():
        return
    open_pin = not pin.net
    label = f"-{pin.name}" if pin.name else ""
    pad.SetNet(net(board, pin.net or f"unconnected-({part.ref}{label}-Pad{pad.GetNumber()})"))
    pad.SetPinFunction(pin.name)
    pad.SetPinType(pin.kind + "+no_connect" if open_pin else pin.kind)


def _grow_area(grid: Grid, area: pcbnew.ZONE):
    chain = area.Outline().Outline(0)
    ring = np.array([(chain.CPoint(j).x, chain.CPoint(j).y) for j in range(chain.PointCount())]) / 1e6 - ORIGIN
    sides = list(zip(ring, np.roll(ring, -1, axis=0)))
    inner = grid.polygon(ring)
    return lambda by: np.unique(np.concatenate([inner] + [grid.capsule(tuple(a), tuple(b), by) for a, b in sides]))


def _rings(pad: pcbnew.PAD, layer: int, by: float) -> list[np.ndarray]:
    shapes = pcbnew.SHAPE_POLY_SET()
    pad.TransformShapeToPolygon(shapes, layer, pcbnew.FromMM(by), 5000, pcbnew.ERROR_OUTSIDE)
    rings = []
    for i in range(shapes.OutlineCount()):
        chain = shapes.Outline(i)
        points = [(chain.CPoint(j).x, chain.CPoint(j).y) for j in range(chain.PointCount())]
        rings.append(np.array(points) / 1e6 - ORIGIN)
    return rings


def _grow(grid: Grid, pad: pcbnew.PAD, layer: int):
    return lambda by: np.unique(np.concatenate([grid.polygon(ring) for ring in _rings(pad, layer, by)]))


def obstacles(router: Router, footprints: list[pcbnew.FOOTPRINT], clearance_of) -> dict[str, list[tuple[str, Pin]]]:
    """Tells the router about every pad, hole and keep-out; returns the pins of each net, with their reference."""
    grid, pins = router.grid, {}
    for footprint in footprints:
        for area in footprint.Zones():
            for side in LAYERS:
                if area.IsOnLayer(OUTER[side]) and area.GetDoNotAllowTracks():
                    router.add(Copper("", (side,), _grow_area(grid, area), keep_out=True))
        for pad in footprint.Pads():
            name, size = pad.GetNetname(), pad.GetSize()
            here = pad.GetPosition()
            centre = (here.x / 1e6 - ORIGIN[0], here.y / 1e6 - ORIGIN[1])
            layers = [side for side in LAYERS if pad.IsOnLayer(OUTER[side])]
            if pad.GetAttribute() == pcbnew.PAD_ATTRIB_NPTH:
                half = pad.GetDrillSize().x / 2e6
                router.add(Copper("", LAYERS, lambda by, c=centre, h=half: grid.capsule(c, c, by + h), 0.25))
                continue
            cells: set[int] = set()
            for side in layers:
                item = Copper(name, (side,), _grow(grid, pad, OUTER[side]), clearance_of(name), no_via=size.x < 2.3e6)
                router.add(item)
                cells |= set((item.cells(-0.07) + side * grid.size).tolist())
            if name and layers and not name.startswith("unconnected"):
                pins.setdefault(name, []).append(
                    (footprint.GetReference(), Pin(cells, centre, min(size.x, size.y) / 1e6))
                )
    return pins


def track(board: pcbnew.BOARD, layer: int, width: float, a: tuple, b: tuple, name: str) -> None:
    """One straight track."""
    item = pcbnew.PCB_TRACK(board)
    item.SetStart(at(*a))
    item.SetEnd(at(*b))
    item.SetWidth(pcbnew.FromMM(width))
    item.SetLayer(layer)
    item.SetNet(net(board, name))
    board.Add(item)


def via(board: pcbnew.BOARD, point: tuple, diameter: float, drill: float, name: str) -> None:
    """One via through all layers."""
    item = pcbnew.PCB_VIA(board)
    item.SetPosition(at(*point))
    item.SetDrill(pcbnew.FromMM(drill))
    item.SetWidth(pcbnew.FromMM(diameter))
    item.SetNet(net(board, name))
    board.Add(item)


def zone(board: pcbnew.BOARD, name: str, layer: str, points: tuple, priority: int, clearance: float = 0.2) -> None:
    """A pour, not yet filled."""
    item = pcbnew.ZONE(board)
    item.SetLayer(LAYER[layer])
    item.SetNet(net(board, name))
    item.SetAssignedPriority(priority)
    item.SetLocalClearance(pcbnew.FromMM(clearance))
    item.SetMinThickness(pcbnew.FromMM(0.2))
    item.SetThermalReliefGap(pcbnew.FromMM(0.25))
    item.SetThermalReliefSpokeWidth(pcbnew.FromMM(0.3))
    item.SetPadConnection(pcbnew.ZONE_CONNECTION_FULL if priority > 1 else pcbnew.ZONE_CONNECTION_THERMAL)
    item.SetIslandRemovalMode(pcbnew.ISLAND_REMOVAL_MODE_ALWAYS)
    item.SetZoneName(f"{name} {layer}")
    _ring(item, points)
    board.Add(item)


def keep_clear(board: pcbnew.BOARD, centre: tuple, radius: float, both: bool) -> None:
    """A round rule area without tracks, vias and pour."""
    item = pcbnew.ZONE(board)
    item.SetIsRuleArea(True)
    item.SetLayerSet(pcbnew.LSET.AllCuMask(4) if both else _one_layer(pcbnew.F_Cu))
    item.SetDoNotAllowTracks(True)
    item.SetDoNotAllowVias(True)
    item.SetDoNotAllowCopperPour(True)
    item.SetDoNotAllowPads(False)
    item.SetDoNotAllowFootprints(False)
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    _ring(item, [(centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a)) for a in angles])
    board.Add(item)


def _one_layer(layer: int) -> pcbnew.LSET:
    layers = pcbnew.LSET()
    layers.AddLayer(layer)
    return layers


def _ring(item: pcbnew.ZONE, points) -> None:
    chain = pcbnew.SHAPE_LINE_CHAIN()
    for point in points:
        chain.Append(at(*point))
    chain.SetClosed(True)
    item.AddPolygon(chain)


def text(board: pcbnew.BOARD, words: str, x: float, y: float, size: float, rotation: float, layer: int) -> None:
    """A line of text, centred, mirrored on bottom layers."""
    item = pcbnew.PCB_TEXT(board)
    item.SetText(words)
    item.SetPosition(at(x, y))
    item.SetLayer(layer)
    item.SetTextSize(pcbnew.VECTOR2I(pcbnew.FromMM(size), pcbnew.FromMM(size)))
    item.SetTextThickness(pcbnew.FromMM(round(size * 0.15, 3)))
    item.SetTextAngleDegrees(rotation)
    item.SetMirrored(layer in (pcbnew.B_SilkS, pcbnew.B_Fab, pcbnew.B_Cu))
    board.Add(item)


def snowflake(board: pcbnew.BOARD, centre: tuple[float, float], arm: float) -> None:
    """The product's mark, in legend lines."""
    spots = []
    for turn in range(6):
        angle = np.pi / 3 * turn + np.pi / 6
        spots.append((0.0, 0.0, arm, angle))
        for share in (0.4, 0.7):
            spots += [(share, angle, arm * (1 - share) * 0.7, angle + lean) for lean in (np.pi / 3, -np.pi / 3)]
    for share, along, length, direction in spots:
        x, y = centre[0] + share * arm * np.cos(along), centre[1] + share * arm * np.sin(along)
        end = (x + length * np.cos(direction), y + length * np.sin(direction))
        line = pcbnew.PCB_SHAPE(board)
        line.SetShape(pcbnew.SHAPE_T_SEGMENT)
        line.SetStart(at(x, y))
        line.SetEnd(at(*end))
        line.SetLayer(pcbnew.F_SilkS)
        line.SetWidth(pcbnew.FromMM(0.15))
        board.Add(line)


def fiducial_opening(footprint: pcbnew.FOOTPRINT, margin: float, clearance: float) -> None:
    """Sets the mask opening of a mark and how near the pour may come."""
    for pad in footprint.Pads():
        pad.SetLocalSolderMaskMargin(pcbnew.FromMM(margin))
        pad.SetLocalClearance(pcbnew.FromMM(clearance))


def small_windows(footprint: pcbnew.FOOTPRINT, side: float, pitch: float, count: int) -> None:
    """Replaces the paste windows under a chip by a raster of smaller squares."""
    windows = [pad for pad in footprint.Pads() if not pad.IsOnLayer(pcbnew.F_Cu) and pad.IsOnLayer(pcbnew.F_Paste)]
    model = windows[0]
    here = footprint.GetPosition()
    for row in range(count):
        for column in range(count):
            pad = pcbnew.PAD(model)
            pad.SetShape(pcbnew.PAD_SHAPE_RECTANGLE)
            pad.SetSize(pcbnew.VECTOR2I(pcbnew.FromMM(side), pcbnew.FromMM(side)))
            dx, dy = (column - (count - 1) / 2) * pitch, (row - (count - 1) / 2) * pitch
            pad.SetPosition(pcbnew.VECTOR2I(here.x + pcbnew.FromMM(dx), here.y + pcbnew.FromMM(dy)))
            footprint.Add(pad)
    for pad in windows:
        footprint.Remove(pad)
