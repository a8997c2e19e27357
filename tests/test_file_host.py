# SPDX-License-Identifier: MIT
"""The file host and what it writes: only ever added to, in the document's own dialect, or not at all."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from lineworthy.amend import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.errors import InputError
from lineworthy.model import Board, PadRole, Side
from lineworthy_kicad.__main__ import main
from lineworthy_kicad.hosts.common import project_text
from lineworthy_kicad.hosts.file_host import FileHost
from lineworthy_kicad.hosts.host import HostError
from lineworthy_kicad.hosts.write import inserted, quoted, written
from lineworthy_kicad.reader import parse_board, read_board
from lineworthy_kicad.reader.text_extents import measure
from oracle.editor import interpreter

EVIL = 'a "b" \\ (net 7 "GND") ~{x}'
"""A net's name with everything in it that could end a text early."""

AMENDMENTS: tuple[Amendment, ...] = (
    FiducialMark("FID1", (25.0, -25.0), Side.TOP, 1.0, 2.0),
    FiducialMark("FID2", (65.0, -45.0), Side.BOTTOM, 1.0, 3.0),
    MarkingText("Widget REV C", "${TITLE} REV ${REVISION}", (40.0, -25.0), Side.TOP, 1.0, 0.15),
    MarkingText("two\nlines", "two\nlines", (60.0, -30.0), Side.BOTTOM, 1.2, 0.2, 90.0),
    ProbePad("TP1", (45.0, -40.0), Side.BOTTOM, 1.0, "GND"),
    ProbePad("TP2", (50.0, -40.0), Side.TOP, 0.7, EVIL),
    ToolingHole("TH1", (30.0, -45.0), 3.175),
)

VERSIONS = (20211014, 20221018, 20230620, 20231014, 20240108, 20241229, 20260206)
"""Formats of versions 6, 7, two in between that changed fields and ids, 8, 9, 10."""


def document(version: int, newline: str = "\n", indent: str = "\t") -> str:
    """A board of 50 x 30 mm with a pour of GND below, as that version would write it."""
    named = version >= 20251028
    pen = "(stroke (width 0.1) (type solid))" if version >= 20211229 else "(width 0.1)"
    ident = (
        '(uuid "00000000-0000-4000-8000-00000000000{}")'
        if version >= 20231014
        else "(tstamp 00000000-0000-4000-8000-00000000000{})"
    )
    nets = [] if named else ['(net 0 "")', '(net 1 "GND")', f"(net 2 {quoted(EVIL)})"]
    zone = '(zone (net "GND")' if named else '(zone (net 1) (net_name "GND")'
    track = f"(net {quoted(EVIL)})" if named else "(net 2)"
    points = "(pts (xy 21 21) (xy 69 21) (xy 69 49) (xy 21 49))"
    rows = [
        "(general (thickness 1.6))",
        '(paper "A4")',
        '(title_block (title "Widget") (rev "C"))',
        '(layers (0 "F.Cu" signal) (31 "B.Cu" signal) (37 "F.SilkS" user) (36 "B.SilkS" user) (39 "F.Mask" user)'
        ' (38 "B.Mask" user) (44 "Edge.Cuts" user) (47 "F.CrtYd" user) (46 "B.CrtYd" user) (49 "F.Fab" user)'
        ' (48 "B.Fab" user))',
        "(setup (pad_to_mask_clearance 0))",
        *nets,
        f'(gr_rect (start 20 20) (end 70 50) {pen} (fill none) (layer "Edge.Cuts") {ident.format(1)})',
        f'(segment (start 48 40) (end 60 40) (width 0.25) (layer "F.Cu") {track} {ident.format(2)})',
        f'{zone} (layer "B.Cu") {ident.format(3)} (hatch edge 0.5) (connect_pads (clearance 0.3)) (min_thickness 0.25)'
        f" (fill yes (thermal_gap 0.5) (thermal_bridge_width 0.5)) (polygon {points})"
        f' (filled_polygon (layer "B.Cu") {points}))',
    ]
    if version >= 20241229:
        rows[3] = (
            '(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (5 "F.SilkS" user) (7 "B.SilkS" user) (1 "F.Mask" user)'
            ' (3 "B.Mask" user) (25 "Edge.Cuts" user) (31 "F.CrtYd" user) (29 "B.CrtYd" user) (35 "F.Fab" user)'
            ' (33 "B.Fab" user))'
        )
    head = (
        f'(kicad_pcb (version {version}) (generator "pcbnew")'
        if version > 20211014
        else f"(kicad_pcb (version {version}) (generator pcbnew)"
    )
    return newline.join([head, *(indent + row for row in rows), ")", ""])


