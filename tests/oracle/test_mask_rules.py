# SPDX-License-Identifier: MIT
"""Mask openings and legend, held against the editor's own rule check.

Mask: with the board's mask margin made so large that openings bare their neighbours, every pair the editor reports we
find. It reports some of them only, as the first it meets at an opening; ours beyond that are held against the plain
distance of copper to copper, which must be within the margin (at a corner, its diagonal).

Legend: texts lower than the limit are the same. What we tell of ink on lands and beyond the edge the editor reports,
too; it reports more, because it asks all openings and the smallest touch.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.checks.bare_board_legend import legend_off_board, legend_on_land, legend_too_fine
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.gaps import Layer, Owner, layers, net_of
from lineworthy.knowledge.mask import Mask
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.printed import Printed
from lineworthy.model import Side
from lineworthy.sheet import built_in
from lineworthy_kicad.reader import read_board

Pair = frozenset[str]

MARGINS = {
    "StickHub": (0.15, 70),
    "multichannel_mixer": (0.3, 25),
    "pic_programmer": (0.3, 31),
    "RoyalBlue54L-Feather": (0.1, 41),
}
"""By board: the mask margin it is given in mm, and how many pairs the editor then reports."""

LEGENDS = {"multichannel_mixer": (0, 4, 1), "tinytapeout-demo": (12, 3, 0), "StickHub": (36, 0, 0)}
"""By board: low texts, items on lands, items beyond the edge."""


def editors_answers(path: Path) -> dict[str, list[Pair]]:
    """Ids of the items of each violation the editor's rule check reports, by kind."""
    if shutil.which("kicad-cli") is None:
        pytest.fail(f"kicad-cli is not installed: {demos.HOW}", pytrace=False)
    answer = path.with_suffix(".json")
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "--all-track-errors"]
    subprocess.run([*command, "-o", str(answer), str(path)], check=True, capture_output=True, timeout=300)
    found: dict[str, list[Pair]] = {}
    for entry in json.loads(answer.read_text(encoding="utf-8"))["violations"]:
        found.setdefault(entry["type"], []).append(frozenset(item["uuid"] for item in entry["items"]))
    return found


def demo(name: str) -> Path:
    (path,) = (path for path in demos.paths() if path.stem == name)
    return path


def uid(owner: Owner) -> str:
    return owner[1].uid if isinstance(owner, tuple) else owner.uid


def bridged(board: Board, copper: tuple[Layer, ...]) -> dict[Pair, tuple[Owner, Owner, Side]]:
    """Copper of different nets in one opening, as we find it."""
    mask = Mask(board)
    found: dict[Pair, tuple[Owner, Owner, Side]] = {}
    for layer in copper:
        for one in mask.bared(layer, 2 * TOL_MM):
            if one.gap <= 0.0:
                found[frozenset((uid(one.opening), uid(one.copper)))] = (one.opening, one.copper, one.side)
    for side in Side:
        for web in mask.webs_below(side, 2 * TOL_MM):
            if web.width <= 0.0 and net_of(web.one) != net_of(web.other):
                found[frozenset((uid(web.one), uid(web.other)))] = (web.one, web.other, side)
    return found


@pytest.mark.editor
@pytest.mark.parametrize("name", MARGINS)
def test_openings_that_bare_other_copper_are_those_the_editor_reports(name: str, tmp_path: Path) -> None:
    margin, count = MARGINS[name]
    text, changed = re.subn(
        r"\(pad_to_mask_clearance [\d.]+\)",
        f"(pad_to_mask_clearance {margin})",
        demo(name).read_text(encoding="utf-8"),
        count=1,
    )
    assert changed == 1
    path = tmp_path / demo(name).name
    path.write_text(text, encoding="utf-8")
    board = read_board(path)
    copper = tuple(layers(board))
    ours, theirs = bridged(board, copper), set(editors_answers(path)["solder_mask_bridge"])
    assert theirs <= set(ours)
    assert len(theirs) == count

    shapes: dict[tuple[str, int], list[int]] = {}
    for layer in copper:
        for n, owner in enumerate(layer.owners):
            shapes.setdefault((layer.name, id(owner)), []).append(n)
    by_name = {layer.name: layer for layer in copper}
    for one, other, side in (ours[pair] for pair in set(ours) - theirs):
        if not (isinstance(one, tuple) and board.copper_on(side) in one[1].copper):
            continue  # a drawn opening, or a pad without a land on this side: there is no copper to measure from
        layer = by_name[board.copper_on(side)]
        if (layer.name, id(other)) not in shapes:
            continue
        apart = min(
            layer.shapes[i].distance(layer.shapes[j]) - layer.half[i] - layer.half[j]
            for i in shapes[layer.name, id(one)]
            for j in shapes[layer.name, id(other)]
        )
        own = 2 * margin if isinstance(other, tuple) and side in other[1].mask else margin
        assert apart <= own * 2**0.5 + 0.01 or _has_own_margin(one, side, margin), (
            one[0].reference,
            one[1].number,
            apart,
        )


def _has_own_margin(one: Owner, side: Side, margin: float) -> bool:
    """Whether a pad has a wider opening of its own, whatever the board's margin."""
    assert isinstance(one, tuple)
    land = next(iter(one[1].copper.values()))
    return bool(land.hausdorff_distance(one[1].mask[side]) > 1.5 * margin)


@pytest.mark.editor
@pytest.mark.parametrize("name", LEGENDS)
def test_what_is_told_of_the_legend_the_editor_reports(name: str, tmp_path: Path) -> None:
    low, on_land, off_board = LEGENDS[name]
    path = tmp_path / demo(name).name
    shutil.copy(demo(name), path)
    legend = "A.Layer == 'F.SilkS' || A.Layer == 'B.SilkS'"
    rule = f'(rule "low" (condition "{legend}") (constraint text_height (min 0.8mm)))'
    path.with_suffix(".kicad_dru").write_text(f"(version 1)\n{rule}\n", encoding="utf-8")
    theirs = editors_answers(path)
    board = demos.read(demo(name))
    printed = Printed(board)
    parts = {part.uid for part in board.parts}

    def told(answers: object) -> set[str]:
        return {uid for finding in answers for uid in finding.uids} - parts  # type: ignore[attr-defined]

    named = {item.marking.uid for item in printed.identity}
    fine = told(legend_too_fine.ask(board=board, sheet=built_in(), printed=printed))
    assert fine == {uid for ids in theirs.get("text_height", []) for uid in ids} - named
    assert len(fine) == low
    inked = told(legend_on_land.ask(board=board, mask=Mask(board), printed=printed, packages=Packages(board)))
    assert inked <= {uid for ids in theirs.get("silk_over_copper", []) for uid in ids}
    assert len(inked) == on_land
    beyond = told(legend_off_board.ask(board=board, printed=printed))
    assert beyond <= {uid for ids in theirs.get("silk_edge_clearance", []) for uid in ids}
    assert len(beyond) == off_board
