# SPDX-License-Identifier: MIT
"""The examples of the library's documentation run, and give what they say."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def test_the_examples_run_and_give_what_they_say(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    done = doctest.testfile(
        str(ROOT / "docs" / "library.md"),
        module_relative=False,
        optionflags=doctest.ELLIPSIS,
        encoding="utf-8",
    )
    assert done.attempted > 30
    assert done.failed == 0


def test_the_first_lines_of_the_package_run() -> None:
    import lineworthy

    done = doctest.testmod(lineworthy)
    assert (done.attempted, done.failed) == (2, 0)
