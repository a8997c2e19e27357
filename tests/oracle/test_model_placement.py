# SPDX-License-Identifier: MIT
"""How a 3D model is placed on its part, against the editor's own export of the board as VRML."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from lineworthy.intake.models import measured, placed, vrml_points
from lineworthy_kicad.reader import read_board

MODEL = """#VRML V2.0 utf8
Shape {{ appearance Appearance {{ material Material {{ diffuseColor 0.5 0.5 0.5 }} }}
  geometry IndexedFaceSet {{ coord Coordinate {{ point [ 0 0 0, 1 0 0, 0 2 0, 0 0 3 ] }}
    coordIndex [ 0,2,1,-1, 0,1,3,-1, 1,2,3,-1, 0,3,2,-1 ] }} }}
""".format()
BOARD = """(kicad_pcb (version 20241229) (generator "pcbnew") (generator_version "9.0") (general (thickness 1.6))
  (layers (0 "F.Cu" signal) (2 "B.Cu" signal) (25 "Edge.Cuts" user))
  (gr_rect (start 90 90) (end 110 110) (stroke (width 0.1) (type solid)) (fill no) (layer "Edge.Cuts") (uuid "1"))
  (footprint "L:P" (layer "F.Cu") (uuid "2") (at 100 100) (attr smd)
    (model "%s" (offset (xyz 1 2 3)) (scale (xyz 1 1 2)) (rotate (xyz %s)))))
"""
VRML_MM = 2.54
HALF_BOARD_MM = 0.8

pytestmark = pytest.mark.editor


@pytest.mark.parametrize("turned", ["0 0 0", "90 0 0", "0 90 0", "0 0 90", "30 40 50", "-90 20 180"])
def test_a_model_is_placed_as_the_editor_places_it(turned: str, tmp_path: Path) -> None:
    if shutil.which("kicad-cli") is None:
        pytest.fail("kicad-cli is missing: run 'sh tests/install-editor.sh' as root")
    (tmp_path / "box.wrl").write_text(MODEL, encoding="ascii")
    path = tmp_path / "b.kicad_pcb"
    path.write_text(BOARD % (tmp_path / "box.wrl", turned), encoding="utf-8")
    out = tmp_path / "out.wrl"
    command = ["kicad-cli", "pcb", "export", "vrml", str(path), "-o", str(out), "--units", "mm"]
    subprocess.run(command, check=True, capture_output=True, timeout=120)

    # the placement is the second of the nested transforms, its turn an axis and an angle
    text = out.read_text(encoding="utf-8")
    _, turn, *_ = re.findall(r"rotation ([-\d.e ]+)", text)
    _, scale, *_ = re.findall(r"scale ([-\d.e ]+)", text)
    _, offset, *_ = re.findall(r"translation ([-\d.e ]+)", text)
    *axis, angle = map(float, turn.split())
    cross = np.cross(np.eye(3), np.array(axis))
    matrix = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    points = vrml_points((tmp_path / "box.wrl").read_bytes())
    assert points is not None
    moved = np.array(offset.split(), dtype=float) * VRML_MM
    theirs = (points * np.array(scale.split(), dtype=float)) @ matrix.T + moved

    (part,) = read_board(path).parts
    (model,) = part.models
    ours = placed(points, model) + np.array([0, 0, HALF_BOARD_MM])
    assert ours == pytest.approx(theirs, abs=1e-3)
    (seen,) = measured(read_board(path), tmp_path, tmp_path).parts
    assert seen.model_height == pytest.approx(theirs[:, 2].max() - HALF_BOARD_MM, abs=2e-3)
