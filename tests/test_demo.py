# SPDX-License-Identifier: MIT
"""The demo board: every planted mistake is found in its place, nothing else is, and the corrected state is clean."""

from __future__ import annotations

import datetime
import json
import math
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from lineworthy import Board, Consequence, Finding, gather, review
from lineworthy_kicad.reader import read_board

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

FOLDER = Path(__file__).resolve().parent.parent / "demo" / "frost-alarm"
FIRST, CORRECTED = FOLDER / "frost-alarm.kicad_pcb", FOLDER / "frost-alarm-corrected.kicad_pcb"
EDITOR_PYTHON = Path("/usr/bin/python3")
BUILT_WITH = "9.0.8"
"""Another version of the editor fills pours, and draws land patterns, a little differently."""

NEAR_MM = 0.5

PLANTED: list[dict[str, Any]] = tomllib.loads((FOLDER / "planted.toml").read_text(encoding="utf-8"))["planted"]


@cache
def _board(path: Path) -> Board:
    return read_board(path)


@cache
def _findings(path: Path) -> tuple[Finding, ...]:
    return tuple(review(_board(path)).findings)


def _references(finding: Finding) -> set[str]:
    by_uid = {part.uid: part.reference for part in _board(FIRST).parts}
    return {by_uid[uid] for uid in finding.uids if uid in by_uid}


def _shown(planted: dict[str, Any], finding: Finding) -> bool:
    """Whether every place of the planted mistake is among the finding's places."""
    spots = [place.at for place in finding.places]
    return all(any(math.dist(spot, wanted) <= NEAR_MM for spot in spots) for wanted in planted["places"])


def _answers(planted: dict[str, Any], finding: Finding) -> bool:
    return (
        finding.check == planted["check"]
        and finding.consequence.value == planted["consequence"]
        and set(planted["parts"]) <= _references(finding)
        and all(word in finding.message for word in planted["words"])
        and _shown(planted, finding)
    )


def _name(planted: dict[str, Any]) -> str:
    return " ".join([planted["check"], *planted["parts"], *planted["words"]])


@pytest.mark.parametrize("planted", PLANTED, ids=_name)
def test_planted_mistake_is_found_in_its_place(planted: dict[str, Any]) -> None:
    of_check = [finding for finding in _findings(FIRST) if finding.check == planted["check"]]
    assert any(_answers(planted, finding) for finding in of_check), of_check


def test_nothing_is_held_or_queried_that_was_not_planted() -> None:
    grave = [finding for finding in _findings(FIRST) if finding.consequence is not Consequence.NOTE]
    assert [f for f in grave if not any(_answers(planted, f) for planted in PLANTED)] == []


def test_mistakes_are_planted_in_every_area_of_the_board() -> None:
    areas = {planted["check"].split("/")[0] for planted in PLANTED}
    wanted = {"identity", "fiducials", "test-access", "panel", "supply", "spacing", "solder", "bare-board"}
    assert areas == wanted


def test_corrected_state_has_no_hold_and_no_query() -> None:
    assert [f for f in _findings(CORRECTED) if f.consequence is not Consequence.NOTE] == []


def test_corrected_state_was_really_reviewed() -> None:
    planted = {entry["check"] for entry in PLANTED}
    answer = review(_board(CORRECTED))
    assert planted <= set(answer.checks)
    assert not answer.crashed
    assert not [skipped for skipped in answer.not_run if skipped.check in planted]


def test_a_gap_in_the_edge_stops_the_job(tmp_path: Path) -> None:
    """A board whose edge is open cannot pass the editor's rule check, so this mistake is not in the demo itself."""
    text = CORRECTED.read_text(encoding="utf-8")
    left = "(start 100 132)\n\t\t(end 100 72)"  # the left edge, 0.3 mm short of its upper corner in the copy
    assert text.count(left) == 1
    broken = tmp_path / "open.kicad_pcb"
    broken.write_text(text.replace(left, left.replace("72", "72.3")), encoding="utf-8")
    (found,) = [f for f in review(read_board(broken)).findings if f.check == "bare-board/outline-open"]
    assert found.consequence is Consequence.HOLD
    assert found.measured == pytest.approx(0.3)
    assert math.dist(found.places[0].at, (100.0, -72.15)) <= NEAR_MM


def test_parts_keep_their_ids_from_one_state_to_the_other() -> None:
    first = {part.reference: part.uid for part in _board(FIRST).parts}
    corrected = {part.reference: part.uid for part in _board(CORRECTED).parts}
    assert len(first) > 100
    assert first.items() <= corrected.items()


def test_what_lies_beside_the_board_is_all_used() -> None:
    beside = gather(FIRST, today=datetime.date(2026, 11, 25))
    assert beside.parts is not None
    assert beside.offers is not None
    result = review(_board(FIRST), beside=beside)
    assert [finding.check for finding, _ in result.conceded] == ["panel/small-board-unplanned"]
    found = {(f.check, f.message) for f in result.findings}
    assert {(f.check, f.message) for f in _findings(FIRST) if f.area not in ("panel", "supply")} <= found
    assert not [check for check, _ in found if check.startswith("release/concession-")]
    assert [f for f in result.findings if f.area == "supply" and f.consequence is Consequence.HOLD]


@pytest.mark.parametrize("path", [FIRST, CORRECTED], ids=lambda path: path.stem)
def test_files_are_small_and_say_nothing_of_where_they_were_made(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text) < 2_000_000
    assert "/usr/" not in text
    assert "/home/" not in text


@pytest.mark.editor
@pytest.mark.parametrize("path", [FIRST, CORRECTED], ids=lambda path: path.stem)
def test_editor_rule_check_has_no_error_and_nothing_unconnected(path: Path, tmp_path: Path) -> None:
    report = tmp_path / "drc.json"
    for suffix in (".kicad_pcb", ".kicad_pro"):
        shutil.copy(path.with_suffix(suffix), tmp_path)
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "-o", str(report)]
    subprocess.run([*command, str(tmp_path / path.name)], check=True, capture_output=True, timeout=300)
    found = json.loads(report.read_text(encoding="utf-8"))
    # whether the footprint libraries are known depends on the user's own table, not on the board
    violations = {v["type"] for v in found["violations"]} - {"lib_footprint_issues", "lib_footprint_mismatch"}
    assert violations == set()
    assert found["unconnected_items"] == []


@pytest.mark.editor
@pytest.mark.long
def test_build_script_reproduces_the_committed_files(tmp_path: Path) -> None:
    version = subprocess.run(["kicad-cli", "version"], check=True, capture_output=True, text=True).stdout.strip()
    if version.split("+")[0].split("~")[0] != BUILT_WITH:
        pytest.skip(f"the committed boards were built with version {BUILT_WITH} of the editor, this is {version}")
    script = [str(EDITOR_PYTHON), str(FOLDER / "build.py"), "--out", str(tmp_path)]
    subprocess.run(script, check=True, capture_output=True, timeout=1800)
    for path in (FIRST, CORRECTED):
        for name in (path.name, path.with_suffix(".kicad_pro").name):
            assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes(), name
