# SPDX-License-Identifier: MIT
"""The supply run: can every part be bought for so many boards by a date, from whom, until when to order, what it costs.

A pure function of parts list, offers, board, quantity, date and day: the same input gives the same run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Optional

from lineworthy.intake.offers import Offers, part_key
from lineworthy.intake.parts_list import PartsLine, PartsList
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.wording import natural
from lineworthy.model import Board
from lineworthy.plans.arithmetic import last_time_buy, reorder_point
from lineworthy.plans.buying import Calendar
from lineworthy.plans.supply_line import Standing, SupplyLine, summed, work_out
from lineworthy.plans.wanted import Group, consolidation, wanted
from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Demand:
    """Going on building: boards per week, how much that scatters (standard deviation), and for how many years.

    `service` is the standard normal deviate of the certainty wanted; 1.645 is 95 %.
    """

    per_week: float
    spread: float = 0.0
    years: float = 0.0
    service: float = 1.645


@dataclass(frozen=True)
class SupplyRun:
    """The whole answer; `lines` come in the order in which they are to be worried about."""

    board: str
    boards: int
    build: date
    today: date
    sheet: Sheet
    parts: PartsList
    offers: Offers
    lines: tuple[SupplyLine, ...]
    groups: tuple[Group, ...]
    unlisted: tuple[str, ...]
    demand: Optional[Demand] = None

    @cached_property
    def critical(self) -> Optional[SupplyLine]:
        """The part that sets the date: the first that has to be ordered."""
        dated = [line for line in self.lines if line.order_by is not None]
        return min(dated, key=lambda line: (line.order_by or date.max, natural(line.label)), default=None)

    @cached_property
    def costs(self) -> Mapping[str, float]:
        """Cost of the build by currency, as far as prices are known."""
        return summed(item for line in self.lines for item in line.costs.items())

    @cached_property
    def risky_costs(self) -> Mapping[str, float]:
        """Of that, the lines at risk."""
        return summed(item for line in self.lines if line.is_risky for item in line.costs.items())

    def standing(self, *kinds: Standing) -> list[SupplyLine]:
        """Lines that stand so."""
        return [line for line in self.lines if line.standing in kinds]

    @property
    def verdict(self) -> str:
        """One line: whether the build can be supplied."""
        count = len(self.lines)
        if not count:
            return "Nothing to buy: the parts list has no fitted line."
        stopped = [line for line in self.lines if line.standing.stops]
        if stopped:
            kinds = [(kind, len(self.standing(kind))) for kind in Standing if kind.stops]
            what = ", ".join(f"{number} {kind.value}" for kind, number in kinds if number)
            return f"{len(stopped)} of {count} parts cannot be counted on: {what}."
        first = self.critical
        every = f"All {count} parts" if count > 1 else "The one part"
        if first is None or first.order_by is None:
            return f"{every} can be had."
        if first.late_days:
            return f"{every} can be had if ordered today; {first.label} eats into the reserve."
        return f"{every} can be had if ordered in time, the first by {first.order_by.isoformat()}."

    def reorder_at(self, line: SupplyLine) -> Optional[int]:
        """Pieces in stock at which to order again; None without a weekly use or a lead time."""
        leads = [offer.lead_days for offer in self.offers.of(line.line.maker_part) if offer.lead_days is not None]
        if self.demand is None or not leads or not line.placed:
            return None
        each = line.needed / self.boards
        point = reorder_point(
            self.demand.per_week * each, min(leads) / 7, self.demand.spread * each, self.demand.service
        )
        return round(point)

    def lifetime_need(self, line: SupplyLine) -> Optional[int]:
        """Pieces to buy for the years to come, less what this build buys anyway; None where not asked."""
        if self.demand is None or not self.demand.years or not line.placed:
            return None
        per_year = self.demand.per_week * 52 * line.placed / self.boards
        return last_time_buy(per_year, self.demand.years, 100 * line.spare / line.placed, 0, 0)


def supply_run(
    board: Board,
    parts: PartsList,
    offers: Offers,
    *,
    boards: int,
    build: date,
    today: date,
    sheet: Sheet,
    packages: Optional[Packages] = None,
    demand: Optional[Demand] = None,
) -> SupplyRun:
    """Works out the run.

    Args:
        board: tells packages and whatever of a part the list leaves out.
        parts: what to buy; lines not fitted are left out.
        offers: who has it.
        boards: how many are built.
        build: the day assembly begins (see the sheet's supply limits for other meanings).
        today: the day of the run.
        sheet: spare pieces, days between steps, age of data.
        packages: of this board, where somebody has worked them out.
        demand: what goes on after this build, for reorder points.
    """
    by_reference = {part.reference: part for part in board.parts}
    packages = packages or Packages(board)
    calendar = Calendar.of(today, build, sheet.supply)
    items = wanted(parts, board)
    lines = []
    for item in items:
        part = next((by_reference[name] for name in item.line.references if name in by_reference), None)
        facts = packages.of(part) if part else None
        lines.append(work_out(item, facts, offers, boards=boards, calendar=calendar, limits=sheet.supply))
    known = {part_key(number) for item in items for number in _numbers(item.line)}
    return SupplyRun(
        board=board.name,
        boards=boards,
        build=build,
        today=today,
        sheet=sheet,
        parts=parts,
        offers=offers,
        lines=tuple(sorted(lines, key=_worry)),
        groups=consolidation(items),
        unlisted=tuple(
            sorted({o.maker_part for o in offers.offers if part_key(o.maker_part) not in known}, key=natural)
        ),
        demand=demand,
    )


def _numbers(line: PartsLine) -> list[str]:
    return [line.maker_part, *(alternate.maker_part for alternate in line.alternates)]


def _order(text: str) -> tuple[object, str]:
    return natural(text.casefold()), text


def _worry(line: SupplyLine) -> tuple[object, ...]:
    """Parts that stop the build first, then those at risk, then by the day to order them."""
    rank = 0 if line.standing.stops else 1 if line.is_risky else 2
    return rank, line.order_by or date.max, natural(line.label), line.line.maker_part
