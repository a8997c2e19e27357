# SPDX-License-Identifier: MIT
"""The plug-in where a person's desk is not tidy: a board never saved, a second editor, other windows of the editor."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Optional

import pytest
from bench import WAYS, Bench
from dialog_driver import Dialog

from editor_session import wait_for

pytestmark = [pytest.mark.editor, pytest.mark.desktop]

OTHER_BOARD = Path("/usr/share/kicad/demos/ecc83/ecc83-pp.kicad_pcb")
FOOTPRINT_EDITOR = (845, 61)
"""Place of its button on the editor's toolbar, in pixels."""


@pytest.fixture
def another(bench: Bench, request: pytest.FixtureRequest) -> Iterator[Dialog]:
    """A second editor beside the first, and the dialog over it."""
    board: Optional[Path] = request.param
    dialog = Dialog(bench.session, bench.dialog.report, "" if board is None else board.stem)
    editor: subprocess.Popen[str] = bench.session.start_another(board)
    title = "^PCB Editor$" if board is None else f"^{board.stem}.*PCB Editor"
    bench.session.wait_for_window(title, 90)
    yield dialog
    editor.kill()
    editor.wait(10)
    wait_for(lambda: not bench.session.windows(title), "the second editor to be gone")
    wait_for(lambda: not dialog.is_open(), "its dialog to end with it", 30)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("another", [None], indirect=True, ids=["never-saved"])
def test_a_board_that_was_never_saved(another: Dialog, way: str) -> None:
    report = another.open_by_menu() if way == "in-process" else another.open_by_button()
    assert another.session.windows("^Lineworthy: untitled board$")
    assert "The board has no outline" in {finding["message"] for finding in report["findings"]}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("another", [OTHER_BOARD], indirect=True, ids=[OTHER_BOARD.stem])
def test_two_editors_have_a_dialog_each(bench: Bench, another: Dialog, way: str) -> None:
    first = bench.open(way)
    (window,) = bench.session.windows(bench.dialog.title)
    bench.dialog.minimise()
    second = another.open_by_menu() if way == "in-process" else another.open_by_button()
    assert (first["board"]["name"], second["board"]["name"]) == (bench.session.board.stem, OTHER_BOARD.stem)
    bench.session.focus(window)
    assert len(bench.session.windows("^Lineworthy: ")) == 2


@pytest.mark.parametrize("way", WAYS)
def test_the_footprint_editor_is_open(bench: Bench, way: str) -> None:
    bench.session.focus(bench.dialog.main_window())
    bench.session.click(*FOOTPRINT_EDITOR)
    window = bench.session.wait_for_window("Footprint Editor$", 30)
    try:
        assert bench.open(way)["board"]["name"] == bench.session.board.stem
    finally:
        bench.session.focus(window)
        bench.session.keys("ctrl+w")
        bench.session.wait_for(lambda: not bench.session.windows("Footprint Editor$"), "the footprint editor to close")
