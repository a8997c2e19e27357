# SPDX-License-Identifier: MIT
"""From which side a plug goes into a connector that lies on the board.

A connector for plugs that come along the board has its contacts at the back: the plug comes from where the body is,
seen from the lands. Names say whether it is such a connector at all; one that says nothing is not judged.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.knowledge.bodies import Body, Kind
from lineworthy.knowledge.frames import Frame
from lineworthy.shapes import Point

BEHIND_RATIO = 0.3
"""The middle of the lands lies this far off the middle of the body, in half widths of it, or nobody can tell."""

_HOODED = r"\bUSB|\bHDMI|D-?SUB|BARREL|\bDC-?10|JACK-(DC|3\.5|2\.5|6\.35)"
_FLAT = r"HORIZONTAL|RIGHT-?ANGLE|SIDE-?ENTRY|ANGLED|EDGE-?MOUNT|-S\d+B-|\bSM\d+B-|\bRJ-?\d\d"
_ALONG = re.compile(f"{_HOODED}|{_FLAT}", re.IGNORECASE)
_HOODS = re.compile(_HOODED, re.IGNORECASE)
_UPRIGHT = re.compile(r"VERTICAL|TOP-?ENTRY|UPRIGHT|STRAIGHT|FROM-?TOP", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class Mating:
    """How a plug comes to a connector.

    Attributes:
        face: the two ends of the edge of the body that a plug comes to.
        way: unit vector out of that edge.
        hooded: its plugs have a grip that is wider than the connector and stays outside.
    """

    face: tuple[Point, Point]
    way: Point
    hooded: bool = field(default=False)

    def room(self, length: float) -> Polygon:
        """What a plug of some length takes before the connector."""
        near = np.array(self.face)
        far = near + length * np.array(self.way)
        return shapely.Polygon([*near, *far[::-1]])


def mating(body: Body) -> Optional[Mating]:
    """How a plug comes to a connector along the board; None for other parts and where nobody can tell."""
    name = re.sub(r"[-_\s]+", "-", body.part.package)
    if body.kind is not Kind.CONNECTOR or body.part.body is None or _UPRIGHT.search(name) or not _ALONG.search(name):
        return None
    frame = Frame(body.part)
    low, high = frame.box(shapely.get_coordinates(body.facts.body))
    half = (high - low) / 2
    lands = [pad for pad in body.part.pads if pad.copper]
    if not lands or half.min() <= 0.0:
        return None
    # fixing lands lie at the sides or in front, contacts behind
    areas = np.array([next(iter(pad.copper.values())).area for pad in lands])
    spots = np.array([frame.box(np.array([pad.at]))[0] for pad in lands])[areas <= 3 * np.median(areas)]
    off = ((low + high) / 2 - spots.mean(axis=0)) / half
    axis = int(abs(off[1]) > abs(off[0]))
    # a body narrower than the row of its contacts is a mark that was drawn instead of it
    if abs(off[axis]) < BEHIND_RATIO or np.ptp(spots[:, 1 - axis]) > 2 * half[1 - axis] + 1e-6:
        return None
    first, last = low.copy(), high.copy()
    first[axis] = last[axis] = high[axis] if off[axis] > 0 else low[axis]
    way = np.zeros(2)
    way[axis] = np.sign(off[axis])
    out = np.subtract(frame.back(way), frame.back(np.zeros(2)))
    return Mating((frame.back(first), frame.back(last)), (float(out[0]), float(out[1])), bool(_HOODS.search(name)))
