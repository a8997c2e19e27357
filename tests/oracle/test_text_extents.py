# SPDX-License-Identifier: MIT
"""Text boxes: the glyph table against the editor, and the rules read off its boxes without it."""

from __future__ import annotations

import subprocess
from pathlib import Path

import editor
import pytest
from shapely import affinity

from lineworthy_kicad.reader import text_extents as module
from lineworthy_kicad.reader.text_extents import pen_width, text_extents

ROOT = Path(__file__).parents[2]


def box(text: str, **options: object) -> tuple[float, ...]:
    """Left, bottom, right, top of a text of 10 mm by 10 mm drawn with a pen of 1 mm at the origin."""
    settings = {"stroke": 1.0, **options}
    return text_extents(text, (0.0, 0.0), 0.0, 10.0, 10.0, **settings).bounds


# Boxes the editor's version 9.0.8 gives for such texts, in mm.
BOXES = (
    ("A", {}, (-4.7857, -7.605, 4.7857, 7.605)),
    ("AAA\nA", {"h_align": "left", "v_align": "top"}, (0, -29.0994, 26.7143, 2.21)),
    ("AAA\nA", {"h_align": "right", "v_align": "bottom"}, (-26.7143, -2.21, 0, 29.0994)),
    ("AAA", {"h_align": "left", "mirrored": True}, (-26.7143, -7.605, 0, 7.605)),
    ("AAA", {"h_align": "left", "mirrored": True, "italic": True}, (-25.4643, -7.605, 1.25, 7.605)),
    ("~{A}", {}, (-4.7857, -8.6883, 4.7857, 8.6883)),
    ("A^{2}", {}, (-8.7952, -7.605, 8.7952, 7.605)),
    ("_{2}", {}, (-4.5095, -7.137, 4.5095, 7.137)),
    ("A\tA", {}, (-23.5952, -7.605, 23.5952, 7.605)),
    ("A", {"stroke": 0.0}, (-5.1607, -8.0437, 5.1607, 8.0437)),
    ("A", {"stroke": 0.0, "bold": True}, (-6.2857, -9.36, 6.2857, 9.36)),
    ("A", {"stroke": 9.0}, (-7.0357, -10.2375, 7.0357, 10.2375)),
)


@pytest.mark.parametrize(("text", "options", "expected"), BOXES)
def test_box(text: str, options: dict[str, object], expected: tuple[float, ...]) -> None:
    assert box(text, **options) == pytest.approx(expected, abs=2e-4)


def test_a_turned_text_is_the_same_box_turned() -> None:
    upright = text_extents("R12", (0.0, 0.0), 0.0, 1.0, 1.0, stroke=0.15, h_align="left")
    turned = text_extents("R12", (3.0, 4.0), 30.0, 1.0, 1.0, stroke=0.15, h_align="left")
    expected = affinity.translate(affinity.rotate(upright, 30, origin=(0, 0)), 3, 4)
    assert turned.symmetric_difference(expected).area < 1e-9


def test_knockout_box_has_room_around_the_text() -> None:
    plain, knocked = box("A"), box("A", knockout=True)
    assert [abs(b - a) for a, b in zip(plain, knocked)] == pytest.approx([10 / 9] * 4)


@pytest.mark.parametrize("text", ["", "\n", "\n\n"])
def test_no_text_takes_no_room(text: str) -> None:
    assert text_extents(text, (0.0, 0.0), 0.0, 1.0, 1.0).is_empty


def test_pen_follows_the_text_width() -> None:
    assert pen_width(1.0, 1.0, 0.0) == 0.125
    assert pen_width(1.0, 1.0, 0.0, bold=True) == 0.2
    assert pen_width(1.0, 2.0, 0.9) == 0.25


@pytest.mark.editor
def test_glyph_table_is_what_the_editor_measures() -> None:
    command, version = editor.interpreter()
    tool = ROOT / "tests" / "tools" / "measure_glyphs.py"
    made = subprocess.run(
        [command, str(tool)], capture_output=True, text=True, check=True, env={"PATH": "/usr/bin:/bin"}
    )
    kept = Path(module.__file__).with_name("glyph_advances.json").read_text(encoding="utf-8")
    assert made.stdout.replace(version, "9.0.8") == kept
