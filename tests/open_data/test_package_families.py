# SPDX-License-Identifier: MIT
"""The editor's footprint libraries: is each item taken for the family its library holds?

Truth is the folder an item lies in; the knowledge module is told neither folder nor reference, only name and pads.
Folders that mix families (sensors, filters, fuses, optical parts, RF) are left out of the table.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.packages import Family, HeightOrigin, PackageFacts, Packages
from lineworthy_kicad.reader import parse_footprint

F = Family
CONNECTORS = r"Connector(_.*)?|TerminalBlock(_.*)?|Battery|Valve"

# what the folders are (pattern), which families are right for what lies in them, least share of right answers
TRUTH: tuple[tuple[str, str, tuple[Family, ...], float], ...] = (
    ("capacitor chip or can", "Capacitor_SMD", (F.CHIP, F.CAN, F.SWITCH), 1.0),  # trimmers are turned by people
    ("tantalum", "Capacitor_Tantalum_SMD", (F.MOLDED,), 1.0),
    ("resistor chip", "Resistor_SMD", (F.CHIP, F.MELF), 0.93),
    ("diode, LED", "(Diode|LED)_SMD", (F.CHIP, F.MOLDED, F.MELF, F.POWER, F.NO_LEAD, F.SMALL_OUTLINE), 0.98),
    ("coil", "Inductor_.*|Transformer_.*", (F.INDUCTOR, F.CHIP), 0.99),
    ("crystal", "Crystal|Oscillator", (F.CRYSTAL,), 1.0),
    ("ball array", "Package_BGA", (F.ARRAY,), 1.0),
    ("land array", "Package_LGA", (F.ARRAY,), 0.97),
    ("chip scale", "Package_CSP", (F.ARRAY, F.NO_LEAD), 1.0),
    ("no leads", "Package_(DFN_QFN|SON|DirectFET)", (F.NO_LEAD,), 0.99),
    ("quad-flat", "Package_QFP", (F.QUAD_FLAT,), 1.0),
    ("small outline", "Package_SO(_J-Lead)?", (F.SMALL_OUTLINE, F.NO_LEAD), 0.99),
    ("transistor", "Package_TO_SOT_SMD", (F.SOT, F.POWER, F.NO_LEAD, F.SMALL_OUTLINE, F.MOLDED), 0.99),
    ("dual in line", "Package_DIP|Socket", (F.THROUGH_IC, F.SMALL_OUTLINE, F.CONNECTOR), 0.98),
    ("leaded part", "(Diode|LED|Resistor)_THT|Varistor|Package_TO_SOT_THT", (F.THROUGH_PART, F.THROUGH_IC), 0.99),
    ("leaded capacitor", "Capacitor_THT", (F.THROUGH_PART, F.RADIAL), 1.0),
    ("module", "Converter_.*|Module|RF_(Module|GPS|GSM|WiFi)", (F.MODULE,), 0.85),
    ("connector", CONNECTORS, (F.CONNECTOR,), 0.99),
    ("switch", "Button_.*|Buzzer_.*|Potentiometer_.*|Rotary_Encoder", (F.SWITCH,), 0.99),
    ("relay", "Relay_.*", (F.RELAY, F.CONNECTOR), 0.97),  # sockets for relays are connectors
    ("cover", "Heatsink|RF_Shielding", (F.COVER,), 1.0),
    (
        "nothing placed",
        "Fiducial|Jumper|Mounting.*|NetTie|Panelization|Symbol|TestPoint|Calibration_Scale",
        (F.MECHANICAL,),
        0.99,
    ),
)

EVERY = 16
"""One in so many items of each folder is read by default; all were read when the floors were set."""

pytestmark = pytest.mark.editor


def folders() -> list[Path]:
    found = sorted(demos.FOOTPRINTS.glob("*.pretty"))
    assert len(found) > 100, demos.HOW
    return found


def items(every: int) -> list[Path]:
    """Items of all folders of the table, at least three of each where there are so many."""
    chosen = []
    for folder in folders():
        if truth(folder.stem):
            names = sorted(folder.glob("*.kicad_mod"))
            chosen += names[:: max(1, min(every, len(names) // 3))]
    return chosen


@cache
def truth(folder: str) -> str:
    return next((name for name, pattern, _, _ in TRUTH if re.fullmatch(pattern, folder)), "")


@cache
def facts(path: Path) -> PackageFacts:
    part = parse_footprint(path.read_text(encoding="utf-8"))
    return Packages(Board()).of(replace(part, package=path.stem, library="", reference=""))


def confusion(paths: Sequence[Path]) -> Counter[tuple[str, Family]]:
    return Counter((truth(path.parent.stem), facts(path).family) for path in paths)


def printed(table: Counter[tuple[str, Family]]) -> str:
    lines = []
    for name, _, right, _ in TRUTH:
        row = {family: count for (true, family), count in table.items() if true == name}
        good = sum(count for family, count in row.items() if family in right)
        ordered = sorted(row.items(), key=lambda item: -item[1])
        told = ", ".join(f"{'' if family in right else '!'}{family.value} {count}" for family, count in ordered)
        lines.append(f"{name:22}{good:6}/{sum(row.values()):<6}{told}")
    return "\n".join(lines)


def judge(table: Counter[tuple[str, Family]], slack: int) -> None:
    """Every row at or over its floor; `slack` wrong ones are let pass in a row, for samples of a few."""
    for name, _, right, floor in TRUTH:
        row = {family: count for (true, family), count in table.items() if true == name}
        total, good = sum(row.values()), sum(count for family, count in row.items() if family in right)
        assert total > 0, name
        assert good >= floor * total - slack, f"{name}: {good} of {total}"
    sharp = {"ball array", "land array", "chip scale"}, {"quad-flat"}, {"tantalum", "diode, LED", "transistor"}
    for family, sources in zip((F.ARRAY, F.QUAD_FLAT, F.MOLDED), sharp):
        taken = {true: count for (true, got), count in table.items() if got is family}
        wrong = {true: count for true, count in taken.items() if true not in sources}
        assert sum(wrong.values()) <= 0.05 * sum(taken.values()) + slack, f"{family.value} is also said of {wrong}"


def test_families_of_a_sample(capsys: pytest.CaptureFixture[str]) -> None:
    table = confusion(items(EVERY))
    with capsys.disabled():
        print(f"\nfamily by folder, one item in {EVERY} (! marks what the folder does not hold)\n{printed(table)}")
    judge(table, slack=1)


@pytest.mark.long
def test_families_of_all(capsys: pytest.CaptureFixture[str]) -> None:
    table = confusion(items(1))
    with capsys.disabled():
        print(f"\nfamily by folder, all items\n{printed(table)}")
    judge(table, slack=0)
    total = sum(table.values())
    right = {name: families for name, _, families, _ in TRUTH}
    assert sum(count for (true, family), count in table.items() if family in right[true]) / total > 0.99
    assert table["nothing placed", F.UNKNOWN] == 0


def test_pitch_is_the_one_in_the_name() -> None:
    """Leaded and leadless packages and arrays say their pitch in the name; it is measured, not read."""
    off, seen = [], 0
    for path in items(EVERY):
        said = re.search(r"_P(\d+(?:\.\d+)?)mm", path.stem)
        if said and path.parent.stem in ("Package_QFP", "Package_SO", "Package_DFN_QFN", "Package_BGA", "Package_CSP"):
            seen += 1
            pitch = facts(path).pitch
            if pitch is None or abs(pitch - float(said[1])) > 0.02:
                off.append(f"{path.stem}: {pitch}")
    assert seen > 80
    # some names are wrong or name the pitch of a grid whose neighbours are not all there: 12 of 1505 in all
    assert len(off) <= 0.03 * seen, off


def test_chip_sizes_are_found_without_a_name() -> None:
    """By drawn body and lands alone, for the sizes that are in use; the name is the truth here."""
    common = ("01005", "0201", "0402", "0603", "0805", "1206", "1210", "1812", "2010", "2512")
    checked = 0
    for folder in ("Resistor_SMD", "Capacitor_SMD", "LED_SMD", "Diode_SMD", "Inductor_SMD", "Fuse"):
        for path in sorted((demos.FOOTPRINTS / f"{folder}.pretty").glob("*Metric*.kicad_mod")):
            said = re.match(r"[A-Za-z]+_(\d{4,5})_\d{4}Metric(?=$|_Pad)", path.stem)
            if said and said[1] in common:
                part = parse_footprint(path.read_text(encoding="utf-8"))
                got = Packages(Board()).of(replace(part, package="house-17", library="", reference="R1"))
                assert (path.stem, got.chip_size) == (path.stem, said[1])
                checked += 1
    assert checked > 100


def test_ceramic_capacitors_are_the_chip_capacitors() -> None:
    chips = [path for path in items(EVERY) if path.parent.stem == "Capacitor_SMD" and re.match(r"C_\d", path.stem)]
    assert chips
    assert all(facts(path).ceramic_capacitor for path in chips)
    others = [path for path in items(EVERY) if path not in chips]
    assert [path.stem for path in others if facts(path).ceramic_capacitor] == []


def test_heights_that_names_hold_are_read() -> None:
    origins: Counter[HeightOrigin] = Counter()
    for path in items(EVERY):
        got = facts(path)
        origins[got.height_origin] += 1
        assert (got.height is None) == (got.height_origin is HeightOrigin.UNKNOWN)
        # beside a width it is the other side on the board
        said = re.search(r"(_W[\d.]+mm)?_H(\d+(?:\.\d+)?)mm", path.stem)
        if said and not said[1] and got.family is not F.MECHANICAL:
            assert got.height == float(said[2]), path.stem
    assert origins[HeightOrigin.LIBRARY_NAME] > 40
    assert origins[HeightOrigin.TABLE] > 150


GOLDEN = Path(__file__).parent.parent / "golden" / "package_coverage.csv"
"""How many items of the editor's libraries are told to be what, and where their heights come from (15,415 items)."""


@pytest.mark.long
def test_coverage_of_the_whole_library_is_what_it_was() -> None:
    """Nothing is right or wrong here: whoever changes a rule sees what it changes, and writes the new figures down."""
    counted: Counter[tuple[str, str]] = Counter()
    for folder in folders():
        for path in folder.glob("*.kicad_mod"):
            got = facts(path)
            counted["family", got.family.value] += 1
            counted["terminals", got.terminals.value] += 1
            counted["height", got.height_origin.value] += 1
            for name in ("polarised", "ceramic_capacitor", "hand_fitted", "machine_placed"):
                counted["said", name] += getattr(got, name)
    with GOLDEN.open(encoding="utf-8", newline="") as file:
        kept = {(row["what"], row["value"]): int(row["items"]) for row in csv.DictReader(file)}
    assert dict(counted) == kept
