# SPDX-License-Identifier: MIT
"""Net classes and variables from the project file beside the board."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from reader_docs import board, document

from lineworthy import Board, InputError
from lineworthy_kicad.reader import read_board
from lineworthy_kicad.reader.project import Project

NETS = [f'(net {i} "{name}")' for i, name in enumerate(["", "GND", "/USB_P", "/USB_N", "VBUS", "HV1", "a+b"])]


def made(settings: dict[str, Any], **more: Any) -> Board:
    return board(*NETS, project=json.dumps({"net_settings": settings, **more}))


def classes(board: Board) -> dict[str, str]:
    return {name: net.net_class for name, net in board.nets.items() if net.net_class != "Default"}


def test_net_classes_and_their_values() -> None:
    found = made(
        {"classes": [{"name": "Default", "clearance": 0.2, "track_width": 0.25, "via_diameter": 0.6, "via_drill": 0.3},
                     {"name": "Power", "clearance": 0.5}, {"clearance": 1}, "junk"]}
    ).net_classes  # fmt: skip
    assert set(found) == {"Default", "Power"}
    default, power = found["Default"], found["Power"]
    assert (default.clearance, default.track_width, default.via_diameter, default.via_drill) == (0.2, 0.25, 0.6, 0.3)
    assert (power.clearance, power.track_width) == (0.5, None)


@pytest.mark.parametrize("value", ["1" + 400 * "0", "NaN", "Infinity", "1e300", "true", '"1"', "null"])
def test_a_length_that_is_none_is_passed_over(value: str) -> None:
    text = f'{{"net_settings": {{"classes": [{{"name": "Power", "clearance": {value}, "track_width": 0.5}}]}}}}'
    power = board(*NETS, project=text).net_classes["Power"]
    assert (power.clearance, power.track_width) == (None, 0.5)


def test_assignment_by_name_pattern_or_list() -> None:
    assert classes(made({"netclass_assignments": {"GND": "Power", "VBUS": ["Power", "Wide"]}})) == {
        "GND": "Power",
        "VBUS": "Power",
    }
    patterns = [{"netclass": "Pair", "pattern": "/USB_?"}, {"netclass": "High", "pattern": "HV[0-9]+"},
                {"netclass": "Rest", "pattern": "*"}]  # fmt: skip
    found = classes(made({"netclass_assignments": {"GND": "Power"}, "netclass_patterns": patterns}))
    assert found == {"GND": "Power", "/USB_P": "Pair", "/USB_N": "Pair", "HV1": "High", "VBUS": "Rest", "a+b": "Rest"}
    assert classes(made({"classes": [{"name": "Old", "nets": ["GND"]}]})) == {"GND": "Old"}
    assert classes(made({"netclass_patterns": [{"netclass": "Sum", "pattern": "a+b"}]})) == {"a+b": "Sum"}


@pytest.mark.parametrize("pattern", ["(", "[", "(a+)+$", "a{99999999999}", "*" * 60, "(?P<n", "\\1"])
def test_patterns_that_are_no_or_no_safe_expressions(pattern: str) -> None:
    long_name = "a" * 400 + "!"
    found = board(
        f'(net 1 "{long_name}")',
        project=json.dumps({"net_settings": {"netclass_patterns": [{"netclass": "X", "pattern": pattern}]}}),
    )
    assert found.nets[long_name].net_class in ("Default", "X")


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("a?" * 26 + "b", "a" * 26),
        ("(a|aa)" * 26 + "b", "a" * 40),
        (".*.*.*.*x", "a" * 400),
        ("a{0,400}a{0,400}a{0,400}a{0,400}x", "a" * 400),
        ("(?x)(a+) +b", "a" * 30),
    ],
)
def test_an_expression_that_takes_for_ever_is_passed_over(pattern: str, name: str) -> None:
    began = time.perf_counter()
    found = Project(patterns=(("X", "X"), (pattern, "Y"), ("aa*", "Z"))).nets([name, *(f"{name}{i}" for i in range(5))])
    assert {net.net_class for net in found.values()} == {"Z"}
    assert time.perf_counter() - began < 3


ORDINARY = [
    ("/.*USB.*/", "/io/USB2/", "/io/UART/"),
    ("USB_?D[PN]", "USB_DP", "USB_DX"),
    (".*_(P|N)$", "/" + 10 * "long/" + "CLK_N", "CLK_NN"),
    ("/.*/DDR.*_[PN][0-9]*", "/" + 10 * "sheet/" + "DDR4.DQS_P3", "/DDR4.DQS_P3"),
    (r"\+?[0-9]+V[0-9]*|VBUS", "VBUS", "GND"),
    ("(?:VCC|VDD|VBAT|VBUS|VIN|VOUT|AVDD|DVDD|IOVDD|VREF).*", "IOVDD_1", "GND"),
    ("(?i)gnd.*", "GNDA", "VCC"),
    (r"uio\d+", "uio12", "uio"),
    ("^/CAN(H|L).*?_x{2}$", "/CANH_1_xx", "/CANH_1_x"),
]


@pytest.mark.parametrize(("pattern", "fitting", "other"), ORDINARY)
def test_ordinary_expressions_are_asked(pattern: str, fitting: str, other: str) -> None:
    found = Project(patterns=((pattern, "Y"),)).nets([fitting, other])
    assert (found[fitting].net_class, found[other].net_class) == ("Y", "Default")


@pytest.mark.parametrize(
    "settings",
    [[], "x", None, {"classes": {}}, {"classes": [[]]}, {"netclass_patterns": ["x", {"pattern": 1}]},
     {"netclass_assignments": {"GND": None, "VBUS": []}}, {"classes": [{"name": 5}]}],
)  # fmt: skip
def test_settings_of_an_unexpected_form_are_passed_over(settings: Any) -> None:
    assert classes(made(settings, text_variables=["x"])) == {}


@pytest.mark.parametrize("text", ["{", "[]", '"x"', "[" * 100_000])
def test_a_project_that_is_no_project(text: str) -> None:
    with pytest.raises(InputError) as caught:
        board(project=text)
    assert "project file" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_project_is_found_beside_the_board(tmp_path: Path) -> None:
    file = tmp_path / "my board.kicad_pcb"
    file.write_text(document('(net 1 "GND")'))
    assert read_board(file).nets["GND"].net_class == "Default"
    beside = tmp_path / "my board.kicad_pro"
    beside.write_text('{"net_settings": {"netclass_assignments": {"GND": "Power"}}, "text_variables": {"A": "b"}}')
    found = read_board(file)
    assert found.nets["GND"].net_class == "Power"
    assert found.variables["A"] == "b"
    beside.write_text("{broken")
    with pytest.raises(InputError) as caught:
        read_board(file)
    assert "kicad_pro" in str(caught.value) or "project file" in str(caught.value)
