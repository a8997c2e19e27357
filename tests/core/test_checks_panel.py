# SPDX-License-Identifier: MIT
"""Is a panel called for and planned, and what stands at the edges where boards are separated."""

from __future__ import annotations

import dataclasses

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
    outline,
    pad,
    part,
    rectangle,
    smd_part,
    through_pad,
    through_part,
)
from lineworthy import Board
from lineworthy.checks.panel import part_at_break_edge, small_board_unplanned
from lineworthy.finding import Consequence, Finding
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import panel_signs
from lineworthy.knowledge.separation import Separation
from lineworthy.model import Layer, LayerKind, Outline, PadRole, Part, Stackup, TitleBlock
from lineworthy.registry import Answers
from lineworthy.shapes import disc
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def small(subject: Board, said: str = "") -> list[Finding]:
    separation = Separation(subject, Packages(subject), said)
    return list(small_board_unplanned.ask(board=subject, sheet=SHEET, separation=separation))


def edges(subject: Board, said: str = "") -> list[Finding]:
    packages = Packages(subject)
    separation = Separation(subject, packages, said)
    return list(part_at_break_edge.ask(board=subject, sheet=SHEET, packages=packages, separation=separation))


# --- too small and no plan


@pytest.mark.parametrize(
    ("width", "height", "consequence"),
    [
        (40, 30, QUERY),
        (200, 49.9, QUERY),  # one short side is enough
        (60, 49.9998, QUERY),
        (60, 50.0, NOTE),  # exactly on the limit may be run singly, but is small
        (99.9, 80, NOTE),
        (100.0, 80, None),
        (120, 60, None),
        (300, 200, None),
    ],
)
def test_size_decides(width: float, height: float, consequence) -> None:
    found = small(board(width, height))
    assert [finding.consequence for finding in found] == ([] if consequence is None else [consequence])
    assert [f.consequence for f in small(board(height, width))] == [f.consequence for f in found]


def test_what_a_finding_says() -> None:
    finding = only(small(board(58.42, 22.86)))
    assert finding.message == (
        "The board is 58.42 x 22.86 mm; one with a side below 50.00 mm is built in a panel, and none is planned here"
    )
    assert (finding.measured, finding.limit, finding.limit_key) == (
        pytest.approx(22.86),
        50.0,
        "panel.single_min_mm",
    )
    note = only(small(board(80, 60)))
    assert note.message == (
        "The board is 80.00 x 60.00 mm; one of less than 100.00 mm both ways is built in a panel, "
        "and none is planned here"
    )
    assert (note.measured, note.limit_key) == (pytest.approx(80), "panel.panel_wanted_below_mm")


def test_odd_outlines_and_castellated_edges_are_mentioned() -> None:
    angle = shapely.box(0, 0, 40, 40).difference(shapely.box(15, 15, 40, 40))
    assert "and fills 61 % of its rectangle;" in only(small(board(outline=Outline(angle)))).message
    edge = through_pad("1", (0, 10), role=PadRole.CASTELLATED)
    assert "and has castellated edges;" in only(small(board(30, 20, parts=(part("J1", pads=[edge]),)))).message
    assert "and has castellated edges;" in only(small(board(30, 20, stackup=Stackup(castellated=True)))).message


def test_a_turned_board_keeps_its_size() -> None:
    turned = Outline(rectangle((10, 10), 58.42, 22.86, rotation=30))
    assert only(small(board(outline=turned))).message.startswith("The board is 58.42 x 22.86 mm;")


def test_without_an_outline_neither_check_runs() -> None:
    subject = board(outline=Outline(shapely.Polygon()))
    assert only(small(subject)).missing == "No closed board outline"  # type: ignore[attr-defined]
    assert only(edges(subject)).missing == "No closed board outline"  # type: ignore[attr-defined]


def bites(at: tuple[float, float], pitch: float = 0.8, count: int = 5) -> Part:
    holes = [through_pad("", (at[0] + pitch * n, at[1]), 0.5, 0.5, plated=False) for n in range(count)]
    return part("", at, holes, package="tab")


