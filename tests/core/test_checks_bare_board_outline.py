# SPDX-License-Identifier: MIT
"""Milling the outline: corners a cutter does not reach, gaps it does not fit into, webs that break."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import pytest
import shapely
from shapely import Polygon

import build
from asking import ask
from lineworthy import Board, Consequence
from lineworthy.checks import bare_board_outline as checks
from lineworthy.finding import NotRun
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.milling import thin, unreached
from lineworthy.model import Hole, Outline, OutlineFault, Pad, PadKind
from lineworthy.shapes import arc_points, disc
from lineworthy.sheet import built_in
from transform import Motion, mirrored, quarter_turns, transform

SHEET = built_in()
CUTTER, WEB = SHEET.bare_board.cutter_mm, SHEET.bare_board.web_min_mm
TURNED = Motion(((cos(radians(33)), -sin(radians(33))), (sin(radians(33)), cos(radians(33)))), (7.0, -3.0), turn=33.0)
MOTIONS = [None, quarter_turns(1), mirrored(), TURNED]


def cut(*shapes: Polygon, **items) -> Board:
    return build.board(60, 40, outline=build.outline(60, 40, cutouts=shapes), **items)


def rounded(width: float, height: float, radius: float) -> Polygon:
    """A rectangle about (30, 20) with arcs in its corners, as the reader makes them."""
    points: list = []
    for x, y, turn in ((1, 1, 0), (-1, 1, 90), (-1, -1, 180), (1, -1, 270)):
        middle = (30 + x * (width / 2 - radius), 20 + y * (height / 2 - radius))
        spots = [
            (middle[0] + radius * cos(radians(turn + a)), middle[1] + radius * sin(radians(turn + a)))
            for a in (0, 45, 90)
        ]
        points += arc_points(*spots).tolist()
    return Polygon(points)


def moved_by(board: Board, motion) -> Board:
    return transform(board, motion) if motion else board


# --- corners -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("motion", MOTIONS)
def test_sharp_inside_corners_are_one_note(motion) -> None:
    (finding,) = ask(checks.corner_too_sharp, moved_by(cut(build.rectangle((30, 20), 10, 6)), motion))
    assert finding.message == (
        "4 inside corners of the outline sharper than the finest cutter, 0.80 mm:"
        " milled with a radius of 0.40 mm or more"
    )
    assert finding.consequence is Consequence.NOTE
    assert len(finding.places) == 4


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize(
    ("radius", "found"), [(2.0, 0), (CUTTER / 2, 0), (CUTTER / 2 - TOL_MM / 2, 0), (CUTTER / 2 - 0.05, 4), (0.2, 4)]
)
def test_rounded_inside_corners(radius: float, found: int, motion) -> None:
    answers = ask(checks.corner_too_sharp, moved_by(cut(rounded(10, 6, radius)), motion))
    assert sum(len(answer.places) for answer in answers) == found


def test_outside_corners_and_bites_in_a_corner_are_free() -> None:
    assert ask(checks.corner_too_sharp, cut()) == []
    bite = cut(shapely.box(55, -1, 61, 5))
    (finding,) = ask(checks.corner_too_sharp, bite)
    assert finding.message.startswith("1 inside corner of the outline")
    x, y = finding.places[0].at
    assert hypot(x - 55, y - 5) < 0.2


def test_round_reliefs_beside_the_corners_help() -> None:
    shape = build.rectangle((30, 20), 10, 6)
    bones = [disc((x, y), 1.2) for x in (25, 35) for y in (17, 23)]
    assert ask(checks.corner_too_sharp, cut(shapely.union_all([shape, *bones]))) == []


# --- gaps --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize(
    ("width", "found"),
    [(2.0, 0), (CUTTER, 0), (CUTTER - TOL_MM / 2, 0), (CUTTER - 0.002, 1), (0.5, 1), (0.1, 1)],
)
@pytest.mark.parametrize("where", ["cut-out", "notch"])
def test_gaps_of_the_outline(where: str, width: float, found: int, motion) -> None:
    at, length = ((30, 20), 10.0) if where == "cut-out" else ((2, 20), 10.0)
    answers = ask(checks.cutout_too_narrow, moved_by(cut(build.rectangle(at, length, width)), motion))
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(width, abs=2e-4)
        assert answers[0].consequence is Consequence.QUERY
        told = f"1 gap of the outline narrower than the finest cutter, down to {checks.mm(width)} mm; 0.80 mm needed"
        assert answers[0].message == told
        assert ask(checks.corner_too_sharp, cut(build.rectangle(at, length, width))) == [], "told once"


@pytest.mark.parametrize(("width", "found"), [(2.0, 0), (CUTTER, 0), (CUTTER - 0.01, 1), (0.4, 1)])
def test_a_pass_between_two_windows(width: float, found: int) -> None:
    """The cutter reaches either window, but does not pass from one into the other."""
    passage = build.rectangle((30, 20), 6 + width, 20)
    for x in (30 - 3 - width / 2, 30 + 3 + width / 2):
        passage = passage.difference(disc((x, 20), 6.0))
    windows = [build.rectangle((30, y), 20, 8) for y in (11, 29)]
    answers = ask(checks.cutout_too_narrow, cut(shapely.union_all([*windows, passage])))
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(width, abs=6e-3)


@pytest.mark.parametrize(("width", "found"), [(CUTTER, 0), (CUTTER - 0.01, 1), (0.2, 1)])
def test_a_gap_between_two_boards(width: float, found: int) -> None:
    two = shapely.MultiPolygon([shapely.box(0, 0, 20, 20), shapely.box(20 + width, 0, 40, 20)])
    assert len(ask(checks.cutout_too_narrow, build.board(outline=Outline(two)))) == found


def test_round_cutouts() -> None:
    assert ask(checks.cutout_too_narrow, cut(disc((30, 20), 1.0))) == []
    (finding,) = ask(checks.cutout_too_narrow, cut(disc((30, 20), 0.6)))
    assert finding.measured == pytest.approx(0.6, abs=0.03)


def bare_slot(width: float, *, plated: bool = False) -> Board:
    kind = PadKind.THROUGH if plated else PadKind.UNPLATED
    pad = Pad("slot", "", (30, 20), kind, hole=Hole((30, 20), (3.0, width), plated, 20.0))
    return build.board(parts=(build.part("H1", (30, 20), [pad]),))


@pytest.mark.parametrize(("width", "found"), [(1.0, 0), (CUTTER, 0), (CUTTER - 0.001, 1), (0.5, 1)])
def test_bare_slots(width: float, found: int) -> None:
    answers = ask(checks.cutout_too_narrow, bare_slot(width))
    assert len(answers) == found
    if found:
        assert answers[0].message.startswith("1 bare slot of H1 narrower than the finest cutter")
    assert ask(checks.cutout_too_narrow, bare_slot(width, plated=True)) == []


# --- webs --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize(("width", "found"), [(2.0, 0), (WEB, 0), (WEB - TOL_MM / 2, 0), (WEB - 0.002, 1), (0.2, 1)])
@pytest.mark.parametrize(
    "where",
    ["two cut-outs", "cut-out and edge", "round", "two notches", "two round notches", "tongue", "tongue inside"],
)
def test_webs(where: str, width: float, found: int, motion) -> None:
    board = {
        "two cut-outs": lambda: cut(shapely.box(10, 10, 20, 20), shapely.box(20 + width, 12, 30, 18)),
        "cut-out and edge": lambda: cut(shapely.box(width, 10, 20, 20)),
        "round": lambda: cut(disc((30, 20), 6.0), shapely.box(33 + width, 10, 45, 30)),
        "two round notches": lambda: cut(
            disc((30, 20 + 4 + width / 2), 8),
            shapely.box(29, 24, 31, 41),
            disc((30, 16 - width / 2), 8),
            shapely.box(29, -1, 31, 16),
        ),
        "two notches": lambda: cut(shapely.box(20, -1, 30, 20 - width / 2), shapely.box(20, 20 + width / 2, 30, 41)),
        "tongue inside": lambda: cut(shapely.box(10, 10, 40, 30).difference(shapely.box(20, 5, 20 + width, 20))),
        "tongue": lambda: cut(shapely.box(10, 30, 20, 41), shapely.box(20 + width, 30, 30, 41)),
    }[where]()
    answers = ask(checks.web_too_thin, moved_by(board, motion))
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(width, abs=6e-3 if "round" in where else 2e-4)
        assert answers[0].message.startswith("1 web of board between cut-outs and edges: down to")
        assert answers[0].consequence is Consequence.QUERY


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize(
    ("wall", "found"), [(1.0, 0), (WEB, 0), (WEB - 0.004, 0), (WEB - 0.006, 1), (0.1, 1), (-3.3, 0), (-4.0, 0)]
)
def test_bare_hole_to_edge(wall: float, found: int, motion) -> None:
    board = build.board(60, 40, parts=(build.hole("H1", (1.6 + wall, 20), 3.2),))
    answers = ask(checks.web_too_thin, moved_by(board, motion))
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(wall)
        assert answers[0].message.startswith("the wall between the edge and 1 bare hole of H1: down to")


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize(("wall", "found"), [(0.0, 1), (-0.1, 1), (-1.6, 1), (-2.5, 1), (-3.1, 0)])
def test_a_bare_hole_that_breaks_through_the_edge(wall: float, found: int, motion) -> None:
    board = build.board(60, 40, parts=(build.hole("H1", (1.6 + wall, 20), 3.2),))
    answers = ask(checks.web_too_thin, moved_by(board, motion))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(wall, abs=1e-6)
        assert answers[0].message.startswith("1 bare hole of H1 breaks through the board edge")


def test_holes_at_the_edge_on_purpose() -> None:
    def at_edge(*spots: float) -> Board:
        return build.board(60, 40, parts=tuple(build.hole(f"H{y}", (0.0, y), 0.5) for y in spots))

    assert ask(checks.web_too_thin, at_edge(10, 11, 12)) == []  # bites of a tab
    (apart,) = ask(checks.web_too_thin, at_edge(10, 20, 30))
    assert apart.message.startswith("3 bare holes of H10, H20, H30 break through the board edge")
    # the outline goes round the hole
    around = shapely.box(0, 0, 60, 40).difference(disc((0.0, 20.0), 3.2))
    drawn = replace(build.board(parts=(build.hole("H1", (0.0, 20.0), 3.2),)), outline=Outline(around))
    assert ask(checks.web_too_thin, drawn) == []


def test_plated_holes_and_perforations_at_the_edge_are_left_out() -> None:
    plated = build.board(parts=(build.part("J1", (0.8, 20), [build.through_pad("1", (0.8, 20), 1.2, 1.0)]),))
    assert ask(checks.web_too_thin, plated) == []
    row = [build.through_pad("", (0.4, 10 + n), 0.5, 0.5, plated=False, uid=str(n)) for n in range(5)]
    assert ask(checks.web_too_thin, build.board(parts=(build.part("TAB1", (0.4, 12), row),))) == []
    assert len(ask(checks.web_too_thin, build.board(parts=(build.part("J1", (0.4, 12), row[:2]),)))) == 1


def test_a_plain_board_says_nothing_and_an_open_one_cannot_be_asked() -> None:
    assert [found for check in checks.CHECKS for found in ask(check, cut())] == []
    assert [
        found for check in checks.CHECKS for found in ask(check, build.board(outline=Outline(disc((0, 0), 50))))
    ] == []
    open_ = replace(cut(), outline=Outline(Polygon(), (OutlineFault("open", (0.0, 0.0), 1.0),)))
    assert all(isinstance(answer, NotRun) for check in checks.CHECKS for answer in ask(check, open_))


def test_what_a_rolling_cutter_leaves_of_a_square_corner() -> None:
    """Plane geometry: a circle in a right angle leaves r (sqrt 2 - 1) of the diagonal: none below a hundredth."""
    square = cut(build.rectangle((30, 20), 10, 6)).outline.area
    assert len(unreached(square, 2 * 0.05 / (2**0.5 - 1))) == 4
    assert unreached(square, 2 * 0.004 / (2**0.5 - 1)) == []
    assert thin(square, 0.5) == []
