# SPDX-License-Identifier: MIT
"""What holds for every check: id, documentation, limits, place in its area's file."""

from __future__ import annotations

import importlib
import inspect
import re
from pathlib import Path

import pytest

from lineworthy import Consequence
from lineworthy import checks as checks_package
from lineworthy.checks import CHECKS
from lineworthy.finding import Place
from lineworthy.inputs import Inputs
from lineworthy.registry import AREAS, SECTIONS, Check, check, parse_help
from lineworthy.sheet import built_in

AREA_FILES = sorted(p.stem for p in Path(inspect.getfile(checks_package)).parent.glob("*.py") if p.stem != "__init__")
CURES = re.compile(r"\b(add|use|fix|move|insert|please|should|must)\b", re.IGNORECASE)


@pytest.mark.parametrize("item", CHECKS, ids=lambda item: item.id)
def test_check_is_documented(item: Check) -> None:
    assert item.help.what, "the docstring says nothing before its sections"
    assert "?" in item.help.what or item.help.what.endswith(".")
    for section in SECTIONS:
        assert len(item.help.sections.get(section, "")) > 15, f"section {section!r} is missing or empty"


@pytest.mark.parametrize("item", CHECKS, ids=lambda item: item.id)
def test_check_names_real_limits_and_inputs(item: Check) -> None:
    sheet = built_in()
    for key in item.limits:
        assert isinstance(sheet.value(key), (int, float))
    for name in item.inputs:
        assert name in ("board", "sheet") or hasattr(Inputs, name), f"{name} is no input"


@pytest.mark.parametrize("item", CHECKS, ids=lambda item: item.id)
def test_check_uses_the_limits_it_names(item: Check) -> None:
    module = inspect.getsource(inspect.getmodule(item.ask))
    for key in item.limits:
        assert key.split(".")[1] in module, f"{key} is declared and never read"


def test_ids_are_unique_and_name_the_problem() -> None:
    ids = [item.id for item in CHECKS]
    assert len(ids) == len(set(ids))
    assert not [check_id for check_id in ids if CURES.search(check_id.split("/")[1].replace("-", " "))]


def test_every_area_has_a_check() -> None:
    assert [area for area in AREAS if area not in {item.area for item in CHECKS}] == []


@pytest.mark.parametrize("name", AREA_FILES)
def test_no_check_is_forgotten_in_its_file(name: str) -> None:
    module = importlib.import_module(f"lineworthy.checks.{name}")
    made = [value for value in vars(module).values() if isinstance(value, Check)]
    assert set(made) == set(module.CHECKS)
    assert len({item.area for item in made}) == 1, "an area may have several files, a file has one area"
    assert set(module.CHECKS) <= set(CHECKS)


@pytest.mark.parametrize("wrong", ["too-few", "nowhere/too-few", "fiducials/Too-Few", "fiducials/", "fiducials/a/b"])
def test_a_wrong_id_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="not area/problem"):
        check(wrong)


def test_help_is_cut_into_sections() -> None:
    doc = "Asks this\nover two lines.\n\nWhy it matters: because\n    it does.\nWhat to do: that.\n"
    parsed = parse_help(doc)
    assert parsed.what == "Asks this over two lines."
    assert parsed.sections == {"Why it matters": "Because it does.", "What to do": "That."}


def test_what_the_editor_spells_out_is_read_as_the_character() -> None:
    """Net names hold ``{slash}`` where the editor shows ``/``."""
    place = Place((0.0, 0.0), None, "R{slash}W, U1 pad 3")
    some = CHECKS[0]
    finding = some.finding(Consequence.NOTE, "no probe on R{slash}W, ~{RESET} and {other}", places=[place])
    assert finding.message == "no probe on R/W, ~{RESET} and {other}"
    assert finding.places[0].label == "R/W, U1 pad 3"
    assert some.finding(Consequence.NOTE, "net A{return}B").message == "net A B"
