# SPDX-License-Identifier: MIT
"""Gerber apertures as areas about the origin: the four standard shapes, and macros with their little arithmetic.

Lengths come in the file's own unit, with the factor that makes them mm.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from math import cos, pi, sin

import numpy as np
import shapely
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.intake.gerber_arithmetic import BadApertureError, evaluate
from lineworthy.shapes import Area, disc, polygonal, stadium

MACRO_PRIMITIVES_MAX = 20_000


def standard(shape: str, numbers: Sequence[float], scale: float) -> Area:
    """A circle (C), rectangle (R), obround (O) or regular polygon (P) as its definition's numbers say."""
    least, hole_at = {"C": (1, 1), "R": (2, 2), "O": (2, 2), "P": (2, 3)}[shape]
    if len(numbers) < least:
        raise BadApertureError(f"shape {shape} needs {least} numbers, not {len(numbers)}")
    if any(value < 0 for value in numbers[: 2 if shape in "RO" else 1]):
        raise BadApertureError("a size is negative")
    made: Area
    if shape == "C":
        made = disc((0.0, 0.0), numbers[0] * scale) if numbers[0] > 0 else Polygon()
    elif shape == "R":
        x, y = numbers[0] * scale / 2, numbers[1] * scale / 2
        made = shapely.box(-x, -y, x, y) if x > 0 and y > 0 else Polygon()
    elif shape == "O":
        made = stadium((0.0, 0.0), (numbers[0] * scale, numbers[1] * scale)) if min(numbers[:2]) > 0 else Polygon()
    else:
        turn = numbers[2] if len(numbers) > 2 else 0.0
        made = _regular((0.0, 0.0), numbers[0] * scale, numbers[1], turn)
    if len(numbers) > hole_at and numbers[hole_at] > 0:
        made = polygonal(made.difference(disc((0.0, 0.0), numbers[hole_at] * scale)))
    return made


def _regular(at: tuple[float, float], diameter: float, corners: float, turn: float) -> Polygon:
    count = int(corners)
    if not 3 <= count <= 100:
        raise BadApertureError(f"a polygon has 3 to 12 corners, not {corners:g}")
    angles = np.radians(turn) + 2 * pi * np.arange(count) / count
    return Polygon(np.column_stack([at[0] + diameter / 2 * np.cos(angles), at[1] + diameter / 2 * np.sin(angles)]))


class Macro:
    """An aperture macro: statements that wait for their parameters."""

    def __init__(self, body: Sequence[str]) -> None:
        self._statements = [statement.strip() for statement in body if statement.strip()]

    def area(self, parameters: Sequence[float], scale: float) -> Area:
        """The shape for these parameters; what is dark later covers what is clear earlier.

        Raises:
            BadApertureError: a primitive is unknown, lacks numbers, or the arithmetic cannot be read.
        """
        known = dict(enumerate(parameters, start=1))
        image: BaseGeometry = Polygon()
        dark: list[BaseGeometry] = []
        for count, statement in enumerate(self._statements):
            if count > MACRO_PRIMITIVES_MAX:
                raise BadApertureError("a macro of more primitives than any real one")
            if statement.startswith("0"):
                continue
            if statement.startswith("$"):
                name, _, expression = statement.partition("=")
                known[_variable(name)] = evaluate(expression, known)
                continue
            code, *rest = statement.split(",")
            numbers = [evaluate(text, known) for text in rest]
            exposed, shape = _primitive(code.strip(), numbers, scale)
            if exposed:
                dark.append(shape)
            else:
                image = shapely.union_all([image, *dark]).difference(shape)
                dark = []
        return polygonal(shapely.union_all([image, *dark]))


def _variable(name: str) -> int:
    match = re.fullmatch(r"\$(\d{1,9})\s*", name)
    if not match:
        raise BadApertureError(f"{name[:20]!r} is no variable")
    return int(match[1])


def _primitive(code: str, numbers: Sequence[float], scale: float) -> tuple[bool, BaseGeometry]:
    """Whether a primitive adds, and its shape in mm."""
    if code not in _PRIMITIVES:
        raise BadApertureError(f"primitive {code[:10]!r} is unknown")
    least, make, bare = _PRIMITIVES[code]
    if len(numbers) < least:
        raise BadApertureError(f"primitive {code} needs {least} numbers, not {len(numbers)}")
    exposed = True
    if code not in ("6", "7"):  # these two have no exposure and are always dark
        exposed, numbers = numbers[0] != 0, numbers[1:]
    if code == "4":
        bare = (0, 3 + 2 * int(numbers[0]))
    # made in mm from the start: arcs are then as true for files in inches
    return exposed, make([value if at in bare else value * scale for at, value in enumerate(numbers)])


