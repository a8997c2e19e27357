# SPDX-License-Identifier: MIT
"""A board document with what the demo boards lack: odd pads, margins at every level, odd texts, odd outlines.

Written by hand in format 9, so that the reader and the editor read the very same text.
"""

from __future__ import annotations

import json
from itertools import count
from pathlib import Path

_LAYERS = """
 (0 "F.Cu" signal) (4 "In1.Cu" power "inside one") (6 "In2.Cu" signal) (2 "B.Cu" signal)
 (9 "F.Adhes" user) (11 "B.Adhes" user) (13 "F.Paste" user) (15 "B.Paste" user) (5 "F.SilkS" user) (7 "B.SilkS" user)
 (1 "F.Mask" user) (3 "B.Mask" user) (17 "Dwgs.User" user) (19 "Cmts.User" user) (25 "Edge.Cuts" user)
 (27 "Margin" user) (31 "F.CrtYd" user) (29 "B.CrtYd" user) (35 "F.Fab" user) (33 "B.Fab" user) (39 "User.1" user)
"""

_SMD = '(layers "F.Cu" "F.Mask" "F.Paste")'
_THROUGH = '(layers "*.Cu" "*.Mask")'

PADS = (
    f"smd circle (at 0 0) (size 1 1) {_SMD}",
    f"smd rect (at 3 0 30) (size 1.2 0.7) {_SMD}",
    f"smd oval (at 6 0 -45) (size 1.6 0.7) {_SMD}",
    f"smd roundrect (at 9 0 15) (size 1.5 1) {_SMD} (roundrect_rratio 0.25)",
    f"smd roundrect (at 12 0) (size 1.5 1) {_SMD} (roundrect_rratio 0.2) (chamfer_ratio 0.3)"
    " (chamfer top_left bottom_right)",
    f"smd roundrect (at 15 0 20) (size 1.5 1) {_SMD} (roundrect_rratio 0) (chamfer_ratio 0.4)"
    " (chamfer top_left top_right bottom_left)",
    f"smd trapezoid (at 18 0 10) (size 1.5 1.2) (rect_delta 0.4 0) {_SMD}",
    f"smd trapezoid (at 21 0) (size 1.5 1.2) (rect_delta 0 0.5) {_SMD}",
    f"smd circle (at 24 0) (size 1 1) {_SMD} (solder_mask_margin 0.2) (solder_paste_margin -0.1)",
    f"smd rect (at 27 0) (size 1.4 0.8) {_SMD} (solder_mask_margin -0.1) (solder_paste_margin_ratio -0.1)",
    f"smd roundrect (at 30 0 40) (size 1.4 0.8) {_SMD} (roundrect_rratio 0.25) (solder_paste_margin -0.05)"
    " (solder_paste_margin_ratio -0.05)",
    f"thru_hole circle (at 0 4) (size 1.8 1.8) (drill 1) {_THROUGH}",
    f"thru_hole oval (at 3 4 30) (size 1.8 3) (drill oval 0.8 2) {_THROUGH}",
    f"thru_hole rect (at 6 4 70) (size 1.8 2.4) (drill 0.8 (offset 0.3 -0.4)) {_THROUGH}",
    f"thru_hole roundrect (at 9 4) (size 2 1.4) (drill oval 1.2 0.6 (offset 0.2 0)) {_THROUGH} (roundrect_rratio 0.5)",
    f"np_thru_hole circle (at 12 4) (size 2 2) (drill 2) {_THROUGH}",
    f"np_thru_hole circle (at 15 4) (size 3 3) (drill 1.5) {_THROUGH}",
    f"np_thru_hole oval (at 18 4 45) (size 1 2.5) (drill oval 1 2.5) {_THROUGH}",
    'connect rect (at 21 4) (size 1 3) (layers "F.Cu" "F.Mask")',
    "smd circle (at 24 4) (size 1 1) (property pad_prop_fiducial_glob)"
    ' (layers "F.Cu" "F.Mask") (solder_mask_margin 0.5)',
    'smd rect (at 27 4) (size 1 1) (layers "F.Paste")',
    'smd rect (at 30 4) (size 1 1) (layers "F.Mask")',
    f"smd custom (at 0 9 30) (size 0.6 0.6) {_SMD} (options (clearance outline) (anchor circle)) (primitives"
    " (gr_poly (pts (xy 0 0) (xy 1.2 0) (xy 1.2 0.8) (xy 0.6 1.2)) (width 0.1) (fill yes))"
    " (gr_line (start 0 0) (end -1 0.5) (width 0.2))"
    " (gr_circle (center -1 0.5) (end -0.8 0.5) (width 0.1) (fill yes))"
    " (gr_arc (start 0 -0.2) (mid 0.7 -0.5) (end 1 -1) (width 0.15)))",
    f"smd custom (at 4 9) (size 1 0.4) {_SMD} (options (clearance outline) (anchor rect)) (solder_paste_margin -0.03)"
    " (primitives (gr_rect (start -1 0.1) (end 1 0.6) (width 0.05) (fill yes))"
    " (gr_curve (pts (xy 0 0) (xy 0.5 -1) (xy 1 -1) (xy 1.5 0)) (width 0.2)))",
    f"thru_hole circle (at 8 9) (size 2 2) (drill 1) {_THROUGH} (padstack (mode front_inner_back)"
    ' (layer "Inner" (shape oval) (size 1.4 2.6)) (layer "B.Cu" (shape rect) (size 2.4 1.6)))',
    f"thru_hole rect (at 12 9 25) (size 2 2) (drill 1) {_THROUGH} (padstack (mode custom)"
    ' (layer "In1.Cu" (shape circle) (size 1.2 1.2)) (layer "In2.Cu" (shape roundrect) (size 1.4 1.6)'
    ' (roundrect_rratio 0.25)) (layer "B.Cu" (shape trapezoid) (size 2 2) (rect_delta 0.5 0)))',
    f"thru_hole circle (at 16 9) (size 2 2) (drill 1) {_THROUGH} (remove_unused_layers yes) (keep_end_layers yes)"
    ' (zone_layer_connections "In1.Cu")',
    f"thru_hole circle (at 20 9) (size 2 2) (drill 1) {_THROUGH} (remove_unused_layers yes) (keep_end_layers no)"
    " (zone_layer_connections)",
    'thru_hole circle (at 24 9) (size 2 2) (drill 1) (property pad_prop_castellated) (layers "*.Cu" "F.Mask")',
)

