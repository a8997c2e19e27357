# SPDX-License-Identifier: MIT
"""Drives the dialog in the real editor as a person does: menu, toolbar button, keys."""

from __future__ import annotations

import contextlib
import json
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any, Callable, Optional, TypeVar

from editor_session import EditorError, EditorSession, editor_packages, wait_for

T = TypeVar("T")

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "plugin"))
import package  # noqa: E402 - a script beside the entry files

TICK = (27, 79, 168)
"""The colour of the tick in the light icon, which nothing else on the toolbars has."""
TITLE, TOOLBARS = 20, 110
"""Where the editor's menu and toolbars begin and end, in pixels."""
ENTRIES_PIXELS = 70
"""Height of a menu with three entries."""
F5 = "71"
"""The key itself: by its name, xdotool presses Alt as well on newer screens."""
FIRST_FINDING = (228, 243)
"""Place of the list's first finding in the dialog, under the heading of its area, in pixels."""
OPENING_SECONDS, REVIEW_SECONDS, ENVIRONMENT_SECONDS = 60.0, 120.0, 600.0
"""How long opening, reviewing and the editor's making of an environment may take: a busy machine is no failure."""
READ_CLIPBOARD = (
    "import wx; app = wx.App(); text = wx.TextDataObject(); wx.TheClipboard.Open(); "
    "wx.TheClipboard.GetData(text); print(text.GetText())"
)
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


def run_command(words: list[str]) -> None:
    """Runs the command of the message; with the pip of these tests, where the editor's Python has none."""
    assert words[1:4] == ["-m", "pip", "install"], words
    pip = [sys.executable, "-m", "pip", "--python", words[0], "--quiet"]
    subprocess.run([*pip, *words[3:]], check=True)


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


def button(session: EditorSession, picture: Path) -> Optional[tuple[int, int]]:
    """Where the plug-in's toolbar button is; None where there is none."""
    spots = tick_pixels(session.screenshot(picture))
    if len(spots) < 20:
        return None
    return sum(x for x, _ in spots) // len(spots), sum(y for _, y in spots) // len(spots)


