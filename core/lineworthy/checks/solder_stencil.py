# SPDX-License-Identifier: MIT
"""The foil between the openings of the stencil: is it there, and can it be cut?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Place, centre, places_of
from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.joints import SHARE
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.routing import land_order
from lineworthy.knowledge.stencil import Hole, Stencil, Web, net_of, part_of
from lineworthy.knowledge.wording import counted, listed, mm, natural, pad_name
from lineworthy.model import Board, Pad, Part, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

WEB_KEY, OVER_KEY = "solder.stencil_web_min_mm", "solder.overprint_max_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

_JOINED_ON_PURPOSE = frozenset({Family.MECHANICAL, Family.ANTENNA})
"""Solder jumpers are bridged by paste, net ties and antennas by copper."""

_PRINTED_WIDE = _JOINED_ON_PURPOSE | {Family.COVER, Family.MODULE}
"""Shields and the half holes of modules take more paste than their lands hold."""


@check("solder/paste-runs-together")
def paste_runs_together(board: Board, packages: Packages, stencil: Stencil) -> Answers:
    """Does one opening of the stencil print on lands of different nets?

    Why it matters: the paste of both lands melts into one lump. Between fine pins it does not draw apart again: every
    board has a solder bridge, which has to be found and taken off by hand.
    What to do: make the paste openings smaller than the lands (a negative margin), or move lands and parts apart.
    Blind spots: openings that are joined on one net are passed over, so are solder jumpers, net ties and lands whose
    copper touches. Parts that are not fitted count: their openings are cut, too. The assembler may redraw openings.
    Source: common practice, no source.
    """
    groups: dict[tuple[str, ...], list[tuple[Hole, list[tuple[Part, Pad]]]]] = defaultdict(list)
    for side in Side:
        for hole in stencil.holes(side):
            lands = _bridged(board, hole, packages) if len(hole.nets) > 1 else []
            if lands:
                kinds = sorted({part.package or part.reference for part, _ in lands}, key=natural)
                groups[(side.value, *kinds)].append((hole, lands))
    for key, found in sorted(groups.items()):
        lands = sorted({land: None for _, own in found for land in own}, key=land_order)
        yield paste_runs_together.finding(
            Consequence.QUERY,
            f"{counted(len(found), 'stencil opening')} over lands of different nets: {_told(lands)}",
            items=lands,
            places=[Place(centre(_shape(hole)), hole.side, _pads(own)) for hole, own in found[:SHOWN]],
            detail=" ".join(key),
        )


def _bridged(board: Board, hole: Hole, packages: Packages) -> list[tuple[Part, Pad]]:
    """The lands that paste joins and nothing else does."""
    layer = board.copper_on(hole.side)
    lands = [land for land in hole.lands if packages.of(land[0]).family not in _JOINED_ON_PURPOSE]
    joined: dict[tuple[Part, Pad], None] = {}
    for one, other in combinations(lands, 2):
        apart = one[1].copper[layer].distance(other[1].copper[layer]) > 0.0
        if net_of(*one) != net_of(*other) and apart:
            joined.update({one: None, other: None})
    return list(joined)


@check("solder/paste-on-unfitted")
def paste_on_unfitted(board: Board, packages: Packages) -> Answers:
    """Does the stencil print on lands of parts that are not fitted?

    Why it matters: the paste melts into bumps on empty lands. They do little harm, but a part that is fitted later does
    not lie flat on them, and who makes the stencil asks whether the openings are wanted.
    What to do: say in the notes for the factory whether these openings are cut; take the paste away where the part is
    never fitted.
    Blind spots: one stencil often serves several variants of a board, and then the openings are wanted: this is a note.
    Lands that a fitted part uses as well are left out, as are solder jumpers and what is only on the board.
    Source: common practice, no source.
    """
    wanted = {side: shapely.STRtree(_prints(board, side)) for side in Side}
    found = [
        part
        for part in board.parts
        if not part.fitted and not part.board_only and packages.of(part).family not in _JOINED_ON_PURPOSE
        if _prints_alone(part, wanted)
    ]
    if found:
        found.sort(key=lambda part: (natural(part.reference), part.uid))
        yield paste_on_unfitted.finding(
            Consequence.NOTE,
            f"The stencil prints on lands of {listed(part.reference for part in found)}, not to be fitted",
            items=found,
            places=places_of(found),
        )


def _prints(board: Board, side: Side) -> list[BaseGeometry]:
    """What the stencil prints for fitted parts."""
    return [pad.paste[side] for part, pad in board.pads if part.fitted and side in pad.paste]


def _prints_alone(part: Part, wanted: Mapping[Side, shapely.STRtree]) -> bool:
    """Whether a part is printed on where no fitted part is."""
    prints = [(side, shape) for pad in part.pads for side, shape in pad.paste.items()]
    return any(not len(wanted[side].query(shape, predicate="intersects")) for side, shape in prints)


@check("solder/stencil-web-thin", limits=(WEB_KEY,))
def stencil_web_thin(board: Board, sheet: Sheet, stencil: Stencil) -> Answers:
    """Is the web of foil between two stencil openings thinner than it can be cut and cleaned?

    Why it matters: a web that is not as wide as the foil is thick tears or bends when the stencil is cut, wiped and
    pressed. Paste then gets from one land to the next, and no two boards come out alike.
    What to do: make the paste openings smaller than the lands, or agree on the web with who makes the stencil and put
    it into the capability sheet.
    Blind spots: between openings of one net a torn web does no harm to the circuit: that is a note. Openings that touch
    are one and have no web. The assembler may redraw openings.
    Source: common practice, no source.
    """
    limit = sheet.solder.stencil_web_min_mm
    groups: dict[tuple[Consequence, Side, tuple[str, ...]], list[Web]] = defaultdict(list)
    for side in Side:
        for web in stencil.webs_below(side, limit):
            apart = web.one.nets.isdisjoint(web.other.nets)
            groups[Consequence.QUERY if apart else Consequence.NOTE, side, _kinds(board, web)].append(web)
    for (kind, side, kinds), webs in sorted(groups.items(), key=lambda item: (item[0][0].rank, item[0][1].value)):
        lands = sorted(
            {land: None for web in webs for hole in (web.one, web.other) for land in hole.lands}, key=land_order
        )
        between = "openings of different nets" if kind is Consequence.QUERY else "openings of one net"
        width = mm(webs[0].width) if len(webs) == 1 else f"down to {mm(webs[0].width)}"
        where = _told(lands) if lands else "drawn on the board"
        yield stencil_web_thin.finding(
            kind,
            f"{counted(len(webs), 'web')} of the stencil, {width} mm, between {between} ({where});"
            f" {mm(limit)} mm needed",
            items=lands,
            places=[Place(web.at, side, f"web of {mm(web.width)} mm") for web in webs[:SHOWN]],
            measured=webs[0].width,
            limit=limit,
            limit_key=WEB_KEY,
            detail=f"{side.value} {' '.join(kinds)}",
        )


def _kinds(board: Board, web: Web) -> tuple[str, ...]:
    """The packages on both sides of a web."""
    parts = {part_of(board, owner) for hole in (web.one, web.other) for owner in hole.owners}
    parts |= {part for hole in (web.one, web.other) for part, _ in hole.lands}
    return tuple(sorted({part.package or part.reference for part in parts if part is not None}, key=natural))


def _told(lands: Sequence[tuple[Part, Pad]]) -> str:
    """``U1 (SOT-23), U2 pads 1, 2``: the pads where only one part has any."""
    parts = {part.uid: part for part, _ in lands}
    named = listed(part.reference for part in parts.values())
    packages = sorted({part.package for part in parts.values()} - {""}, key=natural)
    told = f"{named} ({packages[0]})" if len(packages) == 1 else named
    return f"{told} pads {listed(pad.number for _, pad in lands)}" if len(parts) == 1 else told


def _pads(lands: Iterable[tuple[Part, Pad]]) -> str:
    return listed(pad_name(part.reference, pad.number) for part, pad in lands)


def _shape(hole: Hole) -> BaseGeometry:
    return shapely.union_all(list(hole.pieces))


@check("solder/print-beyond-land", limits=(OVER_KEY,))
def print_beyond_land(board: Board, sheet: Sheet, packages: Packages, stencil: Stencil) -> Answers:
    """Does the stencil print paste beyond the lands it is for, onto the mask?

    Why it matters: paste on mask melts where there is nothing to wet. It does not all run back to the joint: balls of
    solder stay beside it and roll under parts, and a land that gets more than its neighbour pulls the part askew.
    What to do: take out the positive paste margin of the pad, or set a negative one; let the assembler enlarge the
    openings that need it.
    Blind spots: parts with leads, whose holes are filled from wide prints on purpose, modules, shields, jumpers and
    what is not fitted are left out. So are prints that reach no land, which other checks tell. Openings are as drawn:
    the assembler may cut others.
    Source: common practice, no source.
    """
    need = float(sheet.value(OVER_KEY))
    found = [
        (missed, hole)
        for side in Side
        for hole in stencil.holes(side)
        if hole.lands and all(_is_for_its_land(part, packages) for part, _ in hole.lands)
        if (missed := _missed(hole, board.copper_on(side), need)) > 0.0
    ]
    if not found:
        return
    lands = sorted({land: None for _, hole in found for land in hole.lands}, key=land_order)
    most = max(missed for missed, _ in found)
    reach = "reaches" if len(found) == 1 else "reach"
    yield print_beyond_land.finding(
        Consequence.NOTE,
        f"{counted(len(found), 'stencil opening')} of {_told(lands)} {reach} more than {mm(need)} mm beyond the land:"
        f" up to {100 * most:.0f} % of a print lies beside it",
        items=lands,
        places=[Place(centre(_shape(hole)), hole.side, _pads(hole.lands)) for _, hole in found[:SHOWN]],
        limit=need,
        limit_key=OVER_KEY,
    )


def _is_for_its_land(part: Part, packages: Packages) -> bool:
    """Whether paste on a part's lands is for these lands alone."""
    facts = packages.of(part)
    return part.fitted and not facts.leads and facts.family not in _PRINTED_WIDE


def _missed(hole: Hole, layer: str, need: float) -> float:
    """The share of a print that misses its lands, 0 where it reaches no farther beyond them than `need` mm."""
    lands = [pad.copper[layer] for _, pad in hole.lands]
    boxes = np.array([shape.bounds for shape in lands])
    own = np.array([piece.bounds for piece in hole.pieces])
    if (own[:, :2] >= boxes[:, :2].min(axis=0)).all() and (own[:, 2:] <= boxes[:, 2:].max(axis=0)).all():
        return 0.0  # which is quick, and nearly always so
    shape, land = _shape(hole), shapely.union_all(lands)
    # openings keep sharp corners or round them less than the land: what reaches farther there alone is rounding
    beyond = shape.difference(land.buffer(need + TOL_MM, join_style="mitre"))
    return float(shape.difference(land).area / shape.area) if beyond.area > SHARE * shape.area else 0.0


CHECKS: tuple[Check, ...] = (paste_runs_together, paste_on_unfitted, stencil_web_thin, print_beyond_land)
