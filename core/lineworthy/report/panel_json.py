# SPDX-License-Identifier: MIT
"""A panel plan as data (JSON): every array with every place, and why not the others."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from lineworthy import __version__
from lineworthy.knowledge.titleblock import title_block
from lineworthy.plans.panel_plan import Against, Array, PanelPlan, Rails, Spot, Tab
from lineworthy.report.json import number
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
            "width_mm": number(unit.width),
            "height_mm": number(unit.height),
            "thickness_mm": number(board.stackup.thickness),
            "copper_layers": len(board.copper_layers),
            "area_mm2": number(unit.outline.area),
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
        "length_mm": number(one.length),
        "width_mm": number(one.width),
        "corner_radius_mm": number(plan.sheet.panel.corner_radius_mm),
        "boards": one.boards,
        "columns": one.columns,
        "rows": one.rows,
        "pairs": one.way.paired,
        "places": [_place(array, n) for n in range(one.boards)],
        "rail_areas": [_box(rail.bounds) for rail in array.rails],
        "scores": [{"from": _at(score.start), "to": _at(score.end)} for score in array.scores],
        "web_mm": number(array.web) if array.scores else None,
        "tabs": [_tab(tab) for tab in array.tabs],
        "break_hole_mm": number(array.break_hole) if array.tabs else None,
        "tooling_holes": [_spot(known, spot) for spot in array.holes],
        "marks": [_spot(known, spot) for spot in array.marks],
        "working_panel": {
            "size_mm": list(fit.panel),
            "border_mm": number(fit.border),
            "gap_mm": number(array.working_gap),
            "arrays": fit.arrays,
            "arrays_along_shorter_side": fit.across,
            "arrays_along_longer_side": fit.up,
            "boards": fit.boards,
            "filled_percent": number(100 * fit.gross),
            "filled_usable_percent": number(100 * fit.usable),
        },
        "length_ratio": number(max(one.length, one.width) / min(one.length, one.width)),
        "sag_estimate": {
            "span_mm": number(bearing.span),
            "cold_mm": number(bearing.cold),
            "hot_mm": number(bearing.hot),
            "cold_wanted_mm": number(bearing.cold_limit),
            "hot_wanted_mm": number(bearing.hot_limit),
        },
        "breaking_estimate": [
            {
                "at": item.what,
                "moment_n_mm": number(item.moment),
                "lever_mm": number(item.lever),
                "force_n": number(item.force),
            }
            for item in array.breaking
        ],
        "points": number(one.points),
        "reasons": [{"points": number(merit.points), "text": merit.text} for merit in one.merits],
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
        "turned_deg": number((pose.quarters * 90.0 - unit.angle) % 360.0),
        "origin": _at((float(at[0]), float(at[1]))),
        **_box(array.outlines[n].bounds),
    }


def _tab(tab: Tab) -> dict[str, Any]:
    return {
        **_at(tab.at),
        "across_deg": number(tab.direction),
        "width_mm": number(tab.width),
        "length_mm": number(tab.length),
        "holes": [_at(hole) for hole in tab.holes],
    }


def _spot(known: dict[Spot, str], spot: Spot) -> dict[str, Any]:
    return {"name": known[spot], **_at(spot.at), "diameter_mm": number(spot.diameter), "clear_mm": number(spot.clear)}


def _against(one: Against) -> dict[str, Any]:
    return {
        "method": one.method.value if one.method else None,
        "limit": one.key,
        "text": one.text,
        "arrays": one.count,
        "short_mm": None if one.short is None or one.key == "points" else number(one.short),
    }


def _box(bounds: tuple[float, float, float, float]) -> dict[str, Any]:
    left, low, right, high = bounds
    return {"left_mm": number(left), "lower_mm": number(low), "right_mm": number(right), "upper_mm": number(high)}


def _at(at: Point) -> dict[str, Any]:
    return {"x_mm": number(at[0]), "y_mm": number(at[1])}
