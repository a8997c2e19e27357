# SPDX-License-Identifier: MIT
"""Parts too close: which pairs count, which limit they have, and what is left out on purpose."""

from __future__ import annotations

import dataclasses

import pytest
import shapely

from asking import only
from build import BOTTOM, TOP, board, chip, fiducial, hole, pad, part, rectangle, round_pad, smd_part, through_part
from lineworthy import Board
from lineworthy.checks.spacing import parts_too_close
from lineworthy.finding import Consequence, Finding
from lineworthy.inputs import Inputs
from lineworthy.model import Part
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
LIMITS = SHEET.spacing
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def ask(subject: Board) -> list[Finding]:
    return list(parts_too_close.ask(closeness=Inputs(subject, SHEET).closeness, sheet=SHEET))


def of(*parts: Part) -> list[Finding]:
    return ask(board(60, 40, parts=parts))


def side_by_side(first: str, second: str, gap: float, **more) -> tuple[Part, Part]:
    """Two 0603 chips (2.4 mm over their lands, 0.95 mm wide) with `gap` between their lands."""
    return chip(first, (10, 10), **more), chip(second, (10, 10 + 0.95 + gap), **more)


# --- limits and how they are met


@pytest.mark.parametrize(
    ("gap", "found"),
    [(0.30, True), (0.499, True), (LIMITS.chip_min_mm - 2e-4, True), (LIMITS.chip_min_mm, False), (0.6, False)],
)
def test_chips_below_on_and_above_the_limit(gap: float, found: bool) -> None:
    assert bool(of(*side_by_side("R1", "R2", gap))) is found


def test_what_a_finding_says() -> None:
    finding = only(of(*side_by_side("R2", "R10", 0.4)))
    assert finding.message == ("R2 and R10 are 0.40 mm apart; 0.50 mm needed between chips and other small packages")
    assert finding.consequence is NOTE
    assert (finding.measured, finding.limit, finding.unit) == (pytest.approx(0.4), 0.5, "mm")
    assert finding.limit_key == "spacing.chip_min_mm"
    assert finding.uids == ("part-R2", "part-R10")
    place = finding.places[0]
    assert place.at[1] == pytest.approx(10 + 0.475 + 0.2)
    assert 8.8 <= place.at[0] <= 11.2
    assert (place.side, place.label) == (TOP, "R2 and R10")


def test_less_than_half_the_limit_inside_each_others_courtyards_is_a_query() -> None:
    assert only(of(*side_by_side("R1", "R2", 0.20))).consequence is QUERY
    assert only(of(*side_by_side("R1", "R2", 0.26))).consequence is NOTE
    small = [dataclasses.replace(item, courtyard={TOP: item.extent}) for item in side_by_side("R1", "R2", 0.20)]
    assert only(of(*small)).consequence is NOTE
    undrawn = [dataclasses.replace(item, courtyard={}) for item in side_by_side("R1", "R2", 0.20)]
    assert only(of(*undrawn)).consequence is QUERY


def test_nothing_is_ever_a_hold() -> None:
    stacked = (chip("R1", (10, 10)), chip("R2", (10, 10)), smd_part("U1", (10, 10), nets=("",) * 8))
    assert all(finding.consequence is not Consequence.HOLD for finding in of(*stacked))


def small_chip(reference: str, at: tuple[float, float], **more) -> Part:
    lands = [pad(str(n), (at[0] + dx, at[1]), (0.5, 0.6)) for n, dx in ((1, -0.5), (2, 0.5))]
    return part(reference, at, lands, package="R_0402_1005Metric", body=rectangle(at, 1.0, 0.5), **more)


def array(at: tuple[float, float], side: int = 8, pitch: float = 0.8) -> Part:
    step = [(n - (side - 1) / 2) * pitch for n in range(side)]
    balls = [round_pad(f"{r}{c}", (at[0] + step[r], at[1] + step[c]), 0.4) for r in range(side) for c in range(side)]
    wide = side * pitch
    return part("U9", at, balls, package="BGA-64", body=rectangle(at, wide, wide))


def ic(reference: str, at: tuple[float, float], **more) -> Part:
    """SOIC-8: 6.5 mm over its lands across the rows, 5.08 mm of body along them."""
    return smd_part(reference, at, nets=("",) * 8, **more)


def connector(reference: str, at: tuple[float, float]) -> Part:
    return smd_part(reference, at, nets=("",) * 8, package="Conn_1x08_SMD")


