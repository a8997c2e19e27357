# SPDX-License-Identifier: MIT
"""Conceding, inserting, writing reports, choosing sheets: every button, and every way in which it can fail."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from unittest.mock import Mock

import pytest
from dialog_stage import DAY, Stage, document

from lineworthy import built_in, concessions, review
from lineworthy.amend import FiducialMark, MarkingText, Offer, ProbePad, Proof, Refusal, ToolingHole
from lineworthy.beside import gather
from lineworthy.concessions import Concession
from lineworthy.errors import InputError
from lineworthy.finding import Consequence
from lineworthy.model import Side
from lineworthy_kicad.dialog.contract import ConcessionForm, Tone
from lineworthy_kicad.dialog.settings import Settings, Store
from lineworthy_kicad.dialog.wording import summary
from lineworthy_kicad.hosts.host import HostError

SUPPLY = "supply/manufacturer-part-missing"
MARK = FiducialMark("FID1", (5.0, 5.0), Side.TOP, 1.0, 2.0)
OTHER_MARK = FiducialMark("FID2", (55.0, 35.0), Side.TOP, 1.0, 2.0)
TEXT = MarkingText("REV A", "REV ${REVISION}", (30.0, 5.0), Side.TOP, 1.5, 0.2)


def concede(stage: Stage, check: str = SUPPLY, reason: str = "bought by the customer", name: str = "R. Novak") -> None:
    stage.view.ask_concession.side_effect = lambda form: replace(form, reason=reason, name=name)
    stage.presenter.select(stage.number_of(check))
    stage.presenter.concede()


def concession_file(stage: Stage) -> Path:
    return stage.folder / "widget.concessions.toml"


# -- conceding


def test_a_concession_is_recorded_with_everything_it_needs(opened: Stage) -> None:
    concede(opened)
    form: ConcessionForm = opened.view.ask_concession.call_args.args[0]
    assert (form.revision, form.date, form.file, form.name) == ("A", "2026-03-14", "widget.concessions.toml", "")
    finding = next(f for f in opened.reviews[0].findings if f.check == SUPPLY)
    assert form.finding == finding.message
    expected = Concession.of(finding, "bought by the customer", "R. Novak", DAY, revision="A")
    assert concessions.load(concession_file(opened)) == (expected,)
    assert opened.status == "Finding 5 is conceded (widget.concessions.toml)."


@pytest.mark.parametrize(
    ("last", "recorded"), [("2026-12-31", True), ("2026-03-14", True), ("2026-03-13", False), ("next year", False)]
)
def test_a_concession_may_have_a_last_day(opened: Stage, last: str, recorded: bool) -> None:
    opened.view.ask_concession.side_effect = lambda form: replace(form, reason="trial", name="R. Novak", expires=last)
    opened.presenter.select(opened.number_of(SUPPLY))
    opened.presenter.concede()
    if recorded:
        (given,) = concessions.load(concession_file(opened))
        assert given.expires == date.fromisoformat(last)
        assert [line.revision for line in opened.concessions] == [f"any, until {last}"]
    else:
        assert not concession_file(opened).exists()
        assert opened.status.startswith("Not conceded: ")
        assert opened.is_complaint


def test_a_conceded_finding_is_shown_and_does_not_count(opened: Stage) -> None:
    before = dict(opened.headline.counts)
    concede(opened)
    assert opened.headline.verdict == "Expect questions: 3 queries, nothing that stops the job; 1 conceded."
    assert dict(opened.headline.counts)[Consequence.QUERY] == before[Consequence.QUERY] - 1
    assert opened.headline.conceded == 1
    assert [row.conceded for row in opened.rows if row.number] == [False] * 4 + [True]
    assert dict(opened.detail.facts)["Conceded"] == "by R. Novak on 2026-03-14: bought by the customer"
    assert opened.detail.conceded
    (line,) = opened.concessions
    assert (line.applies, line.number) == ("accepts finding 5", 5)


def test_conceding_all_clears_the_verdict(tmp_path: Path) -> None:
    stage = Stage(tmp_path).open()
    for check in [f.check for f in stage.reviews[0].findings]:
        concede(stage, check)
    assert stage.headline.tone is Tone.CLEAR
    assert stage.headline.verdict == "Lineworthy: nothing found; 5 conceded."


def test_conceded_findings_can_be_hidden_but_not_by_consequence(opened: Stage) -> None:
    concede(opened)
    opened.presenter.filter(frozenset(Consequence), False, "", "")
    assert opened.numbers == [1, 2, 3, 4]
    opened.presenter.filter(frozenset(), True, "", "")
    assert opened.numbers == [5]


def test_a_concession_survives_closing_and_the_name_is_offered_again(opened: Stage) -> None:
    concede(opened)
    opened.presenter.close()
    again = Stage(opened.folder).open()
    assert again.headline.conceded == 1
    concede(again, "identity/revision-missing")
    assert again.view.ask_concession.call_args.args[0].name == "R. Novak"
    assert again.headline.conceded == 2


def test_a_concession_of_another_revision_is_listed_as_unused(opened: Stage) -> None:
    concede(opened)
    opened.host.text = document(revision="B")
    opened.presenter.review_again()
    opened.run()
    assert opened.headline.conceded == 0
    assert [line.applies for line in opened.concessions] == ["unused: made for revision A"]
    assert [row.text for row in opened.rows if row.text.startswith("1 concession was given for revision A")]


def test_a_concession_of_a_finding_that_is_gone_is_listed_as_unused(tmp_path: Path) -> None:
    stage = Stage(tmp_path, text=document(gap=0.9)).open()
    concede(stage, "spacing/parts-too-close")
    stage.host.text = document()
    stage.presenter.review_again()
    stage.run()
    assert [line.applies for line in stage.concessions] == ["unused: nothing like it found"]


def test_a_concession_that_has_expired_counts_again_until_it_is_given_anew(opened: Stage) -> None:
    found = next(f for f in opened.reviews[0].findings if f.check == SUPPLY)
    late = Concession(SUPPLY, found.fingerprint, "stock", "M. Adu", DAY, None, date(2026, 3, 13))
    concessions.save(concession_file(opened), [late])
    opened.presenter.review_again()
    opened.run()
    assert opened.headline.conceded == 0
    (line,) = opened.concessions
    assert (line.applies, line.revision) == ("unused: expired on 2026-03-13", "any, until 2026-03-13")
    note = "1 concession has expired: "
    assert [row for row in opened.rows if row.text.startswith(note)]
    concede(opened)
    assert not [row for row in opened.rows if row.text.startswith(note)]
    assert [line.applies for line in opened.concessions] == [f"accepts finding {opened.detail.number}"]
    flags = [spot.finding for picture in opened.presenter._outcome.pictures for spot in picture.spots]
    assert flags
    assert max(flags) < len(opened.numbers)


def test_conceding_on_the_command_line_and_in_the_window_is_the_same(opened: Stage) -> None:
    concede(opened)
    headless = review(opened.reviews[0].board, beside=gather(opened.folder / "widget.kicad_pcb", today=DAY))
    assert headless.verdict == opened.headline.verdict
    assert [f.check for f, _ in headless.conceded] == [SUPPLY]


def test_withdrawing_a_concession(opened: Stage) -> None:
    concede(opened)
    opened.view.confirm.return_value = False
    opened.presenter.concede()
    assert opened.headline.conceded == 1
    opened.view.confirm.return_value = True
    opened.presenter.concede()
    assert opened.headline.conceded == 0
    assert concessions.load(concession_file(opened)) == ()
    assert opened.status == "Finding 5 counts again."


@pytest.mark.parametrize(("reason", "name"), [("  ", "R. Novak"), ("because", ""), ("", "")])
def test_a_concession_needs_reason_and_name(opened: Stage, reason: str, name: str) -> None:
    concede(opened, reason=reason, name=name)
    assert not concession_file(opened).exists()
    assert opened.is_complaint


def test_thinking_better_of_it(opened: Stage) -> None:
    opened.view.ask_concession.return_value = None
    opened.presenter.select(5)
    opened.presenter.concede()
    assert not concession_file(opened).exists()


def test_nothing_selected_nothing_conceded(opened: Stage) -> None:
    opened.presenter.concede()
    opened.view.ask_concession.assert_not_called()
    assert opened.status == "Choose a finding first."


def test_an_unsaved_board_has_no_place_for_concessions(tmp_path: Path) -> None:
    stage = Stage(tmp_path, saved=False).open()
    concede(stage)
    stage.view.ask_concession.assert_not_called()
    assert stage.status == "Save the board first: concessions are kept in a file beside it."
    assert stage.is_complaint


def test_a_damaged_concession_file_accepts_nothing_is_told_and_not_overwritten(stage: Stage) -> None:
    concession_file(stage).write_text("[[concession]]\ncheck = 7\n")
    stage.open()
    (caution,) = stage.headline.cautions
    assert caution.startswith("Concessions are not applied: ")
    assert "widget.concessions.toml: concession 1: " in caution
    concede(stage)
    assert stage.status.startswith("The concession file is as it was: ")
    assert concession_file(stage).read_text() == "[[concession]]\ncheck = 7\n"


def test_a_concession_somebody_else_added_meanwhile_is_kept(opened: Stage) -> None:
    theirs = Concession("identity/revision-missing", "ff", "theirs", "M. Adu", DAY, "A")
    concessions.save(concession_file(opened), [theirs])
    concede(opened)
    kept = concessions.load(concession_file(opened))
    assert kept[0] == theirs
    assert len(kept) == 2


def test_a_folder_that_cannot_be_written(opened: Stage, tmp_path: Path) -> None:
    concession_file(opened).mkdir()
    concede(opened)
    assert opened.status.startswith("The concession file is as it was: ")
    assert opened.is_complaint


# -- inserting


def offer(stage: Stage, *amendments: object, refusals: tuple[Refusal, ...] = ()) -> None:
    gone = tuple(f for f in stage.reviews[-1].findings if f.area in ("fiducials", "identity"))
    stage.planner.answer = Offer(tuple(amendments), refusals, Proof(gone, ()))  # type: ignore[arg-type]


def test_insert_all_that_is_offered(opened: Stage) -> None:
    offer(opened, MARK, OTHER_MARK, TEXT, refusals=(Refusal("ground pad", "no room"),))
    opened.view.ask_insert.side_effect = lambda form: range(len(form.offers))
    opened.host.after_apply = document(revision="A", gap=0.9)
    verdict = opened.headline.verdict
    opened.presenter.insert()
    opened.run()
    form = opened.view.ask_insert.call_args.args[0]
    assert form.offers == (MARK.title, OTHER_MARK.title, TEXT.title)
    assert form.cannot == ("ground pad: no room",)
    assert len(form.cures) == 3
    assert opened.host.applied == [((MARK, OTHER_MARK, TEXT), "Lineworthy: insert 2 fiducials, 1 text")]
    assert opened.host.shown == [("new-0", "new-1", "new-2")], "what was inserted is selected in the editor"
    assert len(opened.reviews) == 2, "the board is read and reviewed again"
    assert opened.headline.verdict != verdict
    assert opened.status == (f"Inserted 2 fiducials, 1 text; one Undo in the editor takes it back. Before: {verdict}")


def test_a_pour_that_is_not_filled_again_is_said(opened: Stage) -> None:
    # through the inter-process interface filling would be an undo step of its own
    ring = "(pts (xy 0 -10) (xy 20 -10) (xy 20 0) (xy 0 0))"
    pour = (
        '(zone (net 1) (net_name "N1") (layer "F.Cu") (uuid "z") (hatch edge 0.5) (connect_pads (clearance 0.2))'
        f' (min_thickness 0.2) (fill yes) (polygon {ring}) (filled_polygon (layer "F.Cu") {ring}))'
    )
    offer(opened, MARK)
    opened.view.ask_insert.side_effect = lambda form: range(len(form.offers))
    opened.host.after_apply = document().rstrip()[:-1] + pour + ")\n"
    opened.presenter.insert()
    opened.run()
    assert opened.status.endswith(
        " Pours still run through what is new: fill all zones in the editor, then review again."
    )


def test_what_is_offered_is_drawn_on_its_side(opened: Stage) -> None:
    below = FiducialMark("FID3", (5.0, 5.0), Side.BOTTOM, 1.0, 2.0)
    offer(opened, MARK, below, TEXT, ToolingHole("H1", (50.0, 20.0), 3.0))
    opened.view.ask_insert.return_value = ()
    opened.presenter.insert()
    opened.run()
    maps = {side_map.side: side_map for side_map in opened.view.ask_insert.call_args.args[0].maps}
    top, bottom = dict(maps[Side.TOP].ghosts), dict(maps[Side.BOTTOM].ghosts)
    assert set(top) == {0, 2, 3}
    assert set(bottom) == {1, 3}, "a hole is on both sides"
    assert top[0].at == (5.0, 5.0 - 0.0)
    bounds = maps[Side.BOTTOM].picture.bounds
    assert bottom[1].at == pytest.approx((bounds.left + bounds.right - 5.0, 5.0)), "seen from below"
    assert top[0].diameters == (2.0, 1.0)
    assert top[2].text == "REV A"


def test_inserting_some_is_proven_first(opened: Stage) -> None:
    offer(opened, MARK, OTHER_MARK)
    opened.view.ask_insert.return_value = (1,)
    opened.planner.objects = ("FID2 would lie under R4", "and more")
    opened.presenter.insert()
    opened.run()
    assert opened.host.applied == []
    assert opened.status == "Not inserted: FID2 would lie under R4; and more"
    assert opened.is_complaint
    opened.planner.objects = ()
    opened.presenter.insert()
    opened.run()
    assert opened.host.applied == [((OTHER_MARK,), "Lineworthy: insert 1 fiducial")]


def test_insert_nothing(opened: Stage) -> None:
    offer(opened, MARK)
    opened.view.ask_insert.return_value = ()
    opened.presenter.insert()
    opened.run()
    assert opened.host.applied == []
    assert opened.status == "Nothing inserted."


def test_nothing_to_insert_says_why(opened: Stage) -> None:
    offer(opened, refusals=(Refusal("fiducials", "the board is full"),))
    opened.presenter.insert()
    opened.run()
    opened.view.ask_insert.assert_not_called()
    assert opened.status == "Nothing to insert; fiducials: the board is full."


def test_a_board_that_was_changed_meanwhile_is_reviewed_first(opened: Stage) -> None:
    """Else a part that was moved by hand could end up on a fiducial that was planned where it is now."""
    offer(opened, MARK)
    opened.view.ask_insert.return_value = (0,)
    opened.presenter.insert()
    opened.host.text = document(gap=0.9)
    opened.run()
    assert opened.host.applied == []
    assert len(opened.reviews) == 2
    assert opened.reviews[-1].findings != opened.reviews[0].findings, "the findings are those of the board now"
    assert opened.status.startswith("Nothing was inserted: the board has changed since its review.")
    assert opened.is_complaint
    opened.presenter.insert()
    opened.run()
    assert [chosen for chosen, _ in opened.host.applied] == [(MARK,)]
    assert opened.status.startswith("Inserted 1 fiducial")


@pytest.mark.parametrize("fault", [HostError("the zone tool is busy"), RuntimeError("boom")])
def test_a_host_that_refuses_to_insert(opened: Stage, fault: Exception) -> None:
    offer(opened, MARK)

    def choose(form: object) -> tuple[int, ...]:
        opened.host.fault = fault
        return (0,)

    opened.view.ask_insert.side_effect = choose
    opened.presenter.insert()
    opened.run()
    assert opened.status.startswith("Nothing was inserted: ")
    assert opened.is_complaint
    assert len(opened.reviews) == 1
    assert opened.numbers == [1, 2, 3, 4, 5]


def test_a_host_of_any_thread_is_read_in_the_background_before_inserting(opened: Stage) -> None:
    offer(opened, MARK)
    opened.host.any_thread = True  # type: ignore[attr-defined]
    fault = HostError("not asked on the main thread")
    asked_for: list[str] = []

    def choose(form: object) -> tuple[int, ...]:
        opened.host.fault = fault
        return (0,)

    def told(share: float, what: str) -> None:
        asked_for.append(what)
        opened.host.fault = None

    opened.view.ask_insert.side_effect = choose
    opened.view.show_progress.side_effect = told
    opened.presenter.insert()
    opened.run()
    assert "Reading widget.kicad_pcb" in asked_for
    assert [chosen for chosen, _ in opened.host.applied] == [(MARK,)]
    opened.view.show_progress.side_effect = None
    opened.presenter.insert()
    opened.run()
    assert opened.status.startswith("Nothing was inserted: not asked on the main thread")
    assert opened.is_complaint
    assert len(opened.host.applied) == 1


def test_a_planner_that_fails(opened: Stage) -> None:
    opened.planner.fault = ValueError("no room at all")
    opened.presenter.insert()
    opened.run()
    assert opened.status.startswith("ValueError: no room at all.")
    assert opened.is_complaint
    assert opened.numbers == [1, 2, 3, 4, 5]


def test_cancel_while_looking_for_room(opened: Stage) -> None:
    offer(opened, MARK)
    opened.presenter.insert()
    opened.settle()
    opened.presenter.cancel()
    opened.run()
    opened.view.ask_insert.assert_not_called()


def test_inserted_but_not_shown(opened: Stage) -> None:
    offer(opened, MARK)
    opened.view.ask_insert.return_value = (0,)

    def show(uids: object) -> bool:
        raise HostError("selection is locked")

    opened.host.show = show  # type: ignore[method-assign,assignment]
    opened.presenter.insert()
    opened.run()
    assert "Inserted 1 fiducial" in opened.status
    assert "Not shown: selection is locked" in opened.status


def test_no_insert_before_a_review(stage: Stage) -> None:
    stage.presenter.insert()
    assert stage.jobs == []


def test_summary_counts_by_kind() -> None:
    pad = ProbePad("TP1", (1.0, 1.0), Side.TOP, 1.5, "GND")
    hole = ToolingHole("H1", (1.0, 1.0), 3.0)
    assert summary([pad, MARK, hole, hole]) == "1 probe pad, 1 fiducial, 2 tooling holes"


# -- report


def test_a_report_is_written_and_the_choice_kept(opened: Stage) -> None:
    target = opened.folder / "out" / "r.json"
    opened.view.ask_report.return_value = (str(target), "json")
    opened.presenter.write_report()
    form = opened.view.ask_report.call_args.args[0]
    assert (form.folder, form.name, form.format) == (str(opened.folder), "widget", "html")
    assert len(json.loads(target.read_text())["findings"]) == 5
    assert opened.status == f"Report written: {target}."
    opened.presenter.write_report()
    form = opened.view.ask_report.call_args.args[0]
    assert (form.folder, form.format) == (str(target.parent), "json")


def test_a_report_holds_conceded_findings_apart(opened: Stage) -> None:
    concede(opened)
    opened.view.ask_report.return_value = (str(opened.folder / "r.json"), "json")
    opened.presenter.write_report()
    written = json.loads((opened.folder / "r.json").read_text())
    assert [item["concession"]["reason"] for item in written["conceded"]] == ["bought by the customer"]
    assert SUPPLY not in [item["check"] for item in written["findings"]]


def test_a_report_that_cannot_be_written(opened: Stage) -> None:
    (opened.folder / "file").write_text("")
    opened.view.ask_report.return_value = (str(opened.folder / "file" / "r.html"), "html")
    opened.presenter.write_report()
    assert opened.status.startswith("No report was written: ")
    assert opened.is_complaint
    assert opened.store.load().report_format == "html"
    assert opened.store.load().report_folder == ""


def test_no_report_asked_for_in_the_end(opened: Stage) -> None:
    opened.view.ask_report.return_value = None
    opened.presenter.write_report()
    assert list(opened.folder.glob("*.html")) == []


def test_no_report_before_a_review(stage: Stage) -> None:
    stage.presenter.write_report()
    stage.view.ask_report.assert_not_called()


def test_an_unsaved_board_is_reported_to_the_home_folder(tmp_path: Path) -> None:
    stage = Stage(tmp_path, saved=False).open()
    stage.view.ask_report.return_value = None
    stage.presenter.write_report()
    assert stage.view.ask_report.call_args.args[0].folder == str(Path.home())


# -- sheet


def test_the_sheets_there_are(opened: Stage) -> None:
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 1)


def test_another_sheet_reviews_the_board_that_was_read(opened: Stage) -> None:
    opened.host.fault = HostError("must not be asked")
    opened.presenter.choose_sheet(2)
    opened.run()
    assert opened.reviews[-1].sheet.name != opened.reviews[0].sheet.name
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 2)
    assert opened.store.load().sheet == "dense"


def test_a_sheet_from_a_file_is_offered_again(opened: Stage) -> None:
    file = opened.folder / "ours.toml"
    file.write_text('[sheet]\nname = "ours"\nbased_on = "standard"\n')
    opened.view.ask_sheet.return_value = str(file)
    opened.presenter.choose_sheet(3)
    opened.run()
    assert opened.reviews[-1].sheet.name == "ours"
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "ours.toml", "from a file..."], 3)
    opened.presenter.choose_sheet(0)
    opened.run()
    opened.presenter.choose_sheet(3)
    opened.run()
    assert opened.reviews[-1].sheet.name == "ours"
    assert opened.view.ask_sheet.call_count == 1


def test_a_damaged_sheet_changes_nothing(opened: Stage) -> None:
    file = opened.folder / "ours.toml"
    file.write_text("[fiducials]\nper_side_min_mm = 3\n")
    opened.view.ask_sheet.return_value = str(file)
    opened.presenter.choose_sheet(3)
    opened.run()
    assert opened.status.startswith("The sheet stays as it was: ")
    assert "ours.toml" in opened.status
    assert len(opened.reviews) == 1
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 1)


@pytest.mark.parametrize("fails", [False, True])
def test_a_sheet_whose_review_comes_to_nothing_is_not_taken(
    opened: Stage, fails: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_given: object) -> None:
        raise InputError("board", "by design")

    if fails:
        monkeypatch.setattr("lineworthy_kicad.dialog.presenter.review_board", fail)
    opened.presenter.choose_sheet(2)
    if not fails:
        opened.presenter.cancel()
    opened.run()
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 1)
    assert opened.status in (
        "Cancelled: these are the findings from before.",
        "board: by design. These are the findings from before.",
    )
    assert opened.store.load().sheet == "standard"
    opened.presenter.review_again()
    opened.run()
    assert opened.reviews[-1].sheet.name == opened.reviews[0].sheet.name


def test_closing_takes_back_what_was_shown_in_the_editor(opened: Stage) -> None:
    opened.host.leave = Mock(side_effect=RuntimeError("gone"))  # type: ignore[attr-defined]
    opened.presenter.close()
    opened.host.leave.assert_called_once()  # type: ignore[attr-defined]
    opened.view.close.assert_called_once()


def test_no_sheet_chosen_in_the_end(opened: Stage) -> None:
    opened.view.ask_sheet.return_value = None
    opened.presenter.choose_sheet(3)
    opened.run()
    assert len(opened.reviews) == 1
    opened.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 1)


def test_a_remembered_sheet_that_is_gone(tmp_path: Path) -> None:
    store = Store(tmp_path / "kept.json")
    store.save(Settings(sheet=str(tmp_path / "gone.toml"), sheet_file=str(tmp_path / "gone.toml")))
    stage = Stage(tmp_path, store=store)
    stage.open()
    assert stage.reviews[0].sheet == built_in("standard")
    (caution,) = stage.headline.cautions
    assert caution.startswith("Reviewed against the standard sheet: ")
    assert "gone.toml" in caution
    stage.presenter.choose_sheet(2)
    stage.run()
    assert stage.headline.cautions == ()


def settings(stage: Stage, text: str) -> None:
    (stage.folder / "widget.lineworthy.toml").write_text(text)


def test_the_projects_sheet_is_used_and_shown(stage: Stage) -> None:
    settings(stage, 'sheet = "dense"')
    stage.open()
    assert stage.reviews[0].sheet == built_in("dense")
    stage.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 2)
    assert stage.store.load().sheet == "standard"


def test_the_projects_sheet_is_a_file_beside_the_board(stage: Stage) -> None:
    settings(stage, 'sheet = "ours.toml"')
    (stage.folder / "ours.toml").write_text('[sheet]\nname = "ours"\nbased_on = "standard"\n')
    stage.open()
    assert stage.reviews[0].sheet.name == "ours"
    stage.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "ours.toml", "from a file..."], 3)


def test_a_sheet_chosen_in_the_window_wins_over_the_projects(stage: Stage) -> None:
    settings(stage, 'sheet = "dense"')
    stage.open()
    stage.presenter.choose_sheet(0)
    stage.run()
    assert stage.reviews[-1].sheet == built_in("relaxed")
    stage.presenter.review_again()
    stage.run()
    assert stage.reviews[-1].sheet == built_in("relaxed")
    stage.view.show_sheets.assert_called_with(["relaxed", "standard", "dense", "from a file..."], 0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = 1", "widget.lineworthy.toml: unknown entry 'x'"),
        ('sheet = "gone.toml"', "widget.lineworthy.toml: sheet: "),
        ('parts_list = "gone.csv"', "widget.lineworthy.toml: parts_list: "),
    ],
)
def test_settings_that_cannot_be_followed_are_told_and_the_rest_is_reviewed(stage: Stage, text: str, said: str) -> None:
    settings(stage, text)
    stage.open()
    (caution,) = stage.headline.cautions
    assert caution.startswith("Reviewed without: ")
    assert said in caution
    assert stage.reviews[0].sheet == built_in("standard")
    settings(stage, "")
    stage.presenter.review_again()
    stage.run()
    assert stage.headline.cautions == ()


def test_the_parts_list_of_the_settings_is_read(stage: Stage) -> None:
    settings(stage, 'parts_list = "parts.csv"')
    (stage.folder / "parts.csv").write_text("Reference,Value,Manufacturer Part\nR1,10k,ABC-1\n")
    stage.open()
    parts = stage.reviews[0].beside.parts
    assert parts is not None
    assert [line.references for line in parts.lines] == [("R1",)]


def test_a_sheet_chosen_before_the_first_review_is_used(stage: Stage) -> None:
    stage.presenter.open()
    stage.presenter.choose_sheet(2)
    stage.run()
    assert stage.store.load().sheet == "dense"
    assert len(stage.reviews) == 1
