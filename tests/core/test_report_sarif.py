# SPDX-License-Identifier: MIT
"""SARIF reports keep to the committee's schema, and say what is found, accepted, not run and failed."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator, ValidationError

import report_sample as sample
from lineworthy import Review
from lineworthy.checks import CHECKS
from lineworthy.report.sarif import document, render
from lineworthy.review import review

SCHEMA = json.loads((Path(__file__).parents[1] / "schemas" / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))

REVIEWS: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "conceded": sample.conceded_review,
    "conceded hostile": lambda: sample.conceded_review(sample.HOSTILE + sample.CONTROL),
    "hostile": sample.hostile_review,
    "control": lambda: sample.hostile_review(sample.CONTROL),
    "surrogate": lambda: sample.hostile_review("\udc80\ud800"),
    "empty": sample.empty_review,
    "every check": lambda: review(sample.sample_board()),
}


def run_of(result: Review) -> dict[str, Any]:
    """The run, after the committee's schema has passed the whole."""
    log = json.loads(render(result, sample.CHECKS))
    Draft7Validator(SCHEMA).validate(log)
    (run,) = log["runs"]
    return run


@pytest.mark.parametrize("name", REVIEWS)
def test_reports_follow_the_schema_and_repeat_byte_for_byte(name: str) -> None:
    text = render(REVIEWS[name]())
    Draft7Validator(SCHEMA).validate(json.loads(text))
    assert text.encode("utf-8") == render(REVIEWS[name]()).encode("utf-8")


def test_the_schema_would_notice() -> None:
    spoilt = document(sample.sample_review())
    spoilt["runs"][0]["results"][0]["level"] = "hold"
    with pytest.raises(ValidationError):
        Draft7Validator(SCHEMA).validate(spoilt)


def test_a_finding_is_a_result_with_level_place_and_items() -> None:
    result = sample.sample_review()
    run = run_of(result)
    assert [r["level"] for r in run["results"]] == ["error", "note", "note", "note"] + ["warning"] * 4
    close = next(r for r in run["results"] if r["message"]["text"].startswith("R1 is 0.12"))
    assert run["tool"]["driver"]["rules"][close["ruleIndex"]]["id"] == "spacing/sample-close"
    assert close["message"]["text"] == "R1 is 0.12 mm from R2"
    first, second = close["locations"]
    assert first["physicalLocation"]["artifactLocation"]["uri"] == "boards/widget.kicad_pcb"
    assert first["message"]["text"] == "R1 (x 10 y 10 top)"
    assert first["logicalLocations"] == [
        {"name": "R1", "kind": "place"},
        {"fullyQualifiedName": "part-R1", "kind": "item"},
        {"fullyQualifiedName": "part-R2", "kind": "item"},
    ]
    assert second["logicalLocations"] == [{"name": "R2", "kind": "place"}]
    assert close["properties"]["measured"] == 0.12
    assert close["properties"]["limitKey"] == "spacing.chip_min_mm"
    assert close["suppressions"] == []
    prints = [r["fingerprints"]["lineworthy/1"] for r in run["results"]]
    assert prints == [f.fingerprint for _, f in sorted((r.number, r.finding) for r in _numbered(result))]


def _numbered(result: Review) -> Any:
    from lineworthy.report.facts import numbered

    return numbered(result)


def test_a_finding_about_the_whole_board_has_the_board_as_its_place() -> None:
    (nameless,) = [r for r in run_of(sample.sample_review())["results"] if r["level"] == "error"]
    (place,) = nameless["locations"]
    assert list(place) == ["physicalLocation"]


def test_rules_hold_the_documentation_of_every_check_asked() -> None:
    rules = run_of(sample.sample_review())["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == [item.id for item in sample.CHECKS]
    assert rules[0]["shortDescription"]["text"] == "Does the board say what it is?"
    assert "What to do: Print the number." in rules[0]["help"]["text"]
    ours = document(review(sample.sample_board()))["runs"][0]["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in ours] == [item.id for item in CHECKS]
    assert all(rule["help"]["text"] and rule["shortDescription"]["text"] for rule in ours)


def test_a_concession_is_a_suppression() -> None:
    run = run_of(sample.conceded_review())
    accepted = {r["properties"]["number"]: r["suppressions"] for r in run["results"]}
    assert [number for number, given in accepted.items() if given] == [1, 2]
    (given,) = accepted[1]
    assert (given["kind"], given["status"]) == ("external", "accepted")
    assert given["justification"].startswith("placed by hand, five boards (conceded by ")
    assert "2026-03-14, for revision B" in given["justification"]
    assert "until 2026-12-31" in accepted[2][0]["justification"]
    assert len(run["results"]) == len(run_of(sample.sample_review())["results"])


def test_silence_and_failures_are_told() -> None:
    (invocation,) = run_of(sample.sample_review())["invocations"]
    assert invocation["executionSuccessful"] is True
    (told,) = invocation["toolConfigurationNotifications"]
    assert told["associatedRule"] == {"id": "supply/sample-list"}
    assert told["message"]["text"] == "Not run: No parts list. Give one"
    (failed,) = run_of(sample.hostile_review())["invocations"]
    assert failed["executionSuccessful"] is False
    assert failed["toolExecutionNotifications"][0]["level"] == "error"


@pytest.mark.parametrize(
    ("path", "uri"),
    [
        ("boards/a b.kicad_pcb", "boards/a%20b.kicad_pcb"),
        ("./x.kicad_pcb", "x.kicad_pcb"),
        ("/home/somebody/secret/x.kicad_pcb", "x.kicad_pcb"),
        ("../elsewhere/x.kicad_pcb", "x.kicad_pcb"),
        ("C:\\Users\\somebody\\x.kicad_pcb", "x.kicad_pcb"),
        ("\\\\server\\share\\x.kicad_pcb", "x.kicad_pcb"),
        ("javascript:alert(1)", "javascript%3Aalert%281%29"),
        ("caf\udce9.kicad_pcb", "caf%3F.kicad_pcb"),
        ("", "widget"),
    ],
)
def test_no_absolute_path_leaves_the_machine(path: str, uri: str) -> None:
    result = replace(sample.sample_review(), board=replace(sample.sample_board(), path=path))
    run = run_of(result)
    assert run["artifacts"][0]["location"]["uri"] == uri
    assert "somebody" not in json.dumps(run)


def test_board_text_makes_no_placeholder_and_no_link() -> None:
    said = replace(sample.sample_review().findings[0], message="net ~{RESET} [click](http://x.example)\x1b")
    (result,) = run_of(replace(sample.sample_review(), findings=(said,)))["results"]
    assert result["message"]["text"] == "net ~{{RESET}} [click] (http://x.example)\\x1b"
