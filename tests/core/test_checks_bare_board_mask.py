# SPDX-License-Identifier: MIT
"""The solder mask: dams, what openings bare, what the mask covers; and the search for dams against every pair."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
import shapely
from shapely.geometry.base import BaseGeometry

import build
from lineworthy import Board, Consequence
from lineworthy.checks.bare_board_mask import mask_bares_copper, mask_covers_land, mask_dam_thin
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.mask import UNDER_MM, Mask
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Graphic, Part, Side
from lineworthy.sheet import built_in

SHEET = built_in()
DAM = SHEET.bare_board.mask_dam_min_mm
TO_COPPER = SHEET.bare_board.mask_to_copper_min_mm


def dams(board: Board) -> list:
    return list(mask_dam_thin.ask(board=board, sheet=SHEET, mask=Mask(board), packages=Packages(board)))


def bares(board: Board) -> list:
    copper = tuple(layers(board))
    return list(mask_bares_copper.ask(board=board, sheet=SHEET, mask=Mask(board), copper=copper))


def covers(board: Board) -> list:
    return list(mask_covers_land.ask(board=board, mask=Mask(board), packages=Packages(board)))


def two_lands(gap: float, nets: tuple[str, str] = ("A", "B"), *, side: Side = Side.TOP, turn: float = 0.0) -> Part:
    """Two lands with `gap` mm of mask between their openings; `turn` degrees about their middle."""
    reach = (1.0 + 2 * build.MASK_MARGIN + gap) / 2
    pads = []
    for n, (sign, net) in enumerate(zip((-1, 1), nets), 1):
        spot = shapely.affinity.rotate(shapely.Point(10 + sign * reach, 10), turn, origin=(10, 10))
        pads.append(build.pad(str(n), (spot.x, spot.y), (1.0, 2.0), side=side, net=net, rotation=turn, uid=f"U1.{n}"))
    return build.part("U1", (10, 10), pads, side=side, package="SOIC-8")


# --- dams --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("turn", [0.0, 37.0])
@pytest.mark.parametrize(("gap", "found"), [(0.3, 0), (DAM, 0), (DAM - TOL_MM / 2, 0), (DAM - 0.001, 1), (0.02, 1)])
def test_a_dam_against_its_limit(gap: float, found: int, turn: float, side: Side) -> None:
    answers = dams(build.board(parts=(two_lands(gap, side=side, turn=turn),)))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(gap, abs=1e-6)
        assert answers[0].places[0].side is side
        assert answers[0].places[0].at == pytest.approx((10, 10), abs=1.1)


@pytest.mark.parametrize(
    ("pitch", "land", "web", "found"), [(0.5, 0.30, 0.10, 0), (0.5, 0.32, 0.08, 1), (0.65, 0.45, 0.10, 0)]
)
def test_dams_of_a_row_of_leads_worked_by_hand(pitch: float, land: float, web: float, found: int) -> None:
    """Web = pitch - land - 2 x expansion, with 0.05 mm expansion (common practice, no source)."""
    part = build.smd_part("U1", (20, 20), nets="ABCDEFGH", pitch=pitch, land=(land, 1.5), package="TSSOP-8")
    answers = dams(build.board(parts=(part,)))
    assert len(answers) == found
    if found:
        assert answers[0].measured == pytest.approx(web, abs=1e-6)
        assert answers[0].message == "6 mask dams between lands of U1 (TSSOP-8) down to 0.08 mm; 0.10 mm needed"


def test_one_net_leaves_a_sliver_which_is_a_note() -> None:
    (found,) = dams(build.board(parts=(two_lands(0.05, ("A", "A")),)))
    assert found.consequence is Consequence.NOTE
    assert found.message == "1 sliver of mask between lands of U1 (SOIC-8) down to 0.05 mm; 0.10 mm needed"


@pytest.mark.parametrize("gap", [0.0, -0.05])
def test_a_dam_lost_altogether_is_a_note_and_none_for_one_net_or_a_solder_jumper(gap: float) -> None:
    (found,) = dams(build.board(parts=(two_lands(gap),)))
    assert found.consequence is Consequence.NOTE
    assert found.message == "No mask between lands of U1 (SOIC-8): 1 pair of openings runs together"
    assert dams(build.board(parts=(two_lands(gap, ("A", "A")),))) == []
    jumper = replace(two_lands(gap), reference="JP1", package="SolderJumper-2_Open")
    assert dams(build.board(parts=(jumper,))) == []


def test_parts_of_one_package_are_one_finding_and_pairs_of_parts_another() -> None:
    def part(name: str, x: float) -> Part:
        pads = [build.pad(str(n), (x + n * 1.15, 10), 1.0, net=f"{name}{n}", uid=f"{name}.{n}") for n in range(2)]
        return build.part(name, (x, 10), pads, package="SOIC-8")

    between, within = dams(build.board(parts=(part("U1", 10), part("U2", 12.3), part("U3", 30))))
    assert "of different parts (U1 and U2)" in between.message or "of different parts (U1 and U2)" in within.message
    both = {between.message, within.message}
    assert "3 mask dams between lands of U1, U2, U3 (SOIC-8) down to 0.05 mm; 0.10 mm needed" in both


def test_sides_do_not_mix_and_nothing_is_nothing() -> None:
    top, bottom = two_lands(0.05).pads[0], two_lands(0.05, side=Side.BOTTOM).pads[1]
    parts = (build.part("U1", (10, 10), [top]), build.part("U2", (10, 10), [bottom], side=Side.BOTTOM))
    assert dams(build.board(parts=parts)) == []
    assert dams(build.board()) == bares(build.board()) == covers(build.board()) == []


def test_an_opening_without_a_land_below_it_is_a_sliver() -> None:
    lands = two_lands(0.05)
    bare = replace(lands.pads[1], copper={"bottom": lands.pads[1].copper["top"]})
    (found,) = dams(build.board(parts=(replace(lands, pads=(lands.pads[0], bare)),)))
    assert found.consequence is Consequence.NOTE


def test_between_two_openings_with_a_third_between_there_is_no_dam() -> None:
    lands = two_lands(0.05)
    window = Graphic("window", build.MASK_TOP, shapely.box(9.9, 8, 10.1, 12))
    assert dams(build.board(parts=(lands,), graphics=(window,))) == []


@pytest.mark.parametrize(("open_on", "found"), [((), 0), ((Side.TOP,), 1), ((Side.BOTTOM,), 0)])
def test_a_via_counts_where_it_is_open(open_on: tuple[Side, ...], found: int) -> None:
    # opening of the right land ends at 11.25, the via's copper begins at 11.3
    part = build.chip("R1", (10, 10), nets=("A", "C"))
    answers = dams(build.board(parts=(part,), vias=(build.via((11.6, 10), net="B", open_on=open_on),)))
    assert len(answers) == found
    if found:
        assert answers[0].message == "1 mask dam at open vias down to 0.05 mm; 0.10 mm needed"


def test_an_opening_drawn_in_pieces_leaves_one_sliver_beside_another() -> None:
    # two openings 0.05 mm apart, each of five strips that overlap by 0.02 mm: fifty pairs, one web
    def strips(left: float) -> list[Graphic]:
        boxes = [shapely.box(left, 5 + 0.2 * n, left + 1, 5.22 + 0.2 * n) for n in range(5)]
        return [Graphic(f"{left}.{n}", build.MASK_TOP, box) for n, box in enumerate(boxes)]

    (found,) = dams(build.board(graphics=(*strips(5), *strips(6.05))))
    assert found.message == "1 sliver of mask at drawn openings down to 0.05 mm; 0.10 mm needed"
    assert [place.label for place in found.places] == ["drawn opening to drawn opening, 0.05 mm"]


def test_slivers_of_a_drawing() -> None:
    strips = tuple(Graphic(f"g{n}", build.MASK_TOP, shapely.box(5, 5 + 0.25 * n, 9, 5.2 + 0.25 * n)) for n in range(3))
    (found,) = dams(build.board(graphics=strips))
    assert found.consequence is Consequence.NOTE
    assert found.message == "2 slivers of mask at drawn openings down to 0.05 mm; 0.10 mm needed"


def by_every_pair(mask: Mask, side: Side, limit: float) -> set[tuple[int, int]]:
    """Pairs that touch, and for every two holes they make together the narrowest web."""
    shapes = mask.openings(side).shapes
    hole = holes(list(shapes))
    found = {}
    for i in range(len(shapes)):
        for j in range(i + 1, len(shapes)):
            width = shapes[i].distance(shapes[j])
            if width < limit - TOL_MM:
                way = shapely.shortest_line(shapes[i], shapes[j])
                thirds = [shape for n, shape in enumerate(shapes) if n not in (i, j)]
                if all(way.intersection(third).length <= UNDER_MM for third in thirds):
                    found[i, j] = width if width > UNDER_MM else 0.0
    webs = sorted((pair for pair in found if found[pair] and hole[pair[0]] != hole[pair[1]]), key=found.__getitem__)
    narrowest = {frozenset((hole[i], hole[j])): (i, j) for i, j in reversed(webs)}
    return {pair for pair in found if not found[pair]} | set(narrowest.values())


def holes(shapes: list[BaseGeometry]) -> list[int]:
    """A number for each shape, the same for those that touch each other, directly or through others."""
    number = list(range(len(shapes)))
    for i, one in enumerate(shapes):
        for j, other in enumerate(shapes):
            if one.distance(other) <= UNDER_MM:
                number = [number[i] if n == number[j] else n for n in number]
    return number


@pytest.mark.parametrize("seed", range(20))
def test_the_search_for_dams_finds_what_measuring_every_pair_finds(seed: int) -> None:
    """Ten random boards a seed: 200 in all, pads turned and overlapping, vias, drawn openings, both sides."""
    chance = random.Random(seed)
    for _ in range(10):
        spot = lambda: (chance.uniform(0, 8), chance.uniform(0, 8))  # noqa: E731
        size = lambda: chance.choice([0.3, 0.6, 1.5])  # noqa: E731
        pads = [
            build.pad(
                str(n), spot(), (size(), size()), side=chance.choice(list(Side)), rotation=chance.choice([0, 30, 90])
            )
            for n in range(14)
        ]
        board = build.board(
            8,
            8,
            parts=tuple(build.part(f"U{n}", pad.at, [pad]) for n, pad in enumerate(pads)),
            vias=tuple(build.via(spot(), size(), 0.2, open_on=(chance.choice(list(Side)),)) for _ in range(8)),
            graphics=tuple(Graphic(f"g{n}", build.MASK_TOP, build.rectangle(spot(), size(), size())) for n in range(4)),
        )
        mask = Mask(board)
        for side in Side:
            number = {id(owner): n for n, owner in enumerate(mask.openings(side).owners)}
            webs = mask.webs_below(side, 0.3)
            assert {tuple(sorted((number[id(w.one)], number[id(w.other)]))) for w in webs} == by_every_pair(
                mask, side, 0.3
            )
            assert [web.width for web in webs] == sorted(web.width for web in webs)


# --- what openings bare --------------------------------------------------------------------------------------------


def land_and_track(gap: float, *, layer: str = "top", net: str = "B", **more: object) -> Board:
    """A land of net A, and a track `gap` mm from its opening."""
    edge = 10 + 0.5 + build.MASK_MARGIN
    part = build.part("U1", (10, 10), [build.pad("1", (10, 10), 1.0, net="A", **more)])
    return build.board(
        parts=(part,),
        tracks=(build.track((edge + gap + 0.1, 5), (edge + gap + 0.1, 15), 0.2, net=net, layer=layer),),
    )


@pytest.mark.parametrize(
    ("gap", "found"),
    [
        (0.1, ""),
        (TO_COPPER, ""),
        (TO_COPPER - TOL_MM / 2, ""),
        (TO_COPPER - 0.001, "near"),
        (0.001, "near"),
        (0.0, "bared"),
        (-0.02, "bared"),
    ],
)
def test_copper_of_another_net_in_an_opening_or_beside_it(gap: float, found: str) -> None:
    answers = bares(land_and_track(gap))
    assert len(answers) == bool(found)
    if found == "bared":
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].message == "1 mask opening of U1 on top bares copper of other nets: B"
    if found == "near":
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].measured == pytest.approx(gap, abs=1e-6)


def test_own_net_no_net_other_layer_and_a_short_are_not_told() -> None:
    assert bares(land_and_track(-0.02, net="A")) == []
    assert bares(land_and_track(-0.02, net="")) == []
    assert bares(land_and_track(-0.02, layer="bottom")) == []
    assert bares(land_and_track(-0.2)) == []  # the track touches the land itself: gap-too-small says so


def test_a_mark_and_a_bare_hole_get_no_solder() -> None:
    edge = build.track((10.8, 5), (10.8, 15), 0.2, net="B")
    assert bares(build.board(parts=(build.fiducial("FID1", (10, 10)),), tracks=(edge,))) == []
    hole = build.hole("H1", (10, 10), 1.5)
    assert bares(build.board(parts=(hole,), tracks=(edge,))) == []


def test_a_drawn_opening_bares_one_net_on_purpose_two_by_mistake() -> None:
    window = Graphic("window", build.MASK_TOP, shapely.box(5, 5, 9, 9))
    one = build.track((4, 6), (10, 6), 0.2, net="A")
    other = build.track((4, 8), (10, 8), 0.2, net="B")
    assert bares(build.board(graphics=(window,), tracks=(one,))) == []
    (found,) = bares(build.board(graphics=(window,), tracks=(one, other)))
    assert found.message == "1 drawn mask opening with bare copper of more than one net: A, B"
    jumper = build.part("JP1", (7, 7), [build.pad("1", (5, 6), 0.5, net="A"), build.pad("2", (5, 8), 0.5, net="B")])
    own = replace(window, part_uid=jumper.uid)
    assert bares(build.board(parts=(jumper,), graphics=(own,), tracks=(one, other))) == []


# --- what the mask covers ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("margin", "found"), [(0.05, 0), (0.0, 0), (-0.003, 0), (-0.1, 1)])
def test_an_opening_smaller_than_its_land(margin: float, found: int) -> None:
    part = build.part("U1", (10, 10), [build.pad("1", (10, 10), 1.0, mask_margin=margin)], package="SOIC-8")
    answers = covers(build.board(parts=(part,)))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert answers[0].measured == pytest.approx(36.0, abs=0.1)
        assert answers[0].message == "1 land of U1 (SOIC-8) under mask by up to 36% of their area"


def test_arrays_lands_without_paste_and_lands_opened_by_a_drawing_are_meant() -> None:
    pad = build.pad("1", (10, 10), 1.0, mask_margin=-0.1)
    assert covers(build.board(parts=(build.part("U1", (10, 10), [pad], package="BGA-64_8x8_P0.8mm"),))) == []
    bare = replace(pad, paste={})
    assert covers(build.board(parts=(build.part("TP1", (10, 10), [bare]),))) == []
    window = Graphic("window", build.MASK_TOP, shapely.box(9, 9, 11, 11))
    assert covers(build.board(parts=(build.part("U1", (10, 10), [pad]),), graphics=(window,))) == []
