# SPDX-License-Identifier: MIT
"""A build held against what is offered: can its parts be had, in time, and again?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from pathlib import PurePath
from typing import Optional

from lineworthy.finding import Consequence, Finding, places_of
from lineworthy.intake.offers import Offers
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import RiskKind, Standing, SupplyLine, standing_words, weeks
from lineworthy.registry import Answers, Check, check

NO_RUN = "no supply run: offers, build quantity and build date are needed"
HOW = "give --offers FILE, --build N and --by DATE, or the same in the project's settings"


@check("supply/offers-unreadable")
def offers_unreadable(offers: Optional[Offers]) -> Answers:
    """Are there lines or cells in the offers file that cannot be read?

    Why it matters: what cannot be read counts as not stated, and the part may look worse than it is, or better.
    What to do: write numbers plainly, lead times with their unit, dates as 2027-03-01.
    Blind spots: a number read wrongly is not seen here.
    Source: the file itself.
    """
    if offers is None:
        yield offers_unreadable.not_run("no offers file", "give --offers FILE, or 'offers' in the project's settings")
    elif offers.unread:
        told = "; ".join(str(item) for item in offers.unread[:5])
        more = f"; and {len(offers.unread) - 5} more" if len(offers.unread) > 5 else ""
        name = PurePath(offers.source.replace("\\", "/")).name
        what = f"{counted(len(offers.unread), 'place')} in {name} cannot be read: {told}{more}"
        yield offers_unreadable.finding(Consequence.QUERY, what, detail=told)


@check("supply/part-short")
def part_short(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Is there a part of which nobody is known to deliver enough?

    Why it matters: a board that lacks one part is not built, whatever the others cost.
    What to do: find another source, approve an alternate, change the design, or build fewer.
    Blind spots: only sources in the offers file. Pieces for spares alone are a query; they are common practice.
    Source: the offers file; spare pieces by the sheet's supply limits (common practice, no source).
    """
    if supply is None:
        yield part_short.not_run(NO_RUN, HOW)
        return
    for line in supply.standing(Standing.SHORT):
        placed_missing = line.missing - line.spare > 0
        words = f"{line.label}: {standing_words(line)}{_way_out(line)}"
        grave = Consequence.HOLD if placed_missing else Consequence.QUERY
        yield _finding(part_short, grave, board, [line], words, measured=line.needed - line.missing, limit=line.needed)


