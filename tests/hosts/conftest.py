# SPDX-License-Identifier: MIT
"""One real editor for all contract tests, and the hosts one after the other."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from contract_board import write_board
from fake_host import FakeHost
from subjects import DrivenHost, Headless, Inside, Subject, bindings_major, freshen, install_driver

from editor_session import EditorError, EditorSession
from lineworthy_kicad.hosts.file_host import FileHost

IN_EDITOR = ("bindings", "interprocess")
HOSTS = ("fake", "file", "bindings-headless", *IN_EDITOR)


@pytest.fixture(scope="session")
def editor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EditorSession]:
    """The running editor with the contract board; a test that wants it fails where it does not start."""
    folder = tmp_path_factory.mktemp("ed")
    board = write_board(tmp_path_factory.mktemp("board"))
    try:
        session = EditorSession(board, folder, prepare=install_driver)
        session.__enter__()
    except EditorError as fault:
        pytest.fail(str(fault), pytrace=False)
    try:
        yield session
    finally:
        session.__exit__(None, None, None)


@pytest.fixture
def subject(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Subject]:
    """The host that the test is parametrised with, on a fresh board."""
    name = request.param
    if name in IN_EDITOR:
        yield _in_editor(name, request.getfixturevalue("editor"))
        return
    board = write_board(tmp_path, bindings_major() if name == "bindings-headless" else 9)
    if name == "file":
        yield Subject(FileHost(board), board, shows=False, fills=False)
    elif name == "fake":
        project = board.with_suffix(".kicad_pro").read_text(encoding="utf-8")
        fake = FakeHost(board.read_text(encoding="utf-8"), board.name, str(board), project)
        yield Subject(fake, board, undo=fake.undo, fills=False)
    else:
        headless = Headless(board, tmp_path / "bindings.log")
        try:
            yield Subject(DrivenHost(headless.ask), board)
        finally:
            headless.close()


def _in_editor(name: str, editor: EditorSession) -> Subject:
    from lineworthy_kicad.hosts.ipc_host import IpcHost

    freshen(editor)
    host = IpcHost(editor.client()) if name == "interprocess" else DrivenHost(Inside(editor).ask)
    return Subject(
        host,
        editor.board,
        undo=lambda: editor.run_action("common.Interactive.undo"),
        redo=lambda: editor.run_action("common.Interactive.redo"),
        declares=name != "interprocess",
        editor=editor,
    )


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Every test that takes a `subject` runs with each host, or with those its marker `hosts` names."""
    if "subject" not in metafunc.fixturenames:
        return
    marker = metafunc.definition.get_closest_marker("hosts")
    names = marker.args if marker else HOSTS
    marks = {"fake": (), "file": ()}
    params = [pytest.param(name, marks=marks.get(name, (pytest.mark.editor,)), id=name) for name in names]
    metafunc.parametrize("subject", params, indirect=True)


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "hosts(*names): which hosts a contract test runs with; all by default")
