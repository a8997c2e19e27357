# SPDX-License-Identifier: MIT
"""One small board written the way each version of the editor writes it: the model must come out the same."""

from __future__ import annotations

import pytest
import shapely
from reader_docs import VERSIONS

from lineworthy import Board
from lineworthy.model import LayerKind, MarkingRole, Model, Mount, PadKind, PadRole, Side
from lineworthy_kicad.reader import parse_board

# What changed between 6 and 10: nets by number or name, tstamp or uuid, fp_text or fields, bare words or (x yes),
# (width) or (stroke), quoted or bare names, where the layer list stands, how tenting is said.
_OLD_LAYERS = '(layers (0 "F.Cu" signal) (31 "B.Cu" signal) (37 "F.SilkS" user "F.Silkscreen") (44 "Edge.Cuts" user))'
_NEW_LAYERS = '(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (5 "F.SilkS" user "F.Silkscreen") (25 "Edge.Cuts" user))'
_NET_LIST = '(net 0 "") (net 1 "GND") (net 2 "5")'


def _six(stroke: str = "(width 0.12)", generator: str = "(generator pcbnew)", version: int = VERSIONS[6]) -> str:
    return f"""(kicad_pcb (version {version}) {generator}
  (general (thickness 1.2))
  (title_block (title "T") (rev "B"))
  {_OLD_LAYERS}
  (setup (pad_to_mask_clearance 0.05) (pcbplotparams (viasonmask true)))
  {_NET_LIST}
  (footprint "Lib:Pkg" (layer "F.Cu")
    (tedit 5F68FEEE) (tstamp part-1)
    (at 100 50 90)
    (descr "a package") (property "MPN" "ABC-1") (property "Sheetname" "x") (property "dnp" "")
    (attr smd exclude_from_bom)
    (fp_text reference "R1" (at 0 -2 90) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))) (tstamp t1))
    (fp_text value "10k" (at 0 2 90) (layer "F.SilkS") hide (effects (font (size 1 1) (thickness 0.15))) (tstamp t2))
    (fp_line (start -1 0) (end 1 0) (layer "F.SilkS") {stroke} (tstamp g1))
    (pad "1" smd roundrect (at -0.5 0 90) (size 0.6 0.8) (layers F.Cu F.Mask F.Paste) (roundrect_rratio 0.25)
      (net 2 "5") (pinfunction "A") (pintype "passive") (property pad_prop_testpoint) (tstamp p1))
    (pad "2" thru_hole circle (at 0.5 0 90) (size 1.6 1.6) (drill 0.8) (layers *.Cu *.Mask) (net 1 "GND") (tstamp p2))
    (model "x.wrl" (offset (xyz 0 0 0)))
  )
  (gr_line (start 90 40) (end 110 40) (layer "Edge.Cuts") {stroke} (tstamp e1))
  (gr_arc (start 110 40) (mid 120 50) (end 110 60) (layer "Edge.Cuts") {stroke} (tstamp e2))
  (gr_line (start 90 60) (end 110 60) (layer "Edge.Cuts") {stroke} (tstamp e3))
  (gr_line (start 90 60) (end 90 40) (layer "Edge.Cuts") {stroke} (tstamp e4))
  (gr_text "rev ${{REVISION}}" (at 95 55) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))) (tstamp t3))
  (segment (start 95 45) (end 100 45) (width 0.25) (layer "F.Cu") (net 1) (tstamp s1))
  (via (at 96 46) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1) (tstamp v1))
  (zone (net 1) (net_name "GND") (layer "F.Cu") (tstamp z1) (hatch edge 0.5)
    (connect_pads (clearance 0.5)) (min_thickness 0.25) (filled_areas_thickness no) (fill yes)
    (polygon (pts (xy 92 42) (xy 98 42) (xy 98 44) (xy 92 44)))
    (filled_polygon (layer "F.Cu") (pts (xy 92 42) (xy 98 42) (xy 98 44) (xy 92 44))))
)
"""


def _eight(version: int = VERSIONS[8]) -> str:
    text = _six("(stroke (width 0.12) (type solid))", '(generator "pcbnew") (generator_version "8.0")', version)
    font = "(effects (font (size 1 1) (thickness 0.15)))"
    for old, new in [
        ("tstamp", "uuid"),
        ('(tedit 5F68FEEE) ', ""),
        ('(fp_text reference "R1"', '(property "Reference" "R1"'),
        (f'(fp_text value "10k" (at 0 2 90) (layer "F.SilkS") hide {font}',
         f'(property "Value" "10k" (at 0 2 90) (layer "F.SilkS") (hide yes) {font}'),
        ('(property "MPN" "ABC-1") (property "Sheetname" "x") (property "dnp" "")',
         f'(property "MPN" "ABC-1" (at 0 0 90) (layer "F.Fab") (hide yes) (uuid f1) {font}) (sheetname "x")'),
        ("(attr smd exclude_from_bom)", "(attr smd exclude_from_bom dnp)"),
        ("(layers F.Cu F.Mask F.Paste)", '(layers "F.Cu" "F.Mask" "F.Paste")'),
        ("(layers *.Cu *.Mask)", '(layers "*.Cu" "*.Mask")'),
    ]:  # fmt: skip
        assert old in text, old
        text = text.replace(old, new)
    return text


def _nine() -> str:
    text = _eight(VERSIONS[9])
    text = text.replace("(pcbplotparams (viasonmask true))", "(tenting none)").replace(_OLD_LAYERS, _NEW_LAYERS)
    return text.replace("\n  ", "\n\t")


