# SPDX-License-Identifier: MIT
"""The lands a part is soldered to by reflow: their copper, what the mask leaves bare of it, what the stencil prints.

A land is all copper of one part and one number that touches on the part's side: a heat land drawn in several pieces is
one land. Openings and paste count wherever they come from: the pad itself, another pad of the part, a drawing in the
part, a drawing on the board.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import objects
from lineworthy.model import Board, LayerKind, Pad, PadKind, Part, Side
from lineworthy.shapes import Area, Point, polygonal

SHARE = 0.01
"""Less than this share of a land is rounding: drawings and pads are seldom exactly as large."""


@dataclass(frozen=True, eq=False)
class Land:
    """One land of a part on the part's side.

    Attributes:
        copper: its copper, all pieces together.
        bare: the copper that no mask covers.
        printed: the copper that the stencil prints paste on, bare or not.
    """

    part: Part
    pads: tuple[Pad, ...]
    copper: Area = field(repr=False)
    bare: Area = field(repr=False)
    printed: Area = field(repr=False)

    @cached_property
    def pad(self) -> Pad:
        """The largest of its pads, which stands for it."""
        return max(self.pads, key=lambda pad: pad.size[0] * pad.size[1])

    @property
    def number(self) -> str:
        """The pad number."""
        return self.pads[0].number

    @property
    def at(self) -> Point:
        """Where its largest pad is."""
        return self.pad.at

    @cached_property
    def is_printed(self) -> bool:
        """Whether paste goes onto it."""
        return bool(self.printed.area > SHARE * self.copper.area)

    @cached_property
    def is_bare(self) -> bool:
        """Whether any of it is free of mask."""
        return bool(self.bare.area > SHARE * self.copper.area)


class Joints:
    """The reflowed lands of a board, worked out for all parts at once."""

    def __init__(self, board: Board) -> None:
        self._board = board

    def of(self, part: Part) -> tuple[Land, ...]:
        """The lands of a part that have no lead through the board, in the order of its pads; bare and covered ones."""
        return self._by_part.get(part, ())

    @cached_property
    def all(self) -> tuple[Land, ...]:
        """All lands, part by part."""
        return tuple(land for lands in self._by_part.values() for land in lands)

    @cached_property
    def _by_part(self) -> Mapping[Part, tuple[Land, ...]]:
        found: dict[Part, list[Land]] = defaultdict(list)
        for side in Side:
            rows = [row for part in self._board.parts if part.side is side for row in _pieces(part, self._layer(side))]
            copper = objects(row[2] for row in rows)
            bare = _covered(copper, self._openings(side, LayerKind.MASK))
            printed = _covered(copper, self._openings(side, LayerKind.PASTE))
            for n, (part, pads, _) in enumerate(rows):
                found[part].append(Land(part, pads, copper[n], bare[n], printed[n]))
        return {part: tuple(lands) for part, lands in found.items()}

    def _layer(self, side: Side) -> str:
        return self._board.copper_on(side)

    def _openings(self, side: Side, kind: LayerKind) -> npt.NDArray[np.object_]:
        """All openings of the mask or of the stencil on a side."""
        of_pads = [(pad.mask if kind is LayerKind.MASK else pad.paste).get(side) for _, pad in self._board.pads]
        drawn = [g.shape for g in self._board.graphics if g.layer.kind is kind and g.layer.side is side]
        return objects(shape for shape in (*of_pads, *drawn) if shape is not None and not shape.is_empty)


def _pieces(part: Part, layer: str) -> list[tuple[Part, tuple[Pad, ...], Area]]:
    """The lands of one part: pads of one number that touch are one land."""
    flat = [pad for pad in part.pads if pad.kind is PadKind.SURFACE and layer in pad.copper]
    groups: dict[str, list[Pad]] = defaultdict(list)
    for n, pad in enumerate(flat):
        groups[pad.number or f"#{n}"].append(pad)
    found = []
    for pads in groups.values():
        if len(pads) == 1:
            found.append((part, tuple(pads), pads[0].copper[layer]))
            continue
        shapes = [pad.copper[layer] for pad in pads]
        for piece in shapely.get_parts(shapely.union_all(shapes)):
            own = tuple(pad for pad, shape in zip(pads, shapes) if shape.intersects(piece))
            found.append((part, own, piece))
    return found


def _covered(ours: npt.NDArray[np.object_], theirs: npt.NDArray[np.object_]) -> Sequence[Area]:
    """Of each of our shapes, what all of theirs together cover."""
    found: list[Area] = [shapely.Polygon()] * len(ours)
    if not len(ours) or not len(theirs):
        return found
    # an opening without a margin is the land itself
    same = {id(shape) for shape in theirs}
    whole = np.array([id(shape) in same for shape in ours])
    left = np.flatnonzero(~whole)
    # theirs are asked what they cover, not ours what covers them: the library is several times quicker at that
    whole[left[shapely.STRtree(ours[left]).query(theirs, predicate="covers")[1]]] = True
    for i in np.flatnonzero(whole).tolist():
        found[i] = ours[i]
    left = np.flatnonzero(~whole)
    part_i, part_j = shapely.STRtree(theirs).query(ours[left], predicate="intersects")
    shared = shapely.intersection(ours[left[part_i]], theirs[part_j])
    grouped: dict[int, list[Area]] = defaultdict(list)
    for i, shape in zip(left[part_i].tolist(), shared):
        if shape.area > 0.0:
            grouped[i].append(polygonal(shape))
    for i, shapes in grouped.items():
        found[i] = shapes[0] if len(shapes) == 1 else polygonal(shapely.union_all(shapes))
    return found
