# SPDX-License-Identifier: MIT
"""How a supply run is put into words: money, dates, purchases. Plain text; whoever prints it escapes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import PurePath

from lineworthy.knowledge.wording import counted, listed
from lineworthy.plans.buying import Buy
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import RiskKind, Standing, SupplyLine, weeks


def money(amounts: Mapping[str, float]) -> str:
    """``1,234.50 EUR``, several currencies side by side, ``none known`` without any."""
    return " + ".join(f"{amount:,.2f} {currency}".strip() for currency, amount in amounts.items()) or "none known"


def share(run: SupplyRun) -> str:
    """How much of the build's cost lies on lines at risk."""
    whole, risky = run.costs, run.risky_costs
    if len(whole) == 1 and len(risky) == 1:
        part, total = (float(next(iter(amounts.values()))) for amounts in (risky, whole))
        return f"{money(risky)} ({100 * part / total:.0f} %)" if total else money(risky)
    return money(risky) if risky else "none of it"


def purchase(buy: Buy) -> str:
    """``1,200 from Harrow (stock) at 0.0041 EUR``."""
    how = "stock" if buy.from_stock else weeks(buy.lead_days)
    price = "" if buy.unit_price is None else f" at {buy.unit_price:.6g} {buy.offer.currency}".rstrip()
    more = f"; cheaper than {buy.instead_of:,}, saves {buy.saving:,.2f}" if buy.instead_of is not None else ""
    return f"{buy.pieces:,} from {buy.offer.source} ({how}){price}{more}"


def purchases(line: SupplyLine) -> str:
    """All purchases for a part."""
    return "; ".join(purchase(buy) for buy in line.buys) or "nothing"


def risks(line: SupplyLine) -> str:
    """What speaks against a part, and the way out where there is one."""
    words = [risk.text for risk in line.risks]
    return "; ".join([*words, line.way_out] if line.way_out else words)


def summary(run: SupplyRun) -> Iterator[tuple[str, str]]:
    """The run in short, as pairs of what and how."""
    first = run.critical
    if first is not None and first.order_by is not None:
        due = f"{first.label}: order by {first.order_by.isoformat()}"
        if first.late_days:
            due += f", {counted(first.late_days, 'day')} ago"
        yield "Critical path", f"{due}; lead time {weeks(first.lead_days)}"
    unpriced = sum(line.unpriced for line in run.lines)
    yield "Cost", money(run.costs) + (f"; {counted(unpriced, 'part')} without a known price" if unpriced else "")
    yield "Cost at risk", share(run)
    spare = sum(line.spare for line in run.lines)
    placed = sum(line.placed for line in run.lines)
    yield "Pieces", f"{placed:,} to place, {spare:,} spare"
    yield from _sources(run)
    if run.groups:
        yield "Could be one", "; ".join(group.in_words for group in run.groups[:5])


def _sources(run: SupplyRun) -> Iterator[tuple[str, str]]:
    parts, offers = run.parts, run.offers
    yield "Parts list", f"{parts.source}: {parts.summary}"
    yield "", "; ".join(parts.understood)
    if parts.ignored:
        yield "", f"columns not used: {', '.join(parts.ignored)}"
    for unread in parts.unread:
        yield "Not readable", f"{_name(parts.source)}: {unread}"
    miscounted = [line for line in parts.lines if line.miscounted]
    if miscounted:
        where = listed(line.label for line in miscounted)
        yield "Quantities", f"are not the number of places in {where}; the places count"
    yield "Offers", f"{offers.source}: {'; '.join(offers.understood)}"
    for unread in offers.unread:
        yield "Not readable", f"{_name(offers.source)}: {unread}"
    if run.unlisted:
        yield "", f"offers for parts that are not on the list: {listed(run.unlisted)}"


def _name(source: str) -> str:
    return PurePath(source.replace("\\", "/")).name


def policies(run: SupplyRun) -> Mapping[str, int]:
    """Substitution policies and on how many lines each is stated."""
    count: dict[str, int] = {}
    for line in run.lines:
        count[line.substitution] = count.get(line.substitution, 0) + 1
    return dict(sorted(count.items(), key=lambda item: (-item[1], item[0])))


def mood(line: SupplyLine) -> str:
    """How grave a part stands, as a style: hold, query, note or clear."""
    if line.standing.stops:
        return "hold"
    if line.standing is Standing.TIGHT or line.has(RiskKind.DISCONTINUED) or line.has(RiskKind.LAST_TIME_BUY):
        return "query"
    return "note" if line.is_risky else "clear"
