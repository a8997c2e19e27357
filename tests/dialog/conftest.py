# SPDX-License-Identifier: MIT
from __future__ import annotations

from pathlib import Path

import pytest
from dialog_stage import Stage


@pytest.fixture
def stage(tmp_path: Path) -> Stage:
    """A dialog over a saved board, not opened yet."""
    return Stage(tmp_path)


@pytest.fixture
def opened(stage: Stage) -> Stage:
    """The same with its first review on screen."""
    return stage.open()
