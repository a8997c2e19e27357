# SPDX-License-Identifier: MIT
"""The arithmetic of buying against examples worked by hand."""

from __future__ import annotations

from datetime import date

import pytest

from lineworthy.intake.offers import Break, LifeCycle, Offer
from lineworthy.plans.arithmetic import (
    attrition,
    cheaper_above,
    last_time_buy,
    order_by,
    orderable,
    reorder_point,
    unit_price,
)
from lineworthy.plans.buying import Calendar, plan
from lineworthy.plans.spares import Spares, spare_pieces, spares_class
from lineworthy.sheet import built_in

LIMITS = built_in().supply
TODAY, BUILD = date(2026, 11, 25), date(2027, 4, 1)
CALENDAR = Calendar.of(TODAY, BUILD, LIMITS)


def test_order_quantity_of_small_chips() -> None:
    """100 boards x 12 x 0402 at 10 %, at least 10: 1320; one board x 5: 15.

    Source: common practice, no source (the shares); from memory: arithmetic of the order formula.
    """
    assert 1200 + attrition(1200, 10, 10) == 1320
    assert 5 + attrition(5, 10, 10) == 15
    assert 1200 + spare_pieces(1200, 100, Spares.SMALL_CHIP, LIMITS) == 1320
    assert 5 + spare_pieces(5, 1, Spares.SMALL_CHIP, LIMITS) == 15


@pytest.mark.parametrize(
    ("kind", "placed", "boards", "spare"),
    [
        # common practice, no source: share and least number of each kind of package, small runs and volume
        (Spares.SMALL_CHIP, 100, 10, 10),
        (Spares.SMALL_CHIP, 101, 10, 11),
        (Spares.SMALL_CHIP, 10000, 1000, 300),
        (Spares.CHIP, 40, 10, 5),
        (Spares.CHIP, 60, 10, 6),
        (Spares.CHIP, 10000, 1000, 100),
        (Spares.MOLDED, 20, 10, 3),
        (Spares.MOLDED, 100, 100, 5),
        (Spares.LARGE, 100, 100, 3),
        (Spares.LARGE, 500, 500, 10),
        (Spares.ELECTROLYTIC, 10, 10, 2),
        (Spares.ELECTROLYTIC, 500, 500, 10),
        (Spares.OTHER, 500, 500, 0),
        (Spares.OTHER, 2000, 2000, 2),
    ],
)
def test_spare_pieces(kind: Spares, placed: int, boards: int, spare: int) -> None:
    assert spare_pieces(placed, boards, kind, LIMITS) == spare


def test_volume_begins_exactly_at_its_limit() -> None:
    assert spare_pieces(9990, 999, Spares.SMALL_CHIP, LIMITS) == 999
    assert spare_pieces(10000, 1000, Spares.SMALL_CHIP, LIMITS) == 300
    assert spare_pieces(0, 1000, Spares.SMALL_CHIP, LIMITS) == 0


@pytest.mark.parametrize(
    ("package", "letters", "kind"),
    [
        ("R_0402_1005Metric", "R", Spares.SMALL_CHIP),
        ("0201", "C", Spares.SMALL_CHIP),
        ("0603", "R", Spares.CHIP),
        ("C_1206_3216Metric", "C", Spares.CHIP),
        ("C_1210_3225Metric", "C", Spares.MOLDED),
        ("SOT-23", "Q", Spares.MOLDED),
        ("SOT-223-3_TabPin2", "U", Spares.LARGE),
        ("D_SMA", "D", Spares.MOLDED),
        ("D_SMC", "D", Spares.LARGE),
        ("D_MELF", "D", Spares.MOLDED),
        ("TO-252-2", "Q", Spares.LARGE),
        ("Crystal_SMD_3225-4Pin_3.2x2.5mm", "Y", Spares.LARGE),
        ("CP_EIA-3216-18_Kemet-A", "C", Spares.ELECTROLYTIC),
        ("CP_Elec_6.3x5.4", "C", Spares.ELECTROLYTIC),
        ("CP_Radial_D10.0mm_P5.00mm", "C", Spares.ELECTROLYTIC),
        ("QFN-48-1EP_7x7mm_P0.5mm", "U", Spares.OTHER),
        ("PinHeader_1x03_P2.54mm_Vertical", "J", Spares.OTHER),
        ("unheard of", "X", Spares.OTHER),
        ("", "", Spares.OTHER),
    ],
)
def test_kinds_of_package(package: str, letters: str, kind: Spares) -> None:
    assert spares_class(package, letters) is kind


