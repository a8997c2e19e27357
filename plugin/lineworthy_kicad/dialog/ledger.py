# SPDX-License-Identifier: MIT
"""The concession file as the dialog uses it.

Every change starts from the file as it is now, not as it was when the review was made: the file may be shared.
"""

from __future__ import annotations

from pathlib import Path
from typing import Optional

from lineworthy import concessions
from lineworthy.concessions import Concession
from lineworthy.errors import InputError
from lineworthy.finding import Finding


def read(path: Optional[Path]) -> tuple[tuple[Concession, ...], tuple[str, ...]]:
    """What is on file, and what a person must be told about the file; nothing for a board without a place."""
    if path is None:
        return (), ()
    try:
        return concessions.load(path), ()
    except InputError as error:
        return (), (f"Concessions are not applied: {error}",)


def add(path: Path, given: Concession) -> None:
    """Puts a concession on file.

    Raises:
        InputError: the file is damaged or cannot be written; it is as it was.
    """
    concessions.save(path, [*concessions.load(path), given])


def drop(path: Path, finding: Finding, revision: str) -> None:
    """Takes every concession for a finding of this revision off the file.

    Raises:
        InputError: the file is damaged or cannot be written; it is as it was.
    """
    concessions.save(path, [c for c in concessions.load(path) if not c.covers(finding, revision)])
