# SPDX-License-Identifier: MIT
"""The long work of the dialog, done beside the main thread: read, review, draw; propose and prove."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from lineworthy.amend import Amendment, Offer
from lineworthy.model import Board, Side
from lineworthy.picture import Picture, draw
from lineworthy.report.facts import grouped
from lineworthy.review import Review, review
from lineworthy.sheet import Sheet
from lineworthy_kicad.dialog.worker import Tell
from lineworthy_kicad.hosts.host import DocumentText
from lineworthy_kicad.reader import parse_board

READ_SHARE, REVIEW_SHARE = 0.65, 0.9
"""How much of the bar is filled when the board is read, and when it is reviewed; the rest is drawing."""


@dataclass(frozen=True, eq=False)
class Outcome:
    """A review with a picture of each side, made for all findings in the order of their numbers."""

    document: DocumentText
    review: Review
    pictures: tuple[Picture, ...]


class Planner(Protocol):
    """Finds what can be inserted, and proves that it helps."""

    def offer(self, review: Review, tell: Tell) -> Offer:
        """What fits on the board, what does not and why, and which findings it makes go."""

    def objections(self, review: Review, chosen: Sequence[Amendment], tell: Tell) -> Sequence[str]:
        """Why these alone must not be inserted, from a review of the board with them; empty when all is well."""


def read_and_review(document: DocumentText, sheet: Sheet, tell: Tell) -> Outcome:
    """From the document's text to findings and pictures.

    Raises:
        InputError: the text is no board document.
    """
    tell(0.0, f"Reading {document.name}")
    board = parse_board(
        document.text,
        document.name,
        document.path,
        document.project,
        lambda share: tell(share * READ_SHARE, f"Reading {document.name}"),
    )
    return review_board(document, board, sheet, tell)


def review_board(document: DocumentText, board: Board, sheet: Sheet, tell: Tell) -> Outcome:
    """From a board that is read already to findings and pictures."""

    def on_check(done: int, total: int, check: str) -> None:
        tell(READ_SHARE + (REVIEW_SHARE - READ_SHARE) * done / total, f"Reviewing: {check}")

    result = review(board, sheet, progress=on_check)
    findings = [row.finding for area in grouped(result) for group in area.groups for row in group.rows]
    pictures: list[Picture] = []
    for side in Side:
        tell(REVIEW_SHARE, f"Drawing the {side.value} side")
        pictures.append(draw(board, side, findings))
    return Outcome(document, result, tuple(pictures))
