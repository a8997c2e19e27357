# SPDX-License-Identifier: MIT
"""Every finding on the editor's demo boards has been read against the board and judged.

The tables in ``tests/judged/AREA.csv`` are the record: a finding that is not in them, or one of them that no
longer appears, fails here until a person has looked and written down what they saw.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import pytest

import demos
from lineworthy import review
from lineworthy.registry import AREAS

JUDGED = Path(__file__).parent / "judged"
COLUMNS = ("board", "check", "consequence", "fingerprint", "message", "judgement", "reason")
KEY = COLUMNS[:5]

Row = dict[str, str]


def recorded(area: str) -> list[Row]:
    path = JUDGED / f"{area}.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def found(areas: Sequence[str]) -> dict[str, list[Row]]:
    rows: dict[str, list[Row]] = {area: [] for area in areas}
    for path in demos.paths():
        result = review(demos.read(path), only=areas, strict=True)
        for finding in result.findings:
            values = (demos.name(path), finding.check, finding.consequence.value, finding.fingerprint, finding.message)
            rows[finding.area].append(dict(zip(KEY, values)))
    return rows


@pytest.fixture(scope="module")
def findings(request: pytest.FixtureRequest) -> dict[str, list[Row]]:
    """What the checks find, in the areas this run asks for (``-k solder`` reviews a fraction of the time)."""
    assert demos.paths(), demos.HOW
    asked = {item.callspec.params["area"] for item in request.session.items if item.path == Path(__file__)}
    return found([area for area in AREAS if area in asked])


def key(row: Row) -> tuple[str, ...]:
    return tuple(row[column] for column in KEY)


@pytest.mark.editor
@pytest.mark.slow
@pytest.mark.parametrize("area", AREAS)
def test_every_finding_on_the_demo_boards_is_judged(area: str, findings: dict[str, list[Row]], request) -> None:
    known = {key(row): row for row in recorded(area)}
    if request.config.getoption("--rewrite-judged"):
        rewrite(area, findings[area], known)
        known = {key(row): row for row in recorded(area)}
    seen = {key(row) for row in findings[area]}
    new = sorted(seen - set(known))
    gone = sorted(set(known) - seen)
    assert not new, f"{len(new)} findings nobody has judged, first: {new[:3]}"
    assert not gone, f"{len(gone)} judged findings no longer appear, first: {gone[:3]}"
    doubtful = [row for row in known.values() if row["judgement"] not in ("true", "arguable") or not row["reason"]]
    assert not doubtful, f"{len(doubtful)} findings without a judgement and reason, first: {doubtful[:3]}"


def rewrite(area: str, rows: list[Row], known: dict[tuple[str, ...], Row]) -> None:
    if not rows and not known:
        return
    # a reworded message is still the same finding: keep what was said about its fingerprint
    by_fingerprint = {(row["board"], row["fingerprint"]): row for row in known.values()}
    with (JUDGED / f"{area}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        for row in sorted(rows, key=key):
            old = known.get(key(row)) or by_fingerprint.get((row["board"], row["fingerprint"]), {})
            writer.writerow({**row, "judgement": old.get("judgement", "unjudged"), "reason": old.get("reason", "")})