def saved(folder: Path, version: int = 20241229, **form: str) -> Path:
    path = folder / "widget.kicad_pcb"
    path.write_bytes(document(version, **form).encode())
    return path


def read(path: Path) -> Board:
    return parse_board(path.read_bytes().decode(), path.name, str(path))


@pytest.mark.parametrize("version", VERSIONS)
def test_every_format_takes_everything_and_reads_it_back_where_it_was_put(tmp_path: Path, version: int) -> None:
    path = saved(tmp_path, version)
    applied = FileHost(path).apply(AMENDMENTS, "insert")
    board = read(path)
    parts = {part.uid: part for part in board.parts}
    texts = {marking.uid: marking for marking in board.markings}
    assert [item.amendment for item in applied] == list(AMENDMENTS)
    assert len({item.uid for item in applied}) == len(AMENDMENTS)
    for amendment, uid in ((item.amendment, item.uid) for item in applied):
        if isinstance(amendment, MarkingText):
            text = texts[uid]
            assert (text.at, text.text, text.source) == (amendment.at, amendment.text, amendment.source)
            assert (text.height, text.stroke, text.mirrored) == (
                amendment.height,
                amendment.stroke,
                amendment.side is Side.BOTTOM,
            )
            assert text.layer.side is amendment.side
            width, height = measure(amendment.text, amendment.height, amendment.stroke)
            low_x, low_y, high_x, high_y = text.extents.bounds
            box = (width, height) if amendment.rotation == 0 else (height, width)
            assert (high_x - low_x, high_y - low_y) == pytest.approx(box, abs=1e-6)
            assert ((low_x + high_x) / 2, (low_y + high_y) / 2) == pytest.approx(amendment.at, abs=0.25)
            continue
        part = parts[uid]
        (pad,) = part.pads
        assert (part.at, part.reference, part.package) == (amendment.at, amendment.reference, amendment.package)
        assert (part.in_parts_list, part.in_placement, part.board_only) == (False, False, True)
        assert pad.at == amendment.at
        assert pad.paste == {}
        _check_pad(amendment, part, pad)
    assert not any(not m.hidden for m in board.markings if m.part_uid in parts), "references and values are hidden"


def _check_pad(amendment: Amendment, part: object, pad: object) -> None:
    if isinstance(amendment, ToolingHole):
        assert pad.hole.diameter == amendment.diameter
        assert not pad.hole.plated
        assert pad.copper == {}
        assert set(part.courtyard) == set(Side)
        return
    (copper,) = pad.copper.values()
    assert list(pad.mask) == [amendment.side]
    left, _, right, _ = copper.bounds
    assert right - left == pytest.approx(amendment.diameter, abs=1e-6)
    left, _, right, _ = pad.mask[amendment.side].bounds
    if isinstance(amendment, FiducialMark):
        assert (pad.role, pad.net) == (PadRole.FIDUCIAL_GLOBAL, "")
        assert right - left == pytest.approx(amendment.opening, abs=1e-6)
    else:
        assert (pad.role, pad.net) == (PadRole.TEST_POINT, amendment.net)
        assert right - left == pytest.approx(amendment.diameter + 0.1, abs=1e-6)
    assert part.side is amendment.side


@pytest.mark.parametrize("form", [{}, {"newline": "\r\n"}, {"indent": "  "}], ids=["plain", "crlf", "spaces"])
def test_every_other_byte_is_kept(tmp_path: Path, form: dict[str, str]) -> None:
    path = saved(tmp_path, **form)
    was = path.read_bytes()
    FileHost(path).apply(AMENDMENTS, "insert")
    now = path.read_bytes()
    end = was.rstrip().rindex(b")")
    assert now.startswith(was[:end])
    assert now.endswith(was[end:])
    added = now[end : len(now) - len(was[end:])]
    if "newline" in form:
        assert added.count(b"\n") == added.count(b"\r\n")
    assert added.startswith(form.get("indent", "\t").encode() + b"(footprint ")


