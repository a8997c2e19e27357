# SPDX-License-Identifier: MIT
"""``lineworthy release --manifest``: what it leaves behind guards the revision of a real board."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from releases import path_of, release

from lineworthy import cli
from lineworthy.release import manifest
from lineworthy_kicad.reader import read_board

pytestmark = pytest.mark.editor


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A board of revision 1 with its release folder beside it."""
    shutil.copy(path_of("ecc83"), tmp_path / "tube.kicad_pcb")
    (tmp_path / "release").mkdir()
    for name, data in release("ecc83").items():
        (tmp_path / "release" / name).write_bytes(data)
    return tmp_path


def run(*argv: str) -> int:
    return cli.main(argv, read_board)


def test_a_released_board_that_changes_is_held(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    board = str(place / "tube.kicad_pcb")
    run("release", board, str(place / "release"), "--manifest", str(place / "out"), "--today", "2027-03-01")
    assert sorted(path.name for path in (place / "out").iterdir()) == [
        "tube-brief.html",
        "tube.manifest.json",
        "tube.record.jsonl",
    ]
    document = json.loads((place / "out" / "tube.manifest.json").read_text(encoding="utf-8"))
    assert document["released"] == "2027-03-01"
    assert {entry["name"] for entry in document["files"]} == set(release("ecc83"))
    assert manifest.load(place / "out" / "tube.manifest.json").record is not None
    (place / "tube.lineworthy.toml").write_text('released = "out/tube.manifest.json"\n', encoding="utf-8")
    capsys.readouterr()
    assert run("review", board, "--only", "release/changed-since-released") == 0
    assert "changed-since-released" not in capsys.readouterr().out
    text = (place / "tube.kicad_pcb").read_text(encoding="utf-8")
    assert '"Value" "1.5K"' in text
    (place / "tube.kicad_pcb").write_text(text.replace('"Value" "1.5K"', '"Value" "2.2K"', 1), encoding="utf-8")
    assert run("review", board, "--only", "release/changed-since-released") == 1
    assert "value 1.5K to 2.2K" in capsys.readouterr().out
