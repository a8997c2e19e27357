# SPDX-License-Identifier: MIT
"""What the fields of a part mean: which one names the maker's part, an alternate, a dealer's order code."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from enum import Enum
from functools import lru_cache

from lineworthy.model import Part


class Meaning(Enum):
    """What a field says, as far as buying the part goes."""

    MAKER_PART = "manufacturer part"
    MAKER = "manufacturer"
    ORDER_CODE = "order code"
    ALTERNATE = "alternate"
    POLICY = "substitution"
    SOURCING = "sourcing"
    OTHER = "other"


_MAKER = (
    r"(?:manufacturers?|manufact|manuf|manu|manf|mfct|mfrs?|mfgr?|mf|maker|oem|producer|hersteller|herst|fabricante?"
    r"|fabrikant|produ[ct]tt?or[ea]?|productor|producenta?)"
)
_DEALER = (
    r"(?:supplier|vendor|distributor|distr?|dealer|lieferant|fournisseur|lcsc|szlcsc|jlc|jlcpcb|mouser|digikey|dk"
    r"|farnell|element14|newark|rs|rsonline|rscomponents|arrow|avnet|tme|reichelt|conrad|buerklin|rutronik|future|scem)"
)
_THING = r"(?:parts?|products?|prod|components?|comp|devices?|dev|articles?|art|item|catalogu?e?|cat|order(?:ing)?)"
_SIGN = (
    r"(?:number|num|no|nr|pn|code|id|ref(?:erence)?|name|sku|nummer|teilenummer|artikelnummer|bestellnummer|nummero"
    r"|bez(?:eichnung)?|kod|codice|codigo)"
)
_COUNT = r"\d{0,2}"

_PATTERNS = (
    (
        Meaning.POLICY,
        r"substitut(?:ions?|able|es?)(?:allowed|policy|permitted|rules?|ok)?|(?:alternates?|equivalents?)(?:allowed|ok|policy)",
    ),
    (Meaning.SOURCING, r"(?:single|sole)(?:sourced?)(?:reason)?|sourcing(?:status|reason)?|sourcereason"),
    (
        Meaning.ALTERNATE,
        r"(?:approved)?(?:alt(?:s|ernat(?:es?|ives?))?|substituteparts?|equivalents?|(?:second|2nd)source)\d?(?:parts?(?:no|numbers?)?|pns?)?\d?",
    ),
    (Meaning.MAKER, rf"{_MAKER}{_COUNT}(?:name{_COUNT})?"),
    (Meaning.MAKER_PART, rf"mpns?{_COUNT}(?:alt\w*|primary|main|\d*)|(?:alt\w*|primary|main)mpn"),
    (Meaning.MAKER_PART, rf"m(?:f|n|an)(?:pn|part){_COUNT}"),
    (Meaning.MAKER_PART, r"(?:component|orderable)?(?:part|p)(?:number|num|no|nr)|pn"),
    (Meaning.MAKER_PART, rf"{_MAKER}{_COUNT}(?:s?{_THING}{_SIGN}?|{_SIGN}){_COUNT}"),
    (Meaning.MAKER_PART, rf"(?:ref(?:erence)?|codice|codigo|kod){_MAKER}"),
    (Meaning.MAKER_PART, r"(?:厂家|厂商|制造商|原厂)(?:型号|料号|编号|零件号)|(?:メーカー?)?(?:品番|型番)"),
    (Meaning.ORDER_CODE, rf"{_DEALER}{_COUNT}(?:pcb)?(?:{_THING}{_SIGN}?|stock{_SIGN}|{_SIGN})?{_COUNT}"),
    (Meaning.ORDER_CODE, rf"sku|spn|(?:order(?:ing)?|bestell){_SIGN}"),
)
_COMPILED = tuple((meaning, re.compile(rf"(?:{pattern})\Z")) for meaning, pattern in _PATTERNS)

_PLACEHOLDER = re.compile(
    r"[\W_]*|n\W?a\W?|tb[dcas]|to be (?:defined|determined|confirmed|decided)|none|null|nil|unknown|undefined|x+|0+"
    r"|dn[pfi]|do not (?:fit|populate|place|install)|not fitted|no(?:t)? ?(?:stuff|mount)|mpn|part ?(?:number|no)|value"
    r"|see (?:the )?(?:bom|parts ?list|schematic)|any|generic(?: .*)?"
    r"|manufacturer part(?: number)?|\$\{[^}]*\}",
    re.IGNORECASE,
)
_QUANTITY = re.compile(
    r"[+-]?\d+(?:[.,]\d+)?(?:[pnuµμmkgr]|meg)?\d{0,2}(?:f|h|r|ω|Ω|ohms?|v|a|w|hz|s|mm|pins?|p|pos|%|\+)?\Z",
    re.IGNORECASE,
)
_COMMON_WORD = re.compile(
    r"(?:conn|hdr|head|pin|led|sw|push|button|jack|plug|socket|screw|term|barrel|bat|holder|test|mount|hole|fid|logo|jump"
    r"|bridge|crystal|xtal|osc|quartz|fuse|ferrite|bead|coil|choke|relay|res|cap|ind|diode|zener|trans|opamp|antenna|ant"
    r"|stitch|supp(?:ort)?\d*\Z|dip\W?\d|\d+x\d|usb[\d.]*\Z|hdmi|rj\d+|db\d+|de\d+|d-?sub|din\d|sma\Z|sd-?card|micro|type)",
    re.IGNORECASE,
)


_PASSIVE = re.compile(r"(?:R[NPRV]?|C[NPRV]?|L|FB|TH|NTC|POT)\d*\Z", re.IGNORECASE)


def _is_spelt(character: str) -> bool:
    return character.isalnum() or character in "\u3099\u309a"


@lru_cache(maxsize=1024)  # a board has the same few names a thousand times over
def meaning(field: str) -> Meaning:
    """What a field is for, by its name, whatever its spelling, case, spaces and punctuation."""
    letters = unicodedata.normalize("NFKD", field.casefold().replace("#", "no"))
    # accents come apart from their letters and fall out here, as punctuation does; Japanese keeps its length mark
    name = "".join(c for c in unicodedata.normalize("NFC", "".join(filter(_is_spelt, letters))))
    return next((kind for kind, pattern in _COMPILED if pattern.match(name)), Meaning.OTHER)


def is_placeholder(value: str) -> bool:
    """Whether a value says nothing: empty, only punctuation, ``TBD``, ``N/A``, an unresolved variable."""
    return _PLACEHOLDER.fullmatch(value.strip()) is not None


@lru_cache(maxsize=512)  # most parts of a board have the same fields, and only a few of them mean something
def _meant(names: tuple[str, ...], wanted: tuple[Meaning, ...]) -> tuple[tuple[str, Meaning], ...]:
    """Of some names of fields those with one of the wanted meanings, each with its own."""
    return tuple((name, kind) for name in names if (kind := meaning(name)) in wanted)


def _values(fields: Mapping[str, str], wanted: Meaning) -> Iterator[str]:
    """The values of a meaning, as written."""
    return (fields[name].strip() for name, _ in _meant(tuple(fields), (wanted,)))


def stated(fields: Mapping[str, str], wanted: Meaning) -> str:
    """The first value of a meaning that says something, empty when there is none."""
    return next((value for value in _values(fields, wanted) if not is_placeholder(value)), "")


def written(fields: Mapping[str, str], wanted: Meaning) -> str:
    """The first value of a meaning as written, where ``none`` is an answer and no placeholder."""
    return next(filter(None, _values(fields, wanted)), "")


def maker_part(part: Part) -> str:
    """The manufacturer's part number from any field people use for it, empty when there is none."""
    return stated(part.fields, Meaning.MAKER_PART)