PAIRS = {
    # limit key: two parts with the second's near side at `gap` from the first's, built by the gap
    "small_chip_min_mm": lambda gap: (small_chip("R1", (10, 10)), small_chip("R2", (10, 10.6 + gap))),
    "chip_min_mm": lambda gap: (small_chip("R1", (10, 10)), chip("R2", (10, 10 + 0.3 + 0.475 + gap))),
    "chip_to_package_min_mm": lambda gap: (small_chip("R1", (10, 10)), ic("U1", (10, 10 + 0.3 + 3.25 + gap))),
    "package_min_mm": lambda gap: (ic("U1", (10, 10)), ic("U2", (10, 16.5 + gap))),
    "array_min_mm": lambda gap: (array((20, 10)), small_chip("R1", (20, 10 + 3.2 + 0.3 + gap))),
    "connector_min_mm": lambda gap: (connector("J1", (10, 10)), small_chip("R1", (10, 10 + 3.25 + 0.3 + gap))),
}


@pytest.mark.parametrize("key", PAIRS)
def test_each_pair_of_kinds_has_its_limit(key: str) -> None:
    limit = getattr(LIMITS, key)
    assert of(*PAIRS[key](limit)) == []
    finding = only(of(*PAIRS[key](limit - 0.01)))
    assert finding.limit_key == f"spacing.{key}"
    assert finding.measured == pytest.approx(limit - 0.01)


def test_a_small_array_is_placed_like_a_package() -> None:
    tiny = array((20, 10), side=5, pitch=0.4)
    near = small_chip("R1", (20, 10 + 1.0 + 0.3 + 0.6))
    assert of(tiny, near) == []
    assert of(array((20, 10)), small_chip("R1", (20, 10 + 3.2 + 0.3 + 0.6))) != []


def test_lands_count_as_well_as_bodies() -> None:
    # bodies 0.6 mm apart, lands 0.45: a chip's lands are wider than its body
    first, second = chip("R1", (10, 10)), chip("R2", (10, 11.4))
    assert first.body is not None
    assert second.body is not None
    assert first.body.distance(second.body) == pytest.approx(0.6)
    assert only(of(first, second)).measured == pytest.approx(0.45)


# --- sides


def test_parts_back_to_back_are_not_neighbours() -> None:
    assert of(chip("R1", (10, 10)), chip("R2", (10, 10), side=BOTTOM)) == []
    finding = only(of(*side_by_side("R1", "R2", 0.4, side=BOTTOM)))
    assert finding.places[0].side is BOTTOM


def test_a_lead_that_comes_up_under_a_part_is_a_query() -> None:
    finding = only(of(through_part("J1", (10, 10)), chip("C1", (11.27, 10), side=BOTTOM)))
    assert finding.consequence is QUERY
    assert finding.message.startswith("Leads of J1 and C1 overlap by ")


def test_through_hole_parts_may_touch_each_other_but_not_share_a_place() -> None:
    row = [through_part(f"R{n}", (10, 10 + 2.54 * n), package="R_Axial_DIN0207") for n in range(4)]
    assert of(*row) == []
    assert only(of(row[0], through_part("R9", (10, 10.5), package="R_Axial_DIN0207"))).consequence is QUERY


def test_connectors_side_by_side_are_meant() -> None:
    assert of(connector("J1", (10, 10)), connector("J2", (15.3, 10))) == []


# --- collisions


def test_overlapping_bodies_are_a_query_with_their_common_area() -> None:
    finding = only(of(chip("R1", (10, 10)), chip("R2", (10, 10.475))))
    assert finding.consequence is QUERY
    assert finding.message.startswith("R1 and R2 overlap by ")
    assert finding.measured == 0.0


def test_touching_is_not_overlapping() -> None:
    finding = only(of(*side_by_side("R1", "R2", 0.0)))
    assert finding.message.startswith("R1 and R2 touch; ")


def test_a_part_over_several_others_is_one_finding() -> None:
    under = [chip(f"C{n}", (8 + 4 * n, 10)) for n in range(3)]
    over = smd_part("U1", (12, 10), nets=("",) * 40, span=3.0, package="mystery")
    finding = only([f for f in of(over, *under) if f.consequence is QUERY])
    assert finding.message.startswith("U1 overlaps C0, C1, C2, by up to ")
    assert len(finding.places) == 3


def module(at: tuple[float, float]) -> Part:
    base = through_part("U5", at, nets=("",) * 10, package="Arduino_Nano")
    return dataclasses.replace(base, body=rectangle(at, 26, 18))


def test_parts_under_a_module_on_pins_and_beside_it_are_meant() -> None:
    assert of(module((30, 20)), chip("C1", (30, 24)), chip("C2", (30, 29)), chip("C3", (34, 30))) == []


