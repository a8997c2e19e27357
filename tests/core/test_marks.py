# SPDX-License-Identifier: MIT
"""Every mark and hole is taken for what it is, whatever it is called."""

from __future__ import annotations

import dataclasses

import pytest
import shapely

from asking import only
from build import (
    BOTTOM,
    COPPER_TOP,
    MASK_BOTTOM,
    MASK_TOP,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    outline,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_pad,
    through_part,
    track,
    via,
)
from lineworthy.knowledge.holes import HoleUse
from lineworthy.knowledge.looks import Basis
from lineworthy.knowledge.marks import Marks
from lineworthy.model import Outline, PadKind, PadRole
from lineworthy.shapes import disc

# --- declared fiducials


def test_pad_property_declares_a_mark_whatever_its_name() -> None:
    mark = only(Marks(board(parts=(fiducial("M1", (5, 5), package="SomeThing"),))).fiducials)
    assert (mark.basis, mark.at, mark.side, mark.diameter) == (
        Basis.PROPERTY,
        pytest.approx((5, 5)),
        TOP,
        pytest.approx(1.0),
    )
    assert mark.label == "M1"
    assert mark.evidence == "its pad is declared fiducial-global"
    assert mark.is_open
    assert not mark.local


def test_local_property_makes_a_local_mark() -> None:
    assert only(Marks(board(parts=(fiducial(at=(5, 5), role=PadRole.FIDUCIAL_LOCAL),))).fiducials).local


@pytest.mark.parametrize("package", ["Fiducial_1mm_Mask2mm", "FIDUCIAL_TOP_C100-200", "FID-1MM", "my_fiducial"])
def test_library_name_declares_a_mark(package: str) -> None:
    mark = only(Marks(board(parts=(fiducial("FTG6", (5, 5), package=package, role=PadRole.NONE),))).fiducials)
    assert (mark.basis, mark.evidence) == (Basis.NAME, f"called {package}")


@pytest.mark.parametrize("reference", ["FID3", "fid1", "Fiducial2", "FID_4"])
def test_reference_declares_a_mark(reference: str) -> None:
    mark = only(Marks(board(parts=(fiducial(reference, (5, 5), package="X", role=PadRole.NONE),))).fiducials)
    assert mark.basis is Basis.NAME


@pytest.mark.parametrize("package", ["FIDDLE_8", "R_0603"])
def test_other_names_do_not(package: str) -> None:
    assert not Marks(board(parts=(chip("R1", (5, 5), package=package),))).fiducials


def test_something_named_fiducial_may_be_just_a_hole() -> None:
    marks = Marks(board(parts=(hole("FID1", (5, 5), package="Fiducial_hole"),)))
    assert not marks.fiducials
    assert only(marks.impostors).evidence == "a hole"
    assert only(marks.holes).diameter == pytest.approx(3.2)


def test_named_fiducial_with_paste_is_an_impostor() -> None:
    item = part("FID1", (5, 5), (round_pad(at=(5, 5)),), package="Fiducial_1mm")
    marks = Marks(board(parts=(item,)))
    assert not marks.fiducials
    assert only(marks.impostors).evidence == "copper takes paste"


def test_a_soldered_lead_declared_fiducial_is_neither_mark_nor_impostor() -> None:
    """The editor's library declares two leads of a 7-lead power package as local fiducials; they take paste."""
    item = smd_part("U1", (20, 20), nets=["a"] * 8)
    lead = dataclasses.replace(item.pads[0], role=PadRole.FIDUCIAL_LOCAL)
    marks = Marks(board(parts=(dataclasses.replace(item, pads=(lead, *item.pads[1:])),)))
    assert not marks.fiducials
    assert not marks.impostors


def test_a_covered_mark_is_a_mark_that_is_not_open() -> None:
    bare = fiducial(at=(5, 5))
    covered = dataclasses.replace(bare, pads=(dataclasses.replace(bare.pads[0], mask={}),))
    assert not only(Marks(board(parts=(covered,))).fiducials).is_open


