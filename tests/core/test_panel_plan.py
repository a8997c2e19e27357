# SPDX-License-Identifier: MIT
"""The panel plan: what is possible and why not, what is proposed, how it is told and asked about."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any, Optional

import pytest
import shapely

from build import BOTTOM, TOP, board, chip, fiducial, part, rectangle, through_pad, track
from lineworthy import cli
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Board, Outline, OutlineFault, Stackup, TitleBlock
from lineworthy.plans.panel_board import Pose, unit_of
from lineworthy.plans.panel_cells import pair, single
from lineworthy.plans.panel_merits import bearing_of
from lineworthy.plans.panel_plan import Array, Method, PanelPlan, Rails
from lineworthy.plans.panel_search import fitted
from lineworthy.report import panel_json, panel_questions, panel_text
from lineworthy.shapes import disc
from lineworthy.sheet import Sheet, built_in, load
from panel_cases import capacitor, cases, l_shape, plan_of, planned, plug, shaped
from transform import mirrored, moved, quarter_turns, transform

FOUR = ("top", "inner 1", "inner 2", "bottom")


def sheet_with(tmp_path: Path, **limits: object) -> Sheet:
    path = tmp_path / "ours.toml"
    path.write_text("[panel]\n" + "".join(f"{key} = {value}\n" for key, value in limits.items()), encoding="utf-8")
    return load(str(path))


def unit(made: Board) -> Any:
    return unit_of(made, Marks(made), Packages(made), built_in())


def methods(made: PanelPlan) -> set[Method]:
    return {array.way.method for array in made.arrays}


def against(made: PanelPlan, key: str, method: Optional[Method] = None) -> str:
    return next(one.text for one in made.against if one.key == key and method in (None, one.method))


# --- numbers from outside


@pytest.mark.parametrize(
    ("size", "layers", "count", "gross", "usable"),
    [
        # Design007 Magazine, June 2021: 18 x 24 inches less 0.75 inch at each edge for multilayer, 0.5 for two layers;
        # counts and shares by hand: floor((U + s) / (b + s)) per axis, the better of both ways
        ((100, 80), FOUR, 25, 71.8, 83.5),
        ((100, 80), ("top", "bottom"), 28, 80.4, 88.8),
        ((160, 100), FOUR, 12, 68.9, 80.2),
    ],
)
def test_boards_on_a_working_panel(
    tmp_path: Path, size: tuple[float, float], layers: tuple[str, ...], count: int, gross: float, usable: float
) -> None:
    made = board(*size, copper_layers=layers)
    sheet = sheet_with(tmp_path, working_panels_mm="[[457.2, 609.6]]")
    fit = fitted(unit(made), (float(size[0]), float(size[1])), 1, sheet)
    assert fit.boards == count
    assert 100 * fit.gross == pytest.approx(gross, abs=0.1)
    assert 100 * fit.usable == pytest.approx(usable, abs=0.1)


def test_usable_part_of_the_most_common_panel(tmp_path: Path) -> None:
    # the same source: 419.1 x 571.5 mm of 18 x 24 inches for multilayer
    sheet = sheet_with(tmp_path, working_panels_mm="[[457.2, 609.6]]")
    for size, count in (((419.1, 571.5), 1), ((419.2, 571.5), 0), ((419.1, 571.6), 0), ((571.5, 419.1), 1)):
        assert fitted(unit(board(50, 50, copper_layers=FOUR)), size, 1, sheet).boards == count


def test_sag_of_an_array_is_that_of_a_strip() -> None:
    # beam theory: 1.6 mm, span 250 mm, 24 GPa, 1850 kg/m3 give 0.180 mm; 300 mm give 0.374 mm
    made = unit(board(100, 80))
    assert bearing_of(made, 250, built_in()).cold == pytest.approx(0.180, abs=0.002)
    assert bearing_of(made, 300, built_in()).cold == pytest.approx(0.374, abs=0.005)


def test_break_force_of_a_score() -> None:
    # table of FR-4: 415 MPa; a third of 1.6 mm left: 19.67 N mm/mm, on 100 mm and half of 80 mm
    scored = next(array for array in plan_of("rectangle").arrays if array.way.method is Method.SCORED)
    along = next(item for item in scored.breaking if "along" in item.what)
    assert scored.web == pytest.approx(0.5333, abs=1e-4)
    assert along.moment == pytest.approx(1967, abs=5)
    assert (along.lever, along.force) == (40.0, pytest.approx(1967 / 40, abs=0.2))


def test_tab_holes_follow_the_tested_recommendation(tmp_path: Path) -> None:
    # tests of break-away tabs: 0.38 mm holes, 0.635 mm apart, tab at most 3.0 mm, holes in the tab's corners
    tab = routed(plan_of("rectangle")).tabs[0]
    assert tab.width == pytest.approx(4 * 0.635)
    assert len(tab.holes) == 5 * tab.ends
    # a shop's habit: 0.5 mm holes 0.8 mm apart
    sheet = sheet_with(tmp_path, tab_hole_mm=0.5, tab_hole_pitch_mm=0.8)
    tab = routed(planned(cases()["rectangle"], sheet)).tabs[0]
    assert (tab.width, len(tab.holes)) == (pytest.approx(2.4), 4 * tab.ends)


def routed(made: PanelPlan) -> Array:
    return next(array for array in made.arrays if array.way.method is Method.ROUTED)


# --- what is possible


def test_a_plain_board_can_be_parted_in_every_way() -> None:
    made = plan_of("rectangle")
    assert methods(made) == {Method.SCORED, Method.MIXED, Method.ROUTED}
    assert [array.sizing.points for array in made.arrays] == sorted(
        (array.sizing.points for array in made.arrays), reverse=True
    )


@pytest.mark.parametrize(("thickness", "is_scored"), [(0.79, False), (0.8, True), (1.6, True)])
def test_thin_boards_are_not_scored(thickness: float, is_scored: bool) -> None:
    made = planned(board(60, 45, parts=(chip("R1", (30, 20)),), stackup=Stackup(thickness=thickness)))
    assert (Method.SCORED in methods(made)) is is_scored
    if not is_scored:
        assert "0.79 mm thick" in against(made, "panel.score_thickness_min_mm")


def test_a_part_over_the_edge_leaves_scores_for_the_other_sides() -> None:
    made = plan_of("plug")
    assert Method.SCORED not in methods(made)
    assert "J1 reaches 10.00 mm over the right side" in against(made, "overhang", Method.SCORED)
    mixed = next(array for array in made.arrays if array.way.method is Method.MIXED)
    assert mixed.sizing.step[0] == pytest.approx(50 + 10 + 2)


def test_parts_near_the_edge_forbid_scores() -> None:
    flat = chip("R1", (50, 40))
    low = shapely.union_all([flat.body, *(shape for pad in flat.pads for shape in pad.copper.values())]).bounds[1]
    for gap, forbidden in ((1.0, False), (0.95, True)):
        parts = (chip("R1", (50, 40 - low + gap)), chip("R2", (50, 80 - (40 - low + gap))))
        made = planned(board(100, 80, parts=parts))
        assert any(one.key == "panel.break_edge_part_min_mm" for one in made.against) is forbidden


def test_copper_near_the_edge_forbids_scores() -> None:
    for gap, forbidden in ((0.5, False), (0.45, True)):
        wire = track((10, gap + 0.1), (90, gap + 0.1), width=0.2, net="A")
        made = planned(board(100, 80, parts=(chip("R1", (50, 40)),), tracks=(wire,)))
        assert any(one.key == "panel.score_copper_min_mm" for one in made.against) is forbidden


def test_half_holes_are_never_scored_and_never_under_a_tab() -> None:
    made = plan_of("half-holes")
    for array in made.arrays:
        for name in array.sizing.scored_sides:
            assert not array.unit.rim(name, array.way.quarters).side.half_holes
    assert "half holes" in against(made, "shape", Method.SCORED)


def test_ceramic_capacitors_beside_a_score_cost_points_and_are_named() -> None:
    rows = tuple(capacitor(f"C{n}", (20.0 * n, 3.0)) for n in range(1, 5))
    made = planned(board(100, 80, parts=rows))
    scored = [array for array in made.arrays if array.scores and array.sizing.scored_sides[:1] == (0,)]
    assert scored
    assert any("C1, C2, C3, C4" in remark for array in scored for remark in array.remarks)
    assert any("4 ceramic capacitors" in merit.text for array in scored for merit in array.sizing.merits)


@pytest.mark.parametrize(
    ("rotation", "gap", "is_bent"), [(90.0, 8.0, True), (0.0, 8.0, False), (0.0, 4.0, True), (90.0, 12.0, False)]
)
def test_large_capacitors_across_a_side_need_more_room(rotation: float, gap: float, is_bent: bool) -> None:
    """10 mm from 1206 on where they lie across the edge, 5 mm otherwise: common practice, no source."""
    large = replace(capacitor("C1", (20.0, gap), rotation), package="C_1206_3216Metric")
    made = planned(board(100, 80, parts=(large, chip("R1", (50, 40)))))
    assert {bool(array.unit.rims[0].ceramics) for array in made.arrays} == {is_bent}
    routed = [array for array in made.arrays if array.tabs]
    assert routed
    need = 10.0 if rotation else 5.0
    for array in routed:
        assert array.unit.outline.bounds[:2] == (0.0, 0.0)
        bodies = [pose.place(large.body) for pose in array.poses]
        assert min(tab.shape.distance(body) for tab in array.tabs for body in bodies) >= need - 1e-3


def test_no_rails_only_with_marks_and_free_edges() -> None:
    def bare(parts: tuple[Any, ...]) -> PanelPlan:
        return planned(board(160, 100, parts=parts))

    marks = (fiducial("FID1", (10, 10)), fiducial("FID2", (150, 90)), fiducial("FID3", (150, 10)))
    assert "too few of its own" in against(bare((chip("R1", (80, 50)),)), "marks")
    near = bare((chip("R1", (80, 3)), chip("R2", (3, 50)), *marks))
    assert "a conveyor needs 5.00 mm" in against(near, "panel.conveyor_edge_min_mm")
    free = bare((chip("R1", (80, 50)), *marks))
    assert not any(one.key in ("marks", "panel.conveyor_edge_min_mm") for one in free.against)


def test_odd_shapes_get_a_frame_and_pairs() -> None:
    made = plan_of("l-shape")
    assert methods(made) == {Method.FRAMED}
    assert made.arrays[0].way.paired
    assert "loose" in against(made, "waste", Method.ROUTED)
    assert methods(plan_of("round")) == {Method.FRAMED}


def test_the_line_s_limits_count_exactly() -> None:
    assert planned(board(510, 440, parts=(chip("R1", (9, 9)),))).arrays
    over = planned(board(510, 440.1, parts=(chip("R1", (9, 9)),)))
    assert not over.arrays
    assert planned(board(150, 30, parts=(chip("R1", (9, 9)),))).arrays


def test_nothing_fits_and_the_limit_is_named(tmp_path: Path) -> None:
    made = planned(board(500, 480, parts=(chip("R1", (9, 9)),)))
    assert made.arrays == ()
    text = panel_text.render(made)
    assert "No array is possible within this sheet" in text
    assert "too wide, the line takes 460.00 mm" in text
    assert min(
        one.short for one in made.against if one.key == "panel.line_width_max_mm" and one.short
    ) == pytest.approx(20)
    small = sheet_with(tmp_path, working_panels_mm="[[100, 120]]")
    made = planned(board(100, 80, parts=(chip("R1", (9, 9)),)), small)
    assert made.arrays == ()
    assert "does not fit any working panel" in against(made, "panel.working_panels_mm")


def test_no_room_for_tabs_is_a_reason(tmp_path: Path) -> None:
    ring = [(x, y) for x in range(3, 78, 5) for y in (2.5, 57.5)] + [
        (x, y) for y in range(3, 58, 5) for x in (2.5, 77.5)
    ]
    parts = tuple(capacitor(f"C{n}", at) for n, at in enumerate(ring))
    made = planned(board(80, 60, parts=parts, stackup=Stackup(thickness=0.6)))
    assert made.arrays == ()
    reason = next(one for one in made.against if "no room for tabs" in one.text)
    assert reason.key == "panel.break_edge_ceramic_min_mm"
    assert reason.short is not None
    assert 0 < reason.short <= 5.0
    assert (made.possible, made.searched > 0) == (0, True)
    text = " ".join(panel_text.render(made).split())
    assert "No array is possible within this sheet: no room for tabs" in text
    assert "weighed, none within all limits" in text
    assert text.count("no room for tabs") == 1


def test_arrays_that_tabs_do_not_hold_are_not_counted_as_possible() -> None:
    ring = [(x, y) for x in range(3, 78, 5) for y in (2.5, 57.5)] + [
        (x, y) for y in range(3, 58, 5) for x in (2.5, 77.5)
    ]
    made = planned(board(80, 60, parts=tuple(capacitor(f"C{n}", at) for n, at in enumerate(ring))))
    scored = planned(board(80, 60))
    assert {array.way.method for array in made.arrays} <= {Method.SCORED, Method.MIXED}
    lost = sum(one.count for one in made.against if "no room for tabs" in one.text)
    outdone = sum(one.count for one in made.against if one.key == "points")
    assert made.possible == len(made.arrays) + outdone
    assert lost > 0
    assert made.possible + lost <= scored.searched


# --- pairs


def test_two_l_shapes_go_into_each_other() -> None:
    made = unit(shaped("l", l_shape()))
    both = pair(made, 0, 2.0)
    assert both is not None
    one, other = (pose.place(made.outline) for pose in both.poses)
    assert one.distance(other) == pytest.approx(2.0, abs=0.011)
    assert one.distance(other) >= 2.0 - 1e-4
    assert both.width * both.height < 0.75 * 2 * 60 * 60
    assert (both.width, both.height) == (pytest.approx(82, abs=0.1), pytest.approx(60, abs=0.1))


@pytest.mark.parametrize("area", [shapely.box(0, 0, 60, 40), disc((20, 20), 40)])
def test_shapes_that_gain_nothing_are_not_paired(area: shapely.Polygon) -> None:
    assert pair(unit(shaped("plain", area)), 0, 2.0) is None


def test_quarter_turns_are_exact() -> None:
    box = shapely.box(0, 0, 30, 20)
    assert Pose(1).place(box).bounds == (-20, 0, 0, 30)
    assert Pose(2, (5, 6)).place(box).bounds == (-25, -14, 5, 6)
    assert single(unit(board(30, 20)), 1).width == 20


# --- the same board elsewhere


@pytest.mark.parametrize("name", ["rectangle", "plug", "l-shape", "crowded"])
def test_moving_and_turning_the_board_changes_no_array(name: str) -> None:
    first = plan_of(name)
    for motion in (moved(123.4, -56.7), quarter_turns(1), quarter_turns(2), mirrored()):
        again = planned(transform(cases()[name], motion))
        assert [_look(array) for array in again.arrays] == [_look(array) for array in first.arrays]


def _look(array: Array) -> tuple[object, ...]:
    one = array.sizing
    # an L and its mirror image go into each other within the hundredths to which places are rounded
    return one.way.method, one.boards, round(one.length, 1), round(one.width, 1), len(array.scores)


# --- how it is told


def test_text_is_wrapped_and_cautions_are_told() -> None:
    made = plan_of("rectangle")
    for width in (60, 100, 400):
        text = panel_text.render(made, width)
        assert max(map(len, text.splitlines())) <= min(width, 120)
    for words in ("extraction", "Ceramic capacitors crack", "proposal to agree on", "Why not", "68.9 %"):
        assert words in " ".join(text.split())


def test_a_document_that_is_a_panel_is_told() -> None:
    made = planned(board(100, 80, parts=(chip("R1", (50, 40)),), title=TitleBlock(title="panel 2 x 3")))
    assert "seems to be a panel already" in " ".join(panel_text.render(made).split())


def test_json_is_the_same_every_time_and_complete() -> None:
    made = plan_of("plug")
    text = panel_json.document(made)
    assert text == panel_json.document(planned(cases()["plug"]))
    document = json.loads(text)
    assert document["sheet"]["limits"]["panel.working_panels_mm"][1] == [457.0, 610.0]
    assert [len(array["places"]) for array in document["arrays"]] == [array.sizing.boards for array in made.arrays]
    assert {one["limit"] for one in document["not_proposed"]} >= {"overhang", "points"}
    assert json.loads(panel_json.document(planned(board(500, 480))))["arrays"] == []


def test_names_of_a_hostile_board_do_nothing(tmp_path: Path) -> None:
    name = 'x"\n[sheet]\nname="owned\x1b[2J\u202e%%c</svg><script>'
    made = planned(replace(cases()["rectangle"], name=name, title=TitleBlock(revision="=1+1")))
    text = panel_text.render(made)
    assert "\x1b" not in text
    assert "\u202e" not in text
    form = tmp_path / "form.toml"
    form.write_text(panel_questions.form(made), encoding="utf-8")
    assert load(str(form)).name == "answers of"


# --- questions


def test_an_empty_form_keeps_every_value_and_says_so(tmp_path: Path) -> None:
    made = planned(cases()["rectangle"], built_in("dense"))
    form = tmp_path / "answers.toml"
    form.write_text(panel_questions.form(made), encoding="utf-8")
    sheet = load(str(form))
    assert sheet.base == "dense"
    assert {entry.key: entry.value for entry in sheet.entries()} == {
        entry.key: entry.value for entry in built_in("dense").entries()
    }
    assert set(sheet.unanswered) == {entry.key for entry in sheet.entries() if panel_questions.asked(entry)}
    assert len(sheet.unanswered) > 25
    assert "Not answered" in panel_text.render(planned(cases()["rectangle"], sheet))


def test_answers_change_the_plan_and_are_kept_in_the_next_form(tmp_path: Path) -> None:
    form = tmp_path / "answers.toml"
    text = panel_questions.form(plan_of("rectangle"))
    text = text.replace('rail_mm = ""', "rail_mm = 8.5").replace('finish = ""', 'finish = "ENIG, 0.05 um"')
    text = text.replace('working_panels_mm = ""', "working_panels_mm = [[400, 500]]")
    text = text.replace('name = "answers of"', 'name = "Brno"')
    form.write_text(text, encoding="utf-8")
    sheet = load(str(form))
    made = planned(cases()["rectangle"], sheet)
    assert made.arrays[0].sizing.fit.panel == (400.0, 500.0)
    assert made.arrays[0].rails[0].bounds[3] == 8.5
    assert "panel.rail_mm" not in sheet.unanswered
    assert "ENIG, 0.05 um" in panel_text.render(made)
    again = panel_questions.form(made)
    assert "rail_mm = { value = 8.5" in again
    form.write_text(again, encoding="utf-8")
    assert load(str(form)).panel == sheet.panel
    assert load(str(form)).answers == {"finish": "ENIG, 0.05 um"}


def test_narrow_rails_have_no_marks_and_that_is_said(tmp_path: Path) -> None:
    made = planned(cases()["rectangle"], sheet_with(tmp_path, rail_mm=5))
    railed = [array for array in made.arrays if array.way.rails is not Rails.NONE]
    assert railed
    assert all(not array.marks and not array.holes for array in railed)
    assert any("too narrow for panel marks" in remark for remark in railed[0].remarks)


# --- the command


def run(made: Board, *arguments: str) -> int:
    return cli.main(["panel", "widget.kicad_pcb", *arguments], lambda path, progress: made)


def test_files_are_written_and_the_exit_code_says_what_came_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(cases()["rectangle"], "--out", "panel") == 0
    numbered = {f"widget-panel-{n}.{kind}" for n in (1, 2, 3) for kind in ("svg", "dxf")}
    assert {path.name for path in Path("panel").iterdir()} == {
        *numbered,
        "widget-panel.json",
        "widget-panel-questions.toml",
    }
    assert capsys.readouterr().out.startswith("Panel plan")
    assert run(cases()["rectangle"], "--sheet", "panel/widget-panel-questions.toml") == 0
    assert run(board(500, 480), "--out", "none") == 1
    assert {path.name for path in Path("none").iterdir()} == {"widget-panel.json", "widget-panel-questions.toml"}


@pytest.mark.parametrize(
    ("made", "reason"),
    [
        (Board(), "no closed outline"),
        (board(outline=Outline(shapely.box(0, 0, 30, 20), (OutlineFault("open", (0, 0), 1.0),))), "no closed outline"),
        (
            board(outline=Outline(shapely.MultiPolygon([shapely.box(0, 0, 9, 9), shapely.box(20, 0, 29, 9)]))),
            "2 outlines",
        ),
        (board(stackup=Stackup(thickness=0.0)), "thickness"),
    ],
)
def test_bad_boards_are_one_line(
    made: Board, reason: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(made, "--out", "panel") == 2
    said = capsys.readouterr()
    assert reason in said.err
    assert said.err.count("\n") == 1
    assert not Path("panel").exists()


def test_parts_on_both_sides_and_bodies_without_lands_are_no_trouble() -> None:
    lid = part("H1", at=(50, 78), body=rectangle((50, 78), 20, 10))
    both = (chip("R1", (20, 20)), chip("R2", (20, 20), side=BOTTOM), chip("R3", (60, 60), side=TOP), lid)
    assert planned(board(100, 80, parts=both)).arrays


def test_leads_in_the_way_of_tabs(tmp_path: Path) -> None:
    pins = tuple(through_pad(str(n), (5 + 2.54 * n, 1.2), 1.6, 0.9) for n in range(12))
    made = planned(board(40, 30, parts=(part("J1", at=(20, 1), pads=pins), plug("J2", (20, 15), (5, 5)))))
    for array in made.arrays:
        assert all(tab.width > 2 for tab in array.tabs)
