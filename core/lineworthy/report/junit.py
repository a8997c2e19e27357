# SPDX-License-Identifier: MIT
"""A review as JUnit XML, for whatever shows test results: a check is a test case, which a hold fails.

Queries and notes are listed in the case's output and fail nothing, as a factory would not stop for them either. A check
that lacked its input is skipped, one that broke is an error. Written to the schema of Jenkins' xunit plug-in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lineworthy.finding import Consequence, Finding
from lineworthy.registry import AREAS
from lineworthy.report.facts import accepted_by
from lineworthy.review import Review
from lineworthy.safe import markup


def render(review: Review) -> str:
    """The review as XML: a suite for each area; the same review gives the same bytes."""
    board = markup(review.board.name)
    suites = [line for area in AREAS for line in _suite(review, area)]
    cases, failures, errors, _ = _counts(review, review.checks)
    head = f'<testsuites name="{board}" tests="{cases}" failures="{failures}" errors="{errors}">'
    return "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', head, *suites, "</testsuites>", ""])


def _suite(review: Review, area: str) -> Iterator[str]:
    asked = [check_id for check_id in review.checks if check_id.split("/", 1)[0] == area]
    if not asked:
        return
    cases, failures, errors, skipped = _counts(review, asked)
    counts = f'tests="{cases}" failures="{failures}" errors="{errors}" skipped="{skipped}"'
    yield f'<testsuite name="{markup(review.board.name)}: {area}" {counts}>'
    for check_id in asked:
        yield f'<testcase classname="lineworthy.{area}" name="{check_id}">'
        yield from _outcome(review, check_id)
        yield "</testcase>"
    yield "</testsuite>"


def _counts(review: Review, asked: Sequence[str]) -> tuple[int, int, int, int]:
    kinds = [_kind(review, check_id) for check_id in asked]
    return len(kinds), kinds.count("failure"), kinds.count("error"), kinds.count("skipped")


def _kind(review: Review, check_id: str) -> str:
    if any(crash.check == check_id for crash in review.crashed):
        return "error"
    found = [finding for finding in review.findings if finding.check == check_id]
    if any(finding.consequence is Consequence.HOLD for finding in found):
        return "failure"
    # one that could be asked in part has said what it has to say
    answered = found or any(finding.check == check_id for finding, _ in review.conceded)
    return "skipped" if not answered and any(item.check == check_id for item in review.not_run) else "passed"


def _outcome(review: Review, check_id: str) -> Iterator[str]:
    kind = _kind(review, check_id)
    found = [finding for finding in review.findings if finding.check == check_id]
    missing = [f"{item.missing}. {item.how}" for item in review.not_run if item.check == check_id]
    if kind == "error":
        said = [crash.error for crash in review.crashed if crash.check == check_id]
        yield f'<error type="failed" message="{markup(said[0])}"/>'
    elif kind == "failure":
        holds = [finding for finding in found if finding.consequence is Consequence.HOLD]
        told = "\n".join(markup(_line(finding)) for finding in holds)
        yield f'<failure type="hold" message="{markup(holds[0].message)}">{told}</failure>'
        found = [finding for finding in found if finding not in holds]
    elif kind == "skipped":
        yield f'<skipped message="{markup(" ".join(missing))}"/>'
        missing = []
    rest = [
        *(f"{finding.consequence.value}: {_line(finding)}" for finding in found),
        *(
            f"conceded {finding.consequence.value}: {_line(finding)} ({accepted_by(concession)}: {concession.reason})"
            for finding, concession in review.conceded
            if finding.check == check_id
        ),
        *(f"not run in part: {line}" for line in missing),
    ]
    if rest:
        yield "<system-out>" + "\n".join(map(markup, rest)) + "</system-out>"


def _line(finding: Finding) -> str:
    labels = ", ".join(place.label for place in finding.places[:3] if place.label)
    more = f" and {len(finding.places) - 3} more" if len(finding.places) > 3 else ""
    return f"{finding.message} (at {labels}{more})" if labels else finding.message
