# SPDX-License-Identifier: MIT
"""Coordinates of the document in the model's frame: the one place where y is turned up.

The document counts y downwards and angles counter-clockwise as seen on the screen. Turning y up leaves what is seen
as it is, so angles keep their sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin

import numpy as np

from lineworthy.shapes import Coords, Point, arc_points
from lineworthy_kicad.reader.sexpr import COORDINATE_MAX, Malformed, Node, kids, number

_NOTHING_BUT_NUMBERS = str.maketrans("()xy", "    ")


@dataclass(frozen=True)
class Frame:
    """Where a footprint's own coordinates lie on the board; the default is the board itself."""

    at: Point = (0.0, 0.0)
    rotation: float = 0.0

    def point(self, local: Point) -> Point:
        """One point on the board."""
        if self.rotation == 0.0:
            return (self.at[0] + local[0], self.at[1] + local[1])
        c, s = self._turn
        return (self.at[0] + local[0] * c - local[1] * s, self.at[1] + local[0] * s + local[1] * c)

    def points(self, local: Coords) -> Coords:
        """An (n, 2) array of points on the board."""
        return moved(local if self.rotation == 0.0 else turned(local, self.rotation), self.at)

    @property
    def _turn(self) -> tuple[float, float]:
        return unit(self.rotation)


def unit(rotation: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at right angles."""
    quarter, rest = divmod(rotation, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return cos(radians(rotation)), sin(radians(rotation))


def turned(local: Coords, rotation: float) -> Coords:
    """An (n, 2) array turned counter-clockwise about the origin."""
    c, s = unit(rotation)
    made: Coords = local @ np.array([[c, s], [-s, c]])
    return made


def moved(corners: Coords, by: Point) -> Coords:
    """An (n, 2) array of points shifted."""
    made: Coords = corners + np.asarray(by)
    return made


BOARD_FRAME = Frame()

ARC_POINTS_MAX = 20_000
"""Corners that the arcs of one polygon may become; a round pour has some hundred. Thousands of arcs on top of each
other would keep the geometry library busy for minutes."""


def xy(node: Node, index: int = 1) -> Point:
    """The point a node like ``(start x y)`` holds, y up."""
    return (number(node, index), -number(node, index + 1))


def child_xy(node: Node, children: dict[str, Node], head: str) -> Point:
    """The point in the child with that head.

    Raises:
        Malformed: there is no such child.
    """
    child = children.get(head)
    if child is None:
        raise Malformed(node, f"'{node[0][:40]}' lacks its '{head}'")
    return xy(child)


def at_of(node: Node, children: dict[str, Node]) -> tuple[Point, float]:
    """Position and rotation from ``(at x y [angle])``."""
    child = children.get("at")
    if child is None:
        raise Malformed(node, f"'{node[0][:40]}' lacks its 'at'")
    has_angle = len(child) > 3 and type(child[3]) is str and child[3] != "unlocked"
    return xy(child), number(child, 3) if has_angle else 0.0


def check_arc(node: Node, start: Point, mid: Point, end: Point) -> None:
    """Refuses an arc that swings out far beyond any board on its way.

    Raises:
        Malformed: more than half of a circle too large for any board.
    """
    ax, ay, cx, cy = start[0] - mid[0], start[1] - mid[1], end[0] - mid[0], end[1] - mid[1]
    cross = abs(ax * cy - ay * cx)
    sides = hypot(ax, ay) * hypot(cx, cy) * hypot(ax - cx, ay - cy)
    # The radius is sides / 2 cross; the arc is more than a half circle where the angle at `mid` is acute.
    if ax * cx + ay * cy > 0 and sides > 2 * COORDINATE_MAX * cross and cross > 0:
        raise Malformed(node, f"'{node[0][:40]}' swings out beyond any board")


def points_of(node: Node) -> Coords:
    """The corners in a ``(pts ..)`` node as an (n, 2) array, y up; arcs become points.

    Raises:
        Malformed: a coordinate is missing, not a number or beyond any board.
    """
    runs: list[Coords] = []
    single: list[Point] = []
    curved = 0
    for part in node[1:]:
        if type(part) is list and part[0] == "xy":
            single.append(xy(part))
            continue
        if single:
            runs.append(np.array(single))
            single = []
        if type(part) is str:
            if part[:1] == "(":
                runs.append(_block(node, part))
        elif part[0] == "arc":
            inner = kids(part)
            start, mid, end = (child_xy(part, inner, head) for head in ("start", "mid", "end"))
            check_arc(part, start, mid, end)
            runs.append(arc_points(start, mid, end))
            curved += len(runs[-1])
            if curved > ARC_POINTS_MAX:
                raise Malformed(part, "a polygon of more arcs than any board has")
        elif part[0] == "pts":
            runs.append(points_of(part))
    if single:
        runs.append(np.array(single))
    return np.concatenate(runs) if runs else np.zeros((0, 2))


def _block(node: Node, block: str) -> Coords:
    """The points of a block that the tokenizer left whole."""
    words = block[4:].translate(_NOTHING_BUT_NUMBERS).split()
    try:
        flat = np.array(list(map(float, words)))
    except ValueError:
        raise Malformed(node, "a corner's coordinate is not a number") from None
    if len(flat) != 2 * block.count("xy"):
        raise Malformed(node, "a corner does not have two coordinates")
    if not (np.abs(flat) < COORDINATE_MAX).all():
        raise Malformed(node, "a corner lies beyond any board")
    corners: Coords = flat.reshape(-1, 2)
    corners[:, 1] *= -1
    return corners
