# SPDX-License-Identifier: MIT
"""What a board is called: recognising its name or part number in what is printed on it, and blanks left to fill in."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

QUOTE_MAX = 40

WORD_MIN = 4
"""A shorter word shared by a name and a marking is a coincidence."""

GENERIC = frozenset(
    re.findall(
        r"\w+",
        "board boards card circuit copy demo demoboard design dev draft electronics final hardware kicad layout main "
        "module panel pcba print project prototype release revision sample schematic template test title unrouted "
        "untitled version",
    )
)
"""Words in so many titles that sharing one says nothing."""

_MARKUP = re.compile(r"[~^_]\{([^{}]*)\}")
_LABELLED = re.compile(
    r"(?<![a-z])(?:p/?n|(?:part|pcb|board|item|drawing|article|art)[ ._-]*(?:no|nr|num|number|#)|dwg|assy|assembly"
    r"|model)(?![a-z])[ .:#=]*(?P<value>(?=[a-z0-9./_-]*\d)[a-z0-9][a-z0-9./_-]+)",
    re.IGNORECASE,
)
_GROUPED = re.compile(r"(?<![\w.+-])(?:(?:[A-Z]{1,5}-?)?\d{3,}(?:-\d{2,})+[A-Z]?|(?:PCB|PCA|PWB|ASM)-?\d{3,})(?![\w.])")
_ADDRESS = re.compile(
    r"(?:https?://|www\.)\S+|\S+@\S+|[^\s/]+\.(?:com|org|net|io|eu|de|fr|ch|uk|cc|co|dev|info)(?:/\S*)?(?!\w)", re.I
)
_PHONE = re.compile(r"(?<![a-z])(?:tel|phone|fon|fax|call)\w*[ .:#]*[+(\d][\d()/.-]*", re.IGNORECASE)
_DATE = re.compile(r"(19|20)\d\d-\d\d(-\d\d)?\Z|\d\d-\d\d-(19|20)\d\d\Z")
_BLANK = re.compile(
    r"\$\{[^}]*\}"
    r"|(?<![a-z])(?:rev(?:ision)?|ver(?:sion)?|v|r)[ .:]*(?:\?+|#(?:\.#)*|_{2,}|\*+|x+(?:\.x+)+|xx+|tbd|n/?a)"
    r"(?![a-z0-9])"
    r"|(?<![a-z0-9])x{3,}(?![a-z0-9])|#{3,}|(?<![a-z])y{4}-m{2}-d{2}",
    re.IGNORECASE,
)
_EMPTY_LABEL = re.compile(r"(?:p/?n|part ?(?:no|number)|rev(?:ision)?|ver(?:sion)?)[ .:#_]*\Z", re.IGNORECASE)


def plain(text: str) -> str:
    """One line of plain characters: the editor's overbar and index markup and all line breaks removed."""
    folded = unicodedata.normalize("NFKC", text)
    for _ in range(3 if "{" in text else 0):  # markup nests rarely; hostile nesting beyond that stays as it is
        folded = _MARKUP.sub(r"\1", folded)
    return " ".join(folded.split())


def quoted(text: str) -> str:
    """A marking in quotes on one line, shortened to `QUOTE_MAX` characters, for a message."""
    line = plain(text)
    return f"'{line}'" if len(line) <= QUOTE_MAX else f"'{line[: QUOTE_MAX - 3]}...'"


def squeezed(text: str) -> str:
    """Letters and digits only, in lower case, for comparing names written with other separators."""
    return "".join(c for c in plain(text).casefold() if c.isalnum())


def mentions(text: str, names: Iterable[str], common: frozenset[str] = frozenset()) -> bool:
    """Whether a marking gives one of a board's names, whole or by a word that only a name would have.

    An address on the web is where to read about it, whatever words it has.

    Args:
        text: the marking.
        names: what the board is called: title, file name.
        common: words of this board's nets and values in lower case, which say nothing about the board.
    """
    text = _ADDRESS.sub(" ", plain(text))
    print_ = squeezed(text)
    words = set(_words(text))
    for name in names:
        whole = squeezed(name)
        if len(whole) >= 3 and whole not in GENERIC and whole in print_:
            return True
        telling = {w for w in _words(name) if len(w) >= WORD_MIN and w not in GENERIC and w not in common}
        if telling & words or any(len(w) > WORD_MIN and w in print_ for w in telling if not w.isdigit()):
            return True
    return False


def part_numbers(text: str) -> tuple[str, ...]:
    """What reads like the number of a board: after a label such as P/N, or digits in groups (1234-5678, PCB-0012)."""
    line = _PHONE.sub("", plain(text))
    labelled = [match["value"].rstrip(".-/_") for match in _LABELLED.finditer(line)]
    grouped = [match[0] for match in _GROUPED.finditer(line) if not _DATE.match(match[0])]
    return tuple(dict.fromkeys([*labelled, *grouped]))


def blank(text: str) -> str:
    """The piece of a marking that was left to be filled in (``${REV}``, ``v#.#``, ``REV:``), empty when none."""
    line = plain(text)
    match = _BLANK.search(line) or _EMPTY_LABEL.match(line)
    return match[0] if match else ""


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", plain(text).casefold())
