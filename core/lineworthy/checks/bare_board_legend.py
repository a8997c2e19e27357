# SPDX-License-Identifier: MIT
"""The legend: ink where solder goes, lines too fine to print, print beyond the edge.

What names the board, and references that cannot be read, are matters of the identity checks and not told twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple, Optional, Union

import numpy as np
import numpy.typing as npt
import shapely

from lineworthy.finding import Consequence, Place, centre
from lineworthy.geometry import falls_short, objects
from lineworthy.knowledge.gaps import called
from lineworthy.knowledge.legible import ink
from lineworthy.knowledge.mask import Mask, OpeningOwner
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.references import CUT_MIN
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, Graphic, LayerKind, Marking, MarkingRole, Side
from lineworthy.registry import Answers, check
from lineworthy.shapes import Area, Point, polygonal
from lineworthy.sheet import Sheet

LINE, HEIGHT = "bare-board.legend_line_min_mm", "identity.text_height_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

INK_MIN_MM2 = 0.05
"""Less ink on a land is the end of a line or its edge, within the aim of the print of 0.1 mm."""

LOST_MIN = 0.1
"""Share of a text from which letters are hurt: what is compared is the box round them."""

BOX_LOST_MIN = 0.25
"""The same for a filled box that letters are left out of."""

ASIDE_MM = 50.0
"""What is drawn farther from the board than this is a note on the page, and no part of what is printed."""

ROOM_ROUND_BOX = 0.17
"""Share of a text's height that its text box is larger all round than the filled box the letters are left out of."""

Print = Union[Marking, Graphic]


@check("bare-board/legend-on-land")
def legend_on_land(board: Board, mask: Mask, printed: Printed, packages: Packages) -> Answers:
    """Does the legend print on lands that are to be soldered?

    Why it matters: ink on a land keeps solder off. The factory cuts the legend away there, mostly without asking: an
    outline gets gaps, a word loses letters, and where it is forgotten, joints fail.
    What to do: move texts off the lands; in drawn outlines of parts leave the lands free by 0.2 mm.
    Blind spots: of texts the boxes of their lines are compared, and counted from a tenth of their area on. References
    that lose more than can be read are told in identity/reference-covered, the board's own number and revision in
    identity/marking-clipped. Ink in an opening beside its land is not measured, nor is ink on what holds a screw.
    Source: IPC-A-600 and IPC-6012 (marking on lands), from memory; most assemblers do not allow it, common practice.
    """
    named = {id(item.marking) for item in printed.identity}
    for side in Side:
        owners, lands = _soldered(board, mask, packages, side)
        for kind, items in _printed(board, side):
            found = _over(items, lands)
            hurt = [inked for inked in found if not _is_told(inked.item, inked.share, named)]
            if hurt:
                hurt.sort(key=lambda inked: inked.item.uid)
                yield legend_on_land.finding(
                    Consequence.NOTE,
                    f"{_counted(kind, len(hurt))}{_of(board, kind, hurt)} on the {side.value}"
                    f" print{'s' if len(hurt) == 1 else ''} on lands that get soldered"
                    + _which(board, kind, [inked.item for inked in hurt]),
                    items=[inked.item for inked in hurt],
                    places=[
                        Place(inked.at, side, f"{_label(inked.item)} on {called(owners[inked.land])}")
                        for inked in hurt[:SHOWN]
                    ],
                    detail=f"{side.value} {kind}",
                )


def _soldered(
    board: Board, mask: Mask, packages: Packages, side: Side
) -> tuple[list[OpeningOwner], npt.NDArray[np.object_]]:
    """The lands of a side that get solder, as far as the mask bares them; a screw's hole is none."""
    openings, layer = mask.openings(side), board.copper_on(side)
    rows = []
    for n in mask.soldered(side).tolist():
        owner = openings.owners[n]
        if not isinstance(owner, tuple) or layer not in owner[1].copper:
            continue
        part, pad = owner
        if side in pad.paste or packages.of(part).family is not Family.MECHANICAL:
            rows.append((owner, openings.shapes[n], pad.copper[layer]))
    # an opening without a margin is the land itself
    bare = [opening if opening is copper else opening.intersection(copper) for _, opening, copper in rows]
    return [owner for owner, _, _ in rows], objects(bare)