def test_a_byte_order_mark_stays(tmp_path: Path) -> None:
    path = tmp_path / "widget.kicad_pcb"
    path.write_bytes(b"\xef\xbb\xbf" + document(20241229).encode())
    host = FileHost(path)
    assert host.document().text.startswith("(kicad_pcb")
    host.apply(AMENDMENTS, "insert")
    assert path.read_bytes().startswith(b"\xef\xbb\xbf(kicad_pcb")


def test_the_same_amendments_give_the_same_bytes_and_fresh_ids_where_they_are_taken(tmp_path: Path) -> None:
    text = document(20241229)
    once = inserted(text, [item.node for item in written(AMENDMENTS, text)])
    assert once == inserted(text, [item.node for item in written(AMENDMENTS, text)])
    ids = [item.uid for item in written(AMENDMENTS, text)]
    again = [item.uid for item in written(AMENDMENTS, once)]
    assert not set(ids) & set(again)
    twice = inserted(once, [item.node for item in written(AMENDMENTS, once)])
    found = re.findall(r'\(uuid "([^"]+)"\)', twice)
    assert len(found) == len(set(found))


def test_a_copy_is_kept_and_numbered(tmp_path: Path) -> None:
    path = saved(tmp_path)
    was = path.read_bytes()
    host = FileHost(path)
    host.apply(AMENDMENTS[:1], "one")
    assert host.kept == tmp_path / "widget.kicad_pcb.before-1"
    assert host.kept.read_bytes() == was
    between = path.read_bytes()
    host.apply(AMENDMENTS[1:2], "two")
    assert host.kept == tmp_path / "widget.kicad_pcb.before-2"
    assert host.kept.read_bytes() == between
    assert {part.reference for part in read(path).parts} == {"FID1", "FID2"}


def test_another_file_can_be_written_instead(tmp_path: Path) -> None:
    path = saved(tmp_path)
    was = path.read_bytes()
    host = FileHost(path, tmp_path / "out" / "widget.kicad_pcb")
    host.apply(AMENDMENTS, "insert")
    assert path.read_bytes() == was
    assert host.kept is None
    assert len(read(tmp_path / "out" / "widget.kicad_pcb").parts) == 5


def test_a_file_that_changed_since_it_was_read_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path)
    host = FileHost(path)
    host.document()
    path.write_text(path.read_text().replace("1.6", "1.0"))
    was = path.read_bytes()
    with pytest.raises(HostError, match="changed since it was read"):
        host.apply(AMENDMENTS, "insert")
    assert path.read_bytes() == was
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    host.document()
    host.apply(AMENDMENTS, "insert")
    assert path.read_bytes() != was


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b'(kicad_pcb (version 20171130) (host pcbnew "5") )', "version 5"),
        (b"(kicad_pcb (version 20241229)", "closing bracket|truncated|ends before"),
        (b"", "closing bracket|version 5"),
        (b"\xff\xfe(kicad_pcb)", "UTF-8"),
    ],
)
def test_what_is_no_board_stays_as_it_is(tmp_path: Path, content: bytes, reason: str) -> None:
    path = tmp_path / "broken.kicad_pcb"
    path.write_bytes(content)
    with pytest.raises((HostError, InputError), match=reason):
        FileHost(path).apply(AMENDMENTS[:1], "insert")
    assert path.read_bytes() == content
    assert len(list(tmp_path.iterdir())) == 1


def test_a_net_the_document_lacks_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path)
    with pytest.raises(HostError, match="no net called 'VCC'"):
        FileHost(path).apply((ProbePad("TP1", (45.0, -40.0), Side.TOP, 1.0, "VCC"),), "insert")


def test_a_place_that_cannot_be_written_leaves_all_as_it_was(tmp_path: Path) -> None:
    path = saved(tmp_path)
    (tmp_path / "occupied").write_text("a file, not a folder")
    with pytest.raises(HostError, match="cannot be written"):
        FileHost(path, tmp_path / "occupied" / "out.kicad_pcb").apply(AMENDMENTS, "insert")


def test_nothing_to_insert_writes_nothing(tmp_path: Path) -> None:
    path = saved(tmp_path)
    assert FileHost(path).apply((), "insert") == ()
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


def test_a_file_shows_nothing_and_fills_nothing(tmp_path: Path) -> None:
    host = FileHost(saved(tmp_path))
    assert host.show(["x"]) is False
    with pytest.raises(HostError, match="fill all zones"):
        host.refill()


