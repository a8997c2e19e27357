# SPDX-License-Identifier: MIT
"""Overlapping courtyards, held against the editor's own rule check with the editor's default rules."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely

import demos
from lineworthy.geometry import pairs_within
from lineworthy.model import Board, Side

BOARDS = {
    "royalblue54L_feather/RoyalBlue54L-Feather.kicad_pcb": 11,
    "stickhub/StickHub.kicad_pcb": 45,
    "tiny_tapeout/tinytapeout-demo.kicad_pcb": 8,
    "multichannel/multichannel_mixer.kicad_pcb": 0,
}
"""Boards, and how many pairs the editor finds on them when their own rules are left behind."""

RASTER_MM2 = 1e-5
"""The editor counts in whole nanometres: slivers some of them wide, between turned parts, are touching."""


def editors_pairs(path: Path, folder: Path) -> set[frozenset[str]]:
    """Ids of the parts whose courtyards overlap, by the editor's rule check of a copy without its project's rules."""
    copy = folder / path.name
    shutil.copy(path, copy)
    answer = folder / "answer.json"
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "-o", str(answer), str(copy)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    found = json.loads(answer.read_text(encoding="utf-8"))["violations"]
    overlaps = [entry for entry in found if entry["type"] == "courtyards_overlap"]
    return {frozenset(item["uuid"] for item in entry["items"]) for entry in overlaps}


def our_pairs(board: Board) -> set[frozenset[str]]:
    found = set()
    for side in Side:
        parts = [part for part in board.parts if side in part.courtyard]
        rooms = np.empty(len(parts), dtype=object)
        rooms[:] = [part.courtyard[side] for part in parts]
        i, j, _ = pairs_within(rooms, None, 0.0)
        deep = shapely.area(shapely.intersection(rooms[i], rooms[j])) > RASTER_MM2
        found |= {frozenset((parts[a].uid, parts[b].uid)) for a, b in zip(i[deep].tolist(), j[deep].tolist())}
    return found


@pytest.mark.editor
@pytest.mark.parametrize("name", BOARDS)
def test_overlapping_courtyards_are_those_the_editor_finds(name: str, tmp_path: Path) -> None:
    path = demos.FOLDER / name
    theirs = editors_pairs(path, tmp_path)
    assert len(theirs) == BOARDS[name]
    assert our_pairs(demos.read(path)) == theirs
