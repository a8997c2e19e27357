# SPDX-License-Identifier: MIT
"""Flags of findings: each has one, none covers another, stems lead to the places."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lineworthy.picture import Bounds, Spot
from lineworthy.report.pins import FLAGS_EACH_MAX, FLAGS_FULL, ROOM, Pin, place_pins

BOUNDS = Bounds(0, 0, 60, 40)
SIZE = 1.0


def pins(spots: list[Spot], ranks: list[int]) -> tuple[Pin, ...]:
    return place_pins(spots, ranks, BOUNDS, SIZE)


def overlaps(a: Pin, b: Pin) -> bool:
    assert a.flag is not None
    assert b.flag is not None
    return (
        abs(a.flag[0] - b.flag[0]) < a.half_width + b.half_width - 1e-9 and abs(a.flag[1] - b.flag[1]) < 2 * SIZE - 1e-9
    )


def test_a_lone_flag_stands_above_its_place_and_not_on_it() -> None:
    (pin,) = pins([Spot(0, 0, (30, 20))], [0])
    assert pin.finding == 1
    assert pin.flag == (30, 20 + 2.1 * SIZE)


def test_places_of_one_finding_close_together_share_a_flag() -> None:
    spots = [Spot(0, 0, (10, 10)), Spot(0, 1, (12, 10)), Spot(0, 2, (40, 10)), Spot(1, 0, (10.5, 10))]
    made = pins(spots, [0, 0])
    assert [(p.finding, [s.place for s in p.spots]) for p in made] == [(1, [0, 1]), (1, [2]), (2, [0])]


def test_the_gravest_finding_gets_the_nearest_room() -> None:
    spots = [Spot(n, 0, (30, 20)) for n in range(5)]
    made = pins(spots, [2, 2, 0, 1, 2])
    away = [float(np.hypot(p.flag[0] - 30, p.flag[1] - 20)) for p in made if p.flag]
    assert away[2] == pytest.approx(min(away))
    assert away[2] == pytest.approx(2.1 * SIZE)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 40)), min_size=1, max_size=60))
def test_no_flag_covers_another_and_all_are_on_the_page(places: list[tuple[float, float]]) -> None:
    made = pins([Spot(n, 0, at) for n, at in enumerate(places)], [n % 3 for n in range(len(places))])
    assert [p.finding for p in made] == list(range(1, len(places) + 1))
    assert all(p.flag is not None for p in made)
    room = BOUNDS.padded(ROOM * SIZE)
    for pin in made:
        assert pin.flag is not None
        assert room.left <= pin.flag[0] - pin.half_width <= pin.flag[0] + pin.half_width <= room.right
        assert room.bottom <= pin.flag[1] - SIZE <= pin.flag[1] + SIZE <= room.top
    for a, b in combinations(made, 2):
        assert not overlaps(a, b), (a, b)


def test_sixty_findings_on_one_spot_stay_readable() -> None:
    made = pins([Spot(n, 0, (30 + n * 0.01, 20)) for n in range(60)], [1] * 60)
    assert not any(overlaps(a, b) for a, b in combinations(made, 2))


def test_one_finding_does_not_flag_the_board_full() -> None:
    spots = [Spot(0, n, (n % 20 * 3.0, n // 20 * 3.0)) for n in range(200)] + [Spot(1, 0, (5, 5))]
    made = pins(spots, [0, 2])
    assert sum(p.flag is not None for p in made if p.finding == 1) == FLAGS_EACH_MAX
    assert sum(p.flag is not None for p in made if p.finding == 2) == 1
    assert sum(len(p.spots) for p in made) == 201, "a place without a flag still has its dot"


def test_thousands_of_findings_fill_the_map_and_no_more() -> None:
    made = pins([Spot(n, 0, (n % 60, n // 60)) for n in range(2400)], [0] * 2400)
    assert len(made) == 2400
    assert sum(p.flag is not None for p in made) == FLAGS_FULL


def test_no_places_no_pins() -> None:
    assert pins([], []) == ()
