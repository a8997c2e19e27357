# SPDX-License-Identifier: MIT
"""The stencil between openings: lands that one opening prints on, webs that cannot be cut."""

from __future__ import annotations

import dataclasses
from itertools import combinations

import numpy as np
import pytest
import shapely

import demos
from asking import ask
from build import BOTTOM, TOP, board, chip, pad, part, rectangle, through_pad
from lineworthy import Board, Consequence, built_in
from lineworthy.checks.solder_stencil import paste_on_unfitted, paste_runs_together, print_beyond_land, stencil_web_thin
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.stencil import Stencil
from lineworthy.model import Graphic, Layer, LayerKind, Part, Side

SHEET = built_in()
PASTE_TOP = Layer("F.Paste", LayerKind.PASTE, TOP)


def row(gap: float, *, net=lambda n: f"N{n}", side: Side = TOP, rotation: float = 0.0, pins: int = 3, **more) -> Part:
    """A row of lands 0.3 mm wide whose stencil openings leave `gap` mm of foil between them."""
    pads = [
        pad(str(n + 1), (10 + n * 0.5, 10), (0.3, 1.2), side=side, net=net(n), uid=f"p{n}", paste=False)
        for n in range(pins)
    ]
    printed = [
        dataclasses.replace(one, paste={side: rectangle(one.at, 0.5 - gap, 1.2)}) if gap < 0.5 else one for one in pads
    ]
    turned = [dataclasses.replace(one, copper=_turned(one.copper, rotation), paste=_turned(one.paste, rotation),
                                  mask=_turned(one.mask, rotation)) for one in printed]  # fmt: skip
    return part("U1", (10, 10), turned, package="SSOP", side=side, **more)


def _turned(shapes, angle):
    return {key: shapely.affinity.rotate(shape, angle, origin=(10, 10)) for key, shape in shapes.items()}


def together(made: Board):
    return list(paste_runs_together.ask(board=made, packages=Packages(made), stencil=Stencil(made)))


def empty(*parts: Part):
    made = board(parts=parts)
    return list(paste_on_unfitted.ask(board=made, packages=Packages(made)))


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_paste_for_parts_that_are_not_fitted(side: Side) -> None:
    left = [dataclasses.replace(chip(f"R{n}", (10 * n, 10), side=side), fitted=False) for n in (2, 1)]
    [finding] = empty(*left, chip("R3", (30, 10), side=side))
    assert finding.consequence is Consequence.NOTE
    assert finding.message == "The stencil prints on lands of R1, R2, not to be fitted"
    assert [place.side for place in finding.places] == [side, side]


def test_empty_lands_that_are_meant() -> None:
    assert empty() == []
    left = dataclasses.replace(chip("R1", (10, 10)), fitted=False)
    assert len(empty(left, chip("R2", (10, 10), side=BOTTOM))) == 1
    assert empty(left, chip("R2", (10, 10))) == []  # one of two parts on the same lands
    assert empty(dataclasses.replace(left, board_only=True)) == []
    jumper = dataclasses.replace(left, reference="JP1", package="SolderJumper-2_P1.3mm_Open_Pad1.0x1.5mm")
    assert empty(jumper) == []
    bare = tuple(dataclasses.replace(land, paste={}) for land in left.pads)
    assert empty(dataclasses.replace(left, pads=bare)) == []


def thin(made: Board):
    return list(stencil_web_thin.ask(board=made, sheet=SHEET, stencil=Stencil(made)))


def drawn(shape) -> Graphic:
    return Graphic("drawn", PASTE_TOP, shape)


@pytest.mark.parametrize("side", [TOP, BOTTOM])
@pytest.mark.parametrize("rotation", [0.0, 90.0, 33.0])
def test_openings_that_run_together_are_told_once(side: Side, rotation: float) -> None:
    [finding] = together(board(parts=(row(0.0, side=side, rotation=rotation),)))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == "1 stencil opening over lands of different nets: U1 (SSOP) pads 1, 2, 3"
    assert [place.side for place in finding.places] == [side]


