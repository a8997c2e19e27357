# SPDX-License-Identifier: MIT
"""Bare-board checks against numbers that others published; each names where it was read."""

from __future__ import annotations

from dataclasses import replace

import pytest

import build
from lineworthy.checks.bare_board import ring_too_thin
from lineworthy.checks.bare_board_copper import gap_too_small, track_too_thin
from lineworthy.checks.bare_board_holes import drill_too_small, hole_too_deep, holes_too_close
from lineworthy.knowledge.drilled import Drilled
from lineworthy.knowledge.gaps import layers
from lineworthy.model import Board, Stackup
from lineworthy.registry import Check
from lineworthy.sheet import Sheet, built_in


def with_limits(**limits: float) -> Sheet:
    sheet = built_in()
    return replace(sheet, bare_board=replace(sheet.bare_board, **limits))


def ask(check: Check, board: Board, sheet: Sheet) -> list:
    given = {"board": board, "sheet": sheet, "drilled": Drilled(board), "copper": tuple(layers(board))}
    return list(check.ask(**{name: given[name] for name in check.inputs}))


def pin(land: float, hole: float) -> Board:
    return build.board(parts=(build.part("J1", (20, 20), [build.through_pad("1", (20, 20), land, hole)]),))


@pytest.mark.parametrize(("hole", "land", "ring"), [(1.0, 1.5, 0.25), (2.0, 3.0, 0.5), (3.0, 4.5, 0.75)])
def test_rings_of_proportional_lands(hole: float, land: float, ring: float) -> None:
    """A library maker's rule, land = 1.5 x hole (forum thread on through-hole lands of a library maker)."""
    (finding,) = ask(ring_too_thin, pin(land, hole), with_limits(pad_ring_min_mm=ring + 0.01))
    assert finding.measured == pytest.approx(ring, abs=1e-3)
    assert ask(ring_too_thin, pin(land, hole), with_limits(pad_ring_min_mm=ring)) == []


@pytest.mark.parametrize(
    ("hole", "land", "ring"),
    [
        (1.155, 1.855, 0.35),  # 0.64 mm square pin, levels A, B, C
        (1.105, 1.705, 0.30),
        (1.055, 1.555, 0.25),
        (0.75, 1.45, 0.35),  # 0.50 mm round lead, levels A, B, C
        (0.70, 1.30, 0.30),
        (0.65, 1.15, 0.25),
    ],
)
def test_rings_by_level(hole: float, land: float, ring: float) -> None:
    """Worked with "PCB Design Notes" on IPC-2222 and IPC-2221: land = hole + 0.10 + 0.60 / 0.50 / 0.40 (A / B / C)."""
    (finding,) = ask(ring_too_thin, pin(land, hole), with_limits(pad_ring_min_mm=0.5))
    assert finding.measured == pytest.approx(ring, abs=1e-3)
    assert ask(ring_too_thin, pin(land, hole), built_in()) == [], "every level is wider than the usual limit"


@pytest.mark.parametrize(("ring", "found"), [(0.05, 0), (0.049, 1)])
def test_the_ring_of_the_design_standard(ring: float, found: int) -> None:
    """From memory: IPC-2221 table 9-2, external supported holes, 0.050 mm."""
    board = build.board(vias=(build.via((10, 10), 0.3 + 2 * ring, 0.3),))
    assert len(ask(ring_too_thin, board, with_limits(via_ring_min_mm=0.05))) == found


CLASSES = {1: (0.80, 0.68), 2: (0.50, 0.50), 3: (0.31, 0.31), 4: (0.21, 0.21), 5: (0.15, 0.15), 6: (0.12, 0.12)}
"""Least line and space of the board classes in the editor's calculator (its source, panel_board_class.cpp), mm."""

VIA_OVER_HOLE = {3: 0.45, 4: 0.34, 5: 0.24, 6: 0.20}
PAD_OVER_HOLE = {1: 1.19, 2: 0.78, 3: 0.60, 4: 0.49, 5: 0.39, 6: 0.35}
"""Land less hole, diameters, of the same classes."""


@pytest.mark.parametrize("number", CLASSES)
def test_a_board_on_the_limits_of_its_class_passes_it_and_fails_the_coarser_one(number: int) -> None:
    line, space = CLASSES[number]
    tracks = (
        build.track((10, 10), (20, 10), line, net="A"),
        build.track((10, 10 + line + space), (20, 10 + line + space), line, net="B"),
    )
    board = build.board(tracks=tracks)
    for other, (width, gap) in CLASSES.items():
        sheet = with_limits(track_outer_min_mm=width, gap_outer_min_mm=gap)
        assert bool(ask(track_too_thin, board, sheet)) is (other < number)
        assert bool(ask(gap_too_small, board, sheet)) is (other < number)


@pytest.mark.parametrize("number", PAD_OVER_HOLE)
def test_lands_on_the_limits_of_their_class(number: int) -> None:
    board = pin(1.0 + PAD_OVER_HOLE[number], 1.0)
    for other, more in PAD_OVER_HOLE.items():
        assert bool(ask(ring_too_thin, board, with_limits(pad_ring_min_mm=more / 2))) is (other < number)


@pytest.mark.parametrize("number", VIA_OVER_HOLE)
def test_vias_on_the_limits_of_their_class(number: int) -> None:
    board = build.board(vias=(build.via((10, 10), 0.3 + VIA_OVER_HOLE[number], 0.3),))
    for other, more in VIA_OVER_HOLE.items():
        assert bool(ask(ring_too_thin, board, with_limits(via_ring_min_mm=more / 2))) is (other < number)


@pytest.mark.parametrize(("tier", "drill"), [("relaxed", 0.30), ("standard", 0.20), ("dense", 0.15)])
def test_steps_of_drills(tier: str, drill: float) -> None:
    """Common practice, no source: 0.30 mm standard, 0.20 mm the next step of prices, 0.15 mm the last."""
    sheet = built_in(tier)
    for size, found in ((drill, 0), (drill - 0.01, 1)):
        board = build.board(vias=(build.via((10, 10), size + 0.4, size),))
        assert len(ask(drill_too_small, board, sheet)) == found


def test_distance_of_vias_of_one_net() -> None:
    """Common practice, no source: 0.25 mm between the walls of two vias of one net."""
    for wall, found in ((0.25, 0), (0.24, 1)):
        pair = tuple(build.via((10 + n * (0.3 + wall), 10), 0.5, 0.3, net="A") for n in (0, 1))
        assert len(ask(holes_too_close, build.board(vias=pair), built_in())) == found


@pytest.mark.parametrize(("tier", "ratio"), [("relaxed", 8.0), ("standard", 10.0), ("dense", 12.0)])
def test_aspect_ratio_of_the_tiers(tier: str, ratio: float) -> None:
    """Common practice, no source: 8 to 10 to one, 12 to one for advanced processes."""
    for thickness, found in ((0.3 * ratio, 0), (0.3 * ratio + 0.01, 1)):
        board = build.board(vias=(build.via((10, 10), 0.6, 0.3),), stackup=Stackup(thickness))
        assert len(ask(hole_too_deep, board, built_in(tier))) == found
