# SPDX-License-Identifier: MIT
"""Is each alignment mark one that a camera can find: bare, round, of a usual size, with nothing like it nearby?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds, falls_short, pairs_within
from lineworthy.knowledge.lookalikes import RoundCopper
from lineworthy.knowledge.looks import Basis, is_round
from lineworthy.knowledge.marks import Fiducial, Impostor, Marks
from lineworthy.knowledge.marksaid import items, names, ordered
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.placed import placed_on
from lineworthy.knowledge.rings import half_width
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, LayerKind, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

OPEN_SHARE = 0.99
"""A mark that is bare to less than this has mask on it; the rest is the rounding of chords."""

CARRIER_SHARE = 0.6
"""A body that fills this share of the board is the outline of what the board plugs into, drawn for orientation."""


@check("fiducials/not-a-mark", limits=("fiducials.per_side_min_count",))
def not_a_mark(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Is something called an alignment mark that no machine can use as one?

    Why it matters: A mark has to be bare copper, because only copper is etched in the same step as the lands. A hole, a
        circle on the legend, an opening without copper or a mark beside the board looks like one in the list of parts
        only, and is missed when the job is set up.
    What to do: Give the footprint a bare copper disc in a mask opening on an outer layer, or call it by what it is.
    Blind spots: Told by the name of the land pattern, the reference, the value or the pad's property. Holes that are
        called fiducials and used as fixture holes are meant so; where the side has marks enough it is a note.
    Source: IPC-7351 (2005) 3.4.4 (marks are etched with the circuit).
    """
    need = sheet.fiducials.per_side_min_count
    groups: dict[tuple[Side, str], list[Impostor]] = {}
    for one in marks.impostors:
        if not one.pasted:
            groups.setdefault((one.part.side, one.evidence), []).append(one)
    for (side, evidence), found in groups.items():
        usable = sum(mark.sure and mark.is_open and not mark.local for mark in marks.fiducials_on(side))
        missed = usable < need and bool(placed_on(board, side))
        called = listed(one.part.reference or one.part.package or "unnamed part" for one in found)
        yield not_a_mark.finding(
            Consequence.QUERY if missed else Consequence.NOTE,
            f"{called} ({side.value}) {'is' if len(found) == 1 else 'are'} called alignment "
            f"{'mark' if len(found) == 1 else 'marks'}: {evidence}",
            items=[one.part for one in found],
            places=[Place(one.part.at, side, one.part.reference) for one in found],
            detail=f"{side.value} {evidence}",
        )


@check(
    "fiducials/size-unusual", limits=("fiducials.mark_min_mm", "fiducials.mark_max_mm", "fiducials.local_mark_min_mm")
)
def size_unusual(sheet: Sheet, marks: Marks) -> Answers:
    """Is each mark of a size that machines are made for?

    Why it matters: A small mark covers few pixels of the camera, and a scratch or an etching fault moves its measured
        centre; a large one does not fit into the field of view.
    What to do: Make marks of the whole side 1 mm, and marks for one part at least 0.5 mm.
    Blind spots: Only declared marks, measured as drawn; etching takes some micrometres.
    Source: SMEMA fiducial mark standard, summary (1.0 to 3.0 mm); for local marks a draft of IPC-7351C.
    """
    limits = sheet.fiducials
    groups: dict[tuple[Side, str, float], list[Fiducial]] = {}
    for mark in marks.fiducials:
        key = "local_mark_min_mm" if mark.local else "mark_min_mm"
        size = 2 * half_width(mark)
        if exceeds(size, limits.mark_max_mm):
            key = "mark_max_mm"
        elif not falls_short(size, getattr(limits, key)):
            continue
        if mark.sure and mark.basis is not Basis.LOOKS:
            groups.setdefault((mark.side, key, round(size, 2)), []).append(mark)
    for (side, key, _), found in groups.items():
        first, need = ordered(found)[0], float(getattr(limits, key))
        size = 2 * half_width(first)
        yield size_unusual.finding(
            Consequence.QUERY,
            f"{names(found)} ({side.value}) {_has(found)} {mm(size)} mm wide; "
            f"{mm(need)} mm {'at most' if key == 'mark_max_mm' else 'at least'}",
            items=items(found),
            places=_places(found),
            measured=size,
            limit=need,
            limit_key=f"fiducials.{key}",
            detail=f"{side.value} {key}",
        )


