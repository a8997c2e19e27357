# SPDX-License-Identifier: MIT
"""Small two-ended chips: do both ends melt at the same time?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lineworthy.finding import Consequence, places_of
from lineworthy.knowledge.exits import Exit, exits
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.reliefs import Reliefs
from lineworthy.knowledge.wording import counted, listed, natural
from lineworthy.model import Board, Part
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

EXIT_KEY, LAND_KEY = "solder.chip_exit_max_ratio", "solder.chip_land_max_ratio"

SMALL = frozenset({"01005", "0201", "0402", "0603", "0805"})
"""Larger chips are too heavy to be pulled up by the solder of one end."""

RATIO_TOL = 1e-3

SHOWN = 60
"""Places of one finding on the map; more of the same kind help nobody."""


@dataclass(frozen=True, eq=False)
class _Chip:
    """A chip with its two ends, the one with less copper first, and how many times more the other has."""

    part: Part = field(repr=False)
    size: str
    less: Exit
    more: Exit

    @property
    def ratio(self) -> float:
        """Copper leaving one end to copper leaving the other."""
        return self.more.width / self.less.width


@check("solder/chip-ends-uneven", limits=(EXIT_KEY,))
def chip_ends_uneven(board: Board, sheet: Sheet, packages: Packages, joints: Joints, reliefs: Reliefs) -> Answers:
    """Does far more copper lead away from one end of a small chip than from the other, so that it may stand up?

    Why it matters: the end with little copper is hot first. Its solder melts, wets and pulls while the other end is
    still solid, and a light chip is drawn up on end or aside: the tombstone.
    What to do: join the end in the pour over webs, as the editor's default does; lead a wide track away over a neck as
    wide as the one at the other end.
    Blind spots: what counts is the width of all copper that crosses the outline of each land on its own layer, tracks
    and pours of its net together; an end in a pour over webs counts with the widest of them. Vias, inner planes, paste
    and what the copper leads to are not weighed. An end that nothing leaves is not judged. Trade texts ask for 2 : 1;
    boards that are built in volume exceed that on every third chip, so the sheet asks for far more before anything is
    told.
    Source: common practice, no source.
    """
    limit = float(sheet.value(EXIT_KEY))
    chips = [chip for chip in _chips(board, packages, joints, reliefs) if chip.ratio > limit + RATIO_TOL]
    if chips:
        worst = min(chips, key=lambda chip: (-round(chip.ratio, 2), natural(chip.part.reference)))
        solid = sum(chip.more.contact.is_solid for chip in chips)
        how = f"; {solid} without thermal relief" if solid else ""
        yield chip_ends_uneven.finding(
            Consequence.NOTE,
            f"{counted(len(chips), 'chip')} {listed(chip.size for chip in chips)}"
            f" ({listed(chip.part.reference for chip in chips)}): the copper at one end is up to {worst.ratio:.1f}"
            f" times as wide as at the other ({worst.part.reference}: {worst.more.width:.2f} mm and"
            f" {worst.less.width:.2f} mm), {limit:g} times accepted{how}",
            items=[chip.part for chip in chips],
            places=places_of(chip.part for chip in chips[:SHOWN]),
            measured=worst.ratio,
            limit=limit,
            unit="ratio",
            limit_key=EXIT_KEY,
        )


@check("solder/chip-lands-uneven", limits=(LAND_KEY,))
def chip_lands_uneven(board: Board, sheet: Sheet, packages: Packages, joints: Joints) -> Answers:
    """Are the two lands of a small chip, or the prints of paste on them, of different size?

    Why it matters: the larger land with more solder pulls harder. A light chip moves towards it, turns, or stands up.
    What to do: make both lands and both prints alike; mark polarity in the legend, not in the shape of the land.
    Blind spots: areas only, not shapes; of the copper that mask leaves bare, and of the paste as drawn. Chips of more
    or fewer than two lands are not judged.
    Source: common practice, no source.
    """
    limit = float(sheet.value(LAND_KEY))
    rows = [(part, _land_ratio(lands)) for part, lands in _two_ended(board, packages, joints)]
    uneven = [row for row in rows if row[1] > limit + RATIO_TOL]
    if uneven:
        part, ratio = min(uneven, key=lambda row: (-round(row[1], 2), natural(row[0].reference)))
        yield chip_lands_uneven.finding(
            Consequence.NOTE,
            f"{counted(len(uneven), 'chip')} ({listed(row[0].reference for row in uneven)}): one land or its print is"
            f" up to {ratio:.2f} times the size of the other ({part.reference}), {limit:g} times accepted",
            items=[row[0] for row in uneven],
            places=places_of(row[0] for row in uneven[:SHOWN]),
            measured=ratio,
            limit=limit,
            unit="ratio",
            limit_key=LAND_KEY,
        )


def _two_ended(board: Board, packages: Packages, joints: Joints) -> list[tuple[Part, tuple[Land, ...]]]:
    """Fitted small chips with two printed lands, in natural order."""
    found = []
    for part in board.parts:
        facts = packages.of(part)
        if not part.fitted or facts.family is not Family.CHIP or facts.chip_size not in SMALL:
            continue
        lands = joints.of(part)
        if len(lands) == 2 and all(land.is_printed and land.is_bare for land in lands):
            found.append((part, lands))
    return sorted(found, key=lambda row: (natural(row[0].reference), row[0].uid))


def _chips(board: Board, packages: Packages, joints: Joints, reliefs: Reliefs) -> list[_Chip]:
    parts = _two_ended(board, packages, joints)
    ends = exits(board, [land for _, lands in parts for land in lands], reliefs)
    chips = []
    for n, (part, _) in enumerate(parts):
        less, more = sorted(ends[2 * n : 2 * n + 2], key=lambda end: end.width)
        if less.width > 0.0:
            chips.append(_Chip(part, packages.of(part).chip_size, less, more))
    return chips


def _land_ratio(lands: Sequence[Land]) -> float:
    """The larger of two lands to the smaller, by bare copper or by print, whichever differs more."""
    bare, printed = sorted(land.bare.area for land in lands), sorted(land.printed.area for land in lands)
    return float(max(bare[1] / bare[0], printed[1] / printed[0]))


CHECKS: tuple[Check, ...] = (chip_ends_uneven, chip_lands_uneven)
