# SPDX-License-Identifier: MIT
"""Heights out of 3D models, for every command that asks how tall a part is: what one is told, all are told."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from build import board, chip, probe_pad
from lineworthy import Board, cli
from lineworthy.model import Model

NEAR = "test-access/target-near-part"
MADE = board(
    parts=(
        probe_pad("TP1", (20, 20), "GND"),
        chip("R1", (24, 20), nets=("GND", "A"), models=(Model("${LIBRARY}/tall.wrl"),)),
        chip("R2", (40, 20), nets=("GND", "A")),
    )
)
"""The chip is 0.55 mm high by the table and may stand that near; by its model, 12.7 mm, it may not."""

TALL = "Shape { geometry IndexedFaceSet { coord Coordinate { point [ 0 0 0, 1 0 0, 0 2 0, 0 0 5 ] } } }"
WHO = ("--reason", "probed from below", "--name", "R. Novak", "--today", "2026-03-14")


def read(path: str, progress: Callable[[float], None]) -> Board:
    return MADE


def run(*argv: object) -> int:
    return cli.main([str(word) for word in argv], read)


@pytest.fixture
def pcb(tmp_path: Path) -> Path:
    """A board's path, with settings beside it that name a folder of models, and a release folder."""
    for name in ("models", "release"):
        (tmp_path / name).mkdir()
    (tmp_path / "models" / "tall.wrl").write_text("#VRML V2.0 utf8\n" + TALL, encoding="ascii")
    (tmp_path / "release" / "parts.csv").write_text("Reference,Value\nR1,10k\n", encoding="utf-8")
    (tmp_path / "widget.lineworthy.toml").write_text('models = "models"\n', encoding="utf-8")
    return tmp_path / "widget.kicad_pcb"


def reviewed(pcb: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    run("review", pcb, "--format", "json", "--fail-on", "never", "--today", "2026-03-14")
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    return data


def test_a_manifest_and_its_brief_hold_what_the_review_says(pcb: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = (f for f in reviewed(pcb, capsys)["findings"] if f["check"] == NEAR)
    assert run("concede", pcb, found["fingerprint"], *WHO, "--expires", "2027-03-14") == 0
    out = pcb.parent / "out"
    run("release", pcb, pcb.parent / "release", "--manifest", out, "--today", "2026-03-14")
    kept = json.loads((out / "widget.manifest.json").read_text(encoding="utf-8"))["review"]
    assert [given["check"] for given in kept["concessions"]] == [NEAR]
    assert "Taller than 10 mm" in (out / "widget-brief.html").read_text(encoding="utf-8")


def test_a_probe_plan_keeps_the_room_that_models_ask_for(pcb: Path) -> None:
    run("probes", pcb, "--out", pcb.parent / "out")
    assert "R1, 12.70 mm tall" in (pcb.parent / "out" / "widget-probes.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["probes", "panel"])
def test_a_plan_without_the_folder_is_one_line(pcb: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    (pcb.parent / "models").rename(pcb.parent / "old")
    assert run(command, pcb) == 2
    said = capsys.readouterr().err
    assert "widget.lineworthy.toml: models: " in said
    assert said.count("\n") == 1


@pytest.mark.parametrize("command", ["probes", "panel"])
def test_a_plan_does_not_ask_for_files_it_does_not_need(pcb: Path, command: str) -> None:
    with (pcb.parent / "widget.lineworthy.toml").open("a", encoding="utf-8") as file:
        file.write('offers = "gone.csv"\n')
    assert run(command, pcb) < 2
