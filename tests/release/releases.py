# SPDX-License-Identifier: MIT
"""Releases of the editor's demo boards, written by the editor itself and kept for the length of a test run."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Callable, Optional

import demos
from lineworthy import Board, Finding, review
from lineworthy.beside import Beside
from lineworthy.intake.archive import Member, read_members
from lineworthy.intake.folder import folder_of
from lineworthy_kicad.reader import read_board

Files = dict[str, bytes]
"""A release as file name and content."""

BOARDS = {
    "ecc83": "ecc83/ecc83-pp.kicad_pcb",
    "stick": "stickhub/StickHub.kicad_pcb",
    "pic": "pic_programmer/pic_programmer.kicad_pcb",
    "feather": "royalblue54L_feather/RoyalBlue54L-Feather.kicad_pcb",
    "mixer": "multichannel/multichannel_mixer.kicad_pcb",
    "wave": "microwave/microwave.kicad_pcb",
}
"""Two copper layers with leads only; both sides dense; leads and pours; eight layers; bottom side; high frequency."""

PARTS_LIST = "parts-list.csv"
_SCRATCH = Path(tempfile.mkdtemp(prefix="releases-"))


def path_of(board: str) -> Path:
    return demos.FOLDER / BOARDS[board]


@cache
def board_of(board: str) -> Board:
    return read_board(path_of(board))


@cache
def _exported(path: Path, gerber: tuple[str, ...], drill: tuple[str, ...], place: tuple[str, ...]) -> Path:
    out = Path(tempfile.mkdtemp(dir=_SCRATCH))
    table = out / f"{path.stem}-pos.csv"
    for command in (
        ["gerbers", "-o", f"{out}/", *gerber],
        ["drill", "-o", f"{out}/", *drill],
        ["pos", "--format", "csv", "-o", str(table), *(place or ("--units", "mm", "--exclude-dnp"))],
    ):
        done = subprocess.run(["kicad-cli", "pcb", "export", *command, str(path)], capture_output=True, check=False)
        assert done.returncode == 0, done.stderr
    return out


def release(
    board: str,
    gerber: tuple[str, ...] = (),
    drill: tuple[str, ...] = ("--excellon-separate-th",),
    place: tuple[str, ...] = (),
) -> Files:
    """The files the editor writes for a demo board; a fresh copy each time."""
    return {member.name: member.data for member in read_members(_exported(path_of(board), gerber, drill, place))}


@cache
def _edited(board: str, old: str, new: str) -> Path:
    source = path_of(board)
    text = source.read_text(encoding="utf-8")
    assert old in text, old
    folder = Path(tempfile.mkdtemp(dir=_SCRATCH))
    if source.with_suffix(".kicad_pro").exists():
        shutil.copy(source.with_suffix(".kicad_pro"), folder)
    copy = folder / source.name
    copy.write_text(text.replace(old, new, 1), encoding="utf-8")
    return copy


def older(board: str, old: str, new: str) -> Files:
    """The release of another state of a demo board: some text of its document replaced."""
    out = _exported(_edited(board, old, new), (), ("--excellon-separate-th",), ())
    return {member.name: member.data for member in read_members(out)}


def parts_list(board: str) -> bytes:
    """A parts list of the fitted parts, as a person would export it."""
    rows = ["Reference,Value,Footprint,Quantity"]
    for part in board_of(board).parts:
        if part.fitted and part.in_parts_list and not part.board_only and part.pads:
            rows.append(f'"{part.reference}","{part.value}","{part.package}",1')
    return "\n".join(rows).encode()


def findings(board: str, files: Files, *, saved: Optional[datetime] = None, name: str = "release") -> list[Finding]:
    """What the checks of the release say of these files; checks that fail raise."""
    members = tuple(Member(file, data) for file, data in sorted(files.items()))
    beside = Beside(folder=folder_of(name, members, saved))
    result = review(board_of(board), beside=beside, only=["release"], strict=True)
    return [f for f in result.findings if f.check not in ("release/pour-unfilled",)]


def one(files: Files, ending: str) -> str:
    """The name of the one file that ends so."""
    (found,) = [name for name in files if name.endswith(ending)]
    return found


def changed(files: Files, ending: str, change: Callable[[str], str]) -> Files:
    """The files with the text of one of them changed."""
    name = one(files, ending)
    before = files[name].decode()
    after = change(before)
    assert after != before, f"nothing changed in {name}"
    return {**files, name: after.encode()}


def coordinates(text: str, x: Callable[[float], float], y: Callable[[float], float] = lambda v: v) -> str:
    """A plot or drill file with its coordinates (not its apertures) mapped; offsets of arcs by the map's slope."""

    def mapped(match: re.Match[str]) -> str:
        axis, digits = match[1], match[2]
        scale = 1.0 if "." in digits else 1e6
        of = x if axis in "XI" else y
        value = float(digits) / scale
        new = of(value) if axis in "XY" else value * (of(1.0) - of(0.0))
        return f"{axis}{new:.4f}" if scale == 1.0 else f"{axis}{round(new * scale)}"

    head, body = re.split(r"(?<=G04 APERTURE END LIST\*\n)|(?<=\n%\n)", text, maxsplit=1)
    return head + re.sub(r"([XYIJ])([-+]?\d+\.?\d*)", mapped, body)
