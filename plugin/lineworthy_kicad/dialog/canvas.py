# SPDX-License-Identifier: MIT
"""The board map: one side or both, moved by dragging, zoomed by wheel and keys, with the findings' flags on it.

The board is painted into a bitmap somewhat larger than the window; moving copies it, and while a hand is still zooming
it is stretched. It is painted anew when things come to rest, so that a huge board stays as quick as a small one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Callable, Optional

import wx

from lineworthy.model import Side
from lineworthy.picture import Bounds
from lineworthy.shapes import Point
from lineworthy_kicad.dialog.colours import Palette, system
from lineworthy_kicad.dialog.contract import PlaceLine, SideMap
from lineworthy_kicad.dialog.face import FLAG_DIP, Face
from lineworthy_kicad.dialog.flags import Overlay, flag_at
from lineworthy_kicad.dialog.painting import Frame

SETTLE_MS = 140
UNSEEN_MS = 3000
"""How long to wait for the painting of a window that may be out of sight."""
ZOOM_STEP = 1.25
SCALE_MAX = 400.0


class MapCanvas:
    """The map as a window.

    Args:
        parent: the window it lies in.
        palette: the colours.
        on_pick: called with the number of a flag that was clicked.
        tip: what to say about a finding while the mouse is on its flag.
    """

    def __init__(
        self,
        parent: wx.Window,
        palette: Palette,
        on_pick: Callable[[int], None] = lambda number: None,
        tip: Callable[[int], str] = str,
    ) -> None:
        self.widget = wx.Window(parent, style=wx.WANTS_CHARS | wx.BORDER_THEME | wx.FULL_REPAINT_ON_RESIZE)
        self.widget.SetBackgroundStyle(wx.BG_STYLE_PAINT)
        self.widget.SetMinSize(self.widget.FromDIP(wx.Size(160, 120)))
        self._palette, self._on_pick, self._tip = palette, on_pick, tip
        self._faces = {side: Face(self.widget) for side in Side}
        self._sides: tuple[Side, ...] = (Side.TOP,)
        self._scale = 0.0  # 0: fit the window
        self._middle: Point = (0.0, 0.0)
        self._selected = 0
        self._ghosts: frozenset[int] = frozenset()
        self._grip: Optional[tuple[wx.Point, Point, Side]] = None
        self._dragged = False
        self._settle = wx.Timer(self.widget)
        self._is_moving = False
        self._unseen = wx.Timer(self.widget)
        self._painted: Optional[Callable[[], None]] = None
        self._bind()

    def _bind(self) -> None:
        for event, handler in (
            (wx.EVT_PAINT, self._on_paint),
            (wx.EVT_SIZE, self._on_size),
            (wx.EVT_LEFT_DOWN, self._on_down),
            (wx.EVT_LEFT_DCLICK, self._on_down),
            (wx.EVT_LEFT_UP, self._on_up),
            (wx.EVT_MOTION, self._on_motion),
            (wx.EVT_MOUSEWHEEL, self._on_wheel),
            (wx.EVT_KEY_DOWN, self._on_key),
            (wx.EVT_SET_FOCUS, self._on_focus),
            (wx.EVT_KILL_FOCUS, self._on_focus),
            (wx.EVT_MOUSE_CAPTURE_LOST, self._on_capture_lost),
        ):
            self.widget.Bind(event, handler)
        self.widget.Bind(wx.EVT_TIMER, self._on_settled, self._settle)
        self.widget.Bind(wx.EVT_TIMER, lambda event: self._call_painted(), self._unseen)

    # -- what is shown

    def set_maps(self, maps: Sequence[SideMap]) -> None:
        """Takes what to paint; scale and place stay, unless the board has other bounds."""
        for side_map in maps:
            face = self._faces[side_map.side]
            if face.map is None or face.map.picture.bounds != side_map.picture.bounds:
                self._scale = 0.0
            face.set_map(side_map)
        self.widget.Refresh()

    def set_palette(self, palette: Palette) -> None:
        """Takes other colours."""
        self._palette = palette
        for face in self._faces.values():
            face.forget()
        self.widget.Refresh()

    @property
    def sides(self) -> tuple[Side, ...]:
        """The sides shown."""
        return self._sides

    def show_sides(self, sides: tuple[Side, ...]) -> None:
        """Shows one side, or both."""
        if sides != self._sides:
            self._sides = sides
            self._changed()

    def select(self, number: int) -> None:
        """Lights one finding's flags."""
        self._selected = number
        self.widget.Refresh()

    def show_ghosts(self, positions: frozenset[int]) -> None:
        """Draws these of the things to be inserted."""
        self._ghosts = positions
        self.widget.Refresh()

    def centre(self, places: Sequence[PlaceLine]) -> None:
        """Brings places into view, no closer than they were unless they do not fit."""
        sides = {place.side for place in places}
        if not places or self._bounds is None:
            return
        if len(self._sides) == 1 and self._sides[0] not in sides:
            self.show_sides((places[0].side,))
        here = [place.at for place in places if place.side in self._sides]
        frame = self._frame(self._sides[0])
        box = Bounds(*(f(at[n] for at in here) for n, f in ((0, min), (1, min), (0, max), (1, max))))
        half = (frame.size[0] / 2 / frame.scale * 0.85, frame.size[1] / 2 / frame.scale * 0.85)
        middle = self._middle if self._scale else self._fit_middle()
        if (
            abs(box.left - middle[0]) < half[0]
            and abs(box.right - middle[0]) < half[0]
            and abs(box.bottom - middle[1]) < half[1]
            and abs(box.top - middle[1]) < half[1]
        ):
            return
        self._middle = ((box.left + box.right) / 2, (box.bottom + box.top) / 2)
        room = min(half[0] * 2 / max(box.right - box.left, 1e-6), half[1] * 2 / max(box.top - box.bottom, 1e-6))
        self._scale = frame.scale * min(1.0, room)
        self._changed()

    # -- geometry

    @property
    def _bounds(self) -> Optional[Bounds]:
        shown = self._faces[self._sides[0]].map
        return shown.picture.bounds if shown else None

    def _fit_middle(self) -> Point:
        bounds = self._bounds
        assert bounds is not None
        return (bounds.left + bounds.right) / 2, (bounds.bottom + bounds.top) / 2

    def _arrange(self) -> None:
        """Cuts the window into one part for each side: beside or above each other, as the board's shape suits."""
        width, height = self.widget.GetClientSize()
        bounds = self._bounds
        count = len(self._sides)
        wide = bounds is None or bounds.right - bounds.left > bounds.top - bounds.bottom
        # two wide boards above one another where the window is not much wider than high
        stacked = count == 2 and (height > width * 0.6 if wide else height > width * 1.6)
        for n, side in enumerate(self._sides):
            if stacked:
                self._faces[side].rect = wx.Rect(0, n * height // count, width, height // count)
            else:
                self._faces[side].rect = wx.Rect(n * width // count, 0, width // count, height)

    def _frame(self, side: Side) -> Frame:
        self._arrange()
        rect = self._faces[side].rect
        bounds = self._bounds
        assert bounds is not None
        size = (max(1, rect.width), max(1, rect.height))
        room = 9.0 * self.widget.FromDIP(FLAG_DIP)  # flags stand up to four half heights outside the board
        fit = min(
            max(20.0, size[0] - room) / max(bounds.right - bounds.left, 1e-6),
            max(20.0, size[1] - room) / max(bounds.top - bounds.bottom, 1e-6),
        )
        x, y = self._middle if self._scale else self._fit_middle()
        if side is Side.BOTTOM:
            x = bounds.left + bounds.right - x
        return Frame(self._scale or fit, (x, y), size)

    def _changed(self, *, is_moving: bool = False) -> None:
        self._is_moving = is_moving
        if is_moving:
            self._settle.StartOnce(SETTLE_MS)
        self.widget.Refresh()

    def _on_settled(self, event: wx.TimerEvent) -> None:
        self._changed()

    # -- painting

    def after_paint(self, call: Callable[[], None]) -> None:
        """Runs `call` once the window this is in has been painted, or after a while when nobody sees it."""
        self._painted = call
        self.widget.Refresh()
        self._unseen.StartOnce(UNSEEN_MS)

    def _call_painted(self) -> None:
        call, self._painted = self._painted, None
        if call is not None:
            self._unseen.Stop()
            wx.CallAfter(call)

    def _on_paint(self, event: wx.PaintEvent) -> None:
        self._call_painted()  # once this and all that is painted with it is on the screen
        dc = wx.AutoBufferedPaintDC(self.widget)
        dc.SetBackground(wx.Brush(self._palette.paper))
        dc.Clear()
        if self._bounds is None:
            return
        for side in self._sides:
            frame = self._frame(side)
            face = self._faces[side]
            face.paint(dc, frame, self._palette, self._is_moving)
            dc.SetClippingRegion(face.rect)
            gc = wx.GraphicsContext.Create(dc)
            gc.Translate(face.rect.x, face.rect.y)
            self._paint_over(gc, side, frame)
            del gc
            dc.DestroyClippingRegion()
        if self.widget.HasFocus():
            dc.SetBrush(wx.TRANSPARENT_BRUSH)
            dc.SetPen(wx.Pen(system(wx.SYS_COLOUR_HIGHLIGHT), self.widget.FromDIP(2)))
            dc.DrawRectangle(self.widget.GetClientRect())

    def _paint_over(self, gc: wx.GraphicsContext, side: Side, frame: Frame) -> None:
        face, dip = self._faces[side], self.widget.FromDIP
        assert face.map is not None
        over = Overlay(gc, frame, self._palette, dip(100) / 100, dip(FLAG_DIP))
        over.flags(face.flags(frame.scale), self._selected)
        for position, ghost in face.map.ghosts:
            if position in self._ghosts:
                over.ghost(ghost)
        words = "Top" if side is Side.TOP else "Bottom, seen from below"
        gc.SetFont(self.widget.GetFont(), system(wx.SYS_COLOUR_WINDOWTEXT))
        width, height = gc.GetTextExtent(words)
        gc.SetBrush(wx.Brush(self._palette.paper))
        gc.SetPen(wx.TRANSPARENT_PEN)
        gc.DrawRectangle(dip(4), dip(4), width + dip(8), height + dip(4))
        gc.DrawText(words, dip(8), dip(6))
        if side is not self._sides[0]:  # a line between the two sides
            gc.SetPen(wx.Pen(system(wx.SYS_COLOUR_BTNSHADOW), dip(1)))
            is_below = face.rect.y > 0
            gc.StrokeLine(0, 0, *((face.rect.width, 0) if is_below else (0, face.rect.height)))

    # -- moving

    def zoom(self, factor: float, about: Optional[wx.Point] = None) -> None:
        """Larger or smaller; the place under `about` stays where it is."""
        if self._bounds is None:
            return
        side = self._side_at(about) if about else self._sides[0]
        frame = self._frame(side)
        rect = self._faces[side].rect
        scale = min(max(frame.scale * factor, 0.2 * frame.scale / max(factor, 1.0), 0.05), SCALE_MAX)
        at = (about.x - rect.x, about.y - rect.y) if about else (rect.width / 2, rect.height / 2)
        fixed = frame.mm(at)
        moved = replace(frame, scale=scale).mm(at)
        middle = (frame.middle[0] + fixed[0] - moved[0], frame.middle[1] + fixed[1] - moved[1])
        self._scale = scale
        self._set_middle(middle, side)
        self._changed(is_moving=True)

    def fit(self) -> None:
        """The whole board."""
        self._scale = 0.0
        self._changed()

    def _set_middle(self, middle: Point, side: Side) -> None:
        bounds = self._bounds
        assert bounds is not None
        x = middle[0] if side is Side.TOP else bounds.left + bounds.right - middle[0]
        # never so far out that the board is lost
        self._middle = min(max(x, bounds.left), bounds.right), min(max(middle[1], bounds.bottom), bounds.top)

    def _pan(self, side: Side, start: Point, dx: float, dy: float) -> None:
        frame = self._frame(side)
        self._scale = frame.scale
        self._set_middle((start[0] - dx / frame.scale, start[1] + dy / frame.scale), side)
        self._changed(is_moving=True)

    def _side_at(self, at: wx.Point) -> Side:
        self._arrange()
        return next((side for side in self._sides if self._faces[side].rect.Contains(at)), self._sides[0])

    # -- mouse and keys

    def _on_size(self, event: wx.SizeEvent) -> None:
        event.Skip()
        self._changed()

    def _on_down(self, event: wx.MouseEvent) -> None:
        self.widget.SetFocus()
        if self._bounds is None:
            return
        at = event.GetPosition()
        side = self._side_at(at)
        self._grip, self._dragged = (at, self._frame(side).middle, side), False
        if not self.widget.HasCapture():
            self.widget.CaptureMouse()

    def _on_up(self, event: wx.MouseEvent) -> None:
        if self.widget.HasCapture():
            self.widget.ReleaseMouse()
        grip, self._grip = self._grip, None
        if grip is not None and not self._dragged:
            number = self.flag_at(event.GetPosition())
            if number:
                self._on_pick(number)

    def _on_capture_lost(self, event: wx.MouseCaptureLostEvent) -> None:
        self._grip = None

    def _on_motion(self, event: wx.MouseEvent) -> None:
        at = event.GetPosition()
        if self._grip is not None:
            start, middle, side = self._grip
            if self._dragged or abs(at.x - start.x) + abs(at.y - start.y) > self.widget.FromDIP(4):
                self._dragged = True
                self._pan(side, middle, at.x - start.x, at.y - start.y)
            return
        number = self.flag_at(at)
        text = self._tip(number) if number else ""
        if text != (self.widget.GetToolTipText() or ""):
            self.widget.UnsetToolTip()
            if text:
                self.widget.SetToolTip(text)

    def flag_at(self, at: wx.Point) -> int:
        """Number of the finding whose flag or place lies under a point, 0 for none."""
        if self._bounds is None:
            return 0
        side = self._side_at(at)
        face, frame = self._faces[side], self._frame(side)
        inside = (at.x - face.rect.x, at.y - face.rect.y)
        tall, near = self.widget.FromDIP(FLAG_DIP), self.widget.FromDIP(6)
        return flag_at(face.flags(frame.scale), inside, frame, tall, near)

    def _on_wheel(self, event: wx.MouseEvent) -> None:
        turns = event.GetWheelRotation() / (event.GetWheelDelta() or 120)
        self.zoom(ZOOM_STEP**turns, event.GetPosition())

    def _on_key(self, event: wx.KeyEvent) -> None:
        key = event.GetKeyCode()
        step = self.widget.FromDIP(60)
        moves = {
            wx.WXK_LEFT: (step, 0),
            wx.WXK_RIGHT: (-step, 0),
            wx.WXK_UP: (0, step),
            wx.WXK_DOWN: (0, -step),
        }
        if key == wx.WXK_TAB:
            flags = wx.NavigationKeyEvent.IsBackward if event.ShiftDown() else wx.NavigationKeyEvent.IsForward
            self.widget.Navigate(flags)
        elif event.HasAnyModifiers() and not event.ShiftDown():
            event.Skip()
        elif key in moves and self._bounds is not None:
            side = self._sides[0]
            self._pan(side, self._frame(side).middle, *moves[key])
        elif key in (ord("+"), ord("="), wx.WXK_NUMPAD_ADD):
            self.zoom(ZOOM_STEP)
        elif key in (ord("-"), wx.WXK_NUMPAD_SUBTRACT):
            self.zoom(1 / ZOOM_STEP)
        elif key in (ord("0"), wx.WXK_NUMPAD0):
            self.fit()
        else:
            event.Skip()

    def _on_focus(self, event: wx.FocusEvent) -> None:
        event.Skip()
        self.widget.Refresh()
