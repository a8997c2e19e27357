# SPDX-License-Identifier: MIT
"""What the lands of a part say: how many rows, how fine, leads beside the body or lands under it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Optional

import numpy as np
import shapely

from lineworthy.geometry import Floats
from lineworthy.knowledge.packages_names import IMPERIAL, Family
from lineworthy.model import Pad, PadKind, PadRole, Part
from lineworthy.shapes import Area

CHIP_MAX_MM = 8.5
"""A pair of equal lands spanning more than this is not a chip."""

MODULE_PITCH_MIN_MM = 1.05
"""A large package with coarser lands than this on its rim is no quad-flat pack: those end at 1.0 mm."""

SOT_MAX_MM = 4.6
"""Small transistor packages span no more than this over their lands."""

MODULE_MIN_MM = 10.0
"""A body with lands at its rim and both sides longer than this is a board on the board, unless the name says else."""

VIA_MAX_MM = 0.45
"""Holes up to this width inside a surface land carry heat, not leads."""

_SPANS = {"01005": 1.0, "0201": 1.5, "0402": 2.05, "0603": 2.82, "0805": 3.5, "1206": 4.7, "1812": 5.8, "2010": 6.3}
"""Largest usual span over both lands of a chip, mm, between the editor's own library items of neighbouring sizes; those
for hand soldering reach into the next size below 0402."""


@dataclass(frozen=True)
class Lands:
    """The lands of a part in its own frame, lands of one number merged.

    Attributes:
        centre: (n, 2) mm.
        size: (n, 2) mm, along the part's x and y.
        through: (n,) has a lead through the board.
        pitch: smallest distance between the centres of two lands; None with fewer than three.
        body: (2,) width and height of the body as it is drawn, along the part's x and y; None when it is not drawn.
    """

    centre: Floats
    size: Floats
    through: Floats
    pitch: Optional[float]
    body: Optional[Floats] = None

    def __len__(self) -> int:
        return len(self.centre)

    @property
    def mostly_through(self) -> bool:
        """Whether most of them have a lead through the board."""
        return len(self) > 0 and float(self.through.mean()) > 0.5


def leads(part: Part) -> tuple[Pad, ...]:
    """Pads with something through the board: leads and pegs of plated holes, but not thermal vias."""
    drilled = [pad for pad in part.pads if pad.kind is PadKind.THROUGH and pad.hole is not None and pad.copper]
    flat = [pad for pad in part.pads if pad.kind in (PadKind.SURFACE, PadKind.CONNECTOR) and pad.copper]
    if not flat:
        return tuple(drilled)
    return tuple(pad for pad in drilled if not _is_thermal_via(pad, flat))


def _is_thermal_via(pad: Pad, flat: Sequence[Pad]) -> bool:
    if pad.role in (PadRole.THERMAL, PadRole.CASTELLATED):
        return True
    same = [other for other in flat if other.number == pad.number]
    if not same or pad.hole is None:
        return False
    return pad.hole.diameter <= VIA_MAX_MM or any(other.extent.covers(shapely.Point(pad.at)) for other in same)


def lands_of(part: Part) -> Lands:
    """Collects the lands that carry joints, turned into the part's own frame."""
    through = {id(pad) for pad in leads(part)}
    boxes: dict[str, tuple[Floats, Floats, bool]] = {}
    for index, pad in enumerate(part.pads):
        if not pad.copper or pad.kind is PadKind.UNPLATED or pad.role is PadRole.MECHANICAL:
            continue
        if pad.kind is PadKind.THROUGH and id(pad) not in through:
            continue
        low, high = _own_box(part, _copper(pad))
        key = pad.number or f"#{index}"
        # pieces of one land are merged, equal numbers far apart (shells, doubled pins) stay apart
        if key in boxes and _apart(boxes[key], low, high):
            key = f"{key}#{index}"
        old = boxes.get(key)
        if old is not None:
            low, high = np.minimum(low, old[0]), np.maximum(high, old[1])
        boxes[key] = (low, high, id(pad) in through or (old is not None and old[2]))
    if not boxes:
        return Lands(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), None)
    body = None if part.body is None or part.body.is_empty else np.subtract(*reversed(_own_box(part, part.body)))
    low = np.array([box[0] for box in boxes.values()])
    high = np.array([box[1] for box in boxes.values()])
    centre = (low + high) / 2
    through_board = np.array([float(box[2]) for box in boxes.values()])
    return Lands(centre, high - low, through_board, _pitch(centre, high - low), body)


