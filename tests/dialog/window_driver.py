# SPDX-License-Identifier: MIT
"""Runs in the editor's Python, which has wx: opens the real window in each of its states and says what it saw.

usage: window_driver.py BOARD FOLDER CAMERA SCENE...

CAMERA is a Python that has pillow.
For each scene the facts in FOLDER/SCENE.json and pictures in FOLDER/SCENE/. A scene is a generator that yields how many
milliseconds to let the window live before it goes on; modal questions are answered from within that time.
"""

from __future__ import annotations

import inspect
import json
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Callable, Optional

import wx

from lineworthy.amend import Amendment
from lineworthy_kicad.dialog import app as dialog_app
from lineworthy_kicad.dialog.contract import View
from lineworthy_kicad.dialog.settings import Store
from lineworthy_kicad.dialog.view import Window
from lineworthy_kicad.hosts.host import Applied, DocumentText, HostError

SETTLE = 400
TIP_APPEARS = 1500
Facts = dict[str, Any]


class PlainHost:
    """A board file as it is; inserts nothing, but says so."""

    def __init__(self, path: Path) -> None:
        self.path, self.title = path, path.name
        self.fault: Optional[HostError] = None
        self.shown: list[Sequence[str]] = []
        self.applied: list[Sequence[Amendment]] = []

    def document(self) -> DocumentText:
        if self.fault:
            raise self.fault
        project = self.path.with_suffix(".kicad_pro")
        text = project.read_text(encoding="utf-8") if project.exists() else None
        return DocumentText(self.path.read_text(encoding="utf-8"), self.path.name, str(self.path), text)

    def show(self, uids: Sequence[str]) -> bool:
        self.shown.append(list(uids))
        return True

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        self.applied.append(list(amendments))
        return tuple(Applied(a, f"new-{n}") for n, a in enumerate(amendments))

    def refill(self) -> None:
        raise AssertionError("not asked for")


class Act:
    """A dialog on the screen, and hands to use it."""

    def __init__(self, board: Path, folder: Path, camera: str) -> None:
        for file in (board, board.with_suffix(".kicad_pro")):
            shutil.copy(file, folder)
        self.host, self.folder, self._camera = PlainHost(folder / board.name), folder, camera
        self.store = Store(folder / "dialog.json")
        self.facts: Facts = {}
        self._made: list[Window] = []
        self._dialog: Any = None

    def open(self) -> None:
        made, start = self._made, Window.__init__

        def note(window: Window, *args: Any) -> None:
            made.append(window)
            start(window, *args)

        Window.__init__ = note  # type: ignore[method-assign,assignment]
        self._dialog = dialog_app.open_dialog(self.host, store=self.store)
        Window.__init__ = start  # type: ignore[method-assign]

    @property
    def window(self) -> Window:
        return self._made[-1]

    def until(self, question: Callable[[], bool], seconds: float = 60.0) -> Iterator[int]:
        for _ in range(int(seconds * 20)):
            if question():
                yield SETTLE
                return
            yield 50
        raise TimeoutError(inspect.getsource(question).strip())

    def reviewed(self) -> Iterator[int]:
        yield from self.until(lambda: self.window._has_review and not self.window._is_busy)

    def look(self) -> Facts:
        """What a person would see."""
        w = self.window
        head = w._head
        return {
            "title": w.dialog.GetTitle(),
            "verdict": head._verdict.GetLabelText() if head._verdict.IsShown() else "",
            "verdict_tip": head._verdict.GetToolTipText() or "",
            "doing": head._doing.GetLabelText() if head._doing.IsShown() else "",
            "gauge": head._bar.GetValue(),
            "board": head._board.GetLabelText(),
            "caution": head._caution.GetLabelText() if head._caution.IsShown() else "",
            "cancel": head.cancel.IsShown() and head.cancel.IsEnabled(),
            "again": head.again.GetLabelText(),
            "buttons": {name: button.IsEnabled() for name, button in w._buttons.items()},
            "concede": w._buttons["concede"].GetLabelText(),
            "rows": rows(w._findings.list.widget),
            "selected": w._findings.list.widget.GetFirstSelected(),
            "not_run": rows(w._not_run.widget),
            "concessions": rows(w._conceded.widget),
            "tabs": [w._book.GetPageText(n) for n in range(w._book.GetPageCount())],
            "detail": w._detail.widget.ToText(),
            "status": w._status.GetLabelText(),
            "size": list(w.dialog.GetSize()),
            "sides": [side.value for side in w._map.sides],
        }

    def press(self, name: str) -> None:
        """Presses one of the buttons at the foot, from outside the running event."""
        button = self.window._buttons[name]
        event = wx.CommandEvent(wx.EVT_BUTTON.typeId, button.GetId())
        event.SetEventObject(button)
        wx.PostEvent(button, event)

    def choose(self, number: int) -> None:
        """Chooses a finding in the list as the mouse or the arrow keys do."""
        table = self.window._findings.list
        row = next(n for n, cells in enumerate(table._rows) if cells.key == number)
        table.widget.Select(row)

    def question(self) -> Any:
        """The modal question that is open."""
        return next((w for w in wx.GetTopLevelWindows() if w is not self._dialog and w.IsShown()), None)

    def picture(self, name: str) -> None:
        # another process looks at the screen: what this one would see of it is a copy from its start
        code = "import sys; from PIL import ImageGrab; ImageGrab.grab(xdisplay=sys.argv[1]).save(sys.argv[2])"
        target = str(self.folder / f"{name}.png")
        subprocess.run([self._camera, "-c", code, os.environ["DISPLAY"], target], check=True)


