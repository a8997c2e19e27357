# SPDX-License-Identifier: MIT
"""Solder joints: will the stencil print them?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import exceeds, falls_short, true_sizes, width_and_length
from lineworthy.knowledge.looks import is_round, span
from lineworthy.knowledge.wording import counted, listed, mm, natural, pad_name
from lineworthy.model import Board, Pad, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

COATED_AREA_RATIO = 0.55
"""From here to the limit a coated or electroformed foil still prints (graded result of a stencil calculator)."""

LONG = 5.0
"""Openings longer than this many widths are judged by their aspect ratio (IPC-7525B, as cited by the same)."""

ODD_BELOW = 0.5
"""An opening that fills less than this share of its rectangle is made of arms; a right triangle fills half of it."""


@dataclass(frozen=True, eq=False)
class Opening:
    """One window of the stencil over a pad: its ratio, and the limit that applies to its form."""

    part: Part
    pad: Pad
    side: Side
    shape: Polygon
    size: tuple[float, float]
    ratio: float
    limit_key: str

    @property
    def is_long(self) -> bool:
        """Judged by aspect ratio."""
        return self.limit_key == "solder.paste_aspect_min_ratio"


@check(
    "solder/paste-aperture-small",
    limits=("solder.stencil_mm", "solder.paste_area_min_ratio", "solder.paste_aspect_min_ratio"),
)
def paste_aperture_small(board: Board, sheet: Sheet) -> Answers:
    """Are stencil openings so small for the thickness of the foil that paste stays in them?

    Why it matters: paste sticks to the walls of an opening as well as to the land below it. When the walls are large
    against the opening, part of the paste leaves with the stencil, and joints come out starved or open, at random.
    What to do: enlarge the paste opening, join several into one, or agree on a thinner, coated or electroformed foil
    and put its thickness in the capability sheet.
    Blind spots: one foil thickness for the whole board; stepped foils are not known. The assembler may redraw openings.
    Paste drawn as artwork instead of as pads is not looked at. The width of an odd shape is that of the smallest
    rectangle round it. Parts that are not fitted are left out.
    Source: IPC-7525B area ratio 0.66 and aspect ratio 1.5, as cited by a stencil calculator; foil thickness is common
    practice.
    """
    groups: dict[tuple[str, Side, str, str], list[Opening]] = defaultdict(list)
    for opening in _too_small(board, sheet):
        what = opening.part.package or opening.part.reference
        groups[what, opening.side, _size(opening), opening.limit_key].append(opening)
    for key in sorted(groups, key=lambda key: (key[0], key[1].value, *key[2:])):
        yield _finding(groups[key], sheet)


def _too_small(board: Board, sheet: Sheet) -> list[Opening]:
    rows = [
        (part, pad, side, shape)
        for part, pad in board.pads
        if part.fitted
        for side, area in pad.paste.items()
        for shape in shapely.get_parts(area)
        if shape.area > 0.0
    ]
    areas, outlines = true_sizes([row[3] for row in rows])
    # no shape is narrower than twice its area over its outline, so a large ratio settles both questions
    enough = max(sheet.solder.paste_area_min_ratio, sheet.solder.paste_aspect_min_ratio / 2) * sheet.solder.stencil_mm
    windows: dict[tuple[str, Side], list[Polygon]] = {}
    small: dict[tuple[str, Side, Point], Opening] = {}
    for n in np.flatnonzero(areas / outlines < enough):
        part, pad, side, shape = rows[n]
        if (part.uid, side) not in windows:
            windows[part.uid, side] = _windows(part, side)
        whole = next((window for window in windows[part.uid, side] if window.intersects(shape)), shape)
        opening = _judged(part, pad, side, whole, sheet)
        if falls_short(opening.ratio, sheet.value(opening.limit_key)):
            small.setdefault((part.uid, side, centre(whole)), opening)
    return list(small.values())


def _windows(part: Part, side: Side) -> list[Polygon]:
    """The openings over a part as they are cut: what touches is one opening."""
    return list(shapely.get_parts(shapely.union_all([pad.paste[side] for pad in part.pads if side in pad.paste])))


def _judged(part: Part, pad: Pad, side: Side, shape: Polygon, sheet: Sheet) -> Opening:
    size = (span(shape), span(shape)) if is_round(shape) else width_and_length(shape)
    if exceeds(size[1], LONG * size[0]):
        ratio, key = size[0] / sheet.solder.stencil_mm, "solder.paste_aspect_min_ratio"
    else:
        area, outline = true_sizes([shape])
        ratio, key = float(area[0] / (outline[0] * sheet.solder.stencil_mm)), "solder.paste_area_min_ratio"
    return Opening(part, pad, side, shape, size, ratio, key)


def _finding(group: list[Opening], sheet: Sheet) -> Finding:
    group = sorted(group, key=lambda o: (natural(o.part.reference), natural(o.pad.number), o.part.uid, o.pad.uid))
    worst = min(group, key=lambda opening: round(opening.ratio, 6))
    parts = {opening.part.uid: opening.part for opening in group}
    where = listed(part.reference for part in parts.values())
    package = f" ({worst.part.package})" if worst.part.package else ""
    kind = "aspect" if worst.is_long else "area"
    limit = float(sheet.value(worst.limit_key))
    is_coated = not worst.is_long and worst.ratio >= COATED_AREA_RATIO
    grade = ", enough for a coated or electroformed foil only" if is_coated else ""
    need = f"{limit:.2f} needed at {mm(sheet.solder.stencil_mm)} mm foil"
    subject = f"{counted(len(group), 'stencil opening')} of {_size(worst)} mm in {where}{package}"
    return paste_aperture_small.finding(
        Consequence.QUERY,
        f"{subject}: {kind} ratio {worst.ratio:.2f}{grade}; {need}",
        items=[(opening.part, opening.pad) for opening in group],
        places=[Place(centre(o.shape), o.side, pad_name(o.part.reference, o.pad.number)) for o in group],
        measured=worst.ratio,
        limit=limit,
        unit="",
        limit_key=worst.limit_key,
        detail=f"{worst.side.value} {_rectangle(worst)}",
    )


def _size(opening: Opening) -> str:
    rectangle = _rectangle(opening)
    if opening.shape.area > ODD_BELOW * opening.size[0] * opening.size[1]:
        return rectangle
    area, outline = true_sizes([opening.shape])
    # the ratio is that of its arms, of which the rectangle says nothing
    return f"{mm(2 * float(area[0] / outline[0]))} mm width on average within {rectangle}"


def _rectangle(opening: Opening) -> str:
    return " x ".join(mm(side) for side in opening.size)


CHECKS = (paste_aperture_small,)