def _printed(board: Board, side: Side) -> Iterable[tuple[str, Sequence[Print]]]:
    """What is printed on a side, by kind."""
    texts = [m for m in board.markings if _is_legend(m, side) and not m.hidden and m.text.strip()]
    yield "reference", [text for text in texts if text.role is MarkingRole.REFERENCE]
    yield "text", [text for text in texts if text.role is not MarkingRole.REFERENCE]
    yield "drawing", [graphic for graphic in board.graphics if _is_legend(graphic, side)]


def _is_legend(item: Print, side: Side) -> bool:
    return item.layer.kind is LayerKind.LEGEND and item.layer.side is side


class _OnLand(NamedTuple):
    """Something printed, the share of it on lands, the land that has most of it, and a point of it there."""

    item: Print
    share: float
    land: int
    at: Point


def _over(items: Sequence[Print], wet: npt.NDArray[np.object_]) -> list[_OnLand]:
    """What of `items` lies on `wet` lands to an extent that counts."""
    shapes = _boxes(items)
    j, i = shapely.STRtree(shapes).query(wet, predicate="intersects")
    for n in np.unique(i).tolist():
        shapes[n] = _inked(items[n])
    taken = shapely.intersection(wet[j], shapes[i])
    areas = shapely.area(taken)
    lost = np.bincount(i, areas, minlength=len(items))
    share = lost / np.maximum(shapely.area(shapes), 1e-9)
    # of each item the place where it takes most
    most = {int(i[n]): n for n in np.argsort(np.round(areas, 6), kind="stable").tolist()}
    return [
        _OnLand(items[n], float(share[n]), int(j[most[n]]), centre(taken[most[n]]))
        for n in np.flatnonzero(lost > INK_MIN_MM2).tolist()
        if _is_solid(items[n]) or share[n] >= LOST_MIN
    ]


def _boxes(items: Sequence[Print]) -> npt.NDArray[np.object_]:
    return objects(item.extents if isinstance(item, Marking) else item.shape for item in items)


def _is_solid(item: Print) -> bool:
    """Whether there is ink all over its shape: drawings, and boxes that letters are left out of."""
    return isinstance(item, Graphic) or item.knockout


def _inked(item: Print) -> Area:
    if isinstance(item, Graphic):
        return item.shape
    if not item.knockout:
        return ink(item)
    # the filled box is smaller than the editor's text box, as measured on renderings
    room = ROOM_ROUND_BOX * item.height + item.stroke / 2
    box = item.extents.buffer(-room, join_style="mitre")
    return item.extents if box.is_empty else polygonal(box)


def _is_told(item: Print, share: float, named: set[int]) -> bool:
    """Whether an identity check is about it."""
    if id(item) in named:
        return True
    return isinstance(item, Marking) and item.role is MarkingRole.REFERENCE and share >= CUT_MIN


def _of(board: Board, kind: str, hurt: Iterable[_OnLand]) -> str:
    """Whose the lines are, as far as parts draw them."""
    names = _parts_named(board, (inked.item for inked in hurt))
    return f" of {listed(names)}" if kind == "drawing" and names else ""


def _which(board: Board, kind: str, items: Sequence[Print]) -> str:
    """Which texts; empty for lines."""
    if kind == "text":
        return f": {listed((quoted(item.text) for item in items if isinstance(item, Marking)), 5)}"
    names = _parts_named(board, items)
    return f": {listed(names)}" if kind == "reference" and names else ""


def _parts_named(board: Board, items: Iterable[Print]) -> set[str]:
    return {board.part_by_uid[item.part_uid].reference for item in items if item.part_uid in board.part_by_uid} - {""}


def _counted(kind: str, count: int) -> str:
    return counted(count, {"reference": "reference", "text": "text", "drawing": "drawn line"}[kind])


def _places(items: Iterable[Print]) -> list[Place]:
    return [Place(centre(_inked(item)), item.layer.side, _label(item)) for item in list(items)[:SHOWN]]


def _label(item: Print) -> str:
    return quoted(item.text) if isinstance(item, Marking) else "drawn line"


# --- strokes -------------------------------------------------------------------------------------------------------


