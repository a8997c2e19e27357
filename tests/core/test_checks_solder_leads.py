# SPDX-License-Identifier: MIT
"""Holes for leads whose size is known."""

from __future__ import annotations

import dataclasses

import pytest

from build import board, through_pad, through_part
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_leads import hole_misfits_lead
from lineworthy.knowledge.leadsizes import hole_for, land_for, lead_of
from lineworthy.knowledge.packages import Packages
from lineworthy.model import PadRole

SHEET = built_in()
AXIAL = "RESAD1050W60L630D230"  # an IPC land-pattern name: wire of 0.60 mm


def asked(*parts):
    made = board(parts=parts)
    return list(hole_misfits_lead.ask(board=made, sheet=SHEET, packages=Packages(made)))


def leaded(package: str, drill: float, reference="R1", at=(10, 10), **more):
    return through_part(reference, at, package=package, drill=drill, diameter=drill + 0.7, **more)


# --- outside values


def test_square_pin_of_0_64_mm() -> None:
    """Diagonal 0.905; holes of level A, B, C 1.155, 1.105, 1.055 mm (IPC-2222, as quoted in a designer's notes)."""
    size = lead_of(leaded("PinHeader_1x02_P2.54mm_Vertical", 1.0))
    assert size.most == pytest.approx(0.905, abs=0.001)
    assert not size.round
    holes = [hole_for(size.most, room) for room in (0.25, 0.20, 0.15)]
    assert holes == pytest.approx([1.155, 1.105, 1.055], abs=0.002)
    lands = [land_for(hole, allowance) for hole, allowance in zip(holes, (0.60, 0.50, 0.40))]
    assert lands == pytest.approx([1.855, 1.705, 1.555], abs=0.002)


def test_round_lead_of_0_50_mm() -> None:
    """Holes 0.75, 0.70, 0.65, lands 1.45, 1.30, 1.15 mm (the same notes)."""
    holes = [hole_for(0.50, room) for room in (0.25, 0.20, 0.15)]
    assert holes == pytest.approx([0.75, 0.70, 0.65])
    assert [land_for(h, a) for h, a in zip(holes, (0.60, 0.50, 0.40))] == pytest.approx([1.45, 1.30, 1.15])
    assert SHEET.solder.lead_hole_room_mm == 0.20


@pytest.mark.parametrize(
    ("package", "most"),
    [
        ("CAPRD200W52D550H1050B", 0.52),
        ("RESAD1050W60L630D230", 0.60),
        ("HDRV4W64P254_2X2_508X508X838B", 0.905),
        ("PinHeader_2x05_P1.27mm_Vertical", 0.566),
        ("IDC-Header_2x05_P2.54mm_Vertical", 0.905),
        ("D_DO-41_SOD81_P10.16mm_Horizontal", 0.86),
        ("DIP-14_W7.62mm_LongPads", 0.59),
        ("LED_D5.0mm", 0.71),
        ("CP_Radial_D6.3mm_P2.50mm", 0.5),
        ("CP_Radial_D10.0mm_P5.00mm", 0.6),
        ("CP_Radial_D16.0mm_P7.50mm", 0.8),
        ("SOIC-8_3.9x4.9mm_P1.27mm", None),
        ("PinSocket_1x02_P2.54mm_Vertical", None),
        ("TO-220-3_Vertical", 0.89),
        ("TO-220F-2_Horizontal_TabUp", 0.89),
        ("TO-220-5_P3.4x3.7mm_StaggerOdd_Lead3.8mm_Vertical", None),
        ("TO-247-3_Horizontal_TabDown", 1.34),
        ("TO-92", 0.60),
        ("TO-92_Inline_Wide", 0.60),
        ("TO-92-2", None),
    ],
)
def test_what_a_name_says(package, most) -> None:
    """Names by the IPC-7251 convention as a public table of its syntax lists it; pins of headers: common practice."""
    size = lead_of(leaded(package, 1.0))
    assert (size and size.most) == (most and pytest.approx(most, abs=0.001))


@pytest.mark.parametrize(
    ("name", "text", "most"),
    [
        ("Lead diameter", "0.8 mm", 0.8),
        ("pin_size", "0,64 x 0,64", 0.905),
        ("Wire Diameter (mm)", "1", 1.0),
        ("Lead diameter", "20 AWG", None),
        ("Lead time", "8", None),
        ("Pin size", "50", None),
    ],
)
def test_what_a_field_says(name, text, most) -> None:
    size = lead_of(leaded("X", 1.0, fields={name: text}))
    assert (size and size.most) == (most and pytest.approx(most, abs=0.001))


