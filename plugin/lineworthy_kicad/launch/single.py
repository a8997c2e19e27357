# SPDX-License-Identifier: MIT
"""One dialog for each editor: the first process holds a lock, a later one leaves it a call and ends.

The lock is the operating system's, so that it is gone with the process that held it, however that ended. The call is
the lock file's time stamp: no port, no thread, the same on every system.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
from pathlib import Path
from typing import IO, Optional


class Single:
    """The right to be the only dialog of one editor.

    Args:
        key: names the editor.
        folder: for the lock file.
    """

    def __init__(self, key: str, folder: Path) -> None:
        self._path = folder / f"{hashlib.sha256(key.encode()).hexdigest()[:16]}.lock"
        self._file: Optional[IO[bytes]] = None
        self._seen = 0

    def take(self) -> bool:
        """Whether this process is the only one; if not, the other one has been called."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        file = self._path.open("ab")
        while _lock(file):
            if self._is_there(file):
                break
            file.close()  # the one that held it before took it away in between
            file = self._path.open("ab")
        else:
            file.close()
            with contextlib.suppress(OSError):  # the other one has just ended
                os.utime(self._path)
            return False
        self._file = file
        self._seen = self._path.stat().st_mtime_ns
        return True

    def was_called(self) -> bool:
        """Whether another process asked for this one since the last time."""
        try:
            stamp = self._path.stat().st_mtime_ns
        except OSError:
            return False
        called, self._seen = stamp != self._seen, stamp
        return called

    def release(self) -> None:
        """Gives the right back, and takes the file away: every start of an editor has a key of its own."""
        if self._file is not None:
            if sys.platform != "win32":  # while it is still held, so that nobody else's is taken away
                self._path.unlink(missing_ok=True)
            self._file.close()
            self._file = None
            if sys.platform == "win32":  # there, no open file can be
                with contextlib.suppress(OSError):
                    self._path.unlink(missing_ok=True)

    def _is_there(self, file: IO[bytes]) -> bool:
        try:
            return os.path.samestat(os.fstat(file.fileno()), self._path.stat())
        except FileNotFoundError:
            return False


if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes]) -> bool:
        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _lock(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
