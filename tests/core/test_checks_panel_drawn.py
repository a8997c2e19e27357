# SPDX-License-Identifier: MIT
"""A panel that is drawn: taken apart into boards and rails; its tabs, what runs through them, what rails carry."""

from __future__ import annotations

import dataclasses
from typing import Optional

import pytest
import shapely

from asking import only
from build import BOTTOM, board, chip, fiducial, graphic, hole, outline, pad, part, rectangle, through_pad, track, via
from lineworthy import Board
from lineworthy.checks.panel_drawn import (
    board_hangs_by_one_tab,
    rail_too_narrow,
    rails_bare,
    tab_holes_too_close,
    tab_not_cut_through,
    tab_too_wide,
    tabs_too_far_apart,
    track_at_tab,
)
from lineworthy.finding import Consequence, Finding
from lineworthy.knowledge.drawnpanel import DrawnPanel
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import bite_rows, copies, score_lines
from lineworthy.knowledge.separation import Method, Separation
from lineworthy.model import Layer, LayerKind, Outline, Part
from lineworthy.registry import Check
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE
SCORE = Layer("V-Score", LayerKind.DRAWING)


def drawn(subject: Board) -> DrawnPanel:
    packages = Packages(subject)
    return DrawnPanel(subject, packages, Separation(subject, packages))


def ask(check: Check, subject: Board) -> list[Finding]:
    packages = Packages(subject)
    separation = Separation(subject, packages)
    known = {
        "board": subject,
        "sheet": SHEET,
        "packages": packages,
        "separation": separation,
        "marks": Marks(subject),
        "drawn_panel": DrawnPanel(subject, packages, separation),
    }
    return list(check.ask(**{name: known[name] for name in check.inputs}))  # type: ignore[arg-type]


def bites(number: int, at: tuple[float, float], *, drill: float = 0.5, pitch: float = 0.75, count: int = 5) -> Part:
    """A row of bare holes along x from `at` on."""
    holes = [through_pad("", (at[0] + pitch * n, at[1]), drill, drill, plated=False) for n in range(count)]
    return part(f"MB{number}", at, holes, package="tab")


def routed(rail: float = 8.0, tabs: tuple[float, ...] = (10.0, 27.0), extra: tuple[Part, ...] = (), **more) -> Board:
    """Two boards of 40 x 40 mm between two rails, slots of 2 mm round them, tabs of 3 mm above and below."""
    low, high = rail + 2, rail + 42
    area = shapely.box(0, 0, 82, high + 2 + rail)
    area -= shapely.box(40, low - 2, 42, high + 2)
    holes = []
    for y in (rail, high):
        slot = shapely.box(0, y, 82, y + 2)
        for x in (x + dx for dx in (0.0, 42.0) for x in tabs):
            slot -= shapely.box(x, y, x + 3, y + 2)
        area -= slot
    for y in (low, high):
        holes += [bites(len(holes) + n, (x + dx, y)) for dx in (0.0, 42.0) for n, x in enumerate(tabs)]
    parts = [chip(f"R{n}", (x, low + 10 * n)) for x in (20.0, 62.0) for n in (1, 2, 3)]
    unique = [Part(**{**vars_of(one), "uid": f"part-{n}"}) for n, one in enumerate((*parts, *holes))]
    return board(outline=Outline(area), parts=(*unique, *extra), **more)


def vars_of(one: Part) -> dict[str, object]:
    names = ("reference", "at", "side", "package", "pads", "body", "courtyard", "mount")
    return {name: getattr(one, name) for name in names}


def scored(rail: Optional[float] = 8.0, extra: tuple[Part, ...] = (), **more) -> Board:
    """Two boards of 40 x 40 mm that touch, between two rails or none; every line is a drawn score."""
    low = rail or 0.0
    width, height = 80.0, 40.0 + 2 * low
    lines = [shapely.box(39.95, -4, 40.05, height + 4)]
    lines += [shapely.box(-4, y - 0.05, 84, y + 0.05) for y in (low, low + 40) if rail]
    parts = [chip(f"R{n}", (x, low + 10 * n)) for x in (20.0, 60.0) for n in (1, 2, 3)]
    unique = [Part(**{**vars_of(one), "uid": f"part-{n}"}) for n, one in enumerate(parts)]
    drawings = tuple(graphic(line, SCORE) for line in lines)
    return board(width, height, parts=(*unique, *extra), graphics=drawings, **more)


