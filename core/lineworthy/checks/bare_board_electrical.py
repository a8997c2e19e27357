# SPDX-License-Identifier: MIT
"""Copper against the voltages and currents that the project names: spacing, and the width of tracks.

Functional only: what protects people is a matter of the product standard and a test lab.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.currents import Copper, Way, way
from lineworthy.knowledge.gaps import Layer, called, in_order, net_of
from lineworthy.knowledge.ipc2221 import CHART_OUTER_A
from lineworthy.knowledge.netfacts import matches
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.voltages import (
    DANGEROUS_V,
    Range,
    Short,
    Voltages,
    mains_nets,
    mains_parts,
    too_near,
)
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, Part, Track
from lineworthy.project import Project
from lineworthy.registry import Answers, check
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

RISE, COPPER = "bare-board.track_rise_max_k", "bare-board.copper_um"
PLATING = "bare-board.hole_plating_um"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""


# --- voltages ------------------------------------------------------------------------------------------------------


@check("bare-board/voltage-gap-small")
def voltage_gap_small(board: Board, project: Project, nets: Nets, copper: Sequence[Layer]) -> Answers:
    """Is copper nearer together than the voltage between its nets allows?

    Why it matters: dirt, moisture and time let current creep between conductors, and leakage or a flash-over is the
    end of the product. The bare board passes every test: nobody else will ask.
    What to do: move the copper apart, put it on inner layers or under mask, where the table asks for less, or coat the
    assembly. Name every net above 30 V under [voltages] in the project's settings.
    Blind spots: functional spacing only. Insulation that protects people is a matter of creepage and clearance to
    IEC 60664-1 and the product standard, with a test lab; the table never replaces them. Up to 15 V apart nothing is
    said. Nets not named count as 0 V or as their name says, and make a note. Nets of alternating voltage count as if
    their peaks met. Copper is bare where it is a land with an opening, an open via or a track without mask; tracks and
    pours in the opening of something else count as covered. Copper without a net is left out, and what touches is a
    short. Up to 3050 m above sea level; coated assemblies may be narrower. Distances along the surface, round slots and
    between layers are not measured, nor are barrels without a land.
    Source: IPC-2221 table 6-1, columns B1, B2, B4 and A6, as quoted by a calculator's documentation; that safety
    standards take precedence is said by practitioners of the trade.
    """
    if not project.voltages:
        if signs := _signs(board, nets):
            yield voltage_gap_small.not_run(
                f"no voltages of nets, though the board has {signs}",
                "name them under [voltages] in the project's settings; insulation of mains is for the product standard",
            )
        return
    if astray := project.astray(board).get("voltages"):
        yield voltage_gap_small.not_run(*astray)
    voltages = Voltages(project.voltages, nets)
    known: dict[tuple[str, str], list[Short]] = defaultdict(list)
    unknown: dict[str, list[Short]] = defaultdict(list)
    for layer in copper:
        for short in too_near(layer, board.side_of(layer.name), voltages):
            one, other = sorted((net_of(short.one), net_of(short.other)))
            if voltages.is_known(one) and voltages.is_known(other):
                known[one, other].append(short)
            else:
                unknown[one if voltages.is_known(one) else other].append(short)
    for pair, shorts in sorted(known.items()):
        yield _too_near(board, f"{pair[0]} and {pair[1]}", shorts, Consequence.QUERY, " ".join(pair))
    for net, shorts in sorted(unknown.items()):
        others = {name for short in shorts for name in (net_of(short.one), net_of(short.other))} - {net}
        what = f"{net} ({_volts(voltages.of(net))}) and {listed(name or 'copper without a net' for name in others)}"
        yield _too_near(board, what, shorts, Consequence.NOTE, f"{net} and others")


def _signs(board: Board, nets: Nets) -> str:
    """What on the board speaks of a dangerous voltage; empty where nothing does."""
    high = [name for name, facts in nets.all.items() if abs(facts.voltage or 0.0) > DANGEROUS_V]
    if names := [*mains_nets(board), *high]:
        return f"net {listed(names, 3)}"
    parts = [part.reference or part.value for part in mains_parts(board)]
    return listed(parts, 3) if parts else ""


def _too_near(board: Board, what: str, shorts: list[Short], consequence: Consequence, detail: str) -> Finding:
    shorts = sorted(shorts, key=lambda short: (round(short.width - short.need, 6), short.layer, short.need, short.at))
    worst = shorts[0]
    guess = ", those not named taken as their name says or at 0 V" if consequence is Consequence.NOTE else ""
    return voltage_gap_small.finding(
        consequence,
        f"{what}, {worst.volts:g} V apart{guess}: {mm(worst.width)} mm on {worst.layer}, {mm(worst.need)} mm needed"
        f" between {worst.column.value} (IPC-2221 {worst.column.name}); {counted(len(shorts), 'place')}",
        items=in_order(owner for short in shorts for owner in (short.one, short.other)),
        places=[
            Place(
                short.at,
                board.side_of(short.layer),
                f"{called(short.one)} to {called(short.other)}, {mm(short.width)} mm",
            )
            for short in shorts[:SHOWN]
        ],
        measured=worst.width,
        limit=worst.need,
        detail=detail,
    )


def _volts(volts: Range) -> str:
    return f"{volts[0]:g} V" if volts[0] == volts[1] else f"{volts[0]:g} to {volts[1]:g} V"


# --- currents ------------------------------------------------------------------------------------------------------


@check("bare-board/current-path-thin", limits=(RISE, COPPER, PLATING))
def current_path_thin(board: Board, project: Project, sheet: Sheet, copper: Sequence[Layer]) -> Answers:
    """Are the tracks, vias and pours of a net too thin for the current that the project says it carries?

    Why it matters: a conductor that is too thin runs hot: it ages the board, unsolders what it leads to, and drops
    voltage. The bare-board test measures whether there is copper, not how much.
    What to do: widen the tracks or pour copper, use both outer layers with more vias between them, or order thicker
    copper. Name under [currents] what flows for long; peaks count by their r.m.s. value.
    Blind spots: which parts the current flows between is not known. Told is what copper of the needed width joins, and
    what hangs on less: a sense line or a capacitor may. Tracks side by side are not added up; webs of a pour side by
    side are, and what counts is the narrowest cut through it. Nearer to a land, via or track than half of the needed
    width it is not looked for: thermal webs are short and cooled from both ends. Planes with very many holes count as
    wide enough, and are listed as not looked at. A via carries what its barrel would inside of the board, vias between
    the same two pieces of copper share the current evenly. The formula is a fit to charts that end at 35 A outside,
    17.5 A inside, 10 to 100 K and 10.16 mm; the charts are older and mostly safer than those of IPC-2152, which knows
    planes and board thickness.
    Source: IPC-2221 conductor charts as the formula I = k dT^0.44 A^0.725, k 0.048 outside and 0.024 inside, by a
    semiconductor maker's design tool; 10 K, copper thickness and via barrels are common practice.
    """
    if not project.currents:
        return
    if astray := project.astray(board).get("currents"):
        yield current_path_thin.not_run(*astray)
    limits = sheet.bare_board
    stuff = Copper.of(board, limits.copper_um, limits.hole_plating_um, limits.track_rise_max_k)
    for net in sorted(board.pads_by_net):
        amps = _said(project.currents, net)
        if amps is not None:
            path = way(board, copper, net, amps, stuff)
            if path.unseen:
                yield current_path_thin.not_run(
                    f"no necks are looked for in the pours of {net} on {listed(path.unseen)}, with too many holes",
                    "look at them in the editor, between the parts that feed and draw the current",
                )
            # what hangs on nothing at all is not routed, which the editor's own check says
            if path.left and (path.thin or path.weak or path.narrow):
                yield _thin(board, path, stuff)


def _said(currents: Mapping[str, float], net: str) -> Optional[float]:
    """The current of a net; a name wins over a pattern."""
    if net in currents:
        return currents[net]
    return next((amps for pattern, amps in currents.items() if matches(net, pattern)), None)


def _thin(board: Board, path: Way, copper: Copper) -> Finding:
    """Nothing joined is a question; branches that carry less may be meant to."""
    nowhere = len(path.joined) < 2
    told = path.thin[-1] if nowhere and path.thin else path.thin[0] if path.thin else None
    said = f"{path.net}, {path.amps:g} A: "
    if nowhere:
        said += f"no two of its {len(path.joined) + len(path.left)} parts are joined by copper that carries it"
    else:
        said += f"copper that carries it joins {_names(path.joined)}; {_names(path.left)} on less"
    if told is not None:
        which = "widest" if nowhere else "thinnest"
        said += (
            f"; the {which} of {counted(len(path.thin), 'track')} too narrow is {mm(told.width)} mm on {told.layer} and"
            f" carries {copper.carried(board, told):.2f} A, {mm(_on(board, path, copper, told.layer))} mm needed"
        )
    if path.weak:
        vias, carried = min(path.weak, key=lambda weak: weak[1])
        carry = "carries" if len(vias) == 1 else "carry together"
        said += f"; {counted(len(vias), 'via')} {carry} {carried:.2f} A"
    if path.narrow:
        layer, neck = path.narrow[0]
        said += (
            f"; the pour on {layer} narrows to {mm(round(neck.width, 2))} mm, {mm(_on(board, path, copper, layer))} mm"
        )
        said += " needed" if len(path.narrow) == 1 else f" needed, {len(path.narrow)} necks in all"
    beyond = f"; the charts end at {CHART_OUTER_A:g} A" if exceeds(path.amps, CHART_OUTER_A) else ""
    some = [via for vias, _ in path.weak for via in vias]
    measured = limit = None
    if told is not None:
        measured, limit = told.width, _on(board, path, copper, told.layer)
    elif path.narrow:
        layer, neck = path.narrow[0]
        measured, limit = round(neck.width, 3), _on(board, path, copper, layer)
    return current_path_thin.finding(
        Consequence.QUERY if nowhere else Consequence.NOTE,
        f"{said} (temperature rise {copper.rise_k:g} K{beyond})",
        items=in_order([*path.thin, *some]),
        places=[
            *(
                Place(_middle(track), board.side_of(track.layer), f"{called(track)}, {mm(track.width)} mm")
                for track in path.thin[:SHOWN]
            ),
            *(Place(via.at, None, called(via)) for via in some[:SHOWN]),
            *(
                Place(neck.at, board.side_of(layer), f"neck of a pour, {mm(round(neck.width, 2))} mm")
                for layer, neck in path.narrow[:SHOWN]
            ),
        ],
        measured=measured,
        limit=limit,
        detail=path.net,
    )


def _on(board: Board, path: Way, copper: Copper, layer: str) -> float:
    """The width that the current needs on a layer, mm."""
    return round(copper.needed(board, layer, path.amps), 3)


def _names(parts: Sequence[Part]) -> str:
    return listed(part.reference or "a part without name" for part in parts)


def _middle(track: Track) -> Point:
    middle = track.path[len(track.path) // 2] if track.mid is not None else (track.path[0] + track.path[-1]) / 2
    return (float(middle[0]), float(middle[1]))


CHECKS = (voltage_gap_small, current_path_thin)
