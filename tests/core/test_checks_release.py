# SPDX-License-Identifier: MIT
"""Is the board in a state from which files can be plotted: pours that hold no copper."""

from __future__ import annotations

import pytest
import shapely

from asking import only
from build import TOP, board, chip, pour, track, via
from lineworthy import Consequence
from lineworthy.checks.release import pour_unfilled
from lineworthy.model import CopperArea, KeepOut

QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def asked(**items):
    return list(pour_unfilled.ask(board=board(**items)))


def empty(net: str = "GND", layer: str = "top", priority: int = 0, at=(5, 5, 25, 25), uid: str = "zone"):
    return CopperArea(uid, layer, net, shapely.box(*at), unfilled=True, priority=priority)


GROUND = {"parts": (chip("C1", (15, 15), nets=("GND", "VCC")),)}


def test_filled_pours_pass() -> None:
    assert asked() == []
    assert asked(areas=(pour(shapely.box(5, 5, 25, 25)),), **GROUND) == []


def test_an_empty_pour_with_something_to_connect_is_a_query() -> None:
    finding = only(asked(areas=(empty(),), **GROUND))
    assert finding.consequence is QUERY
    assert finding.message == "1 pour has no copper: GND on top"
    assert finding.places[0].side is TOP
    assert finding.places[0].label == "pour GND on top"
    assert finding.uids == ("zone",)


@pytest.mark.parametrize(
    ("items", "consequence"),
    [
        (GROUND, QUERY),
        ({"vias": (via((20, 20), net="GND"),)}, QUERY),
        ({"tracks": (track((0, 10), (10, 10), net="GND"),)}, QUERY),
        ({"tracks": (track((0, 10), (10, 10), net="GND", layer="bottom"),)}, NOTE),
        ({"vias": (via((40, 20), net="GND"),)}, NOTE),
        ({"parts": (chip("C1", (15, 15), nets=("VCC", "SDA")),)}, NOTE),
        ({}, NOTE),
    ],
)
def test_a_pour_that_nothing_of_its_net_reaches_is_a_note(items, consequence) -> None:
    assert only(asked(areas=(empty(),), **items)).consequence is consequence


def test_the_note_says_why() -> None:
    finding = only(asked(areas=(empty("A", uid="a"), empty("B", uid="b"))))
    assert finding.message == "2 pours have no copper, and nothing of their net lies inside: A on top, B on top"


def test_a_pour_without_net_needs_no_connection() -> None:
    finding = only(asked(areas=(empty(""),)))
    assert finding.consequence is QUERY
    assert finding.message == "1 pour has no copper: no net on top"


def test_pours_that_others_cover_get_no_copper() -> None:
    above = pour(shapely.box(0, 0, 30, 30), net="VCC", uid="above")
    assert len(asked(areas=(empty(), above), **GROUND)) == 1
    covering = CopperArea("above", "top", "VCC", above.boundary, above.rings, priority=2)
    assert asked(areas=(empty(priority=1), covering), **GROUND) == []
    other_layer = CopperArea("above", "bottom", "VCC", above.boundary, above.rings, priority=2)
    assert len(asked(areas=(empty(priority=1), other_layer), **GROUND)) == 1


def test_slivers_that_remain_are_not_copper() -> None:
    nearly = CopperArea("above", "top", "GND", shapely.box(5.08, 0, 30, 30), priority=2)
    assert asked(areas=(empty(), nearly), **GROUND) == []
    wider = CopperArea("above", "top", "GND", shapely.box(5.2, 0, 30, 30), priority=2)
    assert len(asked(areas=(empty(), wider), **GROUND)) == 1


def test_keep_outs_and_the_edge_take_their_room() -> None:
    ban = KeepOut("k", shapely.box(0, 0, 30, 30), frozenset({"top"}), frozenset({"pour"}))
    assert asked(areas=(empty(),), keepouts=(ban,), **GROUND) == []
    harmless = KeepOut("k", ban.area, ban.layers, frozenset({"vias"}))
    assert len(asked(areas=(empty(),), keepouts=(harmless,), **GROUND)) == 1
    assert asked(areas=(empty(at=(100, 100, 120, 120)),), **GROUND) == []


def test_all_of_them_are_one_finding_in_stable_order() -> None:
    areas = (empty("VCC", uid="b"), empty("GND", "bottom", uid="c"), empty("GND", uid="a"))
    everywhere = {"parts": GROUND["parts"], "vias": (via((20, 20), net="GND"),)}
    finding = only(asked(areas=areas, **everywhere))
    assert finding.message == "3 pours have no copper: GND on bottom, GND on top, VCC on top"
    assert finding == only(asked(areas=areas[::-1], **everywhere))
