# SPDX-License-Identifier: MIT
"""The editor's main window, seen from inside its own process.

The bindings can neither zoom nor run one of the editor's commands; its menus can.
"""

from __future__ import annotations

import re
from typing import Any, Optional

PIXELS_PER_ZOOM_AND_MM = 3.6
"""How wide a millimetre is at the editor's zoom of 1, measured on its canvas at 96 dots per inch."""

_ZOOM = re.compile(r"Z\s*(\d+(?:[.,]\d+)?)")
_STEPS_MAX = 12
_STEPS_BLIND = 4


def frame() -> Optional[Any]:
    """The board editor's window; None where there is none, as in a script without the editor."""
    try:
        import wx  # noqa: PLC0415 - the bindings alone come without a window toolkit
    except ImportError:
        return None
    if wx.GetApp() is None:
        return None
    return next((window for window in wx.GetTopLevelWindows() if window.GetName() == "PcbFrame"), None)


def menu_entry(label: str) -> Optional[tuple[Any, int]]:
    """The menu that owns an entry, and the entry's id; the label is English, the menus may be translated."""
    window = frame()
    bar = window.GetMenuBar() if window is not None else None
    if bar is None:
        return None
    import wx  # noqa: PLC0415 - there is a window, so there is wx

    labels = {label, wx.GetTranslation(label)}
    found = (_entry_in(bar.GetMenu(index), labels) for index in range(bar.GetMenuCount()))
    return next((entry for entry in found if entry is not None), None)


def run_command(label: str) -> bool:
    """Runs one of the editor's own menu commands now; False when it has none of that name."""
    entry = menu_entry(label)
    if entry is None:
        return False
    import wx  # noqa: PLC0415 - there is a menu, so there is wx

    menu, number = entry
    # posted to the window it would do nothing: the editor's commands listen at their own menu
    return bool(menu.ProcessEvent(wx.CommandEvent(wx.EVT_MENU.typeId, number)))


def zoom_in(view_mm: float) -> None:
    """Zooms in until the canvas shows about `view_mm` across; never zooms out, does nothing without a window."""
    for step in range(_STEPS_MAX):
        zoom = _zoom()
        enough = step >= _STEPS_BLIND if zoom is None else zoom >= _wanted_zoom(view_mm)
        if enough or not run_command("Zoom In"):
            return


def _wanted_zoom(view_mm: float) -> float:
    window = frame()
    width = window.GetClientSize().width if window is not None else 1000
    return width / view_mm / PIXELS_PER_ZOOM_AND_MM


def _zoom() -> Optional[float]:
    """The zoom as the status bar says it; None when it does not."""
    window = frame()
    bar = window.GetStatusBar() if window is not None and hasattr(window, "GetStatusBar") else None
    if bar is None:
        return None
    said = (_ZOOM.match(bar.GetStatusText(index)) for index in range(bar.GetFieldsCount()))
    return next((float(match[1].replace(",", ".")) for match in said if match), None)


def _entry_in(menu: Any, labels: set[str]) -> Optional[tuple[Any, int]]:
    for item in menu.GetMenuItems():
        if item.IsSubMenu():
            entry = _entry_in(item.GetSubMenu(), labels)
            if entry is not None:
                return entry
        elif item.GetItemLabelText() in labels:
            return menu, item.GetId()
    return None
