# SPDX-License-Identifier: MIT
"""The promises of `Host`, kept by every host: the fake, the file, and the real editor in two ways."""

from __future__ import annotations

import json
import math
import os
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from contract_board import NETS, OUTLINE_MM, PAD, PART, REVISION, TEXT, TRACK, ZONE
from PIL import Image, ImageChops
from subjects import DrivenHost, Subject, without_field_ids

from editor_session import EditorSession, editor_major, seed
from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.knowledge.marks import Marks
from lineworthy.model import Board, PadKind, PadRole, Part, Side
from lineworthy_kicad.hosts.host import HostError
from lineworthy_kicad.hosts.ipc_host import IpcHost
from lineworthy_kicad.reader import parse_board, read_board

TOL_MM = 0.001
UNKNOWN = "00000000-0000-4000-8000-000000000000"

# 105.001: multiplied by a million it is 105000999.99999999, which must not lose a nanometre
TOP_MARK = FiducialMark("FID1", (105.001, -55.0), Side.TOP, 1.0, 2.0)
BOTTOM_MARK = FiducialMark("FID2", (145.0, -85.0), Side.BOTTOM, 1.5, 3.0)
PROBE = ProbePad("TP1", (135.0, -60.0), Side.TOP, 1.0, "GND")
ODD_PROBE = ProbePad("TP2", (140.0, -75.0), Side.BOTTOM, 1.5, NETS[2])
HOLE = ToolingHole("H1", (105.0, -85.0), 3.2)
TOP_TEXT = MarkingText("FA-1", "FA-1", (125.0, -85.0), Side.TOP, 1.5, 0.2)
BOTTOM_TEXT = MarkingText(f"REV {REVISION}", "REV ${REVISION}", (115.0, -65.0), Side.BOTTOM, 2.0, 0.3, rotation=90.0)
EVERYTHING: tuple[Amendment, ...] = (TOP_MARK, BOTTOM_MARK, PROBE, ODD_PROBE, HOLE, TOP_TEXT, BOTTOM_TEXT)


def board_of(subject: Subject) -> Board:
    document = subject.host.document()
    return parse_board(document.text, document.name, document.path, document.project)


def part_called(board: Board, reference: str) -> Part:
    found = [part for part in board.parts if part.reference == reference]
    assert len(found) == 1
    return found[0]


def diameter(area: shapely.Geometry) -> float:
    return 2 * math.sqrt(area.area / math.pi)


# ---- document


def test_document_reads_as_the_board(subject: Subject) -> None:
    document = subject.host.document()
    assert document.name == subject.host.title == "contract.kicad_pcb"
    assert Path(document.path) == subject.board
    assert document.project is not None
    assert '"LOT": "42"' in document.project
    board, saved = board_of(subject), read_board(subject.board)
    assert [(p.uid, p.reference, p.at, p.side) for p in board.parts] == [
        (p.uid, p.reference, p.at, p.side) for p in saved.parts
    ]
    assert {pad.net for _, pad in board.pads} == {pad.net for _, pad in saved.pads} == set(NETS[1:])
    texts = [{marking.text for marking in each.markings} - {""} for each in (board, saved)]  # the editor adds fields
    assert texts[0] == texts[1] == {"R1", "10k", "ORIGINAL"}
    assert board.outline.area.equals(saved.outline.area)
    assert board.title.revision == REVISION


@pytest.mark.hosts("bindings-headless", "bindings", "interprocess")
def test_document_leaves_nothing_behind(subject: Subject) -> None:
    before = sorted(subject.board.parent.iterdir())
    first = subject.text()
    assert sorted(subject.board.parent.iterdir()) == before
    assert subject.text() == first


@pytest.mark.hosts("bindings", "interprocess")
def test_unsaved_edits_are_seen(subject: Subject) -> None:
    assert subject.editor is not None
    saved = subject.board.read_bytes()
    live = subject.editor.client().get_board()
    part = next(each for each in live.get_footprints() if each.id.value == PART)
    here = part.position
    part.position = type(here).from_xy(here.x + 2_500_000, here.y)
    live.update_items(part)
    was = part_called(read_board(subject.board), "R1").at
    now = part_called(board_of(subject), "R1").at
    assert now == pytest.approx((was[0] + 2.5, was[1]), abs=TOL_MM)
    assert subject.board.read_bytes() == saved


