# SPDX-License-Identifier: MIT
"""Current by width: the formula against values that others print, and which parts of a net thick copper joins."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

import build
from lineworthy import Board, Consequence
from lineworthy.checks.bare_board_electrical import current_path_thin
from lineworthy.finding import NotRun
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge import necks
from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.ipc2221 import MIL_MM, barrel_mm2, carried_a, width_mm
from lineworthy.model import CopperArea, Part, Side, StackLayer, Stackup, Track
from lineworthy.project import Project
from lineworthy.sheet import built_in

SHEET = built_in()
OUNCE_MM = 1.378 * MIL_MM
NEED_OUTER = width_mm(5.0, 0.035, 10.0, outer=True)
NEED_INNER = width_mm(5.0, 0.035, 10.0, outer=False)


# --- the formula -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amps", "ounces", "outer", "inner"),
    [
        (1, 1, 0.300, 0.781),
        (5, 1, 2.765, 7.194),
        (10, 2, 3.597, 9.357),
    ],
)
def test_width_by_current(amps: float, ounces: float, outer: float, inner: float) -> None:
    """A semiconductor maker's design tool for the power handling of tracks (qorvo.com), 10 K, within 0.5 %."""
    thickness = ounces * OUNCE_MM
    assert width_mm(amps, thickness, 10, outer=True) == pytest.approx(outer, rel=5e-3)
    assert width_mm(amps, thickness, 10, outer=False) == pytest.approx(inner, rel=5e-3)


@pytest.mark.parametrize(("width", "amps"), [(0.20, 0.745), (0.25, 0.875), (0.50, 1.447), (1.00, 2.392)])
def test_current_by_width(width: float, amps: float) -> None:
    """The formula of the editor's own calculator of track widths, 35 um, 10 K, within 0.5 %; inside it is half."""
    assert carried_a(width * 0.035, 10, outer=True) == pytest.approx(amps, rel=5e-3)
    assert carried_a(width * 0.035, 10, outer=False) == pytest.approx(amps / 2, rel=5e-3)


def test_inner_to_outer_width_and_there_and_back() -> None:
    """The same current and rise: 2 to the power of 1 / 0.725, 2.601 (from the same design tool's constants)."""
    ratio = width_mm(3, 0.035, 20, outer=False) / width_mm(3, 0.035, 20, outer=True)
    assert ratio == pytest.approx(2.601, rel=1e-3)
    for outer in (True, False):
        assert carried_a(width_mm(3, 0.035, 20, outer=outer) * 0.035, 20, outer=outer) == pytest.approx(3)


def test_the_copper_of_a_barrel() -> None:
    """Ring of 0.30 mm drilled, 20 um thick: pi / 4 (0.30² - 0.26²)."""
    assert barrel_mm2(0.30, 0.02) == pytest.approx(0.017593, rel=1e-4)
    assert barrel_mm2(0.01, 0.02) == 0.0


# --- on a board ------------------------------------------------------------------------------------------------------


def thin(board: Board, **amps: float) -> list:
    project = Project(currents=amps)
    return list(current_path_thin.ask(board=board, project=project, sheet=SHEET, copper=tuple(layers(board))))


def land(name: str, x: float, y: float = 10, *, side: Side = Side.TOP, net: str = "VM") -> Part:
    return build.part(name, (x, y), [build.pad("1", (x, y), 1.0, side=side, net=net, uid=f"{name}.1")], side=side)


def run(width: float, layer: str = "top", start: float = 10, end: float = 40, y: float = 10) -> Track:
    return build.track((start, y), (end, y), width, layer=layer, net="VM")


def line(width: float) -> Board:
    return build.board(parts=(land("J1", 10), land("Q1", 40)), tracks=(run(width),))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("width", "found"),
    [(4.0, 0), (NEED_OUTER, 0), (NEED_OUTER - TOL_MM / 2, 0), (NEED_OUTER - 0.001, 1), (0.25, 1)],
)
def test_one_track_against_what_it_needs(width: float, found: int, turned: bool) -> None:
    board = line(width)
    if turned:
        board = build.board(
            parts=(land("J1", 10, 5), land("Q1", 10, 35)),
            tracks=(replace(board.tracks[0], start=(10, 5), end=(10, 35)),),
        )
    answers = thin(board, VM=5.0)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(width)
        assert answers[0].limit == pytest.approx(NEED_OUTER, abs=1e-3)


