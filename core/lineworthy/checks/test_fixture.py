# SPDX-License-Identifier: MIT
"""Checks of test access: do the test pads together make a fixture that works, and one that people can use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import ceil
from typing import NamedTuple

import numpy as np
import shapely
from shapely import affinity

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge import capacitance
from lineworthy.knowledge.holes import FixingHole, HoleUse
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.nets import NetKind, Nets, Source
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.targets import Target, Targets
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Marking, Net, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

LABEL_REACH_MM = 3.0
"""A text farther from a pad than this is not read as its label (common practice, no source)."""

LABEL_CHARS = 16
"""A longer text is a sentence or an address and no pad's name (common practice, no source)."""

FIXTURE_NETS = 8
"""From this many nets with test pads on, somebody means to build a fixture; fewer are for a bench and a hand."""

TURNED_MM = 0.5
"""Holes that come this near to each other by a half-turn let the board onto the same pins."""

FEW_HOLES = 3
"""Up to this many bare holes can be meant for pins; more are for screws."""

GROUND_ENOUGH = 3
"""Leads, open vias and bare lands on ground that do instead of a test pad on it (common practice, no source)."""

BARE = {NetKind.RF: "a radio net", NetKind.CRYSTAL: "a crystal's net", NetKind.FAST: "a fast pair"}


@check("test-access/target-on-bare-net")
def target_on_bare_net(board: Board, nets: Nets, targets: Targets) -> Answers:
    """Does a test pad load a net that should carry nothing: a radio line, a crystal, a fast pair?

    Why it matters: the pad's copper over the next layer is a capacitor. It pulls a crystal, mismatches an antenna line
        and reflects on a fast pair, on every board, tested or not; with a probe on it the circuit stops.
    What to do: leave such nets bare and test them by what they do; or keep the pad small, in line with the trace.
    Blind spots: which nets these are is judged by names and parts. The figure is for solid copper on the next layer, by
        the stack-up; a plane cut out below the pad makes it smaller. USB and CAN pairs bear a pad and are left alone.
    Source: C = e0 er A / h with the rim's field (from memory: effective radius of a circular patch, antenna textbooks).
        A guide, from memory: 1 mm over 0.2 mm does no harm on 50 ohm up to about 2 GHz.
    """
    for kind, what in BARE.items():
        group = _per_pad(target for target in targets.dedicated if nets.of(target.net).kind is kind)
        if group:
            names = listed(f"{target.label} on {target.net}{_load(board, target)}" for target in group)
            yield target_on_bare_net.finding(
                Consequence.NOTE,
                f"{counted(len(group), 'test pad')} on {what}: {names}",
                items=[target.part_pad for target in group],
                places=[_place(target) for target in group],
                detail=kind.value,
            )


def _load(board: Board, target: Target) -> str:
    load = capacitance.added(board, target.side, target.diameter)
    if load is None:
        return ""
    return (
        f", about {load.picofarad:.2f} pF ({mm(target.diameter)} mm disc, {mm(load.gap)} mm over the next copper, "
        f"permittivity {load.permittivity:.1f})"
    )


@check("test-access/targets-unlabelled")
def targets_unlabelled(board: Board, targets: Targets, printed: Printed) -> Answers:
    """Do test pads stand on the board without a word beside them?

    Why it matters: whoever brings up or repairs a board looks for the pad by its name; without one they count pads on a
        drawing and put the lead on the wrong one.
    What to do: show the pad's reference, or print the net's name beside it.
    Blind spots: any short text within 3 mm that belongs to no other part counts as the label, as does drawn lettering.
        Whether it says the right thing is not known. Connectors made of test pads are left alone, and so are pads that
        are on the board and not in the schematic: their reference tells nobody anything.
    Source: common practice, no source.
    """
    pads = [target for target in _per_pad(targets.dedicated) if len(target.part_pad[0].pads) <= 2]
    pads = [target for target in pads if not _is_layout_only(target)]
    texts = {side: _texts(board, printed, side) for side in Side} if pads else {}
    bare = [target for target in pads if not _is_labelled(board, texts, target)]
    if bare:
        of = f" of {len(pads)}" if len(bare) < len(pads) else ""
        yield targets_unlabelled.finding(
            Consequence.NOTE,
            f"{len(bare)}{of} test pads have no text beside them: {listed(target.label for target in bare)}"
            if len(pads) > 1
            else f"{bare[0].label}, the only test pad, has no text beside it",
            items=[target.part_pad for target in bare],
            places=[_place(target) for target in bare],
            measured=len(bare),
            limit=0,
            unit="count",
        )