def _ten() -> str:
    text = _nine().replace(str(VERSIONS[9]), str(VERSIONS[10]))
    text = text.replace("(tenting none)", "(tenting (front no) (back no))").replace("(filled_areas_thickness no)", "")
    text = text.replace(_NET_LIST, "").replace('(net 2 "5")', '(net "5")').replace('(net 1 "GND")', '(net "GND")')
    return text.replace('(net 1) (net_name "GND")', '(net "GND")').replace("(net 1)", '(net "GND")')


DOCUMENTS = {
    6: _six(),
    7: _six("(stroke (width 0.12) (type solid))", version=VERSIONS[7]),
    8: _eight(),
    9: _nine(),
    10: _ten(),
}


@pytest.fixture(params=list(DOCUMENTS), ids=lambda generation: f"format {generation}")
def made(request: pytest.FixtureRequest) -> Board:
    return parse_board(DOCUMENTS[request.param], "b.kicad_pcb")


def test_documents_differ() -> None:
    assert len(set(DOCUMENTS.values())) == len(DOCUMENTS)
    assert "(net 1)" not in DOCUMENTS[10]
    assert "tstamp" not in DOCUMENTS[9]


def test_board(made: Board) -> None:
    assert made.name == "b"
    assert made.copper_layers == ("F.Cu", "B.Cu")
    assert (made.title.title, made.title.revision, made.stackup.thickness) == ("T", "B", 1.2)
    assert set(made.nets) == {"GND", "5"}
    assert made.format_note.startswith("format 20")


def test_part(made: Board) -> None:
    (part,) = made.parts
    assert (part.uid, part.reference, part.value) == ("part-1", "R1", "10k")
    assert (part.library, part.package, part.description) == ("Lib", "Pkg", "a package")
    assert part.at == (100, -50)
    assert (part.side, part.rotation, part.mount) == (Side.TOP, 90, Mount.SURFACE)
    assert (part.fitted, part.in_parts_list, part.in_placement) == (False, False, True)
    assert part.fields["MPN"] == "ABC-1"
    assert "Sheetname" not in part.fields
    assert part.models == (Model("x.wrl"),)


def test_pads(made: Board) -> None:
    one, two = made.parts[0].pads
    assert (one.uid, one.number, one.kind, one.net) == ("p1", "1", PadKind.SURFACE, "5")
    assert (one.role, one.pin_name, one.pin_type) == (PadRole.TEST_POINT, "A", "passive")
    # The part is turned by 90 degrees counter-clockwise: what lay to its left is now below.
    assert one.at == pytest.approx((100, -50.5))
    assert two.at == pytest.approx((100, -49.5))
    assert one.copper["F.Cu"].bounds == pytest.approx((99.6, -50.8, 100.4, -50.2))
    assert set(one.mask) == set(one.paste) == {Side.TOP}
    assert one.mask[Side.TOP].bounds == pytest.approx((99.55, -50.85, 100.45, -50.15))
    assert (two.kind, two.net) == (PadKind.THROUGH, "GND")
    assert set(two.copper) == {"F.Cu", "B.Cu"}
    assert set(two.mask) == set(Side)
    assert two.hole is not None
    assert (two.hole.size, two.hole.plated) == ((0.8, 0.8), True)


def test_texts(made: Board) -> None:
    by_uid = {marking.uid: marking for marking in made.markings}
    assert (by_uid["t1"].text, by_uid["t1"].hidden, by_uid["t1"].role) == ("R1", False, MarkingRole.REFERENCE)
    assert (by_uid["t2"].text, by_uid["t2"].hidden, by_uid["t2"].role) == ("10k", True, MarkingRole.VALUE)
    assert by_uid["t1"].at == pytest.approx((98, -50))
    assert (by_uid["t3"].text, by_uid["t3"].source, by_uid["t3"].part_uid) == ("rev B", "rev ${REVISION}", "")
    assert by_uid["t3"].layer.kind is LayerKind.LEGEND


def test_artwork_has_its_pen(made: Board) -> None:
    (graphic,) = made.graphics
    assert (graphic.uid, graphic.part_uid) == ("g1", "part-1")
    assert graphic.shape.bounds == pytest.approx((99.94, -51.06, 100.06, -48.94))


def test_copper(made: Board) -> None:
    assert [(t.uid, t.net, t.width, t.layer) for t in made.tracks] == [("s1", "GND", 0.25, "F.Cu")]
    (via,) = made.vias
    assert (via.uid, via.net, via.diameter, via.drill, via.span) == ("v1", "GND", 0.6, 0.3, ("F.Cu", "B.Cu"))
    assert via.tented == frozenset()
    (area,) = made.areas
    assert (area.uid, area.net, area.layer, area.unfilled) == ("z1", "GND", "F.Cu", False)
    assert area.fill.equals(shapely.box(92, -44, 98, -42))


def test_outline(made: Board) -> None:
    assert made.outline.is_closed
    assert made.outline.area.area == pytest.approx(20 * 20 + 50 * 3.14159265, rel=1e-3)
    assert made.outline.uids == ("e1", "e2", "e3", "e4")


def test_a_format_newer_than_any_known_is_read_with_a_doubt() -> None:
    assert parse_board(_six(version=VERSIONS[10]), "x").format_doubt == ""
    newer = parse_board(_six(version=VERSIONS[10] + 1), "x")
    assert newer.parts
    assert newer.format_doubt.startswith(f"the document's format {VERSIONS[10] + 1} is newer than {VERSIONS[10]}")
