# SPDX-License-Identifier: MIT
"""Scoring: what rules it out, copper at it, parts that reach over the edge onto the neighbour."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from asking import only
from build import (
    BOTTOM,
    DRAWING,
    TOP,
    board,
    chip,
    graphic,
    hole,
    marking,
    pad,
    part,
    pour,
    rectangle,
    smd_part,
    through_pad,
    track,
    via,
)
from lineworthy import Board
from lineworthy.checks.panel_scoring import (
    copper_at_score,
    part_over_neighbour,
    scoring_ruled_out,
    side_not_scorable,
)
from lineworthy.finding import Consequence, Finding
from lineworthy.knowledge.atlines import copper_near
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.separation import Method, Separation
from lineworthy.model import Layer, LayerKind, Outline, Part, Stackup
from lineworthy.shapes import disc
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE
SCORE = Layer("V-Score", LayerKind.DRAWING)


def ask(check, subject: Board, said: str = "scored") -> list[Finding]:
    packages = Packages(subject)
    known = {"board": subject, "sheet": SHEET, "packages": packages, "separation": Separation(subject, packages, said)}
    return list(check.ask(**{name: known[name] for name in check.inputs}))


def plug(reference: str, at: tuple[float, float], **more) -> Part:
    made = smd_part(reference, at, nets=("",) * 8, package="USB_C_Receptacle_HRO_TYPE-C-31-M-12", **more)
    return dataclasses.replace(made, body=rectangle(at, 9.0, 8.0))


# --- copper at a score: 60 x 40 mm, 1.6 mm thick, floor 0.383 mm


@pytest.mark.parametrize(
    ("gap", "consequence"),
    [(0.0, QUERY), (0.38, QUERY), (0.384, NOTE), (0.4999, None), (0.49, NOTE), (0.5, None), (2.0, None)],
)
@pytest.mark.parametrize("layer", ["top", "bottom"])
def test_tracks_keep_from_the_middle_of_a_score(gap: float, consequence, layer: str) -> None:
    subject = board(tracks=(track((10, gap + 0.1), (30, gap + 0.1), 0.2, layer=layer, net="A"),))
    found = ask(copper_at_score, subject)
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])


def test_published_column_copper_at_030_in_a_board_of_157_fails() -> None:
    """Trade column on scored jobs, 28 October 2013: 0.38 mm (15 mil) from the middle of a score at 1.57 mm."""
    line = track((10, 0.4), (30, 0.4), 0.2, net="A")
    finding = only(ask(copper_at_score, board(tracks=(line,), stackup=Stackup(thickness=1.57))))
    assert finding.consequence is QUERY
    assert finding.message == (
        "track A is 0.30 mm from the middle of a score; 0.50 mm needed, 0.38 mm the least in a board of 1.57 mm"
    )
    assert (finding.measured, finding.limit_key) == (pytest.approx(0.3), "panel.score_copper_min_mm")


def test_a_thick_board_needs_more_than_the_sheet_says() -> None:
    subject = board(tracks=(track((10, 0.63), (30, 0.63), 0.2),), stackup=Stackup(thickness=3.18))
    assert only(ask(copper_at_score, subject)).limit == pytest.approx(0.56)


@pytest.mark.parametrize(
    "items",
    [
        {"vias": (via((10, 0.6), net="A"),)},
        {"areas": (pour(shapely.box(0.3, 0.3, 59.7, 39.7)),)},
        {"parts": (part("J1", (10, 0.7), [pad("1", (10, 0.7), (1.0, 1.0))]),)},
        {"parts": (hole("H1", (10, 1.9)),)},
        {"graphics": (graphic(shapely.box(10, 0.2, 20, 0.4), Layer("top", LayerKind.COPPER, TOP)),)},
    ],
    ids=["via", "pour", "pad", "bare hole", "drawing"],
)
def test_everything_made_of_copper_and_every_hole_counts(items) -> None:
    assert only(ask(copper_at_score, board(**items))).consequence is QUERY


def test_copper_that_keeps_its_distance_says_nothing() -> None:
    quiet = board(parts=(hole("H1", (3, 3)), chip("R1", (20, 20))), areas=(pour(shapely.box(0.6, 0.6, 59, 39)),))
    assert ask(copper_at_score, quiet) == []


@pytest.mark.parametrize("said", ["routed", "single", ""])
def test_copper_is_not_asked_where_nothing_is_scored(said: str) -> None:
    subject = board(tracks=(track((10, 0.2), (30, 0.2)),))
    assert ask(copper_at_score, subject, said) == []


def test_where_both_are_used_only_sides_that_can_be_scored_count() -> None:
    halves = part("J1", pads=[through_pad(str(n), (10 + 2.54 * n, 40)) for n in range(8)])
    lines = (track((10, 0.3), (30, 0.3), net="LOW"), track((2, 39.6), (5, 39.6), net="UP"))
    subject = board(parts=(halves,), tracks=lines)
    assert only(ask(copper_at_score, subject, "mixed")).message.startswith("track LOW is 0.20 mm")


def test_a_drawn_score_is_measured_to_its_middle() -> None:
    line = graphic(shapely.box(-3, 19.9, 83, 20.1), SCORE)
    subject = board(
        80, 40, tracks=(track((5, 20.4), (30, 20.4), net="A"), track((5, 0.2), (30, 0.2))), graphics=(line,)
    )
    assert only(ask(copper_at_score, subject, "")).message.startswith("track A is 0.30 mm from the middle of a score;")


def test_many_pieces_are_one_finding() -> None:
    lines = tuple(track((5, y), (30, y), net=f"N{n}") for n, y in enumerate((0.3, 0.4, 39.7)))
    finding = only(ask(copper_at_score, board(tracks=lines)))
    assert "; 3 pieces of copper in all;" in finding.message
    assert len(finding.uids) == len(finding.places) == 3


def test_a_pour_that_comes_near_two_sides_is_seen_at_both() -> None:
    subject = board(areas=(pour(shapely.box(0.1, 5, 59.9, 30)),))
    finding = only(ask(copper_at_score, subject))
    assert (len(finding.places), len(finding.uids)) == (2, 1)
    assert "from 2 sides," in only(ask(scoring_ruled_out, subject, "")).message


def test_an_arc_that_bows_out_to_a_score_is_seen() -> None:
    """Most of a circle of 5 mm radius: its ends lie 9.8 mm from the edge, its middle 0.2 mm."""
    arc = dataclasses.replace(track((29, 10.1), (31, 10.1), 0.2, net="BOW"), mid=(30.0, 0.3))
    assert only(ask(copper_at_score, board(tracks=(arc,)))).message.startswith("track BOW is 0.20 mm")


def test_copper_near_lines_agrees_with_measuring_everything_one_by_one() -> None:
    """No index, no half widths: every track as a polygon against every line."""
    draw = np.random.default_rng(20240611)
    for _ in range(40):
        ends = draw.uniform(0, 40, (25, 2, 2))
        widths = draw.uniform(0.1, 3.0, 25)
        lines = tuple(
            dataclasses.replace(track(tuple(a), tuple(b), float(w), net=str(n)), uid=str(n))
            for n, ((a, b), w) in enumerate(zip(ends.tolist(), widths))
        )
        subject = board(40, 40, tracks=lines)
        breaks = Separation(subject, Packages(subject), "scored").lines
        found: dict[str, float] = {}
        for near in copper_near(subject, breaks, 0.5):  # nearest first
            found.setdefault(near.piece.uid, near.gap)
        slow = {}
        for one in lines:
            gap = min(one_line.line.distance(shapely.LineString(one.path)) - one.width / 2 for one_line in breaks)
            if gap < 0.5 - 1e-4:
                slow[one.uid] = max(gap, 0.0)
        assert found == pytest.approx(slow, abs=1e-6)
        assert found


# --- shape and thickness


def shaped(area: shapely.Polygon, **more) -> Board:
    return board(outline=Outline(area), **more)


def test_a_shape_that_cannot_be_scored_is_asked_about() -> None:
    ring = only(ask(side_not_scorable, shaped(disc((20, 20), 40.0))))
    assert ring.consequence is QUERY
    assert ring.message == ("Boards are scored, the settings say; 4 sides have no straight edge")
    angle = shapely.box(0, 0, 60, 40).difference(shapely.box(20, 20, 60, 40))
    assert only(ask(side_not_scorable, shaped(angle))).message.endswith("1 side is straight for only 33 %")


@pytest.mark.parametrize(("thickness", "told"), [(0.79, True), (0.8, False), (1.6, False)])
def test_thin_boards_are_not_scored(thickness: float, told: bool) -> None:
    subject = board(stackup=Stackup(thickness=thickness))
    assert bool(ask(side_not_scorable, subject)) is told
    assert ask(side_not_scorable, subject, "routed") == []


# --- nobody says how


def test_a_board_that_leaves_the_choice_says_nothing() -> None:
    subject = board(parts=(chip("R1", (20, 20)),), tracks=(track((10, 0.36), (30, 0.36)),))
    assert ask(scoring_ruled_out, subject, "") == []  # at 0.26 mm the groove has ended


def test_all_reasons_are_one_note() -> None:
    halves = part("J9", pads=[through_pad(str(n), (10 + 2.54 * n, 40)) for n in range(8)])
    subject = board(parts=(halves, plug("J1", (30, 2.5), span=3.0)), tracks=(track((0.2, 10), (0.2, 30)),))
    finding = only(ask(scoring_ruled_out, subject, ""))
    assert finding.consequence is NOTE
    assert finding.message == (
        "How boards are separated is not stated; scoring is ruled out on 3 of 4 sides: "
        "1 side has half holes; J1 reaches 1.50 mm over 1 side; "
        "copper is 0.10 mm from 1 side, where the groove can reach 0.243 mm"
    )
    assert [place.label for place in finding.places] == ["lower side", "upper side", "left side"]


def test_a_thin_board_is_ruled_out_on_all_sides() -> None:
    finding = only(ask(scoring_ruled_out, board(stackup=Stackup(thickness=0.6)), ""))
    assert "scoring is ruled out: it is 0.60 mm thick, 0.80 mm needed" in finding.message


@pytest.mark.parametrize("said", ["scored", "routed", "mixed", "single"])
def test_where_the_method_is_known_nothing_is_ruled_out(said: str) -> None:
    assert ask(scoring_ruled_out, board(stackup=Stackup(thickness=0.6)), said) == []


def test_a_large_board_is_not_asked() -> None:
    assert ask(scoring_ruled_out, board(200, 150, stackup=Stackup(thickness=0.6)), "") == []


# --- parts over the neighbour


def test_a_plug_over_a_scored_edge_stands_on_the_neighbour() -> None:
    finding = only(ask(part_over_neighbour, board(parts=(plug("J1", (30, 2.5)), plug("J2", (30, 37.8))))))
    assert finding.consequence is QUERY
    assert finding.message == ("2 parts reach over 2 sides, J2 the farthest by 1.80 mm, where scored boards touch")
    assert finding.places[0].label == "J2, 1.80 mm over"


@pytest.mark.parametrize(("y", "told"), [(2.0, False), (1.9, True), (3.0, False)])
def test_in_a_routed_panel_the_gap_makes_room(y: float, told: bool) -> None:
    """A body that reaches 2.0 mm below the edge just fits the gap of 2.0 mm."""
    found = ask(part_over_neighbour, board(parts=(plug("J1", (30, y), span=3.0),)), "routed")
    assert [f.consequence for f in found] == ([NOTE] if told else [])


def test_a_part_that_keeps_inside_says_nothing() -> None:
    for said in ("scored", "routed", "mixed", ""):
        assert ask(part_over_neighbour, board(parts=(plug("J1", (30, 4.0)),)), said) == []


def test_on_a_drawn_panel_a_body_across_a_score_is_seen() -> None:
    line = graphic(shapely.box(-3, 19.9, 83, 20.1), SCORE)
    parts = (plug("J1", (30, 18)), plug("J2", (50, 30)), plug("J3", (10, 18), side=BOTTOM))
    finding = only(ask(part_over_neighbour, board(80, 40, parts=parts, graphics=(line,)), ""))
    assert finding.message == "J1, J3 lie across a score"


# --- how boards are parted


def test_the_settings_stand_before_the_drawing() -> None:
    line = graphic(shapely.box(-3, 19.9, 83, 20.1), SCORE)
    subject = board(80, 40, graphics=(line,))
    assert Separation(subject, Packages(subject)).method is Method.SCORED
    assert Separation(subject, Packages(subject), "routed").method is Method.ROUTED
    plain = board(80, 40, graphics=(graphic(shapely.box(0, 19.9, 80, 20.1), DRAWING),))
    assert Separation(plain, Packages(plain)).method is None


def test_words_about_scoring_do_not_say_which_sides() -> None:
    said = marking("V-Score To V-Score", layer=DRAWING)
    subject = board(parts=(plug("J1", (30, 2.5), span=3.0),), tracks=(track((10, 0.3), (30, 0.3)),), markings=(said,))
    separation = Separation(subject, Packages(subject))
    assert separation.method is Method.MIXED
    assert [separation.how(side) for side in separation.sides] == [Method.ROUTED, *[Method.SCORED] * 3]
    assert ask(copper_at_score, subject, "") == []  # the side a plug reaches over is hardly one that is scored
    assert ask(part_over_neighbour, subject, "") == []  # 1.5 mm, in a gap of 2.0 mm


@pytest.mark.parametrize(
    ("words", "method"),
    [
        ("Delivered in a panel of 2 x 2, scored", Method.MIXED),
        ("panelised 2x5 with tabs", Method.ROUTED),
        ("panel of 4, scored, tabs at the plug", Method.MIXED),
        ("Keep the tabs of J1 clear", None),
        ("Score: 10 points", None),
        ("V-cut", Method.MIXED),
        ("panel of 6", None),
    ],
)
def test_what_words_say_about_parting(words: str, method) -> None:
    subject = board(markings=(marking(words, layer=DRAWING),))
    assert Separation(subject, Packages(subject)).method is method


def test_moving_turning_and_mirroring_change_places_only() -> None:
    subject = board(60, 40, parts=(plug("J1", (30, 2.5)),), tracks=(track((10, 0.3), (30, 0.3), net="A"),))
    checks = (copper_at_score, part_over_neighbour, scoring_ruled_out)

    def said(asked: Board) -> list[object]:
        found = [f for check in checks for how in ("scored", "") for f in ask(check, asked, how)]
        return [
            (f.fingerprint if "side" not in f.message else f.check, f.uids, f.measured, f.consequence) for f in found
        ]

    before = said(subject)
    assert len(before) == 3
    for motion in (moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()):
        assert said(transform(subject, motion)) == before
