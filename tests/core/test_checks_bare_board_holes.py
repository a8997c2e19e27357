# SPDX-License-Identifier: MIT
"""Holes: each check on hand-made boards, and the search for neighbours against measuring every pair."""

from __future__ import annotations

import random
from dataclasses import replace
from math import cos, radians, sin

import pytest
import shapely

import build
from asking import ask
from lineworthy import Board, Consequence
from lineworthy.checks import bare_board_holes as holes
from lineworthy.geometry import TOL_MM, spine
from lineworthy.knowledge.drilled import Drilled
from lineworthy.knowledge.gaps import layers
from lineworthy.model import Hole, Pad, PadKind, Part, StackLayer, Stackup, Track, Via
from lineworthy.shapes import ARC_TOL_MM
from lineworthy.sheet import built_in
from transform import Motion, mirrored, transform

SHEET = built_in()
LIMITS = SHEET.bare_board
FOUR = ("top", "in1", "in2", "bottom")
HALF = TOL_MM / 2


def vias(*drills: float) -> Board:
    return build.board(vias=tuple(build.via((5 + 3 * n, 10), drill + 0.4, drill) for n, drill in enumerate(drills)))


def slot(at: tuple[float, float], size: tuple[float, float], *, plated: bool = True, rotation: float = 0.0) -> Pad:
    land = build.rectangle(at, size[0] + 1, size[1] + 1, rotation)
    copper = {"top": land, "bottom": land} if plated else {}
    kind = PadKind.THROUGH if plated else PadKind.UNPLATED
    return Pad("slot", "S", at, kind, copper, hole=Hole(at, size, plated, rotation), rotation=rotation)


# --- sizes -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("drill", [0.0, 1e-5, 0.0099])
def test_no_drill_size_is_said_and_nothing_else_is_asked_of_such_holes(drill: float) -> None:
    board = vias(drill, 0.3)
    (finding,) = ask(holes.drill_not_stated, board)
    assert finding.message == "1 via without a drill size"
    assert finding.consequence is Consequence.QUERY
    others = [check for check in holes.CHECKS if check is not holes.drill_not_stated]
    assert [found for check in others for found in ask(check, board)] == []


def test_a_plated_land_without_a_hole_has_no_drill_size() -> None:
    land = replace(build.through_pad(at=(10, 10)), hole=None)
    board = build.board(parts=[build.part("J1", (10, 10), [land])])
    (finding,) = ask(holes.drill_not_stated, board)
    assert finding.message == "1 hole of J1 without a drill size"


@pytest.mark.parametrize(
    ("drill", "found"),
    [(0.3, 0), (LIMITS.drill_min_mm, 0), (LIMITS.drill_min_mm - HALF, 0), (LIMITS.drill_min_mm - 0.001, 1), (0.15, 1)],
)
def test_smallest_drill(drill: float, found: int) -> None:
    assert len(ask(holes.drill_too_small, vias(drill))) == found


def test_small_holes_are_one_finding_with_their_sizes() -> None:
    board = vias(0.18, 0.15, 0.15, 0.3)
    (finding,) = ask(holes.drill_too_small, board)
    assert finding.message == "3 vias drilled 0.15 mm (2), 0.18 mm (1); the smallest drill is 0.20 mm"
    assert (finding.measured, finding.limit, len(finding.places)) == (0.15, 0.2, 3)


def test_vias_through_one_dielectric_of_many_are_lasered_not_drilled() -> None:
    via = replace(build.via((5, 5), 0.3, 0.1), span=("top", "in1"))
    assert ask(holes.drill_too_small, build.board(copper_layers=FOUR, vias=(via,))) == []
    assert (
        len(ask(holes.drill_too_small, build.board(copper_layers=FOUR, vias=(replace(via, span=("top", "in2")),)))) == 1
    )
    assert len(ask(holes.drill_too_small, build.board(vias=(replace(via, span=("top", "bottom")),)))) == 1


@pytest.mark.parametrize(
    ("drill", "found"),
    [(3.2, 0), (LIMITS.drill_max_mm, 0), (LIMITS.drill_max_mm + HALF, 0), (LIMITS.drill_max_mm + 0.001, 1)],
)
def test_largest_drill_is_no_more_than_a_note(drill: float, found: int) -> None:
    answers = ask(holes.drill_too_large, build.board(parts=(build.hole("H1", (20, 20), drill),)))
    assert [finding.consequence for finding in answers] == [Consequence.NOTE] * found


