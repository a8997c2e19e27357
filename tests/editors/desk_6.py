# SPDX-License-Identifier: MIT
"""A running editor of version 6 with the plug-in installed, driven by keys alone.

Version 6 has no interface to other processes: what the board is comes from the file the editor saves.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Callable

from bench import BOARD, ready
from dialog_driver import FIRST_FINDING, Dialog
from PIL import Image

from editor_session import EditorSession
from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board

ANSWERED = {"fiducials/too-few", "identity/revision-missing", "identity/part-number-missing"}
CORNER = (700, 500)
"""Where the dialog is out of the way: minimising it would take the editor's window with it."""


class Desk:
    """The editor with the plug-in installed, and its dialog."""

    def __init__(self, editor: EditorSession, dialog: Dialog) -> None:
        self.editor, self.dialog = editor, dialog

    def headless(self) -> dict[str, Any]:
        """The review of the saved file, by the library alone."""
        loaded: dict[str, Any] = json.loads(FORMATS["json"].render(review(read_board(self.editor.board))))
        return loaded

    def save(self) -> str:
        """What the editor saves now."""
        board = self.editor.board
        stamp = board.stat().st_mtime_ns

        def ask() -> None:
            self.editor.focus(self.dialog.main_window())
            self.editor.keys("ctrl+s")

        self.editor.insist(ask, lambda: board.exists() and board.stat().st_mtime_ns != stamp, "the saved file")
        # the name is there before the last byte is: wait for the last line
        self.editor.wait_for(lambda: board.read_text(encoding="utf-8").rstrip().endswith("\n)"), "all of the file")
        return board.read_text(encoding="utf-8")

    def undo(self) -> str:
        """Takes one step back; what the editor saves then."""
        before = self.save()

        def ask() -> None:
            self.editor.focus(self.dialog.main_window())
            self.editor.keys("Escape", "ctrl+z")

        def saved() -> str:
            now = self.save()
            return now if now != before else ""

        return self.editor.insist(ask, saved, "the step to be taken back")

    def put_aside(self) -> None:
        (window,) = self.editor.windows(self.dialog.title)
        self.editor._tool("windowmove", window, *map(str, CORNER))

    def search(self, words: str) -> None:
        self.dialog.focus()
        self.editor.keys("ctrl+f", "ctrl+a")
        self.editor.type(words)

    def press_first(self) -> None:
        """Shows the first finding in the list."""
        self.editor.click(*FIRST_FINDING, window=self.dialog.focus(), repeat=2)

    def canvas(self, folder: Path) -> Image.Image:
        """What is left to see of the drawing area beside the dialog, without rulers and bars."""
        with Image.open(self.editor.screenshot(folder / "screen.png")) as picture:
            return picture.convert("RGB").crop((40, 130, CORNER[0] - 20, 820))


@contextmanager
def at_desk(folder: Path, board: Path = BOARD, prepare: Callable[[EditorSession], object] = ready) -> Iterator[Desk]:
    """The editor on a board, until the block ends."""
    report = folder / "report.json"
    variables = {"LINEWORTHY_REPORT_TO": str(report)}
    with EditorSession(board, folder, prepare=prepare, variables=variables, api=False, major=6) as editor:
        dialog = Dialog(editor, report)
        dialog.main_window()  # while it loads, it looks like an editor with a new board
        yield Desk(editor, dialog)


def checks(report: dict[str, Any]) -> set[str]:
    """The checks that found something."""
    return {finding["check"] for finding in report["findings"]}
