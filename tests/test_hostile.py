# SPDX-License-Identifier: MIT
"""Broken and hostile files: one clear line and exit code 2, or a review; never a traceback, a hang or half a file."""

from __future__ import annotations

import random
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

import demos
from lineworthy import cli
from lineworthy_kicad.reader import read_board

OURS = Path(__file__).parents[1] / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"
PATIENCE_S = 10

TRUNCATIONS = 200
MUTATIONS = 1000


def small_boards() -> list[Path]:
    """Real boards small enough to be read a thousand times."""
    boards = [path for path in demos.paths() if path.stat().st_size < 120_000]
    assert boards, demos.HOW
    return boards


@contextmanager
def no_hang() -> Iterator[None]:
    def late(_signal: int, _frame: object) -> None:
        raise TimeoutError(f"took more than {PATIENCE_S} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(PATIENCE_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def run(path: Path, capsys: pytest.CaptureFixture[str], *options: str) -> tuple[int, str, str]:
    with no_hang():
        code = cli.main(["review", str(path), *options], read_board)
    out, err = capsys.readouterr()
    return code, out, err


def assert_one_line(code: int, out: str, err: str, path: Path) -> None:
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1, err
    assert err.startswith(f"lineworthy: {path}: "), err


def assert_reviewed_or_refused(code: int, out: str, err: str, path: Path) -> None:
    if code == 2:
        assert_one_line(code, out, err, path)
    else:
        assert out, "a review says something"
        assert err == ""


@pytest.mark.editor
def test_truncated_boards(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cut.kicad_pcb"
    boards = small_boards()
    refused = 0
    for n in range(TRUNCATIONS):
        data = boards[n % len(boards)].read_bytes().rstrip()
        path.write_bytes(data[: len(data) * n // TRUNCATIONS])
        code, out, err = run(path, capsys)
        assert_one_line(code, out, err, path)
        refused += 1
    assert refused == TRUNCATIONS


@pytest.mark.editor
@pytest.mark.slow
def test_mutated_boards(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mutated.kicad_pcb"
    boards = [board.read_bytes() for board in small_boards()]
    chance = random.Random(20)
    outcomes = {0: 0, 1: 0, 2: 0}
    for n in range(MUTATIONS):
        data = bytearray(boards[n % len(boards)])
        for _ in range(chance.choice((1, 1, 3, 10))):
            at = chance.randrange(len(data))
            kind = chance.randrange(4)
            if kind == 0:
                data[at] = chance.randrange(256)
            elif kind == 1:
                del data[at : at + chance.randrange(1, 200)]
            elif kind == 2:
                data[at:at] = chance.choice((b"(", b")", b'"', b"\\", b"1e999", b"nan", b"-", b"(at", b"\x00", b"\xff"))
            else:
                other = chance.randrange(len(data))
                data[at:at] = data[other : other + chance.randrange(1, 200)]
        path.write_bytes(bytes(data))
        code, out, err = run(path, capsys)
        assert_reviewed_or_refused(code, out, err, path)
        outcomes[code] += 1
    # both kinds of outcome happen, or this test looks at nothing
    assert outcomes[2] > MUTATIONS // 20
    assert outcomes[0] + outcomes[1] > MUTATIONS // 20


HOSTILE = {
    "empty": b"",
    "blank": b"  \n\t\n",
    "binary": bytes(range(256)) * 64,
    "zeros": bytes(4096),
    "deep": b"(kicad_pcb (version 20241229) " + b"(a " * 10_000 + b")" * 10_001,
    "deep-open": b"(" * 100_000,
    "close-only": b")" * 1000,
    "not-a-board": b"(kicad_sch (version 20231120) (generator eeschema))",
    "prose": b"this is not a board\n",
    "json": b'{"board": []}',
    "open-string": b'(kicad_pcb (version 20241229) (general "never closed',
    "utf-16": OURS.read_bytes()[:2000].decode().encode("utf-16"),
    "latin-1": b'(kicad_pcb (version 20241229) (title_block (title "Fr\xfchling")))',
    "version-5": b"(kicad_pcb (version 20171130) (host pcbnew 5.1.9))",
    "version-none": b"(kicad_pcb (generator pcbnew))",
    "version-word": b"(kicad_pcb (version soon))",
    "two-boards": b"(kicad_pcb (version 20241229)) (kicad_pcb (version 20241229))",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_file_gets_one_line(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / f"{name}.kicad_pcb"
    path.write_bytes(HOSTILE[name])
    assert_one_line(*run(path, capsys), path)


def test_missing_file_folder_and_unreadable(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert_one_line(*run(tmp_path / "missing.kicad_pcb", capsys), tmp_path / "missing.kicad_pcb")
    assert_one_line(*run(tmp_path, capsys), tmp_path)


def test_version_5_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "old.kicad_pcb"
    path.write_bytes(HOSTILE["version-5"])
    _, _, err = run(path, capsys)
    assert "newer" in err
    assert "save" in err


def test_a_gigabyte_of_one_token_is_refused_early(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "huge.kicad_pcb"
    with path.open("wb") as file:
        file.write(b"(kicad_pcb (version 20241229) (")
        file.truncate(1_000_000_000)  # a sparse file: a billion zero bytes follow
    assert_one_line(*run(path, capsys), path)


def test_no_report_is_left_behind_for_a_broken_board(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cut.kicad_pcb"
    path.write_bytes(OURS.read_bytes()[:5000])
    out = tmp_path / "reports"
    code, _, err = run(path, capsys, "--format", "html", "--out", str(out))
    assert code == 2
    assert err.count("\n") == 1
    assert not out.exists() or not list(out.iterdir())


def test_one_broken_board_does_not_hide_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "broken.kicad_pcb"
    broken.write_bytes(b"(kicad_pcb")
    code = cli.main(["review", str(broken), str(OURS)], read_board)
    out, err = capsys.readouterr()
    assert code == 2
    assert err.count("\n") == 1
    assert "hold" in out


def test_thousands_of_arcs_on_top_of_each_other_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arc = b"(arc (start 0 0) (mid 50 50) (end 100 0)) "
    path = tmp_path / "arcs.kicad_pcb"
    path.write_bytes(b"(kicad_pcb (version 20241229)\n(gr_poly (pts " + arc * 2000 + b') (layer "F.Cu") (width 0)))\n')
    code, out, err = run(path, capsys)
    assert_one_line(code, out, err, path)
    assert "line 2" in err


def test_millions_of_nodes_that_mean_nothing_are_refused_early(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "crumbs.kicad_pcb"
    path.write_bytes(b"(kicad_pcb (version 20241229)" + b"(a)" * 15_000_000 + b")")
    assert_one_line(*run(path, capsys), path)
