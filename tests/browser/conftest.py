# SPDX-License-Identifier: MIT
"""A headless Chromium and the report pages it looks at."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import report_sample as sample
from lineworthy import Review
from lineworthy.report import html

HOW = "install Chromium and its driver (Debian: apt-get install chromium chromium-driver)"

PAGES: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "crowded": sample.crowded_review,
    "hostile": sample.hostile_review,
    "control": lambda: sample.hostile_review(sample.CONTROL),
    "empty": sample.empty_review,
}


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """File addresses of the reports by name."""
    folder = tmp_path_factory.mktemp("reports")
    addresses = {}
    for name, make in PAGES.items():
        path = folder / f"{name}.html"
        path.write_text(html.render(make(), sample.CHECKS), encoding="utf-8")
        addresses[name] = path.as_uri()
    index = folder / "index.html"
    index.write_text(
        html.index([html.index_row(f"{name}.html", make()) for name, make in PAGES.items()]), encoding="utf-8"
    )
    addresses["index"] = index.as_uri()
    return addresses


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    """One browser for the session, with a profile of its own."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    names = ("chromium", "chromium-browser", "google-chrome")
    browser = next((path for path in map(shutil.which, names) if path), None)
    driver = shutil.which("chromedriver")
    if browser is None or driver is None:
        pytest.fail(f"no Chromium here: {HOW}")
    options = webdriver.ChromeOptions()
    options.binary_location = browser
    for flag in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--window-size=1400,1000",
        f"--user-data-dir={Path(tmp_path_factory.mktemp('profile'))}",
    ):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    made = webdriver.Chrome(options=options, service=Service(driver))
    yield made
    made.quit()
