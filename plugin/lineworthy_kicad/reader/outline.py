# SPDX-License-Identifier: MIT
"""From loose lines and arcs to closed loops: the board's edge, courtyards."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.model import Outline, OutlineFault
from lineworthy.shapes import Area, Coords, Point, polygonal
from lineworthy_kicad.reader.drawn import Drawn

_CROSSINGS_MAX = 50
"""More crossings than these tell nobody anything new."""
SNAP_MM = 0.01
"""Ends this near to each other are joined, as the editor does."""
COURTYARD_SNAP_MM = 0.02
"""The editor is more generous where courtyards are drawn."""


@dataclass
class Chains:
    """What loose paths make.

    Attributes:
        loops: closed ones, as points.
        open_paths: chains that did not close.
        loose: ends that meet no other.
        branches: places where more than two ends meet.
    """

    loops: list[Coords] = field(default_factory=list)
    open_paths: list[Coords] = field(default_factory=list)
    loose: list[Point] = field(default_factory=list)
    branches: list[Point] = field(default_factory=list)


def board_outline(shapes: Sequence[tuple[str, Drawn]]) -> Outline:
    """The board's edge from everything drawn on the outline layer, in any order.

    Args:
        shapes: editor's id and shape of each.

    Returns:
        The outline; its faults say what keeps it from being closed loops, worst gap first.
    """
    uids = tuple(uid for uid, _ in shapes)
    if not shapes:
        return Outline(Polygon(), (OutlineFault("none", None),))
    single, doubled = _once([shape for _, shape in shapes])
    chains = chained(single)
    faults = [OutlineFault("doubled", at) for at in doubled]
    faults += [OutlineFault("branch", at) for at in chains.branches]
    faults += sorted(_gaps(chains), key=lambda fault: (-fault.gap, fault.at or (0.0, 0.0)))
    faults += _crossings(chains.loops)
    area = nested(chains.loops)
    if chains.open_paths and _holds(chains.open_paths, area):
        area = Polygon()
    if area.is_empty and not faults:
        faults.append(OutlineFault("none", None))
    return Outline(area, tuple(faults), uids)


def _once(shapes: Sequence[Drawn]) -> tuple[list[Drawn], list[Point]]:
    """Shapes without those that lie exactly on an earlier one, whichever way they run, and the places of those."""
    seen: set[tuple[tuple[int, ...], ...]] = set()
    single: list[Drawn] = []
    doubled: list[Point] = []
    for shape in shapes:
        points = [tuple(point) for point in np.rint(shape.path / SNAP_MM).astype(int).tolist()]
        # a closed shape may begin at any corner
        key = tuple(sorted(points)) if shape.closed else min(tuple(points), tuple(reversed(points)))
        if key in seen and len(points) > 1:
            doubled.append((float(shape.path[0][0]), float(shape.path[0][1])))
        else:
            seen.add(key)
            single.append(shape)
    return single, doubled


def closed_area(shapes: Sequence[Drawn], snap: float = SNAP_MM) -> Area:
    """The area that closed shapes and chains of open ones enclose; what does not close is left out."""
    return nested(chained(shapes, snap).loops)


def chained(shapes: Sequence[Drawn], snap: float = SNAP_MM) -> Chains:
    """Joins open paths end to end into loops; ends within `snap` mm of each other meet."""
    chains = Chains()
    paths: list[Coords] = []
    for shape in shapes:
        path = shape.path
        if shape.closed:
            if len(path) >= 3:
                chains.loops.append(path)
        elif len(path) >= 2:
            span = np.ptp(path, axis=0)
            if max(span) <= 1e-6:
                continue
            if len(path) > 3 and np.hypot(*(path[0] - path[-1])) <= snap / 2:
                chains.loops.append(path[:-1])
            else:
                paths.append(path)
    if paths:
        _walk(paths, chains, snap)
    return chains


def _walk(paths: list[Coords], chains: Chains, snap: float) -> None:
    """Follows paths from end to end. End 2n is the start of path n, end 2n + 1 its end; ends that meet share a knot."""
    ends = np.array([(path[0], path[-1]) for path in paths]).reshape(-1, 2)
    knot = _knots(ends, snap)
    meeting: dict[int, list[int]] = {}
    for end, number in enumerate(knot):
        meeting.setdefault(number, []).append(end)
    for members in meeting.values():
        at = (float(ends[members[0]][0]), float(ends[members[0]][1]))
        if len(members) == 1:
            chains.loose.append(at)
        elif len(members) > 2:
            chains.branches.append(at)
    used = [False] * len(paths)
    # Begin at loose ends and at branches, so that what is open comes out in one piece; then only loops are left.
    starts = sorted(range(len(ends)), key=lambda end: (len(meeting[knot[end]]) == 2, end))
    for start in starts:
        if used[start // 2]:
            continue
        run, closed = _run(start, knot, meeting, used)
        path = _joined(paths, run, snap)
        if closed and len(path) >= 3:
            chains.loops.append(path)
        else:
            chains.open_paths.append(path)


def _run(start: int, knot: list[int], meeting: dict[int, list[int]], used: list[bool]) -> tuple[list[int], bool]:
    """Ends at which the paths of one chain are entered, and whether the chain closes."""
    run: list[int] = []
    entry = start
    while True:
        used[entry // 2] = True
        run.append(entry)
        leave = knot[entry ^ 1]
        if leave == knot[start]:
            return run, True
        if len(meeting[leave]) != 2:
            return run, False
        onward = [end for end in meeting[leave] if not used[end // 2]]
        if not onward:
            return run, False
        entry = onward[0]


def _joined(paths: list[Coords], run: Sequence[int], snap: float) -> Coords:
    """The points of a chain; each path gives all its points but the last, which the next one brings."""
    pieces = [paths[entry // 2] if entry % 2 == 0 else paths[entry // 2][::-1] for entry in run]
    last = pieces[-1][-1:]
    whole = np.concatenate([*(piece[:-1] for piece in pieces), last])
    return whole[:-1] if np.hypot(*(whole[0] - whole[-1])) <= snap * 2 and len(whole) > 3 else whole


def _knots(ends: Coords, snap: float) -> list[int]:
    """For each end the number of the knot it belongs to: ends within `snap` of a knot's first end are in it."""
    cells: dict[tuple[int, int], list[int]] = {}
    knots: list[int] = []
    for i, (x, y) in enumerate(ends.tolist()):
        cx, cy = int(x // snap), int(y // snap)
        best: Optional[tuple[float, int]] = None
        for nx in (cx - 1, cx, cx + 1):
            for ny in (cy - 1, cy, cy + 1):
                for j in cells.get((nx, ny), ()):
                    gap = hypot(ends[j][0] - x, ends[j][1] - y)
                    if gap <= snap and (best is None or gap < best[0]):
                        best = (gap, j)
        knots.append(best[1] if best else i)
        if best is None:
            cells.setdefault((cx, cy), []).append(i)
    return knots


def _gaps(chains: Chains) -> list[OutlineFault]:
    """For each loose end how far it is from the nearest other; two that are nearest to each other are one fault."""
    ends = [shapely.Point(end) for end in (*chains.loose, *chains.branches)]
    if len(ends) < 2:
        return [OutlineFault("open", end) for end in chains.loose]
    pairs, gaps = shapely.STRtree(ends).query_nearest(
        ends[: len(chains.loose)], exclusive=True, return_distance=True, all_matches=False
    )
    nearest = dict(zip(pairs[0].tolist(), pairs[1].tolist()))
    faults: list[OutlineFault] = []
    for (i, j), gap in zip(nearest.items(), gaps.tolist()):
        mutual = nearest.get(j) == i
        if mutual and j < i:
            continue
        x, y = ends[i].x, ends[i].y
        faults.append(OutlineFault("open", ((x + ends[j].x) / 2, (y + ends[j].y) / 2) if mutual else (x, y), gap))
    return faults


def _crossings(loops: Sequence[Coords]) -> list[OutlineFault]:
    """Places where a loop crosses itself or another."""
    faults: list[OutlineFault] = []
    if not loops:
        return faults
    rings = [shapely.LinearRing(loop) for loop in loops]
    for loop in loops:
        polygon = Polygon(loop)
        if not polygon.is_valid:
            faults.append(OutlineFault("crossing", _place_in(shapely.is_valid_reason(polygon))))
    tree = shapely.STRtree(rings)
    for i, ring in enumerate(rings):
        for j in tree.query(ring, predicate="intersects"):
            if i < j:
                x, y = shapely.get_coordinates(shapely.intersection(ring, rings[j]))[0]
                faults.append(OutlineFault("crossing", (float(x), float(y))))
        if len(faults) >= _CROSSINGS_MAX:
            break
    return faults


def _place_in(reason: str) -> Optional[Point]:
    """The place in a sentence like ``Self-intersection[1.5 2]``."""
    match = re.search(r"\[(\S+) (\S+)\]", reason)
    return (float(match.group(1)), float(match.group(2))) if match else None


def nested(loops: Sequence[Coords]) -> Area:
    """Loops as an area: outside, cut-outs in it, islands in those, by how deep each loop lies."""
    polygons = [Polygon(loop) for loop in loops]
    if len(polygons) == 1 and polygons[0].is_valid:
        return polygons[0]
    pieces = [piece for shape in polygons for piece in shapely.get_parts(polygonal(shapely.make_valid(shape)))]
    pieces = [piece for piece in pieces if piece.area > 0]
    if not pieces:
        return Polygon()
    inner = [piece.representative_point() for piece in pieces]
    # A loop inside an odd number of others is a cut-out.
    tree = shapely.STRtree(pieces)
    depth = np.zeros(len(pieces), dtype=int)
    for i, j in zip(*tree.query(inner, predicate="within")):
        depth[i] += bool(i != j and pieces[j].area > pieces[i].area)
    area: Area = Polygon()
    for level in range(int(depth.max()) + 1):
        ring = polygonal(shapely.union_all([piece for piece, d in zip(pieces, depth) if d == level]))
        area = polygonal(area.difference(ring) if level % 2 else area.union(ring))
    return area


def _holds(paths: Sequence[Coords], area: Area) -> bool:
    """Whether open paths run round most of what is closed: then they are the edge, and the loops are cut-outs."""
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(paths)))
    return float(shapely.area(shapely.intersection(hull, area))) > 0.5 * area.area
