# SPDX-License-Identifier: MIT
"""What a column of a parts list is for, by its name, in the languages such lists come in."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from enum import Enum
from typing import Optional

from lineworthy.knowledge import fields


class Column(Enum):
    """What a column holds; the value is how it is called to a person."""

    REFERENCES = "references"
    QUANTITY = "quantity"
    VALUE = "value"
    PACKAGE = "package"
    MAKER = "manufacturer"
    MAKER_PART = "manufacturer part"
    ALTERNATE = "alternate"
    ALTERNATE_MAKER = "alternate's manufacturer"
    ORDER_CODE = "order code"
    FITTED = "fitted"
    NOT_FITTED = "not fitted"
    DESCRIPTION = "description"
    HEIGHT = "height"
    POLICY = "substitution"
    SOURCING = "sourcing"
    REMARK = "remark"
    ITEM = "item"


# names without case, accents, spaces and punctuation
_NAMES: tuple[tuple[Column, str], ...] = (
    (Column.ITEM, r"(?:item|line|pos|position|lfd|no|nr|id|index|row|序号)(?:no|nr|number)?"),
    (
        Column.REFERENCES,
        r"(?:(?:part|component|circuit|schematic|board)?(?:ref(?:s|erence)?(?:s|n)?(?:des(?:ignator)?s?)?"
        r"|(?:reference)?designators?|referencedesignations?|desig|refdes(?:s|ignators?)?))(?:s|list|ids?)?"
        r"|(?:circuit|ref(?:erence)?)(?:id|name|des)s?"
        r"|referenz(?:en|bezeichner)?|bezeichner|bauteil(?:e|name|bezeichner)?|bmk|repere(?:s)?|reperes?topo(?:logique)?"
        r"|riferiment[oi]|referencias?|designador(?:es)?|referentie|oznacz\w*|位号|元件位号|位置号|部品記号|記号",
    ),
    (
        Column.QUANTITY,
        r"(?:qty|qnty|qté|qte|quantity|quant|quantities|count|amount|pcs|pieces|stueck|stuck|stuckzahl|stueckzahl|stk|stck"
        r"|anzahl|menge|quantite|quantita|cantidad|cant|aantal|ilosc|数量|用量|個数|員数)"
        r"(?:per|pro|par|por|each|p)?(?:board|pcb|pcba|unit|assembly|assy|leiterplatte|platine|bom|carte|placa)?|qtybrd",
    ),
    (
        Column.VALUE,
        r"(?:part|component|nominal)?(?:value|val|wert|valeur|valore|valor|waarde|wartosc)|comment|bauteilwert|值|参数|规格|定数",
    ),
    (
        Column.PACKAGE,
        r"(?:(?:pcb|component|part|case)?(?:footprint|package|packaging?type|pkg|land(?:pattern)?|decal|case|casesize|casecode"
        r"|casepackage|packagecase|packagefootprint|footprintpackage|jedectype|jedec|size|geometry)(?:name|type|ref)?s?)"
        r"|bauform|gehause(?:form)?|gehaeuse(?:form)?|boitier|empreinte|contenitore|involucro|encapsulado|huella|behuizing"
        r"|obudowa|封装|封装形式|外形|パッケージ",
    ),
    (
        Column.ALTERNATE,
        r"(?:alt(?:s|ernat(?:e|ive)s?)?|second(?:ary)?|2nd|substitutes?|equivalents?|equiv|replacement|ersatz(?:typ)?|alternativen?"
        r"|approvedalt\w*|替代料?|替代型号)\d?(?:source)?(?:mpns?|pns?|parts?|mfr\w*|manufacturer\w*part\w*|mfg\w*|typen?|no|num(?:ber)?s?)*\d?"
        r"|(?:mpns?|pn|mfrpn|manufacturerpart(?:number)?|part(?:number)?|mfrpart(?:no|number)?)(?:alt\w*|second\w*|2nd|[2-9])"
        r"|secondsource|2ndsource",
    ),
    (
        Column.FITTED,
        r"(?:is)?(?:fitted|fit|populated?|placed?|mount(?:ed)?|installed|install|assembled?|stuffed|stuff|load(?:ed)?)"
        r"|bestuckt|bestuecken|bestucken|bestueckt|bestuckung|bestueckung|monte|montato|montado|是否贴装|fitting"
        r"|fittedstatus|populat(?:e|ion)status",
    ),
    (
        Column.NOT_FITTED,
        r"dn[pfislm]|nf|nofit|nopop|(?:do)?not?(?:to)?(?:be)?(?:fit|fitted|populated?|placed?|mount|mounted|installed?|stuff|stuffed"
        r"|assembled?|load|loaded)|unpopulated|excludefrombom|nichtbestuckt|nichtbestuecken|nichtbestueckt|nichtbestucken|nb|nonmonte|不贴",
    ),
    (
        Column.DESCRIPTION,
        r"(?:part|item|component|product|material)?desc(?:r|rip|ription|riptions)?\d?|beschreibung|designation|descrizione|descripcion"
        r"|omschrijving|opis|bezeichnung|描述|名称|品名|partname|name|title",
    ),
    (Column.HEIGHT, r"(?:max(?:imum)?)?(?:component|part|body|seated)?height(?:max|mm|maxmm)*|hoe?he(?:mm)?|高度"),
    (
        Column.POLICY,
        r"substitut(?:ion|ions|able|e)(?:s)?(?:allowed|policy|permitted|rule|ok)?|cansubstitute"
        r"|(?:alternates?|equivalents?)(?:allowed|ok|permitted|policy)",
    ),
    (Column.SOURCING, r"(?:single|sole)(?:sourced?)?(?:source)?(?:reason)?|sourcing(?:status|reason)?|sourcereason"),
    (
        Column.REMARK,
        r"(?:notes?|remarks?|comments|assembly(?:notes?|comments?)|instructions?"
        r"|bemerkung(?:en)?|anmerkung(?:en)?|kommentar|remarque|note[si]?|status|variant|备注|option)s?",
    ),
)  # fmt: skip
_COMPILED = tuple((column, re.compile(rf"(?:{pattern})\Z")) for column, pattern in _NAMES)

_OF_FIELD = {
    fields.Meaning.MAKER: Column.MAKER,
    fields.Meaning.MAKER_PART: Column.MAKER_PART,
    fields.Meaning.ORDER_CODE: Column.ORDER_CODE,
}
_ALTERNATE_MAKER = re.compile(
    r"(?:alt\w*|second|2nd)(?:mfr|mfg|manufacturer|maker)|(?:mfr|mfg|manufacturer|maker)(?:alt\w*|[2-9])"
)


_SELLER = re.compile(r"(?:supplier|vendor|distributor|seller|dealer|lieferant|fournisseur)\d?(?:name)?")
_PERHAPS_REFERENCES = re.compile(
    r"parts?|components?|placements?|locations?|designations?|bauteile?|names?|devices?|teile?"
)


def letters(name: str) -> str:
    """A column's name without case, accents, spaces and punctuation."""
    plain = unicodedata.normalize("NFKD", name.casefold().replace("#", "no").replace("ß", "ss"))
    return "".join(c for c in plain if c.isalnum())


