# SPDX-License-Identifier: MIT
"""The bare board netlist: columns against published records, header, aliases, what lands and holes become."""

from __future__ import annotations

import dataclasses

import pytest

import records356
from build import BOTTOM, TOP, board, chip, hole, pad, part, probe_pad, round_pad, through_pad, via
from lineworthy.errors import InputError
from lineworthy.model import PadKind, TitleBlock
from lineworthy.report.netlist356 import Feature, aliases, record, render

LONG = "/power/a net name longer than the columns"


def feature(**given) -> Feature:
    made = {"net": "", "part": "", "pin": "", "at": (0.0, 0.0), "size": (1.0, 1.0), "rotation": 0.0, "access": 0}
    return Feature(**{**made, "covered": 0, **given})


# --- published records


def test_record_of_a_public_writer() -> None:
    # unit tests of a public layout editor's D356 writer, in 0.001 mm
    made = feature(at=(0.001, -0.002), size=(0.123, 0.654), hole=1.3, plated=True, through=True)
    assert record(made, {}) == "317N/C              NOREF -NPAD D1300PA00X+000001Y-000002X0123Y0654R000 S0"


def test_second_record_of_that_writer() -> None:
    named = feature(
        net="N/C{2}",
        part="U1",
        pin="42",
        at=(-0.011, 0.022),
        size=(0.235, 0.765),
        rotation=90.0,
        hole=0.444,
        plated=True,
        through=True,
    )
    line = record(named, {"N/C{2}": "N/C{2}"})
    assert line == "317N/C{2}           U1    -42   D0444PA00X-000011Y+000022X0235Y0765R090 S0"
    (read,) = records356.read(line, 0.001)
    assert (read.net, read.part, read.pin, read.rotation, read.mask) == ("N/C{2}", "U1", "42", 90, 0)
    assert (read.hole, *read.at, *read.size) == pytest.approx((0.444, -0.011, 0.022, 0.235, 0.765))


def test_too_large_and_too_long_are_cut_as_that_writer_does() -> None:
    # the same unit tests: a 20 mm hole gives D9999, "AlsoTooLong" AlsoTo, "AsWell" AsWe
    made = feature(net=LONG, part="AlsoTooLong", pin="AsWell", hole=20.0, plated=True, through=True)
    line = record(made, aliases([LONG]))
    assert "D9999" in line
    assert line[20:31] == "AlsoTo-AsWe"


def test_inch_record_of_a_public_reader_is_read() -> None:
    # sample netlist in a public unit test of a D356 reader, CUST 0
    line = "317GND              U30   -2    D0472PA00X 041600Y 015589X0709Y         S0"
    (read,) = records356.read(line, 0.00254)
    assert (read.net, read.part, read.pin) == ("GND", "U30", "2")
    assert read.hole == pytest.approx(1.199, abs=1e-3)
    assert read.at == pytest.approx((4.16 * 25.4, 1.5589 * 25.4))
    assert read.size == pytest.approx((0.0709 * 25.4, 0.0))


# --- names


def test_names_that_do_not_fit_get_an_alias_and_a_line_in_the_header() -> None:
    names = ("GND", LONG, "gnd", "N/C", "two words", "µ", "NNAME7", "14 letters abc"[:13] + "d")
    made = aliases(names)
    assert made["GND"] == "GND" or made["gnd"] == "gnd"
    assert len({alias.casefold() for alias in made.values()}) == len(names)
    assert all(len(alias) <= 14 and alias.isascii() and " " not in alias for alias in made.values())
    assert made["N/C"].startswith("NNAME")
    assert made["NNAME7"] != "NNAME7"


def test_long_and_strange_names_come_back() -> None:
    lands = [probe_pad(f"TP{n}", (3.0 * n + 3, 5), net=net) for n, net in enumerate((LONG, "A", "a", "μ", "x\ny"))]
    text = render(board(parts=lands))
    assert {read.net for read in records356.read(text)} == {LONG, "A", "a", "<3BC>", "x y"}
    assert all(line.isascii() and line.isprintable() and len(line) <= 80 for line in text.splitlines())


# --- header


