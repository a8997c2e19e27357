# SPDX-License-Identifier: MIT
"""A progress line for a person at a terminal."""

from __future__ import annotations

import shutil
import time
from typing import TextIO

from lineworthy.safe import visible

PATIENCE_S = 1.0
"""Work shorter than this shows no bar."""

_WIDTH = 24


class ProgressBar:
    """One self-erasing line on a terminal; silent where the stream is none or the work is quick."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._start = time.monotonic()
        self._shown = False
        self._wanted = stream.isatty()

    def show(self, share: float, what: str) -> None:
        """Draws the bar at `share` (0 to 1) with a word on what is being done."""
        if not self._wanted or time.monotonic() - self._start < PATIENCE_S:
            return
        filled = round(_WIDTH * min(max(share, 0.0), 1.0))
        room = shutil.get_terminal_size().columns - _WIDTH - 2  # a line that wraps cannot be taken away again
        self._stream.write(f"\r\033[K{'=' * filled}{'.' * (_WIDTH - filled)} {visible(what)[: max(room, 0)]}")
        self._stream.flush()
        self._shown = True

    def clear(self) -> None:
        """Takes the line away."""
        if self._shown:
            self._stream.write("\r\033[K")
            self._stream.flush()
            self._shown = False
