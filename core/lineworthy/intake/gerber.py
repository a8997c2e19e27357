# SPDX-License-Identifier: MIT
"""Reading Gerber layer files: attributes, apertures and geometry, as the format's specification has them.

Geometry is read by a small interpreter of our own, checked against two libraries in the tests. As a dependency neither
would do: they drop step-and-repeat, refuse blocks or pass over mirrored and turned apertures without a word.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional

import numpy as np
import shapely

from lineworthy.errors import InputError
from lineworthy.intake.gerber_apertures import Macro, placed, standard
from lineworthy.intake.gerber_arithmetic import BadApertureError
from lineworthy.intake.gerber_image import Image, Pen, TooMuchError
from lineworthy.intake.paths import arc, enclosed, quadrant_centre
from lineworthy.shapes import Area, Coords, Point, polygonal

REPEATS_MAX = 10_000
_COMMAND = re.compile(r"G0?4[^*]*\*|%[^%]*%|[^*%]+\*")
_MOVE = re.compile(
    r"(?:G0*([123]|7[45]|36|37|54|55|70|71|90|91)(?![0-9]))?"
    r"(?:X([-+]?\d+))?(?:Y([-+]?\d+))?(?:I([-+]?\d+))?(?:J([-+]?\d+))?(?:D0*(\d+))?\Z"
)
_FORMAT = re.compile(r"FS([LTD]?)([AI])(?:N\d)?(?:G\d)?X(\d)(\d)Y(\d)(\d)")
_DEFINITION = re.compile(r"ADD0*(\d{1,9})([^,]+)(?:,(.*))?\Z", re.DOTALL)
_REPEAT = re.compile(r"SR(?:X(\d+)Y(\d+)I([-+.\d]+)J([-+.\d]+))?\Z")
_ATTRIBUTE = re.compile(r"T([FAOD])([^,]*)(?:,(.*))?\Z", re.DOTALL)
_COMMENT_ATTRIBUTE = re.compile(r"G0?4\s*#@!\s*(T[FAOD].*)\Z", re.DOTALL)
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})")

Attributes = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Drawn:
    """One flash (one point) or stroke with what the file says about it."""

    points: tuple[Point, ...]
    diameter: float
    function: tuple[str, ...] = ()
    about: Attributes = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class GerberFile:
    """A layer as a Gerber file has it, in mm.

    Attributes:
        attributes: file attributes by name with the dot (``.FileFunction``), each a tuple of its fields.
        unit: ``mm`` or ``inch``, as the file declares it.
        is_complete: the end of the file is there.
        remarks: what in the file is not as the specification has it, in words.
        drawn: every flash and stroke with its attributes, in order (of blocks and repeats, what they are made of).
        paths: the centre lines of all strokes and the contours of regions, (n, 2) mm.
    """

    name: str
    attributes: Attributes
    unit: str
    is_complete: bool
    remarks: tuple[str, ...]
    drawn: tuple[Drawn, ...] = field(repr=False)
    paths: tuple[Coords, ...] = field(repr=False)
    image: Image = field(repr=False)

    @cached_property
    def area(self) -> Area:
        """Everything dark in the image."""
        return self.image.area()

    @cached_property
    def enclosed(self) -> Area:
        """What the centre lines enclose: the board, where the file is a profile. Empty when they do not close."""
        return enclosed(self.paths)


def read_gerber(name: str, data: bytes) -> GerberFile:
    """Reads a Gerber file.

    Args:
        name: what to call it in errors.
        data: its content.

    Raises:
        InputError: it cannot be read; says in which line.
    """
    return _Reader(name).read(data.decode("utf-8", "replace"))


def looks_like_gerber(head: str) -> bool:
    """Whether the first part of a text is a Gerber file's."""
    return bool(re.search(r"%(FS[LTD]?[AI]|MO(MM|IN)|TF\.)|G04[^*]*\*", head[:4096])) and "M48" not in head[:512]


def attribute_of(command: str) -> Optional[tuple[str, str, tuple[str, ...]]]:
    """The kind (F, A, O, D), name and fields of an attribute command such as ``TF.Part,Single``; None for another."""
    match = _ATTRIBUTE.match(command)
    if not match:
        return None
    values = tuple(_ESCAPE.sub(lambda m: chr(int(m[1], 16)), value) for value in (match[3] or "").split(","))
    return match[1], match[2].strip(), values


