# SPDX-License-Identifier: MIT
"""Does everything that names the board and its revision say the same, and is nothing left to be filled in?"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Optional

from lineworthy.finding import Consequence, Place
from lineworthy.knowledge.agreement import numbers_in, other_code, other_number, revision_in_file_name, same_revision
from lineworthy.knowledge.naming import blank, plain, quoted, squeezed
from lineworthy.knowledge.printed import (
    NUMBER_BLANK,
    REVISION_BLANK,
    IdentityMarking,
    Printed,
    listed_texts,
    prominence,
)
from lineworthy.knowledge.revisions import LETTERS, Revision, next_revision, revision_at, skipped_letters
from lineworthy.model import Marking
from lineworthy.registry import Answers, check

_REVISION_KEY = re.compile(
    r"(?i)(?:pcba?|board|brd|hw|hardware|product|project|design|layout)?[ _.-]*(?:rev|revision|ver|version)\Z"
)
_OTHER_THING = re.compile(
    r"(?i)(?<![a-z])(?:pcba|assy|assembly|bom|sch|schematic|fw|sw|firmware|software|doc|gerber|stencil|panel|module|chip)"
    r"(?![a-z])"
)
_REV_WORDS = frozenset(["rev", "revision", "ver", "version", "vers", "rel", "release", "iss", "issue"])
_DATE = re.compile(r"\d{4}(?:[-./]\d\d?){1,2}|\d\d?(?:[-./]\d\d?)?[-./]\d{4}")
_OF_THE_BOARD = frozenset(["board", "brd", "pcb"])
_DATE_BLANK = re.compile(r"(?i)(?<![a-z])y{4}-m{2}-d{2}")

NAME_WORDS = 4
"""Words beside a revision that a board's name can have; more are a sentence."""


@dataclass(frozen=True)
class _Voice:
    """One place that gives a revision: its value, where in words, and the marking if it is one.

    A marking is `named` where the board's name stands in it, and `plain` where it says revision and little else.
    """

    value: str
    where: str
    marking: Optional[Marking] = None
    form: str = ""
    named: bool = False
    plain: bool = False


@check("identity/revisions-disagree")
def revisions_disagree(printed: Printed) -> Answers:
    """Do the markings, the title block, the project's variables and the file's name give the same revision?

    Why it matters: The factory builds what the drawing calls B with the file called C and prints A on it; from then on
        nobody can tell what a board is. They stop and ask which one is right.
    What to do: Change the revision in one place, the title block, and let the marking follow it (${REVISION}); rename
        the file or take the revision out of its name.
    Blind spots: Of markings that belong to something else (an assembly, firmware, a mating board) those are set aside
        that say so; where one marking is right, others count that are written like it or say little more than REV and
        a value. A marking less exact than the title block (2 for 2.C) agrees. A file's name counts only with the
        revision at its end. What parts lists and release folders say is asked elsewhere.
    Source: common practice, no source: number and revision agree on marking, title block, files.
    """
    voices, stated = _printed_voices(printed), printed.stated_revision
    agreeing = [voice for voice in voices if stated and same_revision(voice.value, stated)]
    wrong = _contradicting(voices, agreeing, stated)
    truth = stated or (voices[0].value if voices and not wrong else "")
    others = _variables(printed, stated) + _file(printed)
    wrong_others = [voice for voice in others if truth and not same_revision(voice.value, truth)]
    if not wrong and not wrong_others:
        return
    design = [_Voice(stated, "in the title block")] if stated else []
    shown = [*(wrong or agreeing or voices), *design, *wrong_others]
    said = list(dict.fromkeys(f"{quoted(voice.value)} {voice.where}" for voice in shown))
    markings = [voice.marking for voice in shown if voice.marking is not None]
    yield revisions_disagree.finding(
        Consequence.QUERY,
        f"The revision differs: {', '.join(said)}",
        items=markings,
        places=_places(markings),
        detail=" ".join(voice.value for voice in shown if voice.marking is None),
    )


