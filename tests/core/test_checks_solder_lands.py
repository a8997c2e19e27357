# SPDX-License-Identifier: MIT
"""Lands without paste, lands under mask, flags that say something else than the lands."""

from __future__ import annotations

import dataclasses
import random

import pytest
import shapely

from build import (
    BOTTOM,
    MASK_BOTTOM,
    MASK_TOP,
    TOP,
    board,
    chip,
    fiducial,
    graphic,
    hole,
    pad,
    part,
    probe_pad,
    rectangle,
    smd_part,
    through_pad,
    through_part,
)
from lineworthy import Consequence
from lineworthy.checks.solder_lands import land_under_mask, land_without_paste, mount_flag_misleads
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.mask import Mask
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Layer, LayerKind, Mount, Pad, PadKind, PadRole

PASTE_TOP = Layer("F.Paste", LayerKind.PASTE, TOP)


def unpasted(*parts, **more):
    made = board(parts=parts, **more)
    inputs = {"joints": Joints(made), "packages": Packages(made), "marks": Marks(made)}
    return list(land_without_paste.ask(board=made, **inputs))


def masked(*parts, **more):
    made = board(parts=parts, **more)
    known = {"joints": Joints(made), "packages": Packages(made), "marks": Marks(made), "mask": Mask(made)}
    return list(land_under_mask.ask(board=made, **known))


def misled(*parts):
    made = board(parts=parts)
    return list(mount_flag_misleads.ask(board=made, joints=Joints(made), packages=Packages(made)))


def with_pads(item, **changes):
    """A part whose first pad is changed, with `changes` of a Pad."""
    return dataclasses.replace(item, pads=(dataclasses.replace(item.pads[0], **changes), *item.pads[1:]))


def soic(reference="U1", at=(10, 10), **more):
    return smd_part(reference, at, nets=["a", "b", "c", "d", "e", "f", "g", "h"], **more)


# --- what a land is


def test_a_land_is_all_copper_of_one_number_that_touches() -> None:
    pieces = [
        pad("9", (10, 10), (2, 2)),
        pad("9", (11.9, 10), (2, 2)),
        pad("9", (15, 10), (1, 1)),
        pad("1", (5, 5), 1.0),
    ]
    made = board(parts=(part("U1", (10, 10), pieces),))
    lands = Joints(made).of(made.parts[0])
    assert [(land.number, round(land.copper.area, 3), len(land.pads)) for land in lands] == [
        ("9", 7.8, 2),
        ("9", 1.0, 1),
        ("1", 1.0, 1),
    ]


def test_only_the_side_of_the_part_counts() -> None:
    far = pad("1", (10, 10), 1.0, side=BOTTOM)
    made = board(parts=(part("U1", (10, 10), [far]), chip("R1", (20, 10), side=BOTTOM)))
    assert Joints(made).of(made.parts[0]) == ()
    assert len(Joints(made).of(made.parts[1])) == 2


def test_openings_and_paste_equal_a_plain_loop_over_all_shapes() -> None:
    """The index against no index, on forty boards of random lands and drawn openings."""
    dice = random.Random(5)
    for _ in range(40):
        parts = []
        for n in range(6):
            at = (dice.uniform(2, 12), dice.uniform(2, 12))
            land = pad(
                "1",
                at,
                (dice.uniform(0.3, 3), dice.uniform(0.3, 3)),
                rotation=dice.uniform(0, 90),
                paste=dice.random() < 0.5,
            )
            parts.append(part(f"U{n}", at, [land]))
        drawn = [
            graphic(
                rectangle((dice.uniform(0, 14), dice.uniform(0, 14)), dice.uniform(0.2, 4), dice.uniform(0.2, 4)),
                PASTE_TOP,
            )
            for _ in range(5)
        ]
        made = board(parts=parts, graphics=tuple(drawn))
        prints = [*(p for _, land in made.pads for p in land.paste.values()), *(g.shape for g in drawn)]
        for land in Joints(made).all:
            plain = shapely.union_all([shapely.intersection(land.copper, shape) for shape in prints])
            assert land.printed.area == pytest.approx(plain.area, abs=1e-9)


