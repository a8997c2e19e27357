# SPDX-License-Identifier: MIT
"""Probe plans of boards we did not write: what must be true of each of them."""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely

import demos
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Board, Side, Via
from lineworthy.plans.probe_plan import Probe, ProbePlan
from lineworthy.plans.probe_sizes import FINEST_MM, spacing
from lineworthy.plans.probes import plan
from lineworthy.report import probe_map, probe_table, probe_text
from lineworthy.sheet import built_in

BOARDS = ("pic_programmer", "StickHub", "RoyalBlue54L-Feather", "tinytapeout-demo", "multichannel_mixer", "carte_test")

KEYS_MISSED = {
    # read off the boards: nothing of these nets is bare on any side, or only the pads of surface parts are
    "StickHub": {"+3.3V", "Net-(U1-EXT_RST#)"},
    "tinytapeout-demo": {"/RP2040/QSPI_SD2", "/RP2040/QSPI_SD3", "~{crst}{slash}out2"},
    "pic_programmer": set(),
    "multichannel_mixer": set(),
    "carte_test": set(),
}


@pytest.fixture(scope="module", params=BOARDS)
def made(request: pytest.FixtureRequest) -> ProbePlan:
    path = next((path for path in demos.paths() if path.stem == request.param), None)
    assert path is not None, demos.HOW
    return planned(demos.read(path))


def planned(board: Board) -> ProbePlan:
    return plan(board, built_in(), nets=Nets(board), marks=Marks(board), packages=Packages(board))


def copper(board: Board, probe: Probe) -> shapely.Geometry:
    item = probe.target.item
    if isinstance(item, Via):
        return shapely.Point(item.at).buffer(item.diameter / 2)
    return item[1].copper[board.copper_on(probe.target.side)]


def test_every_probe_stands_on_bare_copper_of_its_net(made: ProbePlan) -> None:
    for probe in made.probes:
        item = probe.target.item
        assert (item.net if isinstance(item, Via) else item[1].net) == probe.net
        assert copper(made.board, probe).distance(shapely.Point(probe.target.at)) < 1e-6
        assert isinstance(item, Via) or probe.target.side in item[1].mask
        assert probe.target.diameter >= built_in().test_access.target_min_mm - 1e-4


def test_sizes_keep_to_the_spacing_of_their_classes(made: ProbePlan) -> None:
    for side in Side:
        for one, other in combinations(made.on(side), 2):
            apart = math.dist(one.target.at, other.target.at)
            if one.size and other.size:
                assert apart >= spacing(one.size, other.size) - 1e-4, (one.number, other.number)
            elif one.size or other.size:
                assert apart >= FINEST_MM - 1e-4


def test_every_net_is_accounted_for_once(made: ProbePlan) -> None:
    groups = [
        {probe.net for probe in made.probes},
        {plug.facts.name for plug in made.plugs},
        {miss.facts.name for miss in made.uncovered},
        {facts.name for facts in made.left_bare},
    ]
    assert sum(map(len, groups)) == len(set().union(*groups))
    left = set(made.board.pads_by_net) - set().union(*groups)
    known = Nets(made.board)
    assert {known.of(net).kind.value for net in left} <= {"single-pin", "no-connect"}


def test_what_test_needs_and_cannot_reach(made: ProbePlan) -> None:
    wanted = KEYS_MISSED.get(made.board.name)
    if wanted is not None:
        assert {miss.facts.name for miss in made.missed_keys} == wanted


def test_rooms_are_free(made: ProbePlan) -> None:
    layer = made.board.copper_on(made.side)
    pads = [(pad.net, pad.copper[layer]) for _, pad in made.board.pads if layer in pad.copper]
    tree = shapely.STRtree([shape for _, shape in pads])
    for miss in made.uncovered:
        if miss.room is not None:
            disc = shapely.Point(miss.room.at).buffer(0.5)
            assert made.board.outline.area.covers(disc)
            assert not len(tree.query(disc, predicate="dwithin", distance=0.199)), miss.facts.name
            assert all(math.dist(miss.room.at, probe.target.at) >= 1.78 - 1e-4 for probe in made.on(made.side))


def test_outputs_are_sound(made: ProbePlan) -> None:
    ElementTree.fromstring(probe_map.draw(made))
    assert probe_table.table(made).count("\n") == len(made.probes) + 1
    assert probe_text.render(made).startswith("Probe plan")


@pytest.mark.slow
def test_the_largest_board_is_planned() -> None:
    path: Path = demos.paths()[-1]
    made = planned(demos.read(path))
    assert len(made.probes) > 150
    ElementTree.fromstring(probe_map.draw(made))
