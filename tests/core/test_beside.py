# SPDX-License-Identifier: MIT
"""Everything beside a board, gathered in one place: what is read, what wins, what is said of what cannot be read."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Callable

import pytest

from lineworthy import InputError, load, review
from lineworthy.beside import Beside, gather, passed_over
from lineworthy.concessions import Concession, grant
from lineworthy.concessions import beside as concession_file
from lineworthy.model import Board
from lineworthy.project import Project
from lineworthy.project import beside as settings_file
from lineworthy.release import manifest
from lineworthy.release.record import record
from lineworthy.report.cautions import cautions

DAY = date(2026, 3, 14)
PARTS = "Reference,Value,Package,Manufacturer Part\nR1,10k,0603,ABC-1\n"
OFFERS = "manufacturer_part,source,stock\nABC-1,somebody,100\n"


@pytest.fixture
def board(tmp_path: Path) -> Path:
    """A board file with everything beside it that its settings name."""
    path = tmp_path / "frost.kicad_pcb"
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "offers.csv").write_text(OFFERS)
    made = record(Board(name="frost"))
    for name, text in manifest.texts("frost", manifest.Manifest("frost", "A", made.digest), made).items():
        (tmp_path / name).write_text(text)
    settings_file(path).write_text(
        'sheet = "dense"\nparts_list = "parts.csv"\noffers = "offers.csv"\nreleased = "frost.manifest.json"\n'
        'release_folder = "release"\n'
        "build_quantity = 500\n"
        'models = "models"\n'
    )
    (tmp_path / "models").mkdir()
    (tmp_path / "release").mkdir()
    (tmp_path / "release" / "parts.csv").write_text(PARTS)
    grant(concession_file(path), [Concession("fiducials/too-few", "aa", "r", "n", DAY, "A")])
    return path


@pytest.mark.parametrize(
    ("name", "is_told"),
    [
        ("lineworthy.toml", True),
        ("Frost.lineworthy.toml", True),
        ("frost.kicad_pcb.lineworthy.toml", True),
        ("frost-lineworthy.toml", True),
        ("frost-rev-a.lineworthy.toml", True),
        ("frost.lineworthy.toml.txt", True),
        ("frost-rev-a.concessions.toml", True),
        ("other.lineworthy.toml", False),  # of a board that is there
        ("frost.lineworthy.toml", False),
        ("ours.toml", False),
    ],
)
def test_settings_under_another_name_are_told(tmp_path: Path, name: str, is_told: bool) -> None:
    for path in (tmp_path / "frost.kicad_pcb", tmp_path / "other.kicad_pcb", tmp_path / name):
        path.write_text("")
    kind = "concessions" if "concessions" in name else "settings"
    sentence = f"{name} is not read, the {kind} of frost.kicad_pcb are kept in frost"
    assert [said.rpartition(".")[0].rpartition(".")[0] for said in passed_over(tmp_path / "frost.kicad_pcb")] == (
        [sentence] if is_told else []
    )
    given = gather(tmp_path / "frost.kicad_pcb")
    said = [caution.text for caution in cautions(review(Board(name="frost"), load("standard"), beside=given))]
    assert any(text.startswith(sentence) for text in said) is is_told


def test_everything_the_settings_name_is_read(board: Path) -> None:
    found = gather(board, today=DAY)
    assert found.parts is not None
    assert [line.references for line in found.parts.lines] == [("R1",)]
    assert found.offers is not None
    assert [offer.maker_part for offer in found.offers.offers] == ["ABC-1"]
    assert found.released is not None
    assert found.released.revision == "A"
    assert found.folder is not None
    assert found.folder.file_names == ("parts.csv",)
    assert [c.fingerprint for c in found.concessions] == ["aa"]
    assert (found.project.sheet, found.project.build_quantity, found.today) == ("dense", 500, DAY)


def test_what_is_said_otherwise_wins_and_none_says_nothing(board: Path, tmp_path: Path) -> None:
    (tmp_path / "other.csv").write_text(PARTS.replace("R1", "R7"))
    found = gather(board, {"parts_list": tmp_path / "other.csv", "build_quantity": 20, "offers": None})
    assert found.parts is not None
    assert [line.references for line in found.parts.lines] == [("R7",)]
    assert found.project.build_quantity == 20
    assert found.offers is not None
    assert found.today is None


def test_a_board_with_nothing_beside_it_and_one_never_saved(tmp_path: Path) -> None:
    assert gather(tmp_path / "frost.kicad_pcb") == Beside()
    assert gather(None, {"build_quantity": 5}) == Beside(project=Project(build_quantity=5))


SPOILED: dict[str, tuple[Callable[[Path], None], str]] = {
    "settings": (lambda f: (f / "frost.lineworthy.toml").write_text("colour = 1"), "frost.lineworthy.toml: unknown"),
    "parts gone": (lambda f: (f / "parts.csv").unlink(), "frost.lineworthy.toml: parts_list: "),
    "parts empty": (lambda f: (f / "parts.csv").write_text(""), "frost.lineworthy.toml: parts_list: "),
    "offers gone": (lambda f: (f / "offers.csv").unlink(), "frost.lineworthy.toml: offers: "),
    "folder gone": (lambda f: (f / "release").rename(f / "old"), "frost.lineworthy.toml: release_folder: "),
    "manifest gone": (lambda f: (f / "frost.manifest.json").unlink(), "frost.lineworthy.toml: released: "),
    "manifest": (lambda f: (f / "frost.manifest.json").write_text("{}"), "frost.lineworthy.toml: released: "),
    "models gone": (lambda f: (f / "models").rmdir(), "frost.lineworthy.toml: models: "),
    "concessions": (lambda f: (f / "frost.concessions.toml").write_text("x = 1"), "frost.concessions.toml: holds"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_what_cannot_be_used_is_one_line_that_leads_to_it(board: Path, name: str) -> None:
    spoil, said = SPOILED[name]
    spoil(board.parent)
    with pytest.raises(InputError) as error:
        gather(board)
    assert str(error.value).startswith(str(board.parent))
    assert said in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("name", SPOILED)
def test_a_window_goes_on_without_it_and_can_say_so(board: Path, name: str) -> None:
    spoil, said = SPOILED[name]
    spoil(board.parent)
    missed: list[InputError] = []
    found = gather(board, missed=missed)
    assert len(missed) == 1
    assert said in str(missed[0])
    kept = [found.parts, found.offers, found.folder, found.released, *(found.concessions or [None])]
    left = {"settings": 1, "models gone": 5}.get(name, 4)
    assert sum(item is not None for item in kept) == left


def test_a_file_named_by_hand_is_named_as_it_was(board: Path) -> None:
    with pytest.raises(InputError) as error:
        gather(board, {"parts_list": Path("gone.csv")})
    assert str(error.value).startswith("gone.csv")
