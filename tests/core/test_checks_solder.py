# SPDX-License-Identifier: MIT
"""Stencil openings: area ratio, aspect ratio, what counts as one opening, what is not printed."""

from __future__ import annotations

import dataclasses

import pytest
import shapely
from shapely import affinity

from build import BOTTOM, TOP, board, chip, pad, part, rectangle, round_pad, smd_part
from lineworthy import Consequence, built_in
from lineworthy.checks.solder import paste_aperture_small
from lineworthy.model import Pad, PadKind
from lineworthy.shapes import disc, quad_segs

SHEET = built_in()


def sheet(stencil: float):
    return dataclasses.replace(SHEET, solder=dataclasses.replace(SHEET.solder, stencil_mm=stencil))


def asked(*parts, foil: float = 0.10):
    return list(paste_aperture_small.ask(board=board(parts=parts), sheet=sheet(foil)))


def land(width: float, length: float, **more):
    """A part of one land whose stencil opening is the land."""
    return part("U1", (10, 10), [pad("1", (10, 10), (width, length), **more)], package="DFN")


def ball(diameter: float):
    return part("U1", (10, 10), [round_pad("1", (10, 10), diameter)], package="BGA")


# --- outside values


@pytest.mark.parametrize(
    ("item", "foil", "ratio"),
    [
        (land(0.25, 0.25), 0.10, 0.625),
        (ball(0.24), 0.10, 0.60),
    ],
)
def test_area_ratio_of_openings_that_fail(item, foil: float, ratio: float) -> None:
    """Square 0.25 mm in 0.10 mm foil: 0.625 (stencil calculator citing IPC-7525B); a circle by the same D / 4T."""
    [finding] = asked(item, foil=foil)
    assert finding.measured == pytest.approx(ratio, abs=0.005)
    assert finding.limit == 0.66
    assert finding.limit_key == "solder.paste_area_min_ratio"
    assert finding.consequence is Consequence.QUERY


@pytest.mark.parametrize(
    ("item", "foil"),
    [
        (land(0.30, 0.25), 0.10),  # 0.682: stencil calculator citing IPC-7525B
        (land(0.25, 1.0), 0.125),  # 0.80, aspect 2.0: the same
        (land(1.0, 0.5), 0.12),  # 1.39: worked example of a solder paste calculator
        (land(0.25, 0.25), 0.09),  # 0.694: stencil calculator citing IPC-7525B
        (ball(0.264), 0.10),  # 0.660, exactly on the limit: the same
        (ball(0.28), 0.10),  # 0.70: the same
    ],
)
def test_openings_that_pass(item, foil: float) -> None:
    assert asked(item, foil=foil) == []


@pytest.mark.parametrize(
    ("width", "length", "foil", "area_ratio"),
    [(0.30, 0.25, 0.10, 0.682), (0.25, 1.0, 0.125, 0.80), (1.0, 0.5, 0.12, 1.389), (0.25, 0.25, 0.09, 0.694)],
)
def test_area_ratio_is_length_times_width_over_wall_area(width, length, foil, area_ratio) -> None:
    """The values of the calculators again, by raising the limit above them: L W / (2 (L + W) T), walls summed."""
    strict = dataclasses.replace(sheet(foil), solder=dataclasses.replace(sheet(foil).solder, paste_area_min_ratio=5.0))
    [finding] = paste_aperture_small.ask(board=board(parts=(land(width, length),)), sheet=strict)
    assert finding.measured == pytest.approx(area_ratio, abs=0.001)


@pytest.mark.parametrize(("foil", "smallest"), [(0.10, 0.264), (0.12, 0.3168), (0.125, 0.330), (0.15, 0.396)])
def test_smallest_round_opening_is_2_64_times_the_foil(foil: float, smallest: float) -> None:
    """2.64 T: 0.264, 0.317, 0.330, 0.396 mm (stencil calculator citing IPC-7525B)."""
    assert asked(ball(smallest), foil=foil) == []
    [finding] = asked(ball(smallest - 0.001), foil=foil)
    assert finding.measured < 0.66
    assert asked(land(smallest, smallest), foil=foil) == []
    assert len(asked(land(smallest - 0.001, smallest), foil=foil)) == 1


def test_long_openings_are_judged_by_width() -> None:
    """Aspect ratio W / T of 1.5 where longer than 5 W (IPC-7525B, as cited by a stencil calculator)."""
    assert asked(land(0.15, 1.0)) == []
    [finding] = asked(land(0.149, 1.0))
    assert finding.limit_key == "solder.paste_aspect_min_ratio"
    assert finding.limit == 1.5
    assert finding.measured == pytest.approx(1.49)
    assert "aspect ratio 1.49" in finding.message
    # exactly five widths long still goes by area: 0.15 x 0.75 has 0.625
    assert asked(land(0.15, 0.75))[0].limit_key == "solder.paste_area_min_ratio"
    assert asked(land(0.15, 0.76)) == []


# --- the cases


@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 37.0])
def test_turning_changes_nothing(turn: float) -> None:
    straight, turned = asked(land(0.25, 0.3, rotation=0.0), foil=0.12), asked(land(0.25, 0.3, rotation=turn), foil=0.12)
    assert [f.message for f in turned] == [f.message for f in straight]
    assert len(turned) == 1
    assert [f.fingerprint for f in turned] == [f.fingerprint for f in straight]


