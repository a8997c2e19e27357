# SPDX-License-Identifier: MIT
"""The project file beside a board: net classes and text variables."""

from __future__ import annotations

import fnmatch
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from math import exp, log, log1p
from typing import Any, Optional

from lineworthy.errors import InputError
from lineworthy.model import Net, NetClass

DEFAULT_CLASS = "Default"
_LENGTH_MAX = 10_000
"""mm; no board is as long, and a number of hundreds of digits is no float."""
_COSTLY = re.compile(r"\)[*+?{]|\\\d|\(\?(?!:|i\)|=|!|<[=!])")
"""A repeated group or a back reference can take a matcher for ever; other flags allow a space before the repeat."""
_STEPS_MAX = 1_000_000
"""Some hundredths of a second at the worst."""
_NAME_MAX = 256
_PATTERN_MAX = 512

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
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return None
        return float(value) if abs(value) <= _LENGTH_MAX else None

    return NetClass(
        entry["name"], length("clearance"), length("track_width"), length("via_diameter"), length("via_drill")
    )


def _matcher(pattern: str) -> Matches:
    """How a net class pattern is matched: as a wildcard or as a regular expression, either over the whole name.

    An expression that could take for ever is passed over, and so is any on a name it could take for ever on.
    """
    wildcard = re.compile(fnmatch.translate(pattern.replace("[", "[[]")))
    regex: Optional[re.Pattern[str]] = None
    longest = _longest(pattern)
    if not _COSTLY.search(pattern) and longest and len(pattern) < _PATTERN_MAX:
        try:
            regex = re.compile(pattern)
        except (re.error, OverflowError, RecursionError):
            regex = None

    def fits(name: str) -> bool:
        if wildcard.match(name[:_PATTERN_MAX]):
            return True
        return regex is not None and len(name) <= longest and regex.fullmatch(name) is not None

    return fits


def _longest(pattern: str) -> int:
    """Characters of the longest name on which an expression without repeated groups ends soon; 0 for none.

    Every repeat can end at each character, what is optional is there or not, and of a group one of its choices is
    taken, with most ways through all groups when choices are spread evenly. What only looks like one of these counts,
    too. Three repeats are good for 99 characters.
    """
    repeats = sum(pattern.count(char) for char in "*+{")
    groups = pattern.count("(") + 1
    ways = pattern.count("?") * log(2) + groups * log1p(pattern.count("|") / groups)
    left = log(_STEPS_MAX) - ways
    if left < 0:
        return 0
    return min(_NAME_MAX, round(exp(left / repeats)) - 1) if repeats else _NAME_MAX
