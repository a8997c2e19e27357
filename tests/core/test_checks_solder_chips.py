# SPDX-License-Identifier: MIT
"""Small chips: copper that leaves their ends, and the size of their lands."""

from __future__ import annotations

import dataclasses
import random

import pytest
import shapely
from shapely import affinity

from build import BOTTOM, COPPER, TOP, board, chip, pour, rectangle, track
from lineworthy import Consequence, built_in
from lineworthy.checks.solder_chips import chip_ends_uneven, chip_lands_uneven
from lineworthy.knowledge.exits import exits
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.reliefs import OUTSIDE_MM, Reliefs

SHEET = built_in()


def asked(check, parts, **more):
    made = board(parts=tuple(parts), **more)
    inputs = {"sheet": SHEET, "packages": Packages(made), "joints": Joints(made), "reliefs": Reliefs(made)}
    return list(check.ask(board=made, **{name: inputs[name] for name in check.inputs if name != "board"}))


def ends(parts, **more):
    return asked(chip_ends_uneven, parts, **more)


def resistor(**more):
    """Lands of 0.8 x 0.95 mm at (9.2, 10) and (10.8, 10)."""
    return chip("R1", (10, 10), nets=("A", "B"), **more)


def tracks(left: float, right: float, layer: str = "top"):
    return (
        track((9.2, 10), (5, 10), left, layer=layer, net="A"),
        track((10.8, 10), (15, 10), right, layer=layer, net="B"),
    )


# --- copper that leaves


def widths(parts, **more):
    made = board(parts=tuple(parts), **more)
    lands = [land for part in made.parts for land in Joints(made).of(part)]
    return [end.width for end in exits(made, lands, Reliefs(made))]


def test_tracks_count_where_they_cross_the_outline() -> None:
    assert widths([resistor()], tracks=tracks(0.2, 0.5)) == pytest.approx([0.2, 0.5])
    both_ways = track((9.2, 5), (9.2, 15), 0.3, net="A")
    assert widths([resistor()], tracks=(both_ways,)) == pytest.approx([0.6, 0.0])
    inside = track((9.1, 10), (9.3, 10), 0.3, net="A")
    other_net, other_layer = track((9.2, 10), (5, 10), net="B"), track((9.2, 10), (5, 10), net="A", layer="bottom")
    assert widths([resistor()], tracks=(inside, other_net, other_layer)) == [0.0, 0.0]


def test_pours_count_by_the_outline_they_join_and_no_more_than_all_of_it() -> None:
    around = 2 * (0.8 + 0.95) + 2 * 3.14159 * OUTSIDE_MM
    flooded = pour(rectangle((7, 10), 6, 8), net="A")
    wide = track((9.2, 10), (5, 10), 0.6, net="A")
    assert widths([resistor()], areas=(flooded,)) == pytest.approx([around, 0.0], rel=0.01)
    assert widths([resistor()], areas=(flooded,), tracks=(wide,)) == pytest.approx([around, 0.0], rel=0.01)
    half = pour(shapely.box(5, 5, 9.2, 15), net="A")
    assert widths([resistor()], areas=(half,))[0] == pytest.approx(around / 2, rel=0.02)


def test_tracks_found_equal_a_plain_loop() -> None:
    dice = random.Random(2)
    for _ in range(40):
        parts = [
            chip(f"R{n}", (dice.uniform(3, 17), dice.uniform(3, 17)), rotation=dice.uniform(0, 90), nets=("A", "B"))
            for n in range(5)
        ]
        lines = [
            track(
                (dice.uniform(0, 20), dice.uniform(0, 20)),
                (dice.uniform(0, 20), dice.uniform(0, 20)),
                dice.uniform(0.1, 0.4),
                net=dice.choice("AB"),
            )
            for _ in range(30)
        ]
        made = board(parts=tuple(parts), tracks=tuple(lines))
        lands = [land for part in made.parts for land in Joints(made).of(part)]
        found = [end.tracks for end in exits(made, lands, Reliefs(made))]
        for land, width in zip(lands, found):
            ring = land.copper.buffer(OUTSIDE_MM, quad_segs=4).boundary
            crossings = [
                (t.width, ring.intersection(shapely.LineString(t.path))) for t in lines if t.net == land.pad.net
            ]
            assert width == pytest.approx(sum(w * len(shapely.get_parts(c)) for w, c in crossings if not c.is_empty))


# --- the check


