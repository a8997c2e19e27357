# SPDX-License-Identifier: MIT
"""Building many-up and breaking out: is a panel called for, and what stands where boards are separated."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Optional

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import TOL_MM, edges, exceeds, falls_short, pairs_within, width_and_length
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.wording import listed, mm, natural
from lineworthy.model import Board, PadRole, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SINGLE, WANTED = "panel.single_min_mm", "panel.panel_wanted_below_mm"
PART, CERAMIC = "panel.break_edge_part_min_mm", "panel.break_edge_ceramic_min_mm"

EDGE_MIN_MM = 5.0
"""Straight edges shorter than this are chamfers and notches; nobody scores along them."""

ODD_BELOW = 0.85
"""An outline that fills less than this share of its rectangle wastes panel and needs tabs instead of scores."""

BITE_MM = (0.3, 1.1)
BITE_PITCH_MAX_MM = 1.6
"""Holes of a break-away row: drill range, distance of centres (common practice, no source; room on both sides)."""

SLOT_WIDTH_MM = (0.8, 4.0)
SLOT_LENGTH_MIN_MM = 8.0
RAIL_MAX_MM = 15.0
"""Cut-outs of this shape this near to the outer edge part a board from its rail."""

SMALL_CERAMICS = ("01005", "0201", "0402")
"""Too short to be bent enough; makers' bend tests and warnings are about larger ones (common practice, no source)."""

# a panel can also be a front panel, a patch panel, a solar panel: the bare word counts only where it stands alone
_PANEL_WORDS = re.compile(
    r"panel(is|iz)|\A\W*panel\W*\d*\W*\Z|\b(in|per|as) (a |the )?panel\b"
    r"|\bpanel (of|plan|drawing|size|array|frame|rail|\d+ ?(x|up\b|of\b))|\b(liefer)?nutzen\b|\britz(linie|ung)|拼板"
    r"|\bv[ _-]?(score|cut|groov)|score[ _-]?lines?|mouse[ _-]?bites?|break[ _-]?(away|off|line|tab)|depanel",
    re.IGNORECASE,
)
_PANEL_PARTS = re.compile(r"mouse-?_?bite|break-?_?(line|away|tab)|v-?_?(score|cut)", re.IGNORECASE)

_MEANT_FOR_EDGE = frozenset({Family.CONNECTOR, Family.ANTENNA, Family.SWITCH})
_NOT_PLACED = frozenset({Family.MECHANICAL, Family.COVER})


@check("panel/small-board-unplanned", limits=(SINGLE, WANTED))
def small_board_unplanned(board: Board, sheet: Sheet) -> Answers:
    """Is the board too small to be run singly, and nothing here says how it is to be built many-up?

    Why it matters: a line's conveyors, printers and testers want a least size and a clear edge to hold. A smaller board
    is built in a panel; if you do not draw the panel the factory does, with its own tabs, scores, marks and rails, and
    asks you first or surprises you later.
    What to do: agree on a panel with the factory: array, rails with marks and tooling holes, scored or routed with
    tabs. Draw it, or say in the order and in the title block that the panel is theirs to design.
    Blind spots: a panel kept in another document is not seen. A plan is taken as given when this document holds several
    outlines, rows of break-away holes, slots all along the edge, repeated references, or words such as panel or
    V-score in a text, a title block comment, a variable or a layer name.
    Source: common practice; both sizes come from the capability sheet, which names their source.
    """
    size = _size(board)
    if size is None:
        yield small_board_unplanned.not_run("A closed board outline", "Draw the board edge as one closed loop")
        return
    shorter, longer = size
    if not _is_small(size, sheet) or next(panel_signs(board), None):
        return
    single, wanted = sheet.panel.single_min_mm, sheet.panel.panel_wanted_below_mm
    too_small = falls_short(shorter, single)
    rule = f"a side below {mm(single)} mm" if too_small else f"less than {mm(wanted)} mm both ways"
    size_text = f"{mm(longer)} x {mm(shorter)} mm{_shape_notes(board)}"
    yield small_board_unplanned.finding(
        Consequence.QUERY if too_small else Consequence.NOTE,
        f"The board is {size_text}; {rule} is built in a panel, and none is planned here",
        places=[Place(centre(board.outline.area), None, "board")],
        measured=shorter if too_small else longer,
        limit=single if too_small else wanted,
        limit_key=SINGLE if too_small else WANTED,
        detail=size_text,
    )


