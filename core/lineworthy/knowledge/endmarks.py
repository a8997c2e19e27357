# SPDX-License-Identifier: MIT
"""Marks of polarity and pin 1 that are drawn on the board itself, and not by the part they stand beside.

What a land pattern draws is meant for its part. What is drawn on the board may be anything: the name of a lamp, the
frame of a section, the sign of a terminal. It is a mark where it looks like one: a text only where it says an end, a
drawing only where all of it stands beside the part, at an end of it or at pin 1, or points by its own shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, exceeds, objects, width_and_length
from lineworthy.model import Board, LayerKind, MarkingRole, Part, Side
from lineworthy.shapes import Point

NEAR_MM = 1.5
"""A mark this near to a part's lands and body speaks of it; all of it is within twice that."""

SAME_MM, MARK_MIN_MM2 = 0.15, 0.01
"""Lines off by less than this after a turn are the same; a dot of 0.12 mm is the least that counts as a mark."""

DOT_SHARE, DOT_MM = 1 / 80, 0.25
"""On a larger part a mark must be larger to be seen: as a dot of this share of its length, up to 0.25 mm. The smallest
marks of the editor's library are a quarter larger."""

END_SHARE = 0.25
"""What stands less than this share of the way between two lands from the middle of a part is at neither end of it."""

CROSS_SHARE = 0.8
"""A plus fills less than this of the octagon round it; a disc and a square all of it."""

FIRST_PINS = ("1", "A1")

_SIGN = r"[-+\u2212\u2013]"
_SYMBOL = rf"(?:(?!{_SIGN})[^\w\s]){{1,2}}|[oO]"
_PIN_ONE = re.compile(rf"\s*(?:{_SYMBOL}|\W?(?:A?1|(?i:pin\W?1))\W?)\s*")
_END = re.compile(
    rf"\s*(?:{_SYMBOL}|\W?(?:{_SIGN}|[12AaCcKkPpNn]|(?i:anode?|[ck]ath?ode?|plus|minus|pos|neg|pin\W?1))\W?"
    rf"|\+.*|.*[\w.)]{_SIGN})\s*"
)
"""What marks pin 1 of a chip, and an end of a part with two: a dot or the like, a sign, a letter or a word of the end,
a supply with its sign. Other texts that happen to stand there tell nothing of the part."""


def least_mark_mm2(part: Part) -> float:
    """How much of what is drawn must not look the same after a turn to be seen beside a part."""
    long = 0.0 if part.extent.is_empty else width_and_length(part.extent)[1]
    return max(np.pi / 4 * min(DOT_SHARE * long, DOT_MM) ** 2, MARK_MIN_MM2)


def lopsided(shape: BaseGeometry, turn: int, centre: Point, least: float = MARK_MIN_MM2) -> bool:
    """Whether a drawing does not look the same after a turn, by `least` mm2 or more."""
    return bool(shape.difference(rotate(shape, turn, origin=centre).buffer(SAME_MM)).area >= least)


@dataclass(frozen=True, eq=False)
class Asked:
    """A part whose mark is looked for.

    Attributes:
        ends: the middles of the two outer lands of a part with two ends; of a chip, that of its first pin and those of
            the pins that come to its place by the turns after which the lands look the same; none where no pin is the
            first.
        turns: these turns, degrees.
    """

    part: Part
    centre: Point
    turns: tuple[int, ...]
    ends: tuple[Point, ...]
    two_ended: bool


