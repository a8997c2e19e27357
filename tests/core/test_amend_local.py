# SPDX-License-Identifier: MIT
"""Pairs of marks for fine parts, and marks that fit those there are."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from shapely import affinity

import build
from lineworthy.amend import FiducialMark, Wanted, amended, offer, propose
from lineworthy.model import Board, PadRole, Part, Side
from lineworthy.review import review
from lineworthy.sheet import built_in

SHEET = built_in()
TOP, BOTTOM = Side
MARKS = Wanted(fiducials=True)
NO_PAIR = "fiducials/no-local-pair"


def measure(text: str, height: float, stroke: float) -> tuple[float, float]:
    return len(text) * height * 0.9, height * 1.6


def quad(reference: str = "U1", at: tuple[float, float] = (30, 20), side: Side = TOP, pitch: float = 0.4) -> Part:
    """Twenty gull-wing lands on four sides."""
    lands = []
    for turn in range(4):
        for n in range(5):
            along, out = (n - 2) * pitch, 3.0
            x, y = [(along, -out), (out, along), (-along, out), (-out, -along)][turn]
            number, size = str(5 * turn + n + 1), (0.2, 1.2) if turn % 2 == 0 else (1.2, 0.2)
            lands.append(build.pad(number, (at[0] + x, at[1] + y), size, side=side, uid=f"{reference}.{number}"))
    return build.part(reference, at, lands, side=side, package="LQFP-20", body=build.rectangle(at, 4, 4))


def rotated(item: Part, degrees: float) -> Part:
    def turned(shape):
        return affinity.rotate(shape, degrees, origin=item.at)

    lands = [
        dataclasses.replace(
            land,
            at=turned(shapely.Point(land.at)).coords[0],
            copper={layer: turned(copper) for layer, copper in land.copper.items()},
            mask={side: turned(opening) for side, opening in land.mask.items()},
            paste={side: turned(opening) for side, opening in land.paste.items()},
        )
        for land in item.pads
    ]
    courtyard = {side: turned(area) for side, area in item.courtyard.items()}
    return dataclasses.replace(item, rotation=degrees, pads=tuple(lands), courtyard=courtyard, body=turned(item.body))


def checks(board: Board) -> set[str]:
    return {finding.check for finding in review(board, SHEET, only=["fiducials"], strict=True).findings}


def local(made) -> list[FiducialMark]:
    return [a for a in made.amendments if isinstance(a, FiducialMark) and a.local]


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("turn", [0.0, 90.0, 30.0])
def test_a_fine_part_gets_a_pair(turn: float, side: Side) -> None:
    board = build.board(parts=(rotated(quad(side=side), turn),))
    assert NO_PAIR in checks(board)
    made = offer(board, SHEET, MARKS, measure)
    assert made.refusals == ()
    assert made.proof.new == ()
    pair = local(made)
    assert [mark.side for mark in pair] == [side, side]
    # the largest of three sizes, 1.0 in 2.0 mm: draft of IPC-7351C, as shown on its announcement's slides
    assert [(mark.diameter, mark.opening) for mark in pair] == [(1.0, 2.0)] * 2
    assert checks(amended(board, made.amendments, measure)) == set()
    for mark in pair:
        assert math.dist(mark.at, (30, 20)) < 7, "beside the part"


def test_three_marks_of_the_board_come_with_it() -> None:
    made = propose(build.board(parts=(quad(),)), SHEET, MARKS, measure)
    marks = [a for a in made.amendments if isinstance(a, FiducialMark)]
    assert [mark.local for mark in marks] == [False] * 3 + [True] * 2
    assert [mark.reference for mark in marks] == ["FID1", "FID2", "FID3", "FID4", "FID5"]
    assert "Local" in marks[3].package
    assert "Local" not in marks[0].package
    assert marks[3].title == "local fiducial FID4, 1 mm, top"


def test_coarse_parts_and_parts_with_a_pair_get_none() -> None:
    assert not local(propose(build.board(parts=(quad(pitch=0.5),)), SHEET, MARKS, measure))
    there = [build.fiducial(f"L{n}", at, 0.5, role=PadRole.FIDUCIAL_LOCAL) for n, at in enumerate([(26, 16), (34, 24)])]
    assert not local(propose(build.board(parts=(quad(), *there)), SHEET, MARKS, measure))


def test_neighbours_may_share_a_mark() -> None:
    made = offer(build.board(80, 40, parts=(quad("U1", (30, 20)), quad("U2", (42, 20)))), SHEET, MARKS, measure)
    assert made.refusals == ()
    assert made.proof.new == ()
    assert 3 <= len(local(made)) <= 4


def walled(gap: float) -> Board:
    """A fine part with copper so far from its lands on all sides."""
    reach = 3.6 + gap
    ring = build.rectangle((30, 20), 2 * reach + 12, 2 * reach + 12).difference(
        build.rectangle((30, 20), 2 * reach, 2 * reach)
    )
    wall = build.graphic(ring, build.COPPER_TOP, "wall")
    marks = [build.fiducial(f"FID{n}", at) for n, at in enumerate([(3, 3), (57, 37), (3, 37)], 1)]
    return build.board(parts=(quad(), *marks), graphics=(wall,))


@pytest.mark.parametrize(("gap", "size"), [(3.0, 1.0), (0.4, 0.75), (0.0, 0.5)])
def test_with_less_room_the_marks_are_smaller(gap: float, size: float) -> None:
    assert {mark.diameter for mark in local(propose(walled(gap), SHEET, MARKS, measure))} == {size}


def test_without_room_it_says_what_was_looked_for() -> None:
    tight = propose(walled(-1.0), SHEET, MARKS, measure)
    assert local(tight) == []
    assert tight.refusals[0].wanted == "a pair of marks for U1 on the top"
    assert tight.refusals[0].reason.startswith("a mark of 0.50 mm comes nearest to fitting ")
    assert tight.refusals[0].reason.endswith(": nothing left to copper, 0.25 mm needed")


def test_local_marks_are_of_the_size_of_those_there() -> None:
    there = [build.fiducial("L1", (50, 8), 0.5, role=PadRole.FIDUCIAL_LOCAL)]
    made = offer(build.board(parts=(quad(), *there)), SHEET, MARKS, measure)
    assert {mark.diameter for mark in local(made)} == {0.5}
    assert made.proof.new == ()


def test_a_third_mark_is_as_large_as_the_two_there_are() -> None:
    """All marks of a board are of one size: SMEMA fiducial mark standard, summary."""
    there = [build.fiducial(f"FID{n}", at, 1.5) for n, at in enumerate([(6, 6), (54, 34)], 1)]
    made = offer(build.board(parts=(quad(pitch=0.5), *there)), SHEET, MARKS, measure)
    assert [a.diameter for a in made.amendments] == [1.5]  # type: ignore[union-attr]
    assert made.proof.new == ()


def test_marks_keep_off_what_looks_like_them() -> None:
    corners = [(4, 4), (56, 36), (4, 36), (56, 4)]
    pads = [build.probe_pad(f"TP{n}", at, net=f"n{n}") for n, at in enumerate(corners)]
    board = build.board(parts=(quad(pitch=0.5), *pads))
    marks = [a for a in propose(board, SHEET, MARKS, measure).amendments if isinstance(a, FiducialMark)]
    assert len(marks) == 3
    # common practice, no source: about 3 mm
    assert min(math.dist(mark.at, at) for mark in marks for at in corners) >= 3.0


def test_a_note_where_a_hold_was_does_not_stop_an_offer() -> None:
    """On a frame that is crowded inside, marks fit near the edge only; better there than none."""
    block = build.rectangle((60, 60), 110, 110)
    wall = build.graphic(block, build.COPPER_TOP, "block")
    layout = build.board(120, 120, parts=(quad(at=(60, 60), pitch=0.5),), graphics=(wall,))
    made = offer(layout, SHEET, MARKS, measure)
    assert len(made.amendments) == 3
    assert "fiducials/near-transport-edge" in checks(amended(layout, made.amendments, measure))
    assert "fiducials/too-few" in {finding.check for finding in made.proof.gone}


def test_probe_pads_keep_off_marks_of_their_size() -> None:
    poured = build.pour(shapely.box(1, 1, 59, 39), layer="bottom", net="GND")
    corner = build.fiducial("FID1", (30, 20), side=BOTTOM)
    chip = build.smd_part("U1", (30, 30), nets=("GND", "A", "GND", "VCC"))
    layout = build.board(parts=(chip, corner), areas=(poured,))
    (pad,) = (a for a in propose(layout, SHEET, Wanted(ground_pad=True), measure).amendments)
    assert pad.diameter == 1.0  # type: ignore[union-attr]
    # common practice, no source: about 3 mm
    assert math.dist(pad.at, (30, 20)) >= 3.0
