# SPDX-License-Identifier: MIT
"""The project's settings, kept beside the board as ``BOARD.lineworthy.toml``: one command does the whole review.

Every entry may be left out. File names are relative to the settings file::

    sheet = "our-factory.toml"          # a built-in tier or a file
    parts_list = "parts.csv"
    offers = "offers.csv"
    release_folder = "release"          # a folder or a zip
    released = "release/manifest.json"  # what was released before, to guard the revision
    models = "../3dmodels"              # the libraries' 3D models, to measure how tall parts are
    build_quantity = 500
    build_date = 2027-03-01
    key_nets = ["/SENSE*"]              # nets that test must reach, besides those it knows by itself
    key_net_classes = ["Power"]
    rework = ["U3", "J*"]               # parts that will be replaced now and then; references or shell patterns

    [panel]
    method = "scored"                   # how boards are parted: scored, routed, mixed, or single (not in a panel)

    [nets]                              # what a net is, where its name misleads; names or shell patterns
    "Earth" = "ground"

    [voltages]                          # V against ground, direct or peak, or the range it swings over
    "HV_BUS" = 400
    "L*" = [-325, 325]

    [currents]                          # A that a net's tracks carry for long
    "VMOTOR" = 5.0
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path, PurePath
from typing import Any, Callable, Optional

from lineworthy.errors import InputError
from lineworthy.files import read_text
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.netfacts import CLASS_WORDS, matches
from lineworthy.knowledge.separation import METHODS
from lineworthy.knowledge.wording import listed
from lineworthy.model import Board
from lineworthy.tomlfile import parsed

VOLTS_MAX, AMPS_MAX = 100_000, 1000
"""More than this is a slip of the pen."""

NEAR = 0.6
"""How alike a name must be to be offered instead (`difflib`'s ratio)."""
_NEAR_AMONG = 20_000
_NEAR_LENGTH = 80


@dataclass(frozen=True)
class Project:
    """What a project says about its boards' production; paths are resolved against the settings file.

    Attributes:
        source: the settings file, empty when there is none.
        sheet: a built-in tier's name or a file; empty when not said.
        models: folder of the libraries' 3D models, in place of every path variable in the board's names of models.
        nets: what nets are, by name or shell pattern.
        panel: how boards are built many-up; the entry ``method`` is a `separation.Method`'s value.
        voltages: lowest and highest voltage of nets against ground, V, by name or shell pattern.
        currents: what nets carry for long, A, by name or shell pattern.
        key_nets: names or shell patterns of further nets that test must reach.
        key_net_classes: names of net classes all of whose nets test must reach.
        rework: references or shell patterns of parts that are likely to be replaced.
    """

    source: str = ""
    sheet: str = ""
    parts_list: Optional[Path] = None
    offers: Optional[Path] = None
    release_folder: Optional[Path] = None
    released: Optional[Path] = None
    models: Optional[Path] = None
    build_quantity: Optional[int] = None
    build_date: Optional[date] = None
    key_nets: tuple[str, ...] = ()
    key_net_classes: tuple[str, ...] = ()
    rework: tuple[str, ...] = ()
    nets: Mapping[str, str] = field(default_factory=dict)
    voltages: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    currents: Mapping[str, float] = field(default_factory=dict)
    panel: Mapping[str, str] = field(default_factory=dict)

    def astray(self, board: Board) -> dict[str, tuple[str, str]]:
        """Entries that name nets, classes or parts the board does not have: a slip of the pen must not pass as silence.

        No error, because the same settings may serve several boards.

        Returns:
            By entry what is missing, and what to do.
        """
        nets = {*board.nets, *board.pads_by_net}
        classes = {net.net_class for net in board.nets.values()}
        said = {name: getattr(self, name) for name in ("key_nets", "nets", "voltages", "currents")}
        lost = {
            name: [_lost(one, nets) for one in given if not any(matches(net, one) for net in nets)]
            for name, given in said.items()
        }
        lost["key_net_classes"] = [_lost(one, classes) for one in self.key_net_classes if one not in classes]
        parts = {part.reference for part in board.parts}
        lost["rework"] = [_lost(one, parts) for one in self.rework if not any(matches(part, one) for part in parts)]
        file = PurePath(self.source).name or "the project's settings"
        return {
            name: (
                f"no {_KINDS.get(name, 'net')} called {listed(ones)}",
                f"correct {name} in {file}, unless it is for another board",
            )
            for name, ones in lost.items()
            if ones
        }


_KINDS = {"key_net_classes": "net class", "rework": "part"}


def _lost(entry: str, names: Iterable[str]) -> str:
    """An entry with the name that was perhaps meant."""
    known = {short.casefold(): name for name in sorted(names) for short in (name, name.rpartition("/")[2])}
    among = [short for short in list(known)[:_NEAR_AMONG] if len(short) <= _NEAR_LENGTH]
    meant = re.sub(r"[*?\[\]]", "", entry[:_NEAR_LENGTH]).casefold()
    near = difflib.get_close_matches(meant, among, n=1, cutoff=NEAR)
    return f"{quoted(entry)} (nearest is {quoted(known[near[0]])})" if near else quoted(entry)


def beside(board: Path) -> Path:
    """Where the settings of a board file are kept."""
    return board.with_name(f"{board.stem}.lineworthy.toml")


def load(path: Path) -> Project:
    """The settings in a file; none at all where there is no file.

    Raises:
        InputError: the file cannot be read, or an entry is unknown or of the wrong kind.
    """
    text = read_text(path)
    if text is None:
        return Project()
    document = parsed(text, str(path))
    for key in document:
        if key not in _READERS:
            raise InputError(str(path), f"unknown entry {key!r}; there are {', '.join(_READERS)}")
    given = {key: _READERS[key](key, value, path) for key, value in document.items()}
    return Project(source=str(path), **given)


def _quantity(key: str, value: Any, path: Path) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        raise InputError(str(path), "must be a whole number of 1 or more", key)
    return value


FIRST_YEAR, LAST_YEAR = 2000, 2199
"""No board is built outside of these, and lead times cannot be counted from the ends of the calendar."""


def _date(key: str, value: Any, path: Path) -> date:
    if not isinstance(value, date) or isinstance(value, datetime) or not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise InputError(str(path), "must be a date like 2027-03-01", key)
    return value


def _names(key: str, value: Any, path: Path) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise InputError(str(path), "must be a list of names", key)
    return tuple(value)


def _nets(key: str, value: Any, path: Path) -> dict[str, str]:
    if not isinstance(value, dict) or not all(isinstance(word, str) for word in value.values()):
        raise InputError(str(path), 'must be a table of names, like "Earth" = "ground"', key)
    for name, word in value.items():
        if word not in CLASS_WORDS:
            known = ", ".join(CLASS_WORDS)
            raise InputError(str(path), f"no kind of net is called {word!r}; there are {known}", _place(key, name))
    return dict(value)


def _voltages(key: str, value: Any, path: Path) -> dict[str, tuple[float, float]]:
    if not isinstance(value, dict):
        raise InputError(str(path), 'must be a table of volts, like "HV_BUS" = 400', key)
    return {name: _range(_place(key, name), volts, path) for name, volts in value.items()}


def _range(key: str, value: Any, path: Path) -> tuple[float, float]:
    ends = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or not all(_is_number(end) and abs(end) <= VOLTS_MAX for end in ends) or ends[0] > ends[1]:
        raise InputError(str(path), f"must be volts up to {VOLTS_MAX:,}, or [lowest, highest] of them", key)
    return (float(ends[0]), float(ends[1]))


def _currents(key: str, value: Any, path: Path) -> dict[str, float]:
    if not isinstance(value, dict):
        raise InputError(str(path), 'must be a table of amperes, like "VMOTOR" = 5.0', key)
    for name, amps in value.items():
        if not _is_number(amps) or not 0 < amps <= AMPS_MAX:
            raise InputError(str(path), f"must be amperes, more than 0 and up to {AMPS_MAX:,}", _place(key, name))
    return {name: float(amps) for name, amps in value.items()}


def _place(key: str, name: str) -> str:
    """An entry of a table, on one line whatever its name holds."""
    return f"{key}.{name if name.isprintable() else repr(name)}"


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _panel(key: str, value: Any, path: Path) -> dict[str, str]:
    if not isinstance(value, dict):
        raise InputError(str(path), 'must be a table, like [panel] with method = "scored"', key)
    for entry, word in value.items():
        if entry != "method":
            raise InputError(str(path), f"unknown entry {entry!r}; there is method", key)
        if word not in METHODS:
            known = ", ".join(METHODS)
            raise InputError(
                str(path), f"no way of parting boards is called {word!r}; there are {known}", f"{key}.method"
            )
    return dict(value)


def _text(key: str, value: Any, path: Path) -> str:
    if not isinstance(value, str) or not value.strip():
        raise InputError(str(path), "must be a text that is not empty", key)
    return value


def _name(key: str, value: Any, path: Path) -> str:
    name = _text(key, value, path)
    if not name.isprintable():
        raise InputError(str(path), "must be the name of a file, without control characters", key)
    return name


def _sheet(key: str, value: Any, path: Path) -> str:
    name = _name(key, value, path)
    # a tier's name has no dot and no folder; everything else is a file beside the settings, and keeps a folder before
    # its name, because without one it could be read as a tier's
    return os.path.join(path.parent, name) if "." in name or "/" in name or "\\" in name else name


def _file(key: str, value: Any, path: Path) -> Path:
    return path.parent / _name(key, value, path)


_READERS: Mapping[str, Callable[[str, Any, Path], Any]] = {
    "sheet": _sheet,
    "parts_list": _file,
    "offers": _file,
    "release_folder": _file,
    "released": _file,
    "models": _file,
    "build_quantity": _quantity,
    "build_date": _date,
    "key_nets": _names,
    "key_net_classes": _names,
    "rework": _names,
    "nets": _nets,
    "voltages": _voltages,
    "currents": _currents,
    "panel": _panel,
}
"""How each entry is read; what is a file lies beside the settings."""
