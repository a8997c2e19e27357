# SPDX-License-Identifier: MIT
"""How tall parts stand by their 3D models: files that are read for their points, not for their shapes.

STEP (ISO 10303-21): the corners of all edges, and the extremes of full circles; other points lie anywhere. A file whose
pieces are moved against each other, or that is not in millimetres, gives nothing. VRML: all points of all meshes, in
tenths of an inch, as the editor takes them; a file that moves or scales them gives nothing.

Where a model lies is text of the board, which may be hostile: only plain files inside the folder of models or the
board's own are opened, each of them and all together no larger than models of parts are.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Optional

import numpy as np

from lineworthy.model import Board, Model, Part
from lineworthy.shapes import Coords

FILE_BYTES_MAX = 30_000_000
ALL_BYTES_MAX = 500_000_000
HEIGHT_MAX_MM = 150.0

_VRML_MM = 2.54
_SUFFIXES = {".step": (".step", ".stp", ".wrl"), ".stp": (".stp", ".step", ".wrl"), ".wrl": (".wrl", ".step", ".stp")}
_PLACE = re.compile(r"\$[{(](\w{1,60})[})][/\\]?|:\w{1,60}:[/\\]?")

_NUMBER = rb"[-+]?[\d.]{1,24}(?:[eE][-+]?\d{1,3})?"
_TRIPLE = rb"\(\s*(" + rb")\s*,\s*(".join([_NUMBER] * 3) + rb")\s*\)"
_LABEL = rb"\s*\(\s*'[^']{0,200}'\s*,\s*"
_POINT = re.compile(rb"#(\d{1,9})\s*=\s*(?:CARTESIAN_POINT|DIRECTION)" + _LABEL + _TRIPLE)
_AXES = re.compile(
    rb"#(\d{1,9})\s*=\s*AXIS2_PLACEMENT3D" + _LABEL + rb"#(\d{1,9})\s*(?:,\s*#(\d{1,9}))?\s*(?:,\s*#(\d{1,9}))?"
)
_CIRCLE = re.compile(rb"#(\d{1,9})\s*=\s*CIRCLE" + _LABEL + rb"#(\d{1,9})\s*,\s*(" + _NUMBER + rb")")
_CORNER = re.compile(rb"#(\d{1,9})\s*=\s*VERTEX_POINT" + _LABEL + rb"#(\d{1,9})")
_EDGE = re.compile(rb"EDGE_CURVE" + _LABEL + rb"#(\d{1,9})\s*,\s*#(\d{1,9})\s*,\s*#(\d{1,9})")
_MOVED = re.compile(
    rb"ITEM_DEFINED_TRANSFORMATION"
    + rb"\s*\(\s*(?:'[^']{0,200}'|\$)\s*,\s*(?:'[^']{0,200}'|\$)\s*,\s*#(\d{1,9})\s*,\s*#(\d{1,9})"
)
_MILLIMETRE = re.compile(rb"SI_UNIT\s*\(\s*\.MILLI\.\s*,\s*\.METRE\.\s*\)")
_MESH = re.compile(rb"\bpoint\s*\[([^\[\]]*)\]")
_VRML_MOVED = re.compile(rb"\b(translation|rotation|scale|matrix)\s+((?:" + _NUMBER + rb"\s+){2,3}" + _NUMBER + rb")")
_VRML_STAYS = {b"translation": (0, 0, 0), b"scale": (1, 1, 1)}


def measured(board: Board, folder: Path, own: Path) -> Board:
    """The board with the heights of its parts' 3D models, where their files are there and can be read.

    Args:
        board: a board as it was read.
        folder: where the libraries' models are: stands for every path variable but the project's own folder.
        own: the board's folder.
    """
    files = _Files(folder, own)
    return replace(board, parts=tuple(replace(part, model_height=_height(part, files)) for part in board.parts))


def _height(part: Part, files: _Files) -> Optional[float]:
    """How high the highest of a part's models reaches, mm above the board; None when one of them tells nothing."""
    tops = []
    for model in part.models:
        if not model.hidden:
            points = files.points(model.path)
            if points is None:
                return None
            tops.append(float(placed(points, model)[:, 2].max()))
    top = max(tops, default=0.0)
    return round(top, 3) if 0 < top <= HEIGHT_MAX_MM else None