@check("supply/part-late", limits=("supply.incoming_days", "supply.kitting_days", "supply.buffer_days"))
def part_late(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Is there a part that does not arrive in time for the build?

    Why it matters: the longest lead time sets the date of the whole build. Ordering on the day it is missed does not
    bring it back.
    What to do: order now; look for stock elsewhere or an approved alternate; or move the build.
    Blind spots: lead times are what sources state. A part that arrives before the build but not before goods-in and
    kitting is a query, inside the reserve a note: those days are common practice.
    Source: order by = build date - lead time - goods-in - kitting - reserve; from memory: critical-path arithmetic. The
    days by the sheet's supply limits (common practice, no source).
    """
    if supply is None:
        yield part_late.not_run(NO_RUN, HOW)
        return
    for line in supply.standing(Standing.LATE, Standing.TIGHT):
        arrives = supply.today + timedelta(days=line.lead_days or 0)
        grave = Consequence.HOLD if arrives > supply.build else Consequence.QUERY
        grave = Consequence.NOTE if line.standing is Standing.TIGHT else grave
        words = f"{line.label}: ordered today it arrives on {arrives.isoformat()}, the build is on "
        words += f"{supply.build.isoformat()}; {standing_words(line)}{_way_out(line)}"
        yield _finding(part_late, grave, board, [line], words, measured=line.late_days, limit=0, unit="days")


@check("supply/part-not-offered")
def part_not_offered(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Is there a part that no line of the offers file is about?

    Why it matters: nobody has asked whether it can be had.
    What to do: ask, and add its line; correct the number where list and offers spell it differently.
    Blind spots: numbers are compared without blanks, dashes and case. Parts without a number are another check's.
    Source: the two files themselves.
    """
    if supply is None:
        yield part_not_offered.not_run(NO_RUN, HOW)
        return
    lines = supply.standing(Standing.NOT_OFFERED)
    if lines:
        what = f"{counted(len(lines), 'part')} of {len(supply.lines)} not in the offers: {_labels(lines)}"
        yield _finding(part_not_offered, Consequence.QUERY, board, lines, what)


@check("supply/offer-outdated", limits=("supply.data_max_days",))
def offer_outdated(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Is what is known of a part too old to be relied on?

    Why it matters: stock sells out in a day and a life cycle ends with one letter. Old data are not good news; they are
    no news.
    What to do: ask again, and date each line of the offers file.
    Blind spots: a fresh date on old data is believed.
    Source: common practice, no source: 30 days.
    """
    if supply is None:
        yield offer_outdated.not_run(NO_RUN, HOW)
        return
    lines = supply.standing(Standing.UNKNOWN)
    if lines:
        most = supply.sheet.supply.data_max_days
        what = f"stock, price and life cycle of {counted(len(lines), 'part')} are not known, because the data are "
        what += f"undated or older than {counted(most, 'day')}: {_labels(lines)}"
        key = "supply.data_max_days"
        yield _finding(offer_outdated, Consequence.QUERY, board, lines, what, limit=most, unit="days", limit_key=key)


@check("supply/life-cycle-ending")
def life_cycle_ending(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Is a part discontinued, in its last-time buy, or not recommended for new designs?

    Why it matters: this build may be the last that can be made. A redesign takes longer than the stock lasts.
    What to do: buy for the years to come while it is possible, or design it out; the notice says until when.
    Blind spots: the state is what the offers file says; the worst of several sources counts.
    Source: terms: IEC 62402:2019 and common practice, no source. A discontinued part's last order comes six months or
    more after the notice; from memory: J-STD-048.
    """
    if supply is None:
        yield life_cycle_ending.not_run(NO_RUN, HOW)
        return
    for kind in (RiskKind.DISCONTINUED, RiskKind.LAST_TIME_BUY):
        for line in _with(supply, kind):
            words = next(risk.text for risk in line.risks if risk.kind is kind)
            yield _finding(life_cycle_ending, Consequence.QUERY, board, [line], f"{line.label}: {words}")
    lines = _with(supply, RiskKind.NOT_FOR_NEW)
    if lines:
        what = f"{counted(len(lines), 'part')} not recommended for new designs: {_labels(lines)}"
        yield _finding(life_cycle_ending, Consequence.NOTE, board, lines, what)


@check("supply/single-source")
def single_source(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Do parts depend on one approved number, one maker or one seller?

    Why it matters: one fire, one allocation or one price rise stops the product.
    What to do: approve a second part, or write down why there is none; ask a second seller.
    Blind spots: whether another maker's part exists is not known. A list that lets the buyer take any equivalent, or
    gives a reason, passes.
    Source: common practice, no source.
    """
    if supply is None:
        yield single_source.not_run(NO_RUN, HOW)
        return
    for kind, one, more in (
        (RiskKind.SOLE_SOURCE, "comes from a sole source", "come from a sole source"),
        (
            RiskKind.SINGLE_SOURCE,
            "has one approved number and no reason for it",
            "have one approved number and no reason",
        ),
        (RiskKind.ONE_SELLER, "has one seller", "have one seller each"),
    ):
        lines = _with(supply, kind)
        if lines:
            what = f"{len(lines)} of {counted(len(supply.lines), 'part')} {one if len(lines) == 1 else more}"
            yield _finding(
                single_source, Consequence.NOTE, board, lines, f"{what}: {_labels(lines)}", detail=kind.value
            )


@check("supply/lead-time-long", limits=("supply.long_lead_days",))
def lead_time_long(board: Board, supply: Optional[SupplyRun]) -> Answers:
    """Does a part that has to be ordered take very long?

    Why it matters: it can still be ordered in time, and sets the date of the build. It is the one to order first.
    What to do: order it now, ahead of the rest.
    Blind spots: parts covered by stock are left out, however long the next delivery takes.
    Source: common practice, no source: 16 weeks.
    """
    if supply is None:
        yield lead_time_long.not_run(NO_RUN, HOW)
        return
    lines = _with(supply, RiskKind.LONG_LEAD)
    if lines:
        key, most = "supply.long_lead_days", supply.sheet.supply.long_lead_days
        told = "; ".join(f"{line.label} {weeks(line.lead_days)}, order by {line.order_by}" for line in lines[:6])
        more = f"; and {len(lines) - 6} more" if len(lines) > 6 else ""
        what = f"{counted(len(lines), 'part')} with a lead time over {weeks(most)}: {told}{more}"
        longest = max(line.lead_days or 0 for line in lines)
        yield _finding(
            lead_time_long,
            Consequence.NOTE,
            board,
            lines,
            what,
            measured=longest,
            limit=most,
            unit="days",
            limit_key=key,
        )


def _with(supply: SupplyRun, kind: RiskKind) -> list[SupplyLine]:
    """Lines with a risk, by their places and not by worry, so that one part's trouble does not reorder another's."""
    return sorted((line for line in supply.lines if line.has(kind)), key=lambda line: natural(line.label))


def _labels(lines: Sequence[SupplyLine]) -> str:
    return listed((line.label for line in lines), 6)


def _way_out(line: SupplyLine) -> str:
    return f"; {line.way_out}" if line.way_out else ""


def _finding(
    of: Check,
    consequence: Consequence,
    board: Board,
    lines: Iterable[SupplyLine],
    message: str,
    *,
    detail: str = "",
    measured: Optional[float] = None,
    limit: Optional[float] = None,
    unit: str = "",
    limit_key: str = "",
) -> Finding:
    """A finding about parts to buy; its fingerprint is theirs, and not the day's numbers."""
    lines = list(lines)
    names = {name for line in lines for name in line.line.references}
    parts: list[Part] = sorted(
        (part for part in board.parts if part.reference in names), key=lambda part: (natural(part.reference), part.uid)
    )
    numbers = " ".join(sorted(line.line.maker_part or line.label for line in lines))
    return of.finding(
        consequence,
        message,
        items=parts,
        places=places_of(parts),
        measured=measured,
        limit=limit,
        unit=unit,
        limit_key=limit_key,
        detail=f"{detail} {numbers}",
    )


CHECKS = (
    offers_unreadable,
    part_short,
    part_late,
    part_not_offered,
    offer_outdated,
    life_cycle_ending,
    single_source,
    lead_time_long,
)