# --- the check


@pytest.mark.parametrize(
    ("drill", "told"),
    [
        (0.67, [Consequence.QUERY]),
        (0.68, [Consequence.NOTE]),
        (0.79, [Consequence.NOTE]),
        (0.80, []),
        (1.30, []),
        (1.31, [Consequence.NOTE]),
    ],
)
def test_holes_for_a_wire_of_0_60_mm(drill: float, told) -> None:
    """0.08 mm tolerance, 0.20 mm room, 0.70 mm slack: each limit from both sides."""
    assert [finding.consequence for finding in asked(leaded(AXIAL, drill))] == told


@pytest.mark.parametrize(("drill", "told"), [(0.98, 1), (0.99, 0), (1.0, 0), (1.34, 0), (1.35, 1)])
def test_square_pins_are_judged_by_whether_they_go_in(drill: float, told: int) -> None:
    assert len(asked(leaded("PinHeader_1x02_P2.54mm_Vertical", drill))) == told


@pytest.mark.parametrize(
    ("package", "fits", "tight", "wide"),
    [
        ("DIP-8_W7.62mm", (0.67, 0.8, 1.16), 0.66, 1.17),  # 0.59 + 0.08 and 0.46 + 0.70
        ("LED_D3.0mm", (0.79, 0.9, 1.2), 0.78, 1.21),  # 0.71 + 0.08 and 0.50 + 0.70
        ("TO-92", (0.68, 0.75, 1.2), 0.67, 1.21),  # 0.60 + 0.08 and 0.50 + 0.70
        ("TO-220-3_Horizontal_TabDown", (0.97, 1.1, 1.43), 0.96, 1.44),  # 0.89 + 0.08 and 0.73 + 0.70
        ("TO-247-3_Vertical", (1.42, 1.5, 1.9), 1.41, 1.91),  # 1.34 + 0.08 and 1.20 + 0.70
        ("CP_Radial_D8.0mm_P3.50mm", (0.8, 1.0, 1.3), 0.67, 1.31),  # 0.60 + 0.20 (0.08 to go in) and + 0.70
    ],
)
def test_usual_leaded_parts(package: str, fits, tight: float, wide: float) -> None:
    assert [asked(leaded(package, drill)) for drill in fits] == [[], [], []]
    assert [finding.consequence for finding in asked(leaded(package, tight))] == [Consequence.QUERY]
    assert [finding.consequence for finding in asked(leaded(package, wide))] == [Consequence.NOTE]


@pytest.mark.parametrize(
    "package", ["DIP-8_W7.62mm_Socket", "CP_Radial_D4.0mm_P1.50mm", "CP_Radial_D22.0mm_P10.00mm_SnapIn"]
)
def test_leads_that_nobody_knows(package: str) -> None:
    assert lead_of(leaded(package, 1.0)) is None


def test_the_screw_of_a_tab_is_no_lead() -> None:
    item = leaded("TO-220-3_Horizontal_TabDown", 1.1)
    for drill, told in ((2.49, 1), (2.5, 0), (3.5, 0)):
        tab = through_pad("2", (10, 27), drill + 1, drill)
        assert len(asked(dataclasses.replace(item, pads=(*item.pads, tab)))) == told
    # a post that is said to be as thick is a lead
    [finding] = asked(leaded("X", 2.5, fields={"Lead diameter": "1.6"}))
    assert finding.consequence is Consequence.NOTE


def test_the_words() -> None:
    [finding] = asked(leaded(AXIAL, 0.6), leaded(AXIAL, 0.6, "R2", (20, 10)))
    assert finding.message == (
        "4 holes of R1, R2: 0.60 mm for leads 0.60 mm thick (the code in its name RESAD1050W60L630D230), 0.68 mm"
        " needed; 0.80 mm in a land of 1.40 mm suits them"
    )
    assert (finding.measured, finding.limit) == (0.6, pytest.approx(0.68))
    assert len(finding.places) == 4


def test_what_is_not_judged() -> None:
    assert asked() == []
    assert asked(leaded("X", 0.3)) == []
    tight = leaded(AXIAL, 0.6)
    assert asked(dataclasses.replace(tight, fitted=False)) == []
    pins = tuple(dataclasses.replace(pad, role=PadRole.PRESS_FIT) for pad in tight.pads)
    assert asked(dataclasses.replace(tight, pads=pins)) == []
    assert len(asked(leaded(AXIAL, 0.6), leaded(AXIAL, 0.7, "R2", (20, 10)))) == 2
