# SPDX-License-Identifier: MIT
"""Concessions: what they accept, for how long, and their file."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Optional

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lineworthy.concessions import Concession, Matched, beside, grant, load, match, save, withdraw
from lineworthy.errors import InputError
from lineworthy.finding import Consequence, Finding

DAY = date(2026, 3, 14)
LATER = date(2026, 4, 1)
FINDING = Finding("fiducials/too-few", Consequence.HOLD, "two marks", fingerprint="aa")
OTHER = Finding("fiducials/too-few", Consequence.HOLD, "two marks", fingerprint="bb")
CONCESSION = Concession("fiducials/too-few", "aa", "placed by hand", "R. Novak", DAY, "A")


def until(day: Optional[date], revision: Optional[str] = None) -> Concession:
    return Concession("fiducials/too-few", "aa", "stock", "R. Novak", DAY, revision, day)


# -- what they accept


def test_accepts_its_own_finding_only() -> None:
    assert match([FINDING, OTHER], [CONCESSION], "A") == Matched(conceded=(CONCESSION, None))


@pytest.mark.parametrize("revision", ["B", "", "a"])
def test_holds_for_its_revision_only(revision: str) -> None:
    assert match([FINDING], [CONCESSION], revision) == Matched(conceded=(None,), outdated=(CONCESSION,))


def test_one_for_a_board_without_revision_holds_for_no_other() -> None:
    nameless = Concession("fiducials/too-few", "aa", "r", "n", DAY, "")
    assert match([FINDING], [nameless], "").conceded == (nameless,)
    assert match([FINDING], [nameless], "A").outdated == (nameless,)


@pytest.mark.parametrize(("today", "holds"), [(date(2026, 3, 31), True), (LATER, True), (date(2026, 4, 2), False)])
def test_holds_through_its_last_day_whatever_the_revision(today: date, holds: bool) -> None:
    given_until = until(LATER)
    for revision in ("A", ""):
        matched = match([FINDING], [given_until], revision, today)
        assert matched == (
            Matched(conceded=(given_until,)) if holds else Matched(conceded=(None,), expired=(given_until,))
        )


def test_with_a_revision_and_a_day_it_needs_both() -> None:
    both = until(LATER, "A")
    assert match([FINDING], [both], "A", LATER).conceded == (both,)
    assert match([FINDING], [both], "B", LATER).outdated == (both,)
    assert match([FINDING], [both], "A", date(2027, 1, 1)).expired == (both,)


def test_on_an_unknown_day_one_that_expires_accepts_nothing() -> None:
    given_until = until(LATER)
    assert match([FINDING], [given_until], "A", None) == Matched(conceded=(None,), undated=(given_until,))


@pytest.mark.parametrize(
    ("accepted", "borne"),
    [(None, True), (Consequence.HOLD, True), (Consequence.QUERY, True), (Consequence.NOTE, False)],
)
def test_what_has_become_graver_is_not_accepted(accepted: Optional[Consequence], borne: bool) -> None:
    query = replace(FINDING, consequence=Consequence.QUERY)
    concession = replace(CONCESSION, consequence=accepted)
    matched = match([query], [concession], "A")
    assert matched == (Matched(conceded=(concession,)) if borne else Matched(conceded=(None,), outgrown=(concession,)))
    twins = match([replace(query, consequence=Consequence.NOTE), query], [concession], "A")
    assert twins.conceded == ((concession,) * 2 if borne else (None, None))


def test_graver_and_of_another_revision_or_expired_is_said_once() -> None:
    mild = replace(CONCESSION, consequence=Consequence.NOTE)
    assert match([FINDING], [mild], "B") == Matched(conceded=(None,), outdated=(mild,))
    late = replace(until(LATER), consequence=Consequence.NOTE)
    assert match([FINDING], [late], "A", date(2027, 1, 1)) == Matched(conceded=(None,), expired=(late,))


def test_unused_when_its_finding_is_gone_whatever_else() -> None:
    for concession in (CONCESSION, until(LATER), until(date(2020, 1, 1))):
        assert match([OTHER], [concession], "B", DAY) == Matched(conceded=(None,), unused=(concession,))


def test_nothing_is_said_about_a_check_that_did_not_run() -> None:
    assert match([], [CONCESSION], "A", undecided={"fiducials/too-few"}) == Matched()
    assert match([], [CONCESSION], "A", undecided={"fiducials/ring-narrow"}).unused == (CONCESSION,)


def test_same_fingerprint_of_another_check_is_not_accepted() -> None:
    twin = Finding("fiducials/ring-narrow", Consequence.QUERY, "narrow", fingerprint="aa")
    assert match([twin], [CONCESSION], "A").unused == (CONCESSION,)


def test_the_newest_that_holds_is_taken_and_the_others_are_not_spoken_of() -> None:
    newer = Concession("fiducials/too-few", "aa", "again", "M. Adu", LATER, "A")
    gone = until(date(2026, 3, 20))
    assert match([FINDING], [newer, CONCESSION, gone], "A", LATER) == Matched(conceded=(newer,))


# -- the file


def test_name_of_the_file() -> None:
    assert beside(Path("x/frost.alarm.kicad_pcb")) == Path("x/frost.alarm.concessions.toml")


def test_no_file_is_no_concession(tmp_path: Path) -> None:
    assert load(tmp_path / "none.toml") == ()


_TEXT = st.text(min_size=1).filter(str.strip)


@given(
    reason=_TEXT,
    name=_TEXT,
    finding=st.text(),
    revision=st.one_of(st.none(), st.text()),
    expires=st.one_of(st.none(), st.dates()),
    consequence=st.one_of(st.none(), st.sampled_from(Consequence)),
)
def test_any_text_comes_back(
    tmp_path_factory: pytest.TempPathFactory,
    reason: str,
    name: str,
    finding: str,
    revision: Optional[str],
    expires: Optional[date],
    consequence: Optional[Consequence],
) -> None:
    path = tmp_path_factory.mktemp("concessions") / "b.concessions.toml"
    if revision is None and expires is None:
        revision = ""
    kept = Concession("fiducials/too-few", "cc", reason, name, DAY, revision, expires, finding, consequence)
    save(path, [CONCESSION])
    grant(path, [kept])
    assert load(path) == (CONCESSION, kept)
    withdraw(path, [CONCESSION.key])
    assert load(path) == (kept,)


def test_what_toml_cannot_hold_does_not_break_the_file(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    grant(path, [CONCESSION])
    grant(path, [Concession("a/b", "aa", "half \ud800 pair", "N", DAY)])
    assert [c.reason for c in load(path)] == ["placed by hand", "half ? pair"]


BY_HAND = """\
# ours

