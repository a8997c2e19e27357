# SPDX-License-Identifier: MIT
"""A sheet of paper to draw on, written as SVG: millimetres from the upper left corner, whole hundredths in the file."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

import numpy as np

from lineworthy.safe import markup
from lineworthy.shapes import Coords, Point

LETTER = 0.53
"""Width of an average letter, as a share of the height: a little more than it is, so that lines are never too long."""


class Paper:
    """Collects what is drawn, back to front. Places are (x, y) in mm, y down."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._body: list[str] = []

    def write(self, name: str, style: str) -> str:
        """The whole sheet as an SVG file."""
        size = f'width="{self.width:g}mm" height="{self.height:g}mm"'
        box = f'viewBox="0 0 {_n(self.width)} {_n(self.height)}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} role="img" aria-labelledby="title">'
        back = f'<rect class="paper" width="{_n(self.width)}" height="{_n(self.height)}"/>'
        lines = [head, f'<title id="title">{markup(name)}</title>', f"<style>{style}</style>", back]
        return "\n".join([*lines, *self._body, "</svg>\n"])

    def text(self, at: Point, words: str, kind: str = "", *, size: float = 3.0, turn: bool = False) -> None:
        """A line of text; `at` is on its base line; `turn`: reading upwards."""
        x, y = _n(at[0]), _n(at[1])
        turned = f' transform="rotate(-90 {x} {y})"' if turn else ""
        self._body.append(f'<text{_class(kind)} x="{x}" y="{y}" font-size="{_n(size)}"{turned}>{markup(words)}</text>')

    def wrapped(self, at: Point, words: str, width: float, kind: str = "", *, size: float = 3.0) -> float:
        """Text in lines no wider than `width`; gives the base line below the last one."""
        y = at[1]
        for line in textwrap.wrap(words, max(int(width / (LETTER * size)), 8)) or [""]:
            self.text((at[0], y), line, kind, size=size)
            y += 1.35 * size
        return y

    def line(self, start: Point, end: Point, kind: str) -> None:
        """A straight line."""
        x, y = _n(start[0]), _n(start[1])
        self._body.append(f'<path{_class(kind)} d="M{x} {y}L{_n(end[0])} {_n(end[1])}"/>')

    def area(self, rings: Iterable[Coords], kind: str) -> None:
        """Closed rings, filled by the even-odd rule."""
        loops = [f"M{' '.join(f'{_n(x)} {_n(y)}' for x, y in ring)}z" for ring in rings]
        self._body.append(f'<path{_class(kind)} fill-rule="evenodd" d="{"".join(loops)}"/>')

    def box(self, left: float, top: float, width: float, height: float, kind: str) -> None:
        """A rectangle."""
        place = f'x="{_n(left)}" y="{_n(top)}" width="{_n(width)}" height="{_n(height)}"'
        self._body.append(f"<rect{_class(kind)} {place}/>")

    def circle(self, at: Point, diameter: float, kind: str) -> None:
        """A circle."""
        radius = max(_n(diameter / 2), 1)
        self._body.append(f'<circle{_class(kind)} cx="{_n(at[0])}" cy="{_n(at[1])}" r="{radius}"/>')

    def measure(self, start: Point, end: Point, words: str, *, outside: str = "") -> None:
        """A dimension line with arrows along x or y, its text above it or to the left of it.

        Text that does not fit between the arrows stands ``before`` the start or ``after`` the end, as `outside` says.
        """
        (x0, y0), (x1, y1) = start, end
        upright = abs(x1 - x0) < 1e-6
        size, length = 2.8, float(np.hypot(x1 - x0, y1 - y0))
        wide = length_of(words, size)
        fits = length >= wide + 3.0
        way = np.array([x1 - x0, y1 - y0]) / max(length, 1e-6)
        ends = (np.array(start), np.array(end))
        tails = ends if fits else (ends[0] - way * 3.5, ends[1] + way * 3.5)
        self.line(_at(tails[0]), _at(tails[1]), "dim")
        for tip, out in zip(ends, (-way, way) if fits else (way, -way)):
            side = np.array([-out[1], out[0]])
            self.area([np.array([tip, tip - out * 1.8 + side * 0.35, tip - out * 1.8 - side * 0.35])], "arrow")
        middle = (ends[0] + ends[1]) / 2
        if not fits:
            by = wide / 2 + 4.5
            middle = ends[0] - way * by if outside == "before" else ends[1] + way * by
        off = np.array([-1.0, 0.0]) if upright else np.array([0.0, -1.0])
        self.text(_at(middle + off), words, "mid", size=size, turn=upright)


def length_of(words: str, size: float) -> float:
    """How wide a line of text is at most, mm."""
    return LETTER * size * len(words) * 1.1


def _at(point: Coords) -> Point:
    return float(point[0]), float(point[1])


def _n(value: float) -> int:
    return round(float(value) * 100)


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""
