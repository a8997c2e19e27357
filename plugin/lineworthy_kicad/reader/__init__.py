# SPDX-License-Identifier: MIT
"""Document text to `lineworthy.model.Board`.

>>> board = read_board("board.kicad_pcb")  # doctest: +SKIP
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Optional, Union

import shapely

from lineworthy.collector import uncollected
from lineworthy.errors import InputError
from lineworthy.model import Board, Part
from lineworthy_kicad.reader.document import Reading
from lineworthy_kicad.reader.sexpr import Document, Progress

SIZE_MAX = 512 * 1024 * 1024
"""Bytes. The largest demo board of the editor has 70 MB."""

__all__ = ["parse_board", "parse_footprint", "read_board", "read_project_text"]


def read_board(path: Union[str, Path], progress: Optional[Progress] = None) -> Board:
    """Reads a board file and, where there is one, the project file beside it.

    Args:
        path: a ``.kicad_pcb`` file.
        progress: told the share read so far, 0 to 1; may raise to stop.

    Raises:
        InputError: the file cannot be read or is no board document of format 6 or later.
    """
    name = str(path)
    text = _read_text(Path(path), name)
    return parse_board(text, Path(path).name, name, read_project_text(Path(path)), progress)


def read_project_text(board: Path) -> Optional[str]:
    """Text of the project file beside a board file, None where there is none; every host of the editor uses this.

    Raises:
        InputError: there is one, and it cannot be read.
    """
    beside = board.with_suffix(".kicad_pro")
    return _read_text(beside, str(beside)) if os.path.isfile(beside) else None


@uncollected()
def parse_board(
    text: str, name: str, path: str = "", project: Optional[str] = None, progress: Optional[Progress] = None
) -> Board:
    """Reads a board from its document text; every host of the editor uses this.

    Args:
        text: the document.
        name: the file's name without folders; errors and the board carry it.
        path: the file with folders, where there is a file.
        project: text of the project file (JSON), where there is one.
        progress: told the share read so far, 0 to 1; may raise to stop.

    Raises:
        InputError: the text is no board document of format 6 or later.
    """
    document = Document(text, path or name, progress)
    if document.head != "kicad_pcb":
        raise InputError(document.name, _WRONG_HEAD.get(document.head, "not a board document"))
    reading = Reading(document, path)
    try:
        reading.read()
        return reading.board(project)
    except shapely.GEOSException as problem:
        # The geometry library gives up on shapes that cross themselves millions of times.
        raise InputError(document.name, f"holds a shape nobody can make sense of ({problem})") from None


def parse_footprint(text: str) -> Part:
    """Reads a library footprint, placed at the origin on the top side.

    Raises:
        InputError: the text is no footprint of format 6 or later.
    """
    document = Document(text, "footprint")
    if document.head not in ("footprint", "module"):
        raise InputError(document.name, "not a footprint")
    return Reading(document, "").footprint()


_WRONG_HEAD = {
    "footprint": "a library footprint, not a board",
    "module": "a library footprint, not a board",
    "kicad_sch": "a schematic, not a board",
    "kicad_wks": "a drawing sheet, not a board",
}


def _read_text(path: Path, name: str) -> str:
    """A file as text; every way in which that can fail is an InputError."""
    try:
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise InputError(name, "a folder, not a file")
        if not stat.S_ISREG(status.st_mode):
            raise InputError(name, "not a regular file")
        if status.st_size > SIZE_MAX:
            raise InputError(name, f"larger than {SIZE_MAX // 1024 // 1024} MB")
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputError(name, "no such file") from None
    except (OSError, ValueError) as problem:
        raise InputError(name, f"cannot be read: {getattr(problem, 'strerror', None) or problem}") from None
    if not raw or raw.isspace():
        raise InputError(name, "the file is empty")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise InputError(name, "not text in UTF-8", f"line {line}") from None
    if "\0" in text:
        raise InputError(name, "not a text file")
    return text
