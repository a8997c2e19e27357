# SPDX-License-Identifier: MIT
"""What can be read on the finished board, what cannot, and what the design says about its own name and revision."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Optional, Union

import shapely
from shapely import Polygon

from lineworthy.knowledge.looks import length
from lineworthy.knowledge.naming import blank, mentions, part_numbers, plain, quoted
from lineworthy.knowledge.revisions import Context, Revision, read_revisions
from lineworthy.knowledge.titleblock import resolved
from lineworthy.model import Board, Graphic, LayerKind, Marking, MarkingRole, Part
from lineworthy.shapes import Area

_NAME_VARIABLE = re.compile(r"name|title|product|part|number|model|(?<![a-z])pn(?![a-z])", re.IGNORECASE)
_NOT_A_NAME = re.compile(r"company|author|layer|file|sheet|date|rev", re.IGNORECASE)
_RAIL = re.compile(r"(?<![A-Za-z0-9.])\+?(\d{1,2})[vV](\d{0,2})(?![a-z])|(?<![\d.])(\d{1,2}\.\d{1,2})[vV]?(?![\d.])")

REVISION_BLANK = re.compile(r"(?<![a-z])(?:rev|ver|v[ .:#?x]|r[ .:#?x]|rel)", re.IGNORECASE)
NUMBER_BLANK = re.compile(r"x{3,}|#{3,}|p/?n|part|number|name|title|product|model", re.IGNORECASE)
"""A blank where the revision, or where the number, should be."""

LETTERING_POINTS = 24
"""Corners from which a drawn polygon can be lettering or a logo; boxes, arrows and straight pen strokes have fewer."""

LOGO_PIECES = 10
"""Drawings in a part without lands from which it is a picture and not a frame or an arrow."""

ARTWORK_MIN_MM = 5.0
"""A name of six letters, 1 mm high, is this long; smaller artwork is a maker's sign."""


@dataclass(frozen=True)
class Unmade:
    """A marking nobody will see, and why."""

    marking: Marking
    why: str


@dataclass(frozen=True)
class IdentityMarking:
    """A marking that says which board it is: by its name or number, by a revision, or by both."""

    marking: Marking
    names: bool
    revisions: tuple[Revision, ...]


