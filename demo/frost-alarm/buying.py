# SPDX-License-Identifier: MIT
"""Parts list and offers of the frost alarm: invented makers, sellers, stocks and prices, written the same each time.

The parts list is that of the corrected board, in the shape that a buyer in a hurry keeps one. Most parts are easy to
get; `TROUBLES` are those that are not, and `README.md` says what a supply run has to find.

    .venv/bin/python demo/frost-alarm/buying.py
"""

from __future__ import annotations

import argparse
import csv
import zlib
from pathlib import Path

from lineworthy.intake.parts_list import PartsLine, PartsList
from lineworthy.knowledge.packages_agree import chip_sizes
from lineworthy_kicad.reader import read_board

HERE = Path(__file__).parent
DATE = "2026-11-18"

OFFERS_HEADER = (
    "manufacturer_part", "manufacturer", "source", "order_code", "stock", "lead_weeks", "life_cycle", "minimum",
    "multiple", "prices", "currency", "date", "last_order", "package", "height_mm", "voltage",
)  # fmt: skip

# part: (source, stock, lead weeks, life cycle, minimum, multiple, prices, date, last order)
TROUBLES = {
    # the processor: little stock anywhere, and half a year from the maker
    "FA-MCU48-QN": (
        ("Larchmont", "120", "26", "active", 1, 1, "1: 3.10; 100: 2.64; 500: 2.31", DATE, ""),
        ("Quayle & Sons", "75", "28", "active", 1, 1, "1: 3.35; 100: 2.80", DATE, ""),
    ),
    # the radio can be ordered in time, but must be ordered now
    "FA-RF868-QN": (("Larchmont", "0", "16", "active", 1, 1, "1: 2.40; 500: 1.98", DATE, ""),),
    # the sensor is on its way out; there is enough for this build
    "FA-TH4-D": (
        ("Larchmont", "2600", "20", "last-time buy", 1, 1, "1: 1.90; 500: 1.52", DATE, "2027-03-31"),
        ("Harrow Parts", "400", "", "NRND", 10, 10, "10: 2.05", DATE, ""),
    ),
    # the memory has an end
    "FA-EE64-SO8": (("Harrow Parts", "310", "", "obsolete", 1, 1, "1: 0.44; 100: 0.31", DATE, ""),),
    # nobody has asked about the relay since spring
    "TC-RL5-10": (("Harrow Parts", "5000", "9", "active", 1, 1, "1: 1.12; 500: 0.84", "2026-04-02", ""),),
    # the next price break is cheaper than what is needed
    "CM-7345-330": (("Quayle & Sons", "8000", "12", "active", 1, 1, "1: 0.62; 500: 0.55; 600: 0.41", DATE, ""),),
    # not recommended, and easily had
    "BS-SK12": (("Larchmont", "30000", "8", "NRND", 100, 100, "100: 0.048; 1000: 0.031", DATE, ""),),
}

ALTERNATES = {
    "FA-MCU48-QN": "FA-MCU48-QP",
    "FP-EL220-50": "HW-220U-35",
    "C0402-100N": "PE-0402-104",
    "R0402-10K": "PE-0402-10K",
    "BS-SK26A": "OS-SCH26-A",
}

# alternate: (maker, source, stock, package, height in mm, voltage)
OFFERED_ALTERNATES = {
    "FA-MCU48-QP": ("Orchard Silicon", "Quayle & Sons", "900", "LQFP-48", "1.6", ""),
    "HW-220U-35": ("Highwater", "Harrow Parts", "4000", "", "12.5", "35"),
    "PE-0402-104": ("Pennant", "Harrow Parts", "90000", "0402", "0.55", "16"),
    "PE-0402-10K": ("Pennant", "Harrow Parts", "120000", "0402", "0.4", ""),
    "OS-SCH26-A": ("Ossian", "Quayle & Sons", "12000", "SMA", "2.3", "60"),
}

SOLE = {
    "FA-RF868-QN": "sole source: the only radio with our type approval",
    "TC-BZ85": "single source: loudness was measured with this one, changed only with a new test",
}


