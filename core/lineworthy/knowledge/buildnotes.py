# SPDX-License-Identifier: MIT
"""What notes on the board say it is made of: layers, thickness, copper, finish, colours. Read in English.

Notes are what people type for the factory: ``Layers: 4``, ``4-layer board``, ``1.6mm thick``, ``Copper: 1 oz``,
``ENIG``, ``green solder mask``. A label and its value may be two texts side by side, as in the editor's own tables.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Optional, Union

from lineworthy.knowledge.naming import plain
from lineworthy.model import Board, Marking, MarkingRole


class Topic(Enum):
    """What a note speaks of."""

    LAYERS = "copper layers"
    THICKNESS = "thickness"
    COPPER = "copper"
    FINISH = "finish"
    MASK = "solder mask"
    LEGEND = "legend"


@dataclass(frozen=True)
class Note:
    """One statement: a count, mm, or a set of words of which one has to be true.

    Attributes:
        where: for copper, ``inner`` or ``outer`` where the note says so.
        quote: the words it was read from.
        marking: None when it stands in the title block.
    """

    topic: Topic
    value: Union[float, frozenset[str]]
    quote: str
    marking: Optional[Marking] = None
    where: str = ""


FINISHES = {
    "ENEPIG": r"enepig",
    "ENIG": r"enig|immersion gold",
    "HASL": r"hasl|(?<=finish )hal|(?<=finish: )hal|hal(?= (?:lead|lf|snpb|pb))|hot air solder level+ing",
    "OSP": r"osp|organic solderability preservative",
    "immersion silver": r"imm(?:ersion)?\.? (?:silver|ag)",
    "immersion tin": r"imm(?:ersion)?\.? (?:tin|sn)",
    "hard gold": r"hard gold",
}
"""The usual finishes, with the words for each."""

COLOURS = ("green", "red", "blue", "black", "white", "yellow", "purple", "orange")

_COUNTS = {"one": 1, "two": 2, "four": 4, "six": 6, "eight": 8, "ten": 10, "twelve": 12}
_COUNT = rf"(?P<count>\d{{1,2}}|{'|'.join(_COUNTS)})"
_AMOUNT = r"(?P<amount>\d{1,4}(?:[.,]\d{1,4})?)"
_LENGTH = rf"{_AMOUNT} ?(?P<unit>mm|mils?|thou|inch(?:es)?|in|\")(?![a-z])"
_WEIGHT = rf"(?P<half>(?:1/2|half) )?(?:{_AMOUNT} ?)?(?P<unit>oz|um|μm|microns?)(?![a-z])"

_OF_BOARD = frozenset(
    re.findall(
        r"\w+",
        "a an the this is are be shall must of use note notes board boards pcb pwb fr fr4 material laminate rigid bare "
        "copper finished final overall total nominal",
    )
)
"""Words that may stand before a count of layers or a thickness: after any other word it is that of something else."""

_PATTERNS: tuple[tuple[Topic, re.Pattern[str]], ...] = tuple(
    (topic, re.compile(pattern, re.IGNORECASE))
    for topic, pattern in (
        (Topic.LAYERS, rf"\blayers?(?: count)? ?[:=] ?{_COUNT}(?![\w.,/-])"),
        (Topic.LAYERS, rf"\b(?:number|count) of (?:copper )?layers ?[:=]? ?{_COUNT}(?![\w.,/-])"),
        (
            Topic.LAYERS,
            rf"(?<![\w.-]){_COUNT}[ -](?:copper )?layers?\b(?! (?:of|on|from|below|above|deep|with|only|in))",
        ),
        (
            Topic.THICKNESS,
            rf"\bthickness(?: of (?:the )?(?:board|pcb))?(?: is| shall be| to be)? ?[:=]? ?{_LENGTH}",
        ),
        (Topic.THICKNESS, rf"(?<![\w.,-]){_LENGTH}[ -]thick\b(?! (?:core|prepreg|copper|foil|\w+ (?:core|prepreg)))"),
        (Topic.COPPER, rf"\b(?:copper|cu)(?: weight| thickness| foil)?(?: is)? ?[:=]? ?{_WEIGHT}"),
        (Topic.COPPER, rf"(?<![\w.,-]){_WEIGHT}(?: (?:finished|base|outer|inner))? (?:copper|cu)\b"),
        (Topic.MASK, r"\b(?:solder ?)?(?:mask|resist)(?: colou?r)?(?: is)? ?[:=]? ?(?P<colour>[a-z]+)"),
        (Topic.MASK, r"\b(?P<colour>[a-z]+) (?:solder ?)?(?:mask|resist)\b"),
        (Topic.LEGEND, r"\b(?:silk ?screen|legend)(?: colou?r)?(?: is)? ?[:=]? ?(?P<colour>[a-z]+)"),
        (Topic.LEGEND, r"\b(?P<colour>[a-z]+) (?:silk ?screen|legend)\b"),
    )
)
_FINISH = tuple((name, re.compile(rf"(?i)(?<![a-z])(?:{words})(?![a-z])")) for name, words in FINISHES.items())
_WORTH_READING = re.compile(
    r"layer|thick|copper|\bcu\b|mask|resist|silk|legend|enig|enepig|hasl|\bhal\b|air solder|osp\b|solderab|imm|gold",
    re.IGNORECASE,
)
"""What every pattern wants; most texts of a board have none of it."""
_NOT_THE_BOARD = re.compile(
    r"\b(?:no|not|never|without|instead|fingers?|edge|contacts?|selective|option(?:al)?|or|if|min(?:imum)?|max(?:imum)?|"
    r"stencil|stiffener|panel|coupon|plating|plated|holes?|vias?|wall)\b|\?",
    re.IGNORECASE,
)
_INNER, _OUTER = re.compile(r"\binner|\binternal", re.IGNORECASE), re.compile(r"\bouter|\bexternal", re.IGNORECASE)

_INCH_MAX = 0.5
"""A board is never half an inch thick: ``in`` is then no unit."""

MM = {"mm": 1.0, "mil": 0.0254, "mils": 0.0254, "thou": 0.0254, "oz": 0.035}
MM.update({"um": 0.001, "μm": 0.001, "micron": 0.001, "microns": 0.001})
"""Units of thickness in mm; an ounce of copper on a square foot counts as 35 um (common practice)."""


def read_notes(board: Board) -> list[Note]:
    """Everything the free texts of a board and its title block state about what it is made of."""
    texts = [
        m for m in board.markings if m.role is MarkingRole.FREE and not m.hidden and not _is_of_component(board, m)
    ]
    found = [note for marking in texts for line in _lines(marking) for note in _read(line, marking)]
    found += [note for marking, line in _beside(texts) for note in _read(line, marking)]
    found += [note for comment in board.title.comments for note in _read(plain(comment), None)]
    return found


def finishes_in(text: str) -> frozenset[str]:
    """The finishes a text names."""
    return frozenset(name for name, pattern in _FINISH if pattern.search(text))


def _is_of_component(board: Board, marking: Marking) -> bool:
    part = board.part_by_uid.get(marking.part_uid)
    return part is not None and any(pad.copper for pad in part.pads)


def _lines(marking: Marking) -> Iterator[str]:
    return (plain(line) for line in marking.text.splitlines())


def _read(line: str, marking: Optional[Marking]) -> Iterator[Note]:
    """What one line states."""
    if not _WORTH_READING.search(line) or _NOT_THE_BOARD.search(line):
        return
    for topic, pattern in _PATTERNS:
        match = pattern.search(line)
        value = _value(match) if match and _may_stand(topic, line[: match.start()]) else None
        if match and value is not None:
            inner, outer = bool(_INNER.search(line)), bool(_OUTER.search(line))
            where = "" if inner is outer else "inner" if inner else "outer"
            yield Note(topic, value, match.group().strip(), marking, where)
    finishes = finishes_in(line)
    if finishes:
        yield Note(Topic.FINISH, finishes, line, marking)


def _may_stand(topic: Topic, before: str) -> bool:
    """Whether the words before a number leave it the board's own."""
    if topic not in (Topic.LAYERS, Topic.THICKNESS):
        return True
    words = re.findall(r"[a-z]+\d?", before.lower())
    return _OF_BOARD.issuperset(words) and not (topic is Topic.THICKNESS and "copper" in words)