class _Texts(NamedTuple):
    """What can be read on one side, with the part each text belongs to, empty for none."""

    tree: shapely.STRtree
    owners: list[str]


def _texts(board: Board, printed: Printed, side: Side) -> _Texts:
    """Texts on made layers, and drawn lettering: labels that a tool drew as parts without pads, mostly."""
    texts = [text for text in board.shown_markings if text.layer.side is side and _is_label(text)]
    found = [(text.extents, text.part_uid) for text in texts]
    drawn = [graphic for graphic in board.graphics if graphic.layer.side is side and graphic.layer.is_made]
    lettering = {id(graphic) for graphic in printed.artwork}
    found += [
        (graphic.shape, "")
        for graphic in drawn
        if id(graphic) in lettering or (graphic.part_uid and printed.owner(graphic) is None)
    ]
    return _Texts(shapely.STRtree([shape for shape, _ in found]), [owner for _, owner in found])


def _is_label(text: Marking) -> bool:
    """Whether a text is made and short enough to be the name of something."""
    return text.layer.is_made and 0 < len(text.text.strip()) <= LABEL_CHARS


def _is_labelled(board: Board, texts: Mapping[Side, _Texts], target: Target) -> bool:
    part, pad = target.part_pad
    area = shapely.Point(target.at).buffer(target.diameter / 2 + LABEL_REACH_MM)
    for side in {side for layer in pad.copper if (side := board.side_of(layer))}:
        hits = texts[side].tree.query(area, predicate="intersects")
        if any(texts[side].owners[hit] in ("", part.uid) for hit in hits):
            return True
    return False


@check(
    "test-access/ground-targets-too-few",
    limits=("test-access.signals_per_ground_max_count", "test-access.ground_target_near_mm"),
)
def ground_targets_too_few(sheet: Sheet, nets: Nets, targets: Targets) -> Answers:
    """Has a fixture ground enough, and near enough, for the signals it probes?

    Why it matters: every probe's current comes back through ground. With one far ground probe for many signals, levels
        shift and edges ring, and good boards fail.
    What to do: put test pads on ground among the others, on the same side.
    Blind spots: leads, open vias and bare lands on ground count like test pads; a connector counts only where there is
        nothing else. Only the ground with the most pins is looked at.
    Source: one ground probe for 10 to 20 signals, spread out: common practice, no source.
    """
    need, limits = sheet.test_access.target_min_mm, sheet.test_access
    side, signals = _probed_signals(nets, targets, need)
    name, count = nets.main_ground, counted(len(signals), "net")
    ground = [target for target in targets.of(name) if target.side is side] if name else []
    probed = [target for target in ground if target.kind.is_probed and not falls_short(target.diameter, need)]
    if len(signals) < 2 or not name:
        return
    made = any(nets.of(target.net).kind is NetKind.GROUND for target in targets.dedicated if target.side is side)
    if not made and len(probed) < GROUND_ENOUGH:
        yield ground_targets_too_few.finding(
            Consequence.NOTE,
            f"{count} on the {side.value} have test pads and {name} has none{_instead(ground)}",
            items=[Net(name)],
            places=[_place(target) for target in ground[:1] or signals],
            measured=0,
            limit=1,
            unit="count",
        )
        return
    if not probed:
        return
    wanted = ceil(len(signals) / limits.signals_per_ground_max_count)
    if len(probed) < wanted:
        yield ground_targets_too_few.finding(
            Consequence.NOTE,
            f"{name} has {counted(len(probed), 'target')} on the {side.value}, {wanted} wanted for {count} with pads",
            items=[Net(name)],
            places=[_place(target) for target in probed],
            measured=len(probed),
            limit=wanted,
            unit="count",
        )
    at = shapely.MultiPoint([target.at for target in probed])
    far = max(signals, key=lambda target: (round(at.distance(shapely.Point(target.at)), 4), natural(target.label)))
    apart = float(at.distance(shapely.Point(far.at)))
    if exceeds(apart, limits.ground_target_near_mm):
        yield ground_targets_too_few.finding(
            Consequence.NOTE,
            f"{far.label} on {far.net} is {mm(apart)} mm from the nearest target on {name}",
            items=[Net(name), far.part_pad],
            places=[_place(far)],
            measured=apart,
            limit=limits.ground_target_near_mm,
            limit_key="test-access.ground_target_near_mm",
        )


