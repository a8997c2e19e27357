# SPDX-License-Identifier: MIT
"""The board in the editor this very process is: versions 6 to 10.

Nothing of the library is imported before it is used, so that the editor can load this file without shapely.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Optional

import pcbnew

from lineworthy_kicad.hosts import pcbnew_window
from lineworthy_kicad.hosts.common import UNTITLED, one_line, project_text, taken
from lineworthy_kicad.hosts.pcbnew_items import Refused, fault, find, make

if TYPE_CHECKING:
    from lineworthy.amend.amendment import Amendment
    from lineworthy_kicad.hosts.host import Applied, DocumentText, HostError

VIEW_MM = 30.0
"""Width of the view in which an item is shown, where it is not larger itself."""

PROMPT_BYTES = 3_000_000
"""The editor writes a board of this size in a tenth of a second, which nobody notices."""


class PcbnewHost:
    """The board of the running editor, or one loaded through its bindings.

    `apply` and `refill` belong inside an action plug-in's ``Run()``: what happens within one such call is one undo
    step, what happens outside cannot be undone.
    """

    def __init__(self, board: Optional[Any] = None) -> None:
        """Takes the editor's board, whichever it is at each call, unless one is given."""
        self._given = board
        self._lit: list[str] = []
        name = self._board().GetFileName()
        self.title = os.path.basename(name) or UNTITLED

    @property
    def is_prompt(self) -> bool:
        """Whether the document comes sooner than a person could notice, going by the file as it was last saved."""
        try:
            return os.path.getsize(self._board().GetFileName()) <= PROMPT_BYTES
        except OSError:
            return False  # never saved

    def document(self) -> DocumentText:
        """The board now, as the editor itself would write it; leaves no file behind."""
        from lineworthy_kicad.hosts.host import DocumentText  # noqa: PLC0415 - see above

        board = self._board()
        writer = getattr(pcbnew, "PCB_IO_MGR", None) or pcbnew.IO_MGR  # the name up to version 7
        with tempfile.TemporaryDirectory(prefix="lineworthy-") as folder:
            copy = Path(folder) / "board.kicad_pcb"
            try:
                writer.Save(writer.KICAD_SEXP, str(copy), board)
                text = copy.read_text(encoding="utf-8")
            except (OSError, RuntimeError, ValueError) as problem:
                raise _refusal(f"the editor did not hand over the board: {problem}") from None
        path = str(board.GetFileName())
        self.title = os.path.basename(path) or UNTITLED
        return DocumentText(text, self.title, path, project_text(path))

    def show(self, uids: Sequence[str]) -> bool:
        """Highlights items and brings the first into view; nothing can be selected through these bindings."""
        board = self._board()
        self._unlight(board)
        found = [(uid, item) for uid in uids if (item := find(board, uid)) is not None]
        if not found:
            return False
        first = found[0][1]
        if hasattr(pcbnew, "FocusOnItem"):  # from version 7 on; before, nothing can move the view
            box = first.GetBoundingBox(False, False) if hasattr(first, "Pads") else first.GetBoundingBox()
            pcbnew_window.zoom_in(max(VIEW_MM, 3 * max(box.GetWidth(), box.GetHeight()) / 1e6))
            pcbnew.FocusOnItem(first)
        for uid, item in found:
            for piece in [item, *(item.Pads() if hasattr(item, "Pads") else ())]:
                piece.SetBrightened()
            self._lit.append(uid)
        pcbnew.Refresh()
        return True

    def leave(self) -> None:
        """Takes back the highlight of the last `show`."""
        self._unlight(self._board())
        pcbnew.Refresh()

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Inserts all or nothing; the undo step is that of the surrounding ``Run()``, which takes no label."""
        from lineworthy_kicad.hosts.host import Applied  # noqa: PLC0415 - see above

        board = self._board()
        if reason := taken(amendments, {part.GetReference() for part in board.Footprints()}):
            raise _refusal(reason)
        added: list[Any] = []
        try:
            applied = []
            for amendment, item in [(each, make(board, each)) for each in amendments]:
                board.Add(item)
                added.append(item)
                uid = item.m_Uuid.AsString()
                back = find(board, uid)
                wrong = "it is not there" if back is None else fault(board, back, amendment)
                if wrong:
                    raise Refused(f"{amendment.title} was taken back: {wrong}")
                applied.append(Applied(amendment, uid))
        except Exception as problem:
            for item in reversed(added):
                board.Remove(item)
            if isinstance(problem, Refused):
                raise _refusal(str(problem)) from None
            raise _refusal(f"the editor refused: {problem}") from problem
        finally:
            pcbnew.Refresh()
        return tuple(applied)

    def refill(self) -> None:
        """Fills the copper pours again."""
        board = self._board()
        board.BuildConnectivity()  # new pads are no neighbours of any pour before
        if not pcbnew.ZONE_FILLER(board).Fill(board.Zones()):
            raise _refusal("the editor did not fill the copper pours")
        board.BuildConnectivity()
        pcbnew.Refresh()

    def _board(self) -> Any:
        board = self._given if self._given is not None else pcbnew.GetBoard()
        if board is None:
            raise _refusal("no board is open in the editor")
        return board

    def _unlight(self, board: Any) -> None:
        """Takes back the highlight of the last call; what has been deleted since is gone from the board by now."""
        for uid in self._lit:
            item = find(board, uid)
            if item is not None:
                for piece in [item, *(item.Pads() if hasattr(item, "Pads") else ())]:
                    piece.ClearBrightened()
        self._lit.clear()


def _refusal(reason: str) -> HostError:
    from lineworthy_kicad.hosts.host import HostError  # noqa: PLC0415 - see above

    return HostError(one_line(reason))