# the customer knows
[[concession]]
check = 'fiducials/too-few'
fingerprint = "aa"   # two of three
reason = '''
[[placed]]
by hand'''
name = "R. Novak"
date = 2026-03-14
revision = "A"

# ask in spring
[[concession]]
check = "fiducials/too-few"
fingerprint = "bb"
reason = "r"
name = "n"
date = 2026-03-14
expires = 2026-04-01
"""


def test_granting_keeps_what_people_wrote(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    path.write_text(BY_HAND)
    new = Concession("spacing/x", "cc", "r", "n", DAY, "A")
    grant(path, [new])
    assert path.read_text().startswith(BY_HAND)
    assert load(path)[2] == new


def test_withdrawing_takes_out_the_entry_with_its_comment_only(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    plain = BY_HAND.replace("[[placed]]", "placed")
    path.write_text(plain)
    withdraw(path, [("fiducials/too-few", "aa")])
    head, tail = plain.split("# the customer knows")[0], plain[plain.index("# ask in spring") :]
    assert path.read_text() == head + tail
    withdraw(path, [("fiducials/too-few", "bb")])
    assert load(path) == ()
    assert path.read_text() == head


@pytest.mark.parametrize(
    "text",
    [
        BY_HAND,  # with a line in a text that looks like the beginning of an entry
        'concession = [{check="fiducials/too-few",fingerprint="aa",reason="r",name="n",date=2026-03-14,revision="A"},\n'
        '{check="fiducials/too-few",fingerprint="bb",reason="r",name="n",date=2026-03-14,revision="A"}]\n',
    ],
    ids=["confusing", "inline"],
)
def test_a_file_written_in_another_way_is_written_anew_and_loses_no_entry(tmp_path: Path, text: str) -> None:
    path = tmp_path / "b.concessions.toml"
    path.write_text(text)
    withdraw(path, [("fiducials/too-few", "aa")])
    assert [c.fingerprint for c in load(path)] == ["bb"]
    grant(path, [Concession("spacing/x", "cc", "r", "n", DAY, "A")])
    assert [c.fingerprint for c in load(path)] == ["bb", "cc"]


def test_granting_again_takes_the_place_of_the_one_before(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    grant(path, [CONCESSION])
    newer = Concession("fiducials/too-few", "aa", "again", "M. Adu", LATER, "B")
    grant(path, [newer])
    assert load(path) == (newer,)


def test_a_file_without_a_last_line_end_and_with_a_mark_of_its_encoding(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BY_HAND.rstrip().encode())
    grant(path, [Concession("spacing/x", "cc", "r", "n", DAY, "A")])
    assert len(load(path)) == 3


WHOLE = '[[concession]]\ncheck="a/b"\nfingerprint="aa"\nreason="r"\nname="n"\ndate=2026-03-14\nrevision="A"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[concession]", "not TOML"),
        ("x = 1", "something else"),
        ("concession = 3", "something else"),
        ("concession = [3]", "concession 1: is not a table"),
        (WHOLE.replace('reason="r"\n', ""), "concession 1: reason is missing"),
        (WHOLE.replace('"r"', '"  "'), "reason is empty"),
        (WHOLE.replace('"r"', "7"), "reason must be text"),
        (WHOLE.replace("2026-03-14", '"2026-03-14"'), "date must be a date"),
        (WHOLE.replace("2026-03-14", "2026-03-14T10:00:00"), "date must be a date"),
        (WHOLE + "expires=2026\n", "expires must be a date"),
        (WHOLE + 'consequence="grave"\n', "consequence must be one of hold, query, note"),
        (WHOLE + "consequence=[1]\n", "consequence must be one of"),
        (WHOLE.replace('revision="A"', "revision=1"), "revision must be text"),
        (WHOLE.replace('revision="A"\n', ""), "concession 1: neither revision nor expires"),
        (WHOLE + WHOLE + "until=2027-01-01\n", "concession 2: unknown key 'until'"),
    ],
)
def test_damage_is_one_line_with_file_and_place_and_nothing_is_written(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "b.concessions.toml"
    path.write_text(text)
    for act in (lambda: load(path), lambda: grant(path, [CONCESSION]), lambda: withdraw(path, [CONCESSION.key])):
        with pytest.raises(InputError) as error:
            act()
        assert words in str(error.value)
        assert str(error.value).startswith(str(path))
        assert "\n" not in str(error.value)
    assert path.read_text() == text


def test_not_text_and_not_readable(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(b"# caf\xe9")
    with pytest.raises(InputError, match="not UTF-8"):
        load(tmp_path / "latin.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load(tmp_path)


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be"):
        grant(tmp_path / "file" / "b.concessions.toml", [CONCESSION])
