# SPDX-License-Identifier: MIT
"""What leaves the building: is the board in a state from which files can be plotted?"""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Place, centre
from lineworthy.knowledge.copper import centre_lines, spanned
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, CopperArea
from lineworthy.registry import Answers, check

SLIVER_MM = 0.1
"""Copper narrower than this is not poured (common practice, no source)."""


@check("release/pour-unfilled")
def pour_unfilled(board: Board) -> Answers:
    """Do copper pours hold no copper at review time?

    Why it matters: a plot writes what the document holds. Files made from this state lack the copper of these pours,
    and nothing in the files shows that it was ever meant to be there.
    What to do: fill all pours, look at the result, save, review again. Take out pours that are no longer wanted.
    Blind spots: a fill that is there but out of date is not noticed; the editor's own rule check shows it. A pour that
    others of a higher priority cover is passed over, as it would get no copper.
    Source: the document itself.
    """
    empty = [(area, room) for area in board.areas if area.unfilled if not (room := _room(board, area)).is_empty]
    waiting = [area for area, room in empty if not area.net or _reached(board, area, room)]
    orphans = [area for area, room in empty if area not in waiting]
    for consequence, found, why in (
        (Consequence.QUERY, waiting, ""),
        (Consequence.NOTE, orphans, f", and nothing of {'its' if len(orphans) == 1 else 'their'} net lies inside"),
    ):
        if found:
            areas = sorted(found, key=lambda area: (natural(area.net), natural(area.layer), area.uid))
            names = listed(f"{area.net or 'no net'} on {area.layer}" for area in areas)
            yield pour_unfilled.finding(
                consequence,
                f"{counted(len(areas), 'pour')} {'has' if len(areas) == 1 else 'have'} no copper{why}: {names}",
                items=areas,
                places=[Place(centre(area.boundary), board.side_of(area.layer), _label(area)) for area in areas],
                detail=consequence.value,
            )


def _room(board: Board, area: CopperArea) -> BaseGeometry:
    """What is left of a pour's boundary for its own copper, without slivers too thin to be made."""
    above = [other.boundary for other in board.areas if other.layer == area.layer and other.priority > area.priority]
    banned = [keepout.area for keepout in board.keepouts if "pour" in keepout.bans and area.layer in keepout.layers]
    room = shapely.difference(area.boundary, shapely.union_all([*above, *banned]))
    if not board.outline.area.is_empty:
        room = shapely.intersection(room, board.outline.area)
    return shapely.buffer(room, -SLIVER_MM / 2)


def _reached(board: Board, area: CopperArea, room: BaseGeometry) -> bool:
    """Whether a pad, via or track of the same net is there to connect to."""
    same: list[BaseGeometry] = [
        pad.copper[area.layer] for _, pad in board.pads_by_net.get(area.net, ()) if area.layer in pad.copper
    ]
    same += [shapely.Point(via.at) for via in board.vias_by_net.get(area.net, ()) if area.layer in spanned(board, via)]
    same += [*centre_lines([item for item in board.tracks if item.net == area.net and item.layer == area.layer])]
    return bool(shapely.intersects(room, same).any())


def _label(area: CopperArea) -> str:
    return f"pour {area.name or area.net or 'without net'} on {area.layer}"


CHECKS = (pour_unfilled,)
