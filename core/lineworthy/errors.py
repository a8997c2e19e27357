# SPDX-License-Identifier: MIT
"""The errors this library raises on purpose; anything else is a bug of ours."""

from __future__ import annotations


class LineworthyError(Exception):
    """Base of all errors a person can do something about; `str()` is one clear line."""


class InputError(LineworthyError):
    """A file that cannot be used: says which, where in it, and why.

    Args:
        file: the name as the person gave it.
        reason: what is wrong, in plain words.
        place: where in the file (``line 12``, ``key fiducials.count_min``); empty for the whole file.
    """

    def __init__(self, file: str, reason: str, place: str = "") -> None:
        self.file, self.reason, self.place = file, reason, place
        super().__init__(": ".join(part for part in (file, place, reason) if part))


class SheetError(InputError):
    """A capability sheet with an unknown key, a wrong unit or an impossible value."""


class UnknownCheckError(LineworthyError):
    """A check or area was asked for that does not exist."""
