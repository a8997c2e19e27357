# SPDX-License-Identifier: MIT
"""The references printed beside parts: which are missing, which cannot be read, which could belong to a neighbour."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import objects
from lineworthy.knowledge.legible import Legible
from lineworthy.knowledge.packages import Family, Packages, reference_letters
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board, LayerKind, Marking, MarkingRole, Part

COVERED_MIN, CUT_MIN = 0.5, 0.3
"""Shares of a reference under a part, or over pads and holes, from which it cannot be read."""

FAR_MM, NEARER = 1.0, 0.5
"""A reference this far from its part, and less than half as far from another of its kind, could be either's."""


FEW = 10
"""One in so many is an oversight."""


ASIDE_MM = 0.2
"""A reference no further from its part is beside it, whatever else is near; one on another part is not."""


@dataclass(frozen=True, eq=False)
class Label:
    """A part and its reference as printed."""

    part: Part
    marking: Marking


class References:
    """The references of one board's fitted parts."""

    def __init__(self, board: Board, packages: Packages, legible: Legible) -> None:
        self._board, self._packages, self._legible = board, packages, legible

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Parts somebody looks for on a board by their reference: fitted, listed, no marks, holes, or test points."""
        area = self._board.outline.area
        wanted = [
            part
            for part in self._board.parts
            if part.fitted
            and (area.is_empty or area.intersects(part.extent))  # others are not placed yet
            and part.in_parts_list
            and not part.board_only
            and part.reference
            and self._packages.of(part).family is not Family.MECHANICAL
            and any(pad.hole is not None or pad.paste for pad in part.pads)  # contacts etched into the edge are no part
        ]
        return tuple(sorted(wanted, key=lambda part: natural(part.reference)))

    @cached_property
    def shown(self) -> tuple[Label, ...]:
        """Those whose reference is printed."""
        printed: dict[str, Marking] = {}
        for marking in self._board.shown_markings:
            role_fits = marking.role in (MarkingRole.REFERENCE, MarkingRole.FREE, MarkingRole.FIELD)
            if role_fits and marking.part_uid and marking.layer.is_made and marking.text:
                part = self._board.part_by_uid.get(marking.part_uid)
                if part is not None and marking.text.strip() == part.reference:
                    printed.setdefault(part.uid, marking)
        loose = {m.text.strip(): m for m in self._board.shown_markings if not m.part_uid and m.layer.is_made}
        found = [(part, printed.get(part.uid) or loose.get(part.reference)) for part in self.parts]
        return tuple(Label(part, marking) for part, marking in found if marking is not None)

    @cached_property
    def missing(self) -> tuple[Part, ...]:
        """Those whose reference is not."""
        there = {label.part.uid for label in self.shown}
        return tuple(part for part in self.parts if part.uid not in there)

    @cached_property
    def placed_by_hand(self) -> bool:
        """Whether at least half of the parts go in by hand, where the reference on the board says what goes where."""
        by_hand = sum(not self._packages.of(part).machine_placed for part in self.parts)
        return by_hand * 2 >= len(self.parts) > 0

    @cached_property
    def covered(self) -> tuple[Label, ...]:
        """References under a part's body, or cut off by pads and holes.

        Under its own part a reference is read before that is placed: many people put all of them there. A few that lie
        so were overlooked.
        """
        elsewhere = {label.part.uid for label, _ in self.ambiguous}  # said there, and the same to be done
        drawn = [label for label in self.shown if not label.marking.extents.is_empty]
        drawn = [label for label in drawn if label.part.uid not in elsewhere]
        legible = self._legible
        cut_off = {label for label in drawn if legible.cut(label.marking).share >= CUT_MIN}
        under = {label for label in drawn if legible.cover(label.marking).share >= COVERED_MIN} - cut_off
        other = {label for label in under if legible.cover(label.marking, (label.part,)).share >= COVERED_MIN}
        told = cut_off | (under if self.few(len(under - other)) else other)
        return tuple(label for label in drawn if label in told)

    @cached_property
    def overprinted(self) -> tuple[Label, ...]:
        """References with other lettering printed over them, those left out that are covered anyhow."""
        texts = [m for m in self._board.shown_markings if m.layer.kind is LayerKind.LEGEND and m.text.strip()]
        tree = shapely.STRtree([self._legible.ink(text) for text in texts])
        covered = {label.part.uid for label in self.covered}
        found = []
        for label in self.shown:
            mine = label.marking
            letters = self._legible.ink(mine)
            if label.part.uid in covered or letters.is_empty:
                continue
            hits = tree.query(letters, predicate="intersects")
            over = [tree.geometries[n] for n in hits if texts[n] is not mine and texts[n].layer == mine.layer]
            if over and shapely.union_all(over).intersection(letters).area >= CUT_MIN * letters.area:
                found.append(label)
        return tuple(found)

    def few(self, count: int) -> bool:
        """Whether so many of the parts are an oversight and not a habit."""
        return count * FEW <= len(self.parts)

    @cached_property
    def ambiguous(self) -> tuple[tuple[Label, Part], ...]:
        """References that stand nearer to another part of the same kind, with that part."""
        parts = list(self.parts)
        zones = objects(part.extent for part in parts)
        tree = shapely.STRtree(zones)
        found = []
        for label in self.shown:
            letters = self._legible.ink(label.marking)
            away = float(shapely.distance(letters, self._drawn.get(label.part.uid, label.part.extent)))
            if letters.is_empty or not away > ASIDE_MM:
                continue
            near = [
                (float(shapely.distance(letters, zones[n])), parts[n])
                for n in tree.query(letters, predicate="dwithin", distance=away * NEARER)
                if self._could_be_its(label, parts[n]) and (away > FAR_MM or _mostly_on(letters, zones[n]))
            ]
            if near:
                near.sort(key=lambda pair: (round(pair[0], 4), natural(pair[1].reference)))
                found.append((label, near[0][1]))
        return tuple(found)

    @cached_property
    def _drawn(self) -> dict[str, BaseGeometry]:
        """What a part takes together with what its legend draws round it: that is where its reference belongs."""
        shapes: dict[str, list[BaseGeometry]] = {}
        for graphic in self._board.graphics:
            if graphic.part_uid and graphic.layer.kind is LayerKind.LEGEND:
                shapes.setdefault(graphic.part_uid, []).append(graphic.shape)
        parts = self._board.part_by_uid
        return {
            uid: shapely.convex_hull(shapely.GeometryCollection([*drawn, parts[uid].extent]))
            for uid, drawn in shapes.items()
            if uid in parts
        }

    def _could_be_its(self, label: Label, other: Part) -> bool:
        if other.uid == label.part.uid or other.side is not label.marking.layer.side:
            return False
        return reference_letters(other.reference) == reference_letters(label.part.reference)


def _mostly_on(letters: BaseGeometry, zone: BaseGeometry) -> bool:
    return bool(letters.intersection(zone).area >= COVERED_MIN * letters.area)
