# SPDX-License-Identifier: MIT
"""What the dialog remembers between two openings: sizes and last choices, in a small JSON file of the user's.

Nothing in here is worth an error: a damaged file or an odd value gives the default, a full disk forgets.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, Optional

from lineworthy.errors import InputError
from lineworthy.files import write_atomic

SIDES = ("top", "bottom", "both")
PIXELS_MAX = 20_000


@dataclass(frozen=True)
class Layout:
    """Sizes of the window in device-independent pixels; 0 stands for "never set".

    Attributes:
        sashes: width of the left half, height of the map.
        columns: widths by list.
        sides: what the map shows.
    """

    width: int = 0
    height: int = 0
    sashes: tuple[int, ...] = ()
    columns: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    sides: str = "top"


@dataclass(frozen=True)
class Settings:
    """Everything remembered.

    Attributes:
        sheet: a built-in sheet's name or a file.
        sheet_file: the last sheet that was a file, offered again.
        name: who concedes.
    """

    layout: Layout = field(default_factory=Layout)
    sheet: str = "standard"
    sheet_file: str = ""
    name: str = ""
    report_format: str = "html"
    report_folder: str = ""


class Store:
    """The settings file.

    Args:
        path: the file; None keeps nothing.
    """

    def __init__(self, path: Optional[Path]) -> None:
        self._path = path

    def load(self) -> Settings:
        """What was remembered, as far as it makes sense."""
        if self._path is None:
            return Settings()
        try:
            given = json.loads(self._path.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return Settings()
        return _settings(given) if isinstance(given, dict) else Settings()

    def save(self, settings: Settings) -> None:
        """Remembers, where that is possible."""
        if self._path is not None:
            with contextlib.suppress(InputError):
                write_atomic(self._path, json.dumps(asdict(settings), indent=1) + "\n")


def user_store() -> Store:
    """The settings file of this user, where this system keeps such files."""
    home = Path.home()
    if sys.platform == "win32":
        folder = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    elif sys.platform == "darwin":
        folder = home / "Library" / "Application Support"
    else:
        folder = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return Store(folder / "lineworthy" / "dialog.json")


def _settings(given: Mapping[str, Any]) -> Settings:
    texts = {
        f.name: given[f.name]
        for f in fields(Settings)
        if f.name != "layout" and isinstance(given.get(f.name), str) and given[f.name].isprintable()
    }
    layout = given.get("layout")
    return Settings(layout=_layout(layout) if isinstance(layout, dict) else Layout(), **texts)


def _layout(given: Mapping[str, Any]) -> Layout:
    columns = given.get("columns")
    sides = given.get("sides")
    return Layout(
        width=_pixels(given.get("width")),
        height=_pixels(given.get("height")),
        sashes=_row(given.get("sashes")),
        columns={name: _row(row) for name, row in columns.items()} if isinstance(columns, dict) else {},
        sides=sides if sides in SIDES else "top",
    )


def _row(given: object) -> tuple[int, ...]:
    return tuple(_pixels(value) for value in given) if isinstance(given, list) else ()


def _pixels(given: object) -> int:
    whole = isinstance(given, int) and not isinstance(given, bool)
    return given if whole and 0 < given <= PIXELS_MAX else 0  # type: ignore[operator,return-value]