def test_the_project_comes_along(tmp_path: Path) -> None:
    path = saved(tmp_path)
    path.with_suffix(".kicad_pro").write_text('{"text_variables": {}}')
    document_text = FileHost(path).document()
    assert document_text.project == '{"text_variables": {}}'
    assert (document_text.name, document_text.path) == ("widget.kicad_pcb", str(path))


def test_a_project_with_a_mark_of_its_encoding_is_read_by_every_way_in(tmp_path: Path) -> None:
    path = saved(tmp_path)
    path.with_suffix(".kicad_pro").write_bytes(b'\xef\xbb\xbf{"text_variables": {"LOT": "42"}}')
    assert read_board(path).variables["LOT"] == "42"
    assert project_text(str(path)) == FileHost(path).document().project == '{"text_variables": {"LOT": "42"}}'


@pytest.mark.parametrize("content", [b'{"a": "\xfc"}', b"", b"{}\0"])
def test_a_project_that_is_no_text_is_the_same_error_by_every_way_in(tmp_path: Path, content: bytes) -> None:
    path = saved(tmp_path)
    path.with_suffix(".kicad_pro").write_bytes(content)
    with pytest.raises(InputError) as told:
        read_board(path)
    assert str(told.value).startswith(str(path.with_suffix(".kicad_pro")))
    for way_in in (FileHost(path).document, lambda: project_text(str(path))):
        with pytest.raises(HostError) as refused:
            way_in()
        assert str(refused.value) == str(told.value)


def test_no_project_is_no_project(tmp_path: Path) -> None:
    path = saved(tmp_path)
    assert project_text(str(path)) is project_text("") is FileHost(path).document().project is None
    path.with_suffix(".kicad_pro").mkdir()
    assert project_text(str(path)) is FileHost(path).document().project is None


@pytest.mark.parametrize(
    "text", ['") (segment', "back\\slash\\", "line\nbreak", "\u202edexter", "nul\x00l", "${REVISION}"]
)
def test_no_text_can_leave_its_quotes(tmp_path: Path, text: str) -> None:
    path = saved(tmp_path)
    marking = MarkingText(text, text, (40.0, -25.0), Side.TOP, 1.0, 0.15)
    FileHost(path).apply((marking,), "insert")
    board = read(path)
    assert [m.source for m in board.markings] == [text.replace("\x00", "")]
    assert len(board.tracks) == 1


LOAD = """
import sys, pcbnew
board = pcbnew.LoadBoard(sys.argv[1])
for part in sorted(board.Footprints(), key=lambda p: p.GetReference()):
    pad = list(part.Pads())[0]
    at = part.GetPosition()
    print(part.GetReference(), at.x, at.y, part.IsFlipped(), pad.GetNetname() != "", pad.GetProperty(),
          pad.GetSolderMaskExpansion(pcbnew.B_Mask if part.IsFlipped() else pcbnew.F_Mask),
          part.Reference().IsVisible(),
          part.IsBoardOnly(), part.IsExcludedFromBOM(), part.IsExcludedFromPosFiles(), pad.GetDrillSize().x)
for drawing in board.Drawings():
    if drawing.GetClass() == "PCB_TEXT":
        at = drawing.GetPosition()
        print("text", at.x, at.y, drawing.IsMirrored(), drawing.GetTextAngleDegrees(),
              drawing.GetShownText(True).replace(chr(10), "|"))
"""


@pytest.mark.editor
@pytest.mark.parametrize("version", [20211014, 20221018, 20240108, 20241229])
def test_the_editor_reads_what_was_written(tmp_path: Path, version: int) -> None:
    command, _ = interpreter()
    path = saved(tmp_path, version)
    FileHost(path).apply(AMENDMENTS, "insert")
    answer = subprocess.run([command, "-c", LOAD, str(path)], capture_output=True, text=True, check=True)
    lines = [line.split() for line in answer.stdout.splitlines() if line.startswith(("FID", "TP", "TH", "text"))]
    # reference, x, y (nm, y down), flipped, on a net, pad property (2 global fiducial, 4 test point), mask margin, ...
    assert lines == [
        ["FID1", "25000000", "25000000", "False", "False", "2", "500000", "False", "True", "True", "True", "0"],
        ["FID2", "65000000", "45000000", "True", "False", "2", "1000000", "False", "True", "True", "True", "0"],
        ["TH1", "30000000", "45000000", "False", "False", "0", "0", "False", "True", "True", "True", "3175000"],
        ["TP1", "45000000", "40000000", "True", "True", "4", "50000", "False", "True", "True", "True", "0"],
        ["TP2", "50000000", "40000000", "False", "True", "4", "50000", "False", "True", "True", "True", "0"],
        ["text", "40000000", "25000000", "False", "0.0", "Widget", "REV", "C"],
        ["text", "60000000", "30000000", "True", "270.0", "two|lines"],
    ]


