# SPDX-License-Identifier: MIT
"""Leads in planes: can an iron, a wave or a nozzle heat them?"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.reliefs import Contact, Reliefs
from lineworthy.knowledge.reliefs import Place as Spot
from lineworthy.knowledge.wording import counted, listed, mm, natural, pad_name
from lineworthy.model import Board, Pad, PadRole, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

WEB_KEY = "solder.relief_web_max_mm"

PLANE_MIN_MM2 = 100.0
"""A smaller pour warms up with the joint (common practice, no source)."""

COPPER_MM = 0.035
"""Thickness of one ounce of copper to the square foot, which the limit on webs is stated for."""

WEB_SHARE = 0.6
"""All webs of a layer together, as a share of the land's diameter (IPC-2222, as IPC-D-275 before it)."""

THICK_LEAD_MM = 1.5
"""Holes from here on take pins of high-current terminals, which are joined solidly for the current's sake."""

SHOWN = 60
"""Places of one finding on the map; more of the same kind help nobody."""

_POWER = re.compile(r"terminal|screw|\bXT-?\d0|anderson|power-?pole|fast-?on|blade|bus-?bar|lug", re.I)
_PRESS_FIT = re.compile(r"press[-_ ]?fit|einpress", re.I)


@dataclass(frozen=True, eq=False)
class _Lead:
    """A plated hole of a part, with the planes it joins by layer; `webs` is their total width at one ounce, mm."""

    part: Part
    pad: Pad
    joins: dict[str, Contact] = field(repr=False)
    webs: float

    @property
    def solid(self) -> list[str]:
        """Layers where it is joined without relief."""
        return [layer for layer, contact in self.joins.items() if contact.is_solid]


@check("solder/no-thermal-relief")
def no_thermal_relief(board: Board, packages: Packages, reliefs: Reliefs) -> Answers:
    """Are leads joined to planes without thermal relief, so that the joint cannot be heated?

    Why it matters: a plane draws heat from the hole faster than an iron or a wave brings it in. The solder freezes
    before it has filled the hole, the joint is cold, and a part that has to come out again takes the board along.
    What to do: join part holes to planes and pours over webs; the pour's settings in the editor hold for all its pads,
    a pad can have its own. On many planes, join only as many as the current needs.
    Blind spots: measured round each land on each layer in the pours as they are filled; a land is solid where one
    stretch of more than a third of its outline lies in a pour of 1 cm2 or more. One such layer is a note, two are a
    query. Tracks and drawn copper are not counted. Left out are parts that are not fitted, vias, mounting holes,
    press-fit pins as far as declared or called so, terminals called so and holes of 1.5 mm and more, whose current
    wants solid copper.
    Source: from memory: IPC-2221 and IPC-2222 ask for relief of plated holes in large conductor areas that are
    soldered; the thresholds are common practice, no source.
    """
    if reliefs.unfilled:
        yield no_thermal_relief.not_run("no filled pours", "fill all pours in the editor and save the board")
    leads = [lead for lead in _leads(board, packages, reliefs) if lead.solid]
    for kind, some in (
        (Consequence.QUERY, [lead for lead in leads if len(lead.solid) > 1]),
        (Consequence.NOTE, [lead for lead in leads if len(lead.solid) == 1]),
    ):
        if some:
            yield _solid_finding(kind, some, board)


def _solid_finding(kind: Consequence, leads: Sequence[_Lead], board: Board) -> Finding:
    worst = max(len(lead.solid) for lead in leads)
    layers = {layer for lead in leads for layer in lead.solid}
    named = [layer for layer in board.copper_layers if layer in layers]
    on = f"on {named[0]}" if len(named) == 1 else f"on up to {worst} of {', '.join(named)}"
    on = f"on one of {', '.join(named)}" if worst == 1 < len(named) else on
    nets = listed((lead.pad.net for lead in leads), most=3)
    return no_thermal_relief.finding(
        kind,
        f"{counted(len(leads), 'lead')} of {listed(lead.part.reference for lead in leads)}: joined to {nets} without"
        f" thermal relief {on}",
        items=[(lead.part, lead.pad) for lead in leads],
        places=_places(leads),
    )


