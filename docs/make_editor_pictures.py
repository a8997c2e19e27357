# SPDX-License-Identifier: MIT
"""Takes the pictures of the dialog: ``make pictures`` makes them with all others, so that they never go stale.

``docs/in-editor-*.png``, the steps of the README, come from the real editor on the demo board; ``docs/dialog*.png``,
the window itself with its questions and in a dark theme, from the scenes of the window's own test.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "e2e"), str(ROOT / "tests" / "dialog")]

from dialog_driver import Dialog, install  # noqa: E402
from PIL import Image  # noqa: E402
from test_window import BOARD, play  # noqa: E402

from editor_session import EditorSession  # noqa: E402

SCENES = {
    "dialog": ("findings", {}),
    "dialog-dark": ("findings", {"GTK_THEME": "Adwaita:dark"}),
    "dialog-insert": ("insert", {}),
    "dialog-concede": ("concede", {}),
}
BYTES_MAX = 200_000


def main() -> None:
    """All of them."""
    in_editor()
    alone()


def in_editor() -> None:
    """Review, offer and insertion, in order."""
    with tempfile.TemporaryDirectory(prefix="e") as name:
        folder = Path(name)
        report = folder / "report.json"
        variables = {"LINEWORTHY_REPORT_TO": str(report)}
        with EditorSession(BOARD, folder, prepare=install, variables=variables, api=False) as session:
            dialog = Dialog(session, report)
            dialog.open_by_menu()
            keep(screen(session), "in-editor-review")
            dialog.ask_insert()
            keep(screen(session), "in-editor-insert")
            dialog.accept_insert()
            keep(screen(session), "in-editor-inserted")


def alone() -> None:
    """The window without an editor, cut out of the black screen round it."""
    for name, (scene, environment) in SCENES.items():
        with tempfile.TemporaryDirectory() as folder:
            play(Path(folder), scene, **environment)
            with Image.open(Path(folder) / scene / f"{scene}.png") as shot:
                picture = shot.convert("RGB")
        keep(picture.crop(picture.point(lambda value: 255 if value else 0).getbbox()), name)


def screen(session: EditorSession) -> Image.Image:
    """The whole screen, once everything is painted."""
    return Image.open(session.settled(session.folder / "screen.png")).convert("RGB")


def keep(picture: Image.Image, name: str) -> None:
    """Writes a picture with few colours: the rare ones of the flags are among them, and greys stay grey."""
    path = ROOT / "docs" / f"{name}.png"
    few = picture.quantize(256, method=Image.Quantize.MAXCOVERAGE, kmeans=3, dither=Image.Dither.NONE)
    few.save(path, optimize=True)
    size = path.stat().st_size
    assert size <= BYTES_MAX, f"{name} has {size} bytes"
    sys.stdout.write(f"wrote {path.relative_to(ROOT)}: {picture.width} x {picture.height}, {size / 1000:.0f} kB\n")


if __name__ == "__main__":
    main()