@check("bare-board/legend-too-fine", limits=(LINE, HEIGHT))
def legend_too_fine(board: Board, sheet: Sheet, printed: Printed) -> Answers:
    """Are lines and letters of the legend finer than the print holds?

    Why it matters: thin lines of ink break up or do not stick; low letters fill in. Nobody stops a job for it, but
    references and polarity marks are gone when somebody needs them.
    What to do: draw with a pen of 0.12 to 0.15 mm, letters 1.0 mm high; or ask for direct legend printing, and put its
    limit into the sheet.
    Blind spots: the pen is measured, not how narrow filled drawings get. Which way the legend is printed is not known.
    The board's own number and revision are told in identity/marking-too-fine.
    Source: common practice, no source: 0.8 mm high, 0.10 to 0.12 mm pen for ink-jet print.
    """
    named = {id(item.marking) for item in printed.identity}
    everything = [
        item for side in Side for _, items in _printed(board, side) for item in items if id(item) not in named
    ]
    texts = [item for item in everything if isinstance(item, Marking)]
    lines = [item for item in everything if isinstance(item, Graphic)]
    low = {id(item) for item in texts if falls_short(item.height, float(sheet.value(HEIGHT)))}
    thin = [(item, item.stroke) for item in texts if id(item) not in low]
    for key, what, sizes in (
        (LINE, "drawn line", [(item, item.pen) for item in lines]),
        (LINE, "text", thin),
        (HEIGHT, "text", [(item, item.height) for item in texts]),
    ):
        yield from _too_fine(what, sizes, key, float(sheet.value(key)))


def _too_fine(what: str, sizes: Iterable[tuple[Print, Optional[float]]], key: str, need: float) -> Answers:
    small = [(item, size) for item, size in sizes if size is not None and falls_short(size, need)]
    if small:
        small.sort(key=lambda pair: (round(pair[1], 6), pair[0].layer.name, pair[0].uid))
        where = listed(item.layer.name for item, _ in small)
        down = ("down to " if len(small) > 1 else "") + mm(small[0][1])
        size = f"{down} mm high" if key == HEIGHT else f"with a pen of {down} mm"
        yield legend_too_fine.finding(
            Consequence.NOTE,
            f"{counted(len(small), what)} on {where} {size}; {mm(need)} mm needed",
            items=[item for item, _ in small],
            places=_places(item for item, _ in small),
            measured=small[0][1],
            limit=need,
            limit_key=key,
            detail=f"{what} {key}",
        )


# --- edge ----------------------------------------------------------------------------------------------------------


@check("bare-board/legend-off-board")
def legend_off_board(board: Board, printed: Printed) -> Answers:
    """Does the legend print beyond the edge of the board?

    Why it matters: what lies beyond the edge is cut away: half a word is left, or a note somebody counted on is not on
    the board at all. In a panel it may print on the neighbour or the rail.
    What to do: move it onto the board; put drawings and tables for people on a layer that is not made.
    Blind spots: outlines of parts are left out: those of connectors reach over the edge on purpose, and parts
    beside the board are not placed yet. So is what lies more than 50 mm away, as a note on the page. Of texts, boxes
    are compared, from a tenth of their area on. References that lose more than can be read, and the board's number and
    revision, are told in the identity checks.
    Source: common practice, no source.
    """
    area = board.outline.area
    if not board.outline.is_closed:
        return
    shapely.prepare(area)
    named = {id(item.marking) for item in printed.identity}
    off: dict[str, list[Print]] = {"text": [], "drawing": []}
    for side in Side:
        for kind, items in _printed(board, side):
            boxes = _boxes(items)
            for n in np.flatnonzero(~np.asarray(shapely.covers(area, boxes), dtype=bool)).tolist():
                item = items[n]
                share = _share_off(board, item)
                if share > 0.0 and not _is_told(item, share, named):
                    off["drawing" if kind == "drawing" else "text"].append(item)
    for kind, found in off.items():
        if found:
            found.sort(key=lambda item: (item.layer.name, item.uid))
            which = _which(board, kind, found)
            yield legend_off_board.finding(
                Consequence.NOTE,
                f"{_counted(kind, len(found))} of the legend beyond the board edge{which}",
                items=found,
                places=_places(found),
                detail=kind,
            )


def _share_off(board: Board, item: Print) -> float:
    """The share of it that lies beyond the edge; 0 where that is meant or does not count."""
    part = board.part_by_uid.get(item.part_uid)
    if part is not None and (isinstance(item, Graphic) or not board.outline.area.intersects(part.extent)):
        return 0.0
    shape = _inked(item)
    if shape.distance(board.outline.area) > ASIDE_MM:
        return 0.0
    off = float(shapely.difference(shape, board.outline.area).area)
    share = off / shape.area if shape.area else 0.0
    # letters left out of a filled box lie well inside of it
    least = BOX_LOST_MIN if isinstance(item, Marking) and item.knockout else LOST_MIN
    return share if off > INK_MIN_MM2 and share >= least else 0.0


CHECKS = (legend_on_land, legend_too_fine, legend_off_board)