# --- the command ---------------------------------------------------------------------------------------------------


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> object:
    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["lineworthy", "amend", *map(str, arguments)])
        try:
            code = main()
        except SystemExit as end:
            code = int(end.code or 0)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


def test_the_command_inserts_and_says_what(tmp_path: Path, run: object) -> None:
    path, out = saved(tmp_path), tmp_path / "out" / "widget.kicad_pcb"
    was = path.read_bytes()
    code, said, _ = run(path, "--revision", "--tooling-holes", "-o", out)
    assert code == 0
    assert "insert: text 'Widget REV C'" in said
    assert "answers: no revision is printed" in said.lower()
    assert path.read_bytes() == was
    assert {part.reference for part in read(out).parts} == {"TH1", "TH2", "TH3"}
    assert "REV ${REVISION}" in out.read_text()
    assert "<svg" in out.with_suffix(".html").read_text()
    code, said, more = run(out, "--revision", "--tooling-holes", "--in-place")
    assert (code, said) == (0, "")
    assert "nothing to insert" in more


def test_a_net_with_a_comma_can_be_named(tmp_path: Path, run: object) -> None:
    path = saved(tmp_path)
    path.write_text(path.read_text().replace("GND", "A,B"))
    FileHost(path).apply((ProbePad("TP1", (45.0, -40.0), Side.BOTTOM, 1.0, "A,B"),), "a pad on that net")
    # the net with the comma has its pad already; the others are not there
    assert run(path, "--test-pads", "A,B", "--dry-run")[0] == 0
    code, said, more = run(path, "--test-pads", "A,B", "--test-pads", "C, D", "--dry-run")
    assert (code, said) == (2, "")
    assert more.endswith("no pad is on a net called 'C', 'D'\n")


def test_a_net_that_does_not_exist_is_wrong_usage(tmp_path: Path, run: object) -> None:
    path, out = saved(tmp_path), tmp_path / "out.kicad_pcb"
    FileHost(path).apply((ProbePad("TP1", (45.0, -40.0), Side.BOTTOM, 1.0, "GND"),), "a pad on a net")
    code, said, more = run(path, "--test-pads", "GNDA", "--tooling-holes", "-o", out)
    assert (code, said) == (2, "")
    assert more.endswith("no pad is on a net called 'GNDA' (nearest to the first is 'GND')\n")
    assert more.count("\n") == 1
    assert not out.exists()


def test_a_dry_run_writes_no_board(tmp_path: Path, run: object) -> None:
    path = saved(tmp_path)
    code, said, _ = run(path, "--revision", "C", "--dry-run", "--picture", tmp_path / "picture.html")
    assert code == 0
    assert '(gr_text "${TITLE} REV C"' in said
    assert sorted(file.name for file in tmp_path.iterdir()) == ["picture.html", "widget.kicad_pcb"]


BARE_MAINS = ("--test-pads", "MAINS_L")
"""A pad that is never placed, whatever room there is."""


def test_what_does_not_go_is_exit_code_1_and_the_rest_is_written(tmp_path: Path, run: object) -> None:
    path, out = saved(tmp_path), tmp_path / "out.kicad_pcb"
    path.write_text(path.read_text().replace("GND", "MAINS_L"))
    FileHost(path).apply((ProbePad("TP1", (45.0, -40.0), Side.BOTTOM, 0.5, "MAINS_L"),), "a pad on that net")
    code, said, more = run(path, *BARE_MAINS, "--tooling-holes", "-o", out)
    assert code == 1
    assert "on MAINS_L" in re.search("not possible: .*", said)[0]
    assert f"wrote {out}" in more
    assert out.exists()