class _Reader:
    """The state of the format's graphics machine."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._line = 1
        self._image = Image()
        self._files: dict[str, tuple[str, ...]] = {}
        self._of_aperture: dict[str, tuple[str, ...]] = {}
        self._of_object: dict[str, tuple[str, ...]] = {}
        self._pens: dict[int, Pen] = {}
        self._transformed: dict[tuple[int, str, float, float], Pen] = {}
        self._macros: dict[str, Macro] = {}
        self._pen: Optional[int] = None
        self._unit, self._scale = "", 1.0
        self._digits: Optional[tuple[int, int]] = None
        self._trailing = self._incremental = False
        self._at: Point = (0.0, 0.0)
        self._curve, self._single_quadrant = 1, False
        self._dark = True
        self._mirror, self._turn, self._size = "N", 0.0, 1.0
        self._contour: Optional[list[Point]] = None
        self._drawn: list[Drawn] = []
        self._paths: list[list[Point]] = []
        self._outer: list[tuple[Image, object]] = []
        self._remarks: list[str] = []
        self._operation = 0
        self._complete = False

    def read(self, text: str) -> GerberFile:
        end = 0
        for match in _COMMAND.finditer(text):
            self._line += text.count("\n", end, match.start())
            end = match.start()
            if self._command(match[0]):
                self._complete = True
                break
        if not self._digits and not self._paths and not self._drawn and not self._files:
            raise InputError(self._name, "is no Gerber file: it says no coordinate format")
        while self._outer:  # a block or repeat left open: what is in it was meant to be drawn
            self._remark("a block or a repeat is not closed")
            self._image = self._outer.pop()[0]
        return GerberFile(
            name=self._name,
            attributes=dict(self._files),
            unit=self._unit,
            is_complete=self._complete,
            remarks=tuple(dict.fromkeys(self._remarks)),
            drawn=tuple(self._drawn),
            paths=tuple(np.array(path) for path in self._paths),
            image=self._image,
        )

    def _command(self, raw: str) -> bool:
        """Acts on one command; True at the end of the file."""
        try:
            if raw[0] == "%":
                self._extended(raw.strip("%"))
                return False
            word = raw.rstrip("*")
            word = word if word.isascii() and word.isalnum() else re.sub(r"[\r\n\t ]", "", word)
            if word.startswith(("G04", "G4")) and (comment := _COMMENT_ATTRIBUTE.match(raw.rstrip("*"))):
                self._attribute(comment[1])
                return False
            return self._word(word)
        except (
            BadApertureError,
            TooMuchError,
            ValueError,
            OverflowError,
            RecursionError,
            shapely.errors.ShapelyError,
        ) as error:
            raise InputError(self._name, str(error) or type(error).__name__, f"line {self._line}") from None

    def _word(self, word: str) -> bool:
        if word in ("M02", "M2", "M00", "M0", "M30"):
            return True
        if not word or word.startswith(("G04", "G4")) or word == "M01":
            return False
        match = _MOVE.match(word)
        if not match:
            self._remark(f"{word[:20]!r} is no command of the format")
            return False
        code, x, y, i, j, operation = match.groups()
        if code:
            self._mode(int(code))
        if operation and int(operation) >= 10:
            self._choose(int(operation))
            return False
        if operation or x or y or i or j:
            self._operation = int(operation) if operation else self._operation
            self._move(x, y, i, j)
        return False

    def _mode(self, code: int) -> None:
        if code in (1, 2, 3):
            self._curve = code
        elif code in (74, 75):
            self._single_quadrant = code == 74
        elif code == 36:
            self._contour = []
        elif code == 37:
            self._close_contour()
            self._contour = None
        elif code in (70, 71):
            self._units("inch" if code == 70 else "mm")
        elif code in (90, 91):
            self._incremental = code == 91

    def _choose(self, number: int) -> None:
        if number not in self._pens:
            raise BadApertureError(f"aperture D{number} is not defined")
        self._pen = number

    def _current(self) -> Pen:
        if self._pen is None:
            raise BadApertureError("something is drawn before an aperture is chosen")
        key = (self._pen, self._mirror, self._turn, self._size)
        if key not in self._transformed:
            pen = self._pens[self._pen]
            if key[1:] != ("N", 0.0, 1.0):
                turn = key[1:]
                pieces = tuple((dark, placed(shape, *turn)) for dark, shape in pen.pieces)
                diameter = pen.diameter * self._size if pen.diameter > 0 else pen.diameter
                pen = Pen(polygonal(placed(pen.area, *turn)), diameter, pieces, pen.function)
            self._transformed[key] = pen
        return self._transformed[key]

    def _value(self, digits: Optional[str], whole_and_part: tuple[int, int]) -> float:
        if not digits:
            return 0.0
        whole, part = whole_and_part
        if self._trailing:
            sign, digits = (-1, digits[1:]) if digits[0] == "-" else (1, digits.lstrip("+"))
            return float(sign * int(digits.ljust(whole + part, "0")) / 10**part * self._scale)
        return float(int(digits) / 10**part * self._scale)

    def _move(self, x: Optional[str], y: Optional[str], i: Optional[str], j: Optional[str]) -> None:
        form = self._digits
        if form is None:
            raise ValueError("a coordinate comes before the coordinate format")
        dx, dy = self._value(x, form), self._value(y, form)
        if self._incremental:
            to = (self._at[0] + dx, self._at[1] + dy)
        else:
            to = (dx if x else self._at[0], dy if y else self._at[1])
        start, self._at = self._at, to
        if self._operation == 1:
            centre = (self._value(i, form), self._value(j, form))
            self._draw(start, to, centre)
        elif self._operation == 2:
            self._close_contour()
        elif self._operation == 3:
            if self._contour is not None:
                raise ValueError("a flash inside a region")
            self._flash(to)
        else:
            raise ValueError("a coordinate without an operation")

    def _draw(self, start: Point, end: Point, centre: Point) -> None:
        points = [end] if self._curve == 1 else self._arc(start, end, centre)
        if self._contour is not None:
            self._contour += [start, *points] if not self._contour else points
            return
        if self._curve == 1 and self._paths and self._paths[-1][-1] == start and self._joins:
            self._paths[-1] += points
        else:
            self._paths.append([start, *points])
        self._joins = True
        pen = self._current()
        path = np.array([start, *points])
        self._image.stroke(self._dark, pen, path)
        self._drawn.append(Drawn((start, *points), pen.diameter, pen.function, self._of_object))

    _joins = True

    def _flash(self, at: Point) -> None:
        pen = self._current()
        self._image.flash(self._dark, pen, at)
        self._drawn.append(Drawn((at,), pen.diameter, pen.function, self._of_object))

    def _close_contour(self) -> None:
        if self._contour:
            ring = np.array(self._contour)
            self._image.region(self._dark, ring)
            self._paths.append(self._contour)
            self._contour = []

    def _arc(self, start: Point, end: Point, offset: Point) -> list[Point]:
        clockwise = self._curve == 2
        if self._single_quadrant:
            centre = quadrant_centre(start, end, offset, clockwise)
        else:
            centre = (start[0] + offset[0], start[1] + offset[1])
        return arc(start, end, centre, clockwise, full=start == end and not self._single_quadrant)

    def _extended(self, body: str) -> None:
        commands = [command.strip().replace("\r", "").replace("\n", "") for command in body.split("*")]
        if commands[0].startswith("AM"):
            self._macros[commands[0][2:]] = Macro(commands[1:])
            return
        for command in commands:
            if command:
                self._one(command)

    def _one(self, command: str) -> None:
        head = command[:2]
        if command[0] == "T":
            self._attribute(command)
        elif head == "FS":
            self._form(command)
        elif head == "MO":
            self._units({"MM": "mm", "IN": "inch"}.get(command[2:4], ""))
        elif head == "AD":
            self._define(command)
        elif head in ("LP", "LM", "LR", "LS"):
            self._load(head, command[2:])
        elif head == "AB":
            self._block(command[2:])
        elif head == "SR":
            self._repeat(command)
        elif head in ("IP", "OF", "MI", "SF", "IR", "AS"):
            # withdrawn years ago, harmless in their usual neutral form
            if command not in ("IPPOS", "OFA0B0", "MIA0B0", "SFA1B1", "SFA1.0B1.0", "IR0", "ASAXBY"):
                raise ValueError(f"the withdrawn command {command[:20]!r} is not read")
        elif head not in ("IN", "LN"):
            self._remark(f"{command[:20]!r} is no command of the format")

    def _form(self, command: str) -> None:
        match = _FORMAT.match(command)
        if not match:
            raise ValueError(f"{command[:30]!r} is no coordinate format")
        self._trailing, self._incremental = match[1] == "T", match[2] == "I"
        x, y = (int(match[3]), int(match[4])), (int(match[5]), int(match[6]))
        if x != y:
            raise ValueError("x and y have different coordinate formats")
        self._digits = x

    def _units(self, unit: str) -> None:
        if not unit:
            raise ValueError("the unit is neither MM nor IN")
        if self._unit and self._unit != unit:
            self._remark("the unit changes within the file")
        self._unit, self._scale = unit, 25.4 if unit == "inch" else 1.0

    def _define(self, command: str) -> None:
        match = _DEFINITION.match(command)
        if not match or int(match[1]) < 10:
            raise BadApertureError(f"{command[:30]!r} defines no aperture")
        number, shape = int(match[1]), match[2].strip()
        numbers = [float(text) for text in re.split("[xX]", match[3])] if match[3] else []
        if not all(np.isfinite(numbers)):
            raise BadApertureError("a size is no number")
        if shape in ("C", "R", "O", "P"):
            area = standard(shape, numbers, self._scale)
        elif shape in self._macros:
            area = self._macros[shape].area(numbers, self._scale)
        else:
            raise BadApertureError(f"macro {shape[:30]!r} is not defined")
        plain = shape == "C" and not any(numbers[1:])
        function = self._of_aperture.get(".AperFunction", ())
        self._keep(number, Pen(area, numbers[0] * self._scale if plain else -1.0, function=function))

    def _keep(self, number: int, pen: Pen) -> None:
        self._pens[number] = pen
        self._transformed = {key: made for key, made in self._transformed.items() if key[0] != number}

    def _load(self, what: str, value: str) -> None:
        if what == "LP":
            if value not in ("D", "C"):
                raise ValueError(f"polarity {value[:10]!r} is neither dark nor clear")
            self._dark = value == "D"
        elif what == "LM":
            if value not in ("N", "X", "Y", "XY"):
                raise ValueError(f"mirroring {value[:10]!r} is unknown")
            self._mirror = value
        else:
            number = float(value)
            if not np.isfinite(number) or (what == "LS" and number <= 0):
                raise ValueError(f"{what}{value[:20]} is no turn or scale")
            if what == "LR":
                self._turn = number
            else:
                self._size = number

    def _block(self, value: str) -> None:
        if value:
            self._outer.append((self._image, int(value.lstrip("D"))))
            self._image = Image()
            return
        number = self._closed("block")
        assert isinstance(number, int)
        inner, self._image = self._image, self._outer.pop()[0]
        self._keep(number, Pen(shapely.Polygon(), pieces=inner.pieces or ((True, shapely.Polygon()),)))

    def _repeat(self, command: str) -> None:
        match = _REPEAT.match(command)
        if not match:
            raise ValueError(f"{command[:30]!r} is no step and repeat")
        if self._outer and isinstance(self._outer[-1][1], list):
            spots = self._outer[-1][1]
            inner, self._image = self._image.pieces, self._outer.pop()[0]
            for spot in spots:
                self._image.add(inner, spot)
        if match[1]:
            columns, rows = int(match[1]), int(match[2])
            if not 1 <= columns * rows <= REPEATS_MAX:
                raise ValueError(f"{columns} x {rows} repeats are more than any panel has")
            dx, dy = float(match[3]) * self._scale, float(match[4]) * self._scale
            self._outer.append((self._image, [(c * dx, r * dy) for c in range(columns) for r in range(rows)]))
            self._image = Image()

    def _closed(self, what: str) -> object:
        if not self._outer or not isinstance(self._outer[-1][1], int):
            raise ValueError(f"a {what} is closed that was not opened")
        return self._outer[-1][1]

    def _attribute(self, command: str) -> None:
        found = attribute_of(command)
        if found is None:
            return
        kind, name, values = found
        if kind == "F":
            self._files[name] = values
        elif kind == "A":
            self._of_aperture[name] = values
        elif kind == "O":
            self._of_object = {**self._of_object, name: values}  # objects already drawn keep theirs
        elif name:
            self._of_aperture.pop(name, None)
            self._of_object = {key: value for key, value in self._of_object.items() if key != name}
        else:
            self._of_aperture, self._of_object = {}, {}

    def _remark(self, text: str) -> None:
        if len(self._remarks) < 20:
            self._remarks.append(text)
