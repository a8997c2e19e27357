# SPDX-License-Identifier: MIT
"""The board of the contract tests: small, with a pour of ground on both sides that nobody has filled yet."""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path

OUTLINE_MM = (100.0, 50.0, 150.0, 90.0)
"""Left, top, right, bottom, in the document's frame (y down)."""
REVISION = "B7"
NETS = ("", "GND", 'odd "net" \\ name')


def uid(name: str) -> str:
    """The id of an item of this board."""
    return str(uuid.uuid5(uuid.NAMESPACE_OID, name))


PART, PAD, TRACK, TEXT, ZONE = (uid(name) for name in ("part", "pad-1", "track", "text", "zone-F.Cu"))


def write_board(folder: Path, editor: int = 9) -> Path:
    """Writes the board and its project into a folder, and returns the board.

    Args:
        folder: where to.
        editor: major version of the editor that shall read it; all but 6 read what 9 writes.
    """
    board = folder / "contract.kicad_pcb"
    board.write_text(_in_format_6(_document()) if editor == 6 else _document(), encoding="utf-8")
    project = {"board": {}, "meta": {"filename": "contract.kicad_pro", "version": 3}, "text_variables": {"LOT": "42"}}
    board.with_suffix(".kicad_pro").write_text(json.dumps(project), encoding="utf-8")
    return board


def _document() -> str:
    left, top, right, bottom = OUTLINE_MM
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    edges = "\n".join(
        f"(gr_line (start {a[0]} {a[1]}) (end {b[0]} {b[1]}) (stroke (width 0.1) (type default)) "
        f'(layer "Edge.Cuts") (uuid "{uid(f"edge {a}")}"))'
        for a, b in zip(corners, corners[1:] + corners[:1])
    )
    return f"""(kicad_pcb (version 20241229) (generator "pcbnew") (generator_version "9.0")
(general (thickness 1.6) (legacy_teardrops no))
(paper "A4")
(title_block (title "Contract") (rev "{REVISION}"))
(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (5 "F.SilkS" user "F.Silkscreen") (7 "B.SilkS" user "B.Silkscreen")
  (13 "F.Paste" user) (15 "B.Paste" user) (1 "F.Mask" user) (3 "B.Mask" user) (25 "Edge.Cuts" user) (35 "F.Fab" user)
  (33 "B.Fab" user))
(setup (pad_to_mask_clearance 0))
{_nets()}
(footprint "Resistor_SMD:R_0805_2012Metric" (layer "F.Cu") (uuid "{PART}") (at 120 70)
  (property "Reference" "R1" (at 0 -1.65 0) (layer "F.SilkS") (uuid "{uid("reference")}")
    (effects (font (size 1 1) (thickness 0.15))))
  (property "Value" "10k" (at 0 1.65 0) (layer "F.Fab") (uuid "{uid("value")}")
    (effects (font (size 1 1) (thickness 0.15))))
  (attr smd)
  (pad "1" smd roundrect (at -0.9125 0) (size 1.025 1.4) (layers "F.Cu" "F.Paste" "F.Mask") (roundrect_rratio 0.243902)
    (net 1 "GND") (uuid "{PAD}"))
  (pad "2" smd roundrect (at 0.9125 0) (size 1.025 1.4) (layers "F.Cu" "F.Paste" "F.Mask") (roundrect_rratio 0.243902)
    (net 2 {_quoted(NETS[2])}) (uuid "{uid("pad-2")}")))
{edges}
(gr_text "ORIGINAL" (at 110 55 0) (layer "F.SilkS") (uuid "{TEXT}") (effects (font (size 1 1) (thickness 0.15))))
(segment (start 120.9125 70) (end 128 70) (width 0.25) (layer "F.Cu") (net 2) (uuid "{TRACK}"))
(via (at 113 62) (size 0.8) (drill 0.4) (layers "F.Cu" "B.Cu") (net 1) (uuid "{uid("via")}"))
{_zone("F.Cu")}
{_zone("B.Cu")}
)
"""


def _in_format_6(text: str) -> str:
    """The same board as version 6 writes it."""
    numbers = {"B.Cu": 31, "B.Paste": 34, "F.Paste": 35, "B.SilkS": 36, "F.SilkS": 37, "B.Mask": 38, "F.Mask": 39}
    numbers.update({"Edge.Cuts": 44, "B.Fab": 48, "F.Fab": 49})
    for name, number in numbers.items():
        text = re.sub(rf'\(\d+ "{re.escape(name)}" ', f'({number} "{name}" ', text)
    text = text.replace(
        '(version 20241229) (generator "pcbnew") (generator_version "9.0")', "(version 20211014) (generator pcbnew)"
    )
    text = text.replace(" (legacy_teardrops no)", "").replace("(stroke (width 0.1) (type default))", "(width 0.1)")
    text = re.sub(r'\(property "(Reference|Value)"', lambda match: f"(fp_text {match[1].lower()}", text)
    return re.sub(r'\(uuid "([^"]*)"\)', r"(tstamp \1)", text)


def _nets() -> str:
    return "\n".join(f"(net {number} {_quoted(name)})" for number, name in enumerate(NETS))


def _zone(layer: str) -> str:
    left, top, right, bottom = OUTLINE_MM
    corners = [(left + 1, top + 1), (right - 1, top + 1), (right - 1, bottom - 1), (left + 1, bottom - 1)]
    points = " ".join(f"(xy {x} {y})" for x, y in corners)
    return (
        f'(zone (net 1) (net_name "GND") (layer "{layer}") (uuid "{uid(f"zone-{layer}")}") (hatch edge 0.5) '
        f"(connect_pads (clearance 0.3)) (min_thickness 0.25) (filled_areas_thickness no) "
        f"(fill yes (thermal_gap 0.5) (thermal_bridge_width 0.5)) (polygon (pts {points})))"
    )


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
