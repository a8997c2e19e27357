# SPDX-License-Identifier: MIT
"""Can the placement machine find where the board lies?"""

from __future__ import annotations

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import falls_short
from lineworthy.knowledge.looks import Basis
from lineworthy.knowledge.marks import Fiducial, Marks
from lineworthy.knowledge.marksaid import items, names, ordered
from lineworthy.knowledge.placed import pitch, placed_on
from lineworthy.knowledge.rings import KINDS, Gap, Surroundings, half_width
from lineworthy.knowledge.separation import Separation
from lineworthy.knowledge.wording import counted, listed, mm, sentence
from lineworthy.limits import FiducialLimits
from lineworthy.model import Board, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

THINGS = {"copper": "copper", "mask": "the solder mask", "legend": "legend", "hole": "a hole", "edge": "the board edge"}


@check(
    "fiducials/too-few",
    limits=(
        "fiducials.per_side_min_count",
        "fiducials.per_side_preferred_count",
        "fiducials.simple_side_parts_max_count",
        "fiducials.simple_side_pitch_min_mm",
        "panel.single_min_mm",
    ),
)
def too_few(board: Board, sheet: Sheet, marks: Marks, separation: Separation) -> Answers:
    """Does each side that carries machine-placed parts have enough alignment marks?

    Why it matters: The placement machine and the paste printer measure marks to learn where the board lies, how it is
        turned and how it has stretched. One mark gives the shift only; none leaves them to the board edge, which is
        not etched in the same step as the lands and lies tenths of a millimetre off.
    What to do: Put three bare copper discs of 1 mm in 2 to 3 mm mask openings on each side that is placed by machine,
        as far apart as the board allows, not on the corners of a rectangle. Two, on a diagonal, are the least. If the
        panel's rails carry the marks, say so to the factory and record a concession.
    Blind spots: Marks on the rails of a panel that is not drawn here are not counted. They can serve: a board that is
        too small to be run singly, or says that it comes in a panel, gets a query only. Undeclared marks are counted
        when they look like one: a round bare land or a copper disc in a clearly wider mask opening, without paste, hole
        or net. A part counts as machine-placed when it is fitted, goes into the placement file, is surface-mounted and
        takes paste on that side; what is slid over the edge, with lands on both faces, does not. Where the marks stand
        is not judged here. A side with few and coarse parts gets a note only: such parts forgive an alignment to the
        edge or to lands, and many factories build them so.
    Source: IPC-7351 (2005) 3.4.4.1 (two marks per side or panel, three preferred); what makes a side simple is common
        practice, no source.
    """
    limits = sheet.fiducials
    on_rails = separation.comes_on_rails(sheet)
    for side in Side:
        placed = placed_on(board, side)
        found = [mark for mark in marks.fiducials_on(side) if not mark.local]
        usable = [mark for mark in found if mark.sure and mark.is_open]
        if not placed or len(usable) >= limits.per_side_preferred_count:
            continue
        enough = len(usable) >= limits.per_side_min_count
        key = "per_side_preferred_count" if enough else "per_side_min_count"
        wanted = limits.per_side_preferred_count if enough else limits.per_side_min_count
        maybe = [mark for mark in found if not mark.sure]
        simple = _why_simple(placed, board.copper_on(side), limits)
        grave = not enough and not simple and len(usable) + len(maybe) < limits.per_side_min_count
        where = ", here or on the panel's rails" if on_rails and not enough else ""
        yield too_few.finding(
            (Consequence.QUERY if on_rails else Consequence.HOLD) if grave else Consequence.NOTE,
            f"The {side.value} carries {counted(len(placed), 'machine-placed part')} and "
            f"{counted(len(usable), 'alignment mark')}; {wanted} {'preferred' if enough else 'needed'}{where}"
            + _others(found, maybe)
            + _no_marks(marks, side)
            + (f"; {simple}" if simple and not enough else ""),
            items=items(usable),
            places=[Place(mark.at, side, mark.label) for mark in ordered(usable)],
            measured=len(usable),
            limit=wanted,
            unit="count",
            limit_key=f"fiducials.{key}",
            detail=side.value,
        )


