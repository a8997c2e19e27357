# SPDX-License-Identifier: MIT
"""What rides on the line: size, length to width, sag, and an edge to hold it by."""

from __future__ import annotations

import pytest
import shapely
from shapely import affinity

from asking import only
from build import BOTTOM, board, chip, pad, part, rectangle, smd_part, through_pad, through_part
from lineworthy import Board
from lineworthy.checks.panel_line import no_edge_to_hold, overhang_tips, sags, too_large_for_line, too_long_for_width
from lineworthy.finding import Consequence, Finding
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.separation import Separation
from lineworthy.model import Outline, Stackup
from lineworthy.registry import Check
from lineworthy.shapes import disc
from lineworthy.sheet import built_in
from transform import mirrored, moved, quarter_turns, transform

SHEET = built_in()
QUERY, NOTE = Consequence.QUERY, Consequence.NOTE


def ask(check: Check, subject: Board, said: str = "") -> list[Finding]:
    packages = Packages(subject)
    known = {"board": subject, "sheet": SHEET, "packages": packages, "separation": Separation(subject, packages, said)}
    return list(check.ask(**{name: known[name] for name in check.inputs}))  # type: ignore[arg-type]


# --- size: the line takes 510 x 460 mm


@pytest.mark.parametrize(
    ("width", "height", "measured"),
    [(510, 460, None), (460, 510, None), (510.1, 100, 510.1), (500, 460.1, 460.1), (600, 500, 600), (60, 40, None)],
)
def test_too_large_for_the_line(width: float, height: float, measured) -> None:
    for subject in (board(width, height), board(height, width)):
        found = ask(too_large_for_line, subject)
        assert [f.measured for f in found] == ([] if measured is None else [pytest.approx(measured)])


def test_what_too_large_says() -> None:
    finding = only(ask(too_large_for_line, board(600, 200)))
    assert finding.consequence is QUERY
    assert finding.message == "The board is 600.00 x 200.00 mm; the line takes 510.00 x 460.00 mm"
    assert finding.limit_key == "panel.line_length_max_mm"


@pytest.mark.parametrize(
    ("width", "height", "said", "told"),
    [
        (300, 100, "", False),  # exactly three times as long
        (301, 100, "", True),
        (100, 301, "", True),
        (160, 45, "", False),  # too narrow to ride: its panel is not known
        (160, 45, "single", True),
        (301, 100, "routed", False),
    ],
)
def test_long_and_narrow(width: float, height: float, said: str, told: bool) -> None:
    assert [f.consequence for f in ask(too_long_for_width, board(width, height), said)] == ([NOTE] if told else [])


def test_what_long_and_narrow_says() -> None:
    assert only(ask(too_long_for_width, board(400, 100))).message == (
        "What rides on the line is 400.00 x 100.00 mm, 4.0 times as long as wide; 3 is usual at the most"
    )


def test_areas_that_nothing_joins_do_not_ride_together() -> None:
    apart = board(outline=Outline(shapely.MultiPolygon([shapely.box(0, 0, 200, 50), shapely.box(210, 0, 410, 50)])))
    assert Separation(apart, Packages(apart)).is_drawn
    assert ask(too_long_for_width, apart) == []
    assert only(ask(too_long_for_width, board(410, 50), "single"))


# --- sag


@pytest.mark.parametrize(
    ("thickness", "width", "key"),
    [
        (1.6, 250, None),  # 0.18 mm cold and 0.62 mm hot, of 0.5 and 1.9 allowed
        (0.8, 250, "panel.sag_max_mm"),  # 0.72 mm by the beam formula with published stiffness and density
        (1.6, 300, None),
        (1.6, 350, "panel.sag_max_mm"),
        (0.6, 180, None),
        (0.4, 150, "panel.sag_hot_max_percent"),  # 0.37 mm cold, 1.28 mm hot: 0.85 %
    ],
)
def test_a_board_that_hangs_through(thickness: float, width: float, key) -> None:
    found = ask(sags, board(400, width, stackup=Stackup(thickness=thickness)))
    assert [f.limit_key for f in found] == ([] if key is None else [key])
    assert all(f.consequence is NOTE for f in found)


def test_what_sag_says() -> None:
    cold = only(ask(sags, board(400, 250, stackup=Stackup(thickness=0.8))))
    assert cold.message == (
        "0.80 mm thick and held 250.00 mm apart, the bare board hangs through by 0.7 mm; 0.5 mm is usual at the most"
    )
    hot = only(ask(sags, board(400, 150, stackup=Stackup(thickness=0.4))))
    assert hot.message.endswith("by 1.3 mm in the oven; 0.75 % of that is usual at the most")
    assert (hot.unit, hot.limit) == ("%", 0.75)


def test_sag_is_not_asked_of_a_board_whose_panel_is_not_known() -> None:
    thin = board(90, 80, stackup=Stackup(thickness=0.1))
    assert ask(sags, thin) == []
    assert ask(sags, thin, "single") != []
    assert ask(sags, board(400, 400, stackup=Stackup(thickness=0.0))) == []


# --- an edge to hold: 3 mm are held, 5 mm wanted


def placed(gap: float, reference: str = "R1", **more):
    """A 0603 lying along the lower edge of a 160 x 100 board."""
    return chip(reference, (80, gap + 0.475), **more)


def high(gap: float):
    return chip("R2", (gap + 0.475, 50), rotation=90)


