# SPDX-License-Identifier: MIT
"""Room between parts: to place them, to see their joints, to get them off again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.geometry import exceeds, falls_short, pairs_within, width_and_length
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.wording import counted, listed, mm, natural, sentence
from lineworthy.model import Board, Part, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

SMALL_CHIPS = ("01005", "0201", "0402")

ARRAY_MIN_MM = 5.0
"""Arrays with a shorter side below this are lifted like any small package, not with a nozzle of their own."""

SMALL_PACKAGE_MM = 3.2
"""A surface package no longer than a 1206 chip is placed and lifted like one."""

OVERLAP_MIN_MM2 = 0.02
"""Bodies are drawn by hand to hundredths of a mm; less than this in common is touching, not overlapping."""

_SKIPPED = frozenset({Family.MECHANICAL, Family.COVER, Family.ANTENNA})
_STANDS_OVER = frozenset({Family.MODULE, Family.CONNECTOR, Family.RELAY, Family.SWITCH, Family.INDUCTOR})

_REACH = {
    "small chip": ("chip_min_mm", "small_chip_min_mm"),
    "chip": ("chip_min_mm",),
    "package": ("package_min_mm", "chip_to_package_min_mm"),
    "array": ("array_min_mm",),
    "connector": ("connector_min_mm",),
    "leads": ("through_hole_min_mm",),
}
"""Limits a kind of body brings along."""

_BETWEEN = {
    "small_chip_min_mm": "between small chips",
    "chip_min_mm": "between chips and other small packages",
    "chip_to_package_min_mm": "between a chip and a package",
    "package_min_mm": "between packages",
    "array_min_mm": "round an array",
    "connector_min_mm": "round a connector",
    "through_hole_min_mm": "between leads and surface parts",
}


@dataclass(frozen=True, eq=False)
class _Body:
    """What one part takes on one side: its body and lands, or on the far side its leads."""

    part: Part
    facts: PackageFacts
    side: Side
    shape: BaseGeometry
    kind: str

    @property
    def by_hand(self) -> bool:
        """Fitted by hand or by a wave: tolerances of placement machines do not matter to it."""
        return bool(self.facts.leads) and not self.facts.machine_placed


@dataclass(frozen=True)
class _Pair:
    """Two bodies too close; `first` comes first in natural order of references. `limit` is empty for a collision."""

    first: _Body
    second: _Body
    gap: float
    limit: str
    overlap: float

    @property
    def order(self) -> tuple[object, ...]:
        """Nearest first, then by reference; rounded, so that a turned board gives the same order."""
        return (round(self.gap, 4), -round(self.overlap, 2), _name(self.first), _name(self.second))

    @property
    def label(self) -> str:
        """Both references."""
        leads = [body.part.reference for body in (self.first, self.second) if body.kind == "leads"]
        if leads:
            other = self.second if self.first.kind == "leads" else self.first
            return f"leads of {leads[0]} and {other.part.reference}"
        return f"{self.first.part.reference} and {self.second.part.reference}"


@check(
    "spacing/parts-too-close",
    limits=(
        "spacing.small_chip_min_mm",
        "spacing.chip_min_mm",
        "spacing.chip_to_package_min_mm",
        "spacing.package_min_mm",
        "spacing.array_min_mm",
        "spacing.connector_min_mm",
        "spacing.through_hole_min_mm",
    ),
)
def parts_too_close(board: Board, sheet: Sheet, packages: Packages) -> Answers:
    """Are parts so close that they collide, hide each other's joints, or cannot be replaced one at a time?

    Why it matters: placement machines tilt or push neighbours that stand within their nozzle's tolerance, cameras and
    irons need to see and reach a joint from the side, and a part too close to its neighbour cannot be replaced without
    reflowing both. Leads beside small parts are shorted by the solder wave or the selective nozzle.
    What to do: move the parts apart. Where the density is wanted, agree on it with the factory and put its own numbers
    into the capability sheet.
    Blind spots: measured from body and lands of one part to body and lands of the next on the same face, with the limit
    of the pair of kinds; leads that come through from the other face count against surface parts. Overlapping
    bodies are a query, and so is less than half the limit where the drawn courtyards overlap, too; all that is
    merely short of one limit is one note. Bodies are as drawn in the library, a surface part without a drawing
    counts as the hull of its lands, a leaded one as its lands. Height is not looked at: a part under a raised one
    counts as a collision unless it lies under a module on pins, or wholly under a connector, relay, switch or coil.
    Shield cans, heat sinks, antennas, holes, marks, solder jumpers and parts marked do-not-fit are left out.
    Through-hole parts among themselves may touch; connectors may stand side by side.
    Source: common practice; every value comes from the capability sheet, which names its source.
    """
    bodies = _collect(board, packages)
    close = [pair for side in Side for pair in _measure([b for b in bodies if b.side is side], sheet)]
    close.sort(key=lambda pair: pair.order)
    groups: dict[tuple[object, ...], list[_Pair]] = {}
    for pair in close:
        groups.setdefault(_group(pair, sheet), []).append(pair)
    for key, pairs in groups.items():
        yield _judge(pairs, key[0] is Consequence.QUERY, sheet)


CHECKS: tuple[Check, ...] = (parts_too_close,)


def _collect(board: Board, packages: Packages) -> list[_Body]:
    """Bodies of all fitted parts on their own side, and leads on the far side."""
    bodies = []
    for part in board.parts:
        facts = packages.of(part)
        # bare fingers and test lands are drawn on the board; nothing is placed there
        soldered = bool(facts.leads) or any(pad.paste for pad in part.pads)
        if not part.fitted or facts.family in _SKIPPED or not soldered:
            continue
        layer = board.copper_on(part.side)
        shapes: list[BaseGeometry] = [pad.copper[layer] for pad in part.pads if layer in pad.copper]
        # the hull of some leads is nobody's body
        if not facts.body.is_empty and (part.body is not None or not facts.leads):
            shapes.append(facts.body)
        bodies.append(_Body(part, facts, part.side, shapely.GeometryCollection(shapes), _kind(facts)))
        if facts.leads:
            far = board.copper_on(part.side.other)
            leads = [pad.copper[far] for pad in facts.leads if far in pad.copper]
            bodies.append(_Body(part, facts, part.side.other, shapely.GeometryCollection(leads), "leads"))
    return bodies


def _kind(facts: PackageFacts) -> str:
    if facts.family is Family.CHIP and facts.chip_size in SMALL_CHIPS:
        return "small chip"
    if facts.family is Family.CONNECTOR:
        return "connector"
    shorter, longer = width_and_length(facts.body)
    if facts.family is Family.ARRAY and not falls_short(shorter, ARRAY_MIN_MM):
        return "array"
    small = facts.machine_placed and not exceeds(longer, SMALL_PACKAGE_MM)
    return "chip" if small or facts.family in (Family.CHIP, Family.MELF) else "package"


def _measure(bodies: Sequence[_Body], sheet: Sheet) -> Iterator[_Pair]:
    """Every pair on one side that is short of its limit."""
    shapes = [body.shape for body in bodies]
    # a pair is found from the side of the body with the farther reach
    reach = np.array([max(getattr(sheet.spacing, limit) for limit in _REACH[body.kind]) for body in bodies])
    ours, theirs, gaps = pairs_within(shapes, shapes, reach)
    seen = set()
    for i, j, gap in zip(ours.tolist(), theirs.tolist(), gaps.tolist()):
        key = (min(i, j), max(i, j))
        first, second = sorted((bodies[i], bodies[j]), key=_name)
        if first.part is second.part or key in seen or _stands_over(first, second):
            continue
        if first.kind == second.kind == "leads":
            continue  # their bodies on the other side say it all
        seen.add(key)
        overlap = _overlap(first, second) if gap == 0.0 else 0.0
        limit = _limit(first, second)
        if overlap:
            yield _Pair(first, second, gap, "", overlap)
        elif limit and falls_short(gap, getattr(sheet.spacing, limit)):
            yield _Pair(first, second, gap, limit, overlap)


def _limit(first: _Body, second: _Body) -> str:
    """The sheet's limit for a pair, empty where only a collision counts."""
    kinds = {first.kind, second.kind}
    if (first.by_hand and second.by_hand) or kinds == {"connector"}:
        return ""
    # the first kind in this order decides
    for kind, limit in (("leads", "through_hole"), ("array", "array"), ("connector", "connector")):
        if kind in kinds:
            return f"{limit}_min_mm"
    if "package" in kinds:
        return "package_min_mm" if len(kinds) == 1 else "chip_to_package_min_mm"
    return "small_chip_min_mm" if kinds == {"small chip"} else "chip_min_mm"


