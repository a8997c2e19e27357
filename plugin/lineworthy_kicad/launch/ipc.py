# SPDX-License-Identifier: MIT
"""Beside the editor: a process the editor starts, that talks to it over its socket and ends with it."""

from __future__ import annotations

import logging
import logging.handlers
import os
import sys
import threading
from pathlib import Path
from typing import Any, Callable

from lineworthy_kicad.launch.single import Single
from lineworthy_kicad.launch.window import to_front

POLL_MS = 300
GONE_AFTER = 3
"""Refused connections in a row after which the editor is gone."""
LAST_SECONDS = 3.0

log = logging.getLogger("lineworthy")


def state_folder() -> Path:
    """Where this user's logs and locks lie."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "lineworthy"
    if sys.platform == "darwin":
        return home / "Library" / "Logs" / "lineworthy"
    return Path(os.environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "lineworthy"


def main() -> int:
    """Runs the dialog until it is closed or the editor is gone; the editor throws away what is printed."""
    folder = state_folder()
    _log_to(folder / "dialog.log")
    try:
        return _run(folder)
    except Exception:
        log.exception("ended by a fault")
        return 1


def _log_to(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = logging.handlers.RotatingFileHandler(path, maxBytes=200_000, backupCount=1, encoding="utf-8")
        handler.setFormatter(logging.Formatter("%(asctime)s %(process)d %(levelname)s %(message)s"))
        log.addHandler(handler)
    except OSError:  # a home nobody may write in: the review is worth more than its log
        log.addHandler(logging.NullHandler())
    log.setLevel(logging.INFO)
    sys.excepthook = lambda kind, fault, trace: log.error("fault", exc_info=(kind, fault, trace))


def _run(folder: Path) -> int:
    socket = os.environ.get("KICAD_API_SOCKET", "")
    single = Single(f"{socket} {os.environ.get('KICAD_API_TOKEN', '')}", folder / "open")
    if not single.take():
        log.info("a dialog is open for this editor: called it")
        return 0
    log.info("started for %s, Python %s", socket, sys.version.split()[0])

    import wx

    from lineworthy_kicad.dialog.app import open_dialog
    from lineworthy_kicad.hosts.host import HostError
    from lineworthy_kicad.hosts.ipc_host import IpcHost

    app = wx.App()
    app.SetAppName("lineworthy")
    try:
        window = open_dialog(IpcHost(), None)
    except HostError as refusal:
        log.error("refused: %s", refusal)
        wx.MessageBox(f"Lineworthy could not reach the editor: {refusal}", "Lineworthy", wx.OK | wx.ICON_WARNING)
        return 1
    watch = _Watch(window, single, Presence(socket, lambda: wx.CallAfter(_close, window)))
    app.MainLoop()
    watch.stop()
    single.release()
    log.info("closed")
    return 0


def _close(window: Any) -> None:
    log.info("the editor is gone")
    # a question that is open, or a reply that never comes, must not keep the process alive
    end = threading.Timer(LAST_SECONDS, os._exit, (0,))
    end.daemon = True
    end.start()
    if window:  # closed already: false
        window.Close(True)


class _Watch:
    """Looks after the calls of later processes, on the window's thread."""

    def __init__(self, window: Any, single: Single, presence: Presence) -> None:
        import wx

        self._window, self._single, self._presence = window, single, presence
        self._timer = wx.Timer()
        self._timer.Bind(wx.EVT_TIMER, self._look)
        self._timer.Start(POLL_MS)
        presence.start()

    def stop(self) -> None:
        """Ends the watch."""
        self._timer.Stop()
        self._presence.stop()

    def _look(self, _event: Any) -> None:
        if self._window and self._single.was_called():
            to_front(self._window)


class Presence:
    """Notices when an editor has gone.

    An editor that is busy still accepts a connection; one that is gone refuses it.

    Args:
        socket: the editor's, with ``ipc://``.
        gone: called once, from another thread.
    """

    def __init__(self, socket: str, gone: Callable[[], None], pause_s: float = 1.0) -> None:
        self._socket, self._gone, self._pause_s = socket, gone, pause_s
        self._stopped = threading.Event()

    def start(self) -> None:
        """Starts looking; without an address there is nothing to look at."""
        if not self._socket:
            return
        threading.Thread(target=self._look, name="lineworthy-presence", daemon=True).start()

    def stop(self) -> None:
        """Stops looking."""
        self._stopped.set()

    def _look(self) -> None:
        refused = 0
        while not self._stopped.wait(self._pause_s):
            refused = 0 if self._is_there() else refused + 1
            if refused >= GONE_AFTER:
                self._gone()
                return

    def _is_there(self) -> bool:
        import pynng

        try:
            pynng.Req0(dial=self._socket, block_on_dial=True).close()
        except pynng.exceptions.NNGException:
            return False
        return True