def frame() -> Outline:
    """A board inside two rails, parted by slots."""
    return outline(70, 40, cutouts=[shapely.box(5, 6, 65, 8), shapely.box(5, 32, 65, 34)])


PLANS = {
    "two outlines": board(outline=Outline(shapely.union(shapely.box(0, 0, 20, 20), shapely.box(22, 0, 42, 20)))),
    "slots along rails": board(outline=frame()),
    "break-away holes": board(40, 30, parts=(bites((10, 0.2)),)),
    "library item": board(40, 30, parts=(hole("MB1", (5, 5), package="MouseBite-Part_2.0x2.0mm_inset"),)),
    "drawn word": board(40, 30, markings=(marking("V-SCORE", layer=DRAWING),)),
    "bare word": board(40, 30, markings=(marking("Panel", layer=DRAWING),)),
    "another language": board(40, 30, title=TitleBlock(comments=("Im Nutzen 2x5 fertigen",))),
    "rows and columns": board(40, 30, title=TitleBlock(comments=("panel 2x5",))),
    "title comment": board(40, 30, title=TitleBlock(comments=("", "delivered as panel of 6"))),
    "variable": board(40, 30, variables={"PANELIZED": "2x3"}),
    "layer name": board(40, 30, graphics=(graphic(shapely.box(0, 0, 40, 0.1), Layer("V-Cut", LayerKind.DRAWING)),)),
    "copies": board(80, 45, parts=tuple(chip(f"R{n}", (5 + 40 * k, 5 + 5 * n)) for k in (0, 1) for n in range(5))),
}


@pytest.mark.parametrize("subject", PLANS.values(), ids=PLANS)
def test_a_plan_in_the_document_is_seen(subject: Board) -> None:
    assert list(panel_signs(subject))
    assert small(subject) == []


def test_words_that_several_places_repeat_are_told_once_and_shortened_visibly() -> None:
    said = "Delivered in a panel of 2 x 2, scored, with 7 mm rails along the long sides"
    subject = board(40, 30, title=TitleBlock(comments=("", said)), variables={"COMMENT2": said})
    (sign,) = panel_signs(subject)
    assert sign.startswith("the words 'Delivered in a panel of 2 x 2")
    assert sign.endswith("...'")


NO_PLANS = {
    "folder": board(40, 30, variables={"FILEPATH": "/home/k/panelized boards/widget.kicad_pcb"}),
    "solar panel": board(40, 30, markings=(marking("SOLAR PANEL 12V"),)),
    "patch panel": board(40, 30, markings=(marking("Patch\nPanel"),)),
    "front panel": board(40, 30, markings=(marking("FRONT PANEL SIDE"),)),
    "display slots": board(outline=outline(40, 30, cutouts=[shapely.box(5, 5, 20, 7)])),
    "window": board(outline=outline(40, 30, cutouts=[shapely.box(10, 10, 30, 20)])),
    "shield vents": board(40, 30, parts=(bites((10, 10), pitch=2.0),)),
    "two locating pegs": board(40, 30, parts=(bites((10, 10), count=2),)),
    "corner of pegs": board(
        40,
        30,
        parts=(part("J1", pads=[through_pad("", xy, 0.8, 0.8, plated=False) for xy in ((0, 0), (1, 0), (0, 1))]),),
    ),
    "header": board(40, 30, parts=(through_part("J1", (10, 10), nets=("",) * 6, pitch=1.27, diameter=1, drill=0.6),)),
    "many unnamed marks": board(40, 30, parts=tuple(hole("H", (5 + n, 5)) for n in range(6))),
}


@pytest.mark.parametrize("subject", NO_PLANS.values(), ids=NO_PLANS)
def test_what_only_resembles_a_plan_is_none(subject: Board) -> None:
    assert list(panel_signs(subject)) == []
    assert small(subject) != []