_ALTERNATE_NAME = re.compile(
    r"\W*(?:alt|second|2nd|substitut|equiv)|.*(?:\balt|_alt|[^\W\d][ _-]?[2-9])\W*\Z", re.IGNORECASE
)


def _numbers(fields: Mapping[str, str]) -> list[tuple[bool, str]]:
    """Every maker's part number stated, each with whether its field is for an alternate."""
    found = []
    for name, kind in _meant(tuple(fields), (Meaning.MAKER_PART, Meaning.ALTERNATE)):
        second = kind is Meaning.ALTERNATE or _ALTERNATE_NAME.match(name) is not None
        texts = re.split(r"[;|\n]", fields[name]) if second else [fields[name]]
        found += [(second, text.strip()) for text in texts if not is_placeholder(text)]
    return found


def main_part(fields: Mapping[str, str]) -> str:
    """The number of the part meant first; an alternate's only where there is no other."""
    return next((text for _, text in sorted(_numbers(fields), key=lambda item: item[0])), "")


def alternates(fields: Mapping[str, str]) -> tuple[str, ...]:
    """Further part numbers in the fields, in their order, each once."""
    main = main_part(fields)
    return tuple(dict.fromkeys(text for _, text in _numbers(fields) if text.casefold() != main.casefold()))


def order_code(part: Part) -> str:
    """A dealer's order code, empty when there is none."""
    return stated(part.fields, Meaning.ORDER_CODE)


def value_is_maker_part(part: Part) -> bool:
    """Whether the value names the part to buy; the value of a resistor, capacitor or coil is read as its size."""
    return not _PASSIVE.match(part.reference) and reads_like_maker_part(part.value)


def reads_like_maker_part(value: str) -> bool:
    """Whether a value such as ``STM32F103C8T6`` is itself a maker's part, unlike ``100n`` or ``Conn_01x04``.

    Five characters or more, letters and at least two digits, no quantity with a unit, no common word for a thing.
    """
    word = re.split(r"[\s_/,;(@]", value.strip(), maxsplit=1)[0]
    digits = sum(c.isdigit() for c in word)
    letters = sum(c.isalpha() for c in word)
    if len(word) < 5 or digits < 2 or letters < 1 or is_placeholder(word):
        return False
    return not _QUANTITY.match(word) and not _COMMON_WORD.match(word)
