# SPDX-License-Identifier: MIT
"""The project's settings file: what it gives, and one clear line for what it must not hold."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from lineworthy import Board, InputError, load, project
from lineworthy.model import Net

WHOLE = """\
sheet = "dense"
parts_list = "lists/parts.csv"
offers = "offers.csv"
release_folder = "release"
released = "release/manifest.json"
build_quantity = 500
build_date = 2027-03-01
key_nets = ["/SENSE*"]
key_net_classes = ["Power"]
rework = ["U3", "J*"]
[nets]
"Earth" = "ground"
[voltages]
"HV_BUS" = 400
"L*" = [-325, 325.5]
[currents]
"VMOTOR" = 5
[panel]
method = "scored"
"""


def written(folder: Path, text: str) -> Path:
    path = project.beside(folder / "frost.kicad_pcb")
    path.write_text(text, encoding="utf-8")
    return path


def test_a_whole_file_is_read_and_its_files_lie_beside_it(tmp_path: Path) -> None:
    path = written(tmp_path, WHOLE)
    assert path.name == "frost.lineworthy.toml"
    assert project.load(path) == project.Project(
        source=str(path),
        sheet="dense",
        parts_list=tmp_path / "lists/parts.csv",
        offers=tmp_path / "offers.csv",
        release_folder=tmp_path / "release",
        released=tmp_path / "release/manifest.json",
        build_quantity=500,
        build_date=date(2027, 3, 1),
        key_nets=("/SENSE*",),
        key_net_classes=("Power",),
        rework=("U3", "J*"),
        nets={"Earth": "ground"},
        voltages={"HV_BUS": (400.0, 400.0), "L*": (-325.0, 325.5)},
        currents={"VMOTOR": 5.0},
        panel={"method": "scored"},
    )


def test_no_file_is_no_settings(tmp_path: Path) -> None:
    assert project.load(tmp_path / "none.toml") == project.Project()


def test_a_sheet_file_lies_beside_the_settings(tmp_path: Path) -> None:
    assert project.load(written(tmp_path, 'sheet = "ours.toml"')).sheet == str(tmp_path / "ours.toml")


@pytest.mark.parametrize("name", ["dense.toml", "./dense"])
def test_a_sheet_file_is_a_file_though_it_is_called_like_a_tier(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_text('[sheet]\nname = "Brno"\nbased_on = "dense"\n', encoding="utf-8")
    settings = project.beside(Path("frost.kicad_pcb"))
    settings.write_text(f'sheet = "{name}"', encoding="utf-8")
    assert load(project.load(settings).sheet).name == "Brno"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("colour = 'red'", "unknown entry 'colour'"),
        ("build_quantity = 0", "build_quantity: must be a whole number"),
        ("build_quantity = true", "build_quantity: must be a whole number"),
        ("build_date = 'soon'", "build_date: must be a date"),
        ("build_date = 0001-01-02", "build_date: must be a date"),
        ("build_date = 2027-03-01T10:00:00", "build_date: must be a date"),
        ("key_nets = 'A'", "key_nets: must be a list"),
        ("nets = ['A']", "nets: must be a table"),
        ("voltages = 400", 'voltages: must be a table of volts, like "HV_BUS" = 400'),
        ("[voltages]\nHV = '400 V'", "voltages.HV: must be volts up to 100,000, or [lowest, highest] of them"),
        ("[voltages]\nHV = nan", "voltages.HV: must be volts"),
        ("[voltages]\nHV = -inf", "voltages.HV: must be volts"),
        ("[voltages]\nHV = true", "voltages.HV: must be volts"),
        ("[voltages]\nHV = 1" + 400 * "0", "voltages.HV: a whole number of more than 64 bits"),
        ("[voltages]\nHV = [1]", "voltages.HV: must be volts"),
        ("[voltages]\nHV = [5, 1]", "voltages.HV: must be volts"),
        ("[voltages]\nHV = [0, [1]]", "voltages.HV: must be volts"),
        ("[voltages]\nHV = {low = 1}", "voltages.HV: must be volts"),
        ("currents = [5]", 'currents: must be a table of amperes, like "VMOTOR" = 5.0'),
        ("[currents]\nV = 0", "currents.V: must be amperes, more than 0 and up to 1,000"),
        ("[currents]\nV = -1.5", "currents.V: must be amperes"),
        ("[currents]\nV = nan", "currents.V: must be amperes"),
        ("[currents]\nV = 1001", "currents.V: must be amperes"),
        ("[currents]\n\"V\\nW\" = 'a'", "must be amperes"),
        ("panel = 'scored'", 'panel: must be a table, like [panel] with method = "scored"'),
        ("[panel]\nsize = 3", "panel: unknown entry 'size'; there is method"),
        (
            "[panel]\nmethod = 'sawn'",
            "panel.method: no way of parting boards is called 'sawn'; there are single, scored",
        ),
        ("[panel]\nmethod = ['scored']", "panel.method: no way of parting boards is called ['scored']"),
        ("offers = ''", "offers: must be a text"),
        ('offers = "a\\u0000b"', "offers: must be the name of a file, without control characters"),
        ('sheet = "a\\u0000b"', "sheet: must be the name of a file, without control characters"),
        ("sheet = 3", "sheet: must be a text"),
        ("x = = 1", "not TOML"),
        ("source = 'x'", "unknown entry 'source'"),
    ],
)
def test_a_wrong_entry_is_one_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        project.load(written(tmp_path, text))
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def nets(*names: str) -> Board:
    return Board(nets={name: Net(name, "Power" if name.startswith("V") else "Default") for name in names})


def test_what_names_nothing_on_the_board_is_named_with_what_was_perhaps_meant(tmp_path: Path) -> None:
    board = nets("/io/SENSE1", "VMOTOR", "GND", "/L1")
    right = 'key_nets = ["/io/*", "L1"]\nkey_net_classes = ["Power"]\n[nets]\nGND = "ground"\n[currents]\nVMOTOR = 5'
    assert project.load(written(tmp_path, right)).astray(board) == {}
    wrong = """\
        key_nets = ["/SENS1", "L1", "*_P"]
        key_net_classes = ["power"]
        [nets]
        "Earth" = "ground"
        [voltages]
        "VMOTR" = 24
        [currents]
        "vmotor" = 5
        """
    found = project.load(written(tmp_path, wrong)).astray(board)
    assert {entry: missing for entry, (missing, _) in found.items()} == {
        "key_nets": "no net called '*_P', '/SENS1' (nearest is '/io/SENSE1')",
        "key_net_classes": "no net class called 'power' (nearest is 'Power')",
        "nets": "no net called 'Earth'",
        "voltages": "no net called 'VMOTR' (nearest is 'VMOTOR')",
        "currents": "no net called 'vmotor' (nearest is 'VMOTOR')",
    }
    assert found["nets"][1] == "correct nets in frost.lineworthy.toml, unless it is for another board"


def test_names_that_would_hurt_stay_on_one_line() -> None:
    said = project.Project(key_nets=("A\n\x1b[2J" + "B" * 500,)).astray(nets("GND\n", "X" * 100_000))
    assert all("\n" not in missing and len(missing) < 100 for missing, _ in said.values())
