# SPDX-License-Identifier: MIT
"""Reading drill files: Excellon and its strict subset XNC, as layout editors write them, and drill Gerbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import isfinite, sqrt
from pathlib import PurePosixPath
from typing import Optional

from lineworthy.errors import InputError
from lineworthy.intake.gerber import GerberFile
from lineworthy.intake.gerber_attributes import Attributes, attribute_of
from lineworthy.intake.paths import arc
from lineworthy.shapes import Point

HITS_MAX = 1_000_000
_TOOL = re.compile(r"T0*(\d{1,6})(?=.*C)(?:[FSHBZ][\d.+-]*)*C([\d.]+)")
_CHOICE = re.compile(r"T0*(\d{1,6})(?:[FSHBZ][\d.]+)*\Z")
_AXES = re.compile(r"([XYIJA])([-+]?[\d.]+)")
_DIGITS = re.compile(r"(?:FORMAT\s*=\s*\{?\s*|FILE_FORMAT\s*=\s*)(\d)\s*:\s*(\d)", re.IGNORECASE)
_ZEROS = re.compile(r"FORMAT\s*=.*(suppress leading|suppress trailing|keep)", re.IGNORECASE)
_UNIT = re.compile(r"(METRIC|INCH)(?:,(LZ|TZ))?(?:,(0+)\.(0+))?\Z")
_ATTRIBUTE = re.compile(r"[;#]\s*#@!\s*(T[FAOD].*)\Z")
_NAMED = re.compile(r"(?<![a-z])(n|non?[-_ ]?)?(?:pth|plated)(?![a-z])", re.IGNORECASE)
_PLAIN_TYPE = re.compile(r";\s*TYPE\s*=\s*(NON_?PLATED|PLATED)", re.IGNORECASE)


@dataclass(frozen=True)
class Hit:
    """A hole (one point) or the way of a cutter (more points), in mm; `plated` is None where the file is silent."""

    points: tuple[Point, ...]
    diameter: float
    plated: Optional[bool] = None

    @property
    def at(self) -> Point:
        """The middle between the first and the last point."""
        (x0, y0), (x1, y1) = self.points[0], self.points[-1]
        return (x0 + x1) / 2, (y0 + y1) / 2


@dataclass(frozen=True, eq=False)
class DrillFile:
    """Holes as a file has them, in mm.

    Attributes:
        attributes: file attributes by name with the dot, as in a Gerber file; empty where the file has none.
        unit: ``mm`` or ``inch``, empty when the file does not say.
        is_complete: the end of the program is there.
        plated: what the file, or else its name, says of all its holes; None when mixed or silent.
        span: first and last copper layer drilled through, None when not stated.
        remarks: what is not as the format has it, in words.
    """

    name: str
    attributes: Attributes
    unit: str
    is_complete: bool
    plated: Optional[bool]
    span: Optional[tuple[int, int]]
    hits: tuple[Hit, ...] = field(repr=False)
    remarks: tuple[str, ...] = ()


def looks_like_drill(head: str) -> bool:
    """Whether the first part of a text is an Excellon program's."""
    return re.match(r"\s*(?:[;(%][^\n]*\n\s*)*M48\b", head[:4096]) is not None


def read_drill(name: str, data: bytes) -> DrillFile:
    """Reads an Excellon or XNC file.

    Raises:
        InputError: it cannot be read; says in which line.
    """
    return _Reader(name).read(data.decode("utf-8", "replace"))


def drill_of(gerber: GerberFile) -> DrillFile:
    """The holes of a Gerber file whose function is drilling: flashes are round, strokes are slots."""
    function = gerber.attributes.get(".FileFunction", ())
    plated = says_plated(function)
    hits = tuple(
        Hit(drawn.points, drawn.diameter, says_plated(drawn.function) if plated is None else plated)
        for drawn in gerber.drawn
        if drawn.diameter >= 0
    )
    return DrillFile(
        gerber.name, gerber.attributes, gerber.unit, gerber.is_complete, plated, span_of(function), hits, gerber.remarks
    )


def says_plated(fields: tuple[str, ...]) -> Optional[bool]:
    """What a file function or an aperture function says of plating."""
    word = fields[0].casefold() if fields else ""
    if word in ("plated", "viadrill", "backdrill"):
        return True
    if word == "nonplated":
        return False
    if word in ("componentdrill", "mechanicaldrill", "slot") and len(fields) > 1:
        return says_plated(fields[1:])
    return None


