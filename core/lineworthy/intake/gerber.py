# SPDX-License-Identifier: MIT
"""Reading Gerber layer files: attributes, apertures and geometry, as the format's specification has them.

The interpreter is ours: `DEVELOPERS.md` says why no library is it, and tests hold it against one.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple, Optional

import numpy as np
import shapely

from lineworthy.errors import InputError
from lineworthy.intake.gerber_attributes import AttributeDictionary, Attributes
from lineworthy.intake.gerber_image import Image, Pen
from lineworthy.intake.gerber_numbers import Coordinates
from lineworthy.intake.gerber_pens import Pens
from lineworthy.intake.paths import arc, enclosed, quadrant_centre
from lineworthy.shapes import Area, Coords, Point

REPEATS_MAX = 10_000
_COMMAND = re.compile(r"G0?4[^*]*\*|%[^%]*%|[^*%]+\*")
_MODE = re.compile(r"G0*([123]|7[45]|36|37|54|55|70|71|90|91)(?![0-9])")
_MOVE = re.compile(r"(?:X([-+]?\d+))?(?:Y([-+]?\d+))?(?:I([-+]?\d+))?(?:J([-+]?\d+))?(?:D0*(\d+))?\Z")
_CHECKSUM = re.compile(rb"(?:%|G0?4\s*#@!\s*)TF\.MD5,([0-9A-Fa-f]{32})\*")
_REPEAT = re.compile(r"SR(?:X(\d+)Y(\d+)I([-+.\d]+)J([-+.\d]+))?\Z")
_COMMENT_ATTRIBUTE = re.compile(r"G0?4\s*#@!\s*(T[FAOD].*)\Z", re.DOTALL)
_NEUTRAL = re.compile(
    r"IPPOS|ASAXBY|IR0*|(?:OF|MI)(?:A[-+0.]+)?(?:B[-+0.]+)?|SF(?:A\+?0*1(?:\.0*)?)?(?:B\+?0*1(?:\.0*)?)?"
)
"""Withdrawn commands as they were nearly always written: positive, not moved, turned, mirrored or scaled."""


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
        is_unaltered: the checksum in the file is that of what is before it; None when it has none.
        remarks: what in the file is not as the specification has it, in words.
        drawn: every flash and stroke with its attributes, in order (of blocks and repeats, what they are made of).
        paths: the centre lines of all strokes and the contours of regions, (n, 2) mm.
    """

    name: str
    attributes: Attributes
    unit: str
    is_complete: bool
    is_unaltered: Optional[bool]
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
    return _Reader(name).read(data.decode("utf-8", "replace"), unaltered(data))


def unaltered(data: bytes) -> Optional[bool]:
    """Whether a file still has the checksum it carries (``.MD5``); None where it carries none.

    The sum is over all bytes before that command, line ends left out, so that copying between systems changes nothing.
    """
    match = _CHECKSUM.search(data)
    if not match:
        return None
    before = re.sub(rb"[\r\n]", b"", data[: match.start()])
    return hashlib.md5(before, usedforsecurity=False).hexdigest() == match[1].decode().lower()


def looks_like_gerber(head: str) -> bool:
    """Whether the first part of a text is a Gerber file's."""
    return bool(re.search(r"%(FS[LTD]?[AI]|MO(MM|IN)|TF\.)|G04[^*]*\*", head[:4096])) and "M48" not in head[:512]


class _Outer(NamedTuple):
    """An image that waits while a block or what is to be repeated is drawn: the block's number, or the places."""

    image: Image
    block: int = 0
    spots: tuple[Point, ...] = ()


