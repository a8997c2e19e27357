# SPDX-License-Identifier: MIT
"""The capability sheet: the limits of one factory, each with its value, unit and source.

A sheet is TOML. Each area is a table, each limit a key that ends in its unit::

    [sheet]
    name = "Board house in Brno, outer layers 35 um"
    based_on = "standard"          # relaxed, standard or dense: what is not said here comes from there

    [bare-board]
    edge_copper_outer_min_mm = { value = 0.3, source = "their data sheet 2026-03, page 4" }

A value of ``""`` is a question nobody has answered yet: the base's value stands, and `Sheet.unanswered` names the key.
What was asked in words is answered in the table ``answers``.

To add a limit: a field in the area's class below, and its line in ``sheets/standard.toml``.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Union, get_type_hints

from lineworthy.errors import InputError, SheetError
from lineworthy.files import read_text
from lineworthy.limits import (
    ANSWERS,
    BareBoardLimits,
    FiducialLimits,
    IdentityLimits,
    PanelLimits,
    Sizes,
    SolderLimits,
    SpacingLimits,
    SupplyLimits,
    TestAccessLimits,
    YieldLimits,
)
from lineworthy.tomlfile import parsed

TIERS = ("relaxed", "standard", "dense")
UNITS = ("mm", "um", "ratio", "percent", "count", "days", "deg", "n", "pf", "g", "v", "a", "k")
"""Unit suffixes a key may end in; a key without one of them is an error."""

Number = Union[int, float]
Value = Union[int, float, Sizes]

SIZES_MAX = 20
"""Sizes in one list."""

LISTED_MAX = 12
"""Keys that are named to a person who wrote one like none of them."""


@dataclass(frozen=True)
class Origin:
    """Where a value comes from: the published source, and the sheet that gave it."""

    source: str
    sheet: str


@dataclass(frozen=True)
class Entry:
    """One limit as the sheet command and the reports show it."""

    key: str
    value: Value
    unit: str
    meaning: str
    source: str
    sheet: str

    @property
    def shown(self) -> str:
        """The value as a sheet holds it: ``0.25``, ``3``, ``[[305, 457], [457, 610]]``."""
        if isinstance(self.value, tuple):
            return f"[{', '.join(f'[{a:g}, {b:g}]' for a, b in self.value)}]"
        return f"{self.value:d}" if isinstance(self.value, int) else f"{self.value:g}"


@dataclass(frozen=True)
class Sheet:
    """A complete set of limits; `origins` says for every key where its value comes from.

    Attributes:
        base: the built-in sheet it stands on; its own name for a built-in one.
        unanswered: keys the sheet asks for and has no value of its own for.
        answers: what a manufacturer said in words, by the keys of `limits.ANSWERS`; hostile text.
    """

    name: str
    identity: IdentityLimits
    fiducials: FiducialLimits
    test_access: TestAccessLimits
    panel: PanelLimits
    supply: SupplyLimits
    spacing: SpacingLimits
    solder: SolderLimits
    bare_board: BareBoardLimits
    line_yield: YieldLimits
    origins: Mapping[str, Origin] = field(repr=False)
    base: str = "standard"
    unanswered: tuple[str, ...] = ()
    answers: Mapping[str, str] = field(default_factory=dict, repr=False)

    def value(self, key: str) -> Number:
        """The number of ``area.limit_unit``; KeyError when there is no such key, or it is a list of sizes."""
        if key not in self.origins:
            raise KeyError(key)
        value = self._held(key)
        if isinstance(value, tuple):
            raise KeyError(f"{key} is a list of sizes")
        return value

    def _held(self, key: str) -> Value:
        area, name = key.split(".", 1)
        value: Value = getattr(getattr(self, area.replace("-", "_")), name)
        return value

    def source(self, key: str) -> str:
        """The published source of a limit, or who gave it."""
        return self.origins[key].source

    def entries(self) -> Iterator[Entry]:
        """Every limit in the order of the areas."""
        for area, limits in _area_classes().items():
            for item in dataclasses.fields(limits):
                key = f"{area}.{item.name}"
                origin = self.origins[key]
                yield Entry(key, self._held(key), unit_of(key), item.metadata["meaning"], origin.source, origin.sheet)


def unit_of(key: str) -> str:
    """The unit suffix of a key, empty when it has none of `UNITS`."""
    suffix = key.rsplit("_", 1)[-1]
    return suffix if suffix in UNITS else ""


def built_in(tier: str = "standard") -> Sheet:
    """One of the generic sheets that come with the library.

    Raises:
        SheetError: `tier` is none of `TIERS`.
    """
    if tier not in TIERS:
        raise SheetError(tier, f"no such built-in sheet; there are {', '.join(TIERS)}")
    return _parse(_built_in_text(tier), f"{tier}.toml", tier)


def load(source: str) -> Sheet:
    """A built-in sheet by name, or a user's sheet from a TOML file, which may be called as it likes.

    Raises:
        SheetError: the file cannot be read, or a key or value in it is wrong (names file, key and value).
    """
    if source in TIERS:
        return built_in(source)
    try:
        text = read_text(Path(source))
    except InputError as error:
        raise SheetError(source, error.reason) from None
    if text is None:
        raise SheetError(source, f"cannot be read: no such file; built-in sheets are {', '.join(TIERS)}")
    return _parse(text, source)


def _built_in_text(tier: str) -> str:
    return (resources.files("lineworthy") / "sheets" / f"{tier}.toml").read_text(encoding="utf-8")


def _parse(text: str, file: str, tier: str = "") -> Sheet:
    """A sheet from its text; `tier` says that it is the built-in one, whatever the file is called."""
    try:
        document = parsed(text, file)
    except InputError as error:
        raise SheetError(file, error.reason, error.place) from None
    head = document.pop("sheet", {})
    if not isinstance(head, dict):
        raise SheetError(file, "must be a table", "sheet")
    _known_keys(file, "sheet", head, ("name", "based_on"))
    name = head.get("name", Path(file).stem)
    if not isinstance(name, str):
        raise SheetError(file, f"must be text, not {name!r}", "sheet.name")
    said = _answers(file, document.pop("answers", {}))
    unanswered: list[str] = []
    values: dict[str, dict[str, Value]] = {area: {} for area in _area_classes()}
    origins: dict[str, Origin] = {}
    base = head.get("based_on", None if tier == "standard" else "standard")
    if base is not None:
        if base not in TIERS:
            raise SheetError(file, f"{base!r} is none of {', '.join(TIERS)}", "sheet.based_on")
        parent = built_in(base)
        origins.update(parent.origins)
        for entry in parent.entries():
            area, key = entry.key.split(".", 1)
            values[area][key] = entry.value
    for area, table in document.items():
        _known_keys(file, "", {area: table}, tuple(values))
        if not isinstance(table, dict):
            raise SheetError(file, "must be a table", area)
        for key, given in table.items():
            if given == "" and key in values[area]:
                unanswered.append(f"{area}.{key}")
                continue
            values[area][key], source = _limit_value(file, area, key, given, name)
            origins[f"{area}.{key}"] = Origin(source, name)
    areas: dict[str, Any] = {}
    for area, limits in _area_classes().items():
        missing = [f.name for f in dataclasses.fields(limits) if f.name not in values[area]]
        if missing:
            raise SheetError(file, "limit is missing", f"{area}.{missing[0]}")
        areas[area.replace("-", "_")] = limits(**values[area])
    return Sheet(
        name=name, origins=origins, base=tier or base or "standard", unanswered=tuple(unanswered), answers=said, **areas
    )


def _answers(file: str, table: object) -> dict[str, str]:
    """What was said in words; empty answers are left out."""
    if not isinstance(table, dict):
        raise SheetError(file, "must be a table", "answers")
    _known_keys(file, "answers", table, tuple(ANSWERS))
    for key, given in table.items():
        if not isinstance(given, str):
            raise SheetError(file, f"must be text, not {_short(given)}", f"answers.{key}")
    return {key: given.strip() for key, given in table.items() if given.strip()}


def _limit_value(file: str, area: str, key: str, given: object, sheet: str) -> tuple[Value, str]:
    """Checks one ``key = value`` or ``key = { value, source }`` against the class of its area."""
    limits = {f.name: f for f in dataclasses.fields(_area_classes()[area])}
    place = f"{area}.{key}"
    if key not in limits:
        # the right limit with another unit, or with none
        same = [name for name in limits if name.rsplit("_", 1)[0] in (key, key.rsplit("_", 1)[0])]
        if same:
            raise SheetError(file, f"the unit must be {unit_of(same[0])}: write {same[0]}", place)
        _known_keys(file, area, {key: given}, tuple(limits))
    source = f"given in {sheet}"
    if isinstance(given, dict):
        _known_keys(file, place, given, ("value", "source"))
        source = given.get("source", source)
        if not isinstance(source, str):
            raise SheetError(file, f"must be text, not {source!r}", f"{place}.source")
        if "value" not in given:
            raise SheetError(file, "value is missing", place)
        given = given["value"]
    low, high = limits[key].metadata["low"], limits[key].metadata["high"]
    wanted = _kinds(area)[key]
    if wanted == Sizes:
        return _sizes(file, place, given, low, high), source
    wants_int = wanted is int
    if isinstance(given, bool) or not isinstance(given, (int, float)) or (wants_int and not float(given).is_integer()):
        raise SheetError(file, f"must be a {'whole ' if wants_int else ''}number, not {given!r}", place)
    if not low <= given <= high:  # also refuses nan
        raise SheetError(file, f"{given!r} is outside the possible {low:g} to {high:g}", place)
    return (int(given) if wants_int else float(given)), source


def _sizes(file: str, place: str, given: object, low: float, high: float) -> Sizes:
    """Checks a list of sizes; the shorter side of each comes first."""
    if not isinstance(given, list) or not 0 < len(given) <= SIZES_MAX:
        wanted = f"a list of 1 to {SIZES_MAX} sizes like [[305, 457]]"
        raise SheetError(file, f"must be {wanted}, not {_short(given)}", place)
    for size in given:
        numbers = isinstance(size, list) and all(isinstance(n, (int, float)) and not isinstance(n, bool) for n in size)
        if not numbers or len(size) != 2:
            raise SheetError(file, f"each size must be two numbers like [305, 457], not {_short(size)}", place)
        if not all(low <= side <= high for side in size):
            raise SheetError(file, f"{_short(size)} is outside the possible {low:g} to {high:g}", place)
    return tuple((float(min(size)), float(max(size))) for size in given)


def _known_keys(file: str, place: str, table: Mapping[str, Any], valid: tuple[str, ...]) -> None:
    for key in table:
        if key not in valid:
            near = difflib.get_close_matches(key, valid, n=1)
            known = ", ".join(valid) if len(valid) <= LISTED_MAX else f"{len(valid)}, see 'lineworthy sheet'"
            told = f"nearest is {near[0]}" if near else f"there are {known}"
            where = f"{place}.{key}" if place else key
            raise SheetError(file, f"no such key (value {_short(table[key])}); {told}", where)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


@cache
def _kinds(area: str) -> dict[str, Any]:
    """The type of each limit of an area."""
    return get_type_hints(_area_classes()[area])


@cache
def _area_classes() -> dict[str, type[Any]]:
    hints = get_type_hints(Sheet)
    return {
        name.replace("_", "-"): kind
        for name, kind in hints.items()
        if isinstance(kind, type) and dataclasses.is_dataclass(kind)
    }