def _value(match: re.Match[str]) -> Optional[Union[float, frozenset[str]]]:
    groups = match.groupdict()
    if "colour" in groups:
        colour = groups["colour"].lower()
        return frozenset([colour]) if colour in COLOURS else None
    if "count" in groups:
        count = groups["count"].lower()
        return float(_COUNTS.get(count) or count)
    amount = float(groups["amount"].replace(",", ".")) if groups["amount"] else 0.0
    amount += 0.5 if groups.get("half") else 0.0
    unit = groups["unit"].lower()
    if unit.startswith("in") or unit == '"':
        return amount * 25.4 if 0.0 < amount <= _INCH_MAX else None
    return amount * MM[unit] if amount > 0.0 else None


def _beside(texts: Sequence[Marking]) -> Iterator[tuple[Marking, str]]:
    """Texts that end in a colon, with the text to the right of each on its line."""
    labels = [marking for marking in texts if marking.text.rstrip().endswith(":") and "\n" not in marking.text.strip()]
    for label in labels:
        left, low, _right, high = label.extents.bounds
        row = [
            other
            for other in texts
            if other is not label
            and other.layer == label.layer
            and other.rotation == label.rotation == 0.0
            and other.extents.bounds[0] >= left
            and abs((other.extents.bounds[1] + other.extents.bounds[3] - low - high) / 2) < (high - low) / 4
        ]
        if row:
            nearest = min(row, key=lambda other: (other.extents.bounds[0], other.uid))
            yield label, f"{plain(label.text)} {plain(nearest.text)}"
