# SPDX-License-Identifier: MIT
"""Capability sheets: what is in force, where it comes from, and what a wrong one says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lineworthy.errors import SheetError
from lineworthy.sheet import TIERS, UNITS, Sheet, built_in, load, unit_of


def written(tmp_path: Path, text: str) -> str:
    path = tmp_path / "ours.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("tier", TIERS)
def test_built_in_sheets_are_complete_and_sourced(tier: str) -> None:
    entries = list(built_in(tier).entries())
    assert len(entries) > 20
    for entry in entries:
        assert entry.unit in UNITS, entry.key
        assert len(entry.source) > 10, f"{entry.key} has no source"
        assert entry.meaning


@pytest.mark.parametrize(
    ("key", "value", "source"),
    [
        # SMEMA fiducial mark standard, summary
        ("fiducials.mark_min_mm", 1.0, "SMEMA"),
        ("fiducials.mark_max_mm", 3.0, "SMEMA"),
        ("fiducials.clear_ring_min_ratio", 1.0, "SMEMA"),
        ("fiducials.clear_ring_preferred_ratio", 2.0, "SMEMA"),
        # IPC-7351 (2005) 3.4.4.1
        ("fiducials.per_side_min_count", 2, "IPC-7351"),
        ("fiducials.per_side_preferred_count", 3, "IPC-7351"),
        # IPC-7525B as cited by a stencil calculator
        ("solder.paste_area_min_ratio", 0.66, "IPC-7525B"),
        ("solder.paste_aspect_min_ratio", 1.5, "IPC-7525B"),
    ],
)
def test_published_values_are_in_the_standard_sheet(key: str, value: float, source: str) -> None:
    sheet = built_in()
    assert sheet.value(key) == value
    assert source in sheet.source(key)


def test_tiers_get_stricter_or_finer() -> None:
    relaxed, standard, dense = (built_in(tier) for tier in TIERS)
    assert relaxed.spacing.chip_min_mm < standard.spacing.chip_min_mm
    assert dense.solder.stencil_mm < standard.solder.stencil_mm
    assert relaxed.fiducials.mark_min_mm == standard.fiducials.mark_min_mm


def steps(words: str, *areas: str) -> Iterator[tuple[str, float, float, float]]:
    """The limits of some areas with one of the words in their names, by tier: relaxed, standard, dense."""
    tables = [{entry.key: entry.value for entry in built_in(tier).entries()} for tier in TIERS]
    for key in tables[0]:
        if key.split(".")[0] in areas and re.search(words, key):
            yield (key, *(float(table[key]) for table in tables))


def test_factories_get_finer_from_tier_to_tier() -> None:
    """What a factory can make at the least, and how deep it drills: nobody makes coarser boards in a finer tier."""
    least = list(steps("_min_", "bare-board"))
    assert len(least) > 15
    for key, relaxed, standard, dense in least:
        assert relaxed >= standard >= dense, key
    for key, relaxed, standard, dense in steps("aspect_max|drill_max", "bare-board"):
        assert relaxed <= standard <= dense, key


def test_room_is_widest_in_the_standard_tier() -> None:
    """Dense boards are placed tighter, and small runs are tended by hand."""
    rooms = list(steps("_min_mm", "spacing", "solder", "panel"))
    assert len(rooms) > 20
    for key, relaxed, standard, dense in rooms:
        assert max(relaxed, dense) <= standard, key


def test_user_sheet_overrides_key_by_key(tmp_path: Path) -> None:
    text = '[sheet]\nname = "Brno"\nbased_on = "dense"\n[bare-board]\nedge_copper_outer_min_mm = 0.3\n'
    sheet = load(written(tmp_path, text))
    assert sheet.name == "Brno"
    assert sheet.bare_board.edge_copper_outer_min_mm == 0.3
    assert sheet.source("bare-board.edge_copper_outer_min_mm") == "given in Brno"
    assert sheet.solder == built_in("dense").solder


@pytest.mark.parametrize("tier", TIERS)
@pytest.mark.parametrize("head", ["", '[sheet]\nbased_on = "dense"\n'])
def test_user_sheet_may_be_called_like_a_built_in_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, tier: str, head: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(f"{tier}.toml").write_text(f"{head}[solder]\nstencil_mm = 0.09\n", encoding="utf-8")
    Path(tier).write_text(f"{head}[solder]\nstencil_mm = 0.08\n", encoding="utf-8")
    base = "dense" if head else "standard"
    for source, stencil in ((f"{tier}.toml", 0.09), (f"./{tier}", 0.08), (tier, built_in(tier).solder.stencil_mm)):
        sheet = load(source)
        assert sheet.solder.stencil_mm == stencil
        assert sheet.base == (tier if source == tier else base)
        assert sheet.spacing == built_in(sheet.base).spacing


def test_user_sheet_gives_its_own_source(tmp_path: Path) -> None:
    text = '[solder]\nstencil_mm = { value = 0.1, source = "their data sheet, page 4" }\n'
    sheet = load(written(tmp_path, text))
    assert sheet.source("solder.stencil_mm") == "their data sheet, page 4"
    assert sheet.name == "ours"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("[solder]\nstensil_mm = 0.1\n", "solder.stensil_mm: no such key (value 0.1); nearest is stencil_mm"),
        ("[soldr]\nstencil_mm = 0.1\n", "soldr: no such key (value {'stencil_mm': 0.1}); nearest is solder"),
        ("[solder]\nstencil_mil = 5\n", "solder.stencil_mil: the unit must be mm: write stencil_mm"),
        ("[solder]\nstencil = 5\n", "solder.stencil: the unit must be mm: write stencil_mm"),
        ("[solder]\nstencil_mm = 5\n", "solder.stencil_mm: 5 is outside the possible 0.03 to 0.5"),
        ("[solder]\nstencil_mm = -1\n", "solder.stencil_mm: -1 is outside the possible 0.03 to 0.5"),
        ("[solder]\nstencil_mm = nan\n", "solder.stencil_mm: nan is outside the possible 0.03 to 0.5"),
        ("[solder]\nstencil_mm = '0.1'\n", "solder.stencil_mm: must be a number, not '0.1'"),
        ("[solder]\nstencil_mm = true\n", "solder.stencil_mm: must be a number, not True"),
        ("[fiducials]\nper_side_min_count = 2.5\n", "fiducials.per_side_min_count: must be a whole number, not 2.5"),
        ("[fiducials]\nper_side_min_count = inf\n", "fiducials.per_side_min_count: must be a whole number, not inf"),
        ("[solder]\nstencil_mm = { source = 'x' }\n", "solder.stencil_mm: value is missing"),
        ("[solder]\nstencil_mm = { value = 0.1, source = 3 }\n", "solder.stencil_mm.source: must be text, not 3"),
        (
            "[solder]\nstencil_mm = { valeu = 0.1 }\n",
            "solder.stencil_mm.valeu: no such key (value 0.1); nearest is value",
        ),
        ("solder = 3\n", "solder: must be a table"),
        ("sheet = 3\n", "sheet: must be a table"),
        ("[sheet]\nname = 3\n", "sheet.name: must be text, not 3"),
        ("[sheet]\nbased_on = 'mine'\n", "sheet.based_on: 'mine' is none of relaxed, standard, dense"),
        ("[sheet\n", "line 1, column 7: not TOML: "),
        (
            "[panel]\nworking_panels_mm = 300\n",
            "panel.working_panels_mm: must be a list of 1 to 20 sizes like [[305, 457]], not 300",
        ),
        ("[panel]\nworking_panels_mm = []\n", "panel.working_panels_mm: must be a list of 1 to 20 sizes"),
        (
            "[panel]\nworking_panels_mm = [[305]]\n",
            "panel.working_panels_mm: each size must be two numbers like [305, 457], not [305]",
        ),
        ("[panel]\nworking_panels_mm = [[305, true]]\n", "panel.working_panels_mm: each size must be two numbers"),
        ("[panel]\nworking_panels_mm = [305, 457]\n", "panel.working_panels_mm: each size must be two numbers"),
        ("[panel]\nworking_panels_mm = [[30, 457]]\n", "panel.working_panels_mm: [30, 457] is outside the possible"),
        ("[panel]\nworking_panels_mm = [[300, nan]]\n", "panel.working_panels_mm: [300, nan] is outside the possible"),
        ("answers = 3\n", "answers: must be a table"),
        ("[answers]\nfinish = 3\n", "answers.finish: must be text, not 3"),
        ("[answers]\nfinnish = 'x'\n", "answers.finnish: no such key (value 'x'); nearest is finish"),
    ],
)
def test_wrong_sheet_names_file_key_value_and_nearest_key(tmp_path: Path, text: str, expected: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(SheetError) as caught:
        load(path)
    assert str(caught.value).startswith(f"{path}: {expected}"), str(caught.value)
    assert "\n" not in str(caught.value)


def test_working_panels_are_a_list_of_sizes_the_shorter_side_first(tmp_path: Path) -> None:
    text = "[panel]\nworking_panels_mm = { value = [[610, 457], [305, 305]], source = 'their mail' }\n"
    sheet = load(written(tmp_path, text))
    assert sheet.panel.working_panels_mm == ((457.0, 610.0), (305.0, 305.0))
    assert sheet.source("panel.working_panels_mm") == "their mail"
    shown = next(entry.shown for entry in sheet.entries() if entry.key == "panel.working_panels_mm")
    assert shown == "[[457, 610], [305, 305]]"
    with pytest.raises(KeyError, match="list of sizes"):
        sheet.value("panel.working_panels_mm")


def test_a_question_without_an_answer_keeps_the_base_and_is_named(tmp_path: Path) -> None:
    text = (
        '[sheet]\nbased_on = "dense"\n[panel]\nrail_mm = ""\nworking_panels_mm = ""\ncorner_radius_mm = 3\n'
        '[answers]\nfinish = "ENIG"\npacking = "  "\n'
    )
    sheet, base = load(written(tmp_path, text)), built_in("dense")
    assert sheet.unanswered == ("panel.rail_mm", "panel.working_panels_mm")
    assert sheet.panel.rail_mm == base.panel.rail_mm
    assert sheet.origins["panel.rail_mm"] == base.origins["panel.rail_mm"]
    assert sheet.panel.corner_radius_mm == 3
    assert sheet.answers == {"finish": "ENIG"}


def test_sheet_file_that_is_not_there_not_text_or_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "missing.toml", tmp_path):
        with pytest.raises(SheetError, match="cannot be read"):
            load(str(path))
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SheetError, match="not UTF-8"):
        load(str(tmp_path / "binary.toml"))


def test_unknown_key_in_python_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        built_in().value("solder.nothing_mm")
    assert unit_of("solder.stencil_mm") == "mm"
    assert unit_of("solder.stencil") == ""


@given(st.dictionaries(st.text(max_size=8), st.one_of(st.integers(), st.text(max_size=8), st.booleans()), max_size=4))
def test_any_table_gives_a_sheet_or_a_sheet_error(table: dict[str, object]) -> None:
    from lineworthy.sheet import _parse

    lines = [f"{_quoted(key)} = {_value(value)}" for key, value in table.items()]
    for head in ("[solder]\n", "[sheet]\n", ""):
        try:
            result = _parse(head + "\n".join(lines), "any.toml")
        except SheetError as error:
            assert str(error).startswith("any.toml: ")  # noqa: PT017 - either outcome is legal
        else:
            assert isinstance(result, Sheet)


def _quoted(text: str) -> str:
    return '"' + "".join(f"\\U{ord(c):08X}" for c in text if not 0xD800 <= ord(c) < 0xE000) + '"'


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return _quoted(value) if isinstance(value, str) else str(value)


def test_a_byte_order_mark_is_no_fault_and_a_device_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf[bare-board]\nedge_copper_outer_min_mm = 0.3\n")
    assert load(str(path)).bare_board.edge_copper_outer_min_mm == 0.3
    if Path("/dev/zero").exists():
        with pytest.raises(SheetError, match="not a regular file"):
            load("/dev/zero")


def test_a_key_like_no_other_gets_no_guess(tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_text("[bare-board]\nqqqq = 1\n", encoding="utf-8")
    with pytest.raises(SheetError, match=r"no such key \(value 1\); there are \d+, see 'lineworthy sheet'"):
        load(str(path))
