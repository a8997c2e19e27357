# SPDX-License-Identifier: MIT
"""Tables: rows with columns that remember their widths, and a tooltip for every text that does not fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Callable, Optional

import wx

from lineworthy.finding import Consequence
from lineworthy_kicad.dialog.colours import Palette, system

ICON = 16
TITLE_EDGE = 14
"""Beside the title of a column, both sides together."""
CONCEDED = len(Consequence)


@dataclass(frozen=True)
class Cells:
    """One row.

    Attributes:
        key: what a selection of the row stands for; 0 for nothing.
        icon: position in `icons`, -1 for none.
        is_heading: in bold, on a tinted ground.
    """

    texts: tuple[str, ...]
    key: int = 0
    icon: int = -1
    is_heading: bool = False
    is_quiet: bool = False


class Table:
    """A list with columns.

    Args:
        parent: the window it lies in.
        columns: (title, width in device-independent pixels) each.
        elastic: the column that takes the room the others leave.
        on_select: called with the key of the row that was chosen by a person.
        on_activate: called on Enter and double click.
    """

    def __init__(
        self,
        parent: wx.Window,
        columns: Sequence[tuple[str, int]],
        elastic: int,
        *,
        on_select: Callable[[int], None] = lambda key: None,
        on_activate: Callable[[], None] = lambda: None,
    ) -> None:
        self.widget = wx.ListCtrl(parent, style=wx.LC_REPORT | wx.LC_SINGLE_SEL | wx.BORDER_THEME)
        self._on_select, self._on_activate, self._elastic = on_select, on_activate, elastic
        self._least = columns[elastic][1] // 2
        self._rows: tuple[Cells, ...] = ()
        self._is_quiet = False
        for n, (title, width) in enumerate(columns):
            # where letters are larger than usual, the title still fits
            least = self.widget.GetTextExtent(title).width + self.widget.FromDIP(TITLE_EDGE)
            self.widget.InsertColumn(n, title, width=max(self.widget.FromDIP(width), least))
        self._hovering = [self.widget, *self.widget.GetChildren()]
        for window in self._hovering:
            window.Bind(wx.EVT_MOTION, self._on_motion)
        self.widget.Bind(wx.EVT_LIST_ITEM_SELECTED, self._on_selected)
        self.widget.Bind(wx.EVT_SIZE, self._on_size)
        self.widget.Bind(wx.EVT_LIST_COL_END_DRAG, self._on_dragged)
        self.widget.Bind(wx.EVT_LIST_ITEM_ACTIVATED, lambda event: self._on_activate())

    def set_icons(self, palette: Palette) -> None:
        """Draws the marks of consequences in these colours."""
        self._images = icons(self.widget, palette)
        self.widget.SetImageList(self._images, wx.IMAGE_LIST_SMALL)

    @property
    def widths(self) -> tuple[int, ...]:
        """Column widths in device-independent pixels."""
        return tuple(self.widget.ToDIP(self.widget.GetColumnWidth(n)) for n in range(self.widget.GetColumnCount()))

    @widths.setter
    def widths(self, widths: Sequence[int]) -> None:
        if len(widths) == self.widget.GetColumnCount():
            for n, width in enumerate(widths):
                if width > 0:
                    self.widget.SetColumnWidth(n, self.widget.FromDIP(width))

    def fill(self, rows: Sequence[Cells]) -> None:
        """Replaces all rows."""
        self._rows = tuple(rows)
        self.widget.Freeze()
        self._is_quiet = True
        self.widget.DeleteAllItems()
        bold = self.widget.GetFont().Bold()
        for n, row in enumerate(self._rows):
            self.widget.InsertItem(n, row.texts[0], row.icon)
            for column, text in enumerate(row.texts[1:], 1):
                self.widget.SetItem(n, column, text)
            if row.is_heading:
                self.widget.SetItemFont(n, bold)
                self.widget.SetItemBackgroundColour(n, system(wx.SYS_COLOUR_BTNFACE))
                self.widget.SetItemTextColour(n, system(wx.SYS_COLOUR_BTNTEXT))
            if row.is_quiet:
                self.widget.SetItemTextColour(n, system(wx.SYS_COLOUR_GRAYTEXT))
        self._is_quiet = False
        self.widget.Thaw()

    def select(self, key: int) -> None:
        """Marks the row with this key and brings it into view, without calling back."""
        self._is_quiet = True
        for n, row in enumerate(self._rows):
            wanted = key != 0 and row.key == key
            if wanted != self.widget.IsSelected(n):
                self.widget.Select(n, 1 if wanted else 0)
            if wanted:
                self.widget.Focus(n)
        self._is_quiet = False

    def _on_size(self, event: wx.SizeEvent) -> None:
        event.Skip()
        self._stretch()

    def _on_dragged(self, event: wx.ListEvent) -> None:
        event.Skip()
        wx.CallAfter(self._stretch)

    def _stretch(self) -> None:
        """Gives the elastic column what the others leave."""
        if not self.widget:  # gone before a call that was put off
            return
        widths = [self.widget.GetColumnWidth(n) for n in range(self.widget.GetColumnCount())]
        room = self.widget.GetClientSize().width - sum(widths) + widths[self._elastic]
        wanted = max(room, self.widget.FromDIP(self._least))
        if wanted != widths[self._elastic]:
            self.widget.SetColumnWidth(self._elastic, wanted)

    def _on_selected(self, event: wx.ListEvent) -> None:
        if not self._is_quiet and event.GetIndex() < len(self._rows):
            self._on_select(self._rows[event.GetIndex()].key)

    def _on_motion(self, event: wx.MouseEvent) -> None:
        event.Skip()
        window = event.GetEventObject()
        at = self.widget.ScreenToClient(window.ClientToScreen(event.GetPosition()))
        text = self.cut_text_at(at)
        tip = window.GetToolTipText() if window.GetToolTip() else ""
        if text != tip:
            # taking the tip away and setting it again makes it follow to the next row
            window.UnsetToolTip()
            if text:
                window.SetToolTip(text)

    def cut_text_at(self, at: wx.Point) -> str:
        """The whole text of the cell under a point where the column is too narrow for it, else nothing."""
        row, _ = self.widget.HitTest(at)
        if not 0 <= row < len(self._rows):
            return ""
        column = self._column_at(at.x + self.widget.GetScrollPos(wx.HORIZONTAL))
        if column is None or column >= len(self._rows[row].texts):
            return ""
        text = self._rows[row].texts[column]
        needed = self.widget.GetTextExtent(text)[0] + self.widget.FromDIP(ICON + 12 if column == 0 else 12)
        if self._rows[row].is_heading:
            needed = needed * 9 // 8
        return text if needed > self.widget.GetColumnWidth(column) else ""

    def _column_at(self, x: int) -> Optional[int]:
        edge = 0
        for column in range(self.widget.GetColumnCount()):
            edge += self.widget.GetColumnWidth(column)
            if x < edge:
                return column
        return None


def icons(window: wx.Window, palette: Palette) -> wx.ImageList:
    """The marks of hold (square), query (disc), note (ring) and conceded (ticked ring): told apart without colour."""
    size = window.FromDIP(ICON)
    images = wx.ImageList(size, size)
    for n in range(CONCEDED + 1):
        bitmap = wx.Bitmap.FromRGBA(size, size)
        dc = wx.MemoryDC(bitmap)
        gc = wx.GraphicsContext.Create(dc)
        draw_mark(gc, n, (size / 2, size / 2), size * 0.36, palette)
        del gc
        dc.SelectObject(wx.NullBitmap)
        images.Add(bitmap)
    return images


def draw_mark(gc: wx.GraphicsContext, icon: int, middle: tuple[float, float], half: float, palette: Palette) -> None:
    """One mark about its middle."""
    x, y = middle
    colour = palette.conceded if icon == CONCEDED else palette.consequence(list(Consequence)[icon])
    pen = gc.CreatePen(wx.GraphicsPenInfo(colour).Width(max(1.0, half * 0.32)))
    if icon == 0:
        gc.SetBrush(wx.Brush(colour))
        gc.SetPen(wx.NullPen)
        gc.DrawRectangle(x - half, y - half, 2 * half, 2 * half)
    elif icon == 1:
        gc.SetBrush(wx.Brush(colour))
        gc.SetPen(wx.NullPen)
        gc.DrawEllipse(x - half, y - half, 2 * half, 2 * half)
    else:
        gc.SetBrush(wx.NullBrush)
        gc.SetPen(pen)
        gc.DrawEllipse(x - half, y - half, 2 * half, 2 * half)
    if icon == CONCEDED:
        gc.StrokeLines([(x - half * 0.5, y), (x - half * 0.1, y + half * 0.45), (x + half * 0.55, y - half * 0.45)])