def _turned(shape: BaseGeometry, numbers: Sequence[float], index: int) -> BaseGeometry:
    turn = numbers[index] if len(numbers) > index else 0.0
    return affinity.rotate(shape, turn, origin=(0, 0)) if turn else shape


def _circle(n: Sequence[float]) -> BaseGeometry:
    return _turned(disc((n[1], n[2]), abs(n[0])) if n[0] else Polygon(), n, 3)


def _vector(n: Sequence[float]) -> BaseGeometry:
    line = shapely.LineString([(n[1], n[2]), (n[3], n[4])])
    return _turned(line.buffer(n[0] / 2, cap_style="flat"), n, 5)


def _centred(n: Sequence[float]) -> BaseGeometry:
    return _turned(shapely.box(n[2] - n[0] / 2, n[3] - n[1] / 2, n[2] + n[0] / 2, n[3] + n[1] / 2), n, 4)


def _cornered(n: Sequence[float]) -> BaseGeometry:
    return _turned(shapely.box(n[2], n[3], n[2] + n[0], n[3] + n[1]), n, 4)


def _outline(n: Sequence[float]) -> BaseGeometry:
    count = int(n[0])
    if not 1 <= count <= 10_000 or len(n) < 3 + 2 * count:
        raise BadApertureError("an outline does not have the points it says")
    points = np.array(n[1 : 3 + 2 * count]).reshape(-1, 2)
    ring = Polygon(points) if count >= 3 else Polygon()
    return _turned(ring if ring.is_valid else shapely.make_valid(ring), n, 3 + 2 * count)


def _corners(n: Sequence[float]) -> BaseGeometry:
    return _turned(_regular((n[1], n[2]), n[3], n[0], 0.0), n, 4)


def _moire(n: Sequence[float]) -> BaseGeometry:
    x, y, outer, width, gap, most, hair, length = n[:8]
    shapes: list[BaseGeometry] = []
    for _ in range(min(int(most), 100)):
        if outer <= 0:
            break
        ring: BaseGeometry = disc((x, y), outer)
        inner = outer - 2 * width
        shapes.append(ring.difference(disc((x, y), inner)) if inner > 0 else ring)
        outer -= 2 * (width + gap)
    shapes.append(shapely.box(x - length / 2, y - hair / 2, x + length / 2, y + hair / 2))
    shapes.append(shapely.box(x - hair / 2, y - length / 2, x + hair / 2, y + length / 2))
    return _turned(shapely.union_all(shapes), n, 8)


def _thermal(n: Sequence[float]) -> BaseGeometry:
    x, y, outer, inner, gap = n[:5]
    ring: BaseGeometry = disc((x, y), outer)
    if inner > 0:
        ring = ring.difference(disc((x, y), inner))
    cross = [
        shapely.box(x - outer, y - gap / 2, x + outer, y + gap / 2),
        shapely.box(x - gap / 2, y - outer, x + gap / 2, y + outer),
    ]
    return _turned(ring.difference(shapely.union_all(cross)), n, 5)


_PRIMITIVES: dict[str, tuple[int, Callable[[Sequence[float]], BaseGeometry], tuple[int, ...]]] = {
    "1": (4, _circle, (3,)),
    "2": (6, _vector, (5,)),
    "20": (6, _vector, (5,)),
    "21": (5, _centred, (4,)),
    "22": (5, _cornered, (4,)),
    "4": (6, _outline, (0,)),
    "5": (5, _corners, (0, 4)),
    "6": (8, _moire, (5, 8)),
    "7": (5, _thermal, (5,)),
}
"""Code -> how many numbers it needs at least, what makes the shape of them, and which are counts and angles instead of
lengths (exposure taken off)."""


def placed(shape: BaseGeometry, mirror: str, turn: float, size: float) -> BaseGeometry:
    """An aperture mirrored (``N``, ``X``, ``Y``, ``XY``), turned and scaled about its origin, in this order."""
    if mirror == "N" and turn == 0 and size == 1:
        return shape
    fx, fy = (-1.0 if "X" in mirror else 1.0) * size, (-1.0 if "Y" in mirror else 1.0) * size
    c, s = cos(turn * pi / 180), sin(turn * pi / 180)
    return affinity.affine_transform(shape, [c * fx, -s * fy, s * fx, c * fy, 0.0, 0.0])
