# SPDX-License-Identifier: MIT
"""A host in memory, for presenter tests: keeps the promises of `Host`, remembers what it was asked, fails on demand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Optional

from lineworthy.amend.amendment import Amendment
from lineworthy_kicad.hosts.host import Applied, DocumentText, HostError
from lineworthy_kicad.hosts.write import inserted, written
from lineworthy_kicad.reader import parse_board


class FakeHost:
    """A board in memory.

    Attributes:
        text: the document; set it to make an unsaved edit.
        shown: ids of each successful `show`.
        labels: of each successful `apply`; `undo` takes back the last.
        refills: how often pours were filled.
        fail: calls that raise HostError, by name, with the reason.
    """

    def __init__(self, text: str, name: str = "fake.kicad_pcb", path: str = "", project: Optional[str] = None) -> None:
        self.text, self.title, self.path, self.project = text, name, path, project
        self.shown: list[tuple[str, ...]] = []
        self.labels: list[str] = []
        self.refills = 0
        self.fail: dict[str, str] = {}
        self._before: list[str] = []

    def document(self) -> DocumentText:
        """The text as it is now."""
        self._may("document")
        return DocumentText(self.text, self.title, self.path, self.project)

    def show(self, uids: Sequence[str]) -> bool:
        """Remembers those ids that the document has."""
        self._may("show")
        there = tuple(uid for uid in uids if uid and f'"{uid}"' in self.text)
        if there:
            self.shown.append(there)
        return bool(there)

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Adds to the text and reads it back."""
        self._may("apply")
        if not amendments:
            return ()
        made = written(amendments, self.text)
        text = inserted(self.text, [each.node for each in made])
        board = parse_board(text, self.title)
        there = {part.uid for part in board.parts} | {marking.uid for marking in board.markings}
        if lost := [each.amendment.title for each in made if each.uid not in there]:
            raise HostError(f"{lost[0]} is not in the document")
        self._before.append(self.text)
        self.labels.append(label)
        self.text = text
        return tuple(Applied(each.amendment, each.uid) for each in made)

    def refill(self) -> None:
        """Counts; the text keeps its fills."""
        self._may("refill")
        self.refills += 1

    def undo(self) -> None:
        """What the editor's undo does to the last `apply`."""
        self.text = self._before.pop()

    def _may(self, call: str) -> None:
        if call in self.fail:
            raise HostError(self.fail[call])
