# SPDX-License-Identifier: MIT
"""Tracks that meet at so sharp an angle that etchant or solder collects in the corner."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.geometry import Floats
from lineworthy.knowledge.gaps import Layer
from lineworthy.model import CopperArea, Track
from lineworthy.shapes import Point

GRID_MM = 1e-3
"""Ends of tracks within a micrometre meet."""

DOUBLED_DEG = 10.0
"""At less than this, tracks lie on each other rather than form a corner."""

LEG_RATIO = 2.0
"""Tracks shorter than so many widths leave no corner between them."""


class Join(NamedTuple):
    """Two tracks that meet at `angle` degrees."""

    one: Track
    other: Track
    at: Point
    angle: float


def sharp_joins(copper: Sequence[Layer], below: float) -> list[Join]:
    """Ends of tracks of one net that meet at less than `below` degrees, sharpest first, in the open.

    In the open: not on a land, and not under a pour of the same net, which fill the corner.
    """
    found: list[Join] = []
    for layer in copper:
        joins = _on_layer([one for one in layer.owners if isinstance(one, Track)], below)
        if joins:
            filled = _filled(layer, joins)
            found += [join for join, is_filled in zip(joins, filled) if not is_filled]
    return sorted(found, key=lambda join: (round(join.angle, 6), join.one.layer, join.at))


def _on_layer(tracks: Sequence[Track], below: float) -> list[Join]:
    """Neighbouring directions round each point where tracks of a net end."""
    spans = np.array([(*track.start, *track.end, track.width) for track in tracks]).reshape(-1, 5)
    long_ = np.hypot(spans[:, 2] - spans[:, 0], spans[:, 3] - spans[:, 1]) >= LEG_RATIO * spans[:, 4]
    tracks = [track for track, is_long in zip(tracks, long_) if is_long]
    if not tracks:
        return []
    ends, ways = _ends(tracks)
    nets: dict[str, int] = {}
    net = np.array([nets.setdefault(track.net, len(nets)) for track in tracks] * 2)
    spot = np.column_stack([net, np.round(ends / GRID_MM)])
    _, group = np.unique(spot, axis=0, return_inverse=True)
    group = group.reshape(-1)
    angle = np.degrees(np.arctan2(ways[:, 1], ways[:, 0]))
    order = np.lexsort((angle, group))
    group, angle = group[order], angle[order]
    last = np.flatnonzero(np.diff(group, append=-1))
    first = np.concatenate([[0], last[:-1] + 1])
    after = np.arange(len(order)) + 1
    after[last] = first
    turn = (angle[after] - angle) % 360.0
    found = []
    for n in np.flatnonzero((turn > DOUBLED_DEG) & (turn < below - 1e-3)):
        one, other = (tracks[order[k] % len(tracks)] for k in (n, after[n]))
        x, y = ends[order[n]]
        found.append(Join(one, other, (float(x), float(y)), float(turn[n])))
    return found


def _ends(tracks: Sequence[Track]) -> tuple[Floats, Floats]:
    """Both ends of tracks, starts first, and the way each track takes from there."""
    curved = [n for n, track in enumerate(tracks) if track.mid is not None]
    start = np.array([track.start for track in tracks])
    end = np.array([track.end for track in tracks])
    out, back = end - start, start - end
    for n in curved:
        path = tracks[n].path
        out[n], back[n] = path[1] - path[0], path[-2] - path[-1]
    return np.concatenate([start, end]), np.concatenate([out, back])


def _filled(layer: Layer, joins: Sequence[Join]) -> npt.NDArray[np.bool_]:
    """Which joins lie on a land or under a pour of their net."""
    spots = np.array([join.at for join in joins])
    nets = np.array([join.one.net for join in joins], dtype=object)
    filled = np.zeros(len(joins), dtype=bool)
    lands = np.flatnonzero([not isinstance(owner, (Track, CopperArea)) for owner in layer.owners])
    points = np.asarray(shapely.points(spots), dtype=object)
    i, j = shapely.STRtree(points).query(layer.shapes[lands], predicate="dwithin", distance=layer.half[lands])
    filled[j[layer.nets[lands[i]] == nets[j]]] = True
    for fill in layer.fills:
        same = np.flatnonzero(~filled & (nets == fill.area.net))
        filled[same] = fill.holds(spots[same])
    return filled
