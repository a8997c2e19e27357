# SPDX-License-Identifier: MIT
"""The plug-in in a running editor of version 6: what tests/e2e shows of later versions.

Version 6 has no interface to other processes, so the editor is driven by keys alone, and what the board is comes from
the file it saves. Run inside the chroot.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench import BOARD
from dialog_driver import FIRST_FINDING, Dialog, install
from PIL import Image, ImageChops

from editor_session import EditorSession
from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import parse_board, read_board

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
        stamp = self.editor.board.stat().st_mtime_ns
        self.editor.focus(self.dialog.main_window())
        self.editor.keys("ctrl+s")
        board = self.editor.board
        self.editor.wait_for(lambda: board.exists() and board.stat().st_mtime_ns != stamp, "the saved file", 60)
        # the name is there before the last byte is: wait for the last line
        self.editor.wait_for(lambda: board.read_text(encoding="utf-8").rstrip().endswith("\n)"), "all of the file", 60)
        return board.read_text(encoding="utf-8")

    def undo(self) -> None:
        self.editor.focus(self.dialog.main_window())
        self.editor.keys("Escape", "ctrl+z")

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


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("e")
    report = folder / "report.json"
    variables = {"LINEWORTHY_REPORT_TO": str(report)}
    with EditorSession(BOARD, folder, prepare=install, variables=variables, api=False, major=6) as editor:
        yield Desk(editor, Dialog(editor, report))


def checks(report: dict[str, Any]) -> set[str]:
    return {finding["check"] for finding in report["findings"]}


def test_review_show_insert_undo_save(desk: Desk, tmp_path: Path) -> None:
    """One sitting, since the editor can be put back to where it was only by what is tried here."""
    before = desk.dialog.open_by_menu()
    assert before == desk.headless()
    assert checks(before) >= ANSWERED

    desk.put_aside()
    plain = desk.canvas(tmp_path)
    finding = next(each for each in before["findings"] if each["uids"] and each["places"])
    desk.search(finding["message"][:25])

    def is_lit() -> bool:
        desk.press_first()
        return ImageChops.difference(plain, desk.canvas(tmp_path)).getbbox() is not None

    desk.editor.wait_for(is_lit, "the highlight", 60, pause=2.0)

    opened = desk.save()
    after = desk.dialog.insert()
    assert not checks(after) & ANSWERED
    desk.undo()
    assert desk.save() == opened, "one undo takes all of it back"
    assert desk.dialog.review_again() == before

    desk.dialog.insert()
    inserted = parse_board(desk.save(), desk.editor.board.name)
    assert sum(part.reference.startswith("FID") for part in inserted.parts) == 6
    again = desk.dialog.review_again()
    assert again == desk.headless()
    assert not checks(again) & ANSWERED

    desk.dialog.choose_menu()
    desk.editor.wait_for(lambda: len(desk.editor.windows("^Lineworthy: ")) == 1, "the dialog that is open")
    assert not desk.dialog.report.exists(), "a second review would mean a second dialog"
    desk.dialog.close()
    assert desk.dialog.main_window(), "the editor goes on"


def test_without_libraries_a_message_gives_the_command(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("m")
    with EditorSession(BOARD, folder, prepare=_install_bare, api=False, major=6) as editor:
        dialog = Dialog(editor, folder / "report.json")
        dialog.choose_menu()
        editor.focus(editor.wait_for_window("^Lineworthy$", 60))
        editor.keys("Return")
        editor.wait_for(lambda: not editor.windows("^Lineworthy$"), "the message to close")
        assert dialog.main_window(), "the editor goes on"
        assert "Traceback" not in editor.log_tail(200)


def _install_bare(editor: EditorSession) -> None:
    install(editor, with_libraries=False)
