# SPDX-License-Identifier: MIT
"""A supply run as a page: verdict, picture of lead times, risk table, purchases, and what was understood."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Optional

from lineworthy import __version__
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine, weeks
from lineworthy.report.cautions import REVIEW_AID
from lineworthy.report.html import page
from lineworthy.report.safe import markup
from lineworthy.report.supply_facts import money, mood, policies, purchases, risks, summary
from lineworthy.report.supply_picture import draw

ESTIMATE = (
    "Stock, prices and lead times are what the offers file says on its dates; nobody has been asked and nothing is "
    "reserved. Spare pieces and the days between steps are defaults of the sheet (common practice, no source): put in "
    "your factory's."
)


def render(run: SupplyRun) -> str:
    """The page; the same run gives the same bytes."""
    body = [
        *_header(run),
        '<main id="main">',
        *_verdict(run),
        *_picture(run),
        *_risks(run),
        *_purchases(run),
        *_groups(run),
        *_understood(run),
        "</main>",
        f"<footer><p>{markup(REVIEW_AID.text)} {markup(ESTIMATE)} Lineworthy {__version__}.</p></footer>",
    ]
    text = page(f"{run.board}: supply", body)
    return text.encode("utf-8", "replace").decode("utf-8")


def _header(run: SupplyRun) -> Iterator[str]:
    facts = {
        "Boards": f"{run.boards:,}",
        "Assembly from": run.build.isoformat(),
        "As of": run.today.isoformat(),
        "Sheet": run.sheet.name,
    }
    yield f'<header class="top"><p class="brand">Lineworthy</p><h1>{markup(run.board)}<small>Supply run</small></h1>'
    pairs = "".join(f"<div><dt>{name}</dt><dd>{markup(text)}</dd></div>" for name, text in facts.items())
    yield f'<dl class="facts">{pairs}</dl></header>'


def _verdict(run: SupplyRun) -> Iterator[str]:
    moods = [mood(line) for line in run.lines]
    gravest = next((kind for kind in ("hold", "query", "note") if kind in moods), "clear")
    yield f'<section class="verdict {gravest}" aria-labelledby="verdict-title">'
    yield f'<h2 id="verdict-title" class="quiet">Verdict</h2><p class="line">{markup(run.verdict)}</p></section>'
    yield '<section aria-label="In short"><div class="scroll"><table class="brief"><tbody>'
    for name, words in summary(run):
        if name in ("Critical path", "Cost", "Of that at risk", "Pieces"):
            yield f'<tr><th scope="row">{name}</th><td>{markup(words)}</td></tr>'
    said = "; ".join(f"{count} {policy}" for policy, count in list(policies(run).items())[:4])
    yield f'<tr><th scope="row">Substitution</th><td>{markup(said)}</td></tr></tbody></table></div></section>'


def _picture(run: SupplyRun) -> Iterator[str]:
    drawn = draw(run)
    if not drawn:
        return
    yield '<section aria-labelledby="times-title"><h2 id="times-title">Lead times, counted back from the build</h2>'
    yield f'<figure><div class="scroll">{drawn}</div></figure><ul class="key">'
    yield "<li>Thick: from ordering to arrival</li><li>Thin: goods-in, kitting, reserve</li>"
    yield "<li>A bar that begins left of today is late; on the right the last day to order</li></ul></section>"


def _risks(run: SupplyRun) -> Iterator[str]:
    risky = [line for line in run.lines if line.is_risky]
    yield '<section aria-labelledby="risk-title"><h2 id="risk-title">At risk</h2>'
    if not risky:
        yield "<p>Nothing speaks against any part, by what the offers say.</p></section>"
        return
    head = ("Part", "Standing", "Needed", "Stock", "Order by", "Life cycle", "What speaks against it", "Cost")
    yield _table_head("Parts at risk", head, numbers=(2, 3))
    for line in risky:
        kind = mood(line)
        yield f'<tr class="{kind}"><th scope="row">{_named(line)}</th>'
        yield f'<td><b class="tag {kind}">{line.standing.value}</b></td>'
        yield f'<td class="n">{line.needed:,}</td><td class="n">{_stock(line)}</td>{_tight(_due(line))}'
        yield f"<td>{line.life_cycle.value}</td><td>{markup(risks(line))}</td>{_tight(_cost(line))}</tr>"
    yield "</tbody></table></div></section>"


def _purchases(run: SupplyRun) -> Iterator[str]:
    again = run.demand is not None
    head = ["Part", "Package", "Placed", "Spare", "Needed", "Stock", "Buy", "Order by", "Lead time", "Cost"]
    head += ["Substitution", "Alternates"]
    head += ["Order again at", "Lifetime need"] if again else []
    yield '<section aria-labelledby="buy-title"><h2 id="buy-title">What to buy</h2>'
    yield _table_head("All parts", head, numbers=(2, 3, 4, 5))
    for line in sorted(run.lines, key=lambda line: (line.order_by or date.max, line.label)):
        numbers = "".join(f'<td class="n">{number:,}</td>' for number in (line.placed, line.spare, line.needed))
        short = [_due(line), weeks(line.lead_days), _cost(line)]
        texts = [line.substitution, _alternates(line)]
        if again:
            texts += [_or_empty(run.reorder_at(line)), _or_empty(run.lifetime_need(line))]
        yield f'<tr><th scope="row">{_named(line)}</th><td class="pack">{markup(line.package)}</td>{numbers}'
        yield f'<td class="n">{_stock(line)}</td><td class="buy">{markup(purchases(line))}</td>' + "".join(
            map(_tight, short)
        )
        yield "".join(f"<td>{markup(text)}</td>" for text in texts) + "</tr>"
    yield "</tbody></table></div></section>"


def _groups(run: SupplyRun) -> Iterator[str]:
    if not run.groups:
        return
    yield '<section aria-labelledby="one-title"><h2 id="one-title">Could be one part</h2>'
    yield "<p>Same value, same package, different parts: one reel, one feeder, one price break.</p><ul>"
    yield from (f"<li>{markup(group.in_words)}</li>" for group in run.groups)
    yield "</ul></section>"


def _understood(run: SupplyRun) -> Iterator[str]:
    yield '<section aria-labelledby="read-title"><h2 id="read-title">What was read</h2>'
    yield '<div class="scroll"><table class="brief"><tbody>'
    skipped = ("Critical path", "Cost", "Of that at risk", "Pieces", "Could be one")
    for name, words in summary(run):
        if name not in skipped:
            yield f'<tr><th scope="row">{name}</th><td>{markup(words)}</td></tr>'
    yield "</tbody></table></div></section>"


def _table_head(caption: str, names: Sequence[str], numbers: Sequence[int]) -> str:
    cells = "".join(f'<th scope="col"{" class=n" if n in numbers else ""}>{name}</th>' for n, name in enumerate(names))
    head = f'<caption class="quiet">{caption}</caption><thead><tr>{cells}</tr></thead><tbody>'
    return f'<div class="scroll"><table class="list supply">{head}'


def _named(line: SupplyLine) -> str:
    places = " ".join(line.line.references) or f"line {line.line.line}"
    shown = places if len(places) <= 60 else places[:57] + "..."
    part = line.line.maker_part or line.line.value or "no part named"
    return (
        f'<span class="{"tight" if len(part) < 30 else "long"}">{markup(part)}</span><br><small>{markup(shown)}</small>'
    )


def _tight(text: str) -> str:
    return f'<td class="tight">{markup(text)}</td>'


def _stock(line: SupplyLine) -> str:
    return "?" if line.stock is None else f"{line.stock:,}"


def _due(line: SupplyLine) -> str:
    if line.order_by is None:
        return ""
    return line.order_by.isoformat() + (f" ({line.late_days} d ago)" if line.late_days else "")


def _cost(line: SupplyLine) -> str:
    return money(line.costs) if line.costs else "not known"


def _alternates(line: SupplyLine) -> str:
    return "; ".join(f"{other.maker_part}: {other.in_words}" for other in line.alternates) or "none"


def _or_empty(number: Optional[int]) -> str:
    return "" if number is None else f"{number:,}"
