# SPDX-License-Identifier: MIT
"""Makes docs/dialog*.png from the real window over the demo board, by the scenes of its test.

usage: python tests/tools/make_dialog_pictures.py   (needs what tests/install-editor.sh installs)
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "dialog"))

from test_window import play

DOCS = Path(__file__).resolve().parents[2] / "docs"

BYTES_MAX = 200_000
WANTED = {
    "dialog.png": ("findings", {}),
    "dialog-dark.png": ("findings", {"GTK_THEME": "Adwaita:dark"}),
    "dialog-insert.png": ("insert", {}),
    "dialog-concede.png": ("concede", {}),
}


def main() -> None:
    for name, (scene, environment) in WANTED.items():
        with tempfile.TemporaryDirectory() as folder:
            play(Path(folder), scene, **environment)
            with Image.open(Path(folder) / scene / f"{scene}.png") as screen:
                picture = screen.convert("RGB")
        box = picture.point(lambda value: 255 if value else 0).getbbox()  # the screen round the window is black
        picture.crop(box).quantize(128).save(DOCS / name, optimize=True)
        size = (DOCS / name).stat().st_size
        assert size <= BYTES_MAX, f"{name} has {size} bytes"
        print(f"{name}: {size // 1000} kB")


if __name__ == "__main__":
    main()
