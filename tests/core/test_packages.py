# SPDX-License-Identifier: MIT
"""What a part is: by its name, its reference and its pads; how tall it stands and how one knows."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from shapely.affinity import rotate

from build import (
    BOTTOM,
    TOP,
    board,
    chip,
    hole,
    pad,
    part,
    probe_pad,
    rectangle,
    round_pad,
    smd_part,
    through_pad,
    through_part,
)
from lineworthy.knowledge.packages import Family, HeightOrigin, PackageFacts, Packages, Terminals
from lineworthy.knowledge.packages_heights import ipc_height
from lineworthy.knowledge.packages_names import read_name
from lineworthy.model import Mount, PadKind, PadRole, Part
from transform import mirrored, quarter_turns, transform


def facts(item: Part) -> PackageFacts:
    return Packages(board(parts=(item,))).of(item)


def called(package: str, reference: str = "X1", **more) -> PackageFacts:
    return facts(chip(reference, package=package, **more))


# --- names


@pytest.mark.parametrize(
    ("name", "family"),
    [
        ("R_0402_1005Metric", Family.CHIP),
        ("C_0504_1310Metric_Pad0.83x1.28mm_HandSolder", Family.CHIP),
        ("RESC1608X55N", Family.CHIP),
        ("0603-RES", Family.CHIP),
        ("C0402", Family.CHIP),
        ("CP_EIA-3216-18_Kemet-A", Family.MOLDED),
        ("D_SMA", Family.MOLDED),
        ("SODFL1608X65N", Family.MOLDED),
        ("SMA_Amphenol_901-143_Horizontal", Family.CONNECTOR),
        ("SODIMM-200_2.5V_Card_edge", Family.CONNECTOR),
        ("D_MiniMELF", Family.MELF),
        ("CP_Elec_6.3x5.4", Family.CAN),
        ("SOT-23-5", Family.SOT),
        ("SOT95P240X110-3N", Family.SOT),
        ("VSSOP8_SOT765-1", Family.SMALL_OUTLINE),
        ("SOIC127P600X175-8N", Family.SMALL_OUTLINE),
        ("PowerSSO-16-1EP_3.9x4.9mm_P0.5mm", Family.SMALL_OUTLINE),
        ("LQFP-48_7x7mm_P0.5mm", Family.QUAD_FLAT),
        ("QFN-40-1EP_5x5mm_P0.4mm_EP3.6x3.6mm", Family.NO_LEAD),
        ("LFCSP-32-1EP_5x5mm_P0.5mm", Family.NO_LEAD),
        ("BGA96C80P9X16_750X1350X120", Family.ARRAY),
        ("ST_WLCSP-25_2.33x2.24mm_Layout5x5_P0.4mm", Family.ARRAY),
        ("TO-252-2", Family.POWER),
        ("Crystal_SMD_3225-4Pin_3.2x2.5mm", Family.CRYSTAL),
        ("Transformer_Coilcraft_CST1", Family.INDUCTOR),
        ("ESP32-S3-WROOM-1", Family.MODULE),
        ("Texas_SWRA117D_2.4GHz_Left", Family.ANTENNA),
        ("PhoenixContact_MSTBA_2,5_10-G-5,08_1x10_P5.08mm_Horizontal", Family.CONNECTOR),
        ("DSUB-9_Socket_Horizontal_P2.77x2.84mm_Housed_MountingHolesOffset9.12mm", Family.CONNECTOR),
        ("1x01", Family.CONNECTOR),
        ("SW_SPST_B3U-1100P", Family.SWITCH),
        ("Potentiometer_Bourns_3314G_Vertical_Hole", Family.SWITCH),
        ("Relay_SPDT_Finder_40.51", Family.RELAY),
        ("Wuerth_36103505_50x50mm", Family.COVER),
        ("MountingHole_3.2mm_M3", Family.MECHANICAL),
        ("SolderJumper-2_P1.3mm_Open_Pad1.0x1.5mm", Family.MECHANICAL),
        ("OSHW-Logo2_7.3x6mm_Copper", Family.MECHANICAL),
        ("NetTie-2_SMD_Pad0.5mm", Family.MECHANICAL),
    ],
)
def test_a_name_tells_the_family(name: str, family: Family) -> None:
    assert read_name(name).family is family


@pytest.mark.parametrize("name", ["", "   ", "_", "XYZ", "4711", "x" * 100_000, "\x00\u202e<script>", "((((", "[a-"])
def test_a_name_that_says_nothing_or_is_hostile_gives_no_family(name: str) -> None:
    assert read_name(name).family is None


def test_a_name_with_dimensions_is_no_pin_field() -> None:
    assert read_name("L_10.4x10.4_H4.8").family is None
    assert read_name("Foo_3x5mm").family is None
    assert read_name("Foo_2x05").family is Family.CONNECTOR


@pytest.mark.parametrize(
    ("name", "wide", "size"),
    [
        ("R_0402_1005Metric", 1.0, "0402"),
        ("RESC1005X40N", 1.0, "0402"),
        ("CAPC2013X145N", 2.0, "0805"),
        ("C0402", 1.0, "0402"),
        ("C0603", 1.6, "0603"),  # hundredths of an inch ...
        ("C0603", 0.6, "0201"),  # ... and tenths of a millimetre: the lands tell
        ("R_1005_C", 1.0, "0402"),
    ],
)
def test_chip_size_is_read_and_doubtful_codes_are_settled_by_the_lands(name: str, wide: float, size: str) -> None:
    lands = [pad("1", (-wide / 2, 0), (0.3, 0.5)), pad("2", (wide / 2, 0), (0.3, 0.5))]
    got = facts(part("C1", pads=lands, package=name))
    assert (got.family, got.chip_size) == (Family.CHIP, size)


# --- lands


def test_two_equal_lands_are_a_chip_and_their_span_gives_its_size() -> None:
    got = called("house-17", "R5")
    assert (got.family, got.chip_size, got.pitch) == (Family.CHIP, "0603", None)


def rows(count: int, pitch: float, gap: float, land: tuple[float, float], body: tuple[float, float], **more) -> Part:
    half = count // 2
    spots = [((n - (half - 1) / 2) * pitch, side * gap / 2) for side in (-1, 1) for n in range(half)]
    lands = [pad(str(n), spot, land) for n, spot in enumerate(spots, 1)]
    return part("U1", pads=lands, package="mystery", body=rectangle((0, 0), *body), **more)


def test_leads_beside_the_body_and_lands_under_it() -> None:
    gull = rows(8, 1.27, 5.4, (0.6, 1.6), (4.9, 3.9))
    flat = rows(8, 0.5, 2.8, (0.3, 0.8), (3.0, 3.0))
    assert facts(gull).family is Family.SMALL_OUTLINE
    assert facts(flat).family is Family.NO_LEAD
    assert facts(gull).pitch == pytest.approx(1.27)
    assert facts(flat).pitch == pytest.approx(0.5)


def test_pitch_is_measured_and_not_believed() -> None:
    lying = dataclasses.replace(rows(8, 1.27, 5.4, (0.6, 1.6), (4.9, 3.9)), package="SOIC-8_3.9x4.9mm_P0.65mm")
    assert facts(lying).pitch == pytest.approx(1.27)


def test_pads_that_lie_in_one_place_have_no_pitch() -> None:
    stacked = part("U1", pads=[pad(str(n), (0, 0), (1, 1)) for n in range(4)])
    assert facts(stacked).pitch is None


def test_heat_land_and_its_vias_are_no_pitch_and_no_leads() -> None:
    base = rows(8, 0.5, 2.8, (0.3, 0.8), (3.0, 3.0))
    heat = pad("9", (0, 0), (1.6, 1.6))
    vias = [through_pad("9", (x, y), 0.5, 0.2) for x in (-0.4, 0.4) for y in (-0.4, 0.4)]
    got = facts(dataclasses.replace(base, pads=(*base.pads, heat, *vias)))
    assert (got.family, got.pitch, got.leads) == (Family.NO_LEAD, pytest.approx(0.5), ())
    assert not got.through_hole


def grid(side: int, pitch: float = 0.8) -> Part:
    at = [(n - (side - 1) / 2) * pitch for n in range(side)]
    balls = [round_pad(f"{r}{c}", (at[r], at[c]), 0.4) for r in range(side) for c in range(side)]
    return part("U1", pads=balls, package="mystery", body=rectangle((0, 0), side * pitch, side * pitch))


def test_rows_and_columns_of_lands_are_an_array() -> None:
    got = facts(grid(6))
    assert (got.family, got.pitch) == (Family.ARRAY, pytest.approx(0.8))


def test_two_rows_of_holes_are_a_through_hole_ic() -> None:
    spots = [((n - 1.5) * 2.54, y) for y in (-3.81, 3.81) for n in range(4)]
    item = part("U1", pads=[through_pad(str(n), s) for n, s in enumerate(spots)], mount=Mount.THROUGH, package="x")
    got = facts(item)
    assert (got.family, got.through_hole, got.machine_placed) == (Family.THROUGH_IC, True, False)


def test_a_board_on_pins_is_a_module() -> None:
    pins = [through_pad(str(n), (2.54 * n, 0.0)) for n in range(6)]
    item = part("U7", pads=pins, mount=Mount.THROUGH, package="x", body=shapely.box(-2, -2, 16, 40))
    assert facts(item).family is Family.MODULE


def test_the_lands_have_a_veto() -> None:
    assert called("DIP-8_W7.62mm").family is Family.SMALL_OUTLINE
    leaded = dataclasses.replace(through_part("C1"), package="CP_EIA-3216-18")
    assert facts(leaded).family is Family.RADIAL


def test_holes_marks_and_single_lands_are_mechanical() -> None:
    assert facts(hole()).family is Family.MECHANICAL
    assert facts(probe_pad("TP1")).family is Family.MECHANICAL
    assert facts(part("G1", package="whatever")).family is Family.MECHANICAL
    assert facts(dataclasses.replace(probe_pad("TP1"), package="1x01")).family is Family.MECHANICAL


@pytest.mark.parametrize(
    ("reference", "family"),
    [
        ("J1", Family.CONNECTOR),
        ("K2", Family.RELAY),
        ("Y1", Family.CRYSTAL),
        ("SW3", Family.SWITCH),
        ("T1", Family.INDUCTOR),
    ],
)
def test_the_reference_speaks_where_the_name_does_not(reference: str, family: Family) -> None:
    assert facts(smd_part(reference, nets=("",) * 4, package="house-1")).family is family


def test_a_name_like_a_marks_is_no_mark_with_many_lands() -> None:
    """A charger called TP4056 and a converter called TPS65185 are no test points, a CUI SJ-3523 is no solder jumper."""
    assert read_name("TP4056_SOP-8-PP").family is Family.SMALL_OUTLINE
    assert read_name("TP12").family is Family.MECHANICAL
    assert read_name("SJ-3523-SMT").family is None
    assert read_name("SJ_2S").family is Family.MECHANICAL
    assert read_name("SWPA5040S282MT").family is None
    fine = dataclasses.replace(rows(20, 0.5, 4.4, (0.3, 0.9), (5.0, 5.0)), package="Frame_XY")
    assert facts(fine).family is Family.NO_LEAD


def test_sockets_for_surface_packages_are_through_hole() -> None:
    spots = [(2.54 * n, y) for y in (0.0, 7.62) for n in range(8)]
    pins = [through_pad(str(n), spot) for n, spot in enumerate(spots, 1)]
    assert facts(part("U1", pads=pins, mount=Mount.THROUGH, package="PLCC84")).family is Family.THROUGH_IC
    assert facts(dataclasses.replace(through_part("Q1"), package="SOT-23")).family is Family.THROUGH_PART


# --- terminals, fine pitch, by hand


@pytest.mark.parametrize(
    ("name", "reference", "terminals"),
    [
        ("R_0402_1005Metric", "R1", Terminals.END_CAP),
        ("D_MiniMELF", "D1", Terminals.END_CAP),
        ("D_SMA", "D1", Terminals.INWARD_LEAD),
        ("CP_EIA-3216-18", "C1", Terminals.INWARD_LEAD),
        ("CP_Elec_6.3x5.4", "C1", Terminals.FLAT_LEAD),
        ("SODFL1608X65N", "D1", Terminals.FLAT_LEAD),
        ("D_SOD-123F", "D1", Terminals.FLAT_LEAD),
        ("D_SOD-123", "D1", Terminals.GULL_WING),
        ("SOT-23", "Q1", Terminals.GULL_WING),
        ("TO-252-2", "Q1", Terminals.GULL_WING),
        ("SOJ127P760X356-20N", "U1", Terminals.J_LEAD),
        ("PLCC-44_16.6x16.6mm_P1.27mm", "U1", Terminals.J_LEAD),
        ("QFN-40-1EP_5x5mm_P0.4mm_EP3.6x3.6mm", "U1", Terminals.BOTTOM_LAND),
        ("ST_HLGA-10_2x2mm_P0.5mm_LayoutBorder3x2y", "U1", Terminals.BOTTOM_LAND),
        ("BGA256C100P16X16_1700X1700X175N", "U1", Terminals.BALL),
        ("OSCSC254P700X500X180-4N", "Y1", Terminals.CASTELLATION),
    ],
)
def test_terminals_by_name(name: str, reference: str, terminals: Terminals) -> None:
    """The words of IPC-7351B's families and of IPC-A-610's sections on joints (from memory)."""
    assert called(name, reference).terminals is terminals


def test_terminals_by_lands() -> None:
    assert facts(rows(8, 1.27, 5.4, (0.6, 1.6), (4.9, 3.9))).terminals is Terminals.GULL_WING
    assert facts(rows(8, 0.5, 2.8, (0.3, 0.8), (3.0, 3.0))).terminals is Terminals.BOTTOM_LAND
    assert facts(grid(6)).terminals is Terminals.BALL
    assert facts(through_part("R1")).terminals is Terminals.THROUGH_LEAD
    assert facts(hole()).terminals is Terminals.NONE
    at_the_rim = dataclasses.replace(rows(20, 1.27, 18.0, (0.9, 1.5), (25.0, 18.0)), package="ESP32-WROOM")
    assert facts(at_the_rim).terminals is Terminals.CASTELLATION
    under = dataclasses.replace(rows(20, 1.27, 14.0, (0.9, 1.5), (25.0, 18.0)), package="ESP32-WROOM")
    assert facts(under).terminals is Terminals.BOTTOM_LAND
    half_holes = [dataclasses.replace(pad(str(n), (n, 0)), role=PadRole.CASTELLATED) for n in range(4)]
    assert facts(part("M1", pads=half_holes, package="x")).terminals is Terminals.CASTELLATION


def test_terminals_without_a_body_stay_open_where_only_it_could_tell() -> None:
    bare = dataclasses.replace(rows(20, 1.27, 18.0, (0.9, 1.5), (25.0, 18.0)), package="ESP32-WROOM", body=None)
    assert facts(bare).terminals is Terminals.UNKNOWN


def test_fitted_by_hand_is_what_is_fitted_and_not_by_machine() -> None:
    assert facts(through_part("R1")).hand_fitted
    assert not facts(dataclasses.replace(through_part("R1"), fitted=False)).hand_fitted
    assert not called("R_0603_1608Metric").hand_fitted
    assert called("R_0603_1608Metric", in_placement=False).hand_fitted
    assert not facts(hole()).hand_fitted
    assert not facts(probe_pad("TP1")).hand_fitted


def test_a_card_edge_is_not_fitted_and_what_sits_on_the_edge_is_fitted_by_hand() -> None:
    fingers = [dataclasses.replace(pad(str(n), (n, 0)), kind=PadKind.CONNECTOR, paste={}) for n in range(6)]
    edge = facts(part("J1", pads=fingers, package="x"))
    assert (edge.terminals, edge.hand_fitted, edge.machine_placed) == (Terminals.NONE, False, False)
    both = [pad(str(n), (n, 0), side=side) for side in (TOP, BOTTOM) for n in range(6)]
    slid_on = facts(part("J1", pads=both, package="x"))
    assert (slid_on.hand_fitted, slid_on.machine_placed) == (True, False)


# --- what follows from it


def test_ceramic_capacitors_are_chips_called_c_and_not_polarised() -> None:
    assert called("C_0805_2012Metric", "C1").ceramic_capacitor
    assert called("R_0805_2012Metric", "C1").ceramic_capacitor  # the reference wins over a borrowed footprint
    assert not called("R_0805_2012Metric", "R1").ceramic_capacitor
    assert not called("CP_EIA-3216-18", "C1").ceramic_capacitor
    assert not called("CAPCP3216X180N", "C1").ceramic_capacitor


def test_polarised_two_terminal_parts() -> None:
    assert called("LED_0603_1608Metric", "D1").polarised
    assert called("CP_EIA-3216-18", "C1").polarised
    assert called("house", "D7").polarised
    assert called("BatteryHolder_1x18650", "BT1").polarised
    assert not called("DO-214AB", "F1").polarised  # a resettable fuse in a diode's package
    assert not called("C_0603_1608Metric", "C1").polarised
    assert not facts(dataclasses.replace(smd_part("D1", nets=("",) * 4), package="D_QFN")).polarised


def test_machine_placed_means_paste_fitted_and_in_the_placement_list() -> None:
    assert called("R_0603_1608Metric").machine_placed
    assert not called("R_0603_1608Metric", fitted=False).machine_placed
    assert not called("R_0603_1608Metric", in_placement=False).machine_placed
    assert not facts(through_part("J1")).machine_placed
    bare = part("J1", pads=[pad(str(n), (n, 0), 0.6, kind=PadKind.CONNECTOR, paste=False) for n in range(4)])
    assert not facts(bare).machine_placed


def test_body_is_the_drawing_or_the_hull_of_the_lands() -> None:
    drawn = chip("R1")
    assert facts(drawn).body.equals(drawn.body)
    undrawn = dataclasses.replace(drawn, body=None)
    assert facts(undrawn).body.area == pytest.approx(2.4 * 0.95)
    assert facts(part("X1")).body.is_empty


@pytest.mark.parametrize("side", [TOP, BOTTOM])
@pytest.mark.parametrize("rotation", [0, 30, 90, 180, 270])
def test_turning_a_part_changes_nothing(rotation: float, side) -> None:
    turned = called("house", "R1", rotation=rotation, side=side)
    assert (turned.family, turned.chip_size) == (Family.CHIP, "0603")


@pytest.mark.parametrize("motion", [quarter_turns(1), quarter_turns(3), mirrored()])
def test_turning_the_board_changes_nothing(motion) -> None:
    items = (grid(6), rows(8, 1.27, 5.4, (0.6, 1.6), (4.9, 3.9)), chip("C1", (9, 9), rotation=30), through_part("J2"))
    before = board(parts=items)
    after = transform(before, motion)
    ours, theirs = Packages(before), Packages(after)
    for one, two in zip(before.parts, after.parts):
        a, b = ours.of(one), theirs.of(two)
        assert (a.family, a.pitch, a.chip_size, a.machine_placed) == (b.family, b.pitch, b.chip_size, b.machine_placed)


def test_two_parts_of_one_package_do_not_share_their_bodies() -> None:
    near, far = chip("R1", (1, 1)), chip("R2", (20, 1))
    known = Packages(board(parts=(near, far)))
    assert known.of(near).body.centroid.x == pytest.approx(1)
    assert known.of(far).body.centroid.x == pytest.approx(20)
    assert known.of(near) is known.of(near)


# --- heights


# IPC-7351B naming convention for land patterns, as listed in a public table of its syntax; starred in that table or
# seen in public files are RESC1608X55N, CAPC2012X70M, SOIC127P600X175-8N and QFP50P1200X1200X160-64N.
@pytest.mark.parametrize(
    ("name", "height"),
    [
        ("RESC1608X55N", 0.55),
        ("CAPC2012X135N", 1.35),
        ("CAPC2012X70M", 0.70),
        ("CAPCP3216X180N", 1.80),
        ("CAPMP7343X310N", 3.10),
        ("CAPM3528X210N", 2.10),
        ("CAPAE660X540N", 5.40),
        ("CAPCAV50P200X125X85-8N", 0.85),
        ("INDC2012X125N", 1.25),
        ("INDM4532X340N", 3.40),
        ("INDM125125X600N", 6.00),
        ("INDP2520X200N", 2.00),
        ("DIOM5226X230N", 2.30),
        ("DIOC1006X50N", 0.50),
        ("DIOMELF3515N", 1.5),
        ("RESMELF3614N", 1.4),
        ("SOD3716X135N", 1.35),
        ("SODFL1608X70N", 0.70),
        ("SOT95P237X112-3N", 1.12),
        ("SOT230P700X180-4N", 1.80),
        ("SOTFL50P160X60-3N", 0.60),
        ("TO228P990X238-3N", 2.38),
        ("SOIC127P600X175-8N", 1.75),
        ("SOP65P780X200-16N", 2.00),
        ("SSOP50P810X200-30N", 2.00),
        ("TSOP65P640X120-16N", 1.20),
        ("TSSOP50P490X110-10N", 1.10),
        ("SOJ127P760X356-20N", 3.56),
        ("SON50P300X300X80-11N", 0.80),
        ("DFN200X200X75-6N", 0.75),
        ("QFP80P1720X1720X245-44N", 2.45),
        ("TSQFP50P900X900X160-48N", 1.60),
        ("QFP50P1200X1200X160-64N", 1.60),
        ("CQFP50P3040X3040X300-196N", 3.00),
        ("QFN50P500X500X100-33N", 1.00),
        ("LCC127P890X890X200-20N", 2.00),
        ("PLCC127P1244X1244X457-28N", 4.57),
        ("BGA256C100P16X16_1700X1700X175N", 1.75),
        ("BGA96C80X80P9X16_900X1400X120N", 1.20),
        ("CGA127P20X20X400-400N", 4.00),
        ("LGA16R50P5X5_300X300X100N", 1.00),
        ("CFP127P1000X230-14N", 2.30),
        ("XTAL1150X480X430N", 4.30),
        ("OSCSC254P700X500X180-4N", 1.80),
        ("OSCCC320X250X120N", 1.20),
        ("LEDM3528X190N", 1.90),
        ("FUSM6125X270N", 2.70),
        ("RESCAV80P320X160X60-8N", 0.60),
        ("RESM6332X280N", 2.80),
        ("DIP762W52P254L1000H533Q8N", 5.33),
        ("CAPRD200W50D500H1150N", 11.50),
        ("HDRV10W64P254_1X10_2540X254X854N", 8.54),
        ("RESAD1000W60L630D250N", 2.50),
    ],
)
def test_land_pattern_names_hold_the_height(name: str, height: float) -> None:
    assert ipc_height(name) == pytest.approx(height)
    assert ipc_height(name.lower()) == pytest.approx(height)


@pytest.mark.parametrize(
    "name", ["SOT89", "SOT-23-5", "SOIC-8_3.9x4.9mm_P1.27mm", "RESC1608X", "QFN50P500X500X0-9N", ""]
)
def test_names_without_a_height_give_none(name: str) -> None:
    assert ipc_height(name) is None


@pytest.mark.parametrize(
    ("name", "reference", "height", "origin"),
    [
        ("CP_EIA-3216-18_Kemet-A", "C1", 1.8, HeightOrigin.NAME_CODE),  # from memory: EIA-535BAAC case codes
        ("CP_EIA-7343-31_Kemet-D", "C1", 3.1, HeightOrigin.NAME_CODE),
        ("CP_Elec_6.3x7.7", "C1", 7.7, HeightOrigin.LIBRARY_NAME),  # the editor's footprint generator, CP_Elec_round
        ("CP_Elec_16x22", "C1", 22.0, HeightOrigin.LIBRARY_NAME),
        ("C_Radial_D5.0mm_H7.0mm_P2.00mm", "C1", 7.0, HeightOrigin.LIBRARY_NAME),
        ("RotaryEncoder_Alps_EC11E-Switch_Vertical_H20mm", "SW1", 20.0, HeightOrigin.LIBRARY_NAME),
        ("R_0603_1608Metric", "R1", 0.55, HeightOrigin.TABLE),  # thick-film data sheet: 0.45 + 0.10
        ("R_0402_1005Metric", "R1", 0.40, HeightOrigin.TABLE),  # thick-film data sheet: 0.35 + 0.05
        ("C_0402_1005Metric", "C1", 0.55, HeightOrigin.TABLE),  # ceramic capacitor approval sheet
        ("C_1206_3216Metric", "C1", 1.90, HeightOrigin.TABLE),  # ceramic capacitor approval sheet
        ("SOT-223-3_TabPin2", "U1", 1.80, HeightOrigin.TABLE),  # list of surface-mount packages
        ("LQFP-48_7x7mm_P0.5mm", "U1", 1.60, HeightOrigin.TABLE),  # from memory: JEDEC MS-026
        ("D_SMC", "D1", 2.62, HeightOrigin.TABLE),  # package page citing DO-214AB
        ("D_SOD-323", "D1", 1.17, HeightOrigin.TABLE),  # diode data sheet
        ("PLCC-44_16.6x16.6mm_P1.27mm", "U1", 4.57, HeightOrigin.TABLE),  # from memory: JEDEC MS-018
        ("VQFN-32-1EP_5x5mm_P0.5mm", "U1", 1.00, HeightOrigin.TABLE),  # from memory: JEDEC JESD30, here and below
        ("Texas_X2SON-5_0.8x0.8mm_P0.48mm", "U1", 0.40, HeightOrigin.TABLE),
        ("TFBGA-169_9x9mm_Layout13x13_P0.65mm", "U1", 1.20, HeightOrigin.TABLE),
        ("LFBGA-100_10x10mm_Layout10x10_P0.8mm", "U1", 1.70, HeightOrigin.TABLE),
        ("UFBGA-100_7x7mm_Layout12x12_P0.5mm", "U1", 0.65, HeightOrigin.TABLE),
        ("PinHeader_2x05_P1.00mm_Vertical", "J1", 4.80, HeightOrigin.TABLE),  # the editor's 3D library
        ("JST_SH_SM04B-SRSS-TB_1x04-1MP_P1.00mm_Horizontal", "J1", 3.0, HeightOrigin.TABLE),  # 2.95 by its maker
        ("L_0603_1608Metric", "L1", None, HeightOrigin.UNKNOWN),
        ("BGA-676_27.0x27.0mm_Layout26x26_P1.0mm", "U1", None, HeightOrigin.UNKNOWN),
        ("Foo_Bar", "U1", None, HeightOrigin.UNKNOWN),
    ],
)
def test_heights_and_where_they_come_from(name: str, reference: str, height, origin: HeightOrigin) -> None:
    got = called(name, reference)
    assert got.height_origin is origin
    assert got.height == (None if height is None else pytest.approx(height))


@pytest.mark.parametrize(
    ("name", "height"),
    [
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal", 2.5),  # lies on the board: its diameter
        ("R_Axial_Power_L20.0mm_W6.4mm_P22.40mm", 6.4),
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P5.08mm_Vertical", None),  # stands: its length and a bend nobody states
        ("LED_Rectangular_W5.0mm_H2.0mm", None),  # the two sides on the board
    ],
)
def test_through_hole_names(name: str, height) -> None:
    assert facts(dataclasses.replace(through_part("R1"), package=name)).height == height


@pytest.mark.parametrize(
    ("text", "height"),
    [
        ("Inductor, 6.0x4.0x4.5mm, shielded", 4.5),
        ("Inductor, 4x6x2.8 mm", 2.8),
        ("Resistor, length*width*height=6*4*3mm^3", 3.0),
        ("Reel of 9x9x4.5mm", None),  # not the sides of this body
        ("Inductor, Radial, pin pitch=6.00mm, diameter=12.0mm, height=21mm", 21.0),
        ("Tactile switch, 12x12 mm, H4.3 mm, round actuator", 4.3),
        ("Stacking Height 1.500000mm", None),  # of two connectors together
        ("height=0mm", None),
        ("1" * 500 + "x" * 500, None),
    ],
)
def test_descriptions_of_library_items_tell_heights(text: str, height) -> None:
    item = rows(4, 2.0, 4.0, (1.0, 1.6), (6.0, 4.0))
    got = facts(
        dataclasses.replace(item, package="L_Maker_4711", description=text, rotation=90.0, body=rotate(item.body, 90))
    )
    assert got.height == height
    assert got.height_origin is (HeightOrigin.LIBRARY_NAME if height else HeightOrigin.UNKNOWN)


def test_a_socket_is_not_as_tall_as_what_it_holds() -> None:
    spots = [(2.54 * n, y) for y in (0.0, 7.62) for n in range(8)]
    pins = [through_pad(str(n), spot) for n, spot in enumerate(spots, 1)]
    assert facts(part("U1", pads=pins, mount=Mount.THROUGH, package="PLCC84")).height is None
    assert facts(part("U1", pads=pins, mount=Mount.THROUGH, package="DIP-16_W7.62mm")).height == 5.33


@pytest.mark.parametrize(
    ("field", "text", "height"),
    [
        ("Height", "2.5mm", 2.5),
        ("HEIGHT", "2,5", 2.5),
        ("Height (mm)", "3", 3.0),
        ("Max Height", "4.1 mm", 4.1),
        ("Height", "tall", 0.55),
        ("Height", "-3", 0.55),
        ("Height", "9" * 400, 0.55),
        ("Heightened", "7", 0.55),
    ],
)
def test_a_stated_height_wins_where_it_is_one(field: str, text: str, height: float) -> None:
    assert called("R_0603_1608Metric", "R1", fields={field: text}).height == pytest.approx(height)


def test_the_documents_own_height_wins_over_all() -> None:
    got = called("RESC1608X55N", "R1", height=0.7, fields={"Height": "2 mm"})
    assert (got.height, got.height_origin) == (0.7, HeightOrigin.FIELD)
    assert called("RESC1608X55N", "R1", height=math.nan).height == pytest.approx(0.55)
