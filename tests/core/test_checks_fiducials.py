# SPDX-License-Identifier: MIT
"""Enough marks on every placed side, each in a clear ring."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from asking import only
from build import (
    BOTTOM,
    COPPER_BOTTOM,
    COPPER_TOP,
    FAB_TOP,
    LEGEND_BOTTOM,
    LEGEND_TOP,
    MASK_TOP,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    marking,
    outline,
    part,
    pour,
    rectangle,
    round_pad,
    smd_part,
    through_part,
    track,
    via,
)
from lineworthy import Consequence, NotRun, built_in
from lineworthy.checks.fiducials import clear_area_crowded, too_few
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.rings import segment_distances, winds_round
from lineworthy.knowledge.separation import Separation
from lineworthy.model import CopperArea, Layer, LayerKind, Mount, Outline, PadRole
from lineworthy.shapes import disc

SHEET = built_in()
HOLD, QUERY, NOTE = Consequence


def few(layout, sheet=SHEET, said="single"):
    """`said` is how boards are parted, as the settings say; here they ride on the line one by one."""
    separation = Separation(layout, Packages(layout), said)
    return list(too_few.ask(board=layout, sheet=sheet, marks=Marks(layout), separation=separation))


def crowd(layout, sheet=SHEET):
    return list(clear_area_crowded.ask(board=layout, sheet=sheet, marks=Marks(layout)))


def fine(side=TOP, at=(30, 20), reference="U1"):
    """A package with 0.5 mm pitch, so that its side is not simple."""
    return smd_part(reference, at, nets=[f"n{n}" for n in range(8)], pitch=0.5, land=(0.3, 1.0), side=side)


CORNERS = [(5, 5), (55, 35), (5, 35), (55, 5)]


def marked(count: int, side=TOP, **more):
    return tuple(fiducial(f"FID{n + 1}", CORNERS[n], side=side, **more) for n in range(count))


# --- too few


@pytest.mark.parametrize(("count", "consequence"), [(0, HOLD), (1, HOLD), (2, NOTE), (3, None), (4, None)])
def test_how_many_are_enough(count: int, consequence) -> None:
    """One mark is an error, two pass with advice, three pass: IPC-7351 (2005) 3.4.4.1."""
    findings = few(board(parts=(fine(), *marked(count))))
    assert [f.consequence for f in findings] == ([] if consequence is None else [consequence])
    if findings:
        wanted = "3 preferred" if count == 2 else "2 needed"
        marks = "1 alignment mark" if count == 1 else f"{count} alignment marks"
        assert findings[0].message == f"The top carries 1 machine-placed part and {marks}; {wanted}"
        assert (findings[0].measured, len(findings[0].places)) == (count, count)


@pytest.mark.parametrize("said", ["scored", "routed", ""])
def test_a_board_built_in_a_panel_is_a_query_because_rails_can_carry_the_marks(said: str) -> None:
    """Two marks per side or panel: IPC-7351 (2005) 3.4.4.1. At 60 x 40 mm it is built in one, whoever says so."""
    finding = only(few(board(parts=(fine(),)), said=said))
    assert finding.consequence is QUERY
    assert finding.message.endswith("0 alignment marks; 2 needed, here or on the panel's rails")
    # one that need not be panelised, though it may
    large = few(board(92, 64, parts=(fine(),)), said=said)
    assert only(large).consequence is (QUERY if said else HOLD)
    # a panel that is drawn is what rides on the line
    score = graphic(rectangle((30, 20), 66, 0.2), Layer("V-Score", LayerKind.DRAWING))
    assert only(few(board(parts=(fine(),), graphics=(score,)), said=said)).consequence is HOLD


def test_what_is_slid_over_the_edge_is_not_placed_by_a_machine() -> None:
    """A plug with lands on both faces of the board."""
    plug = part("J1", (57, 20), [*fine().pads, *fine(BOTTOM).pads])
    assert few(board(parts=(plug,))) == []


def test_each_side_is_judged_by_itself() -> None:
    both = (fine(), fine(BOTTOM, reference="U2"))
    finding = only(few(board(parts=(*both, *marked(3)))))
    assert finding.message.startswith("The bottom carries 1 machine-placed part and 0 alignment marks")
    assert not few(board(parts=(*both, *marked(3), *marked(3, BOTTOM))))


def test_what_a_person_would_count_is_named_with_the_reason() -> None:
    pasted = [
        part(f"FID{n}", (5, 5 * n), (round_pad("", (5, 5 * n), paste=True),), package="Fiducial_1mm") for n in (1, 2)
    ]
    assert only(few(board(parts=(fine(), *pasted)))).message.endswith("; not counted: FID1, FID2 (copper takes paste)")
    local = fiducial("FID3", (5, 35), role=PadRole.FIDUCIAL_LOCAL)
    assert only(few(board(parts=(fine(), local)))).message.endswith("; not counted: FID3 (for one part only)")


def test_marks_on_the_wrong_side_do_not_help() -> None:
    assert only(few(board(parts=(fine(), *marked(3, BOTTOM))))).consequence is HOLD


def test_a_side_without_machine_placed_parts_needs_none() -> None:
    assert not few(board())
    assert not few(board(parts=(through_part("J1", (30, 20)),)))
    bare = part("J1", (30, 20), [round_pad("1", (30, 20), paste=False)])
    not_placed = (
        dataclasses.replace(fine(), fitted=False),
        dataclasses.replace(fine(), in_placement=False),
        dataclasses.replace(fine(), mount=Mount.THROUGH),
        fine(at=(-30, 20)),
        bare,
    )
    for item in not_placed:
        assert not few(board(parts=(item,)))


@pytest.mark.parametrize("named", [{"role": PadRole.NONE}, {"role": PadRole.NONE, "package": "dot"}])
def test_named_marks_count(named) -> None:
    assert not few(board(parts=(fine(), *marked(3, **named))))


def test_undeclared_marks_count() -> None:
    lone = [part(f"X{n}", at, [round_pad("", at, paste=False, mask_margin=0.5)]) for n, at in enumerate(CORNERS[:3])]
    assert not few(board(parts=(fine(), *lone)))
    drawn = [
        item
        for n, at in enumerate(CORNERS[:3])
        for item in (graphic(disc(at, 1.0), COPPER_TOP, f"c{n}"), graphic(disc(at, 2.0), MASK_TOP, f"m{n}"))
    ]
    assert not few(board(parts=(fine(),), graphics=drawn))


def test_bare_lands_that_may_be_marks_soften_it_to_a_note() -> None:
    lone = [part(f"X{n}", at, [round_pad("", at, paste=False)]) for n, at in enumerate(CORNERS[:2])]
    finding = only(few(board(parts=(fine(), *lone))))
    assert finding.consequence is NOTE
    assert finding.message.endswith("; 2 needed; bare lands that may be marks: X0, X1")
    one = only(few(board(parts=(fine(), lone[0]))))
    assert one.consequence is HOLD


def test_covered_marks_do_not_count() -> None:
    covered = [dataclasses.replace(mark, pads=(dataclasses.replace(mark.pads[0], mask={}),)) for mark in marked(3)]
    finding = only(few(board(parts=(fine(), *covered))))
    assert finding.consequence is HOLD
    assert finding.message.endswith("covered by solder mask: FID1, FID2, FID3")


def test_local_marks_serve_one_part_only() -> None:
    assert only(few(board(parts=(fine(), *marked(3, role=PadRole.FIDUCIAL_LOCAL))))).consequence is HOLD


@pytest.mark.parametrize(("count", "consequence"), [(12, NOTE), (13, HOLD)])
def test_few_coarse_parts_make_a_side_simple(count: int, consequence) -> None:
    chips = [chip(f"R{n}", (5 + 4 * n, 20)) for n in range(count)]
    finding = only(few(board(parts=chips)))
    assert finding.consequence is consequence
    assert ("few and coarse parts only, none with more than two leads" in finding.message) is (consequence is NOTE)


@pytest.mark.parametrize(("pitch", "consequence"), [(1.27, NOTE), (0.8, NOTE), (0.7998, HOLD), (0.5, HOLD)])
@pytest.mark.parametrize("turned", [False, True])
def test_a_fine_part_makes_a_side_not_simple(pitch: float, consequence, turned: bool) -> None:
    item = smd_part("U1", (30, 20), nets=[""] * 8, pitch=pitch, land=(0.3, 1.0))
    if turned:
        from transform import quarter_turns, transform

        layout = transform(board(parts=(item,)), quarter_turns(1))
    else:
        layout = board(parts=(item,))
    assert only(few(layout)).consequence is consequence


def test_limits_come_from_the_sheet() -> None:
    strict = dataclasses.replace(SHEET, fiducials=dataclasses.replace(SHEET.fiducials, per_side_min_count=3))
    finding = only(few(board(parts=(fine(), *marked(2))), strict))
    assert (finding.consequence, finding.limit) == (HOLD, 3)


# --- clear ring. A mark of 1.0 mm needs a clear diameter of 2.0 mm: SMEMA fiducial mark standard, summary


AT = (20.0, 20.0)


def ring(*, mark=None, **items):
    parts = (mark or fiducial(at=AT), *items.pop("parts", ()))
    return crowd(board(parts=parts, **items))


def test_the_usual_mark_stands_clear() -> None:
    assert not ring()


@pytest.mark.parametrize(("opening", "passes"), [(3.0, True), (2.0, True), (1.98, False), (1.1, False)])
def test_mask_must_open_the_whole_ring(opening: float, passes: bool) -> None:
    findings = ring(mark=fiducial(at=AT, opening=opening))
    assert not findings if passes else only(findings).measured == pytest.approx((opening - 1) / 2)
    if opening == 1.1:
        assert only(findings).message == (
            "The solder mask leaves FID1 (1.00 mm, top) a clear ring of 0.05 mm; 0.50 mm needed"
        )
        assert only(findings).consequence is QUERY


@pytest.mark.parametrize(("diameter", "opening"), [(0.5, 1.0), (0.75, 1.5), (1.0, 2.0), (1.5, 3.0), (3.0, 6.0)])
def test_an_opening_of_twice_the_diameter_is_exactly_enough(diameter: float, opening: float) -> None:
    assert not ring(mark=fiducial(at=AT, diameter=diameter, opening=opening))
    assert ring(mark=fiducial(at=AT, diameter=diameter, opening=opening - 0.01))


def test_an_opening_off_centre_is_measured_where_it_is_narrow() -> None:
    mark = fiducial(at=AT)
    shifted = dataclasses.replace(mark.pads[0], mask={TOP: disc((20.2, 20.0), 2.0)})
    assert only(ring(mark=dataclasses.replace(mark, pads=(shifted,)))).measured == pytest.approx(0.3, abs=1e-3)
    square = dataclasses.replace(mark.pads[0], mask={TOP: rectangle(AT, 2.0, 2.0)})
    assert not ring(mark=dataclasses.replace(mark, pads=(square,)))


def boxed(extents):
    return dataclasses.replace(marking("a", layer=COPPER_TOP), extents=extents)


GAPS = [(0.6, None), (0.5, None), (0.4998, 0.4998), (0.2, 0.2)]


@pytest.mark.parametrize(("gap", "measured"), GAPS)
@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize(
    "what", ["track", "arc", "via", "pad", "pour", "drawing", "copper text", "legend", "hole", "edge"]
)
def test_everything_in_the_ring_is_measured(what: str, gap: float, measured, turn: int) -> None:
    from transform import quarter_turns, transform

    x = 20.0 + 0.5 + gap  # where the thing begins
    items = {
        "track": {"tracks": (track((x + 0.1, 10), (x + 0.1, 30), 0.2, net="a"),)},
        "arc": {"tracks": (dataclasses.replace(track((x + 1.1, 19), (x + 1.1, 21), 0.2), mid=(x + 0.1, 20)),)},
        "via": {"vias": (via((x + 0.3, 20), 0.6),)},
        "pad": {"parts": (part("R1", (x + 0.5, 20), [round_pad("1", (x + 0.5, 20), 1.0, mask_margin=None)]),)},
        "pour": {"areas": (pour(shapely.box(x, 10, x + 5, 30)),)},
        "drawing": {"graphics": (graphic(shapely.box(x, 19, x + 1, 21), COPPER_TOP),)},
        "copper text": {"markings": (boxed(shapely.box(x, 19, x + 1, 21)),)},
        "legend": {"graphics": (graphic(shapely.box(x, 19, x + 1, 21), LEGEND_TOP),)},
        "hole": {"parts": (hole("H1", (x + 1.6, 20)),)},
        "edge": {"outline": outline(x, 40.0)},
    }[what]
    layout = board(parts=(fiducial(at=AT), *items.pop("parts", ())), **items)
    findings = crowd(transform(layout, quarter_turns(turn)))
    fuzzy = {"pour": 0.006}.get(what, 1e-6)  # shapes that stand for arcs get that much
    if measured is None or (fuzzy > 1e-5 and gap > 0.49):
        assert not findings
    else:
        assert only(findings).measured == pytest.approx(measured, abs=fuzzy)
        assert only(findings).consequence is QUERY


def test_a_mark_in_a_pour_with_a_round_opening() -> None:
    square = rectangle(AT, 20, 20)
    assert not ring(areas=(pour(square.difference(disc(AT, 2.0))),))
    tight = only(ring(areas=(pour(square.difference(disc(AT, 1.4))),)))
    assert tight.measured == pytest.approx(0.2, abs=0.01)
    assert tight.message.startswith("Pour of net GND leaves FID1 (1.00 mm, top) a clear ring of 0.20")
    assert only(ring(areas=(pour(square),))).measured == 0.0


def test_pads_stay_clear_of_other_layers_and_sides() -> None:
    near = (20.9, 20)
    assert not ring(tracks=(track(near, (25, 20), layer="bottom"),))
    assert not ring(graphics=(graphic(disc(near, 0.5), LEGEND_BOTTOM), graphic(disc(near, 0.5), COPPER_BOTTOM, "x")))
    assert not ring(graphics=(graphic(disc(near, 0.5), FAB_TOP),))
    assert not ring(markings=(marking("X", near, LEGEND_TOP, hidden=True),))
    assert ring(markings=(marking("X", near, LEGEND_TOP),))
    assert ring(vias=(via(near),), mark=fiducial(at=AT, side=BOTTOM)), "a through via shows on both sides"


def test_a_blind_via_of_the_other_side_does_not_count() -> None:
    blind = dataclasses.replace(via((20.9, 20)), span=("in1", "bottom"))
    assert not crowd(board(parts=(fiducial(at=AT),), vias=(blind,), copper_layers=("top", "in1", "bottom")))


def test_same_mistake_on_every_mark_is_one_finding() -> None:
    finding = only(crowd(board(parts=marked(3, opening=1.1))))
    assert finding.message.startswith("The solder mask leaves FID1, FID2, FID3 (1.00 mm, top) a clear ring of 0.05 mm")
    assert len(finding.places) == 3


def test_different_mistakes_are_different_findings() -> None:
    layout = board(parts=marked(2, opening=1.1), vias=(via((5.9, 5), net="a"),))
    assert sorted(f.message.split(" leaves ")[0] for f in crowd(layout)) == ["The solder mask", "Via of net a"]


def test_what_only_looks_like_a_mark_gets_a_note() -> None:
    lone = part("X1", AT, [round_pad("", AT, paste=False, mask_margin=0.3)])
    assert only(crowd(board(parts=(lone,)))).consequence is NOTE
    unsure = part("X1", AT, [round_pad("", AT, paste=False, mask_margin=0.05)])
    assert not crowd(board(parts=(unsure,)))


def test_a_cross_has_a_ring_half_as_wide_as_it() -> None:
    from build import pad

    bars = [pad(at=AT, size=(1.5, 0.25), paste=False, rotation=turn, uid=f"bar{turn}") for turn in (0, 90)]
    finding = only(crowd(board(parts=(part("FID1", AT, bars, package="Fiducial_Cross"),))))
    # the smallest rectangle round the cross stands on its corner: (1.5 + 0.25) / sqrt(2) = 1.237
    assert finding.limit == pytest.approx(1.75 / 2**0.5 / 2, abs=1e-3)
    assert finding.measured == pytest.approx(0.05, abs=0.006)


def test_an_unfilled_pour_is_not_passed_in_silence() -> None:
    area = CopperArea("z", "top", "GND", boundary=rectangle(AT, 20, 20), unfilled=True)
    answer = only(ring(areas=(area,)))
    assert isinstance(answer, NotRun)
    assert answer.missing == "No filled pours near FID1"
    far = dataclasses.replace(area, boundary=rectangle((50, 20), 5, 5))
    assert not ring(areas=(far,))
    assert not ring(areas=(dataclasses.replace(area, layer="bottom"),))


def test_none_present() -> None:
    assert not crowd(board())


def test_moving_a_mark_keeps_the_fingerprint() -> None:
    one = only(ring(mark=fiducial(at=AT, opening=1.1)))
    two = only(ring(mark=fiducial(at=(30, 10), opening=1.1)))
    assert one.fingerprint == two.fingerprint
    assert one.places != two.places


def test_a_stricter_ring_comes_from_the_sheet() -> None:
    strict = dataclasses.replace(SHEET, fiducials=dataclasses.replace(SHEET.fiducials, clear_ring_min_ratio=2.0))
    wide = board(parts=(fiducial(at=AT, opening=3.0),))
    assert not crowd(wide, strict)
    assert only(crowd(board(parts=(fiducial(at=AT),)), strict)).limit == 1.0


# --- measuring against shapely


def test_distances_agree_with_shapely() -> None:
    rng = np.random.default_rng(7)
    starts, ends = rng.uniform(-5, 5, (200, 2)), rng.uniform(-5, 5, (200, 2))
    ends[:5] = starts[:5]
    spot = np.array([0.3, -0.2])
    lines = [shapely.LineString(pair) for pair in zip(starts, ends)]
    theirs = shapely.distance(np.array(lines), shapely.Point(spot))
    assert segment_distances(spot, starts, ends) == pytest.approx(theirs)


def test_containment_agrees_with_shapely() -> None:
    ring_ = pour(rectangle((0, 0), 8, 8).difference(disc((1, 1), 3)).difference(disc((-2, -2), 2))).rings[0]
    solid = rectangle((0, 0), 8, 8).difference(disc((1, 1), 3)).difference(disc((-2, -2), 2))
    spots = np.random.default_rng(3).uniform(-6, 6, (400, 2))
    ours = [winds_round(spot, ring_) for spot in spots]
    assert ours == [bool(solid.contains(shapely.Point(spot))) for spot in spots]
    assert 50 < sum(ours) < 350


@pytest.mark.parametrize(("x", "ring"), [(1.0, None), (0.998, 0.498), (0.9, 0.4)])
def test_a_straight_edge_is_measured_as_it_is(x: float, ring) -> None:
    """A ring of 0.5 mm for a mark of 1 mm: SMEMA fiducial mark standard, summary; exactly that passes."""
    findings = crowd(board(parts=(fiducial("FID1", (x, 20)),)))
    assert [f.measured for f in findings] == ([] if ring is None else [pytest.approx(ring)])


def test_a_round_edge_is_granted_what_its_chords_cost() -> None:
    at_limit = dataclasses.replace(board(parts=(fiducial("FID1", (20, 1)),)), outline=Outline(disc((20, 20), 40)))
    assert not crowd(at_limit)
    nearer = dataclasses.replace(board(parts=(fiducial("FID1", (20, 0.95)),)), outline=Outline(disc((20, 20), 40)))
    assert only(crowd(nearer)).measured == pytest.approx(0.45, abs=0.01)
