# SPDX-License-Identifier: MIT
"""The presenter with the real planners and a host that really inserts: from hold to verdict, and back by Undo."""

from __future__ import annotations

import sys
from pathlib import Path

from dialog_stage import Stage

sys.path.insert(0, str(Path(__file__).parents[1] / "hosts"))

from fake_host import FakeHost

from lineworthy_kicad.dialog.planner import CorePlanner
from lineworthy_kicad.dialog.presenter import Presenter

BOARD = Path(__file__).parents[2] / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"


def test_insert_changes_the_verdict_and_undo_brings_it_back(tmp_path: Path) -> None:
    stage = Stage(tmp_path)
    project = BOARD.with_suffix(".kicad_pro").read_text(encoding="utf-8")
    host = FakeHost(BOARD.read_text(encoding="utf-8"), BOARD.name, str(tmp_path / BOARD.name), project)
    stage.presenter = Presenter(
        host, stage.view, stage.store, stage.jobs.append, CorePlanner(), reviewed=stage.reviews.append
    )
    stage.open()
    before = stage.headline.verdict
    first = stage.reviews[0]
    assert before.startswith("On hold")
    stage.view.ask_insert.side_effect = lambda form: range(len(form.offers))
    stage.presenter.insert()
    stage.run()
    form = stage.view.ask_insert.call_args.args[0]
    gone = {f.message for f in first.findings} - {f.message for f in stage.reviews[-1].findings}
    assert form.cures
    assert set(form.cures) <= gone, "what the preview promised is what happened"
    assert "fiducials/too-few" not in {f.check for f in stage.reviews[-1].findings}
    assert not stage.headline.verdict.startswith("On hold")
    assert f"one Undo in the editor takes it back. Before: {before}" in stage.status
    assert stage.status.endswith("fill all zones in the editor, then review again."), "this host does not fill them"
    assert len(host.shown) == 1, "what was inserted is selected"
    assert len(host.shown[0]) == len(form.offers)
    host.undo()
    stage.presenter.review_again()
    stage.run()
    assert stage.reviews[-1].findings == first.findings
    assert stage.headline.verdict == before
