# SPDX-License-Identifier: MIT
"""The editor's own rule check, run with the limits of a capability sheet."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Violation:
    """One violation: its type, the editor's ids of the items it names, what it calls them, and what it says."""

    kind: str
    uids: frozenset[str]
    names: tuple[str, ...]
    said: str


def rules(sheet: Sheet) -> str:
    """A rules file that asks for the sheet's limits and nothing else, in the editor's rule language."""
    limits = sheet.bare_board
    asked = [
        ("gap outside", "(layer outer)", f"clearance (min {limits.gap_outer_min_mm}mm)", ""),
        ("gap inside", "(layer inner)", f"clearance (min {limits.gap_inner_min_mm}mm)", ""),
        ("track outside", "(layer outer)", f"track_width (min {limits.track_outer_min_mm}mm)", ""),
        ("track inside", "(layer inner)", f"track_width (min {limits.track_inner_min_mm}mm)", ""),
        ("ring of vias", "", f"annular_width (min {limits.via_ring_min_mm}mm)", "A.Type == 'Via'"),
        ("ring of pads", "", f"annular_width (min {limits.pad_ring_min_mm}mm)", "A.Type == 'Pad'"),
        ("drills", "", f"hole_size (min {limits.drill_min_mm}mm) (max {limits.drill_max_mm}mm)", ""),
        ("holes apart", "", f"hole_to_hole (min {limits.hole_to_hole_min_mm}mm)", ""),
        ("hole to copper", "(layer outer)", f"hole_clearance (min {limits.hole_to_copper_outer_min_mm}mm)", ""),
        ("hole to copper inside", "(layer inner)", f"hole_clearance (min {limits.hole_to_copper_inner_min_mm}mm)", ""),
        # a layer in a rule on edges is that of the edge: one limit for all copper
        ("edge", "", f"edge_clearance (min {limits.edge_copper_outer_min_mm}mm)", ""),
        ("courtyards", "", "courtyard_clearance (min 0mm)", ""),
        ("legend", "", "silk_clearance (min 0mm)", ""),
    ]
    lines = ["(version 1)"]
    for name, layer, constraint, condition in asked:
        only = f' (condition "{condition}")' if condition else ""
        lines.append(f'(rule "{name}" {layer} (constraint {constraint}){only})')
    return "\n".join(lines) + "\n"


def violations(board: Path, sheet: Sheet, cache: Path) -> list[Violation]:
    """What the editor finds on a board with the sheet's limits; kept in `cache` between runs.

    The board's own rules and net classes are left out. The editor stops at some 200 violations of a type.
    """
    asked = rules(sheet)
    version = subprocess.run(["kicad-cli", "version"], capture_output=True, text=True, check=True).stdout
    key = hashlib.sha256(b"\0".join([board.read_bytes(), asked.encode(), _project().encode(), version.encode()]))
    kept = cache / f"rules-{key.hexdigest()[:24]}.json"
    if not kept.exists():
        with tempfile.TemporaryDirectory() as scratch:
            copy = Path(scratch) / "board.kicad_pcb"
            shutil.copy(board, copy)
            copy.with_suffix(".kicad_dru").write_text(asked, encoding="utf-8")
            copy.with_suffix(".kicad_pro").write_text(_project(), encoding="utf-8")
            made = Path(scratch) / "found.json"
            command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "--all-track-errors"]
            subprocess.run([*command, "-o", str(made), str(copy)], capture_output=True, check=True, timeout=1800)
            shutil.copy(made, kept)
    found = json.loads(kept.read_text(encoding="utf-8"))["violations"]
    return [
        Violation(
            each["type"],
            frozenset(item["uuid"] for item in each["items"]),
            tuple(item["description"] for item in each["items"]),
            each["description"],
        )
        for each in found
    ]


def _project() -> str:
    """A project without limits of its own, in which everything asked for is an error."""
    zero = (
        "min_clearance min_copper_edge_clearance min_hole_clearance min_hole_to_hole min_track_width min_connection "
        "min_via_annular_width min_via_diameter min_through_hole_diameter solder_mask_to_copper_clearance"
    )
    kinds = (
        "annular_width clearance copper_edge_clearance courtyards_overlap drill_out_of_range hole_clearance "
        "hole_to_hole holes_co_located shorting_items silk_over_copper track_width tracks_crossing zones_intersect"
    )
    default = {"name": "Default", "clearance": 0.0, "track_width": 0.2, "via_diameter": 0.6, "via_drill": 0.3}
    settings = {
        "rules": {**dict.fromkeys(zero.split(), 0.0), "max_error": 0.005},
        "rule_severities": dict.fromkeys(kinds.split(), "error"),
    }
    return json.dumps(
        {
            "board": {"design_settings": settings},
            "meta": {"filename": "board.kicad_pro", "version": 3},
            "net_settings": {"classes": [default]},
        }
    )