def test_openings_that_overlap_run_together_as_well() -> None:
    assert together(board(parts=(row(-0.05),)))
    assert not thin(board(parts=(row(-0.05),)))


@pytest.mark.parametrize("gap", [0.1, 0.11, 0.2])
def test_webs_as_wide_as_the_limit_and_wider_pass(gap: float) -> None:
    made = board(parts=(row(gap),))
    assert not together(made)
    assert not thin(made)


@pytest.mark.parametrize("rotation", [0.0, 45.0])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_webs_below_the_limit_are_found(side: Side, rotation: float) -> None:
    [finding] = thin(board(parts=(row(0.09, side=side, rotation=rotation),)))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "2 webs of the stencil, down to 0.09 mm, between openings of different nets (U1 (SSOP) pads 1, 2, 3);"
        " 0.10 mm needed"
    )
    assert finding.measured == pytest.approx(0.09)
    assert len(finding.places) == 2
    assert finding.limit_key == "solder.stencil_web_min_mm"


def test_between_openings_of_one_net_a_thin_web_is_a_note_and_a_missing_one_is_nothing() -> None:
    assert [f.consequence for f in thin(board(parts=(row(0.05, net=lambda n: "GND"),)))] == [Consequence.NOTE]
    joined = board(parts=(row(0.0, net=lambda n: "GND"),))
    assert not together(joined)
    assert not thin(joined)


def test_lands_without_a_net_stand_for_themselves() -> None:
    assert together(board(parts=(row(0.0, net=lambda n: ""),)))


def test_a_drawn_opening_over_two_lands_is_found() -> None:
    """The lands have no paste of their own: the drawing alone prints on both."""
    made = board(parts=(row(1.0, pins=2),), graphics=(drawn(rectangle((10.25, 10), 0.8, 1.0)),))
    [finding] = together(made)
    assert "pads 1, 2" in finding.message


def test_a_drawn_opening_beside_another_leaves_a_thin_web() -> None:
    made = board(graphics=(drawn(rectangle((5, 5), 1, 1)), drawn(rectangle((6.05, 5), 1, 1))))
    assert [finding.measured for finding in thin(made)] == [pytest.approx(0.05)]


def test_an_opening_that_reaches_over_a_neighbour_without_paste_is_found() -> None:
    wide = dataclasses.replace(
        pad("1", (10, 10), (0.3, 1.2), net="A", uid="a"), paste={TOP: rectangle((10.2, 10), 0.7, 1.2)}
    )
    bare = pad("2", (10.5, 10), (0.3, 1.2), net="B", uid="b", paste=False)
    assert together(board(parts=(part("U1", (10, 10), [wide, bare], package="SSOP"),)))


def test_windows_of_one_land_are_no_bridge() -> None:
    heat = pad("9", (10, 10), (2, 2), net="GND", uid="h", paste=False)
    panes = [
        dataclasses.replace(
            pad("", at, (0.9, 0.9), uid=f"w{n}"), copper={}, mask={}, paste={TOP: rectangle(at, 0.9, 0.9)}
        )
        for n, at in enumerate([(9.5, 9.5), (10.5, 9.5), (9.5, 10.5), (10.5, 10.5)])
    ]
    made = board(parts=(part("U1", (10, 10), [heat, *panes], package="QFN"),))
    assert not together(made)
    assert not thin(made)


def test_lands_of_a_solder_jumper_and_lands_that_touch_may_be_bridged() -> None:
    jumper = dataclasses.replace(row(0.0, pins=2), reference="JP1", package="SolderJumper-2_P1.3mm_Bridged")
    assert not together(board(parts=(jumper,)))
    one, other = (pad(str(n), (10 + n, 10), (1.0, 1.0), net=f"N{n}", uid=f"p{n}") for n in range(2))
    assert not together(board(parts=(part("U1", (10, 10), [one, other], package="X"),)))


def test_a_board_without_paste_says_nothing() -> None:
    assert not together(board())
    assert not thin(board())