# --- taking it apart


def test_a_routed_panel_comes_apart_into_boards_and_rails() -> None:
    panel = drawn(routed())
    assert [len(piece.parts) for piece in panel.boards] == [3, 3]
    assert [round(piece.area.area) for piece in panel.boards] == [1600, 1600]
    assert len(panel.rails) == 2
    assert [rail.width for rail in panel.rails] == pytest.approx([8.0, 8.0])
    assert [len(panel.holding(piece)) for piece in panel.boards] == [4, 4]


def test_a_scored_panel_comes_apart_into_boards_and_rails() -> None:
    panel = drawn(scored())
    assert [round(piece.area.area) for piece in panel.boards] == [1600, 1600]
    assert [rail.width for rail in panel.rails] == pytest.approx([8.0, 8.0])
    assert drawn(scored(None)).rails == ()


@pytest.mark.parametrize("motion", [moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()])
def test_a_moved_panel_comes_apart_alike(motion) -> None:
    panel = drawn(transform(routed(), motion))
    assert (len(panel.boards), len(panel.rails)) == (2, 2)
    assert [rail.width for rail in panel.rails] == pytest.approx([8.0, 8.0])


def test_a_body_over_the_rail_does_not_make_it_a_board() -> None:
    """A socket whose body reaches over the score, and whose lands stand on the board."""
    lands = [pad(str(n), (20 + n, 9.0), (0.6, 1.0)) for n in range(4)]
    over = part("J9", (21, 6), lands, package="USB_C_Receptacle", body=rectangle((21, 5), 9.0, 10.0))
    panel = drawn(scored(extra=(over,)))
    assert (len(panel.boards), len(panel.rails)) == (2, 2)


def test_rails_on_all_sides_and_slots_in_them() -> None:
    lines = [shapely.box(-4, y - 0.05, 64, y + 0.05) for y in (6, 46)] + [
        shapely.box(x - 0.05, -4, x + 0.05, 56) for x in (7, 53)
    ]
    subject = board(
        outline=outline(60, 52, cutouts=[shapely.box(20, 2, 30, 3.5)]),  # a small slot inside the lower rail
        parts=(chip("R1", (30, 25)),),
        graphics=tuple(graphic(line, SCORE) for line in lines),
    )
    panel = drawn(subject)
    assert len(panel.boards) == 1
    assert sorted(rail.width for rail in panel.rails) == pytest.approx([6.0, 6.0, 7.0, 7.0])


def test_a_board_without_drawn_lines_is_no_panel() -> None:
    assert drawn(board(60, 40, parts=(chip("R1", (20, 20)),))).pieces == ()


def test_how_it_is_parted_is_read_off_the_drawing() -> None:
    assert Separation(routed(), Packages(routed())).method is Method.ROUTED
    assert Separation(scored(), Packages(scored())).method is Method.SCORED
    assert Separation(scored(), Packages(scored())).is_drawn


def test_rows_of_holes_are_measured() -> None:
    rows = bite_rows(routed())
    assert len(rows) == 8
    assert {len(row.holes) for row in rows} == {5}
    assert [row.pitch for row in rows] == pytest.approx([0.75] * 8)
    assert [row.bridge for row in rows] == pytest.approx([0.25] * 8)


def test_rows_side_by_side_are_not_taken_for_one() -> None:
    """Two rows 1.5 mm apart, as at both ends of a short tab."""
    rows = bite_rows(board(parts=(bites(1, (10, 10)), bites(2, (10, 11.5)))))
    assert [len(row.holes) for row in rows] == [5, 5]


