# SPDX-License-Identifier: MIT
"""What counts as a mismatch between the editor and the reader: tolerances, and the few ways to compare.

A tolerance is stated once, here, with its reason. What has no tolerance must be equal.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Callable

import numpy as np
import shapely
from editor import point
from shapely.geometry.base import BaseGeometry

from lineworthy.shapes import ARC_TOL_MM

EXACT_MM = 2e-6
"""The editor keeps whole nanometres and rounds where a position is computed (a rotated part's pads)."""
EXACT_DEG = 1e-6
SHAPE_SHARE, SHAPE_MM2 = 1e-3, 1e-3
"""Copper, mask, paste, fills: symmetric difference under 0.1 % of the shape or 0.001 mm²."""
CHORD_MM = ARC_TOL_MM
"""Shapes whose arcs are chords on our side (courtyard, outline, artwork) may differ by this much along their edge."""
COURTYARD_CHORD_MM = 0.02
"""The editor's own chords of curved courtyards, which no setting refines."""
COURTYARD_SHAVED_MM = 0.005
"""The editor makes a courtyard this much smaller all around, so that courtyards may touch."""
ARC_LENGTH_MM = 2 * np.pi / 3 * ARC_TOL_MM
"""A chain of chords within `ARC_TOL_MM` of an arc is at most this much shorter than the arc, whatever its radius."""
TEXT_SHARE, TEXT_MM = 0.05, 0.1
SHOWN = 20


@dataclass(frozen=True)
class Mismatch:
    """One disagreement; `size` orders them, worst first, and is infinite for what is plainly wrong or absent."""

    item: str
    what: str
    editor: str
    ours: str
    size: float = float("inf")


Found = Iterator[Mismatch]


Triple = tuple[str, BaseGeometry, BaseGeometry]
"""Name of a shape, the editor's, ours."""


def listing(mismatches: list[Mismatch]) -> str:
    """The worst mismatches as a table for a person."""
    rows = [f"{m.item}: {m.what}: editor {m.editor}, ours {m.ours}" for m in mismatches[:SHOWN]]
    more = len(mismatches) - SHOWN
    return "\n".join(
        [f"{len(mismatches)} mismatches, worst first", *rows, *([f"... and {more} more"] if more > 0 else [])]
    )


def summary(found: dict[str, list[Mismatch]]) -> str:
    """How many mismatches each category has, and of which kind."""
    rows = []
    for name, mismatches in found.items():
        kinds = Counter(m.what for m in mismatches)
        rows.append(f"{name}: {len(mismatches)} {dict(kinds.most_common(8)) if kinds else ''}")
    return "\n".join(rows)


def shape_mismatches(triples: Iterable[Triple], along_edge: float = 0.0) -> Found:
    """Shapes whose symmetric difference is over the tolerance, judged in one vectorised step.

    Args:
        triples: what to compare.
        along_edge: mm by which the whole edge may be off, for shapes whose arcs are chords.
    """
    rows = list(triples)
    if not rows:
        return
    theirs = np.array([row[1] for row in rows], dtype=object)
    ours = np.array([row[2] for row in rows], dtype=object)
    for shapes in (theirs, ours):
        bad = ~shapely.is_valid(shapes)
        shapes[bad] = shapely.make_valid(shapes[bad])
    differs = shapely.area(shapely.symmetric_difference(theirs, ours))
    edge = along_edge * np.maximum(shapely.length(theirs), shapely.length(ours))
    allowed = np.maximum.reduce([SHAPE_SHARE * shapely.area(theirs), edge, np.full(len(rows), SHAPE_MM2)])
    for i in np.flatnonzero(differs > allowed):
        told = f"{ours[i].area:.5f} mm² ({differs[i]:.5f} mm² differ)"
        yield Mismatch(rows[i][0], "shape", f"{theirs[i].area:.5f} mm²", told, float(differs[i] / allowed[i]))


def matched(
    theirs: Iterable[Any],
    ours: Iterable[Any],
    name: Callable[[Any], str],
    key: Callable[[Any], str] = lambda item: item.uid,
) -> Iterator[tuple[str, Any, Any]]:
    """Pairs of the same item by part and uuid; items that share one are told apart by place.

    Groups of unlike size are left out: `absent` reports them.
    """
    for (_, uid), (left, right) in _groups(theirs, ours, key).items():
        if len(left) == len(right):
            for one, other in zip(sorted(left, key=_editor_place), sorted(right, key=_place)):
                yield f"{name(other)} ({uid})", one, other


def absent(what: str, theirs: Iterable[Any], ours: Iterable[Any]) -> Found:
    """Items only one of the two knows."""
    for (part, uid), (left, right) in _groups(theirs, ours, lambda item: item.uid).items():
        if len(left) != len(right):
            yield Mismatch(f"{what} {uid} of part {part or '-'}", "times there", str(len(left)), str(len(right)))


def _groups(
    theirs: Iterable[Any], ours: Iterable[Any], key: Callable[[Any], str]
) -> dict[tuple[str, str], tuple[list[Any], list[Any]]]:
    groups: dict[tuple[str, str], tuple[list[Any], list[Any]]] = defaultdict(lambda: ([], []))
    for item in theirs:
        groups[item.get("part", ""), item["uid"]][0].append(item)
    for item in ours:
        groups[getattr(item, "part_uid", ""), key(item)][1].append(item)
    return groups


def _editor_place(item: Any) -> tuple[float, ...]:
    at = point(item.get("at") or item.get("start"))
    return tuple(round(value, 4) for value in at) if at else ()


def _place(item: Any) -> tuple[float, ...]:
    at = getattr(item, "at", None) or getattr(item, "start", None)
    return tuple(round(value, 4) + 0.0 for value in at) if at else ()


def same_place(label: str, theirs: Any, ours: Any) -> Found:
    yield from same_point(label, "place", theirs["at"], ours.at)
    if "rotation" in theirs:
        yield from turned(label, theirs["rotation"], ours.rotation)


def same_point(label: str, what: str, theirs: list[int], ours: tuple[float, float]) -> Found:
    at = point(theirs)
    assert at is not None
    away = float(np.hypot(at[0] - ours[0], at[1] - ours[1]))
    if away > EXACT_MM:
        yield Mismatch(label, what, f"({at[0]:.6f}, {at[1]:.6f})", f"({ours[0]:.6f}, {ours[1]:.6f})", away / EXACT_MM)


def turned(label: str, theirs: float, ours: float) -> Found:
    away = abs((theirs - ours + 180) % 360 - 180)
    if away > EXACT_DEG:
        yield Mismatch(label, "rotation", f"{theirs:.4f}", f"{ours:.4f}", away / EXACT_DEG)


def apart(label: str, what: str, theirs: float, ours: float, tolerance: float = EXACT_MM) -> Found:
    if abs(theirs - ours) > tolerance:
        yield Mismatch(label, what, f"{theirs:.6f} mm", f"{ours:.6f} mm", abs(theirs - ours) / tolerance)


def unequal(label: str, what: str, theirs: Any, ours: Any) -> Found:
    if theirs != ours:
        yield Mismatch(label, what, repr(theirs), repr(ours))