@check("solder/relief-webs-too-wide", limits=(WEB_KEY,))
def relief_webs_too_wide(board: Board, sheet: Sheet, packages: Packages, reliefs: Reliefs) -> Answers:
    """Do the webs of all layers together carry so much heat away from a lead that relief is none?

    Why it matters: each plane adds its webs. A hole that joins ten planes over narrow webs is as hard to solder as one
    that joins a single plane all round.
    What to do: fewer or narrower webs on each layer: all webs of a layer together 60 % of the land's diameter; or join
    fewer layers, and leave the others to vias beside the lead.
    Blind spots: webs are measured in the pours as they are filled, straight across; copper thicker than 35 um counts
    for more where the stack-up says so. Leads that are joined without relief somewhere are told elsewhere. Left out is
    what is left out there.
    Source: IPC-D-275 as explained by IPC's staff on a trade mailing list, 1995: 4.06 mm for one ounce, 2.03 mm for
    two; IPC-2222 as quoted on another, 2003, has 4 mm.
    """
    limit = float(sheet.value(WEB_KEY))
    leads = [lead for lead in _leads(board, packages, reliefs) if not lead.solid and exceeds(lead.webs, limit)]
    if leads:
        worst = max(leads, key=lambda lead: (round(lead.webs, 3), natural(lead.part.reference)))
        webs = max(len(contact.webs) for contact in worst.joins.values())
        wanted = web_width(min(worst.pad.size), webs)
        yield relief_webs_too_wide.finding(
            Consequence.NOTE,
            f"{counted(len(leads), 'lead')} of {listed(lead.part.reference for lead in leads)}: relief webs of all"
            f" layers together up to {mm(worst.webs)} mm wide ({_label(worst)}), {mm(limit)} mm at most;"
            f" {counted(webs, 'web')} of {mm(wanted)} mm to a layer would suit this land",
            items=[(lead.part, lead.pad) for lead in leads],
            places=_places(leads),
            measured=worst.webs,
            limit=limit,
            limit_key=WEB_KEY,
        )


def web_width(land: float, webs: int) -> float:
    """How wide each of some webs on one layer should be for a land of some diameter, mm: together 60 % of it."""
    return WEB_SHARE * land / webs


def total_web(widths: Sequence[tuple[float, float]]) -> float:
    """Total width of webs at one ounce of copper, mm: of each layer its webs' width and its copper's thickness, mm."""
    return sum(width * thickness / COPPER_MM for width, thickness in widths)


def _leads(board: Board, packages: Packages, reliefs: Reliefs) -> list[_Lead]:
    """Leads that are soldered and join a plane, in natural order."""
    rows = [(part, pad) for part in board.parts if part.fitted for pad in _soldered(part, packages)]
    spots = [(n, layer) for n, (_, pad) in enumerate(rows) for layer in pad.copper]
    found = reliefs.of([Spot(layer, rows[n][1].net, rows[n][1].copper[layer]) for n, layer in spots])
    joins: dict[int, dict[str, Contact]] = {}
    for (n, layer), contact in zip(spots, found):
        if contact.pour >= PLANE_MIN_MM2:
            joins.setdefault(n, {})[layer] = contact
    thickness = {layer.name: layer.thickness or COPPER_MM for layer in board.stackup.layers}
    leads = [
        _Lead(
            *rows[n],
            joins=planes,
            webs=total_web([(sum(c.webs), thickness.get(layer, COPPER_MM)) for layer, c in planes.items()]),
        )
        for n, planes in joins.items()
    ]
    return sorted(leads, key=lambda lead: (natural(lead.part.reference), natural(lead.pad.number), lead.pad.uid))


def _soldered(part: Part, packages: Packages) -> list[Pad]:
    facts = packages.of(part)
    said = f"{part.value} {part.description} {part.package} {' '.join(part.fields.values())}"
    if facts.family is Family.MECHANICAL or _POWER.search(part.package) or _PRESS_FIT.search(said):
        return []
    return [
        pad
        for pad in facts.leads
        if pad.net
        and pad.role not in (PadRole.PRESS_FIT, PadRole.MECHANICAL)
        and pad.hole is not None
        and pad.hole.diameter < THICK_LEAD_MM
    ]


def _places(leads: Sequence[_Lead]) -> list[Place]:
    return [Place(lead.pad.at, lead.part.side, _label(lead)) for lead in leads[:SHOWN]]


def _label(lead: _Lead) -> str:
    return pad_name(lead.part.reference, lead.pad.number)


CHECKS: tuple[Check, ...] = (no_thermal_relief, relief_webs_too_wide)