def test_minimum_and_multiple() -> None:
    """1320 in reels of 500 is 1500; 15 with a minimum of 100. Source: from memory: arithmetic of the order formula."""
    assert orderable(1320, 1, 500) == 1500
    assert orderable(15, 100, 1) == 100
    assert orderable(15, 100, 30) == 120
    assert orderable(1500, 500, 500) == 1500
    assert orderable(1501, 500, 500) == 2000
    assert orderable(0, 100, 100) == 0


def test_reorder_point() -> None:
    """100 a week, 16 weeks, deviation 20, 95 % (1.645): 1732. Source: from memory: inventory textbook formula."""
    assert reorder_point(100, 16, 20, 1.645) == pytest.approx(1732, abs=1)
    assert reorder_point(100, 16, 0, 1.645) == 1600


def test_last_day_to_order() -> None:
    """Ship 2027-06-30, transport 3, test 2, assembly 5, kitting 4, incoming 3, lead 84, reserve 7: 108 days before.

    Source: from memory: critical-path arithmetic, order by = ship date - (transport + test + assembly + kitting +
    incoming + longest lead time) - buffer; worked by hand with a calendar: 30 June less 108 days is 14 March.
    """
    assert order_by(date(2027, 6, 30), (3, 2, 5, 4, 3, 84, 7)) == date(2027, 3, 14)
    # the sheet's defaults: goods-in 3, kitting 4, reserve 7, the rest 0, counted back from the start of assembly
    assert CALENDAR.order_by(84) == date(2026, 12, 24)
    assert CALENDAR.order_by(112) == date(2026, 11, 26)


def test_last_time_buy() -> None:
    """1000 a year for 5 years with 2 % attrition, 50 spares, 800 in stock: 4350. From memory: arithmetic."""
    assert last_time_buy(1000, 5, 2, 50, 800) == 4350
    assert last_time_buy(10, 1, 0, 0, 100) == 0


BREAKS = (Break(1, 0.62), Break(500, 0.55), Break(600, 0.41))


def test_price_breaks() -> None:
    assert [unit_price(BREAKS, pieces) for pieces in (1, 499, 500, 599, 600, 9999)] == [
        0.62,
        0.62,
        0.55,
        0.55,
        0.41,
        0.41,
    ]
    assert unit_price((), 5) is None
    assert unit_price((Break(100, 0.1),), 5) == 0.1


def test_buying_up_to_a_break() -> None:
    """510 at 0.55 are 280.50, 600 at 0.41 are 246.00: 34.50 less for 90 more, worked by hand."""
    assert cheaper_above(BREAKS, 510, 1, 1) == (600, pytest.approx(34.50))
    assert cheaper_above(BREAKS, 600, 1, 1) is None
    assert cheaper_above((Break(1, 1.0), Break(10, 0.9)), 9, 1, 1) is None, "equal is not cheaper: 9 x 1.0 = 10 x 0.9"
    assert cheaper_above((Break(1, 1.0), Break(10, 0.89)), 9, 1, 1) == (10, pytest.approx(0.10))
    assert cheaper_above((), 9, 1, 1) is None


# --- from whom


def offer(source: str, stock: int = 0, lead: int | None = None, price: float = 1.0, **more: object) -> Offer:
    given = {"as_of": TODAY, "breaks": (Break(1, price),), "currency": "EUR", **more}
    return Offer("P", source, stock=stock, lead_days=lead, **given)


