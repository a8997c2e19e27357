# SPDX-License-Identifier: MIT
"""One editor with the plug-in installed, and its dialog: what the end-to-end tests share."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from dialog_driver import Dialog

from editor_session import EditorSession
from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board

BOARD = Path("/usr/share/kicad/demos/sonde xilinx/sonde xilinx.kicad_pcb")
"""Lacks fiducials, a revision on the legend and a ground probe pad; its name has a space."""

WAYS = ["in-process", "beside"]


class Bench:
    """One editor with the plug-in installed, and its dialog."""

    def __init__(self, session: EditorSession, dialog: Dialog) -> None:
        self.session, self.dialog = session, dialog
        self.board = session.client().get_board()

    def open(self, way: str) -> dict[str, Any]:
        if way == "in-process":
            return self.dialog.open_by_menu()
        return self.dialog.open_by_button()

    def headless(self) -> dict[str, Any]:
        """The review of the saved file, by the library alone."""
        loaded: dict[str, Any] = json.loads(FORMATS["json"].render(review(read_board(self.session.board))))
        return loaded

    def undo(self) -> str:
        self.session.run_action("common.Interactive.undo")
        time.sleep(1.0)
        text: str = self.board.get_as_string()
        return text

    def status_zoom(self, picture: Path) -> bytes:
        """The zoom in the editor's status bar, as pixels."""
        from PIL import Image

        image = Image.open(self.session.screenshot(picture))
        left, right = (0, 110) if self.session.major < 10 else (150, 235)
        return image.crop((left, image.height - 24, right, image.height)).tobytes()
