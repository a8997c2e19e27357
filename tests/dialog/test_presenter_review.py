# SPDX-License-Identifier: MIT
"""Opening, reading, reviewing, cancelling, failing; list, filter, detail and map."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from dialog_stage import Stage, document

from lineworthy import built_in, review
from lineworthy.finding import Consequence
from lineworthy.model import Side
from lineworthy_kicad.dialog.contract import Tone
from lineworthy_kicad.dialog.settings import Settings, Store
from lineworthy_kicad.hosts.host import DocumentText, HostError
from lineworthy_kicad.reader import parse_board

ALL = frozenset(Consequence)
SUPPLY = "supply/manufacturer-part-missing"


def test_the_window_is_there_before_the_board_is_read(stage: Stage) -> None:
    stage.host.fault = HostError("must not be asked yet")
    stage.presenter.open()
    stage.view.show_progress.assert_called_once_with(0.0, "Reading widget.kicad_pcb")
    stage.view.after_paint.assert_called_once()
    stage.view.show_stopped.assert_not_called()


def test_findings_are_those_of_the_headless_review(opened: Stage) -> None:
    expected = review(parse_board(document(), "widget.kicad_pcb", opened.host.path))
    assert opened.reviews[0].findings == expected.findings
    assert [row.text for row in opened.rows if row.number] == [f.message for f in expected.findings]
    assert opened.headline.verdict == expected.verdict
    assert opened.headline.tone is Tone.QUERY
    assert dict(opened.headline.counts) == {c: expected.count(c) for c in Consequence}


def test_rows_stand_under_their_area(opened: Stage) -> None:
    headings = [row.text for row in opened.rows if not row.number]
    assert headings == ["Identity (2)", "Fiducials (1)", "Panel (1)", "Supply (1)"]
    assert [area.title for area in opened.headline.areas] == ["Identity", "Fiducials", "Panel", "Supply"]


def test_progress_rises_and_names_what_is_done(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lineworthy_kicad.dialog.worker.TELL_EVERY_S", 0.0)
    stage.open()
    told = [call.args for call in stage.view.show_progress.call_args_list]
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert all(0 <= share <= 1 for share in shares)
    words = " ".join(what for _, what in told)
    assert "Reading widget.kicad_pcb" in words
    assert "Reviewing: Fiducials" in words


def test_the_window_is_called_after_the_board_that_was_read(opened: Stage) -> None:
    assert opened.headline.title == "widget.kicad_pcb"
    opened.host.document = lambda: DocumentText(opened.host.text, "gate.kicad_pcb", "")  # type: ignore[method-assign]
    opened.presenter.review_again()
    opened.run()
    assert opened.headline.title == "gate.kicad_pcb"


def test_cancel_before_the_first_review(stage: Stage) -> None:
    stage.presenter.open()
    stage.settle()
    stage.presenter.cancel()
    stage.view.show_stopped.assert_called_once_with("Cancelled before the review was done.")
    stage.run()
    stage.view.show_review.assert_not_called()
    assert stage.reviews == []


def test_cancelled_work_ends_at_its_next_word(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    reads: list[str] = []
    monkeypatch.setattr(
        "lineworthy_kicad.dialog.reading.parse_board", lambda *args: reads.append("read") or parse_board(*args)
    )
    stage.presenter.open()
    stage.settle()
    stage.presenter.cancel()
    stage.run()
    assert reads == []


def test_cancel_of_a_second_review_keeps_the_first(opened: Stage) -> None:
    opened.presenter.review_again()
    opened.settle()
    opened.presenter.cancel()
    opened.run()
    assert opened.status == "Cancelled: these are the findings from before."
    assert len(opened.reviews) == 1
    opened.view.show_stopped.assert_not_called()


def test_cancel_before_the_board_was_asked_for(stage: Stage) -> None:
    stage.presenter.open()
    stage.presenter.cancel()
    stage.run()
    stage.view.show_review.assert_not_called()
    assert stage.jobs == []


def test_review_again_sees_the_board_as_it_is_now_and_keeps_the_selection(opened: Stage) -> None:
    opened.presenter.select(opened.number_of(SUPPLY))
    opened.host.text = document(gap=0.9)
    opened.presenter.review_again()
    opened.run()
    checks = {finding.check for finding in opened.reviews[-1].findings}
    assert "spacing/parts-too-close" in checks
    number = opened.number_of(SUPPLY)
    opened.view.select.assert_called_with(number)
    assert opened.detail.number == number


def test_a_selected_finding_that_is_gone_is_not_selected(opened: Stage) -> None:
    opened.host.text = document(gap=0.9)
    opened.presenter.review_again()
    opened.run()
    opened.presenter.select(opened.number_of("spacing/parts-too-close"))
    opened.host.text = document()
    opened.presenter.review_again()
    opened.run()
    opened.view.select.assert_called_with(0)
    assert opened.detail is None


# -- failing


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (HostError("no board is open"), "no board is open. The board is as it was."),
        (RuntimeError("wrapped C++ object"), "RuntimeError: wrapped C++ object. This is a fault of Lineworthy"),
    ],
)
def test_a_host_that_fails_at_the_first_read(stage: Stage, fault: Exception, words: str) -> None:
    stage.host.fault = fault
    stage.open()
    line = stage.view.show_stopped.call_args.args[0]
    assert line.startswith(words)
    assert "\n" not in line
    stage.host.fault = None
    stage.presenter.review_again()
    stage.run()
    assert stage.headline.verdict.startswith("Expect questions")


def test_a_host_that_is_gone_later_leaves_the_findings(opened: Stage) -> None:
    opened.host.fault = HostError("the editor is gone")
    opened.presenter.review_again()
    opened.run()
    assert opened.status == "the editor is gone. The board is as it was. These are the findings from before."
    assert opened.is_complaint
    opened.view.show_stopped.assert_not_called()


def test_text_that_is_no_board(stage: Stage) -> None:
    stage.host.text = "(kicad_sch (version 20230121))"
    stage.open()
    line, details = stage.view.show_stopped.call_args.args
    assert line.endswith("widget.kicad_pcb: a schematic, not a board")
    assert details == ""


def test_a_fault_of_ours_comes_with_what_to_report(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object, **kwargs: object) -> None:
        raise ZeroDivisionError("in the reader")

    monkeypatch.setattr("lineworthy_kicad.dialog.reading.parse_board", broken)
    stage.open()
    line, details = stage.view.show_stopped.call_args.args
    assert line == "ZeroDivisionError: in the reader. This is a fault of Lineworthy; please report it."
    assert "Traceback" in details


def test_a_board_without_outline_is_reviewed(tmp_path: Path) -> None:
    stage = Stage(tmp_path, text=document(outline=False)).open()
    assert "outline not closed" in stage.headline.facts
    assert stage.numbers
    maps = stage.view.show_maps.call_args.args[0]
    assert {side_map.side for side_map in maps} == set(Side)


def test_an_unsaved_board_is_reviewed(tmp_path: Path) -> None:
    stage = Stage(tmp_path, saved=False).open()
    assert stage.numbers == [1, 2, 3, 4, 5]


# -- hosts that may be asked in the background


def test_a_host_of_any_thread_is_read_in_the_background(stage: Stage) -> None:
    stage.host.any_thread = True  # type: ignore[attr-defined]
    stage.host.fault = HostError("not asked on the main thread")
    stage.presenter.open()
    stage.settle()
    stage.view.show_stopped.assert_not_called()
    stage.host.fault = None
    stage.run()
    assert stage.numbers == [1, 2, 3, 4, 5]
    stage.host.fault = HostError("the editor is gone")
    stage.presenter.review_again()
    stage.run()
    assert stage.status.startswith("the editor is gone. The board is as it was.")


def test_only_a_host_that_takes_its_time_lets_the_window_be_painted_first(stage: Stage) -> None:
    stage.presenter.open()
    stage.view.after_paint.assert_called_once()
    stage.view.after_paint.reset_mock()
    stage.host.is_prompt = True  # type: ignore[attr-defined]
    stage.presenter.review_again()
    stage.view.after_paint.assert_not_called()
    stage.run()
    assert stage.numbers == [1, 2, 3, 4, 5]


def test_while_the_board_is_handed_over_nothing_waits_for_the_host(opened: Stage) -> None:
    opened.host.any_thread = True  # type: ignore[attr-defined]
    read = opened.host.document
    seen: list[str] = []

    def document() -> DocumentText:
        opened.presenter.cancel()
        opened.presenter.select(5)
        opened.presenter.show_on_board()
        seen.append(opened.status)
        return read()

    opened.host.document = document  # type: ignore[method-assign]
    opened.presenter.review_again()
    opened.run()
    assert seen == [
        "Not shown: the editor is still handing over the board: try again in a moment. The board is as it was."
    ]
    assert opened.host.shown == []
    assert len(opened.reviews) == 1, "what was cancelled is not shown when it comes at last"
    opened.presenter.show_on_board()
    assert len(opened.host.shown) == 1


# -- list, filter, detail, map


def test_filter_by_consequence_area_and_words(opened: Stage) -> None:
    def listed(*args: object) -> list[int]:
        opened.presenter.filter(*args)  # type: ignore[arg-type]
        return opened.numbers

    assert listed(frozenset({Consequence.NOTE}), True, "", "") == [3]
    assert listed(ALL, True, "identity", "") == [1, 2]
    assert listed(ALL, True, "", "TITLE block") == [2]
    assert listed(ALL, True, "", "r3") == [5], "a place's label is found, too"
    assert listed(ALL, True, "", "machine-placed nowhere") == []
    assert listed(ALL, True, "supply", "title") == []
    assert listed(frozenset(), True, "", "") == []
    assert listed(ALL, True, "", "") == [1, 2, 3, 4, 5]


def test_the_list_says_how_many_of_how_many(opened: Stage) -> None:
    assert opened.view.show_rows.call_args.args[1] == "5 findings"
    opened.presenter.filter(ALL, True, "identity", "")
    assert opened.view.show_rows.call_args.args[1] == "2 of 5 findings"


def test_flags_on_the_map_are_those_of_the_list(opened: Stage) -> None:
    def flagged() -> set[int]:
        maps = opened.view.show_maps.call_args.args[0]
        return {flag.number for side_map in maps for flag in side_map.flags(1.0)}

    assert flagged() == {4, 5}, "only these have places"
    opened.presenter.filter(ALL, True, "supply", "")
    assert flagged() == {5}
    maps = opened.view.show_maps.call_args.args[0]
    (top,) = (side_map for side_map in maps if side_map.side is Side.TOP)
    assert sum(len(flag.spots) for flag in top.flags(1.0)) == 5


def test_a_filter_that_hides_the_selected_finding_deselects_it(opened: Stage) -> None:
    opened.presenter.select(5)
    opened.presenter.filter(ALL, True, "supply", "")
    opened.view.select.assert_called_with(5)
    opened.presenter.filter(ALL, True, "identity", "")
    assert opened.detail is None
    opened.presenter.show_on_board()
    assert opened.host.shown == []
    assert opened.status == "Choose a finding first."


def test_a_filter_before_the_first_review_is_kept(stage: Stage) -> None:
    stage.presenter.filter(ALL, True, "supply", "")
    stage.open()
    assert stage.numbers == [5]


def test_detail_says_measured_limit_whose_and_what_to_do(tmp_path: Path) -> None:
    stage = Stage(tmp_path, text=document(gap=1.8)).open()
    stage.presenter.select(stage.number_of("spacing/parts-too-close"))
    detail = stage.detail
    facts = dict(detail.facts)
    finding = next(f for f in stage.reviews[0].findings if f.check == detail.check)
    limit = stage.reviews[0].sheet.value(finding.limit_key)
    assert facts["Measured"] == f"{finding.measured:g} mm"
    assert facts["Limit"] == f"{finding.limit:g} mm"
    assert facts["Whose limit"] == f"{finding.limit_key} = {limit:g} mm, sheet {stage.reviews[0].sheet.name}"
    assert facts["Its source"] == stage.reviews[0].sheet.source(finding.limit_key)
    assert [title for title, text in detail.sections if text][:3] == ["What to do", "Why it matters", "Blind spots"]
    assert len(detail.places) == len(finding.places)
    stage.view.centre.assert_called_with(detail.places)


def test_selecting_nothing_or_a_number_that_is_none(opened: Stage) -> None:
    for number in (0, 99, -1):
        opened.presenter.select(number)
        assert opened.detail is None


def test_hostile_names_are_made_visible(tmp_path: Path) -> None:
    text = document(revision="B\u202eC").replace('"R4"', '"R\x1b4"')
    stage = Stage(tmp_path, text=text).open()
    assert "\u202e" not in stage.headline.board
    stage.presenter.select(stage.number_of(SUPPLY))
    shown = [stage.headline.board, *(row.text for row in stage.rows), *(p.text for p in stage.detail.places)]
    assert all(text.isprintable() for text in shown)


def test_not_run_comes_with_how_to_give_it(tmp_path: Path) -> None:
    stage = Stage(tmp_path, text=document(outline=False)).open()
    expected = [(n.check, n.missing, n.how) for n in stage.reviews[0].not_run]
    assert expected
    assert [(line.check, line.missing, line.how) for line in stage.not_run] == expected


# -- showing on the board


def test_show_on_board(opened: Stage) -> None:
    opened.presenter.select(5)
    opened.presenter.show_on_board()
    assert opened.host.shown == [("R1", "R2", "R3", "R4", "R5")]
    assert opened.status == "Finding 5 is shown in the editor."
    assert not opened.is_complaint


def test_show_what_is_about_the_whole_board(opened: Stage) -> None:
    opened.presenter.select(1)
    opened.presenter.show_on_board()
    assert opened.host.shown == []
    assert "about the board as a whole" in opened.status


def test_show_what_is_no_longer_there(opened: Stage) -> None:
    opened.host.finds = False
    opened.presenter.select(5)
    opened.presenter.show_on_board()
    assert opened.status == "Nothing of finding 5 is on the board any more: review again."
    assert opened.is_complaint


@pytest.mark.parametrize("fault", [HostError("the editor is gone"), RuntimeError("gone")])
def test_show_when_the_host_is_gone(opened: Stage, fault: Exception) -> None:
    opened.presenter.select(5)
    opened.host.fault = fault
    opened.presenter.show_on_board()
    assert opened.status.startswith("Not shown: ")
    assert opened.is_complaint


# -- closing


def test_closing_stops_work_and_remembers_the_layout(opened: Stage) -> None:
    opened.presenter.review_again()
    opened.settle()
    opened.presenter.close()
    opened.run()
    opened.view.close.assert_called_once_with()
    assert len(opened.reviews) == 1
    assert opened.store.load().layout == opened.view.layout.return_value


def test_closing_before_the_board_was_asked_for(stage: Stage) -> None:
    stage.presenter.open()
    stage.presenter.close()
    stage.run()
    assert stage.jobs == []
    stage.view.show_review.assert_not_called()


def test_the_presenter_needs_no_widgets_and_no_editor() -> None:
    code = (
        "import sys; sys.modules.update(dict.fromkeys(('wx', 'pcbnew', 'kipy')));"
        "import lineworthy_kicad.dialog.presenter, lineworthy_kicad.dialog.planner"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_settings_survive_a_review(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept.json")
    store.save(Settings(name="R. Novak", sheet="dense"))
    stage = Stage(tmp_path, store=store).open()
    stage.presenter.close()
    assert store.load().name == "R. Novak"
    assert stage.reviews[0].sheet == built_in("dense")
