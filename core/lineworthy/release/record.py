# SPDX-License-Identifier: MIT
"""The record of a board: everything that is made, in one canonical form, and its digest.

Two boards with the same digest make the same product. What the editor keeps for itself (ids, order of items,
courtyards, fabrication drawings, the place of the board on its sheet) is not in the record.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Optional

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.fields import Meaning, maker_part, order_code, stated
from lineworthy.model import Board, LayerKind, Marking, Pad, Part, Side, Track, Via
from lineworthy.shapes import Coords, Point

BIAS_MM = 3.3e-6
"""Added before rounding, so that coordinates on the editor's grid of nanometres never lie where rounding tips over."""

DECIMALS = 4

_TAB = "\t"
"""Between layer and name in a key: neither holds one in a way that matters."""

_DRAWN = (LayerKind.COPPER, LayerKind.MASK, LayerKind.PASTE, LayerKind.LEGEND)


@dataclass(frozen=True)
class Entry:
    """One thing that is made.

    Attributes:
        kind: board, outline, part, pad, track, via, pour, text or drawing.
        key: what stays when the thing changes: a reference, a place, a layer and a net.
        facts: what can change.
        at: a place on the board, from its lower left corner in mm.
        side: ``top``, ``bottom`` or empty.
        owner: the reference of the part that a pad, text or drawing belongs to.
    """

    kind: str
    key: str
    facts: Mapping[str, str]
    at: Point = (0.0, 0.0)
    side: str = ""
    owner: str = ""

    def fact(self, name: str) -> str:
        """A fact, empty where it is not known."""
        return self.facts.get(name, "")

    @property
    def layer(self) -> str:
        """The layer of a track, pour, text or drawing."""
        return self.key.partition(_TAB)[0]

    @property
    def name(self) -> str:
        """The key without the layer."""
        return self.key.partition(_TAB)[2]

    @property
    def told(self) -> tuple[str, ...]:
        """The facts that are known, in order."""
        return tuple(f"{name}={value}" for name, value in sorted(self.facts.items()) if value)

    @property
    def line(self) -> str:
        """The canonical form that the digest is made of. The place is in it where it is a fact."""
        return "\x1f".join([self.kind, self.key, *self.told])


@dataclass(frozen=True)
class Record:
    """Everything that is made of one board.

    Attributes:
        entries: sorted, each kind and key once.
        origin: where the board's lower left corner, or the point chosen for it, lies in the document.
    """

    entries: tuple[Entry, ...]
    origin: Point

    @cached_property
    def digest(self) -> str:
        """64 hex digits."""
        lines = "\n".join(entry.line for entry in self.entries)
        return hashlib.sha256(lines.encode("utf-8", "surrogatepass")).hexdigest()

    @cached_property
    def by_key(self) -> Mapping[tuple[str, str], Entry]:
        """Entries by kind and key."""
        return {(entry.kind, entry.key): entry for entry in self.entries}


def record(board: Board, origin: Optional[Point] = None) -> Record:
    """The record of a board.

    Args:
        board: the board.
        origin: the point of the document that places are counted from; the lower left corner of the outline when None.
    """
    corner = origin or _corner(board)
    frame = _Frame(corner)
    names = _names(board, frame)
    found = [
        _whole(board),
        *_outline(board, frame),
        *_parts(board, frame, names),
        *(_track(track, frame) for track in board.tracks),
        *(_via(via, frame) for via in board.vias),
        *_pours(board, frame),
        *_texts(board, frame, names),
        *_drawings(board, frame, names),
    ]
    return Record(tuple(sorted(_told_apart(found), key=lambda entry: (entry.kind, entry.key))), corner)


class _Frame:
    """Numbers and shapes of the document as the record writes them."""

    def __init__(self, origin: Point) -> None:
        self.shift = np.array(origin) - BIAS_MM

    def at(self, point: Point) -> Point:
        x, y = np.round(np.array(point) - self.shift, DECIMALS) + 0.0
        return float(x), float(y)

    def point(self, point: Point) -> str:
        x, y = self.at(point)
        return f"{x:.4f},{y:.4f}"

    def shape(self, shape: BaseGeometry) -> str:
        """A digest of a shape where it lies, the same whatever corner its outline starts at."""
        return _hash(self.points(shapely.get_coordinates(shapely.normalize(shape))))

    def points(self, coords: Coords) -> bytes:
        whole = np.round((coords - self.shift) * 10**DECIMALS)
        return bytes(whole.astype(np.int64).tobytes())


