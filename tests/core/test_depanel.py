# SPDX-License-Identifier: MIT
"""Arithmetic of separating boards, of sag, and of what fits on a panel, against published figures and textbooks.

Each row names where the expected value is from; none of them was computed with the code under test.
"""

from __future__ import annotations

import doctest

import pytest

from lineworthy.knowledge import depanel, panelfit
from lineworthy.knowledge.depanel import (
    bend_test_strain,
    break_force,
    break_moment,
    break_strain,
    copper_back_off,
    cut_depth,
    groove_half_width,
    strain_limit,
    web,
    web_for_size,
)
from lineworthy.knowledge.panelfit import Fit, along, best_fit, fit, sag, usable, utilisation

INCH = 25.4


def test_the_examples_in_the_docstrings_hold() -> None:
    for module in (depanel, panelfit):
        tried = doctest.testmod(module)
        assert tried.attempted >= 3
        assert tried.failed == 0


# --- score geometry


@pytest.mark.parametrize(("angle", "half"), [(30.0, 0.143), (45.0, 0.221), (60.0, 0.308)])
def test_groove_half_width_of_a_third_of_a_usual_board(angle: float, half: float) -> None:
    """Plane geometry: depth x tan(half the angle), worked by hand for 1.6 mm cut to a third."""
    assert groove_half_width(1.6 / 3, angle) == pytest.approx(half, abs=0.0005)


def test_groove_half_width_of_a_published_example() -> None:
    """IPC TechNet, 30 July 1998: depth 0.021 in and 30 degrees to each side give 0.012 in."""
    assert groove_half_width(0.021 * INCH, 60.0) == pytest.approx(0.0121 * INCH, abs=0.001 * INCH / 10)


def test_web_and_depth_are_thirds() -> None:
    """Trade column on scored jobs, 28 October 2013: a third is cut from each side, a third is left."""
    assert web(1.6) == pytest.approx(0.533, abs=0.001)
    assert cut_depth(1.6, web(1.6)) == pytest.approx(1.6 / 3)


@pytest.mark.parametrize(("thickness", "need"), [(0.79, 0.25), (1.57, 0.38), (3.18, 0.56)])
def test_copper_back_off_of_the_published_thicknesses(thickness: float, need: float) -> None:
    """The same column; so copper 0.30 mm from the middle of a score is too near in a board of 1.57 mm."""
    assert copper_back_off(thickness) == pytest.approx(need)


def test_copper_back_off_in_between_grows_with_the_thickness() -> None:
    needs = [copper_back_off(tenth / 10) for tenth in range(2, 60)]
    assert needs == sorted(needs)
    assert needs[0] == 0.25
    assert copper_back_off(1.57) > 0.30


@pytest.mark.parametrize(
    ("board", "array", "mil"),
    [(2, 12, 10), (7, 22, 15), (0.4, 4, 5), (4, 8, 12), (0.7, 17, 9), (5, 30, 14), (7, 12, 13), (0.5, 5, 8)],
)
def test_web_by_size_as_in_a_scoring_guide(board: float, array: float, mil: float) -> None:
    """Pocket guide to V-scoring: thousandths of an inch by board and array size in inches."""
    assert web_for_size(board * INCH, array * INCH) == pytest.approx(mil * INCH / 1000)


def test_a_board_larger_than_its_array_has_no_web() -> None:
    assert web_for_size(7 * INCH, 4 * INCH) is None


# --- breaking


def test_break_moment_of_a_usual_web() -> None:
    """FR-4 breaks above 415 MPa lengthwise (property table); section modulus of a strip, w^2 / 6."""
    assert break_moment(0.5333) == pytest.approx(19.67, abs=0.05)
    assert break_moment(0.30) == pytest.approx(6.2, abs=0.05)
    assert break_force(0.5333, length=100.0, lever=50.0) == pytest.approx(39, abs=0.5)


@pytest.mark.parametrize(("deflection", "strain"), [(2.0, 2370.0), (5.0, 5926.0)])
def test_strain_in_the_bend_test_of_capacitors(deflection: float, strain: float) -> None:
    """AEC-Q200 board flex: 90 mm span, 1.6 mm board; 2 mm for X7R, 5 mm for soft terminations (makers' papers)."""
    assert bend_test_strain(1.6, deflection, 90.0) == pytest.approx(strain, rel=0.01)


