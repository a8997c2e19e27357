# SPDX-License-Identifier: MIT
"""What the bare board is made of: stack-up, copper and finish, stated and without contradiction."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from lineworthy.finding import Consequence, Place, places_of
from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge.drilled import Drilled
from lineworthy.knowledge.gaps import Layer, gaps_below, in_order, net_of
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, PadKind, PadRole, Part, StackLayer
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

THICK, THICK_TRACK = "bare-board.thick_copper_mm", "bare-board.thick_copper_track_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

COPPER = "copper"
DIELECTRICS = ("core", "prepreg", "dielectric")

COUNTED_TWICE_MM = 0.05
"""Thickness and sum of the layers may differ so much: some count the mask and some do not."""

LIKE_RATIO = 0.1
"""Layers of a pair that differ by no more than a tenth count as alike: the usual tolerance of a laminate."""

FINGERS_MIN_COUNT = 4
FINGER_TO_EDGE_MM = 1.5
"""A row of so many contact lands, no farther than this from the edge, is plugged into a connector."""

_UNDECIDED = ("", "none", "user defined")
_NOTED = re.compile(r"\b(enig|enepig|hasl|hal|osp|immersion|hard gold|finish)\b", re.IGNORECASE)
_INSIDE = re.compile(r"blind|buried|micro-?\s?via|\blaser|\bhdi\b|sequential|any-?\s?layer", re.IGNORECASE)
_HALVES = re.compile(r"castell|half[ -]?holes?|half[ -]?vias?|half[ -]cut|plated half", re.IGNORECASE)
_GOLD = re.compile(r"gold|enig|enepig|\bau\b", re.IGNORECASE)


# --- stated ------------------------------------------------------------------------------------------------------


@check("bare-board/build-not-stated")
def build_not_stated(board: Board) -> Answers:
    """Does the board leave open what it is made of: its layers, their materials, its finish?

    Why it matters: what is not said is decided by an order form or by the factory's habit. The next batch, or the next
    factory, then makes another board: other impedances, another finish under the fine-pitch parts.
    What to do: fill in the physical stack-up and the finish in the board set-up, or write them into the fabrication
    notes on the board.
    Blind spots: notes in other files are not read. Any text on the board that speaks of a finish is taken for it.
    Source: common practice, no source.
    """
    open_ = list(_left_open(board))
    if open_:
        yield build_not_stated.finding(
            Consequence.NOTE,
            f"The board does not state {' and '.join(filter(None, [', '.join(open_[:-1]), open_[-1]]))}",
            detail=", ".join(open_),
        )


def _left_open(board: Board) -> Iterator[str]:
    stack = board.stackup
    if not stack.layers:
        yield "its layers"
    else:
        if any(layer.thickness is None or layer.thickness <= 0 for layer in _of_kind(board, COPPER)):
            yield "the thickness of its copper"
        if any(layer.thickness is None or layer.thickness <= 0 for layer in _of_kind(board, *DIELECTRICS)):
            yield "the thickness of its dielectrics"
        if any(not layer.material for layer in _of_kind(board, *DIELECTRICS)):
            yield "the material of its dielectrics"
    noted = any(_NOTED.search(marking.text) for marking in board.shown_markings)
    if not _finish(board) and not noted:
        yield "its finish"


def _finish(board: Board) -> str:
    finish = board.stackup.finish.strip()
    return "" if finish.lower() in _UNDECIDED else finish


def _of_kind(board: Board, *kinds: str) -> list[StackLayer]:
    return [layer for layer in board.stackup.layers if layer.kind in kinds]


@check("bare-board/process-unstated")
def process_unstated(board: Board, drilled: Drilled) -> Answers:
    """Does the board need a process that nothing on it speaks of: vias that end inside of it, half holes at its edge?

    Why it matters: blind and buried vias are drilled and plated before all layers are pressed together, each pair of
    layers in a round through the factory of its own. Half holes are milled in a step of their own, or they tear. Both
    change price and time; where no note speaks of them, or one was set by a slip, the factory asks first.
    What to do: make them through vias where nothing stands in the way; else name the pairs of layers, and how they are
    filled, in the fabrication notes on the board. Say that the board has castellated pads in its set-up or in a note.
    Blind spots: any text on the board or comment in its title block with the words is taken for the note. Whether the
    pairs of layers can be pressed in some order is not asked. Half holes are pads marked as castellated; for others
    see bare-board/copper-near-edge.
    Source: common practice, no source.
    """
    texts = "\n".join([*(marking.text for marking in board.shown_markings), *board.title.comments])
    last = len(board.copper_layers) - 1
    inside = [bore for bore in drilled.bores if bore.via is not None and (bore.first > 0 or bore.last < last)]
    if inside and not _INSIDE.search(texts):
        inside.sort(key=lambda bore: (bore.first, bore.last, natural(bore.name), bore.at))
        spans = Counter(f"{board.copper_layers[bore.first]} to {board.copper_layers[bore.last]}" for bore in inside)
        yield process_unstated.finding(
            Consequence.QUERY,
            f"{counted(len(inside), 'via')} of {len(board.vias)} end inside of the board, and no note speaks of blind"
            f" or buried vias: {', '.join(f'{span} ({count})' for span, count in spans.items())}",
            items=[bore.item for bore in inside],
            places=[Place(bore.at, None, bore.name) for bore in inside[:SHOWN]],
            detail="inside",
        )
    halves = [item for item in board.pads if item[1].role is PadRole.CASTELLATED]
    if halves and not board.stackup.castellated and not _HALVES.search(texts):
        parts = listed(part.reference for part, _ in halves)
        yield process_unstated.finding(
            Consequence.NOTE,
            f"{counted(len(halves), 'pad')} of {parts} marked as castellated, and neither set-up nor notes speak of it",
            items=halves,
            places=[Place(pad.at, None, f"{part.reference} pad {pad.number}") for part, pad in halves[:SHOWN]],
            detail="halves",
        )


@check("bare-board/stackup-contradictory")
def stackup_contradictory(board: Board) -> Answers:
    """Does the stack-up contradict the board: another thickness, other copper layers, copper upon copper?

    Why it matters: the factory builds what is written in one place and is asked about the other, or builds the wrong
    one of the two.
    What to do: make the stack-up in the board set-up agree with the thickness and the layers of the board.
    Blind spots: the layers may sum up to 0.05 mm more or less than the thickness, because some count the mask and some
    do not. Tolerances of laminates are not considered.
    Source: common practice, no source.
    """
    said = list(_contradictions(board))
    if said:
        yield stackup_contradictory.finding(
            Consequence.QUERY, f"The stack-up contradicts the board: {'; '.join(said)}", detail="; ".join(said)
        )


def _contradictions(board: Board) -> Iterator[str]:
    stack = board.stackup
    if stack.thickness <= 0:
        yield f"a board {mm(stack.thickness)} mm thick"
    if not stack.layers:
        return
    names = [layer.name for layer in _of_kind(board, COPPER)]
    if tuple(names) != board.copper_layers:
        missing = [name for name in board.copper_layers if name not in names]
        if len(names) != len(board.copper_layers):
            yield f"{len(names)} copper layers of {len(board.copper_layers)}"
        elif missing:
            yield f"no copper layer {listed(missing)}"
        else:
            yield f"copper layers in the order {', '.join(names)}"
    built = [layer for layer in stack.layers if layer.kind in (COPPER, *DIELECTRICS)]
    for above, below in zip(built, built[1:]):
        if above.kind == below.kind == COPPER:
            yield f"nothing between {above.name} and {below.name}"
    if all(layer.thickness is not None and layer.thickness > 0 for layer in built):
        total = sum(layer.thickness or 0.0 for layer in stack.layers)
        if exceeds(abs(total - stack.thickness), COUNTED_TWICE_MM):
            yield f"layers of {mm(total)} mm in all make a board {mm(stack.thickness)} mm thick"


@check("bare-board/stackup-asymmetric")
def stackup_asymmetric(board: Board) -> Answers:
    """Is the stack-up built unlike above and below its middle, so that the board warps when it is pressed and soldered?

    Why it matters: layers shrink and swell with heat by different amounts. What does not mirror about the middle bends
    the board as it cools, and the parts' solder paste is then printed on a bow.
    What to do: pair the layers from the outside in: the same copper thickness, the same dielectric.
    Blind spots: differences up to a tenth are taken for alike. Materials are compared by the words that name them.
    Source: common practice, no source.
    """
    built = [layer for layer in board.stackup.layers if layer.kind in (COPPER, *DIELECTRICS)]
    unlike = [
        f"{above.name} {_described(above)} against {below.name} {_described(below)}"
        for above, below in zip(built[: len(built) // 2], reversed(built))
        if not _alike(above, below)
    ]
    if unlike:
        yield stackup_asymmetric.finding(
            Consequence.NOTE,
            f"The stack-up does not mirror about its middle: {'; '.join(unlike[:3])}"
            + (f" and {len(unlike) - 3} more pairs" if len(unlike) > 3 else ""),
            detail="; ".join(unlike),
        )


def _alike(above: StackLayer, below: StackLayer) -> bool:
    if (above.kind == COPPER) is not (below.kind == COPPER):
        return False
    if above.material and below.material and above.material != below.material:
        return False
    one, other = above.thickness, below.thickness
    return one is None or other is None or abs(one - other) <= LIKE_RATIO * max(one, other) + 1e-9


def _described(layer: StackLayer) -> str:
    thickness = f"{mm(layer.thickness)} mm" if layer.thickness is not None else "of unknown thickness"
    return f"{thickness} {quoted(layer.material)}" if layer.material else thickness


# --- thick copper ------------------------------------------------------------------------------------------------


@check("bare-board/copper-too-thick", limits=(THICK, THICK_TRACK))
def copper_too_thick(board: Board, sheet: Sheet, copper: Sequence[Layer]) -> Answers:
    """Is the copper thicker than tracks and gaps as fine as these can be etched from?

    Why it matters: the deeper the etch, the more it eats sideways. Copper of twice the usual weight wants wider tracks
    and gaps; the factory asks which of the two is meant.
    What to do: widen tracks and gaps on these layers, or put the currents on a layer of their own.
    Blind spots: asked where the stack-up states the thickness. Outer copper is stated before or after plating, which
    nobody writes down.
    Source: common practice: 0.20 mm for copper of 70 um, 0.25 to 0.30 mm for 105 um.
    """
    limits = sheet.bare_board
    thick = {
        layer.name: layer.thickness
        for layer in _of_kind(board, COPPER)
        if layer.thickness is not None and not falls_short(layer.thickness, limits.thick_copper_mm)
    }
    need = limits.thick_copper_track_min_mm
    for layer in copper:
        if layer.name not in thick:
            continue
        tracks = [one for one in board.tracks if one.layer == layer.name and falls_short(one.width, need)]
        gaps = [gap for gap in gaps_below(layer, need) if net_of(gap.one) and net_of(gap.other)]
        widths = [one.width for one in tracks] + [gap.width for gap in gaps]
        if widths:
            told = [counted(len(tracks), "track")] if tracks else []
            told += [counted(len(gaps), "gap")] if gaps else []
            yield copper_too_thick.finding(
                Consequence.QUERY,
                f"{layer.name} is {mm(thick[layer.name] or 0.0)} mm thick and has {' and '.join(told)}"
                f" down to {mm(min(widths))} mm; {mm(need)} mm needed for {mm(limits.thick_copper_mm)} mm and more",
                items=in_order([*tracks, *(owner for gap in gaps for owner in (gap.one, gap.other))]),
                places=[Place(gap.at, board.side_of(layer.name), f"gap, {mm(gap.width)} mm") for gap in gaps[:SHOWN]],
                measured=min(widths),
                limit=need,
                limit_key=THICK_TRACK,
                detail=layer.name,
            )


# --- contacts at the edge ----------------------------------------------------------------------------------------


@check("bare-board/finger-finish")
def finger_finish(board: Board) -> Answers:
    """Do contacts at the board edge have a finish that stands plugging?

    Why it matters: solder and organic finishes wear off and fret in a connector; contacts then open within some dozen
    matings. Fingers are plated with hard gold over nickel, which is a step of its own that the factory has to know of.
    What to do: state hard gold for the fingers and their bevel in the fabrication notes; a thin gold finish of the
    whole board serves few matings.
    Blind spots: contacts are told by the pads' kind, four and more of a part near the edge. A board that states a gold
    finish passes, whatever its thickness.
    Source: from memory: IPC-6012 table of finishes, hard gold on edge connectors.
    """
    fingers = _with_fingers(board)
    finish = _finish(board)
    noted = any(_GOLD.search(marking.text) for marking in board.shown_markings)
    if not fingers or _GOLD.search(finish) or noted:
        return
    names = listed(part.reference for part in fingers)
    stated = f"the board states {quoted(finish)}" if finish else "the board states no finish"
    yield finger_finish.finding(
        Consequence.QUERY if finish else Consequence.NOTE,
        f"{names}: contacts at the board edge want hard gold, and {stated}",
        items=fingers,
        places=places_of(fingers),
    )


def _with_fingers(board: Board) -> Sequence[Part]:
    if board.outline.area.is_empty:
        return ()
    edge = board.outline.edge
    found = []
    for part in board.parts:
        lands = [shape for pad in part.pads if pad.kind is PadKind.CONNECTOR for shape in pad.copper.values()]
        if len(lands) >= FINGERS_MIN_COUNT:
            near = shapely.distance(np.array(lands, dtype=object), edge) <= FINGER_TO_EDGE_MM
            if near.sum() >= FINGERS_MIN_COUNT:
                found.append(part)
    return sorted(found, key=lambda part: (natural(part.reference), part.uid))


CHECKS = (
    build_not_stated,
    process_unstated,
    stackup_contradictory,
    stackup_asymmetric,
    copper_too_thick,
    finger_finish,
)
