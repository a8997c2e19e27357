# SPDX-License-Identifier: MIT
"""Demo boards of the editor laid side by side, scored and routed, come apart into as many boards and two rails."""

from __future__ import annotations

import dataclasses

import pytest
import shapely

import demos
from asking import ask
from build import graphic, part, through_pad
from lineworthy import Board
from lineworthy.checks.panel_drawn import tab_holes_too_close, tab_not_cut_through, tab_too_wide, tabs_too_far_apart
from lineworthy.knowledge.drawnpanel import DrawnPanel
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import copies
from lineworthy.knowledge.separation import Method, Separation
from lineworthy.model import Graphic, Layer, LayerKind, Outline, Part
from lineworthy.shapes import Area
from transform import moved, transform

SCORE = Layer("V-Score", LayerKind.DRAWING)
RAIL = 8.0
TABS = (0.25, 0.75)
"""Where tabs stand along the lower and the upper side of each board, as shares of its width."""

BOARDS = (
    ("ecc83/ecc83-pp.kicad_pcb", 2, 2),
    ("stickhub/StickHub.kicad_pcb", 4, 2),  # a capacitor lies on the rail, plugs meet at the scores
    ("royalblue54L_feather/RoyalBlue54L-Feather.kicad_pcb", 2, 3),  # half holes lie on the scores
)


def copied(board: Board, columns: int, rows: int, gap: float) -> tuple[list[Part], list[Area]]:
    """Parts and outlines of all copies; the lower left corner of the first board is at (0, RAIL + gap)."""
    left, low, right, high = board.outline.area.bounds
    parts, outlines = [], []
    for column in range(columns):
        for row in range(rows):
            shift = (column * (right - left + gap) - left, RAIL + gap + row * (high - low + gap) - low)
            copy = transform(board, moved(*shift))
            parts += [dataclasses.replace(one, uid=f"{column} {row} {one.uid}") for one in copy.parts]
            outlines.append(copy.outline.area)
    return parts, outlines


def bites(x: float, y: float) -> Part:
    holes = [through_pad("", (x + 0.75 * n, y), 0.5, 0.5, plated=False) for n in range(-2, 3)]
    return part("", (x, y), holes, uid=f"bites {x:g} {y:g}")


def panelled(board: Board, columns: int, rows: int, scored: bool) -> Board:
    gap = 0.0 if scored else 2.0
    parts, outlines = copied(board, columns, rows, gap)
    left, low, right, high = board.outline.area.bounds
    wide, tall = right - left, high - low
    width, height = columns * (wide + gap) - gap, 2 * RAIL + rows * (tall + gap) + gap
    drawn: list[Graphic] = []
    if scored:
        area: Area = shapely.box(0, 0, width, height)
        lines = [shapely.box(n * wide - 0.05, -3, n * wide + 0.05, height + 3) for n in range(1, columns)]
        lines += [shapely.box(-3, y - 0.05, width + 3, y + 0.05) for y in (RAIL + n * tall for n in range(rows + 1))]
        drawn = [graphic(line, SCORE) for line in lines]
    else:
        pieces = [*outlines, shapely.box(0, 0, width, RAIL), shapely.box(0, height - RAIL, width, height)]
        for row in range(rows + 1):
            y = RAIL + row * (tall + gap)
            for x in (column * (wide + gap) + share * wide for column in range(columns) for share in TABS):
                pieces.append(shapely.box(x - 1.5, y - 0.2, x + 1.5, y + gap + 0.2))
                parts += [bites(x, y)] * (row > 0) + [bites(x, y + gap)] * (row < rows)
        area = shapely.union_all(pieces)
    return dataclasses.replace(
        board,
        parts=tuple(parts),
        graphics=(*board.graphics, *drawn),
        outline=Outline(area),
        tracks=(),
        vias=(),
        areas=(),
    )


@pytest.mark.editor
@pytest.mark.parametrize("scored", [True, False], ids=["scored", "routed"])
@pytest.mark.parametrize(("name", "columns", "rows"), BOARDS)
def test_a_panel_of_a_demo_board_comes_apart(name: str, columns: int, rows: int, scored: bool) -> None:
    panel = panelled(demos.read(demos.FOLDER / name), columns, rows, scored)
    packages = Packages(panel)
    separation = Separation(panel, packages)
    pieces = DrawnPanel(panel, packages, separation)
    assert separation.method is (Method.SCORED if scored else Method.ROUTED)
    assert copies(panel) == len(pieces.boards) == columns * rows
    assert [rail.width for rail in pieces.rails] == pytest.approx([RAIL, RAIL])
    if not scored:
        assert {len(pieces.holding(piece)) for piece in pieces.boards} == {4}
        # tabs a quarter of a side from its corners, five holes from slot to slot: nothing to complain of
        for about_tabs in (tab_holes_too_close, tab_too_wide, tab_not_cut_through, tabs_too_far_apart):
            assert ask(about_tabs, panel) == []