# --- lands without paste


def test_parts_with_paste_say_nothing() -> None:
    assert unpasted() == []
    assert unpasted(soic(), chip("R1", (20, 10))) == []


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_pin_without_paste_is_a_query(side) -> None:
    [finding] = unpasted(with_pads(soic(side=side), paste={}))
    assert finding.message == "U1 (SOIC-8): pad 1 of 8 gets no paste"
    assert finding.consequence is Consequence.QUERY
    assert [(place.side, place.label) for place in finding.places] == [(side, "U1 pad 1")]


def test_the_same_pin_of_the_same_package_is_one_finding() -> None:
    [finding] = unpasted(*(with_pads(soic(f"U{n}", (10 * n, 10)), paste={}) for n in (1, 2, 3)))
    assert finding.message.startswith("U1, U2, U3 (SOIC-8): pad 1 of 8")
    assert len(finding.places) == 3


def test_paste_counts_wherever_it_is_drawn() -> None:
    item = with_pads(soic(), paste={})
    window = Pad("w", "", item.pads[0].at, PadKind.SURFACE, paste={TOP: rectangle(item.pads[0].at, 0.4, 0.4)})
    assert unpasted(dataclasses.replace(item, pads=(*item.pads, window))) == []
    assert unpasted(item, graphics=(graphic(rectangle(item.pads[0].at, 0.4, 0.4), PASTE_TOP),)) == []
    # on the far side it prints nothing here
    bottom = Layer("B.Paste", LayerKind.PASTE, BOTTOM)
    assert len(unpasted(item, graphics=(graphic(rectangle(item.pads[0].at, 0.4, 0.4), bottom),))) == 1


def test_a_print_below_a_hundredth_of_the_land_is_none() -> None:
    item = with_pads(soic(), paste={})
    land = item.pads[0].copper["top"].area

    def dot(share: float):
        return unpasted(
            item,
            graphics=(graphic(rectangle(item.pads[0].at, (share * land) ** 0.5, (share * land) ** 0.5), PASTE_TOP),),
        )

    assert len(dot(0.0099)) == 1
    assert dot(0.0101) == []


def test_a_pin_with_two_lands_needs_paste_on_one() -> None:
    item = soic()
    twin = pad("1", (30, 10), 1.0, paste=False)
    assert unpasted(dataclasses.replace(item, pads=(*item.pads, twin))) == []


def test_a_part_without_any_paste() -> None:
    bare = dataclasses.replace(soic(), pads=tuple(dataclasses.replace(p, paste={}) for p in soic().pads))
    [finding] = unpasted(bare)
    assert finding.message == "U1 (SOIC-8): no land gets paste"
    assert finding.consequence is Consequence.QUERY
    # connectors are often soldered by hand
    edge = dataclasses.replace(bare, reference="J1", package="SMA_Edge")
    assert [f.consequence for f in unpasted(edge)] == [Consequence.NOTE]


def test_what_is_not_printed_on_purpose_is_not_asked() -> None:
    item = with_pads(soic(), paste={})
    for flags in ({"fitted": False}, {"in_placement": False}, {"board_only": True}, {"mount": Mount.OTHER}):
        assert unpasted(dataclasses.replace(item, **flags)) == []
    assert unpasted(with_pads(soic(), paste={}, kind=PadKind.CONNECTOR)) == []
    assert unpasted(with_pads(soic(), paste={}, mask={})) == []
    assert unpasted(fiducial(in_placement=True), probe_pad(), hole()) == []
    jumper = smd_part("JP1", (10, 10), package="SolderJumper-2_P1.3mm_Open")
    assert (
        unpasted(dataclasses.replace(jumper, pads=tuple(dataclasses.replace(p, paste={}) for p in jumper.pads))) == []
    )


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_paste_on_the_other_side_is_said(side) -> None:
    item = soic(side=side)
    [finding] = unpasted(with_pads(item, paste={side.other: item.pads[0].paste[side]}))
    told = "pad 1 of 8 gets no paste, which is drawn on the other side of the board"
    assert finding.message == f"U1 (SOIC-8): {told}"


