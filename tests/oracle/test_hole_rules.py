# SPDX-License-Identifier: MIT
"""Walls of holes to copper and to other holes, held against the editor's own rule check with rules made for it.

Every pair the editor reports we find, at the same distance, and the other way round, but for what each side leaves out:

- the editor measures vias without a drill size as if they had one of nothing; we say that the size is missing;
- the editor asks only round holes for their distance to other holes; we ask slots, too;
- drawings in copper that belong to a part and have no net are the part's own to the editor;
- the editor measures curved tracks by their chords, up to 0.005 mm off.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import demos
from lineworthy.knowledge.drilled import Bore, Drilled
from lineworthy.knowledge.gaps import Owner, layers
from lineworthy.model import Graphic

BOARDS = {
    "pic_programmer": (0.35, 4, 0.6, 0),
    "carte_test": (0.35, 1, 0.9, 0),
    "flat_hierarchy": (0.35, 3, 0.6, 0),
    "kit-dev-coldfire-xilinx_5213": (0.35, 21, 0.6, 37),
    "tinytapeout-demo": (0.33, 2, 0.6, 17),
    "StickHub": (0.26, 114, 0.6, 22),
    "RoyalBlue54L-Feather": (0.2, 18, 0.5, 30),
    "multichannel_mixer-unrouted": (0.5, 0, 0.9, 1),
}
"""By board: mm from hole to copper, pairs the editor finds below that, mm from hole to hole, pairs below that."""

REPORTED_MAX = 199
"""The editor stops counting here."""

SAME_MM = 0.005

Pairs = dict[frozenset[str], float]


def editors_pairs(path: Path, folder: Path, to_copper: float, to_hole: float) -> tuple[Pairs, Pairs]:
    """Pairs of ids and their distance by the editor's rule check: holes and copper, holes and holes."""
    copy = folder / path.name
    shutil.copy(path, copy)
    rules = f'(rule "copper" (constraint hole_clearance (min {to_copper}mm)))'
    rules += f'(rule "hole" (constraint hole_to_hole (min {to_hole}mm)))'
    copy.with_suffix(".kicad_dru").write_text(f"(version 1)\n{rules}\n", encoding="utf-8")
    answer = folder / "answer.json"
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "--all-track-errors"]
    subprocess.run([*command, "-o", str(answer), str(copy)], check=True, capture_output=True, timeout=300)
    copper: Pairs = {}
    holes: Pairs = {}
    for entry in json.loads(answer.read_text(encoding="utf-8"))["violations"]:
        pairs = {"hole_clearance": copper, "hole_to_hole": holes, "holes_co_located": holes}.get(entry["type"])
        if pairs is not None:
            ids = frozenset(item["uuid"] for item in entry["items"])
            actual = re.search(r"actual (-?[\d.]+)", entry["description"])
            pairs[ids] = min(pairs.get(ids, 99.0), float(actual[1]) if actual else 0.0)
    assert len(copper) < REPORTED_MAX
    assert len(holes) < REPORTED_MAX
    return copper, holes


def uid(owner: Owner) -> str:
    return owner[1].uid if isinstance(owner, tuple) else owner.uid


def is_own_drawing(bore: Bore, owner: Owner) -> bool:
    part = bore.part
    return part is not None and isinstance(owner, Graphic) and not owner.net and owner.part_uid == part.uid


@pytest.mark.editor
@pytest.mark.parametrize("name", BOARDS)
def test_the_editor_finds_the_same_holes_near_copper_and_near_holes(name: str, tmp_path: Path) -> None:
    if shutil.which("kicad-cli") is None:
        pytest.fail(f"kicad-cli is not installed: {demos.HOW}", pytrace=False)
    (path,) = (path for path in demos.paths() if path.stem == name)
    to_copper, copper_count, to_hole, hole_count = BOARDS[name]
    board = demos.read(path)
    drilled = Drilled(board)
    unstated = {bore.uid for bore in drilled.unstated}
    theirs = editors_pairs(path, tmp_path, to_copper, to_hole)
    copper, holes = ({ids: w for ids, w in pairs.items() if not ids & unstated} for pairs in theirs)

    ours: Pairs = {}
    for one in drilled.near_copper(tuple(layers(board)), to_copper, to_copper):
        if not is_own_drawing(one.bore, one.owner):
            ids = frozenset({one.bore.uid, uid(one.owner)})
            ours[ids] = min(ours.get(ids, 99.0), one.width)
    assert {ids for ids, width in ours.items() if width < to_copper - 2 * SAME_MM} <= set(copper)
    assert {ids for ids, width in copper.items() if width < to_copper - 2 * SAME_MM} <= set(ours)
    apart = [(ids, ours[ids], copper[ids]) for ids in set(ours) & set(copper) if abs(ours[ids] - copper[ids]) > SAME_MM]
    assert apart == []
    assert len(copper) == copper_count

    round_ones = {
        frozenset({one.uid, other.uid}): width
        for one, other, width in drilled.pairs_below(to_hole)
        if not one.is_slot and not other.is_slot
    }
    assert set(round_ones) == set(holes)
    assert all(abs(max(round_ones[ids], 0.0) - holes[ids]) < 1e-3 for ids in holes)
    assert len(holes) == hole_count
