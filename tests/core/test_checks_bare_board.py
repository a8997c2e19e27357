# SPDX-License-Identifier: MIT
"""The bare board: is the edge closed, does copper keep from it, do holes keep their rings."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from asking import ask, only
from build import (
    BOTTOM,
    COPPER_TOP,
    LEGEND_TOP,
    TOP,
    board,
    chip,
    graphic,
    hole,
    marking,
    outline,
    pad,
    part,
    pour,
    probe_pad,
    rectangle,
    through_pad,
    through_part,
    track,
    via,
)
from lineworthy import Consequence, NotRun, built_in
from lineworthy.checks.bare_board import copper_near_edge, outline_open, ring_too_thin
from lineworthy.model import (
    Board,
    CopperArea,
    Hole,
    Layer,
    LayerKind,
    Outline,
    OutlineFault,
    Pad,
    PadKind,
    PadRole,
    Stackup,
    Via,
)
from lineworthy.shapes import disc, stadium

SHEET = built_in()
HOLD, QUERY, NOTE = Consequence
OUTER, INNER = 0.25, 0.40  # the standard sheet: common practice, no source


def near(layout):
    return ask(copper_near_edge, layout)


def rings(layout):
    return list(ring_too_thin.ask(board=layout, sheet=SHEET))


def opened(layout):
    return list(outline_open.ask(board=layout))


def four_layers(**items):
    return dataclasses.replace(board(**items), copper_layers=("top", "in1", "in2", "bottom"))


# --- outline


def broken(*faults: OutlineFault, area=None, **items):
    return dataclasses.replace(board(**items), outline=Outline(shapely.Polygon() if area is None else area, faults))


def test_a_closed_outline_passes() -> None:
    assert opened(board()) == []
    assert opened(dataclasses.replace(board(), outline=outline(20, 20, cutouts=[disc((10, 10), 3)]))) == []


def test_a_board_without_outline_is_held() -> None:
    for layout in (Board(), dataclasses.replace(board(), outline=Outline(shapely.Polygon()))):
        finding = only(opened(layout))
        assert finding.consequence is HOLD
        assert finding.message == "The board has no outline"


def test_gaps_are_one_finding_with_the_widest() -> None:
    layout = broken(OutlineFault("open", (0, 0), 0.35), OutlineFault("open", (5, 0), 0.02))
    finding = only(opened(layout))
    assert finding.message == "The board outline is open at 2 places, widest gap 0.35 mm"
    assert finding.consequence is HOLD
    assert finding.measured == 0.35
    assert [place.at for place in finding.places] == [(0, 0), (5, 0)]


def test_each_kind_of_fault_is_a_finding() -> None:
    layout = broken(OutlineFault("branch", (1, 1)), OutlineFault("crossing", None), OutlineFault("open", (0, 0), 0.1))
    findings = opened(layout)
    assert [f.message for f in findings] == [
        "The board outline branches at 1 place",
        "The board outline crosses itself at 1 place",
        "The board outline is open at 1 place, widest gap 0.10 mm",
    ]
    assert len({f.fingerprint for f in findings}) == 3
    assert findings[1].places == ()


def test_a_stray_line_beside_a_closed_edge_is_a_question_only() -> None:
    stray = OutlineFault("open", (30, 20), 8.0)
    parts = (chip("R1", (10, 10)), chip("R2", (40, 10)))
    assert only(opened(broken(stray, area=shapely.box(0, 0, 60, 40), parts=parts))).consequence is QUERY
    # a closed circle in an open outline is no board: the parts lie outside of it
    assert only(opened(broken(stray, area=disc((50, 30), 3), parts=parts))).consequence is HOLD


def test_an_edge_that_crosses_itself_is_a_hold_and_a_cut_out_over_the_edge_a_question() -> None:
    parts = (chip("R1", (10, 20)), chip("R2", (50, 20)))
    left, right = shapely.Polygon([(0, 0), (30, 20), (0, 40)]), shapely.Polygon([(60, 0), (30, 20), (60, 40)])
    hourglass = shapely.union_all([left, right])
    crossing = OutlineFault("crossing", (30, 20))
    assert only(opened(broken(crossing, area=hourglass, parts=parts))).consequence is HOLD
    # a loop of the edge turned inwards: the hole in the board touches the edge
    inwards = shapely.box(0, 0, 60, 40).difference(shapely.Polygon([(30, 40), (25, 30), (35, 30)]))
    assert only(opened(broken(OutlineFault("crossing", (30, 40)), area=inwards, parts=parts))).consequence is HOLD
    notched = shapely.box(0, 0, 60, 40).difference(shapely.box(25, 30, 35, 45))
    assert only(opened(broken(OutlineFault("crossing", (25, 40)), area=notched, parts=parts))).consequence is QUERY
    assert only(opened(broken(OutlineFault("crossing", None), area=notched, parts=parts))).consequence is QUERY


def pieces(*boxes, **items):
    return dataclasses.replace(board(**items), outline=Outline(shapely.MultiPolygon(boxes)))


def test_areas_that_nothing_joins_are_a_question() -> None:
    layout = pieces(shapely.box(0, 0, 60, 40), shapely.box(70, 0, 90, 10), parts=(chip("R1", (10, 10)),))
    finding = only(opened(layout))
    assert finding.consequence is QUERY
    assert finding.message == (
        "The board outline holds 2 areas that nothing joins: 20.00 x 10.00 mm, 60.00 x 40.00 mm; "
        "1 without pads and vias"
    )
    assert [place.label for place in finding.places] == ["60.00 x 40.00 mm", "20.00 x 10.00 mm"]
    both = pieces(shapely.box(0, 0, 60, 40), shapely.box(60.01, 0, 120.01, 40), parts=(chip("R1", (10, 10)),))
    assert "2 areas that nothing joins: 60.00 x 40.00 mm" in only(opened(both)).message


def test_areas_that_share_an_edge_are_one() -> None:
    assert opened(pieces(shapely.box(0, 0, 60, 40), shapely.box(60, 0, 120, 40))) == []
    corner = only(opened(pieces(shapely.box(0, 0, 60, 40), shapely.box(60, 40, 120, 80))))
    assert "2 areas that nothing joins" in corner.message


# --- copper at the edge: one land, track, via, pour or drawing at a distance


def land_at(gap: float, kind: PadKind = PadKind.SURFACE, **more):
    """A part with one 1 x 2 mm land `gap` from the left edge."""
    return part("U3", (10, 20), [pad("4", (gap + 0.5, 20), (1.0, 2.0), kind=kind, **more)], package="SOT")


def track_at(gap: float, layer: str = "top"):
    return track((gap + 0.1, 5), (gap + 0.1, 30), 0.2, layer=layer, net="SDA")


def via_at(gap: float):
    return via((gap + 0.3, 20), 0.6, 0.3, net="VCC")


def pour_at(gap: float, layer: str = "top", net: str = "GND", uid: str = "pour"):
    return pour(shapely.box(gap, gap, 60 - gap, 40 - gap).difference(disc((30, 20), 5)), layer=layer, net=net, uid=uid)


KINDS = {
    "pad": lambda gap: {"parts": (land_at(gap),)},
    "track": lambda gap: {"tracks": (track_at(gap),)},
    "via": lambda gap: {"vias": (via_at(gap),)},
    "drawing": lambda gap: {"graphics": (graphic(rectangle((gap + 1, 20), 2, 1), COPPER_TOP),)},
}


@pytest.mark.parametrize("kind", KINDS)
def test_copper_of_every_kind_keeps_from_the_edge(kind: str) -> None:
    assert near(board(**KINDS[kind](1.0))) == []
    assert near(board(**KINDS[kind](OUTER))) == []
    assert near(board(**KINDS[kind](OUTER - 0.00005))) == []
    finding = only(near(board(**KINDS[kind](OUTER - 0.001))))
    assert finding.consequence is QUERY
    assert finding.measured == pytest.approx(OUTER - 0.001, abs=1e-5)
    assert finding.limit == OUTER
    assert finding.limit_key == "bare-board.edge_copper_outer_min_mm"
    assert finding.places[0].at[0] < 1.0
    assert "0.249 mm from the board edge; 0.25 mm needed on outer layers" in finding.message


def test_pours_keep_from_the_edge_within_the_tolerance_of_their_chords() -> None:
    assert near(board(areas=(pour_at(OUTER),))) == []
    assert near(board(areas=(pour_at(OUTER - 0.004),))) == []
    finding = only(near(board(areas=(pour_at(OUTER - 0.006),))))
    assert finding.message == "Pour of GND on top: 0.244 mm from the board edge; 0.25 mm needed on outer layers"


def test_the_message_names_the_land() -> None:
    finding = only(near(board(parts=(land_at(0.12),))))
    assert finding.message == "U3 pad 4 (SOT): 0.12 mm from the board edge; 0.25 mm needed on outer layers"
    assert finding.places[0].label == "U3 pad 4, 0.12 mm"
    assert finding.places[0].at == (pytest.approx(0.12), pytest.approx(20, abs=1.0))
    assert finding.uids == ("part-U3", "pad-4")


def test_inner_layers_have_their_own_limit() -> None:
    assert near(four_layers(tracks=(track_at(INNER, "in1"),))) == []
    finding = only(near(four_layers(tracks=(track_at(INNER - 0.001, "in1"),))))
    assert finding.limit_key == "bare-board.edge_copper_inner_min_mm"
    assert near(four_layers(tracks=(track_at(0.3, "top"),))) == []


def test_vias_and_drilled_lands_reach_inner_layers() -> None:
    assert near(board(vias=(via_at(0.3),))) == []
    four = four_layers(vias=(via_at(0.3),))
    assert only(near(four)).limit == INNER
    blind = dataclasses.replace(four, vias=(dataclasses.replace(via_at(0.3), span=("top", "top")),))
    assert near(blind) == []
    shape = disc((1.15, 20), 1.7)
    drilled = Pad("p", "1", (1.15, 20), PadKind.THROUGH, dict.fromkeys(("top", "in1", "in2", "bottom"), shape))
    finding = only(near(four_layers(parts=(part("J1", (5, 20), [drilled]),))))
    assert (finding.limit, len(finding.places)) == (INNER, 1)


def test_cut_outs_are_edges_too() -> None:
    slot = rectangle((30, 20), 2, 10)
    layout = dataclasses.replace(
        board(tracks=(track((31.2, 15), (31.2, 25), 0.2),)), outline=outline(60, 40, (0, 0), [slot])
    )
    assert only(near(layout)).measured == pytest.approx(0.1)


def test_curved_edges_are_arcs_and_not_their_chords() -> None:
    """A ring track as far inside of a round board as the limit asks; chords of the edge come nearer by 5 um."""
    spots = [(24.65 * np.cos(a), 24.65 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 37)]
    vias = tuple(via(spot, 0.2, 0.1) for spot in spots)
    layout = dataclasses.replace(board(vias=vias), outline=Outline(disc((0, 0), 50.0)))
    assert near(layout) == []
    tight = dataclasses.replace(layout, vias=tuple(via((x * 1.0003, y * 1.0003), 0.2, 0.1) for x, y in spots))
    assert only(near(tight)).measured == pytest.approx(0.2426, abs=0.006)


@pytest.mark.parametrize("turn", range(4))
def test_every_edge_of_the_board_is_looked_at(turn: int) -> None:
    spot = [(0.6, 20), (30, 0.6), (59.4, 20), (30, 39.4)][turn]
    layout = board(parts=(part("U3", (30, 20), [pad("4", spot, (1.0, 1.0))]),))
    finding = only(near(layout))
    assert finding.message == "U3 pad 4: 0.10 mm from the board edge; 0.25 mm needed on outer layers"


def test_the_side_is_told() -> None:
    assert only(near(board(parts=(land_at(0.1, side=BOTTOM),)))).places[0].side is BOTTOM
    assert only(near(board(tracks=(track_at(0.1),)))).places[0].side is TOP
    assert only(near(four_layers(tracks=(track_at(0.1, "in2"),)))).places[0].side is None


def test_legend_at_the_edge_is_not_copper() -> None:
    assert near(board(graphics=(graphic(rectangle((0.1, 20), 2, 1), LEGEND_TOP),))) == []
    assert near(board()) == []
    assert near(board(parts=(hole("H1", (1.7, 20)),))) == []


# --- what is meant to reach the edge


def test_castellated_lands_and_bare_fingers_belong_at_the_edge() -> None:
    assert near(board(parts=(land_at(-0.5, role=PadRole.CASTELLATED),))) == []
    assert near(board(parts=(land_at(0.1, kind=PadKind.CONNECTOR, paste=False),))) == []


def test_tracks_to_a_castellation_are_excused_where_they_end() -> None:
    cut = part("M1", (5, 20), [pad("1", (0.2, 20), (1.0, 1.0), net="SDA", role=PadRole.CASTELLATED)])
    run = track((0.0, 20), (5, 20), 0.2, net="SDA")
    assert near(board(parts=(cut,), tracks=(run,))) == []
    finding = only(near(board(parts=(cut,), tracks=(dataclasses.replace(run, net="SCL"),))))
    assert finding.message.startswith("Track of SCL on top: at or over the board edge")
    # the same net in another place is not excused
    assert len(near(board(parts=(cut,), tracks=(run, track((0.0, 5), (5, 5), 0.2, net="SDA"))))) == 1


def test_a_plated_hole_in_the_edge_needs_saying() -> None:
    module = part("M1", (5, 20), [through_pad("1", (0, 20), 1.6, 1.0, net="A")], package="MODULE")
    finding = only(near(board(parts=(module,))))
    assert finding.message == (
        "Plated holes of M1 pad 1 (MODULE) are cut by the board edge, and nothing says that half holes are wanted"
    )
    said = dataclasses.replace(board(parts=(module,)), stackup=Stackup(castellated=True))
    assert near(said) == []


def test_lands_of_a_part_that_reaches_over_the_edge_are_a_note() -> None:
    plug = dataclasses.replace(land_at(0.1), body=rectangle((0, 20), 4, 3))
    assert only(near(board(parts=(plug,)))).consequence is NOTE
    inside = dataclasses.replace(land_at(0.1), body=rectangle((3, 20), 4, 3))
    assert only(near(board(parts=(inside,)))).consequence is QUERY
    over = dataclasses.replace(land_at(-0.2), body=rectangle((0, 20), 4, 3))
    assert only(near(board(parts=(over,)))).consequence is QUERY


def test_a_row_of_lands_flush_with_the_edge_is_a_note() -> None:
    def fingers(gap: float):
        lands = [pad(str(n), (gap + 0.5, 10 + 2 * n), (1.0, 1.0), uid=f"f{n}") for n in (1, 2, 3)]
        return part("J1", (2, 14), lands, package="FINGERS")

    assert only(near(board(parts=(fingers(0.0),)))).consequence is NOTE
    assert only(near(board(parts=(fingers(0.1),)))).consequence is NOTE
    assert only(near(board(parts=(fingers(0.15),)))).consequence is QUERY
    assert only(near(board(parts=(fingers(-0.1),)))).consequence is QUERY


def test_a_chip_is_not_made_for_the_edge() -> None:
    along = only(near(board(parts=(chip("R1", (0.5, 20), rotation=90),))))
    assert along.message.startswith("R1 pads 1, 2 (R_0603_1608Metric): 0.")
    assert along.consequence is QUERY
    contacts = [pad(str(n), (0.55, 20 + 2 * n), (1.0, 1.0), uid=f"c{n}") for n in (1, 2)]
    assert only(near(board(parts=(part("J1", (1, 20), contacts, package="2p tail"),)))).consequence is NOTE


# --- grouping


def test_parts_of_one_package_are_one_decision() -> None:
    def jack(n: int, gap: float):
        return part(f"J{n}", (5, 8 * n), [pad("1", (gap + 0.5, 8 * n), uid=f"j{n}")], package="RJ45")

    finding = only(near(board(parts=(jack(2, 0.1), jack(1, 0.1)))))
    assert finding.message.startswith("2 pads of J1, J2 (RJ45): 0.10 mm")
    assert [place.label for place in finding.places] == ["J1 pad 1, 0.10 mm", "J2 pad 1, 0.10 mm"]
    unlike = only(near(board(parts=(jack(1, 0.2), jack(2, 0.1)))))
    assert unlike.message.startswith("2 pads of J1, J2 (RJ45): down to 0.10 mm from the board edge")
    assert unlike.measured == pytest.approx(0.1)


def test_pours_are_one_decision_and_layers_are_told() -> None:
    areas = (pour_at(0.1, "in1"), pour_at(0.1, "in2", "VCC", "pour-2"))
    finding = only(near(four_layers(areas=areas)))
    assert (
        finding.message == "Pours of GND, VCC on in1, in2: 0.10 mm from the board edge; 0.40 mm needed on inner layers"
    )
    assert finding == only(near(four_layers(areas=areas[::-1])))
    nearer = only(near(four_layers(areas=(areas[0], pour_at(0.0, "in2", "VCC", "pour-2")))))
    assert nearer.message.startswith("Pours of GND, VCC on in1, in2: some at or over the board edge; 0.40 mm needed")


def test_tracks_of_all_nets_are_one_decision_told_at_the_worst_place() -> None:
    tracks = (track_at(0.2), track((59.85, 5), (59.85, 9), 0.2, net="SDA"), track((5, 0.2), (9, 0.2), 0.2, net="SCL"))
    finding = only(near(board(tracks=tracks)))
    assert finding.message.startswith("Tracks of SCL, SDA on top: down to 0.05 mm from the board edge")
    assert finding.measured == pytest.approx(0.05)
    assert len(finding.places) == 3


def test_a_pour_across_a_whole_cut_out_is_found() -> None:
    slot = rectangle((30, 20), 2, 3)
    sheet = pour(shapely.box(1, 1, 59, 39))
    layout = dataclasses.replace(board(areas=(sheet,)), outline=outline(60, 40, (0, 0), [slot]))
    assert "at or over the board edge" in only(near(layout)).message
    pulled = pour(shapely.box(1, 1, 59, 39).difference(rectangle((30, 20), 3, 4)))
    assert near(dataclasses.replace(layout, areas=(pulled,))) == []
    beyond = pour(shapely.box(-5, -5, 65, 45))
    assert "at or over" in only(near(board(areas=(beyond,)))).message


# --- off the board


def test_copper_off_the_board_is_one_question() -> None:
    away = (chip("R2", (80, 10)), chip("R10", (80, 12)))
    layout = board(parts=(chip("R1", (30, 20)), *away), tracks=(track((70, 5), (80, 5)),))
    finding = only(near(layout))
    assert finding.message == "Copper lies outside of the board edge: 2 parts (R2, R10), 1 track"
    assert [place.label for place in finding.places] == ["R2", "R10"]
    # just outside is outside, not near
    assert "outside" in only(near(board(parts=(land_at(-1.1),)))).message


def test_a_part_in_a_cut_out_is_off_the_board() -> None:
    layout = dataclasses.replace(
        board(parts=(chip("R1", (30, 20)),)), outline=outline(60, 40, (0, 0), [rectangle((30, 20), 20, 20)])
    )
    assert "outside of the board edge: 1 part (R1)" in only(near(layout)).message


ON_BOARD = tuple(chip(f"R{n}", (30, 5.0 * n)) for n in range(1, 7))
"""So many that the outline holds most of what is placed."""


def lost(*parts, layout=None, **items):
    """What is said of lands off the board, by message; of other copper there nothing is."""
    made = board(parts=(*ON_BOARD, *parts), **items)
    made = made if layout is None else dataclasses.replace(made, outline=layout)
    return [f for f in near(made) if f.consequence is HOLD]


def test_a_part_whose_lands_are_off_the_board_cannot_be_soldered() -> None:
    finding = only(lost(chip("R9", (80, 10), nets=("A", "B"))))
    assert finding.message == "R9, 2 of 2 lands off the board, where nothing can be soldered"
    assert [(place.at, place.label) for place in finding.places] == [((79.2, 10), "R9 pad 1"), ((80.8, 10), "R9 pad 2")]
    # lands are 0.8 mm long at 0.8 mm from the middle
    for x, off in ((59.6, 0), (59.61, 1), (60.0, 1), (61.19, 1), (61.21, 2)):
        told = [f.message[:16] for f in lost(chip("R9", (x, 10)))]
        assert told == ([f"R9, {off} of 2 lands"] if off else [])
    many = lost(*(chip(f"C{n}", (80, 5 + 5 * n)) for n in range(1, 7)), chip("C7", (40, 10)))
    assert only(many).message.endswith("C5, 2 of 2 lands and 1 more part off the board, where nothing can be soldered")


def test_it_is_told_once() -> None:
    both = near(board(parts=(*ON_BOARD, chip("R9", (60, 10)))))
    assert [f.consequence for f in both] == [HOLD]
    track_too = near(board(parts=(*ON_BOARD, chip("R9", (80, 10))), tracks=(track((70, 5), (80, 5)),)))
    assert [f.message for f in track_too][1:] == ["Copper lies outside of the board edge: 1 track"]


def test_a_land_whose_hole_is_milled_away_cannot_be_soldered() -> None:
    def post(**more):
        return part("J1", (45, 20), [dataclasses.replace(through_pad("1", (45, 20), 1.6, 0.8), **more)])

    def cut(width, height):
        return outline(60, 40, cutouts=[rectangle((45, 20), width, height)])

    assert only(lost(post(), layout=cut(2, 1))).message.startswith("J1, 1 of 1 land off the board")
    assert lost(post(), layout=cut(1, 1)) == []  # a slot drawn into the land
    assert lost(post(), layout=outline(45, 40)) == []  # half a hole is left
    assert lost(post(role=PadRole.CASTELLATED), layout=cut(2, 1)) == []


def test_lands_off_the_board_that_nobody_solders_or_of_panels_are_a_question() -> None:
    away = chip("R9", (80, 10))
    for one in (
        dataclasses.replace(away, fitted=False),
        dataclasses.replace(away, board_only=True),
        dataclasses.replace(away, in_parts_list=False, in_placement=False),
        probe_pad("TP1", (80, 10)),
    ):
        finding = only(near(board(parts=(*ON_BOARD, one))))
        assert finding.consequence is QUERY
        assert "outside of the board edge: 1 part" in finding.message
    two = Outline(shapely.MultiPolygon([shapely.box(0, 0, 60, 40), shapely.box(90, 0, 150, 40)]))
    assert lost(away, layout=two) == []
    assert lost(away, markings=(marking("PANEL 2 x 2"),)) == []
    fingers = part("J1", (80, 10), [pad("1", (80, 10), kind=PadKind.CONNECTOR)])
    assert lost(fingers) == []


# --- not run


def test_without_a_closed_outline_it_does_not_run() -> None:
    answer = only(near(Board(parts=(land_at(0.1),))))
    assert isinstance(answer, NotRun)
    assert "outline" in answer.missing


def test_with_plated_edges_it_does_not_run() -> None:
    layout = dataclasses.replace(board(parts=(land_at(0.1),)), stackup=Stackup(edge_plated=True))
    assert isinstance(only(near(layout)), NotRun)


# --- rings


def ringed(diameter: float, drill: float, **more):
    return through_part("J1", (10, 10), nets=("A",), diameter=diameter, drill=drill, package="HDR", **more)


def holed(land, size=(1.0, 1.0), at=(10.0, 10.0), rotation: float = 0.0, **more):
    """A part with one pad of the given copper on both layers."""
    land_pad = Pad(
        "p", "1", at, PadKind.THROUGH, {"top": land, "bottom": land}, hole=Hole(at, size, True, rotation), **more
    )
    return part("J1", (10, 10), [land_pad], package="ODD")


@pytest.mark.parametrize(("diameter", "thin"), [(1.5, False), (1.3, False), (1.2999, False), (1.298, True)])
def test_pads_keep_their_ring(diameter: float, thin: bool) -> None:
    """0.15 mm in the standard sheet (common practice, no source); exactly that passes."""
    findings = rings(board(parts=(ringed(diameter, 1.0),)))
    assert len(findings) == thin
    if thin:
        assert (
            findings[0].message == "1 pad of J1 (HDR), 1.298 mm land with 1.00 mm hole: ring 0.149 mm; 0.15 mm needed"
        )
        assert findings[0].consequence is QUERY
        assert findings[0].measured == pytest.approx(0.149)


@pytest.mark.parametrize(("diameter", "thin"), [(0.6, False), (0.5, False), (0.4999, False), (0.498, True)])
def test_vias_keep_their_ring(diameter: float, thin: bool) -> None:
    """0.10 mm in the standard sheet (common practice, no source)."""
    findings = rings(board(vias=(via((10, 10), diameter, 0.3), via((20, 10), diameter, 0.3))))
    assert len(findings) == thin
    if thin:
        assert findings[0].message == "2 vias, 0.498 mm land with 0.30 mm hole: ring 0.099 mm; 0.10 mm needed"
        assert len(findings[0].places) == 2


def test_no_holes_no_rings() -> None:
    assert rings(board()) == []
    assert rings(board(parts=(chip("R1", (10, 10)), hole("H1", (20, 20))))) == []


def test_unplated_and_castellated_holes_have_no_ring() -> None:
    bare = part("H1", (10, 10), [through_pad("", (10, 10), 3.3, 3.2, plated=False)])
    assert rings(board(parts=(bare,))) == []
    assert rings(board(parts=(holed(disc((10, 10), 1.1), role=PadRole.CASTELLATED),))) == []


@pytest.mark.parametrize("turn", [0.0, 90.0, 45.0, 211.0])
def test_slots_in_oval_lands_are_measured_all_round(turn: float) -> None:
    exact = holed(stadium((10, 10), (2.0, 1.0), turn), (1.7, 0.7), rotation=turn)
    assert rings(board(parts=(exact,))) == []
    finding = only(rings(board(parts=(holed(stadium((10, 10), (2.0, 1.0), turn), (1.72, 0.72), rotation=turn),))))
    assert finding.measured == pytest.approx(0.14, abs=1e-6)
    across = only(rings(board(parts=(holed(stadium((10, 10), (2.0, 1.0), turn), (1.7, 0.7), rotation=turn + 90),))))
    assert across.measured < 0


def test_a_hole_off_centre_has_its_thinnest_side() -> None:
    land = rectangle((10.2, 10), 2.0, 2.0)
    assert rings(board(parts=(holed(land),))) == []
    finding = only(rings(board(parts=(holed(rectangle((10.4, 10), 2.0, 2.0)),))))
    assert finding.measured == pytest.approx(0.1)


def test_a_hole_that_leaves_its_copper_is_told_so() -> None:
    for land in (rectangle((10.7, 10), 2.0, 2.0), rectangle((15, 10), 2.0, 2.0), disc((10, 10), 1.0)):
        finding = only(rings(board(parts=(holed(land),))))
        assert "the hole leaves its copper" in finding.message
        assert finding.consequence is QUERY
        assert finding.measured <= 1e-9


def test_the_layer_with_the_thinnest_ring_counts() -> None:
    wide, thin = disc((10, 10), 2.0), disc((10, 10), 1.2)
    land = Pad(
        "p", "1", (10, 10), PadKind.THROUGH, {"top": wide, "bottom": thin}, hole=Hole((10, 10), (1.0, 1.0), True)
    )
    finding = only(rings(board(parts=(part("J1", (10, 10), [land]),))))
    assert finding.measured == pytest.approx(0.1)
    assert finding.places[0].side is BOTTOM
    absent = dataclasses.replace(land, copper={"top": wide})
    assert rings(board(parts=(part("J1", (10, 10), [absent]),))) == []


def test_vias_are_measured_on_every_layer_they_cross() -> None:
    stacked = Via("v", (10, 10), 0.6, 0.3, ("top", "bottom"), diameters={"in1": 0.45})
    assert only(rings(four_layers(vias=(stacked,)))).measured == pytest.approx(0.075)
    upper = dataclasses.replace(stacked, span=("top", "top"))
    assert rings(four_layers(vias=(upper,))) == []


def test_a_land_under_the_hole_adds_to_its_ring() -> None:
    """A thermal via drawn as a small pad inside the large land of the same pin."""
    small = through_pad("9", (10, 10), 0.7, 0.5, net="GND", uid="v")
    over = [pad("9", (10, 10), (3.0, 3.0), net="GND", uid="ep", side=side) for side in (TOP, BOTTOM)]
    assert rings(board(parts=(part("U1", (10, 10), [small, *over]),))) == []
    assert len(rings(board(parts=(part("U1", (10, 10), [small, over[0]]),)))) == 1
    other = dataclasses.replace(over[1], number="8")
    assert len(rings(board(parts=(part("U1", (10, 10), [small, over[0], other]),)))) == 1


def test_holes_too_small_for_a_lead_are_vias() -> None:
    assert rings(board(parts=(ringed(0.5, 0.3),))) == []
    finding = only(rings(board(parts=(ringed(0.48, 0.3),))))
    assert finding.limit_key == "bare-board.via_ring_min_mm"
    assert only(rings(board(parts=(ringed(0.6, 0.4),)))).limit_key == "bare-board.pad_ring_min_mm"


def test_the_same_land_and_hole_is_one_finding() -> None:
    parts = [
        through_part(f"J{n}", (10, 5 * n), nets=("A", "B"), diameter=1.2, drill=1.0, package="HDR") for n in (2, 1, 10)
    ]
    finding = only(rings(board(parts=tuple(parts))))
    assert (
        finding.message == "6 pads of J1, J2, J10 (HDR), 1.20 mm land with 1.00 mm hole: ring 0.10 mm; 0.15 mm needed"
    )
    assert [place.label for place in finding.places][:2] == ["J1 pad 1", "J1 pad 2"]
    assert only(rings(board(parts=tuple(parts[::-1])))) == finding
    other = through_part("J3", (40, 20), nets=("A",), diameter=1.25, drill=1.0, package="HDR")
    assert len(rings(board(parts=(*parts, other)))) == 2


def test_hostile_names_are_only_text() -> None:
    odd = board(
        tracks=(dataclasses.replace(track_at(0.1), net="<b>\n\x00=cmd"),),
        areas=(
            CopperArea("a", "bottom", "\u202e", shapely.box(0, 0, 1, 1), rings=(np.array([[0, 0], [1, 0], [1, 1.0]]),)),
        ),
        vias=(Via("v", (10, 10), 0.3, 0.3, ("no", "layer")),),
    )
    assert len(near(odd)) == 2
    assert "the hole leaves its copper" in only(rings(odd)).message


def test_an_edge_drawn_twice_is_a_note_and_hides_nothing() -> None:
    doubled = Outline(rectangle((30, 20), 60, 40), (OutlineFault("doubled", (0, 0)), OutlineFault("doubled", (60, 0))))
    layout = dataclasses.replace(board(tracks=(track((10, 0.2), (20, 0.2), net="A"),)), outline=doubled)
    finding = only(opened(layout))
    assert (finding.consequence, finding.message) == (NOTE, "2 lines of the board outline are drawn twice")
    assert only(near(layout)).measured == pytest.approx(0.1)


def test_a_stray_line_beside_a_closed_edge_is_told_from_an_open_edge() -> None:
    stray = Outline(rectangle((30, 20), 60, 40), (OutlineFault("open", (5, 5), 2.0),))
    finding = only(opened(dataclasses.replace(board(parts=(chip("R1", (30, 20)),)), outline=stray)))
    assert finding.consequence is QUERY
    assert finding.message.startswith("Lines beside the closed board outline are open at 1 place")


def test_lettering_on_the_outline_layer_would_be_cut() -> None:
    layer = Layer("Edge.Cuts", LayerKind.OUTLINE, None)
    finding = only(opened(board(markings=(marking("100 mm", layer=layer), marking("WIDGET")))))
    assert finding.consequence is QUERY
    assert finding.message == "1 text on the outline layer, where every line is cut: '100 mm'"
    assert not opened(board(markings=(marking("100 mm", layer=layer, hidden=True),)))


def test_two_tracks_that_meet_at_the_worst_place_are_shown_once() -> None:
    tracks = (track((10, 0.2), (20, 0.2), net="A"), track((20, 0.2), (20, 9), net="A"))
    finding = only(near(board(tracks=tracks)))
    assert len(finding.uids) == 2
    assert len(finding.places) == len(set(finding.places))


def test_a_ring_that_is_thin_on_one_layer_names_that_layer() -> None:
    layout = four_layers(parts=(ringed(1.6, 1.0),))
    (joint,) = layout.parts[0].pads
    thin = dataclasses.replace(joint, copper={**joint.copper, "in1": disc(joint.at, 1.2)})
    layout = dataclasses.replace(layout, parts=(dataclasses.replace(layout.parts[0], pads=(thin,)),))
    assert "land on in1 with 1.00 mm hole: ring 0.10 mm" in only(rings(layout)).message
