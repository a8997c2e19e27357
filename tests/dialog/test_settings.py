# SPDX-License-Identifier: MIT
"""What the dialog remembers, and how little a damaged file matters."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from lineworthy_kicad.dialog.settings import Layout, Settings, Store, user_store

FULL = Settings(
    layout=Layout(1200, 800, (500, 300), {"findings": (40, 90, 400, 50)}, "both"),
    sheet="dense",
    sheet_file="/x/ours.toml",
    name="Ré Novak",
    report_format="json",
    report_folder="/tmp",
)


def test_everything_comes_back(tmp_path: Path) -> None:
    store = Store(tmp_path / "deep" / "dialog.json")
    store.save(FULL)
    assert store.load() == FULL


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", "7", '{"layout": 3}', '{"layout": {"columns": [], "sashes": 3}}', "[" * 100_000]
)
def test_damage_gives_the_defaults(tmp_path: Path, text: str) -> None:
    path = tmp_path / "dialog.json"
    path.write_text(text)
    assert Store(path).load() == Settings()


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "dialog.json"
    path.write_bytes(b"\xff\xfe\x00")
    assert Store(path).load() == Settings()


def test_odd_values_are_dropped_one_by_one(tmp_path: Path) -> None:
    path = tmp_path / "dialog.json"
    layout = {"width": -3, "height": 800, "sashes": [1, "x", 10**9, True], "columns": {"a": [5, None]}, "sides": "up"}
    path.write_text(json.dumps({"layout": layout, "sheet": 4, "name": "a\u202eb", "report_format": "json", "more": 1}))
    expected = Layout(0, 800, (1, 0, 0, 0), {"a": (5, 0)}, "top")
    assert Store(path).load() == Settings(layout=expected, report_format="json")


def test_a_place_that_cannot_be_written_forgets(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    Store(tmp_path / "file" / "dialog.json").save(FULL)
    assert Store(tmp_path / "file" / "dialog.json").load() == Settings()
    assert Store(None).load() == Settings()
    Store(None).save(FULL)


@pytest.mark.skipif(sys.platform != "linux", reason="where Linux keeps such files")
def test_the_users_own_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    user_store().save(FULL)
    assert (tmp_path / "lineworthy" / "dialog.json").is_file()