@check("panel/part-at-break-edge", limits=(PART, CERAMIC, SINGLE, WANTED))
def part_at_break_edge(board: Board, sheet: Sheet, packages: Packages) -> Answers:
    """Does a part stand where it is hit or bent when boards are broken out of their panel?

    Why it matters: a scoring wheel or a router needs room beside its line, and a board bends most where it breaks.
    Ceramic capacitors crack under that bend, invisibly, and fail in the field as a short.
    What to do: turn capacitors along the edge and move them inwards, behind a slot, or to an edge that is not
    separated; have boards routed or sawn instead of broken by hand.
    Blind spots: asked only of boards that will be panelised: small ones, and those that say so. Measured from body and
    lands to every straight stretch of the outer edge; ceramic capacitors count from 0603 on. Which edges are
    separated, and how, is not known before the panel is drawn, so every straight outer edge counts, also one that
    ends up at a slot. Curved edges, tabs and slots that take the strain are not looked at. Parts that reach over
    the edge, connectors, antennas and switches are taken as meant to be there.
    Source: common practice for the distances, which come from the capability sheet; the ranking of positions follows a
    capacitor maker's frequently asked questions on flex cracks (TDK).
    """
    size = _size(board)
    if size is None:
        yield part_at_break_edge.not_run("A closed board outline", "Draw the board edge as one closed loop")
        return
    if not _is_small(size, sheet) and not next(panel_signs(board), None):
        return
    lines = _straight_edges(board)
    if not lines:
        yield part_at_break_edge.not_run("A straight outer edge to separate along", "Draw the panel with its tabs")
        return
    near = sorted(_near_edges(board, lines, packages, sheet), key=lambda one: one.order)
    yield from _judge_parts([one for one in near if not one.is_ceramic], sheet.panel.break_edge_part_min_mm)
    yield from _judge_ceramics([one for one in near if one.is_ceramic], sheet.panel.break_edge_ceramic_min_mm)


CHECKS: tuple[Check, ...] = (small_board_unplanned, part_at_break_edge)


# --- is it a panel -------------------------------------------------------------------------------------------------


def panel_signs(board: Board) -> Iterator[str]:
    """Everything in a document that shows a panel or speaks of one, in words; nothing when there is none."""
    pieces = shapely.get_parts(board.outline.area)
    if len(pieces) > 1:
        yield f"{len(pieces)} outlines"
    yield from _spoken_signs(board)
    if any(_PANEL_PARTS.search(part.package) for part in board.parts):
        yield "break-away items from a library"
    counts = Counter(part.reference for part in board.parts if part.reference and part.reference[-1].isdigit())
    if len(counts) > 3 and sum(count > 1 for count in counts.values()) > len(counts) / 2:
        yield "the same references several times"
    slots = sum(_slot_along_edge(Polygon(ring), piece) for piece in pieces for ring in piece.interiors)
    if slots > 0 and slots >= (_size(board) or (0.0, 0.0))[1]:
        yield "slots all along the edge"
    if _has_bite_row(board):
        yield "rows of break-away holes"


def _spoken_signs(board: Board) -> Iterator[str]:
    texts = [marking.text for marking in board.markings]
    texts += [board.title.title, *board.title.comments, *board.variables, *board.variables.values()]
    texts += sorted({graphic.layer.name for graphic in board.graphics})
    for text in texts:
        if _PANEL_WORDS.search(text):
            yield f"the words {text.strip()[:40]!r}"


def _slot_along_edge(cutout: Polygon, piece: Polygon) -> float:
    """Length of a cut-out that parts a board from a rail, 0 for any other."""
    width, length = width_and_length(cutout)
    if not SLOT_WIDTH_MM[0] <= width <= SLOT_WIDTH_MM[1] or length < SLOT_LENGTH_MIN_MM:
        return 0.0
    return length if shapely.distance(cutout, piece.exterior) <= RAIL_MAX_MM else 0.0


