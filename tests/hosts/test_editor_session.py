# SPDX-License-Identifier: MIT
"""The session itself: an editor that does not start is a failure that says why, and leaves nothing running."""

from __future__ import annotations

from pathlib import Path

import pytest
from contract_board import write_board

from editor_session import EditorError, EditorSession, wait_for


def of_session(folder: Path) -> list[str]:
    """Command lines of processes whose environment names a folder."""
    found = []
    for each in Path("/proc").glob("[0-9]*"):
        try:
            if str(folder).encode() in (each / "environ").read_bytes():
                found.append((each / "cmdline").read_bytes().replace(b"\0", b" ").decode())
        except OSError:  # ended meanwhile, or not ours
            continue
    return [line for line in found if line.strip()]


@pytest.mark.editor
def test_an_editor_that_asks_at_its_start_is_a_failure_that_names_the_question(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    folder = tmp_path_factory.mktemp("ed")
    board = write_board(tmp_path_factory.mktemp("board"))

    def spoil(session: EditorSession) -> None:
        (session.config / "fp-lib-table").unlink()

    with pytest.raises(EditorError) as failed, EditorSession(board, folder, prepare=spoil, start_seconds=8):
        raise AssertionError("it started")
    assert "waited 8 s for the editor to open the board" in str(failed.value)
    assert "Library Table" in str(failed.value) or "KiCad Setup" in str(failed.value), "the window it asked with"
    assert of_session(folder) == []


@pytest.mark.editor
def test_a_session_takes_a_leftover_lock_and_ends_without_a_trace(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("ed")
    board = write_board(tmp_path_factory.mktemp("board"))

    def lock(session: EditorSession) -> None:
        session.board.with_name(f"~{session.board.name}.lck").write_text('{"hostname":"x","username":"x"}')

    with EditorSession(board, folder, prepare=lock) as session:
        assert any("contract" in title for title in session.titles())
        assert of_session(folder)
        session.quit()
        assert session.exit_code == 0, "closed as a person closes it, not killed"
    assert of_session(folder) == []
    assert not list(session.board.parent.glob("~*.lck"))


def test_waiting_ends_with_an_answer_or_a_failure() -> None:
    answers = iter([[], [], ["there"]])
    assert wait_for(lambda: next(answers), "it", seconds=5, pause=0.001) == ["there"]
    with pytest.raises(EditorError, match="waited 0 s for nothing"):
        wait_for(lambda: "", "nothing", seconds=0)
