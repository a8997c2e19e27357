# SPDX-License-Identifier: MIT
"""The board as plain data: what every check, plan and picture is computed from.

Frame: millimetres; degrees counter-clockwise; x right, **y up**, seen from the top of the board. Bottom-side
items are stored where they are seen from the top (nothing is mirrored). All items are frozen; areas are
shapely geometries; text is whatever the document holds and therefore hostile: escape it on the way out.

Words used below:
    part      something placed on the board, with its pads (a fiducial or a mounting hole may be one, too)
    pad       a land or a hole of a part; `copper` is its true shape per copper layer
    marking   text, resolved (variables replaced), on any layer
    graphic   drawn artwork that is not text: lines, polygons, on any layer
    area      a copper pour as it is filled, per layer
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import Any, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.shapes import Area, Coords, Point, arc_points, healed, polygonal, stadium


class Side(Enum):
    """The two faces of a board."""

    TOP = "top"
    BOTTOM = "bottom"

    @property
    def other(self) -> Side:
        """The face on the far side."""
        return Side.BOTTOM if self is Side.TOP else Side.TOP


class LayerKind(Enum):
    """What a layer becomes. Only the first six kinds are made by a factory."""

    COPPER = "copper"
    MASK = "mask"
    PASTE = "paste"
    LEGEND = "legend"
    ADHESIVE = "adhesive"
    OUTLINE = "outline"
    COURTYARD = "courtyard"
    FABRICATION = "fabrication"
    DRAWING = "drawing"


@dataclass(frozen=True)
class Layer:
    """One layer; `side` is None for inner copper and for layers that belong to no face."""

    name: str
    kind: LayerKind
    side: Optional[Side] = None

    @cached_property  # a board has few layers and asks this of everything on them
    def is_made(self) -> bool:
        """Whether something on this layer can be seen on the finished board."""
        outer = self.side is not None
        return outer and self.kind in (LayerKind.COPPER, LayerKind.MASK, LayerKind.LEGEND)


class Mount(Enum):
    """How a part is attached, as its footprint declares it."""

    SURFACE = "surface"
    THROUGH = "through"
    OTHER = "other"


class PadKind(Enum):
    """How a pad is made. CONNECTOR is a surface land without paste (edge fingers, test lands)."""

    SURFACE = "surface"
    THROUGH = "through"
    CONNECTOR = "connector"
    UNPLATED = "unplated"


class PadShape(Enum):
    """The drawn shape of a pad on its own layer; `Pad.copper` holds the true polygon."""

    CIRCLE = "circle"
    OVAL = "oval"
    RECTANGLE = "rectangle"
    ROUNDED = "rounded"
    CHAMFERED = "chamfered"
    TRAPEZOID = "trapezoid"
    CUSTOM = "custom"


class PadRole(Enum):
    """What the designer declared a pad to be."""

    NONE = "none"
    FIDUCIAL_GLOBAL = "fiducial-global"
    FIDUCIAL_LOCAL = "fiducial-local"
    TEST_POINT = "test-point"
    CASTELLATED = "castellated"
    THERMAL = "thermal"
    ARRAY = "array"
    MECHANICAL = "mechanical"
    PRESS_FIT = "press-fit"


@dataclass(frozen=True, eq=False)
class Hole:
    """A drilled or milled hole. `size` is (length, width) before rotation, equal for a round hole."""

    at: Point
    size: tuple[float, float]
    plated: bool
    rotation: float = 0.0

    @property
    def is_slot(self) -> bool:
        """True for an oblong hole."""
        return abs(self.size[0] - self.size[1]) > 1e-6

    @property
    def diameter(self) -> float:
        """The smaller dimension, which the drill or cutter must have."""
        return min(self.size)

    @cached_property
    def shape(self) -> Polygon:
        """The area taken out of the board."""
        return stadium(self.at, self.size, self.rotation)


@dataclass(frozen=True, eq=False)
class Pad:
    """One land or hole of a part.

    Attributes:
        copper: true shape by copper layer name; only layers that really carry copper.
        mask: opening in the solder mask by side; absent means covered.
        paste: stencil aperture by side; absent means no paste.
        pin_name: what the schematic calls the pin (``VBUS``), empty when unknown.
        pin_type: the schematic's electrical type (``power_in``, ``passive`` ...), empty when unknown.
    """

    uid: str
    number: str
    at: Point
    kind: PadKind
    copper: Mapping[str, Area] = field(default_factory=dict, repr=False)
    mask: Mapping[Side, Area] = field(default_factory=dict, repr=False)
    paste: Mapping[Side, Area] = field(default_factory=dict, repr=False)
    hole: Optional[Hole] = None
    role: PadRole = PadRole.NONE
    shape: PadShape = PadShape.CUSTOM
    size: tuple[float, float] = (0.0, 0.0)
    rotation: float = 0.0
    net: str = ""
    pin_name: str = ""
    pin_type: str = ""

    @cached_property
    def extent(self) -> Area:
        """Everything the pad takes on any layer: copper, hole, or the bare opening."""
        shapes: list[BaseGeometry] = list({id(s): s for s in self.copper.values()}.values())
        if self.hole is not None:
            shapes.append(self.hole.shape)
        shapes = shapes or [*self.mask.values(), *self.paste.values()]
        if not shapes:
            return Polygon()
        # a union of fine circles is slow; mostly one shape, the copper, holds all others
        largest = max(shapes, key=lambda shape: shape.area)
        if all(shape is largest or shape.equals_exact(largest, 0.0) or largest.covers(shape) for shape in shapes):
            return largest  # type: ignore[return-value]
        return shapely.union_all(shapes)  # type: ignore[return-value]


@dataclass(frozen=True)
class Model:
    """Where the 3D model of a part is kept and how it is placed on it.

    Attributes:
        path: as the document writes it, with its path variables.
        scale: along x, y, z; comes first.
        rotation: degrees about x, y, z in this order, clockwise when the axis points at the eye.
        offset: mm along x, y, z (up from the board); comes last.
        hidden: not shown.
    """

    path: str
    offset: tuple[float, float, float] = (0.0, 0.0, 0.0)
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    rotation: tuple[float, float, float] = (0.0, 0.0, 0.0)
    hidden: bool = False


@dataclass(frozen=True, eq=False)
class Part:
    """A placed part.

    Attributes:
        package: name of the land pattern (``R_0402_1005Metric``); `library` is the collection it came from.
        fields: every named field of the part besides reference and value (manufacturer part and the like).
        fitted: False when marked as do-not-fit.
        courtyard: area to be kept clear, by side; closed shapes only.
        body: outline of the package itself as drawn on the fabrication layer, or None when not drawn.
        height: stated height above the board in mm, or None when the board does not state it.
        model_height: height of its 3D models above the board in mm, or None when nobody has measured them.
        board_only: exists on the board and not in the schematic (holes, marks, logos).
        joined: groups of pad numbers that the part joins by itself, as its footprint declares.
    """

    uid: str
    reference: str
    at: Point = (0.0, 0.0)
    side: Side = Side.TOP
    rotation: float = 0.0
    value: str = ""
    package: str = ""
    library: str = ""
    description: str = ""
    fields: Mapping[str, str] = field(default_factory=dict, repr=False)
    mount: Mount = Mount.SURFACE
    fitted: bool = True
    in_parts_list: bool = True
    in_placement: bool = True
    board_only: bool = False
    joined: tuple[frozenset[str], ...] = ()
    pads: tuple[Pad, ...] = field(default=(), repr=False)
    courtyard: Mapping[Side, Area] = field(default_factory=dict, repr=False)
    body: Optional[Area] = field(default=None, repr=False)
    height: Optional[float] = None
    models: tuple[Model, ...] = field(default=(), repr=False)
    model_height: Optional[float] = field(default=None, repr=False)

    @cached_property
    def extent(self) -> Area:
        """Convex area of pads and body together, what the part takes on the board seen from the top."""
        shapes: list[BaseGeometry] = [pad.extent for pad in self.pads]
        if self.body is not None:
            shapes.append(self.body)
        hull = shapely.convex_hull(shapely.GeometryCollection(shapes))
        return hull if isinstance(hull, Polygon) else Polygon()


TRACK_TOL_MM = 0.0005
"""How far the points that stand for a curved track lie from it: so little that they do for its gaps."""


@dataclass(frozen=True, eq=False)
class Track:
    """A straight or curved copper track; `mid` is a point on the arc, None when straight."""

    uid: str
    start: Point
    end: Point
    width: float
    layer: str
    net: str = ""
    mid: Optional[Point] = None
    mask_opened: bool = False

    @cached_property
    def path(self) -> Coords:
        """Centre line as points, arcs within `TRACK_TOL_MM`."""
        if self.mid is None:
            return np.array([self.start, self.end])
        return arc_points(self.start, self.mid, self.end, TRACK_TOL_MM)

    @property
    def length(self) -> float:
        """Length of the centre line in mm."""
        steps = np.diff(self.path, axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


@dataclass(frozen=True, eq=False)
class Via:
    """A plated hole between layers `span[0]` and `span[1]`.

    Attributes:
        tented: faces where the mask covers it.
        covered: faces where a second coat lies over the mask.
        plugged: faces from which it is plugged, without being filled.
        filled: all of it is filled.
        capped: copper is plated over the filling.
        landless: layers of its span where only its hole is, because it joins nothing there.
    """

    uid: str
    at: Point
    diameter: float
    drill: float
    span: tuple[str, str]
    net: str = ""
    tented: frozenset[Side] = frozenset()
    filled: bool = False
    covered: frozenset[Side] = frozenset()
    plugged: frozenset[Side] = frozenset()
    capped: bool = False
    diameters: Mapping[str, float] = field(default_factory=dict, repr=False)
    landless: frozenset[str] = field(default=frozenset(), repr=False)

    def diameter_on(self, layer: str) -> float:
        """Copper diameter on one layer with a land; differs from `diameter` only where the document says so."""
        return self.diameters.get(layer, self.diameter)


@dataclass(frozen=True, eq=False)
class CopperArea:
    """A pour on one layer.

    Attributes:
        rings: filled outlines as (n, 2) arrays; holes are joined to the outside by zero-width cuts.
        unfilled: True when the document holds the boundary but no fill for this layer.
        part_uid: set when the pour belongs to a part.
        min_width: mm, the fill is nowhere thinner by the document's own setting; None when it does not say.
    """

    uid: str
    layer: str
    net: str
    boundary: Area = field(repr=False)
    rings: tuple[Coords, ...] = field(default=(), repr=False)
    unfilled: bool = False
    priority: int = 0
    name: str = ""
    part_uid: str = ""
    min_width: Optional[float] = None

    @cached_property
    def fill(self) -> Area:
        """The copper as a valid polygon with real holes. Costly on large pours: built when first asked for."""
        shapes = [healed(Polygon(ring)) for ring in self.rings if len(ring) >= 3]
        merged = shapely.union_all([polygonal(shape) for shape in shapes]) if shapes else Polygon()
        return polygonal(merged)

    @cached_property
    def pieces(self) -> tuple[Filled, ...]:
        """The filled pieces."""
        return tuple(Filled(self, ring) for ring in self.rings if len(ring) >= 3)


class Filled:
    """One filled piece of a pour; tells quickly which spots lie on it.

    Attributes:
        area: the pour.
        ring: its outline, holes joined to it.
        low, high: its lower left and upper right corner.
    """

    def __init__(self, area: CopperArea, ring: Coords) -> None:
        self.area, self.ring = area, ring
        self.low, self.high = ring.min(axis=0), ring.max(axis=0)

    @cached_property
    def size(self) -> float:
        """The copper in mm2."""
        x, y = (self.ring - self.ring[0]).T
        return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2

    @cached_property
    def _polygon(self) -> Polygon:
        # a ring joined to its holes by cuts is no valid polygon, but inside is inside
        polygon = Polygon(self.ring)
        shapely.prepare(polygon)
        return polygon

    def holds(self, spots: Coords) -> npt.NDArray[np.bool_]:
        """Which of (n, 2) spots lie inside."""
        inside = np.asarray(((spots >= self.low) & (spots <= self.high)).all(axis=1))
        if inside.any():
            inside[inside] = shapely.contains_xy(self._polygon, *spots[inside].T)
        return inside


@dataclass(frozen=True, eq=False)
class KeepOut:
    """An area where some things must not be; `bans` is a subset of tracks, vias, pads, pour, parts."""

    uid: str
    area: Area = field(repr=False)
    layers: frozenset[str] = frozenset()
    bans: frozenset[str] = frozenset()
    part_uid: str = ""


class MarkingRole(Enum):
    """What a text is for."""

    FREE = "free"
    REFERENCE = "reference"
    VALUE = "value"
    FIELD = "field"


@dataclass(frozen=True, eq=False)
class Marking:
    """A text. Hidden ones are told where the document holds them as texts; of a part, reference and value alone.

    Attributes:
        text: what is printed, variables resolved.
        source: what the document holds, variables unresolved.
        extents: rotated rectangle the printed text fills.
        knockout: printed as a hole in a filled box.
    """

    uid: str
    text: str
    layer: Layer
    at: Point
    height: float
    stroke: float
    extents: Area = field(repr=False)
    source: str = ""
    rotation: float = 0.0
    mirrored: bool = False
    hidden: bool = False
    knockout: bool = False
    role: MarkingRole = MarkingRole.FREE
    part_uid: str = ""


@dataclass(frozen=True, eq=False)
class Graphic:
    """Drawn artwork; `shape` includes the pen width. On a mask layer it is an opening, on copper it is copper.

    Attributes:
        pen: width of the line it is drawn with, mm; None for what is filled.
    """

    uid: str
    layer: Layer
    shape: Area = field(repr=False)
    net: str = ""
    part_uid: str = ""
    pen: Optional[float] = None


@dataclass(frozen=True)
class OutlineFault:
    """What is wrong with the outline: ``open`` (gap in mm), ``crossing``, ``branch``, ``doubled`` or ``none``.

    A ``doubled`` edge, drawn twice in the same place, still encloses the board.
    """

    kind: str
    at: Optional[Point]
    gap: float = 0.0


@dataclass(frozen=True, eq=False)
class Outline:
    """The board edge. `area` has cut-outs as holes and is empty when the outline cannot be closed."""

    area: Area
    faults: tuple[OutlineFault, ...] = ()
    uids: tuple[str, ...] = ()

    @property
    def is_closed(self) -> bool:
        """True when the outline encloses a board, and nothing puts in doubt where its edge is."""
        return all(fault.kind == "doubled" for fault in self.faults) and not self.area.is_empty

    @cached_property
    def edge(self) -> BaseGeometry:
        """All edges as lines: outside and cut-outs."""
        return self.area.boundary


@dataclass(frozen=True)
class TitleBlock:
    """The drawing's title block, variables unresolved."""

    title: str = ""
    revision: str = ""
    date: str = ""
    company: str = ""
    comments: tuple[str, ...] = ()


