# SPDX-License-Identifier: MIT
"""The sections on supply that a review's report and a supply run's page share: lead times, and the parts at risk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine
from lineworthy.report.supply_facts import money, mood, risks
from lineworthy.report.supply_picture import draw
from lineworthy.safe import markup


def picture(run: SupplyRun) -> Iterator[str]:
    """When each part must be ordered to be there for the build; nothing where no lead time is known."""
    drawn = draw(run)
    if not drawn:
        return
    yield '<section aria-labelledby="times-title"><h2 id="times-title">Lead times, counted back from the build</h2>'
    yield f'<figure><div class="scroll">{drawn}</div></figure><ul class="key">'
    yield "<li>Thick: from ordering to arrival</li><li>Thin: goods-in, kitting, reserve</li>"
    yield "<li>A bar that begins left of today is late; on the right the last day to order</li></ul></section>"


def risk_table(run: SupplyRun) -> Iterator[str]:
    """The parts that something speaks against, with what it is."""
    risky = [line for line in run.lines if line.is_risky]
    yield '<section aria-labelledby="risk-title"><h2 id="risk-title">At risk</h2>'
    if not risky:
        yield "<p>Nothing speaks against any part, by what the offers say.</p></section>"
        return
    head = ("Part", "Standing", "Needed", "Stock", "Order by", "Life cycle", "What speaks against it", "Cost")
    yield table_head("Parts at risk", head, numbers=(2, 3))
    for line in risky:
        kind = mood(line)
        yield f'<tr class="{kind}"><th scope="row">{named(line)}</th>'
        yield f'<td><b class="tag {kind}">{line.standing.value}</b></td>'
        yield f'<td class="n">{line.needed:,}</td><td class="n">{stock(line)}</td>{tight(due(line))}'
        yield f"<td>{line.life_cycle.value}</td><td>{markup(risks(line))}</td>{tight(cost(line))}</tr>"
    yield "</tbody></table></div></section>"


def table_head(caption: str, names: Sequence[str], numbers: Sequence[int]) -> str:
    """The opening of a table: `numbers` are the columns that are set flush right."""
    cells = "".join(f'<th scope="col"{" class=n" if n in numbers else ""}>{name}</th>' for n, name in enumerate(names))
    head = f'<caption class="quiet">{caption}</caption><thead><tr>{cells}</tr></thead><tbody>'
    return f'<div class="scroll"><table class="list supply">{head}'


def named(line: SupplyLine) -> str:
    """A part by what is bought, and where it goes."""
    places = " ".join(line.line.references) or f"line {line.line.line}"
    shown = places if len(places) <= 60 else places[:57] + "..."
    part = line.line.maker_part or line.line.value or "no part named"
    return (
        f'<span class="{"tight" if len(part) < 30 else "long"}">{markup(part)}</span><br><small>{markup(shown)}</small>'
    )


def tight(text: str) -> str:
    """A cell that is not broken."""
    return f'<td class="tight">{markup(text)}</td>'


def stock(line: SupplyLine) -> str:
    """Pieces on stock, with a question mark where nobody says."""
    return "?" if line.stock is None else f"{line.stock:,}"


def due(line: SupplyLine) -> str:
    """The last day to order."""
    if line.order_by is None:
        return ""
    return line.order_by.isoformat() + (f" ({line.late_days} d ago)" if line.late_days else "")


def cost(line: SupplyLine) -> str:
    """What the part costs for the build."""
    return money(line.costs) if line.costs else "not known"
