# SPDX-License-Identifier: MIT
"""How much room a printed text takes, from measured glyph widths of the editor's stroke font.

`glyph_advances.json` holds the measurements (`tests/tools/measure_glyphs.py` makes it). The ratios below were read off
the editor's own text boxes the same way, by varying one thing at a time, on version 9.0.8. Texts in an outline font
(those with a `render_cache`) are approximated with the same table: their true width depends on a font file.
"""

from __future__ import annotations

import json
import re
from functools import lru_cache
from pathlib import Path

import numpy as np
from shapely import Polygon

from lineworthy.shapes import Point

_ROOM_BELOW = 0.17
"""Part of a line's height the box keeps for descenders."""
_PEN_MARGIN = 3.0
"""The box is this many pen widths larger than the glyphs, in each direction."""
_INTERLINE = 1.60994
"""Distance of base lines, in text heights."""
_BAR_ROOM = 1 / 6
"""Part of a line's height an overbar adds."""
_TRAIL = 0.2
"""Blank at the end of an advance that does not count after the last glyph, in text widths."""
_SCRIPT_SCALE = 0.8
"""Size of super- and subscripts."""
_SCRIPT_HEIGHT = {"^": 0.52, "_": 0.92}
"""Height of a line that holds nothing but a super- or subscript, in text heights."""
_TILT = 1 / 8
"""Slant of italics."""
_TAB = 4.0
"""Distance of tab stops, in text widths."""
_THICKEST = 0.25
"""The editor never draws a pen thicker than this part of the smaller text dimension."""
_KNOCKOUT_ROOM = 1 / 9
"""Least distance from a knocked-out text to the edge of its box, in text heights."""
_MARKUP = re.compile(r"[~^_]\{")


def text_extents(
    text: str,
    at: Point,
    rotation: float,
    height: float,
    width: float,
    *,
    stroke: float = 0.0,
    h_align: str = "center",
    v_align: str = "center",
    mirrored: bool = False,
    bold: bool = False,
    italic: bool = False,
    line_spacing: float = 1.0,
    knockout: bool = False,
) -> Polygon:
    """The rotated rectangle a text fills, as the editor boxes it: with pen margins and room for descenders.

    Args:
        text: what is printed, variables resolved; may have several lines, ``~{overbars}``, ``^{super}``, ``_{sub}``.
        at: the text's anchor in the model frame (mm, y up).
        rotation: as drawn, degrees counter-clockwise.
        height: text height in mm.
        width: text width in mm (the size of an em, not the length of the text).
        stroke: pen width in mm; 0 where the document leaves it to the editor.
        h_align: ``left``, ``center`` or ``right``.
        v_align: ``top``, ``center`` or ``bottom``.
        mirrored: drawn for the bottom side.
        bold: only decides the pen when `stroke` is 0.
        italic: slanted; moves the box, does not widen it.
        line_spacing: factor on the distance of lines.
        knockout: printed as a hole in a box, which is somewhat larger than the text.

    Returns:
        The rectangle in the model frame; empty when the text is.
    """
    lines = _lines(text)
    if not lines:
        return Polygon()
    height, width = abs(height), abs(width)
    margin = _PEN_MARGIN * pen_width(height, width, stroke, bold)
    across = max(_line_width(line) for line in lines) * width + margin
    first = _line_height(lines[0]) * height + margin
    tall = first * (1 + _ROOM_BELOW) + (len(lines) - 1) * _INTERLINE * height * line_spacing
    if "~{" in lines[0]:
        tall += first * _BAR_ROOM
    slant = height * _TILT if italic else 0.0
    left = _left(across, slant, h_align, mirrored)
    below = first * _ROOM_BELOW
    bottom = {"top": below - tall, "bottom": -below}.get(v_align, -tall / 2)
    room = max(pen_width(height, width, stroke, bold) / 2, height * _KNOCKOUT_ROOM) if knockout else 0.0
    return _placed(at, rotation, (left - room, bottom - room, left + across + room, bottom + tall + room))