def test_a_method_in_the_settings_is_a_plan() -> None:
    for said in ("scored", "routed", "mixed"):
        assert small(board(40, 30), said) == []
    assert small(board(80, 60), "single") == []


def test_a_board_too_small_to_be_run_singly_is_told_even_when_the_settings_say_so() -> None:
    finding = only(small(board(80, 40), "single"))
    assert finding.consequence is QUERY
    assert finding.message.endswith("is built in a panel, and the settings say it is built singly")


# --- parts at the edge: a 60 x 40 board, which is panelised


def at_edge(*parts: Part, width: float = 60, height: float = 40) -> list[Finding]:
    return edges(board(width, height, parts=parts))


def resistor(gap: float, reference: str = "R1", **more) -> Part:
    """A 0603 lying along the lower edge, its lands `gap` above it."""
    return chip(reference, (20, gap + 0.475), **more)


@pytest.mark.parametrize(
    ("gap", "consequence"),
    [(0.2, QUERY), (0.499, QUERY), (0.5, NOTE), (0.999, NOTE), (1.0 - 2e-4, NOTE), (1.0, None), (1.5, None)],
)
def test_parts_at_the_edge(gap: float, consequence) -> None:
    assert [f.consequence for f in at_edge(resistor(gap))] == ([] if consequence is None else [consequence])


def test_a_part_finding_names_the_nearest_and_lists_the_others() -> None:
    finding = only(at_edge(resistor(0.3), resistor(0.4, "R10"), resistor(0.4, "R2", side=BOTTOM)))
    assert finding.message == (
        "R1 is 0.30 mm from a straight board edge, and R2, R10 no nearer, where the tool may touch; "
        "1.00 mm needed where boards are separated"
    )
    assert finding.uids == ("part-R1", "part-R2", "part-R10")
    assert [place.side for place in finding.places] == [TOP, BOTTOM, TOP]
    assert finding.limit_key == "panel.break_edge_part_min_mm"


def capacitor(gap: float, *, across: bool, reference: str = "C1", package: str = "C_0603_1608Metric", **more) -> Part:
    """A chip capacitor at the lower edge; across: its axis points at the edge."""
    half = 1.2 if across else 0.475
    return chip(reference, (20, gap + half), rotation=90 if across else 0, package=package, **more)


@pytest.mark.parametrize(
    ("gap", "across", "consequence"),
    [
        (1.0, True, QUERY),
        (2.4, True, QUERY),
        (2.5, True, NOTE),
        (4.9, True, NOTE),
        (5.0, True, None),
        (0.6, False, NOTE),
        (4.9, False, NOTE),
        (5.0, False, None),
    ],
)
def test_ceramic_capacitors_by_distance_and_position(gap: float, across: bool, consequence) -> None:
    found = at_edge(capacitor(gap, across=across))
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])
    assert all(f.limit_key == "panel.break_edge_ceramic_min_mm" for f in found)


def test_what_a_capacitor_finding_says() -> None:
    assert only(at_edge(capacitor(1.2, across=True))).message == (
        "C1 (0603) lies across a straight board edge at 1.20 mm; 5.00 mm needed where boards are separated"
    )
    two = [dataclasses.replace(capacitor(3.0, across=False, reference=f"C{n}"), uid=f"c{n}") for n in (1, 2)]
    assert only(at_edge(*two)).message == (
        "2 ceramic capacitors, nearest C1 (0603), lie along a straight board edge at 3.00 mm; "
        "5.00 mm needed where boards are separated"
    )


def test_a_capacitor_at_a_score_is_told_what_breaking_by_hand_would_do() -> None:
    """A third of 1.6 mm breaks at 46 MPa in the full board; over 24 GPa and 1.2 mm of 50 mm away: 1875 microstrain."""
    subject = board(60, 40, parts=(capacitor(1.2, across=True),))
    assert only(edges(subject, "scored")).message == (
        "C1 (0603) lies across a straight board edge at 1.20 mm; 5.00 mm needed where boards are separated; "
        "broken by hand it feels up to 1900 microstrain, of 500 allowed"
    )
    along = board(60, 40, parts=(capacitor(1.2, across=False),))
    assert "microstrain" not in only(edges(along, "scored")).message  # 260, by what the board narrows
    assert "microstrain" not in only(edges(subject, "routed")).message


