# SPDX-License-Identifier: MIT
"""The command line with a reader of hand-made boards: options, outputs, exit codes, error lines."""

from __future__ import annotations

import gc
import io
import json
import os
import subprocess
import sys
import weakref
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from lineworthy import Board, InputError, Sheet, cli, load
from lineworthy.checks import CHECKS
from lineworthy.model import Outline
from lineworthy.progress import ProgressBar

GOOD = Board(name="good", outline=Outline(shapely.box(0, 0, 120, 120)))
OPEN = Board(name="open")


def read(path: str, progress: Callable[[float], None]) -> Board:
    progress(0.5)
    stem = Path(path).stem
    if stem == "broken":
        raise InputError(path, "not a board", "line 3")
    return GOOD if stem == "good" else OPEN


def run(*argv: str) -> int:
    return cli.main(argv, read)


def test_review_prints_the_verdict_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "open.kicad_pcb", "--only", "bare-board") == 1
    out, err = capsys.readouterr()
    assert "On hold" in out.splitlines()[0] + out.splitlines()[1]
    assert "bare-board/outline-open" in out
    assert "\033" not in out
    assert err == ""


@pytest.mark.parametrize(
    ("fail_on", "board", "code"),
    [("hold", "open", 1), ("query", "open", 1), ("note", "open", 1), ("never", "open", 0), ("hold", "good", 0)],
)
def test_exit_code_follows_fail_on(fail_on: str, board: str, code: int) -> None:
    assert run("review", f"{board}.kicad_pcb", "--only", "bare-board/outline-open", "--fail-on", fail_on) == code


def test_only_and_skip_choose_checks(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "open.kicad_pcb", "--only", "bare-board", "--skip", "bare-board/outline-open") == 0
    assert "[bare-board/outline-open]" not in capsys.readouterr().out


def test_json_goes_to_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    run("review", "open.kicad_pcb", "--format", "json")
    data = json.loads(capsys.readouterr().out)
    assert any(finding["check"] == "bare-board/outline-open" for finding in data["findings"])


def test_reports_are_written_per_board_and_format(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    boards = ["a/good.kicad_pcb", "b/good.kicad_pcb", "open.kicad_pcb"]
    formats = ["--format", "html", "--format", "json"]
    assert run("review", *boards, *formats, "--out", str(tmp_path / "new" / "reports")) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert sorted(path.name for path in (tmp_path / "new" / "reports").iterdir()) == [
        "good-2.html",
        "good-2.json",
        "good.html",
        "good.json",
        "index.html",
        "open.html",
        "open.json",
    ]
    assert err.count("wrote") == 7
    index = (tmp_path / "new" / "reports" / "index.html").read_text(encoding="utf-8")
    assert 'good-2.html"' in index


@pytest.mark.parametrize("format_name", ["json", "html"])
def test_a_board_is_let_go_before_the_next_is_read(format_name: str, tmp_path: Path) -> None:
    """Or the memory that a folder of large boards takes would grow with each."""
    gone: list[weakref.ref[Board]] = []
    kept: list[int] = []

    def read_anew(path: str, progress: Callable[[float], None]) -> Board:
        gc.collect()
        kept.append(sum(board() is not None for board in gone))
        made = replace(GOOD, name=Path(path).stem)
        gone.append(weakref.ref(made))
        return made

    boards = [f"{name}.kicad_pcb" for name in "abc"]
    cli.main(["review", *boards, "--format", format_name, "--out", str(tmp_path)], read_anew)
    assert kept == [0, 0, 0]


def test_a_broken_board_is_one_line_and_the_others_are_reviewed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "broken.kicad_pcb", "good.kicad_pcb", "--only", "bare-board") == 2
    out, err = capsys.readouterr()
    assert err == "lineworthy: broken.kicad_pcb: line 3: not a board\n"
    assert "Lineworthy" in out