def test_where_nothing_goes_no_board_is_written_and_the_exit_code_is_2(tmp_path: Path, run: object) -> None:
    path, out = saved(tmp_path), tmp_path / "out.kicad_pcb"
    path.write_text(path.read_text().replace("GND", "MAINS_L"))
    FileHost(path).apply((ProbePad("TP1", (45.0, -40.0), Side.BOTTOM, 0.5, "MAINS_L"),), "a pad on that net")
    for where in (("-o", out), ("--dry-run",)):
        code, said, more = run(path, *BARE_MAINS, *where)
        assert code == 2
        assert "on MAINS_L" in re.search("not possible: .*", said)[0]
        assert not out.exists()
    code, _, more = run(path, *BARE_MAINS, "-o", out)
    assert more == "nothing could be inserted; no board written\n"


def test_a_pad_keeps_the_room_that_a_model_asks_for(tmp_path: Path, run: object) -> None:
    """A part stands 2 mm from the whole of a track: room enough beside a low one, not beside one of 12.7 mm."""
    path = saved(tmp_path)
    block = (
        '(footprint "L:BLOCK" (layer "F.Cu") (at 54 37) (property "Reference" "R1" (at 0 0) (layer "F.Fab"))'
        ' (fp_rect (start -8 -1) (end 8 1) (stroke (width 0.1) (type solid)) (fill none) (layer "F.Fab"))'
        ' (pad "1" smd rect (at -7 0) (size 1 1) (layers "F.Cu" "F.Mask") (net 2 "SIG"))'
        ' (pad "2" smd rect (at 7 0) (size 1 1) (layers "F.Cu" "F.Mask"))'
        ' (model "${LIB}/tall.wrl" (offset (xyz 0 0 0)) (scale (xyz 1 1 1)) (rotate (xyz 0 0 0))))'
        '(segment (start 47 37) (end 48 40) (width 0.25) (layer "F.Cu") (net 2))'
    )
    text = path.read_text().replace(quoted(EVIL), '"SIG"')
    path.write_text(f"{text[: text.rindex(')')]}{block})\n")
    assert run(path, "--test-pads", "SIG", "--dry-run")[0] == 0
    (tmp_path / "models").mkdir()
    mesh = "Shape { geometry IndexedFaceSet { coord Coordinate { point [ 0 0 0, 1 0 0, 0 0 5 ] } } }"
    (tmp_path / "models" / "tall.wrl").write_text(f"#VRML V2.0 utf8\n{mesh}\n")
    (tmp_path / "widget.lineworthy.toml").write_text('models = "models"\n')
    code, said, _ = run(path, "--test-pads", "SIG", "--dry-run")
    assert code == 2
    assert "R1, 12.70 mm tall" in said


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (("--revision",), "say where to write"),
        (("--revision", "--in-place", "-o", "x.kicad_pcb"), "say where to write"),
        (("--in-place",), "nothing asked for"),
        (("--revision", "--in-place", "--sheet", "nonsense"), "nonsense"),
        (("--revision", "-o", ""), "a file name is empty"),
        (("--revision", "-o", "/dev/null"), "/dev/null: cannot be written: not a regular file"),
        (("--revision", "-o", "x.kicad_pcb", "--picture", "widget.kicad_pcb"), "take the place of the board"),
        (("--revision", "-o", "x.kicad_pcb", "--picture", "x.kicad_pcb"), "take the place of the board"),
        (("--revision", "-o", "widget.kicad_pcb/x.kicad_pcb"), "widget.kicad_pcb: cannot be written into: a file"),
        (("--revision", "-o", "."), "cannot be written: a folder is there"),
        (("--revision", "-o", "x.kicad_pcb", "--picture", "."), "cannot be written: a folder is there"),
    ],
)
def test_wrong_usage_is_exit_code_2_and_one_line(
    tmp_path: Path, run: object, monkeypatch: pytest.MonkeyPatch, arguments: object, reason: str
) -> None:
    monkeypatch.chdir(tmp_path)
    path = saved(tmp_path)
    was = path.read_bytes()
    code, told, said = run(path, *arguments)
    assert (code, told) == (2, "")
    assert reason in said
    assert said.count("\n") == 1
    assert path.read_bytes() == was
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_file_and_the_board_itself_as_output_are_refused(tmp_path: Path, run: object) -> None:
    assert run(tmp_path / "none.kicad_pcb", "--revision", "--dry-run")[0] == 2
    path = saved(tmp_path)
    code, _, said = run(path, "--revision", "-o", path)
    assert code == 2
    assert "--in-place" in said
