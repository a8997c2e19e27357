# SPDX-License-Identifier: MIT
"""Holes of leads without plating, leads without a land where they are soldered."""

from __future__ import annotations

import dataclasses

import pytest

from build import BOTTOM, COPPER, TOP, board, hole, pad, probe_pad, through_pad, through_part, track, via
from lineworthy import Consequence
from lineworthy.checks.solder_plating import lead_hole_unplated, lead_without_land
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Hole, PadKind, PadRole


def known(parts, more):
    made = board(parts=parts, **more)
    return {"board": made, "packages": Packages(made), "marks": Marks(made)}


def unplated(*parts, **more):
    return list(lead_hole_unplated.ask(**known(parts, more)))


def landless(*parts, **more):
    return list(lead_without_land.ask(**known(parts, more)))


def without_plating(item, *numbers, **changes):
    """A part some of whose holes are not plated."""
    pads = [
        dataclasses.replace(p, kind=PadKind.UNPLATED, hole=Hole(p.at, p.hole.size, plated=False), **changes)
        if p.number in numbers
        else p
        for p in item.pads
    ]
    return dataclasses.replace(item, pads=tuple(pads))


def row(reference="J1", at=(10, 10), nets=("a", "b", "c"), **more):
    return through_part(reference, at, nets=nets, **more)


A = (7.46, 10)
"""Where pad 1 of the row is."""

UP = track(A, (7.46, 20), layer="top", net="a")
DOWN = track(A, (7.46, 2), layer="bottom", net="a")
ENDS = (
    through_part("J2", (8.73, 20), nets=("a", "x")),
    through_part("J3", (8.73, 2), nets=("a", "y")),
)


# --- holes without plating


def test_plated_holes_bare_holes_and_pegs_say_nothing() -> None:
    assert unplated() == []
    assert unplated(row(), hole()) == []
    peg = through_pad("", (20, 10), 1.2, 1.2, plated=False)
    assert unplated(dataclasses.replace(row(), pads=(*row().pads, peg))) == []
    assert unplated(without_plating(row(), "1", net="")) == []
    assert unplated(without_plating(row(), "1", copper={})) == []
    for role in (PadRole.MECHANICAL, PadRole.PRESS_FIT, PadRole.TEST_POINT):
        assert unplated(without_plating(row(), "1", role=role)) == []
    for flags in ({"fitted": False}, {"board_only": True}):
        assert unplated(dataclasses.replace(without_plating(row(), "1"), **flags)) == []


def test_the_odd_one_of_a_part() -> None:
    [finding] = unplated(without_plating(row(), "1"))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "The hole of a lead is made without plating, and other leads of the part have plated holes: J1 pad 1 on a"
    )
    assert finding.places[0].at == A


def test_where_tracks_of_both_sides_meet_nowhere_else_the_job_is_on_hold() -> None:
    bad = without_plating(row(), "1")
    [finding] = unplated(bad, *ENDS, tracks=(UP, DOWN))
    assert finding.consequence is Consequence.HOLD
    assert finding.message == (
        "The hole of a lead is made without plating, and nothing else joins the copper of its net: J1 pad 1 on a"
    )
    # on one side, or joined by a via or a plated lead elsewhere, nothing is open
    lower = track(A, (7.46, 20), layer="bottom", net="a")
    for tracks, vias in (
        ((UP,), ()),
        ((UP, track(A, (7.46, 20), layer="bottom", net="a"), DOWN), ()),
        ((UP, DOWN, lower), (via((7.46, 15), net="a"),)),
    ):
        [finding] = unplated(bad, *ENDS, tracks=tracks, vias=vias)
        assert finding.consequence is Consequence.QUERY


def test_a_board_made_without_plating() -> None:
    """Leads soldered on both sides may be meant: a query; with copper on one side nothing is to be asked."""
    bare = [without_plating(item, "1", "2", "3") for item in (row(), *ENDS)]
    [finding] = unplated(*bare, tracks=(UP, DOWN))
    assert finding.consequence is Consequence.QUERY
    assert finding.message.endswith(
        "nothing else joins the copper of its net, unless the lead is soldered on both sides: J1 pad 1 on a"
    )
    assert unplated(*bare, tracks=(DOWN,)) == []


def test_all_leads_of_a_part_alike_on_a_board_of_plated_holes() -> None:
    odd = without_plating(row(), "1", "2", "3")
    [finding] = unplated(odd, *ENDS)
    assert finding.message == (
        "3 holes of leads are made without plating, and most holes of leads on the board are plated:"
        " J1 pad 1 on a, J1 pad 2 on b, J1 pad 3 on c"
    )
    # a land on one side only, a single net, a minority of plated holes
    one_sided = [dataclasses.replace(p, copper={"bottom": p.copper["bottom"]}) for p in odd.pads]
    assert unplated(dataclasses.replace(odd, pads=tuple(one_sided)), *ENDS) == []
    assert unplated(without_plating(row(nets=("g", "g", "g"), package="X"), "1", "2", "3"), *ENDS) == []
    assert unplated(odd, ENDS[0]) == []


# --- leads without a land


@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_lead_has_a_land_where_it_is_soldered(side) -> None:
    item = row(side=side)
    assert landless(item) == []
    lead = item.pads[0]
    near, far = ({COPPER[which]: lead.copper[COPPER[which]]} for which in (side, side.other))

    def changed(**changes):
        return landless(dataclasses.replace(item, pads=(dataclasses.replace(lead, **changes), *item.pads[1:])))

    [finding] = changed(copper=near)
    assert finding.consequence is Consequence.QUERY
    where = side.other.value
    assert finding.message == f"1 lead has no land on the {where}, where it is soldered: J1 pad 1"
    assert finding.places[0].side is side.other
    assert changed(copper=far) == []
    assert changed(copper=near, role=PadRole.PRESS_FIT) == []
    assert changed(copper=near, paste={side: near[COPPER[side]]}) == []
    assert changed(copper=near, hole=Hole(lead.at, (0.3, 0.3), plated=True)) == []


def test_several_leads_are_one_finding_and_what_is_not_soldered_is_left_out() -> None:
    item = row()
    pads = tuple(dataclasses.replace(p, copper={"top": p.copper["top"]}) for p in item.pads)
    item = dataclasses.replace(item, pads=pads)
    [finding] = landless(item)
    assert finding.message == (
        "3 leads have no land on the bottom, where they are soldered: J1 pad 1, J1 pad 2, J1 pad 3"
    )
    for flags in ({"fitted": False}, {"board_only": True}):
        assert landless(dataclasses.replace(item, **flags)) == []
    assert landless(probe_pad(), hole()) == []
    spot = dataclasses.replace(probe_pad(), pads=(dataclasses.replace(pads[0], number="1"),))
    assert landless(spot) == []
    heat = pad("1", (10, 10), (8, 8))
    assert landless(dataclasses.replace(item, pads=(heat, *pads[:1]))) == []
