# SPDX-License-Identifier: MIT
"""The long work of the dialog, done beside the main thread: read, review, draw; propose and prove."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Optional, Protocol

from lineworthy import concessions, sheet
from lineworthy.amend import Amendment, Offer
from lineworthy.beside import Beside, gather
from lineworthy.errors import InputError
from lineworthy.finding import Finding
from lineworthy.knowledge.wording import sentence
from lineworthy.model import Board, Side
from lineworthy.picture import Picture, draw, pinned
from lineworthy.report.facts import area_title, numbered
from lineworthy.review import Review, reconsider, review
from lineworthy.safe import visible
from lineworthy.sheet import Sheet
from lineworthy_kicad.dialog.worker import Tell
from lineworthy_kicad.hosts.host import DocumentText
from lineworthy_kicad.reader import parse_board

READ_SHARE, REVIEW_SHARE = 0.65, 0.9
"""How much of the bar is filled when the board is read, and when it is reviewed; the rest is drawing."""


@dataclass(frozen=True)
class Limits:
    """A capability sheet and the name or file it came from; one that was chosen wins over the project's own."""

    source: str
    sheet: Sheet
    is_chosen: bool = False


@dataclass(frozen=True, eq=False)
class Outcome:
    """A review with a picture of each side, made for all findings in the order of their numbers.

    Attributes:
        limits: the sheet that was used.
        cautions: what lies beside the board and could not be used, in words.
    """

    document: DocumentText
    review: Review
    pictures: tuple[Picture, ...]
    limits: Limits
    cautions: tuple[str, ...] = ()


class Planner(Protocol):
    """Finds what can be inserted, and proves that it helps."""

    def offer(self, review: Review, tell: Tell) -> Offer:
        """What fits on the board, what does not and why, and which findings it makes go."""

    def objections(self, review: Review, chosen: Sequence[Amendment], tell: Tell) -> Sequence[str]:
        """Why these alone must not be inserted, from a review of the board with them; empty when all is well."""


def read_and_review(document: DocumentText, limits: Limits, today: date, tell: Tell) -> Outcome:
    """From the document's text to findings and pictures.

    Raises:
        InputError: the text is no board document.
    """
    doing = f"Reading {visible(document.name)}"
    tell(0.0, doing)
    board = parse_board(
        document.text,
        document.name,
        document.path,
        document.project,
        lambda share: tell(share * READ_SHARE, doing),
    )
    return review_board(document, board, limits, today, tell)


def review_board(document: DocumentText, board: Board, limits: Limits, today: date, tell: Tell) -> Outcome:
    """From a board that is read already to findings and pictures."""
    path = Path(document.path) if document.path else None
    missed: list[InputError] = []
    beside = gather(path, today=today, missed=missed)
    used = _limits_for(beside, limits, missed)
    board = beside.measured(board)

    def on_check(done: int, total: int, check: str) -> None:
        tell(READ_SHARE + (REVIEW_SHARE - READ_SHARE) * done / total, f"Reviewing: {area_of(check)}")

    result = review(board, used.sheet, beside=beside, progress=on_check)
    findings = _findings(result)
    pictures: list[Picture] = []
    for side in Side:
        tell(REVIEW_SHARE, f"Drawing the {side.value} side")
        pictures.append(draw(board, side, findings))
    doubts = [f"{sentence(board.format_doubt)}."] if board.format_doubt else []
    doubts += [f"{said}." for said in beside.passed_over]
    return Outcome(document, result, tuple(pictures), used, (*doubts, *(_caution(error, path) for error in missed)))


def area_of(check: str) -> str:
    """What a person is told while a check runs: its area, as the list calls it."""
    return area_title(check.split("/", 1)[0])


def with_concessions(outcome: Outcome, path: Path) -> Outcome:
    """The same review with the concessions that are on file now.

    Raises:
        InputError: the file is damaged.
    """
    beside = replace(outcome.review.beside, concessions=concessions.load(path))
    result = reconsider(outcome.review, beside)
    pictures = tuple(pinned(picture, _findings(result)) for picture in outcome.pictures)
    return replace(outcome, review=result, pictures=pictures)


def _findings(result: Review) -> list[Finding]:
    return [row.finding for row in numbered(result)]


def _limits_for(beside: Beside, limits: Limits, missed: list[InputError]) -> Limits:
    """The sheet the project names, unless another was chosen in this window."""
    source = beside.project.sheet
    if limits.is_chosen or not source:
        return limits
    try:
        return Limits(source, sheet.load(source))
    except InputError as error:
        missed.append(InputError(beside.project.source, str(error), "sheet"))
        return limits


def _caution(error: InputError, board: Optional[Path]) -> str:
    of_concessions = board is not None and error.file == str(concessions.beside(board))
    return f"Concessions are not applied: {error}" if of_concessions else f"Reviewed without: {error}"
