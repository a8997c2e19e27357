# SPDX-License-Identifier: MIT
"""Pads as read against the editor's: what they are, their copper, openings and holes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import shapely
from editor import Facts, area, mm
from mismatch import (
    SHAPE_MM2,
    Found,
    Triple,
    apart,
    matched,
    same_place,
    shape_mismatches,
    unequal,
)

from lineworthy.model import Board, Pad


def pads(board: Board, facts: Facts) -> Found:
    """Everything about pads that is not a shape."""
    for label, theirs, ours in _matched_pads(board, facts):
        yield from same_place(label, theirs, ours)
        for key in ("number", "net", "pin_name", "pin_type"):
            yield from unequal(label, key, theirs[key], getattr(ours, key))
        for key in ("kind", "role", "shape"):
            yield from unequal(label, key, theirs[key], getattr(ours, key).value)
        for key, theirs_mm, ours_mm in zip(("width", "height"), map(mm, theirs["size"]), ours.size):
            yield from apart(label, key, theirs_mm, ours_mm)


def pad_copper(board: Board, facts: Facts) -> Found:
    """The copper of every pad on every layer."""
    return shape_mismatches(_pad_copper_pairs(board, facts))


def mask_openings(board: Board, facts: Facts) -> Found:
    """Solder mask openings with the margin in force."""
    return shape_mismatches(_pad_side_pairs(board, facts, "mask"))


def paste_openings(board: Board, facts: Facts) -> Found:
    """Stencil apertures with the margin in force."""
    return shape_mismatches(_pad_side_pairs(board, facts, "paste"))


def holes(board: Board, facts: Facts) -> Found:
    """Place, size, plating and shape of every hole."""
    triples: list[Triple] = []
    for label, theirs, ours in _matched_pads(board, facts):
        hole = theirs["hole"]
        if hole is None or ours.hole is None:
            yield from unequal(label, "hole", hole is not None, ours.hole is not None)
            continue
        yield from same_place(label, hole, ours.hole)
        yield from unequal(label, "plated", theirs["kind"] == "through", ours.hole.plated)
        for key, theirs_mm, ours_mm in zip(("length", "width"), map(mm, hole["size"]), ours.hole.size):
            yield from apart(label, f"hole {key}", theirs_mm, ours_mm)
        triples.append((f"{label} hole", area(hole["area"]), ours.hole.shape))
    yield from shape_mismatches(triples)


def _pad_copper_pairs(board: Board, facts: Facts) -> Iterator[Triple]:
    for label, theirs, ours in _matched_pads(board, facts):
        shapes = [area(pieces) for pieces in theirs["shapes"]]
        expected = {layer: shapes[index] for layer, index in theirs["copper"].items()}
        if theirs["kind"] == "unplated" and theirs["hole"] is not None:
            hole = area(theirs["hole"]["area"])
            expected = {layer: shape for layer, shape in expected.items() if shape.difference(hole).area > SHAPE_MM2}
        yield from _by_key(label, "copper", expected, ours.copper)


def _pad_side_pairs(board: Board, facts: Facts, what: str) -> Iterator[Triple]:
    for label, theirs, ours in _matched_pads(board, facts):
        found = {side.value: shape for side, shape in getattr(ours, what).items()}
        yield from _by_key(label, what, {side: area(pieces) for side, pieces in theirs[what].items()}, found)


def _by_key(label: str, what: str, theirs: Mapping[str, Any], ours: Mapping[str, Any]) -> Iterator[Triple]:
    for key in sorted(set(theirs) | set(ours)):
        yield f"{label} {what} {key}", theirs.get(key, shapely.Polygon()), ours.get(key, shapely.Polygon())


def _matched_pads(board: Board, facts: Facts) -> Iterator[tuple[str, Any, Pad]]:
    """Pads by part, number, kind and place, since not even a pad's uuid tells it from its neighbours."""
    for _, theirs, ours in matched(facts["parts"], board.parts, lambda part: part.reference):
        left = [{**pad, "uid": f"{pad['number']} {pad['kind']}"} for pad in theirs["pads"]]
        for _, one, other in matched(left, ours.pads, str, lambda pad: f"{pad.number} {pad.kind.value}"):
            yield f"{ours.reference} pad {other.number} ({ours.uid})", one, other
