# SPDX-License-Identifier: MIT
"""Tall beside low: joints that no camera sees, chips that get less heat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds, falls_short, pairs_within
from lineworthy.knowledge.approach import TALL_WHEN_UNKNOWN, Joint, joints, shadow, standing, ways
from lineworthy.knowledge.bodies import Bodies, Body, Kind
from lineworthy.knowledge.packages import HeightOrigin, Terminals
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, Side
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

TILT, JOINT = "spacing.camera_tilt_deg", "spacing.joint_height_mm"
TALL, NEAR = "spacing.reflow_tall_min_mm", "spacing.reflow_shadow_min_mm"

ABOVE_MIN_MM = 3.0
"""A part that stands less than this above a joint takes little of the view; usual packages do so everywhere. Parts of
unknown height matter to joints this near, because past 45 degrees nothing lower would."""

SHOWN = 40
"""Places of one finding on the map."""

_ORIGIN = {
    HeightOrigin.FIELD: "stated on the board",
    HeightOrigin.NAME_CODE: "by its land-pattern name",
    HeightOrigin.LIBRARY_NAME: "by its library name",
    HeightOrigin.TABLE: "usual for its package",
}


@dataclass(frozen=True, eq=False)
class _Hidden:
    """A joint behind a tall part."""

    joint: Joint
    tall: Body
    gap: float
    need: float

    @property
    def order(self) -> tuple[object, ...]:
        return (round(self.gap - self.need, 3), self.joint.body.order, self.tall.order)

    @property
    def label(self) -> str:
        return f"{self.joint.body.part.reference} behind {self.tall.part.reference}"


@check("spacing/joint-hidden", limits=(TILT, JOINT))
def joint_hidden(board: Board, bodies: Bodies, sheet: Sheet) -> Answers:
    """Are joints hidden behind a tall part from the cameras of the optical inspection?

    Why it matters: the fillet at the outer end of a land is looked at from that side, by a camera that looks down at an
    angle. A tall part close by stands in the picture: the joint is called bad, or is never looked at.
    What to do: move the low part away by the height of the tall one, or turn it so that its ends look along the tall
    part; or agree with the factory which joints are inspected by eye.
    Blind spots: the strip of the land's width, straight out from the body, up to the distance at which the tall part no
    longer is in the way: (its height less that of the joint) x tan(tilt). Only parts that are there when reflowed
    joints are inspected: those placed by machine. Parts that stand less than 3 mm above the joint are left out, as are
    joints under a body. Where heights are missing, this part of the check is not run, and says so.
    Source: geometry; the tilt of 45 degrees and what must be seen of a joint are common practice, no source.
    """
    for side in Side:
        yield from _judge(_hidden(board, bodies, side, sheet), side, sheet)
    unknown = sorted({body for side in Side for body in _unknown(board, bodies, side)}, key=lambda body: body.order)
    if unknown:
        names = listed(body.part.reference for body in unknown)
        yield joint_hidden.not_run(
            f"no height stated for {counted(len(unknown), 'part')} with joints of others beside them ({names})",
            "give the parts a field Height in mm, or a package name that holds it",
        )


def _placed(bodies: Bodies, side: Side) -> list[Body]:
    return [body for body in bodies.on(side) if body.facts.machine_placed and body.kind is not Kind.LEADS]


def _seen(board: Board, some: Sequence[Body]) -> list[Joint]:
    """Joints that a camera can see at all."""
    hidden = (Terminals.BALL, Terminals.BOTTOM_LAND)
    return list(joints(board, [body for body in some if body.facts.terminals not in hidden]))


def _hidden(board: Board, bodies: Bodies, side: Side, sheet: Sheet) -> list[_Hidden]:
    limits = sheet.spacing
    least = limits.joint_height_mm + ABOVE_MIN_MM
    here = _placed(bodies, side)
    tall = [body for body in here if body.height is not None and not falls_short(body.height, least)]
    if not tall:
        return []
    reach = np.array([shadow(body.height or 0.0, limits.joint_height_mm, limits.camera_tilt_deg) for body in tall])
    near = np.unique(pairs_within([standing(body) for body in tall], [body.shape for body in here], reach)[1])
    some = _seen(board, [here[n] for n in near.tolist()])
    found = ways(some, tall, reach, np.array([joint.width for joint in some]), [0.0])
    hidden = []
    for n in np.flatnonzero(found.blocked[:, 0]).tolist():
        by = int(found.nearest[n])
        hidden.append(_Hidden(some[n], tall[by], float(found.gap[n]), float(reach[by])))
    return sorted(hidden, key=lambda one: one.order)


def _judge(hidden: Sequence[_Hidden], side: Side, sheet: Sheet) -> Sequence[Finding]:
    if not hidden:
        return ()
    first = hidden[0]
    tall = list(dict.fromkeys(one.tall for one in hidden))
    low = list(dict.fromkeys(one.joint.body for one in hidden))
    hide = "hides" if len(tall) == 1 else "hide"
    origin = first.tall.facts.height_origin
    how = f"{mm(first.tall.height or 0.0)} mm high ({_ORIGIN.get(origin, origin.value)})"
    message = (
        f"{_named(tall)} {hide} joints of {_named(low)} from a camera tilted"
        f" {sheet.spacing.camera_tilt_deg:g} degrees: {first.joint.body.part.reference} is {mm(round(first.gap, 3))} mm"
        f" from {first.tall.part.reference}, {how}; {mm(round(first.need, 3))} mm needed"
    )
    labels = {one.label: one for one in reversed(hidden)}
    return (
        joint_hidden.finding(
            Consequence.NOTE,
            message,
            items=list(dict.fromkeys(part for one in hidden for part in (one.tall.part, one.joint.body.part))),
            places=[Place(one.joint.at, side, label) for label, one in reversed(labels.items())][:SHOWN],
            measured=first.gap,
            limit=first.need,
            limit_key=TILT,
            detail=side.value,
        ),
    )


def _named(some: Sequence[Body]) -> str:
    """References of a few, the number of many."""
    return listed(body.part.reference for body in some) if len(some) <= 6 else f"{len(some)} parts"


def _unknown(board: Board, bodies: Bodies, side: Side) -> list[Body]:
    """Parts of tall kinds without a height that stand before joints of others."""
    here = _placed(bodies, side)
    missing = [body for body in here if body.height is None and body.facts.family in TALL_WHEN_UNKNOWN]
    if not missing:
        return []
    reach = np.full(len(missing), ABOVE_MIN_MM)
    near = np.unique(pairs_within([standing(body) for body in missing], [body.shape for body in here], reach)[1])
    some = _seen(board, [here[n] for n in near.tolist()])
    found = ways(some, missing, reach, np.array([joint.width for joint in some]), [0.0])
    return [missing[n] for n in np.unique(found.nearest[found.nearest >= 0]).tolist()]


@check("spacing/chip-in-heat-shadow", limits=(TALL, NEAR))
def chip_in_heat_shadow(bodies: Bodies, sheet: Sheet) -> Answers:
    """Do chips stand so close to a very tall part that they get less heat in the reflow oven?

    Why it matters: a tall body keeps the hot air off its neighbours and draws heat from the board round it. The paste
    beside it melts last, or at one end of a chip before the other, which lifts the chip.
    What to do: keep small chips some millimetres away from very tall parts, or fit the tall part after reflow.
    Blind spots: only parts placed by machine, which are there in the oven, and only heights that are on record or in
    the name. How an oven heats is not on the board.
    Source: common practice, no source.
    """
    limits = sheet.spacing
    for side in Side:
        here = _placed(bodies, side)
        tall = [body for body in here if body.height is not None and exceeds(body.height, limits.reflow_tall_min_mm)]
        chips = [body for body in here if body.kind in (Kind.CHIP, Kind.SMALL_CHIP)]
        i, j, gap = pairs_within([b.shape for b in tall], [b.shape for b in chips], limits.reflow_shadow_min_mm)
        near = [(float(g), tall[a], chips[b]) for a, b, g in zip(i.tolist(), j.tolist(), gap.tolist())]
        # a chip that is tall itself is not in its own shadow
        near = [one for one in near if one[1] is not one[2] and falls_short(one[0], limits.reflow_shadow_min_mm)]
        if not near:
            continue
        near.sort(key=lambda pair: (round(pair[0], 3), pair[1].order, pair[2].order))
        first = near[0]
        yield chip_in_heat_shadow.finding(
            Consequence.NOTE,
            f"{listed(chip.part.reference for _, _, chip in near)} beside"
            f" {listed(big.part.reference for _, big, _ in near)}: {first[2].part.reference} is"
            f" {mm(round(first[0], 3))} mm from {first[1].part.reference}, {mm(first[1].height or 0.0)} mm high;"
            f" {mm(limits.reflow_shadow_min_mm)} mm needed beside parts above {mm(limits.reflow_tall_min_mm)} mm",
            items=list(dict.fromkeys(body.part for _, big, chip in near for body in (big, chip))),
            places=[
                Place(chip.part.at, side, f"{chip.part.reference} at {big.part.reference}")
                for _, big, chip in near[:SHOWN]
            ],
            measured=first[0],
            limit=limits.reflow_shadow_min_mm,
            limit_key=NEAR,
            detail=side.value,
        )


CHECKS = (joint_hidden, chip_in_heat_shadow)
