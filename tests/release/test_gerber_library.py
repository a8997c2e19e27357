# SPDX-License-Identifier: MIT
"""Plots of six boards as our reader has them, against a second, independent Gerber library.

The library interprets the file (coordinates, modes, apertures, macros, regions) into circles, lines, arcs, rectangles
and outlines; only these are painted here. What it cannot do is in `DEVELOPERS.md`, and is tested by areas worked out by
hand in ``tests/core/test_intake_gerber.py``.
"""

from __future__ import annotations

import re
from math import atan2, cos, dist, pi, sin
from typing import Any

import pytest
import shapely
from releases import BOARDS, release
from shapely import LineString, Point, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.intake.gerber import read_gerber
from lineworthy.intake.plotnames import layer_of
from lineworthy.model import LayerKind

rs274x = pytest.importorskip("gerbonara.rs274x", reason="the second Gerber library needs Python 3.10")

EDGE_MM = 0.012
"""Chords of arcs may lie 5 um off on either side; nothing of either reading may stick out further."""


def painted(text: str) -> BaseGeometry:
    """What the library's primitives cover, in their order and polarity."""
    image: BaseGeometry = Polygon()
    run: list[BaseGeometry] = []
    dark = True
    for item in rs274x.GerberFile.from_string(text).objects:
        for primitive in item.to_primitives("mm"):
            if primitive.polarity_dark != dark:
                image = _over(image, run, dark)
                run, dark = [], primitive.polarity_dark
            run.append(_shape(primitive))
    return _over(image, run, dark)


def _over(image: BaseGeometry, run: list[BaseGeometry], dark: bool) -> BaseGeometry:
    shape = shapely.union_all(run)
    return image.union(shape) if dark else image.difference(shape)


def _shape(item: Any) -> BaseGeometry:
    kind = type(item).__name__
    if kind == "Circle":
        return Point(item.x, item.y).buffer(item.r, quad_segs=64)
    if kind == "Line":
        return LineString([(item.x1, item.y1), (item.x2, item.y2)]).buffer(item.width / 2, quad_segs=64)
    if kind == "Arc":
        way = _arc((item.x1, item.y1), (item.x2, item.y2), (item.cx, item.cy), item.clockwise)
        return LineString(way).buffer(item.width / 2, quad_segs=64)
    if kind == "Rectangle":
        x, y = item.w / 2, item.h / 2
        upright = shapely.box(item.x - x, item.y - y, item.x + x, item.y + y)
        return affinity.rotate(upright, item.rotation, use_radians=True)
    assert kind == "ArcPoly", kind
    ring: list[tuple[float, float]] = []
    for start, end, (clockwise, centre) in item.segments:
        ring += [start] if clockwise is None else _arc(start, end, centre, clockwise)[:-1]
    if len(ring) < 3:
        return Polygon()
    return Polygon(ring) if Polygon(ring).is_valid else Polygon(ring).buffer(0)


