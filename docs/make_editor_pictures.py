# SPDX-License-Identifier: MIT
"""Takes the README's pictures of the dialog in the real editor, on the demo board, so that they never go stale."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "e2e")]

from dialog_driver import Dialog, install  # noqa: E402
from PIL import Image  # noqa: E402

from editor_session import EditorSession  # noqa: E402

BOARD = ROOT / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"


def keep(session: EditorSession, name: str) -> None:
    """One state as a small picture in docs/."""
    shot = Image.open(session.screenshot(session.folder / f"{name}.png")).convert("RGB")
    shot = shot.resize((960, round(960 * shot.height / shot.width)), Image.Resampling.LANCZOS)
    shot.quantize(128, dither=Image.Dither.NONE).save(ROOT / "docs" / f"{name}.png", optimize=True)


def main() -> None:
    """All states, in order."""
    with tempfile.TemporaryDirectory(prefix="e") as name:
        folder = Path(name)
        report = folder / "report.json"
        variables = {"LINEWORTHY_REPORT_TO": str(report)}
        with EditorSession(BOARD, folder, prepare=install, variables=variables, api=False) as session:
            dialog = Dialog(session, report)
            dialog.main_window()
            time.sleep(2.0)
            dialog.open_by_menu()
            time.sleep(1.0)
            keep(session, "in-editor-review")
            session.focus(dialog.focus())
            time.sleep(0.7)
            session.keys("alt+i")
            session.focus(session.wait_for_window("^Insert into the board", 60))
            time.sleep(1.0)
            keep(session, "in-editor-insert")
            session.keys("alt+i")
            dialog.next_review()
            time.sleep(1.0)
            keep(session, "in-editor-inserted")


if __name__ == "__main__":
    main()
