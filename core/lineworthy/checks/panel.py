# SPDX-License-Identifier: MIT
"""Building many-up and breaking out: is a panel called for, and what stands where boards are separated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import TOL_MM, falls_short, pairs_within, width_and_length
from lineworthy.knowledge.depanel import STRAIN_BUDGET, break_strain, web
from lineworthy.knowledge.fragile import cracks, is_across, is_far_off
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.separation import BreakLine, Method, Separation
from lineworthy.knowledge.wording import listed, mm, natural
from lineworthy.model import Board, PadRole, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SINGLE, WANTED = "panel.single_min_mm", "panel.panel_wanted_below_mm"
PART, CERAMIC = "panel.break_edge_part_min_mm", "panel.break_edge_ceramic_min_mm"
LARGE, TALL = "panel.break_edge_large_ceramic_min_mm", "panel.score_tall_part_min_mm"
TALL_FROM = "panel.tall_part_mm"

ODD_BELOW = 0.85
"""An outline that fills less than this share of its rectangle wastes panel and needs tabs instead of scores."""

LEVER_MM = 50.0
"""From a score to the fingers that break it (common practice, no source)."""

_MEANT_FOR_EDGE = frozenset({Family.CONNECTOR, Family.ANTENNA, Family.SWITCH})
_NOT_PLACED = frozenset({Family.MECHANICAL, Family.COVER})


@check("panel/small-board-unplanned", limits=(SINGLE, WANTED))
def small_board_unplanned(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Is the board too small to be run singly, and nothing here says how it is to be built many-up?

    Why it matters: a line's conveyors, printers and testers want a least size and a clear edge to hold. A smaller board
    is built in a panel; if you do not draw the panel the factory does, with its own tabs, scores, marks and rails, and
    asks you first or surprises you later.
    What to do: agree on a panel with the factory: array, rails with marks and tooling holes, scored or routed with
    tabs. Draw it, name the method in the settings, or say in the order and in the title block that the panel is theirs
    to design.
    Blind spots: a panel kept in another document is not seen. A plan is taken as given when the settings name a method,
    or when this document holds several outlines, rows of break-away holes, slots all along the edge, repeated
    references, or words such as panel or V-score in a text, a title block comment, a variable or a layer name.
    Source: common practice; both sizes come from the capability sheet, which names their source.
    """
    if separation.size is None:
        yield small_board_unplanned.not_run("no closed board outline", "Draw the board edge as one closed loop")
        return
    shorter, longer = separation.size
    single, wanted = sheet.panel.single_min_mm, sheet.panel.panel_wanted_below_mm
    too_small = falls_short(shorter, single)
    alone = separation.said is Method.SINGLE
    planned = separation.signs or separation.said
    if not separation.is_small(sheet) or (planned and not (alone and too_small)):
        return
    rule = f"one with a side below {mm(single)} mm" if too_small else f"one of less than {mm(wanted)} mm both ways"
    state = "the settings say it is built singly" if alone else "none is planned here"
    size_text = f"{mm(longer)} x {mm(shorter)} mm{_shape_notes(board)}"
    yield small_board_unplanned.finding(
        Consequence.QUERY if too_small else Consequence.NOTE,
        f"The board is {size_text}; {rule} is built in a panel, and {state}",
        places=[Place(centre(board.outline.area), None, "board")],
        measured=shorter if too_small else longer,
        limit=single if too_small else wanted,
        limit_key=SINGLE if too_small else WANTED,
        detail=size_text,
    )


