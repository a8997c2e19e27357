# SPDX-License-Identifier: MIT
"""Serves an in-process host to a test in another process; runs in the editor's own Python.

As a script it loads a board and answers on standard output, a line of JSON for each line of JSON it reads. Inside the
editor (`install`) it is an action plug-in that takes its requests from a folder: each one is served in a ``Run()`` of
its own, as if the plug-in was clicked.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
import traceback
from pathlib import Path
from typing import Any

LABEL = "Host under test"


def answer(host: Any, request: dict[str, Any]) -> dict[str, Any]:
    """Serves one request; every way in which that can end is an answer."""
    from lineworthy_kicad.hosts.host import HostError

    try:
        return {"result": _served(host, request)}
    except HostError as refused:
        return {"refused": str(refused)}
    except Exception:
        return {"crashed": traceback.format_exc()}


def _served(host: Any, request: dict[str, Any]) -> Any:
    call = request["call"]
    if call == "title":
        return host.title
    if call == "document":
        document = host.document()
        return [document.text, document.name, document.path, document.project]
    if call == "show":
        return host.show(request["uids"])
    if call == "apply":
        made = host.apply([_amendment(each) for each in request["amendments"]], request["label"])
        return [each.uid for each in made]
    assert call == "refill", call
    return host.refill()


def _amendment(packed: dict[str, Any]) -> Any:
    from lineworthy.amend import amendment as kinds
    from lineworthy.model import Side

    values = dict(packed)
    kind = getattr(kinds, values.pop("kind"))
    values["at"] = tuple(values["at"])
    if "side" in values:
        values["side"] = Side(values["side"])
    return kind(**values)


def serve_lines(board: str) -> None:
    """Serves the board until the input ends."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # the bindings chat on standard output
    import pcbnew

    from lineworthy_kicad.hosts.pcbnew_host import PcbnewHost

    host = PcbnewHost(pcbnew.LoadBoard(board))
    for line in sys.stdin:
        out.write(json.dumps(answer(host, json.loads(line))) + "\n")
        out.flush()


def install(folder: Path) -> None:
    """Registers the plug-in; it serves ``request.json`` of a folder into ``answer.json``."""
    import pcbnew

    def serve_one() -> None:
        from lineworthy_kicad.hosts.pcbnew_host import PcbnewHost

        request = folder / "taken.json"
        if not request.exists():
            return
        replied = answer(PcbnewHost(), json.loads(request.read_text(encoding="utf-8")))
        request.unlink()
        made = folder / "answer.part"
        made.write_text(json.dumps(replied), encoding="utf-8")
        made.rename(folder / "answer.json")

    class HostUnderTest(pcbnew.ActionPlugin):  # type: ignore[misc]
        def defaults(self) -> None:
            self.name, self.category, self.description = LABEL, "Tests", "Serves requests of the contract tests"
            self.show_toolbar_button = False

        def Run(self) -> None:  # noqa: N802
            serve_one()

    HostUnderTest().register()
    threading.Thread(target=_watch, args=(folder,), daemon=True).start()


def _watch(folder: Path) -> None:
    """Clicks the plug-in whenever there is a request."""
    import wx

    while True:
        time.sleep(0.02)
        try:
            (folder / "request.json").rename(folder / "taken.json")
        except FileNotFoundError:
            continue
        wx.CallAfter(_click)


def _click() -> None:
    import wx

    from lineworthy_kicad.hosts import pcbnew_window

    window, entry = pcbnew_window.frame(), pcbnew_window.menu_entry(LABEL)
    event = wx.CommandEvent(wx.EVT_MENU.typeId, entry[1])
    event.SetEventObject(window)
    wx.PostEvent(window, event)


if __name__ == "__main__":
    serve_lines(sys.argv[1])
