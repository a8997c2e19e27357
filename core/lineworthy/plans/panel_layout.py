# SPDX-License-Identifier: MIT
"""An array drawn: where boards, rails, slots, scores, marks and tooling holes are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.geometry import exceeds, falls_short
from lineworthy.plans.panel_board import Pose, Unit
from lineworthy.plans.panel_plan import HOLE, MARK, SCORES, Cell, Method, Rails, Score, Sizing, Spot
from lineworthy.shapes import Area, polygonal, quad_segs
from lineworthy.sheet import Sheet

MARK_ALONG_MM = 15.0
"""Marks are this far from the ends of a rail, beside the tooling holes."""

THIRD_MARK_MM = 10.0
"""The third mark is farther in by this, so that an array put in turned over is seen at once."""

_SPOT_GAP_MM = 0.5
_SPOT_STEP_MM = 0.5


@dataclass(frozen=True, eq=False)
class Layout:
    """An array without its tabs.

    Attributes:
        poses, outlines, overs: as in `panel_plan.Array`; `full`: outlines without cut-outs.
        whole: the array's rectangle with its corners rounded.
        frame: rails and frame, what boards hang on; may be empty.
    """

    poses: tuple[Pose, ...]
    outlines: tuple[Polygon, ...] = field(repr=False)
    full: tuple[Polygon, ...] = field(repr=False)
    overs: tuple[Area, ...] = field(repr=False)
    whole: Polygon = field(repr=False)
    rails: tuple[Polygon, ...] = field(repr=False)
    frame: Area = field(repr=False)
    scores: tuple[Score, ...]
    spots: tuple[Spot, ...]


def lay_out(unit: Unit, cell: Cell, one: Sizing, sheet: Sheet) -> Layout:
    """Everything of an array but its tabs."""
    poses = tuple(
        pose.moved(one.start[0] + column * one.step[0], one.start[1] + row * one.step[1])
        for row in range(one.rows)
        for column in range(one.columns)
        for pose in cell.poses
    )
    full = tuple(_rounded(pose.place(unit.full)) for pose in poses)
    overs = tuple(polygonal(pose.place(unit.occupied)) for pose in poses)
    whole = _round_box(one.length, one.width, sheet.panel.corner_radius_mm)
    rails = tuple(_rails(one, sheet.panel.rail_mm))
    scores = tuple(_scores(one, cell, sheet))
    return Layout(
        poses=poses,
        outlines=tuple(_rounded(pose.place(unit.outline)) for pose in poses),
        full=full,
        overs=overs,
        whole=whole,
        rails=rails,
        frame=_frame(one, whole, rails, [*full, *overs], sheet),
        scores=scores,
        spots=tuple(_spots(one, scores, sheet)),
    )


def _rounded(shape: Any) -> Any:
    """Noise of moving boards about taken off, so that the same plan gives the same bytes."""
    return shapely.transform(shape, lambda points: np.round(points, 6) + 0.0)


def _round_box(length: float, width: float, radius: float) -> Polygon:
    if radius <= 0:
        return shapely.box(0, 0, length, width)
    inner = shapely.box(radius, radius, length - radius, width - radius)
    return inner.buffer(radius, quad_segs=quad_segs(radius))


def _rails(one: Sizing, rail: float) -> Iterator[Polygon]:
    if one.way.rails is Rails.NONE:
        return
    yield shapely.box(0, 0, one.length, rail)
    yield shapely.box(0, one.width - rail, one.length, one.width)
    if one.way.rails is Rails.FOUR:
        yield shapely.box(0, rail, rail, one.width - rail)
        yield shapely.box(one.length - rail, rail, one.length, one.width - rail)


def _frame(one: Sizing, whole: Polygon, rails: Sequence[Polygon], taken: Sequence[Any], sheet: Sheet) -> Area:
    """Rails, and for framed boards all that their slots leave."""
    if one.way.method is not Method.FRAMED:
        return polygonal(shapely.union_all([whole.intersection(rail) for rail in rails]))
    gap = sheet.panel.routed_gap_mm
    slots = shapely.union_all([shape.buffer(gap, quad_segs=quad_segs(gap)) for shape in taken])
    return polygonal(whole.difference(slots))


def _scores(one: Sizing, cell: Cell, sheet: Sheet) -> Iterator[Score]:
    """From edge to edge of the array, along every side where something is parted."""
    if one.way.method not in SCORES:
        return
    railed = one.way.rails is not Rails.NONE
    for y in _lines(one.start[1], one.step[1], cell.height, one.rows, railed):
        yield Score((0.0, y), (one.length, y))
    if one.way.method is Method.SCORED:
        for x in _lines(one.start[0], one.step[0], cell.width, one.columns, one.way.rails is Rails.FOUR):
            yield Score((x, 0.0), (x, one.width))


def _lines(start: float, step: float, size: float, count: int, ends: bool) -> list[float]:
    inner = [start + n * step for n in range(1, count)]
    lines = [start, *inner, start + (count - 1) * step + size] if ends else inner
    return [round(line, 6) for line in lines]


def _spots(one: Sizing, scores: Sequence[Score], sheet: Sheet) -> Iterator[Spot]:
    """Three tooling holes and three marks in the rails, so that no turn of the array looks like another."""
    if one.way.rails is Rails.NONE:
        return
    panel, fiducials, rail = sheet.panel, sheet.fiducials, sheet.panel.rail_mm
    lines = tuple(score.start[0] for score in scores if score.start[0] == score.end[0])
    inset = panel.rail_hole_edge_mm
    room = panel.rail_hole_mm + 2 * _SPOT_GAP_MM
    holes: tuple[Spot, ...] = ()
    if not exceeds(inset + room / 2, rail):
        corners = ((inset, inset), (one.length - inset, inset), (inset, one.width - inset))
        wanted = [Spot(HOLE, at, panel.rail_hole_mm, room) for at in corners]
        holes = tuple(_free(spot, one.length, lines, ()) for spot in wanted)
        yield from holes
    mark = fiducials.mark_min_mm
    clear = mark * (1 + fiducials.clear_ring_preferred_ratio)
    if exceeds(fiducials.transport_edge_mm + clear, rail):
        clear = mark * (1 + fiducials.clear_ring_min_ratio)
    if not exceeds(fiducials.transport_edge_mm + clear, rail):
        depth = fiducials.transport_edge_mm + clear / 2
        near = min(MARK_ALONG_MM, one.length / 4)
        third = min(near + THIRD_MARK_MM, one.length * 0.4)
        for at in ((near, depth), (one.length - near, depth), (third, one.width - depth)):
            yield _free(Spot(MARK, at, mark, clear), one.length, lines, holes)


def _free(wanted: Spot, length: float, lines: Sequence[float], others: Sequence[Spot]) -> Spot:
    """The nearest place along the rail where a spot lies clear of scores across it and of holes, inwards first."""
    inwards = 1.0 if wanted.at[0] < length / 2 else -1.0
    y = round(wanted.at[1], 6)
    for step in range(int(length / 2 / _SPOT_STEP_MM)):
        x = round(wanted.at[0] + inwards * step * _SPOT_STEP_MM, 6)
        on_score = any(falls_short(abs(x - line), wanted.clear / 2 + _SPOT_GAP_MM) for line in lines)
        near = any(
            falls_short(float(np.hypot(x - spot.at[0], y - spot.at[1])), (wanted.clear + spot.clear) / 2)
            for spot in others
        )
        if not on_score and not near:
            return replace(wanted, at=(x, y))
    return replace(wanted, at=(round(wanted.at[0], 6), y))