class _Reader:
    """The state of the format's graphics machine."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._line = 1
        self._image = Image()
        self._attributes = AttributeDictionary()
        self._pens = Pens()
        self._coordinates = Coordinates()
        self._curve, self._single_quadrant = 1, False
        self._dark = True
        self._contour: Optional[list[Point]] = None
        self._drawn: list[Drawn] = []
        self._paths: list[list[Point]] = []
        self._outer: list[_Outer] = []
        self._remarks: list[str] = []
        self._operation = 0
        self._complete = False

    def read(self, text: str, is_unaltered: Optional[bool]) -> GerberFile:
        end = 0
        for match in _COMMAND.finditer(text):
            raw = match[0].lstrip()
            begin = match.end() - len(raw)
            self._line += text.count("\n", end, begin)
            end = begin
            if self._command(raw):
                self._complete = True
                break
        if not (self._coordinates.is_known or self._paths or self._drawn or self._attributes.of_file):
            raise InputError(self._name, "is no Gerber file: it says no coordinate format")
        while self._outer:
            self._remark("a block or a repeat is not closed")
            if self._outer[-1].spots:  # old files let the end of the file close it
                self._close_repeat()
            else:
                self._image = self._outer.pop().image
        return GerberFile(
            name=self._name,
            attributes=dict(self._attributes.of_file),
            unit=self._coordinates.unit,
            is_complete=self._complete,
            is_unaltered=is_unaltered,
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
            if word.startswith(("G04", "G4")):
                if comment := _COMMENT_ATTRIBUTE.match(raw.rstrip("*")):
                    self._attributes.take(comment[1])
                return False
            return self._word(word)
        except (ValueError, OverflowError, RecursionError, shapely.errors.ShapelyError) as error:
            raise InputError(self._name, str(error) or type(error).__name__, f"line {self._line}") from None

    def _word(self, word: str) -> bool:
        if word in ("M02", "M2", "M00", "M0", "M30"):
            return True
        at = 0
        while mode := _MODE.match(word, at):  # old programs put several into one word
            self._mode(int(mode[1]))
            at = mode.end()
        move = _MOVE.match(word, at)
        if not move:
            if word != "M01":
                self._remark(f"{word[:20]!r} is no command of the format")
            return False
        x, y, i, j, operation = move.groups()
        if operation and int(operation) >= 10:
            self._pens.choose(int(operation))
        elif operation or x or y or i or j:
            self._operation = int(operation) if operation else self._operation
            self._move(x, y, (i, j))
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
            self._coordinates.incremental = code == 91

    def _move(self, x: Optional[str], y: Optional[str], offset: tuple[Optional[str], Optional[str]]) -> None:
        start, end = self._coordinates.go(x, y)
        if self._operation == 1:
            self._draw(start, end, (self._coordinates.length(offset[0]), self._coordinates.length(offset[1])))
        elif self._operation == 2:
            self._close_contour()
        elif self._operation == 3:
            if self._contour is not None:
                raise ValueError("a flash inside a region")
            self._flash(end)
        else:
            raise ValueError("a coordinate without an operation")

    def _draw(self, start: Point, end: Point, offset: Point) -> None:
        points = [end] if self._curve == 1 else self._arc(start, end, offset)
        if self._contour is not None:
            self._contour += [start, *points] if not self._contour else points
            return
        if self._curve == 1 and self._paths and self._paths[-1][-1] == start:
            self._paths[-1] += points
        else:
            self._paths.append([start, *points])
        pen = self._pens.current
        self._image.stroke(self._dark, pen, np.array([start, *points]))
        self._drawn.append(Drawn((start, *points), pen.diameter, pen.function, self._attributes.of_object))

    def _flash(self, at: Point) -> None:
        pen = self._pens.current
        self._image.flash(self._dark, pen, at)
        self._drawn.append(Drawn((at,), pen.diameter, pen.function, self._attributes.of_object))

    def _close_contour(self) -> None:
        if self._contour:
            self._image.region(self._dark, np.array(self._contour))
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
            self._pens.macro(commands[0][2:], commands[1:])
            return
        for command in commands:
            if command:
                self._one(command)

    def _one(self, command: str) -> None:
        head, value = command[:2], command[2:]
        if head[0] == "T":
            self._attributes.take(command)
        elif head == "FS":
            self._coordinates.declare(command)
        elif head == "MO":
            self._units({"MM": "mm", "IN": "inch"}.get(value[:2], ""))
        elif head == "AD":
            function = self._attributes.of_aperture.get(".AperFunction", ())
            self._pens.define(command, self._coordinates.scale, function)
        elif head == "LP":
            if value not in ("D", "C"):
                raise ValueError(f"polarity {value[:10]!r} is neither dark nor clear")
            self._dark = value == "D"
        elif head in ("LM", "LR", "LS"):
            self._pens.treat(head, value)
        elif head == "AB":
            self._block(value)
        elif head == "SR":
            self._repeat(command)
        elif head in ("IP", "OF", "MI", "SF", "IR", "AS"):
            if not _NEUTRAL.fullmatch(command):
                raise ValueError(f"the withdrawn command {command[:20]!r} is not read")
        elif head not in ("IN", "LN"):
            self._remark(f"{command[:20]!r} is no command of the format")

    def _units(self, unit: str) -> None:
        if not self._coordinates.use(unit):
            self._remark("the unit changes within the file")

    def _block(self, value: str) -> None:
        if value:
            self._outer.append(_Outer(self._image, block=int(value.lstrip("D"))))
            self._image = Image()
            return
        if not self._outer or not self._outer[-1].block:
            raise ValueError("a block is closed that was not opened")
        pieces = self._image.pieces or ((True, shapely.Polygon()),)
        self._image, number, _ = self._outer.pop()
        self._pens.keep(number, Pen(shapely.Polygon(), pieces=pieces))

    def _repeat(self, command: str) -> None:
        match = _REPEAT.match(command)
        if not match:
            raise ValueError(f"{command[:30]!r} is no step and repeat")
        if self._outer and self._outer[-1].spots:
            self._close_repeat()
        if match[1]:
            columns, rows = int(match[1]), int(match[2])
            if not 1 <= columns * rows <= REPEATS_MAX:
                raise ValueError(f"{columns} x {rows} repeats are more than any panel has")
            dx, dy = (float(text) * self._coordinates.scale for text in (match[3], match[4]))
            spots = tuple((c * dx, r * dy) for c in range(columns) for r in range(rows))
            self._outer.append(_Outer(self._image, spots=spots))
            self._image = Image()

    def _close_repeat(self) -> None:
        inner = self._image.pieces
        self._image, _, spots = self._outer.pop()
        self._image.add(inner, spots)

    def _remark(self, text: str) -> None:
        if len(self._remarks) < 20:
            self._remarks.append(text)
