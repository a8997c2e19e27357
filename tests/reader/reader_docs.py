# SPDX-License-Identifier: MIT
"""Small documents for the reader's tests, in each generation of the format."""

from __future__ import annotations

from lineworthy import Board
from lineworthy.model import Pad, Part
from lineworthy_kicad.reader import parse_board

VERSIONS = {6: 20211014, 7: 20221018, 8: 20240108, 9: 20241229, 10: 20260206}

TWO_LAYERS = '(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (5 "F.SilkS" user "F.Silkscreen"))'
FOUR_LAYERS = '(layers (0 "F.Cu" signal) (4 "In1.Cu" signal "Ground") (6 "In2.Cu" signal) (2 "B.Cu" signal))'
SMD = '(layers "F.Cu" "F.Mask" "F.Paste")'
ALL = '(layers "*.Cu" "*.Mask")'


def document(*items: str, version: int = VERSIONS[9], layers: str = TWO_LAYERS) -> str:
    """A board document with these top-level items."""
    head = f'(kicad_pcb (version {version}) (generator "test") (general (thickness 1.6)) (paper "A4") {layers}'
    return "\n\t".join([head, *items]) + "\n)\n"


def board(*items: str, version: int = VERSIONS[9], layers: str = TWO_LAYERS, project: str | None = None) -> Board:
    """The board read from such a document."""
    return parse_board(document(*items, version=version, layers=layers), "test.kicad_pcb", project=project)


def footprint(*items: str, at: str = "0 0", side: str = "F", name: str = "Lib:Package", uid: str = "part-1") -> str:
    """A footprint node of format 9."""
    return f'(footprint "{name}" (layer "{side}.Cu") (uuid "{uid}") (at {at}) {" ".join(items)})'


def part(*items: str, at: str = "0 0", side: str = "F", version: int = VERSIONS[9], layers: str = FOUR_LAYERS) -> Part:
    """The only part of a board."""
    (only,) = board(footprint(*items, at=at, side=side), version=version, layers=layers).parts
    return only


def pad(text: str, *items: str, at: str = "0 0", version: int = VERSIONS[9]) -> Pad:
    """The only pad of the only part; `items` are further items of the footprint."""
    (only,) = part(f"(pad {text})", *items, at=at, version=version).pads
    return only


def line(x0: float, y0: float, x1: float, y1: float, layer: str = "Edge.Cuts") -> str:
    """A drawn line."""
    return (
        f"(gr_line (start {x0:g} {y0:g}) (end {x1:g} {y1:g}) (stroke (width 0.1) (type default))"
        f' (layer "{layer}") (uuid "l-{x0:g}-{y0:g}-{x1:g}-{y1:g}"))'
    )


def loop(*corners: tuple[float, float], layer: str = "Edge.Cuts") -> list[str]:
    """Drawn lines round a polygon."""
    return [line(*a, *b, layer=layer) for a, b in zip(corners, corners[1:] + corners[:1])]


def box(x0: float, y0: float, x1: float, y1: float, layer: str = "Edge.Cuts") -> list[str]:
    """Four drawn lines round a rectangle."""
    return loop((x0, y0), (x1, y0), (x1, y1), (x0, y1), layer=layer)
