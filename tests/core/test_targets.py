# SPDX-License-Identifier: MIT
"""Where a fixture can touch a net: what counts, from which side, how wide, and what covers it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from build import (
    BOTTOM,
    MASK_BOTTOM,
    MASK_TOP,
    TOP,
    board,
    chip,
    graphic,
    hole,
    pad,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_part,
    via,
)
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.targets import Loss, Target, TargetKind, Targets, largest_circle
from lineworthy.model import PadKind, PadShape
from lineworthy.shapes import disc


def targets(net: str = "GND", **items) -> tuple[Target, ...]:
    made = board(**items)
    return Targets(made, Marks(made)).of(net)


def seen(found) -> list[tuple[str, str]]:
    return sorted((target.kind.value, target.side.value) for target in found)


# --- what counts


def test_test_pad_on_its_side_only() -> None:
    found = targets(parts=(probe_pad("TP1", (5, 5)),))
    assert seen(found) == [("test pad", "top")]
    assert found[0].diameter == pytest.approx(1.0)
    assert seen(targets(parts=(probe_pad("TP1", (5, 5), side=BOTTOM),))) == [("test pad", "bottom")]


def test_a_covered_target_counts_as_none() -> None:
    # "no mask on a target": testability guideline of a board manufacturer, 4.1.3 (trade text)
    covered = part("TP1", (5, 5), [round_pad("1", (5, 5), net="GND", mask_margin=None)], package="TestPoint_Pad_D1.0mm")
    assert targets(parts=(covered,)) == ()
    assert targets(vias=(via((5, 5), 1.0, net="GND"),)) == ()


def test_open_via_counts_on_the_sides_where_it_is_open() -> None:
    # an open via may be probed when it is as wide as a pad has to be: the same guideline, 4.1.2
    found = targets(vias=(via((5, 5), 0.9, net="GND", open_on=(BOTTOM,)),))
    assert seen(found) == [("open via", "bottom")]
    assert found[0].diameter == pytest.approx(0.9)


def test_blind_via_counts_only_where_it_reaches_the_surface() -> None:
    blind = dataclasses.replace(via((5, 5), 0.9, net="GND", open_on=(TOP, BOTTOM)), span=("top", "in1"))
    found = targets(vias=(blind,), copper_layers=("top", "in1", "in2", "bottom"))
    assert seen(found) == [("open via", "top")]


def test_lead_counts_where_it_is_soldered() -> None:
    assert seen(targets(parts=(through_part("U1", nets=("GND", "x"), package="DIP-8_W7.62mm"),))) == [
        ("through-hole lead", "bottom")
    ]
    turned = through_part("U1", nets=("GND", "x"), package="DIP-8_W7.62mm", side=BOTTOM)
    assert seen(targets(parts=(turned,))) == [("through-hole lead", "top")]


def test_connector_counts_from_both_sides_when_drilled_and_from_its_own_when_not() -> None:
    assert seen(targets(parts=(through_part("J1", nets=("GND", "x")),))) == [
        ("connector pin", "bottom"),
        ("connector pin", "top"),
    ]
    surface = smd_part("J2", nets=("GND", "x"), package="JST_SH_SM04B")
    assert seen(targets(parts=(surface,))) == [("connector pin", "top")]


def test_contact_fingers_count_on_the_side_they_are_on() -> None:
    fingers = [
        pad(str(n), (n * 2.0, 1.0), (1.5, 5.0), side=side, net="GND", kind=PadKind.CONNECTOR, paste=False)
        for n, side in enumerate((TOP, TOP, BOTTOM, BOTTOM))
    ]
    assert seen(targets(parts=(part("X1", pads=fingers),))) == [
        ("connector pin", "bottom"),
        ("connector pin", "bottom"),
        ("connector pin", "top"),
        ("connector pin", "top"),
    ]


def test_lands_of_surface_parts_never_count() -> None:
    # no probe on parts or leads of surface parts: guideline of an in-circuit tester's maker (trade text)
    assert targets(parts=(chip("R1", (5, 5), nets=("GND", "x")),)) == ()


def test_lands_that_bear_no_part_count() -> None:
    assert seen(targets(parts=(chip("R1", (5, 5), nets=("GND", "x"), fitted=False),))) == [("bare land", "top")]
    jumper = part(
        "JP1",
        pads=[
            pad("1", (5, 5), (1.0, 1.5), net="GND", paste=False),
            pad("2", (6.3, 5), (1.0, 1.5), net="x", paste=False),
        ],
        package="SolderJumper-2_P1.3mm_Open",
        in_placement=False,
    )
    assert seen(targets(parts=(jumper,))) == [("bare land", "top")]
    assert targets(parts=(dataclasses.replace(jumper, reference="U5", package="LGA-2", in_placement=True),)) == ()


def test_mounting_hole_offers_its_ring() -> None:
    ring = dataclasses.replace(hole("H1", (5, 5), 3.2), package="MountingHole_3.2mm_M3_Pad")
    land = dataclasses.replace(
        ring.pads[0],
        copper={"top": disc((5, 5), 6.4), "bottom": disc((5, 5), 6.4)},
        mask={TOP: disc((5, 5), 6.5), BOTTOM: disc((5, 5), 6.5)},
        hole=dataclasses.replace(ring.pads[0].hole, plated=True),
        kind=PadKind.THROUGH,
        size=(6.4, 6.4),
        net="GND",
    )
    for reference in ("H1", "P5"):  # old drawings call them as they call a connector; no plug goes in
        found = targets(parts=(dataclasses.replace(ring, pads=(land,), reference=reference),))
        assert seen(found) == [("bare land", "bottom"), ("bare land", "top")]
        assert found[0].diameter == pytest.approx(1.6, abs=0.01)  # (6.4 - 3.2) / 2


def test_holes_to_fix_it_by_make_no_connector_a_mounting_hole() -> None:
    housed = dataclasses.replace(
        through_part("J1", nets=("GND", "x")), package="DSUB-9_Female_Horizontal_Housed_MountingHolesOffset9.12mm"
    )
    assert seen(targets(parts=(housed,))) == [("connector pin", "bottom"), ("connector pin", "top")]


def test_two_lands_for_a_drop_of_solder_are_no_connector() -> None:
    lands = [
        pad(n, (x, 5), (1.5, 1.5), net="GND", kind=PadKind.CONNECTOR, paste=False) for n, x in (("1", 5), ("2", 7))
    ]
    bridge = part("JP1", pads=lands, package="JP-2_1.5x1.5", in_placement=False)
    assert seen(targets(parts=(bridge,))) == [("bare land", "top")] * 2
    placed = dataclasses.replace(bridge, in_placement=True)
    assert seen(targets(parts=(placed,))) == [("connector pin", "top")] * 2


def test_a_pad_drawn_twice_counts_once() -> None:
    doubled = part("TP1", (5, 5), [round_pad("1", (5, 5), net="GND")] * 2, package="TestPoint_Pad_D1.0mm")
    assert len(targets(parts=(doubled,))) == 1


def test_an_antenna_is_no_place_for_a_probe() -> None:
    lone = part("AE1", (5, 5), [pad("1", (5, 5), (1.0, 1.0), net="GND", paste=False)], package="meander")
    other = chip("R1", (15, 5), nets=("GND", "x"))
    assert targets(parts=(lone, other)) == ()
    assert seen(targets(parts=(dataclasses.replace(lone, reference="W1"), other))) == [("test pad", "top")]


# --- what covers it


def test_a_body_over_a_target_takes_it_away_on_that_side_only() -> None:
    big = smd_part("U1", (5, 5), nets=("x",) * 8, pitch=2.0, span=8.0)
    assert targets(parts=(big, probe_pad("TP1", (5, 5)))) == ()
    assert len(targets(parts=(big, probe_pad("TP1", (5, 5), side=BOTTOM)))) == 1
    assert len(targets(parts=(big, probe_pad("TP1", (15, 5))))) == 1
    assert len(targets(parts=(dataclasses.replace(big, fitted=False), probe_pad("TP1", (5, 5))))) == 1


def test_a_part_without_a_drawn_body_covers_what_its_lands_enclose() -> None:
    bare = dataclasses.replace(smd_part("U1", (5, 5), nets=("x",) * 8, pitch=2.0, span=8.0), body=None)
    assert targets(vias=(via((5, 5), 1.0, net="GND", open_on=(TOP,)),), parts=(bare,)) == ()


def test_a_test_loops_own_body_does_not_cover_it() -> None:
    loop = through_part("TP1", nets=("GND",), package="TestPoint_Loop_D2.6mm")
    assert {target.kind for target in targets(parts=(loop,))} == {TargetKind.DEDICATED}


# --- how wide


@pytest.mark.parametrize("rotation", [0.0, 30.0, 90.0])
@pytest.mark.parametrize(
    ("size", "shape", "diameter"),
    [
        ((0.8, 2.0), PadShape.RECTANGLE, 0.8),
        ((2.0, 0.8), PadShape.OVAL, 0.8),
        ((0.7, 0.7), PadShape.CIRCLE, 0.7),
    ],
)
def test_diameter_is_the_widest_circle(size, shape, diameter, rotation) -> None:
    land = pad("1", (5, 5), size, shape=shape, net="GND", paste=False, rotation=rotation)
    found = targets(parts=(part("TP1", (5, 5), [land], package="TestPoint"),))
    assert found[0].diameter == pytest.approx(diameter, abs=1e-4)


def test_a_narrow_mask_opening_narrows_the_target() -> None:
    land = round_pad("1", (5, 5), 1.0, net="GND", paste=False, mask_margin=-0.2)
    found = targets(parts=(part("TP1", (5, 5), [land], package="TestPoint"),))
    assert found[0].diameter == pytest.approx(0.6, abs=1e-4)


def test_largest_circle_of_odd_shapes() -> None:
    triangle = shapely.Polygon([(0, 0), (3, 0), (0, 4)])
    assert largest_circle(triangle) == pytest.approx(2.0, abs=3e-3)  # incircle of a 3-4-5 triangle has radius 1
    ring = disc((0, 0), 6.0).difference(disc((0, 0), 4.0))
    assert largest_circle(ring) == pytest.approx(1.0, abs=0.01)
    two = shapely.union_all([rectangle((0, 0), 1, 1), rectangle((9, 0), 2, 2)])
    assert largest_circle(two) == pytest.approx(2.0, abs=1e-4)
    assert largest_circle(shapely.Polygon()) == 0.0


# --- which is best


def test_best_target_first_and_a_connector_needs_no_width() -> None:
    # dedicated pad before lead before via: guidelines of a tester's maker and of a fixture user (trade texts)
    assert [kind.value for kind in TargetKind] == [
        "test pad",
        "connector pin",
        "through-hole lead",
        "bare land",
        "open via",
    ]
    made = board(
        parts=(probe_pad("TP1", (5, 5), diameter=0.5), smd_part("J1", (20, 20), nets=("GND", "x"), package="JST_SH")),
        vias=(via((30, 30), 0.9, net="GND", open_on=(BOTTOM,)),),
    )
    found = Targets(made, Marks(made))
    assert found.reach("GND", 0.7).label == "J1 pad 1"
    assert found.reach("GND", 0.5).label == "TP1"
    assert found.reach("GND", 0.7, BOTTOM).kind is TargetKind.VIA
    assert found.reach("GND", 1.0, BOTTOM) is None
    assert found.reach("nowhere", 0.1) is None


def test_exactly_on_the_limit_is_wide_enough() -> None:
    made = board(parts=(probe_pad("TP1", (5, 5), diameter=0.7),))
    found = Targets(made, Marks(made))
    assert found.reach("GND", 0.7) is not None
    assert found.reach("GND", 0.7002) is None


# --- why not, and all of them


def covered_pad(reference: str = "TP1", at=(5, 5), net: str = "GND"):
    return part(reference, at, [round_pad("1", at, net=net, mask_margin=None)], package="TestPoint_Pad_D1.0mm")


def test_why_a_net_cannot_be_reached() -> None:
    big = smd_part("U1", (20, 20), nets=("x",) * 8, pitch=2.0, span=8.0)
    made = board(
        parts=(covered_pad(), probe_pad("TP2", (40, 5), "SMALL", 0.5), big, probe_pad("TP3", (20, 20), "UNDER")),
        vias=(via((50, 30), 0.6, net="VIA", open_on=(BOTTOM,)), via((55, 30), 0.9, net="GOOD", open_on=(BOTTOM,))),
    )
    found = Targets(made, Marks(made))
    assert found.lack("GND", 0.7) == "TP1 is under mask"
    assert found.lack("SMALL", 0.7) == "TP2 is 0.50 mm wide, 0.70 mm needed"
    assert found.lack("SMALL", 0.7, BOTTOM) == "no bare copper"
    assert found.lack("UNDER", 0.7) == "TP3 is under U1"
    assert found.lack("VIA", 0.7) == "open via is 0.60 mm wide, 0.70 mm needed"
    assert found.lack("GOOD", 0.7) == ""
    assert found.lack("GOOD", 0.7, TOP) == found.lack("nowhere", 0.7) == "no bare copper"


def test_lost_pads_are_those_no_side_can_use() -> None:
    made = board(parts=(covered_pad("TP10"), covered_pad("TP2", (9, 9), "A"), probe_pad("TP1", (20, 20))))
    found = Targets(made, Marks(made))
    assert [(lost.label, lost.net, lost.loss, lost.under) for lost in found.lost] == [
        ("TP2", "A", Loss.MASK, None),
        ("TP10", "GND", Loss.MASK, None),
    ]
    assert [target.label for target in found.dedicated] == ["TP1"]
    assert [target.label for target in found.all] == ["TP1"]


def test_dedicated_targets_are_declared_or_called_so() -> None:
    lonely = part("X7", (5, 5), [round_pad("1", (5, 5), net="GND", paste=False)], package="Land")
    made = board(parts=(lonely, probe_pad("TP1", (20, 20)), chip("R1", (30, 30), nets=("GND", "x"))))
    found = Targets(made, Marks(made))
    assert {target.label: target.kind for target in found.all} == {
        "X7": TargetKind.DEDICATED,
        "TP1": TargetKind.DEDICATED,
    }
    assert [target.label for target in found.dedicated] == ["TP1"]


def test_an_opening_drawn_on_the_mask_bares_a_pad() -> None:
    bare = graphic(disc((5, 5), 0.8), MASK_TOP)
    found = targets(parts=(covered_pad(),), graphics=(bare,))
    assert seen(found) == [("test pad", "top")]
    assert found[0].diameter == pytest.approx(0.8, abs=0.01)
    assert targets(parts=(covered_pad(),), graphics=(graphic(disc((5, 5), 0.8), MASK_BOTTOM),)) == ()


def test_same_shapes_elsewhere_measure_the_same() -> None:
    star = shapely.Polygon([(0, 0), (1, 3), (4, 4), (1, 5), (0, 8), (-1, 5), (-4, 4), (-1, 3)])
    moved = shapely.transform(star, lambda points: np.add(points, (11.0, -7.0)))
    assert largest_circle(moved) == pytest.approx(largest_circle(star), abs=1e-5)
    larger = shapely.transform(star, lambda points: points * 1.1)
    assert largest_circle(larger) == pytest.approx(1.1 * largest_circle(star), rel=1e-3)