def _overlap(first: _Body, second: _Body) -> float:
    """Area in common, mm2; 0 where they only touch."""
    one, other = (shapely.union_all(shapely.get_parts(body.shape)) for body in (first, second))
    area = float(shapely.area(shapely.intersection(one, other)))
    return area if area > OVERLAP_MIN_MM2 else 0.0


def _stands_over(first: _Body, second: _Body) -> bool:
    """One lies under the other, which stands on legs or has a cavity: wholly, or under a module on pins in part."""
    for over, under in ((first, second), (second, first)):
        if over.kind == "leads" or over.facts.family not in _STANDS_OVER:
            continue
        is_module = over.facts.family is Family.MODULE
        if is_module and not over.facts.leads:
            continue  # soldered flat to the board
        on_pins = is_module and not under.facts.leads
        if on_pins or over.facts.body.covers(under.facts.body):
            return True
    return False


def _group(pair: _Pair, sheet: Sheet) -> tuple[object, ...]:
    """What one decision covers: pairs of the same packages equally close, or all that are a little short of a limit."""
    packages = tuple(sorted((pair.first.part.package, pair.second.part.package)))
    if pair.overlap:
        bigger = max((pair.first, pair.second), key=lambda body: (round(body.facts.body.area, 2), _name(body)))
        return (Consequence.QUERY, "", bigger.part.uid, bigger.side)
    grave = pair.gap < getattr(sheet.spacing, pair.limit) / 2 and _courtyards_overlap(pair)
    if grave and pair.limit not in ("connector_min_mm", "through_hole_min_mm"):
        return (Consequence.QUERY, pair.limit, packages, round(pair.gap + 1e-5, 2))
    return (Consequence.NOTE, pair.limit)


