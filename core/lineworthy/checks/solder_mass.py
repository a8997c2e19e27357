# SPDX-License-Identifier: MIT
"""Heavy parts on a board that goes through the oven twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from lineworthy.finding import Consequence, places_of
from lineworthy.geometry import exceeds
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.masses import Mass, held_by_outline, load, mass_of
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.wording import listed, natural
from lineworthy.model import Board, Part, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

LIMIT_KEY = "solder.second_side_per_inch2_max_g"

SURE = 1.5
"""An estimated mass may be off by a third: above the limit by this factor it is too heavy all the same."""


@dataclass(frozen=True, eq=False)
class _Hanging:
    """A part that melted solder does not hold: grams to the square inch of its lands."""

    part: Part = field(repr=False)
    mass: Mass
    load: float
    held: float

    @property
    def told(self) -> str:
        """``L1 3.2 g, 48 g/in2``."""
        about = "" if self.mass.stated else "about "
        return f"{self.part.reference} {about}{self.mass.grams:.1f} g, {self.load:.0f} g/in2"

    def is_sure(self, limit: float) -> bool:
        """Whether doubts about its mass change nothing."""
        return self.mass.stated or (self.mass.height_known and self.load > SURE * limit and self.mass.grams > self.held)


@check("solder/heavy-on-both-sides", limits=(LIMIT_KEY,))
def heavy_on_both_sides(board: Board, sheet: Sheet, joints: Joints, packages: Packages) -> Answers:
    """Do both sides carry parts too heavy to hang from their joints in the oven?

    Why it matters: a board with parts on both sides goes through the oven twice, the second time with the first side
    hanging down. Surface tension holds what is light for its lands; the rest shifts or falls into the oven.
    Whichever side is soldered first, some of its parts are too heavy.
    What to do: put all heavy parts on one side, which is soldered last. Otherwise agree on glue, on a carrier that
    holds them, or on soldering them by hand, all at a price.
    Blind spots: masses are a field called mass or weight (with g or mg), else estimated from body, height and a usual
    density of the family, which may be off by a third; the wetted area is all of the printed lands, which flatters. So
    the rule errs on both sides: it is a query only where each side has a part that is too heavy by half, with a known
    height, and by the joint's circumference as well. Parts of unknown height are taken half as high as their shorter
    side. Left out are parts with leads through the board, which are soldered later or hold on by their leads, and
    parts with lands on both sides.
    Source: 30 g to the square inch: trade mailing lists, 1998 to 2003; 4 mg to the millimetre of joint: a machine
    maker's support article.
    """
    limit = float(sheet.value(LIMIT_KEY))
    heavy: dict[Side, list[_Hanging]] = {side: [] for side in Side}
    for hanging in _hanging(board, joints, packages):
        if exceeds(hanging.load, limit):
            heavy[hanging.part.side].append(hanging)
    if not all(heavy.values()):
        return
    sure = all(any(hanging.is_sure(limit) for hanging in some) for some in heavy.values())
    parts = [hanging.part for side in Side for hanging in heavy[side]]
    worst = [max(heavy[side], key=lambda hanging: round(hanging.load, 2)) for side in Side]
    sides = "; ".join(f"on the {side.value} {_listed(heavy[side])}" for side in Side)
    yield heavy_on_both_sides.finding(
        Consequence.QUERY if sure else Consequence.NOTE,
        f"Whichever side is soldered first hangs with parts too heavy for their joints: {sides}; {limit:g} g/in2 hold",
        items=parts,
        places=places_of(parts),
        measured=min(hanging.load for hanging in worst),
        limit=limit,
        unit="g",
        limit_key=LIMIT_KEY,
    )


def _listed(heavy: Sequence[_Hanging]) -> str:
    worst = max(heavy, key=lambda hanging: (round(hanging.load, 2), natural(hanging.part.reference)))
    rest = [hanging.part.reference for hanging in heavy if hanging is not worst]
    return f"{worst.told}" + (f", and {listed(rest)}" if rest else "")


def _hanging(board: Board, joints: Joints, packages: Packages) -> Iterator[_Hanging]:
    """Every fitted part that is soldered in the oven, with what its joints have to hold, in natural order."""
    for part in sorted(board.parts, key=lambda part: (natural(part.reference), part.uid)):
        lands = [land for land in joints.of(part) if land.is_printed and land.is_bare] if part.fitted else []
        facts = packages.of(part)
        # what has lands on the far side, too, clasps the edge of the board
        clasps = any(board.copper_on(part.side.other) in pad.copper for pad in part.pads if pad.hole is None)
        mass = mass_of(part, facts) if lands and not facts.leads and not clasps else None
        if mass is not None:
            wetted = sum(float(land.bare.area) for land in lands)
            held = held_by_outline(float(land.bare.length) for land in lands)
            yield _Hanging(part, mass, load(mass.grams, wetted), held)


CHECKS: tuple[Check, ...] = (heavy_on_both_sides,)