def processes(session: EditorSession) -> set[int]:
    """Processes that run this session's plug-in."""
    entry = str(session.data / "3rdparty" / "plugins" / "org_lineworthy_review" / "ipc_entry.py")
    found = set()
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                if entry in (folder / "cmdline").read_text():
                    found.add(int(folder.name))
            except OSError:
                continue
    return found


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
        # a new board has no name, and every editor's title ends in the program's
        self._name = f"^\\*?{re.escape(board)}.*PCB Editor" if board else "^\\*?PCB Editor$"
        self.title = f"^Lineworthy: {re.escape(board) or 'untitled board'}"

    def main_window(self) -> str:
        """The editor's window, once it has the board."""
        return self.session.wait_for_window(self._name, self.session.start_seconds)

    # ---- opening

    def choose_menu(self) -> None:
        """Tools, External Plugins, and the third entry after the editor's own two.

        Each key is pressed when the menu that the one before opens is seen; a menu that does not open is begun again.
        """

        def open_both() -> None:
            with contextlib.suppress(EditorError):
                self.open_menu("alt+t")
                self.session.keys("Up", "Right")

        def has_entry() -> bool:
            """An editor that has just started fills the menu in the menu a little later."""
            opened = self._menus()
            if len(opened) < 2:
                return False
            _, top, _, bottom = self.session.place(opened[-1])
            return bottom - top >= ENTRIES_PIXELS

        self.session.insist(open_both, has_entry, "the plug-in's entry in the menu in the menu", 10)
        self.session.keys("Down", "Down", "Return")
        self.session.wait_for(lambda: not self._menus(), "the menus to close")

    def open_menu(self, key: str) -> None:
        """Opens one of the editor's menus, with no other in the way.

        Raises:
            EditorError: it does not open.
        """
        self.session.focus(self.main_window())
        self.session.insist(self._close_menus, lambda: not self._menus(), "the menus to close")
        self.session.keys(key)
        wait_for(self._menus, "the menu", 10)

    def _menus(self) -> list[str]:
        """The menus that are open: windows with the program's name."""
        return self.session.windows("^pcbnew$")

    def _close_menus(self) -> None:
        """Escape closes one menu at a time; where none is open, it ends what the editor is at."""
        self.session.keys(*["Escape"] * max(1, len(self._menus())))

    def open_by_menu(self) -> dict[str, Any]:
        """Chooses the menu entry; the first review."""
        self.session.insist(self.choose_menu, self.is_open, "the dialog", OPENING_SECONDS)
        return self.next_review()

    def find_button(self) -> tuple[int, int]:
        """Where the toolbar button is, once the editor shows it in front of other windows."""
        picture = self.session.folder / "toolbar.png"

        def find() -> Optional[tuple[int, int]]:
            self.session.focus(self.main_window())  # another window may have come in front since
            return button(self.session, picture)

        found = self.session.wait_for(find, "the plug-in's toolbar button", ENVIRONMENT_SECONDS, pause=0.5)
        assert found is not None
        return found

    def click_button(self, seen: Callable[[], T], what: str) -> T:
        """Presses the toolbar button until the effect is seen."""
        return self.session.insist(lambda: self.session.click(*self.find_button()), seen, what, OPENING_SECONDS)

    def open_by_button(self) -> dict[str, Any]:
        """Presses the button; the first review."""
        self.click_button(self.is_open, "the dialog")
        return self.next_review()

    # ---- where packages are missing

    def copy_command(self, window: str) -> list[str]:
        """The words of the command in the message about missing packages, as its button copies them."""

        def copy() -> None:
            self.session.focus(window)
            self.session.keys("alt+c")

        def copied() -> list[str]:
            answer = subprocess.run(
                ["/usr/bin/python3", "-c", READ_CLIPBOARD],
                env=self.session.environment,
                capture_output=True,
                text=True,
                check=True,
            )
            return shlex.split(answer.stdout)

        return self.session.insist(copy, copied, "the command on the clipboard")

    def confirm(self, window: str) -> None:
        """Closes a message."""

        def press() -> None:
            self.session.focus(window)
            self.session.keys("Return")

        self.session.insist(press, lambda: window not in self.session.windows(".+"), "the message to close")

    # ---- using it

    def next_review(self) -> dict[str, Any]:
        """The review the dialog has just made; the dialog shows it and waits for the person."""
        self.session.wait_for(self.report.exists, "a review", REVIEW_SECONDS)
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
        (window,) = self.session.windows(self.title)
        self.session.insist(
            lambda: self.session._tool("windowminimize", window),
            lambda: not self.is_open(),
            "the dialog to be minimised",
        )

    def review_again(self) -> dict[str, Any]:
        """F5."""

        def ask() -> None:
            self.focus()
            self.session.keys(F5)

        self.session.insist(ask, self.report.exists, "a review", REVIEW_SECONDS / 2)
        return self.next_review()

    def search(self, words: str) -> None:
        """Restricts the list to findings with these words."""
        self.focus()
        self.session.keys("ctrl+f", "ctrl+a")
        self.session.type(words)

    def show(self, seen: Callable[[], T], what: str) -> T:
        """Shows the first finding of the list in the editor by a double click, until that is seen there."""
        return self.session.insist(lambda: self.session.click(*FIRST_FINDING, self.focus(), repeat=2), seen, what)

    def ask_insert(self) -> str:
        """Asks what can be inserted; the window that offers it, with the keyboard."""

        def ask() -> None:
            if not self._offers():
                self.focus()
                self.session.keys("alt+i")

        (window,) = self.session.insist(ask, self._offers, "the offer to insert", REVIEW_SECONDS)
        self.session.focus(window)
        return window

    def accept_insert(self) -> dict[str, Any]:
        """Inserts everything that is offered; the review after it."""

        def accept() -> None:
            for window in self._offers():
                self.session.focus(window)
                self.session.keys("alt+i")

        self.session.insist(accept, lambda: not self._offers(), "the offer to be accepted")
        return self.next_review()

    def insert(self) -> dict[str, Any]:
        """Asks and accepts."""
        self.ask_insert()
        return self.accept_insert()

    def _offers(self) -> list[str]:
        return self.session.windows("^Insert into the board")

    def is_open(self) -> bool:
        """Whether its window is there."""
        return bool(self.session.windows(self.title))

    def close(self) -> None:
        """As by the window frame, whatever question of it is open."""
        while windows := self._offers() or self.session.windows(self.title):
            self.session.close_window(windows[-1])
