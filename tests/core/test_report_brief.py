# SPDX-License-Identifier: MIT
"""The assembly brief: what it tells the factory, what it asks, and that board text cannot act in it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import Optional

import build
from lineworthy import Board, review
from lineworthy.beside import Beside
from lineworthy.concessions import Concession
from lineworthy.model import Stackup, TitleBlock
from lineworthy.project import Project
from lineworthy.release.manifest import Manifest, ReleasedFile
from lineworthy.report import brief


def board() -> Board:
    return build.board(
        60,
        40,
        parts=(
            build.chip("R1", (10, 10), value="10k"),
            build.chip("R2", (20, 10), value="1k", fitted=False),
            build.fiducial("FID1", (3, 3)),
        ),
        title=TitleBlock(title="Orchard frost alarm", revision="B"),
        stackup=Stackup(1.2, finish="ENIG"),
    )


def page(made: Board, beside: Optional[Beside] = None) -> str:
    manifest = Manifest(made.name, "B", "ab" * 32, "2027-03-01", (ReleasedFile("frost.drl", 120, "cd" * 32),))
    return brief.render(review(made, beside=beside), manifest)


def told(text: str, name: str) -> str:
    match = re.search(rf'<th scope="row">{re.escape(name)}</th><td>(.*?)</td>', text)
    assert match, name
    return match[1]


def test_it_says_what_is_built() -> None:
    text = page(board())
    assert told(text, "Thickness") == "1.20 mm"
    assert told(text, "Finish") == "ENIG"
    assert told(text, "Placed by machine, top") == "1 part"
    assert told(text, "Not fitted") == "R2"
    assert told(text, "Fiducials, top (mm, from the lower left corner)") == "3.00, 3.00"
    assert told(text, "Fiducials, bottom (mm, from the lower left corner)") == "none"
    assert "frost.drl" in text
    assert ("cd" * 16) in text


def test_it_estimates_the_yield_and_says_what_that_rests_on() -> None:
    text = page(board())
    assert told(text, "Parts placed by machine").startswith("1 a board, 50 defects in a million: 100.0 %")
    assert "placeholder" in told(text, "Boards without a fault")


def test_it_asks_only_what_the_board_does_not_say() -> None:
    said = page(board())
    assert "states no surface finish" not in said
    assert "states no stack-up" in said
    assert "carries no fiducials" not in said
    bare = page(replace(board(), stackup=Stackup(), parts=()))
    assert "states no surface finish" in bare
    assert "carries no fiducials" in bare


def test_what_is_open_and_what_was_accepted_are_told_apart() -> None:
    made = board()
    found = next(f for f in review(made).findings if f.consequence.value == "query")
    given = Concession(found.check, found.fingerprint, "five boards, placed by hand", "R. Novak", date(2027, 2, 1), "B")
    before, after = page(made), page(made, Beside(concessions=(given,)))
    opened, accepted = after.split("Accepted, please do not mend")
    assert "five boards, placed by hand" in accepted
    assert "R. Novak" in accepted
    assert before.count("query: ") == opened.count("query: ") + 1


def test_board_text_cannot_act() -> None:
    evil = '<img src=x onerror=alert(1)>"\u202e\x1b'
    made = build.board(
        parts=(build.chip("R1", (10, 10), value=evil), build.chip(evil, (20, 10), fitted=False)),
        title=TitleBlock(title=evil, company=evil, revision=evil),
        stackup=Stackup(finish=evil),
        name=evil,
    )
    text = page(made)
    assert "<img" not in text
    assert "\u202e" not in text
    assert "\x1b" not in text
    assert "&lt;img" in text


def test_it_asks_who_programs_where_the_settings_say_that_a_net_does() -> None:
    pads = [build.pad("1", (30, 10), net="MISLEADING"), build.pad("2", (32, 10), net="MISLEADING")]
    made = replace(board(), parts=(*board().parts, build.part("U1", (31, 10), pads)))
    asked = "The board takes a program"
    assert asked not in page(made)
    assert asked in page(made, Beside(project=Project(nets={"MISLEADING": "programming"})))