def test_header_says_job_units_title_and_revision_and_the_file_ends() -> None:
    title = TitleBlock(title="Widget ${GRADE}", revision="C")
    text = render(board(parts=[probe_pad()], title=title, variables={"GRADE": "two"}))
    told = records356.header(text)
    assert text.startswith("C  Netlist of widget")
    assert (told["JOB"], told["UNITS"], told["TITLE"], told["REV"]) == ("widget", "CUST 1", "Widget two", "C")
    assert told["VER"] == "IPC-D-356A"
    assert text.endswith("\n999\n")


def test_a_title_cannot_add_a_line() -> None:
    text = render(board(parts=[probe_pad()], title=TitleBlock(title="x\n999\n317EVIL")))
    assert len(records356.read(text)) == 1
    assert text.splitlines().count("999") == 1


# --- what things become


def one(item) -> records356.Record:
    (read,) = records356.read(render(board(parts=[item])))
    return read


def test_surface_land_by_side() -> None:
    top = one(probe_pad("TP1", (5, 6)))
    assert (top.operation, top.access, top.mask, top.hole, top.size[1]) == ("327", 1, 2, None, 0.0)
    bottom = one(probe_pad("TP1", (5, 6), side=BOTTOM))
    assert (bottom.access, bottom.mask, bottom.at) == (2, 1, (5.0, 6.0))
    covered = one(part("TP1", (5, 5), [round_pad("1", (5, 5), net="GND", mask_margin=None)]))
    assert covered.mask == 3


def test_layer_number_is_that_of_the_bottom() -> None:
    four = board(parts=[probe_pad("TP1", side=BOTTOM)], copper_layers=("top", "in1", "in2", "bottom"))
    assert records356.read(render(four))[0].access == 4


def test_square_land_keeps_both_sides_and_its_turn() -> None:
    turned = one(part("U1", (5, 5), [pad("1", (5, 5), (2.0, 1.0), rotation=30.0, net="A")]))
    assert (turned.size, turned.rotation) == ((2.0, 1.0), 30)


def test_plated_and_unplated_holes() -> None:
    lead = one(part("J1", (5, 5), [through_pad("1", (5, 5), 1.6, 0.8, net="A")]))
    assert (lead.operation, lead.plated, lead.hole, lead.access, lead.mask) == ("317", True, 0.8, 0, 0)
    bare = one(hole("H1", (5, 5)))
    assert (bare.operation, bare.plated, bare.net, bare.pin) == ("367", False, "N/C", "NPAD")


def test_vias_tented_open_and_blind() -> None:
    made = [via((5, 5), net="A"), via((8, 5), net="A", open_on=(TOP, BOTTOM)), via((11, 5), net="A", open_on=(BOTTOM,))]
    read = records356.read(render(board(vias=made)))
    assert [r.mask for r in read] == [3, 0, 1]
    assert all((r.operation, r.part, r.pin, r.middle) == ("317", "VIA", "", True) for r in read)
    blind = dataclasses.replace(made[1], span=("in2", "bottom"))
    read = records356.read(render(board(vias=[blind], copper_layers=("top", "in1", "in2", "bottom"))))
    assert (read[0].access, read[0].mask) == (4, 1)


def test_paste_only_and_mask_only_pads_are_not_on_the_board() -> None:
    window = dataclasses.replace(pad("", (5, 5), 1.0), copper={}, kind=PadKind.SURFACE)
    assert records356.read(render(board(parts=[part("U1", (5, 5), [window])]))) == []


def test_places_count_from_the_origin_of_drill_files() -> None:
    moved = board(parts=[probe_pad("TP1", (5, 6))], origin=(1.0, 2.0))
    assert records356.read(render(moved))[0].at == pytest.approx((4.0, 4.0))


def test_the_order_of_the_document_changes_nothing() -> None:
    items = [chip("R1", (5, 5), nets=("A", "B")), chip("R2", (9, 5), nets=("B", "C")), probe_pad("TP1", net="A")]
    assert render(board(parts=items)) == render(board(parts=items[::-1]))


def test_a_place_the_columns_cannot_hold_is_an_error_and_not_a_lie() -> None:
    assert records356.read(render(board(parts=[probe_pad("TP1", (999.999, 5))])))
    with pytest.raises(InputError, match=r"999\.999 mm"):
        render(board(parts=[probe_pad("TP1", (1000.0, 5))]))
