# SPDX-License-Identifier: MIT
"""A board that lives in a plain file: read, and only ever added to."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Optional, Union

from lineworthy.amend.amendment import Amendment
from lineworthy.errors import InputError
from lineworthy.files import write_all
from lineworthy.model import Board
from lineworthy_kicad.hosts.common import project_text
from lineworthy_kicad.hosts.host import Applied, DocumentText, HostError
from lineworthy_kicad.hosts.write import Written, inserted, written
from lineworthy_kicad.reader import parse_board

NO_REFILL = "a file cannot fill its pours: open it in the editor, fill all zones and save"


class FileHost:
    """A ``.kicad_pcb`` file.

    Args:
        path: the file.
        out: where to write the board with what was inserted; the file itself when None, which then keeps a numbered
            copy of what it was.
    """

    def __init__(self, path: Union[str, Path], out: Optional[Union[str, Path]] = None) -> None:
        self.path = Path(path)
        self.out = None if out is None else Path(out)
        self.title = self.path.name
        self.kept: Optional[Path] = None
        """The copy that was kept by the last `apply`."""
        self.also: dict[Path, str] = {}
        """Further files that `apply` writes with the board, all or none."""
        self._text: Optional[str] = None
        self._digest = b""

    def document(self) -> DocumentText:
        """The file as it is now, and the project file beside it. Raises HostError when it cannot be read."""
        raw = self._read()
        try:
            self._text = raw.decode("utf-8")
        except UnicodeDecodeError:
            raise HostError(f"{self.path}: not text in UTF-8") from None
        self._digest = hashlib.sha256(raw).digest()
        return DocumentText(self._text.lstrip("\ufeff"), self.path.name, str(self.path), project_text(str(self.path)))

    def show(self, uids: Sequence[str]) -> bool:
        """A file shows nothing."""
        return False

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Adds the amendments to the document, writes it, and reads back what was written.

        Raises:
            HostError: nothing was written: the file has changed since it was read, or cannot take them.
        """
        if self._text is None:
            self.document()
        assert self._text is not None
        if not amendments:
            return ()
        nodes = written(amendments, self._text)
        made = inserted(self._text, [item.node for item in nodes])
        applied = self._read_back(made, nodes)
        if hashlib.sha256(self._read()).digest() != self._digest:
            raise HostError(f"{self.path}: the file has changed since it was read; review it again first")
        target, source = (Path(os.path.realpath(path)) for path in (self.out or self.path, self.path))
        kept = _copy_of(target) if target == source else None
        try:
            write_all({**({kept: self._text} if kept else {}), **self.also, target: made})
        except InputError as error:
            raise HostError(str(error)) from None
        if kept:
            self.kept = kept
            self._text, self._digest = made, hashlib.sha256(made.encode("utf-8")).digest()
        return applied

    def refill(self) -> None:
        """Always raises HostError: only the editor can fill pours."""
        raise HostError(NO_REFILL)

    def _read_back(self, text: str, nodes: Sequence[Written]) -> tuple[Applied, ...]:
        """Every amendment as the reader finds it in the new document, before that is written anywhere."""
        try:
            board = parse_board(text.lstrip("\ufeff"), self.path.name, str(self.path), project_text(str(self.path)))
        except InputError as error:
            raise HostError(str(error)) from None
        for item in nodes:
            if not _is_there(board, item):
                raise HostError(f"{item.amendment.title} cannot be found in the document after adding it")
        return tuple(Applied(item.amendment, item.uid) for item in nodes)

    def _read(self) -> bytes:
        try:
            return self.path.read_bytes()
        except OSError as error:
            raise HostError(f"{self.path}: cannot be read: {error.strerror or error}") from None


def _is_there(board: Board, item: Written) -> bool:
    uids = {part.uid for part in board.parts} | {marking.uid for marking in board.markings}
    return item.uid in uids


def _copy_of(path: Path) -> Path:
    """A name for a copy beside a file, with the first free number."""
    names = (path.with_name(f"{path.name}.before-{number}") for number in count(1))
    return next(name for name in names if not os.path.lexists(name))
