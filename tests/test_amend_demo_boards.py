# SPDX-License-Identifier: MIT
"""Everything offered, inserted into the editor's demo boards: its own rule check must find nothing new.

A violation is known by its type and its items. Which pair of items the editor names for one and the same violation
(two of several connected tracks, or either end of a missing connection) differs from run to run; a pair that neither
names something inserted nor a pour, in a type with no more violations than before, was there before.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import pytest
import shapely

import demos
from lineworthy.amend import Amendment, FiducialMark, MarkingText, Offer, Wanted, offer, propose
from lineworthy.knowledge.nets import Nets
from lineworthy.model import Board
from lineworthy.review import review
from lineworthy.sheet import built_in
from lineworthy_kicad.hosts.file_host import FileHost
from lineworthy_kicad.reader import read_board
from lineworthy_kicad.reader.text_extents import measure
from oracle.editor import interpreter

pytestmark = pytest.mark.editor

QUICK = (
    "custom_pads_test/custom_pads_test.kicad_pcb",
    "ecc83/ecc83-pp.kicad_pcb",
    "sonde xilinx/sonde xilinx.kicad_pcb",
    "test_xil_95108/carte_test.kicad_pcb",
)
SLOW = (
    "complex_hierarchy/complex_hierarchy.kicad_pcb",
    "test_pads_inside_pads/test_pads_inside_pads.kicad_pcb",
    "microwave/microwave.kicad_pcb",
    "ecc83/ecc83-pp_v2.kicad_pcb",
    "interf_u/interf_u.kicad_pcb",
    "pic_programmer/pic_programmer.kicad_pcb",
    "stickhub/StickHub.kicad_pcb",
    "flat_hierarchy/flat_hierarchy.kicad_pcb",
    "multichannel/multichannel_mixer-unrouted.kicad_pcb",
    "multichannel/multichannel_mixer.kicad_pcb",
    "kit-dev-coldfire-xilinx_5213/kit-dev-coldfire-xilinx_5213.kicad_pcb",
    "royalblue54L_feather/RoyalBlue54L-Feather.kicad_pcb",
    "royalblue54L_feather/nfc_antenna/RoyalBlue54L-NFC-Antenna/RoyalBlue54L-NFC-Antenna.kicad_pcb",
    "tiny_tapeout/tinytapeout-demo.kicad_pcb",
    "video/video.kicad_pcb",
)
BOARDS = [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in SLOW)]
REFILL = Path(__file__).with_name("amend_refill.py")


class Violation(NamedTuple):
    kind: str
    items: tuple[str, ...]


@pytest.mark.parametrize("name", BOARDS)
def test_inserting_everything_offered_breaks_no_rule(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = demos.FOLDER / name
    if not source.is_file():
        pytest.fail(demos.HOW)
    before, after = (_copied(source, tmp_path / folder) for folder in ("before", "after"))
    board = demos.read(source)
    made = offer(board, built_in(), _everything(board), measure)
    assert made.proof.new == ()
    applied = FileHost(after).apply(made.amendments, "insert") if made.amendments else ()
    command, _ = interpreter()
    subprocess.run([command, str(REFILL), str(before), str(after)], capture_output=True, check=True, timeout=300)

    was, now = _violations(before), _violations(after)
    new = list((now - was).elements())
    ours = _ids(after, {item.uid for item in applied})
    with capsys.disabled():
        print(f"\n  {name}: {_row(made)}; rule check {sum(was.values())} -> {sum(now.values())}", end=" ")
    assert not [v for v in new if ours & set(v.items)], "the editor complains about something inserted"
    pours = {area.uid for area in read_board(after).areas}
    assert not [v for v in new if pours & set(v.items)], "the editor complains about a pour that gave way"
    kinds_was, kinds_now = (Counter(v.kind for v in found.elements()) for found in (was, now))
    assert not kinds_now - kinds_was, "more violations of a type than before"

    saved = read_board(after)
    _check_read_back(saved, made)
    left = {finding.fingerprint for finding in review(saved).findings}
    assert not [finding.message for finding in made.proof.gone if finding.fingerprint in left]


def _everything(board: Board) -> Wanted:
    keys = tuple(key.facts.name for key in Nets(board).keys)
    return Wanted(
        fiducials=True,
        revision=True,
        revision_text="" if board.title.revision else "A",
        ground_pad=True,
        test_pads=keys,
        tooling_holes=True,
    )


def _copied(source: Path, folder: Path) -> Path:
    """The board with its project, rules and library tables, in a folder of its own."""
    shutil.copytree(source.parent, folder)
    return folder / source.name


def _violations(path: Path) -> Counter[Violation]:
    report = path.with_suffix(".rules.json")
    subprocess.run(
        ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "-o", str(report), str(path)],
        capture_output=True,
        check=True,
        timeout=300,
    )
    found = json.loads(report.read_text(encoding="utf-8"))
    rows = [*found["violations"], *found["unconnected_items"]]
    return Counter(Violation(row["type"], tuple(sorted(item["uuid"] for item in row["items"]))) for row in rows)


def _ids(path: Path, uids: set[str]) -> set[str]:
    """The ids of inserted items with those of their pads and texts."""
    board = read_board(path)
    pads = {pad.uid for part in board.parts if part.uid in uids for pad in part.pads}
    return uids | pads | {m.uid for m in board.markings if m.part_uid in uids}


def _row(made: Offer) -> str:
    counts = Counter(type(amendment).__name__ for amendment in made.amendments)
    inserted = ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items())) or "nothing"
    return f"{inserted}; {len(made.refusals)} refused; {len(made.proof.gone)} findings gone"


def _check_read_back(board: Board, made: Offer) -> None:
    """Everything is on the board as the editor saved it, and texts can be read where they are."""
    by_reference = {part.reference: part for part in board.parts}
    for amendment in made.amendments:
        if isinstance(amendment, MarkingText):
            _check_text(board, amendment)
            continue
        part = by_reference[amendment.reference]
        assert part.at == pytest.approx(amendment.at, abs=1e-6)
        assert board.outline.area.covers(part.pads[0].extent)
        if isinstance(amendment, FiducialMark):
            around = part.pads[0].mask[amendment.side]
            layer = board.copper_on(amendment.side)
            fills = [area.fill for area in board.areas if area.layer == layer and area.boundary.intersects(around)]
            assert all(fill.distance(shapely.Point(amendment.at)) >= amendment.opening / 2 - 0.01 for fill in fills)


def _check_text(board: Board, amendment: Amendment) -> None:
    assert isinstance(amendment, MarkingText)
    (marking,) = [m for m in board.markings if m.source == amendment.source and m.text == amendment.text]
    # common practice, no source: letters of 1.0 mm with a pen of 0.15 mm, 0.10 mm from mask openings
    assert (marking.height, marking.stroke) == (1.0, 0.15)
    assert marking.mirrored is (amendment.side.value == "bottom")
    assert board.outline.area.covers(marking.extents)
    for part, pad in board.pads:
        if amendment.side in pad.mask:
            assert marking.extents.distance(pad.mask[amendment.side]) >= 0.10 - 1e-6, part.reference
    for part in board.parts:
        assert part.side is not amendment.side or part.body is None or not marking.extents.intersects(part.body)


@pytest.mark.parametrize("name", QUICK[:3])
def test_after_inserting_nothing_more_is_proposed(name: str, tmp_path: Path) -> None:
    source = demos.FOLDER / name
    if not source.is_file():
        pytest.fail(demos.HOW)
    board = demos.read(source)
    made = offer(board, built_in(), _everything(board), measure)
    path = _copied(source, tmp_path / "once")
    FileHost(path).apply(made.amendments, "insert")
    again = propose(read_board(path), built_in(), _everything(board), measure)
    assert [amendment.title for amendment in again.amendments] == []
