# SPDX-License-Identifier: MIT
"""Where probe pads are put: on their net's copper, clear of what the checks look at, or with a reason why not."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from test_amend_planners import measure

import build
from build import BOTTOM, TOP
from lineworthy.amend import ProbePad, Wanted, propose
from lineworthy.amend.offering import offer
from lineworthy.amend.space import Kind, Need, Space
from lineworthy.beside import Beside
from lineworthy.model import Board
from lineworthy.project import Project
from lineworthy.sheet import built_in

SHEET = built_in()


def planned(board: Board, *nets: str) -> list[ProbePad]:
    made = propose(board, SHEET, Wanted(test_pads=nets), measure)
    assert all(isinstance(pad, ProbePad) for pad in made.amendments)
    return list(made.amendments)  # type: ignore[arg-type]


def reason(board: Board, net: str = "VCC") -> str:
    (refusal,) = propose(board, SHEET, Wanted(test_pads=(net,)), measure).refusals
    return refusal.reason


def tracked(*parts: object, y: float = 20.0, width: float = 60.0, net: str = "VCC", **more: object) -> Board:
    """A board with one track along it, on the bottom, and a chip on its net."""
    chips = (build.chip("R1", (width / 2, 36), nets=(net, "X")),)
    track = build.track((2, y), (width - 2, y), 0.3, layer="bottom", net=net)
    return build.board(width, parts=(*chips, *parts), **{"tracks": (track,), **more})


def test_a_pad_keeps_from_the_edge_what_a_vacuum_seal_needs() -> None:
    near = tracked(build.probe_pad("TP1", (2, 30), "OTHER", side=BOTTOM))
    (pad,) = planned(near, "VCC")
    # 3.18 mm: testability guideline of a board manufacturer, 4.1.5 (trade text)
    assert pad.at[0] - pad.diameter / 2 >= 3.18
    assert "left to the board edge, 3.18 mm needed" in reason(tracked(y=2.0))


def test_what_the_settings_say_of_a_net_holds_for_pads_too() -> None:
    said = Beside(project=Project(nets={"VCC": "rf"}))
    made = propose(tracked(), SHEET, Wanted(test_pads=("VCC",)), measure, said)
    assert made.amendments == ()
    assert "spoils a net of this kind (rf)" in made.refusals[0].reason
    assert planned(tracked(), "VCC")


@pytest.mark.parametrize(("height", "need"), [(1.0, 1.0), (4.0, 3.05), (9.0, 5.08)])
def test_a_pad_keeps_from_parts_by_their_height(height: float, need: float) -> None:
    # 1.0 and 5.08 mm: test-pad list of a test engineer, 1999; 3.05 mm: guideline of a fixture user, 2009 (trade texts)
    lands = [build.pad(str(n), (30 + n, 24), 0.3, side=BOTTOM, uid=f"K1.{n}") for n in (0, 1)]
    body = build.rectangle((30, 24), 8, 4)
    block = build.part("K1", (30, 24), lands, body=body, height=height, side=BOTTOM, package="Module", courtyard={})
    (pad,) = planned(tracked(block), "VCC")
    assert body.distance(shapely.Point(pad.at)) - pad.diameter / 2 >= need - 1e-6
    assert math.dist(pad.at, (30, 20)) < 14


def test_a_pad_keeps_the_pitch_of_sturdy_probes_to_pads_of_other_nets() -> None:
    # 1.78 mm, two probes of 75 mil: guideline of an in-circuit tester's maker (trade text)
    there = [
        build.probe_pad(f"TP{n}", (30, 20 + s * 1.5), "S", side=BOTTOM, diameter=0.8) for n, s in ((1, -1), (2, 1))
    ]
    (pad,) = planned(tracked(*there), "VCC")
    assert min(math.dist(pad.at, item.at) for item in there) >= 1.78


def test_pads_planned_together_keep_that_pitch_too() -> None:
    tracks = tuple(build.track((5, 18 + n), (55, 18 + n), 0.2, layer="bottom", net=f"N{n}") for n in range(5))
    chips = tuple(build.chip(f"R{n}", (10.0 + 8 * n, 36), nets=(f"N{n}", "X")) for n in range(5))
    pads = planned(build.board(parts=chips, tracks=tracks), *(f"N{n}" for n in range(5)))
    assert len(pads) == 5
    assert min(math.dist(a.at, b.at) for a in pads for b in pads if a is not b) >= 1.78


def test_where_it_fits_only_between_two_steps_it_is_found_beside() -> None:
    """A gap in a fence of vias lets the small pad lie a little off the track, which still runs into it."""
    fence = [build.via((x, y), 0.6, net="X") for x in (29.0, 31.0) for y in (19.0, 19.5, 20.0, 20.5, 21.0)]
    track = build.track((29.5, 19.65), (30.5, 19.65), 0.2, layer="bottom", net="VCC")
    low = build.track((28, 19.15), (32, 19.15), 0.1, layer="bottom", net="X")
    (pad,) = planned(tracked(tracks=(track, low), vias=tuple(fence)), "VCC")
    assert pad.diameter == 0.7
    assert 0 < abs(pad.at[1] - 19.65) <= 0.25 * 0.7 + 1e-6


def test_a_refusal_says_where_the_nearest_free_space_is() -> None:
    fence = tuple(build.track((2, 20 + s * 0.5), (58, 20 + s * 0.5), 0.2, layer="bottom", net="X") for s in (-1, 1))
    fence += tuple(build.track((2, 20 + s * 0.5), (58, 20 + s * 0.5), 0.2, layer="top", net="X") for s in (-1, 1))
    track = build.track((5, 20), (55, 20), 0.2, layer="bottom", net="VCC")
    text = reason(tracked(tracks=(track, *fence)))
    assert "0.05 mm left to copper, 0.20 mm needed" in text
    # 0.5 to the middle of the fence, 0.1 to its rim, 0.2 of clearance, 0.35 of the pad: 1.15, and the next step of 0.25
    assert "the nearest free space is about 1.2 mm away" in text or "about 1.3 mm away" in text


def test_a_net_without_copper_on_the_outside_says_so() -> None:
    inner = build.track((5, 20), (55, 20), 0.2, layer="in1", net="VCC")
    assert reason(tracked(tracks=(inner,), copper_layers=("top", "in1", "in2", "bottom"))) == (
        "VCC has no track or pour on an outer layer"
    )


def test_new_pads_come_with_a_ground_pad_where_nothing_of_ground_can_be_probed() -> None:
    tracks = [build.track((5, 18 + 3 * n), (55, 18 + 3 * n), 0.2, layer="bottom", net=f"N{n}") for n in range(2)]
    tracks.append(build.track((5, 10), (55, 10), 0.4, layer="bottom", net="GND"))
    chips = tuple(build.chip(f"R{n}", (10.0 + 8 * n, 36), nets=(f"N{n}", "GND")) for n in range(2))
    made = build.board(parts=chips, tracks=tuple(tracks))
    assert [pad.net for pad in planned(made, "N0", "N1")] == ["N0", "N1", "GND"]
    assert [pad.net for pad in planned(made, "N0")] == ["N0"]
    leads = tuple(build.through_part(f"C{n}", (10 + 12.0 * n, 5), nets=("GND", "Z"), package="CP_R") for n in range(3))
    assert [pad.net for pad in planned(dataclasses.replace(made, parts=(*chips, *leads)), "N0", "N1")] == ["N0", "N1"]


def test_what_is_offered_causes_no_finding() -> None:
    tracks = [build.track((5, 15 + 3 * n), (55, 15 + 3 * n), 0.2, layer="bottom", net=f"S{n}") for n in range(6)]
    chips = tuple(build.chip(f"R{n}", (8.0 + 8 * n, 36), nets=(f"S{n}", "GND")) for n in range(6))
    ground = build.pour(shapely.box(1, 1, 59, 12), layer="bottom")
    ends = [((7.2 + 8 * n, 15.0 + 3 * n), f"S{n}") for n in range(6)] + [((8.8 + 8 * n, 8.0), "GND") for n in range(6)]
    tracks += [build.track((at[0], 36), at, 0.2, net=net) for at, net in ends]
    vias = tuple(build.via(at, net=net) for at, net in ends)
    made = build.board(parts=chips, tracks=tuple(tracks), vias=vias, areas=(ground,))
    offered = offer(made, SHEET, Wanted(test_pads=tuple(f"S{n}" for n in range(6))), measure)
    assert offered.proof.holds
    assert [pad.net for pad in offered.amendments] == [*(f"S{n}" for n in range(6)), "GND"]  # type: ignore[union-attr]


def test_room_agrees_with_free_regions() -> None:
    """Two ways to the same answer: the largest disc at a point, and the region where a disc of that size fits."""
    parts = (build.chip("R1", (20, 20), nets=("A", "B")), build.smd_part("U1", (35, 20), nets=("A",) * 8))
    board = build.board(parts=parts, vias=(build.via((28, 25), 0.8, net="B"),))
    gaps = {Kind.EDGE: 1.0, Kind.PART: 1.0, Kind.COPPER: 0.2, Kind.VIA: 0.1, Kind.PLANNED: 0.25}
    space = Space(board)
    space.reserve(build.rectangle((10, 10), 2, 2), TOP)
    need = Need(0.5, gaps, ("top",), (TOP,), "A")
    free = space.centres(shapely.box(0, 0, 60, 40), need)
    spots = shapely.get_coordinates(shapely.points([(x + 0.37, y + 0.11) for x in range(1, 58) for y in range(1, 38)]))
    radii = space.room(spots, need, 2.0)
    for spot, radius in zip(spots, radii):
        if abs(radius - need.radius) > 0.02:  # free regions are drawn with chords
            assert free.contains(shapely.Point(spot)) == (radius > need.radius), (spot, radius)