# ---- apply


def test_amendments_arrive_as_the_reader_and_the_review_understand_them(subject: Subject) -> None:
    applied = subject.host.apply(EVERYTHING, "Lineworthy: insert")
    assert [each.amendment for each in applied] == list(EVERYTHING)
    board = board_of(subject)
    uids = {part.uid for part in board.parts} | {marking.uid for marking in board.markings}
    assert {each.uid for each in applied} <= uids
    for amendment in EVERYTHING:
        if not isinstance(amendment, MarkingText):
            assert_part(board, amendment, subject)
    assert_marks(board)


def assert_part(board: Board, amendment: Amendment, subject: Subject) -> None:
    assert not isinstance(amendment, MarkingText)
    part = part_called(board, amendment.reference)
    assert part.at == pytest.approx(amendment.at, abs=TOL_MM)
    assert part.package == amendment.package
    assert (part.in_parts_list, part.in_placement, part.board_only) == (False, False, True)
    assert [m for m in board.markings if m.part_uid == part.uid and not m.hidden] == [], "its texts are hidden"
    assert len(part.pads) == 1
    pad = part.pads[0]
    assert pad.at == pytest.approx(amendment.at, abs=TOL_MM)
    assert pad.paste == {}
    if isinstance(amendment, ToolingHole):
        assert pad.kind is PadKind.UNPLATED
        assert pad.hole is not None
        assert pad.hole.size == pytest.approx((amendment.diameter,) * 2, abs=TOL_MM)
        assert not pad.net
        return
    assert part.side is amendment.side
    assert list(pad.copper) == [board.copper_on(amendment.side)]
    assert list(pad.mask) == [amendment.side]
    assert pad.size == pytest.approx((amendment.diameter,) * 2, abs=TOL_MM)
    is_mark = isinstance(amendment, FiducialMark)
    role = PadRole.FIDUCIAL_GLOBAL if is_mark else PadRole.TEST_POINT
    assert pad.role is (role if subject.declares else PadRole.NONE)
    opening = diameter(pad.mask[amendment.side])
    if isinstance(amendment, FiducialMark):
        assert opening == pytest.approx(amendment.opening, abs=0.002)  # area of a many-sided circle
        assert not pad.net
    else:
        assert amendment.diameter <= opening <= amendment.diameter + 0.2
        assert pad.net == amendment.net


def assert_marks(board: Board) -> None:
    marks = Marks(board)
    fiducials = {mark.label: mark for mark in marks.fiducials}
    assert set(fiducials) == {"FID1", "FID2"}
    assert all(mark.sure and mark.is_open for mark in fiducials.values())
    assert (fiducials["FID1"].side, fiducials["FID2"].side) == (Side.TOP, Side.BOTTOM)
    points = {point.part.reference: point for point in marks.test_points}
    assert {name: (point.net, set(point.sides)) for name, point in points.items()} == {
        "TP1": ("GND", {Side.TOP}),
        "TP2": (NETS[2], {Side.BOTTOM}),
    }
    assert [(hole.diameter, hole.at) for hole in marks.holes] == [(pytest.approx(3.2), pytest.approx(HOLE.at))]


def test_texts_arrive_on_their_side_and_follow_the_title_block(subject: Subject) -> None:
    subject.host.apply((TOP_TEXT, BOTTOM_TEXT), "Lineworthy: insert")
    markings = {marking.text: marking for marking in board_of(subject).markings}
    for text, turn in ((TOP_TEXT, 0.0), (BOTTOM_TEXT, 270.0)):  # 90 degrees as read from below
        marking = markings[text.text]
        assert marking.at == pytest.approx(text.at, abs=TOL_MM)
        assert (marking.height, marking.stroke) == pytest.approx((text.height, text.stroke), abs=TOL_MM)
        assert marking.layer.side is text.side
        assert marking.mirrored is (text.side is Side.BOTTOM)
        assert marking.rotation % 360 == pytest.approx(turn)
        assert marking.extents.centroid.distance(shapely.Point(text.at)) < 0.3, "centred, not begun, at its place"
    assert (markings[BOTTOM_TEXT.text].source, markings[TOP_TEXT.text].source) == ("REV ${REVISION}", "FA-1")