def test_nothing_goes_under_a_module_that_is_soldered_flat() -> None:
    lands = smd_part("U5", (30, 20), nets=("",) * 10, package="ESP32-WROOM-32")
    flat = dataclasses.replace(lands, body=rectangle((30, 20), 26, 18))
    assert only(of(flat, chip("C1", (30, 25)))).consequence is QUERY


def test_a_part_wholly_inside_a_connector_is_meant_and_half_inside_is_not() -> None:
    socket = dataclasses.replace(connector("J1", (20, 10)), body=rectangle((20, 10), 20, 20))
    assert of(socket, small_chip("R1", (20, 10))) == []
    assert only(of(socket, small_chip("R1", (30, 10)))).consequence is QUERY


# --- left out


@pytest.mark.parametrize(
    "other",
    [
        fiducial("FID1", (10, 10.9)),
        hole("H1", (10, 11), drill=1.0),
        chip("R2", (10, 11), fitted=False),
        chip("SH1", (10, 11), package="Wuerth_36103505_50x50mm"),
        chip("AE1", (10, 11), package="Texas_SWRA117D_2.4GHz_Left"),
        chip("JP1", (10, 11), package="SolderJumper-2_P1.3mm_Open_Pad1.0x1.5mm"),
        chip("NT1", (10, 11), package="NetTie-2_SMD_Pad0.5mm"),
        part("TP1", (10, 11), [round_pad("1", (10, 11), 1.0, paste=False)], package="TestPoint_Pad_D1.0mm"),
        part("J1", (10, 11), [pad(str(n), (10 + n, 11), 0.6, paste=False) for n in range(4)], package="Edge_Fingers"),
        part("LOGO1", (10, 10), package="OSHW-Logo2_7.3x6mm", body=rectangle((10, 10), 7, 6)),
    ],
    ids=lambda item: item.reference,
)
def test_what_is_not_placed_does_not_count(other: Part) -> None:
    assert of(chip("R1", (10, 10)), other) == []


def test_an_empty_board_and_a_lonely_part() -> None:
    assert of() == []
    assert of(chip("R1", (10, 10))) == []


# --- grouping


def test_pairs_a_little_short_are_one_note_and_grave_ones_one_query_per_package_pair() -> None:
    little = [chip(f"R{n}", (5 + 5 * (n // 2), 10 + (n % 2) * 1.35)) for n in range(8)]
    note = only(of(*little))
    assert note.message == (
        "4 pairs, nearest R0 and R1 at 0.40 mm; 0.50 mm needed between chips and other small packages"
    )
    assert len(note.places) == 4
    grave = [chip(f"R{n}", (5 + 5 * (n // 2), 10 + (n % 2) * 1.15)) for n in range(6)]
    query = only(of(*grave))
    assert query.message.startswith("R0 and R1 are 0.20 mm apart, as are 2 more pairs of the same packages; ")


def test_moving_turning_and_mirroring_change_places_only() -> None:
    subject = board(
        60,
        40,
        parts=(
            *side_by_side("R2", "R10", 0.2),
            *PAIRS["array_min_mm"](0.7),
            *[dataclasses.replace(p, uid=p.uid + "b") for p in PAIRS["small_chip_min_mm"](0.2)],
            through_part("J1", (40, 20)),
            chip("C1", (42, 21), side=BOTTOM),
            chip("C2", (47, 30), rotation=30),
            chip("C3", (47, 31.2), rotation=30),
        ),
    )
    before = ask(subject)
    assert len(before) >= 4
    for motion in (moved(17.3, -4.1), quarter_turns(1), quarter_turns(2), mirrored()):
        after = ask(transform(subject, motion))
        assert [(f.message, f.fingerprint, f.uids) for f in after] == [
            (f.message, f.fingerprint, f.uids) for f in before
        ]


def test_a_far_part_changes_nothing() -> None:
    pair = side_by_side("R1", "R2", 0.3)
    assert of(*pair) == of(*pair, chip("R99", (500, 500)))


def test_distances_agree_with_brute_force() -> None:
    parts = [chip(f"R{n}", (3 + 1.37 * (n % 9), 3 + 1.13 * (n // 9)), rotation=20.0 * n) for n in range(45)]
    whole = [shapely.union_all([p.body, *(pad.extent for pad in p.pads)]) for p in parts]
    expected = sum(whole[i].distance(whole[j]) < LIMITS.chip_min_mm - 1e-4 for i in range(45) for j in range(i))
    found = {place.label for finding in of(*parts) for place in finding.places}
    assert len(found) == expected > 20
