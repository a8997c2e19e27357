# SPDX-License-Identifier: MIT
"""Holes in and beside reflowed lands: does the solder stay where the joint needs it?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.copper import spanned
from lineworthy.knowledge.drains import Drain, Kind, by_land, drains, kinds, solder_volume
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.wording import counted, listed, mm, natural, pad_name
from lineworthy.model import Board, Side, Via
from lineworthy.registry import Answers, Check, ItemOrPad, check
from lineworthy.sheet import Sheet

SHARE_KEY, HEAT_KEY, DAM_KEY = "solder.via_in_land_max_percent", "solder.heat_via_max_mm", "solder.via_dam_min_mm"

SHOWN = 60
"""Places of one finding on the map; more of the same kind help nobody."""


@check("solder/via-in-land", limits=(SHARE_KEY, HEAT_KEY, DAM_KEY, "solder.stencil_mm"))
def via_in_land(board: Board, sheet: Sheet, joints: Joints, packages: Packages) -> Answers:
    """Do open vias lie in reflowed lands, or beside them without mask between, so that the solder runs off?

    Why it matters: melted solder follows bare copper into every open hole. A small land is left with too little, a ball
    with a void or an open joint, and what comes out on the far side stands up as a bump where the stencil of that side
    has to lie flat.
    What to do: move the via out of the land behind a web of mask, or order it filled and capped (IPC-4761 type VII) and
    say so on the board and in the order. In a heat land keep the holes at 0.3 mm or below and cover them on the far
    side.
    Blind spots: what counts is the volume of the holes against the solder the stencil prints, half of the paste; a hole
    that is closed at the far end counts by half, for the air in it. A share below the limit passes, one above 100 % is
    a query. Vias that the board calls filled and capped are left out; many boards cannot say so, therefore this is a
    query and no more. Those it calls filled, or plugged from the land's side, and not capped keep the solder, but leave
    a spot that it does not wet: a query in arrays, else a note. A blind via is taken to be as deep as its share of the
    layers. In heat lands and in lands of ball and land arrays volumes do not count: there the diameter and the cover
    do, or any hole at all. Parts that are not fitted and lands without paste are left out. Vias of other nets are a
    short and not looked at here.
    Source: common practice; the types of via protection are those of IPC-4761, as quoted in two fabricators' notes.
    """
    dam = float(sheet.value(DAM_KEY))
    inside, beside, stopped = drains(board, joints, packages, dam)
    told: dict[str, list[Drain]] = {"array": [], "starved": [], "short": [], "heat": []}
    shares: dict[Land, float] = {}
    for land, holes in by_land(inside).items():
        kind = kinds(land.part, joints, packages)[id(land)]
        shares[land] = 100.0 * sum(hole.volume for hole in holes) / solder_volume(land, sheet.solder.stencil_mm)
        if kind is Kind.HEAT:
            told["heat"] += [hole for hole in holes if hole.far_open or exceeds(hole.diameter, sheet.value(HEAT_KEY))]
        elif kind is Kind.ARRAY:
            told["array"] += holes
        elif shares[land] > 100.0:
            told["starved"] += holes
        elif shares[land] > sheet.value(SHARE_KEY):
            told["short"] += holes
    told = {name: sorted(holes, key=_order) for name, holes in told.items() if holes}
    if "array" in told:
        yield _in_array(told["array"])
    for name in ("starved", "short"):
        if name in told:
            yield _drained(name, told[name], shares, sheet)
    if "heat" in told:
        yield _in_heat_land(told["heat"], sheet)
    if beside:
        yield _without_dam(sorted(beside, key=_order), dam)
    if blunt := [hole for hole in stopped if kinds(hole.land.part, joints, packages)[id(hole.land)] is not Kind.HEAT]:
        yield _without_cap(sorted(blunt, key=_order), joints, packages)


def _in_array(holes: Sequence[Drain]) -> Finding:
    return _finding(
        Consequence.QUERY,
        f"{_holes(holes)} in array lands of {_parts(holes)}: nothing says that they are filled and capped",
        holes,
        detail="array",
    )


def _drained(name: str, holes: Sequence[Drain], shares: Mapping[Land, float], sheet: Sheet) -> Finding:
    worst = max((hole.land for hole in holes), key=lambda land: round(shares[land], 3))
    lands = len({id(hole.land) for hole in holes})
    limit = float(sheet.value(SHARE_KEY))
    where = "" if any(hole.far_open for hole in holes) else ", covered on the far side,"
    return _finding(
        Consequence.QUERY if name == "starved" else Consequence.NOTE,
        f"{_holes(holes)}{where} in {counted(lands, 'land')} of {_parts(holes)}: up to {shares[worst]:.0f} % of a"
        f" land's solder fits into its holes ({_label(worst)}), {limit:.0f} % accepted",
        holes,
        detail=name,
        measured=shares[worst],
        limit=limit,
        unit="percent",
        limit_key=SHARE_KEY,
    )


def _in_heat_land(holes: Sequence[Drain], sheet: Sheet) -> Finding:
    limit = float(sheet.value(HEAT_KEY))
    is_open = sum(hole.far_open for hole in holes)
    cover = f"{is_open} not covered on the far side" if is_open else "covered on the far side"
    return _finding(
        Consequence.NOTE,
        f"{_holes(holes)} in heat lands of {_parts(holes)}, {cover};"
        f" up to {mm(limit)} mm and covered there they keep the solder",
        holes,
        detail="heat",
        measured=max(hole.diameter for hole in holes),
        limit=limit,
        limit_key=HEAT_KEY,
    )


def _without_dam(holes: Sequence[Drain], dam: float) -> Finding:
    worst = min(holes, key=lambda hole: round(hole.gap, 6))
    return _finding(
        Consequence.NOTE,
        f"{_holes(holes)} beside lands of {_parts(holes)}: down to {mm(worst.gap)} mm of mask between,"
        f" {mm(dam)} mm holds the solder back",
        holes,
        detail="beside",
        measured=worst.gap,
        limit=dam,
        limit_key=DAM_KEY,
    )


def _without_cap(holes: Sequence[Drain], joints: Joints, packages: Packages) -> Finding:
    arrays = [hole for hole in holes if kinds(hole.land.part, joints, packages)[id(hole.land)] is Kind.ARRAY]
    one = len({id(hole.item) for hole in holes}) == 1
    are, them = ("is", "it") if one else ("are", "them")
    return _finding(
        Consequence.QUERY if arrays else Consequence.NOTE,
        f"{_holes(holes)} in lands of {_parts(holes)} {are} filled or plugged, and not capped: solder does not wet"
        f" {them}",
        holes,
        detail="not capped",
    )


def _finding(
    kind: Consequence,
    message: str,
    holes: Sequence[Drain],
    *,
    detail: str,
    measured: Optional[float] = None,
    limit: Optional[float] = None,
    unit: str = "mm",
    limit_key: str = "",
) -> Finding:
    items: list[ItemOrPad] = [hole.item for hole in holes]
    items += [(land.part, land.pad) for land in dict.fromkeys(hole.land for hole in holes)]
    return via_in_land.finding(
        kind,
        message,
        items=items,
        places=[
            Place(hole.at, hole.land.part.side, f"{_label(hole.land)}, {mm(hole.diameter)} mm hole")
            for hole in holes[:SHOWN]
        ],
        measured=measured,
        limit=limit,
        unit=unit,
        limit_key=limit_key,
        detail=detail,
    )


def _order(hole: Drain) -> tuple[object, ...]:
    land = hole.land
    return (natural(land.part.reference), natural(land.number), land.part.uid, -round(hole.diameter, 6), _uid(hole))


def _uid(hole: Drain) -> str:
    return hole.item.uid if isinstance(hole.item, Via) else hole.item[1].uid


def _holes(holes: Sequence[Drain]) -> str:
    sizes = sorted({round(hole.diameter, 6) for hole in holes})
    wide = mm(sizes[0]) if len(sizes) == 1 else f"{mm(sizes[0])} to {mm(sizes[-1])}"
    # one hole may reach into two lands
    return f"{counted(len({id(hole.item) for hole in holes}), 'hole')} of {wide} mm"


def _parts(holes: Sequence[Drain]) -> str:
    return listed(hole.land.part.reference for hole in holes)


def _label(land: Land) -> str:
    return pad_name(land.part.reference, land.number)


@check("solder/via-half-closed")
def via_half_closed(board: Board) -> Answers:
    """Does the board order vias closed in a way that leaves flux, etchant or air inside, or that nobody makes?

    Why it matters: a hole that is stopped at one end keeps what runs into the other: etchant that eats the barrel,
    flux, and air that blows solder out in the oven. A cap is plated onto a filling; without one there is nothing to
    plate it on, and the factory asks.
    What to do: plug or fill from both sides, or leave the hole open; cap what is filled; cover what is tented, plugged
    or filled. Say it in the order, too: not every output file carries it.
    Blind spots: reads what the document says of its vias, which documents of older versions cannot. Tenting on one
    side, which the same notes advise against, is left out: it is done on purpose under heat lands and for probes. Blind
    vias have one end only; buried ones are left out.
    Source: IPC-4761 types of via protection (II: tented and covered, III: plugged, V: filled, VII: filled and capped;
    plugging from one side is not recommended), as quoted in two fabricators' notes.
    """
    outer = [(side, board.copper_on(side)) for side in Side]
    groups: dict[str, list[Via]] = {"capped": [], "plugged": [], "covered": []}
    for via in board.vias:
        if not (via.capped or via.plugged or via.covered):
            continue
        names = spanned(board, via)
        ends = frozenset(side for side, layer in outer if layer in names)
        stopped = ends if via.filled else ends & via.plugged
        if via.capped and not via.filled and ends:
            groups["capped"].append(via)
        elif len(ends) == 2 and len(stopped) == 1:
            groups["plugged"].append(via)
        elif (via.covered & ends) - via.tented - stopped:
            groups["covered"].append(via)
    for name, kind, what in (
        ("capped", Consequence.QUERY, "capped and not filled: a cap is plated onto a filling (IPC-4761 type VII)"),
        ("plugged", Consequence.NOTE, "plugged from one side only, which IPC-4761 does not recommend (type III a)"),
        ("covered", Consequence.NOTE, "covered where nothing is tented, plugged or filled: no type of IPC-4761"),
    ):
        if some := groups[name]:
            yield via_half_closed.finding(
                kind,
                f"{counted(len(some), 'via')} {'is' if len(some) == 1 else 'are'} {what}",
                items=some,
                places=[Place(via.at, None, f"{mm(via.drill)} mm hole") for via in some[:SHOWN]],
                detail=name,
            )


CHECKS: tuple[Check, ...] = (via_in_land, via_half_closed)