@pytest.mark.parametrize("rotation", [0.0, 90.0, 37.0])
@pytest.mark.parametrize(
    ("width", "found"),
    [(0.6, 0), (LIMITS.slot_min_mm, 0), (LIMITS.slot_min_mm - HALF, 0), (LIMITS.slot_min_mm - 0.001, 1), (0.4, 1)],
)
def test_plated_slot_width(width: float, found: int, rotation: float) -> None:
    board = build.board(parts=(build.part("J1", (20, 20), [slot((20, 20), (1.5, width), rotation=rotation)]),))
    answers = ask(holes.slot_too_narrow, board)
    assert len(answers) == found
    bare = build.board(parts=(build.part("J1", (20, 20), [slot((20, 20), (1.5, width), plated=False)]),))
    assert ask(holes.slot_too_narrow, bare) == []


def test_aspect_ratio_on_its_limit_and_beyond() -> None:
    # arithmetic of the definition: 1.6 mm through 0.16 mm is 10 to 1; 2.4 mm through 0.2 mm is 12 to 1
    on = replace(vias(0.16), stackup=Stackup(1.6))
    assert ask(holes.hole_too_deep, on) == []
    (finding,) = ask(holes.hole_too_deep, replace(vias(0.2, 0.2, 0.3), stackup=Stackup(2.4)))
    assert finding.message == "2 vias of 0.20 mm through 2.40 mm: 12.0 to 1; 10 to 1 allowed"
    assert finding.unit == ""


def test_bare_holes_may_be_as_deep_as_they_like() -> None:
    board = build.board(parts=(build.hole("H1", (20, 20), 0.2),), stackup=Stackup(3.2))
    assert ask(holes.hole_too_deep, board) == []


def four_stack(prepreg: float) -> Stackup:
    layers = [("top", "copper", 0.035), ("dielectric 1", "prepreg", prepreg), ("in1", "copper", 0.035)]
    layers += [("dielectric 2", "core", 2.5)]
    layers += [("in2", "copper", 0.035), ("dielectric 3", "prepreg", prepreg), ("bottom", "copper", 0.035)]
    return Stackup(2.64 + 2 * prepreg, tuple(StackLayer(*layer) for layer in layers))


@pytest.mark.parametrize(("prepreg", "found"), [(0.08, 0), (0.1, 0), (0.1 + HALF / 10, 0), (0.102, 1), (0.2, 1)])
def test_a_lasered_pit_is_no_deeper_than_wide(prepreg: float, found: int) -> None:
    """The definition leaves the copper out, in which a laser begins and ends: 0.1 mm of dielectric to 0.1 mm."""
    via = replace(build.via((5, 5), 0.3, 0.1), span=("top", "in1"))
    answers = ask(holes.hole_too_deep, build.board(copper_layers=FOUR, stackup=four_stack(prepreg), vias=(via,)))
    assert len(answers) == found
    for finding in answers:
        assert finding.message.endswith("to 1; 1 to 1 allowed in a lasered hole")
        assert finding.measured == pytest.approx(prepreg / 0.1)


def test_blind_holes_are_as_deep_as_the_layers_they_go_through() -> None:
    stack = four_stack(0.2).layers
    via = build.via((5, 5), 0.6, 0.2)  # as wide as the smallest drill: not lasered
    board = build.board(copper_layers=FOUR, stackup=Stackup(3.04, stack), vias=(replace(via, span=("top", "in1")),))
    assert ask(holes.hole_too_deep, board) == []
    (finding,) = ask(holes.hole_too_deep, replace(board, vias=(replace(via, span=("in1", "in2")),)))
    assert finding.measured == pytest.approx(2.57 / 0.2)
    unknown = replace(board, stackup=Stackup(3.04), vias=(replace(via, span=("in1", "in2")),))
    assert ask(holes.hole_too_deep, unknown) == []


# --- hole to hole ------------------------------------------------------------------------------------------------


def two_vias(wall: float, one: float = 0.3, other: float = 0.4) -> Board:
    """Two vias of the same net with so much between their walls, on a slant."""
    away = wall + (one + other) / 2
    spots = ((10.0, 10.0), (10 + away * 0.6, 10 + away * 0.8))
    return build.board(vias=tuple(build.via(at, d + 0.2, d, net="A") for at, d in zip(spots, (one, other))))


