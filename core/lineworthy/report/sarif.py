# SPDX-License-Identifier: MIT
"""A review as SARIF 2.1.0, the OASIS format that code hosts and editors show findings from.

A check is a rule, a finding a result, a concession a suppression, a check not run a notification. Files are named
relative to where the review ran; a board given by an absolute path is named by its file name alone.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import PurePath, PureWindowsPath
from typing import Any, Optional
from urllib.parse import quote

from lineworthy import __version__
from lineworthy.concessions import Concession
from lineworthy.finding import Consequence, Finding, Place
from lineworthy.model import Board
from lineworthy.registry import SECTIONS, Check
from lineworthy.report.facts import Numbered, accepted_by, check_help, limit_origin, numbered, question, where
from lineworthy.review import Review
from lineworthy.safe import visible

VERSION = "2.1.0"
SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

LEVELS = {Consequence.HOLD: "error", Consequence.QUERY: "warning", Consequence.NOTE: "note"}


def render(review: Review, checks: Optional[Sequence[Check]] = None) -> str:
    """The review as a SARIF log: the same review gives the same bytes.

    Args:
        review: what was found.
        checks: where the checks' documentation is looked up; those of this library when None.
    """
    text = json.dumps(document(review, checks), indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "replace").decode("utf-8") + "\n"


def document(review: Review, checks: Optional[Sequence[Check]] = None) -> dict[str, Any]:
    """The log as plain data, with one run."""
    rows = numbered(review)
    ids = list(dict.fromkeys((*review.checks, *(row.finding.check for row in rows))))
    driver = {
        "name": "lineworthy",
        "version": __version__,
        "rules": [_rule(check_id, checks) for check_id in ids],
    }
    run = {
        "tool": {"driver": driver},
        # code hosts keep the results of runs apart by this id: each board is a run of its own
        "automationDetails": {"id": f"lineworthy/{_artifact(review.board)['uri']}/"},
        "invocations": [_invocation(review)],
        "artifacts": [{"location": _artifact(review.board)}],
        "results": [_result(row, review, ids) for row in rows],
        "columnKind": "unicodeCodePoints",
        "properties": {"verdict": review.verdict, "capabilitySheet": review.sheet.name},
    }
    return {"$schema": SCHEMA, "version": VERSION, "runs": [run]}


def _rule(check_id: str, checks: Optional[Sequence[Check]]) -> dict[str, Any]:
    told = check_help(check_id, checks)
    rule: dict[str, Any] = {"id": check_id, "properties": {"tags": [check_id.split("/", 1)[0]]}}
    if told.what:
        short, _ = question(told)
        parts = [(title, told.sections[title]) for title in SECTIONS if title in told.sections]
        rule |= {
            "shortDescription": _message(short),
            "fullDescription": _message(told.what),
            "help": {
                **_message("\n\n".join(f"{title}: {words}" for title, words in parts) or told.what),
                "markdown": _escaped("\n\n".join(f"**{title}.** {words}" for title, words in parts) or told.what),
            },
        }
    return rule


def _invocation(review: Review) -> dict[str, Any]:
    said: dict[str, Any] = {"executionSuccessful": not review.crashed}
    if review.crashed:
        said["toolExecutionNotifications"] = [
            {"level": "error", "message": _message(visible(c.error)), "associatedRule": {"id": c.check}}
            for c in review.crashed
        ]
    if review.not_run:
        said["toolConfigurationNotifications"] = [
            {
                "level": "warning",
                "message": _message(visible(f"Not run: {n.missing}. {n.how}")),
                "associatedRule": {"id": n.check},
            }
            for n in review.not_run
        ]
    return said


def _result(row: Numbered, review: Review, ids: Sequence[str]) -> dict[str, Any]:
    finding = row.finding
    return {
        "ruleId": finding.check,
        "ruleIndex": ids.index(finding.check),
        "kind": "fail",
        "level": LEVELS[finding.consequence],
        "message": _message(visible(finding.message)),
        "locations": _locations(finding, review.board),
        "fingerprints": {"lineworthy/1": finding.fingerprint},
        # an empty list says that nobody has accepted it, no list that nobody knows
        "suppressions": [_suppression(row.concession)] if row.concession else [],
        "properties": _properties(row, review),
    }


def _locations(finding: Finding, board: Board) -> list[dict[str, Any]]:
    """One for each place, or one for the board as a whole; the first names the items by the editor's ids."""
    here = {"physicalLocation": {"artifactLocation": {**_artifact(board), "index": 0}}}
    made = [{**here, **_place(place, board)} for place in finding.places] or [here]
    items = [{"fullyQualifiedName": visible(uid), "kind": "item"} for uid in finding.uids]
    if items:
        made[0] = {**made[0], "logicalLocations": [*made[0].get("logicalLocations", []), *items]}
    return made


def _place(place: Place, board: Board) -> dict[str, Any]:
    label, spot = visible(place.label), where(place, board)
    said: dict[str, Any] = {"message": _message(f"{label} ({spot})" if label else spot)}
    if label:
        said["logicalLocations"] = [{"name": label, "kind": "place"}]
    return said


def _artifact(board: Board) -> dict[str, Any]:
    path = board.path or board.name
    pure: PurePath = PureWindowsPath(path) if PureWindowsPath(path).drive else PurePath(path)
    relative = not (pure.is_absolute() or pure.anchor or ".." in pure.parts)
    return {"uri": quote(pure.as_posix() if relative else pure.name, errors="replace") or "board"}


def _suppression(concession: Concession) -> dict[str, Any]:
    return {
        "kind": "external",
        "status": "accepted",
        "justification": f"{visible(concession.reason)} ({visible(accepted_by(concession))})",
    }


def _properties(row: Numbered, review: Review) -> dict[str, Any]:
    """What SARIF has no word for; a comparison only where there is one."""
    finding = row.finding
    said: dict[str, Any] = {"number": row.number, "area": finding.area, "consequence": finding.consequence.value}
    for name, value in (("measured", finding.measured), ("limit", finding.limit)):
        if value is not None and abs(value) < float("inf"):
            said[name] = round(value, 6) + 0.0
    if finding.unit:
        said["unit"] = visible(finding.unit)
    origin = limit_origin(finding, review.sheet)
    if origin is not None:
        said |= {"limitKey": origin.key, "limitSource": visible(origin.source), "limitSheet": visible(origin.sheet)}
    return said


def _message(text: str) -> dict[str, str]:
    return {"text": _escaped(text)}


def _escaped(text: str) -> str:
    """Plain text as SARIF wants it: braces are doubled, as single ones are placeholders; brackets make no links."""
    return text.replace("{", "{{").replace("}", "}}").replace("](", "] (")
