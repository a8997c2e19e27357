# SPDX-License-Identifier: MIT
"""One editor with the plug-in installed, and its dialog: what the end-to-end tests share."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Optional

import pytest
from dialog_driver import Dialog, install, same_but_field_ids

from editor_session import EditorSession, wait_for
from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board

BOARD = Path("/usr/share/kicad/demos/sonde xilinx/sonde xilinx.kicad_pcb")
"""Lacks a revision on the legend and a ground probe pad, and fiducials once it is `ready`; its name has a space."""

WAYS = ["in-process", "beside"]


def ready(session: EditorSession) -> None:
    """Installs the plug-in. The connectors at the edge get paste on the top only: so a machine places one of them."""
    install(session)
    text = session.board.read_text(encoding="utf-8")
    session.board.write_text(re.sub(r'(\(layers "B\.Cu"[^)]*?) "B\.Paste"', r"\1", text), encoding="utf-8")


class Another(Dialog):
    """A second editor beside the first, and the dialog over it.

    Args:
        first: the dialog over the first editor.
        board: None for a new one, that was never saved.
    """

    def __init__(self, first: Dialog, board: Optional[Path]) -> None:
        super().__init__(first.session, first.report, "" if board is None else board.stem)
        self._process = self.session.start_another(board)
        self.main_window()

    def end_editor(self) -> None:
        """Ends it at once, as a crash would."""
        self._process.kill()
        self._process.wait(10)
        wait_for(lambda: not self.session.windows(self._name), "the second editor to be gone")


class Bench:
    """One editor with the plug-in installed, and its dialog."""

    def __init__(self, session: EditorSession, dialog: Dialog) -> None:
        self.session, self.dialog = session, dialog
        self.board = session.client().get_board()
        self._saved = session.board.read_bytes()
        self._text = same_but_field_ids(self.text())

    def open(self, way: str) -> dict[str, Any]:
        if way == "in-process":
            return self.dialog.open_by_menu()
        return self.dialog.open_by_button()

    def headless(self) -> dict[str, Any]:
        """The review of the saved file, by the library alone."""
        loaded: dict[str, Any] = json.loads(FORMATS["json"].render(review(read_board(self.session.board))))
        return loaded

    def text(self) -> str:
        """The board in the editor, as it would write it."""
        text: str = self.board.get_as_string()
        return text

    def restore(self) -> None:
        """Closes what is open and brings the board back as it was at the start, where it is not.

        Loading costs the editor its button for a while: it makes the plug-in's environment ready once more.
        """
        self.dialog.close()
        self.dialog.report.unlink(missing_ok=True)
        if self.session.board.read_bytes() != self._saved or not self._is_as_it_was():
            self.session.board.write_bytes(self._saved)
            self.board.revert()
            wait_for(self._is_as_it_was, "the board to be as it was")

    def _is_as_it_was(self) -> bool:
        return same_but_field_ids(self.text()) == self._text

    def references(self) -> list[str]:
        """What the parts on the board are called."""
        return [part.reference_field.text.value for part in self.board.get_footprints()]

    def take_off(self, reference: str) -> None:
        """Moves a part off the board, as by hand."""
        from kipy.geometry import Vector2

        part = next(p for p in self.board.get_footprints() if p.reference_field.text.value == reference)
        part.position = part.position + Vector2.from_xy_mm(0, 200)
        self.board.update_items(part)

    def undo(self) -> None:
        """Takes the last step back."""
        self.session.run_action("common.Interactive.undo")

    def status_zoom(self, picture: Path) -> bytes:
        """The zoom in the editor's status bar, as pixels."""
        from PIL import Image

        image = Image.open(self.session.screenshot(picture))
        left, right = (0, 110) if self.session.major < 10 else (150, 235)
        return image.crop((left, image.height - 24, right, image.height)).tobytes()


def benches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """One editor, for a fixture."""
    folder = Path(tmp_path_factory.mktemp("e"))
    report = folder / "report.json"
    variables = {"LINEWORTHY_REPORT_TO": str(report)}
    with EditorSession(BOARD, folder, prepare=ready, variables=variables) as session:
        dialog = Dialog(session, report)
        # the button is there when the environment is: two editors that make the same one at a time spoil it
        dialog.find_button()
        yield Bench(session, dialog)
