# SPDX-License-Identifier: MIT
"""The contract board in the format of version 6, which reads no later one.

A pytest plug-in (``-p board_6``): with it, every contract test runs on this board.
"""

from __future__ import annotations

import contract_board
from contract_board import NETS, OUTLINE_MM, PAD, PART, REVISION, TEXT, TRACK, uid


def document() -> str:
    """The same board as `contract_board` writes, item by item and id by id."""
    left, top, right, bottom = OUTLINE_MM
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    edges = "\n".join(
        f'(gr_line (start {a[0]} {a[1]}) (end {b[0]} {b[1]}) (layer "Edge.Cuts") (width 0.1) '
        f"(tstamp {uid(f'edge {a}')}))"
        for a, b in zip(corners, corners[1:] + corners[:1])
    )
    quoted = [contract_board._quoted(name) for name in NETS]
    nets = "\n".join(f"(net {number} {name})" for number, name in enumerate(quoted))
    pad = '(size 1.025 1.4) (layers "F.Cu" "F.Paste" "F.Mask") (roundrect_rratio 0.243902)'
    font = "(effects (font (size 1 1) (thickness 0.15)))"
    return f"""(kicad_pcb (version 20211014) (generator pcbnew)
(general (thickness 1.6))
(paper "A4")
(title_block (title "Contract") (rev "{REVISION}"))
(layers (0 "F.Cu" signal) (31 "B.Cu" signal) (34 "B.Paste" user) (35 "F.Paste" user) (36 "B.SilkS" user "B.Silkscreen")
  (37 "F.SilkS" user "F.Silkscreen") (38 "B.Mask" user) (39 "F.Mask" user) (44 "Edge.Cuts" user) (48 "B.Fab" user)
  (49 "F.Fab" user))
(setup (pad_to_mask_clearance 0))
{nets}
(footprint "Resistor_SMD:R_0805_2012Metric" (layer "F.Cu") (tedit 0) (tstamp {PART}) (at 120 70)
  (attr smd)
  (fp_text reference "R1" (at 0 -1.65) (layer "F.SilkS") {font} (tstamp {uid("reference")}))
  (fp_text value "10k" (at 0 1.65) (layer "F.Fab") {font} (tstamp {uid("value")}))
  (pad "1" smd roundrect (at -0.9125 0) {pad} (net 1 "GND") (tstamp {PAD}))
  (pad "2" smd roundrect (at 0.9125 0) {pad} (net 2 {quoted[2]}) (tstamp {uid("pad-2")})))
{edges}
(gr_text "ORIGINAL" (at 110 55) (layer "F.SilkS") (tstamp {TEXT}) {font})
(segment (start 120.9125 70) (end 128 70) (width 0.25) (layer "F.Cu") (net 2) (tstamp {TRACK}))
{_zone("F.Cu")}
{_zone("B.Cu")}
)
"""


def _zone(layer: str) -> str:
    """A pour; version 6 would fill nothing where no item of its net is, unless told to keep islands."""
    left, top, right, bottom = OUTLINE_MM
    corners = [(left + 1, top + 1), (right - 1, top + 1), (right - 1, bottom - 1), (left + 1, bottom - 1)]
    points = " ".join(f"(xy {x} {y})" for x, y in corners)
    return (
        f'(zone (net 1) (net_name "GND") (layer "{layer}") (tstamp {uid(f"zone-{layer}")}) (hatch edge 0.5) '
        f"(connect_pads (clearance 0.3)) (min_thickness 0.25) (filled_areas_thickness no) "
        f"(fill yes (thermal_gap 0.5) (thermal_bridge_width 0.5) (island_removal_mode 1) (island_area_min 0)) "
        f"(polygon (pts {points})))"
    )


contract_board._document = document