@check("panel/part-at-break-edge", limits=(PART, CERAMIC, LARGE, TALL, TALL_FROM, SINGLE, WANTED))
def part_at_break_edge(board: Board, sheet: Sheet, packages: Packages, separation: Separation) -> Answers:
    """Does a part stand where it is hit or bent when boards are broken out of their panel?

    Why it matters: a scoring wheel or a router needs room beside its line, and a board bends most where it breaks.
    Ceramic capacitors crack under that bend, invisibly, and fail in the field as a short.
    What to do: turn capacitors along the edge and move them inwards, behind a slot, or to an edge that is not
    separated; have boards routed or sawn instead of broken by hand. Breaking by hand or with nippers strains a board
    most, a router least. What is cut or broken sets dust free: see the cautions.
    Blind spots: asked of boards that will be panelised: small ones, and those that say so. Lines that are drawn here
    count (scores, rows of break-away holes); otherwise every straight stretch of the board's four sides, also one that
    will not be separated. Measured from body and lands; ceramic capacitors count from 0603 on, capacitors in the routed
    outline of a panel that is not drawn are a note, because tabs can be set elsewhere. Parts that reach over the edge,
    connectors, antennas and switches are taken as meant to be there. The strain named for scored boards is an upper
    estimate by beam theory, for a third of the thickness left standing and fingers 50 mm away: a blade strains less.
    Source: common practice for the distances, which come from the capability sheet; the ranking of positions follows a
    capacitor maker's frequently asked questions on flex cracks (TDK), that of tools another's data sheet (Murata); the
    500 microstrain are an application note's budget (AMD XAPP1377).
    """
    if separation.size is None:
        yield part_at_break_edge.not_run("no closed board outline", "Draw the board edge as one closed loop")
        return
    if not separation.is_parted(sheet):
        return
    if not separation.lines:
        yield part_at_break_edge.not_run(
            "no line along which boards are separated", "Draw the panel's scores or its tabs with break-away holes"
        )
        return
    near = sorted(_near_lines(board, separation.lines, packages, sheet), key=lambda one: one.order)
    plain = [one for one in near if not one.is_ceramic]
    yield from _judge_parts([one for one in plain if one.key == PART], PART, sheet.panel.break_edge_part_min_mm)
    yield from _judge_parts([one for one in plain if one.key == TALL], TALL, sheet.panel.score_tall_part_min_mm)
    yield from _judge_ceramics([one for one in near if one.is_ceramic], board.stackup.thickness)


CHECKS: tuple[Check, ...] = (small_board_unplanned, part_at_break_edge)


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
class _NearLine:
    """A part nearer to a break line than the limit `key` allows; `across`: its ends lie at different distances."""

    part: Part
    facts: PackageFacts
    line: BreakLine
    gap: float
    across: bool
    key: str
    need: float

    @property
    def is_ceramic(self) -> bool:
        return self.key in (CERAMIC, LARGE)

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap, 4), natural(self.part.reference), self.part.reference, self.part.uid)

    @property
    def place(self) -> Place:
        return Place(centre(self.facts.body), self.part.side, f"{self.part.reference}, {mm(self.gap)} mm")

    @property
    def where(self) -> str:
        if not self.line.drawn:
            return "a straight board edge"
        return "a score" if self.line.how is Method.SCORED else "break-away holes"


def _near_lines(board: Board, lines: Sequence[BreakLine], packages: Packages, sheet: Sheet) -> Iterator[_NearLine]:
    """Every part within its limit of a break line, once, at its nearest line."""
    chosen = [(part, packages.of(part)) for part in board.parts if part.fitted]
    room = board.outline.area.buffer(TOL_MM)
    shapely.prepare(room)
    chosen = [(part, facts) for part, facts in chosen if _counts(room, part, facts)]
    shapes = [_outline_of(board, part, facts) for part, facts in chosen]
    panel = sheet.panel
    reach = max(panel.break_edge_large_ceramic_min_mm, panel.break_edge_ceramic_min_mm, panel.score_tall_part_min_mm)
    i, j, gaps = pairs_within(shapes, [one.line for one in lines], max(reach, panel.break_edge_part_min_mm))
    best: dict[int, tuple[float, int]] = {}
    for part_index, line_index, gap in zip(i.tolist(), j.tolist(), gaps.tolist()):
        if part_index not in best or gap < best[part_index][0] - TOL_MM:
            best[part_index] = (gap, line_index)
    for part_index, (gap, line_index) in best.items():
        part, facts = chosen[part_index]
        line = lines[line_index]
        across = is_across(part, line.line)
        key = _limit_of(facts, line, across, panel.tall_part_mm)
        need = float(sheet.value(key))
        if falls_short(gap, need):
            yield _NearLine(part, facts, line, gap, across, key, need)


def _limit_of(facts: PackageFacts, line: BreakLine, across: bool, tall: float) -> str:
    """The limit that holds for a part at a line."""
    if cracks(facts):
        return LARGE if is_far_off(facts, across) else CERAMIC
    blade = line.how is Method.SCORED and facts.height is not None and not falls_short(facts.height, tall)
    return TALL if blade else PART


