# SPDX-License-Identifier: MIT
"""A supply run as a table for the buyer's spreadsheet, and whole as JSON."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, Optional

from lineworthy import __version__
from lineworthy.plans.buying import Buy
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine
from lineworthy.report.cautions import REVIEW_AID
from lineworthy.report.supply_facts import purchases, risks
from lineworthy.safe import cell

FORMAT = "lineworthy-supply"
VERSION = 1

HEADER = (
    "references",
    "manufacturer",
    "manufacturer part",
    "value",
    "package",
    "per board",
    "spare class",
    "placed",
    "spare",
    "needed",
    "stock",
    "shortage",
    "bought",
    "missing",
    "purchases",
    "order by",
    "lead days",
    "standing",
    "life cycle",
    "last order",
    "sellers",
    "alternates",
    "substitution",
    "cost",
    "currency",
    "risks",
    "reorder at",
    "lifetime need",
)


def table(run: SupplyRun) -> str:
    """A line per part, as CSV: the same run gives the same bytes."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    for line in run.lines:
        writer.writerow(_row(run, line))
    return out.getvalue().encode("utf-8", "replace").decode("utf-8")


def _row(run: SupplyRun, line: SupplyLine) -> list[str]:
    alternates = "; ".join(f"{other.maker_part}: {other.in_words}" for other in line.alternates)
    return [
        cell(" ".join(line.line.references)),
        cell(line.line.maker),
        cell(line.line.maker_part),
        cell(line.line.value),
        cell(line.package),
        f"{line.placed / run.boards:.6g}",
        line.spares.value,
        str(line.placed),
        str(line.spare),
        str(line.needed),
        _number(line.stock),
        str(line.shortage),
        str(line.bought),
        str(line.missing),
        cell(purchases(line)),
        line.order_by.isoformat() if line.order_by else "",
        _number(line.lead_days),
        line.standing.value,
        line.life_cycle.value,
        line.last_order.isoformat() if line.last_order else "",
        cell("; ".join(line.sellers)),
        cell(alternates),
        cell(line.substitution),
        "; ".join(f"{amount:.2f}" for amount in line.costs.values()),
        cell("; ".join(line.costs)),
        cell(risks(line)),
        _number(run.reorder_at(line)),
        _number(run.lifetime_need(line)),
    ]


def _number(number: Optional[int]) -> str:
    return "" if number is None else str(number)


def document(run: SupplyRun) -> str:
    """The whole run as JSON text: the same run gives the same bytes."""
    text = json.dumps(_document(run), indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "replace").decode("utf-8") + "\n"


def _document(run: SupplyRun) -> dict[str, Any]:
    first = run.critical
    supply = {entry.key: entry.value for entry in run.sheet.entries() if entry.key.startswith("supply.")}
    return {
        "format": FORMAT,
        "version": VERSION,
        "tool": {"name": "lineworthy", "version": __version__},
        "board": run.board,
        "boards": run.boards,
        "build_date": run.build.isoformat(),
        "today": run.today.isoformat(),
        "sheet": {"name": run.sheet.name, "limits": supply},
        "verdict": run.verdict,
        "critical": list(first.line.references) if first else [],
        "cost": dict(run.costs),
        "cost_at_risk": dict(run.risky_costs),
        "parts_list": {
            "source": run.parts.source,
            "understood": list(run.parts.understood),
            "columns_not_used": list(run.parts.ignored),
            "not_readable": [vars(item) for item in run.parts.unread],
            "no_parts": [vars(item) for item in run.parts.remarks],
        },
        "offers": {
            "source": run.offers.source,
            "columns_not_used": list(run.offers.ignored),
            "not_readable": [vars(item) for item in run.offers.unread],
            "not_on_the_list": list(run.unlisted),
        },
        "parts": [_part(run, line) for line in run.lines],
        "could_be_one": [
            {
                "value": group.value,
                "package": group.package,
                "parts": {line.maker_part: list(line.references) for line in group.lines},
            }
            for group in run.groups
        ],
        "caution": REVIEW_AID.text,
    }


def _part(run: SupplyRun, line: SupplyLine) -> dict[str, Any]:
    return {
        "references": list(line.line.references),
        "manufacturer": line.line.maker,
        "manufacturer_part": line.line.maker_part,
        "value": line.line.value,
        "package": line.package,
        "spare_class": line.spares.value,
        "placed": line.placed,
        "spare": line.spare,
        "needed": line.needed,
        "stock": line.stock,
        "shortage": line.shortage,
        "missing": line.missing,
        "standing": line.standing.value,
        "order_by": line.order_by.isoformat() if line.order_by else None,
        "late_days": line.late_days,
        "life_cycle": line.life_cycle.value,
        "last_order": line.last_order.isoformat() if line.last_order else None,
        "sellers": list(line.sellers),
        "outdated_offers": line.outdated,
        "substitution": line.substitution,
        "cost": dict(line.costs),
        "risks": [{"kind": risk.kind.value, "text": risk.text} for risk in line.risks],
        "way_out": line.way_out,
        "purchases": [_purchase(buy) for buy in line.buys],
        "alternates": [
            {
                "manufacturer_part": other.maker_part,
                "differs": list(other.differs),
                "agrees": list(other.agrees),
                "offered": other.offered,
            }
            for other in line.alternates
        ],
        "reorder_at": run.reorder_at(line),
        "lifetime_need": run.lifetime_need(line),
    }


def _purchase(buy: Buy) -> dict[str, Any]:
    return {
        "manufacturer_part": buy.offer.maker_part,
        "source": buy.offer.source,
        "order_code": buy.offer.order_code,
        "pieces": buy.pieces,
        "from_stock": buy.from_stock,
        "lead_days": buy.lead_days,
        "order_by": buy.order_by.isoformat(),
        "unit_price": buy.unit_price,
        "cost": None if buy.cost is None else round(buy.cost, 6),
        "currency": buy.offer.currency,
        "instead_of": buy.instead_of,
        "saving": round(buy.saving, 6),
    }
