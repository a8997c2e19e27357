# SPDX-License-Identifier: MIT
"""What shows that a document holds a panel, or speaks of one: words, copies, slots, break-away holes, score lines."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import Floats, pairs_within, width_and_length
from lineworthy.knowledge.looks import is_round, middle, span
from lineworthy.knowledge.naming import quoted
from lineworthy.model import Board, LayerKind
from lineworthy.shapes import Point

BITE_MM = (0.3, 1.1)
BITE_PITCH_MAX_MM = 1.6
"""Holes of a break-away row: drill range, distance of centres (common practice, no source; room on both sides)."""

SLOT_WIDTH_MM = (0.8, 4.0)
SLOT_LENGTH_MIN_MM = 8.0
RAIL_MAX_MM = 15.0
"""Cut-outs of this shape this near to the outer edge part a board from its rail."""

SCORE_SHARE = 0.5
"""A straight line on a score layer is a score when it is at least this long, as a share of the panel across it."""

_SCORE = r"\bv[ _-]?(score|cut|groov)|score[ _-]?lines?|\britz(linie|ung)"
_TAB = r"mouse[ _-]?bites?|break[ _-]?(away|tab)"
# a panel can also be a front panel, a patch panel, a solar panel: the bare word counts only where it stands alone
_PANEL_WORDS = re.compile(
    r"panel(is|iz)|\A\W*panel\W*\d*\W*\Z|\b(in|per|as) (a |the )?panel\b"
    r"|\bpanel (of|plan|drawing|size|array|frame|rail|\d+ ?(x|up\b|of\b))|\b(liefer)?nutzen\b|拼板"
    rf"|{_SCORE}|{_TAB}|break[ _-]?(off|line)|depanel",
    re.IGNORECASE,
)
_PANEL_PARTS = re.compile(r"mouse-?_?bite|break-?_?(line|away|tab)|v-?_?(score|cut)", re.IGNORECASE)
_SCORE_WORDS = re.compile(_SCORE, re.IGNORECASE)
_TAB_WORDS = re.compile(_TAB, re.IGNORECASE)
_SCORED_PANEL = re.compile(r"\bscor(e|ed|ing)\b", re.IGNORECASE)
_TABBED_PANEL = re.compile(r"\b(tabs?|routed|routing|milled)\b", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class BiteRow:
    """Break-away holes in a line: centres in order (at least three) and the drill, mm."""

    holes: tuple[Point, ...]
    drill: float
    uids: tuple[str, ...] = field(default=(), repr=False)

    @property
    def line(self) -> BaseGeometry:
        """From the first centre to the last."""
        return shapely.LineString([self.holes[0], self.holes[-1]])

    @property
    def pitch(self) -> float:
        """Between neighbouring centres, on the average, mm."""
        return float(self.line.length) / (len(self.holes) - 1)

    @property
    def bridge(self) -> float:
        """What is left standing between two neighbouring holes, mm."""
        return self.pitch - self.drill


def panel_signs(board: Board) -> Iterator[str]:
    """Everything in a document that shows a panel or speaks of one, in words; nothing when there is none."""
    pieces = shapely.get_parts(board.outline.area)
    if len(pieces) > 1:
        yield f"{len(pieces)} outlines"
    # a comment of the title block stands among the project's variables, too
    spoken = dict.fromkeys(quoted(text) for text in _texts(board) if _PANEL_WORDS.search(text))
    yield from (f"the words {text}" for text in spoken)
    if any(_PANEL_PARTS.search(part.package) for part in board.parts):
        yield "break-away items from a library"
    if copies(board) > 1:
        yield "the same references several times"
    if slots_part_it(board):
        yield "slots all along the edge"
    if bite_rows(board):
        yield "rows of break-away holes"


def copies(board: Board) -> int:
    """How many times most references come, 1 for a board of its own."""
    counts = Counter(part.reference for part in board.parts if part.reference and part.reference[-1].isdigit())
    several = Counter(count for count in counts.values() if count > 1)
    if len(counts) <= 3 or sum(several.values()) <= len(counts) / 2:
        return 1
    return max(several, key=lambda count: (several[count], count))


def spoken_scored(board: Board) -> bool:
    """Whether a text, a layer or a library item speaks of scoring."""
    return _spoken(board, _SCORE_WORDS, _SCORED_PANEL)


def spoken_tabs(board: Board) -> bool:
    """Whether a text, a layer or a library item speaks of break-away tabs."""
    return _spoken(board, _TAB_WORDS, _TABBED_PANEL)


def _spoken(board: Board, words: re.Pattern[str], of_panel: re.Pattern[str]) -> bool:
    """Whether one of the words is used, or one that counts only where a panel is spoken of, too."""
    texts = _texts(board)
    if any(words.search(text) for text in (*texts, *(part.package for part in board.parts))):
        return True
    return any(_PANEL_WORDS.search(text) and of_panel.search(text) for text in texts)


def slots_part_it(board: Board) -> bool:
    """Whether cut-outs along the outer edge part a board from rails, along at least its longer side."""
    area = board.outline.area
    if area.is_empty:
        return False
    slots = sum(_slot_along_edge(Polygon(ring), one) for one in shapely.get_parts(area) for ring in one.interiors)
    return slots > 0.0 and slots >= width_and_length(area)[1]


def bite_rows(board: Board) -> list[BiteRow]:
    """Rows of three and more small bare holes in a line, closer than any part would have them."""
    holes = [
        (hole.at, hole.diameter, part.uid if part else "")
        for part, hole in board.holes
        if not hole.plated and BITE_MM[0] <= hole.diameter <= BITE_MM[1]
    ]
    for piece in shapely.get_parts(board.outline.area):
        rings = [Polygon(ring) for ring in piece.interiors if ring.length <= 4 * BITE_MM[1]]
        holes += [(middle(ring), span(ring), "") for ring in rings if is_round(ring) and span(ring) <= BITE_MM[1]]
    if len(holes) < 3:
        return []
    at = np.array([spot for spot, _, _ in holes])
    i, j, gap = pairs_within(np.asarray(shapely.points(at), dtype=object), None, BITE_PITCH_MAX_MM)
    return [
        BiteRow(
            tuple((float(x), float(y)) for x, y in at[row]),
            float(np.median([holes[n][1] for n in row])),
            tuple(dict.fromkeys(holes[n][2] for n in row if holes[n][2])),
        )
        for row in _chains(at, i.tolist(), j.tolist(), gap.tolist())
    ]


def slot_edges(board: Board) -> BaseGeometry:
    """The edges of the board without break-away holes that are drawn in the outline."""
    outer, inner = [], []
    for piece in shapely.get_parts(board.outline.area):
        outer.append(piece.exterior)
        inner += [ring for ring in piece.interiors if ring.length > 4 * BITE_MM[1]]
    return shapely.GeometryCollection([*outer, *inner])


def score_lines(board: Board) -> list[BaseGeometry]:
    """Scores drawn on a layer that is called one, or that carries a text about scoring: straight, and long enough."""
    area = board.outline.area
    if area.is_empty:
        return []
    speaking = {text for text in {marking.text for marking in board.markings} if _SCORE_WORDS.search(text)}
    called = {marking.layer.name for marking in board.markings if marking.text in speaking}
    named = {name for name in {graphic.layer.name for graphic in board.graphics} if _SCORE_WORDS.search(name)}
    drawn = [
        graphic.shape
        for graphic in board.graphics
        if graphic.layer.name in named
        or (graphic.layer.name in called and graphic.layer.kind in (LayerKind.DRAWING, LayerKind.FABRICATION))
    ]
    found: list[BaseGeometry] = []
    for shape in drawn:
        width, length = width_and_length(shape)
        line = _spine_of(shape)
        across = area.intersection(extended(line, 2e3)).length if length > 5 * width else 0.0
        if across and length >= SCORE_SHARE * across:
            found.append(line)
    return found


def _texts(board: Board) -> list[str]:
    """All that is written, each text once: a large board says the same thousands of times."""
    texts = [marking.text for marking in board.markings]
    texts += [board.title.title, *board.title.comments, *board.variables]
    # the folder a file lies in says nothing about the board
    texts += [value for name, value in board.variables.items() if name != "FILEPATH"]
    return list(dict.fromkeys(texts + sorted({graphic.layer.name for graphic in board.graphics})))


def _slot_along_edge(cutout: Polygon, piece: Polygon) -> float:
    """Length of a cut-out that parts a board from a rail, 0 for any other."""
    width, length = width_and_length(cutout)
    if not SLOT_WIDTH_MM[0] <= width <= SLOT_WIDTH_MM[1] or length < SLOT_LENGTH_MIN_MM:
        return 0.0
    return length if shapely.distance(cutout, piece.exterior) <= RAIL_MAX_MM else 0.0


def _chains(at: Floats, i: list[int], j: list[int], gap: list[float]) -> list[list[int]]:
    """Indices of points that follow one another in a straight line, three and more, each in one chain at most."""
    near: dict[int, list[tuple[float, int]]] = {}
    for a, b, far in zip(i, j, gap):
        near.setdefault(a, []).append((round(far, 6), b))
        near.setdefault(b, []).append((round(far, 6), a))
    chains, used = [], set()
    for start in sorted(near):
        for _, second in sorted(near[start]):
            if start in used or second in used:
                continue
            ahead = _followed(at, near, start, second)
            chain = [*_followed(at, near, second, start)[:1:-1], *ahead]
            if len(chain) > 2:
                chains.append(chain)
                used.update(chain)
    return chains


def _followed(at: Floats, near: dict[int, list[tuple[float, int]]], first: int, second: int) -> list[int]:
    """From two points on in their direction, always to the nearest that lies straight ahead."""
    chain = [first, second]
    while True:
        u = at[chain[-1]] - at[chain[-2]]
        for _, ahead in sorted(near[chain[-1]]):
            v = at[ahead] - at[chain[-1]]
            if ahead not in chain and abs(u[0] * v[1] - u[1] * v[0]) < 0.05 and u @ v > 0:
                chain.append(ahead)
                break
        else:
            return chain


def _spine_of(shape: BaseGeometry) -> shapely.LineString:
    """The middle of a long thin shape, without its round ends."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    if len(corners) < 4:
        return shapely.LineString(corners[:2])
    sides = np.hypot(*(corners[1:3] - corners[:2]).T)
    k = int(np.argmax(sides))
    a, b = (corners[k] + corners[(k + 3) % 4]) / 2, (corners[k + 1] + corners[k + 2]) / 2
    inset = (b - a) / np.hypot(*(b - a)) * sides.min() / 2
    return shapely.LineString([a + inset, b - inset])


def extended(line: BaseGeometry, by: float) -> shapely.LineString:
    """A straight line made longer at both ends, mm."""
    a, b = shapely.get_coordinates(line)[[0, -1]]
    way = (b - a) / np.hypot(*(b - a)) * by
    return shapely.LineString([a - way, b + way])
