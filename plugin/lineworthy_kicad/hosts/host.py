# SPDX-License-Identifier: MIT
"""What the dialog and the commands need of the place a board lives in.

Three hosts keep this promise: the editor's in-process bindings, its inter-process interface, and a plain file.
Every one of them hands over document *text*, so there is one reader and findings cannot differ between hosts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Optional, Protocol

from lineworthy.amend.amendment import Amendment
from lineworthy.errors import LineworthyError


class HostError(LineworthyError):
    """The host refused or could not be reached; the board is as it was."""


@dataclass(frozen=True)
class DocumentText:
    """A board as its host has it now, unsaved edits included.

    Attributes:
        text: the document.
        name: file name without folders; a stand-in for a board that was never saved.
        path: the file with folders; empty for a board that was never saved.
        project: text of the project file beside it, None where there is none.
    """

    text: str
    name: str
    path: str = ""
    project: Optional[str] = None


@dataclass(frozen=True)
class Applied:
    """One amendment as it was found in the board after inserting it; `uid` is the editor's id of the new item."""

    amendment: Amendment
    uid: str


class Host(Protocol):
    """A place a board lives in.

    A host may also have `any_thread` (true where calls need not come from the main thread), `is_prompt` (true where
    the document comes sooner than a person could notice) and ``leave()``, called when the window closes, which takes
    back what `show` changed on the screen.
    """

    title: str
    """What to call it in a window title: the board's file name, or the editor's name for an unsaved one."""

    def document(self) -> DocumentText:
        """The board now. Raises HostError when there is none or the host is gone."""

    def show(self, uids: Sequence[str]) -> bool:
        """Selects items, brings them into view and highlights them as far as the host can.

        Args:
            uids: the editor's ids, parts before their pads; ids that no longer exist are skipped.

        Returns:
            False when none of them could be shown.
        """

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Inserts all or nothing as one undo step called `label`, and reads back what was inserted.

        Raises:
            HostError: nothing was inserted; the reason in one line.
        """

    def refill(self) -> None:
        """Fills the copper pours again, where the host can; a file keeps its fills and says so by HostError."""
