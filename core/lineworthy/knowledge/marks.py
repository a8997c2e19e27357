# SPDX-License-Identifier: MIT
"""What pads and holes are for: fiducials, test points, mounting and tooling holes.

Judged by what a thing *is* first (copper or hole, open or covered, alone or wired up), then by what it is called:
something named fiducial may be a plain hole, a true fiducial may be referenced M1 or have no name at all. Every answer
carries its evidence in words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Optional

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.holes import MOUNTING_NAME, TOOLING_NAME, FixingHole, fixing_holes
from lineworthy.knowledge.looks import Basis, is_round, is_square, middle, span
from lineworthy.knowledge.netparts import Role, role
from lineworthy.model import Board, Graphic, LayerKind, Pad, PadKind, PadRole, Part, Side
from lineworthy.shapes import Area, Point, polygonal

MARK_SPAN_MM = (0.4, 3.2)
"""Diameters an undeclared mark can have: what marks are made like, 0.5 to 3.0 mm, with a little room."""

OPENING_RATIO = 1.4
"""A mask opening this much wider than its copper was made so on purpose; lands are opened by a hairline only."""

_FIDUCIAL_ROLES = (PadRole.FIDUCIAL_GLOBAL, PadRole.FIDUCIAL_LOCAL)
_FIDUCIAL_NAME = re.compile(
    r"fiducial|^fid(?![a-z])|passermark|passerkreuz|(?:alignment|registration|optical|camera)[-_ ]?(?:mark|target)",
    re.IGNORECASE,
)
_FIDUCIAL_REFERENCE = re.compile(r"fid(ucial)?s?[-_ ]?\d*[a-z]?\Z", re.IGNORECASE)
_TEST_NAME = re.compile(r"test[-_ ]?(point|pad|pin)|^tp[-_]", re.IGNORECASE)
_TEST_REFERENCE = re.compile(r"tp[-_]?\d+[a-z]?\Z", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class Fiducial:
    """An alignment mark on one side.

    Attributes:
        at: centre of the copper.
        diameter: of the copper; for a cross or a square, of the smallest circle round it.
        shape: the copper itself.
        opening: where the mask is open round it; empty when covered.
        local: declared to serve one part instead of the whole side.
        sure: False when it only looks like a mark and might be a bare land.
        evidence: why it is taken for a mark.
    """

    at: Point
    side: Side
    diameter: float
    shape: Area = field(repr=False)
    opening: Area = field(repr=False)
    basis: Basis
    evidence: str
    local: bool = False
    sure: bool = True
    net: str = ""
    part: Optional[Part] = field(default=None, repr=False)
    pads: tuple[Pad, ...] = field(default=(), repr=False)
    graphics: tuple[Graphic, ...] = field(default=(), repr=False)

    @property
    def label(self) -> str:
        """What to call it: its reference where it has one."""
        return self.part.reference if self.part and self.part.reference else "unnamed mark"

    @cached_property
    def is_open(self) -> bool:
        """Whether all of its copper is free of mask, so that a camera sees metal."""
        return not self.opening.is_empty and bool(self.opening.buffer(1e-3).covers(self.shape))


@dataclass(frozen=True, eq=False)
class TestPoint:
    """Copper meant for a probe. `sides` are those where it is free of mask; `diameter` is its smaller dimension."""

    __test__ = False  # not a test class, whatever its name says to a test runner

    at: Point
    sides: frozenset[Side]
    diameter: float
    net: str
    basis: Basis
    evidence: str
    part: Part = field(repr=False)
    pad: Pad = field(repr=False)


@dataclass(frozen=True, eq=False)
class Impostor:
    """A part called or declared a fiducial that cannot be one, and why."""

    part: Part
    evidence: str
    pasted: bool = False


class Marks:
    """Everything on a board that is there for machines and fixtures rather than for the circuit."""

    def __init__(self, board: Board) -> None:
        self._board = board

    @cached_property
    def fiducials(self) -> tuple[Fiducial, ...]:
        """All alignment marks on the board, declared ones first; marks beyond the board edge are left out."""
        found = [*self._declared, *self._lookalike_pads(), *self._drawn_marks()]
        return tuple(mark for mark in found if self._on_board(mark.shape))

    @property
    def lookalikes(self) -> tuple[Fiducial, ...]:
        """Those of `fiducials` that nobody declared."""
        return tuple(mark for mark in self.fiducials if mark.basis is Basis.LOOKS)

    def fiducials_on(self, side: Side) -> tuple[Fiducial, ...]:
        """All marks of one side."""
        return tuple(mark for mark in self.fiducials if mark.side is side)

    @cached_property
    def impostors(self) -> tuple[Impostor, ...]:
        """Parts called or declared fiducial that have no bare copper without a hole on the board's faces."""
        marks = {id(mark.part) for mark in self.fiducials if mark.part}
        called = (part for part in self._board.parts if _fiducial_name(part) or _has_fiducial_role(part))
        return tuple(self._impostor(part) for part in called if id(part) not in marks)

    def _impostor(self, part: Part) -> Impostor:
        """Why a part is no mark, by what it has instead."""
        board = self._board
        outer = {board.top_copper, board.bottom_copper}
        drawn = {graphic.layer.kind for graphic in self._drawn_in(part)}
        if any(mark.part is part for mark in self._declared):
            return Impostor(part, "off the board")
        if any(pad.hole is not None for pad in part.pads):
            return Impostor(part, "a hole" if _bare_holes(part) else "copper with a hole in it")
        if any(outer & set(pad.copper) for pad in part.pads):
            return Impostor(part, "copper takes paste", pasted=True)
        if any(pad.copper for pad in part.pads):
            return Impostor(part, "copper on inner layers only")
        layers = [kind.value for kind in (LayerKind.MASK, LayerKind.PASTE, LayerKind.LEGEND) if kind in drawn]
        layers += ["mask"] if any(pad.mask for pad in part.pads) else []
        layers += ["paste"] if any(pad.paste for pad in part.pads) else []
        made = " and ".join(name for name in ("mask", "paste", "legend") if name in layers)
        return Impostor(part, f"{made} only, without copper" if made else "without copper")

    def _drawn_in(self, part: Part) -> list[Graphic]:
        return [graphic for graphic in self._board.graphics if graphic.part_uid and graphic.part_uid == part.uid]

    @cached_property
    def test_points(self) -> tuple[TestPoint, ...]:
        """All pads made for a probe (leads and vias that a probe could use as well are not in here)."""
        return tuple(point for part in self._board.parts for point in self._test_points_of(part))

    @cached_property
    def holes(self) -> tuple[FixingHole, ...]:
        """All holes a screw, a stand-off or a fixture pin can use."""
        return tuple(fixing_holes(self._board))

    def is_fiducial(self, pad: Pad) -> bool:
        """Whether a pad is (part of) an alignment mark."""
        return id(pad) in self._fiducial_pads

    def is_test_point(self, pad: Pad) -> bool:
        """Whether a pad was made for a probe."""
        return id(pad) in self._test_pads

    @cached_property
    def _fiducial_pads(self) -> frozenset[int]:
        return frozenset(id(pad) for mark in self.fiducials for pad in mark.pads)

    @cached_property
    def _test_pads(self) -> frozenset[int]:
        return frozenset(id(point.pad) for point in self.test_points)

    @cached_property
    def _declared(self) -> tuple[Fiducial, ...]:
        return tuple(mark for part in self._board.parts for mark in self._declared_in(part))

    def _declared_in(self, part: Part) -> Iterator[Fiducial]:
        # a land that takes paste is soldered, whatever it is declared: libraries declare leads of fine packages so
        bare = [pad for pad in part.pads if not pad.paste]
        marked = [pad for pad in bare if pad.role in _FIDUCIAL_ROLES]
        for pad in marked:
            local = pad.role is PadRole.FIDUCIAL_LOCAL
            yield from self._marks_from(part, [pad], Basis.PROPERTY, f"its pad is declared {pad.role.value}", local)
        if not marked and (name := _fiducial_name(part)):
            yield from self._marks_from(part, bare, Basis.NAME, name, "local" in part.package.lower())

    def _marks_from(self, part: Part, pads: list[Pad], basis: Basis, evidence: str, local: bool) -> Iterator[Fiducial]:
        """One mark for each connected piece of copper on each side; a drilled pad is no mark whatever it is called."""
        for side in Side:
            layer = self._board.copper_on(side)
            here = [pad for pad in pads if pad.hole is None and layer in pad.copper]
            for piece in shapely.get_parts(shapely.union_all([pad.copper[layer] for pad in here])):
                if piece.is_empty:
                    continue
                own = tuple(pad for pad in here if piece.intersects(pad.copper[layer]))
                yield Fiducial(
                    at=middle(piece),
                    side=side,
                    diameter=span(piece),
                    shape=piece,
                    opening=self._opening(side, piece, own),
                    basis=basis,
                    evidence=evidence,
                    local=local,
                    net=own[0].net,
                    part=part,
                    pads=own,
                )

    def _lookalike_pads(self) -> Iterator[Fiducial]:
        declared = {id(pad) for mark in self._declared for pad in mark.pads}
        for part in self._board.parts:
            copper = [pad for pad in part.pads if pad.copper]
            if not copper or any(id(pad) in declared or not self._is_lonely(pad) for pad in copper) or _served(part):
                continue
            if len(copper) > 1 and not _apart(copper):
                continue
            for pad in copper:
                yield from self._lookalikes_of(part, pad)

    def _lookalikes_of(self, part: Part, pad: Pad) -> Iterator[Fiducial]:
        for mark in self._marks_from(part, [pad], Basis.LOOKS, "", False):
            if not (mark.is_open and _plausible(mark.diameter)):
                continue
            wide = span(mark.opening)
            sure = wide >= OPENING_RATIO * mark.diameter
            if sure and is_square(mark.shape):
                yield replace(mark, evidence="square bare copper in a wide mask opening, not wired up", sure=False)
            if not is_round(mark.shape):
                continue
            evidence = (
                f"undeclared, but round bare copper of {mark.diameter:.2f} mm in a {wide:.2f} mm mask opening, "
                "no paste, no hole, not wired up"
            )
            yield replace(mark, evidence=evidence, sure=sure)

    def _is_lonely(self, pad: Pad) -> bool:
        """No hole, no paste, and nothing on its net but itself."""
        if pad.hole is not None or pad.paste or pad.kind in (PadKind.THROUGH, PadKind.UNPLATED):
            return False
        return not pad.net or (len(self._board.pads_by_net[pad.net]) == 1 and pad.net not in self._wired_nets)

    @cached_property
    def _wired_nets(self) -> frozenset[str]:
        board = self._board
        nets = (
            {track.net for track in board.tracks} | {via.net for via in board.vias} | {area.net for area in board.areas}
        )
        return frozenset(nets - {""})

    def _drawn_marks(self) -> Iterator[Fiducial]:
        """Copper discs drawn as graphics inside a larger opening drawn in the mask."""
        board = self._board
        for side in Side:
            discs = [
                graphic
                for graphic in board.graphics
                if graphic.layer.kind is LayerKind.COPPER
                and graphic.layer.side is side
                and is_round(graphic.shape)
                and _plausible(span(graphic.shape))
            ]
            layer = board.copper_on(side)
            lands = [pad.copper[layer] for _, pad in board.pads if layer in pad.copper] if discs else []
            touched = set(shapely.STRtree(lands).query([g.shape for g in discs], "intersects")[0]) if lands else set()
            for index, graphic in enumerate(discs):
                opening = self._opening(side, graphic.shape, ())
                wide = span(graphic.shape)
                part = board.part_by_uid.get(graphic.part_uid)
                named = part is not None and _fiducial_name(part)
                if index in touched or (not named and (opening.is_empty or span(opening) < OPENING_RATIO * wide)):
                    continue
                yield Fiducial(
                    at=middle(graphic.shape),
                    side=side,
                    diameter=wide,
                    shape=graphic.shape,
                    opening=opening,
                    basis=Basis.NAME if named else Basis.LOOKS,
                    evidence=named or f"a copper disc of {wide:.2f} mm drawn in a {span(opening):.2f} mm mask opening",
                    net=graphic.net,
                    part=part,
                    graphics=(graphic,),
                )

    @cached_property
    def _drawn_openings(self) -> dict[Side, tuple[shapely.STRtree, list[Area]]]:
        shapes: dict[Side, list[Area]] = {side: [] for side in Side}
        for graphic in self._board.graphics:
            if graphic.layer.kind is LayerKind.MASK and graphic.layer.side is not None:
                shapes[graphic.layer.side].append(graphic.shape)
        # a pad that is nothing but an opening is drawn over the copper of another
        for _, pad in self._board.pads:
            if not pad.copper and pad.hole is None:
                for side, opening in pad.mask.items():
                    shapes[side].append(opening)
        return {side: (shapely.STRtree(found), found) for side, found in shapes.items()}

    def _opening(self, side: Side, copper: BaseGeometry, pads: Iterable[Pad]) -> Area:
        """The mask opening over some copper, by its own pads and by openings drawn over it."""
        tree, drawn = self._drawn_openings[side]
        over = [drawn[index] for index in tree.query(copper, "intersects")]
        return polygonal(shapely.union_all([*(pad.mask[side] for pad in pads if side in pad.mask), *over]))

    def _on_board(self, shape: Area) -> bool:
        area = self._board.outline.area
        return area.is_empty or bool(area.intersects(shape))

    def _test_points_of(self, part: Part) -> Iterator[TestPoint]:
        lands = [pad for pad in part.pads if pad.copper and (pad.hole is None or pad.hole.plated)]
        declared = [pad for pad in lands if pad.role is PadRole.TEST_POINT]
        named = _test_name(part, lands)
        if declared:
            chosen, basis, evidence = declared, Basis.PROPERTY, "its pad is declared test-point"
        elif named:
            chosen, basis, evidence = lands, Basis.NAME, named
        elif len(lands) == 1 and self._is_bare_target(part, lands[0]):
            chosen, basis, evidence = lands, Basis.LOOKS, "a single bare land on a net, without paste or hole"
        else:
            return
        for pad in chosen:
            if pad.role not in _FIDUCIAL_ROLES:
                yield TestPoint(pad.at, frozenset(pad.mask), _width(pad), pad.net, basis, evidence, part, pad)

    def _is_bare_target(self, part: Part, pad: Pad) -> bool:
        if role(part) is Role.ANTENNA:
            return False
        if pad.hole is not None or pad.paste or not pad.mask or not pad.net or _fiducial_name(part) or _served(part):
            return False
        return len(self._board.pads_by_net[pad.net]) > 1 or pad.net in self._wired_nets


