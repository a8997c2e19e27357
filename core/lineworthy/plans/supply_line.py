# SPDX-License-Identifier: MIT
"""One part of a supply run: how many, from whom, until when, and what speaks against it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum
from typing import Optional

from lineworthy.intake.offers import LifeCycle, Offer, Offers
from lineworthy.intake.parts_list import PartsLine
from lineworthy.knowledge.packages import PackageFacts
from lineworthy.knowledge.wording import counted, listed
from lineworthy.limits import SupplyLimits
from lineworthy.plans.alternates import AlternateVerdict, judge, of_alternate, of_line
from lineworthy.plans.buying import Bought, Buy, Calendar, plan
from lineworthy.plans.spares import Spares, spare_pieces, spares_class
from lineworthy.plans.wanted import Wanted


class Standing(Enum):
    """How one part stands; the value is how it is called."""

    IN_STOCK = "in stock"
    TO_ORDER = "to be ordered"
    TIGHT = "inside the reserve"
    """Ordered today it arrives in time only if nothing goes wrong."""
    LATE = "too late"
    SHORT = "short"
    """Nobody is known to deliver all of it."""
    UNKNOWN = "not known"
    """Offered, but by data too old or without a date."""
    NOT_OFFERED = "not offered"
    UNNAMED = "no part named"

    @property
    def stops(self) -> bool:
        """Whether the build cannot be counted on."""
        return self not in (Standing.IN_STOCK, Standing.TO_ORDER, Standing.TIGHT)


class RiskKind(Enum):
    """Why a part may not be had; the value is how it is called."""

    STANDING = "supply"
    DISCONTINUED = "discontinued"
    LAST_TIME_BUY = "last-time buy"
    NOT_FOR_NEW = "not for new designs"
    LONG_LEAD = "long lead time"
    SOLE_SOURCE = "sole source"
    ONE_SELLER = "one seller"
    ALTERNATE = "alternate differs"
    SINGLE_SOURCE = "single source"


@dataclass(frozen=True)
class Risk:
    """One reason, in words."""

    kind: RiskKind
    text: str


@dataclass(frozen=True)
class SupplyLine:
    """One part to buy, over all lines of the list that name it.

    Attributes:
        line: the parts list's line; of several that name the same part, all places joined.
        package: what the board says, else the list.
        placed: pieces on all boards.
        spare: pieces lost in placing, by `spares`.
        stock: pieces that current offers have in stock; None where no current offer says.
        missing: pieces nobody is known to deliver.
        order_by: the last day to order the part that takes longest.
        late_days: days by which that day has passed; 0 when it has not.
        sellers: who offers it by current data.
        outdated: offers whose data are too old or undated.
        way_out: an alternate that could be had in time, in words.
    """

    line: PartsLine
    package: str
    spares: Spares
    placed: int
    spare: int
    stock: Optional[int]
    buys: tuple[Buy, ...]
    missing: int
    standing: Standing
    order_by: Optional[date]
    late_days: int
    life_cycle: LifeCycle
    last_order: Optional[date]
    sellers: tuple[str, ...]
    outdated: int
    alternates: tuple[AlternateVerdict, ...]
    risks: tuple[Risk, ...] = ()
    way_out: str = ""

    @property
    def needed(self) -> int:
        """Pieces to have: what is placed and what is lost."""
        return self.placed + self.spare

    @property
    def shortage(self) -> int:
        """Pieces that no stock covers."""
        return max(self.needed - (self.stock or 0), 0)

    @property
    def lead_days(self) -> Optional[int]:
        """Days until the last of the purchases arrives."""
        return max((buy.lead_days for buy in self.buys), default=None)

    @property
    def bought(self) -> int:
        """Pieces of all purchases."""
        return sum(buy.pieces for buy in self.buys)

    @property
    def costs(self) -> Mapping[str, float]:
        """Cost by currency, of purchases with a price."""
        return summed((buy.offer.currency, buy.cost) for buy in self.buys if buy.cost is not None)

    @property
    def unpriced(self) -> bool:
        """Whether a part of the cost is not known."""
        return not self.buys or self.missing > 0 or any(buy.cost is None for buy in self.buys)

    @property
    def is_risky(self) -> bool:
        """Whether anything but the lack of a second part speaks against it."""
        return any(risk.kind is not RiskKind.SINGLE_SOURCE for risk in self.risks)

    @property
    def substitution(self) -> str:
        """What may be bought instead, as the list says it."""
        return self.line.policy or "not stated"

    @property
    def label(self) -> str:
        """``C1, C2 (FP-100N)``: places and part."""
        places = listed(self.line.references, 4) or f"line {self.line.line}"
        return f"{places} ({self.line.maker_part or self.line.value or 'no part named'})"

    def has(self, kind: RiskKind) -> bool:
        """Whether a risk of this kind was found."""
        return any(risk.kind is kind for risk in self.risks)


def summed(items: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Sums by currency, currencies in order."""
    sums: dict[str, float] = {}
    for currency, amount in items:
        sums[currency] = sums.get(currency, 0.0) + amount
    return {currency: round(sums[currency], 6) for currency in sorted(sums)}