def _arc(start: Any, end: Any, centre: Any, clockwise: bool) -> list[tuple[float, float]]:
    radius = dist(start, centre)
    first, last = (atan2(at[1] - centre[1], at[0] - centre[0]) for at in (start, end))
    sweep = ((first - last if clockwise else last - first) % (2 * pi) or 2 * pi) * (-1 if clockwise else 1)
    turns = (first + sweep * step / 512 for step in range(513))
    return [(centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns]


def agree(text: str) -> bool:
    """Whether both readings have an area within 0.5 % and differ nowhere by more than chords do."""
    ours, theirs = read_gerber("plot", text.encode()).area, painted(text)
    assert ours.area == pytest.approx(theirs.area, rel=0.005)
    for one, other in ((ours, theirs), (theirs, ours)):
        assert one.buffer(-EDGE_MM).difference(other).area == pytest.approx(0, abs=1e-6)
    return not ours.is_empty


@pytest.mark.editor
@pytest.mark.parametrize("board", BOARDS)
def test_every_layer_of_a_board_is_read_alike(board: str) -> None:
    kinds: set[LayerKind] = set()
    for name, data in release(board).items():
        text = data.decode()
        layer = layer_of(read_gerber(name, data).attributes.get(".FileFunction", ())) if "%FS" in text[:2000] else None
        if layer is not None and agree(text):
            kinds.add(layer.kind)
    assert {LayerKind.COPPER, LayerKind.LEGEND, LayerKind.OUTLINE} <= kinds
    assert LayerKind.MASK in kinds or board == "wave"  # covered by mask altogether


MM = "%FSLAX46Y46*%\n%MOMM*%\n"
FEATURES = {
    "standard apertures": "%ADD10C,1X0.3*%\n%ADD11R,2X1*%\n%ADD12O,1X3*%\n%ADD13P,2X5*%\nD10*\nX0Y0D03*\nD11*\n"
    "X5000000D03*\nD12*\nX9000000D03*\nD13*\nX12000000D03*\n",
    "macro with variables": "%AMPART*$4=$1x0.75*$5=($2+$3)/2*1,1,$4,0,0*21,1,$5,3,2,1,30*%\n%ADD10PART,2X1X1*%\nD10*\n"
    "X1000000Y2000000D03*\n",
    "macro outline, polygon": "%AMPART*4,1,4,0,0,2,0,3,1,1,2,0,0,15*5,1,6,4,4,1,0*%\n%ADD10PART*%\nD10*\nX0Y0D03*\n",
    "macro with a clear part": "%AMPART*1,1,4,0,0*1,0,2,0.5,0*%\n%ADD10PART*%\nD10*\nX0Y0D03*\n",
    "clear polarity": "%ADD10R,4X4*%\n%ADD11C,2*%\nD10*\nX0Y0D03*\n%LPC*%\nD11*\nX1000000D03*\n%LPD*%\nX1000000D03*\n",
    "arcs, any quadrant": "%ADD10C,0.2*%\nD10*\nG75*\nX2000000Y0D02*\nG03*\nX0Y-2000000I-2000000J0D01*\nG02*\n"
    "X5000000Y-2000000I2500000J1000000D01*\nX5000000Y-2000000I1000000J0D01*\n",
    "arcs, one quadrant": "%ADD10C,0.2*%\nD10*\nG74*\nX2000000Y0D02*\nG03*\nX0Y2000000I2000000J0D01*\nG02*\n"
    "X-1000000Y3000000I0J1000000D01*\n",
    "region with arcs": "G36*\nG01*\nX0Y0D02*\nX4000000D01*\nG75*\nG03*\nX4000000Y4000000I0J2000000D01*\nG01*\nX0D01*\n"
    "Y0D01*\nX9000000Y9000000D02*\nX10000000D01*\nY10000000D01*\nX9000000Y9000000D01*\nG37*\n",
}


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::SyntaxWarning")
@pytest.mark.parametrize("name", FEATURES)
@pytest.mark.parametrize("unit", ["mm", "inch", "inch by G70, trailing zeros left out"])
def test_features_are_read_alike(name: str, unit: str) -> None:
    head = {"mm": MM, "inch": MM.replace("MOMM", "MOIN")}.get(unit, "%FSTAX46Y46*%\nG70*\n")
    body = FEATURES[name]
    if "trailing" in unit:
        body = _padded(body)
    assert agree(head + body + "M02*\n")


def _padded(body: str) -> str:
    """Coordinates written with all ten digits, zeros at their end left out."""

    def digits(match: re.Match[str]) -> str:
        sign, value = ("-", match[2][1:]) if match[2].startswith("-") else ("", match[2])
        return f"{match[1]}{sign}{value.zfill(10).rstrip('0') or '0'}"

    lines = [line if line.startswith("%") else re.sub(r"([XYIJ])(-?\d+)", digits, line) for line in body.split("\n")]
    return "\n".join(lines)