class Printed:
    """The markings of a board, sorted into what gets made and what does not."""

    def __init__(self, board: Board) -> None:
        self._board = board

    @cached_property
    def visible(self) -> tuple[Marking, ...]:
        """Texts on layers that get made, not hidden, on the board; references and values of components left out."""
        return tuple(m for m in self._board.shown_markings if self._is_free(m) and not self._why_unmade(m))

    @cached_property
    def unmade(self) -> tuple[Unmade, ...]:
        """The other texts that could name the board, with the reason why they do not get onto it."""
        texts = (m for m in self._board.markings if self._is_free(m) and self.owner(m) is None)
        return tuple(Unmade(m, why) for m in texts if (why := self._why_unmade(m)))

    @cached_property
    def empty(self) -> tuple[Marking, ...]:
        """Texts on made layers that consist of variables which give nothing: nobody sees that they are missing."""
        drawn = (m for m in self._board.shown_markings if m.role is MarkingRole.FREE and m.layer.is_made)
        return tuple(m for m in drawn if "${" in m.source and not plain(m.text) and self.owner(m) is None)

    @cached_property
    def identity(self) -> tuple[IdentityMarking, ...]:
        """What of the visible texts surely tells the board, the largest first; texts of components do not count."""
        found = []
        for marking in self.visible:
            if self.owner(marking) is None:
                sure = tuple(r for r in read_revisions(marking.text, self.context) if r.sure)
                names = self.names_the_board(marking.text)
                if sure or names:
                    found.append(IdentityMarking(marking, names, sure))
        return tuple(sorted(found, key=lambda i: prominence(i.marking)))

    def blanks(self, kind: re.Pattern[str]) -> list[Marking]:
        """Markings of the board with a blank of one kind left in them, the largest first."""
        found = [m for m in self.visible if self.owner(m) is None and kind.match(blank(m.text).strip("${}"))]
        return sorted(found, key=prominence)

    def names_the_board(self, text: str) -> bool:
        """Whether a text gives the board's name, or a number as boards have them."""
        if mentions(text, self.names, self.common_words):
            return True
        return any(number.casefold() not in self.labels for number in part_numbers(text))

    def owner(self, drawn: Union[Marking, Graphic]) -> Optional[Part]:
        """The component a text or drawing belongs to; parts without copper (logos, legends) are no components."""
        part = self._board.part_by_uid.get(drawn.part_uid)
        return part if part is not None and part.uid in self._components else None

    @cached_property
    def _components(self) -> frozenset[str]:
        return frozenset(part.uid for part in self._board.parts if any(pad.copper or pad.hole for pad in part.pads))

    @cached_property
    def artwork(self) -> tuple[Graphic, ...]:
        """Drawn shapes on made layers that can be lettering or a logo, which no program reads reliably."""
        groups: dict[tuple[str, str], list[Graphic]] = {}
        for graphic in self._board.graphics:
            if graphic.layer.is_made and not graphic.net and self.owner(graphic) is None:
                groups.setdefault((graphic.part_uid, graphic.layer.name), []).append(graphic)
        return tuple(graphic for (part_uid, _), group in groups.items() for graphic in _lettering(group, part_uid))

    @cached_property
    def names(self) -> tuple[str, ...]:
        """What the design calls the board: its title, its file, and variables that hold a name or a number."""
        board = self._board
        given = [self.resolved(board.title.title), board.name]
        given += [
            value
            for key, value in board.variables.items()
            if _NAME_VARIABLE.search(key) and not _NOT_A_NAME.search(key)
        ]
        return tuple(dict.fromkeys(name for name in map(plain, given) if name and not blank(name)))

    @cached_property
    def stated_revision(self) -> str:
        """The title block's revision with variables put in, empty when there is none or it is a blank."""
        value = plain(self.resolved(self._board.title.revision))
        return "" if blank(value) or blank(f"rev {value}") else value

    @cached_property
    def context(self) -> Context:
        """What the reading of revisions needs to know about the board."""
        return Context(names=self.names, stated=self.stated_revision, labels=self.labels, rails=self._rails)

    @cached_property
    def labels(self) -> frozenset[str]:
        """References, values and net names, in lower case, and the words they consist of."""
        board = self._board
        nets = {name.rsplit("/", 1)[-1] for name in (*board.nets, *board.pads_by_net)}
        whole = {text for part in board.parts for text in (part.reference, part.value)} | nets
        return frozenset(plain(text).casefold() for text in whole if text)

    @cached_property
    def common_words(self) -> frozenset[str]:
        """The words of `labels`, and names of pins."""
        pins = {pad.pin_name.casefold() for _, pad in self._board.pads if pad.pin_name}
        return frozenset(word for label in self.labels | pins for word in re.findall(r"[^\W_]+", label))

    @property
    def file_name(self) -> str:
        """The board file's name without its ending."""
        return self._board.name

    @property
    def variables(self) -> Mapping[str, str]:
        """The project's variables."""
        return self._board.variables

    @property
    def comments(self) -> tuple[str, ...]:
        """The comment lines of the title block, as they are written."""
        return self._board.title.comments

    def resolved(self, text: str) -> str:
        """A title-block entry with the project's variables put in."""
        return resolved(self._board, text)

    @cached_property
    def _rails(self) -> frozenset[float]:
        volts = set()
        for net in {*self._board.nets, *self._board.pads_by_net}:
            for whole, fraction, dotted in _RAIL.findall(net):
                volts.add(float(dotted or f"{whole}.{fraction or 0}"))
        return frozenset(volts)

    def _is_free(self, marking: Marking) -> bool:
        # a board has many times more fields than texts, so the cheap questions come first
        role = marking.role
        if role is MarkingRole.REFERENCE or (role is not MarkingRole.FREE and self.owner(marking) is not None):
            return False
        return bool(plain(marking.text))

    def _why_unmade(self, marking: Marking) -> str:
        if marking.layer.kind is LayerKind.COPPER and marking.layer.side is None:
            return f"on the inner layer {marking.layer.name}, where nobody sees it"
        if not marking.layer.is_made:
            return f"on layer {marking.layer.name}, which does not get made"
        if marking.hidden:
            return "hidden"
        area = self._board.outline.area
        if not area.is_empty and not area.intersects(marking.extents):
            return "beyond the board edge"
        return ""


def prominence(marking: Marking) -> tuple[float, str, str]:
    """Sort key that puts the largest lettering first."""
    return (-round(marking.height, 3), plain(marking.text), marking.layer.name)


def listed_texts(markings: Iterable[Marking]) -> str:
    """Markings in quotes, each text once."""
    return ", ".join(dict.fromkeys(quoted(marking.text) for marking in markings))


def _lettering(group: list[Graphic], part_uid: str) -> list[Graphic]:
    """What of the drawings of one part (or of the board itself) on one layer can be lettering large enough to read."""
    shaped = [graphic for graphic in group if _is_lettering(graphic.shape)]
    # a logo is a part of its own: then its plain shapes belong to it as well, as the pixels of a drawn picture do
    found = group if part_uid and (shaped or len(group) >= LOGO_PIECES) else shaped
    return found if length(shapely.GeometryCollection([graphic.shape for graphic in found])) >= ARTWORK_MIN_MM else []


def _is_lettering(shape: Area) -> bool:
    """A shape with many corners and deep notches that is no pen stroke."""
    for piece in shapely.get_parts(shape):
        if isinstance(piece, Polygon) and len(piece.exterior.coords) >= LETTERING_POINTS:
            notched = piece.area < 0.75 * piece.convex_hull.area
            if notched and len(piece.interiors) != 1:  # a pen stroke round a loop is a ring
                return True
    return False
