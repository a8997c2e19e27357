# SPDX-License-Identifier: MIT
"""Can boards be scored apart, and what stands in the way: shape, thickness, copper, holes, parts over the edge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import exceeds, falls_short, pairs_within
from lineworthy.knowledge.atlines import copper_near
from lineworthy.knowledge.breaks import NAMES, ON_LINE_MM, BoardSide, Break, Overhang
from lineworthy.knowledge.depanel import copper_back_off, cut_depth, groove_half_width, web
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.separation import BreakLine, Method, Separation
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SINGLE, WANTED = "panel.single_min_mm", "panel.panel_wanted_below_mm"
THICKNESS, COPPER, GAP = "panel.score_thickness_min_mm", "panel.score_copper_min_mm", "panel.routed_gap_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""


@check("panel/scoring-ruled-out", limits=(THICKNESS, SINGLE, WANTED))
def scoring_ruled_out(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """How boards are separated is not stated: does the board leave the choice, or is scoring out of the question?

    Why it matters: a score is the cheapest way to part boards, and the one most factories assume. It runs straight
    through the whole array and takes a groove on both faces; a board that does not allow that needs routed slots with
    tabs, which take panel area and another tool.
    What to do: have these boards routed, or scored on the sides that allow it; say so in the settings
    (``[panel]``, ``method``) and in the order.
    Blind spots: asked of boards that will be panelised and for which neither the settings nor the document name a
    method. Sides are those of the rectangle round the board. A strip of waste between boards makes room for a part that
    reaches over, which costs area: the panel plan weighs that.
    Source: common practice for thickness and shape; the groove by geometry, for a blade of 30 degrees that leaves a
    third of the thickness and runs up to 0.1 mm beside its line.
    """
    if separation.method is not None or separation.is_drawn or not separation.is_parted(sheet):
        return
    reasons = list(_reasons(board, sheet, separation))
    if not reasons:
        return
    out = {side.name for _, sides in reasons for side in sides}
    where = "" if len(out) == len(NAMES) else f" on {len(out)} of {len(NAMES)} sides"
    yield scoring_ruled_out.finding(
        Consequence.NOTE,
        f"How boards are separated is not stated; scoring is ruled out{where}: "
        + "; ".join(text for text, _ in reasons),
        items=list(dict.fromkeys(one.part for one in separation.overhangs)),
        places=[
            Place(side.at(side.length / 2), None, f"{side.name} side") for side in separation.sides if side.name in out
        ],
        detail=str(len(out)),
    )


@check("panel/side-not-scorable", limits=(THICKNESS,))
def side_not_scorable(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Are boards to be scored, and the board's shape or thickness does not allow it?

    Why it matters: a score runs straight through the whole array. A curved, stepped or slanting side cannot be scored,
    half holes are torn out, and a thin board breaks in handling or is cut through.
    What to do: have such sides routed with tabs (``method = "mixed"`` in the settings), square the outline, or order a
    thicker board.
    Blind spots: sides are those of the rectangle round the board; rounded corners and notches are milled first and do
    not count. Scores that start and stop inside the array are possible at some factories.
    Source: common practice, no source.
    """
    scored = [side for side in separation.sides if separation.how(side) is Method.SCORED]
    if not scored:
        return
    thin = falls_short(board.stackup.thickness, sheet.panel.score_thickness_min_mm)
    bad = [] if separation.is_drawn else [side for side in scored if side.by is Break.ROUTED]
    if bad:
        yield side_not_scorable.finding(
            Consequence.QUERY,
            f"Boards are scored, {separation.basis}; {_named_sides(bad)}",
            places=[Place(side.at(side.length / 2), None, f"{side.name} side") for side in bad],
            detail="sides",
        )
    if thin:
        need = sheet.panel.score_thickness_min_mm
        yield side_not_scorable.finding(
            Consequence.QUERY,
            f"Boards are scored, {separation.basis}; the board is {mm(board.stackup.thickness)} mm thick, "
            f"{mm(need)} mm needed",
            measured=board.stackup.thickness,
            limit=need,
            limit_key=THICKNESS,
            detail="thickness",
        )


