# SPDX-License-Identifier: MIT
"""A small grid router for two outer layers: A* with vias, and rip-up of whatever is in the way.

It knows no board editor: copper comes in as polygons, circles and capsules in millimetres, tracks and vias go
out the same way. A cell is taken for a net when another net's copper, grown by half the track width and the
clearance, covers it. Parts are hard obstacles; other routes are soft ones that cost extra and are ripped up.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from typing import Callable, Optional

import numpy as np

STEP = 0.125
TOP, BOTTOM = 0, 1
LAYERS = (TOP, BOTTOM)
# Cells keep their distance, but a slanting track between two cells may come this much closer to a corner.
MARGIN = 0.012
HOLE_GAP, PAD_GAP = 0.05, 0.1
STRAIGHT, DIAGONAL, TURN, VIA_COST, SOFT_COST = 10, 14, 4, 150, 90
HARD = 255

Cells = np.ndarray
Grow = Callable[[float], Cells]


@dataclass(frozen=True)
class Rule:
    """Track width, clearance and via of a class of nets."""

    width: float = 0.2
    clearance: float = 0.15
    via: float = 0.6
    drill: float = 0.3


@dataclass
class Copper:
    """Something that carries a net.

    `grow(r)` gives the flat cell numbers it covers when grown by r; routed copper also knows the cells of its
    centre `line` and its `half` width. No via may touch an item with `no_via`, not even one of the same net; a
    `keep_out` needs no clearance.
    """

    net: str
    layers: tuple[int, ...]
    grow: Grow
    clearance: float = 0.0
    half: float = 0.0
    line: Optional[Cells] = None
    no_via: bool = False
    keep_out: bool = False
    cache: dict[float, Cells] = field(default_factory=dict)

    def cells(self, by: float) -> Cells:
        """Cells covered when grown by `by`, computed once."""
        if by not in self.cache:
            self.cache[by] = self.grow(by + MARGIN)
        return self.cache[by]


@dataclass
class Route:
    """What was drawn for one job: tracks as (layer, width, points) and vias as points."""

    key: str
    net: str
    tracks: list[tuple[int, float, list[tuple[float, float]]]] = field(default_factory=list)
    vias: list[tuple[float, float]] = field(default_factory=list)
    copper: list[Copper] = field(default_factory=list)
    cells: set[int] = field(default_factory=set)


class Grid:
    """Cell numbers and the shapes drawn on them. A cell number is layer * size + row * columns + column."""

    def __init__(self, width: float, height: float) -> None:
        self.columns, self.rows = round(width / STEP) + 1, round(height / STEP) + 1
        self.size = self.columns * self.rows
        self.xs, self.ys = np.arange(self.columns) * STEP, np.arange(self.rows) * STEP

    def point(self, cell: int) -> tuple[float, float]:
        """Millimetres of a cell on either layer."""
        row, column = divmod(cell % self.size, self.columns)
        return column * STEP, row * STEP

    def window(self, x0: float, y0: float, x1: float, y1: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Coordinates and flat numbers of the cells inside a box."""
        c0, c1 = max(0, int(np.ceil(x0 / STEP - 1e-9))), min(self.columns - 1, int(np.floor(x1 / STEP + 1e-9)))
        r0, r1 = max(0, int(np.ceil(y0 / STEP - 1e-9))), min(self.rows - 1, int(np.floor(y1 / STEP + 1e-9)))
        columns, rows = np.arange(c0, c1 + 1), np.arange(r0, r1 + 1)
        x, y = np.meshgrid(columns * STEP, rows * STEP)
        return x, y, rows[:, None] * self.columns + columns[None, :]

    def capsule(self, a: tuple[float, float], b: tuple[float, float], radius: float) -> Cells:
        """Cells within `radius` of a line."""
        (ax, ay), (bx, by) = a, b
        box = (min(ax, bx) - radius, min(ay, by) - radius, max(ax, bx) + radius, max(ay, by) + radius)
        x, y, numbers = self.window(*box)
        dx, dy = bx - ax, by - ay
        length = dx * dx + dy * dy
        t = np.clip(((x - ax) * dx + (y - ay) * dy) / length, 0, 1) if length else 0.0
        return numbers[(x - ax - t * dx) ** 2 + (y - ay - t * dy) ** 2 < (radius - 1e-6) ** 2]

    def polygon(self, ring: np.ndarray) -> Cells:
        """Cells inside a polygon, even-odd."""
        x, y, numbers = self.window(*ring.min(axis=0), *ring.max(axis=0))
        inside = np.zeros(x.shape, bool)
        for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, axis=0)):
            if ay != by:
                inside ^= ((ay > y) != (by > y)) & (x < (bx - ax) * (y - ay) / (by - ay) + ax)
        return numbers[inside]


