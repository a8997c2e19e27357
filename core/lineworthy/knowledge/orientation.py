# SPDX-License-Identifier: MIT
"""Whether a person sees on the board which way round a part goes.

A part needs a mark where its lands look the same after a turn but the part is not: then only what is printed, or a
land of another shape, tells. A mark is anything that does not look the same after that turn, and that the part's own
land pattern draws; of what is drawn on the board beside it, only what looks like a mark of this part (`endmarks`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from enum import Enum
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import objects
from lineworthy.knowledge.endmarks import FIRST_PINS, MARK_MIN_MM2, SAME_MM, Asked, EndMarks, least_mark_mm2, lopsided
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.model import Board, LayerKind, MarkingRole, Part, Side
from lineworthy.shapes import Point

CHIPS = frozenset({Family.SMALL_OUTLINE, Family.QUAD_FLAT, Family.NO_LEAD, Family.ARRAY, Family.THROUGH_IC})
"""Packages with a pin 1 whose lands are mostly the same after a turn by half."""

PINS_MIN = 4

_NAMED = frozenset({Family.CONNECTOR, Family.MECHANICAL})
"""What has signs and numbers of its own beside it: connectors and test points."""

BAR_SHARE, BAR_WIDTH = 0.95, 0.5
"""A cathode's bar: nearly all that makes a drawing lopsided, and at least half as wide as the drawing."""

_LIGHT = re.compile(r"(?i)led(?![a-z])|photo|lamp")
"""Light-emitting diodes are marked by a flat, a corner or a dot, at either end."""

_EITHER_WAY = re.compile(r"(?i)esd|tvs|bi-?dir|varistor|suppress|transil|spark|non.?polar|bipolar")
"""Protection parts mostly work either way round, and their names seldom say which do."""


class Seen(Enum):
    """What is to be seen of a part's mark."""

    YES = "yes"
    UNDER_THE_BODY = "under the body"
    NO = "no"


class Orientation:
    """Answers for the parts of one board."""

    def __init__(self, board: Board, packages: Packages) -> None:
        self._board, self._packages = board, packages
        self._same: dict[Part, tuple[int, ...]] = {}
        self._told: dict[Part, Seen] = {}

    def needs_mark(self, part: Part) -> bool:
        """Whether the lands leave open which way round a part goes that must go one way."""
        facts = self._packages.of(part)
        if _EITHER_WAY.search(f"{part.value} {part.description} {part.package}"):
            return False
        if not part.fitted or not (facts.polarised or _has_pin_one(part, facts)):
            return False
        return bool(self._turns(part))

    def seen(self, part: Part) -> Seen:
        """Whether something printed beside a part tells which way round it goes."""
        own = self._own_answer(part)
        if own is Seen.YES:
            return own
        on_board = [*self._on_board(part)]
        return self._answer(part, [*self._own.get(part.uid, ()), *on_board]) if on_board else own

    def _own_answer(self, part: Part) -> Seen:
        """What a part's lands and its own drawing tell."""
        if part not in self._told:
            odd = _odd_land(part)
            self._told[part] = Seen.YES if odd else self._answer(part, self._own.get(part.uid, ()))
        return self._told[part]

    def _answer(self, part: Part, drawings: Sequence[BaseGeometry]) -> Seen:
        drawn, centre, least = shapely.union_all(list(drawings)), _centre(part), least_mark_mm2(part)
        beside = drawn if part.body is None else drawn.difference(part.body)
        for shape, answer in ((beside, Seen.YES), (drawn, Seen.UNDER_THE_BODY)):
            if all(lopsided(shape, turn, centre, least) for turn in self._turns(part)):
                return answer
        return Seen.NO

    def bar_at_anode(self, part: Part) -> bool:
        """Whether a diode's own legend has its bar at the pin that the schematic calls anode."""
        ends = {pad.pin_name.upper(): pad.at for pad in part.pads if pad.copper}
        if not part.fitted or len(part.pads) != 2 or set(ends) != {"A", "K"}:
            return False
        if _LIGHT.search(f"{part.package} {part.value} {part.description}"):
            return False
        legend = shapely.union_all(self._legend.get(part.uid, []))
        odd = legend.difference(rotate(legend, 180, origin=_centre(part)).buffer(SAME_MM))
        if odd.area < MARK_MIN_MM2:
            return False
        axis = np.subtract(ends["K"], ends["A"])
        along, across = _turned(axis)
        if _span(odd, across) < BAR_WIDTH * _span(legend, across):
            return False
        there = odd.intersection(_half_plane(_centre(part), along, across))
        return bool(there.area >= BAR_SHARE * odd.area)

    @cached_property
    def _legend(self) -> dict[str, list[BaseGeometry]]:
        """What each part draws on its own side's legend, lettering left out."""
        side_of = {part.uid: part.side for part in self._board.parts}
        found: dict[str, list[BaseGeometry]] = {}
        for graphic in self._board.graphics:
            if graphic.layer.kind is LayerKind.LEGEND and graphic.layer.side is side_of.get(graphic.part_uid):
                found.setdefault(graphic.part_uid, []).append(graphic.shape)
        return found

    def _turns(self, part: Part) -> tuple[int, ...]:
        """Turns, in degrees, after which a part's lands look the same."""
        if part not in self._same:
            self._same[part] = _alike_turns(_spots(part), np.array(_centre(part)))
        return self._same[part]

    def _on_board(self, part: Part) -> Iterator[BaseGeometry]:
        """What is drawn on the board itself as this part's mark: nothing else is nearer that it could speak of."""
        shapes, tree = self._others[part.side]
        for mark in self._end_marks.beside(self._asked(part)):
            nearer = mark.distance(part.extent) - SAME_MM
            if nearer < 0.0 or all(shapes[n] is part.extent for n in tree.query(mark, "dwithin", nearer)):
                yield mark

    @cached_property
    def _end_marks(self) -> EndMarks:
        return EndMarks(self._board)

    @cached_property
    def _others(self) -> dict[Side, tuple[npt.NDArray[np.object_], shapely.STRtree]]:
        """What a mark may speak of, by side: parts that need one and draw none themselves, connectors, test points."""
        found: dict[Side, list[BaseGeometry]] = {side: [] for side in Side}
        for part in self._board.parts:
            is_wired = self._packages.of(part).family in _NAMED and any(pad.copper for pad in part.pads)
            if is_wired or (self.needs_mark(part) and self._own_answer(part) is not Seen.YES):
                found[part.side].append(part.extent)
        return {side: (objects(some), shapely.STRtree(some)) for side, some in found.items()}

    def _asked(self, part: Part) -> Asked:
        spots, centre, turns = _spots(part), _centre(part), self._turns(part)
        if self._packages.of(part).polarised:
            return Asked(part, centre, turns, (spots[0], spots[-1]), two_ended=True)
        lands = [pad for pad in part.pads if pad.copper and pad.number in FIRST_PINS]
        first = [shapely.Point(lands[0].at)] if lands else []
        ends = [rotate(spot, turn, origin=centre) for spot in first for turn in (0, *turns)]
        return Asked(part, centre, turns, tuple((end.x, end.y) for end in ends), two_ended=False)

    @cached_property
    def _own(self) -> dict[str, list[BaseGeometry]]:
        side_of = {part.uid: part.side for part in self._board.parts}
        found: dict[str, list[BaseGeometry]] = {}
        for graphic in self._board.graphics:
            if graphic.part_uid and graphic.layer.is_made and graphic.layer.side is side_of.get(graphic.part_uid):
                found.setdefault(graphic.part_uid, []).append(graphic.shape)
        for marking in self._board.shown_markings:
            is_mark = marking.role is MarkingRole.FREE and marking.layer.is_made
            if is_mark and marking.part_uid and marking.layer.side is side_of.get(marking.part_uid):
                found.setdefault(marking.part_uid, []).append(marking.extents)
        return found