@check("panel/copper-at-score", limits=(COPPER,))
def copper_at_score(board: Board, sheet: Sheet, separation: Separation) -> Answers:
    """Does copper or a hole come nearer to the middle of a score than the groove and its tolerances allow?

    Why it matters: the blade cuts a groove on both faces, and not always where it was meant. Copper in it is laid bare
    and smeared across layers, copper beside it lifts; a hole in it starts a crack.
    What to do: move copper and pours back from the sides that are scored, or have those sides routed.
    Blind spots: the middle of a score is taken to be the board's edge where no score is drawn. Inner copper is measured
    like outer copper, although the groove may not reach it. Legend and mask are not looked at.
    Source: common practice for the limit in the sheet; the floor grows with the thickness and is a trade column's on
    scored jobs (2013): 0.25 mm at 0.79, 0.38 mm at 1.57, 0.56 mm at 3.18 mm. A post on a trade mailing list (1998)
    gives the same by geometry: depth times the tangent of the blade's half angle, and tolerances on top.
    """
    # sides that cannot be scored are told by panel/side-not-scorable
    lines = [one for one in separation.lines if one.how is Method.SCORED and not _is_out(one)]
    if not lines:
        return
    floor = copper_back_off(board.stackup.thickness)
    need = max(sheet.panel.score_copper_min_mm, floor)
    near = copper_near(board, lines, need)
    if not near:
        return
    worst = near[0]
    items = list({id(one.piece.item): one.piece.item for one in near}.values())
    kinds = f"{len(items)} pieces of copper" if all(one.is_copper for one in near) else f"{len(items)} items"
    many = f"; {kinds} in all" if len(items) > 1 else ""
    yield copper_at_score.finding(
        Consequence.QUERY if falls_short(worst.gap, floor) else Consequence.NOTE,
        f"{worst.label} is {mm(worst.gap)} mm from the middle of a score{many}; {mm(need)} mm needed, "
        f"{mm(floor)} mm the least in a board of {mm(board.stackup.thickness)} mm",
        items=items,
        places=[Place(one.at, one.side(board), f"{one.label}, {mm(one.gap)} mm") for one in near[:SHOWN]],
        measured=worst.gap,
        limit=need,
        limit_key=COPPER,
    )


@check("panel/part-over-neighbour", limits=(GAP,))
def part_over_neighbour(board: Board, sheet: Sheet, packages: Packages, separation: Separation) -> Answers:
    """Does a part reach over an edge into the board next to it in the panel?

    Why it matters: scored boards lie edge to edge. A connector that reaches over stands on the neighbour, collides with
    its parts, and cannot be placed; over a rail it stops the conveyor.
    What to do: turn every other board round, leave a strip of waste or a wider slot on that side, fit the part after
    parting, or move it inwards.
    Blind spots: measured from bodies as drawn; a plug that is put in later is not. Where nobody says how boards are
    parted, see panel/scoring-ruled-out. On a drawn panel only bodies across a drawn score are seen.
    Source: geometry; the routed gap comes from the capability sheet.
    """
    if separation.is_drawn:
        over = _across_scores(board, packages, separation)
        names = {part.reference or "a part" for part in over}
        if over:
            yield part_over_neighbour.finding(
                Consequence.QUERY,
                f"{listed(names)} {'lie' if len(names) > 1 else 'lies'} across a score",
                items=over,
                places=[Place(part.at, part.side, part.reference) for part in over[:SHOWN]],
                detail="drawn",
            )
        return
    gap = sheet.panel.routed_gap_mm
    scored = [one for one in separation.overhangs if separation.how(one.side) is Method.SCORED]
    routed = [one for one in separation.overhangs if separation.how(one.side) is Method.ROUTED]
    if scored:
        yield _over(scored, packages, Consequence.QUERY, "where scored boards touch", None)
    wide = [one for one in routed if exceeds(one.beyond, gap)]
    if wide:
        yield _over(wide, packages, Consequence.NOTE, f"where routed boards are {mm(gap)} mm apart", gap)