@pytest.mark.parametrize(
    ("thickness", "rate", "limit"),
    [
        (2.35, 500, 1090),
        (2.35, 5000, 790),
        (2.35, 50_000, 490),
        (1.0, 500, 1671),
        (1.0, 5000, 1212),
        (1.0, 50_000, 752),
        (1.6, 1000, 1212),
        (1.6, 10_000, 848),
    ],
)
def test_the_withdrawn_strain_curve(thickness: float, rate: float, limit: float) -> None:
    """From memory: guidance curve of IPC/JEDEC-9704 (2005), taken out by its issuer in 9704A."""
    assert strain_limit(thickness, rate) == pytest.approx(limit, abs=2)


def test_strain_beside_a_breaking_score_by_beam_theory() -> None:
    """Bending moment over section modulus of the full board, over its stiffness: 6 M / (t^2 E)."""
    moment = 415.0 * 0.5**2 / 6
    by_hand = 6 * moment / (1.6**2 * 24_000) * 1e6
    assert break_strain(1.6, 0.5, lever=50.0) == pytest.approx(by_hand)
    assert break_strain(1.6, 0.5, distance=25.0, lever=50.0) == pytest.approx(by_hand / 2)
    assert break_strain(1.6, 0.5, distance=60.0, lever=50.0) == 0.0
    assert break_strain(1.6, 0.5, lever=50.0, across=False) == pytest.approx(0.136 * by_hand)


# --- sag


@pytest.mark.parametrize(
    ("thickness", "span", "modulus", "hangs"),
    [(1.6, 250, 24.0, 0.180), (0.8, 250, 24.0, 0.721), (1.6, 300, 24.0, 0.374), (1.6, 250, 10.0, 0.43)],
)
def test_sag_under_its_own_weight(thickness: float, span: float, modulus: float, hangs: float) -> None:
    """From memory: freely supported strip, 5 q L^4 / (384 E I); density and stiffness of a property table."""
    assert sag(thickness, span, modulus) == pytest.approx(hangs, abs=0.005)


def test_parts_add_to_the_sag_as_so_much_more_board() -> None:
    """Twice the mass per area hangs twice as far."""
    bare = 1.85e-6 * 1.6
    assert sag(1.6, 250.0, parts_mass=bare) == pytest.approx(2 * sag(1.6, 250.0))


# --- what fits


def test_usable_part_of_a_working_panel() -> None:
    """Design007 Magazine, June 2021: half an inch lost at each edge, three quarters with inner layers."""
    assert usable((18 * INCH, 24 * INCH), 2) == pytest.approx((431.8, 584.2), abs=0.1)
    assert usable((18 * INCH, 24 * INCH), 4) == pytest.approx((419.1, 571.5), abs=0.1)


@pytest.mark.parametrize(
    ("room", "board", "turned", "count"),
    [
        ((419.1, 571.5), (100, 80), False, 24),
        ((419.1, 571.5), (100, 80), True, 25),
        ((431.8, 584.2), (100, 80), False, 28),
        ((419.1, 571.5), (160, 100), False, 10),
        ((419.1, 571.5), (160, 100), True, 12),
    ],
)
def test_boards_on_a_working_panel(room, board, turned: bool, count: int) -> None:
    """Counted by hand on the usable parts above, 2.5 mm between boards."""
    assert fit(room, board, 2.5, turned).count == count


def test_the_better_way_of_turning_and_what_it_uses() -> None:
    best = best_fit((419.1, 571.5), (100, 80), 2.5)
    assert best == Fit(5, 5, True)
    assert utilisation(best.count, 8000, (457.2, 609.6)) == pytest.approx(0.718, abs=0.001)
    assert utilisation(best.count, 8000, (419.1, 571.5)) == pytest.approx(0.835, abs=0.001)
    assert utilisation(28, 8000, (457.2, 609.6)) == pytest.approx(0.804, abs=0.001)
    assert best_fit((100, 100), (50, 50), 0.0).turned is False


def test_what_fits_exactly_fits() -> None:
    assert along(102.5 * 4 - 2.5, 100.0, 2.5) == 4
    assert along(102.5 * 4 - 2.6, 100.0, 2.5) == 3
    assert along(10.0, 100.0, 2.5) == 0