def work_out(
    item: Wanted,
    facts: Optional[PackageFacts],
    offers: Offers,
    *,
    boards: int,
    calendar: Calendar,
    limits: SupplyLimits,
) -> SupplyLine:
    """One part; `facts` are what the board shows of its package, None when it is not on the board."""
    family, size = (facts.family, facts.chip_size) if facts else (None, "")
    kind = spares_class(item.package, item.letters, family, size)
    placed = math.ceil(boards * item.per_board - 1e-9)
    spare = spare_pieces(placed, boards, kind, limits)
    offered = offers.of(item.line.maker_part) if item.line.maker_part else ()
    current = [offer for offer in offered if calendar.is_current(offer)]
    bought = plan(placed + spare, offered, calendar)
    stocks = [offer.stock for offer in current if offer.stock is not None]
    day = min((buy.order_by for buy in bought.buys), default=None)
    late = max((calendar.today - day).days, 0) if day else 0
    life_cycle, last_order = _life(current, calendar.today)
    made = SupplyLine(
        line=item.line,
        package=item.package,
        spares=kind,
        placed=placed,
        spare=spare,
        stock=sum(stocks) if stocks else None,
        buys=bought.buys,
        missing=bought.missing,
        standing=_standing(offered, current, bought, late, calendar) if item.line.maker_part else Standing.UNNAMED,
        order_by=day,
        late_days=late,
        life_cycle=life_cycle,
        last_order=last_order,
        sellers=tuple(sorted({offer.source for offer in current}, key=str.casefold)),
        outdated=len(offered) - len(current),
        alternates=_alternates(item, offers),
    )
    made = replace(made, risks=tuple(_risks(made, offers, limits)))
    return replace(made, way_out=_way_out(made, offers, calendar)) if made.standing.stops else made


def _standing(
    offered: Sequence[Offer], current: Sequence[Offer], bought: Bought, late: int, calendar: Calendar
) -> Standing:
    for standing, holds in (
        (Standing.NOT_OFFERED, not offered),
        (Standing.UNKNOWN, not current),
        (Standing.SHORT, bought.missing > 0),
        (Standing.LATE, late > calendar.buffer),
        (Standing.TIGHT, late > 0),
        (Standing.TO_ORDER, any(not buy.from_stock for buy in bought.buys)),
    ):
        if holds:
            return standing
    return Standing.IN_STOCK


_WORST = (LifeCycle.DISCONTINUED, LifeCycle.LAST_TIME_BUY, LifeCycle.NOT_FOR_NEW, LifeCycle.PREVIEW, LifeCycle.ACTIVE)


def _life(current: Sequence[Offer], today: date) -> tuple[LifeCycle, Optional[date]]:
    """The worst state that a current offer reports, and the first last day to order."""
    states = {offer.life_cycle for offer in current}
    last = min((offer.last_order for offer in current if offer.last_order), default=None)
    if last is not None:
        states.add(LifeCycle.LAST_TIME_BUY if last >= today else LifeCycle.DISCONTINUED)
    return next((state for state in _WORST if state in states), LifeCycle.UNKNOWN), last


def _alternates(item: Wanted, offers: Offers) -> tuple[AlternateVerdict, ...]:
    own = of_line(item.line, item.package, offers)
    return tuple(
        judge(own, of_alternate(other, offers), item.letters, offered=bool(offers.of(other.maker_part)))
        for other in item.line.alternates
    )


