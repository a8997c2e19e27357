# SPDX-License-Identifier: MIT
"""Measures how wide the editor's stroke font sets each character; run by the editor's own interpreter.

    /usr/bin/python3 tests/tools/measure_glyphs.py > plugin/lineworthy_kicad/reader/glyph_advances.json

A character's advance is what one more of it adds to the editor's own text box. All advances turn out to be whole
multiples of 1/21 of the text width (the font's drawing grid), so the table holds them as whole numbers.
"""

from __future__ import annotations

import json
import sys

import pcbnew

GRID = 21
SIZE_MM = 210
NARROW_RANGES = (
    (0x20, 0x7E),  # ASCII
    (0xA0, 0x24F),  # Latin-1, Latin Extended
    (0x370, 0x3FF),  # Greek
    (0x400, 0x52F),  # Cyrillic
    (0x1E00, 0x1EFF),  # Latin Extended Additional
    (0x2000, 0x23FF),  # punctuation, superscripts, currency, letter-like, arrows, mathematics, technical
    (0x2500, 0x27BF),  # boxes, geometric shapes, symbols
    (0x3040, 0x30FF),  # kana
)
UNKNOWN_SAMPLE = 0x10FFFD
IDEOGRAPH_SAMPLE = 0x4E2D


def measurer():
    """A function giving the width in mm of the editor's box around a text of `SIZE_MM`."""
    text = pcbnew.PCB_TEXT(pcbnew.BOARD())
    text.SetTextSize(pcbnew.VECTOR2I(pcbnew.FromMM(SIZE_MM), pcbnew.FromMM(SIZE_MM)))
    text.SetTextThickness(pcbnew.FromMM(1))

    def width(content: str) -> float:
        text.SetText(content)
        return text.GetBoundingBox().GetWidth() / 1e6

    return width


def main() -> int:
    """Writes the table to standard output."""
    width = measurer()

    def advance(code: int) -> int:
        exact = (width("A" + 2 * chr(code)) - width("A" + chr(code))) / SIZE_MM * GRID
        if abs(exact - round(exact)) > 0.01:
            raise SystemExit(f"U+{code:04X} does not sit on the font's grid: {exact}")
        return round(exact)

    by_advance: dict[int, str] = {}
    for first, last in NARROW_RANGES:
        for code in range(first, last + 1):
            by_advance[advance(code)] = by_advance.get(advance(code), "") + chr(code)
    table = {
        "made_by": f"tests/tools/measure_glyphs.py through the editor's text boxes, version {pcbnew.Version()}",
        "unit": f"1/{GRID} of the text width",
        "grid": GRID,
        "unknown": advance(UNKNOWN_SAMPLE),
        "ideograph": advance(IDEOGRAPH_SAMPLE),
        "advances": {str(key): by_advance[key] for key in sorted(by_advance)},
    }
    json.dump(table, sys.stdout, ensure_ascii=True, indent=0)
    sys.stdout.write("\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
