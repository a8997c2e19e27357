# SPDX-License-Identifier: MIT
"""A review as a table (CSV, UTF-8, commas) for spreadsheets and scripts: a line per finding and per check not run."""

from __future__ import annotations

import csv
import io
from typing import Optional

from lineworthy.concessions import Concession
from lineworthy.finding import Finding
from lineworthy.report.facts import figure, numbered, where
from lineworthy.review import Review
from lineworthy.safe import cell

HEADER = (
    "board",
    "number",
    "state",
    "consequence",
    "area",
    "check",
    "message",
    "measured",
    "limit",
    "unit",
    "limit key",
    "places",
    "items",
    "fingerprint",
    "conceded by",
    "conceded on",
    "holds until",
    "reason",
)
"""State is open, conceded, not run or failed; places are in mm from the board's lower left corner."""


def render(review: Review) -> str:
    """The review as CSV: the same review gives the same bytes."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow(HEADER)
    for row in numbered(review):
        lines.writerow(_line(review, row.number, row.finding, row.concession))
    for item in review.not_run:
        lines.writerow(_silent(review, "not run", item.check, f"{item.missing}. {item.how}"))
    for crash in review.crashed:
        lines.writerow(_silent(review, "failed", crash.check, crash.error))
    return out.getvalue().encode("utf-8", "replace").decode("utf-8")


def _line(review: Review, number: int, finding: Finding, concession: Optional[Concession]) -> list[str]:
    accepted = ("", "", "", "")
    if concession is not None:
        until = concession.expires.isoformat() if concession.expires else ""
        accepted = (concession.name, concession.date.isoformat(), until, concession.reason)
    places = "; ".join(
        f"{place.label} ({where(place, review.board)})" if place.label else where(place, review.board)
        for place in finding.places
    )
    return [
        cell(review.board.name),
        str(number),
        "open" if concession is None else "conceded",
        finding.consequence.value,
        finding.area,
        finding.check,
        cell(finding.message),
        # numbers are ours, and may begin with a minus
        "" if finding.measured is None else figure(finding.measured, 6),
        "" if finding.limit is None else figure(finding.limit, 6),
        cell(finding.unit),
        cell(finding.limit_key),
        cell(places),
        cell(" ".join(finding.uids)),
        cell(finding.fingerprint),
        *map(cell, accepted),
    ]


def _silent(review: Review, state: str, check_id: str, message: str) -> list[str]:
    area = check_id.split("/", 1)[0]
    given = [cell(review.board.name), "", state, "", area, check_id, cell(message)]
    return given + [""] * (len(HEADER) - len(given))