def test_only_long_straight_lines_of_a_score_layer_are_scores() -> None:
    short = graphic(shapely.box(10, 10, 14, 10.1), SCORE)
    letter = graphic(shapely.box(10, 10, 60, 40), SCORE)
    other = graphic(shapely.box(-4, 19.95, 84, 20.05), Layer("Dwgs.User", LayerKind.DRAWING))
    assert score_lines(board(80, 40, graphics=(short, letter, other))) == []
    assert len(score_lines(scored())) == 3


def test_copies_are_counted() -> None:
    assert copies(board(parts=tuple(chip(f"R{n}", (5 * n, 5)) for n in range(1, 6)))) == 1
    many = tuple(chip(f"R{n}", (5 * n, 5 * k)) for n in range(1, 6) for k in range(1, 5))
    assert copies(board(parts=many)) == 4


# --- break-away holes


@pytest.mark.parametrize(
    ("drill", "pitch", "told"),
    [(0.5, 0.75, False), (0.5, 0.74, True), (0.38, 0.635, False), (0.5, 0.8, False), (0.6, 0.7, True)],
)
def test_bridges_between_holes(drill: float, pitch: float, told: bool) -> None:
    """0.5 mm every 0.75 to 0.80 mm is shop habit, 0.38 mm every 0.635 mm a tested recommendation (April 2022)."""
    subject = board(parts=(bites(1, (10, 0.1), drill=drill, pitch=pitch),))
    assert [f.consequence for f in ask(tab_holes_too_close, subject)] == ([NOTE] if told else [])


def test_what_thin_bridges_say() -> None:
    subject = board(parts=(bites(1, (10, 0.1), pitch=0.6), bites(2, (30, 0.1), pitch=0.7)))
    assert only(ask(tab_holes_too_close, subject)).message == (
        "2 rows of break-away holes: 0.50 mm holes every 0.60 mm leave 0.10 mm of board between them; 0.25 mm needed"
    )


# --- how wide a tab is, and whether its holes reach from slot to slot


@pytest.mark.parametrize(
    ("count", "pitch", "told"),
    [
        (6, 0.6, False),  # 3.0 mm, the width that tests recommend
        (5, 0.8, False),  # shop habit: 3.2 mm, which a hole less would bring below 3.0
        (5, 1.0, False),  # 4.0 mm: a hole less is 3.0 mm, exactly on the limit
        (5, 1.001, True),
        (7, 0.75, True),
        (21, 0.75, True),  # 15.0 mm; what is longer is a perforated line
        (22, 0.75, False),
    ],
)
def test_the_width_of_tabs(count: int, pitch: float, told: bool) -> None:
    """3.0 mm (118 mil), holes in the corners: tests summarised on hackaday.com, 9 April 2022."""
    subject = board(parts=(bites(1, (10, 0.1), count=count, pitch=pitch),))
    assert [f.consequence for f in ask(tab_too_wide, subject)] == ([NOTE] if told else [])


def test_what_a_wide_tab_says() -> None:
    subject = board(parts=(bites(1, (10, 0.1), count=8), bites(2, (30, 0.1)), bites(3, (40, 0.1), count=9)))
    finding = only(ask(tab_too_wide, subject))
    assert finding.message == "2 tab ends of up to 9 break-away holes, 6.00 mm wide; 3.00 mm break off well"
    assert (finding.measured, len(finding.places)) == (pytest.approx(6.0), 2)


def neck(width: float, at: float = 0.0, **how) -> Board:
    """Two boards of 60 x 20 mm on one tab of a width from x = 10 on, five holes from x = 10 + `at` on."""
    area = shapely.box(0, 0, 60, 20) | shapely.box(0, 22, 60, 42) | shapely.box(10, 19, 10 + width, 23)
    return board(outline=Outline(area), parts=(bites(1, (10 + at, 20), **how), chip("R1", (30, 10))))


@pytest.mark.parametrize(
    ("width", "left", "told"),
    [(3.0, -0.25, False), (4.0, 0.75, False), (4.0001, 0.75, False), (4.002, 0.752, True), (5.0, 1.75, True)],
)
def test_holes_reach_the_slots(width: float, left: float, told: bool) -> None:
    """Five holes of 0.5 mm take 3 mm between centres; a sixth fits where the pitch is left beside the last."""
    found = ask(tab_not_cut_through, neck(width))
    assert [f.consequence for f in found] == ([NOTE] if told else [])
    assert all(f.measured == pytest.approx(left, abs=1e-3) for f in found)


