# SPDX-License-Identifier: MIT
"""What the print tells people: room for a label, which way round a part goes, which part is which."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from shapely import affinity

from asking import ask
from build import (
    BOTTOM,
    FAB_TOP,
    LEGEND_BOTTOM,
    LEGEND_TOP,
    MASK_TOP,
    TOP,
    board,
    chip,
    graphic,
    hole,
    marking,
    outline,
    pad,
    part,
    rectangle,
    smd_part,
    through_pad,
    through_part,
    via,
    with_pins,
)
from lineworthy import Consequence, built_in
from lineworthy.checks.identity_assembly import (
    label_area_missing,
    polarity_mark_missing,
    polarity_mark_reversed,
    reference_ambiguous,
    reference_covered,
    reference_missing,
)
from lineworthy.knowledge.legible import Legible
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.rooms import Rooms
from lineworthy.model import MarkingRole, Outline

SHEET = built_in()


def only(findings):
    assert len(findings) == 1, findings
    assert findings[0].consequence is Consequence.NOTE
    return findings[0]


# --- room for a label: 10 x 5 mm (common practice, no source)

WALL = 0.5


def walls(width: float, height: float, angle: float = 0.0, side=TOP):
    """Bodies over a board of 40 x 30 mm that leave one rectangle of a size free."""
    area = shapely.box(0.2, 0.2, 39.8, 29.8)
    free = affinity.rotate(rectangle((17.3, 12.1), width, height), angle)
    cover = area.difference(free)
    lands = [pad(str(n), (1.0, 1.0 + n * 0.5), 0.1, side=side) for n in range(1, 5)]
    return part(f"U{side.value}", (20, 15), lands, body=cover, package="SOIC-8", side=side, courtyard={})


def crowded(width: float, height: float, angle: float = 0.0):
    return board(40, 30, parts=(walls(width, height, angle), walls(2, 2, side=BOTTOM)))


@pytest.mark.parametrize(
    ("width", "height", "found"),
    [
        (10.0, 5.0, False),
        (5.0, 10.0, False),
        (12.0, 6.0, False),
        (9.99, 5.0, True),
        (10.0, 4.99, True),
        (20.0, 4.0, True),
    ],
)
def test_a_label_fits_exactly_or_not(width: float, height: float, found: bool) -> None:
    assert bool(ask(label_area_missing, crowded(width, height))) is found


def test_the_largest_free_rectangle_and_its_side_are_told() -> None:
    finding = only(ask(label_area_missing, crowded(8.1, 4.2)))
    assert finding.message == (
        "No rectangle of 10.00 x 5.00 mm is free for a label or the fabricator's marks; "
        "the largest of that shape is 8.00 x 4.00 mm, on the top"
    )
    assert (finding.measured, finding.limit) == (8.0, 10.0)


def test_a_slanted_room_is_not_enough() -> None:
    assert ask(label_area_missing, crowded(10.5, 5.5, angle=45))


def test_an_empty_board_and_one_too_small_for_labels() -> None:
    assert not ask(label_area_missing, board())
    assert not ask(label_area_missing, dataclasses.replace(crowded(1, 1), outline=outline(24, 20)))
    assert not ask(label_area_missing, dataclasses.replace(crowded(1, 1), outline=Outline(shapely.Polygon())))


@pytest.mark.parametrize(
    ("things", "free"),
    [
        ({}, True),
        ({"vias": (via((17.3, 12.1)),)}, True),
        ({"vias": (via((17.3, 12.1), open_on=(BOTTOM,)),)}, True),
        ({"vias": (via((17.3, 12.1), open_on=(TOP,)),)}, False),
        ({"markings": (marking("X", (17.3, 12.1)),)}, False),
        ({"markings": (marking("X", (17.3, 12.1), hidden=True),)}, True),
        ({"markings": (marking("X", (17.3, 12.1), layer=FAB_TOP),)}, True),
        ({"markings": (marking("X", (17.3, 12.1), layer=LEGEND_BOTTOM),)}, True),
        ({"graphics": (graphic(rectangle((17.3, 12.1), 1, 1)),)}, False),
        ({"graphics": (graphic(rectangle((17.3, 12.1), 1, 1), MASK_TOP),)}, False),
        ({"graphics": (graphic(rectangle((17.3, 12.1), 10.0, 5.0)),)}, True),  # a field to stick or write on
        ({"graphics": (graphic(rectangle((17.3, 12.1), 10.4, 5.4).boundary.buffer(0.1)),)}, True),  # its frame
    ],
)
def test_what_takes_the_room(things, free: bool) -> None:
    layout = dataclasses.replace(crowded(11.0, 6.0), **things)
    assert bool(ask(label_area_missing, layout)) is not free


def test_a_place_that_is_found_is_free() -> None:
    layout = dataclasses.replace(crowded(11.0, 6.0), parts=(*crowded(11.0, 6.0).parts, hole("H1", (13.0, 10.3), 1.0)))
    at = Rooms(layout, Legible(layout, Packages(layout)), TOP).place(9.0, 4.0)
    assert at is not None
    assert rectangle((17.3, 12.1), 11.0, 6.0).buffer(1e-3).covers(rectangle(at, 9.0, 4.0))
    assert rectangle(at, 9.0, 4.0).distance(shapely.Point(13.0, 10.3)) >= 0.5 - 1e-3


@pytest.mark.parametrize("seed", range(40))
def test_rooms_agree_with_a_search_step_by_step(seed: int) -> None:
    # everything on a grid of 0.25 mm, so that a rectangle that fits anywhere fits on the grid
    draw = np.random.default_rng(seed)
    spots = draw.integers(4, 76, (int(draw.integers(10, 60)), 2)) / 4
    sizes = draw.integers(1, 6, (len(spots), 2)) / 2
    things = tuple(graphic(rectangle(tuple(at), *size), uid=str(n)) for n, (at, size) in enumerate(zip(spots, sizes)))
    layout = board(20, 20, graphics=things)
    wide, high = draw.integers(8, 40, 2) / 4
    taken = shapely.STRtree([item.shape for item in things])
    steps = np.arange(0, 20.01, 0.25)
    low = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    fits = False
    for width, height in ((wide, high), (high, wide)):
        ends = np.add(low, (width, height))
        boxes = shapely.box(*(low + 1e-3).T, *(ends - 1e-3).T)[(ends <= 20).all(axis=1)]
        fits |= len(np.unique(taken.query(boxes, predicate="intersects")[0])) < len(boxes)
    assert (Rooms(layout, Legible(layout, Packages(layout)), TOP).place(wide, high) is not None) is fits


# --- polarity


def diode(reference: str = "D1", at=(20.0, 20.0), rotation: float = 0.0, **more):
    return chip(reference, at, rotation=rotation, package="D_0603_1608Metric", **more)


def bar(item, dx: float = -1.6, rotation: float = 0.0, **more):
    spot = affinity.rotate(shapely.Point(item.at[0] + dx, item.at[1]), rotation, origin=item.at)
    return graphic(rectangle((spot.x, spot.y), 0.15, 1.2, rotation), part_uid=item.uid, **more)


@pytest.mark.parametrize("rotation", [0.0, 90.0, 45.0])
def test_a_diode_with_and_without_a_bar(rotation: float) -> None:
    item = diode(rotation=rotation)
    assert not ask(polarity_mark_missing, board(parts=(item,), graphics=(bar(item, rotation=rotation),)))
    finding = only(ask(polarity_mark_missing, board(parts=(item,))))
    assert finding.message == "1 part without a mark for polarity or pin 1: D1"


def test_bars_at_both_ends_tell_nothing() -> None:
    item = diode()
    both = (bar(item, uid="a"), bar(item, 1.6, uid="b"))
    assert only(ask(polarity_mark_missing, board(parts=(item,), graphics=both)))


@pytest.mark.parametrize("rotation", [0.0, 90.0, 45.0, 180.0])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_the_bar_stands_at_the_cathode(rotation: float, side) -> None:
    # a diode's symbol has K on pin 1 or on pin 2, its land pattern a bar at pad 1; only the pair of them tells
    layer = LEGEND_TOP if side is TOP else LEGEND_BOTTOM
    plain = diode(rotation=rotation, side=side)
    for pins, dx, reversed_ in (
        ({"1": "K", "2": "A"}, -1.6, False),
        ({"1": "A", "2": "K"}, -1.6, True),
        ({"1": "A", "2": "K"}, 1.6, False),
        ({"1": "K", "2": "A"}, 1.6, True),
        ({}, 1.6, False),
    ):
        item = with_pins(plain, pins)
        found = ask(polarity_mark_reversed, board(parts=(item,), graphics=(bar(item, dx, rotation, layer=layer),)))
        assert bool(found) is reversed_
    assert not ask(polarity_mark_reversed, board(parts=(with_pins(plain, {"1": "A", "2": "K"}),)))


def test_what_is_no_bar_at_the_anode() -> None:
    item = with_pins(diode(), {"1": "A", "2": "K"})
    wide = graphic(rectangle((20, 20.7), 3.4, 0.1), part_uid=item.uid, uid="line")
    low = graphic(rectangle((20, 19.3), 3.4, 0.1), part_uid=item.uid, uid="other line")
    assert ask(polarity_mark_reversed, board(parts=(item,), graphics=(wide, low, bar(item, uid="bar"))))
    plus = graphic(rectangle((18.4, 20), 0.3, 0.3), part_uid=item.uid, uid="plus")
    assert not ask(polarity_mark_reversed, board(parts=(item,), graphics=(wide, low, plus)))
    both = (bar(item, uid="a"), bar(item, 1.6, uid="b"))
    assert not ask(polarity_mark_reversed, board(parts=(item,), graphics=both))
    light = dataclasses.replace(item, package="LED_0603_1608Metric")
    assert not ask(polarity_mark_reversed, board(parts=(light,), graphics=(bar(light),)))
    absent = dataclasses.replace(item, fitted=False)
    assert not ask(polarity_mark_reversed, board(parts=(absent,), graphics=(bar(absent),)))
    neighbours = graphic(rectangle((18.4, 20), 0.15, 1.2), part_uid="another")
    assert not ask(polarity_mark_reversed, board(parts=(item,), graphics=(neighbours,)))


def test_a_bar_under_the_body_is_told_apart() -> None:
    item = diode()
    low = graphic(rectangle((19.5, 20), 0.15, 0.6), part_uid=item.uid)
    finding = only(ask(polarity_mark_missing, board(parts=(item,), graphics=(low,))))
    assert finding.message == "1 part with the mark for polarity or pin 1 under the body: D1"


def test_a_bar_on_the_other_side_or_on_another_layer_does_not_count() -> None:
    item = diode()
    for layer in (LEGEND_BOTTOM, FAB_TOP):
        assert ask(polarity_mark_missing, board(parts=(item,), graphics=(bar(item, layer=layer),)))
    low = diode(side=BOTTOM)
    assert not ask(polarity_mark_missing, board(parts=(low,), graphics=(bar(low, layer=LEGEND_BOTTOM),)))


def marked(*parts, drawn=(), texts=()) -> bool:
    """Whether all of some parts have their marks, by what is drawn on the board."""
    graphics = tuple(graphic(shape, uid=f"g{n}") for n, shape in enumerate(drawn))
    markings = tuple(marking(text, at, uid=f"t{n}") for n, (text, at) in enumerate(texts))
    return not ask(polarity_mark_missing, board(parts=parts, graphics=graphics, markings=markings))


def test_a_mark_drawn_on_the_board_counts_and_so_does_a_letter() -> None:
    assert marked(diode(), drawn=[rectangle((18.4, 20), 0.15, 1.2)])
    assert marked(diode(), texts=[("K", (18.2, 20))])
    assert not marked(diode(), texts=[("K", (10, 20))])


@pytest.mark.parametrize(
    "text", ["+", "-", "\u2212", "K", "a", "1", "cathode", "Anode", "PIN 1", "LED+", "+12V", "\u25cf"]
)
def test_texts_that_say_an_end(text: str) -> None:
    assert marked(diode(), texts=[(text, (18.0, 20))])
    assert not marked(diode(), texts=[(text, (20.0, 21.2))])  # beside the middle: of neither end


@pytest.mark.parametrize("text", ["STATUS", "REV B", "100n", "R1", "D2", "5V", "GND", "11", "PWR"])
def test_a_word_that_happens_to_stand_there_is_no_mark(text: str) -> None:
    assert not marked(diode(), texts=[(text, (18.0, 20))])
    assert not marked(smd_part("U1", (20, 20), nets=("",) * 8), texts=[(text, (17.0, 17.5))])


@pytest.mark.parametrize(("gap", "counts"), [(1.5, True), (1.51, False)])
@pytest.mark.parametrize("rotation", [0.0, 90.0, 45.0])
def test_how_near_a_mark_must_be(gap: float, counts: bool, rotation: float) -> None:
    """A millimetre and a half from lands and body: common practice, no source."""
    item = diode(rotation=rotation)
    line = rectangle((20 - 1.2 - gap - 0.1, 20), 0.2, 1.2)  # the lands end 1.2 mm from the middle
    assert marked(item, drawn=[affinity.rotate(line, rotation, origin=item.at)]) is counts


def test_a_symbol_without_lands_is_a_drawing_on_the_board() -> None:
    symbol, other = part("LOGO1", (18.2, 20), courtyard={}), chip("R1", (18.2, 24))
    for owner, counts in ((symbol, True), (other, False)):
        plus = graphic(rectangle((18.2, 20), 0.5, 0.5), part_uid=owner.uid)
        named = marking("K", (18.2, 20), part_uid=owner.uid)
        word = [graphic(rectangle((18.2, y), 0.4, 0.4), part_uid=owner.uid, uid=f"letter{y}") for y in (20, 20.5)]
        assert ask(polarity_mark_missing, board(parts=(diode(), owner), graphics=tuple(word)))
        large = graphic(rectangle((17.9, 20), 1.51, 0.5), part_uid=owner.uid)
        assert ask(polarity_mark_missing, board(parts=(diode(), owner), graphics=(large,)))
        assert bool(ask(polarity_mark_missing, board(parts=(diode(), owner), graphics=(plus,)))) is not counts
        assert bool(ask(polarity_mark_missing, board(parts=(diode(), owner), markings=(named,)))) is not counts


def test_a_drawing_that_only_passes_by_is_no_mark() -> None:
    assert not marked(diode(), drawn=[rectangle((18.4, 20), 0.15, 30.0)])  # the frame of a section
    frame = [rectangle((18.4, 20), 0.15, 1.2), rectangle((18.4, 12), 0.15, 15.0)]  # drawn in two strokes
    assert not marked(diode(), drawn=frame)
    assert not marked(diode(), drawn=[rectangle((20, 21), 1.5, 0.15)])  # a line beside the middle
    triangle = shapely.Polygon([(19.5, 20.8), (19.5, 21.6), (20.5, 21.2)])
    assert marked(diode(), drawn=[triangle])  # but a diode's sign points


def test_a_box_round_the_part_counts_by_its_own_shape() -> None:
    off = rectangle((20.3, 20), 3.6, 2.0).exterior.buffer(0.06)
    assert not marked(diode(), drawn=[off])
    corner = shapely.Polygon([(18.0, 18.8), (18.0, 19.5), (18.7, 18.8)])
    chamfered = rectangle((20.3, 20), 3.6, 2.0).difference(corner.buffer(0.6)).exterior.buffer(0.06)
    assert marked(diode(), drawn=[chamfered])


@pytest.mark.parametrize("side", [TOP, BOTTOM])
@pytest.mark.parametrize("rotation", [0.0, 90.0, 180.0, 45.0])
def test_a_dot_on_the_board_counts_at_pin_1_of_a_chip(rotation: float, side) -> None:
    item = smd_part("U1", (20, 20), nets=("",) * 8, side=side)
    turn = {"angle": rotation, "origin": item.at}
    pads = [
        dataclasses.replace(
            one,
            at=tuple(affinity.rotate(shapely.Point(one.at), **turn).coords[0]),
            copper={layer: affinity.rotate(shape, **turn) for layer, shape in one.copper.items()},
        )
        for one in item.pads
    ]
    item = dataclasses.replace(item, pads=tuple(pads), body=affinity.rotate(item.body, **turn), rotation=rotation)
    layer = LEGEND_TOP if side is TOP else LEGEND_BOTTOM
    for spot, counts in (
        ((17.2, 17.5), True),  # pin 1 is at the lower left
        ((17.2, 20.0), True),  # a notch, between the first pin and the last
        ((22.8, 22.5), False),  # at pin 5: who reads it turns the part
        ((22.8, 20.0), False),
    ):
        dot = affinity.rotate(shapely.Point(spot).buffer(0.2), **turn)
        answer = ask(polarity_mark_missing, board(parts=(item,), graphics=(graphic(dot, layer),)))
        assert bool(answer) is not counts, spot


def test_a_plus_is_no_mark_of_pin_1() -> None:
    def cross(x: float, y: float) -> shapely.Polygon:
        return shapely.union_all([rectangle((x, y), 0.7, 0.15), rectangle((x, y), 0.15, 0.7)])

    assert marked(diode(), drawn=[cross(18.2, 20)])
    item = smd_part("U1", (20, 20), nets=("",) * 8)
    assert not marked(item, drawn=[cross(17.2, 17.5)])
    for mark in (
        shapely.Point(17.2, 17.5).buffer(0.2),
        shapely.Point(17.2, 17.5).buffer(0.3).exterior.buffer(0.06),
        shapely.Polygon([(17.0, 17.2), (17.6, 17.5), (17.0, 17.8)]),
        rectangle((17.2, 17.5), 0.4, 0.4),
        rectangle((17.2, 17.5), 0.15, 1.0),
    ):
        assert marked(item, drawn=[mark])


def test_a_mark_speaks_of_what_it_is_nearest_to() -> None:
    pins = through_part("J1", (16.5, 20))  # from 13.96 to 19.04
    low = diode(at=(21.0, 20.0))
    assert not marked(low, pins, texts=[("+", (19.2, 20))])  # the sign of a terminal
    assert marked(low, texts=[("+", (19.2, 20))])
    first, second = diode("D1", (20, 20)), diode("D2", (24, 20))
    bar_of_second = rectangle((22.6, 20), 0.15, 1.2)
    assert not marked(first, second, drawn=[bar_of_second])
    assert marked(first, second, drawn=[bar_of_second, rectangle((18.6, 20), 0.15, 1.2)])
    assert marked(first, second, drawn=[rectangle((22.0, 20), 0.15, 1.2)])  # midway: of both, for all one can see


@pytest.mark.parametrize(
    "item",
    [
        chip("R1", (20, 20)),
        diode(fitted=False),
        diode(value="ESD9B5.0"),
        diode(value="SMBJ12CA", description="Bidirectional TVS diode"),
        part("Q1", (20, 20), [pad("1", (19, 19)), pad("2", (21, 19)), pad("3", (20, 21))], package="SOT-23"),
        part("D1", (20, 20), [through_pad("1", (18, 20), 1.6, 0.8), through_pad("2", (22, 20), 1.9, 0.8)]),
        part("J1", (20, 20), [pad(str(n), (18 + n, 20)) for n in range(4)], package="PinHeader_1x04"),
    ],
    ids=["resistor", "not fitted", "esd", "tvs", "three lands", "odd land", "connector"],
)
def test_parts_that_need_no_mark(item) -> None:
    assert not ask(polarity_mark_missing, board(parts=(item,)))


def test_a_chip_needs_a_dot_at_pin_1() -> None:
    item = smd_part("U1", (20, 20), nets=("",) * 8)
    box = rectangle((20, 20), 5.4, 3.8).boundary.buffer(0.06)
    lines = graphic(box, uid="box", part_uid=item.uid)
    dot = graphic(shapely.Point(17.5, 16.5).buffer(0.15), uid="dot", part_uid=item.uid)
    assert only(ask(polarity_mark_missing, board(parts=(item,), graphics=(lines,)))).message.endswith(": U1")
    assert not ask(polarity_mark_missing, board(parts=(item,), graphics=(lines, dot)))


@pytest.mark.parametrize("rotation", [0.0, 90.0])
@pytest.mark.parametrize(
    ("pitch", "dot", "counts"),
    [
        (0.2, 0.12, True),  # 4.4 mm long: what can be printed can be seen
        (0.2, 0.11, False),
        (0.5, 0.14, True),  # 11 mm long: an eightieth, 0.1375 mm
        (0.5, 0.135, False),
        (1.0, 0.26, True),  # 22 mm long: a quarter of a millimetre
        (1.0, 0.24, False),
        (3.0, 0.26, True),  # the same on a larger one
    ],
)
def test_how_large_a_mark_must_be(pitch: float, dot: float, counts: bool, rotation: float) -> None:
    """A share of the part's length, common practice, no source; below all marks of the editor's library."""
    spots = [(20 + pitch * (n % 12), 20 + pitch * (n // 12)) for n in range(144)]
    lands = [pad(f"{'ABCDEFGHJKLM'[n // 12]}{n % 12 + 1}", spot, 0.1) for n, spot in enumerate(spots)]
    mid = 20 + 5.5 * pitch
    item = part("U1", (mid, mid), lands, package="BGA-144", body=rectangle((mid, mid), 22 * pitch, 22 * pitch))
    mark = shapely.Point(mid - 11.5 * pitch, mid - 11.5 * pitch).buffer(dot / 2, 64)
    mark = affinity.rotate(mark, rotation, origin=(mid, mid))
    found = ask(polarity_mark_missing, board(200, 200, parts=(item,), graphics=(graphic(mark, part_uid=item.uid),)))
    assert bool(found) is not counts


def test_parts_are_one_finding_in_natural_order() -> None:
    items = tuple(diode(f"D{n}", (5.0 * n, 20)) for n in (10, 2, 9, 1))
    finding = only(ask(polarity_mark_missing, board(parts=items)))
    assert finding.message == "4 parts without a mark for polarity or pin 1: D1, D2, D9, D10"
    assert [place.label for place in finding.places] == ["D1", "D2", "D9", "D10"]


# --- references


def named(item, at, **more):
    return marking(item.reference, at, role=MarkingRole.REFERENCE, part_uid=item.uid, uid=f"r-{item.uid}", **more)


def row(count: int = 12, **more):
    return tuple(chip(f"R{n}", (4.0 + 4 * n, 10.0), **more) for n in range(1, count + 1))


def labelled(parts, but=()):
    return tuple(named(item, (item.at[0], item.at[1] + 2), height=0.8) for item in parts if item.reference not in but)


def test_one_reference_missing_among_many() -> None:
    parts = row()
    assert not ask(reference_missing, board(parts=parts, markings=labelled(parts)))
    finding = only(ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R3",)))))
    assert finding.message == "1 reference of 12 not printed: R3"


def test_hidden_or_on_another_layer_is_missing() -> None:
    parts = row()
    hidden = [dataclasses.replace(m, hidden=m.text == "R3") for m in labelled(parts)]
    assert only(ask(reference_missing, board(parts=parts, markings=tuple(hidden))))
    fab = [dataclasses.replace(m, layer=FAB_TOP if m.text == "R3" else LEGEND_TOP) for m in labelled(parts)]
    assert only(ask(reference_missing, board(parts=parts, markings=tuple(fab))))


def test_a_reference_as_plain_text_is_there() -> None:
    parts = row()
    loose = marking("R3", (16, 12))
    assert not ask(reference_missing, board(parts=parts, markings=(*labelled(parts, ("R3",)), loose)))


def test_many_missing_are_a_habit_and_none_at_all_only_by_hand() -> None:
    parts = row()
    assert not ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R3", "R4"))))
    assert not ask(reference_missing, board(parts=parts))
    by_hand = tuple(through_part(f"J{n}", (8.0 * n, 20)) for n in range(1, 7))
    finding = only(ask(reference_missing, board(parts=by_hand)))
    assert finding.message == "No reference is printed on a board with 6 parts, most of them placed by hand"


def test_exactly_one_in_ten_is_few() -> None:
    parts = row(10)
    assert ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R3",))))
    parts = row(9)
    assert not ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R3",))))


@pytest.mark.parametrize("flags", [{"fitted": False}, {"in_parts_list": False}, {"board_only": True}])
def test_parts_nobody_looks_for(flags) -> None:
    parts = (*row(), chip("R99", (30, 30), **flags), hole("H1", (50, 30)))
    assert not ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R99", "H1"))))


def test_parts_not_placed_yet_are_left_out() -> None:
    parts = (*row(), chip("R99", (-30, 30)))
    assert not ask(reference_missing, board(parts=parts, markings=labelled(parts, ("R99",))))


def test_a_reference_under_another_part_or_on_a_hole() -> None:
    parts = row()
    at = {"R3": (20.0, 20.0)}
    big = smd_part("U1", (20, 20), nets=("",) * 8)
    texts = tuple(named(p, at.get(p.reference, (p.at[0], 12)), height=0.8) for p in (*parts, big) if p is not big)
    texts += (named(big, (30, 20)),)
    finding = only(ask(reference_covered, board(parts=(*parts, big), markings=texts)))
    assert finding.message == "1 reference under parts or on pads and holes: R3"
    drilled = (*parts, hole("H1", (20, 20)))
    texts = tuple(named(p, at.get(p.reference, (p.at[0], 12)), height=0.8) for p in parts)
    assert only(ask(reference_covered, board(parts=drilled, markings=texts)))


def test_a_reference_under_other_lettering() -> None:
    parts = row()
    texts = tuple(named(p, (p.at[0], 12.0), height=0.8) for p in parts)
    spot = next(p.at[0] for p in parts if p.reference == "R3")
    for more, found in (
        (marking("3V3", (spot, 12.0), height=0.8), True),
        (marking("3V3", (spot, 12.0), height=0.8, knockout=True), True),
        (marking("3V3", (spot, 12.0), height=0.8, hidden=True), False),
        (marking("3V3", (spot, 12.0), height=0.8, layer=LEGEND_BOTTOM), False),
        (marking("3V3", (spot, 14.0), height=0.8), False),
    ):
        findings = ask(reference_covered, board(parts=parts, markings=(*texts, more)))
        assert [f.message for f in findings] == (["1 reference on other lettering: R3"] if found else [])
    twice = tuple(named(p, (spot if p.reference == "R4" else p.at[0], 12.0), height=0.8) for p in parts)
    messages = [f.message for f in ask(reference_covered, board(parts=parts, markings=twice))]
    assert all("R3" in message for message in messages)
    assert messages


@pytest.mark.parametrize(("count", "found"), [(1, True), (6, False), (12, False)])
def test_under_its_own_part_only_few_count(count: int, found: bool) -> None:
    parts = tuple(smd_part(f"U{n}", (9.0 * n, 20), nets=("",) * 8) for n in range(1, 13))
    texts = tuple(named(p, (p.at[0], 20 if n < count else 25), height=0.8) for n, p in enumerate(parts))
    assert bool(ask(reference_covered, board(120, 40, parts=parts, markings=texts))) is found


def test_where_few_references_are_printed_nothing_is_asked() -> None:
    parts = row()
    texts = tuple(named(p, (4.0, 10.0)) for p in parts[:4])
    assert not ask(reference_covered, board(parts=parts, markings=texts))
    assert not ask(reference_ambiguous, board(parts=parts, markings=texts))


@pytest.mark.parametrize(("x", "found"), [(16.0, False), (18.0, False), (19.86, False), (19.88, True), (20.0, True)])
def test_a_reference_nearer_to_a_neighbour_of_its_kind(x: float, found: bool) -> None:
    parts = row()
    texts = tuple(named(p, (x if p.reference == "R3" else p.at[0], 12.0), height=0.8) for p in parts)
    findings = ask(reference_ambiguous, board(parts=parts, markings=texts))
    assert bool(findings) is found
    if found:
        assert findings[0].message == "1 reference nearer to another part: R3 to R4"
        assert findings[0].places[0].at == (x, 12.0)


def test_another_kind_of_part_is_no_rival() -> None:
    parts = tuple(dataclasses.replace(p, reference="C4") if p.reference == "R4" else p for p in row())
    texts = tuple(named(p, (20.0 if p.reference == "R3" else p.at[0], 12.0), height=0.8) for p in parts)
    assert not ask(reference_ambiguous, board(parts=parts, markings=texts))


def test_a_board_without_parts() -> None:
    for check in (polarity_mark_missing, reference_missing, reference_covered, reference_ambiguous):
        assert not ask(check, board())
