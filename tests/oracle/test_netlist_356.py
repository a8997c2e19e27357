# SPDX-License-Identifier: MIT
"""Our IPC-D-356A netlist against the one the editor's own command line writes, land by land and hole by hole.

Told by part, pin and place: same operation, net, place (0.01 mm), hole, plating, access side and mask. Three
differences are wanted, and each is held to exactly what it is:

- the editor writes names in capitals, keeps the last 14 letters, and numbers what is then alike; ours have an alias;
- the editor counts rotation clockwise, ours counter-clockwise as the rest of our outputs do;
- the editor writes 0.0001 inch up to 25.4 mm, ours 0.001 mm up to 9.999 mm, so that larger lands say 9.999.
"""

from __future__ import annotations

import shutil
import subprocess
from collections import defaultdict
from pathlib import Path

import pytest

import demos
import records356
from lineworthy.report.netlist356 import render

BOARDS = ("ecc83-pp", "pic_programmer", "StickHub", "RoyalBlue54L-Feather", "custom_pads_test", "complex_hierarchy")
"""Both sides, two to four layers, slots, tented and open vias, custom lands, with and without a file origin."""

PLACE_MM = 0.01
SIZE_MM = 0.004
"""One step of the editor's file, 0.00254 mm, and the rounding of both."""

CLAMP_MM = 9.999


def editor_says(board: Path, out: Path) -> list[records356.Record]:
    command = shutil.which("kicad-cli")
    if command is None:
        pytest.fail(f"kicad-cli is not installed: {demos.HOW}", pytrace=False)
    subprocess.run([command, "pcb", "export", "ipcd356", "-o", str(out), str(board)], check=True, capture_output=True)
    return records356.read(out.read_text(encoding="utf-8"))


def stands_for(short: str, ours: str) -> bool:
    """Whether the editor writes a name so; of two whose last 14 letters are alike the later one gets a number."""
    full = ours.replace(" ", "").upper()
    base, mark, number = short.rpartition("#")
    return short == full[-14:] or bool(mark and base and number.isdigit() and full.endswith(base))


def key(record: records356.Record) -> tuple[str, str, str]:
    nameless = {"NOREF": "", "NPAD": ""}
    return (
        record.operation,
        nameless.get(record.part, record.part).upper(),
        nameless.get(record.pin, record.pin).upper(),
    )


def partner(theirs: records356.Record, pool: list[records356.Record]) -> records356.Record:
    assert pool, f"the editor has {theirs}, we have nothing like it"
    near = min(pool, key=lambda ours: abs(ours.at[0] - theirs.at[0]) + abs(ours.at[1] - theirs.at[1]))
    assert near.at == pytest.approx(theirs.at, abs=PLACE_MM), theirs
    pool.remove(near)
    return near


@pytest.mark.parametrize("name", BOARDS)
def test_agrees_with_the_editor(name: str, tmp_path: Path) -> None:
    path = next((path for path in demos.paths() if path.stem == name), None)
    assert path is not None, demos.HOW
    theirs = editor_says(path, tmp_path / "board.d356")
    ours = records356.read(render(demos.read(path)))
    pools: dict[tuple[str, str, str], list[records356.Record]] = defaultdict(list)
    for record in ours:
        pools[key(record)].append(record)
    nets: dict[str, set[str]] = defaultdict(set)
    for record in theirs:
        mine = partner(record, pools[key(record)])
        assert (mine.plated, mine.access, mine.mask, mine.middle) == (
            record.plated,
            record.access,
            record.mask,
            record.middle,
        ), record
        assert (mine.hole or 0.0) == pytest.approx(record.hole or 0.0, abs=SIZE_MM), record
        for got, wanted in zip(mine.size, record.size):
            assert got == pytest.approx(min(wanted, CLAMP_MM), abs=SIZE_MM), record
        assert (mine.rotation + record.rotation) % 360 == 0, record
        nets[record.net].add(mine.net)
    assert not any(pools.values()), "we have what the editor has not"
    assert len(theirs) == len(ours) > 0
    # one of theirs is one of ours, and the other way round: the same lands are connected
    assert all(len(mine) == 1 for mine in nets.values()), {k: v for k, v in nets.items() if len(v) > 1}
    assert len({next(iter(mine)) for mine in nets.values()}) == len(nets)
    assert all(stands_for(short, next(iter(mine))) for short, mine in nets.items())