def _has_fiducial_role(part: Part) -> bool:
    """Whether a part is declared a mark; leads of components are declared so by mistake in some libraries."""
    copper = [pad for pad in part.pads if pad.copper or pad.hole]
    return any(pad.role in _FIDUCIAL_ROLES for pad in part.pads) and len(copper) <= 2


def _fiducial_name(part: Part) -> str:
    """How a part is called a fiducial, empty when it is not."""
    if _FIDUCIAL_NAME.search(part.package):
        return f"called {part.package}"
    if _FIDUCIAL_REFERENCE.match(part.reference) or _FIDUCIAL_NAME.search(part.value):
        copper = [pad for pad in part.pads if pad.copper]
        if len(copper) <= 2 and not any(pad.paste for pad in copper):
            return f"called {part.reference or part.value}"
    return ""


def _test_name(part: Part, lands: list[Pad]) -> str:
    if _TEST_NAME.search(part.package):
        return f"called {part.package}"
    if _TEST_REFERENCE.match(part.reference) and len(lands) <= 2 and not _fiducial_name(part):
        return f"called {part.reference}"
    return ""


def _served(part: Part) -> bool:
    """Whether a name says that the part is something else than an alignment mark."""
    fixing = MOUNTING_NAME.match(part.package) or TOOLING_NAME.match(part.package)
    return bool(fixing or _TEST_NAME.search(part.package)) or bool(_TEST_REFERENCE.match(part.reference))


def _bare_holes(part: Part) -> bool:
    """Whether nothing but holes without a land belong to a part."""
    return not any(pad.copper for pad in part.pads)


def _apart(pads: list[Pad]) -> bool:
    """Whether the lands of one part stand so far apart that each can be a mark of its own."""
    spots = np.array([pad.at for pad in pads])
    gaps = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    reach = 2 * max(max(pad.size) for pad in pads)
    return bool((gaps[np.triu_indices(len(pads), 1)] >= reach).all())


def _width(pad: Pad) -> float:
    if min(pad.size) > 0:
        return min(pad.size)
    return min((span(copper) for copper in pad.copper.values()), default=0.0)


def _plausible(diameter: float) -> bool:
    return MARK_SPAN_MM[0] <= diameter <= MARK_SPAN_MM[1]
