# SPDX-License-Identifier: MIT
"""The project file beside a board: net classes and text variables."""

from __future__ import annotations

import fnmatch
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Optional

from lineworthy.errors import InputError
from lineworthy.model import Net, NetClass

DEFAULT_CLASS = "Default"
_COSTLY = re.compile(r"\)[*+?{]|\\\d")
"""A repeated group or a back reference can take a matcher for ever; such patterns are taken literally."""
_REPEATS_MAX = 4
_NAME_MAX = 512

Matches = Callable[[str], bool]


@dataclass(frozen=True)
class Project:
    """What a board takes from its project."""

    variables: Mapping[str, str] = field(default_factory=dict)
    classes: Mapping[str, NetClass] = field(default_factory=dict)
    assigned: Mapping[str, str] = field(default_factory=dict)
    patterns: tuple[tuple[str, str], ...] = ()

    def nets(self, names: Iterable[str]) -> dict[str, Net]:
        """The nets with their classes: an assignment by name first, then the patterns in order."""
        matchers = [(_matcher(pattern), name) for pattern, name in self.patterns]
        made: dict[str, Net] = {}
        for net in names:
            found = self.assigned.get(net) or next((name for fits, name in matchers if fits(net)), DEFAULT_CLASS)
            made[net] = Net(net, found)
        return made


def read_project(text: Optional[str], name: str) -> Project:
    """The project from its JSON; entries of an unexpected form are passed over.

    Raises:
        InputError: the text is not JSON or no object.
    """
    if text is None:
        return Project()
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as problem:
        reason = str(problem).splitlines()[0]
        raise InputError(name, f"the project file is not valid JSON: {reason}") from None
    if not isinstance(raw, dict):
        raise InputError(name, "the project file is not a JSON object")
    settings = _dict(raw.get("net_settings"))
    assigned = {
        net: name
        for net, name in ((n, _first(c)) for n, c in _dict(settings.get("netclass_assignments")).items())
        if name
    }
    classes: dict[str, NetClass] = {}
    for entry in _list(settings.get("classes")):
        if isinstance(entry, dict) and isinstance(entry.get("name"), str):
            classes[entry["name"]] = _net_class(entry)
            # Until version 6 a class listed its nets.
            assigned.update({net: entry["name"] for net in _list(entry.get("nets")) if isinstance(net, str)})
    patterns = [p for p in _list(settings.get("netclass_patterns")) if isinstance(p, dict)]
    return Project(
        variables={k: v for k, v in _dict(raw.get("text_variables")).items() if isinstance(v, str)},
        classes=classes,
        assigned=assigned,
        patterns=tuple((str(p.get("pattern", "")), str(p.get("netclass", ""))) for p in patterns if p.get("netclass")),
    )


def _dict(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _first(value: Any) -> str:
    """The class of an assignment: a name, or since version 9 a list of them, most important first."""
    value = value[0] if isinstance(value, list) and value else value
    return value if isinstance(value, str) else ""


def _net_class(entry: Mapping[str, Any]) -> NetClass:
    def length(key: str) -> Optional[float]:
        value = entry.get(key)
        return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None

    return NetClass(
        entry["name"], length("clearance"), length("track_width"), length("via_diameter"), length("via_drill")
    )


def _matcher(pattern: str) -> Matches:
    """How a net class pattern is matched: as a wildcard or as a regular expression, either over the whole name."""
    wildcard = re.compile(fnmatch.translate(pattern.replace("[", "[[]")))
    regex: Optional[re.Pattern[str]] = None
    repeats = sum(pattern.count(char) for char in "*+{")
    if not _COSTLY.search(pattern) and repeats <= _REPEATS_MAX and len(pattern) < _NAME_MAX:
        try:
            regex = re.compile(pattern)
        except (re.error, OverflowError, RecursionError):
            regex = None

    def fits(name: str) -> bool:
        name = name[:_NAME_MAX]
        return wildcard.match(name) is not None or (regex is not None and regex.fullmatch(name) is not None)

    return fits