@check("fiducials/clear-area-crowded", limits=("fiducials.clear_ring_min_ratio",))
def clear_area_crowded(board: Board, sheet: Sheet, marks: Marks) -> Answers:
    """Is the ring round each alignment mark free of copper, mask, legend, holes and the board edge?

    Why it matters: A camera finds the mark by its contrast to bare laminate. Anything else in the ring shifts the
        centre it measures, or makes it miss the mark altogether on some boards of a lot.
    What to do: Keep a ring as wide as the mark's radius free of everything (better: as wide as its diameter); open the
        mask to the outside of that ring, and keep pours out with a rule area.
    Blind spots: The ring of a mark that is not round is as wide as half of its shorter side. Texts count by the box
        they fill. Copper on inner layers below the mark is not looked at; parts over it, paste and mask on it are
        asked for by checks of their own. What merely looks like a mark gets a note only.
    Source: SMEMA fiducial mark standard, summary: ring width at least the mark's radius, preferred its diameter.
    """
    ratio = sheet.fiducials.clear_ring_min_ratio
    around = Surroundings(board)
    crowded: dict[tuple[object, ...], list[tuple[Fiducial, Gap]]] = {}
    waiting: list[Fiducial] = []
    for mark in marks.fiducials:
        need = ratio * half_width(mark)
        if not mark.sure:
            continue
        if around.unfilled_near(mark, need):
            waiting.append(mark)
        for gap in around.free_rings(mark, need):
            covered = gap.kind == "mask" and not mark.is_open
            if falls_short(gap.distance, need) and not covered:
                grave = mark.basis is not Basis.LOOKS
                key = (grave, mark.side, KINDS.index(gap.kind), round(gap.distance, 2), round(2 * half_width(mark), 3))
                crowded.setdefault(key, []).append((mark, gap))
    for group in crowded.values():
        yield _crowded(group, ratio)
    if waiting:
        yield clear_area_crowded.not_run(
            f"no filled pours near {names(waiting)}", "Fill all pours in the editor and save the board"
        )


def _crowded(group: list[tuple[Fiducial, Gap]], ratio: float) -> Finding:
    """One finding for all marks of one size that have the same kind of thing at the same distance."""
    marks = ordered(mark for mark, _ in group)
    _, gap = min(group, key=lambda pair: (round(pair[1].distance, 6), pair[1].label))
    first = marks[0]
    need = ratio * half_width(first)
    labels = {gap.label for _, gap in group}
    thing = labels.pop() if len(labels) == 1 and gap.kind in ("copper", "legend", "hole") else THINGS[gap.kind]
    concerned = [*items(marks), *(gap.item for _, gap in group if gap.item is not None)]
    return clear_area_crowded.finding(
        Consequence.NOTE if first.basis is Basis.LOOKS else Consequence.QUERY,
        f"{sentence(thing)} leaves {names(marks)} ({mm(2 * half_width(first))} mm, {first.side.value}) a clear ring of "
        f"{mm(gap.distance)} mm; {mm(need)} mm needed",
        items=concerned,
        places=[Place(mark.at, mark.side, mark.label) for mark in marks],
        measured=gap.distance,
        limit=need,
        limit_key="fiducials.clear_ring_min_ratio",
        detail=f"{first.side.value} {gap.kind}",
    )


def _why_simple(placed: list[Part], layer: str, limits: FiducialLimits) -> str:
    """Why a side may do without marks, empty when it may not."""
    if len(placed) > limits.simple_side_parts_max_count:
        return ""
    finest = min((fine for part in placed if (fine := pitch(part, layer)) is not None), default=None)
    if finest is not None and falls_short(finest, limits.simple_side_pitch_min_mm):
        return ""
    worst = f"pitch {mm(finest)} mm" if finest is not None else "none with more than two leads"
    return f"few and coarse parts only, {worst}"


def _others(found: list[Fiducial], maybe: list[Fiducial]) -> str:
    """Marks that were not counted, and why."""
    covered = [mark for mark in found if mark.sure and not mark.is_open]
    said = f"; covered by solder mask: {names(covered)}" if covered else ""
    return said + (f"; bare lands that may be marks: {names(maybe)}" if maybe else "")


def _no_marks(marks: Marks, side: Side) -> str:
    """What a person would count as a mark of this side and a machine would not, and why."""
    why: dict[str, list[str]] = {}
    for one in marks.impostors:
        if one.part.side is side:
            why.setdefault(one.evidence, []).append(one.part.reference)
    for mark in marks.fiducials_on(side):
        if mark.local:
            why.setdefault("for one part only", []).append(mark.label)
    return "".join(f"; not counted: {listed(names)} ({reason})" for reason, names in sorted(why.items()))


CHECKS = (too_few, clear_area_crowded)