_JUSTIFY = ("left", "right", "top", "bottom", "left top", "right bottom", "left mirror", "right top mirror", "mirror")
TEXTS = (
    "plain",
    "two\\nlines",
    "three\\nlines of\\ntext",
    "~{RESET}",
    "a ~{B} c",
    "10^{2}",
    "V_{CC}",
    "x^{2}_{i}",
    "~{A^{2}}\\nb",
    "4k7 \u2126 \u03bc",
    "${REVISION} of ${TITLE}",
    "${MAKER} ${NOBODY}",
    '100% | {curly} \\\\ \\"quoted\\"',
    "Ωµ°±→ Привет Ελλάδα ÄÖÜß 日本",
    "tab\\tstop",
    "6{dblquote} {quote} {lt}{gt} {backslash} {slash} {bar} {comma} {colon}",
    "{space} {dollar} {brace} {tab} {return} {other} ~{a{slash}b}",
)


class _Ids:
    def __init__(self) -> None:
        self._numbers = count(1)

    def __call__(self) -> str:
        return f'(uuid "00000000-0000-4000-8000-{next(self._numbers):012d}")'


def write(folder: Path) -> Path:
    """Writes the board and its project file into `folder` and gives the board's path."""
    path = folder / "made.kicad_pcb"
    path.write_text(document(), encoding="utf-8")
    project = {"text_variables": {"MAKER": "Somebody & Co"}}
    path.with_suffix(".kicad_pro").write_text(json.dumps(project), encoding="utf-8")
    return path