@pytest.mark.parametrize(
    ("low", "left", "consequence"),
    [
        (1.0, 20.0, None),  # it rides on the short edges
        (20.0, 1.0, None),
        (1.0, 1.0, QUERY),
        (1.0, 2.999, QUERY),
        (1.0, 3.0, NOTE),
        (4.9, 1.0, NOTE),
        (5.0, 1.0, None),
        (-0.4, -0.4, QUERY),
    ],
)
def test_edges_free_of_parts(low: float, left: float, consequence) -> None:
    found = ask(no_edge_to_hold, board(160, 100, parts=(placed(low), high(left))))
    assert [f.consequence for f in found] == ([] if consequence is None else [consequence])


def test_what_no_edge_says() -> None:
    finding = only(ask(no_edge_to_hold, board(160, 100, parts=(placed(1.0), high(2.0)))))
    assert finding.message == (
        "R2 is 2.00 mm from an edge that carries the board whichever way it rides; 3.00 mm are held; "
        "5.00 mm free of parts needed without rails"
    )
    assert (finding.measured, finding.uids) == (pytest.approx(2.0), ("part-R2",))
    over = only(ask(no_edge_to_hold, board(160, 100, parts=(placed(-0.4), high(-0.6)))))
    assert over.message.startswith("R1 is 0.40 mm over an edge")


def test_both_faces_count() -> None:
    subject = board(160, 100, parts=(placed(1.0, side=BOTTOM), high(1.0)))
    assert only(ask(no_edge_to_hold, subject)).consequence is QUERY


def test_what_does_not_ride_does_not_count() -> None:
    leaded = through_part("J1", (80, 1.5), nets=("", ""))
    assert ask(no_edge_to_hold, board(160, 100, parts=(leaded, high(1.0)))) == []
    assert ask(no_edge_to_hold, board(160, 100, parts=(placed(1.0, fitted=False), high(1.0)))) == []
    assert ask(no_edge_to_hold, board(160, 100)) == []
    parked = smd_part("U7", (170, 50)), smd_part("U8", (80, 110))
    assert ask(no_edge_to_hold, board(160, 100, parts=(smd_part("U1", (80, 50)), *parked))) == []


def test_a_board_that_comes_in_a_panel_is_not_asked() -> None:
    crowded = (placed(1.0), high(1.0))
    assert ask(no_edge_to_hold, board(90, 90, parts=crowded)) == []
    assert ask(no_edge_to_hold, board(160, 100, parts=crowded), "routed") == []
    assert ask(no_edge_to_hold, board(90, 90, parts=crowded), "single") != []


def test_a_round_board_has_no_edge() -> None:
    ring = board(outline=Outline(disc((100, 100), 160)), parts=(smd_part("U1", (100, 100)),))
    assert only(ask(no_edge_to_hold, ring)).message.startswith("No two opposite sides")


def test_only_straight_pairs_count() -> None:
    """The slanting sides cannot be held, so the part at the lower edge is in the way."""
    slanted = affinity.skew(shapely.box(0, 0, 160, 100), 20)
    found = ask(no_edge_to_hold, board(outline=Outline(slanted), parts=(placed(1.0),)))
    assert "whichever way" not in only(found).message


# --- parts that tip: lands from y = 0.5 to 4.5, body of 9 x 8 mm


def socket(middle: float, *, reference: str = "J1", leads: bool = False, **more):
    pads = [pad(str(n), (30 + dx, y), (1.0, 1.0)) for n, (dx, y) in enumerate(((-4, 1), (4, 1), (-4, 4), (4, 4)))]
    pads += [through_pad("S", (30, 4))] * leads
    body = rectangle((30, middle), 9.0, 8.0)
    return part(reference, (30, middle), pads, package="USB_C_Receptacle_HRO_TYPE-C-31-M-12", body=body, **more)


@pytest.mark.parametrize(("middle", "told"), [(-1.0, True), (0.29, True), (0.31, False), (2.0, False)])
def test_a_socket_tips_when_its_middle_is_beyond_its_lands(middle: float, told: bool) -> None:
    found = ask(overhang_tips, board(parts=(socket(middle),)))
    assert [f.measured for f in found] == ([pytest.approx(0.5 - middle)] if told else [])


def test_what_tipping_says() -> None:
    assert only(ask(overhang_tips, board(parts=(socket(-1.0),)))).message == (
        "J1 reaches over the edge, its middle 1.50 mm beyond its lands"
    )


def test_leads_hold_a_socket_and_hands_hold_what_no_machine_places() -> None:
    assert ask(overhang_tips, board(parts=(socket(-1.0, leads=True),))) == []
    assert ask(overhang_tips, board(parts=(socket(-1.0, in_placement=False),))) == []
    assert ask(overhang_tips, board(parts=(socket(-1.0, fitted=False),))) == []


def test_only_at_an_edge_a_part_can_tip_over_it() -> None:
    inside = board(parts=(part("J1", (30, 20), [pad("1", (30, 12), (1.0, 1.0))], body=rectangle((30, 20), 9, 8)),))
    assert ask(overhang_tips, inside) == []


def test_moving_turning_and_mirroring_change_places_only() -> None:
    subject = board(400, 130, parts=(placed(2.0), high(1.0)), stackup=Stackup(thickness=0.3))
    checks = (too_large_for_line, too_long_for_width, sags, no_edge_to_hold)

    def said(asked: Board) -> list[object]:
        found = [f for check in checks for f in ask(check, asked)]
        return [(f.message, f.fingerprint, f.uids, f.consequence) for f in found]

    before = said(subject)
    assert len(before) == 3
    for motion in (moved(-33.3, 12.7), quarter_turns(1), quarter_turns(2), mirrored()):
        assert said(transform(subject, motion)) == before