def _corner(board: Board) -> Point:
    if board.outline.area.is_empty:
        return 0.0, 0.0
    left, bottom, _, _ = board.outline.area.bounds
    return float(left), float(bottom)


def _whole(board: Board) -> Entry:
    # that the board has castellations shows in its pads; version 10 of the editor does not save the remark
    stackup = board.stackup
    facts = {
        "thickness": _mm(stackup.thickness),
        "copper layers": ", ".join(board.copper_layers),
        "finish": stackup.finish,
        "plated edge": _yes(stackup.edge_plated),
        "layers of the stack-up": "; ".join(
            f"{layer.kind} {_mm(layer.thickness)} {layer.material}".strip() for layer in stackup.layers
        ),
    }
    return Entry("board", "", facts)


def _outline(board: Board, frame: _Frame) -> Iterator[Entry]:
    for polygon in shapely.get_parts(board.outline.area):
        left, bottom, right, top = polygon.exterior.bounds
        size = f"{right - left:.3f} x {top - bottom:.3f} mm"
        yield Entry("outline", "edge", {"shape": frame.shape(polygon.exterior), "size": size})
        for ring in polygon.interiors:
            at = frame.at((ring.centroid.x, ring.centroid.y))
            yield Entry("outline", f"cut-out {at[0]:.1f},{at[1]:.1f}", {"shape": frame.shape(ring)}, at)


def _names(board: Board, frame: _Frame) -> Mapping[str, str]:
    """What each part is called, by its id: parts of one reference get a number each, by where they lie."""
    names: dict[str, str] = {}
    seen: dict[str, int] = {}
    for part in sorted(board.parts, key=lambda part: (part.reference, frame.at(part.at), part.package, part.value)):
        count = seen[part.reference] = seen.get(part.reference, 0) + 1
        names[part.uid] = part.reference if count == 1 else f"{part.reference} ({count})"
    return names


def _parts(board: Board, frame: _Frame, names: Mapping[str, str]) -> Iterator[Entry]:
    for part in board.parts:
        facts = {
            "value": part.value,
            "package": part.package,
            "side": part.side.value,
            "place": frame.point(part.at),
            "turn": f"{round(part.rotation, 3) % 360:g}",
            "fitted": _yes(part.fitted),
            "in the parts list": _yes(part.in_parts_list),
            "in the placement file": _yes(part.in_placement),
            "manufacturer": stated(part.fields, Meaning.MAKER),
            "manufacturer part": maker_part(part),
            "order code": order_code(part),
        }
        at = frame.at(part.at)
        yield Entry("part", names[part.uid], facts, at, part.side.value)
        for pad in part.pads:
            yield _pad(part, names[part.uid], pad, frame)


def _pad(part: Part, name: str, pad: Pad, frame: _Frame) -> Entry:
    facts = {
        "net": pad.net,
        "land": "; ".join(f"{layer} {frame.shape(shape)}" for layer, shape in sorted(pad.copper.items())),
        "mask opening": _by_side(pad.mask, frame),
        "paste": _by_side(pad.paste, frame),
    }
    if pad.hole is not None:
        facts["hole"] = f"{_mm(pad.hole.size[0])} x {_mm(pad.hole.size[1])} {'plated' if pad.hole.plated else 'bare'}"
        facts["hole at"] = frame.point(pad.hole.at) + ("" if not pad.hole.is_slot else f" {pad.hole.rotation % 180:g}")
    return Entry("pad", f"{name} pad {pad.number}", facts, frame.at(pad.at), part.side.value, name)


def _by_side(shapes: Mapping[Side, BaseGeometry], frame: _Frame) -> str:
    return "; ".join(f"{side.value} {frame.shape(shapes[side])}" for side in Side if side in shapes)


def _track(track: Track, frame: _Frame) -> Entry:
    ends = sorted([frame.point(track.start), frame.point(track.end)])
    bend = f" by {frame.point(track.mid)}" if track.mid else ""
    facts = {"net": track.net, "width": _mm(track.width), "mask opened": _yes(track.mask_opened)}
    middle = ((track.start[0] + track.end[0]) / 2, (track.start[1] + track.end[1]) / 2)
    return Entry("track", f"{track.layer}{_TAB}{ends[0]} {ends[1]}{bend}", facts, frame.at(track.mid or middle))


