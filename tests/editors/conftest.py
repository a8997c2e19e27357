# SPDX-License-Identifier: MIT
"""Other versions of the editor, each in a Debian of its own; `make test-editors` says where these are.

Without them nothing here is collected: they take gigabytes and minutes.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

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
