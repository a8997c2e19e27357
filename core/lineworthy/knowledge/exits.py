# SPDX-License-Identifier: MIT
"""How much copper leaves a land: what carries heat away from it, and holds its solder back from melting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from lineworthy.geometry import Floats
from lineworthy.knowledge.copper import centre_lines
from lineworthy.knowledge.joints import Land
from lineworthy.knowledge.reliefs import OUTSIDE_MM, Contact, Place, Reliefs
from lineworthy.model import Board, Track


@dataclass(frozen=True, eq=False)
class Exit:
    """What leaves one land on its own layer.

    Attributes:
        width: of all copper that crosses its outline, mm, no more than the outline is long; over webs, of the widest
            web and the tracks.
        contact: how it joins the pours of its net.
        tracks: width of the tracks that leave it, mm.
    """

    land: Land = field(repr=False)
    width: float
    contact: Contact
    tracks: float


def exits(board: Board, lands: Sequence[Land], reliefs: Reliefs) -> list[Exit]:
    """Copper that leaves each of some lands, in their order: pours and tracks of the land's net on its layer."""
    layers = [board.copper_on(land.part.side) for land in lands]
    contacts = reliefs.of([Place(layer, land.pad.net, land.copper) for layer, land in zip(layers, lands)])
    tracks = _tracks(board, lands, layers)
    found = []
    for land, contact, leaving in zip(lands, contacts, tracks):
        outline = contact.outline or float(land.copper.length)
        poured = contact.width if contact.is_solid else max(contact.webs, default=0.0)
        found.append(Exit(land, min(outline, poured + float(leaving)), contact, float(leaving)))
    return found


def _tracks(board: Board, lands: Sequence[Land], layers: Sequence[str]) -> Floats:
    """Width of all tracks that cross the outline of each land."""
    leaving = np.zeros(len(lands))
    members: dict[str, list[int]] = defaultdict(list)
    for n, layer in enumerate(layers):
        members[layer].append(n)
    wanted = {(layer, land.pad.net) for layer, land in zip(layers, lands) if land.pad.net}
    by_layer = _by_layer(board.tracks, wanted)
    for layer, some in members.items():
        tracks = by_layer.get(layer, [])
        if not tracks:
            continue
        lines = centre_lines(tracks)
        grown = shapely.buffer(np.array([lands[n].copper for n in some], dtype=object), OUTSIDE_MM, quad_segs=4)
        rings = shapely.boundary(grown)
        i, j = shapely.STRtree(lines).query(rings, predicate="intersects")
        crossings = shapely.get_num_geometries(shapely.intersection(rings[i], lines[j]))
        for a, b, count in zip(i.tolist(), j.tolist(), crossings.tolist()):
            if tracks[b].net == lands[some[a]].pad.net:
                leaving[some[a]] += tracks[b].width * count
    return leaving


def _by_layer(tracks: Sequence[Track], wanted: set[tuple[str, str]]) -> Mapping[str, list[Track]]:
    found: dict[str, list[Track]] = defaultdict(list)
    for track in tracks:
        if (track.layer, track.net) in wanted:
            found[track.layer].append(track)
    return found
