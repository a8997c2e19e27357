# SPDX-License-Identifier: MIT
"""Room for plugs: which way they come, what stands there, how far the face stays behind the edge."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import Optional

import numpy as np
import pytest

import demos
from asking import only
from build import BOTTOM, TOP, board, chip, marking, pad, part, rectangle
from lineworthy import Board
from lineworthy.checks.spacing_mating import plug_way_blocked
from lineworthy.finding import Consequence, Finding
from lineworthy.inputs import Inputs
from lineworthy.knowledge.mating import mating
from lineworthy.model import Part, Side
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
ROOM, SETBACK = 8.0, 1.5


def ask(subject: Board) -> list[Finding]:
    return list(plug_way_blocked.ask(board=subject, bodies=Inputs(subject, SHEET).bodies, sheet=SHEET))


def socket(
    at=(30.0, 20.0), package: str = "JST_SH_SM04B_Horizontal", height: Optional[float] = 3.0, side: Side = TOP
) -> Part:
    """Contacts at the top, body of 8 x 6 mm below them: a plug comes from below. Fixing lands at the front."""
    lands = [pad(str(n + 1), (at[0] - 1.5 + n, at[1] + 2.5), (0.6, 1.5), side=side) for n in range(4)]
    lands += [pad("MP", (at[0] + dx, at[1] - 2), (1.5, 3), side=side) for dx in (-3.5, 3.5)]
    made = part("J1", at, lands, package=package, side=side)
    body = rectangle((at[0], at[1] - 1), 8, 6)
    return dataclasses.replace(made, body=body, height=height)


def before(gap: float, height: Optional[float] = 2.0, **more) -> Part:
    """A chip whose body is `gap` before the face, which is at y 16; it is 0.8 mm deep."""
    return dataclasses.replace(chip("C1", (30, 16 - gap - 0.4), **more), height=height)


def of(*parts: Part) -> list[Finding]:
    return ask(board(60, 40, parts=parts))


# --- the way of a plug


def way_of(item: Part) -> Optional[tuple[float, float]]:
    (body, *_) = Inputs(board(60, 40, parts=(item,)), SHEET).bodies.on(item.side)
    found = mating(body)
    return None if found is None else (round(found.way[0], 6) + 0.0, round(found.way[1], 6) + 0.0)


def test_the_way_is_where_the_body_is_seen_from_the_contacts() -> None:
    assert way_of(socket()) == (0, -1)
    turned = transform(board(parts=(socket(),)), quarter_turns(1)).parts[0]
    assert way_of(turned) == (1, 0)
    assert way_of(transform(board(parts=(socket(),)), mirrored()).parts[0]) == (0, -1)


@pytest.mark.parametrize("package", ["JST_SH_Vertical", "PinHeader_1x04_P2.54mm", "Conn_USB_A_Vertical"])
def test_names_that_do_not_say_so_are_not_judged(package: str) -> None:
    assert way_of(socket(package=package)) is None


def test_contacts_in_the_middle_tell_nothing() -> None:
    item = socket()
    lands = [pad(str(n), (28.5 + n, 19.0), (0.6, 1.5)) for n in range(4)]
    assert way_of(dataclasses.replace(item, pads=tuple(lands))) is None


@pytest.mark.editor
def test_plugs_on_the_demo_boards_come_over_the_edge() -> None:
    """Connectors of real boards face outward: before each there is less than a millimetre of board."""
    told: Counter[str] = Counter()
    for path in demos.paths():
        if path.stat().st_size > 3_000_000:
            continue
        subject = demos.read(path)
        for side in Side:
            for body in Inputs(subject, SHEET).bodies.on(side):
                way = mating(body)
                if way is None:
                    continue
                share = way.room(ROOM).intersection(subject.outline.area).area / way.room(ROOM).area
                assert share * ROOM < 1.0, (path.name, body.part.reference)
                told[path.name] += 1
    assert sum(told.values()) >= 15
    assert len(told) >= 7


# --- parts before the face


@pytest.mark.parametrize(("gap", "found"), [(0.5, True), (7.8, True), (8.1, False)])
@pytest.mark.parametrize("side", [TOP, BOTTOM])
def test_a_part_before_a_connector(gap: float, found: bool, side: Side) -> None:
    findings = of(socket(side=side), before(gap, side=side))
    assert bool(findings) is found
    assert all(f.places[0].side is side for f in findings)


@pytest.mark.parametrize(
    ("gap", "consequence"), [(0.0, Consequence.QUERY), (1.99, Consequence.QUERY), (2.0, Consequence.NOTE)]
)
def test_right_before_the_opening_it_is_a_query(gap: float, consequence: Consequence) -> None:
    assert only(of(socket(), before(gap))).consequence is consequence


def test_a_wide_plug_from_within_the_board_meets_a_part() -> None:
    """The board goes on for all 8 mm, or ends 7 mm before the face."""
    inward, at_edge_ = (
        of(socket(at=(30, at), package="USB_C_Receptacle_HRO"), part_)
        for at, part_ in ((20, before(6.0)), (11, dataclasses.replace(chip("C1", (30, 2)), height=2.0)))
    )
    assert [f.consequence for f in inward] == [Consequence.QUERY, Consequence.NOTE]
    assert [f.consequence for f in at_edge_] == [Consequence.NOTE, Consequence.NOTE]
    assert only(of(socket(), before(6.0))).consequence is Consequence.NOTE


def test_plugs_come_when_the_boards_of_a_panel_are_parted() -> None:
    panel = board(60, 40, parts=(socket(), before(0.5)), markings=(marking("V-SCORE"),))
    assert only(ask(panel)).consequence is Consequence.NOTE


def test_what_a_finding_says() -> None:
    finding = only(of(socket(), before(2.0)))
    assert finding.message == (
        "C1 stands where the plug of J1 comes from, 2.00 mm before it; 8.00 mm are taken for a plug"
    )
    assert (finding.measured, finding.limit_key) == (pytest.approx(2.0), "spacing.plug_room_mm")


@pytest.mark.parametrize(
    ("socket_height", "height", "found"),
    [
        (3.0, 0.9, False),
        (3.0, 0.91, True),
        (10.0, 2.9, False),
        (None, 1.5, False),
        (None, 1.6, True),
        (3.0, None, False),
    ],
)
def test_low_parts_are_passed_over(socket_height: Optional[float], height: Optional[float], found: bool) -> None:
    low = before(2.0, height)
    if height is None:
        low = dataclasses.replace(low, reference="X1", package="mystery")
    name = "JST_SH_SM04B_Horizontal" if socket_height else "Mystery_Horizontal"
    assert bool(of(socket(package=name, height=socket_height), low)) is found


def test_behind_beside_and_on_the_other_side() -> None:
    assert of(socket(), dataclasses.replace(chip("C1", (30, 30)), height=5.0)) == []
    assert of(socket(), dataclasses.replace(chip("C1", (40, 14)), height=5.0)) == []
    assert of(socket(), before(2.0, side=BOTTOM)) == []
    assert of(socket()) == []
    assert of(before(2.0)) == []


# --- behind the edge


def at_edge(setback: float, package: str = "USB_C_Receptacle_HRO") -> list[Finding]:
    """The face `setback` mm inside of the lower edge."""
    return of(socket(at=(30, 4 + setback), package=package))


@pytest.mark.parametrize(("setback", "found"), [(-1.0, False), (0.0, False), (1.5, False), (1.51, True), (6.0, True)])
def test_face_behind_the_edge(setback: float, found: bool) -> None:
    assert bool(at_edge(setback)) is found


def test_what_is_said_of_the_edge() -> None:
    finding = only(at_edge(3.0))
    assert finding.message == (
        "The board goes on for 3.00 mm before the face of J1; a plug with a wide grip goes in up to 1.50 mm"
    )
    assert finding.limit_key == "spacing.plug_setback_max_mm"


def test_plugs_without_a_grip_may_stay_inside() -> None:
    assert at_edge(5.0, package="JST_SH_SM04B_Horizontal") == []


def test_motion_changes_places_only() -> None:
    subject = board(60, 40, parts=(socket(package="USB_C_Receptacle_HRO"), before(2.0)))
    found = ask(subject)
    assert len(found) == 2
    for motion in (moved(3.3, 4.4), quarter_turns(1), quarter_turns(2), mirrored()):
        after = ask(transform(subject, motion))
        assert [(f.message, f.fingerprint) for f in after] == [(f.message, f.fingerprint) for f in found]


def test_limits_are_those_of_the_sheet() -> None:
    assert np.allclose([SHEET.spacing.plug_room_mm, SHEET.spacing.plug_setback_max_mm], [ROOM, SETBACK])