def test_a_cell_touches_a_bare_land() -> None:
    holder = with_pads(soic("BT1", package="BatteryHolder_Keystone_3008_1x2450"), paste={})
    assert unpasted(holder) == []
    assert len(unpasted(dataclasses.replace(holder, package="X"))) == 1


# --- lands under mask


def test_open_lands_say_nothing() -> None:
    assert masked() == []
    assert masked(soic(), chip("R1", (20, 10)), through_part("J1", (30, 10))) == []


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_paste_on_mask_holds_the_job(side) -> None:
    [finding] = masked(with_pads(soic(side=side), mask={}))
    assert finding.message == "Paste of 1 land of U1 (SOIC-8) lies on mask"
    assert finding.consequence is Consequence.HOLD
    assert finding.places[0].side is side


def test_an_opening_drawn_beside_the_pad_counts() -> None:
    item = with_pads(soic(), mask={})
    assert masked(item, graphics=(graphic(rectangle(item.pads[0].at, 1, 2), MASK_TOP),)) == []


def test_half_of_the_print_on_mask_passes_more_is_a_query() -> None:
    land = soic().pads[0]
    width, length = land.size

    def opened(share: float):
        item = with_pads(soic(), mask={TOP: rectangle(land.at, width, length * share)})
        return [finding.consequence for finding in masked(item)]

    assert opened(0.5) == []
    assert opened(0.49) == [Consequence.QUERY]


def test_copper_without_paste_and_opening_is_no_land() -> None:
    assert masked(with_pads(soic(), mask={}, paste={})) == []
    # a pin that is soldered elsewhere may go on under the mask
    item = soic()
    twin = pad("1", (30, 10), 1.0, mask_margin=None)
    assert masked(dataclasses.replace(item, pads=(*item.pads, twin))) == []
    assert masked(dataclasses.replace(with_pads(soic(), mask={}), fitted=False)) == []


def test_leads_in_covered_rings() -> None:
    item = through_part("J1", (10, 10), nets=["a", "b", "c"])
    [finding] = masked(with_pads(item, mask={}))
    assert finding.message == "1 lead of J1: the mask covers the ring on both sides"
    assert finding.consequence is Consequence.QUERY
    assert masked(with_pads(item, mask={}, role=PadRole.PRESS_FIT)) == []
    assert masked(with_pads(item, mask={}, role=PadRole.TEST_POINT)) == []


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_ring_is_open_where_it_is_soldered(side) -> None:
    """Opposite to the part: one of three leads, and all of them."""
    item = through_part("J1", (10, 10), nets=["a", "b", "c"], side=side)
    near = {side: item.pads[0].mask[side]}
    [finding] = masked(with_pads(item, mask=near))
    where = f"the mask covers the ring on the {side.other.value}, the side where leads are soldered"
    assert (finding.consequence, finding.message) == (Consequence.QUERY, f"1 lead of J1: {where}")
    closed = [dataclasses.replace(p, mask={side: p.mask[side]}) for p in item.pads]
    [finding] = masked(dataclasses.replace(item, pads=tuple(closed)))
    assert finding.message == f"3 leads of J1: {where}"
    # printed with paste it is soldered from the part's side; without a land there is no ring
    assert masked(with_pads(item, mask=near, paste=near)) == []
    assert masked(with_pads(item, mask=near, copper={side.value: item.pads[0].copper[side.value]})) == []
    drawn = graphic(item.pads[0].mask[side], MASK_TOP if side is BOTTOM else MASK_BOTTOM)
    assert masked(with_pads(item, mask=near), graphics=(drawn,)) == []