def bought(needed: int, *offers: Offer) -> list[tuple[str, int, bool]]:
    return [(buy.offer.source, buy.pieces, buy.from_stock) for buy in plan(needed, offers, CALENDAR).buys]


def test_one_cheap_source_that_has_enough_is_taken() -> None:
    assert bought(100, offer("dear", 500, price=2.0), offer("cheap", 100, price=1.0)) == [("cheap", 100, True)]
    assert bought(100, offer("cheap", 99, price=1.0), offer("dear", 500, price=2.0)) == [("dear", 100, True)]


def test_several_stocks_together_cover_what_one_does_not() -> None:
    assert bought(150, offer("b", 100, price=2.0), offer("a", 80, price=1.0)) == [("a", 80, True), ("b", 70, True)]


def test_the_rest_is_ordered_where_it_comes_in_time() -> None:
    late_and_cheap, in_time = offer("late", 0, 200, 0.5), offer("timely", 50, 84, 1.0)
    assert bought(150, late_and_cheap, in_time) == [("timely", 50, True), ("timely", 100, False)]
    assert bought(150, late_and_cheap, offer("later", 0, 210, 0.1)) == [("late", 150, False)]


def test_what_nobody_delivers_is_missing() -> None:
    made = plan(150, [offer("a", 100)], CALENDAR)
    assert (made.missing, [buy.pieces for buy in made.buys]) == (50, [100])
    gone = offer("a", 0, 20, life_cycle=LifeCycle.DISCONTINUED)
    assert plan(10, [gone], CALENDAR).missing == 10
    last = offer("a", 0, 20, life_cycle=LifeCycle.LAST_TIME_BUY, last_order=TODAY)
    assert plan(10, [last], CALENDAR).missing == 0
    assert plan(10, [last], CALENDAR).buys[0].order_by == TODAY
    over = offer("a", 0, 20, last_order=date(2026, 11, 24))
    assert plan(10, [over], CALENDAR).missing == 10


def test_stock_in_packs_is_taken_in_packs() -> None:
    packs = offer("a", 249, minimum=100, multiple=100)
    assert bought(190, packs) == [("a", 200, True)]
    assert bought(250, packs, offer("b", 999, price=9.0)) == [("b", 250, True)]
    assert bought(250, packs, offer("b", 60, price=9.0)) == [("a", 200, True), ("b", 50, True)]
    assert plan(50, [offer("a", 80, minimum=100)], CALENDAR).missing == 50


@pytest.mark.parametrize(
    ("as_of", "believed"),
    [
        # common practice, no source: older than 30 days counts as unknown
        (date(2026, 10, 26), True),
        (date(2026, 10, 25), False),
        (TODAY, True),
        (date(2026, 11, 26), False),
        (None, False),
    ],
)
def test_old_undated_and_future_data_are_not_believed(as_of: date, believed: bool) -> None:
    assert CALENDAR.is_current(offer("a", 10, as_of=as_of)) is believed
    assert bool(bought(5, offer("a", 10, as_of=as_of))) is believed


def test_prices_in_other_currencies_are_not_compared() -> None:
    offers = [offer("a", 99, price=1.0), offer("b", 99, price=1.2), offer("c", 99, price=0.1, currency="JPY")]
    assert bought(10, *offers) == [("a", 10, True)]


def test_the_order_of_the_file_changes_nothing() -> None:
    offers = [offer("b", 60, line=1), offer("a", 60, line=2), offer("c", 10, 40, line=3)]
    assert bought(150, *offers) == bought(150, *reversed(offers))


def test_the_stock_bounds_what_a_break_may_add() -> None:
    (buy,) = plan(510, [offer("a", 550, breaks=BREAKS)], CALENDAR).buys
    assert (buy.pieces, buy.instead_of) == (510, None)
    (buy,) = plan(510, [offer("a", 600, breaks=BREAKS)], CALENDAR).buys
    assert (buy.pieces, buy.instead_of, round(buy.saving, 2)) == (600, 510, 34.5)
