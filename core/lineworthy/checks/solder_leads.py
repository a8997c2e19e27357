# SPDX-License-Identifier: MIT
"""Holes for leads: do the leads go in, and does the solder rise round them?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.leadsizes import LeadSize, hole_for, land_for, lead_of
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Pad, PadRole, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

TOLERANCE_KEY = "solder.lead_hole_tolerance_mm"
ROOM_KEY, SLACK_KEY = "solder.lead_hole_room_mm", "solder.lead_hole_slack_mm"

LAND_ALLOWANCE_MM = 0.50
"""Allowance of level B for the land (IPC-2221, as quoted in a designer's notes)."""

SCREW_MIN_MM = 2.5
"""A hole this wide, and twice as wide as the lead, takes the screw or the rivet of a tab."""


@check("solder/hole-misfits-lead", limits=(TOLERANCE_KEY, ROOM_KEY, SLACK_KEY))
def hole_misfits_lead(board: Board, sheet: Sheet, packages: Packages) -> Answers:
    """Are plated holes too tight or too wide for the leads that go into them?

    Why it matters: a lead that does not go in stops the assembly. In a tight hole the solder does not rise, in a wide
    one it runs through, and the part leans.
    What to do: take the lead's largest section, the diagonal of a square pin, and add the room of your level; mind that
    the file names the finished hole.
    Blind spots: only leads whose size is known are judged: by a field (lead diameter, pin size), by an IPC land-pattern
    name, pins of usual headers, a few standard wires, flat leads of usual outlines. Square and flat ones are judged by
    whether their diagonal goes in with the tolerance of the hole and no further: beside their flats there is room for
    solder, and most libraries give 0.64 mm pins holes of 1.0 mm where the rule asks for 1.105 mm. Slots are judged by
    their width. Press-fit pins are left out, as are holes from 2.5 mm, which take the screw of a tab.
    Source: room for the lead: IPC-2222, as quoted in a designer's notes; slack: from memory, IPC-2222; tolerance of
    the hole: common practice, no source.
    """
    groups: dict[tuple[Consequence, str, str], list[tuple[Part, Pad]]] = defaultdict(list)
    sizes: dict[str, LeadSize] = {}
    for part in board.parts:
        size = lead_of(part) if part.fitted else None
        for pad in packages.of(part).leads if size is not None else ():
            if size is None or pad.hole is None or pad.role in (PadRole.PRESS_FIT, PadRole.MECHANICAL):
                continue
            if not falls_short(pad.hole.diameter, max(SCREW_MIN_MM, 2 * size.most)):
                continue
            verdict = _verdict(pad.hole.diameter, size, sheet)
            if verdict is not None:
                key = f"{part.package} {mm(pad.hole.diameter)} {size}"
                sizes[key] = size
                groups[verdict[0], verdict[1], key].append((part, pad))
    for (kind, limit_key, key), leads in sorted(groups.items(), key=lambda item: (item[0][0].rank, item[0][1:])):
        yield _finding(kind, limit_key, sizes[key], leads, sheet)


def _verdict(hole: float, size: LeadSize, sheet: Sheet) -> Optional[tuple[Consequence, str]]:
    """What a hole is to a lead: the consequence and the limit it misses, None where it fits."""
    if falls_short(hole, size.most + sheet.solder.lead_hole_tolerance_mm):
        return Consequence.QUERY, TOLERANCE_KEY
    if size.round and falls_short(hole, hole_for(size.most, sheet.solder.lead_hole_room_mm)):
        return Consequence.NOTE, ROOM_KEY
    if exceeds(hole, size.least + sheet.solder.lead_hole_slack_mm):
        return Consequence.NOTE, SLACK_KEY
    return None


def _finding(
    kind: Consequence, limit_key: str, size: LeadSize, leads: Sequence[tuple[Part, Pad]], sheet: Sheet
) -> Finding:
    leads = sorted(leads, key=lambda lead: (natural(lead[0].reference), natural(lead[1].number), lead[1].uid))
    hole = leads[0][1].hole
    assert hole is not None
    room = float(sheet.value(limit_key))
    across = f"{mm(size.most)} mm {'thick' if size.round else 'across corners'}"
    suited = hole_for(size.most, sheet.solder.lead_hole_room_mm)
    if limit_key == SLACK_KEY:
        need, told = size.least + room, f"wider than {mm(size.least + room)} mm"
    else:
        need, told = size.most + room, f"{mm(size.most + room)} mm needed"
    return hole_misfits_lead.finding(
        kind,
        f"{counted(len(leads), 'hole')} of {listed(part.reference for part, _ in leads)}: {mm(hole.diameter)} mm for"
        f" leads {across} ({size.said}), {told}; {mm(suited)} mm in a land of"
        f" {mm(land_for(suited, LAND_ALLOWANCE_MM))} mm suits them",
        items=leads,
        places=[Place(pad.at, part.side, f"{part.reference} pad {pad.number}") for part, pad in leads],
        measured=hole.diameter,
        limit=need,
        limit_key=limit_key,
        detail=mm(hole.diameter),
    )


CHECKS: tuple[Check, ...] = (hole_misfits_lead,)
