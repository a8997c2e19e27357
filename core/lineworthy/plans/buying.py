# SPDX-License-Identifier: MIT
"""From which source to buy how many of one part, and until when to order them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Optional

from lineworthy.intake.offers import LifeCycle, Offer
from lineworthy.limits import SupplyLimits
from lineworthy.plans.arithmetic import cheaper_above, order_by, orderable, unit_price


@dataclass(frozen=True)
class Calendar:
    """The dates of a build; `steps` are the days between the arrival of a part and the build date."""

    today: date
    build: date
    steps: tuple[int, ...]
    delivery: int
    data_max: int
    buffer: int

    @classmethod
    def of(cls, today: date, build: date, limits: SupplyLimits) -> Calendar:
        """With the days that a capability sheet gives."""
        steps = (
            limits.incoming_days,
            limits.kitting_days,
            limits.buffer_days,
            limits.assembly_days,
            limits.test_days,
            limits.transport_days,
        )
        return cls(today, build, steps, limits.delivery_days, limits.data_max_days, limits.buffer_days)

    def order_by(self, lead_days: int) -> date:
        """The last day to order what takes so long."""
        return order_by(self.build, (lead_days, *self.steps))

    def is_current(self, offer: Offer) -> bool:
        """Whether an offer's data are young enough to be believed; data without a date, or from the future, are not."""
        return offer.as_of is not None and 0 <= (self.today - offer.as_of).days <= self.data_max


@dataclass(frozen=True)
class Buy:
    """One purchase.

    Attributes:
        from_stock: taken from what the source has; otherwise ordered and waited for.
        instead_of: pieces that would have done, where a larger quantity costs less in all.
        saving: what that saves.
    """

    offer: Offer
    pieces: int
    from_stock: bool
    lead_days: int
    order_by: date
    unit_price: Optional[float] = None
    instead_of: Optional[int] = None
    saving: float = 0.0

    @property
    def cost(self) -> Optional[float]:
        """Of all pieces, None when no price is stated."""
        return None if self.unit_price is None else self.unit_price * self.pieces


@dataclass(frozen=True)
class Bought:
    """The purchases for one part, and the pieces nobody is known to deliver."""

    buys: tuple[Buy, ...]
    missing: int


def plan(needed: int, offers: Iterable[Offer], calendar: Calendar) -> Bought:
    """Buys a part: from one source's stock if one has enough, else from several, and the rest on order.

    Only current offers are looked at. Of sources that do, the cheapest is taken; prices in another currency than that
    of most offers are not compared and come last.
    """
    current = [offer for offer in offers if calendar.is_current(offer)]
    currency = main_currency(current)
    whole = [buy for offer in current if (buy := _from_stock(offer, needed, calendar)) and buy.pieces >= needed]
    if whole:
        return Bought((min(whole, key=lambda buy: _dearness(buy.offer, buy.cost, currency)),), 0)
    buys: list[Buy] = []
    left = needed
    for offer in sorted(current, key=lambda offer: _dearness(offer, unit_price(offer.breaks, needed), currency)):
        buy = _from_stock(offer, left, calendar)
        if buy and left > 0:
            buys.append(buy)
            left -= buy.pieces
    if left > 0:
        ordered = _on_order(left, current, calendar, currency)
        if ordered:
            buys.append(ordered)
            left = 0
    return Bought(tuple(buys), max(left, 0))


def main_currency(offers: Sequence[Offer]) -> str:
    """The currency of most offers."""
    named = [offer.currency for offer in offers if offer.breaks]
    return max(sorted(set(named)), key=named.count, default="")


def _dearness(offer: Offer, cost: Optional[float], currency: str) -> tuple[bool, float, str, int]:
    """Sorts cheap first; what cannot be compared last; then by name, so that the order of a file does not matter."""
    comparable = cost is not None and offer.currency == currency
    return not comparable, cost if cost is not None and comparable else 0.0, offer.source.casefold(), offer.line


def _from_stock(offer: Offer, wanted: int, calendar: Calendar) -> Optional[Buy]:
    """What a source can give from stock towards a number wanted; None when nothing."""
    stock = offer.stock or 0
    pieces = orderable(wanted, offer.minimum, offer.multiple)
    if pieces > stock:
        pieces = stock // offer.multiple * offer.multiple
    if pieces < max(offer.minimum, 1):
        return None
    return _buy(offer, pieces, calendar.delivery, calendar, most=stock, enough=pieces >= wanted)


def _on_order(wanted: int, offers: Sequence[Offer], calendar: Calendar, currency: str) -> Optional[Buy]:
    """The cheapest order that arrives in time; when none does, the one that arrives first."""
    buys = [
        _buy(offer, orderable(wanted, offer.minimum, offer.multiple), offer.lead_days, calendar)
        for offer in offers
        if offer.lead_days is not None and can_be_ordered(offer, calendar.today)
    ]
    in_time = [buy for buy in buys if buy.order_by >= calendar.today]
    if in_time:
        return min(in_time, key=lambda buy: _dearness(buy.offer, buy.cost, currency))
    return min(buys, key=lambda buy: (buy.lead_days, _dearness(buy.offer, buy.cost, currency)), default=None)


def can_be_ordered(offer: Offer, today: date) -> bool:
    """Whether more of it is made for whoever orders."""
    if offer.last_order is not None:
        return offer.last_order >= today
    return offer.life_cycle is not LifeCycle.DISCONTINUED


def _buy(
    offer: Offer, pieces: int, lead: int, calendar: Calendar, *, most: Optional[int] = None, enough: bool = True
) -> Buy:
    """A purchase; of a larger number where that costs less in all and the stock holds it."""
    more = cheaper_above(offer.breaks, pieces, offer.minimum, offer.multiple) if enough else None
    if more and most is not None and more[0] > most:
        more = None
    bought = more[0] if more else pieces
    day = calendar.order_by(lead)
    if most is None and offer.last_order is not None:
        day = min(day, offer.last_order)
    return Buy(
        offer=offer,
        pieces=bought,
        from_stock=most is not None,
        lead_days=lead,
        order_by=day,
        unit_price=unit_price(offer.breaks, bought),
        instead_of=pieces if more else None,
        saving=more[1] if more else 0.0,
    )
