# SPDX-License-Identifier: MIT
"""Reading files that people write, and writing files so that a reader sees the old or the whole new, never a part."""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Optional

from lineworthy.errors import InputError

TEXT_BYTES_MAX = 50_000_000
"""No person writes more."""


def read_text(path: Path) -> Optional[str]:
    """The text of a file that people write, in UTF-8; None where there is no such file.

    Raises:
        InputError: it is no regular file (a device may have no end), too large, no text, or cannot be read.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            what = "a folder, not a file" if stat.S_ISDIR(status.st_mode) else "not a regular file"
            raise InputError(str(path), f"cannot be read: {what}")
        if status.st_size > TEXT_BYTES_MAX:
            raise InputError(str(path), f"larger than {TEXT_BYTES_MAX // 1_000_000} MB")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise InputError(str(path), f"not UTF-8 text (byte {error.start})") from None
    except (OSError, ValueError) as error:  # a name that no file can have is a ValueError
        raise InputError(str(path), f"cannot be read: {getattr(error, 'strerror', None) or error}") from None


def check_folder(place: Path) -> None:
    """Says that files cannot be written into a folder, which need not be there yet.

    Raises:
        InputError: it is a file, or it or the folder to make it in does not take any.
    """
    try:
        there = next(folder for folder in (place, *place.absolute().parents) if os.path.lexists(folder))
        if not stat.S_ISDIR(there.stat().st_mode):
            what = "a file, not a folder" if there == place else f"{there} is a file, not a folder"
            raise InputError(str(place), f"cannot be written into: {what}")
    except OSError as error:  # a link that leads nowhere, a name that is too long
        raise InputError(str(place), f"cannot be written into: {error.strerror or error}") from None
    if not os.access(there, os.W_OK | os.X_OK):
        raise InputError(str(place), "cannot be written into: no permission, or a disk that is only read")


def check_file(path: Path) -> None:
    """Says that a file cannot be written, whether or not it is there already.

    Raises:
        InputError: something else than a file is there, or its folder does not take any.
    """
    with _told(path):
        path = _meant(path)
    check_folder(path.parent)


def write_atomic(path: Path, text: str) -> None:
    """Writes one file as `write_all` does."""
    write_all({path: text})


def write_all(files: Mapping[Path, str]) -> None:
    """Writes UTF-8 texts through temporary files beside their places, and moves them there when all are on the disk.

    A file that is there already keeps its permissions.

    Raises:
        InputError: a place cannot be written; what was there before is still there, in every place.
    """
    staged: dict[Path, str] = {}
    kept: dict[Path, str] = {}
    try:
        for path, text in files.items():
            with _told(path):
                target = _meant(path)
                target.parent.mkdir(parents=True, exist_ok=True)
                handle, staged[target] = tempfile.mkstemp(prefix=f".{target.name[:40]}.", dir=target.parent)
                with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                    file.write(text)
                os.chmod(staged[target], _mode(target))
        if len(staged) > 1:  # one alone is replaced or not
            for target, temporary in staged.items():
                with _told(target):
                    _keep(target, f"{temporary}.old", kept)
        _move(staged, kept)
    finally:  # on Ctrl+C, too
        for temporary in (*staged.values(), *kept.values()):
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _mode(target: Path) -> int:
    """The permissions of what is there, or what an ordinary new file would get: those of `mkstemp` are private."""
    with contextlib.suppress(FileNotFoundError):
        return stat.S_IMODE(target.stat().st_mode)
    mask = os.umask(0)  # there is no way to ask for it without setting it
    os.umask(mask)
    return 0o666 & ~mask


def _keep(target: Path, beside: str, kept: dict[Path, str]) -> None:
    """Gives what is there, if anything is, a second name: or a copy, on disks that know no second names."""
    if not os.path.lexists(target):
        return
    kept[target] = beside
    try:
        os.link(target, beside)
    except (OSError, NotImplementedError, AttributeError):
        shutil.copy2(target, beside)


def _move(staged: Mapping[Path, str], kept: dict[Path, str]) -> None:
    """Moves all to their places, or puts back what was there; what cannot be put back is left beside its place."""
    try:
        for target, temporary in staged.items():
            with _told(target):
                os.replace(temporary, target)
    except BaseException:  # Ctrl+C, too
        moved = [target for target, temporary in staged.items() if not os.path.lexists(temporary)]
        lost = [target for target in moved if not _is_put_back(target, kept.get(target))]
        if lost:
            left = ", ".join(kept.pop(target) for target in lost if target in kept)
            reason = f"was written though others could not be{left and f'; what was there before is in {left}'}"
            raise InputError(", ".join(map(str, lost)), reason) from None
        raise


def _is_put_back(target: Path, kept: Optional[str]) -> bool:
    try:
        if kept is None:
            os.unlink(target)
        else:
            os.replace(kept, target)
    except OSError:
        return False
    return True


def _meant(path: Path) -> Path:
    """The place itself: a link stays a link, what it points to is written. A device or pipe is never replaced."""
    path = Path(os.path.realpath(path))
    if os.path.lexists(path) and not path.is_file():
        what = "a folder is there" if path.is_dir() else "not a regular file"
        raise InputError(str(path), f"cannot be written: {what}")
    return path


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    """What the system says against a file, as an InputError."""
    try:
        yield
    except OSError as error:
        raise InputError(str(path), f"cannot be written: {error.strerror or error}") from None
