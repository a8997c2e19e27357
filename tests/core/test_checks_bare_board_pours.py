# SPDX-License-Identifier: MIT
"""Copper by the area: shares of layers, flatness, pieces joined to nothing."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
import shapely

import build
from asking import ask
from lineworthy import Board, Consequence
from lineworthy.checks import bare_board_pours as checks
from lineworthy.finding import NotRun
from lineworthy.knowledge.coverage import copper_shares
from lineworthy.knowledge.flatness import allowed_percent, bow_mm
from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.islands import islands
from lineworthy.model import CopperArea, Graphic, Stackup, Track
from lineworthy.sheet import built_in
from transform import Motion, mirrored, moved, quarter_turns, transform

SHEET = built_in()
LIMITS = SHEET.bare_board
FOUR = ("top", "in1", "in2", "bottom")


# --- flatness ----------------------------------------------------------------------------------------------------


def test_bow_of_a_board_of_four_and_a_half_inches() -> None:
    """Worked example of "PCB Flatness: How to Calculate Bow and Twist Allowance": 0.75 % of 4.5 in is 0.034 in."""
    assert bow_mm(4.5, 0.75) == pytest.approx(0.034, abs=5e-4)
    assert bow_mm(114.3, 0.75) == pytest.approx(0.857, abs=0.005)


def test_boards_with_surface_parts_are_flatter() -> None:
    """IPC-6012B 3.4.3, as quoted on a trade mailing list in 2009: a bow of 0.9 % fails with surface parts only."""
    surface = build.board(parts=(build.chip("R1", (10, 10)),))
    leaded = build.board(parts=(build.through_part("J1", (10, 10)),))
    assert allowed_percent(surface, LIMITS) < 0.9 < allowed_percent(leaded, LIMITS)
    assert (allowed_percent(surface, LIMITS), allowed_percent(leaded, LIMITS)) == (0.75, 1.5)
    unfitted = build.board(parts=(build.chip("R1", (10, 10), fitted=False),))
    assert allowed_percent(unfitted, LIMITS) == 1.5


# --- shares ------------------------------------------------------------------------------------------------------


def poured(top: float, bottom: float, thickness: float = 0.8) -> Board:
    """60 x 40 mm, each side poured over so many percent of it, with a window in the pour."""

    def area(percent: float, layer: str):
        size = 60 * 40 * percent / 100
        shape = shapely.box(0, 0, (size + 36) / 40, 40).difference(shapely.box(2, 2, 8, 8))
        return build.pour(shape, layer=layer, uid=layer)

    areas = tuple(area(percent, layer) for percent, layer in ((top, "top"), (bottom, "bottom")))
    return build.board(60, 40, areas=areas, stackup=Stackup(thickness))


def test_shares_are_true_to_half_a_percent() -> None:
    via = build.via((45, 30), 8.0, 1.0, net="A")
    track = build.track((50, 5), (50, 15), 2.0, net="A")
    pad = build.part("R1", (55, 35), [build.pad("1", (55, 35), (4, 6))])
    board = replace(poured(50, 20), vias=(via,), tracks=(track,), parts=(pad,))
    shares = copper_shares(board, tuple(layers(board)))
    apart = (np.pi * 16 + 20 + np.pi + 24) / 24
    assert shares["top"] == pytest.approx(50 + apart, abs=0.5)
    assert shares["bottom"] == pytest.approx(20 + np.pi * 16 / 24, abs=0.5)


def test_copper_upon_copper_counts_once() -> None:
    board = replace(poured(50, 50), tracks=(build.track((10, 20), (25, 20), 5.0, net="GND"),))
    assert copper_shares(board, tuple(layers(board)))["top"] == pytest.approx(50, abs=0.5)


@pytest.mark.parametrize("motion", [moved(13.7, -5.1), quarter_turns(1), quarter_turns(2), mirrored()])
def test_shares_stay_the_same_when_a_board_moves(motion) -> None:
    board = replace(poured(37, 61), tracks=(build.track((40, 10), (55, 33), 1.3, net="A"),))
    there = transform(board, motion)
    assert copper_shares(there, tuple(layers(there))) == copper_shares(board, tuple(layers(board)))


@pytest.mark.parametrize(("top", "bottom", "found"), [(50, 50, 0), (50, 36, 0), (50, 34, 1), (10, 90, 1), (90, 10, 1)])
def test_mirrored_layers(top: float, bottom: float, found: int) -> None:
    answers = ask(checks.copper_unbalanced, poured(top, bottom))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].message.startswith("Mirrored layers hold unlike shares of copper: top ")
        assert answers[0].measured == pytest.approx(abs(top - bottom), abs=1.0)


def test_inner_layers_are_paired_from_the_outside_in() -> None:
    one = build.pour(shapely.box(0, 0, 60, 40), layer="in1")
    board = build.board(60, 40, copper_layers=FOUR, areas=(one,), stackup=Stackup(1.6))
    (finding,) = ask(checks.copper_unbalanced, board)
    assert "in1 100 % and in2 0 %; 15 points of difference allowed" in finding.message
    assert finding.message.endswith("A bow of 0.90 mm, 1.5 % of 60 mm, is accepted")
    other = replace(one, layer="in2", uid="other")
    assert ask(checks.copper_unbalanced, replace(board, areas=(one, other))) == []
    assert len(ask(checks.copper_unbalanced, replace(board, areas=(one, replace(one, layer="top", uid="t"))))) == 1


def test_a_stiff_board_of_two_layers_is_not_asked_nor_a_flexible_one() -> None:
    assert ask(checks.copper_unbalanced, poured(10, 90, 1.6)) == []
    assert ask(checks.copper_unbalanced, poured(10, 90, 1.0)) == []
    assert len(ask(checks.copper_unbalanced, poured(10, 90, 0.3))) == 1
    assert ask(checks.copper_unbalanced, poured(10, 90, 0.2)) == [], "flexible"


def test_pours_to_be_filled_leave_it_open() -> None:
    board = poured(50, 20)
    empty = replace(board.areas[1], rings=(), unfilled=True)
    (answer,) = ask(checks.copper_unbalanced, replace(board, areas=(board.areas[0], empty)))
    assert isinstance(answer, NotRun)
    small = replace(empty, boundary=shapely.box(0, 0, 5, 5))
    assert len(ask(checks.copper_unbalanced, replace(board, areas=(*board.areas, small)))) == 1


# --- islands -----------------------------------------------------------------------------------------------------

PIECES = shapely.MultiPolygon([shapely.box(5, 5, 15, 15), shapely.box(20, 5, 30, 15)])


def test_a_piece_that_nothing_joins() -> None:
    via = build.via((10, 10), net="GND")
    board = build.board(areas=(build.pour(PIECES),), vias=(via,))
    (finding,) = ask(checks.copper_isolated, board)
    assert finding.message == "1 piece of pours joined to nothing, 100.0 mm² in all: GND on top (1)"
    assert finding.consequence is Consequence.NOTE
    assert 20 < finding.places[0].at[0] < 30


@pytest.mark.parametrize(
    "joint",
    [
        {"vias": (build.via((25, 10), net="GND"),)},
        {"vias": (build.via((30.2, 10), 0.6, net="GND"),)},
        {"tracks": (build.track((32, 10), (29, 10), net="GND"),)},
        {"tracks": (build.track((18, 2), (18, 18), 4.0, net="GND"),)},
        {"parts": (build.part("R1", (25, 10), [build.pad("1", (25, 10), (2, 2), net="GND")]),)},
        {"parts": (build.part("R1", (25, 10), [build.pad("1", (25, 10), (20, 20), net="GND")]),)},
        {"parts": (build.part("R1", (19, 10), [build.pad("1", (19, 10), (2, 2), net="GND")]),)},
    ],
)
def test_what_joins_a_piece(joint: dict) -> None:
    board = build.board(areas=(build.pour(shapely.box(20, 5, 30, 15)),), **joint)
    assert islands(tuple(layers(board))) == []


@pytest.mark.parametrize(
    "stranger",
    [
        {"vias": (build.via((25, 10), net="VCC"),)},
        {"tracks": (build.track((32, 10), (29, 10), net="GND", layer="bottom"),)},
        {"tracks": (build.track((32, 10), (30.2, 10), 0.2, net="GND"),)},
        {"vias": (replace(build.via((25, 10), net="GND"), landless=frozenset({"top"})),)},
    ],
)
def test_what_does_not_join_a_piece(stranger: dict) -> None:
    board = build.board(areas=(build.pour(shapely.box(20, 5, 30, 15)),), **stranger)
    assert len(islands(tuple(layers(board)))) == 1


def test_pieces_that_touch_a_joined_piece_are_joined() -> None:
    chain = [build.pour(shapely.box(x, 5, x + 10, 15), uid=str(x)) for x in (5, 15, 25, 40)]
    board = build.board(areas=tuple(chain), vias=(build.via((10, 10), net="GND"),))
    assert [island.area.uid for island in islands(tuple(layers(board)))] == ["40"]


def test_a_pour_without_a_net_is_one_and_a_parts_own_is_not() -> None:
    plain = build.pour(shapely.box(5, 5, 15, 15), net="")
    (finding,) = ask(checks.copper_isolated, build.board(areas=(plain,)))
    assert finding.message.endswith("no net on top (1)")
    assert ask(checks.copper_isolated, build.board(areas=(replace(plain, part_uid="part-A1"),))) == []
    for joint in ({"vias": (build.via((10, 10), net="GND"),)}, {"tracks": (build.track((2, 10), (5, 10), net="GND"),)}):
        assert ask(checks.copper_isolated, build.board(areas=(plain,), **joint)) == []
    beside = build.pour(shapely.box(14, 5, 24, 15), net="GND", uid="gnd")
    found = ask(checks.copper_isolated, build.board(areas=(plain, beside), vias=(build.via((20, 10), net="GND"),)))
    assert found == []  # pours of two nets that touch


def test_crumbs_are_passed_over() -> None:
    def crumb(side: float) -> Board:
        return build.board(areas=(build.pour(shapely.box(5, 5, 5 + side, 6)),))

    assert ask(checks.copper_isolated, crumb(0.99)) == []
    assert len(ask(checks.copper_isolated, crumb(1.01))) == 1


# --- slivers -----------------------------------------------------------------------------------------------------

TRACK = LIMITS.track_outer_min_mm
TURNED = Motion(((cos(radians(33)), -sin(radians(33))), (sin(radians(33)), cos(radians(33)))), (7.0, -3.0), turn=33.0)


def dumbbell(width: float, **more) -> CopperArea:
    """Two squares joined by a neck."""
    y = 10 + width / 2
    shape = shapely.union_all(
        [shapely.box(5, 5, 15, 15), shapely.box(20, 5, 30, 15), shapely.box(14, 10 - width / 2, 21, y)]
    )
    return replace(build.pour(shape), **more)


@pytest.mark.parametrize("motion", [None, mirrored(), TURNED])
@pytest.mark.parametrize(
    ("width", "found"), [(1.0, 0), (TRACK, 0), (TRACK - 0.0095, 0), (TRACK - 0.011, 1), (0.08, 1), (0.02, 1)]
)
def test_necks_of_pours(width: float, found: int, motion) -> None:
    board = build.board(areas=(dumbbell(width),))
    answers = ask(checks.copper_sliver, transform(board, motion) if motion else board)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].measured == pytest.approx(width, abs=2e-4)
        assert answers[0].message.startswith("1 place of pours of GND on top down to")


def test_a_pour_that_keeps_its_width_is_believed() -> None:
    kept = build.board(areas=(dumbbell(0.05, min_width=0.2),))
    assert ask(checks.copper_sliver, kept) == []
    assert len(ask(checks.copper_sliver, build.board(areas=(dumbbell(0.05, min_width=0.05),)))) == 1


def test_a_web_between_two_openings_of_a_plane() -> None:
    def plane(web: float) -> Board:
        openings = [build.disc((20 + x * (0.5 + web / 2), 20), 1.0) for x in (-1, 1)]
        return build.board(areas=(build.pour(shapely.box(5, 5, 35, 35).difference(shapely.union_all(openings))),))

    assert ask(checks.copper_sliver, plane(TRACK)) == []
    (finding,) = ask(checks.copper_sliver, plane(0.1))
    assert finding.measured == pytest.approx(0.1, abs=0.01)


def test_a_place_on_other_copper_of_its_net_is_as_wide_as_that() -> None:
    drop = shapely.Polygon([(10, 9.5), (10, 10.5), (16, 10.0)])  # points along its track
    pour = replace(build.pour(drop, net="A"), min_width=0.0254)
    bare = build.board(areas=(pour,))
    assert len(ask(checks.copper_sliver, bare)) == 1
    for net, found in (("A", 0), ("B", 1)):
        track = build.track((9, 10), (20, 10), 0.2, net=net)
        assert len(ask(checks.copper_sliver, replace(bare, tracks=(track,)))) == found


@pytest.mark.parametrize(("pen", "found"), [(0.2, 0), (TRACK, 0), (0.1, 1)])
@pytest.mark.parametrize("kind", ["line", "ring"])
def test_drawings_in_copper(kind: str, pen: float, found: int) -> None:
    line = shapely.LineString([(10, 10), (20, 14)]) if kind == "line" else shapely.Point(10, 10).buffer(2).exterior
    drawn = Graphic("g", build.COPPER_TOP, line.buffer(pen / 2), part_uid="part-FID1")
    board = build.board(graphics=(drawn,), parts=(build.fiducial("FID1", (10, 10)),))
    answers = ask(checks.copper_sliver, board)
    assert len(answers) == found
    if found:
        assert answers[0].message.startswith("1 place of drawings of FID1 on top down to 0.1")


# --- joins -------------------------------------------------------------------------------------------------------


def bent(angle: float, **more) -> Board:
    end = (20 + 5 * cos(radians(angle)), 20 + 5 * sin(radians(angle)))
    tracks = (build.track((25, 20), (20, 20), net="A"), build.track((20, 20), end, net="A"))
    return build.board(tracks=tracks, **more)


@pytest.mark.parametrize("motion", [None, mirrored(), TURNED])
@pytest.mark.parametrize(
    ("angle", "found"),
    [(90, 0), (135, 0), (45, 0), (44.9, 1), (20, 1), (-30, 1), (345, 1), (9.9, 0), (0, 0), (180, 0)],
)
def test_angles_between_tracks(angle: float, found: int, motion) -> None:
    board = bent(angle)
    answers = ask(checks.join_too_sharp, transform(board, motion) if motion else board)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].measured == pytest.approx(min(angle % 360, 360 - angle % 360), abs=1e-3)


def test_a_corner_that_is_filled_is_none() -> None:
    assert ask(checks.join_too_sharp, bent(30, vias=(build.via((20, 20), net="A"),))) == []
    assert len(ask(checks.join_too_sharp, bent(30, vias=(build.via((20, 20), net="B"),)))) == 1
    assert ask(checks.join_too_sharp, bent(30, areas=(build.pour(shapely.box(15, 15, 25, 25), net="A"),))) == []
    pad = build.part("R1", (20, 20), [build.pad("1", (20, 20), net="A")])
    assert ask(checks.join_too_sharp, bent(30, parts=(pad,))) == []


def test_tracks_of_other_nets_layers_and_stubs_form_no_corner() -> None:
    board = bent(30)
    one, other = board.tracks
    assert ask(checks.join_too_sharp, replace(board, tracks=(one, replace(other, net="B")))) == []
    assert ask(checks.join_too_sharp, replace(board, tracks=(one, replace(other, layer="bottom")))) == []
    stub = replace(other, end=(20.3 * 1.0, 20.17))
    assert ask(checks.join_too_sharp, replace(board, tracks=(one, stub))) == []


def test_a_curved_track_goes_where_it_sets_out() -> None:
    """A quarter circle that sets out upwards and ends to the right: 30 degrees to a track that leaves at 60."""
    curve = Track("arc", (20, 20), (30, 30), 0.2, "top", "A", mid=(22.929, 27.071))

    def with_track_at(angle: float) -> Board:
        far = (20 + 8 * cos(radians(angle)), 20 + 8 * sin(radians(angle)))
        return build.board(tracks=(curve, build.track(far, (20, 20), net="A")))

    (finding,) = ask(checks.join_too_sharp, with_track_at(60))
    assert finding.measured == pytest.approx(30, abs=3), "within the turn of one chord"
    assert ask(checks.join_too_sharp, with_track_at(30)) == []
