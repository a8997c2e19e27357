# SPDX-License-Identifier: MIT
"""Two states of a board side by side, as one HTML file: before and after inserting something; older and newer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.model import Board, Side
from lineworthy.picture import draw
from lineworthy.report import svg
from lineworthy.report.html import page
from lineworthy.report.html_map import CAPTIONS
from lineworthy.safe import markup


def render(
    before: Board, after: Board, inserted: Sequence[tuple[str, Place]], refused: Sequence[tuple[str, str]]
) -> str:
    """The page.

    Args:
        before: the board as it is.
        after: the board with everything inserted.
        inserted: what was inserted, in words, and where.
        refused: what was wanted and does not go, and why.
    """
    marks = [Finding("amendment", Consequence.NOTE, title, (place,)) for title, place in inserted]
    body = [
        '<header class="top"><p class="brand">Lineworthy</p>',
        f"<h1>{markup(before.name)}: before and after</h1></header>",
        '<main id="main"><section aria-labelledby="list-title"><h2 id="list-title">To be inserted</h2><ol>',
        *(f'<li id="f{n}">{n}. {markup(title)}</li>' for n, (title, _) in enumerate(inserted, 1)),
        "</ol>" if inserted else "</ol><p>Nothing.</p>",
        *_refused(refused),
        "</section>",
    ]
    body += side_by_side(before, after, marks)
    return page(f"{before.name}: before and after", [*body, "</main>"])


def changes(before: Board, after: Board, told: Sequence[tuple[str, Optional[Place]]]) -> str:
    """The page that shows what differs between two boards.

    Args:
        before: the older board.
        after: the newer board.
        told: each difference in words, and where it is on the newer board; None for the board as a whole.
    """
    marks = [Finding("change", Consequence.NOTE, words, (place,) if place else ()) for words, place in told]
    body = [
        '<header class="top"><p class="brand">Lineworthy</p>',
        f"<h1>{markup(before.name)} to {markup(after.name)}: what differs</h1></header>",
        # the picture first: the list may be long
        '<main id="main">',
        *side_by_side(before, after, marks),
        '<section aria-labelledby="list-title"><h2 id="list-title">Changes</h2><ol>',
        *(f'<li id="f{n}">{n}. {markup(words)}</li>' for n, (words, _) in enumerate(told, 1)),
        "</ol>" if told else "</ol><p>None: both boards make the same product.</p>",
        "</section>",
    ]
    return page(f"{before.name} to {after.name}: what differs", [*body, "</main>"])


def side_by_side(before: Board, after: Board, marks: Sequence[Finding]) -> list[str]:
    """Both sides of two boards, the later one with pins."""
    body: list[str] = []
    for side in Side:
        was = svg.draw(draw(before, side), (), f"before-{side.value}")
        will_be = svg.draw(draw(after, side, marks), marks, f"after-{side.value}")
        body += [
            f'<section class="maps tall" aria-label="{side.value}"><h2>{CAPTIONS[side]}</h2><div class="sides">',
            f"<figure><figcaption>Before</figcaption>{was}</figure>",
            f"<figure><figcaption>After</figcaption>{will_be}</figure>",
            "</div></section>",
        ]
    return body


def _refused(refused: Sequence[tuple[str, str]]) -> list[str]:
    if not refused:
        return []
    items = [f"<li>{markup(wanted)}: {markup(reason)}</li>" for wanted, reason in refused]
    return ["<h2>Not possible</h2><ul>", *items, "</ul>"]
