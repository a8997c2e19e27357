# SPDX-License-Identifier: MIT
"""The solder mask: what of it is too narrow to stay, and what its openings bare or leave covered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import shapely

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import falls_short
from lineworthy.knowledge.gaps import Layer, called, in_order, net_of, part_uid_of
from lineworthy.knowledge.mask import Bared, Mask, OpeningOwner, Web, part_of, takes_solder
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Graphic, Pad, PadRole, Part, Side, Via
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

DAM, TO_COPPER = "bare-board.mask_dam_min_mm", "bare-board.mask_to_copper_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

COVERED_MIN = 0.02
"""Share of a land from which mask on it is more than the rounding of corners."""


# --- dams --------------------------------------------------------------------------------------------------------


@check("bare-board/mask-dam-thin", limits=(DAM,))
def mask_dam_thin(board: Board, sheet: Sheet, mask: Mask, packages: Packages) -> Answers:
    """Is the mask between two openings too narrow to stay on the board, or not there at all?

    Why it matters: a thin dam breaks off in developing or under the first heat and lies on a land somewhere else. The
    factory asks whether it may leave the dams out; without a dam nothing but luck keeps solder on its own land.
    What to do: make the openings smaller (0.05 mm beyond the land on each side, less where the factory aligns better),
    make the lands narrower, or say on the drawing that one common opening is meant.
    Blind spots: vias and bare tracks are taken to be open as far as their copper. Openings that run into each other are
    told for lands of different nets of fitted parts, as a note: at fine pitch they are often meant. The editor may join
    openings itself when it plots, where a smallest web is set in the board set-up. A narrow notch within one opening is
    not measured, nor is lettering left out of the mask. Other colours than green want wider dams.
    Source: common practice, no source: 0.10 mm (4 mil) for green, 0.12 to 0.15 mm for other colours.
    """
    need = float(sheet.value(DAM))
    groups: dict[tuple[str, ...], list[Web]] = defaultdict(list)
    for side in Side:
        for web in mask.webs_below(side, need):
            if web.width > 0.0 or (all(web.parts) and _parts_nets(board, web, packages)):
                groups[_where(web)].append(web)
    for where, webs in sorted(groups.items()):
        webs.sort(key=lambda web: (round(web.width, 6), web.side.value, web.at))
        grave = any(web.width > 0.0 and _parts_nets(board, web, packages) for web in webs)
        yield _dams(where, webs, need, grave)


def _parts_nets(board: Board, web: Web, packages: Packages) -> bool:
    """Whether the web keeps solder from running between nets; on a solder jumper it is meant to run."""
    if net_of(web.one) == net_of(web.other):
        return False
    for owner, part in zip((web.one, web.other), web.parts):
        if isinstance(owner, Graphic) or (
            isinstance(owner, tuple) and board.copper_on(web.side) not in owner[1].copper
        ):
            return False
        if part is not None and not (packages.of(part).machine_placed or packages.of(part).hand_fitted):
            return False
    return True


def _where(web: Web) -> tuple[str, ...]:
    one, other = web.parts
    if one is not None and one is other:
        return ("part", one.package or one.reference)
    if one is not None and other is not None:
        return ("parts",)
    return ("vias",) if any(isinstance(owner, Via) for owner in (web.one, web.other)) else ("drawings",)


def _dams(where: tuple[str, ...], webs: Sequence[Web], need: float, grave: bool) -> Finding:
    thin = [web for web in webs if web.width > 0.0]
    lost = len(webs) - len(thin)
    subject = _subject(where, webs)
    if thin:
        kind = "mask dam" if grave else "sliver"
        more = f", {lost} more lost altogether" if lost else ""
        of_mask = "" if grave else " of mask"
        message = (
            f"{counted(len(thin), kind)}{of_mask} {subject} down to {mm(thin[0].width)} mm; {mm(need)} mm needed{more}"
        )
    else:
        message = f"No mask {subject}: {counted(lost, 'pair')} of openings {'runs' if lost == 1 else 'run'} together"
    return mask_dam_thin.finding(
        Consequence.QUERY if grave else Consequence.NOTE,
        message,
        items=in_order(owner for web in webs for owner in (web.one, web.other)),
        places=[Place(web.at, web.side, f"{_pair(web)}, {mm(web.width)} mm") for web in (thin or webs)[:SHOWN]],
        measured=(thin or webs)[0].width,
        limit=need,
        limit_key=DAM,
        detail=" ".join(where),
    )


def _subject(where: tuple[str, ...], webs: Sequence[Web]) -> str:
    if where[0] == "part":
        names = {part.reference for web in webs for part in web.parts if part is not None}
        return f"between lands of {listed(names)}" + (f" ({where[1]})" if names != {where[1]} else "")
    if where[0] == "parts":
        pairs = {" and ".join(sorted((a.reference for a in web.parts if a), key=natural)) for web in webs}
        return f"between lands of different parts ({listed(pairs, 4)})"
    return {"vias": "at open vias", "drawings": "at drawn openings"}[where[0]]


def _pair(web: Web) -> str:
    return " to ".join(sorted((_opening(web.one), _opening(web.other)), key=natural))


def _opening(owner: OpeningOwner) -> str:
    return "drawn opening" if isinstance(owner, Graphic) else called(owner)


# --- what openings bare --------------------------------------------------------------------------------------------


@check("bare-board/mask-bares-copper", limits=(TO_COPPER,))
def mask_bares_copper(board: Board, sheet: Sheet, mask: Mask, copper: Sequence[Layer]) -> Answers:
    """Does a mask opening lay bare copper of another net, or come so near that a mask a little off does?

    Why it matters: solder wets all bare copper in an opening: a neighbouring track or pour in it is a short waiting for
    a little too much paste, and cannot be seen under the part.
    What to do: move the copper away, make the opening smaller, or raise the clearance of the pour.
    Blind spots: lands with openings of their own are the matter of mask-dam-thin. Mounting holes and marks without
    solder are left out. A drawn opening counts where it bares copper of two nets at least. Whether paste gets there is
    not asked.
    Source: common practice, no source: mask lies within 0.05 to 0.075 mm of where it should.
    """
    need = float(sheet.value(TO_COPPER))
    found = [one for layer in copper for one in mask.bared(layer, need)]
    found.sort(key=lambda one: (round(one.gap, 6), one.side.value, one.at))
    own = [one for one in found if not isinstance(one.opening, Graphic) and _takes_solder(one.opening, one.side)]
    for kind, some in (("bared", [o for o in own if o.gap <= 0.0]), ("near", [o for o in own if o.gap > 0.0])):
        if some:
            yield _bared(kind, some, need)
    yield from _drawn(board, [one for one in found if isinstance(one.opening, Graphic) and one.gap <= 0.0])


def _takes_solder(owner: OpeningOwner, side: Side) -> bool:
    """Pads without a net that get neither paste nor a lead are marks and bare holes; screws do not flow."""
    if not isinstance(owner, tuple):
        return True
    pad = owner[1]
    soldered = side in pad.paste or (pad.hole is not None and pad.hole.plated)
    return bool(pad.copper) and (soldered or pad.net != "")


def _bared(kind: str, some: Sequence[Bared], need: float) -> Finding:
    openings = list(dict.fromkeys(one.opening for one in some))
    nets = listed({net_of(one.copper) or "no net" for one in some}, 4)
    whose = listed({_owner(opening) for opening in openings})
    layers = listed({one.side.value for one in some})
    if kind == "bared":
        does = "bares" if len(openings) == 1 else "bare"
        message = f"{counted(len(openings), 'mask opening')} of {whose} on {layers} {does} copper of other nets: {nets}"
    else:
        message = (
            f"{counted(len(openings), 'mask opening')} of {whose} on {layers} down to {mm(some[0].gap)} mm from copper"
            f" of other nets ({nets}); {mm(need)} mm needed for a mask that lies a little off"
        )
    return mask_bares_copper.finding(
        Consequence.QUERY if kind == "bared" else Consequence.NOTE,
        message,
        items=in_order(item for one in some for item in (one.opening, one.copper)),
        places=[Place(one.at, one.side, f"{_opening(one.opening)} over {called(one.copper)}") for one in some[:SHOWN]],
        measured=some[0].gap,
        limit=need,
        limit_key=TO_COPPER,
        detail=kind,
    )


def _owner(opening: OpeningOwner) -> str:
    part = part_of(opening)
    return (part.reference or "a part without name") if part is not None else _opening(opening)


def _drawn(board: Board, some: Iterable[Bared]) -> Answers:
    """Drawn openings are meant to bare something; two nets in one are a question, but not for a part between them."""
    by_opening: dict[OpeningOwner, list[Bared]] = defaultdict(list)
    for one in some:
        part = board.part_by_uid.get(part_uid_of(one.opening))
        if part is None or net_of(one.copper) not in {pad.net for pad in part.pads}:
            by_opening[one.opening].append(one)
    several = [bared for bared in by_opening.values() if len({net_of(one.copper) for one in bared}) > 1]
    if several:
        nets = listed({net_of(one.copper) for bared in several for one in bared}, 4)
        yield mask_bares_copper.finding(
            Consequence.NOTE,
            f"{counted(len(several), 'drawn mask opening')} with bare copper of more than one net: {nets}",
            items=in_order(bared[0].opening for bared in several),
            places=[Place(bared[0].at, bared[0].side, "drawn opening") for bared in several[:SHOWN]],
            detail="drawn",
        )


# --- what the mask covers ------------------------------------------------------------------------------------------


@check("bare-board/mask-covers-land")
def mask_covers_land(board: Board, mask: Mask, packages: Packages) -> Answers:
    """Does the mask lie on part of a land that is to be soldered?

    Why it matters: where the opening is smaller than the land, the mask decides the size of the joint, and a mask a
    little off takes a piece of it. A negative margin set by mistake for the whole board looks just like that.
    What to do: give the mask no margin or a positive one; where the mask is to define the land, say so on the drawing.
    Blind spots: arrays are left out, where mask-defined lands are usual, and so are lands split into windows, thermal
    lands, edge contacts, and holes that a via's mask covers. Lands without any opening are another question.
    Source: IPC-7351B 3.1.2 (mask-defined and copper-defined lands), from memory.
    """
    groups: dict[str, list[tuple[Part, Pad, Side, float]]] = defaultdict(list)
    for part, pad in board.pads:
        for side, opening in pad.mask.items():
            land = pad.copper.get(board.copper_on(side))
            if land is None or opening.area > (1 - COVERED_MIN) * land.area or not takes_solder(pad, side):
                continue
            if packages.of(part).family is Family.ARRAY or pad.role in (PadRole.ARRAY, PadRole.THERMAL):
                continue
            if opening.geom_type != "Polygon":
                continue
            openings = mask.openings(side)
            over = openings.shapes[openings.tree.query(land, predicate="intersects")]
            share = float(land.difference(shapely.union_all(over)).area / land.area)
            if not falls_short(share, COVERED_MIN):
                groups[part.package or part.reference].append((part, pad, side, share))
    for package, rows in sorted(groups.items()):
        worst = max(round(row[3], 6) for row in rows)
        parts = listed({row[0].reference for row in rows})
        yield mask_covers_land.finding(
            Consequence.NOTE,
            f"{counted(len(rows), 'land')} of {parts}{f' ({package})' if package != parts else ''} under mask by up to"
            f" {worst:.0%} of their area",
            items=in_order((part, pad) for part, pad, _, _ in rows),
            places=[
                Place(centre(pad.copper[board.copper_on(side)]), side, called((part, pad)))
                for part, pad, side, _ in rows[:SHOWN]
            ],
            measured=worst * 100,
            unit="%",
            detail=package,
        )


CHECKS = (mask_dam_thin, mask_bares_copper, mask_covers_land)
