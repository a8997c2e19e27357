# SPDX-License-Identifier: MIT
"""A proposed array as DXF (2010), in millimetres, one layer for each kind of line, with real dimensions."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from lineworthy.errors import LineworthyError
from lineworthy.plans.panel_plan import PanelPlan
from lineworthy.report.panel_drawing import Dimension, Drawing, Kind, drawing
from lineworthy.report.panel_facts import CAUTIONS, PROPOSAL, facts, title
from lineworthy.safe import visible

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

COLOURS = {
    Kind.BOARD: 3,
    Kind.PART: 8,
    Kind.OVER: 9,
    Kind.ROUTED: 7,
    Kind.SCORE: 1,
    Kind.BREAK_HOLE: 30,
    Kind.TOOLING_HOLE: 5,
    Kind.MARK: 6,
    Kind.CLEAR: 6,
    Kind.CORNER: 3,
}
"""Numbers of the format's palette; what is only a filling on paper is left out here."""

DIMENSIONS, TEXT = "DIMENSION", "TEXT"

_TEXT_MM = 2.5
_STEP_MM = 10.0


class DxfMissingError(LineworthyError):
    """The package that writes DXF is not there."""


def draw(plan: PanelPlan, number: int) -> str:
    """The DXF file of the array with this number, counted from 1: the same plan gives the same text.

    Raises:
        DxfMissingError: the package ezdxf is not installed.
    """
    try:
        # the plan, its drawings and its data work without it
        from ezdxf import options, units  # type: ignore[attr-defined]  # noqa: PLC0415
        from ezdxf.filemanagement import new  # noqa: PLC0415
    except ImportError:
        raise DxfMissingError("writing DXF needs the Python package ezdxf") from None
    # neither the time nor the random numbers that the library would put in
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", setup=True)
        document.units = units.MM
        _draw(document, plan, number)
        out = io.StringIO()
        document.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = before
    return out.getvalue().encode("utf-8", "replace").decode("utf-8")


def _draw(document: Document, plan: PanelPlan, number: int) -> None:
    array = plan.arrays[number - 1]
    for kind, colour in COLOURS.items():
        linetype = "DASHDOT" if kind is Kind.SCORE else "Continuous"
        document.layers.add(kind.name, color=colour, linetype=linetype)
    document.layers.add(DIMENSIONS, color=8)
    document.layers.add(TEXT, color=7)
    drawn = drawing(array)
    _lines(document.modelspace(), drawn)
    for dimension in drawn.dimensions:
        _dimension(document.modelspace(), dimension)
    head = f"Panel plan of {title(plan)}, proposal {number} of {len(plan.arrays)}: {array.way.words}"
    words = [f"{label}: {words}" for label, words in facts(array, plan.sheet)]
    _words(document.modelspace(), drawn, [head, *words, PROPOSAL, *(f"{topic}: {text}" for topic, text in CAUTIONS)])


def _lines(space: Any, drawn: Drawing) -> None:
    for outline in drawn.outlines:
        for ring in outline.rings if outline.kind in COLOURS else ():
            points = [(round(float(x), 6), round(float(y), 6)) for x, y in ring]
            space.add_lwpolyline(points, close=True, dxfattribs={"layer": outline.kind.name})
    for line in drawn.lines:
        space.add_line(line.start, line.end, dxfattribs={"layer": line.kind.name})
    for circle in drawn.circles:
        space.add_circle(circle.at, circle.diameter / 2, dxfattribs={"layer": circle.kind.name})
        if circle.name:
            at = (circle.at[0] + circle.diameter, circle.at[1] + 1.5)
            attributes = {"layer": circle.kind.name, "height": 1.5, "insert": at}
            space.add_text(circle.name, dxfattribs=attributes)


def _dimension(space: Any, one: Dimension) -> None:
    off = -_STEP_MM * one.level
    is_x = one.axis == "x"
    start, end = ((one.start, 0.0), (one.end, 0.0)) if is_x else ((0.0, one.start), (0.0, one.end))
    made = space.add_linear_dim(
        base=(one.start, off) if is_x else (off, one.start),
        p1=start,
        p2=end,
        angle=0 if is_x else 90,
        dimstyle="EZDXF",
        override={
            "dimtxt": _TEXT_MM,
            "dimlfac": 1.0,
            "dimdec": 3,
            "dimzin": 8,
            "dimasz": 1.5,
            "dimexe": 1.0,
            "dimtad": 1,
        },
        dxfattribs={"layer": DIMENSIONS},
    )
    made.render()


def _words(space: Any, drawn: Drawing, lines: list[str]) -> None:
    """Notes to the right of the array; two percent signs would be a command of the format."""
    x, y = drawn.size[0] + 2 * _STEP_MM, drawn.size[1]
    for line in lines:
        text = visible(line).replace("%%", "% %")
        space.add_text(text, dxfattribs={"layer": TEXT, "height": _TEXT_MM, "insert": (x, round(y, 3))})
        y -= 1.7 * _TEXT_MM
