# SPDX-License-Identifier: MIT
"""Whether the plots of a release are the board's layers, and if not, what happened to them.

A plot that is not its layer is first asked whether it is that layer mirrored, turned, moved or in another unit, or
another layer of the board: one mistake then has one name instead of thousands of differences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Optional

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from lineworthy.intake.folder import Plot
from lineworthy.intake.plotnames import LAST
from lineworthy.knowledge.made import Made, MadeLayer
from lineworthy.model import LayerKind, Marking
from lineworthy.shapes import Area, Point, polygonal

EDGE_MM = 0.02
"""An edge may lie this far from where the board has it: chords of arcs (5 um on either side) and rounded coordinates
stay below (measured: the editor's demo boards agree within 10 um); no layout rule comes near it."""

WORST = 12
"""Places of a difference that are shown."""

TELLING_MM2 = 1.0
"""A layer with less than this besides lettering cannot be told by its shapes."""

ALIKE_MAX = 30
"""Pieces of one size that are tried against each other; rows of more than these tell no place."""

_ALIKE = 0.02
"""Share of a plot's area that may differ for it to count as some layer, before edges are looked at."""


@dataclass(frozen=True)
class Move:
    """What was done to a layer: ``a,b,c,d`` of the matrix, the offset, and its name in words."""

    name: str
    matrix: tuple[float, float, float, float]
    offset: Point = (0.0, 0.0)

    def undone(self, shape: BaseGeometry) -> BaseGeometry:
        """The shape as it was before."""
        return affinity.affine_transform(shape, [*self.matrix, *self.offset])


_MOVES = (
    Move("moved", (1, 0, 0, 1)),
    Move("mirrored left to right", (-1, 0, 0, 1)),
    Move("mirrored top to bottom", (1, 0, 0, -1)),
    Move("turned by 180 degrees", (-1, 0, 0, -1)),
    Move("turned by 90 degrees", (0, 1, -1, 0)),
    Move("turned by 270 degrees", (0, -1, 1, 0)),
    Move("too small by 25.4", (25.4, 0, 0, 25.4)),
    Move("too large by 25.4", (1 / 25.4, 0, 0, 1 / 25.4)),
)


@dataclass(frozen=True)
class Difference:
    """What a plot lacks and has too much, as areas; both empty when it is the layer."""

    missing: tuple[BaseGeometry, ...]
    extra: tuple[BaseGeometry, ...]

    def __bool__(self) -> bool:
        return bool(self.missing or self.extra)

    @property
    def missing_area(self) -> float:
        """mm2."""
        return float(sum(shape.area for shape in self.missing))

    @property
    def extra_area(self) -> float:
        """mm2."""
        return float(sum(shape.area for shape in self.extra))

    @property
    def spots(self) -> list[tuple[BaseGeometry, bool]]:
        """The largest pieces with whether they are missing, largest first."""
        both = [(shape, True) for shape in self.missing] + [(shape, False) for shape in self.extra]
        return sorted(both, key=lambda item: (-item[0].area, item[0].bounds))[:WORST]


@dataclass(frozen=True)
class PlotMatch:
    """A plot against the layer it says it is; at most one of `move` and `shows` explains a difference.

    Attributes:
        move: what undoes what happened to it.
        shows: the layer of the board that it really shows.
    """

    plot: Plot
    layer: MadeLayer
    difference: Difference
    move: Optional[Move] = None
    shows: Optional[MadeLayer] = None

    @property
    def is_same(self) -> bool:
        """Whether the plot is the layer."""
        return not self.difference


class PlotMatches:
    """The plots of the release against the board."""

    def __init__(self, made: Made, plots: Sequence[Plot]) -> None:
        self._made = made
        self._plots = [(plot, layer) for plot in plots if (layer := self.layer_of(plot)) is not None]

    @property
    def layers(self) -> Mapping[MadeLayer, list[Plot]]:
        """The plots of each layer."""
        found: dict[MadeLayer, list[Plot]] = {}
        for plot, layer in self._plots:
            found.setdefault(layer, []).append(plot)
        return found

    @cached_property
    def origin(self) -> Point:
        """Where the board's own origin lies in the plots: what most layers' extents say."""
        votes: Counter[Point] = Counter()
        for plot, layer in self._plots:
            wanted, got = self._made.area(layer), drawn(plot)
            if wanted.is_empty or got.is_empty:
                continue
            a, b = wanted.bounds, got.bounds
            if max(abs((b[2] - b[0]) - (a[2] - a[0])), abs((b[3] - b[1]) - (a[3] - a[1]))) <= EDGE_MM:
                votes[round(b[0] - a[0], 2) + 0.0, round(b[1] - a[1], 2) + 0.0] += 1
        if not votes:
            return 0.0, 0.0
        return max(votes, key=lambda spot: (votes[spot], -abs(spot[0]) - abs(spot[1])))

    @cached_property
    def matches(self) -> tuple[PlotMatch, ...]:
        """Every plot of a made layer, by file name."""
        return tuple(self._match(plot, layer) for plot, layer in sorted(self._plots, key=lambda item: item[0].name))

    def texts_lost(self, match: PlotMatch) -> tuple[Marking, ...]:
        """Texts of a layer where its plot draws nothing at all; those over openings of the mask are passed over."""
        got = affinity.translate(drawn(match.plot), -self.origin[0], -self.origin[1])
        bare = self._made.area(match.layer)
        texts = [text for text in self._made.texts(match.layer) if not text.knockout and _is_lettering(text.text)]
        if match.layer.kind is LayerKind.LEGEND:
            openings = self._made.area(MadeLayer(LayerKind.MASK, match.layer.side))
            texts = [text for text in texts if not shapely.intersects(openings, text.extents)]
        board = self._made.area(MadeLayer(LayerKind.OUTLINE))
        shapely.prepare(got)
        shapely.prepare(bare)
        return tuple(
            text
            for text in texts
            if not shapely.intersects(got, text.extents)
            and not shapely.intersects(bare, text.extents)
            and (board.is_empty or shapely.intersects(board, text.extents))
        )

    def layer_of(self, plot: Plot) -> Optional[MadeLayer]:
        """The board's own name of the layer; None when the board has no such layer."""
        layer = plot.layer
        if layer is None:
            return None
        if layer.kind is LayerKind.COPPER:
            copper = [known for known in self._made.layers if known.kind is LayerKind.COPPER]
            number = len(copper) if layer.number == LAST else layer.number
            return copper[number - 1] if 1 <= number <= len(copper) else None
        return MadeLayer(layer.kind, layer.side)

    def _match(self, plot: Plot, layer: MadeLayer) -> PlotMatch:
        got = affinity.translate(drawn(plot), -self.origin[0], -self.origin[1])
        found = self._compared(layer, got)
        if not found:
            return PlotMatch(plot, layer, found)
        if (shows := self._other_layer(layer, got)) is not None:
            return PlotMatch(plot, layer, found, shows=shows)
        return PlotMatch(plot, layer, found, move=self._move(layer, got))

    def _compared(self, layer: MadeLayer, got: Area) -> Difference:
        return difference(self._made.area(layer), got, self._made.blurred(layer))

    def _other_layer(self, own: MadeLayer, got: Area) -> Optional[MadeLayer]:
        if own.kind is LayerKind.OUTLINE or got.is_empty:
            return None
        for layer in self._made.layers:
            if layer == own or layer.kind is LayerKind.OUTLINE or not self._says_something(layer):
                continue
            if self._badness(layer, got) <= _ALIKE and not self._compared(layer, got):
                return layer
        return None

    def _says_something(self, layer: MadeLayer) -> bool:
        """Whether a layer has more than lettering, which is not compared and would fit anything."""
        return shapely.difference(self._made.area(layer), self._made.blurred(layer)).area > TELLING_MM2

    def _move(self, layer: MadeLayer, got: Area) -> Optional[Move]:
        """What turns the plot back into its layer, if it is no more than a move, turn, mirroring or scaling."""
        if got.is_empty:
            return None
        for move in self._candidates(layer, got):
            moved = polygonal(move.undone(got))
            if self._badness(layer, moved) <= _ALIKE and not self._compared(layer, moved):
                return move
        return None

    def _candidates(self, layer: MadeLayer, got: Area) -> Iterator[Move]:
        """Each kind of move with the places it can have happened about: extents, board, origin, single pieces."""
        wanted = self._made.area(layer)
        board = self._made.area(MadeLayer(LayerKind.OUTLINE))
        for move in _MOVES:
            turned = move.undone(got)
            middle = _middle(turned)
            about = [] if wanted.is_empty else [_between(middle, _middle(wanted))]
            if move.name != "moved" and not board.is_empty:
                about.append(_between(_middle(move.undone(shapely.Point(_middle(board)))), _middle(board)))
            if move.name != "moved":
                about.append(_between(self.origin, _middle(move.undone(shapely.Point(self.origin)))))
            if not wanted.is_empty:
                about.append(_between(_centroid(turned), _centroid(wanted)))
                about += _by_pieces(turned, wanted)
            for offset in dict.fromkeys((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in about):
                yield Move(move.name, move.matrix, offset)

    def _badness(self, layer: MadeLayer, got: BaseGeometry) -> float:
        """Share of the plot that is not as the layer, lettering left out; 1 when extents or sizes already differ."""
        wanted, blurred = self._made.area(layer), self._made.blurred(layer)
        if not _could_be(wanted, blurred, got):
            return 1.0
        size = max(got.area, wanted.area)
        off = shapely.difference(shapely.difference(got, wanted, grid_size=1e-4), blurred).area
        if off > _ALIKE * size:
            return 1.0
        lacking = shapely.difference(shapely.difference(wanted, got, grid_size=1e-4), blurred).area
        return float((off + lacking) / size)


def _is_lettering(text: str) -> bool:
    """Whether a text has a character that prints in any font."""
    return any(character.isascii() and character.isalnum() for character in text)


def drawn(plot: Plot) -> Area:
    """What a plot shows: its dark area, for the profile what it encloses."""
    is_profile = plot.layer is not None and plot.layer.kind is LayerKind.OUTLINE
    return plot.gerber.enclosed if is_profile else plot.gerber.area


def _could_be(wanted: Area, blurred: Area, got: BaseGeometry) -> bool:
    """Whether extents and size of a plot allow it to be a layer at all: cheap, and nearly always decides."""
    largest = shapely.MultiPolygon([*shapely.get_parts(wanted), *shapely.get_parts(blurred)]).bounds
    slack = 0.5
    if not got.area or any(b < a - slack for a, b in zip(largest[:2], got.bounds[:2])):
        return False
    if any(b > a + slack for a, b in zip(largest[2:], got.bounds[2:])):
        return False
    return bool((1 - _ALIKE) * wanted.area - blurred.area <= got.area <= (1 + _ALIKE) * (wanted.area + blurred.area))


def difference(wanted: Area, got: Area, blurred: Area) -> Difference:
    """Where two areas differ by more than `EDGE_MM` at their edges, outside of what is not known exactly."""
    return Difference(_lacking(wanted, got, blurred), _lacking(got, wanted, blurred))


def _lacking(all_of: Area, in_that: Area, blurred: Area) -> tuple[BaseGeometry, ...]:
    # thinning one side first keeps the overlay away from edges that nearly coincide, which is slow and fragile
    core = shapely.buffer(all_of, -EDGE_MM, quad_segs=2)
    left = shapely.difference(core, in_that)
    if left.is_empty:
        return ()
    left = shapely.difference(left, blurred)
    spots = [spot for spot in shapely.get_parts(left) if spot.area > 1e-6]
    grown = list(shapely.buffer(np.array(spots, dtype=object), 2 * EDGE_MM, quad_segs=2))
    return tuple(_pieces(grown, all_of, in_that))


def _pieces(grown: Sequence[BaseGeometry], all_of: Area, in_that: Area) -> list[BaseGeometry]:
    """The true pieces that thinning left a core of."""
    whole = []
    for spot in shapely.get_parts(shapely.union_all(grown)):
        bounds = spot.bounds
        # cutting can leave a ring that touches itself
        ours, theirs = (shapely.make_valid(shapely.clip_by_rect(one, *bounds)) for one in (all_of, in_that))
        whole.append(shapely.difference(shapely.intersection(spot, ours), theirs))
    return [piece for piece in whole if not piece.is_empty]


def _by_pieces(got: BaseGeometry, wanted: BaseGeometry) -> list[Point]:
    """The offset by which most pieces fall on one of their size; lettering, which has none, does no harm."""
    ours, theirs = shapely.get_parts(got), shapely.get_parts(wanted)
    ours = ours[np.argsort(shapely.area(ours))]
    sizes, sought = shapely.area(ours), shapely.area(theirs)
    first, last = np.searchsorted(sizes, sought * 0.999), np.searchsorted(sizes, sought * 1.001)
    alike = np.flatnonzero((last > first) & (last - first <= ALIKE_MAX))
    if not len(alike):
        return []
    pairs = np.array([(mine, its) for its in alike for mine in range(first[its], last[its])])
    spots = [shapely.get_coordinates(shapely.centroid(parts)) for parts in (ours, theirs)]
    offsets = spots[1][pairs[:, 1]] - spots[0][pairs[:, 0]]
    cells, votes = np.unique(np.round(offsets, 1), axis=0, return_counts=True)
    near = offsets[np.abs(offsets - cells[np.argmax(votes)]).max(axis=1) <= 0.1]
    return [(float(np.median(near[:, 0])), float(np.median(near[:, 1])))]


def _middle(shape: BaseGeometry) -> Point:
    left, bottom, right, top = shape.bounds
    return (left + right) / 2, (bottom + top) / 2


def _centroid(shape: BaseGeometry) -> Point:
    return shape.centroid.x, shape.centroid.y


def _between(a: Point, b: Point) -> Point:
    return b[0] - a[0], b[1] - a[1]