def document() -> str:
    """The board's text."""
    ids = _Ids()
    body = "\n".join((*_texts(ids), *_outline(ids), *_parts(ids), *_copper(ids), *_zones(ids), *_shapes(ids)))
    return f"""(kicad_pcb (version 20241229) (generator "pcbnew") (generator_version "9.0")
(general (thickness 0.8)) (paper "A4")
(title_block (title "A made board") (date "2020-01-02") (rev "C3") (company "Nobody")
 (comment 1 "one") (comment 4 "four"))
(layers {_LAYERS})
(setup (pad_to_mask_clearance 0.05) (solder_mask_min_width 0.1) (pad_to_paste_clearance -0.02)
 (pad_to_paste_clearance_ratio -0.02) (tenting front))
(net 0 "") (net 1 "GND") (net 2 "/bus/D{{slash}}7") (net 3 "+3V3")
{body}
)
"""


def _texts(ids: _Ids) -> list[str]:
    made = []
    for i, text in enumerate(TEXTS):
        for j, justify in enumerate(("", *_JUSTIFY)):
            effects = f"(effects (font (size {1 + 0.2 * (j % 3)} 1) (thickness {0.1 + 0.05 * (j % 2)})"
            effects += f"{' (italic yes)' if j % 4 == 1 else ''}){f' (justify {justify})' if justify else ''})"
            layer = "B.SilkS" if "mirror" in justify else "F.SilkS"
            at = f"(at {200 + 25 * j} {50 + 12 * i} {(0, 30, 90, 180, 270)[(i + j) % 5]})"
            made.append(f'(gr_text "{text}" {at} (layer "{layer}") {ids()} {effects})')
    made.append(f'(gr_text "BOLD" (at 200 30) (layer "F.Cu") {ids()} (effects (font (size 2 1.5) (bold yes))))')
    made.append(f'(gr_text "thick" (at 220 30) (layer "F.Fab") {ids()} (effects (font (size 1 1) (thickness 0.6))))')
    made.append(
        f'(gr_text "KNOCK" (at 240 30) (layer "F.SilkS" knockout) {ids()}'
        " (effects (font (size 1 1) (thickness 0.15)) (justify left)))"
    )
    return made


def _outline(ids: _Ids) -> list[str]:
    pen = '(stroke (width 0.1) (type default)) (layer "Edge.Cuts")'
    return [
        f"(gr_line (start 100 60) (end 100 20) {pen} {ids()})",
        f"(gr_line (start 110 10) (end 150 10) {pen} {ids()})",
        f"(gr_arc (start 100 20) (mid 102.928932 12.928932) (end 110 10) {pen} {ids()})",
        f"(gr_curve (pts (xy 150 10) (xy 165 12) (xy 165 40) (xy 150 60)) {pen} {ids()})",
        f"(gr_line (start 100 60) (end 150 60) {pen} {ids()})",
        f"(gr_circle (center 145 50) (end 148 50) (fill no) {pen} {ids()})",
        f"(gr_rect (start 105 50) (end 110 55) (fill no) {pen} {ids()})",
        f"(gr_poly (pts (xy 120 52) (xy 126 52) (xy 123 57)) (fill no) {pen} {ids()})",
    ]


