# SPDX-License-Identifier: MIT
"""The terminal report."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely

import report_sample as sample
from build import board, chip, pad, part
from lineworthy import Consequence, Place, Review
from lineworthy.finding import Finding
from lineworthy.model import Board, Outline, Side, Stackup
from lineworthy.registry import Help
from lineworthy.report import text
from lineworthy.report.cautions import DANGEROUS_VOLTAGE, REVIEW_AID, cautions
from lineworthy.report.facts import board_line, figure, figures, grouped, question, tallies, where, with_unit
from lineworthy.safe import markup, visible


def test_the_verdict_comes_first_and_all_is_said() -> None:
    result = sample.sample_review()
    lines = text.render(result).splitlines()
    assert lines[0] == "On hold: 1 finding would stop the job, 4 more queries."
    assert lines[1].startswith("widget rev B: 60 x 40 mm, 2 copper layers, 5 parts (4 top, 1 bottom), 1 not fitted.")
    whole = "\n".join(lines)
    for finding in result.findings:
        assert finding.message in whole
        assert f"[{finding.check}]" in whole
    assert re.search(r"^Spacing +- +4 +- +-$", whole, re.MULTILINE)
    assert re.search(r"^Supply +- +- +- +1$", whole, re.MULTILINE)
    assert "No parts list. Give one" in whole
    assert "at R1 (x 10 y 10 top); R2 (x 12.2 y 10 top)" in whole
    source = result.sheet.source("spacing.chip_min_mm")
    assert f"spacing.chip_min_mm = {result.sheet.spacing.chip_min_mm:g} mm" in whole
    assert f"{result.sheet.name}: {source}" in " ".join(whole.split())
    assert REVIEW_AID.text in " ".join(lines[-2:])


def test_findings_are_numbered_in_order_of_area_and_check() -> None:
    numbers = re.findall(r"^ +(\d+)  (HOLD|QUERY|NOTE)", text.render(sample.sample_review()), re.MULTILINE)
    assert [int(n) for n, _ in numbers] == list(range(1, 9))


@pytest.mark.parametrize("width", [60, 75, 100, 120])
def test_lines_keep_to_the_width(width: int) -> None:
    for line in text.render(sample.hostile_review(sample.CONTROL), width=width).splitlines():
        assert len(line) <= width or " " not in line.strip()


def test_colour_only_when_asked_and_the_same_words() -> None:
    plain = text.render(sample.sample_review())
    assert "\033" not in plain
    coloured = text.render(sample.sample_review(), colour=True)
    assert "\033[1;31m" in coloured
    assert re.sub(r"\033\[[0-9;]*m", "", coloured) == plain


def test_board_text_cannot_drive_the_terminal_or_pose_as_another() -> None:
    shown = text.render(sample.hostile_review(sample.CONTROL))
    assert all(c.isprintable() or c == "\n" for c in shown)
    assert "\\x1b[31m" in shown
    assert "\\u202e" in shown


def test_many_places_are_counted() -> None:
    assert "and 197 more" in text.render(sample.crowded_review())


def test_a_failed_check_is_named() -> None:
    assert "Failed by a fault of this tool" in text.render(sample.hostile_review("x"))


def test_an_empty_review_is_short_and_whole() -> None:
    shown = text.render(sample.empty_review())
    assert shown.startswith("Lineworthy: nothing found.\n")
    assert "outline not closed" in shown


# --- what the reports share ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("plain µ Ω 電", "plain µ Ω 電"),
        ("two\nlines\tand", "two lines and"),
        ("\x1b]0;x\x07", "\\x1b]0;x\\x07"),
        ("a\u200bb\ufeff", "a\\u200bb\\ufeff"),
        ("\ud800", "\\ud800"),
        ("\U000e0001", "\\U000e0001"),
        ("", ""),
    ],
)
def test_visible(raw: str, shown: str) -> None:
    assert visible(raw) == shown
    assert visible(raw).isprintable()


def test_markup_has_no_character_that_means_something() -> None:
    assert markup("<a href='x'>\"&\x00") == "&lt;a href=&#x27;x&#x27;&gt;&quot;&amp;\\x00"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.25, "0.25"), (2.0, "2"), (100.0, "100"), (-0.0001, "0"), (0.1234, "0.123"), (1e9, "1000000000")],
)
def test_figure(value: float, shown: str) -> None:
    assert figure(value) == shown


def test_figures_show_that_two_numbers_differ() -> None:
    assert figures(0.12, 0.25) == ("0.12", "0.25")
    assert figures(0.24996, 0.25) == ("0.24996", "0.25")
    assert figures(0.2499, 0.25) == ("0.2499", "0.25")


def test_units_as_they_are_read() -> None:
    assert [with_unit("3", unit) for unit in ("mm", "count", "ratio", "percent", "um", "")] == [
        "3 mm",
        "3",
        "3",
        "3 %",
        "3 µm",
        "3",
    ]


def test_board_line_counts_what_is_assembled() -> None:
    assert board_line(sample.sample_board()) == "60 x 40 mm, 2 copper layers, 5 parts (4 top, 1 bottom), 1 not fitted"


def test_grouping_keeps_the_gravest_check_first_and_every_finding_once() -> None:
    result = sample.crowded_review()
    rows = [row for area in grouped(result) for group in area.groups for row in group.rows]
    assert [row.number for row in rows] == list(range(1, len(result.findings) + 1))
    assert sorted(id(row.finding) for row in rows) == sorted(id(finding) for finding in result.findings)
    assert sum(t.hold + t.query + t.note for t in tallies(result)) == len(rows)


def test_a_long_question_is_cut_after_its_first_sentence() -> None:
    assert question(Help("Is it so? It is measured thus. And thus.", {})) == (
        "Is it so?",
        "It is measured thus. And thus.",
    )
    assert question(Help("Ratio below 0.66 of foil", {})) == ("Ratio below 0.66 of foil", "")
    assert question(Help("", {})) == ("", "")


# --- cautions --------------------------------------------------------------------------------------------------------


def topics(result: Review) -> list[str]:
    return [caution.topic for caution in cautions(result)]


def with_net(name: str) -> Review:
    made = board(parts=(part("J1", (5, 5), [pad("1", (5, 5), net=name)]),))
    return replace(sample.empty_review(), board=made)


@pytest.mark.parametrize(
    "name", ["AC_L", "AC_N", "/MAINS_L", "Mains", "NEUTRAL", "AC", "230V", "/psu/230VAC_IN", "48VAC"]
)
def test_nets_that_speak_of_mains_bring_the_caution(name: str) -> None:
    assert DANGEROUS_VOLTAGE in topics(with_net(name))


@pytest.mark.parametrize("name", ["GND", "+12V", "VAC_SENSE_N", "LINE_IN", "MAC_L", "ACK", "+3V3", "DAC_L", "LIVE_LED"])
def test_other_nets_do_not(name: str) -> None:
    assert DANGEROUS_VOLTAGE not in topics(with_net(name))


def test_parts_that_switch_or_convert_mains_bring_the_caution() -> None:
    for part_ in (
        chip("K1", (5, 5), package="Relay_SPDT_Omron-G5LE-1"),
        chip("PS1", (5, 5), library="Converter_ACDC"),
        chip("J1", (5, 5), description="Mains inlet IEC 60320 C14"),
    ):
        made = replace(sample.empty_review(), board=board(parts=(part_,)))
        assert DANGEROUS_VOLTAGE in topics(made)
        assert part_.reference in next(c.text for c in cautions(made) if c.topic == DANGEROUS_VOLTAGE)


def test_the_review_aid_caution_is_in_every_report_and_those_on_parting_with_panel_findings_only() -> None:
    empty = sample.empty_review()
    assert topics(empty) == ["Review aid"]
    one = Finding("spacing/sample-close", Consequence.NOTE, "m", (Place((1, 1)),))
    assert topics(replace(empty, findings=(one,))) == ["Review aid", "Static electricity", "Burns and fumes"]
    panel = replace(one, check="panel/sample-edge")
    assert topics(replace(empty, findings=(panel,)))[-2:] == ["Hand breaking", "Dust"]
    rides = replace(one, check="panel/no-edge-to-hold")  # nothing is parted
    assert topics(replace(empty, findings=(rides,))) == ["Review aid", "Static electricity", "Burns and fumes"]


def test_lead_and_cells() -> None:
    leaded = board(stackup=Stackup(finish="HAL SnPb"), parts=(chip("BT1", (5, 5), package="BatteryHolder_CR2032"),))
    assert topics(replace(sample.empty_review(), board=leaded)) == ["Review aid", "Lead", "Stored energy"]
    assert topics(replace(sample.empty_review(), board=board(stackup=Stackup(finish="HAL lead-free")))) == [
        "Review aid"
    ]


def test_places_are_given_from_the_lower_left_corner_of_the_board() -> None:
    board = Board(outline=Outline(shapely.box(100, -50, 160, -10)))
    assert where(Place((110.25, -20.0), Side.BOTTOM), board) == "x 10.25 y 30 bottom"
    assert where(Place((110.25, -20.0)), board) == "x 10.25 y 30"
    assert where(Place((110.25, -20.0)), Board()) == "x 110.25 y -20"


def test_conceded_findings_stand_apart_keep_their_numbers_and_count_nowhere() -> None:
    told = text.render(sample.conceded_review())
    head, tail = told.split("Conceded (accepted by a person; counted nowhere)")
    assert head.splitlines()[0] == "Expect questions: 4 queries, nothing that stops the job; 2 conceded."
    assert "No part number in widget" not in head
    assert re.findall(r"^ +(\d+)  (?:HOLD|QUERY|NOTE)", head, re.MULTILINE) == ["3", "4", "5", "6", "7", "8"]
    assert re.findall(r"^ +(\d+)  (HOLD|QUERY|NOTE)", tail, re.MULTILINE) == [("1", "HOLD"), ("2", "NOTE")]
    said = " ".join(tail.split())
    who = "placed by hand, five boards"
    assert f"conceded by {who} on 2026-03-14, for revision B: {who} [identity/sample-nameless]" in said
    assert f"on 2026-03-15, until 2026-12-31: {who}" in said
    assert re.search(r"^Identity +- +- +- +-$", head, re.MULTILINE)


def test_fingerprints_when_asked() -> None:
    result = sample.conceded_review()
    assert "fingerprint" not in text.render(result)
    told = text.render(result, fingerprints=True)
    for finding, _ in result.every:
        assert f"fingerprint {finding.fingerprint}" in told


def test_hostile_concessions_stay_on_the_line() -> None:
    told = text.render(sample.conceded_review(sample.CONTROL))
    assert "\033" not in told
    assert "\u202e" not in told
