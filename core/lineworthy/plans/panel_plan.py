# SPDX-License-Identifier: MIT
"""What a panel plan holds: arrays of one board with everything placed, why they are proposed, and why others are not.

An array lies with its length along x, the way it goes through the line, and its lower left corner at (0, 0); mm, y up,
seen from the top of the board.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import Optional

from shapely import Polygon

from lineworthy.model import Board
from lineworthy.plans.panel_board import LEFT, LOWER, RIGHT, UPPER, Pose, Unit
from lineworthy.shapes import Area, Point
from lineworthy.sheet import Sheet

MARK, HOLE = "mark", "hole"


class Method(Enum):
    """How boards are parted."""

    SCORED = "scored"
    MIXED = "scored and routed"
    ROUTED = "routed with tabs"
    FRAMED = "routed in a frame"


METHODS = {
    Method.SCORED: "straight scores both ways, boards touch",
    Method.MIXED: "scores along the array, routed slots across it",
    Method.ROUTED: "one routed slot between neighbours, held by tabs",
    Method.FRAMED: "a slot round each board, held by tabs in a frame",
}


SCORES = (Method.SCORED, Method.MIXED)
"""Methods with scores between rows."""


class Rails(Enum):
    """Strips along the array's edges that are thrown away."""

    NONE = "no rails"
    TWO = "rails on the long sides"
    FOUR = "rails on all sides"


@dataclass(frozen=True)
class Way:
    """One kind of array: how boards are parted, its rails, how boards lie; `paired`: two by two, one turned over."""

    method: Method
    rails: Rails
    quarters: int
    paired: bool

    @property
    def words(self) -> str:
        """In words."""
        turned = ", boards turned by 90°" if self.quarters else ""
        paired = ", two by two into each other" if self.paired else ""
        return f"{self.method.value}, {self.rails.value}{turned}{paired}"


@dataclass(frozen=True, eq=False)
class Cell:
    """What repeats in an array: one board or a pair.

    Attributes:
        poses: of its boards; the lower left corner of the rectangle round their outlines is (0, 0).
        beyond: how far something reaches over that rectangle: lower, right, upper, left.
    """

    poses: tuple[Pose, ...]
    width: float
    height: float
    beyond: tuple[float, float, float, float]


@dataclass(frozen=True)
class Fit:
    """Arrays on a working panel: `across` along its shorter side, `up` along the longer one.

    Attributes:
        gross, usable: share of the whole working panel and of its usable part that boards fill, 0 to 1.
    """

    panel: tuple[float, float]
    border: float
    across: int
    up: int
    turned: bool
    boards: int
    gross: float
    usable: float

    @property
    def arrays(self) -> int:
        """Arrays on one working panel."""
        return self.across * self.up


@dataclass(frozen=True)
class Merit:
    """Something that speaks for or against an array, in points of a percent of utilisation."""

    points: float
    text: str


@dataclass(frozen=True)
class Sizing:
    """An array before anything is drawn: so many cells, so large, and what it is worth.

    Attributes:
        start: lower left corner of the first cell's outlines; `step`: from cell to cell.
    """

    way: Way
    columns: int
    rows: int
    boards: int
    length: float
    width: float
    start: Point
    step: Point
    fit: Fit
    merits: tuple[Merit, ...]

    @property
    def points(self) -> float:
        """All merits together."""
        return sum(merit.points for merit in self.merits)

    @property
    def scored_sides(self) -> tuple[int, ...]:
        """Which sides of a board, as it lies, have a score in some place of the array."""
        if self.way.method not in SCORES:
            return ()
        ends = self.rows > 1 or self.way.rails is not Rails.NONE
        across = self.way.method is Method.SCORED and (self.columns > 1 or self.way.rails is Rails.FOUR)
        return ((LOWER, UPPER) if ends else ()) + ((RIGHT, LEFT) if across else ())


