# SPDX-License-Identifier: MIT
"""References of parts: each has one, no two have the same; and what is placed is bought."""

from __future__ import annotations

import dataclasses

import pytest

from build import BOTTOM, board, chip, fiducial, hole, probe_pad, smd_part, through_part
from lineworthy import Consequence
from lineworthy.checks.identity_parts import reference_doubled, reference_unassigned
from lineworthy.checks.supply_flags import do_not_fit_unset, placed_not_bought
from lineworthy.intake.parts_list import PartsLine, PartsList
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Mount, Part


def ask(check, *parts: Part, **more):
    made = board(parts=parts)
    given = {"board": made, "marks": Marks(made), "packages": Packages(made), "parts": None, **more}
    return list(check.ask(**{name: given[name] for name in check.inputs}))


def second(part: Part, **more) -> Part:
    return dataclasses.replace(part, uid=part.uid + "-second", **more)


OTHERS = [chip(f"R{n}", (5 * n, 30), value="10k") for n in range(1, 7)]


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (
            chip("R5", (10, 10), value="10k"),
            chip("R5", (20, 10), value="22k"),
            "R5 stands for 2 parts, '10k' and '22k'",
        ),
        (chip("R5", (10, 10), value="10k"), chip("R5", (20, 10), value="10k"), "R5 stands for 2 parts"),
        (chip("R5", (10, 10)), chip("r5 ", (20, 10), side=BOTTOM, rotation=90), "R5 stands for 2 parts"),
        (chip("X1", (10, 10)), smd_part("X1", (20, 10)), "X1 stands for 2 parts, 'R_0603_1608Metric' and 'SOIC-8'"),
        (through_part("J1", (10, 10)), through_part("J1", (30, 10)), "J1 stands for 2 parts"),
    ],
)
def test_a_reference_on_two_parts_is_told(one: Part, other: Part, told: str) -> None:
    others = [part for part in OTHERS if part.reference != "R5"]
    [finding] = ask(reference_doubled, *others, one, second(other))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == f"1 reference on more than one fitted part: {told}"
    assert [place.at for place in finding.places] == [one.at, other.at]


@pytest.mark.parametrize(
    "part",
    [
        hole("H1", (5, 5)),
        fiducial("FID1", (5, 5)),
        probe_pad("TP1", (5, 5)),
        chip("R9", (5, 5), fitted=False),
        chip("", (5, 5)),
        chip("REF**", (5, 5)),
        chip("R9", (5, 5), board_only=True),
        chip("R9", (5, 5), in_parts_list=False),
    ],
    ids=lambda part: part.reference or "none",
)
def test_things_that_are_not_bought_may_share_a_reference(part: Part) -> None:
    assert not ask(reference_doubled, *OTHERS, part, second(part, at=(15, 5)))


def test_an_alternative_that_is_not_fitted_may_share_a_reference() -> None:
    assert not ask(reference_doubled, *OTHERS, chip("R9", (5, 5)), second(chip("R9", (5, 5)), fitted=False))


def test_an_array_of_boards_is_passed_over() -> None:
    assert not ask(reference_doubled, *OTHERS, *(second(part, at=(part.at[0], 10)) for part in OTHERS))


def test_many_doubled_references_are_one_finding() -> None:
    doubled = [chip(f"C{n}", (n, 10)) for n in range(1, 8)]
    others = [chip(f"L{n}", (n, 20)) for n in range(1, 20)]
    [finding] = ask(reference_doubled, *others, *doubled, *map(second, doubled))
    assert finding.message.startswith("7 references on more than one fitted part: C1 stands for 2 parts; C2 ")
    assert finding.message.endswith("; and 3 more references")
    assert len(finding.places) == 14


@pytest.mark.parametrize("name", ["", " ", "R?", "REF**", "U*"])
def test_parts_without_a_number_are_told(name: str) -> None:
    [finding] = ask(reference_unassigned, *OTHERS, chip(name, (10, 10)), smd_part(name, (20, 10)))
    told = f"'{name}'" if name.strip() else "none"
    assert finding.message == (f"2 parts to be fitted without a numbered reference ({told}): R_0603_1608Metric, SOIC-8")
    assert finding.consequence is Consequence.QUERY


@pytest.mark.parametrize(
    "part",
    [hole("", (5, 5)), fiducial("REF**", (5, 5)), chip("REF**", fitted=False), chip("", in_parts_list=False)],
    ids=["hole", "fiducial", "not fitted", "not listed"],
)
def test_things_that_are_not_bought_need_no_reference(part: Part) -> None:
    assert not ask(reference_unassigned, *OTHERS, part)


