# SPDX-License-Identifier: MIT
"""A supply run as a page: verdict, picture of lead times, risk table, purchases, and what was understood."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Optional

from lineworthy import __version__
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine, weeks
from lineworthy.report.cautions import REVIEW_AID
from lineworthy.report.html import page
from lineworthy.report.supply_facts import mood, policies, purchases, summary
from lineworthy.report.supply_sections import cost, due, named, picture, risk_table, stock, table_head, tight
from lineworthy.safe import markup

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
        *picture(run),
        *risk_table(run),
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
        if name in ("Critical path", "Cost", "Cost at risk", "Pieces"):
            yield f'<tr><th scope="row">{name}</th><td>{markup(words)}</td></tr>'
    said = "; ".join(f"{count} {policy}" for policy, count in list(policies(run).items())[:4])
    yield f'<tr><th scope="row">Substitution</th><td>{markup(said)}</td></tr></tbody></table></div></section>'


def _purchases(run: SupplyRun) -> Iterator[str]:
    again = run.demand is not None
    head = ["Part", "Package", "Placed", "Spare", "Needed", "Stock", "Buy", "Order by", "Lead time", "Cost"]
    head += ["Substitution", "Alternates"]
    head += ["Order again at", "Lifetime need"] if again else []
    yield '<section aria-labelledby="buy-title"><h2 id="buy-title">What to buy</h2>'
    yield table_head("All parts", head, numbers=(2, 3, 4, 5))
    for line in sorted(run.lines, key=lambda line: (line.order_by or date.max, line.label)):
        numbers = "".join(f'<td class="n">{number:,}</td>' for number in (line.placed, line.spare, line.needed))
        short = [due(line), weeks(line.lead_days), cost(line)]
        texts = [line.substitution, _alternates(line)]
        if again:
            texts += [_or_empty(run.reorder_at(line)), _or_empty(run.lifetime_need(line))]
        yield f'<tr><th scope="row">{named(line)}</th><td class="pack">{markup(line.package)}</td>{numbers}'
        yield f'<td class="n">{stock(line)}</td><td class="buy">{markup(purchases(line))}</td>' + "".join(
            map(tight, short)
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
    skipped = ("Critical path", "Cost", "Cost at risk", "Pieces", "Could be one")
    for name, words in summary(run):
        if name not in skipped:
            yield f'<tr><th scope="row">{name}</th><td>{markup(words)}</td></tr>'
    yield "</tbody></table></div></section>"


def _alternates(line: SupplyLine) -> str:
    return "; ".join(f"{other.maker_part}: {other.in_words}" for other in line.alternates) or "none"


def _or_empty(number: Optional[int]) -> str:
    return "" if number is None else f"{number:,}"