@pytest.mark.parametrize("motion", [None, mirrored()])
@pytest.mark.parametrize(
    ("wall", "found"),
    [
        (0.4, 0),
        (LIMITS.hole_to_hole_min_mm, 0),
        (LIMITS.hole_to_hole_min_mm - HALF, 0),
        (LIMITS.hole_to_hole_min_mm - 0.001, 1),
        (0.05, 1),
    ],
)
def test_wall_between_holes(wall: float, found: int, motion: Motion | None) -> None:
    board = two_vias(wall)
    answers = ask(holes.holes_too_close, transform(board, motion) if motion else board)
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(wall)
        assert answers[0].message == f"2 vias {holes.mm(wall)} mm between their walls; 0.25 mm needed"


def test_overlapping_and_double_holes_are_called_so() -> None:
    (finding,) = ask(holes.holes_too_close, two_vias(-0.1))
    assert finding.message == "2 vias overlapping"
    assert finding.consequence is Consequence.QUERY
    (finding,) = ask(holes.holes_too_close, two_vias(-0.35))
    assert finding.message == "2 vias overlapping", "one drill in the middle of the other"
    (finding,) = ask(holes.holes_too_close, two_vias(-0.3, 0.3, 0.3))
    assert finding.message == "2 vias drilled twice in the same place"
    assert finding.consequence is Consequence.NOTE


def test_a_plated_and_a_bare_hole_in_one_place_contradict_each_other() -> None:
    pads = [build.through_pad("1", (10, 10), 1.6, 0.8), build.through_pad("", (10, 10), 0.8, 0.8, plated=False)]
    (finding,) = ask(holes.holes_too_close, build.board(parts=(build.part("J1", (10, 10), pads),)))
    assert finding.message == "2 holes of J1 overlapping"


def test_crossed_slots_with_one_middle_are_not_the_same_hole() -> None:
    pads = [slot((10, 10), (3.0, 0.8)), replace(slot((10, 10), (3.0, 0.8), rotation=90.0), uid="other")]
    (finding,) = ask(holes.holes_too_close, build.board(parts=(build.part("J1", (10, 10), pads),)))
    assert finding.message == "2 holes of J1 overlapping"


@pytest.mark.parametrize(
    ("one", "other", "found"),
    [
        (("top", "in1"), ("in1", "in2"), 0),
        (("top", "in1"), ("in2", "bottom"), 0),
        (("top", "in2"), ("in1", "bottom"), 1),
        (("top", "in1"), ("top", "bottom"), 1),
        (("top", "bottom"), ("bottom", "top"), 1),
    ],
)
def test_only_holes_that_share_a_dielectric_meet(one: tuple[str, str], other: tuple[str, str], found: int) -> None:
    spans = (one, other)
    stacked = tuple(replace(build.via((5, 5), net="A"), uid=str(n), span=span) for n, span in enumerate(spans))
    board = build.board(copper_layers=FOUR, vias=stacked)
    assert len(ask(holes.holes_too_close, board)) == found


def test_lasered_vias_may_stand_closer() -> None:
    def pair(one: tuple[str, str], other: tuple[str, str], apart: float = 0.3) -> Board:
        spots = ((10.0, 10.0), (10.0 + apart, 10.0))
        vias = tuple(replace(build.via(at, 0.25, 0.1, net="A"), span=span) for at, span in zip(spots, (one, other)))
        return build.board(copper_layers=FOUR, vias=vias)

    assert ask(holes.holes_too_close, pair(("top", "in1"), ("top", "in1"))) == []
    assert len(ask(holes.holes_too_close, pair(("top", "in1"), ("top", "bottom")))) == 1, "one of them is drilled"
    assert len(ask(holes.holes_too_close, pair(("top", "in1"), ("top", "in1"), 0.05))) == 1, "overlapping"


def test_copper_near_a_lasered_via() -> None:
    def near(wall: float) -> Board:
        board = landless(wall)
        (via,) = board.vias
        return replace(board, vias=(replace(via, span=("top", "in1")),))

    assert ask(holes.hole_near_copper, near(0.12)) == []
    assert len(ask(holes.hole_near_copper, near(-0.05))) == 1