def test_an_opening_drawn_over_a_mark_counts() -> None:
    bare = fiducial(at=(5, 5))
    covered = dataclasses.replace(bare, pads=(dataclasses.replace(bare.pads[0], mask={}),))
    drawn = graphic(disc((5, 5), 2.0), MASK_TOP)
    assert only(Marks(board(parts=(covered,), graphics=(drawn,))).fiducials).is_open
    wrong_side = graphic(disc((5, 5), 2.0), MASK_BOTTOM)
    assert not only(Marks(board(parts=(covered,), graphics=(wrong_side,))).fiducials).is_open


def test_one_pad_on_both_faces_is_a_mark_on_each() -> None:
    land = fiducial(at=(5, 5)).pads[0]
    copper, opening = land.copper["top"], land.mask[TOP]
    both = dataclasses.replace(land, copper={"top": copper, "bottom": copper}, mask={TOP: opening, BOTTOM: opening})
    marks = Marks(board(parts=(part("FID1", (5, 5), (both,)),)))
    assert {mark.side for mark in marks.fiducials} == {TOP, BOTTOM}
    assert only(marks.fiducials_on(BOTTOM)).side is BOTTOM


def test_a_cross_of_two_lands_is_one_mark() -> None:
    from build import pad

    bars = [pad(at=(5, 5), size=(1.5, 0.25), paste=False, rotation=turn, uid=f"bar{turn}") for turn in (0, 90)]
    mark = only(Marks(board(parts=(part("FID1", (5, 5), bars, package="Fiducial_Cross"),))).fiducials)
    assert mark.diameter == pytest.approx(1.52, abs=0.005)  # corner to corner of 1.5 x 0.25
    assert len(mark.pads) == 2


def test_three_marks_in_one_part_are_three() -> None:
    lands = [round_pad(at=(x, 5), paste=False, role=PadRole.NONE, uid=f"m{x}") for x in (5, 25, 45)]
    marks = Marks(board(parts=(part("FID1", (5, 5), lands, package="Fiducials_x3"),)))
    assert [mark.at[0] for mark in marks.fiducials] == pytest.approx([5, 25, 45])


def test_marks_beyond_the_edge_are_not_on_the_board() -> None:
    assert not Marks(board(parts=(fiducial(at=(-5, 5)),))).fiducials
    no_outline = dataclasses.replace(board(parts=(fiducial(at=(-5, 5)),)), outline=Outline(shapely.Polygon()))
    assert len(Marks(no_outline).fiducials) == 1


# --- undeclared look-alikes


def lone_land(reference: str = "REF**", at=(5, 5), **more):
    options = {"mask_margin": 0.5, "paste": False, **more}
    return part(reference, at, (round_pad("", at, **options),), package="dot")


def test_unnamed_round_bare_copper_is_taken_for_a_mark() -> None:
    mark = only(Marks(board(parts=(lone_land(),))).lookalikes)
    assert mark.sure
    assert mark.basis is Basis.LOOKS
    assert mark.evidence == (
        "undeclared, but round bare copper of 1.00 mm in a 2.00 mm mask opening, no paste, no hole, not wired up"
    )


def test_a_tight_opening_makes_it_unsure() -> None:
    assert not only(Marks(board(parts=(lone_land(mask_margin=0.05),))).lookalikes).sure


def test_a_land_alone_on_its_net_is_still_not_wired() -> None:
    assert Marks(board(parts=(lone_land(net="unconnected-(H1-Pad1)"),))).lookalikes


def test_not_a_mark_with_paste_hole_net_cover_or_shape() -> None:
    from build import pad

    wired = lone_land(net="GND")
    tracked = board(parts=(wired,), tracks=(track((5, 5), (9, 9), net="GND"),))
    assert not Marks(tracked).fiducials
    assert not Marks(board(parts=(wired, lone_land("X2", (9, 9), net="GND")))).fiducials
    assert not Marks(board(parts=(lone_land(paste=True),))).fiducials
    assert not Marks(board(parts=(lone_land(mask_margin=None),))).fiducials
    assert not Marks(board(parts=(lone_land(diameter=5.0),))).fiducials
    assert not Marks(board(parts=(part("X1", (5, 5), (through_pad(at=(5, 5)),)),))).fiducials
    oblong = part("X1", (5, 5), (pad(at=(5, 5), size=(1.0, 1.6), paste=False, mask_margin=0.5),))
    assert not Marks(board(parts=(oblong,))).fiducials


