# SPDX-License-Identifier: MIT
"""Drawn shapes: from a line, rectangle, circle, arc, polygon or bezier node to a path and to the area it covers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi
from typing import Optional

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from lineworthy.shapes import ARC_TOL_MM, Area, Coords, Point, arc_points, arc_steps, polygonal, quad_segs
from lineworthy_kicad.reader.points import BOARD_FRAME, Frame, check_arc, child_xy, moved, points_of, turned
from lineworthy_kicad.reader.sexpr import Malformed, Node, kids, maybe_number, maybe_word, number

HAIRLINE = 1e-3
"""Pen for shapes drawn with no width, in mm: they are plotted, so they have area."""

_BEZIER_STEPS_MAX = 256


@dataclass(frozen=True)
class Drawn:
    """A shape on the board: its path and how it is drawn.

    Attributes:
        circle: centre and radius where it is one.
        tol: how far the chords of arcs may be from the arc, in mm.
    """

    path: Coords
    closed: bool
    width: float
    filled: bool = False
    circle: Optional[tuple[Point, float]] = None
    tol: float = ARC_TOL_MM

    @property
    def is_stroke(self) -> bool:
        """True for a plain straight line."""
        return len(self.path) == 2 and not self.closed

    def area(self) -> Area:
        """What the shape covers, pen included."""
        pen = max(self.width, 0.0)
        if self.circle is not None:
            return _ring(*self.circle, pen, self.filled, self.tol)
        if len(self.path) == 0:
            return Polygon()
        if self.filled and len(self.path) >= 3:
            return filled_area(self.path, pen)
        if self.is_stroke:
            return strokes(self.path[:1], self.path[1:], np.array([pen]))[0]
        pen = max(pen, HAIRLINE)
        path = np.vstack([self.path, self.path[:1]]) if self.closed else self.path
        line = shapely.LineString(path) if len(path) > 1 else shapely.Point(path[0])
        return polygonal(line.buffer(pen / 2, quad_segs=quad_segs(pen / 2)))


def filled_area(path: Coords, pen: float) -> Area:
    """A filled polygon with the pen that goes round it."""
    shape = Polygon(path)
    area = shape if shape.is_valid else polygonal(shapely.make_valid(shape))
    return polygonal(area.buffer(pen / 2, quad_segs=quad_segs(pen / 2))) if pen > 0 else area


def _ring(centre: Point, radius: float, pen: float, filled: bool, tol: float) -> Area:
    outer = _round(centre, radius + max(pen, 0.0 if filled else HAIRLINE) / 2, tol)
    inner = radius - max(pen, HAIRLINE) / 2
    if filled or inner <= 0:
        return Polygon(outer)
    return Polygon(outer, [_round(centre, inner, tol)[::-1]])


def _round(centre: Point, radius: float, tol: float) -> Coords:
    """Points around a circle."""
    turn = np.linspace(0, 2 * pi, max(4 * quad_segs(radius), arc_steps(radius, 2 * pi, tol)), endpoint=False)
    points: Coords = np.column_stack([centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)])
    return points


def strokes(starts: Coords, ends: Coords, widths: npt.NDArray[np.float64]) -> list[Polygon]:
    """Straight lines with round ends as polygons, many at once: (n, 2), (n, 2), (n,) to n polygons."""
    radii = np.maximum(widths, HAIRLINE) / 2
    along = ends - starts
    lengths = np.hypot(along[:, 0], along[:, 1])
    still = lengths < 1e-9
    along = np.where(still[:, None], (1.0, 0.0), along / np.where(still, 1.0, lengths)[:, None])
    across = np.column_stack([-along[:, 1], along[:, 0]])
    made: npt.NDArray[np.object_] = np.empty(len(starts), dtype=object)
    for radius in np.unique(radii):
        same = radii == radius
        turn = np.linspace(0, pi, 2 * quad_segs(float(radius)) + 1)
        # Half a circle about the end from right to left, then about the start from left to right.
        cap = radius * (
            np.sin(turn)[None, :, None] * along[same][:, None, :]
            - np.cos(turn)[None, :, None] * across[same][:, None, :]
        )
        corners = np.concatenate([ends[same][:, None, :] + cap, starts[same][:, None, :] - cap], axis=1)
        made[same] = shapely.polygons(corners)
    return list(made)


def drawn(node: Node, frame: Frame = BOARD_FRAME, tol: float = ARC_TOL_MM) -> Optional[Drawn]:
    """The shape of a ``gr_..``, ``fp_..`` or pad primitive node; None for kinds that are not shapes.

    Args:
        node: the document's node.
        frame: the footprint it is in.
        tol: how far chords may be from their arc, in mm.

    Raises:
        Malformed: the node lacks a point it must have.
    """
    kind = node[0].partition("_")[2]
    make = _KINDS.get(kind)
    return make(node, kids(node), frame, tol) if make else None


def pen_of(children: dict[str, Node]) -> float:
    """Pen width from ``(stroke (width w) ..)`` or, before version 7, ``(width w)``; 0 where absent."""
    stroke = children.get("stroke")
    if stroke is not None:
        children = kids(stroke)
    return max(maybe_number(children.get("width"), 0.0), 0.0)


def _is_filled(children: dict[str, Node], by_default: bool) -> bool:
    """Whether a closed shape is filled; old documents say it by leaving the pen away."""
    fill = children.get("fill")
    if fill is None:
        return by_default
    return maybe_word(fill, default="yes") in ("yes", "solid")


def _line(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    ends = [frame.point(child_xy(node, children, head)) for head in ("start", "end")]
    return Drawn(np.array(ends), False, pen_of(children))


def _rect(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    (x0, y0), (x1, y1) = child_xy(node, children, "start"), child_xy(node, children, "end")
    pen = pen_of(children)
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    radius = maybe_number(children.get("radius"), 0.0)
    if radius > 0:
        corners = moved(rounded_box(abs(x1 - x0), abs(y1 - y0), radius), ((x0 + x1) / 2, (y0 + y1) / 2))
    return Drawn(frame.points(corners), True, pen, _is_filled(children, pen == 0))


def rounded_box(width: float, height: float, radius: float) -> Coords:
    """Corners of a rectangle with rounded corners about the origin, counter-clockwise."""
    radius = min(radius, width / 2, height / 2)
    if radius <= 0:
        return np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]) * (width / 2, height / 2)
    turn = np.linspace(0, pi / 2, quad_segs(radius) + 1)
    quarter = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    dx, dy = width / 2 - radius, height / 2 - radius
    corners = ((dx, dy), (-dx, dy), (-dx, -dy), (dx, -dy))
    return np.concatenate([moved(turned(quarter, 90.0 * i), corner) for i, corner in enumerate(corners)])


def _circle(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    centre, end = child_xy(node, children, "center"), child_xy(node, children, "end")
    radius = hypot(end[0] - centre[0], end[1] - centre[1])
    centre = frame.point(centre)
    pen = pen_of(children)
    path = _round(centre, radius, tol)
    return Drawn(path, True, pen, _is_filled(children, pen == 0), (centre, radius), tol)


def _arc(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    if "mid" in children:
        ends = [child_xy(node, children, head) for head in ("start", "mid", "end")]
    else:
        ends = _old_arc(node, children)
    start, mid, end = (frame.point(point) for point in ends)
    check_arc(node, start, mid, end)
    return Drawn(arc_points(start, mid, end, tol), False, pen_of(children))


def _old_arc(node: Node, children: dict[str, Node]) -> list[Point]:
    """Three points of an arc given as centre (called start), one end, and a sweep clockwise on the screen."""
    angle = children.get("angle")
    if angle is None:
        raise Malformed(node, f"'{node[0][:40]}' lacks its 'mid'")
    centre, end = child_xy(node, children, "start"), child_xy(node, children, "end")
    arm = np.array([end]) - centre
    mid, far = (turned(arm, -number(angle) * part)[0] + centre for part in (0.5, 1.0))
    return [end, (float(mid[0]), float(mid[1])), (float(far[0]), float(far[1]))]


def _poly(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    pts = children.get("pts")
    if pts is None:
        raise Malformed(node, f"'{node[0][:40]}' lacks its 'pts'")
    on_edge = maybe_word(children.get("layer")) == "Edge.Cuts"
    return Drawn(frame.points(points_of(pts)), True, pen_of(children), _is_filled(children, not on_edge))


def _curve(node: Node, children: dict[str, Node], frame: Frame, tol: float) -> Drawn:
    pts = children.get("pts")
    controls = points_of(pts) if pts is not None else np.zeros((0, 2))
    if len(controls) != 4:
        raise Malformed(node, "a curve needs four points")
    return Drawn(frame.points(bezier(controls, tol)), False, pen_of(children))


def bezier(controls: Coords, tol: float = ARC_TOL_MM) -> Coords:
    """Points along a cubic curve with four control points, within `tol` mm."""
    second = max(hypot(*step) for step in np.diff(controls, n=2, axis=0))
    # The chord error of n steps is at most (3/4) * |second difference| / n^2.
    steps = int(min(max(2, np.ceil(np.sqrt(0.75 * second / tol))), _BEZIER_STEPS_MAX))
    t = np.linspace(0, 1, steps + 1)[:, None]
    p0, p1, p2, p3 = controls
    made: Coords = (1 - t) ** 3 * p0 + 3 * t * (1 - t) ** 2 * p1 + 3 * t**2 * (1 - t) * p2 + t**3 * p3
    return made


_KINDS = {
    "line": _line,
    "rect": _rect,
    "circle": _circle,
    "arc": _arc,
    "poly": _poly,
    "curve": _curve,
    "bezier": _curve,
}


def areas_of(shapes: Sequence[Drawn]) -> list[Area]:
    """The areas of many shapes; straight lines, which are nearly all of them, in one go."""
    made: list[Area] = [Polygon()] * len(shapes)
    plain = [i for i, shape in enumerate(shapes) if shape.is_stroke]
    if plain:
        ends = np.array([shapes[i].path for i in plain])
        widths = np.array([shapes[i].width for i in plain])
        for i, area in zip(plain, strokes(ends[:, 0], ends[:, 1], widths)):
            made[i] = area
    for i, shape in enumerate(shapes):
        if not shape.is_stroke:
            made[i] = shape.area()
    return made
