# SPDX-License-Identifier: MIT
"""Work without the interpreter's search for cycles."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Keeps the collector of cycles off, as context or decorator.

    A board is hundreds of thousands of objects that hold no cycles, and so is what is made while one is read or
    reviewed: the collector would find nothing and walk all of it again and again.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