def _own_box(part: Part, shape: Area) -> tuple[Floats, Floats]:
    """Lower and upper corner of a shape in the part's own frame; rounded, so that a turned part is judged the same."""
    turn = np.radians(-part.rotation)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    points = np.round((shapely.get_coordinates(shape) - np.array(part.at)) @ matrix, 4)
    return points.min(axis=0), points.max(axis=0)


def _copper(pad: Pad) -> Area:
    return next(iter(pad.copper.values()))


def _apart(box: tuple[Floats, Floats, bool], low: Floats, high: Floats) -> bool:
    return bool((low > box[1] + 0.4).any() or (high < box[0] - 0.4).any())


def _pitch(centre: Floats, size: Floats) -> Optional[float]:
    area = size[:, 0] * size[:, 1]
    # heat lands and fixing tabs are not part of a row
    kept = centre[area <= 3 * np.median(area) + 1e-9]
    if len(kept) < 3:
        return None
    points = np.asarray(shapely.points(kept))
    first, second = shapely.STRtree(points).query_nearest(points, exclusive=True, all_matches=False)
    if not len(first):  # they lie in one place, all of them
        return None
    return round(float(np.hypot(*(kept[first] - kept[second]).T).min()), 3)


def family_by_pads(lands: Lands, letters: str) -> Family:
    """Family from the look of the lands and the body alone; `letters` are those of the reference."""
    if len(lands) <= 1:
        return Family.MECHANICAL
    if lands.mostly_through:
        return _through_family(lands, letters)
    if len(lands) == 2:
        return _pair_family(lands)
    if is_grid(lands):
        return Family.ARRAY
    return _leaded_family(lands)


def chip_size_by_pads(lands: Lands) -> str:
    """Nearest chip size code by the drawn body, else by the span over two lands; empty when there is none."""
    if len(lands) != 2:
        return ""
    if lands.body is not None:
        drawn = np.sort(lands.body)
        codes = {code: float(np.abs(np.sort(size) - drawn).max()) for code, size in IMPERIAL.items()}
        nearest = min(codes, key=lambda code: codes[code])
        if codes[nearest] <= 0.1 + 0.1 * drawn[1]:
            return nearest
    span = over_lands(lands).max()
    return next((code for code, most in _SPANS.items() if span <= most), "2512" if span <= CHIP_MAX_MM else "")


def nearest_size(sizes: Sequence[str], lands: Lands) -> str:
    """Which reading of a size code fits the lands: 0603 is 1.6 mm long in one system, 0.6 mm in the other."""
    if len(sizes) < 2 or len(lands) < 2:
        return sizes[0] if sizes else ""
    span = over_lands(lands).max()
    return min(sizes, key=lambda code: abs(1.5 * max(IMPERIAL[code]) - span))


def over_lands(lands: Lands) -> Floats:
    """Width and height over all lands, mm."""
    low, high = lands.centre - lands.size / 2, lands.centre + lands.size / 2
    return np.asarray(high.max(axis=0) - low.min(axis=0))


def _pair_family(lands: Lands) -> Family:
    span = over_lands(lands).max()
    if np.allclose(lands.size[0], lands.size[1], rtol=0.2) and span <= CHIP_MAX_MM:
        return Family.CHIP
    return Family.MOLDED if span <= 2 * CHIP_MAX_MM else Family.UNKNOWN


