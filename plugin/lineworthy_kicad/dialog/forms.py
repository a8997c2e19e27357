# SPDX-License-Identifier: MIT
"""The questions the dialog asks: a concession's reason, what to insert."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Optional

import wx

from lineworthy.model import Side
from lineworthy_kicad.dialog.canvas import MapCanvas
from lineworthy_kicad.dialog.colours import palette
from lineworthy_kicad.dialog.contract import ConcessionForm, InsertForm

STYLE = wx.DEFAULT_DIALOG_STYLE | wx.RESIZE_BORDER
OFFERS_WIDE, OFFERS_WIDEST, TICK = 300, 440, 40
"""How wide the list of offers is at least, how wide a long offer may make it, and what stands beside its text."""


def ask_concession(parent: wx.Window, form: ConcessionForm) -> Optional[ConcessionForm]:
    """Asks for name and reason, which must be given before the person can agree, and for a last day."""
    question = ConcessionQuestion(parent, form)
    try:
        return question.answer() if question.dialog.ShowModal() == wx.ID_OK else None
    finally:
        question.dialog.Destroy()


class ConcessionQuestion:
    """The window that asks for a concession."""

    def __init__(self, parent: wx.Window, form: ConcessionForm) -> None:
        self._form = form
        self.dialog = wx.Dialog(parent, title="Concede a finding", style=STYLE)
        dip = self.dialog.FromDIP
        finding = wx.StaticText(self.dialog, label=form.finding.replace("&", "&&"))
        finding.SetFont(finding.GetFont().Bold())
        finding.Wrap(dip(460))
        holds = f"for revision {form.revision}" if form.revision else "for the board while it has no revision"
        note = wx.StaticText(
            self.dialog, label=f"Holds {holds}, from {form.date}. Kept in {form.file}.".replace("&", "&&")
        )
        note.Wrap(dip(460))
        reason_label = wx.StaticText(self.dialog, label="&Reason this board may be built as it is")
        self.reason = wx.TextCtrl(self.dialog, value=form.reason, style=wx.TE_MULTILINE, size=dip(wx.Size(460, 90)))
        name_label = wx.StaticText(self.dialog, label="Your &name")
        self.name = wx.TextCtrl(self.dialog, value=form.name)
        until = "Or the &last day it holds, whatever the revision, as 2027-03-01"
        until_label = wx.StaticText(self.dialog, label=until)
        self.until = wx.TextCtrl(self.dialog, value=form.expires)
        buttons = self.dialog.CreateStdDialogButtonSizer(wx.OK | wx.CANCEL)
        self._ok = self.dialog.FindWindow(wx.ID_OK)
        self._ok.SetLabel("&Concede")
        box = wx.BoxSizer(wx.VERTICAL)
        for window, proportion in (
            (finding, 0),
            (note, 0),
            (reason_label, 0),
            (self.reason, 1),
            (name_label, 0),
            (self.name, 0),
            (until_label, 0),
            (self.until, 0),
        ):
            box.Add(window, wx.SizerFlags(proportion).Expand().Border(wx.LEFT | wx.RIGHT | wx.TOP, dip(10)))
        box.Add(buttons, wx.SizerFlags().Expand().Border(wx.ALL, dip(10)))
        self.dialog.SetSizerAndFit(box)
        self.dialog.SetMinSize(self.dialog.GetSize())
        self.dialog.CentreOnParent()
        for text in (self.reason, self.name, self.until):
            text.Bind(wx.EVT_TEXT, self._on_text)
        self._on_text(None)
        self.reason.SetFocus()

    def _on_text(self, event: Optional[wx.CommandEvent]) -> None:
        self._ok.Enable(self.answer().is_complete)

    def answer(self) -> ConcessionForm:
        """The form as it stands."""
        reason, name, last = (box.GetValue() for box in (self.reason, self.name, self.until))
        return replace(self._form, reason=reason, name=name, expires=last)


def ask_insert(parent: wx.Window, form: InsertForm) -> Sequence[int]:
    """Lets the person choose, with what is chosen drawn on the map."""
    question = InsertQuestion(parent, form)
    try:
        return question.chosen() if question.dialog.ShowModal() == wx.ID_OK else ()
    finally:
        question.dialog.Destroy()


class InsertQuestion:
    """The window that offers what can be inserted."""

    def __init__(self, parent: wx.Window, form: InsertForm) -> None:
        self._form = form
        self.dialog = wx.Dialog(parent, title="Insert into the board", style=STYLE | wx.MAXIMIZE_BOX)
        dip = self.dialog.FromDIP
        titles = list(form.offers)
        label = wx.StaticText(self.dialog, label="&What to insert")
        wide = max(self.dialog.GetTextExtent(title).width for title in titles) + dip(TICK)
        least = wx.Size(min(max(dip(OFFERS_WIDE), wide), dip(OFFERS_WIDEST)), dip(200))
        self.list = wx.CheckListBox(self.dialog, choices=titles, size=least)
        self.list.SetCheckedItems(range(len(titles)))
        left = wx.BoxSizer(wx.VERTICAL)
        left.Add(label, wx.SizerFlags().Border(wx.BOTTOM, dip(4)))
        left.Add(self.list, wx.SizerFlags(1).Expand())
        told = [
            *(["When all of it is inserted, these findings go:", *form.cures] if form.cures else []),
            *(["Not offered:", *form.cannot] if form.cannot else []),
        ]
        if told:
            style = wx.TE_MULTILINE | wx.TE_READONLY | wx.TE_BESTWRAP
            text = wx.TextCtrl(self.dialog, value="\n".join(told), style=style, size=dip(wx.Size(300, 90)))
            left.Add(text, wx.SizerFlags(1).Expand().Border(wx.TOP, dip(8)))
        self.canvas = MapCanvas(self.dialog, palette())
        room = dip(wx.Size(460, 320))
        self.canvas.widget.SetMinSize(room)
        self.canvas.set_maps(form.maps)
        self.canvas.show_sides(self._sides())
        both = wx.BoxSizer(wx.HORIZONTAL)
        both.Add(left, wx.SizerFlags(least.width).Expand())
        both.Add(self.canvas.widget, wx.SizerFlags(room.width).Expand().Border(wx.LEFT, dip(10)))
        note = wx.StaticText(self.dialog, label="All of it is one step in the editor: one Undo takes it back.")
        buttons = self.dialog.CreateStdDialogButtonSizer(wx.OK | wx.CANCEL)
        self._ok = self.dialog.FindWindow(wx.ID_OK)
        self._ok.SetLabel("&Insert")
        self._ok.SetDefault()
        box = wx.BoxSizer(wx.VERTICAL)
        box.Add(both, wx.SizerFlags(1).Expand().Border(wx.ALL, dip(10)))
        box.Add(note, wx.SizerFlags().Border(wx.LEFT | wx.RIGHT, dip(10)))
        box.Add(buttons, wx.SizerFlags().Expand().Border(wx.ALL, dip(10)))
        self.dialog.SetSizerAndFit(box)
        self.dialog.SetMinSize(self.dialog.GetSize())
        self.dialog.SetSize(dip(wx.Size(960, 620)))
        self.dialog.CentreOnParent()
        self.list.Bind(wx.EVT_CHECKLISTBOX, lambda event: self._changed())
        self.list.Bind(wx.EVT_LISTBOX, lambda event: self._point_out(self.list.GetSelection()))
        self.list.Bind(wx.EVT_MOTION, self._on_motion)
        self._changed()

    def chosen(self) -> tuple[int, ...]:
        """Positions of the offers that are ticked."""
        return tuple(self.list.GetCheckedItems())

    def _sides(self) -> tuple[Side, ...]:
        """Both sides only where both would get something."""
        used = tuple(side_map.side for side_map in self._form.maps if side_map.ghosts)
        return used or (Side.TOP,)

    def _changed(self) -> None:
        self.canvas.show_ghosts(frozenset(self.chosen()))
        self._ok.Enable(bool(self.chosen()))

    def _on_motion(self, event: wx.MouseEvent) -> None:
        event.Skip()
        self._point_out(self.list.HitTest(event.GetPosition()))

    def _point_out(self, row: int) -> None:
        """An offer says itself in full: the list may cut it."""
        words = self._form.offers[row] if 0 <= row < len(self._form.offers) else ""
        if words != (self.list.GetToolTipText() or ""):
            self.list.SetToolTip(words)
