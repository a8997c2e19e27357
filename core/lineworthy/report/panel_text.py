# SPDX-License-Identifier: MIT
"""A panel plan in short, for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from lineworthy.knowledge.wording import counted, listed, mm, sentence
from lineworthy.limits import ANSWERS
from lineworthy.plans.panel_plan import Against, Array, PanelPlan
from lineworthy.report.panel_facts import CAUTIONS, PROPOSAL, facts, in_the_way, title, verdict
from lineworthy.safe import visible

AGAINST_SHOWN = 10
"""Reasons against other arrays that are told; the JSON file holds them all."""

BRIEF = ("Boards", "Tabs", "Filled")
"""Facts told of the second and third array; the drawings hold all of them."""

_LABEL = 17


def render(plan: PanelPlan, width: int = 100) -> str:
    """The plan as text, wrapped to a width within 60 and 120 columns."""
    width = min(max(width, 60), 120)
    lines: list[str] = []
    for label, words in _rows(plan):
        wrapped = textwrap.wrap(
            visible(words),
            width,
            initial_indent=f"{label:<{_LABEL}}",
            subsequent_indent=" " * _LABEL,
            break_on_hyphens=False,
        )
        lines += wrapped or [label]
    return "\n".join(lines) + "\n"


def _rows(plan: PanelPlan) -> Iterator[tuple[str, str]]:
    yield "Panel plan", f"{title(plan)}, {plan.sheet.name} sheet"
    yield "", verdict(plan)
    if plan.signs:
        yield "", f"This document seems to be a panel already, or speaks of one: {'; '.join(plan.signs[:3])}."
    yield "", f"{counted(plan.searched, 'array')} weighed, {plan.possible or 'none'} within all limits."
    for number, array in enumerate(plan.arrays, 1):
        yield from _array(plan, array, number)
    yield from _against(plan)
    yield from _answers(plan)
    for topic, words in CAUTIONS:
        yield "Caution", f"{topic}: {words}"
    yield "Proposal", PROPOSAL


def _array(plan: PanelPlan, array: Array, number: int) -> Iterator[tuple[str, str]]:
    yield "", ""
    size = f"{mm(array.sizing.length)} x {mm(array.sizing.width)} mm"
    yield f"Proposal {number}", f"{size}, {array.way.words}: {array.sizing.points:.1f} points"
    for label, words in facts(array, plan.sheet):
        if number == 1 or label in BRIEF:
            yield f"  {label}", words
    reasons = "; ".join(f"{merit.text} ({merit.points:+.1f})" for merit in array.sizing.merits)
    yield "  Why", sentence(f"{reasons}.")
    for words in array.remarks:
        yield "  Mind", words


def _against(plan: PanelPlan) -> Iterator[tuple[str, str]]:
    """Reasons that are alike for two methods are told once, and not again what the verdict says."""
    told: dict[str, list[Against]] = {}
    for one in plan.against:
        told.setdefault(one.text, []).append(one)
    if (said := in_the_way(plan)) is not None:
        del told[said.text]
    if told:
        yield "", ""
    for row, (text, ones) in enumerate(list(told.items())[:AGAINST_SHOWN]):
        methods = listed(one.method.value for one in ones if one.method)
        count = sum(one.count for one in ones)
        tail = "" if ones[0].key == "points" else f" ({counted(count, 'array')} ruled out)"
        yield "Why not" if row == 0 else "", sentence(f"{f'{methods}: ' if methods else ''}{text}{tail}")
    if len(told) > AGAINST_SHOWN:
        yield "", f"and {counted(len(told) - AGAINST_SHOWN, 'more reason')}, in the JSON file"


def _answers(plan: PanelPlan) -> Iterator[tuple[str, str]]:
    sheet = plan.sheet
    if sheet.unanswered or sheet.answers:
        yield "", ""
    if sheet.unanswered:
        count = counted(len(sheet.unanswered), "question")
        names = listed((key.split(".", 1)[1] for key in sheet.unanswered), most=8)
        yield "Not answered", f"{count} of the sheet; the {sheet.base} sheet's values stand for {names}."
    for key, words in sheet.answers.items():
        yield "They say", f"{ANSWERS[key]} {words}"
