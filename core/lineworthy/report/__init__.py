# SPDX-License-Identifier: MIT
"""One file per report format. To add one: a module with ``render(review) -> str``, and its line in `FORMATS`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Callable

from lineworthy.report import csv, html, json, junit, sarif, text
from lineworthy.review import Review


@dataclass(frozen=True)
class Format:
    """A report format: the ending of its files, what makes the text, and its media type."""

    suffix: str
    render: Callable[[Review], str]
    media: str


FORMATS: Mapping[str, Format] = {
    "text": Format(".txt", text.render, "text/plain"),
    "html": Format(".html", html.render, "text/html"),
    "json": Format(".json", json.render, "application/json"),
    "sarif": Format(".sarif", sarif.render, "application/sarif+json"),
    "junit": Format(".junit.xml", junit.render, "application/xml"),
    "csv": Format(".csv", csv.render, "text/csv"),
}
"""Every format by the name it has on the command line."""
