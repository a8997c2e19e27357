# SPDX-License-Identifier: MIT
"""The plug-in where a person's desk is not tidy: a board never saved, a second editor, other windows of the editor."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from bench import WAYS, Another, Bench, benches
from dialog_driver import processes

from editor_session import editor_major, wait_for

pytestmark = [pytest.mark.editor, pytest.mark.desktop]

OTHER_BOARD = Path("/usr/share/kicad/demos/ecc83/ecc83-pp.kicad_pcb")


@pytest.fixture
def another(bench: Bench, request: pytest.FixtureRequest) -> Iterator[Another]:
    editor = Another(bench.dialog, request.param)
    yield editor
    editor.end_editor()
    wait_for(lambda: not editor.is_open(), "its dialog to end with it")


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("another", [None], indirect=True, ids=["never-saved"])
def test_a_board_that_was_never_saved(another: Another, way: str) -> None:
    report = another.open_by_menu() if way == "in-process" else another.open_by_button()
    assert another.session.windows("^Lineworthy: untitled board$")
    assert "The board has no outline" in {finding["message"] for finding in report["findings"]}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("another", [OTHER_BOARD], indirect=True, ids=[OTHER_BOARD.stem])
def test_two_editors_have_a_dialog_each(bench: Bench, another: Another, way: str) -> None:
    first = bench.open(way)
    (window,) = bench.session.windows(bench.dialog.title)
    bench.dialog.minimise()
    second = another.open_by_menu() if way == "in-process" else another.open_by_button()
    assert (first["board"]["name"], second["board"]["name"]) == (bench.session.board.stem, OTHER_BOARD.stem)
    bench.session.focus(window)
    assert len(bench.session.windows("^Lineworthy: ")) == 2
    assert bench.dialog.review_again() == first, "each goes on with the board of its own editor"
    assert another.review_again() == second


@pytest.fixture(scope="module")
def rested(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """From version 10 on an editor of its own: its second window crashes one that has been at work for long, in the
    graphics library of its Debian.
    """
    if editor_major() < 10:
        yield request.getfixturevalue("bench")
    else:
        yield from benches(tmp_path_factory)


@pytest.mark.parametrize("way", WAYS)
def test_the_footprint_editor_is_open(rested: Bench, way: str) -> None:
    rested.board.add_to_selection(rested.board.get_footprints()[0])
    rested.session.run_action("pcbnew.EditorControl.EditFpInFpEditor")
    window = rested.session.wait_for_window("Footprint Editor$")
    try:
        assert rested.open(way)["board"]["name"] == rested.session.board.stem
    finally:
        rested.session.close_window(window)
        rested.restore()


@pytest.mark.parametrize("another", [OTHER_BOARD], indirect=True, ids=[OTHER_BOARD.stem])
def test_the_process_ends_with_its_editor(bench: Bench, another: Another) -> None:
    before = processes(bench.session)
    another.open_by_button()
    assert len(processes(bench.session) - before) == 1
    another.end_editor()
    wait_for(lambda: processes(bench.session) == before, "the dialog's process to end")
