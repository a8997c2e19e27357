# SPDX-License-Identifier: MIT
"""A panel plan as data (JSON): every array with every place, and why not the others."""

from __future__ import annotations

import json
from typing import Any, Optional

import numpy as np

from lineworthy import __version__
from lineworthy.knowledge.titleblock import title_block
from lineworthy.plans.panel_plan import Against, Array, PanelPlan, Rails, Spot, Tab
from lineworthy.report.panel_facts import CAUTIONS, FRAME, PROPOSAL, names, verdict
from lineworthy.shapes import Point

FORMAT = "lineworthy-panel-plan"
VERSION = 1

RAILS = {Rails.NONE: "none", Rails.TWO: "two", Rails.FOUR: "four"}


def document(plan: PanelPlan) -> str:
    """The whole plan: the same plan gives the same bytes."""
    text = json.dumps(_document(plan), indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "replace").decode("utf-8") + "\n"


def _document(plan: PanelPlan) -> dict[str, Any]:
    unit, board, sheet = plan.unit, plan.board, plan.sheet
    limits = {
        entry.key: [list(size) for size in entry.value] if isinstance(entry.value, tuple) else entry.value
        for entry in sheet.entries()
        if entry.key.startswith("panel.")
    }
    return {
        "format": FORMAT,
        "version": VERSION,
        "tool": {"name": "lineworthy", "version": __version__},
        "board": {
            "name": board.name,
            "revision": title_block(board).revision,
            "width_mm": _n(unit.width),
            "height_mm": _n(unit.height),
            "thickness_mm": _n(board.stackup.thickness),
            "copper_layers": len(board.copper_layers),
            "area_mm2": _n(unit.outline.area),
        },
        "sheet": {
            "name": sheet.name,
            "limits": limits,
            "unanswered": list(sheet.unanswered),
            "answers": dict(sheet.answers),
        },
        "verdict": verdict(plan),
        "proposal": PROPOSAL,
        "cautions": [{"topic": topic, "text": text} for topic, text in CAUTIONS],
        "frame": FRAME,
        "panel_signs": list(plan.signs),
        "searched": plan.searched,
        "possible": plan.possible,
        "arrays": [_array(plan, array) for array in plan.arrays],
        "not_proposed": [_against(one) for one in plan.against],
    }


def _array(plan: PanelPlan, array: Array) -> dict[str, Any]:
    one, fit, bearing = array.sizing, array.sizing.fit, array.bearing
    known = names(array)
    return {
        "method": one.way.method.value,
        "rails": RAILS[one.way.rails],
        "in_words": one.way.words,
        "length_mm": _n(one.length),
        "width_mm": _n(one.width),
        "corner_radius_mm": _n(plan.sheet.panel.corner_radius_mm),
        "boards": one.boards,
        "columns": one.columns,
        "rows": one.rows,
        "pairs": one.way.paired,
        "places": [_place(array, n) for n in range(one.boards)],
        "rail_areas": [_box(rail.bounds) for rail in array.rails],
        "scores": [{"from": _at(score.start), "to": _at(score.end)} for score in array.scores],
        "web_mm": _n(array.web) if array.scores else None,
        "tabs": [_tab(tab) for tab in array.tabs],
        "break_hole_mm": _n(array.break_hole) if array.tabs else None,
        "tooling_holes": [_spot(known, spot) for spot in array.holes],
        "marks": [_spot(known, spot) for spot in array.marks],
        "working_panel": {
            "size_mm": list(fit.panel),
            "border_mm": _n(fit.border),
            "gap_mm": _n(array.working_gap),
            "arrays": fit.arrays,
            "arrays_along_shorter_side": fit.across,
            "arrays_along_longer_side": fit.up,
            "boards": fit.boards,
            "filled_percent": _n(100 * fit.gross),
            "filled_usable_percent": _n(100 * fit.usable),
        },
        "length_ratio": _n(max(one.length, one.width) / min(one.length, one.width)),
        "sag_estimate": {
            "span_mm": _n(bearing.span),
            "cold_mm": _n(bearing.cold),
            "hot_mm": _n(bearing.hot),
            "cold_wanted_mm": _n(bearing.cold_limit),
            "hot_wanted_mm": _n(bearing.hot_limit),
        },
        "breaking_estimate": [
            {
                "at": item.what,
                "moment_n_mm": _n(item.moment),
                "lever_mm": _n(item.lever),
                "force_n": _n(item.force),
            }
            for item in array.breaking
        ],
        "points": _n(one.points),
        "reasons": [{"points": _n(merit.points), "text": merit.text} for merit in one.merits],
        "remarks": list(array.remarks),
    }


def _place(array: Array, n: int) -> dict[str, Any]:
    """One board: its rectangle, how it is turned, and where the document's own origin comes to lie."""
    unit, pose = array.unit, array.poses[n]
    turn = np.radians(-unit.angle)
    x, y = unit.board.origin
    straight = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn))
    at = pose.points(np.array([straight]) - np.array(unit.origin))[0]
    return {
        "board": n + 1,
        "turned_deg": _n((pose.quarters * 90.0 - unit.angle) % 360.0),
        "origin": _at((float(at[0]), float(at[1]))),
        **_box(array.outlines[n].bounds),
    }


def _tab(tab: Tab) -> dict[str, Any]:
    return {
        **_at(tab.at),
        "across_deg": _n(tab.direction),
        "width_mm": _n(tab.width),
        "length_mm": _n(tab.length),
        "holes": [_at(hole) for hole in tab.holes],
    }


def _spot(known: dict[Spot, str], spot: Spot) -> dict[str, Any]:
    return {"name": known[spot], **_at(spot.at), "diameter_mm": _n(spot.diameter), "clear_mm": _n(spot.clear)}


def _against(one: Against) -> dict[str, Any]:
    return {
        "method": one.method.value if one.method else None,
        "limit": one.key,
        "text": one.text,
        "arrays": one.count,
        "short_mm": None if one.short is None or one.key == "points" else _n(one.short),
    }


def _box(bounds: tuple[float, float, float, float]) -> dict[str, Any]:
    left, low, right, high = bounds
    return {"left_mm": _n(left), "lower_mm": _n(low), "right_mm": _n(right), "upper_mm": _n(high)}


def _at(at: Point) -> dict[str, Any]:
    return {"x_mm": _n(at[0]), "y_mm": _n(at[1])}


def _n(value: Optional[float]) -> Optional[float]:
    """Rounded to a nanometre, so that noise in the last digits changes no byte."""
    return None if value is None else round(float(value), 6) + 0.0