@pytest.mark.parametrize(("right", "told"), [(0.8, 0), (0.81, 1)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_the_ratio_of_the_sheet(right: float, told: int, side) -> None:
    """Eight times is the sheet's default: common practice, no source."""
    findings = ends([resistor(side=side)], tracks=tracks(0.1, right, COPPER[side]))
    assert len(findings) == told
    for finding in findings:
        assert finding.consequence is Consequence.NOTE
        assert finding.measured == pytest.approx(8.1)
        assert finding.message == (
            "1 chip 0603 (R1): the copper at one end is up to 8.1 times as wide as at the other"
            " (R1: 0.81 mm and 0.10 mm), 8 times accepted"
        )
        assert finding.places[0].side is side


def test_one_end_in_a_pour_without_relief() -> None:
    flooded = pour(rectangle((7, 10), 6, 8), net="A")
    [finding] = ends([resistor()], areas=(flooded,), tracks=tracks(0.2, 0.2))
    assert "times as wide as at the other (R1: 3.7" in finding.message
    assert finding.message.endswith("8 times accepted; 1 without thermal relief")
    relieved = rectangle((7, 10), 6, 8).difference(rectangle((9.2, 10), 1.4, 1.55))
    for dx in (-0.5, 0.5):
        relieved = relieved.union(rectangle((9.2 + dx, 10), 0.6, 0.25))
    assert ends([resistor()], areas=(pour(relieved, net="A"),), tracks=tracks(0.2, 0.2)) == []


def test_turned_and_swapped_ends_are_the_same() -> None:
    pair = tracks(0.1, 0.9)
    for turn in (0, 90, 33):
        turned = tuple(dataclasses.replace(t, start=_turned(t.start, turn), end=_turned(t.end, turn)) for t in pair)
        assert [f.measured for f in ends([resistor(rotation=turn)], tracks=turned)] == [pytest.approx(9.0)]
    assert [f.measured for f in ends([resistor()], tracks=tracks(0.9, 0.1))] == [pytest.approx(9.0)]


def _turned(at, turn):
    return affinity.rotate(shapely.Point(at), turn, origin=(10, 10)).coords[0]


def test_what_is_not_judged() -> None:
    pair = tracks(0.1, 2.0)
    assert ends([]) == []
    assert ends([resistor()]) == []
    assert ends([resistor()], tracks=pair[:1]) == []
    assert ends([resistor(fitted=False)], tracks=pair) == []
    assert ends([resistor(package="R_1206_3216Metric")], tracks=pair) == []
    assert len(ends([resistor()], tracks=pair)) == 1


def test_many_chips_are_one_finding() -> None:
    parts = [chip(f"R{n}", (10, 10 + 4 * n), nets=("A", "B")) for n in range(3)]
    lines = [
        track((x, 10 + 4 * n), (x * 2 - 10, 10 + 4 * n), w, net=net)
        for n in range(3)
        for x, w, net in ((9.2, 0.1, "A"), (10.8, 0.85, "B"))
    ]
    [finding] = ends(parts, tracks=tuple(lines))
    assert finding.message.startswith("3 chips 0603 (R0, R1, R2)")
    assert len(finding.places) == 3


# --- lands


def with_land(**changes):
    item = resistor()
    return dataclasses.replace(item, pads=(dataclasses.replace(item.pads[0], **changes), item.pads[1]))


def test_lands_and_prints_of_different_size() -> None:
    """A fifth is the sheet's default: common practice, no source."""
    at = (9.2, 10)

    def printed(share: float):
        return asked(chip_lands_uneven, [with_land(paste={TOP: rectangle(at, 0.8 * share, 0.95)})])

    assert printed(1.0) == printed(1 / 1.2) == []
    [finding] = printed(1 / 1.21)
    assert finding.message == (
        "1 chip (R1): one land or its print is up to 1.21 times the size of the other (R1), 1.2 times accepted"
    )
    [wide] = asked(
        chip_lands_uneven, [with_land(copper={"top": rectangle(at, 1.2, 0.95)}, mask={TOP: rectangle(at, 1.3, 1.05)})]
    )
    assert wide.measured == pytest.approx(1.5)
    # mask defines a land, too
    [masked] = asked(chip_lands_uneven, [with_land(mask={TOP: rectangle(at, 0.6, 0.95)})])
    assert masked.measured == pytest.approx(4 / 3)
    assert (
        asked(chip_lands_uneven, [dataclasses.replace(with_land(paste={TOP: rectangle(at, 0.4, 0.9)}), fitted=False)])
        == []
    )