def measure(text: str, height: float, stroke: float) -> tuple[float, float]:
    """Width and height of the box an upright text fills, mm; nothing for an empty text."""
    box = text_extents(text, (0.0, 0.0), 0.0, height, height, stroke=stroke)
    if box.is_empty:
        return 0.0, 0.0
    left, bottom, right, top = box.bounds
    return float(right - left), float(top - bottom)


def pen_width(height: float, width: float, stroke: float, bold: bool = False) -> float:
    """The pen the editor draws a text with, in mm: chosen by text width when not stated, never too thick to read."""
    if stroke <= 0:
        stroke = width / 5 if bold else width / 8
    return min(stroke, _THICKEST * min(height, width))


def _left(across: float, slant: float, h_align: str, mirrored: bool) -> float:
    """Where the box begins, measured from the anchor along the line of text."""
    if h_align == "center":
        return (slant - across) / 2
    runs_left = (h_align == "right") != mirrored
    return slant - across if runs_left else 0.0


def _placed(at: Point, rotation: float, box: tuple[float, float, float, float]) -> Polygon:
    x0, y0, x1, y1 = box
    turn = np.radians(rotation)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return Polygon(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) @ axes + np.asarray(at))


def _lines(text: str) -> list[str]:
    """The lines of a text; a line break at the very end opens no further line."""
    lines = text.replace("\r\n", "\n").split("\n")
    if len(lines) > 1 and not lines[-1]:
        lines.pop()
    return lines if any(lines) else []


def _line_height(line: str) -> float:
    """Height of one line in text heights: less than 1 only for an empty line or a lone super- or subscript."""
    if not line:
        return 0.0
    lone = re.fullmatch(r"([\^_])\{[^{}]*\}", line)
    return _SCRIPT_HEIGHT[lone.group(1)] if lone else 1.0


def _line_width(line: str) -> float:
    """Width of one line in text widths, without pen margins."""
    advances, grid, ideograph, unknown = _table()
    cursor, trail = 0.0, 0.0
    for char, scale in _glyphs(line):
        trail = _TRAIL * scale
        if char == "\t":
            space = advances[" "] / grid
            cursor = (np.floor((cursor + 1.0) / _TAB) + 1) * _TAB - 1.0 + space
            continue
        steps = advances.get(char)
        if steps is None:
            steps = ideograph if _is_ideograph(char) else unknown
        cursor += steps / grid * scale
    return max(0.0, cursor - trail)


def _glyphs(line: str) -> list[tuple[str, float]]:
    """The characters of a line with their scale, mark-up taken off; mark-up never closed counts as characters."""
    shown: list[tuple[str, float]] = []
    open_marks: list[str] = []
    scripts = 0  # how many of them are super- or subscripts
    last_close = line.rfind("}")
    i = 0
    while i < len(line):
        scale = _SCRIPT_SCALE if scripts else 1.0
        if _MARKUP.match(line, i) and i + 2 <= last_close:
            open_marks.append(line[i])
            scripts += line[i] != "~"
            i += 2
            continue
        if line[i] == "{":
            open_marks.append("{")
        elif line[i] == "}" and open_marks:
            mark = open_marks.pop()
            scripts -= mark in "^_"
            if mark != "{":
                i += 1
                continue
        shown.append((line[i], scale))
        i += 1
    return shown


def _is_ideograph(char: str) -> bool:
    return 0x2E80 <= ord(char) <= 0x9FFF or 0xAC00 <= ord(char) <= 0xD7A3 or 0x20000 <= ord(char) <= 0x3FFFF


@lru_cache(maxsize=1)
def _table() -> tuple[dict[str, int], int, int, int]:
    """Advances by character, how many of them make a text width, and the two defaults."""
    raw = json.loads(Path(__file__).with_name("glyph_advances.json").read_text(encoding="utf-8"))
    advances = {char: int(steps) for steps, chars in raw["advances"].items() for char in chars}
    return advances, int(raw["grid"]), int(raw["ideograph"]), int(raw["unknown"])
