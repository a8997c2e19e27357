# SPDX-License-Identifier: MIT
"""A probe plan in short, for the terminal."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator

from lineworthy.geometry import exceeds
from lineworthy.knowledge.titleblock import title_block
from lineworthy.knowledge.wording import counted, listed
from lineworthy.plans.probe_force import STRAIN_BUDGET
from lineworthy.plans.probe_plan import GROUND, SENSE, ProbePlan
from lineworthy.report.probe_facts import FRAME, SIZES, spot, why
from lineworthy.safe import visible

MISSES_SHOWN = 12
"""Nets that test needs named one by one; the rest is counted. The JSON file holds them all."""

_LABEL = 14


def render(plan: ProbePlan, width: int = 100) -> str:
    """The plan as text, wrapped to a width within 60 and 120 columns."""
    width = min(max(width, 60), 120)
    lines: list[str] = []
    for label, words in _rows(plan):
        lead = f"{label:<{_LABEL}}"
        pad = " " * _LABEL
        wrapped = textwrap.wrap(
            visible(words), width, initial_indent=lead, subsequent_indent=pad, break_on_hyphens=False
        )
        lines += wrapped or [lead.rstrip()]
    return "\n".join(lines) + "\n"


def verdict(plan: ProbePlan) -> str:
    """One line: whether test reaches what it needs."""
    missed = len(plan.missed_keys)
    if missed:
        verb = "is" if missed == 1 else "are"
        return f"Not all reached: {counted(missed, 'net')} that test needs {verb} out of reach."
    if not plan.probes and not plan.plugs:
        return "Nothing to probe: no net of the board has a target, and none is known to need one."
    sides = "from both sides" if plan.forced else f"from the {plan.side.value} alone"
    how = sides if plan.probes else "by plugs alone"
    return f"All nets that test is known to need are reached, {how}."


def _rows(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    board = plan.board
    stated = title_block(board).revision
    revision = f" rev {stated}" if stated else ""
    yield "Probe plan", f"{board.name}{revision}, {plan.sheet.name} sheet"
    yield "", verdict(plan)
    yield from _probes(plan)
    yield from _sides(plan)
    yield from _missed(plan)
    yield from _ground(plan)
    yield from _force(plan)
    yield "Datum", _datum(plan)
    yield "Places", f"{FRAME}."


def _probes(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    sizes = Counter(probe.size for probe in plan.probes)
    named = ", ".join(f"{sizes[size]} of {words}" for size, words in SIZES.items() if size and sizes[size])
    yield "Probes", f"{len(plan.probes)} on {counted(plan.covered, 'net')}{': ' if named else ''}{named}"
    if sizes[50]:
        yield "", "50 mil probes are dear, fragile and short-lived."
    if sizes[None]:
        near = counted(sizes[None], "probe has a neighbour", "probes have neighbours")
        yield "", f"{near} nearer than the finest class allows: guided probes, or another target."
    guided = sum(probe.is_guided for probe in plan.probes)
    if guided:
        yield "", f"{counted(guided, 'target')} below 0.76 mm: guided tips."
    hard = [probe for probe in plan.probes if probe.in_the_way]
    if hard:
        yield "", f"{counted(len(hard), 'probe asks', 'probes ask')} for care: {listed(f'P{p.number}' for p in hard)}."
    rim = sum(len(probe.hurdles) > len(probe.in_the_way) for probe in plan.probes)
    if rim:
        yield "", f"{counted(rim, 'probe stands', 'probes stand')} where the seal of a vacuum fixture would lie."
    if plan.plugs:
        parts = listed(plug.target.own.reference for plug in plan.plugs if plug.target.own)
        yield "", f"{counted(len(plan.plugs), 'more net')} by a plug into {parts}."
    if plan.left_bare:
        kinds = listed(facts.kind.value for facts in plan.left_bare)
        yield "", f"{counted(len(plan.left_bare), 'net')} left bare, which a probe would harm ({kinds})."


def _sides(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    other = plan.side.other.value
    yield "Side", f"{plan.side.value}: {counted(len(plan.on(plan.side)), 'probe')}"
    if plan.forced:
        extra = len(plan.on(plan.side.other))
        yield "", f"{other}: {counted(extra, 'probe')}, a second side, needed by {listed(plan.forced)}."
    reached = [miss.facts.name for miss in plan.uncovered if miss.other is not None]
    if reached:
        yield "", f"The {other} would reach {counted(len(reached), 'more net')}: {listed(reached)}."


def _missed(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    keys, others = plan.missed_keys, [miss for miss in plan.uncovered if not miss.is_key]
    for row, miss in enumerate(keys[:MISSES_SHOWN]):
        yield "Not reached" if row == 0 else "", f"{miss.facts.name} ({miss.facts.kind.value}): {why(miss, plan)}"
    if len(keys) > MISSES_SHOWN:
        yield "", f"and {counted(len(keys) - MISSES_SHOWN, 'more net')} that test needs"
    if others:
        names = listed(miss.facts.name for miss in others)
        yield "" if keys else "Not reached", f"{counted(len(others), 'net')} that test can do without: {names}"


def _ground(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    if not plan.probes:
        return
    grounds = sum(probe.purpose == GROUND for probe in plan.probes)
    senses = sum(probe.purpose == SENSE for probe in plan.probes)
    yield "Ground", f"{counted(grounds, 'probe')}, {plan.grounds_wanted} wanted; {counted(senses, 'rail')} with a sense"
    if plan.far_signal:
        probe, away = plan.far_signal
        near = plan.sheet.test_access.ground_target_near_mm
        much = f", more than the {near:g} mm wanted" if exceeds(away, near) else ""
        yield "", f"P{probe.number} ({probe.net}) is farthest from a ground probe: {away:.1f} mm{much}."


def _force(plan: ProbePlan) -> Iterator[tuple[str, str]]:
    load = plan.load
    if not plan.on(plan.side):
        return
    yield "Force", f"{load.total:.0f} N on the {plan.side.value}, {load.probe:g} N a probe"
    dense = load.densest
    within = (
        f"{dense.force:.1f} N ({counted(dense.probes, 'probe')}) in the densest square inch, {load.cap:g} N allowed"
    )
    if exceeds(dense.force, load.cap):
        within += f"; springs of {load.cap / dense.probes:.2f} N would keep to it"
    yield "", f"{within}."
    if load.vacuum is not None and load.vacuum < len(plan.on(plan.side)):
        yield "", f"A vacuum holds {counted(load.vacuum, 'such probe')} on a board of this size: it needs a press."
    if load.sag is not None and load.strain is not None and load.supports is not None and load.span is not None:
        # beam theory ends where the board bends by a good part of its thickness
        much = load.sag > plan.board.stackup.thickness / 2
        bend = "would bend by more than half its thickness" if much else f"would bend {load.sag:.2f} mm"
        micro = load.strain * 1e6
        yield (
            "Bending",
            f"Estimate: held along its long edges only, {load.span:.0f} mm apart, the board {bend}"
            f" (strain {micro:.0f} um/m, budget {STRAIN_BUDGET * 1e6:.0f}); "
            f"where probes are densest, put supports no more than {load.supports:.0f} mm apart.",
        )


def _datum(plan: ProbePlan) -> str:
    if not plan.datum:
        return "none: no two unplated holes that a fixture's pins could use"
    first, second = plan.datum
    holes = [f"{hole.diameter:.2f} mm {hole.use.value} hole at {spot(plan, hole.at)}" for hole in (first, second)]
    return f"{holes[0]} and {holes[1]}"
