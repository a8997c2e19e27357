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


TITLED = "ecc83 rev B"
"""The first one with a revision in its title block, which none of them has."""


def path_of(board: str) -> Path:
    if board == TITLED:
        return _edited("ecc83", '(paper "A4")', '(paper "A4")\n\t(title_block\n\t\t(rev "B")\n\t)')
    return demos.FOLDER / BOARDS[board]


@cache
def board_of(board: str) -> Board:
    return read_board(path_of(board))


PLACE = ("--units", "mm", "--exclude-dnp")
_ENDINGS = {"csv": "csv", "ascii": "pos", "gerber": "gbr"}


@cache
def _written(path: Path, what: str, options: tuple[str, ...]) -> tuple[Member, ...]:
    """What one of the editor's exporters writes; ``{out}`` in its options is the folder it writes into."""
    out = Path(tempfile.mkdtemp(dir=_SCRATCH))
    target = f"{out}/"
    if what == "pos":
        form = options[options.index("--format") + 1] if "--format" in options else "csv"
        target += f"{path.stem}-pos.{_ENDINGS[form]}"
        options = options if "--format" in options else ("--format", "csv", *options)
    arguments = [option.replace("{out}", str(out)) for option in options]
    command = ["kicad-cli", "pcb", "export", what, "-o", target, *arguments, str(path)]
    done = subprocess.run(command, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    return read_members(out)


def _exported(path: Path, gerber: tuple[str, ...], drill: tuple[str, ...], place: tuple[str, ...]) -> Files:
    written = (("gerbers", gerber), ("drill", drill), ("pos", place))
    return {member.name: member.data for what, options in written for member in _written(path, what, options)}


def release(
    board: str,
    gerber: tuple[str, ...] = (),
    drill: tuple[str, ...] = ("--excellon-separate-th",),
    place: tuple[str, ...] = PLACE,
) -> Files:
    """The files the editor writes for a demo board; a fresh copy each time."""
    return _exported(path_of(board), gerber, drill, place)


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
    return _exported(_edited(board, old, new), (), ("--excellon-separate-th",), PLACE)


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
    if (x(1.0) - x(0.0)) * (y(1.0) - y(0.0)) < 0:  # in a mirror, arcs run the other way
        body = re.sub(r"^G0([23])", lambda match: f"G0{5 - int(match[1])}", body, flags=re.MULTILINE)
    return head + re.sub(r"([XYIJ])([-+]?\d+\.?\d*)", mapped, body)
