# SPDX-License-Identifier: MIT
"""Times the headless review against the editor, as ratios from one run on one machine.

Whole processes are timed, start of the interpreter included, because that is what a person waits for:

    review      lineworthy review BOARD --format json
    load        the editor's own LoadBoard from its Python bindings
    rule check  the editor's own rule check from its command line

Writes ``benchmarks/results.md``. ``--quick`` leaves out the 70 MB board and runs everything once.
"""

from __future__ import annotations

import argparse
import functools
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import in_editor

from lineworthy import review
from lineworthy.report import FORMATS
from lineworthy_kicad.reader import read_board

HERE = Path(__file__).parent
DEMOS = Path(os.environ.get("LINEWORTHY_DEMOS", "/usr/share/kicad/demos"))
EDITOR_PYTHON = "/usr/bin/python3"
TILED = "stickhub/StickHub.kicad_pcb"
TILES = (1, 4, 16)
TOLD_SHARE = 0.005
"""Steps that take less of the whole are told together."""

INTRODUCTION = """\
Made by `make bench`. Times are medians of whole processes; quote the ratios.
Goals on the largest board: review at most 0.8x the editor's load and 0.1x its rule check, peak memory no more than
the load's; on a tiled board, time grows no faster than n^1.1."""


@dataclass(frozen=True)
class Cost:
    """Median wall time in seconds and largest peak memory in MB of some runs of one command."""

    seconds: float
    megabytes: float


def measure(command: list[str], runs: int) -> Cost:
    seconds, memory = [], []
    for _ in range(runs):
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        seconds.append(time.perf_counter() - start)
        memory.append(usage.ru_maxrss / 1024)
        if process.returncode not in (0, 1):
            raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    return Cost(statistics.median(seconds), max(memory))


def review_command(board: Path) -> list[str]:
    return [str(Path(sys.executable).with_name("lineworthy")), "review", str(board), "--format", "json"]


def load_command(board: Path) -> list[str]:
    return [EDITOR_PYTHON, "-c", "import sys, pcbnew; pcbnew.LoadBoard(sys.argv[1])", str(board)]


def rule_check_command(board: Path, folder: Path) -> list[str]:
    return ["kicad-cli", "pcb", "drc", "--format", "json", "-o", str(folder / "drc.json"), str(board)]


@functools.cache
def rule_check(board: Path, runs: int) -> float:
    """Seconds of the editor's own rule check; of the largest boards one run has to do."""
    with tempfile.TemporaryDirectory() as name:
        return measure(rule_check_command(board, Path(name)), 1 if board.stat().st_size > 20e6 else runs).seconds


def against_the_editor(boards: list[Path], runs: int) -> list[str]:
    lines = [
        "| board | MB | review s | load s | rule check s | review/load | review/rule check | memory review/load |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for board in boards:
        ours = measure(review_command(board), runs)
        load = measure(load_command(board), runs)
        rules = rule_check(board, runs)
        lines.append(
            f"| {board.stem} | {board.stat().st_size / 1e6:.1f} | {ours.seconds:.2f} | {load.seconds:.2f} "
            f"| {rules:.2f} | {ours.seconds / load.seconds:.2f} | {ours.seconds / rules:.3f} "
            f"| {ours.megabytes / load.megabytes:.2f} ({ours.megabytes:.0f}/{load.megabytes:.0f} MB) |"
        )
        print(lines[-1], flush=True)
    return lines


def growth(runs: int, folder: Path) -> list[str]:
    lines = ["| copies | MB | review s | work s |", "|---|---|---|---|"]
    start = measure([*review_command(DEMOS / TILED)[:1], "--version"], runs).seconds
    costs = []
    for count in TILES:
        board = folder / f"tiled-{count}.kicad_pcb"
        subprocess.run(
            [EDITOR_PYTHON, str(HERE / "tile.py"), str(DEMOS / TILED), str(count), str(board)],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        cost = measure(review_command(board), runs)
        # the interpreter's start is the same for every size and would flatter the exponent
        costs.append(cost.seconds - start)
        lines.append(f"| {count} | {board.stat().st_size / 1e6:.1f} | {cost.seconds:.2f} | {costs[-1]:.2f} |")
        print(lines[-1], flush=True)
    steps = [math.log(b / a) / math.log(4) for a, b in zip(costs, costs[1:])]
    lines += ["", "Exponent of growth from step to step: " + ", ".join(f"n^{step:.2f}" for step in steps)]
    print(lines[-1])
    return lines


def where_the_time_goes(board: Path) -> list[str]:
    start = time.perf_counter()
    model = read_board(board)
    read = time.perf_counter() - start
    result = review(model)
    done = time.perf_counter() - start - read
    shares = {"reading": read, **result.seconds}
    for name in FORMATS:
        begin = time.perf_counter()
        FORMATS[name].render(result)
        shares[f"{name} report"] = time.perf_counter() - begin
    lines = [f"Where the time goes on {board.stem} ({read + done:.2f} s reading and checking):", ""]
    lines += ["| step | seconds | share |", "|---|---|---|"]
    whole = sum(shares.values())
    told = [(name, seconds) for name, seconds in shares.items() if seconds >= TOLD_SHARE * whole]
    rest = whole - sum(seconds for _, seconds in told)
    for name, seconds in [*sorted(told, key=lambda pair: -pair[1]), (f"{len(shares) - len(told)} more", rest)]:
        lines.append(f"| {name} | {seconds:.3f} | {seconds / whole:.0%} |")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="without the 70 MB board, one run each")
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()
    boards = sorted(DEMOS.rglob("*.kicad_pcb"), key=lambda path: -path.stat().st_size)[:3]
    if options.quick:
        boards, options.runs = boards[1:], 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sections = [
            ["# Benchmark results", "", INTRODUCTION],
            against_the_editor(boards, options.runs),
            growth(options.runs, folder),
            in_editor.table(None if options.quick else boards[0], options.runs),
            where_the_time_goes(boards[0]),
        ]
    text = "\n\n".join("\n".join(section) for section in sections) + "\n"
    if not options.quick:
        (HERE / "results.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
