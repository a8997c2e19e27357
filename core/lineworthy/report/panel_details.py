# SPDX-License-Identifier: MIT
"""Small pictures beside an array: how arrays lie on the working panel, a tab enlarged, a score in section."""

from __future__ import annotations

import numpy as np

from lineworthy.knowledge.depanel import SCORE_ANGLE_DEG, cut_depth, groove_half_width
from lineworthy.knowledge.wording import counted, mm
from lineworthy.plans.panel_plan import Array
from lineworthy.plans.panel_tabs import holes_in_row
from lineworthy.report.panel_facts import size
from lineworthy.report.panel_paper import Paper
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet


def working_panel(paper: Paper, array: Array, at: Point, room: tuple[float, float]) -> None:
    """The working panel with its usable part and the arrays on it; the longer side lies."""
    one, fit = array.sizing, array.sizing.fit
    short, long = fit.panel
    scale = min(room[0] / long, (room[1] - 4) / short)
    paper.box(at[0], at[1], long * scale, short * scale, "panel")
    border = fit.border * scale
    paper.box(at[0] + border, at[1] + border, long * scale - 2 * border, short * scale - 2 * border, "usable")
    # `across` counts along the shorter side, which stands here
    tall, wide = (one.width, one.length) if fit.turned else (one.length, one.width)
    step_x, step_y = (wide + array.working_gap) * scale, (tall + array.working_gap) * scale
    left = at[0] + (long * scale - (fit.up * step_x - array.working_gap * scale)) / 2
    top = at[1] + (short * scale - (fit.across * step_y - array.working_gap * scale)) / 2
    for column in range(fit.up):
        for row in range(fit.across):
            paper.box(left + column * step_x, top + row * step_y, wide * scale, tall * scale, "array")
    y = at[1] + short * scale + 4.2
    paper.text((at[0], y), f"Working panel {size(fit)}", "head", size=2.6)
    paper.text((at[0], y + 3.6), f"{counted(fit.arrays, 'array')}, usable part dashed", "soft", size=2.6)


def tab_detail(paper: Paper, array: Array, sheet: Sheet, at: Point) -> None:
    """A tab enlarged, between two boards where there is one."""
    tab, panel = max(array.tabs, key=lambda one: one.ends), sheet.panel
    scale = min(20.0 / tab.width, 14.0 / tab.length)
    left, middle = at[0] + 4, at[0] + 20
    high, low = at[1] + 13, at[1] + 13 + tab.length * scale
    paper.box(left, high - 7, 32, 7, "board")
    paper.box(left, low, 32, 7, "board" if tab.ends == 2 else "waste")
    half = tab.width * scale / 2
    paper.box(middle - half, high, 2 * half, low - high, "waste")
    for x in (middle - half, middle + half):
        paper.line((x, high), (x, low), "routed")
    for y in (high, low):
        paper.line((left, y), (middle - half, y), "routed")
        paper.line((middle + half, y), (left + 32, y), "routed")
    count = holes_in_row(sheet)
    for y in (high, low) if tab.ends == 2 else (high,):
        for n in range(count):
            x = middle + (n - (count - 1) / 2) * panel.tab_hole_pitch_mm * scale
            paper.circle((x, y), panel.tab_hole_mm * scale, "break")
    paper.measure((middle - half, at[1] + 3.5), (middle + half, at[1] + 3.5), mm(tab.width))
    for x in (middle - half, middle + half):
        paper.line((x, at[1] + 2.5), (x, high - 1), "ext")
    paper.measure((left + 38, low), (left + 38, high), mm(tab.length), outside="after")
    for y in (high, low):
        paper.line((left + 33, y), (left + 39, y), "ext")
    words = f"{count} x {mm(panel.tab_hole_mm)} mm, {mm(panel.tab_hole_pitch_mm)} mm apart"
    paper.text((at[0], low + 12), f"Tab, {scale:.0f} : 1", "head", size=2.6)
    paper.text((at[0], low + 15.6), words, "soft", size=2.6)


def score_detail(paper: Paper, array: Array, sheet: Sheet, at: Point) -> None:
    """A section through a score, enlarged."""
    thickness = array.unit.board.stackup.thickness
    scale = min(10.0, 18.0 / thickness)
    left, top = at[0] + 2, at[1] + 9
    tall, middle = thickness * scale, at[0] + 16
    depth = cut_depth(thickness, array.web) * scale
    half = max(groove_half_width(depth), 0.5)
    paper.box(left, top, 28, tall, "board")
    for y, way in ((top, 1), (top + tall, -1)):
        tip = np.array([[middle - half, y - way * 0.05], [middle + half, y - way * 0.05], [middle, y + way * depth]])
        paper.area([tip], "groove")
    paper.measure((left + 34, top + tall), (left + 34, top), mm(thickness), outside="after")
    paper.measure((left + 42, top + tall - depth), (left + 42, top + depth), mm(array.web), outside="after")
    for x, y in ((34, 0), (34, tall), (42, depth), (42, tall - depth)):
        paper.line((left + 29 if x == 34 else middle, top + y), (left + x + 1, top + y), "ext")
    y = top + tall + 6
    paper.text((at[0], y), f"Score in section, {scale:g} : 1", "head", size=2.6)
    paper.text((at[0], y + 3.6), f"angle drawn {SCORE_ANGLE_DEG:g}°, ask", "soft", size=2.6)
