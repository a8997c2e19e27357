# SPDX-License-Identifier: MIT
"""How tests ask one check: with what a review would hand it, and nothing written down for each check anew."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lineworthy.beside import Beside
from lineworthy.inputs import Inputs
from lineworthy.model import Board
from lineworthy.registry import Check
from lineworthy.sheet import Sheet, built_in

SHEET = built_in()


def ask(check: Check, board: Board, sheet: Sheet = SHEET, **beside: Any) -> list[Any]:
    """All a check answers about a board, findings and what it could not look at."""
    inputs = Inputs(board, sheet, Beside(**beside))
    return list(check.ask(**{name: getattr(inputs, name) for name in check.inputs}))


def only(found: Sequence[Any]) -> Any:
    """The one thing that was found; fails when there is none or more."""
    assert len(found) == 1, found
    return found[0]
