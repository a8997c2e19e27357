# SPDX-License-Identifier: MIT
"""Milling the outline: corners, gaps and webs that a cutter of some width cannot make."""

from __future__ import annotations

from collections.abc import Sequence

from lineworthy.finding import Consequence, NotRun, Place
from lineworthy.geometry import TOL_MM, falls_short
from lineworthy.knowledge.drilled import ROW_MIN_COUNT, Bore, Drilled
from lineworthy.knowledge.milling import Spot, thin, unreached
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board
from lineworthy.registry import Answers, Check, check
from lineworthy.shapes import ARC_TOL_MM
from lineworthy.sheet import Sheet

CUTTER, WEB = "bare-board.cutter_mm", "bare-board.web_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

ROUND_IT_SHARE = 0.05
"""Where less of a hole than this is on the board, the outline goes round it."""

ROW_PITCH_RATIO = 4.0
"""Holes of a perforation have two others within this many diameters (common practice, no source)."""


@check("bare-board/corner-too-sharp", limits=(CUTTER,))
def corner_too_sharp(board: Board, sheet: Sheet) -> Answers:
    """Are inside corners of the outline sharper than the cutter that mills them?

    Why it matters: a cutter is round. An inside corner drawn sharp comes out with the cutter's radius, and a square
    housing or card that should go into it does not.
    What to do: nothing where nothing square goes in; else draw the radius, or a round relief beside the corner.
    Blind spots: what goes into a cut-out is not known. Corners are measured to a hundredth of a millimetre.
    Source: common practice, no source.
    """
    if not board.outline.is_closed:
        yield _without_outline(corner_too_sharp)
        return
    cutter = sheet.bare_board.cutter_mm
    corners = [spot for spot in unreached(board.outline.area, cutter) if spot.is_corner]
    if corners:
        yield corner_too_sharp.finding(
            Consequence.NOTE,
            f"{counted(len(corners), 'inside corner')} of the outline sharper than the finest cutter, {mm(cutter)} mm:"
            f" milled with a radius of {mm(cutter / 2)} mm or more",
            places=_places(corners, "inside corner"),
            limit=cutter,
            limit_key=CUTTER,
        )


@check("bare-board/cut-out-too-narrow", limits=(CUTTER,))
def cutout_too_narrow(board: Board, sheet: Sheet, drilled: Drilled) -> Answers:
    """Are cut-outs, notches or bare slots narrower than the finest cutter?

    Why it matters: where the cutter does not fit, the gap comes out wider or not at all; the factory asks which.
    What to do: widen the gap; draw round openings as holes, which are drilled.
    Blind spots: how deep a cutter can go at that width is not asked.
    Source: common practice, no source.
    """
    if not board.outline.is_closed:
        yield _without_outline(cutout_too_narrow)
        return
    cutter = sheet.bare_board.cutter_mm
    gaps = [spot for spot in unreached(board.outline.area, cutter) if not spot.is_corner]
    slots = [b for b in drilled.bores if b.is_slot and not b.plated and falls_short(b.diameter, cutter)]
    told = [counted(len(gaps), "gap") + " of the outline"] if gaps else []
    if slots:
        told.append(f"{counted(len(slots), 'bare slot')} of {_parts(slots)}")
    if told:
        narrowest = min([spot.width for spot in gaps] + [bore.diameter for bore in slots])
        yield cutout_too_narrow.finding(
            Consequence.QUERY,
            f"{' and '.join(told)} narrower than the finest cutter, down to {mm(narrowest)} mm; {mm(cutter)} mm needed",
            items=[bore.item for bore in slots],
            places=(_places(gaps, "gap") + [Place(bore.at, None, bore.name) for bore in slots])[:SHOWN],
            measured=narrowest,
            limit=cutter,
            limit_key=CUTTER,
        )


