# SPDX-License-Identifier: MIT
"""Puts the tools of the suite's root on the path, and lends out the editor."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from bench import Bench, benches


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """One editor for all tests that leave it as it was: its own environment for plug-ins takes a minute to build."""
    yield from benches(tmp_path_factory)


@pytest.fixture(autouse=True)
def _board_as_it_was(request: pytest.FixtureRequest) -> Iterator[None]:
    if "bench" not in request.fixturenames:
        yield
        return
    bench: Bench = request.getfixturevalue("bench")
    yield
    bench.restore()