def _instead(ground: Sequence[Target]) -> str:
    """What else of ground a fixture can touch on that side."""
    if not ground:
        return ", and nothing else to touch there"
    return f", only {counted(len(ground), 'other target')} such as {ground[0].label}"


def _probed_signals(nets: Nets, targets: Targets, need: float) -> tuple[Side, list[Target]]:
    """The side with more nets that have a test pad, the bottom when even; one test pad for each net of that side."""
    found: dict[Side, dict[str, Target]] = {side: {} for side in Side}
    for target in targets.dedicated:
        ground = nets.of(target.net).kind is NetKind.GROUND
        if not ground and not falls_short(target.diameter, need):
            found[target.side].setdefault(target.net, target)
    side = Side.TOP if len(found[Side.TOP]) > len(found[Side.BOTTOM]) else Side.BOTTOM
    return side, list(found[side].values())


@check("test-access/rail-without-sense", limits=("test-access.target_min_mm",))
def rail_without_sense(sheet: Sheet, nets: Nets, targets: Targets) -> Answers:
    """Has a supply rail only one place to touch, where a fixture would feed and measure it apart?

    Why it matters: what feeds or loads a rail drops some tens of millivolts at its own probe. Measured at the same
        probe, a rail in order reads low; a second probe that carries no current reads the truth.
    What to do: a second test pad on the rail, best at the far end of it.
    Blind spots: only boards with test pads on eight nets or more are looked at, where a fixture is meant. Rails with a
        connector can be fed there. How much current a rail carries is not known.
    Source: two targets for each rail, force and sense: common practice, no source.
    """
    need = sheet.test_access.target_min_mm
    if not _is_for_fixture(targets):
        return
    alone: dict[str, Target] = {}
    for key in nets.keys:
        found = targets.of(key.facts.name)
        spots = {target.at for target in found if not falls_short(target.diameter, need)}
        plugged = any(not target.kind.is_probed for target in found)
        fed = key.kind is NetKind.POWER and key.facts.source is not Source.FILTERED
        if fed and len(spots) == 1 and not plugged and not _is_layout_only(found[0]):
            alone[key.facts.name] = found[0]
    if alone:
        verb = "has" if len(alone) == 1 else "have"
        yield rail_without_sense.finding(
            Consequence.NOTE,
            f"{counted(len(alone), 'rail')} {verb} a single target, none to sense by: {listed(alone)}",
            items=[Net(name) for name in alone],
            places=[_place(target) for target in alone.values()],
            measured=1,
            limit=2,
            unit="count",
        )


def _is_for_fixture(targets: Targets) -> bool:
    return len({target.net for target in targets.dedicated if not _is_layout_only(target)}) >= FIXTURE_NETS


def _is_layout_only(target: Target) -> bool:
    """Whether a pad is on the board and not in the schematic, as what somebody added while drawing the board."""
    return target.own is not None and target.own.board_only


