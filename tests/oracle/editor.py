# SPDX-License-Identifier: MIT
"""Asks the editor about a board, once per board and editor version, and turns the answer into the model's frame."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import shutil
import subprocess
from functools import lru_cache
from pathlib import Path
from typing import Any, Optional

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

DUMP = Path(__file__).with_name("dump.py")
SHARED = Path(__file__).with_name("dump_shared.py")
HOW = "no interpreter here can import the editor's bindings (pcbnew): run 'sh tests/install-editor.sh' as root"
NM_PER_MM = 1e6

Facts = dict[str, Any]


@lru_cache(maxsize=1)
def interpreter() -> tuple[str, str]:
    """The interpreter that has the editor's bindings, and the editor's version.

    Raises:
        RuntimeError: none has; says how to install them.
    """
    for name in ("/usr/bin/python3", "python3"):
        command = shutil.which(name)
        if command is None:
            continue
        answer = _run([command, "-c", "import pcbnew; print(pcbnew.Version())"])
        if answer.returncode == 0 and answer.stdout.strip():
            return command, answer.stdout.split()[-1]
    raise RuntimeError(HOW)


def ask(board: Path, cache: Path) -> Facts:
    """What the editor says about a board; kept in `cache` by what the answer depends on."""
    command, version = interpreter()
    digest = hashlib.sha256()
    project = board.with_suffix(".kicad_pro")
    for part in (
        version.encode(),
        DUMP.read_bytes(),
        SHARED.read_bytes(),
        board.read_bytes(),
        project.read_bytes() if project.exists() else b"",
    ):
        digest.update(hashlib.sha256(part).digest())
    answer = cache / f"{digest.hexdigest()[:32]}.json"
    if not answer.exists():
        result = _run([command, str(DUMP), str(board), str(answer)])
        if result.returncode != 0:
            raise RuntimeError(f"the editor failed on {board.name}: {result.stderr.strip().splitlines()[-1:]}")
    facts: Facts = json.loads(answer.read_text(encoding="utf-8"))
    return facts


def _run(command: list[str]) -> subprocess.CompletedProcess[str]:
    """Runs the editor's interpreter without our own packages in its way."""
    surroundings = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    return subprocess.run(command, capture_output=True, text=True, env=surroundings, check=False)


def mm(length: float) -> float:
    """Nanometres to millimetres."""
    return length / NM_PER_MM


def point(at: Optional[list[int]]) -> Optional[tuple[float, float]]:
    """An editor position in the model's frame (y up)."""
    return None if at is None else (at[0] / NM_PER_MM, -at[1] / NM_PER_MM)


def ring(packed: str) -> np.ndarray:
    """One ring as an (n, 2) array in the model's frame."""
    flat = np.frombuffer(base64.b64decode(packed), dtype="<i4").reshape(-1, 2)
    return flat * np.array([1.0, -1.0]) / NM_PER_MM


def area(pieces: list[list[str]]) -> BaseGeometry:
    """A polygon of the editor as a valid geometry in the model's frame."""
    shapes = []
    for piece in pieces:
        rings = [r for r in map(ring, piece) if len(r) >= 3]
        if rings:
            shapes.append(shapely.Polygon(rings[0], rings[1:]))
    if not shapes:
        return shapely.Polygon()
    if len(shapes) == 1 and shapes[0].is_valid:
        return shapes[0]
    valid = shapely.get_parts(shapely.make_valid(np.array(shapes)))
    return shapely.union_all(valid[shapely.get_dimensions(valid) == 2])
