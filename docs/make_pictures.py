# SPDX-License-Identifier: MIT
"""Makes the pictures of the README from the demo board as it is now: ``make pictures``.

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
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.plans.panel import plan
from lineworthy.report import html, panel_svg
from lineworthy.sheet import built_in
from lineworthy_kicad.reader import read_board

ROOT = Path(__file__).resolve().parents[1]
BOARD = "demo/frost-alarm/frost-alarm.kicad_pcb"
PICTURE = ROOT / "docs" / "report.png"
PANEL_PICTURE = ROOT / "docs" / "panel.png"
PANEL_PROPOSAL = 2
SIZE = (1360, 1240)
PANEL_SIZE = (1590, 1124)
"""A3 at 96 dots an inch."""
BYTES_MAX = 300_000


def main() -> int:
    """Reviews the demo board and plans its panel, takes pictures of both; 0 when they are small enough."""
    os.chdir(ROOT)  # the report shows the path as it was given
    board = read_board(BOARD)
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "report.html"
        page.write_text(html.render(review(board)), encoding="utf-8")
        png = photograph(page.as_uri(), Path(folder) / "profile")
        sheet = Path(folder) / "panel.svg"
        panel = plan(board, built_in(), marks=Marks(board), packages=Packages(board))
        sheet.write_text(panel_svg.draw(panel, PANEL_PROPOSAL), encoding="utf-8")
        drawn = photograph(sheet.as_uri(), Path(folder) / "profile", PANEL_SIZE)
    return max(kept(png, PICTURE), kept(drawn, PANEL_PICTURE))


def kept(png: bytes, target: Path) -> int:
    """Writes a picture; 0 when it is small enough."""
    # a page has few colours: a palette makes the file a third of the size
    image = Image.open(io.BytesIO(png)).convert("RGB").quantize(colors=128, dither=Image.Dither.NONE)
    image.save(target, optimize=True)
    size = target.stat().st_size
    sys.stdout.write(f"wrote {target.relative_to(ROOT)}: {image.width} x {image.height}, {size / 1000:.0f} kB\n")
    return 0 if size <= BYTES_MAX else 1


def photograph(address: str, profile: Path, size: tuple[int, int] = SIZE) -> bytes:
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
        screen = {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": False}
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