@pytest.mark.parametrize("motion", [moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()])
def test_a_row_that_ends_short_says_where(motion) -> None:
    finding = only(ask(tab_not_cut_through, transform(neck(5.0, at=2.0), motion)))
    assert finding.message == (
        "1 row of break-away holes ends up to 1.75 mm before the slot; with holes every 0.75 mm another one fits in"
    )


def test_holes_drawn_in_the_outline_are_no_slots() -> None:
    """Break-away holes as round cut-outs: the rims of the neighbours do not end the row."""
    drawn_in = neck(5.0).outline.area
    for n in range(5):
        drawn_in -= shapely.Point(10 + 0.75 * n, 20).buffer(0.25, 16)
    finding = only(ask(tab_not_cut_through, board(outline=Outline(drawn_in), parts=(chip("R1", (30, 10)),))))
    assert finding.measured == pytest.approx(1.75, abs=0.01)


def test_the_panel_with_holes_from_corner_to_corner_says_nothing() -> None:
    assert ask(tab_not_cut_through, routed()) == []
    assert ask(tab_too_wide, routed()) == []
    assert ask(tab_not_cut_through, board()) == []


# --- tracks at tabs: holes of 0.5 mm at y = 10, x = 10 to 13


@pytest.mark.parametrize(("y", "told"), [(10.8, True), (11.849, True), (11.85, False), (20.0, False)])
@pytest.mark.parametrize("layer", ["top", "bottom"])
def test_tracks_keep_from_tabs(y: float, told: bool, layer: str) -> None:
    """1.5 mm from the rim of the holes, 0.25 mm of radius and 0.1 mm of half a track."""
    subject = routed(tracks=(track((5, y), (35, y), 0.2, layer=layer, net="A"),))
    assert [f.consequence for f in ask(track_at_tab, subject)] == ([QUERY] if told else [])


def test_what_a_track_at_a_tab_says() -> None:
    subject = routed(tracks=(track((5, 11.35), (35, 11.35), 0.2, net="A"),), vias=(via((20, 12), net="B"),))
    finding = only(ask(track_at_tab, subject))
    assert finding.message == "track A is 1.00 mm from the break-away holes of a tab; 1.50 mm needed"
    assert len(finding.places) == 2  # it passes two tabs


def test_a_track_between_tabs_is_free() -> None:
    subject = routed(tracks=(track((17, 10.5), (23, 10.5), 0.2),))
    assert ask(track_at_tab, subject) == []
    assert ask(track_at_tab, board(tracks=(track((5, 0.3), (35, 0.3)),))) == []


# --- what holds a board


def test_a_board_on_one_tab() -> None:
    one = shapely.box(0, 0, 60, 60) - shapely.box(10, 10, 50, 12) - shapely.box(10, 48, 50, 50)
    one = one - shapely.box(10, 10, 12, 50) - shapely.box(48, 10, 50, 28) - shapely.box(48, 32, 50, 50)
    holes = [through_pad("", (48, 28.5 + 0.75 * n), 0.5, 0.5, plated=False) for n in range(5)]
    subject = board(outline=Outline(one), parts=(part("MB1", (48, 30), holes), chip("R1", (30, 30))))
    finding = only(ask(board_hangs_by_one_tab, subject))
    assert finding.message == "1 of 1 board in the panel hang by a single tab"
    assert ask(board_hangs_by_one_tab, routed()) == []
    assert ask(board_hangs_by_one_tab, scored()) == []


def long_board(length: float, tabs: tuple[float, ...]) -> Board:
    """One board of a length x 40 mm between two rails, tabs of 3 mm above and below with their middles there."""
    area = shapely.box(0, 0, length, 60) - shapely.box(0, 8, length, 10) - shapely.box(0, 50, length, 52)
    holes = []
    for y in (10.0, 50.0):
        for x in tabs:
            area |= shapely.box(x - 1.5, min(y, y - 2), x + 1.5, y + 2)
            holes.append(bites(len(holes), (x - 1.5, y)))
    return board(outline=Outline(area), parts=(chip("R1", (length / 2, 30)), *holes))


