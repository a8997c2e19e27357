# SPDX-License-Identifier: MIT
"""Where the numbered flags of findings stand on a map: beside their places, never on one another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Optional

import numpy as np
import numpy.typing as npt

from lineworthy.picture import Bounds, Spot
from lineworthy.shapes import Point

FLAGS_MAX = 160
"""More flags than this hide the board. Each finding keeps one; its other places are dots that light up with it."""

FLAGS_FULL = 500
"""A map with so many flags has no room left: what comes after has dots only."""

FLAGS_EACH_MAX = 6
"""More flags with the same number say nothing new."""

ROOM = 4.0
"""Room round the board for flags, in half heights of a flag (`size`)."""

_RINGS = (2.1, 3.4, 4.9, 6.6, 8.6, 11.0, 14.0, 18.0, 23.0)
_DIRECTIONS = 16
_CLEAR = 0.25

_Boxes = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Pin:
    """One flag with the places its stems lead to.

    Attributes:
        finding: the number of the finding, from 1.
        spots: places close together share a flag.
        flag: middle of the flag, None where there is no room for another: dots only.
        half_width: half the width of the flag, wider for longer numbers; its half height is `size`.
    """

    finding: int
    spots: tuple[Spot, ...]
    flag: Optional[Point]
    half_width: float


def place_pins(spots: Sequence[Spot], ranks: Sequence[int], bounds: Bounds, size: float) -> tuple[Pin, ...]:
    """Gives every finding its flag, as long as there is room.

    Args:
        spots: places on this side; `Spot.finding` counts from 0.
        ranks: gravity of each finding, 0 first: the gravest get the nearest room.
        bounds: the board.
        size: half the height of a flag, mm.

    Returns:
        Pins in the order of findings and places.
    """
    clusters = list(_clusters(spots, 3 * size))
    nth = _nth([cluster[0].finding for cluster in clusters])
    order = sorted(range(len(clusters)), key=lambda n: (nth[n] > 0, ranks[clusters[n][0].finding], n))
    room = bounds.padded(ROOM * size)
    dots = np.array([spot.at for spot in spots]).reshape(-1, 2)
    taken: list[tuple[float, float, float, float]] = []
    flags: dict[int, Point] = {}
    order = [n for n in order if nth[n] < FLAGS_EACH_MAX]
    for n in order[: min(max(FLAGS_MAX, nth.count(0)), FLAGS_FULL)]:
        half = _half_width(clusters[n][0].finding + 1, size)
        flags[n] = _free_place(clusters[n][0].at, (half, size), room, np.array(taken).reshape(-1, 4), dots)
        x, y = flags[n]
        taken.append((x - half, y - size, x + half, y + size))
    return tuple(
        Pin(c[0].finding + 1, tuple(c), flags.get(n), _half_width(c[0].finding + 1, size))
        for n, c in enumerate(clusters)
    )


def _clusters(spots: Sequence[Spot], reach: float) -> Iterator[list[Spot]]:
    """Places of one finding that are near its first place, together."""
    by_finding: dict[int, list[list[Spot]]] = {}
    for spot in spots:
        clusters = by_finding.setdefault(spot.finding, [])
        for cluster in clusters:
            if np.hypot(spot.at[0] - cluster[0].at[0], spot.at[1] - cluster[0].at[1]) <= reach:
                cluster.append(spot)
                break
        else:
            clusters.append([spot])
    for clusters in by_finding.values():
        yield from clusters


def _nth(findings: Sequence[int]) -> list[int]:
    """For each cluster, how many of its finding came before."""
    seen: Counter[int] = Counter()
    nth: list[int] = []
    for finding in findings:
        nth.append(seen[finding])
        seen[finding] += 1
    return nth


def _half_width(number: int, size: float) -> float:
    return size * (1.0 + 0.5 * (len(str(number)) - 1))


def _free_place(at: Point, flag: tuple[float, float], room: Bounds, taken: _Boxes, dots: _Boxes) -> Point:
    """The nearest place that covers no other flag and, where that is possible, no place of a finding."""
    half, size = flag
    spots = np.array([spot for ring in _RINGS for spot in _ring(at, ring * size, half - size)])
    inside = (
        (spots[:, 0] >= room.left + half)
        & (spots[:, 0] <= room.right - half)
        & (spots[:, 1] >= room.bottom + size)
        & (spots[:, 1] <= room.top - size)
    )
    gap = _CLEAR * size
    free = inside & ~_covers(spots, half + gap, size + gap, taken)
    boxes = np.hstack([dots, dots])
    clear = free & ~_covers(spots, half + gap, size + gap, boxes)
    for good in (clear, free, inside):
        if good.any():
            best = spots[int(np.argmax(good))]
            return float(best[0]), float(best[1])
    return room.nearest(at)


def _ring(at: Point, radius: float, stretch: float) -> Iterator[Point]:
    """Up first, then to the right and round, alternating sides."""
    for n in range(_DIRECTIONS):
        turn = np.pi / 2 + (-1) ** n * ((n + 1) // 2) * 2 * np.pi / _DIRECTIONS
        yield at[0] + (radius + stretch) * float(np.cos(turn)), at[1] + radius * float(np.sin(turn))


def _covers(middles: _Boxes, half: float, size: float, boxes: _Boxes) -> npt.NDArray[np.bool_]:
    """Which middles would make a flag of this size overlap one of the boxes (left, bottom, right, top)."""
    if not len(boxes):
        return np.zeros(len(middles), dtype=bool)
    x, y = middles[:, 0, None], middles[:, 1, None]
    across = (x - half < boxes[None, :, 2]) & (x + half > boxes[None, :, 0])
    up = (y - size < boxes[None, :, 3]) & (y + size > boxes[None, :, 1])
    covered: npt.NDArray[np.bool_] = np.any(across & up, axis=1)
    return covered