def test_a_perforation_is_meant_to_break() -> None:
    def row(count: int, pitch: float) -> Board:
        spots = [(10 + pitch * n, 10.0) for n in range(count)]
        pads = [build.through_pad("", at, 0.5, 0.5, plated=False, uid=str(at)) for at in spots]
        return build.board(parts=(build.part("TAB1", (10, 10), pads),))

    assert ask(holes.holes_too_close, row(5, 0.7)) == []
    assert len(ask(holes.holes_too_close, row(2, 0.7))) == 1, "two pegs"
    assert len(ask(holes.holes_too_close, row(5, 0.45))) == 1, "no wall is left"


# --- hole to copper ----------------------------------------------------------------------------------------------


def bare_hole_and_track(wall: float, *, layer: str = "top", width: float = 0.2) -> Board:
    y = 10 + 1.6 + wall + width / 2
    return build.board(
        copper_layers=FOUR,
        parts=(build.hole("H1", (20, 10), 3.2),),
        tracks=(build.track((10, y), (30, y), width, layer=layer, net="A"),),
    )


TURNED = Motion(((cos(radians(33)), -sin(radians(33))), (sin(radians(33)), cos(radians(33)))), (7.0, -3.0), turn=33.0)


@pytest.mark.parametrize("motion", [None, mirrored(), TURNED])
@pytest.mark.parametrize(("layer", "where"), [("top", "outer"), ("bottom", "outer"), ("in1", "inner")])
@pytest.mark.parametrize("wide", [0.2, 1.5])
def test_bare_hole_to_track(layer: str, where: str, motion: Motion | None, wide: float) -> None:
    limit = getattr(LIMITS, f"hole_to_copper_{where}_min_mm")
    for wall, found in [(0.5, 0), (limit, 0), (limit - HALF, 0), (limit - 0.001, 1), (0.0, 1)]:
        board = bare_hole_and_track(wall, layer=layer, width=wide)
        answers = ask(holes.hole_near_copper, transform(board, motion) if motion else board)
        assert len(answers) == found, wall
        if found:
            assert answers[0].measured == pytest.approx(wall, abs=2e-6)
            assert answers[0].consequence is Consequence.QUERY
            assert answers[0].limit_key.endswith(f"{where}_min_mm")
    assert ask(holes.hole_near_copper, bare_hole_and_track(-0.5, layer=layer))[0].message == (
        f"1 unplated hole of H1 through copper of A on {layer}"
    )


def test_lands_of_the_same_part_round_a_bare_hole_are_its_own() -> None:
    pads = [build.through_pad("", (10, 10), 1.0, 1.0, plated=False), build.pad("1", (11.15, 10), (1.0, 1.0), net="A")]
    part = build.part("J4", (10, 10), pads)
    assert ask(holes.hole_near_copper, build.board(parts=(part,))) == []
    other = build.part("R1", (10, 10), pads[1:])
    assert len(ask(holes.hole_near_copper, build.board(parts=(replace(part, pads=tuple(pads[:1])), other)))) == 1


def test_copper_of_its_own_net_is_its_own() -> None:
    via = build.via((10, 10), 0.6, 0.3, net="A")
    near = build.track((5, 10.3), (15, 10.3), net="A")
    assert ask(holes.hole_near_copper, build.board(vias=(via,), tracks=(near,))) == []


def joined(net: str, y: float) -> tuple[Part, Part]:
    """Two parts far away that make a net a real one."""
    parts = [build.part(f"{net}{n}", (40, y), [build.pad("1", (40 + 5 * n, y), net=net)]) for n in (1, 2)]
    return parts[0], parts[1]


def landless(wall: float, layer: str = "in1") -> Board:
    """A via without a land on one layer, and a track of another net so far from its wall."""
    via = replace(build.via((10, 10), 0.6, 0.3, net="A"), landless=frozenset({"in1"}))
    y = 10 + 0.15 + wall + 0.1
    tracks = (build.track((5, y), (15, y), 0.2, layer=layer, net="B"),)
    parts = (*joined("A", 20), *joined("B", 30))
    return build.board(copper_layers=FOUR, vias=(via,), tracks=tracks, parts=parts)