def _has_pin_one(part: Part, facts: PackageFacts) -> bool:
    return facts.family in CHIPS and len(_spots(part)) >= PINS_MIN


def _alike_turns(spots: npt.NDArray[np.float64], centre: npt.NDArray[np.float64]) -> tuple[int, ...]:
    """Turns, in degrees, after which every spot has another one in its place."""
    if len(spots) < 2:
        return ()
    tree = shapely.STRtree(np.asarray(shapely.points(spots), dtype=object))
    found = []
    for turn in (90, 180, 270):
        angle = np.radians(turn)
        axes = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        turned = shapely.points((spots - centre) @ axes + centre)
        if len(np.unique(tree.query(turned, predicate="dwithin", distance=2 * SAME_MM)[0])) == len(spots):
            found.append(turn)
    return tuple(found)


def _spots(part: Part) -> npt.NDArray[np.float64]:
    return np.array([pad.at for pad in part.pads if pad.copper and pad.number], dtype=float).reshape(-1, 2)


def _centre(part: Part) -> Point:
    spots = _spots(part)
    middle = (spots.min(axis=0) + spots.max(axis=0)) / 2 if len(spots) else np.array(part.at)
    return (float(middle[0]), float(middle[1]))


def _odd_land(part: Part) -> bool:
    """Whether land 1 (or A1) is shaped unlike the one it would change places with."""
    lands = [pad for pad in part.pads if pad.copper and pad.number]
    kinds = [(pad.shape, tuple(sorted(round(size, 3) for size in pad.size))) for pad in lands]
    count = Counter(kinds)
    usual = max(count.values(), default=1)
    return any(pad.number in ("1", "A1", "A", "K", "+") and count[kind] < usual for pad, kind in zip(lands, kinds)) or (
        len(kinds) == 2 and kinds[0] != kinds[1]
    )


def _turned(axis: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Unit vectors along an axis and across it."""
    along = axis / max(float(np.hypot(*axis)), 1e-9)
    return along, np.array([-along[1], along[0]])


def _span(shape: BaseGeometry, direction: npt.NDArray[np.float64]) -> float:
    """How far a shape reaches in a direction, mm."""
    return float(np.ptp(shapely.get_coordinates(shape) @ direction))


def _half_plane(
    at: Point, along: npt.NDArray[np.float64], across: npt.NDArray[np.float64], reach: float = 1e3
) -> shapely.Polygon:
    """All that lies behind a point, as seen along an axis."""
    wide, back = reach * across, reach * along
    return shapely.Polygon([at + wide, at - wide, at - wide - back, at + wide - back])
