# SPDX-License-Identifier: MIT
"""Which way plugs come, held against the editor's footprint libraries, which say where the board's edge belongs."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.bodies import Bodies, Kind
from lineworthy.knowledge.mating import mating
from lineworthy.knowledge.packages import Packages
from lineworthy_kicad.reader import parse_footprint

EDGE = re.compile(r'\(fp_text user "PCB Edge"\s*\(at ([-\d.]+) ([-\d.]+)', re.IGNORECASE)
"""A word that many land patterns of connectors carry beside the line where the board should end."""


@pytest.mark.editor
def test_plugs_come_over_the_edge_the_library_draws() -> None:
    right, wrong, silent = [], [], []
    for path in sorted(demos.FOOTPRINTS.glob("Connector*.pretty/*.kicad_mod")):
        text = path.read_text(encoding="utf-8")
        edge = EDGE.search(text)
        if edge is None:
            continue
        part = replace(parse_footprint(text), reference="J1", fitted=True)
        board = Board(parts=(part,))
        body = next((b for b in Bodies(board, Packages(board)).on(part.side) if b.kind is Kind.CONNECTOR), None)
        way = None if body is None else mating(body)
        if way is None:
            silent.append(path.stem)
            continue
        lands = np.mean([pad.at for pad in part.pads if pad.copper], axis=0)
        there = np.array([float(edge[1]), -float(edge[2])]) - lands
        (right if there @ np.array(way.way) > 0.0 else wrong).append(path.stem)
    assert wrong == []
    assert len(right) >= 90
    assert len(silent) <= 15