def test_plated_wall_on_a_layer_without_land() -> None:
    assert ask(holes.hole_near_copper, landless(LIMITS.hole_to_copper_inner_min_mm)) == []
    (finding,) = ask(holes.hole_near_copper, landless(0.12))
    assert finding.message == "1 via: copper of B down to 0.12 mm from the wall on in1; 0.20 mm needed on inner layers"
    assert finding.consequence is Consequence.QUERY
    (finding,) = ask(holes.hole_near_copper, landless(-0.05))
    assert finding.message == "1 via through copper of B on in1"
    assert finding.consequence is Consequence.HOLD, "two nets that lead somewhere are one"


def test_copper_that_touches_the_land_is_told_as_a_gap() -> None:
    assert ask(holes.hole_near_copper, landless(0.12, "in2")) == [], "the land reaches 0.15 mm beyond the wall"
    (finding,) = ask(holes.hole_near_copper, landless(0.16, "in2"))
    assert finding.measured == pytest.approx(0.16)


def test_a_hole_outside_of_its_layers_meets_nothing_there() -> None:
    board = landless(0.0, "bottom")
    (through,) = board.vias
    board = replace(board, vias=(replace(through, span=("top", "in2"), landless=frozenset()),))
    assert ask(holes.hole_near_copper, board) == []


def test_pours_by_their_true_shape_with_the_grant_of_their_curves() -> None:
    hole = build.hole("H1", (20, 20), 3.2)

    def poured(wall: float) -> Board:
        opening = shapely.Point(20, 20).buffer(1.6 + wall, quad_segs=256)
        area = shapely.box(5, 5, 35, 35).difference(opening)
        return build.board(parts=(hole,), areas=(build.pour(area),))

    limit = LIMITS.hole_to_copper_outer_min_mm
    assert ask(holes.hole_near_copper, poured(limit - 0.9 * ARC_TOL_MM)) == []
    (finding,) = ask(holes.hole_near_copper, poured(limit - 1.1 * ARC_TOL_MM))
    assert finding.measured == pytest.approx(limit - 1.1 * ARC_TOL_MM, abs=1e-4)
    assert finding.message.startswith("1 unplated hole of H1: copper of GND down to 0.19")


def test_a_hole_in_the_midst_of_a_stale_pour() -> None:
    """A via that was placed after the pour was filled: no edge of the pour is near."""
    parts = (*joined("GND", 20), *joined("B", 30))
    pour = build.pour(shapely.box(5, 5, 35, 35))
    via = replace(build.via((20, 20), net="B"), landless=frozenset({"top"}))
    board = build.board(parts=parts, areas=(pour,), vias=(via,))
    (finding,) = ask(holes.hole_near_copper, board)
    assert finding.message == "1 via through copper of GND on top"
    assert finding.consequence is Consequence.HOLD
    assert ask(holes.hole_near_copper, replace(board, vias=(replace(via, net="GND"),))) == []


def test_a_board_without_holes_says_nothing() -> None:
    board = build.board(tracks=(build.track((5, 5), (9, 5), net="A"),))
    assert [found for check in holes.CHECKS for found in ask(check, board)] == []


# --- against measuring every pair ----------------------------------------------------------------------------------


def random_board(seed: int) -> Board:
    rng = random.Random(seed)
    nets = ("A", "B", "C", "")

    def spot() -> tuple[float, float]:
        return rng.uniform(1, 11), rng.uniform(1, 11)

    def span() -> tuple[str, str]:
        first, last = sorted(rng.sample(range(4), 2)) if rng.random() < 0.3 else (0, 3)
        return FOUR[first], FOUR[last]

    vias = tuple(
        Via(f"v{n}", spot(), 0.6, rng.choice((0.2, 0.3, 1.2)), span(), rng.choice(nets))
        for n in range(rng.randrange(24))
    )
    parts = []
    for n in range(rng.randrange(4)):
        at = spot()
        pads = [replace(slot(at, (1.6, 0.7), plated=rng.random() < 0.5, rotation=rng.uniform(0, 180)), uid=f"s{n}")]
        pads.append(build.pad("1", spot(), (0.5, 1.0), net=rng.choice(nets), uid=f"l{n}"))
        parts.append(build.part(f"J{n}", at, pads))
    tracks = tuple(
        Track(f"t{n}", spot(), spot(), rng.choice((0.1, 0.25, 0.9)), rng.choice(FOUR), rng.choice(nets))
        for n in range(rng.randrange(8))
    )
    areas = []
    for n in range(rng.randrange(3)):
        shape = shapely.Point(spot()).buffer(rng.uniform(1, 3)).difference(shapely.Point(spot()).buffer(0.8))
        if not shape.is_empty:
            areas.append(build.pour(shape, layer=rng.choice(FOUR), net=rng.choice(nets), uid=f"p{n}"))
    return build.board(12, 12, copper_layers=FOUR, vias=vias, parts=tuple(parts), tracks=tracks, areas=tuple(areas))


