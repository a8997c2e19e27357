# SPDX-License-Identifier: MIT
"""The window. Draws what it is told and says what a person does; decides nothing."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from typing import Any, Callable, Optional

import wx
import wx.html

from lineworthy.model import Side
from lineworthy.safe import visible
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
from lineworthy_kicad.dialog.findings import FindingsPage
from lineworthy_kicad.dialog.head import Head, line, say
from lineworthy_kicad.dialog.lists import Cells, Table
from lineworthy_kicad.dialog.settings import Layout

SIZE, SIZE_MIN = (1180, 780), (720, 480)
SIDES = {"top": (Side.TOP,), "bottom": (Side.BOTTOM,), "both": (Side.TOP, Side.BOTTOM)}


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
        self._is_busy = True
        self._focus: Optional[wx.Window] = None
        self._palette = palette()
        self._rows: tuple[Row, ...] = ()
        self._build(layout)
        self._bind()
        self._enable(False)
        self._head.cancel.SetFocus()

    def attach(self, actions: Actions) -> None:
        """Whom to tell what the person does."""
        self._actions = actions

    # -- building

    def _build(self, layout: Layout) -> None:
        dip = self.dialog.FromDIP
        self._head = Head(self.dialog)
        self._split = wx.SplitterWindow(self.dialog, style=wx.SP_LIVE_UPDATE | wx.SP_3DSASH)
        self._right = wx.SplitterWindow(self._split, style=wx.SP_LIVE_UPDATE | wx.SP_3DSASH)
        self._lists(layout)
        map_panel = self._map_panel()
        self._detail = DetailPane(self._right, self._go_to)
        self._right.SplitHorizontally(map_panel, self._detail.widget)
        self._split.SplitVertically(self._book, self._right)
        box = wx.BoxSizer(wx.VERTICAL)
        edge = wx.SizerFlags().Expand().Border(wx.LEFT | wx.RIGHT | wx.TOP, dip(10))
        box.Add(self._head.sizer, edge)
        box.Add(self._split, edge.Proportion(1))
        box.Add(self._foot(), wx.SizerFlags().Expand().Border(wx.ALL, dip(10)))
        self.dialog.SetSizer(box)
        width, height = (layout.width, layout.height) if layout.width and layout.height else SIZE
        self.dialog.SetMinSize(self._on_screen(dip(wx.Size(*SIZE_MIN))))
        self.dialog.SetSize(self._on_screen(dip(wx.Size(width, height))))
        self.dialog.Layout()
        self.dialog.Centre()
        sashes = layout.sashes if len(layout.sashes) == 2 and all(layout.sashes) else (width // 2, height // 2)
        self._place_sashes(sashes)
        wx.CallAfter(self._guarded, lambda: self._place_sashes(sashes))  # the screen may have changed the size
        self._set_sides(layout.sides if layout.sides in SIDES else "top")
        self._detail.show(None, self._palette)

    def _place_sashes(self, sashes: Sequence[int]) -> None:
        dip = self.dialog.FromDIP
        for split, least, sash, gravity in ((self._split, 260, sashes[0], 0.5), (self._right, 140, sashes[1], 0.6)):
            split.SetMinimumPaneSize(dip(least))
            split.SetSashPosition(dip(sash))
            split.SetSashGravity(gravity)

    def _lists(self, layout: Layout) -> None:
        self._book = wx.Notebook(self._split)
        self._findings = FindingsPage(
            self._book,
            on_filter=self._on_filter,
            on_select=self._pick,
            on_activate=lambda: self._tell("show_on_board"),
        )
        self._findings.set_palette(self._palette)
        self._not_run = Table(self._book, (("Check", 190), ("What is missing", 230), ("How to give it", 300)), 2)
        columns = (("Check", 190), ("Applies", 140), ("Reason", 220), ("Name", 100), ("Date", 90), ("Revision", 70))
        self._conceded = Table(self._book, columns, 2, on_select=self._pick)
        for page, title in (
            (self._findings.page, "Findings"),
            (self._not_run.widget, "Not run"),
            (self._conceded.widget, "Concessions"),
        ):
            self._book.AddPage(page, title)
        for name, table in self._tables().items():
            table.widths = layout.columns.get(name, ())

    def _on_screen(self, size: wx.Size) -> wx.Size:
        """No larger than the screen there is now."""
        number = max(0, wx.Display.GetFromWindow(self.dialog.GetParent() or self.dialog))
        room = wx.Display(number).GetClientArea().GetSize()
        return wx.Size(min(size.width, room.width), min(size.height, room.height))

    def _tables(self) -> dict[str, Table]:
        return {"findings": self._findings.list, "not_run": self._not_run, "concessions": self._conceded}

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
            button.SetMinSize(wx.Size(dip(38), -1))
            button.SetToolTip(tip)
            button.Bind(wx.EVT_BUTTON, lambda event, act=act: act())
            bar.Add(button, wx.SizerFlags().CentreVertical().Border(wx.LEFT, dip(4)))
        box = wx.BoxSizer(wx.VERTICAL)
        box.Add(bar, wx.SizerFlags().Expand().Border(wx.LEFT | wx.RIGHT | wx.BOTTOM, dip(4)))
        box.Add(self._map.widget, wx.SizerFlags(1).Expand())
        panel.SetSizer(box)
        return panel

    def _foot(self) -> wx.Sizer:
        dip = self.dialog.FromDIP
        self._status = line(self.dialog)
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
        self.dialog.Bind(wx.EVT_CHILD_FOCUS, self._on_child_focus)
        self.dialog.Bind(wx.EVT_ACTIVATE, self._on_activate)
        self._close.Bind(wx.EVT_BUTTON, lambda event: self._tell("close"))
        self._head.cancel.Bind(wx.EVT_BUTTON, lambda event: self._tell("cancel"))
        self._head.again.Bind(wx.EVT_BUTTON, lambda event: self._tell("review_again"))
        self._head.sheet.Bind(wx.EVT_CHOICE, self._on_sheet)
        self.dialog.Bind(wx.EVT_SYS_COLOUR_CHANGED, self._on_colours)
        again, find = wx.NewIdRef(), wx.NewIdRef()
        self.dialog.Bind(wx.EVT_MENU, lambda event: self._tell("review_again"), id=again)
        self.dialog.Bind(wx.EVT_MENU, lambda event: self._on_find(), id=find)
        keys = [(wx.ACCEL_NORMAL, wx.WXK_F5, again), (wx.ACCEL_CTRL, ord("F"), find)]
        self.dialog.SetAcceleratorTable(wx.AcceleratorTable([wx.AcceleratorEntry(*key) for key in keys]))

    # -- what a person does

    def _tell(self, what: str, *told: Any) -> None:
        if self._actions is not None:
            self._guarded(lambda: getattr(self._actions, what)(*told))

    def _pick(self, number: int) -> None:
        """A finding was chosen in a list or on the map."""
        self.select(number)
        self._tell("select", number)

    def _on_filter(self) -> None:
        if self._has_review:
            self._tell("filter", *self._findings.choice)

    def _on_sheet(self, event: wx.CommandEvent) -> None:
        self._tell("choose_sheet", self._head.sheet.GetSelection())

    def _on_find(self) -> None:
        self._book.SetSelection(0)
        self._findings.find()

    def _on_child_focus(self, event: wx.ChildFocusEvent) -> None:
        event.Skip()
        if not self._is_busy:
            self._focus = event.GetWindow()

    def _on_activate(self, event: wx.ActivateEvent) -> None:
        """The editor disables every window while it loads a board or asks something; what had the focus loses it."""
        event.Skip()
        if event.GetActive():
            self._guarded(lambda: self._keep_focus(self._is_busy))

    def _on_colours(self, event: wx.SysColourChangedEvent) -> None:
        event.Skip()
        self._palette = palette()
        self._map.set_palette(self._palette)
        self._findings.set_palette(self._palette)

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
        """Runs `call` once the window has been painted, however long the editor is busy with its own."""
        self._map.after_paint(lambda: self._guarded(call))

    def _guarded(self, call: Callable[[], None]) -> None:
        if self._is_gone:
            return
        try:
            call()
        except Exception as error:  # an exception in here could end the editor
            self._set_busy(False)
            self._enable(self._has_review)
            self.show_status(visible(f"{type(error).__name__}: {error}. This is a fault of Lineworthy."), is_error=True)

    def show_progress(self, share: float, what: str) -> None:
        """The bar in place of the verdict."""
        self._set_busy(True)
        self._head.show_progress(share, what)

    def show_stopped(self, line: str, details: str = "") -> None:
        """The reason in place of the verdict."""
        self._has_review = False
        self._set_busy(False)
        self._enable(False)
        self._head.show_stopped(line, self._palette)
        self._detail.show_text(details)
        self._split.Enable(bool(details))
        self.dialog.Layout()

    def show_review(
        self, headline: Headline, not_run: Sequence[NotRunLine], concessions: Sequence[ConcessionLine]
    ) -> None:
        """Verdict, filters and the two lesser lists."""
        self._has_review = True
        self._set_busy(False)
        self.dialog.SetTitle(f"Lineworthy: {headline.title}")  # another board may be open by now
        self._head.show(headline, self._palette)
        if self._findings.show_counts(headline):
            self.post(self._on_filter)
        self._not_run.fill([Cells((line.check, line.missing, line.how)) for line in not_run])
        self._conceded.fill(
            [Cells((c.check, c.applies, c.reason, c.name, c.date, c.revision), c.number) for c in concessions]
        )
        self._book.SetPageText(1, f"Not run ({len(not_run)})")
        self._book.SetPageText(2, f"Concessions ({len(concessions)})")
        self.show_status("")
        self.dialog.Layout()

    def show_rows(self, rows: Sequence[Row], shown: str) -> None:
        """The findings list."""
        self._rows = tuple(rows)
        self._findings.show_rows(rows, shown)
        self._book.SetPageText(0, f"Findings ({sum(row.number > 0 for row in rows)})")

    def show_maps(self, maps: Sequence[SideMap]) -> None:
        """The map."""
        self._map.set_maps(maps)

    def select(self, number: int) -> None:
        """Marks a finding in list and map."""
        self._findings.list.select(number)
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
        say(self._status, line)
        colour = self._palette.tones["hold"] if is_error else system(wx.SYS_COLOUR_BTNTEXT)
        self._status.SetForegroundColour(colour)
        self._status.Refresh()

    def show_sheets(self, names: Sequence[str], chosen: int) -> None:
        """The choice of sheets."""
        self._head.show_sheets(names, chosen)
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
            chosen = dialog.GetPath()
        path = _with_suffix(chosen, suffix, [ending for _, ending in form.formats])
        # the person was asked about the name as it was typed
        question = f"{os.path.basename(path)} is there already."
        if path != chosen and os.path.exists(path) and not self.confirm(visible(question), "Replace"):
            return None
        return path, name

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
        if busy == self._is_busy:
            return
        last = self._focus
        self._is_busy = busy
        self._head.set_busy(busy)
        self._enable(not busy and self._has_review)
        self.dialog.Layout()
        self._focus = last  # whatever took the focus from a button that was hidden
        self._keep_focus(busy)

    def _keep_focus(self, busy: bool) -> None:
        """Keys reach a window only while something in it has the focus, and a disabled control loses it."""
        if busy:
            self._head.cancel.SetFocus()
        elif self._focus and self._focus.IsEnabled() and self._focus.IsShownOnScreen():
            self._focus.SetFocus()
        elif self._has_review:
            self._findings.list.widget.SetFocus()
        else:
            self._head.again.SetFocus()

    def _enable(self, enabled: bool) -> None:
        for button in self._buttons.values():
            button.Enable(enabled)
        self._split.Enable(enabled or self._has_review)

    def _set_sides(self, name: str) -> None:
        self._side_buttons[name].SetValue(True)
        self._map.show_sides(SIDES[name])


def _with_suffix(path: str, suffix: str, known: Sequence[str]) -> str:
    """The file with the ending of its format; a person who wrote another format's ending gets it replaced."""
    if path.lower().endswith(suffix):
        return path
    stem = next((path[: -len(ending)] for ending in known if path.lower().endswith(ending)), path)
    return stem + suffix
