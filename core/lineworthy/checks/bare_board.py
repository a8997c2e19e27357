# SPDX-License-Identifier: MIT
"""Making the bare board: outline, copper at the edge, rings round holes."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.finding import Consequence, Finding, Place, centre
from lineworthy.geometry import TOL_MM, depth, falls_short, spine, width_and_length
from lineworthy.knowledge.copper import Piece, landed
from lineworthy.knowledge.edge import EdgeCopper, Near, is_land, lands_off
from lineworthy.knowledge.gaps import Layer
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.panelsigns import panel_signs
from lineworthy.knowledge.routing import land_order
from lineworthy.knowledge.wording import counted, listed, mm, natural, pad_name
from lineworthy.model import Board, LayerKind, OutlineFault, Pad, PadRole, PadShape, Part
from lineworthy.registry import Answers, ItemOrPad, check
from lineworthy.shapes import Point
from lineworthy.sheet import Sheet

OUTER, INNER = "bare-board.edge_copper_outer_min_mm", "bare-board.edge_copper_inner_min_mm"
VIA_RING, PAD_RING = "bare-board.via_ring_min_mm", "bare-board.pad_ring_min_mm"
NAMED = 5
"""Parts that a message names."""

CROSSING_MM = 1e-3
"""So near to each other lines cross in one and the same place."""

LEAD_MIN_MM = 0.4
"""No lead goes into a smaller hole: it is a thermal or stitching via drawn as a pad (common practice, no source)."""


# --- outline -----------------------------------------------------------------------------------------------------


@check("bare-board/outline-open")
def outline_open(board: Board) -> Answers:
    """Is the board edge missing, open, crossing itself, branching, drawn twice, in pieces, or mixed with lettering?

    Why it matters: the profile says where to cut and how large the board is. Without closed loops the factory cannot
    tell inside from outside and stops the job before anything is made. Of several boards in one profile it asks whether
    they are one order, and what holds them together while they are built.
    What to do: draw the edge as closed loops on the outline layer, ends exactly on each other; move construction lines
    and notes to another layer; join the boards of a panel by tabs or scores, or give each a document of its own.
    Blind spots: whether a closed shape inside the board is meant as a cut-out is not asked. A cut-out that crosses the
    edge of a board that holds the copper is a query, as both lines are mostly milled; an edge that crosses itself is a
    hold.
    Source: Gerber layer format specification: a profile is mandatory in a fabrication data set; that cut-outs over the
    edge are milled is common practice, no source.
    """
    kinds: dict[str, list[OutlineFault]] = defaultdict(list)
    for fault in board.outline.faults:
        kinds[fault.kind].append(fault)
    # a loop that holds the copper is an edge; stray lines beside it raise a question but do not stop the job
    closed = _holds_copper(board)
    for kind in sorted(kinds):
        faults = kinds[kind]
        gap = max(fault.gap for fault in faults)
        places = [Place(fault.at, None, f"outline {kind}") for fault in faults if fault.at is not None]
        grave = Consequence.QUERY if closed and not _pinched(board, faults) else Consequence.HOLD
        yield outline_open.finding(
            Consequence.NOTE if kind == "doubled" else grave,
            _outline_message(kind, len(faults), gap, closed),
            places=sorted(places, key=lambda place: place.at),
            measured=gap if kind == "open" and gap > 0 else None,
            detail=kind,
        )
    if not kinds and board.outline.area.is_empty:
        yield outline_open.finding(Consequence.HOLD, _outline_message("none", 1, 0.0, False), detail="none")
    yield from _apart(board)
    lettering = [m for m in board.shown_markings if m.layer.kind is LayerKind.OUTLINE and m.text]
    if lettering:
        lettering.sort(key=lambda marking: (marking.text, marking.uid))
        texts = listed(quoted(marking.text) for marking in lettering)
        yield outline_open.finding(
            Consequence.QUERY,
            f"{counted(len(lettering), 'text')} on the outline layer, where every line is cut: {texts}",
            items=lettering,
            places=[Place(marking.at, None, quoted(marking.text)) for marking in lettering],
            detail="lettering",
        )


def _apart(board: Board) -> Iterator[Finding]:
    """Areas inside the edge that nothing holds together; those that only share an edge are one."""
    areas = list(shapely.get_parts(shapely.union_all(shapely.get_parts(board.outline.area))))
    if len(areas) < 2 or not board.outline.is_closed:
        return
    areas.sort(key=lambda area: (-round(area.area, 3), area.bounds))
    spots = shapely.MultiPoint([pad.at for _, pad in board.pads] + [via.at for via in board.vias])
    empty = sum(not area.intersects(spots) for area in areas)
    sizes = [f"{mm(longer)} x {mm(shorter)} mm" for shorter, longer in map(width_and_length, areas)]
    yield outline_open.finding(
        Consequence.QUERY,
        f"The board outline holds {len(areas)} areas that nothing joins: {listed(sizes)}"
        + (f"; {empty} without pads and vias" if 0 < empty < len(areas) else ""),
        places=[Place(centre(area), None, size) for area, size in zip(areas, sizes)],
        detail="apart",
    )


def _outline_message(kind: str, count: int, gap: float, closed: bool) -> str:
    if kind == "doubled":
        return f"{counted(count, 'line')} of the board outline {'is' if count == 1 else 'are'} drawn twice"
    if kind == "open" and closed:
        loose = f", the longest step to another end is {mm(gap)} mm" if gap > 0 else ""
        return f"Lines beside the closed board outline are open at {counted(count, 'place')}{loose}"
    if kind == "open":
        widest = f", widest gap {mm(gap)} mm" if gap > 0 else ""
        return f"The board outline is open at {counted(count, 'place')}{widest}"
    if kind == "crossing":
        return f"The board outline crosses itself at {counted(count, 'place')}"
    if kind == "branch":
        return f"The board outline branches at {counted(count, 'place')}"
    return "The board has no outline"


def _pinched(board: Board, faults: Sequence[OutlineFault]) -> bool:
    """Whether the edge crosses itself: what it encloses hangs together by a point, and either side may be the board.

    Where a cut-out crosses the edge one line goes on, round what is left.
    """
    parts = shapely.get_parts(board.outline.area)
    rings = np.array([ring for part in parts for ring in (part.exterior, *part.interiors)], dtype=object)
    spots = [shapely.Point(fault.at) for fault in faults if fault.kind == "crossing" and fault.at is not None]
    return any(np.count_nonzero(shapely.distance(rings, spot) <= CROSSING_MM) > 1 for spot in spots)


def _holds_copper(board: Board) -> bool:
    """Whether most of what is placed lies inside the closed loops there are."""
    spots = [pad.at for _, pad in board.pads] or [via.at for via in board.vias]
    if board.outline.area.is_empty or not spots:
        return False
    xs, ys = np.array(spots).T
    return bool(np.mean(shapely.intersects_xy(board.outline.area, xs, ys)) > 0.5)


# --- copper at the edge ------------------------------------------------------------------------------------------


@check("bare-board/copper-near-edge", limits=(OUTER, INNER))
def copper_near_edge(board: Board, sheet: Sheet, copper: Sequence[Layer], packages: Packages) -> Answers:
    """Does copper come so near to the board edge or a cut-out that the router may bare or tear it?

    Why it matters: routing wanders by a tenth of a millimetre or two. Copper inside that band is cut, burred or bared
    at the edge, where it corrodes or shorts to what the board is screwed to. Factories ask before they trim it. A land
    off the board is not there when its part is soldered.
    What to do: pull pours, tracks and pads back from the edge; in the editor, set the edge clearance of the board rules
    to the limit of the factory and fill the pours again.
    Blind spots: scored edges need more (see the panel checks). Castellated pads and the bare fingers of edge
    connectors are taken as meant. Unplated holes and slots of parts are not taken for edges. Lands off the board are a
    query on panels, of parts that are not fitted, and where most of the board lies outside of its outline. Lands
    removed on unused inner layers are measured as if they were there. Curved edges and pours are known within 5 um, and
    that much is granted.
    Source: common practice: 0.25 mm outer, 0.40 to 0.50 mm inner for a routed edge.
    """
    if not board.outline.is_closed:
        yield copper_near_edge.not_run("no closed board outline", "Close the outline; see bare-board/outline-open")
        return
    if board.stackup.edge_plated:
        yield copper_near_edge.not_run(
            "no word on which edges are plated; this board says that some are",
            "Look at the copper near the other edges by eye",
        )
        return
    limits = sheet.bare_board
    edge = EdgeCopper(board, copper, limits.edge_copper_outer_min_mm, limits.edge_copper_inner_min_mm)
    lost = _lost(board, packages)
    if lost:
        yield _unsolderable(lost)
    told = {id(pad) for _, pad in lost}
    yield from _pads_near(board, edge, packages, sheet, told)
    yield from _others_near(board, [one for one in edge.near if one.piece.part is None], sheet)
    outside = [piece for piece in edge.outside if not (isinstance(piece.item, tuple) and id(piece.item[1]) in told)]
    if outside:
        yield _outside(outside)


def _lost(board: Board, packages: Packages) -> list[tuple[Part, Pad]]:
    """Lands of parts to be fitted that lie off the board as a whole.

    None on a panel, where the outline may be that of one board only, and none where the outline holds little of what
    is placed.
    """
    lost = [
        (part, pad)
        for part, pad in lands_off(board)
        if part.fitted
        and not part.board_only
        and (part.in_parts_list or part.in_placement)
        and packages.of(part).family is not Family.MECHANICAL
    ]
    lost.sort(key=land_order)
    return lost if lost and _holds_copper(board) and not any(panel_signs(board)) else []


def _unsolderable(lost: Sequence[tuple[Part, Pad]]) -> Finding:
    parts = {part.uid: part for part, _ in lost}
    counts = Counter(part.uid for part, _ in lost)
    told = [
        f"{part.reference}, {counts[uid]} of {counted(sum(is_land(pad) for pad in part.pads), 'land')}"
        for uid, part in parts.items()
    ]
    more = f" and {counted(len(told) - NAMED, 'more part')}" if len(told) > NAMED else ""
    return copper_near_edge.finding(
        Consequence.HOLD,
        f"{'; '.join(told[:NAMED])}{more} off the board, where nothing can be soldered",
        items=list(parts.values()),
        places=[Place(pad.at, part.side, pad_name(part.reference, pad.number)) for part, pad in lost],
        detail="lands off",
    )


def _pads_near(board: Board, copper: EdgeCopper, packages: Packages, sheet: Sheet, told: set[int]) -> Answers:
    """One finding for parts of the same package; `told` are pads that another finding is about."""
    by_part: dict[tuple[str, bool], list[Near]] = defaultdict(list)
    for one in copper.near:
        if one.piece.part is not None and id(one.land[1]) not in told:
            by_part[one.piece.part.uid, id(one.land[1]) in copper.cut_pads].append(one)
    groups: dict[tuple[str, bool, bool, str], list[Near]] = defaultdict(list)
    for (_, is_cut), ones in by_part.items():
        worst = _nearest(ones)
        part = worst.land[0]
        # a chip that lies along the edge, or over it, is not made for it
        meant = not packages.of(part).chip_size and copper.is_edge_mounted(part, ones)
        consequence = Consequence.NOTE if meant else Consequence.QUERY
        groups[part.package or part.reference, is_cut, worst.outer, consequence.value] += ones
    for key in sorted(groups):
        ones = sorted(groups[key], key=_pad_order)
        package = ones[0].land[0].package
        subject = _pads_named(ones) + (f" ({package})" if package else "")
        cut = f"Plated holes of {subject} are cut by the board edge, and nothing says that half holes are wanted"
        yield _near_finding(board, Consequence(key[3]), subject, ones, sheet, instead=cut if key[1] else "")


def _nearest(ones: Sequence[Near]) -> Near:
    return min(ones, key=lambda one: round(one.gap, 6))


def _pad_order(one: Near) -> tuple[object, ...]:
    return land_order(one.land)


def _pads_named(ones: Sequence[Near]) -> str:
    parts = {one.land[0].uid: one.land[0] for one in ones}
    if len(parts) > 1:
        return f"{counted(len(ones), 'pad')} of {listed(part.reference for part in parts.values())}"
    reference = ones[0].land[0].reference
    numbers = {one.land[1].number for one in ones} - {""}
    if not numbers:
        return f"{reference} {counted(len(ones), 'pad')}"
    return f"{reference} pad{'s' if len(numbers) > 1 else ''} {listed(numbers)}"


def _others_near(board: Board, near: Sequence[Near], sheet: Sheet) -> Answers:
    """One finding each for pours, tracks, vias and drawings: the distance is a rule that is set once for the board."""
    groups: dict[tuple[str, bool], list[Near]] = defaultdict(list)
    for one in near:
        groups[one.piece.kind, one.outer].append(one)
    for key in sorted(groups):
        ones = sorted(groups[key], key=lambda one: (natural(one.piece.net), natural(one.piece.layer), one.piece.uid))
        nets = listed(one.piece.net or "no net" for one in ones)
        whose = "without net" if nets == "no net" else f"of {nets}"
        layers = listed(one.piece.layer for one in ones)
        plural = "s" if len(ones) > 1 else ""
        yield _near_finding(board, Consequence.QUERY, f"{key[0].capitalize()}{plural} {whose} on {layers}", ones, sheet)


def _near_finding(
    board: Board, consequence: Consequence, subject: str, ones: Sequence[Near], sheet: Sheet, *, instead: str = ""
) -> Finding:
    worst = _nearest(ones)
    key, layers = (OUTER, "outer") if worst.outer else (INNER, "inner")
    need = float(sheet.value(key))
    differ = len({_about(one.gap) for one in ones}) > 1
    how = f"{'down to ' if differ else ''}{mm(worst.gap)} mm from the board edge"
    if worst.gap <= 0.0:
        how = f"{'some ' if differ else ''}at or over the board edge"
    return copper_near_edge.finding(
        consequence,
        instead or f"{subject}: {how}; {mm(need)} mm needed on {layers} layers",
        items=[one.piece.item for one in ones],
        places=list(dict.fromkeys(_place(board, one) for one in ones)),
        measured=worst.gap,
        limit=need,
        limit_key=key,
        detail=f"{worst.piece.kind} {layers}",
    )


def _place(board: Board, one: Near) -> Place:
    """Where some copper is too near; tracks that meet there give the same place."""
    x, y = (round(c, 4) for c in one.at)
    return Place((x, y), board.side_of(one.piece.layer), f"{_label(one.piece)}, {mm(one.gap)} mm")


def _about(gap: float) -> str:
    """A gap for comparing: what differs by a few micrometres is the same."""
    return f"{round(round(gap, 6), 2):.2f}"


def _label(piece: Piece) -> str:
    if isinstance(piece.item, tuple):
        part, pad = piece.item
        return pad_name(part.reference, pad.number)
    return f"{piece.kind} {piece.net or 'without net'} on {piece.layer}"


def _outside(off: Sequence[Piece]) -> Finding:
    """Everything beyond the edge is one question: does it belong to this board?"""
    parts = {piece.part.uid: piece.part for piece in off if piece.part is not None}
    others = {id(piece.item): piece for piece in off if piece.part is None}
    kinds = Counter(piece.kind for piece in others.values())
    names = [counted(len(parts), "part") + f" ({listed(p.reference for p in parts.values())})"] if parts else []
    names += [counted(kinds[kind], kind) for kind in ("track", "via", "pour", "drawing") if kinds[kind]]
    shown = sorted(parts.values(), key=lambda part: (natural(part.reference), part.uid))
    loose = sorted(others.values(), key=lambda piece: (piece.kind, piece.uid, piece.layer))
    return copper_near_edge.finding(
        Consequence.QUERY,
        f"Copper lies outside of the board edge: {', '.join(names)}",
        items=[*shown, *(piece.item for piece in loose)],
        places=[Place(part.at, part.side, part.reference) for part in shown]
        or [Place(centre(piece.shape), None, _label(piece)) for piece in loose[:1]],
        detail="outside",
    )


# --- rings -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Ring:
    """The narrowest copper round one plated hole; `width` is negative where the hole leaves the copper."""

    item: ItemOrPad
    at: Point
    width: float
    layer: str
    label: str
    form: str
    limit_key: str


@check("bare-board/ring-too-thin", limits=(VIA_RING, PAD_RING))
def ring_too_thin(board: Board, sheet: Sheet) -> Answers:
    """Is enough copper left round each plated hole to hold it when the drill wanders?

    Why it matters: drills land up to a tenth of a millimetre off. A ring thinner than that breaks open: at best the
    joint is weaker, at worst the track that ends there is cut off.
    What to do: enlarge the land or take the next smaller drill; keep what the lead needs.
    Blind spots: drill sizes are taken as finished holes, and the factory drills larger. Laser-drilled vias are measured
    with the same limit, and so are pads whose hole is too small for a lead. Copper of a track or pour that covers the
    hole is not added to its ring. Castellated and unplated holes are left out.
    Source: common practice: 0.10 mm for vias, 0.15 mm for part holes, as designed; from memory: IPC-2221 table 9-2 asks
    for 0.05 mm outside and 0.025 mm inside on the finished board, to which the allowance for drilling comes.
    """
    groups: dict[tuple[str, str, str], list[Ring]] = defaultdict(list)
    for ring in (*_via_rings(board, sheet), *_pad_rings(board, sheet)):
        what = (ring.item[0].package or ring.item[0].reference) if isinstance(ring.item, tuple) else ""
        groups[ring.limit_key, f"{what}: {ring.form}", mm(ring.width)].append(ring)
    for key in sorted(groups):
        yield _ring_finding(board, groups[key], sheet)


def _via_rings(board: Board, sheet: Sheet) -> Iterator[Ring]:
    for via in board.vias:
        layers = landed(board, via)
        if not layers:
            continue
        diameter, layer = min((via.diameter_on(name), n) for n, name in enumerate(layers))
        width = (diameter - via.drill) / 2
        if falls_short(width, sheet.bare_board.via_ring_min_mm):
            form = f"{mm(diameter)} mm land with {mm(via.drill)} mm hole"
            yield Ring(via, via.at, width, layers[layer], f"via {via.net}".strip(), form, VIA_RING)


def _pad_rings(board: Board, sheet: Sheet) -> Iterator[Ring]:
    rows = []
    for part, pad in board.pads:
        if pad.hole is not None and pad.hole.plated and pad.role is not PadRole.CASTELLATED:
            by_shape: dict[int, list[str]] = defaultdict(list)
            for layer, shape in pad.copper.items():
                by_shape[id(shape)].append(layer)
            rows += [(part, pad, pad.hole, spine(pad.hole), layers) for layers in by_shape.values()]
    ways = np.array([row[3] for row in rows], dtype=object)
    lands = np.array([row[1].copper[row[4][0]] for row in rows], dtype=object)
    diameters = np.array([row[2].diameter for row in rows])
    limits = sheet.bare_board
    needs = np.where(diameters < LEAD_MIN_MM, limits.via_ring_min_mm, limits.pad_ring_min_mm)
    inside = shapely.distance(ways, shapely.boundary(lands)) - diameters / 2
    # chords lie inside of their arcs, so this quick measure errs on the small side only
    worst: dict[int, Ring] = {}
    for n in np.flatnonzero((inside < needs - TOL_MM) | ~shapely.covers(lands, ways)):
        part, pad, hole, way, layers = rows[n]
        inmost, first = min((_depth_on(layer, part, pad, way), n) for n, layer in enumerate(layers))
        width = inmost - hole.diameter / 2
        if falls_short(width, needs[n]) and (id(pad) not in worst or width < worst[id(pad)].width):
            label = pad_name(part.reference, pad.number)
            drill = " x ".join(mm(side) for side in sorted(set(hole.size)))
            layer = layers[first]
            form = f"{_land(pad, layer)} with {drill} mm hole"
            key = VIA_RING if hole.diameter < LEAD_MIN_MM else PAD_RING
            worst[id(pad)] = Ring((part, pad), pad.at, width, layer, label, form, key)
    yield from worst.values()


def _depth_on(layer: str, part: Part, pad: Pad, way: BaseGeometry) -> float:
    """How deep a hole lies in the copper of its pad and of other pads of the same pin."""
    own = pad.copper[layer]
    same = [
        other.copper[layer]
        for other in part.pads
        if other is not pad and other.number == pad.number and other.net == pad.net and layer in other.copper
    ]
    joined = shapely.get_parts(shapely.union_all([own, *same])) if same else ()
    return max(depth(way, piece) for piece in (*shapely.get_parts(own), *joined))


def _land(pad: Pad, layer: str) -> str:
    """A land in words; the size of a custom shape says little about it, and so does one size of a stack of several."""
    if len({round(shape.area, 4) for shape in pad.copper.values()}) > 1:
        return f"land on {layer}"
    if pad.shape is PadShape.CUSTOM:
        return "custom land"
    return " x ".join(mm(side) for side in sorted(set(pad.size))) + " mm land"


def _ring_finding(board: Board, rings: Sequence[Ring], sheet: Sheet) -> Finding:
    rings = sorted(rings, key=_ring_order)
    worst = min(rings, key=lambda ring: round(ring.width, 6))
    need = float(sheet.value(worst.limit_key))
    width = f"ring {mm(worst.width)} mm" if worst.width > 0.0 else "the hole leaves its copper"
    owners = [ring.item[0] for ring in rings if isinstance(ring.item, tuple)]
    if not owners:
        subject = f"{counted(len(rings), 'via')}, {worst.form}"
    else:
        package = f" ({owners[0].package})" if owners[0].package else ""
        parts = listed(part.reference for part in owners)
        subject = f"{counted(len(rings), 'pad')} of {parts}{package}, {worst.form}"
    return ring_too_thin.finding(
        Consequence.QUERY,
        f"{subject}: {width}; {mm(need)} mm needed",
        items=[ring.item for ring in rings],
        places=[Place(ring.at, board.side_of(ring.layer), ring.label) for ring in rings],
        measured=worst.width,
        limit=need,
        limit_key=worst.limit_key,
        detail=f"{owners[0].package or owners[0].reference}: {worst.form}" if owners else worst.form,
    )


def _ring_order(ring: Ring) -> tuple[object, ...]:
    if isinstance(ring.item, tuple):
        return land_order(ring.item)
    return natural(ring.label), getattr(ring.item, "uid", "")


CHECKS = (outline_open, copper_near_edge, ring_too_thin)
