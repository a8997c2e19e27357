# SPDX-License-Identifier: MIT
"""Times the plug-in in the real editor, as a person waits for it: from the click to the findings, and for Cancel.

The editor runs on a screen of its own with the plug-in installed from its archive. A click is a click of the mouse on
the toolbar button. It has been answered when the dialog has written the report of the review it shows; Cancel has been
answered when the bar is gone. Starts that a person waits for are in the time: beside the editor that of an interpreter
and its libraries with every click, inside it that of the libraries with the first one, which compiles them, too. Goals
are held against an editor that has little to draw: without a graphics card it draws on the cores the review runs on.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Optional

from PIL import ImageGrab

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "e2e")]

from dialog_driver import Dialog, install  # noqa: E402

from editor_session import EditorSession, wait_for  # noqa: E402

CLICKED = ROOT / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"
"""Four layers, 128 parts."""

WAYS = {"inside the editor": (False, 0.7), "beside the editor": (True, 1.5)}
"""Whether the editor's server is on, where the button starts a process of its own, and the goal in seconds."""

CANCEL_GOAL = 0.5
CANCEL_AFTER_SECONDS = (0.0, 2.0, 4.0)
"""While the board is read, and later; the largest counts."""
START_SECONDS = 600.0
"""The editor has to open the largest board."""
BAR_PIXELS, BAR_BLUE, GROUND = (230, 60), (53, 132, 228), (246, 245, 244)
"""Where the bar is in the dialog, to its right end and a line below it; the colour of what is filled, and around it."""
CANVAS_PLACE, ZOOM_STEPS = (640, 500), 12
"""Where the editor's drawing is, and turns of the wheel until nothing but a corner of a board is seen."""


@contextmanager
def desk(board: Path, api: bool) -> Iterator[Dialog]:
    """An editor with a board and the plug-in's button."""
    with tempfile.TemporaryDirectory(prefix="b") as name:
        folder = Path(name)
        variables = {"LINEWORTHY_REPORT_TO": str(folder / "report.json")}
        options = {"variables": variables, "api": api, "start_seconds": START_SECONDS}
        with EditorSession(board, folder, prepare=install, **options) as session:
            dialog = Dialog(session, folder / "report.json")
            dialog.find_button()
            yield dialog


def seconds_to_findings(dialog: Dialog) -> float:
    """From a click on the button to the findings; no dialog is open before and after."""
    dialog.session.point(*dialog.find_button())
    start = time.time()
    dialog.session.press()
    wait_for(dialog.report.exists, "the findings", 120)
    seconds = dialog.report.stat().st_mtime - start
    dialog.next_review()
    dialog.close()
    return seconds


def look_closer(session: EditorSession) -> None:
    """Zooms in until the editor has little to draw: without a graphics card all of the largest board takes a second."""
    session.point(*CANVAS_PLACE)
    session.press(4, repeat=ZOOM_STEPS)
    session.settled(session.folder / "closer.png", 3.0)


def seconds_to_cancel(dialog: Dialog, wait: float) -> float:
    """From pressing Cancel, some seconds after the bar has begun to fill, until the bar is gone."""
    session = dialog.session
    dialog.click_button(dialog.is_open, "the dialog")
    left, top, _, _ = session.place(dialog.focus())  # Cancel has the keyboard while there is something to cancel
    bar = (left, top, left + BAR_PIXELS[0], top + BAR_PIXELS[1])
    wait_for(lambda: is_filled(session, bar), "the bar to fill", START_SECONDS)
    time.sleep(wait)
    start = time.monotonic()
    session.keys("space")
    wait_for(lambda: not is_filled(session, bar), "the bar to be gone", pause=0.01)
    seconds = time.monotonic() - start
    assert not dialog.report.exists(), "the review was done before it was cancelled"
    dialog.close()
    return seconds


def is_filled(session: EditorSession, bar: tuple[int, int, int, int]) -> bool:
    """Whether the filled part of the bar is seen: the dialog is there, not the editor, and has something blue."""
    picture = ImageGrab.grab(bbox=bar, xdisplay=session.display).convert("RGB")
    seen = {colour: count for count, colour in picture.getcolors(maxcolors=1 << 16) or ()}
    return BAR_BLUE in seen and seen.get(GROUND, 0) > picture.width * picture.height / 2


def table(large: Optional[Path], runs: int) -> list[str]:
    """The section of the results.

    Args:
        large: for Cancel; None leaves that out.
        runs: of each, after the first.
    """
    from run import rule_check  # noqa: PLC0415 - that one uses this one

    lines = [
        "In the editor, with the editor's own rule check of the same board from its command line as the measure:",
        "",
        "| what | board | seconds | goal | of the rule check |",
        "|---|---|---|---|---|",
    ]

    def add(what: str, measured: Path, seconds: float, goal: str) -> None:
        share = seconds / rule_check(measured, runs)
        lines.append(f"| {what} | {measured.stem} | {seconds:.2f} | {goal} | {share:.3f} |")
        print(lines[-1], flush=True)

    for way, (api, goal) in WAYS.items():
        with desk(CLICKED, api) as dialog:
            first = seconds_to_findings(dialog)
            whole = statistics.median(seconds_to_findings(dialog) for _ in range(runs))
            look_closer(dialog.session)
            corner = statistics.median(seconds_to_findings(dialog) for _ in range(runs))
        add(f"click to findings {way}, first click", CLICKED, first, "")
        add(f"click to findings {way}, later clicks, all of the board in view", CLICKED, whole, "")
        add(f"click to findings {way}, later clicks, a corner in view", CLICKED, corner, f"{goal}")
        if large is not None:
            with desk(large, api) as dialog:
                look_closer(dialog.session)
                seconds = max(seconds_to_cancel(dialog, wait) for wait in CANCEL_AFTER_SECONDS)
            add(f"Cancel {way}", large, seconds, f"{CANCEL_GOAL}")
    return lines


def main() -> None:
    """This section alone, without the large board."""
    table(None, 3)


if __name__ == "__main__":
    main()
