# SPDX-License-Identifier: MIT
"""The dialog's window, when it is wanted again."""

from __future__ import annotations

from typing import Any


def to_front(window: Any) -> None:
    """Brings an open window back before the person's eyes."""
    window.Iconize(False)
    window.Show()
    window.Raise()
