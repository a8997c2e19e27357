# SPDX-License-Identifier: MIT
"""The arithmetic of buying: how many, at what price, by when. Plain functions, to be checked by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Optional

from lineworthy.intake.offers import Break

_TINY = 1e-9


def attrition(pieces: int, percent: float, at_least: int) -> int:
    """Pieces lost in setting up and placing: a share of what is placed, rounded up, and never less than a minimum."""
    return max(math.ceil(pieces * percent / 100 - _TINY), at_least) if pieces > 0 else 0


def orderable(pieces: int, minimum: int = 1, multiple: int = 1) -> int:
    """The smallest number that can be ordered: at least the minimum, and a whole number of multiples."""
    if pieces <= 0:
        return 0
    return math.ceil(max(pieces, minimum) / multiple) * multiple


def order_by(needed: date, days: Sequence[int]) -> date:
    """The last day to order: back from the day of need by every step that comes between."""
    return needed - timedelta(days=sum(days))


def unit_price(breaks: Sequence[Break], pieces: int) -> Optional[float]:
    """Price of one when so many are bought; None when none is stated. Below the first break, the first price holds."""
    price = breaks[0].price if breaks else None
    for step in breaks:
        if pieces >= step.quantity:
            price = step.price
    return price


def cheaper_above(breaks: Sequence[Break], pieces: int, minimum: int, multiple: int) -> Optional[tuple[int, float]]:
    """A larger quantity that costs less in all, as (pieces, saving), the one that saves most; None without one."""
    price = unit_price(breaks, pieces)
    if price is None:
        return None
    best: Optional[tuple[int, float]] = None
    for step in breaks:
        more = orderable(step.quantity, minimum, multiple)
        if more <= pieces:
            continue
        there = unit_price(breaks, more)
        assert there is not None
        saving = round(pieces * price - more * there, 9)
        if saving > 0 and (best is None or saving > best[1]):
            best = (more, saving)
    return best


def reorder_point(per_week: float, lead_weeks: float, spread_per_week: float, service: float) -> float:
    """Stock at which to order again: what the lead time uses up, and a reserve for its scatter.

    Args:
        per_week: pieces used in a week.
        lead_weeks: time to delivery.
        spread_per_week: standard deviation of a week's use.
        service: standard normal deviate of the wanted certainty, 1.645 for 95 %.
    """
    return per_week * lead_weeks + service * spread_per_week * math.sqrt(lead_weeks)


def last_time_buy(per_year: float, years: float, percent: float, spares: int, stock: int) -> int:
    """Pieces to buy for the last time: use over the years left with attrition, and spares, less what is there."""
    return max(math.ceil(per_year * years * (1 + percent / 100) + spares - stock - _TINY), 0)