def _has_bite_row(board: Board) -> bool:
    """Three or more small bare holes in a line, closer than any part would have them."""
    spots = [hole.at for _, hole in board.holes if not hole.plated and BITE_MM[0] <= hole.diameter <= BITE_MM[1]]
    if len(spots) < 3:
        return False
    at = np.array(spots)
    points = np.asarray(shapely.points(at), dtype=object)
    i, j, _ = pairs_within(points, None, BITE_PITCH_MAX_MM)
    steps: dict[int, list[tuple[float, float]]] = {}
    for a, b in zip(i.tolist(), j.tolist()):
        dx, dy = (at[b] - at[a]).tolist()
        steps.setdefault(a, []).append((dx, dy))
        steps.setdefault(b, []).append((-dx, -dy))
    # a hole with neighbours straight ahead and straight behind it
    return any(
        abs(u[0] * v[1] - u[1] * v[0]) < 0.05 and u[0] * v[0] + u[1] * v[1] < 0
        for around in steps.values()
        for n, u in enumerate(around)
        for v in around[n + 1 :]
    )


def _size(board: Board) -> Optional[tuple[float, float]]:
    """Shorter and longer side of the smallest rectangle round the board; None without an outline."""
    return None if board.outline.area.is_empty else width_and_length(board.outline.area)


def _is_small(size: tuple[float, float], sheet: Sheet) -> bool:
    shorter, longer = size
    return falls_short(shorter, sheet.panel.single_min_mm) or falls_short(longer, sheet.panel.panel_wanted_below_mm)


def _shape_notes(board: Board) -> str:
    """What makes a panel harder than a plain array."""
    notes = []
    area = board.outline.area
    box = float(np.prod(width_and_length(area)))
    filled = shapely.area(shapely.union_all([Polygon(piece.exterior) for piece in shapely.get_parts(area)])) / box
    if falls_short(filled, ODD_BELOW):
        notes.append(f"fills {100 * filled:.0f} % of its rectangle")
    if board.stackup.castellated or any(pad.role is PadRole.CASTELLATED for _, pad in board.pads):
        notes.append("has castellated edges")
    return "".join(f" and {note}" for note in notes)


# --- what stands at its edges --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _NearEdge:
    """A part near a straight edge; `across`: its two ends lie at different distances from it."""

    part: Part
    facts: PackageFacts
    gap: float
    across: bool
    is_ceramic: bool

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap, 4), natural(self.part.reference), self.part.reference, self.part.uid)

    @property
    def place(self) -> Place:
        return Place(centre(self.facts.body), self.part.side, f"{self.part.reference}, {mm(self.gap)} mm")


def _straight_edges(board: Board) -> list[BaseGeometry]:
    """Straight stretches of the outer edge, pieces in one line joined."""
    outer = [Polygon(piece.exterior) for piece in shapely.get_parts(board.outline.area)]
    # points in the middle of a straight stretch would cut it into pieces too short to count
    rim = edges([piece.simplify(TOL_MM) for piece in outer])
    keep = (rim.sweep == 0.0) & (rim.length >= EDGE_MIN_MM)
    return list(rim.lines[keep])


