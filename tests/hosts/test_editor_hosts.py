# SPDX-License-Identifier: MIT
"""What only the hosts of a real editor can get wrong: an editor that is gone, items that arrive otherwise."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest
from contract_board import PART, write_board
from kipy import KiCad
from kipy.errors import ConnectionError as NoEditor
from subjects import DRIVEN_PYTHON, freshen

from editor_session import ROOT, EditorSession
from lineworthy.amend.amendment import MarkingText, ToolingHole
from lineworthy.model import Side
from lineworthy_kicad.hosts import ipc_host
from lineworthy_kicad.hosts.host import HostError
from lineworthy_kicad.hosts.ipc_host import IpcHost

INSERTED = (
    ToolingHole("H1", (105.0, -85.0), 3.2),
    MarkingText("FA-1", "FA-1", (125.0, -85.0), Side.TOP, 1.5, 0.2),
)


@pytest.mark.editor
def test_in_process_host_loads_without_shapely() -> None:
    lines = [
        "import sys",
        "import lineworthy_kicad.hosts.pcbnew_host",
        "assert not {'shapely', 'lineworthy.model'} & set(sys.modules), sorted(sys.modules)",
    ]
    surroundings = {"PYTHONPATH": f"{ROOT / 'core'}:{ROOT / 'plugin'}", "PATH": os.environ["PATH"]}
    done = subprocess.run(
        [DRIVEN_PYTHON, "-c", "\n".join(lines)], env=surroundings, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_no_editor_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(HostError, match="the editor cannot be reached") as refused:
        IpcHost(KiCad(socket_path=f"ipc://{tmp_path / 'none.sock'}", timeout_ms=500))
    assert "\n" not in str(refused.value)


@pytest.mark.editor
@pytest.mark.parametrize("stage", [1, 3], ids=["before-the-commit", "after-the-commit"])
def test_an_item_that_arrives_otherwise_takes_all_of_them_back(
    editor: EditorSession, monkeypatch: pytest.MonkeyPatch, stage: int
) -> None:
    freshen(editor)
    host = IpcHost(editor.client())
    before = host.document().text
    looked: list[object] = []

    def fault(item: object, amendment: object) -> str:
        looked.append(item)
        return "it is upside down" if len(looked) == stage + 1 else ""

    monkeypatch.setattr(ipc_host, "fault", fault)
    with pytest.raises(HostError, match="was taken back: it is upside down"):
        host.apply(INSERTED, "Lineworthy: insert")
    assert len(looked) == stage + 1
    assert host.document().text == before
    monkeypatch.undo()
    assert len(host.apply(INSERTED, "Lineworthy: insert")) == 2, "no commit was left open"


@pytest.mark.editor
def test_an_editor_that_ends_in_the_middle_of_an_answer_is_noticed_at_once(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    board = write_board(tmp_path_factory.mktemp("board"))
    with EditorSession(board, tmp_path_factory.mktemp("ed")) as session:
        host = IpcHost(session.client())
        assert host.show([PART])
        os.kill(session.pid, signal.SIGSTOP)  # it has the question and does not answer
        killer = threading.Timer(0.5, session.kill)
        killer.start()
        begun = time.monotonic()
        for attempt in (host.document, lambda: host.apply(INSERTED, "x"), lambda: host.show([PART]), host.refill):
            with pytest.raises(HostError, match="the editor cannot be reached"):
                attempt()
        assert time.monotonic() - begun < 20, "far less than the time-out of a call"
        killer.join()


@pytest.mark.editor
def test_a_connection_that_drops_in_the_middle_of_inserting_leaves_the_board_untouched(
    editor: EditorSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    freshen(editor)
    before = IpcHost(editor.client()).document().text
    client = editor.client()
    host = IpcHost(client)

    def drop(*_: object) -> None:
        client._client._conn.close()  # everything is staged, nothing is pushed
        raise NoEditor("Object closed")

    monkeypatch.setattr("kipy.board.Board.push_commit", drop)
    with pytest.raises(HostError, match="the editor cannot be reached") as refused:
        host.apply(INSERTED, "Lineworthy: insert")
    assert "\n" not in str(refused.value)
    monkeypatch.undo()
    again = IpcHost(editor.client())
    assert again.document().text == before
    assert len(again.apply(INSERTED, "Lineworthy: insert")) == 2, "the commit that was left behind is in nobody's way"