def _over(
    some: Sequence[Overhang], packages: Packages, consequence: Consequence, where: str, gap: Optional[float]
) -> Finding:
    mine = _farthest_first(some)
    sides = len({one.side.name for one in mine})
    spots = [(one, centre(packages.of(one.part).body)) for one in mine[:SHOWN]]
    return part_over_neighbour.finding(
        consequence,
        f"{_reaching(mine, sides)}, {where}",
        items=list(dict.fromkeys(one.part for one in mine)),
        places=[Place(at, one.part.side, f"{one.part.reference}, {mm(one.beyond)} mm over") for one, at in spots],
        measured=mine[0].beyond,
        limit=gap,
        limit_key="" if gap is None else GAP,
        detail="touching" if gap is None else "apart",
    )


CHECKS: tuple[Check, ...] = (scoring_ruled_out, side_not_scorable, copper_at_score, part_over_neighbour)


# --- why not -------------------------------------------------------------------------------------------------------


def _reasons(board: Board, sheet: Sheet, separation: Separation) -> Iterator[tuple[str, Sequence[BoardSide]]]:
    """Why a board cannot be scored, in words, each with the sides it is about."""
    thickness, need = board.stackup.thickness, sheet.panel.score_thickness_min_mm
    if falls_short(thickness, need):
        yield f"it is {mm(thickness)} mm thick, {mm(need)} mm needed", separation.sides
        return
    bad = [side for side in separation.sides if side.by is Break.ROUTED]
    if bad:
        yield _named_sides(bad), bad
    over = _farthest_first(one for one in separation.overhangs if one.side not in bad)
    if over:
        sides = [side for side in separation.sides if any(one.side is side for one in over)]
        yield _reaching(over, len(sides)), sides
    reach = groove_half_width(cut_depth(thickness, web(thickness))) + ON_LINE_MM
    lines = [one for one in separation.lines if one.side not in bad]
    near = copper_near(board, lines, reach) if lines else []
    sides = [side for side in separation.sides if any(one.line.side is side for one in near)]
    if near:
        told = f"copper is {mm(near[0].gap)} mm from {counted(len(sides), 'side')}"
        yield f"{told}, where the groove can reach {mm(reach)} mm", sides


def _named_sides(bad: Sequence[BoardSide]) -> str:
    """``1 side is straight for only 33 %, 2 sides have half holes``; which ones, the places say."""
    told = []
    for why, count in sorted(Counter(side.why for side in bad).items()):
        verb = "be" if why.startswith("straight") else "have"
        told.append(f"{counted(count, 'side')} {_VERBS[verb][count > 1]} {why}")
    return ", ".join(told)


_VERBS = {"be": ("is", "are"), "have": ("has", "have")}


def _farthest_first(some: Iterable[Overhang]) -> list[Overhang]:
    return sorted(some, key=lambda one: (-round(one.beyond, 4), natural(one.part.reference), one.part.uid))


def _reaching(mine: Sequence[Overhang], sides: int) -> str:
    """``J1 reaches 1.50 mm over 1 side``, or how many parts do and the farthest of them."""
    parts = {one.part.uid for one in mine}
    first, over = mine[0].part.reference or "a part", f"over {counted(sides, 'side')}"
    if len(parts) == 1:
        return f"{first} reaches {mm(mine[0].beyond)} mm {over}"
    return f"{counted(len(parts), 'part')} reach {over}, {first} the farthest by {mm(mine[0].beyond)} mm"


# --- at the lines ---------------------------------------------------------------------------------------------------


def _is_out(line: BreakLine) -> bool:
    return line.side is not None and line.side.by is Break.ROUTED


def _across_scores(board: Board, packages: Packages, separation: Separation) -> list[Part]:
    """Fitted parts whose body lies across a drawn score."""
    scores = [one.line for one in separation.lines if one.how is Method.SCORED]
    parts = [part for part in board.parts if part.fitted and packages.of(part).family is not Family.MECHANICAL]
    bodies = [packages.of(part).body.buffer(-0.1) for part in parts]
    i, _, gaps = pairs_within(bodies, scores, 0.0)
    over = {int(n) for n in i[gaps == 0.0]}
    return sorted((parts[n] for n in over), key=lambda part: (natural(part.reference), part.uid))
