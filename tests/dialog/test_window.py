# SPDX-License-Identifier: MIT
"""The real window on a real screen (Xvfb): every state once, in a light and a dark theme and at 200 %."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageChops

sys.path.insert(0, str(Path(__file__).parents[1]))

from editor_session import ROOT, editor_packages

DRIVER = Path(__file__).with_name("window_driver.py")
BOARD = ROOT / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"
SCENES = ("reading", "findings", "map_both", "stopped", "concede", "insert", "filtered", "remembered", "keys", "lost")
Facts = dict[str, Any]

pytestmark = [pytest.mark.editor, pytest.mark.slow]


def play(folder: Path, *scenes: str, screen: str = "1240x860", **environment: str) -> dict[str, Facts]:
    """Plays scenes in the editor's Python on a screen of their own and gives what was seen."""
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", "1", "-screen", "0", f"{screen}x24", "-nolisten", "tcp"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert server.stdout is not None
    display = f":{server.stdout.readline().strip()}"
    path = os.pathsep.join([str(ROOT / "core"), str(ROOT / "plugin"), str(editor_packages())])
    known = {"PATH": "/usr/bin:/bin", "HOME": str(folder), "LANG": "C.UTF-8", "DISPLAY": display, "PYTHONPATH": path}
    manager = subprocess.Popen(["openbox"], env=known, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        result = subprocess.run(
            ["/usr/bin/python3", str(DRIVER), str(BOARD), str(folder), sys.executable, *scenes],
            env={**known, **environment},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        assert result.returncode == 0, result.stderr[-3000:]
    finally:
        for process in (manager, server):
            process.terminate()
            process.wait(10)
        server.stdout.close()
    seen: dict[str, Facts] = {
        name: json.loads((folder / f"{name}.json").read_text(encoding="utf-8")) for name in (*scenes, "contract")
    }
    for name in scenes:
        assert "fault" not in seen[name], seen[name]["fault"]
    return seen


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Facts]]:
    folder = tmp_path_factory.mktemp("window")
    return folder, play(folder, *SCENES)


@pytest.fixture(scope="module")
def seen(stage: tuple[Path, dict[str, Facts]]) -> dict[str, Facts]:
    return stage[1]


def pictures(folder: Path) -> list[Path]:
    return sorted(folder.glob("*/*.png"))


def numbers(facts: Facts) -> list[int]:
    return [int(row[0]) for row in facts["rows"] if row[0]]


def test_the_window_keeps_every_promise_of_the_view(seen: dict[str, Facts]) -> None:
    """So that the presenter's double, made from the promise, stands for the real window."""
    contract = seen["contract"]
    assert len(contract["promised"]) > 15
    assert contract["missing"] == []
    assert contract["different"] == []


def test_reading_shows_a_bar_and_cancel_at_once(seen: dict[str, Facts]) -> None:
    at_once = seen["reading"]["at once"]
    assert at_once["doing"] == "Reading frost-alarm.kicad_pcb"
    assert at_once["cancel"]
    shown = seen["reading"]["seen"]
    assert shown["gauge"] == 400
    assert not any(shown["buttons"].values())
    assert shown["verdict"] == ""
    assert shown["title"] == "Lineworthy: frost-alarm.kicad_pcb"
    cancelled = seen["reading"]["cancelled"]
    assert cancelled["verdict"] == "Cancelled before the review was done."
    assert cancelled["again"] == "Try again"
    assert not cancelled["cancel"]


def test_findings(seen: dict[str, Facts]) -> None:
    before = seen["findings"]["before"]
    assert before["verdict"].startswith("On hold: ")
    assert before["verdict_tip"] == before["verdict"]
    assert "92 x 64 mm" in before["board"]
    count = len(numbers(before))
    assert before["tabs"][0] == f"Findings ({count})"
    assert numbers(before) == list(range(1, count + 1))
    assert before["buttons"] == {"show_on_board": False, "concede": False, "insert": True, "write_report": True}
    chosen = seen["findings"]["seen"]
    row = next(row for row in chosen["rows"] if row[0] == "4")
    assert chosen["rows"][chosen["selected"]] == row
    assert " ".join(row[2].split()) in " ".join(chosen["detail"].split())
    for words in ("Measured", "Limit", "Whose limit", "Its source", "What to do", "Why it matters", "Blind spots"):
        assert words in chosen["detail"]
    assert all(chosen["buttons"].values())
    assert len(seen["findings"]["shown"]) == 1
    assert seen["findings"]["after"]["status"] == "Finding 4 is shown in the editor."


def test_texts_that_are_cut_have_a_tip(seen: dict[str, Facts]) -> None:
    texts = {row[2] for row in seen["findings"]["before"]["rows"]}
    tips = [tip for tip in seen["findings"]["tips"] if tip]
    assert tips
    assert set(tips) <= texts


def test_a_flag_on_the_map_selects_its_row(seen: dict[str, Facts]) -> None:
    facts = seen["map_both"]
    assert facts["flag"] == 11
    assert facts["picked"]["rows"][facts["picked"]["selected"]][0] == "11"
    assert facts["picked"]["sides"] == ["top", "bottom"]


def test_zooming_keeps_the_place_under_the_pointer(seen: dict[str, Facts]) -> None:
    before, after, place, same_place = seen["map_both"]["zoom"]
    assert after == pytest.approx(2 * before)
    assert same_place == pytest.approx(place)
    fitted, first = seen["map_both"]["fitted"]
    assert fitted == pytest.approx(first)


