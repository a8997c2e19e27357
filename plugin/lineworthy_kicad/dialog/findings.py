# SPDX-License-Identifier: MIT
"""The findings page: filters, search, and the list by area."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Callable, NamedTuple

import wx

from lineworthy.finding import Consequence
from lineworthy_kicad.dialog.colours import Palette
from lineworthy_kicad.dialog.contract import Headline, Row
from lineworthy_kicad.dialog.lists import CONCEDED, Cells, Table

PLURALS = {Consequence.HOLD: "&Holds", Consequence.QUERY: "&Queries", Consequence.NOTE: "&Notes"}


class Choice(NamedTuple):
    """The filters as they are set; `area` empty stands for all."""

    consequences: frozenset[Consequence]
    conceded: bool
    area: str
    words: str


class FindingsPage:
    """The page.

    Args:
        book: the notebook it becomes a page of.
        on_filter: called whenever a filter was changed.
        on_select: called with the number of the finding that was chosen.
        on_activate: called on Enter and double click.
    """

    def __init__(
        self,
        book: wx.Window,
        *,
        on_filter: Callable[[], None],
        on_select: Callable[[int], None],
        on_activate: Callable[[], None],
    ) -> None:
        self.page = wx.Panel(book)
        self._areas: tuple[str, ...] = ()
        self._on_filter = on_filter
        columns = (("No.", 56), ("Consequence", 104), ("Finding", 360), ("Places", 60))
        box = wx.BoxSizer(wx.VERTICAL)
        dip = self.page.FromDIP
        box.Add(self._consequences(), wx.SizerFlags().Expand().Border(wx.ALL, dip(6)))
        box.Add(self._area_and_search(), wx.SizerFlags().Expand().Border(wx.LEFT | wx.RIGHT | wx.BOTTOM, dip(6)))
        self.list = Table(self.page, columns, 2, on_select=on_select, on_activate=on_activate)
        box.Add(self.list.widget, wx.SizerFlags(1).Expand())
        self.page.SetSizer(box)

    def _consequences(self) -> wx.Sizer:
        self.toggles = {c: self._toggle(label) for c, label in PLURALS.items()}
        self.conceded = self._toggle("C&onceded")
        bar = wx.BoxSizer(wx.HORIZONTAL)
        for toggle in (*self.toggles.values(), self.conceded):
            bar.Add(toggle, wx.SizerFlags().CentreVertical().Border(wx.RIGHT, self.page.FromDIP(4)))
        return bar

    def _toggle(self, label: str) -> wx.ToggleButton:
        toggle = wx.ToggleButton(self.page, label=label, style=wx.BU_EXACTFIT)
        toggle.SetValue(True)
        toggle.Bind(wx.EVT_TOGGLEBUTTON, lambda event: self._on_filter())
        return toggle

    def _area_and_search(self) -> wx.Sizer:
        dip = self.page.FromDIP
        self.area = wx.Choice(self.page, choices=["All areas"])
        self.area.SetSelection(0)
        self.area.Bind(wx.EVT_CHOICE, lambda event: self._on_filter())
        self.search = wx.SearchCtrl(self.page, style=wx.TE_PROCESS_ENTER)
        self.search.ShowCancelButton(True)
        self.search.SetDescriptiveText("Search (Ctrl+F)")
        self.search.SetMinSize(wx.Size(dip(110), -1))
        self.search.Bind(wx.EVT_TEXT, lambda event: self._on_filter())
        self.search.Bind(wx.EVT_SEARCHCTRL_CANCEL_BTN, lambda event: self.search.SetValue(""))
        self.search.Bind(wx.EVT_TEXT_ENTER, lambda event: self.list.widget.SetFocus())
        self._count = wx.StaticText(self.page)
        bar = wx.BoxSizer(wx.HORIZONTAL)
        bar.Add(self.area, wx.SizerFlags().CentreVertical())
        bar.Add(self.search, wx.SizerFlags(1).CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(6)))
        bar.Add(self._count, wx.SizerFlags().CentreVertical())
        return bar

    @property
    def choice(self) -> Choice:
        """The filters as they are set."""
        consequences = frozenset(c for c, toggle in self.toggles.items() if toggle.GetValue())
        row = self.area.GetSelection()
        area = self._areas[row - 1] if 0 < row <= len(self._areas) else ""
        return Choice(consequences, self.conceded.GetValue(), area, self.search.GetValue())

    def set_palette(self, palette: Palette) -> None:
        """Draws the marks in these colours."""
        self.list.set_icons(palette)

    def show_counts(self, headline: Headline) -> bool:
        """The numbers on the filters; True when the area chosen is no longer there and all are shown instead."""
        for consequence, count in headline.counts:
            self.toggles[consequence].SetLabel(f"{PLURALS[consequence]} {count}")
        self.conceded.SetLabel(f"C&onceded {headline.conceded}")
        chosen = self.choice.area
        self._areas = tuple(area.area for area in headline.areas)
        self.area.Set(["All areas", *(f"{area.title} ({area.count})" for area in headline.areas)])
        self.area.SetSelection(self._areas.index(chosen) + 1 if chosen in self._areas else 0)
        self.page.Layout()
        return bool(chosen) and chosen not in self._areas

    def show_rows(self, rows: Sequence[Row], shown: str) -> None:
        """The list."""
        self.list.fill([_cells(row) for row in rows])
        self._count.SetLabel(shown)
        self.page.Layout()

    def find(self) -> None:
        """Goes to the search field."""
        self.search.SetFocus()
        self.search.SelectAll()


def _cells(row: Row) -> Cells:
    if row.consequence is None:
        return Cells(("", "", row.text, ""), is_heading=True)
    icon = CONCEDED if row.conceded else row.consequence.rank
    kind = "conceded" if row.conceded else row.consequence.value
    places = str(row.places) if row.places else ""
    return Cells((str(row.number), kind, row.text, places), row.number, icon, is_quiet=row.conceded)
