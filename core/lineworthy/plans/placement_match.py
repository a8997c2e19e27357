# SPDX-License-Identifier: MIT
"""Whether a placement file puts the board's parts where they are, and in which convention it says so.

A file may count from another origin, mirror the bottom side's x, count turns the other way on the bottom, or be in
another unit than it says. What most parts agree on is the file's convention; what does not follow it is wrong.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot
from typing import Callable, Optional

import shapely

from lineworthy.geometry import exceeds
from lineworthy.intake.placement import Placed, PlacementFile
from lineworthy.model import Board, Mount, Part, Side
from lineworthy.shapes import Point

PLACE_MM = 0.05
"""A part may be said to be this far from its place (common practice, no source)."""

TURN_DEG = 0.5
"""Placement files round turns to a whole or half degree at worst."""

_SCALES = (("", 1.0), ("inch", 25.4), ("mil", 0.0254), ("mm read as inch", 1 / 25.4), ("mm read as mil", 1 / 0.0254))
_TURNS: tuple[tuple[str, Callable[[float], float]], ...] = (
    ("", lambda turn: turn),
    ("turned the other way", lambda turn: -turn),
    ("turned the other way from the left", lambda turn: 180.0 - turn),
    ("turned by 180 degrees", lambda turn: turn + 180.0),
)


@dataclass(frozen=True)
class Convention:
    """How a file says where a part is.

    Attributes:
        scale: factor that makes its lengths mm; 1 when they are what the file says.
        scale_name: the unit they really have, empty when it is the stated one.
        origins: where the board's own origin lies, by side (the sides differ where x is mirrored).
        mirrored: whether x of the bottom side is mirrored.
        bottom_turn: how turns on the bottom differ from the board's, in words; empty when they do not.
        share: how many of the parts follow it.
    """

    scale: float
    scale_name: str
    origins: tuple[tuple[Side, Point], ...]
    mirrored: bool
    bottom_turn: str = ""
    share: float = 0.0

    def place(self, placed: Placed, side: Side) -> Point:
        """Where the file puts a part, in the board's frame."""
        x, y = placed.at[0] * self.scale, placed.at[1] * self.scale
        origin = dict(self.origins).get(side, (0.0, 0.0))
        flip = -1.0 if self.mirrored and side is Side.BOTTOM else 1.0
        return flip * (x - origin[0]), y - origin[1]


@dataclass(frozen=True)
class Couple:
    """A part and the line of the file that places it."""

    part: Part
    placed: Placed
    off: float = 0.0
    turn: Optional[float] = None


