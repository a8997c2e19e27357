# SPDX-License-Identifier: MIT
"""Whether the texts of a release are the board's, character by character.

No font is known here. A text is drawn as strokes with a pen; strokes that stand apart along the line are its
characters. How each character looks is learnt from the release itself, which draws hundreds of references: a text is
other than the board's where a character does not look as it does elsewhere, or looks as another one does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats
from lineworthy.intake.gerber import Drawn
from lineworthy.knowledge.made import Made, MadeLayer
from lineworthy.model import LayerKind, Marking
from lineworthy.plans.plot_match import PlotMatch
from lineworthy.shapes import Point

ALIKE = 0.12
"""Two drawings of a character, each stretched to a height and width of 1, are nowhere farther apart."""

APART = 0.02
"""Strokes of one character leave no gap along the line wider than this share of the text height."""

LINES_APART = 0.25
"""Lines of text leave at least this much between them, in text heights, and a dot is nearer to its letter."""

THIN = 0.12
"""What is lower or narrower than this share of the text height is not stretched: bars and dots."""

WITNESSES = 2
"""So many texts have to draw a character alike before it is known."""

SAMPLES = 9
"""Drawings of one character that are compared with each other, at most."""

AGREED = 2 / 3
"""Share of the samples that have to be alike."""

TWINS = ("0OoQ", "1lI|!i", "-_~", ".,'`", "5S", "2Z", "8B", "uU", "6b", "9gq")
"""Characters that fonts draw alike, or nearly; so do many capital and small letters."""

PEN_MM = 0.005
"""A text's pen may be rounded by so much in a plot."""


@dataclass(frozen=True, eq=False)
class Glyph:
    """One character as drawn: its centre lines, stretched to a height and width of 1; `full` when neither is thin."""

    shape: BaseGeometry
    full: bool


@dataclass(frozen=True, eq=False)
class Lettering:
    """A text with its characters as a plot draws them; `glyphs` may be more or fewer than the text has."""

    match: PlotMatch
    marking: Marking
    glyphs: tuple[Glyph, ...]

    @property
    def characters(self) -> str:
        """What should be drawn, blanks left out."""
        return "".join(self.marking.text.split())


@dataclass(frozen=True)
class Misprint:
    """A text that a plot draws otherwise, and how in words."""

    match: PlotMatch
    marking: Marking
    how: str


