# SPDX-License-Identifier: MIT
"""A supply run on its way out: text, page, table, data; the command; and text that wants to do harm."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from lineworthy import Board, cli, review
from lineworthy.beside import Beside
from lineworthy.project import Project
from lineworthy.report import html, supply_html, supply_picture, supply_sections, supply_table, supply_text
from supply_build import TODAY, board_of, listed, offered, resistor, run_of

FRESH = "2026-11-18"
EVIL = "<script>alert(1)</script>\"'&\u202e"
FORMULAS = ("=cmd|'/c calc'!A1", "+1+1", "-2+3", "@SUM(A1)", " =1")


def sample(**more: Any):
    parts = listed("R1-R3,3,10k,0402,A-1", "U1,1,mcu,QFN-48,B-1", "U2,1,radio,QFN-20,C-1", "U3,1,old,SO-8,D-1")
    offers = offered(
        f"A-1,Harrow,9999,10,active,100,100,100: 0.01,EUR,{FRESH},",
        f"B-1,Harrow,40,26,active,1,1,1: 3.1,EUR,{FRESH},",
        f"C-1,Larchmont,0,15,active,1,1,1: 2.2,EUR,{FRESH},",
        f"D-1,Larchmont,10,,obsolete,1,1,1: 0.2,EUR,{FRESH},",
    )
    return run_of(parts, offers, **more)


def hostile():
    head = "Ref,Qty,Value,Package,Manufacturer,MPN,Alternate,Substitution,Sourcing,Description"
    rows = [f'R{n},1,"{text}","{text}","{text}","{text} {n}","{text}x","{text}","{text}","{text}"'.replace('"', '"')
            for n, text in enumerate((EVIL.replace('"', '""'), *FORMULAS), 1)]  # fmt: skip
    parts = listed(*rows, head=head)
    sold = ['"{0} {1}","{0}","{0}"'.format(text.replace('"', '""'), n) for n, text in enumerate((EVIL, *FORMULAS), 1)]
    offers = offered(*(f"{row},50,{FRESH}" for row in sold), head="manufacturer_part,source,order_code,stock,date")
    return run_of(parts, offers, 10)


class Tags(HTMLParser):
    """Every tag that the page has."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.seen: list[str] = []
        self.attributes: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.seen.append(tag)
        self.attributes |= {name for name, _ in attrs}


def test_markup_in_any_text_stays_text() -> None:
    page = supply_html.render(hostile())
    tags = Tags(page)
    assert "script" not in tags.seen
    assert not {name for name in tags.attributes if name.startswith("on")}
    assert "style" not in tags.attributes, "the page's policy forbids inline styles"
    assert "&lt;script&gt;alert(1)" in page
    assert "\u202e" not in page
    ElementTree.fromstring(supply_picture.draw(hostile()))


def test_no_cell_of_the_table_is_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(supply_table.table(hostile()))))
    assert len(rows) == 1 + 6
    for line in rows:
        assert len(line) == len(supply_table.HEADER)
        assert not [cell for cell in line if cell.lstrip().startswith(("=", "+", "-", "@"))], line


def test_a_risk_in_the_lists_own_words_is_no_formula_either() -> None:
    parts = listed("U1,1,x,QFN-48,A-1,=sole(1)", head="Ref,Qty,Value,Package,MPN,Sourcing")
    run = run_of(parts, offered(*(f"A-1,{seller},999,,,,,,,{FRESH}," for seller in "HL")))
    (row,) = csv.DictReader(io.StringIO(supply_table.table(run)))
    assert row["risks"] == "'=sole(1)"


def test_text_for_the_terminal_moves_nothing() -> None:
    text = supply_text.render(hostile())
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert all(len(line) <= 100 or " " not in line.strip() for line in text.splitlines())


def test_what_the_text_says() -> None:
    text = supply_text.render(sample())
    words = " ".join(text.split())
    assert "2 of 4 parts cannot be counted on: 1 too late, 1 short." in words
    assert "Critical path U1 (B-1): order by 2026-09-17, 69 days ago; lead time 26 weeks" in words
    assert "buy 40 from Harrow (stock) at 3.1 EUR; 60 from Harrow (26 weeks) at 3.1 EUR" in words
    assert "90 of 100 pieces missing" in words


def test_the_table_and_the_data_agree() -> None:
    run = sample()
    rows = list(csv.DictReader(io.StringIO(supply_table.table(run))))
    data = json.loads(supply_table.document(run))
    assert [row["manufacturer part"] for row in rows] == [part["manufacturer_part"] for part in data["parts"]]
    for row, part in zip(rows, data["parts"]):
        assert int(row["needed"]) == part["needed"] == part["placed"] + part["spare"]
        assert row["order by"] == (part["order_by"] or "")
    bought = sum(buy["cost"] for part in data["parts"] for buy in part["purchases"])
    assert bought == pytest.approx(data["cost"]["EUR"])
    assert data["sheet"]["limits"]["supply.data_max_days"] == 30