@pytest.mark.parametrize(
    ("argv", "expected"),
    [
        (["review", "x", "--only", "fidducials"], "no check or area is called 'fidducials'; nearest is 'fiducials'"),
        (["review", "x", "--sheet", "nowhere.toml"], "nowhere.toml: cannot be read"),
        (["review", "x", "--format", "html", "--format", "json"], "say where with --out DIR"),
        (["review", "x", "y", "--format", "json"], "say where with --out DIR"),
        (["explain", "fiducials/few"], "no check is called 'fiducials/few'; nearest is 'fiducials/too-few'"),
        (["sheet", "nowhere.toml"], "nowhere.toml: cannot be read"),
        ([], "COMMAND ('lineworthy --help' says what there is)"),
        (["revew", "x"], "'revew'"),
        (["review"], "BOARD ('lineworthy review --help' says what there is)"),
        (["review", "x", "--bogus"], "--bogus"),
        (["review", "x", "--fail-on", "a\nb"], "argument --fail-on"),
        (["review", "x", "--build", "0"], "argument --build: '0' is no whole number of 1 or more"),
        (["review", "x", "--out", ""], "argument --out: a file name is empty"),
        (["release", "x", "y", "--manifest", " "], "argument --manifest: a file name is empty"),
        (["compare", "x", "y", "--out", ""], "argument --out: a file name is empty"),
        (["probes", "x", "--out", ""], "argument --out: a file name is empty"),
        (["supply", "x", "--out", ""], "argument --out: a file name is empty"),
        (["sheet", ""], "argument F: a file name is empty"),
        (["review", ""], "argument BOARD: a file name is empty"),
        (["review", "x", "--sheet", ""], "argument --sheet: a file name is empty"),
    ],
)
def test_wrong_use_is_one_line_and_exit_2(argv: list[str], expected: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*argv) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert expected in err