def rows(widget: wx.ListCtrl) -> list[list[str]]:
    return [
        [widget.GetItemText(n, column) for column in range(widget.GetColumnCount())]
        for n in range(widget.GetItemCount())
    ]


# -- scenes


def reading(act: Act) -> Iterator[int]:
    """The first moments: a bar and Cancel, no review yet."""
    kept = dialog_app.in_thread
    dialog_app.in_thread = lambda job: None  # type: ignore[assignment]
    act.open()
    act.facts["at once"] = act.look()
    yield SETTLE
    act.window.show_progress(0.4, "Reading frost-alarm.kicad_pcb")
    yield SETTLE
    act.facts["seen"] = act.look()
    act.picture("reading")
    event = wx.CommandEvent(wx.EVT_BUTTON.typeId, act.window._head.cancel.GetId())
    wx.PostEvent(act.window._head.cancel, event)
    yield SETTLE
    act.facts["cancelled"] = act.look()
    act.picture("cancelled")
    dialog_app.in_thread = kept


def findings(act: Act) -> Iterator[int]:
    """A review, a finding chosen, shown in the editor."""
    act.open()
    yield from act.reviewed()
    act.facts["before"] = act.look()
    act.choose(4)
    yield SETTLE
    act.facts["seen"] = act.look()
    act.picture("findings")
    table = act.window._findings.list
    act.facts["tips"] = [table.cut_text_at(wx.Point(200, 20 + 23 * n)) for n in range(6)]
    act.press("show_on_board")
    yield SETTLE
    act.facts["shown"] = act.host.shown
    act.facts["after"] = act.look()


def map_both(act: Act) -> Iterator[int]:
    """Both sides, a flag clicked, zoomed."""
    act.open()
    yield from act.reviewed()
    canvas = act.window._map
    act.window._side_buttons["both"].SetValue(True)
    canvas.show_sides(tuple(canvas._faces))
    yield SETTLE
    act.picture("map_both")
    side = canvas.sides[0]
    frame, face = canvas._frame(side), canvas._faces[side]
    flag = next(f for f in face.flags(frame.scale) if f.at is not None and f.number == 11)
    x, y = frame.px(flag.at)
    at = wx.Point(face.rect.x + round(x), face.rect.y + round(y))
    act.facts["flag"] = canvas.flag_at(at)
    for kind in (wx.EVT_LEFT_DOWN, wx.EVT_LEFT_UP):
        event = wx.MouseEvent(kind.typeId)
        event.SetPosition(at)
        event.SetEventObject(canvas.widget)
        canvas.widget.ProcessEvent(event)
    yield SETTLE
    act.facts["picked"] = act.look()
    before = canvas._frame(side)
    canvas.zoom(2.0, at)
    after = canvas._frame(side)
    inside = (at.x - face.rect.x, at.y - face.rect.y)
    act.facts["zoom"] = [before.scale, after.scale, before.mm(inside), after.mm(inside)]
    yield SETTLE
    act.picture("map_zoomed")
    canvas.fit()
    act.facts["fitted"] = [canvas._frame(side).scale, before.scale]


def stopped(act: Act) -> Iterator[int]:
    """The host is gone."""
    act.host.fault = HostError("no board is open in the editor")
    act.open()
    yield from act.until(lambda: not act.window._is_busy)
    act.facts["seen"] = act.look()
    act.picture("stopped")
    act.host.fault = None
    wx.PostEvent(act.window._head.again, wx.CommandEvent(wx.EVT_BUTTON.typeId, act.window._head.again.GetId()))
    yield from act.reviewed()
    act.facts["again"] = act.look()


