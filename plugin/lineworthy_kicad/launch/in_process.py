# SPDX-License-Identifier: MIT
"""Inside the editor's process: a window beside the editor whose insertions are one undo step each.

The editor makes one undo step of everything that happens inside a plug-in's ``Run()``, and none of what happens
later. The window outlives the ``Run()`` that opened it, so each change puts itself into `_jobs` and presses the
plug-in's own menu entry: the editor calls ``Run()`` again, and that does the job.
"""

from __future__ import annotations

import contextlib
import sys
import traceback
from typing import TYPE_CHECKING, Any, Callable, Optional, TypeVar

from lineworthy_kicad.launch import libraries
from lineworthy_kicad.launch.window import to_front

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lineworthy.amend.amendment import Amendment
    from lineworthy_kicad.hosts.host import Applied, DocumentText, Host

Result = TypeVar("Result")

_jobs: list[Callable[[], None]] = []
_window: Optional[Any] = None


def run(label: str) -> None:
    """One ``Run()``: does the job that waits, or else opens the dialog, or raises the one that is open.

    Args:
        label: of the plug-in's menu entry.
    """
    try:
        if _jobs:
            _jobs.pop()()
        elif _window:  # one that was closed is false
            to_front(_window)
        else:
            _open(label)
    except Exception as fault:  # whatever happens, the editor must not see it
        traceback.print_exc(file=sys.stderr)
        _say(f"Lineworthy could not start: {type(fault).__name__}: {' '.join(str(fault).split())}")


def _open(label: str) -> None:
    global _window  # noqa: PLW0603 - one window for each editor process
    advice = libraries.advice()
    if advice:
        _say(advice, libraries.command(libraries.missing()) if libraries.missing() else "")
        return
    from lineworthy_kicad.dialog.app import open_dialog
    from lineworthy_kicad.hosts import pcbnew_window
    from lineworthy_kicad.hosts.pcbnew_host import PcbnewHost

    _window = open_dialog(SteppingHost(PcbnewHost(), label), pcbnew_window.frame())


class SteppingHost:
    """The editor's board, every change of it made inside a ``Run()`` of its own.

    Args:
        host: does the work.
        label: of the plug-in's menu entry.
    """

    def __init__(self, host: Host, label: str) -> None:
        self._host, self._label = host, label
        self.title = host.title

    @property
    def is_prompt(self) -> bool:
        """Whether the document comes sooner than a person could notice."""
        return bool(getattr(self._host, "is_prompt", False))

    def document(self) -> DocumentText:
        """The board now."""
        document = self._host.document()
        self.title = self._host.title
        return document

    def show(self, uids: Sequence[str]) -> bool:
        """Highlights items and brings them into view."""
        return self._host.show(uids)

    def leave(self) -> None:
        """Takes back what `show` changed on the screen."""
        if hasattr(self._host, "leave"):
            self._host.leave()

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Inserts all or nothing and fills the pours around it again, as one undo step."""

        def change() -> tuple[Applied, ...]:
            applied = self._host.apply(amendments, label)
            with contextlib.suppress(Exception):  # what was inserted stands; the next review tells of a stale pour
                self._host.refill()
            return applied

        return self._step(change)

    def refill(self) -> None:
        """Fills the copper pours again, as one undo step."""
        self._step(self._host.refill)

    def _step(self, change: Callable[[], Result]) -> Result:
        from lineworthy_kicad.hosts.host import HostError

        done: list[Result] = []
        failed: list[Exception] = []

        def job() -> None:
            try:
                done.append(change())
            except Exception as fault:  # carried to the caller, past the editor
                failed.append(fault)

        _jobs.append(job)
        _press(self._label)
        if job in _jobs:
            _jobs.remove(job)
            raise HostError("the editor did not take the change; finish what you are doing there and try again")
        if failed:
            raise failed[0]
        return done[0]


def _press(label: str) -> None:
    """Chooses the plug-in's own menu entry, and returns when the editor is through with it."""
    import wx

    from lineworthy_kicad.hosts import pcbnew_window

    frame, entry = pcbnew_window.frame(), pcbnew_window.menu_entry(label)
    if frame is None or entry is None:
        return
    event = wx.CommandEvent(wx.EVT_MENU.typeId, entry[1])
    event.SetEventObject(frame)
    frame.GetEventHandler().ProcessEvent(event)


def _say(text: str, command: str = "") -> None:
    """A message; a command in it can be copied."""
    import wx

    from lineworthy_kicad.hosts import pcbnew_window

    with wx.Dialog(pcbnew_window.frame(), title="Lineworthy", style=wx.DEFAULT_DIALOG_STYLE | wx.RESIZE_BORDER) as box:
        column = wx.BoxSizer(wx.VERTICAL)
        words = wx.StaticText(box, label=text.replace("&", "&&"))
        words.Wrap(box.FromDIP(760))
        column.Add(words, 0, wx.ALL | wx.EXPAND, box.FromDIP(14))
        if command:
            # broken between letters, a long path is shown with hyphens that it does not have
            style = wx.TE_MULTILINE | wx.TE_READONLY | wx.TE_WORDWRAP
            shown = wx.TextCtrl(box, value=command, style=style, size=box.FromDIP(wx.Size(760, 90)))
            column.Add(shown, 1, wx.LEFT | wx.RIGHT | wx.EXPAND, box.FromDIP(14))
            copy = wx.Button(box, label="&Copy the command")
            copy.Bind(wx.EVT_BUTTON, lambda _event: _copy(command))
            column.Add(copy, 0, wx.LEFT | wx.TOP, box.FromDIP(14))
        column.Add(box.CreateButtonSizer(wx.OK), 0, wx.ALL | wx.EXPAND, box.FromDIP(14))
        box.SetSizerAndFit(column)
        box.CentreOnParent()
        box.ShowModal()


def _copy(text: str) -> None:
    import wx

    if wx.TheClipboard.Open():
        wx.TheClipboard.SetData(wx.TextDataObject(text))
        wx.TheClipboard.Close()
