# SPDX-License-Identifier: MIT
"""JUnit reports keep to the schema of Jenkins' xunit plug-in; a hold fails its check, nothing else does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

import report_sample as sample
from lineworthy import Review
from lineworthy.finding import NotRun
from lineworthy.report.junit import render
from lineworthy.review import review

SCHEMA = etree.XMLSchema(etree.parse(str(Path(__file__).parents[1] / "schemas" / "junit-10.xsd")))

REVIEWS: dict[str, Callable[[], Review]] = {
    "sample": sample.sample_review,
    "conceded": sample.conceded_review,
    "conceded hostile": lambda: sample.conceded_review(sample.HOSTILE + sample.CONTROL),
    "hostile": sample.hostile_review,
    "control": lambda: sample.hostile_review(sample.CONTROL + "\ufffe\x0b"),
    "surrogate": lambda: sample.hostile_review("\udc80\ud800"),
    "empty": sample.empty_review,
    "every check": lambda: review(sample.sample_board()),
}


def tree(result: Review) -> etree._Element:
    root = etree.fromstring(render(result).encode("utf-8"))
    SCHEMA.assertValid(root)
    return root


def case(root: etree._Element, check: str) -> etree._Element:
    (found,) = root.xpath(f"//testcase[@name='{check}']")
    return found


@pytest.mark.parametrize("name", REVIEWS)
def test_reports_are_xml_by_the_schema_and_repeat_byte_for_byte(name: str) -> None:
    result = REVIEWS[name]()
    root = tree(result)
    assert render(result) == render(REVIEWS[name]())
    assert {c.get("name") for c in root.iter("testcase")} == set(result.checks)
    for suite in root.iter("testsuite"):
        cases = suite.findall("testcase")
        assert int(suite.get("tests")) == len(cases)
        for kind, count in (("failure", "failures"), ("error", "errors"), ("skipped", "skipped")):
            assert int(suite.get(count)) == sum(c.find(kind) is not None for c in cases)
    assert int(root.get("failures")) == len(root.findall(".//failure"))


def test_the_schema_would_notice() -> None:
    broken = etree.fromstring(b'<testsuites><testsuite name="x"/></testsuites>')
    assert not SCHEMA.validate(broken)


def test_a_hold_fails_a_query_is_told_a_check_not_run_is_skipped() -> None:
    root = tree(sample.sample_review())
    (failure,) = case(root, "identity/sample-nameless")
    assert (failure.tag, failure.get("type"), failure.text) == ("failure", "hold", "No part number in widget")
    (told,) = case(root, "spacing/sample-close")
    assert told.tag == "system-out"
    assert told.text.splitlines()[1] == "query: R1 is 0.12 mm from R2 (at R1, R2)"
    (skipped,) = case(root, "supply/sample-list")
    assert (skipped.tag, skipped.get("message")) == ("skipped", "No parts list. Give one")
    assert root.get("failures") == "1"


def test_a_conceded_hold_fails_nothing_and_says_who_accepted_it() -> None:
    root = tree(sample.conceded_review())
    assert root.get("failures") == "0"
    (told,) = case(root, "identity/sample-nameless")
    assert told.text.startswith("conceded hold: No part number in widget (conceded by ")
    assert "2026-03-14, for revision B" in told.text


def test_a_check_that_broke_is_an_error() -> None:
    root = tree(sample.hostile_review())
    assert case(root, "supply/sample-list").find("error").get("message") == sample.HOSTILE
    assert root.get("errors") == "1"


def test_a_check_that_ran_in_part_is_not_skipped() -> None:
    partly = NotRun("spacing/sample-close", "heights", "give them")
    result = sample.sample_review()
    (told,) = case(tree(replace(result, not_run=(*result.not_run, partly))), "spacing/sample-close")
    assert told.text.splitlines()[-1] == "not run in part: heights. give them"