_FREE = re.compile(
    r"\s*(?:y|yes|true|ok|any|free|allowed|permitted|equivalents?\b|any equivalent|or equivalent|ja|oui)", re.I
)
_NONE = re.compile(r"\s*(?:n|no|none|not|never|false|forbidden|nein|non|exact|as specified)\b", re.IGNORECASE)


def allows_any(policy: str) -> bool:
    """Whether a substitution policy lets the buyer choose."""
    return bool(_FREE.match(policy)) and "approved" not in policy.casefold()


def allows_none(policy: str) -> bool:
    """Whether it lets nothing else be bought."""
    return bool(_NONE.match(policy))


def _risks(made: SupplyLine, offers: Offers, limits: SupplyLimits) -> Iterator[Risk]:
    if made.standing.stops or made.standing is Standing.TIGHT:
        yield Risk(RiskKind.STANDING, standing_words(made))
    ends = f", last order {made.last_order.isoformat()}" if made.last_order else ""
    if made.life_cycle is LifeCycle.DISCONTINUED:
        yield Risk(RiskKind.DISCONTINUED, f"discontinued{ends}")
    elif made.life_cycle is LifeCycle.LAST_TIME_BUY:
        yield Risk(RiskKind.LAST_TIME_BUY, f"last-time buy{ends}")
    elif made.life_cycle is LifeCycle.NOT_FOR_NEW:
        yield Risk(RiskKind.NOT_FOR_NEW, "not recommended for new designs")
    ordered = max((buy.lead_days for buy in made.buys if not buy.from_stock), default=0)
    if ordered > limits.long_lead_days and made.standing not in (Standing.LATE, Standing.TIGHT):
        yield Risk(RiskKind.LONG_LEAD, f"lead time {weeks(ordered)}")
    usable = [verdict for verdict in made.alternates if not verdict.differs]
    for verdict in made.alternates:
        if verdict.differs:
            yield Risk(RiskKind.ALTERNATE, f"alternate {verdict.maker_part}: {verdict.in_words}")
    if re.search(r"\bsole", made.line.sourcing, re.IGNORECASE):
        yield Risk(RiskKind.SOLE_SOURCE, made.line.sourcing)
    elif not made.line.sourcing and not usable and not allows_any(made.line.policy) and made.line.maker_part:
        yield Risk(RiskKind.SINGLE_SOURCE, "one approved part, no reason given")
    if len(made.sellers) == 1 and not any(verdict.offered for verdict in usable):
        yield Risk(RiskKind.ONE_SELLER, f"one seller: {made.sellers[0]}")


def standing_words(made: SupplyLine) -> str:
    """Why a part cannot be counted on, in words."""
    if made.standing is Standing.SHORT:
        return f"{made.missing} of {made.needed} pieces missing, and nobody gives a time for more"
    if made.standing is Standing.UNKNOWN:
        return f"{counted(made.outdated, 'offer')}, data too old or undated"
    if made.standing in (Standing.LATE, Standing.TIGHT) and made.order_by is not None:
        lead = f"lead time {weeks(made.lead_days)}" if made.lead_days else "no time left"
        return f"{lead}, to be ordered by {made.order_by.isoformat()}, {counted(made.late_days, 'day')} ago"
    return str(made.standing.value)


def weeks(days: Optional[int]) -> str:
    """``12 weeks``, or days where they are not whole weeks."""
    if days is None:
        return "not known"
    return counted(days // 7, "week") if days and days % 7 == 0 else counted(days, "day")


def _way_out(made: SupplyLine, offers: Offers, calendar: Calendar) -> str:
    """An alternate that allows the exchange and can be had in time."""
    if allows_none(made.line.policy):
        return ""
    for verdict in made.alternates:
        bought = plan(made.needed, offers.of(verdict.maker_part), calendar)
        in_time = all(buy.order_by >= calendar.today for buy in bought.buys)
        if not verdict.differs and bought.buys and not bought.missing and in_time:
            where = listed({buy.offer.source for buy in bought.buys})
            return f"alternate {verdict.maker_part} can be had from {where}"
    return ""