@pytest.mark.editor
def test_an_index_finds_what_a_search_without_one_does() -> None:
    """Webs of a demo board's stencil against every pair of openings, with a limit that many fall below."""
    [path] = [path for path in demos.paths() if path.name == "RoyalBlue54L-Feather.kicad_pcb"]
    made = demos.read(path)
    found = Stencil(made).webs_below(TOP, 0.2)
    shapes = [s for _, p in made.pads if TOP in p.paste for s in shapely.get_parts(p.paste[TOP]) if s.area > 0]
    near = [(a, b, a.distance(b)) for a, b in combinations(shapes, 2) if a.distance(b) < 0.2 - 1e-4]
    assert min(web.width for web in found) == pytest.approx(min(gap for *_, gap in near if gap > 1e-3))
    touching = [gap for *_, gap in near if gap <= 1e-3]
    assert len(found) == len(near) - len(touching)
    assert np.allclose(sorted(web.width for web in found), sorted(gap for *_, gap in near if gap > 1e-3))


# --- beyond the lands


def overprinted(margin: float, side: Side = TOP, *, extra=(), **more) -> Part:
    """A 0603 whose second land of 0.8 x 0.95 mm is printed so much larger all round."""
    item = chip("R1", (10, 10), side=side, **more)
    one, other = item.pads
    printed = {side: rectangle(other.at, 0.8 + 2 * margin, 0.95 + 2 * margin)}
    return dataclasses.replace(item, pads=(one, dataclasses.replace(other, paste=printed), *extra))


@pytest.mark.parametrize("side", [TOP, BOTTOM])
@pytest.mark.parametrize(("margin", "told"), [(-0.05, 0), (0.0, 0), (0.05, 0), (0.1, 0), (0.105, 1), (0.25, 1)])
def test_a_print_beyond_its_land_is_a_note(margin: float, told: int, side: Side) -> None:
    """A margin of 0.1 mm is on the limit, though its sharp corners are farther away."""
    found = ask(print_beyond_land, board(parts=(overprinted(margin, side),)))
    assert [finding.consequence for finding in found] == [Consequence.NOTE] * told
    for finding in found:
        assert finding.limit_key == "solder.overprint_max_mm"
        assert finding.places[0].label == "R1 pad 2"
        assert finding.places[0].side is side


def test_what_a_print_beyond_says() -> None:
    [finding] = ask(print_beyond_land, board(parts=(overprinted(0.25),)))
    assert finding.message == (
        "1 stencil opening of R1 (R_0603_1608Metric) pads 2 reaches more than 0.10 mm beyond the land: "
        "up to 60 % of a print lies beside it"  # 1 - 0.8 x 0.95 / (1.3 x 1.45)
    )


def test_a_drawn_opening_counts_and_windows_do_not() -> None:
    small = [pad(str(n), (8, 9.5 + 0.5 * n), (0.8, 0.3), uid=f"s{n}") for n in (1, 2)]
    land = part("U1", (10, 10), [*small, pad("3", (10, 10), (2.0, 2.0), paste=False)], package="SOT-89-3")
    windows = [drawn(rectangle((10 + x, 10), 0.8, 1.8)) for x in (-0.5, 0.5)]
    assert ask(print_beyond_land, board(parts=(land,), graphics=tuple(windows))) == []
    [finding] = ask(print_beyond_land, board(parts=(land,), graphics=(drawn(rectangle((11, 10), 1.0, 1.0)),)))
    assert "up to 50 % of a print" in finding.message


@pytest.mark.parametrize(
    "item",
    [
        overprinted(0.4, fitted=False),
        overprinted(0.4, extra=(through_pad("3", (10, 12)),)),
        overprinted(0.4, package="SolderJumper-2_P1.3mm_Bridged"),
    ],
    ids=["not fitted", "with a lead", "jumper"],
)
def test_prints_that_are_wide_on_purpose(item: Part) -> None:
    assert ask(print_beyond_land, board(parts=(item,))) == []
