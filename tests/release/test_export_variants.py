# SPDX-License-Identifier: MIT
"""However the editor is told to write its files, a release of the board passes, or the wrong setting is named."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest
from releases import PLACE, findings, path_of, release

SEPARATE = ("--excellon-separate-th",)


@dataclass(frozen=True)
class Variant:
    """Options of the three exporters, and the checks that have a reason to speak."""

    name: str
    gerber: tuple[str, ...] = ()
    drill: tuple[str, ...] = SEPARATE
    place: tuple[str, ...] = PLACE
    said: tuple[str, ...] = ()
    only: str = ""


VARIANTS = (
    Variant("without attributes", gerber=("--no-x2",)),
    Variant("without net attributes", gerber=("--no-netlist",)),
    Variant("the editor's own file endings", gerber=("--no-protel-ext",)),
    Variant("without attributes, the editor's own file endings", gerber=("--no-x2", "--no-protel-ext")),
    Variant("coarser coordinates", gerber=("--precision", "5")),
    Variant("no aperture macros", gerber=("--disable-aperture-macros",)),
    Variant("mask taken off the legend", gerber=("--subtract-soldermask",)),
    Variant("layers of the board's own plot settings", gerber=("--board-plot-params",), only="stick"),
    Variant(
        "layers of the board's own plot settings, the profile left out there",
        gerber=("--board-plot-params",),
        said=("release/set-incomplete",),
        only="ecc83",
    ),
    Variant("holes in one file", drill=()),
    Variant("holes in inches", drill=(*SEPARATE, "--excellon-units", "in")),
    Variant("holes without leading zeros", drill=("--excellon-zeros-format", "suppressleading")),
    Variant("holes without trailing zeros", drill=("--excellon-zeros-format", "suppresstrailing")),
    Variant("holes with all zeros", drill=(*SEPARATE, "--excellon-zeros-format", "keep")),
    Variant("holes in inches with all zeros", drill=("--excellon-units", "in", "--excellon-zeros-format", "keep")),
    Variant(
        "holes in inches without leading zeros",
        drill=(*SEPARATE, "--excellon-units", "in", "--excellon-zeros-format", "suppressleading"),
    ),
    Variant(
        "holes in inches without trailing zeros",
        drill=("--excellon-units", "in", "--excellon-zeros-format", "suppresstrailing"),
    ),
    Variant("slots routed", drill=(*SEPARATE, "--excellon-oval-format", "route")),
    Variant("slots routed in inches", drill=("--excellon-oval-format", "route", "--excellon-units", "in")),
    Variant("short drill header", drill=("--excellon-min-header",)),
    Variant("holes as Gerber files", drill=("--format", "gerber")),
    Variant("drill maps, Gerber", drill=(*SEPARATE, "--generate-map", "--map-format", "gerberx2")),
    Variant("drill maps, PDF", drill=("--generate-map", "--map-format", "pdf")),
    Variant("drill report", drill=(*SEPARATE, "--generate-report", "--report-path", "{out}/drill-report.rpt")),
    Variant("drill mirrored by an old option", drill=("--excellon-mirror-y",), said=("release/drill-displaced",)),
    Variant(
        "all from the drill origin",
        gerber=("--use-drill-file-origin",),
        drill=("--drill-origin", "plot"),
        place=(*PLACE, "--use-drill-file-origin"),
    ),
    Variant(  # the table has no place for the unit
        "placement in inches", place=("--units", "in", "--exclude-dnp"), said=("release/placement-convention",)
    ),
    Variant("placement with bottom x negated", place=(*PLACE, "--bottom-negate-x")),
    Variant("placement as text", place=(*PLACE, "--format", "ascii")),
    Variant("placement as text in inches", place=("--units", "in", "--exclude-dnp", "--format", "ascii")),
    Variant("placement of surface parts only", place=(*PLACE, "--smd-only")),
    Variant("placement without parts with leads", place=(*PLACE, "--exclude-fp-th")),
    Variant(
        "everything old-fashioned",
        gerber=("--no-x2", "--precision", "5", "--disable-aperture-macros"),
        drill=("--excellon-units", "in", "--excellon-zeros-format", "suppressleading", "--excellon-min-header"),
        place=("--units", "in", "--exclude-dnp", "--format", "ascii", "--bottom-negate-x"),
    ),
)


CASES = [(variant, board) for variant in VARIANTS for board in ("ecc83", "stick") if variant.only in ("", board)]


@pytest.mark.editor
@pytest.mark.parametrize(("variant", "board"), CASES, ids=lambda case: case if isinstance(case, str) else case.name)
def test_a_way_of_writing_the_files(variant: Variant, board: str) -> None:
    files = release(board, variant.gerber, variant.drill, variant.place)
    assert tuple(sorted({finding.check for finding in findings(board, files)})) == variant.said


GROUPED = ("--fields", "Reference,Value,Footprint,${QUANTITY},${DNP}", "--group-by", "Value,Footprint")
LISTS = {
    "a line per part": (),
    "grouped": GROUPED,
    "grouped, no ranges": (*GROUPED, "--ref-range-delimiter", ""),
    "semicolons": (*GROUPED, "--field-delimiter", ";"),
    "tabs, references apart by blanks": (*GROUPED, "--field-delimiter", "\t", "--ref-delimiter", " "),
    "other labels": (*GROUPED, "--labels", "Designator,Comment,Package,Quantity,DNP"),
    "without do-not-fit": (*GROUPED, "--exclude-dnp"),
}


@pytest.mark.editor
@pytest.mark.parametrize("board", ["ecc83", "stick"])
@pytest.mark.parametrize("name", LISTS)
def test_a_way_of_writing_the_parts_list(name: str, board: str, tmp_path: Path) -> None:
    source = path_of(board).with_suffix(".kicad_sch")
    target = tmp_path / "parts-list.csv"
    subprocess.run(["kicad-cli", "sch", "export", "bom", "-o", str(target), *LISTS[name], str(source)], check=True)
    data = target.read_bytes()
    assert len(data.splitlines()) > 5
    assert findings(board, {**release(board), "parts-list.csv": data}) == []
