# SPDX-License-Identifier: MIT
"""``lineworthy compare`` on hand-made boards: what it says, writes, and returns."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

import build
from lineworthy import Board, InputError, cli


def read(path: str, progress: Callable[[float], None]) -> Board:
    progress(1.0)
    stem = Path(path).stem
    if stem == "broken":
        raise InputError(path, "not a board", "line 3")
    value = "1u" if stem == "new" else "100n"
    text = "\x1b[31m<img src=x onerror=y>" if stem == "hostile" else "REV A"
    parts = (build.chip("C12", (20, 10), value=value),)
    return build.board(parts=parts, markings=(build.marking(text, (12, 25)),), name=stem)


def run(*argv: str) -> int:
    return cli.main(["compare", *argv], read)


def test_equal_boards_are_code_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("old.kicad_pcb", "same.kicad_pcb") == 0
    assert "no difference" in capsys.readouterr().out


def test_a_difference_is_told_with_its_place_and_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("old.kicad_pcb", "new.kicad_pcb") == 1
    assert capsys.readouterr().out == "C12 value 100n to 1u  [20.00, 10.00, top]\n"


def test_json_holds_both_digests(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("old.kicad_pcb", "new.kicad_pcb", "--format", "json") == 1
    data = json.loads(capsys.readouterr().out)
    assert data["old"]["digest"] != data["new"]["digest"]
    assert [change["message"] for change in data["changes"]] == ["C12 value 100n to 1u"]
    assert data["changes"][0]["place"]["side"] == "top"


def test_hostile_text_reaches_neither_terminal_nor_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("old.kicad_pcb", "hostile.kicad_pcb", "--out", str(tmp_path)) == 1
    assert "\x1b" not in capsys.readouterr().out
    page = (tmp_path / "hostile-changes.html").read_text(encoding="utf-8")
    assert "<img" not in page
    assert "&lt;img src=x" in page


def test_a_broken_board_is_one_line_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("old.kicad_pcb", "broken.kicad_pcb", "--out", str(tmp_path / "out")) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", "lineworthy: broken.kicad_pcb: line 3: not a board\n")
    assert not (tmp_path / "out").exists()
