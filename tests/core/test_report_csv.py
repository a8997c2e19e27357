# SPDX-License-Identifier: MIT
"""CSV reports: a line each, and nothing in them that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace

import pytest

import report_sample as sample
from lineworthy import Review
from lineworthy.report.csv import HEADER, render

REVIEWS: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "conceded": sample.conceded_review,
    "hostile": sample.hostile_review,
    "control": lambda: sample.hostile_review(sample.CONTROL),
    "surrogate": lambda: sample.hostile_review("\udc80\ud800"),
    "empty": sample.empty_review,
}


def lines(result: Review) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(render(result))))


@pytest.mark.parametrize("name", REVIEWS)
def test_a_line_for_everything_that_was_said(name: str) -> None:
    result = REVIEWS[name]()
    text = render(result)
    assert text.encode("utf-8") == render(REVIEWS[name]()).encode("utf-8")
    assert "\r" not in text
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == list(HEADER)
    assert all(len(row) == len(HEADER) for row in rows)
    said = len(result.findings) + len(result.conceded) + len(result.not_run) + len(result.crashed)
    assert len(rows) == len(text.splitlines()) == said + 1


def test_what_a_line_holds() -> None:
    result = sample.sample_review()
    rows = lines(result)
    close = next(row for row in rows if row["message"].startswith("R1 is 0.12"))
    assert (close["board"], close["state"], close["consequence"]) == ("widget", "open", "query")
    assert (close["measured"], close["unit"], close["limit key"]) == ("0.12", "mm", "spacing.chip_min_mm")
    assert close["places"] == "R1 (x 10 y 10 top); R2 (x 12.2 y 10 top)"
    assert close["items"] == "part-R1 part-R2"
    assert close["fingerprint"] == next(f for f in result.findings if f.message == close["message"]).fingerprint
    assert (rows[-1]["state"], rows[-1]["check"]) == ("not run", "supply/sample-list")


def test_conceded_lines_say_who_why_and_until_when() -> None:
    first, second, *rest = lines(sample.conceded_review())
    assert (first["state"], first["conceded on"], first["holds until"]) == ("conceded", "2026-03-14", "")
    assert first["reason"] == "placed by hand, five boards"
    assert second["holds until"] == "2026-12-31"
    assert {row["state"] for row in rest} == {"open", "not run"}


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "\t=1", "\r\n=1", "\u3000=1", "\uff1d1", '=cmd|"/c calc"!A1', "'=1"]
)
def test_no_text_is_a_formula(text: str) -> None:
    for result in (sample.hostile_review(text), sample.conceded_review(text)):
        for row in lines(result):
            for name, cell in row.items():
                if name not in ("measured", "limit"):
                    assert not cell.lstrip().startswith(tuple("=+-@\uff1d\uff0b\uff0d\uff20")), (name, cell)


def test_a_number_below_zero_stays_a_number() -> None:
    base = sample.sample_review()
    below = replace(base, findings=tuple(replace(f, measured=-0.5, limit=0.1) for f in base.findings))
    assert lines(below)[0]["measured"] == "-0.5"
