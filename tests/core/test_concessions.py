# SPDX-License-Identifier: MIT
"""Concessions: what they accept, for which revision, and their file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lineworthy.concessions import Concession, beside, load, match, save
from lineworthy.errors import InputError
from lineworthy.finding import Consequence, Finding

DAY = date(2026, 3, 14)
FINDING = Finding("fiducials/too-few", Consequence.HOLD, "two marks", fingerprint="aa")
OTHER = Finding("fiducials/too-few", Consequence.HOLD, "two marks", fingerprint="bb")
CONCESSION = Concession("fiducials/too-few", "aa", "placed by hand", "R. Novak", DAY, "A")


def test_accepts_its_own_finding_only() -> None:
    matched = match([FINDING, OTHER], [CONCESSION], "A")
    assert matched.conceded == (CONCESSION, None)
    assert matched.unused == ()


@pytest.mark.parametrize("revision", ["B", "", "a"])
def test_holds_for_its_revision_only(revision: str) -> None:
    matched = match([FINDING], [CONCESSION], revision)
    assert matched.conceded == (None,)
    assert matched.unused == (CONCESSION,)


def test_same_fingerprint_of_another_check_is_not_accepted() -> None:
    twin = Finding("fiducials/ring-narrow", Consequence.QUERY, "narrow", fingerprint="aa")
    assert match([twin], [CONCESSION], "A").unused == (CONCESSION,)


def test_the_newest_of_several_is_shown_and_none_is_unused() -> None:
    newer = Concession("fiducials/too-few", "aa", "again", "M. Adu", date(2026, 4, 1), "A")
    matched = match([FINDING], [newer, CONCESSION], "A")
    assert matched.conceded == (newer,)
    assert matched.unused == ()


def test_name_of_the_file() -> None:
    assert beside(Path("x/frost.alarm.kicad_pcb")) == Path("x/frost.alarm.concessions.toml")


def test_no_file_is_no_concession(tmp_path: Path) -> None:
    assert load(tmp_path / "none.toml") == ()


@given(reason=st.text(min_size=1).filter(str.strip), name=st.text(min_size=1).filter(str.strip), revision=st.text())
def test_any_text_comes_back(tmp_path_factory: pytest.TempPathFactory, reason: str, name: str, revision: str) -> None:
    path = tmp_path_factory.mktemp("concessions") / "b.concessions.toml"
    kept = Concession("fiducials/too-few", "aa", reason, name, DAY, revision)
    save(path, [kept, CONCESSION])
    assert load(path) == (kept, CONCESSION)


def test_what_toml_cannot_hold_does_not_break_the_file(tmp_path: Path) -> None:
    path = tmp_path / "b.concessions.toml"
    save(path, [Concession("a/b", "aa", "half \ud800 pair", "N", DAY)])
    assert load(path)[0].reason == "half ? pair"


WHOLE = '[[concession]]\ncheck="a/b"\nfingerprint="aa"\nreason="r"\nname="n"\ndate=2026-03-14\n'


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
        (WHOLE + WHOLE + "until=2027-01-01\n", "concession 2: unknown key 'until'"),
    ],
)
def test_damage_is_one_line_with_file_and_place(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "b.concessions.toml"
    path.write_text(text)
    with pytest.raises(InputError) as error:
        load(path)
    assert words in str(error.value)
    assert str(error.value).startswith(str(path))
    assert "\n" not in str(error.value)


def test_not_text_and_not_readable(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(b"# caf\xe9")
    with pytest.raises(InputError, match="not UTF-8"):
        load(tmp_path / "latin.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load(tmp_path)


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be written"):
        save(tmp_path / "file" / "b.concessions.toml", [CONCESSION])