class PlacementMatch:
    """All placement files of a release together against the board."""

    def __init__(self, board: Board, files: Sequence[PlacementFile]) -> None:
        self._board = board
        self._placed = [placed for file in files for placed in file.placed]

    @cached_property
    def couples(self) -> tuple[Couple, ...]:
        """Parts with their line, by reference; for parts of one name the nearest line."""
        by_name: dict[str, list[Placed]] = {}
        for placed in self._placed:
            by_name.setdefault(placed.reference.casefold(), []).append(placed)
        return tuple(
            Couple(part, lines[0])
            for part in self._board.parts
            if (lines := by_name.get(part.reference.casefold())) and len(self._named[part.reference.casefold()]) == 1
        )

    @cached_property
    def _named(self) -> dict[str, list[Part]]:
        found: dict[str, list[Part]] = {}
        for part in self._board.parts:
            found.setdefault(part.reference.casefold(), []).append(part)
        return found

    @cached_property
    def convention(self) -> Convention:
        """What most parts agree on."""
        best = Convention(1.0, "", (), False)
        for name, scale in _SCALES:
            for mirrored in (False, True):
                found = self._tried(name, scale, mirrored)
                if found.share > best.share + 1e-9:
                    best = found
        turn = max(_TURNS, key=lambda item: (self._turned_alike(item[1]), not item[0]))
        return Convention(best.scale, best.scale_name, best.origins, best.mirrored, turn[0], best.share)

    @cached_property
    def displaced(self) -> tuple[Couple, ...]:
        """Parts that the file puts elsewhere, with the distance in mm; none where hardly any part fits."""
        found = []
        for couple in self.couples:
            at = self.convention.place(couple.placed, couple.part.side)
            off = min(hypot(at[0] - x, at[1] - y) for x, y in _middles(couple.part))
            if exceeds(off, PLACE_MM):
                found.append(Couple(couple.part, couple.placed, off))
        return tuple(found)

    @cached_property
    def wrong_side(self) -> tuple[Couple, ...]:
        """Parts that the file puts on the other side."""
        return tuple(c for c in self.couples if c.placed.side not in (None, c.part.side))

    @cached_property
    def wrong_turn(self) -> tuple[Couple, ...]:
        """Parts that the file turns otherwise, with how much; where most differ, otherwise than the others alike."""
        off = [(couple, self._turn_off(couple)) for couple in self.couples if couple.placed.rotation is not None]
        wrong = [Couple(couple.part, couple.placed, turn=turn) for couple, turn in off if exceeds(abs(turn), TURN_DEG)]
        if len(wrong) <= 0.3 * len(off):
            return tuple(wrong)
        # the file follows a land-pattern library with other zeros: a part must then turn as the others of its package
        own: dict[str, Counter[float]] = {}
        for couple, turn in off:
            own.setdefault(couple.part.package, Counter())[round(turn) % 360.0] += 1
        return tuple(
            Couple(couple.part, couple.placed, turn=turn)
            for couple, turn in off
            if own[couple.part.package][round(turn) % 360.0] * 2 <= own[couple.part.package].total()
        )

    @property
    def other_zeros(self) -> bool:
        """Whether the file counts the turns of many packages from another zero than the board does."""
        off = [self._turn_off(couple) for couple in self.couples if couple.placed.rotation is not None]
        return sum(abs(turn) > TURN_DEG for turn in off) > 0.3 * len(off)

    @cached_property
    def missing(self) -> tuple[Part, ...]:
        """Fitted parts that the board wants placed and no line places.

        Parts fitted by hand are often left out altogether, which is no omission; a side of which nothing is placed is
        one, and not one for each of its parts (see `missing_sides`).
        """
        lacking = self._wanted
        for by_hand in (lambda part: part.mount is not Mount.SURFACE, _has_leads):
            if not any(by_hand(couple.part) for couple in self.couples):
                lacking = [part for part in lacking if not by_hand(part)]
        named = {placed.reference.casefold() for placed in self._placed}
        return tuple(
            part for part in lacking if part.reference.casefold() not in named and part.side not in self.missing_sides
        )

    @cached_property
    def missing_sides(self) -> tuple[Side, ...]:
        """Sides with surface parts to be placed, of which no line places any while the other side is there."""
        sides = {couple.part.side for couple in self.couples}
        wanted = {part.side for part in self._wanted if part.mount is Mount.SURFACE and not _has_leads(part)}
        return tuple(side for side in Side if side in wanted and side not in sides) if sides else ()

    @cached_property
    def _wanted(self) -> list[Part]:
        return [part for part in self._board.parts if part.fitted and part.in_placement and not part.board_only]

    @cached_property
    def unknown(self) -> tuple[Placed, ...]:
        """Lines whose reference no part of the board has."""
        return tuple(placed for placed in self._placed if placed.reference.casefold() not in self._named)

    @cached_property
    def not_fitted(self) -> tuple[Couple, ...]:
        """Do-not-fit parts that the file places."""
        return tuple(couple for couple in self.couples if not couple.part.fitted)

    @cached_property
    def repeated(self) -> tuple[str, ...]:
        """References with more lines than the board has parts of that name."""
        count = Counter(placed.reference.casefold() for placed in self._placed)
        return tuple(
            placed.reference
            for key, times in count.items()
            if times > max(len(self._named.get(key, ())), 1)
            for placed in [next(p for p in self._placed if p.reference.casefold() == key)]
        )

    def _tried(self, name: str, scale: float, mirrored: bool) -> Convention:
        """The convention with the origins most parts vote for, and the share of parts that follow it."""
        origins: list[tuple[Side, Point]] = []
        top = self._origin(Side.TOP, scale, False, None)
        if top is not None:
            origins.append((Side.TOP, top))
        bottom = self._origin(Side.BOTTOM, scale, mirrored, top)
        if bottom is not None:
            origins.append((Side.BOTTOM, bottom))
        found = Convention(scale, name, tuple(origins), mirrored)
        fits = sum(
            min(hypot(at[0] - x, at[1] - y) for x, y in _middles(couple.part)) <= PLACE_MM
            for couple in self.couples
            for at in [found.place(couple.placed, couple.part.side)]
        )
        share = fits / len(self.couples) if self.couples else 0.0
        # with a side of one or two parts any mirroring fits: the plain reading is to be preferred
        return Convention(scale, name, tuple(origins), mirrored, share=share - (0.001 if mirrored or name else 0.0))

    def _origin(self, side: Side, scale: float, mirrored: bool, other: Optional[Point]) -> Optional[Point]:
        flip = -1.0 if mirrored else 1.0
        votes: Counter[Point] = Counter()
        for couple in self.couples:
            if couple.part.side is side:
                x, y = couple.placed.at[0] * scale, couple.placed.at[1] * scale
                votes[round(x - flip * couple.part.at[0], 1) + 0.0, round(y - couple.part.at[1], 1) + 0.0] += 1
        if not votes:
            return None
        likely = max(votes, key=lambda spot: (votes[spot], -hypot(*spot)))
        if other is not None and not mirrored and votes[likely] <= 1:
            likely = (round(other[0], 1) + 0.0, round(other[1], 1) + 0.0)  # one part alone has no say against a side
        if hypot(*likely) < 0.15:
            return 0.0, 0.0
        exact = [
            (couple.placed.at[0] * scale - flip * couple.part.at[0], couple.placed.at[1] * scale - couple.part.at[1])
            for couple in self.couples
            if couple.part.side is side
        ]
        near = [spot for spot in exact if abs(spot[0] - likely[0]) <= 0.1 and abs(spot[1] - likely[1]) <= 0.1]
        return _median(x for x, _ in near), _median(y for _, y in near)

    def _turned_alike(self, turn: Callable[[float], float]) -> int:
        return sum(
            abs(_wrapped(turn(couple.placed.rotation) - couple.part.rotation)) <= TURN_DEG
            for couple in self.couples
            if couple.part.side is Side.BOTTOM and couple.placed.rotation is not None
        )

    def _turn_off(self, couple: Couple) -> float:
        assert couple.placed.rotation is not None
        turn = dict(_TURNS)[self.convention.bottom_turn if couple.part.side is Side.BOTTOM else ""]
        return _wrapped(turn(couple.placed.rotation) - couple.part.rotation)


def _middles(part: Part) -> list[Point]:
    """What people give as a part's place: the land pattern's own origin, the middle of its lands, of its body."""
    found = [part.at]
    shapes = [[pad.extent for pad in part.pads], [part.body] if part.body is not None else []]
    for group in shapes:
        if group:
            left, bottom, right, top = shapely.total_bounds(group)
            found.append(((left + right) / 2, (bottom + top) / 2))
    return found


def _has_leads(part: Part) -> bool:
    return any(pad.hole is not None and pad.hole.plated for pad in part.pads)


def _wrapped(turn: float) -> float:
    """Between -180 (not included) and 180."""
    return 180.0 - (180.0 - turn) % 360.0


def _median(values: Iterable[float]) -> float:
    ordered = sorted(values)
    return ordered[len(ordered) // 2] if ordered else 0.0
