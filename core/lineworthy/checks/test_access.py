# SPDX-License-Identifier: MIT
"""Checks of test access: can production test reach the nets it needs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple, Optional

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netfacts import ASKED
from lineworthy.knowledge.netparts import Role
from lineworthy.knowledge.nets import KeyNet, NetFacts, NetKind, Nets
from lineworthy.knowledge.targets import Target, TargetKind, Targets
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Net, Side, Via
from lineworthy.project import Project
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

LIMIT = "test-access.target_min_mm"

NO_NETS = ("no nets: no pad of the board has one", "Update the board from its schematic, so that pads carry nets")

SETTINGS = ("key_nets", "key_net_classes", "nets")
"""Entries of the project's settings that say what test must reach."""


class _Reach(NamedTuple):
    """What findings are worded from."""

    board: Board
    nets: Nets
    targets: Targets
    need: float


class _Group(NamedTuple):
    """Key nets out of reach that are one decision."""

    label: str
    consequence: Consequence
    keys: list[KeyNet]

    @property
    def names(self) -> list[str]:
        return [key.facts.name for key in self.keys]

    @property
    def counted(self) -> str:
        return counted(len(self.keys), self.label, self.label.replace("net", "nets", 1).replace("rail", "rails"))


@check("test-access/key-net-unreachable", limits=(LIMIT,))
def key_net_unreachable(board: Board, project: Project, sheet: Sheet, nets: Nets, targets: Targets) -> Answers:
    """Can a fixture reach every net that production test needs: ground, rails, reset, programming, buses?

    Why it matters: a rail that cannot be measured, a chip that cannot be loaded or a bus that cannot be watched in the
        fixture turns up faults later, at the customer, or makes test a hand job with a lead and a microscope.
    What to do: put a bare round test pad on copper the net already has, all on one side, or open the mask over a via
        of that net that is wide enough, or bring the net to a connector.
    Blind spots: which nets test needs is judged by names, pins and parts, not by a test plan. A connector counts as
        reachable whatever its size, because a fixture plugs into it. A net with a pad made for a probe that is
        covered or too small is told by the checks of such pads. A rail filtered for one circuit only, and boards
        without an integrated circuit, are left alone. A bus is a note, and so is a reset: most tests get at them
        through a programming port. A board without any test pad gets all of it in one finding.
    Source: a target covered by mask is none, and each net under test has one: testability guideline of a board
        manufacturer (trade text). No probe on leads of surface parts: guideline of an in-circuit tester's maker.
    """
    if not board.pads_by_net:
        yield key_net_unreachable.not_run(*NO_NETS)
        return
    for entry, astray in project.astray(board).items():
        if entry in SETTINGS:
            yield key_net_unreachable.not_run(*astray)
    need = sheet.test_access.target_min_mm
    reach = _Reach(board, nets, targets, need)
    # a pad that was made for a probe and cannot be used is told by the checks of such pads
    spoiled = {lost.net for lost in targets.lost} | {target.net for target in targets.dedicated}
    missed = [key for key in nets.keys if targets.reach(key.facts.name, need) is None and key.facts.name not in spoiled]
    groups = [group for group in _groups(reach, missed) if group.keys]
    if len(groups) > 1 and not targets.dedicated and not targets.lost:
        yield _nothing_made(reach, groups)
        return
    for group in groups:
        yield _unreachable(reach, group)


def _groups(reach: _Reach, missed: list[KeyNet]) -> list[_Group]:
    """Key nets out of reach by what a person would do about them."""
    served = _served_lines(reach)
    ports = [key for key in missed if key.kind is NetKind.PROGRAMMING]
    dead = [key for key in ports if _is_dead_port(reach.board, key.facts, served)]
    asked = [key for key in missed if key.reason == ASKED]

    def of(*kinds: NetKind) -> list[KeyNet]:
        return [key for key in missed if key.kind in kinds and key not in asked]

    return [
        _Group("rail", Consequence.QUERY, of(NetKind.GROUND, NetKind.POWER)),
        _Group("programming net", Consequence.QUERY, [key for key in dead if key not in asked]),
        _Group("net that the project asks for", Consequence.QUERY, asked),
        _Group(
            "programming net that a port works without",
            Consequence.NOTE,
            [key for key in ports if key not in dead and key not in asked],
        ),
        _Group("reset net", Consequence.NOTE, of(NetKind.RESET)),
        _Group("bus net", Consequence.NOTE, of(NetKind.BUS)),
    ]