def test_stopped_and_tried_again(seen: dict[str, Facts]) -> None:
    facts = seen["stopped"]
    assert facts["seen"]["verdict"] == "no board is open in the editor. The board is as it was."
    assert facts["seen"]["again"] == "Try again"
    assert not any(facts["seen"]["buttons"].values())
    assert facts["again"]["verdict"].startswith("On hold")
    assert facts["again"]["again"] == "Review again"


def test_conceding(seen: dict[str, Facts]) -> None:
    facts = seen["concede"]
    assert not facts["enabled empty"], "reason and name must be given first"
    assert facts["enabled filled"]
    shown = facts["seen"]
    assert shown["verdict"].endswith("; 1 conceded.")
    assert shown["concede"] == "Withdraw concession..."
    assert next(row for row in shown["rows"] if row[0] == "11")[1] == "conceded"
    (line,) = shown["concessions"]
    assert line[1:4] == ["accepts finding 11", "Bought by the customer and sent to the factory", "R. Novak"]


def test_inserting(seen: dict[str, Facts]) -> None:
    facts = seen["insert"]
    assert any(offer.startswith("fiducial") for offer in facts["offers"])
    assert facts["ticked"] == list(range(len(facts["offers"])))
    assert facts["applied"] == facts["offers"]
    assert facts["seen"]["status"].startswith("Inserted ")


def test_an_offer_under_the_pointer_says_itself_in_full(stage: tuple[Path, dict[str, Facts]]) -> None:
    folder, seen = stage
    assert seen["insert"]["tip"] == seen["insert"]["offers"][-1]
    shots = (folder / "insert" / f"{name}.png" for name in ("insert", "insert_tip"))
    with Image.open(next(shots)) as before, Image.open(next(shots)) as tip:
        changed = ImageChops.difference(before.convert("L"), tip.convert("L")).point(lambda level: 255 * (level > 24))
    assert changed.histogram()[255] > 5000, "and the tip is on the screen, not only a row that is lit"


def test_filtering(seen: dict[str, Facts]) -> None:
    facts = seen["filtered"]
    found = [row for row in facts["searched"]["rows"] if row[0]]
    assert 0 < len(found) < len(numbers(facts["all"]))
    assert all("FID1" in row[2] or row[3] for row in found)
    kinds = {row[1] for row in facts["no holds"]["rows"] if row[0]}
    assert kinds == {"query", "note"}


def test_everything_by_real_keys(seen: dict[str, Facts]) -> None:
    facts = seen["keys"]
    assert facts["searched"]["tabs"][0] == "Findings (3)", "Ctrl+F went to the search field"
    chosen = facts["chosen"]
    assert chosen["rows"][chosen["selected"]][0] in {"3", "4", "5"}
    assert len(facts["shown"]) == 1, "Enter showed it in the editor"
    zoomed, moved = facts["map"]
    assert zoomed == pytest.approx(1.25**2)
    assert moved > 0
    assert facts["fit"] == pytest.approx(1.0)
    assert facts["left the map"]
    assert facts["read again"] == 1, "F5 read the board again"
    assert facts["question"] == "Insert into the board"
    assert facts["still open"], "Escape in a question closes only that"
    assert facts["open after escape"] is False


def test_the_keyboard_comes_back_from_the_editor(seen: dict[str, Facts]) -> None:
    assert seen["lost"]["has the keyboard"]
    assert seen["lost"]["read again"] == 1, "F5 reached the window"


def test_sizes_are_remembered(seen: dict[str, Facts]) -> None:
    facts = seen["remembered"]
    assert facts["closed"] == [1000, 150]
    assert facts["is open"] is False, "the window that was handed out is false once closed"
    width, height, column, sash = facts["opened"]
    assert (width, height, column) == (1000, 700, 150)
    assert abs(sash - 444) <= 2


def test_every_picture_shows_something(stage: tuple[Path, dict[str, Facts]]) -> None:
    made = pictures(stage[0])
    assert len(made) == 12
    for path in made:
        with Image.open(path) as picture:
            assert len(picture.convert("RGB").quantize(64).getcolors() or ()) > 20, path.name


def test_dark_theme(tmp_path: Path) -> None:
    seen = play(tmp_path, "findings", GTK_THEME="Adwaita:dark")
    assert seen["findings"]["seen"]["verdict"].startswith("On hold")
    with Image.open(tmp_path / "findings" / "findings.png") as picture:
        pixels = picture.convert("L").crop((40, 60, 1190, 800))
        histogram = pixels.histogram()
    dark, light = sum(histogram[:100]), sum(histogram[180:])
    assert dark > 0.75 * sum(histogram), "the window is dark all over: map, lists and detail too"
    assert light > 0.005 * sum(histogram), "and its texts are light"


def test_twice_as_large(tmp_path: Path) -> None:
    seen = play(tmp_path, "findings", screen="2480x1720", GDK_SCALE="2")
    assert seen["findings"]["seen"]["verdict"].startswith("On hold")
    with Image.open(tmp_path / "findings" / "findings.png") as picture:
        assert picture.size == (2480, 1720)
        columns = picture.convert("RGB").crop((1300, 350, 2390, 1000))
        # the map is painted at the screen's own resolution: neighbouring pixels differ in odd columns, too
        pairs = [(columns.getpixel((x, 325)), columns.getpixel((x + 1, 325))) for x in range(1080)]
    assert any(a != b for a, b in pairs[0::2])
    assert any(a != b for a, b in pairs[1::2])
