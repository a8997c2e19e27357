# SPDX-License-Identifier: MIT
"""JSON reports keep the promise of the published schema."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

import report_sample as sample
from lineworthy import Consequence, Place, Review, __version__
from lineworthy.finding import Finding
from lineworthy.model import Side
from lineworthy.registry import AREAS
from lineworthy.report import FORMATS
from lineworthy.report.json import document, render, schema

REVIEWS: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "crowded": sample.crowded_review,
    "hostile": sample.hostile_review,
    "conceded": sample.conceded_review,
    "conceded hostile": lambda: sample.conceded_review(sample.HOSTILE + sample.CONTROL),
    "control": lambda: sample.hostile_review(sample.CONTROL),
    "surrogate": lambda: sample.hostile_review("\udc80\ud800"),
    "empty": sample.empty_review,
}


def check_schema(data: Any) -> None:
    Draft202012Validator(schema()).validate(data)


def test_the_schema_is_a_schema_and_knows_every_area() -> None:
    Draft202012Validator.check_schema(schema())
    assert schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema()["$defs"]["finding"]["properties"]["area"]["enum"] == list(AREAS)
    consequences = schema()["$defs"]["finding"]["properties"]["consequence"]["enum"]
    assert consequences == [c.value for c in Consequence]


@pytest.mark.parametrize("name", REVIEWS)
def test_reports_follow_the_schema_and_are_utf8(name: str) -> None:
    text = render(REVIEWS[name]())
    check_schema(json.loads(text))
    assert text.encode("utf-8")


@pytest.mark.parametrize("name", REVIEWS)
def test_same_input_same_bytes(name: str) -> None:
    assert render(REVIEWS[name]()) == render(REVIEWS[name]())


def test_the_schema_refuses_what_was_not_promised() -> None:
    data = document(sample.sample_review())
    for spoil in (
        lambda d: d.update(version=2),
        lambda d: d.update(extra=1),
        lambda d: d.pop("not_run"),
        lambda d: d["findings"][0].update(consequence="error"),
        lambda d: d["findings"][0].update(measured="0.1"),
        lambda d: d["findings"][1]["places"][0].pop("x_mm"),
        lambda d: d["findings"][0].update(check="nonsense/x"),
        lambda d: d["cautions"].clear(),
    ):
        spoiled = json.loads(json.dumps(data))
        spoil(spoiled)
        with pytest.raises(ValidationError):
            check_schema(spoiled)


def test_content() -> None:
    result = sample.sample_review()
    data = json.loads(render(result))
    assert (data["format"], data["version"]) == ("lineworthy-review", 1)
    assert data["tool"] == {"name": "lineworthy", "version": __version__}
    assert data["board"] == {
        "name": "widget",
        "path": "boards/widget.kicad_pcb",
        "title": "Widget",
        "revision": "B",
        "date": "2026-01-02",
        "company": "Acme",
        "width_mm": 60.0,
        "height_mm": 40.0,
        "thickness_mm": 1.6,
        "copper_layers": ["top", "bottom"],
        "parts": {"top": 4, "bottom": 1, "not_fitted": 1},
    }
    assert data["verdict"] == {
        "line": result.verdict,
        "hold": 1,
        "query": 4,
        "note": 3,
        "not_run": 1,
        "crashed": 0,
        "conceded": 0,
    }
    last = data["findings"][-1]
    assert last["check"] == "spacing/sample-close"
    assert (last["measured"], last["limit"], last["unit"]) == (0.12, result.sheet.spacing.chip_min_mm, "mm")
    assert last["limit_source"] == result.sheet.source("spacing.chip_min_mm")
    assert last["limit_sheet"] == result.sheet.origins["spacing.chip_min_mm"].sheet
    assert last["places"][0] == {"x_mm": 30, "y_mm": 20, "side": "top", "label": "U1"}
    assert last["uids"] == ["part-U1", "part-J1"]
    assert [f["fingerprint"] for f in data["findings"]] == [f.fingerprint for f in result.findings]
    assert data["not_run"] == [{"check": "supply/sample-list", "missing": "No parts list", "how": "Give one"}]
    assert data["checks"] == [check.id for check in sample.CHECKS]
    assert data["areas"][3] == {
        "area": "spacing",
        "hold": 0,
        "query": 4,
        "note": 0,
        "not_run": 0,
        "crashed": 0,
        "checks": 1,
    }


def test_numbers_that_json_does_not_know_are_null() -> None:
    odd = Finding(
        "spacing/sample-close",
        Consequence.NOTE,
        "odd",
        (Place((math.nan, -0.0), Side.TOP),),
        measured=math.inf,
        limit=math.nan,
    )
    data = document(replace(sample.sample_review(), findings=(odd,)))
    check_schema(data)
    assert (data["findings"][0]["measured"], data["findings"][0]["limit"]) == (None, None)
    assert data["findings"][0]["places"][0]["x_mm"] is None
    assert json.dumps(data["findings"][0]["places"][0]["y_mm"]) == "0.0"


def test_hostile_text_comes_back_unchanged() -> None:
    assert json.loads(render(sample.hostile_review()))["board"]["name"] == sample.HOSTILE


def test_every_format_renders_and_ends_with_a_line_end() -> None:
    for name, made in FORMATS.items():
        assert made.suffix.startswith("."), name
        assert "/" in made.media
        assert made.render(sample.sample_review()).endswith("\n")


def test_conceded_findings_stand_apart_with_who_accepted_them() -> None:
    data = document(sample.conceded_review())
    assert data["verdict"]["conceded"] == 2
    assert data["verdict"]["hold"] == 0
    first, second = data["conceded"]
    assert first["message"] == "No part number in widget"
    assert first["concession"] == {
        "reason": "placed by hand, five boards",
        "name": "placed by hand, five boards",
        "date": "2026-03-14",
        "revision": "B",
        "expires": None,
    }
    assert (second["concession"]["revision"], second["concession"]["expires"]) == (None, "2026-12-31")
    assert first["fingerprint"] not in {item["fingerprint"] for item in data["findings"]}
    assert schema()["$defs"]["conceded"]["required"] == [*schema()["$defs"]["finding"]["required"], "concession"]
