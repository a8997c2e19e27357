# SPDX-License-Identifier: MIT
"""The bare board's netlist as IPC-D-356A: every land and hole with its net, for electrical test and fixtures.

Fixed columns, at most 80 characters a line, ASCII, millimetres to 0.001 (``P  UNITS CUST 1``). Places count from the
origin of drill and placement files, x right, y up, seen from the top, bottom lands included.

Columns, by a column map in the comments of a public reader and the tests of a public writer of the format::

    1-3 operation, 4-17 net, 21-26 part, 27 "-", 28-31 pin, 32 "M" on a via, 33-37 hole, 38 P(lated) or U(nplated),
    39-41 access, 42-57 place, 58-67 size (no second one: round), 68-71 rotation, 73-74 mask

Not in it: tracks (``378``), the outline (``389``) and the sides of a custom land, of which the size is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple, Optional

import lineworthy
from lineworthy.errors import InputError
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.titleblock import title_block
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, Pad, PadKind, PadShape, Part, Side, Via
from lineworthy.safe import visible
from lineworthy.shapes import Point

NO_NET = "N/C"
NO_PART, NO_PIN = "NOREF", "NPAD"
"""What stands for a part without a reference and a pad without a number, as public writers have it."""

NET_MAX = 14
"""Longer names get an alias, and a line in the header that says whose."""

LINE_MAX = 80
FIELD_MAX = 9999
"""The largest hole or size four columns hold, 9.999 mm; larger ones are written as this."""

PLACE_MAX_MM = 999.999


class Feature(NamedTuple):
    """One land or hole, in the words of the format.

    Attributes:
        through: goes through the board (operation 317), otherwise a surface land (327).
        tooling: an unplated hole (operation 367).
        size: width and height before rotation, mm; height 0 for a round one.
        plated: of the hole; None without one.
        access: 0 reachable from both sides, 1 from the primary side (top), else the number of the copper layer.
        covered: mask: 0 covers nothing, 1 the primary side, 2 the secondary side, 3 both.
    """

    net: str
    part: str
    pin: str
    at: Point
    size: tuple[float, float]
    rotation: float
    access: int
    covered: int
    through: bool = False
    tooling: bool = False
    is_via: bool = False
    hole: Optional[float] = None
    plated: Optional[bool] = None

    @property
    def operation(self) -> str:
        """The three digits a record starts with."""
        return "367" if self.tooling else "317" if self.through else "327"


def render(board: Board) -> str:
    """The netlist of a board.

    Raises:
        InputError: something lies farther from the origin than the format can say.
    """
    found = features(board)
    names = aliases(feature.net for feature in found if feature.net)
    lines = [*_header(board, names), *(record(feature, names) for feature in found), "999"]
    return "\n".join(lines) + "\n"


def features(board: Board) -> list[Feature]:
    """Every land and hole by net, part and pin; lands without outer copper and without a hole are not on the board."""
    made = [feature for part, pad in board.pads for feature in _of_pad(board, part, pad)]
    made += [_of_via(board, via) for via in board.vias]
    x, y = board.origin
    made = [feature._replace(at=(feature.at[0] - x, feature.at[1] - y)) for feature in made]
    made.sort(key=lambda f: (natural(f.net), f.net, f.is_via, natural(f.part), natural(f.pin), f.at, f.operation))
    return made


def aliases(nets: Iterable[str]) -> Mapping[str, str]:
    """What stands in the net's columns, by net.

    A name stays itself when it fits, is plain ASCII, and differs from every other one by more than its capitals.
    """
    names = sorted(set(nets), key=lambda name: (natural(name), name))
    made: dict[str, str] = {}
    taken = {NO_NET.casefold()}
    for name in names:
        if _is_plain(name) and name.casefold() not in taken:
            made[name] = name
            taken.add(name.casefold())
        else:
            made[name] = f"NNAME{1 + sum(alias.startswith('NNAME') for alias in made.values())}"
    return made


def record(feature: Feature, names: Mapping[str, str]) -> str:
    """One line of the file."""
    place = f"X{_place(feature.at[0])}Y{_place(feature.at[1])}"
    width, height = feature.size
    size = f"X{_field(width)}Y{_field(height)}"
    hole = " " * 6
    if feature.hole is not None:
        hole = f"D{_field(feature.hole)}{'P' if feature.plated else 'U'}"
    net = names[feature.net] if feature.net else NO_NET
    part = "VIA" if feature.is_via else _ascii(feature.part) or NO_PART
    pin = "" if feature.is_via else _ascii(feature.pin) or NO_PIN
    middle = "M" if feature.is_via else " "
    return (
        f"{feature.operation}{net:<{NET_MAX}}   {part[:6]:<6}-{pin[:4]:<4}{middle}{hole}"
        f"A{feature.access:02d}{place}{size}R{round(feature.rotation) % 360:03d} S{feature.covered}"
    )


def _header(board: Board, names: Mapping[str, str]) -> Iterator[str]:
    title = title_block(board)
    yield _line("C  ", f"Netlist of {board.name}, written by Lineworthy {lineworthy.__version__}")
    yield _line("C  ", "mm from the origin of drill and placement files; x right, y up, seen from the top")
    yield _line("P  JOB   ", board.name)
    yield "P  CODE  00"
    yield "P  UNITS CUST 1"
    yield _line("P  TITLE ", title.title or board.name)
    yield _line("P  NUM   ", board.name)
    yield _line("P  REV   ", title.revision)
    yield "P  VER   IPC-D-356A"
    yield "P  IMAGE PRIMARY"
    for name, alias in names.items():
        if alias != name:
            yield _line(f"P  {alias}  ", name)


def _line(head: str, words: str) -> str:
    return f"{head}{_ascii(words)}"[:LINE_MAX].rstrip()


def _ascii(words: str) -> str:
    """Plain ASCII: what is not is written as its code, so that two names stay two."""
    return "".join(c if c.isascii() else f"<{ord(c):X}>" for c in visible(words))


def _is_plain(name: str) -> bool:
    return (
        0 < len(name) <= NET_MAX
        and name.isascii()
        and name.isprintable()
        and " " not in name
        and not name.upper().startswith("NNAME")
    )


def _of_pad(board: Board, part: Part, pad: Pad) -> Iterator[Feature]:
    sides = [side for side in Side if board.copper_on(side) in pad.copper]
    if not sides and pad.hole is None:
        return
    through = pad.hole is not None
    width, height = pad.size if min(pad.size) > 0 else _extent(pad)
    is_round = pad.shape is PadShape.CIRCLE
    yield Feature(
        net=pad.net,
        part=part.reference,
        pin=pad.number,
        at=pad.at,
        size=(width, 0.0 if is_round else height),
        rotation=pad.rotation,
        access=0 if through or len(sides) == 2 else _access(board, sides[0]),
        covered=_covered(side in pad.mask for side in Side),
        through=through,
        tooling=pad.kind is PadKind.UNPLATED,
        hole=pad.hole.diameter if pad.hole is not None else None,
        plated=pad.hole.plated if pad.hole is not None else None,
    )


def _of_via(board: Board, via: Via) -> Feature:
    layers = spanned(board, via)
    sides = [side for side in Side if board.copper_on(side) in layers]
    if len(sides) == 2:
        access = 0
    elif sides:
        access = _access(board, sides[0])
    else:
        access = board.copper_layers.index(layers[0]) + 1 if layers[0] in board.copper_layers else 0
    return Feature(
        net=via.net,
        part="",
        pin="",
        at=via.at,
        size=(via.diameter, 0.0),
        rotation=0.0,
        access=access,
        covered=_covered(side in sides and side not in via.tented for side in Side),
        through=True,
        is_via=True,
        hole=via.drill,
        plated=True,
    )


def _access(board: Board, side: Side) -> int:
    return 1 if side is Side.TOP else len(board.copper_layers)


def _covered(opened: Iterable[bool]) -> int:
    top, bottom = opened
    return (0 if top else 1) + (0 if bottom else 2)


def _extent(pad: Pad) -> tuple[float, float]:
    if pad.extent.is_empty:
        return 0.0, 0.0
    left, bottom, right, top = pad.extent.bounds
    return right - left, top - bottom


def _place(value: float) -> str:
    if not abs(value) <= PLACE_MAX_MM:
        raise InputError(
            "netlist", f"IPC-D-356A holds places up to {PLACE_MAX_MM} mm from the origin, not {value:g} mm"
        )
    units = round(value * 1000)
    return f"{'-' if units < 0 else '+'}{abs(units):06d}"


def _field(value: float) -> str:
    return f"{min(round(value * 1000), FIELD_MAX):04d}"