def test_a_bare_square_in_a_wide_opening_may_be_a_mark() -> None:
    from build import pad

    square = part("M1", (5, 5), (pad(at=(5, 5), paste=False, mask_margin=0.5),))
    assert not only(Marks(board(parts=(square,))).fiducials).sure
    tight = part("M1", (5, 5), (pad(at=(5, 5), paste=False, mask_margin=0.05),))
    assert not Marks(board(parts=(tight,))).fiducials


@pytest.mark.parametrize("package", ["Passermarke_1mm", "Alignment-Mark", "registration_mark_1mm", "CameraTarget"])
def test_a_mark_by_other_names(package: str) -> None:
    land = dataclasses.replace(lone_land("P1", net="GND"), package=package)
    mark = only(Marks(board(parts=(land,))).fiducials)
    assert mark.basis is Basis.NAME
    assert mark.sure


@pytest.mark.parametrize(("reference", "package"), [("TP1", "dot"), ("X1", "TestPoint_Pad_D1.0mm")])
def test_an_unwired_test_point_is_no_mark(reference: str, package: str) -> None:
    item = dataclasses.replace(lone_land(), reference=reference, package=package)
    marks = Marks(board(parts=(item,)))
    assert not marks.fiducials
    assert marks.is_test_point(item.pads[0])


def test_a_connector_of_round_bare_lands_is_no_row_of_marks() -> None:
    lands = [round_pad(str(n), (5 + 1.27 * n, 5), 0.787, paste=False, uid=f"p{n}") for n in range(6)]
    assert not Marks(board(parts=(part("J1", (5, 5), lands),))).fiducials


def test_copper_and_mask_drawn_as_graphics_make_a_mark() -> None:
    copper, opening = graphic(disc((5, 5), 1.0), COPPER_TOP, "c"), graphic(disc((5, 5), 2.0), MASK_TOP, "m")
    mark = only(Marks(board(graphics=(copper, opening))).lookalikes)
    assert mark.diameter == pytest.approx(1.0)
    assert mark.evidence == "a copper disc of 1.00 mm drawn in a 2.00 mm mask opening"
    assert not Marks(board(graphics=(copper,))).fiducials, "covered"
    tight = graphic(disc((5, 5), 1.1), MASK_TOP, "m")
    assert not Marks(board(graphics=(copper, tight))).fiducials
    on_land = board(graphics=(copper, opening), parts=(chip("R1", (5, 5)),))
    assert not Marks(on_land).fiducials
    ring = graphic(disc((5, 5), 1.0).difference(disc((5, 5), 0.6)), COPPER_TOP, "c")
    assert not Marks(board(graphics=(ring, opening))).fiducials


# --- test points


@pytest.mark.parametrize(
    ("item", "basis"),
    [
        (probe_pad("X1", (5, 5)), Basis.NAME),
        (dataclasses.replace(probe_pad("TP7", (5, 5)), package="dot"), Basis.NAME),
        (dataclasses.replace(probe_pad("X1", (5, 5)), package="dot"), Basis.LOOKS),
        (part("X1", (5, 5), (round_pad(at=(5, 5), role=PadRole.TEST_POINT, net="GND"),)), Basis.PROPERTY),
    ],
    ids=["library name", "reference", "looks", "property"],
)
def test_test_points(item, basis: Basis) -> None:
    layout = board(parts=(item,), tracks=(track((5, 5), (9, 9), net="GND"),))
    point = only(Marks(layout).test_points)
    assert (point.basis, point.net, point.sides, point.diameter) == (basis, "GND", {TOP}, 1.0)


def test_a_transformer_called_tp1_is_no_test_point() -> None:
    assert not Marks(board(parts=(smd_part("TP1", (20, 20), nets=["a"] * 8),))).test_points


def test_drilled_test_points_open_on_both_sides() -> None:
    item = part("TP1", (5, 5), (through_pad(at=(5, 5), net="GND"),), package="TestPoint_THTPad_D1.5mm_Drill0.7mm")
    assert only(Marks(board(parts=(item,))).test_points).sides == {TOP, BOTTOM}


def test_a_component_is_no_test_point() -> None:
    layout = board(parts=(chip("R1", (5, 5), nets=("GND", "a")), through_part("J1", (15, 5), nets=("GND", "a"))))
    assert not Marks(layout).test_points


# --- holes


