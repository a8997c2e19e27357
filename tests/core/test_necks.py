# SPDX-License-Identifier: MIT
"""The narrowest cut between two places on copper: by hand, and against taking copper off all round until it parts."""

from __future__ import annotations

import random
from typing import Optional

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity

from lineworthy.knowledge import necks
from lineworthy.knowledge.necks import STEPS, parted

NEED = 2.0
LEFT, RIGHT = shapely.box(1, 9, 2, 11), shapely.box(58, 9, 59, 11)
SHEET = shapely.box(0, 0, 60, 20)


def necked(*cutouts: Polygon, need: float = NEED, ends=(LEFT, RIGHT), turn: float = 0.0) -> Optional[float]:
    """The width of the neck between two ends, None where the sheet carries enough."""
    copper = shapely.difference(SHEET, shapely.union_all(cutouts))
    shapes = [affinity.rotate(shape, turn, origin=(30, 10)) for shape in (copper, *ends)]
    groups, partings = parted(shapes[0], shapes[1:], need)
    assert len(partings) == len(set(groups)) - 1
    assert all(groups[parting.one] != groups[parting.other] for parting in partings)
    return partings[0].neck.width if partings else None


def wall(low: float, high: float, x: float = 29.0) -> Polygon:
    """A slot 2 mm wide."""
    return shapely.box(x, low, x + 2, high)


@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
@pytest.mark.parametrize(
    ("cutouts", "width"),
    [
        ((), None),
        ((wall(1.5, 20),), 1.5),
        ((wall(2.0, 20),), None),  # exactly what is needed
        ((wall(1.99, 20),), 1.99),
        ((wall(0.9, 19.1),), 1.8),  # two webs, one above and one below the slot
        ((wall(1.0, 19.0),), None),
        ((wall(0, 9.5), wall(10.5, 20)), 1.0),  # both walls from the rim
        ((wall(0.3, 6), wall(6.5, 13), wall(13.4, 19.6)), 1.6),  # four webs: 0.3, 0.5, 0.4, 0.4
        ((wall(0.3, 6, 20), wall(6.5, 13, 30), wall(13.4, 19.6, 40)), None),  # slots that do not stand in a row
        ((wall(1.5, 20, 20), wall(0, 18.5, 40)), 1.5),  # two necks after each other do not add up
    ],
)
def test_cuts_by_hand(cutouts, width, turn: float) -> None:
    found = necked(*cutouts, turn=turn)
    assert (found is None) is (width is None)
    if width is not None:
        assert found == pytest.approx(width, rel=2.5e-3)


def test_a_row_of_antipads_across_a_plane_adds_up() -> None:
    """Nine holes of 1.6 mm every 2 mm: eight webs of 0.4 mm and 1.2 mm to each rim, 5.6 mm in all.

    Holes are looked at as polygons within a hundredth of a millimetre: 0.02 mm for each web at the most.
    """
    row = [shapely.Point(30, 2 + 2 * n).buffer(0.8, 32) for n in range(9)]
    assert necked(*row, need=5.5) is None
    assert necked(*row, need=5.8) == pytest.approx(5.6, abs=0.15)
    # a second row, set off by half a pitch and touched by no straight cut, changes nothing
    field = row + [shapely.Point(32, 3 + 2 * n).buffer(0.8, 32) for n in range(8)]
    assert necked(*field, need=5.8) == pytest.approx(5.6, abs=0.15)


def test_webs_of_a_land_are_left_out_but_a_finger_is_not() -> None:
    """Four spokes of 0.3 mm over a gap of 0.5 mm are nearer to the land than half of 2 mm."""
    ring = shapely.difference(shapely.Point(20, 10).buffer(1.5), shapely.Point(20, 10).buffer(1.0))
    spokes = shapely.union_all([shapely.box(17, 9.85, 23, 10.15), shapely.box(19.85, 7, 20.15, 13)])
    land = shapely.Point(20, 10).buffer(1.0)
    assert necked(shapely.difference(ring, spokes), ends=(land, RIGHT)) is None
    # one that is as wide as needed by itself, too
    land = shapely.Point(20, 10).buffer(1.2)
    ring = shapely.difference(shapely.Point(20, 10).buffer(1.7), land)
    assert necked(shapely.difference(ring, spokes), ends=(land, RIGHT)) is None
    # a finger of 1 mm, 10 mm long, that leads to the left land
    finger = (shapely.box(0, 0, 12, 9.5), shapely.box(0, 10.5, 12, 20))
    assert necked(*finger) == pytest.approx(1.0, rel=2.5e-3)
    short = (shapely.box(0, 0, 3, 9.5), shapely.box(0, 10.5, 3, 20))
    assert necked(*short, ends=(shapely.box(1.0, 9.5, 2.0, 10.5), RIGHT)) is None


def test_small_lands_in_corners_and_pockets() -> None:
    corner = shapely.box(0.1, 0.1, 0.5, 0.5)
    assert necked(ends=(corner, RIGHT)) is None
    # a land beside a wide area and parted from it by a thin slot is joined only round its end
    slot = shapely.box(0, 10.5, 40, 10.7)
    low = shapely.box(0, 0, 41, 9.5)
    strip = shapely.box(5, 9.6, 6, 10.4)
    assert necked(slot, low, ends=(strip, RIGHT)) == pytest.approx(1.0, rel=2.5e-3)