def test_all_or_nothing(subject: Subject) -> None:
    before = subject.text()
    lost = ProbePad("TP9", (110.0, -60.0), Side.TOP, 1.0, "NO SUCH NET")
    with pytest.raises(HostError) as refused:
        subject.host.apply((TOP_MARK, TOP_TEXT, lost, HOLE), "Lineworthy: insert")
    assert "NO SUCH NET" in str(refused.value)
    assert "\n" not in str(refused.value)
    assert subject.text() == before
    assert len(subject.host.apply((TOP_MARK,), "Lineworthy: insert")) == 1, "and the next attempt goes through"


def test_inserting_nothing_changes_nothing(subject: Subject) -> None:
    before = subject.text()
    assert subject.host.apply((), "Lineworthy: insert") == ()
    assert subject.text() == before


@pytest.mark.hosts("bindings-headless", "bindings", "interprocess")
@pytest.mark.parametrize(
    ("amendment", "reason"),
    [
        (ToolingHole("R1", (110.0, -60.0), 3.0), "R1 is on the board already"),
        (MarkingText("REV A", "REV ${REVISION}", (110.0, -60.0), Side.TOP, 1.5, 0.2), "would print as"),
        (ProbePad("TP9", (110.0, -60.0), Side.TOP, 1.0, ""), "is not on the board"),
        (ProbePad("TP9", (110.0, -60.0), Side.TOP, 1.0, "a\nb" * 500), "is not on the board|…$"),
    ],
    ids=["reference-taken", "text-resolves-otherwise", "net-without-name", "hostile-net-name"],
)
def test_what_no_longer_fits_is_refused_whole(subject: Subject, amendment: Amendment, reason: str) -> None:
    before = subject.text()
    with pytest.raises(HostError, match=reason) as refused:
        subject.host.apply((TOP_MARK, amendment), "Lineworthy: insert")
    assert len(str(refused.value).splitlines()) == 1
    assert len(str(refused.value)) <= 300
    assert subject.text() == before


@pytest.mark.hosts("fake", "bindings", "interprocess")
def test_one_undo_takes_everything_back(subject: Subject) -> None:
    assert subject.undo is not None
    # In-process, the editor gives every part's fields new ids when it undoes any plug-in, even one that did nothing.
    same = without_field_ids if isinstance(subject.host, DrivenHost) else str
    before = same(subject.text())
    subject.host.apply(EVERYTHING, "Lineworthy: insert")
    after = subject.text()
    assert all(name in after for name in ("FID1", "FID2", "TP1", "TP2", "H1", "FA-1"))
    subject.undo()
    assert same(subject.text()) == before
    if subject.redo is not None:
        subject.redo()
        assert {part.reference for part in board_of(subject).parts} >= {"FID1", "FID2", "TP1", "TP2", "H1"}


# ---- refill


@pytest.mark.hosts("bindings-headless", "bindings", "interprocess")
def test_refilling_connects_probes_and_keeps_out_of_the_clear_ring(subject: Subject) -> None:
    subject.host.apply((TOP_MARK, BOTTOM_MARK, PROBE), "Lineworthy: insert")
    assert all(area.fill.is_empty for area in board_of(subject).areas), "nobody has filled these pours yet"
    subject.host.refill()
    board = board_of(subject)
    pour = {side: shapely.union_all([a.fill for a in board.areas if a.layer == board.copper_on(side)]) for side in Side}
    left, top, right, bottom = OUTLINE_MM
    for filled in pour.values():
        assert filled.area > 0.8 * (right - left) * (bottom - top)
    land = part_called(board, "TP1").pads[0].copper[board.copper_on(Side.TOP)]
    assert pour[Side.TOP].buffer(TOL_MM).covers(land), "solidly connected, not by spokes"
    for mark in (TOP_MARK, BOTTOM_MARK):
        gap = pour[mark.side].distance(shapely.Point(mark.at))
        assert gap >= mark.opening / 2 - 0.01, "the camera sees the mark alone in its opening"