class Router:
    """Routes nets one after the other until none is in the way of another."""

    def __init__(self, grid: Grid, edge: float = 0.5) -> None:
        self.grid, self.edge = grid, edge
        self.fixed: list[Copper] = []
        self.routes: dict[str, Route] = {}
        self.history = np.zeros(2 * grid.size, np.uint8)
        self.log: list[str] = []

    def add(self, copper: Copper) -> None:
        """A pad, a hole or a keep-out (net ``""``)."""
        self.fixed.append(copper)

    def blocked(self, net: str, half: float, clearance: float, via: bool = False) -> Cells:
        """For each cell on each layer: 0 free, SOFT_COST where another route is, HARD where it cannot be."""
        grid = self.grid
        taken = np.zeros((2, grid.size), np.uint8)
        for route in self.routes.values():
            for item in route.copper:
                if route.net != net:
                    for layer in item.layers:
                        taken[layer, item.cells(half + max(clearance, item.clearance))] = SOFT_COST
                elif via and len(item.layers) == 2:
                    taken[:, item.cells(half + HOLE_GAP)] = HARD
        for item in self.fixed:
            if item.net != net or not net:
                reach = half if item.keep_out else half + max(clearance, item.clearance)
                for layer in item.layers:
                    taken[layer, item.cells(reach)] = HARD
            elif via and item.no_via:
                taken[:, item.cells(half + PAD_GAP)] = HARD
        far = self.edge + half - 1e-6
        x, y = np.meshgrid(grid.xs, grid.ys)
        edge = (x < far) | (y < far) | (x > grid.xs[-1] - far) | (y > grid.ys[-1] - far)
        taken[:, edge.ravel()] = HARD
        return taken

    def search(self, job: Job, width: float, sources: set[int], goals: set[int]) -> tuple[Optional[list[int]], bool]:
        """Cheapest path from any source cell to a goal cell, or to a via in the job's plane (True: ends in a via)."""
        grid = self.grid
        layers = self.blocked(job.net, width / 2, job.rule.clearance)
        worst = self.blocked(job.net, job.rule.via / 2, job.rule.clearance, via=True).max(axis=0)
        soft = np.where(layers == SOFT_COST, np.minimum(layers + self.history.reshape(2, -1), HARD - 1), layers)
        sink = np.zeros(grid.size, np.uint8)
        if job.plane is not None:
            sink[job.plane] = 1
        flat = layers.ravel()
        sources = {cell for cell in sources if flat[cell] != HARD}
        box = None
        if goals and job.plane is None:
            points = np.array([divmod(goal % grid.size, grid.columns) for goal in goals])
            box = (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())
        return _astar(grid, sources, goals, soft.ravel().tobytes(), worst.tobytes(), sink.tobytes(), box)


def _distance(grid: Grid, box: Optional[tuple]) -> Callable[[int], int]:
    """Least cost from a cell to a box of rows and columns; nothing without a box."""
    columns, size = grid.columns, grid.size
    if box is None:
        return lambda cell: 0
    r0, c0, r1, c1 = box

    def ahead(cell: int) -> int:
        row, column = divmod(cell % size, columns)
        dx = c0 - column if column < c0 else column - c1 if column > c1 else 0
        dy = r0 - row if row < r0 else row - r1 if row > r1 else 0
        return STRAIGHT * (dx + dy) - (2 * STRAIGHT - DIAGONAL) * min(dx, dy)

    return ahead


def _astar(
    grid: Grid, sources: set[int], goals: set[int], cost: bytes, via: bytes, sinks: bytes, box: Optional[tuple]
) -> tuple[Optional[list[int]], bool]:
    columns, size = grid.columns, grid.size
    moves = [(1, STRAIGHT), (columns + 1, DIAGONAL), (columns, STRAIGHT), (columns - 1, DIAGONAL)]
    moves += [(-step, price) for step, price in moves]
    ahead = _distance(grid, box)
    best = dict.fromkeys(sources, 0)
    came: dict[int, int] = {}
    heap = [(ahead(cell), 0, cell, -1) for cell in sorted(sources)]
    heapq.heapify(heap)
    done = set()
    while heap:
        _, spent, cell, heading = heapq.heappop(heap)
        if cell in done:
            continue
        done.add(cell)
        if cell in goals:
            return _trace(came, cell), False
        flat = cell % size
        if sinks[flat] and not via[flat]:
            return _trace(came, cell), True
        for i, (step, base) in enumerate(moves):
            after = cell + step
            price = cost[after]
            if price == HARD:
                continue
            turn = 0 if heading in (i, -1) else TURN
            total = spent + base + price + turn
            if total < best.get(after, 1 << 30):
                best[after] = total
                came[after] = cell
                heapq.heappush(heap, (total + ahead(after), total, after, i))
        if via[flat] != HARD:
            after = cell + size if cell < size else cell - size
            total = spent + VIA_COST + 2 * via[flat]
            if cost[after] != HARD and total < best.get(after, 1 << 30):
                best[after] = total
                came[after] = cell
                heapq.heappush(heap, (total + ahead(after), total, after, -1))
    return None, False


def _trace(came: dict[int, int], cell: int) -> list[int]:
    path = [cell]
    while path[-1] in came:
        path.append(came[path[-1]])
    return path[::-1]


