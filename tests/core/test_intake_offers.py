# SPDX-License-Identifier: MIT
"""The offers file: columns, prices, times, life cycles; what cannot be read is named and counts as not stated."""

from __future__ import annotations

from datetime import date

import pytest

from lineworthy.errors import InputError
from lineworthy.intake.offers import Break, LifeCycle, Offer, Offers, offers_in, part_key

HEAD = "manufacturer_part,source,stock,lead_weeks,life_cycle,minimum,multiple,prices,currency,date,last_order"


def read(*rows: str, head: str = HEAD) -> Offers:
    return offers_in("\n".join([head, *rows]).encode(), "offers.csv")


def one(*rows: str, head: str = HEAD) -> Offer:
    offers = read(*rows, head=head)
    assert not offers.unread, offers.unread
    return offers.offers[0]


def test_a_whole_line() -> None:
    offer = one("A-1,Harrow,1200,12,active,100,50,1: 0.52; 100: 0.31,EUR,2026-11-18,2027-03-31")
    assert (offer.maker_part, offer.source, offer.stock, offer.lead_days) == ("A-1", "Harrow", 1200, 84)
    assert (offer.minimum, offer.multiple, offer.currency) == (100, 50, "EUR")
    assert offer.breaks == (Break(1, 0.52), Break(100, 0.31))
    assert (offer.as_of, offer.last_order) == (date(2026, 11, 18), date(2027, 3, 31))
    assert offer.life_cycle is LifeCycle.ACTIVE


def test_what_is_not_stated_is_not_known() -> None:
    offer = one("A-1,Harrow,,,,,,,,,")
    assert (offer.stock, offer.lead_days, offer.breaks, offer.as_of) == (None, None, (), None)
    assert (offer.minimum, offer.multiple, offer.life_cycle) == (1, 1, LifeCycle.UNKNOWN)


def test_no_stock_is_not_unknown_stock() -> None:
    assert one("A-1,Harrow,0,,,,,,,,").stock == 0


@pytest.mark.parametrize(
    ("head", "row", "breaks"),
    [
        ("MPN,Supplier,Price", "A,H,0.5", (Break(1, 0.5),)),
        ("MPN,Supplier,Price@1,Price@100", "A,H,0.5,0.4", (Break(1, 0.5), Break(100, 0.4))),
        ("MPN,Supplier,price_1,price_1000", "A,H,0.5,", (Break(1, 0.5),)),
        ("MPN,Supplier,1+,10+", "A,H,0.5,0.4", (Break(1, 0.5), Break(10, 0.4))),
        ("MPN;Supplier;Preise", "A;H;1: 0,52 | 100: 0,31", (Break(1, 0.52), Break(100, 0.31))),
        ("MPN;Supplier;Preis", "A;H;1,234", (Break(1, 1.234),)),
        ("MPN,Supplier,Prices", "A,H,100=0.31; 1=0.52 EUR", (Break(1, 0.52), Break(100, 0.31))),
    ],
)
def test_prices_as_people_write_them(head: str, row: str, breaks: tuple[Break, ...]) -> None:
    assert one(row, head=head).breaks == breaks


@pytest.mark.parametrize(
    ("head", "cell", "days"),
    [
        ("lead_weeks", "12", 84),
        ("Lead time (weeks)", "12", 84),
        ("lead_days", "12", 12),
        ("Lead time", "12 weeks", 84),
        ("lead time", "8-10 wk", 70),
        ("Lieferzeit Wochen", "6", 42),
        ("Lieferzeit (Tage)", "6", 6),
    ],
)
def test_lead_times(head: str, cell: str, days: int) -> None:
    assert one(f"A,H,{cell}", head=f"MPN,Source,{head}").lead_days == days


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ("Active", LifeCycle.ACTIVE),
        ("In Production", LifeCycle.ACTIVE),
        ("NRND", LifeCycle.NOT_FOR_NEW),
        ("Not Recommended for New Designs", LifeCycle.NOT_FOR_NEW),
        ("LTB", LifeCycle.LAST_TIME_BUY),
        ("Last Time Buy", LifeCycle.LAST_TIME_BUY),
        ("EOL", LifeCycle.LAST_TIME_BUY),
        ("Obsolete", LifeCycle.DISCONTINUED),
        ("discontinued", LifeCycle.DISCONTINUED),
        ("Preview", LifeCycle.PREVIEW),
        ("unknown", LifeCycle.UNKNOWN),
        ("", LifeCycle.UNKNOWN),
    ],
)
def test_life_cycles(said: str, state: LifeCycle) -> None:
    assert one(f"A,H,{said}", head="MPN,Source,Life cycle").life_cycle is state


def test_cells_that_cannot_be_read_are_named() -> None:
    head = "MPN,Source,stock,lead time,life cycle,prices,date,height"
    offers = read("A,H,many,12,zombie,dear,03/04/2027,tall", head=head)
    words = [str(item) for item in offers.unread]
    assert len(words) == 6
    assert "line 2: stock 'many' is no whole number; taken as not stated" in words
    assert any("lead time '12' is no time with a unit" in text for text in words)
    assert any("no date that can be read one way" in text for text in words)
    (offer,) = offers.offers
    assert (offer.stock, offer.lead_days, offer.as_of, offer.breaks) == (None, None, None, ())


def test_lines_without_part_or_source_are_named() -> None:
    offers = read(",H,1,,,,,,,,", "A,,1,,,,,,,,")
    assert not offers.offers
    assert [(item.line, item.reason) for item in offers.unread] == [(2, "no manufacturer part"), (3, "no source")]


def test_a_file_that_is_none() -> None:
    with pytest.raises(InputError, match="no header of a list of offers"):
        offers_in(b"Ref,Value\nR1,1k\n", "f")


def test_numbers_are_found_whatever_their_dashes_and_case() -> None:
    offers = read("RC0402-10K,H,1,,,,,,,,")
    assert len(offers.of("rc 0402 10k")) == 1
    assert part_key("RC\u20110402") == part_key("RC-0402")
    assert not offers.of("RC0402-100K")


def test_other_columns_are_kept_and_said() -> None:
    offers = read("A,H,50,green", head="MPN,Source,Voltage,Colour")
    assert offers.ignored == ("Voltage", "Colour")
    assert offers.offers[0].others == {"Voltage": "50", "Colour": "green"}


def test_a_lead_time_that_is_no_number_names_line_column_and_value() -> None:
    text = b"manufacturer_part,source,lead_weeks\nA,S,soon\nB,S,12\n"
    (unread,) = offers_in(text, "offers.csv").unread
    assert str(unread) == "line 2: lead_weeks 'soon' is no number of weeks; taken as not stated"
