# SPDX-License-Identifier: MIT
"""A review as one HTML file: nothing to fetch, nothing from the board that can act.

The page forbids itself every script and style but its own two (by their hashes), so a text that slipped through the
escaping would still do nothing.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from importlib import resources
from itertools import groupby
from typing import Optional
from urllib.parse import quote

from lineworthy import __version__
from lineworthy.finding import Consequence
from lineworthy.knowledge.titleblock import title_block
from lineworthy.registry import Check
from lineworthy.report.cautions import REVIEW_AID, cautions
from lineworthy.report.facts import (
    ORIGIN_NOTE,
    AreaGroups,
    Tally,
    area_title,
    board_line,
    check_help,
    grouped,
    question,
    tallies,
)
from lineworthy.report.html_findings import conceded_section, findings_section
from lineworthy.report.html_map import map_section
from lineworthy.report.supply_sections import picture, risk_table
from lineworthy.review import Review
from lineworthy.safe import markup

PLURALS = {Consequence.HOLD: "holds", Consequence.QUERY: "queries", Consequence.NOTE: "notes"}

MEANING = {
    Consequence.HOLD: "the job stops until somebody answers",
    Consequence.QUERY: "a question comes back, or they work around it at your cost",
    Consequence.NOTE: "worth a look; nobody stops",
}


def render(review: Review, checks: Optional[Sequence[Check]] = None) -> str:
    """The report.

    Args:
        review: what was found.
        checks: where the checks' documentation is looked up; those of this library when None.
    """
    areas = grouped(review)
    body = [
        *_header(review),
        '<main id="main">',
        *_verdict(review),
        '<div class="workspace">',
        *_area_table(review, areas),
        *map_section(review),
        *findings_section(review, areas, checks),
        "</div>",
        *_supply(review),
        *conceded_section(review),
        *_not_run(review),
        *_crashed(review),
        *_asked(review, checks),
        *_cautions(review),
        "</main>",
        f"<footer><p>Lineworthy {__version__}. {ORIGIN_NOTE}</p></footer>",
    ]
    return _page(f"{review.board.name}: production-release review", body, _resource("report.js"))


def _supply(review: Review) -> Iterator[str]:
    run = review.supply
    if run is None:
        return
    yield '<section aria-labelledby="supply-title"><h2 id="supply-title">Supply</h2>'
    yield f"<p>{run.boards:,} boards, assembly from {run.build.isoformat()}. {markup(run.verdict)}</p>"
    yield from picture(run)
    yield from risk_table(run)
    yield "</section>"


def index(rows: Sequence[str]) -> str:
    """A page that leads to the reports of several boards, made of what `index_row` tells of each."""
    body = [
        '<header class="top"><p class="brand">Lineworthy</p>',
        f"<h1>Production-release reviews of {len(rows)} boards</h1></header>",
        '<main id="main"><section aria-label="Boards"><div class="scroll"><table class="areas">',
        "<caption>Findings by board</caption>",
        '<thead><tr><th scope="col">Board</th><th scope="col">Verdict</th>',
        *(f'<th scope="col" class="n">{c.value.capitalize()}</th>' for c in Consequence),
        '<th scope="col" class="n">Not run</th></tr></thead><tbody>',
        *rows,
        "</tbody></table></div></section></main>",
        f"<footer><p>Lineworthy {__version__}. {REVIEW_AID.text}</p></footer>",
    ]
    return _page("Production-release reviews", body, "")


def index_row(file: str, review: Review) -> str:
    """One board's row of the index: all that has to be kept of a review until the others are done.

    Args:
        file: the report's name beside the index.
        review: of the board.
    """
    counts = "".join(_count(review.count(c), c.value) for c in Consequence)
    return (
        f'<tr><th scope="row"><a href="{markup(_relative(file))}">{markup(review.board.name)}</a></th>'
        f"<td>{markup(review.verdict)}</td>{counts}{_count(len(review.not_run), 'not-run')}</tr>"
    )


def _relative(file: str) -> str:
    """A file beside the page as a link, so that no file name reads as a scheme (``javascript:...``)."""
    return "./" + quote(file, errors="replace")


def page(title: str, body: Sequence[str]) -> str:
    """A page in the report's look, without a script; `body` is markup already."""
    return _page(title, body, "")


