# SPDX-License-Identifier: MIT
"""Does a layer of copper say of itself that it is another one?"""

from __future__ import annotations

import re
from typing import Optional

from lineworthy.finding import Consequence, Place
from lineworthy.knowledge.naming import plain, quoted
from lineworthy.knowledge.printed import Printed, prominence
from lineworthy.model import Board, LayerKind, Marking, Side
from lineworthy.registry import Answers, Check, check

_SIDE = re.compile(r"(?:(top)|(bot(?:tom)?))(?:[ _-]?(?:side|layer|copper))?\Z", re.IGNORECASE)
_USE = re.compile(r"(?:(comp(?:onents?|\.)?)|(solder))[ _-]?side\Z", re.IGNORECASE)
_NUMBER = re.compile(r"(L|layer[ _-]?)0?(\d{1,2})\Z", re.IGNORECASE)


@check("identity/layer-named-wrong")
def layer_named_wrong(board: Board, printed: Printed) -> Answers:
    """Does a text in copper name another layer than the one it is etched on?

    Why it matters: Such a text is how the fabricator tells films and plots apart. One that names another layer looks
        like layers that were swapped or mirrored: they stop and ask.
    What to do: Put the text on the layer it names, or correct it.
    Blind spots: Only texts, or lines of a text, that say nothing but a side (TOP, BOTTOM, COMPONENT SIDE) or a number
        (LAYER 2; L2 on inner layers, as on outer ones it may be a part's). On a layer that has both TOP and BOTTOM they
        name something else. The component side is the one with more parts. What files and layers are called is asked
        elsewhere.
    Source: common practice, no source.
    """
    more_parts = _component_side(board)
    texts = [m for m in board.shown_markings if m.layer.kind is LayerKind.COPPER and printed.owner(m) is None]
    told = [(text, side) for text in texts for line in text.text.split("\n") if (side := _side(line, more_parts))]
    own = {text.layer.name for text, side in told if side is text.layer.side}
    wrong = {text for text, side in told if side is not text.layer.side and text.layer.name not in own}
    wrong |= {text for text in texts if _other_number(text, board, printed)}
    for text in sorted(wrong, key=prominence):
        yield layer_named_wrong.finding(
            Consequence.QUERY,
            f"{quoted(text.text)} stands in the copper of {text.layer.name}",
            items=[text],
            places=[Place(text.at, text.layer.side, quoted(text.text))],
        )


def _side(line: str, more_parts: Optional[Side]) -> Optional[Side]:
    """The side a line of text names, None where it names none or something else besides."""
    match = _SIDE.match(plain(line)) or (_USE.match(plain(line)) if more_parts else None)
    if match is None:
        return None
    first = Side.TOP if match.re is _SIDE else more_parts
    return first if match[1] or first is None else first.other


def _component_side(board: Board) -> Optional[Side]:
    counts = {side: sum(part.side is side and part.fitted for part in board.parts) for side in Side}
    return None if counts[Side.TOP] == counts[Side.BOTTOM] else max(Side, key=lambda side: counts[side])


def _other_number(text: Marking, board: Board, printed: Printed) -> bool:
    """Whether a text gives a layer's number in the stack, and not that of its own."""
    match = _NUMBER.match(plain(text.text))
    if match is None or plain(text.text).casefold() in printed.labels or text.layer.name not in board.copper_layers:
        return False
    if text.layer.side is not None and len(match[1]) == 1:
        return False
    number = int(match[2])
    return 1 <= number <= len(board.copper_layers) and number != board.copper_layers.index(text.layer.name) + 1


CHECKS: tuple[Check, ...] = (layer_named_wrong,)
