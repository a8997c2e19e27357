# SPDX-License-Identifier: MIT
"""A proposed array as a sheet to print: drawing to scale with dimensions, facts, working panel, details, cautions."""

from __future__ import annotations

import numpy as np
import shapely

from lineworthy.knowledge.wording import sentence
from lineworthy.plans.panel_plan import Array, PanelPlan
from lineworthy.report.panel_details import score_detail, tab_detail, working_panel
from lineworthy.report.panel_drawing import Circle, Dimension, Drawing, Kind, drawing
from lineworthy.report.panel_facts import CAUTIONS, PROPOSAL, facts, title
from lineworthy.report.panel_paper import Paper, length_of
from lineworthy.shapes import Coords, Point

WIDTH, HEIGHT = 420.0, 297.0
"""ISO 216 A3, landscape, mm; higher where the words need it."""

SCALES = (5.0, 2.0, 1.0, 1 / 1.5, 1 / 2, 1 / 2.5, 1 / 3, 1 / 4, 1 / 5, 1 / 10)

LEFT, TOP, RIGHT, BOTTOM = 48.0, 36.0, 286.0, 234.0
"""Room for the array itself."""

COLUMN, COLUMN_WIDTH, LABEL = 298.0, 112.0, 27.0

BELOW = (9.0, 17.0, 25.0)
BESIDE = (15.5, 23.5, 31.5)
"""How far dimension lines are from the array, by level."""

PAPER_TOL_MM = 0.015
"""Curves on the paper are true within this."""

NUMBERS_MAX = 400

_STYLE = """
text { font-family: "Segoe UI", "Noto Sans", "DejaVu Sans", Arial, sans-serif; fill: #1b2328 }
.paper { fill: #fff } .soft { fill: #505b62 } .head { font-weight: 600 } .warn { fill: #8a3b00 }
.mid, .num { text-anchor: middle } .end { text-anchor: end }
.num { fill: #2f5c3f; font-weight: 600; paint-order: stroke; stroke: #fff; stroke-width: 60; stroke-opacity: .75 }
.waste { fill: #f0e3c4 } .board { fill: #d7ead9; stroke: #5d8a6a; stroke-width: 12 }
.part { fill: #c3dcc8; stroke: #6f9a7b; stroke-width: 8 } .over { fill: #b7bfc5; stroke: #707c84; stroke-width: 9 }
.routed { fill: none; stroke: #1b2328; stroke-width: 28; stroke-linejoin: round }
.score { fill: none; stroke: #c4261d; stroke-width: 26; stroke-dasharray: 400 90 60 90 }
.break { fill: #fff; stroke: #b85c00; stroke-width: 10 } .hole { fill: #fff; stroke: #1f5fae; stroke-width: 24 }
.mark { fill: #7a1fa2 } .clear { fill: #fff; stroke: #7a1fa2; stroke-width: 12; stroke-dasharray: 50 40 }
.corner { fill: #5d8a6a } .dim { fill: none; stroke: #505b62; stroke-width: 13 } .arrow { fill: #505b62 }
.ext { fill: none; stroke: #8b969d; stroke-width: 9 } .rule { stroke: #b9c2c7; stroke-width: 12 }
.panel { fill: #f6f7f7; stroke: #1b2328; stroke-width: 20 }
.usable { fill: none; stroke: #707c84; stroke-width: 10; stroke-dasharray: 90 60 }
.clear-bar { fill: #fff; stroke: #505b62; stroke-width: 8 }
.array { fill: #d7ead9; stroke: #2f5c3f; stroke-width: 14 } .groove { fill: #fff; stroke: #c4261d; stroke-width: 14 }
"""

CLASSES = {
    Kind.WASTE: "waste",
    Kind.BOARD: "board",
    Kind.PART: "part",
    Kind.OVER: "over",
    Kind.ROUTED: "routed",
    Kind.SCORE: "score",
    Kind.BREAK_HOLE: "break",
    Kind.TOOLING_HOLE: "hole",
    Kind.MARK: "mark",
    Kind.CLEAR: "clear",
    Kind.CORNER: "corner",
}


def draw(plan: PanelPlan, number: int) -> str:
    """The sheet of the array with this number, counted from 1."""
    array = plan.arrays[number - 1]
    sheet = _Sheet(plan, array, drawing(array))
    name = f"Panel plan of {title(plan)}"
    sheet.heading(name, f"Proposal {number} of {len(plan.arrays)}: {array.way.words}")
    sheet.array()
    sheet.legend()
    sheet.column()
    return sheet.paper.write(f"{name}, proposal {number}", _STYLE)


