# SPDX-License-Identifier: MIT
"""Can the number and the revision that are printed be read on the finished board?

Whether a board can be told is asked of its best marking. Others of the kind do no harm when parts hide them, but they
are blots, or ink on lands, like any other text of the legend: that is a note.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import falls_short
from lineworthy.knowledge.legible import EDGE, Legible, backwards
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.printed import IdentityMarking, Printed, prominence
from lineworthy.knowledge.wording import listed, mm
from lineworthy.model import Board, LayerKind, Marking, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

COVERED_NOTE, COVERED_QUERY = 0.1, 0.3
"""Shares of a text under parts from which it is hard, and not to be read. Boxes round texts are roomy."""

LOST_QUERY = 0.1
"""Share of a text over openings from which letters are missing and not only nicked."""

INKED_QUERY = 0.5
"""Share of a text on filled legend from which it cannot be made out."""

LETTERED_QUERY = 0.3
"""Share of a text with other letters over it from which some of its own cannot be made out."""


@check("identity/marking-backwards")
def marking_backwards(board: Board, printed: Printed) -> Answers:
    """Does every text face the side it is on: mirrored on the bottom, not mirrored on the top?

    Why it matters: A text that is not mirrored on the bottom layer reads backwards on the finished board.
    What to do: Switch the mirroring of the text in its properties, or flip the text to the other side and back.
    Blind spots: Texts made of characters that look the same in a mirror are left alone, and lettering drawn as shapes
        cannot be read. Text meant to be read through a transparent board would be named here.
    Source: common practice, no source.
    """
    wrong = [m for m in board.shown_markings if m.layer.is_made and backwards(m)]
    if not wrong:
        return
    needed = {
        id(item.marking) for items in _roles(printed) for item in items if all(backwards(i.marking) for i in items)
    }
    for side in Side:
        found = sorted((m for m in wrong if m.layer.side is side), key=lambda m: (id(m) not in needed, prominence(m)))
        for consequence, markings in (
            (Consequence.QUERY, [m for m in found if id(m) in needed]),
            (Consequence.NOTE, [m for m in found if id(m) not in needed]),
        ):
            if not markings:
                continue
            only = ", with them the only name or revision" if consequence is Consequence.QUERY else ""
            yield marking_backwards.finding(
                consequence,
                f"{_counted(markings)} on the {side.value} read{'s' if len(markings) == 1 else ''} backwards"
                f"{only if len(markings) > 1 else only.replace(' with them', '')}: {_some(markings)}",
                items=markings,
                places=_places(markings),
                detail=f"{side.value} {consequence.value}",
            )


def _counted(markings: list[Marking]) -> str:
    return "1 text" if len(markings) == 1 else f"{len(markings)} texts"


def _some(markings: list[Marking], most: int = 4) -> str:
    texts = list(dict.fromkeys(quoted(marking.text) for marking in markings))
    more = f" and {len(texts) - most} more" if len(texts) > most else ""
    return ", ".join(texts[:most]) + more


@dataclass(frozen=True)
class _Fault:
    """What keeps a marking from being read: which check says so, how grave, and the numbers behind it."""

    asked: str
    consequence: Consequence
    message: str
    measured: float
    limit: Optional[float] = None
    limit_key: str = ""
    unit: str = "mm"


@check("identity/marking-under-part")
def marking_under_part(sheet: Sheet, printed: Printed, legible: Legible) -> Answers:
    """Can the number and the revision still be seen when the parts are on the board?

    Why it matters: What lies under a part is gone once the board is assembled, when it matters: in test, in repair, in
        the field.
    What to do: Move the text to where nothing is placed; the rim of the board and the bottom are usual.
    Blind spots: A part hides what its body covers as it is drawn, or the area between its pads. Cables, covers, labels
        and the case are not known, nor are parts that stand over the board on legs.
    Source: common practice, no source.
    """
    yield from _told(marking_under_part, sheet, printed, legible)


@check("identity/marking-clipped", limits=("identity.text_to_opening_min_mm", "identity.text_to_edge_min_mm"))
def marking_clipped(sheet: Sheet, printed: Printed, legible: Legible) -> Answers:
    """Are the number and the revision clear of pads, holes, mask openings, the board edge, and other print?

    Why it matters: The fabricator takes legend off everything that gets soldered and off the edge without asking; of a
        B may be left what looks like an E.
    What to do: Move the text off pads, holes and the edge. Vias are no harm where the mask covers them.
    Blind spots: The box round the text is measured, not each letter. Copper text is compared with pads and holes, not
        with tracks. Further texts with the name or revision are told in one note where letters of them are lost.
    Source: common practice, no source: 0.10 mm from legend to mask openings, 0.25 mm to the edge.
    """
    yield from _told(marking_clipped, sheet, printed, legible)


@check("identity/marking-too-fine", limits=("identity.text_height_min_mm", "identity.text_stroke_min_mm"))
def marking_too_fine(sheet: Sheet, printed: Printed, legible: Legible) -> Answers:
    """Are the number and the revision high and thick enough for the process?

    Why it matters: Legend, etching and mask cannot hold letters below a size; what comes out are blots and gaps.
    What to do: Print it 1.0 mm high with a pen of 0.15 mm, or what your factory asks for.
    Blind spots: Lettering drawn as shapes is not measured. The same limits stand for legend, copper and mask text;
        thick copper wants more. Further texts with the name or revision are told in one note.
    Source: common practice, no source: lower limit 0.8 mm high, pen 0.10 mm.
    """
    yield from _told(marking_too_fine, sheet, printed, legible)


def _told(asked: Check, sheet: Sheet, printed: Printed, legible: Legible) -> Answers:
    """Faults of one kind on the markings that nothing better stands for."""
    faults = {id(i.marking): list(_faults(i.marking, legible, sheet)) for i in printed.identity}
    best: dict[int, tuple[IdentityMarking, list[str]]] = {}
    for role, items in zip(("name", "revision"), _roles(printed)):
        if items:
            item = min(items, key=lambda i: sum(3 - f.consequence.rank for f in faults[id(i.marking)]))
            best.setdefault(id(item.marking), (item, []))[1].append(role)
    for item, roles in sorted(best.values(), key=lambda pair: prominence(pair[0].marking)):
        for fault in faults[id(item.marking)]:
            if fault.asked == asked.id:
                said = f"{_said(item.marking)}, the board's {' and '.join(roles)}, {fault.message}"
                yield _finding(asked, fault, said, [item.marking])
    if asked is not marking_under_part:
        rest = [item.marking for item in printed.identity if id(item.marking) not in best]
        yield from _blots(asked, [(m, f) for m in rest for f in faults[id(m)] if f.asked == asked.id])


def _blots(asked: Check, others: list[tuple[Marking, _Fault]]) -> Answers:
    """What cannot be read of the markings that something better stands for."""
    lost = [(marking, fault) for marking, fault in others if fault.consequence is Consequence.QUERY]
    if lost:
        markings = list(dict.fromkeys(marking for marking, _ in lost))
        first, fault = lost[0]
        text = "1 more text" if len(markings) == 1 else f"{len(markings)} more texts"
        said = f"{text} with the board's name or revision: {_said(first)} {fault.message}"
        yield _finding(asked, fault, said, markings, more=True)


def _said(marking: Marking) -> str:
    return f"{quoted(marking.text)} on {marking.layer.name}"


def _finding(asked: Check, fault: _Fault, said: str, markings: list[Marking], *, more: bool = False) -> Finding:
    return asked.finding(
        Consequence.NOTE if more else fault.consequence,
        said,
        items=markings,
        places=_places(markings),
        measured=fault.measured,
        limit=fault.limit,
        limit_key=fault.limit_key,
        unit=fault.unit,
        detail="more" if more else "",
    )


def _roles(printed: Printed) -> tuple[list[IdentityMarking], list[IdentityMarking]]:
    """What names the board, and what gives its revision."""
    return [i for i in printed.identity if i.names], [i for i in printed.identity if i.revisions]


def _faults(marking: Marking, legible: Legible, sheet: Sheet) -> Iterator[_Fault]:
    if marking.extents.is_empty:
        return
    yield from _hidden(marking, legible)
    yield from _clipped(marking, legible, sheet)
    yield from _fine(marking, sheet)


def _hidden(marking: Marking, legible: Legible) -> Iterator[_Fault]:
    cover = legible.cover(marking)
    if not falls_short(cover.share, COVERED_NOTE):
        yield _Fault(
            "identity/marking-under-part",
            Consequence.NOTE if falls_short(cover.share, COVERED_QUERY) else Consequence.QUERY,
            f"lies under {listed(part.reference or 'a part without name' for part in cover.parts)} "
            f"by {cover.share:.0%} of its area",
            cover.share * 100,
            unit="%",
        )


def _clipped(marking: Marking, legible: Legible, sheet: Sheet) -> Iterator[_Fault]:
    cut, asked = legible.cut(marking), "identity/marking-clipped"
    key = f"identity.text_to_{'edge' if cut.what == EDGE else 'opening'}_min_mm"
    need = float(sheet.value(key))
    if cut.share > 0.0:
        consequence = Consequence.NOTE if falls_short(cut.share, LOST_QUERY) else Consequence.QUERY
        share = max(cut.share, 0.01)
        message = f"is cut off at {cut.what} by {share:.0%} of its area"
        yield _Fault(asked, consequence, message, cut.share * 100, unit="%")
    elif falls_short(cut.gap, need) and marking.layer.kind is not LayerKind.COPPER:
        message = f"is {mm(cut.gap)} mm from {cut.what}; {mm(need)} mm are needed"
        yield _Fault(asked, Consequence.NOTE, message, cut.gap, need, key)
    inked = legible.overprinted(marking)
    if not falls_short(inked, INKED_QUERY):
        message = f"is printed on filled legend, {inked:.0%} of its area"
        yield _Fault(asked, Consequence.QUERY, message, inked * 100, unit="%")
    share, others = legible.lettered(marking)
    if not falls_short(share, LETTERED_QUERY):
        message = f"has {listed(map(quoted, others), 3)} printed over it, {share:.0%} of its area"
        yield _Fault(asked, Consequence.QUERY, message, share * 100, unit="%")


def _fine(marking: Marking, sheet: Sheet) -> Iterator[_Fault]:
    limits = sheet.identity
    for what, measured, need, key in (
        ("is {} mm high", marking.height, limits.text_height_min_mm, "identity.text_height_min_mm"),
        ("has a pen of {} mm", marking.stroke, limits.text_stroke_min_mm, "identity.text_stroke_min_mm"),
    ):
        if falls_short(measured, need):
            message = f"{what.format(mm(measured))}; {mm(need)} mm are needed"
            yield _Fault("identity/marking-too-fine", Consequence.QUERY, message, measured, need, key)


def _places(markings: Iterable[Marking]) -> list[Place]:
    return [Place(marking.at, marking.layer.side, quoted(marking.text)) for marking in markings]


CHECKS = (marking_backwards, marking_under_part, marking_clipped, marking_too_fine)