def test_unplated_mounting_hole() -> None:
    found = only(Marks(board(parts=(hole(),))).holes)
    assert (found.use, found.plated, found.diameter) == (HoleUse.MOUNTING, False, pytest.approx(3.2))


def test_a_bare_hole_without_a_name_is_one_too() -> None:
    found = only(Marks(board(parts=(hole("REF**", package="thing"),))).holes)
    assert found.basis is Basis.LOOKS


def test_tooling_hole_by_name() -> None:
    assert only(Marks(board(parts=(hole(package="ToolingHole_2mm", drill=2.0),))).holes).use is HoleUse.TOOLING


def test_plated_mounting_hole_with_stitched_vias_counts_once() -> None:
    pads = [through_pad("1", (5, 5), 6.4, 3.2, net="GND")]
    pads += [through_pad("1", (5 + dx, 5), 0.8, 0.5, net="GND", uid=f"v{dx}") for dx in (-2.4, 2.4)]
    item = part("H1", (5, 5), pads, package="MountingHole_3.2mm_M3_Pad_Via")
    found = only(Marks(board(parts=(item,))).holes)
    assert (found.plated, found.diameter) == (True, pytest.approx(3.2))
    unnamed = dataclasses.replace(item, package="screw")
    assert only(Marks(board(parts=(unnamed,))).holes).evidence == "called H1"


def test_a_wide_via_is_a_mounting_hole_and_a_small_one_is_not() -> None:
    found = only(Marks(board(vias=(via((5, 5), 5.0, 3.0), via((9, 9))))).holes)
    assert found.via is not None
    assert found.diameter == 3.0


def test_pegs_and_leads_of_components_are_no_mounting_holes() -> None:
    peg = through_pad("", (9, 5), 2.5, 2.5, plated=False, uid="peg")
    item = part("J1", (5, 5), (through_pad("1", (5, 5), net="a"), peg), package="USB_C")
    assert not Marks(board(parts=(item, through_part("J2", (20, 20))))).holes


@pytest.mark.parametrize(
    "package", ["SolderWire-1.5sqmm_1x01_D1.7mm_OD3mm", "Banana_Jack_1Pin", "TestPoint_Loop_D3.80mm"]
)
def test_one_wide_hole_can_be_a_component(package: str) -> None:
    item = part("J1", (5, 5), (through_pad("1", (5, 5), 5.0, 2.8, net="a"),), package=package)
    assert not Marks(board(parts=(item,))).holes


def test_a_connector_with_mounting_holes_in_its_name() -> None:
    pads = [through_pad(str(n), (5 + 2.77 * n, 5), net=f"n{n}", uid=f"p{n}") for n in range(4)]
    pads.append(through_pad("", (25, 5), 4.0, 3.2, uid="screw"))
    item = part("J1", (5, 5), pads, package="DSUB-9_Female_Horizontal_MountingHolesOffset9.12mm")
    assert not Marks(board(parts=(item,))).holes


def test_round_cutouts_count_and_slots_do_not() -> None:
    cut = outline(60, 40, cutouts=(disc((10, 10), 3.0), rectangle((30, 20), 3, 3)))
    found = only(Marks(board(outline=cut)).holes)
    assert found.diameter == pytest.approx(3.0)
    assert found.at == pytest.approx((10, 10))


# --- queries


def test_asking_by_pad() -> None:
    mark, probe, chip_part = fiducial(at=(5, 5)), probe_pad("TP1", (15, 5)), chip("R1", (25, 5))
    marks = Marks(board(parts=(mark, probe, chip_part)))
    assert marks.is_fiducial(mark.pads[0])
    assert not marks.is_fiducial(probe.pads[0])
    assert marks.is_test_point(probe.pads[0])
    assert not marks.is_test_point(chip_part.pads[0])


def test_nothing_on_an_empty_board() -> None:
    marks = Marks(board())
    assert (marks.fiducials, marks.test_points, marks.holes, marks.impostors) == ((), (), (), ())


def test_edge_fingers_are_neither() -> None:
    fingers = [round_pad(str(n), (5 + 3 * n, 5), paste=False, kind=PadKind.CONNECTOR, net=f"n{n}") for n in range(4)]
    marks = Marks(board(parts=(part("J1", (5, 5), fingers), chip("R1", (30, 30), nets=("n0", "n1")))))
    assert not marks.fiducials
    assert not marks.test_points