@dataclass
class Pin:
    """One pad to reach: the cells inside its copper on either layer, its centre, its smaller dimension."""

    cells: set[int]
    anchor: tuple[float, float]
    width: float = 9.0


@dataclass
class Job:
    """Connections of one net: all its pins to each other, or one pin down to a via inside its `plane`.

    `anchors` are cells of own copper that already reaches the plane.
    """

    key: str
    net: str
    pins: list[Pin]
    rule: Rule
    plane: Optional[Cells] = None
    anchors: frozenset[int] = frozenset()

    @property
    def span(self) -> float:
        """How far the net reaches: short nets go first."""
        return float(np.ptp(np.array([pin.anchor for pin in self.pins]), axis=0).sum())


def draw(router: Router, route: Route, rule: Rule, width: float, path: list[int], ends_in_via: bool) -> None:
    """Turns a path of cells into tracks, vias and soft obstacles."""
    grid = router.grid
    route.cells.update(path)
    runs: list[list[int]] = [[path[0]]]
    for cell in path[1:]:
        if (cell < grid.size) != (runs[-1][-1] < grid.size):
            add_via(router, route, rule, grid.point(cell))
            runs.append([])
        runs[-1].append(cell)
    if ends_in_via:
        add_via(router, route, rule, grid.point(path[-1]))
        route.cells.add((path[-1] + grid.size) % (2 * grid.size))
    for run in runs:
        points = _corners([grid.point(cell) for cell in run])
        if len(points) < 2:
            continue
        layer = TOP if run[0] < grid.size else BOTTOM
        route.tracks.append((layer, width, points))
        copper = Copper(route.net, (layer,), _wire(grid, points, width / 2), rule.clearance, width / 2)
        copper.line = np.array(run) % grid.size
        route.copper.append(copper)


def _wire(grid: Grid, points: list[tuple[float, float]], half: float) -> Grow:
    def grow(by: float) -> Cells:
        return np.unique(np.concatenate([grid.capsule(a, b, by + half) for a, b in zip(points, points[1:])]))

    return grow


def add_via(router: Router, route: Route, rule: Rule, at: tuple[float, float]) -> None:
    """One via, once per place."""
    if at in route.vias:
        return
    route.vias.append(at)
    copper = Copper(
        route.net, LAYERS, lambda by: router.grid.capsule(at, at, by + rule.via / 2), rule.clearance, rule.via / 2
    )
    copper.line = router.grid.capsule(at, at, STEP / 2)
    route.copper.append(copper)


def _corners(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    kept = [points[0]]
    for before, here, after in zip(points, points[1:], points[2:]):
        if (here[0] - before[0], here[1] - before[1]) != (after[0] - here[0], after[1] - here[1]):
            kept.append(here)
    return kept + points[-1:] if len(points) > 1 else kept


def connect(router: Router, job: Job) -> Optional[Route]:
    """Routes one job completely, through other routes where it must; None when even that is impossible."""
    route = Route(job.key, job.net)
    left = sorted(job.pins, key=lambda pin: pin.anchor)
    tree = set(job.anchors)
    if job.plane is None:
        tree |= left.pop(0).cells
    while left:
        points = np.array([router.grid.point(cell) for cell in sorted(tree)] or [(0.0, 0.0)])
        left.sort(key=lambda pin: (np.abs(points - pin.anchor).sum(axis=1).min(), pin.anchor))
        pin = left.pop(0)
        if pin.cells & tree:
            tree |= pin.cells
            continue
        widest = max(0.2, min(job.rule.width, pin.width))
        for width in sorted({widest, min(widest, 0.4), 0.2}, reverse=True):
            path, ends_in_via = router.search(job, width, pin.cells, tree)
            if path:
                break
        else:
            router.log.append(f"{job.key}: no way from {pin.anchor}")
            return None
        draw(router, route, job.rule, width, path, ends_in_via)
        router.routes[job.key] = route
        tree |= pin.cells | route.cells
    return route


def route_all(router: Router, jobs: list[Job], rounds: int = 600) -> list[str]:
    """Routes every job; returns the keys of those that could not be done."""
    queue = sorted(jobs, key=lambda job: (job.plane is None, job.span))
    named = {job.key: job for job in jobs}
    failed: list[str] = []
    while queue and rounds:
        rounds -= 1
        job = queue.pop(0)
        route = connect(router, job)
        if route is None:
            router.routes.pop(job.key, None)
            failed.append(job.key)
            continue
        router.routes[job.key] = route
        for other in [r for r in router.routes.values() if r.net != route.net and _touch(route, r)]:
            del router.routes[other.key]
            for cell in other.cells:
                router.history[cell] = min(120, int(router.history[cell]) + 8)
            queue.append(named[other.key])
    return failed + [job.key for job in queue]


def _touch(mine: Route, other: Route) -> bool:
    for item in mine.copper:
        for rival in other.copper:
            if set(item.layers) & set(rival.layers):
                cells = rival.cells(item.half + max(item.clearance, rival.clearance))
                if np.isin(item.line, cells).any():
                    return True
    return False