def test_groups_of_several_ends() -> None:
    copper = shapely.difference(SHEET, shapely.union_all([wall(1.5, 20, 19), wall(1.0, 20, 39)]))
    ends = [shapely.box(x, 9, x + 1, 11) for x in (5, 10, 25, 50, 55)]
    groups, partings = parted(copper, ends, NEED)
    necks = [parting.neck for parting in partings]
    assert groups == [0, 0, 1, 2, 2]
    assert [(parting.one, parting.other) for parting in partings] == [(0, 2), (0, 3)]
    assert sorted(neck.width for neck in necks) == pytest.approx([1.0, 1.5], rel=2.5e-3)
    low, high = sorted(neck.at[0] for neck in necks)
    assert low == pytest.approx(20, abs=1)
    assert high == pytest.approx(40, abs=1)
    assert parted(copper, ends[:1], NEED) == ([0], [])
    assert parted(copper, [], NEED) == ([], [])


def bottleneck(copper: Polygon, ends) -> float:
    """The width at which two ends fall apart when copper is taken off all round: right where there are no holes."""
    low, high = 0.0, 20.0
    for _ in range(16):
        middle = (low + high) / 2
        pieces = shapely.get_parts(copper.buffer(-middle / 2, quad_segs=16))
        joined = any(all(piece.distance(end) < middle / 2 + 0.01 for end in ends) for piece in pieces)
        low, high = (middle, high) if joined else (low, middle)
    return low


def test_without_holes_it_is_where_copper_falls_apart_when_taken_off_all_round() -> None:
    dice = random.Random(5)
    narrow = 0
    for _ in range(60):
        spots = [(10 * n, dice.uniform(0, 10)) for n in range(5)]
        blobs = [shapely.Point(spot).buffer(dice.uniform(3, 5)) for spot in spots]
        bars = [shapely.LineString(pair).buffer(dice.uniform(0.5, 2.5)) for pair in zip(spots, spots[1:])]
        copper = shapely.union_all([*blobs, *bars])
        copper = Polygon(copper.exterior)
        ends = [shapely.Point(spots[0]).buffer(1.0), shapely.Point(spots[-1]).buffer(1.0)]
        plain = bottleneck(copper, ends)
        need = dice.uniform(0.5, 4.0)
        _, partings = parted(copper, ends, need)
        if partings:
            narrow += 1
            assert partings[0].neck.width == pytest.approx(plain, rel=0.01)
        else:
            assert plain >= need * 0.995
    assert 15 < narrow < 50


def test_turning_a_plane_with_many_holes_changes_nothing() -> None:
    dice = np.random.default_rng(3)
    holes = [shapely.Point(x, y).buffer(1.1) for x, y in dice.uniform((8, 1), (52, 19), (40, 2))]
    widths = [necked(*holes, need=10.0, turn=turn) for turn in (0.0, 17.0, 90.0)]
    assert widths[0] is not None
    assert widths == pytest.approx([widths[0]] * 3, abs=0.02)


def test_copper_with_too_many_holes_is_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pairs of pieces of rims nearer than needed, counted one by one, times the two ends: exactly as many are."""
    need = 4.0
    copper = shapely.difference(SHEET, shapely.union_all([wall(0.9, 6), wall(6.5, 19.1)]))
    at, ring = shapely.get_coordinates(shapely.segmentize(shapely.get_rings(copper), need / STEPS), return_index=True)
    starts = np.flatnonzero(ring[1:] == ring[:-1])
    pieces = shapely.linestrings(np.stack([at[starts], at[starts + 1]], axis=1))
    assert len(pieces) < 600  # so few that all of them are the sample
    webs = -(-sum(int((shapely.distance(piece, pieces) <= need).sum()) for piece in pieces) // 2)
    monkeypatch.setattr(necks, "LOOKED_AT", 2 * webs)
    found = parted(copper, (LEFT, RIGHT), need)
    assert found is not None
    assert found[1][0].neck.width == pytest.approx(0.9 + 0.5 + 0.9, rel=2.5e-3)
    monkeypatch.setattr(necks, "LOOKED_AT", 2 * webs - 2)
    assert parted(copper, (LEFT, RIGHT), need) is None
    assert parted(copper, (LEFT,), need) == ([0], [])  # nothing to part


def test_hundreds_of_holes_are_looked_at() -> None:
    """A plane with vias every 1.2 and 1.0 mm: twenty webs of 0.4 mm add up to far more than one millimetre."""
    spots = [shapely.Point(1.2 * n + 20, m + 0.5).buffer(0.3) for n in range(20) for m in range(20)]
    plane = shapely.difference(SHEET, shapely.union_all(spots))
    small = [shapely.Point(x, 10).buffer(0.2) for x in (20.6, 42.2)]  # in the meshes, where nothing is wide enough
    assert parted(plane, small, 1.0) == ([0, 0], [])
