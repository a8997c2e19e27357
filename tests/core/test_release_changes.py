# SPDX-License-Identifier: MIT
"""Records of boards: what changes the digest, what does not, and how differences are told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
import shapely
from shapely import affinity

import build
from lineworthy.model import (
    Board,
    CopperArea,
    Graphic,
    KeepOut,
    Part,
    Side,
    StackLayer,
    Stackup,
    TitleBlock,
)
from lineworthy.release.changes import changes, changes_of
from lineworthy.release.record import record
from transform import moved as shift
from transform import transform


def base() -> Board:
    return build.board(
        40,
        30,
        parts=(
            build.chip("R1", (10, 10), value="10k"),
            build.chip("C12", (20, 10), value="100n"),
            build.part("J1", (30, 10), [build.through_pad("1", (30, 10), net="GND")]),
            build.fiducial("FID1", (3, 3)),
        ),
        tracks=(
            build.track((10, 12), (15, 12), net="/SDA"),
            build.track((15, 12), (15, 15), net="/SDA"),
            build.track((15, 15), (17, 15), net="/SDA"),
            build.track((35, 25), (38, 25), net="/SCL"),
        ),
        vias=(build.via((15, 12), net="/SDA"),),
        areas=(build.pour(shapely.box(1, 20, 30, 29), net="GND"),),
        markings=(build.marking("FROST ALARM REV A", (12, 25)),),
        graphics=(Graphic("g", build.LEGEND_TOP, shapely.box(5, 5, 6, 6)),),
    )


def with_part(board: Board, reference: str, change: Callable[[Part], Part]) -> Board:
    return replace(board, parts=tuple(change(part) if part.reference == reference else part for part in board.parts))


def moved(part: Part, dx: float, dy: float = 0.0) -> Part:
    def pads():
        for pad in part.pads:
            yield replace(
                pad,
                at=(pad.at[0] + dx, pad.at[1] + dy),
                copper={layer: affinity.translate(shape, dx, dy) for layer, shape in pad.copper.items()},
                mask={side: affinity.translate(shape, dx, dy) for side, shape in pad.mask.items()},
                paste={side: affinity.translate(shape, dx, dy) for side, shape in pad.paste.items()},
            )

    return replace(part, at=(part.at[0] + dx, part.at[1] + dy), pads=tuple(pads()))


def with_pads(part: Part, **facts: object) -> Part:
    return replace(part, pads=(replace(part.pads[0], **facts), *part.pads[1:]))


def on(board: Board, name: str, index: int, **facts: object) -> Board:
    items = list(getattr(board, name))
    items[index] = replace(items[index], **facts)
    return replace(board, **{name: tuple(items)})


def shifted_tracks(board: Board) -> Board:
    items = tuple(
        replace(t, start=(t.start[0], t.start[1] + 1), end=(t.end[0], t.end[1] + 1)) if t.net == "/SDA" else t
        for t in board.tracks
    )
    return replace(board, tracks=items)


EDITS: dict[str, tuple[Callable[[Board], Board], list[str]]] = {
    "value": (lambda b: with_part(b, "C12", lambda p: replace(p, value="1u")), ["C12 value 100n to 1u"]),
    "package": (
        lambda b: with_part(b, "R1", lambda p: replace(p, package="R_0402")),
        [f"R1 package {base().parts[0].package or 'none'} to R_0402"],
    ),
    "part moved": (lambda b: with_part(b, "R1", lambda p: moved(p, 3, 4)), ["R1 moved by 5.000 mm"]),
    "part turned": (
        lambda b: with_part(b, "R1", lambda p: replace(p, rotation=90.0)),
        ["R1 turned from 0 to 90 degrees"],
    ),
    "part on the other side": (
        lambda b: with_part(b, "R1", lambda p: replace(p, side=Side.BOTTOM)),
        ["R1 moved to the bottom"],
    ),
    "part removed": (
        lambda b: replace(b, parts=tuple(p for p in b.parts if p.reference != "C12")),
        [f"C12 removed (100n{', ' + base().parts[1].package if base().parts[1].package else ''})"],
    ),
    "part added": (
        lambda b: replace(b, parts=(*b.parts, build.part("R9", (25, 25), [build.pad("1", (25, 25))]))),
        ["R9 added (nothing stated)"],
    ),
    "reference": (lambda b: with_part(b, "R1", lambda p: replace(p, reference="R7")), ["R1 is now R7"]),
    "no longer fitted": (
        lambda b: with_part(b, "C12", lambda p: replace(p, fitted=False)),
        ["C12 is no longer fitted"],
    ),
    "part to buy": (
        lambda b: with_part(b, "C12", lambda p: replace(p, fields={"MPN": "KX-104"})),
        ["C12 manufacturer part none to KX-104"],
    ),
    "net of a pad": (
        lambda b: with_part(b, "C12", lambda p: with_pads(p, net="/EXTRA")),
        ["C12 pad 1: net none to /EXTRA"],
    ),
    "net renamed": (
        lambda b: replace(
            with_part(b, "J1", lambda p: with_pads(p, net="EARTH")),
            areas=(replace(b.areas[0], net="EARTH"),),
        ),
        ["net GND is now called EARTH"],
    ),
    "land": (
        lambda b: with_part(b, "R1", lambda p: with_pads(p, copper={"top": build.rectangle((9, 10), 0.4, 0.4)})),
        ["R1: land of pad 1 differs"],
    ),
    "mask opening": (
        lambda b: with_part(b, "R1", lambda p: with_pads(p, mask={})),
        ["R1: mask opening of pad 1 differs"],
    ),
    "paste": (lambda b: with_part(b, "R1", lambda p: with_pads(p, paste={})), ["R1: paste of pad 1 differs"]),
    "hole": (
        lambda b: with_part(b, "J1", lambda p: with_pads(p, hole=replace(p.pads[0].hole, size=(1.0, 1.0)))),
        ["J1: hole of pad 1 differs"],
    ),
    "three tracks": (shifted_tracks, ["3 tracks on top, net /SDA moved or drawn otherwise"]),
    "track width": (lambda b: on(b, "tracks", 3, width=0.5), ["track on top: width 0.2 to 0.5 mm"]),
    "via drill": (lambda b: on(b, "vias", 0, drill=0.2), ["via: drill 0.3 to 0.2"]),
    "via removed": (lambda b: replace(b, vias=()), ["1 via, net /SDA removed"]),
    "pour": (
        lambda b: replace(b, areas=(build.pour(shapely.box(1, 20, 25, 29), net="GND"),)),
        ["pour GND on top: area 261.0 to 216.0 mm2"],
    ),
    "text": (
        lambda b: on(b, "markings", 0, text="FROST ALARM REV B"),
        ["text 'FROST ALARM REV A' to 'FROST ALARM REV B' on F.SilkS"],
    ),
    "text height": (
        lambda b: on(b, "markings", 0, height=2.0),
        ["text 'FROST ALARM REV A' on F.SilkS height 1 to 2 mm"],
    ),
    "text hidden": (lambda b: on(b, "markings", 0, hidden=True), ["text 'FROST ALARM REV A' on F.SilkS removed"]),
    "drawing": (lambda b: replace(b, graphics=()), ["1 drawn shape on F.SilkS removed"]),
    "outline": (
        lambda b: replace(b, outline=build.outline(42, 30)),
        ["board outline 40.000 x 30.000 mm to 42.000 x 30.000 mm"],
    ),
    "cut-out": (
        lambda b: replace(b, outline=build.outline(40, 30, cutouts=[shapely.box(33, 15, 36, 18)])),
        ["cut-out is new"],
    ),
    "thickness": (lambda b: replace(b, stackup=Stackup(0.8)), ["thickness 1.6 to 0.8 mm"]),
    "finish": (lambda b: replace(b, stackup=replace(b.stackup, finish="ENIG")), ["surface finish none to ENIG"]),
    "stack-up": (
        lambda b: replace(b, stackup=Stackup(1.6, (StackLayer("core", "core", 1.5, "FR4"),))),
        ["stack-up none to core 1.5 FR4"],
    ),
}


@pytest.mark.parametrize("name", EDITS)
def test_an_edit_changes_the_digest_and_is_told_in_words(name: str) -> None:
    edit, told = EDITS[name]
    before, after = base(), edit(base())
    assert record(before).digest != record(after).digest
    assert [change.message for change in changes(record(before), record(after))] == told


@pytest.mark.parametrize("name", EDITS)
def test_taking_an_edit_back_restores_the_digest(name: str) -> None:
    edit, _ = EDITS[name]
    assert record(base()).digest == record(base()).digest
    assert changes(record(edit(base())), record(base()))


def test_there_are_at_least_20_kinds_of_edits() -> None:
    assert len(EDITS) >= 20


def test_what_the_editor_keeps_for_itself_is_not_recorded() -> None:
    board = base()
    noise = replace(
        board,
        name="other",
        path="/elsewhere",
        parts=tuple(replace(p, uid=f"new-{p.uid}", description="x", height=3.0) for p in reversed(board.parts)),
        tracks=tuple(replace(t, uid=f"new-{t.uid}", start=t.end, end=t.start) for t in reversed(board.tracks)),
        vias=tuple(replace(v, uid="new") for v in board.vias),
        keepouts=(KeepOut("k", shapely.box(0, 0, 1, 1)),),
        title=TitleBlock(title="another", revision="Z"),
        variables={"A": "B"},
    )
    assert record(noise).digest == record(board).digest


def test_a_pour_may_start_at_any_corner() -> None:
    board = base()
    ring = board.areas[0].rings[0]
    open_ring = ring[:-1] if (ring[0] == ring[-1]).all() else ring
    turned = CopperArea("x", "top", "GND", board.areas[0].boundary, (open_ring[[2, 3, 0, 1]],))
    assert record(replace(board, areas=(turned,))).digest == record(board).digest


@pytest.mark.parametrize("by", [(100.0, -50.0), (0.0, 12.34567), (1 / 3, math.pi)])
def test_the_place_on_the_sheet_is_not_recorded(by: tuple[float, float]) -> None:
    assert record(transform(base(), shift(*by))).digest == record(base()).digest


def test_a_board_that_grew_to_the_left_has_not_moved_its_parts() -> None:
    before = base()
    after = replace(before, outline=build.outline(42, 30, at=(-2, 0)))
    found, origin = changes_of(record(before), after)
    assert [change.message for change in found] == ["board outline 40.000 x 30.000 mm to 42.000 x 30.000 mm"]
    assert origin == (0.0, 0.0)


def test_a_pour_filled_again_with_almost_the_same_area_is_a_small_change() -> None:
    before = base()
    after = replace(before, areas=(build.pour(shapely.box(1, 20, 30.005, 29), net="GND"),))
    (found,) = changes(record(before), record(after))
    assert found.small
    assert "almost the same area" in found.message
    more = replace(before, areas=(build.pour(shapely.box(1, 20, 30.5, 29), net="GND"),))
    (found,) = changes(record(before), record(more))
    assert not found.small


def test_texts_and_drawings_of_a_moved_part_are_not_told_apart_from_it() -> None:
    def with_texts(dx: float) -> Board:
        return build.board(
            parts=(moved(build.chip("R1", (10, 10), uid="r1"), dx),),
            markings=(build.marking("R1", (10 + dx, 12), part_uid="r1"),),
            graphics=(Graphic("g", build.LEGEND_TOP, shapely.box(9 + dx, 9, 11 + dx, 11), part_uid="r1"),),
        )

    told = [change.message for change in changes(record(with_texts(0)), record(with_texts(2)))]
    assert told == ["R1 moved by 2.000 mm"]


def test_places_lie_in_the_frame_of_the_new_board() -> None:
    before = base()
    after = transform(with_part(before, "C12", lambda p: replace(p, value="1u")), shift(100.0, 50.0))
    (change,), origin = changes_of(record(before), after)
    place = change.place(origin)
    assert place is not None
    assert place.at == pytest.approx((120.0, 60.0), abs=1e-3)
    assert place.side is Side.TOP


def test_parts_of_one_reference_are_told_apart() -> None:
    both = build.board(parts=(build.chip("REF**", (10, 10)), build.chip("REF**", (20, 10), uid="second")))
    one = replace(both, parts=both.parts[:1])
    (change,) = changes(record(both), record(one))
    assert "REF** (2) removed" in change.message
