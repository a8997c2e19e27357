# SPDX-License-Identifier: MIT
"""How boards of a panel will be parted, as far as the settings or the document say, and along which lines."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import edges, falls_short, width_and_length
from lineworthy.knowledge.breaks import BoardSide, Break, Overhang, overhangs, sides
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.panelsigns import (
    BiteRow,
    bite_rows,
    copies,
    panel_signs,
    score_lines,
    slots_part_it,
    spoken_scored,
    spoken_tabs,
)
from lineworthy.model import Board
from lineworthy.sheet import Sheet

EDGE_MIN_MM = 5.0
"""Straight edges shorter than this are chamfers and notches; nobody parts boards along them."""


class Method(Enum):
    """How boards are parted; a person may say it in the settings."""

    SINGLE = "single"
    """Not at all: the board is built one by one."""
    SCORED = "scored"
    ROUTED = "routed"
    """Slots all round, and tabs that are broken, cut or milled."""
    MIXED = "mixed"
    """Scored where it can be, routed on the other sides."""


METHODS = tuple(method.value for method in Method)
"""What the settings may say."""


@dataclass(frozen=True, eq=False)
class BreakLine:
    """Where boards are, or may be, parted: by a score, at a tab, or by what nobody has said yet (`how` None).

    Attributes:
        drawn: the document holds this line; otherwise it is the side of a board.
        side: the side it lies on, None for a drawn one.
    """

    line: BaseGeometry = field(repr=False)
    how: Optional[Method]
    drawn: bool = False
    side: Optional[BoardSide] = None


class Separation:
    """Whether a board is built in a panel, and how its boards are parted."""

    def __init__(self, board: Board, packages: Packages, said: str = "") -> None:
        """`said` is a `Method`'s value out of the settings, empty when they do not say; kept as a `Method` or None."""
        self._board = board
        self._packages = packages
        self.said = Method(said) if said else None

    @cached_property
    def size(self) -> Optional[tuple[float, float]]:
        """Shorter and longer side of the smallest rectangle round the board, mm; None without an outline."""
        area = self._board.outline.area
        return None if area.is_empty else width_and_length(area)

    @cached_property
    def signs(self) -> tuple[str, ...]:
        """What in the document shows a panel or speaks of one."""
        return tuple(panel_signs(self._board))

    @cached_property
    def method(self) -> Optional[Method]:
        """What the settings say, else what the document shows; None when neither does."""
        if self.said is not None:
            return self.said
        scored, routed = bool(self.scores), bool(self.tabs) or slots_part_it(self._board)
        if not (scored or routed) and spoken_scored(self._board):
            return Method.MIXED  # words do not say which sides
        routed = routed or spoken_tabs(self._board)
        if scored or routed:
            return Method.MIXED if scored and routed else Method.SCORED if scored else Method.ROUTED
        return None

    @cached_property
    def basis(self) -> str:
        """Where the method is known from, in words; empty when it is not known."""
        if self.said is not None:
            return "the settings say"
        return "the document says" if self.method else ""

    @cached_property
    def scores(self) -> tuple[BaseGeometry, ...]:
        """Scores that are drawn."""
        return tuple(score_lines(self._board))

    @cached_property
    def tabs(self) -> tuple[BiteRow, ...]:
        """Rows of break-away holes that are drawn."""
        return tuple(bite_rows(self._board))

    @cached_property
    def is_drawn(self) -> bool:
        """Whether the document holds the panel itself, and not one board of it."""
        pieces = int(shapely.get_num_geometries(self._board.outline.area))
        drawn = pieces > 1 or bool(self.scores) or bool(self.tabs) or slots_part_it(self._board)
        return drawn or copies(self._board) > 1

    def is_small(self, sheet: Sheet) -> bool:
        """Whether a line would not run the board singly, by the sheet's limits."""
        if self.size is None:
            return False
        shorter, longer = self.size
        panel = sheet.panel
        return falls_short(shorter, panel.single_min_mm) or falls_short(longer, panel.panel_wanted_below_mm)

    def is_parted(self, sheet: Sheet) -> bool:
        """Whether boards are separated at all: small ones are, and those that say so or show it."""
        if self.said is not None:
            return self.said is not Method.SINGLE
        return self.is_small(sheet) or bool(self.signs)

    def runs_by_itself(self, sheet: Sheet) -> bool:
        """Whether what this document holds is what rides on the line: a board run singly, or a drawn panel in one."""
        in_one = int(shapely.get_num_geometries(self._board.outline.area)) == 1
        return in_one and (self.is_drawn or not self.is_parted(sheet))

    def comes_on_rails(self, sheet: Sheet) -> bool:
        """Whether the board rides on the line in a panel that somebody else draws: they say so, or it is too small."""
        if self.is_drawn or self.size is None:
            return False
        if self.said is not None:
            return self.said is not Method.SINGLE
        return bool(self.signs) or falls_short(self.size[0], sheet.panel.single_min_mm)

    @cached_property
    def sides(self) -> tuple[BoardSide, ...]:
        """The four sides of the board; see `breaks.sides`."""
        return sides(self._board)

    @cached_property
    def overhangs(self) -> tuple[Overhang, ...]:
        """Parts that reach over a side of the board."""
        return tuple(overhangs(self._board, self._packages, self.sides))

    @cached_property
    def lines(self) -> tuple[BreakLine, ...]:
        """Where boards are parted: drawn lines, else the straight edges of the sides; none where nobody can tell."""
        drawn = [BreakLine(line, Method.SCORED, drawn=True) for line in self.scores]
        drawn += [BreakLine(row.line, Method.ROUTED, drawn=True) for row in self.tabs]
        if drawn:
            return tuple(drawn)
        if self.is_drawn:
            # boards side by side can be parted at any edge; inside of one outline only drawn lines would tell where
            apart = shapely.get_num_geometries(self._board.outline.area) > 1
            return tuple(BreakLine(edge, self.method) for edge in straight_edges(self._board)) if apart else ()
        return tuple(
            BreakLine(stretch, self.how(side), side=side) for side in self.sides for stretch in _long(side.edge)
        )

    def how(self, side: BoardSide) -> Optional[Method]:
        """How a board is parted at one of its sides."""
        if self.method is not Method.MIXED:
            return self.method
        out = side.by is Break.ROUTED or any(one.side is side for one in self.overhangs)
        return Method.ROUTED if out else Method.SCORED


def _long(edge: BaseGeometry) -> list[BaseGeometry]:
    return [part for part in shapely.get_parts(edge) if part.length >= EDGE_MIN_MM]


def straight_edges(board: Board) -> list[BaseGeometry]:
    """Straight stretches of the outer edge from `EDGE_MIN_MM` on, pieces in one line joined."""
    outer = [Polygon(piece.exterior) for piece in shapely.get_parts(board.outline.area)]
    # points in the middle of a straight stretch would cut it into pieces too short to count
    rim = edges([piece.simplify(1e-4) for piece in outer])
    keep = (rim.sweep == 0.0) & (rim.length >= EDGE_MIN_MM)
    return list(np.asarray(rim.lines)[keep])