def named_plated(name: str) -> Optional[bool]:
    """What a file's name says of plating, as layout editors name drill files: ``-PTH``, ``-NPTH``, ``non-plated``."""
    found = {bool(match[1]) for match in _NAMED.finditer(PurePosixPath(name).stem)}
    return not found.pop() if len(found) == 1 else None


def span_of(function: tuple[str, ...]) -> Optional[tuple[int, int]]:
    """The copper layers of ``Plated,1,4,PTH``."""
    if len(function) >= 3 and function[1].isdecimal() and function[2].isdecimal():
        first, last = int(function[1][:6]), int(function[2][:6])
        return min(first, last), max(first, last)
    return None


class _Reader:
    """The state of a drilling machine."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._scale, self._unit = 0.0, ""
        self._digits: Optional[tuple[int, int]] = None
        self._zeros = ""  # which zeros are written: leading, trailing, "" for both or none left out
        self._tools: dict[int, tuple[float, Optional[bool]]] = {}
        self._tool: Optional[int] = None
        self._attributes: dict[str, tuple[str, ...]] = {}
        self._of_tool: Optional[bool] = None
        self._hits: list[Hit] = []
        self._at: Point = (0.0, 0.0)
        self._incremental = self._in_body = self._complete = False
        self._routing = self._down = False
        self._curve = 1
        self._way: list[Point] = []
        self._remarks: list[str] = []

    def read(self, text: str) -> DrillFile:
        for number, line in enumerate(text.splitlines(), start=1):
            try:
                if self._take(line.strip()):
                    self._complete = True
                    break
            except (ValueError, OverflowError) as error:
                raise InputError(self._name, str(error), f"line {number}") from None
        self._lift()
        function = self._attributes.get(".FileFunction", ())
        return DrillFile(
            name=self._name,
            attributes=self._attributes,
            unit=self._unit,
            is_complete=self._complete,
            plated=says_plated(function) if function else named_plated(self._name),
            span=span_of(function),
            hits=tuple(self._hits),
            remarks=tuple(dict.fromkeys(self._remarks)),
        )

    def _take(self, line: str) -> bool:
        """Acts on one line; True at the end of the program."""
        if not line:
            return False
        if line[0] in ";#(":
            self._comment(line)
        elif line in ("M30", "M00", "M02"):
            return True
        elif line in ("%", "M95"):
            self._in_body = True
        elif match := _UNIT.match(line):
            self._declare(match)
        elif line in ("M71", "M72"):
            self._units("mm" if line == "M71" else "inch")
        elif line.startswith("ICI"):
            self._incremental = line.endswith("ON")
        elif line[0] == "T":
            self._use_tool(line)
        elif line[0] in "XYGMR" and not line.startswith("M48"):
            self._act(line)
        return False

    def _comment(self, line: str) -> None:
        if (match := _ATTRIBUTE.match(line)) and (found := attribute_of(match[1].rstrip("*"))):
            kind, name, values = found
            if kind == "F":
                self._attributes[name] = values
            elif kind == "A" and name == ".AperFunction":
                self._of_tool = says_plated(values)
            elif kind == "D":
                self._of_tool = None
        elif match := _PLAIN_TYPE.match(line):
            self._of_tool = match[1].casefold() == "plated"
        elif not self._in_body:
            if match := _DIGITS.search(line):
                self._digits = int(match[1]), int(match[2])
            if match := _ZEROS.search(line):
                words = {"suppress leading": "trailing", "suppress trailing": "leading"}
                self._zeros = words.get(match[1].casefold(), "")

    def _declare(self, match: re.Match[str]) -> None:
        self._units("mm" if match[1] == "METRIC" else "inch")
        if match[2]:
            self._zeros = "leading" if match[2] == "LZ" else "trailing"
        if match[3]:
            self._digits = len(match[3]), len(match[4])

    def _units(self, unit: str) -> None:
        if self._unit and self._unit != unit:
            self._remarks.append("the unit changes within the file")
        self._unit, self._scale = unit, 25.4 if unit == "inch" else 1.0

    def _use_tool(self, line: str) -> None:
        if match := _TOOL.match(line):
            self._tools[int(match[1])] = (float(match[2]) * (self._scale or 1.0), self._of_tool)
            if self._in_body:
                self._tool = int(match[1])
        elif match := _CHOICE.match(line):
            if self._in_body:
                self._lift()
                number = int(match[1])
                if number and number not in self._tools:
                    raise ValueError(f"tool T{number} has no size")
                self._tool = number or None
        else:
            self._remarks.append(f"{line[:20]!r} is no tool")

    def _act(self, line: str) -> None:
        if line.startswith("R") and (match := re.match(r"R0*(\d{1,5})(?=[XY])", line)):
            step = self._delta(line[match.end() :])
            for _ in range(int(match[1])):
                self._at = (self._at[0] + step[0], self._at[1] + step[1])
                self._drill(self._at)
            return
        code = re.match(r"([GM])0*(\d{1,3})", line)
        rest = line
        if code:
            rest = line[code.end() :]
            self._mode(code[1], int(code[2]))
        if not rest or rest[0] not in "XYIJA" or not self._in_body:
            return
        if self._scale == 0.0:
            self._remarks.append("the file does not say its unit; taken as mm")
            self._scale = 1.0
        first, slot, second = rest.partition("G85")
        start = self._target(first)
        if slot:
            self._at = start
            end = self._target(second)
            self._add((start, end))
            self._at = end
        elif self._routing:
            self._rout(start, rest)
        else:
            self._at = start
            self._drill(start)

    def _mode(self, letter: str, code: int) -> None:
        if letter == "G" and code in (0, 1, 2, 3):
            self._routing, self._curve = True, code
        elif letter == "G" and code in (5, 81):
            self._lift()
            self._routing = False
        elif letter == "G" and code in (90, 91):
            self._incremental = code == 91
        elif letter == "M" and code == 15:
            self._down, self._way = True, [self._at]
        elif letter == "M" and code in (16, 17):
            self._lift()
        elif letter == "M" and code in (71, 72):
            self._units("mm" if code == 71 else "inch")
        elif (letter, code) not in _HARMLESS:
            self._remarks.append(f"{letter}{code:02d} is not read")

    def _rout(self, end: Point, rest: str) -> None:
        start, self._at = self._at, end
        if not self._down or self._curve == 0:
            return
        if self._curve == 1:
            self._way.append(end)
            return
        values = dict(_AXES.findall(rest))
        clockwise = self._curve == 2
        if "A" in values:
            centre = _centre(start, end, abs(self._number(values["A"])), clockwise)
        else:
            centre = (start[0] + self._number(values.get("I", "0")), start[1] + self._number(values.get("J", "0")))
        self._way += arc(start, end, centre, clockwise, full=start == end)

    def _lift(self) -> None:
        if self._down and len(self._way) > 1:
            self._add(tuple(self._way))
        self._down, self._way = False, []

    def _drill(self, at: Point) -> None:
        self._add((at,))

    def _add(self, points: tuple[Point, ...]) -> None:
        if self._tool is None:
            raise ValueError("a hole before a tool is chosen")
        if len(self._hits) >= HITS_MAX:
            raise ValueError("more holes than any board has")
        diameter, plated = self._tools[self._tool]
        self._hits.append(Hit(points, diameter, plated))

    def _target(self, text: str) -> Point:
        values = dict(_AXES.findall(text))
        if self._incremental:
            dx, dy = self._delta(text)
            return self._at[0] + dx, self._at[1] + dy
        x = self._number(values["X"]) if "X" in values else self._at[0]
        y = self._number(values["Y"]) if "Y" in values else self._at[1]
        return x, y

    def _delta(self, text: str) -> Point:
        values = dict(_AXES.findall(text))
        return self._number(values.get("X", "0")), self._number(values.get("Y", "0"))

    def _number(self, text: str) -> float:
        if "." in text:
            value = float(text)
        else:
            sign, digits = (-1, text[1:]) if text[0] == "-" else (1, text.lstrip("+"))
            whole, part = self._digits or ((2, 4) if self._unit == "inch" else (3, 3))
            if self._zeros == "leading":
                digits = digits.ljust(whole + part, "0")
            value = sign * int(digits) / 10**part
        if not isfinite(value):
            raise ValueError(f"{text[:20]!r} is no coordinate")
        return value * self._scale


_HARMLESS = {
    ("G", 40),
    ("G", 41),
    ("G", 42),
    ("G", 4),
    ("M", 48),
    ("M", 47),
    ("M", 95),
    ("M", 97),
    ("M", 98),
    ("G", 93),
}


def _centre(start: Point, end: Point, radius: float, clockwise: bool) -> Point:
    """Of an arc of at most half a circle with this radius."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = dx * dx + dy * dy
    if chord == 0:
        return start
    high = sqrt(max(radius * radius / chord - 0.25, 0.0)) * (-1 if clockwise else 1)
    return (start[0] + end[0]) / 2 - dy * high, (start[1] + end[1]) / 2 + dx * high
