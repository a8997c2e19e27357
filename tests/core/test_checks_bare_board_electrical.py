# SPDX-License-Identifier: MIT
"""Spacing by voltage and current by width, against the table and charts of IPC-2221 as others print them."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
import shapely

import build
from lineworthy import Beside, Board, Consequence, review
from lineworthy.checks.bare_board_electrical import voltage_gap_small
from lineworthy.finding import NotRun
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.gaps import Layer, layers, net_of
from lineworthy.knowledge.ipc2221 import Column, spacing
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.voltages import Voltages, apart, mains_nets, too_near
from lineworthy.model import Side
from lineworthy.project import Project
from lineworthy.report.cautions import cautions


def close(board: Board, **said: object) -> list:
    ranges = {name: volts if isinstance(volts, tuple) else (float(volts), float(volts)) for name, volts in said.items()}
    project = Project(voltages=ranges)
    return list(voltage_gap_small.ask(board=board, project=project, nets=Nets(board), copper=tuple(layers(board))))


# --- the table -----------------------------------------------------------------------------------------------------

TABLE = "IPC-2221 table 6-1, as printed in the documentation of a board calculator"


@pytest.mark.parametrize(
    ("volts", "b1", "b2", "b4", "a6"),
    [
        (15, 0.05, 0.1, 0.05, 0.13),
        (30, 0.05, 0.1, 0.05, 0.25),
        (50, 0.1, 0.6, 0.13, 0.4),
        (60, 0.1, 0.6, 0.13, 0.5),  # row of 51 to 100 V
        (150, 0.2, 0.6, 0.4, 0.8),
        (170, 0.2, 1.25, 0.4, 0.8),
        (250, 0.2, 1.25, 0.4, 0.8),
        (300, 0.2, 1.25, 0.4, 0.8),
        (325, 0.25, 2.5, 0.8, 1.5),  # peak of 230 V
        (500, 0.25, 2.5, 0.8, 1.5),
        (600, 0.50, 3.0, 1.105, 1.805),  # 0.50 is the example of the table's note
        (1000, 1.5, 5.0, 2.325, 3.025),
    ],
)
def test_the_table_as_printed(volts: float, b1: float, b2: float, b4: float, a6: float) -> None:
    columns = (Column.B1, Column.B2, Column.B4, Column.A6)
    got = [float(spacing(np.array(volts), column)) for column in columns]
    assert got == pytest.approx([b1, b2, b4, a6], abs=1e-3), TABLE


@pytest.mark.parametrize("column", list(Column))
def test_between_two_bands_the_higher_counts_and_spacing_never_falls(column: Column) -> None:
    volts = np.array([15.0, 15.5, 16.0, 100.0, 100.5, 101.0])
    got = spacing(volts, column)
    assert got[1] == got[2]
    assert got[4] == got[5]
    rising = spacing(np.linspace(0, 3000, 6001), column)
    assert (np.diff(rising) >= 0).all()


def test_voltages_between_ranges() -> None:
    assert apart((400, 400), (0, 0)) == 400
    assert apart((-48, -48), (12, 12)) == 60
    assert apart((-325, 325), (0, 0)) == 325
    assert apart((0, 48), (0, 48)) == 48


# --- on a board ----------------------------------------------------------------------------------------------------


def tracks(gap: float, *, layer: str = "top", turn: float = 0.0, opened: bool = False) -> Board:
    """A track of HV and one of GND, `gap` mm apart, and two lands of each far from all else."""
    made = []
    for n, net in enumerate(("HV", "GND")):
        line = shapely.affinity.rotate(
            shapely.LineString([(20, 20 + n * (gap + 0.2)), (40, 20 + n * (gap + 0.2))]), turn, origin=(30, 20)
        )
        start, end = line.coords
        made.append(replace(build.track(start, end, 0.2, layer=layer, net=net), mask_opened=opened))
    spots = {"HV": ((5, 5), (5, 35)), "GND": ((55, 5), (55, 35))}
    lands = [
        build.part(f"J{net}{n}", at, [build.pad("1", at, net=net)])
        for net, ats in spots.items()
        for n, at in enumerate(ats)
    ]
    return build.board(60, 40, copper_layers=("top", "in1", "bottom"), tracks=tuple(made), parts=tuple(lands))


@pytest.mark.parametrize(
    ("layer", "opened", "need", "column"),
    [("top", False, 0.8, "B4"), ("bottom", False, 0.8, "B4"), ("in1", False, 0.25, "B1"), ("top", True, 2.5, "B2")],
)
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_spacing_by_layer_and_mask_against_the_table(
    layer: str, opened: bool, need: float, column: str, turn: float
) -> None:
    for gap, found in ((need + 0.5, 0), (need, 0), (need - TOL_MM / 2, 0), (need - 0.001, 1), (0.15, 1)):
        answers = close(tracks(gap, layer=layer, turn=turn, opened=opened), HV=400)
        assert len(answers) == found, gap
        if found:
            assert answers[0].consequence is Consequence.QUERY
            assert answers[0].measured == pytest.approx(gap, abs=1e-6)
            assert answers[0].limit == pytest.approx(need)
            assert f"(IPC-2221 {column})" in answers[0].message


def test_the_message_says_what_is_apart_and_by_what_rule() -> None:
    (found,) = close(tracks(0.5), HV=400)
    assert found.message == (
        "GND and HV, 400 V apart: 0.50 mm on top, 0.80 mm needed between outer conductors under mask"
        " (IPC-2221 B4); 1 place"
    )


@pytest.mark.parametrize(("gap", "found"), [(1.5, 0), (1.499, 1)])
def test_lands_are_terminations(gap: float, found: int) -> None:
    pads = [build.pad("1", (10, 10), 1.0, net="HV"), build.pad("2", (11 + gap, 10), 1.0, net="GND")]
    answers = close(build.board(parts=(build.part("D1", (10, 10), pads),)), HV=400)
    assert len(answers) == found
    if found:
        assert "between uncoated terminations (IPC-2221 A6)" in answers[0].message


@pytest.mark.parametrize(("open_on", "need"), [((), 0.8), ((Side.TOP,), 2.5)])
def test_an_open_via_is_a_bare_conductor(open_on: tuple[Side, ...], need: float) -> None:
    for gap, found in ((need, 0), (need - 0.001, 1)):
        board = build.board(
            vias=(build.via((10, 10), net="HV", open_on=open_on),),
            tracks=(build.track((10.4 + gap, 5), (10.4 + gap, 15), 0.2, net="GND"),),
        )
        assert len(close(board, HV=400)) == found


def test_low_voltages_and_swings() -> None:
    assert close(tracks(0.15), HV=3.3) == close(tracks(0.15), HV=48) == []
    assert len(close(tracks(0.12), HV=48)) == 1  # 0.13 mm under mask from 31 V on
    assert len(close(tracks(0.5), HV=(-325.0, 325.0))) == 1
    assert close(tracks(0.5), HV=(-325.0, 325.0), GND=(-325.0, -325.0))[0].limit == pytest.approx(0.8 + 150 * 0.00305)


def test_nets_nobody_named_count_as_ground_and_make_a_note() -> None:
    board = tracks(0.5)
    board = replace(board, tracks=(board.tracks[0], replace(board.tracks[1], net="/SENSE")))
    (found,) = close(board, HV=400)
    assert found.consequence is Consequence.NOTE
    assert found.message.startswith("HV (400 V) and /SENSE, 400 V apart, those not named taken")
    # a rail's name says more than nothing: 400 V to -600 V is 1000 V
    board = replace(board, tracks=(board.tracks[0], replace(board.tracks[1], net="-600V")))
    lands = (build.part(f"C{n}", (50, 10 * n), [build.pad("1", (50, 10 * n), net="-600V")]) for n in (1, 2))
    (found,) = close(replace(board, parts=(*board.parts, *lands)), HV=400)
    assert found.limit == pytest.approx(2.325, abs=1e-3)


def test_a_pattern_names_many_nets_and_a_name_wins() -> None:
    assert len(close(tracks(0.5), **{"H*": 400})) == 1
    assert close(tracks(0.5), **{"H*": 400, "HV": 12}) == []


def test_without_voltages_only_signs_of_danger_are_worth_a_line() -> None:
    assert close(tracks(0.1)) == []
    mains = build.part("J9", (50, 30), [build.pad("1", (50, 30), net="MAINS_L")])
    (answer,) = close(replace(tracks(0.1), parts=(mains,)))
    assert isinstance(answer, NotRun)
    assert answer.missing == "No voltages of nets, though the board has net MAINS_L"
    socket = build.part("J9", (50, 30), [build.pad("1", (50, 30))], value="230 V AC inlet")
    (answer,) = close(build.board(parts=(socket,)))
    assert answer.missing == "No voltages of nets, though the board has J9"


def test_a_pair_coupled_by_capacitors_is_no_mains() -> None:
    pads = [build.pad(str(n), (10 + 2 * n, 10), net=net) for n, net in enumerate(("CLK_AC_P", "CLK_AC_N", "AC_N"))]
    assert mains_nets(build.board(parts=(build.part("U1", (10, 10), pads),))) == ["AC_N"]


def test_an_entry_that_names_nothing_is_said() -> None:
    (answer,) = close(tracks(3.0), HVV=400)
    assert isinstance(answer, NotRun)
    assert answer.missing == "No net called 'HVV' (nearest is 'HV')"


def test_nothing_on_the_board_is_nothing_found() -> None:
    assert all(isinstance(answer, NotRun) for answer in close(build.board(), HV=400))


# --- the search against every pair -----------------------------------------------------------------------------------


def by_every_pair(board: Board, layer: Layer, voltages: Voltages) -> set[tuple[int, int]]:
    side = board.side_of(layer.name)
    found = set()
    for i, one in enumerate(layer.owners):
        for j, other in enumerate(layer.owners[:i]):
            named = [voltages.named(net_of(owner)) for owner in (one, other)]
            if layer.net[i] == layer.net[j] or not any(volts is not None and any(volts) for volts in named):
                continue
            volts = np.array(apart(voltages.of(net_of(one)), voltages.of(net_of(other))))
            lands = [isinstance(owner, tuple) for owner in (one, other)]
            vias = [
                getattr(owner, "tented", frozenset(Side)) != frozenset(Side) and hasattr(owner, "drill")
                for owner in (one, other)
            ]
            if side is None:
                need = spacing(volts, Column.B1)
            else:
                bare = [spacing(volts, Column.A6)] * any(lands) + [spacing(volts, Column.B2)] * any(vias)
                need = max(bare) if bare else spacing(volts, Column.B4)
            apart_mm = layer.shapes[i].distance(layer.shapes[j]) - layer.half[i] - layer.half[j]
            if volts > 15 and 0.0 < apart_mm < need - TOL_MM and net_of(one) and net_of(other):
                found.add((j, i))
    return found


@pytest.mark.parametrize("seed", range(20))
def test_the_search_finds_what_measuring_every_pair_finds(seed: int) -> None:
    """Ten random boards a seed: 200 in all, lands, open and covered vias, wide tracks, pours, three layers."""
    chance = random.Random(seed)
    nets = ["", "GND", "HV", "MID", "LOW", "/S1"]
    said = {"HV": (800.0, 800.0), "MID": (-60.0, 60.0), "LOW": (12.0, 12.0)}
    for _ in range(10):
        spot = lambda: (chance.uniform(0, 15), chance.uniform(0, 15))  # noqa: E731
        net = lambda: chance.choice(nets)  # noqa: E731
        size = lambda: chance.choice([0.2, 0.6, 2.0])  # noqa: E731
        pads = [
            build.pad(str(n), spot(), (size(), size()), net=net(), rotation=chance.choice([0, 30])) for n in range(6)
        ]
        board = build.board(
            15,
            15,
            copper_layers=("top", "in1", "bottom"),
            parts=tuple(build.part(f"U{n}", pad.at, [pad]) for n, pad in enumerate(pads)),
            tracks=tuple(
                build.track(spot(), spot(), size(), net=net(), layer=chance.choice(["top", "in1"])) for _ in range(8)
            ),
            vias=tuple(
                build.via(spot(), 0.6, 0.3, net=net(), open_on=chance.choice([(), tuple(Side)])) for _ in range(6)
            ),
            areas=(build.pour(shapely.box(*spot(), 16, 16), net=net()),),
        )
        voltages = Voltages(said, Nets(board))
        for layer in layers(board):
            pieces = [(id(owner), shape.wkb) for owner, shape in zip(layer.owners, layer.shapes)]
            assert len(set(pieces)) == len(pieces)
            number = {id(owner): n for n, owner in enumerate(layer.owners)}
            mine = too_near(layer, board.side_of(layer.name), voltages)
            expected = by_every_pair(board, layer, voltages)
            assert len(mine) == len(expected)
            pours = {n for n, owner in enumerate(layer.owners) if owner in board.areas}
            got = {tuple(sorted((number[id(short.one)], number[id(short.other)]))) for short in mine}
            assert {pair for pair in got if not pours & set(pair)} == {p for p in expected if not pours & set(p)}


@pytest.mark.parametrize(("volts", "warned"), [(400.0, True), (60.0, False), (-400.0, True)])
def test_a_report_warns_of_dangerous_voltages_that_are_said(volts: float, warned: bool) -> None:
    project = Project(voltages={"HV": (volts, volts)})
    told = cautions(review(tracks(5.0), only=["bare-board/voltage-gap-small"], beside=Beside(project=project)))
    assert any(caution.text.startswith("Net HV is said to carry more than") for caution in told) is warned