@check("fiducials/shape-unusual")
def shape_unusual(marks: Marks) -> Answers:
    """Is each mark a solid disc?

    Why it matters: Every machine reads a disc, and a disc looks the same however the board lies. Squares, crosses and
        rings have to be taught, and some machines take none of them.
    What to do: Draw the mark as one round pad.
    Blind spots: Only declared marks.
    Source: SMEMA fiducial mark standard, summary (a solid filled circle).
    """
    for side in Side:
        odd = [m for m in marks.fiducials_on(side) if m.sure and m.basis is not Basis.LOOKS and not is_round(m.shape)]
        if odd:
            yield shape_unusual.finding(
                Consequence.NOTE,
                f"{names(odd)} ({side.value}) {_has(odd)} not a solid disc",
                items=items(odd),
                places=_places(odd),
                detail=side.value,
            )


@check("fiducials/covered")
def covered(board: Board, marks: Marks) -> Answers:
    """Does solder mask lie on a mark?

    Why it matters: Under mask, copper has little contrast, and the mask's edge across a mark is what the camera finds
        instead of the mark's own.
    What to do: Open the mask over the mark and its clear ring, on the mark's own side.
    Blind spots: Copper drawn without a name counts as a mark only when its mask is open, so an unnamed covered disc is
        not found.
    Source: SMEMA fiducial mark standard, summary (bare or plated copper).
    """
    for side in Side:
        groups: dict[str, list[Fiducial]] = {}
        for mark in marks.fiducials_on(side):
            if mark.sure and not mark.is_open:
                groups.setdefault(_how_covered(mark), []).append(mark)
        for how, found in groups.items():
            yield covered.finding(
                Consequence.QUERY,
                f"{names(found)} ({side.value}) {_has(found)} {how}",
                items=items(found),
                places=_places(found),
                detail=f"{side.value} {how}",
            )


def _how_covered(mark: Fiducial) -> str:
    share = mark.shape.intersection(mark.opening).area / mark.shape.area
    if share > 0:
        return f"bare to {min(round(100 * share), 99)} % only, solder mask lies on the rest"
    beyond = any(mark.side.other in pad.mask for pad in mark.pads)
    return "covered by solder mask" + ("; the opening is on the other side" if beyond else "")


@check("fiducials/paste-on-mark")
def paste_on_mark(board: Board, marks: Marks) -> Answers:
    """Does the stencil put solder paste on a mark?

    Why it matters: The printer aligns its stencil by the mark and then covers it; the placement machine looks for a
        disc and finds a grey heap whose middle lies somewhere else.
    What to do: Take the pad off the paste layer.
    Blind spots: Told by the pads' stencil openings and by what is drawn on the paste layer; paste from a neighbour
        counts when it lies on the mark itself.
    Source: common practice, no source.
    """
    for side in Side:
        paste = _Layer.paste(board, side)
        hit = [mark for mark in marks.fiducials_on(side) if mark.sure and paste.touches(mark.shape)]
        pasted = [one.part for one in marks.impostors if one.pasted and one.part.side is side]
        if not hit and not pasted:
            continue
        named = [names(hit)] if hit else []
        named += [listed(part.reference or part.package for part in pasted)] if pasted else []
        yield paste_on_mark.finding(
            Consequence.QUERY,
            f"{' and '.join(named)} ({side.value}): the stencil opens over {counted(len(hit) + len(pasted), 'mark')}",
            items=[*items(hit), *pasted],
            places=[*_places(hit), *(Place(part.at, side, part.reference) for part in pasted)],
            detail=side.value,
        )


