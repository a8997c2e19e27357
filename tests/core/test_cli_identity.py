# SPDX-License-Identifier: MIT
"""``lineworthy identity``: what is printed, and the next revision for a script."""

from __future__ import annotations

import pytest

from build import LEGEND_BOTTOM, board, marking
from lineworthy import cli
from lineworthy.model import TitleBlock


def run(layout, *argv: str) -> int:
    return cli.main(("identity", "widget.kicad_pcb", *argv), lambda path, progress: layout)


def test_what_is_printed_and_where(capsys: pytest.CaptureFixture[str]) -> None:
    texts = (marking("WIDGET REV B"), marking("WIDGET", layer=LEGEND_BOTTOM, height=0.9), marking("GND"))
    layout = board(name="widget_revB", markings=texts, title=TitleBlock(title="Widget", revision="B"))
    assert run(layout) == 0
    assert capsys.readouterr().out.splitlines() == [
        "called         Widget, widget_revB",
        "title block    revision B",
        "file name      revision B",
        "top            F.SilkS: WIDGET REV B (name, revision B)",
        "bottom         B.SilkS: WIDGET (name, reads backwards)",
        "next revision  C",
    ]


def test_nothing_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(board()) == 1
    out = capsys.readouterr().out
    assert "printed        nothing that names the board" in out
    assert "next revision  A is the first" in out


@pytest.mark.parametrize(
    # what comes next, from memory: ASME Y14.35 with the letters skipped
    ("now", "then"),
    [("H", "J"), ("Y", "AA"), ("YY", "AAA"), ("-", "A"), ("1.9", "1.10"), ("2.C", "2.D")],
)
def test_next_for_a_script(now: str, then: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(board(title=TitleBlock(revision=now)), "--next") == 0
    assert capsys.readouterr().out == f"{then}\n"


def test_next_from_the_marking_where_the_title_block_gives_none(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(board(markings=(marking("REV P"),)), "--next") == 0
    assert capsys.readouterr().out == "R\n"


@pytest.mark.parametrize(
    ("revision", "words"),
    [("", "gives no revision"), ("O", "revision letters skip O"), ("draft", "neither a revision letter")],
)
def test_no_next_revision_is_one_line(revision: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(board(title=TitleBlock(revision=revision)), "--next") == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_hostile_text_stays_on_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    run(board(markings=(marking("WIDGET\x1b[31m\nREV B"),), title=TitleBlock(title="a\nb\x1b[0m")))
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert len(out.splitlines()) == 4
