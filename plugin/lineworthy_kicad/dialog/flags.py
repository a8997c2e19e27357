# SPDX-License-Identifier: MIT
"""What lies over the board on the map: numbered flags of findings, and ghosts of what would be inserted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import wx

from lineworthy.finding import Consequence
from lineworthy_kicad.dialog.colours import Palette, system
from lineworthy_kicad.dialog.contract import Flag, Ghost
from lineworthy_kicad.dialog.painting import Frame


class Overlay:
    """Paints over one side.

    Args:
        gc: moved to the side's part of the window.
        dip: pixels of one device-independent pixel.
        tall: half the height of a flag, pixels.
    """

    def __init__(self, gc: wx.GraphicsContext, frame: Frame, palette: Palette, dip: float, tall: float) -> None:
        self._gc, self._frame, self._palette, self._dip, self._tall = gc, frame, palette, dip, tall

    def flags(self, flags: Sequence[Flag], selected: int) -> None:
        """Flags over all stems, the selected finding over the others."""
        order = sorted(flags, key=lambda flag: flag.number == selected)
        for flag in order:
            self._stems(flag, flag.number == selected)
        for flag in order:
            self._flag(flag, flag.number == selected)

    def _stems(self, flag: Flag, lit: bool) -> None:
        gc, dip = self._gc, self._dip
        colour = self._palette.consequence(flag.consequence)
        self._pen(colour, 3 if lit else 1)
        for spot in flag.spots:
            if flag.at is not None:
                gc.StrokeLines([self._frame.px(spot), self._frame.px(flag.at)])
        radius = (6 if lit else 3) * dip
        gc.SetBrush(wx.Brush(colour))
        self._pen(system(wx.SYS_COLOUR_WINDOWTEXT) if lit else self._palette.paper, 2 if lit else 1)
        for spot in flag.spots:
            x, y = self._frame.px(spot)
            gc.DrawEllipse(x - radius, y - radius, 2 * radius, 2 * radius)

    def _flag(self, flag: Flag, lit: bool) -> None:
        if flag.at is None:
            return
        gc, tall = self._gc, self._tall
        tone, paper = self._palette.consequence(flag.consequence), self._palette.paper
        is_note = flag.consequence is Consequence.NOTE
        half = flag.half_width * self._frame.scale
        x, y = self._frame.px(flag.at)
        gc.SetBrush(wx.Brush(paper if is_note else tone))
        self._pen(system(wx.SYS_COLOUR_WINDOWTEXT) if lit else tone if is_note else paper, 2 if lit else 1)
        # the consequence shows in the shape, too: a hold has corners
        radius = 0 if flag.consequence is Consequence.HOLD else tall
        gc.DrawRoundedRectangle(x - half, y - tall, 2 * half, 2 * tall, radius)
        gc.SetFont(gc.CreateFont(tall * 1.35, "", wx.FONTFLAG_BOLD, tone if is_note else self._palette.on_tone))
        width, height = gc.GetTextExtent(str(flag.number))
        gc.DrawText(str(flag.number), x - width / 2, y - height / 2)

    def ghost(self, ghost: Ghost) -> None:
        """Something that would be inserted, with its name below it."""
        gc, dip, colour = self._gc, self._dip, self._palette.ghost
        self._pen(colour, 2)
        gc.SetBrush(wx.Brush(wx.Colour(colour.Red(), colour.Green(), colour.Blue(), 60)))
        gc.PushState()
        gc.Translate(*self._frame.px(ghost.at))
        below = 0.0
        for diameter in ghost.diameters:
            radius = max(diameter * self._frame.scale / 2, 4 * dip)
            gc.DrawEllipse(-radius, -radius, 2 * radius, 2 * radius)
            below = max(below, radius)
        if not ghost.diameters:
            width = max(ghost.size[0] * self._frame.scale, 10 * dip)
            height = max(ghost.size[1] * self._frame.scale, 6 * dip)
            gc.PushState()
            gc.Rotate(-math.radians(ghost.rotation))
            gc.DrawRectangle(-width / 2, -height / 2, width, height)
            gc.PopState()
            below = abs(height * math.cos(math.radians(ghost.rotation))) / 2
            below += abs(width * math.sin(math.radians(ghost.rotation))) / 2
        self._name(ghost.text, below + 3 * dip)
        gc.PopState()

    def _name(self, text: str, top: float) -> None:
        gc, dip = self._gc, self._dip
        gc.SetFont(gc.CreateFont(12 * dip, "", wx.FONTFLAG_BOLD, self._palette.ghost))
        width, height = gc.GetTextExtent(text)
        gc.SetBrush(wx.Brush(self._palette.paper))
        gc.SetPen(wx.TRANSPARENT_PEN)
        gc.DrawRectangle(-width / 2 - 2 * dip, top, width + 4 * dip, height)
        gc.DrawText(text, -width / 2, top)

    def _pen(self, colour: wx.Colour, width: float) -> None:
        self._gc.SetPen(self._gc.CreatePen(wx.GraphicsPenInfo(colour).Width(width * self._dip)))


def flag_at(flags: Sequence[Flag], at: tuple[float, float], frame: Frame, tall: float, near: float) -> int:
    """Number of the finding whose flag or place lies under a point, 0 for none; what is painted last wins.

    Args:
        flags: in the order they are painted.
        at: pixels, in the side's part of the window.
        frame: what the window shows.
        tall: half the height of a flag, pixels.
        near: how close to a place counts, pixels.
    """
    x, y = at
    for flag in reversed(flags):
        if flag.at is not None:
            fx, fy = frame.px(flag.at)
            if abs(x - fx) <= flag.half_width * frame.scale and abs(y - fy) <= tall:
                return flag.number
    for flag in reversed(flags):
        for spot in flag.spots:
            sx, sy = frame.px(spot)
            if abs(x - sx) <= near and abs(y - sy) <= near:
                return flag.number
    return 0
