# SPDX-License-Identifier: MIT
"""Other versions of the editor, each in a Debian of its own; `make test-editors` says where these are.

Without them nothing here is collected: they take gigabytes and minutes.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Callable

import pytest
from other_editor import CHROOTS, OtherEditor

HERE = Path(__file__).parent
sys.path[1:1] = [str(HERE.parent / "oracle"), str(HERE.parent)]

collect_ignore_glob = [] if CHROOTS in os.environ else ["test_*.py"]


@pytest.fixture(scope="session")
def editor_6() -> OtherEditor:
    return OtherEditor.named("bookworm", 6)


@pytest.fixture(scope="session")
def editor_10() -> OtherEditor:
    return OtherEditor.named("forky", 10)


_SEEN: list[tuple[str, str, str]] = []


@pytest.fixture(scope="session")
def seen() -> Callable[[OtherEditor, str, str], None]:
    """Notes for the table at the end: version, what was tried, what was seen."""
    return lambda editor, what, words: _SEEN.append((editor.version, what, words))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if not _SEEN:
        return
    rows: dict[tuple[str, str], list[str]] = {}
    for version, what, words in _SEEN:
        rows.setdefault((version, what), []).append(words)
    terminalreporter.section("seen in other editor versions")
    for (version, what), words in sorted(rows.items()):
        said = words[0] if len(words) == 1 else f"{len(words)} boards"
        terminalreporter.line(f"{version:16} {what:70} {said}")
