# SPDX-License-Identifier: MIT
"""Tracks and gaps: the checks on hand-made boards, and the search for gaps against measuring every pair."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
import shapely

import build
from lineworthy import Board, Consequence
from lineworthy.checks.bare_board_copper import gap_too_small, track_too_thin
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.gaps import Layer, gaps_below, layers
from lineworthy.model import Graphic, Side, Track
from lineworthy.sheet import built_in

SHEET = built_in()
GAP = SHEET.bare_board.gap_outer_min_mm
TRACK = SHEET.bare_board.track_outer_min_mm


def thin(board: Board) -> list:
    return list(track_too_thin.ask(board=board, sheet=SHEET))


def close(board: Board) -> list:
    return list(gap_too_small.ask(board=board, sheet=SHEET, copper=tuple(layers(board))))


def tracks_at(gap: float, *, layer: str = "top", nets: tuple[str, str] = ("A", "B")) -> Board:
    width = 0.2
    return build.board(
        tracks=(
            build.track((10, 10), (20, 10), width, net=nets[0], layer=layer),
            build.track((10, 10 + gap + width), (20, 10 + gap + width), width, net=nets[1], layer=layer),
        )
    )


def padded(board: Board, *nets: str) -> Board:
    """The board with two pads on each net, far away, so that the nets are real ones."""
    parts = [
        build.part(f"J{n}{side}", (50, y), [build.pad("1", (50, y), net=net)])
        for n, net in enumerate(nets)
        for side, y in (("A", 5 + 8 * n), ("B", 9 + 8 * n))
    ]
    return replace(board, parts=(*board.parts, *parts))


@pytest.mark.parametrize(
    ("width", "found"), [(0.2, 0), (TRACK, 0), (TRACK - TOL_MM / 2, 0), (TRACK - 0.001, 1), (0.1, 1)]
)
def test_track_width_against_its_limit(width: float, found: int) -> None:
    board = build.board(tracks=(build.track((10, 10), (20, 10), width, net="A"),))
    answers = thin(board)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(width)


def test_thin_tracks_are_one_finding_for_outer_and_one_for_inner_layers() -> None:
    board = build.board(
        copper_layers=("top", "in1", "bottom"),
        tracks=tuple(
            build.track((10, y), (20, y), width, net="A", layer=layer)
            for y, width, layer in ((5, 0.1, "top"), (6, 0.12, "bottom"), (7, 0.1, "in1"), (8, 0.3, "in1"))
        ),
    )
    outer, inner = thin(board)
    assert outer.message == "2 tracks on bottom, top: width 0.10 mm (1), 0.12 mm (1); 0.125 mm needed on outer layers"
    assert inner.message == "1 track on in1: width 0.10 mm (1); 0.125 mm needed on inner layers"
    assert {place.side for place in outer.places} == {Side.TOP, Side.BOTTOM}


def test_no_tracks_no_finding() -> None:
    assert thin(build.board()) == []
    assert close(build.board()) == []


@pytest.mark.parametrize(("gap", "found"), [(0.3, 0), (GAP, 0), (GAP - TOL_MM / 2, 0), (GAP - 0.001, 1), (0.05, 1)])
def test_gap_against_its_limit(gap: float, found: int) -> None:
    answers = close(tracks_at(gap))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(gap, abs=1e-6)
        assert answers[0].places[0].at == pytest.approx((15, 10 + (gap + 0.2) / 2), abs=5.1)


def test_one_net_or_two_layers_are_no_gap() -> None:
    assert close(tracks_at(0.05, nets=("A", "A"))) == []
    board = tracks_at(0.05)
    assert close(replace(board, tracks=(board.tracks[0], replace(board.tracks[1], layer="bottom")))) == []


def test_gaps_of_round_and_turned_copper_are_true() -> None:
    # a via 0.6 wide, its centre 0.8 from the corner of a square pad of side 1 turned by 45 degrees
    pad = build.pad("1", (10, 10), 1.0, net="A", rotation=45)
    reach = 2**0.5 / 2
    board = build.board(parts=(build.part("U1", (10, 10), [pad]),), vias=(build.via((10 + reach + 0.4, 10), net="B"),))
    (found,) = close(board)
    assert found.measured == pytest.approx(0.1, abs=1e-6)


@pytest.mark.parametrize("turn", [0.0, 0.4, 2.0])
@pytest.mark.parametrize(("gap", "found"), [(GAP, 0), (GAP - 0.002, 1)])
def test_a_gap_between_two_arcs_is_measured_along_them_not_along_chords(gap: float, found: int, turn: float) -> None:
    def arc(radius: float, first: float, net: str) -> Track:
        angles = (first, first + 0.7, first + 1.4)
        start, mid, end = ((20 + radius * math.cos(angle), 20 + radius * math.sin(angle)) for angle in angles)
        return Track(net, start, end, 0.2, "top", net, mid)

    answers = close(build.board(tracks=(arc(0.4, turn, "A"), arc(0.6 + gap, turn + 0.3, "B"))))
    assert [answer.measured for answer in answers] == pytest.approx([gap] * found, abs=0.001)


def test_copper_of_real_nets_that_touches_holds() -> None:
    board = padded(tracks_at(-0.1), "A", "B")
    (found,) = close(board)
    assert found.consequence is Consequence.HOLD
    assert found.message == "Copper of A and B touches on top"


def test_what_leads_nowhere_or_joins_on_purpose_may_touch() -> None:
    assert close(tracks_at(-0.1)) == []
    tie = build.part(
        "NT1", (10, 10), [build.pad("1", (10, 10), 1.0, net="A"), build.pad("2", (10.5, 10), 1.0, net="B")]
    )
    assert close(padded(build.board(parts=(tie,)), "A", "B")) == []
    lettering = (
        Graphic("g1", build.COPPER_TOP, shapely.box(5, 5, 6, 6)),
        Graphic("g2", build.COPPER_TOP, shapely.box(6.05, 5, 7, 6)),
    )
    assert close(build.board(graphics=lettering)) == []


def test_copper_without_a_net_keeps_no_gap_to_the_nets_it_touches() -> None:
    # the bar of a solder jumper joins its two lands, and runs beside the track that leads to one of them
    jumper = build.part(
        "JP1", (10, 10), [build.pad("1", (10, 10), 1.0, net="A"), build.pad("2", (12, 10), 1.0, net="B")]
    )
    bar = Graphic("g1", build.COPPER_TOP, shapely.box(10.4, 9.8, 11.6, 10.2), part_uid=jumper.uid)
    tracks = (build.track((10, 10.35), (10.8, 10.35), 0.2, net="A"),)
    board = padded(build.board(parts=(jumper,), graphics=(bar,), tracks=tracks), "A", "B", "C")
    assert close(board) == []
    stranger = replace(board, tracks=(build.track((10.8, 10.35), (11.2, 10.35), 0.2, net="C"),))
    (found,) = close(stranger)
    assert found.message.startswith("1 gap on top down to 0.05 mm, between C and copper without a net")


def test_a_pour_too_near_to_a_track_is_found() -> None:
    board = build.board(
        areas=(build.pour(shapely.box(5, 5, 20, 20), net="GND"),),
        tracks=(build.track((20.15, 6), (20.15, 18), 0.2, net="A"),),
    )
    (found,) = close(board)
    assert found.measured == pytest.approx(0.05, abs=1e-6)
    assert "between A and GND" in found.message


def test_a_place_is_listed_once() -> None:
    """The outline of a pour is measured stretch by stretch, and two tracks may meet where they come too near."""
    round_pour = build.pour(shapely.Point(10, 20).buffer(5, quad_segs=32), net="GND")
    end = build.track((15.15, 20), (25, 20), 0.2, net="A")
    (found,) = close(build.board(areas=(round_pour,), tracks=(end,)))  # the outline begins at (15, 20)
    assert found.message.startswith("1 gap on top down to 0.05 mm")
    assert len(found.places) == 1
    (found,) = close(build.board(areas=(round_pour,), tracks=(end, build.track((15.15, 20), (25, 25), 0.2, net="A"))))
    assert found.message.startswith("2 gaps on top")
    assert len(found.places) == 1


@pytest.mark.parametrize(
    ("net", "layer", "found"), [("VCC", "top", 1), ("GND", "top", 0), ("VCC", "bottom", 0), ("", "top", 0)]
)
def test_a_track_in_the_midst_of_a_pour_is_a_short(net: str, layer: str, found: int) -> None:
    """As it lies when it was moved and the pour was not filled again; no edge of the pour is near."""
    ends = [build.smd_part(f"U{n}", (52, 5 + 10 * n), nets=("VCC", "GND")) for n in (0, 1, 2)]
    plane = build.pour(shapely.box(2, 2, 48, 38))
    made = build.board(
        parts=tuple(ends), areas=(plane,), tracks=(build.track((20, 20), (25, 20), layer=layer, net=net),)
    )
    answers = close(made)
    assert len(answers) == found
    for finding in answers:
        assert finding.consequence is Consequence.HOLD
        assert finding.message == "Copper of GND and VCC touches on top"
        assert finding.places[0].at == (20, 20)
    hole = build.pour(shapely.box(2, 2, 48, 38).difference(shapely.box(18, 18, 27, 22)))
    assert close(replace(made, areas=(hole,))) == []


def by_every_pair(layer: Layer, limit: float) -> set[tuple[int, int]]:
    found = set()
    for i in range(len(layer.shapes)):
        for j in range(i):
            apart = layer.shapes[i].distance(layer.shapes[j]) - layer.half[i] - layer.half[j]
            if layer.net[i] != layer.net[j] and max(apart, 0.0) < limit - TOL_MM:
                found.add((j, i))
    return found


@pytest.mark.parametrize("seed", range(20))
def test_the_search_finds_what_measuring_every_pair_finds(seed: int) -> None:
    """Ten random boards a seed: 200 in all, wide and narrow copper, several nets."""
    chance = random.Random(seed)
    for _ in range(10):
        spot = lambda: (chance.uniform(0, 12), chance.uniform(0, 12))  # noqa: E731
        net = lambda: chance.choice(["", "A", "B", "C"])  # noqa: E731
        width = lambda: chance.choice([0.1, 0.25, 0.8, 2.0])  # noqa: E731
        pads = [
            build.pad(str(n), spot(), (width(), width()), net=net(), rotation=chance.choice([0, 30, 90]))
            for n in range(6)
        ]
        board = build.board(
            12,
            12,
            parts=tuple(build.part(f"U{n}", pad.at, [pad]) for n, pad in enumerate(pads)),
            tracks=tuple(build.track(spot(), spot(), width(), net=net()) for _ in range(8)),
            vias=tuple(build.via(spot(), chance.choice([0.4, 1.2]), 0.2, net=net()) for _ in range(6)),
            areas=(build.pour(shapely.box(*spot(), 13, 13), net=net()),),
        )
        for layer in layers(board):
            number = {id(owner): n for n, owner in enumerate(layer.owners)}
            mine = sorted((gap.width, gap.layer) for gap in gaps_below(layer, 0.4))
            pairs = {
                tuple(sorted((number[id(gap.one)], number[id(gap.other)])))
                for gap in gaps_below(layer, 0.4)
                if not isinstance(gap.one, type(board.areas[0])) and not isinstance(gap.other, type(board.areas[0]))
            }
            expected = by_every_pair(layer, 0.4)
            assert len(mine) == len(expected)
            pours = {n for n, owner in enumerate(layer.owners) if isinstance(owner, type(board.areas[0]))}
            assert pairs == {pair for pair in expected if not pours & set(pair)}
