# SPDX-License-Identifier: MIT
"""The editor's answers, kept between runs in pytest's cache."""

from __future__ import annotations

from pathlib import Path
from typing import Callable

import editor
import pytest

Ask = Callable[[Path], editor.Facts]


@pytest.fixture(scope="session")
def ask(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Asks the editor about a board; fails in one line where there is no editor: a skipped oracle proves nothing."""
    try:
        editor.interpreter()
    except RuntimeError as fault:
        pytest.fail(str(fault), pytrace=False)
    kept = request.config.cache
    cache = tmp_path_factory.mktemp("oracle") if kept is None else Path(kept.mkdir("oracle"))
    return lambda board: editor.ask(board, cache)
