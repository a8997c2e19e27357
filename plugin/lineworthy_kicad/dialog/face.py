# SPDX-License-Identifier: MIT
"""One side of the board in its part of the map, painted into a bitmap and copied from there."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Optional

import wx

from lineworthy_kicad.dialog.colours import Palette
from lineworthy_kicad.dialog.contract import Flag, SideMap
from lineworthy_kicad.dialog.painting import Frame, Painter

FLAG_DIP = 9
"""Half the height of a flag."""
MARGIN = 0.35
"""The bitmap is this much larger than the window on each side."""
QUICK_S = 0.03
"""A board painted in less than this is painted anew at every step."""


class Face:
    """One side in its part of the window."""

    def __init__(self, window: wx.Window) -> None:
        self._window = window
        self._painter: Optional[Painter] = None
        self._bitmap: Optional[wx.Bitmap] = None
        self._painted: Optional[Frame] = None
        self._flags: dict[float, tuple[Flag, ...]] = {}
        self._cost = 0.0
        self.map: Optional[SideMap] = None
        self.rect = wx.Rect()

    def set_map(self, side_map: SideMap) -> None:
        """Takes what to paint; the board's outlines are kept when only flags changed."""
        if self._painter is None or self._painter.picture is not side_map.picture:
            self._painter, self._bitmap = Painter(side_map.picture), None
        self.map = side_map
        self._flags.clear()

    def forget(self) -> None:
        """Drops what was painted: the colours changed."""
        self._bitmap = None

    def paint(self, dc: wx.DC, frame: Frame, palette: Palette, is_moving: bool) -> bool:
        """Paints the board into `rect`; True when it is only a stand-in until things come to rest."""
        is_stand_in = False
        if not self._serves(frame):
            is_stand_in = is_moving and self._bitmap is not None and self._cost > QUICK_S
            if not is_stand_in:
                self._render(frame, palette)
        assert self._bitmap is not None
        assert self._painted is not None
        done = self._painted
        left, top = frame.px(done.mm((0, 0)))
        ratio = frame.scale / done.scale
        dc.SetClippingRegion(self.rect)
        gc = wx.GraphicsContext.Create(dc)
        x, y = self.rect.x + left, self.rect.y + top
        if is_stand_in:
            gc.DrawBitmap(self._bitmap, x, y, done.size[0] * ratio, done.size[1] * ratio)
        else:
            dc.DrawBitmap(self._bitmap, round(x), round(y))
        del gc
        dc.DestroyClippingRegion()
        return is_stand_in

    def _serves(self, frame: Frame) -> bool:
        """Whether the bitmap covers the frame at its scale."""
        done = self._painted
        if self._bitmap is None or done is None or done.scale != frame.scale:
            return False
        have, want = done.seen, frame.seen
        slack = 1 / frame.scale
        return (
            have.left <= want.left + slack
            and have.right >= want.right - slack
            and have.bottom <= want.bottom + slack
            and have.top >= want.top - slack
        )

    def _render(self, frame: Frame, palette: Palette) -> None:
        assert self._painter is not None
        start = time.perf_counter()
        width, height = (max(1, round(length * (1 + 2 * MARGIN))) for length in frame.size)
        done = replace(frame, size=(width, height))
        bitmap = wx.Bitmap()
        bitmap.CreateScaled(width, height, wx.BITMAP_SCREEN_DEPTH, self._window.GetContentScaleFactor())
        dc = wx.MemoryDC(bitmap)
        dc.SetBackground(wx.Brush(palette.paper))
        dc.Clear()
        gc = wx.GraphicsContext.Create(dc)
        self._painter.paint(gc, done, palette)
        del gc
        dc.SelectObject(wx.NullBitmap)
        self._bitmap, self._painted = bitmap, done
        self._cost = time.perf_counter() - start

    def flags(self, scale: float) -> tuple[Flag, ...]:
        """The flags for this scale, placed once."""
        assert self.map is not None
        if scale not in self._flags:
            if len(self._flags) > 20:
                self._flags.clear()
            self._flags[scale] = self.map.flags(self._window.FromDIP(FLAG_DIP) / scale)
        return self._flags[scale]
