# SPDX-License-Identifier: MIT
"""The HTML report as text: well-formed, whole, the same each time, and nothing of the board in it is markup."""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from typing import Optional

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import report_sample as sample
from build import TOP, board, chip, graphic, marking, outline, rectangle
from lineworthy import Consequence, Place, Review, review
from lineworthy.finding import Finding
from lineworthy.model import Side
from lineworthy.picture import Role, draw
from lineworthy.report import html, svg

VOID = {"meta", "input", "br", "link", "img", "hr"}

REVIEWS: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "crowded": sample.crowded_review,
    "hostile": sample.hostile_review,
    "control": lambda: sample.hostile_review(sample.CONTROL),
    "surrogate": lambda: sample.hostile_review("\ud800"),
    "empty": sample.empty_review,
    "open outline": lambda: review(sample.outline_missing(), checks=sample.CHECKS),
    "conceded": sample.conceded_review,
    "conceded hostile": lambda: sample.conceded_review(sample.HOSTILE + sample.CONTROL),
}


class Page(HTMLParser):
    """Elements with their attributes and text; fails on tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, Optional[str]]]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, f"not closed: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Optional[str]]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute twice: {tag} {attrs}"
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, Optional[str]]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"closes nothing: {tag}"
        assert self.open[-1] == tag, f"{tag} closes {self.open[-1]}"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    def tags(self, name: str) -> list[dict[str, Optional[str]]]:
        return [attrs for tag, attrs in self.elements if tag == name]


def rendered(result: Review) -> str:
    return html.render(result, sample.CHECKS)


@pytest.mark.parametrize("name", REVIEWS)
def test_pages_are_well_formed_and_the_same_each_time(name: str) -> None:
    text = rendered(REVIEWS[name]())
    Page(text)
    assert text == rendered(REVIEWS[name]())
    assert text.encode("utf-8")


@pytest.mark.parametrize("name", REVIEWS)
def test_nothing_is_fetched_and_nothing_foreign_may_run(name: str) -> None:
    page = Page(rendered(REVIEWS[name]()))
    for tag, attrs in page.elements:
        assert not {"src", "srcset", "style", "action", "xlink:href"} & set(attrs), (tag, attrs)
        assert not [a for a in attrs if a.startswith("on")], (tag, attrs)
        assert tag not in {"img", "iframe", "object", "embed", "link", "base", "form", "image", "use", "foreignobject"}
        if attrs.get("href"):
            assert str(attrs["href"]).startswith("#"), (tag, attrs)
    assert len(page.tags("script")) == 1
    assert len(page.tags("style")) == 1


def test_the_policy_names_exactly_our_script_and_style() -> None:
    text = rendered(sample.sample_review())
    policy = next(m["content"] for m in Page(text).tags("meta") if m.get("http-equiv"))
    assert policy is not None
    for tag in ("script", "style"):
        inside = re.search(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        assert inside is not None
        digest = base64.b64encode(hashlib.sha256(inside[1].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "url(" not in text
    assert "@import" not in text


def test_hostile_text_is_shown_as_it_is() -> None:
    page = Page(rendered(sample.hostile_review()))
    assert "".join(page.text).count("<img src=x") >= 20
    assert {tag for tag, _ in page.elements} == {tag for tag, _ in Page(rendered(sample.hostile_review("x"))).elements}


@settings(max_examples=30, deadline=None)
@given(st.text(max_size=40))
def test_no_text_changes_the_structure_of_the_page(text: str) -> None:
    """Whatever a board says, the page has the elements it has for the letter x."""
    got = Page(rendered(sample.hostile_review(f"x{text}")))
    assert structure(got) == structure(PLAIN)


def structure(page: Page) -> Counter[str]:
    """Elements by name, but for the words on the map: a text of several lines is several of them."""
    return Counter(tag for tag, _ in page.elements if tag != "text")


PLAIN = Page(rendered(sample.hostile_review("x")))


def test_every_finding_has_its_row_with_all_there_is_to_know() -> None:
    result = sample.sample_review()
    text = rendered(result)
    page = Page(text)
    rows = [attrs for attrs in page.tags("li") if "data-finding" in attrs]
    assert [row["id"] for row in rows] == [f"f{n}" for n in range(1, 9)]
    words = " ".join("".join(page.text).split())
    assert result.verdict in words
    assert "Not a certification" in words
    for finding in result.findings:
        assert finding.message in words
    assert "0.12 mm measured" in words
    assert f"{result.sheet.spacing.chip_min_mm:g} mm limit" in words
    assert result.sheet.source("spacing.chip_min_mm") in words
    for told in ("The nozzle touches the neighbour.", "Move one of them.", "Bodies that are not drawn."):
        assert told in words
    assert "No parts list" in words
    assert "Give one" in words
    assert "supply/sample-list Is each part to be had? not run" in " ".join(" ".join(page.text).split())


def test_conceded_findings_stand_apart_off_the_map_and_the_others_keep_their_numbers() -> None:
    text = rendered(sample.conceded_review())
    page = Page(text)
    assert [a["data-finding"] for a in page.tags("li") if "data-finding" in a] == ["3", "4", "5", "6", "7", "8"]
    pins = {str(a["href"]) for a in page.tags("a") if str(a.get("class", "")).startswith("pin")}
    assert pins == {f"#f{n}" for n in range(3, 9)}
    section = text[text.index('<section id="conceded"') :].split("</section>")[0]
    assert section.count("<tr>") == 3
    assert "No part number in widget" in section
    assert "placed by hand, five boards <small>(conceded by placed by hand, five boards on 2026-03-14" in section
    assert 'id="conceded"' not in rendered(sample.sample_review())


def test_the_area_table_counts() -> None:
    text = rendered(sample.sample_review())
    table = text[text.index('<table class="areas">') : text.index("</table>")]
    rows = re.findall(r"<tr>(.*?)</tr>", table, re.DOTALL)
    cells = [[re.sub("<.*?>", "", c) for c in re.findall(r"<t[hd].*?>(.*?)</t[hd]>", row)] for row in rows]
    assert cells[0] == ["Area", "Hold", "Query", "Note", "Not run", "Checks"]
    assert ["Spacing", "0", "4", "0", "0", "1"] in cells
    assert ["Supply", "0", "0", "0", "1", "1"] in cells
    assert cells[-1] == ["All", "1", "4", "3", "1", "4"]


def test_a_check_nobody_documents_is_shown_by_its_id() -> None:
    assert "<code>spacing/sample-close</code>" in html.render(sample.sample_review())


def test_failed_checks_are_said_to_be_our_fault() -> None:
    page = Page(rendered(sample.hostile_review("x")))
    assert any("A fault of this tool" in text for text in page.text)


@pytest.mark.parametrize(
    ("measured", "limit", "bar"),
    [(0.1, 0.2, True), (0.0, 0.2, True), (-0.1, 0.2, False), (float("inf"), 1.0, False), (0.0, 0.0, False)],
)
def test_bars_only_where_they_can_show_it(measured: float, limit: float, bar: bool) -> None:
    one = Finding("spacing/sample-close", Consequence.NOTE, "m", measured=measured, limit=limit, unit="mm")
    text = rendered(replace(sample.sample_review(), findings=(one,)))
    assert ('<svg class="bar"' in text) is bar
    assert "measured</span>" in text


def test_an_index_leads_to_reports_beside_it_and_nowhere_else() -> None:
    names = ["a b.html", "javascript:alert(1).html", "//elsewhere.html", '"><script>.html', "ü#?.html"]
    text = html.index([html.index_row(name, sample.hostile_review()) for name in names])
    page = Page(text)
    hrefs = [str(a["href"]) for a in page.tags("a") if a.get("class") != "skip"]
    assert hrefs[0] == "./a%20b.html"
    assert all(re.fullmatch(r"\./[A-Za-z0-9%._/-]+", href) for href in hrefs), hrefs
    assert not page.tags("script")
    assert "On hold" in "".join(page.text) or "Incomplete" in "".join(page.text)


# --- the drawing -----------------------------------------------------------------------------------------------------


def points(path: str) -> list[list[tuple[int, int]]]:
    """Corners of every loop of a path made of M, l, h0 and z."""
    loops = []
    for piece in path.replace("z", "").split("M")[1:]:
        start, _, steps = piece.replace("h0", "").partition("l")
        numbers = [int(n) for n in re.findall(r"-?\d+", start)]
        x, y = numbers
        loop = [(x, y)]
        moves = [int(n) for n in re.findall(r"-?\d+", steps)]
        for dx, dy in zip(moves[::2], moves[1::2]):
            x, y = x + dx, y + dy
            loop.append((x, y))
        loops.append(loop)
    return loops


def group(text: str, role: Role) -> str:
    inside = re.search(rf'<g class="r-{role.value}">\n(.*?)\n</g>', text, re.DOTALL)
    assert inside is not None
    return inside[1]


def test_the_drawing_has_the_board_to_scale_with_y_down() -> None:
    made = board(40, 20, outline=outline(40, 20, at=(100, -50)), graphics=(graphic(rectangle((105, -48), 2, 1)),))
    text = svg.draw(draw(made, TOP), [], "top")
    box = re.search(r'viewBox="0 0 (\d+) (\d+)"', text)
    assert box is not None
    (corners,) = points(group(text, Role.BOARD))
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    assert max(xs) - min(xs) == 4000
    assert max(ys) - min(ys) == 2000
    assert min(xs) > 0
    assert max(xs) < int(box[1])
    assert max(ys) < int(box[2])
    (legend,) = points(group(text, Role.LEGEND))
    assert min(x for x, _ in legend) == min(xs) + 400
    assert max(y for _, y in legend) == max(ys) - 150, "2 mm above the lower edge, half a millimetre tall"


def test_a_pin_is_a_link_to_its_row_with_a_stem_to_the_place() -> None:
    finding = Finding("spacing/sample-close", Consequence.HOLD, "m", (Place((10, 10), Side.TOP, "R1"),))
    made = board(40, 20)
    text = svg.draw(draw(made, TOP, [finding]), [finding], "top")
    assert '<a class="pin hold" href="#f1" data-finding="1" aria-label="1, hold: R1">' in text
    dot = re.search(r'<circle class="dot" id="top-1-0" cx="(\d+)" cy="(\d+)"', text)
    stem = re.search(r'<path class="stem" d="M(\d+) (\d+)L', text)
    (corners,) = points(group(text, Role.BOARD))
    assert dot is not None
    assert stem is not None
    assert (int(dot[1]), int(dot[2])) == (corners_left(corners) + 1000, max(y for _, y in corners) - 1000)
    assert dot.groups() == stem.groups()


def corners_left(corners: list[tuple[int, int]]) -> int:
    return min(x for x, _ in corners)


def test_ids_on_both_maps_are_unique_and_places_lead_to_them() -> None:
    page = Page(rendered(sample.crowded_review()))
    ids = [attrs["id"] for _, attrs in page.elements if attrs.get("id")]
    assert len(ids) == len(set(ids))
    hrefs = {str(a["href"])[1:] for a in page.tags("a")}
    assert hrefs <= set(ids)
    assert sum(1 for h in hrefs if re.fullmatch(r"(top|bottom)-\d+-\d+", h)) > 200


def test_words_on_the_map_are_escaped_and_fitted() -> None:
    made = board(markings=(marking("<b>&", (20, 20)),))
    text = svg.draw(draw(made, TOP), [], "top")
    assert re.search(r'<text [^>]*textLength="\d+"[^>]*>&lt;b&gt;&amp;</text>', text)


def test_a_big_board_stays_small() -> None:
    """Parts in thousands: what the report weighs is bounded by what can be seen."""
    parts = tuple(chip(f"R{n}", (n % 50 * 4.0, n // 50 * 4.0)) for n in range(1500))
    made = board(204, 124, parts=parts)
    text = html.render(replace(sample.empty_review(), board=made))
    assert len(text) < 1_500_000
