# SPDX-License-Identifier: MIT
"""Room between parts: to place them, to see their joints, to get them off again."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.knowledge.bodies import Kind
from lineworthy.knowledge.closeness import LEADS_LIMIT, OVERLAP_MIN_MM2, Close, Closeness
from lineworthy.knowledge.wording import counted, listed, mm, sentence
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

_BETWEEN = {
    "small_chip_min_mm": "between small chips",
    "chip_min_mm": "between chips and other small packages",
    "chip_to_package_min_mm": "between a chip and a package",
    "package_min_mm": "between packages",
    "array_min_mm": "round an array",
    "connector_min_mm": "round a connector",
}


@check(
    "spacing/parts-too-close",
    limits=(
        "spacing.small_chip_min_mm",
        "spacing.chip_min_mm",
        "spacing.chip_to_package_min_mm",
        "spacing.package_min_mm",
        "spacing.array_min_mm",
        "spacing.connector_min_mm",
    ),
)
def parts_too_close(closeness: Closeness, sheet: Sheet) -> Answers:
    """Are parts so close that they collide, hide each other's joints, or cannot be replaced one at a time?

    Why it matters: placement machines tilt or push neighbours that stand within their nozzle's tolerance, cameras and
    irons need to see and reach a joint from the side, and a part too close to its neighbour cannot be replaced without
    reflowing both.
    What to do: move the parts apart. Where the density is wanted, agree on it with the factory and put its own numbers
    into the capability sheet.
    Blind spots: measured from body and lands of one part to body and lands of the next on the same face, with the limit
    of the pair of kinds. Overlapping bodies are a query, leads that come up under a part of the other face among
    them, and so is less than half the limit where the drawn courtyards overlap, too; all that is
    merely short of one limit is one note. Bodies are as drawn in the library, a surface part without a drawing
    counts as the hull of its lands, a leaded one as its lands. Height is not looked at: a part under a raised one
    counts as a collision unless it lies under a module on pins, or wholly under a connector, relay, switch or coil.
    Shield cans, heat sinks, antennas, holes, marks, solder jumpers and parts marked do-not-fit are left out.
    Through-hole parts among themselves may touch; connectors may stand side by side.
    Source: common practice; every value comes from the capability sheet, which names its source.
    """
    # joints of leads near surface parts are a matter of how they are soldered: a check of its own
    close = sorted((pair for pair in closeness.pairs if pair.limit != LEADS_LIMIT), key=lambda pair: pair.order)
    groups: dict[tuple[object, ...], list[Close]] = {}
    for pair in close:
        groups.setdefault(_group(pair, sheet), []).append(pair)
    for key, pairs in groups.items():
        yield _judge(pairs, key[0] is Consequence.QUERY, sheet)


CHECKS: tuple[Check, ...] = (parts_too_close,)


def _group(pair: Close, sheet: Sheet) -> tuple[object, ...]:
    """What one decision covers: pairs of the same packages equally close, or all that are a little short of a limit."""
    packages = tuple(sorted((pair.first.part.package, pair.second.part.package)))
    if pair.overlap:
        bigger = max((pair.first, pair.second), key=lambda body: (round(body.facts.body.area, 2), body.order))
        return (Consequence.QUERY, "", bigger.part.uid, bigger.side)
    grave = pair.gap < getattr(sheet.spacing, pair.limit) / 2 and _courtyards_overlap(pair)
    if grave and pair.limit != "connector_min_mm":
        return (Consequence.QUERY, pair.limit, packages, round(pair.gap + 1e-5, 2))
    return (Consequence.NOTE, pair.limit)


def _courtyards_overlap(pair: Close) -> bool:
    """Whether even the library's own clearances run into each other; a missing courtyard does not excuse a part."""
    one = pair.first.part.courtyard.get(pair.first.side)
    other = pair.second.part.courtyard.get(pair.second.side)
    if one is None or other is None:
        return True
    return float(shapely.area(shapely.intersection(one, other))) > OVERLAP_MIN_MM2


def _judge(pairs: Sequence[Close], is_query: bool, sheet: Sheet) -> Finding:
    nearest = pairs[0]
    consequence = Consequence.QUERY if is_query else Consequence.NOTE
    bodies = sorted((body for pair in pairs for body in (pair.first, pair.second)), key=lambda body: body.order)
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
        message = sentence(f"{_label(nearest)} {apart}{_more(pairs)}; {wanted}")
    else:
        message = f"{len(pairs)} pairs, nearest {_label(nearest)} at {mm(nearest.gap)} mm; {wanted}"
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


def _collision(pairs: Sequence[Close]) -> str:
    """Who is in the same place; `pairs` all have one part in common when there is more than one."""
    if len(pairs) == 1:
        return sentence(f"{_label(pairs[0])} overlap by {mm(round(pairs[0].overlap, 2))} mm\u00b2")
    both = [{pair.first.part.reference, pair.second.part.reference} for pair in pairs]
    hub = set.intersection(*both)
    others = listed(set.union(*both) - hub)
    most = max(pair.overlap for pair in pairs)
    return f"{listed(hub)} overlaps {others}, by up to {mm(round(most, 2))} mm\u00b2"


def _more(pairs: Sequence[Close]) -> str:
    return f", as are {counted(len(pairs) - 1, 'more pair')} of the same packages" if len(pairs) > 1 else ""


def _place(pair: Close) -> Place:
    """Halfway between the two bodies."""
    line = shapely.get_coordinates(shapely.shortest_line(pair.first.shape, pair.second.shape))
    x, y = line.mean(axis=0).tolist()
    return Place((x, y), pair.first.side, _label(pair))


def _label(pair: Close) -> str:
    """Both references."""
    leads = [body.part.reference for body in (pair.first, pair.second) if body.kind is Kind.LEADS]
    if leads:
        other = pair.second if pair.first.kind is Kind.LEADS else pair.first
        return f"leads of {leads[0]} and {other.part.reference}"
    return f"{pair.first.part.reference} and {pair.second.part.reference}"