@check("bare-board/web-too-thin", limits=(WEB,))
def web_too_thin(board: Board, sheet: Sheet, drilled: Drilled) -> Answers:
    """Is so little board left between two cut-outs, or between a hole and the edge, that it breaks, or nothing at all?

    Why it matters: glass and resin half a millimetre wide break in milling, in handling or when a screw is driven; a
    peg hole that breaks open no longer holds its connector.
    What to do: move the hole or cut-out in, or open it to the edge on purpose and draw the outline round it.
    Blind spots: only bare holes are measured to the edge, plated ones have their copper there. Rows of bare holes that
    make up a part are taken for perforations, and so are three and more of one size that break through the edge beside
    each other. Holes that the outline goes round are taken as meant.
    Source: common practice, no source.
    """
    if not board.outline.is_closed:
        yield _without_outline(web_too_thin)
        return
    need = sheet.bare_board.web_min_mm
    webs = thin(board.outline.area, need)
    bare = [bore for bore in drilled.bores if not bore.plated and not bore.is_perforation]
    walls = [(_wall(board, bore), bore) for bore in bare]
    holes = [(wall, bore) for wall, bore in walls if wall > 0.0 and falls_short(wall + ARC_TOL_MM, need)]
    holes.sort(key=lambda one: (round(one[0], 6), one[1].name, one[1].at))
    bores = [bore for _, bore in holes]
    told = [counted(len(webs), "web") + " of board between cut-outs and edges"] if webs else []
    if holes:
        told.append(f"the wall between the edge and {counted(len(holes), 'bare hole')} of {_parts(bores)}")
    if told:
        thinnest = min([spot.width for spot in webs] + [wall for wall, _ in holes])
        yield web_too_thin.finding(
            Consequence.QUERY,
            f"{' and '.join(told)}: down to {mm(thinnest)} mm thin; {mm(need)} mm needed",
            items=[bore.item for bore in bores],
            places=(_places(webs, "web") + [_wall_place(*one) for one in holes])[:SHOWN],
            measured=thinnest,
            limit=need,
            limit_key=WEB,
        )
    if open_ones := _broken(board, [(wall, bore) for wall, bore in walls if wall <= 0.0]):
        bores = [bore for _, bore in open_ones]
        verb = "breaks" if len(bores) == 1 else "break"
        yield web_too_thin.finding(
            Consequence.QUERY,
            f"{counted(len(bores), 'bare hole')} of {_parts(bores)} {verb} through the board edge, which is not drawn"
            f" round {'it' if len(bores) == 1 else 'them'}; a wall of {mm(need)} mm needed",
            items=[bore.item for bore in bores],
            places=[
                Place(bore.at, None, f"{bore.name}, {mm(-wall)} mm over the edge") for wall, bore in open_ones[:SHOWN]
            ],
            measured=open_ones[0][0],
            limit=need,
            limit_key=WEB,
            detail="open",
        )


def _wall(board: Board, bore: Bore) -> float:
    """What is left between a hole and the edge, mm; below 0 how far the hole reaches over it."""
    way = float(bore.way.distance(board.outline.edge))
    return (way if board.outline.area.intersects(bore.way) else -way) - bore.diameter / 2


def _broken(board: Board, crossed: Sequence[tuple[float, Bore]]) -> list[tuple[float, Bore]]:
    """Of the holes that reach over an edge those nobody means to be there, those furthest out first."""
    found = [
        (wall, bore)
        for wall, bore in crossed
        if _share_on(board, bore) > ROUND_IT_SHARE
        and sum(_is_beside(bore, other) for _, other in crossed) < ROW_MIN_COUNT
    ]
    return sorted(found, key=lambda one: (round(one[0], 6), one[1].name, one[1].at))


def _share_on(board: Board, bore: Bore) -> float:
    """How much of a hole is on the board: next to nothing where the outline goes round it."""
    shape = bore.way.buffer(bore.diameter / 2)
    return float(shape.intersection(board.outline.area).area / shape.area)


def _is_beside(one: Bore, other: Bore) -> bool:
    """Whether two holes, or one and itself, may be of one perforation."""
    alike = abs(one.diameter - other.diameter) <= TOL_MM
    return alike and one.way.distance(other.way) <= ROW_PITCH_RATIO * one.diameter


def _without_outline(asked: Check) -> NotRun:
    return asked.not_run("no closed board outline", "Close the outline; see bare-board/outline-open")


def _wall_place(wall: float, bore: Bore) -> Place:
    return Place(bore.at, None, f"{bore.name}, {mm(wall)} mm")


def _places(spots: Sequence[Spot], what: str) -> list[Place]:
    labels = [what if spot.is_corner else f"{what}, {mm(spot.width)} mm" for spot in spots]
    return [Place((round(x, 3), round(y, 3)), None, label) for ((x, y), _), label in zip(spots[:SHOWN], labels)]


def _parts(bores: Sequence[Bore]) -> str:
    return listed(bore.part.reference for bore in bores if bore.part is not None)


CHECKS = (corner_too_sharp, cutout_too_narrow, web_too_thin)
