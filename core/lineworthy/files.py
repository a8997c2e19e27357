# SPDX-License-Identifier: MIT
"""Writing files so that a reader sees the old one or the whole new one, never a part."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from lineworthy.errors import InputError


def write_atomic(path: Path, text: str) -> None:
    """Writes UTF-8 text through a temporary file beside `path` and moves it into place.

    Raises:
        InputError: the place cannot be written; what was there before is still there.
    """
    temporary = ""
    path = Path(os.path.realpath(path))  # a link stays a link: what it points to is written
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        # mkstemp makes private files; give what an ordinary new file would get
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, 0o666 & ~mask)
        os.replace(temporary, path)
    except OSError as error:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        raise InputError(str(path), f"cannot be written: {error.strerror or error}") from None
