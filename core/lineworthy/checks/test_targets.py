# SPDX-License-Identifier: MIT
"""Checks of test access: is each pad made for a probe one that a probe can use."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import falls_short
from lineworthy.knowledge.buildnotes import finishes_in
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netnames import UNCONNECTED
from lineworthy.knowledge.nets import NetKind, Nets
from lineworthy.knowledge.surroundings import Hurdle, HurdleKind, Surroundings, crowded
from lineworthy.knowledge.targets import Loss, Target, Targets
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet


class _Hindered(NamedTuple):
    """A test pad and what is in its way on every side it can be probed from, the side with the most room."""

    target: Target
    hurdle: Hurdle


@check("test-access/target-covered")
def target_covered(targets: Targets) -> Answers:
    """Is a pad that was made for a probe covered by solder mask?

    Why it matters: a probe does not get through solder mask. The pad counts as reachable in everybody's list until the
        first board is in the fixture.
    What to do: open the mask over the pad: put the mask layer back on it, or take out a negative mask margin.
    Blind spots: only pads declared as test pads or called so are looked at. A pad without a net is told by
        `test-access/target-without-net`.
    Source: a target covered by mask is none: testability guideline of a board manufacturer, 4.1.3 (trade text).
    """
    covered = [lost for lost in targets.lost if lost.loss is Loss.MASK]
    if not covered:
        return
    names = listed(f"{lost.label} on {lost.net}" for lost in covered)
    what = "is" if len(covered) == 1 else "are"
    yield target_covered.finding(
        Consequence.QUERY,
        f"{counted(len(covered), 'test pad')} {what} covered by solder mask on every side: {names}",
        items=[(lost.part, lost.pad) for lost in covered],
        places=[Place(lost.at, lost.side, f"{lost.label} on {lost.net}") for lost in covered],
    )


@check("test-access/target-without-net")
def target_without_net(board: Board, marks: Marks) -> Answers:
    """Is a pad that was made for a probe joined to nothing?

    Why it matters: a probe on it measures nothing. The net it was drawn for has no target, or has lost it when the
        schematic changed, and the list of test points says otherwise.
    What to do: join the test point to its net in the schematic and update the board, or take it out.
    Blind spots: only pads declared as test pads or called so are looked at, and only on boards whose pads have nets. A
        part one of whose test pads has a net is left alone. One that is only on the board and not in the schematic may
        be there for another purpose: a note.
    Source: common practice, no source.
    """
    if not board.pads_by_net:
        return
    points = [point for point in marks.test_points if _is_idle(point.net)]
    wired = {point.part.uid for point in marks.test_points if not _is_idle(point.net)}
    idle = {point.part.uid: point for point in reversed(points) if point.part.uid not in wired}
    for consequence, board_only in ((Consequence.QUERY, False), (Consequence.NOTE, True)):
        group = [point for point in idle.values() if point.part.board_only is board_only]
        group.sort(key=lambda point: (natural(point.part.reference), point.part.uid))
        if group:
            names = listed(point.part.reference or "a test point without reference" for point in group)
            more = ", which only the board knows," if board_only else ""
            yield target_without_net.finding(
                consequence,
                f"{counted(len(group), 'test point')}{more} {'is' if len(group) == 1 else 'are'} on no net: {names}",
                items=[(point.part, point.pad) for point in group],
                places=[Place(point.at, point.part.side, point.part.reference) for point in group],
                detail=consequence.value,
            )


def _is_idle(net: str) -> bool:
    """Whether a net joins nothing: none, or the one of a pin that is not connected."""
    return net.startswith(UNCONNECTED) or not net


@check("test-access/target-under-part")
def target_under_part(targets: Targets) -> Answers:
    """Does a part stand on a pad that was made for a probe?

    Why it matters: once the board is assembled the pad is gone: no probe reaches it, and nobody sees it.
    What to do: move the pad out from under the part, or to the other side.
    Blind spots: a body is what is drawn on the fabrication layer, else the hull of the soldered lands. A part that
        stands off the board, like a display on pins, still counts as standing on it.
    Source: no probe on parts: guideline of an in-circuit tester's maker (trade text).
    """
    for part in _natural({lost.under for lost in targets.lost if lost.under}):
        under = [lost for lost in targets.lost if lost.under is part]
        names = listed(f"{lost.label} on {lost.net}" for lost in under)
        yield target_under_part.finding(
            Consequence.QUERY,
            f"{counted(len(under), 'test pad')} under {part.reference}, where no probe reaches: {names}",
            items=[part, *((lost.part, lost.pad) for lost in under)],
            places=[Place(lost.at, lost.side, f"{lost.label} on {lost.net}") for lost in under],
        )


def _natural(parts: Iterable[Part]) -> list[Part]:
    return sorted(parts, key=lambda part: (natural(part.reference), part.uid))


@check("test-access/target-on-mains")
def target_on_mains(nets: Nets, targets: Targets) -> Answers:
    """Is there a bare test pad on live or neutral of the mains?

    Why it matters: the pad stays bare in the field. Whoever services the powered product, or steadies the board at
        the bench, can touch it; dust and damp on it shorten the way to everything near.
    What to do: take the pad away, or reach the net by its connector with the mains off; test with mains only in a
        closed, interlocked fixture, by local codes and qualified people.
    Blind spots: known by the net's name, or by the settings' word: a circuit without isolation from the mains looks
        like any other. Whether the distances round the pad are enough the product standard and a test lab say.
    Source: common practice, no source.
    """
    live = _one_per_pad(target for target in targets.dedicated if nets.of(target.net).kind is NetKind.MAINS)
    if live:
        names = listed(f"{target.label} on {target.net}" for target in live)
        yield target_on_mains.finding(
            Consequence.QUERY,
            f"{counted(len(live), 'bare test pad')} on the mains, live when powered: {names}",
            items=[target.part_pad for target in live],
            places=_places(live),
        )


@check("test-access/target-too-small", limits=("test-access.target_min_mm",))
def target_too_small(sheet: Sheet, nets: Nets, targets: Targets) -> Answers:
    """Is the bare copper of a pad that was made for a probe too narrow to hit?

    Why it matters: board, fixture and probe each are a little off. A pad narrower than the sum is missed on some
        boards, and a good board fails.
    What to do: make the pad and its mask opening wider, round, at least as wide as the sheet asks.
    Blind spots: a flying-probe machine hits pads half as wide; name such a machine's limit in the sheet. A small pad is
        a note where something wider reaches its net as well.
    Source: low limit seen for fixtures: test-pad guideline of a fixture user, 2009 (trade text); a tester's maker asks
        for 0.89 mm, a fixture maker for 1.0 mm (trade texts).
    """
    need = sheet.test_access.target_min_mm
    small = [target for target in _one_per_pad(targets.dedicated) if falls_short(target.diameter, need)]
    keys = {key.facts.name for key in nets.keys if key.kind not in (NetKind.RESET, NetKind.BUS)}
    grave = [target for target in small if target.net in keys and targets.reach(target.net, need) is None]
    for consequence, more, group in (
        (Consequence.QUERY, f", and nothing wider on {'its net' if len(grave) == 1 else 'their nets'}", grave),
        (Consequence.NOTE, "", [target for target in small if target not in grave]),
    ):
        if group:
            narrow = min(group, key=lambda target: target.diameter)
            names = listed(f"{target.label} on {target.net}, {mm(target.diameter)} mm" for target in group)
            yield target_too_small.finding(
                consequence,
                f"{counted(len(group), 'test pad')} narrower than {mm(need)} mm{more}: {names}",
                items=[target.part_pad for target in group],
                places=_places(group),
                measured=narrow.diameter,
                limit=need,
                limit_key="test-access.target_min_mm",
            )


@check(
    "test-access/targets-crowded", limits=("test-access.target_pitch_min_mm", "test-access.target_pitch_preferred_mm")
)
def targets_crowded(sheet: Sheet, targets: Targets) -> Answers:
    """Do test pads of different nets lie closer together than probes can stand?

    Why it matters: below 1.27 mm no two probes fit side by side. Below 1.78 mm only the finest do, which bend, wear
        quickly and cost several times as much.
    What to do: move the pads apart, best to 2.54 mm; or to the other side, where one of the two nets has room.
    Blind spots: pads of one part are taken for a connector and left alone. Pairs of a net that has a second test pad on
        the same side are left alone, too. Leads and vias are not looked at: a fixture need not use them.
    Source: distances by pairs of probes, guideline of an in-circuit tester's maker (trade text): 2.41 mm for two of 100
        mil, 1.91 for 100 and 75, 1.78 for two of 75, 1.52 for 75 and 50, 1.27 for two of 50.
    """
    limits = sheet.test_access
    wide = [target for target in targets.dedicated if not falls_short(target.diameter, limits.target_min_mm)]
    pairs = _pairs(wide, limits.target_pitch_preferred_mm)
    for consequence, need, key, group in (
        (
            Consequence.QUERY,
            limits.target_pitch_min_mm,
            "target_pitch_min_mm",
            [pair for pair in pairs if falls_short(pair[2], limits.target_pitch_min_mm)],
        ),
        (
            Consequence.NOTE,
            limits.target_pitch_preferred_mm,
            "target_pitch_preferred_mm",
            [pair for pair in pairs if not falls_short(pair[2], limits.target_pitch_min_mm)],
        ),
    ):
        if group:
            names = listed(f"{_couple(one, two)} {mm(apart)} mm" for one, two, apart in group)
            what = counted(len(group), "pair of test pads", "pairs of test pads")
            yield targets_crowded.finding(
                consequence,
                f"{what} closer than {mm(need)} mm from middle to middle: {names}",
                items=[target.part_pad for one, two, _ in group for target in (one, two)],
                places=[Place(one.at, one.side, _couple(one, two)) for one, two, _ in group],
                measured=min(apart for _, _, apart in group),
                limit=need,
                limit_key=f"test-access.{key}",
            )


def _pairs(wide: Sequence[Target], reach: float) -> list[tuple[Target, Target, float]]:
    """Pairs that both have to be probed, each pair of pads once, the nearest first."""
    found: dict[frozenset[int], tuple[Target, Target, float]] = {}
    for one, two, apart in crowded(wide, reach):
        spare = any(
            other.net == target.net and other.side is target.side and other.part_pad[1] is not target.part_pad[1]
            for target in (one, two)
            for other in wide
        )
        if not spare:
            found.setdefault(frozenset(id(target.part_pad[1]) for target in (one, two)), (one, two, apart))
    return sorted(found.values(), key=lambda pair: (round(pair[2], 4), natural(_couple(pair[0], pair[1]))))


def _couple(one: Target, two: Target) -> str:
    return " and ".join(sorted((one.label, two.label), key=natural))


@check(
    "test-access/target-near-part",
    limits=(
        "test-access.target_to_part_min_mm",
        "test-access.target_to_mid_part_mm",
        "test-access.target_to_tall_part_mm",
    ),
)
def target_near_part(sheet: Sheet, targets: Targets, surroundings: Surroundings) -> Answers:
    """Does a part stand so near to a test pad that the probe, or the plate that carries it, runs into it?

    Why it matters: a probe's head is wider than its tip and its plate lies flat over the board. A low part beside the
        pad meets the head; a tall one meets the plate, which has to be milled out and has no room for the probe then.
    What to do: move the pad away from the part, the farther the taller the part is, or to the other side.
    Blind spots: heights come from the part's fields, its name or a table; where nothing tells, only radial cans and
        relays count as tall. A pad that can be probed from the other side as well is judged by its better side.
    Source: 1.0 mm to low parts and 5.08 mm to parts above 6.35 mm: test-pad list of a test engineer, 1999 (trade text);
        3.05 mm to parts above 3 mm: test-pad guideline of a fixture user, 2009 (trade text).
    """
    found = _hindered(targets, surroundings, sheet, (HurdleKind.PART, HurdleKind.TALL))
    floor = sheet.test_access.target_to_part_min_mm
    touching = [item for item in found if item.hurdle.blocks]
    tall = [item for item in found if item.hurdle.kind is HurdleKind.TALL and item not in touching]
    for consequence, what, group in (
        (Consequence.QUERY, "partly under a part", touching),
        (Consequence.QUERY, "too near a tall part", [i for i in tall if falls_short(i.hurdle.measured, floor)]),
        (Consequence.NOTE, "near a tall part", [i for i in tall if not falls_short(i.hurdle.measured, floor)]),
        (Consequence.NOTE, "near a part", [i for i in found if i not in touching and i not in tall]),
    ):
        if group:
            yield _near(target_near_part, consequence, what, group)


def _hindered(
    targets: Targets, surroundings: Surroundings, sheet: Sheet, kinds: tuple[HurdleKind, ...]
) -> list[_Hindered]:
    """Test pads with a hurdle of some kinds on every side from which they can be probed."""
    pads: dict[int, list[tuple[Target, list[Hurdle]]]] = {}
    for target, hurdles in zip(targets.dedicated, surroundings.hurdles(targets.dedicated, sheet.test_access)):
        some = [hurdle for hurdle in hurdles if hurdle.kind in kinds]
        pads.setdefault(id(target.part_pad[1]), []).append((target, some))
    found = []
    for sides in pads.values():
        if all(some for _, some in sides):
            worst = [_Hindered(target, min(some, key=lambda h: h.measured - h.limit)) for target, some in sides]
            found.append(max(worst, key=lambda item: item.hurdle.measured - item.hurdle.limit))
    return found


def _near(which: Check, consequence: Consequence, what: str, group: Sequence[_Hindered]) -> Finding:
    worst = min(group, key=lambda item: item.hurdle.measured - item.hurdle.limit).hurdle
    names = listed(_told(item) for item in group)
    return which.finding(
        consequence,
        f"{counted(len(group), 'test pad')} {what}: {names}",
        items=[item.target.part_pad for item in group] + [item.hurdle.part for item in group if item.hurdle.part],
        places=_places([item.target for item in group]),
        measured=worst.measured,
        limit=worst.limit,
        limit_key=worst.limit_key,
        detail=what,
    )


def _told(item: _Hindered) -> str:
    target, hurdle = item
    by = f" from {hurdle.by}" if hurdle.by else ""
    return f"{target.label} on {target.net} {mm(hurdle.measured)} mm{by} ({mm(hurdle.limit)} mm wanted)"


@check(
    "test-access/target-near-edge",
    limits=("test-access.target_to_edge_min_mm", "test-access.target_to_edge_vacuum_mm"),
)
def target_near_edge(sheet: Sheet, targets: Targets, surroundings: Surroundings) -> Answers:
    """Does a test pad lie where the fixture's seal or the board's own edge is?

    Why it matters: a vacuum fixture seals along the rim of the board, and a probe there lets air in. Right at the edge
        the probe misses the board on one that is milled a little small.
    What to do: move the pad inwards.
    Blind spots: a board that is tested in its panel has its seal on the panel's rim. A fixture that presses the board
        down has no seal. Slots and cut-outs count as edges.
    Source: 3.18 mm for the seal: testability guideline of a board manufacturer, 4.1.5 (trade text); others ask for 2.54
        and for 6 mm. 1 mm at least: common practice, no source.
    """
    found = _hindered(targets, surroundings, sheet, (HurdleKind.EDGE,))
    floor = sheet.test_access.target_to_edge_min_mm
    for consequence, what, group in (
        (Consequence.QUERY, "at the board edge", [i for i in found if falls_short(i.hurdle.measured, floor)]),
        (Consequence.NOTE, "near the board edge", [i for i in found if not falls_short(i.hurdle.measured, floor)]),
    ):
        if group:
            yield _near(target_near_edge, consequence, what, group)


@check("test-access/target-near-guide-hole", limits=("test-access.target_to_tooling_mm",))
def target_near_guide_hole(sheet: Sheet, targets: Targets, surroundings: Surroundings) -> Answers:
    """Is a test pad so near to a guide hole that its probe meets the guide pin's bush?

    Why it matters: a guide pin sits in a bush several millimetres wide; no probe can be bored beside it.
    What to do: move the pad, or use another hole for the guide pin.
    Blind spots: only holes called tooling or guide holes count; a mounting hole may become one.
    Source: 3.18 mm: testability guideline of a board manufacturer, 4.1.5 (trade text).
    """
    group = _hindered(targets, surroundings, sheet, (HurdleKind.TOOLING,))
    if group:
        yield _near(target_near_guide_hole, Consequence.NOTE, "near a guide hole", group)


@check("test-access/target-takes-paste")
def target_takes_paste(board: Board, targets: Targets) -> Answers:
    """Does the stencil print paste on a pad that was made for a probe?

    Why it matters: the probe then meets a dome of solder with flux on it. It slides off the middle, and the flux that
        its tip picks up breaks contact on later boards.
    What to do: take the paste layer out of the pad. On bare copper under an organic coat, where tips want solder to
        bite into, print it on purpose, on all test pads alike.
    Blind spots: asked where the board does not state an organic finish. Only pads declared as test pads or called so.
    Source: common practice, no source.
    """
    if "OSP" in finishes_in(board.stackup.finish):
        return
    pasted = [
        t for t in _one_per_pad(targets.dedicated) if t.part_pad[1].hole is None and t.side in t.part_pad[1].paste
    ]
    if pasted:
        names = listed(f"{target.label} on {target.net}" for target in pasted)
        yield target_takes_paste.finding(
            Consequence.NOTE,
            f"{counted(len(pasted), 'test pad')} {'gets' if len(pasted) == 1 else 'get'} paste: {names}",
            items=[target.part_pad for target in pasted],
            places=_places(pasted),
        )


def _one_per_pad(targets: Iterable[Target]) -> list[Target]:
    """Each pad once, where it is widest; the bottom before the top."""
    best: dict[int, Target] = {}
    for target in targets:
        known = best.get(id(target.part_pad[1]))
        if known is None or target.diameter > known.diameter + 1e-6:
            best[id(target.part_pad[1])] = target
    return list(best.values())


def _places(group: Sequence[Target]) -> list[Place]:
    return [Place(target.at, target.side, f"{target.label} on {target.net}") for target in group]


CHECKS: tuple[Check, ...] = (
    target_covered,
    target_without_net,
    target_under_part,
    target_on_mains,
    target_too_small,
    targets_crowded,
    target_near_part,
    target_near_edge,
    target_near_guide_hole,
    target_takes_paste,
)