@pytest.mark.parametrize(
    ("length", "tabs", "between", "before"),
    [
        (115.0, (20.0, 95.0), None, None),
        (115.0, (19.9, 95.0), 75.1, None),
        (120.0, (25.0, 95.0), None, None),
        (120.0, (25.1, 95.0), None, 25.1),
        (120.0, (60.0,), None, 60.0),
        (50.0, (25.0,), None, None),  # one tab in the middle is near both corners
        (50.0, (40.0,), None, None),
        (200.0, (20.0, 180.0), 160.0, None),
    ],
)
@pytest.mark.parametrize("motion", [moved(0, 0), moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()])
def test_tabs_along_a_side(length, tabs, between, before, motion) -> None:
    """Every 50 to 75 mm, and within 15 to 25 mm of each corner: common practice, no source."""
    found = ask(tabs_too_far_apart, transform(long_board(length, tabs), motion))
    assert {f.limit_key: round(f.measured, 3) for f in found} == {
        key: value
        for key, value in (("panel.tab_apart_max_mm", between), ("panel.tab_corner_max_mm", before))
        if value is not None
    }
    assert all(f.consequence is NOTE for f in found)


def test_what_tabs_far_apart_say() -> None:
    far = only(ask(tabs_too_far_apart, long_board(130.0, (20.0, 110.0))))
    assert far.message == "Up to 90.00 mm between two tabs of one side, 2 places; 75.00 mm at most wanted"
    assert sorted(place.at for place in far.places) == [(65.0, 10.0), (65.0, 50.0)]


def test_boards_that_are_scored_or_no_rectangles_are_not_asked() -> None:
    assert ask(tabs_too_far_apart, scored()) == []
    bent = long_board(200.0, (20.0, 180.0))
    notched = dataclasses.replace(bent, outline=Outline(bent.outline.area - shapely.box(60, 20, 140, 40)))
    assert ask(tabs_too_far_apart, notched) == []


# --- rails


@pytest.mark.parametrize(("rail", "consequence"), [(2.9, QUERY), (3.0, NOTE), (4.9, NOTE), (5.0, None), (8.0, None)])
@pytest.mark.parametrize("build", [routed, scored])
def test_narrow_rails(build, rail: float, consequence) -> None:
    found = ask(rail_too_narrow, build(rail))
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])
    assert all(f.measured == pytest.approx(rail, abs=1e-4) for f in found)


def test_what_a_narrow_rail_says() -> None:
    assert only(ask(rail_too_narrow, routed(4.0))).message == "2 rails of the panel, 4.00 mm wide; 5.00 mm needed"


def test_bare_rails_are_told() -> None:
    finding = only(ask(rails_bare, routed()))
    assert finding.consequence is NOTE
    assert finding.message == "The panel's rails carry no tooling holes and no marks on the top"


def test_rails_with_holes_and_marks_say_nothing() -> None:
    extra = (hole("H1", (4, 4), 3.0), hole("H2", (78, 4), 3.0), fiducial("FID1", (41, 4)), fiducial("FID2", (41, 56)))
    assert ask(rails_bare, routed(extra=extra)) == []
    assert ask(rails_bare, routed(extra=extra[:2])) != []
    lower = (chip("C1", (20, 45), side=BOTTOM),)
    assert only(ask(rails_bare, routed(extra=extra + lower))).message.endswith("carry no marks on the bottom")


def test_marks_and_holes_inside_the_boards_are_not_those_of_the_rails() -> None:
    extra = (hole("H1", (5, 20), 3.0), fiducial("FID1", (30, 20)))
    assert "no tooling holes and no marks" in only(ask(rails_bare, routed(extra=extra))).message


def test_a_panel_without_rails_is_not_asked() -> None:
    assert ask(rails_bare, scored(None)) == []
    assert ask(rail_too_narrow, scored(None)) == []
