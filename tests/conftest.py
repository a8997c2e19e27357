# SPDX-License-Identifier: MIT
"""Options and fixtures of the whole suite."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

# a busy machine is no failure; continuous integration gets the same examples every time
settings.register_profile("lineworthy", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("lineworthy")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--rewrite-judged",
        action="store_true",
        help="write the findings on the demo boards into tests/judged; new ones get the judgement 'unjudged'",
    )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files that take long begin first: a file is the work of one core, and one that begins last is waited for."""
    ranks = {item.path: 2 for item in items}
    for item in items:
        for rank, marks in enumerate((("slow", "desktop", "browser"), ("editor",))):
            if any(map(item.get_closest_marker, marks)):
                ranks[item.path] = min(ranks[item.path], rank)
    items.sort(key=lambda item: ranks[item.path])


@pytest.fixture(autouse=True, scope="session")
def _no_leftover_environment() -> None:
    """Tests decide about colour and width themselves."""
    for name in ("NO_COLOR", "COLUMNS", "FORCE_COLOR"):
        os.environ.pop(name, None)