def main() -> None:
    """Writes both files."""
    arguments = argparse.ArgumentParser(description="Writes the parts list and the offers.")
    arguments.add_argument("--out", type=Path, default=HERE)
    out = arguments.parse_args().out
    parts = PartsList.from_board(read_board(str(HERE / "frost-alarm-corrected.kicad_pcb"))).lines
    write_parts(out / "frost-alarm-parts.csv", parts)
    write_offers(out / "frost-alarm-offers.csv", parts)


def write_parts(path: Path, parts: tuple[PartsLine, ...]) -> None:
    """A letterhead, semicolons, grouped references, and a line that is not fitted."""
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, delimiter=";", lineterminator="\n")
        rows.writerow(["Orchard frost alarm FA-1042"])
        rows.writerow(["Parts list, revision B"])
        rows.writerow([])
        rows.writerow(
            [
                "Item",
                "Qty",
                "References",
                "Value",
                "Package",
                "Manufacturer",
                "MPN",
                "Alternate",
                "Substitution",
                "Sourcing",
            ]
        )
        for n, line in enumerate(parts, 1):
            free = bool(chip_sizes(line.package, line.references[0][0])) and line.references[0][0] in "RC"
            rows.writerow(
                [
                    n,
                    len(line.references),
                    grouped(line.references),
                    line.value,
                    short(line.package),
                    line.maker,
                    line.maker_part,
                    ALTERNATES.get(line.maker_part, ""),
                    "any equivalent" if free else "approved alternates only",
                    SOLE.get(line.maker_part, ""),
                ]
            )


def grouped(references: tuple[str, ...]) -> str:
    """``C11-C14, C16``: runs of three and more as a range."""
    runs: list[list[str]] = []
    for name in references:
        number = int("".join(c for c in name if c.isdigit()))
        if runs and number == int("".join(c for c in runs[-1][-1] if c.isdigit())) + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def short(package: str) -> str:
    """A package as a buyer writes it: the size alone for chips."""
    sizes = chip_sizes(package, package[:1])
    return sizes[0] if sizes and package[0] in "RCL" else package


def write_offers(path: Path, parts: tuple[PartsLine, ...]) -> None:
    """Two offers for most parts, and the troubles as they are."""
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(OFFERS_HEADER)
        done: set[str] = set()
        for line in parts:
            number = line.maker_part
            if number in done:
                continue
            done.add(number)
            for offer in TROUBLES.get(number) or easy(line):
                source, *terms, prices, date, last = offer
                code = f"{source[:2].upper()}-{zlib.crc32(f'{source}{number}'.encode()) % 1_000_000:06d}"
                rows.writerow([number, line.maker, source, code, *terms, prices, "EUR", date, last, "", "", ""])
        for number, (maker, source, stock, *stated) in OFFERED_ALTERNATES.items():
            prices = "1: 0.9; 500: 0.7"
            rows.writerow([number, maker, source, "", stock, "10", "active", 1, 1, prices, "EUR", DATE, "", *stated])


def easy(line: PartsLine) -> list[tuple[str, str, str, str, int, int, str, str, str]]:
    """Plenty at two sellers, at prices made from the part's number."""
    seed = zlib.crc32(line.maker_part.encode())
    chip = line.references[0][0] in "RCL" and len(line.package) < 22
    price = (2 + seed % 9) / 1000 if chip else (8 + seed % 90) / 100
    pack = 100 if chip else 1
    stock = (20_000 if chip else 1_800) + seed % 7 * 1_000
    prices = f"{pack}: {price * 1.5:.4g}; 1000: {price:.4g}; 5000: {price * 0.8:.4g}"
    return [
        ("Harrow Parts", str(stock), "10", "active", pack, pack, prices, DATE, ""),
        ("Larchmont", str(stock // 2), "12", "active", pack, pack, prices.replace("1000:", "2000:"), DATE, ""),
    ]


if __name__ == "__main__":
    main()
