# SPDX-License-Identifier: MIT
"""What notes on the board say of its build, held against its stack-up."""

from __future__ import annotations

from collections.abc import Sequence

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.buildnotes import COLOURS, Note, Topic, finishes_in, read_notes
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.wording import counted, mm
from lineworthy.model import Board, StackLayer
from lineworthy.registry import Answers, Check, check

THICKNESS_SHARE = 0.1
"""The usual tolerance of a board's thickness (common practice, no source): what is nearer means the same."""

PLATING_MM, COPPER_SHARE = 0.025, 0.3
"""Outer copper is stated before or after plating, which adds so much; weights are rounded generously."""


@check("bare-board/notes-contradict-stackup")
def notes_contradict_stackup(board: Board) -> Answers:
    """Does a note on the board speak of another build than its stack-up: layers, thickness, copper, finish, colour?

    Why it matters: notes on the drawing are what the factory reads first, and they outlive the change of the board they
    were written for. The factory asks which of the two is meant, or builds the wrong one.
    What to do: correct the note or the board's set-up; let tables on the drawing be made again from the stack-up.
    Blind spots: only notes in English in usual words are read, on any layer that is not hidden and in the title block's
    comments; pictures and other documents are not. Lines that speak of options, fingers, holes, limits or panels are
    passed over. Thickness may differ by a tenth, copper by its plating. What the stack-up leaves open contradicts
    nothing.
    Source: common practice, no source.
    """
    wrong = [(note, real) for note in read_notes(board) if (real := _contradicted(board, note))]
    if not wrong:
        return
    told = list(dict.fromkeys(f"{quoted(note.quote)} {_where(note)}, {real}" for note, real in wrong))
    markings = list(dict.fromkeys(note.marking for note, _ in wrong if note.marking is not None))
    yield notes_contradict_stackup.finding(
        Consequence.QUERY,
        f"{counted(len(told), 'note')} against the board's set-up: {'; '.join(told)}",
        items=markings,
        places=[Place(marking.at, marking.layer.side, quoted(marking.text)) for marking in markings],
        detail="; ".join(told),
    )


def _where(note: Note) -> str:
    return f"on {note.marking.layer.name}" if note.marking is not None else "in the title block"


def _contradicted(board: Board, note: Note) -> str:
    """What the board says instead, empty where both can be true."""
    value = note.value
    if isinstance(value, float):
        if note.topic is Topic.LAYERS:
            count = len(board.copper_layers)
            return f"the board has {counted(count, 'copper layer')}" if value != count else ""
        if note.topic is Topic.THICKNESS:
            real = board.stackup.thickness
            return f"the board is {mm(real)} mm thick" if exceeds(abs(value - real), THICKNESS_SHARE * real) else ""
        return _other_copper(board, note, value)
    if note.topic is Topic.FINISH:
        stated = finishes_in(board.stackup.finish)
        return f"the finish is {quoted(board.stackup.finish)}" if stated and stated.isdisjoint(value) else ""
    colours = sorted(_colours(board.stackup.layers, "mask" if note.topic is Topic.MASK else "silk"))
    if not colours or not value.isdisjoint(colours):
        return ""
    return f"the {note.topic.value} is {' and '.join(colours)}"


def _other_copper(board: Board, note: Note, value: float) -> str:
    """The copper of the layers meant, where none of them is as thick as the note says."""
    outer = {board.top_copper, board.bottom_copper}
    layers = [layer for layer in board.stackup.layers if layer.kind == "copper" and layer.thickness]
    meant = [layer for layer in layers if not note.where or (layer.name in outer) is (note.where == "outer")]
    sizes = sorted({layer.thickness or 0.0 for layer in meant})
    if not sizes or any(_same_copper(value, size) for size in sizes):
        return ""
    of = f"{note.where} copper" if note.where else "copper"
    return f"the {of} is {' and '.join(mm(size) for size in sizes)} mm thick"


def _same_copper(one: float, other: float) -> bool:
    return not exceeds(abs(one - other), max(PLATING_MM, COPPER_SHARE * max(one, other)))


def _colours(layers: Sequence[StackLayer], kind: str) -> set[str]:
    """The colours of the outer layers of a kind; nothing where one is left open or has no usual name."""
    said = [layer.colour.strip().lower() for layer in layers if kind in layer.kind.lower()]
    return set(said) if said and all(colour in COLOURS for colour in said) else set()


CHECKS: tuple[Check, ...] = (notes_contradict_stackup,)
