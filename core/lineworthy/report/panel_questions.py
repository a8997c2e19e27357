# SPDX-License-Identifier: MIT
"""Questions to a manufacturer as a form that is a capability sheet: filled in, it is loaded with ``--sheet``.

What is left empty keeps the value of the built-in sheet it stands on.
"""

from __future__ import annotations

from collections.abc import Iterator

from lineworthy.knowledge.wording import counted, mm
from lineworthy.limits import ANSWERS
from lineworthy.plans.panel_plan import PanelPlan
from lineworthy.report.panel_facts import title
from lineworthy.safe import visible
from lineworthy.sheet import TIERS, Entry, built_in
from lineworthy.tomlfile import quoted

ASKED = (
    ("panel", ""),
    ("fiducials", "mark_min_mm clear_ring_preferred_ratio transport_edge_mm"),
    ("bare-board", "edge_copper_outer_min_mm edge_copper_inner_min_mm"),
)
"""Areas with the limits that are asked for; all of an area where none is named."""

UNITS = {"mm": "mm", "count": "a whole number", "percent": "percent", "ratio": "a ratio"}

_HOW = """\
# Please answer what you can. Put the number in place of the two quotes behind the equals sign:
#     rail_mm = 8.5
# Leave the quotes where you have no answer: what is said behind "we assume" then stands.
# Answers in words go between the quotes of the last table. Lines that start with # are ours.
"""


def form(plan: PanelPlan) -> str:
    """The form as TOML; what the sheet in force already answers is filled in."""
    lines = [*_head(plan), *_limits(plan), *_words(plan)]
    return "\n".join(lines).encode("utf-8", "replace").decode("utf-8") + "\n"


def asked(entry: Entry) -> bool:
    """Whether a limit is on the form."""
    area, key = entry.key.split(".", 1)
    return any(area == name and (not keys or key in keys.split()) for name, keys in ASKED)


def _head(plan: PanelPlan) -> Iterator[str]:
    board, unit = plan.board, plan.unit
    yield _comment(f"Questions about panels for {title(plan)}")
    layers = counted(len(board.copper_layers), "copper layer")
    finish = f", finish {board.stackup.finish}" if board.stackup.finish else ""
    size = f"{mm(unit.width)} x {mm(unit.height)} mm, {mm(board.stackup.thickness)} mm thick"
    yield _comment(f"The board: {size}, {layers}{finish}")
    for number, array in enumerate(plan.arrays, 1):
        one = array.sizing
        what = f"{counted(one.boards, 'board')} in {mm(one.length)} x {mm(one.width)} mm, {one.way.words}"
        yield _comment(f"We propose {number}: {what}")
    yield "#"
    yield _HOW
    yield "[sheet]"
    name = plan.sheet.name if _is_own(plan) else "answers of"
    yield f"name = {quoted(name)}" + ("" if _is_own(plan) else "  # please add your name between the quotes")
    yield f"based_on = {quoted(plan.sheet.base)}"


def _limits(plan: PanelPlan) -> Iterator[str]:
    area, tiers = "", {built_in(tier).name for tier in TIERS}
    for entry in plan.sheet.entries():
        if not asked(entry):
            continue
        if entry.key.split(".", maxsplit=1)[0] != area:
            area = entry.key.split(".", maxsplit=1)[0]
            yield f"\n[{area}]"
        key = entry.key.split(".", 1)[1]
        unit = "mm, as [[305, 457], [457, 610]]" if isinstance(entry.value, tuple) else UNITS[entry.unit]
        yield _comment(f"{entry.meaning}, {unit}; we assume {entry.shown} ({entry.source})")
        answer = f"{{ value = {entry.shown}, source = {quoted(entry.source)} }}"
        yield f"{key} = " + ('""' if entry.sheet in tiers else answer)


def _words(plan: PanelPlan) -> Iterator[str]:
    yield "\n[answers]"
    for key, question in ANSWERS.items():
        yield _comment(question)
        yield f"{key} = {quoted(plan.sheet.answers.get(key, ''))}"


def _is_own(plan: PanelPlan) -> bool:
    return plan.sheet.name not in {built_in(tier).name for tier in TIERS}


def _comment(words: str) -> str:
    return f"# {visible(words)}"