def test_in_a_routed_panel_that_is_not_drawn_a_capacitor_is_a_note_because_tabs_can_be_elsewhere() -> None:
    subject = board(60, 40, parts=(capacitor(1.2, across=True),))
    assert only(edges(subject, "routed")).consequence is NOTE
    assert only(edges(subject, "scored")).consequence is QUERY
    assert edges(subject, "single") == []


def large(gap: float, *, across: bool) -> Part:
    half = 2.1 if across else 0.9
    spots = [(20.0, gap + half + dy) if across else (20.0 + dy, gap + half) for dy in (-1.5, 1.5)]
    lands = [pad(str(n), at, (1.8, 1.2) if across else (1.2, 1.8)) for n, at in enumerate(spots, 1)]
    return part("C9", (20, gap + half), lands, package="C_1206_3216Metric", rotation=90 if across else 0)


@pytest.mark.parametrize(
    ("gap", "across", "consequence"),
    [
        (4.9, True, QUERY),
        (5.0, True, NOTE),
        (9.9, True, NOTE),
        (10.0, True, None),
        (4.9, False, NOTE),
        (5, False, None),
    ],
)
def test_large_ceramics_keep_twice_the_distance_across_a_line(gap: float, across: bool, consequence) -> None:
    found = at_edge(large(gap, across=across))
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])


def test_among_others_the_larger_distance_is_named() -> None:
    message = only(at_edge(capacitor(4.0, across=True), large(8.0, across=True))).message
    assert "at 4.00 mm; 5.00 mm needed where boards are separated, 10.00 mm for 1206 and larger" in message


@pytest.mark.parametrize(
    ("gap", "height", "said", "key"),
    [
        (2.9, 8.0, "scored", "panel.score_tall_part_min_mm"),
        (3.0, 8.0, "scored", None),
        (2.9, 5.0, "scored", "panel.score_tall_part_min_mm"),  # exactly as high as what counts as tall
        (2.9, 4.9, "scored", None),
        (0.9, 4.9, "scored", "panel.break_edge_part_min_mm"),
        (2.9, 8.0, "routed", None),
        (2.9, 8.0, "", None),  # nobody says that they are scored
    ],
)
def test_tall_parts_stand_in_the_way_of_a_blade(gap: float, height: float, said: str, key) -> None:
    subject = board(60, 40, parts=(resistor(gap, fields={"Height": f"{height} mm"}),))
    assert [finding.limit_key for finding in edges(subject, said)] == ([] if key is None else [key])


SCORE = Layer("V-Score", LayerKind.DRAWING)


def test_a_drawn_score_counts_and_not_the_panel_s_own_edge() -> None:
    line = graphic(shapely.box(-3, 19.9, 83, 20.1), SCORE)
    parts = (resistor(0.2), chip("R2", (20, 20.8)), chip("R3", (20, 24.0)))
    finding = only(edges(board(80, 40, parts=parts, graphics=(line,))))
    assert finding.uids == ("part-R2",)
    assert finding.message.startswith("R2 is 0.325 mm from a score, where the tool may touch; 1.00 mm needed")


def test_drawn_tabs_count_and_not_the_edges_between_them() -> None:
    parts = (capacitor(1.0, across=True), bites((40, 0.4)), chip("C2", (41.6, 3.5), rotation=90, package="C_0603"))
    finding = only(edges(board(60, 40, parts=parts)))
    assert finding.message.startswith("C2 (0603) lies across break-away holes at 1.90 mm")
    assert finding.consequence is QUERY


