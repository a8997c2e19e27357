# SPDX-License-Identifier: MIT
"""Words the dialog says: what is inserted, why something failed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from lineworthy.amend import Amendment
from lineworthy.errors import LineworthyError
from lineworthy.safe import visible
from lineworthy_kicad.hosts.host import HostError


def summary(amendments: Sequence[Amendment]) -> str:
    """What is inserted, in a few words: ``3 fiducials, 1 text``."""
    words = {"FiducialMark": "fiducial", "MarkingText": "text", "ProbePad": "probe pad", "ToolingHole": "tooling hole"}
    counts = Counter(words[type(amendment).__name__] for amendment in amendments)
    return ", ".join(many(count, word) for word, count in counts.items())


def reason(error: BaseException) -> str:
    """One line for a person; an error that is not ours on purpose is our fault, and said to be."""
    if isinstance(error, HostError):
        return f"{visible(str(error))}. The board is as it was."
    if isinstance(error, LineworthyError):
        return visible(str(error))
    return visible(f"{type(error).__name__}: {error}. This is a fault of Lineworthy; please report it.")


def many(count: int, word: str) -> str:
    """A number with its word."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
