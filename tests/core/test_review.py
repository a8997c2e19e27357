# SPDX-License-Identifier: MIT
"""The engine: binding inputs, order, fingerprints, not run, and a check that fails."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lineworthy import Board, Consequence, Place, UnknownCheckError, review
from lineworthy.inputs import Inputs
from lineworthy.model import Net, Pad, PadKind, Part, Side
from lineworthy.registry import Answers, check
from lineworthy.review import find, select
from lineworthy.sheet import built_in

PAD = Pad(uid="p", number="1", at=(1.0, 2.0), kind=PadKind.SURFACE, net="GND")
PART = Part(uid="u", reference="U1", at=(1.0, 2.0), package="QFN", pads=(PAD,))
BOARD = Board(name="x", parts=(PART,))


@check("spacing/parts-named", limits=("spacing.chip_min_mm",))
def parts_named(board, sheet) -> Answers:
    for part in board.parts:
        yield parts_named.finding(
            Consequence.QUERY,
            f"{part.reference} has a name",
            items=[part],
            places=[Place(part.at, part.side, part.reference)],
            measured=0.25,
            limit=sheet.spacing.chip_min_mm,
            limit_key="spacing.chip_min_mm",
        )


@check("identity/pads-seen")
def pads_seen(board) -> Answers:
    for part, pad in board.pads:
        yield pads_seen.finding(Consequence.NOTE, "a pad", items=[(part, pad)])
    yield pads_seen.finding(Consequence.HOLD, "a hold")
    yield pads_seen.not_run("no parts list", "give --parts FILE")


@check("supply/always-fails")
def always_fails(board) -> Answers:
    raise ZeroDivisionError("by design")
    yield


CHECKS = (parts_named, pads_seen, always_fails)


def test_inputs_are_bound_by_name_and_findings_sorted_by_area_then_gravity() -> None:
    result = review(BOARD, checks=CHECKS[:2])
    assert [(f.check, f.consequence.value) for f in result.findings] == [
        ("identity/pads-seen", "hold"),
        ("identity/pads-seen", "note"),
        ("spacing/parts-named", "query"),
    ]
    assert result.checks == ("spacing/parts-named", "identity/pads-seen")
    assert [(n.check, n.missing, n.how) for n in result.not_run] == [
        ("identity/pads-seen", "No parts list", "Give --parts FILE")
    ]


def test_finding_carries_measurement_limit_and_ids() -> None:
    result = review(BOARD, checks=[parts_named])
    (finding,) = result.findings
    assert (finding.measured, finding.limit, finding.unit) == (0.25, built_in().spacing.chip_min_mm, "mm")
    assert finding.uids == ("u",)
    (note,) = (f for f in review(BOARD, checks=[pads_seen]).findings if f.consequence is Consequence.NOTE)
    assert note.uids == ("u", "p"), "part before its pad"
    assert note.unit == ""


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({"at": (50.0, 60.0)}, True),
        ({"rotation": 90.0}, True),
        ({"side": Side.BOTTOM}, True),
        ({"package": "BGA"}, False),
        ({"value": "other"}, False),
        ({"reference": "U2"}, False),
        ({"uid": "v"}, False),
    ],
)
def test_fingerprint_of_a_part(change: dict, same: bool) -> None:
    before = review(BOARD, checks=[parts_named]).findings[0].fingerprint
    changed = replace(BOARD, parts=(replace(PART, **change),))
    after = review(changed, checks=[parts_named]).findings[0].fingerprint
    assert (before == after) is same


@pytest.mark.parametrize(("change", "same"), [({"at": (9.0, 9.0)}, True), ({"net": "VCC"}, False)])
def test_fingerprint_of_a_pad(change: dict, same: bool) -> None:
    def prints(pad: Pad) -> set[str]:
        board = replace(BOARD, parts=(replace(PART, pads=(pad,)),))
        return {f.fingerprint for f in review(board, checks=[pads_seen]).findings}

    assert (prints(PAD) == prints(replace(PAD, **change))) is same


def test_fingerprint_differs_by_check_detail_and_net() -> None:
    ours = [
        parts_named.finding(Consequence.NOTE, "m", items=[PART]),
        pads_seen.finding(Consequence.NOTE, "m", items=[PART]),
        parts_named.finding(Consequence.NOTE, "m", items=[PART], detail="top"),
        parts_named.finding(Consequence.NOTE, "m", items=[Net("GND")]),
        parts_named.finding(Consequence.NOTE, "m", items=[Net("VCC")]),
    ]
    assert len({f.fingerprint for f in ours}) == len(ours)
    assert ours[0].fingerprint == parts_named.finding(Consequence.HOLD, "other words", items=[PART]).fingerprint


def test_item_order_does_not_change_a_fingerprint() -> None:
    other = replace(PART, uid="w", reference="U9")
    one = parts_named.finding(Consequence.NOTE, "m", items=[PART, other])
    two = parts_named.finding(Consequence.NOTE, "m", items=[other, PART])
    assert one.fingerprint == two.fingerprint


def test_a_failing_check_is_contained_and_reported() -> None:
    result = review(BOARD, checks=CHECKS)
    assert [crash.check for crash in result.crashed] == ["supply/always-fails"]
    assert "ZeroDivisionError: by design" in result.crashed[0].error
    assert len(result.findings) == 3
    assert result.verdict.startswith("Incomplete")


def test_a_supply_run_that_fails_takes_its_checks_with_it_and_no_others(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(self: Inputs) -> None:
        raise OverflowError("by design")

    monkeypatch.setattr(Inputs, "supply", property(fails))
    result = review(BOARD)
    assert {crash.check.split("/")[0] for crash in result.crashed} == {"supply"}
    assert result.findings
    assert result.supply is None


def test_a_failing_check_raises_in_strict_mode() -> None:
    with pytest.raises(ZeroDivisionError):
        review(BOARD, checks=CHECKS, strict=True)


def test_progress_is_told_before_each_check() -> None:
    told: list[tuple[int, int, str]] = []
    review(BOARD, checks=CHECKS, progress=lambda *args: told.append(args))
    assert told == [(0, 3, "spacing/parts-named"), (1, 3, "identity/pads-seen"), (2, 3, "supply/always-fails")]


@pytest.mark.parametrize(
    ("only", "skip", "left"),
    [
        ((), (), ["spacing/parts-named", "identity/pads-seen", "supply/always-fails"]),
        (("identity",), (), ["identity/pads-seen"]),
        (("spacing/parts-named", "identity"), (), ["spacing/parts-named", "identity/pads-seen"]),
        ((), ("supply",), ["spacing/parts-named", "identity/pads-seen"]),
        (("identity",), ("identity/pads-seen",), []),
        (("release",), (), []),
    ],
)
def test_selection_by_area_and_by_check(only: tuple, skip: tuple, left: list) -> None:
    assert [item.id for item in select(CHECKS, only, skip)] == left


def test_an_unknown_name_is_an_error_with_the_nearest() -> None:
    with pytest.raises(UnknownCheckError, match="'identty'; nearest is 'identity'"):
        select(CHECKS, ["identty"], [])
    with pytest.raises(UnknownCheckError, match="'spacing/part-named'; nearest is 'spacing/parts-named'"):
        find("spacing/part-named", CHECKS)


@pytest.mark.parametrize(
    ("consequences", "start"),
    [
        ((), "Lineworthy: nothing found."),
        ((Consequence.NOTE,), "Lineworthy: nothing stops or delays the job, 1 note."),
        ((Consequence.QUERY, Consequence.NOTE), "Expect questions: 1 query"),
        (
            (Consequence.HOLD, Consequence.QUERY, Consequence.QUERY),
            "On hold: 1 finding would stop the job, 2 more queries",
        ),
    ],
)
def test_verdict_says_what_the_factory_would_do(consequences: tuple, start: str) -> None:
    @check("identity/as-told")
    def as_told(board) -> Answers:
        for n, consequence in enumerate(consequences):
            yield as_told.finding(consequence, f"finding {n}", detail=str(n))

    assert review(BOARD, checks=[as_told]).verdict.startswith(start)


def test_an_empty_board_is_on_hold_for_want_of_an_outline() -> None:
    result = review(Board(name="empty"), strict=True)
    assert [f.check for f in result.findings if f.consequence is Consequence.HOLD] == ["bare-board/outline-open"]


def test_what_was_not_run_is_told_in_sentences() -> None:
    """Whatever a check lacks: a person reads ``No parts list. Give it with ...``."""
    for board in (Board(name="empty"), BOARD):
        told = review(board, strict=True).not_run
        assert len(told) > 40
        for item in told:
            assert item.missing.startswith("No ")
            assert item.how[:1].isupper()
            assert not item.how.endswith(".")