class _Sheet:
    """One sheet while it is drawn."""

    def __init__(self, plan: PanelPlan, array: Array, drawn: Drawing) -> None:
        self.plan, self.made, self.drawn = plan, array, drawn
        self.paper = Paper(WIDTH, HEIGHT)
        length, width = drawn.size
        fits = [scale for scale in SCALES if scale * length <= RIGHT - LEFT and scale * width <= BOTTOM - TOP]
        self.scale = fits[0] if fits else min((RIGHT - LEFT) / length, (BOTTOM - TOP) / width)
        left = LEFT + (RIGHT - LEFT - self.scale * length) / 2
        self.origin = (left, TOP + (BOTTOM - TOP + self.scale * width) / 2)

    def at(self, point: Point) -> Point:
        """A place of the array on the paper."""
        return self.origin[0] + self.scale * point[0], self.origin[1] - self.scale * point[1]

    def rings(self, rings: tuple[Coords, ...]) -> list[Coords]:
        """Rings of the array on the paper, curves in as few points as can be seen."""
        drawn = [np.array(self.origin) + ring * (self.scale, -self.scale) for ring in rings]
        few = shapely.simplify([shapely.LinearRing(ring) for ring in drawn], PAPER_TOL_MM)
        return [shapely.get_coordinates(ring)[:-1] for ring in few]

    def heading(self, name: str, words: str) -> None:
        """Title and what is proposed."""
        self.paper.text((12, 14), _cut(name, 270, 6.0), "head", size=6.0)
        self.paper.text((12, 21.5), words, "soft", size=3.8)
        self.paper.line((12, 25.5), (WIDTH - 10, 25.5), "rule")

    def array(self) -> None:
        """The array with its dimensions, numbers and names."""
        drawn, paper = self.drawn, self.paper
        for outline in drawn.outlines:
            paper.area(self.rings(outline.rings), CLASSES[outline.kind])
        for line in drawn.lines:
            paper.line(self.at(line.start), self.at(line.end), CLASSES[line.kind])
        for circle in drawn.circles:
            paper.circle(self.at(circle.at), self.scale * circle.diameter, CLASSES[circle.kind])
        self._numbers()
        for dimension in drawn.dimensions:
            self._dimension(dimension)
        self._names()

    def _numbers(self) -> None:
        """Boards are numbered where there is room for a number."""
        unit = self.made.unit
        size = min(5.0, self.scale * min(unit.width, unit.height) / 4)
        if size < 1.3 or len(self.drawn.numbers) > NUMBERS_MAX:
            return
        for number, at in enumerate(self.drawn.numbers, 1):
            x, y = self.at(at)
            self.paper.text((x, y + size * 0.36), str(number), "num", size=size)

    def _dimension(self, one: Dimension) -> None:
        if one.axis == "x":
            (x0, bottom), (x1, _) = self.at((one.start, 0.0)), self.at((one.end, 0.0))
            y = bottom + BELOW[one.level - 1]
            for x in (x0, x1):
                self.paper.line((x, bottom + 0.8), (x, y + 1.2), "ext")
            self.paper.measure((x0, y), (x1, y), one.words, outside="after" if one.start > 0 else "before")
            return
        (left, y0), (_, y1) = self.at((0.0, one.start)), self.at((0.0, one.end))
        x = left - BESIDE[one.level - 1]
        for y in (y0, y1):
            self.paper.line((left - 0.8, y), (x - 1.2, y), "ext")
        self.paper.measure((x, y0), (x, y1), one.words, outside="after" if one.start > 0 else "before")

    def _names(self) -> None:
        """Names of marks and holes outside of the array, each as near as there is room."""
        lines = [self.at((edge, 0.0))[0] for one in self.drawn.dimensions if one.axis == "x" for edge in _edges(one)]
        named = sorted((one for one in self.drawn.circles if one.name), key=lambda one: one.at)
        half = self.drawn.size[1] / 2
        for low in (True, False):
            taken: list[float] = []
            for circle in (one for one in named if (one.at[1] < half) == low):
                self._name(circle, low, taken, lines if low else [])

    def _name(self, circle: Circle, low: bool, taken: list[float], lines: list[float]) -> None:
        x, y = self.at(circle.at)
        edge = self.at((0.0, 0.0))[1] + 4.6 if low else self.at((0.0, self.drawn.size[1]))[1] - 2.6
        half = length_of(circle.name, 2.5) / 2
        steps = sorted((0.5 * n for n in range(-60, 61)), key=abs)
        free = (
            x + by
            for by in steps
            if all(abs(x + by - other) > 2 * half + 0.8 for other in taken)
            and all(abs(x + by - line) > half + 1.0 for line in lines)
        )
        place = next(free, x)
        taken.append(place)
        radius = self.scale * circle.diameter / 2
        tip = (x, y + radius) if low else (x, y - radius)
        self.paper.line(tip, (place, edge - 2.2 if low else edge + 0.5), "ext")
        self.paper.text((place, edge), circle.name, "mid", size=2.5)

    def legend(self) -> None:
        """What lines and colours mean, only those that are there; scale and scale bar."""
        paper, x, y = self.paper, 12.0, 274.0
        for kind in Kind:
            if not self.drawn.has(kind):
                continue
            wide = 11.0 + length_of(kind.value, 3.0)
            if x + wide > RIGHT:
                x, y = 12.0, y + 6.5
            self._sample(kind, x, y)
            paper.text((x + 9.5, y), kind.value)
            x += wide
        self._bar(12.0, 287.5)
        paper.text((72, 288.5), PROPOSAL.split(".", maxsplit=1)[0] + ".", "soft", size=2.8)

    def _sample(self, kind: Kind, x: float, y: float) -> None:
        middle, name = y - 1.1, CLASSES[kind]
        if kind in (Kind.SCORE, Kind.ROUTED):
            self.paper.line((x, middle), (x + 8, middle), name)
        elif kind in (Kind.BREAK_HOLE, Kind.TOOLING_HOLE, Kind.MARK, Kind.CLEAR):
            wide = {Kind.BREAK_HOLE: 1.0, Kind.MARK: 1.6}.get(kind, 3.0)
            self.paper.circle((x + 4, middle), wide, name)
        elif kind is Kind.CORNER:
            self.paper.area([np.array([[x + 2.5, y], [x + 5.5, y], [x + 2.5, y - 3]])], name)
        else:
            self.paper.box(x, middle - 1.6, 8, 3.2, name)

    def _bar(self, x: float, y: float) -> None:
        length = next(step for step in (100, 50, 20, 10, 5, 2, 1) if step * self.scale <= 45 or step == 1)
        for n in range(5):
            wide = length * self.scale / 5
            self.paper.box(x + n * wide, y, wide, 1.2, "arrow" if n % 2 == 0 else "clear-bar")
        ratio = f"{self.scale:g} : 1" if self.scale >= 1 else f"1 : {round(1 / self.scale, 2):g}"
        self.paper.text((x, y - 1.2), f"{length} mm, scale {ratio}", "soft", size=2.8)

    def column(self) -> None:
        """Facts, working panel, details, what to mind."""
        paper, y = self.paper, 32.0
        for label, words in facts(self.made, self.plan.sheet):
            paper.text((COLUMN, y), label, "soft", size=2.8)
            y = paper.wrapped((COLUMN + LABEL, y), words, COLUMN_WIDTH - LABEL, size=2.8) + 0.5
        top = y + 1.0
        working_panel(paper, self.made, (COLUMN, top), (52.0, 48.0))
        detail = tab_detail if self.made.tabs else score_detail
        detail(paper, self.made, self.plan.sheet, (COLUMN + 62, top))
        y = top + 60.0
        y = self._paragraphs(
            "Why", [sentence(f"{merit.text} ({merit.points:+.1f}).") for merit in self.made.sizing.merits], y
        )
        if self.made.remarks:
            y = self._paragraphs("Mind", list(self.made.remarks), y)
        y = self._paragraphs("Caution", [f"{topic}: {words}" for topic, words in CAUTIONS], y)
        paper.height = max(HEIGHT, y + 4)

    def _paragraphs(self, label: str, given: list[str], y: float) -> float:
        self.paper.text((COLUMN, y), label, "head" if label != "Caution" else "head warn", size=2.8)
        for words in given:
            y = self.paper.wrapped((COLUMN + 14, y), words, COLUMN_WIDTH - 14, size=2.6)
        return y + 1.4


def _edges(one: Dimension) -> tuple[float, float]:
    return one.start, one.end


def _cut(words: str, width: float, size: float) -> str:
    room = int(width / (0.56 * size))
    return words if len(words) <= room else f"{words[: room - 1]}…"
