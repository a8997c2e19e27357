# SPDX-License-Identifier: MIT
"""Drives the dialog in the real editor as a person does: menu, toolbar button, keys."""

from __future__ import annotations

import json
import re
import sys
import time
from pathlib import Path
from typing import Any, Optional

from editor_session import EditorSession, editor_packages

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "plugin"))
import package  # noqa: E402 - a script beside the entry files

TICK = (27, 79, 168)
"""The colour of the tick in the light icon, which nothing else on the toolbars has."""
TITLE, TOOLBARS = 20, 110
"""Where the editor's menu and toolbars begin and end, in pixels."""
F5 = "71"
"""The key itself: by its name, xdotool presses Alt as well on newer screens."""
FIRST_FINDING = (228, 243)
"""Place of the list's first finding in the dialog, under the heading of its area, in pixels."""
_FIELD_UUID = re.compile(r"^\t\t\(property .*?^\t\t\)", re.M | re.S)


def install(session: EditorSession, with_libraries: bool = True) -> Path:
    """Puts the plug-in where the editor's package manager does, from a freshly built archive."""
    archives = {path.stem.rsplit("-", 1)[1]: path for path in package.build(session.folder / "archives")}
    runtime = "ipc" if session.major >= 9 else "swig"
    plugin = package.install(archives[runtime], session.data / "3rdparty")
    if with_libraries:
        # what the command in the plug-in's own message would have made
        packages = editor_packages()
        (plugin / "libraries").mkdir()
        (plugin / "libraries" / packages.name.replace("editor-packages-", "")).symlink_to(packages)
    return plugin


def same_but_field_ids(document: str) -> str:
    """A document without the ids of footprint fields: the editor renews them whenever a plug-in's step is undone."""
    return _FIELD_UUID.sub(lambda field: re.sub(r'\(uuid "[^"]*"\)', "(uuid)", field[0]), document)


def tick_pixels(picture: Path) -> list[tuple[int, int]]:
    """Pixels of the editor's toolbars that have about the colour of the icon's tick; smoothing shifts it a little."""
    from PIL import Image

    image = Image.open(picture).convert("RGB")
    pixels = image.load()
    assert pixels is not None
    return [
        (x, y)
        for y in range(TITLE, TOOLBARS)
        for x in range(image.width)
        if all(abs(a - b) < 20 for a, b in zip(pixels[x, y], TICK))
    ]


def button(session: EditorSession, picture: Path) -> tuple[int, int]:
    """Where the plug-in's toolbar button is; (0, 0) where there is none."""
    spots = tick_pixels(session.screenshot(picture))
    if len(spots) < 20:
        return 0, 0
    return sum(x for x, _ in spots) // len(spots), sum(y for _, y in spots) // len(spots)


class Dialog:
    """The dialog in an editor that was started with `report` in ``LINEWORTHY_REPORT_TO``.

    Args:
        session: where the editor runs.
        report: file the dialog's reviews are written to.
        editor: how the title of the editor's window begins, where it is not the session's board.
    """

    def __init__(self, session: EditorSession, report: Path, editor: Optional[str] = None) -> None:
        self.session, self.report = session, report
        board = session.board.stem if editor is None else editor
        self._name = f"^\\*?{re.escape(board)}.*PCB Editor"
        self.title = f"^Lineworthy: {re.escape(board) or 'untitled board'}"

    def main_window(self) -> str:
        """The editor's window, once it has the board."""
        return self.session.wait_for_window(self._name, 60)

    def choose_menu(self) -> None:
        """Tools, External Plugins, and the third entry after the editor's own two."""
        self.session.focus(self.main_window())
        self.session.keys("Escape")
        self.session.keys("alt+t")
        time.sleep(0.5)
        self.session.keys("Up", "Right")
        time.sleep(0.5)
        self.session.keys("Down", "Down", "Return")

    def open_by_menu(self) -> dict[str, Any]:
        """Chooses the menu entry, again where an editor that is still busy let the keys fall; the first review."""
        for _attempt in range(3):
            self.choose_menu()
            end = time.monotonic() + 8
            while time.monotonic() < end:
                if self.is_open():
                    return self.next_review()
                time.sleep(0.1)
        return self.next_review()

    def click_button(self, seconds: float = 180) -> None:
        """Presses the toolbar button, once the editor shows it."""
        picture = self.session.folder / "toolbar.png"

        def find() -> tuple[int, int]:
            self.session.focus(self.main_window())  # another window may have come in front since
            at = button(self.session, picture)
            return at if at != (0, 0) else ()  # type: ignore[return-value]

        x, y = self.session.wait_for(find, "the plug-in's toolbar button", seconds, pause=1.0)
        self.session.click(x, y)

    def open_by_button(self) -> dict[str, Any]:
        """Presses the button, again where an editor that has just started let the first press fall."""
        for _attempt in range(3):
            self.click_button()
            end = time.monotonic() + 15
            while time.monotonic() < end:
                if self.is_open():
                    return self.next_review(60)
                time.sleep(0.1)
        return self.next_review(60)

    def next_review(self, seconds: float = 25) -> dict[str, Any]:
        """The review the dialog has just made."""
        self.session.wait_for(self.report.exists, "a review", seconds)
        review: dict[str, Any] = json.loads(self.report.read_text(encoding="utf-8"))
        self.report.unlink()
        return review

    def focus(self) -> str:
        """Gives the dialog the keyboard."""
        window = self.session.wait_for_window(self.title)
        self.session.focus(window)
        return window

    def minimise(self) -> None:
        """Puts it out of the way: it stays in front of everything else."""
        self.session._tool("windowminimize", self.session.windows(self.title)[0])
        self.session.wait_for(lambda: not self.is_open(), "the dialog to be minimised")

    def review_again(self) -> dict[str, Any]:
        """F5."""
        self.focus()
        time.sleep(0.7)
        self.session.keys(F5)
        return self.next_review()

    def show(self, words: str) -> None:
        """Finds the one finding with these words and shows it in the editor."""
        window = self.focus()
        self.session.keys("ctrl+f")
        self.session.keys("ctrl+a")
        self.session.type(words)
        time.sleep(1.0)
        self.session.click(*FIRST_FINDING, window=window, repeat=2)
        time.sleep(1.5)

    def insert(self) -> dict[str, Any]:
        """Inserts everything that is offered and returns the review after it."""
        self.focus()
        time.sleep(0.7)
        self.session.keys("alt+i")
        self.session.focus(self.session.wait_for_window("^Insert into the board", 60))
        time.sleep(0.5)
        self.session.keys("alt+i")
        return self.next_review()

    def is_open(self) -> bool:
        """Whether its window is there."""
        return bool(self.session.windows(self.title))

    def close(self) -> None:
        """As by the window frame."""
        self.focus()
        self.session.keys("alt+F4")
        self.session.wait_for(lambda: not self.is_open(), "the dialog to close")