def _contradicting(voices: list[_Voice], agreeing: list[_Voice], stated: str) -> list[_Voice]:
    """Markings that contradict the title block, or without one each other.

    Where one marking is as the title block says, another counts only if it is written in the same way or says plainly
    that it is a revision: what is written differently may speak of something else.
    """
    if stated:
        right = [voice.marking for voice in agreeing]  # what stands beside the right one in one text adds to it
        others = [voice for voice in voices if voice not in agreeing]
        return [v for v in others if not agreeing or _alike(v, agreeing) or (v.plain and v.marking not in right)]
    return [v for v in voices if any(_comparable(v, w) and not same_revision(v.value, w.value) for w in voices)]


def _alike(voice: _Voice, others: list[_Voice]) -> bool:
    return any(voice.form == other.form for other in others)


def _comparable(one: _Voice, other: _Voice) -> bool:
    """Whether two markings speak of the same thing; a product's version 1.0 and its drawing's revision B do not."""
    if one.form == other.form:
        return True
    of_the_board = (one.plain and (other.plain or other.named)) or (other.plain and one.named)
    alike = one.value[0].isdigit() == other.value[0].isdigit()
    return of_the_board and alike and one.marking is not other.marking


def _printed_voices(printed: Printed) -> list[_Voice]:
    """Revisions as printed: not those in the product's name, of other things, or stages such as Alpha."""
    called = " ".join(plain(name) for name in printed.names if name != plain(printed.file_name)).casefold()
    found = []
    for item in printed.identity:
        for reading in item.revisions:
            if _is_stage(reading) or (called and reading.quote.casefold() in called):
                continue
            if _OTHER_THING.search(plain(item.marking.text)):
                continue
            where = f"in {quoted(item.marking.text)} on {item.marking.layer.name}"
            form, only = _form(reading), _says_little_else(item, reading)
            found.append(_Voice(reading.value, where, item.marking, form, item.names, only))
    return found


def _says_little_else(item: IdentityMarking, reading: Revision) -> bool:
    """Whether a marking says revision in a word, and beside it only a date or a name: no sentence, no part's legend."""
    if reading.quote[:3].casefold() not in ("rev", "ver") or (item.marking.part_uid and not item.names):
        return False
    left = _DATE.sub(" ", plain(item.marking.text).replace(reading.quote, " ", 1))
    words = [word for word in re.findall(r"[^\W_]+", left.casefold()) if word not in _OF_THE_BOARD]
    return len(words) <= (NAME_WORDS if item.names else 0)


def _is_stage(reading: Revision) -> bool:
    return len(re.sub(r"[^A-Za-z]", "", reading.value)) > 2 or bool(re.match(r"(?i)mk|mark", reading.quote))


def _form(reading: Revision) -> str:
    """How a revision is written, without its value: two markings of one form speak of the same thing."""
    before = squeezed(reading.quote[: len(reading.quote) - len(reading.value)])
    return "rev" if before in _REV_WORDS else before


def _variables(printed: Printed, stated: str) -> list[_Voice]:
    found = []
    for key, value in sorted(printed.variables.items()):
        given = plain(value)
        if _REVISION_KEY.match(key) and given and given != stated and not blank(given) and not blank(f"rev {given}"):
            found.append(_Voice(given, f"in the variable {quoted(key)}"))
    return found


def _file(printed: Printed) -> list[_Voice]:
    value = revision_in_file_name(printed.file_name)
    return [_Voice(value, f"in the file's name {quoted(printed.file_name)}")] if value else []