def _served_lines(reach: _Reach) -> Mapping[str, frozenset[str]]:
    """For each line of a programming port, the circuits on which it is within reach."""
    board, nets, targets, need = reach
    served: dict[str, set[str]] = {}
    for facts in nets.of_kind(NetKind.PROGRAMMING):
        if targets.reach(facts.name, need):
            uids = {part.uid for part, _ in board.pads_by_net[facts.name] if nets.role(part) is Role.IC}
            served.setdefault(facts.line, set()).update(uids)
    return {line: frozenset(uids) for line, uids in served.items()}


def _is_dead_port(board: Board, facts: NetFacts, served: Mapping[str, frozenset[str]]) -> bool:
    """Whether a circuit cannot be loaded because this net is out of reach: a port's line, and no other way to it."""
    reached = served.get(facts.line, frozenset())
    return bool(facts.line) and not any(part.uid in reached for part, _ in board.pads_by_net[facts.name])


def _unreachable(reach: _Reach, group: _Group) -> Finding:
    _, _, targets, need = reach
    names = group.names
    lack = _lack(_widest(targets, names), need)
    if len(names) == 1 and group.label == "rail":
        facts = group.keys[0].facts
        message = f"{facts.name} has {lack} ({facts.kind.value}: {'; '.join(facts.evidence)})"
    else:
        message = f"{group.counted}{_buses(group)} {'has' if len(names) == 1 else 'have'} {lack}: {listed(names)}"
    return _finding(reach, group.consequence, message, names, group.label)


def _nothing_made(reach: _Reach, groups: list[_Group]) -> Finding:
    """One finding where a board has no pad for probes at all: whoever decides about it decides once."""
    _, nets, targets, need = reach
    names = [name for group in groups for name in group.names]
    told = "; ".join(f"{group.counted} ({listed(group.names, 4)})" for group in groups)
    gravest = min((group.consequence for group in groups), key=lambda consequence: consequence.rank)
    message = (
        f"No pad is made for probes, and {len(names)} of {len(nets.keys)} key nets have "
        f"{_lack(_widest(targets, names), need)}: {told}"
    )
    return _finding(reach, gravest, message, names, "no test pads")


def _finding(reach: _Reach, consequence: Consequence, message: str, names: list[str], detail: str) -> Finding:
    board, nets, targets, need = reach
    widest = _widest(targets, names)
    return key_net_unreachable.finding(
        consequence,
        message,
        items=[_net(board, name) for name in names],
        places=[_place(nets, _widest(targets, (name,)), name) for name in names],
        measured=widest.diameter if widest else 0.0,
        limit=need,
        limit_key=LIMIT,
        detail=detail,
    )


def _buses(group: _Group) -> str:
    buses = {key.facts.bus for key in group.keys} - {""}
    return f" ({listed(buses)})" if buses and group.label == "bus net" else ""


def _lack(widest: Optional[Target], need: float) -> str:
    if widest is None:
        return f"no bare copper for a probe on either side, {mm(need)} mm needed"
    return f"no target of {mm(need)} mm on either side, the widest is {_a(widest)} of {mm(widest.diameter)} mm"


def _a(target: Target) -> str:
    return f"{'an' if target.kind.value[0] in 'aeiou' else 'a'} {target.kind.value}"


def _widest(targets: Targets, names: Iterable[str]) -> Optional[Target]:
    found = [target for name in names for target in targets.of(name)]
    return max(found, key=lambda target: target.diameter, default=None)


def _place(nets: Nets, widest: Optional[Target], name: str) -> Place:
    """Where the net could be touched best, or its first pad in the order of references, a circuit's before others."""
    if widest is not None:
        return Place(widest.at, widest.side, f"{name}, {widest.label}")
    pads = nets.pads(name)
    part, pad = next((item for item in pads if nets.role(item[0]) is Role.IC), pads[0])
    return Place(pad.at, part.side, f"{name}, {part.reference} pad {pad.number}")


def _net(board: Board, name: str) -> Net:
    return board.nets.get(name) or Net(name)