def placed(points: Coords, model: Model) -> Coords:
    """Points of a model, (n, 3) mm, on its part: scaled, turned clockwise about x, y and z in this order, moved."""
    turned = points * np.array(model.scale)
    for axis, angle in enumerate(np.radians(model.rotation)):
        one, other = (axis + 1) % 3, (axis + 2) % 3
        matrix = np.eye(3)
        matrix[[one, other], [one, other]] = np.cos(angle)
        matrix[one, other], matrix[other, one] = np.sin(angle), -np.sin(angle)
        turned = turned @ matrix.T
    return np.asarray(turned + np.array(model.offset))


class _Files:
    """Points of model files, each read once."""

    def __init__(self, folder: Path, own: Path) -> None:
        self._folder, self._own = folder.resolve(), own.resolve()
        self._left = ALL_BYTES_MAX
        self._read: dict[str, Optional[Coords]] = {}

    def points(self, path: str) -> Optional[Coords]:
        """Points of a model, (n, 3) mm; None when its file is not there or tells nothing."""
        if path not in self._read:
            file = self._find(path)
            self._read[path] = None if file is None else self._points(file)
        return self._read[path]

    def _find(self, path: str) -> Optional[Path]:
        match = _PLACE.match(path)
        named = path[match.end() :] if match else path
        root = self._folder if match and match[1] != "KIPRJMOD" else self._own
        if not named.strip() or len(named) > 1000 or "\0" in named:
            return None
        wanted = root / named.replace("\\", "/")
        for suffix in _SUFFIXES.get(wanted.suffix.lower(), ()):
            for found in (wanted, wanted.with_suffix(suffix)):
                try:
                    real = found.resolve()
                    inside = any(base in real.parents for base in (self._folder, self._own))
                    if inside and real.suffix.lower() == suffix and real.is_file():
                        return real
                except (OSError, RuntimeError):
                    return None
        return None

    def _points(self, file: Path) -> Optional[Coords]:
        try:
            size = file.stat().st_size
            if size > min(FILE_BYTES_MAX, self._left):
                return None
            self._left -= size
            data = file.read_bytes()[:FILE_BYTES_MAX]
        except OSError:
            return None
        points = vrml_points(data) if file.suffix.lower() == ".wrl" else step_points(data)
        return points if points is not None and len(points) and np.isfinite(points).all() else None


def vrml_points(data: bytes) -> Optional[Coords]:
    """All points of the meshes of a VRML file, (n, 3) mm; None when it moves them or is none."""
    try:
        for name, text in _VRML_MOVED.findall(data):
            numbers = [float(number) for number in text.split()]
            stays = numbers[3:] == [0.0] if name == b"rotation" else tuple(numbers) == _VRML_STAYS.get(name)
            if not stays:
                return None
        meshes = [np.array(mesh.replace(b",", b" ").split(), dtype=float) for mesh in _MESH.findall(data)]
        return np.concatenate(meshes).reshape(-1, 3) * _VRML_MM if meshes else None
    except ValueError:
        return None


def step_points(data: bytes) -> Optional[Coords]:
    """Corners of edges and extremes of full circles of a STEP file, (n, 3) mm; None when nothing sure can be said."""
    if not data.lstrip()[:12].startswith(b"ISO-10303-21") or not _MILLIMETRE.search(data) or b"'INCH'" in data:
        return None
    try:
        points = {row[0]: np.array([float(number) for number in row[1:]]) for row in _POINT.findall(data)}
        axes = {name: [points[key] for key in keys if key] for name, *keys in _AXES.findall(data)}
        for one, other in _MOVED.findall(data):
            if not np.allclose(np.concatenate(axes[one]), np.concatenate(axes[other]), atol=1e-6):
                return None
        found = [points[key] for _, key in _CORNER.findall(data)]
        # circles on a surface have placements of their own kind, with two numbers
        circles = {name: (axes[key], float(radius)) for name, key, radius in _CIRCLE.findall(data) if key in axes}
        for start, end, curve in _EDGE.findall(data):
            if start == end and curve in circles:
                found += _extremes(*circles[curve])
    except (KeyError, ValueError):
        return None
    return np.array(found) if found else None


def _extremes(axes: list[Coords], radius: float) -> list[Coords]:
    """The points of a circle that lie furthest along x, y and z."""
    normal = axes[1] if len(axes) > 1 else np.array([0.0, 0.0, 1.0])
    normal = normal / (np.linalg.norm(normal) or 1.0)
    found = []
    for axis in np.eye(3):
        along = axis - normal * normal[axis.argmax()]
        length = np.linalg.norm(along)
        if length > 1e-9:
            found += [axes[0] + along * (radius / length), axes[0] - along * (radius / length)]
    return found