@check("identity/numbers-disagree")
def numbers_disagree(printed: Printed) -> Answers:
    """Is the printed part number the one in the title block, the variables, the file's name?

    Why it matters: A board that carries another one's number is booked, tested and shipped as the other one.
    What to do: Print the number through a variable of the project, so that there is one place to change it.
    Blind spots: Only numbers of the same make (as many digits and dashes; of letters, a dash and digits all but one
        digit) are compared, and none differs where at least one printed number is right: boards carry the numbers of
        their assembly and of their bare board.
    Source: common practice, no source: number and revision agree on marking, title block, files.
    """
    shown = [item.marking for item in printed.identity if item.names]
    told = [*printed.names, *(plain(printed.resolved(comment)) for comment in printed.comments)]
    pair = other_number(numbers_in(marking.text for marking in shown), numbers_in(told))
    if pair is None:
        # without a label a code reads like that of a chip: only one that is stated all but a digit is the board's
        shown = [marking for marking in printed.visible if printed.owner(marking) is None]
        own = (plain(marking.text) for marking in shown if plain(marking.text).casefold() not in printed.labels)
        pair = other_code(own, told)
    if pair is None:
        return
    markings = [marking for marking in shown if pair[0] in plain(marking.text)]
    yield numbers_disagree.finding(
        Consequence.QUERY,
        f"The part number differs: {quoted(pair[0])} in {listed_texts(markings)}, {quoted(pair[1])} in the "
        "title block, the project's variables or the file's name",
        items=markings,
        places=_places(markings),
        detail=" ".join(pair),
    )


@check("identity/revision-letter-skipped")
def revision_letter_skipped(printed: Printed) -> Answers:
    """Is the revision a letter that the sequence of revisions leaves out?

    Why it matters: I, O, Q, S, X and Z are read as 1, 0, 0, 5, a multiplication sign and 2; drawing systems and
        customers who follow the standard take such a revision for a mistake.
    What to do: Go on with the next letter of the sequence A B C D E F G H J K L M N P R T U V W Y AA; or use numbers.
    Blind spots: A company's own sequence may use these letters on purpose: then this is nothing to change.
    Source: ASME Y14.35M-1997 as quoted (letters skipped); the sequence itself from memory: ASME Y14.35.
    """
    voices = [v for v in _printed_voices(printed) if v.form == "rev"]
    stated = printed.stated_revision
    voices += [_Voice(stated, "in the title block")] if stated else []
    wrong = [voice for voice in voices if re.fullmatch(r"[A-Z]{1,2}", voice.value) and skipped_letters(voice.value)]
    if not wrong:
        return
    markings = [voice.marking for voice in wrong if voice.marking is not None]
    value = wrong[0].value
    yield revision_letter_skipped.finding(
        Consequence.NOTE,
        f"Revision {quoted(value)} uses a letter that revisions skip (I, O, Q, S, X, Z); {_instead(value)}",
        items=markings,
        places=_places(markings),
        detail=value,
    )


def _instead(value: str) -> str:
    """Where the sequence goes on: after the last revision before this one."""
    kept = [letter for letter in LETTERS if letter < value[-1]]
    before = value[:-1] + kept[-1] if kept and not skipped_letters(value[:-1]) else ""
    return f"after {before} comes {next_revision(before)}" if before else f"the first is {revision_at(1)}"


@check("identity/text-left-blank")
def text_left_blank(printed: Printed) -> Answers:
    """Is a variable printed as it stands, or a date left to be filled in?

    Why it matters: ${DATE} on ten thousand boards looks careless, and what it should have said is missing.
    What to do: Define the variable in the project, or write the text out.
    Blind spots: A variable that gives nothing leaves no trace; that is said where the number or the revision is
        missing. Lines to be filled in by hand are no fault.
    Source: common practice, no source.
    """
    told = printed.blanks(NUMBER_BLANK)
    if not any(item.revisions for item in printed.identity):
        told += printed.blanks(REVISION_BLANK)
    left = sorted((m for m in printed.visible if m not in told), key=prominence)
    variables = [marking for marking in left if "${" in blank(marking.text)]
    dates = [marking for marking in left if _DATE_BLANK.search(plain(marking.text)) and marking not in variables]
    for markings, consequence, what in (
        (variables, Consequence.QUERY, "A variable is printed as it stands"),
        (dates, Consequence.NOTE, "A date is left to be filled in"),
    ):
        if markings:
            yield text_left_blank.finding(
                consequence,
                f"{what}: {listed_texts(markings)}",
                items=markings,
                places=_places(markings),
                detail=consequence.value,
            )


def _places(markings: Iterable[Marking]) -> list[Place]:
    return [Place(marking.at, marking.layer.side, quoted(marking.text)) for marking in markings]


CHECKS = (revisions_disagree, numbers_disagree, revision_letter_skipped, text_left_blank)
