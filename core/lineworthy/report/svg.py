# SPDX-License-Identifier: MIT
"""A picture of one side as SVG. Colours come from the page's style sheet by the names of the roles."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from lineworthy.finding import Finding
from lineworthy.model import Side
from lineworthy.picture import Bounds, Coat, Picture, Role, Words
from lineworthy.report.pins import ROOM, Pin, place_pins
from lineworthy.safe import markup
from lineworthy.shapes import Coords, Point

UNITS_PER_MM = 100
"""Coordinates are whole numbers of 0.01 mm: short, and finer than a page shows."""

FLAG_SHARE = 0.0185
"""Half the height of a flag, as a share of the map's longer side: readable at 600 pixels."""

WORDS_MAX = 5000
"""More texts than this are not drawn."""


def draw(picture: Picture, findings: Sequence[Finding], ident: str) -> str:
    """One side as an ``svg`` element with a link per pin to ``#f<number>``.

    Args:
        picture: made with the same `findings`, in the same order.
        findings: finding n (from 0) has the number n + 1.
        ident: prefix of the element ids.
    """
    size = picture.bounds.span * FLAG_SHARE
    frame = Frame(picture.bounds.padded((ROOM + 0.5) * size))
    pins = place_pins(picture.spots, [f.consequence.rank for f in findings], picture.bounds, size)
    width, height = frame.lengths(frame.bounds.right - frame.bounds.left, frame.bounds.top - frame.bounds.bottom)
    marked = len({pin.finding for pin in pins})
    seen = "seen from above" if picture.side is Side.TOP else "seen from below"
    return "\n".join(
        [
            f'<svg class="map" id="{ident}" viewBox="0 0 {width} {height}" role="group" '
            f'aria-labelledby="{ident}-title" aria-describedby="{ident}-desc">',
            f'<title id="{ident}-title">{picture.side.value.capitalize()} side, {seen}</title>',
            f'<desc id="{ident}-desc">Drawing of the board with {marked} '
            f"{'finding' if marked == 1 else 'findings'} marked by numbered pins.</desc>",
            '<g aria-hidden="true">',
            *(painted(coat, frame) for coat in picture.coats),
            '<g class="words">',
            *(_words(words, frame) for words in picture.words[:WORDS_MAX]),
            "</g>",
            "</g>",
            '<g class="pins">',
            *(_pin(pin, findings[pin.finding - 1], frame, size, ident) for pin in pins),
            "</g>",
            "</svg>",
        ]
    )


def swatch(role: Role) -> str:
    """A small sample of a role for the map's key."""
    return (
        '<svg class="swatch" viewBox="0 0 24 14" aria-hidden="true"><rect class="r-board" width="24" height="14"/>'
        f'<g class="r-{role.value}"><path class="fill" d="M4 3h16v8h-16z"/></g></svg>'
    )


@dataclass(frozen=True)
class Frame:
    """From the picture's millimetres, y up, to whole drawing units, y down."""

    bounds: Bounds

    def units(self, points: Coords) -> list[list[int]]:
        """Points, (n, 2), in drawing units."""
        moved = (points - (self.bounds.left, self.bounds.top)) * (UNITS_PER_MM, -UNITS_PER_MM)
        whole: list[list[int]] = np.rint(moved).astype(int).tolist()
        return whole

    def point(self, at: Point) -> tuple[int, int]:
        """One point in drawing units."""
        ((x, y),) = self.units(np.array([at]))
        return x, y

    def lengths(self, *lengths: float) -> tuple[int, ...]:
        """Lengths in drawing units, at least one."""
        return tuple(max(1, round(length * UNITS_PER_MM)) for length in lengths)


def painted(coat: Coat, frame: Frame) -> str:
    """One coat as a group of the class ``r-<role>``."""
    lines = [f'<g class="r-{coat.role.value}">']
    if coat.rings:
        lines.append(f'<path class="fill" d="{_path(coat.rings, frame, closed=True)}"/>')
    for stroke in coat.strokes:
        (width,) = frame.lengths(stroke.width)
        lines.append(f'<path class="line" stroke-width="{width}" d="{_path(stroke.paths, frame, closed=False)}"/>')
    return "\n".join([*lines, "</g>"])


def _path(loops: Iterable[Coords], frame: Frame, *, closed: bool) -> str:
    loops = list(loops)
    points = frame.units(np.vstack(loops))
    pieces: list[str] = []
    start = 0
    for length in map(len, loops):
        pieces.append(_loop(points[start : start + length], closed))
        start += length
    return "".join(pieces).replace(" -", "-")


def _loop(points: list[list[int]], closed: bool) -> str:
    """An absolute start and relative steps; steps of nothing are left out."""
    steps = [f"{b[0] - a[0]} {b[1] - a[1]}" for a, b in zip(points, points[1:]) if a != b]
    end = "z" if closed else ""
    return f"M{points[0][0]} {points[0][1]}" + (f"l{' '.join(steps)}{end}" if steps else "h0")


def _words(words: Words, frame: Frame) -> str:
    x, y = frame.point(words.at)
    width, height = frame.lengths(*words.size)
    turn = f' transform="rotate({-words.rotation:.4g} {x} {y})"' if words.rotation else ""
    kind = ' class="label"' if words.is_label else ""
    fit = f' textLength="{width}" lengthAdjust="spacingAndGlyphs"'
    return f'<text{kind} x="{x}" y="{y}" font-size="{height}"{fit}{turn}>{markup(words.text)}</text>'


def _pin(pin: Pin, finding: Finding, frame: Frame, size: float, ident: str) -> str:
    consequence = finding.consequence.value
    labels = [finding.places[spot.place].label for spot in pin.spots]
    named = ", ".join(dict.fromkeys(label for label in labels if label)) or finding.message
    return "".join(
        [
            f'<a class="pin {consequence}" href="#f{pin.finding}" data-finding="{pin.finding}" '
            f'aria-label="{pin.finding}, {consequence}: {markup(named)}"><title>{markup(finding.message)}</title>',
            *_stems(pin, frame, size, ident),
            _flag(pin, frame, size),
            "</a>",
        ]
    )


def _stems(pin: Pin, frame: Frame, size: float, ident: str) -> Iterator[str]:
    (radius,) = frame.lengths(size * 0.28)
    for spot in pin.spots:
        x, y = frame.point(spot.at)
        if pin.flag is not None:
            to_x, to_y = frame.point(pin.flag)
            yield f'<path class="stem" d="M{x} {y}L{to_x} {to_y}"/>'
        place = f"{ident}-{pin.finding}-{spot.place}"
        yield f'<circle class="dot" id="{place}" cx="{x}" cy="{y}" r="{radius}"/>'


def _flag(pin: Pin, frame: Frame, size: float) -> str:
    if pin.flag is None:
        return ""
    x, y = frame.point(pin.flag)
    half, tall, font = frame.lengths(pin.half_width, size, size * 1.35)
    box = f'x="{x - half}" y="{y - tall}" width="{2 * half}" height="{2 * tall}"'
    return f'<g class="flag"><rect {box} rx="{tall}"/><text x="{x}" y="{y}" font-size="{font}">{pin.finding}</text></g>'