@pytest.mark.hosts("file")
def test_a_file_says_that_it_cannot_refill(subject: Subject) -> None:
    with pytest.raises(HostError, match="fill"):
        subject.host.refill()


@pytest.mark.editor
@pytest.mark.hosts("file", "bindings-headless", "interprocess")
def test_the_rule_check_of_the_editor_finds_nothing_new(subject: Subject, tmp_path: Path) -> None:
    if subject.fills:
        subject.host.refill()
    before = violations(subject, tmp_path / "before")
    subject.host.apply(tuple(each for each in EVERYTHING if each is not ODD_PROBE), "Lineworthy: insert")
    if subject.fills:
        subject.host.refill()
        assert violations(subject, tmp_path / "after") <= before
    else:  # the pad is not joined to a pour before that is filled
        new = violations(subject, tmp_path / "after") - before
        assert {kind for kind, _ in new} <= {"unconnected_items"}
    subject.host.apply((replace(TOP_MARK, reference="FID9", at=PROBE.at),), "Lineworthy: insert")
    assert violations(subject, tmp_path / "short") - before, "two pads on one another would be seen"


def violations(subject: Subject, folder: Path) -> set[tuple[str, str]]:
    """What the editor's rule check says about the document as it is now, as (type, items)."""
    seed(folder, editor_major())  # empty library tables: a part of an unknown library is a violation
    board = folder / subject.board.name
    board.write_text(subject.text(), encoding="utf-8")
    answer = folder / "drc.json"
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "-o", str(answer), str(board)]
    done = subprocess.run(command, capture_output=True, text=True, env={**os.environ, "HOME": str(folder)}, check=False)
    assert done.returncode == 0, done.stderr
    said = json.loads(answer.read_text(encoding="utf-8"))
    return {
        (each["type"], "; ".join(sorted(item["description"] for item in each["items"])))
        for each in (*said["violations"], *said["unconnected_items"])
    }


# ---- show


def test_shows_what_is_there_and_says_when_it_is_gone(subject: Subject) -> None:
    for uids in ([PART], [PART, PAD], [TRACK], [TEXT], [ZONE], [UNKNOWN, PART]):
        assert subject.host.show(uids) is subject.shows
    for uids in ([], [UNKNOWN], ["", "no id\n"]):
        assert subject.host.show(uids) is False


@pytest.mark.hosts("bindings", "interprocess")
def test_showing_moves_the_view(subject: Subject, tmp_path: Path) -> None:
    editor = subject.editor
    assert editor is not None
    pictures = [canvas(editor, tmp_path / "all.png")]
    for number, uid in enumerate((PART, TEXT)):
        assert subject.host.show([uid])
        last = pictures[-1]
        pictures.append(
            editor.wait_for(lambda last=last, n=number: moved(editor, last, tmp_path / f"{n}.png"), "the view to move")
        )
    if isinstance(subject.host, IpcHost):  # the in-process bindings cannot select
        selected = editor.client().get_board().get_selection()
        assert [item.id.value for item in selected] == [TEXT]


def canvas(editor: EditorSession, path: Path) -> Image.Image:
    """The drawing area of the editor's window, without bars that flicker."""
    whole = Image.open(editor.screenshot(path)).convert("L")
    width, height = whole.size
    return whole.crop((60, 150, width - 320, height - 100))


def moved(editor: EditorSession, last: Image.Image, path: Path) -> Image.Image | None:
    now = canvas(editor, path)
    changed = sum(ImageChops.difference(last, now).point(lambda level: 255 * (level > 24)).histogram()[255:])
    return now if changed > 0.002 * now.size[0] * now.size[1] else None
