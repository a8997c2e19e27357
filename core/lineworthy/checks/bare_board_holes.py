# SPDX-License-Identifier: MIT
"""Drilling the bare board: what the drills of the factory can do, and what they must not meet."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import Optional

import shapely

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import TOL_MM, exceeds, falls_short
from lineworthy.knowledge.copper import landed
from lineworthy.knowledge.drilled import Bore, Drilled, NearCopper
from lineworthy.knowledge.gaps import Layer, called, in_order, net_of, part_uid_of
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

DRILL_MIN, DRILL_MAX = "bare-board.drill_min_mm", "bare-board.drill_max_mm"
SLOT_MIN, ASPECT = "bare-board.slot_min_mm", "bare-board.aspect_max_ratio"
LASER_ASPECT = "bare-board.laser_aspect_max_ratio"
APART = "bare-board.hole_to_hole_min_mm"
OUTER_COPPER, INNER_COPPER = "bare-board.hole_to_copper_outer_min_mm", "bare-board.hole_to_copper_inner_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""


# --- sizes -------------------------------------------------------------------------------------------------------


@check("bare-board/drill-not-stated")
def drill_not_stated(drilled: Drilled) -> Answers:
    """Are there holes without a drill size?

    Why it matters: a hole of no size gives a drill file with a tool that does not exist. The factory asks, and nothing
    about these holes, neither ring nor depth, can be reviewed.
    What to do: give the vias and pads their drill, in the editor through the net class or the properties of the item.
    Blind spots: none known; a size below 0.01 mm is taken for none.
    Source: common practice, no source.
    """
    if drilled.unstated:
        bores = sorted(drilled.unstated, key=_order)
        yield drill_not_stated.finding(
            Consequence.QUERY,
            f"{_subject(bores)} without a drill size",
            items=[bore.item for bore in bores],
            places=_places(bores),
        )


@check("bare-board/drill-too-small", limits=(DRILL_MIN,))
def drill_too_small(drilled: Drilled, sheet: Sheet) -> Answers:
    """Are holes smaller than the smallest drill the factory uses in volume?

    Why it matters: fine drills break, wander and are slow; a factory that has them asks a higher price, one that has
    not asks for larger holes.
    What to do: take the next larger drill, and a land that keeps its ring.
    Blind spots: sizes are finished sizes; plated holes are drilled about 0.10 mm larger. Blind vias through one
    dielectric are taken for laser-drilled and left out.
    Source: common practice: 0.30 mm is standard, 0.20 mm the next step of prices, 0.15 mm the last.
    """
    need = sheet.bare_board.drill_min_mm
    small = [b for b in drilled.bores if not b.is_slot and falls_short(b.diameter, need) and not b.lasered]
    yield from _wrong_size(drill_too_small, small, "{} drilled {}; the smallest drill is {} mm", need)


@check("bare-board/drill-too-large", limits=(DRILL_MAX,))
def drill_too_large(drilled: Drilled, sheet: Sheet) -> Answers:
    """Are round holes larger than the largest drill, so that they are milled?

    Why it matters: a milled hole is less round and its size less true than a drilled one, which a press-fit, a bearing
    or a close screw feels.
    What to do: nothing where a tenth of a millimetre does not matter; else say the tolerance in the fabrication notes.
    Blind spots: circles drawn in the outline are milled anyway and are not counted.
    Source: common practice, no source.
    """
    need = sheet.bare_board.drill_max_mm
    large = [bore for bore in drilled.bores if not bore.is_slot and exceeds(bore.diameter, need)]
    yield from _wrong_size(drill_too_large, large, "{} of {}: milled, as the largest drill is {} mm", need)


@check("bare-board/slot-too-narrow", limits=(SLOT_MIN,))
def slot_too_narrow(drilled: Drilled, sheet: Sheet) -> Answers:
    """Are plated slots narrower than the factory makes them?

    Why it matters: a slot is drilled hole beside hole or milled before plating; a thin tool bends towards the hole it
    has just made and breaks. The factory widens the slot or asks.
    What to do: widen the slot, or take round holes where the terminal allows it.
    Blind spots: slots without plating are milled with the outline, see bare-board/cut-out-too-narrow. The length of a
    slot is not looked at.
    Source: common practice, no source.
    """
    need = sheet.bare_board.slot_min_mm
    narrow = [b for b in drilled.bores if b.is_slot and b.plated and falls_short(b.diameter, need)]
    yield from _wrong_size(slot_too_narrow, narrow, "{}, {}; {} mm width needed", need, "plated slot")


def _wrong_size(asked: Check, bores: list[Bore], said: str, need: float, what: str = "hole") -> Answers:
    """One finding about all holes of a wrong size, the worst first; `said` of what they are, their sizes, the limit."""
    if bores:
        is_large = asked is drill_too_large
        bores.sort(key=lambda bore: (round(-bore.diameter if is_large else bore.diameter, 6), *_order(bore)))
        yield asked.finding(
            Consequence.NOTE if is_large else Consequence.QUERY,
            said.format(_subject(bores, what), _sizes(bores), mm(need)),
            items=[bore.item for bore in bores],
            places=_places(bores),
            measured=bores[0].diameter,
            limit=need,
            limit_key=asked.limits[0],
        )


@check("bare-board/hole-too-deep", limits=(ASPECT, LASER_ASPECT, DRILL_MIN))
def hole_too_deep(board: Board, drilled: Drilled, sheet: Sheet) -> Answers:
    """Are plated holes so deep for their width that plating does not reach the middle?

    Why it matters: the bath hardly flows through a deep thin hole, so that the copper in its middle stays thin and
    cracks when the board is heated. Thickness to diameter is what a factory's process is rated by.
    What to do: larger holes, or a thinner board.
    Blind spots: the thickness is the one the board states. Blind holes are measured where the stack-up gives the
    thickness of its layers. Those through one dielectric that are thinner than any drill are taken for lasered: a blind
    pit, into which the bath hardly gets, is plated no deeper than wide; the copper on it is not counted.
    Source: common practice: 8 to 10 to one, 12 to one for advanced processes; 0.75 to 1 for lasered ones.
    """
    limits = sheet.bare_board
    plated = [bore for bore in drilled.bores if bore.plated and bore.is_stated]
    burned = [bore for bore in plated if bore.lasered and falls_short(bore.diameter, limits.drill_min_mm)]
    ids = {id(bore) for bore in burned}
    for key, bores, most in (
        (ASPECT, [bore for bore in plated if id(bore) not in ids], limits.aspect_max_ratio),
        (LASER_ASPECT, burned, limits.laser_aspect_max_ratio),
    ):
        yield from _too_deep(board, bores, key, most)


def _too_deep(board: Board, plated: Sequence[Bore], key: str, need: float) -> Answers:
    lasered = key == LASER_ASPECT
    deep = [
        (depth / bore.diameter, bore)
        for bore in plated
        if (depth := _depth(board, bore, bare=lasered)) is not None and exceeds(depth / bore.diameter, need)
    ]
    if deep:
        deep.sort(key=lambda one: (-round(one[0], 6), *_order(one[1])))
        bores = [bore for _, bore in deep]
        through = mm(_depth(board, bores[0], bare=lasered) or 0.0)
        yield hole_too_deep.finding(
            Consequence.QUERY,
            f"{_subject(bores)} of {_sizes(bores)} through {through} mm: {deep[0][0]:.1f} to 1; {need:g} to 1 allowed"
            + (" in a lasered hole" if lasered else ""),
            items=[bore.item for bore in bores],
            places=_places(bores),
            measured=deep[0][0],
            limit=need,
            unit="",
            limit_key=key,
            detail="lasered" if lasered else "",
        )


def _depth(board: Board, bore: Bore, bare: bool = False) -> Optional[float]:
    """How far a hole goes through the board, mm; None for a blind hole where the stack-up does not tell.

    `bare` leaves copper out, in which a laser begins and ends.
    """
    if bore.first == 0 and bore.last >= len(board.copper_layers) - 1:
        return board.stackup.thickness
    inside, total = False, 0.0
    first, last = board.copper_layers[bore.first], board.copper_layers[bore.last]
    for layer in board.stackup.layers:
        inside = inside or layer.name == first
        counts = inside and not (bare and layer.kind == "copper")
        if counts and layer.thickness is None:
            return None
        total += (layer.thickness or 0.0) if counts else 0.0
        if layer.name == last:
            return total if inside else None
    return None


# --- holes and what lies beside them -----------------------------------------------------------------------------


@check("bare-board/holes-too-close", limits=(APART,))
def holes_too_close(drilled: Drilled, sheet: Sheet) -> Answers:
    """Are holes so near to each other that the wall between them breaks, or do they overlap?

    Why it matters: the wall between two holes cracks in drilling and wicks plating from one to the other. A drill that
    meets an open hole is pushed aside and breaks; the factory asks which of the two is meant.
    What to do: move the holes apart; delete the one that was placed twice; draw a slot where one is meant.
    Blind spots: holes on different layers that share no dielectric, as stacked blind vias, are no pair, and two blind
    vias through one dielectric are taken for lasered, which may stand closer. Rows of three and more bare holes without
    any copper are taken for perforations, which are meant to break. Sizes are finished sizes.
    Source: common practice: 0.25 mm between vias, 0.50 mm between holes of components.
    """
    need = sheet.bare_board.hole_to_hole_min_mm
    groups: dict[str, list[tuple[Bore, Bore, float]]] = defaultdict(list)
    for one, other, width in drilled.pairs_below(need):
        if width <= 0.0 or not _may_be_close(one, other):
            groups[_closeness(one, other, width)].append((one, other, width))
    for kind, pairs in sorted(groups.items()):
        bores = sorted({id(bore.item): bore for pair in pairs for bore in pair[:2]}.values(), key=_order)
        worst = pairs[0][2]
        how = {
            "close": f"{mm(worst)} mm between their walls; {mm(need)} mm needed",
            "overlapping": "overlapping",
            "twice": "drilled twice in the same place",
        }[kind]
        yield holes_too_close.finding(
            Consequence.NOTE if kind == "twice" else Consequence.QUERY,
            f"{_subject(bores)} {how}",
            items=[bore.item for bore in bores],
            places=[Place(_between(one, other), None, _pair_label(one, other, wide)) for one, other, wide in pairs][
                :SHOWN
            ],
            measured=worst if kind == "close" else None,
            limit=need if kind == "close" else None,
            limit_key=APART if kind == "close" else "",
            detail=kind,
        )


def _may_be_close(one: Bore, other: Bore) -> bool:
    """Rows that are meant to break, and lasers, which do not wander."""
    return (one.is_perforation and one.part is other.part) or (one.lasered and other.lasered)


def _closeness(one: Bore, other: Bore, width: float) -> str:
    alike = all(abs(a - b) <= TOL_MM for a, b in zip((*one.at, *one.size), (*other.at, *other.size)))
    if alike and one.plated == other.plated and one.way.equals_exact(other.way, TOL_MM):
        return "twice"
    return "overlapping" if width <= TOL_MM else "close"


def _between(one: Bore, other: Bore) -> tuple[float, float]:
    line = shapely.shortest_line(one.way, other.way)
    middle = line.interpolate(0.5, normalized=True)
    return round(middle.x, 6), round(middle.y, 6)


def _pair_label(one: Bore, other: Bore, width: float) -> str:
    names = " to ".join(sorted((one.name, other.name), key=natural))
    return f"{names}, {mm(width)} mm" if width > TOL_MM else names


@check("bare-board/hole-near-copper", limits=(OUTER_COPPER, INNER_COPPER))
def hole_near_copper(board: Board, sheet: Sheet, drilled: Drilled, copper: Sequence[Layer]) -> Answers:
    """Does copper that is not its own come so near to a hole that a wandering drill meets it?

    Why it matters: drills land up to a tenth of a millimetre off and are larger than the finished hole. On an inner
    layer the plated wall then shorts to the copper beside it, where no test finds it before it is pressed; a bare hole
    tears copper out and leaves burrs that short to the screw in it.
    What to do: widen the clearance of holes in the board rules and fill the pours again; move tracks away.
    Blind spots: the copper of a hole's net is its own, and so is that of its part round a bare hole, as footprints are
    drawn. Copper that touches the land of a hole is a matter of gaps and told there. Blind vias through one dielectric
    are lasered and do not wander. Curves of pours are known within 5 um, and that much is granted. Milled cut-outs are
    edges: see bare-board/copper-near-edge.
    Source: common practice: 0.20 mm on outer, 0.25 mm on inner layers.
    """
    limits = sheet.bare_board
    near = drilled.near_copper(copper, limits.hole_to_copper_outer_min_mm, limits.hole_to_copper_inner_min_mm)
    groups: dict[tuple[str, str, str], list[NearCopper]] = defaultdict(list)
    lands: dict[int, tuple[str, ...]] = {}
    for one in near:
        if not (one.bore.lasered and one.width > 0.0) and not _on_land(board, one, lands):
            where = "inner" if board.side_of(one.layer) is None else "outer"
            how = "near" if one.width > 0.0 else "short" if _is_short(board, one) else "cut"
            groups["plated" if one.bore.plated else "unplated", where, how].append(one)
    for (kind, where, how), some in sorted(groups.items()):
        bores = sorted({id(one.bore.item): one.bore for one in some}.values(), key=_order)
        key = INNER_COPPER if where == "inner" else OUTER_COPPER
        need = float(sheet.value(key))
        worst = some[0]
        nets = listed((net_of(one.owner) or "no net" for one in some), 3)
        layers = listed(one.layer for one in some)
        message = f"{_subject(bores, f'{kind} hole')} through copper of {nets} on {layers}"
        if how == "near":
            gap = f"{mm(worst.width)} mm" if exceeds(worst.width, 0.005) else "less than 0.01 mm"
            message = f"{_subject(bores, f'{kind} hole')}: copper of {nets} down to {gap} from the wall on {layers}"
            message += f"; {mm(need)} mm needed on {where} layers"
        yield hole_near_copper.finding(
            Consequence.HOLD if how == "short" else Consequence.QUERY,
            message,
            items=[*(bore.item for bore in bores), *in_order(one.owner for one in some)],
            places=[Place(one.at, board.side_of(one.layer), _near_label(one)) for one in some[:SHOWN]],
            measured=worst.width,
            limit=need,
            limit_key=key,
            detail=f"{kind} {where} {how}",
        )


def _on_land(board: Board, one: NearCopper, lands: dict[int, tuple[str, ...]]) -> bool:
    """Whether the land round the hole reaches to that copper: too small a gap, and told as one.

    `lands` keeps the layers where vias have one, by identity.
    """
    item = one.bore.item
    if isinstance(item, tuple):
        land = item[1].copper.get(one.layer)
        return land is not None and bool(land.distance(shapely.Point(one.at)) <= TOL_MM)
    if id(item) not in lands:
        lands[id(item)] = landed(board, item)
    if one.layer not in lands[id(item)]:
        return False
    return one.width <= (item.diameter_on(one.layer) - one.bore.diameter) / 2 + TOL_MM


def _is_short(board: Board, one: NearCopper) -> bool:
    """Whether a plated wall joins two nets that both lead somewhere."""
    nets = (one.bore.net, net_of(one.owner))
    same_part = one.bore.part is not None and one.bore.part.uid == part_uid_of(one.owner)
    return one.bore.plated and not same_part and all(len(board.pads_by_net.get(net, ())) > 1 for net in nets)


def _near_label(one: NearCopper) -> str:
    return f"{one.bore.name} to {called(one.owner)}, {mm(one.width)} mm"


# --- words -------------------------------------------------------------------------------------------------------


def _subject(bores: Iterable[Bore], what: str = "hole") -> str:
    """``12 vias``, ``3 holes of J1, J2 and 12 vias``."""
    bores = list(bores)
    parts = [bore.part.reference for bore in bores if bore.part is not None]
    vias = len(bores) - len(parts)
    told = [f"{counted(len(parts), what)} of {listed(parts)}"] if parts else []
    if vias:
        told.append(counted(vias, "via"))
    return " and ".join(told)


def _sizes(bores: Sequence[Bore]) -> str:
    """``0.15 mm (3), 0.18 mm``, in the order given."""
    counts = Counter(" x ".join(mm(side) for side in sorted(set(bore.size))) for bore in bores)
    told = [f"{size} mm ({count})" if len(counts) > 1 else f"{size} mm" for size, count in list(counts.items())[:4]]
    return ", ".join(told) + (f" and {len(counts) - 4} more sizes" if len(counts) > 4 else "")


def _places(bores: Sequence[Bore]) -> list[Place]:
    return [Place(bore.at, None, bore.name) for bore in bores[:SHOWN]]


def _order(bore: Bore) -> tuple[object, ...]:
    if isinstance(bore.item, tuple):
        part, pad = bore.item
        return 0, natural(part.reference), natural(pad.number), part.uid, pad.uid, bore.at
    return 1, natural(bore.net), (), "", bore.item.uid, bore.at


CHECKS = (
    drill_not_stated,
    drill_too_small,
    drill_too_large,
    slot_too_narrow,
    hole_too_deep,
    holes_too_close,
    hole_near_copper,
)
