# SPDX-License-Identifier: MIT
"""The window. Draws what it is told and says what a person does; decides nothing."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from typing import Callable, Optional

import wx
import wx.html

from lineworthy.finding import Consequence
from lineworthy.model import Side
from lineworthy_kicad.dialog import forms
from lineworthy_kicad.dialog.canvas import ZOOM_STEP, MapCanvas
from lineworthy_kicad.dialog.colours import palette, system
from lineworthy_kicad.dialog.contract import (
    Actions,
    ConcessionForm,
    ConcessionLine,
    Detail,
    Headline,
    InsertForm,
    NotRunLine,
    PlaceLine,
    ReportForm,
    Row,
    SideMap,
    View,
)
from lineworthy_kicad.dialog.detail import DetailPane
from lineworthy_kicad.dialog.lists import CONCEDED, Cells, Table
from lineworthy_kicad.dialog.settings import Layout

SIZE, SIZE_MIN = (1180, 780), (720, 480)
PLURALS = {Consequence.HOLD: "&Holds", Consequence.QUERY: "&Queries", Consequence.NOTE: "&Notes"}
SIDES = {"top": (Side.TOP,), "bottom": (Side.BOTTOM,), "both": (Side.TOP, Side.BOTTOM)}
GAUGE = 1000


class Window(View):
    """The dialog as a wx window.

    Args:
        parent: the editor's window to float above; None in a process of our own.
        title: the board's name.
        layout: sizes from the last time.
    """

    def __init__(self, parent: Optional[wx.Window], title: str, layout: Layout) -> None:
        style = wx.DEFAULT_DIALOG_STYLE | wx.RESIZE_BORDER | wx.MAXIMIZE_BOX | wx.MINIMIZE_BOX
        style |= wx.STAY_ON_TOP | wx.DIALOG_NO_PARENT if parent is None else 0
        self.dialog = wx.Dialog(parent, title=f"Lineworthy: {title}", style=style, name="Lineworthy")
        self._actions: Optional[Actions] = None
        self._is_gone = False
        self._has_review = False
        self._palette = palette()
        self._rows: tuple[Row, ...] = ()
        self._build(layout)
        self._bind()
        self._enable(False)

    def attach(self, actions: Actions) -> None:
        """Whom to tell what the person does."""
        self._actions = actions

    # -- building

    def _build(self, layout: Layout) -> None:
        dip = self.dialog.FromDIP
        self._split = wx.SplitterWindow(self.dialog, style=wx.SP_LIVE_UPDATE | wx.SP_3DSASH)
        self._right = wx.SplitterWindow(self._split, style=wx.SP_LIVE_UPDATE | wx.SP_3DSASH)
        self._book = wx.Notebook(self._split)
        self._book.AddPage(self._findings_page(), "Findings")
        self._not_run = Table(self._book, (("Check", 190), ("What is missing", 230), ("How to give it", 300)), 2)
        self._book.AddPage(self._not_run.widget, "Not run")
        columns = (("Check", 190), ("Applies", 140), ("Reason", 220), ("Name", 100), ("Date", 90), ("Revision", 70))
        self._conceded = Table(self._book, columns, 2, on_select=self._pick)
        self._book.AddPage(self._conceded.widget, "Concessions")
        top = self._map_panel()
        self._detail = DetailPane(self._right, self._go_to)
        for split, room in ((self._split, 260), (self._right, 140)):
            split.SetMinimumPaneSize(dip(room))
        width, height = (layout.width, layout.height) if layout.width and layout.height else SIZE
        sashes = layout.sashes if len(layout.sashes) == 2 and all(layout.sashes) else (width * 50 // 100, height // 2)
        self._right.SplitHorizontally(top, self._detail.widget)
        self._split.SplitVertically(self._book, self._right)
        for name, table in self._tables().items():
            table.widths = layout.columns.get(name, ())
        box = wx.BoxSizer(wx.VERTICAL)
        edge = wx.SizerFlags().Expand().Border(wx.LEFT | wx.RIGHT | wx.TOP, dip(10))
        box.Add(self._head(), edge)
        box.Add(self._split, wx.SizerFlags(1).Expand().Border(wx.LEFT | wx.RIGHT | wx.TOP, dip(10)))
        box.Add(self._foot(), wx.SizerFlags().Expand().Border(wx.ALL, dip(10)))
        self.dialog.SetSizer(box)
        self.dialog.SetMinSize(dip(wx.Size(*SIZE_MIN)))
        self.dialog.SetSize(self._on_screen(dip(wx.Size(width, height))))
        self.dialog.Layout()
        for split, sash, gravity in ((self._split, sashes[0], 0.5), (self._right, sashes[1], 0.6)):
            split.SetSashPosition(dip(sash))
            split.SetSashGravity(gravity)
        self._set_sides(layout.sides if layout.sides in SIDES else "top")
        self._detail.show(None, self._palette)

    def _on_screen(self, size: wx.Size) -> wx.Size:
        """No larger than the screen there is now."""
        number = max(0, wx.Display.GetFromWindow(self.dialog.GetParent() or self.dialog))
        room = wx.Display(number).GetClientArea().GetSize()
        return wx.Size(min(size.width, room.width), min(size.height, room.height))

    def _tables(self) -> dict[str, Table]:
        return {"findings": self._list, "not_run": self._not_run, "concessions": self._conceded}

    def _head(self) -> wx.Sizer:
        """Verdict and progress take turns on the left; sheet and Review again stay on the right."""
        dip = self.dialog.FromDIP
        self._verdict = self._line(bold=True, larger=1.3)
        self._board = self._line()
        self._caution = self._line()
        self._bar = wx.Gauge(self.dialog, range=GAUGE, size=dip(wx.Size(220, 18)))
        self._doing = self._line()
        self._cancel = wx.Button(self.dialog, label="&Cancel")
        self._progress = wx.BoxSizer(wx.HORIZONTAL)
        self._progress.Add(self._bar, wx.SizerFlags(1).CentreVertical())
        self._progress.Add(self._doing, wx.SizerFlags(2).CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(10)))
        self._progress.Add(self._cancel, wx.SizerFlags().CentreVertical())
        left = wx.BoxSizer(wx.VERTICAL)
        left.Add(self._verdict, wx.SizerFlags().Expand())
        left.Add(self._progress, wx.SizerFlags().Expand())
        left.Add(self._board, wx.SizerFlags().Expand().Border(wx.TOP, dip(2)))
        left.Add(self._caution, wx.SizerFlags().Expand().Border(wx.TOP, dip(2)))
        self._left = left
        self._sheet = wx.Choice(self.dialog)
        self._sheet.SetToolTip("The limits to review against: a built-in sheet, or your factory's own")
        self._again = wx.Button(self.dialog, label="Review &again")
        self._again.SetToolTip("Read the board as it is now and review it (F5)")
        right = wx.BoxSizer(wx.HORIZONTAL)
        label = wx.StaticText(self.dialog, label="Capability s&heet")
        right.Add(label, wx.SizerFlags().CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(8)))
        right.Add(self._sheet, wx.SizerFlags().CentreVertical())
        right.Add(self._again, wx.SizerFlags().CentreVertical().Border(wx.LEFT, dip(8)))
        head = wx.BoxSizer(wx.HORIZONTAL)
        head.Add(left, wx.SizerFlags(1).Expand())
        head.Add(right, wx.SizerFlags().Top())
        return head

    def _line(self, *, bold: bool = False, larger: float = 1.0) -> wx.StaticText:
        """One line of text that ends in dots and tells the rest in its tooltip where there is no room."""
        line = wx.StaticText(self.dialog, style=wx.ST_ELLIPSIZE_END | wx.ST_NO_AUTORESIZE)
        font = line.GetFont().Scaled(larger)
        line.SetFont(font.Bold() if bold else font)
        line.SetMinSize(wx.Size(self.dialog.FromDIP(60), -1))
        return line

    def _findings_page(self) -> wx.Window:
        page = wx.Panel(self._book)
        dip = page.FromDIP
        self._toggles = {c: wx.ToggleButton(page, label=label, style=wx.BU_EXACTFIT) for c, label in PLURALS.items()}
        self._with_conceded = wx.ToggleButton(page, label="C&onceded", style=wx.BU_EXACTFIT)
        self._area = wx.Choice(page, choices=["All areas"])
        self._area.SetSelection(0)
        self._areas: tuple[str, ...] = ()
        self._search = wx.SearchCtrl(page, style=wx.TE_PROCESS_ENTER)
        self._search.ShowCancelButton(True)
        self._search.SetDescriptiveText("Search (Ctrl+F)")
        self._search.SetMinSize(wx.Size(dip(110), -1))
        self._count = wx.StaticText(page)
        bar = wx.BoxSizer(wx.HORIZONTAL)
        for toggle in (*self._toggles.values(), self._with_conceded):
            toggle.SetValue(True)
            bar.Add(toggle, wx.SizerFlags().CentreVertical().Border(wx.RIGHT, dip(4)))
        second = wx.BoxSizer(wx.HORIZONTAL)
        second.Add(self._area, wx.SizerFlags().CentreVertical())
        second.Add(self._search, wx.SizerFlags(1).CentreVertical().Border(wx.LEFT | wx.RIGHT, dip(6)))
        second.Add(self._count, wx.SizerFlags().CentreVertical())
        columns = (("No.", 56), ("Consequence", 96), ("Finding", 360), ("Places", 56))
        self._list = Table(page, columns, 2, on_select=self._pick, on_activate=lambda: self._tell("show_on_board"))
        self._list.set_icons(self._palette)
        box = wx.BoxSizer(wx.VERTICAL)
        box.Add(bar, wx.SizerFlags().Expand().Border(wx.ALL, dip(6)))
        box.Add(second, wx.SizerFlags().Expand().Border(wx.LEFT | wx.RIGHT | wx.BOTTOM, dip(6)))
        box.Add(self._list.widget, wx.SizerFlags(1).Expand())
        page.SetSizer(box)
        return page

    def _map_panel(self) -> wx.Window:
        panel = wx.Panel(self._right)
        dip = panel.FromDIP
        self._map = MapCanvas(panel, self._palette, self._pick, self._tip)
        labels = {"top": "&Top", "bottom": "Botto&m", "both": "&Both"}
        self._side_buttons = {
            name: wx.RadioButton(panel, label=label, style=wx.RB_GROUP if name == "top" else 0)
            for name, label in labels.items()
        }
        bar = wx.BoxSizer(wx.HORIZONTAL)
        for name, button in self._side_buttons.items():
            button.Bind(wx.EVT_RADIOBUTTON, lambda event, name=name: self._map.show_sides(SIDES[name]))
            bar.Add(button, wx.SizerFlags().CentreVertical().Border(wx.RIGHT, dip(8)))
        bar.AddStretchSpacer()
        for label, tip, act in (
            ("\N{MINUS SIGN}", "Smaller (\N{MINUS SIGN} on the map)", lambda: self._map.zoom(1 / ZOOM_STEP)),
            ("+", "Larger (+ on the map)", lambda: self._map.zoom(ZOOM_STEP)),
            ("&Fit", "The whole board (0 on the map)", self._map.fit),
        ):
            button = wx.Button(panel, label=label, style=wx.BU_EXACTFIT)
            button.SetToolTip(tip)
            button.Bind(wx.EVT_BUTTON, lambda event, act=act: act())
            bar.Add(button, wx.SizerFlags().CentreVertical().Border(wx.LEFT, dip(4)))
        box = wx.BoxSizer(wx.VERTICAL)
        box.Add(bar, wx.SizerFlags().Expand().Border(wx.LEFT | wx.BOTTOM, dip(4)))
        box.Add(self._map.widget, wx.SizerFlags(1).Expand())
        panel.SetSizer(box)
        return panel

    def _foot(self) -> wx.Sizer:
        dip = self.dialog.FromDIP
        self._status = self._line()
        buttons = wx.BoxSizer(wx.HORIZONTAL)
        self._buttons: dict[str, wx.Button] = {}
        for name, label, tip in (
            ("show_on_board", "&Show on board", "Show the items of this finding in the editor (Enter)"),
            ("concede", "Conce&de...", "Record why this finding is accepted"),
            ("insert", "&Insert...", "Insert what is missing, after a preview"),
            ("write_report", "&Write report...", "Write the review to a file"),
        ):
            button = self._buttons[name] = wx.Button(self.dialog, label=label)
            button.SetToolTip(tip)
            button.Bind(wx.EVT_BUTTON, lambda event, name=name: self._tell(name))
            buttons.Add(button, wx.SizerFlags().Border(wx.RIGHT, dip(6)))
        buttons.AddStretchSpacer()
        # named by its id, so that Escape finds it
        self._close = wx.Button(self.dialog, wx.ID_CANCEL, label="C&lose")
        buttons.Add(self._close, wx.SizerFlags())
        foot = wx.BoxSizer(wx.VERTICAL)
        foot.Add(self._status, wx.SizerFlags().Expand().Border(wx.BOTTOM, dip(8)))
        foot.Add(buttons, wx.SizerFlags().Expand())
        return foot

    def _bind(self) -> None:
        self.dialog.Bind(wx.EVT_CLOSE, lambda event: self._tell("close"))
        self._close.Bind(wx.EVT_BUTTON, lambda event: self._tell("close"))
        self._cancel.Bind(wx.EVT_BUTTON, lambda event: self._tell("cancel"))
        self._again.Bind(wx.EVT_BUTTON, lambda event: self._tell("review_again"))
        self._sheet.Bind(wx.EVT_CHOICE, self._on_sheet)
        for toggle in (*self._toggles.values(), self._with_conceded):
            toggle.Bind(wx.EVT_TOGGLEBUTTON, lambda event: self._on_filter())
        self._area.Bind(wx.EVT_CHOICE, lambda event: self._on_filter())
        self._search.Bind(wx.EVT_TEXT, lambda event: self._on_filter())
        self._search.Bind(wx.EVT_SEARCHCTRL_CANCEL_BTN, lambda event: self._search.SetValue(""))
        self._search.Bind(wx.EVT_TEXT_ENTER, lambda event: self._list.widget.SetFocus())
        self.dialog.Bind(wx.EVT_SYS_COLOUR_CHANGED, self._on_colours)
        again, find = wx.NewIdRef(), wx.NewIdRef()
        self.dialog.Bind(wx.EVT_MENU, lambda event: self._tell("review_again"), id=again)
        self.dialog.Bind(wx.EVT_MENU, lambda event: self._on_find(), id=find)
        keys = [(wx.ACCEL_NORMAL, wx.WXK_F5, again), (wx.ACCEL_CTRL, ord("F"), find)]
        self.dialog.SetAcceleratorTable(wx.AcceleratorTable([wx.AcceleratorEntry(*key) for key in keys]))

    # -- what a person does

    def _tell(self, what: str) -> None:
        if self._actions is not None and not self._is_gone:
            getattr(self._actions, what)()

    def _pick(self, number: int) -> None:
        """A finding was chosen in a list or on the map."""
        if self._actions is not None:
            self.select(number)
            self._actions.select(number)

    def _on_filter(self) -> None:
        if self._actions is None or not self._has_review:
            return
        consequences = frozenset(c for c, toggle in self._toggles.items() if toggle.GetValue())
        row = self._area.GetSelection()
        area = self._areas[row - 1] if 0 < row <= len(self._areas) else ""
        self._actions.filter(consequences, self._with_conceded.GetValue(), area, self._search.GetValue())

    def _on_sheet(self, event: wx.CommandEvent) -> None:
        if self._actions is not None:
            self._actions.choose_sheet(self._sheet.GetSelection())

    def _on_find(self) -> None:
        self._book.SetSelection(0)
        self._search.SetFocus()
        self._search.SelectAll()

    def _on_colours(self, event: wx.SysColourChangedEvent) -> None:
        event.Skip()
        self._palette = palette()
        self._map.set_palette(self._palette)
        self._list.set_icons(self._palette)

    def _go_to(self, place: PlaceLine) -> None:
        self.centre([place])

    def _tip(self, number: int) -> str:
        return next((f"{row.number}: {row.text}" for row in self._rows if row.number == number), "")

    # -- the presenter's calls

    def post(self, call: Callable[[], None]) -> None:
        """Runs `call` on the main thread soon."""
        # the application may be on its way out while a thread still works
        with contextlib.suppress(AssertionError, RuntimeError):
            wx.CallAfter(self._guarded, call)

    def after_paint(self, call: Callable[[], None]) -> None:
        """Runs `call` once the window has been painted."""
        wx.CallLater(60, self._guarded, call)

    def _guarded(self, call: Callable[[], None]) -> None:
        if self._is_gone:
            return
        try:
            call()
        except Exception as error:  # an exception in here could end the editor
            self._enable(self._has_review)
            self.show_status(f"{type(error).__name__}: {error}. This is a fault of Lineworthy.", is_error=True)

    def show_progress(self, share: float, what: str) -> None:
        """The bar in place of the verdict."""
        self._set_busy(True)
        self._bar.SetValue(round(GAUGE * min(max(share, 0.0), 1.0)))
        _set(self._doing, what)

    def show_stopped(self, line: str, details: str = "") -> None:
        """The reason in place of the verdict."""
        self._set_busy(False)
        self._has_review = False
        self._enable(False)
        _set(self._verdict, line)
        self._verdict.SetForegroundColour(self._palette.tones["hold"])
        _set(self._board, "The board is as it was. F5 tries again.")
        self._again.SetLabel("Try &again")
        self._detail.show_text(details)
        self.dialog.Layout()

    def show_review(
        self, headline: Headline, not_run: Sequence[NotRunLine], concessions: Sequence[ConcessionLine]
    ) -> None:
        """Verdict, filters and the two lesser lists."""
        self._has_review = True
        self._set_busy(False)
        self._again.SetLabel("Review &again")
        _set(self._verdict, headline.verdict)
        self._verdict.SetForegroundColour(self._palette.tone(headline.tone))
        _set(self._board, f"{headline.board}: {headline.facts}")
        _set(self._caution, "  ".join(headline.cautions))
        self._caution.SetForegroundColour(self._palette.tones["hold"])
        self._left.Show(self._caution, bool(headline.cautions))
        for consequence, count in headline.counts:
            self._toggles[consequence].SetLabel(f"{PLURALS[consequence]} {count}")
        self._with_conceded.SetLabel(f"C&onceded {headline.conceded}")
        self._fill_areas(headline)
        self._not_run.fill([Cells((line.check, line.missing, line.how)) for line in not_run])
        self._conceded.fill(
            [Cells((c.check, c.applies, c.reason, c.name, c.date, c.revision), c.number) for c in concessions]
        )
        self._book.SetPageText(1, f"Not run ({len(not_run)})")
        self._book.SetPageText(2, f"Concessions ({len(concessions)})")
        self.show_status("")
        self.dialog.Layout()
        self._list.widget.GetParent().Layout()

    def _fill_areas(self, headline: Headline) -> None:
        row = self._area.GetSelection()
        chosen = self._areas[row - 1] if 0 < row <= len(self._areas) else ""
        self._areas = tuple(area.area for area in headline.areas)
        self._area.Set(["All areas", *(f"{area.title} ({area.count})" for area in headline.areas)])
        self._area.SetSelection(self._areas.index(chosen) + 1 if chosen in self._areas else 0)
        if chosen and chosen not in self._areas:
            self.post(self._on_filter)

    def show_rows(self, rows: Sequence[Row], shown: str) -> None:
        """The findings list."""
        self._rows = tuple(rows)
        self._list.fill([_cells(row) for row in rows])
        self._count.SetLabel(shown)
        self._book.SetPageText(0, f"Findings ({sum(row.number > 0 for row in rows)})")
        self._count.GetParent().Layout()

    def show_maps(self, maps: Sequence[SideMap]) -> None:
        """The map."""
        self._map.set_maps(maps)

    def select(self, number: int) -> None:
        """Marks a finding in list and map."""
        self._list.select(number)
        self._map.select(number)

    def show_detail(self, detail: Optional[Detail]) -> None:
        """The detail pane, and the buttons that need a finding."""
        self._detail.show(detail, self._palette)
        conceded = detail is not None and detail.conceded
        self._buttons["concede"].SetLabel("With&draw concession..." if conceded else "Conce&de...")
        for name in ("show_on_board", "concede"):
            self._buttons[name].Enable(detail is not None)
        self.dialog.Layout()

    def centre(self, places: Sequence[PlaceLine]) -> None:
        """Brings places into view on the map."""
        self._map.centre(places)
        name = next(name for name, sides in SIDES.items() if sides == self._map.sides)
        self._side_buttons[name].SetValue(True)

    def show_status(self, line: str, is_error: bool = False) -> None:
        """The line above the buttons."""
        _set(self._status, line)
        colour = self._palette.tones["hold"] if is_error else system(wx.SYS_COLOUR_BTNTEXT)
        self._status.SetForegroundColour(colour)
        self._status.Refresh()

    def show_sheets(self, names: Sequence[str], chosen: int) -> None:
        """The choice of sheets."""
        self._sheet.Set(list(names))
        self._sheet.SetSelection(chosen)
        self.dialog.Layout()

    def ask_sheet(self) -> Optional[str]:
        """A file dialog."""
        pattern = "Capability sheets (*.toml)|*.toml"
        style = wx.FD_OPEN | wx.FD_FILE_MUST_EXIST
        with wx.FileDialog(self.dialog, "Choose a capability sheet", wildcard=pattern, style=style) as dialog:
            return str(dialog.GetPath()) if dialog.ShowModal() == wx.ID_OK else None

    def ask_concession(self, form: ConcessionForm) -> Optional[ConcessionForm]:
        """A small window with reason and name."""
        return forms.ask_concession(self.dialog, form)

    def ask_insert(self, form: InsertForm) -> Sequence[int]:
        """A window with the offers and the map."""
        return forms.ask_insert(self.dialog, form)

    def ask_report(self, form: ReportForm) -> Optional[tuple[str, str]]:
        """A file dialog with a filter for each format."""
        names = [name for name, _ in form.formats]
        pattern = "|".join(f"{name.upper()} report (*{suffix})|*{suffix}" for name, suffix in form.formats)
        style = wx.FD_SAVE | wx.FD_OVERWRITE_PROMPT
        row = names.index(form.format)
        file = form.name + form.formats[row][1]
        with wx.FileDialog(self.dialog, "Write the report", form.folder, file, pattern, style) as dialog:
            dialog.SetFilterIndex(row)
            if dialog.ShowModal() != wx.ID_OK:
                return None
            name, suffix = form.formats[dialog.GetFilterIndex()]
            return _with_suffix(dialog.GetPath(), suffix, [ending for _, ending in form.formats]), name

    def confirm(self, question: str, yes: str) -> bool:
        """A question with the act on its button."""
        dialog = wx.MessageDialog(self.dialog, question, "Lineworthy", wx.YES_NO | wx.NO_DEFAULT | wx.ICON_QUESTION)
        dialog.SetYesNoLabels(yes, "Cancel")
        answer = bool(dialog.ShowModal() == wx.ID_YES)
        dialog.Destroy()
        return answer

    def layout(self) -> Layout:
        """Sizes as they are now."""
        to_dip = self.dialog.ToDIP
        size = self.dialog.GetSize()
        sides = next(name for name, shown in SIDES.items() if shown == self._map.sides)
        return Layout(
            width=to_dip(size.width),
            height=to_dip(size.height),
            sashes=(to_dip(self._split.GetSashPosition()), to_dip(self._right.GetSashPosition())),
            columns={name: table.widths for name, table in self._tables().items()},
            sides=sides,
        )

    def close(self) -> None:
        """Takes the window away."""
        if self._is_gone:
            return
        self._is_gone = True
        if self.dialog.IsModal():
            self.dialog.EndModal(wx.ID_CANCEL)
        else:
            self.dialog.Destroy()

    # -- helpers

    def _set_busy(self, busy: bool) -> None:
        if busy == self._left.IsShown(self._progress) and busy != self._left.IsShown(self._verdict):
            return
        self._left.Show(self._progress, busy)
        self._left.Show(self._verdict, not busy)
        self._enable(not busy and self._has_review)
        self._again.Enable(not busy)
        self._sheet.Enable(not busy)
        self.dialog.Layout()

    def _enable(self, enabled: bool) -> None:
        for button in self._buttons.values():
            button.Enable(enabled)
        self._split.Enable(enabled or self._has_review)

    def _set_sides(self, name: str) -> None:
        self._side_buttons[name].SetValue(True)
        self._map.show_sides(SIDES[name])


def _cells(row: Row) -> Cells:
    if row.consequence is None:
        return Cells(("", "", row.text, ""), is_heading=True)
    icon = CONCEDED if row.conceded else row.consequence.rank
    kind = "conceded" if row.conceded else row.consequence.value
    places = str(row.places) if row.places else ""
    return Cells((str(row.number), kind, row.text, places), row.number, icon, is_quiet=row.conceded)


def _set(line: wx.StaticText, text: str) -> None:
    """Sets a line's text as it is, and the same as its tooltip."""
    line.SetLabelText(text)
    line.SetToolTip(text)


def _with_suffix(path: str, suffix: str, known: Sequence[str]) -> str:
    """The file with the ending of its format; a person who wrote another format's ending gets it replaced."""
    if path.lower().endswith(suffix):
        return path
    stem = next((path[: -len(ending)] for ending in known if path.lower().endswith(ending)), path)
    return stem + suffix