def test_the_same_run_gives_the_same_bytes() -> None:
    for render in (supply_html.render, supply_table.table, supply_table.document, supply_text.render):
        assert render(sample()) == render(sample())


def test_the_picture_puts_the_bars_where_the_days_are() -> None:
    root = ElementTree.fromstring(supply_picture.draw(sample()))
    today, build = (next(x for x in root.iter() if x.get("class") == kind) for kind in ("today", "build"))
    bars = {g.find("title").text.split(" (")[0]: g.find("rect") for g in root.iter("g") if g.find("title") is not None}
    left = {name: float(bar.get("x")) for name, bar in bars.items()}
    assert left["U1"] < float(today.get("x1")) < left["U2"] < float(build.get("x1"))
    for bar in bars.values():
        assert float(bar.get("x")) + float(bar.get("width")) <= float(build.get("x1")) + 0.2
    assert supply_picture.draw(run_of(listed("R1,0,x,0402,A"), offered(f"A,H,1,,,,,,,{FRESH},"))) == ""


# --- the command


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    parts, offers = tmp_path / "parts.csv", tmp_path / "offers.csv"
    parts.write_text("Ref,Qty,Value,Package,MPN\nR1,1,10k,0402,A-1\n")
    offers.write_text(f"MPN,Source,Stock,Date\nA-1,Harrow,999,{FRESH}\n")
    return {"parts": parts, "offers": offers, "board": tmp_path / "b.kicad_pcb", "out": tmp_path / "out"}


def command(files: dict[str, Path], *more: str, layout: Board | None = None) -> int:
    options = ["supply", str(files["board"]), "--offers", str(files["offers"]), "--today", "2026-11-25", *more]
    return cli.main(options, lambda path, progress: layout or board_of(resistor(1, MPN="A-1")))


BUILD = ("--build", "100", "--by", "2027-04-01")


def test_a_build_that_can_be_supplied(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert command(files, "--parts", str(files["parts"]), *BUILD, "--out", str(files["out"])) == 0
    assert sorted(path.name for path in files["out"].iterdir()) == ["b-supply.csv", "b-supply.html", "b-supply.json"]
    assert "The one part can be had if ordered in time, the first by 2027-03-13." in capsys.readouterr().out


def test_a_build_that_cannot(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert command(files, "--build", "5000", "--by", "2027-04-01", "--format", "json") == 1
    assert json.loads(capsys.readouterr().out)["parts"][0]["standing"] == "short"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((), "no build: give --build N and --by DATE"),
        ((*BUILD, "--years", "2"), "need --weekly"),
        ((*BUILD, "--parts", "none.csv"), "none.csv: cannot be read"),
    ],
)
def test_what_is_missing_is_one_line(
    files: dict[str, Path], more: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command(files, *more) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


def test_without_offers_there_is_no_answer(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    read = lambda path, progress: board_of(resistor(1))  # noqa: E731
    assert cli.main(["supply", str(files["board"]), *BUILD], read) == 2
    assert "no offers file" in capsys.readouterr().err


def test_wrong_numbers_are_wrong_usage(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert command(files, *BUILD, "--weekly", "-3") == 2
    assert "argument --weekly: '-3' is no number of 0 or more" in capsys.readouterr().err


def test_a_review_with_offers_shows_the_risks_and_the_lead_times() -> None:
    """The same sections as on the run's own page, and none where nobody asked or something is missing."""
    layout = board_of(resistor(1), resistor(2, "1k"))
    parts = listed("R1,1,10k,0402,A-1,any", "R2,1,1k,0402,B-1,any", head="Ref,Qty,Value,Package,MPN,Substitution")
    offers = offered("A-1,H,0,200,active,1,1,1: 0.1,EUR,2026-11-18,", "B-1,H,99999,,active,1,1,1: 0.1,EUR,2026-11-18,")
    project = Project(build_quantity=100, build_date=date(2027, 3, 1))
    given = Beside(project=project, parts=parts, offers=offers, today=TODAY)
    found = review(layout, beside=given, only=["supply"])
    shown = html.render(found)
    assert found.supply is not None
    for heading in ("Supply", "Lead times, counted back from the build", "At risk"):
        assert f">{heading}</h2>" in shown
    assert "A-1" in shown[shown.index(">At risk<") :]
    assert "\n".join(supply_sections.risk_table(found.supply)) in shown
    for other in (review(layout, beside=given, only=["panel"]), review(layout, beside=Beside(), only=["supply"])):
        assert other.supply is None
        assert ">Lead times" not in html.render(other)
