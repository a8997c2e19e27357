# SPDX-License-Identifier: MIT
"""What the print tells the people who assemble, test and mend: which way round, which part, where a label goes.

All of it are notes: a board is built from files, and a drawing can say the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Optional

from lineworthy.finding import Consequence, Place, centre
from lineworthy.knowledge.legible import Legible
from lineworthy.knowledge.orientation import Orientation, Seen
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.references import Label, References
from lineworthy.knowledge.rooms import Rooms
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

ROOMY_MIN = 10.0
"""A board smaller than so many labels carries none: its number goes onto the bag or the case."""

STEPS = 20
"""The largest free rectangle is told in so many steps of the wanted one."""

PARTS_MIN = 5
"""On a board with fewer parts nobody needs references to find one."""


@check("identity/label-area-missing", limits=("identity.label_length_mm", "identity.label_width_mm"))
def label_area_missing(board: Board, sheet: Sheet, legible: Legible) -> Answers:
    """Is there room on one side for a serial number label, and for the marks the fabricator adds?

    Why it matters: A label has to lie flat and cover neither lands nor print; the fabricator's own mark and date go
        where they find room, or onto your text.
    What to do: Keep a rectangle free of parts, openings and print on the side that can be seen when it is built in, and
        frame it on the legend.
    Blind spots: Only upright rectangles are looked for. Tracks and vias under the mask are no obstacle. On a board
        smaller than ten such labels none is looked for.
    Source: common practice, no source: 10 x 5 mm; that a fabricator adds a mark is from memory: UL 796.
    """
    length, width = sheet.identity.label_length_mm, sheet.identity.label_width_mm
    if board.outline.area.area < ROOMY_MIN * length * width or not length * width:
        return
    rooms = [(side, Rooms(board, legible, side)) for side in Side]
    emptier = sorted(rooms, key=lambda pair: sum(part.side is pair[0] for part in board.parts))
    if any(room.place(length, width) is not None for _, room in emptier):
        return
    largest, where = _largest(rooms, length, width)
    some = f"; the largest of that shape is {mm(largest * length)} x {mm(largest * width)} mm" if where else ""
    yield label_area_missing.finding(
        Consequence.NOTE,
        f"No rectangle of {mm(length)} x {mm(width)} mm is free for a label or the fabricator's marks{some}"
        + (f", on the {where.value}" if where else ""),
        measured=largest * length,
        limit=length,
        limit_key="identity.label_length_mm",
    )


def _largest(rooms: list[tuple[Side, Rooms]], length: float, width: float) -> tuple[float, Optional[Side]]:
    """The largest free share of the wanted rectangle and its side; the top where both have it."""
    low, high, where = 0, STEPS, None
    while high - low > 1:
        step = (low + high) // 2
        share = step / STEPS
        found = next((side for side, room in rooms if room.place(share * length, share * width) is not None), None)
        low, high, where = (step, high, found) if found else (low, step, where)
    return low / STEPS, where


@check("identity/polarity-mark-missing")
def polarity_mark_missing(board: Board, packages: Packages) -> Answers:
    """Does the print show which way round each diode, electrolytic capacitor and chip goes, beside its body?

    Why it matters: Inspection after placement compares the part's own mark with the one on the board; without one, a
        turned part is found in test, or by its smoke.
    What to do: Put a bar at the cathode, a plus at the capacitor, a dot or a triangle at pin 1, outside of the body.
    Blind spots: Only parts whose lands look the same after a turn are asked about. Whatever a land pattern draws that
        does not look the same after that turn counts as its mark, at the right end or not; so does a corner that its
        outline leaves open. Of what is drawn on the board, only what stands right beside the part and looks like a mark
        counts: signs, letters and words of an end, small drawings at an end or at pin 1; a word such as STATUS does
        not, nor does a line led there from afar. Parts that work either way round are told by their names only. Where
        no body is drawn, what lies under it is not known.
    Source: IPC-2221 4.5 (marking: polarity and orientation), from memory.
    """
    orientation = Orientation(board, packages)
    asked = [part for part in board.parts if orientation.needs_mark(part)]
    answers = [(part, orientation.seen(part)) for part in asked]
    for seen, message in (
        (Seen.NO, "{} without a mark for polarity or pin 1: {}"),
        (Seen.UNDER_THE_BODY, "{} with the mark for polarity or pin 1 under the body: {}"),
    ):
        wrong = _sorted(part for part, answer in answers if answer is seen)
        if wrong:
            yield polarity_mark_missing.finding(
                Consequence.NOTE,
                message.format(counted(len(wrong), "part"), listed(part.reference for part in wrong)),
                items=wrong,
                places=_part_places(wrong),
                detail=seen.value,
            )


@check("identity/polarity-mark-reversed")
def polarity_mark_reversed(board: Board, packages: Packages) -> Answers:
    """Does a diode's bar on the print stand at its cathode, as the schematic's pins say?

    Why it matters: The land pattern takes pad 1 for the cathode, the symbol pad 2, or the other way round. Whoever
        places by the print turns the part; it conducts where it should block, and what it protects dies.
    What to do: Compare symbol and land pattern; swap the pins of one of them, so that the bar is at the cathode's net.
    Blind spots: Only diodes with two pins called A and K, and a bar drawn by their own land pattern. Light-emitting
        diodes are left alone, their flats and dots stand at either end. Lettering is not read. Whether the machine
        follows the print or the placement file nobody knows here.
    Source: IPC-2221 4.5 (marking: polarity and orientation), from memory.
    """
    orientation = Orientation(board, packages)
    turned = _sorted(part for part in board.parts if orientation.bar_at_anode(part))
    if turned:
        yield polarity_mark_reversed.finding(
            Consequence.QUERY,
            f"{counted(len(turned), 'diode')} with the bar on the print at the anode, by the names of their pins: "
            f"{listed(part.reference for part in turned)}",
            items=turned,
            places=_part_places(turned),
        )


@check("identity/reference-missing")
def reference_missing(board: Board, packages: Packages, legible: Legible) -> Answers:
    """Are references missing where the others are printed, or all of them on a board placed by hand?

    Why it matters: Who places, tests or mends by hand finds a part by its reference; a gap in the row costs time and
        leads to the wrong part.
    What to do: Show the reference of these parts on the legend, or hide all and add an assembly drawing.
    Blind spots: A board that shows few references is left alone: then a drawing tells. Test points, holes, marks and
        contacts etched into the edge are not asked about.
    Source: IPC-2221 4.5 (marking: reference designators), from memory; the share that makes a habit is common practice,
        no source.
    """
    references = References(board, packages, legible)
    missing, count = references.missing, len(references.parts)
    if not missing or count < PARTS_MIN:
        return
    if references.few(len(missing)):
        yield reference_missing.finding(
            Consequence.NOTE,
            f"{counted(len(missing), 'reference')} of {count} not printed: {listed(p.reference for p in missing)}",
            items=missing,
            places=_part_places(missing),
        )
    elif not references.shown and references.placed_by_hand:
        yield reference_missing.finding(
            Consequence.NOTE, f"No reference is printed on a board with {count} parts, most of them placed by hand"
        )


@check("identity/reference-covered")
def reference_covered(board: Board, packages: Packages, legible: Legible) -> Answers:
    """Do parts, pads, holes or other lettering make references unreadable?

    Why it matters: A reference under a part, on a pad or on another text is as good as none, and ink on a pad is taken
        off or spoils the joint.
    What to do: Move the references beside their parts.
    Blind spots: Asked only where most references are printed. Under its own part a reference counts only where few lie
        so; many people put them all there to be read before placing.
    Source: common practice, no source.
    """
    references = References(board, packages, legible)
    if not _shows_references(references):
        return
    for labels, where in (
        (references.covered, "under parts or on pads and holes"),
        (references.overprinted, "on other lettering"),
    ):
        if labels:
            yield reference_covered.finding(
                Consequence.NOTE,
                f"{counted(len(labels), 'reference')} {where}: {listed(label.part.reference for label in labels)}",
                items=[label.part for label in labels],
                places=_label_places(labels),
            )


@check("identity/reference-ambiguous")
def reference_ambiguous(board: Board, packages: Packages, legible: Legible) -> Answers:
    """Could a reference be taken for that of a neighbour?

    Why it matters: R19 printed beside R20 gets the wrong resistor replaced.
    What to do: Move the reference to its part.
    Blind spots: Asked only where most references are printed. Named are those more than 1 mm from their part and less
        than half as far from another of the same letter; a line that leads from a reference to its part is not seen.
    Source: common practice, no source.
    """
    references = References(board, packages, legible)
    if not _shows_references(references) or not references.ambiguous:
        return
    pairs = references.ambiguous
    yield reference_ambiguous.finding(
        Consequence.NOTE,
        f"{counted(len(pairs), 'reference')} nearer to another part: "
        + ", ".join(f"{label.part.reference} to {other.reference}" for label, other in pairs[:6])
        + (f" and {len(pairs) - 6} more" if len(pairs) > 6 else ""),
        items=[label.part for label, _ in pairs],
        places=_label_places([label for label, _ in pairs]),
    )


def _shows_references(references: References) -> bool:
    return len(references.shown) >= PARTS_MIN and 2 * len(references.shown) >= len(references.parts)


def _sorted(parts: Iterable[Part]) -> list[Part]:
    return sorted(parts, key=lambda part: natural(part.reference))


def _part_places(parts: Iterable[Part]) -> list[Place]:
    return [Place(centre(part.extent) if part.pads else part.at, part.side, part.reference) for part in parts]


def _label_places(labels: Iterable[Label]) -> list[Place]:
    return [Place(label.marking.at, label.marking.layer.side, label.part.reference) for label in labels]


CHECKS = (
    label_area_missing,
    polarity_mark_missing,
    polarity_mark_reversed,
    reference_missing,
    reference_covered,
    reference_ambiguous,
)
