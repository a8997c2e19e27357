# SPDX-License-Identifier: MIT
"""Does a panel plan, as it is written, hold? Checked from its JSON and the board; shares no code with the planner.

Boards are put where the file says by turning and moving the document's own outline and parts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Point, Polygon, affinity

from lineworthy.model import Board
from lineworthy.sheet import Sheet

EPS = 2e-3
CURVE = 0.16
"""Ends of tabs on curved edges: the curve bulges out of the straight end by this much at most."""


def faults(board: Board, sheet: Sheet, document: dict[str, Any]) -> list[str]:
    """Everything that is wrong with any array of a plan."""
    return [
        f"array {n}: {fault}"
        for n, array in enumerate(document["arrays"], 1)
        for fault in _Array(board, sheet, array).faults()
    ]


class _Array:
    def __init__(self, board: Board, sheet: Sheet, array: dict[str, Any]) -> None:
        self.board, self.limits, self.sheet, self.array = board, sheet.panel, sheet, array
        self.length, self.width = array["length_mm"], array["width_mm"]
        self.box = shapely.box(0, 0, self.length, self.width)
        area = board.outline.area
        self.outlines = [self.put(area, place) for place in array["places"]]
        self.full = [Polygon(outline.exterior) for outline in self.outlines]
        self.scored = array["method"] in ("scored", "scored and routed")
        self.rails = [
            shapely.box(r["left_mm"], r["lower_mm"], r["right_mm"], r["upper_mm"]) for r in array["rail_areas"]
        ]
        self.scores = [
            LineString([(s["from"]["x_mm"], s["from"]["y_mm"]), (s["to"]["x_mm"], s["to"]["y_mm"])])
            for s in array["scores"]
        ]

    def put(self, shape: Any, place: dict[str, Any]) -> Any:
        x, y = self.board.origin
        turned = affinity.rotate(affinity.translate(shape, -x, -y), place["turned_deg"], origin=(0, 0))
        return affinity.translate(turned, place["origin"]["x_mm"], place["origin"]["y_mm"])

    def back(self, shape: Any, place: dict[str, Any]) -> Any:
        """The other way: from the panel onto the board."""
        x, y = self.board.origin
        moved = affinity.translate(shape, -place["origin"]["x_mm"], -place["origin"]["y_mm"])
        return affinity.translate(affinity.rotate(moved, -place["turned_deg"], origin=(0, 0)), x, y)

    @cached_property
    def copper(self) -> Any:
        """Lands and tracks, where the board has them."""
        lands = [shape for part in self.board.parts for pad in part.pads for shape in pad.copper.values()]
        tracks = [LineString(track.path).buffer(track.width / 2) for track in self.board.tracks]
        return np.array([*lands, *tracks], dtype=object)

    def over(self, place: dict[str, Any]) -> list[Any]:
        """Drawn bodies that reach over the edge, and carry something soldered."""
        bodies = [
            p.body
            for p in self.board.parts
            if p.fitted and p.body is not None and p.pads and any(q.copper for q in p.pads)
        ]
        # beyond the rectangle round the board; drawn a little over it, a body ends there; what lies wholly beside the
        # board is not placed yet
        area = shapely.oriented_envelope(self.board.outline.area)
        return [
            self.put(body, place) for body in bodies if not area.buffer(0.25).covers(body) and area.intersects(body)
        ]

    def faults(self) -> Iterator[str]:
        yield from self.places()
        yield from self.neighbours()
        yield from self.limits_kept()
        yield from self.scores_along_edges()
        yield from self.tabs_hold()
        yield from self.spots_clear()
        yield from self.working_panel()

    def places(self) -> Iterator[str]:
        if len(self.array["places"]) != self.array["boards"]:
            yield "number of places"
        for n, (place, outline) in enumerate(zip(self.array["places"], self.outlines), 1):
            said = [place[key] for key in ("left_mm", "lower_mm", "right_mm", "upper_mm")]
            if max(abs(a - b) for a, b in zip(said, outline.bounds)) > EPS:
                yield f"board {n} is not where its rectangle says"
            for shape in (outline, *self.over(place)):
                if not self.box.buffer(EPS).covers(shape):
                    yield f"board {n} sticks out of the array"
                if self.array["method"] != "scored" and any(
                    shape.intersection(rail).area > 0.01 for rail in self.rails
                ):
                    yield f"board {n} lies on a rail"
        for n, outline in enumerate(self.full, 1):
            if any(outline.intersection(rail).area > 0.01 for rail in self.rails):
                yield f"board {n} lies on a rail"

    def neighbours(self) -> Iterator[str]:
        gap = self.limits.routed_gap_mm
        taken = [shapely.union_all([full, *self.over(place)]) for full, place in zip(self.full, self.array["places"])]
        for (i, one), (j, other) in combinations(enumerate(taken, 1), 2):
            apart = one.distance(other)
            if one.intersection(other).area > 0.01:
                yield f"boards {i} and {j} overlap"
            elif self.array["method"] == "scored":
                continue
            elif self.array["method"] == "scored and routed":
                (_, low, _, high), (_, low2, _, high2) = self.full[i - 1].bounds, self.full[j - 1].bounds
                beside = min(high, high2) - max(low, low2) > 0.01
                if beside and apart < gap - EPS:
                    yield f"boards {i} and {j}: slot of {apart:.3f}"
            elif (
                apart
                < (gap if self.array["method"] == "routed with tabs" else 2 * gap + self.limits.frame_bar_mm) - EPS
            ):
                yield f"boards {i} and {j}: {apart:.3f} apart"

    def limits_kept(self) -> Iterator[str]:
        limits, (small, large) = self.limits, sorted((self.length, self.width))
        if self.length > limits.line_length_max_mm + EPS or self.width > limits.line_width_max_mm + EPS:
            yield "too large for the line"
        if small < limits.single_min_mm - EPS or (self.scored and small < limits.score_array_min_mm - EPS):
            yield "too small"
        if large > limits.length_max_ratio * small + EPS:
            yield "too long for its width"
        if self.array["rails"] != "none" and (len(self.rails) != {"two": 2, "four": 4}[self.array["rails"]]):
            yield "rails"
        if self.array["rails"] != "none" and self.length < self.width - EPS:
            yield "rails on the short sides"
        if self.array["boards"] > limits.array_boards_max_count:
            yield "too many boards"
        for rail in self.rails:
            if min(rail.bounds[2] - rail.bounds[0], rail.bounds[3] - rail.bounds[1]) < limits.rail_mm - EPS:
                yield "narrow rail"

    def scores_along_edges(self) -> Iterator[str]:
        if bool(self.scores) != (self.scored and (self.array["boards"] > 1 or bool(self.rails))):
            yield "scores of a routed array, or none of a scored one"
        for line in self.scores:
            (x0, y0), (x1, y1) = line.coords
            from_edge_to_edge = (x0, x1) == (0, self.length) or (y0, y1) == (0, self.width)
            if not from_edge_to_edge or not (x0 == x1 or y0 == y1):
                yield "a score that does not run from edge to edge"
            for n, full in enumerate(self.full, 1):
                if line.intersection(full.buffer(-0.02)).length > 0:
                    yield f"a score cuts board {n}"
        if self.scored and self.rails:
            ys = {round(line.coords[0][1], 3) for line in self.scores if line.coords[0][1] == line.coords[1][1]}
            for n, full in enumerate(self.full, 1):
                if not {round(full.bounds[1], 3), round(full.bounds[3], 3)} <= ys:
                    yield f"board {n} is not parted from what lies above and below"

    def tabs_hold(self) -> Iterator[str]:
        held = [set() for _ in self.full]
        gap, limits = self.limits.routed_gap_mm, self.limits
        if self.scored:
            if self.array["tabs"]:
                yield "tabs in a scored array"
            return
        edges = [full.exterior for full in self.full]
        tree = shapely.STRtree(self.full)
        for n, tab in enumerate(self.array["tabs"], 1):
            x, y, way = tab["x_mm"], tab["y_mm"], math.radians(tab["across_deg"])
            step = (math.cos(way) * tab["length_mm"] / 2, math.sin(way) * tab["length_mm"] / 2)
            side = (-math.sin(way) * tab["width_mm"] / 2, math.cos(way) * tab["width_mm"] / 2)
            ends = [
                LineString(
                    [
                        (x + k * step[0] - side[0], y + k * step[1] - side[1]),
                        (x + k * step[0] + side[0], y + k * step[1] + side[1]),
                    ]
                )
                for k in (-1, 1)
            ]
            if abs(tab["length_mm"] - gap) > EPS or tab["width_mm"] > limits.tab_max_mm + EPS:
                yield f"tab {n} has the wrong size"
            lands = []
            for end in ends:
                near = [int(k) for k in tree.query(end, predicate="dwithin", distance=CURVE)]
                at = [
                    k
                    for k in near
                    if all(edges[k].distance(Point(c)) <= CURVE for c in (*end.coords, end.centroid.coords[0]))
                ]
                lands.append(at)
            if not lands[0]:
                yield f"tab {n} does not begin at an edge"
                continue
            for k in lands[0]:
                held[k].add(round(math.degrees(way)) % 360)
            for k in lands[1]:
                held[k].add(round(math.degrees(way) + 180) % 360)
            if not lands[1] and not self.on_frame(ends[1]):
                yield f"tab {n} ends on nothing"
            yield from self.tab_clear(n, tab, ends, lands)
        for n, ways in enumerate(held, 1):
            if len(ways) < 2:
                yield f"board {n} is held from {len(ways)} side"

    def on_frame(self, end: LineString) -> bool:
        if self.array["method"] == "routed with tabs":
            return all(min(rail.distance(Point(c)) for rail in self.rails) <= CURVE for c in end.coords)
        gap = self.limits.routed_gap_mm
        taken = [full for full in self.full if full.distance(end) < 3 * gap]
        over = [
            body
            for place, full in zip(self.array["places"], self.full)
            if full.distance(end) < 3 * gap
            for body in self.over(place)
        ]
        return self.box.covers(end) and all(shape.distance(end) >= gap - CURVE for shape in (*taken, *over))

    def tab_clear(self, n: int, tab: dict[str, Any], ends: list[Any], lands: list[list[int]]) -> Iterator[str]:
        holes = [Point(h["x_mm"], h["y_mm"]) for h in tab["holes"]]
        drill = self.array["break_hole_mm"]
        if any(a.distance(b) < drill + 0.2 for a, b in combinations(holes, 2)):
            yield f"tab {n}: holes run into each other"
        for k in {*lands[0], *lands[1]}:
            place = self.array["places"][k]
            mine = [h for h in holes if self.full[k].exterior.distance(h) <= CURVE]
            if len(mine) < 3:
                yield f"tab {n}: no row of holes at board {k + 1}"
            near = [self.back(end, place) for end in ends]
            for part in self.board.parts:
                body = part.body
                if body is None or not part.fitted or not any(pad.copper for pad in part.pads):
                    continue
                ceramic = part.package.startswith("C_") and not any(size in part.package for size in ("0201", "0402"))
                need = self.limits.break_edge_ceramic_min_mm if ceramic else self.limits.break_edge_part_min_mm
                away = min(body.distance(end) for end in near)
                if away < need - EPS:
                    yield f"tab {n}: {part.reference} is {away:.2f} mm away"
            if mine and len(self.copper):
                on_board = self.back(shapely.MultiPoint(mine), place)
                if shapely.distance(self.copper, on_board).min() < self.limits.tab_track_min_mm - EPS:
                    yield f"tab {n}: copper too near to its holes"

    def spots_clear(self) -> Iterator[str]:
        if self.array["rails"] == "none":
            return
        marks, holes = self.array["marks"], self.array["tooling_holes"]
        spots = [
            (spot, Point(spot["x_mm"], spot["y_mm"]).buffer(spot["clear_mm"] / 2 - EPS)) for spot in (*marks, *holes)
        ]
        if len(marks) != 3 or len(holes) < 2:
            yield "marks and tooling holes"
        for spot, ring in spots:
            if not any(rail.covers(ring) for rail in self.rails):
                yield f"{spot['name']} is not in a rail"
            if any(ring.intersects(full) for full in self.full) or any(ring.intersects(line) for line in self.scores):
                yield f"{spot['name']} is not clear"
        for (one, ring), (other, ring2) in combinations(spots, 2):
            if ring.intersects(ring2):
                yield f"{one['name']} and {other['name']} touch"
        ends = self.sheet.fiducials.transport_edge_mm
        for mark in marks:
            if min(mark["y_mm"], self.width - mark["y_mm"]) - mark["clear_mm"] / 2 < ends - EPS:
                yield f"{mark['name']} is under the conveyor"
        turned = [(self.length - m["x_mm"], self.width - m["y_mm"]) for m in marks]
        if all(min(math.dist(at, (m["x_mm"], m["y_mm"])) for m in marks) < 2.0 for at in turned):
            yield "marks look the same when the array is turned"
        for hole in holes:
            if abs(min(hole["y_mm"], self.width - hole["y_mm"]) - 5.0) > EPS:
                yield f"{hole['name']} is not 5 mm from the edge"

    def working_panel(self) -> Iterator[str]:
        fit = self.array["working_panel"]
        short, long = sorted(fit["size_mm"])
        room, gap = (short - 2 * fit["border_mm"], long - 2 * fit["border_mm"]), fit["gap_mm"]
        n, m = fit["arrays_along_shorter_side"], fit["arrays_along_longer_side"]
        sizes = [(self.length, self.width), (self.width, self.length)]
        if not any(n * a + (n - 1) * gap <= room[0] + EPS and m * b + (m - 1) * gap <= room[1] + EPS for a, b in sizes):
            yield "arrays do not fit on the working panel"
        more = [
            math.floor((room[0] + gap + 1e-3) / (a + gap)) * math.floor((room[1] + gap + 1e-3) / (b + gap))
            for a, b in sizes
        ]
        if max(more) != n * m or fit["arrays"] != n * m:
            yield "more or fewer arrays fit"
        filled = 100 * n * m * self.array["boards"] * self.board.outline.area.area / (short * long)
        if abs(filled - fit["filled_percent"]) > 0.01:
            yield f"{fit['filled_percent']} % said, {filled:.3f} % filled"