def _courtyards_overlap(pair: _Pair) -> bool:
    """Whether even the library's own clearances run into each other; a missing courtyard does not excuse a part."""
    one = pair.first.part.courtyard.get(pair.first.side)
    other = pair.second.part.courtyard.get(pair.second.side)
    if one is None or other is None:
        return True
    return float(shapely.area(shapely.intersection(one, other))) > OVERLAP_MIN_MM2


def _judge(pairs: Sequence[_Pair], is_query: bool, sheet: Sheet) -> Finding:
    nearest = pairs[0]
    consequence = Consequence.QUERY if is_query else Consequence.NOTE
    bodies = sorted((body for pair in pairs for body in (pair.first, pair.second)), key=_name)
    parts = list(dict.fromkeys(body.part for body in bodies))
    places = [_place(pair) for pair in pairs]
    if not nearest.limit:
        return parts_too_close.finding(
            consequence, _collision(pairs), items=parts, places=places, measured=0.0, detail="overlap"
        )
    need = getattr(sheet.spacing, nearest.limit)
    wanted = f"{mm(need)} mm needed {_BETWEEN[nearest.limit]}"
    if is_query or len(pairs) == 1:
        apart = f"are {mm(nearest.gap)} mm apart" if round(nearest.gap, 3) > 0 else "touch"
        message = sentence(f"{nearest.label} {apart}{_more(pairs)}; {wanted}")
    else:
        message = f"{len(pairs)} pairs, nearest {nearest.label}, are {mm(nearest.gap)} mm and more apart; {wanted}"
    return parts_too_close.finding(
        consequence,
        message,
        items=parts,
        places=places,
        measured=nearest.gap,
        limit=need,
        limit_key=f"spacing.{nearest.limit}",
        detail=nearest.limit,
    )


def _collision(pairs: Sequence[_Pair]) -> str:
    """Who is in the same place; `pairs` all have one part in common when there is more than one."""
    if len(pairs) == 1:
        return sentence(f"{pairs[0].label} overlap by {mm(round(pairs[0].overlap, 2))} mm\u00b2")
    both = [{pair.first.part.reference, pair.second.part.reference} for pair in pairs]
    hub = set.intersection(*both)
    others = listed(set.union(*both) - hub)
    most = max(pair.overlap for pair in pairs)
    return f"{listed(hub)} overlaps {others}, by up to {mm(round(most, 2))} mm\u00b2"


def _more(pairs: Sequence[_Pair]) -> str:
    return f", as are {counted(len(pairs) - 1, 'more pair')} of the same packages" if len(pairs) > 1 else ""


def _place(pair: _Pair) -> Place:
    """Halfway between the two bodies."""
    line = shapely.get_coordinates(shapely.shortest_line(pair.first.shape, pair.second.shape))
    x, y = line.mean(axis=0).tolist()
    return Place((x, y), pair.first.side, pair.label)


def _name(body: _Body) -> tuple[object, ...]:
    return (natural(body.part.reference), body.part.reference, body.part.uid, body.kind)