def test_a_ring_closed_on_the_part_s_side_is_a_note_where_it_is_the_odd_one() -> None:
    item = through_part("J1", (10, 10), nets=["a", "b", "c"])
    far = [dataclasses.replace(p, mask={BOTTOM: p.mask[BOTTOM]}) for p in item.pads]
    [finding] = masked(dataclasses.replace(item, pads=(far[0], *item.pads[1:])))
    assert finding.consequence is Consequence.NOTE
    assert (
        finding.message == "1 lead of J1: the mask covers the ring on the top, where most of the part's leads are open"
    )
    assert masked(dataclasses.replace(item, pads=tuple(far))) == []


# --- flags


def test_flags_that_agree_say_nothing() -> None:
    assert misled() == []
    assert misled(soic(), through_part("J1", (20, 10)), hole(), fiducial()) == []


@pytest.mark.parametrize(
    ("item", "changes", "consequence", "text"),
    [
        (
            soic(),
            {"mount": Mount.THROUGH},
            Consequence.QUERY,
            "U1: flagged as through-hole part, has only lands with paste",
        ),
        (
            soic(),
            {"mount": Mount.OTHER},
            Consequence.NOTE,
            "U1: takes paste, but flagged neither as surface nor as through-hole part",
        ),
        (
            soic(),
            {"in_placement": False},
            Consequence.QUERY,
            "U1: takes paste and is to be fitted, but excluded from the placement file",
        ),
        (
            through_part("J1", (9, 9)),
            {"mount": Mount.SURFACE},
            Consequence.NOTE,
            "J1: flagged as surface part, all lands are holes for leads",
        ),
    ],
)
def test_flags_that_disagree(item, changes, consequence, text) -> None:
    [finding] = misled(dataclasses.replace(item, **changes))
    assert (finding.consequence, finding.message) == (consequence, text)
    for silent in ({"fitted": False}, {"board_only": True}, {"in_parts_list": False}):
        assert misled(dataclasses.replace(item, **{**changes, **silent})) == []


def test_mixed_parts_go_by_what_most_of_their_lands_are() -> None:
    pins = [pad(str(n), (10 + n, 10), 0.5) for n in range(6)]
    legs = [through_pad(f"S{n}", (10 + 3 * n, 14)) for n in range(2)]
    receptacle = part("J1", (10, 10), [*pins, *legs], package="USB_C_Receptacle", mount=Mount.THROUGH)
    [finding] = misled(receptacle)
    assert finding.message == "J1: flagged as through-hole part, most lands take paste"
    assert finding.consequence is Consequence.NOTE
    assert misled(dataclasses.replace(receptacle, pads=(*pins[:1], *legs))) == []
    assert misled(dataclasses.replace(receptacle, mount=Mount.SURFACE)) == []
    [finding] = misled(dataclasses.replace(receptacle, in_placement=False, mount=Mount.SURFACE))
    assert finding.message == "J1: most lands take paste and it is to be fitted, but excluded from the placement file"
    assert finding.consequence is Consequence.NOTE
    by_hand = dataclasses.replace(receptacle, pads=(*pins[:2], *legs), in_placement=False, mount=Mount.SURFACE)
    assert misled(by_hand) == []


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_part_on_the_other_side_than_its_lands(side) -> None:
    item = chip("R1", (10, 10), side=side)
    [finding] = misled(dataclasses.replace(item, side=side.other))
    text = f"R1: placed on the {side.other.value}, all lands and their paste are on the {side.value}"
    assert (finding.consequence, finding.message) == (Consequence.QUERY, text)
    # an edge connector has lands on both sides, a test land has no paste
    both = (item.pads[0], pad("3", (10, 10), 1.0, side=side.other))
    assert misled(dataclasses.replace(item, side=side.other, pads=both)) == []
    bare = tuple(dataclasses.replace(p, paste={}) for p in item.pads)
    assert misled(dataclasses.replace(item, side=side.other, pads=bare)) == []
