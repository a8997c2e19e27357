# SPDX-License-Identifier: MIT
"""Planners and proof: what is placed, what is refused and why, and that nothing new appears."""

from __future__ import annotations

import dataclasses
import math
import re
from itertools import combinations
from typing import Optional

import pytest
import shapely

import build
from lineworthy.amend import (
    FiducialMark,
    MarkingText,
    ProbePad,
    ToolingHole,
    Wanted,
    amended,
    offer,
    offering,
    propose,
    prove,
)
from lineworthy.amend.fiducials import SYMMETRY_MM
from lineworthy.model import Board, Side, TitleBlock
from lineworthy.review import review
from lineworthy.shapes import disc
from lineworthy.sheet import built_in

SHEET = built_in()
ALL = Wanted(fiducials=True, revision=True, ground_pad=True, test_pads=("VCC",), tooling_holes=True)


def measure(text: str, height: float, stroke: float) -> tuple[float, float]:
    lines = text.split("\n")
    return max(len(line) for line in lines) * height * 0.9, len(lines) * height * 1.6


def fine(reference: str, at: tuple[float, float], side: Side = Side.TOP) -> object:
    nets = ("VCC", "GND", "XTAL_IN", "GND", "C", "D", "E", "VCC")
    return build.smd_part(reference, at, nets=nets, pitch=0.65, land=(0.3, 1.2), side=side)


def widget(width: float = 60.0, height: float = 40.0, **more: object) -> Board:
    made = {
        "parts": (fine("U1", (width / 2, height / 2)),),
        "areas": (build.pour(shapely.box(1, 12, width - 1, height - 1), layer="bottom", net="GND"),),
        "tracks": (build.track((5, 8), (width - 5, 8), 0.3, layer="bottom", net="VCC"),),
        "title": TitleBlock(title="Widget", revision="C"),
        "variables": {"REVISION": "C", "TITLE": "Widget"},
        **more,
    }
    return build.board(width, height, **made)


def kinds(amendments: object) -> list[str]:
    return [type(a).__name__ for a in amendments]  # type: ignore[attr-defined]


def test_everything_wanted_finds_a_place_and_the_findings_are_gone() -> None:
    board = widget()
    made = offer(board, SHEET, ALL, measure)
    assert made.refusals == ()
    assert sorted(kinds(made.amendments)) == sorted(
        ["ToolingHole"] * 3 + ["FiducialMark"] * 3 + ["ProbePad"] * 2 + ["MarkingText"]
    )
    gone = {finding.check for finding in made.proof.gone}
    assert {"fiducials/too-few", "identity/revision-missing", "identity/part-number-missing"} <= gone
    assert made.proof.new == ()
    after = review(amended(board, made.amendments, measure), SHEET)
    assert not {f.check for f in after.findings} & {"fiducials/too-few", "identity/revision-missing"}


def test_a_second_run_proposes_nothing() -> None:
    board = widget()
    once = amended(board, propose(board, SHEET, ALL, measure).amendments, measure)
    again = propose(once, SHEET, ALL, measure)
    assert again.amendments == ()
    assert again.refusals == ()


def test_proposals_are_the_same_each_time() -> None:
    assert propose(widget(), SHEET, ALL, measure) == propose(widget(), SHEET, ALL, measure)


@pytest.mark.parametrize("quarter", [0, 1])
@pytest.mark.parametrize("size", [(60.0, 40.0), (50.0, 50.0), (200.0, 30.0)])
def test_marks_are_far_apart_and_fit_one_way_only(size: tuple[float, float], quarter: int) -> None:
    width, height = size[::-1] if quarter else size
    parts = (fine("U1", (width / 2, height / 2)), fine("U2", (width / 2, height / 2), Side.BOTTOM))
    board = build.board(width, height, parts=parts)
    marks = propose(board, SHEET, Wanted(fiducials=True), measure).amendments
    assert len(marks) == 6
    by_side = {side: [a.at for a in marks if a.side is side] for side in Side}  # type: ignore[union-attr]
    for spots in by_side.values():
        longest = max(math.dist(a, b) for a, b in combinations(spots, 2))
        # common practice, no source: at least half the board's diagonal
        assert longest >= 0.5 * math.hypot(width, height)
        assert not _alike(spots, [(width - x, height - y) for x, y in spots]), "the board turned by half looks right"
    below = [(width - x, y) for x, y in by_side[Side.BOTTOM]]
    assert not _alike(by_side[Side.TOP], below)
    assert not _alike(by_side[Side.TOP], [(width - x, height - y) for x, y in below])


def _alike(some: list[tuple[float, float]], others: list[tuple[float, float]]) -> bool:
    return all(min(math.dist(a, b) for b in others) < SYMMETRY_MM for a in some)


