# SPDX-License-Identifier: MIT
"""The whole document to a `Board`: one pass over its top-level children, each handed to its maker."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import PurePath
from typing import Optional

from lineworthy.errors import InputError
from lineworthy.model import (
    Board,
    CopperArea,
    Graphic,
    KeepOut,
    Layer,
    LayerKind,
    Part,
    TitleBlock,
    Track,
    Via,
)
from lineworthy_kicad.reader import copper, settings
from lineworthy_kicad.reader.copper import ZoneItem, ZoneMaker
from lineworthy_kicad.reader.drawn import Drawn, areas_of, drawn
from lineworthy_kicad.reader.layers import Layers
from lineworthy_kicad.reader.nets import Nets
from lineworthy_kicad.reader.outline import board_outline
from lineworthy_kicad.reader.pads import Margins, PadMaker, settled
from lineworthy_kicad.reader.parts import PartMaker, Placed, layer_names
from lineworthy_kicad.reader.project import read_project
from lineworthy_kicad.reader.sexpr import Document, Malformed, Node, each, kids, maybe_number, maybe_word
from lineworthy_kicad.reader.texts import Resolver, Text, boxed_text, table_texts, text_of
from lineworthy_kicad.reader.variables import board_variables

OLDEST_VERSION = 20201115
"""The first format in which a placed part is a ``footprint``; version 6 of the editor wrote 20211014."""
NEWEST_VERSION = 20260206
"""The newest format known here: version 10 of the editor writes it."""
UNKNOWN_MAX = 500_000
"""Top-level nodes of unknown kinds; newer formats add some, a file of nothing else would take minutes to walk."""
_TOO_OLD = "written by version 5 of the editor or older: save it with a newer version first"


class Reading:
    """One board while it is being read."""

    def __init__(self, document: Document, path: str) -> None:
        self.document, self.path = document, path
        self.version = 0
        self.generator = ""
        self.title = TitleBlock()
        self.thickness = 1.6
        self.setup: Optional[Node] = None
        self.origin = (0.0, 0.0)
        self.variables: dict[str, str] = {}
        self.nets = Nets()
        self.parts: list[Part] = []
        self.tracks: list[Track] = []
        self.vias: list[Via] = []
        self.areas: list[CopperArea] = []
        self.keepouts: list[KeepOut] = []
        self.graphics: list[Graphic] = []
        self.texts: list[Text] = []
        self.artwork: list[tuple[str, Layer, Drawn, str, str]] = []
        self._use_layers(Layers())

    def _handlers(self) -> dict[str, Callable[[Node], None]]:
        """What takes each kind of child. Not kept: they hold the reading, which would outlive its use."""
        return {
            "version": self._read_version,
            "generator_version": self._read_generator,
            "host": self._refuse,
            "general": self._read_general,
            "title_block": self._read_title,
            "layers": lambda node: self._use_layers(Layers.of(node)),
            "setup": self._read_setup,
            "property": self._read_property,
            "net": self.nets.declare,
            "footprint": self._read_part,
            "module": self._refuse,
            "segment": lambda node: self.tracks.append(copper.track(node, self.nets)),
            "arc": lambda node: self.tracks.append(copper.track(node, self.nets)),
            "via": lambda node: self.vias.append(copper.via(node, self.nets, self.layers, self.via_protection)),
            "zone": lambda node: self._take_zones(list(self.zone_maker.items(node))),
            "gr_text": self._read_text,
            "gr_text_box": self._read_box,
            "table": lambda node: self.texts.extend(table_texts(node, self.layers)),
            "dimension": self._read_dimension,
        }

    def read(self) -> None:
        """Walks the document.

        Raises:
            InputError: it is malformed, with the line.
        """
        handlers, unknown = self._handlers(), 0
        for index, child in enumerate(self.document.children()):
            handler = handlers.get(child[0])
            if handler is None:
                if not child[0].startswith("gr_"):
                    unknown += 1
                    if unknown > UNKNOWN_MAX:
                        raise InputError(self.document.name, "hardly anything in it belongs to a board")
                    continue
                handler = self._read_graphic
            try:
                handler(child)
            except Malformed as problem:
                raise self._input_error(index, child, problem) from None
        if not self.version:
            raise InputError(self.document.name, "names no format version")

    def footprint(self) -> Part:
        """The document as a library footprint: its own children are the footprint's.

        Raises:
            InputError: it is malformed, with the line.
        """
        node: Node = [self.document.head, self.document.name_token]
        for index, child in enumerate(self.document.children()):
            try:
                if child[0] == "version":
                    self._read_version(child)
            except Malformed as problem:
                raise self._input_error(index, child, problem) from None
            node.append(child)
        try:
            return self.part_maker.placed(node, self.margins).part
        except Malformed as problem:
            index, child = _child_with(node, problem.node)
            raise self._input_error(index, child, problem) from None

    def _input_error(self, index: int, child: Node, problem: Malformed) -> InputError:
        line = self.document.line_of(index, child, problem.node)
        return InputError(self.document.name, problem.reason, f"line {line}")

    def board(self, project_text: Optional[str]) -> Board:
        """Everything read, as a board."""
        project = read_project(project_text, self.document.name)
        variables = board_variables(self.title, {**self.variables, **project.variables}, self.path, self.document.name)
        parts = settled(self.parts, self.pad_maker.doubtful, self.tracks)
        resolver = Resolver(parts, variables, self.layers)
        edge = [(uid, shape) for uid, layer, shape, _, _ in self.artwork if layer.kind is LayerKind.OUTLINE]
        return Board(
            name=PurePath(self.document.name).stem,
            path=self.path,
            copper_layers=self.layers.copper,
            parts=tuple(parts),
            tracks=tuple(self.tracks),
            vias=tuple(copper.settled_vias(self.vias, self.tracks, parts, self.layers)),
            areas=tuple(self.areas),
            keepouts=tuple(self.keepouts),
            markings=tuple(resolver.markings(self.texts)),
            graphics=(*self._drawn_graphics(), *self.graphics),
            outline=board_outline(edge),
            title=self.title,
            stackup=settings.stackup(self.thickness, self.setup),
            nets=project.nets(sorted(self.nets.names)),
            net_classes=project.classes,
            variables=variables,
            format_note=f"format {self.version}" + (f", editor {self.generator}" if self.generator else ""),
            format_doubt=self._doubt(),
            origin=self.origin,
        )

    def _doubt(self) -> str:
        if self.version <= NEWEST_VERSION:
            return ""
        return (
            f"the document's format {self.version} is newer than {NEWEST_VERSION} of KiCad 10, the newest known here: "
            "what it has that older ones do not was not read"
        )

    def _drawn_graphics(self) -> list[Graphic]:
        shown = [item for item in self.artwork if item[1].kind is not LayerKind.OUTLINE]
        areas = areas_of([shape for _, _, shape, _, _ in shown])
        return [
            Graphic(uid, layer, area, net, part_uid, None if shape.filled else shape.width)
            for (uid, layer, shape, net, part_uid), area in zip(shown, areas)
        ]

    def _use_layers(self, layers: Layers) -> None:
        self.layers = layers
        self.margins = Margins()
        self.via_protection = copper.Protection()
        self.zone_maker = ZoneMaker(layers, self.nets, self.version)
        self.pad_maker = PadMaker(layers, self.nets, self.version)
        self.part_maker = PartMaker(layers, self.pad_maker, self.zone_maker, self.version)

    def _read_version(self, node: Node) -> None:
        digits = maybe_word(node)
        if not digits.isdigit() or len(digits) > 9:
            raise Malformed(node, "the format version is not a number")
        self.version = int(digits)
        if self.version < OLDEST_VERSION:
            raise InputError(self.document.name, _TOO_OLD)
        self._use_layers(self.layers)

    def _refuse(self, node: Node) -> None:
        raise InputError(self.document.name, _TOO_OLD)

    def _read_generator(self, node: Node) -> None:
        self.generator = maybe_word(node)

    def _read_general(self, node: Node) -> None:
        self.thickness = maybe_number(kids(node).get("thickness"), 1.6)

    def _read_title(self, node: Node) -> None:
        self.title = settings.title_block(node)

    def _read_setup(self, node: Node) -> None:
        self.setup = node
        self.margins = Margins().overridden(kids(node), self.version)
        self.via_protection = settings.via_protection(node)
        self.origin = settings.file_origin(node)

    def _read_property(self, node: Node) -> None:
        self.variables[maybe_word(node)] = maybe_word(node, 2)

    def _read_part(self, node: Node) -> None:
        self.take(self.part_maker.placed(node, self.margins))

    def take(self, placed: Placed) -> None:
        """Adds a part with everything that comes with it."""
        uid = placed.part.uid
        self.parts.append(placed.part)
        self.texts.extend(placed.texts)
        self.artwork.extend((item, layer, shape, "", uid) for item, layer, shape in placed.artwork)
        self._take_zones(placed.zones)

    def _take_zones(self, items: list[ZoneItem]) -> None:
        for item in items:
            if isinstance(item, CopperArea):
                self.areas.append(item)
            elif isinstance(item, KeepOut):
                self.keepouts.append(item)
            else:
                self.graphics.append(item)

    def _read_graphic(self, node: Node) -> None:
        shape = drawn(node)
        if shape is None:
            return
        inner = kids(node)
        uid = maybe_word(inner.get("uuid") or inner.get("tstamp"))
        net = self.nets.of(inner.get("net"))
        for name in layer_names(inner, self.layers):
            self.artwork.append((uid, self.layers.layer(name), shape, net, ""))

    def _read_text(self, node: Node) -> None:
        text = text_of(node, self.layers)
        if text is not None:
            self.texts.append(text)

    def _read_box(self, node: Node) -> None:
        text = boxed_text(node, self.layers)
        if text is not None:
            self.texts.append(text)

    def _read_dimension(self, node: Node) -> None:
        for text in each(node, "gr_text"):
            self._read_text(text)


def _child_with(root: Node, culprit: Node) -> tuple[int, Node]:
    """The child of `root` that holds a node, with its place among the children that are nodes."""
    children = [part for part in root if type(part) is list]
    for index, child in enumerate(children):
        todo = [child]
        while todo:
            node = todo.pop()
            if node is culprit:
                return index, child
            todo.extend(part for part in node if type(part) is list)
    return 0, children[0]
