# SPDX-License-Identifier: MIT
"""The command line and its streams: a reader that has gone, streams that are closed, a newer document, no near name."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from lineworthy import Board, cli
from lineworthy.cli import FAILED, INTERRUPTED, PIPE_CLOSED
from lineworthy.model import Outline

BOARD = Board(name="good", outline=Outline(shapely.box(0, 0, 120, 120)))

PROGRAM = """\
import sys, shapely
from lineworthy import Board, cli
from lineworthy.model import Outline
board = Board(name='good', outline=Outline(shapely.box(0, 0, 120, 120)))
sys.exit(cli.main(sys.argv[1:], lambda path, progress: board))
"""

COMMANDS = [["review", "good.kicad_pcb"], ["explain"], ["sheet"], ["--help"], ["review", "--help"], ["sheet", "none"]]


@pytest.mark.skipif(os.name != "posix", reason="pipes of this kind")
@pytest.mark.parametrize("argv", COMMANDS, ids=" ".join)
def test_a_reader_that_has_gone_ends_the_work_without_a_word(argv: list[str]) -> None:
    """POSIX: a program whose pipe is closed ends by SIGPIPE, which a shell reports as 128 + 13."""
    reading, writing = os.pipe()
    os.close(reading)
    errors = writing if argv[-1] == "none" else subprocess.PIPE  # this one says something on standard error only
    usual = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    call = [sys.executable, "-c", PROGRAM, *argv]
    done = subprocess.run(call, stdout=writing, stderr=errors, env=usual, text=True, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr or "") == (PIPE_CLOSED, "")


@pytest.mark.skipif(os.name != "posix", reason="needs a shell")
def test_closed_streams_are_no_fault() -> None:
    call = [sys.executable, "-c", PROGRAM, "review", "good.kicad_pcb", "--fail-on", "never"]
    done = subprocess.run(["sh", "-c", '"$@" >&- 2>&-', "sh", *call], check=False)
    assert done.returncode == 0


def test_ctrl_c_ends_the_work_without_a_trace(capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(path: str, progress: Callable[[float], None]) -> Board:
        raise KeyboardInterrupt

    assert cli.main(["review", "x"], interrupted) == INTERRUPTED
    assert capsys.readouterr() == ("", "")


@pytest.mark.skipif(os.name != "posix", reason="signals of this kind")
def test_ctrl_c_while_libraries_load_leaves_no_trace(tmp_path: Path) -> None:
    """A library that sends the signal as it is loaded stands for a person who is quick."""
    (tmp_path / "shapely.py").write_text("import os, signal, time; os.kill(os.getpid(), signal.SIGINT); time.sleep(5)")
    call = [sys.executable, "-m", "lineworthy_kicad", "--version"]
    done = subprocess.run(call, env={**os.environ, "PYTHONPATH": str(tmp_path)}, capture_output=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGINT, b"", b"")


@pytest.mark.parametrize("command", ["review", "identity", "probes", "panel"])
def test_a_document_newer_than_the_reader_is_told(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    newer = replace(BOARD, format_doubt="this document is too new")
    cli.main([command, "good.kicad_pcb"], lambda path, progress: newer)
    out, err = capsys.readouterr()
    first, *more = err.splitlines()
    assert first == "good.kicad_pcb: this document is too new"
    assert not more or command == "probes", "which has no net to plan for"
    assert ("Newer format: This document is too new." in out) is (command == "review")


@pytest.mark.parametrize("name", ["nosuch", "x", "colour"])
def test_a_name_like_no_other_gets_the_list_instead_of_a_guess(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["review", "x", "--only", name], lambda path, progress: BOARD) == FAILED
    err = capsys.readouterr().err
    assert "nearest" not in err
    assert "identity, fiducials, test-access, panel" in err