@check("fiducials/hidden-by-part", limits=("fiducials.clear_ring_min_ratio",))
def hidden_by_part(board: Board, sheet: Sheet, marks: Marks, packages: Packages) -> Answers:
    """Does a part stand on a mark or on its clear ring?

    Why it matters: The next machine in the line and the inspection look for the mark after the part has been placed.
        Something tall beside it throws its shadow into the ring.
    What to do: Move the mark or the part.
    Blind spots: Bodies count as drawn on the fabrication layer, otherwise as the hull of their lands. Marks for one
        part may lie inside of its land pattern. Through-hole parts are fitted later and make a note; what is not
        fitted, and bodies that are drawn over most of the board, do not count.
    Source: SMEMA fiducial mark standard, summary (nothing in the clear ring); for bodies common practice, no source.
    """
    ratio = sheet.fiducials.clear_ring_min_ratio
    for side in Side:
        mine = [mark for mark in marks.fiducials_on(side) if mark.sure and not mark.local]
        parts = [part for part in board.parts if part.side is side and _stands(board, part, packages)]
        needs = np.array([ratio * half_width(mark) for mark in mine])
        found = pairs_within([m.shape for m in mine], [packages.of(part).body for part in parts], needs)
        for i, j, distance in zip(*found):
            mark, part = mine[i], parts[j]
            if not falls_short(distance, needs[i]) or part is mark.part:
                continue
            grave = distance == 0 and not packages.of(part).through_hole
            where = "lies under" if distance == 0 else f"is {mm(distance)} mm from"
            yield hidden_by_part.finding(
                Consequence.QUERY if grave else Consequence.NOTE,
                f"{mark.label} ({side.value}) {where} the body of {part.reference or 'an unnamed part'}; "
                f"{mm(needs[i])} mm needed",
                items=[*items([mark]), part],
                places=_places([mark]),
                measured=distance,
                limit=needs[i],
                limit_key="fiducials.clear_ring_min_ratio",
                detail=side.value,
            )


def _stands(board: Board, part: Part, packages: Packages) -> bool:
    facts = packages.of(part)
    if not part.fitted or facts.family is Family.MECHANICAL or facts.body.is_empty or not part.pads:
        return False
    return bool(facts.body.area < CARRIER_SHARE * board.outline.area.area or board.outline.area.is_empty)


@check("fiducials/look-alike-nearby", limits=("fiducials.lookalike_field_mm",))
def look_alike_nearby(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Is there another round bare copper of a mark's size where the camera searches for the mark?

    Why it matters: Before it has measured anything, the machine knows the board's place to a millimetre or two. In the
        field it searches it takes the first disc that fits, and places the whole board by it.
    What to do: Move the mark or the land apart, or give the mark another size than the lands near it.
    Blind spots: Lands and open vias count when they are round, bare and within 15 % of the mark's diameter; lands with
        a wide hole and drawn copper do not. How far a machine searches is a matter of its set-up.
    Source: common practice, no source.
    """
    field = sheet.fiducials.lookalike_field_mm
    for side in Side:
        copper = RoundCopper(board, side)
        for mark in marks.fiducials_on(side):
            if not mark.sure or not is_round(mark.shape):
                continue
            own = {id(item) for item in (*mark.pads, *mark.graphics)}
            near = [
                (apart, one)
                for apart, one in copper.like(mark.at, mark.diameter, field)
                if falls_short(apart, field) and id(one.item) not in own and apart > mark.diameter / 2
            ]
            if not near:
                continue
            apart, one = near[0]
            more = f" and {len(near) - 1} more" if len(near) > 1 else ""
            yield look_alike_nearby.finding(
                Consequence.NOTE,
                f"{mark.label} ({mm(mark.diameter)} mm, {side.value}) has the like of it {mm(apart)} mm away: "
                f"{one.label}{more}; {mm(field)} mm wanted",
                items=items([mark]),
                places=[*_places([mark]), *(Place(two.at, side, two.label) for _, two in near)],
                measured=apart,
                limit=field,
                limit_key="fiducials.lookalike_field_mm",
                detail=side.value,
            )


@dataclass(frozen=True)
class _Layer:
    """All shapes of one made layer, to ask what lies on a mark."""

    tree: shapely.STRtree

    @classmethod
    def paste(cls, board: Board, side: Side) -> _Layer:
        return cls(shapely.STRtree(list(_paste(board, side))))

    def touches(self, shape: BaseGeometry) -> bool:
        found = self.tree.geometries.take(self.tree.query(shape, "intersects"))
        return any(shape.intersection(one).area > (1 - OPEN_SHARE) * shape.area for one in found)


def _paste(board: Board, side: Side) -> Iterator[BaseGeometry]:
    for _, pad in board.pads:
        if side in pad.paste:
            yield pad.paste[side]
    for graphic in board.graphics:
        if graphic.layer.kind is LayerKind.PASTE and graphic.layer.side is side:
            yield graphic.shape


def _has(marks: list[Fiducial]) -> str:
    return "is" if len(marks) == 1 else "are"


def _places(marks: list[Fiducial]) -> list[Place]:
    return [Place(mark.at, mark.side, mark.label) for mark in ordered(marks)]


CHECKS = (
    not_a_mark,
    covered,
    paste_on_mark,
    size_unusual,
    shape_unusual,
    hidden_by_part,
    look_alike_nearby,
)