@dataclass(frozen=True, eq=False)
class Tab:
    """A bridge over a slot.

    Attributes:
        at: in the middle of the slot.
        direction: degrees, counter-clockwise from x, of the way across the slot.
        width: along the edge; `length`: across the slot.
        holes: centres of its break-away holes.
        ends: how many of its ends are at a board: 2 between boards, 1 at a rail.
    """

    at: Point
    direction: float
    width: float
    length: float
    shape: Polygon = field(repr=False)
    holes: tuple[Point, ...] = field(repr=False)
    ends: int


@dataclass(frozen=True)
class Score:
    """A straight score from edge to edge of the array."""

    start: Point
    end: Point


@dataclass(frozen=True)
class Spot:
    """A mark or tooling hole in a rail; `clear` is the diameter that is kept free of everything, mm."""

    kind: str
    at: Point
    diameter: float
    clear: float


@dataclass(frozen=True)
class Breaking:
    """What it takes to part one board along one line, by bending.

    Attributes:
        standing: width of material that stands along the line, mm; `web`: how thick it is.
        moment: N mm for the whole line; `lever`: half the board's size across it, mm; `force` there, N.
    """

    what: str
    standing: float
    web: float
    moment: float
    lever: float
    force: float


@dataclass(frozen=True)
class Bearing:
    """How far the array hangs down between the edges it lies on, estimated, mm; the limits beside it."""

    span: float
    cold: float
    hot: float
    cold_limit: float
    hot_limit: float


@dataclass(frozen=True, eq=False)
class Array:
    """A proposed array, drawn.

    Attributes:
        poses: of the straightened board, one for each place, rows from below, from the left.
        outlines: of the boards, with cut-outs.
        overs: what reaches over a board's outline.
        material: all that is left standing when slots are milled: boards, tabs, frame and rails.
        rails: as rectangles.
        break_hole: diameter of break-away holes, mm.
        working_gap: between arrays on the working panel, mm.
        web: what a score leaves, mm; 0 without scores.
        remarks: what to mind.
    """

    sizing: Sizing
    unit: Unit
    poses: tuple[Pose, ...] = field(repr=False)
    outlines: tuple[Polygon, ...] = field(repr=False)
    overs: tuple[Area, ...] = field(repr=False)
    material: Area = field(repr=False)
    rails: tuple[Polygon, ...] = field(repr=False)
    tabs: tuple[Tab, ...] = field(repr=False)
    scores: tuple[Score, ...] = field(repr=False)
    spots: tuple[Spot, ...]
    break_hole: float
    working_gap: float
    web: float
    bearing: Bearing
    breaking: tuple[Breaking, ...]
    remarks: tuple[str, ...]

    @property
    def way(self) -> Way:
        """Its kind."""
        return self.sizing.way

    @property
    def marks(self) -> tuple[Spot, ...]:
        """Panel marks."""
        return tuple(spot for spot in self.spots if spot.kind == MARK)

    @property
    def holes(self) -> tuple[Spot, ...]:
        """Tooling holes."""
        return tuple(spot for spot in self.spots if spot.kind == HOLE)


@dataclass(frozen=True)
class Against:
    """Why some kinds of arrays are not proposed: one reason for all of them.

    Attributes:
        key: the limit, or a word for what is no number.
        count: how many arrays of the search it rules out.
        short: by how much the nearest of them misses the limit, None where no number would help.
    """

    method: Optional[Method]
    key: str
    text: str
    count: int = 1
    short: Optional[float] = None


@dataclass(frozen=True, eq=False)
class PanelPlan:
    """Everything planned for one board.

    Attributes:
        arrays: at most three, best first: the best of each method that works, then the next best.
        searched: how many arrays were weighed; `possible` of them keep all limits.
        against: why not the others, those that were nearest first.
        signs: what shows that the document already is a panel or speaks of one.
    """

    board: Board
    sheet: Sheet
    unit: Unit
    arrays: tuple[Array, ...]
    searched: int
    possible: int
    against: tuple[Against, ...]
    signs: tuple[str, ...] = ()
