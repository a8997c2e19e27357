# SPDX-License-Identifier: MIT
"""Paints a side of the board through a window onto it: outlines are built once, then only scaled and moved."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Optional

import wx

from lineworthy.picture import Bounds, Coat, Picture, Role, Words
from lineworthy.shapes import Point
from lineworthy_kicad.dialog.colours import Palette

TEXT_MIN_PX, TEXT_MAX_PX = 6.0, 200.0
"""Smaller letters cannot be read; larger ones slow some systems down."""

_DASHED = {Role.COURTYARD, Role.UNFITTED}
_OUTLINED = {Role.COURTYARD, Role.BODY, Role.UNFITTED, Role.BOARD}
_FONT_PX = 100
"""Texts are measured once at this size."""


@dataclass(frozen=True)
class Frame:
    """From the picture's millimetres, y up, to pixels, y down.

    Attributes:
        scale: pixels per mm.
        middle: what lies in the middle of the window, mm.
        size: of the window, pixels.
    """

    scale: float
    middle: Point
    size: tuple[int, int]

    def px(self, at: Point) -> tuple[float, float]:
        """A place in pixels."""
        return (
            self.size[0] / 2 + (at[0] - self.middle[0]) * self.scale,
            self.size[1] / 2 - (at[1] - self.middle[1]) * self.scale,
        )

    def mm(self, at: tuple[float, float]) -> Point:
        """The place under a pixel."""
        return (
            self.middle[0] + (at[0] - self.size[0] / 2) / self.scale,
            self.middle[1] - (at[1] - self.size[1] / 2) / self.scale,
        )

    @property
    def seen(self) -> Bounds:
        """What the window shows."""
        (left, top), (right, bottom) = self.mm((0, 0)), self.mm(self.size)
        return Bounds(left, bottom, right, top)


@dataclass(frozen=True)
class _Built:
    """A coat as paths of the graphics system: areas to fill, and lines by width."""

    role: Role
    fill: Optional[wx.GraphicsPath]
    strokes: tuple[tuple[float, wx.GraphicsPath], ...]


class Painter:
    """Paints one picture."""

    def __init__(self, picture: Picture) -> None:
        self.picture = picture
        self._renderer = wx.GraphicsRenderer.GetDefaultRenderer()
        self._coats: list[_Built] = []
        self._extents: dict[str, tuple[float, float]] = {}

    def paint(self, gc: wx.GraphicsContext, frame: Frame, palette: Palette) -> None:
        """Paints the board; the ground is the caller's."""
        if not self._coats:
            self._coats = [self._built(coat) for coat in self.picture.coats]
        gc.PushState()
        gc.Translate(*frame.px((0.0, 0.0)))
        gc.Scale(frame.scale, -frame.scale)
        for coat in self._coats:
            _paint_coat(gc, coat, 1 / frame.scale, palette)
        gc.PopState()
        self._texts(gc, frame, palette)

    def _built(self, coat: Coat) -> _Built:
        fill = self._path(coat.rings, closed=True) if coat.rings else None
        return _Built(coat.role, fill, tuple((s.width, self._path(s.paths, closed=False)) for s in coat.strokes))

    def _path(self, loops: tuple[object, ...], *, closed: bool) -> wx.GraphicsPath:
        path = self._renderer.CreatePath()
        line = path.AddLineToPoint
        for loop in loops:
            (x, y), *rest = loop.tolist()  # type: ignore[attr-defined]
            path.MoveToPoint(x, y)
            if not rest:
                line(x + 1e-4, y)  # a dot: some systems draw no round ends on a line of no length
            for x, y in rest:
                line(x, y)
            if closed:
                path.CloseSubpath()
        return path

    def _texts(self, gc: wx.GraphicsContext, frame: Frame, palette: Palette) -> None:
        seen = frame.seen
        for words in self._legible(frame, seen):
            along, across = words.size[0] * frame.scale, words.size[1] * frame.scale
            width, height = self._extent(gc, words.text, palette)
            size = min(across * 1.25, along * _FONT_PX / width, TEXT_MAX_PX)
            if size < TEXT_MIN_PX:
                continue
            colour = palette.labels if words.is_label else palette.words
            gc.SetFont(gc.CreateFont(size, "", wx.FONTFLAG_DEFAULT, colour))
            x, y = frame.px(words.at)
            ratio = size / _FONT_PX
            gc.PushState()
            gc.Translate(x, y)
            if words.rotation:
                gc.Rotate(-math.radians(words.rotation))
            gc.DrawText(words.text, -width * ratio / 2, -height * ratio / 2)
            gc.PopState()

    def _legible(self, frame: Frame, seen: Bounds) -> Iterator[Words]:
        for words in self.picture.words:
            reach = words.size[0]
            x, y = words.at
            if (
                words.size[1] * frame.scale * 1.25 >= TEXT_MIN_PX
                and seen.left - reach < x < seen.right + reach
                and seen.bottom - reach < y < seen.top + reach
            ):
                yield words

    def _extent(self, gc: wx.GraphicsContext, text: str, palette: Palette) -> tuple[float, float]:
        if text not in self._extents:
            gc.SetFont(gc.CreateFont(_FONT_PX, "", wx.FONTFLAG_DEFAULT, palette.words))
            width, height = gc.GetTextExtent(text)
            self._extents[text] = (max(float(width), 1.0), float(height))
        return self._extents[text]


def _paint_coat(gc: wx.GraphicsContext, coat: _Built, hair: float, palette: Palette) -> None:
    """Paints one coat; `hair` is the width of a line one pixel wide."""
    role, colour = coat.role, palette.map[coat.role]
    if coat.fill is not None and role not in _DASHED:
        see_through = role is Role.BODY
        ground = palette.paper if see_through else colour
        gc.SetBrush(wx.Brush(wx.Colour(ground.Red(), ground.Green(), ground.Blue(), 150 if see_through else 255)))
        gc.FillPath(coat.fill, wx.WINDING_RULE)
    if coat.fill is not None and role in _OUTLINED:
        edge = palette.map[Role.BODY] if role is Role.BOARD else colour
        style = wx.PENSTYLE_SHORT_DASH if role in _DASHED else wx.PENSTYLE_SOLID
        gc.SetPen(gc.CreatePen(wx.GraphicsPenInfo(edge).Width(hair).Style(style)))
        gc.StrokePath(coat.fill)
    for width, path in coat.strokes:
        gc.SetPen(gc.CreatePen(wx.GraphicsPenInfo(colour).Width(max(width, hair)).Cap(wx.CAP_ROUND)))
        gc.StrokePath(path)
