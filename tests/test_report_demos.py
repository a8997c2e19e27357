# SPDX-License-Identifier: MIT
"""Reports of boards we did not write: every demo board of the editor, in every format."""

from __future__ import annotations

import json
from html.parser import HTMLParser

import pytest
from jsonschema import Draft202012Validator

import demos
from lineworthy import Review, review
from lineworthy.model import Side
from lineworthy.picture import Role, draw
from lineworthy.report import FORMATS
from lineworthy.report.json import schema

HTML_MAX_BYTES = 8_000_000

pytestmark = pytest.mark.editor


@pytest.fixture(scope="module", params=demos.paths(), ids=demos.name)
def result(request: pytest.FixtureRequest) -> Review:
    return review(demos.read(request.param), strict=True)


def test_there_are_demo_boards() -> None:
    assert demos.paths(), demos.HOW


def test_every_format_says_every_finding(result: Review) -> None:
    written = {name: made.render(result) for name, made in FORMATS.items()}
    Draft202012Validator(schema()).validate(json.loads(written["json"]))
    assert len(written["html"].encode()) < HTML_MAX_BYTES
    words = Words(written["html"])
    flat = {"html": " ".join("".join(words.text).split()), "text": " ".join(written["text"].split())}
    for finding in result.findings:
        message = " ".join(finding.message.split())
        assert message in flat["html"]
        assert message.replace(" ", "") in flat["text"].replace(" ", ""), "a long word may be broken over lines"
    assert words.rows == len(result.findings)


def test_the_map_shows_every_part_and_every_place(result: Review) -> None:
    board = result.board
    pictures = [draw(board, side, result.findings) for side in Side]
    for picture in pictures:
        drawn = sum(len(coat.rings) for coat in picture.coats if coat.role in (Role.BODY, Role.UNFITTED))
        assert drawn >= sum(part.side is picture.side and part.body is not None for part in board.parts)
    places = sum(len(finding.places) for finding in result.findings)
    assert sum(len(picture.spots) for picture in pictures) == places


class Words(HTMLParser):
    """The text of a page, and how many rows of findings it has."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text: list[str] = []
        self.rows = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.rows += tag == "li" and "data-finding" in dict(attrs)

    def handle_data(self, data: str) -> None:
        self.text.append(data)