@dataclass(frozen=True)
class StackLayer:
    """One layer of the stack-up, outside in from the top; `kind` as written (copper, core, prepreg ...)."""

    name: str
    kind: str
    thickness: Optional[float] = None
    material: str = ""
    permittivity: Optional[float] = None
    colour: str = ""


@dataclass(frozen=True)
class Stackup:
    """Thickness of the finished board in mm, and its layers where the document lists them."""

    thickness: float = 1.6
    layers: tuple[StackLayer, ...] = ()
    finish: str = ""
    castellated: bool = False
    edge_plated: bool = False


@dataclass(frozen=True)
class NetClass:
    """Rules the designer gave to a group of nets, mm; None where not given."""

    name: str
    clearance: Optional[float] = None
    track_width: Optional[float] = None
    via_diameter: Optional[float] = None
    via_drill: Optional[float] = None


@dataclass(frozen=True)
class Net:
    """A net and the class it belongs to."""

    name: str
    net_class: str = "Default"


@dataclass(frozen=True, eq=False)
class Board:
    """Everything known about one board. Build one by hand in a test with ``Board(name="x", parts=(...))``.

    Attributes:
        format_doubt: why the document may hold more than was read, in a sentence; empty where it does not.
        origin: where drill, placement and netlist files count from; the page's own origin where none is set.
    """

    name: str = "board"
    path: str = ""
    copper_layers: tuple[str, ...] = ("top", "bottom")
    parts: tuple[Part, ...] = ()
    tracks: tuple[Track, ...] = ()
    vias: tuple[Via, ...] = ()
    areas: tuple[CopperArea, ...] = ()
    keepouts: tuple[KeepOut, ...] = ()
    markings: tuple[Marking, ...] = ()
    graphics: tuple[Graphic, ...] = ()
    outline: Outline = field(default_factory=lambda: Outline(Polygon(), (OutlineFault("none", None),)))
    title: TitleBlock = TitleBlock()
    stackup: Stackup = Stackup()
    nets: Mapping[str, Net] = field(default_factory=dict)
    net_classes: Mapping[str, NetClass] = field(default_factory=dict)
    variables: Mapping[str, str] = field(default_factory=dict)
    format_note: str = ""
    format_doubt: str = ""
    origin: Point = (0.0, 0.0)

    @property
    def top_copper(self) -> str:
        """Name of the outermost copper layer on the top."""
        return self.copper_layers[0]

    @property
    def bottom_copper(self) -> str:
        """Name of the outermost copper layer on the bottom."""
        return self.copper_layers[-1]

    def copper_on(self, side: Side) -> str:
        """Name of the outermost copper layer of a side."""
        return self.top_copper if side is Side.TOP else self.bottom_copper

    def side_of(self, copper_layer: str) -> Optional[Side]:
        """The face an outer copper layer belongs to, None for inner layers."""
        if copper_layer == self.top_copper:
            return Side.TOP
        return Side.BOTTOM if copper_layer == self.bottom_copper else None

    @cached_property
    def pads(self) -> tuple[tuple[Part, Pad], ...]:
        """Every pad with the part it belongs to."""
        return tuple((part, pad) for part in self.parts for pad in part.pads)

    @cached_property
    def pads_by_net(self) -> Mapping[str, tuple[tuple[Part, Pad], ...]]:
        """Pads of each net; pads without a net are left out."""
        return _grouped((pad.net, (part, pad)) for part, pad in self.pads if pad.net)

    @cached_property
    def vias_by_net(self) -> Mapping[str, tuple[Via, ...]]:
        """Vias of each net; vias without a net are left out."""
        return _grouped((via.net, via) for via in self.vias if via.net)

    @cached_property
    def shown_markings(self) -> tuple[Marking, ...]:
        """The markings that are not hidden, on a large board one in a hundred: parts hide most of their fields."""
        return tuple(marking for marking in self.markings if not marking.hidden)

    @cached_property
    def part_by_uid(self) -> Mapping[str, Part]:
        """Parts by the editor's id."""
        return {part.uid: part for part in self.parts}

    @cached_property
    def holes(self) -> tuple[tuple[Optional[Part], Hole], ...]:
        """Every drilled hole of parts, with its part (vias are not in here)."""
        return tuple((part, pad.hole) for part, pad in self.pads if pad.hole is not None)


Item = Union[Part, Pad, Track, Via, CopperArea, KeepOut, Marking, Graphic, Net]
"""Anything a finding can point at."""


def _grouped(pairs: Iterator[tuple[str, Any]]) -> Mapping[str, tuple[Any, ...]]:
    groups: dict[str, list[Any]] = {}
    for key, value in pairs:
        groups.setdefault(key, []).append(value)
    return {key: tuple(values) for key, values in groups.items()}