class Letterings:
    """The texts on the plots that show a board's layers."""

    def __init__(self, made: Made, matches: Sequence[PlotMatch], origin: Point) -> None:
        self._made, self._matches, self._origin = made, matches, origin

    @cached_property
    def misprints(self) -> tuple[Misprint, ...]:
        """Texts that are drawn with other characters than the board has, in the order of plots and texts."""
        found = ((lettering, self._judged(lettering)) for lettering in self._drawn)
        return tuple(Misprint(lettering.match, lettering.marking, how) for lettering, how in found if how)

    def _judged(self, lettering: Lettering) -> str:
        wanted = lettering.characters
        if len(lettering.glyphs) != len(wanted):
            is_read = all(any(_alike(glyph, look) for look in self._looks.values()) for glyph in lettering.glyphs)
            if not is_read or not set(wanted) <= set(self._looks):
                return ""  # characters may touch, or fall into pieces
            return f"{len(lettering.glyphs)} characters instead of {len(wanted)}"
        for n, (character, glyph) in enumerate(zip(wanted, lettering.glyphs), 1):
            known = self._looks.get(character)
            if known is not None and _alike(glyph, known):
                continue
            others = [other for other, look in self._looks.items() if look.full and glyph.full and _alike(glyph, look)]
            if known is not None or (others and not any(_are_twins(character, other) for other in others)):
                drawn = f" ({others[0]!r})" if len(others) == 1 else ""
                return f"character {n}, {character!r}, is another one{drawn}"
        return ""

    @cached_property
    def _looks(self) -> Mapping[str, Glyph]:
        """How each character looks that enough texts draw alike."""
        samples: dict[str, list[Glyph]] = defaultdict(list)
        for lettering in self._drawn:
            if len(lettering.glyphs) == len(lettering.characters):
                for character, glyph in dict(zip(lettering.characters, lettering.glyphs)).items():
                    samples[character].append(glyph)
        looks = {}
        for character, drawn in sorted(samples.items()):
            some = drawn[:: max(1, len(drawn) // SAMPLES)][:SAMPLES]
            votes = [sum(_alike(one, other) for other in some) for one in some]
            if max(votes) >= max(WITNESSES, AGREED * len(some) - 1e-9):
                looks[character] = some[int(np.argmax(votes))]
        return looks

    @cached_property
    def _drawn(self) -> tuple[Lettering, ...]:
        return tuple(lettering for match in self._matches for lettering in self._of(match))

    def _of(self, match: PlotMatch) -> Iterator[Lettering]:
        """The texts of one plot that are drawn with a pen, and nothing else where they are."""
        texts = [text for text in self._made.texts(match.layer) if _can_be_read(text)]
        strokes = [one for one in match.plot.gerber.drawn if len(one.points) > 1 and one.diameter > 0.0]
        if not texts or not strokes:
            return
        lines = [np.asarray(one.points) - self._origin for one in strokes]
        tree = shapely.STRtree([shapely.LineString(line) for line in lines])
        zones = np.array([text.extents for text in texts], dtype=object)
        crowded = set(_overlapping(self._made, match.layer, texts, zones))
        found: dict[int, list[int]] = defaultdict(list)
        for n, k in zip(*tree.query(zones, predicate="contains")):
            found[int(n)].append(int(k))
        for n, text in enumerate(texts):
            own = [k for k in sorted(found.get(n, ())) if _is_pen(strokes[k], text)]
            if own and n not in crowded:
                yield Lettering(match, text, tuple(_glyphs(text, [lines[k] for k in own])))


def _can_be_read(text: Marking) -> bool:
    """Plain characters that do not change with the day, not knocked out of a box."""
    plain = text.text.replace("\n", "").isprintable() and not text.knockout
    return plain and not any(mark in text.text for mark in ("${", "~{", "^{", "_{")) and "${" not in text.source


def _overlapping(
    made: Made, layer: MadeLayer, texts: Sequence[Marking], zones: npt.NDArray[np.object_]
) -> Iterator[int]:
    """Texts that share their place with another text or a drawing, or that a plot may cut off where the mask is open.

    Whose strokes are whose, and how many there should be, cannot be told of them.
    """
    all_texts = np.array([text.extents for text in made.texts(layer)], dtype=object)
    n, _k = shapely.STRtree(all_texts).query(zones, predicate="intersects")
    counts = np.bincount(n, minlength=len(texts))
    yield from (int(index) for index in np.flatnonzero(counts > 1))
    if layer.kind is LayerKind.LEGEND:
        mask = MadeLayer(LayerKind.MASK, layer.side)
        for area in (made.area(layer), made.area(mask), made.blurred(mask)):
            shapely.prepare(area)
            yield from (int(index) for index in np.flatnonzero(shapely.intersects(area, zones)))


def _is_pen(stroke: Drawn, text: Marking) -> bool:
    return abs(stroke.diameter - text.stroke) <= PEN_MM


def _glyphs(text: Marking, lines: Sequence[Floats]) -> Iterator[Glyph]:
    """The characters along each line of text, first to last."""
    turn = np.radians(text.rotation)
    axes = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    along = [(line - text.at) @ axes * ((-1.0, 1.0) if text.mirrored else (1.0, 1.0)) for line in lines]
    rows = list(_groups(along, 1, LINES_APART * text.height))[::-1] if "\n" in text.text else [along]
    for row in rows:
        for group in _groups(row, 0, APART * text.height):
            yield _glyph(group, text.height)


def _groups(lines: Sequence[Floats], axis: int, gap: float) -> Iterator[list[Floats]]:
    """Lines that leave no more than a gap between them along an axis belong together."""
    group: list[Floats] = []
    reached = 0.0
    for line in sorted(lines, key=lambda line: float(line[:, axis].min())):
        if group and line[:, axis].min() > reached + gap:
            yield group
            group = []
        reached = max(reached, float(line[:, axis].max())) if group else float(line[:, axis].max())
        group.append(line)
    if group:
        yield group


def _glyph(lines: Sequence[Floats], height: float) -> Glyph:
    points = np.vstack(lines)
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    scale = np.where(size > THIN * height, size, height)
    shape = shapely.MultiLineString([(line - low) / scale for line in lines])
    return Glyph(shape, bool((size > THIN * height).all()))


def _are_twins(one: str, other: str) -> bool:
    return one.lower() == other.lower() or any(one in twins and other in twins for twins in TWINS)


def _alike(one: Glyph, other: Glyph) -> bool:
    return bool(shapely.hausdorff_distance(one.shape, other.shape, densify=0.25) <= ALIKE + TOL_MM)
