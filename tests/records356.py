# SPDX-License-Identifier: MIT
"""Reads IPC-D-356A land and hole records, by columns, into plain values in mm: what ours and the editor's are told by.

Columns: "IPC-D-356A column map in the comments of a public reader"; the mask's ``S`` stands in column 73 by that map
and in 72 in the editor's files.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Optional

MM_PER_UNIT = {"0": 0.00254, "1": 0.001}
"""By what ``P  UNITS CUST`` says: 0.0001 inch or 0.001 mm."""


@dataclass(frozen=True)
class Record:
    operation: str
    net: str
    part: str
    pin: str
    middle: bool
    hole: Optional[float]
    plated: Optional[bool]
    access: int
    at: tuple[float, float]
    size: tuple[float, float]
    rotation: int
    mask: int


def read(text: str, unit: float = 0.0) -> list[Record]:
    """All records of a file; aliases of nets are resolved. `unit` in mm is for lines without a header."""
    names: dict[str, str] = {}
    found: list[Record] = []
    for line in text.splitlines():
        assert len(line) <= 80, line
        if line.startswith("P  UNITS CUST"):
            unit = MM_PER_UNIT[line.split()[-1]]
        elif line.startswith("P  NNAME"):
            alias, _, name = line[3:].partition("  ")
            names[alias] = name
        elif line[:3] in ("317", "327", "367"):
            found.append(_record(line, names, unit))
    return found


def header(text: str) -> dict[str, str]:
    """Parameters of the header by name."""
    rows = (line[3:].partition(" ") for line in text.splitlines() if line.startswith("P  "))
    return {name: value.strip() for name, _, value in rows}


def _record(line: str, names: dict[str, str], unit: float) -> Record:
    net = line[3:17].strip()
    drilled = line[32] == "D"
    assert line[38] + line[41] + line[49] == "AXY", line
    mask = line[71:].strip()
    assert mask.startswith("S"), line
    return Record(
        operation=line[:3],
        net=names.get(net, net),
        part=line[20:26].strip(),
        pin=line[27:31].strip(),
        middle=line[31] == "M",
        hole=int(line[33:37]) * unit if drilled else None,
        plated=line[37] == "P" if drilled else None,
        access=int(line[39:41]),
        at=(_number(line[42:49]) * unit, _number(line[50:57]) * unit),
        size=(_number(line[58:62]) * unit, _number(line[63:67]) * unit),
        rotation=int(_number(line[68:71])),
        mask=int(mask[1:]),
    )


def _number(columns: str) -> float:
    return float(columns.strip() or 0)
