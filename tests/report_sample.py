# SPDX-License-Identifier: MIT
"""A board, checks and reviews the report tests share; `hostile_review` has markup in every text there is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from build import (
    BOTTOM,
    COPPER_TOP,
    LEGEND_BOTTOM,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    marking,
    pour,
    rectangle,
    smd_part,
    through_part,
    track,
    via,
)
from lineworthy import Consequence, Place, Review, review
from lineworthy.beside import Beside
from lineworthy.concessions import Concession
from lineworthy.finding import Finding, NotRun
from lineworthy.model import Board, MarkingRole, Net, Outline, Part, TitleBlock
from lineworthy.registry import Answers, check
from lineworthy.review import Crash
from lineworthy.sheet import built_in

HOSTILE = "<img src=x onerror=\"document.title='pwned'\">'\"]]></script><script>document.title='pwned'</script>&lt;"
CONTROL = "a\x1b[31mred\x07\u202egnp\u2028line\nnext\ttab\x00"


@check("spacing/sample-close", limits=("spacing.chip_min_mm",))
def sample_close(board, sheet) -> Answers:
    """Are there parts nearer to each other than can be placed?

    Why it matters: The nozzle touches the neighbour.
    What to do: Move one of them.
    Blind spots: Bodies that are not drawn.
    Source: made up for tests.
    """
    for a, b in zip(board.parts[:-1:2], board.parts[1::2]):
        yield sample_close.finding(
            Consequence.QUERY,
            f"{a.reference} is 0.12 mm from {b.reference}",
            items=[a, b],
            places=[Place(a.at, a.side, a.reference), Place(b.at, b.side, b.reference)],
            measured=0.12,
            limit=sheet.spacing.chip_min_mm,
            limit_key="spacing.chip_min_mm",
        )


@check("identity/sample-nameless")
def sample_nameless(board) -> Answers:
    """Does the board say what it is?

    Why it matters: Nobody can tell two boards apart.
    What to do: Print the number.
    Blind spots: None known.
    Source: made up for tests.
    """
    yield sample_nameless.finding(Consequence.HOLD, f"No part number in {board.name}")


@check("supply/sample-list")
def sample_list(board) -> Answers:
    """Is each part to be had?

    Why it matters: No part, no board.
    What to do: Give the list.
    Blind spots: All.
    Source: made up for tests.
    """
    yield sample_list.not_run("no parts list", "give one")


@check("panel/sample-edge")
def sample_edge(board) -> Answers:
    """Is the edge free?

    Why it matters: The saw.
    What to do: Move parts.
    Blind spots: None known.
    Source: made up for tests.
    """
    for item in board.parts[:3]:
        yield sample_edge.finding(
            Consequence.NOTE, f"{item.reference} is near the edge", items=[item], places=[Place(item.at)]
        )


CHECKS = (sample_nameless, sample_edge, sample_list, sample_close)


def sample_board() -> Board:
    """Both sides used, every role of the picture present."""
    parts = (
        chip("R1", (10, 10), nets=("GND", "A")),
        chip("R2", (12.2, 10), nets=("A", "B")),
        chip("R3", (10, 30), side=BOTTOM),
        chip("R4", (12.2, 30), side=BOTTOM, fitted=False),
        smd_part("U1", (30, 20), nets=("A", "B", "C", "GND")),
        through_part("J1", (50, 20)),
        fiducial("FID1", (3, 3)),
        hole("H1", (57, 37)),
    )
    return board(
        60,
        40,
        name="widget",
        path="boards/widget.kicad_pcb",
        parts=parts,
        tracks=(track((10, 10), (20, 10)), track((20, 10), (20, 20)), track((5, 5), (9, 5), layer="bottom")),
        vias=(via((20, 20)),),
        areas=(pour(rectangle((30, 20), 50, 30)), pour(rectangle((30, 20), 40, 20), layer="bottom", uid="pour2")),
        markings=(
            marking("widget rev B", (30, 35)),
            marking("below", (20, 5), LEGEND_BOTTOM, mirrored=True, rotation=0.0),
            marking("R1", (10, 12), role=MarkingRole.REFERENCE, part_uid="part-R1"),
        ),
        graphics=(
            graphic(rectangle((30, 5), 10, 0.2), uid="line"),
            graphic(rectangle((40, 5), 2, 2), COPPER_TOP, uid="patch"),
        ),
        title=TitleBlock("Widget", "B", "2026-01-02", "Acme"),
    )


def sample_review(strict: bool = True) -> Review:
    """A hold, queries on both sides, notes, a check not run."""
    return review(sample_board(), checks=CHECKS, strict=strict)


def crowded_review(count: int = 60) -> Review:
    """Many findings on a small spot, and one with many places."""
    base = sample_review()
    rng = np.random.default_rng(7)
    crowd = [
        Finding(
            "spacing/sample-close", Consequence.QUERY, f"crowd {n}", (Place((x, y), TOP, f"C{n}"),), fingerprint="f"
        )
        for n, (x, y) in enumerate((rng.random((count, 2)) * (8, 6) + (26, 17)).tolist())
    ]
    spread = tuple(Place((2 + n % 20 * 2.8, 2 + n // 20 * 3.5), TOP, f"P{n}") for n in range(200))
    crowd.append(Finding("spacing/sample-close", Consequence.NOTE, "everywhere", spread, fingerprint="g"))
    return replace(base, findings=(*base.findings, *crowd))


def hostile_review(text: str = HOSTILE) -> Review:
    """Every text of the board, the sheet and the answers is `text`."""
    base = sample_board()
    parts: tuple[Part, ...] = tuple(
        replace(part, uid=f"{n}{text}", reference=text, value=text, package=text, description=text, fields={text: text})
        for n, part in enumerate(base.parts)
    )
    hostile = replace(
        base,
        name=text,
        path=text,
        parts=parts,
        markings=tuple(replace(m, text=text, source=text, part_uid="") for m in base.markings),
        nets={text: Net(text, text)},
        title=TitleBlock(text, text, text, text, (text,)),
        variables={text: text},
    )
    result = review(hostile, replace(built_in(), name=text), checks=CHECKS, strict=True)
    findings = tuple(
        replace(f, message=text, uids=(text,), unit=text, places=tuple(replace(p, label=text) for p in f.places))
        for f in result.findings
    )
    return replace(
        result,
        findings=findings,
        not_run=(NotRun("supply/sample-list", text, text),),
        crashed=(Crash("supply/sample-list", text, text),),
    )


def conceded_review(text: str = "placed by hand, five boards") -> Review:
    """The sample with its hold, for this revision, and one of its notes, until a day, accepted by a person."""
    found = sample_review().findings
    hold = next(f for f in found if f.consequence is Consequence.HOLD)
    note = next(f for f in found if f.consequence is Consequence.NOTE)
    kept = (
        Concession(hold.check, hold.fingerprint, text, text, date(2026, 3, 14), "B", finding=text),
        Concession(note.check, note.fingerprint, text, text, date(2026, 3, 15), None, date(2026, 12, 31)),
    )
    return review(sample_board(), beside=Beside(concessions=kept, today=date(2026, 4, 1)), checks=CHECKS, strict=True)


def empty_review() -> Review:
    """A board with nothing on it."""
    return review(Board(name="empty"), checks=(), strict=True)


def outline_missing() -> Board:
    """Parts, and no closed outline."""
    return replace(sample_board(), outline=Outline(rectangle((0, 0), 1, 1).difference(rectangle((0, 0), 2, 2))))