def _parts(ids: _Ids) -> list[str]:
    top = "\n".join(_pad(i, text, ids, turned=0) for i, text in enumerate(PADS))
    flipped = "\n".join(_pad(i, _to_back(text), ids, turned=35) for i, text in enumerate(PADS))
    yard = '(stroke (width 0.05) (type default)) (layer "{}")'
    return [
        f"""(footprint "made:ODD" (layer "F.Cu") {ids()} (at 108 22)
 (descr "odd pads") (tags "odd") {_fields("U1", "odd", "F", ids)}
 (attr smd exclude_from_bom) (solder_mask_margin 0.07) (solder_paste_margin -0.01)
 (fp_rect (start -2 -2) (end 33 12) {yard.format("F.CrtYd")} (fill no) {ids()})
 (fp_circle (center 40 0) (end 42 0) {yard.format("F.CrtYd")} (fill no) {ids()})
 (fp_line (start 0 2) (end 30 2) (stroke (width 0.12) (type solid)) (layer "F.SilkS") {ids()})
 {top}
 (embedded_fonts no) (model "${{KICAD9_3DMODEL_DIR}}/odd.step"
 (offset (xyz 0 0 0)) (scale (xyz 1 1 1)) (rotate (xyz 0 0 0))))""",
        f"""(footprint "made:BACK" (layer "B.Cu") {ids()} (at 300 300 35)
 {_fields("U2", "back", "B", ids)} (attr through_hole dnp exclude_from_pos_files)
 (fp_poly (pts (xy -2 -2) (xy 33 -2) (xy 33 12) (xy -2 12)) {yard.format("B.CrtYd")} (fill no) {ids()})
 (fp_arc (start -2 20) (mid 0 18) (end 2 20) {yard.format("F.CrtYd")} {ids()})
 (fp_line (start -2 20) (end 2 20) {yard.format("F.CrtYd")} {ids()})
 {flipped})""",
        f"""(footprint "made:HOLE" (layer "F.Cu") {ids()} (at 135 45 90)
 {_fields("H1", "cut", "F", ids)} (attr board_only exclude_from_pos_files exclude_from_bom)
 (fp_circle (center 2 0) (end 3.5 0) (stroke (width 0.1) (type default)) (layer "Edge.Cuts") (fill no) {ids()}))""",
    ]


def _fields(reference: str, value: str, side: str, ids: _Ids) -> str:
    font = "(effects (font (size 1 1) (thickness 0.15)){})".format(" (justify mirror)" if side == "B" else "")
    rows = (
        f'(property "Reference" "{reference}" (at 0 -4 200) (layer "{side}.SilkS") {ids()} {font})',
        f'(property "Value" "{value}" (at 1 14 0) (layer "{side}.Fab") {ids()} {font})',
        f'(property "Datasheet" "" (at 0 0 0) (unlocked yes) (layer "{side}.Fab") (hide yes) {ids()} {font})',
        f'(property "Description" "odd ${{VALUE}}" (at 0 0 0) (layer "{side}.Fab") (hide yes) {ids()} {font})',
        f'(property "MPN" "A\\"B<c>&=1" (at 3 3 90) (unlocked yes) (layer "{side}.Fab") {ids()} {font})',
        f'(fp_text user "${{REFERENCE}} ${{MPN}}" (at 5 7 135) (layer "{side}.Fab") {ids()} {font})',
        f'(fp_text user "concealed" (at 5 9) (layer "{side}.Fab") (hide yes) {ids()} {font})',
        f'(property "Footprint" "made:OLD" (at 0 0 0) (layer "{side}.Fab") (hide yes) {ids()} {font})',
        f'(fp_text user "left\\nunlocked" (at 9 7 170 unlocked) (layer "{side}.Fab") {ids()}'
        f" {font.replace('justify', 'justify left') if side == 'B' else font[:-1] + ' (justify left))'})",
    )
    return "\n ".join(rows)


def _pad(index: int, text: str, ids: _Ids, turned: float) -> str:
    """A pad node; what a pad's ``at`` says includes the rotation of its part."""
    kind, shape, rest = text.split(" ", 2)
    at, _, tail = rest.partition(")")
    words = at[4:].split()
    angle = (float(words[2]) if len(words) > 2 else 0.0) + turned
    number = index // 2 + 1 if kind != "np_thru_hole" and "Cu" in tail else ""
    net = '(net 2 "/bus/D{slash}7") (pinfunction "D7") (pintype "bidirectional")' if index % 3 == 0 and number else ""
    return f'(pad "{number}" {kind} {shape} (at {words[0]} {words[1]} {angle:g}){tail} {net} {ids()})'


def _to_back(text: str) -> str:
    return text.replace('"F.Cu"', '"B.Cu"').replace('"F.Mask"', '"B.Mask"').replace('"F.Paste"', '"B.Paste"')