def _via(via: Via, frame: _Frame) -> Entry:
    facts = {
        "net": via.net,
        "diameter": _mm(via.diameter),
        "drill": _mm(via.drill),
        "layers": " to ".join(via.span),
        "covered": ", ".join(side.value for side in Side if side in via.tented),
        "filled": _yes(via.filled),
        "without land on": ", ".join(sorted(via.landless)),
        "diameters": "; ".join(f"{layer} {_mm(size)}" for layer, size in sorted(via.diameters.items())),
    }
    return Entry("via", frame.point(via.at), facts, frame.at(via.at))


def _pours(board: Board, frame: _Frame) -> Iterator[Entry]:
    """One entry for all the copper that pours of a net put on a layer, whichever pour it came from."""
    rings: dict[tuple[str, str], list[Coords]] = {}
    for area in board.areas:
        rings.setdefault((area.layer, area.net), []).extend(ring for ring in area.rings if len(ring) > 2)
    for (layer, net), coords in rings.items():
        if not coords:
            continue
        shape = _hash(b"".join(sorted(_from_lowest(frame.points(ring)) for ring in coords)))
        size = sum(abs(_signed_area(ring)) for ring in coords)
        largest = max(coords, key=lambda ring: abs(_signed_area(ring)))
        facts = {"shape": shape, "area": f"{size:.2f}", "pieces": str(len(coords))}
        side = board.side_of(layer)
        yield Entry("pour", f"{layer}{_TAB}{net}", facts, frame.at(tuple(largest[0])), side.value if side else "")


def _from_lowest(points: bytes) -> bytes:
    """A ring from its lowest corner on, so that it does not matter where the document starts it."""
    pairs = np.frombuffer(points, dtype=np.int64).reshape(-1, 2)
    if len(pairs) > 1 and (pairs[0] == pairs[-1]).all():
        pairs = pairs[:-1]
    start = int(np.lexsort((pairs[:, 1], pairs[:, 0]))[0])
    return np.roll(pairs, -start, axis=0).tobytes()


def _signed_area(ring: Coords) -> float:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _texts(board: Board, frame: _Frame, names: Mapping[str, str]) -> Iterator[Entry]:
    shown = [m for m in board.shown_markings if m.layer.kind in _DRAWN and m.text.strip()]
    for marking in sorted(shown, key=lambda m: (m.layer.name, m.text, frame.at(m.at))):
        facts = {
            "place": frame.point(marking.at),
            "height": _mm(marking.height),
            "line width": _mm(marking.stroke),
            "turn": f"{round(marking.rotation, 3) % 360:g}",
            "mirrored": _yes(marking.mirrored),
            "in a box": _yes(marking.knockout),
        }
        side = marking.layer.side.value if marking.layer.side else ""
        yield Entry(
            "text",
            f"{marking.layer.name}{_TAB}{_lasting(marking)}",
            facts,
            frame.at(marking.at),
            side,
            names.get(marking.part_uid, ""),
        )


def _lasting(marking: Marking) -> str:
    """What is printed; but where it is the day of printing, the variable: the day is no change of the board."""
    return marking.source if "${CURRENT_DATE}" in marking.source else marking.text


def _drawings(board: Board, frame: _Frame, names: Mapping[str, str]) -> Iterator[Entry]:
    for graphic in board.graphics:
        if graphic.layer.kind not in _DRAWN or graphic.shape.is_empty:
            continue
        spot = graphic.shape.representative_point()
        side = graphic.layer.side.value if graphic.layer.side else ""
        key = f"{graphic.layer.name}{_TAB}{frame.shape(graphic.shape)}"
        yield Entry(
            "drawing", key, {"net": graphic.net}, frame.at((spot.x, spot.y)), side, names.get(graphic.part_uid, "")
        )


def _told_apart(entries: Iterable[Entry]) -> Iterator[Entry]:
    """Things of one key get a number each; twice the same thing is made once."""
    seen: dict[tuple[str, str], list[str]] = {}
    for entry in entries:
        lines = seen.setdefault((entry.kind, entry.key), [])
        if entry.line in lines:
            continue
        lines.append(entry.line)
        key = entry.key if len(lines) == 1 else f"{entry.key} ({len(lines)})"
        yield replace(entry, key=key)


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _mm(value: Optional[float]) -> str:
    return "" if value is None else f"{round(value + BIAS_MM, DECIMALS):g}"


def _yes(value: bool) -> str:
    return "yes" if value else "no"
