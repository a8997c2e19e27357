# SPDX-License-Identifier: MIT
"""The offers file: what sources offer for the parts of a list, one line per part and source, filled in by a person.

Columns (any order, names as people write them; only the first and the source are required)::

    manufacturer_part, manufacturer, source, order_code, stock, lead_weeks (or lead_days), life_cycle, minimum,
    multiple, prices ("1: 0.52; 100: 0.31", or one column per quantity: price_1, price_100), currency, date, last_order,
    package, height, and any rating (voltage, tolerance ...)
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from functools import cached_property
from pathlib import Path
from typing import Optional

from lineworthy.intake import numbers
from lineworthy.intake.columns import letters
from lineworthy.intake.table import Row, Table, Unread, read_table, table_in
from lineworthy.knowledge.fields import is_placeholder
from lineworthy.knowledge.wording import counted

WHAT = "list of offers"


class LifeCycle(Enum):
    """Where a part is in its life; the value is how it is called."""

    PREVIEW = "preview"
    ACTIVE = "active"
    NOT_FOR_NEW = "not recommended for new designs"
    LAST_TIME_BUY = "last-time buy"
    DISCONTINUED = "discontinued"
    UNKNOWN = "unknown"


_STATES: tuple[tuple[LifeCycle, str], ...] = (
    (LifeCycle.NOT_FOR_NEW, r"nrnd|notrecommended\w*|notfornew\w*|mature"),
    (LifeCycle.LAST_TIME_BUY, r"lasttimebuy|ltb|lastbuy|lastorder|eol|endoflife|lasttimeship|lts|phaseout|pdn"),
    (LifeCycle.DISCONTINUED, r"discontinued?|obsolete|obs|abgekundigt|inactive|dead|nolonger\w*|withdrawn"),
    (LifeCycle.PREVIEW, r"preview|preliminary|introduction|sampling|samples|new|preproduction|prerelease"),
    (LifeCycle.ACTIVE, r"active|production|inproduction|aktiv|mp|massproduction|released|volumeproduction|yes"),
)  # fmt: skip


@dataclass(frozen=True)
class Break:
    """From this many pieces on, each costs this much."""

    quantity: int
    price: float


@dataclass(frozen=True)
class Offer:
    """What one source offers for one part; None where the file does not say.

    Attributes:
        stock: pieces the source has.
        lead_days: days to delivery of what it does not have.
        breaks: prices by quantity, ascending; empty when not stated.
        as_of: the day the data were true.
        last_order: the last day on which it can be ordered.
        others: further columns, ratings among them, as written.
    """

    maker_part: str
    source: str
    maker: str = ""
    order_code: str = ""
    stock: Optional[int] = None
    lead_days: Optional[int] = None
    life_cycle: LifeCycle = LifeCycle.UNKNOWN
    minimum: int = 1
    multiple: int = 1
    breaks: tuple[Break, ...] = ()
    currency: str = ""
    as_of: Optional[date] = None
    last_order: Optional[date] = None
    package: str = ""
    height: Optional[float] = None
    others: Mapping[str, str] = field(default_factory=dict)
    line: int = 0


@dataclass(frozen=True)
class Offers:
    """The offers of a file; `unread` names lines or cells that could not be read, `ignored` columns not used."""

    source: str
    offers: tuple[Offer, ...]
    unread: tuple[Unread, ...] = ()
    ignored: tuple[str, ...] = ()
    understood: tuple[str, ...] = ()

    @cached_property
    def by_part(self) -> Mapping[str, tuple[Offer, ...]]:
        """Offers by `part_key`, in the order of the file."""
        found: dict[str, list[Offer]] = defaultdict(list)
        for offer in self.offers:
            found[part_key(offer.maker_part)].append(offer)
        return {key: tuple(offers) for key, offers in found.items()}

    def of(self, maker_part: str) -> tuple[Offer, ...]:
        """What is offered for a part."""
        return self.by_part.get(part_key(maker_part), ())


def part_key(number: str) -> str:
    """A part number for comparison: case, blanks and dashes differ between catalogues."""
    return re.sub(r"[\s\-\u2010-\u2015]+", "", number).casefold()


_NAMES = {
    "maker_part": r"(?:manufacturers?|mfrs?|mfg|maker)?(?:part|product|p)(?:no|nr|num|number|n)?|m(?:fr|fg)?pn"
    r"|hersteller\w*n(?:ummer|r)",
    "maker": r"manufacturers?|mfrs?|mfg|maker|hersteller",
    "source": r"source|suppliers?|vendor|distributor|seller|dealer|lieferant|fournisseur|quelle",
    "order_code": r"order(?:ing)?(?:code|no|number)|sku|(?:supplier|vendor|distributor)(?:part|pn)(?:no|number)?"
    r"|bestelln\w*",
    "stock": r"(?:in)?stock(?:qty|quantity|level)?|available|availability|qtyavailable|lager(?:bestand)?|onhand",
    "lead": r"(?:factory|std|standard)?lead(?:time)?(?:in)?(?:weeks?|wks?|days?|w|d|months?)?"
    r"|lieferzeit(?:wochen|tage)?|delai",
    "life": r"lifecycle(?:state|status|stage)?|status|state|productstatus|partstatus",
    "minimum": r"min(?:imum)?(?:order)?(?:qty|quantity)?|moq|mindest\w*",
    "multiple": r"(?:order)?mult(?:iple|iples)?(?:qty|quantity)?|spq|packqty|packsize|packunit|reel(?:qty|size)?|ve",
    "prices": r"(?:unit)?prices?(?:breaks?|list|tiers?)?|breaks?|preise?|staffel\w*|prix",
    "currency": r"currency|curr|wahrung|devise",
    "date": r"(?:data)?date|asof|dateof(?:data|quote)|(?:quote|price|quoted|checked)(?:date|on)?|updated(?:on)?"
    r"|datum|stand",
    "last_order": r"last(?:time)?(?:order|buy)(?:date|day|by)?|ltb(?:date)?|lastorder",
    "package": r"(?:case)?package|case|footprint|bauform|gehause",
    "height": r"(?:max)?height(?:mm)?(?:max)?|hohe(?:mm)?",
}
_COMPILED = {name: re.compile(rf"(?:{pattern})\Z") for name, pattern in _NAMES.items()}
_PRICE_AT = re.compile(
    r"(?:unit)?(?:price|preis|prix|cost)(?:at|ab|from|for)?(\d{1,7})(?:pcs|up|plus)?\Z|(\d{1,7})(?:pcs|up|plus)\Z"
)
_UNIT_OF_LEAD = re.compile(r"(week|wk|woche|day|tag|month|w\Z|d\Z)")


def _kind(name: str) -> Optional[str]:
    plain = letters(name)
    return next((kind for kind, pattern in _COMPILED.items() if pattern.match(plain)), None)


def _price_at(name: str) -> Optional[int]:
    match = _PRICE_AT.match(letters(name.replace("+", "plus").replace("@", "at")))
    return int(match[1] or match[2]) if match else None


def score(cells: Sequence[str]) -> int:
    """How much a row looks like the header of an offers file."""
    kinds = {kind for cell in cells if len(cell) <= 60 and (kind := _kind(cell))}
    return len(kinds) if {"maker_part", "source"} <= kinds else 0


def read_offers(path: Path) -> Offers:
    """The offers in a file; InputError when there is no header of one in it."""
    return offers_of(read_table(path, score, WHAT))


def offers_in(data: bytes, file: str) -> Offers:
    """The offers in the bytes of a file."""
    return offers_of(table_in(data, file, score, WHAT))


def offers_of(table: Table) -> Offers:
    """The offers in a table."""
    at: dict[str, int] = {}
    prices: dict[int, int] = {}
    for n, name in enumerate(table.header.cells):
        kind = _kind(name)
        quantity = _price_at(name)
        if quantity is not None and quantity > 0:
            prices[n] = quantity
        elif kind is not None:
            at.setdefault(kind, n)
    others = {n: name for n, name in enumerate(table.header.cells) if name and n not in (*at.values(), *prices)}
    reading = _Reading(table, at, prices, others)
    offers = tuple(offer for row in table.rows if (offer := reading.offer(row)) is not None)
    unread = tuple(sorted([*table.unread, *reading.unread], key=lambda item: item.line))
    return Offers(
        source=table.file,
        offers=offers,
        unread=unread,
        ignored=tuple(others.values()),
        understood=(*table.understood, counted(len(offers), "offer")),
    )


@dataclass
class _Reading:
    """Reads rows; a cell that cannot be read is named and counts as not stated."""

    table: Table
    at: dict[str, int]
    prices: dict[int, int]
    others: dict[int, str]
    unread: list[Unread] = field(default_factory=list)

    def offer(self, row: Row) -> Optional[Offer]:
        """One row, None when it names no part or no source."""
        part, source = self._text(row, "maker_part"), self._text(row, "source")
        if not part or not source:
            missing = "no source" if part else "no manufacturer part"
            self.unread.append(Unread(row.line, ", ".join(row.filled)[:80], missing))
            return None
        breaks, currency = self._breaks(row)
        return Offer(
            maker_part=part,
            source=source,
            maker=self._text(row, "maker"),
            order_code=self._text(row, "order_code"),
            stock=self._count(row, "stock"),
            lead_days=self._lead(row),
            life_cycle=self._life(row),
            minimum=self._count(row, "minimum") or 1,
            multiple=self._count(row, "multiple") or 1,
            breaks=breaks,
            currency=self._text(row, "currency").upper() or currency,
            as_of=self._date(row, "date"),
            last_order=self._date(row, "last_order"),
            package=self._text(row, "package"),
            height=self._height(row),
            others={name: cell for n, name in self.others.items() if (cell := _cell(row, n))},
            line=row.line,
        )

    def _text(self, row: Row, kind: str) -> str:
        text = _cell(row, self.at.get(kind, -1))
        return "" if is_placeholder(text) and text != "0" else text

    def _cannot(self, row: Row, kind: str, text: str, reason: str) -> None:
        name = self.table.header.cells[self.at[kind]] if kind in self.at else kind
        self.unread.append(Unread(row.line, "", f"{name} {text[:30]!r} {reason}; taken as not stated"))

    def _count(self, row: Row, kind: str) -> Optional[int]:
        text = self._text(row, kind)
        number = numbers.whole(text) if text else None
        if text and number is None:
            self._cannot(row, kind, text, "is no whole number")
        return number

    def _height(self, row: Row) -> Optional[float]:
        text = self._text(row, "height")
        number = numbers.decimal(text.lower().replace("mm", ""), comma=self.table.decimal_comma) if text else None
        if text and number is None:
            self._cannot(row, "height", text, "is no height in mm")
        return number

    def _date(self, row: Row, kind: str) -> Optional[date]:
        text = self._text(row, kind)
        day = numbers.day(text) if text else None
        if text and day is None:
            self._cannot(row, kind, text, "is no date that can be read one way; write 2027-03-01")
        return day

    def _lead(self, row: Row) -> Optional[int]:
        text = self._text(row, "lead")
        if not text:
            return None
        match = _UNIT_OF_LEAD.search(letters(self.table.header.cells[self.at["lead"]]).replace("leadtime", ""))
        unit = match[1][0].replace("t", "d") if match else ""
        days = numbers.days(text, unit)
        if days is None:
            named = {"w": "weeks", "d": "days", "m": "months"}.get(unit)
            reason = f"is no number of {named}" if named else "is no time with a unit; write 12 weeks"
            self._cannot(row, "lead", text, reason)
        return days

    def _life(self, row: Row) -> LifeCycle:
        text = self._text(row, "life")
        plain = letters(text)
        state = next((state for state, pattern in _STATES if re.fullmatch(pattern, plain)), None)
        if text and state is None and plain not in ("unknown", "na"):
            self._cannot(row, "life", text, "is no life-cycle state known")
        return state or LifeCycle.UNKNOWN

    def _breaks(self, row: Row) -> tuple[tuple[Break, ...], str]:
        found: dict[int, float] = {}
        currency = ""
        cells = [(quantity, _cell(row, n)) for n, quantity in self.prices.items()]
        text = self._text(row, "prices")
        if text:
            cells += self._tiers(row, text)
        for quantity, cell in cells:
            if not cell or is_placeholder(cell):
                continue
            price, written = numbers.money(cell, comma=self.table.decimal_comma)
            if price is None:
                self._cannot(row, "prices", cell, "is no price")
                continue
            found[quantity] = price
            currency = currency or written
        return tuple(Break(quantity, found[quantity]) for quantity in sorted(found)), currency

    def _tiers(self, row: Row, text: str) -> list[tuple[int, str]]:
        """``1: 0.52; 100: 0.31``, or a single price."""
        tiers: list[tuple[int, str]] = []
        for piece in re.split(r"[;|\n]|,\s+", text):
            head, mark, price = piece.partition(":") if ":" in piece else piece.partition("=")
            if not mark:
                tiers.append((1, piece.strip()))
                continue
            quantity = numbers.whole(head)
            if quantity is None or quantity < 1:
                self._cannot(row, "prices", piece.strip(), "has no quantity before the price")
                continue
            tiers.append((quantity, price.strip()))
        return tiers


def _cell(row: Row, at: int) -> str:
    return row.cells[at] if 0 <= at < len(row.cells) else ""
