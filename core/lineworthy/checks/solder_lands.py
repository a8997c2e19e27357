# SPDX-License-Identifier: MIT
"""Lands that cannot be soldered as drawn, and parts whose flags send them to the wrong process."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place, places_of
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.leadholes import is_soldered_lead
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.mask import Mask
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.wording import counted, listed, natural, pad_name
from lineworthy.model import Board, Mount, Pad, PadKind, PadRole, Part, Side
from lineworthy.registry import Answers, Check, check

COVERED = 0.5
"""A print of which more than this share lies on mask makes no joint worth the name."""

SHARE_TOL = 1e-6

_NOT_SOLDERED = frozenset({Family.MECHANICAL, Family.ANTENNA})
"""Drawn on the board, not placed on it: test pads, solder jumpers, net ties, printed antennas."""

_CELL = re.compile(r"batter|coin|CR\d{4}", re.IGNORECASE)
"""A cell touches the bare land in its holder."""

BOTH = "on both sides"

_Verdict = tuple[Consequence, str]
"""What it costs, and where."""

_MARKS = (PadRole.FIDUCIAL_GLOBAL, PadRole.FIDUCIAL_LOCAL, PadRole.TEST_POINT)


@check("solder/land-without-paste")
def land_without_paste(board: Board, joints: Joints, packages: Packages, marks: Marks) -> Answers:
    """Do lands of machine-placed surface parts get no paste?

    Why it matters: what the stencil leaves out has no solder when it goes through the oven. The pin is open, or the
    part falls off; nobody notices before test, because the placement looks right.
    What to do: open the paste layer over the land, in windows where it is large. Where a land is meant to stay bare or
    is soldered by hand, declare it a pad without paste (an edge connector's land) or leave the part out of the
    placement file.
    Blind spots: paste counts wherever it is drawn, also in another pad or as artwork. Left out are parts that are not
    fitted, that are excluded from the placement file or not flagged as surface parts, fiducials, test points, solder
    jumpers, net ties and antennas, lands that a cell touches in its holder, and lands that the mask covers. A part none
    of whose lands is printed may be meant for solder by hand: that is a note for connectors, a query for all others.
    Source: common practice; that fiducials, test pads and edge fingers take no paste is common practice, too.
    """
    bare: dict[tuple[Consequence, str, str], list[tuple[Part, list[Land], int]]] = defaultdict(list)
    for part in board.parts:
        family = packages.of(part).family
        if not (part.fitted and part.in_placement and part.mount is Mount.SURFACE) or part.board_only:
            continue
        if family in _NOT_SOLDERED or any(marks.is_fiducial(pad) or marks.is_test_point(pad) for pad in part.pads):
            continue
        lands = [land for land in joints.of(part) if land.is_bare and land.pad.role not in _MARKS]
        missing = _unprinted(lands)
        if missing and not (_CELL.search(part.package) and len(missing) < len(lands)):
            all_of_it = len(missing) == len(lands)
            by_hand = all_of_it and family is Family.CONNECTOR
            kind = Consequence.NOTE if by_hand else Consequence.QUERY
            pins = "" if all_of_it else _pins(missing)
            bare[kind, part.package, pins].append((part, missing, len(lands)))
    for (kind, package, pins), group in sorted(bare.items(), key=lambda item: (item[0][0].rank, item[0][1:])):
        yield _unprinted_finding(kind, package, pins, group)


def _unprinted(lands: Sequence[Land]) -> list[Land]:
    """Lands without paste; of pins with several lands only those none of which has any."""
    printed = {land.number for land in lands if land.is_printed and land.number}
    return [land for land in lands if not land.is_printed and land.number not in printed]


def _unprinted_finding(
    kind: Consequence, package: str, pins: str, group: Sequence[tuple[Part, Sequence[Land], int]]
) -> Finding:
    group = sorted(group, key=lambda row: (natural(row[0].reference), row[0].uid))
    parts, lands = [row[0] for row in group], [land for row in group for land in row[1]]
    named = f" ({package})" if package else ""
    count, of = len(group[0][1]), group[0][2]
    which = f"pad {pins} of {of}" if count == 1 else f"{count} of {of} lands"
    what = f"{which} {'gets' if count == 1 else 'get'} no paste" if pins else "no land gets paste"
    if all(land.part.side.other in pad.paste for land in lands for pad in land.pads):
        what += ", which is drawn on the other side of the board"
    return land_without_paste.finding(
        kind,
        f"{listed(part.reference for part in parts)}{named}: {what}",
        items=[*parts, *((land.part, land.pad) for land in lands)],
        places=_places(lands) if pins else places_of(parts),
        detail=pins,
    )


@check("solder/land-under-mask")
def land_under_mask(board: Board, joints: Joints, packages: Packages, marks: Marks, mask: Mask) -> Answers:
    """Does solder mask cover lands and leads that are to be soldered?

    Why it matters: solder does not wet mask. Paste printed onto it balls up beside the part, a lead in a covered ring
    is held by nothing, and scraping the mask off by hand costs more than the board.
    What to do: open the mask over the land. Where the covered copper is meant, as an antenna or a heat spreader, take
    the paste away as well.
    Blind spots: paste on mask holds the job where it covers all of a land's print and nothing is soldered to the same
    pin elsewhere; partly covered prints are a query, as are leads covered on both sides or on the one where they are
    soldered, the side opposite to the part. A lead covered on the part's side only is a note, and only where other
    leads of the part are open there. Openings count wherever they are drawn. Left out are parts not fitted, press-fit
    and mounting holes, test points, leads printed with paste, copper with neither paste nor opening in a part that is
    not soldered otherwise.
    Source: common practice; that solder does not wet the mask is what the mask is for.
    """
    hidden: dict[tuple[Consequence, str, Side], list[Land]] = defaultdict(list)
    leads: dict[_Verdict, list[tuple[Part, Pad]]] = defaultdict(list)
    for part in board.parts:
        facts = packages.of(part)
        if not part.fitted or part.board_only or facts.family in _NOT_SOLDERED:
            continue
        for land, kind in _covered(joints.of(part)):
            hidden[kind, part.package, part.side].append(land)
        some = [pad for pad in facts.leads if is_soldered_lead(pad) and not marks.is_test_point(pad)]
        for pad, verdict in _covered_leads(mask, board, part, some):
            leads[verdict].append((part, pad))
    for (kind, package, _), lands in sorted(hidden.items(), key=lambda item: (item[0][0].rank, item[0][1])):
        yield _hidden_finding(kind, package, lands)
    for (kind, where), some_leads in sorted(leads.items(), key=lambda item: (item[0][0].rank, item[0][1])):
        yield _closed_rings(kind, where, some_leads)


def _covered_leads(mask: Mask, board: Board, part: Part, leads: Sequence[Pad]) -> Iterable[tuple[Pad, _Verdict]]:
    """Leads of which the mask covers the ring, with what that costs and where it is covered."""
    far = part.side.other
    closed = {pad: {side for side in Side if _is_closed(mask, pad, side, board.copper_on(side))} for pad in leads}
    mostly_open = 2 * sum(1 for sides in closed.values() if part.side in sides) < len(leads)
    for pad, sides in closed.items():
        if len(sides) == len(Side):
            yield pad, (Consequence.QUERY, BOTH)
        elif far in sides and not pad.paste:
            yield pad, (Consequence.QUERY, f"on the {far.value}, the side where leads are soldered")
        elif part.side in sides and mostly_open:
            yield pad, (Consequence.NOTE, f"on the {part.side.value}, where most of the part's leads are open")


def _is_closed(mask: Mask, pad: Pad, side: Side, layer: str) -> bool:
    """Whether the mask covers all copper of a lead on a side, where it has some."""
    copper = pad.copper.get(layer)
    if copper is None or side in pad.mask:
        return False
    return not len(mask.openings(side).tree.query(copper, predicate="intersects"))


def _covered(lands: Sequence[Land]) -> Iterable[tuple[Land, Consequence]]:
    """Lands whose print lies on mask, with what that costs."""
    shares = {land: _on_mask(land) for land in lands if land.is_printed}
    soldered = {land.number for land, share in shares.items() if land.number and share <= COVERED + SHARE_TOL}
    for land, share in shares.items():
        if share > COVERED + SHARE_TOL and land.number not in soldered:
            yield land, Consequence.HOLD if share > 1.0 - SHARE_TOL else Consequence.QUERY


def _on_mask(land: Land) -> float:
    """Share of a land's print that lies on mask; mostly all of the copper is bare, and none of it does."""
    if land.bare is land.copper:
        return 0.0
    return float(1.0 - land.printed.intersection(land.bare).area / land.printed.area)


def _closed_rings(kind: Consequence, where: str, leads: list[tuple[Part, Pad]]) -> Finding:
    leads = sorted(leads, key=lambda lead: (natural(lead[0].reference), natural(lead[1].number), lead[1].uid))
    return land_under_mask.finding(
        kind,
        f"{counted(len(leads), 'lead')} of {listed(part.reference for part, _ in leads)}: the mask covers the ring"
        f" {where}",
        items=leads,
        places=[Place(pad.at, part.side, _label(part, pad)) for part, pad in leads],
        # what is covered on both sides was told first, and keeps its name
        detail="leads" if where == BOTH else f"leads {where}",
    )


def _hidden_finding(kind: Consequence, package: str, lands: Sequence[Land]) -> Finding:
    lands = sorted(lands, key=lambda land: (natural(land.part.reference), natural(land.number), land.pad.uid))
    named = f" ({package})" if package else ""
    how = "lies on mask" if kind is Consequence.HOLD else "lies mostly on mask"
    return land_under_mask.finding(
        kind,
        f"Paste of {counted(len(lands), 'land')} of {listed(land.part.reference for land in lands)}{named} {how}",
        items=[(land.part, land.pad) for land in lands],
        places=_places(lands),
    )


@check("solder/mount-flag-misleads")
def mount_flag_misleads(board: Board, joints: Joints, packages: Packages) -> Answers:
    """Do a part's flags say something else than its lands about how it is mounted?

    Why it matters: placement files and parts lists are filtered by these flags. A surface part flagged through-hole, or
    with no kind of mounting at all, is missing from the machine's file and comes back unplaced; a through-hole part
    flagged as surface part is programmed for a machine that cannot place it. A part whose lands are on the other side
    is in the placement file of one side and in the stencil of the other.
    What to do: set the kind of mounting in the part's properties, in the library, too; tick or untick the exclusion
    from placement files; flip the part with its lands.
    Blind spots: the lands decide: paste makes a surface part, plated holes with leads a through-hole part, their side
    is that of the part. Parts with both are looked at only where most of their lands take paste and the flags speak
    against it. Left out are parts with lands on both sides, parts not fitted, parts only on the board, test points,
    jumpers, antennas. A factory may place by its own rules.
    Source: common practice.
    """
    told: dict[tuple[Consequence, str], list[Part]] = defaultdict(list)
    for part in board.parts:
        facts = packages.of(part)
        if not part.fitted or part.board_only or not part.in_parts_list or facts.family in _NOT_SOLDERED:
            continue
        pasted = len({land.number for land in joints.of(part) if land.is_printed})
        leads = len({pad.number for pad in facts.leads if pad.role is not PadRole.MECHANICAL})
        wrong = _misled(part, pasted, leads, _on_far_side(board, part))
        if wrong:
            told[wrong].append(part)
    for (kind, text), parts in sorted(told.items(), key=lambda item: (item[0][0].rank, item[0][1])):
        parts.sort(key=lambda part: (natural(part.reference), part.uid))
        yield mount_flag_misleads.finding(
            kind,
            f"{listed(part.reference for part in parts)}: {text}",
            items=parts,
            places=places_of(parts),
            detail=text,
        )


def _on_far_side(board: Board, part: Part) -> bool:
    """Whether all lands of a part, and the paste for them, are on the side opposite to the part."""
    far = part.side.other
    lands = [pad for pad in part.pads if pad.copper]
    is_far = all(set(pad.copper) == {board.copper_on(far)} and set(pad.paste) <= {far} for pad in lands)
    return is_far and any(pad.paste for pad in lands)


def _misled(part: Part, pasted: int, leads: int, far: bool) -> Optional[tuple[Consequence, str]]:
    """What is wrong with a part's flags, None for nothing."""
    kinds = {pad.kind for pad in part.pads}
    wrong = (
        (
            far,
            Consequence.QUERY,
            f"placed on the {part.side.value}, all lands and their paste are on the {part.side.other.value}",
        ),
        (
            part.mount is Mount.SURFACE and leads > 0 and PadKind.SURFACE not in kinds,
            Consequence.NOTE,
            "flagged as surface part, all lands are holes for leads",
        ),
        (
            pasted > 0 and not part.in_placement and not leads,
            Consequence.QUERY,
            "takes paste and is to be fitted, but excluded from the placement file",
        ),
        (
            pasted > leads > 0 and not part.in_placement and part.mount is not Mount.THROUGH,
            Consequence.NOTE,
            "most lands take paste and it is to be fitted, but excluded from the placement file",
        ),
        (
            pasted > 0 and part.mount is Mount.THROUGH and PadKind.THROUGH not in kinds,
            Consequence.QUERY,
            "flagged as through-hole part, has only lands with paste",
        ),
        (
            pasted > leads > 0 and part.mount is Mount.THROUGH,
            Consequence.NOTE,
            "flagged as through-hole part, most lands take paste",
        ),
        (
            pasted > 0 and part.mount is Mount.OTHER and not leads,
            Consequence.NOTE,
            "takes paste, but flagged neither as surface nor as through-hole part",
        ),
    )
    return next(((kind, text) for holds, kind, text in wrong if holds), None)


def _places(lands: Sequence[Land]) -> list[Place]:
    return [Place(land.at, land.part.side, _label(land.part, land.pad)) for land in lands]


def _label(part: Part, pad: Pad) -> str:
    return pad_name(part.reference, pad.number)


def _pins(lands: Sequence[Land]) -> str:
    return listed(land.number or "without a number" for land in lands)


CHECKS: tuple[Check, ...] = (land_without_paste, land_under_mask, mount_flag_misleads)