def test_the_message() -> None:
    (found,) = thin(line(0.25), VM=5.0)
    assert found.message == (
        "VM, 5 A: no two of its 2 parts are joined by copper that carries it; the widest of 1 track too narrow is"
        " 0.25 mm on top and carries 0.88 A, 2.766 mm needed (temperature rise 10 K)"
    )


def test_beyond_the_charts_is_said() -> None:
    (found,) = thin(line(3.0), VM=40.0)
    assert found.message.endswith("(temperature rise 10 K; the charts end at 35 A)")


def test_inner_layers_need_more_and_the_stack_up_knows_the_copper() -> None:
    hole = {"drill": 1.0, "diameter": 1.7}
    parts = tuple(
        build.part(name, (x, 10), [build.through_pad("1", (x, 10), net="VM", uid=f"{name}.1", **hole)])
        for name, x in (("J1", 10), ("J2", 40))
    )
    for width, found in ((NEED_INNER, 0), (NEED_INNER - 0.001, 1)):
        # the builder's plated pads have lands outside only: give them one inside as well
        inside = tuple(
            replace(
                part, pads=tuple(replace(pad, copper={**pad.copper, "in1": pad.copper["top"]}) for pad in part.pads)
            )
            for part in parts
        )
        board = build.board(copper_layers=("top", "in1", "bottom"), parts=inside, tracks=(run(width, "in1"),))
        assert len(thin(board, VM=5.0)) == found
    thick = Stackup(layers=(StackLayer("top", "copper", 0.070),))
    assert thin(replace(line(NEED_OUTER / 2), stackup=thick), VM=5.0) == []


def test_branches_on_less_are_a_note_that_names_them() -> None:
    board = line(3.0)
    board = replace(
        board,
        parts=(*board.parts, land("C1", 20, 20)),
        tracks=(*board.tracks, build.track((20, 10), (20, 20), 0.3, net="VM")),
    )
    (found,) = thin(board, VM=5.0)
    assert found.consequence is Consequence.NOTE
    assert found.message.startswith("VM, 5 A: copper that carries it joins J1, Q1; C1 on less; the thinnest of 1 track")


def test_a_pour_carries_and_a_gap_in_it_does_not() -> None:
    ends = (land("J1", 10), land("Q1", 40))
    whole = build.pour(shapely.box(5, 5, 45, 15), net="VM")
    assert thin(build.board(parts=ends, areas=(whole,), tracks=(run(0.2, y=12),)), VM=5.0) == []
    halves = build.pour(shapely.union_all([shapely.box(5, 5, 20, 15), shapely.box(21, 5, 45, 15)]), net="VM")
    assert len(thin(build.board(parts=ends, areas=(halves,), tracks=(run(0.2, y=12),)), VM=5.0)) == 1


def necked(width: float, layer: str = "top") -> CopperArea:
    """A pour of 40 x 10 mm with a slot from above, 2 mm wide, that leaves a neck."""
    area = shapely.box(5, 5, 45, 15) - shapely.box(24, 5 + width, 26, 15)
    return build.pour(area, layer=layer, net="VM", uid=f"pour {layer}")


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize(
    ("width", "found"), [(6.0, 0), (NEED_OUTER, 0), (NEED_OUTER - TOL_MM / 2, 0), (NEED_OUTER - 0.01, 1), (0.5, 1)]
)
def test_a_pour_carries_as_far_as_its_neck_is_wide(width: float, found: int, side: Side) -> None:
    layer = build.COPPER[side]
    ends = (land("J1", 10, side=side), land("Q1", 40, side=side))
    answers = thin(build.board(parts=ends, areas=(necked(width, layer),)), VM=5.0)
    assert len(answers) == found
    for answer in answers:
        assert answer.consequence is Consequence.QUERY
        assert answer.measured == pytest.approx(width, abs=1e-3)
        assert answer.limit == pytest.approx(NEED_OUTER, abs=1e-3)
        (place,) = answer.places
        assert (24 <= place.at[0] <= 26, place.side) == (True, side)


