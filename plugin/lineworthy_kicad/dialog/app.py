# SPDX-License-Identifier: MIT
"""Puts host, window and presenter together; what the plug-ins' entry files call."""

from __future__ import annotations

from typing import Optional

import wx

from lineworthy_kicad.dialog import automation
from lineworthy_kicad.dialog.planner import CorePlanner
from lineworthy_kicad.dialog.presenter import Presenter
from lineworthy_kicad.dialog.settings import Store, user_store
from lineworthy_kicad.dialog.view import Window
from lineworthy_kicad.dialog.worker import in_thread
from lineworthy_kicad.hosts.host import Host


def open_dialog(
    host: Host, parent: Optional[wx.Window] = None, modal: bool = False, store: Optional[Store] = None
) -> wx.Dialog:
    """Opens the dialog over a board.

    Args:
        host: the place the board lives in.
        parent: the editor's window, when in its process.
        modal: stay in here until the person closes the dialog.
        store: where sizes and choices are remembered; the user's own file when None.

    Returns:
        The wx window, which is false once it has been closed.
    """
    store = store or user_store()
    window = Window(parent, host.title, store.load().layout)
    presenter = Presenter(host, window, store, in_thread, CorePlanner(), reviewed=automation.report)
    window.attach(presenter)
    presenter.open()
    if modal:
        window.dialog.ShowModal()
        window.dialog.Destroy()
    else:
        window.dialog.Show()
    return window.dialog
