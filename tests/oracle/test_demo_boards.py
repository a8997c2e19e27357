# SPDX-License-Identifier: MIT
"""Every demo board of the editor, as read, against what the editor itself says about it."""

from __future__ import annotations

from pathlib import Path
from typing import Callable

import compare
import pytest
from editor import Facts
from mismatch import Mismatch, listing

import demos

pytestmark = [pytest.mark.editor, pytest.mark.slow]

Found = dict[str, list[Mismatch]]


@pytest.fixture(scope="module", params=demos.cases())
def found(request: pytest.FixtureRequest, ask: Callable[[Path], Facts]) -> Found:
    """All mismatches of one board; module scope keeps one board in memory at a time."""
    path: Path = request.param
    return compare.compare(demos.read(path), ask(path))


@pytest.mark.parametrize("category", list(compare.LOOKS))
def test_reader_agrees_with_the_editor(found: Found, category: str) -> None:
    if found[category]:
        pytest.fail(listing(found[category]), pytrace=False)


def test_demo_boards_are_there() -> None:
    assert demos.paths(), f"no boards below {demos.FOLDER}: {demos.HOW}"
