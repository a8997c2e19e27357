# SPDX-License-Identifier: MIT
"""The files of a release: from a folder, or from a ZIP archive that nobody here packed and that may be hostile.

Nothing is ever unpacked to disk; names are only labels. What no release holds (ways out of the archive, links, other
archives, more or larger files than any board needs) is refused as a whole, because then nothing in it can be trusted.
"""

from __future__ import annotations

import os
import re
import stat
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timezone
from pathlib import Path, PurePosixPath
from typing import Optional

from lineworthy.errors import InputError

FILES_MAX = 2_000
FILE_BYTES_MAX = 200_000_000
ALL_BYTES_MAX = 1_000_000_000
DEPTH_MAX = 8
RATIO_MAX = 400
"""Plots pack to a tenth to a fiftieth of their size; what packs better than this is made to fill a disk."""
_SMALL = 1_000_000  # a file of one repeated line packs very well and harms nobody

_ARCHIVES = (".zip", ".7z", ".rar", ".tar", ".gz", ".tgz", ".bz2", ".xz", ".cab", ".iso", ".zst")
_MARKS = (b"PK\x03\x04", b"7z\xbc\xaf", b"Rar!", b"\x1f\x8b", b"BZh", b"\xfd7zXZ")
_DOCUMENTS = (".xlsx", ".xlsm", ".ods", ".docx", ".odt", ".step", ".stp", ".stpz")
"""Some of these are archives themselves, and what people send."""
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters, and those that turn the direction of writing: a name with them can pose as another."""
_CLUTTER = ("__macosx", ".ds_store", "thumbs.db", "desktop.ini")


@dataclass(frozen=True)
class Member:
    """One file: its path within the release with slashes, and what is in it."""

    name: str
    data: bytes = field(repr=False)
    changed: Optional[datetime] = None


def read_members(path: Path) -> tuple[Member, ...]:
    """All files of a release folder or ZIP archive, by name.

    Raises:
        InputError: there is no such place, it cannot be read, or it holds what no release does.
    """
    if path.exists() and not path.is_dir() and not path.is_file():  # a pipe would be waited for
        raise InputError(str(path), "neither a folder nor a file")
    try:
        found = list(_of_folder(path) if path.is_dir() else _of_zip(path))
    except OSError as error:
        raise InputError(str(path), f"cannot be read: {error.strerror or error}") from None
    if not found:
        raise InputError(str(path), "holds no file")
    return tuple(sorted(found, key=lambda member: member.name))


def _of_folder(path: Path) -> Iterator[Member]:
    total = 0
    for count, file in enumerate(_walked(path, path, 0)):
        name = file.relative_to(path).as_posix()
        size = file.stat().st_size
        total += size
        _check_size(str(path), name, count, size, total)
        data = file.read_bytes()
        _check_content(str(path), name, data)
        yield Member(name, data, datetime.fromtimestamp(file.stat().st_mtime, timezone.utc))


def _walked(root: Path, folder: Path, depth: int) -> Iterator[Path]:
    if depth > DEPTH_MAX:
        raise InputError(str(root), f"has folders more than {DEPTH_MAX} deep")
    for entry in sorted(os.scandir(folder), key=lambda entry: entry.name):
        if _is_clutter(entry.name):
            continue
        if _CONTROL.search(entry.name):
            raise InputError(str(root), "holds a file whose name has control characters", repr(entry.name[:80]))
        if entry.is_symlink():
            raise InputError(str(root), "holds a link, which cannot be sent", entry.name)
        if entry.is_dir():
            yield from _walked(root, Path(entry.path), depth + 1)
        elif entry.is_file():
            yield Path(entry.path)
        else:
            raise InputError(str(root), "holds something that is no file", entry.name)


def _of_zip(path: Path) -> Iterator[Member]:
    place = str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            if len(entries) > FILES_MAX:
                raise InputError(place, f"holds {len(entries)} files, more than any release ({FILES_MAX})")
            seen: set[str] = set()
            total = 0
            for count, entry in enumerate(entries):
                name = _safe_name(place, entry)
                if entry.is_dir() or _is_clutter(name):
                    continue
                if name.casefold() in seen:
                    raise InputError(place, "holds two files of this name", name)
                seen.add(name.casefold())
                _check_size(place, name, count, entry.file_size, total + entry.file_size)
                data = _read(place, archive, entry, name)
                total += len(data)
                _check_content(place, name, data)
                yield Member(name, data, None)
    except (InputError, OSError):
        raise
    except Exception as error:  # each way of packing answers damage with an exception of its own
        reason = str(error) or type(error).__name__
        raise InputError(place, f"is no ZIP archive that can be read: {reason}") from None


def _safe_name(place: str, entry: zipfile.ZipInfo) -> str:
    name = entry.orig_filename.replace("\\", "/")
    steps = PurePosixPath(name).parts
    outside = name.startswith("/") or ".." in steps or ":" in name or "\0" in name
    if outside or not name:
        raise InputError(place, "holds a file whose name leads out of the archive", repr(name[:80]))
    if _CONTROL.search(name):
        raise InputError(place, "holds a file whose name has control characters", repr(name[:80]))
    if len(steps) > DEPTH_MAX + 1 or len(name) > 500:
        raise InputError(place, f"has folders more than {DEPTH_MAX} deep", repr(name[:80]))
    mode = entry.external_attr >> 16
    if stat.S_ISLNK(mode):
        raise InputError(place, "holds a link, which cannot be sent", name)
    if entry.flag_bits & 0x1:
        raise InputError(place, "is locked with a password", name)
    return str(PurePosixPath(name))


def _read(place: str, archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> bytes:
    """Never more than the archive said it would be."""
    if entry.file_size > _SMALL and entry.file_size > RATIO_MAX * max(entry.compress_size, 1):
        raise InputError(place, "holds a file packed tighter than any plot can be", name)
    with archive.open(entry) as file:
        data = file.read(entry.file_size + 1)
    if len(data) > entry.file_size:
        raise InputError(place, "holds a file larger than it says", name)
    return data


def _check_size(place: str, name: str, count: int, size: int, total: int) -> None:
    if count >= FILES_MAX:
        raise InputError(place, f"holds more files than any release ({FILES_MAX})")
    if size > FILE_BYTES_MAX:
        raise InputError(place, f"holds a file larger than {FILE_BYTES_MAX // 1_000_000} MB", name)
    if total > ALL_BYTES_MAX:
        raise InputError(place, f"holds more than {ALL_BYTES_MAX // 1_000_000} MB")


def _check_content(place: str, name: str, data: bytes) -> None:
    lower = name.casefold()
    if lower.endswith(_ARCHIVES) or (data.startswith(_MARKS) and not lower.endswith(_DOCUMENTS)):
        raise InputError(place, "holds another archive; unpack it first", name)


def _is_clutter(name: str) -> bool:
    """What operating systems leave in folders, and what is hidden."""
    return any(step.startswith(".") or step.casefold() in _CLUTTER for step in PurePosixPath(name).parts)
