# SPDX-License-Identifier: MIT
"""The top of the window: the verdict, or what is being done; the capability sheet; Review again."""

from __future__ import annotations

from collections.abc import Sequence

import wx

from lineworthy_kicad.dialog.colours import Palette
from lineworthy_kicad.dialog.contract import Headline

GAUGE = 1000


class Head:
    """Verdict and progress take turns on the left; sheet and Review again stay on the right."""

    def __init__(self, parent: wx.Window) -> None:
        dip = parent.FromDIP
        self._parent = parent
        self._verdict = line(parent, bold=True, larger=1.3)
        self._board, self._caution, self._doing = line(parent), line(parent), line(parent)
        self._bar = wx.Gauge(parent, range=GAUGE, size=dip(wx.Size(220, 18)))
        self.cancel = wx.Button(parent, label="&Cancel")
        self._progress = wx.BoxSizer(wx.HORIZONTAL)
        self._progress.Add(self._bar, wx.SizerFlags(1).CentreVertical())
        self._progress.Add(self._doing, wx.SizerFlags(2).CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(10)))
        self._progress.Add(self.cancel, wx.SizerFlags().CentreVertical())
        self._left = wx.BoxSizer(wx.VERTICAL)
        self._left.Add(self._verdict, wx.SizerFlags().Expand())
        self._left.Add(self._progress, wx.SizerFlags().Expand())
        for text in (self._board, self._caution):
            self._left.Add(text, wx.SizerFlags().Expand().Border(wx.TOP, dip(2)))
        label = wx.StaticText(parent, label="Capability s&heet")
        self.sheet = wx.Choice(parent)
        self.sheet.SetToolTip("The limits to review against: a built-in sheet, or your factory's own")
        self.again = wx.Button(parent, label="Review &again")
        self.again.SetToolTip("Read the board as it is now and review it (F5)")
        right = wx.BoxSizer(wx.HORIZONTAL)
        right.Add(label, wx.SizerFlags().CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(8)))
        right.Add(self.sheet, wx.SizerFlags().CentreVertical())
        right.Add(self.again, wx.SizerFlags().CentreVertical().Border(wx.LEFT, dip(8)))
        self.sizer = wx.BoxSizer(wx.HORIZONTAL)
        self.sizer.Add(self._left, wx.SizerFlags(1).Expand())
        self.sizer.Add(right, wx.SizerFlags().Top())
        self._left.Show(self._caution, False)
        self.set_busy(True)

    def set_busy(self, busy: bool) -> None:
        """Shows the bar or the verdict."""
        self._left.Show(self._progress, busy)
        self._left.Show(self._verdict, not busy)
        self.again.Enable(not busy)
        self.sheet.Enable(not busy)

    def show_progress(self, share: float, what: str) -> None:
        """How far, and with what."""
        self._bar.SetValue(round(GAUGE * min(max(share, 0.0), 1.0)))
        if what != self._doing.GetLabelText():  # other words lay the whole window out again, which is slow
            say(self._doing, what)

    def show_stopped(self, reason: str, palette: Palette) -> None:
        """Why there is no review."""
        say(self._verdict, reason)
        self._verdict.SetForegroundColour(palette.tones["hold"])
        say(self._board, "F5 tries again.")
        self._left.Show(self._caution, False)
        self.again.SetLabel("Try &again")

    def show(self, headline: Headline, palette: Palette) -> None:
        """The verdict."""
        say(self._verdict, headline.verdict)
        self._verdict.SetForegroundColour(palette.tone(headline.tone))
        say(self._board, f"{headline.board}: {headline.facts}")
        say(self._caution, "  ".join(headline.cautions))
        self._caution.SetForegroundColour(palette.tones["hold"])
        self._left.Show(self._caution, bool(headline.cautions))
        self.again.SetLabel("Review &again")

    def show_sheets(self, names: Sequence[str], chosen: int) -> None:
        """The choice of sheets."""
        self.sheet.Set(list(names))
        self.sheet.SetSelection(chosen)


def line(parent: wx.Window, *, bold: bool = False, larger: float = 1.0) -> wx.StaticText:
    """One line of text that ends in dots where there is no room; set it with `say`."""
    text = wx.StaticText(parent, style=wx.ST_ELLIPSIZE_END | wx.ST_NO_AUTORESIZE)
    font = text.GetFont().Scaled(larger)
    text.SetFont(font.Bold() if bold else font)
    text.SetMinSize(wx.Size(parent.FromDIP(60), -1))
    return text


def say(text: wx.StaticText, words: str) -> None:
    """Sets a line's text as it is, and the same as its tooltip, for when it is cut."""
    text.SetLabelText(words)
    if words:
        text.SetToolTip(words)
    else:
        text.UnsetToolTip()
