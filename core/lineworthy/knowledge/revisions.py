# SPDX-License-Identifier: MIT
"""Reading a revision out of a marking as people write them, and the sequence revision letters follow."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Callable, Optional

from lineworthy.knowledge.naming import mentions, plain, squeezed

LETTERS = "ABCDEFGHJKLMNPRTUVWY"
"""Revision letters in order; I, O, Q, S, X and Z are skipped (ASME Y14.35M-1997 as quoted; sequence from memory)."""

_VALUE = (
    r"(?P<value>\d{4}-\d\d-\d\d|\d{1,8}(?:\.\d{1,4}){0,3}(?:[-_.]?[A-Za-z]\d?)?"
    r"|[A-Z]{1,2}\d{0,2}(?:\.\d{1,2})?|[a-z]\d?|-(?=\s*\Z))(?![\w#?*])(?!\.\w)"
)
# a dot and a letter belong to it (2.D), but for the X that stands for any
_NUMBER = r"(?P<value>\d{1,3}(?:[._]\d{1,3}){0,3}(?:\.[A-WYZa-wyz]|[a-z]|r\d{1,2})?)(?![\w%])(?!\.\d)"
_DOTTED = r"(?P<value>\d{1,2}(?:\.\d{1,3}){1,3}[a-z]?)(?![\w%°])(?!\.\d)"
_START = r"(?<![A-Za-z0-9.])"

# what follows a word that says revision; glued to it only where it cannot be the rest of a longer word
_WORD = re.compile(
    r"(?<![A-Za-z])(?:(?i:revision|version|release|issue|rev|vers|ver|iss|rel))"
    r"(?:(?=\d)|(?i:\s*(?:no|nr|number)\b)?(?:\s*[.:#=_-]\s*|\s+)[:#=]?\s*)" + _VALUE
)
# the same words in other languages, some of which are written without spaces
_FOREIGN = re.compile(
    r"(?<![^\W\d_])(?:(?i:révision|revisão|revisión|revisione|revisie|revisjon|rewizja|revize|versión|versão|versione"
    r"|versie|wersja|verze|ausgabe|stand|indice|índice|ревизия|версия|рев|вер)"
    r"(?:(?=\d)|\s*[.:#=]\s*|\s+)|(?:版本号?|版次|版|改訂|改版|リビジョン|バージョン)\s*[.:#=_-]?\s*)[vV]?" + _VALUE
)
_ROMAN = re.compile(r"(?<![A-Za-z])(?i:mk|mark)[ ._-]*(?P<value>[IVX]{1,4})(?!\w)")
_GLUED = re.compile(r"(?<![A-Za-z])(?i:rev)(?P<value>[A-Z]\d?)(?![A-Za-z0-9])")
_V = re.compile(_START + r"[vV](?:\.?|[. ](?=\d+\.))" + _NUMBER)
_CAMEL = re.compile(r"(?<=[a-z])V" + _DOTTED)
_R_DOTTED = re.compile(_START + r"[rR]" + _DOTTED)
_R_SMALL = re.compile(_START + r"r(?P<value>\d{1,2})(?![\w.])")
_R_LARGE = re.compile(_START + r"R(?P<value>\d{1,2})(?![\w.])")
_MADE = re.compile(_START + r"(?i:hw|pcb|pcba|brd|mk)[ ._-]*[vVrR]?\.?" + _NUMBER)
_X = re.compile(_START + "X" + _DOTTED)
_STAGE = re.compile(_START + r"(?P<value>(?:EVT|DVT|PVT)[ -]?\d{0,2}|(?i:alpha|beta|proto(?:type)?[ -]?\d))(?![\w])")
_SUFFIX = re.compile(r"(?<![\w.-])(?:[A-Z]{1,6}-)?\d{3,}(?:-\d+)*[-_/](?P<value>[A-Z]\d?)(?![\w-])")
_BARE = re.compile(r"(?<![\w.+/-])" + _DOTTED + r"(?!\s*(?:[kKMmuµn]?[VAWHFΩ]|[mk]?Hz|[MGk]Hz|mm|GHz|ohm|in|x|X)\b)")


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", text))


_NOT_LETTERS = _words("AM AN AS AT BE BY DO GO HE IF IN IS IT ME MY NA NO OF OK ON OR PN SN SO TO UP WE")
_LICENCES = _words(
    "agpl apache bsd by cc cern commons creative eupl gnu gpl lgpl licence license licensed mit mpl nc nd ohl sa shl "
    "solderpad tapr"
)
_OTHERS = _words(
    "api arduino ble bluetooth bootloader bt can canopen csi ddr ddr3 ddr4 displayport dp dsi emmc firmware fw hdmi "
    "i2c iec ieee ipc isa iso jesd kicad lin lpddr lte m matter mipi modbus nvme pci pcie pd protocol python qi rohs "
    "sata sd sdio smbus software spec spi standard sw thread thunderbolt ul usb wifi zigbee"
)
_STANDARDS = _words("iec ieee ipc iso jesd ul")
_FOR = _words("compatible fits for from jig mates see to uses using via with")


@dataclass(frozen=True)
class Revision:
    """A revision as read: its value, the text it was read from, and what makes it doubtful (empty: nothing does)."""

    value: str
    quote: str
    doubt: str = ""

    @property
    def sure(self) -> bool:
        """Whether nothing else comes to mind that the text could mean."""
        return not self.doubt


@dataclass(frozen=True)
class Context:
    """What else is known about the board a marking is on.

    Attributes:
        names: what the board is called.
        stated: the revision its title block gives.
        labels: references, net names and values in lower case: a marking equal to one of them is a label.
        rails: supply voltages of the board, in volts: V1.8 next to a 1.8 V rail is a label, too.
    """

    names: tuple[str, ...] = ()
    stated: str = ""
    labels: frozenset[str] = frozenset()
    rails: frozenset[float] = frozenset()


def read_revisions(text: str, context: Context = Context()) -> tuple[Revision, ...]:
    """All revisions a marking can be read as, sure ones first.

    Versions of licences, standards and software, voltages, and labels of parts and nets are not revisions.
    """
    line = plain(text)
    if line.casefold() in context.labels:
        return ()
    taken: list[tuple[int, int]] = []
    found: list[Revision] = []
    for match, doubt in sorted(_candidates(line, context), key=lambda candidate: candidate[1] != ""):
        if any(match.start() < end and start < match.end() for start, end in taken):
            continue
        taken.append(match.span())
        before = [word.casefold() for word in re.findall(r"[A-Za-z0-9]+", line[: match.start()])]
        # licences and software have versions; only designs have a rev, and standards
        says_rev = match[0][:3].casefold() == "rev"
        if says_rev and _STANDARDS & set(before[-4:]):
            continue
        if not says_rev and (_LICENCES & set(before[-3:]) or _OTHERS & set(before[-1:])):
            continue
        other = next((f"it follows {word!r}" for word in before[-4:] if word in _FOR), "")
        found.append(Revision(match["value"], match[0].strip(), doubt or other))
    return tuple(sorted(found, key=lambda revision: not revision.sure))


def _candidates(line: str, context: Context) -> Iterator[tuple[re.Match[str], str]]:
    """Everything shaped like a revision with what makes it doubtful, the clearest way of writing first."""
    named = mentions(line, context.names, context.labels)
    rules = _RULES if named else tuple(rule for rule in _RULES if not rule.beside_name)
    stated = re.compile(rf"(?<![\w.])(?P<value>{re.escape(context.stated)})(?![\w.])")
    for rule in rules:
        for match in rule.pattern.finditer(line):
            doubt = rule.doubt(line, match, context, named)
            if doubt is not None:
                yield match, doubt
    for match in stated.finditer(line) if context.stated else ():
        clear = named or len(squeezed(context.stated)) > 1
        yield match, "" if clear else "a single character, as in the title block"
    for match in re.finditer(r"(?<=[\w)])[ _-](?P<value>\d{1,2})\Z", line) if named else ():
        if mentions(line[: match.start()], context.names, context.labels):
            yield match, ""


Doubt = Callable[[str, "re.Match[str]", Context, bool], Optional[str]]
"""(line, match, context, whether the board's name is in the line) -> doubt, "" for none, None for no revision."""


@dataclass(frozen=True)
class _Rule:
    """One way of writing a revision; `beside_name` where it is one only in company of the board's name."""

    pattern: re.Pattern[str]
    doubt: Doubt = lambda *_: ""
    beside_name: bool = False


def _after_word(line: str, match: re.Match[str], context: Context, named: bool) -> Optional[str]:
    if match["value"] in _NOT_LETTERS or set(match["value"].upper()) <= {"X"}:
        return None
    short = re.match(r"(?i:rel|iss)(?![A-Za-z.])", match[0])
    return "a short word that may label something else" if short and "." not in match[0] else ""


def _after_v(line: str, match: re.Match[str], context: Context, named: bool) -> Optional[str]:
    if match[0] != line or match[0][0] != "V" or re.search(r"\.[A-Za-z]", match["value"]):
        return ""
    volts = re.match(r"\d+(\.\d+)?", match["value"])
    is_rail = volts is not None and float(volts[0]) in context.rails
    return "it may label a supply" if is_rail or match["value"] in ("3.3", "5.0", "1.8") else ""


def _after_number(line: str, match: re.Match[str], context: Context, named: bool) -> Optional[str]:
    return "" if match[0] == line or named else "it may be another item's number"


def _stage(line: str, match: re.Match[str], context: Context, named: bool) -> Optional[str]:
    return "" if named or match[0].isupper() else "a word that may mean something else"


def _bare(line: str, match: re.Match[str], context: Context, named: bool) -> Optional[str]:
    if named:
        return ""
    return "a number alone" if match[0] == line else None


_RULES = (
    _Rule(_WORD, _after_word),
    _Rule(_FOREIGN),
    _Rule(_ROMAN),
    _Rule(_GLUED),
    _Rule(_CAMEL),
    _Rule(_R_DOTTED),
    _Rule(_MADE),
    _Rule(_X),
    _Rule(_V, _after_v),
    _Rule(_R_SMALL),
    _Rule(_R_LARGE, beside_name=True),
    _Rule(_SUFFIX, _after_number),
    _Rule(_STAGE, _stage),
    _Rule(_BARE, _bare),
)


def skipped_letters(value: str) -> str:
    """The letters of a revision that the sequence skips, empty when there are none."""
    return "".join(c for c in value.upper() if c.isalpha() and c not in LETTERS)


def revision_at(number: int) -> str:
    """The n-th letter revision: 1 is A, 20 is Y, 21 is AA.

    Raises:
        ValueError: `number` is below 1.
    """
    if number < 1:
        raise ValueError(f"revisions are counted from 1, not {number}")
    letters = ""
    while number:
        number, index = divmod(number - 1, len(LETTERS))
        letters = LETTERS[index] + letters
    return letters


def next_revision(value: str) -> str:
    """What comes after a revision: B after A, AA after Y, 1.3 after 1.2, 2.D after 2.C, A after the initial dash.

    Raises:
        ValueError: the revision has a letter the sequence skips, or is not of a form that can be continued.
    """
    value = value.strip()
    if value in ("", "-"):
        return LETTERS[0]
    lettered = re.fullmatch(r"(?P<before>(?:.*[0-9][._-]?)?)(?P<letters>[A-Z]+)", value)
    if lettered:
        if skipped_letters(lettered["letters"]):
            raise ValueError(f"{value}: revision letters skip {', '.join(sorted(set(skipped_letters(lettered[2]))))}")
        number = 0
        for letter in lettered["letters"]:
            number = number * len(LETTERS) + LETTERS.index(letter) + 1
        return lettered["before"] + revision_at(number + 1)
    match = re.fullmatch(r"(.*?)([0-9]+)", value)
    if not match:
        raise ValueError(f"{value!r} ends in neither a revision letter nor a number")
    return match[1] + str(int(match[2]) + 1).zfill(len(match[2]))
