# SPDX-License-Identifier: MIT
"""Builds both states of the frost alarm: run with the Python the board editor's bindings belong to."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import document
import drawing
import layout
import numpy as np
import pcbnew
from circuit import BOARD_H, BOARD_W
from labels import place_references
from router import STEP, Copper, Grid, Job, Router, Rule, route_all
from states import STATES, State

HERE = Path(__file__).resolve().parent


def rule_of(name: str) -> Rule:
    """Track and via sizes of a net."""
    return layout.RULES[layout.CLASS_OF.get(name, "Default")]


def inside(grid: Grid, points: tuple, margin: float) -> set[int]:
    """Cells inside a polygon and `margin` away from its edge."""
    ring = np.array(points, float)
    near = [grid.capsule(tuple(a), tuple(b), margin) for a, b in zip(ring, np.roll(ring, -1, axis=0))]
    return set(grid.polygon(ring).tolist()) - set(np.concatenate(near).tolist())


def planes(grid: Grid) -> dict:
    """For each net with an inner plane, the cells where a via hits it."""
    five = inside(grid, layout.FIVE_VOLT, 0.6)
    board = inside(grid, layout.EDGE, 0.6)
    near_five = set(grid.polygon(np.array(layout.FIVE_VOLT, float)).tolist())
    ring = np.array(layout.FIVE_VOLT, float)
    for a, b in zip(ring, np.roll(ring, -1, axis=0)):
        near_five |= set(grid.capsule(tuple(a), tuple(b), 0.8).tolist())
    cells = {"GND": board, "+5V": five, "+3V3": board - near_five}
    return {name: np.array(sorted(found)) for name, found in cells.items()}


def jobs_of(router: Router, pins: dict, anchors: dict) -> list[Job]:
    """Every connection to be routed."""
    jobs, sinks = [], planes(router.grid)
    for name, ends in sorted(pins.items()):
        if name in sinks:
            for i, (ref, pin) in enumerate(ends):
                through = len({cell >= router.grid.size for cell in pin.cells}) == 2
                at = round(pin.anchor[0] / STEP) + round(pin.anchor[1] / STEP) * router.grid.columns
                if pin.cells & anchors.get(name, frozenset()) or (through and at in set(sinks[name].tolist())):
                    continue
                rule = rule_of(name)
                jobs.append(Job(f"{name} {ref} {i}", name, [pin], rule, sinks[name], anchors.get(name, frozenset())))
        elif len(ends) > 1:
            jobs.append(Job(name, name, [pin for _, pin in ends], rule_of(name)))
    return jobs


def extra_vias(board, router: Router, pins: dict) -> dict:
    """Puts down the vias for heat and current; returns the pad cells that reach a plane through them."""
    anchors: dict[str, set[int]] = {}
    for name, points in layout.EXTRA_VIAS:
        for point in points:
            drawing.via(board, point, 0.6, 0.3, name)
            router.add(Copper(name, (0, 1), lambda by, p=point: router.grid.capsule(p, p, by + 0.3), no_via=True))
            cell = round(point[0] / STEP) + round(point[1] / STEP) * router.grid.columns
            for _, pin in pins.get(name, []):
                if cell in pin.cells:
                    anchors.setdefault(name, set()).update(pin.cells)
    return {name: frozenset(cells) for name, cells in anchors.items()}


def stitch(board: pcbnew.BOARD, router: Router, pitch: float = 5.0) -> None:
    """Ties the ground pours together wherever a via fits on a coarse raster and stays off the lettering."""
    grid = router.grid
    free = ~(router.blocked("GND", 0.3, 0.2, via=True).max(axis=0) > 0)
    boxes = [item.GetBoundingBox() for item in board.Drawings() if item.GetClass() == "PCB_TEXT"]
    step, start = round(pitch / STEP), round(2 / STEP)
    for row in range(start, grid.rows - start, step):
        for column in range(start, grid.columns - start, step):
            point = (column * STEP, row * STEP)
            if free[row * grid.columns + column] and not any(box.Contains(drawing.at(*point)) for box in boxes):
                drawing.via(board, point, 0.6, 0.3, "GND")


def keep_outs(board: pcbnew.BOARD, router: Router, state: State) -> None:
    """Bare rings round marks and under screw heads."""
    for part in state.parts:
        if part.land not in ("FID", "HOLE"):
            continue
        radius, layers = (state.mark_clear_mm, (0,)) if part.land == "FID" else (3.3, (0, 1))
        if radius:
            drawing.keep_clear(board, part.at, radius, part.land == "HOLE")
        radius = max(radius, 1.6)
        grow = lambda by, p=part.at, r=radius: router.grid.capsule(p, p, by + r)  # noqa: E731
        router.add(Copper("", layers, grow, keep_out=True))


def lettering(board: pcbnew.BOARD, state: State) -> None:
    """Silkscreen: fixed texts, the name of the net at every test point, the product's mark."""
    for entry in state.texts:
        drawing.text(board, *entry)
    for part in state.parts:
        if part.land == "TP":
            layer = pcbnew.B_SilkS if part.bottom else pcbnew.F_SilkS
            drawing.text(board, part.value, part.at[0], part.at[1] + 1.65, 0.8, 0, layer)
    drawing.snowflake(board, *layout.SNOWFLAKE)


def build(state: State, folder: Path) -> list[str]:
    """Writes one state; returns what could not be routed or labelled."""
    board = drawing.new_board(state.comments)
    footprints = {part.ref: drawing.place(board, part) for part in state.parts}
    state.retouch(board, footprints)
    router = Router(Grid(BOARD_W, BOARD_H))
    pins = drawing.obstacles(router, list(footprints.values()), lambda name: rule_of(name).clearance)
    keep_outs(board, router, state)
    anchors = extra_vias(board, router, pins)
    failed = route_all(router, jobs_of(router, pins, anchors))
    for route in router.routes.values():
        rule = rule_of(route.net)
        for layer, width, points in route.tracks:
            for a, b in zip(points, points[1:]):
                drawing.track(board, drawing.OUTER[layer], width, a, b, route.net)
        for point in route.vias:
            drawing.via(board, point, rule.via, rule.drill, route.net)
    lettering(board, state)
    stitch(board, router)
    for entry in layout.ZONES:
        drawing.zone(board, *entry)
    state.finish(board, footprints)
    failed += place_references(board)
    finish(board, folder / f"{state.name}.kicad_pcb")
    return failed + router.log


def finish(board: pcbnew.BOARD, path: Path) -> None:
    """Project file, stack-up, filled zones, lasting ids. Zones need the rules, which only a loaded board knows."""
    document.project(path.with_suffix(".kicad_pro"))
    pcbnew.SaveBoard(str(path), board, True)
    # The order of items decides roundings in the fill, so it is settled before as well as after.
    text = document.settled(document.with_stackup(path.read_text(encoding="utf-8")))
    path.write_text(text, encoding="utf-8")
    loaded = pcbnew.LoadBoard(str(path))
    pcbnew.ZONE_FILLER(loaded).Fill(loaded.Zones())
    pcbnew.SaveBoard(str(path), loaded, True)
    path.write_text(document.settled(path.read_text(encoding="utf-8")), encoding="utf-8")


def main(argv: list[str]) -> int:
    """Builds into the folder of this script, or another."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to (default: beside this script)")
    parser.add_argument("--only", choices=[state.name for state in STATES], help="build one state")
    options = parser.parse_args(argv)
    bad = 0
    for state in STATES:
        if options.only in (None, state.name):
            left = build(state, options.out)
            bad += len(left)
            print(f"{state.name}: {len(state.parts)} parts", *left, sep="\n  ")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
