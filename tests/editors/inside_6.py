# SPDX-License-Identifier: MIT
"""The in-process host in a running editor of version 6: what tests/hosts shows of later versions.

Version 6 has no interface to other processes, so what the board is comes from the file it saves. Run inside the
chroot, with ``-p board_6``.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from contract_board import PART, REVISION, write_board
from PIL import Image, ImageChops
from subjects import DrivenHost, Inside, install_driver

from editor_session import EditorSession
from lineworthy.amend.amendment import FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.model import Side
from lineworthy_kicad.reader import parse_board

INSERTED = (
    FiducialMark("FID1", (105.0, -55.0), Side.TOP, 1.0, 2.0),
    FiducialMark("FID2", (145.0, -85.0), Side.BOTTOM, 1.5, 3.0),
    ProbePad("TP1", (135.0, -60.0), Side.TOP, 1.0, "GND"),
    ToolingHole("H1", (105.0, -85.0), 3.2),
    MarkingText(f"REV {REVISION}", "REV ${REVISION}", (115.0, -65.0), Side.BOTTOM, 2.0, 0.3),
)


def saved(editor: EditorSession) -> str:
    """What the editor saves now."""
    stamp = editor.board.stat().st_mtime_ns
    editor.focus(editor.windows("PCB Editor")[0])
    editor.keys("ctrl+s")
    editor.wait_for(lambda: editor.board.exists() and editor.board.stat().st_mtime_ns != stamp, "the saved file", 10)
    # the name is there before the last byte is: wait for the last line
    editor.wait_for(lambda: editor.board.read_text(encoding="utf-8").rstrip().endswith("\n)"), "all of the file")
    return editor.board.read_text(encoding="utf-8")


def canvas(editor: EditorSession, folder: Path) -> Image.Image:
    """The drawing area as it looks now, without the window's title and bars."""
    with Image.open(editor.screenshot(folder / "screen.png")) as picture:
        return picture.convert("RGB").crop((40, 130, 1040, 820))


def test_document_show_insert_undo_refill(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    board = write_board(tmp_path)
    folder = tmp_path_factory.mktemp("ed")
    with EditorSession(board, folder, prepare=install_driver, api=False, major=6) as editor:
        editor.wait_for_window("contract.*PCB Editor")  # the window is up before the board is in it
        host = DrivenHost(Inside(editor).ask)
        document = host.document()
        assert document.name == board.name

        plain = canvas(editor, tmp_path)
        assert host.show([PART])
        editor.wait_for(
            lambda: ImageChops.difference(plain, canvas(editor, tmp_path)).getbbox() is not None, "the highlight"
        )
        assert not host.show(["00000000-0000-4000-8000-000000000000"])

        applied = host.apply(INSERTED, "Lineworthy: insert")
        after = saved(editor)
        assert all(each.uid in after for each in applied)
        read = parse_board(after, board.name)
        assert {"FID1", "FID2", "TP1", "H1"} <= {part.reference for part in read.parts}
        assert f"REV {REVISION}" in {marking.text for marking in read.markings}

        editor.keys("ctrl+z")
        # saving alone also writes the project's variables into the board
        undone = saved(editor).replace('  (property "LOT" "42")\n\n', "")
        assert undone == document.text, "one undo takes all of it back"

        host.refill()
        assert any(not area.unfilled for area in parse_board(saved(editor), board.name).areas)
