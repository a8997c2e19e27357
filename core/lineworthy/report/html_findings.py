# SPDX-License-Identifier: MIT
"""The findings of the HTML report: by area and check, each with its places, its comparison and whose limit it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.model import Board, Side
from lineworthy.registry import SECTIONS, Check
from lineworthy.report.facts import (
    AreaGroups,
    Group,
    Numbered,
    accepted_by,
    area_title,
    check_help,
    conceded,
    figure,
    figures,
    limit_origin,
    question,
    where,
    with_unit,
)
from lineworthy.review import Review
from lineworthy.safe import markup

PLACES_SHOWN = 8
"""Places listed before the rest is folded away."""

BAR_WIDTH = 120

_TO_DO = "What to do"


def findings_section(
    review: Review, areas: Sequence[AreaGroups], checks: Optional[Sequence[Check]] = None
) -> Iterator[str]:
    """All findings, with the filters (shown when the script runs)."""
    yield '<section class="findings" aria-labelledby="findings-title"><h2 id="findings-title">Findings</h2>'
    if not areas:
        yield "<p>Nothing found by the checks that ran.</p></section>"
        return
    yield from _filters(areas)
    for area in areas:
        yield f'<section class="area" id="area-{area.area}" aria-labelledby="area-{area.area}-title">'
        yield f'<h3 id="area-{area.area}-title">{area_title(area.area)}</h3>'
        for group in area.groups:
            yield from _group(group, review, checks)
        yield "</section>"
    yield '<p class="nothing" hidden>No finding passes these filters.</p></section>'


def conceded_section(review: Review) -> Iterator[str]:
    """What a person has accepted, with who, why and for how long; it has no place on the map and in the filters."""
    rows = conceded(review)
    if not rows:
        return
    yield '<section id="conceded" aria-labelledby="conceded-title"><h2 id="conceded-title">Conceded</h2>'
    yield "<p>Accepted by a person, and counted nowhere.</p>"
    yield '<div class="scroll"><table class="list"><caption class="quiet">Conceded findings</caption><thead><tr>'
    yield '<th scope="col" class="n">No.</th><th scope="col">Finding</th><th scope="col">Reason</th>'
    yield "</tr></thead><tbody>"
    for row in rows:
        finding, concession = row.finding, row.concession
        assert concession is not None
        kind = finding.consequence.value
        spots = "; ".join(_spot(place, review.board) for place in finding.places[:PLACES_SHOWN])
        more = len(finding.places) - PLACES_SHOWN
        spots += f"; and {more} more" if more > 0 else ""
        yield f'<tr><td class="n">{row.number}</td><td><b class="tag {kind}">{kind}</b> {markup(finding.message)}'
        yield f"{f' <small>{spots}</small>' if spots else ''} <code>{markup(finding.check)}</code></td>"
        yield f"<td>{markup(concession.reason)} <small>({markup(accepted_by(concession))})</small></td></tr>"
    yield "</tbody></table></div></section>"


def _spot(place: Place, board: Board) -> str:
    label = markup(place.label)
    return f"{label} ({where(place, board)})" if label else where(place, board)


def _filters(areas: Sequence[AreaGroups]) -> Iterator[str]:
    rows = [row.finding for area in areas for group in area.groups for row in group.rows]
    yield '<div class="filters" role="search" aria-label="Filter the findings" hidden>'
    yield '<div role="group" aria-label="By consequence">'
    for consequence in Consequence:
        count = sum(finding.consequence is consequence for finding in rows)
        if count:
            yield _filter("consequence", consequence.value, consequence.value.capitalize(), count)
    yield '</div><div role="group" aria-label="By area">'
    for area in areas:
        count = sum(len(group.rows) for group in area.groups)
        yield _filter("area", area.area, area_title(area.area), count)
    yield '</div><div class="find"><label for="search">Search</label>'
    yield '<input id="search" type="search" autocomplete="off" spellcheck="false">'
    yield '<button type="button" id="reset">Show all</button></div>'
    yield f'<p role="status" id="shown">{len(rows)} of {len(rows)} shown</p></div>'


def _filter(kind: str, value: str, name: str, count: int) -> str:
    return (
        f'<button type="button" class="{value if kind == "consequence" else "plain"}" aria-pressed="false" '
        f'data-filter="{kind}" data-value="{value}">{name} <span class="n">{count}</span></button>'
    )


def _group(group: Group, review: Review, checks: Optional[Sequence[Check]]) -> Iterator[str]:
    """One check: its question, its findings, and its documentation once."""
    told = check_help(group.check, checks)
    yield '<section class="check">'
    asked, more = question(told)
    yield f"<h4>{markup(asked)} <code>{markup(group.check)}</code></h4>"
    yield '<ol class="rows">'
    for row in group.rows:
        yield from _row(row, review)
    yield "</ol>"
    if told.sections.get(_TO_DO):
        yield f'<p class="to-do"><b>{_TO_DO}</b> {markup(told.sections[_TO_DO])}</p>'
    if told.sections:
        yield '<details class="help"><summary>Why it matters, blind spots, source</summary><dl>'
        for title, words in (("In full", more), *((title, told.sections.get(title, "")) for title in SECTIONS)):
            if words and title != _TO_DO:
                yield f"<div><dt>{title}</dt><dd>{markup(words)}</dd></div>"
        yield "</dl></details>"
    yield "</section>"


def _row(row: Numbered, review: Review) -> Iterator[str]:
    finding = row.finding
    consequence = finding.consequence.value
    yield (
        f'<li class="finding {consequence}" id="f{row.number}" value="{row.number}" tabindex="-1" '
        f'data-finding="{row.number}" data-area="{finding.area}" data-consequence="{consequence}">'
    )
    yield f'<span class="num {consequence}" aria-hidden="true">{row.number}</span><div class="told">'
    yield f'<p class="message"><b class="tag {consequence}">{consequence}</b> {markup(finding.message)}</p>'
    if finding.measured is not None and finding.limit is not None:
        yield _comparison(finding)
    yield from _origin(finding, review)
    yield from _places(row, review.board)
    yield "</div></li>"


def _comparison(finding: Finding) -> str:
    assert finding.measured is not None
    assert finding.limit is not None
    measured, limit = figures(finding.measured, finding.limit)
    return (
        f'<p class="comparison">{_bar(finding.measured, finding.limit)}'
        f"<span><b>{markup(with_unit(measured, finding.unit))}</b> measured</span> "
        f"<span><b>{markup(with_unit(limit, finding.unit))}</b> limit</span></p>"
    )


def _bar(measured: float, limit: float) -> str:
    """What was measured as a bar, the limit as a line across it; left out where a bar cannot show it."""
    top = max(measured, limit) * 1.1
    if not 0 < top < float("inf") or min(measured, limit) < 0:
        return ""
    length, tick = (round(value / top * BAR_WIDTH, 1) for value in (measured, limit))
    return (
        f'<svg class="bar" viewBox="0 0 {BAR_WIDTH} 12" width="{BAR_WIDTH}" height="12" aria-hidden="true">'
        f'<rect class="rail" y="3" width="{BAR_WIDTH}" height="6"/>'
        f'<rect class="measured" y="3" width="{length}" height="6"/>'
        f'<path class="limit" d="M{tick} 0v12"/></svg>'
    )


def _origin(finding: Finding, review: Review) -> Iterator[str]:
    origin = limit_origin(finding, review.sheet)
    if origin is not None:
        value = markup(with_unit(figure(origin.value), origin.unit))
        yield (
            f'<p class="origin">Limit <code>{markup(origin.key)}</code> = {value} of sheet '
            f"{markup(origin.sheet)}; source: {markup(origin.source)}</p>"
        )


def _places(row: Numbered, board: Board) -> Iterator[str]:
    places = row.finding.places
    if not places:
        return
    items = [f"<li>{_place(row.number, n, place, board)}</li>" for n, place in enumerate(places)]
    yield f'<ul class="places" aria-label="Places of finding {row.number}">{"".join(items[:PLACES_SHOWN])}</ul>'
    if len(items) > PLACES_SHOWN:
        rest = len(items) - PLACES_SHOWN
        yield f'<details class="more"><summary>{rest} more {"place" if rest == 1 else "places"}</summary>'
        yield f'<ul class="places">{"".join(items[PLACES_SHOWN:])}</ul></details>'


def _place(number: int, index: int, place: Place, board: Board) -> str:
    side = (place.side or Side.TOP).value
    link = f'<a href="#{side}-{number}-{index}" data-place="{index}" data-side="{side}">'
    return f"{link}{markup(place.label) or 'place'}</a> <small>{where(place, board)}</small>"
