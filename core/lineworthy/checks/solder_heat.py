# SPDX-License-Identifier: MIT
"""Heat lands under packages: enough paste to wet them, not so much that the part floats, and a way for the heat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.knowledge.drains import heat_lands
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, CopperArea, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

LOW_KEY, HIGH_KEY = "solder.heat_land_paste_min_percent", "solder.heat_land_paste_max_percent"

LAND_MIN_MM2 = 4.0
"""On a smaller land the paste does not lift the part, and no window fits (common practice, no source)."""

PERCENT_TOL = 0.5
"""Rounded corners of lands and prints differ by this much."""


@dataclass(frozen=True, eq=False)
class _Print:
    """A heat land under a package with the share of its bare copper that is printed, percent."""

    land: Land = field(repr=False)
    share: float
    windows: int
    holes: int


@check("solder/heat-land-badly-printed", limits=(LOW_KEY, HIGH_KEY))
def heat_land_badly_printed(board: Board, sheet: Sheet, joints: Joints) -> Answers:
    """Is the heat land under a package printed too fully, or too sparsely?

    Why it matters: a large print in one piece lifts the part, so that its pins stand off the paste, and the gas of the
    flux finds no way out and leaves voids. Too little leaves the land half wetted, and heat and the ground current do
    not get through.
    What to do: cut the print into windows of 1 to 2 mm with gaps for the gas, 50 to 80 % of the land in all; keep holes
    out of the windows.
    Blind spots: many assemblers cut the print themselves; ask. Judged are lands of 4 mm2 and more, at least three times
    the part's usual land, that lie under the body; a package without a drawn body, and tabs that stick out, are not.
    A land without any paste is told elsewhere. Holes in the land are counted; where there are none, see
    solder/heat-land-without-hole.
    Source: common practice, no source.
    """
    low, high = float(sheet.value(LOW_KEY)), float(sheet.value(HIGH_KEY))
    prints = sorted(_prints(board, joints), key=_order)
    full = [one for one in prints if one.share > high + PERCENT_TOL]
    sparse = [one for one in prints if one.share < low - PERCENT_TOL]
    if full:
        yield _finding(
            full, max(full, key=lambda one: (round(one.share, 1), round(one.land.bare.area, 3))), high, HIGH_KEY
        )
    if sparse:
        yield _finding(
            sparse, min(sparse, key=lambda one: (round(one.share, 1), -round(one.land.bare.area, 3))), low, LOW_KEY
        )


def _finding(prints: Sequence[_Print], worst: _Print, limit: float, key: str) -> Finding:
    most = key == HIGH_KEY
    windows = counted(worst.windows, "window")
    holes = f"{counted(worst.holes, 'hole')}" if worst.holes else "no hole"
    return heat_land_badly_printed.finding(
        Consequence.NOTE,
        f"{counted(len(prints), 'heat land')} of {listed(one.land.part.reference for one in prints)}:"
        f" {'up' if most else 'down'} to {worst.share:.0f} % printed ({worst.land.part.reference}:"
        f" {worst.land.bare.area:.1f} mm2, {windows}, {holes}); {limit:.0f} % at {'most' if most else 'least'}",
        items=[(one.land.part, one.land.pad) for one in prints],
        places=[Place(one.land.at, one.land.part.side, _label(one)) for one in prints],
        measured=worst.share,
        limit=limit,
        unit="percent",
        limit_key=key,
        detail="full" if most else "sparse",
    )


@check("solder/heat-land-without-hole")
def heat_land_without_hole(board: Board, joints: Joints) -> Answers:
    """Is there no hole in the heat land under a package, though a pour of its net lies right below it?

    Why it matters: board conducts heat a thousand times worse than copper. Without holes the land's heat stays on its
    face, the part runs hot, and a ground land that is the chip's return has only the way between its pins.
    What to do: holes of 0.2 to 0.3 mm every 1 to 1.2 mm, as the part's data sheet shows them, covered on the far side;
    nothing where the part stays cold and its pins carry the ground.
    Blind spots: what heat the part makes is not known. Judged is the largest land of a part of those that
    solder/heat-land-badly-printed looks at; the pour is looked for below its middle.
    Source: common practice, no source.
    """
    prints = sorted(_prints(board, joints), key=lambda one: (round(one.land.copper.area, 3), *_order(one)))
    largest = {one.land.part: one for one in prints}
    bare = []
    for one in sorted(largest.values(), key=_order):
        below = [area.layer for area in board.areas if not one.holes and _lies_below(area, one.land)]
        if below:
            bare.append((one, min(below, key=board.copper_layers.index)))
    if bare:
        first, layer = max(bare, key=lambda row: round(row[0].land.copper.area, 3))
        yield heat_land_without_hole.finding(
            Consequence.NOTE,
            f"{counted(len(bare), 'heat land')} of {listed(one.land.part.reference for one, _ in bare)}: no hole leads"
            f" to the pour below ({first.land.part.reference}: {first.land.copper.area:.1f} mm2 over"
            f" {first.land.pad.net} on {layer})",
            items=[(one.land.part, one.land.pad) for one, _ in bare],
            places=[
                Place(one.land.at, one.land.part.side, f"{one.land.part.reference} pad {one.land.number}")
                for one, _ in bare
            ],
        )


def _lies_below(area: CopperArea, land: Land) -> bool:
    """Whether a pour of a land's net fills the board below its middle."""
    pad = land.pad
    if area.net != pad.net or not pad.net or area.layer in pad.copper:
        return False
    for ring in area.rings:
        (left, low), (right, high) = ring.min(axis=0), ring.max(axis=0)
        within = left <= land.at[0] <= right and low <= land.at[1] <= high
        # a ring joined to its holes by cuts is no valid polygon, but inside is inside
        if within and len(ring) >= 3 and shapely.contains_xy(Polygon(ring), *land.at):
            return True
    return False


def _prints(board: Board, joints: Joints) -> list[_Print]:
    lands = [land for part in board.parts if part.fitted for land in _under(part, joints.of(part))]
    # vias that are placed as parts of their own, or drawn as pads of the package, are holes like any other
    spots = [via.at for via in board.vias]
    spots += [pad.at for _, pad in board.pads if pad.hole is not None and pad.hole.plated]
    holes = np.asarray(shapely.points(np.array(spots).reshape(-1, 2)), dtype=object)
    owners, _ = shapely.STRtree(holes).query(
        np.array([land.copper for land in lands], dtype=object), predicate="contains"
    )
    count = np.bincount(owners, minlength=len(lands))
    found = []
    for land, within in zip(lands, count.tolist()):
        share = 100.0 * land.printed.intersection(land.bare).area / land.bare.area
        found.append(_Print(land, share, len(shapely.get_parts(land.printed)), within))
    return found


def _under(part: Part, lands: Sequence[Land]) -> Iterator[Land]:
    """The printed heat lands that lie under a part's body."""
    for n in sorted(heat_lands(lands)) if part.body is not None else ():
        land = lands[n]
        if land.is_printed and land.bare.area >= LAND_MIN_MM2 and shapely.covers(part.body, land.copper):
            yield land


def _order(one: _Print) -> tuple[object, ...]:
    return (natural(one.land.part.reference), natural(one.land.number), one.land.part.uid)


def _label(one: _Print) -> str:
    return f"{one.land.part.reference} pad {one.land.number}, {one.share:.0f} % printed"


CHECKS: tuple[Check, ...] = (heat_land_badly_printed, heat_land_without_hole)
