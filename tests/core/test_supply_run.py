# SPDX-License-Identifier: MIT
"""The supply run: how each part stands, what speaks against it, what it costs; and that it can be repeated."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import pytest

from build import smd_part, with_fields
from lineworthy.intake.offers import LifeCycle
from lineworthy.intake.parts_list import PartsList
from lineworthy.plans.supply import Demand
from lineworthy.plans.supply_line import RiskKind, Standing, SupplyLine
from supply_build import BUILD, HEAD, TODAY, board_of, listed, offered, resistor, run_of

FRESH = "2026-11-18"


def line_of(run, number: str = "A-1") -> SupplyLine:
    return next(line for line in run.lines if line.line.maker_part == number)


def stands(offer: str, boards: int = 100, **more) -> SupplyLine:
    return line_of(run_of(listed("U1,1,x,QFN-48,A-1"), offered(offer), boards, **more))


@pytest.mark.parametrize(
    ("offer", "standing"),
    [
        (f"A-1,H,100,,active,1,1,1: 2,EUR,{FRESH},", Standing.IN_STOCK),
        (f"A-1,H,99,,active,1,1,1: 2,EUR,{FRESH},", Standing.SHORT),
        (f"A-1,H,0,12,active,1,1,1: 2,EUR,{FRESH},", Standing.TO_ORDER),
        (f"A-1,H,0,30,active,1,1,1: 2,EUR,{FRESH},", Standing.LATE),
        ("A-1,H,500,1,active,1,1,1: 2,EUR,2026-10-25,", Standing.UNKNOWN),
        ("A-1,H,500,1,active,1,1,1: 2,EUR,,", Standing.UNKNOWN),
        (f"B-2,H,500,1,active,1,1,1: 2,EUR,{FRESH},", Standing.NOT_OFFERED),
        (f"A-1,H,0,12,obsolete,1,1,1: 2,EUR,{FRESH},", Standing.SHORT),
    ],
)
def test_how_a_part_stands(offer: str, standing: Standing) -> None:
    assert stands(offer).standing is standing


def test_on_the_last_day_it_can_still_be_ordered_and_a_day_later_the_reserve_goes() -> None:
    """12 weeks, and 3 + 4 + 7 days: 2026-12-24 is the last day; worked by hand with a calendar."""
    offer = f"A-1,H,0,12,active,1,1,1: 2,EUR,{FRESH},"
    last = date(2026, 12, 24)
    days = {}
    for shift in (0, 1, 7, 8):
        found = stands(offer.replace(FRESH, "2026-12-10"), today=last + timedelta(days=shift))
        assert found.order_by == last
        days[shift] = (found.standing, found.late_days)
    assert days == {
        0: (Standing.TO_ORDER, 0),
        1: (Standing.TIGHT, 1),
        7: (Standing.TIGHT, 7),
        8: (Standing.LATE, 8),
    }


def test_a_part_without_a_number_is_unnamed() -> None:
    run = run_of(listed("R1,1,10k,0402,"), offered(f"A-1,H,1,,,,,,,{FRESH},"))
    assert run.lines[0].standing is Standing.UNNAMED
    assert run.lines[0].costs == {}
    assert run.unlisted == ("A-1",)


def test_lines_that_name_one_part_are_bought_once() -> None:
    parts = listed('"R1,R2",2,10k,0402,A-1', "R7,1,10k,0402,a 1", ",3,tape,,A-1")
    run = run_of(parts, offered(f"A-1,H,9999,,active,1,1,1: 2,EUR,{FRESH},"), 10)
    assert [(line.placed, line.spare) for line in run.lines] == [(60, 10)]
    assert run.lines[0].line.references == ("R1", "R2", "R7")


def test_what_is_not_fitted_is_not_bought() -> None:
    assert run_of(listed("R1,1,DNP,0402,A-1"), offered(f"A-1,H,1,,,,,,,{FRESH},")).lines == ()
    empty = run_of(listed("R1,0,1k,0402,A-1"), offered(f"A-1,H,1,,,,,,,{FRESH},"))
    assert empty.verdict == "Nothing to buy: the parts list has no fitted line."


def test_the_board_says_what_the_list_leaves_out() -> None:
    layout = board_of(resistor(1, MPN="A-1", Substitution="none"), resistor(2, MPN="A-1", Alternate="B-9"))
    run = run_of(listed("R1-R2,2", head="Ref,Qty,Package"), offered(f"A-1,H,9999,,,,,1: 1,EUR,{FRESH},"), layout=layout)
    (line,) = run.lines
    assert (line.line.maker_part, line.substitution, line.spares.value) == ("A-1", "none", "chip up to 0402")
    assert [other.maker_part for other in line.alternates] == ["B-9"]


def test_the_board_alone_can_be_the_list() -> None:
    layout = board_of(resistor(1, MPN="A-1"), resistor(2, MPN="A-1"), resistor(3, "1k"))
    parts = PartsList.from_board(layout)
    assert [line.references for line in parts.lines] == [("R1", "R2"), ("R3",)]
    run = run_of(parts, offered(f"A-1,H,9999,,,,,1: 1,EUR,{FRESH},"), layout=layout)
    assert {line.line.maker_part: line.standing for line in run.lines} == {
        "A-1": Standing.IN_STOCK,
        "": Standing.UNNAMED,
    }


# --- risks


def kinds(line: SupplyLine) -> set[RiskKind]:
    return {risk.kind for risk in line.risks}


def test_one_part_and_one_seller() -> None:
    two = (f"A-1,H,500,,active,1,1,1: 2,EUR,{FRESH},", f"A-1,L,500,,active,1,1,1: 3,EUR,{FRESH},")
    assert kinds(stands(two[0])) == {RiskKind.SINGLE_SOURCE, RiskKind.ONE_SELLER}
    (line,) = run_of(listed("U1,1,x,QFN-48,A-1"), offered(*two)).lines
    assert kinds(line) == {RiskKind.SINGLE_SOURCE}


@pytest.mark.parametrize(
    ("cells", "risk"),
    [
        ("any equivalent,", None),
        ("approved alternates only,", RiskKind.SINGLE_SOURCE),
        ("none,", RiskKind.SINGLE_SOURCE),
        (",single source: measured with this one", None),
        (",sole source: type approval", RiskKind.SOLE_SOURCE),
    ],
)
def test_a_reason_or_a_free_choice_is_no_single_source(cells: str, risk: RiskKind) -> None:
    parts = listed(f"U1,1,x,QFN-48,A-1,{cells}", head="Ref,Qty,Value,Package,MPN,Substitution,Sourcing")
    offers = offered(*(f"A-1,{name},500,,active,1,1,1: 2,EUR,{FRESH}," for name in "HL"))
    assert kinds(run_of(parts, offers).lines[0]) == ({risk} if risk else set())


@pytest.mark.parametrize(
    ("state", "last", "kind", "life"),
    [
        ("NRND", "", RiskKind.NOT_FOR_NEW, LifeCycle.NOT_FOR_NEW),
        ("LTB", "2027-03-31", RiskKind.LAST_TIME_BUY, LifeCycle.LAST_TIME_BUY),
        ("active", "2027-03-31", RiskKind.LAST_TIME_BUY, LifeCycle.LAST_TIME_BUY),
        ("active", "2026-11-24", RiskKind.DISCONTINUED, LifeCycle.DISCONTINUED),
        ("obsolete", "", RiskKind.DISCONTINUED, LifeCycle.DISCONTINUED),
        ("active", "", None, LifeCycle.ACTIVE),
    ],
)
def test_life_cycles(state: str, last: str, kind: RiskKind, life: LifeCycle) -> None:
    found = stands(f"A-1,H,500,,{state},1,1,1: 2,EUR,{FRESH},{last}")
    assert found.life_cycle is life
    assert kinds(found) - {RiskKind.SINGLE_SOURCE, RiskKind.ONE_SELLER} == ({kind} if kind else set())


def test_old_news_of_a_life_cycle_is_no_news() -> None:
    rows = ("A-1,H,500,,obsolete,1,1,1: 2,EUR,2026-01-01,", f"A-1,L,500,,active,1,1,1: 2,EUR,{FRESH},")
    (line,) = run_of(listed("U1,1,x,QFN-48,A-1"), offered(*rows)).lines
    assert (line.life_cycle, line.outdated, line.sellers) == (LifeCycle.ACTIVE, 1, ("L",))


def test_long_lead_times_only_count_where_one_has_to_wait() -> None:
    """16 weeks are not long, a day more is (common practice, no source)."""
    early = date(2026, 11, 20)
    for weeks, long in (("112 days", False), ("113 days", True)):
        row = f"A-1,H,0,{weeks},active,1,1,1: 2,EUR,{FRESH},"
        assert (RiskKind.LONG_LEAD in kinds(stands(row, today=early))) is long
    stocked = stands(f"A-1,H,100,113 days,active,1,1,1: 2,EUR,{FRESH},")
    assert RiskKind.LONG_LEAD not in kinds(stocked)


# --- alternates

WIDE = f"{HEAD},package,height,voltage,tolerance"


def verdict(
    alternate: str, line: str = "C1,1,100n 50V,C_0402_1005Metric,A-1,B-1"
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    parts = listed(line, head="Ref,Qty,Value,Package,MPN,Alternate")
    offers = offered(f"A-1,H,999,,,,,,,{FRESH},,,0.5,,", f"B-1,H,999,,,,,,,{FRESH},,{alternate}", head=WIDE)
    (found,) = line_of(run_of(parts, offers)).alternates
    return found.differs, found.agrees


def test_alternates_are_held_against_package_height_and_rating() -> None:
    assert verdict("0402,0.5,50,") == ((), ("package", "height", "voltage"))
    assert verdict("0603,,,")[0] == ("package 0603, not C_0402_1005Metric",)
    assert verdict(",0.55,,")[0] == ("0.55 mm high, not 0.5 mm",)
    assert verdict(",,16,")[0] == ("voltage 16 V, less than 50 V",)
    assert verdict(",0.45,63,") == ((), ("height", "voltage"))
    assert verdict(",,,") == ((), ())
    assert verdict(",,,5", "C1,1,100n 1%,0402,A-1,B-1")[0] == ("tolerance 5 %, wider than 1 %",)


def test_a_number_that_tells_its_size_is_held_against_the_package() -> None:
    parts = listed("R1,1,10k,R_0402_1005Metric,A-1,RC0603FR-10K", head="Ref,Qty,Value,Package,MPN,Alternate")
    (found,) = run_of(parts, offered(f"A-1,H,1,,,,,,,{FRESH},")).lines[0].alternates
    assert found.differs == ("size 0603 by its number, not R_0402_1005Metric",)


def test_an_alternate_in_stock_is_a_way_out_unless_the_policy_forbids_it() -> None:
    offers = offered(f"A-1,H,0,40,,,,,,{FRESH},", f"B-1,L,900,,,,,,,{FRESH},")
    for policy, way in (("approved", "alternate B-1 can be had from L"), ("none", "")):
        parts = listed(f"U1,1,x,QFN-48,A-1,B-1,{policy}", head="Ref,Qty,Value,Package,MPN,Alternate,Substitution")
        assert line_of(run_of(parts, offers)).way_out == way


# --- consolidation


def groups(*rows: str) -> list[str]:
    return [group.in_words for group in run_of(listed(*rows), offered(f"A-1,H,1,,,,,,,{FRESH},")).groups]


def test_the_same_value_in_the_same_package_could_be_one_part() -> None:
    assert groups("R1,1,10k,0402,A-1", "R2,1,10 k\u03a9,R_0402_1005Metric,B-1") == ["10k in 0402: A-1 (R1), B-1 (R2)"]
    assert groups("C1,1,100n,0402,A-1", "C2,1,0.1uF,0402,B-1", "C3,1,0u1,0402,C-1")[0].count("(") == 3


@pytest.mark.parametrize(
    "other",
    [
        "R2,1,10k,0603,B-1",
        "R2,1,1k,0402,B-1",
        "R2,1,10k 0.1%,0402,B-1",
        "R2,1,10k,0402,A-1",
        "R2,1,10k,0402,",
        "C2,1,10k,0402,B-1",
        "R2,1,10k,,B-1",
    ],
)
def test_what_differs_in_anything_is_not_consolidated(other: str) -> None:
    assert groups("R1,1,10k,0402,A-1", other) == []


def test_dielectrics_and_ratings_tell_parts_apart() -> None:
    assert groups("C1,1,100n X7R,0402,A-1", "C2,1,100n C0G,0402,B-1") == []
    assert groups("C1,1,100n 16V,0402,A-1", "C2,1,100n 50V,0402,B-1") == []
    assert len(groups("C1,1,100n 50 V,0402,A-1", "C2,1,100nF/50V,0402,B-1")) == 1


# --- the whole


def test_costs_and_the_critical_path() -> None:
    parts = listed("U1,1,x,QFN-48,A-1", "U2,1,y,QFN-48,B-1", "U3,1,z,QFN-48,C-1")
    offers = offered(
        f"A-1,H,500,,active,1,1,1: 2.00,EUR,{FRESH},",
        f"B-1,H,0,10,active,1,1,1: 3.00,EUR,{FRESH},",
        f"C-1,H,0,15,NRND,1,1,1: 0.50,USD,{FRESH},",
        *(f"{part},L,1,,active,1,1,1: 9,EUR,{FRESH}," for part in ("A-1", "B-1")),
    )
    run = run_of(parts, offers)
    assert run.costs == {"EUR": 200 + 9 + 297, "USD": 50}
    assert run.risky_costs == {"USD": 50}
    assert run.critical.line.maker_part == "C-1"
    assert run.verdict == "All 3 parts can be had if ordered in time, the first by 2026-12-03."


def test_going_on_building() -> None:
    """40 boards a week, 2 a board, 16 weeks: 1280 without scatter. From memory: inventory textbook formula."""
    parts = listed('"U1,U2",2,x,QFN-48,A-1')
    offers = offered(f"A-1,H,500,16,active,1,1,1: 2,EUR,{FRESH},")
    run = run_of(parts, offers, demand=Demand(40, 0, 2))
    assert run.reorder_at(run.lines[0]) == 1280
    assert run.lifetime_need(run.lines[0]) == 40 * 52 * 2 * 2
    steady = run_of(parts, offers, demand=Demand(40, 10, 2))
    assert steady.reorder_at(steady.lines[0]) == round(1280 + 1.645 * 20 * 4)
    assert run_of(parts, offers).reorder_at(run.lines[0]) is None


def test_the_same_input_gives_the_same_run_and_far_parts_change_nothing() -> None:
    parts = listed("U1,1,x,QFN-48,A-1", "U2,1,y,QFN-48,B-1")
    rows = [f"A-1,H,0,30,active,1,1,1: 2,EUR,{FRESH},", f"B-1,H,900,,active,1,1,1: 2,EUR,{FRESH},"]
    first, second = run_of(parts, offered(*rows)), run_of(parts, offered(*reversed(rows)))
    assert [line.label for line in first.lines] == [line.label for line in second.lines]
    assert first.verdict == second.verdict
    more = listed("U1,1,x,QFN-48,A-1", "U2,1,y,QFN-48,B-1", "U9,1,z,QFN-48,Z-9")
    assert line_of(run_of(more, offered(*rows))).order_by == line_of(first).order_by


def test_the_board_tells_the_package_and_its_height() -> None:
    part = dataclasses.replace(with_fields(smd_part("U1", (20, 20)), {"MPN": "A-1"}), height=1.2)
    (line,) = run_of(
        PartsList.from_board(board_of(part)), offered(f"A-1,H,1,,,,,,,{FRESH},"), layout=board_of(part)
    ).lines
    assert (line.package, line.line.height) == ("SOIC-8", 1.2)


def test_dates_are_an_input() -> None:
    assert BUILD > TODAY
    row = f"A-1,H,100,,active,1,1,1: 2,EUR,{FRESH},"
    assert stands(row, today=date(2026, 12, 18)).standing is Standing.IN_STOCK
    assert stands(row, today=date(2026, 12, 19)).standing is Standing.UNKNOWN
