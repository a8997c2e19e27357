# SPDX-License-Identifier: MIT
"""The plug-in in version 6 where a person's desk is not tidy: what tests/e2e shows of later versions.

Run inside the chroot. Each test has an editor of its own, which takes less time than to tidy one up by keys.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from bench import Another
from desk_6 import ANSWERED, Desk, at_desk, checks
from dialog_driver import install, run_command

from editor_session import EditorSession
from lineworthy_kicad.reader import parse_board

OTHER_BOARD = Path("/usr/share/kicad/demos/ecc83/ecc83-pp.kicad_pcb")
PART, PART_AT = '"R4"', (340, 597)
"""A part, and where it is drawn when the editor has just opened the board: on its body, beside its texts."""


@pytest.fixture
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with at_desk(tmp_path_factory.mktemp("e")) as desk:
        yield desk


def test_a_board_without_outline(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    empty = tmp_path / "empty.kicad_pcb"
    empty.write_text("(kicad_pcb (version 20211014) (generator pcbnew))", encoding="utf-8")
    with at_desk(tmp_path_factory.mktemp("e"), empty) as desk:
        report = desk.dialog.open_by_menu()
        assert report == desk.headless()
        assert "The board has no outline" in {finding["message"] for finding in report["findings"]}
        assert desk.dialog.main_window(), "the editor goes on"


def test_a_board_that_was_never_saved(desk: Desk) -> None:
    other = Another(desk.dialog, None)
    report = other.open_by_menu()
    assert desk.editor.windows("^Lineworthy: untitled board$")
    assert "The board has no outline" in {finding["message"] for finding in report["findings"]}


def test_two_editors_have_a_dialog_each(desk: Desk) -> None:
    first = desk.dialog.open_by_menu()
    other = Another(desk.dialog, OTHER_BOARD)
    second = other.open_by_menu()
    assert (first["board"]["name"], second["board"]["name"]) == (desk.editor.board.stem, OTHER_BOARD.stem)
    assert len(desk.editor.windows("^Lineworthy: ")) == 2
    assert desk.dialog.review_again() == first, "each goes on with the board of its own editor"
    assert other.review_again() == second
    other.end_editor()
    desk.editor.wait_for(lambda: not other.is_open(), "its dialog to end with it")
    assert desk.dialog.review_again() == first


def test_the_footprint_editor_is_open(desk: Desk) -> None:
    def ask_for_it() -> None:
        """The first entry of the menu that can be chosen and the one after it."""
        desk.dialog.open_menu("alt+t")
        desk.editor.keys("Down", "Return")

    def opened() -> list[str]:
        return desk.editor.windows("Footprint Editor$")

    (window,) = desk.editor.insist(ask_for_it, opened, "the footprint editor")
    before = desk.dialog.open_by_menu()
    assert before == desk.headless()
    assert not checks(desk.dialog.insert()) & ANSWERED, "it is the board that is reviewed and inserted into"

    desk.editor.close_window(window)
    desk.undo()
    assert desk.dialog.review_again() == before


def test_nothing_is_inserted_into_a_board_that_has_changed_since_its_review(desk: Desk) -> None:
    before = desk.dialog.open_by_menu()
    desk.put_aside()
    assert PART in desk.save()

    def delete() -> None:
        desk.editor.focus(desk.dialog.main_window())
        desk.editor.keys("Escape")
        desk.editor.click(*PART_AT)
        desk.editor.keys("Delete")

    desk.editor.insist(delete, lambda: PART not in desk.save(), "the part to be gone")
    now = desk.dialog.insert()
    assert now == desk.headless() != before, "it is reviewed as it is now"
    assert '"FID1"' not in desk.save()
    assert not checks(desk.dialog.insert()) & ANSWERED
    parts = parse_board(desk.save(), desk.editor.board.name).parts
    assert {"FID1", "FID2", "FID3"} <= {part.reference for part in parts}


def test_without_libraries_the_command_of_the_message_brings_them(tmp_path_factory: pytest.TempPathFactory) -> None:
    with at_desk(tmp_path_factory.mktemp("m"), prepare=_install_bare) as desk:
        editor, dialog = desk.editor, desk.dialog
        dialog.choose_menu()
        window = editor.wait_for_window("^Lineworthy$")
        command = dialog.copy_command(window)
        dialog.confirm(window)
        assert dialog.main_window(), "the editor goes on"
        assert "Traceback" not in editor.log_tail(200)
        run_command(command)
        editor.quit()
        editor.start()
        assert dialog.open_by_menu() == desk.headless()


def _install_bare(editor: EditorSession) -> None:
    install(editor, with_libraries=False)