def test_both_sides_are_printed() -> None:
    [finding] = asked(land(0.25, 0.25, side=BOTTOM))
    assert finding.places[0].side is BOTTOM
    assert asked(land(0.25, 0.25, side=TOP))[0].places[0].side is TOP


def test_what_is_not_printed_is_not_asked() -> None:
    assert asked() == []
    assert asked(land(0.25, 0.25, paste=False)) == []
    assert asked(dataclasses.replace(land(0.25, 0.25), fitted=False)) == []
    assert asked(chip("R1", (5, 5)), foil=0.12) == []


def test_windows_without_copper_are_openings() -> None:
    window = Pad("w", "", (10, 10), PadKind.SURFACE, paste={TOP: rectangle((10, 10), 0.25, 0.25)})
    [finding] = asked(part("U1", (10, 10), [window]))
    assert finding.places[0].label == "U1"


def test_each_piece_of_a_split_opening_is_one() -> None:
    halves = shapely.MultiPolygon([rectangle((10, 10), 0.2, 0.2), rectangle((11, 10), 0.2, 0.2)])
    split = Pad("w", "9", (10, 10), PadKind.SURFACE, paste={TOP: halves})
    [finding] = asked(part("U1", (10, 10), [split]))
    assert finding.message.startswith("2 stencil openings of 0.20 x 0.20 mm in U1")
    assert len(finding.places) == 2


def test_openings_that_touch_are_one() -> None:
    corner = pad("1", (10.2, 10.2), 0.05)
    assert asked(part("U1", (10, 10), [pad("1", (10, 10), (0.5, 0.5)), corner])) == []
    assert len(asked(part("U1", (10, 10), [pad("1", (10, 10), (0.5, 0.5)), pad("2", (12, 10), 0.05)]))) == 1


def test_rounded_openings_are_measured_as_drawn() -> None:
    """0.3 x 0.25 with corners of 0.1 mm: (0.075 - 0.01 (4 - pi)) / ((1.1 - 0.2 (4 - pi)) 0.1)."""
    shape = rectangle((10, 10), 0.1, 0.05).buffer(0.1, quad_segs=quad_segs(0.1))
    rounded = Pad("p", "1", (10, 10), PadKind.SURFACE, paste={TOP: affinity.rotate(shape, 30)})
    strict = dataclasses.replace(SHEET, solder=dataclasses.replace(sheet(0.1).solder, paste_area_min_ratio=1.0))
    [finding] = paste_aperture_small.ask(board=board(parts=(part("U1", (10, 10), [rounded]),)), sheet=strict)
    assert finding.measured == pytest.approx(0.06641593 / 0.09283185, abs=1e-4)


def test_one_finding_for_the_same_opening_in_a_package() -> None:
    def parts(first: int):
        return [smd_part(f"U{n}", (10 * n, 10), nets=["a"] * 4, land=(0.25, 0.25)) for n in range(first, first + 3)]

    [finding] = asked(*parts(1))
    assert finding.message == (
        "12 stencil openings of 0.25 x 0.25 mm in U1, U2, U3 (SOIC-8): "
        "area ratio 0.62, enough for a coated or electroformed foil only; 0.66 needed at 0.10 mm foil"
    )
    assert len(finding.places) == 12
    assert asked(*parts(1)[::-1])[0] == finding


def test_other_openings_are_other_findings() -> None:
    mixed = part("U1", (10, 10), [pad("1", (10, 10), 0.25), pad("2", (12, 10), 0.2)], package="X")
    findings = asked(mixed)
    assert [round(f.measured, 3) for f in findings] == [0.5, 0.625]
    assert len({f.fingerprint for f in findings}) == 2
    assert "coated" not in findings[0].message  # below 0.55 no foil of this thickness is offered


def test_an_empty_opening_is_none() -> None:
    assert asked(part("U1", (0, 0), [Pad("p", "1", (0, 0), PadKind.SURFACE, paste={TOP: shapely.Polygon()})])) == []
    assert asked(part("U1", (0, 0), [Pad("p", "1", (0, 0), PadKind.SURFACE, paste={TOP: disc((0, 0), 1.0)})])) == []


def test_of_an_opening_made_of_arms_the_width_of_the_arms_is_told() -> None:
    """An H of three strips 0.1 mm wide: 1.18 mm2 within 23.8 mm of outline."""
    strips = [shapely.box(8, 8, 8.1, 12), shapely.box(11.9, 8, 12, 12), shapely.box(8, 9.95, 12, 10.05)]
    one = land(4.0, 4.0)
    item = dataclasses.replace(one, pads=(dataclasses.replace(one.pads[0], paste={TOP: shapely.union_all(strips)}),))
    [finding] = asked(item)
    assert finding.message.startswith(
        "1 stencil opening of 0.099 mm width on average within 4.00 x 4.00 mm in U1 (DFN)"
    )
    assert finding.measured == pytest.approx(1.18 / 23.8 / 0.1, abs=1e-3)
