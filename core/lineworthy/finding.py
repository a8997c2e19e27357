# SPDX-License-Identifier: MIT
"""What a check answers: findings, and the honest admission that it could not run."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Optional

from shapely.geometry.base import BaseGeometry

from lineworthy.model import CopperArea, Graphic, Item, KeepOut, Marking, Net, Pad, Part, Side, Track, Via
from lineworthy.shapes import Point


class Consequence(Enum):
    """What a finding costs at the factory."""

    HOLD = "hold"
    """The job stops until somebody answers."""
    QUERY = "query"
    """An engineering question comes back, or they work around it at your cost."""
    NOTE = "note"
    """Worth a look; nobody stops."""

    @property
    def rank(self) -> int:
        """0 for the gravest."""
        return (Consequence.HOLD, Consequence.QUERY, Consequence.NOTE).index(self)


@dataclass(frozen=True)
class Place:
    """Where on the board: a point to go to, the side to look at, and what lies there in words."""

    at: Point
    side: Optional[Side] = None
    label: str = ""


@dataclass(frozen=True)
class Finding:
    """One answer that needs a person.

    Attributes:
        check: the check's id, ``area/problem``.
        message: one sentence with subject, measured value, limit and unit; advice lives in the check's docstring.
        places: where to look; empty when it concerns the board as a whole.
        uids: the editor's ids of the items concerned, parts before their pads, to show them there.
        measured, limit, unit: the comparison, where there is one.
        limit_key: the capability-sheet key the limit came from (its source is there).
        fingerprint: stays the same when an item moves, changes when the item itself changes.
    """

    check: str
    consequence: Consequence
    message: str
    places: tuple[Place, ...] = ()
    uids: tuple[str, ...] = ()
    measured: Optional[float] = None
    limit: Optional[float] = None
    unit: str = ""
    limit_key: str = ""
    fingerprint: str = ""

    @property
    def area(self) -> str:
        """The area the check belongs to."""
        return self.check.split("/", 1)[0]


@dataclass(frozen=True)
class NotRun:
    """A check, or a part of one, that lacked an input: what is missing and how to give it."""

    check: str
    missing: str
    how: str


def fingerprint(check: str, items: Iterable[tuple[Item, str]], detail: str = "") -> str:
    """Sixteen hex digits from what a finding is about, not from where it is.

    Args:
        check: the check's id.
        items: the items concerned with the id of the part that owns each (empty for none); order does not matter.
        detail: what tells two findings on the same items apart (a layer, a net).
    """
    keys = sorted(_key(item, owner) for item, owner in items)
    return hashlib.sha256("\n".join([check, detail, *keys]).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _key(item: Item, owner: str) -> str:
    """What an item is, without its place: a moved part is the same part, one with another package is not."""
    if isinstance(item, Part):
        return f"part {item.uid} {item.reference} {item.package} {item.value}"
    if isinstance(item, Pad):
        return f"pad {owner} {item.uid} {item.number} {item.net}"
    if isinstance(item, Marking):
        return f"marking {item.uid} {item.text} {item.layer.name}"
    if isinstance(item, Net):
        return f"net {item.name}"
    if isinstance(item, (Track, Via, CopperArea)):
        return f"copper {item.uid} {item.net}"
    assert isinstance(item, (KeepOut, Graphic))
    return f"drawn {item.uid}"


def centre(shape: BaseGeometry) -> Point:
    """A point inside a shape, for a pin on the map."""
    spot = shape.representative_point() if not shape.is_empty else shape.centroid
    return (spot.x, spot.y) if not spot.is_empty else (0.0, 0.0)


def places_of(parts: Iterable[Part]) -> list[Place]:
    """Where parts are, in the order given, each called by its reference."""
    return [Place(part.at, part.side, part.reference) for part in parts]