def test_small_ceramics_keep_the_distance_of_other_parts() -> None:
    lands = [pad(str(n), (20 + dx, 3.0), (0.5, 0.6)) for n, dx in ((1, -0.5), (2, 0.5))]
    tiny = part("C1", (20, 3.0), lands, package="C_0402_1005Metric", body=rectangle((20, 3.0), 1.0, 0.5))
    assert at_edge(tiny) == []


def test_position_is_judged_against_the_nearest_edge() -> None:
    corner = chip("C1", (3, 1.5), package="C_0603_1608Metric")  # along the lower edge, across the left one
    assert "along" in only(at_edge(corner)).message
    corner = chip("C1", (2.2, 3), package="C_0603_1608Metric")  # ends 1.0 mm from the left edge, 2.525 above the lower
    assert "across" in only(at_edge(corner)).message


@pytest.mark.parametrize(
    "meant",
    [
        smd_part("J1", (20, 2), nets=("",) * 8, package="USB_C_Receptacle_HRO_TYPE-C-31-M-12"),
        smd_part("SW1", (20, 2), nets=("",) * 4, package="SW_SPST_EVQP7C"),
        chip("AE1", (20, 0.6), package="Johanson_2450AT18x100"),
        chip("D1", (20, 0.2), package="LED_Kingbright_APA1606_Horizontal"),  # reaches over the edge
        resistor(0.2, fitted=False),
        hole("H1", (20, 1.8)),
        part("J2", (20, 1), [pad(str(n), (20 + n, 0.5), (0.6, 1.0), paste=False) for n in range(4)], package="fingers"),
    ],
    ids=lambda item: item.package,
)
def test_what_belongs_at_an_edge_or_is_not_placed(meant: Part) -> None:
    assert at_edge(meant) == []


def test_a_large_board_is_not_asked_unless_it_says_it_is_a_panel() -> None:
    crowded = (resistor(0.2), capacitor(1.0, across=True, reference="C9"))
    assert at_edge(*crowded, width=200, height=150) == []
    said = board(200, 150, parts=crowded, markings=(marking("V-SCORE", layer=DRAWING),))
    assert len(edges(said)) == 2


def test_a_round_board_has_no_straight_edge_to_judge() -> None:
    answer = only(edges(board(outline=Outline(disc((20, 20), 40.0)), parts=(resistor(0.2),))))
    assert answer.missing == "No line along which boards are separated"  # type: ignore[attr-defined]


def test_edges_of_cut_outs_and_short_chamfers_do_not_count() -> None:
    window = outline(60, 40, cutouts=[shapely.box(10, 10, 30, 30)])
    assert edges(board(outline=window, parts=(chip("R1", (33, 20), rotation=90),))) == []
    notch = shapely.box(0, 0, 60, 40).difference(shapely.box(20, 0, 23, 3))
    assert edges(board(outline=Outline(notch), parts=(chip("R1", (21.5, 3.8)),))) == []


def test_an_edge_drawn_in_pieces_counts_as_one() -> None:
    points = [(0, 0), *[(n, 0) for n in range(2, 60, 2)], (60, 0), (60, 40), (0, 40)]
    assert only(edges(board(outline=Outline(shapely.Polygon(points)), parts=(resistor(0.3),)))).consequence is QUERY


def test_moving_turning_and_mirroring_change_places_only() -> None:
    parts = (
        resistor(0.3),
        resistor(0.3, "R20", side=BOTTOM),
        capacitor(1.3, across=True, reference="C2"),
        capacitor(3.3, across=False, reference="C3"),
        chip("C4", (57, 20), package="C_0805_2012Metric", rotation=30),
    )
    subject = board(60, 40, parts=parts)

    def said(asked: Board) -> list[object]:
        answers: list[Answers] = [*small(asked), *edges(asked)]  # type: ignore[list-item]
        return [(f.message, f.fingerprint, f.uids, f.consequence) for f in answers]  # type: ignore[attr-defined]

    before = said(subject)
    assert len(before) == 4
    for motion in (moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()):
        assert said(transform(subject, motion)) == before