class EndMarks:
    """What is drawn on a board itself, or by something without lands that was put there for its drawing, by side."""

    def __init__(self, board: Board) -> None:
        texts = [m for m in board.shown_markings if m.role is MarkingRole.FREE and m.layer.is_made and m.text]
        landed = {part.uid for part in board.parts if any(pad.copper for pad in part.pads)}
        self._drawn = {side: _tree(_drawings(board, side, landed)) for side in Side}
        self._texts = {side: [m for m in texts if m.layer.side is side and m.part_uid not in landed] for side in Side}
        self._boxes = {side: _tree([m.extents for m in self._texts[side]]) for side in Side}

    def beside(self, asked: Asked) -> Iterator[BaseGeometry]:
        """Texts and drawings that look like a mark of this part."""
        part = asked.part
        near, wide = part.extent.buffer(NEAR_MM), part.extent.buffer(2 * NEAR_MM)
        if near.is_empty:
            return
        shapes, tree = self._drawn[part.side]
        # strokes that touch are one drawing
        drawing = shapely.union_all(shapes[tree.query(wide, predicate="intersects")])
        for piece in shapely.get_parts(drawing):
            if near.intersects(piece) and wide.covers(piece) and _tells(piece, asked):
                yield piece
        boxes, tree = self._boxes[part.side]
        says = _END if asked.two_ended else _PIN_ONE
        for n in tree.query(near, predicate="intersects"):
            there = _at_an_end(boxes[n], asked) if asked.two_ended else _at_first_pin(boxes[n], asked)
            if there and says.fullmatch(self._texts[part.side][n].text):
                yield boxes[n]


def _drawings(board: Board, side: Side, landed: Set[str]) -> list[BaseGeometry]:
    """The legend of a side that no part with lands draws; a symbol of several pieces, or a large one, is a word."""
    by_owner: dict[str, list[BaseGeometry]] = {}
    for graphic in board.graphics:
        if graphic.layer.kind is LayerKind.LEGEND and graphic.layer.side is side and graphic.part_uid not in landed:
            by_owner.setdefault(graphic.part_uid, []).append(graphic.shape)
    on_board = by_owner.pop("", [])
    symbols = [shapely.union_all(shapes) for shapes in by_owner.values()]
    return [*on_board, *(symbol for symbol in symbols if _is_small(symbol))]


def _is_small(symbol: BaseGeometry) -> bool:
    return bool(shapely.get_num_geometries(symbol) == 1 and not exceeds(width_and_length(symbol)[1], NEAR_MM))


def _tree(shapes: Sequence[BaseGeometry]) -> tuple[npt.NDArray[np.object_], shapely.STRtree]:
    found = objects(shapes)
    return found, shapely.STRtree(found)


def _tells(piece: BaseGeometry, asked: Asked) -> bool:
    """Whether a drawing stands at an end or at pin 1; round the part, or beside its middle, it must be lopsided."""
    if _is_round(piece, asked):
        middle = shapely.minimum_rotated_rectangle(piece).centroid
        return all(lopsided(piece, turn, (middle.x, middle.y)) for turn in asked.turns)
    return asked.two_ended or (_at_first_pin(piece, asked) and not _is_cross(piece))


def _is_cross(piece: BaseGeometry) -> bool:
    """Whether a drawing is a plus: the same after a quarter turn, with gaps between its arms. No chip has one."""
    middle = piece.centroid
    alike = not lopsided(piece, 90, (middle.x, middle.y))
    return bool(
        alike and shapely.get_num_interior_rings(piece) == 0 and piece.area < CROSS_SHARE * piece.convex_hull.area
    )


def _is_round(piece: BaseGeometry, asked: Asked) -> bool:
    if asked.two_ended and not _at_an_end(piece, asked):
        return True
    return bool(piece.convex_hull.intersects(shapely.Point(asked.centre)))


def _at_an_end(piece: BaseGeometry, asked: Asked) -> bool:
    """Whether something stands nearer to one end of a part with two than to its middle."""
    way = np.subtract(asked.ends[-1], asked.ends[0])
    off = np.subtract(piece.centroid.coords[0], asked.centre) @ way / (way @ way or 1.0)
    return bool(abs(float(off)) >= END_SHARE - TOL_MM)


def _at_first_pin(piece: BaseGeometry, asked: Asked) -> bool:
    """Whether a pin that could be taken for the first is not nearer."""
    gaps = [piece.distance(shapely.Point(end)) for end in asked.ends]
    return not gaps or gaps[0] <= min(gaps) + TOL_MM
