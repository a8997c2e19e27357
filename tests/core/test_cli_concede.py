# SPDX-License-Identifier: MIT
"""The command line of a team: settings and files beside the board, conceding and withdrawing, every refusal."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from build import board, chip
from lineworthy import Board, InputError, cli, concessions
from lineworthy.concessions import Concession
from lineworthy.model import TitleBlock

MADE = replace(
    board(parts=(chip("R1", (20, 20)), chip("R2", (20.4, 20))), title=TitleBlock(revision="B")),
    outline=Board(name="").outline,
)
OPEN = "bare-board/outline-open"


def read(path: str, progress: Callable[[float], None]) -> Board:
    if Path(path).stem == "broken":
        raise InputError(path, "not a board")
    return MADE


def run(*argv: str) -> int:
    return cli.main(argv, read)


@pytest.fixture
def pcb(tmp_path: Path) -> Path:
    return tmp_path / "frost.kicad_pcb"


def findings(pcb: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    run("review", str(pcb), "--format", "json", "--fail-on", "never", "--today", "2026-03-14")
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    return data


def print_of(pcb: Path, capsys: pytest.CaptureFixture[str], check: str = OPEN) -> str:
    return str(next(f["fingerprint"] for f in findings(pcb, capsys)["findings"] if f["check"] == check))


def on_file(pcb: Path) -> tuple[Concession, ...]:
    return concessions.load(concessions.beside(pcb))


WHO = ("--reason", "placed by hand", "--name", "R. Novak", "--today", "2026-03-14")


# -- conceding


def test_a_hold_that_is_conceded_lets_the_gate_open(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    only = ("--only", OPEN)
    assert run("review", str(pcb), *only) == 1
    mark = print_of(pcb, capsys)
    assert run("concede", str(pcb), mark, *WHO) == 0
    out, err = capsys.readouterr()
    assert out.startswith("hold: ")
    assert "conceded by R. Novak on 2026-03-14, for revision B: placed by hand" in out
    assert err == f"wrote {pcb.parent / 'frost.concessions.toml'}\n"
    (kept,) = on_file(pcb)
    assert (kept.check, kept.fingerprint, kept.reason, kept.name) == (OPEN, mark, "placed by hand", "R. Novak")
    assert (kept.date, kept.revision, kept.expires) == (date(2026, 3, 14), "B", None)
    assert kept.finding in out
    assert run("review", str(pcb), *only) == 0
    assert "1 conceded" in capsys.readouterr().out.splitlines()[0]


def test_a_concession_until_a_day_is_for_any_revision(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mark = print_of(pcb, capsys)
    assert run("concede", str(pcb), mark.upper()[:6], *WHO, "--expires", "2026-03-14") == 0
    (kept,) = on_file(pcb)
    assert (kept.revision, kept.expires) == (None, date(2026, 3, 14))
    assert run("review", str(pcb), "--only", OPEN, "--today", "2026-03-14") == 0
    assert run("review", str(pcb), "--only", OPEN, "--today", "2026-03-15") == 1


def test_conceding_again_renews(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mark = print_of(pcb, capsys)
    run("concede", str(pcb), mark, *WHO, "--expires", "2026-03-20")
    assert run("concede", str(pcb), mark, "--reason", "still", "--name", "M. Adu", "--today", "2026-05-01") == 0
    assert [(c.reason, c.revision) for c in on_file(pcb)] == [("still", "B")]


def test_several_at_once_and_one_named_twice(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    marks = [f["fingerprint"] for f in findings(pcb, capsys)["findings"]][:2]
    assert run("concede", str(pcb), *marks, marks[0][:8], *WHO) == 0
    assert sorted(c.fingerprint for c in on_file(pcb)) == sorted(marks)


def test_the_fingerprints_are_shown_when_asked(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mark = print_of(pcb, capsys)
    run("review", str(pcb))
    assert mark not in capsys.readouterr().out
    run("review", str(pcb), "--fingerprints")
    assert f"fingerprint {mark}" in capsys.readouterr().out
    run("review", str(pcb), "--fingerprints", "--format", "text", "--out", str(pcb.parent / "out"))
    assert mark in (pcb.parent / "out" / "frost.txt").read_text()


# -- withdrawing


def test_withdrawing_needs_no_board(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = pcb.with_name("broken.kicad_pcb")
    concessions.grant(concessions.beside(broken), [Concession(OPEN, "abcd00", "r", "R. Novak", date(2026, 3, 14), "B")])
    assert run("concede", str(broken), "abcd", "--withdraw") == 0
    assert capsys.readouterr().out == f"withdrawn: {OPEN}, conceded by R. Novak on 2026-03-14, for revision B\n"
    assert on_file(broken) == ()


# -- every refusal


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (("abcd",), "a concession needs --reason and --name"),
        (("abcd", "--reason", "r"), "a concession needs --reason and --name"),
        (("abcd", "--reason", "  ", "--name", "n"), "a concession needs --reason and --name"),
        (("abcd", *WHO, "--expires", "2026-03-13"), "--expires 2026-03-13 is past already"),
        (("abc", *WHO), "'abc' is no fingerprint: 4 to 16 of 0-9 and a-f"),
        (("abcd\n\x1b[31m", *WHO), "is no fingerprint"),
        (("wxyz", *WHO), "'wxyz' is no fingerprint"),
        (("0000000000000000", *WHO), "no finding has the fingerprint 0000000000000000"),
        (("abcd", "--withdraw"), "frost.concessions.toml: there is no concession on file"),
        (("abcd", "--withdraw", "--name", "n"), "--withdraw takes no --reason, --name or --expires"),
        (("abcd", *WHO, "--sheet", "nowhere.toml"), "nowhere.toml"),
        (("abcd", *WHO, "--parts", "gone.csv"), "gone.csv"),
    ],
)
def test_a_refusal_is_one_line_and_writes_nothing(
    pcb: Path, capsys: pytest.CaptureFixture[str], argv: tuple[str, ...], said: str
) -> None:
    assert run("concede", str(pcb), *argv) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert err.startswith("lineworthy: ")
    assert len(err.splitlines()) == 1
    assert list(pcb.parent.iterdir()) == []


def test_a_board_that_cannot_be_read_and_a_damaged_file(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("concede", str(pcb.with_name("broken.kicad_pcb")), "abcd", *WHO) == 2
    file = concessions.beside(pcb)
    file.write_text("[[concession]]\n")
    for argv in (("abcd", *WHO), ("abcd", "--withdraw")):
        capsys.readouterr()
        assert run("concede", str(pcb), *argv) == 2
        assert "frost.concessions.toml: concession 1: " in capsys.readouterr().err
    assert file.read_text() == "[[concession]]\n"


def test_a_beginning_that_several_share_is_not_clear(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = [Concession(OPEN, mark, "r", "n", date(2026, 3, 14), "B") for mark in ("abcd00", "abcd11")]
    concessions.grant(concessions.beside(pcb), kept)
    assert run("concede", str(pcb), "abcd", "--withdraw") == 2
    assert f"abcd is not clear: abcd00 ({OPEN}), abcd11 ({OPEN})" in capsys.readouterr().err
    assert len(on_file(pcb)) == 2
    assert run("concede", str(pcb), "abcd1", "--withdraw") == 0
    assert [c.fingerprint for c in on_file(pcb)] == ["abcd00"]


@pytest.mark.parametrize(
    "argv", [("--expires", "soon"), ("--today", "14.3.2026"), ("--build", "0"), ("--build", "x"), ("--parts", "")]
)
def test_wrong_values_are_refused_by_name(pcb: Path, capsys: pytest.CaptureFixture[str], argv: tuple[str, str]) -> None:
    assert run("concede", str(pcb), "abcd", *argv) == 2
    assert f"argument {argv[0]}" in capsys.readouterr().err


# -- settings and files beside the board


def settings(pcb: Path, text: str) -> None:
    pcb.with_suffix(".lineworthy.toml").write_text(text)


def test_the_settings_sheet_is_used_and_the_option_wins(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings(pcb, 'sheet = "dense"')
    assert "dense" in findings(pcb, capsys)["sheet"]["name"]
    run("review", str(pcb), "--format", "json", "--sheet", "relaxed")
    assert "relaxed" in json.loads(capsys.readouterr().out)["sheet"]["name"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('sheet = "ours.toml"', "frost.lineworthy.toml: sheet: "),
        ('sheet = "denser"', "frost.lineworthy.toml: sheet: "),
        ('parts_list = "parts.csv"', "frost.lineworthy.toml: parts_list: "),
        ("build_quantity = 0", "frost.lineworthy.toml: build_quantity: "),
        ("x = 1", "frost.lineworthy.toml: unknown entry 'x'"),
    ],
)
def test_settings_that_cannot_be_followed_are_one_line(
    pcb: Path, capsys: pytest.CaptureFixture[str], text: str, said: str
) -> None:
    settings(pcb, text)
    assert run("review", str(pcb)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert len(err.splitlines()) == 1


def test_settings_under_another_name_are_told_by_every_command(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pcb.with_name("lineworthy.toml").write_text('sheet = "dense"')
    said = f"{pcb}: lineworthy.toml is not read, the settings of frost.kicad_pcb are kept in frost.lineworthy.toml\n"
    for command in ("review", "probes", "identity"):
        run(command, str(pcb))
        first, *more = capsys.readouterr().err.splitlines(keepends=True)
        assert first == said
        assert not more or command == "probes", "which has no net to plan for"
    run("review", str(pcb), "--format", "html", "--out", str(pcb.parent))
    assert "lineworthy.toml is not read" in pcb.with_name("frost.html").read_text(encoding="utf-8")


def test_one_board_with_wrong_settings_does_not_keep_the_others_from_review(
    pcb: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings(pcb, "x = 1")
    pcb.touch()
    assert run("review", str(pcb), str(pcb.with_name("other.kicad_pcb")), "--fail-on", "never") == 2
    assert "other" not in capsys.readouterr().err


def test_files_are_given_for_one_board_only(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", str(pcb), str(pcb), "--parts", "parts.csv") == 2
    assert "are for one board" in capsys.readouterr().err


def test_a_damaged_concession_file_stops_the_review(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    concessions.beside(pcb).write_text("x = 1")
    assert run("review", str(pcb)) == 2
    assert "frost.concessions.toml: holds something else" in capsys.readouterr().err