def concede(act: Act) -> Iterator[int]:
    """A concession asked for, given, listed."""
    act.open()
    yield from act.reviewed()
    act.choose(11)
    yield SETTLE
    act.press("concede")
    yield from act.until(lambda: act.question() is not None)
    box = act.question()
    texts = [w for w in box.GetChildren() if isinstance(w, wx.TextCtrl)]
    ok = box.FindWindow(wx.ID_OK)
    act.facts["enabled empty"] = ok.IsEnabled()
    texts[0].SetValue("Bought by the customer and sent to the factory")
    texts[1].SetValue("R. Novak")
    yield SETTLE
    act.facts["enabled filled"] = ok.IsEnabled()
    act.picture("concede")
    wx.CallAfter(box.EndModal, wx.ID_OK)
    yield SETTLE
    act.facts["seen"] = act.look()
    act.window._book.SetSelection(2)
    yield SETTLE
    act.picture("conceded")


def insert(act: Act) -> Iterator[int]:
    """What can be inserted, with its preview."""
    act.open()
    yield from act.reviewed()
    act.press("insert")
    yield from act.until(lambda: act.question() is not None)
    box = act.question()
    offers = next(w for w in box.GetChildren() if isinstance(w, wx.CheckListBox))
    act.facts["offers"] = list(offers.GetStrings())
    act.facts["ticked"] = list(offers.GetCheckedItems())
    yield SETTLE
    act.picture("insert")
    last = offers.GetCount() - 1
    inside = next(wx.Point(60, y) for y in range(0, 200, 4) if offers.HitTest(wx.Point(60, y)) == last)
    point(offers.ClientToScreen(inside + wx.Point(0, 4)))
    yield from act.until(lambda: bool(offers.GetToolTipText()))
    act.facts["tip"] = offers.GetToolTipText()
    yield TIP_APPEARS
    act.picture("insert_tip")
    wx.CallAfter(box.EndModal, wx.ID_OK)
    yield from act.until(lambda: bool(act.host.applied) and not act.window._is_busy)
    act.facts["applied"] = [a.title for a in act.host.applied[0]]
    act.facts["seen"] = act.look()


def filtered(act: Act) -> Iterator[int]:
    """Words typed into the search field, a consequence switched off, the not-run list."""
    act.open()
    yield from act.reviewed()
    page = act.window._findings
    page.search.SetValue("fid1")
    yield SETTLE
    act.facts["searched"] = act.look()
    act.picture("filtered")
    page.search.SetValue("")
    act.facts["all"] = act.look()
    toggle = next(iter(page.toggles.values()))
    toggle.SetValue(False)
    event = wx.CommandEvent(wx.EVT_TOGGLEBUTTON.typeId, toggle.GetId())
    event.SetEventObject(toggle)
    toggle.ProcessEvent(event)
    yield SETTLE
    act.facts["no holds"] = act.look()
    act.window._book.SetSelection(1)
    yield SETTLE
    act.picture("not_run")


def remembered(act: Act) -> Iterator[int]:
    """Sizes come back."""
    act.open()
    yield from act.reviewed()
    act.window.dialog.SetSize(act.window.dialog.FromDIP(wx.Size(1000, 700)))
    act.window._findings.list.widget.SetColumnWidth(1, 150)
    act.window._split.SetSashPosition(444)
    yield SETTLE
    act.facts["closed"] = [act.window.layout().width, act.window.layout().columns["findings"][1]]
    act.window.dialog.Close()
    yield SETTLE
    act.facts["is open"] = bool(act._dialog)
    act.open()
    yield SETTLE
    layout = act.window.layout()
    act.facts["opened"] = [layout.width, layout.height, layout.columns["findings"][1], layout.sashes[0]]