def _copper(ids: _Ids) -> list[str]:
    return [
        f'(segment (start 102 36) (end 130.123456 36) (width 0.25) (layer "F.Cu") (net 1) {ids()})',
        f'(segment (start 102 38.5) (end 102 38.5) (width 0.25) (layer "B.Cu") (net 3) {ids()})',
        f'(segment (start 102 37.5) (end 120 37.5) (width 0.2) (layers "F.Cu" "F.Mask") (solder_mask_margin 0.1)'
        f" (net 3) {ids()})",
        f'(arc (start 104 40) (mid 105.414214 36.585786) (end 109 35) (width 0.3) (layer "In1.Cu") (net 2) {ids()})',
        f'(arc (start 112 40) (mid 118 46) (end 123.9 41) (width 0.2) (layer "B.Cu") (net 2) {ids()})',
        f'(via (at 130 36) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1) {ids()})',
        f'(via blind (at 132 36) (size 0.5) (drill 0.2) (layers "F.Cu" "In1.Cu") (net 1) {ids()})',
        f'(via micro (at 134 36) (size 0.4) (drill 0.1) (layers "In2.Cu" "B.Cu") (tenting back) (net 3) {ids()})',
        f'(via (at 136 36) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (tenting none) (net 0)'
        f' (padstack (mode front_inner_back) (layer "Inner" (size 0.5)) (layer "B.Cu" (size 0.8))) {ids()})',
    ]


def _zones(ids: _Ids) -> list[str]:
    corners = "(xy 102 44) (xy 118 44) (xy 118 48) (xy 102 48)"
    return [
        f"""(zone (net 1) (net_name "GND") (layers "F.Cu" "In1.Cu") {ids()} (name "pour") (hatch edge 0.5) (priority 3)
 (connect_pads (clearance 0.2)) (min_thickness 0.2) (filled_areas_thickness no)
 (fill yes (thermal_gap 0.3) (thermal_bridge_width 0.3)) (polygon (pts {corners}))
 (filled_polygon (layer "F.Cu") (pts {corners}))
 (filled_polygon (layer "F.Cu") (island) (pts (xy 103 45)
 (arc (start 104 45) (mid 105 46) (end 104 47)) (xy 103 47))))""",
        f"""(zone (net 0) (net_name "") (layers "F.Cu" "B.Cu") {ids()} (name "away") (hatch edge 0.5)
 (connect_pads (clearance 0)) (min_thickness 0.25)
 (keepout (tracks not_allowed) (vias allowed) (pads allowed) (copperpour not_allowed)
 (footprints not_allowed)) (fill (thermal_gap 0.5) (thermal_bridge_width 0.5))
 (polygon (pts (xy 120 40) (arc (start 125 40) (mid 127 42) (end 125 44)) (xy 120 44))))""",
    ]


def _shapes(ids: _Ids) -> list[str]:
    pen = "(stroke (width 0.2) (type solid))"
    return [
        f'(gr_line (start 102 58) (end 112 57) {pen} (layer "F.SilkS") {ids()})',
        f'(gr_rect (start 114 58) (end 118 56) {pen} (fill yes) (layer "B.SilkS") {ids()})',
        f'(gr_rect (start 128 58) (end 132 56) {pen} (fill no) (layer "F.Mask") {ids()})',
        f'(gr_circle (center 136 57) (end 137 57) {pen} (fill yes) (layer "F.Cu") (net 1) {ids()})',
        f'(gr_circle (center 139 57) (end 140 57) {pen} (fill no) (layer "F.Fab") {ids()})',
        f'(gr_arc (start 102 56) (mid 104 54) (end 106 56) {pen} (layer "Cmts.User") {ids()})',
        f"(gr_poly (pts (xy 141 57) (xy 143 57) (xy 142 55)) (stroke (width 0) (type solid)) (fill yes)"
        f' (layer "F.SilkS") {ids()})',
        f"(gr_poly (pts (xy 141 54) (xy 143 54) (arc (start 143 53) (mid 142 52) (end 141 53))) {pen} (fill no)"
        f' (layer "User.1") {ids()})',
    ]
