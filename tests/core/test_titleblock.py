# SPDX-License-Identifier: MIT
"""Whatever is written about a board gives its title block with the project's variables put in."""

from __future__ import annotations

from collections.abc import Iterator

import build
from lineworthy import Board, review
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.titleblock import title_block
from lineworthy.model import TitleBlock
from lineworthy.plans.probes import plan as probes
from lineworthy.release.manifest import Manifest
from lineworthy.report import FORMATS, brief, netlist356, panel_json, panel_text, probe_map, probe_table, probe_text
from lineworthy.sheet import built_in
from panel_cases import planned as panel

TITLE = TitleBlock("${PRODUCT} board", "${REV}", "${WHEN}", "${MAKER}", ("${PRODUCT}", "${NOBODY}"))
VARIABLES = {"PRODUCT": "Orchard frost alarm", "REV": "K7", "WHEN": "2027-03-01", "MAKER": "Orchard Instruments"}


def board() -> Board:
    return build.board(
        60, 40, parts=(build.chip("R1", (10, 10)), build.fiducial("FID1", (3, 3))), title=TITLE, variables=VARIABLES
    )


def written() -> Iterator[tuple[str, str]]:
    """Names and texts of everything that is written about the board."""
    made = board()
    checked = review(made)
    for name in ("text", "json", "html"):
        yield name, FORMATS[name].render(checked)
    yield "brief", brief.render(checked, Manifest(made.name, "K7", "ab" * 32, "2027-03-01", ()))
    yield "netlist", netlist356.render(made)
    test = probes(made, built_in(), nets=Nets(made), marks=Marks(made), packages=Packages(made))
    yield "probe text", probe_text.render(test)
    yield "probe table", probe_table.document(test)
    yield "probe map", probe_map.draw(test)
    array = panel(made)
    yield "panel text", panel_text.render(array)
    yield "panel json", panel_json.document(array)


def test_everything_written_gives_the_values() -> None:
    for name, text in written():
        assert "K7" in text, name
        assert not [variable for variable in VARIABLES if f"${{{variable}}}" in text], name


def test_what_nobody_has_set_stays_as_it_is_written() -> None:
    stated = title_block(board())
    assert stated == TitleBlock(
        "Orchard frost alarm board", "K7", "2027-03-01", "Orchard Instruments", ("Orchard frost alarm", "${NOBODY}")
    )
