# SPDX-License-Identifier: MIT
"""TOML that people write: what is wrong with it is one line with file, place and reason, in every file that is TOML."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lineworthy import cli, concessions, project, sheet
from lineworthy.errors import InputError
from lineworthy.model import Board
from lineworthy.tomlfile import parsed, quoted

READERS: list[Callable[[Path], object]] = [lambda path: sheet.load(str(path)), project.load, concessions.load]

WRONG = {
    "no TOML": ("a = 1\nx = = 1\n", "line 2, column 5: not TOML: "),
    "thousands of digits": ("# 12345\n[solder]\nstencil_mm = 1" + 5000 * "0", "a whole number"),
    "hundreds of digits": ("[fiducials]\nper_side_min_count = 1" + 400 * "0", "fiducials.per_side_min_count: a whole"),
    "a number of letters": ("a.b = [1, 0x" + 5000 * "f" + "]", "a.b.1: a whole number of more than 64 bits"),
    "negative": ("a = -9223372036854775809", "a: a whole number of more than 64 bits"),
    "dotted without end": ("[" + 5000 * "a." + "a]", "a.a: nested more than 20 deep"),
    "lists without end": ("a = " + 5000 * "[", "not TOML that can be read: nested too deep"),
    "lists within lists": ("a = " + 50 * "[" + 50 * "]", "nested more than 20 deep"),
    "a name that turns": ('"a\\nb" = 0x' + 20 * "f", "'a\\nb': a whole number"),
}


@pytest.mark.parametrize("read", READERS, ids=["sheet", "settings", "concessions"])
@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_one_line(tmp_path: Path, read: Callable[[Path], object], what: str) -> None:
    text, said = WRONG[what]
    path = tmp_path / "ours.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read(path)
    message = str(caught.value)
    assert said in message
    assert message.startswith(f"{path}: ")
    assert message.isprintable()
    assert len(message) < len(str(path)) + 200


@pytest.mark.skipif(not hasattr(sys, "get_int_max_str_digits"), reason="this Python reads numbers of any length")
def test_a_number_that_python_does_not_read_is_told_with_its_line() -> None:
    with pytest.raises(InputError, match=r"^ours: line 3: a whole number with too many digits$"):
        parsed("# 12345\n[solder]\nstencil_mm = 1" + 5000 * "0" + "\n", "ours")


def test_whole_numbers_of_64_bits_are_numbers() -> None:
    ends = {"low": -(2**63), "high": 2**63 - 1}
    assert parsed(f"low = {ends['low']}\nhigh = {ends['high']}", "") == ends


@given(st.text())
@example("\U000e0041 \U0010ffff \x00 \x85 \u2028 \\U00000041 \"quoted\" ''' \r\n")
def test_a_text_comes_back_as_it_was(text: str) -> None:
    written = quoted(text)
    assert written.isprintable()
    assert parsed(f"text = {written}", "") == {"text": text}


def test_half_of_a_surrogate_pair_is_a_question_mark() -> None:
    assert quoted("a\ud800") == '"a?"'


def test_a_sheet_is_printed_so_that_it_can_be_read_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = 'Brno \U000e0041 "two\x7f"'
    path = tmp_path / "ours.toml"
    path.write_text(f"[sheet]\nname = {quoted(name)}\n", encoding="utf-8")
    assert cli.main(["sheet", str(path)], lambda path, progress: Board()) == 0
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    assert sheet.load(str(path)).name == name