def test_marks_keep_the_transport_edge_where_there_is_room() -> None:
    board = widget(80, 60)
    marks = [
        a for a in propose(board, SHEET, Wanted(fiducials=True), measure).amendments if isinstance(a, FiducialMark)
    ]
    for mark in marks:
        # SMEMA fiducial mark standard, summary: 4.75 mm plus the ring; preferred ring as wide as the mark
        assert board.outline.edge.distance(shapely.Point(mark.at)) >= 4.75 + 1.0 + 0.5
        assert mark.opening == 3.0


def test_marks_go_nearer_to_the_edge_rather_than_together() -> None:
    """In the middle of a narrow board marks of the better kind fit, but far apart they fit only near its ends."""
    columns = [6.0 + 0.6 * n for n in range(81) if n not in range(26, 56)]
    band = tuple(build.track((x, 0.5), (x, 13.5), 0.2, net="X") for x in columns)
    board = build.board(60, 14, tracks=band, parts=(fine("U1", (31, 7)),))
    marks = [a.at for a in propose(board, SHEET, Wanted(fiducials=True), measure).amendments]
    # common practice, no source: at least half the board's diagonal
    assert max(math.dist(a, b) for a, b in combinations(marks, 2)) >= 0.5 * math.hypot(60, 14)


def test_marks_that_fit_only_close_together_are_refused() -> None:
    columns = [0.6 * n for n in range(1, 100) if not 28 <= 0.6 * n <= 38]
    band = tuple(build.track((x, 0.5), (x, 13.5), 0.2, net="X") for x in columns)
    board = build.board(60, 14, tracks=band, parts=(fine("U1", (33, 7)),))
    made = propose(board, SHEET, Wanted(fiducials=True), measure)
    assert made.amendments == ()
    # common practice, no source: half the diagonal of 60 x 14 mm is 30.8 mm
    assert re.search(r"are (1\d|\d)\.\d mm apart at most, 30\.8 mm are needed", made.refusals[0].reason)


def test_good_marks_are_kept_and_completed() -> None:
    there = (build.fiducial("FID1", (5, 5)), build.fiducial("FID7", (55, 35)))
    board = widget(parts=(fine("U1", (30, 20)), *there))
    marks = propose(board, SHEET, Wanted(fiducials=True), measure).amendments
    assert [a.reference for a in marks] == ["FID2"]  # type: ignore[union-attr]
    assert math.dist(marks[0].at, (5, 5)) > 20
    assert math.dist(marks[0].at, (55, 35)) > 20


def test_a_side_without_machine_placed_parts_gets_no_marks() -> None:
    board = widget(parts=(build.through_part("J1", (30, 20), nets=("VCC", "GND")),))
    assert propose(board, SHEET, Wanted(fiducials=True), measure) == propose(board, SHEET, Wanted(), measure)


def test_a_crowded_board_is_refused_with_the_limit_and_by_how_much() -> None:
    tracks = tuple(build.track((0.5, 0.8 * n), (59.5, 0.8 * n), 0.2, net="X") for n in range(1, 50))
    board = widget(tracks=tracks)
    made = propose(board, SHEET, Wanted(fiducials=True), measure)
    assert made.amendments == ()
    (refusal,) = made.refusals
    assert refusal.wanted == "3 fiducials on the top"
    assert "copper" in refusal.reason or "nowhere" in refusal.reason
    wider = tuple(build.track((0.5, 0.9 + 1.8 * n), (59.5, 0.9 + 1.8 * n), 0.2, net="X") for n in range(22))
    (refusal,) = propose(widget(tracks=wider), SHEET, Wanted(fiducials=True), measure).refusals
    # 1.8 - 0.2 - 1.0 leaves 0.6 for two rings of a mark of 1 mm
    assert "clear ring left is 0.2" in refusal.reason or "clear ring left is 0.3" in refusal.reason
    assert "0.50 mm is needed" in refusal.reason
    assert "copper" in refusal.reason


def test_without_an_outline_nothing_is_placed() -> None:
    from lineworthy.model import Outline, OutlineFault

    board = dataclasses.replace(widget(), outline=Outline(shapely.Polygon(), (OutlineFault("none", None),)))
    made = offer(board, SHEET, ALL, measure)
    assert made.amendments == ()
    assert len(made.refusals) == 5
    assert all("outline" in refusal.reason for refusal in made.refusals)


def test_the_marking_follows_the_title_block() -> None:
    (text,) = propose(widget(), SHEET, Wanted(revision=True), measure).amendments
    assert isinstance(text, MarkingText)
    assert (text.text, text.source) == ("Widget REV C", "${TITLE} REV ${REVISION}")
    assert (text.height, text.stroke) == (1.0, 0.15)  # common practice, no source