def test_unwritable_place_is_one_line_and_leaves_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("in the way")
    assert run("review", "good.kicad_pcb", "--format", "json", "--out", str(tmp_path / "file")) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_a_crashed_check_is_exit_2(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    from dataclasses import replace

    from lineworthy.review import review

    def crash(board: Board) -> None:
        raise KeyError("x")

    broken = tuple(replace(item, ask=crash, inputs=("board",)) for item in CHECKS[:1])
    monkeypatch.setattr("lineworthy.cli.review.review", lambda board, sheet, **_: review(board, sheet, checks=broken))
    assert run("review", "good.kicad_pcb") == 2
    out, err = capsys.readouterr()
    assert "fault of lineworthy" in err
    assert "Traceback" not in out + err


@pytest.mark.parametrize("item", CHECKS, ids=lambda item: item.id)
def test_explain_says_why_and_what_to_do(item, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("explain", item.id) == 0
    out = capsys.readouterr().out
    assert out.startswith(item.id)
    for title in ("Why it matters", "What to do", "Blind spots", "Source"):
        assert title in out


def test_explain_lists_all_checks(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("explain") == 0
    out = capsys.readouterr().out
    assert [line.split()[0] for line in out.splitlines()] == [item.id for item in CHECKS]


@pytest.mark.parametrize("tier", ["relaxed", "standard", "dense"])
def test_printed_sheet_is_a_sheet_of_the_same_values(
    tier: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("sheet", tier) == 0
    path = tmp_path / "printed.toml"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    again, first = load(str(path)), load(tier)
    assert values(again) == values(first)
    assert [entry.source for entry in again.entries()] == [entry.source for entry in first.entries()]


def values(sheet: Sheet) -> dict[str, float]:
    return {entry.key: entry.value for entry in sheet.entries()}


def test_help_teaches_by_example(capsys: pytest.CaptureFixture[str]) -> None:
    for argv in (["--help"], ["review", "--help"]):
        with pytest.raises(SystemExit) as stop:
            run(*argv)
        assert stop.value.code == 0
        assert "lineworthy review frost-alarm.kicad_pcb" in capsys.readouterr().out


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_appears_only_on_a_terminal_and_only_after_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr("lineworthy.progress.time.monotonic", lambda: now[0])
    terminal, pipe = Terminal(), io.StringIO()
    bars = [ProgressBar(terminal), ProgressBar(pipe)]
    for bar in bars:
        bar.show(0.1, "quick")
    assert terminal.getvalue() == ""
    now[0] += 1.5
    for bar in bars:
        bar.show(0.5, "reading x")
        bar.clear()
    assert "============............ reading x" in terminal.getvalue()
    assert terminal.getvalue().endswith("\r\033[K")
    assert pipe.getvalue() == ""


def test_progress_shows_a_hostile_name_on_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lineworthy.progress.PATIENCE_S", -1.0)
    monkeypatch.setattr("lineworthy.progress.shutil.get_terminal_size", lambda: os.terminal_size((60, 20)))
    terminal = Terminal()
    ProgressBar(terminal).show(0.5, "reading \033[2J\n" + 50 * "x")
    (line,) = terminal.getvalue().split("\r\033[K")[1:]
    assert len(line) < 60
    assert line.isprintable()


def test_colour_only_on_a_terminal_and_not_with_no_color(monkeypatch: pytest.MonkeyPatch) -> None:
    for no_color, coloured in (("", True), ("1", False)):
        terminal = Terminal()
        monkeypatch.setattr("sys.stdout", terminal)
        monkeypatch.setenv("NO_COLOR", no_color)
        run("review", "open.kicad_pcb", "--only", "bare-board")
        assert ("\033[" in terminal.getvalue()) is coloured


def test_nothing_asked_is_not_nothing_found(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "good.kicad_pcb", "--only", "fiducials", "--skip", "fiducials") == 2
    assert capsys.readouterr() == ("", "lineworthy: --only and --skip leave no check to ask\n")


def test_a_name_with_control_characters_stays_on_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        run("review", "a\n\033[31mb.kicad_pcb", "--out", str(tmp_path), "--format", "json", "--fail-on", "never") == 0
    )
    err = capsys.readouterr().err
    assert "\033" not in err
    assert len(err.splitlines()) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["a__[31mb.json"]


def test_a_format_asked_for_twice_is_written_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "good.kicad_pcb", "--format", "json", "--format", "json", "--fail-on", "never") == 0
    assert json.loads(capsys.readouterr().out)["board"]["name"] == "good"


def test_a_report_over_a_link_goes_where_the_link_points(tmp_path: Path) -> None:
    kept = tmp_path / "kept.json"
    kept.write_text("old", encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    (out / "good.json").symlink_to(kept)
    run("review", "good.kicad_pcb", "--format", "json", "--out", str(out))
    assert (out / "good.json").is_symlink()
    assert json.loads(kept.read_text(encoding="utf-8"))["board"]["name"] == "good"


def test_an_area_in_capitals_is_named_as_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("review", "good.kicad_pcb", "--only", "FIDUCIALS") == 2
    assert "nearest is 'fiducials'" in capsys.readouterr().err


def test_an_unknown_sheet_names_the_built_in_ones(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("sheet", "normal") == 2
    assert "built-in sheets are relaxed, standard, dense" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_one_line() -> None:
    code = (
        "import sys, shapely; from lineworthy import Board, cli; from lineworthy.model import Outline\n"
        "board = Board(name='good', outline=Outline(shapely.box(0, 0, 120, 120)))\n"
        "sys.exit(cli.main(['review', 'good.kicad_pcb'], lambda path, progress: board))\n"
    )
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run([sys.executable, "-c", code], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "lineworthy: the output cannot be written: No space left on device\n"


@pytest.mark.parametrize(
    "argv",
    [
        ("review", "good.kicad_pcb", "--out"),
        ("compare", "good.kicad_pcb", "open.kicad_pcb", "--out"),
        ("probes", "good.kicad_pcb", "--out"),
        ("panel", "good.kicad_pcb", "--out"),
        ("supply", "good.kicad_pcb", "--out"),
        ("release", "good.kicad_pcb", "release", "--manifest"),
    ],
    ids=lambda argv: argv[0],
)
def test_a_file_where_a_folder_is_wanted_is_told_before_any_work(
    argv: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("in the way")
    assert run(*argv, str(tmp_path / "file")) == 2
    assert capsys.readouterr() == ("", f"lineworthy: {tmp_path}/file: cannot be written into: a file, not a folder\n")