def _counts(room: BaseGeometry, part: Part, facts: PackageFacts) -> bool:
    if facts.family in _NOT_PLACED or facts.family in _MEANT_FOR_EDGE or facts.body.is_empty:
        return False
    soldered = bool(facts.leads) or any(pad.paste for pad in part.pads)
    # a body that reaches over the edge is there on purpose
    return soldered and bool(shapely.covers(room, facts.body))


def _outline_of(board: Board, part: Part, facts: PackageFacts) -> BaseGeometry:
    layer = board.copper_on(part.side)
    return shapely.GeometryCollection([facts.body, *(pad.copper[layer] for pad in part.pads if layer in pad.copper)])


def _judge_parts(near: Sequence[_NearLine], key: str, need: float) -> Iterator[Finding]:
    """One finding for parts a blade may touch, one for those that are merely short of the limit."""
    for touching in (True, False):
        ones = [one for one in near if falls_short(one.gap, need / 2) is touching]
        if ones:
            first = ones[0].part.reference
            alike = sum(one.part.reference == first for one in ones)
            who = f"{first} ({alike} times)" if alike > 1 else first  # in a panel, once on every board
            rest = [one.part.reference for one in ones if one.part.reference != first]
            others = f", and {listed(rest)} no nearer" if rest else ""
            tall = f" and {ones[0].facts.height:.1f} mm high" if key == TALL else ""
            message = (
                f"{who} is {mm(ones[0].gap)} mm from {ones[0].where}{tall}{others}"
                f"{', where the tool may touch' if touching else ''}; "
                f"{mm(need)} mm needed where boards are separated"
            )
            yield _finding(ones, Consequence.QUERY if touching else Consequence.NOTE, message, key, need)


def _judge_ceramics(near: Sequence[_NearLine], thickness: float) -> Iterator[Finding]:
    """By position: across the edge and near is the worst there is, the others come after it."""
    groups: dict[tuple[bool, bool], list[_NearLine]] = {(True, True): [], (True, False): [], (False, False): []}
    for one in near:
        # where a panel is routed, and not drawn yet, no tab need be near
        free = one.line.how is Method.ROUTED and not one.line.drawn
        worst = one.across and not free and falls_short(one.gap, one.need / 2)
        groups[(one.across, worst)].append(one)
    for (across, worst), ones in groups.items():
        if not ones:
            continue
        first = f"{ones[0].part.reference} ({ones[0].facts.chip_size})"
        who = f"{first} lies" if len(ones) == 1 else f"{len(ones)} ceramic capacitors, nearest {first}, lie"
        message = (
            f"{who} {'across' if across else 'along'} {ones[0].where} at {mm(ones[0].gap)} mm; "
            f"{mm(ones[0].need)} mm needed where boards are separated{_larger(ones)}{_strained(ones[0], thickness)}"
        )
        consequence = Consequence.QUERY if worst else Consequence.NOTE
        yield _finding(ones, consequence, message, ones[0].key, ones[0].need)


def _larger(ones: Sequence[_NearLine]) -> str:
    """The limit of large capacitors, where they are among others."""
    large = [one.need for one in ones if one.need > ones[0].need]
    return f", {mm(max(large))} mm for 1206 and larger" if large else ""


def _strained(one: _NearLine, thickness: float) -> str:
    """What a part feels when a score beside it is broken by hand, where that is above what makers allow."""
    if one.line.how is not Method.SCORED or thickness <= 0.0:
        return ""
    strain = break_strain(thickness, web(thickness), distance=one.gap, lever=LEVER_MM, across=one.across)
    if strain <= STRAIN_BUDGET:
        return ""
    return f"; broken by hand it feels up to {round(strain, -2):.0f} microstrain, of {STRAIN_BUDGET:.0f} allowed"


def _finding(ones: Sequence[_NearLine], consequence: Consequence, message: str, key: str, need: float) -> Finding:
    return part_at_break_edge.finding(
        consequence,
        message,
        items=[one.part for one in sorted(ones, key=lambda one: one.order[1:])],
        places=[one.place for one in ones],
        measured=ones[0].gap,
        limit=need,
        limit_key=key,
        detail=CERAMIC if key == LARGE else key,
    )