@check("test-access/guide-holes-too-few")
def guide_holes_too_few(board: Board, targets: Targets, marks: Marks) -> Answers:
    """Has a board with many test pads two bare holes for the pins that hold it in the fixture?

    Why it matters: guide pins put the pads over the probes. In plated holes the plating's spread adds to the error, and
        with fewer than two holes the board turns.
    What to do: two unplated holes near opposite corners, three where there is room.
    Blind spots: only boards with test pads on eight nets or more are looked at. Any unplated round hole from 1 mm
        counts. Rails of a panel can carry the holes, and some fixtures hold a board by its edges: this is a note.
    Source: two or more, unplated, farthest apart: guideline of a board manufacturer, 4.1.4, and an article of a
        tester's maker (trade texts).
    """
    bare = [hole for hole in marks.holes if not hole.plated]
    if not _is_for_fixture(targets) or len(bare) >= 2:
        return
    plated = len(marks.holes) - len(bare)
    more = f"; {counted(plated, 'plated fixing hole')}" if plated else ""
    nets = len({target.net for target in targets.dedicated})
    yield guide_holes_too_few.finding(
        Consequence.NOTE,
        f"{len(bare)} unplated holes for guide pins, 2 wanted, and test pads on {nets} nets{more}",
        places=[Place(hole.at, None, hole.part.reference if hole.part else "hole") for hole in marks.holes],
        measured=len(bare),
        limit=2,
        unit="count",
    )


@check("test-access/guide-holes-symmetric")
def guide_holes_symmetric(board: Board, targets: Targets, marks: Marks) -> Answers:
    """Does the board fit onto its guide pins turned by half a turn as well?

    Why it matters: sooner or later somebody puts it in that way, and the fixture feeds 24 V into a data pin.
    What to do: move one of the guide holes by a few millimetres, or give one another diameter.
    Blind spots: tall parts may block the wrong way, and a fixture may have its own stop. Only boards with test pads on
        eight nets or more, and with an outline that looks the same turned, are looked at. Where no hole is called a
        guide hole, two or three unplated fixing holes are taken for them; four and more are for screws.
    Source: the hole pattern must not fit when turned: design recommendations of a test-fixture maker (trade text).
    """
    holes = _guides(marks.holes)
    if not _is_for_fixture(targets) or len(holes) < 2 or not board.outline.is_closed:
        return
    low_x, low_y, high_x, high_y = board.outline.area.bounds
    middle = np.array([(low_x + high_x) / 2, (low_y + high_y) / 2])
    if not _same_turned(board, (float(middle[0]), float(middle[1]))) or not _map_onto_themselves(holes, middle):
        return
    kind = "guide" if holes[0].use is HoleUse.TOOLING else "unplated fixing"
    yield guide_holes_symmetric.finding(
        Consequence.NOTE,
        f"{len(holes)} {kind} holes and the outline look the same after half a turn",
        items=[hole.part for hole in holes if hole.part],
        places=[Place(hole.at, None, hole.part.reference if hole.part else "hole") for hole in holes],
    )


def _guides(holes: Iterable[FixingHole]) -> list[FixingHole]:
    bare = [hole for hole in holes if not hole.plated]
    called = [hole for hole in bare if hole.use is HoleUse.TOOLING]
    # four holes in four corners are for screws; two or three can hardly be for anything but pins
    return called or (bare if len(bare) <= FEW_HOLES else [])


def _same_turned(board: Board, middle: tuple[float, float]) -> bool:
    outside = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(board.outline.area)])
    turned = affinity.rotate(outside, 180, origin=middle)
    return bool(turned.hausdorff_distance(outside) <= TURNED_MM)


def _map_onto_themselves(holes: Sequence[FixingHole], middle: np.ndarray) -> bool:
    spots = np.array([hole.at for hole in holes])
    sizes = np.array([hole.diameter for hole in holes])
    gaps = np.hypot(*((2 * middle - spots)[:, None] - spots[None]).transpose(2, 0, 1))
    nearest = gaps.argmin(axis=1)
    fits = (gaps.min(axis=1) <= TURNED_MM) & (np.abs(sizes[nearest] - sizes) <= TURNED_MM / 2)
    return bool(fits.all())


def _per_pad(targets: Iterable[Target]) -> list[Target]:
    """Each pad once."""
    return list({id(target.part_pad[1]): target for target in targets}.values())


def _place(target: Target) -> Place:
    return Place(target.at, target.side, f"{target.label} on {target.net}")


CHECKS: tuple[Check, ...] = (
    target_on_bare_net,
    targets_unlabelled,
    ground_targets_too_few,
    rail_without_sense,
    guide_holes_too_few,
    guide_holes_symmetric,
)