def test_a_given_revision_is_written_as_it_is() -> None:
    (text,) = propose(widget(), SHEET, Wanted(revision=True, revision_text="7"), measure).amendments
    assert isinstance(text, MarkingText)
    assert text.source == "${TITLE} REV 7"


def test_only_what_is_missing_is_printed() -> None:
    board = widget(markings=(build.marking("WIDGET", (10, 10)),))
    (text,) = propose(board, SHEET, Wanted(revision=True), measure).amendments
    assert text.source == "REV ${REVISION}"  # type: ignore[union-attr]


def test_no_revision_anywhere_is_refused_but_the_name_is_offered() -> None:
    board = widget(title=TitleBlock(title="Widget"), variables={})
    made = propose(board, SHEET, Wanted(revision=True), measure)
    assert [a.source for a in made.amendments] == ["${TITLE}"]  # type: ignore[union-attr]
    assert [r.wanted for r in made.refusals] == ["the revision on the legend"]


def test_the_marking_lies_free_of_everything() -> None:
    parts = tuple(build.chip(f"R{n}", (4 + 5.5 * (n % 10), 4 + 5.5 * (n // 10))) for n in range(60))
    board = build.board(60, 36, parts=parts, title=TitleBlock(title="W", revision="C"), variables={"REVISION": "C"})
    made = propose(board, SHEET, Wanted(revision=True, text_side=Side.TOP), measure)
    (marking,) = amended(board, made.amendments, measure).markings
    assert board.outline.area.buffer(-0.25).covers(marking.extents)
    for part in parts:
        assert not marking.extents.intersects(part.courtyard[Side.TOP].buffer(-1e-6))
        for pad in part.pads:
            # common practice, no source: 0.10 mm to a mask opening
            assert marking.extents.distance(pad.mask[Side.TOP]) >= 0.10 - 1e-9


def test_a_text_that_fits_nowhere_is_refused_with_what_would_fit() -> None:
    cover = build.part("U9", (30, 20), (), body=shapely.box(0.5, 0.5, 59.5, 39.5))
    both = (cover, dataclasses.replace(cover, uid="b", reference="U8", side=Side.BOTTOM))
    made = propose(widget(parts=both), SHEET, Wanted(revision=True), measure)
    assert made.amendments == ()
    assert "0.80 mm are needed" in made.refusals[0].reason  # common practice, no source: the lower limit of legend


def test_the_ground_pad_lies_inside_the_pour_with_its_opening() -> None:
    board = widget()
    (pad,) = propose(board, SHEET, Wanted(ground_pad=True), measure).amendments
    assert isinstance(pad, ProbePad)
    assert (pad.net, pad.side, pad.diameter) == ("GND", Side.BOTTOM, 1.0)
    assert board.areas[0].fill.covers(disc(pad.at, 1.1))


def test_a_ground_pad_there_is_enough() -> None:
    board = widget(parts=(fine("U1", (30, 20)), build.probe_pad("TP1", (10, 30), "GND")))
    assert propose(board, SHEET, Wanted(ground_pad=True), measure).amendments == ()


def test_pads_gather_where_the_targets_are() -> None:
    targets = tuple(build.probe_pad(f"TP{n}", (8, 10 + 3 * n), f"S{n}", side=Side.BOTTOM) for n in range(3))
    (pad,) = propose(widget(parts=(fine("U1", (30, 20)), *targets)), SHEET, Wanted(ground_pad=True), measure).amendments
    assert math.dist(pad.at, (8, 13)) < 4


def test_a_test_pad_sits_on_its_track() -> None:
    board = widget()
    (pad,) = propose(board, SHEET, Wanted(test_pads=("VCC",)), measure).amendments
    assert isinstance(pad, ProbePad)
    assert pad.at[1] == pytest.approx(8.0, abs=1e-6)
    assert pad.side is Side.BOTTOM


@pytest.mark.parametrize(
    ("pitch", "diameter"),
    [
        (1.0, 1.0),  # 1.0 - 0.1 - 0.5 = 0.4 to the neighbours, 0.2 needed
        (0.7, 0.7),  # 0.7 - 0.1 - 0.35 = 0.25; the pad of 1.0 mm would have 0.1
        (0.5, None),
    ],
)
def test_neighbouring_tracks_decide_the_size(pitch: float, diameter: Optional[float]) -> None:
    tracks = [build.track((5, 8), (55, 8), 0.2, net="VCC")]
    tracks += [build.track((2, 8 + sign * pitch), (58, 8 + sign * pitch), 0.2, net="X") for sign in (-1, 1)]
    made = propose(widget(tracks=tuple(tracks)), SHEET, Wanted(test_pads=("VCC",)), measure)
    if diameter is None:
        assert made.amendments == ()
        (refusal,) = made.refusals
        # the pad of 0.7 mm overlaps the neighbour at 0.5 - 0.1: 0.4 - 0.35 = 0.05 is left
        assert "0.05 mm left to copper" in refusal.reason
        assert "0.20 mm needed" in refusal.reason
    else:
        assert made.refusals == ()
        assert made.amendments[0].diameter == diameter  # type: ignore[union-attr]


def test_a_net_that_does_not_bear_a_pad_is_refused() -> None:
    parts = (fine("U1", (30, 20)), build.smd_part("Y1", (20, 30), nets=("XTAL_IN", "X2"), package="Crystal_SMD"))
    made = propose(widget(parts=parts), SHEET, Wanted(test_pads=("XTAL_IN",)), measure)
    assert made.amendments == ()
    assert "spoils" in made.refusals[0].reason


def test_an_unknown_net_is_refused() -> None:
    (refusal,) = propose(widget(), SHEET, Wanted(test_pads=('"<x>',)), measure).refusals
    assert refusal.reason == "the board has no such net"


def test_tooling_holes_keep_off_parts_on_both_sides() -> None:
    parts = (fine("U1", (30, 20)), build.chip("R1", (5, 5), side=Side.BOTTOM))
    board = widget(parts=parts)
    holes = propose(board, SHEET, Wanted(tooling_holes=True), measure).amendments
    assert len(holes) == 3
    for hole in holes:
        assert isinstance(hole, ToolingHole)
        assert hole.diameter == 3.175  # guideline of an in-circuit tester's maker (trade text)
        edge = board.outline.edge.distance(shapely.Point(hole.at))
        assert edge >= hole.diameter / 2 + 1.6
        assert all(part.body.distance(shapely.Point(hole.at)) >= hole.diameter / 2 + 1.0 for part in parts)


def test_what_would_cause_a_finding_is_not_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """A planner that errs: the mark it places touches a land, which the proof sees."""

    def wrong(plan: object) -> None:
        plan.amendments.append(FiducialMark("FID1", (30.0, 17.6), Side.TOP, 1.0, 2.0))  # type: ignore[attr-defined]

    monkeypatch.setattr(offering, "plan_fiducials", wrong)
    made = offering.offer(widget(), SHEET, Wanted(fiducials=True), measure)
    assert made.amendments == ()
    assert "it would cause" in made.refusals[0].reason


def test_a_mark_that_answers_nothing_is_not_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    def lonely(plan: object) -> None:
        plan.amendments.append(FiducialMark("FID1", (5.0, 35.0), Side.TOP, 1.0, 2.0))  # type: ignore[attr-defined]

    monkeypatch.setattr(offering, "plan_fiducials", lonely)
    made = offering.offer(widget(), SHEET, Wanted(fiducials=True), measure)
    assert made.amendments == ()
    assert "would still be there" in made.refusals[0].reason


def test_the_proof_names_what_goes_and_what_comes() -> None:
    board = widget()
    bad = (FiducialMark("FID1", (5.0, 8.0), Side.BOTTOM, 1.0, 2.0),)  # on the track of VCC
    proof = prove(board, SHEET, bad, measure)
    assert "fiducials/clear-area-crowded" in {finding.check for finding in proof.new}
    assert not proof.holds


def test_a_pour_gives_way_in_the_amended_board() -> None:
    poured = build.pour(shapely.box(1, 1, 59, 39), layer="top", net="GND", uid="top-pour")
    board = widget(areas=(poured,), tracks=())
    made = offer(board, SHEET, Wanted(fiducials=True), measure)
    assert len(made.amendments) == 3
    assert made.refusals == ()
    fill = amended(board, made.amendments, measure).areas[0].fill
    for mark in made.amendments:
        assert fill.distance(shapely.Point(mark.at)) >= 1.0 - 1e-3


@pytest.mark.parametrize("text", ["${", "a\nb", '")(gr_text "', "\u202e evil", "<script>", ""])
def test_hostile_titles_do_not_stop_planning(text: str) -> None:
    board = widget(title=TitleBlock(title=text, revision=text))
    made = offer(board, SHEET, Wanted(revision=True), measure)
    assert made.amendments or made.refusals


def test_two_that_harm_only_together_are_not_both_offered() -> None:
    """Ground can be probed from below only, VCC from above only: together they would want a fixture on both sides."""
    board = widget(tracks=(build.track((5, 8), (55, 8), 0.3, net="VCC"),))
    made = offer(board, SHEET, Wanted(ground_pad=True, test_pads=("VCC",)), measure)
    assert [a.net for a in made.amendments] == ["GND"]  # type: ignore[union-attr]
    assert "it would cause: 1 net needs a probe from the top" in made.refusals[0].reason
    assert made.proof.new == ()