def column(name: str) -> Optional[Column]:
    """What a column is for; None when its name says nothing known."""
    plain = letters(name)
    if not plain or len(plain) > 60:
        return None
    if _ALTERNATE_MAKER.fullmatch(plain):
        return Column.ALTERNATE_MAKER
    if _SELLER.fullmatch(plain):
        return None  # who sells is the offers' matter
    named = next((kind for kind, pattern in _COMPILED if pattern.match(plain)), None)
    # "Item number" counts the lines, and "Part number" names a part: what a field of the board would mean comes second
    return named if named is not None else _OF_FIELD.get(fields.meaning(name))


def perhaps_references(name: str) -> bool:
    """Whether a column of this name holds references in some lists, and something else in others."""
    return _PERHAPS_REFERENCES.fullmatch(letters(name)) is not None


def score(cells: Sequence[str]) -> int:
    """How much a row looks like the header of a parts list; 0 unless it can name parts and say what they are."""
    kinds = {kind for cell in cells if len(cell) <= 60 and (kind := column(cell)) is not None}
    if any(perhaps_references(cell) for cell in cells):
        kinds.add(Column.REFERENCES)
    named = kinds & {Column.MAKER_PART, Column.VALUE, Column.DESCRIPTION, Column.ORDER_CODE}
    counted = Column.REFERENCES in kinds or Column.QUANTITY in kinds
    return len(kinds) if len(kinds) > 1 and counted and (named or Column.PACKAGE in kinds) else 0