def keys(act: Act) -> Iterator[int]:
    """Everything by real keys: search, list, show, map, review again, close."""
    act.open()
    yield from act.reviewed()
    act.window.dialog.Raise()
    yield SETTLE
    press("ctrl+f")
    yield SETTLE
    subprocess.run(["xdotool", "type", "fid1"], check=True)
    yield SETTLE
    act.facts["searched"] = act.look()
    press("Return")
    yield SETTLE
    press("Down", "Down")
    yield SETTLE
    act.facts["chosen"] = act.look()
    press("Return")
    yield SETTLE
    act.facts["shown"] = act.host.shown
    act.window._map.widget.SetFocus()
    yield SETTLE
    before = act.window._map._frame(act.window._map.sides[0])
    press("plus", "plus", "Right")
    yield SETTLE
    after = act.window._map._frame(act.window._map.sides[0])
    act.facts["map"] = [after.scale / before.scale, after.middle[0] - before.middle[0]]
    press("0")
    yield SETTLE
    act.facts["fit"] = act.window._map._frame(act.window._map.sides[0]).scale / before.scale
    press("Tab")
    yield SETTLE
    act.facts["left the map"] = not act.window._map.widget.HasFocus()
    reads: list[None] = []
    read = act.host.document
    act.host.document = lambda: reads.append(None) or read()  # type: ignore[method-assign,func-returns-value]
    press("F5")
    yield from act.until(lambda: bool(reads) and not act.window._is_busy)
    act.facts["read again"] = len(reads)
    press("alt+i")
    yield from act.until(lambda: act.question() is not None)
    act.facts["question"] = act.question().GetTitle()
    press("Escape")
    yield from act.until(lambda: act.question() is None)
    act.facts["still open"] = bool(act._dialog)
    press("Escape")
    yield SETTLE
    act.facts["open after escape"] = bool(act._dialog)


def lost(act: Act) -> Iterator[int]:
    """The editor takes the keyboard and disables every window, as it does while it loads a board."""
    act.open()
    yield from act.reviewed()
    editor = wx.Frame(None, title="the editor")
    canvas = wx.TextCtrl(editor)
    editor.Show()
    editor.Raise()
    yield SETTLE
    canvas.SetFocus()
    act.window.dialog.Enable(False)
    yield SETTLE
    act.window.dialog.Enable(True)
    act.window.dialog.Raise()
    yield SETTLE
    act.facts["has the keyboard"] = act.window.dialog.IsDescendant(wx.Window.FindFocus())
    reads: list[None] = []
    read = act.host.document
    act.host.document = lambda: reads.append(None) or read()  # type: ignore[method-assign,func-returns-value]
    press("F5")
    yield from act.until(lambda: bool(reads) and not act.window._is_busy)
    act.facts["read again"] = len(reads)
    editor.Destroy()
    press("Escape")
    yield SETTLE


def point(at: wx.Point) -> None:
    """Moves the pointer to a place of the screen as a mouse does, in two steps: tips want to see it move."""
    for x in (at.x - 3, at.x):
        subprocess.run(["xdotool", "mousemove", "--sync", str(x), str(at.y)], check=True)


def press(*names: str) -> None:
    """Presses keys as a keyboard does."""
    subprocess.run(["xdotool", "key", "--delay", "60", *names], check=True)


SCENES: dict[str, Callable[[Act], Iterator[int]]] = {
    scene.__name__: scene
    for scene in (reading, findings, map_both, stopped, concede, insert, filtered, remembered, keys, lost)
}


def contract() -> Facts:
    """What the window promises against what it defines itself."""
    promised = [name for name, member in vars(View).items() if inspect.isfunction(member) and name[0] != "_"]
    own = vars(Window)
    return {
        "promised": promised,
        "missing": [name for name in promised if name not in own],
        "different": [
            name
            for name in promised
            if name in own and inspect.signature(own[name]) != inspect.signature(vars(View)[name])
        ],
    }


def play(act: Act, scene: Iterator[int], done: Callable[[], None]) -> None:
    """Takes the scene's steps one after the other, then closes its windows."""

    def step() -> None:
        try:
            wx.CallLater(max(1, next(scene)), step)
            return
        except StopIteration:
            pass
        except Exception:
            act.facts["fault"] = traceback.format_exc()
        box = act.question()
        if isinstance(box, wx.Dialog) and box.IsModal():
            box.EndModal(wx.ID_CANCEL)
        wx.CallLater(100, end)

    def end() -> None:
        if act._dialog:
            act._dialog.Close()
        wx.CallLater(100, done)

    step()


def main() -> None:
    board, folder, camera, *names = Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:]
    application = wx.App()
    application.SetExitOnFrameDelete(False)
    (folder / "contract.json").write_text(json.dumps(contract()), encoding="utf-8")
    acts: dict[str, Act] = {}

    def play_next() -> None:
        if len(acts) == len(names):
            application.ExitMainLoop()
            return
        name = names[len(acts)]
        (folder / name).mkdir()
        acts[name] = act = Act(board, folder / name, camera)
        play(act, SCENES[name](act), play_next)

    keeper = wx.Frame(None)  # the main loop ends where there is no window at all
    wx.CallLater(1, play_next)
    application.MainLoop()
    keeper.Destroy()
    for name, act in acts.items():
        (folder / f"{name}.json").write_text(json.dumps(act.facts), encoding="utf-8")


if __name__ == "__main__":
    main()
