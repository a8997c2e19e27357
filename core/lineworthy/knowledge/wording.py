# SPDX-License-Identifier: MIT
"""How a person writes references, lists and lengths: for messages that read the same whatever the order of a file."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache


@lru_cache(maxsize=8192)  # the same references and numbers are sorted over and over
def natural(text: str) -> tuple[tuple[str, int], ...]:
    """Sort key that puts R2 before R10."""
    # digits of any script pass isdecimal, and int() reads all of them; very long ones stay text
    return tuple(
        ("", int(piece)) if piece.isdecimal() and len(piece) < 19 else (piece, -1)
        for piece in re.split(r"(\d+)", text)
        if piece
    )


def listed(names: Iterable[str], most: int = 6) -> str:
    """``R1, R2, R10`` in natural order, each name once; what is more than `most` is counted."""
    ordered = sorted(set(names), key=lambda name: (natural(name), name))
    if len(ordered) <= most:
        return ", ".join(ordered)
    return f"{', '.join(ordered[: most - 1])} and {len(ordered) - most + 1} more"


def counted(count: int, one: str, more: str = "") -> str:
    """``1 pad``, ``3 pads``."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def mm(value: float) -> str:
    """A length with two decimals, or three where two would round it: ``0.25``, ``0.125``."""
    # the inner rounding takes off floating-point noise, so that a turned board reads the same; + 0.0 the sign of a zero
    text = f"{round(value, 6) + 0.0:.3f}"
    return text[:-1] if text.endswith("0") else text


def sentence(text: str) -> str:
    """With a capital letter at the beginning, the rest as it is."""
    return text[:1].upper() + text[1:]


def pad_name(reference: str, number: str) -> str:
    """What a pad is called in a list of places: ``R1 pad 2``, or the part alone where the pad has no number."""
    return f"{reference} pad {number}" if number else reference