def every_hole(board: Board) -> list[tuple[str, shapely.Geometry, float, bool, str, str, range]]:
    """Id, way of the drill, radius, plated, net, part and layers of each hole."""
    found = []
    for part, pad in board.pads:
        if pad.hole is not None:
            way, radius = spine(pad.hole), pad.hole.diameter / 2
            found.append((part.uid + pad.uid, way, radius, pad.hole.plated, pad.net, part.uid, range(4)))
    for via in board.vias:
        first, last = sorted(FOUR.index(name) for name in via.span)
        found.append((via.uid, shapely.Point(via.at), via.drill / 2, True, via.net, "", range(first, last + 1)))
    return found


def every_copper(board: Board) -> list[tuple[str, str, object, float, str, str]]:
    """Id, layer, shape, reach beyond it, net and part of all copper; pours as filled polygons."""
    found: list[tuple[str, str, object, float, str, str]] = []
    for part, pad in board.pads:
        found += [(part.uid + pad.uid, name, shape, 0.0, pad.net, part.uid) for name, shape in pad.copper.items()]
    for track in board.tracks:
        line = shapely.LineString([track.start, track.end])
        found.append((track.uid, track.layer, line, track.width / 2, track.net, ""))
    for via in board.vias:
        first, last = sorted(FOUR.index(name) for name in via.span)
        found += [(via.uid, name, shapely.Point(via.at), 0.3, via.net, "") for name in FOUR[first : last + 1]]
    return found + [(area.uid, area.layer, area.fill, 0.0, area.net, "") for area in board.areas]


def key(uid: str, width: float) -> tuple[str, float]:
    return uid, round(width, 9)


@pytest.mark.parametrize("part", range(4))
def test_pairs_of_holes_agree_with_measuring_every_pair(part: int) -> None:
    seen = 0
    for seed in range(50 * part, 50 * part + 50):
        board = random_board(seed)
        drilled = every_hole(board)
        wanted = []
        for n, one in enumerate(drilled):
            for other in drilled[n + 1 :]:
                width = one[1].distance(other[1]) - one[2] - other[2]
                if width < 0.4 - TOL_MM and len(set(one[6]) & set(other[6])) > 1:
                    wanted.append(("|".join(sorted((one[0], other[0]))), round(width, 9)))
        found = [
            ("|".join(sorted((uid(a), uid(b)))), round(width, 9)) for a, b, width in Drilled(board).pairs_below(0.4)
        ]
        assert sorted(found) == sorted(wanted), seed
        seen += len(found)
    assert seen > 100


def uid(bore) -> str:
    return (bore.part.uid if bore.part else "") + bore.uid


@pytest.mark.parametrize("part", range(4))
def test_copper_near_holes_agrees_with_measuring_every_pair(part: int) -> None:
    seen = 0
    for seed in range(50 * part, 50 * part + 50):
        board = random_board(seed)
        limits = {"top": 0.3, "bottom": 0.3, "in1": 0.45, "in2": 0.45}
        wanted = {}
        for name, way, radius, plated, net, part_uid, through in every_hole(board):
            for copper, layer, shape, reach, other_net, other_part in every_copper(board):
                own = (net == other_net and (plated or net)) or (not plated and part_uid and part_uid == other_part)
                if own or FOUR.index(layer) not in through:
                    continue
                width = max(shapely.distance(way, shape) - reach - radius, 0.0)
                grant = ARC_TOL_MM if copper.startswith("p") and not copper.startswith("part") else 0.0
                if width < limits[layer] - grant - TOL_MM:
                    wanted[name, copper, layer] = round(width, 9)
        found = {}
        for one in Drilled(board).near_copper(tuple(layers(board)), 0.3, 0.45):
            owner = one.owner
            whose = owner[0].uid + owner[1].uid if isinstance(owner, tuple) else owner.uid
            found[uid(one.bore), whose, one.layer] = round(one.width, 9)
        assert found == wanted, seed
        seen += len(found)
    assert seen > 200