def _through_family(lands: Lands, letters: str) -> Family:
    if letters in ("U", "IC") and len(lands) >= 4:
        return Family.THROUGH_IC
    rows = _rows(lands)
    if len(lands) >= 6 and rows == 2 and abs(_row_gap(lands) / 2.54 - round(_row_gap(lands) / 2.54)) < 0.05:
        return Family.THROUGH_IC if _row_gap(lands) > 5 else Family.CONNECTOR
    return Family.THROUGH_PART if len(lands) <= 4 else Family.UNKNOWN


def is_grid(lands: Lands) -> bool:
    """Lands in rows and columns with some inside, not only round the rim."""
    if len(lands) < 9:
        return False
    area = lands.size.prod(axis=1)
    usual = area <= 2 * np.median(area)
    centre = lands.centre[usual]
    low, high = centre.min(axis=0) + 0.1, centre.max(axis=0) - 0.1
    inside = ((centre > low) & (centre < high)).all(axis=1).sum()
    square = (lands.size[usual].max(axis=1) <= 1.6 * lands.size[usual].min(axis=1)).mean() > 0.8
    return bool(inside >= max(1, 0.1 * len(centre)) and square)


def _leaded_family(lands: Lands) -> Family:
    width, height = over_lands(lands)
    area = lands.size.prod(axis=1)
    big = area.max() > 8 * np.median(area) and area.max() > 12.0
    if big and len(lands) <= 10 and _biggest_at_rim(lands):
        return Family.POWER
    leaded = beside_body(lands)
    small = area <= 3 * np.median(area) + 1e-9
    rim = Lands(lands.centre[small], lands.size[small], lands.through[small], None)
    if len(rim) <= 6 and max(width, height) <= SOT_MAX_MM:
        return Family.SOT if leaded else Family.NO_LEAD
    coarse = lands.pitch is not None and lands.pitch > MODULE_PITCH_MIN_MM
    large = lands.body is not None and lands.body.min() > MODULE_MIN_MM
    if large and (coarse or not leaded) and len(rim) < 100:
        return Family.MODULE
    if _rows(rim) == 2:
        return Family.SMALL_OUTLINE if leaded else Family.NO_LEAD
    if _on_four_sides(rim):
        return Family.QUAD_FLAT if leaded else Family.NO_LEAD
    return Family.UNKNOWN


def beside_body(lands: Lands) -> bool:
    """True when the lands lie beside the body (gull wings), False when mostly under it; without a body by length."""
    area = lands.size.prod(axis=1)
    length = np.median(lands.size[area <= 3 * np.median(area) + 1e-9].max(axis=1))
    return bool(length > 1.15 if lands.body is None else past_body(lands) > 0.6 * length)


def past_body(lands: Lands) -> float:
    """How far lands reach past the drawn body, mm, where they do so most; minus infinity without a body."""
    return -np.inf if lands.body is None else float((over_lands(lands) - lands.body).max()) / 2


def _rows(lands: Lands) -> int:
    """How many rows or columns the lands form, whichever is fewer."""
    if len(lands) == 0:
        return 0
    return min(len(np.unique(np.round(lands.centre[:, axis] / 0.2))) for axis in (0, 1))


def _row_gap(lands: Lands) -> float:
    """Distance of two rows; 0 when there are not two."""
    for axis in (0, 1):
        if len(np.unique(np.round(lands.centre[:, axis] / 0.2))) == 2:
            return float(np.ptp(lands.centre[:, axis]))
    return 0.0


def _biggest_at_rim(lands: Lands) -> bool:
    biggest = lands.size.prod(axis=1).argmax()
    middle = (lands.centre.max(axis=0) + lands.centre.min(axis=0)) / 2
    return bool(np.hypot(*(lands.centre[biggest] - middle)) > 0.2 * over_lands(lands).max())


def _on_four_sides(lands: Lands) -> bool:
    if len(lands) < 8:
        return False
    low, high = lands.centre.min(axis=0), lands.centre.max(axis=0)
    depth = lands.size.max() / 2 + 0.15
    counts = [(np.abs(lands.centre[:, axis] - edge[axis]) < depth).sum() for axis in (0, 1) for edge in (low, high)]
    return bool(min(counts) >= 2)