def _near_edges(board: Board, lines: Sequence[BaseGeometry], packages: Packages, sheet: Sheet) -> Iterator[_NearEdge]:
    """Every part within its limit of a straight edge, once, at its nearest edge."""
    chosen = [(part, packages.of(part)) for part in board.parts if part.fitted]
    room = board.outline.area.buffer(TOL_MM)
    shapely.prepare(room)
    chosen = [(part, facts) for part, facts in chosen if _counts(room, part, facts)]
    shapes = [_outline_of(board, part, facts) for part, facts in chosen]
    reach = max(sheet.panel.break_edge_part_min_mm, sheet.panel.break_edge_ceramic_min_mm)
    i, j, gaps = pairs_within(shapes, lines, reach)
    best: dict[int, tuple[float, int]] = {}
    for part_index, line_index, gap in zip(i.tolist(), j.tolist(), gaps.tolist()):
        if part_index not in best or gap < best[part_index][0] - TOL_MM:
            best[part_index] = (gap, line_index)
    for part_index, (gap, line_index) in best.items():
        part, facts = chosen[part_index]
        ceramic = facts.ceramic_capacitor and facts.chip_size not in SMALL_CERAMICS
        need = sheet.panel.break_edge_ceramic_min_mm if ceramic else sheet.panel.break_edge_part_min_mm
        if falls_short(gap, need):
            yield _NearEdge(part, facts, gap, _is_across(part, lines[line_index]), ceramic)


def _counts(room: BaseGeometry, part: Part, facts: PackageFacts) -> bool:
    if facts.family in _NOT_PLACED or facts.family in _MEANT_FOR_EDGE or facts.body.is_empty:
        return False
    soldered = bool(facts.leads) or any(pad.paste for pad in part.pads)
    # a body that reaches over the edge is there on purpose
    return soldered and bool(shapely.covers(room, facts.body))


def _outline_of(board: Board, part: Part, facts: PackageFacts) -> BaseGeometry:
    layer = board.copper_on(part.side)
    return shapely.GeometryCollection([facts.body, *(pad.copper[layer] for pad in part.pads if layer in pad.copper)])


def _is_across(part: Part, line: BaseGeometry) -> bool:
    """Whether the line through the two ends of a part crosses an edge rather than running along it."""
    spots = np.array([pad.at for pad in part.pads if pad.copper])
    if len(spots) < 2:
        return False
    axis = spots[-1] - spots[0]
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    along = np.array([x1 - x0, y1 - y0]) / np.hypot(x1 - x0, y1 - y0)
    return bool(exceeds(float(np.hypot(*axis)) * np.sqrt(0.5), abs(float(axis @ along))))


def _judge_parts(near: Sequence[_NearEdge], need: float) -> Iterator[Finding]:
    """One finding for parts a blade may touch, one for those that are merely short of the limit."""
    for touching in (True, False):
        ones = [one for one in near if falls_short(one.gap, need / 2) is touching]
        if ones:
            others = f", and {listed([one.part.reference for one in ones[1:]])} no nearer" if len(ones) > 1 else ""
            message = (
                f"{ones[0].part.reference} is {mm(ones[0].gap)} mm from a straight board edge{others}; "
                f"{mm(need)} mm needed where boards are separated"
            )
            yield _finding(ones, Consequence.QUERY if touching else Consequence.NOTE, message, PART, need)


def _judge_ceramics(near: Sequence[_NearEdge], need: float) -> Iterator[Finding]:
    """By position: across the edge and near is the worst there is, the others come after it."""
    groups: dict[tuple[bool, bool], list[_NearEdge]] = {(True, True): [], (True, False): [], (False, False): []}
    for one in near:
        groups[(one.across, one.across and falls_short(one.gap, need / 2))].append(one)
    for (across, worst), ones in groups.items():
        if not ones:
            continue
        first = f"{ones[0].part.reference} ({ones[0].facts.chip_size})"
        who = f"{first} lies" if len(ones) == 1 else f"{len(ones)} ceramic capacitors, nearest {first}, lie"
        message = (
            f"{who} {'across' if across else 'along'} a straight board edge at {mm(ones[0].gap)} mm; "
            f"{mm(need)} mm needed where boards are separated"
        )
        yield _finding(ones, Consequence.QUERY if worst else Consequence.NOTE, message, CERAMIC, need)


def _finding(ones: Sequence[_NearEdge], consequence: Consequence, message: str, key: str, need: float) -> Finding:
    return part_at_break_edge.finding(
        consequence,
        message,
        items=[one.part for one in sorted(ones, key=lambda one: one.order[1:])],
        places=[one.place for one in ones],
        measured=ones[0].gap,
        limit=need,
        limit_key=key,
        detail=key,
    )
