# SPDX-License-Identifier: MIT
"""Makes the picture of the README from the demo board as it is now: ``make pictures``.

Needs Chromium and its driver, selenium and pillow (the test extras). Prints what it wrote.
"""

from __future__ import annotations

import base64
import io
import os
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

from lineworthy import review
from lineworthy.report import html
from lineworthy_kicad.reader import read_board

ROOT = Path(__file__).resolve().parents[1]
BOARD = "demo/frost-alarm/frost-alarm.kicad_pcb"
PICTURE = ROOT / "docs" / "report.png"
SIZE = (1360, 1240)
BYTES_MAX = 300_000


def main() -> int:
    """Reviews the demo board, opens its report, takes the picture; 0 when the picture is small enough."""
    os.chdir(ROOT)  # the report shows the path as it was given
    board = read_board(BOARD)
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "report.html"
        page.write_text(html.render(review(board)), encoding="utf-8")
        png = photograph(page.as_uri(), Path(folder) / "profile")
    # a page has few colours: a palette makes the file a third of the size
    image = Image.open(io.BytesIO(png)).convert("RGB").quantize(colors=128, dither=Image.Dither.NONE)
    image.save(PICTURE, optimize=True)
    size = PICTURE.stat().st_size
    sys.stdout.write(f"wrote {PICTURE.relative_to(ROOT)}: {image.width} x {image.height}, {size / 1000:.0f} kB\n")
    return 0 if size <= BYTES_MAX else 1


def photograph(address: str, profile: Path) -> bytes:
    """The top of a page as a person with a light screen sees it, as PNG."""
    options = webdriver.ChromeOptions()
    options.binary_location = program("chromium", "chromium-browser", "google-chrome")
    for flag in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(flag)
    browser = webdriver.Chrome(options=options, service=Service(program("chromedriver")))
    try:
        light = {"features": [{"name": "prefers-color-scheme", "value": "light"}]}
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", light)
        screen = {"width": SIZE[0], "height": SIZE[1], "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)
        browser.execute_cdp_cmd("Emulation.setScrollbarsHidden", {"hidden": True})
        browser.get(address)
        taken = browser.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
        return base64.b64decode(taken["data"])
    finally:
        browser.quit()


def program(*names: str) -> str:
    """The first of these programs that is installed."""
    for name in names:
        path = shutil.which(name)
        if path:
            return path
    sys.exit(f"{names[0]} is not installed (Debian: apt-get install chromium chromium-driver)")


if __name__ == "__main__":
    sys.exit(main())
