# SPDX-License-Identifier: MIT
"""The board map of the HTML report: each side as a drawing with numbered pins, and its key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from lineworthy.model import Side
from lineworthy.picture import Role, draw
from lineworthy.report import svg
from lineworthy.report.facts import numbered
from lineworthy.review import Review

TALL = 1.15
"""Boards this much taller than wide stand side by side, others above each other."""

CAPTIONS = {Side.TOP: "Top", Side.BOTTOM: "Bottom, seen from below"}

ROLES = {
    Role.POUR: "copper pour",
    Role.COPPER: "track, via",
    Role.LAND: "land",
    Role.OPENING: "mask opening",
    Role.BODY: "part",
    Role.UNFITTED: "part not fitted",
    Role.COURTYARD: "courtyard",
    Role.LEGEND: "legend",
    Role.HOLE: "hole",
    Role.EDGE: "outline, not closed",
}


def map_section(review: Review) -> Iterator[str]:
    """Both sides with pins numbered as the findings are; those conceded have a number and no pin."""
    rows = numbered(review)
    findings = [row.finding if row.concession is None else replace(row.finding, places=()) for row in rows]
    pictures = [draw(review.board, side, findings) for side in Side]
    box = pictures[0].bounds
    shape = "tall" if box.top - box.bottom > TALL * (box.right - box.left) else "wide"
    yield f'<section class="maps {shape}" aria-labelledby="maps-title"><h2 id="maps-title">Board map</h2>'
    yield '<div class="sides">'
    for picture in pictures:
        name = picture.side.value
        yield f'<figure id="map-{name}"><figcaption>{CAPTIONS[picture.side]}</figcaption>'
        yield f'<div class="zoom" role="group" aria-label="Size of the {name} map" hidden>'
        yield f'<button type="button" data-zoom="-1" aria-label="Smaller {name} map">&minus;</button>'
        yield f'<button type="button" data-zoom="1" aria-label="Larger {name} map">+</button></div>'
        yield f'<div class="pane">{svg.draw(picture, findings, name)}</div></figure>'
    yield "</div>"
    present = {coat.role for picture in pictures for coat in picture.coats}
    yield '<ul class="key" aria-label="Key to the map">'
    for role, words in ROLES.items():
        if role in present:
            yield f"<li>{svg.swatch(role)}{words}</li>"
    yield "</ul>"
    omitted = dict.fromkeys(words for picture in pictures for words in picture.omitted)
    yield f'<p class="small">A map to find the place by, simplified. {" ".join(omitted)}</p></section>'
