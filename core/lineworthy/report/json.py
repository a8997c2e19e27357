# SPDX-License-Identifier: MIT
"""A review as JSON, for scripts, as ``review.schema.json`` promises; a change that breaks readers raises `VERSION`."""

from __future__ import annotations

import json
import math
from importlib import resources
from typing import Any, Optional

from lineworthy import __version__
from lineworthy.concessions import Concession
from lineworthy.finding import Finding, Place
from lineworthy.knowledge.titleblock import title_block
from lineworthy.report.cautions import cautions
from lineworthy.report.facts import board_facts, limit_origin, tallies
from lineworthy.review import Review
from lineworthy.sheet import Sheet

FORMAT = "lineworthy-review"
VERSION = 1


def render(review: Review) -> str:
    """The review as JSON text: the same review gives the same bytes."""
    text = json.dumps(document(review), indent=2, ensure_ascii=False, allow_nan=False)
    # half a surrogate pair (from a file name that is not UTF-8) cannot be written as UTF-8
    return text.encode("utf-8", "replace").decode("utf-8") + "\n"


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that every `document` follows."""
    text = (resources.files("lineworthy") / "report" / "review.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def document(review: Review) -> dict[str, Any]:
    """The review as plain data."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "tool": {"name": "lineworthy", "version": __version__},
        "board": _board(review),
        "sheet": {"name": review.sheet.name},
        "verdict": _verdict(review),
        "areas": [vars(tally) for tally in tallies(review)],
        "findings": [_finding(finding, review.sheet) for finding in review.findings],
        "conceded": [
            {**_finding(finding, review.sheet), "concession": _concession(concession)}
            for finding, concession in review.conceded
        ],
        "not_run": [{"check": n.check, "missing": n.missing, "how": n.how} for n in review.not_run],
        "crashed": [{"check": crash.check, "error": crash.error} for crash in review.crashed],
        "checks": list(review.checks),
        "cautions": [vars(caution) for caution in cautions(review)],
    }


def _board(review: Review) -> dict[str, Any]:
    board, facts = review.board, board_facts(review.board)
    title = title_block(board)
    return {
        "name": board.name,
        "path": board.path,
        "title": title.title,
        "revision": title.revision,
        "date": title.date,
        "company": title.company,
        "width_mm": facts.width or None,
        "height_mm": facts.height or None,
        "thickness_mm": number(facts.thickness),
        "copper_layers": list(board.copper_layers),
        "parts": {"top": facts.parts_top, "bottom": facts.parts_bottom, "not_fitted": facts.not_fitted},
    }


def _verdict(review: Review) -> dict[str, Any]:
    rows = tallies(review)
    counts = {name: sum(getattr(row, name) for row in rows) for name in ("hold", "query", "note", "not_run", "crashed")}
    return {"line": review.verdict, **counts, "conceded": len(review.conceded)}


def _finding(finding: Finding, sheet: Sheet) -> dict[str, Any]:
    origin = limit_origin(finding, sheet)
    return {
        "check": finding.check,
        "area": finding.area,
        "consequence": finding.consequence.value,
        "message": finding.message,
        "measured": number(finding.measured),
        "limit": number(finding.limit),
        "unit": finding.unit,
        "limit_key": finding.limit_key,
        "limit_source": origin.source if origin else "",
        "limit_sheet": origin.sheet if origin else "",
        "places": [_place(place) for place in finding.places],
        "uids": list(finding.uids),
        "fingerprint": finding.fingerprint,
    }


def _concession(concession: Concession) -> dict[str, Any]:
    return {
        "reason": concession.reason,
        "name": concession.name,
        "date": concession.date.isoformat(),
        "revision": concession.revision,
        "expires": concession.expires.isoformat() if concession.expires else None,
    }


def _place(place: Place) -> dict[str, Any]:
    x, y = place.at
    side = place.side.value if place.side else None
    return {"x_mm": number(x), "y_mm": number(y), "side": side, "label": place.label}


def number(value: Optional[float]) -> Optional[float]:
    """Rounded to a nanometre, so that noise in the last digits changes no byte; JSON has no infinity."""
    return None if value is None or not math.isfinite(value) else round(float(value), 6) + 0.0