def test_what_a_neck_says() -> None:
    ends = (land("J1", 10), land("J2", 15, 7), land("Q1", 40))
    (found,) = thin(build.board(parts=ends, areas=(necked(1.0),)), VM=5.0)
    assert found.message == (
        "VM, 5 A: copper that carries it joins J1, J2; Q1 on less; the pour on top narrows to 1.00 mm, 2.766 mm needed"
        " (temperature rise 10 K)"
    )
    assert found.consequence is Consequence.NOTE


def test_pours_with_too_many_holes_are_listed_as_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    ends = (land("J1", 10), land("Q1", 40))
    made = build.board(parts=ends, areas=(necked(1.0),))
    monkeypatch.setattr(necks, "LOOKED_AT", 0)
    (answer,) = thin(made, VM=5.0)
    assert isinstance(answer, NotRun)
    assert answer.missing == "No necks are looked for in the pours of VM on top, with too many holes"


def test_a_neck_beside_other_copper_is_none() -> None:
    ends = (land("J1", 10), land("Q1", 40))
    wide = run(3.0, y=10)
    assert thin(build.board(parts=ends, areas=(necked(1.0),), tracks=(wide,)), VM=5.0) == []
    # the same pour on the other side, whole, and enough vias at both ends
    below = build.pour(shapely.box(5, 5, 45, 15), layer="bottom", net="VM", uid="below")
    vias = tuple(build.via((x, 5.5 + n), net="VM") for x in (12.0, 38.0) for n in range(8))
    assert thin(build.board(parts=ends, areas=(necked(1.0), below), vias=vias), VM=5.0) == []
    assert len(thin(build.board(parts=ends, areas=(necked(1.0), below), vias=vias[:3] + vias[8:]), VM=5.0)) == 1


def test_a_neck_before_copper_without_parts_says_nothing() -> None:
    ends = (land("J1", 10), land("Q1", 20))
    stitched = build.via((40, 10), net="VM")
    assert thin(build.board(parts=ends, areas=(necked(0.5),), vias=(stitched,)), VM=5.0) == []


@pytest.mark.parametrize(("count", "found"), [(12, 0), (7, 0), (6, 1), (1, 1)])
def test_vias_between_two_layers_add_up(count: int, found: int) -> None:
    """A barrel of 0.3 mm has 27.27 square mils: 0.024 x 10^0.44 x 27.27^0.725 = 0.726 A, so seven carry 5 A."""
    assert carried_a(barrel_mm2(0.3, 0.02), 10, outer=False) == pytest.approx(0.726, abs=1e-3)
    board = build.board(
        parts=(land("J1", 10), land("Q1", 40, side=Side.BOTTOM)),
        tracks=(run(3.0, "top", 10, 30), run(3.0, "bottom", 20, 40)),
        vias=tuple(build.via((20 + n * 0.8, 10), net="VM") for n in range(count)),
    )
    answers = thin(board, VM=5.0)
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        carried = "1 via carries 0.73 A" if count == 1 else "6 vias carry together 4.36 A"
        assert carried in answers[0].message


def test_a_net_that_is_not_routed_or_has_one_part_is_not_judged() -> None:
    assert thin(build.board(parts=(land("J1", 10), land("Q1", 40))), VM=5.0) == []
    assert thin(build.board(parts=(land("J1", 10),), tracks=(run(0.2),)), VM=5.0) == []
    assert thin(line(0.2)) == []


def test_a_name_wins_over_a_pattern_and_an_entry_that_names_nothing_is_said() -> None:
    assert thin(line(0.5), **{"V*": 5.0, "VM": 0.5}) == []
    assert len(thin(line(0.5), **{"V*": 5.0})) == 1
    (answer,) = thin(line(3.0), VN=5.0)
    assert isinstance(answer, NotRun)
    assert answer.how == "Correct currents in the project's settings, unless it is for another board"
