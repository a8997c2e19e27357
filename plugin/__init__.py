# SPDX-License-Identifier: MIT
"""What the board editor's in-process host loads when it starts: a menu entry and a button, nothing heavy.

The editor imports this folder under its own name. Only a press of the button puts the folder on the module path and
imports the rest; outside the editor, and in versions whose bindings were never tried, nothing is registered.
"""

from __future__ import annotations

import json
import os
import sys

FOLDER = os.path.dirname(os.path.abspath(__file__))
VERSIONS = range(6, 11)  # the in-process bindings end with version 10


def _editor():  # type: ignore[no-untyped-def]
    """The bindings, when this runs inside an editor whose version was tried; else None."""
    try:
        import pcbnew
        import wx

        major = int(str(pcbnew.GetMajorMinorVersion()).split(".")[0])
    except (ImportError, AttributeError, ValueError):
        return None
    return pcbnew if wx.GetApp() is not None and major in VERSIONS else None


def _has_ipc_button(pcbnew, major: int) -> bool:  # type: ignore[no-untyped-def]
    """Whether the editor shows the other plug-in's button: from version 9, where its server is switched on."""
    if major < 9 or not os.path.isfile(os.path.join(FOLDER, "plugin.json")):
        return False
    try:
        folder = pcbnew.SETTINGS_MANAGER.GetUserSettingsPath()
        with open(os.path.join(folder, "kicad_common.json"), encoding="utf-8") as file:
            return json.load(file)["api"]["enable_server"] is True
    except (AttributeError, OSError, ValueError, KeyError, TypeError):
        return False


def _register(pcbnew) -> None:  # type: ignore[no-untyped-def]
    major = int(str(pcbnew.GetMajorMinorVersion()).split(".")[0])

    class ReviewAction(pcbnew.ActionPlugin):  # type: ignore[misc]
        """The menu entry. It stays where the inter-process button is shown, so that there is always a way in."""

        def defaults(self) -> None:
            self.name = "Lineworthy review"
            self.category = "Review"
            self.description = "Review this board for production release"
            self.show_toolbar_button = not _has_ipc_button(pcbnew, major)
            self.icon_file_name = os.path.join(FOLDER, "icons", "review-light-24.png")
            self.dark_icon_file_name = os.path.join(FOLDER, "icons", "review-dark-24.png")

        def Run(self) -> None:  # noqa: N802 - the editor's name for it
            if FOLDER not in sys.path:
                sys.path.insert(0, FOLDER)
            from lineworthy_kicad.launch import in_process

            in_process.run(self.name)

    ReviewAction().register()


if (_bindings := _editor()) is not None:
    _register(_bindings)
