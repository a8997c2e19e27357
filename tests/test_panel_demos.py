# SPDX-License-Identifier: MIT
"""Panel plans of boards we did not write: none fails, and each proposed array holds by the independent check."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely

import demos
from lineworthy.cli.panel import _refuse
from lineworthy.errors import InputError
from lineworthy.report import panel_json, panel_svg, panel_text
from lineworthy.sheet import built_in
from panel_cases import planned
from panel_check import faults

pytestmark = [pytest.mark.editor, pytest.mark.slow]


def is_one_board(path: Path) -> bool:
    outline = demos.read(path).outline
    return outline.is_closed and len(shapely.get_parts(outline.area)) == 1


@pytest.mark.parametrize("path", demos.paths(), ids=demos.name)
def test_plan_of_a_demo_board_holds(path: Path) -> None:
    if not is_one_board(path):  # refused in one line, and nothing is planned
        with pytest.raises(InputError, match="outline"):
            _refuse(demos.read(path), str(path))
        return
    made = planned(demos.read(path))
    document = json.loads(panel_json.document(made))
    assert faults(demos.read(path), built_in(), document) == []
    assert panel_text.render(made).startswith("Panel plan")
    assert made.arrays or made.against
    for number in range(1, len(made.arrays) + 1):
        ElementTree.fromstring(panel_svg.draw(made, number))