@check("test-access/targets-on-both-sides", limits=(LIMIT,))
def targets_on_both_sides(board: Board, sheet: Sheet, marks: Marks, targets: Targets) -> Answers:
    """Do the test pads force a fixture with probes on both sides, although one side could serve nearly all of them?

    Why it matters: a fixture that closes on a board from both sides costs several times as much as one from below,
        wears faster and needs larger pads on its upper plate.
    What to do: move the few pads to the side of the many, or give those nets a through-hole lead or a connector pin.
    Blind spots: only pads made for probes are counted; a net that both sides can reach, by a lead, a connector or a
        second pad, forces nothing. Whether a fixture is built at all is not known, so this is a note.
    Source: guidelines of a fixture maker, of a tester's maker and of a fixture user (trade texts): all targets on one
        side, normally the bottom.
    """
    if not board.pads_by_net:
        yield targets_on_both_sides.not_run(*NO_NETS)
        return
    need = sheet.test_access.target_min_mm
    padded = {point.net for point in marks.test_points if point.net and point.sides}
    only: dict[Side, list[str]] = {side: [] for side in Side}
    for name in sorted(padded, key=lambda name: (natural(name), name)):
        sides = [side for side in Side if targets.reach(name, need, side)]
        if len(sides) == 1:
            only[sides[0]].append(name)
    if not all(only.values()):
        return
    # the bottom is where a fixture has its probes anyway, so it is the main side when both have as many
    main = Side.TOP if len(only[Side.TOP]) > len(only[Side.BOTTOM]) else Side.BOTTOM
    few, many = only[main.other], only[main]
    verb = "needs" if len(few) == 1 else "need"
    yield targets_on_both_sides.finding(
        Consequence.NOTE,
        f"{counted(len(few), 'net')} {verb} a probe from the {main.other.value} and {len(many)} from the {main.value}: "
        f"{listed(few)} can be reached from the {main.other.value} only",
        items=[_net(board, name) for name in few],
        places=[_target_place(targets, name, main.other, need) for name in few],
        measured=len(few),
        limit=0,
        unit="count",
    )


def _target_place(targets: Targets, name: str, side: Side, need: float) -> Place:
    """Where a net is reached from a side: at a test pad that is large enough before anything else."""
    here = [target for target in targets.of(name) if target.side is side]
    pads = (target for target in here if target.kind is TargetKind.DEDICATED and not falls_short(target.diameter, need))
    target = next(pads, None) or next(iter(here), targets.of(name)[0])
    return Place(target.at, target.side, f"{name}, {target.label}")


@check("test-access/port-scattered", limits=("test-access.port_span_max_mm",))
def port_scattered(board: Board, sheet: Sheet, nets: Nets, targets: Targets) -> Answers:
    """Are the test pads of one programming port so far apart that no hand-held adapter spans them?

    Why it matters: where there is no full fixture, and in every repair, a small adapter with a few spring probes loads
        the firmware. Scattered over the board, the pads need a fixture or soldered wires for each board.
    What to do: put the pads of a port side by side, with ground and the supply among them.
    Blind spots: only lines without which the port is dead are looked at, and only their test pads; a port with a
        connector on all of its lines is left alone. A full bed of probes does not mind: this is a note.
    Source: common practice, no source.
    """
    limit = sheet.test_access.port_span_max_mm
    ports: dict[str, list[Target]] = {}
    for facts in nets.of_kind(NetKind.PROGRAMMING):
        pads = [target for target in targets.dedicated if target.net == facts.name]
        plugged = any(target.kind is TargetKind.CONNECTOR for target in targets.of(facts.name))
        circuits = {part.uid for part, _ in board.pads_by_net[facts.name] if nets.role(part) is Role.IC}
        for uid in sorted(circuits) if facts.line and pads and not plugged else ():
            ports.setdefault(uid, []).append(pads[0])
    told: set[tuple[str, ...]] = set()
    for uid, pads in sorted(ports.items(), key=lambda item: natural(board.part_by_uid[item[0]].reference)):
        names = tuple(sorted(target.net for target in pads))
        one, two, apart = max(
            ((one, two, math.dist(one.at, two.at)) for one in pads for two in pads),
            key=lambda pair: (round(pair[2], 4), natural(pair[0].label)),
        )
        if exceeds(apart, limit) and names not in told:
            told.add(names)
            circuit = board.part_by_uid[uid]
            yield port_scattered.finding(
                Consequence.NOTE,
                f"the test pads of {circuit.reference}'s programming port ({listed(names)}) are up to {mm(apart)} mm "
                f"apart, {listed((one.label, two.label))}; {mm(limit)} mm at most are wanted",
                items=[circuit, *(target.item for target in pads if not isinstance(target.item, Via))],
                places=[Place(target.at, target.side, f"{target.label} on {target.net}") for target in pads],
                measured=apart,
                limit=limit,
                limit_key="test-access.port_span_max_mm",
            )


CHECKS: tuple[Check, ...] = (key_net_unreachable, targets_on_both_sides, port_scattered)