# --- placed, not bought


def test_a_placed_part_that_is_not_in_the_parts_list_is_told() -> None:
    left = [chip("C1", (10, 10), value="100n", in_parts_list=False), smd_part("U2", (20, 10), in_parts_list=False)]
    [finding] = ask(placed_not_bought, *OTHERS, *left)
    assert finding.message == "C1, U2 are to be placed and excluded from the parts list"
    assert finding.consequence is Consequence.QUERY


def test_a_part_with_leads_is_a_note() -> None:
    [finding] = ask(placed_not_bought, *OTHERS, through_part("J1", (10, 10), in_parts_list=False))
    assert finding.consequence is Consequence.NOTE


@pytest.mark.parametrize(
    "part",
    [
        chip("C1"),
        chip("C1", in_parts_list=False, in_placement=False),
        chip("C1", in_parts_list=False, fitted=False),
        fiducial("FID1", in_placement=True),
        hole("H1", in_placement=True),
        probe_pad("TP1", in_parts_list=False),
        chip("JP1", package="SolderJumper-2_P1.3mm_Open", in_parts_list=False),
        chip("NT1", package="NetTie-2_SMD_Pad0.5mm", in_parts_list=False),
    ],
    ids=lambda part: f"{part.reference} {part.in_placement}",
)
def test_what_is_bought_or_never_bought_passes(part: Part) -> None:
    assert not ask(placed_not_bought, *OTHERS, part)


def test_a_part_that_the_given_list_names_is_bought() -> None:
    given = PartsList(source="list.csv", lines=(PartsLine(references=("C1",), line=2),))
    assert not ask(placed_not_bought, chip("C1", in_parts_list=False), parts=given)
    assert ask(placed_not_bought, chip("C2", in_parts_list=False), parts=given)


# --- do-not-fit in words only


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ({"value": "DNP"}, "the value 'DNP'"),
        ({"value": "10k (do not populate)"}, "the value '10k (do not populate)'"),
        ({"value": "10k", "fields": {"DNP": "1"}}, "the field 'DNP'"),
        ({"value": "10k", "fields": {"Do Not Fit": "yes"}}, "the field 'Do Not Fit'"),
        ({"value": "10k", "fields": {"DNP": "0"}}, ""),
        ({"value": "10k", "fields": {"DNP": ""}}, ""),
        ({"value": "NC"}, ""),
        ({"value": "100nF"}, ""),
        ({"value": "DNP", "fitted": False}, ""),
        ({"value": "DNP", "in_parts_list": False}, ""),
        ({"value": "10k", "fields": {"Description": "Not Populated"}}, "the field 'Description'"),
        ({"value": "10k", "fields": {"Comment": "DNP"}}, "the field 'Comment'"),
        ({"value": "10k", "fields": {"Description": "not fitted where U2 is"}}, ""),
        ({"value": "10k", "fields": {"Comment": "NC"}}, ""),
        ({"value": "10k", "fields": {"Variant B": "DNP"}}, ""),
    ],
)
def test_what_is_left_out_only_in_words(more, where: str) -> None:
    found = ask(do_not_fit_unset, *OTHERS, chip("R7", (30, 30), **more))
    if not where:
        assert found == []
        return
    [finding] = found
    assert finding.consequence is Consequence.QUERY
    assert finding.message == f"R7 is to be fitted by the flags, and not by {where}"


@pytest.mark.parametrize("more", [{"value": "DNP"}, {"fields": {"Description": "Not Populated"}}])
def test_what_no_file_names_and_words_leave_out_is_a_note(more) -> None:
    more = {"in_parts_list": False, "in_placement": False, "mount": Mount.SURFACE, **more}
    [finding] = ask(do_not_fit_unset, *OTHERS, chip("C7", (30, 30), **more))
    assert finding.consequence is Consequence.NOTE
    assert finding.message.startswith(
        "C7, excluded from parts list and placement file, is to be fitted by the flags, and not by the "
    )
    assert not ask(do_not_fit_unset, *OTHERS, chip("C7", (30, 30), **{**more, "fitted": False}))
    assert not ask(do_not_fit_unset, *OTHERS, chip("C7", (30, 30), **{**more, "mount": Mount.OTHER}))
    assert not ask(do_not_fit_unset, *OTHERS, chip("C7", (30, 30), **{**more, "value": "10k", "fields": {}}))
