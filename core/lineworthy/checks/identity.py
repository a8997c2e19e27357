# SPDX-License-Identifier: MIT
"""Does the board say which board it is?

No check here makes a hold. That a board carries its number and revision is the trade's rule and, from memory, IPC-2221
4.5; a factory can go by the file name and does, at the price of mixed-up revisions, so a miss costs a query.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Callable

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.looks import length
from lineworthy.knowledge.naming import plain, quoted
from lineworthy.knowledge.printed import NUMBER_BLANK, REVISION_BLANK, Printed, listed_texts, prominence
from lineworthy.knowledge.revisions import Revision, read_revisions
from lineworthy.knowledge.wording import mm
from lineworthy.model import Board, Marking
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SHOWN = 3
"""Markings quoted in one message."""

_REVISION_VARIABLE = re.compile(r"\$\{[^}]*(?:rev|ver)", re.IGNORECASE)
_NAME_VARIABLE = re.compile(r"\$\{[^}]*(?:title|name|number|part|product|model|pn)", re.IGNORECASE)
_NO_NAME = re.compile(
    r"(?:component|solder|copper|top|bottom|front|back|mask|legend|silk(?:screen)?|layer|side|made in|designed|with|by|"
    r"www|https?|com|org|rohs|lead ?free|do not|remove|warning|caution|danger|only|use|"
    r"licen[cs]ed?|cern|ohl|gpl|creative|94 ?v-?[012])\b",
    re.IGNORECASE,
)


@check("identity/part-number-missing", limits=("identity.unmarked_board_max_mm",))
def part_number_missing(board: Board, sheet: Sheet, printed: Printed) -> Answers:
    """Is the board's part number or product name printed on a layer that gets made?

    Why it matters: The factory, the test bench and the repair desk hold many boards that look alike. One without its
        number is told apart by the bag it came in.
    What to do: Put the part number or product name as text on the legend, copper or mask of an outer layer, where it
        can be read with the parts on.
    Blind spots: Lettering drawn as shapes cannot be read; where there is some, this is a note for a person to confirm.
        A name is recognised by what the title block, the file and the project's variables call the board, a number by
        its label (P/N) or its form (1234-5678); whether it is the right board's is not known. Texts that belong to a
        component do not count. Whether the text can be read once the board is assembled is asked by checks of its own.
    Source: IPC-2221 4.5 (marking: part or serial number, revision), from memory; trade practice. The size below which
        a board may go unmarked is common practice, no source.
    """
    yield from _number_blanks(printed)
    if any(printed.names_the_board(m.text) for m in printed.visible if printed.owner(m) is None):
        return
    called = f" (its file is called {quoted(board.name)})" if board.path else ""
    candidates = [m for m in printed.visible if _could_be_a_name(m, printed)]
    if candidates:
        shown = sorted(candidates, key=prominence)[:SHOWN]
        yield part_number_missing.finding(
            Consequence.NOTE,
            f"No marking reads as the board's part number or product name{called}; to be confirmed by a person: "
            f"{listed_texts(shown)}",
            items=shown,
            places=_places(shown),
        )
        return
    there = _on_other_layers(printed, lambda m: printed.names_the_board(m.text)) or _empty(printed, _NAME_VARIABLE)
    message = f"No part number or product name is printed{called}{there}"
    yield _missing(part_number_missing, printed, board, sheet, message)


@check("identity/revision-missing", limits=("identity.unmarked_board_max_mm",))
def revision_missing(board: Board, sheet: Sheet, printed: Printed) -> Answers:
    """Is the board's revision printed on a layer that gets made?

    Why it matters: Two revisions in one factory look alike; without a printed one, old bare boards get built with the
        new parts list, and nobody can say later which revision failed in the field.
    What to do: Print the revision next to the part number on an outer layer and change it with every release; the
        editor can fill it in from the title block (${REVISION}).
    Blind spots: Whether the printed revision is the right one is not known. Lettering drawn as shapes cannot be read.
        Versions of licences, standards and software, supply voltages and labels of parts and nets are set aside; a
        revision written in a way nobody thought of is missed. A date alone is not taken for a revision.
    Source: IPC-2221 4.5 (marking: part or serial number, revision), from memory; trade practice. The size below which
        a board may go unmarked is common practice, no source.
    """
    readings = [(m, r) for m in printed.visible for r in read_revisions(m.text, printed.context)]
    if any(reading.sure and printed.owner(marking) is None for marking, reading in readings):
        return
    left = printed.blanks(REVISION_BLANK)
    if left:
        yield revision_missing.finding(
            Consequence.QUERY,
            f"The revision is left blank in {listed_texts(left)}{_title_block(printed)}",
            items=left,
            places=_places(left),
        )
    elif readings:
        shown = sorted(readings, key=lambda pair: (-round(pair[0].height, 3), pair[1].quote))[:SHOWN]
        markings = [marking for marking, _ in shown]
        doubts = "; ".join(dict.fromkeys(_doubt(marking, reading, printed) for marking, reading in shown))
        yield revision_missing.finding(
            Consequence.NOTE,
            f"No marking surely reads as a revision; to be confirmed by a person: {doubts}",
            items=markings,
            places=_places(markings),
        )
    else:
        there = _on_other_layers(printed, lambda m: any(r.sure for r in read_revisions(m.text, printed.context)))
        there = there or _empty(printed, _REVISION_VARIABLE)
        message = f"No revision is printed{_title_block(printed)}{there}"
        yield _missing(revision_missing, printed, board, sheet, message)


def _missing(asked: Check, printed: Printed, board: Board, sheet: Sheet, message: str) -> Finding:
    """The finding where nothing was found: how grave depends on what could still be there."""
    limit = sheet.identity.unmarked_board_max_mm
    long = length(board.outline.area)
    lettered = any(printed.names_the_board(m.text) or _could_be_a_name(m, printed) for m in printed.visible)
    if printed.artwork and not lettered:
        layers = ", ".join(sorted({graphic.layer.name for graphic in printed.artwork}))
        return asked.finding(Consequence.NOTE, f"{message}; artwork on {layers} may hold it")
    if long and not exceeds(long, limit):
        return asked.finding(
            Consequence.NOTE,
            f"{message}; the board is {mm(long)} mm long, up to {mm(limit)} mm it may have no room for it",
            measured=long,
            limit=limit,
            limit_key="identity.unmarked_board_max_mm",
        )
    return asked.finding(Consequence.QUERY, message)


def _number_blanks(printed: Printed) -> Answers:
    left = printed.blanks(NUMBER_BLANK)
    if left:
        yield part_number_missing.finding(
            Consequence.QUERY,
            f"The part number or name is left blank in {listed_texts(left)}",
            items=left,
            places=_places(left),
            detail="blank",
        )


def _could_be_a_name(marking: Marking, printed: Printed) -> bool:
    """Free lettering with a word of its own that is neither a label of the circuit nor a notice."""
    if printed.owner(marking) is not None or _NO_NAME.search(plain(marking.text)):
        return False
    words = re.findall(r"[^\W_]{4,}", plain(marking.text).casefold())
    return any(not word.isdigit() and word not in printed.common_words for word in words)


def _title_block(printed: Printed) -> str:
    stated = printed.stated_revision
    return f"; the title block says {quoted(stated)}" if stated else "; the title block gives none either"


def _on_other_layers(printed: Printed, wanted: Callable[[Marking], bool]) -> str:
    """Where the text does stand, though nobody will see it there."""
    there = sorted((u for u in printed.unmade if wanted(u.marking)), key=lambda u: prominence(u.marking))
    return f"; {quoted(there[0].marking.text)} is {there[0].why}" if there else ""


def _empty(printed: Printed, variable: re.Pattern[str]) -> str:
    """A text that would say it, did its variable give anything."""
    empty = sorted((m for m in printed.empty if variable.search(m.source)), key=lambda m: (m.source, m.layer.name))
    return f"; {quoted(empty[0].source)} on {empty[0].layer.name} gives nothing" if empty else ""


def _doubt(marking: Marking, reading: Revision, printed: Printed) -> str:
    owner = printed.owner(marking)
    why = f"it belongs to {owner.reference}" if owner else reading.doubt
    return f"{quoted(marking.text)} ({why})"


def _places(markings: Iterable[Marking]) -> list[Place]:
    return [Place(marking.at, marking.layer.side, quoted(marking.text)) for marking in markings]


CHECKS = (part_number_missing, revision_missing)