def _page(title: str, body: Sequence[str], script: str) -> str:
    style = _resource("report.css")
    policy = f"default-src 'none'; style-src {_hash(style)}; base-uri 'none'; form-action 'none'"
    policy += f"; script-src {_hash(script)}" if script else ""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            f'<meta name="generator" content="lineworthy {__version__}">',
            f"<title>{markup(title)}</title>",
            f"<style>{style}</style>",
            "</head>",
            "<body>",
            '<a class="skip" href="#main">Skip to the verdict</a>',
            *body,
            *([f"<script>{script}</script>"] if script else []),
            "</body>",
            "</html>",
            "",
        ]
    )


def _resource(name: str) -> str:
    return (resources.files("lineworthy") / "report" / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _header(review: Review) -> Iterator[str]:
    board = review.board
    title = title_block(board)
    yield '<header class="top">'
    yield '<p class="brand">Lineworthy</p>'
    yield f"<h1>{markup(board.name)}<small>Production-release review</small></h1>"
    facts = {
        "Title": title.title,
        "Revision": title.revision or "not in the title block",
        "Date": title.date,
        "Company": title.company,
        "Board": board_line(board),
        "Held against": f"capability sheet {review.sheet.name}",
        "File": board.path,
    }
    yield '<dl class="facts">'
    for name, value in facts.items():
        if value:
            yield f"<div><dt>{name}</dt><dd>{markup(value)}</dd></div>"
    yield "</dl></header>"


def _verdict(review: Review) -> Iterator[str]:
    gravest = min((f.consequence for f in review.findings), key=lambda c: c.rank, default=None)
    mood = "crashed" if review.crashed else gravest.value if gravest else "clear"
    yield f'<section class="verdict {mood}" aria-labelledby="verdict-title">'
    yield '<h2 id="verdict-title" class="quiet">Verdict</h2>'
    yield f'<p class="line">{markup(review.verdict)}</p>'
    if review.not_run:
        count = len({item.check for item in review.not_run})
        what = "1 check was" if count == 1 else f"{count} checks were"
        yield f'<p>{what} <a href="#not-run">not run</a>, in whole or in part, for want of an input.</p>'
    yield f'<p class="small">{REVIEW_AID.text}</p>'
    yield "</section>"


def _area_table(review: Review, areas: Sequence[AreaGroups]) -> Iterator[str]:
    rows = tallies(review)
    crashed = bool(review.crashed)
    linked = {area.area for area in areas}
    yield '<section class="by-area" aria-labelledby="areas-title"><h2 id="areas-title">Areas</h2>'
    yield '<div class="beside"><div class="scroll"><table class="areas"><caption>Findings by area</caption>'
    yield '<thead><tr><th scope="col">Area</th>'
    for consequence in Consequence:
        name = consequence.value.capitalize()
        yield f'<th scope="col" class="n" title="{MEANING[consequence]}">{name}</th>'
    yield '<th scope="col" class="n">Not run</th>'
    yield f'{"<th scope=col class=n>Failed</th>" if crashed else ""}<th scope="col" class="n">Checks</th></tr></thead>'
    yield "<tbody>"
    for row in rows:
        name = markup(area_title(row.area))
        head = f'<a href="#area-{row.area}">{name}</a>' if row.area in linked else name
        yield f'<tr><th scope="row">{head}</th>{_cells(row, crashed)}</tr>'
    total = Tally("", *(sum(getattr(row, name) for row in rows) for name in _COLUMNS))
    yield f'</tbody><tfoot><tr><th scope="row">All</th>{_cells(total, crashed)}</tr></tfoot></table></div>'
    yield '<ul class="meaning">'
    for consequence in Consequence:
        yield f'<li><b class="tag {consequence.value}">{consequence.value}</b> {MEANING[consequence]}</li>'
    yield "</ul></div></section>"


_COLUMNS = ("hold", "query", "note", "not_run", "crashed", "checks")


def _cells(row: Tally, crashed: bool) -> str:
    cells = [_count(getattr(row, c.value), c.value) for c in Consequence]
    cells.append(_count(row.not_run, "not-run"))
    if crashed:
        cells.append(_count(row.crashed, "hold"))
    return "".join([*cells, f'<td class="n">{row.checks}</td>'])


def _count(count: int, kind: str) -> str:
    return f'<td class="n {kind}">{count}</td>' if count else '<td class="n zero">0</td>'


def _not_run(review: Review) -> Iterator[str]:
    yield '<section id="not-run" aria-labelledby="not-run-title"><h2 id="not-run-title">Not run</h2>'
    if not review.not_run:
        yield "<p>Every check that was asked had what it needs.</p></section>"
        return
    yield "<p>These questions are open: silence is not a pass.</p>"
    yield '<div class="scroll"><table class="list"><caption class="quiet">Checks that lacked an input</caption>'
    yield '<thead><tr><th scope="col">Check</th><th scope="col">What is missing</th><th scope="col">How to give it</th>'
    yield "</tr></thead><tbody>"
    for (missing, how), items in groupby(review.not_run, key=lambda item: (item.missing, item.how)):
        checks = "<br>".join(f"<code>{markup(item.check)}</code>" for item in items)
        yield f"<tr><td>{checks}</td><td>{markup(missing)}</td><td>{markup(how)}</td></tr>"
    yield "</tbody></table></div></section>"


def _crashed(review: Review) -> Iterator[str]:
    if not review.crashed:
        return
    yield '<section aria-labelledby="crashed-title"><h2 id="crashed-title">Failed</h2>'
    yield "<p>A fault of this tool, not of the board; the other answers stand. Please report it.</p><ul>"
    for crash in review.crashed:
        yield f"<li><code>{markup(crash.check)}</code> {markup(crash.error)}</li>"
    yield "</ul></section>"


def _asked(review: Review, checks: Optional[Sequence[Check]]) -> Iterator[str]:
    """Every question with its answer, so that a reader sees what the verdict rests on."""
    yield '<section aria-labelledby="asked-title"><h2 id="asked-title">What was asked</h2>'
    yield f'<details class="asked"><summary>All {len(review.checks)} checks and their answers</summary>'
    yield '<div class="scroll"><table class="list"><caption class="quiet">Checks asked</caption><thead><tr>'
    yield '<th scope="col">Check</th><th scope="col">Question</th><th scope="col">Answer</th></tr></thead><tbody>'
    for check_id in review.checks:
        what = markup(question(check_help(check_id, checks))[0])
        yield f"<tr><td><code>{markup(check_id)}</code></td><td>{what}</td><td>{_answer(check_id, review)}</td></tr>"
    yield "</tbody></table></div></details></section>"


def _answer(check_id: str, review: Review) -> str:
    if any(crash.check == check_id for crash in review.crashed):
        return "failed"
    counts = {c: sum(f.check == check_id and f.consequence is c for f in review.findings) for c in Consequence}
    accepted = sum(finding.check == check_id for finding, _ in review.conceded)
    said = [f"{count} {c.value if count == 1 else PLURALS[c]}" for c, count in counts.items() if count]
    said += [f"{accepted} conceded"] if accepted else []
    if any(item.check == check_id for item in review.not_run):
        said.append("in part not run" if said else "not run")
    return ", ".join(said) or "nothing found"


def _cautions(review: Review) -> Iterator[str]:
    """All but the first, which stands with the verdict."""
    others = cautions(review)[1:]
    if not others:
        return
    yield '<section aria-labelledby="cautions-title"><h2 id="cautions-title">Cautions</h2><dl class="cautions">'
    for caution in others:
        yield f"<div><dt>{caution.topic}</dt><dd>{markup(caution.text)}"
        yield f"<small>({markup(caution.source)})</small></dd></div>"
    yield "</dl></section>"
