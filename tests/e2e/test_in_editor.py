# SPDX-License-Identifier: MIT
"""The plug-in in the real editor, installed from its archive: once inside its process, once beside it."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest
from bench import BOARD, WAYS, Bench
from dialog_driver import (
    ENVIRONMENT_SECONDS,
    Dialog,
    button,
    install,
    processes,
    run_command,
    same_but_field_ids,
    tick_pixels,
)

from editor_session import EditorSession, wait_for
from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board

pytestmark = [pytest.mark.editor, pytest.mark.desktop]

ANSWERED = {"fiducials/too-few", "identity/revision-missing", "identity/part-number-missing"}


def checks(report: dict[str, Any]) -> set[str]:
    return {finding["check"] for finding in report["findings"]}


@pytest.mark.parametrize("way", WAYS)
def test_findings_are_those_of_the_saved_file(bench: Bench, way: str) -> None:
    assert bench.open(way) == bench.headless()


@pytest.mark.parametrize("way", WAYS)
def test_inserting_answers_the_findings_and_one_undo_takes_it_back(bench: Bench, way: str) -> None:
    before = bench.open(way)
    assert checks(before) >= ANSWERED
    opened = same_but_field_ids(bench.text())
    parts = len(bench.board.get_footprints())
    after = bench.dialog.insert()
    assert not checks(after) & ANSWERED
    names = bench.references()
    assert sum(name.startswith("FID") for name in names) == 3
    assert len(names) == parts + 4, "three fiducials and a ground probe pad"
    assert any("REV" in text.value for text in bench.board.get_text() if hasattr(text, "value"))
    bench.undo()
    wait_for(lambda: same_but_field_ids(bench.text()) == opened, "all of it to be taken back")


@pytest.mark.parametrize("way", WAYS)
def test_what_was_inserted_is_there_after_saving_and_loading_again(bench: Bench, way: str) -> None:
    bench.open(way)
    bench.dialog.insert()
    bench.board.refill_zones()
    bench.board.save()
    assert not checks(bench.headless()) & ANSWERED
    bench.board.revert()
    assert bench.dialog.review_again() == bench.headless()


@pytest.mark.parametrize("way", WAYS)
def test_unsaved_edits_are_seen(bench: Bench, way: str) -> None:
    before = bench.open(way)
    bench.take_off("C1")
    after = bench.dialog.review_again()
    assert after["findings"] != before["findings"]
    assert any("C1" in finding["message"] for finding in after["findings"])
    assert bench.headless() == before, "the file is untouched"


@pytest.mark.parametrize("way", WAYS)
def test_nothing_is_inserted_into_a_board_that_has_changed_since_its_review(bench: Bench, way: str) -> None:
    before = bench.open(way)
    bench.take_off("C1")
    now = bench.dialog.insert()
    assert now["findings"] != before["findings"], "it is reviewed as it is now"
    assert not {name for name in bench.references() if name.startswith("FID")}
    after = bench.dialog.insert()
    assert not checks(after) & ANSWERED
    assert {name for name in bench.references() if name.startswith("FID")}


@pytest.mark.parametrize("way", WAYS)
def test_a_finding_is_shown_in_the_editor(bench: Bench, way: str, tmp_path: Path) -> None:
    report = bench.open(way)
    finding = next(f for f in report["findings"] if f["uids"] and f["places"])
    bench.board.clear_selection()
    bench.session.run_action("common.Control.zoomFitScreen")
    bench.session.settled(tmp_path / "whole.png")
    far = bench.status_zoom(tmp_path / "before.png")
    bench.dialog.search(finding["message"][:25])

    def is_shown() -> bool:
        went = bench.status_zoom(tmp_path / "after.png") != far
        selected = {item.id.value for item in bench.board.get_selection()}
        # the in-process bindings cannot select
        return went and (way == "in-process" or bool(selected & set(finding["uids"])))

    bench.dialog.show(is_shown, "the view to go to the place")


@pytest.mark.parametrize("way", WAYS)
def test_a_second_press_raises_the_open_dialog(bench: Bench, way: str) -> None:
    bench.open(way)
    pids = processes(bench.session)
    (window,) = bench.session.windows(bench.dialog.title)
    if way == "in-process":
        bench.session.insist(
            bench.dialog.choose_menu, lambda: bench.session.active()[0] == window, "the dialog to come to the front"
        )
    else:
        bench.dialog.minimise()
        bench.dialog.click_button(bench.dialog.is_open, "the dialog to come back")
        wait_for(lambda: processes(bench.session) == pids, "the second process to end")
    wait_for(lambda: bench.session.windows("^Lineworthy: ") == [window], "that dialog and no other")
    assert not bench.dialog.report.exists(), "a second review would mean a second dialog"


def test_a_board_without_outline(tmp_path: Path) -> None:
    empty = tmp_path / "empty.kicad_pcb"
    empty.write_text('(kicad_pcb (version 20240108) (generator "pcbnew"))', encoding="utf-8")
    report = tmp_path / "report.json"
    variables = {"LINEWORTHY_REPORT_TO": str(report)}
    with EditorSession(empty, tmp_path / "e", prepare=install, variables=variables, api=False) as session:
        dialog = Dialog(session, report)
        assert dialog.open_by_button() == json.loads(FORMATS["json"].render(review(read_board(session.board))))


def test_without_libraries_the_command_of_the_message_brings_them(tmp_path: Path) -> None:
    def prepare(session: EditorSession) -> None:
        install(session, with_libraries=False)

    report = tmp_path / "report.json"
    variables = {"LINEWORTHY_REPORT_TO": str(report)}
    with EditorSession(BOARD, tmp_path, prepare=prepare, variables=variables, api=False) as session:
        dialog = Dialog(session, report)
        (window,) = dialog.click_button(lambda: session.windows("^Lineworthy$"), "the message")
        command = dialog.copy_command(window)
        dialog.confirm(window)
        assert dialog.main_window(), "the editor goes on"
        assert "Traceback" not in session.log_tail(200)
        run_command(command)
        session.quit()
        session.start()
        assert dialog.open_by_button() == json.loads(FORMATS["json"].render(review(read_board(session.board))))


def test_only_one_button_is_shown_where_the_server_is_on(bench: Bench, tmp_path: Path) -> None:
    """The menu entry stays; the button belongs to the process beside the editor."""
    bench.session.focus(bench.dialog.main_window())
    wait_for(lambda: button(bench.session, tmp_path / "a.png"), "the button", ENVIRONMENT_SECONDS)
    columns = [x for x, _ in tick_pixels(tmp_path / "a.png")]
    assert max(columns) - min(columns) < 24


def test_processes_are_found(tmp_path: Path) -> None:
    """The helper above would notice a process."""

    class Fake:
        data = tmp_path

    entry = tmp_path / "3rdparty" / "plugins" / "org_lineworthy_review" / "ipc_entry.py"
    entry.parent.mkdir(parents=True)
    entry.write_text("import time; time.sleep(30)")
    child = subprocess.Popen([os.sys.executable, str(entry)])  # type: ignore[attr-defined]
    try:
        wait_for(lambda: processes(Fake()) == {child.pid}, "the process")  # type: ignore[arg-type]
    finally:
        child.kill()
        child.wait()
